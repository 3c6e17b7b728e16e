package treatment

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/paper"
)

// readingsOf are the readings on a sheet in order of time, those that the computation
// can predict, and the weighings of the wet sheet.
type readingsOf struct {
	rows     []MeasuredRow
	readings []paper.Reading
	of       []int // the row of each of readings
	// lifted is the weight of the sheet as it came out of its last bath.
	lifted    *paper.Reading
	liftedRow int
	// minutes that each bath lasted, at least until the last reading in it.
	minutes     []*paper.Minutes
	weighings   []paper.Weighing
	weighedRows []int
	sheet       int
	areaM2      float64 // of the sheet
}

// seqs are the entries of all rows that may be compared.
func (l *readingsOf) seqs() []int64 {
	var list []int64
	for _, i := range l.of {
		list = append(list, l.rows[i].Seq)
	}
	for _, i := range l.weighedRows {
		list = append(list, l.rows[i].Seq)
	}
	return list
}

// chain are the baths with their times.
func (l *readingsOf) chain(baths []pastBath) []paper.Bath {
	var list []paper.Bath
	for i, b := range baths {
		b.Minutes = l.minutes[i]
		list = append(list, b.Bath)
	}
	return list
}

// sortReadings sorts what was read of a sheet to what the computation predicts.
func sortReadings(c *record.Case, sheet int, baths []pastBath) readingsOf {
	l := readingsOf{sheet: sheet}
	if st := c.StockOf(sheet); st != nil {
		l.areaM2 = st.WidthMm * st.HeightMm * 1e-6
	}
	for _, b := range baths {
		l.minutes = append(l.minutes, b.Minutes)
		if b.run.Body.Bath.PH != nil {
			l.filled(b)
		}
	}
	for i := range c.Readings {
		x := &c.Readings[i]
		if q := record.QuantityOf(x.Body.Quantity); q != nil && concerns(c, &x.Body, sheet) {
			u, assumed := uncertaintyOf(&x.Body)
			at := x.Body.At
			if at.IsZero() {
				at = x.Time
			}
			l.rows = append(
				l.rows,
				MeasuredRow{
					Seq: x.Seq, At: at, What: q.Words, Unit: q.Unit, Value: x.Body.Value, Uncertainty: u,
					Assumed: assumed, reading: &x.Body,
				},
			)
		}
	}
	slices.SortStableFunc(l.rows, func(a, b MeasuredRow) int { return a.At.Compare(b.At) })
	out, pressed, _, _ := openDrying(c, sheet)
	for i := range l.rows {
		if l.rows[i].reading != nil {
			l.place(i, baths, out, pressed)
		} else {
			l.placeFilled(i, baths)
		}
	}
	return l
}

// filled is the pH of the bath as the run's start has it.
func (l *readingsOf) filled(b pastBath) {
	r := b.run
	u, _ := uncertaintyOf(&record.Reading{Quantity: "bath-ph", Method: r.Body.Bath.PHMethod})
	l.rows = append(
		l.rows,
		MeasuredRow{
			Seq: r.Seq, At: r.Body.At, What: "bath pH", Where: r.Body.OperationName + ", as filled",
			Value: *r.Body.Bath.PH, Uncertainty: u, Assumed: true,
		},
	)
}

func (l *readingsOf) placeFilled(i int, baths []pastBath) {
	for j, b := range baths {
		if b.run.Seq != l.rows[i].Seq {
			continue
		}
		switch {
		case !b.computable:
			l.rows[i].Say = notComputed
		case !b.alkaline:
			l.rows[i].Say = "the pH of a water as filled follows its carbon dioxide, which is not recorded"
		default:
			zero := 0.0
			l.take(i, paper.ReadBathPH, j+1, &zero, b.phModel())
		}
	}
}

const notComputed = "what this liquid does to a pH is not computed"

// take adds a row to what is compared; more is a standard uncertainty of the
// comparison itself.
func (l *readingsOf) take(i int, what paper.Measure, step int, minutes *float64, more float64) {
	row := &l.rows[i]
	l.readings = append(
		l.readings,
		paper.Reading{
			What: what, Step: step, Minutes: minutes, Value: row.Value,
			Uncertainty: math.Hypot(row.Uncertainty/2, more),
		},
	)
	l.of = append(l.of, i)
}

// concerns says whether a reading is of the sheet during or after treatment, or of
// a bath or room that it was in.
func concerns(c *record.Case, b *record.Reading, sheet int) bool {
	on := len(b.Place.Sheets) == 0 || slices.Contains(b.Place.Sheets, sheet)
	if b.Run != "" {
		r := c.Run(b.Run)
		if r == nil || !slices.ContainsFunc(c.RunsOn(sheet), func(x *record.Run) bool { return x.Body.ID == b.Run }) {
			return false
		}
		// What is read on a sheet among several, without saying which, is of none.
		many := len(r.Body.Sheets) != 1 && !ofBath(b.Quantity)
		return ofBath(b.Quantity) || on && !(many && len(b.Place.Sheets) == 0)
	}
	return (b.Stage == record.StageDuring || b.Stage == record.StageAfter) && slices.Contains(b.Place.Sheets, sheet)
}

func ofBath(quantity string) bool {
	switch quantity {
	case "bath-ph",
		"bath-alkali",
		"conductivity",
		"bath-temperature",
		"calcium",
		"hardness",
		"air-temperature",
		"humidity":
		return true
	}
	return false
}

// Standard uncertainties of a comparison beside those of the reading.
const (
	// A drop on the dry surface against an extract of the whole sheet: sites of one
	// sheet spread by 0.2 to 0.5 (notes on practice, section 8).
	surfaceForExtract = 0.35
	// A computed pH where acid or carbon dioxide decide it (package paper: about
	// half a unit while acid is left), and where a strong alkali does (electrodes
	// and activities above pH 11; common practice, no source).
	weakPH, strongPH = 0.3, 0.05
	// What a wet sheet lying open loses to the air each minute, g/m2 (computed by
	// package paper for 20 °C and 48 %, a test checks it), and the standard uncertainty
	// as a share of that.
	lossGPerM2Min, lossStandard = 1.0, 0.4
)

// comparisons says how far each prediction itself can be trusted beside its range.
const comparisons = "Beside its own uncertainty each reading is allowed what the computation cannot do better: a pH " +
	"about ± 0.6 where acid or carbon dioxide decide it, ± 0.1 in a lime bath, a drop on the dry surface against an " +
	"extract ± 0.7."

// phModel is the standard uncertainty of a bath's computed pH beside its range.
func (b *pastBath) phModel() float64 {
	if b.Liquid.Base == paper.Calcium && b.Liquid.Anion == paper.Hydroxide && b.alkaline {
		return strongPH
	}
	return weakPH
}

// place finds where a reading belongs among the baths and what predicts it.
func (l *readingsOf) place(i int, baths []pastBath, out, pressed time.Time) {
	row := &l.rows[i]
	step, inBath := l.stepOf(row, baths)
	if step == 0 {
		row.Where, row.Say = "before any bath", "nothing had been done to the sheet"
		return
	}
	bath, last := baths[step-1], step == len(baths)
	row.Where = "after " + bath.run.Body.OperationName
	if inBath {
		row.Where = bath.run.Body.OperationName + ", " + sinceStart(row.At, bath.run.Body.At)
	}
	switch {
	case inBath && !bath.computable:
		row.Say = notComputed
	case row.reading.Quantity == "mass":
		l.weigh(i, row.reading, last, inBath, out, pressed)
	case l.predict(i, step, inBath, last, pressed.IsZero(), bath):
	case !last && !ofBath(row.reading.Quantity):
		row.Say = "another bath came after it"
	default:
		row.Say = "nothing here predicts it"
	}
}

// stepOf is the bath (from 1) that a reading was in, or that came last before it; 0:
// before all.
func (l *readingsOf) stepOf(row *MeasuredRow, baths []pastBath) (step int, inBath bool) {
	b := row.reading
	before := 0
	for j, x := range baths {
		if b.Run != "" && b.Run == x.run.Body.ID {
			step, inBath = j+1, true
		}
		if !x.run.Body.At.After(row.At) {
			before = j + 1
		}
	}
	if !inBath { // of no run, or of one without a bath
		step = before
		inBath = b.Run == "" && step > 0 && row.At.Sub(baths[step-1].run.Body.At).Minutes() < l.lasts(step)
	}
	if inBath && !ofBath(b.Quantity) { // entered with the bath's run, read on the sheet once it was out
		left := leftAt(baths[step-1].run, l.sheet)
		inBath = left.IsZero() || row.At.Before(left)
	}
	return step, inBath
}

// predict takes a reading for comparison with what the computation says of it, and
// reports whether it says anything. last says that no bath came after, open that the
// sheet was not pressed after it.
func (l *readingsOf) predict(i, step int, inBath, last, open bool, bath pastBath) bool {
	row := &l.rows[i]
	stage := row.reading.Stage
	switch q := row.reading.Quantity; {
	case q == "bath-ph" && inBath:
		l.take(i, paper.ReadBathPH, step, l.minute(row.At, step, bath), bath.phModel())
	case q == "surface-ph" && stage == record.StageAfter && last:
		row.Note = "a drop on the surface stands for an extract, to about ± 0.7"
		l.take(i, paper.ReadExtractPH, 0, nil, surfaceForExtract)
	case q == "surface-ph" && inBath:
		l.take(i, paper.ReadSheetPH, step, l.minute(row.At, step, bath), weakPH)
	case q == "surface-ph" && stage == record.StageDuring && last && open:
		l.take(i, paper.ReadSheetPH, step, nil, weakPH)
	case q == "bath-alkali" && inBath && row.At.Sub(bath.run.Body.At).Minutes() <= asFilled:
		row.Say = "it is taken as the strength of the bath as filled"
	case q == "bath-alkali" && inBath:
		l.minute(row.At, step, bath)
		row.Note = "compared with the bath at its end"
		l.take(i, paper.ReadAlkali, step, nil, 0)
	case q == "extract-ph" && last && stage == record.StageAfter:
		l.take(i, paper.ReadExtractPH, 0, nil, 0)
	case q == "reserve" && stage == record.StageAfter:
		l.take(i, paper.ReadReserve, step, nil, 0)
	default:
		return false
	}
	return true
}

// lasts is how long a bath lasted, min; 0 where that is not known.
func (l *readingsOf) lasts(step int) float64 {
	if m := l.minutes[step-1]; m != nil {
		return float64(*m)
	}
	return 0
}

// minute is how far into its bath a reading was; nil at the end. A bath that is
// still going on lasts at least as long.
func (l *readingsOf) minute(at time.Time, step int, b pastBath) *float64 {
	min := math.Max(0, at.Sub(b.run.Body.At).Minutes())
	if min < l.lasts(step) {
		return &min
	}
	if b.run.Open() && min > 0 && min < 24*60 {
		l.minutes[step-1] = new(paper.Minutes(min))
	}
	return nil
}

// weigh sorts a weighing: of the sheet as lifted from its last bath, of the sheet
// drying in air, or of one that nothing predicts.
func (l *readingsOf) weigh(i int, b *record.Reading, last, inBath bool, out, pressed time.Time) {
	row := &l.rows[i]
	switch {
	case b.Stage == record.StageAfter:
		row.Say = "the dry sheet's mass is what is taken of it"
		return
	case inBath || !last || out.IsZero() || row.At.Before(out):
		row.Say = "another bath came after it"
		if inBath {
			row.Say = "a sheet in its bath has no weight of its own"
		}
		return
	case !pressed.IsZero() && row.At.After(pressed):
		row.Say = "between absorbents the weight is theirs as much as the sheet's"
		return
	}
	min := row.At.Sub(out).Minutes()
	if len(l.weighings) == 0 && min <= firstWeighing {
		lost := l.areaM2 * lossGPerM2Min * min
		row.Note = "as lifted from the bath"
		if lost > row.Uncertainty {
			row.Note += fmt.Sprintf(", about %.1g g lost since", lost)
		}
		l.lifted = &paper.Reading{
			What: paper.ReadWetMass, Value: row.Value + lost,
			Uncertainty: math.Hypot(row.Uncertainty/2, lossStandard*lost),
		}
		l.liftedRow = i
	}
	if n := len(l.weighings); n > 0 && min <= l.weighings[n-1].Minutes {
		row.Say = "weighed twice at one time"
		return
	}
	l.weighings = append(l.weighings, paper.Weighing{Minutes: min, MassG: row.Value})
	l.weighedRows = append(l.weighedRows, i)
}

// uncertaintyOf is a reading's uncertainty for 95 %; assumed says that none was
// stated and what the method usually has was taken (common practice, no source).
func uncertaintyOf(b *record.Reading) (u float64, assumed bool) {
	if b.Uncertainty != nil && *b.Uncertainty > 0 {
		return *b.Uncertainty, false
	}
	// The method is what a person typed; strips are offered by that word.
	strip := strings.Contains(strings.ToLower(b.Method), "strip")
	switch b.Quantity {
	case "bath-ph", "extract-ph":
		u = 0.2
		if strip {
			u = 0.6
		}
	case "surface-ph":
		u = 0.4
		if strip {
			u = 0.8
		}
	case "mass":
		u = 0.02
	case "bath-alkali", "reserve":
		u = math.Max(0.05*b.Value, 0.02)
	default:
		u = math.Max(0.05*math.Abs(b.Value), 0.01)
	}
	return u, true
}

// asks are readings that are not there yet, those that tell most first. What can be
// read no more, because the sheet has gone on, is not asked for.
func (l *readingsOf) asks(c *record.Case, sheet int, baths []pastBath) []Ask {
	if len(baths) == 0 {
		return nil
	}
	has := func(w paper.Measure) bool {
		return slices.ContainsFunc(
			l.readings, func(r paper.Reading) bool { return r.What == w && (r.Minutes == nil || *r.Minutes > 0) },
		)
	}
	last := baths[len(baths)-1]
	runs := c.RunsOn(sheet)
	lying := runs[len(runs)-1].Body.ID
	_, pressed, _, _ := openDrying(c, sheet)
	open := pressed.IsZero() && c.ConditionOf(sheet).Wetness != record.Dry
	var list []Ask
	if open && l.lifted == nil && len(l.weighings) == 0 {
		list = append(
			list,
			Ask{
				"The sheet on the balance as it is lifted from its last bath",
				"gives the pick-up, which sets how much reserve it can keep",
				"mass",
				lying,
			},
		)
	}
	if open && last.computable && !has(paper.ReadAlkali) {
		list = append(
			list,
			Ask{
				"The alkali of the bath by titration as filled, and when the sheets come out",
				"gives the acid that they held by its difference; a pH says little of it",
				"bath-alkali",
				last.run.Body.ID,
			},
		)
	}
	if open && last.computable && !has(paper.ReadBathPH) {
		list = append(
			list,
			Ask{
				"The pH of the bath when the sheets come out",
				"says whether the bath is spent, and whether strength and volume are as recorded",
				"bath-ph",
				last.run.Body.ID,
			},
		)
	}
	if open && len(l.weighings) < 2 {
		list = append(
			list,
			Ask{
				"A second weighing ten minutes after the first, lying open",
				"gives the drying rate, and with it the time left to mend",
				"mass",
				lying,
			},
		)
	}
	if !has(paper.ReadReserve) && slices.ContainsFunc(baths, func(b pastBath) bool { return b.alkaline }) {
		list = append(
			list,
			Ask{
				"The reserve of a test strip by titration, once dry",
				"checks the whole chain at its end",
				"reserve",
				"",
			},
		)
	}
	if !has(paper.ReadExtractPH) {
		list = append(
			list,
			Ask{
				"The pH of the dry sheet",
				"says whether acid is left; by cold extract where fibre can be spared, by a drop on the surface " +
					"otherwise",
				"surface-ph",
				"",
			},
		)
	}
	return list
}
