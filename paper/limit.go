package paper

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"benchleaf/interval"
)

// Levers beside those of Reach that can limit what a bath does.
const (
	PickUp   Lever = "pick-up"  // liquid held per g of paper
	Exchange Lever = "exchange" // how quickly bath and sheet exchange: motion, open faces, no pile
)

// Gain is what a quarter more of one lever of the last bath would bring, at the best
// values of all inputs: alkaline reserve, or while acid is left as much less of it.
type Gain struct {
	Lever     Lever   `json:"lever"`
	MmolPerKg float64 `json:"mmol_per_kg"`
}

// more is the step of a lever by which levers are compared.
const more = 1.25

// levers compares what a quarter more of each lever of the last bath gains, the
// greatest first. follow must not have been left half way; in are the best values.
func (c *course) levers(in []float64) ([]Gain, error) {
	c.asks = asksNone(len(c.baths))
	out := make([]float64, oSteps+pCount*len(c.baths))
	if err := c.follow(in, out); err != nil {
		return nil, err
	}
	net := func(out []float64) float64 { return 1000*out[oReserve] - out[oLeft] }
	now, mark, last := net(out), c.mark, len(c.baths)-1
	b := c.baths[last]
	raised := append([]float64(nil), in...)
	var gains []Gain
	try := func(l Lever, b Bath) error {
		j := mark
		clear(out)
		if err := c.step(&j, last, b, raised, out[oSteps+pCount*last:]); err != nil {
			return err
		}
		d := j.dry()
		gains = append(gains, Gain{l, (d.earth-d.acid)/j.kg - now})
		return nil
	}
	one := func(l Lever, place int) error {
		raised[place] *= more
		err := try(l, b)
		raised[place] = in[place]
		return err
	}
	if b.Minutes != nil {
		longer := b
		longer.Minutes = new(*b.Minutes * more)
		if err := try(Time, longer); err != nil {
			return nil, err
		}
		if err := one(Exchange, iDiffusion); err != nil {
			return nil, err
		}
	}
	if err := one(Strength, iBaths+2*last); err != nil {
		return nil, err
	}
	if err := one(Volume, iBaths+2*last+1); err != nil {
		return nil, err
	}
	raised[iPickUp], raised[iCarried] = in[iPickUp]*more, in[iCarried]*more
	if err := c.follow(raised, out); err != nil {
		return nil, err
	}
	gains = append(gains, Gain{PickUp, net(out) - now})
	slices.SortStableFunc(gains, func(a, b Gain) int {
		switch {
		case a.MmolPerKg > b.MmolPerKg:
			return -1
		case a.MmolPerKg < b.MmolPerKg:
			return 1
		}
		return 0
	})
	return gains, nil
}

// leastGain is the gain below which a lever does nothing that counts, mmol/kg.
const leastGain = 0.05

// sameGain is the share within which two gains count as one.
const sameGain = 0.02

// named are the levers that gain the most, those that gain as much together.
func named(gains []Gain) []Lever {
	if len(gains) == 0 || gains[0].MmolPerKg < leastGain {
		return nil
	}
	var list []Lever
	for _, g := range gains {
		if g.MmolPerKg >= (1-sameGain)*gains[0].MmolPerKg {
			list = append(list, g.Lever)
		}
	}
	return list
}

var leverWords = map[Lever]string{
	Time: "time", Strength: "strength", Volume: "volume", PickUp: "pick-up",
	Exchange: "quickness of exchange (motion, open faces, no pile)",
}

// limit is the sentence on what limits the last bath: how things stand, and of which
// lever a quarter more gains the most.
func (out *Outcome) limit(last Bath) string {
	step := &out.Steps[len(out.Steps)-1]
	if last.Liquid.AlkaliMmolPerL.Best == 0 || last.Liquid.Base != Calcium && last.Liquid.Base != Magnesium {
		return "The last bath holds no alkali of calcium or magnesium, so it adds nothing to the reserve: what stays " +
			"is what the sheet brought into it, less what dissolves or rinses out."
	}
	if acid := out.AcidLeftMmolPerKg; acid.Best > 0 {
		stands := fmt.Sprintf("Acid is left, %s mmol/kg, and no reserve; the tray still holds %s of %s mmol of alkali.",
			acid.BestText(), digits(step.AlkaliAfterMmolPerL.Best*last.VolumeMl.Best/1000), step.TrayMmol.BestText())
		if left := step.AlkaliAfterMmolPerL.Best; left < 0.01*last.Liquid.AlkaliMmolPerL.Best {
			stands = fmt.Sprintf("The sheet's acid uses up all the alkali of the tray (%s mmol), so none is left to stay.",
				step.TrayMmol.BestText())
		}
		whole := acid.Best * out.DryMassG.Best / 1000 * last.together()
		if step.AlkaliAfterMmolPerL.Best*last.VolumeMl.Best/1000 > 1.5*whole {
			stands += " That is enough: it has not reached the acid yet."
		}
		return stands + " " + gainWords(out.Levers, 1, "mmol/kg less acid")
	}
	names := named(out.Levers)
	stands := fmt.Sprintf("The sheet keeps about %s %% CaCO₃.", digits(out.ReservePercentChalk.Best))
	if slices.Contains(names, PickUp) || slices.Contains(names, Strength) {
		each := last.VolumeMl.Best / last.together()
		stands = fmt.Sprintf("A sheet keeps only what its pores hold: %s mL of the %s mL of liquid for each sheet, with "+
			"about %s %% CaCO₃ in it afterwards.", digits(out.HeldMl.Best), digits(each),
			digits(out.ReservePercentChalk.Best))
	}
	return stands + " " + gainWords(out.Levers, percentChalk(0.001), "% CaCO₃ more")
}

// gainWords says which lever gains most, and what the others gain. unit goes with a
// gain in mmol/kg times scale.
func gainWords(gains []Gain, scale float64, unit string) string {
	names := named(gains)
	if len(names) == 0 {
		return "A quarter more of time, strength, volume or pick-up gains next to nothing; drying and bathing again may."
	}
	var best, rest, none []string
	for _, g := range gains {
		switch {
		case slices.Contains(names, g.Lever):
			best = append(best, leverWords[g.Lever])
		case math.Abs(g.MmolPerKg) < nextToNothing*gains[0].MmolPerKg:
			none = append(none, leverWords[g.Lever])
		default:
			rest = append(rest, leverWords[g.Lever]+" "+digits(g.MmolPerKg*scale))
		}
	}
	say := fmt.Sprintf("A quarter more of %s gains most, %s %s", strings.Join(best, " or "),
		digits(gains[0].MmolPerKg*scale), unit)
	if len(rest) > 0 {
		say += "; " + strings.Join(rest, ", ")
	}
	if len(none) > 0 {
		say += "; " + strings.Join(none, ", ") + " next to nothing"
	}
	return say + "."
}

// nextToNothing is the share of the greatest gain below which another is not counted out.
const nextToNothing = 0.03

// digits writes a number in two figures.
func digits(v float64) string { return interval.Digits(v, math.Abs(v)/4) }
