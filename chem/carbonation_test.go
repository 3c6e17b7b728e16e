package chem

import (
	"errors"
	"math"
	"testing"
)

// Strength of chalk and nesquehonite under carbon dioxide within 0.5 %, and the
// pressure of a bottle that warms within 0.5 %, of PHREEQC 3.8.9
// (testdata/carbonation-phreeqc.csv).
func TestCarbonatePHREEQC(t *testing.T) {
	rows := testTable(t, "carbonation-phreeqc.csv")
	for _, r := range rows {
		switch r["kind"] {
		case "suspension":
			solid, err := ParseSolids([]string{r["solid"]})
			if err != nil {
				t.Fatal(err)
			}
			o, err := Carbonate(Water{temperatureC: number(r["temperature_C"])}, solid, number(r["co2_atm"]))
			if err != nil {
				t.Fatal(err)
			}
			got, want := o.Total(Ca)+o.Total(Mg), number(r["Ca_or_Mg_mol_per_kg"])
			if math.Abs(got/want-1) > 0.005 || math.Abs(o.PH()-number(r["pH"])) > 0.01 {
				t.Errorf("%v: %.5g mol/kg, pH %.3f", r, got, o.PH())
			}
		case "bottle":
			o, err := Carbonate(Water{temperatureC: 20}, Calcite, 1)
			if err != nil {
				t.Fatal(err)
			}
			gas, liquid := number(r["gas_litres"]), o.Water().LitresPerKg()
			got, err := Bottle{HeadShare: gas / (gas + liquid)}.Warmed(&o, number(r["temperature_C"]))
			if want := number(r["pressure_atm"]); err != nil || math.Abs(got/want-1) > 0.005 {
				t.Errorf("%v: %.4f atm, %v", r, got, err)
			}
		}
	}
	if len(rows) != 21 {
		t.Errorf("%d rows", len(rows))
	}
}

// What stands open comes to chalk's 8.2 in air (Plummer, Wigley and Parkhurst, Am.
// J. Sci. 278, 179, 1978, as every handbook has it) whatever it held; colder holds
// more; the time by the gas falls with its transfer; a bottle that stays as it is
// keeps its pressure.
func TestCarbonationCourse(t *testing.T) {
	strong, err := Carbonate(Water{temperatureC: 20}, Calcite, 1)
	if err != nil {
		t.Fatal(err)
	}
	rest, err := Stand(&strong, 4.2e-4)
	if err != nil || math.Abs(rest.PH()-8.22) > 0.03 || math.Abs(rest.Fallen(Calcite)+rest.Total(Ca)-strong.Total(Ca)) > 1e-5 {
		t.Errorf("pH %.2f, %g fell, %g left of %g: %v", rest.PH(), rest.Fallen(Calcite), rest.Total(Ca), strong.Total(Ca), err)
	}
	m := strong.CarbonationMinutes()
	if !(m.Low < m.Value && m.Value < m.High) || math.Abs(m.High/m.Low-GasTransfer.High/GasTransfer.Low) > 1e-6 {
		t.Errorf("%v min", m)
	}
	if p, err := (Bottle{HeadShare: 0.1, AirAtm: 0.5}).Warmed(&strong, 20); err != nil || math.Abs(p-1.5) > 0.002 {
		t.Errorf("%.3f atm: %v", p, err)
	}
	if _, err := (Bottle{HeadShare: 0}).Warmed(&strong, 30); !errors.Is(err, ErrAmount) {
		t.Errorf("a bottle without gas: %v", err)
	}
	if h := DegassingHours(100); !(h.Low < 1 && h.High > 5) {
		t.Errorf("%v h", h)
	}
	if _, err := Carbonate(Water{temperatureC: 20}, Gypsum, 1); err == nil {
		t.Error("gypsum dissolved in carbon dioxide")
	}
}

// A matched water has the pH and the conductivity asked for, its range the same
// share on either side; what cannot be is said.
func TestMatch(t *testing.T) {
	solute := func(name string) Solute {
		s, err := ParseSolute(name)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	acetic, ammonia, co2, bicarbonate := solute("acetic acid"), solute("NH3"), solute("CO2"), solute("Ca(HCO3)2")
	pure := Water{temperatureC: 20}
	for _, x := range []struct {
		acid, alkali Solute
		pH, microS   float64
	}{{acetic, ammonia, 6, 1000}, {acetic, ammonia, 8.5, 1000}, {acetic, ammonia, 5, 5000}, {acetic, ammonia, 4, 100},
		{co2, bicarbonate, 7, 500}, {co2, bicarbonate, 6.5, 300}} {
		m, err := Match(pure, x.acid, x.alkali, x.pH, x.microS)
		if err != nil {
			t.Errorf("%s pH %g, %g: %v", x.acid.Name(), x.pH, x.microS, err)
			continue
		}
		// the recipe, weighed out anew
		w, err := pure.Dissolve(Measure{x.acid, m.AcidGramPerL.Value, GramPerLitre},
			Measure{x.alkali, m.AlkaliGramPerL.Value, GramPerLitre})
		if err != nil {
			t.Fatal(err)
		}
		o := atRest(t, w, Conditions{})
		k, err := o.Conductivity25MicroS()
		if err != nil || math.Abs(o.PH()-x.pH) > 0.01 || math.Abs(k.Value/x.microS-1) > 0.002 {
			t.Errorf("pH %.3f and %.4g, want %g and %g", o.PH(), k.Value, x.pH, x.microS)
		}
		if !(m.AlkaliGramPerL.Low < m.AlkaliGramPerL.Value && m.AlkaliGramPerL.Value < m.AlkaliGramPerL.High) {
			t.Errorf("%v", m.AlkaliGramPerL)
		}
	}
	for _, x := range [][2]float64{{9, 300}, {6.5, math.NaN()}, {1, 100}, {3, 10}} {
		if _, err := Match(pure, co2, bicarbonate, x[0], x[1]); !errors.Is(err, ErrMatch) {
			t.Errorf("pH %g, %g: %v", x[0], x[1], err)
		}
	}
}

// A rinse reading gives back what was put in: 20 mg/L of sodium bicarbonate in pure
// water, borate in tap water.
func TestLeftover(t *testing.T) {
	soda, err := ParseSolute("NaHCO3")
	if err != nil {
		t.Fatal(err)
	}
	for _, fresh := range []Water{{temperatureC: 20}, made(t, 15, "Ca(HCO3)2", 0.001, MolPerKg)} {
		w, err := fresh.Dissolve(Measure{soda, 0.02, GramPerLitre})
		if err != nil {
			t.Fatal(err)
		}
		o := atRest(t, w, Conditions{})
		k, err := o.Conductivity25MicroS()
		if err != nil {
			t.Fatal(err)
		}
		got, err := Leftover(fresh, soda, k.Value)
		if err != nil || math.Abs(got.Value/0.02-1) > 1e-3 || !(got.Low < 0.02 && 0.02 < got.High) {
			t.Errorf("%v: %v", got, err)
		}
	}
	if _, err := Leftover(made(t, 20, "NaCl", 0.01, MolPerKg), soda, 100); !errors.Is(err, ErrMatch) {
		t.Errorf("below the fresh water: %v", err)
	}
	if _, err := Leftover(Water{temperatureC: 20}, soda, 1e6); !errors.Is(err, ErrMatch) {
		t.Errorf("a metal: %v", err)
	}
}
