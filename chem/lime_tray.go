package chem

import (
	"errors"
	"fmt"
	"math"
)

// Air is how the air above a tray moves: the resistance that CO2 meets on its
// way to the surface.
type Air int

const (
	// StillAir of a closed room, without a fan.
	StillAir Air = iota
	// Draught from a fan, a hood or an open window.
	Draught
)

// gasFilm is the mass transfer coefficient of the air in m/s. 2e-3 is what the
// flux rows of testdata/limewater-carbonation-kinetics.csv take; a draught is
// some three times as fast (from memory: films over evaporating water).
func (a Air) gasFilm() float64 {
	if a == Draught {
		return 6e-3
	}
	return 2e-3
}

// liquidFilm is the physical mass transfer coefficient of the liquid in m/s,
// which counts when the lime is nearly spent: 5e-6 for a still tray, 3e-5 for
// one that is rocked (from memory, the order of magnitude only).
func liquidFilm(stirred bool) float64 {
	if stirred {
		return 3e-5
	}
	return 5e-6
}

// trayFactor is the stated reliability of a LimeTray: flux and time hold
// within this factor either way.
const trayFactor = 2

// co2Hydroxide is the rate constant of CO2 + OH- = HCO3- in m3/(mol s), 0 to
// 40 deg C, at zero ionic strength: log10 k = 13.635 - 2895/T, in L/(mol s).
// Pinsent, Pearson and Roughton, Trans. Faraday Soc. 52, 1512, 1956.
func co2Hydroxide(temperatureC float64) float64 {
	return math.Pow(10, 13.635-2895/(temperatureC+kelvin)) / 1000
}

// co2Diffusivity of CO2 in water in m2/s: 2.35e-6 exp(-2119/T). Versteeg and
// van Swaaij, J. Chem. Eng. Data 33, 29, 1988 (equation from memory; 1.92e-9
// at 25 deg C as phreeqc.dat has it).
func co2Diffusivity(temperatureC float64) float64 {
	return 2.35e-6 * math.Exp(-2119/(temperatureC+kelvin))
}

// Surface is that of alkaline water under air.
type Surface struct {
	TemperatureC     float64
	HydroxideMolPerL float64
	CO2Atm           float64 // in the air
	GasMS, LiquidMS  float64 // transfer through air and liquid, m/s
}

// CO2Flux is the CO2 in mol/(m2 s) that the water takes up through it: two
// resistances in series, the air's and the liquid's,
// 1/N = 1/(kGas cGas) + 1/(c* sqrt(D k [OH-] + kL^2)), with c* the solubility
// and kL the liquid film (Danckwerts, Gas-Liquid Reactions, 1970: fast
// pseudo-first-order reaction with surface renewal). Where [OH-] is large
// against c* it is the film of fast reaction alone. Good to a factor of two.
func (s Surface) CO2Flux() float64 {
	p := powersOf(s.TemperatureC)
	henry := math.Exp(phases[gasPhase].logK.at(&p) + allSpecies[speciesIndex["CO2"]].logK.at(&p))
	solubility := 1000 * henry * s.CO2Atm // mol/m3
	air := s.CO2Atm * 101325 / (gasR * 1000 * (s.TemperatureC + kelvin))
	liquid := solubility * math.Sqrt(
		co2Diffusivity(s.TemperatureC)*co2Hydroxide(s.TemperatureC)*1000*s.HydroxideMolPerL+s.LiquidMS*s.LiquidMS,
	)
	return 1 / (1/(s.GasMS*air) + 1/liquid)
}

// LimeTray is lime water in an open tray.
type LimeTray struct {
	// Water at the start. Lime beyond what dissolves lies on the bottom and
	// goes into solution as the air takes lime away.
	Water   Water
	DepthMM float64 // of the liquid: volume over surface, above 0
	CO2Atm  float64 // in the room, 4e-4 to 2e-3 as a rule
	Air     Air
	Stirred bool
}

// Estimate is a value with the range that its stated reliability leaves.
type Estimate struct{ Value, Low, High float64 }

// estimate orders the ends.
func estimate(value, a, b float64) Estimate {
	return Estimate{value, min(value, a, b), max(value, a, b)}
}

// TrayPoint is the state of a tray at a time, the ranges at twice and half the
// uptake.
type TrayPoint struct {
	Minutes float64
	// LimeGramPerL is what can still be titrated as hydroxide, dissolved and
	// on the bottom, written as Ca(OH)2.
	LimeGramPerL  Estimate
	PH            Estimate
	ChalkGramPerL Estimate // fallen, or floating as a skin
}

// ErrTray: figures of a tray that cannot be.
var ErrTray = errors.New("this tray cannot be computed")

// trayGrid is the number of uptakes at which a tray's chemistry is solved.
const trayGrid = 120

// Course computes the tray at the given times, in minutes, each 0 or more. It
// fails with ErrTray or an error of the equilibrium.
//
// Between the points of the grid it interpolates. A crust of chalk on a still
// tray slows the uptake below what is computed; splashing and thin films on
// sheets lifted out speed it up. Stated reliability: a factor of two.
func (t *LimeTray) Course(minutes []float64) ([]TrayPoint, error) {
	if !(t.DepthMM > 0 && t.DepthMM <= 1000) {
		return nil, fmt.Errorf(
			"%w: a depth of %g mm, where above 0 and at most 1000 mm would be right",
			ErrTray,
			t.DepthMM,
		)
	}
	c := Conditions{MayFall: Calcite | Portlandite}
	open := Conditions{MayFall: Calcite, Open: true, CO2Atm: t.CO2Atm}
	if err := open.check(); err != nil {
		return nil, err
	}
	last := t.Water
	for _, m := range minutes {
		if !(m >= 0) || math.IsInf(m, 0) {
			return nil, fmt.Errorf("%w: %g min, where 0 or more would be right", ErrTray, m)
		}
	}
	end, err := Equilibrate(last, open)
	if err != nil {
		return nil, err
	}
	total := max(end.CO2TakenUp(), 0) * end.free             // mol per kg of all water
	perM2 := 1000 / t.Water.LitresPerKg() * t.DepthMM / 1000 // kg of all water per m2 of surface
	type node struct {
		t, lime, pH, chalk float64
	}
	var grid []node
	var s Solver
	var o State
	var flux, uptake float64
	for i := 0; i <= trayGrid; i++ {
		// closer together towards the end, which is only neared
		u := float64(i) / (trayGrid + 1)
		n := total * (1 - (1-u)*(1-u)*(1-u))
		w := t.Water
		w.n[C] += n
		w.balance()
		if err := s.Follow(&w, c, &o); err != nil {
			return nil, err
		}
		// what would still be taken up against the water's own CO2
		drive := max(0, 1-o.CO2Fugacity()/fugacityCO2(t.CO2Atm, w.temperatureC))
		f := drive * Surface{w.temperatureC, o.Molality("OH-"), t.CO2Atm, t.Air.gasFilm(),
			liquidFilm(t.Stirred)}.CO2Flux()
		g := node{
			lime:  o.limeGramPerL(),
			pH:    o.pH,
			chalk: max(0, o.Fallen(Calcite)) * SolidGramPerMol("calcite") / o.litresPerFreeKg(),
		}
		if i > 0 {
			if f <= 0 {
				break
			}
			// dt = dn perM2 / flux, flux between the two taken as linear
			mean := f
			if d := flux - f; math.Abs(d) > 1e-9*flux {
				mean = d / math.Log(flux/f)
			}
			g.t = grid[len(grid)-1].t + (n-uptake)*perM2/mean/60
		} else if f <= 0 {
			total = 0
		}
		grid = append(grid, g)
		flux, uptake = f, n
		if total == 0 {
			break
		}
	}
	at := func(m float64) node {
		k := 0
		for k < len(grid)-1 && grid[k+1].t < m {
			k++
		}
		a := grid[k]
		if k == len(grid)-1 {
			return a
		}
		b := grid[k+1]
		x := (m - a.t) / (b.t - a.t)
		return node{m, a.lime + x*(b.lime-a.lime), a.pH + x*(b.pH-a.pH), a.chalk + x*(b.chalk-a.chalk)}
	}
	out := make([]TrayPoint, len(minutes))
	for i, m := range minutes {
		mid, fast, slow := at(m), at(m*trayFactor), at(m/trayFactor)
		out[i] = TrayPoint{
			m,
			estimate(mid.lime, fast.lime, slow.lime),
			estimate(mid.pH, fast.pH, slow.pH),
			estimate(mid.chalk, fast.chalk, slow.chalk),
		}
	}
	return out, nil
}

// limeGramPerL is the lime left: hydroxide of solution and bottom as Ca(OH)2.
func (o *State) limeGramPerL() float64 {
	hydroxide := o.Molality("OH-") + o.Molality("CaOH+") + o.Molality("MgOH+") + 2*max(0, o.Fallen(Portlandite))
	return hydroxide / 2 * SolidGramPerMol("portlandite") / o.litresPerFreeKg()
}

// litresPerFreeKg is the volume in litres that holds a kg of free water.
func (o *State) litresPerFreeKg() float64 {
	w, all := o.dissolved()
	return w.LitresPerKg() * all
}
