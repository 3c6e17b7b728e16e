package condition

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/peterstace/simplefeatures/geom"
	"pgregory.net/rapid"

	"benchleaf/makeup"
)

// wkt writes a shape in the well-known text of the OGC Simple Features standard.
func wkt(s Shape) string {
	points := slices.Clone(s.Points)
	if s.Form == Box {
		a, b := points[0], points[1]
		points = []Point{a, {b.XMm, a.YMm}, b, {a.XMm, b.YMm}}
	}
	if s.Form == Outline || s.Form == Box {
		points = append(points, points[0])
	}
	var parts []string
	for _, p := range points {
		parts = append(parts, fmt.Sprintf("%.17g %.17g", p.XMm, p.YMm))
	}
	if s.Form == Outline || s.Form == Box {
		return "POLYGON((" + strings.Join(parts, ",") + "))"
	}
	return "LINESTRING(" + strings.Join(parts, ",") + ")"
}

// TestAreasAndLengthsAgainstALibrary compares areas, lengths and what is cut off at
// the edge of a smaller sheet with a general geometry library, simplefeatures, which
// follows the OGC Simple Features standard.
func TestAreasAndLengthsAgainstALibrary(t *testing.T) {
	small := Size{170, 131}
	edge, err := geom.UnmarshalWKT("POLYGON((0 0,170 0,170 131,0 131,0 0))")
	if err != nil {
		t.Fatal(err)
	}
	outlines := 0
	rapid.Check(t, func(t *rapid.T) {
		s := drawnShape(t)
		if s.Form == Spot || s.Form == Strip || s.Validate(opened) != nil {
			t.Skip()
		}
		g, err := geom.UnmarshalWKT(wkt(s))
		if err != nil {
			t.Skip() // touches itself, which the standard refuses and a hand draws
		}
		if s.Form == Line {
			if want := g.Length(); !close9(s.LengthMm(), want) {
				t.Fatalf("%s is %g mm long, the library says %g", s, s.LengthMm(), want)
			}
		} else if want := g.Area(); !close9(s.AreaMm2(), want) {
			t.Fatalf("%s has %g mm2, the library says %g", s, s.AreaMm2(), want)
		}
		outlines++
		cut, err := geom.Intersection(g, edge)
		if err != nil {
			t.Skip()
		}
		var length, area float64
		for _, piece := range s.clip(small) {
			area += piece.AreaMm2()
			if piece.Form == Line {
				length += piece.LengthMm()
			}
		}
		wantLength := 0.0
		switch {
		case s.Form == Line && len(s.Points) == 2:
			wantLength = cut.Length()
		case s.Form == Line:
			length = 0 // the library counts once where a line runs back along itself
		}
		// The library computes where lines meet in its own way.
		if math.Abs(area-cut.Area()) > 1e-6*max(1, area) || math.Abs(length-wantLength) > 1e-6*max(1, length) {
			t.Fatalf("of %s a smaller sheet keeps %g mm2, %g mm; the library says %g, %g", s, area, length, cut.Area(), wantLength)
		}
	})
	if outlines < 20 {
		t.Errorf("only %d shapes were compared", outlines)
	}
}

func close9(got, want float64) bool { return math.Abs(got-want) <= 1e-9*max(1, math.Abs(want)) }

// TestThroughAreasAreTheSameOnBothFaces: what goes through shows as large on the
// back as on the front, on every sheet that it runs through.
func TestThroughAreasAreTheSameOnBothFaces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawnShape(t)
		d := Damage{Term: "loss", Shapes: []Shape{s}, From: 1, To: 3, Face: makeup.Inner, Through: true}
		sizes := Sizes{1: opened, 2: {opened.WidthMm - 4, opened.HeightMm - 2}, 3: {opened.WidthMm + 3, opened.HeightMm}}
		type measure struct{ area, length float64 }
		on := map[makeup.Sheet]map[makeup.Face]measure{}
		for _, tr := range d.Traces(sizes) {
			if on[tr.Sheet] == nil {
				on[tr.Sheet] = map[makeup.Face]measure{}
			}
			m := on[tr.Sheet][tr.Face]
			on[tr.Sheet][tr.Face] = measure{m.area + tr.Shape.AreaMm2(), m.length + tr.Shape.LengthMm()}
		}
		for sheet, faces := range on {
			a, b := faces[makeup.Outer], faces[makeup.Inner]
			if !close9(a.area, b.area) || !close9(a.length, b.length) {
				t.Fatalf("%s on %s: %+v on the outer face, %+v on the inner", s, sheet, a, b)
			}
		}
	})
}
