package photo

import (
	"math"
	"slices"
)

// shape is a region at the working size.
type shape struct {
	pixels []int32
	rings  [][]Point
}

// finds gathers regions: field is above 0 where a stain has more than half of
// its strength, and passes 0 at its border.
type finds struct {
	field  plane
	height plane // of the stain at each of its pixels, 0 elsewhere
}

func newFinds(w, h int) *finds {
	f := &finds{newPlane(w, h), newPlane(w, h)}
	for i := range f.field.v {
		f.field.v[i] = -1
	}
	return f
}

// add lays a region on: pixels of e that lie above its edge, and the ones round
// them, by which the border is found between pixels.
func (f *finds) add(e plane, pixels []int32, edge float32) {
	own := make(map[int32]bool, len(pixels))
	for _, i := range pixels {
		own[i] = true
		f.field.v[i] = max(f.field.v[i], e.v[i]/edge-1)
		f.height.v[i] = max(f.height.v[i], 2*edge)
	}
	for _, i := range pixels {
		x, y := int(i)%e.w, int(i)/e.w
		for ny := max(0, y-1); ny <= min(e.h-1, y+1); ny++ {
			for nx := max(0, x-1); nx <= min(e.w-1, x+1); nx++ {
				if j := ny*e.w + nx; !own[int32(j)] {
					f.field.v[j] = max(f.field.v[j], min(-0.01, e.v[j]/edge-1))
				}
			}
		}
	}
}

func (f *finds) mask() mask {
	m := newMask(f.field.w, f.field.h)
	for i, x := range f.field.v {
		m.v[i] = x > 0
	}
	return m
}

// skirt tells whether a region of height h only accompanies what was found: the
// tint inside a tide line, the halo of a spot. Much of its border then runs along
// something darker, or much of it lies on that.
func (f *finds) skirt(c component, h float32, tall plane) bool {
	own := make(map[int32]bool, len(c.pixels))
	for _, i := range c.pixels {
		own[i] = true
	}
	border, along, beside, over := 0, 0, 0, 0
	w := int32(f.field.w)
	for _, i := range c.pixels {
		if tall.v[i] > 1.4*h {
			over++
		}
		if own[i-1] && own[i+1] && own[i-w] && own[i+w] {
			continue
		}
		border++
		if tall.v[i] > 1.4*h {
			along++
		}
		if tall.v[i] > 2*h {
			beside++
		}
	}
	return 5*along > 2*border || 4*beside > border || 4*over > len(c.pixels)
}

func (f *finds) shapes(parts []component) []shape {
	var out []shape
	for _, c := range parts {
		out = append(out, shape{pixels: c.pixels, rings: traceLevel(f.field, c)})
	}
	return out
}

// fitEven fits the unstained sheet: an even surface of third order that stains
// cannot pull, then its edges.
func (v *stainView) fitEven() {
	side := max(4, v.short()/30)
	var fit surfaceFit
	var pick []float32
	for y0 := 0; y0 < v.h; y0 += side {
		for x0 := 0; x0 < v.w; x0 += side {
			var at [3]float64
			n := 0
			for c := range v.paper {
				pick = pick[:0]
				for y := y0; y < min(v.h, y0+side); y++ {
					for x := x0; x < min(v.w, x0+side); x++ {
						if i := y*v.w + x; v.face.v[i] && v.seen.v[i] > 0.05 {
							pick = append(pick, v.paper[c].v[i])
						}
					}
				}
				n = len(pick)
				at[c] = float64(quantile(pick, 0.5))
			}
			if n > side*side/10 {
				fit.add(float64(x0+side/2)/float64(v.w), float64(y0+side/2)/float64(v.h), at)
			}
		}
	}
	order := 3
	if len(fit.x) < 40 {
		order = 1
	}
	surface := fit.solve(order, 2)
	for c := range v.even {
		v.even[c] = surface.plane(c, v.w, v.h)
	}
	v.followEdges()
}

// findSpots looks for spots and lines against the paper near them, brown ones
// and grey ones, narrow ones first.
func (v *stainView) findSpots(f *finds) {
	near := v.nearGround(v.amount(brownStain, v.even, spotSigma, true))
	for _, sigma := range []float64{spotSigma, 2.5 * spotSigma} {
		for _, k := range [][3]float64{brownStain, greyStain} {
			least := 0.17
			if k == greyStain { // which print leaves more of
				least = 0.22
			}
			v.take(
				f,
				v.amount(k, near, sigma, true),
				finding{
					least: least,
					times: 6,
					grey:  k == greyStain,
					thin:  sigma,
					thick: float64(v.short()) / 14,
					shore: 0.15,
				},
			)
		}
	}
}

// findWide looks for wide stains against the even sheet, with what was found
// bridged.
func (v *stainView) findWide(f *finds) {
	known := newMask(v.w, v.h)
	bridge := f.mask().grow(max(2, v.short()/200))
	for i := range known.v {
		known.v[i] = v.face.v[i] && !bridge.v[i]
	}
	spotted := v.paper
	for c := range v.paper {
		v.paper[c] = fillFrom(v.paper[c], known)
	}
	for _, part := range []float64{200, 80} {
		sigma := math.Max(1.2, float64(v.short())/part)
		for _, k := range [][3]float64{brownStain, greyStain} {
			x := v.amount(k, v.even, sigma, false)
			// What the sheet varies by on the whole is no stain either.
			uneven := v.unevenness(x.e)
			want := finding{least: math.Max(0.09, 3*uneven), times: 4, thin: 3 * sigma, thick: math.Inf(1), shore: 0.15}
			if k == greyStain { // nor is shade
				want.grey, want.shore = true, 0.05
			}
			v.take(f, x, want)
		}
	}
	v.paper = spotted
}

// finding says what counts as a stain in an estimate.
type finding struct {
	least       float64 // amount
	times       float64 // of the noise
	grey        bool
	thin, thick float64 // bounds of thickness in pixels
	shore       float64 // widest shore, as a share of the shorter side
}

// take adds the hills of an estimate that are stains: not too small, too faint,
// or without a shore, as where the light or the tone of the sheet falls off
// slowly.
func (v *stainView) take(f *finds, x estimate, want finding) {
	least := newPlane(v.w, v.h)
	for i, n := range x.noise.v {
		least.v[i] = max(float32(want.least), float32(want.times)*n)
	}
	m, hill, height := hills(x.e, v.face, least)
	parts, label := m.componentsBy(hill)
	soft := x.e.gauss(float64(v.short()) / 120)
	var hits []hit
	for k, c := range parts {
		if len(c.pixels) < 12 {
			continue
		}
		t := hit{component: c, id: int32(k + 1), h: height[hill[c.pixels[0]]], thick: float64(v.thickness(c))}
		for _, i := range c.pixels {
			t.need += least.v[i] / float32(len(c.pixels))
		}
		if v.standsOut(x.e, t, want) && !v.printLike(x.e, label, t, want) &&
			v.endsAsStain(x.e, soft, m, label, t, want) {
			hits = append(hits, t)
		}
	}
	both := plane{v.w, v.h, slices.Clone(f.height.v)}
	for _, t := range hits {
		for _, i := range t.pixels {
			both.v[i] = max(both.v[i], t.h)
		}
	}
	tall := both.extreme(max(3, v.short()/60), true)
	for _, t := range hits {
		if !f.skirt(t.component, t.h, tall) {
			f.add(x.e, t.pixels, t.h/2)
		}
	}
}

// hit is a hill of an estimate that may be a stain.
type hit struct {
	component
	id    int32   // its label among the hills
	h     float32 // height
	need  float32 // the least height that counts there
	thick float64 // thickness in pixels
}

// standsOut tells whether a hill rises above the noise, is of the thickness asked
// for, and rests on paper that was seen.
func (v *stainView) standsOut(e plane, t hit, want finding) bool {
	if t.h < t.need || t.thick < want.thin || t.thick > want.thick {
		return false
	}
	if v.ragged(t.component, t.thick) && t.h < 2*t.need {
		return false
	}
	return v.witnessed(e, t.component, t.h, want.grey)
}

// printLike tells what print leaves from stains: grey where ink lies close, brown
// that is no browner than the paper beside it or changes from pixel to pixel as
// ink does.
func (v *stainView) printLike(e plane, label []int32, t hit, want finding) bool {
	if want.grey {
		return v.ragged(t.component, t.thick) && !v.colourless && t.h < 3*v.leftover ||
			!v.clearOfPrint(t.component, t.h)
	}
	wide := t.thick >= float64(v.short())/14
	if !v.tinted(t.component, label, t.h) &&
		(!wide || t.h < 1.5*v.leftover || !v.witnessed(e, t.component, t.h, true)) {
		return true
	}
	sure := 3.5 * v.leftTint
	if wide {
		sure *= 0.6
	}
	return t.h < sure && v.streaked(t.component) > 0.8*t.h
}

// endsAsStain tells stains, which have a shore, from tone and shade that fall off
// slowly or from the edge of the sheet.
func (v *stainView) endsAsStain(e, soft plane, m mask, label []int32, t hit, want finding) bool {
	if v.hugsBorder(t.component) || fallsFromBorder(e, t.component, v.border) {
		return false
	}
	if v.beyondShore(e, label, t.id, t.component) > 0.3*t.h {
		return false
	}
	return v.shoreWidth(soft, m, t.component, t.h) <= want.shore*float64(v.short())
}

// tinted tells whether a region is really browner than the paper round it, as
// brown stains are, and not only darker.
func (v *stainView) tinted(c component, label []int32, h float32) bool {
	reach := max(3, v.short()/60)
	var in, out []float32
	id := label[c.pixels[0]]
	for _, i := range c.pixels {
		in = append(in, v.paper[2].v[i]-v.paper[0].v[i]-v.even[2].v[i]+v.even[0].v[i])
	}
	for y := max(0, c.y0-reach); y < min(v.h, c.y1+reach); y++ {
		for x := max(0, c.x0-reach); x < min(v.w, c.x1+reach); x++ {
			if i := y*v.w + x; label[i] != id && v.face.v[i] {
				out = append(out, v.paper[2].v[i]-v.paper[0].v[i]-v.even[2].v[i]+v.even[0].v[i])
			}
		}
	}
	return len(out) == 0 || quantile(in, 0.5)-quantile(out, 0.5) > 0.2*h
}

// streaked is how much the difference of blue and red changes from pixel to pixel
// at the busier places of a region: much where the colour is that of ink, or of
// the fringes that a lens draws round black print; little where it is a stain's.
func (v *stainView) streaked(c component) float32 {
	tint := func(i int) float64 { return float64(v.density[2].v[i] - v.density[0].v[i]) }
	var steps []float32
	for _, j := range c.pixels {
		i := int(j)
		if x, y := i%v.w, i/v.w; x > 0 && y > 0 && x < v.w-1 && y < v.h-1 {
			steps = append(steps, float32(math.Hypot(tint(i+1)-tint(i-1), tint(i+v.w)-tint(i-v.w))/2))
		}
	}
	return quantile(steps, 0.9)
}

// clearOfPrint tells whether a grey region of height h is more than a darker
// place of the print.
func (v *stainView) clearOfPrint(c component, h float32) bool {
	var sum float32
	for _, i := range c.pixels {
		sum += v.busy.v[i]
	}
	return h > 0.8*sum/float32(len(c.pixels)) && (sum < 0.05*float32(len(c.pixels)) || h > 1.8*v.leftover)
}

// ragged tells a region that is neither round nor a long line.
func (v *stainView) ragged(c component, thick float64) bool {
	n := float64(len(c.pixels))
	across := math.Hypot(float64(c.x1-c.x0), float64(c.y1-c.y0))
	return thick*thick*math.Pi/4 < 0.3*n && across < float64(v.short())/8
}

// unevenness is the spread of an estimate over the whole face, by its lighter
// side.
func (v *stainView) unevenness(e plane) float64 {
	var at []int32
	for i := 0; i < len(e.v); i += 7 {
		if v.face.v[i] {
			at = append(at, int32(i))
		}
	}
	return float64(lowerSpread(e, at))
}
