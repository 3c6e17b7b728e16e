package record

import "testing"

func keptFor(run string) RunExpected {
	return RunExpected{
		Run: run, Model: "paper 1", Inputs: []string{"00"}, Coverage: 80,
		Values: []ExpectedValue{{
			Quantity: "reserve", Moment: OnceDry, Sheets: []int{1}, Class: Groundwood, Unit: "% CaCO₃",
			Value: Range{Low: 0.1, Best: 0.2, High: 0.3},
		}},
	}
}

func TestWhatWasExpectedStandsBesideItsRunAndFallsWithIt(t *testing.T) {
	j := opened(t)
	run := NewID(day)
	start := RunStarted{ID: run, Operation: "lime", OperationName: "lime bath", Sheets: []int{1}, At: j.now, Makes: Wet}
	n := j.add(start)
	j.add(keptFor(run))
	if x := Fold(j.entries).ExpectedOf(run); x == nil || x.Seq != n+1 {
		t.Fatalf("kept: %+v", x)
	}
	// Withdrawing the start alone is enough.
	if err := j.try(Item{Body: Withdrawn{Reason: "another sheet"}, Corrects: n}); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*RunExpected){
		"Nothing is expected":  func(b *RunExpected) { b.Values = nil },
		"is in \"% CaCO₃\"":    func(b *RunExpected) { b.Values[0].Unit = "g" },
		"is not a quantity":    func(b *RunExpected) { b.Values[0].Quantity = "hope" },
		"the other way round":  func(b *RunExpected) { b.Values[0].Own = 3 },
		"from low to best to":  func(b *RunExpected) { b.Values[0].Value.High = 0 },
		"cannot be 200":        func(b *RunExpected) { b.Coverage = 200 },
		"Please enter the mod": func(b *RunExpected) { b.Model = "" },
	} {
		b := keptFor(run)
		spoil(&b)
		j.refused(name, Item{Body: b})
	}
}

func TestOwnRangeNamesItsReadingsAndTheLatestCounts(t *testing.T) {
	own := OwnRange{
		Quantity: "reserve", Moment: OnceDry, Class: Groundwood, Factor: 1.5, Model: "paper 1", Held: 9, Readings: 2,
		Evidence: []RunsReadings{{Case: "0000000000000001", Number: "1", Runs: []string{"a"}, Readings: []int64{4, 9}}},
		Reason:   "too narrow",
	}
	if err := Validate(own); err == nil {
		t.Error("9 of 2 readings held")
	}
	own.Held, own.Readings = 1, 3
	if err := Validate(own); err == nil {
		t.Error("3 readings are counted and 2 named")
	}
	own.Readings = 2
	if err := Validate(own); err != nil {
		t.Fatal(err)
	}
	st, _, err := FoldStudio(nil).Append(Writing{Time: day, By: "KM"}, []Item{{Body: own}})
	if err != nil {
		t.Fatal(err)
	}
	own.Factor = 2
	if st, _, err = st.Append(Writing{Time: day, By: "KM"}, []Item{{Body: own}}); err != nil {
		t.Fatal(err)
	}
	if x := st.OwnRangeFor("reserve", OnceDry, Groundwood); x == nil || x.Body.Factor != 2 {
		t.Fatalf("the latest does not count: %+v", x)
	}
	st, _, err = st.Append(Writing{Time: day, By: "KM"}, []Item{{Body: Withdrawn{Reason: "too few"}, Corrects: 2}})
	if err != nil {
		t.Fatal(err)
	}
	if x := st.OwnRangeFor("reserve", OnceDry, Groundwood); x == nil || x.Body.Factor != 1.5 {
		t.Errorf("withdrawn, the one before does not count again: %+v", x)
	}
	if st.OwnRangeFor("reserve", OnceDry, RagPaper) != nil || st.OwnRangeFor("mass", OutWet, Groundwood) != nil {
		t.Error("it counts for another paper or quantity")
	}
}
