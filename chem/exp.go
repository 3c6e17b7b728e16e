package chem

import "math"

// exp is e^x with a relative error below 1e-15, about twice as fast as
// math.Exp: x = k ln2/256 + r, a table of 2^(j/256), and the series in r
// (|r| < 0.00136, so its fifth term is below 1e-16). After Tang, ACM Trans.
// Math. Softw. 15, 144, 1989.
func exp(x float64) float64 {
	if !(x > -690 && x < 690) {
		return math.Exp(x)
	}
	const (
		shift = 0x1.8p52       // adding it rounds to an integer in the low bits
		hi    = 0x1.62e42fep-9 // short, so that k hi is exact
		lo    = 0x1.f473de6af278fp-38
	)
	kd := x*(256/math.Ln2) + shift
	k := int64(math.Float64bits(kd)) - int64(shiftBits)
	kd -= shift
	r := (x - kd*hi) - kd*lo
	t := expTable[k&255]
	p := r + r*r*(0.5+r*(1.0/6+r*(1.0/24)))
	return (t + t*p) * math.Float64frombits(uint64(k>>8+1023)<<52)
}

const shiftBits = 0x4338000000000000 // of 1.5 * 2^52

// expTable holds 2^(j/256).
var expTable = func() (t [256]float64) {
	for j := range t {
		t[j] = math.Exp2(float64(j) / 256)
	}
	return t
}()
