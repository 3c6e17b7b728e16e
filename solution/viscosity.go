package solution

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// viscositySpread is how far a computed viscosity may be off, as a factor either
// way, at another strength than the 2 % that names the grade. The one-parameter
// equation and the spread of a grade, about a quarter, make it (estimate, no source).
const viscositySpread = 1.5

// CelluloseViscosity is the viscosity at 20 °C, mPa s, of methyl cellulose at a
// strength in % by mass, 0.2 to 6, from its grade: the viscosity of a 2 % solution
// at 20 °C, 3 to 100 000 mPa s, as makers name it. Philippoff's equation, η^(1/8) =
// 1 + α C, as makers of cellulose ethers publish it (basis: memory), with α from the
// grade. At 2 % it gives the grade back. Errors: a grade or a strength outside.
func CelluloseViscosity(grade, percent float64) (interval.Range, error) {
	switch {
	case !(grade >= 3 && grade <= 100_000):
		return interval.Range{}, fmt.Errorf(
			"the grade is the viscosity of a 2 %% solution at 20 °C, 3 to 100 000 mPa s, not %g", grade,
		)
	case !(percent >= 0.2 && percent <= 6):
		return interval.Range{}, fmt.Errorf(
			"the viscosity of methyl cellulose is computed from 0.2 to 6 %%, not at %s %%", interval.Digits(percent, percent),
		)
	}
	alpha := (math.Pow(grade, 1.0/8) - 1) / 2
	eta := math.Pow(1+alpha*percent, 8)
	// The further from 2 %, the less the one parameter tells.
	off := math.Pow(viscositySpread, math.Abs(math.Log2(percent/2)))
	off = max(1.25, off)
	return interval.Range{Low: eta / off, Best: eta, High: eta * off}, nil
}
