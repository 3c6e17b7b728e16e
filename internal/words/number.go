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
}

// Figure writes f by the rule of its uncertainty: "12.23 ± 0.05", "0.098 %
// (0.085 to 0.113)", or the number as it was given.
func (l Language) Figure(f Figure) string {
	switch {
	case f.Range != nil:
		return l.Range(*f.Range, f.Unit)
	case f.Uncertainty != nil:
		return l.PlusMinus(f.Value, *f.Uncertainty, f.Unit)
	}
	return l.Quantity(f.Value, f.Unit)
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
	d, ok := decimals(u)
	if !ok {
		return l.Quantity(v, unit)
	}
	if _, stated, _ := strings.Cut(strconv.FormatFloat(u, 'f', -1, 64), "."); d > len(stated) {
		d = len(stated)
	}
	return withUnit(fixed(v, d)+" ± "+fixed(u, d), unit)
}

// Range writes a best value with its 10 to 90 % points, to the place that half
// its width allows as an uncertainty: "0.098 % CaCO3 (0.085 to 0.113)".
func (l Language) Range(r interval.Range, unit string) string {
	if r.Low == r.High {
		return l.Quantity(r.Best, unit)
	}
	return l.Best(r, unit) + " (" + l.Span(r) + ")"
}

// Best writes the best value of a range alone, to the place of the range.
func (l Language) Best(r interval.Range, unit string) string {
	d, ok := decimals((r.High - r.Low) / 2)
	if !ok {
		return l.Quantity(r.Best, unit)
	}
	return withUnit(fixed(r.Best, d), unit)
}

// Span writes the ends of a range alone: "0.085 to 0.113".
func (l Language) Span(r interval.Range) string {
	d, ok := decimals((r.High - r.Low) / 2)
	if !ok {
		return l.Number(r.Best)
	}
	return fixed(r.Low, d) + " to " + fixed(r.High, d)
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
