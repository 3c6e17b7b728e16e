package chem

import "math"

// values computes concentrations, the equations' values s.f with their scales,
// and the residual, from x, the phases' amounts, ionic, lnAw and free; and the
// water's activity and mass that these concentrations make. The equations are,
// in order: charge (in the row of H), mass of each further component,
// saturation with each phase present, ionic strength.
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
// of its row's scale. It is not gonum's: for the dozen equations of a water the
// general routine takes twice as long, and this is most of a solution's time.
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
