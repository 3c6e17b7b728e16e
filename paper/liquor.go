package paper

import (
	"errors"
	"fmt"
	"math"

	"benchleaf/chem"
)

// stuff is an amount of each component of chem, mmol; that of H is not kept, it
// follows from the charges. So charge is conserved whatever is moved.
type stuff [chem.NumComponents]float64

func (a *stuff) add(b *stuff, factor float64) {
	for c := range a {
		a[c] += factor * b[c]
	}
}

// alkali is the acid that stuff neutralises in the end, mmol: to dissolved CO2,
// boric acid, ammonium, and the anions of the organic acids and of the paper's
// carboxyl groups. Below 0 it is acid that wants as much alkali. Borohydride
// counts as the borate that it turns to.
func (a *stuff) alkali() float64 {
	return 2*(a[chem.Ca]+a[chem.Mg]+a[chem.Fe2]) + 3*a[chem.Fe3] + a[chem.Na] + a[chem.K] + a[chem.N] -
		a[chem.Cl] - 2*a[chem.S] - a[chem.NO3] - a[chem.Acetate] - a[chem.Formate] - 2*a[chem.Oxalate] -
		3*a[chem.Citrate] - 4*a[chem.EDTA] - a[chem.P] - 2*a[chem.Phthalate] - a[chem.Carboxyl]
}

// liquor is liquid with what is in it.
type liquor struct {
	n  stuff   // mmol
	ml float64 // 1 mL is taken to hold 1 g of water
}

// sheetLiquor is a wet sheet: the liquid in its pores, its carboxyl groups, and
// carbonate that lies in it. n holds all three.
type sheetLiquor struct {
	liquor
	free stuff // mmol per mL: the liquid between the fibres, see settle
	// cation is what its free liquid's acidity is below that of liquid and groups
	// together, log10; see pH.
	cation float64
	innerP float64 // pH of liquid and groups together
	// chalk and magnesia are carbonate of calcium and of magnesium that lies in it,
	// mmol; see dissolve.
	chalk, magnesia float64
}

// mobile is what of the sheet's is not lying carbonate, mmol.
func (s *sheetLiquor) mobile() stuff {
	n := s.n
	n[chem.Ca] = max(0, n[chem.Ca]-s.chalk)
	n[chem.Mg] = max(0, n[chem.Mg]-s.magnesia)
	n[chem.C] = max(0, n[chem.C]-s.chalk-s.magnesia)
	return n
}

// equilibria solves them for one calculation; it is not for several goroutines
// at once.
type equilibria struct {
	// One for each sort of water, as each is followed from the one before.
	sheets, liquids, over chem.Solver
	state                 chem.State
	temperatureC          float64
}

// leastMolar is the concentration below which a component is taken as absent, mol/L.
const leastMolar = 1e-13

// solve brings liquid to equilibrium; the answer is in b.state.
func (b *equilibria) solve(s *chem.Solver, l *liquor, c chem.Conditions) error {
	var perKg [chem.NumComponents]float64
	for i, v := range l.n {
		if v > leastMolar*l.ml {
			perKg[i] = v / l.ml
		}
	}
	w, err := chem.Compose(b.temperatureC, perKg)
	if err != nil {
		return fmt.Errorf("a liquid in this sequence cannot be followed: %w", err)
	}
	if err := s.Follow(&w, c, &b.state); err != nil && !errors.Is(err, chem.ErrIonicStrength) {
		return fmt.Errorf("a liquid in this sequence cannot be followed: %w", err)
	}
	return nil
}

// counterIons are the ions that stay beside the carboxyl groups.
var counterIons = []struct {
	name      string
	component chem.Component // H for the proton, which is not kept
	charge    int
}{
	{
		"Ca+2",
		chem.Ca,
		2,
	}, {"Mg+2", chem.Mg, 2}, {"Na+", chem.Na, 1}, {"K+", chem.K, 1}, {"NH4+", chem.N, 1}, {"H+", chem.H, 1},
}

// settle puts a sheet at equilibrium and divides what it holds in two: what is
// fixed (carboxyl groups and the counter-ions that their charge holds back,
// fallen carbonate), and the free liquid between the fibres, which exchanges
// with a bath and is without charge.
//
// The counter-ions are shared out as in a Donnan equilibrium (Towers and
// Scallan, J. Pulp Pap. Sci. 22, 332, 1996; from memory): an ion of charge z has
// y^z of its concentration free, with one y for all, such that the free liquid
// is neutral. Calcium is so preferred to sodium. That anions are kept out of the
// fibre wall is left out: the pores count as free.
//
// Chalk that falls stays where it fell.
func (b *equilibria) settle(s *sheetLiquor, fall chem.Solids) error {
	s.cation, s.innerP = 0, math.NaN()
	if s.ml <= 0 {
		s.free = stuff{}
		return nil
	}
	wet := liquor{s.mobile(), s.ml}
	if s.n[chem.Carboxyl] <= leastMolar*s.ml && fall == 0 {
		for c := range s.free {
			s.free[c] = wet.n[c] / s.ml
		}
		return nil
	}
	if err := b.solve(&b.sheets, &wet, chem.Conditions{MayFall: fall}); err != nil {
		return err
	}
	o := &b.state
	s.innerP = o.PH()
	if fell := min(o.Fallen(chem.Calcite)*s.ml, wet.n[chem.Ca], wet.n[chem.C]); fell > 0 {
		s.chalk += fell
		wet.n[chem.Ca] -= fell
		wet.n[chem.C] -= fell
	}
	var one, two float64 // mol/kg of counter-ions with one charge, with two
	var ions [6]float64
	for i, ion := range counterIons {
		ions[i] = o.Molality(ion.name)
		if ion.charge == 2 {
			two += ions[i]
		} else {
			one += ions[i]
		}
	}
	anions := max(0, one+2*two-o.Molality("Carboxyl-"))
	y := 1.0
	if held := one + 2*two; held > 0 && anions < held {
		if two > 0 {
			// The root of 2 two y^2 + one y = anions, written so that nothing cancels.
			y = 2 * anions / (one + math.Sqrt(one*one+8*two*anions))
		} else {
			y = anions / one
		}
	}
	y = min(1, max(0, y))
	for c := range s.free {
		s.free[c] = wet.n[c] / s.ml
	}
	s.free[chem.Carboxyl] = 0
	for i, ion := range counterIons {
		if ion.component == chem.H {
			continue
		}
		share := y
		if ion.charge == 2 {
			share = y * y
		}
		s.free[ion.component] -= (1 - share) * ions[i]
	}
	for c := range s.free {
		s.free[c] = max(0, s.free[c])
	}
	s.cation = -math.Log10(max(y, 1e-9))
	return nil
}

// mostShift is how far the free liquid of an acid sheet is taken to lie above
// the pH of liquid and groups together. Common practice, no source: about the
// rise of the apparent acid exponent of pulps in water without salt.
const mostShift = 1.5

// pH is what an electrode would show on the wet sheet. While acid is left it is
// the groups' pH raised by what they hold back of the protons; else that of the
// free liquid, once it has come to rest with chalk that lies in it.
func (b *equilibria) pH(s *sheetLiquor, fall chem.Solids) (float64, error) {
	if n := s.mobile(); n.alkali() < 0 && !math.IsNaN(s.innerP) {
		return s.innerP + min(s.cation, mostShift), nil
	}
	free := liquor{s.free, 1}
	pH, err := b.liquidPH(&free, fall)
	if err != nil || s.chalk <= 0 || s.ml <= 0 || pH > chalkInert {
		return pH, err
	}
	if si, ok := b.state.SaturationIndex(chem.Calcite); ok && si >= 0 {
		return pH, nil
	}
	beside := min(s.chalk/s.ml, mostSolid)
	free.n[chem.Ca] += beside
	free.n[chem.C] += beside
	if err := b.solve(&b.over, &free, chem.Conditions{MayFall: chem.Calcite}); err != nil {
		return 0, err
	}
	return b.state.PH(), nil
}

// chalkInert is the pH beyond which chalk changes that of a liquid by less than 0.01:
// it then adds less than a tenth of a mmol/L of alkali to 3 and more of hydroxide.
const chalkInert = 11.5

func (b *equilibria) liquidPH(l *liquor, fall chem.Solids) (float64, error) {
	if l.ml <= 0 {
		return math.NaN(), nil
	}
	if err := b.solve(&b.liquids, l, chem.Conditions{MayFall: fall}); err != nil {
		return 0, err
	}
	return b.state.PH(), nil
}
