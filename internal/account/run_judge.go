package account

import (
	"slices"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// JudgeRun makes the entries of a judgement of a run that has ended: the judgement, and
// what was decided for its sheets and those like them.
func JudgeRun(c *record.Case, b record.RunJudged) []record.Body {
	list := []record.Body{b}
	r := c.Run(b.Run)
	if r == nil {
		return list
	}
	next := record.NextStep{Sheets: b.Sheets, Operation: r.Body.Operation, Reason: b.Saw}
	switch b.Then {
	case record.ThenRepeat:
		next.Text = r.Body.OperationName + " again, as it was"
	case record.ThenStronger:
		next.Text = r.Body.OperationName + " again, stronger or longer"
	default:
		return list
	}
	return append(list, next)
}

// LikeRun are the sheets that a judgement of a run may speak of: its own, and those of
// the same papers.
func LikeRun(c *record.Case, r *record.Run) []int {
	var list []int
	for _, n := range r.Body.Sheets {
		for _, x := range treatment.LikeSheets(c, n) {
			if !slices.Contains(list, x) {
				list = append(list, x)
			}
		}
	}
	slices.Sort(list)
	return list
}

func tellJudged(c *record.Case, b *record.RunJudged) string {
	return "aim of " + runWords(c, b.Run, nil) + ": " + record.Words(b.Verdict) + words.After("; ", b.Saw) + "; then " +
		record.Words(b.Then) + ", " + record.SheetNames(b.Sheets)
}
