package web

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func (s *Server) routesDay(mux *http.ServeMux) {
	mux.Handle("GET /day", s.do(s.day))
	mux.Handle("POST /day", s.do(s.daySave))
}

// dayPage is the day at the bench: what was laid down and how it stands, or what is
// proposed.
type dayPage struct {
	Page
	Form     *Form
	Cases    []dayCase
	Refused  []*record.Invalid
	Proposed *account.Day
	Plan     string // the proposed plan, as it is laid down
	Laid     *account.DayNow
	Again    bool // another one is asked for beside the one that was laid down
	Chart    *dayChart
	List     []account.DayTask
	SaveForm *Form
}

// dayCase is a case whose sheets can be taken into the day.
type dayCase struct {
	Case  *record.Case
	Name  string
	Field string
}

var dayView = declare[dayPage]("day")

func (s *Server) day(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p := dayPage{Page: s.page(r, "The day")}
	p.Section = "cases"
	others, err := s.otherCases(r, &record.Case{})
	if err != nil {
		return err
	}
	var cases []*record.Case
	for _, o := range others {
		cases = append(cases, o.Case)
		if _, agreed := o.Case.Consented(); agreed != nil {
			p.Cases = append(p.Cases, dayCase{o.Case, o.Name, "sheets_" + string(o.Case.ID)})
		}
	}
	q := r.URL.Query()
	p.Again = q.Has("again") || q.Has("from")
	kept := st.DayOf(s.now())
	if kept != nil && !p.Again {
		p.Laid = account.FollowDay(r.Context(), kept, cases, s.words())
		p.Chart, p.List = chartOf(&p.Laid.Day, s.now(), s.zone), inOrder(p.Laid.Tasks)
		if len(p.Laid.Moved) > 0 {
			p.offer(s, r, st, p.Laid.Plan(record.NewID(s.now()), strings.Join(p.Laid.Why, " ")))
		}
		return dayView.show(s, w, r, p)
	}
	p.Form = s.dayForm(r, st, kept)
	if q.Has("from") {
		d, refused := account.PlanDay(r.Context(), s.dayAsked(p.Form, st, p.Cases))
		p.Form.take(refused)
		p.Refused = p.Form.Refused
		if d != nil && len(p.Refused) == 0 {
			p.Proposed, p.Chart, p.List = d, chartOf(d, time.Time{}, s.zone), inOrder(d.Tasks)
			p.offer(s, r, st, d.Plan(record.NewID(s.now()), ""))
		}
	}
	return dayView.show(s, w, r, p)
}

// offer puts a plan into the form that lays it down.
func (p *dayPage) offer(s *Server, r *http.Request, st *record.Studio, plan record.DayPlan) {
	text, err := json.Marshal(plan)
	if err != nil {
		return
	}
	p.Plan = string(text)
	p.SaveForm = s.form(r, "day", st.LastSeq, nil)
}

// dayForm starts with the settings of the last day; which sheets is asked.
func (s *Server) dayForm(r *http.Request, st *record.Studio, kept *record.Stamped[record.DayPlan]) *Form {
	now := s.now().In(s.zone).Truncate(15 * time.Minute).Add(15 * time.Minute)
	m := fills{"from": now.Format(timeValue)}
	if n := len(st.Days); n > 0 {
		last := st.Days[n-1].Body
		m["trays"], m["presses"] = strconv.Itoa(last.Trays), strconv.Itoa(last.Presses)
		m["people"] = strings.Join(last.People, ", ")
	} else if by := writerOf(r); by != "" {
		m["people"] = by
	}
	f := s.form(r, "day", st.LastSeq, m)
	if q := r.URL.Query(); q.Has("from") {
		f = s.formOf(r, "day", q)
		f.Seq = st.LastSeq
	}
	return f
}

func (s *Server) dayAsked(f *Form, st *record.Studio, cases []dayCase) account.DayAsked {
	a := account.DayAsked{
		Studio: st, From: f.Time("from", "the beginning"), Until: f.Time("until", "the end"),
		Trays: f.Whole("trays", "the number of trays"), Presses: f.Whole("presses", "the number of presses"), Now: s.words(),
	}
	for _, x := range strings.FieldsFunc(f.Line("people"), func(r rune) bool { return r == ',' || r == ';' }) {
		if x = strings.TrimSpace(x); x != "" {
			a.People = append(a.People, x)
		}
	}
	if f.Line("away_from") != "" || f.Line("away_until") != "" {
		a.Away = []record.DaySpan{{
			From: f.Time("away_from", "the break"), Until: f.Time("away_until", "the end of the break"),
		}}
	}
	for _, c := range cases {
		if sheets := f.Sheets(c.Field); len(sheets) > 0 {
			a.Cases = append(a.Cases, account.SheetsOf{Case: c.Case, Sheets: sheets})
		}
	}
	return a
}

// daySave lays a plan down.
func (s *Server) daySave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "day")
	if err != nil {
		return err
	}
	var b record.DayPlan
	if err := json.Unmarshal([]byte(f.Value("plan")), &b); err != nil {
		return record.Invalidf("", "The plan did not arrive whole: nothing was saved. Plan the day again.")
	}
	return s.save(w, r, f, Saving{
		Case: record.StudioID, Items: items(b), To: "/day", Said: "The day is laid down. It starts nothing by itself.",
	}, s.day)
}

// inOrder lists tasks by their start.
func inOrder(tasks []account.DayTask) []account.DayTask {
	list := slices.Clone(tasks)
	slices.SortStableFunc(list, func(a, b account.DayTask) int { return a.Start.Compare(b.Start) })
	return list
}

// dayChart is the day as bars: sheets against hours, and people, trays and presses.
type dayChart struct {
	Width, Height, Left float64
	Hours               []tick
	Rows                []dayRow
	Now                 float64 // 0: not shown
	Says                string
}

type dayRow struct {
	Y    float64
	Name string
	Bars []dayBar
	Head bool // begins the rows of another kind
}

type dayBar struct {
	X, W, Last float64
	Class      string
	Letter     string
	Says       string
}

const (
	chartWidth, chartLeft, rowHeight = 1080, 128, 26
)

func chartOf(d *account.Day, now time.Time, zone *time.Location) *dayChart {
	end := d.Asked.Until
	for _, t := range d.Tasks {
		if t.End.After(end) {
			end = t.End
		}
	}
	length := end.Sub(d.Asked.From).Minutes()
	if length <= 0 {
		return nil
	}
	c := &dayChart{Width: chartWidth, Left: chartLeft}
	x := func(t time.Time) float64 {
		return chartLeft + (chartWidth-chartLeft-12)*t.Sub(d.Asked.From).Minutes()/length
	}
	step := 30 * time.Minute
	if length > 8*60 {
		step = 2 * time.Hour
	} else if length > 4*60 {
		step = time.Hour
	}
	for t := d.Asked.From.In(zone).Truncate(step); !t.After(end); t = t.Add(step) {
		if !t.Before(d.Asked.From) && x(t) < chartWidth-24 {
			c.Hours = append(c.Hours, tick{x(t), t.In(zone).Format("15:04")})
		}
	}
	rows := map[string]int{}
	add := func(name string, head bool, t *account.DayTask) {
		i, ok := rows[name]
		if !ok {
			i = len(c.Rows)
			rows[name] = i
			c.Rows = append(c.Rows, dayRow{Y: float64(28 + i*rowHeight), Name: name, Head: head})
		}
		c.Rows[i].Bars = append(c.Rows[i].Bars, dayBar{
			X: x(t.Start), W: max(3, x(t.End)-x(t.Start)-1), Last: x(t.Last), Class: barClass(t), Letter: barLetter(t),
			Says: fmt.Sprintf("%s, %s to %s", t.Title(), t.Start.In(zone).Format("15:04"), t.End.In(zone).Format("15:04")),
		})
	}
	tasks := inOrder(d.Tasks)
	bySheet := slices.Clone(tasks)
	slices.SortStableFunc(bySheet, func(a, b account.DayTask) int {
		return cmp.Or(strings.Compare(a.Number, b.Number), slices.Min(a.Sheets)-slices.Min(b.Sheets))
	})
	for i := range bySheet {
		t := &bySheet[i]
		for _, n := range t.Sheets {
			add(words.Joined(" ", t.Number, record.SheetName(n)), false, t)
		}
	}
	for _, kind := range []struct {
		name string
		of   func(*account.DayTask) string
	}{
		{"hands", func(t *account.DayTask) string { return t.Who }},
		{"tray", func(t *account.DayTask) string { return placeOf("tray", t.Tray) }},
		{"press", func(t *account.DayTask) string { return placeOf("press", t.Press) }},
	} {
		head := true
		for i := range tasks {
			if name := kind.of(&tasks[i]); name != "" {
				add(name, head, &tasks[i])
				head = false
			}
		}
	}
	c.Height = float64(28+len(c.Rows)*rowHeight) + 8
	if !now.IsZero() && now.After(d.Asked.From) && now.Before(end) {
		c.Now = x(now)
	}
	c.Says = fmt.Sprintf("The day from %s to %s: %s; the list below says the same in words.",
		d.Asked.From.In(zone).Format("15:04"), end.In(zone).Format("15:04"), plural(len(d.Tasks), "task", "tasks"))
	return c
}

func placeOf(what string, n int) string {
	if n == 0 {
		return ""
	}
	return what + " " + strconv.Itoa(n)
}

// barClass and barLetter tell bars apart by colour and by letter.
func barClass(t *account.DayTask) string {
	class := "hand"
	switch {
	case t.Operation == "reduce" && t.Step == "bath":
		class = "danger"
	case t.Step == "bath":
		class = "wet"
	case t.Step == "mend":
		class = "mend"
	case t.Step == "under":
		class = "press"
	}
	if t.Done {
		class += " done"
	}
	if !t.Was.IsZero() {
		class += " moved"
	}
	return class
}

func barLetter(t *account.DayTask) string {
	switch t.Step {
	case "bath":
		return upperFirst(t.Name)[:1]
	case "mend":
		return "M"
	case "under":
		return "P"
	}
	return ""
}
