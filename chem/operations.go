package chem

import (
	"errors"
	"fmt"
	"math"
)

// LitresPerKg is the volume in litres of what holds one kilogram of water
// (counted as in Water): the volume of pure water at this temperature plus the
// partial volumes of data/partial-volumes.csv. Within 0.2 % of the densities
// that PHREEQC gives up to 0.1 mol/kg.
func (w Water) LitresPerKg() float64 {
	v := 1 / WaterDensity(w.temperatureC)
	for c := range w.n {
		v += w.n[c] * molarVolume[c]
	}
	return v
}

// renormal divides all amounts by the kilograms of water they are in.
func (w Water) renormal(kgWater float64) Water {
	for c := range w.n {
		w.n[c] /= kgWater
	}
	return w
}

// Dissolve adds substances to a water. Amounts per kg are per kg of w's water;
// amounts per litre are per litre of the finished solution, so that "0.4 g/L
// in tap water" is 0.4 g made up to a litre with tap water. It fails with
// ErrAmount, ErrUnit, or when the substances leave no room for water.
func (w Water) Dissolve(measures ...Measure) (Water, error) {
	var perKg, perLitre Water
	var waterPerKg, waterPerLitre, litres float64
	for _, m := range measures {
		mol, isPerLitre, err := m.mol()
		if err != nil {
			return Water{}, err
		}
		if mol > maxAmount {
			return Water{}, fmt.Errorf(
				"%g %s of %s %w that would dissolve: at most %d mol would be right",
				m.Amount,
				m.Unit,
				m.Solute.name,
				ErrAmount,
				maxAmount,
			)
		}
		if isPerLitre {
			perLitre.addMol(&m.Solute, mol)
			waterPerLitre += mol * m.Solute.water
			litres += mol * (m.Solute.volume + m.Solute.water/waterMolKg/WaterDensity(w.temperatureC))
		} else {
			perKg.addMol(&m.Solute, mol)
			waterPerKg += mol * m.Solute.water
		}
	}
	// first what is weighed into a kilogram of water
	out := w
	for c := range out.n {
		out.n[c] += perKg.n[c]
	}
	out = out.renormal(1 + waterPerKg/waterMolKg)
	// then what is made up to a litre: q kg of that water fit
	if litres != 0 || waterPerLitre != 0 || perLitre.n != (Water{}).n {
		q := (1 - litres) / out.LitresPerKg()
		if !(q > 0.2) {
			return Water{}, fmt.Errorf(
				"%w: the substances alone would fill %.2g L of each litre",
				ErrIonicStrength,
				litres,
			)
		}
		for c := range out.n {
			out.n[c] = q*out.n[c] + perLitre.n[c]
		}
		out = out.renormal(q + waterPerLitre/waterMolKg)
	}
	out.balance()
	if err := out.check(); err != nil {
		return Water{}, err
	}
	return out, nil
}

func (w *Water) addMol(s *Solute, mol float64) {
	for c := range w.n {
		w.n[c] += mol * s.comp[c]
	}
}

// Part is a share of a mixture, measured by the water that it holds (counted
// as in Water): a litre of any water that this package computes holds 0.98 to
// 1.00 kg, so parts poured by volume are the same within the reading of a
// measuring cylinder. Litres makes a Part of an exact volume.
type Part struct {
	Parts float64 // above 0; kg of water, or in proportion to it
	Water Water
}

// Litres is a volume of a water, at its own temperature, as a Part.
func Litres(litres float64, w Water) Part { return Part{litres / w.LitresPerKg(), w} }

// Mix pours parts together. The temperature of the mixture is the mean
// weighted by mass of water, heats of mixing and reaction left out.
func Mix(parts ...Part) (Water, error) {
	if len(parts) == 0 {
		return Water{}, errors.New("a mixture needs at least one part")
	}
	var out Water
	kg := 0.0
	heat := 0.0
	for _, p := range parts {
		if !(p.Parts > 0) || math.IsInf(p.Parts, 0) {
			return Water{}, fmt.Errorf("%g parts %w: a number above 0 would be right", p.Parts, ErrAmount)
		}
		if err := p.Water.check(); err != nil {
			return Water{}, err
		}
		kg += p.Parts
		heat += p.Parts * p.Water.temperatureC
		for c := range out.n {
			out.n[c] += p.Parts * p.Water.n[c]
		}
	}
	if math.IsInf(kg, 0) {
		return Water{}, fmt.Errorf("these parts %w: smaller numbers in the same proportion would be right", ErrAmount)
	}
	out = out.renormal(kg)
	out.temperatureC = min(max(heat/kg, MinTemperatureC), MaxTemperatureC)
	out.balance()
	return out, nil
}

// Water is what is left in solution: without the solids that fell, with what
// was dissolved or taken up.
func (o *State) Water() Water {
	w, _ := o.dissolved()
	return w
}

// Part is what is left in solution as a share of a mixture, measured by its
// free water: the water that is not bound in hydroxide and the like.
func (o *State) Part(parts float64) Part {
	w, all := o.dissolved()
	return Part{parts * all, w}
}

// dissolved is the water left, and the kg of all water per kg of free water.
func (o *State) dissolved() (w Water, all float64) {
	w.temperatureC = o.water.temperatureC
	all = 1
	for i := range allSpecies {
		m := o.molality[i]
		if m == 0 {
			continue
		}
		sp := &allSpecies[i]
		all += float64(sp.water) * m / waterMolKg
		for c, v := range sp.comp {
			if v != 0 {
				w.n[c] += float64(v) * m
			}
		}
	}
	w = w.renormal(all)
	w.balance()
	return w, all
}

// Equilibrate is the equilibrium of a water under conditions, for callers who
// solve too seldom to keep a Solver. Errors are those of Solver.Solve.
func Equilibrate(w Water, c Conditions) (State, error) {
	var s Solver
	var o State
	err := s.Solve(&w, c, &o)
	return o, err
}

// Titrate writes the pH of w after each amount of titrant, in mol per kg of
// w's water, at equilibrium under c. pH must be as long as molPerKg. It
// allocates nothing.
func (s *Solver) Titrate(w *Water, titrant *Solute, molPerKg []float64, c Conditions, pH []float64) error {
	var o State
	var before [32]float64 // x at the point before the last
	var ionicBefore float64
	var mask uint32
	for i, mol := range molPerKg {
		if !(mol >= 0 && mol <= maxAmount) {
			return fmt.Errorf("%g mol/kg of %s %w: 0 to %d would be right", mol, titrant.name, ErrAmount, maxAmount)
		}
		v := *w
		v.addMol(titrant, mol)
		v = v.renormal(1 + mol*titrant.water/waterMolKg)
		v.balance()
		last, ionicLast := s.x, s.ionic
		if i >= 2 && mask == s.mask && s.followable {
			// start from where the last two points lead
			r := (mol - molPerKg[i-1]) / (molPerKg[i-1] - molPerKg[i-2])
			if r > 0 && r <= 2 {
				for j := range s.x[:s.ncol] {
					s.x[j] += max(-0.3, min(0.3, r*(last[j]-before[j])))
				}
				s.ionic = max(s.ionic/2, s.ionic+r*(ionicLast-ionicBefore))
			}
		}
		before, ionicBefore, mask = last, ionicLast, s.mask
		if err := s.Follow(&v, c, &o); err != nil {
			return err
		}
		pH[i] = o.pH
	}
	return nil
}
