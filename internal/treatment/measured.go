package treatment

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
)

// Measured is what was read on a sheet and in its baths, beside what was
// predicted for it.
type Measured struct {
	Sheet int
	// Taken is what the prediction takes of the sheet.
	Taken []Taken
	// Rows are the readings in order of time.
	Rows  []MeasuredRow
	Baths []MeasuredBath
	// Drying is nil without two weighings of the wet sheet in air; DryingFrom is
	// when its minutes begin.
	Drying     *paper.DryingVerdict
	DryingFrom time.Time
	// Agree and Sentences say it of all compared readings together; Sentences is
	// empty when there is none.
	Agree     bool
	Sentences []string
	// Offers are fitted values that may be adopted, Remaining the sheets of the
	// same paper that no alkaline bath has touched.
	Offers    []Offer
	Remaining []int
	// Left lists adopted values that the prediction leaves out, because they rest
	// on the same readings: a reading does not confirm itself.
	Left []record.Stamped[record.ValueAdopted]
	// RestsOn says what the comparison rests on.
	RestsOn []string
	// Asks are the readings that would tell most now.
	Asks []Ask
	// Missing is the one sentence that says why nothing can be predicted.
	Missing string
}

// Taken is a quantity of the sheet as the prediction has it.
type Taken struct {
	Quantity, Words, Unit string
	Range                 interval.Range
	Basis                 string
	Adopted               bool
}

// MeasuredRow is one reading.
type MeasuredRow struct {
	Seq  int64
	At   time.Time
	What string // "bath pH"
	// Where is the bath, or what the sheet was doing.
	Where, Unit string
	Value       float64
	// Uncertainty is for 95 % (k = 2); Assumed says that it was not stated.
	Uncertainty float64
	Assumed     bool
	Compared    bool
	Predicted   interval.Range
	// Says is what it says of the prediction, where it is compared.
	Says paper.Says
	// Say is the verdict in words, or why the reading is not compared.
	Say string
	// Note is what the comparison of this reading takes for what; may be empty.
	Note string

	reading *record.Reading // nil: the bath as filled
}

// MeasuredBath is a bath's predicted course with the pH readings in it.
type MeasuredBath struct {
	Name    string
	Start   time.Time
	Minutes float64
	// Course begins with the bath as filled, at 0 min.
	Course []paper.Moment
	// Readings are places in Rows of readings of the bath's pH; Minutes their times.
	Readings []int
	At       []float64
}

// Offer is a fitted value on offer.
type Offer struct {
	Quantity, Words, Unit string
	Was, Value            interval.Range
	// Like is the value for other sheets of the paper, which were not read: wider by
	// what sheets differ, of which Spread says how much (a standard deviation as a share
	// of the value) and SpreadBasis from where.
	Like        interval.Range
	Spread      float64
	SpreadBasis string
	WasBasis    string
	Readings    []int64
	// Firm says that the readings more than halve the range: what is on offer is
	// then theirs and not the class's.
	Firm bool
	// Adopted are sheets for which it is adopted already, from the same readings.
	Adopted []int
}

// Ask is a reading that is not there and what it would tell. Run is where it would
// be taken; empty: on the finished sheet.
type Ask struct{ What, Why, Quantity, Run string }

// measuredSamples of the prediction: enough that a fit by five readings keeps some
// dozens of them in effect.
const measuredSamples = 300

// firstWeighing is for how many minutes out of the bath a weighing tells what the
// sheet held as it was lifted, with what it lost since counted in (common practice,
// no source).
const firstWeighing = 20

// Measure lays the readings of a sheet over the prediction. Error: ctx's when nobody
// waits any more; what the computation refuses, in one sentence.
func Measure(ctx context.Context, c *record.Case, sheet int) (Measured, error) {
	m := Measured{Sheet: sheet}
	baths := bathsOf(c, sheet)
	l := sortReadings(c, sheet, baths)
	m.Rows = l.rows
	m.Remaining = remaining(c, sheet)
	own := l.seqs()
	var from []record.Stamped[record.ValueAdopted]
	for _, a := range c.AdoptedFor(sheet) {
		if slices.ContainsFunc(a.Body.Readings, func(n int64) bool { return slices.Contains(own, n) }) {
			m.Left = append(m.Left, a)
			continue
		}
		from = append(from, a)
	}
	of, ok := sheetWith(c, sheet, from)
	if !ok {
		m.Missing = "The paper of this sheet is not described yet, so nothing can be predicted for it."
		return m, nil
	}
	m.Taken = of.taken()
	m.Asks = l.asks(c, sheet, baths)
	if len(baths) == 0 {
		m.Missing = "This sheet has not been in a bath yet: what it is expected to do begins there."
		return m, nil
	}
	m.RestsOn = append([]string{comparisons}, of.RestsOn...)
	if err := m.compareLifted(ctx, l, of); err != nil {
		return m, err
	}
	if err := m.compareBaths(ctx, l, of, baths); err != nil {
		return m, err
	}
	m.weighings(c, sheet, of, l)
	for i := range m.Offers {
		m.Offers[i].judge(c)
		m.Offers[i].forLike(c, sheet, of)
	}
	return m, nil
}

// compareLifted lays the weight of the sheet as lifted over what it is expected to
// hold. That weight knows nothing of chemistry: a bath of water stands for all, so
// that many samples cost little, and it alone gives pick-up and mass.
func (m *Measured) compareLifted(ctx context.Context, l readingsOf, of TakenSheet) error {
	if l.lifted == nil {
		return nil
	}
	water := []paper.Bath{{Name: "its last bath", VolumeMl: interval.Exactly(1e5)}}
	v, err := compareReadings(ctx, of.Sheet, water, paper.Options{Seed: 1, Samples: 1000}, []paper.Reading{*l.lifted})
	if err != nil {
		return err
	}
	m.compare(v, []int{l.liftedRow}, of)
	return nil
}

// compareBaths lays all other readings over the course of the baths.
func (m *Measured) compareBaths(ctx context.Context, l readingsOf, of TakenSheet, baths []pastBath) error {
	if len(l.readings) == 0 {
		return nil
	}
	v, err := compareReadings(
		ctx,
		of.Sheet,
		l.chain(baths),
		paper.Options{Seed: 1, Samples: measuredSamples},
		l.readings,
	)
	if err != nil {
		return err
	}
	m.compare(v, l.of, of)
	m.courses(v.Courses, baths, l)
	return nil
}

// compare puts a verdict into its rows and takes the fits as offers, where there is
// none of the same quantity yet.
func (m *Measured) compare(v paper.Verdict, rows []int, of TakenSheet) {
	if v.Tells || len(v.Posterior) == 0 { // what cannot tell says nothing, unless that it cannot be
		m.sumUp(v.Agree, v.Sentence)
	}
	var seqs []int64
	for i, r := range v.Readings {
		row := &m.Rows[rows[i]]
		row.Compared, row.Predicted, row.Says = true, r.Predicted, r.Says
		row.Say = verdict(r.Says, r.Off)
		seqs = append(seqs, row.Seq)
	}
	for _, f := range v.Fits {
		q := record.AdoptedQuantityOf(fieldQuantity[f.Field])
		if q == nil || slices.ContainsFunc(m.Offers, func(o Offer) bool { return o.Quantity == q.Value }) {
			continue
		}
		m.Offers = append(
			m.Offers,
			Offer{
				Quantity: q.Value,
				Words:    q.Words,
				Unit:     q.Unit,
				Was:      f.Before,
				Value:    f.After,
				WasBasis: of.Basis(q.Value).Words,
				Readings: seqs,
			},
		)
	}
}

// verdict says in words how a reading lies to its prediction.
func verdict(says paper.Says, off float64) string {
	switch {
	case says == paper.CannotTell:
		return "cannot tell"
	case says == paper.Differs && off > 0:
		return "higher than expected"
	case says == paper.Differs:
		return "lower than expected"
	case off > 1:
		return "agrees, on the high side"
	case off < -1:
		return "agrees, on the low side"
	}
	return "agrees"
}

// fieldQuantity are the record's names for the fitted fields of a paper.Sheet.
var fieldQuantity = map[string]string{
	"fixed_acid_mmol_per_kg":   "fixed-acid",
	"soluble_acid_mmol_per_kg": "soluble-acid",
	"acid_mmol_per_kg":         "acid",
	"pick_up_g_per_g":          "pick-up",
	"mass_g":                   "mass",
}

// weighings compares the weighings of the sheet lying open with the drying in air.
func (m *Measured) weighings(c *record.Case, sheet int, of TakenSheet, l readingsOf) {
	if len(l.weighings) < 2 {
		for _, i := range l.weighedRows {
			if !m.Rows[i].Compared {
				m.Rows[i].Say = "a rate takes two weighings"
			}
		}
		return
	}
	out, _, air, _ := openDrying(c, sheet)
	air.RateFactor = of.RateFactor
	v, err := paper.CompareDrying(of.Sheet, paper.Drained, air, true, l.weighings, paper.Options{Seed: 1, Samples: 300})
	if err != nil {
		// Weighings that show no drying are a slip at the balance, no fault of the page.
		for _, i := range l.weighedRows {
			if !m.Rows[i].Compared {
				m.Rows[i].Say = err.Error()
			}
		}
		return
	}
	m.Drying, m.DryingFrom = &v, out
	var seqs []int64
	agree := true
	for i, w := range v.Weighings {
		row := &m.Rows[l.weighedRows[i]]
		seqs = append(seqs, row.Seq)
		if row.Compared {
			continue // as lifted from the bath, with the readings
		}
		off, says := paper.Compare(w.MassG, row.Uncertainty/2, w.PredictedG, false)
		row.Compared, row.Predicted, row.Says, row.Say = true, w.PredictedG, says, verdict(says, off)
		agree = agree && says != paper.Differs
	}
	m.sumUp(agree && v.Agree, v.Sentence)
	width := v.Expected.RateFactor.High - v.Expected.RateFactor.Low
	if after := v.Factor; after.High-after.Low < 0.8*width ||
		math.Abs(after.Best-v.Expected.RateFactor.Best) > 0.25*width {
		q := record.AdoptedQuantityOf("drying-rate")
		m.Offers = append(
			m.Offers,
			Offer{
				Quantity: q.Value,
				Words:    q.Words,
				Unit:     q.Unit,
				Was:      v.Expected.RateFactor,
				Value:    after,
				WasBasis: of.Basis(q.Value).Words,
				Readings: seqs,
			},
		)
	}
}

// sumUp adds a part's verdict to that of all.
func (m *Measured) sumUp(agree bool, sentence string) {
	m.Agree = agree && (m.Agree || len(m.Sentences) == 0)
	if !slices.Contains(m.Sentences, sentence) {
		m.Sentences = append(m.Sentences, sentence)
	}
}

// courses are the baths' predicted courses with the pH readings in them.
func (m *Measured) courses(all [][]paper.Moment, baths []pastBath, l readingsOf) {
	for i, course := range all {
		b := MeasuredBath{
			Name:    baths[i].run.Body.OperationName,
			Start:   baths[i].run.Body.At,
			Minutes: l.lasts(i + 1),
			Course:  course,
		}
		if len(course) == 0 || !baths[i].computable {
			continue
		}
		for j, r := range l.readings {
			if r.What != paper.ReadBathPH || r.Step != i+1 {
				continue
			}
			at := b.Minutes
			if r.Minutes != nil {
				at = *r.Minutes
			}
			b.Readings, b.At = append(b.Readings, l.of[j]), append(b.At, at)
		}
		if len(b.Readings) > 0 {
			m.Baths = append(m.Baths, b)
		}
	}
}

// judge says how firm an offer is and for which sheets it is adopted already.
func (o *Offer) judge(c *record.Case) {
	o.Firm = o.Value.High-o.Value.Low < (o.Was.High-o.Was.Low)/2
	for _, n := range c.Sheets() {
		for _, a := range c.AdoptedFor(n) {
			if a.Body.Quantity == o.Quantity && slices.Equal(a.Body.Readings, o.Readings) {
				o.Adopted = append(o.Adopted, n)
			}
		}
	}
}

// remaining are the sheets of the same paper that no bath with a known alkali has
// touched.
func remaining(c *record.Case, sheet int) []int {
	stock := c.StockOf(sheet)
	if stock == nil {
		return nil
	}
	var list []int
	for _, n := range c.Sheets() {
		if n == sheet || c.StockOf(n) == nil || c.StockOf(n).ID != stock.ID {
			continue
		}
		if !slices.ContainsFunc(bathsOf(c, n), func(b pastBath) bool { return b.alkaline }) {
			list = append(list, n)
		}
	}
	return list
}

// taken lists what the prediction takes of the sheet.
func (t *TakenSheet) taken() []Taken {
	var list []Taken
	add := func(quantity string, r *interval.Range, typical string) {
		q := record.AdoptedQuantityOf(quantity)
		x := Taken{
			Quantity: quantity,
			Words:    q.Words,
			Unit:     q.Unit,
			Basis:    t.Basis(quantity).Words,
			Adopted:  t.basis[quantity].From == FromAdoptions,
		}
		if r != nil {
			x.Range = *r
		} else if typ, ok := paper.TypicalOf(t.Class, typical); ok {
			x.Range = typ.Range
		}
		list = append(list, x)
	}
	if t.AcidMmolPerKg != nil {
		add("acid", t.AcidMmolPerKg, "")
	} else {
		add("soluble-acid", t.SolubleAcidMmolPerKg, "soluble_acid")
		add("fixed-acid", t.FixedAcidMmolPerKg, "fixed_acid")
	}
	add("pick-up", t.PickUpGPerG, "drained")
	mass := t.MassG
	if mass == nil && t.GrammageGsm != nil {
		m := t.GrammageGsm.Scale(float64(t.WidthMm) * float64(t.HeightMm) * 1e-6)
		mass = &m
	}
	add("mass", mass, "")
	rate := t.RateFactor
	if rate == nil {
		rate = &interval.Range{Low: 0.6, Best: 1, High: 1.6} // as package paper takes it
	}
	add("drying-rate", rate, "")
	return list
}

// Basis says where the sheet's value of a quantity of record.AdoptedQuantities comes
// from.
func (t *TakenSheet) Basis(quantity string) Basis {
	if b, ok := t.basis[quantity]; ok {
		return b
	}
	return Basis{FromClass, t.classBasis(quantity)}
}

// classBasis says what stands in for a quantity of which nothing is known.
func (t *TakenSheet) classBasis(quantity string) string {
	class := string(t.Class)
	for _, c := range paper.Classes() {
		if c.Class == class {
			class = c.Name
		}
	}
	typical := map[string]string{"soluble-acid": "soluble_acid", "fixed-acid": "fixed_acid",
		"pick-up": "drained"}[quantity]
	if x, ok := paper.TypicalOf(t.Class, typical); ok {
		return "taken for " + class + " (" + x.Basis + ")"
	}
	switch quantity {
	case "mass":
		return "from size and grammage of the paper"
	case "drying-rate":
		return "computed from the air (common practice, no source, for its width)"
	}
	return "taken for " + class
}

// sinceStart writes how far into a bath a reading was.
func sinceStart(at, start time.Time) string {
	return fmt.Sprintf("after %.0f min", math.Max(0, at.Sub(start).Minutes()))
}
