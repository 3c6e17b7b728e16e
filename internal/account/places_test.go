package account

import (
	"strings"
	"testing"
	"time"

	"benchleaf/condition"
	"benchleaf/internal/annotation"
	"benchleaf/internal/record"
)

// placed is a case of two folded sheets with a position, its readings and a fill.
func placed(t *testing.T) *record.Case {
	t.Helper()
	at := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
	spot, other := record.NewID(at), record.NewID(at)
	reading := func(stage record.Stage, value float64, position string) record.Reading {
		return record.Reading{
			Quantity: "surface-ph", Value: value, Method: "flat electrode", Stage: stage, Position: position,
			Place: record.Place{Sheets: []int{1}, Face: record.FaceOuter},
		}
	}
	one := record.Place{Sheets: []int{1}, Face: record.FaceOuter}
	return folded(t,
		record.Stock{
			ID: record.NewID(at), Name: "paper", Class: "groundwood", Sheets: []int{1, 2}, WidthMm: 340, HeightMm: 262,
			GrammageGM2: 50, GrammageBasis: "measured",
		},
		record.PositionMarked{ID: spot, Place: one, XMm: 200, YMm: 30},
		record.PositionMarked{ID: other, Place: one, XMm: 300, YMm: 230, Note: "below the imprint"},
		reading(record.StageBefore, 4.3, spot), reading(record.StageBefore, 4.9, other),
		// Years later the second comes first: pairs go by the position.
		reading(record.StageAfter, 8.1, other), reading(record.StageAfter, 7.4, spot),
		record.WorkPlaced{
			ID: record.NewID(at), Sort: "fill", Place: one, Material: "kozo tissue 9 g/m², toned", Lot: "K-4", Undo: "water",
			Shapes: []condition.Shape{{Form: condition.Box, Points: []condition.Point{{XMm: 0, YMm: 240}, {XMm: 25, YMm: 262}}}},
		},
	)
}

func TestReadingsPairByTheirPosition(t *testing.T) {
	c := placed(t)
	list := CompareReadings(c, nil)
	if len(list) != 2 {
		t.Fatalf("%d pairs, want 2", len(list))
	}
	for i, want := range []struct {
		where         string
		before, after float64
	}{
		{"Position 1, p. 1: 30 mm from the fold, 30 mm below the head", 4.3, 7.4},
		{"Position 2, p. 1: 40 mm from the fore-edge, 32 mm above the tail", 4.9, 8.1},
	} {
		x := list[i]
		if x.Where != want.where || x.Before.Body.Value != want.before || x.After.Body.Value != want.after {
			t.Errorf("%s: %g, then %g; want %+v", x.Where, x.Before.Body.Value, x.After.Body.Value, want)
		}
		for _, r := range x.Remarks {
			if r.Code == PlaceDiffers {
				t.Errorf("%s: %s", x.Where, r.Text)
			}
		}
	}
	if m := MarkedPositions(c); len(m) != 2 || len(m[1].Readings) != 2 || m[1].No != 2 {
		t.Errorf("positions: %+v", m)
	}
}

func TestPlacedWorkStandsWithWhatWasAdded(t *testing.T) {
	c := placed(t)
	work := PlacedWork(c)
	if len(work) != 1 || work[0].Where != "p. 8: at the corner of tail and fore-edge" || work[0].Undo != "can be undone with water" {
		t.Errorf("placed: %+v", work)
	}
	added := Added(c)
	if len(added) != 1 || !strings.Contains(added[0].What, "kozo tissue 9 g/m², toned, lot K-4") {
		t.Errorf("added: %+v", added)
	}
}

// What goes out as annotations comes back as findings where it was.
func TestAnnotationsGoOutAndIn(t *testing.T) {
	c := placed(t)
	files, err := Annotations(c).Files()
	if err != nil || len(files) != 2 {
		t.Fatalf("%d files, %v; want the collection and one face", len(files), err)
	}
	size, _ := OpenedSize(c, 1)
	notes, err := annotation.Read(files[1].Data, size, annotation.PixelSize{})
	if err != nil || len(notes) != 3 {
		t.Fatalf("%d notes, %v", len(notes), err)
	}
	id := func(int) string { return record.NewID(time.Now()) }
	one := record.Place{Sheets: []int{1}, Face: record.FaceOuter}
	if _, err := TakenOver(notes, one, "", id); err == nil || !strings.Contains(err.Error(), "of no kind") {
		t.Errorf("without a kind: %v", err)
	}
	found, err := TakenOver(notes, one, "loss", id)
	if err != nil || len(found) != 3 || found[0].Term != "loss" || !found[0].Through ||
		condition.WriteShapes(found[0].Shapes) != "box 0,240 25,262" {
		t.Errorf("taken over: %+v, %v", found, err)
	}
}
