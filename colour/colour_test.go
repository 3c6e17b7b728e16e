package colour

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// readCSV returns the rows of a table in testdata, without its header.
func readCSV(t testing.TB, name string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func numbers(t testing.TB, fields []string) []float64 {
	t.Helper()
	out := make([]float64, len(fields))
	for i, s := range fields {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	return out
}

// The 34 pairs of Sharma, Wu and Dalal, Color Research and Application 30(1),
// 2005, table 1.
func TestDE2000AgainstSharma(t *testing.T) {
	rows := readCSV(t, "ciede2000-sharma.csv")
	if len(rows) != 34 {
		t.Fatalf("%d pairs, want 34", len(rows))
	}
	for i, row := range rows {
		v := numbers(t, row)
		a, b := Lab{v[0], v[1], v[2]}, Lab{v[3], v[4], v[5]}
		if got := DE2000(a, b); math.Abs(got-v[6]) > 1e-4 {
			t.Errorf("pair %d: %v and %v: dE00 %.5f, want %.4f", i+1, a, b, got, v[6])
		}
		if got := DE2000(b, a); math.Abs(got-v[6]) > 1e-4 {
			t.Errorf("pair %d reversed: dE00 %.5f, want %.4f", i+1, got, v[6])
		}
		// Single precision sees rounded inputs; pair 10 has exactly opposite
		// hues, where the formula jumps, so the same inputs go to both paths.
		one := []float32{float32(v[0]), float32(v[1]), float32(v[2])}
		two := []float32{float32(v[3]), float32(v[4]), float32(v[5])}
		want := DE2000(
			Lab{float64(one[0]), float64(one[1]), float64(one[2])},
			Lab{float64(two[0]), float64(two[1]), float64(two[2])},
		)
		var de [1]float32
		DE2000Row(de[:], one, two)
		if math.Abs(float64(de[0])-want) > 0.001+0.0002*want {
			t.Errorf("pair %d: single precision dE00 %.5f, want %.4f", i+1, de[0], want)
		}
	}
}

// The constants that the package holds, against the table of published ones
// (sources in its column).
func TestPublishedConstants(t *testing.T) {
	want := map[string]string{}
	for _, row := range readCSV(t, "colorimetry.csv") {
		want[row[0]] = row[1]
	}
	triple := func(name string) []float64 {
		s, ok := want[name]
		if !ok {
			t.Fatalf("the table has no row %q", name)
		}
		return numbers(t, strings.Split(s, ","))
	}
	near := func(name string, got [3]float64, tol float64) {
		for i, v := range triple(name) {
			if math.Abs(got[i]-v) > tol {
				t.Errorf("%s: %v, want %v", name, got, triple(name))
				return
			}
		}
	}
	near("D50 white XYZ (2 degree)", [3]float64{D50.X, D50.Y, D50.Z}, 1e-9)
	near("D65 white XYZ (2 degree)", [3]float64{D65.X, D65.Y, D65.Z}, 1e-9)
	for i, name := range []string{"Bradford row 1", "Bradford row 2", "Bradford row 3"} {
		near(name, bradford[i], 1e-9)
	}
	// The standard rounds the matrix to four digits, from a white that is
	// itself rounded to x 0.3127, y 0.3290 (Z 1.0891 in place of 1.08883).
	toD65 := Bradford(D50, D65).Times(SRGB().toXYZ)
	for i, name := range []string{"sRGB to XYZ D65 row X", "sRGB to XYZ D65 row Y", "sRGB to XYZ D65 row Z"} {
		near(name, toD65[i], 2.5e-4)
	}
	if lab := SRGB().Lab(1, 1, 1); math.Abs(lab.L-100) > 1e-9 || lab.Chroma() > 1e-9 {
		t.Errorf("sRGB white is %v, want 100, 0, 0", lab)
	}
	v := 119.0 / 255
	if lab := SRGB().Lab(v, v, v); math.Abs(lab.L-50.03) > 0.005 {
		t.Errorf("sRGB 119 has L %.3f, want 50.03", lab.L)
	}
	for _, c := range []float64{0, 0.03, 0.04045, 0.05, 0.5, 1} {
		lin := c / 12.92 // IEC 61966-2-1:1999
		if c > 0.04045 {
			lin = math.Pow((c+0.055)/1.055, 2.4)
		}
		if got := SRGB().Linear(c, c, c)[1]; math.Abs(got-lin) > 1e-8 {
			t.Errorf("sRGB %g is %g in linear light, want %g", c, got, lin)
		}
	}
	for _, c := range []struct {
		cond   E313Condition
		cx, cz float64 // ASTM E313-15 table 1, as in the table read above
	}{{E313D65Deg10, 1.3013, 1.1498}, {E313CDeg2, 1.2769, 1.0592}} {
		x := XYZ{0.4, 0.5, 0.3}
		if got, want := float64(YellownessE313(x, c.cond)), 100*(c.cx*0.4-c.cz*0.3)/0.5; math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: yellowness %g, want %g", c.cond.Name, got, want)
		}
	}
}

// The perfect white has no yellowness under any condition (the meaning of the
// coefficients of ASTM E313), and yellow paper has some.
func TestYellownessOfWhite(t *testing.T) {
	for _, c := range []E313Condition{E313D65Deg10, E313D65Deg2, E313CDeg2} {
		if y := YellownessE313(c.White, c); math.Abs(float64(y)) > 0.02 {
			t.Errorf("white under %s has yellowness %.3f, want 0", c.Name, y)
		}
	}
	if y := (Lab{100, 0, 0}).Yellowness(); math.Abs(float64(y)) > 0.02 {
		t.Errorf("white has yellowness %.3f, want 0", y)
	}
	if a, b := (Lab{85, 2, 20}).Yellowness(), (Lab{85, 2, 10}).Yellowness(); a <= b || b <= 0 {
		t.Errorf("yellowness %g for b* 20 and %g for b* 10, want it to rise", a, b)
	}
}

// Worked values of the sRGB primaries in CIELAB D50, as carried by B. Lindbloom's
// published conversion tables (from memory, two decimals).
func TestLabOfPrimaries(t *testing.T) {
	for _, c := range []struct {
		rgb  [3]float64
		want Lab
	}{
		{[3]float64{1, 0, 0}, Lab{54.29, 80.81, 69.89}},
		{[3]float64{0, 1, 0}, Lab{87.82, -79.29, 80.99}},
		{[3]float64{0, 0, 1}, Lab{29.57, 68.30, -112.03}},
	} {
		if got := SRGB().Lab(c.rgb[0], c.rgb[1], c.rgb[2]); DE76(got, c.want) > 0.05 {
			t.Errorf("sRGB %v is %v, want %v", c.rgb, got, c.want)
		}
	}
}

func labGen() *rapid.Generator[Lab] {
	return rapid.Custom(func(t *rapid.T) Lab {
		return Lab{
			rapid.Float64Range(0, 100).Draw(t, "L"),
			rapid.Float64Range(-100, 100).Draw(t, "a"),
			rapid.Float64Range(-100, 100).Draw(t, "b"),
		}
	})
}

func TestDifferenceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := labGen().Draw(t, "one"), labGen().Draw(t, "two")
		d := DE2000(a, b)
		if d < 0 || math.IsNaN(d) || math.Abs(d-DE2000(b, a)) > 1e-9 {
			t.Fatalf("dE00 %g and %g", d, DE2000(b, a))
		}
		if DE2000(a, a) != 0 || DE76(a, a) != 0 {
			t.Fatal("a colour differs from itself")
		}
		// On the grey axis the difference of 1976 is that of L.
		g, h := Lab{L: a.L}, Lab{L: b.L}
		if math.Abs(DE76(g, h)-math.Abs(a.L-b.L)) > 1e-9 {
			t.Fatal("greys: dE76 is not |dL|")
		}
		back := a.XYZ().Lab()
		if DE76(a, back) > 1e-9 {
			t.Fatalf("%v comes back from XYZ as %v", a, back)
		}
	})
}

// The fast path against the exact one over the whole cube.
func TestFastLabAgainstExact(t *testing.T) {
	p, worst := LinearSRGB(), 0.0
	for r := 0; r < 256; r += 5 {
		for g := 0; g < 256; g += 5 {
			for b := 0; b < 256; b += 5 {
				light := []float32{float32(r) / 255, float32(g) / 255, float32(b) / 255}
				e := p.Lab(float64(light[0]), float64(light[1]), float64(light[2]))
				var q [3]float32
				LinearLabRow(q[:], light)
				for i, exact := range []float64{e.L, e.A, e.B} {
					worst = math.Max(worst, math.Abs(exact-float64(q[i])))
				}
			}
		}
	}
	if worst > 0.01 {
		t.Errorf("the fast path is up to %.4f off in L, a or b, want at most 0.01", worst)
	}
}

func TestFastDifferenceAgainstExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const n = 200_000
	one, two, de := make([]float32, 3*n), make([]float32, 3*n), make([]float32, n)
	for i := range n {
		one[3*i], one[3*i+1], one[3*i+2] = rng.Float32()*100, rng.Float32()*200-100, rng.Float32()*200-100
		spread := float32(math.Pow(10, rng.Float64()*3-1)) // differences from 0.1 to 100
		for k := range 3 {
			two[3*i+k] = one[3*i+k] + float32(rng.NormFloat64())*spread
		}
	}
	DE2000Row(de, one, two)
	for i := range n {
		a := Lab{float64(one[3*i]), float64(one[3*i+1]), float64(one[3*i+2])}
		b := Lab{float64(two[3*i]), float64(two[3*i+1]), float64(two[3*i+2])}
		if want := DE2000(a, b); math.Abs(float64(de[i])-want) > 0.002+0.001*want {
			t.Fatalf("%v and %v: dE00 %.4f, want %.4f", a, b, de[i], want)
		}
	}
}

func TestParallelCoversOnce(t *testing.T) {
	for _, n := range []int{0, 1, 7, 100, 9999} {
		seen := make([]int32, n)
		Parallel(n, 10, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				seen[i]++
			}
		})
		for i, s := range seen {
			if s != 1 {
				t.Fatalf("of %d, item %d was done %d times", n, i, s)
			}
		}
	}
}
