package account

import (
	"fmt"
	"slices"

	"benchleaf/condition"
)

// Figure is the map of a face for a paper: each finding by its hatch and, beside the
// sheet and joined by a leader, its letter and number, so that nothing lies on the
// evidence. Lengths are in mm on the face; labels stand in a margin left and right.
type Figure struct {
	Of       FaceOf
	Size     condition.Size
	FoldMm   float64 // from the left edge
	MarginMm float64
	Marks    []Trace
	Labels   []FigureLabel
}

// FigureLabel is the letter and number of a finding, where they stand and where
// their leader ends.
type FigureLabel struct {
	Damage   *Damage
	Text     string
	At, To   condition.Point
	OnTheEnd bool // it stands at the right
}

// How labels stand in a figure, in mm: the margin, and how near to each other.
const (
	figureMarginMm = 26
	labelApartMm   = 8
)

// FigureOf lays out the figure of a face with the findings that show says; nil where
// the size of the sheet is not known.
func (m *Map) FigureOf(f FaceOf, show func(*Damage) bool) *Figure {
	size, known := m.Size(f)
	if !known {
		return nil
	}
	x := &Figure{Of: f, Size: size, FoldMm: m.FoldMm(f), MarginMm: figureMarginMm}
	var left, right []FigureLabel
	for _, t := range m.On(f) {
		if !show(t.Damage) {
			continue
		}
		again := len(x.Marks) > 0 && x.Marks[len(x.Marks)-1].Damage.No == t.Damage.No
		if x.Marks = append(x.Marks, t); again {
			continue
		}
		low, high := t.Shape.Bounds()
		l := FigureLabel{Damage: t.Damage, Text: fmt.Sprintf("%s %d", t.Damage.Letter, t.Damage.No)}
		l.OnTheEnd = low.XMm+high.XMm > size.WidthMm
		l.To = farthest(t.Shape, l.OnTheEnd)
		l.At = condition.Point{XMm: -figureMarginMm / 4, YMm: l.To.YMm}
		if l.OnTheEnd {
			l.At.XMm = size.WidthMm + figureMarginMm/4
			right = append(right, l)
		} else {
			left = append(left, l)
		}
	}
	x.Labels = append(spread(left, size.HeightMm), spread(right, size.HeightMm)...)
	return x
}

// farthest is the point of a shape that lies nearest to the left edge, or the right.
func farthest(s condition.Shape, right bool) condition.Point {
	path := s.Path()
	best := path[0]
	for _, p := range path[1:] {
		if right == (p.XMm > best.XMm) && p.XMm != best.XMm {
			best = p
		}
	}
	return best
}

// spread moves labels apart, down and then up, and closer where they are too many
// for the height.
func spread(list []FigureLabel, heightMm float64) []FigureLabel {
	slices.SortStableFunc(list, func(a, b FigureLabel) int {
		switch {
		case a.To.YMm < b.To.YMm:
			return -1
		case a.To.YMm > b.To.YMm:
			return 1
		}
		return 0
	})
	apart := min(labelApartMm, heightMm/float64(max(1, len(list))))
	for i := range list {
		if i > 0 {
			list[i].At.YMm = max(list[i].At.YMm, list[i-1].At.YMm+apart)
		}
	}
	for i := len(list) - 1; i >= 0; i-- {
		most := heightMm - apart/2
		if i < len(list)-1 {
			most = list[i+1].At.YMm - apart
		}
		list[i].At.YMm = max(apart/2, min(list[i].At.YMm, most))
	}
	return list
}
