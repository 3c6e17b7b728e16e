package chem

import (
	"errors"
	"fmt"
	"math"
)

// Conditions say what a water may do.
type Conditions struct {
	// MayFall are the solids allowed to fall. Those not named stay dissolved
	// however supersaturated, as brucite and magnesite do for hours.
	MayFall Solids
	// StandsOver are solids that lie in the water without limit: it is just
	// saturated with each.
	StandsOver Solids
	// Open puts the water in equilibrium with CO2 at CO2Atm (partial
	// pressure, above 0, at most MaxCO2Atm); else it is closed.
	Open   bool
	CO2Atm float64
}

// MaxCO2Atm is the greatest pressure of CO2 for which the gas law used holds.
const MaxCO2Atm = 5

// Tolerance is the greatest residual that a State may have: mass of each
// component, charge, saturation with each solid present, and agreement of
// ionic strength, water activity and mass of water, all relative.
const Tolerance = 1e-10

// aim is the residual at which the iteration stops.
const aim = 2e-11

// leastAmount is the amount of a component in mol/kg below which it counts as
// absent.
const leastAmount = 1e-16

// fastPasses bounds the fast iteration for each set of solids tried.
const fastPasses = 40

// Ways in which no equilibrium is given.
var (
	// ErrNoConvergence: the equations were not solved within the bound on
	// iterations. It should not happen; the message says at what residual.
	ErrNoConvergence = errors.New("the equilibrium was not found")
	// ErrContradiction: the conditions exclude each other, such as two forms
	// of one solid.
	ErrContradiction = errors.New("these conditions exclude each other")
	// ErrIonicStrength: the State is given, but beyond the range in which
	// activity coefficients mean anything.
	ErrIonicStrength = errors.New("too much is dissolved for this model")
	// ErrTooMuch: so much would dissolve (lime under air in which chalk may
	// not fall, hydrates in strong acid) that there is no State at all.
	ErrTooMuch = errors.New("far more would dissolve than can be described")
)

const (
	maxCols  = int(numComponents)
	maxSize  = maxCols + numSolids + 2
	maxWidth = maxSize + 1
)

// activeSpecies is a species of the water at hand, with components renumbered.
type activeSpecies struct {
	lnK   float64
	z     float64
	half  float64 // z*z/2
	gz    float64 // ln(10) A z*z
	gb    float64 // ln(10) b, kg/mol
	water float64
	group int
	n     int
	col   [4]int
	nu    [4]float64
	id    int
}

// activePhase is a phase that may take part.
type activePhase struct {
	id        int
	lnK       float64
	water     float64
	n         int
	col       [5]int
	nu        [5]float64
	unlimited bool
	in        bool    // present, so its saturation is an equation
	amount    float64 // mol per kg of all water; of an unlimited phase either sign
	weight    float64 // see setWeights
}

// Solver finds equilibria. It keeps its workspace, so that solving allocates
// nothing; it is not for use by several goroutines at once. The zero value is
// ready.
type Solver struct {
	// Enough is the residual at which the iteration stops, for a course of many
	// equilibria that need no more figures; 0, and what is below it, means well below
	// Tolerance.
	Enough float64

	temperatureC float64 // of the tables below
	ready        bool
	dhA, dhB     float64
	lnK          [maxSpecies]float64
	lnKPhase     [numSolids + 1]float64

	mask  uint32 // components present, for which cols and sp are made
	ncol  int
	cols  [maxCols]Component
	colOf [numComponents]int
	sp    []activeSpecies
	spBuf [maxSpecies]activeSpecies

	groups int
	groupD [32]float64 // B a, (kg/mol)^(1/2)
	groupF [32]float64
	groupG [32]float64

	phases   []activePhase
	phaseBuf [numSolids + 1]activePhase

	b      [maxCols]float64 // mol per kg of all water
	x      [32]float64      // ln activity; only maxCols are used
	conc   [maxSpecies]float64
	ionic  float64
	lnAw   float64
	free   float64 // kg of free water per kg of all water
	resid  float64
	passes int

	followable bool
	size       int     // equations
	inv        float64 // 1/free at the last evaluation
	nextAw     float64
	nextInv    float64
	sum        float64          // of all molalities
	liquid     float64          // mol of water, per kg of all, that is not in solids
	held       [32]float64      // mol per kg of free water: in solids less the whole
	awOf       [maxSize]float64 // derivatives of lnAw
	invOf      [maxSize]float64 // and of 1/free
	mat        [maxSize * maxWidth]float64
	f          [maxSize]float64
	scale      [maxSize]float64
}

// Solve finds the equilibrium of w under c, from a cold start, and writes it
// to out. The error is nil, or ErrIonicStrength with out valid all the same,
// or another error that says why there is no answer, with out as it was. It
// takes a bounded number of steps.
func (s *Solver) Solve(w *Water, c Conditions, out *State) error {
	return s.solve(w, c, out, false)
}

// Follow is Solve from the equilibrium found last, for a series of waters that
// differ little. It answers what Solve answers, within the tolerance.
func (s *Solver) Follow(w *Water, c Conditions, out *State) error {
	return s.solve(w, c, out, true)
}

func (s *Solver) solve(w *Water, c Conditions, out *State, follow bool) error {
	if err := w.check(); err != nil {
		return err
	}
	if err := c.check(); err != nil {
		return err
	}
	s.setTemperature(w.temperatureC)
	if c.StandsOver != 0 {
		if err := s.forms(&c); err != nil {
			return err
		}
	}
	same := s.setStructure(w, &c)
	s.passes = 0
	s.resid = math.Inf(1)
	if follow && same && s.followable && s.activeSet(fastPasses) {
		return s.finish(w, c, out)
	}
	s.followable = false
	s.coldStart()
	if !s.activeSet(fastPasses) {
		if err := s.robust(); err != nil {
			return err
		}
	}
	return s.finish(w, c, out)
}

// forms refuses a solid without limit of which a less soluble form may lie there
// too: all of it would turn into that one.
func (s *Solver) forms(c *Conditions) error {
	for i := 0; i < numSolids; i++ {
		for j := 0; j < numSolids; j++ {
			if i != j && c.StandsOver&(1<<i) != 0 && (c.StandsOver|c.MayFall)&(1<<j) != 0 &&
				phases[i].comp == phases[j].comp && s.lnKPhase[j] < s.lnKPhase[i] {
				return fmt.Errorf(
					"%w: %s and %s cannot be in one water at rest",
					ErrContradiction,
					solidNames[i],
					solidNames[j],
				)
			}
		}
	}
	return nil
}

func (c *Conditions) check() error {
	if c.Open && !(c.CO2Atm > 0 && c.CO2Atm <= MaxCO2Atm) {
		return fmt.Errorf(
			"the pressure of CO2 is %g atm: above 0 and at most %g atm would be right",
			c.CO2Atm,
			float64(MaxCO2Atm),
		)
	}
	return nil
}

// setTemperature makes the tables of constants for a temperature.
func (s *Solver) setTemperature(temperatureC float64) {
	if s.ready && s.temperatureC == temperatureC {
		return
	}
	p := powersOf(temperatureC)
	a, b := debyeHueckel(temperatureC)
	s.dhA, s.dhB = math.Ln10*a, b
	for i := range allSpecies {
		s.lnK[i] = allSpecies[i].logK.at(&p)
	}
	for i := range phases {
		s.lnKPhase[i] = phases[i].logK.at(&p)
	}
	s.temperatureC, s.ready = temperatureC, true
	s.mask, s.followable = 0, false
}

// setStructure chooses the components, species and phases that take part, and
// reports whether they are those of the last time.
func (s *Solver) setStructure(w *Water, c *Conditions) bool {
	mask := uint32(1) << H
	for j := range w.n {
		if Component(j) != H && w.n[j] > leastAmount {
			mask |= 1 << j
		}
	}
	supplied := c.StandsOver
	for i := 0; i < numSolids; i++ {
		if supplied&(1<<i) != 0 {
			mask |= phaseMask(i)
		}
	}
	if c.Open {
		mask |= 1 << C
	}
	same := mask == s.mask
	if !same {
		s.setSpecies(mask)
	}
	for k := 0; k < s.ncol; k++ {
		s.b[k] = w.n[s.cols[k]]
	}
	return s.setPhases(c) && same
}

func phaseMask(i int) uint32 {
	var m uint32
	for j, v := range phases[i].comp {
		if v != 0 {
			m |= 1 << j
		}
	}
	return m
}

// setSpecies renumbers the components of mask and lists their species.
func (s *Solver) setSpecies(mask uint32) {
	s.mask, s.followable = mask, false
	s.ncol = 0
	for j := range components {
		if mask&(1<<j) != 0 {
			s.cols[s.ncol], s.colOf[j] = Component(j), s.ncol
			s.ncol++
		}
	}
	s.groups = 0
	s.group(0) // group 0: neutral
	s.sp = s.spBuf[:0]
	for i := range allSpecies {
		sp := &allSpecies[i]
		a := activeSpecies{lnK: s.lnK[i], z: sp.z, half: sp.z * sp.z / 2, water: float64(sp.water), id: i}
		inside := true
		for j, v := range sp.comp {
			if v == 0 {
				continue
			}
			if mask&(1<<j) == 0 {
				inside = false
				break
			}
			a.col[a.n], a.nu[a.n] = s.colOf[j], float64(v)
			a.n++
		}
		if !inside {
			continue
		}
		z2 := s.dhA * sp.z * sp.z
		switch {
		case sp.z == 0 && sp.davies:
			a.gb = 0.1 * math.Ln10
		case sp.z == 0:
			a.gb = sp.gammaB * math.Ln10
		case sp.davies:
			a.gz, a.gb, a.group = z2, 0.3*z2, s.group(1)
		default:
			a.gz, a.gb, a.group = z2, sp.gammaB*math.Ln10, s.group(s.dhB*sp.gammaA)
		}
		s.sp = append(s.sp, a)
	}
}

// group numbers the distinct ion sizes, each given as B a.
func (s *Solver) group(d float64) int {
	for g := 0; g < s.groups; g++ {
		if s.groupD[g] == d {
			return g
		}
	}
	s.groupD[s.groups] = d
	s.groups++
	return s.groups - 1
}

// setPhases lists the phases whose components are all present, unlimited ones
// first, and reports whether the list is that of the last time.
func (s *Solver) setPhases(c *Conditions) bool {
	fall := s.firmest(c.MayFall &^ c.StandsOver)
	same := true
	n := 0
	put := func(i int, unlimited bool) {
		p := &s.phaseBuf[n]
		if n >= len(s.phases) || p.id != i || p.unlimited != unlimited {
			same = false
			*p = activePhase{id: i, unlimited: unlimited, in: unlimited, water: float64(phases[i].water)}
			for j, v := range phases[i].comp {
				if v != 0 {
					p.col[p.n], p.nu[p.n] = s.colOf[j], float64(v)
					p.n++
				}
			}
		} else if !s.followable {
			p.in, p.amount = unlimited, 0
		}
		p.lnK = s.lnKPhase[i]
		n++
	}
	if !s.followable {
		s.phases = s.phaseBuf[:0]
	}
	if c.Open {
		put(gasPhase, true)
		s.phaseBuf[n-1].lnK += math.Log(fugacityCO2(c.CO2Atm, s.temperatureC))
	}
	for i := 0; i < numSolids; i++ {
		if c.StandsOver&(1<<i) != 0 {
			put(i, true)
		}
	}
	for i := 0; i < numSolids; i++ {
		if fall&(1<<i) != 0 && phaseMask(i)&^s.mask == 0 {
			put(i, false)
		}
	}
	same = same && n == len(s.phases)
	s.phases = s.phaseBuf[:n]
	return same
}

// firmest drops from a set each solid of which another form, made of the same
// ions, is less soluble: the less soluble one falls instead.
func (s *Solver) firmest(set Solids) Solids {
	out := set
	if set&(set-1) == 0 {
		return out // one or none
	}
	for i := 0; i < numSolids; i++ {
		for j := 0; j < numSolids; j++ {
			if i != j && set&(1<<i) != 0 && set&(1<<j) != 0 &&
				phases[i].comp == phases[j].comp && s.lnKPhase[j] < s.lnKPhase[i] {
				out &^= 1 << i
			}
		}
	}
	return out
}

// activeSet solves by turns and lets solids fall or dissolve until each that
// is present has an amount above 0 and none that is absent is supersaturated.
// While the set still changes a rough solution is enough.
func (s *Solver) activeSet(passes int) bool {
	const most = 4 * (numSolids + 1)
	enough := max(aim, s.Enough)
	goal := max(3e-2, enough)
	evaluated := false
	for round := 0; round < most; round++ {
		if !s.newton(passes, goal, evaluated) {
			return false
		}
		if evaluated = !s.changeSet(goal > enough); !evaluated {
			continue
		}
		if goal == enough {
			return true
		}
		goal = enough
	}
	return false
}

// changeSet drops the solid of most negative amount, or else lets the most
// supersaturated one fall; it reports whether it did either. At a rough solution
// only what is beyond doubt is changed.
func (s *Solver) changeSet(rough bool) bool {
	drop, least := -1, 0.0
	add, highest := -1, max(1e-12, s.Enough)
	if rough {
		highest = 0.5
	}
	for k := range s.phases {
		p := &s.phases[k]
		switch {
		case p.unlimited:
		case p.in:
			if p.amount < least {
				drop, least = k, p.amount
			}
		default:
			if si := s.lnSaturation(p); si > highest {
				add, highest = k, si
			}
		}
	}
	switch {
	case drop >= 0:
		s.phases[drop].in, s.phases[drop].amount = false, 0
	case add >= 0:
		s.phases[add].in, s.phases[add].amount = true, 0
	default:
		return false
	}
	return true
}

// lnSaturation is ln(ion activity product / K) of a phase.
func (s *Solver) lnSaturation(p *activePhase) float64 {
	v := p.water*s.lnAw - p.lnK
	for l := 0; l < p.n; l++ {
		v += p.nu[l] * s.x[p.col[l]]
	}
	return v
}

// finish copies the answer out.
func (s *Solver) finish(w *Water, c Conditions, out *State) error {
	s.followable = true
	out.fill(s, w, c)
	if out.ionic > MaxIonicStrength {
		return fmt.Errorf(
			"%w: the ionic strength is %.2g mol/kg, and it holds to about %g",
			ErrIonicStrength,
			out.ionic,
			MaxIonicStrength,
		)
	}
	return nil
}
