package solution

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Published values that the recipe's curve was not made from, or that its range
// must hold: the table's rows name the sources. The electrometric value is read
// in the abstract of Bates, Bower and Smith, J. Res. NBS 56, 305 (1956):
// 0.0203 mol/L at 25 °C.
func TestLimeSolubilityHoldsThePublishedValues(t *testing.T) {
	points := LimePoints()
	if len(points) < 18 {
		t.Fatalf("only %d published solubilities were found, want at least 18", len(points))
	}
	for _, p := range points {
		r, err := LimeSolubility(p.Temp)
		if err != nil {
			t.Fatal(err)
		}
		// A tenth of a per cent for the way from g/100 g to g/L.
		if float64(p.PerLitre) < r.Low*0.999 || float64(p.PerLitre) > r.High*1.001 {
			t.Errorf("%s at %g °C: %.3f g/L lies outside %.3f to %.3f", p.Source, p.Temp, p.PerLitre, r.Low, r.High)
		}
	}
}

// Bassett as repeated in Seidell, row by row, against the file's own numbers.
func TestLimeSolubilityFollowsItsSeries(t *testing.T) {
	for _, row := range []struct{ temp, per100g float64 }{{0, 0.185}, {10, 0.176}, {20, 0.165}, {30, 0.153},
		{40, 0.141}, {50, 0.128}} {
		r, err := LimeSolubility(Celsius(row.temp))
		if err != nil {
			t.Fatal(err)
		}
		want := row.per100g * 10 * float64(waterDensity(Celsius(row.temp)))
		if math.Abs(r.Best/want-1) > 0.001 {
			t.Errorf("at %g °C: got %.4f g/L, want %.4f within 0.1 %%", row.temp, r.Best, want)
		}
	}
}

// Common practice, no source: lime water at room temperature holds about 1.6 g/L.
func TestLimeSolubilityIsAboutWhatBenchesSay(t *testing.T) {
	for temp := Celsius(18); temp <= 25; temp++ {
		r, err := LimeSolubility(temp)
		if err != nil {
			t.Fatal(err)
		}
		if !r.Holds(1.6) {
			t.Errorf("at %g °C the range %.3f to %.3f does not hold 1.6 g/L", temp, r.Low, r.High)
		}
	}
}

func TestLimeIsWeakerWhenWarmer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0, 49.9).Draw(t, "a")
		b := rapid.Float64Range(a+0.01, 50).Draw(t, "b")
		ra, err := LimeSolubility(Celsius(a))
		if err != nil {
			t.Fatal(err)
		}
		rb, err := LimeSolubility(Celsius(b))
		if err != nil {
			t.Fatal(err)
		}
		if ra.Best <= rb.Best || ra.Check("") != nil || ra.Low == ra.Best {
			t.Fatalf("%g °C gives %v, %g °C gives %v", a, ra, b, rb)
		}
	})
}

func TestLimeSolubilityRefusesOtherTemperatures(t *testing.T) {
	for _, temp := range []Celsius{-0.1, 50.1, Celsius(math.NaN()), Celsius(math.Inf(1))} {
		if _, err := LimeSolubility(temp); err == nil {
			t.Errorf("%g °C was accepted", temp)
		}
	}
}

// Kell's own table, as kept in testdata with its source.
func TestWaterDensity(t *testing.T) {
	n := 0
	for _, r := range testTable(t, "water-properties.csv") {
		if r["quantity"] != "density" {
			continue
		}
		n++
		got, want := float64(waterDensity(Celsius(r.number("temperature_C"))))*1000, r.number("value")
		if math.Abs(got-want) > 0.002 {
			t.Errorf("at %s °C: got %.3f kg/m3, want %.3f", r["temperature_C"], got, want)
		}
	}
	if n < 11 {
		t.Errorf("only %d densities in the table", n)
	}
}
