package solution

import "fmt"

// WithCalcium adds a figure of calcium, mg/L, to what is known of the water:
// what the hardness holds beyond it is magnesium; where no hardness is known,
// the calcium is all there is. Errors: a calcium that no water has, or one that
// is plainly more than the hardness.
func (w Water) WithCalcium(mgPerL float64) (Water, error) {
	if !(mgPerL >= 0 && mgPerL <= 2000) {
		return w, fmt.Errorf("the calcium of %s must lie between 0 and 2000 mg/L, not at %g mg/L", w.called(), mgPerL)
	}
	asChalk := mgPerL / molarCalcium * molarChalk
	if w.HardnessMgL == nil {
		w.HardnessMgL = &asChalk
		return w, nil
	}
	// Two analyses of one water differ by a few per cent.
	const apart = 1.05
	if asChalk > apart**w.HardnessMgL+1 {
		return w, fmt.Errorf(
			"%g mg/L of calcium alone make a hardness of %.0f mg/L CaCO₃, which is more than the %.0f mg/L said of "+
				"%s: one of the two is wrong",
			mgPerL,
			asChalk,
			*w.HardnessMgL,
			w.called(),
		)
	}
	magnesium := max(0, *w.HardnessMgL-asChalk) / molarChalk * molarMagnesium
	w.MagnesiumMgL = &magnesium
	return w, nil
}
