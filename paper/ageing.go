package paper

import (
	"fmt"
	"math"
	"strings"

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

// exponentPH is the function's exponent of [H+] with its error, 10 to 90 %: the error
// is an estimate without source (none was seen in the text), and decides most of a
// ratio over several units of pH.
var exponentPH = interval.Range{Low: doseA2 - 0.05, Best: doseA2, High: doseA2 + 0.05}

// rateWith is k in 1/year of 1/DP(t) = 1/DP(0) + k t, for paper of a pH at a temperature
// in deg C and a humidity, with doseA2 or another exponent of [H+]. It was made for paper
// of pH about 4 to 8.5 in the dark; the experiments lay about pivotPH, where an error of
// the exponent changes nothing.
func rateWith(exponent, pH float64, t Celsius, h Humidity) float64 {
	return math.Exp(doseA0 + doseA1*fibreMoisture(t, h) - doseA2*math.Ln10*pivotPH -
		exponent*math.Ln10*(pH-pivotPH) - doseA3/(float64(t)+273.15))
}

// pivotPH is the middle of the function's domain.
const pivotPH = 6.25

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
	// Direction is what can always be said: the fibre's chains break slower or faster
	// after treatment, or the two cannot be told apart.
	Direction Direction `json:"direction"`
	// Outside says why the function gives a direction alone; there are then no rates,
	// no Slower and no Course.
	Outside           []string        `json:"outside,omitempty"`
	RatePerYearBefore interval.Result `json:"rate_per_year_before,omitzero"`
	RatePerYearAfter  interval.Result `json:"rate_per_year_after,omitzero"`
	// Slower is how many times slower the fibre's chains break after treatment, while
	// its reserve lasts.
	Slower interval.Result `json:"slower,omitzero"`
	// Course is the degree of polymerisation with years, untreated and treated. Where
	// the reserve's life is given, the rate from its end on is that of before.
	Course   []AgeingPoint `json:"course,omitempty"`
	Sentence string        `json:"sentence"`
	Domain   []string      `json:"domain"`
}

// Direction is which way a treatment moves ageing.
type Direction string

const (
	AgesSlower   Direction = "slower"
	AgesFaster   Direction = "faster"
	AgesNotKnown Direction = "not told apart"
)

// AgeingPoint is a year of the course.
type AgeingPoint struct {
	Years   float64        `json:"years"`
	Without interval.Range `json:"dp_without"`
	With    interval.Range `json:"dp_with"`
}

// modelSpread is the spread of measured rates about the function, either way as a
// factor: about 2 (memory). It strikes before and after alike.
const modelSpread = 2.0

// domainPH is where the function was fitted; within beyondPH of it a pH counts as the
// end of the domain, further out the function gives a direction alone.
const (
	domainLowPH, domainHighPH = 4.0, 8.5
	beyondPH                  = 0.5
)

// outsideDomain says why the function gives no amount for a class and two pH.
func outsideDomain(c Class, before, after float64) (why []string) {
	const made = "The published function was made for papers of chemical pulp and rag, and not for "
	switch {
	case c.hasLignin():
		why = append(why, made+"groundwood paper, as this is: lignin makes acid of its own.")
	case c == CoatedCover:
		why = append(why, made+"a coated paper, as this is: its base often holds groundwood, its coating alkali.")
	case c == Unknown:
		why = append(why, made+"a paper of unknown make: describe its class.")
	}
	for _, ph := range []float64{before, after} {
		if ph < domainLowPH-beyondPH || ph > domainHighPH+beyondPH {
			why = append(why, fmt.Sprintf("It was made for pH 4 to 8.5: nothing was measured at pH %.1f.", ph))
		}
	}
	return why
}

// domainOf is where the function holds and what it leaves out.
func domainOf(before, after interval.Range, life *interval.Range) []string {
	list := []string{
		"Strlic et al. 2015: cellulose papers, rag and bleached pulp, sized with gelatine or rosin, pH about 4 to " +
			"8.5, in the dark, without pollutants; its coefficients are from memory, not verified.",
		"It describes hydrolysis. At 90 °C and 100 % humidity about half of what a newsprint and a rag paper lost " +
			"depended on oxygen, and alkali slowed both halves (Arney, Jacobs and Newman, JAIC 19-1, 1979): how much " +
			"that is at room temperature is not known.",
		"It says nothing of colour, and nothing of light.",
	}
	if life == nil {
		list = append(list, "It takes the pH after as lasting: it lasts while the reserve does.")
	} else {
		list = append(list, fmt.Sprintf(
			"The pH after lasts while the reserve does, %s years by an estimate; from then on it counts as that before. "+
				"Dilute alkali slowed ageing and its protection weakened in the end (Bogaard and Whitmore, JAIC 40-2, 2001).",
			life.Text()))
	}
	if before.Low < domainLowPH || after.High > domainHighPH {
		list = append(list, "A pH a little below 4 counts as 4 here, one a little above 8.5 as 8.5.")
	}
	return list
}

// CompareAgeing applies the dose-response function to a sheet with a pH before
// and one after, in a climate, for years from a degree of polymerisation now. life is
// for how many years the reserve keeps the pH after; nil: always. Outside the domain
// of the function it gives a direction alone; within half a unit of it a pH counts as
// 4 or 8.5. Errors: an impossible pH, climate, degree (above 300, at most 3000), time
// (above 0, at most 1000 years) or life (0 to 100,000 years).
func CompareAgeing(
	c Class,
	before, after interval.Range,
	climate Climate,
	dp interval.Range,
	years float64,
	life *interval.Range,
	o Options,
) (Ageing, error) {
	if err := checkAgeing(before, after, climate, dp, years, life); err != nil {
		return Ageing{}, err
	}
	factor := func(f float64) interval.Range { return interval.Range{Low: 1 / f, Best: 1, High: f} }
	study := interval.Study{Samples: o.Samples, Seed: o.Seed, Inputs: []interval.Input{
		{Name: "the pH before", Range: before}, {Name: "the pH after", Range: after},
		{Name: "the temperature", Range: climate.TemperatureC}, {Name: "the humidity", Range: climate.Humidity},
		{Name: "the degree of polymerisation now", Range: dp},
		{Name: "the function's own spread", Range: factor(modelSpread)},
		{Name: "the function's exponent of pH", Range: exponentPH},
	}}
	if life != nil {
		study.Inputs = append(study.Inputs, interval.Input{Name: "how long the reserve lasts", Range: *life})
	}
	const points = 11
	r, err := study.Run(3+2*points, func(in, out []float64) {
		t, h := Celsius(in[2]), Humidity(min(0.8, max(0.05, in[3])))
		rate := func(pH float64) float64 {
			return in[5] * rateWith(in[6], min(domainHighPH, max(domainLowPH, pH)), t, h)
		}
		k0, k1, holds := rate(in[0]), rate(in[1]), math.Inf(1)
		if life != nil {
			holds = max(0, in[7])
		}
		out[0], out[1], out[2] = k0, k1, k0/k1
		for i := range points {
			t := years * float64(i) / (points - 1)
			out[3+2*i] = 1 / (1/in[4] + k0*t)
			out[4+2*i] = 1 / (1/in[4] + k1*min(t, holds) + k0*max(0, t-holds))
		}
	})
	if err != nil {
		return Ageing{}, err
	}
	a := Ageing{Direction: AgesNotKnown, Domain: domainOf(before, after, life),
		Outside: outsideDomain(c, before.Best, after.Best)}
	switch {
	case r[2].Low > 1:
		a.Direction = AgesSlower
	case r[2].High < 1:
		a.Direction = AgesFaster
	}
	if len(a.Outside) > 0 {
		a.Sentence = strings.ToUpper(string(a.Direction[:1])) + string(a.Direction[1:]) + " is an expectation and not a " +
			"promise for this paper; by how much cannot be said."
		if a.Direction == AgesNotKnown {
			a.Sentence = "Whether the fibre's chains break slower or faster after the treatment cannot be told."
		}
		return a, nil
	}
	a.RatePerYearBefore, a.RatePerYearAfter, a.Slower = r[0], r[1], r[2]
	for i := range points {
		a.Course = append(a.Course, AgeingPoint{years * float64(i) / (points - 1), r[3+2*i].Range, r[4+2*i].Range})
	}
	a.Sentence = fmt.Sprintf(
		"By the published function the chains of the fibre would break %s times slower (ten to ninety in a hundred) "+
			"at the same storage, while the reserve lasts. It is an expectation for papers of its kind, not a promise "+
			"for this one.",
		a.Slower.Text(),
	)
	return a, nil
}

func checkAgeing(before, after interval.Range, climate Climate, dp interval.Range, years float64,
	life *interval.Range,
) error {
	if err := climate.check(); err != nil {
		return err
	}
	if err := before.CheckWithin("the pH before", 2, 12, ""); err != nil {
		return err
	}
	if err := after.CheckWithin("the pH after", 2, 12, ""); err != nil {
		return err
	}
	if err := dp.CheckWithin("the degree of polymerisation", 300.001, 3000, ""); err != nil {
		return err
	}
	if !(years > 0 && years <= 1000) {
		return fmt.Errorf("the course must run for more than 0 and at most 1000 years, not %g", years)
	}
	if life != nil {
		return life.CheckWithin("the reserve's life", 0, mostLife, "years")
	}
	return nil
}

// mostLife bounds a reserve's life, years: an estimate of more says "over".
const mostLife = 100_000

// madeByAgeing is the share of a paper's acid that its ageing has made; the rest came
// with its size and its pulp (estimate, no source: from a quarter to all of it).
var madeByAgeing = interval.Range{Low: 0.25, Best: 0.5, High: 1}

// ReserveLife is for how many years a reserve, mol of acid per kg, lasts against the
// acid that a paper makes: reserve over acid made, taken as madeByAgeing of its acid
// demand over its age in years (1 to 1000). Alkalised it makes acid more slowly, so
// the years are an estimate from below. ok is false where there is no reserve or no
// acid. Errors: an impossible reserve (0 to 10 mol/kg), acid (0 to 2000 mmol/kg), age.
func ReserveLife(reserve, acidMmolPerKg interval.Range, ageYears float64, o Options) (
	years interval.Result, ok bool, err error,
) {
	if err := reserve.CheckWithin("the reserve", 0, 10, "mol/kg"); err != nil {
		return years, false, err
	}
	if err := acidMmolPerKg.CheckWithin("the acid", 0, 2000, "mmol/kg"); err != nil {
		return years, false, err
	}
	if !(ageYears >= 1 && ageYears <= 1000) {
		return years, false, fmt.Errorf("the paper must be 1 to 1000 years old, not %g", ageYears)
	}
	if reserve.Best <= 0 || acidMmolPerKg.Best <= 0 {
		return years, false, nil
	}
	study := interval.Study{Samples: o.Samples, Seed: o.Seed, Inputs: []interval.Input{
		{Name: "the reserve", Range: reserve}, {Name: "the acid demand", Range: acidMmolPerKg},
		{Name: "the share of the acid that ageing made", Range: madeByAgeing},
	}}
	r, err := study.Run(1, func(in, out []float64) {
		rate := max(1e-6, in[1]*in[2]) / ageYears
		out[0] = min(mostLife, max(0, in[0])*1000/rate)
	})
	if err != nil {
		return years, false, err
	}
	return r[0], true, nil
}
