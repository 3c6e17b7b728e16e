package photo

import "math"

// paperView is a picture taken apart for stains, at working size: how much
// darker each place is than white, where print lies, and what the paper would
// look like without it.
type paperView struct {
	w, h int
	face mask
	// density is -ln of linear light in red, green and blue (sRGB primaries).
	// Layers of ink, tone and stain add in it.
	density [3]plane
	// print marks ink with the edges that blur into the paper; colourInk is the
	// part of it that is coloured.
	print, colourInk mask
	// ground is the density of the sheet as its light parts show it, light and
	// even toning included.
	ground [3]plane
}

// viewPaper takes l apart; face marks the sheet.
func viewPaper(l *linearImage, face mask) *paperView {
	v := &paperView{w: l.w, h: l.h, face: face, density: l.densities()}
	v.fitGround(2, 0)
	v.findPrint()
	return v
}

// short is the shorter side in pixels.
func (v *paperView) short() int { return min(v.w, v.h) }

// fitGround fits an even surface of the given order through the light part of
// blocks of the face, so that ink can be told by its depth. Blocks nearer to the
// picture's edge than the share margin of it are left out.
func (v *paperView) fitGround(order int, margin float64) {
	v.takeGround(v.lightBlocks(margin).solve(order, 0, 1, 2))
}

// fitPaperGround is fitGround for faces of which flat print may cover the most:
// its colours are no ground then, the lightest places are.
func (v *paperView) fitPaperGround(order int) {
	fit := v.lightBlocks(0)
	surface := fit.solve(order, 0, 1, 2)
	if fit.spread(surface) > 0.15 {
		fit.keepLight(0.35)
		surface = fit.solve(order, 0, 1, 2)
	}
	v.takeGround(surface)
}

func (v *paperView) takeGround(s surface) {
	for c := range v.ground {
		v.ground[c] = s.plane(c, v.w, v.h)
	}
}

// lightBlocks reads the light part of blocks of the face.
func (v *paperView) lightBlocks(margin float64) *surfaceFit {
	side := max(4, v.short()/24)
	var fit surfaceFit
	var g, pick []float32
	for y0 := 0; y0 < v.h; y0 += side {
		for x0 := 0; x0 < v.w; x0 += side {
			g, pick = g[:0], pick[:0]
			for y := y0; y < min(v.h, y0+side); y++ {
				for x := x0; x < min(v.w, x0+side); x++ {
					if i := y*v.w + x; v.face.v[i] {
						g = append(g, v.density[1].v[i])
					}
				}
			}
			u, t := float64(x0+side/2)/float64(v.w), float64(y0+side/2)/float64(v.h)
			if len(g) < side*side/3 || min(u, 1-u, t, 1-t) < margin {
				continue
			}
			light := quantile(g, 0.2)
			var at [3]float64
			for c := range 3 {
				pick = pick[:0]
				for y := y0; y < min(v.h, y0+side); y++ {
					for x := x0; x < min(v.w, x0+side); x++ {
						if i := y*v.w + x; v.face.v[i] && v.density[1].v[i] < light+0.08 {
							pick = append(pick, v.density[c].v[i])
						}
					}
				}
				at[c] = float64(quantile(pick, 0.5))
			}
			fit.add(u, t, at)
		}
	}
	return &fit
}

// findPrint marks ink. Ink takes away half of the red light or more, which no
// stain short of a blot does, or has a colour of its own. Fine grey lines are told
// by being narrower than a stain.
func (v *paperView) findPrint() {
	v.findColourInk()
	depth := v.density[0]
	ink := newMask(v.w, v.h)
	for i := range ink.v {
		ink.v[i] = depth.v[i]-v.ground[0].v[i] > 0.6 || v.colourInk.v[i]
	}
	// The soft edge of letters, then hairlines and the grey of small type.
	ink = ink.grow(max(1, v.short()/1000))
	narrow := max(2, v.short()/300)
	broad := depth.extreme(narrow, false).extreme(narrow, true) // without narrow dark lines
	var dips []float32
	for i := 0; i < len(ink.v); i += 7 {
		if v.face.v[i] && !ink.v[i] {
			dips = append(dips, depth.v[i]-broad.v[i])
		}
	}
	deep := max(0.1, 4*quantile(dips, 0.5)) // grain has dips too
	for i := range ink.v {
		if depth.v[i]-broad.v[i] > deep {
			ink.v[i] = true
		}
	}
	v.print = ink
}

// findColourInk marks ink of the colours that stains do not have. Red ink takes
// nearly as much green as blue, where brown takes about half; blue and green ink
// take most of the red; yellow hardly any red and green.
func (v *paperView) findColourInk() {
	ink, reddish := newMask(v.w, v.h), newMask(v.w, v.h)
	for i := range ink.v {
		r, g, b := v.beyondGround(i)
		if g-r > 0.08 && g-r > 0.55*(b-r) {
			reddish.v[i] = true
			ink.v[i] = g-r > 0.3 && g-r > 0.65*(b-r)
		}
		if r-b > 0.15 || r-g > 0.25 || b-r > 0.5 && g-r < 0.15*(b-r) && r < 0.2*(b-r) {
			ink.v[i], reddish.v[i] = true, true
		}
	}
	// A wide place that is no redder than some stains are may be one.
	for i, wide := range opened(ink, max(4, v.short()/60)).v {
		if r, g, b := v.beyondGround(i); wide && r > 0.05 && r < g && g < r+0.72*(b-r) {
			ink.v[i] = false
		}
	}
	// It runs into its surroundings, since pictures store colour coarsely.
	for i, near := range ink.grow(max(3, v.short()/200)).v {
		ink.v[i] = ink.v[i] || near && reddish.v[i]
	}
	v.colourInk = ink
}

// beyondGround is by how much a place is denser than the sheet.
func (v *paperView) beyondGround(i int) (r, g, b float32) {
	return v.density[0].v[i] - v.ground[0].v[i], v.density[1].v[i] - v.ground[1].v[i], v.density[2].v[i] - v.ground[2].v[i]
}

// sample reads between pixels, linearly; the border repeats.
func (p plane) sample(x, y float64) float32 {
	x = math.Min(float64(p.w-1), math.Max(0, x))
	y = math.Min(float64(p.h-1), math.Max(0, y))
	i, j := int(x), int(y)
	fx, fy := float32(x)-float32(i), float32(y)-float32(j)
	i1, j1 := min(p.w-1, i+1), min(p.h-1, j+1)
	top := p.v[j*p.w+i] + fx*(p.v[j*p.w+i1]-p.v[j*p.w+i])
	low := p.v[j1*p.w+i] + fx*(p.v[j1*p.w+i1]-p.v[j1*p.w+i])
	return top + fy*(low-top)
}
