package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/treatment"
	"benchleaf/paper"
	"benchleaf/solution"
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
	ID    record.CaseID
	Name  string
	Field string
	Sheet []int
}

var runNewView = declare[runNewPage]("run_new")

func (s *Server) runNew(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	f := s.runForm(r, c, st, q)
	p := runNewPage{Page: s.casePage(r, c, "bench"), C: c, Form: f, Op: treatment.Find(f.Line("operation"))}
	p.Title = "Start a run"
	if f.Line("planned") != "" {
		if plan, _, ok := treatment.PlannedBath(c, f.Line("operation"), f.Sheets("sheets")); ok {
			p.Planned = standing(c, f.Sheets("sheets")[0], plan)
		}
	}
	p.Operations = operationChoices()
	p.Bottles, p.Waters, p.Methods = shelfChoices(st, p.Op, s.now())
	if p.Others, err = s.otherCases(r, c); err != nil {
		return err
	}
	if p.Op != nil && !p.Op.Bath {
		p.Others = nil
	}
	return runNewView.show(s, w, r, p)
}

// runForm starts a run's form from the address, from the run that it should be
// like, and from a method of the studio's own. Nothing else is prefilled.
func (s *Server) runForm(r *http.Request, c *record.Case, st *record.Studio, q url.Values) *Form {
	if back := refusedOf(r.Context()); back != nil && back.form.Name == "run" {
		return back.form
	}
	m := fills{"operation": q.Get("operation")}
	sheets := (&Form{values: q}).Sheets("sheets")
	if like := c.Run(q.Get("like")); like != nil {
		m = likeRun(like)
	}
	for _, x := range st.Methods {
		if x.ID == q.Get("method") && !x.Retired {
			m.text("method", x.ID).
				text("operation", x.Operation).
				plain("planned_min", x.PlannedMin).
				text("liquid", x.Liquid).
				text("due_min", minutesText(x.DueMin))
		}
	}
	if plan, _, ok := treatment.PlannedBath(c, m["operation"], sheets); ok {
		planFill(m, st, &plan.Body, s.now())
	}
	return s.form(r, "run", c.LastSeq, m).setSheets("sheets", sheets)
}

// planFill begins a run with the bath that was chosen: from a bottle of its
// substance and strength where one holds enough, else with the liquid in full.
func planFill(m fills, st *record.Studio, b *record.BathPlan, now time.Time) {
	m.plain("volume_ml", b.VolumeMl).
		plain("planned_min", b.Minutes).
		number("bath_temp_c", b.TempC).
		number("calcium_mg_l", b.CalciumMgL)
	m["planned"] = "yes"
	delete(m, "bottle")
	m["liquid"] = b.Liquid
	for i := range st.Bottles {
		x := &st.Bottles[i]
		substance, r := treatment.BathStrength(x)
		if x.Emptied == nil && !x.Expired(now) && b.StrengthGL != nil && r != nil && substance == b.Substance &&
			x.LeftMl >= b.VolumeMl &&
			r.Low <= b.StrengthGL.High &&
			r.High >= b.StrengthGL.Low {
			m["bottle"] = x.Body.ID
			delete(m, "liquid")
			return
		}
	}
}

func likeRun(run *record.Run) fills {
	b := run.Body
	m := fills{"operation": b.Operation}
	m.plain("planned_min", b.PlannedMin).
		text("due_min", minutesText(b.DueMin)).
		number("temp_c", b.TempC).
		number("humidity_pct", b.HumidityPct)
	var materials []string
	for _, x := range b.Materials {
		materials = append(materials, x.Name)
	}
	m.text("materials", strings.Join(materials, "\n"))
	if x := b.Bath; x != nil {
		m.plain("volume_ml", x.VolumeMl).
			text("water", x.Water).
			text("tray", x.Tray).
			number("calcium_mg_l", x.CalciumMgL).
			number("bath_temp_c", x.TempC)
		if len(x.Bottles) > 0 {
			m.text("bottle", x.Bottles[0].Bottle)
		} else {
			m.text("liquid", x.Liquid)
		}
	}
	return m
}

func minutesText(list []float64) string {
	var parts []string
	for _, v := range list {
		parts = append(parts, plainNumber(v))
	}
	return strings.Join(parts, ", ")
}

// shelfChoices are the bottles in reach, those made for the operation first,
// the waters, and the studio's own methods for it.
func shelfChoices(
	st *record.Studio,
	op *treatment.Operation,
	now time.Time,
) (bottles, waters, methods []record.Choice) {
	var rest []record.Choice
	for i := range st.Bottles {
		b := &st.Bottles[i]
		if b.Emptied != nil || b.Body.VolumeMl == 0 {
			continue
		}
		words := b.Body.Name
		if r := b.StrengthNow(); r != nil {
			words += ", " + fig(r.Best) + " " + b.Body.Unit + " (" + span(r) + ")"
		}
		words += ", " + fig(b.LeftMl) + " mL left"
		if b.Expired(now) {
			words += ", past its date"
		}
		choice := record.Choice{Value: b.Body.ID, Words: words}
		if op != nil && slices.Contains(op.Substances, b.Body.Substance) {
			bottles = append(bottles, choice)
		} else {
			rest = append(rest, choice)
		}
	}
	for _, x := range st.Waters {
		waters = append(waters, record.Choice{Value: x.Name, Words: x.Name})
	}
	for _, x := range st.Methods {
		if !x.Retired && op != nil && x.Operation == op.Slug {
			methods = append(methods, record.Choice{Value: x.ID, Words: x.Name})
		}
	}
	return append(bottles, rest...), waters, methods
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
		others = append(
			others,
			otherCase{ID: x.ID, Name: x.Number + " " + x.Title, Field: "also_" + string(x.ID), Sheet: o.Sheets()},
		)
	}
	return others, nil
}

// runPlan is a run as a form describes it, with all that it writes.
type runPlan struct {
	run   record.RunStarted
	op    *treatment.Operation
	also  []record.Draft
	cases map[record.CaseID]*record.Case
	held  []treatment.Held
}

// planRun reads a run from its form. Refusals are in the form.
func (s *Server) planRun(r *http.Request, f *Form, c *record.Case, st *record.Studio) (*runPlan, error) {
	op := treatment.Find(f.Line("operation"))
	if op == nil {
		f.Refuse("operation", "The operation is not chosen: choose what is done.")
		return nil, nil
	}
	p := &runPlan{op: op, cases: map[record.CaseID]*record.Case{}}
	p.run = record.RunStarted{
		ID:            f.ID(0),
		Operation:     op.Slug,
		OperationName: op.Name,
		Sheets:        f.Sheets("sheets"),
		At:            happened(f, "at", "the start"),
		Makes:         op.Makes,
		TempC: f.MaybeNumber(
			"temp_c",
			"the room’s temperature",
		),
		HumidityPct: f.MaybeNumber("humidity_pct", "the room’s humidity"),
		Aim:         f.Text("aim"),
		Departure:   f.Text("departure"),
		Method:      f.Line("method"),
	}
	if v := f.MaybeNumber("planned_min", "the planned time"); v != nil {
		p.run.PlannedMin = *v
	}
	if op.Drying {
		p.run.DueMin, p.run.DueWhat = minutesOf(f, "due_min"), "change the absorbents"
	}
	for _, x := range op.Cautions {
		p.run.Cautions = append(p.run.Cautions, x.Text())
	}
	for _, line := range strings.Split(f.Text("materials"), "\n") {
		if line = strings.TrimSpace(line); line != "" {
			p.run.Materials = append(p.run.Materials, record.Material{Name: line})
		}
	}
	if len(p.run.Sheets) == 0 {
		f.Refuse("sheets", "No sheet is chosen: at least one is needed.")
	}
	start := treatment.Start{Operation: op, Sheets: p.run.Sheets, At: p.run.At}
	if op.Bath {
		var chosen *record.BathPlan
		if x, _, ok := treatment.PlannedBath(c, op.Slug, p.run.Sheets); ok {
			chosen = &x.Body
		}
		s.planBath(f, st, p, chosen)
		if p.run.Bath != nil && len(p.run.Bath.Bottles) > 0 {
			start.Bottles = []string{p.run.Bath.Bottles[0].Bottle}
		}
	}
	if err := s.planOthers(r, f, c, st, p, start); err != nil {
		return nil, err
	}
	p.held = append(treatment.Gates(c, st, start), p.held...)
	if len(f.Refused) == 0 {
		if list, ok := record.Refusals(p.run.Validate()); ok {
			f.take(list)
		}
	}
	return p, nil
}

func minutesOf(f *Form, field string) []float64 {
	var list []float64
	for _, part := range strings.FieldsFunc(f.Line(field), func(r rune) bool { return r == ',' || r == ';' || r == ' ' }) {
		v, err := parseNumber(part)
		if err != nil {
			f.Refuse(
				field,
				"The due times cannot be %q: minutes from the start are expected, as in 10, 45, 180, 720.",
				clip(f.Line(field)),
			)
			return nil
		}
		list = append(list, v)
	}
	return list
}

// planBath reads the bath; what is drawn from a bottle goes into the studio's
// journal in the same act.
func (s *Server) planBath(f *Form, st *record.Studio, p *runPlan, chosen *record.BathPlan) {
	b := &record.Bath{
		ID:       f.ID(1),
		Liquid:   f.Line("liquid"),
		Water:    f.Line("water"),
		VolumeMl: f.Number("volume_ml", "the volume"),
		TempC:    f.MaybeNumber("bath_temp_c", "the temperature of the bath"),
		PH: f.MaybeNumber(
			"bath_ph",
			"the pH of the bath",
		),
		PHMethod:   f.Line("ph_method"),
		ConductUS:  f.MaybeNumber("conductivity_us_cm", "the conductivity"),
		CalciumMgL: f.MaybeNumber("calcium_mg_l", "the calcium"),
		Tray:       f.Line("tray"),
	}
	p.run.Bath = b
	if x := st.Bottle(f.Line("bottle")); x != nil {
		b.Substance, b.StrengthGL = treatment.BathStrength(x)
		b.Liquid = x.Body.Substance + " in water"
		if r := x.StrengthNow(); r != nil {
			b.Liquid += ", " + fig(r.Best) + " " + x.Body.Unit + " (" + span(r) + ")"
		}
		b.Bottles = []record.Drawn{{Bottle: x.Body.ID, Name: x.Body.Name, Lot: x.Body.Lot, Ml: b.VolumeMl}}
		if b.VolumeMl > 0 {
			p.also = append(
				p.also,
				record.Draft{
					Case:   record.StudioID,
					Expect: st.LastSeq,
					Items:  items(record.BottleDrawn{Bottle: x.Body.ID, Ml: b.VolumeMl, For: p.op.Name}),
				},
			)
		}
	}
	if len(b.Bottles) == 0 && chosen != nil && b.Liquid == chosen.Liquid {
		// Poured as it was chosen: what was chosen is known of it.
		b.Substance, b.StrengthGL = chosen.Substance, chosen.StrengthGL
	}
	if b.Liquid == "" {
		b.Liquid = b.Water
	}
	if b.PH != nil && b.PHMethod == "" {
		b.PHMethod = record.QuantityOf("bath-ph").Methods[0]
	}
	if b.CalciumMgL == nil {
		for _, x := range st.Waters {
			if x.Name == b.Water {
				b.CalciumMgL = x.CalciumMgL
			}
		}
	}
}

// planOthers gives each other case in the bath its own record, and judges its
// gates too.
func (s *Server) planOthers(
	r *http.Request,
	f *Form,
	c *record.Case,
	st *record.Studio,
	p *runPlan,
	start treatment.Start,
) error {
	if p.run.Bath == nil {
		return nil
	}
	mine := record.Sharing{Case: c.ID, Number: c.Number, Sheets: p.run.Sheets}
	all := []record.Sharing{mine}
	for field := range f.values {
		id, ok := strings.CutPrefix(field, "also_")
		if !ok {
			continue
		}
		sheets := f.Sheets(field)
		if len(sheets) == 0 {
			continue
		}
		o, err := s.store.Case(r.Context(), record.CaseID(id))
		if err != nil {
			return err
		}
		p.cases[o.ID] = o
		all = append(all, record.Sharing{Case: o.ID, Number: o.Number, Sheets: sheets})
	}
	slices.SortFunc(all[1:], func(a, b record.Sharing) int { return strings.Compare(a.Number, b.Number) })
	for i, x := range all[1:] {
		run := p.run
		bath := *p.run.Bath
		run.ID, run.Sheets, run.Bath = f.ID(10+i), x.Sheets, &bath
		bath.With = without(all, x.Case)
		p.also = append(p.also, record.Draft{Case: x.Case, Expect: p.cases[x.Case].LastSeq, Items: items(run)})
		start.Sheets = x.Sheets
		for _, h := range treatment.Gates(p.cases[x.Case], st, start) {
			if h.Gate == "bottle" {
				continue // said once
			}
			h.Gate, h.Say = h.Gate+" of "+x.Number, x.Number+": "+h.Say
			p.held = append(p.held, h)
		}
	}
	p.run.Bath.With = without(all, c.ID)
	return nil
}

func without(all []record.Sharing, id record.CaseID) []record.Sharing {
	var list []record.Sharing
	for _, x := range all {
		if x.Case != id {
			list = append(list, x)
		}
	}
	return list
}

// runCheckPage is the second look: gates, cautions, gas, what it will leave.
type runCheckPage struct {
	Page
	C        *record.Case
	Form     *Form
	Run      record.RunStarted
	Op       *treatment.Operation
	Held     []heldRow
	Cautions []Caution
	Gas      *Caution
	GasFacts []Fact
	Expect   *paper.Outcome
	Facts    []account.Fact
	Hidden   url.Values
	Change   string
}

type heldRow struct {
	treatment.Held
	Field string
}

var runCheckView = declare[runCheckPage]("run_check")

func (s *Server) runCheck(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f := refusedFormOr(r, "run", func() *Form {
		f := s.formOf(r, "run", r.URL.Query())
		f.Seq = c.LastSeq
		return f
	})
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	shown := f.Refused
	f.Refused = nil
	p, err := s.planRun(r, f, c, st)
	if err != nil {
		return err
	}
	if len(f.Refused) > 0 || p == nil {
		return again(w, r, f, errRefused, s.inCase(s.runNew))
	}
	f.Refused = shown
	page := runCheckPage{
		Page:   s.casePage(r, c, "bench"),
		C:      c,
		Form:   f,
		Run:    p.run,
		Op:     p.op,
		Facts:  account.RunFacts(st, &p.run),
		Hidden: carried(f),
	}
	page.Title = upperFirst(p.op.Name) + ": " + record.SheetNames(p.run.Sheets)
	page.Change = casePath(c.ID, "runs/new?"+carried(f).Encode())
	for i, h := range p.held {
		page.Held = append(page.Held, heldRow{h, "override_" + strconv.Itoa(i)})
	}
	page.Cautions = cautionsOf(p.op)
	if p.run.Bath != nil {
		page.Gas, page.GasFacts = gasOf(p.run.Bath)
		if p.op.Slug == "lime" || p.op.Slug == "bicarbonate" {
			if out, ok, err := treatment.Expect(c, p.run.Sheets[0], p.run.Bath, len(p.run.Sheets)); ok && err == nil {
				page.Expect = &out
			}
		}
	}
	return runCheckView.show(s, w, r, page)
}

// cautionsOf puts the cautions of one hazard into one block.
func cautionsOf(op *treatment.Operation) []Caution {
	var list []Caution
	at := map[treatment.Sign]int{}
	for _, x := range op.Cautions {
		i, ok := at[x.Sign]
		if !ok {
			i = len(list)
			at[x.Sign] = i
			list = append(list, Caution{Title: cautionTitles[x.Sign], Grave: x.Sign == treatment.SignHydrogen})
		}
		list[i].Points = append(list[i].Points, x.Points...) // the block itself ends by deferring to local rules
	}
	return list
}

// refusedFormOr is the form of that name that came back refused, or a new one.
func refusedFormOr(r *http.Request, name string, fresh func() *Form) *Form {
	if back := refusedOf(r.Context()); back != nil && back.form.Name == name {
		return back.form
	}
	return fresh()
}

var cautionTitles = map[treatment.Sign]string{
	treatment.SignAlkali:   "Alkali",
	treatment.SignHydrogen: "Borohydride and hydrogen",
	treatment.SignSolvent:  "Solvents",
	treatment.SignMould:    "Mould",
	treatment.SignBlade:    "Blades and wire",
	treatment.SignDust:     "Dust",
	treatment.SignPress:    "Presses and heat",
	treatment.SignOxidiser: "Peroxide",
}

// carried are the values of the first step, to go with the second.
func carried(f *Form) url.Values {
	v := url.Values{}
	for name, list := range f.values {
		if name == "key" || name == "seq" || name == "pressed" || name == "by" ||
			strings.HasPrefix(name, "override_") ||
			name == "departure" {
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

// gasOf is the hydrogen that a borohydride bath can give, with the air that
// keeps it harmless.
func gasOf(b *record.Bath) (*Caution, []Fact) {
	sub, err := solution.Find(b.Substance)
	if err != nil || !sub.Is(solution.Hydride) || b.StrengthGL == nil {
		return nil, nil
	}
	temp := solution.Celsius(20)
	if b.TempC != nil {
		temp = solution.Celsius(*b.TempC)
	}
	h, err := solution.HydrogenFromBath(
		sub,
		solution.Strength{Value: b.StrengthGL.Best, Unit: solution.GramL},
		solution.Millilitres(b.VolumeMl),
		temp,
	)
	if err != nil {
		return nil, nil
	}
	facts := []Fact{
		{
			Name:  "Hydrogen in all",
			Value: rough(h.Litres),
			Unit:  "L",
			Basis: rough(
				float64(h.Moles),
			) + " mol, at " + fig(
				float64(temp),
			) + " °C and 101.3 kPa: 4 mol from each mol of borohydride",
		},
		{
			Name:  "Air to dilute it at once",
			Value: rough(float64(h.AirAtOnce)),
			Unit:  "m³",
			Basis: "keeps it under a quarter of the lower flammable limit of 4 % by volume",
		},
	}
	ph, basis := 9.5, "for pH 9.5, since none was measured"
	if b.PH != nil {
		ph, basis = *b.PH, "for the pH measured, "+fig(*b.PH)
	}
	const room = 30 // m3: a small workroom, said so on the page
	if v, err := h.Ventilate(ph, room); err == nil {
		facts = append(
			facts,
			Fact{
				Name:  "Half of it comes in",
				Value: rough(float64(v.HalfLife)),
				Unit:  "min",
				Basis: basis + "; good to a factor of two",
			},
			Fact{
				Name:  "Fan over the tray, at least",
				Value: rough(float64(v.AirPerHour)),
				Unit:  "m³/h",
				Basis: "dilutes the first flow of gas to the limit at once",
			},
			Fact{
				Name:  "Or air change of a 30 m³ room",
				Value: rough(v.ChangesPerHour),
				Unit:  "per hour",
				Basis: "evenly mixed; 0 where the room is large enough without",
			},
		)
	}
	return &Caution{Title: "Hydrogen", Points: []string{h.Sentence()}, Grave: true}, facts
}

// rough writes a number in two figures, since the models behind it warrant no
// more.
func rough(v float64) string {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 2, 64), 64)
	if err != nil {
		return fig(v)
	}
	return fig(r)
}

// runStart writes the run, with the reasons for the gates that were passed.
func (s *Server) runStart(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "run")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p, err := s.planRun(r, f, c, st)
	if err != nil {
		return err
	}
	page := s.inCase(s.runCheck)
	if p == nil || len(f.Refused) > 0 {
		return again(w, r, f, errRefused, s.inCase(s.runNew))
	}
	for i, h := range p.held {
		reason := f.Text("override_" + strconv.Itoa(i))
		switch {
		case !h.Stops:
		case reason == "":
			f.Refuse(
				"override_"+strconv.Itoa(i),
				"%s Give the reason for going on all the same, or change the run.",
				h.Say,
			)
		default:
			p.run.Overrides = append(p.run.Overrides, record.Override{Gate: h.Gate, Reason: reason})
			if h.Gate == "consent" {
				p.run.Departure = strings.TrimSpace(p.run.Departure + " " + reason)
			}
		}
	}
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, page)
	}
	bodies := []record.Body{p.run}
	// Starting what was decided settles the decision.
	for _, n := range c.Next {
		if n.Body.Operation == p.op.Slug && len(n.Body.Sheets) > 0 && covers(p.run.Sheets, n.Body.Sheets) {
			done := n.Body
			done.Done = true
			bodies = append(bodies, done)
		}
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: items(bodies...),
			Also:  p.also,
			To:    casePath(c.ID, "bench"),
			Said:  upperFirst(p.op.Name) + " of " + record.SheetNames(p.run.Sheets) + " has started.",
		},
		page,
	)
}

func covers(all, some []int) bool {
	for _, n := range some {
		if !slices.Contains(all, n) {
			return false
		}
	}
	return true
}
