package solution

import (
	"math"
	"strings"
	"testing"
)

// Hardness counts calcium and magnesium together as CaCO3: the sum by hand with
// the abridged standard atomic weights of IUPAC (2021), Ca 40.078, Mg 24.305,
// CaCO3 100.086: 80 mg/L Ca and 20 mg/L Mg are 199.8 + 82.4 = 282.1 mg/L.
func TestMagnesiumIsWhatTheHardnessHoldsBesideCalcium(t *testing.T) {
	hardness := 80/40.078*100.086 + 20/24.305*100.086
	w, err := Water{Name: "tap", HardnessMgL: &hardness}.WithCalcium(80)
	if err != nil || w.MagnesiumMgL == nil || math.Abs(*w.MagnesiumMgL-20) > 1e-9 {
		t.Errorf("magnesium %v, %v, want 20 mg/L", w.MagnesiumMgL, err)
	}
	w, err = Water{Name: "can"}.WithCalcium(20)
	if err != nil || w.MagnesiumMgL != nil || w.HardnessMgL == nil ||
		math.Abs(*w.HardnessMgL-20/40.078*100.086) > 1e-9 {
		t.Errorf("calcium alone: hardness %v, magnesium %v, %v", w.HardnessMgL, w.MagnesiumMgL, err)
	}
	low := 50.0
	if _, err := (Water{Name: "tap", HardnessMgL: &low}).WithCalcium(80); err == nil ||
		!strings.Contains(err.Error(), "one of the two is wrong") {
		t.Errorf("more calcium than hardness: %v", err)
	}
	for _, v := range []float64{-1, math.NaN(), math.Inf(1), 1e6} {
		if _, err := (Water{}).WithCalcium(v); err == nil {
			t.Errorf("calcium of %g is taken", v)
		}
	}
}
