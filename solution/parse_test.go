package solution

import (
	"strings"
	"testing"
)

func TestParseStrength(t *testing.T) {
	for given, want := range map[string]Strength{
		"0.4 g/L": {0.4, GramL}, "0,4 g/l": {0.4, GramL}, "0.4g/L": {0.4, GramL}, "400 mg/L": {400, MilligramL},
		"1 % w/v": {1, PercentWV}, "1% (w/v)": {1, PercentWV}, "1 %w/v": {1, PercentWV}, "1 g/100 mL": {1, PercentWV},
		"3 g in 100 mL": {3, PercentWV},
		"25 % w/w":      {25, PercentWW}, "25 wt%": {25, PercentWW}, "25 % m/m": {25, PercentWW},
		"70 % v/v": {70, PercentVV}, "70 vol%": {70, PercentVV}, "70 % vol": {70, PercentVV},
		"70 Vol.-%":  {70, PercentVV},
		"0.05 mol/L": {0.05, MolL}, "0.05 M": {0.05, MolL}, "25 mmol/L": {25, MmolL}, "25 mM": {25, MmolL},
		"0,400 g/L": {0.4, GramL}, "1.500 g/L": {1.5, GramL}, "0.4 g per litre": {0.4, GramL},
		"0.4 g L⁻¹": {0.4, GramL},
		" 2 kg/L ":  {2000, GramL}, ".5 g/L": {0.5, GramL},
	} {
		got, err := ParseStrength(given)
		if err != nil || got != want {
			t.Errorf("%q: got %v, %v, want %v", given, got, err, want)
		}
	}
	for given, says := range map[string]string{
		"1 %": "per cent of what", "1 %w": "unknown unit", "0.4": "no unit", "g/L": "does not start with a number",
		"":       "does not start with a number",
		"-1 g/L": "does not start with a number", "0 g/L": "above 0", "1,500 g/L": "1.500 or 1500",
		"1.2.3 g/L": "more than one decimal sign",
		"5 ppm":     "mg/L", "1 m": "per kg", "1 N": "normal", "10 g/kg": "per kg", "200 % v/v": "above 100",
		"1e400 g/L": "unknown unit",
		"99999 g/L": "above 3000", "3 parrots": "unknown unit",
	} {
		got, err := ParseStrength(given)
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: got %v, %v, want a sentence with %q", given, got, err, says)
		}
	}
}

func TestParseParts(t *testing.T) {
	for given, want := range map[string]Parts{
		"1+3": {1, 3}, "1 + 3": {1, 3}, "1 + 3 parts": {1, 3}, "1 part + 3 parts": {1, 3}, "1 and 3": {1, 3},
		"1 in 4": {1, 3}, "one in four": {1, 3},
		"2,5 + 7,5": {2.5, 7.5}, "1 + 0": {1, 0},
	} {
		got, err := ParseWanted(given)
		if err != nil || got.Parts != want {
			t.Errorf("%q: got %v, %v, want %v", given, got, err, want)
		}
	}
	for given, says := range map[string]string{
		"1:3": "one part and three or one part in three", "1/4": "one part and three", "0 + 3": "no dilution",
		"1 + -3":    "not understood",
		"1 + 3 + 4": "not understood", "5 in 4": "no dilution", "+3": "not understood", "1 +": "not understood",
	} {
		got, err := ParseWanted(given)
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: got %v, %v, want a sentence with %q", given, got, err, says)
		}
	}
}

func TestParseVolumeAndMass(t *testing.T) {
	for given, want := range map[string]Millilitres{"400 mL": 400, "1.5 L": 1500, "1,5l": 1500, "1.5 litres": 1500,
		"50 cl": 500, "2 dL": 200} {
		if got, err := ParseVolume(given); err != nil || got != want {
			t.Errorf("%q: got %v, %v, want %v", given, got, err, want)
		}
	}
	for given, want := range map[string]Grams{"4 g": 4, "500 mg": 0.5, "0,5 kg": 500} {
		if got, err := ParseMass(given); err != nil || got != want {
			t.Errorf("%q: got %v, %v, want %v", given, got, err, want)
		}
	}
	for given, says := range map[string]string{"400": "no unit", "mL": "does not start", "0 mL": "above 0",
		"2 pints": "not known", "1,500 mL": "1.500 or 1500", "5000 L": "at most 1000 L", "-4 mL": "does not start"} {
		if got, err := ParseVolume(given); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: got %v, %v, want a sentence with %q", given, got, err, says)
		}
	}
	if _, err := ParseMass("3 mL"); err == nil || !strings.Contains(err.Error(), "mass") {
		t.Errorf("got %v, want a sentence on the mass", err)
	}
}

func TestParseGlassware(t *testing.T) {
	got, err := ParseGlassware("500:5, 100:1:0.5;25")
	if err != nil || len(got) != 3 {
		t.Fatalf("got %v, %v, want three vessels", got, err)
	}
	if got[0].CapacityMl != 500 || got[0].GraduationMl != 5 || got[1].ToleranceMl != 0.5 || got[2].GraduationMl != 25 {
		t.Errorf("got %+v", got)
	}
	for _, bad := range []string{"", "500:", "a:b", "5:500", "0:0", "1:2:3:4", "100:1:80", "NaN:1", "1e999:1"} {
		if g, err := ParseGlassware(bad); err == nil {
			t.Errorf("%q was accepted as %v", bad, g)
		}
	}
}

// What is accepted can be written out and read again as the same.
func FuzzParseWanted(f *testing.F) {
	for _, s := range []string{"0.4 g/L", "1 % w/v", "1+3", "1 + 3 parts", "0,4 g/l", "1 in 4", "70 vol%", "25 mM",
		"1 %", "1:3", "", "½", "1 + 1e9", "9999999999999999999999 g/L", "1 % w / v"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w, err := ParseWanted(s)
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n") && !strings.Contains(s, "\n") {
				t.Fatalf("the message is not one sentence: %q", err)
			}
			return
		}
		if w.Parts.IsZero() == w.Strength.IsZero() {
			t.Fatalf("%q gave %+v: not exactly one of strength and parts", s, w)
		}
		if !w.Parts.IsZero() {
			if err := w.Parts.Check(); err != nil {
				t.Fatal(err)
			}
			return
		}
		if err := w.Strength.Check(); err != nil {
			t.Fatal(err)
		}
		text := w.String()
		if strings.Contains(text, "e") { // exponents are not written by people
			return
		}
		again, err := ParseWanted(text)
		if err != nil || again != w {
			t.Fatalf("%q gave %v, written as %q, read as %v, %v", s, w, text, again, err)
		}
	})
}

func FuzzParseGlassware(f *testing.F) {
	for _, s := range []string{"500:5,100:1", "25", "1:2:3:4", ":", "1e3:1e-3", "Inf:Inf"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		glass, err := ParseGlassware(s)
		if err != nil {
			return
		}
		for _, g := range glass {
			if err := g.Check(); err != nil {
				t.Fatal(err)
			}
		}
		p, err := measure(37, glass)
		if err == nil && (!(p.Volume > 0) || p.fills() > maxFills) {
			t.Fatalf("%q measures 37 mL as %v", s, p)
		}
	})
}
