package chem

import "math"

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

// acids are the species made of one component and protons: a water with its
// ion pairs left out, in which charge depends on ln h alone.
type acids struct {
	list      [maxSpecies]acid
	n         int
	total     [maxCols]float64
	carbonate int              // the column of C in an open water, else -1
	open      float64          // ln activity of CO3-2 at h = 1 there
	share     [maxCols]float64 // sum of the terms of each column
	mean      [maxCols]float64 // and of h times the terms
}

// acid is one such species; col is -1 for H+ and OH- themselves.
type acid struct {
	col  int
	h    float64
	z    float64
	k    float64 // concentration per activity of the component and of h^h
	term float64 // k h^h at the h last looked at
}

// startFromAcids sets x for total amounts: the root of ln(positive charge /
// negative charge), which rises with ln h, by Newton kept inside a bracket.
func (s *Solver) startFromAcids(total *[maxCols]float64) {
	var a acids
	s.listAcids(&a, total)
	lo, hi := -39.0, 3.0
	y := -16.0
	for pass := 0; pass < 40; pass++ {
		g, slope := a.charge(y, s.ncol)
		if g > 0 {
			hi = y
		} else {
			lo = y
		}
		next := y - g/slope
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		near := math.Abs(next-y) < 0.02
		y = next
		if near {
			break
		}
	}
	s.x[0] = y
	for j := 1; j < s.ncol; j++ {
		s.x[j] = math.Log(total[j] / a.share[j])
	}
	if a.carbonate > 0 {
		s.x[a.carbonate] = a.open - 2*y
	}
}

// listAcids fills a for the water at hand.
func (s *Solver) listAcids(a *acids, total *[maxCols]float64) {
	a.total, a.carbonate = *total, -1
	if len(s.phases) > 0 && s.phases[0].id == gasPhase {
		a.open, a.carbonate = s.phases[0].lnK, s.colOf[C]
	}
	root := math.Sqrt(s.ionic)
next:
	for i := range s.sp {
		sp := &s.sp[i]
		p := acid{z: sp.z, col: -1}
		for k := 0; k < sp.n; k++ {
			switch {
			case sp.col[k] == 0:
				p.h = sp.nu[k]
			case p.col < 0 && sp.nu[k] == 1:
				p.col = sp.col[k]
			default:
				continue next
			}
		}
		p.k = exp(sp.lnK + sp.gz*root/(1+s.groupD[sp.group]*root) - sp.gb*s.ionic)
		a.list[a.n] = p
		a.n++
	}
}

// charge is ln(positive charge / negative charge) at y = ln h, and its slope.
func (a *acids) charge(y float64, columns int) (g, slope float64) {
	h := exp(y)
	inv := 1 / h
	inv2, h2 := inv*inv, h*h
	power := [9]float64{inv2 * inv2, inv2 * inv, inv2, inv, 1, h, h2, h2 * h, h2 * h2} // h^-4 and on
	for j := 1; j < columns; j++ {
		a.share[j], a.mean[j] = 0, 0
	}
	for i := range a.list[:a.n] {
		p := &a.list[i]
		p.term = p.k * power[int(p.h)+4]
		if p.col > 0 {
			a.share[p.col] += p.term
			a.mean[p.col] += p.h * p.term
		}
	}
	var pos, neg, dpos, dneg float64
	for i := range a.list[:a.n] {
		p := &a.list[i]
		if p.z == 0 {
			continue
		}
		c, d := p.term, p.h // concentration, d ln c / d ln h
		switch {
		case p.col < 0:
		case p.col == a.carbonate:
			c *= exp(a.open - 2*y)
			d -= 2
		default:
			c *= a.total[p.col] / a.share[p.col]
			d -= a.mean[p.col] / a.share[p.col]
		}
		if v := p.z * c; v > 0 {
			pos += v
			dpos += v * d
		} else {
			neg -= v
			dneg -= v * d
		}
	}
	return math.Log(pos / neg), dpos/pos - dneg/neg
}
