package photo

import (
	"math"

	"benchleaf/colour"
)

// stainView is a picture of working size with the print taken out.
type stainView struct {
	*paperView
	// paper is the density of the paper in red, green and blue, as if there were
	// no print on it, smoothed by about a pixel.
	paper [3]plane
	// core is deep ink, which no stain is taken for.
	core mask
	// leftover is what print leaves between its strokes.
	leftover float32
	// leftTint is the same for the difference of blue and red.
	leftTint float32
	// busy is how much darker print makes the paper about a place, in the mean.
	busy plane
	// seen is the share of bare paper round a place on which paper rests: 0
	// where everything was carried in from further off.
	seen plane
	// tint is the same for the differences between the colours, which thin ink
	// does not hide.
	tint plane
	// colourless is set for grey pictures.
	colourless bool
	// even is the density of the unstained sheet: light and toning that change
	// slowly over it.
	even [3]plane
	// border is the distance of each pixel from the edge of the face; glare is no
	// edge.
	border []int32
}

// newStainView takes the print out of l; face marks the sheet.
func newStainView(l *linearImage, face mask) *stainView {
	v := &stainView{paperView: viewPaper(l, face)}
	var spread []float32
	for i := 0; i < l.w*l.h; i += 37 {
		spread = append(spread, abs(l.pix[3*i]-l.pix[3*i+2]))
	}
	v.colourless = quantile(spread, 0.99) < 0.01
	v.takeOutPrint()
	v.fitEven()
	v.border = toBorder(face.fillHoles())
	return v
}

// coloured is the share of the face that is printed in colour.
func (v *stainView) coloured() float64 {
	n := 0
	for i, c := range v.colourInk.v {
		if c && v.face.v[i] {
			n++
		}
	}
	return float64(n) / float64(max(1, v.face.count()))
}

// baseSigma is the smoothing of the paper planes, in pixels.
const baseSigma = 1.2

// takeOutPrint makes the paper planes. How dark the paper is in red is read
// between the print. How much more it takes of green and blue is read through
// thin print too: grey ink takes all colours alike, so that over it the
// differences, less what the ink itself adds, are still those of the paper.
func (v *stainView) takeOutPrint() {
	n := v.w * v.h
	bare, thin := newPlane(v.w, v.h), newPlane(v.w, v.h)
	v.core = v.inkCore()
	for i := range n {
		if !v.face.v[i] {
			continue
		}
		if !v.core.v[i] {
			bare.v[i] = 1
		}
		switch depth := v.density[0].v[i] - v.ground[0].v[i]; {
		case !v.print.v[i]:
			thin.v[i] = 1
		case !v.colourInk.v[i] && depth < 1.6: // a stopgap where hardly any paper shows
			thin.v[i] = 0.02 * float32(math.Exp(-2*float64(max(0, depth))))
		}
	}
	v.paper[0], v.seen = smoothWhere(v.density[0], bare)
	v.paper[0] = withoutStrokes(v.paper[0], max(2, v.short()/300))
	v.busy = newPlane(v.w, v.h)
	for i := range n {
		if v.face.v[i] {
			v.busy.v[i] = max(0, v.density[0].v[i]-v.paper[0].v[i])
		}
	}
	v.busy = v.busy.gauss(float64(v.short()) / 40)
	v.leftover = v.leftOfPrint(func(i int) float32 { return v.paper[0].v[i] - v.ground[0].v[i] })
	for c := 1; c < 3; c++ {
		ink := v.inkTint(c)
		d := newPlane(v.w, v.h)
		for i := range n {
			d.v[i] = v.density[c].v[i] - v.density[0].v[i] - ink.at(v.density[0].v[i]-v.ground[0].v[i])
		}
		d, v.tint = smoothWhere(d, thin)
		for i := range n {
			d.v[i] += v.paper[0].v[i]
		}
		v.paper[c] = d
	}
	v.leftTint = v.leftOfPrint(func(i int) float32 {
		return v.paper[2].v[i] - v.ground[2].v[i] - v.paper[0].v[i] + v.ground[0].v[i]
	})
}

// leftOfPrint is how much more there is of what in the paper planes between
// print than there should be, as far as nine tenths of the places near ink go.
func (v *stainView) leftOfPrint(what func(i int) float32) float32 {
	near := v.core.grow(max(2, v.short()/250))
	var left []float32
	for i := 0; i < len(near.v); i += 3 {
		if near.v[i] && v.face.v[i] && v.seen.v[i] > 0.2 {
			left = append(left, what(i))
		}
	}
	if len(left) == 0 {
		return 0
	}
	return quantile(left, 0.9) - quantile(left, 0.4)
}

// inkCore marks ink by its depth: at least half as deep as most of what takes
// away half of the red light, with the soft edge of letters. Ink that is fainter
// is told by being narrow. What is wider than strokes and not as deep as ink is
// no ink, but a stain on which there may be some.
func (v *stainView) inkCore() mask {
	depth := newPlane(v.w, v.h)
	var deep []float32
	for i, f := range v.face.v {
		depth.v[i] = v.density[0].v[i] - v.ground[0].v[i]
		brown := v.density[2].v[i] - v.ground[2].v[i] - depth.v[i]
		if !v.colourInk.v[i] {
			depth.v[i] -= max(0, min(0.5*depth.v[i], 0.5*(brown-0.1)))
		}
		if f && depth.v[i] > 0.6 {
			deep = append(deep, depth.v[i])
		}
	}
	full := float32(1.2)
	if len(deep) > 0 {
		full = quantile(deep, 0.9)
	}
	limit := max(0.6, full/2)
	body, left := v.bodies(depth, limit)
	core := newMask(v.w, v.h)
	for i, f := range v.face.v {
		d := depth.v[i]
		if b := body.v[i]; b > max(0.3, 1.5*left) && b < 0.88*full {
			d -= b
		}
		core.v[i] = f && (d > limit || v.colourInk.v[i])
	}
	return core.grow(max(1, v.short()/600))
}

// bodies is the depth of what is wider than strokes of print, and what print
// leaves of itself in that: the 95th percentile round ink. The width is the
// least that leaves little.
func (v *stainView) bodies(depth plane, ink float32) (body plane, left float32) {
	near := newMask(v.w, v.h)
	for i, f := range v.face.v {
		near.v[i] = f && (depth.v[i] > ink || v.colourInk.v[i])
	}
	near = near.grow(max(2, v.short()/250))
	soft := depth.gauss(1)
	for r := max(2, v.short()/300); ; r += max(1, v.short()/600) {
		body = soft.extreme(r, false).extreme(r, true)
		var rest []float32
		for i, n := range near.v {
			if n && i%3 == 0 {
				rest = append(rest, body.v[i])
			}
		}
		if left = 0; len(rest) > 0 {
			left = quantile(rest, 0.95)
		}
		if left < 0.12 || r >= v.short()/100 {
			return body, left
		}
	}
}

// withoutStrokes takes out of p what is darker than its surroundings and
// narrower than 2r+1 pixels in either direction, as faint letters and hatching
// are (morphological opening); round what is left, corners come back.
func withoutStrokes(p plane, r int) plane {
	open := p.extreme(r, false).extreme(r+1, true)
	for i, x := range open.v {
		open.v[i] = min(x, p.v[i])
	}
	return open.gauss(0.8)
}

// smoothWhere blurs p by baseSigma with weights and carries values in to where
// the weights leave none. It returns the blurred weights too.
func smoothWhere(p, weight plane) (plane, plane) {
	sum := newPlane(p.w, p.h)
	for i, w := range weight.v {
		sum.v[i] = w * p.v[i]
	}
	sum = sum.gauss(baseSigma)
	share := weight.gauss(baseSigma)
	sure := newPlane(p.w, p.h)
	for i, w := range share.v {
		if w > 1e-3 {
			sum.v[i] /= w
			sure.v[i] = min(1, 20*w)
		} else {
			sum.v[i] = 0
		}
	}
	newFilling(sure).pushPull(0, []plane{sum})
	return sum, share
}

// inkCurve is what ink of a depth in red adds to another colour beyond that
// depth, in steps of a tenth from 0.
type inkCurve [17]float32

func (k *inkCurve) at(depth float32) float32 {
	x := max(0, min(15.999, depth*10))
	i := int(x)
	return k[i] + (x-float32(i))*(k[i+1]-k[i])
}

// inkTint reads the curve for colour c from the picture: the median over print
// of each depth, falling to none at none. Stains are seldom as deep as the
// print from which it is read.
func (v *stainView) inkTint(c int) *inkCurve {
	var k inkCurve
	var bins [len(inkCurve{})][]float32
	for i, f := range v.face.v {
		if !f || v.colourInk.v[i] {
			continue
		}
		depth := v.density[0].v[i] - v.ground[0].v[i]
		if bin := int(math.Round(float64(depth * 10))); bin >= 5 && bin < len(bins) {
			bins[bin] = append(bins[bin], v.density[c].v[i]-v.ground[c].v[i]-depth)
		}
	}
	first := 0
	for b := range k {
		switch {
		case len(bins[b]) >= 50:
			k[b] = quantile(bins[b], 0.5)
			if first == 0 {
				first = b
			}
		case first > 0:
			k[b] = k[b-1]
		}
	}
	for b := range first {
		k[b] = k[first] * float32(b) / float32(first)
	}
	return &k
}

// labOf is the colour of a density of linear light with sRGB primaries.
func labOf(d [3]float32) colour.Lab {
	var lin, lab [3]float32
	for c, x := range d {
		lin[c] = float32(math.Exp(-float64(x)))
	}
	colour.LinearLabRow(lab[:], lin[:])
	return colour.Lab{L: float64(lab[0]), A: float64(lab[1]), B: float64(lab[2])}
}

// localPaper is the density of the paper as the surroundings of the shapes show
// it, carried in under them.
func (v *stainView) localPaper(shapes []shape) [3]plane {
	out := newMask(v.w, v.h)
	for _, s := range shapes {
		for _, i := range s.pixels {
			out.v[i] = true
		}
	}
	return v.paperRound(out)
}

// paperRound carries the paper in from outside a region, from a little beyond
// its border on, where its soft edge has ended.
func (v *stainView) paperRound(region mask) (local [3]plane) {
	wide := region.grow(max(3, v.short()/120))
	known := newMask(v.w, v.h)
	for i := range known.v {
		known.v[i] = v.face.v[i] && !wide.v[i] && v.seen.v[i] > 0.02
	}
	for c := range local {
		local[c] = fillFrom(v.paper[c], known).gauss(float64(v.short()) / 150)
	}
	return local
}

// read gives the colours inside a region and round it. Other stains round it
// are left out: what is darker than most of the paper there.
func (v *stainView) read(inside mask) RegionStats {
	ring := inside.grow(max(6, v.short()/12))
	near := inside.grow(max(3, v.short()/120))
	var blues []float32
	for i := range ring.v {
		if ring.v[i] && !near.v[i] && v.face.v[i] && v.seen.v[i] > 0.02 {
			blues = append(blues, v.paper[2].v[i]-v.even[2].v[i])
		}
	}
	out := near
	if len(blues) > 50 {
		mid := quantile(blues, 0.5)
		limit := mid + max(0.05, 3*(mid-quantile(blues, 0.16)))
		for i := range out.v {
			out.v[i] = out.v[i] || v.paper[2].v[i]-v.even[2].v[i] > limit
		}
	}
	local := v.paperRound(out)
	var s RegionStats
	n, bare := 0.0, 0
	all := 0
	for pass := 0; pass < 2 && n == 0; pass++ { // all print: what was carried in is all there is
		for i, b := range inside.v {
			if !b {
				continue
			}
			if pass == 0 {
				all++
				if !v.print.v[i] {
					bare++
				}
			}
			if pass == 0 && v.seen.v[i] < 0.02 {
				continue
			}
			p := labOf([3]float32{v.paper[0].v[i], v.paper[1].v[i], v.paper[2].v[i]})
			q := labOf([3]float32{local[0].v[i], local[1].v[i], local[2].v[i]})
			s.Lab.L, s.Lab.A, s.Lab.B = s.Lab.L+p.L, s.Lab.A+p.A, s.Lab.B+p.B
			s.Paper.L, s.Paper.A, s.Paper.B = s.Paper.L+q.L, s.Paper.A+q.A, s.Paper.B+q.B
			s.MeanDE00 += colour.DE2000(q, p)
			n++
		}
	}
	for _, x := range []*float64{&s.Lab.L, &s.Lab.A, &s.Lab.B, &s.Paper.L, &s.Paper.A, &s.Paper.B, &s.MeanDE00} {
		*x /= math.Max(1, n)
	}
	s.BareShare = float64(bare) / math.Max(1, float64(all))
	return s
}
