package condition

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchleaf/makeup"
)

// ground is nine folded sheets with a separate cover, all 340 by 262 mm.
func ground() Ground {
	g := Ground{MakeUp: makeup.MakeUp{Inner: 9, Cover: makeup.SeparateCover, FirstNumber: 1}, Sizes: Sizes{}}
	for s := range makeup.Sheet(10) {
		g.Sizes[s] = Size{340, 262}
	}
	return g
}

func TestWhere(t *testing.T) {
	for _, tc := range []struct {
		name     string
		from, to makeup.Sheet
		face     makeup.Face
		through  bool
		shape    Shape
		want     string // pages, leaves, place
	}{
		{"tear through three", 2, 4, makeup.Outer, true, line(340, 232, 256, 228),
			"pp. 3/4, 5/6, 7/8 | first leaf of sheets 2 to 4 | from the fore-edge, 30 mm above the tail"},
		{"the same drawn from its inner end", 2, 4, makeup.Outer, true, line(256, 228, 340, 232),
			"pp. 3/4, 5/6, 7/8 | first leaf of sheets 2 to 4 | from the fore-edge, 30 mm above the tail"},
		{"on the second leaves, in reading order", 2, 4, makeup.Outer, true, line(0, 40, 30, 44),
			"pp. 29/30, 31/32, 33/34 | second leaf of sheets 2 to 4 | from the fore-edge, 40 mm below the head"},
		{"one side", 3, 3, makeup.Inner, false, spot(40, 200),
			"p. 6 | first leaf of sheet 3 | 40 mm from the fore-edge, 62 mm above the tail"},
		{"cover alone", 0, 0, makeup.Outer, false, spot(182, 12),
			"front | first leaf of the cover | 12 mm from the fold, 12 mm below the head"},
		{"cover and first sheet", 0, 1, makeup.Outer, true, line(170, 0, 170, 55),
			"front/inside front, pp. 1/2, 35/36, inside back/back | both leaves of the cover and sheet 1 | along the fold from " +
				"the head"},
		{"tide line along the tail", 1, 1, makeup.Outer, true, box(0, 220, 340, 262),
			"pp. 1/2, 35/36 | both leaves of sheet 1 | along the whole tail of the face, up to 42 mm from it"},
		{"corner", 1, 1, makeup.Outer, true, box(0, 240, 25, 262),
			"pp. 35/36 | second leaf of sheet 1 | at the corner of tail and fore-edge"},
		{"loss at the fore-edge", 1, 1, makeup.Outer, true, box(325, 100, 340, 130),
			"pp. 1/2 | first leaf of sheet 1 | at the fore-edge, 100 to 130 mm below the head"},
		{"across the fold", 5, 5, makeup.Inner, false, box(160, 100, 200, 120),
			"pp. 10, 27 | both leaves of sheet 5 | across the fold, 100 to 120 mm below the head"},
		{"from edge to edge", 5, 5, makeup.Outer, true, line(0, 50, 340, 60),
			"pp. 9/10, 27/28 | both leaves of sheet 5 | from the fore-edge, 50 mm below the head of 27/28, across the fold, to " +
				"the fore-edge, 60 mm below the head of 9/10"},
		{"from the head", 5, 5, makeup.Outer, true, line(190, 0, 190, 30),
			"pp. 9/10 | first leaf of sheet 5 | from the head, 20 mm from the fold"},
		{"the whole face", 5, 5, makeup.Outer, false, box(0, 0, 340, 262),
			"pp. 9, 28 | both leaves of sheet 5 | over the whole face"},
		{"the whole leaf", 5, 5, makeup.Outer, false, box(170, 0, 340, 262),
			"p. 9 | first leaf of sheet 5 | over the whole leaf"},
		{"free line", 5, 5, makeup.Outer, false, line(200, 100, 260, 140),
			"p. 9 | first leaf of sheet 5 | 30 to 90 mm from the fold, 100 to 140 mm below the head"},
	} {
		g := ground()
		d := Damage{Shapes: []Shape{tc.shape}, From: tc.from, To: tc.to, Face: tc.face, Through: tc.through}
		w := g.Where(d.Traces(g.Sizes))
		if got := w.Pages + " | " + w.Leaves + " | " + w.Place; got != tc.want {
			t.Errorf("%s: got\n%s\nwant\n%s", tc.name, got, tc.want)
		}
	}
}

func TestWhereOfOddMakeUps(t *testing.T) {
	tear := Damage{Shapes: []Shape{line(340, 232, 256, 228)}, From: 2, To: 3, Face: makeup.Outer, Through: true}
	g := ground()
	g.MakeUp.Printed = []makeup.Printed{{Position: 3, Number: "5"}, {Position: 4, Number: ""}}
	if got, want := g.Where(tear.Traces(g.Sizes)).Pages, "pp. 5 [3]/[4], 5 [5]/6"; got != want {
		t.Errorf("misnumbered: got %s, want %s", got, want)
	}

	// A stack of single leaves: the spine edge is at the left of each recto.
	g = ground()
	g.MakeUp.Build, g.MakeUp.Inner = makeup.Stack, 18
	for s := range makeup.Sheet(19) {
		g.Sizes[s] = Size{170, 262}
	}
	d := Damage{Shapes: []Shape{line(170, 232, 120, 228)}, From: 2, To: 2, Face: makeup.Outer, Through: true}
	w := g.Where(d.Traces(g.Sizes))
	if got, want := w.Say("tear 50 mm", "through a line of print"),
		"pp. 3/4: tear 50 mm, from the fore-edge, 30 mm above the tail, through a line of print"; got != want {
		t.Errorf("single leaf: got %s, want %s", got, want)
	}
	if want := "single leaf: sheet 2"; w.Leaves != want {
		t.Errorf("single leaf: got %s, want %s", w.Leaves, want)
	}
	d = Damage{Shapes: []Shape{spot(165, 100)}, From: 2, To: 2, Face: makeup.Inner}
	if got, want := g.Where(d.Traces(g.Sizes)).Say("rust"), "p. 4: rust, 5 mm from the spine edge, 100 mm below the head"; got != want {
		t.Errorf("verso of a single leaf: got %s, want %s", got, want)
	}

	// A fold that does not lie in the middle.
	g = ground()
	g.FoldMm = map[makeup.Sheet]float64{2: 176}
	d = Damage{Shapes: []Shape{spot(172, 100)}, From: 2, To: 2, Face: makeup.Outer}
	if got, want := g.Where(d.Traces(g.Sizes)).Say("spot"), "p. 34: spot, 4 mm from the fold, 100 mm below the head"; got != want {
		t.Errorf("fold off the middle: got %s, want %s", got, want)
	}
	if got := (Where{}).Say("tear"); got != "tear" {
		t.Errorf("nowhere: got %q", got)
	}
}

// TestWhereIsTheSameFromEitherFace draws a shape on one face, and its mirror image
// on the other: the words must not differ, whatever the sheet.
func TestWhereIsTheSameFromEitherFace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := ground()
		x, y := rapid.Float64Range(0, 340), rapid.Float64Range(0, 262)
		form := rapid.SampledFrom([]Form{Spot, Line, Outline, Box}).Draw(t, "form")
		n := map[Form]int{Spot: 1, Line: 2, Outline: 3, Box: 2}[form]
		s := Shape{Form: form}
		for range n {
			s.Points = append(s.Points, Point{x.Draw(t, "x"), y.Draw(t, "y")})
		}
		sheet := makeup.Sheet(rapid.IntRange(0, 9).Draw(t, "sheet"))
		d := Damage{Shapes: []Shape{s}, From: sheet, To: sheet, Face: makeup.Outer, Through: true}
		back := Damage{Shapes: []Shape{s.Mirror(340)}, From: sheet, To: sheet, Face: makeup.Inner, Through: true}
		a, b := g.Where(d.Traces(g.Sizes)), g.Where(back.Traces(g.Sizes))
		if a.Pages != b.Pages || a.Leaves != b.Leaves || places(a.Place) != places(b.Place) {
			t.Fatalf("%v: %v from one face, %v from the other", s, a, b)
		}
		if a.Pages == "" || a.Place == "" {
			t.Fatalf("%v: a place without words: %v", s, a)
		}
	})
}

// places leaves the order of two distances that tie aside: exactly in the middle
// of a leaf, rounding decides from which edge is measured.
func places(s string) string {
	return strings.NewReplacer("from the fold", "", "from the fore-edge", "").Replace(s)
}
