package paper

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchleaf/interval"
)

// Measure is what a reading is of.
type Measure string

const (
	ReadBathPH    Measure = "bath_ph"
	ReadSheetPH   Measure = "sheet_ph"   // of the wet sheet
	ReadExtractPH Measure = "extract_ph" // of the dry sheet
	ReadAlkali    Measure = "bath_alkali_mmol_per_l"
	ReadReserve   Measure = "reserve_percent_caco3"
	ReadAcidLeft  Measure = "acid_left_mmol_per_kg"
	ReadWetMass   Measure = "wet_mass_g" // as drying begins
	ReadBoron     Measure = "boron_mmol_per_kg"
)

// Reading is a number measured at the bench.
type Reading struct {
	What Measure `json:"what"`
	// Step is the bath that it belongs to, from 1; 0 for the sheet after the last.
	Step int `json:"step,omitempty"`
	// Minutes in that bath; nil means at its end.
	Minutes *float64 `json:"minutes,omitempty"`
	Value   float64  `json:"value"`
	// Uncertainty is the standard uncertainty of the reading, above 0.
	Uncertainty float64 `json:"uncertainty"`
}

// Compared is one reading beside what was predicted.
type Compared struct {
	Reading
	Predicted interval.Range `json:"predicted"`
	// Off is by how many standard deviations of reading and prediction together
	// they differ.
	Off float64 `json:"off"`
	// Says is what the reading says of the prediction.
	Says     Says   `json:"says"`
	Sentence string `json:"sentence"`
}

// Says is what a reading says of what was predicted for it.
type Says string

const (
	Agrees  Says = "agrees"
	Differs Says = "differs"
	// CannotTell stands where a reading that is off by as much as matters would still
	// count as agreeing.
	CannotTell Says = "cannot tell"
)

// What matters at the bench: a reading off by that much should be noticed. In units of
// pH, and of all else as a share of what was predicted (common practice, no source).
const mattersPH, mattersShare = 1.5, 1.0

// TellsRule says the rule of CannotTell for a person.
const TellsRule = "Cannot tell: the range expected and the uncertainty of the reading are together so wide that a " +
	"reading off by 1.5 units of pH, or of other quantities by as much as was expected itself, would still count as " +
	"agreeing (common practice, no source)."

// agreeWithin is how many standard deviations of reading and prediction together a
// reading may be off: 95 % of a normal distribution.
const agreeWithin = 1.96

// Compare says how a reading, with its standard uncertainty, lies to a prediction, and
// by how many standard deviations of both together it is off. ph says that it is a pH.
func Compare(value, uncertainty float64, predicted interval.Range, ph bool) (off float64, says Says) {
	side := predicted.High - predicted.Best
	if value < predicted.Best {
		side = predicted.Best - predicted.Low
	}
	off = (value - predicted.Best) / math.Hypot(uncertainty, interval.Within(0, side).Standard())
	matters := mattersPH
	if !ph {
		matters = mattersShare * math.Abs(predicted.Best)
	}
	switch {
	case math.Abs(off) > agreeWithin:
		return off, Differs
	case agreeWithin*math.Hypot(uncertainty, predicted.Standard()) > matters:
		return off, CannotTell
	}
	return off, Agrees
}

// Fitted is a quantity of the sheet as the readings have it.
type Fitted struct {
	Name   string         `json:"name"`
	Field  string         `json:"field"` // of a Sheet, in JSON
	Before interval.Range `json:"before"`
	After  interval.Range `json:"after"`
	// Narrows says that the readings tell of it: they narrow it by a fifth at least, or
	// move it by a quarter of its range.
	Narrows  bool   `json:"-"`
	Sentence string `json:"sentence"`
}

// Verdict is measured against predicted.
type Verdict struct {
	Readings []Compared `json:"readings"`
	// Agree says that some readings agree with the prediction and none differs; Tells
	// that there is one that can tell.
	Agree bool `json:"agree"`
	Tells bool `json:"tells"`
	// Fits are the quantities that the readings make narrower; empty when the
	// readings say nothing of them, or when nothing within their ranges explains the
	// readings.
	Fits     []Fitted `json:"fits,omitempty"`
	Sentence string   `json:"sentence"`
	// Posterior are all quantities of the sheet given the readings, those too of which
	// they say nothing; empty where nothing explains them.
	Posterior []Fitted `json:"-"`
	// Courses are the predicted courses of the baths, one each, that readings of a pH lie
	// over: first the bath as filled, at 0 min. Empty for a bath without such or a time.
	Courses [][]Moment `json:"-"`

	effective, distance float64 // of the sampling
}

// CompareReadings lays readings over the prediction, says whether they agree, and
// fits the sheet's acid, pick-up and mass to them: each sample of the prediction
// weighs as likely as it makes the readings (importance sampling from the stated
// ranges, Gaussian errors), and the 10, 50 and 90 % points of what weighs are the
// fit. Errors: those of Run; a reading that cannot be.
func CompareReadings(s Sheet, baths []Bath, o Options, readings []Reading) (Verdict, error) {
	return CompareReadingsContext(context.Background(), s, baths, o, readings)
}

// CompareReadingsContext is CompareReadings, and ends with ctx's error when nobody
// waits for the answer any more.
func CompareReadingsContext(ctx context.Context, s Sheet, baths []Bath, o Options, readings []Reading,
) (Verdict, error) {
	if err := check(s, baths, o); err != nil {
		return Verdict{}, err
	}
	if len(readings) == 0 || len(readings) > 200 {
		return Verdict{}, fmt.Errorf("1 to 200 readings can be compared, not %d", len(readings))
	}
	for i, r := range readings {
		if err := r.check(baths); err != nil {
			return Verdict{}, fmt.Errorf("reading %d: %w", i+1, err)
		}
	}
	if o.Samples == 0 {
		o.Samples = 300
	}
	k := s.complete(o.EndsAs)
	study := interval.Study{Inputs: k.inputs(baths, o), Samples: o.Samples, Seed: o.Seed}
	drawn, answers, err := samples(study, oSteps+pCount*len(baths), func() func(in, out []float64) error {
		c, err := newCourse(k, baths)
		if err == nil {
			c.asks = asksOf(readings, len(baths))
			c.asks.soaked = len(baths)
			for _, r := range readings { // what is drawn, with or without a reading's minute
				if r.ofBathPH() {
					c.asks.course[r.Step-1], c.asks.end[r.Step-1] = true, true
				}
			}
		}
		return func(in, out []float64) error {
			if err != nil || ctx.Err() != nil {
				return errors.Join(err, ctx.Err())
			}
			return c.follow(in, out)
		}
	})
	if ctx.Err() != nil {
		return Verdict{}, ctx.Err()
	}
	if err != nil {
		return Verdict{}, err
	}
	last := len(drawn) - 1 // the sample at the best values
	var v Verdict
	differ := false
	for _, r := range readings {
		c := Compared{
			Reading:   r,
			Predicted: spread(answers, func(a []float64) float64 { return r.predicted(baths, a) }),
		}
		c.Off, c.Says = Compare(r.Value, r.Uncertainty, c.Predicted, r.ofPH())
		v.Tells = v.Tells || c.Says != CannotTell
		differ = differ || c.Says == Differs
		c.Sentence = c.say(baths)
		v.Readings = append(v.Readings, c)
	}
	v.Agree = v.Tells && !differ
	if err := v.fit(ctx, s, k, baths, o, readings, drawn[:last], answers[:last]); err != nil {
		return Verdict{}, err
	}
	for i, b := range baths {
		var course []Moment
		if slices.ContainsFunc(readings, func(r Reading) bool { return r.ofBathPH() && r.Step == i+1 }) {
			course = predictedCourse(b, oSteps+pCount*i, answers)
		}
		v.Courses = append(v.Courses, course)
	}
	return v, nil
}

// spread is the range of a quantity over all samples, of which the last is at the
// best values.
func spread(answers [][]float64, of func(a []float64) float64) interval.Range {
	last := len(answers) - 1
	all := make([]float64, last)
	for i, a := range answers[:last] {
		all[i] = of(a)
	}
	slices.Sort(all)
	at := of(answers[last])
	return interval.Range{Low: min(at, all[last/10]), Best: at, High: max(at, all[last*9/10])}
}

// predictedCourse is the course of one bath, whose outputs begin at a place.
func predictedCourse(b Bath, place int, answers [][]float64) []Moment {
	if b.Minutes == nil {
		return nil
	}
	at := func(x int) interval.Range { return spread(answers, func(a []float64) float64 { return a[place+x] }) }
	list := []Moment{{BathPH: at(pBefore)}}
	for j, share := range moments {
		m := pCourse + mCount*j
		list = append(
			list,
			Moment{
				Minutes:             Minutes(share) * *b.Minutes,
				BathPH:              at(m + mBath),
				SheetPH:             at(m + mSheet),
				AcidLeftMmolPerKg:   at(m + mLeft),
				ReservePercentChalk: at(m + mChalk),
			},
		)
	}
	return list
}

func (r Reading) ofPH() bool {
	return r.What == ReadBathPH || r.What == ReadSheetPH || r.What == ReadExtractPH
}

func (r Reading) check(baths []Bath) error {
	if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) || !(r.Uncertainty > 0) || math.IsInf(r.Uncertainty, 0) {
		return fmt.Errorf("a number with an uncertainty above 0 is wanted, not %g ± %g", r.Value, r.Uncertainty)
	}
	ofBath := r.What == ReadBathPH || r.What == ReadSheetPH || r.What == ReadAlkali
	switch r.What {
	case ReadBathPH, ReadSheetPH, ReadExtractPH, ReadAlkali, ReadReserve, ReadAcidLeft, ReadWetMass, ReadBoron:
	default:
		return fmt.Errorf("%q is not read here", r.What)
	}
	if r.Step < 0 || r.Step > len(baths) || ofBath && r.Step == 0 {
		return fmt.Errorf("there is no bath %d: there are %d", r.Step, len(baths))
	}
	if (r.What == ReadExtractPH || r.What == ReadWetMass) && r.Step != 0 && r.Step != len(baths) {
		return fmt.Errorf("%s is predicted after the last bath only", r.What)
	}
	if r.Minutes != nil {
		if !ofBath || r.What == ReadAlkali {
			return fmt.Errorf("%s is predicted at the end of a bath only: leave the minutes out", r.What)
		}
		if b := baths[r.Step-1]; !(*r.Minutes >= 0 && *r.Minutes <= b.minutes()) {
			return fmt.Errorf("%g min is not within the %g min of %s", *r.Minutes, b.minutes(), b.called())
		}
	}
	return nil
}

// clipped says that what is read ends at 0, where what it is read of goes on; see beyond.
func (r Reading) clipped() bool {
	return r.What == ReadReserve || r.What == ReadAcidLeft || r.What == ReadAlkali
}

// beyond is what a sample has for the reading, and below 0 by how much more acid or alkali
// it would have to hold for there to be any.
func (r Reading) beyond(baths []Bath, a []float64) float64 {
	step := r.Step
	if step == 0 {
		step = len(baths)
	}
	x := a[oSteps+pCount*(step-1):]
	switch {
	case r.What == ReadReserve && x[pNet] < 0:
		return percentChalk(x[pNet] / 1000)
	case r.What == ReadAcidLeft:
		return -x[pNet]
	case r.What == ReadAlkali:
		return x[pNetAfter]
	}
	return r.predicted(baths, a)
}

// predicted is what a sample has for the reading.
func (r Reading) predicted(baths []Bath, a []float64) float64 {
	step := r.Step
	if step == 0 {
		step = len(baths)
	}
	x := a[oSteps+pCount*(step-1):]
	switch r.What {
	case ReadExtractPH:
		return a[oExtract]
	case ReadWetMass:
		return a[oDry] + a[oHeld]
	case ReadAlkali:
		return x[pAfter]
	case ReadReserve:
		return x[pChalk]
	case ReadAcidLeft:
		return x[pLeft]
	case ReadBoron:
		return x[pBoron]
	}
	end, place := x[pBath], mBath
	if r.What == ReadSheetPH {
		end, place = x[pSheet], mSheet
	}
	if r.Minutes == nil || baths[step-1].Minutes == nil {
		return end
	}
	share := *r.Minutes / baths[step-1].minutes()
	from, value := 0.0, x[pBefore]
	if r.What == ReadSheetPH {
		value = x[pCourse+mSheet]
	}
	for j, m := range moments {
		next := x[pCourse+mCount*j+place]
		if share <= m {
			return value + (next-value)*(share-from)/(m-from)
		}
		from, value = m, next
	}
	return end
}

func (c *Compared) say(baths []Bath) string {
	where := "after the last bath"
	if c.Step > 0 {
		where = "in " + baths[c.Step-1].called()
	}
	what := strings.NewReplacer("_ph", " pH", "_mmol_per_l", " (mmol/L)", "_mmol_per_kg", " (mmol/kg)",
		"_percent_caco3", " (% CaCO₃)", "_g", " (g)", "_", " ").
		Replace(string(c.What))
	s := fmt.Sprintf(
		"%s %s: measured %s, expected %s to %s",
		upper(what),
		where,
		interval.Digits(c.Value, 4*c.Uncertainty),
		interval.Digits(
			c.Predicted.Low,
			c.Predicted.High-c.Predicted.Low,
		),
		interval.Digits(c.Predicted.High, c.Predicted.High-c.Predicted.Low),
	)
	switch c.Says {
	case Agrees:
		return s + ": they agree."
	case CannotTell:
		return s + ": that cannot tell."
	}
	way := "higher"
	if c.Off < 0 {
		way = "lower"
	}
	return s + ": it is " + way + " than expected."
}

// fit samples what the inputs can be given the readings, and says so. It returns an
// error where the sampling was ended.
func (v *Verdict) fit(ctx context.Context, s Sheet, k known, baths []Bath, o Options, readings []Reading,
	drawn, answers [][]float64,
) error {
	p := interval.Posterior{Inputs: k.inputs(baths, o), Drawn: drawn, Seed: o.Seed, Rounds: o.FitRounds, Stop: ctx.Err}
	for _, r := range readings {
		p.Observed = append(p.Observed, interval.Observed{Value: r.Value, Standard: r.Uncertainty})
		p.Clipped = append(p.Clipped, r.clipped())
	}
	predict := func(a, out []float64) {
		for j, r := range readings {
			out[j] = r.beyond(baths, a)
		}
	}
	for _, a := range answers {
		out := make([]float64, len(readings))
		predict(a, out)
		p.Answers = append(p.Answers, out)
	}
	asks := asksOf(readings, len(baths))
	p.Model = func() func(in, out []float64) error {
		c, err := newCourse(k, baths)
		a := make([]float64, oSteps+pCount*len(baths))
		if err == nil {
			c.asks = asks
		}
		return func(in, out []float64) error {
			if err != nil {
				return err
			}
			err := c.follow(in, a)
			predict(a, out)
			return err
		}
	}
	given, err := p.Sample()
	if err != nil {
		return err
	}
	v.effective, v.distance = given.Effective, given.Distance
	switch {
	case given.Distance > farFetched(len(v.Readings)):
		v.Sentence = "Nothing within the ranges explains the readings: check the strength, the volume and the meter " +
			"before any more of the object."
		return nil
	case given.Effective < interval.LeastEffective:
		v.Sentence = "The readings lie at the edge of what the ranges allow: too few cases are left to fit " +
			"anything. Widen the ranges or read again."
		return nil
	case !v.Tells:
		v.Sentence = "The readings cannot tell whether the sheet does what was expected: the ranges are too wide."
	case v.Agree:
		v.Sentence = "Measured and predicted agree within their ranges."
	default:
		v.Sentence = "Measured and predicted differ by more than their ranges; the fitted values below explain it."
	}
	v.fitted(s, k, given.In)
	return nil
}

// asksOf asks for what readings in n baths are of.
func asksOf(readings []Reading, n int) asked {
	a := asked{course: make([]bool, n), end: make([]bool, n)}
	for _, r := range readings {
		i := r.Step - 1
		if r.Step == 0 {
			i = n - 1
		}
		if r.asFilled() {
			continue
		}
		a.soaked = max(a.soaked, i+1)
		a.extract = a.extract || r.What == ReadExtractPH
		if r.ofBathPH() {
			a.end[i] = true
			a.course[i] = a.course[i] || r.Minutes != nil
		}
	}
	if a.extract { // of the sheet after the last
		a.soaked = n
	}
	return a
}

// asFilled says that the reading is of the bath before the sheet went in.
func (r Reading) asFilled() bool { return r.What == ReadBathPH && r.Minutes != nil && *r.Minutes == 0 }

func (r Reading) ofBathPH() bool { return r.What == ReadBathPH || r.What == ReadSheetPH }

// farFetched is the distance of inputs and readings from what was stated of them
// beyond which one set of readings in a thousand would lie if all of it held: chi
// squared with a degree of freedom for each reading, by Wilson and Hilferty (Proc.
// Natl. Acad. Sci. 17, 684, 1931).
func farFetched(readings int) float64 {
	n := float64(readings)
	const z999 = 3.0902
	root := 1 - 2/(9*n) + z999*math.Sqrt(2/(9*n))
	return n * root * root * root
}

// fitted puts the quantities of the sheet into the verdict.
func (v *Verdict) fitted(s Sheet, k known, in [][]float64) {
	fixed := Fitted{Name: "the fixed acid", Field: "fixed_acid_mmol_per_kg"}
	if s.AcidMmolPerKg != nil {
		fixed = Fitted{Name: "the acid", Field: "acid_mmol_per_kg"}
	}
	for _, x := range []struct {
		place  int
		before interval.Range
		Fitted
	}{
		{iFixed, k.fixed, fixed},
		{iSoluble, k.soluble, Fitted{Name: "the soluble acid", Field: "soluble_acid_mmol_per_kg"}},
		{iPickUp, k.pickUp, Fitted{Name: "the pick-up", Field: "pick_up_g_per_g"}},
		{iMass, k.massG, Fitted{Name: "the sheet's mass", Field: "mass_g"}},
	} {
		width := x.before.High - x.before.Low
		if width <= 0 {
			continue
		}
		f := x.Fitted
		f.Before, f.After = x.before, points(in, x.place)
		f.Narrows = f.After.High-f.After.Low <= 0.8*width || math.Abs(f.After.Best-f.Before.Best) >= 0.25*width
		f.Sentence = fmt.Sprintf(
			"%s is %s (%s) by these readings; it was taken as %s (%s).",
			upper(f.Name),
			f.After.BestText(),
			f.After.Text(),
			f.Before.BestText(),
			f.Before.Text(),
		)
		v.Posterior = append(v.Posterior, f)
		if f.Narrows {
			v.Fits = append(v.Fits, f)
		}
	}
}

// points are the 10, 50 and 90 % points of an input.
func points(in [][]float64, place int) interval.Range {
	all := make([]float64, len(in))
	for i, x := range in {
		all[i] = x[place]
	}
	slices.Sort(all)
	n := len(all)
	return interval.Range{Low: all[n/10], Best: all[n/2], High: all[n-1-n/10]}
}

// DryingVerdict is weighings against the drying that was predicted.
type DryingVerdict struct {
	Predicted interval.Range `json:"predicted_g_per_m2_h"`
	Fitted    interval.Range `json:"fitted_g_per_m2_h"`
	// Factor is the fitted rate over the computed one, for an Air's RateFactor.
	Factor interval.Range `json:"rate_factor"`
	Agree  bool           `json:"agree"`
	// Expected is the drying as predicted without the weighings, Weighings the
	// sheet's mass at each that it expects.
	Expected  Drying             `json:"expected"`
	Weighings []ComparedWeighing `json:"weighings"`
	// Masses are the sheet's mass as expected without the weighings, from the start
	// to a quarter beyond the last of them.
	Masses   []ComparedWeighing `json:"-"`
	Drying   Drying             `json:"drying"` // from the last weighing on, at the fitted rate
	Sentence string             `json:"sentence"`
}

// ComparedWeighing is one weighing beside the mass that was predicted for it.
type ComparedWeighing struct {
	Weighing
	PredictedG interval.Range `json:"predicted_g"`
}

// CompareDrying lays two weighings or more over the drying in air that was
// predicted without them. Errors: those of DryInAir; fewer than two weighings.
func CompareDrying(
	s Sheet,
	held Held,
	air Air,
	onSupport bool,
	weighings []Weighing,
	o Options,
) (DryingVerdict, error) {
	if len(weighings) < 2 {
		return DryingVerdict{}, fmt.Errorf("a rate takes two weighings, not %d", len(weighings))
	}
	var minutes []float64
	for _, w := range weighings {
		minutes = append(minutes, w.Minutes)
	}
	for i := range dryingPoints {
		minutes = append(minutes, 1.25*weighings[len(weighings)-1].Minutes*float64(i)/(dryingPoints-1))
	}
	before, masses, err := dryInAir(s, held, air, onSupport, nil, minutes, o)
	if err != nil {
		return DryingVerdict{}, err
	}
	after, err := DryInAir(s, held, air, onSupport, weighings, o)
	if err != nil {
		return DryingVerdict{}, err
	}
	v := DryingVerdict{
		Predicted: before.RateGPerM2H.Range,
		Fitted:    after.RateGPerM2H.Range,
		Factor:    after.RateFactor,
		Expected:  before,
		Drying:    after,
	}
	for i, w := range weighings {
		v.Weighings = append(v.Weighings, ComparedWeighing{w, masses[i]})
	}
	for i, m := range masses[len(weighings):] {
		v.Masses = append(v.Masses, ComparedWeighing{Weighing{Minutes: minutes[len(weighings)+i], MassG: m.Best}, m})
	}
	v.Agree = v.Fitted.Low <= v.Predicted.High && v.Fitted.High >= v.Predicted.Low
	word := "as expected"
	if !v.Agree {
		word = "faster than expected"
		if v.Fitted.Best < v.Predicted.Best {
			word = "slower than expected"
		}
	}
	v.Sentence = fmt.Sprintf(
		"The sheet dries %s: %s g/m² an hour by its weighings, %s expected.",
		word,
		v.Fitted.BestText(),
		v.Predicted.Text(),
	)
	return v, nil
}
