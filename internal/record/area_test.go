package record

import (
	"math"
	"testing"
)

func photoOf(h byte, w, height int) Photo {
	return Photo{
		Hash:     Hash{h},
		Bytes:    9,
		Format:   "jpeg",
		WidthPx:  w,
		HeightPx: height,
		Stage:    "before",
		Light:    "normal",
		Place:    Place{Sheets: []int{2}, Face: "outer"},
	}
}

func anArea(id string) AreaOutlined {
	return AreaOutlined{
		ID:        id,
		Photo:     Hash{1},
		Place:     Place{Sheets: []int{2}, Face: "outer"},
		Look:      "tideline",
		FoundBy:   "drawn",
		OutlinePx: []Ring{{{10, 10}, {90, 10}, {90, 60}}},
	}
}

func TestAnAreaIsKeptComparedAndCorrected(t *testing.T) {
	j := opened(t)
	id := NewID(day)
	j.refused("not in the record", Item{Body: anArea(id)})
	j.add(photoOf(1, 100, 80), photoOf(2, 120, 90))
	area := anArea(id)
	seq := j.add(area)
	change := AreaCompared{
		Area:            id,
		Before:          Hash{1},
		After:           Hash{2},
		DE00:            3.1,
		DE00Trend:       2.9,
		DL:              2.5,
		DB:              -1.5,
		DE00Uncertainty: 0.3,
		BeforeLab:       [3]float64{70, 4, 20},
		AfterLab:        [3]float64{72.5, 4, 18.5},
		Method:          "compare 1",
	}
	compared := j.add(change)

	area.OutlinePx = []Ring{{{10, 10}, {95, 10}, {90, 60}}}
	if err := j.try(Item{Body: area, Corrects: seq}); err != nil {
		t.Fatal(err)
	}
	c := Fold(j.entries)
	if len(c.Areas) != 1 || c.Areas[0].Body.OutlinePx[0][1][0] != 95 || c.Areas[0].Corrected == 0 {
		t.Fatalf("areas %+v; want the corrected outline alone", c.Areas)
	}
	if x := c.Areas[0].Compared; x == nil || x.Body.DL != 2.5 {
		t.Fatalf("compared %+v; want what was measured", x)
	}

	// An area that was compared goes only together with what was measured on it.
	j.refused("not in the record", Item{Body: Withdrawn{Reason: "twice"}, Corrects: seq})
	if err := j.try(Item{Body: Withdrawn{Reason: "twice"}, Corrects: compared}, Item{Body: Withdrawn{Reason: "twice"}, Corrects: seq}); err != nil {
		t.Fatal(err)
	}
	if c := Fold(j.entries); len(c.Areas) != 0 || len(c.Problems) != 0 {
		t.Errorf("areas %v, problems %v; want none", c.Areas, c.Problems)
	}
}

func TestAreasThatCannotBe(t *testing.T) {
	j := opened(t)
	j.add(photoOf(1, 100, 80), photoOf(2, 100, 80))
	for say, change := range map[string]func(*AreaOutlined){
		"three corners":     func(b *AreaOutlined) { b.OutlinePx = []Ring{{{1, 1}, {2, 2}}} },
		"Nothing is":        func(b *AreaOutlined) { b.OutlinePx = nil },
		"within":            func(b *AreaOutlined) { b.OutlinePx[0][0][1] = math.NaN() },
		"beside":            func(b *AreaOutlined) { b.OutlinePx[0][0][0] = 140 },
		"at most":           func(b *AreaOutlined) { b.OutlinePx = make([]Ring, 201); fillRings(b.OutlinePx) },
		"looks like":        func(b *AreaOutlined) { b.Look = "mildew" },
		"which photograph":  func(b *AreaOutlined) { b.Photo = Hash{} },
		"not in the record": func(b *AreaOutlined) { b.Photo = Hash{7} },
		"one sheet":         func(b *AreaOutlined) { b.Place.Sheets = []int{1, 2} },
		"There is no sheet": func(b *AreaOutlined) { b.Place.Sheets = []int{12} },
	} {
		b := anArea(NewID(day))
		change(&b)
		j.refused(say, Item{Body: b})
	}
	id := NewID(day)
	j.add(anArea(id))
	j.refused("recorded already", Item{Body: anArea(id)})
	good := AreaCompared{Area: id, Before: Hash{1}, After: Hash{2}, Method: "compare 1"}
	for say, change := range map[string]func(*AreaCompared){
		"Two photographs":   func(b *AreaCompared) { b.After = b.Before },
		"not in the record": func(b *AreaCompared) { b.After = Hash{9} },
		"The area that":     func(b *AreaCompared) { b.Area = NewID(day) },
		"cannot be":         func(b *AreaCompared) { b.DE00 = math.Inf(1) },
		"colour":            func(b *AreaCompared) { b.AfterLab[1] = math.NaN() },
		"method":            func(b *AreaCompared) { b.Method = "" },
	} {
		b := good
		change(&b)
		j.refused(say, Item{Body: b})
	}
	if err := j.try(Item{Body: good}); err != nil {
		t.Error(err)
	}
}

func TestAComparisonOfAFaceIsKept(t *testing.T) {
	j := opened(t)
	j.add(photoOf(1, 100, 80), photoOf(2, 120, 90))
	paper, sd := 3.1, 0.8
	b := FaceCompared{
		Before:               Hash{1},
		After:                Hash{2},
		Place:                Place{Sheets: []int{2}, Face: "outer"},
		PaperDE00:            &paper,
		PaperDE00Uncertainty: &sd,
		DE00:                 3,
		DE00Trend:            1,
		ResidualPx:           0.05,
		ComparedPercent:      98,
		Colour:               "as the cameras wrote it",
		Method:               "compare 1",
	}
	j.add(b)
	paper2 := 2.9
	b.PaperDE00 = &paper2
	j.add(b)
	if c := Fold(j.entries); len(c.Compared) != 1 || *c.Compared[0].Body.PaperDE00 != 2.9 {
		t.Errorf("compared %+v; want the latest of the face alone", c.Compared)
	}
	for say, change := range map[string]func(*FaceCompared){
		"name both":         func(b *FaceCompared) { b.After = Hash{} },
		"not in the record": func(b *FaceCompared) { b.After = Hash{9} },
		"0 to 100 %":        func(b *FaceCompared) { b.ComparedPercent = 101 },
		"cannot be":         func(b *FaceCompared) { b.ResidualPx = math.NaN() },
		"enter what set":    func(b *FaceCompared) { b.Colour = "" },
		"There is no sheet": func(b *FaceCompared) { b.Place.Sheets = []int{30} },
	} {
		x := b
		change(&x)
		j.refused(say, Item{Body: x})
	}
}

func fillRings(rings []Ring) {
	for i := range rings {
		rings[i] = Ring{{1, 1}, {2, 1}, {2, 2}}
	}
}
