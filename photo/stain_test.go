package photo

import (
	"context"
	"errors"
	"image"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
)

// overlap is intersection over union of what was found and the truth, and the
// ratio of their areas, within the part that is judged.
func overlap(s *Stains, c painted) (iou, area float64) {
	in, either, found, want := 0.0, 0.0, 0.0, 0.0
	for i, v := range s.Mask.Pix {
		if !c.part.v[i] {
			continue
		}
		a, b := v > 0, c.truth.v[i]
		if a && b {
			in++
		}
		if a || b {
			either++
		}
		if a {
			found++
		}
		if b {
			want++
		}
	}
	return in / math.Max(1, either), found / math.Max(1, want)
}

// cases is how many seeded pages are painted: all for BENCHLEAF_SWEEP=1.
func cases(sweep, usual int) int {
	if os.Getenv("BENCHLEAF_SWEEP") == "1" {
		return sweep
	}
	return usual
}

// Stains of known shape on drawn pages of text, and the same pages without. The
// bounds aimed at are an intersection over union of 0.75 and an area within 10 %
// in the median, and less than 0.5 % of a clean face stained. They are asked of
// wide patches and clean pages here, of all kinds in TestStainsOnMixedPages.
func TestStainsOnText(t *testing.T) {
	if testing.Short() {
		t.Skip("draws pages")
	}
	var errs, clean []float64
	kinds := map[StainKind][]float64{}
	for seed := range cases(50, 6) {
		if os.Getenv("BENCHLEAF_SWEEP") != "1" && seed%5 != 0 {
			continue // two wide stains
		}
		c := paintText(t, uint64(seed), 0.8)
		s, err := FindStains(t.Context(), c.image, StainOptions{})
		if err != nil {
			t.Fatal(err)
		}
		iou, area := overlap(s, c)
		t.Logf("seed %d: %s of dE00 %.0f: overlap %.2f, area %.2f", seed, c.kind, c.de, iou, area)
		kinds[c.kind] = append(kinds[c.kind], iou)
		if c.kind == Discoloration {
			errs = append(errs, math.Abs(area-1))
		}
		if seed%5 == 0 {
			if s, err = FindStains(t.Context(), c.clean, StainOptions{}); err != nil {
				t.Fatal(err)
			}
			clean = append(clean, s.StainedFraction)
		}
	}
	for kind, v := range kinds {
		slices.Sort(v)
		t.Logf("%s: %d, median %.2f, least %.2f", kind, len(v), v[len(v)/2], v[0])
	}
	slices.Sort(errs)
	slices.Sort(clean)
	t.Logf("clean pages stained: median %.4f, most %.4f", clean[len(clean)/2], clean[len(clean)-1])
	wide := kinds[Discoloration]
	if m := wide[len(wide)/2]; m < 0.75 {
		t.Errorf("wide patches: median overlap %.2f, want at least 0.75", m)
	}
	if m := errs[len(errs)/2]; m > 0.10 {
		t.Errorf("wide patches: median area error %.2f, want at most 0.10", m)
	}
	if m := clean[len(clean)/2]; m > 0.005 {
		t.Errorf("%.4f of a clean face stained, want less than 0.005", m)
	}
}

// Photographs and drawn pages, text, engraving, comics, handwriting, mixed. All
// that is marked counts, also the photographs' own stains and faults of the drawn
// prints. docs/stains.md has the figures by kind and ground.
func TestStainsOnMixedPages(t *testing.T) {
	if os.Getenv("BENCHLEAF_SWEEP") != "1" {
		t.Skip("takes minutes; BENCHLEAF_SWEEP=1 runs it")
	}
	ious, errs, by := []float64{}, []float64{}, map[string][]float64{}
	var clean []float64
	for seed := range uint64(50) {
		c := paintCase(t, seed)
		s, err := FindStains(t.Context(), c.image, StainOptions{})
		if err != nil {
			t.Fatal(err)
		}
		own, err := FindStains(t.Context(), c.clean, StainOptions{})
		if err != nil {
			t.Fatal(err)
		}
		iou, area := overlap(s, c)
		t.Logf(
			"seed %d: %s on %s, dE00 %.0f: overlap %.2f, area %.2f; without the stain %.4f of the face",
			seed,
			c.kind,
			c.page,
			c.de,
			iou,
			area,
			own.StainedFraction,
		)
		ious, errs, clean = append(ious, iou), append(errs, math.Abs(area-1)), append(clean, own.StainedFraction)
		by[string(c.kind)], by[c.page] = append(by[string(c.kind)], iou), append(by[c.page], iou)
	}
	for what, v := range by {
		t.Logf("%s: %d, median overlap %.2f", what, len(v), median(v))
	}
	t.Logf(
		"all: median overlap %.3f, area error %.3f, clean pages stained %.4f, most %.4f",
		median(ious),
		median(errs),
		median(clean),
		slices.Max(clean),
	)
	if m := median(ious); m < 0.75 {
		t.Errorf("median overlap %.3f, want at least 0.75", m)
	}
	if m := median(errs); m > 0.10 {
		t.Errorf("median area error %.3f, want at most 0.10", m)
	}
	if m := median(clean); m > 0.005 {
		t.Errorf("%.4f of a clean face stained, want less than 0.005", m)
	}
}

// median sorts v.
func median(v []float64) float64 {
	slices.Sort(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}

// Photographs of pages on which the eye sees no stain worth a mark; the breviary's
// outer edge is stained, and its red letters are pale.
func TestStainsOnCleanPhotographs(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at photographs")
	}
	most := map[string]float64{
		"page.png":            0.005,
		"zanotti-78.jpg":      0.005,
		"lyra.005.jpg":        0.005,
		"cookbook-page-a.jpg": 0.005,
		"cavalerie.11.jpg":    0.005,
		"cat.007.jpg":         0.005,
		"lapide.052.100.jpg":  0.005,
		"breviar.38.150.jpg":  0.01,
	}
	for name, limit := range most {
		if os.Getenv("BENCHLEAF_SWEEP") != "1" && name != "page.png" && name != "zanotti-78.jpg" {
			continue
		}
		s, err := FindStains(t.Context(), decoded(t, name), StainOptions{})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %.4f of the face in %d marks", name, s.StainedFraction, len(s.Regions))
		if s.StainedFraction > limit {
			t.Errorf("%s: %.4f of the face stained, want less than %.3f", name, s.StainedFraction, limit)
		}
	}
}

// The facing page of the cookery book, beyond the gutter, is not its sheet.
func TestFacingPageIsLeftOut(t *testing.T) {
	m := decoded(t, "cookbook-page-a.jpg")
	w, h := m.fit(700)
	sheet := sheetFor(m, m.shrink(w, h), nil)
	beyond, on := 0, 0
	for y := h / 5; y < 4*h/5; y++ {
		if sheet.face.v[y*w+w*97/100] {
			beyond++
		}
		if sheet.face.v[y*w+w/2] {
			on++
		}
	}
	if beyond > 0 || on < h/2 {
		t.Errorf("%d rows beyond the gutter and %d of the page taken for the sheet", beyond, on)
	}
}

// A comic that fills the frame is the sheet, for all that its paper hardly shows.
func TestComicFillsTheFrame(t *testing.T) {
	p := otherSheet(t, mixed(1, "comic"), "comic")
	m := p.shoot(t, p.light, 1, 90)
	w, h := m.fit(700)
	if face := sheetFor(m, m.shrink(w, h), nil).face; 10*face.count() < 8*w*h {
		t.Errorf("the sheet is %d of %d pixels", face.count(), w*h)
	}
	s, err := FindStains(t.Context(), m, StainOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if s.StainedFraction > 0.05 ||
		!slices.ContainsFunc(s.Notes, func(n string) bool { return strings.Contains(n, "printed in colour") }) {
		t.Errorf("%.3f of it stained; %q", s.StainedFraction, s.Notes)
	}
}

// A torn corner and a hole, through which the ground is seen, are losses and do
// not count as stained.
func TestFindLosses(t *testing.T) {
	if testing.Short() {
		t.Skip("draws pages")
	}
	for seed := range uint64(cases(12, 1)) {
		c := paintLoss(t, seed, seed%4 == 3)
		s, err := FindStains(t.Context(), c.image, StainOptions{MMPerPx: 0.2})
		if err != nil {
			t.Fatal(err)
		}
		found, lost := newMask(c.truth.w, c.truth.h), 0
		for _, r := range s.Regions {
			if r.Kind == Loss {
				lost++
				scanRings(r.Outline, found.w, found.h, func(y, x0, x1 int) {
					for x := x0; x < x1; x++ {
						found.v[y*found.w+x] = true
					}
				})
				if math.Abs(r.AreaMM2-0.04*r.AreaPx) > 1e-6 || r.MeanDE00 < 10 {
					t.Errorf("seed %d: %+v", seed, r)
				}
			}
		}
		in, either := 0.0, 0.0
		for i, a := range found.v {
			if a && c.truth.v[i] {
				in++
			}
			if a || c.truth.v[i] {
				either++
			}
		}
		t.Logf("seed %d, %s: %d losses, overlap %.2f, stained %.4f", seed, c.page, lost, in/either, s.StainedFraction)
		want := 2
		if c.image.Pix[1] < 60 {
			want = 1 // a hole on a ground as dark as ink could be print
		}
		if lost < want || lost > 2 || in < 0.7*either {
			t.Errorf("seed %d, %s: %d losses, overlap %.2f; want %d, 0.7", seed, c.page, lost, in/either, want)
		}
		if s, err = FindStains(t.Context(), c.clean, StainOptions{}); err != nil ||
			slices.ContainsFunc(s.Regions, func(r Region) bool { return r.Kind == Loss }) {
			t.Errorf("seed %d: a loss on the whole sheet; %v", seed, err)
		}
	}
}

// sheetWithDisc is cream paper with grain and a brown disc of known colour.
func sheetWithDisc(radius float64) *Image {
	m := image.NewRGBA(image.Rect(0, 0, 500, 600))
	for i := range 500 * 600 {
		x, y := i%500, i/500
		c := [3]uint8{232, 224, 204}
		if math.Hypot(float64(x)-200, float64(y)-300) < radius {
			c = [3]uint8{205, 178, 132}
		}
		grain := uint8((x*7919 + y*104729 + x*y*31) % 5)
		m.Pix[4*i], m.Pix[4*i+1], m.Pix[4*i+2], m.Pix[4*i+3] = c[0]-grain, c[1]-grain, c[2]-grain, 255
	}
	return FromImage(m)
}

func TestMeasureRegion(t *testing.T) {
	m := sheetWithDisc(60)
	var ring []Point
	for a := 0.0; a < 360; a += 3 {
		sin, cos := math.Sincos(a * math.Pi / 180)
		ring = append(ring, Point{200 + 50*cos, 300 + 50*sin})
	}
	s, err := MeasureRegion(m, [][]Point{ring}, StainOptions{MMPerPx: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	area := math.Pi * 50 * 50
	if math.Abs(s.AreaPx-area) > 0.01*area || math.Abs(s.AreaMM2-s.AreaPx/100) > 1e-9 {
		t.Errorf("area %.0f px, %.2f mm2; want %.0f px", s.AreaPx, s.AreaMM2, area)
	}
	if want := area / (500 * 600); math.Abs(s.FaceShare-want) > 0.1*want {
		t.Errorf("%.4f of the face, want %.4f", s.FaceShare, want)
	}
	// The colours painted, less the mean grain of 2.
	stain, paper := m.Profile.Lab(203./255, 176./255, 130./255), m.Profile.Lab(230./255, 222./255, 202./255)
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"L inside", s.Lab.L, stain.L}, {"b inside", s.Lab.B, stain.B}, {"L outside", s.Paper.L, paper.L}, {"b outside", s.Paper.B, paper.B},
	} {
		if math.Abs(c.got-c.want) > 0.5 {
			t.Errorf("%s %.2f, want %.2f", c.name, c.got, c.want)
		}
	}
	for name, outline := range map[string][][]Point{
		"none":          nil,
		"two points":    {{{1, 1}, {9, 9}}},
		"outside":       {{{-90, -90}, {-50, -90}, {-50, -50}}},
		"no place":      {{{1, 1}, {math.NaN(), 9}, {5, 9}}},
		"without width": {{{1, 1.5}, {9, 1.5}, {20, 1.5}}},
	} {
		_, err := MeasureRegion(m, outline, StainOptions{})
		checkProblem(t, err)
		if err == nil {
			t.Errorf("%s passed", name)
		}
	}
}

func TestFindStainsOutlines(t *testing.T) {
	m := sheetWithDisc(60)
	s, err := FindStains(t.Context(), m, StainOptions{})
	if err != nil || len(s.Regions) != 1 {
		t.Fatalf("%+v, %v", s, err)
	}
	r := s.Regions[0]
	if n := countRings(r.Outline, m.W, m.H); n != r.AreaPx {
		t.Errorf("the outline holds %.0f pixels, the region %.0f", n, r.AreaPx)
	}
	if n := len(r.Outline[0]); n < 8 || n > 80 {
		t.Errorf("%d points round a disc of 60 pixels", n)
	}
	for _, p := range r.Outline[0] {
		if d := math.Hypot(p.X-200, p.Y-300); math.Abs(d-60) > 3 {
			t.Errorf("the outline passes %.1f from the middle, want 60", d)
		}
	}
}

func TestFindStainsStops(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	last := -1.0
	_, err := FindStains(ctx, sheetWithDisc(60), StainOptions{Progress: func(share float64, doing string) {
		if share < last || doing == "" {
			t.Errorf("progress %g %q after %g", share, doing, last)
		}
		last = share
		if share > 0.2 {
			stop()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want it stopped", err)
	}
}

// traceMask goes round a region half way between its pixels and the others.
func traceMask(c component, w, h int) [][]Point {
	field := newPlane(w, h)
	for i := range field.v {
		field.v[i] = -1
	}
	for _, i := range c.pixels {
		field.v[i] = 1
	}
	return traceLevel(field, c)
}

// A ring keeps its hole, and corners that touch are one region.
func TestTraceLevel(t *testing.T) {
	m := newMask(40, 40)
	for i := range m.v {
		d := math.Hypot(float64(i%40)-20, float64(i/40)-20)
		m.v[i] = d < 15 && d > 7
	}
	parts, _ := m.components()
	rings := traceMask(parts[0], 40, 40)
	if len(rings) != 2 {
		t.Fatalf("%d rings, want 2", len(rings))
	}
	n := 0
	scanRings(rings, 40, 40, func(y, x0, x1 int) {
		for x := x0; x < x1; x++ {
			if !m.v[y*40+x] {
				t.Fatalf("(%d, %d) is outside", x, y)
			}
			n++
		}
	})
	if n != m.count() {
		t.Errorf("%d pixels inside the rings, want %d", n, m.count())
	}
}

func BenchmarkFindStains12MP(b *testing.B) {
	c := paintText(b, 1, 12)
	for b.Loop() {
		if _, err := FindStains(b.Context(), c.image, StainOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
