package chem

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestExp(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 5))
	for i := 0; i < 1000000; i++ {
		x := 1500*rnd.Float64() - 750
		if i%2 == 0 {
			x = 40*rnd.Float64() - 60
		}
		want := math.Exp(x)
		if got := exp(x); math.Abs(got-want) > 1e-15*want {
			t.Fatalf("exp(%v) = %v, want %v", x, got, want)
		}
	}
	for _, x := range []float64{math.Inf(-1), math.Inf(1), -1e300, 1e300, 0} {
		if got := exp(x); got != math.Exp(x) {
			t.Errorf("exp(%v) = %v", x, got)
		}
	}
	if !math.IsNaN(exp(math.NaN())) {
		t.Error("exp(NaN) is a number")
	}
}

var sink float64

func BenchmarkExp(b *testing.B) {
	x := -20.0
	for b.Loop() {
		sink += exp(x)
		x += 1e-9
	}
}

func BenchmarkMathExp(b *testing.B) {
	x := -20.0
	for b.Loop() {
		sink += math.Exp(x)
		x += 1e-9
	}
}
