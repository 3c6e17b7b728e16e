package account

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"benchleaf/condition"
	"benchleaf/internal/record"
)

// mended is a case of nine sheets with a tear of 84 mm through sheets 2 to 4 and a
// loss of 10 by 12 mm on sheet 1.
func mended(plan record.MendPlan) *record.Case {
	c := &record.Case{
		MakeUp: &record.Stamped[record.MakeUp]{Body: record.MakeUp{InnerSheets: 9, Cover: record.CoverSelf, FirstPage: 1}},
		Stocks: []record.Stamped[record.Stock]{{Body: record.Stock{
			Sheets: []int{1, 2, 3, 4, 5, 6, 7, 8, 9}, WidthMm: 340, HeightMm: 262}}},
		MendPlan: &record.Stamped[record.MendPlan]{Body: plan},
	}
	add := func(term, shapes string, sheets ...int) {
		list, err := condition.ParseShapes(shapes)
		if err != nil {
			panic(err)
		}
		n := len(c.Damages) + 1
		c.Damages = append(c.Damages, record.FoundDamage{No: n, Stamped: record.Stamped[record.Damage]{Body: record.Damage{
			ID: fmt.Sprint(n), Term: term, Through: true, Shapes: list,
			Place: record.Place{Sheets: sheets, Face: record.FaceOuter}}}})
	}
	add("tear", "line 340,100 256,100", 2, 3, 4)
	add("loss", "box 0,250 10,262", 1)
	add("foxing", "box 10,10 60,50", 5)
	return c
}

// Worked by hand: on each of three sheets a strip of 84 + 2 x 2 mm, 6 mm wide, and a
// piece of 120 + 44 x 2 + pi x 4 mm2: 1804.6 mm2 laid. A fifth of what is taken is
// waste: 2255.7 mm2, of 5 g/m2 0.0113 g. Paste at 200 g/m2 of 1804.6 mm2 is 0.361 g.
func TestWhatTheMendsTake(t *testing.T) {
	paste, minutes := 200.0, 15.0
	c := mended(record.MendPlan{
		Tissue: "kozo", TissueGM2: 5, StripWidthMm: 6, MarginMm: 2, Faces: "one", WastePercent: 20, PasteGM2: &paste,
		MinutesEach: &minutes,
	})
	m := MendingOf(c)
	got := map[Code]string{}
	for _, f := range m.Facts {
		got[f.Code] = f.Value(en)
	}
	want := map[Code]string{
		MendsToMake: "4", StripsToTear: "0.264\u00a0m", TissueToLay: "18\u00a0cm²", TissueToTake: "22.6\u00a0cm²",
		TissueMass: "0.0113\u00a0g", PasteMass: "0.361\u00a0g", MendTime: "1\u00a0h",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if len(m.Sheets) != 4 || m.Sheets[0].AreaMm2 != 120 || m.Sheets[1].LengthMm != 84 {
		t.Errorf("by sheet: %+v", m.Sheets)
	}
	// What is mended counts no more.
	c.Damages[0].After = &record.Stamped[record.DamageAfter]{Body: record.DamageAfter{Outcome: "mended"}}
	if m := MendingOf(c); len(m.Sheets) != 1 {
		t.Errorf("after the mend: %+v", m.Sheets)
	}
}

// The times between mends of one person, pauses left out: 10, 12, 14, 16, 18 minutes.
func TestOwnMendMinutes(t *testing.T) {
	at := time.Date(2030, 5, 14, 18, 0, 0, 0, time.UTC)
	c := &record.Case{}
	log := func(by string, after time.Duration) {
		at = at.Add(after)
		c.Mends = append(c.Mends, record.Stamped[record.Mend]{
			Stamp: record.Stamp{By: by, Time: at}, Body: record.Mend{At: at},
		})
	}
	log("KM", 0)
	for _, m := range []int{10, 12, 14, 16} {
		log("KM", time.Duration(m)*time.Minute)
	}
	if OwnMendMinutes(c) != nil {
		t.Error("a spread is told from four times")
	}
	log("TV", time.Minute)
	log("KM", 17*time.Minute)
	log("KM", 2*time.Hour)
	own := OwnMendMinutes(c)
	if own == nil || own.Best != 14 || own.Low <= 10 || own.High >= 18 {
		t.Errorf("got %+v, want a median of 14 within 10 to 18", own)
	}
}

// Letters stand apart and in order, however near the findings lie.
func TestLettersOfAFigureStandApart(t *testing.T) {
	c := mended(record.MendPlan{})
	for i := range 12 {
		list, _ := condition.ParseShapes(fmt.Sprintf("spot 300,%d", 200+i))
		c.Damages = append(c.Damages, record.FoundDamage{No: 4 + i, Stamped: record.Stamped[record.Damage]{Body: record.Damage{
			ID: fmt.Sprint(4 + i), Term: "puncture", Through: true, Shapes: list,
			Place: record.Place{Sheets: []int{2}, Face: record.FaceOuter}}}})
	}
	x := MapOf(c).FigureOf(FaceOf{2, record.FaceOuter}, func(*Damage) bool { return true })
	for i := 1; i < len(x.Labels); i++ {
		if gap := x.Labels[i].At.YMm - x.Labels[i-1].At.YMm; gap < labelApartMm-1e-9 {
			t.Errorf("%s stands %g mm below %s", x.Labels[i].Text, gap, x.Labels[i-1].Text)
		}
		if y := x.Labels[i].At.YMm; y < 0 || y > 262 {
			t.Errorf("%s stands at %g mm", x.Labels[i].Text, y)
		}
	}
	if len(x.Labels) != 13 {
		t.Errorf("%d letters, want 13", len(x.Labels))
	}
}

// A square of 20 mm with a hole of 10 mm: one outline, the area as it was measured.
func TestAnAreaIsTakenOver(t *testing.T) {
	c := mended(record.MendPlan{})
	area := 300.0
	a := record.AreaOutlined{
		ID: "a", Look: "stain", AreaMm2: &area, Place: record.Place{Sheets: []int{2}, Face: record.FaceOuter},
		OutlineMm: []record.Ring{{{-0.2, 10}, {20, 10}, {20, 30}, {-0.2, 30}}, {{5, 15}, {15, 15}, {15, 25}, {5, 25}}},
	}
	b, err := FindingOf(c, &a, "x")
	if err != nil {
		t.Fatal(err)
	}
	if got := condition.WriteShapes(b.Shapes); got != "outline 0,10 20,10 20,30 0,30" || *b.AreaMm2 != 300 || b.Area != "a" ||
		b.Severity != "" || b.Through {
		t.Errorf("taken over as %s: %+v", got, b)
	}
	a.Look = "paper"
	if _, err := FindingOf(c, &a, "x"); err == nil {
		t.Error("bare paper was taken over as damage")
	}
}
