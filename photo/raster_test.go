package photo

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The quick exponential and logarithm against the library's.
func TestExpAndLnAgainstTheLibrary(t *testing.T) {
	for x := -80.0; x <= 80; x += 0.0137 {
		arg := float32(x)
		if want := math.Exp(float64(arg)); !(math.Abs(float64(expOf(arg))/want-1) < 2e-6*math.Max(1, math.Abs(x)/4)) {
			t.Fatalf("e^%g = %g, got %g", x, want, expOf(arg))
		}
		v := float32(math.Exp(x))
		if want := math.Log(float64(v)); !(math.Abs(float64(lnOf(v))-want) < 1e-6*math.Max(1, math.Abs(want)/4)) {
			t.Fatalf("ln %g = %g, got %g", v, want, lnOf(v))
		}
	}
}

// The quick filters against what their comments say, worked out place by place.
func TestExtremeAndGrowAgainstTheirDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	for range 60 {
		w, h, r := 1+rng.IntN(90), 1+rng.IntN(40), rng.IntN(12)
		p, m := newPlane(w, h), newMask(w, h)
		for i := range p.v {
			p.v[i] = float32(rng.NormFloat64())
			m.v[i] = rng.IntN(9) == 0
		}
		most, least, more, fewer := p.extreme(r, true), p.extreme(r, false), m.grow(r), m.grow(-r)
		for y := range h {
			for x := range w {
				i := y*w + x
				hi, lo, any, all := p.v[i], p.v[i], false, true
				for v := max(0, y-r); v <= min(h-1, y+r); v++ {
					for u := max(0, x-r); u <= min(w-1, x+r); u++ {
						j := v*w + u
						hi, lo = max(hi, p.v[j]), min(lo, p.v[j])
						any, all = any || m.v[j], all && m.v[j]
					}
				}
				if most.v[i] != hi || least.v[i] != lo || more.v[i] != any || fewer.v[i] != all {
					t.Fatalf(
						"%d by %d, r %d, at %d, %d: %v %v %v %v, want %v %v %v %v",
						w,
						h,
						r,
						x,
						y,
						most.v[i],
						least.v[i],
						more.v[i],
						fewer.v[i],
						hi,
						lo,
						any,
						all,
					)
				}
			}
		}
	}
}

func BenchmarkExtreme(b *testing.B) {
	p := newPlane(1200, 900)
	for i := range p.v {
		p.v[i] = float32(i * 7919 % 1000)
	}
	for b.Loop() {
		p.extreme(4, false)
	}
}

// The selection against a sorted copy, for lengths below and above that from
// which values are counted first, and for many equal ones.
func TestQuantileAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for round := range 400 {
		vs := make([]float32, 1+rng.IntN(3000))
		for i := range vs {
			vs[i] = float32(rng.NormFloat64() * math.Pow(10, float64(rng.IntN(6)-3)))
			if round%3 == 0 {
				vs[i] = float32(rng.IntN(7) - 3)
			}
		}
		sorted := slices.Clone(vs)
		slices.Sort(sorted)
		q := rng.Float64()
		if round%10 == 0 {
			q = float64(round / 10 % 2)
		}
		want := sorted[min(len(vs)-1, int(q*float64(len(vs))))]
		if got := quantile(vs, q); got != want {
			t.Fatalf("quantile %g of %d values is %g, got %g", q, len(vs), want, got)
		}
		slices.Sort(vs)
		if !slices.Equal(vs, sorted) {
			t.Fatal("values were lost while they were reordered")
		}
	}
}

// The mean over boxes against its definition, the border repeated.
func TestBoxBlurAgainstItsDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	for range 60 {
		w, h, r := 1+rng.IntN(40), 1+rng.IntN(40), rng.IntN(5)
		p := newPlane(w, h)
		for i := range p.v {
			p.v[i] = float32(rng.NormFloat64())
		}
		got := p.boxBlur(r)
		for i, v := range got.v {
			sum := 0.0
			for dy := -r; dy <= r; dy++ {
				for dx := -r; dx <= r; dx++ {
					x, y := min(w-1, max(0, i%w+dx)), min(h-1, max(0, i/w+dy))
					sum += float64(p.v[y*w+x])
				}
			}
			if want := sum / float64((2*r+1)*(2*r+1)); math.Abs(float64(v)-want) > 1e-5 {
				t.Fatalf("%d by %d, reach %d, place %d: %g, want %g", w, h, r, i, v, want)
			}
		}
	}
}
