package solution

import (
	"strings"
	"testing"
)

// Benches use 0.01 to 0.5 % w/v of borohydride (common practice); a published
// method for paper goes up to 2 % (docs/practice.md, 5).
func TestHydrideCeiling(t *testing.T) {
	for _, row := range []struct {
		thing   Thing
		refused bool
	}{
		{Thing{"NaBH4", Strength{0.5, PercentWV}}, false},
		{Thing{"NaBH4", Strength{2, PercentWV}}, false},
		{Thing{"NaBH4", Strength{50, GramL}}, true},
		{Thing{"KBH4", Strength{1, MolL}}, true},
		{Thing{"NaBH4", Strength{20, PercentWV}}, true},
		{Thing{"Ca(OH)2", Strength{50, GramL}}, false},
	} {
		err := CheckBath(row.thing)
		if refused := err != nil && strings.Contains(err.Error(), "0.01 to 0.5 %"); refused != row.refused {
			t.Errorf("%v: got %v, want refused %v", row.thing, err, row.refused)
		}
	}
	if err := CheckBath(Thing{"NaBH4", Strength{5, GramL}}, Thing{"CH3COOH", Strength{30, GramL}}); err == nil {
		t.Error("borohydride in 3 % acetic acid is accepted")
	}
	_, err := FromSolid{
		Substance: find(t, "NaBH4"), Want: Strength{20, PercentWV}, Volume: 1000, Balance: Balance{ResolutionG: 0.1},
	}.Recipe()
	if err == nil || !strings.Contains(err.Error(), "benches use") {
		t.Errorf("a recipe of 20 %% borohydride: got %v", err)
	}
}

// A ventilation that no room has is not an answer: it says what would be in
// bounds, and that is then answered.
func TestNoAbsurdVentilation(t *testing.T) {
	hydride := find(t, "NaBH4")
	h, err := HydrogenFromBath(hydride, Strength{1, PercentWV}, 4000, 20)
	if err != nil {
		t.Fatal(err)
	}
	_, err = h.Ventilate(6, 10)
	if err == nil || !strings.Contains(err.Error(), "no ventilation") || !strings.Contains(err.Error(), "or pH 7.7 or more") {
		t.Errorf("4 L of 1 %% at pH 6: got %v", err)
	}
	if v, err := h.Ventilate(7.7, 10); err != nil || v.AirPerHour > hoodAirPerHour {
		t.Errorf("what is named as in bounds is refused: %v", err)
	}
	for pH := 4.0; pH <= 12; pH += 0.5 {
		v, err := h.Ventilate(pH, 10)
		if err == nil && v.ChangesPerHour > mostChangesPerHour && v.AirPerHour > hoodAirPerHour {
			t.Errorf("pH %g: %g air changes an hour, %g m³/h", pH, v.ChangesPerHour, float64(v.AirPerHour))
		}
	}
}
