package account

import (
	"testing"

	"benchleaf/internal/record"
)

func TestAReadingOnSomeOfTheSheetsOfAnotherPairsWithIt(t *testing.T) {
	c := folded(t,
		ph(record.StageBefore, 4.1, 0.2, "", "surface electrode", 1, 2),
		ph(record.StageAfter, 8.0, 0.2, "", "surface electrode", 2))
	list := CompareReadings(c, nil)
	if len(list) != 2 || list[0].Before == nil || list[0].After != nil || list[0].Where != "sheet 1" ||
		list[1].Before == nil || list[1].After == nil || list[1].Change != "+3.9 ± 0.3" ||
		list[1].Where != "sheet 2; before: sheets 1 and 2; after: sheet 2" {
		t.Errorf("%+v; want sheet 1 not read after, and sheet 2 compared with what was read on both", list)
	}
	// The mass of two sheets is not that of one.
	heavy := func(stage record.Stage, g float64, sheets ...int) record.Reading {
		return record.Reading{Quantity: "mass", Value: g, Stage: stage, Method: "balance", Place: record.Place{Sheets: sheets}}
	}
	for _, x := range CompareReadings(folded(t, heavy(record.StageBefore, 9.1, 1, 2), heavy(record.StageAfter, 4.6, 2)), nil) {
		if x.Before != nil && x.After != nil {
			t.Errorf("the mass of two sheets is compared with that of one: %+v", x)
		}
	}
}

// 4.4 - 3.9 is more than 0.5 in binary numbers, 4.8 - 4.3 is not.
func TestADifferenceOnItsUncertaintyIsNoChange(t *testing.T) {
	for _, v := range [][2]float64{{3.9, 4.4}, {4.3, 4.8}} {
		ua, ub := 0.3, 0.4
		var x Compared
		x.change(&record.Reading{Value: v[0], Uncertainty: &ua}, &record.Reading{Value: v[1], Uncertainty: &ub})
		if len(x.Remarks) != 1 || x.Remarks[0].Code != NoChange {
			t.Errorf("%v: %v", v, x.Remarks)
		}
	}
}
