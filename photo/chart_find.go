package photo

import (
	"math"
	"slices"

	"benchleaf/colour"
)

const (
	// chartSide is the working size for finding a chart, its long side in
	// pixels: a chart a tenth of the frame wide still has patches to see.
	chartSide = 1500
	// leastChartPatches is the smallest chart that is looked for by itself:
	// fewer patches stand in a grid by chance, and a fit needs as many.
	leastChartPatches = 9
	// mostCandidates bounds the work on a page full of small even places.
	mostCandidates = 4000
)

// ChartFound is a chart seen in a picture.
type ChartFound struct {
	// Corners are as ChartAt takes them.
	Corners Quad
	// Known is set when the first patch was told from the last by the chart's
	// colours. Else the corner that is uppermost on the left is taken for the
	// first, and the chart may lie turned.
	Known bool
	// Seen is how many patches stood out by themselves; the places of the rest
	// follow from the grid.
	Seen int
}

// FindChart looks for a regular grid of even patches: quadrilaterals of one
// colour each, whose middles lie on a grid seen in perspective. patches are the
// chart's colours row by row, by which it is told which way the chart lies and
// whether it is one at all; nil when they are not known.
//
// It refuses rather than guesses: the error is a *Problem whose sentence asks
// for the corners by hand. Charts of fewer than nine patches, or of one row, are
// not looked for. Grids lie in one plane, seen at any turn, not mirrored; no more
// than a third of the patches may be hidden or run into the frame's colour.
func FindChart(m *Image, rows, columns int, patches []colour.Patch) (ChartFound, error) {
	if rows < 2 || columns < 2 || rows > maxChartSide || columns > maxChartSide || rows*columns < leastChartPatches {
		return ChartFound{}, refuse(
			Unsupported,
			"Charts of at least two rows and %d patches are found by themselves; set the corners of this one by hand.",
			leastChartPatches,
		)
	}
	if patches != nil && len(patches) != rows*columns {
		return ChartFound{}, refuse(
			Unsupported,
			"The chart has %d patches, which does not go with %d rows of %d.",
			len(patches),
			rows,
			columns,
		)
	}
	w, h := m.fit(chartSide)
	v := &chartView{l: m.shrink(w, h), rows: rows, columns: columns, patches: patches}
	v.lab = v.l.lab()
	var best, second chartFit
	for _, lattice := range v.lattices(v.candidates()) {
		for _, f := range v.fits(lattice) {
			switch {
			case f.better(best):
				if !f.same(best) {
					second = best
				}
				best = f
			case f.better(second) && !f.same(best):
				second = f
			}
		}
	}
	if !best.sure(second) {
		return ChartFound{}, refuse(
			Unsupported,
			"No chart of %d rows and %d columns was found for certain; set its corners by hand.",
			rows,
			columns,
		)
	}
	out := ChartFound{Known: patches != nil, Seen: best.seen}
	sx, sy := float64(m.W)/float64(w), float64(m.H)/float64(h)
	for i, p := range best.corners {
		out.Corners[i] = Point{
			math.Min(float64(m.W)-0.5, math.Max(-0.5, (p.X+0.5)*sx-0.5)),
			math.Min(float64(m.H)-0.5, math.Max(-0.5, (p.Y+0.5)*sy-0.5)),
		}
	}
	return out, nil
}

// chartView is a picture at working size in which a chart is looked for.
type chartView struct {
	l             *linearImage
	lab           []float32
	rows, columns int
	patches       []colour.Patch
}

// patchSpot is an even place that has the form of a patch.
type patchSpot struct {
	at   Point
	area float64
}

// candidates are the connected places of little slope that fill a
// parallelogram. Patches run into their frame, or fall apart in noise, at
// different slopes, so several are tried.
func (v *chartView) candidates() []patchSpot {
	w, h := v.l.w, v.l.h
	smooth := make([]float32, len(v.lab))
	for c := range 3 {
		for i, x := range channel(v.lab, w, h, c).boxBlur(1).v {
			smooth[3*i+c] = x
		}
	}
	slope := labSlopes(w, h, smooth)
	var out []patchSpot
	for _, limit := range [3]float32{12, 7, 4} {
		even := newMask(w, h)
		for i, s := range slope.v {
			even.v[i] = s < limit
		}
		list, _ := even.components()
		for i := range list {
			c, ok := patchLike(&list[i], w, h)
			if !ok {
				continue
			}
			known := slices.ContainsFunc(out, func(o patchSpot) bool {
				return o.area >= c.area && distance(o.at, c.at) < 0.3*math.Sqrt(o.area)
			})
			if !known {
				out = append(out, c)
			}
			if len(out) == mostCandidates {
				return out
			}
		}
	}
	return out
}

// patchLike measures a component. For a parallelogram the area is twelve times
// the root of the determinant of the covariance of its pixels.
func patchLike(c *component, w, h int) (patchSpot, bool) {
	n := len(c.pixels)
	if n < 16 || n > w*h/16 || c.x0 == 0 || c.y0 == 0 || c.x1 == w || c.y1 == h {
		return patchSpot{}, false
	}
	var sx, sy, xx, xy, yy float64
	for _, i := range c.pixels {
		x, y := float64(int(i)%w-c.x0), float64(int(i)/w-c.y0)
		sx, sy = sx+x, sy+y
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
	}
	k := float64(n)
	mx, my := sx/k, sy/k
	xx, xy, yy = xx/k-mx*mx+1.0/12, xy/k-mx*my, yy/k-my*my+1.0/12
	det := xx*yy - xy*xy
	if det <= 0 {
		return patchSpot{}, false
	}
	fill := k / (12 * math.Sqrt(det))
	half, root := (xx+yy)/2, math.Sqrt((xx-yy)*(xx-yy)/4+xy*xy)
	if fill < 0.85 || fill > 1.12 || half+root > 9*(half-root) {
		return patchSpot{}, false
	}
	return patchSpot{Point{mx + float64(c.x0), my + float64(c.y0)}, k}, true
}

// lattice is a set of candidates with their places on a grid.
type lattice struct {
	places []Point // whole numbers, columns and rows
	at     []Point // in the picture
}

// lattices joins candidates into grids, each grown from a spot and its
// nearest neighbours of like size on two sides.
func (v *chartView) lattices(list []patchSpot) []lattice {
	cells := newBuckets(list)
	taken := make([]bool, len(list))
	var out []lattice
	for i := range list {
		if taken[i] {
			continue
		}
		u, t, ok := sides(list, cells, i)
		if !ok {
			continue
		}
		g, members := grow(list, cells, i, u, t)
		if 3*len(members) < 2*v.rows*v.columns {
			continue
		}
		for _, k := range members {
			taken[k] = true
		}
		out = append(out, g)
	}
	return out
}

// buckets find candidates by place.
type buckets struct {
	side float64
	in   map[[2]int][]int
}

func newBuckets(list []patchSpot) *buckets {
	b := &buckets{side: 24, in: map[[2]int][]int{}}
	for i, c := range list {
		key := b.key(c.at)
		b.in[key] = append(b.in[key], i)
	}
	return b
}

func (b *buckets) key(p Point) [2]int {
	return [2]int{int(math.Floor(p.X / b.side)), int(math.Floor(p.Y / b.side))}
}

// near calls visit for each spot within about r of p.
func (b *buckets) near(p Point, r float64, visit func(i int)) {
	lo, hi := b.key(Point{p.X - r, p.Y - r}), b.key(Point{p.X + r, p.Y + r})
	for y := lo[1]; y <= hi[1]; y++ {
		for x := lo[0]; x <= hi[0]; x++ {
			for _, i := range b.in[[2]int{x, y}] {
				visit(i)
			}
		}
	}
}

// sides are the steps from a spot to its nearest like neighbour and to the
// nearest one that lies crosswise to it, turned so that the second follows
// clockwise on the first.
func sides(list []patchSpot, cells *buckets, i int) (u, t Point, ok bool) {
	c := list[i]
	size := math.Sqrt(c.area)
	best, cross2 := math.Inf(1), math.Inf(1)
	each := func(visit func(d Point, length float64)) {
		cells.near(c.at, 2.4*size+6, func(k int) {
			d := Point{list[k].at.X - c.at.X, list[k].at.Y - c.at.Y}
			length := math.Hypot(d.X, d.Y)
			if k != i && length > 0.9*size && length < 2.4*size+6 && list[k].area < 2.2*c.area &&
				c.area < 2.2*list[k].area {
				visit(d, length)
			}
		})
	}
	each(func(d Point, length float64) {
		if length < best {
			best, u = length, d
		}
	})
	if math.IsInf(best, 1) {
		return u, t, false
	}
	each(func(d Point, length float64) {
		sin := math.Abs(u.X*d.Y-u.Y*d.X) / (best * length)
		if sin > 0.7 && length < cross2 {
			cross2, t = length, d
		}
	})
	if math.IsInf(cross2, 1) || cross2 > 2*best {
		return u, t, false
	}
	if u.X*t.Y-u.Y*t.X < 0 {
		t = Point{-t.X, -t.Y}
	}
	return u, t, true
}

// grow walks from spot to spot, each step foretold by the one before
// it and corrected by what is found.
func grow(list []patchSpot, cells *buckets, seed int, u, t Point) (lattice, []int) {
	type node struct {
		i, x, y int
		u, t    Point
	}
	place := map[[2]int]int{{0, 0}: seed}
	used := map[int]bool{seed: true}
	queue := []node{{seed, 0, 0, u, t}}
	for len(queue) > 0 && len(place) < 2*maxChartSide*maxChartSide {
		n := queue[0]
		queue = queue[1:]
		for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			key := [2]int{n.x + d[0], n.y + d[1]}
			if _, known := place[key]; known {
				continue
			}
			from := list[n.i]
			sx, sy := float64(d[0]), float64(d[1])
			want := Point{from.at.X + sx*n.u.X + sy*n.t.X, from.at.Y + sx*n.u.Y + sy*n.t.Y}
			reach := 0.25 * math.Min(math.Hypot(n.u.X, n.u.Y), math.Hypot(n.t.X, n.t.Y))
			best, at := reach, -1
			cells.near(want, reach, func(k int) {
				if off := distance(list[k].at, want); off < best && !used[k] && list[k].area < 2.5*from.area &&
					from.area < 2.5*list[k].area {
					best, at = off, k
				}
			})
			if at < 0 {
				continue
			}
			next := node{at, key[0], key[1], n.u, n.t}
			step := Point{list[at].at.X - from.at.X, list[at].at.Y - from.at.Y}
			if d[0] != 0 {
				next.u = Point{sx * step.X, sx * step.Y}
			} else {
				next.t = Point{sy * step.X, sy * step.Y}
			}
			place[key], used[at] = at, true
			queue = append(queue, next)
		}
	}
	var g lattice
	var members []int
	keys := make([][2]int, 0, len(place))
	for key := range place {
		keys = append(keys, key)
	}
	slices.SortFunc(keys, func(a, b [2]int) int {
		if a[1] != b[1] {
			return a[1] - b[1]
		}
		return a[0] - b[0]
	})
	for _, key := range keys {
		members = append(members, place[key])
		g.places = append(g.places, Point{float64(key[0]), float64(key[1])})
		g.at = append(g.at, list[place[key]].at)
	}
	return g, members
}

// chartFit is one way in which the chart may lie on a lattice.
type chartFit struct {
	corners Quad
	// seen are the patches of the window found by themselves; missing are edge
	// rows and columns of which none was.
	seen, missing int
	// off is the median leave-one-out dE00 against the chart's colours, 0 where
	// they are not known.
	off   float64
	known bool
	ok    bool
}

func (f chartFit) better(g chartFit) bool {
	switch {
	case f.ok != g.ok:
		return f.ok
	case f.known && f.off != g.off:
		return f.off < g.off
	case f.missing != g.missing:
		return f.missing < g.missing
	}
	return f.seen > g.seen
}

// same tells whether two fits put the corners at the same places.
func (f chartFit) same(g chartFit) bool {
	for i := range f.corners {
		if distance(f.corners[i], g.corners[i]) > 6 {
			return false
		}
	}
	return f.ok == g.ok
}

// sure tells whether a fit stands out enough from the next best. Without the
// chart's colours the grid alone must have exactly its rows and columns.
func (f chartFit) sure(next chartFit) bool {
	switch {
	case !f.ok:
		return false
	case f.known:
		return f.off < chartMisfit && (!next.ok || next.off > 1.5*f.off)
	}
	return f.missing == 0 && (!next.ok || next.missing > 0)
}

// fits lays the chart over a lattice in every way that covers most of it.
func (v *chartView) fits(g lattice) []chartFit {
	h, ok := latticePlane(&g)
	if !ok {
		return nil
	}
	x0, y0, x1, y1 := extent(g.places)
	var out []chartFit
	try := func(w, t int) {
		for oy := min(y0, y1-t+1); oy <= max(y0, y1-t+1); oy++ {
			for ox := min(x0, x1-w+1); ox <= max(x0, x1-w+1); ox++ {
				out = append(out, v.window(&g, &h, ox, oy, w, t)...)
			}
		}
	}
	// The lattice may run on beyond the chart only by strays.
	slack := 1
	if x1-x0 < v.columns+slack && y1-y0 < v.rows+slack {
		try(v.columns, v.rows)
	}
	if v.rows != v.columns && x1-x0 < v.rows+slack && y1-y0 < v.columns+slack {
		try(v.rows, v.columns)
	}
	return out
}

// latticePlane fits the homography from places to the picture and drops what
// does not lie on it.
func latticePlane(g *lattice) (Homography, bool) {
	var h Homography
	for range 3 {
		var ok bool
		if h, ok = fitHomography(g.places, g.at, nil); !ok {
			return h, false
		}
		var keep lattice
		for i, p := range g.places {
			j := h.jacobian(p)
			pitch := math.Sqrt(math.Abs(j[0]*j[3] - j[1]*j[2]))
			if distance(h.Map(p), g.at[i]) < 0.12*pitch {
				keep.places, keep.at = append(keep.places, p), append(keep.at, g.at[i])
			}
		}
		if len(keep.places) == len(g.places) {
			return h, true
		}
		if *g = keep; len(g.places) < leastChartPatches/2 {
			return h, false
		}
	}
	return h, true
}

func extent(ps []Point) (x0, y0, x1, y1 int) {
	x0, y0, x1, y1 = int(ps[0].X), int(ps[0].Y), int(ps[0].X), int(ps[0].Y)
	for _, p := range ps {
		x0, y0, x1, y1 = min(x0, int(p.X)), min(y0, int(p.Y)), max(x1, int(p.X)), max(y1, int(p.Y))
	}
	return
}

// window judges the chart with its w by t patches from place (ox, oy) of the
// lattice on, in each of the ways in which it may be turned there.
func (v *chartView) window(g *lattice, h *Homography, ox, oy, w, t int) []chartFit {
	f := chartFit{ok: true, known: v.patches != nil}
	rows, columns := make([]bool, t), make([]bool, w)
	for _, p := range g.places {
		x, y := int(p.X)-ox, int(p.Y)-oy
		if x >= 0 && y >= 0 && x < w && y < t {
			f.seen++
			rows[y], columns[x] = true, true
		}
	}
	for _, b := range append(rows, columns...) {
		if !b {
			f.missing++
		}
	}
	if 3*f.seen < 2*w*t || len(g.places)-f.seen > f.seen/10 {
		return nil
	}
	edge := func(x, y float64) Point { return h.Map(Point{float64(ox) + x - 0.5, float64(oy) + y - 0.5}) }
	q := Quad{edge(0, 0), edge(float64(w), 0), edge(float64(w), float64(t)), edge(0, float64(t))}
	over, ok := gridOver(q, t, w)
	if !ok || !v.within(q, &over, w, t) {
		return nil
	}
	cells, ok := v.cells(&over, w, t)
	if !ok {
		return nil
	}
	return v.turns(f, q, cells, w, t)
}

// within tells whether the patches of a grid lie in the picture and are of like
// size.
func (v *chartView) within(q Quad, over *grid, w, t int) bool {
	slack := 0.2 * math.Min(over.patch(0, 0, 1).leastSide(), over.patch(t-1, w-1, 1).leastSide())
	for _, p := range q {
		if p.X < -slack || p.Y < -slack || p.X > float64(v.l.w-1)+slack || p.Y > float64(v.l.h-1)+slack {
			return false
		}
	}
	least, most := math.Inf(1), 0.0
	for _, c := range [4][2]int{{0, 0}, {0, w - 1}, {t - 1, w - 1}, {t - 1, 0}} {
		p := over.patch(c[0], c[1], 1)
		area := (cross(p[0], p[1], p[2]) + cross(p[0], p[2], p[3])) / 2
		least, most = math.Min(least, area), math.Max(most, area)
	}
	return least > leastPatchPx*leastPatchPx && most < 9*least
}

// chartCell is what the working picture holds of a patch.
type chartCell struct {
	lab     [3]float32
	reading colour.Reading
}

// cells reads the inner parts of a grid, and tells whether they are those of a
// chart: nearly all even, and of many colours.
func (v *chartView) cells(over *grid, w, t int) ([]chartCell, bool) {
	out := make([]chartCell, 0, w*t)
	uneven := 0
	for y := range t {
		for x := range w {
			c, spread := v.cell(over.patch(y, x, chartInner))
			if spread > 6 {
				uneven++
			}
			out = append(out, c)
		}
	}
	var kinds [][3]float32
	for i := range out {
		a := out[i].lab
		if !slices.ContainsFunc(kinds, func(b [3]float32) bool { return labDistance(a[:], b[:]) < 5 }) {
			kinds = append(kinds, a)
		}
	}
	return out, 8*uneven <= len(out) && len(kinds) >= min((len(out)+1)/2, 24)
}

func (v *chartView) cell(q Quad) (c chartCell, spread float32) {
	x0, y0, x1, y1 := v.l.w-1, v.l.h-1, 0, 0
	for _, p := range q {
		x0, x1 = min(x0, int(p.X)), max(x1, int(p.X)+1)
		y0, y1 = min(y0, int(p.Y)), max(y1, int(p.Y)+1)
	}
	var lab, rgb [3][]float32
	for y := max(0, y0); y <= min(v.l.h-1, y1); y++ {
		for x := max(0, x0); x <= min(v.l.w-1, x1); x++ {
			if !q.contains(Point{float64(x), float64(y)}) {
				continue
			}
			i := 3 * (y*v.l.w + x)
			for k := range 3 {
				lab[k], rgb[k] = append(lab[k], v.lab[i+k]), append(rgb[k], v.l.pix[i+k])
			}
		}
	}
	if len(lab[0]) == 0 {
		return c, 100
	}
	for k := range 3 {
		c.lab[k], c.reading.RGB[k] = quantile(lab[k], 0.5), float64(quantile(rgb[k], 0.5))
		c.reading.Clipped = c.reading.Clipped || c.reading.RGB[k] > 0.98
		spread = max(spread, (quantile(lab[k], 0.84)-quantile(lab[k], 0.16))/2)
	}
	return c, spread
}

// turns are the ways in which a chart may begin at a corner of its window: the
// one nearest to upright when its colours are not known, else each with its
// distance from them.
func (v *chartView) turns(f chartFit, q Quad, cells []chartCell, w, t int) (out []chartFit) {
	for turn := range 4 {
		if (turn%2 == 1) == (w == v.columns && t == v.rows) && v.rows != v.columns {
			continue
		}
		f.corners = q.turned(turn)
		if f.known {
			readings := make([]colour.Reading, 0, len(cells))
			for row := range v.rows {
				for column := range v.columns {
					readings = append(readings, cells[turnedIndex(row, column, w, t, turn)].reading)
				}
			}
			c, err := colour.Fit(colour.Matrix3, v.patches, readings)
			if err != nil {
				continue
			}
			f.off = c.Median()
		}
		out = append(out, f)
	}
	if f.known || len(out) == 0 {
		return out
	}
	return []chartFit{slices.MinFunc(out, func(a, b chartFit) int {
		if upright(a.corners) > upright(b.corners) {
			return -1
		}
		return 1
	})}
}

// turnedIndex is where patch (row, column) of a chart lies among the cells of
// its window when the chart begins at corner turn of it.
func turnedIndex(row, column, w, t, turn int) int {
	switch turn {
	case 1:
		return column*w + w - 1 - row
	case 2:
		return (t-1-row)*w + w - 1 - column
	case 3:
		return (t-1-column)*w + row
	}
	return row*w + column
}

// upright is how far the rows of a chart run to the right.
func upright(q Quad) float64 { return q[1].X - q[0].X + q[2].X - q[3].X }
