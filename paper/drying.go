package paper

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// Air is the air in which a sheet dries.
type Air struct {
	TemperatureC interval.Range `json:"temperature_c"` // 5 to 40
	Humidity     interval.Range `json:"-"`             // relative, as a fraction: 0.05 to 0.90
	// SpeedMS of the air over the sheet, m/s; 0 to 5. A closed room has 0.05 to 0.2.
	SpeedMS interval.Range `json:"speed_m_s"`
	// RateFactor is the drying rate over the computed one, as weighings on this
	// bench gave it before; nil: 0.6 to 1.6.
	RateFactor *interval.Range `json:"rate_factor,omitempty"`
}

func (a Air) check() error {
	for _, x := range []struct {
		name     string
		r        interval.Range
		min, max float64
		unit     string
	}{
		{"the temperature of the air", a.TemperatureC, 5, 40, "°C"},
		{"the humidity of the air", a.Humidity.Scale(100), 5, 90, "%"},
		{"the speed of the air", a.SpeedMS, 0, 5, "m/s"},
	} {
		if err := x.r.CheckWithin(x.name, x.min, x.max, x.unit); err != nil {
			return err
		}
	}
	if a.RateFactor != nil {
		return a.RateFactor.CheckWithin("the drying rate over the computed one", 0.02, 50, "")
	}
	return nil
}

// Absorbents are what a sheet dries between.
type Absorbents struct {
	// GrammageGsm of all absorbents on one face together, g/m2.
	GrammageGsm interval.Range `json:"grammage_g_m2"`
	// ThicknessMm of them on one face.
	ThicknessMm float64 `json:"thickness_mm"`
	// ChangesMin are the times of the changes, minutes from the start, in order;
	// none: those that benches keep.
	ChangesMin []float64 `json:"changes_min,omitempty"`
}

func (a Absorbents) check() error {
	if err := a.GrammageGsm.CheckWithin("the grammage of the absorbents", 20, 20_000, "g/m²"); err != nil {
		return err
	}
	if !(a.ThicknessMm >= 0.05 && a.ThicknessMm <= 50) {
		return fmt.Errorf("the absorbents on a face must be between 0.05 and 50 mm thick, not %g mm", a.ThicknessMm)
	}
	last := 0.0
	if len(a.ChangesMin) > mostChanges {
		return fmt.Errorf("there are %d changes: at most %d are computed", len(a.ChangesMin), mostChanges)
	}
	for i, t := range a.ChangesMin {
		if !(t > last && t <= 60*24*30) {
			return fmt.Errorf("change %d at %g min is out of order: times must rise, up to 30 days", i+1, t)
		}
		last = t
	}
	return nil
}

const mostChanges = 40

// Weighing is the sheet on the balance, minutes from the start.
type Weighing struct {
	Minutes float64 `json:"minutes"`
	MassG   float64 `json:"mass_g"`
}

// Drying is how a sheet dries.
type Drying struct {
	// StartGPerG and EndGPerG are the water in it at the start and when it is level
	// with the air, per g of dry paper.
	StartGPerG interval.Result `json:"start_g_per_g"`
	EndGPerG   interval.Result `json:"end_g_per_g"`
	// MendFromMin is when no liquid stands on it any more, MendUntilMin when it
	// begins to shrink: a mend set in between shrinks as one with the sheet.
	MendFromMin  interval.Result `json:"mend_from_min"`
	MendUntilMin interval.Result `json:"mend_until_min"`
	// DryMin is when it is within 0.01 g/g of its end: the end of pressing.
	DryMin interval.Result `json:"dry_min"`
	// RateGPerM2H is what the open faces, one on a support and else both, lose
	// together at first in air; RateFactor what it was taken as over the computed
	// rate.
	RateGPerM2H interval.Result `json:"rate_g_per_m2_h"`
	RateFactor  interval.Range  `json:"rate_factor,omitzero"`
	// ChangesMin are the changes of absorbents that it rests on, and EachGPerM2 what
	// each set takes up.
	ChangesMin []float64         `json:"changes_min,omitempty"`
	EachGPerM2 []interval.Result `json:"each_g_per_m2,omitempty"`
	// AtChange is the water in the sheet at each change, g/g; SetMin how long a set
	// takes for nine tenths of what it can take: sooner leaves it unused, later gains
	// little.
	AtChange []interval.Result `json:"at_change_g_per_g,omitempty"`
	SetMin   interval.Result   `json:"set_min,omitzero"`
	Course   []DryingPoint     `json:"course"`
	Dominant string            `json:"dominant"`
	Warnings []string          `json:"warnings,omitempty"`
	Assumed  []string          `json:"assumed,omitempty"`
	// Taken are what decides most and was not measured.
	Taken   []Taken  `json:"taken,omitempty"`
	RestsOn []string `json:"rests_on"`
}

// DryingPoint is the water in the sheet at a time.
type DryingPoint struct {
	Minutes       float64        `json:"minutes"`
	MoistureGPerG interval.Range `json:"moisture_g_per_g"`
}

// GlossGone is the moisture at which no liquid stands on a sheet any more, g/g: its
// gloss is gone and it is dark and matt (common practice, no source; Sugarman and
// Vitale, below, found 43 % solids, 1.3 g/g, in sheets just wetted through).
var GlossGone = interval.Range{Low: 0.8, Best: 1.0, High: 1.3}

// ShrinkageOnset is the moisture at which a drying sheet begins to distort and to
// shrink, g/g. Sugarman and Vitale, JAIC 31-2, 175, 1992 (abstract read): 63 ± 3 %
// solids in all of seven old papers that dried in air, 0.59 (0.52 to 0.67) g/g. The
// upper end is drawn out to 0.75 for groundwood, which begins earlier (paper physics
// has 0.5 to 0.8 for pulp sheets; from memory: Page and Tydeman 1961, Nanko and Wu
// 1995).
var ShrinkageOnset = interval.Range{Low: 0.52, Best: 0.59, High: 0.75}

// Inputs of drying. The rate's factor covers what a room does that the equation
// does not know.
const (
	dStart = iota
	dDry   // g/m2
	dTemperature
	dHumidity
	dSpeed
	dFactor
	dCritical
	dIsotherm // -1 to 1 across the range of the isotherm
	dGloss
	dOnset
)

const dryingPoints = 13

// DryInAir is a sheet hung or laid open: a constant rate set by the air at both
// faces (one on a support), down to a critical moisture, then a rate that falls with
// the water above equilibrium. The rate is that of a plate in a stream (Pohlhausen's
// 0.664 Re^1/2 Sc^1/3, with 2.5 mm/s for the air's own movement), the sheet at the
// temperature where evaporation balances the heat from air and walls (Lewis).
// After two weighings or more the rate is that of the sheet itself. Errors: an
// impossible sheet, air or weighing.
func DryInAir(s Sheet, held Held, air Air, onSupport bool, weighings []Weighing, o Options) (Drying, error) {
	d, _, err := dryInAir(s, held, air, onSupport, weighings, nil, o)
	return d, err
}

// DryBlotted is DryInAir for a sheet that is pressed once between absorbents when
// it has lain open for minutes (0 to 1440): its window opens then. Errors: those of
// DryInAir, other minutes.
func DryBlotted(s Sheet, air Air, onSupport bool, minutes float64, o Options) (Drying, error) {
	if !(minutes >= 0 && minutes <= 24*60) {
		return Drying{}, fmt.Errorf("a sheet is blotted 0 to 1440 min after it came out, not after %g min", minutes)
	}
	d, err := DryInAir(s, Blotted, air, onSupport, nil, o)
	if err != nil {
		return Drying{}, err
	}
	for _, r := range []*interval.Result{&d.MendFromMin, &d.MendUntilMin, &d.DryMin} {
		*r = later(*r, minutes)
	}
	for i := range d.Course {
		d.Course[i].Minutes += minutes
	}
	return d, nil
}

// dryInAir also gives the sheet's mass in g at the minutes of also.
func dryInAir(
	s Sheet,
	held Held,
	air Air,
	onSupport bool,
	weighings []Weighing,
	also []float64,
	o Options,
) (Drying, []interval.Range, error) {
	if err := checkDrying(s, held, air.check()); err != nil {
		return Drying{}, nil, err
	}
	k := s.complete(held)
	inputs := k.dryingInputs(air)
	faces := 2.0
	if onSupport {
		faces = 1
	}
	length := 0.3
	if s.WidthMm > 0 {
		length = float64(min(s.WidthMm, s.HeightMm)) / 1000
	}
	fitted := false
	from := 0.0
	if len(weighings) > 0 {
		x, err := moistures(k, weighings)
		if err != nil {
			return Drying{}, nil, err
		}
		last := len(x) - 1
		inputs[dStart].Range, from = x[last], weighings[last].Minutes
		if last > 0 {
			f, err := fitFactor(inputs, x, weighings, faces, length)
			if err != nil {
				return Drying{}, nil, err
			}
			inputs[dFactor] = interval.Input{Name: "the two weighings", Range: f}
			fitted = true
		}
	}
	study := interval.Study{Inputs: inputs, Samples: o.Samples, Seed: o.Seed}
	times := courseTimes(best(inputs), faces, length)
	r, err := study.Run(6+dryingPoints+len(also), func(in, out []float64) {
		p := airPlan(in, faces, length)
		out[0], out[1] = in[dStart], p.end
		out[2], out[3] = window(in[dGloss], in[dOnset], held == Blotted, p.minutesTo)
		out[4] = p.minutesTo(p.end + 0.01)
		out[5] = p.rate * 60
		for i, t := range times {
			out[6+i] = p.at(t)
		}
		for i, t := range also {
			out[6+dryingPoints+i] = in[dDry] * k.areaM2 * (1 + p.at(max(0, t-from)))
		}
	})
	if err != nil {
		return Drying{}, nil, err
	}
	d := Drying{
		StartGPerG:   r[0],
		EndGPerG:     r[1],
		MendFromMin:  later(r[2], from),
		MendUntilMin: later(r[3], from),
		DryMin:       later(r[4], from),
		RateGPerM2H:  r[5],
		RateFactor:   inputs[dFactor].Range,
		Dominant:     r[4].Sentence(),
		Assumed:      k.assumed,
		Taken:        k.takenInAir(s, held, inputs, len(weighings) > 0, fitted || air.RateFactor != nil),
		RestsOn: []string{
			"Constant rate down to a critical moisture of 0.3 to 0.8 g/g, then in proportion to what is above the " +
				"isotherm.",
			windowRests,
		},
	}
	switch {
	case fitted:
		d.RestsOn = append(d.RestsOn, "The rate is that of this sheet, from its weighings.")
	case air.RateFactor != nil:
		d.RestsOn = append(
			d.RestsOn,
			"The rate is computed from the air and taken times what weighings on this bench gave before.",
		)
	default:
		d.RestsOn = append(
			d.RestsOn,
			"The rate is computed from the air and may be half or twice that: weigh the sheet twice to know it.",
		)
	}
	for i, t := range times {
		d.Course = append(d.Course, DryingPoint{from + t, r[6+i].Range})
	}
	d.warn()
	var masses []interval.Range
	for i := range also {
		masses = append(masses, r[6+dryingPoints+i].Range)
	}
	return d, masses, nil
}

const windowRests = "Damp enough to mend: from 1.0 (0.8 to 1.3) g/g, where its gloss is gone (common practice, no " +
	"source), to 0.59 (0.52 to 0.75) g/g, where old papers that dried in air began to distort and shrink (63 ± 3 % " +
	"solids: Sugarman and Vitale, JAIC 31-2, 1992; the upper end for groundwood is from memory)."

func checkDrying(s Sheet, held Held, err error) error {
	if e := s.Check(); e != nil {
		return e
	}
	if held != "" && held != Drained && held != Blotted {
		return fmt.Errorf("a sheet begins to dry drained or blotted, not %q", held)
	}
	return err
}

// roomFactor is the drying rate over the computed one (common practice, no source);
// criticalMoisture is where the rate begins to fall, g/g (drying literature, memory).
var (
	roomFactor       = interval.Range{Low: 0.6, Best: 1, High: 1.6}
	criticalMoisture = interval.Range{Low: 0.3, Best: 0.5, High: 0.8}
)

// mouldMin is how long a sheet may stay damp, min: 48 h (common practice, notes on practice
// section 5).
const mouldMin = 48 * 60

func (d *Drying) warn() {
	if d.DryMin.High > mouldMin {
		d.Warnings = append(
			d.Warnings,
			"It may still be damp after 48 hours: mould can start. Change absorbents sooner, or give it moving air.",
		)
	}
}

func later(r interval.Result, min float64) interval.Result {
	r.Low, r.Best, r.High = r.Low+min, r.Best+min, r.High+min
	return r
}

func best(inputs []interval.Input) []float64 {
	var in []float64
	for _, x := range inputs {
		in = append(in, x.Range.Best)
	}
	return in
}

func (k known) dryingInputs(air Air) []interval.Input {
	dry := k.massG
	for _, v := range []*float64{&dry.Low, &dry.Best, &dry.High} {
		*v /= (1 + k.moisture.Best) * k.areaM2
	}
	factor := roomFactor
	if air.RateFactor != nil {
		factor = *air.RateFactor
	}
	return []interval.Input{
		{Name: "the liquid held at the start", Range: k.pickUp},
		{Name: "the sheet's mass", Range: dry},
		{Name: "the air's temperature", Range: air.TemperatureC},
		{Name: "the air's humidity", Range: air.Humidity},
		{Name: "the air's speed", Range: air.SpeedMS},
		{Name: "how the air moves at the bench", Range: factor},
		{Name: "the critical moisture", Range: criticalMoisture},
		{Name: "the isotherm", Range: interval.Range{Low: -1, Best: 0, High: 1}},
		{Name: "when the gloss is gone", Range: GlossGone},
		{Name: "when it begins to shrink", Range: ShrinkageOnset},
	}
}

// window is from when to when a mend shrinks as one with its sheet; to is when a
// moisture is reached. A blotted sheet carries no liquid on its face: it opens at once.
func window(gloss, onset float64, blotted bool, to func(gPerG float64) float64) (from, until float64) {
	until = to(onset)
	if blotted {
		return 0, until
	}
	return min(to(gloss), until), until
}

// plan is drying in closed form.
type plan struct {
	start, critical, end float64 // g/g
	dry                  float64 // g/m2
	rate                 float64 // g/(m2 min), all open faces, at first
}

// at is the moisture after minutes.
func (p plan) at(minutes float64) float64 {
	x := p.start
	if x > p.critical {
		first := (x - p.critical) * p.dry / p.rate
		if minutes <= first {
			return x - minutes*p.rate/p.dry
		}
		minutes, x = minutes-first, p.critical
	}
	return p.end + (x-p.end)*math.Exp(-minutes*p.rate/(p.dry*(p.critical-p.end)))
}

// minutesTo is when a moisture is reached; 0 where the start lies below.
func (p plan) minutesTo(x float64) float64 {
	if x >= p.start {
		return 0
	}
	x = max(x, p.end+1e-4)
	return p.dry / p.rate * p.turns(p.start, x)
}

// turns is the time from a moisture to a lower one in units of dry mass over
// rate.
func (p plan) turns(from, to float64) float64 {
	t := 0.0
	if from > p.critical {
		t += from - max(to, p.critical)
	}
	if to < p.critical {
		t += (p.critical - p.end) * math.Log((min(from, p.critical)-p.end)/(to-p.end))
	}
	return t
}

// airPlan is the plan for one sample.
func airPlan(in []float64, faces, lengthM float64) plan {
	humidity := Humidity(min(0.90, max(0.05, in[dHumidity])))
	temperature := min(40, max(5, in[dTemperature]))
	e, err := equilibriumMoisture(Celsius(temperature), humidity, true)
	if err != nil {
		panic(err) // both are within bounds
	}
	end := e.Best
	if side := in[dIsotherm]; side < 0 {
		end += -side * (e.Low - e.Best)
	} else {
		end += side * (e.High - e.Best)
	}
	end = max(0.02, end)
	return plan{start: max(in[dStart], end), critical: max(in[dCritical], end+0.05), end: end, dry: in[dDry],
		rate: faces * in[dFactor] * evaporation(temperature, humidity, max(0, in[dSpeed]), lengthM)}
}

// evaporation of one wet face, g/(m2 min).
func evaporation(celsius float64, humidity Humidity, speedMS, lengthM float64) float64 {
	const (
		diffusivity = 2.5e-5 // m2/s of vapour in air, memory
		viscosity   = 1.5e-5 // m2/s of air, memory
		own         = 2.5e-3 // m/s, the air's own movement at a face, memory
		latent      = 2454.0 // J/g at 20 C, table of water properties
		airHeat     = 1.2e3 * 0.91
		radiation   = 5.7 // W/(m2 K) near 20 C, memory
	)
	stream := 0.664 * diffusivity / lengthM * math.Sqrt(speedMS*lengthM/viscosity) * math.Cbrt(viscosity/diffusivity)
	transfer := math.Cbrt(stream*stream*stream + own*own*own) // m/s
	// The face's temperature, where evaporation takes what air and walls bring.
	lo, hi := celsius-30, celsius
	there := vapourGM3(celsius, humidity)
	for range 40 {
		t := (lo + hi) / 2
		if latent*transfer*(vapourGM3(t, 1)-there) > (transfer*airHeat+radiation)*(celsius-t) {
			hi = t
		} else {
			lo = t
		}
	}
	return max(1e-6, transfer*(vapourGM3(lo, 1)-there)*60)
}

// courseTimes are times over the whole of drying, more of them at first.
func courseTimes(in []float64, faces, lengthM float64) []float64 {
	p := airPlan(in, faces, lengthM)
	whole := 1.3 * p.minutesTo(p.end+0.01)
	times := make([]float64, dryingPoints)
	for i := range times {
		x := float64(i) / (dryingPoints - 1)
		times[i] = whole * math.Pow(x, 1.3)
	}
	return times
}

// moistures turns weighings to water per g of dry paper.
func moistures(k known, w []Weighing) ([]interval.Range, error) {
	dry := interval.Range{
		Low:  k.massG.Low / (1 + k.moisture.Best),
		Best: k.massG.Best / (1 + k.moisture.Best),
		High: k.massG.High / (1 + k.moisture.Best),
	}
	var out []interval.Range
	for i, x := range w {
		if i > 0 && !(x.Minutes > w[i-1].Minutes) {
			return nil, fmt.Errorf(
				"weighing %d at %g min is not after the one before: put them in order",
				i+1,
				x.Minutes,
			)
		}
		if !(x.MassG > dry.Best) || x.MassG > 12*dry.Best || !(x.Minutes >= 0) {
			return nil, fmt.Errorf(
				"weighing %d: %g g cannot be a damp sheet whose dry mass is about %.3g g",
				i+1,
				x.MassG,
				dry.Best,
			)
		}
		out = append(
			out,
			interval.Range{Low: x.MassG/dry.High - 1, Best: x.MassG/dry.Best - 1, High: x.MassG/dry.Low - 1},
		)
		out[i].Low = max(0, out[i].Low)
	}
	return out, nil
}

// fitFactor is the rate over the computed one, from the last two weighings.
func fitFactor(
	inputs []interval.Input,
	x []interval.Range,
	w []Weighing,
	faces, length float64,
) (interval.Range, error) {
	n := len(x)
	in := best(inputs)
	in[dFactor] = 1
	one := func(critical float64) (float64, error) {
		in[dCritical] = critical
		p := airPlan(in, faces, length)
		if !(x[n-1].Best < x[n-2].Best) || x[n-1].Best <= p.end {
			return 0, fmt.Errorf(
				"the last two weighings show no drying towards %.3f g/g, where this air leaves a sheet: a rate "+
					"cannot be had from them",
				p.end,
			)
		}
		return p.dry / p.rate * p.turns(x[n-2].Best, x[n-1].Best) / (w[n-1].Minutes - w[n-2].Minutes), nil
	}
	c := inputs[dCritical].Range
	r := interval.Range{}
	var err error
	if r.Best, err = one(c.Best); err != nil {
		return r, err
	}
	a, err1 := one(c.Low)
	b, err2 := one(c.High)
	if err1 != nil || err2 != nil {
		return r, fmt.Errorf("a rate cannot be had from these weighings")
	}
	// Weighing to a hundredth of what was lost, at least.
	r.Low, r.High = min(a, b, 0.97*r.Best), max(a, b, 1.03*r.Best)
	return r, nil
}

// Settled is the end point of pressing by weighing: constant within 0.02 g over a
// day or more in steady air (common practice, no source). Errors: fewer than two
// weighings, weighings out of order.
func Settled(weighings []Weighing) (done bool, sentence string, err error) {
	const withinG, day = 0.02, 24 * 60
	if len(weighings) < 2 {
		return false, "", fmt.Errorf("an end point takes two weighings a day apart, not %d", len(weighings))
	}
	last := weighings[len(weighings)-1]
	from, low, high := last.Minutes, last.MassG, last.MassG
	for i := len(weighings) - 2; i >= 0; i-- {
		w := weighings[i]
		if !(w.Minutes < from) {
			return false, "", fmt.Errorf(
				"weighing %d at %g min is not before the next: put them in order",
				i+1,
				w.Minutes,
			)
		}
		if l, h := min(low, w.MassG), max(high, w.MassG); h-l > withinG {
			break
		} else {
			from, low, high = w.Minutes, l, h
		}
	}
	hours := (last.Minutes - from) / 60
	if last.Minutes-from >= day {
		return true, fmt.Sprintf("Constant within 0.02 g for %.0f hours: it is dry.", hours), nil
	}
	if hours == 0 {
		return false, "It still changes by more than 0.02 g: weigh again tomorrow.", nil
	}
	return false, fmt.Sprintf("Constant within 0.02 g for %.0f hours: a day is wanted.", hours), nil
}
