package account

import (
	"fmt"
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// Change is something that was added to the object, or taken off it.
type Change struct {
	What, Where string
	// Work says in which work it came about, or where the thing is now.
	Work  string
	Label string
	By    string
	At    time.Time
}

// Added lists what was added and is still in or on the object. A bath that a
// sheet still lies in has left nothing in it yet.
func Added(c *record.Case) []Change {
	var list []Change
	for i := range c.Runs {
		r := &c.Runs[i]
		b := &r.Body
		change := Change{Where: record.SheetNames(b.Sheets), Work: b.OperationName, By: r.By, At: b.At}
		if r.Open() {
			change.Work += ", " + InProgress
		}
		for _, x := range b.Materials {
			if x.Stays {
				x.Stays = false // said by the heading
				change.What = MaterialText(x)
				list = append(list, change)
			}
		}
		if out := SheetsOut(c, r); LeavesReserve(b) && len(out) > 0 {
			change.What = "alkaline reserve from " + b.Bath.Liquid
			change.Where, change.Work = record.SheetNames(out), b.OperationName
			list = append(list, change)
		}
	}
	for _, x := range c.Mends {
		b := &x.Body
		list = append(list, Change{
			What:  words.Joined(", ", b.Tissue, maybe(b.TissueGM2, "g/m²"), "with "+b.Adhesive),
			Where: b.Place.String(), Work: "mend", By: x.By, At: or(b.At, x.Time),
		})
	}
	for _, x := range PlacedWork(c) {
		if x.Body.Mend == "" { // a logged mend stands above
			list = append(list, Change{
				What: words.Joined("; ", x.With, x.Undo), Where: x.Where, Work: x.What, By: x.By, At: or(x.Body.At, x.Time),
			})
		}
	}
	for i := range c.Staples {
		for _, mv := range c.Staples[i].Moves {
			if mv.Body.Act == "replaced" {
				list = append(list, Change{
					What:  fmt.Sprintf("a new staple in place of staple %d", mv.Body.Number),
					Where: "spine", Work: mv.Body.How, By: mv.By, At: or(mv.Body.At, mv.Time),
				})
			}
		}
	}
	return list
}

// Removed lists what was taken off or kept apart, and where it is now.
func Removed(c *record.Case, k words.Clock) []Change {
	var list []Change
	for i := range c.Parts {
		p := &c.Parts[i]
		fate := "not settled; kept at: " + p.Body.Where
		if s := p.Settled; s != nil {
			fate = words.Joined("; ", record.Words(s.Body.Outcome)+", "+k.ShortDay(s.Time),
				words.After("agreed with ", s.Body.AgreedWith), s.Body.Note)
			if s.Body.Outcome == "kept" {
				fate += "; at: " + p.Body.Where
			}
		}
		change := Change{
			What:  words.Joined(": ", record.Words(p.Body.Sort), p.Body.What),
			Where: p.Body.From.String(), Label: p.Body.Label, Work: fate, By: p.By, At: p.Time,
		}
		if p.Body.Sort == record.PartStaple && len(p.Body.From.Sheets) == 0 && p.Body.From.Words == "" {
			change.What, change.Where = p.Body.What, "spine"
		}
		list = append(list, change)
	}
	for i := range c.Staples {
		s := &c.Staples[i]
		if !s.Out() {
			continue
		}
		last := s.Moves[len(s.Moves)-1]
		if last.Body.Part != "" && c.Part(last.Body.Part) != nil {
			continue // is among the parts
		}
		list = append(list, Change{
			What: fmt.Sprintf("staple %d", s.Body.Number), Where: "spine", By: last.By, At: or(last.Body.At, last.Time),
			Work: record.Words(last.Body.Act) + "; where it is now is not recorded",
		})
	}
	return list
}

// How what was done can depart from what was agreed.
const (
	NotDone     Code = "not-done"
	NotAgreed   Code = "not-agreed"
	Shorter     Code = "shorter"
	Longer      Code = "longer"
	Stronger    Code = "stronger"
	Weaker      Code = "weaker"
	FewerBaths  Code = "fewer-baths"
	Passed      Code = "gate-passed"
	Stopped     Code = "stopped"
	NotFinished Code = "not-finished"
)

// Departure is one point in which the work departs from what was agreed or
// planned. Reason is empty where none was given.
type Departure struct {
	Code   Code
	At     time.Time // zero for what was not done
	Work   string    // the operation and its sheets
	What   string
	Reason string
	By     string
	RunID  string
}

// Why is the reason, or that none was given.
func (d *Departure) Why() string {
	switch {
	case d.Reason != "":
		return d.Reason
	case d.Code == NotFinished:
		return ""
	}
	return "no reason given"
}

// apart is by what share a time or a strength must differ from its plan to be
// told (common practice, no source).
const apart = 0.1

// Departures compares the agreed option and the chosen baths with the runs: what
// was not done, what was done and not agreed, baths shorter, longer, stronger or
// weaker than planned, fewer of them than chosen, gates passed over, runs
// stopped or abandoned. It tells what the record holds, and the reason where one
// was given; it does not judge. Of an open case, what is not done yet is
// NotFinished, no departure.
func Departures(c *record.Case) []Departure {
	var list []Departure
	_, option := c.Consented()
	for i := range c.Runs {
		list = append(list, runDepartures(c, &c.Runs[i], option)...)
	}
	list = append(list, leftDespite(c)...)
	slices.SortStableFunc(list, func(a, b Departure) int { return a.At.Compare(b.At) })
	return append(append(list, fewerBaths(c)...), notDone(c, option)...)
}

// leftDespite lists the gates that were passed as the object went back or the case
// was closed.
func leftDespite(c *record.Case) []Departure {
	var list []Departure
	add := func(work string, s record.Stamp, passed []record.Override) {
		for _, o := range passed {
			list = append(list, Departure{
				Code: Passed, At: s.Time, Work: work, What: words.Joined(". ", "gate passed over: "+o.Gate, en.Sentence(o.Say)),
				Reason: o.Reason, By: s.By,
			})
		}
	}
	for _, x := range c.Custody {
		add("Handing over", x.Stamp, x.Body.Overrides)
	}
	if c.Closed != nil {
		add("Closing the case", c.Closed.Stamp, c.Closed.Body.Overrides)
	}
	return list
}

func runDepartures(c *record.Case, r *record.Run, option *record.Option) []Departure {
	b := &r.Body
	var list []Departure
	add := func(code Code, sheets []int, what, reason, by string) {
		list = append(list, Departure{
			Code: code, At: b.At, Work: en.Upper(b.OperationName) + ", " + record.SheetNames(sheets), What: what,
			Reason: reason, By: by, RunID: b.ID,
		})
	}
	var extra []int
	departure := ownDeparture(b)
	noConsent := slices.ContainsFunc(b.Overrides, func(o record.Override) bool { return o.Gate == "consent" })
	for _, n := range sheetsOf(c, b.Sheets) {
		if option == nil || !treatment.Agreed(option, b.Operation, n) && !goesWithBath(option, b.Operation, n) {
			extra = append(extra, n)
		}
	}
	if len(extra) == len(sheetsOf(c, b.Sheets)) {
		extra = b.Sheets
	}
	switch {
	case len(extra) > 0 && option != nil && !noConsent:
		add(NotAgreed, extra, "not in the agreed plan", departure, r.By)
	case departure != "" && option == nil:
		add(NotAgreed, b.Sheets, "not as planned", departure, r.By)
	case departure != "":
		add(NotAgreed, b.Sheets, "not as agreed", departure, r.By)
	}
	for _, o := range b.Overrides {
		add(Passed, b.Sheets, words.Joined(". ", "gate passed over: "+o.Gate, en.Sentence(o.Say)), o.Reason, r.By)
	}
	for i, e := range r.Ends {
		sheets := EndedSheets(c, r, i)
		took, planned := e.Body.At.Sub(b.At), ""
		if b.PlannedMin > 0 {
			planned = " of " + en.Quantity(b.PlannedMin, "min")
		}
		if e.Body.Outcome != record.RunDone {
			add(Stopped, sheets, record.Words(e.Body.Outcome)+", after "+en.Lasted(took)+planned, e.Body.Reason, e.By)
		} else if code := compare(took.Minutes(), b.PlannedMin, Shorter, Longer); code != "" && planned != "" {
			why := words.Joined("; ", e.Body.Reason, words.After("ended by: ", e.Body.EndPoint))
			add(code, sheets, string(code)+" than planned: "+en.Lasted(took)+planned, why, e.By)
		}
	}
	if b.Bath == nil || b.Bath.StrengthGL == nil || len(sheetsOf(c, b.Sheets)) == 0 {
		return list
	}
	p := c.PlanOf(sheetsOf(c, b.Sheets)[0], b.Operation)
	if p == nil || p.Seq > r.Seq || p.Body.StrengthGL == nil || p.Body.Substance != b.Bath.Substance {
		return list
	}
	if code := compare(b.Bath.StrengthGL.Best, p.Body.StrengthGL.Best, Weaker, Stronger); code != "" {
		add(code, b.Sheets, fmt.Sprintf("%s than chosen: %s for %s", code, en.Range(*b.Bath.StrengthGL, "g/L"),
			en.Range(*p.Body.StrengthGL, "g/L")), "", r.By)
	}
	return list
}

// goesWithBath says whether an operation is part of any bath that is agreed for a
// sheet: to let it drain after it.
func goesWithBath(option *record.Option, slug string, sheet int) bool {
	return slug == "drain" && slices.ContainsFunc(treatment.Operations, func(o *treatment.Operation) bool {
		return o.Makes == record.Wet && treatment.Agreed(option, o.Slug, sheet)
	})
}

// compare says whether a value is apart from its plan.
func compare(v, plan float64, less, more Code) Code {
	switch {
	case v < plan*(1-apart):
		return less
	case v > plan*(1+apart):
		return more
	}
	return ""
}

// fewerBaths lists chosen baths that were begun and of which fewer were done
// than chosen.
func fewerBaths(c *record.Case) []Departure {
	var list []Departure
	for _, n := range c.Sheets() {
		p := c.PlanOf(n, "")
		if p == nil || p.Body.Baths < 2 {
			continue
		}
		_, next, more := treatment.PlannedBath(c, p.Body.Operation, []int{n})
		if !more || next == 1 {
			continue
		}
		list = append(list, Departure{
			Code: FewerBaths, Work: en.Upper(treatment.Name(p.Body.Operation)) + ", " + record.SheetName(n),
			What: fmt.Sprintf("%d of %d chosen baths done", next-1, p.Body.Baths), By: p.By,
		})
	}
	return list
}

// notDone lists the operations of the agreed option that no run has done on
// some of their sheets.
func notDone(c *record.Case, option *record.Option) []Departure {
	if option == nil {
		return nil
	}
	code, what := NotDone, "agreed, and not done"
	if c.Closed == nil {
		code, what = NotFinished, "agreed, and not done yet"
	}
	var list []Departure
	add := func(p *record.Planned, sheets []int, code Code, what string) {
		if len(sheets) == 0 {
			return
		}
		if len(sheets) == len(sheetsOf(c, p.Sheets)) {
			sheets = p.Sheets
		}
		list = append(list, Departure{
			Code: code, Work: en.Upper(treatment.Name(p.Operation)) + ", " + record.SheetNames(sheets), What: what,
		})
	}
	for i := range option.Operations {
		p := &option.Operations[i]
		var left, going []int
		for _, n := range sheetsOf(c, p.Sheets) {
			switch {
			case inProgress(c, p.Operation, n):
				going = append(going, n)
			case !done(c, p.Operation, n):
				left = append(left, n)
			}
		}
		add(p, left, code, what)
		add(p, going, NotFinished, "agreed, and "+InProgress)
	}
	return list
}

// inProgress says whether a sheet is in a run of an operation now.
func inProgress(c *record.Case, operation string, sheet int) bool {
	r := c.Run(c.ConditionOf(sheet).Run)
	return r != nil && r.Body.Operation == operation
}

// done says whether an operation was performed on a sheet and not given up.
// A mend that was logged by itself is one of mending, and staples come out by
// their moves.
func done(c *record.Case, operation string, sheet int) bool {
	if operation == staplesOut && treatment.StaplesTaken(c) {
		return true
	}
	for _, r := range c.RunsOn(sheet) {
		if r.Body.Operation != operation {
			continue
		}
		gone := false
		for i, e := range r.Ends {
			if e.Body.Outcome == "abandoned" && overlap(EndedSheets(c, r, i), []int{sheet}) {
				gone = true
			}
		}
		if !gone {
			return true
		}
	}
	return slices.ContainsFunc(c.Mends, func(m record.Stamped[record.Mend]) bool {
		return operation == "mend-"+string(m.Body.State) && slices.Contains(m.Body.Place.Sheets, sheet)
	})
}

// Unread lists the tests of a colour that were never read again: a colour can
// move or come back as the spot dries.
func Unread(c *record.Case) []string {
	var list []string
	for i := range c.Tests {
		if t := &c.Tests[i]; t.Body.Colour != "" && len(t.Rereads) == 0 {
			list = append(list, testName(&t.Body)+", "+t.Body.Place.String())
		}
	}
	return list
}
