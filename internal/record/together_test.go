package record

import (
	"strings"
	"testing"
	"time"
)

func startOf(id string, at time.Time, sheets ...int) RunStarted {
	return RunStarted{
		ID: id, Operation: "rinse", OperationName: "rinsing", Sheets: sheets, At: at, Makes: Wet,
		Bath: &Bath{ID: id, Liquid: "water", VolumeMl: 1000},
	}
}

func endOf(id string, at time.Time, sheets ...int) RunEnded {
	return RunEnded{Run: id, Sheets: sheets, At: at, Outcome: "done", Leaves: Wet}
}

// A sheet is in one bath at a time, whatever the order in which it is written.
func TestSheetIsInOneRunAtATime(t *testing.T) {
	j := opened(t)
	at := func(min int) time.Time { return j.now.Add(time.Duration(min) * time.Minute) }
	rinse, lime, late := NewID(day), NewID(day), NewID(day)
	j.add(MakeUp{InnerSheets: 3, Cover: "separate", Binding: "saddle", FirstPage: 1})
	j.add(startOf(rinse, at(-30), 1, 2))
	j.refused("Sheet 2 is in rinsing", Item{Body: startOf(lime, at(-10), 2, 3)})
	// Another sheet may, and so may this one once it came out in the same act.
	if err := j.try(Item{Body: endOf(rinse, at(-10), 2)}, Item{Body: startOf(lime, at(-10), 2, 3)}); err != nil {
		t.Fatal(err)
	}
	end := j.add(endOf(rinse, at(-9)))
	j.refused("Sheet 2 is in rinsing", Item{Body: Withdrawn{Reason: "not so"}, Corrects: end - 2})
	// What was done earlier may be written later with its end, as long as it ends before.
	j.refused("give the end of rinsing too", Item{Body: startOf(late, at(-60), 1)})
	j.refused("Sheet 1 is in rinsing", Item{Body: startOf(late, at(-60), 1)}, Item{Body: endOf(late, at(-20))})
	if err := j.try(Item{Body: startOf(late, at(-60), 1)}, Item{Body: endOf(late, at(-40))}); err != nil {
		t.Fatal(err)
	}
}

// A sheet is as wet as its last run made it, in whatever order they are written.
func TestRunWrittenLateWetsNothingNow(t *testing.T) {
	j := opened(t)
	at := func(min int) time.Time { return j.now.Add(time.Duration(min) * time.Minute) }
	dry, late := startOf(NewID(day), at(-20), 1), startOf(NewID(day), at(-60), 1)
	dry.Makes = Damp
	j.add(dry)
	if err := j.try(Item{Body: late}, Item{Body: endOf(late.ID, at(-40))}); err != nil {
		t.Fatal(err)
	}
	if got := Fold(j.entries).ConditionOf(1); got.Wetness != Damp || got.Run != dry.ID {
		t.Errorf("sheet 1 is %s in %q, want damp in the drying", got.Wetness, got.Run)
	}
}

// A journal of an earlier version with a start that has no end reads as it did,
// and the end that is missing can be written.
func TestEndlessRunOfOldJournal(t *testing.T) {
	j := opened(t)
	at := func(min int) time.Time { return day.Add(time.Duration(min) * time.Minute) }
	late := startOf(NewID(day), at(-60), 1)
	j.add(startOf(NewID(day), at(-20), 1))
	kind, version, raw, err := Encode(late)
	if err != nil {
		t.Fatal(err)
	}
	last := j.entries[len(j.entries)-1]
	old := Entry{Case: j.id, Seq: last.Seq + 1, Time: day, By: "KM", Kind: kind, Version: version, Body: raw}
	if err := old.Seal(last.Hash); err != nil {
		t.Fatal(err)
	}
	j.entries = append(j.entries, old)
	if c := Fold(j.entries); len(c.Problems) > 0 {
		t.Fatal(c.Problems)
	}
	j.refused("Sheet 1 is in rinsing", Item{Body: endOf(late.ID, at(-5))})
	// To the minute: the last minute in one may be the first in the other, and no more.
	j.refused("Sheet 1 is in rinsing", Item{Body: endOf(late.ID, at(-19))})
	j.add(endOf(late.ID, at(-20)))
}

func TestBottleGivesNoMoreThanItHolds(t *testing.T) {
	st := *FoldStudio(nil)
	add := func(b Body) error {
		next, _, err := st.Append(Writing{Time: day, By: "KM"}, []Item{{Body: b}})
		if err == nil {
			st = *next
		}
		return err
	}
	b := Bottle{
		ID: NewID(day), Name: "lime water", Substance: "calcium hydroxide", Form: "solution", Unit: "g/L",
		Strength: &Range{Low: 0.4, Best: 0.4, High: 0.4}, VolumeMl: 1000, MadeAt: day,
	}
	left := 300.0
	for _, x := range []struct {
		body Body
		want string
		left float64
	}{
		{b, "", 1000},
		{BottleDrawn{Bottle: b.ID, Ml: 1500}, "holds 1000 mL", 1000},
		{BottleDrawn{Bottle: b.ID, Ml: 800}, "", 200},
		{BottleDrawn{Bottle: b.ID, Ml: 250}, "holds 200 mL", 200},
		// Who finds more in it than the book has, says so first.
		{BottleChecked{Bottle: b.ID, LeftMl: &left, How: "by the scale on the bottle"}, "", 300},
		{BottleDrawn{Bottle: b.ID, Ml: 250}, "", 50},
	} {
		err := add(x.body)
		if (x.want == "") != (err == nil) || err != nil && !strings.Contains(plainBlanks(err.Error()), x.want) {
			t.Errorf("%+v: %v, want %q", x.body, err, x.want)
		}
		if got := st.Bottle(b.ID).LeftMl; got != x.left {
			t.Errorf("%v mL left, want %v", got, x.left)
		}
	}
	// What an earlier version wrote is read as it was, and the book is empty then.
	raw, err := Marshal(BottleDrawn{Bottle: b.ID, Ml: 5000})
	if err != nil {
		t.Fatal(err)
	}
	var entries []Entry
	for _, l := range st.Log {
		entries = append(entries, *l.Entry)
	}
	old := FoldStudio(append(entries, Entry{
		Case: StudioID, Seq: st.LastSeq + 1, Time: day, Kind: "bottle-drawn", Version: 1, Body: raw,
	}))
	if old.Bottle(b.ID).LeftMl != 0 || len(old.Problems) > 0 {
		t.Errorf("%v mL left, %v; want 0 and no problem", old.Bottle(b.ID).LeftMl, old.Problems)
	}
}

func plainBlanks(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }
