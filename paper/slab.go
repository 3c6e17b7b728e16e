package paper

import "math"

// slab is a wet sheet, or a pile of them, in a bath, as far as the way of a
// dissolved substance through it goes. Lengths in m, times in s.
type slab struct {
	// DiffusionM2S is the coefficient within the wet sheet; see inPores.
	DiffusionM2S float64
	// PathM is the way from the open face to where nothing passes: half the wet
	// thickness with both faces open, the whole with one, more in a pile.
	PathM float64
	// Porosity is the share of the wet volume in which the substance moves, above
	// 0, at most 1.
	Porosity float64
	// FilmMS is the velocity with which it crosses the film of resting liquid at
	// the face, m/s: diffusion coefficient over film thickness. Infinity for a
	// film of no thickness.
	FilmMS float64
	// Alpha is the volume of the bath over that of the liquid in the sheets,
	// above 0; infinity for a bath that does not change.
	Alpha float64
}

// inPores is the diffusion coefficient in a porous body of a porosity: D
// (e/(2 - e))^2, Mackie and Meares, Proc. R. Soc. A 232, 498, 1955. The
// equation is from memory; for loose paper it is a lower bound.
func inPores(diffusionM2S, porosity float64) float64 {
	k := porosity / (2 - porosity)
	return diffusionM2S * k * k
}

// turns is -ln of the share of the exchange that is still to come after each time
// in s; it goes on growing, in the end by the first mode's rate. The share done is
// M(t)/M(infinity) of a plane sheet in a stirred bath of limited volume
// behind a film. Without a film it is the series of Crank, The Mathematics of
// Diffusion, 2nd ed. 1975, eq. 4.37, with an unlimited bath eq. 4.18, with a
// film and an unlimited bath eq. 4.53 (equation numbers from memory).
//
// The modes cos(q x/l) exp(-q^2 D t/l^2) have q sin q = L (sin q/(alpha q) +
// cos q), L = l k/(porosity D), and weight (1 + 1/alpha) (sin q/q)^2 / (1/2 +
// sin 2q/(4q) + (sin q/q)^2/alpha): the derivation is that of Crank's section
// 4.3.5 with the film's balance at the face.
func (s slab) turns(seconds []float64) []float64 {
	left := make([]float64, len(seconds))
	first := math.Inf(1)
	for _, t := range seconds {
		if t > 0 {
			first = min(first, t)
		}
	}
	speed := s.DiffusionM2S / (s.PathM * s.PathM) // 1/s
	bi := s.PathM * s.FilmMS / (s.Porosity * s.DiffusionM2S)
	var q1, weight1 float64
	for n := 1; n <= mostModes; n++ {
		q := mode(n, bi, s.Alpha)
		sinc := math.Sin(q) / q
		weight := (1 + 1/s.Alpha) * sinc * sinc / (0.5 + math.Sin(2*q)/(4*q) + sinc*sinc/s.Alpha)
		if n == 1 {
			q1, weight1 = q, weight
		} else if q*q*speed*first > 40 {
			break
		}
		for i, t := range seconds {
			left[i] += weight * math.Exp(-q*q*speed*t)
		}
	}
	for i, t := range seconds {
		switch {
		case t <= 0:
			left[i] = 0
		case left[i] < 1e-12: // only the first mode is left
			left[i] = q1*q1*speed*t - math.Log(weight1)
		default:
			left[i] = max(0, -math.Log(left[i]))
		}
	}
	return left
}

// mostModes bounds the series. At the shortest time for which it counts, F =
// 1e-4, the term left out is below 1e-9.
const mostModes = 160

// mode finds the nth root of q sin q = bi (sin q/(alpha q) + cos q), which lies
// between (n-1) pi and n pi, by Newton's method held in that bracket.
func mode(n int, bi, alpha float64) float64 {
	f := func(q float64) (v, slope float64) {
		sin, cos := math.Sincos(q)
		if math.IsInf(bi, 1) { // no film
			return -(sin/alpha + q*cos), -(cos/alpha + cos - q*sin)
		}
		// Divided by 1 + bi, so that a thin film does not swamp the figures.
		k := 1 / (1 + bi)
		return k * (q*q*sin - bi*(sin/alpha+q*cos)), k * (2*q*sin + q*q*cos - bi*(cos/alpha+cos-q*sin))
	}
	lo, hi := float64(n-1)*math.Pi+1e-12, float64(n)*math.Pi
	rising := n%2 == 1 // the sign at the upper end
	q := lo + (hi-lo)/2
	for range 80 {
		v, slope := f(q)
		if v == 0 {
			break
		}
		if (v > 0) == rising {
			hi = q
		} else {
			lo = q
		}
		next := q - v/slope
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		if math.Abs(next-q) < 1e-13*q {
			return next
		}
		q = next
	}
	return q
}
