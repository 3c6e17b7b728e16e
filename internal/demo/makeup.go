package demo

import (
	"time"

	"benchleaf/condition"
	"benchleaf/internal/record"
)

// places marks where colour and pH of the Windlass are read again, and draws the
// mend that was made on its sheet.
func (f *filler) places(t time.Time, tear string) {
	f.clock = t
	spot := func(sheet int, face record.Face, x, y float64, note string) record.PositionMarked {
		return record.PositionMarked{
			ID: f.newID(), Place: record.Place{Sheets: []int{sheet}, Face: face}, XMm: x, YMm: y, AcrossMm: num(8), Note: note,
		}
	}
	f.add(
		spot(2, record.FaceOuter, 318, 22, "blank margin beside the headline"),
		spot(2, record.FaceOuter, 300, 246, "below the last line, in the tide line"),
		spot(5, record.FaceInner, 40, 250, "foot margin"),
		record.WorkPlaced{
			ID: f.newID(), Sort: "mend", Place: record.Place{Sheets: []int{2}, Face: record.FaceInner}, At: t,
			Shapes: []condition.Shape{{
				Form: condition.Strip, WidthMm: 8, Points: []condition.Point{{XMm: 0, YMm: 180}, {XMm: 50, YMm: 182}},
			}},
			Material: "kozo tissue 3.5 g/m², methyl cellulose", Undo: "water", UndoHow: "damp, lifted from one end",
			Damages: []string{tear},
		},
	)
}

// collatedByTouch goes through an object leaf by leaf, every leaf found in its
// place.
func (f *filler) collatedByTouch(when record.CollationTime, inner int, creepMm *float64) {
	k := record.Collation{When: when, At: f.clock, SheetsCounted: inner + 1, InOrder: true, CreepMm: creepMm}
	for n := 0; n <= inner; n++ {
		k.Found = append(k.Found, record.FoundLeaf{Sheet: n, Leaf: record.LeafFirst})
	}
	for n := inner; n >= 0; n-- {
		k.Found = append(k.Found, record.FoundLeaf{Sheet: n, Leaf: record.LeafSecond})
	}
	f.add(k)
}

// whole is the look at an object put together again, with nothing against it.
func (f *filler) whole() {
	f.add(record.Reassembled{At: f.clock, Order: true, Facing: true, NothingLeft: true, PartsKnown: true})
}
