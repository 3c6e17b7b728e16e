package webtest

import (
	"testing"
	"time"

	"benchleaf/internal/record"
)

// TestHomeOfAnEmptyBench offers the first act and nothing else.
func TestHomeOfAnEmptyBench(t *testing.T) {
	b := newBench(t)
	for _, s := range []size{tablet, phone} {
		p := b.open(s, "/")
		p.see("No case yet")
		p.see("New case")
		p.clean()
		p.shot("home-empty")
	}
}

// TestHomeAnswers shows what is wet, what is due, what waits, and the cases.
func TestHomeAnswers(t *testing.T) {
	b := newBench(t)
	now := time.Now()
	first := record.NewCaseID(now)
	b.write(
		first,
		record.Opened{Number: "31-07", Title: "The Windlass Monthly, no. 31"},
		record.Ownership{Owner: "Owner (demo)"},
		record.MakeUp{InnerSheets: 9, Cover: "separate", Binding: "saddle", FirstPage: 1},
		record.RunStarted{
			ID:            record.NewID(now),
			Operation:     "lime-bath",
			OperationName: "lime bath",
			Sheets:        []int{5, 6},
			At:            now.Add(-12 * time.Minute),
			PlannedMin:    20,
			Makes:         record.Wet,
		},
		record.RunStarted{
			ID:            record.NewID(now),
			Operation:     "dry-restraint",
			OperationName: "drying under restraint",
			Sheets:        []int{2, 3, 4},
			At:            now.Add(-47 * time.Minute),
			DueMin:        []float64{45, 180},
			DueWhat:       "change the absorbents",
			Makes:         record.Damp,
		},
	)
	second := record.NewCaseID(now.Add(time.Second))
	b.write(second,
		record.Opened{Number: "31-09", Title: "Harbour Tales, no. 4"},
		record.NextStep{Text: "send the letter of consent back", Who: "owner", Due: now.Add(50 * time.Hour)},
	)
	for _, s := range []size{tablet, phone, wide} {
		p := b.open(s, "/")
		p.see("Change the absorbents")
		p.see("Sheets 5 and 6")
		p.see("Sheets 2 to 4")
		p.see("owner: send the letter of consent back")
		p.see("Harbour Tales, no. 4")
		p.clean()
		p.shot("home")
	}
	p := b.open(tablet, "/")
	p.fill("Find a case by title, owner or number", "windlass demo")
	p.press("Find")
	p.see("The Windlass Monthly")
	p.until("the other case is not listed", `!document.querySelector(".cards").innerText.includes("Harbour")`)
	p.fill("Find a case by title, owner or number", "nothing like it")
	p.press("Find")
	p.see("No case has all of these words")
	p.press("Closed")
	p.see("No case is closed yet")
}
