package papers

import (
	"strings"

	"github.com/carlos7ags/folio/content"
	"github.com/carlos7ags/folio/layout"
)

// style is how a span is set. Lengths are in points.
type style struct {
	face   face
	size   float64
	lead   float64 // from baseline to baseline
	colour layout.Color
}

// span is text in one style.
type span struct {
	text  string
	style *style
}

// glyph is one character placed in a line: its style and its advance in
// points, the kerning to the next character in it included.
type glyph struct {
	r     rune
	style *style
	adv   float64
}

// line is a set line.
type line struct {
	glyphs []glyph
	width  float64
	lead   float64
}

// glyphsOf measures spans. A character without a form is shown as its code.
func (t *typeface) glyphsOf(spans []span) []glyph {
	n := 0
	for _, s := range spans {
		n += len(s.text)
	}
	gs := make([]glyph, 0, n)
	for _, s := range spans {
		f := t.faces[s.style.face]
		for _, r := range t.legible(s.text) {
			if k := len(gs) - 1; k >= 0 && gs[k].style == s.style && r != '\n' && gs[k].r != '\n' {
				gs[k].adv += f.kern(gs[k].r, r) * s.style.size
			}
			adv := 0.0
			if r != '\n' {
				adv = f.advance(r) * s.style.size
			}
			gs = append(gs, glyph{r, s.style, adv})
		}
	}
	return gs
}

// setLines breaks spans into lines no wider than width, between words, after
// hyphens, dashes and slashes, and inside a word only when the word alone is
// wider than the line. There is at least one line.
func (t *typeface) setLines(spans []span, width float64) []line {
	gs := t.glyphsOf(spans)
	var lines []line
	for start := 0; ; {
		end := start
		for end < len(gs) && gs[end].r != '\n' {
			end++
		}
		lines = append(lines, wrap(gs[start:end], width)...)
		if end == len(gs) {
			break
		}
		start = end + 1
	}
	lead := 0.0
	for _, s := range spans {
		lead = max(lead, s.style.lead)
	}
	for i := range lines {
		lines[i].lead = lead
	}
	return lines
}

// slack lets a line that is as wide as the column, but for rounding, stay whole.
const slack = 0.01

func wrap(gs []glyph, width float64) []line {
	var lines []line
	start, brk := 0, -1 // brk: the index that a next line could start at
	w := 0.0
	for i := 0; i < len(gs); i++ {
		g := gs[i]
		if g.r == ' ' {
			brk = i + 1
			w += g.adv
			continue
		}
		if w+g.adv > width+slack && i > start {
			if brk <= start {
				brk = i // one word fills the line: it breaks inside
			}
			lines = append(lines, trimmed(gs[start:brk]))
			start, i, w, brk = brk, brk-1, 0, -1
			continue
		}
		w += g.adv
		if i+1 < len(gs) && breaksAfter(gs, i) {
			brk = i + 1
		}
	}
	return append(lines, trimmed(gs[start:]))
}

// breaksAfter says whether a line may end after the character at i without a
// space: after a hyphen or slash with enough letters on both sides to be words
// and not a unit, such as g/L, and after a dash.
func breaksAfter(gs []glyph, i int) bool {
	switch gs[i].r {
	case '-':
		return letters(gs, i, -1, 2) && letters(gs, i, 1, 2)
	case '/':
		return letters(gs, i, -1, 3) && letters(gs, i, 1, 3)
	case '–', '—':
		return gs[i+1].r != '\u00a0'
	}
	return false
}

// letters says whether n letters stand beside the character at i.
func letters(gs []glyph, i, step, n int) bool {
	for k := 1; k <= n; k++ {
		j := i + k*step
		if j < 0 || j >= len(gs) || !isLetter(gs[j].r) {
			return false
		}
	}
	return true
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 0xbf }

// trimmed is a line without the spaces around it.
func trimmed(gs []glyph) line {
	for len(gs) > 0 && gs[0].r == ' ' {
		gs = gs[1:]
	}
	for len(gs) > 0 && gs[len(gs)-1].r == ' ' {
		gs = gs[:len(gs)-1]
	}
	var l line
	l.glyphs = gs
	for _, g := range gs {
		l.width += g.adv
	}
	return l
}

// natural is the width of spans without breaks, and that of their widest word.
func (t *typeface) natural(spans []span) (whole, word float64) {
	var w, ww float64
	for _, g := range t.glyphsOf(spans) {
		switch g.r {
		case '\n':
			whole, word = max(whole, w), max(word, ww)
			w, ww = 0, 0
		case ' ':
			word, ww = max(word, ww), 0
			w += g.adv
		default:
			w += g.adv
			ww += g.adv
		}
	}
	return max(whole, w), max(word, ww)
}

// drawLine shows a line with its left end at x on the baseline y.
func (t *typeface) drawLine(ctx layout.DrawContext, l line, x, y float64) {
	for i := 0; i < len(l.glyphs); {
		s := l.glyphs[i].style
		j := i
		w := 0.0
		for j < len(l.glyphs) && l.glyphs[j].style == s {
			w += l.glyphs[j].adv
			j++
		}
		t.drawRun(ctx, l.glyphs[i:j], s, x, y)
		x += w
		i = j
	}
}

func (t *typeface) drawRun(ctx layout.DrawContext, gs []glyph, s *style, x, y float64) {
	f, ef := t.faces[s.face], t.embedded[s.face]
	var parts []content.TextArrayElement
	var run strings.Builder
	flush := func() {
		if run.Len() > 0 {
			parts = append(parts, content.TextArrayElement{HexData: ef.EncodeString(run.String())})
			run.Reset()
		}
	}
	for i, g := range gs {
		r := g.r
		if r == '\u00a0' {
			r = ' ' // the same form; read back as a plain space
		}
		run.WriteRune(r)
		if i+1 < len(gs) {
			if k := f.kern(g.r, gs[i+1].r); k != 0 {
				flush()
				parts = append(parts, content.TextArrayElement{Adjustment: -1000 * k, IsAdjustment: true})
			}
		}
	}
	flush()
	st := ctx.Stream
	st.SetFillColorRGB(s.colour.R, s.colour.G, s.colour.B)
	st.BeginText()
	st.SetFont(t.register(ctx.Page, s.face), s.size)
	st.MoveText(x, y)
	st.ShowTextArrayHex(parts)
	st.EndText()
}

// register names a face among the resources of a page.
func (t *typeface) register(page *layout.PageResult, f face) string {
	name := "F" + string(rune('A'+f))
	for _, e := range page.Fonts {
		if e.Name == name {
			return name
		}
	}
	page.Fonts = append(page.Fonts, layout.FontEntry{Name: name, Embedded: t.embedded[f]})
	return name
}

// drawLines shows lines down from topY. The first baseline stands where its
// ascenders and the leading above them fit.
func (t *typeface) drawLines(ctx layout.DrawContext, lines []line, x, topY, width float64, align align) {
	y := topY
	for _, l := range lines {
		size := 0.0
		for i := range l.glyphs {
			size = max(size, l.glyphs[i].style.size)
		}
		// Source Serif's capitals are 0.67 em high, its descenders about 0.24:
		// centred in the leading, the baseline lies here.
		base := y - (l.lead+0.43*size)/2
		lx := x
		switch align {
		case right:
			lx = x + width - l.width
		case centre:
			lx = x + (width-l.width)/2
		}
		t.drawLine(ctx, l, lx, base)
		y -= l.lead
	}
}

type align int

const (
	left align = iota
	right
	centre
)

func height(lines []line) float64 {
	h := 0.0
	for _, l := range lines {
		h += l.lead
	}
	return h
}
