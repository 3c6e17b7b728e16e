package paper

import (
	"math"

	"benchleaf/chem"
)

// vat is the liquid of a bath while sheets are in it.
type vat struct {
	liquor
	settled stuff // mmol of carbonate that fell out
}

// netMmolPerL is the alkali less the acid of the bath, mmol/L.
func (v *vat) netMmolPerL() float64 {
	if v.ml <= 0 {
		return 0
	}
	return v.n.alkali() / v.ml * 1000
}

// wetIn lets n like sheets take up liquid of the bath until each holds carry mL,
// or as much as there is.
func (v *vat) wetIn(s *sheetLiquor, n, carry float64) {
	take := min(carry-s.ml, v.ml/n)
	if !(take > 0) {
		return
	}
	share := take / v.ml
	s.n.add(&v.n, share)
	v.n.add(&v.n, -n*share)
	s.ml += take
	if v.ml -= n * take; v.ml < 1e-9 { // all of it, to rounding
		v.ml, v.n = 0, stuff{}
	}
}

// mostRetarded bounds the ratio of what a step moves to what the pores alone
// would take.
const mostRetarded = 400

// mostSteps bounds the steps of one exchange.
const mostSteps = 400

// levelWithin is the share of the bath's strength within which sheet and bath
// count as level.
const levelWithin = 1e-6

// exchange lets n like sheets and a bath exchange for turns: the time in units
// of the relaxation of the pores, -ln(1 - exchanged) of the slab; infinity until
// they are level. The sheet must be settled; it is settled at the end.
//
// Every component moves down the difference between bath and free liquid, all
// by the same share, so that each is conserved and charges stay balanced. For a
// substance that nothing holds back the share is that of the slab at once,
// without error of the step. Where the sheet's groups hold on to what comes
// (calcium, alkali), the level in the pores lags by the ratio of what came to
// what is free, taken from the step before; a step that overshoots is taken
// again in smaller ones.
func (b *equilibria) exchange(s *sheetLiquor, v *vat, n, turns float64, fall chem.Solids) error {
	held := 1.0 // ratio of what came to the rise in the free liquid
	most := 1.0 // turns in a step, over held
	simple := s.n[chem.Carboxyl] <= leastMolar*s.ml && fall == 0
	for step := 0; turns > 0 && step < mostSteps && v.ml > 0 && s.ml > 0; step++ {
		var gap stuff
		widest, scale := 0.0, 0.0
		for c := range gap {
			there := v.n[c] / v.ml
			gap[c] = there - s.free[c]
			widest = max(widest, math.Abs(gap[c]))
			scale = max(scale, there, s.free[c])
		}
		if widest <= levelWithin*scale || widest < leastMolar {
			break
		}
		now := turns
		if !simple {
			now = min(turns, most*held)
		}
		// Two vessels of held s.ml and v.ml/n, as they would be with held constant.
		own := held * s.ml
		rate := (1/own + n/v.ml) / (1/s.ml + n/v.ml)
		moved := -math.Expm1(-now*rate) / (1/own + n/v.ml)
		for c := range gap {
			if gap[c] < 0 && moved*-gap[c] > s.n[c] {
				moved = s.n[c] / -gap[c]
			}
		}
		next := *s
		next.n.add(&gap, moved)
		for c := range next.n {
			next.n[c] = max(0, next.n[c]) // rounding
		}
		if err := b.settle(&next, fall); err != nil {
			return err
		}
		retarded, over := held, 0.0
		if !simple {
			retarded, over = judge(&gap, &next.free, &s.free, widest, moved/s.ml)
		}
		if over > 1.2 && (held > 1 || most > 0.1) {
			held, most = max(1, held/3), max(0.1, most/2)
			continue
		}
		v.n.add(&gap, -n*moved)
		for c := range v.n {
			v.n[c] = max(0, v.n[c])
		}
		*s = next
		turns -= now
		held, most = min(max(1, retarded), 2*held+1, mostRetarded), min(1, most*1.5)
	}
	return nil
}

// judge compares what a step moved with what it changed in the free liquid: how
// many times the pores' own share the sheet took up, the least over the
// components that count, and by how much the free liquid went past the level it
// was going to, as a share of the gap.
func judge(gap, after, before *stuff, widest, moved float64) (retarded, over float64) {
	retarded = mostRetarded
	for c := range gap {
		if math.Abs(gap[c]) < 0.02*widest {
			continue
		}
		change := (after[c] - before[c]) / gap[c]
		over = max(over, change)
		if change > 0 {
			retarded = min(retarded, moved/change)
		}
	}
	return retarded, over
}

// hydrolyse turns borohydride to borate for minutes, by the law of
// chem.BorohydrideHalfLifeMinutes at the pH that the bath has afterwards, in bath
// and sheet alike; slower is the half-life over the law's.
func (b *equilibria) hydrolyse(s *sheetLiquor, v *vat, minutes, slower float64, fall chem.Solids) error {
	turn := func(n *stuff, share float64) {
		x := share * n[chem.BH4]
		n[chem.BH4] -= x
		n[chem.B] += x
	}
	moved := false
	if v.n[chem.BH4] > leastMolar*v.ml && v.ml > 0 && minutes > 0 {
		share, err := b.hydrolysed(&v.liquor, minutes, slower, turn)
		if err != nil {
			return err
		}
		turn(&v.n, share)
		turn(&s.n, share)
		moved = s.n[chem.BH4] > 0
	}
	return b.quench(s, fall, moved)
}

// hydrolysed is the share of a liquid's borohydride that turns in minutes, at the pH
// that it has afterwards. Both the law and the pH of borate with boric acid are near to
// straight in logarithms, in which a secant is held within its bracket.
func (b *equilibria) hydrolysed(
	l *liquor, minutes, slower float64, turn func(n *stuff, share float64),
) (share float64, err error) {
	// off is by how much the share, in its logarithm, is beyond what the law gives.
	off := func(u float64) (float64, error) {
		trial := *l
		share := math.Exp(u)
		turn(&trial.n, share)
		pH, err := b.liquidPH(&trial, 0)
		half := slower * chem.BorohydrideHalfLifeMinutes(pH, b.temperatureC)
		return math.Log(-math.Log2(1-share)) - math.Log(minutes/half), err
	}
	pH, err := b.liquidPH(l, 0)
	if err != nil {
		return 0, err
	}
	// None turned yet, the pH is least and the share most.
	most := -math.Expm1(-math.Ln2 * minutes / (slower * chem.BorohydrideHalfLifeMinutes(pH, b.temperatureC)))
	low, high := math.Log(leastTurned), math.Log(min(most, 1-leastTurned))
	if high <= low {
		return most, nil
	}
	before, offBefore := low, math.NaN()
	u := high
	for range 20 {
		h, err := off(u)
		if err != nil {
			return 0, err
		}
		if h > 0 {
			high = u
		} else {
			low = u
		}
		if math.Abs(h)*math.Exp(u) < turnedWithin || high-low < 1e-6 {
			break
		}
		next := u - h/2
		if !math.IsNaN(offBefore) && h != offBefore {
			next = u - h*(u-before)/(h-offBefore)
		}
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		before, offBefore, u = u, h, next
	}
	return math.Exp(u), nil
}

// A share turned below leastTurned is none to speak of; turnedWithin is how well it is
// found.
const leastTurned, turnedWithin = 1e-9, 1e-4

// quench lets the acid of a sheet turn borohydride to borate, which it does at
// once, and settles the sheet, where that or something before it (moved) changed it.
func (b *equilibria) quench(s *sheetLiquor, fall chem.Solids, moved bool) error {
	bh4 := s.n[chem.BH4]
	// Of the sheet's alkali that which borohydride still owes is not there yet.
	n := s.mobile()
	if want := bh4 - n.alkali(); bh4 > 0 && want > 0 {
		x := min(want, bh4)
		s.n[chem.BH4] -= x
		s.n[chem.B] += x
		moved = true
	}
	if !moved {
		return nil
	}
	return b.settle(s, fall)
}

// Transfer of carbon dioxide through air at rest and into liquid hardly stirred,
// m/s, as in the table of limewater carbonation: good to a factor of two.
const (
	airMS    = 2e-3
	liquidMS = 1e-5
)

// mostBreaths bounds the steps in which a bath goes towards its air.
const mostBreaths = 40

// breathe lets an open bath of a depth go towards the carbon dioxide of the room
// for minutes, taking it up or giving it off, as far as the equilibrium with that
// air and no further. factor is the transfer over the usual. Chalk that falls of
// lime settles.
func (b *equilibria) breathe(v *vat, depthMm, minutes, roomAtm, factor float64, fall chem.Solids) error {
	if v.ml <= 0 {
		return nil
	}
	v.n.add(&v.settled, 1) // chalk on the floor takes part
	v.settled = stuff{}
	open := chem.Conditions{MayFall: fall, Open: true, CO2Atm: roomAtm}
	if err := b.solve(&b.liquids, &v.liquor, open); err != nil {
		return err
	}
	toGo := b.state.CO2TakenUp() * v.ml // mmol
	whole := toGo
	seconds := minutes * 60
	surface := chem.Surface{TemperatureC: b.temperatureC, CO2Atm: roomAtm, GasMS: airMS, LiquidMS: liquidMS}
	perFlux := factor * v.ml * 1e-6 / (depthMm * 1e-3) * 1000 // mmol/s of a flux in mol/(m2 s)
	for range mostBreaths {
		if math.Abs(toGo) < 1e-3*math.Abs(whole)+leastMolar*v.ml || seconds <= 0 {
			break
		}
		if err := b.solve(&b.liquids, &v.liquor, chem.Conditions{MayFall: fall}); err != nil {
			return err
		}
		surface.HydroxideMolPerL = b.state.Molality("OH-")
		rate := surface.CO2Flux() * (1 - b.state.CO2Fugacity()/roomAtm) * perFlux
		if rate*toGo <= 0 {
			break
		}
		x := toGo / 5
		if rate*seconds/x < 1 {
			x = rate * seconds
		}
		x = max(x, -v.n[chem.C])
		seconds -= x / rate
		toGo -= x
		v.n[chem.C] += x
	}
	if fall == 0 {
		return nil
	}
	return b.letFall(v)
}

// letFall takes chalk beyond saturation out of the bath.
func (b *equilibria) letFall(v *vat) error {
	if err := b.solve(&b.liquids, &v.liquor, chem.Conditions{MayFall: chem.Calcite}); err != nil {
		return err
	}
	fell := min(b.state.Fallen(chem.Calcite)*v.ml, v.n[chem.Ca], v.n[chem.C])
	if fell > 0 {
		v.n[chem.Ca] -= fell
		v.n[chem.C] -= fell
		v.settled[chem.Ca] += fell
		v.settled[chem.C] += fell
	}
	return nil
}
