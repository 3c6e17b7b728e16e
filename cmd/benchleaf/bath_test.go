package main

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"benchleaf/paper"
)

// The worked example of docs/bath.md, against the sum by hand that stands
// there, and the document against the file.
func TestBathExample(t *testing.T) {
	file, err := os.ReadFile("testdata/bath.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := os.ReadFile("../../docs/bath.md")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(doc), string(file)) {
		t.Error("docs/bath.md does not show testdata/bath.json as it is")
	}
	status, out, errs := do(t, string(file), "bath", "-", "--json")
	if status != 0 {
		t.Fatalf("status %d, %q", status, errs)
	}
	var got paper.Outcome
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		what      string
		got, want float64
	}{
		{"dry mass, g", got.DryMassG.Best, 4.124},
		{"held, mL", got.HeldMl.Best, 8.25},
		{"tray, mmol", got.Steps[0].TrayMmol.Best, 4.319},
		{"to acid", got.Steps[0].AcidShare.Best, 0.412 / 4.319},
		{"reserve, mmol/kg", got.ReserveMolPerKg.Best * 1000, 19.5},
		{"reserve, % CaCO3", got.ReservePercentChalk.Best, 0.098},
	} {
		if math.Abs(row.got/row.want-1) > 0.004 {
			t.Errorf("%s: got %.4g, want %.4g", row.what, row.got, row.want)
		}
	}
	if got.Steps[0].SheetsToHalf != 5 {
		t.Errorf("sheets to half: got %d, want 5", got.Steps[0].SheetsToHalf)
	}
	status, prose, _ := do(t, "", "bath", "testdata/bath.json")
	for _, s := range []string{"Alkaline reserve, once dry: 0.098 % CaCO₃ (0.085 to 0.111)", "only what its pores hold", "11 %", "12.1 to 12.1"} {
		if status != 0 || !strings.Contains(prose, s) {
			t.Errorf("the prose does not say %q:\n%s", s, prose)
		}
	}
	if !strings.Contains(string(doc), "Alkaline reserve, once dry: 0.098 % CaCO₃ (0.085 to 0.111)") {
		t.Error("docs/bath.md does not give what the command gives")
	}
}

// The whole treatment of docs/bath.md, in prose and JSON. The strongest lime water
// holds about 1.6 to 1.7 g/L (Bassett 1934) and gives at most 0.41 to 0.45 % (notes on
// practice, section 10, 4, at 2 and 2.2 g/g): 2 % is not to be had.
func TestBathWhole(t *testing.T) {
	file, err := os.ReadFile("testdata/bath-whole.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := os.ReadFile("../../docs/bath.md")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(doc), string(file)) {
		t.Error("docs/bath.md does not show testdata/bath-whole.json as it is")
	}
	status, prose, errs := do(t, "", "bath", "testdata/bath-whole.json")
	if status != 0 {
		t.Fatalf("status %d, %q", status, errs)
	}
	_, says, _ := strings.Cut(string(doc), "It says, among the rest:\n")
	for _, line := range strings.Split(strings.TrimSpace(says), "\n") {
		if line = strings.TrimSpace(line); !strings.Contains(prose, line) {
			t.Errorf("the prose does not say %q:\n%s", line, prose)
		}
	}
	status, out, errs := do(t, string(file), "bath", "-", "--json")
	if status != 0 {
		t.Fatalf("status %d, %q", status, errs)
	}
	var got bathAnswer
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if got.Reach.Reached || got.Reach.Best.Best < 0.40 || got.Reach.Best.Best > 0.47 || len(got.Reach.Instead) < 4 {
		t.Errorf("reach: got %+v", got.Reach.Best)
	}
	if len(got.Steps) != 2 || len(got.Steps[1].Course) != 7 || got.Serve.Sheets != 4 || !got.Readings.Agree ||
		len(got.Drying.Course) == 0 ||
		len(got.Ageing.Domain) < 4 {
		t.Errorf("got %d steps, %d served, readings %v", len(got.Steps), got.Serve.Sheets, got.Readings.Agree)
	}
	for _, row := range []struct{ from, to, says string }{
		{`"step": 2, "lever"`, `"step": 5, "lever"`, "reach: there is no bath 5"},
		{`"sheets": 32`, `"sheets": 0`, "serve: the number of sheets"},
		{`"trays": 3`, `"trays": 99`, "rinses: 1 to 20 trays"},
		{`"what": "bath_ph"`, `"what": "smell"`, "is not read here"},
		{`"thickness_mm": 0.7`, `"thickness_mm": 0`, "drying: the absorbents"},
		{`"years": 100`, `"years": -1`, "ageing: the course"},
	} {
		status, _, errs := do(t, strings.Replace(string(file), row.from, row.to, 1), "bath", "-")
		if status != 1 || !strings.Contains(errs, row.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: status %d, %q", row.to, status, errs)
		}
	}
}

// Sodium and boron of a borohydride bath: 1 % w/v is 264.3 mmol/L (the
// stoichiometry row of the borohydride table); at 2 g/g the sheet leaves with
// 529 mmol/kg of each.
func TestBathKnowsWhatASubstanceBrings(t *testing.T) {
	const in = `{"sheet": {"class": "newsprint", "mass_g": 4, "moisture_g_per_g": 0, "pick_up_g_per_g": 2, "acid_mmol_per_kg": 0},
		"steps": [{"substance": "%s", "strength": "%s", "volume_ml": 1000}]}`
	for _, row := range []struct {
		substance, strength    string
		sodium, boron, reserve float64 // mmol/kg
	}{
		{"NaBH4", "1 % w/v", 529, 529, 0},
		{"borax", "0.01 mol/L", 40, 80, 0},
		{"trisodium citrate dihydrate", "0.01 mol/L", 60, 0, 0},
		{"Mg(HCO3)2", "0.05 mol/L", 0, 0, 200},
		{"ammonia", "0.05 mol/L", 0, 0, 0},
	} {
		text := strings.Replace(strings.Replace(in, "%s", row.substance, 1), "%s", row.strength, 1)
		status, out, errs := do(t, text, "bath", "-", "--json")
		if status != 0 {
			t.Errorf("%s: status %d, %q", row.substance, status, errs)
			continue
		}
		var got paper.Outcome
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(err)
		}
		for _, x := range []struct {
			what      string
			got, want float64
		}{{"sodium", got.SodiumMmolPerKg.Best, row.sodium}, {"boron", got.BoronMmolPerKg.Best, row.boron}, {"reserve", got.ReserveMolPerKg.Best * 1000, row.reserve}} {
			if math.Abs(x.got-x.want) > 0.002*x.want+1e-9 {
				t.Errorf("%s, %s: got %.4g mmol/kg, want %.4g", row.substance, x.what, x.got, x.want)
			}
		}
	}
}

func TestBathRefuses(t *testing.T) {
	sheet := `"sheet": {"class": "newsprint", "width_mm": 340, "height_mm": 262}`
	for _, row := range []struct{ in, says string }{
		{``, "not the JSON"},
		{`{`, "not the JSON"},
		{`[1]`, "not the JSON"},
		{`{` + sheet + `}`, "no bath"},
		{`{` + sheet + `, "steps": [{"volume_ml": 0}]}`, "the volume of water"},
		{`{` + sheet + `, "steps": [{"volume_ml": 400, "deep": 3}]}`, `unknown field "deep"`},
		{`{` + sheet + `, "steps": [{"volume_ml": [400, 300, 200]}]}`, "low end must not be above"},
		{`{` + sheet + `, "steps": [{"volume_ml": [400, 300]}]}`, "three numbers"},
		{`{` + sheet + `, "steps": [{"volume_ml": 400, "substance": "soap", "strength": "1 g/L"}]}`, "step 1: the substance \"soap\""},
		{`{` + sheet + `, "steps": [{"volume_ml": 400, "substance": "Ca(OH)2", "strength": "strong"}]}`, "step 1: the strength"},
		{`{` + sheet + `, "steps": [{"volume_ml": 400, "substance": "acetic acid", "strength": "1 % w/v"}]}`, "is an acid"},
		{`{` + sheet + `, "steps": [{"volume_ml": 400, "substance": "Ca(OH)2", "strength": "1 g/L", "strength_within_percent": 200}]}`, "between 0 and 90 %"},
		{`{` + sheet + `, "steps": [{"volume_ml": 400, "strength": "1 g/L"}]}`, "needs a substance"},
		{`{"sheet": {"class": "newsprint", "width_mm": 4000, "height_mm": 262}, "steps": [{"volume_ml": 400}]}`, "between 5 mm and 2.5 m"},
		{`{` + sheet + `, "steps": [{"volume_ml": 400}]} more`, "after the end"},
		{`{"sheet": "` + strings.Repeat("x", maxBathFile) + `"}`, "larger than 1 MB"},
	} {
		status, out, errs := do(t, row.in, "bath", "-")
		if status != 1 || out != "" || !strings.Contains(errs, row.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf(
				"%.80s: status %d, %q, %.200q, want 1 and one sentence with %q",
				row.in,
				status,
				out,
				errs,
				row.says,
			)
		}
	}
	if status, _, errs := do(t, "", "bath", "no-such-file.json"); status != 1 ||
		!strings.Contains(errs, "cannot be read") {
		t.Errorf("a missing file: %d, %q", status, errs)
	}
	if status, _, _ := do(t, "", "bath"); status != 2 {
		t.Errorf("no file named: status %d, want 2", status)
	}
}

// Any file is answered or refused with a sentence, never with a panic; what is
// answered is finite and in order.
func FuzzBathFile(f *testing.F) {
	example, err := os.ReadFile("testdata/bath.json")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(example))
	f.Add(`{"sheet": {"class": "rag", "mass_g": 1e-300}, "steps": [{"volume_ml": 1e300, "together": 1000}]}`)
	f.Add(
		`{"sheet": {"class": "newsprint", "width_mm": 300, "height_mm": 200, "pick_up_g_per_g": null}, "steps": [{"volume_ml": 5, "alkalinity_mmol_per_l": [0, 0, 1]}]}`,
	)
	f.Fuzz(func(t *testing.T, in string) {
		file, err := readBathFile(strings.NewReader(in))
		if err != nil {
			return
		}
		file.Options.Samples = 20
		var baths []paper.Bath
		for _, s := range file.Steps {
			b, err := s.bath()
			if err != nil {
				return
			}
			baths = append(baths, b)
		}
		out, err := paper.Run(file.Sheet, baths, file.Options)
		if err != nil {
			return
		}
		for what, r := range map[string]interface{ Check(string) error }{
			"dry": out.DryMassG, "held": out.HeldMl, "reserve": out.ReserveMolPerKg, "acid": out.AcidLeftMmolPerKg, "boron": out.BoronMmolPerKg,
		} {
			if err := r.Check(what); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// Other ways to wash, a humidity chamber and what was not measured, by command as on
// screen: the figures themselves are checked in package paper.
func TestBathOtherWaysAndHumidity(t *testing.T) {
	const in = `{"sheet": {"class": "newsprint", "width_mm": 340, "height_mm": 262}, "options": {"samples": 50},
		"steps": [{"substance": "Ca(OH)2", "strength": "0.4 g/L", "volume_ml": 1000, "minutes": 20}],
		"washing": [{"way": "blotter", "minutes": 10, "changes": 2, "blotter_g_m2": 350, "temp_c": 20},
			{"way": "suction", "minutes": 1, "water_ml": 40, "suction_kpa": 15, "temp_c": 20}],
		"humidity": {"damper": "KCl", "temperature_c": 20, "room_percent": 50, "gap_mm": 100, "sheets": 1},
		"drying": {"temperature_c": 20, "humidity_percent": 50, "speed_m_s": 0.1},
		"ageing": {"ph_before": 5, "temperature_c": 20, "humidity_percent": 50, "dp": 600, "years": 100, "age_years": 60}}`
	status, prose, errs := do(t, in, "bath", "-")
	if status != 0 {
		t.Fatalf("status %d, %q", status, errs)
	}
	for _, want := range []string{
		"Washed on wet blotters:", "Washed on a suction table:", "Left of what dissolves:", "the chamber comes to 85 %",
		"Taken, not measured:", "from memory, not verified", "Its reserve lasts, at least:", "not for groundwood",
	} {
		if !strings.Contains(prose, want) {
			t.Errorf("the prose does not say %q:\n%s", want, prose)
		}
	}
	if strings.Contains(prose, "times slower") {
		t.Error("groundwood has an amount of ageing")
	}
	for from, says := range map[string]string{`"KCl"`: "humidity: no humidity is known", `"blotter",`: "washing: a sheet is washed"} {
		status, _, errs := do(t, strings.Replace(in, from, strings.Replace(from, from[1:4], "xyz", 1), 1), "bath", "-")
		if status != 1 || !strings.Contains(errs, says) {
			t.Errorf("%s changed: status %d, %q", from, status, errs)
		}
	}
}
