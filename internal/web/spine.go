package web

import (
	"fmt"
	"slices"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// spine lists the places of a case in the order of the work. note gives a
// word about what waits there, and its sign.
var spine = []struct {
	slug, name string
	note       func(c *record.Case, now time.Time) (note, sign string)
}{
	{"examination", "Examination", noteExamination},
	{"make-up", "Make-up", noteMakeUp},
	{"condition", "Condition", noteCondition},
	{"tests", "Tests", noteTests},
	{"proposal", "Proposal", noteProposal},
	{"bench", "Bench", noteBench},
	{"results", "Results", nil},
	{"papers", "Papers", nil},
}

func noteExamination(c *record.Case, _ time.Time) (string, string) {
	if q := c.Quarantine; q != nil && q.Body.State == record.QuarantineWaiting {
		return "in quarantine", "due"
	}
	return "", ""
}

func noteMakeUp(c *record.Case, _ time.Time) (string, string) {
	if n := c.SheetCount(); n > 0 {
		return plural(n, "sheet", "sheets"), ""
	}
	return "", ""
}

func noteCondition(c *record.Case, _ time.Time) (string, string) {
	if n := len(c.Damages); n > 0 {
		return plural(n, "finding", "findings"), ""
	}
	return "", ""
}

func noteTests(c *record.Case, _ time.Time) (string, string) {
	if n := len(c.Tests); n > 0 {
		return plural(n, "test", "tests"), ""
	}
	return "", ""
}

func noteProposal(c *record.Case, _ time.Time) (string, string) {
	if v := c.Unanswered(); v > 0 {
		return fmt.Sprintf("version %d waits", v), "due"
	}
	if consent, _ := c.Consented(); consent != nil {
		return "agreed", ""
	}
	return "", ""
}

func noteBench(c *record.Case, now time.Time) (string, string) {
	due := false
	for _, run := range c.OpenRuns() {
		at, _ := run.NextDue()
		d := record.Due{At: at, Run: run.Body.ID, Operation: run.Body.Operation}
		switch {
		case at.IsZero() || !at.Before(now):
		case account.UrgencyOf(&d, now) == account.Danger:
			return "take it out", "stopped"
		default:
			due = true
		}
	}
	if due {
		return "something is due", "due"
	}
	var wet, damp int
	for _, n := range c.WetSheets() {
		if c.ConditionOf(n).Wetness == record.Wet {
			wet++
		} else {
			damp++
		}
	}
	switch {
	case wet > 0 && damp > 0:
		return fmt.Sprintf("%d wet, %d damp", wet, damp), "wet"
	case wet > 0:
		return fmt.Sprintf("%d wet", wet), "wet"
	case damp > 0:
		return fmt.Sprintf("%d damp", damp), "wet"
	}
	return "", ""
}

func sortBy[T any](list []T, compare func(a, b T) int) { slices.SortStableFunc(list, compare) }
