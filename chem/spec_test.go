package chem

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
)

// The answer has exactly the parts of design section 6.
func TestAnswerJSON(t *testing.T) {
	a := answer(t, `{"saturate_with":["portlandite"],"may_precipitate":["calcite"],"analysis":`+hardTap+`}`)
	raw, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatal(err)
	}
	want := []string{
		"ph",
		"ph_low",
		"ph_high",
		"ionic_strength",
		"alkalinity_mol_per_kg",
		"totals_mol_per_kg",
		"species_mol_per_kg",
		"precipitated_mol_per_kg",
		"dissolved_mol_per_kg",
		"saturation_index",
		"conductivity_us_cm",
		"conductivity_range_us_cm",
		"conductivity_25_us_cm",
		"conductivity_25_range_us_cm",
		"residual",
		"warnings",
	}
	if len(got) != len(want) {
		t.Errorf("%d parts, want %d", len(got), len(want))
	}
	for _, k := range want {
		if _, ok := got[k]; !ok {
			t.Errorf("no %s", k)
		}
	}
	for _, m := range []struct {
		part, key string
	}{{"totals_mol_per_kg", "Ca"}, {"species_mol_per_kg", "CaOH+"}, {"precipitated_mol_per_kg", "calcite"},
		{"dissolved_mol_per_kg", "portlandite"}, {"saturation_index", "calcite"}, {"saturation_index", "portlandite"}} {
		if v, ok := got[m.part].(map[string]any)[m.key].(float64); !ok || math.IsNaN(v) {
			t.Errorf("no %s.%s", m.part, m.key)
		}
	}
	empty := answer(t, `{}`)
	if raw, _ := json.Marshal(empty); !strings.Contains(string(raw), `"warnings":[]`) ||
		!strings.Contains(string(raw), `"precipitated_mol_per_kg":{}`) {
		t.Errorf("empty parts are not empty: %s", raw)
	}
	// half of pKw, the ionic strength of pure water being nothing
	if math.Abs(empty.PH-7.083) > 0.002 {
		t.Errorf("pure water at 20 deg C has pH %.4f", empty.PH)
	}
}

// Parts without a temperature take that around them; a mixture without one
// takes the mean of its parts.
func TestTemperatures(t *testing.T) {
	for description, want := range map[string]float64{
		`{}`:                    20,
		`{"temperature_c":7.5}`: 7.5,
		`{"mix":[{"parts":1,"water":{"temperature_c":10}},{"parts":3,"water":{"temperature_c":30}}]}`:                    25,
		`{"temperature_c":15,"mix":[{"parts":1,"water":{"temperature_c":10}},{"parts":3,"water":{"temperature_c":30}}]}`: 15,
		`{"temperature_c":33,"mix":[{"parts":1,"water":{}},{"parts":3,"water":{}}]}`:                                     33,
	} {
		s, err := ReadSpec(strings.NewReader(description))
		if err != nil {
			t.Fatal(err)
		}
		o, _, err := s.Make()
		if err != nil || math.Abs(o.TemperatureC()-want) > 1e-6 {
			t.Errorf("%s: %g deg C, want %g (%v)", description, o.TemperatureC(), want, err)
		}
	}
}

// Each fault of a description is told in one sentence that names it.
func TestBadDescriptions(t *testing.T) {
	deep := strings.Repeat(`{"mix":[{"parts":1,"water":`, 12) + `{}` + strings.Repeat(`}]}`, 12)
	for description, want := range map[string]string{
		``:                         "ends too early",
		`{`:                        "ends too early",
		`[]`:                       "object",
		`{"temperature_c":"warm"}`: "temperature_c",
		`{"temprature_c":20}`:      "temprature_c",
		`{} {}`:                    "follows",
		`{"temperature_c":51}`:     "0 to 50",
		`{"temperature_c":-1}`:     "0 to 50",
		`{"solutes":[{"name":"Ca(OH)3","amount":1,"unit":"g/L"}]}`:                                               "Ca(OH)2",
		`{"solutes":[{"name":"Ca(OH)2","amount":-1,"unit":"g/L"}]}`:                                              "-1 g/L",
		`{"solutes":[{"name":"Ca(OH)2","amount":1,"unit":"lb"}]}`:                                                "mmol/L",
		`{"analysis":{"unit":"ppb","Ca":80}}`:                                                                    "mg/L",
		`{"solutes":[{"name":"Ca(OH)2","amount":1}]}`:                                                            "mmol/L",
		`{"solutes":[{"name":"NaCl","amount":3,"unit":"mol/L"}]}`:                                                "ionic strength",
		`{"solutes":[{"name":"NaCl","amount":1e300,"unit":"mol/L"}]}`:                                            "at most",
		`{"saturate_with":["chalk"]}`:                                                                            "calcite",
		`{"may_precipitate":["x"]}`:                                                                              "calcite",
		`{"co2_atm":-1}`:                                                                                         "CO2",
		`{"co2_atm":0}`:                                                                                          "CO2",
		`{"co2_atm":50}`:                                                                                         "CO2",
		`{"mix":[{"parts":0,"water":{}}]}`:                                                                       "parts",
		`{"mix":[{"parts":1,"water":{"temperature_c":70}}]}`:                                                     "mix[0].water",
		`{"mix":[{"parts":1,"water":{}}],"analysis":` + hardTap + `}`:                                            "either analysed or mixed",
		`{"analysis":{"unit":"mg/L","Fe":1}}`:                                                                    "Fe",
		`{"analysis":{"unit":"mg/L","Ca":"much"}}`:                                                               "analysis.Ca",
		`{"analysis":{"unit":"mg/L","Ca":80,"Na":1,"Cl":900,"SO4":1,"HCO3":9,"pH":7}}`:                           "contradicts",
		`{"saturate_with":["aragonite"],"may_precipitate":["calcite"]}`:                                          "aragonite and calcite",
		`{"saturate_with":["portlandite"],"may_precipitate":["calcite"],"co2_atm":4e-4}`:                         "portlandite and calcite",
		`{"saturate_with":["portlandite"],"co2_atm":4e-4}`:                                                       "ionic strength",
		`{"solutes":[{"name":"NaBH4","amount":5,"unit":"g/L"},{"name":"acetic acid","amount":30,"unit":"g/L"}]}`: "hydrogen",
		deep: "deep",
		`{"solutes":[` + strings.Repeat(`{"name":"NaCl","amount":1,"unit":"mg/L"},`, 40000) + `{}]}`: "1 MiB",
	} {
		s, err := ReadSpec(strings.NewReader(description))
		if err == nil {
			_, err = s.Answer()
		}
		label := description[:min(len(description), 80)]
		if err == nil {
			t.Errorf("%s passed", label)
			continue
		}
		if !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") || len(err.Error()) > 400 {
			t.Errorf("%s: %q does not say %q in a sentence", label, err, want)
		}
	}
}

// What the warnings are for.
func TestWarnings(t *testing.T) {
	for description, want := range map[string]string{
		`{"solutes":[{"name":"NaCl","amount":0.6,"unit":"mol/kg"}]}`:                                                      "rough",
		`{"solutes":[{"name":"NaBH4","amount":1,"unit":"g/L"}]}`:                                                          "hydrogen",
		`{"solutes":[{"name":"NaHCO3","amount":0.2,"unit":"mol/kg"}]}`:                                                    "models of activity differ",
		`{"solutes":[{"name":"H3BO3","amount":0.2,"unit":"mol/kg"}]}`:                                                     "polyborate",
		`{"analysis":` + hardTap + `,"solutes":[{"name":"Ca(OH)2","amount":0.4,"unit":"g/L"}]}`:                           "clouds",
		`{"saturate_with":["portlandite"]}`:                                                                               "8 %",
		`{"solutes":[{"name":"oxalic acid","amount":1,"unit":"g/L"}]}`:                                                    "from memory",
		`{"solutes":[{"name":"oxalic acid","amount":1,"unit":"g/L"},{"name":"CaCl2","amount":1,"unit":"g/L"}]}`:           "Calcium oxalate",
		`{"mix":[{"parts":1,"water":{"analysis":` + hardTap + `,"may_precipitate":["calcite"]}},{"parts":1,"water":{}}]}`: "left behind",
	} {
		a := answer(t, description)
		if all := strings.Join(a.Warnings, " "); !strings.Contains(all, want) {
			t.Errorf("%s: %q does not say %q", description, all, want)
		}
	}
	if a := answer(t, `{"solutes":[{"name":"NaCl","amount":0.01,"unit":"mol/kg"}]}`); len(a.Warnings) != 0 {
		t.Errorf("salt water is warned of: %q", a.Warnings)
	}
}

// A description that is read can be written and read again.
func FuzzReadSpec(f *testing.F) {
	for _, r := range []string{`{}`,
		`{"temperature_c":20,"solutes":[{"name":"Ca(OH)2","amount":0.4,"unit":"g/L"}],"co2_atm":0.00042}`,
		`{"analysis":` + hardTap + `,"may_precipitate":["calcite","brucite"]}`,
		`{"mix":[{"parts":1,"water":{"saturate_with":["portlandite"]}},{"parts":3,"water":{"analysis":` + hardTap + `}}]}`,
		`{"analysis":{"hardness":15,"hardness_unit":"°dH","alkalinity":10,"alkalinity_unit":"dH","conductivity_us_per_cm":500}}`} {
		f.Add(r)
	}
	f.Fuzz(func(t *testing.T, raw string) {
		s, err := ReadSpec(strings.NewReader(raw))
		if err != nil {
			return
		}
		a, err := s.Answer()
		if err != nil {
			if strings.Contains(err.Error(), ErrNoConvergence.Error()) {
				t.Errorf("%s: %v", raw, err)
			}
			return
		}
		if !(a.Residual <= Tolerance) || math.IsNaN(a.PH) {
			t.Errorf("%s: pH %g, residual %g", raw, a.PH, a.Residual)
		}
		again, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		u, err := ReadSpec(strings.NewReader(string(again)))
		if err != nil {
			t.Fatalf("%s was written as %s: %v", raw, again, err)
		}
		b, err := u.Answer()
		if err != nil || !reflect.DeepEqual(a, b) {
			t.Errorf("%s was written as %s, which is another water (%v)", raw, again, err)
		}
	})
}

// The range of a bicarbonate water's pH holds what pitzer.dat and sit.dat make of
// it, and minteq.v4.dat within 0.03 (PHREEQC 3.8.9, testdata/bicarbonate-models.csv).
func TestBicarbonateRange(t *testing.T) {
	rows := testTable(t, "bicarbonate-models.csv")
	for _, r := range rows {
		if strings.Contains(r["salt"], "+") {
			continue // a buffer: the standards of ph-standard-buffers.csv are the better check
		}
		o := atRest(t, made(t, number(r["temperature_C"]), r["salt"], number(r["molality"]), MolPerKg), Conditions{})
		got := o.PHRange()
		for db, more := range map[string]float64{"phreeqc.dat": 0.005, "pitzer.dat": 0, "sit.dat": 0, "minteq.v4.dat": 0.03} {
			if want := number(r[db]); want < got.Low-more || want > got.High+more {
				t.Errorf("%s %s: %.3f by %s, outside %.3f to %.3f", r["salt"], r["molality"], want, db, got.Low, got.High)
			}
		}
	}
	if len(rows) != 7 {
		t.Errorf("%d rows", len(rows))
	}
}

// Fresh borohydride reads what the half-life law and the borate that it makes give
// it within a minute, not the 7 of the pure ion; acid with it is refused, a buffer
// and a trace in a weak acid are not.
func TestFreshHydride(t *testing.T) {
	a := answer(t, `{"solutes":[{"name":"NaBH4","amount":5,"unit":"g/L"}]}`)
	course, err := BorohydrideCourse(made(t, 20, "NaBH4", 5, GramPerLitre), []float64{FreshHydrideMinutes})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(a.PH-course[0].PH.Value) > 0.01 || !(a.PHLow < 10.04 && 10.04 < a.PHHigh) {
		t.Errorf("pH %.2f (%.2f to %.2f), the course says %.2f", a.PH, a.PHLow, a.PHHigh, course[0].PH.Value)
	}
	if boron := a.Totals["B"] + a.Totals["BH4"]; math.Abs(boron-a.Totals["Na"]) > 1e-9 {
		t.Errorf("%g of boron, %g of sodium", boron, a.Totals["Na"])
	}
	answer(t, `{"solutes":[{"name":"NaBH4","amount":5,"unit":"g/L"},{"name":"NaHCO3","amount":5,"unit":"g/L"}]}`)
	answer(t, `{"solutes":[{"name":"NaBH4","amount":1,"unit":"mg/L"},{"name":"acetic acid","amount":1,"unit":"mg/L"}]}`)
}
