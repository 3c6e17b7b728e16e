package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesStudio(mux *http.ServeMux) {
	mux.Handle("GET /studio", s.do(s.studioPage))
	for _, add := range studioThings {
		add(s, mux)
	}
	mux.Handle("GET /studio/waters", s.do(s.waterPage))
	mux.Handle("POST /studio/waters", s.do(s.waterSave))
	mux.Handle("POST /studio/glass/usual", s.do(s.glassUsual))
	mux.Handle("GET /studio/instruments/{instrument}", s.do(s.instrumentChecks))
	mux.Handle("POST /studio/instruments/{instrument}/check", s.do(s.instrumentCheck))
	mux.Handle("GET /studio/charts", s.do(s.chartFilePage))
	mux.Handle("POST /studio/charts", s.do(s.chartFileSave))
	mux.Handle("GET /studio/held", s.do(s.heldPage))
	mux.Handle("POST /studio/held", s.do(s.heldAdopt))
	mux.Handle("GET /studio/backup", s.do(s.backupPage))
	mux.Handle("POST /studio/backup", s.do(s.backupSave))
	mux.Handle("POST /studio/backup/now", s.do(s.backupNow))
	mux.Handle("GET /studio/log", s.do(s.studioLog))
	mux.Handle("GET /studio/withdraw", s.do(s.studioWithdrawPage))
	mux.Handle("POST /studio/withdraw", s.do(s.studioWithdraw))
}

// studioPage is the studio itself: what stands on papers, who works here, and
// with what.
type studioPage struct {
	Page
	St          *record.Studio
	Details     []Fact
	Next        *studioStep
	Steps       []studioStep
	Waters      []studioRow
	Glass       []studioRow
	Instruments []studioRow
	Methods     []studioRow
	Charts      []studioRow
	Persons     []studioRow
	Usual       *Form
	Backup      *backupLine
}

// studioStep is one of the things that a studio says of itself once.
type studioStep struct {
	What, Why, Act, Href string
	Done                 bool
}

// studioRow is one thing of the studio.
type studioRow struct {
	Name, More, Note, Href, Withdraw string
	Sign, Word                       string
	Retired                          bool
}

var studioView = declare[studioPage]("studio")

// studioSub is the page of a part of the studio.
func (s *Server) studioSub(r *http.Request, title string) Page {
	p := s.page(r, title)
	p.Section = "studio"
	return p
}

func (s *Server) studioPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p := studioPage{Page: s.studioSub(r, "Studio"), St: st, Details: detailFacts(st.Details)}
	p.Steps = studioSteps(st)
	for i := range p.Steps {
		if !p.Steps[i].Done {
			p.Next = &p.Steps[i]
			break
		}
	}
	for _, x := range st.People {
		p.Persons = append(
			p.Persons,
			studioRow{
				Name:     x.Initials + ", " + x.Name,
				More:     x.Role,
				Href:     "/studio/people?initials=" + x.Initials,
				Withdraw: withdrawHref(st, "person", x.Initials, "people"),
			},
		)
	}
	for i := range st.Waters {
		x := &st.Waters[i]
		row := studioRow{
			Name:     upperFirst(x.Name),
			More:     account.WaterText(x),
			Note:     x.Note,
			Href:     "/studio/waters?water=" + x.ID,
			Withdraw: withdrawHref(st, "water", x.ID, "water"),
		}
		p.Waters = append(p.Waters, row)
	}
	for _, x := range st.Glass {
		p.Glass = append(
			p.Glass,
			studioRow{
				Name:     x.Name,
				More:     account.GlassText(&x),
				Href:     "/studio/glass?glassware=" + x.ID,
				Withdraw: withdrawHref(st, "glassware", x.ID, "glass"),
				Retired:  x.Retired,
			},
		)
	}
	for _, x := range st.Instruments {
		p.Instruments = append(p.Instruments, s.instrumentRow(st, x))
	}
	for _, x := range st.Methods {
		p.Methods = append(
			p.Methods,
			studioRow{
				Name:     x.Name,
				More:     account.MethodText(&x),
				Note:     x.Basis,
				Href:     "/studio/methods?method=" + x.ID,
				Withdraw: withdrawHref(st, "method", x.ID, "methods"),
				Retired:  x.Retired,
			},
		)
	}
	for i := range st.Charts {
		x := &st.Charts[i]
		p.Charts = append(
			p.Charts,
			studioRow{
				Name:     x.Name,
				More:     account.ChartText(x),
				Note:     x.Source,
				Href:     "/studio/charts?chart=" + x.ID,
				Withdraw: withdrawHref(st, "chart", x.ID, "charts"),
				Retired:  x.Retired,
			},
		)
	}
	p.Usual = s.form(r, "usual", st.LastSeq, nil)
	p.Backup = s.backupLine(r, st)
	return studioView.show(s, w, r, p)
}

// studioSteps are what a studio says of itself at first; nothing else of the
// program waits for any of it.
func studioSteps(st *record.Studio) []studioStep {
	return []studioStep{
		{
			What: "Name the studio",
			Why:  "Its name, address, rate and currency stand on every paper.",
			Act:  "Name it",
			Href: "/studio/details",
			Done: st.Details != nil,
		},
		{
			What: "Say who works here",
			Why:  "Initials stand beside all that is written; the name stands in reports.",
			Act:  "Add a person",
			Href: "/studio/people",
			Done: len(st.People) > 0,
		},
		{
			What: "Name the water",
			Why:  "Hard water takes lime out of solution: its hardness and alkalinity let recipes say how much.",
			Act:  "Add a water",
			Href: "/studio/waters",
			Done: len(st.Waters) > 0,
		},
		{
			What: "Name what you measure with",
			Why:  "Recipes then fill your own cylinders to their own marks.",
			Act:  "Add glassware",
			Href: "/studio/glass",
			Done: len(st.Glass) > 0,
		},
		{
			What: "Name your instruments",
			Why:  "A reading is worth what its instrument was last checked against.",
			Act:  "Add an instrument",
			Href: "/studio/instruments",
			Done: len(st.Instruments) > 0,
		},
	}
}

// Missing counts the steps that are open.
func (p studioPage) Missing() int {
	n := 0
	for _, x := range p.Steps {
		if !x.Done {
			n++
		}
	}
	return n
}

func detailFacts(d *record.StudioDetails) []Fact {
	if d == nil {
		return nil
	}
	list := []Fact{{Name: "Name", Value: d.Name}}
	add := func(name, value string) {
		if value != "" {
			list = append(list, Fact{Name: name, Value: value})
		}
	}
	add("Address", strings.ReplaceAll(d.Address, "\n", ", "))
	add("Contact", d.Contact)
	add("Rate", money(d.RateMinor, d.Currency)+" an hour")
	if d.MinimumMinor > 0 {
		add("Minimum fee", money(d.MinimumMinor, d.Currency))
	}
	if d.TaxPercent > 0 {
		add("Tax", fig(d.TaxPercent)+" %")
	}
	add("Paper", record.WordsOf(record.PaperSizes, d.PaperSize))
	return list
}

// thingOf is the kind and identity of a thing of the studio that later entries
// replace.
func thingOf(b record.Body) (kind, id string) {
	switch b := b.(type) {
	case record.Person:
		return "person", b.Initials
	case record.WaterSource:
		return "water", b.ID
	case record.Glassware:
		return "glassware", b.ID
	case record.Instrument:
		return "instrument", b.ID
	case record.Method:
		return "method", b.ID
	case record.ChartFile:
		return "chart", b.ID
	case record.BackupPlan:
		return "backups", ""
	}
	return "", ""
}

// withdrawHref is where all entries of a thing are withdrawn together.
func withdrawHref(st *record.Studio, kind, id, place string) string {
	href := "/studio/withdraw?back=/studio%23" + place
	for i := range st.Log {
		l := &st.Log[i]
		if k, x := thingOf(l.Decoded); k == kind && x == id && l.WithdrawnBy == 0 && l.Corrects == 0 {
			href += fmt.Sprintf("&entry=%d", l.Seq)
		}
	}
	return href
}

// studioLog is every entry of the studio's journal.
func (s *Server) studioLog(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p := studioLogPage{Page: s.studioSub(r, "Log of the studio"), Seal: st.LastHash.String(), Problems: st.Problems}
	for i := len(st.Log) - 1; i >= 0; i-- {
		l := &st.Log[i]
		day := l.Time.In(s.zone).Format("Monday, 2 January 2006")
		if n := len(p.Days); n == 0 || p.Days[n-1].Day != day {
			p.Days = append(p.Days, logDay{Day: day})
		}
		d := &p.Days[len(p.Days)-1]
		d.Lines = append(d.Lines, account.Tell(nil, l, s.words()))
	}
	return studioLogView.show(s, w, r, p)
}

type studioLogPage struct {
	Page
	Days     []logDay
	Seal     string
	Problems []record.Problem
}

var studioLogView = declare[studioLogPage]("studio_log")

// latest finds the thing of a list that the address names.
func latest[T any](list []T, is func(T) bool) *T {
	if i := slices.IndexFunc(list, is); i >= 0 {
		return &list[i]
	}
	return nil
}

// UsualGlass names the vessels that recipes take until the studio names its own.
func (p studioPage) UsualGlass() string { return account.UsualGlass() }
