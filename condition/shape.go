package condition

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Form is the form of a shape.
type Form string

const (
	Spot    Form = "spot"    // one point
	Line    Form = "line"    // a line through 2 points or more
	Strip   Form = "strip"   // a line of 2 points or more, with a width: tape, a tide line
	Outline Form = "outline" // a closed outline of 3 points or more, the last joined to the first
	Box     Form = "box"     // two opposite corners of an upright rectangle
)

// MaxPoints is the largest number of points in a shape.
const MaxPoints = 2000

// leastMm is the least extent that a drawn shape can have: finer than any hand
// or photograph of a whole sheet, and far above the rounding of coordinates.
const leastMm = 0.01

// The widths that a strip can have: from the finest line that is seen to the
// widest band.
const leastWidthMm, mostWidthMm = 0.05, 500.0

// Point is a place on a sheet face in millimetres from the face's left edge and
// from its head, as one sees that face with the head up.
type Point struct{ XMm, YMm float64 }

// Shape is a figure on a sheet face.
type Shape struct {
	Form   Form
	Points []Point
	// WidthMm is the width of a strip across its line, 0.05 to 500 mm; 0 for all
	// other forms.
	WidthMm float64
}

// Size is the size of an opened sheet in millimetres: width across the fold,
// height along it.
type Size struct{ WidthMm, HeightMm float64 }

// Validate checks a sheet's size: each side 10 to 2000 mm.
func (z Size) Validate() error {
	for _, side := range []struct {
		name string
		mm   float64
	}{{"width", z.WidthMm}, {"height", z.HeightMm}} {
		if !(side.mm >= 10 && side.mm <= 2000) {
			return fmt.Errorf("a sheet cannot have a %s of %g mm: 10 to 2000 mm is possible", side.name, side.mm)
		}
	}
	return nil
}

// Validate checks that the shape is one, and lies on a face of that size.
func (s Shape) Validate(size Size) error {
	least, most := 0, MaxPoints
	switch s.Form {
	case Spot:
		least, most = 1, 1
	case Line, Strip:
		least = 2
	case Outline:
		least = 3
	case Box:
		least, most = 2, 2
	default:
		return fmt.Errorf("a shape cannot be %q: it is a spot, a line, a strip, an outline or a box", s.Form)
	}
	if n := len(s.Points); n < least || n > most {
		if least == most {
			return fmt.Errorf("the number of points of this %s is %d: it must be %d", s.Form, n, least)
		}
		return fmt.Errorf("the number of points of this %s is %d: %d to %d is possible", s.Form, n, least, most)
	}
	for i, p := range s.Points {
		if !(p.XMm >= 0 && p.XMm <= size.WidthMm && p.YMm >= 0 && p.YMm <= size.HeightMm) {
			return fmt.Errorf(
				"point %d (%g mm from the left, %g mm from the head) lies off the sheet, which is %g by %g mm",
				i+1,
				p.XMm,
				p.YMm,
				size.WidthMm,
				size.HeightMm,
			)
		}
	}
	switch {
	case s.Form == Strip && !(s.WidthMm >= leastWidthMm && s.WidthMm <= mostWidthMm):
		return fmt.Errorf("a strip cannot be %g mm wide: %g to %g mm is possible", s.WidthMm, leastWidthMm, mostWidthMm)
	case s.Form != Strip && s.WidthMm != 0:
		return fmt.Errorf("a width belongs to a strip alone, not to this %s", s.Form)
	case s.Form != Spot && s.LengthMm() < leastMm:
		return fmt.Errorf("this %s has all its points in one place: mark a spot instead", s.Form)
	case (s.Form == Outline || s.Form == Box) && s.AreaMm2() < leastMm*leastMm:
		return fmt.Errorf("this %s encloses nothing: draw a line instead", s.Form)
	case s.Form == Outline && s.crosses():
		return errors.New("the outline crosses itself, so it has no area: draw it again without crossing")
	}
	return nil
}

// LengthMm is the length of a line or a strip, the length round an outline or a
// box, and 0 for a spot.
func (s Shape) LengthMm() float64 {
	var sum float64
	path := s.Path()
	for i := 1; i < len(path); i++ {
		sum += math.Hypot(path[i].XMm-path[i-1].XMm, path[i].YMm-path[i-1].YMm)
	}
	return sum
}

// AreaMm2 is the area within an outline (the surveyor's formula) or a box, the
// length times the width of a strip (which holds at bends too, where its inner
// side loses what the outer gains), and 0 for a spot or a line.
func (s Shape) AreaMm2() float64 {
	switch s.Form {
	case Strip:
		return s.LengthMm() * s.WidthMm
	case Outline, Box:
	default:
		return 0
	}
	var twice float64
	path := s.Path()
	for i := 1; i < len(path); i++ {
		// From the first point, so that far-off shapes keep their digits.
		ax, ay := path[i-1].XMm-path[0].XMm, path[i-1].YMm-path[0].YMm
		bx, by := path[i].XMm-path[0].XMm, path[i].YMm-path[0].YMm
		twice += ax*by - bx*ay
	}
	return math.Abs(twice) / 2
}

// Bounds is the smallest box round the shape, by its corners nearest to and
// farthest from the origin. A shape without points has bounds at the origin.
func (s Shape) Bounds() (low, high Point) {
	for i, p := range s.Points {
		if i == 0 {
			low, high = p, p
			continue
		}
		low = Point{min(low.XMm, p.XMm), min(low.YMm, p.YMm)}
		high = Point{max(high.XMm, p.XMm), max(high.YMm, p.YMm)}
	}
	return low, high
}

// Mirror is the shape as it shows on the other face of a sheet of that width:
// the head stays up, left and right change.
func (s Shape) Mirror(widthMm float64) Shape {
	return s.each(func(p Point) Point { return Point{widthMm - p.XMm, p.YMm} })
}

// each is the shape with f done to each point.
func (s Shape) each(f func(Point) Point) Shape {
	points := make([]Point, len(s.Points))
	for i, p := range s.Points {
		points[i] = f(p)
	}
	return Shape{s.Form, points, s.WidthMm}
}

// Path is the line to be followed by pen: closed for an outline or a box.
func (s Shape) Path() []Point {
	switch {
	case s.Form == Box && len(s.Points) == 2:
		a, b := s.Points[0], s.Points[1]
		return []Point{a, {b.XMm, a.YMm}, b, {a.XMm, b.YMm}, a}
	case s.Form == Outline && len(s.Points) > 0:
		return append(slices.Clone(s.Points), s.Points[0])
	}
	return s.Points
}

// crosses says whether two sides of an outline cross. Sides that only touch do
// not count: a hand draws such, and the area holds.
func (s Shape) crosses() bool {
	path := s.Path()
	n := len(path) - 1
	for i := range n {
		for j := i + 2; j < n; j++ {
			if cross(path[i], path[i+1], path[j], path[j+1]) {
				return true
			}
		}
	}
	return false
}

// cross says whether the inner parts of segments ab and cd cross at one point.
func cross(a, b, c, d Point) bool {
	return turn(a, b, c)*turn(a, b, d) < 0 && turn(c, d, a)*turn(c, d, b) < 0
}

// turn is +1 when c lies on one side of the line from a to b, -1 on the other,
// 0 on it.
func turn(a, b, c Point) float64 {
	v := (b.XMm-a.XMm)*(c.YMm-a.YMm) - (b.YMm-a.YMm)*(c.XMm-a.XMm)
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}
