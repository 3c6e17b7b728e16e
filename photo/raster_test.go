package photo

import (
	"math/rand/v2"
	"testing"
)

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
					t.Fatalf("%d by %d, r %d, at %d, %d: %v %v %v %v, want %v %v %v %v", w, h, r, x, y, most.v[i], least.v[i], more.v[i], fewer.v[i], hi, lo, any, all)
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
