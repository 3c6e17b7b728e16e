package account

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/paper"
)

// SheetRead is what was read on a sheet and in its baths, beside what was expected
// of it.
type SheetRead struct {
	// Agree and Sentences say it of all readings together; Sentences is empty
	// when there is none that could be compared.
	Agree     bool
	Sentences []string
	Missing   string // why nothing can be expected
	Rows      []ReadRow
	Kept      []ReadRow // not compared
	Curves    []Curve
	Offers    []Offer
	Taken     []Fact // assumed for this sheet
	Asks      []treatment.Ask
	RestsOn   []string
	Remaining []int // sheets of the paper that no alkaline bath has touched

	from int
	left []record.Stamped[record.ValueAdopted]
}

// What a reading can be, beside what was expected: paper.Says.
const (
	Agrees     = Code(paper.Agrees)
	Differs    = Code(paper.Differs)
	CannotTell = Code(paper.CannotTell)
)

// TellsRule says the rule of CannotTell for a person.
const TellsRule = paper.TellsRule

// ReadRow is one reading.
type ReadRow struct {
	What, Unit, Where string
	At                time.Time
	Read, Expected    Fact
	Usual             bool // its uncertainty is what is usual for the method
	Verdict           Code
	Say, Note         string
}

// Compare lays the readings of a sheet beside the expectation. Error: ctx's when nobody
// waits any more; what the computation refuses, in one sentence.
func Compare(ctx context.Context, c *record.Case, sheet int, k words.Clock) (SheetRead, error) {
	m, err := treatment.Measure(ctx, c, sheet)
	a := SheetRead{
		Agree: m.Agree, Sentences: m.Sentences, Missing: m.Missing, Asks: m.Asks, RestsOn: m.RestsOn,
		Remaining: m.Remaining, from: sheet, left: m.Left,
	}
	for i := range m.Rows {
		a.row(&m.Rows[i])
	}
	a.sumUp()
	for _, o := range m.Offers {
		a.Offers = append(a.Offers, offerOf(o))
	}
	for _, t := range m.Taken {
		f := ranged(Code(t.Quantity), en.Upper(t.Words), t.Range, t.Unit)
		if f.RestsOn, f.Basis = t.Basis, Assumed; t.Adopted {
			f.Basis = Adopted
		}
		if t.Quantity == "pick-up" {
			f.Limit = "per g of oven-dry paper"
		}
		a.Taken = append(a.Taken, f)
	}
	a.Curves = readCurves(&m, k)
	return a, err
}

func (a *SheetRead) row(r *treatment.MeasuredRow) {
	x := ReadRow{
		What: en.Upper(r.What), Unit: r.Unit, Where: r.Where, At: r.At, Usual: r.Assumed, Say: r.Say, Note: r.Note,
		Read: Fact{Basis: Measured, Text: readText(r)},
	}
	if !r.Compared {
		a.Kept = append(a.Kept, x)
		return
	}
	if x.Expected = ranged("expected", "Expected", r.Predicted, ""); r.Unit == "" {
		x.Expected.Figure.Least = 0.1 // of a pH
	}
	x.Verdict = Code(r.Says)
	a.Rows = append(a.Rows, x)
}

// readText is what was read, in the digits of the record; where no uncertainty was
// stated and the reading is compared, with the usual one.
func readText(r *treatment.MeasuredRow) string {
	switch {
	case !r.Assumed:
		return Value(&record.Reading{Value: r.Value, Uncertainty: &r.Uncertainty})
	case r.Compared:
		return en.Number(r.Value) + " ± " + rough(r.Uncertainty)
	}
	return en.Number(r.Value)
}

// sumUp takes back an agreement that no reading, or not every one, could show.
func (a *SheetRead) sumUp() {
	n := 0
	for _, x := range a.Rows {
		if x.Verdict == CannotTell {
			n++
		}
	}
	switch {
	case n == 0 || len(a.Sentences) > 0 && !a.Agree:
	case n == len(a.Rows):
		a.Agree, a.Sentences = false, []string{
			"The readings cannot tell whether the sheet does what was expected: the ranges are too wide."}
	default:
		a.Sentences = append(a.Sentences, fmt.Sprintf("Of the %s %d cannot tell.", plural(len(a.Rows), "reading"), n))
	}
}

// readCurves are one plot for each bath with a reading of its pH, and one of
// the sheet's mass as it dries.
func readCurves(m *treatment.Measured, k words.Clock) []Curve {
	var list []Curve
	for _, b := range m.Baths {
		var l Series
		for _, x := range b.Course {
			l.add(float64(x.Minutes), x.BathPH)
		}
		list = append(list, readOver("pH of the bath, "+b.Name+" from "+k.At(b.Start), "pH", l, m, b.Readings, b.At))
	}
	if d := m.Drying; d != nil {
		var l Series
		for _, x := range d.Masses {
			l.add(x.Minutes, x.PredictedG)
		}
		var at []float64
		var rows []int
		for i, r := range m.Rows {
			for _, w := range d.Weighings {
				if min := r.At.Sub(m.DryingFrom).Minutes(); r.Unit == "g" && math.Abs(min-w.Minutes) < 1e-6 {
					rows, at = append(rows, i), append(at, min)
				}
			}
		}
		list = append(list, readOver("Mass of the sheet, lying open from "+k.At(m.DryingFrom), "g", l, m, rows, at))
	}
	return list
}

func readOver(title, unit string, l Series, m *treatment.Measured, rows []int, at []float64) Curve {
	low, high := bounds(l)
	c := Curve{
		XTitle: "min", YTitle: unit, Under: title, Lines: []Series{l}, X: Axis{To: max(slices.Max(l.X), 1)},
		Says: fmt.Sprintf("%s: expected %s at the start, %s after %s", title, en.Span(l.R[0]), en.Span(l.last()),
			en.Quantity(math.Round(l.X[len(l.X)-1]), "min")),
	}
	for i, row := range rows {
		r := &m.Rows[row]
		low, high = min(low, r.Value-r.Uncertainty), max(high, r.Value+r.Uncertainty)
		says := readText(r) + " after " + en.Quantity(math.Round(at[i]), "min") + ": " + r.Say
		mark := Mark{X: at[i], Y: r.Value, Uncertainty: r.Uncertainty, Off: r.Says == paper.Differs, Says: says}
		c.Readings = append(c.Readings, mark)
		c.Says += "; read " + says
	}
	c.Y = Axis{From: low, To: high}
	return c
}

// Offer is a value that the readings of one sheet give, on offer for others.
type Offer struct {
	Quantity, Words, Unit string
	Value, Was            Fact
	// Others is the value for other sheets of the paper: wider by what sheets
	// differ, of which Spread says how much and from where.
	Others Fact
	Spread string
	// Firm says that the readings more than halve the range.
	Firm     bool
	Adopted  []int
	readings []int64
}

// InWords is in few words what an offer gives sheets that were not read.
func (o Offer) InWords() string {
	if o.Quantity == "drying-rate" {
		return "drying " + en.Range(*o.Others.Figure.Range, "") + " × as computed"
	}
	return o.Words + " " + en.Range(*o.Others.Figure.Range, o.Unit)
}

func offerOf(o treatment.Offer) Offer {
	fact := func(r interval.Range) Fact { return ranged(Code(o.Quantity), en.Upper(o.Words), r, o.Unit) }
	x := Offer{
		Quantity: o.Quantity, Words: o.Words, Unit: o.Unit, Value: fact(o.Value), Was: fact(o.Was),
		Others: fact(o.Like), Firm: o.Firm, Adopted: o.Adopted, readings: o.Readings,
		Spread: "sheets of one paper differ by " + percent(o.Spread) + " (standard deviation; " + o.SpreadBasis + ")",
	}
	x.Was.RestsOn = o.WasBasis
	return x
}

// Adopt are the entries that take chosen offers for sheets: for the sheet that was
// read its own value, for others the wider one.
func (a *SheetRead) Adopt(quantities []string, sheets []int, reason string) []record.ValueAdopted {
	var list []record.ValueAdopted
	others := slices.DeleteFunc(slices.Clone(sheets), func(n int) bool { return n == a.from })
	for _, o := range a.Offers {
		if !slices.Contains(quantities, o.Quantity) {
			continue
		}
		b := record.ValueAdopted{
			Quantity: o.Quantity, Unit: o.Unit, Was: some(kept4(*o.Was.Figure.Range)), WasBasis: o.Was.RestsOn,
			FromSheet: a.from, Readings: o.readings, Reason: reason,
		}
		if len(others) < len(sheets) {
			own := b
			own.Value, own.Sheets = kept4(*o.Value.Figure.Range), []int{a.from}
			list = append(list, own)
		}
		if len(others) > 0 || len(sheets) == 0 {
			b.Value, b.Sheets, b.Spread = kept4(*o.Others.Figure.Range), others, o.Spread
			list = append(list, b)
		}
	}
	return list
}

// kept4 keeps four figures of each end: the fit knows fewer.
func kept4(r interval.Range) interval.Range {
	return interval.Range{Low: figures4(r.Low), Best: figures4(r.Best), High: figures4(r.High)}
}

// AdoptedRow is an adopted value that comes from a sheet or is taken for it.
type AdoptedRow struct {
	record.Stamped[record.ValueAdopted]
	What           string
	Value          Fact
	Was            string
	From, Readings string
	// Later says that for this sheet a later value counts; Out that the value is
	// left out here, because this sheet's own readings are what it rests on.
	Later, Out bool
}

// AdoptedOn are the adopted values that concern the compared sheet.
func (a *SheetRead) AdoptedOn(c *record.Case) []AdoptedRow {
	has := func(list []record.Stamped[record.ValueAdopted], seq int64) bool {
		return slices.ContainsFunc(list, func(x record.Stamped[record.ValueAdopted]) bool { return x.Seq == seq })
	}
	counts := c.AdoptedFor(a.from)
	var list []AdoptedRow
	for _, x := range c.Adopted {
		b := x.Body
		on := slices.Contains(b.Sheets, a.from)
		if !on && b.FromSheet != a.from {
			continue
		}
		row := AdoptedRow{
			Stamped: x, What: b.Quantity, Value: ranged(Code(b.Quantity), "", b.Value, ""),
			From: record.SheetName(b.FromSheet), Readings: Entries(b.Readings), Later: on && !has(counts, x.Seq),
			Out: has(a.left, x.Seq),
		}
		row.Value.Basis, row.Value.RestsOn = Adopted, b.Spread
		if b.Spread == "" && !slices.Equal(b.Sheets, []int{b.FromSheet}) {
			row.Value.RestsOn = "not widened for sheets that were not read"
		}
		if q := record.AdoptedQuantityOf(b.Quantity); q != nil {
			row.What = en.Upper(q.Words)
		}
		if b.Was != nil {
			row.Was = en.Span(*b.Was)
		}
		list = append(list, row)
	}
	return list
}

// Entries names entries of the log: "entries 3 and 5", "" for none.
func Entries(seqs []int64) string {
	var list []string
	for _, n := range seqs {
		list = append(list, fmt.Sprint(n))
	}
	if len(list) == 1 {
		return "entry " + list[0]
	}
	return "entries " + en.List(list)
}
