package paper

import (
	"fmt"
	"math"
	"strings"

	"benchleaf/interval"
)

// gab is the isotherm of paper, g of water per g dry at a humidity:
// M0 C K a/((1 - K a)(1 - K a + C K a)), form of Guggenheim, Anderson and de Boer.
// The constants lie in the ranges of moisture-sorption-hygroexpansion.csv (Lindner,
// J. Mater. Sci. 53, 1, 2018; from memory) and between that table's paper fibre
// and wood.
func gab(h Humidity) float64 {
	const m0, c, k = 0.050, 14, 0.83
	x := k * float64(h)
	return m0 * c * x / ((1 - x) * (1 - x + c*x))
}

// hysteresis is what a sheet that comes from wet holds more at middle humidity,
// g/g: 0.010 to 0.015 (Lindner 2018, from memory).
const hysteresis = 0.012

// equilibriumMoisture is the water of a sheet in air of a humidity (0.05 to
// 0.90) and a temperature (0 to 40 deg C), g per g dry: best by the isotherm of
// Guggenheim, Anderson and de Boer, low that of paper fibre (fibreMoisture), high
// that of wood (Forest Products Laboratory, Wood Handbook), a tenth above and
// below at least. fromWet adds what a sheet that dries holds more.
func equilibriumMoisture(t Celsius, h Humidity, fromWet bool) (interval.Range, error) {
	if !(h >= 0.05 && h <= 0.90) {
		return interval.Range{}, fmt.Errorf("the humidity must lie between 5 and 90 %%, not at %.4g %%", float64(100*h))
	}
	if !(t >= 0 && t <= 40) {
		return interval.Range{}, fmt.Errorf("the temperature must lie between 0 and 40 °C, not at %g °C", float64(t))
	}
	a := float64(h)
	r := interval.Range{Best: gab(h)}
	r.Low = min(0.9*r.Best, fibreMoisture(t, h))
	r.High = max(1.1*r.Best, woodMoisture(float64(t), a))
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
func vapourGM3(celsius float64, h Humidity) float64 {
	return float64(h) * vapourKPa(celsius) * 1000 / (461.5 * (celsius + 273.15)) * 1000
}

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
