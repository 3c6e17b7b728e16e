package account

import (
	"math"
	"slices"
	"strings"
	"testing"

	"benchleaf/internal/treatment"
	"benchleaf/interval"
)

// A sheet of 100 g oven-dry that holds 8 g of water in the room weighs 108 g there,
// and with 250 g of liquid 350 g: the balance shows (350 - 108)/108 = 2.24 g/g
// (arithmetic).
func TestPickUpOnTheBalance(t *testing.T) {
	got := OnTheBalance(interval.Within(2.5, 0.25), interval.Within(0.08, 0.01))
	if math.Abs(got.Best-2.2407) > 1e-4 || !(got.Low < got.Best && got.Best < got.High) {
		t.Errorf("%+v, want 2.2407 within its ends", got)
	}
	if got.High-got.Low < 2*0.25/1.08 {
		t.Errorf("%+v is narrower than the pick-up makes it", got)
	}
}

// Two independent spreads add as the root of the sum of squares: 3 % and 4 % are
// 5 %.
func TestARangeForOtherSheetsIsWider(t *testing.T) {
	got := widened(interval.FromStandard(100, 3), 0.04)
	if want := interval.FromStandard(100, 5); math.Abs(got.Low-want.Low) > 1e-9 || math.Abs(got.High-want.High) > 1e-9 {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// A band of 4.4 to 7.1 of a pH of 6 ± 0.6 cannot tell; one of 8.0 to 8.6 can.
func TestAReadingCannotTellWhereTheBandIsWide(t *testing.T) {
	wide := treatment.MeasuredRow{
		Agrees: true, Value: 6, Uncertainty: 0.6, Predicted: interval.Range{Low: 4.4, Best: 5.7, High: 7.1},
	}
	narrow := treatment.MeasuredRow{
		Agrees: true, Value: 8.2, Uncertainty: 0.2, Predicted: interval.Range{Low: 8, Best: 8.3, High: 8.6},
	}
	differs := wide
	differs.Agrees = false
	if !cannotTell(&wide) || cannotTell(&narrow) || cannotTell(&differs) {
		t.Errorf("%v %v %v, want true, false, false", cannotTell(&wide), cannotTell(&narrow), cannotTell(&differs))
	}
	a := SheetRead{Agree: true, Sentences: []string{"All is well."}, Rows: []ReadRow{{Verdict: CannotTell}}}
	if a.sumUp(); a.Agree || !strings.Contains(a.Sentences[0], "cannot tell") {
		t.Errorf("nothing that can tell, and yet %v, %q", a.Agree, a.Sentences)
	}
}

// Every bound and start of a question can be read, and lies within its bounds.
func TestQuestionsAreWhole(t *testing.T) {
	for _, q := range []any{
		&LimeTrayQuestion{}, &StrengthQuestion{}, &HydrogenQuestion{}, &TrayQuestion{}, &MixQuestion{}, &TrialQuestion{},
		&ReachQuestion{}, &EconomyQuestion{}, &DryingQuestion{}, &AgeingQuestion{}, &WashingQuestion{},
		&HumidityQuestion{},
	} {
		var names []string
		for _, x := range Fields(q) {
			if slices.Contains(names, x.Name) {
				t.Errorf("%T asks twice for %s", q, x.Name)
			}
			names = append(names, x.Name)
			if (x.from == "") != (x.to == "") {
				t.Errorf("%T: %s has one bound", q, x.Name)
			}
			if x.from != "" && x.Start != "" && !(number(x.from) <= number(x.Start) && number(x.Start) <= number(x.to)) {
				t.Errorf("%T: %s starts at %s, outside %s to %s", q, x.Name, x.Start, x.from, x.to)
			}
		}
	}
}
