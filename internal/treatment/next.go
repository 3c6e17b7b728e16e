package treatment

import (
	"fmt"
	"slices"
	"time"

	"benchleaf/internal/record"
)

// Step is what may come next for some sheets, and why.
type Step struct {
	Operation *Operation
	Sheets    []int
	Why       string
	// AtOnce says that the sheets must not wait.
	AtOnce bool
}

// Next says what comes next: first what must follow at once, then what was
// decided at the bench, then the chosen baths that have begun, then what the
// agreed plan holds and no run has done.
// Sheets that are in a run are left out, and so is dry work on a sheet that is
// not dry.
func Next(c *record.Case) []Step {
	busy := map[int]bool{}
	for _, r := range c.OpenRuns() {
		for _, n := range c.SheetsIn(r) {
			busy[n] = true
		}
	}
	var steps []Step
	add := func(o *Operation, n int, why string, atOnce bool) {
		for i := range steps {
			if steps[i].Operation == o && steps[i].Why == why && steps[i].AtOnce == atOnce {
				steps[i].Sheets = append(steps[i].Sheets, n)
				return
			}
		}
		steps = append(steps, Step{o, []int{n}, why, atOnce})
	}
	settled := map[int]bool{}
	for _, n := range c.Sheets() {
		if busy[n] {
			continue
		}
		if o, after := mustFollow(c, n); o != nil {
			add(o, n, "must follow "+after+" at once", true)
			settled[n] = true
		}
	}
	for _, d := range c.Next {
		o := Find(d.Body.Operation)
		if o == nil {
			continue
		}
		for _, n := range d.Body.Sheets {
			if !busy[n] && !settled[n] && !tooWet(c, o, n) && !doneSince(c, o.Slug, n, d.Time) {
				add(o, n, "decided: "+d.Body.Text, false)
				settled[n] = true
			}
		}
	}
	for _, n := range c.Sheets() {
		if busy[n] || settled[n] {
			continue
		}
		if o, number, of := againPlanned(c, n); o != nil {
			add(o, n, fmt.Sprintf("bath %d of the %d that were chosen", number, of), false)
			continue
		}
		if o := nextPlanned(c, n); o != nil {
			add(o, n, "next in the agreed plan", false)
		}
	}
	slices.SortStableFunc(steps, func(a, b Step) int {
		switch {
		case a.AtOnce != b.AtOnce && a.AtOnce:
			return -1
		case a.AtOnce != b.AtOnce:
			return 1
		}
		// A wet sheet cannot wait as a dry one can.
		if wa, wb := wetness(c, a.Sheets), wetness(c, b.Sheets); wa != wb {
			return wb - wa
		}
		return a.Operation.Rank - b.Operation.Rank
	})
	return steps
}

// tooWet says whether a sheet must dry before an operation.
func tooWet(c *record.Case, o *Operation, sheet int) bool {
	return o.Makes == record.Dry && c.ConditionOf(sheet).Wetness != record.Dry
}

// doneSince says whether an operation was started on a sheet after a time.
func doneSince(c *record.Case, slug string, sheet int, since time.Time) bool {
	return slices.ContainsFunc(c.RunsOn(sheet), func(r *record.Run) bool {
		return r.Body.Operation == slug && !r.Body.At.Before(since)
	})
}

// wetness ranks the wettest of some sheets: 2 wet, 1 damp, 0 dry.
func wetness(c *record.Case, sheets []int) int {
	rank := 0
	for _, n := range sheets {
		switch c.ConditionOf(n).Wetness {
		case record.Wet:
			rank = 2
		case record.Damp:
			rank = max(rank, 1)
		}
	}
	return rank
}

// mustFollow is the operation that a sheet's last run calls for at once.
func mustFollow(c *record.Case, sheet int) (*Operation, string) {
	runs := c.RunsOn(sheet)
	if len(runs) == 0 {
		return nil, ""
	}
	last := runs[len(runs)-1]
	o := Find(last.Body.Operation)
	if o == nil || o.ThenAtOnce == "" {
		return nil, ""
	}
	return Find(o.ThenAtOnce), last.Body.OperationName
}

// StaplesTaken says whether staples were mapped and each was moved.
func StaplesTaken(c *record.Case) bool {
	return len(c.Staples) > 0 &&
		!slices.ContainsFunc(c.Staples, func(s record.MappedStaple) bool { return len(s.Moves) == 0 })
}

// stopped says whether it was judged that a sheet gets no more of an operation.
func stopped(c *record.Case, operation string, sheet int) bool {
	for _, j := range slices.Backward(c.Judged) {
		r := c.Run(j.Body.Run)
		if r != nil && r.Body.Operation == operation && slices.Contains(j.Body.Sheets, sheet) {
			return j.Body.Then == record.ThenStop
		}
	}
	return false
}

// nextPlanned is the first operation of the agreed option for a sheet, in the
// order that benches keep, that comes after the furthest one done.
func nextPlanned(c *record.Case, sheet int) *Operation {
	_, option := c.Consented()
	if option == nil {
		return nil
	}
	done := map[string]bool{"staples-out": StaplesTaken(c)}
	for _, r := range c.RunsOn(sheet) {
		done[r.Body.Operation] = true
	}
	var best *Operation
	for _, p := range option.Operations {
		o := Find(p.Operation)
		if o == nil || done[o.Slug] || stopped(c, o.Slug, sheet) || tooWet(c, o, sheet) || !Agreed(option, o.Slug, sheet) {
			continue
		}
		if best == nil || o.Rank < best.Rank {
			best = o
		}
	}
	return best
}

// Coming are the operations of the agreed plan that a sheet has still to get, in the order
// that benches keep; those that need the whole object are left out.
func Coming(c *record.Case, sheet int) []*Operation {
	_, option := c.Consented()
	if option == nil {
		return nil
	}
	furthest := 0
	done := map[string]bool{"staples-out": StaplesTaken(c)}
	for _, r := range c.RunsOn(sheet) {
		done[r.Body.Operation] = true
		if o := Find(r.Body.Operation); o != nil {
			furthest = max(furthest, o.Rank)
		}
	}
	var list []*Operation
	for _, o := range Operations {
		whole := slices.Contains([]string{"staples-out", "take-apart", "reassemble", "condition", "house"}, o.Slug)
		if whole || done[o.Slug] || o.Rank < furthest || !Agreed(option, o.Slug, sheet) || stopped(c, o.Slug, sheet) {
			continue
		}
		list = append(list, o)
	}
	return list
}
