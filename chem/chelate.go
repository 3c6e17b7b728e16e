package chem

import (
	"errors"
	"fmt"
	"math"
)

// Chelates is what a bath of a chelator does to calcium and iron.
type Chelates struct {
	Bath State
	// Bound is the share of a trace of calcium, ferrous and ferric iron that the
	// chelator holds, 0 to 1.
	Calcium, Ferrous, Ferric float64
	// FromChalk is the calcium that chalk without limit gives up to the bath, mol/kg,
	// from the bath closed to the bath open to air; PHAfter its pH then, closed.
	FromChalk Estimate
	PHAfter   float64
	// FromRust is the ferric iron that fresh rust (ferrihydrite) without limit gives
	// up to it, mol/kg, closed.
	FromRust float64
}

// ErrChelator: a bath without citrate, oxalate or EDTA.
var ErrChelator = errors.New("holds no chelator known here: citrate, oxalate or EDTA would be right")

// Chelate brings a bath to a pH with sodium hydroxide or hydrochloric acid and says
// what it holds of calcium and iron. Constants of NIST 46 through minteq.v4.dat;
// redox, kinetics and mixed complexes are left out, and phytate is not known here.
// Rust older than fresh gives up far less.
func Chelate(bath Water, pH float64) (Chelates, error) {
	if bath.n[Citrate]+bath.n[EDTA]+bath.n[Oxalate] <= leastAmount {
		return Chelates{}, fmt.Errorf("this bath %w", ErrChelator)
	}
	if !(pH >= 2 && pH <= 12) {
		return Chelates{}, fmt.Errorf("pH %g %w of such a bath: 2 to 12 would be right", pH, ErrAmount)
	}
	strong, err := strongIon(bath, pH, 1)
	if err != nil && !errors.Is(err, errNoRoot) {
		return Chelates{}, err
	}
	if err != nil {
		return Chelates{}, fmt.Errorf("this bath cannot be brought to pH %.2f", pH)
	}
	w := bath.withStrong(strong)
	var x Chelates
	if x.Bath, err = Equilibrate(w, Conditions{}); err != nil {
		return x, err
	}
	for _, metal := range []struct {
		c     Component
		share *float64
	}{{Ca, &x.Calcium}, {Fe2, &x.Ferrous}, {Fe3, &x.Ferric}} {
		if *metal.share, err = bound(w, metal.c); err != nil {
			return x, err
		}
	}
	closed, err := rough(Equilibrate(w, Conditions{StandsOver: Calcite}))
	if err != nil {
		return x, err
	}
	open, err := rough(Equilibrate(w, Conditions{StandsOver: Calcite, Open: true, CO2Atm: OutdoorCO2Atm}))
	if err != nil {
		return x, err
	}
	a, b := max(0, -closed.Fallen(Calcite)), max(0, -open.Fallen(Calcite))
	x.FromChalk, x.PHAfter = estimate(a, a, b), closed.PH()
	x.FromRust, err = fromRust(w)
	return x, err
}

// ferrihydrite is Fe(OH)3 + 3 H+ = Fe+3 + 3 H2O, fresh rust: minteq.v4.dat.
var ferrihydrite = vantHoff(3.191, -73.374)

// fromRust is the ferric hydroxide in mol/kg that a closed water dissolves, beyond
// what it holds, until it is saturated with ferrihydrite.
func fromRust(w Water) (float64, error) {
	p := powersOf(w.temperatureC)
	lnK := ferrihydrite.at(&p)
	before := w.n[Fe3]
	var s Solver
	var o State
	ln, err := rising(func(ln float64) (float64, error) {
		v := w
		v.n[Fe3] = before + math.Exp(ln)
		v.balance() // with its hydroxide
		err := s.Solve(&v, Conditions{}, &o)
		return o.logA[Fe3] - 3*o.logA[H] + 3*math.Log(o.aw) - lnK, err
	}, math.Log(1e-14), math.Log(0.5), 1e-9)
	if errors.Is(err, errNoRoot) {
		return 0, nil // saturated already
	}
	return math.Exp(ln), err
}

// rough lets a state beyond the model's ionic strength pass: its warnings say so.
func rough(o State, err error) (State, error) {
	if errors.Is(err, ErrIonicStrength) {
		err = nil
	}
	return o, err
}

// bound is the share of a trace of a metal that stands in species with a chelator.
func bound(w Water, metal Component) (float64, error) {
	const trace = 1e-9 // mol/kg
	w.n[metal] = math.Max(w.n[metal], trace)
	w.balance()
	o, err := rough(Equilibrate(w, Conditions{}))
	if err != nil {
		return 0, err
	}
	held, all := 0.0, 0.0
	for i := range allSpecies {
		sp := &allSpecies[i]
		if v := float64(sp.comp[metal]) * o.molality[i]; v > 0 {
			all += v
			if sp.comp[Citrate]+sp.comp[EDTA]+sp.comp[Oxalate] > 0 {
				held += v
			}
		}
	}
	return held / all, nil
}
