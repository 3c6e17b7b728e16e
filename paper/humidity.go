package paper

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"benchleaf/interval"
)

// gab is the isotherm of paper, g of water per g dry at a humidity as a fraction:
// M0 C K a/((1 - K a)(1 - K a + C K a)), form of Guggenheim, Anderson and de Boer.
// The constants lie in the ranges of moisture-sorption-hygroexpansion.csv (Lindner,
// J. Mater. Sci. 53, 1, 2018; from memory) and between that table's paper fibre
// and wood.
func gab(humidity float64) float64 {
	const m0, c, k = 0.050, 14, 0.83
	x := k * humidity
	return m0 * c * x / ((1 - x) * (1 - x + c*x))
}

// hysteresis is what a sheet that comes from wet holds more at middle humidity,
// g/g: 0.010 to 0.015 (Lindner 2018, from memory).
const hysteresis = 0.012

// EquilibriumMoisture is the water of a sheet in air of a humidity in per cent (5
// to 90) and a temperature (0 to 40 deg C), g per g dry: best by the isotherm of
// Guggenheim, Anderson and de Boer, low that of paper fibre (FibreMoisture), high
// that of wood (Forest Products Laboratory, Wood Handbook), a tenth above and
// below at least. fromWet adds what a sheet that dries holds more.
func EquilibriumMoisture(temperatureC, humidityPercent float64, fromWet bool) (interval.Range, error) {
	if !(humidityPercent >= 5 && humidityPercent <= 90) {
		return interval.Range{}, fmt.Errorf("the humidity must lie between 5 and 90 %%, not at %g %%", humidityPercent)
	}
	if !(temperatureC >= 0 && temperatureC <= 40) {
		return interval.Range{}, fmt.Errorf("the temperature must lie between 0 and 40 °C, not at %g °C", temperatureC)
	}
	a := humidityPercent / 100
	r := interval.Range{Best: gab(a)}
	r.Low = min(0.9*r.Best, FibreMoisture(temperatureC, a))
	r.High = max(1.1*r.Best, woodMoisture(temperatureC, a))
	if fromWet {
		more := hysteresis * 4 * a * (1 - a)
		r.Low, r.Best, r.High = r.Low+0.8*more, r.Best+more, r.High+1.25*more
	}
	return r, nil
}

// woodMoisture is the equation of Hailwood and Horrobin with the Wood Handbook's
// constants for deg C, g/g (from memory; checked against the table).
func woodMoisture(t, a float64) float64 {
	w := 349 + 1.29*t + 0.0135*t*t
	k := 0.805 + 0.000736*t - 0.00000273*t*t
	k1 := 6.27 - 0.00938*t - 0.000303*t*t
	k2 := 1.91 + 0.0407*t - 0.000293*t*t
	x := k * a
	return 18 / w * (x/(1-x) + (k1*x+2*k1*k2*x*x)/(1+k1*x+k1*k2*x*x))
}

// vapourKPa is the pressure of water vapour over water, 0 to 40 deg C: Magnus form
// of the WMO guide 8, 0.6112 exp(17.62 t/(243.12 + t)), from memory, within 0.4 % of
// the table of water properties.
func vapourKPa(celsius float64) float64 {
	return 0.6112 * math.Exp(17.62*celsius/(243.12+celsius))
}

// vapourGM3 is the water vapour in air, g/m3.
func vapourGM3(celsius, humidity float64) float64 {
	return humidity * vapourKPa(celsius) * 1000 / (461.5 * (celsius + 273.15)) * 1000
}

// SaltHumidity is the relative humidity in per cent over a saturated salt solution
// at a temperature, by Greenspan, J. Res. NBS 81A, 89, 1977, table 2, interpolated:
// to make a chamber of known humidity, or to check a hygrometer. The values are
// from memory but for those that another table has too. Errors: a salt that is not
// listed, a temperature outside the table.
func SaltHumidity(salt string, temperatureC float64) (percent float64, err error) {
	table, ok := greenspan()[salt]
	if !ok {
		return 0, fmt.Errorf("the salt %q is not in the table: use one of %s", salt, strings.Join(Salts(), ", "))
	}
	last := table[len(table)-1]
	if !(temperatureC >= table[0][0] && temperatureC <= last[0]) {
		return 0, fmt.Errorf(
			"the table for %s goes from %g to %g °C, not to %g °C",
			salt,
			table[0][0],
			last[0],
			temperatureC,
		)
	}
	for i := 1; i < len(table); i++ {
		if a, b := table[i-1], table[i]; temperatureC <= b[0] {
			return a[1] + (b[1]-a[1])*(temperatureC-a[0])/(b[0]-a[0]), nil
		}
	}
	return last[1], nil
}

// Salts lists the salts of SaltHumidity, the driest first.
func Salts() []string {
	var names []string
	for n := range greenspan() {
		names = append(names, n)
	}
	slices.SortFunc(names, func(a, b string) int {
		x, y := greenspan()[a], greenspan()[b]
		return int(math.Copysign(1, x[len(x)-1][1]-y[len(y)-1][1]))
	})
	return names
}

var greenspan = sync.OnceValue(func() map[string][][2]float64 {
	all := map[string][][2]float64{}
	for _, r := range readTable("data/saturated-salt-humidity.csv") {
		if strings.HasPrefix(r["source"], "Greenspan") && r["unit"] == "percent RH" {
			all[r["salt"]] = append(all[r["salt"]], [2]float64{number(r["temperature_C"]), number(r["value"])})
		}
	}
	for _, t := range all {
		slices.SortFunc(t, func(a, b [2]float64) int { return int(math.Copysign(1, a[0]-b[0])) })
	}
	return all
})

// tableSpan is the span of a row of moisture-sorption-hygroexpansion.csv.
func tableSpan(quantity string) interval.Range {
	for _, r := range readTable("data/moisture-sorption-hygroexpansion.csv") {
		if r["material_or_quantity"] == quantity {
			low, high, _ := strings.Cut(r["value"], "-")
			return interval.Range{Low: number(low), Best: (number(low) + number(high)) / 2, High: number(high)}
		}
	}
	panic("paper: the table has no row for " + quantity)
}
