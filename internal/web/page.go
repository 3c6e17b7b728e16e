package web

import (
	"bytes"
	"net/http"
	"net/url"
	"slices"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// Page is what every page has; each page's own type embeds it.
type Page struct {
	// Title is the heading of the page and of its tab.
	Title string
	// Section is the part of the bench that the page belongs to: "cases",
	// "solutions", "studio" or none.
	Section string
	// Case is set on the pages of a case; Place is then the place of the spine
	// that the page is at.
	Case  *CaseHead
	Place string
	// Flash says once what the act before has done.
	Flash *Flash
	// Writer holds the initials of who is writing, People who else may be.
	Writer string
	People []record.Person
	// Running are the clocks of the whole bench, by danger, then soonest first.
	Running []Running
	// Guide is what keeps the case from going on, the next thing to do first; More how
	// many there are beside it.
	Guide *treatment.ToDo
	More  int
	// Back is the path of this page, for acts that return to it.
	Back    string
	Now     time.Time
	Version string
	// Broken are the sentences about journals of this page that are not whole.
	Broken []string
	// Bare leaves out all but the sheet: for a device that is not yet paired.
	Bare bool

	status int // 0: 200
}

func (p Page) base() Page { return p }

func (p *Page) broken(d *record.Break) {
	if d != nil {
		p.Broken = append(p.Broken, d.Refusal().Error())
	}
}

// CaseHead is what the spine shows of the case.
type CaseHead struct {
	ID            record.CaseID
	Number, Title string
	Closed        bool
	Cover         record.Hash
	// Seq is the last entry that the page knows.
	Seq    int64
	Places []Place
}

// Place is one place of the spine. Note is a word about what waits there, in
// the manner of a sign: "wet", "due" or none.
type Place struct {
	Slug, Name string
	Note, Sign string
}

// Path is the address of a place of the case.
func (c *CaseHead) Path(place string) string { return casePath(c.ID, place) }

func casePath(id record.CaseID, place string) string {
	if place == "" {
		return "/cases/" + string(id)
	}
	return "/cases/" + string(id) + "/" + place
}

// Running is a clock of the bench.
type Running struct {
	Case    record.CaseID
	Number  string // of the case, empty on its own pages
	What    string
	Due     time.Time
	Urgency account.Urgency
	// End is where a run is ended whose liquid goes on to harm; empty for others.
	End string
}

// page fills what every page has. Where the store cannot be read it stays
// without what the store knows: the page itself will meet the same fault.
func (s *Server) page(r *http.Request, title string) Page {
	p := Page{
		Title: title, Writer: writerOf(r), Flash: flashOf(r),
		Back: r.URL.Path, Now: s.now().In(s.zone), Version: s.version,
		status: refusedOf(r.Context()).status(),
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		// The page of a refused form has the address of the act; acts go back to
		// the page that the form stood on.
		p.Back = "/"
		if from, err := url.Parse(r.Referer()); err == nil && from.Host == r.Host {
			p.Back = backOf(from.Path)
		}
	}
	if studio, err := s.store.Studio(r.Context()); err == nil {
		p.People = studio.People
		p.broken(studio.Broken)
	}
	if busy, err := s.busy(r.Context()); err == nil {
		p.Running = running(busy, p.Now)
	}
	return p
}

// soon is how far ahead a due time is shown on every page.
const soon = 12 * time.Hour

// running picks the due times that a person at the bench must hear of.
func running(busy []record.Summary, now time.Time) []Running {
	var list []Running
	for _, c := range busy {
		for _, d := range c.Due {
			if d.Run == "" || d.At.After(now.Add(soon)) || d.At.Before(now.Add(-soon)) {
				continue
			}
			what := d.What
			if len(d.Sheets) > 0 {
				what = record.SheetNames(d.Sheets) + ": " + what
			}
			u := account.UrgencyOf(&d, now)
			x := Running{Case: c.ID, Number: c.Number, What: what, Due: d.At, Urgency: u}
			if account.Acts(d.Operation) {
				x.End = casePath(c.ID, "runs/"+d.Run+"/end")
			}
			list = append(list, x)
		}
	}
	sortBy(list, func(a, b Running) int { return account.Order(a.Urgency, a.Due, b.Urgency, b.Due) })
	return list
}

// casePage fills the page of a place of a case.
func (s *Server) casePage(r *http.Request, c *record.Case, place string) Page {
	head := &CaseHead{
		ID:     c.ID,
		Number: c.Number,
		Title:  c.Title,
		Closed: c.Closed != nil,
		Cover:  c.CoverPhoto(),
		Seq:    c.LastSeq,
	}
	title := c.Title
	for _, x := range spine {
		p := Place{Slug: x.slug, Name: x.name}
		if x.note != nil {
			p.Note, p.Sign = x.note(c, s.now())
		}
		head.Places = append(head.Places, p)
		if x.slug == place {
			title = x.name
		}
	}
	p := s.page(r, title)
	p.Section, p.Case, p.Place = "cases", head, place
	for i := range p.Running {
		if p.Running[i].Case == c.ID {
			p.Running[i].Number = ""
		}
	}
	p.broken(c.Broken)
	p.guide(c, place)
	return p
}

// guide says what is to be done next before a first bath. The page that asks for the
// proposal or its answer says that itself.
func (p *Page) guide(c *record.Case, place string) {
	list := treatment.ToGoOn(c)
	if len(list) == 0 || place == "results" || place == "papers" || place == "" {
		return
	}
	said := []treatment.ToDoCode{treatment.ToPropose, treatment.ToAsk}
	if place == "proposal" && slices.Contains(said, list[0].Code) {
		return
	}
	p.Guide, p.More = &list[0], len(list)-1
}

// view is a page's template, bound to the type that it shows.
type view[P interface{ base() Page }] struct{ name string }

// views are the names of all declared views, each a file in templates.
var views []string

// declare announces a page at package level: its template is then parsed when
// the server is made.
func declare[P interface{ base() Page }](name string) view[P] {
	views = append(views, name)
	return view[P]{name}
}

// show writes the page. It is made whole before a byte is sent, so that an
// error in the middle becomes an error page and not half a page.
func (v view[P]) show(s *Server, w http.ResponseWriter, r *http.Request, p P) error {
	var b bytes.Buffer
	if err := s.templates.pages[v.name].ExecuteTemplate(&b, "layout", p); err != nil {
		return err
	}
	base := p.base()
	if base.Flash != nil {
		clearFlash(w)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache, private")
	w.WriteHeader(max(base.status, http.StatusOK))
	_, err := b.WriteTo(w)
	if err != nil {
		s.log.Debug("a page was not taken", "path", r.URL.Path, "error", err)
	}
	return nil
}
