package chem

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// ErrAnalysis: figures of a water analysis that cannot all be true.
var ErrAnalysis = errors.New("this analysis contradicts itself")

// Scale is a scale of hardness or alkalinity.
type Scale string

// The scales. A degree of hardness counts Ca and Mg together, one of
// alkalinity ("carbonate hardness") counts half the alkalinity, as the same
// mass of CaO or CaCO3.
const (
	German   Scale = "dH"         // 10 mg CaO per litre (DIN 38409-6)
	French   Scale = "fH"         // 10 mg CaCO3 per litre
	English  Scale = "eH"         // 1 grain CaCO3 per imperial gallon
	AsCaCO3  Scale = "mg/L CaCO3" // also called ppm
	Millimol Scale = "mmol/L"     // hardness: Ca + Mg; alkalinity: charge, mmol H+ per litre
	AsHCO3   Scale = "mg/L HCO3"  // alkalinity only
)

// grainPerGallon is 64.79891 mg in 4.54609 L, in mg/L (both exact by the
// definitions of the grain and the imperial gallon).
const grainPerGallon = 64.79891 / 4.54609

// caMolPerLitre is the mol of CaCO3 or CaO that one unit of a scale means.
func (s Scale) caMolPerLitre() (float64, error) {
	caco3 := atomicWeight["Ca"] + atomicWeight["C"] + 3*atomicWeight["O"]
	cao := atomicWeight["Ca"] + atomicWeight["O"]
	switch s {
	case German:
		return 0.010 / cao, nil
	case French:
		return 0.010 / caco3, nil
	case English:
		return grainPerGallon / 1000 / caco3, nil
	case AsCaCO3:
		return 0.001 / caco3, nil
	case Millimol:
		return 0.001, nil
	}
	return 0, fmt.Errorf(
		"%q is no scale of hardness known here: dH, fH, eH, mg/L CaCO3 or mmol/L would be right",
		clip(string(s)),
	)
}

// HardnessMolPerLitre converts a hardness to mol of Ca + Mg per litre.
func HardnessMolPerLitre(value float64, s Scale) (float64, error) {
	k, err := s.caMolPerLitre()
	if err != nil {
		return 0, err
	}
	if !(value >= 0) || math.IsInf(value, 0) {
		return 0, fmt.Errorf("a hardness of %g %s %w: 0 or more would be right", value, s, ErrAmount)
	}
	return value * k, nil
}

// AlkalinityMolPerLitre converts an alkalinity to mol of charge per litre.
func AlkalinityMolPerLitre(value float64, s Scale) (float64, error) {
	if !(value >= 0) || math.IsInf(value, 0) {
		return 0, fmt.Errorf("an alkalinity of %g %s %w: 0 or more would be right", value, s, ErrAmount)
	}
	switch s {
	case Millimol:
		return value / 1000, nil
	case AsHCO3:
		return value / 1000 / analysisIons["HCO3"].molar, nil
	}
	k, err := s.caMolPerLitre()
	if err != nil {
		return 0, fmt.Errorf(
			"%q is no scale of alkalinity known here: mmol/L, mg/L HCO3, mg/L CaCO3, dH, fH or eH would be right",
			clip(string(s)),
		)
	}
	return 2 * value * k, nil
}

// Given is a figure of an analysis that may be absent.
type Given struct {
	Value float64
	Known bool
}

// Figure is a known figure.
func Figure(v float64) Given { return Given{v, true} }

// Analysis is a supplier's analysis of a water, per litre. What was not
// reported is left out.
type Analysis struct {
	TemperatureC float64
	Unit         Unit // of the ions: g/L, mg/L, mol/L, mmol/L (or per kg of water)
	// Ions by the names of AnalysisIons. HCO3 is the alkalinity written as
	// HCO3 when PH is known, else bicarbonate itself; CO3 adds to both.
	Ions map[string]float64
	PH   Given

	Hardness        Given // Ca and Mg together
	HardnessScale   Scale
	Alkalinity      Given // instead of HCO3 and CO3
	AlkalinityScale Scale

	ConductivityMicroS Given   // microsiemens per cm
	ConductivityAtC    float64 // its temperature; 0 means 25
}

// Balanced is a water made from an analysis, and what had to be done to it.
type Balanced struct {
	Water            Water
	ImbalancePercent float64 // 100 (cations - anions)/(cations + anions), as reported
	AddedCl, AddedNa float64 // mol per kg of water, put in to balance
	AlkalinityPerKg  float64 // mol of charge per kg
	PH               float64 // reported, or computed
	// Conductivity computed at ConductivityAtC, microsiemens per cm.
	ConductivityMicroS Estimate
	Remarks            []string // one sentence for each thing assumed or not reconciled

	complete bool // the ions that were short were reported
}

// madeUp is State.madeUp of the water: nothing where the ions that were short were
// not reported, so that they are there beyond doubt.
func (b *Balanced) madeUp() float64 {
	if !b.complete {
		return 0
	}
	return b.AddedCl - b.AddedNa
}

// analysisIon is an ion as laboratories report it.
type analysisIon struct {
	comp  Component
	z     float64
	molar float64
}

var analysisIons map[string]analysisIon

// AnalysisIons are the names of ions that an analysis may have.
var AnalysisIons = []string{"Ca", "Mg", "Na", "K", "NH4", "Cl", "SO4", "NO3", "HCO3", "CO3"}

func loadAnalysisIons() {
	comp := map[string]Component{
		"Ca":   Ca,
		"Mg":   Mg,
		"Na":   Na,
		"K":    K,
		"NH4":  N,
		"Cl":   Cl,
		"SO4":  S,
		"NO3":  NO3,
		"HCO3": C,
		"CO3":  C,
	}
	z := map[string]float64{
		"Ca":   2,
		"Mg":   2,
		"Na":   1,
		"K":    1,
		"NH4":  1,
		"Cl":   -1,
		"SO4":  -2,
		"NO3":  -1,
		"HCO3": -1,
		"CO3":  -2,
	}
	analysisIons = map[string]analysisIon{}
	for _, n := range AnalysisIons {
		atoms, _, err := parseFormula(n)
		if err != nil {
			panic("chem: analysis ion " + n)
		}
		analysisIons[n] = analysisIon{comp[n], z[n], massOf(atoms)}
	}
}

// Limits of an analysis's own consistency.
const (
	imbalanceUsual  = 5  // %, what laboratories keep (common practice, no source)
	imbalanceRefuse = 20 // %, beyond this a complete analysis is refused
)

// Balance makes a water of an analysis. Missing charge is put in as chloride
// where anions are short and as sodium where cations are, the two ions that
// take least part in anything; inorganic carbon is chosen so that the pH is
// the one reported. It fails with ErrAnalysis when the figures exclude each
// other.
func (a *Analysis) Balance() (Balanced, error) {
	var b Balanced
	w, err := Pure(a.TemperatureC)
	if err != nil {
		return b, err
	}
	reported, alk, err := a.amounts(&b)
	if err != nil {
		return b, err
	}
	w.n = reported
	if !a.perKg() {
		// mol per litre of solution: a litre holds q kg of water
		litres := 0.0
		for c := range w.n {
			litres += w.n[c] * molarVolume[c]
		}
		q := (1 - litres) * WaterDensity(a.TemperatureC)
		if !(q > 0.5) {
			return b, fmt.Errorf("%w: so much cannot be dissolved in a litre of water", ErrAnalysis)
		}
		for c := range w.n {
			w.n[c] /= q
		}
		alk /= q
	}
	acid, err := a.acidity(&w, &alk, &b)
	if err != nil {
		return b, err
	}
	if err := a.balanceCharge(&w, alk, &b); err != nil {
		return b, err
	}
	if acid {
		b.PH = a.PH.Value
		w.balance()
		b.Water = w
		return b, a.conductivity(&b)
	}
	if err := a.carbon(&w, &b); err != nil {
		return b, err
	}
	b.Water = w
	return b, a.conductivity(&b)
}

func (a *Analysis) perKg() bool { return a.Unit == GramPerKg || a.Unit == MolPerKg }

// amounts reads the ions and hardness as mol per litre (or kg), and the
// alkalinity; NaN when not reported.
func (a *Analysis) amounts(b *Balanced) (n [numComponents]float64, alk float64, err error) {
	alk = math.NaN()
	for _, name := range AnalysisIons {
		v, ok := a.Ions[name]
		if !ok {
			continue
		}
		ion := analysisIons[name]
		m := Measure{Solute{name: name, molar: ion.molar}, v, a.Unit}
		mol, _, err := m.mol()
		if err != nil {
			return n, 0, err
		}
		if ion.comp == C {
			if math.IsNaN(alk) {
				alk = 0
			}
			alk -= ion.z * mol
			continue
		}
		n[ion.comp] += mol
	}
	for name := range a.Ions {
		if _, ok := analysisIons[name]; !ok {
			return n, 0, fmt.Errorf(
				"%q is no ion of an analysis known here: %s would be right",
				clip(name),
				strings.Join(AnalysisIons, ", "),
			)
		}
	}
	if a.Alkalinity.Known {
		v, err := AlkalinityMolPerLitre(a.Alkalinity.Value, a.AlkalinityScale)
		if err != nil {
			return n, 0, err
		}
		if !math.IsNaN(alk) && math.Abs(v-alk) > 0.05*max(v, alk) {
			return n, 0, fmt.Errorf(
				"%w: the alkalinity is %.3g mmol/L, but HCO3 and CO3 make %.3g",
				ErrAnalysis,
				1000*v,
				1000*alk,
			)
		}
		alk = v
	}
	return n, alk, a.hardness(&n, b)
}

// hardness adds Ca and Mg from the hardness, or compares.
func (a *Analysis) hardness(n *[numComponents]float64, b *Balanced) error {
	if !a.Hardness.Known {
		return nil
	}
	total, err := HardnessMolPerLitre(a.Hardness.Value, a.HardnessScale)
	if err != nil {
		return err
	}
	_, hasCa := a.Ions["Ca"]
	_, hasMg := a.Ions["Mg"]
	switch {
	case hasCa && hasMg:
		if sum := n[Ca] + n[Mg]; math.Abs(sum-total) > 0.1*max(sum, total) {
			b.remark(
				"Ca and Mg make a hardness of %.3g mmol/L, but %.3g is reported: Ca and Mg are used.",
				1000*sum,
				1000*total,
			)
		}
	case hasCa || hasMg:
		known, missing := Ca, Mg
		if hasMg {
			known, missing = Mg, Ca
		}
		rest := total - n[known]
		if rest < -0.05*total {
			return fmt.Errorf(
				"%w: %v alone (%.3g mmol/L) is more than the whole hardness (%.3g mmol/L)",
				ErrAnalysis,
				known,
				1000*n[known],
				1000*total,
			)
		}
		n[missing] = max(rest, 0)
		b.remark("%v was not reported and is taken as the rest of the hardness, %.3g mmol/L.", missing, 1000*n[missing])
	default:
		n[Ca], n[Mg] = 0.8*total, 0.2*total
		b.remark(
			"Only the hardness was reported: four fifths of it are taken as Ca and one fifth as Mg, as in many tap " +
				"waters (common practice, no source).",
		)
	}
	return nil
}

func (b *Balanced) remark(format string, args ...any) {
	b.Remarks = append(b.Remarks, fmt.Sprintf(format, args...))
}

// acidPH is the pH of pure water open to the air: an analysis below it that
// reports no alkalinity has none, and its free acid counts among the cations.
const acidPH = 5.6

// acidity sees whether the water is acid without alkalinity (rain, a water from
// an ion exchanger). If so it sets alk to the negative alkalinity of its pH
// without inorganic carbon: H+ less what of it the sulfate holds.
func (a *Analysis) acidity(w *Water, alk *float64, b *Balanced) (bool, error) {
	if !a.PH.Known || !(a.PH.Value >= 3 && a.PH.Value < acidPH) || *alk > 0 {
		return false, nil
	}
	v := *w
	v.n[C] = 0
	cations := 0.0 // of the ions reported, less the anions
	for c := range v.n {
		cations += v.n[c] * allSpecies[c].z
	}
	more, err := strongIon(v, a.PH.Value, math.Abs(cations)+0.1)
	if err != nil {
		return false, fmt.Errorf("%w: no water of these ions has pH %.2f", ErrAnalysis, a.PH.Value)
	}
	*alk = cations + more
	b.remark(
		"At pH %.2f the water holds no alkalinity: %.3g mmol/kg of free acid counts among its cations.",
		a.PH.Value,
		-1000**alk,
	)
	return true, nil
}

// strongIon is the sodium, or below 0 the chloride, in mol/kg that brings a water to
// a pH; most bounds it either way.
func strongIon(w Water, pH, most float64) (float64, error) {
	var s Solver
	var o State
	return rising(func(strong float64) (float64, error) {
		x := w.withStrong(strong)
		err := s.Solve(&x, Conditions{}, &o)
		return o.PH() - pH, err
	}, -most, most, 1e-9)
}

// withStrong is the water with sodium, or below 0 with chloride.
func (w Water) withStrong(mol float64) Water {
	if mol > 0 {
		w.n[Na] += mol
	} else {
		w.n[Cl] -= mol
	}
	w.balance()
	return w
}

// balanceCharge sets the alkalinity and adds chloride or sodium. The amounts
// are per kg of water.
func (a *Analysis) balanceCharge(w *Water, alk float64, b *Balanced) error {
	cations, anions := 0.0, 0.0
	for c := range w.n {
		switch z := allSpecies[c].z; {
		case z > 0:
			cations += z * w.n[c]
		case z < 0:
			anions -= z * w.n[c]
		}
	}
	if math.IsNaN(alk) {
		alk = cations - anions
		if alk < 0 && -alk < imbalanceUsual/100.0*(cations+anions) {
			alk = 0 // within what laboratories keep; what is short is made up below
		}
		if alk < 0 {
			return fmt.Errorf(
				"%w: without alkalinity the anions already outweigh the cations (%.3g to %.3g mmol charge per kg)",
				ErrAnalysis,
				1000*anions,
				1000*cations,
			)
		}
		b.remark("No alkalinity was reported: it is taken as what balances the ions, %.3g mmol/kg.", 1000*alk)
	}
	anions += max(alk, 0)
	cations += max(-alk, 0)
	b.AlkalinityPerKg = alk
	diff := cations - anions
	if cations+anions > 0 {
		b.ImbalancePercent = 100 * diff / (cations + anions)
	}
	short, added, missing := "anions", Cl, []string{"Cl", "SO4"}
	if diff < 0 {
		short, added, missing = "cations", Na, []string{"Na"}
		if !a.Hardness.Known {
			missing = append(missing, "Ca")
		}
	}
	complete := true
	for _, m := range missing {
		if _, ok := a.Ions[m]; !ok {
			complete = false
		}
	}
	off := math.Abs(b.ImbalancePercent)
	if complete && off > imbalanceRefuse {
		return fmt.Errorf(
			"%w: cations carry %.3g and anions %.3g mmol of charge per kg, %.0f %% apart, which no rounding explains",
			ErrAnalysis,
			1000*cations,
			1000*anions,
			off,
		)
	}
	b.complete = complete
	put := math.Abs(diff)
	w.n[added] += put
	if added == Cl {
		b.AddedCl = put
	} else {
		b.AddedNa = put
	}
	switch {
	case off < 0.5:
	case !complete:
		b.remark(
			"The %s reported are short by %.3g mmol of charge per kg (%.1f %%), and not all were reported: %v makes "+
				"up for it.",
			short,
			1000*put,
			off,
			added,
		)
	case off <= imbalanceUsual:
		b.remark(
			"The %s are short by %.3g mmol of charge per kg (%.1f %%, within what laboratories keep): %v makes up "+
				"for it.",
			short,
			1000*put,
			off,
			added,
		)
	default:
		b.remark(
			"The %s are short by %.3g mmol of charge per kg (%.1f %%, more than a laboratory should leave): %v "+
				"makes up for it, so take the result as rough.",
			short,
			1000*put,
			off,
			added,
		)
	}
	return nil
}

// carbon chooses the inorganic carbon: that at which the water has the
// reported pH, or else all alkalinity as bicarbonate.
func (a *Analysis) carbon(w *Water, b *Balanced) error {
	alk := b.AlkalinityPerKg
	var s Solver
	var o State
	if !a.PH.Known {
		w.n[C] = max(alk, 0)
		w.balance()
		if err := s.Solve(w, Conditions{}, &o); err != nil {
			return err
		}
		b.PH = o.PH()
		b.remark(
			"No pH was reported: with all its alkalinity as bicarbonate, and closed to air, the water has %.2f.",
			b.PH,
		)
		return nil
	}
	ph := a.PH.Value
	if !(ph >= 3 && ph <= 13) {
		return fmt.Errorf("pH %g %w of a water: 3 to 13 would be right", ph, ErrAmount)
	}
	at := func(lnC float64) (float64, error) {
		w.n[C] = math.Exp(lnC)
		w.balance()
		err := s.Solve(w, Conditions{}, &o)
		return o.PH() - ph, err
	}
	lnC, err := rising(
		func(v float64) (float64, error) { d, err := at(v); return -d, err },
		math.Log(1e-12),
		math.Log(10),
		1e-13,
	)
	if err != nil {
		if errors.Is(err, errNoRoot) {
			return fmt.Errorf(
				"%w: water with an alkalinity of %.3g mmol/kg cannot have pH %.2f",
				ErrAnalysis,
				1000*alk,
				ph,
			)
		}
		return err
	}
	if _, err := at(lnC); err != nil {
		return err
	}
	b.PH = ph
	return b.carbonDioxide(&o)
}

// Pressures of CO2, atm, that an analysis may imply. Ground water from deep soil
// holds up to about 0.1 atm (Appelo and Postma, Geochemistry, Groundwater and
// Pollution, 2nd ed. 2005, chapter 5; from memory, not verified); above 1 atm it
// would boil over in an open jug.
const (
	muchCO2Atm    = 0.1
	tooMuchCO2Atm = 1.0
)

// carbonDioxide says what the alkalinity and the pH together imply of CO2.
func (b *Balanced) carbonDioxide(o *State) error {
	atm := o.CO2Fugacity()
	if atm > tooMuchCO2Atm {
		return fmt.Errorf(
			"%w: an alkalinity of %.3g mmol/kg at pH %.2f means carbon dioxide at %.2g atm, which no open water "+
				"holds: the pH or the alkalinity is wrong",
			ErrAnalysis,
			1000*b.AlkalinityPerKg,
			b.PH,
			atm,
		)
	}
	if atm > muchCO2Atm {
		b.remark(
			"An alkalinity of %.3g mmol/kg at pH %.2f means carbon dioxide at %.2g atm, %.0f times that of air: "+
				"only a spring or a bottled water holds so much, and it loses it on standing. Check the pH.",
			1000*b.AlkalinityPerKg,
			b.PH,
			atm,
			atm/OutdoorCO2Atm,
		)
	}
	return nil
}

// OutdoorCO2Atm is the carbon dioxide of outdoor air, atm.
const OutdoorCO2Atm = 4.2e-4

// conductivity computes the conductivity and compares.
func (a *Analysis) conductivity(b *Balanced) error {
	at := a.ConductivityAtC
	if at == 0 {
		at = 25
	}
	w, err := b.Water.At(at)
	if err != nil {
		return fmt.Errorf("the temperature of the conductivity: %w", err)
	}
	var s Solver
	var o State
	if err := s.Solve(&w, Conditions{}, &o); err != nil {
		return err
	}
	o.madeUp = b.madeUp()
	b.ConductivityMicroS = o.ConductivityMicroS()
	if !a.ConductivityMicroS.Known {
		return nil
	}
	given := a.ConductivityMicroS.Value
	if !(given >= 0) || math.IsInf(given, 0) {
		return fmt.Errorf("a conductivity of %g %w: 0 or more would be right", given, ErrAmount)
	}
	computed := b.ConductivityMicroS
	off := 100 * (computed.Value - given) / max(given, 1)
	if math.Abs(off) > 10 && (given < computed.Low || given > computed.High) {
		b.remark(
			"These ions conduct %.0f microsiemens/cm at %g deg C by computation, but %.0f is reported (%+.0f %%): "+
				"an ion is missing or a figure is wrong.",
			computed.Value,
			at,
			given,
			off,
		)
	}
	return nil
}

// errNoRoot: the function does not change sign in the bracket.
var errNoRoot = errors.New("no root")

// rising finds the root of a rising function in [lo, hi]: bisection and the
// secant by turns, bounded. It ends when |f| <= tol or the bracket is closed.
func rising(f func(float64) (float64, error), lo, hi, tol float64) (float64, error) {
	flo, err := f(lo)
	if err != nil && !errors.Is(err, ErrIonicStrength) {
		return 0, err
	}
	fhi, err := f(hi)
	if err != nil && !errors.Is(err, ErrIonicStrength) {
		return 0, err
	}
	if flo > 0 || fhi < 0 {
		return 0, errNoRoot
	}
	for i := 0; i < 200; i++ {
		x := (lo + hi) / 2
		if i%3 != 2 && fhi > flo {
			x = lo - flo*(hi-lo)/(fhi-flo)
			if margin := 1e-3 * (hi - lo); x < lo+margin || x > hi-margin {
				x = max(lo+margin, min(hi-margin, x))
			}
		}
		fx, err := f(x)
		if err != nil && !errors.Is(err, ErrIonicStrength) {
			return 0, err
		}
		if math.Abs(fx) <= tol || hi-lo < 1e-15*max(1, math.Abs(x)) {
			return x, nil
		}
		if fx < 0 {
			lo, flo = x, fx
		} else {
			hi, fhi = x, fx
		}
	}
	return (lo + hi) / 2, nil
}
