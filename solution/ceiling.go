package solution

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// Strengths of borohydride, % w/v.
const (
	// benchHydrideLow and benchHydrideHigh are what benches use (common practice, no
	// source: docs/practice.md, 5).
	benchHydrideLow, benchHydrideHigh = 0.01, 0.5
	// mostHydride is the strongest that a published method names for paper: 0.1 to 2 %
	// (basis: read, docs/practice.md, 5).
	mostHydride = 2.0
)

// Ventilation that a room can have.
const (
	// hoodAirPerHour is what a fume hood of 1.5 m draws, m3/h: a face of 1.2 m2 at 0.25
	// m/s. Basis: memory, usual design.
	hoodAirPerHour = 1000
	// mostChangesPerHour is what the ventilation of a laboratory gives: 6 to 12
	// (basis: memory, usual design).
	mostChangesPerHour = 12
)

// CheckHydride refuses a strength of borohydride that no bench uses. c is g of it
// in 1 L.
func CheckHydride(s *Substance, c GramsPerLitre) error {
	if s == nil || !s.Is(Hydride) || float64(c) <= 10*mostHydride*(1+1e-9) {
		return nil
	}
	return fmt.Errorf(
		"%s %% w/v of %s is refused: benches use %g to %g %% (common practice), the strongest published bath for paper "+
			"holds %g %%, and the gas of a stronger one is more than ventilation takes away",
		interval.Digits(float64(c)/10, float64(c)/10), s.Name, benchHydrideLow, benchHydrideHigh, mostHydride,
	)
}

// CheckBath refuses a liquid that no bench should make of these together:
// borohydride stronger than any in use, all of it added up, and what must not meet.
// Errors: a name that is not known, or what is refused, in a sentence.
func CheckBath(of ...Thing) error {
	var hydride GramsPerLitre
	for _, t := range of {
		s := Known(t.Name)
		if s == nil || t.Strength.IsZero() {
			continue // ConflictsOf says what it does not know
		}
		c, err := t.Strength.PerLitre(s.Parent(), 0)
		if err != nil {
			continue // a strength that says nothing of g/L is refused where it is read
		}
		if s.Is(Hydride) {
			hydride += c
			if err := CheckHydride(s, hydride); err != nil {
				return err
			}
		}
	}
	found, err := ConflictsOf(of...)
	if err != nil {
		return err
	}
	if len(found) > 0 && found[0].Level == Stop {
		return fmt.Errorf("this mixture is refused: %s", found[0].Sentence())
	}
	return nil
}

// checkAir refuses a bath whose gas neither a hood nor the room's ventilation takes
// away, and says what would be in bounds.
func (v Ventilation) checkAir(pH float64) error {
	over := float64(v.AirPerHour) / hoodAirPerHour
	if over <= 1 || v.ChangesPerHour <= mostChangesPerHour {
		return nil
	}
	return fmt.Errorf(
		"no ventilation takes this gas away: half of it comes in %s, where a hood draws about %d m³/h and a room has at "+
			"most about %d air changes an hour (usual design, from memory). In bounds would be %s of its strength or "+
			"volume, or pH %.1f or more; benches use %g to %g %% w/v at pH 9 to 10.5 (common practice)",
		v.HalfLife.Text(), hoodAirPerHour, mostChangesPerHour, percentText(0.9/over),
		min(14, math.Ceil(10*(pH+math.Log10(over)))/10),
		benchHydrideLow, benchHydrideHigh,
	)
}

// percentText writes a share: "4.2 %".
func percentText(share float64) string {
	return interval.Digits(100*share, 100*share) + " %"
}
