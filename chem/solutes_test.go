package chem

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// What each substance gives has its own mass, element by element, and no
// charge: the table of solutes against the atomic weights.
func TestSolutesKeepMass(t *testing.T) {
	for _, r := range readTable("solutes.csv") {
		s, err := ParseSolute(r["formula"])
		if err != nil {
			t.Error(err)
			continue
		}
		z, mass := 0.0, s.water*waterMolarMass
		for c, v := range s.comp {
			z += v * allSpecies[c].z
			mass += v * 1000 * componentMass[c]
		}
		if math.Abs(z) > 1e-12 {
			t.Errorf("%s gives a charge of %g", s.name, z)
		}
		if math.Abs(mass-s.molar) > 0.002 {
			t.Errorf("%s weighs %.3f g/mol, what it gives %.3f", s.name, s.molar, mass)
		}
	}
}

// Molar masses in g/mol: sodium borohydride and calcium hydroxide as in
// testdata (sodium-borohydride.csv; 74.093 in solubility-salts.csv), the others
// from the CRC Handbook of Chemistry and Physics (from memory).
func TestMolarMass(t *testing.T) {
	for formula, want := range map[string]float64{
		"NaBH4": 37.83, "Ca(OH)2": 74.093, "CaCO3": 100.087, "Na2B4O7.10H2O": 381.37,
		"C6H8O7.H2O": 210.14, "KHC8H4O4": 204.22, "(NH4)HCO3": 79.06, "Mg(HCO3)2": 146.34, "MgSO4·7H₂O": 246.47,
	} {
		s, err := ParseSolute(formula)
		if err != nil {
			t.Error(err)
		} else if math.Abs(s.MolarMass()-want) > 0.01 {
			t.Errorf("%s: %.3f g/mol, want %g", formula, s.MolarMass(), want)
		}
	}
}

// One substance under the names that people write.
func TestSpellings(t *testing.T) {
	for _, same := range [][]string{
		{"Ca(OH)2", "Ca(OH)₂", "CaO2H2", "calcium hydroxide", "Slaked lime", " Ca(OH)2 "},
		{"CH3COOH", "C2H4O2", "HC2H3O2", "acetic acid", "CH3CO2H"},
		{"NH4HCO3", "(NH4)HCO3", "ammonium bicarbonate"},
		{"C6H8O7", "H3C6H5O7", "citric acid"},
		{"H2C2O4", "C2H2O4", "(COOH)2", "oxalic acid"},
		{"CH3COONa", "NaCH3COO", "NaC2H3O2", "sodium acetate"},
		{"Na2B4O7.10H2O", "Na2B4O7·10H2O", "Na2B4O7*10H2O", "Na2B4O7 . 10 H2O"},
		{"Mg5(CO3)4(OH)2.4H2O", "4MgCO3.Mg(OH)2.4H2O"},
		{"KHC8H4O4", "KC8H5O4"},
	} {
		first, err := ParseSolute(same[0])
		if err != nil {
			t.Error(err)
			continue
		}
		for _, name := range same[1:] {
			s, err := ParseSolute(name)
			if err != nil {
				t.Error(err)
				continue
			}
			if s.comp != first.comp || math.Abs(s.water-first.water) > 1e-12 || math.Abs(s.molar-first.molar) > 1e-9 {
				t.Errorf("%q is not %q", name, same[0])
			}
		}
	}
}

// Every substance that the issue of this program names is known.
func TestKnownSubstances(t *testing.T) {
	for _, name := range strings.Fields(`Ca(OH)2 CaCO3 Ca(HCO3)2 CaCl2 Mg(OH)2 MgCO3 Mg(HCO3)2 MgSO4 NaOH NaHCO3 Na2CO3 NaCl KCl HCl
		NaBO2 Na2B4O7 Na2B4O7.10H2O H3BO3 NaBH4 KBH4 NH3 NH4Cl (NH4)HCO3 CH3COOH CH3COONa HCOOH H2C2O4 H2C2O4.2H2O C6H8O7 Na3C6H5O7
		(NH4)2HC6H5O7 (NH4)3C6H5O7 KH2PO4 Na2HPO4 KHC8H4O4`) {
		s, err := ParseSolute(name)
		if err != nil {
			t.Error(err)
			continue
		}
		w, err := Water{temperatureC: 20}.Dissolve(Measure{s, 0.01, MolPerKg})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if o, err := Equilibrate(w, Conditions{}); err != nil || !(o.PH() > 0 && o.PH() < 14) {
			t.Errorf("%s: pH %g, %v", name, o.PH(), err)
		}
	}
}

// Water of crystallisation counts as water: 0.1 mol of borax decahydrate in
// 982 g of water is 0.1 mol of borax in a kilogram.
func TestWaterOfCrystallisation(t *testing.T) {
	a := made(t, 25, "Na2B4O7.10H2O", 0.1/(1-waterMolarMass/1000), MolPerKg)
	b := made(t, 25, "Na2B4O7", 0.1, MolPerKg)
	if math.Abs(a.Total(B)/b.Total(B)-1) > 1e-9 {
		t.Errorf("%g and %g mol/kg boron", a.Total(B), b.Total(B))
	}
}

// Amounts in all units agree: 0.4 g of lime in a litre or in the water that it
// holds.
func TestUnits(t *testing.T) {
	lime, _ := ParseSolute("Ca(OH)2")
	base := made(t, 20, "Ca(OH)2", 0.4, GramPerLitre)
	for unit, amount := range map[Unit]float64{MilligramPerLitre: 400, MolPerLitre: 0.4 / lime.molar,
		MillimolPerLitre: 400 / lime.molar} {
		w := made(t, 20, "Ca(OH)2", amount, unit)
		if math.Abs(w.Total(Ca)/base.Total(Ca)-1) > 1e-12 {
			t.Errorf("%g %s: %g mol/kg, want %g", amount, unit, w.Total(Ca), base.Total(Ca))
		}
	}
	// per litre: the litre holds its own 0.4 g
	if got := base.Total(Ca) / base.LitresPerKg() * lime.molar; math.Abs(got-0.4) > 1e-12 {
		t.Errorf("a litre holds %g g", got)
	}
	// per kg of water, to first order the density of water away
	kg := made(t, 20, "Ca(OH)2", 0.4, GramPerKg)
	if r := base.Total(Ca) / kg.Total(Ca) * WaterDensity(20); math.Abs(r-1) > 5e-4 {
		t.Errorf("g/L and g/kg differ by %g beyond the density", r)
	}
	// made up to a litre with another water: all that is in it shrinks with its share
	salt := made(t, 20, "NaCl", 0.01, MolPerLitre)
	w, err := salt.Dissolve(Measure{lime, 0.4, GramPerLitre})
	if err != nil {
		t.Fatal(err)
	}
	if got := w.Total(Ca) / w.LitresPerKg() * lime.molar; math.Abs(got-0.4) > 1e-12 {
		t.Errorf("a litre of the mixture holds %g g", got)
	}
}

func TestBadAmounts(t *testing.T) {
	lime, _ := ParseSolute("Ca(OH)2")
	w, _ := Pure(20)
	for _, c := range []struct {
		m    Measure
		want error
	}{
		{Measure{lime, -1, GramPerLitre}, ErrAmount},
		{Measure{lime, math.NaN(), GramPerLitre}, ErrAmount},
		{Measure{lime, math.Inf(1), MolPerKg}, ErrAmount},
		{Measure{lime, 1, "oz/gal"}, ErrUnit},
		{Measure{lime, 1e6, GramPerLitre}, nil},
		{Measure{lime, 1e6, GramPerKg}, nil},
	} {
		_, err := w.Dissolve(c.m)
		if err == nil || c.want != nil && !errors.Is(err, c.want) {
			t.Errorf("%g %s: %v, want %v", c.m.Amount, c.m.Unit, err, c.want)
		}
	}
	for _, name := range []string{"", "CaOH2", "Xx2", "Ca((((((OH))))))2", "H2O3", "Na2S2O4", strings.Repeat("Ca", 1000),
		"Ca(OH", "Ca)OH(", "1", ".", "Ca(OH)2.200H2O", "\x00"} {
		_, err := ParseSolute(name)
		if !errors.Is(err, ErrFormula) {
			t.Errorf("%.20q: %v", name, err)
		} else if !strings.Contains(err.Error(), "did you mean") || len(err.Error()) > 200 {
			t.Errorf("%.20q: %v", name, err)
		}
	}
	if _, err := ParseSolute("Ca(OH)3"); err == nil || !strings.Contains(err.Error(), "Ca(OH)2") {
		t.Errorf("the nearest name is not offered: %v", err)
	}
	for _, tc := range []float64{-0.1, 50.1, math.NaN(), math.Inf(1)} {
		if _, err := Pure(tc); !errors.Is(err, ErrTemperature) {
			t.Errorf("%g deg C: %v", tc, err)
		}
	}
	if _, err := Mix(); err == nil {
		t.Error("nothing was mixed")
	}
	for _, parts := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := Mix(Part{1, w}, Part{parts, w}); !errors.Is(err, ErrAmount) {
			t.Errorf("%g parts: %v", parts, err)
		}
	}
}

func FuzzParseSolute(f *testing.F) {
	for _, s := range soluteNames {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, name string) {
		s, err := ParseSolute(name)
		if err != nil {
			return
		}
		z := 0.0
		for c, v := range s.comp {
			z += v * allSpecies[c].z
		}
		if math.Abs(z) > 1e-12 || !(s.molar > 0) {
			t.Errorf("%q: charge %g, %g g/mol", name, z, s.molar)
		}
	})
}
