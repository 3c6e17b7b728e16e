package account

import (
	"testing"

	"benchleaf/internal/record"
)

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
