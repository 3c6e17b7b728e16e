package paper

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"benchleaf/chem"
	"benchleaf/interval"

	"pgregory.net/rapid"
)

// solute is a liquid of so many mmol/L of what chem knows.
func solute(t testing.TB, name string, mmolPerL float64) Liquid {
	t.Helper()
	s, err := chem.ParseSolute(name)
	if err != nil {
		t.Fatal(err)
	}
	return Dissolved(name, s, interval.Exactly(mmolPerL))
}

func inColumn(t *testing.T, r map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Baths with drying between them: after each, the reserve lies between what a full
// equilibrium of the carbonate with every new bath would leave (PHREEQC 3.8.9, inputs
// in the table) and all that the pores ever took in. Lime and calcium bicarbonate keep
// nearly all; of magnesium the rate decides, so it lies inside.
func TestCyclesGainWhatTheyCan(t *testing.T) {
	var last string
	var steps []StepOutcome
	for _, r := range testRows(t, "reserve-cycles-phreeqc.csv") {
		strength, n := inColumn(t, r, "mmol_per_l"), int(inColumn(t, r, "baths"))
		if key := r["solute"] + r["mmol_per_l"]; key != last {
			last = key
			steps = cycles(t, r["solute"], strength)
		}
		got := molPerKg(steps[n-1].ReservePercentChalk.Best)
		least, most := inColumn(t, r, "least_mol_per_kg"), inColumn(t, r, "most_mol_per_kg")
		if got < 0.985*least || got > 1.001*most {
			t.Errorf("%s of %g mmol/L, bath %d: %.5f mol/kg, want %.5f to %.5f", r["solute"], strength, n, got, least,
				most)
		}
		if r["solute"] == "Mg(HCO3)2" && n > 1 && (got < 1.1*least || got > 0.99*most) {
			t.Errorf("bath %d of magnesium: %.5f mol/kg, want well inside %.5f to %.5f", n, got, least, most)
		}
	}
}

// docs/paper.md shows what the cycles give, with the bounds of the table.
func TestTheDocumentShowsTheCycles(t *testing.T) {
	doc, err := os.ReadFile("../docs/paper.md")
	if err != nil {
		t.Fatal(err)
	}
	cells := map[int]string{}
	steps := map[string][]StepOutcome{}
	for _, r := range testRows(t, "reserve-cycles-phreeqc.csv") {
		strength, n := inColumn(t, r, "mmol_per_l"), int(inColumn(t, r, "baths"))
		if strength == 2 || !slices.Contains([]int{1, 2, 3, 6, 12}, n) {
			continue
		}
		key := r["solute"]
		if steps[key] == nil {
			steps[key] = cycles(t, key, strength)
		}
		cells[n] += fmt.Sprintf(" %.2f | %.2f, %.2f |", steps[key][n-1].ReservePercentChalk.Best,
			percentChalk(inColumn(t, r, "least_mol_per_kg")), percentChalk(inColumn(t, r, "most_mol_per_kg")))
	}
	for n, row := range cells {
		if line := fmt.Sprintf("| %d |%s", n, row); !strings.Contains(string(doc), line) {
			t.Errorf("docs/paper.md does not show %s", line)
		}
	}
}

// cycles are twelve baths of 1 L with drying between them, for one sheet without acid.
func cycles(t *testing.T, name string, strength float64) []StepOutcome {
	b := Bath{Liquid: solute(t, name, strength), VolumeMl: interval.Exactly(1000), Minutes: new(Minutes(20)),
		Motion: Rocked}
	baths := []Bath{b}
	for len(baths) < 12 {
		b.DriedBefore = true
		baths = append(baths, b)
	}
	out, err := RunBest(exactSheet(4, 2, 0), baths, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return out.Steps
}

// What dissolves of a bath, by PHREEQC 3.8.9 with the constants of docs/chem.md at
// 20 C (portlandite 21.80 mmol/kg, pH 12.654; brucite 0.1328, 10.563; calcite, closed,
// 0.1238, 10.048), and as much calcium bicarbonate as 1 atm of carbon dioxide holds
// (9.76 mmol/kg: Ca 0.391 g/kg in the table of solubilities, model A).
func TestNoMoreDissolvesThanCan(t *testing.T) {
	for _, row := range []struct {
		name            string
		asked, most, pH float64
	}{
		{"Ca(OH)2", 675, 21.80, 12.654}, {"Ca(OH)2", 40.5, 21.80, 12.654}, {"Mg(OH)2", 17.1, 0.1328, 10.563},
		{"CaCO3", 10, 0.1238, 10.048}, {"Ca(HCO3)2", 100, 9.76, 0}, {"Mg(HCO3)2", 300, 60, 0},
		{"MgCO3.3H2O", 100, 9.11, 10.81},
	} {
		b := Bath{Liquid: solute(t, row.name, row.asked), VolumeMl: interval.Exactly(1000)}
		out := run(t, exactSheet(4, 2, 0), Options{Samples: 20}, b)
		per := AlkaliOf(*b.Liquid.Solute)
		near(t, row.name+" dissolved", out.Steps[0].TrayMmol.Best/per, row.most, 0.012)
		if row.pH > 0 && math.Abs(out.Steps[0].BathPHBefore.Best-row.pH) > 0.01 {
			t.Errorf("%s: pH %.3f, want %.3f", row.name, out.Steps[0].BathPHBefore.Best, row.pH)
		}
		if !says(out.Warnings, OnTheFloor) {
			t.Errorf("%s: nothing is said of what lies on the floor", row.name)
		}
		if r := out.ReserveMolPerKg.Best; r > 2.01*per*row.most/1000 {
			t.Errorf("%s: a reserve of %g mol/kg of 2 mL/g", row.name, r)
		}
	}
}

// A reserve in the sheet neutralises its acid first: 0.2 mol/kg against 0.1 mol/kg in
// water leave no acid, at most 0.1 mol/kg, and a wet sheet that is alkaline as its
// extract is. Less reserve than acid leaves the difference.
func TestTheReserveNeutralisesFirst(t *testing.T) {
	s := exactSheet(4, 2, 100)
	s.ReserveMolPerKg = at(0.2)
	wash := Bath{Name: "wash", VolumeMl: interval.Exactly(1000), Minutes: new(Minutes(20)), Motion: Rocked}
	out := run(t, s, Options{Samples: 20}, wash)
	if left := out.AcidLeftMmolPerKg.High; left > 0 {
		t.Errorf("acid left: %g", left)
	}
	if r := out.ReserveMolPerKg; r.Best > 0.1 || r.Best < 0.02 {
		t.Errorf("reserve: %v mol/kg, want at most 0.1 and not nothing", r.Range)
	}
	if pH := out.Steps[0].SheetPH.Best; pH < 7.5 || pH > 10.1 {
		t.Errorf("pH of a wet sheet with chalk: %g", pH)
	}
	near(t, "neutralised", out.AcidNeutralisedMmolPerKg.Best, 100, 1e-6)
	s.ReserveMolPerKg = at(0.04)
	out = run(t, s, Options{Samples: 20}, wash)
	near(t, "acid left beside 0.04 mol/kg", out.AcidLeftMmolPerKg.Best, 60, 0.02)
	if out.ReserveMolPerKg.Best > 0 {
		t.Errorf("a reserve of %g beside acid", out.ReserveMolPerKg.Best)
	}
}

// A litre of water takes no more chalk out of a sheet than it can hold: covered 0.1238
// mmol, open to a room at 8e-4 atm 0.752 mmol (PHREEQC 3.8.9, table).
func TestAWashTakesNoMoreChalkThanItHolds(t *testing.T) {
	s := exactSheet(4, 2, 0)
	s.ReserveMolPerKg = at(0.8) // 1.6 mmol of chalk
	for _, r := range testRows(t, "chalk-open-phreeqc.csv") {
		b := Bath{VolumeMl: interval.Exactly(1000), Minutes: new(Minutes(3000)), Motion: Rocked}
		switch inColumn(t, r, "co2_atm") {
		case 0:
		case 8e-4:
			b.DepthMm = new(Millimetres(10))
		default:
			continue
		}
		out, err := RunBest(s, []Bath{b}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		gone := (0.8 - out.ReserveMolPerKg.Best) * 0.004 * 1000 / 2 // mmol of chalk
		holds := inColumn(t, r, "calcium_mmol_per_kg")
		if gone > 1.02*holds || gone < 0.8*holds {
			t.Errorf("%s atm: %.4f mmol of chalk went into a litre in two days, want %.4f", r["co2_atm"], gone, holds)
		}
	}
}

// An open tray of lime ends where water over chalk is level with the room, and its
// range holds the room's carbon dioxide and the factor of two of the uptake.
func TestAnOpenTrayGoesToTheEnd(t *testing.T) {
	b := Bath{Liquid: lime(1), VolumeMl: interval.Exactly(1000), Minutes: new(Minutes(3000)), Motion: Rocked,
		DepthMm: new(Millimetres(10))}
	end := run(t, exactSheet(4, 2, 0), Options{Samples: 40}, b).Steps[0].BathPH
	for _, r := range testRows(t, "chalk-open-phreeqc.csv") {
		want := inColumn(t, r, "ph")
		switch inColumn(t, r, "co2_atm") {
		case 8e-4:
			if math.Abs(end.Best-want) > 0.03 {
				t.Errorf("pH at the end: %.3f, want %.3f", end.Best, want)
			}
		case 4.2e-4:
			if end.High < want-0.02 {
				t.Errorf("the range %v ends below that of outdoor air, %.3f", end.Range, want)
			}
		}
	}
	b.Minutes = new(Minutes(60))
	hour := run(t, exactSheet(4, 2, 0), Options{Samples: 100}, b).Steps[0].AlkaliAfterMmolPerL
	// Half and twice the uptake of an hour.
	lost := 27 - hour.Best
	if hour.High < 27-0.75*lost || hour.Low > 27-1.3*lost {
		t.Errorf("alkali after an hour: %v, want the factor of two in it", hour.Range)
	}
}

// The lever that is named gains the most when each is raised by a quarter, the whole
// sequence done again; and the sentence agrees with the tray.
func TestTheLimitIsTheLeverThatGainsMost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 10).Draw(t, "together")
		s := exactSheet(4, rapid.Float64Range(1, 3).Draw(t, "pick-up"), rapid.Float64Range(0, 150).Draw(t, "acid"))
		b := Bath{
			Liquid: lime(rapid.Float64Range(0.02, 1.6).Draw(t, "lime")), Together: n,
			Stack:    rapid.IntRange(1, n).Draw(t, "stack"),
			VolumeMl: interval.Exactly(float64(n) * rapid.Float64Range(30, 600).Draw(t, "volume")),
			Minutes:  new(Minutes(rapid.Float64Range(0.3, 40).Draw(t, "minutes"))),
			Motion:   rapid.SampledFrom([]Motion{Rocked, Still}).Draw(t, "motion"),
		}
		if rapid.Bool().Draw(t, "open") {
			b.DepthMm = new(Millimetres(rapid.Float64Range(4, 40).Draw(t, "depth")))
		}
		baths := []Bath{b}
		if rapid.Bool().Draw(t, "twice") {
			b.DriedBefore = rapid.Bool().Draw(t, "dried")
			baths = append(baths, b)
		}
		out := limited(t, s, baths)
		net := func(change func(s *Sheet, b *Bath)) float64 {
			s, list := s, append([]Bath(nil), baths...)
			change(&s, &list[len(list)-1])
			x, err := RunBest(s, list, Options{})
			if err != nil {
				t.Fatal(err)
			}
			return 1000*x.ReserveMolPerKg.Best - x.AcidLeftMmolPerKg.Best
		}
		base := net(func(*Sheet, *Bath) {})
		gains := map[Lever]float64{
			Time:   net(func(_ *Sheet, b *Bath) { b.Minutes = new(*b.Minutes * 1.25) }) - base,
			Volume: net(func(_ *Sheet, b *Bath) { b.VolumeMl = b.VolumeMl.Scale(1.25) }) - base,
			Strength: net(func(_ *Sheet, b *Bath) {
				b.Liquid.AlkaliMmolPerL = b.Liquid.AlkaliMmolPerL.Scale(1.25)
			}) - base,
			PickUp: net(func(s *Sheet, _ *Bath) { s.PickUpGPerG = at(s.PickUpGPerG.Best * 1.25) }) - base,
		}
		list := named(out.Levers)
		if len(list) == 0 {
			for l, g := range gains {
				if g > leastGain*1.05+1e-6 {
					t.Fatalf("nothing is named, and %s gains %g", l, g)
				}
			}
			return
		}
		least := math.Inf(1)
		for _, l := range list {
			if g, ok := gains[l]; ok { // exchange has no number that a caller could raise
				least = min(least, g)
			}
		}
		for l, g := range gains {
			if g > least+0.03*math.Abs(g)+1e-6 && !math.IsInf(least, 1) {
				t.Fatalf("%v is named (%g), and %s gains %g: %s", list, least, l, g, out.Limit)
			}
		}
		used := strings.Contains(out.Limit, "uses up all")
		if left := out.Steps[len(baths)-1].AlkaliAfterMmolPerL.Best; used && left > 0.02*b.Liquid.AlkaliMmolPerL.Best {
			t.Fatalf("%q, and %g mmol/L are left", out.Limit, left)
		}
	})
}

// limited is the outcome at the best values with what limits it, without sampling.
func limited(t *rapid.T, s Sheet, baths []Bath) Outcome {
	out, err := RunBest(s, baths, Options{})
	if err != nil {
		t.Fatal(err)
	}
	k := s.complete(Drained)
	c, err := newCourse(k, baths)
	if err != nil {
		t.Fatal(err)
	}
	if out.Levers, err = c.levers(k.best(baths, Options{})); err != nil {
		t.Fatal(err)
	}
	out.Limit = out.limit(baths[len(baths)-1])
	return out
}

// A pile of eight, still, for two minutes in 4 L of lime of 1 g/L: acid is left and so
// is nearly all the alkali.
func TestALimitThatIsNotTheTray(t *testing.T) {
	b := Bath{Liquid: lime(1), VolumeMl: interval.Exactly(4000), Minutes: new(Minutes(2)), Motion: Still, Together: 8,
		Stack: 8}
	out := run(t, exactSheet(4, 2, 100), Options{Samples: 20}, b)
	if strings.Contains(out.Limit, "uses up all") || !strings.Contains(out.Limit, "has not reached the acid yet") {
		t.Errorf("got %q with %g mmol/L left", out.Limit, out.Steps[0].AlkaliAfterMmolPerL.Best)
	}
}

// Pure lime leaves no soluble alkali of sodium.
func TestLimeLeavesNoSoda(t *testing.T) {
	out := run(t, Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}, Options{Samples: 20},
		Bath{Liquid: lime(1), VolumeMl: interval.Exactly(400), Minutes: new(Minutes(20))})
	if v := out.SodaAlkaliMmolPerKg; v.High > 0 {
		t.Errorf("soluble alkali left of pure lime: %v mmol/kg", v.Range)
	}
}

// More sheets than the bath has liquid for: one sentence, in plain numbers.
func TestSheetsThatDrinkTheBath(t *testing.T) {
	_, err := Run(exactSheet(4, 2, 100), []Bath{{Name: "lime", Liquid: lime(1), VolumeMl: interval.Exactly(1),
		Together: 1000}}, Options{})
	if err == nil || strings.Contains(err.Error(), "\n") ||
		!strings.Contains(err.Error(), "lime has 1 mL, and the 1000 sheets in it") {
		t.Errorf("got %v", err)
	}
}

// Acid that meets borohydride: each mmol sets 4 mmol of hydrogen free, 24.05 mL each at
// 20 C (sodium-borohydride.csv). A sheet of 50 g/m2 oven-dry with 100 mmol/kg holds 0.05
// mmol in 100 cm2: 4.81 mL. A sheet that is no longer acid gives none.
func TestHydrogenInAnAcidSheet(t *testing.T) {
	s := Sheet{Class: Newsprint, WidthMm: 200, HeightMm: 200, MassG: at(2), MoistureGPerG: at(0), PickUpGPerG: at(2),
		AcidMmolPerKg: at(100)}
	hydride := Bath{Name: "hydride", Liquid: solute(t, "NaBH4", 26.4), VolumeMl: interval.Exactly(400),
		Minutes: new(Minutes(15)), Motion: Rocked}
	out := run(t, s, Options{Samples: 40}, hydride)
	near(t, "hydrogen", out.Steps[0].HydrogenMlPer100Cm2.Best, 0.05*4*24.055, 0.005)
	if !says(out.Warnings, AcidInHydride) {
		t.Errorf("nothing is said of blisters: %v", out.Warnings)
	}
	limed := Bath{Name: "lime", Liquid: lime(1), VolumeMl: interval.Exactly(400), Minutes: new(Minutes(20)),
		Motion: Rocked}
	out = run(t, s, Options{Samples: 40}, limed, hydride)
	if out.Steps[1].HydrogenMlPer100Cm2.High > 0 || says(out.Warnings, AcidInHydride) {
		t.Errorf("hydrogen of a limed sheet: %v", out.Steps[1].HydrogenMlPer100Cm2.Range)
	}
}

// What is left of a bath of borohydride that stood is what chem's course of it says.
func TestAnOldHydrideBath(t *testing.T) {
	w, err := chem.Pure(20)
	if err != nil {
		t.Fatal(err)
	}
	l := solute(t, "NaBH4", 26.4)
	if w, err = w.Dissolve(chem.Measure{Solute: *l.Solute, Amount: 26.4, Unit: chem.MillimolPerLitre}); err != nil {
		t.Fatal(err)
	}
	for _, minutes := range []float64{30, 120, 600} {
		points, err := chem.BorohydrideCourse(w, []float64{0, minutes})
		if err != nil {
			t.Fatal(err)
		}
		want := points[1].NaBH4GramPerL.Value / points[0].NaBH4GramPerL.Value
		out := run(t, exactSheet(4, 2, 0), Options{Samples: 60}, Bath{Name: "hydride", Liquid: l,
			VolumeMl: interval.Exactly(400), Minutes: new(Minutes(1)), StoodMinutes: new(Minutes(minutes))})
		got := out.Steps[0].HydrideAtStart
		// The bath is taken at the pH that it has in the end, which spares a little of it.
		if math.Abs(got.Best-want) > 0.03 || got.Low > got.Best-0.01 {
			t.Errorf("after %g min %.3f (%v) is left, want %.3f", minutes, got.Best, got.Range, want)
		}
	}
}

// Citrate takes at most one calcium each, and no more than there is: 10 mmol/L in 400
// mL are 4 mmol for a sheet that holds 0.4 mmol as 0.2 mol/kg of reserve in 4 g.
func TestCitrateTakesCalcium(t *testing.T) {
	s := exactSheet(4, 2, 0)
	s.ReserveMolPerKg = at(0.2)
	out := run(t, s, Options{Samples: 20}, Bath{Name: "citrate", Liquid: solute(t, "Na3C6H5O7", 10),
		VolumeMl: interval.Exactly(400), Minutes: new(Minutes(20))})
	near(t, "calcium in the sheet", out.Steps[0].CalciumMmol.Best, 0.4, 1e-9)
	for _, w := range out.Warnings {
		if w.Code == TakesCalcium {
			if !strings.Contains(w.Text, "at most 0.40 mmol of the 0.40 mmol") {
				t.Errorf("got %q", w.Text)
			}
			return
		}
	}
	t.Error("nothing is said of the calcium")
}

// Pick-up on both bases: 2 g per g oven-dry, where the sheet came with 0.08 g and weighed
// 1.08 g, gains 1.92 of 1.08 on the balance.
func TestPickUpHasItsBasis(t *testing.T) {
	s := exactSheet(4.32, 2, 0)
	s.MoistureGPerG = at(0.08)
	out := run(t, s, Options{Samples: 20}, Bath{Liquid: lime(0.4), VolumeMl: interval.Exactly(400)})
	near(t, "oven-dry", out.PickUpGPerG.Best, 2, 1e-9)
	near(t, "on the balance", out.OnTheBalanceGPerG.Best, 1.92/1.08, 1e-9)
}
