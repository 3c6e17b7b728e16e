package record

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"

	"benchleaf/makeup"
)

// Entries of the versions before are read as what they said.
func TestOlderMakeUpsAndStatesOfSheets(t *testing.T) {
	for _, tc := range []struct {
		old  string
		want SheetState
	}{
		{`{"sheet":7,"state":"loose"}`, SheetState{Sheet: 7, Hold: HoldLoose}},
		{`{"sheet":7,"state":"part-loose","leaf":"first"}`, SheetState{Sheet: 7, Hold: HoldByOne, HoldLeaf: LeafFirst}},
		{`{"sheet":7,"state":"present"}`, SheetState{Sheet: 7, Hold: HoldFirm}},
		{`{"sheet":7,"state":"split"}`, SheetState{Sheet: 7, Split: true}},
		{`{"sheet":7,"state":"half","leaf":"second"}`, SheetState{Sheet: 7, Missing: LeafSecond}},
		{`{"sheet":7,"state":"missing"}`, SheetState{Sheet: 7, Missing: LeafBoth}},
		{`{"sheet":7,"state":"married","basis":"whiter"}`, SheetState{Sheet: 7, Married: LeafBoth, Basis: "whiter"}},
	} {
		b, err := Decode("sheet-state", 1, json.RawMessage(tc.old))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(tc.want, b); d != "" {
			t.Errorf("%s (-want +got):\n%s", tc.old, d)
		}
		if err := Validate(b); err != nil {
			t.Errorf("%s: %v", tc.old, err)
		}
	}
	b, err := Decode("make-up", 1, json.RawMessage(`{"inner_sheets":9,"cover":"separate","first_page":1}`))
	if m, is := b.(MakeUp); err != nil || !is || m.InnerSheets != 9 || !m.Stay || m.Build != "" {
		t.Errorf("a make-up of version 1 reads as %+v, %v", b, err)
	}
}

func TestSheetStateRefusals(t *testing.T) {
	j := opened(t)
	j.refused("Say how the sheet was found", Item{Body: SheetState{Sheet: 1}})
	j.refused("is an inference", Item{Body: SheetState{Sheet: 1, Married: LeafBoth}})
	j.refused("cannot be missing and from another copy at once",
		Item{Body: SheetState{Sheet: 1, Missing: LeafFirst, Married: LeafBoth, Basis: "x"}})
	j.refused("two sides of one leaf", Item{Body: MakeUp{
		InnerSheets: 9, Cover: "separate", FirstPage: 1, Inserts: []Insert{{AfterPage: 3, What: "card"}}}})
	j.add(SheetState{Sheet: 1, Hold: HoldLoose, Married: LeafSecond, Basis: "lighter paper"})
	c := Fold(j.entries)
	want := makeup.State{Sheet: 1, Hold: makeup.Loose, Married: makeup.SecondLeaf, Basis: "lighter paper"}
	if d := cmp.Diff(want, c.MakeUpFound().State(1)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A sheet that was overlooked moves what was recorded of those within it, whatever
// kind of entry names them; one counted too many moves it back.
func TestWhatIsRecordedMovesWithItsSheet(t *testing.T) {
	j := opened(t)
	tear, run := NewID(day), NewID(day)
	j.add(
		Damage{ID: tear, Term: "tear", Place: Place{Sheets: []int{2, 3, 4}, Face: FaceOuter}, Through: true},
		Reading{Quantity: "surface-ph", Value: 4.4, Method: "flat electrode", Stage: "before", Place: Place{Sheets: []int{0}}},
		SheetState{Sheet: 7, Hold: HoldLoose},
		RunStarted{ID: run, Operation: "wash", OperationName: "washing", Sheets: []int{2, 9}, At: j.now, Makes: Wet,
			Bath: &Bath{ID: NewID(day), Liquid: "water", VolumeMl: 1000,
				With: []Sharing{{Case: NewCaseID(day), Number: "2", Sheets: []int{4}}}}},
	)
	ten := MakeUp{InnerSheets: 10, Cover: "separate", FirstPage: 1}
	j.refused("say which sheets were not counted before", Item{Body: ten})
	wrong := ten
	wrong.Added = []int{3, 4}
	j.refused("are not the same number", Item{Body: wrong})
	ten.Added = []int{3}
	j.add(ten)
	c := Fold(j.entries)
	if len(c.Problems) != 0 {
		t.Fatalf("problems %v", c.Problems)
	}
	if d := cmp.Diff([]int{2, 4, 5}, c.Damages[0].Body.Place.Sheets); d != "" {
		t.Errorf("the tear (-want +got):\n%s", d)
	}
	if c.SheetStates[8].Body.Hold != HoldLoose || len(c.SheetStates) != 1 {
		t.Errorf("the loose sheet: %v, want it at 8", c.SheetStates)
	}
	r := c.Run(run)
	if d := cmp.Diff([]int{2, 10}, c.SheetsIn(r)); d != "" || r.Body.Bath.With[0].Sheets[0] != 4 {
		t.Errorf("the bath (-want +got):\n%s; the other case's sheet is %v", d, r.Body.Bath.With[0].Sheets)
	}
	if c.Readings[0].Body.Place.Sheets[0] != 0 || c.ConditionOf(10).Wetness != Wet {
		t.Errorf("the cover is sheet %v; sheet 10 is %v", c.Readings[0].Body.Place.Sheets, c.ConditionOf(10))
	}
	// The journal itself still says what was written.
	if b := c.Log[2].Decoded.(Damage); b.Place.Sheets[1] != 3 {
		t.Errorf("the log's tear is on %v", b.Place.Sheets)
	}

	nine := MakeUp{InnerSheets: 9, Cover: "separate", FirstPage: 1, Gone: []int{2}}
	j.refused("names sheet 2, so it was there", Item{Body: nine})
	nine.Gone = []int{3}
	j.add(nine)
	if c := Fold(j.entries); c.Damages[0].Body.Place.Sheets[1] != 3 || len(c.Problems) != 0 {
		t.Errorf("the tear is on %v again; problems %v", c.Damages[0].Body.Place.Sheets, c.Problems)
	}
	// A separate cover that proves to be the outermost sheet.
	j.add(MakeUp{InnerSheets: 10, Cover: "self", FirstPage: 1, Stay: false, Added: nil, Gone: nil, Note: "no cover"})
	c = Fold(j.entries)
	if d := cmp.Diff([]int{3, 4, 5}, c.Damages[0].Body.Place.Sheets); d != "" {
		t.Errorf("with the cover counted in, the tear (-want +got):\n%s", d)
	}
}

// Numbers stay where that is said.
func TestNumbersThatStay(t *testing.T) {
	j := opened(t)
	j.add(Reading{Quantity: "surface-ph", Value: 4.4, Method: "flat electrode", Stage: "before", Place: Place{Sheets: []int{5}}})
	j.add(MakeUp{InnerSheets: 10, Cover: "separate", FirstPage: 1, Stay: true})
	if c := Fold(j.entries); c.Readings[0].Body.Place.Sheets[0] != 5 {
		t.Errorf("it moved to %v", c.Readings[0].Body.Place.Sheets)
	}
}
