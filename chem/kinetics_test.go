package chem

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Rate constant and flux of testdata/limewater-carbonation-kinetics.csv
// (Pinsent, Pearson and Roughton 1956; Danckwerts 1970).
func TestCarbonationConstants(t *testing.T) {
	rates, fluxes := 0, 0
	hydroxide := map[string]float64{"0.035": 0.035, "0.0105": 0.0105, "0.0027": 0.0027}
	for _, r := range testTable(t, "limewater-carbonation-kinetics.csv") {
		switch {
		case strings.HasPrefix(r["quantity"], "rate constant") && strings.HasPrefix(r["source"], "Pinsent"):
			rates++
			if got, want := 1000*co2Hydroxide(number(r["temperature_C"])), number(r["value"]); math.Abs(
				got/want-1,
			) > 1e-3 {
				t.Errorf("k at %s deg C: %.0f, want %g", r["temperature_C"], got, want)
			}
		case strings.HasPrefix(r["quantity"], "CO2 flux"):
			fluxes++
			_, after, _ := strings.Cut(r["quantity"], "[OH-] = ")
			oh, ok := hydroxide[strings.TrimSuffix(after, " mol/L")]
			if !ok {
				t.Fatalf("%q", r["quantity"])
			}
			if got, want := (Surface{20, oh, 4.169e-4, 2e-3, 0}).CO2Flux(),
				number(r["value"]); math.Abs(got/want-1) > 0.01 {
				t.Errorf("flux at %g mol/L: %.4g, want %g", oh, got, want)
			}
		}
	}
	if rates < 5 || fluxes != 3 {
		t.Errorf("%d rate constants, %d fluxes", rates, fluxes)
	}
}

// The slope at the start is the design's equation, d[OH-]/dt = -2 N A/V, with
// the hydroxide that CaOH+ gives back counted as hydroxide; strength falls, pH
// falls, chalk and lime make the calcium; half the depth takes half the time;
// lime on the bottom holds the pH until it is gone.
func TestLimeTray(t *testing.T) {
	tray := LimeTray{Water: made(t, 20, "Ca(OH)2", 0.4, GramPerLitre), DepthMM: 20, CO2Atm: 6e-4}
	times := []float64{0, 1, 30, 60, 120, 240, 480, 1440}
	course, err := tray.Course(times)
	if err != nil {
		t.Fatal(err)
	}
	if got := course[0].LimeGramPerL.Value; math.Abs(got-0.4) > 1e-4 {
		t.Errorf("%g g/L at the start", got)
	}
	start := atRest(t, tray.Water, Conditions{})
	flux := Surface{20, start.Molality("OH-"), 6e-4, 2e-3, liquidFilm(false)}.CO2Flux()
	want := flux * 60 / 0.020 / 1000 * SolidGramPerMol("portlandite") // g/(L min)
	if got := course[0].LimeGramPerL.Value - course[1].LimeGramPerL.Value; math.Abs(got/want-1) > 0.03 {
		t.Errorf("%g g/L in the first minute, want %g", got, want)
	}
	for i := 1; i < len(course); i++ {
		a, b := course[i-1], course[i]
		if b.LimeGramPerL.Value > a.LimeGramPerL.Value || b.PH.Value > a.PH.Value {
			t.Errorf("strength or pH rises between %g and %g min", a.Minutes, b.Minutes)
		}
		if e := b.LimeGramPerL; e.Low > e.Value || e.High < e.Value {
			t.Errorf("%+v", e)
		}
	}
	shallow := tray
	shallow.DepthMM = 10
	half, err := shallow.Course([]float64{0, 0.5, 15, 30, 60, 120, 240, 720})
	if err != nil {
		t.Fatal(err)
	}
	for i := range half {
		if d := half[i].LimeGramPerL.Value - course[i].LimeGramPerL.Value; math.Abs(d) > 1e-9 {
			t.Errorf("half the depth in half of %g min: %g g/L apart", times[i], d)
		}
	}
	open := atRest(t, tray.Water, Conditions{Open: true, CO2Atm: 6e-4, MayFall: Calcite})
	rest, err := tray.Course([]float64{1e6})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(rest[0].PH.Value-open.PH()) > 0.02 {
		t.Errorf("in the end pH %g, at rest with the air %g", rest[0].PH.Value, open.PH())
	}

	over := LimeTray{
		Water:   made(t, 20, "Ca(OH)2", 3.0, GramPerLitre),
		DepthMM: 20,
		CO2Atm:  6e-4,
		Air:     Draught,
		Stirred: true,
	}
	course, err = over.Course([]float64{0, 60, 120})
	if err != nil {
		t.Fatal(err)
	}
	saturated := atRest(t, Water{temperatureC: 20}, Conditions{StandsOver: Portlandite})
	for _, p := range course {
		if math.Abs(p.PH.Value-saturated.PH()) > 0.005 {
			t.Errorf("over solid lime pH %g after %g min, saturated %g", p.PH.Value, p.Minutes, saturated.PH())
		}
	}
	for _, bad := range []LimeTray{{Water: tray.Water, DepthMM: 0, CO2Atm: 4e-4},
		{Water: tray.Water, DepthMM: math.NaN(), CO2Atm: 4e-4}, {Water: tray.Water, DepthMM: 10},
		{Water: tray.Water, DepthMM: 10, CO2Atm: -1}} {
		if _, err := bad.Course(times); err == nil {
			t.Errorf("%g mm at %g atm was computed", bad.DepthMM, bad.CO2Atm)
		}
	}
	if _, err := tray.Course([]float64{-1}); !errors.Is(err, ErrTray) {
		t.Error(err)
	}
}

// Half-lives and hydrogen of testdata/sodium-borohydride.csv (Kreevoy and
// Jacobson 1979, from memory; stoichiometry and ideal gas).
func TestBorohydrideTable(t *testing.T) {
	n := 0
	for _, r := range testTable(t, "sodium-borohydride.csv") {
		switch r["quantity"] {
		case "half-life":
			n++
			got := BorohydrideHalfLifeMinutes(number(r["pH"]), number(r["temperature_C"]))
			if want := number(r["value"]); math.Abs(got/want-1) > 5e-3 {
				t.Errorf("pH %s, %s deg C: %.4g min, want %g", r["pH"], r["temperature_C"], got, want)
			}
		case "hydrogen per gram NaBH4":
			n++
			if got, want := hydrogenLPerGram(number(r["temperature_C"])), number(r["value"]); math.Abs(
				got-want,
			) > 0.002 {
				t.Errorf("%s deg C: %.4f L per g, want %g", r["temperature_C"], got, want)
			}
		}
	}
	if n < 30 {
		t.Errorf("only %d values", n)
	}
}

// A bath decays along its law: held at pH 10 by a strong buffer it halves in
// the law's half-life; left alone it raises its own pH and slows; in the end it
// is the borate bath of the same strength and 4 mol of hydrogen have come off.
func TestBorohydrideCourse(t *testing.T) {
	buffered := made(t, 20, "NaBH4", 0.001, MolPerLitre, "Na2CO3", 0.1, MolPerLitre, "NaHCO3", 0.1, MolPerLitre)
	o := atRest(t, buffered, Conditions{})
	half := BorohydrideHalfLifeMinutes(o.PH(), 20)
	course, err := BorohydrideCourse(buffered, []float64{0, half, 2 * half})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{1, 0.5, 0.25} {
		if got := course[i].NaBH4GramPerL.Value / course[0].NaBH4GramPerL.Value; math.Abs(got-want) > 0.01 {
			t.Errorf("after %d half-lives %.3f is left", i, got)
		}
	}

	alone := made(t, 20, "NaBH4", 1, GramPerLitre)
	times := []float64{0, 0.01, 0.1, 1, 10, 60, 240, 1440, 14400, 1e7}
	course, err = BorohydrideCourse(alone, times)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range course {
		if i > 0 &&
			(p.NaBH4GramPerL.Value > course[i-1].NaBH4GramPerL.Value || p.PH.Value < course[i-1].PH.Value || p.HydrogenLPerL.Value < course[i-1].HydrogenLPerL.Value) {
			t.Errorf("strength rises, pH or hydrogen falls at %g min", p.Minutes)
		}
		sum := p.NaBH4GramPerL.Value*hydrogenLPerGram(20) + p.HydrogenLPerL.Value
		if math.Abs(sum-hydrogenLPerGram(20)) > 1e-6 {
			t.Errorf("at %g min strength and hydrogen make %.4f L", p.Minutes, sum)
		}
	}
	last := course[len(course)-1]
	spent := atRest(t, made(t, 20, "NaBO2", 1/gramPerMol(t, "NaBH4"), MolPerLitre), Conditions{})
	if math.Abs(last.PH.Value-spent.PH()) > 0.01 {
		t.Errorf("spent: pH %.3f, borate bath %.3f", last.PH.Value, spent.PH())
	}
	// pH of a spent bath of 0.05 to 0.26 mol/kg borate: 10.9 to 11.3 (the
	// table's row, computed by PHREEQC)
	for _, mol := range []float64{0.05, 0.26} {
		if o := atRest(t, made(t, 20, "NaBO2", mol, MolPerKg), Conditions{}); o.PH() < 10.85 || o.PH() > 11.35 {
			t.Errorf("spent bath of %g mol/kg: pH %.2f", mol, o.PH())
		}
	}
	if _, err := BorohydrideCourse(made(t, 20, "NaCl", 1, GramPerLitre), times); !errors.Is(err, ErrHydride) {
		t.Error(err)
	}
	if _, err := BorohydrideCourse(alone, []float64{math.NaN()}); !errors.Is(err, ErrHydride) {
		t.Error(err)
	}
}

// gramPerMol is the molar mass of a substance by name.
func gramPerMol(t *testing.T, name string) float64 {
	t.Helper()
	s, err := ParseSolute(name)
	if err != nil {
		t.Fatal(err)
	}
	return s.MolarMass()
}

// hydrogenLPerGram is the hydrogen in litres at 1 atm from a gram of NaBH4.
func hydrogenLPerGram(temperatureC float64) float64 {
	return HydrogenPerBorohydride * gasLitresPerMol(temperatureC) / hydrideGramPerMol()
}
