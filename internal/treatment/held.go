package treatment

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/interval"
)

// Pair is a reading with what was expected of it before its run began.
type Pair struct {
	Run      *record.Run
	Expected *record.Stamped[record.RunExpected]
	Reading  *record.Stamped[record.Reading]
	// Value is what was expected at the moment of the reading.
	Value record.ExpectedValue
	// Sheet that was read; -1: the bath.
	Sheet int
	// Read is the reading as compared, Uncertainty its own for 95 % (k = 2); Usual says
	// that none was stated and what the method usually has was taken.
	Read, Uncertainty float64
	Usual             bool
	// Note is what the comparison takes for what. Not is why the reading does not
	// count; empty: it counts.
	Note, Not string
}

// OfBath is the Sheet of a reading of the bath.
const OfBath = -1

// Bounds within which a run was as planned, and so as it was expected: a quarter of
// the planned time, at least five minutes; without a planned time at least twenty
// minutes, in which a sheet is about level with its bath (common practice, no
// source).
const (
	asPlannedShare = 0.25
	asPlannedMin   = 5
	levelMin       = 20
)

// Pairs puts each reading of a case beside what was expected of it. The rule: a
// reading goes with the last bath that its sheet was in before it, or with the bath
// that it was read in, and there with the value of its quantity, sheet and moment. It
// counts when that was kept before the reading was written, when the run was as it
// was typed and about as long as planned, and when it is the first such reading of
// the quantity, the sheet and the moment in this run.
func Pairs(c *record.Case) []Pair {
	if len(c.Expected) == 0 {
		return nil
	}
	var list []Pair
	for i := range c.Readings {
		if p, ok := pairOf(c, &c.Readings[i]); ok {
			list = append(list, p)
		}
	}
	slices.SortStableFunc(list, func(a, b Pair) int { return a.at().Compare(b.at()) })
	type one struct {
		run, quantity string
		moment        record.Moment
		sheet         int
	}
	seen := map[one]bool{}
	for i := range list {
		p := &list[i]
		k := one{p.Run.Body.ID, p.Value.Quantity, p.Value.Moment, p.Sheet}
		switch {
		case p.Not != "":
		case seen[k]:
			p.Not = "read again: the first reading counts"
		default:
			seen[k] = true
		}
	}
	return list
}

// at is when it was read.
func (p *Pair) at() time.Time { return readAt(p.Reading) }

func readAt(x *record.Stamped[record.Reading]) time.Time {
	if x.Body.At.IsZero() {
		return x.Time
	}
	return x.Body.At
}

// pairOf finds what was expected of a reading; ok is false where nothing was.
func pairOf(c *record.Case, x *record.Stamped[record.Reading]) (p Pair, ok bool) {
	p = Pair{Reading: x, Read: x.Body.Value, Sheet: OfBath}
	p.Uncertainty, p.Usual = uncertaintyOf(&x.Body)
	moment := record.InBath
	switch x.Body.Quantity {
	case "bath-ph", "bath-alkali":
		p.Run = c.Run(x.Body.Run)
		if x.Body.Quantity == "bath-alkali" {
			moment = record.OutWet
		}
	default:
		if p.Sheet, ok = sheetRead(c, &x.Body); !ok {
			return p, false
		}
		if p.Run = lastBath(c, p.Sheet, readAt(x)); p.Run == nil {
			return p, false
		}
		left := leftAt(p.Run, p.Sheet)
		if left.IsZero() || readAt(x).Before(left) {
			return p, false // in the bath the sheet is not read
		}
		if moment = record.OutWet; x.Body.Stage == record.StageAfter {
			moment = record.OnceDry
		}
	}
	if p.Run == nil || p.Run.Body.Bath == nil {
		return p, false
	}
	if p.Expected = c.ExpectedOf(p.Run.Body.ID); p.Expected == nil {
		return p, false
	}
	min := readAt(x).Sub(p.Run.Body.At).Minutes()
	if p.Value, ok = valueAt(p.Expected.Body.Values, x.Body.Quantity, moment, p.Sheet, min); !ok {
		return p, false
	}
	p.Not = p.departs(c, min)
	if p.Sheet != OfBath && moment == record.OutWet {
		p.lifted(c)
	}
	return p, true
}

// sheetRead is the one sheet that a reading during or after treatment is of.
func sheetRead(c *record.Case, b *record.Reading) (int, bool) {
	of := b.Place.Sheets
	if r := c.Run(b.Run); len(of) == 0 && r != nil {
		of = r.Body.Sheets
	}
	if len(of) != 1 || b.Stage != record.StageDuring && b.Stage != record.StageAfter {
		return 0, false
	}
	return of[0], true
}

// lastBath is the last bath that a sheet went into at or before a time.
func lastBath(c *record.Case, sheet int, at time.Time) (last *record.Run) {
	for _, r := range c.RunsOn(sheet) {
		if r.Body.Bath != nil && !r.Body.At.After(at) && (last == nil || !r.Body.At.Before(last.Body.At)) {
			last = r
		}
	}
	return last
}

// valueAt is the value of a quantity, moment and sheet; in the bath at a time after
// its start, on the straight line between the two that lie about it, and as at the
// planned end when that is past.
func valueAt(all []record.ExpectedValue, quantity string, m record.Moment, sheet int, min float64) (
	record.ExpectedValue, bool,
) {
	var before *record.ExpectedValue
	for i := range all {
		v := &all[i]
		if v.Quantity != quantity || v.Moment != m || sheet != OfBath && !slices.Contains(v.Sheets, sheet) {
			continue
		}
		switch {
		case m != record.InBath:
			return *v, true
		case v.AtMin > min && before == nil:
			return *v, false // before the first nothing is expected
		case v.AtMin > min:
			return between(before, v, min), true
		}
		before = v
	}
	if before == nil {
		return record.ExpectedValue{}, false
	}
	return *before, true
}

func between(a, b *record.ExpectedValue, min float64) record.ExpectedValue {
	share := (min - a.AtMin) / (b.AtMin - a.AtMin)
	mix := func(x, y interval.Range) interval.Range {
		at := func(u, v float64) float64 { return u + share*(v-u) }
		return interval.Range{Low: at(x.Low, y.Low), Best: at(x.Best, y.Best), High: at(x.High, y.High)}
	}
	v := *b
	v.AtMin, v.Value = min, mix(a.Value, b.Value)
	if a.Computed != nil && b.Computed != nil {
		computed := mix(*a.Computed, *b.Computed)
		v.Computed = &computed
	}
	return v
}

// departs says why the run was not what was expected, min minutes after its start
// for a reading in the bath; empty: it was.
func (p *Pair) departs(c *record.Case, min float64) string {
	if p.Reading.Seq < p.Expected.Seq {
		return "written before the expectation was kept"
	}
	if p.Run.Corrected != 0 && !sameBath(c, p.Run) {
		return "the start of the run was corrected: the expectation was of another bath"
	}
	if p.Value.Quantity == "mass" {
		return "" // a sheet is full of liquid in a minute
	}
	sheet := p.Sheet
	if sheet == OfBath {
		sheet = sheetsStarted(c, p.Run)[0]
	}
	lasted := min
	left := leftAt(p.Run, sheet)
	if p.Value.Moment != record.InBath {
		if left.IsZero() {
			return "the sheets are still in the bath"
		}
		lasted = left.Sub(p.Run.Body.At).Minutes()
	} else if !left.IsZero() && readAt(p.Reading).After(left) {
		return "read after the sheets were out of the bath"
	}
	planned := p.Run.Body.PlannedMin
	allowed := math.Max(asPlannedMin, asPlannedShare*planned)
	short := p.Value.Moment != record.InBath && lasted < planned-allowed
	switch {
	case planned == 0 && lasted < levelMin:
		return fmt.Sprintf("no time was planned and it lasted %.0f min: sheet and bath may not have been level", lasted)
	case planned > 0 && (lasted > planned+allowed || short):
		return fmt.Sprintf("the expectation was for %.0f min, and it was %.0f", planned, lasted)
	}
	return ""
}

func sheetsStarted(c *record.Case, r *record.Run) []int {
	if len(r.Body.Sheets) > 0 {
		return r.Body.Sheets
	}
	if all := c.Sheets(); len(all) > 0 {
		return all
	}
	return []int{0}
}

// sameBath says whether a corrected start has the sheets, the time and the bath that
// the expectation was computed from.
func sameBath(c *record.Case, r *record.Run) bool {
	first, ok := c.Log[r.Seq-1].Decoded.(record.RunStarted)
	if !ok || first.Bath == nil || r.Body.Bath == nil {
		return false
	}
	of := func(b *record.RunStarted) any {
		return []any{
			b.Sheets, b.PlannedMin, b.Bath.Substance, b.Bath.StrengthGL, b.Bath.VolumeMl, b.Bath.TempC, b.Bath.CalciumMgL,
			len(b.Bath.With),
		}
	}
	return reflect.DeepEqual(of(&first), of(&r.Body))
}

// lifted judges what is read of a sheet as it came out of its bath; a weighing is
// compared with what it lost since, lying open.
func (p *Pair) lifted(c *record.Case) {
	min := readAt(p.Reading).Sub(leftAt(p.Run, p.Sheet)).Minutes()
	_, pressed, _, _ := openDrying(c, p.Sheet)
	st := c.StockOf(p.Sheet)
	switch {
	case !pressed.IsZero() && readAt(p.Reading).After(pressed):
		p.Not = "between absorbents it is not as it came out"
	case p.Value.Quantity != "mass":
	case min > firstWeighing:
		p.Not = fmt.Sprintf("weighed %.0f min after it came out: what it lost since is not known well enough", min)
	case st != nil:
		lost := st.WidthMm * st.HeightMm * 1e-6 * lossGPerM2Min * min
		if lost > p.Uncertainty {
			p.Note = fmt.Sprintf("about %.1g g lost since it came out", lost)
		}
		p.Read += lost
		p.Uncertainty = math.Hypot(p.Uncertainty, 2*lossStandard*lost)
	}
}

// UsualUncertainty is that of a reading of a quantity about a value, for 95 %, where
// none is stated: what its usual method has (common practice, no source).
func UsualUncertainty(quantity string, value float64) float64 {
	u, _ := uncertaintyOf(&record.Reading{Quantity: quantity, Value: value})
	return u
}
