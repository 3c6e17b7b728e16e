package solution

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"sync"

	"benchleaf/chem"
	"benchleaf/interval"
)

// Lime is less soluble in warm water than in cold. The recipes take one
// published series as best: the measured values at each 10 °C that Seidell
// repeats from Bassett (1934). It alone covers 0 to 50 °C with measurements, so
// nothing is extrapolated, and it lies in the middle of the published sets:
// handbooks of the Lange family stand up to 5 % above it (fine, freshly slaked
// lime dissolves more), thermodynamic sets and the electrometric value of Bates,
// Bower and Smith (1956) 4 to 9 % below. The range runs from the lowest set to
// the highest at each temperature, and is nowhere less than 5 % either way.
const (
	limeBest      = "Bassett"           // as its source column begins
	limeHigh      = "Lange"             // the highest of the published series
	limeLow       = "D: Thermoddem"     // the lowest set, 5 to 40 °C
	limeName      = "calcium hydroxide" // the substance's name
	limeIn        = "Ca(OH)2"           // its name in the table
	minTemp       = Celsius(0)          // where the series begins
	maxTemp       = Celsius(50)         // where the recipes stop
	limeUnit      = "g/100 g water"     // of all its rows that are used
	minLimeSpread = 0.05
)

// point is a solubility in g per 100 g of water.
type point struct{ t, s float64 }

// solubilitySeries takes the rows of one substance whose source holds a phrase.
func solubilitySeries(substance, source string) []point {
	var out []point
	for _, r := range readTable("solubility-salts.csv") {
		if r["substance"] == substance && r["unit"] == limeUnit && strings.Contains(r["source"], source) {
			out = append(out, point{r.number("temperature_C"), r.number("value")})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].t < out[j].t })
	return out
}

// between interpolates linearly and holds the end values outside.
func between(series []point, t float64) float64 {
	i := sort.Search(len(series), func(i int) bool { return series[i].t >= t })
	switch {
	case i == 0:
		return series[0].s
	case i == len(series):
		return series[i-1].s
	}
	a, b := series[i-1], series[i]
	return a.s + (b.s-a.s)*(t-a.t)/(b.t-a.t)
}

var limeSeries = sync.OnceValue(func() (s struct{ best, low, high []point }) {
	s.best = solubilitySeries(limeIn, limeBest)
	// The one value that the series lacks at 50 °C, from the same handbook.
	s.best = append(s.best, solubilitySeries(limeIn, "Seidell, Solubilities, 3rd ed., 1940")...)
	sort.Slice(s.best, func(i, j int) bool { return s.best[i].t < s.best[j].t })
	s.best = slices.CompactFunc(s.best, func(a, b point) bool { return a.t == b.t })
	ratio := func(series []point) []point {
		var out []point
		for _, p := range series {
			out = append(out, point{p.t, p.s / between(s.best, p.t)})
		}
		return out
	}
	s.low, s.high = ratio(solubilitySeries(limeIn, limeLow)), ratio(solubilitySeries(limeIn, limeHigh))
	return s
})

// LimeSolubility is the strength of water saturated with calcium hydroxide at
// t, 0 to 50 °C, with the spread of the published sets as its range.
//
// Best: Bassett, J. Chem. Soc. 1270 (1934), as repeated in Seidell,
// Solubilities, 3rd ed. (1940), interpolated; from g per 100 g of water by
// SaturatedPerLitre. Errors: t outside 0 to 50 °C.
func LimeSolubility(t Celsius) (interval.Range, error) {
	if !(t >= minTemp && t <= maxTemp) {
		return interval.Range{}, fmt.Errorf(
			"the solubility of lime is known here from %.0f to %.0f °C, not at %g °C: let the stock come to room "+
				"temperature and measure it again",
			float64(minTemp),
			float64(maxTemp),
			float64(t),
		)
	}
	s := limeSeries()
	best := float64(saturatedPerLitre(between(s.best, float64(t)), t))
	return interval.Range{
		Low:  best * min(between(s.low, float64(t)), 1-minLimeSpread),
		Best: best,
		High: best * max(between(s.high, float64(t)), 1+minLimeSpread),
	}, nil
}

// LimeSolubilitySource is the sentence that says where LimeSolubility comes
// from.
const LimeSolubilitySource = "Solubility of calcium hydroxide: Bassett 1934 as repeated in Seidell, Solubilities, " +
	"3rd ed. 1940 (measured, 0 to 60 °C); the range is the spread of handbooks and thermodynamic sets, at least 5 % " +
	"either way."

// saturatedPerLitre turns g in 100 g of water into g in 1 L of a weak solution.
// A gram of dissolved lime takes almost no room of its own: the solution is
// denser than water by 1.27 times the lime in it (from the density of saturated
// lime water at 20 °C computed by PHREEQC 3.8.9, 1.0003 g/mL against 0.9982;
// the whole correction is below 0.1 %).
func saturatedPerLitre(s float64, t Celsius) GramsPerLitre {
	density := float64(waterDensity(t)) + 0.0127*s
	return GramsPerLitre(1000 * density * s / (100 + s))
}

// waterDensity is the density of water at t and 1 atm (Kell 1975, by chem).
func waterDensity(t Celsius) GramsPerMillilitre {
	return GramsPerMillilitre(chem.WaterDensity(float64(t)))
}

// LimePoint is a published solubility of calcium hydroxide, for a plot.
type LimePoint struct {
	Temp     Celsius
	PerLitre GramsPerLitre
	Source   string
	Basis    Basis
}

// LimePoints lists all published and computed solubilities of the table from 0
// to 50 °C.
func LimePoints() []LimePoint {
	var out []LimePoint
	for _, r := range readTable("solubility-salts.csv") {
		t := Celsius(r.number("temperature_C"))
		if r["substance"] != limeIn || t > maxTemp {
			continue
		}
		p := LimePoint{Temp: t, Source: r["source"], Basis: Basis(r["basis"])}
		switch r["unit"] {
		case limeUnit:
			p.PerLitre = saturatedPerLitre(r.number("value"), t)
		case "mol/L":
			lime, err := Find(limeName)
			if err != nil {
				panic(err)
			}
			p.PerLitre = GramsPerLitre(r.number("value") * float64(lime.MolarMass))
		default:
			continue
		}
		out = append(out, p)
	}
	return out
}
