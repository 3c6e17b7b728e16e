package treatment

import (
	"fmt"
	"slices"

	"benchleaf/internal/record"
)

// PlannedBath is the chosen bath that an operation on some sheets starts from, and
// the number of the bath that is next, from 1. ok is false when none was chosen
// for the first of the sheets, or when as many as were chosen have been done.
func PlannedBath(
	c *record.Case,
	operation string,
	sheets []int,
) (p *record.Stamped[record.BathPlan], number int, ok bool) {
	if len(sheets) == 0 {
		return nil, 0, false
	}
	p = c.PlanOf(sheets[0], operation)
	if p == nil {
		return nil, 0, false
	}
	number = 1
	for _, r := range c.RunsOn(sheets[0]) {
		if r.Body.Operation == operation && r.Seq > p.Seq {
			number++
		}
	}
	return p, number, number <= p.Body.Baths
}

// againPlanned is the operation whose chosen baths a sheet has begun and not
// ended, with the number of the next.
func againPlanned(c *record.Case, sheet int) (o *Operation, number, of int) {
	last := lastWetting(c, sheet)
	if last == nil {
		return nil, 0, 0
	}
	p, number, ok := PlannedBath(c, last.Body.Operation, []int{sheet})
	if !ok || number < 2 || stopped(c, last.Body.Operation, sheet) ||
		p.Body.DriedBetween && c.ConditionOf(sheet).Wetness != record.Dry {
		return nil, 0, 0
	}
	return Find(last.Body.Operation), number, p.Body.Baths
}

// PlanWords are a chosen bath in a few words.
func PlanWords(b *record.BathPlan) string {
	s := fmt.Sprintf("%s, %g mL", b.Liquid, b.VolumeMl)
	if b.Together > 1 {
		s += " for " + plural(b.Together, "sheet", "sheets")
	}
	s += fmt.Sprintf(", %g min", b.Minutes)
	if b.Baths > 1 {
		s = plural(b.Baths, "bath", "baths") + " of " + s
		if b.DriedBetween {
			s += " each, dried between"
		}
	}
	return s
}

// LikeSheets are the sheets of the same paper as a sheet, itself included.
func LikeSheets(c *record.Case, sheet int) []int {
	stock := c.StockOf(sheet)
	if stock == nil {
		return []int{sheet}
	}
	list := slices.Clone(stock.Sheets)
	slices.Sort(list)
	return list
}
