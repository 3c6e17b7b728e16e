package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

func (s *Server) routesBench(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/bench", s.doCase(s.bench))
	mux.Handle("GET /cases/{case}/runs/new", s.doCase(s.runNew))
	mux.Handle("GET /cases/{case}/runs/check", s.doCase(s.runCheck))
	mux.Handle("POST /cases/{case}/runs", s.doCase(s.runStart))
	mux.Handle("GET /cases/{case}/runs/{run}", s.doRun(s.runPage))
	mux.Handle("GET /cases/{case}/runs/{run}/end", s.doRun(s.runEndPage))
	mux.Handle("POST /cases/{case}/runs/{run}/end", s.doRun(s.runEnd))
	mux.Handle("POST /cases/{case}/runs/{run}/judge", s.doRun(s.runJudge))
	mux.Handle("GET /cases/{case}/runs/{run}/reading", s.doRun(s.runReadingPage))
	mux.Handle("POST /cases/{case}/runs/{run}/reading", s.doRun(s.runReading))
	mux.Handle("GET /cases/{case}/runs/{run}/absorbent", s.doRun(s.absorbentPage))
	mux.Handle("POST /cases/{case}/runs/{run}/absorbent", s.doRun(s.absorbentSave))
	mux.Handle("GET /cases/{case}/mend", s.doCase(s.mendPage))
}

// runHandler is a handler of a page of one run.
type runHandler func(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error

// doRun finds the run that {run} names.
func (s *Server) doRun(h runHandler) http.Handler {
	return s.doCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		run := c.Run(r.PathValue("run"))
		if run == nil {
			return record.Invalidf("", "This run is not in the record of case %s.", c.Number)
		}
		return h(w, r, c, run)
	})
}

// benchPage is the work as it stands: what comes next, the clocks, the sheets.
type benchPage struct {
	Page
	C *record.Case
	// Refused says who refused the proposal, where it was refused.
	Refused string

	Next   []nextAct
	Last   *account.LastDone // what the last press wrote, to be taken back
	Clocks []runCard
	// Together are baths that stand open at once and must not meet.
	Together []account.Meeting
	Trays    []account.TrayNow
	Waiting  []waitingAct
	Sheets   []sheetNow
	Log      []account.Line
	Done     []runRow

	NoteForm, WasteForm, NextForm *Form
	Operations                    []record.Choice
}

// besides asks what stands open beside the case's own baths, and which trays are in
// use; without a bath of its own no other case is read.
func (s *Server) besides(r *http.Request, c *record.Case) ([]account.Meeting, []account.TrayNow, error) {
	if !slices.ContainsFunc(c.OpenRuns(), func(run *record.Run) bool { return run.Body.Bath != nil }) {
		return nil, nil, nil
	}
	others, err := s.otherCases(r, c)
	if err != nil {
		return nil, nil, err
	}
	var cases []*record.Case
	for _, o := range others {
		cases = append(cases, o.Case)
	}
	trays := account.TraysNow(c, cases)
	if !slices.ContainsFunc(trays, func(t account.TrayNow) bool { return t.Number != "" }) {
		trays = nil // the cards say it
	}
	return account.OpenNow(c, cases), trays, nil
}

// nextAct is something to do now, with the one tap that does it.
type nextAct struct {
	What, Why, Href, Act string
	Class                string // "", "due", "wet", "stop"
}

// waitingAct are wet sheets that lie in no run, with what may be done with them.
type waitingAct struct {
	account.Waiting
	Rinse string // the address that starts it
	Blot  *Form  // that says that they are blotted; nil where they are
}

// runCard is one open run.
type runCard struct {
	ID, Name    string
	By          string
	Sheets      string
	In          []int
	Tray        string
	Bath        string
	Start, Due  time.Time
	DueWhat     string
	Acts        bool // its liquid goes on to harm: over its time it stops all else
	Drying      bool
	Mending     bool
	LastReading string
	InBath      bool
	// Opens and Closes are both ends of the mending window; From is when it opens at the
	// earliest.
	Opens, Closes string
	From          time.Time
	Blot          *Form
	Asks          []quantityTab // what its operation asks to be read
	Course        *courseView
	Best          *account.BestReading
}

// sheetNow is one sheet in the strip.
type sheetNow struct {
	Number      int
	Name        string
	Wetness     string
	Since       time.Time
	Doing, Done string
	Next        string
	NextHref    string
	// Mend says how long the sheet stays damp enough to mend as one with it.
	Mend string
	// Water is the page that says what water will do to it, Chosen the bath that was
	// chosen there and is still to be done.
	Water, Chosen string
}

type runRow struct {
	ID, Name, Sheets, Outcome string
	At                        time.Time
	Minutes                   string
	Struck                    bool
}

var benchView = declare[benchPage]("bench")

func (s *Server) bench(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := benchPage{Page: s.casePage(r, c, "bench"), C: c}
	now := s.now()
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p.Refused = treatment.Refused(c, s.zone)
	steps := treatment.Next(c)
	p.Next = s.nextActs(c, st, steps, now)
	for _, run := range account.ByDanger(c, now) {
		p.Clocks = append(p.Clocks, s.runCard(r, c, run))
	}
	for _, x := range account.WaitingOf(c) {
		p.Waiting = append(p.Waiting, s.waitingAct(r, c, st, x))
	}
	if p.Together, p.Trays, err = s.besides(r, c); err != nil {
		return err
	}
	p.Sheets = s.sheetStrip(c, st, steps)
	for i := len(c.Runs) - 1; i >= 0; i-- {
		if run := &c.Runs[i]; !run.Open() {
			p.Done = append(p.Done, doneRow(c, run))
		}
	}
	for i := len(c.Log) - 1; i >= 0 && len(p.Log) < 12; i-- {
		p.Log = append(p.Log, account.Tell(c, &c.Log[i], s.words()))
	}
	p.Last = account.LastActOf(c, func(l *record.Line) account.Line { return account.Tell(c, l, s.words()) })
	p.NoteForm = s.bodyForm(r, "note", c.LastSeq, record.Note{}, false, nil)
	p.WasteForm = s.bodyForm(r, "waste", c.LastSeq, record.Waste{}, false, nil)
	p.NextForm = s.bodyForm(r, "next", c.LastSeq, record.NextStep{}, false, nil)
	p.Operations = operationChoices()
	return benchView.show(s, w, r, p)
}

func (s *Server) waitingAct(r *http.Request, c *record.Case, st *record.Studio, x account.Waiting) waitingAct {
	a := waitingAct{Waiting: x}
	if x.Rinse {
		a.Rinse = s.startPath(c, st, "rinse", x.Sheets)
	}
	a.Blot = s.blotForm(r, c, x.Sheets)
	return a
}

// blotForm says that sheets are blotted now; nil where there is no window to open.
func (s *Server) blotForm(r *http.Request, c *record.Case, sheets []int) *Form {
	for _, n := range sheets {
		w, ok := treatment.MendWindow(c, n)
		if ok && c.BlottedSince(n, w.Out).IsZero() {
			return s.form(r, "blotted", c.LastSeq, nil).setSheets("sheets", sheets)
		}
	}
	return nil
}

// nextActs puts first what cannot wait: what is due, then what must follow at
// once, then what was decided or planned.
func (s *Server) nextActs(
	c *record.Case, st *record.Studio, steps []treatment.Step, now time.Time,
) []nextAct {
	var list []nextAct
	type over struct {
		run  *record.Run
		at   time.Time
		what string
		u    account.Urgency
	}
	var late []over
	for _, run := range c.OpenRuns() {
		at, what := run.NextDue()
		if at.IsZero() || at.After(now.Add(time.Minute)) {
			continue
		}
		d := record.Due{At: at, Run: run.Body.ID, Operation: run.Body.Operation}
		late = append(late, over{run, at, what, account.UrgencyOf(&d, now.Add(time.Minute))})
	}
	sortBy(late, func(a, b over) int { return account.Order(a.u, a.at, b.u, b.at) })
	for _, x := range late {
		base := casePath(c.ID, "runs/"+x.run.Body.ID)
		a := nextAct{
			What: words.English.Upper(account.Act(x.u, x.what)) + ": " + record.SheetNames(c.SheetsIn(x.run)),
			Why:  "due at " + s.words().At(x.at),
			Href: base + "/end", Act: "End it", Class: dueClass(x.u),
		}
		if len(x.run.Changes) < len(x.run.Body.DueMin) {
			a.Href, a.Act = base+"/absorbent", "Record the change"
		}
		list = append(list, a)
	}
	for _, x := range steps {
		a := nextAct{
			What: upperFirst(x.Operation.Name) + ": " + record.SheetNames(x.Sheets),
			Why:  x.Why,
			Href: s.startPath(c, st, x.Operation.Slug, x.Sheets),
			Act:  "Start",
		}
		if x.AtOnce {
			a.Class = "wet"
		}
		list = append(list, a)
	}
	return list
}

// dueClass is the look of something due: what harms is in the stop colour.
func dueClass(u account.Urgency) string {
	if u == account.Danger {
		return "stop"
	}
	return "due"
}

// startPath is the address that starts an operation on sheets: the second look where
// all that it needs is known, else the form.
func (s *Server) startPath(c *record.Case, st *record.Studio, operation string, sheets []int) string {
	p := account.ProposeRun(c, st, operation, sheets, "", s.now())
	if !p.Ready() {
		return newPath(c, operation, sheets)
	}
	q := url.Values{}
	for field, v := range proposedFills(&p) {
		q.Set(field, v)
	}
	for _, n := range p.Run.Sheets {
		q.Add("sheets", strconv.Itoa(n))
	}
	return casePath(c.ID, "runs/check?"+q.Encode())
}

// newPath is the address of the form that starts an operation on sheets.
func newPath(c *record.Case, operation string, sheets []int) string {
	q := url.Values{"operation": {operation}}
	for _, n := range sheets {
		q.Add("sheets", strconv.Itoa(n))
	}
	return casePath(c.ID, "runs/new?"+q.Encode())
}

func (s *Server) runCard(r *http.Request, c *record.Case, run *record.Run) runCard {
	b := run.Body
	in := c.SheetsIn(run)
	card := runCard{
		ID: b.ID, Name: upperFirst(b.OperationName), By: run.By, In: in, Sheets: record.SheetNames(in), Start: b.At,
		Acts: account.Acts(b.Operation), Best: account.BestReadingOf(c, b.ID), Asks: s.askedTabs(c, run),
	}
	card.Due, card.DueWhat = run.NextDue()
	if b.Bath != nil {
		shared := words.After("shared with ", account.SharedWith(b.Bath))
		card.Bath, card.InBath = words.Joined("; ", account.BathWords(b.Bath), shared), true
		card.Tray = account.TrayAlone(b.Bath.Tray)
		card.Course = s.courseView(account.CourseOf(c, b.ID), b.At)
	}
	if op := treatment.Find(b.Operation); op != nil {
		card.Drying, card.Mending = op.Drying, op.Slug == "mend-damp" || op.Slug == "mend-dry"
		if op.Slug == "mend-damp" && len(in) > 0 {
			s.showWindow(r, c, &card)
		}
	}
	var last []string
	for _, x := range slices.Backward(c.Readings) {
		if q := record.QuantityOf(x.Body.Quantity); x.Body.Run == b.ID && q != nil && len(last) < 2 {
			last = append(last, q.Words+" "+account.Value(&x.Body)+" at "+s.words().At(x.Body.At))
		}
	}
	card.LastReading = strings.Join(last, "; ")
	return card
}

// showWindow puts the mending window on a card, where the sheet has one.
func (s *Server) showWindow(r *http.Request, c *record.Case, card *runCard) {
	w, ok := treatment.MendWindow(c, card.In[0])
	if !ok {
		return
	}
	card.Opens, card.Closes = account.WindowEnds(w, s.words())
	card.From, card.Blot = w.Out.Add(minutes(w.From.Low)), s.blotForm(r, c, card.In)
	if card.Due.IsZero() {
		// The clock goes by the early end: a mend may be early, not late.
		card.Due, card.DueWhat = w.Out.Add(minutes(w.Until.Low)), "may be too dry to mend as one"
	}
}

// askedTabs are the first readings that a run's operation asks for.
func (s *Server) askedTabs(c *record.Case, run *record.Run) []quantityTab {
	list, asked := account.ReadingsAsked(run.Body.Operation, quantitiesIn(run))
	var tabs []quantityTab
	most := 2
	if run.Body.Bath == nil {
		most = 1
	}
	for _, q := range list[:min(asked, most)] {
		tabs = append(tabs, quantityTab{
			Words: account.QuantityShort(q),
			Href:  casePath(c.ID, "runs/"+run.Body.ID+"/reading?quantity="+q),
		})
	}
	return tabs
}

// courseView is the expected course of a bath, drawn small for its card.
type courseView struct {
	*account.Course
	Band, Line string
	Dots       []plotMark
	Width      float64
	Words      []string // for each minute
	Now        string   // for this minute
	Last       *account.CourseReading
}

// The card's drawing, in its own units.
const (
	courseWide = 280
	courseHigh = 56
)

func (s *Server) courseView(k *account.Course, start time.Time) *courseView {
	if k == nil {
		return nil
	}
	v := &courseView{Course: k, Width: courseWide, Words: k.Minutely()}
	low, high := k.Points[0].Value.Low, k.Points[0].Value.High
	until := k.EndMin
	for _, p := range k.Points {
		low, high = min(low, p.Value.Low), max(high, p.Value.High)
	}
	for _, p := range k.Read {
		low, high, until = min(low, p.Value), max(high, p.Value), max(until, p.AtMin)
	}
	x := func(m float64) float64 { return 4 + m/until*(courseWide-8) }
	y := func(v float64) float64 { return courseHigh - 6 - (v-low)/max(high-low, 0.01)*(courseHigh-12) }
	var up, down strings.Builder
	for i, p := range k.Points {
		at := "L"
		if i == 0 {
			at = "M"
		}
		fmt.Fprintf(&up, "%s%.1f %.1f", at, x(p.AtMin), y(p.Value.High))
		v.Line += fmt.Sprintf("%s%.1f %.1f", at, x(p.AtMin), y(p.Value.Best))
	}
	for _, p := range slices.Backward(k.Points) {
		fmt.Fprintf(&down, "L%.1f %.1f", x(p.AtMin), y(p.Value.Low))
	}
	v.Band = up.String() + down.String() + "Z"
	for i, p := range k.Read {
		v.Dots = append(v.Dots, plotMark{X: x(p.AtMin), Y: y(p.Value)})
		v.Last = &k.Read[i]
	}
	if m := int(s.now().Sub(start).Minutes()); m >= 0 && m < len(v.Words) {
		v.Now = v.Words[m]
	}
	return v
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

func (s *Server) sheetStrip(c *record.Case, st *record.Studio, steps []treatment.Step) []sheetNow {
	var list []sheetNow
	for _, n := range c.Sheets() {
		w := c.ConditionOf(n)
		x := sheetNow{
			Number:  n,
			Name:    upperFirst(record.SheetName(n)),
			Wetness: string(w.Wetness),
			Since:   w.Since,
			Water:   sheetPath(c.ID, n, ""),
		}
		if p := c.PlanOf(n, ""); p != nil {
			if _, number, ok := treatment.PlannedBath(c, p.Body.Operation, []int{n}); ok {
				x.Chosen = treatment.PlanWords(&p.Body)
				if p.Body.Baths > 1 {
					x.Chosen += fmt.Sprintf("; next is bath %d", number)
				}
			}
		}
		if run := c.Run(w.Run); run != nil {
			x.Doing = run.Body.OperationName
		}
		var done []string
		for _, run := range c.RunsOn(n) {
			if run.Body.ID != w.Run && run.Body.Bath != nil ||
				strings.HasPrefix(run.Body.Operation, "mend") && run.Body.ID != w.Run {
				done = append(done, run.Body.OperationName)
			}
		}
		x.Done = strings.Join(done, ", ")
		if run := c.Run(w.Run); x.Done == "" && run != nil && run.Body.Bath != nil {
			x.Done = "in its first bath"
		}
		if win, ok := treatment.MendWindow(c, n); ok {
			x.Mend = account.WindowWords(win, s.words())
		}
		for _, step := range steps {
			if slices.Contains(step.Sheets, n) {
				x.Next, x.NextHref = step.Operation.Name, s.startPath(c, st, step.Operation.Slug, []int{n})
				break
			}
		}
		list = append(list, x)
	}
	return list
}

func doneRow(c *record.Case, run *record.Run) runRow {
	row := runRow{
		ID:     run.Body.ID,
		Name:   upperFirst(run.Body.OperationName),
		Sheets: record.SheetNames(run.Body.Sheets),
		At:     run.Body.At,
	}
	row.Outcome = record.WordsOf(record.RunOutcomes, run.Ends[len(run.Ends)-1].Body.Outcome)
	row.Minutes = account.Lasted(run)
	return row
}

// blottedNow takes the moment of the press where the form gives no other time.
func blottedNow(_ *Server, _ *http.Request, _ *record.Case, f *Form, b *record.Blotted) error {
	if b.At.IsZero() {
		b.At = f.At()
	}
	return nil
}

// cardView and blotView give a partial its case beside what it shows.
type (
	cardView struct {
		Case *CaseHead
		Run  runCard
	}
	blotView struct {
		Case record.CaseID
		Form *Form
	}
)
