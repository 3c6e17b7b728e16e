package account

import (
	"context"
	"slices"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/solution"
)

// What a fact of the chemistry of a sheet can be.
const (
	ReserveLeft Code = "reserve"
	AcidLeft    Code = "acid-left"
)

// Left is what the baths have left in sheets of one paper that had the same
// baths: computed, where the record holds enough, and measured.
type Left struct {
	Name   string // "Newsprint, sheets 4 to 6"
	Sheets []int
	Facts  []Fact
}

// InPaper is what the baths of a case have left in its sheets, for the sheets
// that were in a bath that leaves an alkaline reserve.
//
// It runs the model of the bath for each group of sheets, unless the answer is kept.
func InPaper(ctx context.Context, c *record.Case) []Left {
	var list []Left
	at := map[string]int{}
	for _, n := range Alkalised(c) {
		h := treatment.History(c, n) + " in " + c.ConditionOf(n).Run // what it lies in now
		i, known := at[h]
		if !known {
			i = len(list)
			at[h] = i
			list = append(list, Left{})
		}
		list[i].Sheets = append(list[i].Sheets, n)
	}
	for i := range list {
		list[i].fill(ctx, c)
	}
	return list
}

func (x *Left) fill(ctx context.Context, c *record.Case) {
	x.Name = en.Upper(record.SheetNames(x.Sheets))
	if st := c.StockOf(x.Sheets[0]); st != nil {
		x.Name = en.Upper(st.Name) + ", " + record.SheetNames(x.Sheets)
	}
	reserve := Fact{Code: ReserveLeft, Name: "Alkaline reserve", Basis: Computed, Text: "neither measured nor computed"}
	o, ok, err := treatment.Expect(ctx, c, x.Sheets[0])
	if r := c.Run(c.ConditionOf(x.Sheets[0]).Run); r != nil && r.Body.Bath != nil {
		reserve.Text = "its " + r.Body.OperationName + " is " + InProgress
		x.Facts = append(x.Facts, reserve)
	} else if ok && err == nil {
		figure := func(r *record.Range, unit string) *words.Figure {
			return &words.Figure{Value: r.Best, Unit: unit, Range: r}
		}
		reserve.Figure, reserve.Text = figure(&o.ReservePercentChalk.Range, "% CaCO₃"), ""
		reserve.RestsOn, reserve.Limit = en.Sentence(o.Dominant), o.Limit
		x.Facts = append(x.Facts, reserve, Fact{
			Code: AcidLeft, Name: "Acid left", Basis: Computed,
			RestsOn: en.Sentence(words.After("its range comes mostly from ", o.AcidLeftMmolPerKg.Dominant())),
			Figure:  figure(&o.AcidLeftMmolPerKg.Range, "mmol/kg"),
		})
	} else {
		reserve.RestsOn = "The record does not hold the paper or the alkali of its baths."
		x.Facts = append(x.Facts, reserve)
	}
	for i := range c.Readings {
		b := &c.Readings[i].Body
		if b.Quantity != "reserve" || b.Stage != "after" || !overlap(b.Place.Sheets, x.Sheets) {
			continue
		}
		x.Facts = append(x.Facts, Fact{
			Code: ReserveLeft, Name: "Alkaline reserve", Basis: Measured, RestsOn: b.Place.String() + ", " + b.Method,
			Text: Value(b),
		})
	}
}

// BasisWords say on what a fact rests, in the words that stand beside it.
func (x *Left) BasisWords(f Fact) string {
	switch {
	case f.Basis == Measured:
		return "measured"
	case f.Figure == nil: // neither
		return ""
	case slices.ContainsFunc(x.Facts, func(o Fact) bool { return o.Code == f.Code && o.Basis == Measured }):
		return "computed"
	}
	return "computed, not measured"
}

// LeavesReserve says whether a run left an alkaline reserve in its sheets: its
// bath was made with an alkali that turns to carbonate there, or it is one of
// the operations that are done for it.
func LeavesReserve(b *record.RunStarted) bool {
	if b.Bath == nil {
		return false
	}
	sub, err := solution.Find(b.Bath.Substance)
	return b.Operation == "lime" || b.Operation == "bicarbonate" || err == nil && sub.LeavesReserve()
}

// Alkalised lists the sheets that were in a bath that leaves a reserve, and have
// come out of it.
func Alkalised(c *record.Case) []int {
	var sheets []int
	for i := range c.Runs {
		if r := &c.Runs[i]; LeavesReserve(&r.Body) {
			sheets = append(sheets, SheetsOut(c, r)...)
		}
	}
	slices.Sort(sheets)
	return slices.Compact(sheets)
}

// Lignin says why the paper of sheets is taken to hold lignin, "" where nothing
// speaks for it; tested says that a test was negative.
func Lignin(c *record.Case, sheets []int) (why string, tested bool) {
	for _, n := range sheets {
		if why := treatment.Lignin(c, n); why != "" {
			return why, false
		}
	}
	return "", treatment.LigninTest(c, sheets) == record.ResultNegative
}

// sheetsOf resolves an empty list to the whole object.
func sheetsOf(c *record.Case, list []int) []int {
	if len(list) == 0 {
		return c.Sheets()
	}
	return list
}

func overlap(named, sheets []int) bool {
	return len(named) == 0 || slices.ContainsFunc(named, func(n int) bool { return slices.Contains(sheets, n) })
}
