package paper

import (
	"fmt"
	"math"
	"sort"
	"sync"

	"benchleaf/interval"
)

// Damper is what keeps the air of a humidity chamber damp.
type Damper string

// The dampers: saturated salts, and water or a wet blotter.
const (
	SaltNaCl  Damper = "NaCl"
	SaltKCl   Damper = "KCl"
	SaltKNO3  Damper = "KNO3"
	SaltK2SO4 Damper = "K2SO4"
	OpenWater Damper = "water"
)

// Dampers lists them, drier first.
var Dampers = []Damper{SaltNaCl, SaltKCl, SaltKNO3, SaltK2SO4, OpenWater}

// overWater is the humidity that a chamber over water comes to (common practice, no
// source: a lid a little warmer than the water keeps it below 1).
const overWater = 0.98

// saltRows are the rows of saturated-salt-humidity.csv for a salt, by temperature:
// Greenspan, J. Res. NBS 81A, 89, 1977 (from memory), else the CRC Handbook's after
// Wexler (read).
var saltRows = sync.OnceValue(func() map[Damper][][2]float64 {
	all := map[Damper][][2]float64{}
	for _, source := range []string{"Greenspan", "CRC Handbook"} {
		for _, d := range Dampers {
			if len(all[d]) > 0 {
				continue
			}
			for _, r := range readTable("data/saturated-salt-humidity.csv") {
				if r["salt"] == string(d) && len(r["source"]) >= len(source) && r["source"][:len(source)] == source {
					all[d] = append(all[d], [2]float64{number(r["temperature_C"]), number(r["value"]) / 100})
				}
			}
		}
	}
	return all
})

// HumidityOver is the relative humidity over a damper at a temperature (5 to 30 deg C):
// between the rows of the table on a line, the nearest row outside them. Errors: another
// damper or temperature.
func HumidityOver(d Damper, t Celsius) (Humidity, error) {
	if !(t >= 5 && t <= 30) {
		return 0, fmt.Errorf("the chamber must be between 5 and 30 °C, not at %g °C", float64(t))
	}
	if d == OpenWater {
		return overWater, nil
	}
	rows := saltRows()[d]
	if len(rows) == 0 {
		return 0, fmt.Errorf("no humidity is known over %q: use water or one of NaCl, KCl, KNO3, K2SO4", d)
	}
	last := rows[0]
	for _, r := range rows {
		if r[0] >= float64(t) {
			if r[0] == last[0] {
				return Humidity(r[1]), nil
			}
			return Humidity(last[1] + (r[1]-last[1])*(float64(t)-last[0])/(r[0]-last[0])), nil
		}
		last = r
	}
	return Humidity(last[1]), nil
}

// Chamber is where a sheet is humidified.
type Chamber struct {
	Damper       Damper   `json:"damper"`
	TemperatureC Celsius  `json:"temperature_c"` // 5 to 30
	Room         Humidity `json:"-"`             // from which the sheet comes, 0.1 to 0.7
	GapMm        float64  `json:"gap_mm"`        // from the damper to the sheet, 1 to 1000
	Fan          bool     `json:"fan"`
	Sheets       int      `json:"sheets"`   // in a pile, 1 to 50
	OneFace      bool     `json:"one_face"` // the pile lies on something tight
}

func (c Chamber) check() error {
	switch {
	case !(c.Room >= 0.1 && c.Room <= 0.7):
		return fmt.Errorf("the humidity of the room must lie between 10 and 70 %%, not at %.4g %%", float64(100*c.Room))
	case !(c.GapMm >= 1 && c.GapMm <= 1000):
		return fmt.Errorf("the way from the damper to the sheet must lie between 1 and 1000 mm, not at %g mm", c.GapMm)
	case c.Sheets < 1 || c.Sheets > 50:
		return fmt.Errorf("a pile must have 1 to 50 sheets, not %d", c.Sheets)
	}
	return nil
}

// Humidified is how a sheet takes up moisture.
type Humidified struct {
	Humidity  Humidity        `json:"-"`
	FromGPerG interval.Result `json:"from_g_per_g"`
	EndGPerG  interval.Result `json:"end_g_per_g"`
	// HalfMin and MostMin are when it has taken up a half and nine tenths of what it will.
	HalfMin interval.Result `json:"half_min"`
	MostMin interval.Result `json:"most_min"`
	// Course is its moisture with time.
	Course   []DryingPoint `json:"course"`
	Dominant string        `json:"dominant"`
	Taken    []Taken       `json:"taken"`
	Warnings []string      `json:"warnings,omitempty"`
	RestsOn  []string      `json:"rests_on"`
}

// Humidify is a sheet, or the middle of a pile, that takes up water from the air of a
// chamber: a slab behind a layer of air (Crank, The Mathematics of Diffusion, 2nd ed. 1975,
// eq. 4.53) that takes what the isotherm says between both humidities, vapour passing it
// as through paper. The layer is between resting air over the whole gap and the air's own
// movement; the heat that is set free at the face holds it back (Lewis). Errors: an
// impossible sheet or chamber.
func Humidify(s Sheet, c Chamber, o Options) (Humidified, error) {
	if err := s.Check(); err != nil {
		return Humidified{}, err
	}
	if err := c.check(); err != nil {
		return Humidified{}, err
	}
	h, err := HumidityOver(c.Damper, c.TemperatureC)
	if err != nil {
		return Humidified{}, err
	}
	if h <= c.Room {
		return Humidified{}, fmt.Errorf("the air over %s has %.0f %%, no more than the room: it would dry the sheet",
			c.Damper, float64(100*h))
	}
	k := s.complete(Drained)
	layer := airLayer(c)
	inputs := []interval.Input{
		{Name: "the sheet's mass", Range: k.dryingInputs(Air{})[dDry].Range},
		{Name: "its moisture before", Range: moistureAt(c.TemperatureC, c.Room)},
		{Name: "its moisture at the end", Range: moistureAt(c.TemperatureC, h)},
		{Name: "how the air moves in the chamber", Range: layer},
		{Name: "how fast vapour passes the paper", Range: vapourInPaper},
		{Name: "its thickness", Range: typicals()[s.Class][qThickness].Range},
	}
	most, err := (interval.Study{Inputs: inputs, Samples: 20, Seed: 1}).Run(1, func(in, out []float64) {
		out[0] = c.uptake(in, h).minutesTo(0.9)
	})
	if err != nil {
		return Humidified{}, err
	}
	horizon := 2.5 * most[0].Best
	times := make([]float64, dryingPoints)
	for i := range times {
		times[i] = 60 * courseAt(i, horizon)
	}
	study := interval.Study{Inputs: inputs, Samples: o.Samples, Seed: o.Seed}
	r, err := study.Run(4+dryingPoints, func(in, out []float64) {
		u := c.uptake(in, h)
		out[0], out[1] = in[1], max(in[1], in[2])
		out[2], out[3] = u.minutesTo(0.5), u.minutesTo(0.9)
		for i, turns := range u.slab.turns(times) {
			out[4+i] = out[0] - (out[1]-out[0])*math.Expm1(-turns)
		}
	})
	if err != nil {
		return Humidified{}, err
	}
	a := Humidified{
		Humidity: h, FromGPerG: r[0], EndGPerG: r[1], HalfMin: r[2], MostMin: r[3], Dominant: r[3].Sentence(),
		Taken: []Taken{
			{"Transfer by the air of the chamber", layer.Scale(1000), "mm/s", "memory", "resting air to its own movement"},
			{"Vapour in paper", vapourInPaper.Scale(1e6), "mm²/s", "memory", "Nilsson and Stenström 1995"},
			typicals()[s.Class][qThickness].taken("Thickness"),
		},
		RestsOn: []string{
			"A slab behind a layer of air (Crank 1975, eq. 4.53); isotherms as in drying, taken straight between both " +
				"humidities, so the end comes more slowly than drawn.",
			"Humidity over salts: Greenspan 1977, and for potassium nitrate the CRC Handbook after Wexler; over water 98 % " +
				"(common practice, no source). Vapour humidifying brought old papers to 81 ± 5 % solids, 0.16 to 0.32 g/g " +
				"(Sugarman and Vitale, JAIC 31-2, 1992).",
		},
	}
	for i := range dryingPoints {
		a.Course = append(a.Course, DryingPoint{courseAt(i, horizon), r[4+i].Range})
	}
	if a.MostMin.High > 24*60 {
		a.Warnings = append(a.Warnings, "It may take more than a day, and mould can start: take fewer sheets at a "+
			"time, or move the air.")
	}
	return a, nil
}

// moistureAt is the moisture of a sheet that takes up water at a humidity of 0.05 to
// 0.98, g/g: equilibriumMoisture, drawn out above 0.90 by the same isotherms.
func moistureAt(t Celsius, h Humidity) interval.Range {
	r := interval.Range{Best: gab(h)}
	r.Low = min(0.9*r.Best, fibreMoisture(t, h))
	r.High = max(1.1*r.Best, woodMoisture(float64(t), float64(h)))
	return r
}

// airLayer is the velocity of transfer between the damper and the sheet, m/s: from
// diffusion over the gap to the air's own movement, and with a fan to four times that.
func airLayer(c Chamber) interval.Range {
	const diffusivity, own = 2.5e-5, 2.5e-3 // as in evaporation
	if c.Fan {
		return interval.Range{Low: own, Best: 2 * own, High: 4 * own}
	}
	still := min(diffusivity/(c.GapMm/1000), own)
	return interval.Range{Low: still, Best: math.Sqrt(still * own), High: own}
}

// uptake is a slab with the way that its speed is had by.
type uptake struct{ slab slab }

func (c Chamber) uptake(in []float64, h Humidity) uptake {
	faces := 2.0
	if c.OneFace {
		faces = 1
	}
	kelvinStep, latent, air, radiation := 1.0, 2.454e6, 1.2e3*0.91, 5.7
	celsius := float64(c.TemperatureC)
	saturated := vapourGM3(celsius, 1) / 1000 // kg/m3
	slope := (vapourGM3(celsius+kelvinStep, h) - vapourGM3(celsius, h)) / 1000
	transfer := max(1e-6, in[3])
	transfer /= 1 + latent*slope/(air+radiation/transfer)
	thick := max(1e-6, in[5]*1e-6)
	// What a volume of paper takes up over what a volume of air does.
	capacity := in[0] / 1000 / thick * max(1e-4, in[2]-in[1]) / (saturated * float64(h-c.Room))
	return uptake{slab{
		DiffusionM2S: in[4] / capacity, PathM: float64(c.Sheets) * thick / faces, Porosity: capacity,
		FilmMS: transfer, Alpha: math.Inf(1),
	}}
}

// minutesTo is when a share, 0.1 to 0.99, is taken up: from sixteen times over four orders,
// then twice from sixteen between the two that hold it.
func (u uptake) minutesTo(share float64) float64 {
	want, times := -math.Log1p(-share), make([]float64, 16)
	// A slab and its layer of air take about this long, one after the other.
	scale := (u.slab.PathM*u.slab.PathM/u.slab.DiffusionM2S + u.slab.PathM*u.slab.Porosity/u.slab.FilmMS) / 60
	lo, hi := 1e-3*scale, 10*scale
	for range 3 {
		step := math.Pow(hi/lo, 1.0/float64(len(times)-1))
		for i := range times {
			times[i] = 60 * lo * math.Pow(step, float64(i))
		}
		turns := u.slab.turns(times)
		i := sort.SearchFloat64s(turns, want)
		if i == 0 || i == len(turns) {
			return times[max(0, min(i, len(turns)-1))] / 60
		}
		lo, hi = times[i-1]/60, times[i]/60
	}
	return hi
}
