package treatment

import (
	"math"
	"slices"
	"testing"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
	"benchleaf/solution"
)

// lies puts a sheet into a bath, without an end: until it is level.
func lies(sheet int, bath record.Bath) record.Body {
	s := run("lime", 60, 70, sheet)[0].(record.RunStarted)
	bath.ID = s.Bath.ID
	s.Bath, s.PlannedMin = &bath, 0
	return s
}

// A sheet keeps what its pores hold. By hand: 0.4 g/L calcium hydroxide is
// 5.4 mmol/L; at 1.5 to 2 mL/g a kg of paper holds 8.1 to 10.8 mmol, which
// dry to 0.081 to 0.108 % CaCO3 if no acid takes any (mass balance, reference
// table of practice, section 10, sum 4, scaled from the saturated solution).
func TestExpectOneLimeBathOnNeutralPaper(t *testing.T) {
	bodies := ready()
	for i, b := range bodies {
		if s, ok := b.(record.Stock); ok && s.Name == "interior" {
			s.AcidMmolKg, s.PickUpGG = &record.Range{
				Low:  0,
				Best: 0,
				High: 0,
			}, &record.Range{
				Low:  1.5,
				Best: 1.75,
				High: 2,
			}
			bodies[i] = s
		}
	}
	c := fold(t, append(bodies, lies(1, record.Bath{
		Liquid:     "lime water",
		Substance:  "calcium hydroxide",
		StrengthGL: &record.Range{Low: 0.4, Best: 0.4, High: 0.4},
		VolumeMl:   1500,
	}))...)
	out, ok, err := Expect(t.Context(), c, 1)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	r := out.ReservePercentChalk
	if r.Best < 0.081 || r.Best > 0.108 {
		t.Errorf("reserve %v %% CaCO3, want 0.081 to 0.108", r)
	}
	if out.Limit == "" {
		t.Error("no sentence on what limits it")
	}
}

func TestExpectSaysNothingWhereNothingIsKnown(t *testing.T) {
	c := fold(t, append(ready(), lies(1, record.Bath{Liquid: "water", VolumeMl: 1000}))...)
	if _, ok, _ := Expect(t.Context(), c, 1); ok {
		t.Error("a bath of plain water is said to leave a reserve")
	}
	if _, ok, _ := Expect(t.Context(), &record.Case{}, 1); ok {
		t.Error("a sheet without a paper is said to hold something")
	}
}

// A bath of the record holds what dissolves of it, and says what lies on its floor: of
// 3 g/L of lime 1.6 (PHREEQC 3.8.9: 21.8 mmol/L at 20 °C), which leaves at most 0.44 %
// at 2 mL/g. Citrate is computed, dithionite is not taken for water.
func TestARecordedBathHoldsWhatDissolves(t *testing.T) {
	bath := record.Bath{Liquid: "lime water", Substance: "calcium hydroxide", VolumeMl: 1500,
		StrengthGL: &record.Range{Low: 3, Best: 3, High: 3}}
	c := fold(t, append(ready(), lies(1, bath))...)
	out, ok, err := Expect(t.Context(), c, 1)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	if held := out.Steps[0].TrayMmol.Best / 1.5 / 2; math.Abs(held-21.8) > 0.3 {
		t.Errorf("%g mmol/L dissolve of 3 g/L of lime, want 21.8", held)
	}
	if !slices.ContainsFunc(out.Warnings, func(r paper.Remark) bool { return r.Code == paper.OnTheFloor }) {
		t.Errorf("nothing is said of the floor: %v", out.Warnings)
	}
	for substance, want := range map[string]bool{"trisodium citrate": true, "sodium dithionite": false, "water": true} {
		b := &record.Bath{Liquid: substance, Substance: substance, VolumeMl: 1000, StrengthGL: bath.StrengthGL}
		if _, _, computable := paperBath(b, 1); computable != want {
			t.Errorf("%s: computable %v, want %v", substance, computable, want)
		}
	}
}

// What the composition of a substance gives agrees with the columns of the table of
// substances, for all whose alkali it knows.
func TestSubstancesAreWhatTheirColumnsSay(t *testing.T) {
	n := 0
	for _, sub := range solution.Substances() {
		if sub.AlkaliEqPerMol <= 0 || sub.State == solution.Solution || sub.Base == "" {
			continue
		}
		n++
		l, err := Solution(sub, sub.Name, interval.Exactly(1))
		if err != nil {
			t.Errorf("%s: %v", sub.Name, err)
			continue
		}
		if math.Abs(l.AlkaliMmolPerL.Best-sub.AlkaliEqPerMol) > 1e-9 || string(l.Base) != string(sub.Base) ||
			string(l.Anion) != string(sub.Anion) {
			t.Errorf("%s: %g of %s %s, the table has %g of %s %s", sub.Name, l.AlkaliMmolPerL.Best, l.Base, l.Anion,
				sub.AlkaliEqPerMol, sub.Base, sub.Anion)
		}
	}
	if n < 15 {
		t.Errorf("only %d substances were compared", n)
	}
}
