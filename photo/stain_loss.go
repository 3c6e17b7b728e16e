package photo

// Losses are looked for only where the ground shows what is seen through them:
// it must be seen on this share of the picture, be even within groundEven in
// CIELAB, and differ from the paper by groundApart.
const (
	groundShare = 0.015
	groundEven  = 6
	groundApart = 14
)

// losses are the parts of the sheet in which the ground is seen: holes, torn
// corners and edges. corners are those of the whole sheet. Where print is of the colour of the ground, only
// what is wider than any of
// it counts.
func losses(l *linearImage, corners Quad) []shape {
	short := min(l.w, l.h)
	lab := l.lab()
	ground, ok := groundColour(lab, corners.shrunk(-0.02), l.w, l.h)
	if !ok {
		return nil
	}
	sheet, within := maskOf(corners, l.w, l.h), maskOf(corners.shrunk(0.02), l.w, l.h)
	like, seen, paper := newMask(l.w, l.h), newMask(l.w, l.h), 0
	for i, in := range sheet.v {
		if !in {
			continue
		}
		off := labDistance(lab[3*i:], ground[:])
		seen.v[i], like.v[i] = off < groundEven, off < groundApart
		if off > groundApart {
			paper++
		}
	}
	if 2*paper < seen.count() {
		return nil // the sheet is of the ground's own colour
	}
	cut := max(2, short/250)
	body := opened(seen, cut)
	printed := 200*(seen.count()-body.count()) > paper
	if printed {
		body = opened(seen, max(cut, short/40))
	}
	for i, b := range body.grow(2).v { // up to where the colours mix
		body.v[i] = b && like.v[i]
	}
	parts, _ := body.components()
	border := toBorder(sheet)
	field := newPlane(l.w, l.h)
	for i := range field.v {
		field.v[i] = -1
	}
	least := max(40, short*short/4000)
	edge := int32(short / 25)
	var found []shape
	for _, c := range parts {
		in, out := 0, int32(1<<30)
		for _, i := range c.pixels {
			if out = min(out, border[i]); within.v[i] {
				in++
			}
		}
		if in < least || alongEdge(c, short) || printed && out > edge {
			continue
		}
		for _, i := range c.pixels {
			field.v[i] = 1
		}
		found = append(found, shape{pixels: c.pixels, rings: traceLevel(field, c)})
	}
	return found
}

// groundColour is the median colour outside the corners, when enough of it is
// seen and it is even.
func groundColour(lab []float32, corners Quad, w, h int) (mid [3]float32, ok bool) {
	var vs [3][]float32
	var at []int
	for y := 2; y < h-2; y += 2 {
		for x := 2; x < w-2; x += 2 {
			if corners.contains(Point{float64(x), float64(y)}) {
				continue
			}
			i := y*w + x
			at = append(at, i)
			for c := range vs {
				vs[c] = append(vs[c], lab[3*i+c])
			}
		}
	}
	if float64(4*len(at)) < groundShare*float64(w*h) {
		return mid, false
	}
	for c := range vs {
		mid[c] = quantile(vs[c], 0.5)
	}
	var off []float32
	for _, i := range at {
		off = append(off, labDistance(lab[3*i:], mid[:]))
	}
	return mid, quantile(off, 0.7) < groundEven
}

// opened is m without what is narrower than 2 cut + 1 pixels.
func opened(m mask, cut int) mask {
	out := m.grow(-cut).grow(cut + 1)
	for i := range out.v {
		out.v[i] = out.v[i] && m.v[i]
	}
	return out
}

// alongEdge tells the gap between a bowed edge of the sheet and the straight
// side laid to it: shallow, along much of the side.
func alongEdge(c component, short int) bool {
	long, deep := max(c.x1-c.x0, c.y1-c.y0), min(c.x1-c.x0, c.y1-c.y0)
	return 4*long > short && 6*deep < long
}
