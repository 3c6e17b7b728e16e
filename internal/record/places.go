package record

import (
	"slices"
	"time"

	"benchleaf/condition"
)

// PositionMarked is a numbered place on a face at which readings are made, so that
// it is found again before, after and years later. Its number, counted from 1 in
// the order of the entries, is its own for life.
type PositionMarked struct {
	ID    string `json:"id" form:"position" say:"the position" as:"own"`
	Place Place  `json:"place" say:"the place"`
	// XMm, YMm is its middle, from the left edge and the head of the face as seen.
	XMm float64 `json:"x_mm" say:"the place across" in:"0..2000 mm" label:"From the left edge"`
	YMm float64 `json:"y_mm" say:"the place down" in:"0..2000 mm" label:"From the head"`
	// AcrossMm is how wide the spot is that is read: an aperture, a drop.
	AcrossMm *float64 `json:"across_mm,omitempty" say:"how wide the spot is" in:"0.1..100 mm" label:"Spot read, across"`
	Note     string   `json:"note,omitempty" say:"the note" as:"text" label:"How it is found again"`
}

// Kind is the kind of the entry.
func (PositionMarked) Kind() Kind { return "position-marked" }

func (b PositionMarked) rules(k *check) { k.oneFace(b.Place) }

// oneFace refuses a place that is not one face of one sheet.
func (k *check) oneFace(p Place) {
	if len(p.Sheets) != 1 {
		k.refuse("sheets", "Name the one sheet that it lies on.")
	}
	if p.Face == "" {
		k.refuse("face", "Say on which face it lies: the outer or the inner.")
	}
}

func (b PositionMarked) apply(c *Case, s Stamp) error {
	c.Positions = append(c.Positions, Position{Stamped[PositionMarked]{s, b}, c.positionNo[s.Seq]})
	at := condition.Shape{Form: condition.Spot, Points: []condition.Point{{XMm: b.XMm, YMm: b.YMm}}}
	return first(c.haveSheets(b.Place.Sheets), c.onSheet(b.Place, []condition.Shape{at}))
}

// Position is a marked position with its number for life.
type Position struct {
	Stamped[PositionMarked]
	No int
}

// Position finds a marked position that stands by its ID, or nil.
func (c *Case) Position(id string) *Position {
	for i := range c.Positions {
		if c.Positions[i].Body.ID == id {
			return &c.Positions[i]
		}
	}
	return nil
}

// numberPositions gives each position its number in the order of the first entries;
// one that was withdrawn keeps its own.
func (c *Case) numberPositions() {
	c.positionNo = map[int64]int{}
	for i := range c.Log {
		if l := &c.Log[i]; l.Kind == (PositionMarked{}).Kind() && l.Corrects == 0 {
			c.positionNo[l.Seq] = len(c.positionNo) + 1
		}
	}
}

// onSheet refuses shapes off the sheet, where its paper is known.
func (c *Case) onSheet(p Place, shapes []condition.Shape) error {
	if len(p.Sheets) == 0 || c.StockOf(p.Sheets[0]) == nil {
		return nil
	}
	st := c.StockOf(p.Sheets[0])
	size := condition.Size{WidthMm: st.WidthMm, HeightMm: st.HeightMm}
	for _, s := range shapes {
		if err := s.Validate(size); err != nil {
			field := "shapes"
			if s.Form == condition.Spot && len(shapes) == 1 {
				field = "x_mm"
			}
			return Invalidf(field, "%s: %s.", upper(SheetName(p.Sheets[0])), err.Error())
		}
	}
	return nil
}

// WorkPlaced is something done at a place of a face: a mend, a fill, a lining,
// toning, a local application, drawn where it lies.
type WorkPlaced struct {
	ID    string    `json:"id" form:"work" say:"the work" as:"own"`
	Sort  WorkSort  `json:"sort" form:"work_sort" say:"what was done"`
	Place Place     `json:"place" say:"the place"`
	At    time.Time `json:"at,omitzero" say:"the time" as:"moment" label:"When"`
	// Shapes lie on the face, as those of a damage do.
	Shapes   []condition.Shape `json:"shapes" say:"the shape" label:"Drawn, in mm" as:"raw"`
	Material string            `json:"material" form:"work_material" say:"the material" label:"With what, in full"`
	Lot      string            `json:"lot,omitempty" say:"the lot"`
	// Undo says whether it can be taken off again, and UndoHow with what.
	Undo    Undoing `json:"undo,omitempty" say:"whether it can be undone" label:"Can it be undone"`
	UndoHow string  `json:"undo_how,omitempty" say:"how it is undone" label:"With what"`
	// Mend is the logged mend that it draws, Damages what it was for, Run the run.
	Mend    string   `json:"mend,omitempty" form:"of_mend" say:"the mend" as:"id" label:"Draws the mend"`
	Damages []string `json:"damages,omitempty" say:"the damages" as:"id" label:"For"`
	Run     string   `json:"run,omitempty" say:"the run" as:"id"`
	Note    string   `json:"note,omitempty" say:"the note" as:"text"`
}

// Kind is the kind of the entry.
func (WorkPlaced) Kind() Kind { return "work-placed" }

func (b WorkPlaced) rules(k *check) {
	k.oneFace(b.Place)
	if len(b.Shapes) == 0 || len(b.Shapes) > condition.MaxShapes {
		k.refuse("shapes", "Draw where it lies: 1 to %d shapes are possible.", condition.MaxShapes)
	}
	for i, s := range b.Shapes {
		if err := s.Validate(largest); err != nil {
			k.refuse("shapes", "Shape %d: %v.", i+1, err)
			return
		}
	}
}

func (b WorkPlaced) apply(c *Case, s Stamp) error {
	if slices.ContainsFunc(c.Placed, func(x Stamped[WorkPlaced]) bool { return x.Body.ID == b.ID }) {
		return Invalidf("work", "This work is recorded already.")
	}
	c.Placed = append(c.Placed, Stamped[WorkPlaced]{s, b})
	if b.Mend != "" && c.Mend(b.Mend) == nil {
		return Invalidf("of_mend", "The mend that it draws is not in the record.")
	}
	for _, d := range b.Damages {
		if c.DamageByID(d) == nil {
			return Invalidf("damages", "A damage that it was for is not in the record.")
		}
	}
	return first(s.notAfter(b.At), c.haveSheets(b.Place.Sheets), c.haveRun(b.Run), c.onSheet(b.Place, b.Shapes))
}
