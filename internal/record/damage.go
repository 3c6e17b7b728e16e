package record

import (
	"encoding/json"
	"time"

	"benchleaf/condition"
)

// Damage is one finding: what, where, how much, how grave, from what, active or
// not, each apart. Term is a term of package condition's vocabulary. A finding is
// for life: its number comes from its first entry and is never given again, not
// even when it was withdrawn.
type Damage struct {
	ID   string `json:"id" form:"damage" say:"the damage" as:"own"`
	Term string `json:"term" say:"the kind of damage" label:"Kind"`
	// Place.Sheets are the sheets that the damage runs through; more than one
	// only when it runs through them. Place.Face is the face that Shapes lie on.
	Place Place `json:"place" say:"the place"`
	// Through says that it shows on both faces of each sheet.
	Through bool `json:"through,omitempty" say:"it goes through the paper and shows on both faces"`
	// Shapes lie on the outermost of the sheets, in mm from the left edge and the
	// head of the face as one sees it. In the journal each is written as
	// condition.ParseShapes reads it: "line 340,180 256,182".
	Shapes []condition.Shape `json:"shapes,omitempty" say:"the shape" label:"Drawn, in mm" as:"raw"`
	// LengthMm, WidthMm, AreaMm2 and Count were measured on the object, or by its
	// picture; what was not follows from the shapes.
	LengthMm *float64   `json:"length_mm,omitempty" say:"the length" in:"0.1..10000 mm"`
	WidthMm  *float64   `json:"width_mm,omitempty" say:"the width" in:"0.05..2000 mm"`
	AreaMm2  *float64   `json:"area_mm2,omitempty" say:"the area" in:"0.01..4e6 mm²"`
	Count    *int       `json:"count,omitempty" say:"the count" in:"1..10000"`
	Severity Severity   `json:"severity,omitempty" say:"the severity"`
	Cause    string     `json:"cause,omitempty" say:"the cause"`
	CauseIs  CauseBasis `json:"cause_is,omitempty" say:"how the cause is known" label:"How it is known"`
	Active   Activity   `json:"active,omitempty" say:"whether it is active" label:"Active"`
	// Found, SeenOn, SeenIn and Examiner tell the look at which it was found.
	Found    FoundStage `json:"found,omitempty" say:"when it was found" label:"Found"`
	SeenOn   time.Time  `json:"seen_on,omitzero" say:"the day it was seen" label:"Seen on" as:"date"`
	SeenIn   Light      `json:"seen_in,omitempty" say:"the light it was seen in" label:"Seen in"`
	Examiner string     `json:"examiner,omitempty" say:"who saw it" label:"Seen by" help:"Empty: who writes"`
	// Area is the outlined area on a photograph that it was taken over from.
	Area string `json:"area,omitempty" say:"the area on a photograph" as:"id"`
	Note string `json:"note,omitempty" say:"the note" as:"text"`
}

// Kind is the kind of the entry.
func (Damage) Kind() Kind { return "damage" }

// largest is a sheet that every sheet fits on.
var largest = condition.Size{WidthMm: 2000, HeightMm: 2000}

func (b Damage) rules(k *check) {
	if b.Cause == "" && (b.CauseIs == CauseObserved || b.CauseIs == CauseInferred) {
		k.refuse("cause", "Say the cause, or choose that it is not known.")
	}
	if len(b.Shapes) == 0 {
		return
	}
	kind, known := condition.Look(condition.Term(b.Term))
	switch {
	case len(b.Shapes) > condition.MaxShapes:
		k.refuse("shapes", "%d shapes are too many for one finding: 1 to %d are possible.", len(b.Shapes),
			condition.MaxShapes)
		return
	case len(b.Place.Sheets) == 0:
		k.refuse("sheets", "Say on which sheet it is drawn.")
	case b.Place.Face == "":
		k.refuse("face", "Say on which face it is drawn: the outer or the inner.")
	case known && kind.Depth == condition.Always && !b.Through:
		k.refuse("through", "A %s shows on both faces: mark it as going through.", kind.Term)
	case known && kind.Depth == condition.Never && b.Through:
		k.refuse("through", "%s lies on one face: draw it on each face where it is.", upper(string(kind.Term)))
	case len(b.Place.Sheets) > 1 && !b.Through:
		k.refuse("through", "What reaches through several sheets shows on both faces: mark it as going through.")
	}
	for i, s := range b.Shapes {
		if err := s.Validate(largest); err != nil {
			k.refuse("shapes", "Shape %d: %v.", i+1, err)
			return
		}
	}
}

func (b Damage) apply(c *Case, s Stamp) error {
	if c.DamageByID(b.ID) != nil {
		return Invalidf("damage", "This damage is recorded already.")
	}
	c.Damages = append(c.Damages, FoundDamage{Stamped: Stamped[Damage]{s, b}, No: c.damageNo[s.Seq]})
	if b.Area != "" && c.Area(b.Area) == nil {
		return Invalidf("area", "The area that it was taken over from is not in the record.")
	}
	for i := range c.Damages[:len(c.Damages)-1] {
		if o := &c.Damages[i]; b.Area != "" && o.Body.Area == b.Area {
			return Invalidf("area", "This area was taken over already, as no. %d.", o.No)
		}
	}
	return first(c.haveSheets(b.Place.Sheets), c.fitsSheets(b))
}

// fitsSheets checks shapes and sizes against the paper of the sheets, where it is
// known.
func (c *Case) fitsSheets(b Damage) error {
	for i, n := range b.Place.Sheets {
		st := c.StockOf(n)
		if st == nil {
			continue
		}
		size := condition.Size{WidthMm: st.WidthMm, HeightMm: st.HeightMm}
		if i == 0 {
			for _, s := range b.Shapes {
				low, high := s.Bounds()
				if low.XMm < 0 || low.YMm < 0 || high.XMm > size.WidthMm || high.YMm > size.HeightMm {
					return Invalidf("shapes", "The shape reaches from %s, %s to %s, %s mm, off %s, which is %s by %s mm.",
						num(low.XMm), num(low.YMm), num(high.XMm), num(high.YMm), SheetName(n), num(size.WidthMm),
						num(size.HeightMm))
				}
			}
		}
		if whole := size.WidthMm * size.HeightMm; b.AreaMm2 != nil && *b.AreaMm2 > whole {
			return Invalidf(
				"area_mm2", "%s mm² is more than the whole of %s (%s mm²).", num(*b.AreaMm2), SheetName(n), num(whole))
		}
	}
	return nil
}

// DamageAfter says how a damage stands after treatment, and by which mends and
// runs. The latest counts.
type DamageAfter struct {
	Damage  string        `json:"damage" say:"the damage" as:"id" label:"Which"`
	Outcome DamageOutcome `json:"outcome" form:"damage_outcome" say:"how it stands" label:"Now"`
	Text    string        `json:"text,omitempty" say:"the reason" as:"text" label:"Why, or in words"`
	Mends   []string      `json:"mends,omitempty" form:"by_mends" say:"the mends that did it" as:"id" label:"By the mends"`
	Runs    []string      `json:"runs,omitempty" form:"by_runs" say:"the runs that did it" as:"id" label:"By the runs"`
}

// Kind is the kind of the entry.
func (DamageAfter) Kind() Kind { return "damage-after" }

func (b DamageAfter) rules(k *check) {
	if b.Outcome == DamageLeft && b.Text == "" {
		k.refuse("text", "It was left on purpose: say why.")
	}
}

func (b DamageAfter) apply(c *Case, s Stamp) error {
	d := c.DamageByID(b.Damage)
	if d == nil {
		return Invalidf("damage", "This damage is not in the record.")
	}
	d.After = &Stamped[DamageAfter]{s, b}
	for _, id := range b.Mends {
		if c.Mend(id) == nil {
			return Invalidf("by_mends", "A mend that is named is not in the record.")
		}
	}
	for _, id := range b.Runs {
		if err := c.haveRun(id); err != nil {
			return err
		}
	}
	return nil
}

// Length is the length of a damage on one sheet in mm, as it was measured, else as it
// was drawn; false where it was neither.
func (b Damage) Length() (mm float64, known bool) {
	if b.LengthMm != nil {
		return *b.LengthMm, true
	}
	for _, s := range b.Shapes {
		if s.Form == condition.Line || s.Form == condition.Strip {
			mm += s.LengthMm()
		}
	}
	return mm, mm > 0
}

// FoundDamage is a damage with its number for life and how it stands after
// treatment. Withdrawn is set where it was taken back.
type FoundDamage struct {
	Stamped[Damage]
	No        int
	After     *Stamped[DamageAfter]
	Withdrawn *Stamped[Withdrawn]
}

// DamageByID finds a damage that stands, or nil.
func (c *Case) DamageByID(id string) *FoundDamage {
	for i := range c.Damages {
		if c.Damages[i].Body.ID == id {
			return &c.Damages[i]
		}
	}
	return nil
}

// numberDamages gives each damage its number, from 1 in the order of their first
// entries, and keeps those that were withdrawn.
func (c *Case) numberDamages() {
	c.damageNo = map[int64]int{}
	for i := range c.Log {
		l := &c.Log[i]
		if l.Kind != (Damage{}).Kind() || l.Corrects != 0 {
			continue
		}
		no := len(c.damageNo) + 1
		c.damageNo[l.Seq] = no
		b, read := l.Decoded.(Damage)
		if l.WithdrawnBy == 0 || !read {
			continue
		}
		d := FoundDamage{Stamped: Stamped[Damage]{Stamp{Seq: l.Seq, Time: l.Time, By: l.By}, b}, No: no}
		if by := &c.Log[l.WithdrawnBy-1]; by.Decoded != nil {
			if w, is := by.Decoded.(Withdrawn); is {
				d.Withdrawn = &Stamped[Withdrawn]{Stamp{Seq: by.Seq, Time: by.Time, By: by.By}, w}
			}
		}
		c.DamagesWithdrawn = append(c.DamagesWithdrawn, d)
	}
}

// pointsToShapes turns the one point that damages had before version 2 into a
// shape. It stays on the face that was named, or on none.
var pointsToShapes = map[int]func(json.RawMessage) (json.RawMessage, error){
	1: func(raw json.RawMessage) (json.RawMessage, error) {
		var body map[string]json.RawMessage
		var at struct {
			XMm *float64 `json:"x_mm"`
			YMm *float64 `json:"y_mm"`
		}
		if err := json.Unmarshal(raw, &body); err != nil {
			return nil, err
		}
		if err := json.Unmarshal(raw, &at); err != nil {
			return nil, err
		}
		delete(body, "x_mm")
		delete(body, "y_mm")
		if at.XMm != nil && at.YMm != nil {
			spot := condition.Shape{Form: condition.Spot, Points: []condition.Point{{XMm: *at.XMm, YMm: *at.YMm}}}
			shapes, err := Marshal([]condition.Shape{spot})
			if err != nil {
				return nil, err
			}
			body["shapes"] = shapes
		} else if half := onlyOne(at.XMm, at.YMm); half != "" { // half a point is no place on a map, and is kept in words
			var note string
			if body["note"] != nil {
				if err := json.Unmarshal(body["note"], &note); err != nil {
					return nil, err
				}
				half = note + "; " + half
			}
			said, err := Marshal(half)
			if err != nil {
				return nil, err
			}
			body["note"] = said
		}
		return Marshal(body)
	},
}

// onlyOne says the one of two distances that is known.
func onlyOne(xMm, yMm *float64) string {
	switch {
	case xMm != nil:
		return num(*xMm) + " mm from the left edge"
	case yMm != nil:
		return num(*yMm) + " mm from the head"
	}
	return ""
}

// asItWas is the step up to a version that only knows more.
var asItWas = map[int]func(json.RawMessage) (json.RawMessage, error){
	1: func(raw json.RawMessage) (json.RawMessage, error) { return raw, nil },
}
