package record

import (
	"encoding/json"
	"slices"
	"testing"
)

// adopting is a valid adoption of a pick-up from a reading.
func adopting(reading int64, best float64, sheets ...int) ValueAdopted {
	return ValueAdopted{
		Quantity:  "pick-up",
		Value:     Range{Low: best - 0.1, Best: best, High: best + 0.1},
		Unit:      "g/g",
		Was:       &Range{Low: 1.8, Best: 2.2, High: 2.6},
		WasBasis:  "groundwood newsprint",
		FromSheet: 5,
		Readings:  []int64{reading},
		Sheets:    sheets,
		Reason:    "one stock, one tray",
	}
}

func weighed(j *journal) int64 {
	return j.add(
		Reading{Quantity: "mass", Value: 14.4, Method: "balance", Stage: "during", Place: Place{Sheets: []int{5}}},
	)
}

func TestTheLatestAdoptedValueCountsForEachSheet(t *testing.T) {
	j := opened(t)
	r := weighed(j)
	j.add(adopting(r, 2.3, 7, 8, 9))
	second := j.add(adopting(r, 2.5, 8, 9))
	rate := adopting(r, 1.1, 9)
	rate.Quantity, rate.Unit, rate.Was = "drying-rate", "times the computed rate", nil
	j.add(rate)
	best := func(sheet int) []float64 {
		var list []float64
		for _, a := range Fold(j.entries).AdoptedFor(sheet) {
			list = append(list, a.Body.Value.Best)
		}
		return list
	}
	for sheet, want := range map[int][]float64{6: nil, 7: {2.3}, 8: {2.5}, 9: {2.5, 1.1}} {
		if got := best(sheet); !slices.Equal(got, want) {
			t.Errorf("sheet %d has %v, want %v", sheet, got, want)
		}
	}
	// Corrected, the correction counts; withdrawn, what stood before does.
	if err := j.try(Item{Body: adopting(r, 2.6, 8), Corrects: second}); err != nil {
		t.Fatal(err)
	}
	if got := best(8); !slices.Equal(got, []float64{2.6}) {
		t.Errorf("corrected: %v, want 2.6", got)
	}
	if got := best(9); !slices.Equal(got, []float64{2.3, 1.1}) {
		t.Errorf("sheet 9, taken out by the correction: %v, want 2.3 again", got)
	}
	if err := j.try(Item{Body: Withdrawn{Reason: "wrong support subtracted"}, Corrects: second}); err != nil {
		t.Fatal(err)
	}
	if got := best(8); !slices.Equal(got, []float64{2.3}) {
		t.Errorf("withdrawn: %v, want 2.3 again", got)
	}
}

func TestAnAdoptedValueRestsOnReadingsThatCount(t *testing.T) {
	j := opened(t)
	r := weighed(j)
	j.refused("no reading that counts", Item{Body: adopting(1, 2.5, 8)})
	j.refused("no reading that counts", Item{Body: adopting(r+1, 2.5, 8)}) // itself
	a := j.add(adopting(r, 2.5, 8))
	j.refused("withdraw the adopted value first", Item{Body: Withdrawn{Reason: "slip"}, Corrects: r})
	if err := j.try(Item{Body: Withdrawn{Reason: "slip"}, Corrects: a}); err != nil {
		t.Fatal(err)
	}
	if err := j.try(Item{Body: Withdrawn{Reason: "slip"}, Corrects: r}); err != nil {
		t.Errorf("once nothing rests on it, the reading can be withdrawn: %v", err)
	}
	// A bath that was read as it was filled is a reading too.
	ph := 12.0
	start := j.add(
		RunStarted{
			ID:            NewID(j.now),
			Operation:     "lime",
			OperationName: "lime bath",
			Sheets:        []int{5},
			At:            j.now,
			Makes:         Wet,
			Bath: &Bath{
				ID:       NewID(j.now),
				Liquid:   "lime water",
				VolumeMl: 1500,
				PH:       &ph,
				PHMethod: "electrode",
			},
		},
	)
	j.add(adopting(start, 2.5, 8))
}

func TestAdoptedValuesRefused(t *testing.T) {
	j := opened(t)
	r := weighed(j)
	for want, change := range map[string]func(*ValueAdopted){
		"not a quantity":     func(b *ValueAdopted) { b.Quantity = "colour" },
		"is in g/g":          func(b *ValueAdopted) { b.Unit = "%" },
		"Pick-up cannot be":  func(b *ValueAdopted) { b.Value = Range{Low: 2, Best: 12, High: 13} },
		"must rise":          func(b *ValueAdopted) { b.Value = Range{Low: 2.6, Best: 2.5, High: 2.4} },
		"No sheet is chosen": func(b *ValueAdopted) { b.Sheets = nil },
		"There is no sheet":  func(b *ValueAdopted) { b.Sheets = []int{30} },
		"enter the reason":   func(b *ValueAdopted) { b.Reason = " " },
		"No reading":         func(b *ValueAdopted) { b.Readings = nil },
		"named once":         func(b *ValueAdopted) { b.Readings = []int64{r, r} },
	} {
		b := adopting(r, 2.5, 8)
		change(&b)
		j.refused(want, Item{Body: b})
	}
}

// The first version's JSON, kept: it must still be read.
func TestValueAdoptedVersion1(t *testing.T) {
	const old = `{"quantity":"pick-up","value":{"low":2.41,"best":2.48,"high":2.53},"unit":"g/g","was":{"low":1.8,"best":2.2,"high":2.6},"was_basis":"groundwood newsprint (memory)","from_sheet":5,"readings":[92],"sheets":[4,7],"reason":"one stock"}`
	b, err := Decode("value-adopted", 1, json.RawMessage(old))
	if err != nil || Validate(b) != nil || b.(ValueAdopted).Value.Best != 2.48 || b.(ValueAdopted).Readings[0] != 92 {
		t.Errorf("%v, %+v", err, b)
	}
}
