package solution

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// solventVapour is what the vapour of a solvent rests on.
type solventVapour struct {
	name string
	// antoine: log10(P/mmHg) = a - b/(c + t), t in °C (basis: memory, handbooks of
	// vapour-liquid equilibrium; 20 °C gives 5.8, 4.3 and 24.7 kPa).
	a, b, c float64
	// vanLaar coefficients with water (basis: memory, the same handbooks). With them
	// the published flash points of ethanol and water are met within 3 °C (a test).
	laar12, laar21 float64
	// flash point of the pure liquid, closed cup, °C: International Chemical Safety
	// Cards 0044, 0554 and 0087 (basis: memory).
	flash Celsius
	// lower explosive limit in air, % by volume: the same cards (basis: memory). For
	// acetone published values run from 2.1 to 2.5; the card's is taken.
	explosive float64
	// limit at the workplace over eight hours, ppm: 29 CFR 1910.1000, table Z-1
	// (basis: memory). Local law may set less.
	workplace float64
}

var solventVapours = []solventVapour{
	{"ethanol", 8.20417, 1642.89, 230.300, 1.6798, 0.9227, 13, 3.3, 1000},
	{"propan-2-ol", 8.87829, 2010.33, 252.636, 2.4702, 1.0938, 12, 2.0, 400},
	{"acetone", 7.11714, 1210.595, 229.664, 2.0400, 1.5461, -18, 2.2, 1000},
}

func vapourOf(s *Substance) (solventVapour, error) {
	for _, v := range solventVapours {
		if s != nil && s.Parent().Name == v.name {
			return v, nil
		}
	}
	return solventVapour{}, fmt.Errorf(
		"the vapour of %s is not in the table: it has ethanol, propan-2-ol and acetone", nameOf(s),
	)
}

const mmHg = 133.322 // Pa

// pure is the vapour pressure of the pure solvent, Pa.
func (v solventVapour) pure(t float64) float64 { return math.Pow(10, v.a-v.b/(v.c+t)) * mmHg }

// moles is the solvent's share of a mixture with water, by amount, from its
// share by mass.
func (v solventVapour) moles(s *Substance, mass float64) float64 {
	n := mass / float64(s.MolarMass)
	return n / (n + (1-mass)/molarWater)
}

const molarWater = 18.015

// activity is the van Laar coefficient of the solvent in water at a share x by
// amount, above 0.
func (v solventVapour) activity(x float64) float64 {
	if x >= 1 {
		return 1
	}
	r := 1 + v.laar12*x/(v.laar21*(1-x))
	return math.Exp(v.laar12 / (r * r))
}

// FlashPoint is the temperature from which the vapour over a solvent and water
// burns when lit, closed cup. Strength zero is the pure solvent. Water does not
// burn, so it is where x γ P(t) of the mixture reaches P of the pure solvent at its
// own flash point (Liaw, Lee, Tang, Hsu and Liu, J. Loss Prev. Process Ind. 15,
// 429, 2002; basis: memory); Raoult's law with van Laar's coefficients. Good to about
// 3 °C for ethanol, against published values; ok is false above 100 °C. Errors: a
// substance that the table does not hold.
func FlashPoint(s *Substance, strength Strength) (t Celsius, ok bool, err error) {
	v, err := vapourOf(s)
	if err != nil {
		return 0, false, err
	}
	x := v.moles(s.Parent(), s.percentWW(strength)/100)
	if x <= 0 {
		return 0, false, nil
	}
	want := v.pure(float64(v.flash)) / (x * v.activity(x))
	lo, hi := -40.0, 100.0
	if v.pure(hi) < want {
		return 0, false, nil
	}
	for range 60 {
		if mid := (lo + hi) / 2; v.pure(mid) < want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return Celsius(math.Round(hi)), true, nil
}

// WetArea is a surface wet with a solvent, or a solvent and water, in a room: a
// blotter, a sprayed sheet, a tray.
type WetArea struct {
	Substance *Substance
	Strength  Strength // zero: pure
	AreaM2    float64
	Temp      Celsius
	Room      CubicMetres
	// ChangesPerHour of the room's air.
	ChangesPerHour float64
	// Liquid that is there in all, mL; 0: as much as evaporates.
	Liquid Millilitres
}

// VapourInRoom is what comes of a wet area.
type VapourInRoom struct {
	// GramsPerHour that evaporate, with a range for still air and a draught.
	GramsPerHour interval.Range
	// Percent of the room's air by volume, at its highest, evenly mixed.
	Percent interval.Range
	// Explosive is the lower explosive limit, % by volume; Workplace the limit over
	// eight hours, ppm.
	Explosive, Workplace float64
	// AirPerHour keeps the room below a tenth of the explosive limit for good; for
	// the most that evaporates.
	AirPerHour CubicMetres
	// FlashPoint of the liquid; HasFlash is false above 100 °C.
	FlashPoint Celsius
	HasFlash   bool
	Cautions   []string
	RestsOn    []string
}

// Indoor air over a bench, m/s: still, usual, draughty (basis: memory, 0.05 to 0.3
// is what rooms have).
var indoorAir = interval.Range{Low: 0.05, Best: 0.1, High: 0.3}

// waterTransfer is the mass transfer coefficient of water vapour at 1 m/s, m/s, of
// the evaporation equation of the US Environmental Protection Agency, k = 0.67
// cm/s x U^0.78 x (18/M)^(1/3) (Technical Guidance for Hazards Analysis, 1987, and
// Risk Management Program Guidance for Offsite Consequence Analysis, EPA 550-B-99-009,
// appendix D, after Mackay and Matsugu 1973; basis: memory).
const waterTransfer = 0.0067

// tenth is the share of the lower explosive limit that a room is kept below (usual
// industrial practice, memory).
const tenth = 0.1

// Vapour works out the vapour in the room. The liquid is taken to stay at the
// room's temperature and strength, both of which overstate what evaporates. With
// rate E, air Q and room V the air holds E/Q (1 - exp(-Q t/V)) at the time t when
// the liquid is gone, or E/Q at last, and never more than over the liquid itself.
// Errors: a solvent that the table does not hold, or what no room has.
func (w WetArea) Vapour() (VapourInRoom, error) {
	v, err := vapourOf(w.Substance)
	if err != nil {
		return VapourInRoom{}, err
	}
	if err := w.check(); err != nil {
		return VapourInRoom{}, err
	}
	parent := w.Substance.Parent()
	mass := w.Substance.percentWW(w.Strength) / 100
	x := v.moles(parent, mass)
	pressure := x * v.activity(x) * v.pure(float64(w.Temp)) // Pa
	kelvin := zeroCelsius + float64(w.Temp)
	molar := float64(parent.MolarMass) / 1000 // kg/mol
	rate := func(speed float64) float64 {     // kg/h
		k := waterTransfer * math.Pow(speed, 0.78) * math.Cbrt(molarWater/float64(parent.MolarMass))
		return 3600 * k * molar * pressure / (gasConstant * kelvin) * w.AreaM2
	}
	all := math.Inf(1) // kg
	if w.Liquid > 0 {
		all = float64(w.Liquid) / 1000 * mass * liquidDensity(parent, mass)
	}
	perKg := gasConstant * kelvin / (molar * atmosphere) // m3 of vapour
	room, air := float64(w.Room), w.ChangesPerHour*float64(w.Room)
	most := 100 * pressure / atmosphere
	percent := func(e float64) float64 {
		held := all // kg in the room
		if air > 0 {
			held = e / air * room * -math.Expm1(-air/room*all/e)
		}
		return min(most, 100*held*perKg/room)
	}
	out := VapourInRoom{Explosive: v.explosive, Workplace: v.workplace}
	e := interval.Range{Low: rate(indoorAir.Low), Best: rate(indoorAir.Best), High: rate(indoorAir.High)}
	out.GramsPerHour = e.Scale(1000)
	out.Percent = interval.Range{Low: percent(e.Low), Best: percent(e.Best), High: percent(e.High)}
	out.AirPerHour = CubicMetres(e.High * perKg / (tenth * v.explosive / 100))
	out.FlashPoint, out.HasFlash, err = FlashPoint(w.Substance, w.Strength)
	if err != nil {
		return VapourInRoom{}, err
	}
	out.say(w, v)
	return out, nil
}

// liquidDensity is that of a solvent with water, kg/L; volumes taken as adding up
// where it is not ethanol.
func liquidDensity(s *Substance, mass float64) float64 {
	if s.Name == "ethanol" {
		return float64(ethanolDensity(mass))
	}
	return 1 / (mass/float64(s.Density) + (1-mass)/0.9982)
}

func (w WetArea) check() error {
	switch {
	case !(w.AreaM2 > 0 && w.AreaM2 <= 100):
		return fmt.Errorf("the wet area must be above 0 and at most 100 m², not %g m²", w.AreaM2)
	case !(w.Temp >= 0 && w.Temp <= 40):
		return fmt.Errorf("the temperature of the room must lie between 0 and 40 °C, not at %g °C", float64(w.Temp))
	case !(w.Room > 0 && w.Room <= 1e6):
		return fmt.Errorf("the room's volume must be above 0 m³, not %g m³", float64(w.Room))
	case !(w.ChangesPerHour >= 0 && w.ChangesPerHour <= 100):
		return fmt.Errorf("the air changes must lie between 0 and 100 an hour, not at %g", w.ChangesPerHour)
	case !(w.Liquid >= 0 && w.Liquid <= 1e5):
		return fmt.Errorf("the liquid must be between 0 and 100 L, not %g mL", float64(w.Liquid))
	}
	if w.Strength.IsZero() {
		return nil
	}
	_, err := w.Strength.PerLitre(w.Substance.Parent(), 0)
	return err
}

// say writes the cautions and what the figures rest on.
func (out *VapourInRoom) say(w WetArea, v solventVapour) {
	if out.Percent.High >= tenth*v.explosive {
		out.Cautions = append(out.Cautions, fmt.Sprintf(
			"This can reach a tenth of what explodes (%.2g %% of the air): wet less at once, or give it %s of air an hour, "+
				"drawn from low down over the bench.", tenth*v.explosive, cubicMetres(out.AirPerHour)))
	}
	if out.Percent.Best*1e4 > v.workplace {
		out.Cautions = append(out.Cautions, fmt.Sprintf(
			"It passes the limit for a workplace over eight hours of %.0f ppm (29 CFR 1910.1000; local law may set less).",
			v.workplace))
	}
	if out.HasFlash && out.FlashPoint <= w.Temp {
		out.Cautions = append(out.Cautions, fmt.Sprintf(
			"Its flash point of about %g °C is not above the room: the vapour right over it burns from a spark, in any "+
				"room.",
			float64(out.FlashPoint)))
	}
	out.Cautions = append(out.Cautions, "The vapour is heavier than air: it lies in trays, presses and low corners. No "+
		"flame, spark or hot plate; soaked blotters go out of the room.")
	out.RestsOn = []string{
		fmt.Sprintf("Evaporation k = 0.67 cm/s × U^0.78 × (18/M)^⅓, EPA 1987 (from memory), for air at %g m/s, %g to "+
			"%g m/s.",
			indoorAir.Best, indoorAir.Low, indoorAir.High),
		"The liquid stays as warm as the room and as strong as at first: both make the figures too high rather than too low.",
		"Vapour pressure by Antoine, water by van Laar's coefficients (from memory); published flash points of ethanol and " +
			"water are met within 3 °C.",
		fmt.Sprintf("Lower explosive limit %g %% by volume, International Chemical Safety Card (from memory).", v.explosive),
	}
}
