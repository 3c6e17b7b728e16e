package record

import (
	"slices"
	"time"
)

// RunStarted begins a run: an operation actually performed on sheets at a
// time. What it says of the bath is complete in itself, so that the case can
// be read without the studio's journal.
type RunStarted struct {
	ID string `json:"id" form:"run" say:"the run" as:"own"`
	// Operation is a slug of package treatment's table; OperationName is how
	// it was called then.
	Operation     string    `json:"operation" say:"the operation"`
	OperationName string    `json:"operation_name" form:"operation" say:"the operation's name"`
	Sheets        []int     `json:"sheets,omitempty" say:"the sheets"` // none: the whole object
	At            time.Time `json:"at" say:"the start" as:"moment"`
	// PlannedMin is how long it is meant to last; 0: until something is seen.
	PlannedMin float64 `json:"planned_min,omitempty" say:"the planned time" in:"0..86400 min"`
	// DueMin are the minutes after the start at which something falls due:
	// absorbents to change, a sheet to turn.
	DueMin  []float64 `json:"due_min,omitempty" say:"a due time" in:"0.5..86400 min"`
	DueWhat string    `json:"due_what,omitempty" say:"what falls due"`
	// Makes is the wetness of the sheets while the run lasts.
	Makes Wetness `json:"makes" say:"the wetness"`
	Bath  *Bath   `json:"bath,omitempty" say:"the bath"`
	// Materials are what touches or stays with the sheet.
	Materials []Material `json:"materials,omitempty" say:"the materials"`
	// TempC and HumidityPct are those of the room.
	TempC       *float64 `json:"temp_c,omitempty" say:"the room's temperature" in:"-10..60 °C"`
	HumidityPct *float64 `json:"humidity_pct,omitempty" say:"the room's humidity" in:"0..100 %"`
	// AirFrom says whose reading of the room that is, where it was not typed.
	AirFrom string `json:"air_from,omitempty" say:"where the air is known from"`
	Aim     string `json:"aim,omitempty" say:"the aim" as:"text"`
	// Cautions are those that were shown before the start.
	Cautions []string `json:"cautions,omitempty" say:"the cautions" as:"text"`
	// Overrides are gates that did not hold and were passed with a reason.
	Overrides []Override `json:"overrides,omitempty" say:"the gates passed"`
	// Departure is the reason for doing what the consented plan does not say.
	Departure string `json:"departure,omitempty" say:"the reason for departing from the plan" as:"text"`
	// Method names the studio's own method, where one was followed.
	Method string `json:"method,omitempty" say:"the method"`
}

// Bath is one container of one liquid used on one or more sheets.
type Bath struct {
	ID string `json:"id" say:"the bath" form:"bath" as:"own"`
	// Liquid with full material name and strength: "calcium hydroxide in
	// water, 0.40 g/L (0.37 to 0.43)".
	Liquid string `json:"liquid" say:"the liquid"`
	// Substance and StrengthGL let the computation read the bath; StrengthGL
	// is g of substance per litre.
	Substance  string   `json:"substance,omitempty" say:"the substance"`
	StrengthGL *Range   `json:"strength_g_l,omitempty" say:"the strength" in:"0..1000 g/L"`
	Bottles    []Drawn  `json:"bottles,omitempty" say:"the bottles" form:"bottle"`
	Water      string   `json:"water,omitempty" say:"the water"` // source, as the studio names it
	VolumeMl   float64  `json:"volume_ml" say:"the volume" in:"1..200000 mL"`
	TempC      *float64 `json:"temp_c,omitempty" form:"bath_temp_c" say:"the temperature of the bath" in:"0..80 °C"`
	PH         *float64 `json:"ph,omitempty" form:"bath_ph" say:"the pH of the bath" in:"0..14"`
	PHMethod   string   `json:"ph_method,omitempty" say:"the method of the pH"`
	ConductUS  *float64 `json:"conductivity_us_cm,omitempty" say:"the conductivity" in:"0..200000 µS/cm"`
	CalciumMgL *float64 `json:"calcium_mg_l,omitempty" say:"the calcium" in:"0..2000 mg/L"`
	// CalciumFrom says where the calcium is known from; empty: read in the bath.
	CalciumFrom string `json:"calcium_from,omitempty" say:"where the calcium is known from"`
	Tray        string `json:"tray,omitempty" say:"the tray"`
	// With names the sheets of other cases that share the bath.
	With []Sharing `json:"with,omitempty" say:"the sheets of other cases"`
}

// Drawn is liquid taken from a bottle, with what identifies it.
type Drawn struct {
	Bottle string  `json:"bottle,omitempty" say:"the bottle" as:"raw"` // ID in the studio's journal
	Name   string  `json:"name" form:"bottle" say:"the bottle's name" need:"no"`
	Lot    string  `json:"lot,omitempty" say:"the lot"`
	Ml     float64 `json:"ml,omitempty" form:"bottle_ml" say:"the volume drawn" in:"0..200000 mL"`
}

// Sharing names another case whose sheets lie in the same bath.
type Sharing struct {
	Case   CaseID `json:"case" say:"the case" as:"raw"`
	Number string `json:"number" say:"the case number" need:"no"`
	Sheets []int  `json:"sheets" say:"the sheets"`
}

// Material is something used on the sheet, named in full.
type Material struct {
	Name     string `json:"name" form:"material" say:"the material"`
	Strength string `json:"strength,omitempty" say:"the strength"`
	Amount   string `json:"amount,omitempty" say:"the amount"`
	Lot      string `json:"lot,omitempty" say:"the lot"`
	Bottle   string `json:"bottle,omitempty" say:"the bottle" as:"raw"`
	// Stays says that it is left in or on the object.
	Stays bool `json:"stays,omitempty" say:"stays with the object"`
}

// Override names a gate that did not hold, what it said, and why the work went
// on. Say is empty in entries of earlier versions.
type Override struct {
	Gate   string `json:"gate" say:"the gate"`
	Reason string `json:"reason" form:"override_reason" say:"the reason for going on" as:"text"`
	Say    string `json:"say,omitempty" say:"what the gate said" as:"text"`
	// Who agreed by word of mouth, and when, where it is the owner's yes that is lacking.
	Who      string    `json:"who,omitempty" form:"override_who" say:"who agreed"`
	AgreedAt time.Time `json:"agreed_at,omitzero" form:"override_when" say:"when it was agreed"`
}

func (RunStarted) Kind() Kind { return "run-started" }

func (b RunStarted) rules(k *check) {
	for i, d := range b.DueMin {
		if i > 0 && d <= b.DueMin[i-1] {
			k.refuse("due_min", "Due times must rise; %s min comes after %s min.", num(d), num(b.DueMin[i-1]))
		}
	}
	if b.Bath != nil && b.Bath.PH != nil && b.Bath.PHMethod == "" {
		k.refuse("ph_method", "Please enter the method of the pH.")
	}
}

func (b RunStarted) apply(c *Case, s Stamp) error {
	if c.Run(b.ID) != nil {
		return Invalidf("run", "This run is started already.")
	}
	c.Runs = append(c.Runs, Run{Stamped: Stamped[RunStarted]{s, b}})
	for _, n := range c.sheetsOf(b.Sheets) {
		if !overlap(c.wet[n].Since, b.At) { // what is written later than it happened changes nothing since
			c.wet[n] = Condition{Wetness: b.Makes, Since: b.At, Run: b.ID}
		}
	}
	return first(s.notAfter(b.At), c.haveSheets(b.Sheets), c.isOpen())
}

// RunEnded ends a run for some of its sheets, or for all that are left.
type RunEnded struct {
	Run     string     `json:"run" say:"the run" as:"id"`
	Sheets  []int      `json:"sheets,omitempty" say:"the sheets"` // none: all that are left
	At      time.Time  `json:"at" say:"the end" as:"moment"`
	Outcome RunOutcome `json:"outcome" form:"run_outcome" say:"the outcome"`
	Leaves  Wetness    `json:"leaves" say:"the wetness"`
	// Reason is why it was stopped or abandoned.
	Reason string `json:"reason,omitempty" say:"the reason" as:"text"`
	// EndPoint is what ended it: "conductivity level at 210 µS/cm".
	EndPoint string `json:"end_point,omitempty" say:"the end point" as:"text"`
	Seen     string `json:"seen,omitempty" say:"what was seen" as:"text"`
}

func (RunEnded) Kind() Kind { return "run-ended" }

func (b RunEnded) rules(k *check) {
	if b.Outcome != "" && b.Outcome != RunDone && b.Reason == "" {
		k.refuse("reason", "Say why the run was %s.", Words(b.Outcome))
	}
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
		if c.wet[n].Run == b.Run || c.wet[n].Run == "" && !overlap(c.wet[n].Since, b.At) {
			c.wet[n] = Condition{Wetness: b.Leaves, Since: b.At, After: b.Run}
		}
	}
	r.done = len(b.Sheets) == 0 || len(c.sheetsIn(r)) == 0
	return s.notAfter(b.At)
}

// AbsorbentChanged is one change of blotters or felts during drying.
type AbsorbentChanged struct {
	Run  string    `json:"run" say:"the run" as:"id"`
	At   time.Time `json:"at" say:"the time" as:"moment"`
	What string    `json:"what,omitempty" say:"the absorbent"`
	// TakenUpG is the water that the absorbents took, weighed, in g.
	TakenUpG *float64 `json:"taken_up_g,omitempty" say:"the water taken up" in:"0..5000 g"`
	Seen     string   `json:"seen,omitempty" say:"what was seen" as:"text"`
}

func (AbsorbentChanged) Kind() Kind { return "absorbent-changed" }

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

// Blotted says that wet sheets were pressed once between absorbents: no liquid stands
// on them any more, and the time in which a mend dries as one with its sheet begins.
type Blotted struct {
	Sheets []int     `json:"sheets" say:"the sheets"`
	At     time.Time `json:"at" say:"the time" as:"moment"`
}

func (Blotted) Kind() Kind { return "blotted" }

func (b Blotted) apply(c *Case, s Stamp) error {
	c.Blots = append(c.Blots, Stamped[Blotted]{s, b})
	return first(s.notAfter(b.At), c.haveSheets(b.Sheets))
}

// BlottedSince is when a sheet was last blotted after a time, zero when it was not.
func (c *Case) BlottedSince(sheet int, out time.Time) (at time.Time) {
	for _, x := range c.Blots {
		if slices.Contains(x.Body.Sheets, sheet) && !x.Body.At.Before(out) {
			at = x.Body.At
		}
	}
	return at
}

// Mend is one mend, with all that it adds to the sheet.
type Mend struct {
	ID      string    `json:"id" form:"mend" say:"the mend" as:"own"`
	Damages []string  `json:"damages,omitempty" say:"the damages" as:"id" label:"Mends"`
	Place   Place     `json:"place" say:"the place" need:"sheets"`
	At      time.Time `json:"at,omitzero" say:"the time" as:"moment" label:"When"`
	// Tissue by full name, with grammage in g/m2.
	Tissue      string    `json:"tissue" say:"the tissue"`
	TissueGM2   *float64  `json:"tissue_g_m2,omitempty" say:"the tissue weight" in:"0.5..100 g/m²"`
	Adhesive    string    `json:"adhesive" say:"the adhesive" label:"Or adhesive in full"`
	AdhesiveLot string    `json:"adhesive_lot,omitempty" say:"the lot of the adhesive"`
	Bottle      string    `json:"bottle,omitempty" say:"the bottle" as:"raw" label:"Adhesive from the shelf"`
	LengthMm    *float64  `json:"length_mm,omitempty" say:"the length" in:"0.5..3000 mm"`
	WidthMm     *float64  `json:"width_mm,omitempty" say:"the width" in:"0.5..500 mm" label:"Width of the strip"`
	State       MendState `json:"state" form:"mend_state" say:"the state of the sheet" label:"Made"`
	Edge        string    `json:"edge,omitempty" say:"the edge" label:"Edge of the strip"`
	Note        string    `json:"note,omitempty" say:"the note" as:"text"`
	Run         string    `json:"run,omitempty" say:"the run" as:"id"`
}

func (Mend) Kind() Kind { return "mend" }

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
	Sheets    []int  `json:"sheets,omitempty" say:"the sheets" label:"For sheets"`
	Operation string `json:"operation,omitempty" say:"the operation"`
	Text      string `json:"text" form:"next_text" say:"what comes next" label:"What"`
	Reason    string `json:"reason,omitempty" say:"the reason" as:"text" label:"Why"`
	// Who must act, when it is not the writer: "owner", initials.
	Who  string    `json:"who,omitempty" say:"who must act" help:"When it is not you: owner, initials"`
	Due  time.Time `json:"due,omitzero" say:"the due time" label:"By when"`
	Done bool      `json:"done,omitempty" say:"settled" label:"This settles the decision for these sheets"`
}

func (NextStep) Kind() Kind { return "next-step" }

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
	What     string    `json:"what" form:"waste_what" say:"the waste" label:"What"`
	VolumeMl *float64  `json:"volume_ml,omitempty" say:"the volume" in:"0..200000 mL"`
	To       string    `json:"to" form:"waste_to" say:"where it went"`
	At       time.Time `json:"at,omitzero" say:"the time" as:"moment"`
	Run      string    `json:"run,omitempty" say:"the run" as:"id"`
}

func (Waste) Kind() Kind { return "waste" }

func (b Waste) apply(c *Case, s Stamp) error {
	c.Wastes = append(c.Wastes, Stamped[Waste]{s, b})
	return first(s.notAfter(b.At), c.haveRun(b.Run))
}

// PaperIssued says that a paper left the studio.
type PaperIssued struct {
	Sort    PaperSort `json:"sort" form:"paper_sort" say:"the paper"`
	Version int       `json:"version,omitempty" say:"the version"`
	At      time.Time `json:"at,omitzero" say:"the time" as:"moment"`
	To      string    `json:"to" form:"paper_to" say:"to whom it went" label:"To"`
	Way     string    `json:"way,omitempty" form:"paper_way" say:"how it went" label:"How"`
}

func (PaperIssued) Kind() Kind { return "paper-issued" }

func (b PaperIssued) apply(c *Case, s Stamp) error {
	c.Issued = append(c.Issued, Stamped[PaperIssued]{s, b})
	return s.notAfter(b.At)
}

// Closed ends the case. Doing nothing and giving a step up are results too.
type Closed struct {
	Outcome CloseOutcome `json:"outcome" form:"close_outcome" say:"the outcome"`
	Text    string       `json:"text,omitempty" say:"the text" as:"text" label:"In words"`
	// Reinspect is when the object should be looked at again.
	Reinspect time.Time `json:"reinspect,omitzero" say:"the date of the next look" as:"date" label:"Look at it again"`
	// Overrides are gates that did not hold as it was closed, with the reason.
	Overrides []Override `json:"overrides,omitempty" say:"the gates passed"`
}

func (Closed) Kind() Kind { return "case-closed" }

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
	Reason string `json:"reason" say:"the reason" as:"text"`
}

func (Reopened) Kind() Kind { return "case-reopened" }

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
	Reason string `json:"reason" say:"the reason" as:"text"`
}

func (Withdrawn) Kind() Kind { return "withdrawn" }
