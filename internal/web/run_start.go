package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/treatment"
)

// runNewPage chooses what is done, on which sheets, in what.
type runNewPage struct {
	Page
	C          *record.Case
	Form       *Form
	Op         *treatment.Operation
	Operations []record.Choice
	Bottles    []record.Choice
	Waters     []record.Choice
	Methods    []record.Choice
	Others     []otherCase
	// Planned is the bath that was chosen for these sheets, which the form begins
	// with.
	Planned *standingPlan
}

// otherCase is another open case whose sheets may lie in the same bath.
type otherCase struct {
	Case  *record.Case
	Name  string
	Field string
}

var runNewView = declare[runNewPage]("run_new")

func (s *Server) runNew(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	f := s.runForm(r, c, st)
	p := runNewPage{Page: s.casePage(r, c, "bench"), C: c, Form: f, Op: treatment.Find(f.Line("operation"))}
	p.Title = "Start a run"
	if f.Line("planned") != "" {
		if plan, _, ok := treatment.PlannedBath(c, f.Line("operation"), f.Sheets("sheets")); ok {
			p.Planned = standing(c, f.Sheets("sheets")[0], plan)
		}
	}
	p.Operations = operationChoices()
	p.Bottles = account.ShelfFor(st, p.Op, s.words())
	for _, x := range st.Waters {
		p.Waters = append(p.Waters, record.Choice{Value: x.Name, Words: x.Name})
	}
	if x := f.Line("water"); x != "" &&
		!slices.ContainsFunc(p.Waters, func(c record.Choice) bool { return c.Value == x }) {
		p.Waters = append(p.Waters, record.Choice{Value: x, Words: x}) // of the bath before, since gone from the list
	}
	for _, x := range st.Methods {
		if !x.Retired && p.Op != nil && x.Operation == p.Op.Slug {
			p.Methods = append(p.Methods, record.Choice{Value: x.ID, Words: x.Name})
		}
	}
	if p.Op != nil && p.Op.Bath {
		if p.Others, err = s.otherCases(r, c); err != nil {
			return err
		}
	}
	return runNewView.show(s, w, r, p)
}

// runForm starts a run's form with what may be proposed: settings, and no
// readings.
func (s *Server) runForm(r *http.Request, c *record.Case, st *record.Studio) *Form {
	q := r.URL.Query()
	sheets := (&Form{values: q}).Sheets("sheets")
	p := account.ProposeRun(c, st, q.Get("operation"), sheets, q.Get("method"), s.now())
	m := proposedFills(&p)
	if x := st.Bottle(q.Get("bottle")); x != nil { // that was scanned
		m["bottle"] = x.Body.ID
		delete(m, "liquid")
	}
	m.text("tray", q.Get("tray"))
	if q.Has("back") { // from the second look: as it was typed
		m, p.Run.Sheets = fills{}, sheets
		for field := range q {
			m.text(field, q.Get(field))
		}
	}
	f := s.form(r, "run", c.LastSeq, m).setSheets("sheets", p.Run.Sheets)
	for field := range q {
		if strings.HasPrefix(field, "also_") {
			f.setSheets(field, (&Form{values: q}).Sheets(field))
		}
	}
	return f
}

// proposedFills are the settings of a proposed run, by the fields of its form.
func proposedFills(p *account.Proposed) fills {
	m := fills{"operation": p.Run.Operation}
	m.text("method", p.Run.Method).
		plain("planned_min", p.Run.PlannedMin).
		text("due_min", account.Minutes(p.Run.DueMin)).
		text("bottle", p.Bottle).
		text("liquid", p.Run.Bath.Liquid).
		text("water", p.Run.Bath.Water).
		plain("volume_ml", p.Run.Bath.VolumeMl).
		text("tray", p.Run.Bath.Tray)
	if p.Planned {
		m["planned"] = "yes"
	}
	var materials []string
	for _, x := range p.Run.Materials {
		materials = append(materials, x.Name)
	}
	return m.text("materials", strings.Join(materials, "\n"))
}

func (s *Server) otherCases(r *http.Request, c *record.Case) ([]otherCase, error) {
	open := false
	list, err := s.store.List(r.Context(), store.Filter{Closed: &open, Limit: 30})
	if err != nil {
		return nil, err
	}
	var others []otherCase
	for _, x := range list {
		if x.ID == c.ID || x.Sheets == 0 {
			continue
		}
		o, err := s.store.Case(r.Context(), x.ID)
		if err != nil {
			return nil, err
		}
		others = append(others, otherCase{o, x.Number + " " + x.Title, "also_" + string(x.ID)})
	}
	return others, nil
}

// planRun reads a run from its form and works it out. Refusals are in the form;
// without an operation there is no plan.
func (s *Server) planRun(r *http.Request, f *Form, c *record.Case) (*account.RunPlan, *record.Studio, error) {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return nil, nil, err
	}
	op := treatment.Find(f.Line("operation"))
	if op == nil {
		f.Refuse("operation", "The operation is not chosen: choose what is done.")
		return nil, st, nil
	}
	a := account.RunAsked{
		Case: c, Studio: st, Run: runOf(f, op), ID: f.ID, Now: s.words(),
		Reasons: map[string]string{}, Agreed: map[string]account.Agreed{}, CameOut: map[string]account.CameOut{},
		Ended: record.RunEnded{
			At: f.Time("ended_at", "the end"), Outcome: record.RunOutcome(f.Line("run_outcome")),
			Leaves: record.Wetness(f.Line("leaves")), Reason: f.Text("reason"),
		},
	}
	a.Now.Today = f.At()
	if op.Bath {
		a.Bottle = f.Line("bottle")
		others, err := s.otherCases(r, c)
		if err != nil {
			return nil, nil, err
		}
		for _, o := range others {
			a.Elsewhere = append(a.Elsewhere, o.Case)
			if sheets := f.Sheets(o.Field); len(sheets) > 0 {
				a.Also = append(a.Also, account.SheetsOf{Case: o.Case, Sheets: sheets})
			}
		}
		slices.SortFunc(
			a.Also, func(x, y account.SheetsOf) int { return strings.Compare(x.Case.Number, y.Case.Number) },
		)
	}
	for field := range f.values {
		if key, ok := strings.CutPrefix(field, account.ReasonField("")); ok {
			a.Reasons[key] = f.Text(field)
			a.Agreed[key] = account.Agreed{
				Who: f.Line(account.WhoField(key)), At: f.Time(account.WhenField(key), "when it was agreed"),
			}
		}
		if run, ok := strings.CutPrefix(field, account.OutField("")); ok {
			a.CameOut[run] = account.CameOut{
				Outcome: record.RunOutcome(f.Line(field)), Reason: f.Text(account.OutReasonField(run)),
			}
		}
	}
	refused := len(f.Refused) > 0 // what could not be read says enough
	p := account.PlanRun(a)
	if !refused {
		f.take(p.Refused)
	}
	return p, st, nil
}

// runOf reads a run as typed.
func runOf(f *Form, op *treatment.Operation) record.RunStarted {
	run := record.RunStarted{
		ID: f.ID(0), Operation: op.Slug, Sheets: f.Sheets("sheets"), At: f.Time("at", "the start"),
		TempC:       f.MaybeNumber("temp_c", "the room’s temperature"),
		HumidityPct: f.MaybeNumber("humidity_pct", "the room’s humidity"), Aim: f.Text("aim"),
		Departure: f.Text("departure"), Method: f.Line("method"),
	}
	if v := f.MaybeNumber("planned_min", "the planned time"); v != nil {
		run.PlannedMin = *v
	}
	if op.Drying {
		run.DueMin = minutesOf(f, "due_min")
	}
	for _, line := range strings.Split(f.Text("materials"), "\n") {
		if line = strings.TrimSpace(line); line != "" {
			run.Materials = append(run.Materials, record.Material{Name: line})
		}
	}
	if op.Bath {
		run.Bath = &record.Bath{
			ID: f.ID(1), Liquid: f.Line("liquid"), Water: f.Line("water"),
			VolumeMl: f.Number("volume_ml", "the volume"),
			TempC:    f.MaybeNumber("bath_temp_c", "the temperature of the bath"),
			PH:       f.MaybeNumber("bath_ph", "the pH of the bath"), PHMethod: f.Line("ph_method"),
			ConductUS:  f.MaybeNumber("conductivity_us_cm", "the conductivity"),
			CalciumMgL: f.MaybeNumber("calcium_mg_l", "the calcium"), Tray: f.Line("tray"),
		}
	}
	return run
}

func minutesOf(f *Form, field string) []float64 {
	var list []float64
	for _, part := range strings.FieldsFunc(f.Line(field), func(r rune) bool { return r == ',' || r == ';' || r == ' ' }) {
		v, err := parseNumber(part)
		if err != nil {
			f.Refuse(
				field, "The due times cannot be %q: minutes from the start are expected, as in 10, 45, 180, 720.",
				clip(f.Line(field)),
			)
			return nil
		}
		list = append(list, v)
	}
	return list
}

// runCheckPage is the second look: gates, cautions, gas, what it will leave.
type runCheckPage struct {
	Page
	C        *record.Case
	Form     *Form
	Plan     *account.RunPlan
	Gates    []gateRow
	Holds    []string // gates that did not hold at the look before and do now
	Outcomes []record.Choice
	Cautions []Caution
	Gas      *Caution
	GasFacts []account.Fact
	Expect   *account.RunExpect
	Facts    []account.Fact
	Hidden   url.Values
	Change   string
}

type gateRow struct {
	account.RunGate
	New bool // it did hold at the look before
}

var runCheckView = declare[runCheckPage]("run_check")

func (s *Server) runCheck(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f := refusedFormOr(r, "run", func() *Form {
		f := s.formOf(r, "run", r.URL.Query())
		f.Seq = c.LastSeq
		return f
	})
	shown := f.Refused
	f.Refused = nil
	plan, st, err := s.planRun(r, f, c)
	if err != nil {
		return err
	}
	if len(f.Refused) > 0 || plan == nil {
		return again(w, r, f, errRefused, s.inCase(s.runNew))
	}
	f.Refused = shown
	p := runCheckPage{
		Page: s.casePage(r, c, "bench"), C: c, Form: f, Plan: plan, Outcomes: record.RunOutcomes, Facts: plan.Facts,
		Hidden: carried(f),
	}
	p.Title = upperFirst(plan.Op.Name) + ": " + record.SheetNames(plan.Run.Sheets)
	p.Change = casePath(c.ID, "runs/new?back=yes&"+p.Hidden.Encode())
	p.remember(f, plan)
	for _, x := range account.CautionsOf(plan.Op) {
		p.Cautions = append(p.Cautions, Caution(x))
	}
	say, facts := account.BathGas(plan.Run.Bath)
	if say != "" {
		p.Gas, p.GasFacts = &Caution{Title: "Hydrogen", Points: []string{say}, Grave: true}, facts
	}
	if v := account.BathVapour(c, &plan.Run); v != nil && say == "" {
		p.Gas = &Caution{Title: "Solvent vapour", Points: v.Cautions, Grave: true}
		p.GasFacts = append(v.Answers, v.Facts...)
	}
	p.Expect = account.ExpectRun(c, st, plan)
	return runCheckView.show(s, w, r, p)
}

// remember compares the gates with those of the look before, where there was
// one, and puts into the form what this look knew: the gates, and how far each
// journal went.
func (p *runCheckPage) remember(f *Form, plan *account.RunPlan) {
	before := f.List("shown")
	for _, g := range plan.Gates {
		p.Gates = append(p.Gates, gateRow{g, len(before) > 0 && !slices.Contains(before, g.Key)})
		p.Hidden.Add("shown", g.Key)
	}
	for _, key := range before {
		if key != noGate && !slices.ContainsFunc(plan.Gates, func(g account.RunGate) bool { return g.Key == key }) {
			_, name, _ := strings.Cut(key, "_")
			p.Holds = append(p.Holds, strings.ReplaceAll(name, "-", " "))
		}
	}
	p.Hidden.Add("shown", noGate)
	for _, d := range plan.Drafts {
		if d.Case != p.C.ID {
			p.Hidden.Set(seqField(d.Case), strconv.FormatInt(d.Expect, 10))
		}
	}
}

// noGate stands in the list of gates that were shown, so that a look at which
// every gate held is told from none.
const noGate = "none"

// seqField carries the last entry that the page knew of another journal.
func seqField(id record.CaseID) string { return "seq_" + string(id) }

// refusedFormOr is the form of that name that came back refused, or a new one.
func refusedFormOr(r *http.Request, name string, fresh func() *Form) *Form {
	if back := refusedOf(r.Context()); back != nil && back.form.Name == name {
		return back.form
	}
	return fresh()
}

// carried are the values of the first step, to go with the second.
func carried(f *Form) url.Values {
	v := url.Values{}
	for name, list := range f.values {
		begins, _, cut := strings.Cut(name, "_")
		if slices.Contains([]string{"key", "seq", "pressed", "by", "departure", "shown", "back"}, name) ||
			cut && slices.Contains([]string{"override", "who", "when", "out", "outreason", "seq"}, begins) {
			continue
		}
		for _, x := range list {
			if x != "" {
				v.Add(name, x)
			}
		}
	}
	return v
}

// runStart writes the run, with the reasons for the gates that were passed.
func (s *Server) runStart(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "run")
	if err != nil {
		return err
	}
	to := casePath(c.ID, "bench")
	if run := c.Run(f.ID(0)); run != nil { // a second press: it has started already
		return goOn(w, r, &answer{to: to, first: run.Seq, last: run.Seq})
	}
	plan, st, err := s.planRun(r, f, c)
	if err != nil {
		return err
	}
	if plan == nil || len(f.Refused) > 0 {
		return again(w, r, f, errRefused, s.inCase(s.runNew))
	}
	page := s.inCase(s.runCheck)
	if clash, err := s.sinceTheLook(r, f, c, st, plan); err != nil {
		return err
	} else if clash != nil {
		return s.refuse(w, r, f, clash, page)
	}
	f.take(plan.Unsaid())
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, page)
	}
	if err := plan.KeepExpected(st); err != nil {
		return err
	}
	said := upperFirst(plan.Op.Name) + " of " + record.SheetNames(plan.Run.Sheets) + " has started."
	if f.Line("ended_at") != "" {
		said = upperFirst(plan.Op.Name) + " of " + record.SheetNames(plan.Run.Sheets) + " is recorded."
	}
	own, also := plan.Drafts[0], plan.Drafts[1:]
	return s.save(w, r, f, Saving{Case: c.ID, Items: own.Items, Also: also, To: to, Said: said}, page)
}

// sinceTheLook is the first journal, of those that the plan is judged by and
// writes into, that went on since the page was shown: its gates may have changed,
// so they are looked at again. Nil where none did.
func (s *Server) sinceTheLook(
	r *http.Request, f *Form, c *record.Case, st *record.Studio, plan *account.RunPlan,
) (*store.Clash, error) {
	for _, d := range plan.Drafts {
		knew := f.Seq
		if d.Case != c.ID {
			knew, _ = strconv.ParseInt(f.Line(seqField(d.Case)), 10, 64) // none: it knew nothing
		}
		if knew == d.Expect {
			continue
		}
		log, err := s.logOf(r, d.Case)
		if err != nil {
			return nil, err
		}
		x := &store.Clash{Case: d.Case, Last: d.Expect}
		for _, l := range log[min(max(knew, 0), int64(len(log))):] {
			x.Since = append(x.Since, *l.Entry)
		}
		if len(x.Since) > 0 {
			return x, nil
		}
	}
	return nil, nil
}
