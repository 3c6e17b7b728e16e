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
	Clocks []runCard
	// Together are baths that stand open at once and must not meet.
	Together []account.Meeting
	Sheets   []sheetNow
	Log      []account.Line
	Done     []runRow

	NoteForm, WasteForm, NextForm *Form
	Operations                    []record.Choice
}

// openTogether asks what stands open beside the case's own baths; without one no
// other case is read.
func (s *Server) openTogether(r *http.Request, c *record.Case) ([]account.Meeting, error) {
	if !slices.ContainsFunc(c.OpenRuns(), func(run *record.Run) bool { return run.Body.Bath != nil }) {
		return nil, nil
	}
	others, err := s.otherCases(r, c)
	if err != nil {
		return nil, err
	}
	var cases []*record.Case
	for _, o := range others {
		cases = append(cases, o.Case)
	}
	return account.OpenNow(c, cases), nil
}

// nextAct is something to do now, with the one tap that does it.
type nextAct struct {
	What, Why, Href, Act string
	Class                string // "", "due", "wet"
}

// runCard is one open run.
type runCard struct {
	ID, Name    string
	Sheets      string
	Bath        string
	Start, Due  time.Time
	DueWhat     string
	Drying      bool
	Mending     bool
	Op          *treatment.Operation
	LastReading string
	EndForm     *Form
	Leaves      record.Wetness
	InBath      bool
	Mend        string
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
	p.Refused = treatment.Refused(c, s.zone)
	steps := treatment.Next(c)
	p.Next = s.nextActs(c, steps, now)
	for _, run := range c.OpenRuns() {
		p.Clocks = append(p.Clocks, s.runCard(r, c, run))
	}
	var err error
	if p.Together, err = s.openTogether(r, c); err != nil {
		return err
	}
	p.Sheets = s.sheetStrip(c, steps)
	for i := len(c.Runs) - 1; i >= 0; i-- {
		if run := &c.Runs[i]; !run.Open() {
			p.Done = append(p.Done, doneRow(c, run))
		}
	}
	for i := len(c.Log) - 1; i >= 0 && len(p.Log) < 12; i-- {
		p.Log = append(p.Log, account.Tell(c, &c.Log[i], s.words()))
	}
	p.NoteForm = s.bodyForm(r, "note", c.LastSeq, record.Note{}, false, nil)
	p.WasteForm = s.bodyForm(r, "waste", c.LastSeq, record.Waste{}, false, nil)
	p.NextForm = s.bodyForm(r, "next", c.LastSeq, record.NextStep{}, false, nil)
	p.Operations = operationChoices()
	return benchView.show(s, w, r, p)
}

// nextActs puts first what cannot wait: what is due, then what must follow at
// once, then what was decided or planned.
func (s *Server) nextActs(c *record.Case, steps []treatment.Step, now time.Time) []nextAct {
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
	for _, st := range steps {
		a := nextAct{
			What: upperFirst(st.Operation.Name) + ": " + record.SheetNames(st.Sheets),
			Why:  st.Why,
			Href: startPath(c, st.Operation.Slug, st.Sheets),
			Act:  "Start",
		}
		if st.AtOnce {
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

// startPath is the address that starts an operation on sheets.
func startPath(c *record.Case, operation string, sheets []int) string {
	q := url.Values{"operation": {operation}}
	for _, n := range sheets {
		q.Add("sheets", strconv.Itoa(n))
	}
	return casePath(c.ID, "runs/new?"+q.Encode())
}

func (s *Server) runCard(r *http.Request, c *record.Case, run *record.Run) runCard {
	b := run.Body
	card := runCard{
		ID:     b.ID,
		Name:   upperFirst(b.OperationName),
		Sheets: record.SheetNames(c.SheetsIn(run)),
		Start:  b.At,
		Op:     treatment.Find(b.Operation),
		Leaves: b.Makes,
	}
	card.Due, card.DueWhat = run.NextDue()
	if b.Bath != nil {
		shared := words.After("shared with ", account.SharedWith(b.Bath))
		card.Bath, card.InBath = words.Joined("; ", account.BathWords(b.Bath), shared), true
	}
	if card.Op != nil {
		card.Drying, card.Leaves = card.Op.Drying, card.Op.Leaves
		card.Mending = card.Op.Slug == "mend-damp" || card.Op.Slug == "mend-dry"
	}
	if in := c.SheetsIn(run); card.Op != nil && card.Op.Slug == "mend-damp" && len(in) > 0 && card.Due.IsZero() {
		if w, ok := treatment.MendWindow(c, in[0]); ok {
			// The clock goes by the early end: a mend may be early, not late.
			card.Due, card.DueWhat, card.Mend = w.Out.Add(minutes(w.Until.Low)), "may be too dry to mend as one",
				account.WindowWords(w, s.words())
		}
	}
	var last []string
	for _, x := range slices.Backward(c.Readings) {
		if q := record.QuantityOf(x.Body.Quantity); x.Body.Run == b.ID && q != nil && len(last) < 2 {
			last = append(last, q.Words+" "+account.Value(&x.Body)+" at "+s.words().At(x.Body.At))
		}
	}
	card.LastReading = strings.Join(last, "; ")
	card.EndForm = s.form(r, "end", c.LastSeq, nil)
	return card
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

func (s *Server) sheetStrip(c *record.Case, steps []treatment.Step) []sheetNow {
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
		for _, st := range steps {
			if slices.Contains(st.Sheets, n) {
				x.Next, x.NextHref = st.Operation.Name, startPath(c, st.Operation.Slug, []int{n})
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
