package paper

import (
	"math"
	"sync"

	"benchleaf/interval"
)

// Spread is by how much sheets of one paper differ in a quantity.
type Spread struct {
	// Share is the standard deviation as a share of the value.
	Share         float64
	Basis, Source string
}

// SpreadOf is the spread between sheets of a class, as estimated without readings on
// several of them: of mass, drained (the pick-up), soluble_acid, fixed_acid, acid or
// drying_rate. The numbers are those of data/sheet-spread.csv.
func SpreadOf(c Class, quantity string) (Spread, bool) {
	s, ok := spreads()[string(c)+"|"+quantity]
	if !ok {
		s, ok = spreads()["any|"+quantity]
	}
	return s, ok
}

var spreads = sync.OnceValue(func() map[string]Spread {
	all := map[string]Spread{}
	for _, r := range readTable("data/sheet-spread.csv") {
		all[r["class"]+"|"+r["quantity"]] = Spread{number(r["share"]), r["basis"], r["source"]}
	}
	return all
})

// WithSheets is the spread once it was seen between n sheets, 2 at least, as a standard
// deviation in shares of the value: the estimate counts as much as five sheets would
// (the conjugate scaled inverse chi squared of Gelman et al., Bayesian Data Analysis,
// 3rd ed. 2013, section 2.6, with 4 degrees of freedom; their number is common
// practice, no source).
func (s Spread) WithSheets(n int, seen float64) float64 {
	const before = 4
	after := float64(n - 1)
	return math.Sqrt((before*s.Share*s.Share + after*seen*seen) / (before + after))
}

// Like is a quantity of another sheet of a paper, not read, from what readings give of
// one sheet (own) and what was taken for any sheet of the paper (before), where sheets
// spread by a share of the value. Both sheets are the paper's mean and a deviation of
// their own; given the one, the other is normal with the mean m + rho (own - m) and
// the variance v (1 - rho^2) + rho^2 u, v being the variance before, s^2 that between
// sheets, rho = 1 - s^2/v and u the variance of own (conditional normal, e.g. Gelman
// et al., section 3.5 and appendix A). In logarithms where the quantity is positive.
// One sheet so narrows the next to 1.4 spreads at best, and not at all where all of
// the range before is spread between sheets.
func Like(own, before interval.Range, share float64) interval.Range {
	to, from := math.Log, math.Exp
	spread := share
	if !(before.Low > 0 && own.Low > 0) {
		to = func(x float64) float64 { return x }
		from, spread = to, share*math.Abs(own.Best)
	}
	u := interval.Range{Low: to(own.Low), Best: to(own.Best), High: to(own.High)}
	b := interval.Range{Low: to(before.Low), Best: to(before.Best), High: to(before.High)}
	v := b.Standard() * b.Standard()
	if v == 0 { // certain of every sheet
		return before
	}
	rho := max(0, 1-spread*spread/v)
	best := b.Best + rho*(u.Best-b.Best)
	side := func(own, before float64) float64 {
		return math.Sqrt(before*before*(1-rho*rho) + rho*rho*own*own)
	}
	// Each side of its own, as the ranges have it.
	like := interval.Range{
		Low:  from(best - side(u.Best-u.Low, b.Best-b.Low)),
		Best: from(best),
		High: from(best + side(u.High-u.Best, b.High-b.Best)),
	}
	if before.Low >= 0 { // what cannot be negative is not
		like.Low = max(0, like.Low)
	}
	return like
}
