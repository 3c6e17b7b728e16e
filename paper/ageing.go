package paper

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// Climate is where an object is kept.
type Climate struct {
	TemperatureC interval.Range `json:"temperature_c"` // -10 to 40
	Humidity     interval.Range `json:"-"`             // relative, as a fraction: 0.10 to 0.75
}

func (c Climate) check() error {
	if err := c.TemperatureC.CheckWithin("the temperature of the storage", -10, 40, "°C"); err != nil {
		return err
	}
	return c.Humidity.Scale(100).CheckWithin("the humidity of the storage", 10, 75, "%")
}

// Dose-response function for historic paper: ln k = a0 + a1 [H2O] + a2 ln[H+] -
// a3/T. Strlic et al., Damage function for historic paper. Part III, Heritage
// Science 3:40, 2015; coefficients from memory, to be checked in the text.
const (
	doseA0 = 36.981
	doseA1 = 36.72
	doseA2 = 0.244
	doseA3 = 14300.0 // K
)

// hydrolysisRate is k in 1/year of 1/DP(t) = 1/DP(0) + k t, for paper of a pH at
// a temperature in deg C and a humidity. It was made for paper of pH
// about 4 to 8.5 in the dark.
func hydrolysisRate(pH float64, t Celsius, h Humidity) float64 {
	return math.Exp(
		doseA0 + doseA1*fibreMoisture(t, h) - doseA2*math.Ln10*pH - doseA3/(float64(t)+273.15),
	)
}

// fibreMoisture is the water that paper fibre holds in g per g at a temperature
// in deg C and a humidity above 0 and below 1: Paltakari and
// Karlsson, 82nd Annual Meeting CPPA, 1996 (equation from memory). Above 0.8 it
// is low against measured isotherms.
func fibreMoisture(celsius Celsius, h Humidity) float64 {
	t := float64(celsius)
	return math.Pow(math.Log(1-float64(h))/(1.67*t-285.655), 1/(2.491-0.012*t))
}

// Ageing compares a sheet's course in years before and after treatment.
type Ageing struct {
	RatePerYearBefore interval.Result `json:"rate_per_year_before"`
	RatePerYearAfter  interval.Result `json:"rate_per_year_after"`
	// Slower is how many times slower the fibre's chains break after treatment.
	Slower interval.Result `json:"slower"`
	// Course is the degree of polymerisation with years, untreated and treated.
	Course   []AgeingPoint `json:"course"`
	Sentence string        `json:"sentence"`
	Domain   []string      `json:"domain"`
}

// AgeingPoint is a year of the course.
type AgeingPoint struct {
	Years   float64        `json:"years"`
	Without interval.Range `json:"dp_without"`
	With    interval.Range `json:"dp_with"`
}

// modelSpread is the spread of measured rates about the function, either way as a
// factor: about 2 (memory). It strikes before and after alike, so the ratio has
// only the part that differs, taken as 1.25 (common practice, no source).
const (
	modelSpread = 2.0
	ratioSpread = 1.25
)

// domainPH is where the function was fitted.
const domainLowPH, domainHighPH = 4.0, 8.5

// CompareAgeing applies the dose-response function to a sheet with a pH before
// and one after, in a climate, for years from a degree of polymerisation now.
// pH beyond 8.5 counts as 8.5 and below 4 as 4, since the function was not made
// for more. Errors: an impossible pH, climate, degree (above 300, at most 3000) or
// time (above 0, at most 1000 years).
func CompareAgeing(
	c Class,
	before, after interval.Range,
	climate Climate,
	dp interval.Range,
	years float64,
	o Options,
) (Ageing, error) {
	if err := climate.check(); err != nil {
		return Ageing{}, err
	}
	for what, r := range map[string]interval.Range{"the pH before": before, "the pH after": after} {
		if err := r.CheckWithin(what, 2, 12, ""); err != nil {
			return Ageing{}, err
		}
	}
	if err := dp.CheckWithin("the degree of polymerisation", 300.001, 3000, ""); err != nil {
		return Ageing{}, err
	}
	if !(years > 0 && years <= 1000) {
		return Ageing{}, fmt.Errorf("the course must run for more than 0 and at most 1000 years, not %g", years)
	}
	factor := func(f float64) interval.Range { return interval.Range{Low: 1 / f, Best: 1, High: f} }
	study := interval.Study{Samples: o.Samples, Seed: o.Seed, Inputs: []interval.Input{
		{Name: "the pH before", Range: before}, {Name: "the pH after", Range: after},
		{Name: "the temperature", Range: climate.TemperatureC}, {Name: "the humidity", Range: climate.Humidity},
		{Name: "the degree of polymerisation now", Range: dp},
		{
			Name:  "the function's own spread",
			Range: factor(modelSpread),
		}, {Name: "what differs between papers treated alike", Range: factor(ratioSpread)},
	}}
	const points = 11
	r, err := study.Run(3+2*points, func(in, out []float64) {
		t, h := Celsius(in[2]), Humidity(min(0.8, max(0.05, in[3])))
		clamp := func(pH float64) float64 { return min(domainHighPH, max(domainLowPH, pH)) }
		k0 := in[5] * hydrolysisRate(clamp(in[0]), t, h)
		k1 := in[5] * in[6] * hydrolysisRate(clamp(in[1]), t, h)
		out[0], out[1], out[2] = k0, k1, k0/k1
		for i := range points {
			t := years * float64(i) / (points - 1)
			out[3+2*i], out[4+2*i] = 1/(1/in[4]+k0*t), 1/(1/in[4]+k1*t)
		}
	})
	if err != nil {
		return Ageing{}, err
	}
	a := Ageing{RatePerYearBefore: r[0], RatePerYearAfter: r[1], Slower: r[2]}
	for i := range points {
		a.Course = append(a.Course, AgeingPoint{years * float64(i) / (points - 1), r[3+2*i].Range, r[4+2*i].Range})
	}
	a.Sentence = fmt.Sprintf(
		"By the published function the chains of the fibre would break %s times slower (ten to ninety in a hundred) "+
			"at the same storage. It is an expectation for papers of its kind, not a promise for this one.",
		a.Slower.Text(),
	)
	a.Domain = []string{
		"Strlic et al. 2015: cellulose papers, rag and bleached pulp, sized with gelatine or rosin, pH about 4 to " +
			"8.5, in the dark, without pollutants.",
		"It knows the pH and not the reserve: how long the pH lasts is another question.",
		"It says nothing of colour, and nothing of light.",
	}
	if c.hasLignin() {
		a.Domain = append(
			a.Domain,
			"It was not made for groundwood paper, as this is: lignin makes acid of its own and yellows. Take the "+
				"ratio as a direction only.",
		)
	}
	if before.Low < domainLowPH || after.High > domainHighPH {
		a.Domain = append(
			a.Domain,
			"A pH below 4 counts as 4 here, one above 8.5 as 8.5: beyond them nothing was measured.",
		)
	}
	return a, nil
}
