package makeup

import (
	"fmt"
	"math"
)

// Creep is how far the fore-edge of a sheet stands out beyond the fore-edge of
// the outermost sheet before any trimming, in millimetres. After trimming flush
// the leaves of that sheet are narrower by as much.
type Creep struct {
	// SharpMm is for folds pressed sharp, where each sheet further in starts
	// one thickness further out.
	SharpMm float64
	// RoundMm is for folds that run round the sheets inside them in half
	// circles, where the quarter circle of each leaf is longer by pi/2
	// thicknesses from sheet to sheet.
	RoundMm float64
}

// CreepOf gives the creep of each sheet of a nest, from the outside in. The
// thicknesses are in millimetres, in the same order, each above 0 and at most
// 5 mm; the first sheet's creep is 0.
//
// Source: geometry of nested folds, worked out here. That the innermost of N
// like sheets stands out by about N-1 thicknesses is common practice, no source;
// pressed and read issues lie between the two figures.
func CreepOf(thicknessesMm []float64) ([]Creep, error) {
	list := make([]Creep, 0, len(thicknessesMm))
	var outside float64
	for i, t := range thicknessesMm {
		if !(t > 0 && t <= 5) {
			return nil, fmt.Errorf(
				"a thickness of %g mm (sheet %d of the nest, from the outside) is not possible: above 0 and at most "+
					"5 mm is",
				t,
				i+1,
			)
		}
		list = append(list, Creep{SharpMm: outside, RoundMm: outside * math.Pi / 2})
		outside += t
	}
	return list, nil
}
