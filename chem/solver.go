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
const aim = 2e-12

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
	groupD [24]float64 // B a, (kg/mol)^(1/2)
	groupF [24]float64
	groupG [24]float64

	phases   []activePhase
	phaseBuf [numSolids + 1]activePhase

	b      [maxCols]float64 // mol per kg of all water
	x      [maxCols]float64 // ln activity
	conc   [maxSpecies]float64
	ionic  float64
	lnAw   float64
	free   float64 // kg of free water per kg of all water
	resid  float64
	passes int

	followable bool
	mat        [maxSize * maxWidth]float64
	f          [maxSize]float64
	scale      [maxSize]float64
}

// Solve finds the equilibrium of w under c, from a cold start, and writes it
// to out. The error is nil, or ErrIonicStrength with out valid all the same,
// or another error that says why there is no answer. It takes a bounded
// number of steps.
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

func (c *Conditions) check() error {
	if c.Open && !(c.CO2Atm > 0 && c.CO2Atm <= MaxCO2Atm) {
		return fmt.Errorf("the pressure of CO2 is %g atm: above 0 and at most %g atm would be right", c.CO2Atm, float64(MaxCO2Atm))
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

// evaluate computes concentrations, the equations' values s.f, their scales,
// and the residual, from x, the phases' amounts, ionic, lnAw and free. With
// jacobian it fills s.mat as well. The equations are, in order: charge (in
// the row of H), mass of each further component, saturation with each phase
// present, ionic strength.
func (s *Solver) evaluate(jacobian bool) {
	nc := s.ncol
	np := 0
	for k := range s.phases {
		if s.phases[k].in {
			np++
		}
	}
	n := nc + np + 1
	width := n + 1
	last := n - 1
	if jacobian {
		clear(s.mat[:n*width])
	}
	effective := s.setGamma()
	slope := 1.0 // d effective / d ionic
	if s.ionic > activityLimit {
		slope = 0
	}
	for i := 0; i < n; i++ {
		s.f[i], s.scale[i] = 0, 0
	}
	var sum, ionic, bound, dIonic float64
	var chargeRow, ionicRow [maxCols]float64
	chargeIonic := 0.0
	mat := &s.mat
	x := &s.x
	for i := range s.sp {
		sp := &s.sp[i]
		e := sp.lnK + sp.water*s.lnAw + sp.gz*s.groupF[sp.group] - sp.gb*effective
		for k := 0; k < sp.n; k++ {
			e += sp.nu[k] * x[sp.col[k]&31]
		}
		c := math.Exp(min(e, 40))
		s.conc[i] = c
		sum += c
		bound += sp.water * c
		zc := sp.z * c
		hc := sp.half * c
		ionic += hc
		s.f[0] += zc
		s.scale[0] += math.Abs(zc)
		for k := 0; k < sp.n; k++ {
			if j := sp.col[k]; j > 0 {
				v := sp.nu[k] * c
				s.f[j] += v
				s.scale[j] += math.Abs(v)
			}
		}
		if !jacobian {
			continue
		}
		// d ln c / dI
		g := (sp.gz*s.groupG[sp.group] - sp.gb) * slope
		dIonic += hc * g
		chargeIonic += zc * g
		for k := 0; k < sp.n; k++ {
			j := sp.col[k]
			chargeRow[j&31] += zc * sp.nu[k]
			ionicRow[j&31] += hc * sp.nu[k]
			if j > 0 {
				v := sp.nu[k] * c
				row := j * width
				for l := 0; l < sp.n; l++ {
					mat[row+sp.col[l]] += v * sp.nu[l]
				}
				mat[row+last] += v * g
			}
		}
	}
	inv := 1 / s.free
	boundSolid := 0.0
	k := nc
	for q := range s.phases {
		p := &s.phases[q]
		if !p.in {
			continue
		}
		amount := p.amount * inv
		boundSolid += p.water * p.amount
		si := p.water*s.lnAw - p.lnK
		for l := 0; l < p.n; l++ {
			j := p.col[l]
			si += p.nu[l] * x[j&31]
			if j > 0 {
				s.f[j] += p.nu[l] * amount
				s.scale[j] += math.Abs(p.nu[l] * amount)
				if jacobian {
					mat[j*width+k] = p.nu[l] * inv
				}
			}
			if jacobian {
				mat[k*width+j] = p.nu[l]
			}
		}
		s.f[k], s.scale[k] = si, 1
		k++
	}
	worst := 0.0
	for j := 1; j < nc; j++ {
		s.f[j] -= s.b[j] * inv
		s.scale[j] += s.b[j] * inv
	}
	s.f[last] = ionic - s.ionic
	s.scale[last] = ionic
	for i := 0; i < n; i++ {
		if s.scale[i] == 0 {
			s.scale[i] = 1
		}
		if r := math.Abs(s.f[i]) / s.scale[i]; !(r <= worst) {
			worst = r
		}
	}
	if jacobian {
		for j := 0; j < nc; j++ {
			mat[j] = chargeRow[j]
			mat[last*width+j] = ionicRow[j]
		}
		mat[last] = chargeIonic
		mat[last*width+last] = dIonic - 1
	}
	lnAw := lnWaterActivity(sum)
	free := (waterMolKg - boundSolid) / (waterMolKg + bound)
	worst = max(worst, math.Abs(lnAw-s.lnAw), math.Abs(free-s.free)/free)
	s.lnAw, s.free = lnAw, free
	s.resid = worst
}

// activityLimit is the ionic strength in mol/kg beyond which activity
// coefficients are held at their value there: far beyond the model, where only
// an answer that keeps mass and charge is wanted, and the formulas run away.
const activityLimit = 2

// lnWaterActivity is for a sum of molalities: a = 1 - 0.017 sum (Garrels and
// Christ, Solutions, Minerals and Equilibria, 1965, p. 66, as PHREEQC does),
// held beyond 2 activityLimit.
func lnWaterActivity(sum float64) float64 {
	return math.Log1p(-0.017 * min(sum, 2*activityLimit))
}

// setGamma computes what the activity coefficients of all species share, and
// returns the ionic strength that counts for them.
func (s *Solver) setGamma() float64 {
	effective := min(s.ionic, activityLimit)
	root := math.Sqrt(effective)
	for g := 0; g < s.groups; g++ {
		r := 1 / (1 + s.groupD[g]*root)
		s.groupF[g] = root * r
		s.groupG[g] = 0.5 * r * r / root
	}
	return effective
}

// newton iterates with the phases present fixed, until the residual is at the
// aim or no longer falls. It reports whether Tolerance was reached.
func (s *Solver) newton(most int) bool {
	before := math.Inf(1)
	for pass := 0; pass < most; pass++ {
		s.evaluate(true)
		s.passes++
		if s.resid <= aim {
			return true
		}
		if math.IsNaN(s.resid) || s.free <= 0 {
			return false
		}
		if s.resid < Tolerance/10 && s.resid >= before/2 {
			return true // rounding: it gets no better
		}
		before = s.resid
		if !s.step() {
			return false
		}
	}
	return false
}

// step solves for the Newton step and takes it, damped.
func (s *Solver) step() bool {
	nc := s.ncol
	n := nc + 1
	for k := range s.phases {
		if s.phases[k].in {
			n++
		}
	}
	if !s.eliminate(n, 1e-13) {
		return false
	}
	const most = 3.0 // ln units in one step
	for j := 0; j < nc; j++ {
		d := s.f[j]
		s.x[j] += max(-most, min(most, d))
	}
	k := nc
	for q := range s.phases {
		if p := &s.phases[q]; p.in {
			p.amount += s.f[k]
			k++
		}
	}
	s.ionic = max(s.ionic/10, min(s.ionic*10+1e-8, s.ionic+s.f[n-1]))
	return true
}

// eliminate solves mat * d = -f by Gaussian elimination with scaled partial
// pivoting, leaving d in f; it reports whether every pivot was above leastPivot
// of its row's scale.
func (s *Solver) eliminate(n int, leastPivot float64) bool {
	width := n + 1
	m := s.mat[: n*width : n*width]
	for i := 0; i < n; i++ {
		row := m[i*width : i*width+width]
		r := 1 / s.scale[i]
		for j := range row {
			row[j] *= r
		}
		row[n] = -s.f[i] * r
	}
	for i := 0; i < n; i++ {
		best, at := 0.0, -1
		for r := i; r < n; r++ {
			if v := math.Abs(m[r*width+i]); v > best {
				best, at = v, r
			}
		}
		if !(best > leastPivot) {
			return false
		}
		pivot := m[i*width : i*width+width]
		if at != i {
			other := m[at*width : at*width+width]
			for j := i; j < width; j++ {
				pivot[j], other[j] = other[j], pivot[j]
			}
		}
		inv := 1 / pivot[i]
		tail := pivot[i+1:]
		for r := i + 1; r < n; r++ {
			row := m[r*width : r*width+width]
			if row[i] == 0 {
				continue
			}
			k := row[i] * inv
			dst := row[i+1:]
			dst = dst[:len(tail)]
			for j, v := range tail {
				dst[j] -= k * v
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		row := m[i*width : i*width+width]
		v := row[n]
		for j := i + 1; j < n; j++ {
			v -= row[j] * s.f[j]
		}
		v /= row[i]
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
		s.f[i] = v
	}
	return true
}

// activeSet solves by turns and lets solids fall or dissolve until each that
// is present has an amount above 0 and none that is absent is supersaturated.
func (s *Solver) activeSet(passes int) bool {
	const most = 4 * (numSolids + 1)
	for round := 0; round < most; round++ {
		if !s.newton(passes) {
			return false
		}
		drop, least := -1, 0.0
		add, highest := -1, 1e-12
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
			return true
		}
	}
	return false
}

// lnSaturation is ln(ion activity product / K) of a phase.
func (s *Solver) lnSaturation(p *activePhase) float64 {
	v := p.water*s.lnAw - p.lnK
	for l := 0; l < p.n; l++ {
		v += p.nu[l] * s.x[p.col[l]]
	}
	return v
}

// coldStart guesses the state from the amounts: acids and their anions shared
// out at the pH at which charges balance, ion pairs left out.
func (s *Solver) coldStart() {
	guess := s.b
	for k := range s.phases {
		p := &s.phases[k]
		p.in, p.amount = p.unlimited, 0
		if !p.unlimited || p.id == gasPhase {
			continue
		}
		p.amount = -typicalSolubility[p.id]
		for l := 0; l < p.n; l++ {
			if p.col[l] > 0 {
				guess[p.col[l]] += p.nu[l] * typicalSolubility[p.id]
			}
		}
	}
	s.lnAw, s.free = 0, 1
	ionic := 1e-7
	for j := 1; j < s.ncol; j++ {
		z := allSpecies[s.cols[j]].z // species are numbered masters first
		guess[j] = max(guess[j], 1e-9)
		ionic += z * z * guess[j] / 2
	}
	s.ionic = min(ionic, 2)
	s.startFromAcids(&guess)
}

// typicalSolubility in mol/kg by solid, as a first guess for saturated water.
var typicalSolubility = [numSolids]float64{2e-4, 2e-4, 4e-4, 0.02, 2e-4, 0.01, 5e-4, 1e-3, 0.015}

// partner is a species made of one component and protons.
type partner struct {
	col  int
	h    float64
	z    float64
	k    float64 // concentration per activity of the component and of h^h
	term float64
}

// startFromAcids sets x and ionic for total amounts, with species of one
// component and protons only: the root of ln(positive charge / negative
// charge), which rises with ln h, by Newton kept inside a bracket.
func (s *Solver) startFromAcids(total *[maxCols]float64) {
	var ps [maxSpecies]partner
	n := 0
	root := math.Sqrt(s.ionic)
	for i := range s.sp {
		sp := &s.sp[i]
		p := partner{z: sp.z, col: -1}
		fits := true
		for k := 0; k < sp.n; k++ {
			switch {
			case sp.col[k] == 0:
				p.h = sp.nu[k]
			case p.col < 0 && sp.nu[k] == 1:
				p.col = sp.col[k]
			default:
				fits = false
			}
		}
		if !fits {
			continue
		}
		p.k = math.Exp(sp.lnK + sp.gz*root/(1+s.groupD[sp.group]*root) - sp.gb*s.ionic)
		ps[n] = p
		n++
	}
	open := math.Inf(-1)
	carbonate := -1
	if len(s.phases) > 0 && s.phases[0].id == gasPhase {
		open, carbonate = s.phases[0].lnK, s.colOf[C]
	}
	lo, hi := -39.0, 3.0
	y := -16.0
	var den, mean [maxCols]float64
	for pass := 0; pass < 40; pass++ {
		h := math.Exp(y)
		var pw [8]float64 // h^-3 .. h^4
		pw[3] = 1
		inv := 1 / h
		pw[2], pw[1], pw[0] = inv, inv*inv, inv*inv*inv
		pw[4], pw[5], pw[6], pw[7] = h, h*h, h*h*h, h*h*h*h
		for j := 1; j < s.ncol; j++ {
			den[j], mean[j] = 0, 0
		}
		for i := range ps[:n] {
			p := &ps[i]
			p.term = p.k * pw[int(p.h)+3]
			if p.col > 0 {
				den[p.col] += p.term
				mean[p.col] += p.h * p.term
			}
		}
		var pos, neg, dpos, dneg float64
		for i := range ps[:n] {
			p := &ps[i]
			if p.z == 0 {
				continue
			}
			c, slope := p.term, p.h
			switch {
			case p.col < 0:
			case p.col == carbonate:
				c *= math.Exp(open - 2*y)
				slope -= 2
			default:
				c *= total[p.col] / den[p.col]
				slope -= mean[p.col] / den[p.col]
			}
			if v := p.z * c; v > 0 {
				pos += v
				dpos += v * slope
			} else {
				neg -= v
				dneg -= v * slope
			}
		}
		g := math.Log(pos / neg)
		if g > 0 {
			hi = y
		} else {
			lo = y
		}
		d := g / (dpos/pos - dneg/neg)
		next := y - d
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if done := math.Abs(next-y) < 0.02; done {
			y = next
			break
		}
		y = next
	}
	s.x[0] = y
	for j := 1; j < s.ncol; j++ {
		s.x[j] = math.Log(total[j] / den[j])
	}
	if carbonate > 0 {
		s.x[carbonate] = open - 2*y
	}
}

// finish checks the answer and copies it out.
func (s *Solver) finish(w *Water, c Conditions, out *State) error {
	s.evaluate(false)
	if !(s.resid <= Tolerance) {
		s.followable = false
		return fmt.Errorf("%w (residual %.1g)", ErrNoConvergence, s.resid)
	}
	s.followable = true
	out.fill(s, w, c)
	if out.ionic > MaxIonicStrength {
		return fmt.Errorf("%w: the ionic strength is %.2g mol/kg, and it holds to about %g", ErrIonicStrength, out.ionic, MaxIonicStrength)
	}
	return nil
}
