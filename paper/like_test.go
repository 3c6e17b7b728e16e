package paper

import (
	"math"
	"math/rand/v2"
	"testing"

	"benchleaf/interval"
)

// Two sheets of a paper drawn ten thousand times, one of them read: of those where the
// reading is near a value, the other sheet has the range that Like gives (the
// conditional distribution of two correlated normal numbers, by counting).
func TestOneSheetNarrowsTheNextOnlySoFar(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	const mean, all, sheets, u = 2.0, 0.20, 0.10, 0.05 // logarithmic standard deviations
	logs := func(at, sd float64) interval.Range {
		r := interval.FromStandard(math.Log(at), sd)
		return interval.Range{Low: math.Exp(r.Low), Best: at, High: math.Exp(r.High)}
	}
	before := logs(mean, all)
	paper := math.Sqrt(all*all - sheets*sheets)
	// What a reading of the first with uncertainty u says of it: a normal product.
	own := func(read float64) interval.Range {
		w := all * all / (all*all + u*u)
		return logs(math.Exp(math.Log(mean)+w*(math.Log(read)-math.Log(mean))), math.Sqrt(w)*u)
	}
	held, n, was := 0, 0, 0
	width := 0.0
	for range 20000 {
		m := math.Log(mean) + paper*rng.NormFloat64()
		first, second := m+sheets*rng.NormFloat64(), m+sheets*rng.NormFloat64()
		r := own(math.Exp(first + u*rng.NormFloat64()))
		like := Like(r, before, sheets)
		n++
		if like.Holds(math.Exp(second)) {
			held++
		}
		if r.Holds(math.Exp(second)) {
			was++
		}
		width += math.Log(like.High / like.Low)
	}
	share := float64(held) / float64(n)
	if low, high := binomialRegion(n, 0.01); share < low || share > high {
		t.Errorf("the range for the other sheet holds it in %.3f, want 0.8 (%.3f to %.3f)", share, low, high)
	}
	if own := float64(was) / float64(n); own > 0.5 {
		t.Errorf("the first sheet's own range holds the second in %.2f: the test tells nothing", own)
	}
	if width /= float64(n); width > math.Log(before.High/before.Low) {
		t.Errorf("mean width %.3f, wider than before", width)
	}
}

func TestLikeSheetsAtTheEnds(t *testing.T) {
	before, own := interval.Range{Low: 1.8, Best: 2.2, High: 2.6}, interval.Range{Low: 2.38, Best: 2.4, High: 2.42}
	if got := Like(own, before, 0.5); got.Low > before.Low*1.0001 || got.High < before.High*0.9999 {
		t.Errorf("sheets that differ as much as the class: %v, want what was before, %v", got, before)
	}
	if got := Like(own, before, 0); math.Abs(got.Low-own.Low) > 1e-9 || math.Abs(got.High-own.High) > 1e-9 {
		t.Errorf("sheets that are all the same: %v, want %v", got, own)
	}
	sure := interval.Exactly(2)
	if got := Like(own, sure, 0.1); got != sure {
		t.Errorf("a quantity that was certain became %v", got)
	}
	zero := interval.Range{Low: 0, Best: 10, High: 40}
	if got := Like(interval.Range{Low: 3, Best: 5, High: 8}, zero, 0.2); got.Check("it") != nil || got.Low < 0 || got.High > zero.High {
		t.Errorf("a range from zero: %v", got)
	}
}

// Every class has a spread of each quantity that readings can give.
func TestEveryClassHasASpread(t *testing.T) {
	for _, c := range Classes() {
		for _, q := range []string{"mass", "drained", "soluble_acid", "fixed_acid", "acid", "drying_rate"} {
			s, ok := SpreadOf(Class(c.Class), q)
			if !ok || !(s.Share > 0 && s.Share < 0.5) || s.Basis == "" || s.Source == "" {
				t.Errorf("%s, %s: %+v", c.Class, q, s)
			}
		}
	}
	// Two sheets that are alike do not make a paper even; forty tell what it is.
	s := Spread{Share: 0.1}
	if got := s.WithSheets(2, 0); got < 0.08 {
		t.Errorf("two equal sheets: %g", got)
	}
	if got := s.WithSheets(40, 0.02); math.Abs(got-0.02) > 0.02 {
		t.Errorf("forty sheets that differ by 2 %%: %g", got)
	}
}
