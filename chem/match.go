package chem

import (
	"errors"
	"fmt"
	"math"
)

// ErrMatch: a conductivity or a pH that cannot be reached with what is given.
var ErrMatch = errors.New("cannot be matched")

// mostMatched is the most that Match and Leftover put into a kilogram of water, mol.
const mostMatched = 0.5

// Leftover is how much of a substance a rinse water holds, in g/L, when it reads
// microS microsiemens/cm at 25 deg C and was fresh before: the strength at which
// the fresh water with it conducts so. The range is that of the conductivity. It
// fails with ErrMatch when the reading is below the fresh water's own, or beyond
// what 0.5 mol/kg conduct.
func Leftover(fresh Water, left Solute, microS float64) (Estimate, error) {
	var s Solver
	at := func(mol float64) (Water, Estimate, error) {
		w, err := fresh.Dissolve(Measure{left, mol, MolPerKg})
		if err != nil {
			return w, Estimate{}, err
		}
		var o State
		if err := s.Solve(&w, Conditions{}, &o); err != nil && !errors.Is(err, ErrIonicStrength) {
			return w, Estimate{}, err
		}
		k, err := o.Conductivity25MicroS()
		return w, k, err
	}
	_, base, err := at(0)
	if err != nil {
		return Estimate{}, err
	}
	if !(microS >= base.Value) || math.IsInf(microS, 0) {
		return Estimate{}, fmt.Errorf("%.3g microsiemens/cm %w: the fresh water alone conducts %.3g", microS, ErrMatch,
			base.Value)
	}
	ln, err := rising(func(ln float64) (float64, error) {
		_, k, err := at(math.Exp(ln))
		return math.Log(k.Value / microS), err
	}, math.Log(1e-9), math.Log(mostMatched), 1e-9)
	if errors.Is(err, errNoRoot) {
		if microS-base.Value < 0.01*microS {
			return Estimate{}, nil // nothing that a reading tells
		}
		return Estimate{}, fmt.Errorf("%.3g microsiemens/cm %w: more than %.1f mol/kg of %s would be needed", microS,
			ErrMatch, float64(mostMatched), left.name)
	}
	if err != nil {
		return Estimate{}, err
	}
	w, k, err := at(math.Exp(ln))
	if err != nil {
		return Estimate{}, err
	}
	gram := math.Exp(ln) * left.molar / w.LitresPerKg()
	rise := max(k.Value-base.Value, 1e-3*k.Value)
	return Estimate{gram, max(0, gram*(1-(k.High-k.Value)/rise)), gram * (1 + (k.Value-k.Low)/rise)}, nil
}

// Matched is a water made to a pH and a conductivity.
type Matched struct {
	State State
	// AcidGramPerL and AlkaliGramPerL go into each litre, with the range that the
	// conductivity's gives.
	AcidGramPerL, AlkaliGramPerL Estimate
	Conductivity25               Estimate // microsiemens/cm
}

// Match finds how much acid and alkali bring a water to a pH and to a conductivity
// at 25 deg C: acetic acid with ammonia for a cleaning water matched to a surface,
// carbon dioxide with calcium bicarbonate for a rinse. Closed, nothing falling. It
// fails with ErrMatch when no such amounts up to 0.5 mol/kg are there.
func Match(base Water, acid, alkali Solute, pH, microS float64) (Matched, error) {
	var s Solver
	var o State
	state := func(a, b float64) error {
		w, err := base.Dissolve(Measure{acid, a, MolPerKg}, Measure{alkali, b, MolPerKg})
		if err == nil {
			err = s.Solve(&w, Conditions{}, &o)
		}
		if errors.Is(err, ErrIonicStrength) {
			err = nil
		}
		return err
	}
	// acidFor is the acid that brings b mol of alkali to the pH, 0 where it is below
	// it already.
	acidFor := func(b float64) (float64, error) {
		if err := state(0, b); err != nil || o.PH() <= pH {
			return 0, err
		}
		ln, err := rising(func(ln float64) (float64, error) {
			err := state(math.Exp(ln), b)
			return pH - o.PH(), err
		}, math.Log(1e-10), math.Log(2*mostMatched), 1e-9)
		if errors.Is(err, errNoRoot) {
			err = fmt.Errorf("pH %.2f %w: %s does not bring the water down to it", pH, ErrMatch, acid.name)
		}
		return math.Exp(ln), err
	}
	conducts := func(lnB float64) (float64, error) {
		a, err := acidFor(math.Exp(lnB))
		if err == nil {
			err = state(a, math.Exp(lnB))
		}
		if err != nil {
			return 0, err
		}
		k, err := o.Conductivity25MicroS()
		return math.Log(k.Value / microS), err
	}
	if !(pH >= 2 && pH <= 13) || !(microS > 0) || math.IsInf(microS, 0) {
		return Matched{}, fmt.Errorf("pH %g with %g microsiemens/cm %w: pH 2 to 13 and a reading above 0 would be right",
			pH, microS, ErrMatch)
	}
	most := math.Log(mostMatched)
	for most > math.Log(1e-7) { // as much alkali as the acid can still answer
		if _, err := acidFor(math.Exp(most)); err == nil {
			break
		} else if !errors.Is(err, ErrMatch) {
			return Matched{}, err
		}
		most -= math.Ln2
	}
	lnB, err := rising(conducts, math.Log(1e-8), most, 1e-7)
	if errors.Is(err, errNoRoot) {
		least, _ := conducts(math.Log(1e-8))
		if least > 0 {
			return Matched{}, fmt.Errorf("%.3g microsiemens/cm at pH %.2f %w: at that pH the water conducts %.3g already",
				microS, pH, ErrMatch, microS*math.Exp(least))
		}
		return Matched{}, fmt.Errorf("%.3g microsiemens/cm at pH %.2f %w: more than %.1f mol/kg of %s would be needed",
			microS, pH, ErrMatch, float64(mostMatched), alkali.name)
	}
	if err != nil {
		return Matched{}, err
	}
	b := math.Exp(lnB)
	a, err := acidFor(b)
	if err == nil {
		err = state(a, b)
	}
	if err != nil {
		return Matched{}, err
	}
	if math.Abs(o.PH()-pH) > 1e-3 {
		return Matched{}, fmt.Errorf("pH %.2f %w: with %s alone the water has %.2f at that conductivity", pH, ErrMatch,
			alkali.name, o.PH())
	}
	k, err := o.Conductivity25MicroS()
	w := o.Water()
	perL := func(mol float64, x Solute) Estimate {
		g := mol * x.molar / w.LitresPerKg()
		return Estimate{g, g * k.Value / k.High, g * k.Value / k.Low}
	}
	return Matched{o, perL(a, acid), perL(b, alkali), k}, err
}
