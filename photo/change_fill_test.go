package photo

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Filling three planes at once must give what filling each by itself gives.
func TestFillingThreeAtOnce(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	for range 40 {
		w, h := 1+rng.IntN(70), 1+rng.IntN(70)
		known := newMask(w, h)
		for i := range known.v {
			known.v[i] = rng.IntN(6) == 0
		}
		var p [3]plane
		for c := range p {
			p[c] = newPlane(w, h)
			for i := range p[c].v {
				p[c].v[i] = rng.Float32()
			}
		}
		got := newFilling(known).fill(p)
		for c := range p {
			want := fillFrom(p[c], known)
			for i, v := range want.v {
				if known.count() > 0 && !(math.Abs(float64(got[c].v[i]-v)) < 1e-5) {
					t.Fatalf("%d by %d, plane %d, place %d: %g instead of %g", w, h, c, i, got[c].v[i], v)
				}
			}
		}
	}
}
