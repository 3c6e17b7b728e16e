package record

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"benchleaf/condition"
)

// A damage of version 1 keeps its one point as a shape, and all else as it was.
func TestOnePointBecomesAShape(t *testing.T) {
	for _, tc := range []struct{ old, want string }{
		{
			`{"id":"a","term":"tear","place":{"sheets":[2,3],"face":"outer"},"through":true,"x_mm":256,"y_mm":180.5,"length_mm":84}`,
			`{"id":"a","length_mm":84,"place":{"face":"outer","sheets":[2,3]},"shapes":["spot 256,180.5"],"term":"tear","through":true}`,
		},
		{`{"id":"a","term":"foxing","place":{"sheets":[0]}}`, `{"id":"a","place":{"sheets":[0]},"term":"foxing"}`},
		{
			`{"id":"a","term":"tear","place":{"sheets":[0]},"x_mm":12,"note":"wide"}`,
			`{"id":"a","note":"wide; 12 mm from the left edge","place":{"sheets":[0]},"term":"tear"}`,
		},
	} {
		b, err := Decode("damage", 1, json.RawMessage(tc.old))
		if err != nil {
			t.Fatalf("%s: %v", tc.old, err)
		}
		raw, err := Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		var got, want any
		if json.Unmarshal(raw, &got) != nil || json.Unmarshal([]byte(tc.want), &want) != nil {
			t.Fatal("no JSON")
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", tc.old, d)
		}
	}
}

func shapesOf(t *testing.T, text string) []condition.Shape {
	t.Helper()
	list, err := condition.ParseShapes(text)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// mapped is a case with nine sheets in a cover, of known size.
func mapped(t *testing.T) *Case {
	t.Helper()
	c := appended(t, &Case{Journal: Journal{ID: CaseID(NewID(mapDay))}},
		Opened{Number: "1", Title: "Windlass"}, MakeUp{InnerSheets: 9, Cover: CoverSeparate, FirstPage: 1},
		Stock{ID: NewID(mapDay), Name: "interior", Class: Groundwood, Sheets: []int{1, 2, 3, 4, 5, 6, 7, 8, 9}, WidthMm: 340,
			HeightMm: 262, GrammageGM2: 50, GrammageBasis: BasisStated})
	return c
}

var mapDay = time.Date(2030, 5, 14, 18, 0, 0, 0, time.UTC)

func appended(t *testing.T, c *Case, bodies ...Body) *Case {
	t.Helper()
	for _, b := range bodies {
		next, err := tryAppend(c, Item{Body: b})
		if err != nil {
			t.Fatalf("%s: %v", b.Kind(), err)
		}
		c = next
	}
	return c
}

func tryAppend(c *Case, it ...Item) (*Case, error) {
	next, _, err := c.Append(Writing{Time: mapDay, By: "KM", Zone: "UTC"}, it)
	return next, err
}

func found(t *testing.T, term, shapes string, sheets ...int) Damage {
	return Damage{
		ID: NewID(mapDay), Term: term, Place: Place{Sheets: sheets, Face: FaceOuter}, Through: true,
		Shapes: shapesOf(t, shapes),
	}
}

// The number of a finding comes from its first entry, whatever is corrected or
// withdrawn later; what is withdrawn stays with its reason.
func TestANumberIsForLife(t *testing.T) {
	c := mapped(t)
	var seqs []int64
	for i := range 4 {
		c = appended(t, c, found(t, "tear", fmt.Sprintf("line 340,%d 300,%d", 50+i, 50+i), 2, 3))
		seqs = append(seqs, c.LastSeq)
	}
	c, err := tryAppend(c, Item{Body: Withdrawn{Reason: "a crease"}, Corrects: seqs[1]})
	if err != nil {
		t.Fatal(err)
	}
	moved := c.DamageByID(c.Damages[1].Body.ID).Body
	moved.Shapes = shapesOf(t, "line 340,90 320,90")
	if c, err = tryAppend(c, Item{Body: moved, Corrects: seqs[2]}); err != nil {
		t.Fatal(err)
	}
	c = appended(t, c, found(t, "crease", "line 10,10 20,20", 5))
	var got []int
	for _, d := range c.Damages {
		got = append(got, d.No)
	}
	if d := cmp.Diff([]int{1, 3, 4, 5}, got); d != "" {
		t.Errorf("numbers (-want +got):\n%s", d)
	}
	if len(c.DamagesWithdrawn) != 1 || c.DamagesWithdrawn[0].No != 2 ||
		c.DamagesWithdrawn[0].Withdrawn.Body.Reason != "a crease" {
		t.Errorf("withdrawn: %+v", c.DamagesWithdrawn)
	}
	// The withdrawal itself taken back: it stands again, under its number.
	if c, err = tryAppend(c, Item{Body: Withdrawn{Reason: "a tear after all"}, Corrects: seqs[3] + 1}); err != nil {
		t.Fatal(err)
	}
	if len(c.DamagesWithdrawn) != 0 || c.Damages[1].No != 2 {
		t.Errorf("taken back: %d withdrawn, second is no. %d", len(c.DamagesWithdrawn), c.Damages[1].No)
	}
}

func TestDamagesThatAreRefused(t *testing.T) {
	c := mapped(t)
	area := "outline 10,10 60,60 60,10 10,50"
	for _, tc := range []struct {
		name   string
		change func(*Damage)
		want   string
	}{
		{"off the sheet", func(d *Damage) { d.Shapes = shapesOf(t, "line 341,180 256,180") },
			"The shape reaches from 256, 180 to 341, 180 mm, off sheet 2, which is 340 by 262 mm."},
		{"crosses itself", func(d *Damage) { d.Term, d.Shapes = "loss", shapesOf(t, area) },
			"Shape 1: the outline crosses itself, so it has no area: draw it again without crossing."},
		{"no length", func(d *Damage) { d.Shapes = shapesOf(t, "line 10,10 10,10") },
			"Shape 1: this line has all its points in one place: mark a spot instead."},
		{"ten thousand shapes", func(d *Damage) { d.Shapes = make([]condition.Shape, 10000) },
			"10000 shapes are too many for one finding: 1 to 500 are possible."},
		{"a sheet that is not there", func(d *Damage) { d.Place.Sheets = []int{12} },
			"There is no sheet 12: the make-up has 9 inner sheets."},
		{"no face", func(d *Damage) { d.Place.Face = "" }, "Say on which face it is drawn: the outer or the inner."},
		{"a face that does not exist", func(d *Damage) { d.Place.Face = "upper" },
			`The face cannot be "upper": one of outer face, inner face is expected.`},
		{"no sheet", func(d *Damage) { d.Place.Sheets = nil }, "Say on which sheet it is drawn."},
		{"a tear on one face", func(d *Damage) { d.Through = false },
			"A tear shows on both faces: mark it as going through."},
		{"tape through", func(d *Damage) { d.Term = "pressure-sensitive tape" },
			"Pressure-sensitive tape lies on one face: draw it on each face where it is."},
		{"an area that is not there", func(d *Damage) { d.Area = NewID(mapDay) },
			"The area that it was taken over from is not in the record."},
	} {
		d := found(t, "tear", "line 340,180 256,180", 2, 3, 4)
		tc.change(&d)
		if _, err := tryAppend(c, Item{Body: d}); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: got %v, want %s", tc.name, err, tc.want)
		}
	}
}

func TestWhatALeftDamageNeeds(t *testing.T) {
	c := appended(t, mapped(t), found(t, "tear", "line 340,180 256,180", 2))
	after := DamageAfter{Damage: c.Damages[0].Body.ID, Outcome: DamageLeft}
	if _, err := tryAppend(c, Item{Body: after}); err == nil || err.Error() != "It was left on purpose: say why." {
		t.Errorf("left without a reason: %v", err)
	}
	after.Text, after.Mends = "stable", []string{NewID(mapDay)}
	if _, err := tryAppend(c, Item{Body: after}); err == nil ||
		err.Error() != "A mend that is named is not in the record." {
		t.Errorf("by a mend that is not there: %v", err)
	}
	after.Mends = nil
	if c = appended(t, c, after); c.Damages[0].After == nil {
		t.Error("how it stands is not kept")
	}
}

func TestLaidPhotographsAreConvex(t *testing.T) {
	for _, tc := range []struct {
		corners [4][2]float64
		ok      bool
	}{
		{[4][2]float64{{10, 12}, {2000, 8}, {2010, 1500}, {4, 1490}}, true},
		{[4][2]float64{{2000, 8}, {10, 12}, {4, 1490}, {2010, 1500}}, false}, // seen from behind
		{[4][2]float64{{10, 12}, {2010, 1500}, {2000, 8}, {4, 1490}}, false}, // crossed
		{[4][2]float64{{10, 12}, {10, 12}, {10, 12}, {10, 12}}, false},
		{[4][2]float64{{0, 0}, {100, 0}, {10, 10}, {0, 100}}, false}, // dented
	} {
		if got := convex(tc.corners); got != tc.ok {
			t.Errorf("%v: %v, want %v", tc.corners, got, tc.ok)
		}
	}
}
