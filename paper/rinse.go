package paper

import (
	"fmt"
	"math"
)

// RinseRemaining is the share of a solute left in a sheet after n rinses, each
// in fresh water and long enough to come level: (h/(h + b))^n with h mL held and
// b mL of bath for each sheet. Mixed and at equilibrium it is exact.
// Errors: volumes that are not above 0, n below 0 or above 1000.
func RinseRemaining(heldMl, bathMl Millilitres, n int) (float64, error) {
	if err := checkRinse(heldMl, bathMl); err != nil {
		return 0, err
	}
	if n < 0 || n > 1000 {
		return 0, fmt.Errorf("the number of rinses must lie between 0 and 1000, not at %d", n)
	}
	return math.Pow(float64(heldMl/(heldMl+bathMl)), float64(n)), nil
}

// RinsesFor is the least number of such rinses after which no more than share
// (above 0, below 1) of the solute is left.
func RinsesFor(heldMl, bathMl Millilitres, share float64) (int, error) {
	if err := checkRinse(heldMl, bathMl); err != nil {
		return 0, err
	}
	if !(share > 0 && share < 1) {
		return 0, fmt.Errorf("the share that may be left must lie between 0 and 1, not at %g", share)
	}
	n := math.Ceil(math.Log(share)/math.Log(float64(heldMl/(heldMl+bathMl))) - 1e-12)
	if n > 1000 {
		return 0, fmt.Errorf(
			"with %g mL of water to %g mL held it takes more than 1000 rinses: use more water",
			float64(bathMl),
			float64(heldMl),
		)
	}
	return int(n), nil
}

func checkRinse(heldMl, bathMl Millilitres) error {
	for what, v := range map[string]Millilitres{"the liquid held": heldMl, "the rinse": bathMl} {
		if !(v > 0) || math.IsInf(float64(v), 0) {
			return fmt.Errorf("%s must be above 0 mL, not %g mL", what, float64(v))
		}
	}
	return nil
}
