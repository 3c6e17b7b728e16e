package condition

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"benchleaf/makeup"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestVocabulary(t *testing.T) {
	terms, letters := map[Term]bool{}, map[string]bool{}
	for _, k := range Kinds() {
		switch {
		case terms[k.Term]:
			t.Errorf("%s: the term is there twice", k.Term)
		case letters[k.Letter]:
			t.Errorf("%s: letter %s is taken", k.Term, k.Letter)
		case len(k.Letter) < 1 || len(k.Letter) > 2 || strings.ToUpper(k.Letter) != k.Letter:
			t.Errorf("%s: %q is not one or two capitals", k.Term, k.Letter)
		case k.Meaning == "" || len(k.Also) == 0:
			t.Errorf("%s: meaning or other words are missing", k.Term)
		case !slices.Contains([]Measure{ByLength, ByArea, ByCount, ByWord}, k.Measure):
			t.Errorf("%s: measure %q", k.Term, k.Measure)
		case !slices.Contains([]Depth{Always, Perhaps, Never}, k.Depth):
			t.Errorf("%s: depth %q", k.Term, k.Depth)
		case k.Mend == MendStrip && k.Measure != ByLength:
			t.Errorf("%s: a strip mends what has a length", k.Term)
		case !slices.Contains(Groups(), k.Group):
			t.Errorf("%s: group %q is not in the key", k.Term, k.Group.Name)
		}
		terms[k.Term], letters[k.Letter] = true, true
		if found, ok := Look(k.Term); !ok || found.Letter != k.Letter {
			t.Errorf("%s is not found by its term", k.Term)
		}
	}
	// What can hurt someone says so.
	for _, term := range []Term{"mould", "pressure-sensitive tape", "tape residue", "rust migration"} {
		if k, _ := Look(term); k.Caution == "" {
			t.Errorf("%s carries no caution", term)
		}
	}
	if _, ok := Look("tears"); ok {
		t.Error("a term that is not in the vocabulary was found")
	}
}

// TestGroupColours checks against the eight colours of Okabe and Ito (Color
// Universal Design, 2008), from memory, given there as red, green, blue.
func TestGroupColours(t *testing.T) {
	published := map[string][3]int{
		"black": {0, 0, 0}, "orange": {230, 159, 0}, "sky blue": {86, 180, 233}, "bluish green": {0, 158, 115},
		"yellow": {240, 228, 66}, "blue": {0, 114, 178}, "vermilion": {213, 94, 0}, "reddish purple": {204, 121, 167},
	}
	var want, got []string
	for _, c := range published {
		want = append(want, fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]))
	}
	hatches := map[string]bool{}
	for _, g := range Groups() {
		got = append(got, g.Colour)
		hatches[g.Hatch] = true
	}
	slices.Sort(want)
	slices.Sort(got)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("colours (-published +ours):\n%s", diff)
	}
	if len(hatches) != len(Groups()) {
		t.Errorf("%d groups share %d hatches: colour would stand alone", len(Groups()), len(hatches))
	}
}

func TestFind(t *testing.T) {
	for _, tc := range []struct {
		text string
		want []Term
	}{
		{"foxing", []Term{"foxing"}},
		{"mildew", []Term{"mould"}},
		{"  WATER stain", []Term{"tideline", "water stain"}},
		{"rip", []Term{"tear", "cockling", "fold", "inscription"}}, // words that begin with it first
		{"no such thing", nil},
	} {
		var got []Term
		for _, k := range Find(tc.text) {
			got = append(got, k.Term)
		}
		if diff := cmp.Diff(tc.want, got); diff != "" {
			t.Errorf("%q (-want +got):\n%s", tc.text, diff)
		}
	}
	if len(Find("")) != len(Kinds()) {
		t.Error("an empty text does not list the whole vocabulary")
	}
}

func line(xy ...float64) Shape    { return Shape{Form: Line, Points: points(xy)} }
func outline(xy ...float64) Shape { return Shape{Form: Outline, Points: points(xy)} }
func box(xy ...float64) Shape     { return Shape{Form: Box, Points: points(xy)} }
func spot(x, y float64) Shape     { return Shape{Form: Spot, Points: []Point{{x, y}}} }

func points(xy []float64) []Point {
	var list []Point
	for i := 0; i < len(xy); i += 2 {
		list = append(list, Point{xy[i], xy[i+1]})
	}
	return list
}

// polygon is a regular one of n corners on a circle.
func polygon(n int, cx, cy, r float64) Shape {
	s := Shape{Form: Outline}
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		s.Points = append(s.Points, Point{cx + r*cos, cy + r*sin})
	}
	return s
}

func near(got, want float64) bool { return math.Abs(got-want) <= 1e-9*max(1, math.Abs(want)) }

// TestLengthsAndAreas checks against closed forms of plane geometry.
func TestLengthsAndAreas(t *testing.T) {
	for _, tc := range []struct {
		name         string
		shape        Shape
		length, area float64
	}{
		{"spot", spot(3, 4), 0, 0},
		{"3-4-5 line", line(10, 10, 13, 14), 5, 0},
		{"line of two parts", line(0, 0, 3, 4, 3, 10), 11, 0},
		{"right triangle", outline(0, 0, 3, 0, 3, 4), 12, 6},
		{"13-14-15 triangle, area 84 by Heron", outline(0, 0, 14, 0, 5, 12), 42, 84},
		{"same, drawn the other way round", outline(5, 12, 14, 0, 0, 0), 42, 84},
		{"box", box(10, 20, 40, 60), 140, 1200},
		{"box from any corner", box(40, 20, 10, 60), 140, 1200},
		{"hollow outline: 10 x 10 less a 5 x 5 corner", outline(0, 0, 10, 0, 10, 5, 5, 5, 5, 10, 0, 10), 40, 75},
		{"hexagon of radius 10: 6 r, 3 sqrt(3)/2 r^2", polygon(6, 50, 50, 10), 60, 150 * math.Sqrt(3)},
		{"12-gon of radius 10: 3 r^2", polygon(12, 900, 900, 10), 240 * math.Sin(math.Pi/12), 300},
	} {
		if got := tc.shape.LengthMm(); !near(got, tc.length) {
			t.Errorf("%s: length %g mm, want %g mm", tc.name, got, tc.length)
		}
		if got := tc.shape.AreaMm2(); !near(got, tc.area) {
			t.Errorf("%s: area %g mm2, want %g mm2", tc.name, got, tc.area)
		}
		if err := tc.shape.Validate(Size{1000, 1000}); err != nil {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
}

var opened = Size{340, 262}

// drawnShape is any valid shape on a face of the opened size. Outlines are
// star-shaped about a middle, so that they do not cross themselves.
func drawnShape(t *rapid.T) Shape {
	coordinate := func(limit float64) float64 { return rapid.Float64Range(0, limit).Draw(t, "mm") }
	s := Shape{Form: rapid.SampledFrom([]Form{Spot, Line, Outline, Box}).Draw(t, "form")}
	n := map[Form]int{Spot: 1, Box: 2}[s.Form]
	if s.Form == Line {
		n = rapid.IntRange(2, 12).Draw(t, "points")
	}
	if s.Form == Outline {
		n := rapid.IntRange(3, 24).Draw(t, "corners")
		for i := range n {
			r := rapid.Float64Range(1, 130).Draw(t, "radius")
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			s.Points = append(s.Points, Point{170 + r*cos, 131 + r*sin})
		}
	}
	for range n {
		s.Points = append(s.Points, Point{coordinate(opened.WidthMm), coordinate(opened.HeightMm)})
	}
	if s.Validate(opened) != nil {
		t.Skip("points fell together")
	}
	return s
}

func TestMirrorTwiceIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawnShape(t)
		once := s.Mirror(opened.WidthMm)
		for i, p := range once.Mirror(opened.WidthMm).Points {
			// Taking a number from the width and back rounds once.
			if math.Abs(p.XMm-s.Points[i].XMm) > 1e-12*opened.WidthMm || p.YMm != s.Points[i].YMm {
				t.Fatalf("point %d of %v came back as %v", i, s.Points[i], p)
			}
		}
		if !near(once.LengthMm(), s.LengthMm()) || math.Abs(once.AreaMm2()-s.AreaMm2()) > 1e-6 {
			t.Fatalf(
				"mirrored: %g mm and %g mm2 became %g mm and %g mm2",
				s.LengthMm(),
				s.AreaMm2(),
				once.LengthMm(),
				once.AreaMm2(),
			)
		}
		if err := once.Validate(opened); err != nil {
			t.Fatalf("mirrored: %v", err)
		}
		low, high := s.Bounds()
		mlow, mhigh := once.Bounds()
		if math.Abs(mlow.XMm-(opened.WidthMm-high.XMm)) > 1e-9 || math.Abs(mhigh.XMm-(opened.WidthMm-low.XMm)) > 1e-9 ||
			mlow.YMm != low.YMm {
			t.Fatalf("bounds %v %v became %v %v", low, high, mlow, mhigh)
		}
	})
}

// TestStarAreas checks outlines with corners at equal angles about a middle
// against the sum of their triangles, r s sin(angle)/2 each.
func TestStarAreas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 40).Draw(t, "corners")
		radii := rapid.SliceOfN(rapid.Float64Range(0.1, 100), n, n).Draw(t, "radii")
		s := Shape{Form: Outline}
		var want float64
		for i, r := range radii {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			s.Points = append(s.Points, Point{500 + r*cos, 500 + r*sin})
			want += r * radii[(i+1)%n] * math.Sin(2*math.Pi/float64(n)) / 2
		}
		if got := s.AreaMm2(); math.Abs(got-want) > 1e-6*(1+want) {
			t.Fatalf("area %g mm2, want %g mm2", got, want)
		}
	})
}

func TestShapeValidate(t *testing.T) {
	for _, tc := range []struct {
		shape Shape
		want  string
	}{
		{Shape{Form: "blob"}, `a shape cannot be "blob": it is a spot, a line, a strip, an outline or a box`},
		{Shape{Form: Spot}, "the number of points of this spot is 0: it must be 1"},
		{line(1, 1), "the number of points of this line is 1: 2 to 2000 is possible"},
		{line(1, 1, 1, 1), "this line has all its points in one place: mark a spot instead"},
		{outline(0, 0, 1, 1, 2, 2), "this outline encloses nothing: draw a line instead"},
		{box(0, 0, 0, 5), "this box encloses nothing: draw a line instead"},
		{outline(0, 0, 10, 10, 10, 0, 0, 8), "the outline crosses itself, so it has no area: draw it again without " +
			"crossing"},
		{spot(341, 5), "point 1 (341 mm from the left, 5 mm from the head) lies off the sheet, which is 340 by 262 mm"},
		{spot(-0.1, 5), "point 1 (-0.1 mm from the left, 5 mm from the head) lies off the sheet, which is 340 by " +
			"262 mm"},
		{spot(math.NaN(), 5), "point 1 (NaN mm from the left, 5 mm from the head) lies off the sheet, which is 340 " +
			"by 262 mm"},
		{Shape{Form: Line, Points: make([]Point, 2001)}, "the number of points of this line is 2001: 2 to 2000 is possible"},
	} {
		if err := tc.shape.Validate(opened); err == nil || err.Error() != tc.want {
			t.Errorf("%v: got %v, want %s", tc.shape.Form, err, tc.want)
		}
	}
	for _, bad := range []Size{{0, 100}, {100, 3000}, {math.NaN(), 100}} {
		if bad.Validate() == nil {
			t.Errorf("a sheet of %v was accepted", bad)
		}
	}
}

// object is the make-up and the sizes that the tests on damages use: nine inner
// sheets in a cover that stands over them by 2 mm on each side.
func object() (makeup.MakeUp, Sizes) {
	m := makeup.MakeUp{Inner: 9, Cover: makeup.SeparateCover, FirstNumber: 1}
	sizes := Sizes{0: {344, 262}}
	for s := makeup.Sheet(1); s <= 9; s++ {
		sizes[s] = opened
	}
	return m, sizes
}

// tear is 84 mm long from the fore-edge of the first leaf, through sheets 2 to 4.
func tear() Damage {
	return Damage{
		Term: "tear", Shapes: []Shape{line(340, 100, 256, 100)}, From: 2, To: 4, Face: makeup.Outer, Through: true,
	}
}

func TestTraces(t *testing.T) {
	m, sizes := object()
	d := tear()
	if err := d.Validate(m, sizes); err != nil {
		t.Fatal(err)
	}
	front, back := line(340, 100, 256, 100), line(0, 100, 84, 100)
	want := []Trace{
		{2, makeup.Outer, front}, {2, makeup.Inner, back},
		{3, makeup.Outer, front}, {3, makeup.Inner, back},
		{4, makeup.Outer, front}, {4, makeup.Inner, back},
	}
	if diff := cmp.Diff(want, d.Traces(sizes)); diff != "" {
		t.Errorf("traces (-want +got):\n%s", diff)
	}
	// The tear is on the leaves that carry pages 3 to 8.
	var got []string
	for _, tr := range d.Traces(sizes) {
		for _, p := range (Ground{MakeUp: m, Sizes: sizes}).Pages(tr) {
			got = append(got, m.Name(p))
		}
	}
	if diff := cmp.Diff([]string{"3", "4", "5", "6", "7", "8"}, got); diff != "" {
		t.Errorf("pages (-want +got):\n%s", diff)
	}
}

// TestTracesOnSmallerSheets: what the cover's overhang of 2 mm bears alone does
// not reach sheet 1, and what reaches it is cut and measured there.
func TestTracesOnSmallerSheets(t *testing.T) {
	_, sizes := object()
	for _, tc := range []struct {
		name         string
		term         Term
		shape        Shape
		on           int // pieces on sheet 1
		length, area float64
	}{
		{"tear from the fore-edge, 20 mm on the cover", "tear", line(344, 50, 324, 50), 1, 18, 0},
		{"tear within the overhang", "tear", line(344, 50, 342.5, 50), 0, 0, 0},
		{"crease along the overhang", "crease", line(343, 10, 343, 200), 0, 0, 0},
		{"line that leaves and comes back", "crease", line(330, 20, 344, 20, 344, 40, 330, 40), 2, 24, 0},
		{"line that only touches", "crease", line(342, 20, 344, 40), 0, 0, 0},
		{"corner lost, 10 x 10 mm", "loss", outline(334, 262, 344, 262, 344, 252, 334, 252), 1, 0, 80},
		{"triangle at the corner", "loss", outline(334, 262, 344, 262, 344, 252), 1, 0, 100/2 - (10+8)/2*2},
		{"box over the edge", "loss", box(330, 10, 344, 20), 1, 0, 120},
		{"spot in the overhang", "puncture", spot(343, 5), 0, 0, 0},
		{"spot on sheet 1", "puncture", spot(100, 5), 1, 0, 0},
	} {
		d := Damage{Term: tc.term, Shapes: []Shape{tc.shape}, From: 0, To: 1, Face: makeup.Outer}
		var pieces int
		var length, area float64
		for _, tr := range d.Traces(sizes) {
			if tr.Sheet == 1 {
				pieces++
				area += tr.Shape.AreaMm2()
				if tr.Shape.Form == Line {
					length += tr.Shape.LengthMm()
				}
				if err := tr.Shape.Validate(sizes[1]); err != nil {
					t.Errorf("%s: %v", tc.name, err)
				}
			}
		}
		if pieces != tc.on || !near(length, tc.length) || !near(area, tc.area) {
			t.Errorf(
				"%s: %d pieces, %g mm, %g mm2 on sheet 1; want %d, %g mm, %g mm2",
				tc.name,
				pieces,
				length,
				area,
				tc.on,
				tc.length,
				tc.area,
			)
		}
	}
}

// TestClippingKeepsWhatIsInside compares clipped areas with a fine grid of
// points counted one by one.
func TestClippingKeepsWhatIsInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 9).Draw(t, "corners")
		s := Shape{Form: Outline}
		cx := rapid.Float64Range(-20, 120).Draw(t, "x")
		cy := rapid.Float64Range(-20, 120).Draw(t, "y")
		for i := range n {
			r := rapid.Float64Range(5, 60).Draw(t, "radius")
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			s.Points = append(s.Points, Point{cx + r*cos, cy + r*sin})
		}
		const step = 0.5
		counted := 0
		for x := step / 2; x < 100; x += step {
			for y := step / 2; y < 100; y += step {
				if holds(s, x, y) {
					counted++
				}
			}
		}
		want := float64(counted) * step * step
		var got float64
		for _, piece := range s.clip(Size{100, 100}) {
			got += piece.AreaMm2()
		}
		// The grid errs by at most about one cell along the outline.
		if math.Abs(got-want) > step*s.LengthMm() {
			t.Fatalf("%v clipped has %g mm2, counted %g mm2", s.Points, got, want)
		}
	})
}

// holds says whether a point lies within an outline, by counting crossings of a
// ray.
func holds(s Shape, x, y float64) bool {
	in := false
	for i, a := range s.Points {
		b := s.Points[(i+1)%len(s.Points)]
		if (a.YMm > y) != (b.YMm > y) && x < a.XMm+(y-a.YMm)/(b.YMm-a.YMm)*(b.XMm-a.XMm) {
			in = !in
		}
	}
	return in
}

func TestPagesOfATrace(t *testing.T) {
	m, _ := object()
	for _, tc := range []struct {
		name  string
		face  makeup.Face
		shape Shape
		want  string
	}{
		{"left of the outer face", makeup.Outer, spot(100, 5), "32"},
		{"right of the outer face", makeup.Outer, spot(200, 5), "5"},
		{"left of the inner face", makeup.Inner, spot(100, 5), "6"},
		{"right of the inner face", makeup.Inner, spot(200, 5), "31"},
		{"across the fold", makeup.Outer, line(160, 5, 180, 5), "32 5"},
		{"in the fold", makeup.Outer, line(170, 5, 170, 80), "32 5"},
		{"up to the fold", makeup.Outer, line(100, 5, 170, 80), "32"},
		{"from the fold", makeup.Outer, line(170, 5, 300, 80), "5"},
	} {
		var got []string
		for _, p := range (Ground{MakeUp: m, Sizes: Sizes{3: opened}}).Pages(Trace{3, tc.face, tc.shape}) {
			got = append(got, m.Name(p))
		}
		if strings.Join(got, " ") != tc.want {
			t.Errorf("%s: pages %v, want %s", tc.name, got, tc.want)
		}
	}
}

func TestDamageValidate(t *testing.T) {
	m, sizes := object()
	for _, tc := range []struct {
		name   string
		change func(*Damage)
		want   string
	}{
		{"good", func(*Damage) {}, ""},
		{"unknown term", func(d *Damage) { d.Term = "rips" }, `"rips" is not a kind of damage in the vocabulary`},
		{"tear on one face", func(d *Damage) { d.Through = false; d.To = 2 }, "a tear shows on both faces: mark it " +
			"as going through"},
		{"abrasion through", func(d *Damage) { d.Term = "abrasion" }, "abrasion lies on one face: draw it on each " +
			"face where it is"},
		{"stain through sheets but not through", func(d *Damage) { d.Term = "stain"; d.Through = false },
			"what reaches from sheet 2 to sheet 4 goes through the sheets: mark it as going through"},
		{"inside out", func(d *Damage) { d.To = 1 }, "a damage runs from the outside in: it cannot begin at sheet 2 " +
			"and end at sheet 1"},
		{"no face", func(d *Damage) { d.Face = 7 }, "a damage is drawn on the outer or on the inner face"},
		{"no shape", func(d *Damage) { d.Shapes = nil },
			"a damage with 0 shapes cannot be mapped: 1 to 500 are possible"},
		{"ten thousand shapes", func(d *Damage) { d.Shapes = make([]Shape, 10000) },
			"a damage with 10000 shapes cannot be mapped: 1 to 500 are possible"},
		{"second of two off the sheet", func(d *Damage) { d.Shapes = append(d.Shapes, spot(341, 5)) },
			"shape 2 of 2: point 1 (341 mm from the left, 5 mm from the head) lies off the sheet, which is 340 by " +
				"262 mm"},
		{"no such sheet", func(d *Damage) { d.To = 10 }, "the make-up has no sheet 10"},
		{"off the sheet", func(d *Damage) { d.Shapes = []Shape{spot(1, 263)} }, "point 1 (1 mm from the left, 263 mm from the " +
			"head) lies off the sheet, which is 340 by 262 mm"},
	} {
		d := tear()
		tc.change(&d)
		got := ""
		if err := d.Validate(m, sizes); err != nil {
			got = err.Error()
		}
		if got != tc.want {
			t.Errorf("%s: got %q, want %q", tc.name, got, tc.want)
		}
	}
	delete(sizes, 3)
	if err := tear().Validate(m, sizes); err == nil ||
		err.Error() != "the size of sheet 3 is not known yet: enter its paper first" {
		t.Errorf("a sheet without a size: got %v", err)
	}
}

func TestSum(t *testing.T) {
	_, sizes := object()
	damages := []Damage{
		tear(),
		{Term: "foxing", Shapes: []Shape{box(10, 10, 60, 50)}, From: 0, To: 0, Face: makeup.Inner},
		{Term: "tear", Shapes: []Shape{line(100, 0, 100, 16)}, From: 9, To: 9, Face: makeup.Outer, Through: true},
	}
	var got []string
	for _, total := range Sum(damages, sizes) {
		got = append(
			got,
			fmt.Sprintf("%s: %d, %g mm, %g mm2", total.Kind.Term, total.Count, total.LengthMm, total.AreaMm2),
		)
	}
	want := []string{
		"tear: 4, 268 mm, 0 mm2", // 3 x 84 + 16
		"foxing: 1, 0 mm, 2000 mm2",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestTissue is worked by hand: the tear takes on each of three sheets a strip
// of 84 + 2 x 2 mm, 6 mm wide; the loss of 10 x 12 mm at a margin of 2 mm takes
// 120 + 44 x 2 + pi x 4 mm2.
func TestTissue(t *testing.T) {
	_, sizes := object()
	damages := []Damage{
		tear(),
		{Term: "loss", Shapes: []Shape{box(0, 250, 10, 262)}, From: 1, To: 1, Face: makeup.Outer, Through: true},
		{Term: "foxing", Shapes: []Shape{box(10, 10, 60, 50)}, From: 0, To: 0, Face: makeup.Inner},
	}
	how := Mending{StripWidthMm: 6, MarginMm: 2, Waste: 0.2}
	got, err := TissueFor(damages, sizes, how)
	if err != nil {
		t.Fatal(err)
	}
	strips, patch := 3*88.0, 208+4*math.Pi
	if got.Mends != 4 || !near(got.StripLengthMm, strips) || !near(got.StripAreaMm2, 6*strips) ||
		!near(got.PatchAreaMm2, patch) ||
		!near(got.TakeMm2, (6*strips+patch)/0.8) {
		t.Errorf("got %+v, want 4 mends, %g mm of strip, %g mm2 of patch", got, strips, patch)
	}
	how.BothFaces = true
	if twice, _ := TissueFor(damages, sizes, how); !near(twice.TakeMm2, 2*got.TakeMm2) || twice.Mends != 8 {
		t.Errorf("both faces take %+v, want twice %+v", twice, got)
	}
	for _, bad := range []Mending{
		{StripWidthMm: 0, MarginMm: 2},
		{StripWidthMm: 6, MarginMm: -1},
		{StripWidthMm: 6, MarginMm: 2, Waste: 1},
		{StripWidthMm: math.NaN(), MarginMm: 2},
	} {
		if _, err := TissueFor(damages, sizes, bad); err == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
}

// TestGrownAgainstCounting compares Steiner's formula for a hexagon with points
// counted on a fine grid.
func TestGrownAgainstCounting(t *testing.T) {
	s, margin := polygon(6, 30, 30, 12), 3.0
	const step = 0.05
	counted := 0
	for x := step / 2; x < 60; x += step {
		for y := step / 2; y < 60; y += step {
			if holds(s, x, y) || distance(s, x, y) <= margin {
				counted++
			}
		}
	}
	want := float64(counted) * step * step
	if got := s.grown(margin); math.Abs(got-want) > 1e-3*want {
		t.Errorf("grown by %g mm: %g mm2, counted %g mm2", margin, got, want)
	}
}

// distance is that of a point from the nearest side of an outline.
func distance(s Shape, x, y float64) float64 {
	nearest := math.Inf(1)
	for i, a := range s.Points {
		b := s.Points[(i+1)%len(s.Points)]
		dx, dy := b.XMm-a.XMm, b.YMm-a.YMm
		along := ((x-a.XMm)*dx + (y-a.YMm)*dy) / (dx*dx + dy*dy)
		along = min(max(along, 0), 1)
		nearest = min(nearest, math.Hypot(x-a.XMm-along*dx, y-a.YMm-along*dy))
	}
	return nearest
}

func TestSeveritiesMean(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range Severities() {
		seen[s.Meaning()] = true
	}
	if len(seen) != 3 || seen[""] || Severity("bad").Meaning() != "" {
		t.Errorf("the severities mean %v", seen)
	}
}

func BenchmarkValidateOutline(b *testing.B) {
	s := polygon(MaxPoints, 170, 131, 100)
	for b.Loop() {
		if err := s.Validate(opened); err != nil {
			b.Fatal(err)
		}
	}
}
