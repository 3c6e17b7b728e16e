package interval

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Wilson's interval against other programs and a table. R: prop.test without
// continuity correction, as kept in the tests of the R package cards (5 of 10 and 32
// of 32, 0 of 32) and in the notes of a JavaScript package (430 of 474, 392 of 436,
// 10 of 14), all read. Newcombe, Statistics in Medicine 17, 857, 1998, Table I, method
// 3: from memory, not verified.
func TestProportionAgainstPublishedIntervals(t *testing.T) {
	const z95 = 1.6448536269514722
	for _, x := range []struct {
		source          string
		k, n            int
		z               float64
		low, high, near float64
	}{
		{"R prop.test", 5, 10, z95, 0.2692718, 0.7307282, 1e-7},
		{"R prop.test", 32, 32, z975, 0.8928208, 1, 1e-7},
		{"R prop.test", 0, 32, z975, 0, 0.1071792, 1e-7},
		{"wilson-score-interval", 430, 474, 1.96, 0.8776750858242243, 0.9301239839930541, 1e-12},
		{"wilson-score-interval", 392, 436, 1.96, 0.8672311846637769, 0.9239627360567735, 1e-12},
		{"wilson-score-interval", 10, 14, 1.96, 0.4535045882751561, 0.882788120898909, 1e-12},
		{"Newcombe 1998", 81, 263, z975, 0.2553, 0.3662, 5e-5},
		{"Newcombe 1998", 15, 148, z975, 0.0624, 0.1605, 5e-5},
		{"Newcombe 1998", 0, 20, z975, 0, 0.1611, 5e-5},
		{"Newcombe 1998", 1, 29, z975, 0.0061, 0.1718, 5e-5},
	} {
		got := proportion(x.k, x.n, x.z)
		if math.Abs(got.Low-x.low) > x.near || math.Abs(got.High-x.high) > x.near {
			t.Errorf("%s: %d of %d: %.7f to %.7f, want %.7f to %.7f", x.source, x.k, x.n, got.Low, got.High, x.low, x.high)
		}
	}
	if got := Proportion(0, 0); got.Low != 0 || got.High != 1 {
		t.Errorf("nothing read: %v", got)
	}
}

// The ends are where the score equation holds, and what is counted the other way round
// has the mirrored interval.
func TestProportionSolvesItsEquation(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		n := 1 + r.IntN(300)
		k := r.IntN(n + 1)
		got := Proportion(k, n)
		for _, p := range []float64{got.Low, got.High} {
			d := p - float64(k)/float64(n)
			if want := z975 * z975 * p * (1 - p) / float64(n); p > 0 && p < 1 && math.Abs(d*d-want) > 1e-9 {
				t.Errorf("%d of %d: %g is no root", k, n, p)
			}
		}
		if m := Proportion(n-k, n); math.Abs(m.Low-(1-got.High)) > 1e-12 || math.Abs(m.High-(1-got.Low)) > 1e-12 {
			t.Errorf("%d of %d: %v, the others %v", k, n, got, m)
		}
	}
}
