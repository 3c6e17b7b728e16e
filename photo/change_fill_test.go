package photo

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Filling three planes at once must give what a plain pyramid of each by itself gives.
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
		got := newFilling(known.plane()).fill(p)
		for c := range p {
			want := filledAlone(p[c], known)
			for i, v := range want.v {
				if known.count() > 0 && !(math.Abs(float64(got[c].v[i]-v)) < 1e-5) {
					t.Fatalf("%d by %d, plane %d, place %d: %g instead of %g", w, h, c, i, got[c].v[i], v)
				}
			}
		}
	}
}

// filledAlone keeps a plane where known and fills the rest from a pyramid of means
// of what is known (push and pull, Gortler and others, The lumigraph, 1996).
func filledAlone(p plane, known mask) plane {
	weight := newPlane(p.w, p.h)
	value := newPlane(p.w, p.h)
	for i, k := range known.v {
		if k {
			weight.v[i], value.v[i] = 1, p.v[i]
		}
	}
	pushPullAlone(value, weight)
	return value
}

// pushPullAlone replaces values of weight below one by those of the next coarser
// level in the share that is missing.
func pushPullAlone(value, weight plane) {
	if value.w <= 2 || value.h <= 2 {
		var sum, n float32
		for i, w := range weight.v {
			sum, n = sum+w*value.v[i], n+w
		}
		for i, w := range weight.v {
			if n > 0 {
				value.v[i] = w*value.v[i] + (1-w)*sum/n
			}
		}
		return
	}
	cw, ch := (value.w+1)/2, (value.h+1)/2
	cv, cwt := newPlane(cw, ch), newPlane(cw, ch)
	for y := range ch {
		for x := range cw {
			var sum, n float32
			for dy := range 2 {
				for dx := range 2 {
					if xx, yy := 2*x+dx, 2*y+dy; xx < value.w && yy < value.h {
						i := yy*value.w + xx
						sum, n = sum+weight.v[i]*value.v[i], n+weight.v[i]
					}
				}
			}
			if n > 0 {
				cv.v[y*cw+x] = sum / n
			}
			// Half of the four must be known before a mean is taken for sure.
			cwt.v[y*cw+x] = min(1, n)
		}
	}
	pushPullAlone(cv, cwt)
	for y := range value.h {
		for x := range value.w {
			i := y*value.w + x
			if w := weight.v[i]; w < 1 {
				value.v[i] = w*value.v[i] + (1-w)*cv.sample(float64(x)/2-0.25, float64(y)/2-0.25)
			}
		}
	}
}
