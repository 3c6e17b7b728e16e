package photo

import (
	"math"
	"slices"
	"sync"
)

// Quad is four corners in order round the sheet: upper left, upper right, lower
// right, lower left, as seen in the picture.
type Quad [4]Point

// Sheet is where the paper lies in a picture.
type Sheet struct {
	Corners Quad
	// Seen tells for each side (top, right, bottom, left) whether ground was
	// seen beyond it. A side that was not seen is the picture's own edge.
	Seen [4]bool
	// Fill is the share of the quadrilateral that is paper or print: lower
	// where a corner is gone, or where the sheet is curled.
	Fill float64
	// Note is a sentence about what could not be seen, or "".
	Note string

	face mask // the sheet at working size, empty when it fills the frame
}

// sheetSide is the working size for finding a sheet, in pixels of its long side.
const sheetSide = 600

// FindSheet finds the sheet on its ground: what reaches the picture's edge and
// is not like the paper is ground, the rest is the sheet, and four straight
// sides are laid to its outline. A sheet that fills the frame is the frame.
func FindSheet(m *Image) Sheet {
	w, h := m.fit(sheetSide)
	sheet := Sheet{
		Corners: Quad{
			{-0.5, -0.5},
			{float64(m.W) - 0.5, -0.5},
			{float64(m.W) - 0.5, float64(m.H) - 0.5},
			{-0.5, float64(m.H) - 0.5},
		},
		Fill: 1,
	}
	if min(w, h) < 8 { // no room for an edge with something on either side
		sheet.Note = "The picture is too small or too narrow to find a sheet in, so the whole of it is taken for " +
			"the sheet."
		return sheet
	}
	l := m.shrink(w, h)
	face := findFace(l)
	if n := face.count(); n == len(face.v) || n < len(face.v)/50 {
		sheet.Note = "No ground is seen round the sheet, so the whole picture is taken for it."
		return sheet
	}
	q := fitQuad(face)
	sheet.face = face
	sheet.Seen = sidesSeen(q, face)
	inside, filled := 0, 0
	for y := range h {
		for x := range w {
			if q.contains(Point{float64(x), float64(y)}) {
				inside++
				if face.v[y*w+x] {
					filled++
				}
			}
		}
	}
	if inside > 0 {
		sheet.Fill = float64(filled) / float64(inside)
	}
	q = refineQuad(l, q, sheet.Seen)
	sx, sy := float64(m.W)/float64(w), float64(m.H)/float64(h)
	for i, p := range q {
		sheet.Corners[i] = Point{(p.X+0.5)*sx - 0.5, (p.Y+0.5)*sy - 0.5}
	}
	if slices.Contains(sheet.Seen[:], false) {
		sheet.Note = "Not every side of the sheet is seen; where none is, the picture's edge is taken for it."
	}
	return sheet
}

// findFace marks the sheet: the picture is flooded from what is surely paper
// and from what along its edge is surely not, and the waters meet at the
// steepest change of colour between them (watershed by flooding, Meyer 1991).
// Ground that meets the paper without a clear edge is shade, not ground.
func findFace(l *linearImage) mask {
	all := newMask(l.w, l.h)
	for i := range all.v {
		all.v[i] = true
	}
	v := &paperView{w: l.w, h: l.h, face: all, density: l.densities()}
	// Only the middle is surely sheet; an even slope allows for the light.
	v.fitGround(1, 0.2)
	// Narrow dark lines, print, would be false shores.
	r := max(2, min(l.w, l.h)/60)
	lin, paper := make([]float32, 3*l.w*l.h), make([]float32, 3*l.w*l.h)
	var wg sync.WaitGroup
	for c := range 3 {
		wg.Go(func() {
			open := v.density[c].extreme(r, false).extreme(r, true)
			for i, d := range open.v {
				lin[3*i+c], paper[3*i+c] = expOf(-d), expOf(-v.ground[c].v[i])
			}
		})
	}
	wg.Wait()
	lab := (&linearImage{l.w, l.h, lin}).lab()
	paper = (&linearImage{l.w, l.h, paper}).lab()
	basin := edgeBasins(l.w, l.h, lab, paper)
	if basin == nil {
		return all
	}
	slope := labSlopes(l.w, l.h, lab)
	flood(basin, slope)
	basins := int32(0)
	for _, b := range basin {
		basins = max(basins, b)
	}
	keep := clearShores(basin, basins, lab, l.w, l.h)
	// Between the lines of a dark picture the paper shows; ground has none.
	raw := l.lab()
	light, size := make([]int, basins+1), make([]int, basins+1)
	for i, b := range basin {
		if labDistance(raw[3*i:], paper[3*i:]) < 12 {
			light[b]++
		}
		size[b]++
	}
	for b := range keep {
		keep[b] = keep[b] && 12*light[b] < size[b]
	}
	face := newMask(l.w, l.h)
	for i, b := range basin {
		face.v[i] = b <= 1 || !keep[b]
	}
	cut := max(1, min(l.w, l.h)/70)
	face = face.grow(-cut).largest().grow(cut).fillHoles()
	if !holdsMiddle(face) { // print that fills the frame was taken for ground
		return all
	}
	return face
}

// holdsMiddle tells whether most of the middle of the picture is face: where a
// sheet lies, or it was not found.
func holdsMiddle(face mask) bool {
	in, n := 0, 0
	for y := face.h * 3 / 10; y < face.h*7/10; y++ {
		for x := face.w * 3 / 10; x < face.w*7/10; x++ {
			n++
			if face.v[y*face.w+x] {
				in++
			}
		}
	}
	return 3*in >= 2*n
}

// edgeBasins marks sure paper as 1 and the runs of sure ground along the
// picture's edge as 2, 3 ..., split where their colour jumps; nil when the edge
// is all paper.
func edgeBasins(w, h int, lab, paper []float32) []int32 {
	const unlike, like, jump = 12, 6, 10 // in CIELAB
	basin := make([]int32, w*h)
	for i := range basin {
		if labDistance(lab[3*i:], paper[3*i:]) < like {
			basin[i] = 1
		}
	}
	// Walk the edge once round, a few pixels inside the outermost, which
	// scanners and resampling spoil.
	ring := max(2, min(w, h)/100)
	var walk []int
	for x := ring; x < w-ring; x++ {
		walk = append(walk, ring*w+x)
	}
	for y := ring; y < h-ring; y++ {
		walk = append(walk, y*w+w-1-ring)
	}
	for x := w - 1 - ring; x >= ring; x-- {
		walk = append(walk, (h-1-ring)*w+x)
	}
	for y := h - 1 - ring; y >= ring; y-- {
		walk = append(walk, y*w+ring)
	}
	next, last := int32(1), -1
	for _, i := range walk {
		if labDistance(lab[3*i:], paper[3*i:]) <= unlike {
			last = -1
			continue
		}
		if last < 0 || labDistance(lab[3*i:], lab[3*last:]) > jump {
			next++
		}
		basin[i], last = next, i
	}
	if next == 1 {
		return nil
	}
	return basin
}

// labSlopes is the change of colour across each pixel, in CIELAB.
func labSlopes(w, h int, lab []float32) plane {
	s := newPlane(w, h)
	for y := range h {
		for x := range w {
			i := y*w + x
			left, right := 3*(y*w+max(0, x-1)), 3*(y*w+min(w-1, x+1))
			up, down := 3*(max(0, y-1)*w+x), 3*(min(h-1, y+1)*w+x)
			s.v[i] = labDistance(lab[left:], lab[right:]) + labDistance(lab[up:], lab[down:])
		}
	}
	return s
}

// flood grows the marked basins over the unmarked pixels, gentle slopes first.
func flood(basin []int32, slope plane) {
	const levels = 256
	var queue [levels][]int32
	level := func(i int) int { return min(levels-1, int(slope.v[i]*4)) }
	push := func(i, at int) {
		x, y := i%slope.w, i/slope.w
		for _, j := range [4]int{i - 1, i + 1, i - slope.w, i + slope.w} {
			if j < 0 || j >= len(basin) || basin[j] != 0 || j == i-1 && x == 0 || j == i+1 && x == slope.w-1 || y < 0 {
				continue
			}
			basin[j] = basin[i]
			q := max(at, level(j))
			queue[q] = append(queue[q], int32(j))
		}
	}
	marked := make([]int32, 0, len(basin))
	for i, b := range basin {
		if b != 0 {
			marked = append(marked, int32(i))
		}
	}
	for _, i := range marked {
		push(int(i), 0)
	}
	for at := 0; at < levels; at++ {
		for len(queue[at]) > 0 {
			i := queue[at][0]
			queue[at] = queue[at][1:]
			push(int(i), at)
		}
	}
}

// clearShores tells which basins meet the paper, basin 1, as ground meets a
// sheet: in a step of at least 8 CIELAB within a few pixels along most of the
// shore, and along four lines at most, nearly straight. The edge of a dark
// picture printed to the margin wanders.
func clearShores(basin []int32, basins int32, lab []float32, w, h int) []bool {
	const step, reach = 8, 3
	clear, all := make([]int, basins+1), make([]int, basins+1)
	shore := make([][]Point, basins+1)
	for y := range h {
		for x := range w {
			b := basin[y*w+x]
			if b <= 1 {
				continue
			}
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				nx, ny := x+d[0], y+d[1]
				if nx < 0 || ny < 0 || nx >= w || ny >= h || basin[ny*w+nx] != 1 {
					continue
				}
				// From behind the shore to before it.
				bx, by := min(w-1, max(0, x-reach*d[0])), min(h-1, max(0, y-reach*d[1]))
				fx, fy := min(w-1, max(0, x+reach*d[0])), min(h-1, max(0, y+reach*d[1]))
				all[b]++
				shore[b] = append(shore[b], Point{float64(x), float64(y)})
				if labDistance(lab[3*(by*w+bx):], lab[3*(fy*w+fx):]) > step {
					clear[b]++
				}
			}
		}
	}
	keep := make([]bool, basins+1)
	for b := range keep {
		keep[b] = all[b] == 0 || 5*clear[b] > 3*all[b] && straight(shore[b], float64(min(w, h))/80) > 0.75
	}
	return keep
}

// straight is the share of points within tol of the best four lines through
// pairs of them. The pairs are taken in a fixed pattern: the same picture gives
// the same answer.
func straight(pts []Point, tol float64) float64 {
	if len(pts) < 8 {
		return 1
	}
	left, explained := pts, 0
	for range 4 {
		best, bestAt := 0, [2]Point{}
		n := len(left)
		for i := range 200 {
			a, b := left[(i*7919)%n], left[(i*104729+n/3)%n]
			length := math.Hypot(b.X-a.X, b.Y-a.Y)
			if length < 4*tol {
				continue
			}
			in := 0
			for _, p := range left {
				if math.Abs(cross(a, b, p)) < tol*length {
					in++
				}
			}
			if in > best {
				best, bestAt = in, [2]Point{a, b}
			}
		}
		if 12*best < len(pts) {
			break
		}
		explained += best
		var rest []Point
		length := math.Hypot(bestAt[1].X-bestAt[0].X, bestAt[1].Y-bestAt[0].Y)
		for _, p := range left {
			if best == 0 || math.Abs(cross(bestAt[0], bestAt[1], p)) >= tol*length {
				rest = append(rest, p)
			}
		}
		if left = rest; len(left) < 8 {
			break
		}
	}
	return float64(explained) / float64(len(pts))
}

func labDistance(a, b []float32) float32 {
	return float32(math.Sqrt(float64((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))))
}

// largest keeps the largest part of a mask.
func (m mask) largest() mask {
	parts, _ := m.components()
	out := newMask(m.w, m.h)
	best := -1
	for i, c := range parts {
		if best < 0 || len(c.pixels) > len(parts[best].pixels) {
			best = i
		}
	}
	if best >= 0 {
		for _, i := range parts[best].pixels {
			out.v[i] = true
		}
	}
	return out
}

// fitQuad lays four sides round the convex hull of a mask: sides of the hull
// are given up one by one, each time the one whose neighbours, drawn out until
// they meet, add least area.
func fitQuad(m mask) Quad {
	hull := convexHull(m)
	for len(hull) > 4 {
		best, least := -1, math.Inf(1)
		var at Point
		n := len(hull)
		for i := range hull {
			// Give up side i (from point i to i+1).
			a, b, c, d := hull[(i+n-1)%n], hull[i], hull[(i+1)%n], hull[(i+2)%n]
			p, ok := meet(a, b, d, c)
			if !ok {
				continue
			}
			if area := math.Abs(cross(b, c, p)) / 2; area < least {
				best, least, at = i, area, p
			}
		}
		if best < 0 {
			break
		}
		hull[best] = at
		hull = slices.Delete(hull, (best+1)%n, (best+1)%n+1)
	}
	if len(hull) != 4 {
		w, h := float64(m.w)-0.5, float64(m.h)-0.5
		return Quad{{-0.5, -0.5}, {w, -0.5}, {w, h}, {-0.5, h}}
	}
	q := Quad(hull).ordered()
	for i := range q { // the picture's edge is the last word
		q[i].X = math.Min(float64(m.w)-0.5, math.Max(-0.5, q[i].X))
		q[i].Y = math.Min(float64(m.h)-0.5, math.Max(-0.5, q[i].Y))
	}
	return q
}

func cross(o, a, b Point) float64 { return (a.X-o.X)*(b.Y-o.Y) - (a.Y-o.Y)*(b.X-o.X) }

// meet returns where the ray from a through b and the ray from d through c
// meet, beyond b and c.
func meet(a, b, d, c Point) (Point, bool) {
	ux, uy, vx, vy := b.X-a.X, b.Y-a.Y, c.X-d.X, c.Y-d.Y
	det := ux*vy - uy*vx
	if math.Abs(det) < 1e-9 {
		return Point{}, false
	}
	s := ((c.X-b.X)*vy - (c.Y-b.Y)*vx) / det
	t := ((c.X-b.X)*uy - (c.Y-b.Y)*ux) / det
	if s < 0 || t < 0 {
		return Point{}, false
	}
	return Point{b.X + s*ux, b.Y + s*uy}, true
}

// convexHull goes round the outer corners of a mask's pixels (Andrew's monotone
// chain), clockwise as seen with y down.
func convexHull(m mask) []Point {
	var pts []Point
	for y := range m.h {
		lo, hi := -1, -1
		for x := range m.w {
			if m.v[y*m.w+x] {
				if lo < 0 {
					lo = x
				}
				hi = x
			}
		}
		if lo >= 0 {
			for _, dy := range []float64{-0.5, 0.5} {
				pts = append(pts, Point{float64(lo) - 0.5, float64(y) + dy}, Point{float64(hi) + 0.5, float64(y) + dy})
			}
		}
	}
	slices.SortFunc(pts, func(a, b Point) int {
		if a.X != b.X {
			return int(math.Copysign(1, a.X-b.X))
		}
		if a.Y != b.Y {
			return int(math.Copysign(1, a.Y-b.Y))
		}
		return 0
	})
	half := func(pts []Point) []Point {
		var out []Point
		for _, p := range pts {
			for len(out) >= 2 && cross(out[len(out)-2], out[len(out)-1], p) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, p)
		}
		return out[:max(0, len(out)-1)]
	}
	low := half(pts)
	slices.Reverse(pts)
	return append(low, half(pts)...)
}

// ordered turns the corners so that the first is the upper left: the one with
// the smallest x + y.
func (q Quad) ordered() Quad {
	first := 0
	for i, p := range q {
		if p.X+p.Y < q[first].X+q[first].Y {
			first = i
		}
	}
	out := Quad{q[first], q[(first+1)%4], q[(first+2)%4], q[(first+3)%4]}
	if cross(out[0], out[1], out[2]) < 0 { // counter-clockwise as seen
		out[1], out[3] = out[3], out[1]
	}
	return out
}

// contains tells whether a place lies inside the four sides.
func (q Quad) contains(p Point) bool {
	for i := range q {
		if cross(q[i], q[(i+1)%4], p) < 0 {
			return false
		}
	}
	return true
}

// sidesSeen tells for which sides ground lies beyond most of their length.
func sidesSeen(q Quad, face mask) (seen [4]bool) {
	for i := range q {
		a, b := q[i], q[(i+1)%4]
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		if length < 1 {
			continue
		}
		nx, ny := (b.Y-a.Y)/length, -(b.X-a.X)/length // outwards
		out, n := 0, 0
		for t := 0.1; t <= 0.9; t += 0.02 {
			x, y := int(math.Round(a.X+t*(b.X-a.X)+4*nx)), int(math.Round(a.Y+t*(b.Y-a.Y)+4*ny))
			n++
			if x >= 0 && y >= 0 && x < face.w && y < face.h && !face.v[y*face.w+x] {
				out++
			}
		}
		seen[i] = 2*out > n
	}
	return seen
}

// refineQuad moves each seen side to the steepest change of lightness near it,
// along many places, and draws a line through them that few strays can bend.
func refineQuad(l *linearImage, q Quad, seen [4]bool) Quad {
	lab := l.lab()
	light := channel(lab, l.w, l.h, 0)
	type line struct{ p, d Point }
	var sides [4]line
	for i := range q {
		a, b := q[i], q[(i+1)%4]
		length := math.Max(1, math.Hypot(b.X-a.X, b.Y-a.Y))
		d := Point{(b.X - a.X) / length, (b.Y - a.Y) / length}
		sides[i] = line{a, d}
		if !seen[i] {
			continue
		}
		n := Point{d.Y, -d.X}
		var along, across []float64
		for t := 0.05; t <= 0.95; t += 0.01 {
			x, y := a.X+t*length*d.X, a.Y+t*length*d.Y
			best, at := float32(6), math.NaN() // below 6 of lightness there is no edge to see
			for s := -6.0; s <= 6; s += 0.25 {
				step := light.sample(x+(s+1)*n.X, y+(s+1)*n.Y) - light.sample(x+(s-1)*n.X, y+(s-1)*n.Y)
				if step < 0 {
					step = -step
				}
				if step > best {
					best, at = step, s
				}
			}
			if !math.IsNaN(at) {
				along, across = append(along, t*length), append(across, at)
			}
		}
		if len(along) < 20 {
			continue
		}
		c0, c1 := robustLine(along, across)
		p := Point{a.X + c0*n.X, a.Y + c0*n.Y}
		e := Point{a.X + length*d.X + (c0+c1*length)*n.X, a.Y + length*d.Y + (c0+c1*length)*n.Y}
		length = math.Max(1, math.Hypot(e.X-p.X, e.Y-p.Y))
		sides[i] = line{p, Point{(e.X - p.X) / length, (e.Y - p.Y) / length}}
	}
	out := q
	for i := range q {
		s, r := sides[(i+3)%4], sides[i]
		det := s.d.X*r.d.Y - s.d.Y*r.d.X
		if math.Abs(det) < 0.1 {
			continue
		}
		t := ((r.p.X-s.p.X)*r.d.Y - (r.p.Y-s.p.Y)*r.d.X) / det
		p := Point{s.p.X + t*s.d.X, s.p.Y + t*s.d.Y}
		if math.Hypot(p.X-q[i].X, p.Y-q[i].Y) < 0.1*float64(min(l.w, l.h)) {
			out[i] = p
		}
	}
	return out
}

// robustLine fits y = a + b x by least squares with Tukey weights.
func robustLine(x, y []float64) (a, b float64) {
	rows := make([][]float64, len(x))
	weight := make([]float64, len(x))
	off := make([]float32, len(x))
	for i := range x {
		rows[i], weight[i] = []float64{1, x[i]}, 1
	}
	for range 10 {
		c := leastSquares(rows, weight, 2, func(i int) float64 { return y[i] })
		a, b = c[0], c[1]
		for i := range x {
			off[i] = float32(math.Abs(y[i] - a - b*x[i]))
		}
		limit := 4 * math.Max(0.25, 1.48*float64(quantile(slices.Clone(off), 0.5)))
		for i := range x {
			weight[i] = 0
			if u := (y[i] - a - b*x[i]) / limit; math.Abs(u) < 1 {
				weight[i] = (1 - u*u) * (1 - u*u)
			}
		}
	}
	return a, b
}
