package photo

import (
	"math"

	"benchleaf/colour"
)

// maxAlignPixels bounds the size at which pictures are aligned. Larger ones are
// first averaged over whole pixels: a hundredth of such a pixel is found all the
// same, and memory stays bounded.
const maxAlignPixels = 16_000_000

// pyramid holds the lightness of a picture at halving sizes.
type pyramid struct {
	// step is how many pixels of the picture lie along one of level 0.
	step   int
	levels []plane
}

// newPyramid makes levels until the longer side is below 2*least.
func newPyramid(m *Image, least int) *pyramid {
	p := &pyramid{step: 1}
	for m.W/p.step*(m.H/p.step) > maxAlignPixels {
		p.step++
	}
	p.levels = []plane{luma(m, p.step)}
	for {
		last := p.levels[len(p.levels)-1]
		if max(last.w, last.h) < 2*least || min(last.w, last.h) < 8 {
			return p
		}
		p.levels = append(p.levels, last.halve())
	}
}

// scale is how many pixels of the picture lie along one of a level.
func (p *pyramid) scale(level int) float64 { return float64(p.step) * float64(int(1)<<level) }

// luma is the weighted sum of the encoded values (weights of ITU-R BT.601, as
// in JPEG), 0 to 255, averaged over step by step pixels and smoothed. Encoded
// values are near to even steps of lightness, so that grain weighs alike in light
// and dark.
func luma(m *Image, step int) plane {
	p := newPlane(max(1, m.W/step), max(1, m.H/step))
	if p.w < 3 || p.h < 3 { // too small to be smoothed
		for y := range p.h {
			m.lumaRow(p.v[y*p.w:(y+1)*p.w], y, step)
		}
		return p
	}
	colour.Parallel(p.h, 16, func(lo, hi int) {
		above, here, below := make([]float32, p.w), make([]float32, p.w), make([]float32, p.w)
		read := func(dst []float32, y int) {
			m.lumaRow(dst, min(p.h-1, max(0, y)), step)
			smoothRow(dst)
		}
		read(above, lo-1)
		read(here, lo)
		for y := lo; y < hi; y++ {
			read(below, y+1)
			dst := p.v[y*p.w : (y+1)*p.w]
			up, down := above[:len(dst)], below[:len(dst)]
			for x, v := range here[:len(dst)] {
				dst[x] = 0.25*(up[x]+down[x]) + 0.5*v
			}
			above, here, below = here, below, above
		}
	})
	return p
}

// lumaRow is row y of luma before it is smoothed.
func (m *Image) lumaRow(dst []float32, y, step int) {
	if step == 1 {
		row := m.Pix[4*m.W*y : 4*m.W*(y+1)]
		for x := range dst {
			q := row[4*x : 4*x+4 : 4*x+4]
			dst[x] = float32(19595*uint32(q[0])+38470*uint32(q[1])+7471*uint32(q[2])) * (1.0 / 65536)
		}
		return
	}
	for x := range dst {
		var sum uint32
		for dy := range step {
			q := m.Pix[4*(m.W*(y*step+dy)+x*step):]
			for dx := range step {
				sum += (19595*uint32(q[4*dx]) + 38470*uint32(q[4*dx+1]) + 7471*uint32(q[4*dx+2])) >> 8
			}
		}
		dst[x] = float32(sum) * (1.0 / 256) / float32(step*step)
	}
}

// smooth blurs with 1 2 1 along and across, which takes the worst of pixel noise
// and makes straight lines between pixels a fair guess. It works in place.
func (p plane) smooth() plane {
	if p.w < 3 || p.h < 3 {
		return p
	}
	colour.Parallel(p.h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			smoothRow(p.v[y*p.w : (y+1)*p.w])
		}
	})
	colour.Parallel(p.w, 256, func(lo, hi int) {
		above := make([]float32, hi-lo)
		copy(above, p.v[lo:hi])
		for y := range p.h {
			row := p.v[y*p.w+lo : y*p.w+hi]
			next := row
			if y+1 < p.h {
				next = p.v[(y+1)*p.w+lo : (y+1)*p.w+hi]
			}
			above, next = above[:len(row)], next[:len(row)]
			for x, here := range row {
				row[x] = 0.25*(above[x]+next[x]) + 0.5*here
				above[x] = here
			}
		}
	})
	return p
}

// smoothRow blurs with 1 2 1 in place.
func smoothRow(row []float32) {
	left, here := row[0], row[0]
	for x, right := range row[1:] {
		row[x] = 0.25*(left+right) + 0.5*here
		left, here = here, right
	}
	row[len(row)-1] = 0.25*left + 0.75*here
}

// halve takes every second pixel after a blur with 1 3 3 1, whose middle lies
// between pixels: pixel (x, y) of the result is centred on (2x+1/2, 2y+1/2).
func (p plane) halve() plane {
	out := newPlane(max(1, p.w/2), max(1, p.h/2))
	colour.Parallel(out.h, 16, func(lo, hi int) {
		line := make([]float32, p.w+3)
		for y := lo; y < hi; y++ {
			r0 := p.v[max(0, 2*y-1)*p.w:][:p.w]
			r1 := p.v[min(p.h-1, 2*y)*p.w:][:p.w]
			r2 := p.v[min(p.h-1, 2*y+1)*p.w:][:p.w]
			r3 := p.v[min(p.h-1, 2*y+2)*p.w:][:p.w]
			mid := line[1 : p.w+1]
			for x := range mid {
				mid[x] = 0.125*(r0[x]+r3[x]) + 0.375*(r1[x]+r2[x])
			}
			line[0], line[p.w+1], line[p.w+2] = mid[0], mid[p.w-1], mid[p.w-1]
			dst := out.v[y*out.w : (y+1)*out.w]
			for x := range dst {
				q := line[2*x : 2*x+4 : 2*x+4]
				dst[x] = 0.125*(q[0]+q[3]) + 0.375*(q[1]+q[2])
			}
		}
	})
	return out
}

// resample makes a plane of another size, at most the same; each value is a
// triangle-weighted mean over twice the area of a new pixel.
func (p plane) resample(w, h int) plane {
	if w == p.w && h == p.h {
		return p
	}
	columns, rows := tents(p.w, w), tents(p.h, h)
	across := newPlane(w, p.h)
	colour.Parallel(p.h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row, dst := p.v[y*p.w:(y+1)*p.w], across.v[y*w:(y+1)*w]
			for x := range dst {
				t := &columns[x]
				var sum float32
				for i, k := range t.weight {
					sum += k * row[t.from+i]
				}
				dst[x] = sum
			}
		}
	})
	out := newPlane(w, h)
	colour.Parallel(h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			t, dst := &rows[y], out.v[y*w:(y+1)*w]
			for i, k := range t.weight {
				src := across.v[(t.from+i)*w:][:w]
				for x := range dst {
					dst[x] += k * src[x]
				}
			}
		}
	})
	return out
}

// tent is the weights of a run of pixels in one new pixel.
type tent struct {
	from   int
	weight []float32
}

func tents(from, to int) []tent {
	out := make([]tent, to)
	scale := math.Max(1, float64(from)/float64(to))
	for i := range out {
		middle := (float64(i)+0.5)*float64(from)/float64(to) - 0.5
		lo := max(0, int(math.Ceil(middle-scale)))
		hi := min(from-1, int(math.Floor(middle+scale)))
		t := tent{from: lo}
		var sum float64
		for k := lo; k <= hi; k++ {
			w := math.Max(1e-6, 1-math.Abs(float64(k)-middle)/scale)
			t.weight = append(t.weight, float32(w))
			sum += w
		}
		for k := range t.weight {
			t.weight[k] /= float32(sum)
		}
		out[i] = t
	}
	return out
}
