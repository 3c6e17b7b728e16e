package interval

import (
	"math"
	"strconv"
	"strings"
)

// The one rule for digits: a value is written to the place of its uncertainty.
// The uncertainty keeps two figures when its three leading ones are 100 to 354,
// else one; 950 to 999 round up to 1000 and two (Particle Data Group, Review of
// Particle Physics, Introduction, section 5.3). Of a range the uncertainty is
// half the width. Nothing is written finer than it was stated.

// Decimals is the place to which a value with uncertainty u is written, as a
// count of decimals, negative before the point. It is not ok where u says
// nothing: 0 and what is no number.
func Decimals(u float64) (d int, ok bool) {
	u = math.Abs(u)
	if u == 0 || math.IsNaN(u) || math.IsInf(u, 0) {
		return 0, false
	}
	exp := int(math.Floor(math.Log10(u)))
	if lead := math.Round(u / math.Pow(10, float64(exp-2))); lead < 355 {
		return 1 - exp, true
	}
	return -exp, true // 950 and above round up to 10 of this place: two figures
}

// Stated counts the decimals that v was stated with, which are many where v was
// computed.
func Stated(v float64) int {
	_, decimals, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
	return len(decimals)
}

// Decimals is the place to which the range and its best value are written.
func (r Range) Decimals() (d int, ok bool) {
	d, ok = Decimals((r.High - r.Low) / 2)
	return min(d, max(Stated(r.Low), Stated(r.Best), Stated(r.High))), ok
}

// Text writes the range for a person: "0.39 to 0.42".
func (r Range) Text() string {
	d, ok := r.Decimals()
	if !ok {
		return Number(r.Best)
	}
	return Fixed(r.Low, d) + " to " + Fixed(r.High, d)
}

// BestText writes the best value to the place of the range.
func (r Range) BestText() string {
	d, ok := r.Decimals()
	if !ok {
		return Number(r.Best)
	}
	return Fixed(r.Best, d)
}

// Digits writes v to the place that a range of this width allows.
func Digits(v, width float64) string {
	d, ok := Decimals(width / 2)
	if !ok {
		return Number(v)
	}
	return Fixed(v, d)
}

// Number writes a number whose uncertainty is not known: as it was given when it
// is whole or has at most seven significant figures, as what a person typed has;
// what a computation left with more, in four.
func Number(v float64) string {
	figures, _, _ := strings.Cut(strconv.FormatFloat(math.Abs(v), 'e', -1, 64), "e")
	if len(figures) > len("1.234567") && (v != math.Trunc(v) || math.Abs(v) >= 1e15) {
		return Rounded(v, 4)
	}
	return signed(strconv.FormatFloat(v, 'f', -1, 64))
}

// Rounded writes a number in so many significant figures, for estimates; none of
// them is idle.
func Rounded(v float64, figures int) string {
	if r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', figures, 64), 64); err == nil {
		v = r
	}
	return signed(strconv.FormatFloat(v, 'f', -1, 64))
}

// Fixed writes v to d decimals; a negative d rounds before the point.
func Fixed(v float64, d int) string {
	if d < 0 {
		p := math.Pow(10, float64(-d))
		v, d = math.Round(v/p)*p, 0
	}
	return signed(strconv.FormatFloat(v, 'f', d, 64))
}

// signed writes the minus as a minus, and none before a zero.
func signed(s string) string {
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}
