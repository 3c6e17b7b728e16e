package solution

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func find(t testing.TB, name string) *Substance {
	s, err := Find(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if math.Abs(got-want) > relative*math.Abs(want) {
		t.Errorf("%s: got %.6g, want %.6g within %.2g %%", what, got, want, 100*relative)
	}
}

func TestConversions(t *testing.T) {
	for _, row := range []struct {
		substance string
		from      Strength
		to        Unit
		density   GramsPerMillilitre
		want      float64
		source    string
	}{
		{"calcium hydroxide", Strength{0.0203, MolL}, GramL, 0, 1.504, "Bates, Bower and Smith, J. Res. NBS 56, " +
			"305, 1956: 0.0203 mol/L is 1.504 g/L"},
		{"sodium borohydride", Strength{1, PercentWV}, MolL, 0, 0.2643, "stoichiometry row of " +
			"sodium-borohydride.csv: 1 % w/v is 0.2643 mol/L"},
		{"sodium borohydride", Strength{1, PercentWV}, GramL, 0, 10, "definition: 1 % w/v is 1 g in 100 mL"},
		{"acetic acid", Strength{100, PercentVV}, MolL, 0, 17.47, "glacial acetic acid is about 17.4 mol/L " +
			"(handbooks, memory)"},
		{"ammonia", Strength{25, PercentWW}, MolL, 0.907, 13.3, "25 % ammonia is about 13.3 mol/L (handbooks, memory)"},
		{"ethanol", Strength{50, PercentVV}, PercentWW, 0, 42.43, "OIML R 22, table of % by volume against % by " +
			"mass: 50 % vol is 42.43 % (memory)"},
		{"ethanol", Strength{40, PercentVV}, PercentWW, 0, 33.30, "OIML R 22: 40 % vol is 33.30 % (memory)"},
		{"ethanol", Strength{96, PercentVV}, PercentWW, 0, 93.84, "OIML R 22: 96 % vol is 93.84 % (memory)"},
		{"calcium hydroxide", Strength{400, MilligramL}, MmolL, 0, 5.399, "400 mg/L over 74.093 g/mol"},
	} {
		got, err := row.from.In(row.to, find(t, row.substance), row.density)
		if err != nil {
			t.Errorf("%s of %s: %v", row.from, row.substance, err)
			continue
		}
		near(t, row.from.String()+" of "+row.substance+" ("+row.source+")", got.Value, row.want, 0.002)
	}
}

// Density of ethanol and water at 20 °C, g/mL: International Critical Tables,
// as repeated in Perry's Handbook (basis: memory).
func TestEthanolDensity(t *testing.T) {
	for _, row := range []struct{ percent, want float64 }{
		{0, 0.99823}, {10, 0.98187}, {20, 0.96864}, {30, 0.95382}, {40, 0.93518}, {50, 0.91384},
		{60, 0.89113}, {70, 0.86766}, {80, 0.84344}, {90, 0.81797}, {100, 0.78934},
	} {
		if got := float64(ethanolDensity(row.percent / 100)); math.Abs(got-row.want) > 0.0003 {
			t.Errorf("at %g %% by mass: got %.5f, want %.5f", row.percent, got, row.want)
		}
	}
}

// Proof spirit of the United States: 100 parts by volume at 60 °F hold 50 parts
// of absolute alcohol and 53.71 parts of water, at a specific gravity of 0.93353
// referred to water at its greatest density (act of 1868, quoted in a
// 19th-century handbook that was read).
func TestEthanolWaterShrinksAsProofSpiritDoes(t *testing.T) {
	pure := GramsPerLitre(1000 * float64(find(t, "ethanol").Density))
	c, v := mixEthanol(pure, 50, 53.71)
	near(t, "volume", float64(v), 100, 0.001)
	near(t, "strength", float64(c), float64(pure)/2, 0.001)
}

func TestRefusals(t *testing.T) {
	for _, row := range []struct {
		substance string
		from      Strength
		to        Unit
		says      string
	}{
		{"methyl cellulose", Strength{2, PercentVV}, GramL, "is % w/v meant"},
		{"calcium hydroxide", Strength{2, PercentVV}, GramL, "is % w/v meant"},
		{"methyl cellulose", Strength{2, MolL}, GramL, "no molar mass"},
		{"methyl cellulose", Strength{2, GramL}, MmolL, "no molar mass"},
		{"ammonia", Strength{10, PercentVV}, GramL, "not bought as a pure liquid"},
		{"ammonia", Strength{25, PercentWW}, GramL, "density"},
		{"ammonia", Strength{25, GramL}, PercentWW, "density"},
		{"acetic acid", Strength{101, PercentVV}, GramL, "above 100"},
		{"acetic acid", Strength{0, GramL}, MolL, "above 0"},
		{"acetic acid", Strength{math.NaN(), GramL}, MolL, "above 0"},
		{"acetic acid", Strength{1, "spoons"}, MolL, "not known"},
	} {
		_, err := row.from.In(row.to, find(t, row.substance), 0)
		if err == nil || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%s of %s in %s: got %v, want a sentence with %q", row.from, row.substance, row.to, err, row.says)
		}
	}
	if _, err := (Strength{25, PercentWW}).PerLitre(find(t, "ammonia"), 0); !errors.Is(err, errNeedsDensity) {
		t.Errorf("got %v, want errNeedsDensity", err)
	}
}

// Any strength comes back from any unit as it went.
func TestConversionRoundTrip(t *testing.T) {
	all := Substances()
	rapid.Check(t, func(t *rapid.T) {
		s := all[rapid.IntRange(0, len(all)-1).Draw(t, "substance")]
		from := rapid.SampledFrom(Units()).Draw(t, "from")
		to := rapid.SampledFrom(Units()).Draw(t, "to")
		density := GramsPerMillilitre(rapid.Float64Range(0.7, 1.8).Draw(t, "density"))
		if s.Name == "ethanol" {
			density = 0 // computed
		}
		given := Strength{rapid.Float64Range(1e-4, 20).Draw(t, "value"), from}
		there, err := given.In(to, s, density)
		if err != nil {
			return // refused: another test says when
		}
		back, err := there.In(from, s, density)
		if err != nil {
			t.Fatalf("%s of %s became %s, which does not come back: %v", given, s.Name, there, err)
		}
		if math.Abs(back.Value/given.Value-1) > 1e-9 {
			t.Fatalf("%s of %s became %s and came back as %s", given, s.Name, there, back)
		}
	})
}

func TestConversionIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ethanol, err := Find("ethanol")
		if err != nil {
			t.Fatal(err)
		}
		a := rapid.Float64Range(0.01, 99).Draw(t, "a")
		b := rapid.Float64Range(a+0.01, 99.5).Draw(t, "b")
		from := rapid.SampledFrom([]Unit{PercentVV, PercentWW}).Draw(t, "from")
		x, err := Strength{a, from}.PerLitre(ethanol, 0)
		if err != nil {
			t.Fatal(err)
		}
		y, err := Strength{b, from}.PerLitre(ethanol, 0)
		if err != nil {
			t.Fatal(err)
		}
		if x >= y {
			t.Fatalf("%g gives %g g/L, %g gives %g g/L", a, x, b, y)
		}
	})
}
