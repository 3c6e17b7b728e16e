package photo

import (
	"math"

	"benchleaf/colour"
)

// Point is a place in a picture in pixels; (0, 0) is the middle of the upper
// left pixel.
type Point struct{ X, Y float64 }

// plane is one value a pixel.
type plane struct {
	w, h int
	v    []float32
}

func newPlane(w, h int) plane { return plane{w, h, make([]float32, w*h)} }

// mask marks pixels.
type mask struct {
	w, h int
	v    []bool
}

func newMask(w, h int) mask { return mask{w, h, make([]bool, w*h)} }

// plane is 1 where the mask is set and 0 elsewhere.
func (m mask) plane() plane {
	p := newPlane(m.w, m.h)
	for i, set := range m.v {
		if set {
			p.v[i] = 1
		}
	}
	return p
}

func (m mask) count() int {
	n := 0
	for _, b := range m.v {
		if b {
			n++
		}
	}
	return n
}

// expOf is e^x to a relative 2e-6 near nought and 5e-5 at 80 either way, beyond
// which it stays: a power of two and, for the rest of at most a half, the series
// of 2^x.
func expOf(x float32) float32 {
	y := min(80, max(-80, x)) * (1 / math.Ln2)
	n := int32(y+128.5) - 128
	f := y - float32(n)
	p := 1 + f*(0.69314718+f*(0.24022651+f*(0.05550411+f*(0.00961813+f*(0.00133336+f*0.00015404)))))
	return p * math.Float32frombits(uint32(n+127)<<23)
}

// lnOf is the natural logarithm of a positive normal x to 1e-6: the power of two,
// and the series of the area tangent of what is left of it, between the square
// roots of a half and of two.
func lnOf(x float32) float32 {
	bits := math.Float32bits(x) - 0x3f3504f3 // from the root of a half
	e := int32(bits) >> 23
	m := math.Float32frombits(bits&0x007fffff + 0x3f3504f3)
	s := (m - 1) / (m + 1)
	q := s * s
	return float32(e)*math.Ln2 + s*(2+q*(2.0/3+q*(2.0/5+q*(2.0/7+q*(2.0/9)))))
}

// lab converts to L, a, b triples.
func (l *linearImage) lab() []float32 {
	out := make([]float32, len(l.pix))
	colour.Parallel(l.w*l.h, 1<<14, func(lo, hi int) {
		colour.LinearLabRow(out[3*lo:3*hi], l.pix[3*lo:3*hi])
	})
	return out
}

// densities are -ln of linear light in red, green and blue. What is darker than
// one part in 500 is noise in any camera, and counts as that.
func (l *linearImage) densities() (d [3]plane) {
	for c := range d {
		d[c] = newPlane(l.w, l.h)
	}
	colour.Parallel(l.w*l.h, 1<<13, func(lo, hi int) {
		red, green, blue := d[0].v[lo:hi], d[1].v[lo:hi], d[2].v[lo:hi]
		for i := range red {
			p := l.pix[3*(lo+i):][:3]
			red[i], green[i], blue[i] = -lnOf(max(p[0], 1.0/500)), -lnOf(max(p[1], 1.0/500)), -lnOf(max(p[2], 1.0/500))
		}
	})
	return d
}

// channel copies value c of each triple.
func channel(triples []float32, w, h, c int) plane {
	p := newPlane(w, h)
	for i := range p.v {
		p.v[i] = triples[3*i+c]
	}
	return p
}

// boxBlur is the mean over (2r+1) by (2r+1) pixels, the border repeated.
func (p plane) boxBlur(r int) plane {
	switch {
	case r <= 0:
		return plane{p.w, p.h, append([]float32(nil), p.v...)}
	case r == 1:
		return p.meanOfNine()
	}
	each := 1 / float64(2*r+1)
	across := newPlane(p.w, p.h)
	colour.Parallel(p.h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row, out := p.v[y*p.w:(y+1)*p.w], across.v[y*p.w:(y+1)*p.w]
			var sum float64
			for x := -r; x <= r; x++ {
				sum += float64(row[min(p.w-1, max(0, x))])
			}
			for x := range out {
				out[x] = float32(sum * each)
				sum += float64(row[min(p.w-1, x+r+1)]) - float64(row[max(0, x-r)])
			}
		}
	})
	out := newPlane(p.w, p.h)
	colour.Parallel(p.w, 64, func(lo, hi int) {
		sum := make([]float64, hi-lo)
		for y := -r; y <= r; y++ {
			row := across.v[min(p.h-1, max(0, y))*p.w:]
			for x := lo; x < hi; x++ {
				sum[x-lo] += float64(row[x])
			}
		}
		for y := range p.h {
			in, past := across.v[min(p.h-1, y+r+1)*p.w+lo:][:len(sum)], across.v[max(0, y-r)*p.w+lo:][:len(sum)]
			dst := out.v[y*p.w+lo:][:len(sum)]
			for x, v := range sum {
				dst[x] = float32(v * each)
				sum[x] = v + float64(in[x]) - float64(past[x])
			}
		}
	})
	return out
}

// meanOfNine is boxBlur of 1, by adding up.
func (p plane) meanOfNine() plane {
	out := newPlane(p.w, p.h)
	colour.Parallel(p.h, 16, func(lo, hi int) {
		above, here, below := make([]float32, p.w), make([]float32, p.w), make([]float32, p.w)
		read := func(dst []float32, y int) { // sums of three along row y
			row := p.v[min(p.h-1, max(0, y))*p.w:][:len(dst)]
			left, mid := row[0], row[0]
			for x, right := range row[1:] {
				dst[x] = left + mid + right
				left, mid = mid, right
			}
			dst[len(dst)-1] = left + 2*mid
		}
		read(above, lo-1)
		read(here, lo)
		for y := lo; y < hi; y++ {
			read(below, y+1)
			dst := out.v[y*p.w:][:p.w]
			up, down := above[:len(dst)], below[:len(dst)]
			for x, v := range here[:len(dst)] {
				dst[x] = (up[x] + v + down[x]) * (1.0 / 9)
			}
			above, here, below = here, below, above
		}
	})
	return out
}

// gauss is close to a Gaussian blur: three box blurs of the same variance
// (Kovesi, Fast almost-Gaussian filtering, 2010).
func (p plane) gauss(sigma float64) plane {
	r := int(math.Round((math.Sqrt(4*sigma*sigma+1) - 1) / 2)) // 3 ((2r+1)^2-1)/12 = sigma^2
	if r < 1 {
		r = 1
	}
	return p.boxBlur(r).boxBlur(r).boxBlur(r)
}

// extreme is the largest value over (2r+1) by (2r+1) pixels, or the smallest
// (van Herk and Gil and Werman: three comparisons a pixel whatever r).
func (p plane) extreme(r int, largest bool) plane {
	if r <= 0 {
		return plane{p.w, p.h, append([]float32(nil), p.v...)}
	}
	// The smallest is the largest of the negatives. Positions beyond the ends
	// repeat them, which changes no extreme.
	sign := float32(1)
	if !largest {
		sign = -1
	}
	window := 2*r + 1
	across := newPlane(p.w, p.h)
	colour.Parallel(p.h, 16, func(lo, hi int) {
		padded := make([]float32, p.w+2*r)
		fwd, back := make([]float32, p.w+2*r), make([]float32, p.w+2*r)
		for y := lo; y < hi; y++ {
			row, out := p.v[y*p.w:(y+1)*p.w], across.v[y*p.w:(y+1)*p.w]
			for i := range r {
				padded[i], padded[r+p.w+i] = sign*row[0], sign*row[p.w-1]
			}
			for i, v := range row {
				padded[r+i] = sign * v
			}
			for from := 0; from < len(padded); from += window {
				part := padded[from:min(len(padded), from+window)]
				f, b := fwd[from:][:len(part)], back[from:][:len(part)]
				most := part[0]
				for i, v := range part {
					if v > most {
						most = v
					}
					f[i] = most
				}
				most = part[len(part)-1]
				for i := len(part) - 1; i >= 0; i-- {
					if part[i] > most {
						most = part[i]
					}
					b[i] = most
				}
			}
			end := fwd[window-1:][:len(out)]
			for i, v := range back[:len(out)] {
				out[i] = max(v, end[i])
			}
		}
	})
	out := newPlane(p.w, p.h)
	const strip = 64 // columns that are gone down together
	colour.Parallel((p.w+strip-1)/strip, 1, func(lo, hi int) {
		fwd, back := make([]float32, strip*(p.h+2*r)), make([]float32, strip*(p.h+2*r))
		for ; lo < hi; lo++ {
			x0, n := lo*strip, min(strip, p.w-lo*strip)
			row := func(i int) []float32 { return across.v[min(p.h-1, max(0, i-r))*p.w+x0:][:n] }
			rows := p.h + 2*r
			for i := range rows {
				dst, src := fwd[i*strip:][:n], row(i)
				if i%window == 0 {
					copy(dst, src)
					continue
				}
				before := fwd[(i-1)*strip:][:n]
				for x, v := range src {
					dst[x] = max(v, before[x])
				}
			}
			for i := rows - 1; i >= 0; i-- {
				dst, src := back[i*strip:][:n], row(i)
				if i == rows-1 || (i+1)%window == 0 {
					copy(dst, src)
					continue
				}
				after := back[(i+1)*strip:][:n]
				for x, v := range src {
					dst[x] = max(v, after[x])
				}
			}
			for i := range p.h {
				b, f := back[i*strip:][:n], fwd[(i+window-1)*strip:][:n]
				dst := out.v[i*p.w+x0:][:n]
				for x, v := range b {
					dst[x] = sign * max(v, f[x])
				}
			}
		}
	})
	return out
}

// grow adds to a mask all pixels within r (in the larger of the two axes);
// negative r takes away.
func (m mask) grow(r int) mask {
	out := newMask(m.w, m.h)
	if r == 0 || len(m.v) == 0 {
		copy(out.v, m.v)
		return out
	}
	on := r > 0 // what grows; of a mask that shrinks, the rest
	r = max(r, -r)
	across := newMask(m.w, m.h)
	colour.Parallel(m.h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row, dst := m.v[y*m.w:(y+1)*m.w], across.v[y*m.w:(y+1)*m.w]
			upTo := 0 // marked up to here
			for x, b := range row {
				if b == on {
					for x2 := max(upTo, x-r); x2 < min(m.w, x+r+1); x2++ {
						dst[x2] = true
					}
					upTo = min(m.w, x+r+1)
				}
			}
		}
	})
	colour.Parallel(m.w, 256, func(lo, hi int) {
		near := make([]int, hi-lo) // marked rows within reach of the one at hand
		add := func(y, n int) {
			if y >= 0 && y < m.h {
				for x, b := range across.v[y*m.w+lo : y*m.w+hi] {
					if b {
						near[x] += n
					}
				}
			}
		}
		for y := range min(r, m.h) {
			add(y, 1)
		}
		for y := range m.h {
			add(y+r, 1)
			for x, n := range near {
				out.v[y*m.w+lo+x] = (n > 0) == on
			}
			add(y-r, -1)
		}
	})
	return out
}

// quantile returns the value below which the share q of vs lies; it reorders
// vs. NaN when vs is empty.
func quantile(vs []float32, q float64) float32 {
	if len(vs) == 0 {
		return float32(math.NaN())
	}
	k := min(len(vs)-1, max(0, int(q*float64(len(vs)))))
	if len(vs) > 1000 {
		vs, k = narrow(vs, k)
	}
	lo, hi := 0, len(vs)-1
	for lo < hi { // Hoare's selection
		pivot := vs[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for vs[i] < pivot {
				i++
			}
			for vs[j] > pivot {
				j--
			}
			if i <= j {
				vs[i], vs[j] = vs[j], vs[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return vs[k]
		}
	}
	return vs[k]
}

// narrow counts values by their sign, size and first binary places, and returns
// those among which the one of rank k lies, with its rank among them. It reorders
// vs.
func narrow(vs []float32, k int) ([]float32, int) {
	const places = 19 // of the 32 that are left out
	var count [1 << (32 - places)]int32
	for _, v := range vs {
		count[rankBits(v)>>places]++
	}
	at := 0
	for k >= int(count[at]) {
		k -= int(count[at])
		at++
	}
	n := 0
	for i, v := range vs {
		if rankBits(v)>>places == uint32(at) {
			vs[i], vs[n] = vs[n], v
			n++
		}
	}
	return vs[:n], k
}

// rankBits are a number's bits turned so that they grow with it.
func rankBits(v float32) uint32 {
	b := math.Float32bits(v)
	return b ^ (uint32(int32(b)>>31) | 1<<31)
}

// component is one connected region of a mask.
type component struct {
	pixels []int32 // indices into the mask
	x0, y0 int     // bounding box, x1 and y1 beyond it
	x1, y1 int
}

// components lists the connected regions (eight neighbours) in order of their
// first pixel, and the number of the region of each pixel plus one.
func (m mask) components() ([]component, []int32) {
	return m.componentsBy(make([]int32, len(m.v)))
}

// componentsBy is components, but pixels of different class never join.
func (m mask) componentsBy(class []int32) ([]component, []int32) {
	label := make([]int32, len(m.v))
	var out []component
	for start, b := range m.v {
		if !b || label[start] != 0 {
			continue
		}
		id := int32(len(out) + 1)
		c := component{pixels: []int32{int32(start)}, x0: m.w, y0: m.h}
		label[start] = id
		for k := 0; k < len(c.pixels); k++ {
			i := int(c.pixels[k])
			x, y := i%m.w, i/m.w
			c.x0, c.y0, c.x1, c.y1 = min(c.x0, x), min(c.y0, y), max(c.x1, x+1), max(c.y1, y+1)
			for ny := max(0, y-1); ny <= min(m.h-1, y+1); ny++ {
				for nx := max(0, x-1); nx <= min(m.w-1, x+1); nx++ {
					if j := ny*m.w + nx; m.v[j] && label[j] == 0 && class[j] == class[i] {
						label[j] = id
						c.pixels = append(c.pixels, int32(j))
					}
				}
			}
		}
		out = append(out, c)
	}
	return out, label
}

// fillHoles marks what a mask encloses.
func (m mask) fillHoles() mask {
	outside := newMask(m.w, m.h)
	var todo []int32
	visit := func(x, y int) {
		if i := y*m.w + x; !m.v[i] && !outside.v[i] {
			outside.v[i] = true
			todo = append(todo, int32(i))
		}
	}
	for x := range m.w {
		visit(x, 0)
		visit(x, m.h-1)
	}
	for y := range m.h {
		visit(0, y)
		visit(m.w-1, y)
	}
	for len(todo) > 0 {
		i := int(todo[len(todo)-1])
		todo = todo[:len(todo)-1]
		x, y := i%m.w, i/m.w
		if x > 0 {
			visit(x-1, y)
		}
		if x < m.w-1 {
			visit(x+1, y)
		}
		if y > 0 {
			visit(x, y-1)
		}
		if y < m.h-1 {
			visit(x, y+1)
		}
	}
	out := newMask(m.w, m.h)
	for i, o := range outside.v {
		out.v[i] = !o
	}
	return out
}

// resize takes the nearest pixel.
func (m mask) resize(w, h int) mask {
	out := newMask(w, h)
	for y := range h {
		for x := range w {
			out.v[y*w+x] = m.v[y*m.h/h*m.w+x*m.w/w]
		}
	}
	return out
}
