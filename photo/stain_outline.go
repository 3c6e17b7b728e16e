package photo

import (
	"image"
	"math"
	"slices"
)

// pixelScale turns places of the working size into those of the full picture.
type pixelScale struct{ x, y float64 }

func scaleOf(m *Image, w, h int) pixelScale {
	return pixelScale{float64(m.W) / float64(w), float64(m.H) / float64(h)}
}

// area is the full picture's pixels under one of the working size.
func (s pixelScale) area() float64 { return s.x * s.y }

// rings scales rings up and thins them: to a pixel of the full picture where
// the working size is that or near it, else to seven tenths of a working pixel,
// which the working size does not know better anyway. Holes of less than eight
// working pixels are left out.
func (s pixelScale) rings(rings [][]Point) [][]Point {
	tolerance := math.Max(0.6, 0.5*math.Sqrt(s.area()))
	var out [][]Point
	for k, ring := range rings {
		if k > 0 && math.Abs(ringArea(ring)) < 8 {
			continue
		}
		big := make([]Point, len(ring))
		for i, p := range ring {
			big[i] = Point{(p.X+0.5)*s.x - 0.5, (p.Y+0.5)*s.y - 0.5}
		}
		if big = thinRing(big, tolerance); len(big) >= 3 {
			out = append(out, big)
		}
	}
	return out
}

// small marks an outline of the full picture at the working size: pixels whose
// middle lies inside, or the nearest when there is none.
func (s pixelScale) small(outline [][]Point, w, h int) mask {
	out := newMask(w, h)
	rings := make([][]Point, len(outline))
	for k, ring := range outline {
		for _, p := range ring {
			rings[k] = append(rings[k], Point{(p.X+0.5)/s.x - 0.5, (p.Y+0.5)/s.y - 0.5})
		}
	}
	n := 0
	scanRings(rings, w, h, func(y, x0, x1 int) {
		for x := x0; x < x1; x++ {
			out.v[y*w+x] = true
			n++
		}
	})
	if n == 0 && len(rings) > 0 && len(rings[0]) > 0 {
		var mid Point
		for _, p := range rings[0] {
			mid.X += p.X / float64(len(rings[0]))
			mid.Y += p.Y / float64(len(rings[0]))
		}
		x, y := min(w-1, max(0, int(math.Round(mid.X)))), min(h-1, max(0, int(math.Round(mid.Y))))
		out.v[y*w+x] = true
	}
	return out
}

// ringArea is the area inside a ring, positive when it goes clockwise as seen
// with y down.
func ringArea(ring []Point) float64 {
	sum := 0.0
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		sum += p.X*q.Y - q.X*p.Y
	}
	return sum / 2
}

// traceLevel goes round one region of a field: pixels of c, where the field is
// above 0, against those outside it. Corners lie where the field, taken linear
// between pixels, is 0 (marching squares, Lorensen and Cline 1987, in two
// dimensions). The outer ring comes first.
func traceLevel(field plane, c component) [][]Point {
	x0, y0, x1, y1 := c.x0-1, c.y0-1, c.x1+1, c.y1+1
	w, h := x1-x0, y1-y0
	local := make([]float32, w*h)
	for i := range local {
		local[i] = -1
	}
	for y := max(0, y0); y < min(field.h, y1); y++ {
		for x := max(0, x0); x < min(field.w, x1); x++ {
			local[(y-y0)*w+x-x0] = min(-0.01, field.v[y*field.w+x])
		}
	}
	for _, i := range c.pixels {
		x, y := int(i)%field.w, int(i)/field.w
		local[(y-y0)*w+x-x0] = max(0.01, field.v[i])
	}
	// An edge between two pixels is numbered by its left or upper pixel, edges
	// along x even, along y odd. next leads from edge to edge with the region
	// on the right hand.
	next := make(map[int32]int32)
	for y := range h - 1 {
		for x := range w - 1 {
			i := y*w + x
			a, b, d, e := local[i] > 0, local[i+1] > 0, local[i+w] > 0, local[i+w+1] > 0
			top, left := int32(2*i), int32(2*i+1)
			bottom, right := int32(2*(i+w)), int32(2*(i+1)+1)
			link := func(from, to int32) { next[from] = to }
			switch [4]bool{a, b, d, e} {
			case [4]bool{true, false, false, false}:
				link(top, left)
			case [4]bool{false, true, false, false}:
				link(right, top)
			case [4]bool{false, false, true, false}:
				link(left, bottom)
			case [4]bool{false, false, false, true}:
				link(bottom, right)
			case [4]bool{true, true, false, false}:
				link(right, left)
			case [4]bool{false, false, true, true}:
				link(left, right)
			case [4]bool{true, false, true, false}:
				link(top, bottom)
			case [4]bool{false, true, false, true}:
				link(bottom, top)
			case [4]bool{false, true, true, true}:
				link(left, top)
			case [4]bool{true, false, true, true}:
				link(top, right)
			case [4]bool{true, true, false, true}:
				link(bottom, left)
			case [4]bool{true, true, true, false}:
				link(right, bottom)
			case [4]bool{true, false, false, true}: // joined across the corner
				link(top, right)
				link(bottom, left)
			case [4]bool{false, true, true, false}:
				link(left, top)
				link(right, bottom)
			}
		}
	}
	place := func(e int32) Point {
		i := int(e / 2)
		j := i + 1
		dx, dy := 1.0, 0.0
		if e%2 == 1 {
			j, dx, dy = i+w, 0, 1
		}
		t := float64(local[i] / (local[i] - local[j]))
		return Point{float64(i%w+x0) + t*dx, float64(i/w+y0) + t*dy}
	}
	var rings [][]Point
	var starts []int32
	for e := range next {
		starts = append(starts, e)
	}
	slices.Sort(starts)
	for _, start := range starts {
		if _, left := next[start]; !left {
			continue
		}
		var ring []Point
		for e := start; ; {
			to, left := next[e]
			if !left {
				break
			}
			delete(next, e)
			ring = append(ring, place(e))
			e = to
		}
		rings = append(rings, ring)
	}
	slices.SortStableFunc(rings, func(a, b []Point) int {
		return int(math.Copysign(1, math.Abs(ringArea(b))-math.Abs(ringArea(a))))
	})
	return rings
}

// thinRing leaves out points of a closed ring that lie within tolerance of the
// line between those kept (Ramer 1972, Douglas and Peucker 1973).
func thinRing(ring []Point, tolerance float64) []Point {
	if len(ring) < 4 {
		return ring
	}
	// Two points far apart split the ring into two lines.
	far := 0
	for i, p := range ring {
		if math.Hypot(p.X-ring[0].X, p.Y-ring[0].Y) > math.Hypot(ring[far].X-ring[0].X, ring[far].Y-ring[0].Y) {
			far = i
		}
	}
	if far == 0 {
		return nil
	}
	keep := make([]bool, len(ring)+1)
	closed := append(slices.Clone(ring), ring[0])
	keep[0], keep[far], keep[len(ring)] = true, true, true
	todo := [][2]int{{0, far}, {far, len(ring)}}
	for len(todo) > 0 {
		a, b := todo[len(todo)-1][0], todo[len(todo)-1][1]
		todo = todo[:len(todo)-1]
		worst, at := tolerance, -1
		for i := a + 1; i < b; i++ {
			if d := toSegment(closed[i], closed[a], closed[b]); d > worst {
				worst, at = d, i
			}
		}
		if at > 0 {
			keep[at] = true
			todo = append(todo, [2]int{a, at}, [2]int{at, b})
		}
	}
	var out []Point
	for i := range ring {
		if keep[i] {
			out = append(out, ring[i])
		}
	}
	return out
}

// toSegment is the distance of p from the line from a to b.
func toSegment(p, a, b Point) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	if length := dx*dx + dy*dy; length > 0 {
		t := math.Min(1, math.Max(0, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/length))
		return math.Hypot(p.X-a.X-t*dx, p.Y-a.Y-t*dy)
	}
	return math.Hypot(p.X-a.X, p.Y-a.Y)
}

// scanRings calls run for each run of pixels [x0, x1) of row y whose middles lie
// inside an odd number of rings.
func scanRings(rings [][]Point, w, h int, run func(y, x0, x1 int)) {
	type edge struct{ x0, y0, x1, y1 float64 } // y0 < y1
	var edges []edge
	for _, ring := range rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			if p.Y > q.Y {
				p, q = q, p
			}
			if p.Y < q.Y {
				edges = append(edges, edge{p.X, p.Y, q.X, q.Y})
			}
		}
	}
	slices.SortFunc(edges, func(a, b edge) int {
		switch {
		case a.y0 < b.y0:
			return -1
		case a.y0 > b.y0:
			return 1
		}
		return 0
	})
	if len(edges) == 0 {
		return
	}
	var active []edge
	var xs []float64
	for y := int(math.Max(0, math.Floor(math.Min(edges[0].y0, float64(h))))); y < h; y++ {
		at := float64(y)
		for len(edges) > 0 && edges[0].y0 <= at {
			active = append(active, edges[0])
			edges = edges[1:]
		}
		active = slices.DeleteFunc(active, func(e edge) bool { return e.y1 <= at })
		if len(active) == 0 && len(edges) == 0 {
			return
		}
		xs = xs[:0]
		for _, e := range active {
			xs = append(xs, e.x0+(at-e.y0)*(e.x1-e.x0)/(e.y1-e.y0))
		}
		slices.Sort(xs)
		for k := 0; k+1 < len(xs); k += 2 {
			x0 := int(math.Ceil(math.Min(float64(w), math.Max(0, xs[k]))))
			x1 := int(math.Ceil(math.Min(float64(w), math.Max(0, xs[k+1]))))
			if x1 > x0 {
				run(y, x0, x1)
			}
		}
	}
}

// fillRings paints a region into m with 255 and returns its pixels and the box
// that holds them.
func fillRings(m *image.Gray, rings [][]Point) (float64, image.Rectangle) {
	n := 0
	var box image.Rectangle
	scanRings(rings, m.Rect.Dx(), m.Rect.Dy(), func(y, x0, x1 int) {
		n += x1 - x0
		box = box.Union(image.Rect(x0, y, x1, y+1))
		row := m.Pix[y*m.Stride:]
		for x := x0; x < x1; x++ {
			row[x] = 255
		}
	})
	return float64(n), box
}

func countRings(rings [][]Point, w, h int) float64 {
	n := 0
	scanRings(rings, w, h, func(_, x0, x1 int) { n += x1 - x0 })
	return float64(n)
}
