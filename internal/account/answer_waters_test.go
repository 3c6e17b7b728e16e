package account

import (
	"math"
	"strings"
	"testing"

	"benchleaf/chem"
	"benchleaf/internal/record"
)

// The rinse of a reading is what that much of the substance conducts; its table goes
// up with the reading; a reading below the fresh water is refused at its field.
func TestLeftInRinse(t *testing.T) {
	a, refused := LeftInRinse(RinseQuestion{Left: "NaHCO3", FreshUS: 2, RinseUS: 30})
	if len(refused) != 0 {
		t.Fatal(refused[0].Say)
	}
	// 28 µS/cm over the 92 S cm2/mol of sodium bicarbonate, 84 g/mol (limiting
	// conductivities 50.1 and 44.5, CRC Handbook; 3 % off at this strength)
	if got := a.Answers[0].Figure.Value; math.Abs(got/(28.0/92*84)-1) > 0.02 {
		t.Errorf("%.3g mg/L", got)
	}
	for i := 1; i < len(a.Rows); i++ {
		if a.Rows[i].Left.Figure.Value <= a.Rows[i-1].Left.Figure.Value {
			t.Errorf("row %d: %v", i, a.Rows[i])
		}
	}
	if len(a.Rows) < 8 {
		t.Errorf("%d rows", len(a.Rows))
	}
	if _, refused := LeftInRinse(RinseQuestion{Left: "NaHCO3", FreshUS: 50, RinseUS: 30}); len(refused) != 1 ||
		refused[0].Field != "rinse_us" || !strings.Contains(refused[0].Say, "fresh water") {
		t.Errorf("%v", refused)
	}
	if _, refused := LeftInRinse(RinseQuestion{Left: "gold", FreshUS: 1, RinseUS: 30}); len(refused) != 1 {
		t.Errorf("%v", refused)
	}
}

// Every pair makes its water; what it needs grows with the volume; what cannot be is
// refused.
func TestMatchWater(t *testing.T) {
	for _, p := range MatchPairs() {
		q := MatchQuestion{Pair: p.Value, PH: 7, US: 500, TempC: 20, Litres: 1}
		a, refused := MatchWater(q)
		if len(refused) != 0 {
			t.Errorf("%s: %s", p.Value, refused[0].Say)
			continue
		}
		q.Litres = 3
		b, _ := MatchWater(q)
		if got := b.Answers[0].Figure.Value / a.Answers[0].Figure.Value; math.Abs(got-3) > 1e-9 || len(a.Cautions) == 0 {
			t.Errorf("%s: %g times as much, %d cautions", p.Value, got, len(a.Cautions))
		}
	}
	for _, q := range []MatchQuestion{{Pair: "CO2+Ca(HCO3)2", PH: 10, US: 500, TempC: 20, Litres: 1},
		{Pair: "x", PH: 7, US: 500, TempC: 20, Litres: 1}} {
		if _, refused := MatchWater(q); len(refused) != 1 {
			t.Errorf("%v passed", q)
		}
	}
}

// Chalk under 1 atm of gas at 18 °C gives some 10 mmol/L (handbooks have 1.1 g/L of
// chalk under 1 atm at 16 °C, from memory, not verified); a bottle filled at 2 atm
// is cautioned as one under pressure, one under a tenth is not.
func TestCarbonateWater(t *testing.T) {
	q := CarbonateQuestion{Solid: "calcite", CO2Atm: 1, TempC: 18, WarmC: 30, HeadPct: 10, DepthMM: 150}
	a, refused := CarbonateWater(q)
	if len(refused) != 0 || a.Answers[0].Text != "10\u00a0mmol/L" {
		t.Errorf("%v %v", refused, a.Answers)
	}
	splinters := func(atm float64) bool {
		q.CO2Atm = atm
		a, refused := CarbonateWater(q)
		if len(refused) != 0 {
			t.Fatal(refused[0].Say)
		}
		return strings.Contains(strings.Join(a.Cautions, " "), "splinters")
	}
	if !splinters(2) || splinters(0.1) {
		t.Error("the caution for a bottle under pressure is not where it belongs")
	}
	for _, s := range Suspensions {
		if _, err := chem.ParseSolids([]string{s.Value}); err != nil {
			t.Error(err)
		}
	}
}

// A bath takes no more chalk than a sheet holds, more of it at a lower pH, and as
// much as EDTA there is (1:1); every chelator and every rinsed substance is known.
func TestChelateBath(t *testing.T) {
	q := ChelateQuestion{Chelator: "Na2C10H14N2O8.2H2O", GramL: 10, PH: 8.5, TempC: 20, Litres: 1, SheetG: 5, ChalkPct: 40}
	a, refused := ChelateBath(q)
	if len(refused) != 0 {
		t.Fatal(refused[0].Say)
	}
	// 10 g/L of the dihydrate, 372.24 g/mol, is 26.9 mmol/L
	if got := a.Answers[0].Figure.Value; math.Abs(got/26.9-1) > 0.02 {
		t.Errorf("%.3g mmol/L", got)
	}
	if got := a.Answers[1].Figure.Value; got >= 2.01 || math.Abs(got-min(2, 26.9e-3*100.087)) > 0.05 {
		t.Errorf("%.3g g of chalk", got)
	}
	citrate := func(pH float64) float64 {
		q.Chelator, q.PH = "(NH4)2HC6H5O7", pH
		a, refused := ChelateBath(q)
		if len(refused) != 0 {
			t.Fatal(refused[0].Say)
		}
		return a.Answers[0].Figure.Value
	}
	if acid, neutral := citrate(5), citrate(8); acid < 2*neutral {
		t.Errorf("%.3g mmol/L at pH 5, %.3g at 8", acid, neutral)
	}
	for _, list := range [][]record.Choice{Chelators, Rinsed} {
		for _, c := range list {
			if _, err := chem.ParseSolute(c.Value); err != nil {
				t.Error(err)
			}
		}
	}
}
