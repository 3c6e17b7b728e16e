package main

import (
	"strings"

	"benchleaf/chem"
	"benchleaf/solution"
)

// checkWater refuses a water that no bench should make: borohydride stronger than
// any in use, or solutes that must not meet. What the table of substances does not
// hold it leaves to chem.
func checkWater(s *chem.Spec) error {
	return solution.CheckBath(solutesOf(s, 1)...)
}

// solutesOf lists the solutes of a water and of the waters mixed into it. share is
// the water's share of the whole.
func solutesOf(s *chem.Spec, share float64) []solution.Thing {
	var list []solution.Thing
	for _, m := range s.Solutes {
		if solution.Known(m.Name) == nil || !(m.Amount > 0) {
			continue
		}
		// A kilogram of water is taken as a litre of solution.
		unit := solution.Unit(strings.Replace(m.Unit, "/kg", "/L", 1))
		list = append(list, solution.Thing{Name: m.Name, Strength: solution.Strength{Value: m.Amount * share, Unit: unit}})
	}
	parts := 0.0
	for _, p := range s.Mix {
		parts += p.Parts
	}
	for _, p := range s.Mix {
		if p.Parts > 0 {
			list = append(list, solutesOf(&p.Water, share*p.Parts/parts)...)
		}
	}
	return list
}
