package account

import (
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// RunExpect is what readings of a bath that is about to start are expected to show,
// and what it leaves in its first sheet.
type RunExpect struct {
	// Reserve is nil for a bath that is not to leave one.
	Reserve *Fact
	// Readings are what is kept with the start, without the course in the bath.
	Readings         []Fact
	RestsOn, Assumed []string
	Dominant         string
	Warnings         []string // of the coming bath
	// Left says of which sheets nothing is expected; Late why nothing is kept; Gain which
	// reading would tell most.
	Left, Late, Gain string
}

// startedLate is how long after its start a run may be entered for what is computed
// then to count as expected before it (common practice, no source).
const startedLate = 10 * time.Minute

// ExpectRun computes what readings of a planned bath are expected to show; nil where
// nothing can be expected. The studio may be nil.
func ExpectRun(c *record.Case, st *record.Studio, p *RunPlan) *RunExpect {
	f, ok, err := treatment.Foresee(c, st, &p.Run)
	if !ok || err != nil {
		return nil
	}
	x := &RunExpect{RestsOn: f.RestsOn, Assumed: f.Assumed, Dominant: f.Dominant, Warnings: f.Warnings}
	for _, v := range lastOfEach(f.Kept.Values) {
		if len(f.Kept.Inputs) == 1 && len(f.Left) == 0 {
			v.Sheets = nil // all of the run: named above
		}
		if v.Quantity == "reserve" && x.Reserve == nil && LeavesReserve(&p.Run) {
			x.Reserve = &Fact{
				Name: "Alkaline reserve once dry", Figure: &words.Figure{Value: v.Value.Best, Unit: v.Unit, Range: &v.Value},
				Basis: Computed, RestsOn: ownSentence(&v), Limit: f.Limit,
			}
		}
		x.Readings = append(x.Readings, expectedFact(&v))
	}
	if len(f.Left) > 0 {
		x.Left = "Nothing is expected of " + record.SheetNames(f.Left) + "."
	}
	x.Gain = leastKnown(lastOfEach(f.Kept.Values))
	if p.late {
		x.Late = "It is not kept: this run is written down after it began, and nothing was expected before."
	}
	return x
}

// lastOfEach leaves out all of a course but its end.
func lastOfEach(all []record.ExpectedValue) []record.ExpectedValue {
	var list []record.ExpectedValue
	for i, v := range all {
		if i+1 < len(all) && v.Moment == record.InBath {
			if n := all[i+1]; n.Quantity == v.Quantity && n.Moment == v.Moment && slices.Equal(n.Sheets, v.Sheets) {
				continue
			}
		}
		list = append(list, v)
	}
	return list
}

// expectedFact is a value that was expected, named by what, when and where.
func expectedFact(v *record.ExpectedValue) Fact {
	return Fact{
		Name: en.Upper(expectedName(v)), Figure: &words.Figure{Value: v.Value.Best, Unit: v.Unit, Range: &v.Value},
		Basis: Computed, RestsOn: ownSentence(v),
	}
}

// expectedName says what is expected, when, and of what.
func expectedName(v *record.ExpectedValue) string {
	s := QuantityName(v.Quantity) + ", " + momentWords(v)
	if len(v.Sheets) > 0 {
		s += ", " + record.SheetNames(v.Sheets)
	}
	return s
}

// momentWords is the moment of a value.
func momentWords(v *record.ExpectedValue) string {
	switch {
	case v.Moment == record.InBath:
		return "after " + en.Number(twoFigures(v.AtMin)) + words.NBSP + "min"
	case v.Quantity == "bath-alkali":
		return "as the sheets come out"
	}
	return record.Words(v.Moment)
}

// ownSentence says that a range is the studio's own, and what was computed.
func ownSentence(v *record.ExpectedValue) string {
	if v.Computed == nil {
		return ""
	}
	return "by the studio’s own range (entry " + en.Number(float64(v.Own)) + " of the studio); computed: " +
		en.Range(*v.Computed, v.Unit)
}

// KeepExpected adds to the drafts what is expected of the run now, beside each of its
// starts. A run that is written down late keeps nothing.
func (p *RunPlan) KeepExpected(st *record.Studio) error {
	if p.late {
		return nil
	}
	for i, c := range p.cases {
		items := p.Drafts[i].Items
		for j, it := range items {
			run, is := it.Body.(record.RunStarted)
			if !is {
				continue
			}
			f, ok, err := treatment.Foresee(c, st, &run)
			if err != nil {
				return err
			}
			if ok {
				p.Drafts[i].Items = slices.Insert(slices.Clone(items), j+1, record.Item{Body: f.Kept})
			}
			break
		}
	}
	return nil
}

// Best and Span write the reserve and its range.
func (x *RunExpect) Best() string { return en.Best(*x.Reserve.Figure.Range, x.Reserve.Figure.Unit) }
func (x *RunExpect) Span() string { return en.Span(*x.Reserve.Figure.Range) }

// tellExpected tells what was expected of a run.
func tellExpected(c *record.Case, b *record.RunExpected) string {
	s := "expected before " + runWords(c, b.Run, nil) + " (computed, not read): "
	for i, v := range lastOfEach(b.Values) {
		if i > 0 {
			s += "; "
		}
		s += expectedName(&v) + " " + en.Range(v.Value, v.Unit)
	}
	return s
}

// tellOwn tells a range of the studio's own.
func tellOwn(b *record.OwnRange) string {
	return "the studio’s own range of " + QuantityName(b.Quantity) + ", " + momentKind(b.Quantity, b.Moment) + ", on " +
		record.Words(b.Class) + ": " + OwnWords(b) + ", from " + en.Plural(b.Readings, "reading", "readings") +
		", because " + b.Reason
}
