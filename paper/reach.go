package paper

import (
	"errors"
	"fmt"
	"math"
	"unicode"
	"unicode/utf8"

	"benchleaf/interval"
)

// Target is what a sequence of baths shall bring about. One of its fields is set.
type Target struct {
	ReservePercentChalk *float64 `json:"reserve_percent_caco3,omitempty"` // at least
	AcidLeftMmolPerKg   *float64 `json:"acid_left_mmol_per_kg,omitempty"` // at most
	BoronMmolPerKg      *float64 `json:"boron_mmol_per_kg,omitempty"`     // at most
	ExtractPH           *float64 `json:"extract_ph,omitempty"`            // at least
}

// Lever is what may be changed to reach a target.
type Lever string

const (
	Strength Lever = "strength" // mmol/L of alkali of the bath
	Number   Lever = "number"   // how many such baths follow each other, the sheet kept wet
	Cycles   Lever = "cycles"   // how many, the sheet dried before each
	Time     Lever = "time"     // minutes
	Volume   Lever = "volume"   // mL
)

// Answer is the least of a lever that reaches a target, or why none does.
type Answer struct {
	Lever   Lever  `json:"lever"`
	Unit    string `json:"unit,omitempty"`
	Reached bool   `json:"reached"`
	// Least reaches the target at the best values of all inputs; Sure also in nine
	// cases of ten, 0 when nothing within reach does.
	Least float64 `json:"least,omitempty"`
	Sure  float64 `json:"sure,omitempty"`
	// Best is what the target's quantity comes to at Least, or at the most of the
	// lever where the target is not reached.
	Best     interval.Range `json:"best"`
	Sentence string         `json:"sentence"`
	// Instead says what would reach a target that this lever does not.
	Instead []string `json:"instead,omitempty"`
	// Baths are the sequence at Least, or at the most of the lever.
	Baths []Bath `json:"baths"`
	// Outcome of these baths.
	Outcome Outcome `json:"outcome"`
}

var errTarget = errors.New("name one target: a reserve, acid left, boron or an extract pH")

// quantity picks the target's quantity out of an outcome; atLeast says that more
// of it is wanted.
type quantity struct {
	name    string
	unit    string
	value   float64
	atLeast bool
	place   int
	of      func(*Outcome) interval.Range
}

func (t Target) quantity() (quantity, error) {
	var all []quantity
	for _, x := range []struct {
		v *float64
		quantity
		min, max float64
	}{
		{t.ReservePercentChalk, quantity{"reserve", "% CaCO₃", 0, true, oChalk,
			func(o *Outcome) interval.Range { return o.ReservePercentChalk.Range }}, 0, 50},
		{t.AcidLeftMmolPerKg, quantity{"acid left", "mmol/kg", 0, false, oLeft,
			func(o *Outcome) interval.Range { return o.AcidLeftMmolPerKg.Range }}, 0, 2000},
		{t.BoronMmolPerKg, quantity{"boron", "mmol/kg", 0, false, oBoron,
			func(o *Outcome) interval.Range { return o.BoronMmolPerKg.Range }}, 0, 5000},
		{t.ExtractPH,
			quantity{"extract pH", "", 0, true, oExtract, func(o *Outcome) interval.Range { return o.ExtractPH.Range }},
			3, 12},
	} {
		if x.v == nil {
			continue
		}
		if !(*x.v >= x.min && *x.v <= x.max) {
			return quantity{}, fmt.Errorf(
				"a target for the %s must lie between %g and %g %s, not at %g",
				x.name,
				x.min,
				x.max,
				x.unit,
				*x.v,
			)
		}
		x.value = *x.v
		all = append(all, x.quantity)
	}
	if len(all) != 1 {
		return quantity{}, errTarget
	}
	return all[0], nil
}

// met says whether a value reaches the target; a thousandth short does.
func (q quantity) met(v float64) bool {
	if q.atLeast {
		return v >= q.value*0.999
	}
	return v <= q.value*1.001+1e-6
}

// cautious is the end of a range that nine cases of ten are better than.
func (q quantity) cautious(r interval.Range) float64 {
	if q.atLeast {
		return r.Low
	}
	return r.High
}

// most is how far a lever goes.
const (
	mostBaths   = 12
	mostMinutes = 240
	mostMl      = 20_000
)

// Reach finds the least of a lever on bath at (from 0) that reaches the target:
// strength and time to within a hundredth, numbers exactly. What the bath had of
// it before is not a bound. Errors: an impossible sheet, bath or target; a lever
// that is not known; strength of a bath without alkali.
func Reach(s Sheet, baths []Bath, at int, lever Lever, t Target, o Options) (Answer, error) {
	if err := check(s, baths, o); err != nil {
		return Answer{}, err
	}
	q, err := t.quantity()
	if err != nil {
		return Answer{}, err
	}
	if at < 0 || at >= len(baths) {
		return Answer{}, fmt.Errorf("there is no bath %d to change: there are %d", at+1, len(baths))
	}
	r := reach{s: s, k: s.complete(o.EndsAs), baths: baths, at: at, lever: lever, o: o, q: q}
	low, high, err := r.span()
	if err != nil {
		return Answer{}, err
	}
	a := Answer{Lever: lever, Unit: map[Lever]string{Strength: "mmol/L", Time: "min", Volume: "mL"}[lever]}
	a.Least, a.Reached, err = r.least(low, high, func(b []Bath) (float64, error) { return r.bestOf(b) })
	if err != nil {
		return Answer{}, err
	}
	used := high
	if a.Reached {
		used = a.Least
		quick := o
		quick.Samples = 60
		sure, ok, err := r.least(a.Least, high, func(b []Bath) (float64, error) {
			out, err := Run(s, b, quick)
			return q.cautious(q.of(&out)), err
		})
		if err != nil {
			return Answer{}, err
		}
		if ok {
			a.Sure = sure
		}
	}
	if a.Baths, err = r.with(used); err != nil {
		return Answer{}, err
	}
	if a.Outcome, err = Run(s, a.Baths, o); err != nil {
		return Answer{}, err
	}
	a.Best = q.of(&a.Outcome)
	r.say(&a, high)
	return a, nil
}

type reach struct {
	s     Sheet
	k     known
	baths []Bath
	at    int
	lever Lever
	o     Options
	q     quantity
}

// span is how far the lever goes.
func (r *reach) span() (low, high float64, err error) {
	b := r.baths[r.at]
	switch r.lever {
	case Strength:
		if b.Liquid.AlkaliMmolPerL.Best <= 0 {
			return 0, 0, fmt.Errorf("%s holds no alkali that could be stronger", b.called())
		}
		high, _, err = Strongest(b)
		return high / 10_000, high, err
	case Number, Cycles:
		return 1, float64(min(mostBaths, maxBaths-len(r.baths)+1)), nil
	case Time:
		return 0.1, mostMinutes, nil
	case Volume:
		return 1.05 * r.k.massG.Best * r.k.carried.Best * b.together(), mostMl, nil
	}
	return 0, 0, fmt.Errorf("the lever %q is not known: use strength, number, cycles, time or volume", r.lever)
}

// Strongest is the most alkali that the bath's liquid can hold at its temperature,
// mmol/L, and what lies on the floor beyond it, "" where nothing is known to: lime as
// its solubility, calcium bicarbonate that of chalk under 1 atm of carbon dioxide (both
// by chem), magnesium bicarbonate 0.06 mol/L (the strongest that benches use, common
// practice), what has no solid here 0.1 mol/L of alkali.
func Strongest(b Bath) (float64, string, error) {
	one := b.Liquid.Scaled(1)
	asked := b.Liquid.strength().Best
	if alkali := b.Liquid.AlkaliMmolPerL.Best; asked > 0 && alkali > 0 {
		one = b.Liquid.Scaled(mostMmolPerL / alkali)
	}
	most, solid, err := one.most(b.celsius())
	const usual = 100
	if err != nil || math.IsInf(most, 1) || asked <= 0 {
		return usual, "", err
	}
	if b.Liquid.MostMmolPerL > 0 { // far beyond what a bench makes
		return min(usual, most/asked*b.Liquid.AlkaliMmolPerL.Best), "", nil
	}
	return most / asked * b.Liquid.AlkaliMmolPerL.Best, solid, nil
}

// with are the baths with the lever at a value.
func (r *reach) with(v float64) ([]Bath, error) {
	b := r.baths[r.at]
	n := 1
	switch r.lever {
	case Strength:
		b.Liquid = b.Liquid.Scaled(v / b.Liquid.AlkaliMmolPerL.Best)
		if b.Liquid.AlkaliMmolPerL.High > mostMmolPerL {
			return nil, fmt.Errorf("%s would be stronger than %d mmol/L", b.called(), mostMmolPerL)
		}
	case Time:
		b.Minutes = new(Minutes(v))
	case Volume:
		b.VolumeMl = b.VolumeMl.Scale(v / b.VolumeMl.Best)
	default:
		n = int(math.Round(v))
	}
	out := append([]Bath(nil), r.baths[:r.at]...)
	for i := range n {
		if r.lever == Cycles && i > 0 {
			b.DriedBefore = true
		}
		out = append(out, b)
	}
	return append(out, r.baths[r.at+1:]...), nil
}

// bestOf is the target's quantity at the best values of all inputs.
func (r *reach) bestOf(baths []Bath) (float64, error) {
	c, err := newCourse(r.k, baths)
	if err != nil {
		return 0, err
	}
	out := make([]float64, oSteps+pCount*len(baths))
	err = c.follow(r.k.best(baths, r.o), out)
	return out[r.q.place], err
}

// least is the lowest value from low to high at which the quantity meets the
// target, taking it that more of the lever never makes it worse.
func (r *reach) least(low, high float64, of func([]Bath) (float64, error)) (float64, bool, error) {
	met := func(v float64) (bool, error) {
		baths, err := r.with(v)
		if err != nil {
			return false, err
		}
		x, err := of(baths)
		return r.q.met(x), err
	}
	if ok, err := met(high); err != nil || !ok {
		return 0, false, err
	}
	if ok, err := met(low); err != nil || ok {
		return low, ok, err
	}
	whole := r.lever == Number || r.lever == Cycles
	for whole && high-low > 1 || !whole && high > 1.01*low {
		middle := math.Sqrt(low * high)
		if whole {
			middle = math.Floor((low + high) / 2)
		}
		ok, err := met(middle)
		if err != nil {
			return 0, false, err
		}
		if ok {
			high = middle
		} else {
			low = middle
		}
	}
	return high, true, nil
}

// say writes the answer for a person.
func (r *reach) say(a *Answer, high float64) {
	b := r.baths[r.at]
	value := func(v float64) string {
		switch r.lever {
		case Number:
			return fmt.Sprintf("%.0f such baths", v)
		case Cycles:
			return fmt.Sprintf("%.0f such baths, dried between,", v)
		case Strength:
			if b.Liquid.isLime() {
				return fmt.Sprintf("%.3g mmol/L of alkali (%.2g g/L of calcium hydroxide)", v, v/2*74.093/1000)
			}
		}
		return fmt.Sprintf("%.3g %s", v, a.Unit)
	}
	want := fmt.Sprintf("%s of %g %s", r.q.name, r.q.value, r.q.unit)
	if a.Reached {
		a.Sentence = fmt.Sprintf("%s in %s reach the %s at the best values; ", upper(value(a.Least)), b.called(), want)
		switch {
		case a.Sure > 0:
			a.Sentence += fmt.Sprintf("for nine cases of ten it takes %s.", value(a.Sure))
		default:
			a.Sentence += "nothing within reach makes it sure in nine cases of ten: measure the sheet."
		}
		return
	}
	a.Sentence = fmt.Sprintf(
		"The %s cannot be reached so: at the most, %s in %s, it comes to %s %s.",
		want,
		value(high),
		b.called(),
		interval.Digits(a.Best.Best, 0.02*math.Abs(a.Best.Best)),
		r.q.unit,
	)
	if r.q.place == oChalk {
		a.Instead = r.instead(a)
	} else if r.lever != Volume {
		a.Instead = append(a.Instead, "More liquid for each sheet, or fresh baths one after the other.")
	}
}

// instead says what would give a reserve that a bath does not: the sums are those
// of pores full of liquid, less the acid that is left.
func (r *reach) instead(a *Answer) []string {
	need := 1000 * molPerKg(r.q.value-percentChalk(r.k.reserve.Best)) // mmol/kg
	pickUp := r.k.pickUp.Best
	list := []string{
		fmt.Sprintf(
			"A liquid that holds %.3g mmol/L of alkali at the end; lime water holds about 45 at most, magnesium "+
				"bicarbonate about 120.",
			need/pickUp,
		),
		fmt.Sprintf(
			"A pick-up of %.2g g/g instead of %.2g with %.3g mmol/L.",
			need/a.strengthAtEnd(),
			pickUp,
			a.strengthAtEnd(),
		),
	}
	if best := a.Best.Best; best > 0 && r.lever != Cycles {
		list = append(
			list,
			fmt.Sprintf(
				"About %.0f baths with drying between them, each leaving %.2g %%.",
				math.Ceil(r.q.value/best),
				best,
			),
		)
	}
	list = append(
		list,
		"A method that brings more than the pores hold, as a dispersion of chalk or magnesium oxide, or a size with "+
			"chalk in it.",
	)
	if r.k.class.hasLignin() {
		list = append(
			list,
			"Less: paper with lignin yellows faster in light the more alkaline it is, so the greatest reserve is "+
				"not the best.",
		)
	}
	return list
}

// strengthAtEnd is the alkali of the last bath afterwards, mmol/L.
func (a *Answer) strengthAtEnd() float64 {
	return max(1e-3, a.Outcome.Steps[len(a.Outcome.Steps)-1].AlkaliAfterMmolPerL.Best)
}

// upper makes the first letter a capital, in any script.
func upper(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}
