package makeup

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestMakeUpsOfOneToFortySheets goes through every make-up of 1 to 40 sheets, with
// and without a cover, nested and stacked: each page is on one face of one sheet,
// reading order is the order of the numbers, faces of a nest add to 4N+1, the way
// back and forth ends where it began, and the drawing shows each leaf once.
func TestMakeUpsOfOneToFortySheets(t *testing.T) {
	for inner := 1; inner <= 40; inner++ {
		for _, cover := range []Cover{SeparateCover, SelfCover} {
			for _, build := range []Build{Nest, Stack} {
				m := MakeUp{Inner: inner, Cover: cover, Build: build, FirstNumber: 1}
				if err := m.Validate(); err != nil {
					t.Fatal(err)
				}
				what := fmt.Sprintf("%d %s sheets, cover %s", inner, build, cover)
				wholePages(t, what, m)
				wholeReading(t, what, m)
				wholeDrawing(t, what, m)
			}
		}
	}
}

func wholePages(t *testing.T, what string, m MakeUp) {
	per := 4
	if m.Build == Stack {
		per = 2
	}
	if sheets, over := SheetsFor(m.Pages(), m.Build); sheets != m.Inner || over != 0 || m.Pages() != per*m.Inner {
		t.Fatalf("%s: %d pages make %d sheets and %d over", what, m.Pages(), sheets, over)
	}
	on := map[Page]bool{}
	for position := 1; position <= m.Pages(); position++ {
		p, err := m.At(position)
		back, ok := m.Position(p)
		if err != nil || !ok || back != position || on[p] || !m.Has(p.Sheet) {
			t.Fatalf("%s: page %d is %v, which is page %d (%v, %v)", what, position, p, back, ok, err)
		}
		on[p] = true
		if p.Behind().Behind() != p {
			t.Fatalf("%s: page %d is not behind what is behind it", what, position)
		}
	}
	for _, s := range m.Sheets() {
		for _, f := range []Face{Outer, Inner} {
			pages := m.OnFace(s, f)
			sum := 0
			for _, p := range pages {
				if p.Face() != f || p.Sheet != s {
					t.Fatalf("%s: %v is not on the %s of %s", what, p, f, s)
				}
				position, ok := m.Position(p)
				if ok != (s != 0) {
					t.Fatalf("%s: %v has a position: %v", what, p, ok)
				}
				sum += position
			}
			if m.Single(s) != (len(pages) == 1) || s != 0 && !m.Single(s) && sum != 4*m.Inner+1 {
				t.Fatalf("%s: %s of %s carries %v, which add to %d", what, f, s, pages, sum)
			}
		}
	}
}

func wholeReading(t *testing.T, what string, m MakeUp) {
	position := 0
	for _, it := range m.Reading() {
		if p, ok := m.Position(it.Page); ok {
			if position++; p != position {
				t.Fatalf("%s: page %d is read as number %d", what, p, position)
			}
		}
	}
	if position != m.Pages() {
		t.Fatalf("%s: %d pages are read of %d", what, position, m.Pages())
	}
	if c := m.CollateSheets(m.Sheets()); !c.InOrder() || c.Found != len(m.Sheets()) {
		t.Fatalf("%s: in its own order it collates as %v", what, c.Sentences())
	}
}

func wholeDrawing(t *testing.T, what string, m MakeUp) {
	d := m.Draw(Layout{Width: 450, Words: 170, Gap: 9.4, MaxHeight: 350, LabelGap: 9, Selected: -1})
	ends := map[float64]Sheet{}
	for _, s := range d.Strokes {
		for _, seg := range s.Segments {
			for _, p := range []Point{seg.To, seg.C1, seg.C2} {
				if math.IsNaN(p.X+p.Y) || p.X < 0 || p.Y < 0 || p.X > d.Width || p.Y > d.Height {
					t.Fatalf("%s: %v lies off the drawing of %g by %g", what, p, d.Width, d.Height)
				}
			}
		}
		if s.Sheet >= 0 && s.Segments[0].To.X == 280 {
			ends[s.Segments[0].To.Y] = s.Sheet
		}
	}
	want := 0
	for _, s := range m.Sheets() {
		want += 2
		if m.Single(s) {
			want--
		}
	}
	if len(ends) != want || d.Height > 366 {
		t.Fatalf("%s: %d leaves at their fore-edges, want %d; %g high", what, len(ends), want, d.Height)
	}
	for _, l := range d.Labels {
		if ends[l.At.Y] != l.Sheet {
			t.Fatalf("%s: %q stands at %s", what, l.Text+l.Remark, ends[l.At.Y])
		}
	}
}

// TestDrawingOfStates draws sheets that are not simply there.
func TestDrawingOfStates(t *testing.T) {
	m := nest(4)
	m.States = []State{
		{Sheet: 1, Hold: Loose, Married: SecondLeaf, Basis: "lighter paper"}, {Sheet: 2, Missing: FirstLeaf}, {Sheet: 3, Split: true},
	}
	m.Inserts = []Insert{{AfterPosition: 4, Leaves: 1, What: "order card"}}
	d := m.Draw(Layout{Width: 450, Words: 170, Gap: 12, LabelGap: 9, Fastening: ThroughFold, Selected: 3})
	pens := map[Sheet]string{}
	curved := map[Sheet]int{}
	for _, s := range d.Strokes {
		pens[s.Sheet] += " " + string(s.Pen)
		for _, seg := range s.Segments {
			if seg.Curved {
				curved[s.Sheet]++
			}
		}
	}
	for s, want := range map[Sheet]string{
		-1: " insert staple", 0: " cover cover", 1: " loose married", 2: " gone sheet", 3: " selected sheet selected sheet",
		4: " sheet sheet",
	} {
		if pens[s] != want {
			t.Errorf("%s is drawn with%s, want%s", s, pens[s], want)
		}
	}
	if curved[1] != 2 || curved[2] != 0 || curved[3] != 0 {
		t.Errorf("folds drawn: %v, want none of sheets 2 and 3", curved)
	}
	var words []string
	for _, l := range d.Labels {
		words = append(words, strings.TrimSpace(l.Text+" "+l.Remark))
	}
	for _, want := range []string{
		"1/2 sheet 1, loose; the second leaf from another copy", "3/4 sheet 2, the first leaf missing", "order card",
		"5/6 sheet 3, split along the fold into two single leaves", "15/16 sheet 1", "inside back/back cover",
	} {
		if !strings.Contains(strings.Join(words, "\n")+"\n", want+"\n") {
			t.Errorf("%q is not among the labels %q", want, words)
		}
	}
}

func TestDrawingOfAStack(t *testing.T) {
	m := MakeUp{Inner: 6, Cover: SeparateCover, Build: Stack, FirstNumber: 1}
	m.States = []State{{Sheet: 2, Missing: BothLeaves}}
	d := m.Draw(Layout{Width: 450, Words: 170, Gap: 12, LabelGap: 9, Fastening: GluedAtSpine, Selected: -1})
	if !d.Uses(PenGlue) || !d.Uses(PenGone) || d.Uses(PenStaple) {
		t.Errorf("a glued stack with a leaf missing is drawn with %v", d.Strokes)
	}
	m.States = []State{{Sheet: 2, Missing: SecondLeaf}, {Sheet: 3, Split: true}}
	if err := m.Validate(); err == nil || strings.Count(err.Error(), "single leaf") != 2 {
		t.Errorf("a single leaf with a second: %v", err)
	}
}

func TestDrawSpine(t *testing.T) {
	number := func(v float64) string { return fmt.Sprintf("%g", v) }
	d := DrawSpine(262, []SpineStaple{
		{Number: 1, FromHeadMm: 62, CrownMm: 12}, {Number: 2, FromHeadMm: 198, Rusty: true}, {Number: 3, FromHeadMm: 230, Out: true},
	}, 582, number)
	// 524 points for 262 mm: two points to the millimetre.
	at := map[Pen]float64{}
	for _, s := range d.Strokes {
		at[s.Pen] = (s.Segments[0].To.X + s.Segments[3%len(s.Segments)].To.X) / 2
	}
	for pen, mm := range map[Pen]float64{PenStaple: 62, PenRust: 198, PenOut: 230} {
		if got := (at[pen] - 32) / 2; math.Abs(got-mm) > 1e-9 {
			t.Errorf("%s staple at %g mm, want %g", pen, got, mm)
		}
	}
	if d := DrawSpine(0, nil, 400, number); len(d.Strokes) != 0 {
		t.Error("a spine of no length is drawn")
	}
}
