package photo

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The bounds that the median and the 95th percentile of the error must keep, in
// pixels of the after picture, in at least 95 of 100 pairs.
const (
	alignMedianPx = 0.15
	alignP95Px    = 0.5
)

func align(t testing.TB, before, after *Image) *Alignment {
	t.Helper()
	a, err := Align(context.Background(), before, after, AlignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if a.Say == "" {
		t.Error("nothing is said of the verdict")
	}
	return a
}

// alignFigures are what one pair comes to. A place that is not told is as far
// off as can be.
func alignFigures(p *alignPair, a *Alignment) (median, p95 float64) {
	if a.Field == nil {
		return math.Inf(1), math.Inf(1)
	}
	e := p.alignErrors(a)
	return float64(quantile(e, 0.5)), float64(quantile(e, 0.95))
}

// TestAlignKnownPairs measures the error on pairs whose geometry is known since
// they were made by it. BENCHLEAF_SWEEP=1 takes a hundred pairs of eight
// megapixels, in blocks that -run can choose among, each of some minutes; all
// of them want -timeout 60m.
func TestAlignKnownPairs(t *testing.T) {
	seeds, block, opt := 2, 2, pairOptions{pixels: 7e5}
	if os.Getenv("BENCHLEAF_SWEEP") != "" {
		seeds, block, opt = 100, 10, pairOptions{}
	}
	var medians, p95s []float32
	missed := 0
	for first := 0; first < seeds; first += block {
		t.Run(fmt.Sprintf("from %d", first), func(t *testing.T) {
			for seed := first; seed < min(seeds, first+block); seed++ {
				p := alignCase(t, uint64(seed), opt)
				a := align(t, p.before, p.after)
				median, p95 := alignFigures(p, a)
				medians, p95s = append(medians, float32(median)), append(p95s, float32(p95))
				if a.Verdict == Aligned && median < alignMedianPx && p95 < alignP95Px {
					continue
				}
				missed++
				t.Logf(
					"seed %d, %s: %s, median %.3f px, 95th percentile %.3f px; %s",
					seed,
					p.name,
					a.Verdict,
					median,
					p95,
					a.Say,
				)
			}
		})
	}
	t.Logf(
		"%d of %d pairs keep the bounds; middle median %.3f px, middle 95th percentile %.3f px, worst %.3f and %.3f px",
		len(medians)-missed,
		len(medians),
		quantile(slices.Clone(medians), 0.5),
		quantile(slices.Clone(p95s), 0.5),
		slices.Max(medians),
		slices.Max(p95s),
	)
	if missed*20 > len(medians) {
		t.Errorf(
			"%d of %d pairs miss a median of %.2f px or a 95th percentile of %.1f px",
			missed,
			len(medians),
			alignMedianPx,
			alignP95Px,
		)
	}
}

// TestAlignUpsideDown lays the sheet the other way up, on a table.
func TestAlignUpsideDown(t *testing.T) {
	p := alignCase(t, 5, pairOptions{source: "type", pixels: 4e5, turn: 180, ground: "table"})
	a := align(t, p.before, p.after)
	median, p95 := alignFigures(p, a)
	if a.Verdict != Aligned || median > alignMedianPx || p95 > alignP95Px {
		t.Errorf("%s, median %.3f px, 95th percentile %.3f px", a.Verdict, median, p95)
	}
	if math.Abs(a.TurnDegrees) < 165 || !strings.Contains(a.Say, "upside down") {
		t.Errorf("turned by %.0f degrees, but: %s", a.TurnDegrees, a.Say)
	}
}

// otherFaces is a pair of pictures that do not show one face the right way
// round.
type otherFaces struct {
	name          string
	before, after func(t testing.TB) *Image
	difference    Difference // "" when several answers are honest
}

// negatives are a hundred such pairs: leaves against each other, leaves seen
// from behind, drawn sheets of one make with other content, and two sheets that
// lay one after the other on the same table.
func negatives() (out []otherFaces) {
	file := func(name string) func(testing.TB) *Image {
		return func(t testing.TB) *Image { return decoded(t, name) }
	}
	leaves := append(slices.Clone(alignSources[1:]), "page.png", "graf1.png")
	for i, b := range leaves {
		for _, a := range leaves[i+1:] {
			out = append(out, otherFaces{"leaves " + b + " " + a, file(b), file(a), OtherFace})
		}
	}
	for _, l := range append(leaves, "cookbook-page-a.jpg") {
		out = append(
			out,
			otherFaces{"mirror " + l, file(l), func(t testing.TB) *Image { return decoded(t, l).flipped() }, ""},
		)
	}
	for seed := range uint64(10) {
		pair := func(t testing.TB) *alignPair {
			return alignCase(t, seed, pairOptions{pixels: otherPixels(), mirror: true})
		}
		out = append(out, otherFaces{fmt.Sprintf("mirrored pair %d", seed),
			func(t testing.TB) *Image { return pair(t).before }, func(t testing.TB) *Image { return pair(t).after }, ""})
	}
	on := func(source string, seed, table uint64, ground string) func(testing.TB) *Image {
		return func(t testing.TB) *Image { return takenOn(t, source, seed, table, ground) }
	}
	for _, kind := range drawnSheets {
		for seed := range uint64(4) {
			out = append(
				out,
				otherFaces{fmt.Sprintf("drawn %s %d", kind, seed), on(kind, seed, 0, ""), on(kind, seed+10, 0, ""), ""},
			)
		}
	}
	for _, ground := range []string{"table", "clutter"} {
		for i, kind := range drawnSheets {
			out = append(
				out,
				otherFaces{
					"on one " + ground + " " + kind,
					on(kind, 1, uint64(i), ground),
					on(kind, 2, uint64(i), ground),
					"",
				},
			)
		}
		photographs := alignSources[1:]
		for i, b := range photographs {
			a := photographs[(i+1)%len(photographs)]
			out = append(
				out,
				otherFaces{
					"on one " + ground + " " + b + " " + a,
					on(b, 1, uint64(i), ground),
					on(a, 2, uint64(i), ground),
					"",
				},
			)
		}
	}
	return out
}

// otherPixels is the size of sheets that are drawn to be told apart.
func otherPixels() float64 {
	if os.Getenv("BENCHLEAF_SWEEP") != "" {
		return 1.5e6
	}
	return 6e5
}

// takenOn photographs a sheet on the ground of table, nearly straight; seed draws
// the sheet, its light and where it lies.
func takenOn(t testing.TB, source string, seed, table uint64, ground string) *Image {
	s := newSheetSource(t, source, otherPixels(), seed)
	rng := rand.New(rand.NewPCG(seed, 8))
	inset := 0.0
	if ground != "" {
		inset = 0.12 * float64(max(s.w, s.h))
	}
	w, h := s.w+int(2*inset), s.h+int(2*inset)
	dx, dy := rng.NormFloat64()*0.01*float64(w), rng.NormFloat64()*0.01*float64(w)
	return s.photograph(t, rng, shot{
		w: w, h: h, way: func(q Point) Point { return Point{q.X - inset + dx, q.Y - inset + dy} },
		lamp: randomLight(rng, 0.2), sigma: 0.5, ground: newGround(ground, table, w, h), left: [2]float64{1, 1},
	})
}

// flipped is the picture seen from behind.
func (m *Image) flipped() *Image {
	out := &Image{W: m.W, H: m.H, Profile: m.Profile, Pix: slices.Clone(m.Pix)}
	for y := range m.H {
		for x := range m.W {
			copy(out.Pix[4*(y*m.W+x):][:4], m.Pix[4*(y*m.W+m.W-1-x):])
		}
	}
	return out
}

// TestAlignOtherFaces lays pictures of different faces on each other: not one
// may be called aligned. The default takes drawn sheets of one make: two leaves and a
// mirror image are in TestAlignNothingToSee, two sheets on one cluttered table in
// TestAlignSeries. BENCHLEAF_SWEEP=1 takes all.
func TestAlignOtherFaces(t *testing.T) {
	first, every := 68, 100
	if os.Getenv("BENCHLEAF_SWEEP") != "" {
		first, every = 0, 1
	}
	verdicts := map[Verdict]int{}
	all := negatives()
	if len(all) != 100 {
		t.Errorf("%d pairs instead of 100", len(all))
	}
	for i := first; i < len(all); i += every {
		c := all[i]
		t.Run(c.name, func(t *testing.T) {
			a := align(t, c.before(t), c.after(t))
			verdicts[a.Verdict]++
			if a.Verdict == Aligned {
				t.Errorf("called aligned: %s", a.Say)
			}
			if a.Verdict == Different && c.difference != "" && a.Difference != c.difference {
				t.Errorf("called %q instead of %q: %s", a.Difference, c.difference, a.Say)
			}
		})
	}
	t.Logf("verdicts: %v", verdicts)
}

// plainImage is one tone all over.
func plainImage(w, h int, tone uint8) *Image {
	m := image.NewGray(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = tone
	}
	return FromImage(m)
}

// TestAlignNothingToSee gives pictures that no face can be found in, and one
// that shows a face from behind.
func TestAlignNothingToSee(t *testing.T) {
	small := func(name string) *Image { return FromImage(pageLight(t, name, 800).srgb()) }
	page := small("breviar.38.150.jpg")
	for _, c := range []struct {
		name          string
		before, after *Image
		want          Difference
	}{
		{"blank before", plainImage(page.W, page.H, 200), page, BlankBefore},
		{"blank after", page, plainImage(page.W, page.H, 200), BlankAfter},
		{"one pixel before", plainImage(1, 1, 200), page, BlankBefore},
		{"one pixel after", page, plainImage(1, 1, 90), BlankAfter},
		{"one pixel each", plainImage(1, 1, 90), plainImage(1, 1, 90), BlankBefore},
		{"a line of pixels", page, plainImage(2000, 1, 90), BlankAfter},
		{"mirror image", page, page.flipped(), MirrorImage},
		{"another page", page, small("cat.007.jpg"), OtherFace},
	} {
		a := align(t, c.before, c.after)
		if a.Verdict != Different || a.Difference != c.want {
			t.Errorf("%s: %s, %q instead of %q: %s", c.name, a.Verdict, a.Difference, c.want, a.Say)
		}
		if x, y := a.Map(1, 1); !math.IsNaN(x) || !math.IsNaN(y) {
			t.Errorf("%s: a place is told for a different face: %g, %g", c.name, x, y)
		}
	}
}

func TestAlignWithoutPixels(t *testing.T) {
	page := plainImage(20, 20, 200)
	for _, c := range [][2]*Image{{nil, page}, {page, nil}, {{}, page}, {page, {W: 10, H: 10}}} {
		if _, err := Align(context.Background(), c[0], c[1], AlignOptions{}); err == nil {
			t.Errorf("no error for %+v", c)
		}
	}
}

// readMatrix reads the homography of an OpenCV storage file.
func readMatrix(t testing.TB, name string) (h Homography) {
	t.Helper()
	var file struct {
		Data string `xml:"H13>data"`
	}
	if err := xml.Unmarshal(picture(t, name), &file); err != nil {
		t.Fatal(err)
	}
	fields := strings.Fields(file.Data)
	if len(fields) != len(h) {
		t.Fatalf("%d numbers in %s", len(fields), name)
	}
	for i, f := range fields {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		h[i] = v
	}
	return h
}

// TestAlignWall takes two photographs of a painted wall, about 40 degrees apart,
// and the homography published with them (Mikolajczyk and others, A comparison
// of affine region detectors, 2005). The slant is beyond what Align promises, so
// that it may doubt; but of what it calls aligned half must lie within a pixel and
// a half of the published place, which itself is good to about a pixel, and 95 %
// within a hundredth of the picture's width.
func TestAlignWall(t *testing.T) {
	before, after := decoded(t, "graf1.png"), decoded(t, "graf3.png")
	truth := readMatrix(t, "H1to3p.xml")
	a := align(t, before, after)
	switch a.Verdict {
	case Different:
		t.Errorf("the same wall is called different: %s", a.Say)
		return
	case Doubtful:
		t.Logf("doubtful: %s", a.Say)
		return
	}
	var off []float32
	for y := 10; y < before.H; y += 20 {
		for x := 10; x < before.W; x += 20 {
			q := truth.Map(Point{float64(x), float64(y)})
			if q.X < 0 || q.Y < 0 || q.X > float64(after.W-1) || q.Y > float64(after.H-1) {
				continue
			}
			u, v := a.Map(float64(x), float64(y))
			off = append(off, float32(math.Hypot(u-q.X, v-q.Y)))
		}
	}
	median, p95 := quantile(off, 0.5), quantile(off, 0.95)
	t.Logf("median %.2f px, 95th percentile %.2f px off the published places", median, p95)
	if len(off) < 500 || !(median < 1.5) || !(p95 < 0.01*float32(before.W)) {
		t.Errorf(
			"called aligned, but of %d places the median lies %.2f px and the 95th percentile %.2f px off",
			len(off),
			median,
			p95,
		)
	}
}

// TestAlignSameAnswer runs one pair on one processor and on two.
func TestAlignSameAnswer(t *testing.T) {
	p := alignCase(t, 1, pairOptions{pixels: 3e5})
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one := align(t, p.before, p.after)
	runtime.GOMAXPROCS(2)
	if two := align(t, p.before, p.after); !reflect.DeepEqual(one, two) {
		t.Errorf("two processors see it otherwise:\n%+v\n%+v", one, two)
	}
}

// TestAlignCalledOff ends the context before the work and at each of its steps.
func TestAlignCalledOff(t *testing.T) {
	page := decoded(t, "lyra.005.jpg")
	for _, share := range []float64{0, 0.4, 0.6} {
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		reached, last := false, 0.0
		a, err := Align(ctx, page, page, AlignOptions{Progress: func(s float64, _ string) {
			if s < last || s > 1 {
				t.Errorf("progress goes from %g to %g", last, s)
			}
			last = s
			if s >= share {
				reached = true
				cancel()
			}
		}})
		if !reached {
			t.Errorf("progress never came to %g", share)
		}
		if a != nil || !errors.Is(err, context.Canceled) {
			t.Errorf("called off at %g: %v", share, err)
		}
	}
}

// TestAlignUnderGlare covers part of the page with a lamp's reflection in the
// after picture: it hides print, but makes no other face.
func TestAlignUnderGlare(t *testing.T) {
	p := alignCase(t, 2, pairOptions{source: "lapide.052.100.jpg", pixels: 5e5})
	m := p.after
	for y := m.H / 3; y < m.H/3+m.H/5; y++ {
		for x := m.W / 3; x < m.W/3+m.W/5; x++ {
			copy(m.Pix[4*(y*m.W+x):], []uint8{255, 255, 255, 255})
		}
	}
	a := align(t, p.before, m)
	median, p95 := alignFigures(p, a)
	if a.Verdict != Aligned || median > alignMedianPx {
		t.Errorf("%s, median %.3f px, 95th percentile %.3f px: %s", a.Verdict, median, p95, a.Say)
	}
}

// BenchmarkAlign10MP aligns a pair of ten megapixels.
func BenchmarkAlign10MP(b *testing.B) {
	p := alignCase(b, 0, pairOptions{source: "cookbook-page-a.jpg", pixels: 10e6})
	b.ReportAllocs()
	for b.Loop() {
		if a := align(b, p.before, p.after); a.Verdict != Aligned {
			b.Fatal(a.Say)
		}
	}
}
