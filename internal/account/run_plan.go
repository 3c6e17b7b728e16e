package account

import (
	"math"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/solution"
)

// RunAsked is what a person says of a run that is about to start.
type RunAsked struct {
	Case   *record.Case
	Studio *record.Studio
	// Run is as typed. What follows from its operation, from a bottle, a water or
	// a chosen bath is filled in by the plan. At is zero for "now".
	Run record.RunStarted
	// Bottle is the ID of a bottle that the bath is filled from, or empty.
	Bottle string
	// Also are sheets of other cases in the same bath, Elsewhere other cases whose
	// trays may be in use.
	Also      []SheetsOf
	Elsewhere []*record.Case
	// Ended is how a run that is written later ended; its At is zero for one that
	// goes on.
	Ended record.RunEnded
	// Reasons for going on where a gate does not hold, by the gate's key; CameOut
	// what is said of runs that sheets are still in, by the run's ID.
	Reasons map[string]string
	// Agreed says who agreed by word of mouth, and when, by the gate's key.
	Agreed  map[string]Agreed
	CameOut map[string]CameOut
	// ID makes the nth identifier of a thing that the plan writes.
	ID  func(n int) string
	Now words.Clock
}

// Agreed is a yes by word of mouth.
type Agreed struct {
	Who string
	At  time.Time
}

// SheetsOf are sheets of one case.
type SheetsOf struct {
	Case   *record.Case
	Sheets []int
}

// CameOut says how a run ended for the sheets that go into another one now.
type CameOut struct {
	Outcome record.RunOutcome
	Reason  string
}

// RunPlan is a run with its gates and with all that it writes.
type RunPlan struct {
	Op  *treatment.Operation
	Run record.RunStarted
	// Gates that do not hold, those that stop first; Still are runs that some of
	// the sheets are in.
	Gates   []RunGate
	Still   []StillIn
	Remarks []Sentence
	// Facts are all that will be written of the run.
	Facts []Fact
	// Refused is what cannot be written at all.
	Refused []*record.Invalid
	// Drafts are the entries, those of the case itself first.
	Drafts []record.Draft

	cases []*record.Case // of the drafts
	late  bool           // written down after it began: nothing was expected before
}

// RunGate is a gate that does not hold, in one of the cases.
type RunGate struct {
	treatment.Unmet
	// Key names the gate and its case, whatever others stand beside it.
	Key    string
	Case   record.CaseID
	Number string // of the case, empty for the one that the run is started in
	Reason string
	Agreed
}

// StillIn is a run that sheets of the new one are still in.
type StillIn struct {
	Case   record.CaseID
	Run    *record.Run
	Sheets []int
	Say    string
	CameOut
}

// Codes of what a plan remarks.
const (
	TrayInUse Code = "tray-in-use"
	TrayHeld  Code = "tray-held-another-liquid"
)

// PlanRun works out a run from what is typed of it. It is asked again when the
// run is started, since the record may have changed meanwhile. It is nil where
// the operation is none of ours.
func PlanRun(a RunAsked) *RunPlan {
	op := treatment.Find(a.Run.Operation)
	if op == nil {
		return nil
	}
	p := &RunPlan{Op: op, Run: a.Run}
	run := &p.Run
	run.OperationName, run.Makes = op.Name, op.Makes
	pressed := run.At.IsZero()
	if pressed {
		run.At = a.Now.Today
	}
	p.late = !a.Ended.At.IsZero() || a.Now.Today.Sub(run.At) > startedLate
	if op.Drying && len(run.DueMin) > 0 {
		run.DueWhat = "change the absorbents"
	}
	for _, x := range op.Cautions {
		run.Cautions = append(run.Cautions, x.Text())
	}
	if len(run.Sheets) == 0 {
		p.refuse("sheets", "No sheet is chosen: at least one is needed.")
	}
	// Times are typed to the minute.
	if came := a.Case.ReceivedAt(); !pressed && run.At.Before(came.Truncate(time.Minute)) {
		p.refuse("at", "The start ("+a.Now.At(run.At)+") lies before the object came in ("+a.Now.At(came)+"): "+
			"correct the one or the other.")
	}
	p.loggedAir(&a)
	all := []SheetsOf{{a.Case, run.Sheets}}
	if run.Bath != nil {
		p.fillBath(&a)
		all = append(all, a.Also...)
	}
	for _, x := range all {
		p.judge(&a, x)
	}
	p.meet(&a, all)
	p.judgeEnd(&a)
	slices.SortStableFunc(p.Gates, func(x, y RunGate) int {
		switch {
		case x.Stops == y.Stops:
			return 0
		case x.Stops:
			return -1
		}
		return 1
	})
	if run.Bath != nil {
		p.Remarks = append(p.Remarks, p.trayRemarks(&a)...)
	}
	p.write(&a, all)
	start := Fact{Name: "Start", Text: a.Now.At(run.At)}
	if pressed {
		start.Text = "when you press"
	}
	p.Facts = []Fact{start}
	if e := a.Ended; !e.At.IsZero() {
		p.Facts = append(p.Facts, Fact{Name: "End", Text: words.Joined(", ", a.Now.At(e.At), record.Words(e.Outcome)) +
			"; the sheet was then " + record.Words(e.Leaves)})
	}
	p.Facts = append(p.Facts, RunFacts(a.Studio, run)...)
	if x := a.Studio.Bottle(a.Bottle); x != nil && run.Bath != nil {
		left := words.Figure{Value: max(0, x.LeftMl-run.Bath.VolumeMl), Unit: "mL"}
		p.Facts = append(p.Facts, Fact{Name: "Left in the bottle then", Figure: &left, Basis: Computed})
	}
	if list, ok := record.Refusals(record.Validate(*run)); ok && len(p.Refused) == 0 {
		p.Refused = append(p.Refused, list...)
	}
	return p
}

func (p *RunPlan) refuse(field, say string) {
	p.Refused = append(p.Refused, &record.Invalid{Field: field, Say: say})
}

// judgeEnd completes the end of a run that is written later, and asks for it
// where one of the sheets went into another run since.
func (p *RunPlan) judgeEnd(a *RunAsked) {
	e := &a.Ended
	if e.At.IsZero() {
		for _, n := range p.Run.Sheets {
			for _, r := range a.Case.RunsOn(n) {
				if r.Body.At.After(p.Run.At) {
					p.refuse("ended_at", en.Upper(record.SheetName(n))+" went into "+r.Body.OperationName+" "+
						a.Now.At(r.Body.At)+", after this start: give the end of this run too.")
					return
				}
			}
		}
		return
	}
	e.Run = p.Run.ID
	if e.Leaves == "" && p.Op.Makes == p.Op.Leaves {
		e.Leaves = p.Op.Leaves
	}
	list, _ := record.Refusals(record.Validate(*e))
	for _, x := range list {
		p.refuse(x.Field, x.Say)
	}
	switch {
	case e.At.Before(p.Run.At):
		p.refuse("ended_at", "The end ("+a.Now.At(e.At)+") lies before the start ("+a.Now.At(p.Run.At)+").")
	case e.At.After(a.Now.Today):
		p.refuse("ended_at", "The end ("+a.Now.At(e.At)+") is still to come: leave it empty until it is there.")
	}
}

// fillBath says of the bath what follows from the bottle, the water, and the
// bath that was chosen for the sheets.
func (p *RunPlan) fillBath(a *RunAsked) {
	b := p.Run.Bath
	if x := a.Studio.Bottle(a.Bottle); x != nil {
		b.Substance, b.StrengthGL = treatment.BathStrength(x)
		b.Liquid = bottleLiquid(x)
		b.Bottles = []record.Drawn{{Bottle: x.Body.ID, Name: x.Body.Name, Lot: x.Body.Lot, Ml: b.VolumeMl}}
		// What is left is shown to four figures, and as much as is shown may be drawn.
		if b.VolumeMl > x.LeftMl*1.0005 {
			p.refuse("volume_ml", en.Upper(x.Body.Name)+" holds "+en.Quantity(x.LeftMl, "mL")+": "+
				en.Quantity(b.VolumeMl, "mL")+" cannot be drawn. Choose another bottle or less, or record what is "+
				"left in it.")
		}
	}
	if x, _, ok := treatment.PlannedBath(a.Case, p.Op.Slug, p.Run.Sheets); ok && len(b.Bottles) == 0 &&
		b.Liquid == x.Body.Liquid {
		// Poured as it was chosen: what was chosen is known of it.
		b.Substance, b.StrengthGL = x.Body.Substance, x.Body.StrengthGL
		if b.CalciumMgL == nil && x.Body.CalciumMgL != nil {
			b.CalciumMgL, b.CalciumFrom = x.Body.CalciumMgL, "as chosen for the bath, not read in it"
		}
	}
	if b.Liquid == "" {
		b.Liquid = b.Water
	}
	for _, x := range a.Studio.Waters {
		if x.Name == b.Water && x.CalciumMgL != nil && b.CalciumMgL == nil {
			b.CalciumMgL, b.CalciumFrom = x.CalciumMgL, "as listed for the water, not read in the bath"
			if !x.Measured.IsZero() {
				b.CalciumFrom = "as measured in the water on " + plainBlanks(
					a.Now.Day(x.Measured),
				) + ", not read in the bath"
			}
		}
	}
}

func plainBlanks(s string) string { return strings.ReplaceAll(s, words.NBSP, " ") }

// bottleLiquid names what a bath from a bottle is, with its strength.
func bottleLiquid(x *record.ShelfBottle) string {
	s := x.Body.Substance + " in water"
	if r := x.StrengthNow(); r != nil && x.Body.Unit != "pure" {
		s += ", " + plainBlanks(en.Range(*r, x.Body.Unit))
	}
	return s
}

// judge asks the gates of one case, and which of its sheets are in a run.
func (p *RunPlan) judge(a *RunAsked, x SheetsOf) {
	own := x.Case.ID == a.Case.ID
	start := treatment.Start{Operation: p.Op, Sheets: x.Sheets, At: p.Run.At}
	if p.Run.Bath != nil {
		start.BathPH = p.Run.Bath.PH
	}
	if own && p.Run.Bath != nil && len(p.Run.Bath.Bottles) > 0 {
		start.Bottles = []string{p.Run.Bath.Bottles[0].Bottle}
	}
	for _, u := range gatesAt(x.Case, a.Studio, start, a.Now) {
		g := RunGate{Unmet: u, Case: x.Case.ID, Key: string(x.Case.ID) + "_" + strings.ReplaceAll(u.Gate, " ", "-")}
		if !own {
			g.Number = x.Case.Number
		}
		if u.Gate == "bottle" {
			g.Key += "-" + start.Bottles[0]
		}
		g.Reason, g.Agreed = a.Reasons[g.Key], a.Agreed[g.Key]
		p.Gates = append(p.Gates, g)
	}
	for _, r := range x.Case.OpenRuns() {
		var in []int
		for _, n := range x.Case.SheetsIn(r) {
			if slices.Contains(x.Sheets, n) || len(x.Sheets) == 0 {
				in = append(in, n)
			}
		}
		// A run that began later is no place to come out of: this one is written late.
		if len(in) == 0 || r.Body.At.After(p.Run.At) {
			continue
		}
		say := record.SheetNames(in) + " is still in "
		if len(in) > 1 {
			say = record.SheetNames(in) + " are still in "
		}
		say = en.Upper(say) + r.Body.OperationName + " since " + a.Now.At(r.Body.At)
		if b := r.Body.Bath; b != nil {
			say += words.After(", ", b.Tray) + ", in " + b.Liquid
		}
		if !own {
			say = x.Case.Number + ": " + say
		}
		p.Still = append(p.Still, StillIn{x.Case.ID, r, in, say + ".", a.CameOut[r.Body.ID]})
	}
}

// gatesAt judges a start by the case as it stood then: a test read or a yes given
// later does not open the gate for what was done before it.
func gatesAt(c *record.Case, st *record.Studio, start treatment.Start, now words.Clock) []treatment.Unmet {
	today := treatment.Gates(c, st, start)
	until := start.At.Truncate(time.Minute).Add(time.Minute) // times are typed to the minute
	if !until.Before(now.Today) {
		return today
	}
	then := treatment.Gates(c.AsOf(until.Add(-1)), st, start)
	for i, u := range then {
		if !slices.ContainsFunc(today, func(x treatment.Unmet) bool { return x.Gate == u.Gate && x.Stops == u.Stops }) {
			then[i].Say += " So it stood at the start, " + now.At(start.At) + "; what came later does not count for it."
		}
	}
	return then
}

// trayRemembered is for how long an emptied tray is still asked about (common
// practice, no source).
const trayRemembered = 24 * time.Hour

// trayRemarks says what is in the tray, or was in it last.
func (p *RunPlan) trayRemarks(a *RunAsked) []Sentence {
	b := p.Run.Bath
	list, last, until, of := p.inTray(a)
	if last == nil || len(list) > 0 || last.Body.Bath.Liquid == b.Liquid || emptied(of, last) {
		return list
	}
	return append(list, Sentence{TrayHeld, en.Upper(b.Tray) + " held " + last.Body.Bath.Liquid + " until " +
		a.Now.At(until) + " (" + caseNumber(of, a.Case) + last.Body.OperationName +
		"), and no waste of it is recorded: is it emptied and rinsed?"})
}

// inTray says which runs use the tray now, and what was in it last, when and in
// which case; last is nil where that is longer ago than it is asked about.
func (p *RunPlan) inTray(a *RunAsked) (list []Sentence, last *record.Run, until time.Time, of *record.Case) {
	b := p.Run.Bath
	name := trayName(b.Tray)
	if name == "" {
		return nil, nil, until, nil
	}
	for _, c := range append([]*record.Case{a.Case}, a.Elsewhere...) {
		for i := range c.Runs {
			r := &c.Runs[i]
			if r.Body.Bath == nil || trayName(r.Body.Bath.Tray) != name || r.Body.Bath.ID == b.ID {
				continue
			}
			in := c.SheetsIn(r)
			if s := p.stillIn(r); s != nil && len(s.Sheets) == len(in) {
				in = nil // they come out in this same act, and the liquid stays
			}
			if len(in) > 0 {
				list = append(list, Sentence{TrayInUse, en.Upper(b.Tray) + " is in use: " + caseNumber(c, a.Case) +
					r.Body.OperationName + " of " + record.SheetNames(in) + " since " + a.Now.At(r.Body.At) + ", in " +
					r.Body.Bath.Liquid + "."})
				continue
			}
			left := r.Ended()
			if left.IsZero() {
				left = p.Run.At
			}
			if last == nil || left.After(until) {
				last, until, of = r, left, c
			}
		}
	}
	if last != nil && p.Run.At.Sub(until) > trayRemembered {
		last = nil
	}
	return list, last, until, of
}

// emptied says whether the waste of a run's bath is recorded.
func emptied(c *record.Case, r *record.Run) bool {
	return slices.ContainsFunc(
		c.Wastes, func(w record.Stamped[record.Waste]) bool { return w.Body.Run == r.Body.ID },
	)
}

// trayName is the tray without what is said of its state: "tray B, cleaned" is
// tray B.
func trayName(s string) string { return strings.ToLower(TrayAlone(s)) }

// TrayAlone is the name of a tray alone, which may be proposed for the next bath;
// what else was said of it ("cleaned", "fan on") was said of that bath.
func TrayAlone(s string) string {
	name, _, _ := strings.Cut(s, ",")
	return strings.TrimSpace(name)
}

func (p *RunPlan) stillIn(r *record.Run) *StillIn {
	for i := range p.Still {
		if p.Still[i].Run.Body.ID == r.Body.ID {
			return &p.Still[i]
		}
	}
	return nil
}

func caseNumber(c, own *record.Case) string {
	if c.ID == own.ID {
		return ""
	}
	return c.Number + ", "
}

// write makes the entries: for each case the ends of the runs that its sheets
// come out of, the run, and the decisions that it settles; for the studio what
// is drawn.
func (p *RunPlan) write(a *RunAsked, all []SheetsOf) {
	var sharing []record.Sharing
	for _, x := range all {
		sharing = append(sharing, record.Sharing{Case: x.Case.ID, Number: x.Case.Number, Sheets: x.Sheets})
	}
	base := p.Run
	for i, x := range all {
		run := base
		run.Sheets = x.Sheets
		if i > 0 {
			run.ID = a.ID(9 + i)
		}
		if base.Bath != nil {
			bath := *base.Bath
			bath.With = slices.Delete(slices.Clone(sharing), i, i+1)
			run.Bath = &bath
		}
		var items []record.Item
		add := func(b record.Body) { items = append(items, record.Item{Body: b}) }
		for _, s := range p.Still {
			if s.Case != x.Case.ID || s.Outcome == "" {
				continue
			}
			e := record.RunEnded{
				Run: s.Run.Body.ID, Sheets: s.Sheets, At: p.Run.At, Outcome: s.Outcome, Reason: s.Reason,
				Leaves: s.Run.Body.Makes,
			}
			if len(s.Sheets) == len(x.Case.SheetsIn(s.Run)) {
				e.Sheets = nil // all that were left
			}
			add(e)
		}
		for _, g := range p.Gates {
			if g.Case != x.Case.ID || !g.Stops || g.Reason == "" {
				continue
			}
			run.Overrides = append(run.Overrides, record.Override{
				Gate: g.Gate, Reason: g.Reason, Say: g.Say, Who: g.Who, AgreedAt: g.At,
			})
		}
		add(run)
		if !a.Ended.At.IsZero() {
			e := a.Ended
			e.Run = run.ID
			add(e)
		}
		if i == 0 {
			p.Run = run
		}
		// Starting what was decided settles the decision.
		for _, n := range x.Case.Next {
			if n.Body.Operation == p.Op.Slug && len(n.Body.Sheets) > 0 && Covers(x.Sheets, n.Body.Sheets) {
				done := n.Body
				done.Done = true
				add(done)
			}
		}
		p.Drafts = append(p.Drafts, record.Draft{Case: x.Case.ID, Expect: x.Case.LastSeq, Items: items})
		p.cases = append(p.cases, x.Case)
	}
	if b := p.Run.Bath; b != nil && len(b.Bottles) > 0 && b.VolumeMl > 0 {
		d := record.BottleDrawn{Bottle: b.Bottles[0].Bottle, Ml: b.VolumeMl, For: p.Op.Name}
		p.Drafts = append(p.Drafts, record.Draft{
			Case: record.StudioID, Expect: a.Studio.LastSeq, Items: []record.Item{{Body: d}},
		})
	}
}

// Covers says whether every one of some sheets is among all.
func Covers(all, some []int) bool {
	return !slices.ContainsFunc(some, func(n int) bool { return !slices.Contains(all, n) })
}

// Unsaid lists what must still be said before the run may start: a reason at
// each gate that stops it, and how the runs ended that sheets are still in.
func (p *RunPlan) Unsaid() []*record.Invalid {
	var list []*record.Invalid
	for _, g := range p.Gates {
		if g.Stops && g.Reason == "" {
			list = append(list, &record.Invalid{
				Field: ReasonField(g.Key),
				Say:   g.Say + " Give the reason for going on all the same, or change the run.",
			})
		}
		if g.Stops && g.AsksWho() && g.Who == "" {
			list = append(list, &record.Invalid{
				Field: WhoField(g.Key), Say: "Say who agreed to it by word of mouth; it is asked for in writing from then on.",
			})
		}
		if g.Stops && g.AsksWho() && g.Who != "" && g.At.IsZero() {
			list = append(list, &record.Invalid{Field: WhenField(g.Key), Say: "Say when " + g.Who + " agreed."})
		}
	}
	for _, s := range p.Still {
		switch {
		case s.Outcome == "":
			list = append(list, &record.Invalid{
				Field: OutField(s.Run.Body.ID),
				Say:   s.Say + " Say how that ended for it, or leave the sheets where they are.",
			})
		case s.Outcome != record.RunDone && s.Reason == "":
			list = append(list, &record.Invalid{
				Field: OutReasonField(s.Run.Body.ID),
				Say: "Say why " + s.Run.Body.OperationName + " was " + record.WordsOf(
					record.RunOutcomes, s.Outcome,
				) + ".",
			})
		}
	}
	return list
}

// Names of the fields in which what is unsaid is said.
func ReasonField(gate string) string   { return "override_" + gate }
func OutField(run string) string       { return "out_" + run }
func OutReasonField(run string) string { return "outreason_" + run }

// WhoField and WhenField are where it is said who agreed by word of mouth, and when.
func WhoField(gate string) string  { return "who_" + gate }
func WhenField(gate string) string { return "when_" + gate }

// AsksWho says whether the gate is passed by somebody's yes.
func (g RunGate) AsksWho() bool { return g.Gate == treatment.GateConsent }

// Who and when fields of the gate.
func (g RunGate) WhoField() string  { return WhoField(g.Key) }
func (g RunGate) WhenField() string { return WhenField(g.Key) }

// Field is where the reason is typed.
func (g RunGate) Field() string { return ReasonField(g.Key) }

// Field and ReasonField are where it is said how the run ended.
func (s StillIn) Field() string       { return OutField(s.Run.Body.ID) }
func (s StillIn) ReasonField() string { return OutReasonField(s.Run.Body.ID) }

// Title names the gate, with the number of its case where that is another one.
func (g RunGate) Title() string { return en.Upper(words.Joined(", ", g.Number, g.Gate)) }

// Names of room and pH that the gas of a bath is computed for where nobody
// measured them: a small workroom, and the pH that a borohydride bath is usually
// set to (common practice, no source).
const (
	smallRoomM3 = 30
	usualPH     = 9.5
	usualTempC  = 20
)

// BathGas is the hydrogen that a borohydride bath can give, with the air that
// keeps it harmless; "" where the bath gives none.
func BathGas(b *record.Bath) (say string, facts []Fact) {
	if b == nil || b.StrengthGL == nil {
		return "", nil
	}
	sub, err := solution.Find(b.Substance)
	if err != nil || !sub.Is(solution.Hydride) {
		return "", nil
	}
	temp := solution.Celsius(usualTempC)
	if b.TempC != nil {
		temp = solution.Celsius(*b.TempC)
	}
	strength := solution.Strength{Value: b.StrengthGL.Best, Unit: solution.GramL}
	h, err := solution.HydrogenFromBath(sub, strength, solution.Millilitres(b.VolumeMl), temp)
	if err != nil {
		return "", nil
	}
	add := func(name string, v float64, unit, rests string) {
		facts = append(
			facts,
			Fact{Name: name, Figure: &words.Figure{Value: twoFigures(v), Unit: unit}, Basis: Computed, RestsOn: rests},
		)
	}
	add("Hydrogen in all", h.Litres, "L", en.Quantity(twoFigures(float64(h.Moles)), "mol")+", at "+
		en.Quantity(float64(temp), "°C")+" and 101.3 kPa: 4 mol from each mol of borohydride")
	add("Air to dilute it at once", float64(h.AirAtOnce), "m³",
		"keeps it under a quarter of the lower flammable limit of 4 % by volume")
	ph, rests := usualPH, "for pH 9.5, since none was measured"
	if b.PH != nil {
		ph, rests = *b.PH, "for the pH measured, "+en.Number(*b.PH)
	}
	v, err := h.Ventilate(ph, smallRoomM3)
	say = h.Sentence()
	if err != nil {
		say = words.Joined(" ", say, en.Sentence(en.Upper(err.Error())))
	} else {
		add("Half of it comes in", float64(v.HalfLife), "min", rests+"; good to a factor of two")
		add("Fan over the tray, at least", float64(v.AirPerHour), "m³/h", "dilutes the first flow of gas to the "+
			"limit at once")
		add("Or air change of a 30 m³ room", v.ChangesPerHour, "per hour",
			"evenly mixed; 0 where the room is large enough without")
	}
	return say, facts
}

// twoFigures rounds to two figures, since the models behind it warrant no more.
func twoFigures(v float64) float64 {
	if v == 0 {
		return 0
	}
	p := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-1)
	return math.Round(v/p) * p
}

// CautionBlock are the cautions of one hazard. Who shows them adds under each
// that local rules and the supplier's sheet decide.
type CautionBlock struct {
	Title  string
	Points []string
	Grave  bool
}

// CautionsOf puts the cautions of an operation into one block for each hazard.
func CautionsOf(op *treatment.Operation) []CautionBlock {
	var list []CautionBlock
	at := map[treatment.Sign]int{}
	for _, x := range op.Cautions {
		i, ok := at[x.Sign]
		if !ok {
			i = len(list)
			at[x.Sign] = i
			list = append(list, CautionBlock{Title: cautionTitles[x.Sign], Grave: x.Sign == treatment.SignHydrogen})
		}
		list[i].Points = append(list[i].Points, x.Points...)
	}
	return list
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
