package papers

import (
	"bytes"
	"image"
	"image/jpeg"
	"strings"
	"testing"
	"time"
	"unicode"

	"pgregory.net/rapid"

	"github.com/carlos7ags/folio/layout"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func face0(t testing.TB) *typeface {
	tf, err := newTypeface()
	if err != nil {
		t.Fatal(err)
	}
	return tf
}

func textOf(lines []line) string {
	var b strings.Builder
	for _, l := range lines {
		for _, g := range l.glyphs {
			b.WriteRune(g.r)
		}
	}
	return b.String()
}

func bare(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
}

func TestLinesKeepEveryCharacterAndTheirWidth(t *testing.T) {
	tf := face0(t)
	rapid.Check(t, func(t *rapid.T) {
		var spans []span
		want := ""
		for range rapid.IntRange(1, 4).Draw(t, "spans") {
			s := rapid.StringOf(rapid.RuneFrom([]rune("abc XYZ 019 -–—/.,äßłž°²₃\n\u00a0漢🙂\u202f µ"))).Draw(t, "text")
			spans = append(spans, span{s, rapid.SampledFrom([]*style{body, bodyIt, fineBold}).Draw(t, "style")})
			want += tf.legible(s)
		}
		width := rapid.Float64Range(1, 300).Draw(t, "width")
		lines := tf.setLines(spans, width)
		if got := textOf(lines); bare(got) != bare(want) {
			t.Fatalf("set %q, want %q", got, want)
		}
		for _, l := range lines {
			if l.width > width+2*slack && len(l.glyphs) > 1 {
				t.Fatalf("the line %q is %v wide, the column %v", textOf([]line{l}), l.width, width)
			}
		}
	})
}

func TestBreaks(t *testing.T) {
	tf := face0(t)
	for _, x := range []struct {
		name, text string
		width      float64
		want       []string
	}{
		{"between words", "one two three", 45, []string{"one two", "three"}},
		{"a number keeps its unit", "about 0.4\u00a0g/L here", 52, []string{"about", "0.4\u00a0g/L", "here"}},
		{"after a hyphen in a word", "re-examination", 60, []string{"re-", "examination"}},
		{"not after a minus", "x -40", 18, []string{"x", "-40"}},
		{"forced", "a\nb", 100, []string{"a", "b"}},
		{"empty", "", 100, []string{""}},
		{"empty lines stay", "a\n\nb", 100, []string{"a", "", "b"}},
	} {
		var got []string
		for _, l := range tf.setLines([]span{{x.text, body}}, x.width) {
			got = append(got, textOf([]line{l}))
		}
		if strings.Join(got, "|") != strings.Join(x.want, "|") {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
}

// The characters that papers are sure to need must have a form in every face.
func TestTypefaceHasWhatPapersNeed(t *testing.T) {
	tf := face0(t)
	const need = "–—−±µ²³°×½¼¾¹Δ₂₃₄≤≥≈“”‘’…·†©€£§ÀÉÎÕÜßÆØÅŁłŠšŽžČčĐđĞğİıŐőŰűŢţȘșŻżÞþðΑΒΓΩαβγδελπσωЖЯжяЇіґ"
	for f := range faces {
		for _, r := range need {
			if tf.faces[f].GlyphIndex(r) == 0 {
				t.Errorf("%s has no form for %q (U+%04X)", faceFiles[f], r, r)
			}
		}
		for r := '0'; r <= '9'; r++ {
			if tf.faces[f].advance(r) != tf.faces[f].advance('0') {
				t.Errorf("%s: figures are not of one width: %q", faceFiles[f], r)
			}
		}
	}
}

func TestLegible(t *testing.T) {
	for _, x := range []struct{ in, want, missing string }{
		{"plain", "plain", ""},
		{"Ange\u0301lique", "Angélique", ""},
		{"漢字 and 🙂", "[U+6F22 U+5B57] and [U+1F642]", "🙂字漢"},
		{"soft\u00adhyphen\u200b", "softhyphen", ""},
		{"5\u202fmm\u2009wide\t.", "5\u00a0mm wide .", ""},
		{"3 \u03bcm \u2206", "3 µm Δ", ""},
		{"bell\a", "bell[U+0007]", "\a"},
		{"bad\xffbyte", "bad[U+FFFD]byte", "\ufffd"},
		{"two\r\nlines\rmore", "two\nlines\nmore", ""},
	} {
		tf := face0(t)
		if got := tf.legible(x.in); got != x.want {
			t.Errorf("legible(%q) = %q, want %q", x.in, got, x.want)
		}
		for _, r := range x.missing {
			if !tf.missing[r] {
				t.Errorf("legible(%q) does not note %q as missing", x.in, r)
			}
		}
		if len(tf.missing) != len([]rune(x.missing)) {
			t.Errorf("legible(%q) notes %v as missing, want %q", x.in, tf.missing, x.missing)
		}
	}
}

// box is a block of lines of 10 points that may be split anywhere.
type box struct{ lines int }

func (b box) set(w, h float64, fresh bool) ([]placed, float64, block) {
	n := min(b.lines, max(0, int(h/10)))
	if n == 0 && fresh {
		n = 1
	}
	if n == 0 {
		return nil, 0, b
	}
	d := []placed{{Height: 10 * float64(n), Tag: "P"}}
	if n == b.lines {
		return d, 10 * float64(n), nil
	}
	return d, 10 * float64(n), box{b.lines - n}
}

func TestPaginate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var items []item
		total := 0
		for range rapid.IntRange(0, 30).Draw(t, "n") {
			n := rapid.IntRange(1, 40).Draw(t, "lines")
			keep := rapid.Bool().Draw(t, "keep")
			if keep {
				n = 1
			}
			total += n
			items = append(
				items,
				item{
					box{n},
					rapid.Float64Range(0, 20).Draw(t, "before"),
					rapid.Float64Range(0, 20).Draw(t, "after"),
					keep,
					rapid.Bool().Draw(t, "leads"),
				},
			)
		}
		const h = 200.0
		pages := paginate(items, 100, h)
		set := 0.0
		for i, p := range pages {
			y := 0.0
			for _, b := range p {
				if b.Y < y-1e-6 || b.Y+b.Height > h+1e-6 && b.Y > 0 {
					t.Fatalf(
						"page %d: a block at %v of height %v overlaps or hangs over (the last ended at %v)",
						i,
						b.Y,
						b.Height,
						y,
					)
				}
				y = b.Y + b.Height
				set += b.Height
			}
			if len(p) == 0 && len(items) > 0 {
				t.Fatalf("page %d of %d is empty", i, len(pages))
			}
		}
		if set != float64(10*total) {
			t.Fatalf("%v points of text were set, want %d", set, 10*total)
		}
	})
}

func TestAHeadingStaysWithItsText(t *testing.T) {
	heading := item{block: box{1}, keep: true}
	pages := paginate([]item{{block: box{19}}, heading, {block: box{3}}}, 100, 200)
	if len(pages) != 2 || len(pages[0]) != 1 || len(pages[1]) != 2 {
		t.Errorf(
			"the heading stands alone at the foot of a page: %d pages, %d blocks on the first",
			len(pages),
			len(pages[0]),
		)
	}
	// Two headings above each other move on together.
	pages = paginate([]item{{block: box{18}}, heading, heading, {block: box{3}}}, 100, 200)
	if len(pages) != 2 || len(pages[0]) != 1 || len(pages[1]) != 3 {
		t.Errorf("two headings do not move on together: %d pages, %d blocks on the first", len(pages), len(pages[0]))
	}
}

// A chain of kept items whose middle is split over a page keeps what stands on the
// page before.
func TestAChainOverAPageLosesNothing(t *testing.T) {
	kept := func(lines int) item { return item{block: box{lines}, keep: true} }
	pages := paginate(
		[]item{{block: box{18}}, kept(1), kept(10), kept(11), {block: drawing{height: 60, alt: "x"}}},
		100,
		200,
	)
	lines := 0.0
	for _, p := range pages {
		for _, b := range p {
			if b.Y+b.Height > 200 {
				t.Errorf("a block ends at %v, below the page", b.Y+b.Height)
			}
			lines += b.Height / 10
		}
	}
	if lines != 18+1+10+11+6 {
		t.Errorf("%v lines were set, want 46: %v", lines, pages)
	}
}

func TestParagraphLeavesNoSingleLine(t *testing.T) {
	tf := face0(t)
	p := paragraph{t: tf, spans: []span{{strings.TrimSpace(strings.Repeat("word ", 60)), body}}, tag: "P"}
	all := len(tf.setLines(p.spans, 200))
	for lines := range all {
		done, used, rest := p.set(200, float64(lines)*body.lead, false)
		first := int(used/body.lead + 0.5)
		switch {
		case lines < 2 && len(done) != 0:
			t.Errorf("%d lines of room: %d were set, want none", lines, first)
		case rest != nil && first != 0 && (first < 2 || all-first < 2):
			t.Errorf("%d of %d lines were set, which leaves a single one", first, all)
		}
	}
}

func TestColumnsFillTheWidthAndNoMore(t *testing.T) {
	tf := face0(t)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "columns")
		var cols []column
		for range n {
			cols = append(cols, column{head: rapid.StringMatching(`[a-z ]{0,12}`).Draw(t, "head")})
		}
		var cells [][]cell
		for range rapid.IntRange(0, 6).Draw(t, "rows") {
			var row []cell
			for range rapid.IntRange(0, n).Draw(t, "cells") {
				row = append(row, txt(rapid.StringMatching(`[a-z ]{0,60}`).Draw(t, "text")))
			}
			cells = append(cells, row)
		}
		tb := table{t: tf, cols: cols, cells: cells, look: tableLook{head: head, gutter: 11}}
		sum := 11.0 * float64(n-1)
		empty := true
		for _, w := range tb.columnWidths(460) {
			if w < 0 {
				t.Fatalf("a column is %v wide", w)
			}
			sum += w
			empty = empty && w == 0
		}
		if sum > 460+slack || sum < 460-1 && !empty && sum < 200 {
			t.Fatalf("the columns take %v of 460", sum)
		}
	})
}

func TestJPEGsAreCheckedBeforeTheyAreShown(t *testing.T) {
	good := pageJPEG(60, 40, 180)
	var grey bytes.Buffer
	if err := jpeg.Encode(&grey, image.NewGray(image.Rect(0, 0, 9, 9)), nil); err != nil {
		t.Fatal(err)
	}
	bad := func(data []byte, want string) {
		t.Helper()
		if _, err := readJPEG(data); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%d bytes give %v, want %q", len(data), err, want)
		}
	}
	for _, data := range [][]byte{good, grey.Bytes()} {
		if _, err := readJPEG(data); err != nil {
			t.Errorf("a good JPEG is refused: %v", err)
		}
	}
	bad(nil, "not a JPEG")
	bad([]byte("MZ renamed executable"), "not a JPEG")
	bad([]byte("\x89PNG\r\n\x1a\n"), "not a JPEG")
	for n := 4; n < len(good)-1; n += 7 {
		bad(good[:n], "cut short")
	}
	broken := bytes.Clone(good)
	broken[2] = 0
	bad(broken, "do not follow")
}

func FuzzReadJPEG(f *testing.F) {
	f.Add(pageJPEG(16, 16, 180))
	f.Add([]byte{0xff, 0xd8, 0xff, 0xda, 0, 2, 0xff, 0xd9})
	f.Fuzz(func(t *testing.T, data []byte) {
		img, err := readJPEG(data)
		if err == nil && (img.Width() < 0 || img.Height() < 0) {
			t.Error("a JPEG of negative size was taken")
		}
	})
}

func TestNumbersAndMoney(t *testing.T) {
	for _, x := range []struct{ got, want string }{
		{number(0.4), "0.4"}, {number(4.6), "4.6"}, {number(-3), "−3"}, {number(12500), "12500"}, {number(0.1 + 0.2), "0.3"}, {number(0.00002), "0.00002"}, {number(0), "0"},
		{amount(123450, "EUR"), "1234.50"}, {amount(5, "EUR"), "0.05"}, {amount(123450, "JPY"), "123450"}, {amount(5, "KWD"), "0.005"}, {amount(-250, "EUR"), "−2.50"},
		{money(100, "USD"), "USD\u00a01.00"},
		{rangeText(&record.Range{Low: 0.37, Best: 0.4, High: 0.43}, "g/L"), "0.40\u00a0g/L (0.37 to 0.43)"}, {rangeText(nil, "g"), ""}, {rangeText(&record.Range{Low: 1, Best: 1, High: 1}, "%"), "1\u00a0%"},
		{lasted(25 * time.Minute), "25\u00a0min"}, {lasted(46*time.Hour + 40*time.Minute), "46\u00a0h 40\u00a0min"}, {lasted(72 * time.Hour), "3\u00a0days"},
		{list([]string{"a", "", "b", "c"}), "a, b and c"}, {sentence("all well"), "All well."}, {sentence(""), ""},
	} {
		if x.got != x.want {
			t.Errorf("%q, want %q", x.got, x.want)
		}
	}
}

// Every pictogram that a bottle of the shelf can ask for is drawn.
func TestHazardSigns(t *testing.T) {
	seen := map[string]bool{}
	for _, name := range account.SubstanceNames() {
		for _, form := range []record.BottleForm{record.FormSolid, "solution"} {
			var b record.ShelfBottle
			b.Body = record.Bottle{Substance: name, Form: form, Unit: "pure"}
			for _, p := range account.HazardsOf(&b).Pictograms {
				if seen[p] = true; signs[p] == nil {
					t.Errorf("%s: there is no drawing for %s", name, p)
				}
			}
		}
	}
	if len(seen) < 6 {
		t.Errorf("the shelf asks for %d signs alone", len(seen))
	}
	var unknown record.ShelfBottle
	unknown.Body.Substance = "unobtainium"
	if h := account.HazardsOf(&unknown); h.Known {
		t.Errorf("an unknown substance gives %v", h)
	}
}

func TestSignsStayInTheirFrame(t *testing.T) {
	// What is drawn is checked by eye; here only that each draws something and
	// leaves the graphics state as it was.
	s, err := newSheet("A4", evening)
	if err != nil {
		t.Fatal(err)
	}
	s.info.Title = "Signs"
	s.add(drawing{height: 100, alt: "all signs", draw: func(ctx layout.DrawContext, x, top, w float64) {
		for code := range signs {
			before := len(ctx.Stream.Bytes())
			diamond(ctx, code, x+50, top-50, 40)
			made := string(ctx.Stream.Bytes()[before:])
			operators := map[string]int{}
			for _, f := range strings.Fields(made) {
				operators[f]++
			}
			if operators["q"] == 0 || operators["q"] != operators["Q"] || operators["f"] < 2 {
				t.Errorf("%s: the drawing is empty or does not restore the state", code)
			}
		}
	}}, 0, 0, false)
	if _, err := s.finish(); err != nil {
		t.Fatal(err)
	}
}
