package paper

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"benchleaf/interval"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if math.Abs(got-want) > relative*math.Abs(want) {
		t.Errorf("%s: got %.6g, want %.6g within %.2g %%", what, got, want, 100*relative)
	}
}

// lime is a liquid of calcium hydroxide at gPerL.
func lime(gPerL float64) Liquid {
	return Liquid{Name: "lime water", AlkaliMmolPerL: interval.Exactly(gPerL / 74.093 * 2 * 1000), Base: Calcium}
}

func exactSheet(grams, pickUp, acid float64) Sheet {
	return Sheet{
		Class:         Newsprint,
		MassG:         at(grams),
		MoistureGPerG: at(0),
		PickUpGPerG:   at(pickUp),
		AcidMmolPerKg: at(acid),
	}
}

func at(v float64) *interval.Range { r := interval.Exactly(v); return &r }

func run(t testing.TB, s Sheet, o Options, baths ...Bath) Outcome {
	t.Helper()
	out, err := Run(s, baths, o)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func testRows(t *testing.T, name string) []map[string]string {
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, line := range lines[1:] {
		one := map[string]string{}
		for i, c := range lines[0] {
			one[c] = line[i]
		}
		rows = append(rows, one)
	}
	return rows
}

// ISO 9706 asks for an alkali reserve of 0.4 mol of acid per kg, which its
// comparison of standards gives as 20 g CaCO3 per kg; the table's row for the
// conversion has 50.04 g of CaCO3 per mol of acid.
func TestReserveArithmeticOfTheStandards(t *testing.T) {
	near(t, "0.4 mol/kg as % CaCO3", percentChalk(0.4), 2, 0.002)
	near(t, "2 % CaCO3 in mol/kg", molPerKg(2), 0.4, 0.002)
	for _, r := range testRows(t, "alkaline-reserve-standards.csv") {
		if r["quantity"] == "CaCO3 per mol acid" {
			g, err := strconv.ParseFloat(r["value"], 64)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "1 mol of acid per kg", percentChalk(1)*10, g, 0.001)
			return
		}
	}
	t.Error("the table has no row for the conversion")
}

// Carry-over after n equal rinses, every row of the worked table.
func TestRinseDilution(t *testing.T) {
	rows := testRows(t, "rinse-dilution-worked.csv")
	if len(rows) != 25 {
		t.Fatalf("%d rows in the table, want 25", len(rows))
	}
	for _, r := range rows {
		ratio, _ := strconv.ParseFloat(r["bath_to_retained_volume"], 64)
		n, _ := strconv.Atoi(r["rinses"])
		want, _ := strconv.ParseFloat(r["remaining_fraction"], 64)
		all, err := Rinses(1, Millilitres(ratio), n, 1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, r["bath_to_retained_volume"]+" x "+r["rinses"], all[0].Left[0], want, 5e-5)
	}
}

// A chain of pure rinses through Run is the closed form, to rounding.
func TestRinsesInAChainAreTheClosedForm(t *testing.T) {
	s := exactSheet(4, 2, 0)
	hydride := Bath{
		Name:     "hydride",
		Liquid:   Liquid{AlkaliMmolPerL: interval.Exactly(264), Base: Sodium, SodiumMmolPerL: 264, BoronMmolPerL: 264},
		VolumeMl: interval.Exactly(400),
	}
	rinse := Bath{Name: "rinse", Liquid: Liquid{}, VolumeMl: interval.Exactly(400)}
	first := run(t, s, Options{Samples: 20}, hydride)
	baths := []Bath{hydride}
	for n := 1; n <= 4; n++ {
		baths = append(baths, rinse)
		out := run(t, s, Options{Samples: 20}, baths...)
		want := math.Pow(8.0/408, float64(n))
		near(t, "boron after rinses", out.BoronMmolPerKg.Best, first.BoronMmolPerKg.Best*want, 1e-9)
		near(t, "sodium after rinses", out.SodiumMmolPerKg.Best, first.SodiumMmolPerKg.Best*want, 1e-9)
	}
	// 264 mmol/L at 2 g/g is 528 mmol/kg before any rinse.
	near(t, "boron held", first.BoronMmolPerKg.Best, 528, 1e-6)
}

// The sums of section 10 of the project's notes on practice (computed there):
// eight sheets 340 x 260 mm of 50 g/m2 and a cover of 90 g/m2, 43 g in all.
func TestPracticeSums(t *testing.T) {
	const mass = 43.0
	// 2. Acid demand 0.1 mol/kg: 4.3 mmol, 0.16 g of Ca(OH)2, 107 mL of saturated
	// lime water (at about 1.5 g/L).
	tray := Bath{Liquid: lime(1.5), VolumeMl: interval.Exactly(107)}
	out := run(t, exactSheet(mass, 1e-1, 100), Options{Samples: 20}, tray)
	near(t, "acid neutralised, mmol", out.AcidNeutralisedMmolPerKg.Best*mass/1000, 4.3, 0.01)
	near(t, "lime used, g", out.AcidNeutralisedMmolPerKg.Best*mass/1000/2*74.093/1000, 0.16, 0.01)
	if share := out.Steps[0].AcidShare.Best; share < 0.98 {
		t.Errorf("the acid used %.3f of 107 mL of saturated lime water, want nearly all", share)
	}
	// 3. Water merely at pH 9 holds 0.01 mmol/L: 2 L neutralise 0.02 mmol, 1/200
	// of the demand.
	ph9 := Bath{Liquid: Liquid{AlkaliMmolPerL: interval.Exactly(0.01), Base: Calcium}, VolumeMl: interval.Exactly(2000)}
	out = run(t, exactSheet(mass, 1.5, 100), Options{Samples: 20}, ph9)
	near(t, "acid neutralised by water at pH 9, mmol", out.AcidNeutralisedMmolPerKg.Best*mass/1000, 0.02, 0.001)
	near(t, "share of the demand", out.AcidNeutralisedMmolPerKg.Best/100, 1.0/200, 0.08)
	if !says(out.Conclusions, NoCapacity) {
		t.Errorf("conclusions on water at pH 9: got %+v", out.Conclusions)
	}
	if !says(out.Conclusions, AcidLeft) {
		t.Errorf("conclusions: got %+v", out.Conclusions)
	}
	// 4. Reserve left: saturated lime at 1.5 to 2 g/g 0.30 to 0.41 % CaCO3; 0.05
	// mol/L magnesium bicarbonate 0.75 to 1.0 % as CaCO3. No acid in the sum.
	for _, row := range []struct {
		liquid       Liquid
		pickUp, want float64
	}{
		{lime(1.504), 1.5, 0.30}, {lime(1.504), 2, 0.41},
		{Liquid{AlkaliMmolPerL: interval.Exactly(100), Base: Magnesium}, 1.5, 0.75},
		{Liquid{AlkaliMmolPerL: interval.Exactly(100), Base: Magnesium}, 2, 1.0},
	} {
		out := run(
			t,
			exactSheet(4, row.pickUp, 0),
			Options{Samples: 20},
			Bath{Liquid: row.liquid, VolumeMl: interval.Exactly(1000)},
		)
		near(t, "reserve", out.ReservePercentChalk.Best, row.want, 0.02)
	}
	// 9. 65 mL in 2 L cuts to 1/32 each time, to 1/1000 after two.
	for n, want := range map[int]float64{1: 1.0 / 32, 2: 1.0 / 1000} {
		all, err := Rinses(65, 2000, n, 1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "share left", all[0].Left[0], want, 0.012*float64(n))
	}
}

// A sheet keeps only what its pores hold: one pass through 0.4 g/L lime at 2
// g/g leaves about 0.1 % CaCO3, whatever the tray held (0.4/74.09 x 2 x 100.09).
func TestAPassLeavesWhatThePoresHold(t *testing.T) {
	for _, tray := range []float64{400, 4000, 40_000} {
		out := run(
			t,
			exactSheet(4, 2, 0),
			Options{Samples: 20},
			Bath{Liquid: lime(0.4), VolumeMl: interval.Exactly(tray)},
		)
		near(t, "reserve", out.ReservePercentChalk.Best, 0.108, 0.01)
		if !strings.Contains(out.Limit, "only what its pores hold") {
			t.Errorf("limit: got %q", out.Limit)
		}
	}
}

// The common case: one sheet of newsprint in 400 mL of 0.4 g/L lime.
func TestOneSheetOfNewsprint(t *testing.T) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262, GrammageGsm: &interval.Range{Low: 48, Best: 50, High: 52}}
	l := lime(0.4)
	l.AlkaliMmolPerL = l.AlkaliMmolPerL.Scale(1)
	l.AlkaliMmolPerL.Low, l.AlkaliMmolPerL.High = l.AlkaliMmolPerL.Best*0.93, l.AlkaliMmolPerL.Best*1.05
	out := run(t, s, Options{Seed: 1},
		Bath{Name: "lime", Liquid: l, VolumeMl: interval.Within(400, 10), Minutes: new(Minutes(20))})
	// By hand: 0.08908 m2 x 50 = 4.454 g, less 8 % moisture 4.124 g dry, holds 2.2
	// times that, 9.07 mL; demand 4.124 g x 0.1 mmol/g = 0.412 mmol of the tray's
	// 4.319 mmol; left 3.907 mmol in 400 mL, of which the sheet keeps 9.07/400:
	// 0.0886 mmol in 4.124 g is 21.5 mmol/kg, 0.1075 % CaCO3.
	near(t, "dry mass", out.DryMassG.Best, 4.124, 0.001)
	near(t, "held", out.HeldMl.Best, 9.073, 0.001)
	near(t, "reserve", out.ReservePercentChalk.Best, 0.1075, 0.002)
	near(t, "spent", out.Steps[0].SpentShare.Best, (0.4124+0.0886)/4.319, 0.002)
	near(t, "of it to acid", out.Steps[0].AcidShare.Best, 0.4124/4.319, 0.002)
	if out.AcidLeftMmolPerKg.Best != 0 {
		t.Errorf("acid left: got %g", out.AcidLeftMmolPerKg.Best)
	}
	if out.Dominant == "" || out.ReservePercentChalk.Dominant() != "the pick-up" {
		t.Errorf("dominant: got %q", out.Dominant)
	}
	if len(out.Assumed) != 4 { // moisture, pick-up, soluble and fixed acid
		t.Errorf("assumed: got %q", out.Assumed)
	}
	if out.Steps[0].SheetsToHalf < 4 || out.Steps[0].SheetsToHalf > 6 {
		t.Errorf(
			"sheets to half: got %d, want about 5 (half of 4.3 mmol at 0.41 and a little more each)",
			out.Steps[0].SheetsToHalf,
		)
	}
	if !says(out.Conclusions, LigninInLight) {
		t.Errorf("conclusions: got %+v", out.Conclusions)
	}
}

// A stronger bath never leaves less reserve nor more acid.
func TestReserveGrowsWithStrength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := exactSheet(
			rapid.Float64Range(1, 50).Draw(t, "g"),
			rapid.Float64Range(0.5, 3).Draw(t, "pick-up"),
			rapid.Float64Range(0, 200).Draw(t, "acid"),
		)
		volume := interval.Exactly(rapid.Float64Range(50, 3000).Draw(t, "volume"))
		a := rapid.Float64Range(0, 1.5).Draw(t, "a")
		b := a + rapid.Float64Range(0, 0.5).Draw(t, "b")
		weak, err := Run(s, []Bath{{Liquid: lime(a), VolumeMl: volume}}, Options{Samples: 20})
		if err != nil {
			t.Fatal(err)
		}
		strong, err := Run(s, []Bath{{Liquid: lime(b), VolumeMl: volume}}, Options{Samples: 20})
		if err != nil {
			t.Fatal(err)
		}
		if strong.ReserveMolPerKg.Best < weak.ReserveMolPerKg.Best-1e-12 ||
			strong.AcidLeftMmolPerKg.Best > weak.AcidLeftMmolPerKg.Best+1e-9 {
			t.Fatalf(
				"%g g/L leaves %g mol/kg and %g acid, %g g/L %g and %g",
				a,
				weak.ReserveMolPerKg.Best,
				weak.AcidLeftMmolPerKg.Best,
				b,
				strong.ReserveMolPerKg.Best,
				strong.AcidLeftMmolPerKg.Best,
			)
		}
	})
}

func TestBlottingTakesAlkaliAlong(t *testing.T) {
	s := exactSheet(4, 2, 0)
	s.PickUpGPerG = nil
	bath := Bath{Liquid: lime(0.4), VolumeMl: interval.Exactly(1000)}
	drained := run(t, s, Options{}, bath)
	blotted := run(t, s, Options{EndsAs: Blotted}, bath)
	// The classes' middles: 2.2 and 1.1 g/g.
	near(t, "blotted against drained", blotted.ReservePercentChalk.Best/drained.ReservePercentChalk.Best, 0.5, 1e-9)
}

// Without acid, and with wet sheets, each sheet leaves V/(V+L) of the alkali:
// the rinse formula, seen from the bath.
func TestSheetsToHalfIsTheRinseFormulaWithoutAcid(t *testing.T) {
	entry, carry := exactSheet(4, 2, 0).complete(Drained).untreated()
	entry.heldMl = carry
	want := int(math.Ceil(math.Log(0.5) / math.Log(400.0/408)))
	if n := entry.until(lime(0.4).AlkaliMmolPerL.Best, 400, carry, 0.5); n != want {
		t.Errorf("got %d sheets, want %d", n, want)
	}
	if n := entry.until(0, 400, carry, 0.5); n != 0 {
		t.Errorf("pure water: got %d, want 0", n)
	}
}

func TestRefusals(t *testing.T) {
	good := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}
	bath := Bath{Liquid: lime(0.4), VolumeMl: interval.Exactly(400)}
	ph := 20.0
	for says, f := range map[string]func() (Sheet, Bath, Options){
		"the class": func() (Sheet, Bath, Options) {
			s := good
			s.Class = "cardboard"
			return s, bath,
				Options{}
		},
		"between 5 mm and 2.5 m": func() (Sheet, Bath, Options) {
			s := good
			s.WidthMm = 3000
			return s, bath,
				Options{}
		},
		"the grammage must lie": func() (Sheet, Bath, Options) {
			s := good
			s.GrammageGsm = at(-1)
			return s, bath, Options{}
		},
		"the pick-up must lie": func() (Sheet, Bath, Options) {
			s := good
			s.PickUpGPerG = at(20)
			return s, bath, Options{}
		},
		"the acid is not a number": func() (Sheet, Bath,
			Options) {
			s := good
			s.AcidMmolPerKg = at(math.NaN())
			return s, bath, Options{}
		},
		"not both": func() (Sheet, Bath, Options) {
			s := good
			s.AcidMmolPerKg, s.FixedAcidMmolPerKg = at(1), at(1)
			return s, bath, Options{}
		},
		"extraction pH": func() (Sheet, Bath, Options) {
			s := good
			s.ColdExtractPH = &ph
			return s, bath,
				Options{}
		},
		"the volume of lime water": func() (Sheet, Bath,
			Options) {
			b := bath
			b.VolumeMl = interval.Exactly(0)
			return good, b, Options{}
		},
		"the alkali of lime water": func() (Sheet, Bath, Options) {
			b := bath
			b.Liquid.AlkaliMmolPerL = interval.Exactly(-1)
			return good, b, Options{}
		},
		"the base \"iron\"": func() (Sheet, Bath, Options) {
			b := bath
			b.Liquid.Base = "iron"
			return good, b,
				Options{}
		},
		"sheets together": func() (Sheet, Bath, Options) { b := bath; b.Together = -3; return good, b, Options{} },
		"the time in": func() (Sheet, Bath, Options) {
			b := bath
			b.Minutes = new(Minutes(-3))
			return good, b,
				Options{}
		},
		"the boron of": func() (Sheet, Bath, Options) {
			b := bath
			b.Liquid.BoronMmolPerL = math.Inf(1)
			return good, b, Options{}
		},
		"drained or blotted": func() (Sheet, Bath, Options) { return good, bath, Options{EndsAs: "soggy"} },
		"number of samples":  func() (Sheet, Bath, Options) { return good, bath, Options{Samples: 7} },
		"low end must not be above": func() (Sheet, Bath, Options) {
			s := good
			s.MassG = &interval.Range{Low: 5, Best: 4, High: 6}
			return s, bath, Options{}
		},
	} {
		s, b, o := f()
		if _, err := Run(s, []Bath{b}, o); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("got %v, want a sentence with %q", err, says)
		}
	}
	if _, err := Run(good, nil, Options{}); err == nil {
		t.Error("no bath was accepted")
	}
	if _, err := Run(good, make([]Bath, 100), Options{}); err == nil {
		t.Error("100 baths were accepted")
	}
	for _, bad := range []struct{ held, bath Millilitres }{{0, 1}, {1, 0}, {-1, 1}} {
		if _, err := Rinses(bad.held, bad.bath, 1, 1); err == nil {
			t.Error("a rinse that cannot be was accepted")
		}
	}
}

// The classes' pick-ups are those of the table, and every class is complete.
func TestClasses(t *testing.T) {
	for _, c := range Classes() {
		for _, q := range []string{qGrammage, qThickness, qDrained, qBlotted, qSoluble, qFixed, qMoisture} {
			v, ok := TypicalOf(Class(c.Class), q)
			if !ok || v.Check(c.Class+" "+q) != nil || v.Basis == "" || v.Source == "" || v.Low == v.High {
				t.Errorf("%s, %s: got %+v, %v", c.Class, q, v, ok)
			}
		}
	}
	v, _ := TypicalOf(Newsprint, qDrained)
	if v.Low != 1.8 || v.High != 2.6 {
		t.Errorf("newsprint, drained: got %v, want 1.8 to 2.6 as in the table", v.Range)
	}
	soluble, _ := TypicalOf(Newsprint, qSoluble)
	fixed, _ := TypicalOf(Newsprint, qFixed)
	if sum := soluble.Best + fixed.Best; math.Abs(sum-100) > 1 {
		t.Errorf("acid demand of newsprint: got %g mmol/kg, want 100 (0.05 to 0.15 mol/kg, common practice)", sum)
	}
}

// says reports whether a remark of a code is among some.
func says(list []Remark, code Code) bool {
	return slices.ContainsFunc(list, func(r Remark) bool { return r.Code == code && r.Text != "" })
}
