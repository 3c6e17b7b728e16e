package chem

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func hardTapAnalysis() Analysis {
	return Analysis{TemperatureC: 20, Unit: MilligramPerLitre, PH: Figure(7.5),
		Ions: map[string]float64{"Ca": 80, "Mg": 20, "Na": 15, "K": 2, "Cl": 30, "SO4": 40, "HCO3": 250}}
}

// The hard tap water of testdata/aqueous-phreeqc.csv (row 5tap_cl_20, where
// PHREEQC raised chloride to balance): the same chloride, carbon and pH.
func TestBalanceHardTap(t *testing.T) {
	a := hardTapAnalysis()
	b, err := a.Balance()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range referenceRows(t) {
		if r["id"] != "5tap_cl_20" {
			continue
		}
		for c, col := range map[Component]string{Cl: "tot_Cl", C: "tot_C", Ca: "tot_Ca", S: "tot_S"} {
			o := atRest(t, b.Water, Conditions{})
			if want := number(r[col]); math.Abs(o.Total(c)/want-1) > 0.003 {
				t.Errorf("%v: %g, want %g", c, o.Total(c), want)
			}
		}
	}
	// by hand, in mmol charge per litre: cations 3.992 + 1.646 + 0.652 + 0.051,
	// anions 0.846 + 0.833 + 4.097
	if want := 100 * (6.342 - 5.776) / (6.342 + 5.776); math.Abs(b.ImbalancePercent-want) > 0.05 {
		t.Errorf("imbalance %.2f %%, want %.2f", b.ImbalancePercent, want)
	}
	if len(b.Remarks) != 1 || !strings.Contains(b.Remarks[0], "Cl makes up") {
		t.Errorf("remarks: %q", b.Remarks)
	}
	o := atRest(t, b.Water, Conditions{})
	if math.Abs(o.PH()-7.5) > 1e-9 || math.Abs(o.AlkalinityPerKg()/b.AlkalinityPerKg-1) > 1e-4 {
		t.Errorf("pH %g, alkalinity %g of %g", o.PH(), o.AlkalinityPerKg(), b.AlkalinityPerKg)
	}
}

// One degree in mmol/L of Ca + Mg, as handbooks of water give them (0.1783
// German, 0.0999 French, 0.1424 English), and half of that as alkalinity is
// twice the charge.
func TestHardnessScales(t *testing.T) {
	for scale, want := range map[Scale]float64{German: 0.1783, French: 0.09991, English: 0.14242, AsCaCO3: 0.009991,
		Millimol: 1} {
		got, err := HardnessMolPerLitre(1, scale)
		if err != nil || math.Abs(1000*got/want-1) > 1e-3 {
			t.Errorf("1 %s is %g mmol/L, want %g (%v)", scale, 1000*got, want, err)
		}
	}
	for scale, want := range map[Scale]float64{German: 0.3566, French: 0.1998, English: 0.2848, AsCaCO3: 0.01998,
		Millimol: 1, AsHCO3: 0.016389} {
		got, err := AlkalinityMolPerLitre(1, scale)
		if err != nil || math.Abs(1000*got/want-1) > 1e-3 {
			t.Errorf("1 %s is %g mmol/L, want %g (%v)", scale, 1000*got, want, err)
		}
	}
	if _, err := HardnessMolPerLitre(1, "degrees"); err == nil {
		t.Error("an unknown scale passed")
	}
	if _, err := AlkalinityMolPerLitre(-1, German); !errors.Is(err, ErrAmount) {
		t.Error(err)
	}
}

// The same water told in other ways is the same water.
func TestAnalysisInOtherWords(t *testing.T) {
	a := hardTapAnalysis()
	first, err := a.Balance()
	if err != nil {
		t.Fatal(err)
	}
	mol := Analysis{TemperatureC: 20, Unit: MillimolPerLitre, PH: Figure(7.5), Ions: map[string]float64{}}
	for n, v := range a.Ions {
		if n != "HCO3" {
			mol.Ions[n] = v / analysisIons[n].molar
		}
	}
	mol.Alkalinity, mol.AlkalinityScale = Figure(250), AsHCO3
	second, err := mol.Balance()
	if err != nil {
		t.Fatal(err)
	}
	hard := hardTapAnalysis()
	hard.Hardness, hard.HardnessScale = Figure((80/40.078+20/24.305)/(10/56.077)), German
	delete(hard.Ions, "Mg")
	third, err := hard.Balance()
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range []Balanced{second, third} {
		for c := range first.Water.n {
			if d := math.Abs(b.Water.n[c] - first.Water.n[c]); d > 2e-5*math.Abs(first.Water.n[c])+1e-12 {
				t.Errorf("%v: %g, was %g", Component(c), b.Water.n[c], first.Water.n[c])
			}
		}
	}
}

// Little is often known. What is missing is filled in, and said.
func TestSparseAnalysis(t *testing.T) {
	a := Analysis{
		TemperatureC:       12,
		Hardness:           Figure(16),
		HardnessScale:      German,
		Alkalinity:         Figure(12),
		AlkalinityScale:    German,
		PH:                 Figure(7.4),
		ConductivityMicroS: Figure(200),
	}
	b, err := a.Balance()
	if err != nil {
		t.Fatal(err)
	}
	all := strings.Join(b.Remarks, " ")
	for _, want := range []string{"Only the hardness", "Cl makes up", "200 is reported"} {
		if !strings.Contains(all, want) {
			t.Errorf("nothing says %q in %q", want, all)
		}
	}
	o := atRest(t, b.Water, Conditions{})
	if math.Abs(o.PH()-7.4) > 1e-9 || math.Abs(1000*(o.Total(Ca)+o.Total(Mg))-16*0.17832) > 0.01 {
		t.Errorf("pH %g, hardness %g mmol/kg", o.PH(), 1000*(o.Total(Ca)+o.Total(Mg)))
	}
	none := Analysis{TemperatureC: 20, Unit: MilligramPerLitre, Ions: map[string]float64{"Ca": 80, "Cl": 30}}
	if b, err = none.Balance(); err != nil || !strings.Contains(strings.Join(b.Remarks, " "), "No alkalinity") ||
		b.PH < 7 ||
		b.PH > 9 {
		t.Errorf("%+v, %v", b, err)
	}
}

func TestContradictions(t *testing.T) {
	change := func(f func(*Analysis)) Analysis {
		a := hardTapAnalysis()
		f(&a)
		return a
	}
	for name, a := range map[string]Analysis{
		"charge":                  change(func(a *Analysis) { a.Ions["Cl"] = 1000 }),
		"cations":                 change(func(a *Analysis) { a.Ions["Na"] = 1000 }),
		"pH above its alkalinity": change(func(a *Analysis) { a.PH = Figure(12.5) }),
		"acid with alkalinity":    change(func(a *Analysis) { a.PH = Figure(3.1) }),
		"Ca more than the hardness": change(func(a *Analysis) {
			a.Hardness, a.HardnessScale = Figure(3),
				German
			delete(a.Ions, "Mg")
		}),
		"two alkalinities": change(func(a *Analysis) {
			a.Alkalinity, a.AlkalinityScale = Figure(2),
				Millimol
		}),
		"anions without alkalinity": {TemperatureC: 20, Unit: MilligramPerLitre,
			Ions: map[string]float64{"Ca": 10, "Cl": 100}},
	} {
		if _, err := a.Balance(); !errors.Is(err, ErrAnalysis) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, a := range map[string]Analysis{
		"negative":        change(func(a *Analysis) { a.Ions["Ca"] = -1 }),
		"NaN":             change(func(a *Analysis) { a.Ions["Ca"] = math.NaN() }),
		"ion":             change(func(a *Analysis) { a.Ions["Fe"] = 1 }),
		"unit":            change(func(a *Analysis) { a.Unit = "grain" }),
		"pH":              change(func(a *Analysis) { a.PH = Figure(15) }),
		"scale":           change(func(a *Analysis) { a.Hardness = Figure(3); a.HardnessScale = "x" }),
		"hot":             change(func(a *Analysis) { a.TemperatureC = 90 }),
		"conductivity":    change(func(a *Analysis) { a.ConductivityMicroS = Figure(-5) }),
		"hot cell":        change(func(a *Analysis) { a.ConductivityAtC = 99 }),
		"a kilo of chalk": change(func(a *Analysis) { a.Ions["Ca"] = 1e6; a.Ions["HCO3"] = 3e6 }),
	} {
		if _, err := a.Balance(); err == nil {
			t.Errorf("%s passed", name)
		} else if strings.Contains(err.Error(), "\n") || len(err.Error()) < 15 {
			t.Errorf("%s: no sentence: %v", name, err)
		}
	}
}

// Free acid counts in the charge balance: rain of pH 4.8 (an invented analysis, in
// the proportions of published ones) balances within 5 %, where without its H+ it
// would be 15 % short of cations; its acid is that of its pH.
func TestAcidRain(t *testing.T) {
	a := Analysis{TemperatureC: 20, Unit: MilligramPerLitre, PH: Figure(4.8),
		Ions: map[string]float64{"Na": 0.5, "Ca": 0.2, "Cl": 0.8, "SO4": 1.0}}
	for _, none := range []bool{true, false} {
		if !none {
			a.Ions["HCO3"] = 0
		}
		b, err := a.Balance()
		if err != nil {
			t.Fatal(err)
		}
		o := atRest(t, b.Water, Conditions{})
		if math.Abs(o.PH()-4.8) > 1e-6 || math.Abs(b.ImbalancePercent) > 5 || b.AddedNa != 0 {
			t.Errorf("pH %.3f, %.1f %% apart, %g Na added", o.PH(), b.ImbalancePercent, b.AddedNa)
		}
		if acid := math.Pow(10, -4.8); math.Abs(-b.AlkalinityPerKg/acid-1) > 0.02 {
			t.Errorf("%g mol/kg of acid, want %g", -b.AlkalinityPerKg, acid)
		}
	}
	a.Ions["Cl"] = 8
	if _, err := a.Balance(); !errors.Is(err, ErrAnalysis) {
		t.Errorf("anions ten times the cations passed: %v", err)
	}
}

// Bicarbonate of 285 mg/L at pH 3.9 would be some 35 atm of CO2; at pH 6.2 it is
// about 0.16 atm, by Henry's law and the first constant alone (pK1 6.38, log KH
// -1.41 at 20 deg C, Plummer and Busenberg 1982): said; at 7.5 nothing is said.
func TestImpliedCO2(t *testing.T) {
	for ph, want := range map[float64]string{3.9: "refused", 5.3: "refused", 6.2: "means carbon dioxide", 7.5: ""} {
		a := Analysis{TemperatureC: 20, Unit: MilligramPerLitre, PH: Figure(ph), Ions: map[string]float64{
			"Ca": 80, "Mg": 20, "Na": 15, "K": 2, "Cl": 30, "SO4": 40, "HCO3": 285}}
		b, err := a.Balance()
		if want == "refused" {
			if !errors.Is(err, ErrAnalysis) || !strings.Contains(err.Error(), "atm") {
				t.Errorf("pH %g: %v", ph, err)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		said := strings.Contains(strings.Join(b.Remarks, " "), "means carbon dioxide")
		if said != (want != "") {
			t.Errorf("pH %g: %q", ph, b.Remarks)
		}
	}
}
