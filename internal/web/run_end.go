package web

import (
	"fmt"
	"net/http"
	"net/url"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// runPageData is all about one run.
type runPageData struct {
	Page
	C         *record.Case
	Run       *record.Run
	Op        *treatment.Operation
	Facts     []account.Fact
	Held      []string
	Readings  []readingRow
	Plots     []plot
	Thumbs    []Thumb
	In        []int
	Expected  []account.HeldRow // kept before the run, beside what was read
	Kept      *record.Stamped[record.RunExpected]
	Gain      string
	Judged    *record.Stamped[record.RunJudged]
	JudgeForm *Form
	Like      []int         // the sheets that a judgement may speak of
	Beside    []measuredTab // the sheets' readings beside what was expected

	// One of these is set on the pages that act on the run.
	EndForm, ReadingForm, AbsorbentForm *Form
	Ending                              account.Ending
	Quantities                          []quantityTab
	OfSheet                             []int  // the sheets, where one of several must be named
	With, How                           string // what it is read with; by which method, empty where nothing says
	Methods                             []record.Choice
	Unit                                string
	Shared                              string // with whom, on the page that ends it
	Late                                string
	Already                             *EndedAlready
}

var (
	runView       = declare[runPageData]("run")
	runEndView    = declare[runPageData]("run_end")
	runReadView   = declare[runPageData]("run_reading")
	absorbentView = declare[runPageData]("run_absorbent")
)

func (s *Server) runData(r *http.Request, c *record.Case, run *record.Run) (runPageData, error) {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return runPageData{}, err
	}
	p := runPageData{
		Page: s.casePage(r, c, "bench"), C: c, Run: run, Op: treatment.Find(run.Body.Operation),
		Facts: account.RunFacts(st, &run.Body), Held: account.GatesPassed(&run.Body), In: c.SheetsIn(run),
	}
	p.Title = upperFirst(run.Body.OperationName)
	p.Readings = readingsOf(c, func(b *record.Reading) bool { return b.Run == run.Body.ID })
	for i := range p.Readings {
		p.Readings[i].Remarks = account.Texts(account.Remarks(st, &p.Readings[i].Stamped))
	}
	p.Plots = readingPlots(p.Readings, run.Body.At)
	for i := range c.Photos {
		if c.Photos[i].Body.Run == run.Body.ID {
			p.Thumbs = append(p.Thumbs, thumbOf(c, &c.Photos[i]))
		}
	}
	return p, nil
}

func (s *Server) runPage(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error {
	p, err := s.runData(r, c, run)
	if err != nil {
		return err
	}
	p.Beside = besideExpected(c, run)
	p.Expected, p.Kept = account.HeldOf(c, run.Body.ID), c.ExpectedOf(run.Body.ID)
	p.Gain = account.Gain(c, run.Body.ID)
	p.Judged, p.Like = c.JudgementOf(run.Body.ID), account.LikeRun(c, run)
	judged := record.RunJudged{Run: run.Body.ID, Sheets: run.Body.Sheets}
	p.JudgeForm = s.bodyForm(r, "judge", c.LastSeq, judged, false, nil)
	return runView.show(s, w, r, p)
}

// EndedAlready is an end that another wrote first: it counts, and the later press is
// offered as a note.
type EndedAlready struct {
	Say  string
	Note *Form
}

// endedAlready tells of an end that came before that of a form; nil where none did.
func (s *Server) endedAlready(c *record.Case, run *record.Run, f *Form) *EndedAlready {
	if run.Open() || len(run.Ends) == 0 {
		return nil
	}
	first := &run.Ends[len(run.Ends)-1]
	outcome := record.RunOutcome(f.Line("run_outcome"))
	say, note := account.EndedFirst(c, run, first, happened(f, "at", "the end"), outcome, f.By, s.words())
	n := &Form{Name: "note", Key: idFrom(f.Key, 90), Seq: c.LastSeq, By: f.By, now: f.now, values: url.Values{}}
	n.Set("text", note+words.After(" Seen: ", f.Text("seen")))
	return &EndedAlready{Say: say, Note: n}
}

// runJudge writes the judgement of a run that has ended, and what follows from it.
func (s *Server) runJudge(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error {
	f, err := s.sent(w, r, "judge")
	if err != nil {
		return err
	}
	b := bodyOf[record.RunJudged](f)
	b.Run = run.Body.ID
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: items(account.JudgeRun(c, b)...), To: casePath(c.ID, "bench"), Said: account.Said(c, b) + ".",
	}, s.inRun(s.runPage))
}

func (s *Server) runEndPage(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error {
	if !run.Open() && refusedOf(r.Context()) == nil {
		// Nothing is left to end: the run's own page says when it ended.
		http.Redirect(w, r, casePath(c.ID, "runs/"+run.Body.ID), http.StatusSeeOther)
		return nil
	}
	p, err := s.runData(r, c, run)
	if err != nil {
		return err
	}
	if back := refusedOf(r.Context()); back != nil {
		p.Already = s.endedAlready(c, run, back.form)
	}
	p.Ending = account.EndingOf(c, run, s.now())
	m := fills{}
	m.text("end_point", p.Ending.Proposed)
	if !p.Ending.AskLeaves {
		m["leaves"] = string(p.Ending.Leaves)
	}
	p.EndForm = s.form(r, "end", c.LastSeq, m).setSheets("sheets", p.In)
	p.Title = "End: " + run.Body.OperationName
	if b := run.Body.Bath; b != nil {
		p.Shared = account.SharedWith(b)
	}
	return runEndView.show(s, w, r, p)
}

func (s *Server) runEnd(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error {
	f, err := s.sent(w, r, "end")
	if err != nil {
		return err
	}
	e := account.Ended{
		RunEnded: record.RunEnded{
			Run: run.Body.ID, Sheets: f.Sheets("sheets"), At: happened(f, "at", "the end"),
			Outcome: record.RunOutcome(f.Line("run_outcome")), Leaves: record.Wetness(f.Line("leaves")),
			Reason: f.Text("reason"), EndPoint: f.Line("end_point"), Seen: f.Text("seen"),
		},
		Staples: f.numbered("staples", "staple"),
		Where:   f.Line("part_where"),
		Next: record.NextStep{
			Operation: f.Line("next_operation"), Text: f.Text("next_text"), Reason: f.Text("next_reason"),
		},
		ID: f.ID,
	}
	bodies, refused := account.EndRun(c, run, e)
	written, err := s.store.Written(r.Context(), f.Key)
	if err != nil {
		return err
	}
	if !written { // sent again, it would be judged by what it changed itself
		if x := s.endedAlready(c, run, f); x != nil {
			f.Refuse("", "%s", x.Say)
			return again(w, r, f, errRefused, s.inRun(s.runEndPage))
		}
		f.take(refused)
	}
	said := upperFirst(run.Body.OperationName) + ": " + record.Words(e.Outcome) + "."
	if o := treatment.Find(run.Body.Operation); o != nil && o.ThenAtOnce != "" {
		said += " " + upperFirst(treatment.Name(o.ThenAtOnce)) + " must follow at once."
	}
	return s.save(
		w, r, f, Saving{Case: c.ID, Items: items(bodies...), To: casePath(c.ID, "bench"), Said: said},
		s.inRun(s.runEndPage),
	)
}

// inRun is doRun for the page that a refused form goes back to.
func (s *Server) inRun(h runHandler) handler {
	return s.inCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		run := c.Run(r.PathValue("run"))
		if run == nil {
			return record.Invalidf("", "This run is not in the record of case %s.", c.Number)
		}
		return h(w, r, c, run)
	})
}

// bathQuantities are measured in a bath, dryQuantities on what dries.
var (
	bathQuantities = []string{
		"bath-ph",
		"conductivity",
		"bath-alkali",
		"bath-temperature",
		"calcium",
		"surface-ph",
		"mass",
	}
	dryQuantities = []string{"mass", "humidity", "air-temperature", "surface-ph"}
)

// quantitiesIn are what can be measured during a run.
func quantitiesIn(run *record.Run) []string {
	if run.Body.Bath == nil {
		return dryQuantities
	}
	return bathQuantities
}

func (s *Server) runReadingPage(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error {
	p, err := s.runData(r, c, run)
	if err != nil {
		return err
	}
	list, _ := account.ReadingsAsked(run.Body.Operation, quantitiesIn(run))
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	f := s.readingForm(r, c, st, list, record.StageDuring)
	b := record.Reading{
		Quantity: f.Line(
			"quantity",
		), Method: f.Line("method"), Instrument: f.Line("instrument"), Checked: f.Line("checked"),
	}
	if u, err := parseNumber(f.Line("uncertainty")); err == nil {
		b.Uncertainty = &u
	}
	if account.OfSheet(b.Quantity) {
		if p.OfSheet = account.SheetsOfRun(c, run); len(p.OfSheet) == 1 {
			f.setSheets("sheets", p.OfSheet)
		} else if on := r.URL.Query(); on.Has("sheets") {
			f.setSheets("sheets", (&Form{values: on}).Sheets("sheets"))
		}
	}
	p.ReadingForm = f
	p.Quantities = quantityTabs(f, list, casePath(c.ID, "runs/"+run.Body.ID+"/reading"))
	p.Methods, p.Unit = methodsOf(f), account.UnitOf(b.Quantity)
	p.With, p.How = account.ReadWith(&b), b.Method
	p.Title = "Reading: " + run.Body.OperationName
	return runReadView.show(s, w, r, p)
}

func (s *Server) runReading(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error {
	f, err := s.sent(w, r, "reading")
	if err != nil {
		return err
	}
	b := bodyOf[record.Reading](f)
	b.Run = run.Body.ID
	if no := account.OnSheet(c, run, &b); no != nil && len(f.Refused) == 0 {
		f.take([]*record.Invalid{no})
	}
	// A start has seconds where a typed time has none.
	if start := run.Body.At.Truncate(time.Minute); !b.At.IsZero() && b.At.Before(start) {
		f.Refuse("at", "The reading lies before the start of the run at %s.", start.In(s.zone).Format("15:04"))
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	said := upperFirst(account.QuantityName(b.Quantity)) + " " + account.Value(&b) + "."
	for _, x := range account.Remarks(st, &record.Stamped[record.Reading]{Stamp: record.Stamp{Time: f.At()}, Body: b}) {
		said += " " + x.Text
	}
	return s.save(
		w, r, f,
		Saving{Case: c.ID, Items: []record.Item{item(f, b)}, To: backOr(f, casePath(c.ID, "bench")), Said: said},
		s.inRun(s.runReadingPage),
	)
}

func (s *Server) absorbentPage(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error {
	p, err := s.runData(r, c, run)
	if err != nil {
		return err
	}
	m := fills{}
	if n := len(run.Changes); n > 0 {
		m.text("what", run.Changes[n-1].Body.What)
	} else if len(run.Body.Materials) > 0 {
		m.text("what", run.Body.Materials[0].Name)
	}
	if at, _ := run.NextDue(); !at.IsZero() {
		if late := s.now().Sub(at); late > time.Minute {
			p.Late = words.English.Lasted(late) + " late"
		}
	}
	p.AbsorbentForm = s.form(r, "absorbent", c.LastSeq, m)
	p.Title = "Absorbents changed"
	return absorbentView.show(s, w, r, p)
}

func (s *Server) absorbentSave(w http.ResponseWriter, r *http.Request, c *record.Case, run *record.Run) error {
	f, err := s.sent(w, r, "absorbent")
	if err != nil {
		return err
	}
	b := record.AbsorbentChanged{
		Run: run.Body.ID, At: happened(f, "at", "the time"), What: f.Line("what"),
		TakenUpG: f.MaybeNumber("taken_up_g", "the water taken up"), Seen: f.Text("seen"),
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case: c.ID, Items: items(b), To: casePath(c.ID, "bench"),
			Said: fmt.Sprintf("Change %d of the absorbents is recorded.", len(run.Changes)+1),
		},
		s.inRun(s.absorbentPage),
	)
}
