package record

import (
	"slices"
	"time"

	"benchleaf/internal/words"
)

// LeftAt is when a sheet came out of the run, zero while it is in it.
func (r *Run) LeftAt(sheet int) time.Time {
	for _, e := range r.Ends { // the first that names it: it leaves once
		if len(e.Body.Sheets) == 0 || slices.Contains(e.Body.Sheets, sheet) {
			return e.Body.At
		}
	}
	return time.Time{}
}

// together is one sheet in two runs at one time.
type together struct {
	sheet         int
	first, second string // IDs of runs, the first was there before
	// endless: the first was written after the second, without its end.
	endless bool
}

// overlap says whether one run that ended there reaches into one that began
// here. Times are typed to the minute, so less than a minute is no overlap.
func overlap(end, begin time.Time) bool { return end.Sub(begin) >= time.Minute }

// twice lists the sheets that were in two runs at one time. A run that has no
// end reaches into all that began after it, also where it is written later than
// it happened: who writes it then knows how it ended, and says so with it.
func (c *Case) twice() map[together]bool {
	found := map[together]bool{}
	for _, n := range c.Sheets() {
		runs := c.RunsOn(n)
		for i, a := range runs {
			for _, b := range runs[i+1:] {
				first, second := a, b
				if b.Body.At.Before(a.Body.At) {
					first, second = b, a
				}
				if left := first.LeftAt(n); left.IsZero() || overlap(left, second.Body.At) {
					found[together{n, first.Body.ID, second.Body.ID, left.IsZero() && first == b}] = true
				}
			}
		}
	}
	return found
}

// notTwice refuses what puts a sheet into two runs at one time. It is asked
// when something is written and not in the fold, so that a journal of an earlier
// version reads as it always did.
func (c *Case) notTwice(after *Case, items []Item) error {
	if !slices.ContainsFunc(items, movesSheets) {
		return nil
	}
	before := c.twice()
	for x := range after.twice() {
		if before[x] {
			continue
		}
		first, second := after.Run(x.first).Body, after.Run(x.second).Body
		if x.endless {
			return Invalidf("ended_at", "%s went into %s at %s, after this start of %s at %s: give the end of %s too.",
				words.English.Upper(SheetName(x.sheet)), second.OperationName, second.At.Format("15:04"),
				first.OperationName, first.At.Format("15:04"), first.OperationName)
		}
		return Invalidf("sheets", "%s is in %s, started %s, and cannot be in %s of %s too: it must come out first.",
			words.English.Upper(SheetName(x.sheet)), first.OperationName, first.At.Format("15:04"),
			second.OperationName, second.At.Format("15:04"))
	}
	return nil
}

func movesSheets(it Item) bool {
	switch it.Body.(type) {
	case RunStarted, RunEnded, Withdrawn:
		return true
	}
	return false
}

// draw takes some out of what is left by the book. What was drawn beyond that
// in journals of earlier versions is kept in over, since what they say was a
// fact; nothing is written so any more.
func draw(left, over *float64, taken float64) {
	*over += max(0, taken-*left)
	*left = max(0, *left-taken)
}

// notOverdrawn refuses to take more out of a bottle than it holds. What is left
// is shown to four figures, and as much as is shown may be taken.
func (st *Studio) notOverdrawn(after *Studio, items []Item) error {
	for _, it := range items {
		d, is := it.Body.(BottleDrawn)
		if !is {
			continue
		}
		was, now := st.Bottle(d.Bottle), after.Bottle(d.Bottle)
		if was == nil || now == nil {
			continue
		}
		q := words.English.Quantity
		if now.overMl-was.overMl > 5e-4*was.LeftMl {
			return Invalidf("ml", "%s holds %s: %s cannot be drawn. If more is in it, record what is left first.",
				words.English.Upper(was.Body.Name), q(was.LeftMl, "mL"), q(d.Ml, "mL"))
		}
		if now.overG-was.overG > 5e-4*was.LeftG {
			return Invalidf("g", "%s holds %s: %s cannot be drawn. If more is in it, record what is left first.",
				words.English.Upper(was.Body.Name), q(was.LeftG, "g"), q(d.G, "g"))
		}
	}
	return nil
}
