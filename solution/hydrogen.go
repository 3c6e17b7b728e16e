package solution

import (
	"fmt"
	"math"

	"benchleaf/chem"
	"benchleaf/interval"
)

// Hydrogen from a borohydride bath, and the air that keeps it harmless.
//
// NaBH4 + 2 H2O = NaBO2 + 4 H2: 4 mol of gas from each mol. The lower flammable
// limit of hydrogen in air is 4.0 % by volume (Coward and Jones, US Bureau of
// Mines Bulletin 503, 1952; basis: memory).
const (
	hydrogenPerHydride = 4.0
	// lowerFlammableLimit of hydrogen in air, as a share of the volume.
	lowerFlammableLimit = 0.04
	// limitShare is the share of the lower flammable limit that air is kept
	// below: a quarter, 1 % hydrogen, the usual action level (basis: memory).
	limitShare = 0.25

	gasConstant = 8.314462618 // J/(mol K), CODATA 2018
	atmosphere  = 101325.0    // Pa
	zeroCelsius = 273.15
)

// Hydrogen is the gas that an amount of borohydride can give.
type Hydrogen struct {
	Moles  Moles
	Litres float64 // at Temp and 101.325 kPa, as an ideal gas
	Temp   Celsius
	// AirAtOnce is the air that keeps it below a quarter of the lower flammable
	// limit if all of it came at once, evenly mixed.
	AirAtOnce CubicMetres
}

// hydrogenFrom is the hydrogen from a mass of a borohydride at t, 0 to 50 °C.
func hydrogenFrom(s *Substance, m Grams, t Celsius) (Hydrogen, error) {
	if s == nil || !s.Is(Hydride) {
		return Hydrogen{}, fmt.Errorf("hydrogen comes from a borohydride, not from %s", nameOf(s))
	}
	if !(m >= 0) || math.IsInf(float64(m), 0) {
		return Hydrogen{}, fmt.Errorf("the mass of %s must be 0 or more, not %g g", s.Name, float64(m))
	}
	if !(t >= 0 && t <= 50) {
		return Hydrogen{}, fmt.Errorf(
			"the temperature of a bath must lie between 0 and 50 °C, not at %g °C", float64(t),
		)
	}
	h := Hydrogen{Moles: Moles(hydrogenPerHydride * float64(m) / float64(s.MolarMass)), Temp: t}
	h.Litres = float64(h.Moles) * gasConstant * (zeroCelsius + float64(t)) / atmosphere * 1000
	h.AirAtOnce = CubicMetres(h.Litres / 1000 / (lowerFlammableLimit * limitShare))
	return h, nil
}

// HydrogenFromBath is hydrogenFrom for a bath of a strength and volume. A strength
// that no bench uses is refused.
func HydrogenFromBath(s *Substance, strength Strength, v Millilitres, t Celsius) (Hydrogen, error) {
	c, err := strength.PerLitre(s, 0)
	if err != nil {
		return Hydrogen{}, err
	}
	if err := CheckHydride(s, c); err != nil {
		return Hydrogen{}, err
	}
	return hydrogenFrom(s, Grams(float64(c)*float64(v)/1000), t)
}

func nameOf(s *Substance) string {
	if s == nil {
		return "nothing"
	}
	return s.Name
}

// Sentence says the gas and the air for a person.
func (h Hydrogen) Sentence() string {
	return fmt.Sprintf(
		"It can give %s of hydrogen. If all came at once, at least %s of air must take it up to stay below a "+
			"quarter of what burns (1 %% hydrogen); keep it open and the exhaust on, for the gas rises and gathers "+
			"under lids and ceilings before it mixes.",
		litres(h.Litres),
		cubicMetres(h.AirAtOnce),
	)
}

func litres(v float64) string { return interval.Digits(v, v) + " L" }

func cubicMetres(v CubicMetres) string { return interval.Digits(float64(v), float64(v)) + " m³" }

// hydrideHalfLife is how long half of a borohydride in water lasts, by the law
// of chem.BorohydrideHalfLifeMinutes (Kreevoy and Jacobson 1979; basis:
// memory), for pH 4 to 14 and 0 to 50 °C, without metals that speed it up.
func hydrideHalfLife(pH float64, t Celsius) (Minutes, error) {
	if !(pH >= 4 && pH <= 14) {
		return 0, fmt.Errorf("the half-life of borohydride is known for pH 4 to 14, not for pH %g", pH)
	}
	if !(t >= 0 && t <= 50) {
		return 0, fmt.Errorf("the half-life of borohydride is known from 0 to 50 °C, not at %g °C", float64(t))
	}
	return Minutes(chem.BorohydrideHalfLifeMinutes(pH, float64(t))), nil
}

// Ventilation is the air change that keeps a room below a quarter of the lower
// flammable limit while a bath gives off hydrogen.
type Ventilation struct {
	Hydrogen
	HalfLife Minutes
	// PeakLitresPerMin is the flow of gas as the bath starts.
	PeakLitresPerMin float64
	// AirPerHour dilutes that first flow to the limit at once: it is enough in
	// any room, and close to a fan that draws over the tray.
	AirPerHour CubicMetres
	// ChangesPerHour is the least air change of the room named, evenly mixed, at
	// which the limit is never reached; 0 when the room is large enough without.
	ChangesPerHour float64
	// StillShare is the hydrogen in the closed room once all has come, as a
	// share of the lower flammable limit.
	StillShare float64
	Cautions   []string
	RestsOn    []string
}

// Ventilate works out the air for a bath that gives h while it stands at pH and
// decays by hydrideHalfLife, in a room of the given volume, above 0 m3.
//
// The room is taken as evenly mixed: with bath decay k and air change q the
// hydrogen peaks at (litres/room) x^(-x/(x-1)), x = q/k, the maximum of
// k (exp(-kt) - exp(-qt))/(q - k).
//
// Errors: a pH, temperature or room that cannot be, or gas that no ventilation
// takes away, with what would be in bounds.
func (h Hydrogen) Ventilate(pH float64, room CubicMetres) (Ventilation, error) {
	if !(room > 0 && room <= 1e6) {
		return Ventilation{}, fmt.Errorf("the room's volume must be above 0 m³, not %g m³", float64(room))
	}
	half, err := hydrideHalfLife(pH, h.Temp)
	if err != nil {
		return Ventilation{}, err
	}
	perMin := math.Ln2 / float64(half)
	limit := lowerFlammableLimit * limitShare
	full := h.Litres / 1000 / float64(room)
	v := Ventilation{
		Hydrogen: h, HalfLife: half,
		PeakLitresPerMin: h.Litres * perMin,
		AirPerHour:       CubicMetres(h.Litres / 1000 * perMin * 60 / limit),
		ChangesPerHour:   60 * perMin * changesForPeak(limit/full),
		StillShare:       full / lowerFlammableLimit,
		RestsOn: []string{
			"4 mol of hydrogen from each mol of borohydride, ideal gas.",
			fmt.Sprintf(
				"Half-life %s at pH %g and %g °C: log10 t½(min) = pH − (0.034 T − 1.92), Kreevoy and Jacobson 1979 "+
					"(from memory); an acid sheet or metal makes it far shorter.",
				half.Text(),
				pH,
				float64(h.Temp),
			),
			"A quarter of the lower flammable limit of 4 % in air; air evenly mixed.",
		},
		Cautions: []string{
			"Open vessel, no lid, no flame or spark, exhaust on, above the tray: the gas is light and gathers under " +
				"lids and ceilings.",
			"Count on all of the gas at once when acid, metal or an acid sheet may get in.",
		},
	}
	if half < allAtOnceMinutes {
		v.Cautions = append(v.Cautions, "At this pH nearly all of the gas comes within a minute, over the tray: raise the "+
			"pH to 9 or more before the borohydride goes in.")
	}
	return v, v.checkAir(pH)
}

// allAtOnceMinutes is the half-life from which most of the gas comes within a
// minute.
const allAtOnceMinutes = Minutes(0.25)

// changesForPeak is the air change, as a multiple of the bath's decay rate, at
// which the peak is share of what a closed room would reach.
func changesForPeak(share float64) float64 {
	if share >= 1 {
		return 0
	}
	peak := func(x float64) float64 {
		if math.Abs(x-1) < 1e-6 {
			return math.Exp(-1)
		}
		return math.Pow(x, -x/(x-1))
	}
	lo, hi := 1e-12, 1.0
	for peak(hi) > share {
		hi *= 2
	}
	for range 100 {
		mid := (lo + hi) / 2
		if peak(mid) > share {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}
