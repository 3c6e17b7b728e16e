package photo

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"benchleaf/colour"
)

// The spectra read from their table give the colours that the chart's maker
// published (colour/testdata/chart24.csv): charts of one kind differ by a unit
// or two from batch to batch.
func TestSpectraGiveThePublishedColours(t *testing.T) {
	w := newChartWorld(t)
	f, err := os.Open("../colour/testdata/chart24.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	published, err := colour.ParseChart(f)
	if err != nil {
		t.Fatal(err)
	}
	var all []float64
	for i, p := range published.Patches {
		d := colour.DE2000(p.XYZ.Lab(), w.chart.Patches[i].XYZ.Lab())
		all = append(all, d)
		if d > 6 {
			t.Errorf("%s: %.1f dE00 from the published colour", p.Name, d)
		}
	}
	slices.Sort(all)
	if all[12] > 3 {
		t.Errorf("median %.1f dE00 from the published colours", all[12])
	}
	t.Logf("median %.2f, most %.2f", all[12], all[23])
}

// offBy is the largest distance of corners in patches.
func offBy(got, want Quad, rows, columns int) float64 {
	pitch := math.Inf(1)
	for i := range want {
		n := columns
		if i%2 == 1 {
			n = rows
		}
		pitch = math.Min(pitch, distance(want[i], want[(i+1)%4])/float64(n))
	}
	most := 0.0
	for i := range got {
		most = math.Max(most, distance(got[i], want[i])/pitch)
	}
	return most
}

// sweep is how many cases a sweep takes: few, or all when asked.
func chartCases(few, all int) int {
	if os.Getenv("BENCHLEAF_SWEEP") == "1" {
		return all
	}
	return few
}

func TestChartIsFoundReadAndFitted(t *testing.T) {
	world := newChartWorld(t)
	cases := chartCases(3, 120)
	found := 0
	var offs, medians, grey []float64
	for seed := range uint64(cases) {
		rng := rand.New(rand.NewPCG(seed, 3))
		w, h := 1300, 975
		size := 0.14 + 0.25*rng.Float64()
		reach := size*0.62 + 0.02
		cx := reach + (1-2*reach)*rng.Float64()
		cy := reach*4/3 + (1-2*reach*4/3)*rng.Float64()
		turn := 360 * rng.Float64()
		s := usual(seed, w, h, placed(w, h, 4, 6, cx, cy, size, turn, 0.12, rng))
		m, truth := world.take(t, s)
		f, err := FindChart(m, 4, 6, world.chart.Patches)
		if err != nil {
			t.Logf("case %d (size %.2f, turn %.0f): %v", seed, size, turn, err)
			continue
		}
		found++
		off := offBy(f.Corners, truth, 4, 6)
		offs = append(offs, off)
		if off > 0.25 {
			t.Errorf("case %d: a corner is %.2f patches off, or the chart is taken the wrong way round", seed, off)
			continue
		}
		c, readings, _, err := CorrectByChart(m, f.Corners, world.chart)
		if err != nil {
			t.Errorf("case %d: %v", seed, err)
			continue
		}
		medians = append(medians, c.Median())
		// The same readings as at the true corners.
		exact, err := ChartAt(m, truth, 4, 6)
		if err != nil {
			t.Fatal(err)
		}
		for i := range exact {
			for k := range 3 {
				if d := math.Abs(exact[i].RGB[k] - readings[i].RGB[k]); d > 0.01*exact[i].RGB[k]+0.002 {
					t.Errorf(
						"case %d, patch %d: read %v, at the true corners %v",
						seed,
						i,
						readings[i].RGB,
						exact[i].RGB,
					)
				}
			}
		}
		// What the grey card alone says of the other patches.
		g, err := colour.FromGreyCard(m.Profile, exact[21], world.chart.Patches[21].XYZ.Lab().L)
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range exact {
			if !r.Clipped {
				grey = append(grey, colour.DE2000(g.XYZ(r.RGB).Lab(), world.chart.Patches[i].XYZ.Lab()))
			}
		}
	}
	slices.Sort(offs)
	slices.Sort(medians)
	slices.Sort(grey)
	t.Logf(
		"%d of %d found; corners off by %.3f patches in the middle, %.3f at most; leave-one-out median %.2f in the "+
			"middle, %.2f at most; grey card %.1f in the middle, %.1f at the worst twentieth",
		found,
		cases,
		offs[len(offs)/2],
		offs[len(offs)-1],
		medians[len(medians)/2],
		medians[len(medians)-1],
		grey[len(grey)/2],
		grey[len(grey)*19/20],
	)
	if 10*found < 9*cases {
		t.Errorf("%d of %d charts were found, want nine in ten", found, cases)
	}
	if offs[len(offs)-1] > 0.25 {
		t.Errorf("corners up to %.2f patches off", offs[len(offs)-1])
	}
	if medians[len(medians)/2] > 1.5 || medians[len(medians)*9/10] > 1.5 {
		t.Errorf(
			"leave-one-out median %.2f dE00 in the middle and %.2f at nine tenths, want under 1.5",
			medians[len(medians)/2],
			medians[len(medians)*9/10],
		)
	}
	half, most := (&colour.Correction{Kind: colour.GreyCard}).Expect()
	if grey[len(grey)/2] > half || grey[len(grey)*19/20] > most {
		t.Errorf(
			"the grey card misses by %.1f and %.1f, it says %.0f and %.0f",
			grey[len(grey)/2],
			grey[len(grey)*19/20],
			half,
			most,
		)
	}
}

// A paper that was washed: its change comes back although white balance, light
// and exposure changed between the two photographs.
func TestPaperChangeThroughTheChart(t *testing.T) {
	world := newChartWorld(t)
	rng := rand.New(rand.NewPCG(5, 5))
	w, h := 1000, 750
	pairs := [][2]spectrum{
		{agedPaper(0.72, 0.9), agedPaper(0.76, 0.55)},
		{agedPaper(0.66, 1.1), agedPaper(0.68, 1.0)},
		{agedPaper(0.80, 0.4), agedPaper(0.84, 0.2)},
		{agedPaper(0.58, 1.3), agedPaper(0.74, 0.7)},
	}
	for k, pair := range pairs[:chartCases(2, len(pairs))] {
		truth := colour.DE2000(standardColourLab(&pair[0]), standardColourLab(&pair[1]))
		var got [2]colour.Lab
		for i := range pair {
			s := usual(
				uint64(10*k+i),
				w,
				h,
				placed(w, h, 4, 6, 0.16, 0.3+0.2*float64(i), 0.22, 90*float64(i)+5, 0.05, rng),
			)
			s.paper = &pair[i]
			s.gradient = 0.05 // the lamps stay where they are, and age a little
			s.kelvin = 4200 + 300*float64(i)
			m, _ := world.take(t, s)
			f, err := FindChart(m, 4, 6, world.chart.Patches)
			if err != nil {
				t.Fatal(err)
			}
			c, _, _, err := CorrectByChart(m, f.Corners, world.chart)
			if err != nil {
				t.Fatal(err)
			}
			m.Correct(c)
			r, err := PaperColour(
				m,
				&Quad{
					{0.32 * float64(w), 0.08 * float64(h)},
					{0.94 * float64(w), 0.08 * float64(h)},
					{0.94 * float64(w), 0.92 * float64(h)},
					{0.32 * float64(w), 0.92 * float64(h)},
				},
			)
			if err != nil {
				t.Fatal(err)
			}
			got[i] = r.Lab
		}
		change := colour.DE2000(got[0], got[1])
		t.Logf("pair %d: true change %.2f, recovered %.2f dE00; %v and %v", k, truth, change, got[0], got[1])
		if math.Abs(change-truth) > 0.5 {
			t.Errorf("pair %d: the paper changed by %.2f dE00, recovered %.2f", k, truth, change)
		}
	}
}

func standardColourLab(s *spectrum) colour.Lab { return standardColour(s).Lab() }

// No photograph of old paper holds a chart.
func TestNoChartOnPaper(t *testing.T) {
	world := newChartWorld(t)
	list, err := os.ReadDir("testdata")
	if err != nil {
		t.Fatal(err)
	}
	looked := 0
	for _, e := range list {
		f, err := os.Open("testdata/" + e.Name())
		if err != nil {
			t.Fatal(err)
		}
		m, _, err := Decode(f, DefaultLimits)
		f.Close()
		if err != nil {
			continue // no picture
		}
		looked++
		// By default each is looked through in one way.
		for _, g := range [][2]int{{4, 6}, {3, 3}, {2, 9}, {5, 7}, {10, 14}}[:chartCases(looked%2, 5)] {
			if got, err := FindChart(m, g[0], g[1], nil); err == nil {
				t.Errorf("%s: a chart of %d by %d at %v", e.Name(), g[0], g[1], got.Corners)
			}
		}
		if chartCases(looked%2, 0) == 1 {
			continue
		}
		if got, err := FindChart(m, 4, 6, world.chart.Patches); err == nil {
			t.Errorf("%s: the chart at %v", e.Name(), got.Corners)
		}
	}
	if looked < 12 {
		t.Errorf("only %d photographs were looked at", looked)
	}
}

// Other grids, without the chart's colours: found where the grid alone is plain.
func TestOtherGrids(t *testing.T) {
	base := newChartWorld(t)
	for _, g := range [][2]int{{3, 5}, {10, 14}, {2, 6}, {6, 4}, {6, 8}}[:chartCases(2, 5)] {
		t.Run(strconv.Itoa(g[0])+"x"+strconv.Itoa(g[1]), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(uint64(g[0]), uint64(g[1])))
			world := *base
			world.chart = &colour.Chart{Rows: g[0], Columns: g[1]}
			world.patches = nil
			for i := range g[0] * g[1] {
				// Mixtures of the chart's patches are as many colours as wanted;
				// darker than 0.1 would run into the frame.
				a, b := base.patches[rng.IntN(23)], base.patches[rng.IntN(22)]
				var s spectrum
				for k := range s {
					s[k] = 0.12 + 0.8*(a[k]+b[k])/2
				}
				world.patches = append(world.patches, s)
				world.chart.Patches = append(
					world.chart.Patches,
					colour.Patch{ID: strconv.Itoa(i), XYZ: standardColour(&s)},
				)
			}
			size := 0.45
			if g[0] > g[1] {
				size = 0.3
			}
			s := usual(3, 1000, 750, placed(1000, 750, g[0], g[1], 0.4, 0.5, size, 20, 0.05, rng))
			m, truth := world.take(t, s)
			f, err := FindChart(m, g[0], g[1], nil)
			if err != nil {
				t.Fatal(err)
			}
			if off := offBy(f.Corners, truth, g[0], g[1]); off > 0.25 || f.Known {
				t.Errorf("a corner is %.2f patches off; way round known: %v", off, f.Known)
			}
			f, err = FindChart(m, g[0], g[1], world.chart.Patches)
			if err != nil {
				t.Fatal(err)
			}
			if off := offBy(f.Corners, truth, g[0], g[1]); off > 0.25 || !f.Known {
				t.Errorf("with its colours, a corner is %.2f patches off", off)
			}
			// A chart of another size is not seen in it.
			if got, err := FindChart(m, g[0]+3, g[1]+2, nil); err == nil {
				t.Errorf("a larger chart was found at %v", got.Corners)
			}
		})
	}
}

func TestChartRefusals(t *testing.T) {
	world := newChartWorld(t)
	m := FromImage(newPlaneImage(400, 300))
	full := Quad{{10, 10}, {390, 10}, {390, 290}, {10, 290}}
	for _, c := range []struct {
		name          string
		corners       Quad
		rows, columns int
	}{
		{"outside", Quad{{-30, 10}, {390, 10}, {390, 290}, {10, 290}}, 4, 6},
		{"not a number", Quad{{math.NaN(), 10}, {390, 10}, {390, 290}, {10, 290}}, 4, 6},
		{"crossed", Quad{{10, 10}, {390, 290}, {390, 10}, {10, 290}}, 4, 6},
		{"mirrored", Quad{{390, 10}, {10, 10}, {10, 290}, {390, 290}}, 4, 6},
		{"one place", Quad{{10, 10}, {10, 10}, {10, 10}, {10, 10}}, 4, 6},
		{"no rows", full, 0, 6},
		{"too many", full, 4, 1000},
		{"small patches", Quad{{10, 10}, {22, 10}, {22, 18}, {10, 18}}, 4, 6},
	} {
		if _, err := ChartAt(m, c.corners, c.rows, c.columns); err == nil {
			t.Errorf("%s: read", c.name)
		}
	}
	if _, _, _, err := CorrectByChart(m, full, world.chart); err == nil {
		t.Error("an even wall was taken for the chart")
	}
	for _, g := range [][2]int{{1, 24}, {2, 4}, {0, 0}, {-1, 6}, {4, 1 << 20}} {
		if _, err := FindChart(m, g[0], g[1], nil); err == nil {
			t.Errorf("a chart of %v was found on an even wall", g)
		}
	}
	if _, err := FindChart(m, 4, 6, world.chart.Patches[:7]); err == nil {
		t.Error("seven patches passed for 24")
	}
	// The right corners of a chart whose values are another's.
	rng := rand.New(rand.NewPCG(1, 1))
	photo, truth := world.take(t, usual(1, 900, 700, placed(900, 700, 4, 6, 0.5, 0.5, 0.6, 0, 0, rng)))
	other := &colour.Chart{Rows: 4, Columns: 6, Patches: slices.Clone(world.chart.Patches)}
	rng.Shuffle(24, func(i, j int) { other.Patches[i], other.Patches[j] = other.Patches[j], other.Patches[i] })
	if c, _, _, err := CorrectByChart(photo, truth, other); err == nil {
		t.Errorf("another chart's values passed, with %.1f dE00 in the middle", c.Median())
	}
	if f, err := FindChart(photo, 4, 6, other.Patches); err == nil {
		t.Errorf("another chart was found at %v", f.Corners)
	}
	// Corners begun anywhere come out in the chart's own order.
	for turn := range 4 {
		_, _, q, err := CorrectByChart(photo, truth.turned(turn), world.chart)
		if err != nil || q != truth {
			t.Errorf("begun at corner %d: %v, %v", turn, q, err)
		}
	}
}

// Correct does to each pixel what the correction says of its value, in 8 and in
// 16 bits, and keeps what was overexposed recognisable.
func TestCorrectPixels(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	for _, kind := range []colour.FitKind{colour.Matrix3, colour.RootPolynomial} {
		rows := [3][]float64{{0.42, 0.35, 0.13}, {0.22, 0.7, 0.06}, {0.01, 0.1, 0.68}}
		if kind == colour.RootPolynomial {
			for i := range rows {
				rows[i] = append(rows[i], 0.03, -0.02, 0.01)
			}
		}
		c, err := colour.NewCorrection(kind, 0.9, rows)
		if err != nil {
			t.Fatal(err)
		}
		for _, deep := range []bool{false, true} {
			m := &Image{W: 16, H: 16, Pix: make([]uint8, 4*256), Profile: colour.SRGB()}
			if deep {
				m.Deep = make([]uint16, 3*256)
			}
			var want []colour.Lab
			for i := range 256 {
				var v [3]float64
				for k := range 3 {
					m.Pix[4*i+k] = uint8(60 + rng.IntN(180))
					v[k] = float64(m.Pix[4*i+k]) / 255
					if deep {
						m.Deep[3*i+k] = uint16(m.Pix[4*i+k]) * 257
					}
				}
				want = append(want, c.XYZ(m.Profile.Linear(v[0], v[1], v[2])).Lab())
			}
			for k := range 3 {
				m.Pix[k] = 255
				if deep {
					m.Deep[k] = 65535
				}
			}
			m.Correct(c)
			if m.Pix[0] != 255 || m.Pix[1] != 255 || m.Pix[2] != 255 {
				t.Errorf("an overexposed pixel became %v", m.Pix[:3])
			}
			for i := 1; i < 256; i++ {
				p := m.Pix[4*i:]
				if max(p[0], p[1], p[2]) == 255 || min(p[0], p[1], p[2]) == 0 {
					continue // beyond the profile's colours
				}
				if d := colour.DE76(m.Profile.Lab(float64(p[0])/255, float64(p[1])/255, float64(p[2])/255), want[i]); d > 0.7 {
					t.Errorf("%s: a pixel is %.2f off", kind, d)
				}
				if deep {
					q := m.Deep[3*i:]
					if d := colour.DE76(m.Profile.Lab(float64(q[0])/65535, float64(q[1])/65535, float64(q[2])/65535), want[i]); d > 0.01 {
						t.Errorf("%s, 16 bits: a pixel is %.3f off", kind, d)
					}
				}
			}
		}
	}
}

func BenchmarkFindChart(b *testing.B) {
	world := newChartWorld(b)
	rng := rand.New(rand.NewPCG(1, 1))
	m, _ := world.take(b, usual(1, 4000, 3000, placed(4000, 3000, 4, 6, 0.17, 0.4, 0.22, 8, 0.05, rng)))
	for b.Loop() {
		if _, err := FindChart(m, 4, 6, world.chart.Patches); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCorrect(b *testing.B) {
	c, err := colour.NewCorrection(
		colour.RootPolynomial,
		0.9,
		[3][]float64{{0.42, 0.35, 0.13, 0.03, 0.01, 0.01}, {0.22, 0.7, 0.06, 0.01, 0, 0}, {0.01, 0.1, 0.68, 0, 0, 0}},
	)
	if err != nil {
		b.Fatal(err)
	}
	m := FromImage(newPlaneImage(4000, 3000))
	for b.Loop() {
		m.Correct(c)
	}
}

// Any four numbers give readings or a sentence, on pictures of any size.
func TestCornersAnywhere(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, 1e300, -0.5}
	read := 0
	for range 2000 {
		w, h := 1+rng.IntN(120), 1+rng.IntN(120)
		m := FromImage(newPlaneImage(w, h))
		var q Quad
		angle := 2 * math.Pi * rng.Float64()
		for i := range q {
			// Round some middle, so that many go round a chart.
			angle += math.Pi * (0.25 + 0.5*rng.Float64())
			r := (0.15 + 0.4*rng.Float64()) * float64(min(w, h))
			q[i] = Point{float64(w)/2 + r*math.Cos(angle), float64(h)/2 + r*math.Sin(angle)}
			for _, v := range []*float64{&q[i].X, &q[i].Y} {
				if rng.IntN(40) == 0 {
					*v = odd[rng.IntN(len(odd))]
				}
			}
		}
		rows, columns := rng.IntN(4), rng.IntN(4)
		readings, err := ChartAt(m, q, rows, columns)
		if err != nil {
			var p *Problem
			if !errors.As(err, &p) || p.Say == "" {
				t.Fatalf("%v gives %v", q, err)
			}
			continue
		}
		read++
		for _, r := range readings {
			// An even grey is read as itself, wherever it is read; a patch too thin
			// to hold the middle of a pixel is left out.
			if grey := colour.SRGB().Linear(128.0/255, 0, 0)[0]; len(readings) != rows*columns ||
				!r.Clipped && (math.Abs(r.RGB[0]-grey) > 1e-6 || r.Spread != 0) {
				t.Fatalf("%v of %d by %d pixels: %+v", q, w, h, r)
			}
		}
	}
	if read < 50 {
		t.Errorf("only %d were read", read)
	}
	for _, size := range [][2]int{{1, 1}, {1, 500}, {3, 3}, {5000, 2}} {
		if _, err := FindChart(FromImage(newPlaneImage(size[0], size[1])), 4, 6, nil); err == nil {
			t.Errorf("a chart in %v pixels", size)
		}
	}
}
