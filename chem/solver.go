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

// values computes concentrations, the equations' values s.f with their scales,
// and the residual, from x, the phases' amounts, ionic, lnAw and free; and the
// water's activity and mass that these concentrations make. The equations are,
// in order: charge (in the row of H), mass of each further
// component, saturation with each phase present, ionic strength.
func (s *Solver) values() {
	nc := s.ncol
	effective := s.setGamma()
	lnAw := s.lnAw
	var sum, ionic, bound, charge, chargeScale float64
	var f, scale, solid [32]float64
	x := &s.x
	for i := range s.sp {
		sp := &s.sp[i]
		e := sp.lnK + sp.water*lnAw + sp.gz*s.groupF[sp.group&31] - sp.gb*effective + sp.nu[0]*x[sp.col[0]&31]
		for k := 1; k < sp.n; k++ {
			e += sp.nu[k&3] * x[sp.col[k&3]&31]
		}
		c := exp(min(e, 40))
		s.conc[i] = c
		sum += c
		bound += sp.water * c
		ionic += sp.half * c
		charge += sp.z * c
		chargeScale += math.Abs(sp.z) * c
		// column 0 is the mass of H until charge takes its place
		for k := 0; k < sp.n; k++ {
			v := sp.nu[k&3] * c
			f[sp.col[k&3]&31] += v
			scale[sp.col[k&3]&31] += math.Abs(v)
		}
	}
	protons := f[0]
	f[0] = charge
	inv := 1 / s.free
	worst := 0.0
	boundSolid := 0.0
	n := nc
	for q := range s.phases {
		p := &s.phases[q]
		if !p.in {
			continue
		}
		amount := p.amount * inv
		boundSolid += p.water * p.amount
		si := p.water*lnAw - p.lnK
		for l := 0; l < p.n; l++ {
			j := p.col[l] & 31
			si += p.nu[l] * x[j]
			solid[j] += p.nu[l] * amount
			scale[j] += math.Abs(p.nu[l] * amount)
		}
		s.f[n], s.scale[n] = si, 1
		worst = max(worst, math.Abs(si))
		n++
	}
	for j := 1; j < nc; j++ {
		b := s.b[j] * inv
		s.held[j] = solid[j] - b
		f[j] += solid[j] - b
		scale[j] += b
	}
	// the mass of H follows from the others and from charge, but their errors
	// add up in it
	protons += solid[0] - s.b[0]*inv
	protonScale := scale[0] + math.Abs(s.b[0])*inv + chargeScale
	if r := math.Abs(protons) / protonScale; !(r <= worst) {
		worst = r
	}
	scale[0] = chargeScale
	for j := 0; j < nc; j++ {
		s.f[j], s.scale[j] = f[j], scale[j]
		if r := math.Abs(f[j]) / scale[j]; !(r <= worst) {
			worst = r
		}
	}
	s.f[n], s.scale[n] = ionic-s.ionic, ionic
	s.size = n + 1
	if r := math.Abs(ionic-s.ionic) / ionic; !(r <= worst) {
		worst = r
	}
	s.sum, s.liquid = sum, waterMolKg-boundSolid
	s.nextAw = lnWaterActivity(sum)
	s.nextInv = (waterMolKg + bound) / s.liquid
	s.resid = max(worst, math.Abs(s.nextAw-lnAw), math.Abs(s.nextInv/inv-1))
	s.inv = inv
}

// jacobian fills s.mat with the derivatives of the equations at what values
// computed, and moves s.f to the water's activity and mass found there.
func (s *Solver) jacobian() {
	nc := s.ncol
	n := s.size
	width := n + 1
	last := n - 1
	mat := s.mat[: n*width : n*width]
	clear(mat)
	slope := 1.0 // d effective / d ionic
	if s.ionic > activityLimit {
		slope = 0
	}
	var chargeRow, ionicRow, ionicCol, sumOf, boundOf [32]float64
	var dIonic, chargeIonic, sumIonic, boundIonic, chargeWater, ionicWater float64
	for i := range s.sp {
		sp := &s.sp[i]
		c := s.conc[i]
		zc := sp.z * c
		hc := sp.half * c
		wc := sp.water * c
		g := (sp.gz*s.groupG[sp.group&31] - sp.gb) * slope // d ln c / dI
		dIonic += hc * g
		chargeIonic += zc * g
		sumIonic += c * g
		boundIonic += wc * g
		chargeWater += zc * sp.water
		ionicWater += hc * sp.water
		for k := 0; k < sp.n; k++ {
			j := sp.col[k&3]
			nu := sp.nu[k&3]
			v := nu * c
			chargeRow[j&31] += zc * nu
			ionicRow[j&31] += hc * nu
			ionicCol[j&31] += v * g
			sumOf[j&31] += v
			boundOf[j&31] += wc * nu
			row := mat[j*width : j*width+nc]
			row[j] += v * nu
			for l := k + 1; l < sp.n; l++ {
				row[sp.col[l&3]] += v * sp.nu[l&3]
			}
		}
	}
	// columns rise within a species, so that only the upper half was filled
	for j := 1; j < nc; j++ {
		row := mat[j*width : j*width+width]
		row[last] = ionicCol[j]
		for l := 0; l < j; l++ {
			row[l] = mat[l*width+j]
		}
	}
	// how the water's activity and 1/free follow
	dAw := 0.0
	if s.sum < 2*activityLimit {
		dAw = -0.017 / (1 - 0.017*s.sum)
	}
	dInv := 1 / s.liquid
	for j := 0; j < nc; j++ {
		s.awOf[j], s.invOf[j] = dAw*sumOf[j], dInv*boundOf[j]
	}
	s.awOf[last], s.invOf[last] = dAw*sumIonic, dInv*boundIonic
	k := nc
	for q := range s.phases {
		p := &s.phases[q]
		if !p.in {
			continue
		}
		for l := 0; l < p.n; l++ {
			j := p.col[l]
			mat[j*width+k] = p.nu[l] * s.inv
			mat[k*width+j] = p.nu[l]
		}
		mat[k] = 0 // phases carry no charge
		s.awOf[k], s.invOf[k] = 0, dInv*p.water*s.inv
		k++
	}
	copy(mat[:nc], chargeRow[:nc])
	copy(mat[last*width:last*width+nc], ionicRow[:nc])
	mat[last] = chargeIonic
	mat[last*width+last] = dIonic - 1
	// the equations' derivatives by lnAw and 1/free, times those
	offAw, offInv := s.nextAw-s.lnAw, s.nextInv-s.inv
	follow := func(r int, byAw, byInv float64) {
		s.f[r] += byAw*offAw + byInv*offInv
		row := mat[r*width : r*width+n]
		aw, inv := s.awOf[:len(row)], s.invOf[:len(row)]
		for u := range row {
			row[u] += byAw*aw[u] + byInv*inv[u]
		}
	}
	follow(0, chargeWater, 0)
	for j := 1; j < nc; j++ {
		follow(j, boundOf[j], s.held[j]*s.free)
	}
	k = nc
	for q := range s.phases {
		if p := &s.phases[q]; p.in {
			if p.water != 0 {
				follow(k, p.water, 0)
			}
			k++
		}
	}
	follow(last, ionicWater, 0)
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
// goal or, below Tolerance, no longer falls. It reports whether it got there. When
// evaluated, values has been called already.
func (s *Solver) newton(most int, goal float64, evaluated bool) bool {
	before := math.Inf(1)
	for pass := 0; pass < most; pass++ {
		if !evaluated {
			s.values()
			s.passes++
		}
		evaluated = false
		if s.resid <= goal {
			return true
		}
		if math.IsNaN(s.resid) || s.liquid <= 0 {
			return false
		}
		if s.resid < 0.8*Tolerance && s.resid >= before/2 {
			return true // rounding: it gets no better
		}
		before = s.resid
		s.jacobian()
		if !s.eliminate(s.size, 1e-13) {
			return false
		}
		s.step()
	}
	return false
}

// step takes the Newton step in s.f, damped.
func (s *Solver) step() {
	const most = 3.0 // ln units
	nc := s.ncol
	lnAw, inv := s.nextAw, s.nextInv
	for j := 0; j < nc; j++ {
		d := max(-most, min(most, s.f[j]))
		s.x[j] += d
		lnAw += s.awOf[j] * d
		inv += s.invOf[j] * d
	}
	k := nc
	for q := range s.phases {
		if p := &s.phases[q]; p.in {
			p.amount += s.f[k]
			inv += s.invOf[k] * s.f[k]
			k++
		}
	}
	before := s.ionic
	s.ionic = max(before/10, min(before*10+1e-8, before+s.f[k]))
	lnAw += s.awOf[k] * (s.ionic - before)
	inv += s.invOf[k] * (s.ionic - before)
	s.lnAw = max(lnWaterActivity(math.Inf(1)), min(0, lnAw))
	s.free = 1 / max(0.1, min(10, inv))
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
// While the set still changes a rough solution is enough.
func (s *Solver) activeSet(passes int) bool {
	const most = 4 * (numSolids + 1)
	goal := 3e-2
	evaluated := false
	for round := 0; round < most; round++ {
		if !s.newton(passes, goal, evaluated) {
			return false
		}
		if evaluated = !s.changeSet(goal); !evaluated {
			continue
		}
		if goal == aim {
			return true
		}
		goal = aim
	}
	return false
}

// changeSet drops the solid of most negative amount, or else lets the most
// supersaturated one fall; it reports whether it did either. At a rough goal
// only what is beyond doubt is changed.
func (s *Solver) changeSet(goal float64) bool {
	drop, least := -1, 0.0
	add, highest := -1, 1e-12
	if goal > aim {
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
		p.k = exp(sp.lnK + sp.gz*root/(1+s.groupD[sp.group]*root) - sp.gb*s.ionic)
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
		h := exp(y)
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
				c *= exp(open - 2*y)
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

// finish copies the answer out.
func (s *Solver) finish(w *Water, c Conditions, out *State) error {
	s.followable = true
	out.fill(s, w, c)
	if out.ionic > MaxIonicStrength {
		return fmt.Errorf("%w: the ionic strength is %.2g mol/kg, and it holds to about %g", ErrIonicStrength, out.ionic, MaxIonicStrength)
	}
	return nil
}
