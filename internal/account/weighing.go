package account

import (
	"math"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// SheetMass is what one sheet of a paper weighs by its size and grammage, in g.
func SheetMass(b *record.Stock) Fact {
	return Fact{
		Code: "sheet-mass", Name: "Mass of a sheet", Basis: Computed, RestsOn: "size × g/m²",
		Figure: &words.Figure{Value: b.WidthMm * b.HeightMm * 1e-6 * b.GrammageGM2, Unit: "g"},
	}
}

// Weighed settles the grammage of a paper that is being described. A sheet that
// was weighed gives it, to a tenth of a g/m², and the weighing is a reading to be
// written beside it. A grammage that was typed is stated, unless it is the one
// that an earlier weighing gave.
func Weighed(c *record.Case, b *record.Stock, massG *float64, sheet *int, at time.Time) *record.Reading {
	area := b.WidthMm * b.HeightMm * 1e-6
	if massG != nil && area > 0 {
		b.GrammageGM2, b.GrammageBasis = math.Round(10**massG/area)/10, record.BasisMeasured
		w := record.Reading{Quantity: "mass", Value: *massG, Method: "balance", Stage: record.StageBefore, At: at}
		if sheet != nil {
			w.Place.Sheets = []int{*sheet}
		}
		return &w
	}
	for _, st := range c.Stocks {
		if st.Body.ID == b.ID && st.Body.GrammageGM2 == b.GrammageGM2 {
			b.GrammageBasis = st.Body.GrammageBasis
			return nil
		}
	}
	if b.GrammageBasis != record.BasisClass {
		b.GrammageBasis = record.BasisStated
	}
	return nil
}
