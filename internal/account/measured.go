package account

import (
	"fmt"
	"math"
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
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

// What a reading can be, beside what was expected.
const (
	Agrees     Code = "agrees"
	Differs    Code = "differs"
	CannotTell Code = "cannot-tell"
)

// ReadRow is one reading.
type ReadRow struct {
	What, Unit, Where string
	At                time.Time
	Read, Expected    Fact
	Usual             bool // its uncertainty is what is usual for the method
	Verdict           Code
	Say, Note         string
}

// A reading cannot tell where what was expected of it is wider than these, or its
// own 95 % uncertainty either way: a change of that size would count as agreeing
// too. In units of pH, and for all else as a share of the expected value (common
// practice, no source).
const tellsPH, tellsShare = 2.0, 1.0

// TellsRule says the rule of CannotTell for a person.
const TellsRule = "Cannot tell: the range expected, or twice the uncertainty of the reading, is wider than 2 " +
	"units of " +
	"pH, or for other quantities wider than the expected value itself (common practice, no source)."

func cannotTell(r *treatment.MeasuredRow) bool {
	limit := tellsPH
	if r.Unit != "" {
		limit = tellsShare * math.Abs(r.Predicted.Best)
	}
	return r.Agrees && max(r.Predicted.High-r.Predicted.Low, 2*r.Uncertainty) > limit
}

// Compare lays the readings of a sheet beside the expectation. Error: what the
// computation refuses, in one sentence.
func Compare(c *record.Case, sheet int, k words.Clock) (SheetRead, error) {
	m, err := treatment.Measure(c, sheet)
	a := SheetRead{
		Agree: m.Agree, Sentences: m.Sentences, Missing: m.Missing, Asks: m.Asks, RestsOn: m.RestsOn,
		Remaining: m.Remaining, from: sheet, left: m.Left,
	}
	for i := range m.Rows {
		a.row(&m.Rows[i])
	}
	a.sumUp()
	for _, o := range m.Offers {
		a.Offers = append(a.Offers, offerOf(c, sheet, o))
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
	switch x.Verdict = Differs; {
	case cannotTell(r):
		x.Verdict, x.Say = CannotTell, "cannot tell"
	case r.Agrees:
		x.Verdict = Agrees
	}
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
	case n == 0 || !a.Agree:
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
		mark := Mark{X: at[i], Y: r.Value, Uncertainty: r.Uncertainty, Off: !r.Agrees, Says: says}
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

// InWords is an offer in few words.
func (o Offer) InWords() string {
	if o.Quantity == "drying-rate" {
		return "drying " + en.Best(*o.Value.Figure.Range, "") + " × as computed"
	}
	return o.Words + " " + en.Best(*o.Value.Figure.Range, o.Unit)
}

// sheetSpread is by how much sheets of one stock differ, as a standard deviation
// in shares of the value (common practice, no source).
var sheetSpread = map[string]float64{
	"fixed-acid": 0.15, "soluble-acid": 0.20, "acid": 0.15, "pick-up": 0.05, "mass": 0.03, "drying-rate": 0.10,
}

// leastSheets is from how many of the paper's own sheets its spread is taken.
const leastSheets = 3

// spreadOf is the spread between sheets of a paper, with its basis: that of the
// readings of its own sheets where there are several, else what is usual.
func spreadOf(c *record.Case, sheet int, quantity string) (share float64, basis string) {
	stock := c.StockOf(sheet)
	of := map[int]float64{}
	for _, a := range c.Adopted {
		if a.Body.Quantity == quantity && c.StockOf(a.Body.FromSheet) == stock {
			of[a.Body.FromSheet] = a.Body.Value.Best
		}
	}
	for _, r := range c.Readings {
		if b := r.Body; quantity == "mass" && b.Quantity == "mass" && b.Run == "" && len(b.Place.Sheets) == 1 &&
			(b.Stage == "before" || b.Stage == "arrival") && c.StockOf(b.Place.Sheets[0]) == stock {
			of[b.Place.Sheets[0]] = b.Value
		}
	}
	if len(of) < leastSheets || stock == nil {
		return sheetSpread[quantity], "common practice, no source"
	}
	var sum, square float64
	n := float64(len(of))
	for _, v := range of {
		sum += v
	}
	for _, v := range of {
		square += (v - sum/n) * (v - sum/n)
	}
	return math.Sqrt(square/(n-1)) / (sum / n), fmt.Sprintf("from the readings of %d sheets of this paper", len(of))
}

// widened adds a spread, a standard deviation as a share of the value, to a range.
func widened(r interval.Range, share float64) interval.Range {
	more := interval.FromStandard(0, share*r.Best).High
	return interval.Range{
		Low: max(r.Best-math.Hypot(r.Best-r.Low, more), 0.1*r.Low), Best: r.Best,
		High: r.Best + math.Hypot(r.High-r.Best, more),
	}
}

func offerOf(c *record.Case, sheet int, o treatment.Offer) Offer {
	share, basis := spreadOf(c, sheet, o.Quantity)
	fact := func(r interval.Range) Fact { return ranged(Code(o.Quantity), en.Upper(o.Words), r, o.Unit) }
	x := Offer{
		Quantity: o.Quantity, Words: o.Words, Unit: o.Unit, Value: fact(o.Value), Was: fact(o.Was),
		Others: fact(widened(o.Value, share)), Firm: o.Firm, Adopted: o.Adopted, readings: o.Readings,
		Spread: "sheets of one paper differ by " + percent(share) + " (standard deviation, " + basis + ")",
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
