package photo

import "math"

// shape is a region at the working size.
type shape struct {
	kind   StainKind // "" when it is to be named by its look
	pixels []int32
	rings  [][]Point
}

// finds gathers regions: field is above 0 where a stain has more than half of
// its strength, and passes 0 at its border.
type finds struct{ field plane }

func newFinds(w, h int) *finds {
	f := &finds{newPlane(w, h)}
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
	surface := fit.solve(order)
	for c := range v.even {
		v.even[c] = surface.plane(c, v.w, v.h)
	}
	v.followEdges()
}

// findSpots looks for spots and lines against the paper near them, brown ones
// and grey ones.
func (v *stainView) findSpots(f *finds) {
	e, noise := v.amount(brownStain, v.even, spotSigma)
	near := v.nearGround(e, noise)
	for _, k := range [][3]float64{brownStain, greyStain} {
		e, noise := v.amount(k, near, spotSigma)
		v.take(f, e, math.Max(0.12, v.threshold(e, noise)), func(c component, thick int) bool { return thick < v.short()/14 })
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
	wide, _ := v.amount(brownStain, v.even, v.wideSigma())
	v.paper = spotted
	// Slow changes are no noise here: take tells them by their shores.
	slow := wide.gauss(float64(v.short()) / 12)
	quick := newPlane(v.w, v.h)
	for i := range quick.v {
		quick.v[i] = wide.v[i] - slow.v[i]
	}
	least := math.Max(0.12, 3*v.noise(quick))
	v.take(f, wide, least, func(c component, thick int) bool { return float64(thick) > 3*v.wideSigma() })
}

// take adds the hills of e that are stains: not too small, too faint, or without
// a shore, as where the light or the tone of the sheet falls off slowly.
func (v *stainView) take(f *finds, e plane, least float64, fits func(c component, thick int) bool) {
	m, hill, height := hills(e, v.face, least/2, least/5)
	parts, label := m.componentsBy(hill)
	border := toBorder(v.face)
	soft := e.gauss(float64(v.short()) / 120)
	for k, c := range parts {
		h := height[hill[c.pixels[0]]]
		if float64(h) < least || len(c.pixels) < 12 || !fits(c, v.thickness(c)) || !v.witnessed(e, c, h) {
			continue
		}
		if v.hugsBorder(c, border) || fallsFromBorder(e, c, border) {
			continue
		}
		if rest := v.beyondShore(e, label, int32(k+1), c); rest > 0.3*h {
			continue
		}
		if v.shoreWidth(soft, m, c, h) > 0.15*float64(v.short()) {
			continue
		}
		f.add(e, c.pixels, h/2)
	}
}
