package chem

import "fmt"

// CausticWarning stands among the warnings of a liquid above pH 11.5. Who shows
// cautions of its own for such a liquid may leave it out.
const CausticWarning = "Caustic: goggles and gloves, and the safety data sheet of what is in it."

// Warnings are sentences for the person on what the figures leave out.
func (o *State) Warnings() []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if o.ionic > WarnIonicStrength {
		say(
			"So much is dissolved (ionic strength %.2f mol/kg) that activity coefficients are rough: pH may be off "+
				"by 0.1.",
			o.ionic,
		)
	}
	if r := o.PHRange(); o.strongBicarbonate(warnBicarbonateI) {
		say(
			"Strong bicarbonate (ionic strength %.2f mol/kg): published models of activity differ, and most give a "+
				"lower pH, down to %.2f.",
			o.ionic,
			r.Low,
		)
	}
	if o.cond.StandsOver&Portlandite != 0 {
		say(
			"Saturated lime water: published solubilities differ by about 8 %% either way, with the fineness and " +
				"freshness of the lime.",
		)
	}
	if o.pH > 11.5 {
		say("%s", CausticWarning)
	}
	o.warnSolids(say)
	if o.Total(B) > 0.1 {
		say("Above 0.1 mol/kg boron, polyborate ions, left out here, lower the pH a little.")
	}
	o.warnHydride(say)
	for i := range allSpecies {
		sp := &allSpecies[i]
		if !sp.fromMemory || o.molality[i] == 0 {
			continue
		}
		for c, v := range sp.comp {
			if Component(c) != H && v != 0 && float64(v)*o.molality[i] > 0.01*o.Total(Component(c)) {
				say(
					"An estimate: the constant of %s is from memory and has not been confirmed from a published copy.",
					sp.name,
				)
				break
			}
		}
	}
	return out
}

// warnHydride says that borohydride does not stay so.
func (o *State) warnHydride(say func(string, ...any)) {
	if o.Total(BH4) <= leastAmount {
		return
	}
	course, err := BorohydrideCourse(o.Water(), []float64{0, 60, 1e7})
	if err != nil {
		return
	}
	now, hour, end := course[0], course[1], course[2]
	say(
		"Borohydride turns to borate and hydrogen: by estimate (time good to a factor of two) %.0f %% of it is left "+
			"an hour on, at pH %.1f; in the end %.2g L of hydrogen have come off each litre and the pH is %.1f. "+
			"Hydrogen burns: leave the vessel open, air the room, no flame.",
		100*hour.NaBH4GramPerL.Value/now.NaBH4GramPerL.Value,
		hour.PH.Value,
		end.HydrogenLPerL.Value,
		end.PH.Value,
	)
}

// warnSolids names solids that are supersaturated but were not allowed to
// fall, and those that this package does not compute.
func (o *State) warnSolids(say func(string, ...any)) {
	for i, name := range solidNames {
		one := Solids(1 << i)
		si, ok := o.SaturationIndex(one)
		if !ok || si < 0.3 || (o.cond.MayFall|o.cond.StandsOver)&one != 0 {
			continue
		}
		switch one {
		case Calcite:
			if o.cond.MayFall&(Aragonite|Vaterite) == 0 {
				say("Chalk is supersaturated (calcite index %+.1f): the water clouds or scales if left.", si)
			}
		case Portlandite, Gypsum, Brucite:
			say("The water is supersaturated with %s (index %+.1f), which was not allowed to fall.", name, si)
		case Nesquehonite:
			say(
				"The water is supersaturated with nesquehonite (index %+.1f): basic magnesium carbonate falls on "+
					"standing or warming. Its published constants spread over one unit of the index.",
				si,
			)
		}
	}
	calcium := o.Total(Ca)
	for _, p := range []struct {
		c     Component
		least float64
		what  string
	}{{Oxalate, 1e-8, "Calcium oxalate is nearly insoluble"}, {P, 1e-7, "Calcium phosphates are sparingly soluble"},
		{Citrate, 1e-5, "Calcium citrate is sparingly soluble"}} {
		if t := o.Total(p.c); t > 1e-6 && calcium > 1e-6 && t*calcium > p.least {
			say("%s and may fall; it is not computed here.", p.what)
		}
	}
}
