package words

import (
	"math"
	"strconv"
	"strings"

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
		d, ok = decimals((f.Range.High - f.Range.Low) / 2)
	case f.Uncertainty != nil:
		d, ok = decimals(*f.Uncertainty)
		if _, stated, _ := strings.Cut(strconv.FormatFloat(*f.Uncertainty, 'f', -1, 64), "."); d > len(stated) {
			d = len(stated)
		}
	}
	if most := int(math.Ceil(-math.Log10(f.Least) - 1e-9)); f.Least > 0 && (!ok || d > most) {
		d = most
	} else if !ok {
		return l.Number(f.Value), ""
	}
	switch {
	case f.Range != nil:
		if low, high := fixed(f.Range.Low, d), fixed(f.Range.High, d); low != high {
			spread = low + " to " + high
		}
	case f.Uncertainty != nil:
		spread = "± " + fixed(*f.Uncertainty, d)
	}
	return fixed(f.Value, d), spread
}

// Number writes a number that has no stated uncertainty in at most four
// significant figures, none of them idle; whole numbers keep all theirs.
func (l Language) Number(v float64) string {
	if v != math.Trunc(v) || math.Abs(v) >= 1e15 {
		if r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64); err == nil {
			v = r
		}
	}
	return minus(strconv.FormatFloat(v, 'f', -1, 64))
}

// Quantity is Number with a unit.
func (l Language) Quantity(v float64, unit string) string { return withUnit(l.Number(v), unit) }

// PlusMinus writes a value with its uncertainty u, both to the same place:
// "7.9 ± 0.1 mm". The uncertainty keeps two figures when they are 10 to 35,
// else one (the rule of the Particle Data Group: 100 to 354 of its three
// leading digits two figures, 355 to 949 one, 950 to 999 up to 1000 and two),
// and never more than it was stated with: 12.0 ± 0.1.
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

// decimals is the place to which an uncertainty is written, as a count of
// decimals, negative before the point. It is not ok for 0 and what is no number.
func decimals(u float64) (d int, ok bool) {
	u = math.Abs(u)
	if u == 0 || math.IsNaN(u) || math.IsInf(u, 0) {
		return 0, false
	}
	exp := int(math.Floor(math.Log10(u)))
	lead := math.Round(u / math.Pow(10, float64(exp-2))) // three leading digits
	if lead < 355 {
		return 1 - exp, true
	}
	return -exp, true // 950 and above round up to 10 of this place: two figures
}

// fixed writes v to d decimals; a negative d rounds before the point.
func fixed(v float64, d int) string {
	if d < 0 {
		p := math.Pow(10, float64(-d))
		v, d = math.Round(v/p)*p, 0
	}
	s := strconv.FormatFloat(v, 'f', d, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return minus(s)
}

func minus(s string) string { return strings.Replace(s, "-", "−", 1) }

func withUnit(s, unit string) string {
	if unit == "" {
		return s
	}
	return s + NBSP + unit
}
