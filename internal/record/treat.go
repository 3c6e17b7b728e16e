package record

import (
	"slices"
	"time"
)

// RunStarted begins a run: an operation actually performed on sheets at a
// time. What it says of the bath is complete in itself, so that the case can
// be read without the studio's journal.
type RunStarted struct {
	ID string `json:"id"`
	// Operation is a slug of package treatment's table; OperationName is how
	// it was called then.
	Operation     string    `json:"operation"`
	OperationName string    `json:"operation_name"`
	Sheets        []int     `json:"sheets,omitempty"` // none: the whole object
	At            time.Time `json:"at"`
	// PlannedMin is how long it is meant to last; 0: until something is seen.
	PlannedMin float64 `json:"planned_min,omitempty"`
	// DueMin are the minutes after the start at which something falls due:
	// absorbents to change, a sheet to turn.
	DueMin  []float64 `json:"due_min,omitempty"`
	DueWhat string    `json:"due_what,omitempty"`
	// Makes is the wetness of the sheets while the run lasts.
	Makes Wetness `json:"makes"`
	Bath  *Bath   `json:"bath,omitempty"`
	// Materials are what touches or stays with the sheet.
	Materials []Material `json:"materials,omitempty"`
	// TempC and HumidityPct are those of the room.
	TempC       *float64 `json:"temp_c,omitempty"`
	HumidityPct *float64 `json:"humidity_pct,omitempty"`
	Aim         string   `json:"aim,omitempty"`
	// Cautions are those that were shown before the start.
	Cautions []string `json:"cautions,omitempty"`
	// Overrides are gates that did not hold and were passed with a reason.
	Overrides []Override `json:"overrides,omitempty"`
	// Departure is the reason for doing what the consented plan does not say.
	Departure string `json:"departure,omitempty"`
	// Method names the studio's own method, where one was followed.
	Method string `json:"method,omitempty"`
}

// Bath is one container of one liquid used on one or more sheets.
type Bath struct {
	ID string `json:"id"`
	// Liquid with full material name and strength: "calcium hydroxide in
	// water, 0.40 g/L (0.37 to 0.43)".
	Liquid string `json:"liquid"`
	// Substance and StrengthGL let the computation read the bath; StrengthGL
	// is g of substance per litre.
	Substance  string   `json:"substance,omitempty"`
	StrengthGL *Range   `json:"strength_g_l,omitempty"`
	Bottles    []Drawn  `json:"bottles,omitempty"`
	Water      string   `json:"water,omitempty"` // source, as the studio names it
	VolumeMl   float64  `json:"volume_ml"`
	TempC      *float64 `json:"temp_c,omitempty"`
	PH         *float64 `json:"ph,omitempty"`
	PHMethod   string   `json:"ph_method,omitempty"`
	ConductUS  *float64 `json:"conductivity_us_cm,omitempty"`
	CalciumMgL *float64 `json:"calcium_mg_l,omitempty"`
	// CalciumFrom says where the calcium is known from; empty: read in the bath.
	CalciumFrom string `json:"calcium_from,omitempty"`
	Tray        string `json:"tray,omitempty"`
	// With names the sheets of other cases that share the bath.
	With []Sharing `json:"with,omitempty"`
}

// Drawn is liquid taken from a bottle, with what identifies it.
type Drawn struct {
	Bottle string  `json:"bottle,omitempty"` // ID in the studio's journal
	Name   string  `json:"name"`
	Lot    string  `json:"lot,omitempty"`
	Ml     float64 `json:"ml,omitempty"`
}

// Sharing names another case whose sheets lie in the same bath.
type Sharing struct {
	Case   CaseID `json:"case"`
	Number string `json:"number"`
	Sheets []int  `json:"sheets"`
}

// Material is something used on the sheet, named in full.
type Material struct {
	Name     string `json:"name"`
	Strength string `json:"strength,omitempty"`
	Amount   string `json:"amount,omitempty"`
	Lot      string `json:"lot,omitempty"`
	Bottle   string `json:"bottle,omitempty"`
	// Stays says that it is left in or on the object.
	Stays bool `json:"stays,omitempty"`
}

// Override names a gate that did not hold, what it said, and why the work went
// on. Say is empty in entries of earlier versions.
type Override struct {
	Gate   string `json:"gate"`
	Reason string `json:"reason"`
	Say    string `json:"say,omitempty"`
}

func (RunStarted) Kind() Kind { return "run-started" }

func (b RunStarted) Validate() error {
	var k check
	k.id("run", "the run", b.ID)
	k.line("operation", "the operation", b.Operation)
	k.line("operation", "the operation's name", b.OperationName)
	k.sheets("sheets", b.Sheets)
	if b.At.IsZero() {
		k.refuse("at", "The start is missing: give the time.")
	}
	k.when("at", "the start", b.At)
	k.number("planned_min", "the planned time", b.PlannedMin, 0, 60*24*60, "min")
	for i, d := range b.DueMin {
		k.number("due_min", "a due time", d, 0.5, 60*24*60, "min")
		if i > 0 && d <= b.DueMin[i-1] {
			k.refuse("due_min", "Due times must rise; %s min comes after %s min.", num(d), num(b.DueMin[i-1]))
		}
	}
	k.choice("makes", "the wetness", string(b.Makes), Wetnesses)
	k.maybe("temp_c", "the room's temperature", b.TempC, -10, 60, "°C")
	k.maybe("humidity_pct", "the room's humidity", b.HumidityPct, 0, 100, "%")
	for _, m := range b.Materials {
		k.line("material", "the material", m.Name)
		k.maybeLine("strength", "the strength", m.Strength)
		k.maybeLine("amount", "the amount", m.Amount)
		k.maybeLine("lot", "the lot", m.Lot)
	}
	for _, o := range b.Overrides {
		k.line("gate", "the gate", o.Gate)
		k.needText("override_reason", "the reason for going on", o.Reason)
	}
	k.text("aim", "the aim", b.Aim)
	k.text("departure", "the reason for departing from the plan", b.Departure)
	if b.Bath != nil {
		b.Bath.check(&k)
	}
	return k.err()
}

func (b *Bath) check(k *check) {
	k.id("bath", "the bath", b.ID)
	k.line("liquid", "the liquid", b.Liquid)
	k.maybeLine("water", "the water", b.Water)
	k.number("volume_ml", "the volume", b.VolumeMl, 1, 200_000, "mL")
	k.maybe("bath_temp_c", "the temperature of the bath", b.TempC, 0, 80, "°C")
	k.maybe("bath_ph", "the pH of the bath", b.PH, 0, 14, "")
	k.maybe("conductivity_us_cm", "the conductivity", b.ConductUS, 0, 200_000, "µS/cm")
	k.maybe("calcium_mg_l", "the calcium", b.CalciumMgL, 0, 2000, "mg/L")
	k.maybeRange("strength_g_l", "the strength", b.StrengthGL, 0, 1000, "g/L")
	for _, d := range b.Bottles {
		k.line("bottle", "the bottle", d.Name)
		k.number("bottle_ml", "the volume drawn", d.Ml, 0, 200_000, "mL")
	}
	if b.PH != nil {
		k.line("ph_method", "the method of the pH", b.PHMethod)
	}
	for _, w := range b.With {
		k.sheets("sheets", w.Sheets)
	}
}

func (b RunStarted) apply(c *Case, s Stamp) error {
	if c.Run(b.ID) != nil {
		return Invalidf("run", "This run is started already.")
	}
	c.Runs = append(c.Runs, Run{Stamped: Stamped[RunStarted]{s, b}})
	for _, n := range c.sheetsOf(b.Sheets) {
		c.wet[n] = Condition{Wetness: b.Makes, Since: b.At, Run: b.ID}
	}
	return first(s.notAfter(b.At), c.haveSheets(b.Sheets), c.isOpen())
}

// RunEnded ends a run for some of its sheets, or for all that are left.
type RunEnded struct {
	Run     string     `json:"run"`
	Sheets  []int      `json:"sheets,omitempty"` // none: all that are left
	At      time.Time  `json:"at"`
	Outcome RunOutcome `json:"outcome"`
	Leaves  Wetness    `json:"leaves"`
	// Reason is why it was stopped or abandoned.
	Reason string `json:"reason,omitempty"`
	// EndPoint is what ended it: "conductivity level at 210 µS/cm".
	EndPoint string `json:"end_point,omitempty"`
	Seen     string `json:"seen,omitempty"`
}

func (RunEnded) Kind() Kind { return "run-ended" }

func (b RunEnded) Validate() error {
	var k check
	k.id("run", "the run", b.Run)
	k.sheets("sheets", b.Sheets)
	if b.At.IsZero() {
		k.refuse("at", "The end is missing: give the time.")
	}
	k.when("at", "the end", b.At)
	k.choice("run_outcome", "the outcome", string(b.Outcome), RunOutcomes)
	k.choice("leaves", "the wetness", string(b.Leaves), Wetnesses)
	k.text("reason", "the reason", b.Reason)
	k.text("end_point", "the end point", b.EndPoint)
	k.text("seen", "what was seen", b.Seen)
	if b.Outcome != RunDone && b.Reason == "" {
		k.refuse("reason", "Say why the run was %s.", Words(b.Outcome))
	}
	return k.err()
}

func (b RunEnded) apply(c *Case, s Stamp) error {
	r := c.Run(b.Run)
	if r == nil {
		return Invalidf("run", "The run that ends is not in the record.")
	}
	in := c.sheetsIn(r)
	out := b.Sheets
	if len(out) == 0 {
		out = in
	}
	switch {
	case !r.Open():
		return Invalidf("run", "This run has ended already.")
	case b.At.Before(r.Body.At):
		return Invalidf(
			"at",
			"The end (%s) lies before the start (%s).",
			b.At.Format("15:04"),
			r.Body.At.Format("15:04"),
		)
	}
	for _, n := range b.Sheets {
		if !slices.Contains(in, n) {
			return Invalidf("sheets", "%s is not in this run any more.", upper(SheetName(n)))
		}
	}
	r.Ends = append(r.Ends, Stamped[RunEnded]{s, b})
	for _, n := range out {
		// A later run may have taken the sheet on while this one was still open.
		if c.wet[n].Run == b.Run || c.wet[n].Run == "" {
			c.wet[n] = Condition{Wetness: b.Leaves, Since: b.At, After: b.Run}
		}
	}
	r.done = len(b.Sheets) == 0 || len(c.sheetsIn(r)) == 0
	return s.notAfter(b.At)
}

// AbsorbentChanged is one change of blotters or felts during drying.
type AbsorbentChanged struct {
	Run  string    `json:"run"`
	At   time.Time `json:"at"`
	What string    `json:"what,omitempty"`
	// TakenUpG is the water that the absorbents took, weighed, in g.
	TakenUpG *float64 `json:"taken_up_g,omitempty"`
	Seen     string   `json:"seen,omitempty"`
}

func (AbsorbentChanged) Kind() Kind { return "absorbent-changed" }

func (b AbsorbentChanged) Validate() error {
	var k check
	k.id("run", "the run", b.Run)
	if b.At.IsZero() {
		k.refuse("at", "The time of the change is missing.")
	}
	k.when("at", "the time", b.At)
	k.maybeLine("what", "the absorbent", b.What)
	k.maybe("taken_up_g", "the water taken up", b.TakenUpG, 0, 5000, "g")
	k.text("seen", "what was seen", b.Seen)
	return k.err()
}

func (b AbsorbentChanged) apply(c *Case, s Stamp) error {
	r := c.Run(b.Run)
	if r == nil {
		return Invalidf("run", "The run whose absorbents were changed is not in the record.")
	}
	r.Changes = append(r.Changes, Stamped[AbsorbentChanged]{s, b})
	if b.At.Before(r.Body.At) {
		return Invalidf("at", "The change lies before the start of the run.")
	}
	return s.notAfter(b.At)
}

// Mend is one mend, with all that it adds to the sheet.
type Mend struct {
	ID      string    `json:"id"`
	Damages []string  `json:"damages,omitempty"`
	Place   Place     `json:"place"`
	At      time.Time `json:"at,omitzero"`
	// Tissue by full name, with grammage in g/m2.
	Tissue      string    `json:"tissue"`
	TissueGM2   *float64  `json:"tissue_g_m2,omitempty"`
	Adhesive    string    `json:"adhesive"`
	AdhesiveLot string    `json:"adhesive_lot,omitempty"`
	Bottle      string    `json:"bottle,omitempty"`
	LengthMm    *float64  `json:"length_mm,omitempty"`
	WidthMm     *float64  `json:"width_mm,omitempty"`
	State       MendState `json:"state"`
	Edge        string    `json:"edge,omitempty"` // torn, cut, water-torn
	Note        string    `json:"note,omitempty"`
	Run         string    `json:"run,omitempty"`
}

func (Mend) Kind() Kind { return "mend" }

func (b Mend) Validate() error {
	var k check
	k.id("mend", "the mend", b.ID)
	for _, d := range b.Damages {
		k.id("damages", "the damage", d)
	}
	k.needSheets("sheets", b.Place.Sheets)
	k.maybeChoice("face", "the face", string(b.Place.Face), Faces)
	k.when("at", "the time", b.At)
	k.line("tissue", "the tissue", b.Tissue)
	k.maybe("tissue_g_m2", "the tissue's grammage", b.TissueGM2, 0.5, 100, "g/m²")
	k.line("adhesive", "the adhesive", b.Adhesive)
	k.maybe("length_mm", "the length", b.LengthMm, 0.5, 3000, "mm")
	k.maybe("width_mm", "the width", b.WidthMm, 0.5, 500, "mm")
	k.choice("mend_state", "the state of the sheet", string(b.State), MendStates)
	k.maybeLine("edge", "the edge", b.Edge)
	k.text("note", "the note", b.Note)
	k.maybeID("run", "the run", b.Run)
	return k.err()
}

func (b Mend) apply(c *Case, s Stamp) error {
	c.Mends = append(c.Mends, Stamped[Mend]{s, b})
	for _, d := range b.Damages {
		if c.DamageByID(d) == nil {
			return Invalidf("damages", "A damage that was mended is not in the record.")
		}
	}
	return first(s.notAfter(b.At), c.haveSheets(b.Place.Sheets), c.haveRun(b.Run))
}

// NextStep decides what sheets get next, with the reason; or who or what the
// case waits for. The latest for each sheet counts; Done clears it.
type NextStep struct {
	Sheets    []int  `json:"sheets,omitempty"`
	Operation string `json:"operation,omitempty"`
	Text      string `json:"text"`
	Reason    string `json:"reason,omitempty"`
	// Who must act, when it is not the writer: "owner", initials.
	Who  string    `json:"who,omitempty"`
	Due  time.Time `json:"due,omitzero"`
	Done bool      `json:"done,omitempty"`
}

func (NextStep) Kind() Kind { return "next-step" }

func (b NextStep) Validate() error {
	var k check
	k.sheets("sheets", b.Sheets)
	k.line("next_text", "what comes next", b.Text)
	k.maybeLine("who", "who must act", b.Who)
	k.text("reason", "the reason", b.Reason)
	k.when("due", "the due time", b.Due)
	return k.err()
}

func (b NextStep) apply(c *Case, s Stamp) error {
	c.Decisions = append(c.Decisions, Stamped[NextStep]{s, b})
	c.Next = supersede(c.Next, b.Sheets)
	if !b.Done {
		c.Next = append(c.Next, Stamped[NextStep]{s, b})
	}
	return c.haveSheets(b.Sheets)
}

// supersede takes the sheets of a new decision out of the older ones; those
// that have none left fall away. A decision on the whole object replaces only
// one on the whole object.
func supersede(list []Stamped[NextStep], sheets []int) []Stamped[NextStep] {
	var kept []Stamped[NextStep]
	for _, n := range list {
		if len(n.Body.Sheets) == 0 {
			if len(sheets) > 0 {
				kept = append(kept, n)
			}
			continue
		}
		n.Body.Sheets = slices.DeleteFunc(
			slices.Clone(n.Body.Sheets),
			func(k int) bool { return slices.Contains(sheets, k) },
		)
		if len(n.Body.Sheets) > 0 {
			kept = append(kept, n)
		}
	}
	return kept
}

// Waste says where a spent liquid or a soiled thing went.
type Waste struct {
	What     string    `json:"what"`
	VolumeMl *float64  `json:"volume_ml,omitempty"`
	To       string    `json:"to"`
	At       time.Time `json:"at,omitzero"`
	Run      string    `json:"run,omitempty"`
}

func (Waste) Kind() Kind { return "waste" }

func (b Waste) Validate() error {
	var k check
	k.line("waste_what", "the waste", b.What)
	k.maybe("volume_ml", "the volume", b.VolumeMl, 0, 200_000, "mL")
	k.line("waste_to", "where it went", b.To)
	k.when("at", "the time", b.At)
	k.maybeID("run", "the run", b.Run)
	return k.err()
}

func (b Waste) apply(c *Case, s Stamp) error {
	c.Wastes = append(c.Wastes, Stamped[Waste]{s, b})
	return first(s.notAfter(b.At), c.haveRun(b.Run))
}

// PaperIssued says that a paper left the studio.
type PaperIssued struct {
	Sort    PaperSort `json:"sort"`
	Version int       `json:"version,omitempty"`
	At      time.Time `json:"at,omitzero"`
	To      string    `json:"to"`
	Way     string    `json:"way,omitempty"`
}

func (PaperIssued) Kind() Kind { return "paper-issued" }

func (b PaperIssued) Validate() error {
	var k check
	k.choice("paper_sort", "the paper", string(b.Sort), PaperSorts)
	k.line("paper_to", "to whom it went", b.To)
	k.maybeLine("paper_way", "how it went", b.Way)
	k.when("at", "the time", b.At)
	return k.err()
}

func (b PaperIssued) apply(c *Case, s Stamp) error {
	c.Issued = append(c.Issued, Stamped[PaperIssued]{s, b})
	return s.notAfter(b.At)
}

// Closed ends the case. Doing nothing and giving a step up are results too.
type Closed struct {
	Outcome CloseOutcome `json:"outcome"`
	Text    string       `json:"text,omitempty"`
	// Reinspect is when the object should be looked at again.
	Reinspect time.Time `json:"reinspect,omitzero"`
}

func (Closed) Kind() Kind { return "case-closed" }

func (b Closed) Validate() error {
	var k check
	k.choice("close_outcome", "the outcome", string(b.Outcome), CloseOutcomes)
	k.text("text", "the text", b.Text)
	k.when("reinspect", "the date of the next look", b.Reinspect)
	return k.err()
}

func (b Closed) apply(c *Case, s Stamp) error {
	if c.Closed != nil {
		return Invalidf("", "Case %s is closed already.", c.Number)
	}
	for i := range c.Runs {
		if c.Runs[i].Open() {
			return Invalidf(
				"",
				"The case cannot be closed while a run is going on: end %s first.",
				c.Runs[i].Body.OperationName,
			)
		}
	}
	for n, w := range c.wet {
		if w.Wetness != Dry {
			return Invalidf("", "The case cannot be closed while the %s is %s.", SheetName(n), w.Wetness)
		}
	}
	c.Closed = &Stamped[Closed]{s, b}
	return nil
}

// Reopened takes a closing back, with the reason.
type Reopened struct {
	Reason string `json:"reason"`
}

func (Reopened) Kind() Kind { return "case-reopened" }

func (b Reopened) Validate() error {
	var k check
	k.needText("reason", "the reason", b.Reason)
	return k.err()
}

func (b Reopened) apply(c *Case, s Stamp) error {
	if c.Closed == nil {
		return Invalidf("", "Case %s is not closed.", c.Number)
	}
	c.Closed = nil
	return nil
}

// Withdrawn voids the entry that its Corrects names. The entry stays in the
// log, struck through, with the reason.
type Withdrawn struct {
	Reason string `json:"reason"`
}

func (Withdrawn) Kind() Kind { return "withdrawn" }

func (b Withdrawn) Validate() error {
	var k check
	k.needText("reason", "the reason", b.Reason)
	return k.err()
}
