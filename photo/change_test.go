package photo

import (
	"context"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"benchleaf/colour"
)

func compared(t testing.TB, p changePair, opt CompareOptions) *Comparison {
	t.Helper()
	c, err := Compare(t.Context(), p.before, p.after, opt)
	if err != nil {
		t.Fatal(err)
	}
	if !c.Compared {
		t.Fatalf("not compared: %s %s", c.Alignment.Verdict, c.Alignment.Say)
	}
	return c
}

// labOf8 is the colour of 8-bit sRGB values.
func labOf8(v [3]float64) colour.Lab { return colour.SRGB().Lab(v[0]/255, v[1]/255, v[2]/255) }

// A page whose paper goes from one known colour to another, all else the same:
// the numbers are those of the two colours, by the formulas of package colour,
// which are tested against their published values there.
func TestCompareKnownPaper(t *testing.T) {
	papers := [2][3]float64{{206, 186, 150}, {222, 208, 182}}
	one, two := labOf8(papers[0]), labOf8(papers[1])
	p := takenTwice(t, flatPage(700, 900, papers[0]), flatPage(700, 900, papers[1]), changeTake{noise: 1})
	c := compared(t, p, CompareOptions{})
	want := colour.DE2000(one, two)
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s: %.3f, want %.3f to %.2f", what, got, want, tol)
		}
	}
	near("median dE00", c.DE00.Median, want, 0.25)
	near("dE00 of the paper", c.PaperDE00, want, 0.2)
	near("median dL*", c.DL.Median, two.L-one.L, 0.3)
	near("median db*", c.DB.Median, two.B-one.B, 0.7) // print, a third of the page, changes less
	near("L* before", c.PaperBefore.Lab.L, one.L, 0.2)
	near("b* after", c.PaperAfter.Lab.B, two.B, 0.3)
	near("yellowness before", float64(c.PaperBefore.Yellowness), float64(one.Yellowness()), 0.6)
	// An even change is all trend.
	near("dE00 without trend", c.TrendRemoved.Median, 0, 1) // the noise of single pixels
	near("print", c.PrintRatio, 1, 0.06)
	if c.PaperDE00SD < 1 {
		t.Errorf("without a chart the paper's change is said to be known to %.2f", c.PaperDE00SD)
	}
	for _, w := range c.Warnings {
		if w.Kind == WarnInkLoss || w.Kind == WarnTideLine || w.Kind == WarnNewStain {
			t.Errorf("false warning: %s in %v", w.Kind, w.Box)
		}
	}
}

// Light that falls otherwise is found, told, and taken out.
func TestCompareTakesLightOut(t *testing.T) {
	page := flatPage(720, 560, [3]float64{205, 190, 160})
	p := takenTwice(
		t,
		page,
		page,
		changeTake{hand: true, gain: [3]float64{0.9, 0.85, 0.75}, fall: 0.3, noise: 1, seed: 4},
	)
	c := compared(t, p, CompareOptions{})
	if math.Abs(c.Light.Stops-math.Log2(0.85)) > 0.08 {
		t.Errorf("light changed by %.2f stops, want %.2f", c.Light.Stops, math.Log2(0.85))
	}
	if want := math.Log2(0.9 / 0.75); math.Abs(c.Light.Warmer-want) > 0.03 {
		t.Errorf("warmer by %.2f, want %.2f", c.Light.Warmer, want)
	}
	if want := math.Log2(1.15/0.85) * 0.9; math.Abs(c.Light.Unevenness-want) > 0.1 {
		t.Errorf("uneven by %.2f, want about %.2f", c.Light.Unevenness, want)
	}
	if c.DE00.Median < 4 || c.TrendRemoved.Median > 1.2 || c.TrendRemoved.P95 > 4.5 {
		t.Errorf("dE00 %+.2f, without trend %+.2f", c.DE00, c.TrendRemoved)
	}
	if !warned(c, WarnLight) {
		t.Errorf("no word of the light: %v", c.Warnings)
	}
}

func warned(c *Comparison, kind WarningKind) bool {
	for _, w := range c.Warnings {
		if w.Kind == kind {
			return true
		}
	}
	return false
}

// Blur of known variance between the two is found and matched (the variance of
// repeated small blurs adds up).
func TestCompareMatchesBlur(t *testing.T) {
	page := flatPage(500, 640, [3]float64{205, 190, 160})
	page.soften(0.5)
	sharp := compared(t, takenTwice(t, page, page, changeTake{noise: 1}), CompareOptions{})
	if sharp.DE00.Median > 1 || warned(sharp, WarnLight) {
		t.Errorf("the same light gives dE00 %+.2f and %v", sharp.DE00, sharp.Warnings)
	}
	soft := compared(t, takenTwice(t, page, page, changeTake{noise: 1, blur: 0.5}), CompareOptions{})
	if math.Abs(sharp.SofterBefore) > 0.05 || math.Abs(soft.SofterBefore-0.5) > 0.15 {
		t.Errorf("blur between the pictures: %.2f and %.2f, want 0 and 0.5", sharp.SofterBefore, soft.SofterBefore)
	}
	if soft.TrendRemoved.P95 > sharp.TrendRemoved.P95+1.5 {
		t.Errorf(
			"blur counts as change: 95 %% below %.1f, and %.1f without",
			soft.TrendRemoved.P95,
			sharp.TrendRemoved.P95,
		)
	}
}

// pagesForWarnings are photographs of print on old paper.
var pagesForWarnings = []string{
	"cookbook-page-a.jpg",
	"lapide.052.100.jpg",
	"cat.007.jpg",
	"1555.003.jpg",
	"breviar.38.150.jpg",
}

// warningCase makes one page taken twice by hand, stains gone, the light other;
// done is what else happened to it.
func warningCase(t *testing.T, seed uint64, done func(after *linearImage)) *Comparison {
	rng := rand.New(rand.NewPCG(seed, 12))
	page := pageLight(t, pagesForWarnings[int(seed)%len(pagesForWarnings)], 800)
	before, after := page.clone(), page.clone()
	if rng.IntN(2) == 0 {
		tideLine(before, seed+100, 0.3+0.3*rng.Float64())
	}
	if rng.IntN(2) == 0 {
		spots(before, seed+200, 0.3+0.4*rng.Float64())
	}
	if done != nil {
		done(after)
	}
	g := func() float64 { return 0.85 + 0.12*rng.Float64() }
	p := takenTwice(t, before, after, changeTake{
		hand: true, gain: [3]float64{g(), g(), g()}, fall: 0.3 * (rng.Float64() - 0.5), blur: 0.8 * rng.Float64(), noise: 1.5, seed: seed,
	})
	return compared(t, p, CompareOptions{Align: AlignOptions{MMPerPx: 0.2}})
}

// Nothing happened but cleaning: no word of lost ink or of new lines.
func TestNoFalseWarnings(t *testing.T) {
	for seed := range uint64(sweeps(1, 16)) {
		c := warningCase(t, seed, nil)
		for _, w := range c.Warnings {
			if w.Kind == WarnInkLoss || w.Kind == WarnTideLine || w.Kind == WarnNewStain {
				t.Errorf("seed %d: false warning of %s at %v: %s", seed, w.Kind, w.Box, w.Say)
			}
		}
		if c.PrintRatio < 0.85 || c.PrintRatio > 1.15 {
			t.Errorf("seed %d: print kept %.2f of its strength, want 1", seed, c.PrintRatio)
		}
	}
}

// A comic in other light: flat colours, under which the paper is a guess, are no
// lost ink and no new lines.
func TestNoFalseWarningsOnComics(t *testing.T) {
	told, n := 0, sweeps(1, 12)
	for seed := range uint64(n) {
		src := drawSheet(t, "comic", 1.2e6, seed)
		l := &linearImage{src.w, src.h, src.pix}
		gain := [][3]float64{{1, 0.95, 0.8}, {0.84, 0.95, 1}, {0.9, 0.9, 0.7}}[seed%3]
		c := compared(
			t,
			takenTwice(
				t,
				l,
				l.clone(),
				changeTake{hand: true, gain: gain, fall: 0.2, blur: 0.4, noise: 1.5, seed: seed},
			),
			CompareOptions{},
		)
		for _, w := range c.Warnings {
			if w.Kind == WarnInkLoss || w.Kind == WarnTideLine || w.Kind == WarnNewStain {
				t.Logf("seed %d: false warning of %s at %v", seed, w.Kind, w.Box)
				told++
			}
		}
	}
	if 3*told > n {
		t.Errorf("%d false warnings on %d comics, want at most a third as many", told, n)
	}
}

// A word that was washed away, wholly or for the most part, is found where it
// was.
func TestInkLossIsFound(t *testing.T) {
	n := sweeps(1, 16)
	found := 0
	for seed := uint64(sweeps(1, 0)); seed < uint64(sweeps(2, 16)); seed++ { // by default for the most part
		var box image.Rectangle
		c := warningCase(t, seed, func(after *linearImage) {
			w, h := after.w/12, after.h/35
			x, y := wordBox(after, w, h, seed)
			box = image.Rect(x, y, x+w, y+h)
			erase(after, x, y, x+w, y+h, 0.25*float64(seed%2))
		})
		hit := false
		for _, w := range c.Warnings {
			if w.Kind == WarnInkLoss && w.Outline != nil {
				if w.Box.Overlaps(box) {
					hit = true
				} else {
					t.Errorf("seed %d: ink is said to be lost at %v, it was at %v", seed, w.Box, box)
				}
			}
		}
		if hit {
			found++
		} else {
			t.Logf("seed %d: no word of ink lost at %v", seed, box)
		}
	}
	if 10*found < 9*n {
		t.Errorf("lost words were found in %d of %d cases, want 90 %%", found, n)
	}
}

// A tide line that came is found.
func TestNewTideLineIsFound(t *testing.T) {
	n := sweeps(1, 16)
	found := 0
	for seed := range uint64(n) {
		c := warningCase(t, seed, func(after *linearImage) { tideLine(after, seed+500, 0.4+0.3*float64(seed%3)/2) })
		if warned(c, WarnTideLine) {
			found++
		} else {
			t.Logf("seed %d: no word of the new tide line", seed)
		}
		if warned(c, WarnInkLoss) {
			t.Errorf("seed %d: ink is said to be lost", seed)
		}
	}
	if 10*found < 9*n {
		t.Errorf("new tide lines were found in %d of %d cases, want 90 %%", found, n)
	}
}

// The change of a washed paper comes back within 0.5 dE00 through a chart in
// either light. The camera sees spectra: sensitivities and chart are those of
// testdata/camera-sensitivity.csv and testdata/chart-spectra.csv, whose sources
// stand in the files; the papers are a model (agedPaper).
func TestPaperChangeThroughCharts(t *testing.T) {
	world := newChartWorld(t)
	ink := spectrum{}
	for i := range ink {
		ink[i] = 0.04
	}
	for k, papers := range [][2]spectrum{
		{agedPaper(0.72, 0.9), agedPaper(0.76, 0.55)},
		{agedPaper(0.66, 1.1), agedPaper(0.68, 1.0)},
		{agedPaper(0.80, 0.4), agedPaper(0.84, 0.2)},
	}[:sweeps(1, 3)] {
		var images [2]*Image
		var fixes [2]*colour.Correction
		for i := range papers {
			kelvin := 4300 + 700*float64(i)
			gain := world.gains(kelvin, 0.06*float64(1-2*i))
			exposure := 0.8 - 0.1*float64(i)
			see := func(s *spectrum) [3]float64 {
				v := world.develop.Apply(world.raw(s, kelvin, gain))
				for c := range v {
					v[c] = math.Min(1, math.Max(0, exposure*v[c]))
				}
				return v
			}
			var readings []colour.Reading
			for j := range world.patches {
				readings = append(readings, colour.Reading{RGB: see(&world.patches[j])})
			}
			fix, err := colour.FitChart(world.chart.Patches, readings)
			if err != nil {
				t.Fatal(err)
			}
			// Print as a pattern of one colour on another.
			pattern := flatPage(450, 600, [3]float64{255, 255, 255})
			bare, inked := see(&papers[i]), see(&ink)
			for j := range pattern.pix {
				s := float64(pattern.pix[j])
				pattern.pix[j] = float32(s*bare[j%3] + (1-s)*inked[j%3])
			}
			fixes[i] = fix
			images[i] = developed(t, pattern, changeTake{noise: 1.5}, rand.New(rand.NewPCG(uint64(k), uint64(i))))
			images[i].Correct(fix)
		}
		c := compared(
			t,
			changePair{before: images[0], after: images[1]},
			CompareOptions{BeforeColour: fixes[0], AfterColour: fixes[1]},
		)
		truth := colour.DE2000(standardColourLab(&papers[0]), standardColourLab(&papers[1]))
		if math.Abs(c.PaperDE00-truth) > 0.5 {
			t.Errorf("papers %d: change of %.2f dE00, want %.2f", k, c.PaperDE00, truth)
		}
		if c.PaperDE00SD > 1.5 || math.Abs(c.PaperDE00-truth) > 2*c.PaperDE00SD {
			t.Errorf("papers %d: %.2f give or take %.2f, true %.2f", k, c.PaperDE00, c.PaperDE00SD, truth)
		}
	}
}

// A patch of known place and colour under a drawn shape.
func TestRegionOfKnownPatch(t *testing.T) {
	paper := [3]float64{200, 180, 140}
	before := flatPage(800, 1000, paper)
	after := before.clone()
	stained := [3]float64{0.9, 0.8, 0.6}
	patch := image.Rect(600, 820, 760, 960) // over print and bare paper
	for y := patch.Min.Y; y < patch.Max.Y; y++ {
		for x := patch.Min.X; x < patch.Max.X; x++ {
			for c := range 3 {
				before.pix[3*(y*before.w+x)+c] *= float32(stained[c])
			}
		}
	}
	p := takenTwice(t, before, after, changeTake{hand: true, noise: 1, seed: 9})
	c := compared(t, p, CompareOptions{Align: AlignOptions{MMPerPx: 0.25}})
	box := func(list ...image.Rectangle) (rings [][]Point) {
		for _, r := range list {
			x0, y0, x1, y1 := float64(r.Min.X)-0.5, float64(r.Min.Y)-0.5, float64(r.Max.X)-0.5, float64(r.Max.Y)-0.5
			rings = append(rings, []Point{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}})
		}
		return rings
	}
	r, err := c.Region(box(patch.Inset(6)))
	if err != nil {
		t.Fatal(err)
	}
	if area := float64(148 * 128); math.Abs(r.AreaPx-area) > 0.01*area || math.Abs(r.AreaMM2-area/16) > 0.01*area/16 {
		t.Errorf("area %.0f px and %.1f mm2, want %.0f and %.1f", r.AreaPx, r.AreaMM2, area, area/16)
	}
	lin := colour.SRGB().Linear(paper[0]/255, paper[1]/255, paper[2]/255)
	was := colour.LinearSRGB().Lab(lin[0]*stained[0], lin[1]*stained[1], lin[2]*stained[2])
	is := labOf8(paper)
	if d := colour.DE2000(r.Before, was); d > 0.6 {
		t.Errorf("before %.1f, want %.1f", r.Before, was)
	}
	if d := colour.DE2000(r.After, is); d > 0.6 {
		t.Errorf("after %.1f, want %.1f", r.After, is)
	}
	want := colour.DE2000(was, is)
	if math.Abs(r.MeanDE00Flat-want) > 0.6 || math.Abs(r.TrendRemoved.Median-want) > 0.6 {
		t.Errorf("change %.2f, median %.2f, want %.2f", r.MeanDE00Flat, r.TrendRemoved.Median, want)
	}
	if math.Abs(r.TrendRemovedDB.Median-(is.B-was.B)) > 0.6 || math.Abs(r.TrendRemovedDL.Median-(is.L-was.L)) > 0.6 {
		t.Errorf(
			"dL %.2f db %.2f, want %.2f %.2f",
			r.TrendRemovedDL.Median,
			r.TrendRemovedDB.Median,
			is.L-was.L,
			is.B-was.B,
		)
	}
	if r.Compared < 0.99 || r.Print < 0.1 || r.Print > 0.8 || r.PrintIncluded {
		t.Errorf("compared %.2f, print %.2f, counted %v", r.Compared, r.Print, r.PrintIncluded)
	}
	// Bare paper where nothing was done differs by no more than is said.
	clean, err := c.Region(box(image.Rect(100, 930, 300, 980)))
	if err != nil {
		t.Fatal(err)
	}
	if clean.MeanDE00Flat > 3*clean.MeanDE00SD+0.1 || clean.MeanDE00SD > 0.5 {
		t.Errorf("clean paper differs by %.2f, give or take %.2f", clean.MeanDE00Flat, clean.MeanDE00SD)
	}
	// A ring within another is a hole, here and where a region is measured on one picture.
	hole := box(patch.Inset(6), image.Rect(0, 0, 40, 30).Add(patch.Min).Add(image.Pt(20, 20)))
	part, err := c.Region(hole)
	if err != nil || math.Abs(r.AreaPx-part.AreaPx-1200) > 2 {
		t.Errorf("with a hole of 1200 px: %.0f of %.0f px, %v", part.AreaPx, r.AreaPx, err)
	}
	if one, err := MeasureRegion(p.before, hole, StainOptions{}); err != nil || math.Abs(one.AreaPx-part.AreaPx) > 200 {
		t.Errorf("on one picture %.0f px, %v; on two %.0f", one.AreaPx, err, part.AreaPx)
	}
	for _, bad := range [][][]Point{
		nil, {{{1, 1}, {2, 2}}}, box(image.Rect(2000, 2000, 2100, 2100)), {{{math.NaN(), 1}, {2, 2}, {3, 1}}},
	} {
		if _, err := c.Region(bad); err == nil {
			t.Errorf("a region of %v was measured", bad)
		}
	}
}

// What holds every second value of an even surface gives the surface back.
func TestDoubled(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {60, 41}, {301, 200}} {
		w, h := size[0], size[1]
		s := surface{order: 2}
		for c := range s.coef {
			s.coef[c] = []float64{0.4, -0.2, 0.1, 0.3, 0.05, -0.1}
		}
		want := s.plane(0, w, h)
		half := newPlane((w+1)/2, (h+1)/2)
		for i := range half.v {
			half.v[i] = want.v[2*(i/half.w)*w+2*(i%half.w)]
		}
		for i, v := range half.doubled(w, h).v {
			// A border cell beyond the last of half repeats it.
			if x, y := i%w, i/w; x < w-1 && y < h-1 && !(math.Abs(float64(v-want.v[i])) < 4e-4) {
				t.Fatalf("%v at %d, %d: %g, want %g", size, x, y, v, want.v[i])
			}
		}
	}
}

// Maps are transparent where nothing was compared, and say in colour what
// ValueAt says in numbers.
func TestMaps(t *testing.T) {
	page := flatPage(600, 800, [3]float64{205, 190, 160})
	after := page.clone()
	spots(after, 3, 0.7)
	p := takenTwice(t, page, after, changeTake{hand: true, noise: 1, seed: 2, zoomedBy: 1.25})
	// Glare in the before picture.
	for y := 300; y < 400; y++ {
		for x := 200; x < 300; x++ {
			copy(p.before.Pix[4*(y*600+x):], []uint8{255, 255, 255})
		}
	}
	c := compared(t, p, CompareOptions{})
	if math.Abs(c.ClippedShare-100*100/(600.0*800)) > 0.006 || !warned(c, WarnGlare) {
		t.Errorf("glare: %.3f of the sheet, warnings %v", c.ClippedShare, c.Warnings)
	}
	for _, kind := range MapKinds() {
		m := c.Map(kind)
		if got := m.Picture.NRGBAAt(250, 350).A; got != 0 {
			t.Errorf("%s: glare has opacity %d", kind, got)
		}
		l := m.Legend
		if l.Low >= l.High || len(l.Ticks) < 3 || l.Ticks[0] != l.Low || l.Ticks[len(l.Ticks)-1] != l.High ||
			l.Diverging != (l.Low < 0) ||
			l.Source == "" {
			t.Errorf("%s: legend %g to %g, ticks %v", kind, l.Low, l.High, l.Ticks)
		}
		opaque := 0
		for y := range 800 {
			for x := range 600 {
				v, ok := c.ValueAt(kind, Point{float64(x), float64(y)})
				got := m.Picture.NRGBAAt(x, y)
				if ok != (got.A == 255) {
					t.Fatalf("%s at %d, %d: compared %v, drawn %v", kind, x, y, ok, got)
				}
				if ok {
					opaque++
					if got != l.At(v) {
						t.Fatalf("%s at %d, %d: %v, want %v", kind, x, y, got, l.At(v))
					}
				}
				// Beyond the print the alignment goes on without anything to hold on to.
				printed := x > 60 && y > 80 && x < 540 && y < 720
				if q := p.way.Map(Point{float64(x), float64(y)}); ok && printed &&
					!(q.X > -1.5 && q.Y > -1.5 && q.X < 600.5 && q.Y < 800.5) {
					t.Fatalf("%s at %d, %d: drawn, though the after picture does not show it", kind, x, y)
				}
			}
		}
		if opaque < 300_000 {
			t.Errorf("%s: only %d of 480000 pixels drawn", kind, opaque)
		}
	}
	if _, ok := c.ValueAt(MapDE00, Point{-5, 0}); ok {
		t.Error("a place outside has a value")
	}
	if f := c.Figure(300); f.Rect.Dx() < 900 || f.Rect.Dy() < 400 {
		t.Errorf("the figure is %v", f.Rect)
	}
}

// Even steps: no two neighbouring colours of a scale differ more than twice as
// much as others do. The ends of the diverging method are checked against its
// published blue-red scale, whose middle is 221, 221, 221 (Moreland 2009, table;
// from memory).
func TestScalesAreEven(t *testing.T) {
	for name, s := range map[string]colourScale{"sequential": sequential, "diverging": diverging} {
		var steps []float64
		const every = 8
		for i := every; i < 256; i += every {
			a, b := s[i-every], s[i]
			one := labOf8([3]float64{float64(a.R), float64(a.G), float64(a.B)})
			two := labOf8([3]float64{float64(b.R), float64(b.G), float64(b.B)})
			steps = append(steps, colour.DE2000(one, two))
			if name == "sequential" && two.L <= one.L {
				t.Errorf("viridis gets darker at %d", i)
			}
		}
		least, most := math.Inf(1), 0.0
		for _, v := range steps {
			least, most = math.Min(least, v), math.Max(most, v)
		}
		if most > 3*least {
			t.Errorf("%s: steps from %.2f to %.2f dE00", name, least, most)
		}
	}
	// First and last of the published table of viridis: #440154 and #fde725.
	if a, b := sequential[0], sequential[255]; a.R != 0x44 || a.G != 0x01 || a.B != 0x54 || b.R != 0xfd ||
		b.G != 0xe7 ||
		b.B != 0x25 {
		t.Errorf("viridis from %v to %v", a, b)
	}
	s := morelandScale([3]float64{59. / 255, 76. / 255, 192. / 255}, [3]float64{180. / 255, 4. / 255, 38. / 255})
	for i, want := range map[int][3]int{0: {59, 76, 192}, 127: {221, 221, 221}, 255: {180, 4, 38}} {
		for c, got := range [3]uint8{s[i].R, s[i].G, s[i].B} {
			if d := int(got) - want[c]; d < -2 || d > 2 {
				t.Errorf("colour %d of the blue-red scale is %v, want %v", i, s[i], want)
				break
			}
		}
	}
}

// The aligned picture shows at each place what the before picture shows there.
func TestWarpedLiesOnBefore(t *testing.T) {
	page := flatPage(700, 900, [3]float64{205, 190, 160})
	page.soften(0.8)
	p := takenTwice(t, page, page, changeTake{hand: true, noise: 0.5, seed: 21, zoomedBy: 1.08})
	c := compared(t, p, CompareOptions{})
	w := c.Warped()
	if w.W != 700 || w.H != 900 {
		t.Fatalf("%d by %d", w.W, w.H)
	}
	var off []float32
	grey := 0
	for y := 0; y < 900; y++ {
		for x := 0; x < 700; x++ {
			i := 4 * (y*700 + x)
			if q := p.way.Map(Point{float64(x), float64(y)}); !(q.X > 1 && q.Y > 1 && q.X < 698 && q.Y < 898) {
				if w.Pix[i] == warpSurround && w.Pix[i+1] == warpSurround {
					grey++
				}
				continue
			}
			off = append(off, abs(float32(w.Pix[i+1])-float32(p.before.Pix[i+1])))
		}
	}
	if m, q := quantile(off, 0.5), quantile(off, 0.95); m > 3 || q > 20 {
		t.Errorf("differs by %.0f of 255 in the median, %.0f in the worst twentieth", m, q)
	}
	if grey < 1000 {
		t.Errorf("only %d places outside are grey", grey)
	}
}

func TestCompareRefusesAndStops(t *testing.T) {
	page := FromImage(image.NewRGBA(image.Rect(0, 0, 50, 50)))
	if _, err := Compare(t.Context(), page, &Image{}, CompareOptions{}); err == nil {
		t.Error("a picture without pixels was compared")
	}
	if _, err := Compare(t.Context(), nil, page, CompareOptions{}); err == nil {
		t.Error("no picture was compared")
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := Compare(ctx, page, page, CompareOptions{}); err == nil {
		t.Error("a comparison that was called off went on")
	}
	c, err := Compare(t.Context(), page, page, CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if c.Compared && c.Alignment.Verdict == Different || c.Map(MapDE00) != nil && !c.Compared {
		t.Errorf("blank pictures: %v", c.Alignment.Say)
	}
	if _, err := c.Region([][]Point{{{1, 1}, {9, 1}, {5, 9}}}); err == nil && !c.Compared {
		t.Error("a region of nothing was measured")
	}
}

// What headers say of colour is passed on.
func TestCompareWarnsOfProfiles(t *testing.T) {
	page := flatPage(320, 420, [3]float64{205, 190, 160})
	p := takenTwice(t, page, page, changeTake{noise: 1})
	c := compared(t, p, CompareOptions{
		BeforeInfo: &Info{ColourModel: "CMYK", Profile: "sRGB"},
		AfterInfo:  &Info{ColourModel: "colour", HasICC: true, Profile: "sRGB"},
	})
	if !warned(c, WarnCMYK) || !warned(c, WarnProfile) {
		t.Errorf("warnings %v", c.Warnings)
	}
	plain := compared(
		t,
		p,
		CompareOptions{
			BeforeInfo: &Info{ColourModel: "colour"},
			AfterInfo:  &Info{ColourModel: "colour", HasICC: true, ownProfile: true},
		},
	)
	if len(plain.Warnings) != 0 {
		t.Errorf("warnings %v of a good pair", plain.Warnings)
	}
}

func BenchmarkCompare(b *testing.B) {
	p := alignCase(b, 3, pairOptions{pixels: 10e6, source: "cookbook-page-a.jpg"})
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Compare(b.Context(), p.before, p.after, CompareOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
