package chem

import (
	"errors"
	"fmt"
	"math"
)

// BorohydrideHalfLifeMinutes is the half-life of dissolved borohydride in
// minutes: log10(t/min) = pH - (0.034 T - 1.92), T in K. Kreevoy and Jacobson,
// Ventron Alembic 15, 2, 1979; the equation is from memory (basis of the row in
// testdata/sodium-borohydride.csv), so results are estimates. Stated for basic
// solutions from about pH 8 to 14 and 10 to 40 deg C. Metals, cobalt and nickel
// above all, make it much shorter.
func BorohydrideHalfLifeMinutes(pH, temperatureC float64) float64 {
	return math.Pow(10, pH-(0.034*(temperatureC+kelvin)-1.92))
}

// HydrogenPerBorohydride is the mol of hydrogen that a mol of borohydride ends
// as: BH4- + 4 H2O = B(OH)4- + 4 H2.
const HydrogenPerBorohydride = 4

// hydrideFactor is the stated reliability of a HydrideBath's times: the
// half-life law holds within about a factor of two.
const hydrideFactor = 2

// HydridePoint is a borohydride bath at a time, the ranges at half and twice
// the half-life of the law.
type HydridePoint struct {
	Minutes       float64
	NaBH4GramPerL Estimate // borohydride left, written as NaBH4
	PH            Estimate
	// HydrogenLPerL is the hydrogen evolved since the start, in litres at the
	// bath's temperature and 1 atm per litre of bath.
	HydrogenLPerL Estimate
	// HydrogenLPerLPerMin is what comes off now.
	HydrogenLPerLPerMin Estimate
}

// ErrHydride: a bath without borohydride, or times that cannot be.
var ErrHydride = errors.New("this bath cannot be computed")

// hydrideGrid is the number of degrees of decay at which the pH is solved.
const hydrideGrid = 160

// BorohydrideCourse computes how the borohydride in a water decays, at the
// given times in minutes, 0 or more: strength, pH as borate takes its place
// (BH4- + 4 H2O = B(OH)4- + 4 H2, so an unbuffered bath raises its own pH and
// slows itself), and hydrogen. CO2 from the air is left out. Results are
// estimates: the law is from memory and good to about a factor of two in time.
func BorohydrideCourse(w Water, minutes []float64) ([]HydridePoint, error) {
	c0 := w.n[BH4]
	if !(c0 > 0) {
		return nil, fmt.Errorf("%w: it holds no borohydride", ErrHydride)
	}
	for _, m := range minutes {
		if !(m >= 0) || math.IsInf(m, 0) {
			return nil, fmt.Errorf("%w: %g min, where 0 or more would be right", ErrHydride, m)
		}
	}
	type node struct{ t, left, pH, rate float64 } // min, share of c0, pH, share per min
	var grid []node
	var s Solver
	var o State
	for i := 0; i <= hydrideGrid; i++ {
		share := decayed(i)
		v := hydrolysed(w, share)
		if err := s.Follow(&v, Conditions{}, &o); err != nil {
			return nil, err
		}
		g := node{
			left: 1 - share,
			pH:   o.pH,
			rate: math.Ln2 / BorohydrideHalfLifeMinutes(o.pH, w.temperatureC) * (1 - share),
		}
		if i > 0 {
			before := grid[i-1]
			// dt = d(share)/rate, the rate between the two taken as a power
			mean := g.rate
			if d := before.rate - g.rate; math.Abs(d) > 1e-9*g.rate {
				mean = d / math.Log(before.rate/g.rate)
			}
			g.t = before.t + (share-(1-before.left))/mean
		}
		grid = append(grid, g)
	}
	at := func(m float64) node {
		k := 0
		for k < len(grid)-1 && grid[k+1].t < m {
			k++
		}
		a := grid[k]
		if k == len(grid)-1 {
			// the rest decays by the last rate constant
			left := a.left * math.Exp(-a.rate/a.left*(m-a.t))
			return node{m, left, a.pH, a.rate / a.left * left}
		}
		b := grid[k+1]
		x := (m - a.t) / (b.t - a.t)
		return node{m, a.left + x*(b.left-a.left), a.pH + x*(b.pH-a.pH), a.rate + x*(b.rate-a.rate)}
	}
	molPerL := c0 / w.LitresPerKg()
	gram := molPerL * hydrideGramPerMol()
	litres := molPerL * HydrogenPerBorohydride * gasLitresPerMol(w.temperatureC)
	out := make([]HydridePoint, len(minutes))
	for i, m := range minutes {
		mid, fast, slow := at(m), at(m*hydrideFactor), at(m/hydrideFactor)
		out[i] = HydridePoint{m,
			estimate(gram*mid.left, gram*fast.left, gram*slow.left),
			estimate(mid.pH, fast.pH, slow.pH),
			estimate(litres*(1-mid.left), litres*(1-fast.left), litres*(1-slow.left)),
			estimate(litres*mid.rate, litres*fast.rate*hydrideFactor, litres*slow.rate/hydrideFactor)}
	}
	return out, nil
}

// FreshHydrideMinutes is the age at which a borohydride bath is described: pure
// borohydride in water has no pH that anyone reads, as its first traces of borate
// raise it from 7 to 10 within seconds.
const FreshHydrideMinutes = 1

// mostAcidHydrogenLPerL is the hydrogen, litres from each litre in the first
// minute, from which acid and borohydride together are no bath.
const mostAcidHydrogenLPerL = 0.1

// FreshHydride is a water of dissolved borohydride FreshHydrideMinutes later, part
// of it turned to borate (see BorohydrideCourse); another water is returned as it
// is. It fails with ErrHydride where acid in it drives off much of the hydrogen at
// once.
func FreshHydride(w Water) (Water, error) {
	c0 := w.n[BH4]
	if c0 <= leastAmount {
		return w, nil
	}
	course, err := BorohydrideCourse(w, []float64{0, FreshHydrideMinutes})
	if err != nil {
		return Water{}, err
	}
	start, now := course[0], course[1]
	left := now.NaBH4GramPerL.Value / start.NaBH4GramPerL.Value
	if start.PH.Value < 6.5 && left < 0.95 && now.HydrogenLPerL.Value > mostAcidHydrogenLPerL {
		return Water{}, fmt.Errorf(
			"%w: acid (pH %.1f) destroys borohydride in a breath, here %.0f %% of it with %.2g L of hydrogen from "+
				"each litre in the first minute; hydrogen burns, so never bring the two together",
			ErrHydride,
			start.PH.Value,
			100*(1-left),
			now.HydrogenLPerL.Value,
		)
	}
	return hydrolysed(w, 1-left), nil
}

// hydrolysed is the water with a share of its borohydride turned to borate:
// BH4- + H+ + 3 H2O = H3BO3 + 4 H2.
func hydrolysed(w Water, share float64) Water {
	gone := w.n[BH4] * share
	w.n[BH4] -= gone
	w.n[B] += gone
	w = w.renormal(1 - 3*gone/waterMolKg)
	w.balance()
	return w
}

// decayed is the share gone at a point of the grid: by decades from a
// millionth, as the first traces of borate set the pH, then evenly.
func decayed(i int) float64 {
	const decades = 60
	switch {
	case i == 0:
		return 0
	case i <= decades:
		return math.Pow(10, -7+6*float64(i)/decades) // to 0.1
	}
	x := float64(i-decades) / (hydrideGrid - decades)
	return 1 - 0.9*math.Pow(1e-3, x) // to 0.9991
}

// gasLitresPerMol is the molar volume of an ideal gas at 1 atm.
func gasLitresPerMol(temperatureC float64) float64 {
	return gasR * 1000 * (temperatureC + kelvin) / 101.325
}

// hydrideGramPerMol is the molar mass of NaBH4.
func hydrideGramPerMol() float64 { return 1000 * (componentMass[Na] + componentMass[BH4]) }
