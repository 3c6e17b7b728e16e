package record

import (
	"strings"
	"testing"
)

func goodPlan() BathPlan {
	return BathPlan{
		Sheets:    []int{1, 2},
		Operation: "lime",
		Liquid:    "calcium hydroxide in water, 0.4 g/L",
		VolumeMl:  400,
		Together:  1,
		Minutes:   20,
		Baths:     1,
		RestsOn:   "size measured; pick-up from the class of paper",
	}
}

func TestBathPlanRefusesWhatCannotBe(t *testing.T) {
	if err := Validate(goodPlan()); err != nil {
		t.Fatal(err)
	}
	for field, spoil := range map[string]func(*BathPlan){
		"sheets":    func(b *BathPlan) { b.Sheets = nil },
		"volume_ml": func(b *BathPlan) { b.VolumeMl = 0 },
		"minutes":   func(b *BathPlan) { b.Minutes = -1 },
		"baths":     func(b *BathPlan) { b.Baths = 13 },
		"together":  func(b *BathPlan) { b.Together = 0 },
		"liquid":    func(b *BathPlan) { b.Liquid = "" },
		"reserve":   func(b *BathPlan) { b.ReservePct = &Range{Low: 2, Best: 1, High: 3} },
		"rests_on":  func(b *BathPlan) { b.RestsOn = "" },
	} {
		b := goodPlan()
		spoil(&b)
		list, ok := Refusals(Validate(b))
		if !ok || len(list) != 1 || !strings.HasPrefix(list[0].Field, field) || list[0].Say == "" {
			t.Errorf("%s: refused as %v", field, list)
		}
	}
}

// For each sheet the last plan counts, of an operation or of any; one withdrawn
// lets that before it count again.
func TestPlanOfASheetIsItsLast(t *testing.T) {
	j := newJournal(t)
	j.add(
		Opened{Number: "1", Title: "Monthly"},
		MakeUp{InnerSheets: 3, Cover: "separate", Binding: "loose", FirstPage: 1},
	)
	first, second, third := goodPlan(), goodPlan(), goodPlan()
	second.Sheets, second.Minutes = []int{2}, 10
	third.Sheets, third.Operation = []int{2}, "wash"
	last := j.add(first, second, third)
	c := Fold(j.entries)
	if p := c.PlanOf(1, "lime"); p == nil || p.Body.Minutes != 20 {
		t.Errorf("sheet 1: %+v", p)
	}
	if p := c.PlanOf(2, "lime"); p == nil || p.Body.Minutes != 10 {
		t.Errorf("sheet 2: %+v", p)
	}
	if p := c.PlanOf(2, ""); p == nil || p.Body.Operation != "wash" {
		t.Errorf("sheet 2, any: %+v", p)
	}
	if p := c.PlanOf(3, ""); p != nil {
		t.Errorf("sheet 3: %+v", p)
	}
	if err := j.try(Item{Body: Withdrawn{Reason: "the other paper was meant"}, Corrects: last}); err != nil {
		t.Fatal(err)
	}
	if p := Fold(j.entries).PlanOf(2, ""); p == nil || p.Body.Minutes != 10 {
		t.Errorf("sheet 2 after the last was withdrawn: %+v", p)
	}
}
