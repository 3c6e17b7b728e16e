package main

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"benchleaf/paper"
)

// One bath has one pH: the bath command fills a tray with what the water command
// dissolves. Beside it, where one is published or follows from pK alone, the value:
// peroxide of pK 11.65 at 25 °C (CRC Handbook), -log10 of the root of K c; ammonium
// bicarbonate near (pK 6.35 + 9.25)/2; borate of metaborate by its own pK 9.24.
func TestBathAndWaterSayOnePH(t *testing.T) {
	for _, row := range []struct {
		name   string
		mmol   float64
		at     float64 // °C
		pH     float64
		within float64
	}{
		{"Ca(OH)2", 10, 20, 0, 0}, {"Mg(HCO3)2", 20, 20, 0, 0}, {"Ca(HCO3)2", 5, 20, 0, 0}, {"NaHCO3", 10, 20, 0, 0},
		{"Na2CO3", 10, 20, 0, 0}, {"borax", 10, 25, 9.18, 0.02}, // NBS standard buffer, 0.01 mol/kg
		{"hydrogen peroxide", 500, 25, 5.98, 0.05}, {"CaCl2", 10, 25, 7.0, 0.05}, {"NaOCl", 10, 25, 9.74, 0.1},
		{"trisodium citrate", 20, 20, 0, 0}, {"triammonium citrate", 20, 20, 0, 0}, {"Na2HPO4", 20, 25, 9.2, 0.2},
		{"ammonium bicarbonate", 20, 25, 7.8, 0.1}, {"NaBO2", 20, 20, 10.8, 0.1}, {"ammonia", 10, 20, 0, 0},
		{"K2CO3", 10, 20, 0, 0}, {"KHCO3", 10, 20, 0, 0},
	} {
		strength := strconv.FormatFloat(row.mmol, 'g', -1, 64)
		temp := strconv.FormatFloat(row.at, 'g', -1, 64)
		status, out, errs := do(t, `{"sheet": {"class": "rag", "width_mm": 100, "height_mm": 100}, "steps": [{"substance": "`+
			row.name+`", "strength": "`+strength+` mmol/L", "volume_ml": 1000, "temperature_c": `+temp+`}],
			"options": {"samples": 20}}`, "bath", "-", "--json")
		if status != 0 {
			t.Fatalf("%s: %q", row.name, errs)
		}
		var bath paper.Outcome
		if err := json.Unmarshal([]byte(out), &bath); err != nil {
			t.Fatal(err)
		}
		name := row.name
		if name == "borax" {
			name = "Na2B4O7.10H2O"
		}
		status, out, errs = do(t, `{"temperature_c": `+temp+`, "solutes": [{"name": "`+name+`", "amount": `+strength+
			`, "unit": "mmol/L"}]}`, "water", "-", "--json")
		if status != 0 {
			t.Fatalf("%s: %q", row.name, errs)
		}
		var water struct{ PH float64 }
		if err := json.Unmarshal([]byte(out), &water); err != nil {
			t.Fatal(err)
		}
		got := bath.Steps[0].BathPHBefore.Best
		if math.Abs(got-water.PH) > 0.015 {
			t.Errorf("%s: bath says pH %.3f, water %.3f", row.name, got, water.PH)
		}
		if row.pH > 0 && math.Abs(got-row.pH) > row.within {
			t.Errorf("%s: pH %.3f, want %.2f", row.name, got, row.pH)
		}
	}
}

// What is not known is refused as acids are, and never taken for water; metaborate
// gives no hydrogen, potassium borohydride does and leaves potassium.
func TestBathKnowsOrRefuses(t *testing.T) {
	file := func(substance, strength string) string {
		return `{"sheet": {"class": "rag", "width_mm": 100, "height_mm": 100}, "steps": [{"substance": "` + substance +
			`", "strength": "` + strength + `", "volume_ml": 1000, "minutes": 10}], "options": {"samples": 20}}`
	}
	for substance, says := range map[string]string{
		"sodium dithionite": "is not computed here", "iodine": "is not known here", "acetic acid": "is an acid",
		"diammonium hydrogen citrate": "is an acid", "ethanol": "the constants of water no longer hold",
	} {
		status, _, errs := do(t, file(substance, "400 g/L"), "bath", "-")
		if status != 1 || !strings.Contains(errs, says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: status %d, %q", substance, status, errs)
		}
	}
	for _, row := range []struct{ substance, says, not string }{
		{"NaBO2", "Sodium left", "hydrogen"}, {"KBH4", "Potassium left", "Sodium left"},
		{"basic magnesium carbonate", "lies on the tray's floor", ""}, {"ethanol", "neither acid nor base", ""},
	} {
		status, prose, errs := do(t, file(row.substance, "5 g/L"), "bath", "-")
		if status != 0 || !strings.Contains(prose, row.says) || row.not != "" && strings.Contains(prose, row.not) {
			t.Errorf("%s: status %d, %q, no %q:\n%s", row.substance, status, errs, row.says, prose)
		}
	}
}
