package photo

import (
	"encoding/binary"
	"math"
	"slices"
	"sync"

	"benchleaf/colour"
)

// changeGrid holds both pictures averaged over the cells of the before picture.
type changeGrid struct {
	w, h int
	cell float64 // pixels of the before picture along a cell
	sx   float64 // the same along x and y to the last digit
	sy   float64
	// Linear light with sRGB primaries, three values a cell.
	before, after *linearImage
	// face marks the sheet, seen what the after picture shows, lost what is
	// overexposed in either, ok what is left to compare.
	face, seen, lost, ok mask
	// The two taken apart into print and paper.
	viewBefore, viewAfter *face
	// paper marks cells that are bare paper in both.
	paper mask
	// trend is the density after less before that changes slowly.
	trend  surface
	trends [3]plane
	// L, a, b triples; labFlat is the after picture without the trend.
	labBefore, labAfter, labFlat []float32
	de, deFlat                   []float32
}

func newChangeGrid(c *Comparison) *changeGrid {
	m := c.full.before
	g := &changeGrid{}
	g.w, g.h = m.fit(cellsLong)
	g.sx, g.sy = float64(m.W)/float64(g.w), float64(m.H)/float64(g.h)
	g.cell = math.Sqrt(g.sx * g.sy)
	lostBefore, lostAfter := newMask(g.w, g.h), newMask(g.w, g.h)
	g.seen = newMask(g.w, g.h)
	all := newMask(g.w, g.h)
	b := newLightReader(m)
	g.before = b.overGrid(g, func(p Point) Point { return p }, 1, all, lostBefore)
	a := newLightReader(c.full.after)
	way := func(p Point) Point { return c.Alignment.warp.Map(p) }
	g.after = a.overGrid(g, way, c.Alignment.Zoom, g.seen, lostAfter)
	g.lost = lostBefore
	for i, l := range lostAfter.v {
		g.lost.v[i] = g.lost.v[i] || l
	}
	g.face = g.faceOf(&c.Alignment.Sheet)
	g.ok = newMask(g.w, g.h)
	for i := range g.ok.v {
		g.ok.v[i] = g.face.v[i] && g.seen.v[i] && !g.lost.v[i]
	}
	return g
}

// faceOf marks the sheet on the grid, a little inside its edge, which is mixed
// with the ground.
func (g *changeGrid) faceOf(s *Sheet) mask {
	var q Quad
	for i, p := range s.Corners {
		q[i] = g.toCell(p)
	}
	q = q.ordered()
	face := newMask(g.w, g.h)
	var known mask
	if s.Fill < 0.97 && s.face.w > 0 {
		known = s.face.resize(g.w, g.h)
	}
	colour.Parallel(g.h, 32, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range g.w {
				i := y*g.w + x
				face.v[i] = q.contains(Point{float64(x), float64(y)}) && (known.v == nil || known.v[i])
			}
		}
	})
	return face.grow(-max(1, min(g.w, g.h)/150))
}

// toCell takes a place of the before picture to the grid; fromCell goes back.
func (g *changeGrid) toCell(p Point) Point {
	return Point{(p.X+0.5)/g.sx - 0.5, (p.Y+0.5)/g.sy - 0.5}
}

func (g *changeGrid) fromCell(p Point) Point {
	return Point{(p.X+0.5)*g.sx - 0.5, (p.Y+0.5)*g.sy - 0.5}
}

// shares counts the cells of the sheet, and those lost to glare in what both
// pictures show of it.
func (g *changeGrid) shares() (sheet, clipped int) {
	for i, f := range g.face.v {
		if f {
			sheet++
			if g.seen.v[i] && g.lost.v[i] {
				clipped++
			}
		}
	}
	return sheet, clipped
}

// lightReader reads a picture in linear light with sRGB primaries.
type lightReader struct {
	m    *Image
	tone [3][256]float32
	to   [3][3]float32
	same bool // to changes nothing
}

func newLightReader(m *Image) *lightReader {
	r := &lightReader{m: m}
	for v := range 256 {
		x := float64(v) / 255
		for c, l := range m.Profile.Linear(x, x, x) {
			r.tone[c][v] = float32(l)
		}
	}
	to := m.Profile.ToLinearSRGB()
	r.same = true
	for i := range to {
		for j := range to[i] {
			r.to[i][j] = float32(to[i][j])
			unit := 0.0
			if i == j {
				unit = 1
			}
			r.same = r.same && math.Abs(to[i][j]-unit) < 1e-7
		}
	}
	return r
}

// nodeEvery is the distance in cells of the places where the way is worked out;
// between them it is straight to a hundredth of a pixel.
const nodeEvery = 8

// overGrid averages the picture over each cell of g, where way takes places of
// the before picture to this one and zoom is its size beside it. It marks in
// seen what this picture shows and in lost what is overexposed.
func (r *lightReader) overGrid(g *changeGrid, way func(Point) Point, zoom float64, seen, lost mask) *linearImage {
	nw, nh := g.w/nodeEvery+2, g.h/nodeEvery+2
	nodes := make([]Point, nw*nh)
	colour.Parallel(nh, 4, func(lo, hi int) {
		for j := lo; j < hi; j++ {
			for i := range nw {
				nodes[j*nw+i] = way(g.fromCell(Point{float64(i * nodeEvery), float64(j * nodeEvery)}))
			}
		}
	})
	// About as many samples as pixels, but at most four by four.
	k := min(4, max(1, int(math.Round(g.cell*zoom/1.25))))
	out := &linearImage{g.w, g.h, make([]float32, 3*g.w*g.h)}
	colour.Parallel(g.h, 8, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			top := nodes[y/nodeEvery*nw:]
			low := nodes[(y/nodeEvery+1)*nw:]
			ty := float64(y%nodeEvery) / nodeEvery
			for x := range g.w {
				i, tx := x/nodeEvery, float64(x%nodeEvery)/nodeEvery
				a, b, c, d := top[i], top[i+1], low[i], low[i+1]
				// The place of the cell's middle, and its sides.
				p := Point{
					(1-ty)*((1-tx)*a.X+tx*b.X) + ty*((1-tx)*c.X+tx*d.X),
					(1-ty)*((1-tx)*a.Y+tx*b.Y) + ty*((1-tx)*c.Y+tx*d.Y),
				}
				right := Point{
					((1-ty)*(b.X-a.X) + ty*(d.X-c.X)) / nodeEvery,
					((1-ty)*(b.Y-a.Y) + ty*(d.Y-c.Y)) / nodeEvery,
				}
				down := Point{
					((1-tx)*(c.X-a.X) + tx*(d.X-b.X)) / nodeEvery,
					((1-tx)*(c.Y-a.Y) + tx*(d.Y-b.Y)) / nodeEvery,
				}
				n := y*g.w + x
				seen.v[n], lost.v[n] = r.cell(p, right, down, k, out.pix[3*n:3*n+3:3*n+3])
			}
		}
	})
	return out
}

// cell averages k by k samples over the parallelogram about p.
func (r *lightReader) cell(p, right, down Point, k int, dst []float32) (seen, lost bool) {
	w, h := float64(r.m.W), float64(r.m.H)
	if r.m.W < 2 || r.m.H < 2 || !(p.X > -0.5 && p.Y > -0.5 && p.X < w-0.5 && p.Y < h-0.5) {
		dst[0], dst[1], dst[2] = 0, 0, 0
		return false, false
	}
	// Samples are clamped so that each has a pixel to its right and below it.
	const inside = 1e-3
	maxX, maxY := w-1-inside, h-1-inside
	reachX, reachY := math.Abs(right.X)+math.Abs(down.X), math.Abs(right.Y)+math.Abs(down.Y)
	clamp := p.X < reachX || p.Y < reachY || p.X > maxX-reachX || p.Y > maxY-reachY
	pix, stride := r.m.Pix, 4*r.m.W
	var red, green, blue float32
	var over uint64
	step := 1 / float64(k)
	for j := range k {
		v := (float64(j)+0.5)*step - 0.5
		u := 0.5*step - 0.5
		x, y := p.X+u*right.X+v*down.X, p.Y+u*right.Y+v*down.Y
		for range k {
			sx, sy := x, y
			if clamp {
				sx, sy = min(maxX, max(0, sx)), min(maxY, max(0, sy))
			}
			x, y = x+step*right.X, y+step*right.Y
			ix, iy := int(sx), int(sy)
			fx, fy := float32(sx-float64(ix)), float32(sy-float64(iy))
			at := iy*stride + 4*ix
			north, south := pix[at:at+8:at+8], pix[at+stride:at+stride+8:at+stride+8]
			n, s := binary.LittleEndian.Uint64(north), binary.LittleEndian.Uint64(south)
			over |= clippedBytes(n) | clippedBytes(s)
			q0, q1, q2, q3 := uint32(n), uint32(n>>32), uint32(s), uint32(s>>32)
			w3 := fx * fy
			w1, w2 := fx-w3, fy-w3
			w0 := 1 - fx - w2
			red += w0*r.tone[0][uint8(q0)] + w1*r.tone[0][uint8(q1)] + w2*r.tone[0][uint8(q2)] + w3*r.tone[0][uint8(q3)]
			green += w0*r.tone[1][uint8(q0>>8)] + w1*r.tone[1][uint8(q1>>8)] +
				w2*r.tone[1][uint8(q2>>8)] + w3*r.tone[1][uint8(q3>>8)]
			blue += w0*r.tone[2][uint8(q0>>16)] + w1*r.tone[2][uint8(q1>>16)] +
				w2*r.tone[2][uint8(q2>>16)] + w3*r.tone[2][uint8(q3>>16)]
		}
	}
	n := 1 / float32(k*k)
	r.convert([3]float32{n * red, n * green, n * blue}, dst)
	return true, over != 0
}

// clippedBytes is not 0 when red, green or blue of one of two pixels is 254 or 255,
// the values from clippedFrom on. It looks for a byte without bits of the
// complement (Warren, Hacker's Delight, 2nd ed., 6-1).
func clippedBytes(rgba uint64) uint64 {
	z := ^rgba&0x00fefefe_00fefefe | 0x01000000_01000000
	return (z - 0x01010101_01010101) & ^z & 0x80808080_80808080
}

// convert takes linear device values to linear sRGB.
func (r *lightReader) convert(v [3]float32, dst []float32) {
	if r.same {
		dst[0], dst[1], dst[2] = v[0], v[1], v[2]
		return
	}
	for i := range 3 {
		dst[i] = r.to[i][0]*v[0] + r.to[i][1]*v[1] + r.to[i][2]*v[2]
	}
}

// face is one picture of the face, taken apart into print and paper.
type face struct {
	*paperView
	// paper is the density with print filled in from the paper round it.
	paper [3]plane
}

// view takes both pictures apart. The paper of both is what is bare in both, so
// that what is filled in under print is filled in alike.
func (g *changeGrid) view() {
	var wg sync.WaitGroup
	wg.Go(func() { g.viewBefore = g.viewOf(g.before) })
	wg.Go(func() { g.viewAfter = g.viewOf(g.after) })
	wg.Wait()
	g.paper = g.paperBoth()
	known := newFilling(g.paper.plane())
	wg.Go(func() { g.viewBefore.paper = known.fill(g.viewBefore.density) })
	wg.Go(func() { g.viewAfter.paper = known.fill(g.viewAfter.density) })
	wg.Wait()
}

// viewOf takes one picture apart. The ground, which is even, is fitted to every
// second cell of every second row.
func (g *changeGrid) viewOf(l *linearImage) *face {
	v := &paperView{w: g.w, h: g.h, face: g.ok, density: l.densities()}
	half := &paperView{w: (g.w + 1) / 2, h: (g.h + 1) / 2}
	half.face = newMask(half.w, half.h)
	for c := range half.density {
		half.density[c] = newPlane(half.w, half.h)
	}
	for y := range half.h {
		for x := range half.w {
			i, j := y*half.w+x, 2*y*g.w+2*x
			half.face.v[i] = g.ok.v[j]
			for c := range half.density {
				half.density[c].v[i] = v.density[c].v[j]
			}
		}
	}
	half.fitPaperGround(2)
	for c := range v.ground {
		v.ground[c] = half.ground[c].doubled(g.w, g.h)
	}
	v.findPrint()
	return &face{paperView: v}
}

// doubled is the even surface of which p holds every second pixel of every second
// row.
func (p plane) doubled(w, h int) plane {
	out := newPlane(w, h)
	for y := range h {
		row, next := p.v[y/2*p.w:][:p.w], p.v[min(p.h-1, (y+1)/2)*p.w:][:p.w]
		dst := out.v[y*w : (y+1)*w]
		for x := range dst {
			i, j := x/2, min(p.w-1, (x+1)/2)
			dst[x] = 0.25 * (row[i] + row[j] + next[i] + next[j])
		}
	}
	return out
}

// paperBoth marks cells that are bare paper in both pictures.
func (g *changeGrid) paperBoth() mask {
	out := newMask(g.w, g.h)
	for i := range out.v {
		out.v[i] = g.ok.v[i] && !g.viewBefore.print.v[i] && !g.viewAfter.print.v[i]
	}
	return out
}

// fitTrend fits the slow change of density to the medians of blocks of paper;
// where there is hardly any paper, to all of the face.
func (g *changeGrid) fitTrend() {
	on := g.paper
	if n := on.count(); 50*n < g.ok.count() {
		on = g.ok
	}
	side := max(4, min(g.w, g.h)/24)
	rows := make([]surfaceFit, (g.h+side-1)/side)
	colour.Parallel(len(rows), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			g.trendOf(&rows[i], i*side, side, on)
		}
	})
	var fit surfaceFit
	for i := range rows {
		fit.join(&rows[i])
	}
	g.trend = fit.solve(2, 2)
	var wg sync.WaitGroup
	for c := range g.trends {
		wg.Go(func() { g.trends[c] = g.trend.plane(c, g.w, g.h) })
	}
	wg.Wait()
}

// trendOf adds the medians of a row of blocks that begins at y0.
func (g *changeGrid) trendOf(fit *surfaceFit, y0, side int, on mask) {
	step := 1
	if side >= 16 { // so many are not needed for a median
		step = 2
	}
	var d [3][]float32
	for x0 := 0; x0 < g.w; x0 += side {
		for c := range d {
			d[c] = d[c][:0]
		}
		for y := y0; y < min(g.h, y0+side); y += step {
			for x := x0; x < min(g.w, x0+side); x += step {
				if i := y*g.w + x; on.v[i] {
					for c := range d {
						d[c] = append(d[c], g.viewAfter.density[c].v[i]-g.viewBefore.density[c].v[i])
					}
				}
			}
		}
		if len(d[0]) < max(4, side*side/(20*step*step)) {
			continue
		}
		var at [3]float64
		for c := range d {
			at[c] = float64(quantile(d[c], 0.5))
		}
		fit.add((float64(x0)+float64(side)/2)/float64(g.w), (float64(y0)+float64(side)/2)/float64(g.h), at)
	}
}

// join adds the points of another.
func (f *surfaceFit) join(o *surfaceFit) {
	f.x, f.y, f.v = append(f.x, o.x...), append(f.y, o.y...), append(f.v, o.v...)
}

// light tells of the trend over what was compared.
func (g *changeGrid) light() LightChange {
	var mid [3]float64
	var green []float32
	for c := range mid {
		var vs []float32
		for i := 0; i < len(g.ok.v); i += 5 {
			if g.ok.v[i] {
				vs = append(vs, g.trends[c].v[i])
			}
		}
		if len(vs) == 0 {
			return LightChange{}
		}
		mid[c] = float64(quantile(vs, 0.5))
		if c == 1 {
			green = vs
		}
	}
	return LightChange{
		Stops: -mid[1] / math.Ln2, Warmer: (mid[2] - mid[0]) / math.Ln2,
		Unevenness: float64(quantile(green, 0.95)-quantile(green, 0.05)) / math.Ln2,
	}
}

// matchBlur blurs the sharper picture until print is as soft in it as in the
// other, so that focus does not count as a change of colour. A picture a blurred
// from b by a small variance v is a = b + v/2 times the Laplacian of b; v is
// fitted where that is strong, on the mean of both, in which equal noise
// cancels. It returns v in cells squared, above zero when before was the sharper.
func (g *changeGrid) matchBlur() float64 {
	total := 0.0
	for range 3 {
		v := g.blurBetween()
		step := min(0.8, max(-0.8, v))
		if math.Abs(v) < 0.02 || math.Abs(total+step) > 3 {
			break
		}
		total += step
		if step > 0 {
			g.before.soften(step)
		} else {
			g.after.soften(-step)
		}
	}
	return total
}

// blurBetween is the variance by which the after picture is more blurred. Light
// is evened by what falls round each place.
func (g *changeGrid) blurBetween() float64 {
	b, a := channel(g.before.pix, g.w, g.h, 1), channel(g.after.pix, g.w, g.h, 1)
	r := max(2, min(g.w, g.h)/40)
	roundB, roundA := b.boxBlur(r), a.boxBlur(r)
	inner := g.ok.grow(-r)
	type sums struct{ up, down float64 }
	rows := make([]sums, g.h)
	colour.Parallel(g.h, 32, func(lo, hi int) {
		for y := max(1, lo); y < min(g.h-1, hi); y++ {
			for x := 1; x+1 < g.w; x++ {
				i := y*g.w + x
				if !inner.v[i] || roundA.v[i] <= 0 {
					continue
				}
				even := roundB.v[i] / roundA.v[i]
				lb := b.v[i-1] + b.v[i+1] + b.v[i-g.w] + b.v[i+g.w] - 4*b.v[i]
				la := a.v[i-1] + a.v[i+1] + a.v[i-g.w] + a.v[i+g.w] - 4*a.v[i]
				l := float64(lb+even*la) / 2
				if math.Abs(l) > 0.15*float64(roundB.v[i]) {
					rows[y].up += 2 * float64(even*a.v[i]-b.v[i]) * l
					rows[y].down += l * l
				}
			}
		}
	})
	var up, down float64
	for _, s := range rows {
		up, down = up+s.up, down+s.down
	}
	if down == 0 {
		return 0
	}
	return up / down
}

// soften blurs by a variance of v pixels squared, at most 0.8.
func (l *linearImage) soften(v float64) {
	k, mid := float32(v/2), float32(1-v)
	if v > 0.5 {
		l.soften(v - 0.5)
		k, mid = 0.25, 0.5
	}
	colour.Parallel(l.h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row := l.pix[3*l.w*y : 3*l.w*(y+1)]
			for c := range 3 {
				left := row[c]
				for x := c; x < len(row); x += 3 {
					here, right := row[x], row[x]
					if x+3 < len(row) {
						right = row[x+3]
					}
					row[x] = k*(left+right) + mid*here
					left = here
				}
			}
		}
	})
	n := 3 * l.w
	colour.Parallel(n, 256, func(lo, hi int) {
		above := append([]float32(nil), l.pix[lo:hi]...)
		for y := range l.h {
			row := l.pix[n*y+lo : n*y+hi]
			next := row
			if y+1 < l.h {
				next = l.pix[n*(y+1)+lo : n*(y+1)+hi]
			}
			for x, here := range row {
				row[x] = k*(above[x]+next[x]) + mid*here
				above[x] = here
			}
		}
	})
}

// compare fills in the colours and their differences.
func (g *changeGrid) compare() {
	n := g.w * g.h
	g.labBefore, g.labAfter, g.labFlat = make([]float32, 3*n), make([]float32, 3*n), make([]float32, 3*n)
	g.de, g.deFlat = make([]float32, n), make([]float32, n)
	colour.Parallel(n, 1<<13, func(lo, hi int) {
		const chunk = 512
		var flat [3 * chunk]float32
		for i := lo; i < hi; i += chunk {
			k := min(chunk, hi-i)
			for j := range k {
				for c := range 3 {
					flat[3*j+c] = g.after.pix[3*(i+j)+c] * expOf(g.trends[c].v[i+j])
				}
			}
			b, a, f := g.labBefore[3*i:3*(i+k)], g.labAfter[3*i:3*(i+k)], g.labFlat[3*i:3*(i+k)]
			colour.LinearLabRow(b, g.before.pix[3*i:])
			colour.LinearLabRow(a, g.after.pix[3*i:])
			colour.LinearLabRow(f, flat[:3*k])
			colour.DE2000Row(g.de[i:i+k], b, a)
			colour.DE2000Row(g.deFlat[i:i+k], b, f)
		}
	})
}

// stats are those of values over the cells compared.
func (g *changeGrid) stats(v []float32) Stats { return statsOf(v, g.ok.v) }

// labStats are those of a coordinate of lab less that of before.
func (g *changeGrid) labStats(lab []float32, c int) Stats {
	less := make([]float32, g.w*g.h)
	for i := range less {
		less[i] = lab[3*i+c] - g.labBefore[3*i+c]
	}
	return statsOf(less, g.ok.v)
}

// statsOf are those of the values that are marked on, nil marking all.
func statsOf(values []float32, on []bool) Stats {
	const enough = 300_000 // places for a percentile
	every := 1 + len(values)/enough
	vs := make([]float32, 0, len(values)/every+1)
	sum, count, next := 0.0, 0, 0
	for i, v := range values {
		if on != nil && !on[i] {
			continue
		}
		sum += float64(v)
		if count++; i >= next {
			vs = append(vs, v)
			next = i + every
		}
	}
	if count == 0 {
		return Stats{}
	}
	mean := sum / float64(count)
	return Stats{float64(quantile(vs, 0.5)), mean, float64(quantile(vs, 0.05)), float64(quantile(vs, 0.95))}
}

// barePaper marks paper that is bare and calm in both pictures.
func (g *changeGrid) barePaper() mask {
	bare := mask{g.w, g.h, slices.Clone(g.paper.v)}
	var texture [2]plane
	var wg sync.WaitGroup
	for k, lab := range [2][]float32{g.labBefore, g.labAfter} {
		wg.Go(func() {
			light := channel(lab, g.w, g.h, 0)
			smooth := light.boxBlur(1)
			for i, v := range smooth.v {
				light.v[i] = abs(light.v[i] - v)
			}
			texture[k] = light
		})
	}
	wg.Wait()
	for _, t := range texture {
		var found []float32
		for i := 0; i < len(t.v); i += 3 {
			if bare.v[i] {
				found = append(found, t.v[i])
			}
		}
		if len(found) < 100 {
			return bare
		}
		calm := quantile(found, 0.75)
		for i := range bare.v {
			bare.v[i] = bare.v[i] && t.v[i] <= calm
		}
	}
	return bare
}

// paperReading reads the paper's colour in lab where bare.
func (g *changeGrid) paperReading(lab []float32, bare mask) PaperReading {
	ls, as, bs, every := sampleOn(lab, bare)
	r := paperReadingOf(ls, as, bs, g.ok.count())
	r.Share *= float64(every)
	return r
}

// sampleOn takes the values of lab where bare; where there are many, of one place
// in every.
func sampleOn(lab []float32, bare mask) (ls, as, bs []float32, every int) {
	const enough = 50_000 // for a mean to a few hundredths
	every = 1 + bare.count()/enough
	k := 0
	for i, b := range bare.v {
		if !b {
			continue
		}
		if k++; k%every == 0 {
			ls, as, bs = append(ls, lab[3*i]), append(as, lab[3*i+1]), append(bs, lab[3*i+2])
		}
	}
	return ls, as, bs, every
}

// like marks what of bare lies within 4 in CIELAB of a colour before: its grain.
func (g *changeGrid) like(c colour.Lab, bare mask) mask {
	out := newMask(g.w, g.h)
	at := []float32{float32(c.L), float32(c.A), float32(c.B)}
	for i, b := range bare.v {
		out.v[i] = b && labDistance(g.labBefore[3*i:], at) < 4
	}
	return out
}

// unevenDE tells by how much parts of the paper, a twelfth of the sheet wide,
// differ from the middle change: by the trend, and beyond it; robust standard
// deviations in dE00.
func (g *changeGrid) unevenDE(bare mask) (light, local float64) {
	side := max(4, min(g.w, g.h)/12)
	var slow, fast [3][]float32
	for y0 := 0; y0 < g.h; y0 += side {
		for x0 := 0; x0 < g.w; x0 += side {
			var sum, flat [3]float64
			n := 0.0
			for y := y0; y < min(g.h, y0+side); y++ {
				for x := x0; x < min(g.w, x0+side); x++ {
					i := y*g.w + x
					if !bare.v[i] {
						continue
					}
					n++
					for c := range 3 {
						sum[c] += float64(g.labAfter[3*i+c] - g.labFlat[3*i+c])
						flat[c] += float64(g.labFlat[3*i+c] - g.labBefore[3*i+c])
					}
				}
			}
			if n < float64(side*side)/20 {
				continue
			}
			for c := range 3 {
				slow[c], fast[c] = append(slow[c], float32(sum[c]/n)), append(fast[c], float32(flat[c]/n))
			}
		}
	}
	blocks := math.Max(1, float64(len(slow[0])))
	return spreadDE(slow) / 2, spreadDE(fast) / math.Sqrt(blocks)
}

// spreadDE is the robust standard deviation of L, a, b deviations about their
// medians, in dE00 as it is for papers: at L 85 a step of L counts about 0.66,
// at a chroma of 15 a step of b about 0.6 (the formula's own weights).
func spreadDE(d [3][]float32) float64 {
	weight := [3]float64{0.66, 1, 0.6}
	sum := 0.0
	for c := range d {
		if len(d[c]) == 0 {
			return 0
		}
		half := float64(quantile(d[c], 0.84)-quantile(d[c], 0.16)) / 2
		sum += weight[c] * weight[c] * half * half
	}
	return math.Sqrt(sum)
}
