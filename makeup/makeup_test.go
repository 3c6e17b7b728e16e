package makeup

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// nest is a complete nest of n inner sheets in a separate cover.
func nest(n int) MakeUp { return MakeUp{Inner: n, Cover: SeparateCover, FirstNumber: 1} }

// foldedNest numbers the pages of n nested sheets by folding, without any
// formula: the sheets are laid in one another, the leaves are turned from the
// front, and each page is numbered as it comes up.
func foldedNest(n int) map[Page]int {
	var leaves []Page // the recto of each leaf, in the order in which they are turned
	for k := 1; k <= n; k++ {
		leaves = append(leaves, Page{Sheet(k), First, Recto})
	}
	for k := n; k >= 1; k-- {
		leaves = append(leaves, Page{Sheet(k), Second, Recto})
	}
	numbers := map[Page]int{}
	for _, p := range leaves {
		numbers[p] = len(numbers) + 1
		numbers[p.Behind()] = len(numbers) + 1
	}
	return numbers
}

func TestPositionsAgreeWithFolding(t *testing.T) {
	for n := 1; n <= MaxInner; n++ {
		m := nest(n)
		for page, want := range foldedNest(n) {
			if got, ok := m.Position(page); !ok || got != want {
				t.Fatalf("N=%d: %+v has position %d (%t), folding gives %d", n, page, got, ok, want)
			}
			if got, err := m.At(want); err != nil || got != page {
				t.Fatalf("N=%d: position %d is %+v (%v), folding gives %+v", n, want, got, err, page)
			}
		}
	}
}

// TestFaces checks whole faces against worked examples: N=8 as any printer's
// imposition table for a saddle-stitched issue of 32 pages has it (common
// practice, no source), N=9 worked by folding nine sheets, N=1 by folding one.
func TestFaces(t *testing.T) {
	for _, tc := range []struct {
		inner int
		sheet Sheet
		face  Face
		want  string
	}{
		{8, 1, Outer, "sheet 1, outer face: pages 32 | 1"},
		{8, 1, Inner, "sheet 1, inner face: pages 2 | 31"},
		{8, 8, Outer, "sheet 8, outer face: pages 18 | 15"},
		{8, 8, Inner, "sheet 8, inner face: pages 16 | 17"},
		{9, 1, Outer, "sheet 1, outer face: pages 36 | 1"},
		{9, 1, Inner, "sheet 1, inner face: pages 2 | 35"},
		{9, 3, Outer, "sheet 3, outer face: pages 32 | 5"},
		{9, 9, Outer, "sheet 9, outer face: pages 20 | 17"},
		{9, 9, Inner, "sheet 9, inner face: pages 18 | 19"},
		{1, 1, Outer, "sheet 1, outer face: pages 4 | 1"},
		{1, 1, Inner, "sheet 1, inner face: pages 2 | 3"},
		{9, 0, Outer, "cover, outer face: back | front"},
		{9, 0, Inner, "cover, inner face: inside front | inside back"},
	} {
		if got := nest(tc.inner).FaceName(tc.sheet, tc.face); got != tc.want {
			t.Errorf("N=%d: got %q, want %q", tc.inner, got, tc.want)
		}
	}
}

func TestNumbersOnAFaceAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := nest(rapid.IntRange(1, MaxInner).Draw(t, "inner"))
		position := rapid.IntRange(1, m.Pages()).Draw(t, "position")
		p, err := m.At(position)
		if err != nil {
			t.Fatal(err)
		}
		if back, ok := m.Position(p); !ok || back != position {
			t.Fatalf("position %d of N=%d comes back as %d", position, m.Inner, back)
		}
		beside, _ := m.Position(p.Beside())
		if position+beside != 4*m.Inner+1 {
			t.Fatalf(
				"N=%d: %d and %d lie side by side and add to %d, not %d",
				m.Inner,
				position,
				beside,
				position+beside,
				4*m.Inner+1,
			)
		}
		behind, _ := m.Position(p.Behind())
		if (position+1)/2 != (behind+1)/2 || position == behind {
			t.Fatalf("N=%d: %d is behind %d", m.Inner, behind, position)
		}
		left, right := Beside(p.Sheet, p.Face())
		want := left
		if p.OnRight() {
			want = right
		}
		if p != want || left.Beside() != right || right.Beside() != left {
			t.Fatalf("%+v is not on its own face: left %+v, right %+v", p, left, right)
		}
		if p.Behind().Behind() != p || p.Beside().Beside() != p || p.Behind().Face() != p.Face().Other() {
			t.Fatalf("%+v: going behind or beside twice does not return, or a leaf's sides lie on one face", p)
		}
	})
}

func TestPositionsOutside(t *testing.T) {
	m := nest(9)
	for _, position := range []int{-1, 0, 37, math.MaxInt} {
		if p, err := m.At(position); err == nil {
			t.Errorf("position %d of 36 is %+v, want an error", position, p)
		}
	}
	for _, p := range []Page{{0, First, Recto}, {-1, First, Recto}, {10, Second, Verso}} {
		if position, ok := m.Position(p); ok {
			t.Errorf("%+v has position %d, want none", p, position)
		}
	}
}

func names(m MakeUp, items []Item) []string {
	var list []string
	for _, it := range items {
		list = append(list, m.ItemName(it))
	}
	return list
}

func TestReading(t *testing.T) {
	small := MakeUp{Inner: 1, Cover: SeparateCover, FirstNumber: 1}
	for _, tc := range []struct {
		name   string
		change func(*MakeUp)
		found  bool
		want   string
	}{
		{"complete", func(*MakeUp) {}, false, "front, inside front, 1, 2, 3, 4, inside back, back"},
		{"self-cover", func(m *MakeUp) { m.Cover = SelfCover }, false, "1, 2, 3, 4"},
		{"cover gone", func(m *MakeUp) { m.States = []State{{Sheet: 0, Missing: BothLeaves}} }, true, "1, 2, 3, 4"},
		{"cover gone, as made", func(m *MakeUp) { m.States = []State{{Sheet: 0, Missing: BothLeaves}} }, false,
			"front, inside front, 1, 2, 3, 4, inside back, back"},
		{"half gone", func(m *MakeUp) { m.States = []State{{Sheet: 1, Missing: SecondLeaf}} }, true,
			"front, inside front, 1, 2, inside back, back"},
		{"insert", func(m *MakeUp) { m.Inserts = []Insert{{2, 1, "card"}} }, true, "front, inside front, 1, 2, " +
			"card, leaf 1 recto, card, leaf 1 verso, 3, 4, inside back, back"},
		{"insert under the cover", func(m *MakeUp) { m.Inserts = []Insert{{0, 1, "card"}} }, true,
			"front, inside front, card, leaf 1 recto, card, leaf 1 verso, 1, 2, 3, 4, inside back, back"},
		{"numbers run on", func(m *MakeUp) { m.FirstNumber = 33 }, false, "front, inside front, 33, 34, 35, 36, " +
			"inside back, back"},
		{"unnumbered", func(m *MakeUp) { m.Printed = []Printed{{1, ""}} }, false, "front, inside front, [1], 2, 3, " +
			"4, inside back, back"},
		{"misnumbered", func(m *MakeUp) { m.Printed = []Printed{{3, "2"}} }, false, "front, inside front, 1, 2 [2], " +
			"2 [3], 4, inside back, back"},
		{"other numbering", func(m *MakeUp) { m.Printed = []Printed{{1, "i"}, {2, "ii"}} }, false,
			"front, inside front, i, ii, 3, 4, inside back, back"},
	} {
		m := small
		tc.change(&m)
		if err := m.Validate(); err != nil {
			t.Fatalf("%s: %v", tc.name, err)
		}
		items := m.Reading()
		if tc.found {
			items = m.ReadingFound()
		}
		if got := strings.Join(names(m, items), ", "); got != tc.want {
			t.Errorf("%s: got %q, want %q", tc.name, got, tc.want)
		}
	}
}

func TestOpenings(t *testing.T) {
	m := nest(2)
	m.States = []State{{Sheet: 2, Missing: FirstLeaf}} // pages 3 and 4
	var got []string
	for _, o := range Openings(m.ReadingFound()) {
		left, right := "", ""
		if o.Left != nil {
			left = m.ItemName(*o.Left)
		}
		if o.Right != nil {
			right = m.ItemName(*o.Right)
		}
		got = append(got, left+"|"+right)
	}
	want := []string{"|front", "inside front|1", "2|5", "6|7", "8|inside back", "back|"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("openings (-want +got):\n%s", diff)
	}
	if got := Openings(nil); len(got) != 0 {
		t.Errorf("an object without leaves has %d openings", len(got))
	}
}

func TestFacesFound(t *testing.T) {
	m := nest(2)
	m.States = []State{{Sheet: 1, Missing: BothLeaves}, {Sheet: 2, Missing: FirstLeaf}}
	want := []FaceRef{{0, Outer}, {0, Inner}, {2, Outer}, {2, Inner}}
	if diff := cmp.Diff(want, m.Faces()); diff != "" {
		t.Errorf("faces (-want +got):\n%s", diff)
	}
	if got, want := m.FaceName(2, Inner), "sheet 2, inner face: pages (gone) | 5"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// drawn is any valid make-up.
func drawn(t *rapid.T) MakeUp {
	m := MakeUp{
		Inner:       rapid.IntRange(1, 30).Draw(t, "inner"),
		Cover:       rapid.SampledFrom([]Cover{SeparateCover, SelfCover}).Draw(t, "cover"),
		FirstNumber: rapid.IntRange(-5, 50).Draw(t, "first"),
	}
	for _, position := range rapid.SliceOfNDistinct(rapid.IntRange(1, m.Pages()), 0, 6, rapid.ID[int]).Draw(t, "printed") {
		number := rapid.SampledFrom([]string{"", "1", "2", "17", "17a", "S-1", "front", "iv", "-3"}).Draw(t, "number")
		m.Printed = append(m.Printed, Printed{position, number})
	}
	for _, s := range rapid.SliceOfNDistinct(rapid.IntRange(int(m.FirstSheet()), m.Inner), 0, 4, rapid.ID[int]).Draw(t,
		"states") {
		m.States = append(m.States, State{Sheet: Sheet(s), Missing: Leaves(rapid.IntRange(0, 3).Draw(t, "missing"))})
	}
	if rapid.Bool().Draw(t, "insert") {
		m.Inserts = []Insert{
			{
				AfterPosition: 2 * rapid.IntRange(1, 2*m.Inner-1).Draw(t, "after"),
				Leaves:        rapid.IntRange(1, 3).Draw(t, "leaves"),
				What:          "card",
			},
		}
	}
	if err := m.Validate(); err != nil {
		t.Fatalf("the generator made %+v: %v", m, err)
	}
	return m
}

func TestNamesDiffer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawn(t)
		list := names(m, m.Reading())
		sorted := slices.Sorted(slices.Values(list))
		if len(slices.Compact(sorted)) != len(list) {
			t.Fatalf("two pages of %+v have one name: %q", m, list)
		}
	})
}

func TestWhatIsThereCollatesInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawn(t)
		var there []string
		for _, it := range m.ReadingFound() {
			if it.Insert == nil {
				there = append(there, m.Name(it.Page))
			}
		}
		c, err := m.CollatePages(strings.Join(there, ", "))
		if err != nil || !c.InOrder() || c.Found != len(there) {
			t.Fatalf("%+v, read as it is, collates as %v (%v)", m, c.Sentences(), err)
		}
		var sheets []Sheet
		for _, s := range m.Sheets() {
			if m.State(s).Missing != BothLeaves {
				sheets = append(sheets, s)
			}
		}
		if c := m.CollateSheets(sheets); !c.InOrder() || c.Found != len(sheets) {
			t.Fatalf("%+v, stacked as it is, collates as %v", m, c.Sentences())
		}
	})
}

// TestOneSheetMovedIsFound moves one sheet of a nest somewhere else: nothing is
// reported but a misplaced sheet, and putting that one back mends the order.
func TestOneSheetMovedIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := nest(rapid.IntRange(1, 30).Draw(t, "inner"))
		right := m.Sheets()
		from := rapid.IntRange(0, len(right)-1).Draw(t, "from")
		to := rapid.IntRange(0, len(right)-1).Draw(t, "to")
		lies := slices.Insert(slices.Delete(slices.Clone(right), from, from+1), to, right[from])
		c := m.CollateSheets(lies)
		if from == to {
			if !c.InOrder() {
				t.Fatalf("right order reported: %v", c.Sentences())
			}
			return
		}
		if len(c.Findings) != 1 || c.Findings[0].Kind != Misplaced {
			t.Fatalf("%v: got %v, want one misplaced sheet", lies, c.Sentences())
		}
		// The finding may name a neighbour of the moved sheet when the two
		// changed places: so the test is that its advice works.
		i := slices.IndexFunc(lies, func(s Sheet) bool { return s.String() == c.Findings[0].Names[0] })
		moved := lies[i]
		mended := slices.Delete(slices.Clone(lies), i, i+1)
		mended = slices.Insert(mended, int(moved), moved)
		if diff := cmp.Diff(right, mended); diff != "" {
			t.Fatalf("putting %s back does not mend %v:\n%s", moved, lies, diff)
		}
	})
}

func TestCollatePagesSentences(t *testing.T) {
	m := nest(9)
	m.States = []State{{Sheet: 2, Missing: SecondLeaf}} // pages 33 and 34
	for _, tc := range []struct {
		name, found string
		inOrder     bool
		want        []string
	}{
		{"as recorded", "front - inside front, 1-32, 35-back", true, []string{
			"page 33 and page 34 (the second leaf of sheet 2) are missing, as recorded",
			"all 38 that should be there were found, in order",
		}},
		{"more is missing", "front-18, 21-32, 35-back", false, []string{
			"page 19 and page 20 (the second leaf of sheet 9) are missing",
			"page 33 and page 34 (the second leaf of sheet 2) are missing, as recorded",
		}},
		{"one side read", "front-18, 20-32, 35-back", false, []string{
			"page 19 (the second leaf of sheet 9) is missing",
			"page 33 and page 34 (the second leaf of sheet 2) are missing, as recorded",
		}},
		{"it turns up", "front-back", false, []string{
			"page 33 was found, though it is recorded as missing",
			"page 34 was found, though it is recorded as missing",
		}},
		{"twice, unknown and in the wrong place", "1, front-32, 35-back, 99", false, []string{
			"page 1 was found 2 times",
			"page 1 stands first, but belongs between the inside front and page 2",
			"page 33 and page 34 (the second leaf of sheet 2) are missing, as recorded",
			`"99" was found, which this make-up does not have`,
		}},
	} {
		c, err := m.CollatePages(tc.found)
		if err != nil {
			t.Errorf("%s: %v", tc.name, err)
			continue
		}
		if diff := cmp.Diff(tc.want, c.Sentences()); diff != "" || c.InOrder() != tc.inOrder {
			t.Errorf("%s: in order %t, want %t (-want +got):\n%s", tc.name, c.InOrder(), tc.inOrder, diff)
		}
	}
	for _, tc := range []struct{ found, want string }{
		{"1-99", `"1-99" cannot be read as pages from one to another: both ends must be pages of this make-up, as in front-back`},
		{"12-8", `"12-8" runs backwards: page 8 comes before page 12`},
		{strings.Repeat("front-back,", 1000), "the list names far more pages than the 40 that this make-up has"},
	} {
		if _, err := m.CollatePages(tc.found); err == nil || err.Error() != tc.want {
			t.Errorf("%.20q: got %v, want %s", tc.found, err, tc.want)
		}
	}
}

func TestCollateSheetsSentences(t *testing.T) {
	got := nest(4).CollateSheets([]Sheet{1, 4, 2, 3, 7}).Sentences()
	want := []string{
		"the cover is missing",
		"sheet 4 stands after sheet 1, but belongs after sheet 3",
		`"sheet 7" was found, which this make-up does not have`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestValidate(t *testing.T) {
	for _, tc := range []struct {
		name   string
		change func(*MakeUp)
		want   string
	}{
		{"good", func(*MakeUp) {}, ""},
		{"loose", func(m *MakeUp) { m.States = []State{{Sheet: 7, Hold: Loose}} }, ""},
		{"married", func(m *MakeUp) { m.States = []State{{Sheet: 7, Married: SecondLeaf, Basis: "other paper"}} }, ""},
		{"no sheets", func(m *MakeUp) { m.Inner = 0 }, "the make-up cannot have 0 inner sheets: 1 to 200 is possible"},
		{"too many", func(m *MakeUp) { m.Inner = math.MaxInt }, "the make-up cannot have 9223372036854775807 inner " +
			"sheets: 1 to 200 is possible"},
		{"no cover", func(m *MakeUp) { m.Cover = "" }, `the cover cannot be "": it is "separate" or "self"`},
		{"printed outside", func(m *MakeUp) { m.Printed = []Printed{{37, "x"}} },
			`there is no page at position 37 to be numbered "x": 9 inner sheets have pages 1 to 36`},
		{"printed twice", func(m *MakeUp) { m.Printed = []Printed{{3, "x"}, {3, "y"}} }, "the printed number of " +
			"position 3 is given twice"},
		{"brackets", func(m *MakeUp) { m.Printed = []Printed{{3, "[4]"}} },
			`the printed number "[4]" of position 3 cannot be used: leave out brackets, commas and spaces at its ends`},
		{"insert inside a leaf", func(m *MakeUp) { m.Inserts = []Insert{{3, 1, "card"}} }, `the insert "card" cannot stand after page 3, since pages 3 and 4 are two sides of one leaf: it stands after page 2 or 4`},
		{"insert outside", func(m *MakeUp) { m.Inserts = []Insert{{38, 1, "card"}} },
			`the insert "card" cannot stand after position 38: 9 inner sheets have pages 1 to 36`},
		{"insert on a self-cover", func(m *MakeUp) { m.Cover = SelfCover; m.Inserts = []Insert{{0, 1, "card"}} },
			`the insert "card" cannot stand outside a self-cover: record it as a part found with the object`},
		{"insert without leaves", func(m *MakeUp) { m.Inserts = []Insert{{2, 0, "card"}} },
			`the insert "card" cannot have 0 leaves: 1 to 100 is possible, and a folded sheet has 2`},
		{"nameless insert", func(m *MakeUp) { m.Inserts = []Insert{{2, 1, " "}} }, "the insert after position 2 " +
			"needs a name: say what it is"},
		{"no such sheet", func(m *MakeUp) { m.States = []State{{Sheet: 10}} }, "there is no sheet 10 to have a " +
			"state: the sheets count from 0 to 9"},
		{"cover of a self-cover", func(m *MakeUp) { m.Cover = SelfCover; m.States = []State{{Sheet: 0}} },
			"there is no cover to have a state: the sheets count from 1 to 9"},
		{"state twice", func(m *MakeUp) { m.States = []State{{Sheet: 0}, {Sheet: 0}} }, "the state of the cover is " +
			"given twice"},
		{"odd leaves", func(m *MakeUp) { m.States = []State{{Sheet: 1, Missing: 4}} }, "the leaves of sheet 1 are " +
			"not given rightly: a sheet has a first and a second leaf"},
		{"missing and loose", func(m *MakeUp) { m.States = []State{{Sheet: 1, Missing: BothLeaves, Hold: Loose}} },
			"sheet 1 is missing, so it cannot be loose as well"},
		{"half and split", func(m *MakeUp) { m.States = []State{{Sheet: 1, Missing: FirstLeaf, Split: true}} },
			"sheet 1 lacks the first leaf, so its fold cannot be called split as well"},
		{"missing and married",
			func(m *MakeUp) { m.States = []State{{Sheet: 1, Missing: FirstLeaf, Married: BothLeaves, Basis: "x"}} },
			"of sheet 1, the first leaf cannot be missing and from another copy at once"},
		{"married without basis", func(m *MakeUp) { m.States = []State{{Sheet: 0, Married: BothLeaves}} },
			"that both leaves of the cover came from another copy is an inference: say what it rests on"},
		{"odd hold", func(m *MakeUp) { m.States = []State{{Sheet: 1, Hold: "glued"}} },
			`sheet 1 cannot be held "glued": it is held (""), off one fastening ("part") or "loose"`},
	} {
		m := nest(9)
		tc.change(&m)
		got := ""
		if err := m.Validate(); err != nil {
			got = err.Error()
		}
		if got != tc.want {
			t.Errorf("%s: got %q, want %q", tc.name, got, tc.want)
		}
	}
}

func TestStateWords(t *testing.T) {
	for _, tc := range []struct {
		state State
		want  string
	}{
		{State{}, ""},
		{State{Missing: BothLeaves}, "missing"},
		{State{Missing: SecondLeaf, Hold: ByOne}, "the second leaf missing; off one fastening"},
		{State{Split: true, Hold: Loose}, "split along the fold into two single leaves; loose"},
		{State{Married: BothLeaves, Basis: "whiter paper"}, "both leaves from another copy (inferred: whiter paper)"},
	} {
		if got := tc.state.Words(); got != tc.want {
			t.Errorf("%+v: got %q, want %q", tc.state, got, tc.want)
		}
	}
}

// TestCreep checks the sharp figure against common practice, no source: the
// innermost of 8 sheets of 75 um stands out by about 0.5 mm, of 16 by 1.1 mm;
// and the round figure against the lengths of nested half circles.
func TestCreep(t *testing.T) {
	for _, tc := range []struct {
		sheets int
		wantMm float64
	}{{8, 0.525}, {16, 1.125}, {1, 0}} {
		thicknesses := slices.Repeat([]float64{0.075}, tc.sheets)
		creep, err := CreepOf(thicknesses)
		if err != nil {
			t.Fatal(err)
		}
		last := creep[len(creep)-1]
		if math.Abs(last.SharpMm-tc.wantMm) > 1e-9 {
			t.Errorf("%d sheets: sharp creep %g mm, want %g mm", tc.sheets, last.SharpMm, tc.wantMm)
		}
		// Outermost half circle about the innermost fold: radius n*t against
		// t; each leaf has half of the difference of the arcs.
		r := 0.075 * float64(tc.sheets)
		arc := (math.Pi*r - math.Pi*0.075) / 2
		if math.Abs(last.RoundMm-arc) > 1e-9 {
			t.Errorf("%d sheets: round creep %g mm, want %g mm", tc.sheets, last.RoundMm, arc)
		}
	}
	for _, bad := range []float64{0, -1, 5.1, math.NaN(), math.Inf(1)} {
		if _, err := CreepOf([]float64{0.1, bad}); err == nil || !strings.Contains(err.Error(), "sheet 2 of the nest") {
			t.Errorf("a thickness of %g mm gives %v, want an error that names sheet 2", bad, err)
		}
	}
}

func FuzzCollatePages(f *testing.F) {
	f.Add("front-back")
	f.Add("1–4, [3], 17a-, -–-, ,,")
	m := nest(9)
	f.Fuzz(func(t *testing.T, found string) {
		c, err := m.CollatePages(found)
		if err == nil && len(c.Sentences()) == 0 {
			t.Errorf("%q collates without a word", found)
		}
	})
}

func ExampleMakeUp_FaceName() {
	m := MakeUp{Inner: 9, Cover: SeparateCover, FirstNumber: 1}
	for _, f := range m.Faces()[:4] {
		fmt.Println(m.FaceName(f.Sheet, f.Face))
	}
	// Output:
	// cover, outer face: back | front
	// cover, inner face: inside front | inside back
	// sheet 1, outer face: pages 36 | 1
	// sheet 1, inner face: pages 2 | 35
}

func BenchmarkCollatePages(b *testing.B) {
	m := nest(MaxInner)
	for b.Loop() {
		if _, err := m.CollatePages("front-back"); err != nil {
			b.Fatal(err)
		}
	}
}

// TestInvalidDoesNotPanic calls everything on make-ups that Validate may refuse.
func TestInvalidDoesNotPanic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		odd := rapid.IntRange(-3, 12)
		text := rapid.SampledFrom([]string{"", "1", "[3]", "front", "1, 2", "-"})
		m := MakeUp{
			Inner:       odd.Draw(t, "inner"),
			Cover:       rapid.SampledFrom([]Cover{"", SelfCover, SeparateCover}).Draw(t, "cover"),
			FirstNumber: odd.Draw(t, "first"),
		}
		for range rapid.IntRange(0, 3).Draw(t, "parts") {
			m.Printed = append(m.Printed, Printed{odd.Draw(t, "position"), text.Draw(t, "number")})
			m.Inserts = append(m.Inserts, Insert{odd.Draw(t, "after"), odd.Draw(t, "leaves"), text.Draw(t, "what")})
			m.States = append(
				m.States,
				State{
					Sheet:   Sheet(odd.Draw(t, "sheet")),
					Missing: Leaves(odd.Draw(t, "missing")),
					Married: Leaves(odd.Draw(t, "married")),
					Hold:    Hold(text.Draw(t, "hold")),
				},
			)
		}
		_ = m.Validate()
		_ = names(m, m.Reading())
		_ = Openings(m.ReadingFound())
		for _, f := range m.Faces() {
			_ = m.FaceName(f.Sheet, f.Face)
		}
		for _, st := range m.States {
			_ = st.Words()
		}
		_ = m.CollateSheets([]Sheet{Sheet(odd.Draw(t, "found")), 0, 1}).Sentences()
		if _, err := m.CollatePages(text.Draw(t, "list")); err != nil && err.Error() == "" {
			t.Fatal("an error without a sentence")
		}
		p := Page{Sheet(odd.Draw(t, "sheet")), Leaf(odd.Draw(t, "leaf")), Side(odd.Draw(t, "side"))}
		_, _ = m.Position(p)
		_ = m.Name(p) + m.FaceName(p.Sheet, Face(odd.Draw(t, "face"))) + m.Name(p.Beside()) + m.Name(p.Behind())
	})
}
