package colour

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
)

func chart24(t testing.TB) *Chart {
	t.Helper()
	f, err := os.Open("testdata/chart24.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	c, err := ParseChart(f)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestParseChart(t *testing.T) {
	c := chart24(t)
	if len(c.Patches) != 24 || c.Rows != 4 || c.Columns != 6 {
		t.Fatalf("%d patches, %d by %d", len(c.Patches), c.Rows, c.Columns)
	}
	if p := c.Patches[18]; p.ID != "D1" || p.Name != "white" || DE76(p.XYZ.Lab(), Lab{96.539, -0.425, 1.186}) > 1e-9 {
		t.Errorf("patch 19 is %+v", p)
	}
	f, _ := os.Open("testdata/chart6.txt")
	defer f.Close()
	c, err := ParseChart(f)
	if err != nil || c.Name != "Six greys and colours" || c.Rows != 2 || c.Columns != 3 {
		t.Fatalf("%+v, %v", c, err)
	}
	// X, Y and Z of D50 times 0.9, within the file's two decimals.
	if w := c.Patches[0]; w.Name != "white patch" || math.Abs(w.XYZ.Lab().B) > 0.05 || math.Abs(w.XYZ.Y-0.9) > 1e-9 {
		t.Errorf("white patch is %+v, %v", w, w.XYZ.Lab())
	}
	// A chart written down by columns is put in rows.
	c, err = ParseChart(
		strings.NewReader("id;L*;a*;b*\nA1;10;0;0\nB1;20;0;0\nC1;30;0;0\nA2;40;0;0\nB2;50;0;0\nC2;60;0;0\n"),
	)
	if err != nil || c.Rows != 2 || c.Columns != 3 || math.Abs(c.Patches[1].XYZ.Lab().L-20) > 1e-9 {
		t.Errorf("%+v, %v", c, err)
	}
}

func TestBadCharts(t *testing.T) {
	const csvHead = "id,L,a,b\n"
	const cgatsHead = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
	for _, c := range []struct {
		name, file string
		line       int
		says       string
	}{
		{"empty", "", 1, "empty"},
		{"no colour", "id,name\nA1,white\n", 1, "hold no colour"},
		{"short row", csvHead + "A1,50,0,0\nA2,50,0\n", 3, "3 values"},
		{"word", csvHead + "A1,50,0,zero\n", 2, `b is "zero"`},
		{"lightness", csvHead + "A1,-3,0,0\n", 2, "lightness"},
		{"few patches", csvHead + "A1,50,0,0\n", 1, "1 patches"},
		{"no end", cgatsHead + "1 50 0 0\n", 6, "END_DATA"},
		{"no format", "CGATS.17\nBEGIN_DATA\n1 2 3 4\n", 2, "before their format"},
		{"no data", "CGATS.17\nORIGINATOR \"x\"\n", 2, "no data"},
		{"no colour either", "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R\nEND_DATA_FORMAT\n", 4, "hold no colour"},
		{"row too long", cgatsHead + "1 50 0 0 7\nEND_DATA\n", 6, "5 values"},
		{"open quotation", csvHead + "A1,\"50,0,0\n", 2, "quotation"},
	} {
		_, err := ParseChart(strings.NewReader(c.file))
		var e *LineError
		if !errors.As(err, &e) || e.Line != c.line || !strings.Contains(e.Say, c.says) {
			t.Errorf("%s: %v, want line %d and %q", c.name, err, c.line, c.says)
		}
	}
}

func FuzzParseChart(f *testing.F) {
	for _, name := range []string{"chart24.csv", "chart6.txt"} {
		b, err := os.ReadFile("testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(b))
	}
	f.Add("id;L*;a*;b*\nA1;10;0;0\nB1;20;0;0\nC1;30;0;0\nA2;40;0;0\n")
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseChart(strings.NewReader(s))
		if err != nil {
			var e *LineError
			if !errors.As(err, &e) || e.Line < 1 {
				t.Fatalf("%v names no line", err)
			}
			return
		}
		if len(c.Patches) < 4 || len(c.Patches) > MaxPatches ||
			c.Rows*c.Columns != 0 && c.Rows*c.Columns != len(c.Patches) {
			t.Fatalf("%d patches in %d by %d", len(c.Patches), c.Rows, c.Columns)
		}
		for _, p := range c.Patches {
			if l := p.XYZ.Lab(); math.IsNaN(l.L + l.A + l.B) {
				t.Fatalf("patch %+v has no colour", p)
			}
		}
	})
}

// A world of spectra, 400 to 700 nm in steps of 10.
const bands = 31

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

// lamp is Planck's law at 5000 K, up to a factor.
func lamp(nm float64) float64 {
	return math.Pow(560/nm, 5) * (math.Exp(25.7) - 1) / (math.Exp(1.438777e7/(nm*5000)) - 1) / math.Exp(20.5)
}

// spectra makes for each wanted colour the smoothest reflectance that has it
// under the lamp (least sum of squared differences between neighbours), clipped
// to what a surface can reflect; the clipped spectrum's colour counts from then
// on. Real colorants are not that smooth: to each a random bump of about 4 % of
// reflectance is added, less what of it the observer would see (a metameric
// black, Wyszecki 1953), so that the camera sees differences that the eye does
// not.
func spectra(want []Lab, rng *rand.Rand) [][bands]float64 {
	var a [3][bands]float64
	var white [3]float64
	for i := range bands {
		nm := 400 + 10*float64(i)
		for c, v := range observer(nm) {
			a[c][i] = v * lamp(nm)
			white[c] += a[c][i]
		}
	}
	d50 := [3]float64{D50.X, D50.Y, D50.Z}
	for c := range a {
		for i := range a[c] {
			a[c][i] *= d50[c] / white[c] // the lamp's white is the reference white
		}
	}
	// Minimum of r'Dr with A r = xyz by Lagrange's multipliers.
	k := mat.NewDense(bands+3, bands+3, nil)
	for i := range bands {
		for _, j := range []int{i - 1, i + 1} {
			if j >= 0 && j < bands {
				k.Set(i, i, k.At(i, i)+2)
				k.Set(i, j, k.At(i, j)-2)
			}
		}
		for c := range 3 {
			k.Set(i, bands+c, a[c][i])
			k.Set(bands+c, i, a[c][i])
		}
	}
	var out [][bands]float64
	for _, lab := range want {
		x := lab.XYZ()
		b := mat.NewVecDense(bands+3, nil)
		b.SetVec(bands, x.X)
		b.SetVec(bands+1, x.Y)
		b.SetVec(bands+2, x.Z)
		var r mat.VecDense
		if err := r.SolveVec(k, b); err != nil {
			panic(err)
		}
		var bump [bands]float64
		for range 4 {
			mid, wide, high := rng.Float64()*bands, 1.5+3*rng.Float64(), 0.04*rng.NormFloat64()
			for i := range bump {
				u := (float64(i) - mid) / wide
				bump[i] += high * math.Exp(-u*u/2)
			}
		}
		hide(&bump, a)
		var s [bands]float64
		for i := range s {
			s[i] = math.Min(0.98, math.Max(0.01, r.AtVec(i)+bump[i]))
		}
		out = append(out, s)
	}
	return out
}

// hide takes from a spectrum what lies along the rows of a.
func hide(s *[bands]float64, a [3][bands]float64) {
	for c := range a { // Gram and Schmidt
		for k := range c {
			f := inner(a[c], a[k]) / inner(a[k], a[k])
			for i := range a[c] {
				a[c][i] -= f * a[k][i]
			}
		}
		f := inner(*s, a[c]) / inner(a[c], a[c])
		for i := range s {
			s[i] -= f * a[c][i]
		}
	}
}

func inner(a, b [bands]float64) (sum float64) {
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

func colourOf(s [bands]float64) XYZ {
	var v, white [3]float64
	for i := range bands {
		nm := 400 + 10*float64(i)
		for c, o := range observer(nm) {
			v[c] += o * lamp(nm) * s[i]
			white[c] += o * lamp(nm)
		}
	}
	return XYZ{D50.X * v[0] / white[0], D50.Y * v[1] / white[1], D50.Z * v[2] / white[2]}
}

// camera sees spectra through three bell-shaped filters that are no mixture of
// the observer's, balances to white, bends tones a little and writes sRGB in 8
// bits with noise; then the file's values are taken back to linear light, as
// any program would.
func camera(s [bands]float64, rng *rand.Rand) Reading {
	filters := [3][2]float64{{605, 33}, {540, 38}, {462, 27}}
	var r Reading
	for c, f := range filters {
		var v, white float64
		for i := range bands {
			nm := 400 + 10*float64(i)
			w := lamp(nm) * math.Exp(-0.5*(nm-f[0])*(nm-f[0])/(f[1]*f[1]))
			v += w * s[i]
			white += w
		}
		sum := 0.0
		for range 200 { // a patch is the mean of many pixels
			lin := 0.92*v/white + 0.002*rng.NormFloat64()
			lin = math.Pow(math.Max(0, lin), 1.12) // the maker's taste in contrast
			code := lin * 12.92
			if lin > 0.0031308 {
				code = 1.055*math.Pow(lin, 1/2.4) - 0.055
			}
			sum += SRGB().Linear(math.Round(code*255)/255, 0, 0)[0]
		}
		r.RGB[c] = sum / 200
	}
	return r
}

func TestChartFitOnSyntheticCamera(t *testing.T) {
	chart := chart24(t)
	var want []Lab
	for _, p := range chart.Patches {
		want = append(want, p.XYZ.Lab())
	}
	rng := rand.New(rand.NewPCG(4, 2))
	s := spectra(want, rng)
	patches, readings := make([]Patch, len(s)), make([]Reading, len(s))
	for i := range s {
		patches[i] = Patch{ID: chart.Patches[i].ID, XYZ: colourOf(s[i])}
		readings[i] = camera(s[i], rng)
		if d := DE2000(want[i], patches[i].XYZ.Lab()); d > 6 {
			t.Errorf("%s: clipped to a spectrum it is %.1f dE00 from the published colour", patches[i].ID, d)
		}
	}
	var fits []*Correction
	for _, kind := range []FitKind{Matrix3, RootPolynomial} {
		c, err := Fit(kind, patches, readings)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf(
			"%s: exponent %.2f, leave-one-out median %.2f, 95th percentile %.2f dE00",
			kind,
			c.Exponent,
			c.Median(),
			c.P95(),
		)
		fits = append(fits, c)
	}
	c, err := FitChart(patches, readings)
	if err != nil {
		t.Fatal(err)
	}
	if c.Median() > 1.5 {
		t.Errorf("leave-one-out median %.2f dE00, want under 1.5", c.Median())
	}
	if c.Median() > min(fits[0].Median(), fits[1].Median()) {
		t.Errorf("the worse of two fits was chosen")
	}
	// Papers before and after a wash: their change comes back within 0.5 dE00.
	for _, pair := range [][2]Lab{
		{{82, 3, 18}, {86, 1.5, 13}}, {{76, 5, 22}, {78, 4, 20}}, {{90, 0, 8}, {93, -0.5, 5}},
		{{70, 7, 26}, {80, 4, 19}},
	} {
		p := spectra(pair[:], rng)
		truth := DE2000(colourOf(p[0]).Lab(), colourOf(p[1]).Lab())
		before, after := c.XYZ(camera(p[0], rng).RGB).Lab(), c.XYZ(camera(p[1], rng).RGB).Lab()
		if got := DE2000(before, after); math.Abs(got-truth) > 0.5 {
			t.Errorf("paper from %v to %v changes by %.2f dE00, recovered %.2f", pair[0], pair[1], truth, got)
		}
	}
}

// The leave-one-out errors by the formula are those of fits made without each
// patch.
func TestLeaveOneOutIsWhatItSays(t *testing.T) {
	chart := chart24(t)
	rng := rand.New(rand.NewPCG(8, 8))
	var want []Lab
	for _, p := range chart.Patches {
		want = append(want, p.XYZ.Lab())
	}
	var readings []Reading
	for _, s := range spectra(want, rng) {
		readings = append(readings, camera(s, rng))
	}
	for _, kind := range []FitKind{Matrix3, RootPolynomial} {
		all, err := fitAt(kind, 0.9, chart.Patches, readings)
		if err != nil {
			t.Fatal(err)
		}
		for i := range chart.Patches {
			p := append(append([]Patch{}, chart.Patches[:i]...), chart.Patches[i+1:]...)
			r := append(append([]Reading{}, readings[:i]...), readings[i+1:]...)
			c, err := fitAt(kind, 0.9, p, r)
			if err != nil {
				t.Fatal(err)
			}
			d := DE2000(chart.Patches[i].XYZ.Lab(), c.XYZ(readings[i].RGB).Lab())
			if math.Abs(d-all.LeaveOneOut[i]) > 1e-6 {
				t.Errorf("%s without patch %d: %.4f dE00, by the formula %.4f", kind, i, d, all.LeaveOneOut[i])
			}
		}
	}
}

// A root polynomial and a matrix scale with exposure: twice the light is twice
// the XYZ (the property for which Finlayson and others made it).
func TestCorrectionScalesWithExposure(t *testing.T) {
	for _, kind := range []FitKind{Matrix3, RootPolynomial} {
		c := &Correction{Kind: kind, Exponent: 1}
		for i := range c.coef {
			c.coef[i] = []float64{0.5, 0.3, 0.1, 0.2, -0.1, 0.05}
			if kind == Matrix3 {
				c.coef[i] = c.coef[i][:3]
			}
		}
		one, two := c.XYZ([3]float64{0.1, 0.2, 0.3}), c.XYZ([3]float64{0.2, 0.4, 0.6})
		if math.Abs(two.Y-2*one.Y) > 1e-12 {
			t.Errorf("%s: Y %g at twice the light of %g", kind, two.Y, one.Y)
		}
	}
}

func TestGreyCardAndWhitePaper(t *testing.T) {
	r := Reading{RGB: [3]float64{0.2, 0.16, 0.12}} // under lamplight
	c, err := FromGreyCard(SRGB(), r, 50)
	if err != nil {
		t.Fatal(err)
	}
	if lab := c.XYZ(r.RGB).Lab(); DE76(lab, Lab{L: 50}) > 1e-6 {
		t.Errorf("the card comes out as %v, want L 50 and no hue", lab)
	}
	w, err := FromWhitePaper(SRGB(), r)
	if err != nil || c.Knows == w.Knows || c.Knows == "" || w.Knows == "" {
		t.Errorf("what is known: %q and %q, %v", c.Knows, w.Knows, err)
	}
	for _, bad := range []Reading{{RGB: [3]float64{0.2, 0.1, 0}}, {RGB: [3]float64{1, 1, 1}, Clipped: true}} {
		if _, err := FromGreyCard(SRGB(), bad, 50); err == nil {
			t.Errorf("%+v was taken for a grey card", bad)
		}
	}
	if _, err := FromGreyCard(SRGB(), r, 5); err == nil {
		t.Error("a card of L 5 was taken for grey")
	}
}

func TestFitRefusals(t *testing.T) {
	chart := chart24(t)
	same := make([]Reading, 24)
	for i := range same {
		same[i].RGB = [3]float64{0.3, 0.3, 0.3}
	}
	if _, err := FitChart(chart.Patches, same); !errors.Is(err, ErrFlatChart) {
		t.Errorf("a wall taken for a chart: %v", err)
	}
	for i := range same {
		same[i].Clipped = i > 4
	}
	if _, err := FitChart(chart.Patches, same); !errors.Is(err, ErrFewPatches) {
		t.Errorf("an overexposed chart: %v", err)
	}
	if _, err := FitChart(chart.Patches[:3], same); err == nil {
		t.Error("patches and readings of different number passed")
	}
}

// What is kept of a correction is the whole of it, and the fast way through it
// gives the same colours.
func TestCorrectionIsKeptWhole(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	for _, kind := range []FitKind{Matrix3, RootPolynomial, GreyCard, WhitePaper} {
		n := 3
		if kind == RootPolynomial {
			n = 6
		}
		var rows [3][]float64
		for i := range rows {
			for range n {
				rows[i] = append(rows[i], rng.Float64()-0.2)
			}
		}
		c, err := NewCorrection(kind, 0.9, rows)
		if err != nil {
			t.Fatal(err)
		}
		again, err := NewCorrection(c.Kind, c.Exponent, c.Coefficients())
		if err != nil {
			t.Fatal(err)
		}
		if !math.IsNaN(again.Median()) {
			t.Errorf("%s: an error of %g though none was kept", kind, again.Median())
		}
		if again.Kept(1.5, 3.5); again.Median() != 1.5 || again.P95() != 3.5 {
			t.Errorf("%s: errors 1.5 and 3.5 were kept, %g and %g came back", kind, again.Median(), again.P95())
		}
		into := c.Into(DisplayP3())
		for range 50 {
			v := [3]float64{rng.Float64(), rng.Float64(), rng.Float64()}
			want := c.XYZ(v)
			if again.XYZ(v) != want {
				t.Fatalf("%s: kept, %v becomes another colour", kind, v)
			}
			var raised [3]float32
			for i := range v {
				raised[i] = float32(math.Pow(v[i], c.Exponent))
			}
			p := into(raised)
			got := DisplayP3().LinearXYZ([3]float64{float64(p[0]), float64(p[1]), float64(p[2])})
			if math.Abs(got.X-want.X)+math.Abs(got.Y-want.Y)+math.Abs(got.Z-want.Z) > 1e-5 {
				t.Errorf("%s: %v becomes %v through a profile, %v without", kind, v, got, want)
			}
		}
	}
	ok := [3][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for name, bad := range map[string]func() (*Correction, error){
		"kind":     func() (*Correction, error) { return NewCorrection("spline", 1, ok) },
		"exponent": func() (*Correction, error) { return NewCorrection(Matrix3, math.NaN(), ok) },
		"weights":  func() (*Correction, error) { return NewCorrection(RootPolynomial, 1, ok) },
		"number": func() (*Correction, error) {
			return NewCorrection(Matrix3, 1, [3][]float64{{1, 0, 0}, {0, math.NaN(), 0}, {0, 0, 1}})
		},
	} {
		if c, err := bad(); err == nil {
			t.Errorf("a wrong %s passed: %+v", name, c)
		}
	}
}

// A grey read in a picture of wider primaries comes out as grey too, and other
// colours as that profile shows them.
func TestGreyCardInAWiderProfile(t *testing.T) {
	p := DisplayP3()
	r := Reading{RGB: [3]float64{0.15, 0.15, 0.15}}
	c, err := FromGreyCard(p, r, 50)
	if err != nil {
		t.Fatal(err)
	}
	if lab := c.XYZ(r.RGB).Lab(); DE76(lab, Lab{L: 50}) > 1e-6 {
		t.Errorf("the card comes out as %v", lab)
	}
	// The same chromaticity as the profile's own, scaled in light.
	red := [3]float64{0.4, 0.05, 0.05}
	scale := Lab{L: 50}.XYZ().Y / 0.15
	got, want := c.XYZ(red), p.LinearXYZ(red)
	if math.Abs(got.X-scale*want.X) > 1e-6 || math.Abs(got.Z-scale*want.Z) > 1e-6 {
		t.Errorf("a red is %v, want %v times %g", got, want, scale)
	}
}
