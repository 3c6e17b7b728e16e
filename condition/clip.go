package condition

import "math"

// clip is what of a shape lies on a sheet of that size: nothing, one shape, or
// several pieces of a line.
func (s Shape) clip(size Size) []Shape {
	switch s.Form {
	case Spot:
		p := s.Points[0]
		if p.XMm < 0 || p.XMm > size.WidthMm || p.YMm < 0 || p.YMm > size.HeightMm {
			return nil
		}
		return []Shape{s}
	case Line, Strip: // a strip by its middle line
		return s.clipLine(size)
	}
	// A box clipped as an outline stays a rectangle.
	points := s.Path()
	for _, e := range edges(size) {
		points = clipAt(points, e)
	}
	clipped := Shape{Form: Outline, Points: points}
	if clipped.AreaMm2() < leastMm*leastMm {
		return nil
	}
	return []Shape{clipped}
}

// edge is one edge of a sheet: inside gives how far a point lies within it, in
// mm, negative beyond it.
type edge struct{ inside func(Point) float64 }

func edges(size Size) []edge {
	return []edge{
		{func(p Point) float64 { return p.XMm }},
		{func(p Point) float64 { return size.WidthMm - p.XMm }},
		{func(p Point) float64 { return p.YMm }},
		{func(p Point) float64 { return size.HeightMm - p.YMm }},
	}
}

// clipAt is one step of Sutherland and Hodgman, Reentrant polygon clipping,
// Communications of the ACM 17, 1974: the area within a closed outline that
// lies on the inner side of one edge. Parts of a hollow outline stay joined
// along the edge, which does not change the area.
func clipAt(points []Point, e edge) []Point {
	var kept []Point
	for i, b := range points {
		a := points[(i+len(points)-1)%len(points)]
		da, db := e.inside(a), e.inside(b)
		if da < 0 != (db < 0) {
			kept = append(kept, between(a, b, da/(da-db)))
		}
		if db >= 0 {
			kept = append(kept, b)
		}
	}
	return kept
}

// clipLine cuts each part of a line at the edges (Liang and Barsky, ACM
// Transactions on Graphics 3, 1984) and joins parts that go on.
func (s Shape) clipLine(size Size) []Shape {
	var pieces []Shape
	whole := false // the part before reached its own end within the sheet
	for i := 1; i < len(s.Points); i++ {
		a, b := s.Points[i-1], s.Points[i]
		from, to := 0.0, 1.0
		for _, e := range edges(size) {
			da, db := e.inside(a), e.inside(b)
			switch {
			case da < 0 && db < 0:
				from, to = 1, 0
			case da < 0:
				from = math.Max(from, da/(da-db))
			case db < 0:
				to = math.Min(to, da/(da-db))
			}
		}
		if from >= to {
			whole = false
			continue
		}
		if from > 0 || !whole {
			pieces = append(pieces, Shape{s.Form, []Point{between(a, b, from)}, s.WidthMm})
		}
		last := &pieces[len(pieces)-1]
		last.Points = append(last.Points, between(a, b, to))
		whole = to == 1
	}
	return pieces
}

// between is the point at share t of the way from a to b.
func between(a, b Point, t float64) Point {
	switch t {
	case 0:
		return a
	case 1:
		return b
	}
	return Point{a.XMm + t*(b.XMm-a.XMm), a.YMm + t*(b.YMm-a.YMm)}
}
