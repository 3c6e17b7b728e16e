package condition

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestParseShapes(t *testing.T) {
	for _, tc := range []struct {
		text string
		want []Shape
		err  string
	}{
		{"", nil, ""},
		{"line 340,180 256,182", []Shape{line(340, 180, 256, 182)}, ""},
		{"Strip 4 0,230 340,226;\n spot 12,30.5 ;", []Shape{
			{Form: Strip, WidthMm: 4, Points: points([]float64{0, 230, 340, 226})}, spot(12, 30.5)}, ""},
		{"line 340;180", nil, `a point cannot be "340": two numbers of mm as in 256,182 are expected, from the left edge ` +
			`and from the head`},
		{"strip", nil, "a strip needs its width in mm before its points"},
		{"strip 0,230", nil, `the width of a strip cannot be "0,230": a number of mm is expected`},
		{strings.Repeat("spot 1,1;", 10000), nil, "more than 500 shapes stand here: record several findings"},
		{"line" + strings.Repeat(" 1,1", 2001), nil, "a shape has 2001 points: at most 2000 are possible"},
	} {
		got, err := ParseShapes(tc.text)
		if (err == nil) != (tc.err == "") || err != nil && err.Error() != tc.err {
			t.Errorf("%.40q: got %v, want %q", tc.text, err, tc.err)
		}
		if d := cmp.Diff(tc.want, got); err == nil && d != "" {
			t.Errorf("%.40q (-want +got):\n%s", tc.text, d)
		}
	}
}

func TestShapesAreReadAsTheyAreWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := []Shape{drawnShape(t), drawnShape(t)}
		got, err := ParseShapes(WriteShapes(want))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("(-written +read):\n%s", d)
		}
	})
}

func FuzzParseShapes(f *testing.F) {
	f.Add("line 340,180 256,182; strip 4 0,230 340,226; spot 12,30")
	f.Add("box nan,inf 1e308,-0")
	f.Fuzz(func(t *testing.T, text string) {
		list, err := ParseShapes(text)
		if err != nil {
			return
		}
		for _, s := range list {
			if s.Validate(opened) == nil && (math.IsNaN(s.AreaMm2()) || s.AreaMm2() < 0) {
				t.Fatalf("%q is a shape with %g mm2", s, s.AreaMm2())
			}
		}
		again, err := ParseShapes(WriteShapes(list))
		if err != nil || WriteShapes(again) != WriteShapes(list) {
			t.Fatalf("%q is written as %q, which reads as %v, %v", text, WriteShapes(list), again, err)
		}
	})
}

// What is offered is in the vocabulary; a line from an edge is a tear first, one
// along the fold a split, an area at an edge a loss.
func TestOffers(t *testing.T) {
	for drawn, terms := range Offers() {
		for _, term := range terms {
			if _, ok := Look(term); !ok {
				t.Errorf("%s: %q is not in the vocabulary", drawn, term)
			}
		}
	}
	for drawn, want := range map[Drawn]Term{LineFromEdge: "tear", LineAlongFold: "spine split", AreaAtEdge: "loss"} {
		if got := Offers()[drawn]; len(got) == 0 || got[0] != want {
			t.Errorf("%s offers %v, want %s first", drawn, got, want)
		}
	}
}

func TestStrips(t *testing.T) {
	strip := func(w float64, xy ...float64) Shape { return Shape{Form: Strip, Points: points(xy), WidthMm: w} }
	for _, tc := range []struct {
		shape        Shape
		length, area float64
	}{
		{strip(18, 161, 20, 161, 130), 110, 1980},
		{strip(4, 10, 10, 13, 14, 13, 20), 11, 44},
	} {
		if l, a := tc.shape.LengthMm(), tc.shape.AreaMm2(); !near(l, tc.length) || !near(a, tc.area) {
			t.Errorf("%s: %g mm, %g mm2; want %g, %g", tc.shape, l, a, tc.length, tc.area)
		}
		if err := tc.shape.Validate(opened); err != nil {
			t.Errorf("%s: %v", tc.shape, err)
		}
	}
	for _, tc := range []struct {
		shape Shape
		want  string
	}{
		{strip(0, 1, 1, 9, 9), "a strip cannot be 0 mm wide: 0.05 to 500 mm is possible"},
		{strip(math.NaN(), 1, 1, 9, 9), "a strip cannot be NaN mm wide: 0.05 to 500 mm is possible"},
		{Shape{Form: Line, WidthMm: 3, Points: points([]float64{1, 1, 9, 9})},
			"a width belongs to a strip alone, not to this line"},
	} {
		if err := tc.shape.Validate(opened); err == nil || err.Error() != tc.want {
			t.Errorf("%s: got %v, want %s", tc.shape, err, tc.want)
		}
	}
	// Cut where the sheet beneath is smaller: 18 of 20 mm are left.
	_, sizes := object()
	d := Damage{Term: "prior repair", Shapes: []Shape{strip(5, 344, 50, 324, 50)}, From: 0, To: 1}
	for _, tr := range d.Traces(sizes) {
		if tr.Sheet == 1 && !near(tr.Shape.AreaMm2(), 90) {
			t.Errorf("on sheet 1: %g mm2, want 90", tr.Shape.AreaMm2())
		}
	}
}
