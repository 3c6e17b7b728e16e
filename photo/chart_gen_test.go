package photo

import (
	"bytes"
	"encoding/csv"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"benchleaf/colour"

	"gonum.org/v1/gonum/mat"
)

// A world of spectra, 400 to 700 nm in steps of 10.
const bands = 31

type spectrum [bands]float64

// spectraTable reads the numbers of a table of testdata.
func spectraTable(t testing.TB, name string) (labels []string, rows [][]float64) {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	list, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range list[1:] {
		labels = append(labels, row[0])
		var vs []float64
		for _, s := range row[1:] {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			vs = append(vs, v)
		}
		rows = append(rows, vs)
	}
	return labels, rows
}

// observer is the CIE 1931 observer by the analytic fit of Wyman, Sloan and
// Shirley, Simple analytic approximations to the CIE XYZ color matching
// functions, JCGT 2(2), 2013 (coefficients from memory).
func observer(nm float64) [3]float64 {
	g := func(mid, left, right float64) float64 {
		s := right
		if nm < mid {
			s = left
		}
		return math.Exp(-0.5 * (nm - mid) * (nm - mid) / (s * s))
	}
	return [3]float64{
		1.056*g(599.8, 37.9, 31.0) + 0.362*g(442.0, 16.0, 26.7) - 0.065*g(501.1, 20.4, 26.2),
		0.821*g(568.8, 46.9, 40.5) + 0.286*g(530.9, 16.3, 31.1),
		1.217*g(437.0, 11.8, 36.0) + 0.681*g(459.0, 26.0, 13.8),
	}
}

// lamp is Planck's law, relative to its value at 560 nm.
func lamp(nm, kelvin float64) float64 {
	at := func(nm float64) float64 { return math.Pow(nm, -5) / (math.Exp(1.438777e7/(nm*kelvin)) - 1) }
	return at(nm) / at(560)
}

// standardColour is the colour of a surface as an observer sees it under a lamp
// of 5000 K, whose white is put at D50.
func standardColour(s *spectrum) colour.XYZ {
	var v, white [3]float64
	for i := range s {
		nm := 400 + 10*float64(i)
		for c, o := range observer(nm) {
			v[c] += o * lamp(nm, 5000) * s[i]
			white[c] += o * lamp(nm, 5000)
		}
	}
	return colour.XYZ{X: colour.D50.X * v[0] / white[0], Y: v[1] / white[1], Z: colour.D50.Z * v[2] / white[2]}
}

// chartWorld holds the chart, papers and camera of the tests.
type chartWorld struct {
	chart   *colour.Chart
	patches []spectrum
	sense   [3]spectrum
	// develop is the maker's matrix from balanced camera values to linear sRGB.
	develop colour.Matrix
}

func newChartWorld(t testing.TB) *chartWorld {
	t.Helper()
	w := &chartWorld{chart: &colour.Chart{Rows: 4, Columns: 6}}
	names, rows := spectraTable(t, "chart-spectra.csv")
	for i, row := range rows {
		s := spectrum(row)
		w.patches = append(w.patches, s)
		w.chart.Patches = append(
			w.chart.Patches,
			colour.Patch{ID: strconv.Itoa(i + 1), Name: names[i], XYZ: standardColour(&s)},
		)
	}
	_, rows = spectraTable(t, "camera-sensitivity.csv")
	for i, row := range rows {
		for c := range w.sense {
			w.sense[c][i] = row[c]
		}
	}
	w.calibrate()
	return w
}

// calibrate finds the maker's matrix: least squares over the chart under the
// standard lamp, rows scaled so that white stays white.
func (w *chartWorld) calibrate() {
	a, b := mat.NewDense(len(w.patches), 3, nil), mat.NewDense(len(w.patches), 3, nil)
	for i := range w.patches {
		v := w.raw(&w.patches[i], 5000, w.gains(5000, 0))
		a.SetRow(i, v[:])
		x := w.chart.Patches[i].XYZ
		lin := xyzToLinear(x)
		b.SetRow(i, lin[:])
	}
	var m mat.Dense
	if err := m.Solve(a, b); err != nil {
		panic(err)
	}
	for i := range 3 {
		sum := m.At(0, i) + m.At(1, i) + m.At(2, i)
		for j := range 3 {
			w.develop[i][j] = m.At(j, i) / sum
		}
	}
}

func xyzToLinear(x colour.XYZ) [3]float64 {
	// Columns are the colours of the primaries.
	var m colour.Matrix
	for j := range 3 {
		var e [3]float64
		e[j] = 1
		c := colour.LinearSRGB().LinearXYZ(e)
		m[0][j], m[1][j], m[2][j] = c.X, c.Y, c.Z
	}
	inv, _ := m.Inverse()
	return inv.Apply([3]float64{x.X, x.Y, x.Z})
}

// gains balance a lamp's white, off by a share in red and blue.
func (w *chartWorld) gains(kelvin, off float64) [3]float64 {
	var g [3]float64
	for c := range g {
		for i := range bands {
			g[c] += w.sense[c][i] * lamp(400+10*float64(i), kelvin)
		}
		g[c] = 1 / g[c]
	}
	g[0] *= 1 + off
	g[2] *= 1 - off
	return g
}

func (w *chartWorld) raw(s *spectrum, kelvin float64, gain [3]float64) (v [3]float64) {
	for c := range v {
		for i := range s {
			v[c] += w.sense[c][i] * lamp(400+10*float64(i), kelvin) * s[i]
		}
		v[c] *= gain[c]
	}
	return v
}

// chartShot is how a photograph is taken.
type chartShot struct {
	w, h     int
	at       Quad    // outer corners of the patches; none when all nought
	kelvin   float64 // of the lamp
	balance  float64 // how far white balance is off, as a share
	exposure float64
	gradient float64 // how much less light falls on the right than on the left, as a share
	contrast float64 // exponent of the maker's tone curve beyond sRGB's
	noise    float64 // of linear light at white
	quality  int     // of JPEG, 0: none
	paper    *spectrum
	frame    float64 // reflectance of the chart's frame
	gap      float64 // between patches, as a share of a patch
	seed     uint64
}

// take renders a sheet with lines of print on a desk, and the chart. It gives
// the true corners of the chart's grid, half a gap outside its patches.
func (w *chartWorld) take(t testing.TB, s chartShot) (*Image, Quad) {
	t.Helper()
	rng := rand.New(rand.NewPCG(s.seed, 7))
	gain := w.gains(s.kelvin, s.balance)
	light := func(m *spectrum) [3]float64 {
		v := w.raw(m, s.kelvin, gain)
		return w.develop.Apply(v)
	}
	flat := func(r float64) (m spectrum) {
		for i := range m {
			m[i] = r
		}
		return m
	}
	desk, ink, frame := flat(0.16), flat(0.04), flat(s.frame)
	for i := range desk {
		desk[i] *= 0.6 + 0.8*float64(i)/bands // brown
	}
	paper := s.paper
	if paper == nil {
		p := agedPaper(0.75, 0.5)
		paper = &p
	}
	cPaper, cDesk, cInk, cFrame := light(paper), light(&desk), light(&ink), light(&frame)
	var cPatch [][3]float64
	for i := range w.patches {
		cPatch = append(cPatch, light(&w.patches[i]))
	}
	rows, columns := w.chart.Rows, w.chart.Columns
	var truth Quad
	var toChart Homography
	has := s.at != Quad{}
	fw, fh := float64(columns)*(1+s.gap)-s.gap, float64(rows)*(1+s.gap)-s.gap
	if has {
		out, ok := fitHomography([]Point{{0, 0}, {fw, 0}, {fw, fh}, {0, fh}}, s.at[:], nil)
		if !ok {
			t.Fatal("the chart's corners make no quadrilateral")
		}
		g := s.gap / 2
		truth = Quad{
			out.Map(Point{-g, -g}),
			out.Map(Point{fw + g, -g}),
			out.Map(Point{fw + g, fh + g}),
			out.Map(Point{-g, fh + g}),
		}
		toChart, _ = out.Inverse()
	}
	// Near the chart's frame pixels are mixed of four places.
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	if has {
		margin := 0.6 * distance(truth[0], truth[1]) / float64(columns)
		for _, p := range truth {
			x0, x1 = math.Min(x0, p.X-margin), math.Max(x1, p.X+margin)
			y0, y1 = math.Min(y0, p.Y-margin), math.Max(y1, p.Y+margin)
		}
	}
	near := func(x, y float64) bool { return x > x0 && x < x1 && y > y0 && y < y1 }
	scene := func(x, y float64) [3]float64 {
		if near(x, y) {
			p := toChart.Map(Point{x, y})
			if p.X > -0.4 && p.Y > -0.4 && p.X < fw+0.4 && p.Y < fh+0.4 {
				c, r := math.Floor(p.X/(1+s.gap)), math.Floor(p.Y/(1+s.gap))
				ux, uy := p.X-c*(1+s.gap), p.Y-r*(1+s.gap)
				if c >= 0 && r >= 0 && int(c) < columns && int(r) < rows && ux <= 1 && uy <= 1 {
					return cPatch[int(r)*columns+int(c)]
				}
				return cFrame
			}
		}
		u, v := x/float64(s.w), y/float64(s.h)
		if u < 0.3 || u > 0.95 || v < 0.06 || v > 0.94 {
			return cDesk
		}
		line, word := math.Mod(v*48, 1), math.Mod(u*60+math.Floor(v*48)*0.37, 1)
		if u > 0.36 && u < 0.9 && v > 0.12 && v < 0.88 && line < 0.45 && word < 0.7 && math.Mod(u*370, 1) < 0.5 {
			return cInk
		}
		return cPaper
	}
	var tone [4097]float64
	for i := range tone {
		tone[i] = math.Pow(float64(i)/4096, s.contrast)
	}
	codes := srgbCodes()
	img := image.NewRGBA(image.Rect(0, 0, s.w, s.h))
	for y := range s.h {
		for x := range s.w {
			var sum [3]float64
			if near(float64(x), float64(y)) {
				for _, o := range [4]Point{{-0.25, -0.25}, {0.25, -0.25}, {-0.25, 0.25}, {0.25, 0.25}} {
					c := scene(float64(x)+o.X, float64(y)+o.Y)
					for k := range sum {
						sum[k] += c[k] / 4
					}
				}
			} else {
				sum = scene(float64(x), float64(y))
			}
			fall := s.exposure * (1 - s.gradient*(float64(x)/float64(s.w)))
			for k, v := range sum {
				v *= fall
				// Shot noise grows with the root of light.
				v += s.noise * math.Sqrt(math.Max(0, v)+0.01) * rng.NormFloat64()
				img.Pix[4*(y*s.w+x)+k] = codes.of(float32(tone[int(4096*math.Min(1, math.Max(0, v))+0.5)]))
			}
			img.Pix[4*(y*s.w+x)+3] = 255
		}
	}
	m := &Image{W: s.w, H: s.h, Pix: img.Pix, Profile: colour.SRGB()}
	if s.quality > 0 {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: s.quality}); err != nil {
			t.Fatal(err)
		}
		var err error
		if m, _, err = Decode(bytes.NewReader(b.Bytes()), DefaultLimits); err != nil {
			t.Fatal(err)
		}
	}
	return m, truth
}

// agedPaper reflects less towards blue, as groundwood does that has yellowed:
// white at the red end, with an absorption that grows exponentially towards
// blue (the form of lignin's spectrum; the numbers are ours).
func agedPaper(white, yellow float64) (s spectrum) {
	for i := range s {
		nm := 400 + 10*float64(i)
		s[i] = white * math.Exp(-yellow*math.Exp(-(nm-400)/90))
	}
	return s
}

// usual is a shot as a hand takes it.
func usual(seed uint64, w, h int, at Quad) chartShot {
	rng := rand.New(rand.NewPCG(seed, 99))
	return chartShot{
		w: w, h: h, at: at, kelvin: 3000 + 3500*rng.Float64(), balance: 0.12 * (rng.Float64() - 0.5),
		exposure: 0.75 + 0.3*rng.Float64(), gradient: 0.1 * rng.Float64(), contrast: 1 + 0.15*rng.Float64(),
		noise: 0.012, quality: 85 + rng.IntN(11), frame: 0.045, gap: 0.1 + 0.15*rng.Float64(), seed: seed,
	}
}

// placed is a chart's quadrilateral: its middle and width as shares of the
// picture's width, its turn in degrees, and how much its corners stray, as a
// share of its height, so that it is seen in perspective.
func placed(w, h, rows, columns int, cx, cy, size, turn, stray float64, rng *rand.Rand) Quad {
	wide := size * float64(w)
	high := wide * float64(rows) / float64(columns)
	sin, cos := math.Sincos(turn * math.Pi / 180)
	var q Quad
	for i, c := range [4]Point{{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}} {
		x, y := c.X*wide+stray*high*(rng.Float64()-0.5), c.Y*high+stray*high*(rng.Float64()-0.5)
		q[i] = Point{cx*float64(w) + cos*x - sin*y, cy*float64(h) + sin*x + cos*y}
	}
	return q
}

// newPlaneImage is an even grey.
func newPlaneImage(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = 128
		if i%4 == 3 {
			m.Pix[i] = 255
		}
	}
	return m
}
