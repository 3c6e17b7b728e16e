package solution

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestMeasure(t *testing.T) {
	kit := UsualGlassware()
	for _, row := range []struct {
		v    Millilitres
		text string
		ml   Millilitres
	}{
		{375, "fill the 500 mL cylinder to 375 mL", 375},
		{1125, "fill the 500 mL cylinder twice to 500 mL, then the same to 125 mL", 1125},
		{1000, "fill the 500 mL cylinder twice to 500 mL", 1000},
		{62, "fill the 100 mL cylinder to 62 mL", 62},
		{7.3, "fill the 10 mL cylinder to 7.4 mL", 7.4},
	} {
		p, err := measure(row.v, kit)
		if err != nil {
			t.Errorf("%g mL: %v", row.v, err)
			continue
		}
		if p.Text() != row.text || math.Abs(float64(p.Volume-row.ml)) > 1e-9 {
			t.Errorf("%g mL: got %q, %g mL, want %q, %g mL", row.v, p.Text(), p.Volume, row.text, row.ml)
		}
	}
	flask, err := measure(300, []Glassware{{"flask", 100, 100, 0.1}})
	if err != nil || flask.Text() != "fill the flask 3 times to 100 mL" {
		t.Errorf("a flask with one mark: got %q, %v", flask.Text(), err)
	}
}

// The standard uncertainty by hand: one fill of a 500 mL cylinder, ±5 mL on the
// glass, read to half of 5 mL, both rectangular: sqrt(25/3 + 6.25/3) = 3.23 mL;
// two fills repeat the glass's own error and not the reading:
// sqrt(100/3 + 2 x 6.25/3) = 6.12 mL.
func TestPourUncertainty(t *testing.T) {
	g := Glassware{"cylinder", 500, 5, 5}
	near(t, "one fill", float64(Pour{Fills: []Fill{{g, 1, 500}}}.Standard()), 3.227, 0.001)
	near(t, "two fills", float64(Pour{Fills: []Fill{{g, 2, 500}}}.Standard()), 6.124, 0.001)
}

func TestMeasureRefuses(t *testing.T) {
	for _, row := range []struct {
		v     Millilitres
		glass []Glassware
		says  string
	}{
		{0, UsualGlassware(), "above 0"},
		{Millilitres(math.NaN()), UsualGlassware(), "above 0"},
		{Millilitres(math.Inf(1)), UsualGlassware(), "above 0"},
		{100, nil, "no glassware"},
		{0.001, UsualGlassware(), "finest graduation is 0.2 mL"},
		{10_000, []Glassware{{"", 10, 1, 0}}, "more than 60 fills"},
		{100, []Glassware{{"cup", 0, 0, 0}}, "capacity of the cup"},
		{100, []Glassware{{"cup", 100, 200, 0}}, "graduation of the cup"},
	} {
		if p, err := measure(row.v, row.glass); err == nil || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%g mL: got %v, %v, want a sentence with %q", row.v, p, err, row.says)
		}
	}
}

// Every pour adds up, sits on a graduation of its vessel, fits it, and comes
// within 1 % of the volume or half a graduation of the coarsest vessel.
func TestPoursCanBePoured(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		glass := rapid.SliceOfN(rapid.SampledFrom([]Glassware{
			{
				"",
				10,
				0.2,
				0,
			}, {"", 25, 0.5, 0}, {"", 100, 1, 0.5}, {"", 250, 2, 0}, {"", 500, 5, 5}, {"", 1000, 10, 0},
			{"", 50, 50, 0.1},
		}), 1, 4).Draw(t, "glass")
		v := Millilitres(rapid.Float64Range(0.5, 5000).Draw(t, "volume"))
		p, err := measure(v, glass)
		if err != nil {
			return
		}
		sum, coarsest := 0.0, 0.0
		for _, g := range glass {
			coarsest = max(coarsest, float64(g.GraduationMl))
		}
		for _, f := range p.Fills {
			marks := float64(f.To / f.Glass.GraduationMl)
			if math.Abs(marks-math.Round(marks)) > 1e-6 || f.To > f.Glass.CapacityMl+1e-9 || f.Times < 1 {
				t.Fatalf("%v cannot be poured", f)
			}
			sum += float64(f.Times) * float64(f.To)
		}
		if math.Abs(sum-float64(p.Volume)) > 1e-6 {
			t.Fatalf("the fills come to %g mL, the pour says %g", sum, p.Volume)
		}
		if math.Abs(sum-float64(v)) > max(coarsest/2, goodRounding*float64(v))+1e-6 {
			t.Fatalf("%g mL was measured as %g with %v", v, sum, p.Fills)
		}
		if p.Standard() <= 0 || p.Text() == "" {
			t.Fatalf("pour %v", p)
		}
	})
}

func TestTray(t *testing.T) {
	tray := Tray{LengthMm: 400, WidthMm: 300, WallMm: 60, Grooves: 10, GrooveWidthMm: 8, GrooveDepthMm: 5}
	f, err := tray.Cover(15, 340, 262, 0)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 400 x 300 x 15 mm3 = 1800 mL; grooves 10 x 8 x 5 x 300 mm3 = 120 mL.
	near(t, "volume", f.VolumeMl.Best, 1920, 1e-12)
	near(t, "grooves", float64(f.DeadMl), 120, 1e-12)
	near(t, "1 mm of depth", f.VolumeMl.High-f.VolumeMl.Best, 120, 1e-12)
	if len(f.Warnings) != 0 {
		t.Errorf("warnings: got %q", f.Warnings)
	}
	f, err = tray.Cover(5, 390, 290, 30)
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Warnings) != 2 {
		t.Errorf("a large sheet in little liquid: got %q, want two warnings", f.Warnings)
	}
	for says, bad := range map[string]func() (TrayFill, error){
		"does not lie flat":   func() (TrayFill, error) { return tray.Cover(15, 500, 262, 0) },
		"runs over":           func() (TrayFill, error) { return tray.Cover(70, 340, 262, 0) },
		"above 0 and at most": func() (TrayFill, error) { return tray.Cover(0, 340, 262, 0) },
		"between 20 mm":       func() (TrayFill, error) { return Tray{}.Cover(15, 340, 262, 0) },
		"do not fit on a tray": func() (TrayFill,
			error) {
			x := tray
			x.Grooves = 200
			return x.Cover(15, 340, 262, 0)
		},
	} {
		if _, err := bad(); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("got %v, want a sentence with %q", err, says)
		}
	}
}
