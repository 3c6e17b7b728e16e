package chem

import (
	"fmt"
	"math"
	"strings"
)

// The slow and sure way, for the few waters at which the fast iteration fails.
//
// With activity coefficients held fixed, equilibrium is a convex problem: in
// x = ln activity of the components, minimise sum c_i(x) - b x subject to no
// solid being supersaturated (a linear inequality in x) and saturation with
// each unlimited phase (a linear equality); the multipliers are the amounts of
// the phases. This is the dual of the minimum of the Gibbs energy (Boyd and
// Vandenberghe, Convex Optimization, 2004, section 5.2.4 for the form, 11.3
// for the barrier method used here). Around it, the ionic strength is found
// by bracketing.

// robust tries, and polishes the result by the fast iteration.
func (s *Solver) robust() error {
	s.coldStart()
	start := s.x
	lo, hi := math.Log(1e-9), math.Log(1e3)
	y := math.Log(max(s.ionic, 1e-8))
	var before, hBefore float64
	beyond := false
	for pass := 0; pass < 80; pass++ {
		s.ionic = math.Exp(y)
		s.x = start
		if err := s.feasible(); err != nil {
			return err
		}
		if !s.barrier() {
			break
		}
		ionic := s.water()
		if !(s.free > 0) {
			return fmt.Errorf("%w: the solids would bind all the water", ErrTooMuch)
		}
		beyond = beyond || s.ionic > activityLimit && ionic > activityLimit
		h := math.Log(ionic) - y
		if math.Abs(h) < 1e-3 || hi-lo < 1e-9 {
			// near enough for the fast iteration, from the solids found
			s.ionic = ionic
			if s.activeSet(600) {
				return nil
			}
			if math.Abs(h) < 1e-9 || hi-lo < 1e-9 {
				break
			}
		}
		if h > 0 {
			lo = max(lo, y)
		} else {
			hi = min(hi, y)
		}
		next := y + h // as good as the secant where association is weak
		if pass > 0 && h != hBefore {
			next = y - h*(y-before)/(h-hBefore)
		}
		before, hBefore = y, h
		if !(next > lo && next < hi) || pass%6 == 5 {
			next = (lo + hi) / 2
		}
		y = next
	}
	if beyond || s.ionic > activityLimit {
		return fmt.Errorf(
			"%w: the ionic strength would be above %g mol/kg, and the model holds to about %g",
			ErrTooMuch,
			float64(activityLimit),
			MaxIonicStrength,
		)
	}
	if names := s.turning(); names != nil {
		return fmt.Errorf(
			"%w: at just this temperature and CO2 %s turn into each other, so change one of them by a trifle",
			ErrContradiction,
			strings.Join(names, " and "),
		)
	}
	return fmt.Errorf("%w (residual %.1g)", ErrNoConvergence, s.resid)
}

// turning names the solids that are saturated together although a change of
// composition cannot tell them apart: a point of the phase diagram where one
// replaces the other, at which their amounts are not determined.
func (s *Solver) turning() []string {
	const near = 1e-2
	n := s.ncol
	width := n + 1
	var names []string
	rows := 0
	for k := range s.phases {
		p := &s.phases[k]
		if !p.unlimited && math.Abs(s.lnSaturation(p)) > near {
			continue
		}
		if p.id != gasPhase {
			names = append(names, solidNames[p.id])
		}
		row := s.mat[rows*width : rows*width+n]
		clear(row)
		for l := 0; l < p.n; l++ {
			row[p.col[l]] = p.nu[l]
		}
		rows++
	}
	rank := 0
	for col := 0; col < n && rank < rows; col++ {
		at := -1
		for r := rank; r < rows; r++ {
			if math.Abs(s.mat[r*width+col]) > 1e-9 {
				at = r
				break
			}
		}
		if at < 0 {
			continue
		}
		for j := 0; j < n; j++ {
			s.mat[at*width+j], s.mat[rank*width+j] = s.mat[rank*width+j], s.mat[at*width+j]
		}
		for r := rank + 1; r < rows; r++ {
			k := s.mat[r*width+col] / s.mat[rank*width+col]
			for j := col; j < n; j++ {
				s.mat[r*width+j] -= k * s.mat[rank*width+j]
			}
		}
		rank++
	}
	if rank == rows {
		return nil
	}
	return names
}

// feasible moves x to activities at which no solid that may fall is
// supersaturated and each unlimited phase is just saturated. There are none
// when the unlimited phases would turn into others without end.
func (s *Solver) feasible() error {
	target := s.x
	for _, margin := range []float64{2, 0.1, 1e-3} {
		s.x = target
		s.satisfy(&target, margin)
		inside := true
		for k := range s.phases {
			switch p := &s.phases[k]; {
			case p.unlimited:
				inside = inside && math.Abs(s.lnSaturation(p)) < 1e-6*margin
			default:
				inside = inside && s.lnSaturation(p) < -margin/10
			}
		}
		if inside {
			return nil
		}
	}
	var names []string
	for k := range s.phases {
		p := &s.phases[k]
		// least squares spreads a contradiction over all that take part in it
		if v := s.lnSaturation(p); v > 1e-4 || p.unlimited && v < -1e-4 {
			if p.id == gasPhase {
				names = append(names, "CO2 in the air")
			} else {
				names = append(names, solidNames[p.id])
			}
		}
	}
	return fmt.Errorf("%w: %s cannot be in one water at rest", ErrContradiction, strings.Join(names, " and "))
}

// satisfy moves x to where nothing is violated by more than can be helped: the
// least squares of the violations with a weak pull to target, by Newton on a
// piecewise quadratic, which ends after few steps.
func (s *Solver) satisfy(target *[32]float64, margin float64) {
	for pull := 1e-2; pull > 1e-13; pull *= 0.1 {
		s.leastViolation(target, pull, margin)
	}
}

// leastViolation moves x to the minimum of
// sum (violations)^2 + pull |x - target|^2.
func (s *Solver) leastViolation(target *[32]float64, pull, margin float64) {
	n := s.ncol
	width := n + 1
	for pass := 0; pass < 30; pass++ {
		clear(s.mat[:n*width])
		for i := 0; i < n; i++ {
			s.mat[i*width+i] = pull
			s.f[i] = pull * (s.x[i] - target[i])
		}
		for k := range s.phases {
			p := &s.phases[k]
			v := s.lnSaturation(p)
			if !p.unlimited {
				if v += margin; v <= 0 {
					continue
				}
			}
			for a := 0; a < p.n; a++ {
				s.f[p.col[a]] += p.nu[a] * v
				for b := 0; b < p.n; b++ {
					s.mat[p.col[a]*width+p.col[b]] += p.nu[a] * p.nu[b]
				}
			}
		}
		s.scaleRows(n)
		if !s.eliminate(n, 1e-100) {
			return
		}
		moved := 0.0
		for i := 0; i < n; i++ {
			s.x[i] += s.f[i]
			moved = max(moved, math.Abs(s.f[i]))
		}
		if moved < 1e-12 {
			return
		}
	}
}

// scaleRows sets the scale of each row to its largest element.
func (s *Solver) scaleRows(n int) {
	for i := 0; i < n; i++ {
		s.scale[i] = 1e-300
		for j := 0; j < n; j++ {
			s.scale[i] = max(s.scale[i], math.Abs(s.mat[i*(n+1)+j]))
		}
	}
}

// barrier minimises with ionic, lnAw and free held, from a feasible x, and
// leaves x, the phases that are present and their amounts.
func (s *Solver) barrier() bool {
	effective := s.setGamma()
	var base [maxSpecies]float64
	for i := range s.sp {
		sp := &s.sp[i]
		base[i] = sp.lnK + sp.water*s.lnAw + sp.gz*s.groupF[sp.group] - sp.gb*effective
	}
	s.setWeights()
	mu := 1e-2
	for {
		if !s.centre(&base, mu) {
			return false
		}
		nearest := math.Inf(1)
		for k := range s.phases {
			if p := &s.phases[k]; !p.unlimited {
				nearest = min(nearest, -s.lnSaturation(p))
			}
		}
		if mu < 1e-8 || nearest < 1e-9 {
			break
		}
		mu *= 0.03
	}
	// the amount of a solid is its weight times mu over its distance from
	// saturation, so a solid that is present is very near saturation
	for k := range s.phases {
		p := &s.phases[k]
		if p.unlimited {
			continue
		}
		t := -s.lnSaturation(p)
		p.amount = mu * p.weight / t
		if p.in = p.amount > 1e-3*p.weight*t; !p.in {
			p.amount = 0
		}
	}
	return true
}

// setWeights gives each solid's barrier the size of what it can take: the
// scarcest of its components. One weight for all would let a solid of traces
// push them out of the problem.
func (s *Solver) setWeights() {
	var supplied [maxCols]bool // without limit
	for k := range s.phases {
		if p := &s.phases[k]; p.unlimited {
			for l := 0; l < p.n; l++ {
				supplied[p.col[l]] = true
			}
		}
	}
	for k := range s.phases {
		p := &s.phases[k]
		p.weight = 1
		for l := 0; l < p.n; l++ {
			if b := s.b[p.col[l]]; p.col[l] > 0 && !supplied[p.col[l]] {
				p.weight = min(p.weight, b)
			}
		}
	}
}

// rise is how much the objective, sum c_i - b x - mu sum weight ln t, changes
// over the step a d, given its slope along d and each species' concentration
// (times free) at x. Written as slope and positive terms it has no cancellation,
// so that traces count. It is +Inf outside the barrier.
func (s *Solver) rise(conc *[maxSpecies]float64, d []float64, a, slope, mu float64) float64 {
	v := a * slope
	for i := range s.sp {
		sp := &s.sp[i]
		e := 0.0
		for k := 0; k < sp.n; k++ {
			e += sp.nu[k] * d[sp.col[k]]
		}
		if e *= a; e > 300 {
			return math.Inf(1)
		}
		v += conc[i] * expExcess(e)
	}
	for k := range s.phases {
		p := &s.phases[k]
		if p.unlimited {
			continue
		}
		e := 0.0
		for l := 0; l < p.n; l++ {
			e += p.nu[l] * d[p.col[l]]
		}
		u := -a * e / -s.lnSaturation(p)
		if u <= -1 {
			return math.Inf(1)
		}
		v -= mu * p.weight * logExcess(u)
	}
	return v
}

// expExcess is exp(e) - 1 - e.
func expExcess(e float64) float64 {
	if math.Abs(e) < 1e-3 {
		return e * e * (0.5 + e*(1.0/6+e/24))
	}
	return math.Expm1(e) - e
}

// logExcess is ln(1 + u) - u.
func logExcess(u float64) float64 {
	if math.Abs(u) < 1e-3 {
		return u * u * (-0.5 + u*(1.0/3-u/4))
	}
	return math.Log1p(u) - u
}

// centre is Newton with a line search on the objective, from an x at which the
// unlimited phases are saturated; it keeps them so. base is ln concentration
// where all activities are 1.
func (s *Solver) centre(base *[maxSpecies]float64, mu float64) bool {
	nc := s.ncol
	size := 0.0
	for j := 0; j < nc; j++ {
		size += math.Abs(s.b[j])
	}
	var conc [maxSpecies]float64
	var g [maxSize]float64
	for pass := 0; pass < 200; pass++ {
		s.passes++
		n, worst := s.barrierSystem(base, &conc, mu)
		if worst < 1e-10 {
			return true
		}
		copy(g[:n], s.f[:n])
		s.scaleRows(n)
		if !s.eliminate(n, 1e-100) {
			return false
		}
		longest := 0.0
		for _, d := range s.f[:nc] {
			longest = max(longest, math.Abs(d))
		}
		if longest < 1e-9 {
			return true // as near as rounding allows
		}
		a := s.inside(min(1, 8/longest))
		slope := s.slopeAlong(&g)
		// so near the minimum rounding hides the descent, and Newton needs none
		sure := longest > 1e-4 && slope < -1e-14*size
		for tries := 0; sure && s.rise(&conc, s.f[:nc], a, slope, mu) > 1e-4*a*slope; tries++ {
			if a /= 2; tries > 60 {
				return false
			}
		}
		for j := 0; j < nc; j++ {
			s.x[j] += a * s.f[j]
		}
		row := nc
		for k := range s.phases {
			if p := &s.phases[k]; p.unlimited {
				p.amount += a * s.f[row]
				row++
			}
		}
	}
	return false
}

// barrierSystem fills s.mat and s.f with the conditions of a minimum: gradient
// and Hessian of the objective, bordered by the unlimited phases. It returns
// their number and the worst relative violation, and leaves the concentrations
// (times free) in conc.
func (s *Solver) barrierSystem(base, conc *[maxSpecies]float64, mu float64) (n int, worst float64) {
	nc := s.ncol
	n = nc
	for k := range s.phases {
		if s.phases[k].unlimited {
			n++
		}
	}
	width := n + 1
	clear(s.mat[:n*width])
	for j := 0; j < nc; j++ {
		s.f[j], s.scale[j] = -s.b[j], math.Abs(s.b[j])
	}
	add := func(j int, v float64) {
		s.f[j] += v
		s.scale[j] += math.Abs(v)
	}
	for i := range s.sp {
		sp := &s.sp[i]
		e := base[i]
		for k := 0; k < sp.n; k++ {
			e += sp.nu[k] * s.x[sp.col[k]]
		}
		c := exp(min(e, 300)) * s.free
		conc[i] = c
		for k := 0; k < sp.n; k++ {
			v := sp.nu[k] * c
			add(sp.col[k], v)
			for l := 0; l < sp.n; l++ {
				s.mat[sp.col[k]*width+sp.col[l]] += v * sp.nu[l]
			}
		}
	}
	row := nc
	for k := range s.phases {
		p := &s.phases[k]
		if p.unlimited {
			for l := 0; l < p.n; l++ {
				s.mat[row*width+p.col[l]] = p.nu[l]
				s.mat[p.col[l]*width+row] = p.nu[l]
				add(p.col[l], p.nu[l]*p.amount)
			}
			s.f[row] = s.lnSaturation(p)
			worst = max(worst, math.Abs(s.f[row]))
			row++
			continue
		}
		t := -s.lnSaturation(p)
		pull := mu * p.weight / t
		for l := 0; l < p.n; l++ {
			add(p.col[l], p.nu[l]*pull)
			for m := 0; m < p.n; m++ {
				s.mat[p.col[l]*width+p.col[m]] += p.nu[l] * p.nu[m] * pull / t
			}
		}
	}
	for j := 0; j < nc; j++ {
		worst = max(worst, math.Abs(s.f[j])/s.scale[j])
	}
	return n, worst
}

// inside shortens a step a along s.f so that it ends inside the barrier.
func (s *Solver) inside(a float64) float64 {
	for k := range s.phases {
		p := &s.phases[k]
		if p.unlimited {
			continue
		}
		d := 0.0
		for l := 0; l < p.n; l++ {
			d += p.nu[l] * s.f[p.col[l]]
		}
		if t := -s.lnSaturation(p); d*a > 0.95*t {
			a = 0.95 * t / d
		}
	}
	return a
}

// slopeAlong is the objective's slope along s.f, given the gradient with the
// pull of the unlimited phases, which is not of the objective.
func (s *Solver) slopeAlong(g *[maxSize]float64) float64 {
	slope := 0.0
	for j := 0; j < s.ncol; j++ {
		slope += g[j] * s.f[j]
	}
	for k := range s.phases {
		if p := &s.phases[k]; p.unlimited {
			for l := 0; l < p.n; l++ {
				slope -= p.nu[l] * p.amount * s.f[p.col[l]]
			}
		}
	}
	return slope
}

// water takes over the activity and mass of water that the concentrations at
// x make, and returns their ionic strength.
func (s *Solver) water() float64 {
	effective := s.setGamma()
	sum, ionic, bound := 0.0, 0.0, 0.0
	for i := range s.sp {
		sp := &s.sp[i]
		e := sp.lnK + sp.water*s.lnAw + sp.gz*s.groupF[sp.group] - sp.gb*effective
		for k := 0; k < sp.n; k++ {
			e += sp.nu[k] * s.x[sp.col[k]]
		}
		c := exp(min(e, 40))
		sum += c
		ionic += sp.half * c
		bound += sp.water * c
	}
	solid := 0.0
	for k := range s.phases {
		solid += s.phases[k].water * s.phases[k].amount
	}
	s.lnAw = lnWaterActivity(sum)
	s.free = (waterMolKg - solid) / (waterMolKg + bound)
	return ionic
}
