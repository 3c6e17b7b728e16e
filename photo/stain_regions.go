package photo

import (
	"math"
	"slices"

	"benchleaf/colour"
)

// How stains take red, green and blue light, blue set to 1: brown as water
// stains, foxing and tone are; grey as mould and dirt are.
var (
	brownStain = [3]float64{0.25, 0.55, 1}
	greyStain  = [3]float64{1, 0.9, 1}
)

// estimate is how much of a stain of a colour is seen at each place, and the
// noise of that in the unstained paper about there.
type estimate struct{ e, noise plane }

// amount estimates how much of a stain of colour k explains what the paper is
// darker than the ground. The three channels are weighed so that what varies in
// the paper about there, shade, grain, what print leaves between its lines and
// the noise of the camera, disturbs least (best linear unbiased estimate:
// weights S^-1 k for the covariance S of the unstained paper, read in blocks of
// an eighth of the sheet). sigma is the smoothing in pixels.
func (v *stainView) amount(k [3]float64, ground [3]plane, sigma float64, local bool) estimate {
	var d [3]plane
	for c := range d {
		d[c] = newPlane(v.w, v.h)
		for i := range d[c].v {
			d[c].v[i] = v.paper[c].v[i] - ground[c].v[i]
		}
		d[c] = d[c].gauss(sigma)
	}
	b := v.newBlocks()
	cov := b.each(6, local, func(at []int32) []float32 { return trimmedCovariance(d, at) })
	var w [3]plane
	for c := range w {
		w[c] = newPlane(b.nx, b.ny)
	}
	for i := range b.nx * b.ny {
		s := cov[i]
		m := [3][3]float64{
			{float64(s[0]), float64(s[1]), float64(s[2])},
			{float64(s[1]), float64(s[3]), float64(s[4])},
			{float64(s[2]), float64(s[4]), float64(s[5])},
		}
		for c := range 3 {
			// The colour of stains varies, so that differences between channels
			// that hardly vary in paper must not be all that counts.
			for o := range 3 {
				if o != c {
					m[c][o] *= 0.98
				}
			}
			m[c][c] += 5e-5 // a grey or noiseless picture has no covariance of its own
		}
		for c, x := range weights(k, m) {
			w[c].v[i] = float32(x)
		}
	}
	out := estimate{e: newPlane(v.w, v.h)}
	for c := range w {
		b.spread(w[c], func(i int, x float32) { out.e.v[i] += x * d[c].v[i] })
	}
	n := newPlane(b.nx, b.ny)
	for i, x := range b.each(1, true, func(at []int32) []float32 { return []float32{lowerSpread(out.e, at)} }) {
		n.v[i] = max(0.006, x[0])
	}
	// A stain that covers whole blocks is no noise.
	most := 2 * quantile(slices.Clone(n.v), 0.4)
	for i, x := range n.v {
		n.v[i] = min(x, most)
	}
	out.noise = newPlane(v.w, v.h)
	b.spread(n, func(i int, x float32) { out.noise.v[i] = x })
	return out
}

// blocks are an even grid over the face, at each of which some thousand pixels
// of the paper stand for those about there.
type blocks struct {
	v      *stainView
	nx, ny int
	side   float64
	at     [][]int32
}

func (v *stainView) newBlocks() *blocks {
	b := &blocks{v: v, side: math.Max(8, float64(v.short())/8)}
	b.nx, b.ny = int(math.Ceil(float64(v.w)/b.side)), int(math.Ceil(float64(v.h)/b.side))
	b.at = make([][]int32, b.nx*b.ny)
	step := max(1, int(b.side/40))
	for y := 0; y < v.h; y += step {
		for x := 0; x < v.w; x += step {
			if i := y*v.w + x; v.face.v[i] && max(v.seen.v[i], v.tint.v[i]) > 0.1 {
				k := min(b.ny-1, int(float64(y)/b.side))*b.nx + min(b.nx-1, int(float64(x)/b.side))
				b.at[k] = append(b.at[k], int32(i))
			}
		}
	}
	return b
}

// each reads n values from each block that has enough of the face, takes for
// each the median over it and its neighbours, so that a stain's border that
// crosses a block does not count, and gives the others the median of all.
func (b *blocks) each(n int, local bool, read func(at []int32) []float32) [][]float32 {
	own := make([][]float32, len(b.at))
	for i, at := range b.at {
		if len(at) >= 60 {
			own[i] = read(at)
		}
	}
	out := make([][]float32, len(b.at))
	pick := make([][]float32, n)
	middle := func() []float32 {
		m := make([]float32, n)
		for j := range m {
			if len(pick[j]) > 0 {
				m[j] = quantile(pick[j], 0.4)
			}
			pick[j] = pick[j][:0]
		}
		return m
	}
	gather := func(s []float32) {
		for j, x := range s {
			pick[j] = append(pick[j], x)
		}
	}
	for _, s := range own {
		gather(s)
	}
	all := middle()
	for by := range b.ny {
		for bx := range b.nx {
			found := 0
			for y := max(0, by-1); y <= min(b.ny-1, by+1); y++ {
				for x := max(0, bx-1); x <= min(b.nx-1, bx+1); x++ {
					if s := own[y*b.nx+x]; s != nil {
						gather(s)
						found++
					}
				}
			}
			if m := middle(); found > 0 && local {
				out[by*b.nx+bx] = m
			} else {
				out[by*b.nx+bx] = all
			}
		}
	}
	return out
}

// spread hands each pixel the value of the grid there, linear between middles.
func (b *blocks) spread(grid plane, put func(i int, x float32)) {
	colour.Parallel(b.v.h, 16, func(lo, hi int) {
		row := newPlane(grid.w, 1)
		for y := lo; y < hi; y++ {
			gy := (float64(y)+0.5)/b.side - 0.5
			for k := range row.v {
				row.v[k] = grid.sample(float64(k), gy)
			}
			for x := range b.v.w {
				g := max(0, min(float32(grid.w-1), (float32(x)+0.5)/float32(b.side)-0.5))
				k := int(g)
				put(y*b.v.w+x, row.v[k]+(g-float32(k))*(row.v[min(grid.w-1, k+1)]-row.v[k]))
			}
		}
	})
}

// trimmedCovariance is that of the pixels near the middle in each of three
// planes: rr, rg, rb, gg, gb, bb.
func trimmedCovariance(d [3]plane, at []int32) []float32 {
	var mid, reach [3]float32
	vs := make([]float32, len(at))
	for c := range d {
		for k, i := range at {
			vs[k] = d[c].v[i]
		}
		mid[c] = quantile(vs, 0.5)
		reach[c] = max(0.01, 3*(mid[c]-quantile(vs, 0.16)))
	}
	var s [6]float64
	n := 0.0
	for _, i := range at {
		var x [3]float64
		in := true
		for c := range d {
			x[c] = float64(d[c].v[i] - mid[c])
			in = in && math.Abs(x[c]) < float64(reach[c])
		}
		if !in {
			continue
		}
		n++
		j := 0
		for a := range 3 {
			for b := a; b < 3; b++ {
				s[j] += x[a] * x[b]
				j++
			}
		}
	}
	out := make([]float32, 6)
	for j := range out {
		out[j] = float32(s[j] / math.Max(1, n))
	}
	return out
}

// lowerSpread is the spread of e on its lighter side, since the darker holds the
// stains, as a standard deviation.
func lowerSpread(e plane, at []int32) float32 {
	vs := make([]float32, len(at))
	for k, i := range at {
		vs[k] = e.v[i]
	}
	mid := quantile(vs, 0.5)
	return mid - quantile(vs, 0.16)
}

// weights returns S^-1 k, scaled so that the estimate of k itself is 1.
func weights(k [3]float64, s [3][3]float64) [3]float64 {
	inv, ok := colour.Matrix(s).Inverse()
	if !ok {
		return [3]float64{0, 0, 1}
	}
	w := inv.Apply(k)
	gain := w[0]*k[0] + w[1]*k[1] + w[2]*k[2]
	for c := range w {
		w[c] /= gain
	}
	return w
}

// nearGround follows the paper within a fortieth of the sheet, bridging what
// stands out of an estimate: against it only spots and lines are seen, no shade.
func (v *stainView) nearGround(x estimate) (ground [3]plane) {
	known := newMask(v.w, v.h)
	for i := range known.v {
		known.v[i] = v.face.v[i] && x.e.v[i] < max(0.06, 2.5*x.noise.v[i])
	}
	for c := range ground {
		ground[c] = fillFrom(v.paper[c], known).gauss(float64(v.short()) / 40)
	}
	return ground
}

// followEdges adds to the ground what darkens evenly along each side of the
// face: toned edges, the shade of a curled margin. It is the median along a
// fifth of the side, at each distance up to a tenth of the sheet, as far as it
// rises towards the edge; a stain at the edge is shorter than that.
func (v *stainView) followEdges() {
	reach := max(4, v.short()/10)
	const parts = 5
	for side := range 4 {
		length := v.h
		if side%2 == 1 {
			length = v.w
		}
		// inward steps from the first face pixel of line k, for sides left, top,
		// right, bottom
		start := make([]int, length)
		index := func(k, d int) int {
			p := start[k] + d
			switch side {
			case 0:
				return k*v.w + p
			case 1:
				return p*v.w + k
			case 2:
				return k*v.w + v.w - 1 - p
			}
			return (v.h-1-p)*v.w + k
		}
		depth := v.w + v.h - length
		for k := range start {
			for start[k] = 0; start[k] < depth && !v.face.v[index(k, 0)]; start[k]++ {
			}
		}
		for c := range v.even {
			var profile [parts][]float32
			var vs []float32
			for p := range profile {
				profile[p] = make([]float32, reach+1)
				for d := range profile[p] {
					vs = vs[:0]
					for k := length * p / parts; k < length*(p+1)/parts; k++ {
						if start[k]+d < depth {
							i := index(k, d)
							vs = append(vs, v.paper[c].v[i]-v.even[c].v[i])
						}
					}
					if len(vs) > 0 {
						profile[p][d] = quantile(vs, 0.5)
					}
				}
				rise := profile[p]
				last := rise[reach]
				for d := reach; d >= 0; d-- { // never falling towards the edge
					rise[d] = max(rise[d], last)
					last = rise[d]
				}
				for d, base := 0, rise[reach]; d <= reach; d++ {
					rise[d] -= base
				}
			}
			for k := range length {
				at := float64(k)/float64(length)*parts - 0.5
				p := min(parts-2, max(0, int(math.Floor(at))))
				t := float32(math.Min(1, math.Max(0, at-float64(p))))
				for d := 0; d <= reach && start[k]+d < depth; d++ {
					v.even[c].v[index(k, d)] += profile[p][d]*(1-t) + profile[p+1][d]*t
				}
			}
		}
	}
}

// hills splits what rises above half of least into hills and keeps of each what is above
// half of its height. Two summits are one hill when the saddle between them
// lies high.
func hills(e plane, face mask, least plane) (mask, []int32, []float32) {
	var order []int32
	for i, x := range e.v {
		if face.v[i] && x > least.v[i]/2 {
			order = append(order, int32(i))
		}
	}
	slices.SortFunc(order, func(a, b int32) int {
		switch {
		case e.v[a] > e.v[b]:
			return -1
		case e.v[a] < e.v[b]:
			return 1
		}
		return int(a - b)
	})
	hill := make([]int32, len(e.v)) // 0: not yet; else number of a hill
	parent := []int32{0}
	peak := []float32{0}
	root := func(h int32) int32 {
		for parent[h] != h {
			parent[h] = parent[parent[h]]
			h = parent[h]
		}
		return h
	}
	for _, i := range order {
		x, y := int(i)%e.w, int(i)/e.w
		var best int32
		for ny := max(0, y-1); ny <= min(e.h-1, y+1); ny++ {
			for nx := max(0, x-1); nx <= min(e.w-1, x+1); nx++ {
				h := hill[ny*e.w+nx]
				if h == 0 {
					continue
				}
				h = root(h)
				if best == 0 || h == best {
					best = h
					continue
				}
				// Two hills meet at this saddle.
				small, large := best, h
				if peak[small] > peak[large] {
					small, large = large, small
				}
				if rise := float64(peak[small] - e.v[i]); rise < math.Max(
					0.3*float64(peak[small]),
					0.5*float64(least.v[i]),
				) {
					parent[small] = large
					best = large
				} else if peak[h] > peak[best] {
					best = h
				}
			}
		}
		if best == 0 {
			best = int32(len(parent))
			parent = append(parent, best)
			peak = append(peak, e.v[i])
		}
		hill[i] = best
	}
	// The height of a hill is that of its upper part, not of one noisy pixel.
	upper := make([][]float32, len(parent))
	for _, i := range order {
		h := root(hill[i])
		if e.v[i] > peak[h]/2 {
			upper[h] = append(upper[h], e.v[i])
		}
	}
	height := make([]float32, len(parent))
	for h, vs := range upper {
		if len(vs) > 0 {
			height[h] = quantile(vs, 0.8)
		}
	}
	out := newMask(e.w, e.h)
	for _, i := range order {
		hill[i] = root(hill[i])
		out.v[i] = e.v[i] >= height[hill[i]]/2
	}
	return out, hill, height
}

// beyondShore is the mean of e at a twentieth of the sheet outside a region,
// where a stain has ended and a slow change has not; other regions are left
// out.
func (v *stainView) beyondShore(e plane, label []int32, id int32, c component) float32 {
	reach := max(6, v.short()/25)
	x0, y0 := max(0, c.x0-reach), max(0, c.y0-reach)
	x1, y1 := min(v.w, c.x1+reach), min(v.h, c.y1+reach)
	local := newMask(x1-x0, y1-y0)
	for _, i := range c.pixels {
		local.v[(int(i)/v.w-y0)*local.w+int(i)%v.w-x0] = true
	}
	far, near := local.grow(reach), local.grow(reach*2/3)
	var sum float32
	n := 0
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			i, j := y*v.w+x, (y-y0)*local.w+x-x0
			if far.v[j] && !near.v[j] && v.face.v[i] && label[i] == 0 {
				sum += e.v[i]
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float32(n)
}

// toBorder is the distance of each pixel from what is in the mask or not picture,
// in pixels along and across (chessboard).
func toBorder(v mask) []int32 {
	d := make([]int32, v.w*v.h)
	for y := range v.h {
		for x := range v.w {
			i := y*v.w + x
			if !v.v[i] {
				continue
			}
			d[i] = 1
			if x > 0 && y > 0 && x < v.w-1 {
				d[i] = 1 + min(d[i-1], d[i-v.w], d[i-v.w-1], d[i-v.w+1])
			}
		}
	}
	for y := v.h - 1; y >= 0; y-- {
		for x := v.w - 1; x >= 0; x-- {
			i := y*v.w + x
			if d[i] == 0 {
				continue
			}
			if x == v.w-1 || y == v.h-1 || x == 0 {
				d[i] = 1
				continue
			}
			d[i] = min(d[i], 1+min(d[i+1], d[i+v.w], d[i+v.w+1], d[i+v.w-1]))
		}
	}
	return d
}

// hugsBorder tells the toned or shaded edge of a sheet from a stain at the edge:
// it runs along the border and is shallow for its length.
func (v *stainView) hugsBorder(c component) bool {
	short := float64(v.short())
	// The outermost pixels are often spoilt, so the length is taken a little
	// inside too.
	for _, level := range [2]int32{2, int32(max(3, v.short()/33))} {
		length := 0
		for _, i := range c.pixels {
			if v.border[i] == level {
				length++
			}
		}
		if length < 4 {
			continue
		}
		depth := float64(len(c.pixels)) / float64(length)
		if depth < 0.2*float64(length) && depth < 0.16*short {
			return true
		}
	}
	return false
}

// fallsFromBorder tells tone or shade that is deepest at the very edge and falls
// off inwards from a stain, which has a body.
func fallsFromBorder(e plane, c component, border []int32) bool {
	least, most := int32(math.MaxInt32), int32(0)
	for _, i := range c.pixels {
		least, most = min(least, border[i]), max(most, border[i])
	}
	if least > 4 || most-least < 6 {
		return false
	}
	var sum [3]float32
	var n [3]int
	for _, i := range c.pixels {
		third := min(2, 3*(border[i]-least)/(most-least+1))
		sum[third] += e.v[i]
		n[third]++
	}
	if n[0] == 0 || n[1] == 0 {
		return false
	}
	return sum[0]/float32(n[0]) > 1.3*sum[1]/float32(n[1])
}

// witnessed tells whether a region rests on paper that was seen, not on what
// was carried in under print, and is as dark there as on the whole. What is grey
// could be print, so that more of it must be bare.
func (v *stainView) witnessed(e plane, c component, h float32, grey bool) bool {
	var sum float32
	n, bare := 0, 0
	for _, i := range c.pixels {
		if !v.core.v[i] {
			bare++
		}
		if max(v.seen.v[i], v.tint.v[i]) > 0.2 {
			sum += e.v[i]
			n++
		}
	}
	if grey && 5*bare < 2*len(c.pixels) {
		return false
	}
	return n >= 6 && 8*n >= len(c.pixels) && sum > 0.5*h*float32(n)
}

// spotSigma is the smoothing for spots and lines, in pixels.
const spotSigma = 1

// thickness is twice the largest distance of a region's pixel from outside it.
func (v *stainView) thickness(c component) int {
	w, h := c.x1-c.x0+2, c.y1-c.y0+2
	local := newMask(w, h)
	for _, i := range c.pixels {
		local.v[(int(i)/v.w-c.y0+1)*w+int(i)%v.w-c.x0+1] = true
	}
	most := int32(0)
	for _, d := range toBorder(local) {
		most = max(most, d)
	}
	return int(2*most) - 1
}

// shoreWidth is over how many pixels a region of height h would fall to nothing
// at the slope of its shore.
func (v *stainView) shoreWidth(soft plane, m mask, c component, h float32) float64 {
	var slopes []float32
	for _, i := range c.pixels {
		x, y := int(i)%v.w, int(i)/v.w
		if x < 1 || y < 1 || x >= v.w-1 || y >= v.h-1 {
			continue
		}
		w := int32(v.w)
		for _, j := range [4]int32{i - 1, i + 1, i - w, i + w} {
			if !m.v[j] && v.face.v[j] {
				dx, dy := soft.v[i+1]-soft.v[i-1], soft.v[i+w]-soft.v[i-w]
				slopes = append(slopes, float32(math.Hypot(float64(dx), float64(dy))/2))
				break
			}
		}
	}
	if len(slopes) == 0 {
		return math.Inf(1)
	}
	return float64(h / max(1e-6, quantile(slopes, 0.5)))
}
