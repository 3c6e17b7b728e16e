package web

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesHome(mux *http.ServeMux) {
	mux.Handle("GET /{$}", s.do(s.home))
	mux.Handle("GET "+ProgramPath, s.do(program))
}

// ProgramPath answers with the number of the process, by which a program that is
// started beside this one knows that it has found it.
const ProgramPath = "/program"

func program(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, err := fmt.Fprintf(w, "benchleaf %d\n", os.Getpid())
	return err
}

// homePage answers what is wet, what is due, and what waits for whom; then it
// shows the cases.
type homePage struct {
	Page
	// Next is the one thing that cannot wait, or nil.
	Next  *homeDue
	Wet   []homeWet
	Due   []homeDue
	Later int // how many more are due after homeAhead
	Waits []homeWait
	// Tab is "open", "closed" or, when Text is searched for, "found".
	Tab          string
	Text         string
	Cases        []homeCase
	Open, Closed int
	Earlier      string // address of the page with older cases, or none
	// In is shown on the bench machine alone: how another device gets here.
	In *wayIn
	// Backup is how the backups stand; nil where none are kept.
	Backup *backupLine
	// Stock says what must be seen to before a day starts.
	Stock []string
}

// homeWet are sheets of one case that are wet or damp in the same run.
type homeWet struct {
	Case    record.CaseID
	Number  string
	Title   string
	Sheets  []int
	Wetness record.Wetness
	Doing   string
	Since   time.Time
}

// homeDue is something with a time.
type homeDue struct {
	Case   record.CaseID
	Number string
	Title  string
	Place  string
	What   string
	Sheets []int
	Who    string
	At     time.Time
	Over   bool
	Today  bool

	Urgency account.Urgency
}

// homeWait is for whom or what a case waits.
type homeWait struct {
	Case          record.CaseID
	Number, Title string
	What          string
}

// homeCase is a case to pick up.
type homeCase struct {
	record.Summary
	WetSheets, DampSheets int
	DueAt                 time.Time
	Over                  bool
}

var homeView = declare[homePage]("home")

// homeAhead is how far the home page looks ahead: a look at a case that was
// closed is due after a year.
const homeAhead = 14 * 24 * time.Hour

// homeMost is how many cases a page of the list shows.
const homeMost = 48

func (s *Server) home(w http.ResponseWriter, r *http.Request) error {
	p := homePage{Page: s.page(r, "Today"), Text: strings.TrimSpace(r.URL.Query().Get("find")), Tab: "open"}
	p.Section = "cases"
	if fromHere(r) {
		p.In = s.wayIn()
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p.Backup = s.backupLine(r, st)
	p.Stock = account.StockWarnings(st, p.Now, s.words())
	for _, d := range s.store.Lost() {
		if d.Case != record.StudioID { // which every page speaks of
			p.broken(d)
		}
	}
	busy, err := s.busy(r.Context())
	if err != nil {
		return err
	}
	p.gather(busy)
	if err := s.homeCases(r, &p); err != nil {
		return err
	}
	return homeView.show(s, w, r, p)
}

// gather sorts what the cases have going on into the page's three questions.
func (p *homePage) gather(busy []record.Summary) {
	for _, c := range busy {
		p.Wet = append(p.Wet, wetOf(c)...)
		for _, d := range c.Due {
			at := d.At.In(p.Now.Location())
			if at.After(p.Now.Add(homeAhead)) {
				p.Later++
				continue
			}
			u := account.UrgencyOf(&d, p.Now)
			due := homeDue{
				Case: c.ID, Number: c.Number, Title: c.Title, Place: "bench", What: account.Act(u, d.What),
				Sheets: d.Sheets, Who: d.Who, At: at, Over: u != account.Ahead, Today: sameDay(at, p.Now), Urgency: u,
			}
			if c.Closed {
				due.Place = ""
			}
			p.Due = append(p.Due, due)
		}
		for _, what := range c.Waits {
			p.Waits = append(p.Waits, homeWait{c.ID, c.Number, c.Title, what})
		}
	}
	sortBy(p.Wet, func(a, b homeWet) int { return a.Since.Compare(b.Since) })
	sortBy(p.Due, func(a, b homeDue) int { return account.Order(a.Urgency, a.At, b.Urgency, b.At) })
	for i := range p.Due {
		// A sheet that lies in a liquid does not wait; the rest does.
		if d := &p.Due[i]; d.Urgency == account.Danger || d.Over && p.Now.Sub(d.At) < soon && d.Place == "bench" {
			p.Next = d
			break
		}
	}
}

func sameDay(a, b time.Time) bool {
	ay, am, ad := a.Date()
	by, bm, bd := b.Date()
	return ay == by && am == bm && ad == bd
}

// wetOf puts the wet sheets of a case together that share their run.
func wetOf(c record.Summary) []homeWet {
	var list []homeWet
	for _, w := range c.Wet {
		i := slices.IndexFunc(list, func(x homeWet) bool {
			return x.Wetness == w.Wetness && x.Doing == w.Doing && x.Since.Equal(w.Since)
		})
		if i < 0 {
			list = append(
				list,
				homeWet{
					Case:    c.ID,
					Number:  c.Number,
					Title:   c.Title,
					Wetness: w.Wetness,
					Doing:   w.Doing,
					Since:   w.Since,
				},
			)
			i = len(list) - 1
		}
		list[i].Sheets = append(list[i].Sheets, w.Sheet)
	}
	return list
}

// homeCases fills the list of cases: open, closed, or found.
func (s *Server) homeCases(r *http.Request, p *homePage) error {
	var err error
	if p.Open, p.Closed, err = s.store.Count(r.Context()); err != nil {
		return err
	}
	offset, _ := strconv.Atoi(r.URL.Query().Get("from")) // anything else: from the start
	f := store.Filter{Text: p.Text, Limit: homeMost + 1, Offset: max(offset, 0)}
	q := url.Values{}
	switch {
	case p.Text != "":
		p.Tab = "found"
		q.Set("find", p.Text)
	case r.URL.Query().Get("show") == "closed":
		p.Tab = "closed"
		q.Set("show", "closed")
		fallthrough
	default:
		closed := p.Tab == "closed"
		f.Closed = &closed
	}
	list, err := s.store.List(r.Context(), f)
	if err != nil {
		return err
	}
	if len(list) > homeMost {
		list = list[:homeMost]
		q.Set("from", strconv.Itoa(f.Offset+homeMost))
		p.Earlier = "/?" + q.Encode()
	}
	for _, c := range list {
		p.Cases = append(p.Cases, homeCaseOf(c, p.Now))
	}
	return nil
}

func homeCaseOf(c record.Summary, now time.Time) homeCase {
	h := homeCase{Summary: c}
	for _, w := range c.Wet {
		if w.Wetness == record.Wet {
			h.WetSheets++
		} else {
			h.DampSheets++
		}
	}
	if len(c.Due) > 0 {
		h.DueAt = c.Due[0].At
		h.Over = !h.DueAt.After(now)
	}
	return h
}
