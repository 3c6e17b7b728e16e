package account

import (
	"math"
	"slices"
	"strings"
	"testing"

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

// Readings that cannot tell are no agreement, alone or beside one that can.
func TestWhatCannotTellIsNoAgreement(t *testing.T) {
	alone := SheetRead{Rows: []ReadRow{{Verdict: CannotTell}}}
	if alone.sumUp(); alone.Agree || !strings.Contains(alone.Sentences[0], "cannot tell") {
		t.Errorf("nothing that can tell, and yet %v, %q", alone.Agree, alone.Sentences)
	}
	beside := SheetRead{Agree: true, Sentences: []string{"All is well."}, Rows: []ReadRow{
		{Verdict: CannotTell}, {Verdict: Agrees}}}
	if beside.sumUp(); !beside.Agree || len(beside.Sentences) != 2 {
		t.Errorf("one of two can tell: %v, %q", beside.Agree, beside.Sentences)
	}
	differs := SheetRead{Sentences: []string{"It differs."}, Rows: []ReadRow{{Verdict: CannotTell}, {Verdict: Differs}}}
	if differs.sumUp(); differs.Agree || differs.Sentences[0] != "It differs." {
		t.Errorf("one differs: %v, %q", differs.Agree, differs.Sentences)
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
