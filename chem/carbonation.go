package chem

import (
	"errors"
	"fmt"
	"math"
)

// Carbonate is a suspension of chalk (Calcite) or of a magnesium carbonate or
// hydroxide (Nesquehonite, into which magnesia turns under carbon dioxide) kept
// under carbon dioxide at a pressure, in atm, until it takes up no more: the
// strongest bicarbonate that it can give.
func Carbonate(w Water, solid Solids, co2Atm float64) (State, error) {
	if solid != Calcite && solid != Nesquehonite {
		return State{}, fmt.Errorf("%w: chalk or nesquehonite is what carbon dioxide dissolves here", ErrContradiction)
	}
	o, err := Equilibrate(w, Conditions{StandsOver: solid, Open: true, CO2Atm: co2Atm})
	if errors.Is(err, ErrIonicStrength) {
		err = nil // its warnings say that it is rough
	}
	return o, err
}

// Stand is a bicarbonate water that has stood open in air of co2Atm until it is at
// rest: chalk may fall, and nesquehonite.
func Stand(o *State, co2Atm float64) (State, error) {
	return Equilibrate(o.Water(), Conditions{MayFall: Calcite | Nesquehonite, Open: true, CO2Atm: co2Atm})
}

// GasTransfer is the range of k_L a in 1/s by which a gas gets into a liquid: a few
// bubbles through a bottle to a well stirred sparger (Garcia-Ochoa and Gomez,
// Biotechnol. Adv. 27, 153, 2009, give 0.001 to 0.1 for bubble columns and stirred
// tanks; from memory, not verified).
var GasTransfer = Estimate{Value: 0.005, Low: 0.001, High: 0.05}

// CarbonationMinutes is the least time in which that gas reaches a state, by the
// gas alone: all the carbon dioxide that it took up, the transfer driven by what
// the liquid still lacks of it, CO2 = CO2(1 - exp(-k t)) and what the solid binds
// drawn from it at full drive. How fast the grains of the solid dissolve is not in
// it and cannot be told.
func (o *State) CarbonationMinutes() Estimate {
	free := o.Molality("CO2")
	if free <= 0 {
		return Estimate{}
	}
	bound := max(0, o.CO2TakenUp()-free)
	times := bound/free + math.Log(20) // 95 % of the free gas
	return estimate(times/GasTransfer.Value/60, times/GasTransfer.High/60, times/GasTransfer.Low/60)
}

// DegassingHours is the time constant in which an open vessel of a depth in mm
// loses its free carbon dioxide to the air: depth over the liquid's film (see
// liquidFilm), still to stirred.
func DegassingHours(depthMM float64) Estimate {
	hours := func(film float64) float64 { return depthMM / 1000 / film / 3600 }
	still, stirred := hours(liquidFilm(false)), hours(liquidFilm(true))
	return estimate(math.Sqrt(still*stirred), still, stirred)
}

// Bottle is a closed bottle of a carbonated water.
type Bottle struct {
	// HeadShare is the part of the bottle that is gas, 0.01 to 0.9.
	HeadShare float64
	// AirAtm is the air in the gas when it was closed.
	AirAtm float64
}

// Warmed is the whole pressure in atm, above a vacuum, in the closed bottle of a
// state when it has come to a temperature: the carbon dioxide of liquid and gas
// shared out anew (Henry's law with its temperature, in chem's equilibrium), the
// air warmed, water vapour left out (0.04 atm at 30 deg C). Nothing falls. It fails
// outside the temperatures of the constants, and beyond MaxCO2Atm.
func (b Bottle) Warmed(o *State, temperatureC float64) (float64, error) {
	if !(b.HeadShare >= 0.01 && b.HeadShare <= 0.9) || !(b.AirAtm >= 0 && b.AirAtm <= 2) {
		return 0, fmt.Errorf("a bottle with %g of it gas and %g atm of air %w: 0.01 to 0.9 and 0 to 2 would be right",
			b.HeadShare, b.AirAtm, ErrAmount)
	}
	w, err := o.Water().At(temperatureC)
	if err != nil {
		return 0, err
	}
	const gasL = 0.0820574 // L atm/(mol K)
	// litres of gas over the water that holds a kg
	litres := o.Water().LitresPerKg() * b.HeadShare / (1 - b.HeadShare)
	before := pressureCO2(o) * litres / (gasL * (o.TemperatureC() + kelvin))
	total := w.n[C] + before
	var s Solver
	var after State
	atm, err := rising(func(atm float64) (float64, error) {
		v := w
		v.n[C] = max(0, total-atm*litres/(gasL*(temperatureC+kelvin)))
		v.balance()
		err := s.Solve(&v, Conditions{}, &after)
		return atm - pressureCO2(&after), err
	}, 0, 1.2*MaxCO2Atm, 1e-6)
	if errors.Is(err, errNoRoot) {
		return 0, fmt.Errorf("%w: above %d atm of carbon dioxide", ErrTooMuch, MaxCO2Atm)
	}
	if err != nil {
		return 0, err
	}
	return atm + b.AirAtm*(temperatureC+kelvin)/(o.TemperatureC()+kelvin), nil
}

// pressureCO2 is the partial pressure in atm that a state's fugacity of CO2 means.
func pressureCO2(o *State) float64 {
	f := o.CO2Fugacity()
	if f == 0 {
		return 0
	}
	return f * f / fugacityCO2(f, o.water.temperatureC)
}
