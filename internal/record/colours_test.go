package record

import (
	"math"
	"strings"
	"testing"

	"benchleaf/colour"
)

const fourPatches = "id,L,a,b\nA1,90,0,0\nA2,60,0,0\nB1,40,50,30\nB2,30,10,-50\n"

// aColour is the colour of a photograph, set by a chart.
func aColour(h Hash) PhotoColour {
	return PhotoColour{
		Photo: h, Method: "chart", Corners: [4][2]float64{{10, 10}, {90, 10}, {90, 60}, {10, 60}},
		Chart: NewID(day), ChartName: "chart", ChartSource: "measured", Rows: 4, Columns: 6,
		Fit: string(colour.RootPolynomial), Exponent: 0.97,
		Coefficients: [3][]float64{
			{0.41, 0.33, 0.12, 0.01, -0.02, 0.03},
			{0.2, 0.7, 0.05, 0.01, 0.02, 0.01},
			{0.01, 0.1, 0.7, 0.01, -0.01, 0.02},
		},
		Profile: "sRGB", Used: 23, LeftOut: 1, ErrorDE00: 0.8, ErrorHighDE00: 2.4,
	}
}

func TestColourOfAPhotograph(t *testing.T) {
	j := opened(t)
	one, two := Hash{1}, Hash{2}
	for _, h := range []Hash{one, two} {
		j.add(Photo{Hash: h, Bytes: 1, WidthPx: 100, HeightPx: 80, Format: "jpeg", Stage: "before", Light: "normal"})
	}
	j.refused("is not in this case", Item{Body: aColour(Hash{3})})
	n := j.add(aColour(one))
	if Fold(j.entries).ColourOf(two) != nil {
		t.Error("the colour of one photograph is given to another")
	}
	// The latest counts; a correction takes the place of its entry.
	later := aColour(one)
	later.ErrorDE00 = 0.6
	j.add(later)
	if got := Fold(j.entries).ColourAt(one, n+1); got == nil || got.Body.ErrorDE00 != 0.8 {
		t.Errorf("at the entry after the first the colour was %+v, want the first, 0.8 dE00", got)
	}
	if got := Fold(j.entries).ColourAt(one, n); got != nil {
		t.Errorf("before the first entry the colour was set: %+v", got)
	}
	if got := Fold(j.entries).ColourOf(one).Body.ErrorDE00; got != 0.6 {
		t.Errorf("the colour that counts has %g dE00, want the latest, 0.6", got)
	}
	if err := j.try(Item{Body: Withdrawn{Reason: "slip"}, Corrects: n + 1}); err != nil {
		t.Fatal(err)
	}
	better := aColour(one)
	better.ErrorDE00 = 0.5
	if err := j.try(Item{Body: better, Corrects: n}); err != nil {
		t.Fatal(err)
	}
	c := Fold(j.entries)
	if got := c.ColourOf(one); got.Body.ErrorDE00 != 0.5 || got.Seq != n || len(c.Colours) != 1 {
		t.Errorf("after the correction: %+v", c.Colours)
	}
	// What was kept corrects as what was made.
	made, err := colour.NewCorrection(colour.RootPolynomial, better.Exponent, better.Coefficients)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := c.ColourOf(one).Body.Correction()
	if err != nil {
		t.Fatal(err)
	}
	for _, rgb := range [][3]float64{{0.2, 0.3, 0.4}, {0.9, 0.1, 0}, {1, 1, 1}} {
		if made.XYZ(rgb) != kept.XYZ(rgb) {
			t.Errorf("%v becomes %v, kept it becomes %v", rgb, made.XYZ(rgb), kept.XYZ(rgb))
		}
	}
}

func TestColourRefusals(t *testing.T) {
	for name, change := range map[string]func(*PhotoColour){
		"no photograph":   func(b *PhotoColour) { b.Photo = Hash{} },
		"no method":       func(b *PhotoColour) { b.Method = "" },
		"no chart":        func(b *PhotoColour) { b.ChartName = "" },
		"a corner beyond": func(b *PhotoColour) { b.Corners[2][1] = math.NaN() },
		"no rows":         func(b *PhotoColour) { b.Rows = 0 },
		"another fit":     func(b *PhotoColour) { b.Fit = "spline" },
		"too few weights": func(b *PhotoColour) { b.Coefficients[1] = b.Coefficients[1][:3] },
		"no exponent":     func(b *PhotoColour) { b.Exponent = 0 },
		"infinite":        func(b *PhotoColour) { b.Coefficients[0][0] = math.Inf(1) },
		"no profile":      func(b *PhotoColour) { b.Profile = "" },
		"negative error":  func(b *PhotoColour) { b.ErrorDE00 = -1 },
		"black card":      func(b *PhotoColour) { b.Method, b.Lightness = "grey-card", 2 },
	} {
		b := aColour(Hash{1})
		if err := Validate(b); err != nil {
			t.Fatal(err)
		}
		change(&b)
		list, ok := Refusals(Validate(b))
		if !ok || len(list) == 0 || list[0].Field == "" {
			t.Errorf("%s: %v", name, Validate(b))
		}
	}
}

func TestChartsOfTheStudio(t *testing.T) {
	b := ChartFile{ID: NewID(day), Name: "small chart", Source: "measured", Rows: 2, Columns: 2, Text: fourPatches}
	if err := Validate(b); err != nil {
		t.Fatal(err)
	}
	st := &Studio{}
	if err := b.applyStudio(st, Stamp{}); err != nil {
		t.Fatal(err)
	}
	b.Source = "measured again"
	if err := b.applyStudio(st, Stamp{}); err != nil || len(st.Charts) != 1 ||
		st.Chart(b.ID).Source != "measured again" {
		t.Errorf("a later entry does not take the place: %+v, %v", st.Charts, err)
	}
	c, err := st.Chart(b.ID).Chart()
	if err != nil || c.Rows != 2 || c.Columns != 2 || len(c.Patches) != 4 || c.Name != "small chart" {
		t.Errorf("%+v, %v", c, err)
	}
	if st.Chart("x") != nil {
		t.Error("a chart was found that is not there")
	}
	for name, change := range map[string]func(*ChartFile){
		"no text":     func(b *ChartFile) { b.Text = " " },
		"no layout":   func(b *ChartFile) { b.Rows, b.Columns = 0, 0 },
		"other rows":  func(b *ChartFile) { b.Rows = 3 },
		"not text":    func(b *ChartFile) { b.Text = "id,L,a,b\n\xff" },
		"no values":   func(b *ChartFile) { b.Text = "id,name\nA1,white\n" },
		"no source":   func(b *ChartFile) { b.Source = "" },
		"too large":   func(b *ChartFile) { b.Text = fourPatches + strings.Repeat("#\n", MaxChartBytes) },
		"no identity": func(b *ChartFile) { b.ID = "" },
	} {
		bad := b
		change(&bad)
		if list, ok := Refusals(Validate(bad)); !ok || len(list) == 0 || list[0].Field == "" {
			t.Errorf("%s: %v", name, Validate(bad))
		}
	}
}
