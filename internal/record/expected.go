package record

import "slices"

// RunExpected keeps what was expected of a run before it began, so that what is read
// later can be held against it. It is a computation and no reading: it stands beside
// the run's start, and what is computed later, by another version or from what has
// been read since, never takes its place.
type RunExpected struct {
	Run string `json:"run" say:"the run" as:"id"`
	// Model names the computation by a digest of what it says of baths that never
	// change; Inputs is the SHA-256 of all that was put in, for each group of sheets.
	Model  string   `json:"model" say:"the model"`
	Inputs []string `json:"inputs" say:"the digest of the inputs"`
	// Coverage is how often in a hundred a range is meant to hold what is read.
	Coverage float64         `json:"coverage_pct" say:"how often the ranges are meant to hold" in:"1..99 %"`
	Values   []ExpectedValue `json:"values" say:"the values"`
	RestsOn  []string        `json:"rests_on,omitempty" say:"what it rests on" as:"text"`
}

// ExpectedValue is what a reading of a quantity at a moment is expected to show, the
// uncertainty of the reading itself apart.
type ExpectedValue struct {
	Quantity string `json:"quantity" say:"the quantity" as:"raw"`
	Moment   Moment `json:"moment" say:"the moment"`
	// AtMin is how long after the start, for a moment in the bath.
	AtMin float64 `json:"at_min,omitempty" say:"the time after the start" in:"0..86400 min"`
	// Sheets that it is expected of; none: of the bath.
	Sheets []int `json:"sheets,omitempty" say:"the sheets"`
	// Class is that of the paper.
	Class PaperClass `json:"class" say:"the class"`
	Unit  string     `json:"unit,omitempty" say:"the unit" as:"raw"`
	Value Range      `json:"value" say:"the value"`
	// Computed is what the model gave where the studio's own range changed it, and Own
	// the entry of the studio that did.
	Computed *Range `json:"computed,omitempty" say:"the value as computed"`
	Own      int64  `json:"own,omitempty" say:"the studio's own range" as:"raw"`
}

func (RunExpected) Kind() Kind { return "run-expected" }

func (b RunExpected) rules(k *check) {
	if len(b.Values) == 0 {
		k.refuse("values", "Nothing is expected: a run of which nothing can be expected keeps no such entry.")
	}
	for _, v := range b.Values {
		q := QuantityOf(v.Quantity)
		switch {
		case q == nil:
			k.refuse("quantity", "%q is not a quantity that benchleaf knows.", clip(v.Quantity))
			continue
		case v.Unit != q.Unit:
			k.refuse("unit", "%s is in %q, not in %q.", upper(q.Words), q.Unit, clip(v.Unit))
		case (v.Computed != nil) != (v.Own > 0):
			k.refuse("own", "%s has a range of the studio's own without what was computed, or the other way round.",
				upper(q.Words))
		}
		k.maybeRange("value", q.Words, &v.Value, q.Low, q.High, q.Unit)
		k.maybeRange("computed", q.Words+" as computed", v.Computed, q.Low, q.High, q.Unit)
	}
}

// apply keeps it even where the start of its run was withdrawn: without the run it
// says nothing, and the withdrawal of a start needs no second one.
func (b RunExpected) apply(c *Case, s Stamp) error {
	c.Expected = append(c.Expected, Stamped[RunExpected]{s, b})
	return nil
}

// ExpectedOf is what was expected of a run before it began; nil: nothing was kept.
func (c *Case) ExpectedOf(run string) *Stamped[RunExpected] {
	for i := range c.Expected {
		if c.Expected[i].Body.Run == run {
			return &c.Expected[i]
		}
	}
	return nil
}

// OwnRange is how the studio widens, narrows and shifts what is expected of a
// quantity on a class of paper, because its own readings have shown that the ranges
// as computed do not hold as often as they say. The latest of a quantity, moment and
// class counts; withdrawn, what stood before counts again.
type OwnRange struct {
	Quantity string     `json:"quantity" say:"the quantity" as:"raw"`
	Moment   Moment     `json:"moment" say:"the moment"`
	Class    PaperClass `json:"class" say:"the class"`
	// Factor multiplies both half widths of the range; Shift moves it, in half
	// widths as computed: up by the upper one, down by the lower one.
	Factor float64 `json:"factor" say:"the factor on the width" in:"0.1..20"`
	Shift  float64 `json:"shift" say:"the shift in half widths" in:"-20..20" need:"no"`
	// Held of Readings lay in the range as computed by Model.
	Model    string         `json:"model" say:"the model"`
	Held     int            `json:"held" say:"how many held" in:"0..1000000" need:"no"`
	Readings int            `json:"readings" say:"how many readings there were" in:"1..1000000"`
	Evidence []RunsReadings `json:"evidence" say:"the evidence"`
	Reason   string         `json:"reason" say:"the reason" as:"text"`
}

// RunsReadings are runs of one case with the entries of the readings in them.
type RunsReadings struct {
	Case     CaseID   `json:"case" say:"the case" as:"raw"`
	Number   string   `json:"number" say:"the case number" need:"no"`
	Runs     []string `json:"runs" say:"the runs" as:"raw"`
	Readings []int64  `json:"readings" say:"the readings" as:"raw"`
}

func (OwnRange) Kind() Kind { return "own-range" }

func (b OwnRange) rules(k *check) {
	n := 0
	for _, e := range b.Evidence {
		n += len(e.Readings)
	}
	switch {
	case QuantityOf(b.Quantity) == nil:
		k.refuse("quantity", "%q is not a quantity that benchleaf knows.", clip(b.Quantity))
	case b.Held > b.Readings:
		k.refuse("held", "%d of %d readings cannot have held.", b.Held, b.Readings)
	case n != b.Readings:
		k.refuse("evidence", "%d readings are counted and %d are named: each is named once.", b.Readings, n)
	}
}

func (b OwnRange) applyStudio(st *Studio, s Stamp) error {
	st.OwnRanges = append(st.OwnRanges, Stamped[OwnRange]{s, b})
	return nil
}

// OwnRangeFor is the studio's own range that counts; nil: there is none.
func (st *Studio) OwnRangeFor(quantity string, m Moment, class PaperClass) *Stamped[OwnRange] {
	if st == nil {
		return nil
	}
	for i := range slices.Backward(st.OwnRanges) {
		if b := &st.OwnRanges[i].Body; b.Quantity == quantity && b.Moment == m && b.Class == class {
			return &st.OwnRanges[i]
		}
	}
	return nil
}

// Apply is a computed range as the studio takes it, kept within the bounds of its
// quantity.
func (b *OwnRange) Apply(r Range) Range {
	side := r.High - r.Best
	if b.Shift < 0 {
		side = r.Best - r.Low
	}
	best := r.Best + b.Shift*side
	out := Range{Low: best - b.Factor*(r.Best-r.Low), Best: best, High: best + b.Factor*(r.High-r.Best)}
	if q := QuantityOf(b.Quantity); q != nil {
		in := func(v float64) float64 { return min(max(v, q.Low), q.High) }
		out = Range{Low: in(out.Low), Best: in(out.Best), High: in(out.High)}
	}
	return out
}
