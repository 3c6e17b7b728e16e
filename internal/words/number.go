package words

import (
	"math"

	"benchleaf/interval"
)

// Figure is a number with its unit and with what is known of its uncertainty:
// a stated Uncertainty (plus or minus), or a Range (10 to 90 %), or neither.
type Figure struct {
	Value       float64
	Unit        string
	Uncertainty *float64
	Range       *interval.Range
	// Least is the smallest step that can be told, as 0.1 of a pH; 0: the
	// uncertainty alone decides.
	Least float64
}

// Ranged is a figure from a range.
func Ranged(r interval.Range, unit string) Figure {
	return Figure{Value: r.Best, Unit: unit, Range: &r}
}

// PH is the pH of a computation, to the tenth that an electrode can tell.
func PH(r interval.Range) Figure { return Figure{Value: r.Best, Range: &r, Least: 0.1} }

// Figure writes f by the rule of its uncertainty: "12.23 ± 0.05", "0.098 %
// (0.085 to 0.113)", or the number as it was given.
func (l Language) Figure(f Figure) string {
	number, spread := l.Parts(f)
	switch {
	case spread == "":
		return withUnit(number, f.Unit)
	case f.Range != nil:
		return withUnit(number, f.Unit) + " (" + spread + ")"
	}
	return withUnit(number+" "+spread, f.Unit)
}

// Parts writes f in the parts that a screen sets apart: the number without its
// unit, and its uncertainty, "± 0.05" or "0.085 to 0.113"; "" where there is
// none, or none that could be told.
func (l Language) Parts(f Figure) (number, spread string) {
	var d int
	var ok bool
	switch {
	case f.Range != nil:
		d, ok = f.Range.Decimals()
	case f.Uncertainty != nil:
		d, ok = interval.Decimals(*f.Uncertainty)
		d = min(d, interval.Stated(*f.Uncertainty))
	}
	if most := int(math.Ceil(-math.Log10(f.Least) - 1e-9)); f.Least > 0 && (!ok || d > most) {
		d = most
	} else if !ok {
		return l.Number(f.Value), ""
	}
	switch {
	case f.Range != nil:
		if low, high := interval.Fixed(f.Range.Low, d), interval.Fixed(f.Range.High, d); low != high {
			spread = low + " to " + high
		}
	case f.Uncertainty != nil:
		spread = "± " + interval.Fixed(*f.Uncertainty, d)
	}
	return interval.Fixed(f.Value, d), spread
}

// Number writes a number that has no stated uncertainty.
func (l Language) Number(v float64) string { return interval.Number(v) }

// About writes an estimate in two significant figures.
func (l Language) About(v float64) string { return interval.Rounded(v, 2) }

// Quantity is Number with a unit.
func (l Language) Quantity(v float64, unit string) string { return withUnit(l.Number(v), unit) }

// PlusMinus writes a value with its uncertainty u, both to the place of u:
// "7.9 ± 0.1 mm".
func (l Language) PlusMinus(v, u float64, unit string) string {
	return l.Figure(Figure{Value: v, Unit: unit, Uncertainty: &u})
}

// Range writes a best value with its 10 to 90 % points, to the place that half
// its width allows as an uncertainty: "0.098 % CaCO3 (0.085 to 0.113)".
func (l Language) Range(r interval.Range, unit string) string { return l.Figure(Ranged(r, unit)) }

// Best writes the best value of a range alone, to the place of the range.
func (l Language) Best(r interval.Range, unit string) string {
	number, _ := l.Parts(Ranged(r, ""))
	return withUnit(number, unit)
}

// Span writes the ends of a range alone: "0.085 to 0.113".
func (l Language) Span(r interval.Range) string {
	number, spread := l.Parts(Ranged(r, ""))
	if spread == "" {
		return number
	}
	return spread
}

func withUnit(s, unit string) string {
	if unit == "" {
		return s
	}
	return s + NBSP + unit
}
