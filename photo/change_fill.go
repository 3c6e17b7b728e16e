package photo

import "slices"

// filling fills in what is not known from what is known round it, by a pyramid of
// means (push and pull, Gortler and others, The lumigraph, 1996); up to three planes
// at once, and any number of times.
type filling struct {
	// weights tell how well each place is known, 0 to 1, at halving sizes.
	weights []plane
}

func newFilling(fine plane) *filling {
	f := &filling{[]plane{fine}}
	for fine.w > 2 && fine.h > 2 {
		coarse := newPlane((fine.w+1)/2, (fine.h+1)/2)
		for y := range coarse.h {
			for x := range coarse.w {
				var sum float32
				for v := 2 * y; v < min(fine.h, 2*y+2); v++ {
					for u := 2 * x; u < min(fine.w, 2*x+2); u++ {
						sum += fine.v[v*fine.w+u]
					}
				}
				// One of the four is enough for a mean.
				coarse.v[y*coarse.w+x] = min(1, sum)
			}
		}
		f.weights = append(f.weights, coarse)
		fine = coarse
	}
	return f
}

// fill returns p with what is not known filled in.
func (f *filling) fill(p [3]plane) [3]plane {
	for c := range p {
		p[c].v = slices.Clone(p[c].v)
	}
	f.pushPull(0, p[:])
	return p
}

// fillFrom keeps a plane where known and fills the rest.
func fillFrom(p plane, known mask) plane {
	p.v = slices.Clone(p.v)
	newFilling(known.plane()).pushPull(0, []plane{p})
	return p
}

// pushPull fills in one level from the next coarser one, worked out from it.
func (f *filling) pushPull(level int, p []plane) {
	w := f.weights[level]
	if level+1 == len(f.weights) {
		fillByMean(w, p)
		return
	}
	next := f.weights[level+1]
	coarse := make([]plane, len(p))
	for c := range coarse {
		coarse[c] = newPlane(next.w, next.h)
	}
	for y := range next.h {
		for x := range next.w {
			var sum [3]float32
			var n float32
			for v := 2 * y; v < min(w.h, 2*y+2); v++ {
				for u := 2 * x; u < min(w.w, 2*x+2); u++ {
					if i := v*w.w + u; w.v[i] > 0 {
						n += w.v[i]
						for c := range p {
							sum[c] += w.v[i] * p[c].v[i]
						}
					}
				}
			}
			if n > 0 {
				for c := range p {
					coarse[c].v[y*next.w+x] = sum[c] / n
				}
			}
		}
	}
	f.pushPull(level+1, coarse)
	for y := range w.h {
		// Between the middles of the coarse pixels: three parts of the nearer.
		near := y / 2 * next.w
		far := min(next.h-1, max(0, y/2-1+2*(y&1))) * next.w
		for x := range w.w {
			i := y*w.w + x
			if w.v[i] >= 1 {
				continue
			}
			n, e := x/2, min(next.w-1, max(0, x/2-1+2*(x&1)))
			k := w.v[i]
			for c := range p {
				v := coarse[c].v
				p[c].v[i] = k*p[c].v[i] + (1-k)*(0.5625*v[near+n]+0.1875*(v[near+e]+v[far+n])+0.0625*v[far+e])
			}
		}
	}
}

// fillByMean fills in the coarsest level.
func fillByMean(w plane, p []plane) {
	for c := range p {
		var sum, n float32
		for i, k := range w.v {
			sum, n = sum+k*p[c].v[i], n+k
		}
		for i, k := range w.v {
			if n > 0 {
				p[c].v[i] = k*p[c].v[i] + (1-k)*sum/n
			}
		}
	}
}
