package treatment

import (
	"benchleaf/internal/record"
	"benchleaf/paper"
)

// LigninTest says what is known of lignin in the paper of sheets: "positive" where
// one test was, else the result of the last that was made on them, "" where
// none was. A test speaks for all sheets of its paper, and for the whole object
// where it names none or its paper is not described.
func LigninTest(c *record.Case, sheets []int) record.TestResult {
	var found record.TestResult
	for i := range c.Tests {
		t := &c.Tests[i]
		if t.Body.Sort != record.TestLignin || !samePaper(c, t.Body.Place.Sheets, sheets) {
			continue
		}
		if t.Result() == record.ResultPositive {
			return record.ResultPositive
		}
		found = t.Result()
	}
	return found
}

func samePaper(c *record.Case, tested, sheets []int) bool {
	if len(tested) == 0 {
		return true
	}
	for _, n := range tested {
		paper := c.StockOf(n)
		for _, s := range sheets {
			if s == n || paper == nil || c.StockOf(s) == paper || c.StockOf(s) == nil {
				return true
			}
		}
	}
	return false
}

// Lignin says what the record has of lignin in a sheet: a positive test, or the
// class of its paper. "" when neither speaks for it.
func Lignin(c *record.Case, sheet int) string {
	if LigninTest(c, []int{sheet}) == record.ResultPositive {
		return "the lignin test of its paper was positive"
	}
	if s, ok := TakenSheetOf(c, sheet); ok && s.Class == paper.Newsprint {
		return "its paper is recorded as groundwood; no test was positive"
	}
	return ""
}
