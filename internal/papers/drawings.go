package papers

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/carlos7ags/folio/layout"

	"benchleaf/internal/record"
)

func stroke(ctx layout.DrawContext, c layout.Color, width float64, dash ...float64) {
	ctx.Stream.SetStrokeColorRGB(c.R, c.G, c.B)
	ctx.Stream.SetLineWidth(width)
	ctx.Stream.SetLineCap(1)
	ctx.Stream.SetDashPattern(dash, 0)
}

// unstroke puts back what stroke changed.
func unstroke(ctx layout.DrawContext) {
	ctx.Stream.SetDashPattern(nil, 0)
	ctx.Stream.SetLineCap(0)
}

// PageLabel is what a person calls the page at a position, the printed number
// where it differs.
func pageLabel(m *record.MakeUp, position int) string {
	for _, p := range m.Printed {
		if p.Position == position {
			if p.Printed == "" {
				return fmt.Sprintf("[%d]", position+m.FirstPage-1)
			}
			return p.Printed
		}
	}
	return fmt.Sprint(position + m.FirstPage - 1)
}

// leafPages names the two pages of a leaf of a sheet: inner sheet k of n
// carries pages 2k-1 and 2k on its first leaf, 4n-2k+1 and 4n-2k+2 on the other.
func leafPages(m *record.MakeUp, sheet int, second bool) string {
	if sheet == 0 {
		if second {
			return "inside back, back"
		}
		return "front, inside front"
	}
	p := 2*sheet - 1
	if second {
		p = 4*m.InnerSheets - 2*sheet + 1
	}
	return pageLabel(m, p) + ", " + pageLabel(m, p+1)
}

// sheetRemark says how a sheet stands, when it is not simply there.
func sheetRemark(c *record.Case, sheet int) string {
	if sheet == 0 && c.MakeUp.Body.Cover == record.CoverMissing {
		return "missing"
	}
	s, ok := c.SheetStates[sheet]
	if !ok || s.Body.State == "present" {
		return ""
	}
	words := record.WordsOf(record.SheetConditions, s.Body.State)
	if s.Body.Leaf != "" {
		words += " (" + record.WordsOf(record.Leaves, s.Body.Leaf) + ")"
	}
	return words
}

// nest draws the sheets in one another as seen from the head, front cover
// uppermost, with the pages of each leaf at its fore-edge; a little closer where
// that keeps it, with its caption, on the page that is begun.
func nest(t *typeface, c *record.Case) block {
	const caption = 26 // two lines
	return fitting{[]drawing{nestAt(t, c, 9.4), nestAt(t, c, 8.5), nestAt(t, c, 7.6)}, caption}
}

// nestAt is the nest with its leaves at most widest apart.
func nestAt(t *typeface, c *record.Case, widest float64) drawing {
	m := &c.MakeUp.Body
	sheets := c.Sheets()
	n := len(sheets)
	// Leaves stand apart as far as a third of a page allows.
	gap := math.Min(widest, 330/float64(2*n))
	step := int(math.Ceil(min(widest, 9.4) / gap))
	fold := math.Max(gap, 5)
	h := float64(2*n-1)*gap + fold + 16

	state := func(sheet int) record.SheetCondition {
		if sheet == 0 && m.Cover == record.CoverMissing {
			return record.SheetMissing
		}
		return c.SheetStates[sheet].Body.State
	}
	draw := func(ctx layout.DrawContext, x, top, w float64) {
		x0 := x + axis + 6
		foreEdge := x + w - 178
		mid := top - h/2
		for i, sheet := range sheets {
			d := fold/2 + float64(n-1-i)*gap // of the leaf from the middle
			r := 5 + 0.55*d
			xs := x0 + float64(i)*math.Min(2.2, 60/float64(n))
			colour, width, dash := ink, 0.9, []float64(nil)
			leaf := c.SheetStates[sheet].Body.Leaf
			st := state(sheet)
			switch st {
			case "loose", "part-loose":
				dash = []float64{3.5, 2.2}
			case "married":
				colour, width = due, 1.2
			case "missing":
				colour, width, dash = muted, 0.7, []float64{0.4, 2.6}
			}
			if sheet == 0 {
				width += 0.5
			}
			arm := func(up float64, gone, cut bool) {
				if gone {
					stroke(ctx, muted, 0.7, 0.4, 2.6)
				} else {
					stroke(ctx, colour, width, dash...)
				}
				y := mid + up*d
				ctx.Stream.MoveTo(foreEdge, y)
				ctx.Stream.LineTo(xs+r, y)
				if !cut {
					// A quarter of an ellipse, to the fold.
					const k = 0.5523
					ctx.Stream.CurveTo(xs+r-k*r, y, xs, mid+up*k*d, xs, mid)
				}
				ctx.Stream.Stroke()
			}
			arm(1, st == "half" && leaf == "first", st == "split" || st == "half")
			arm(-1, st == "half" && leaf == "second", st == "split" || st == "half")
			unstroke(ctx)
		}
		if m.Binding == "saddle" {
			stroke(ctx, stop, 1.6)
			last := x0 + float64(n-1)*math.Min(2.2, 60/float64(n))
			ctx.Stream.MoveTo(x0-5, mid)
			ctx.Stream.LineTo(last+4, mid)
			ctx.Stream.Stroke()
			unstroke(ctx)
		}
		for _, in := range m.Inserts {
			// Between leaf number ceil(p/2) and the next, counted down.
			leaf := (in.AfterPage + 1) / 2
			d := fold/2 + float64(m.InnerSheets-leaf)*gap + gap/2
			if leaf >= m.InnerSheets {
				d = -(fold/2 + float64(leaf-m.InnerSheets)*gap - gap/2)
				if leaf == m.InnerSheets {
					d = 0
				}
			}
			stroke(ctx, accent, 1.1, 2, 2)
			ctx.Stream.MoveTo(foreEdge, mid+d)
			ctx.Stream.LineTo(x0+60, mid+d)
			ctx.Stream.Stroke()
			unstroke(ctx)
		}
		label := func(i int, up float64) {
			d := fold/2 + float64(n-1-i)*gap
			y := mid + up*d
			sheet := sheets[i]
			words := []span{{leafPages(m, sheet, up < 0), nestPages}}
			if up > 0 {
				words = append(
					words, span{"   " + joined(", ", record.SheetName(sheet), sheetRemark(c, sheet)), nestSheet},
				)
			}
			l := t.setLines(words, 1e5)[0]
			if l.width > 172 {
				l = t.fitted(plain(words), nestPages, 172)
			}
			t.drawLine(ctx, l, foreEdge+6, y-2.3)
		}
		for i := range sheets {
			if (n-1-i)%step == 0 || i == 0 {
				if i == 0 && (n-1)%step != 0 && step > 1 && n > 1 {
					// The outermost is named; a neighbour too near it is not.
					label(i, 1)
					label(i, -1)
					continue
				}
				if i > 0 && i < step && (n-1)%step != 0 {
					continue
				}
				label(i, 1)
				label(i, -1)
			}
		}
	}
	return drawing{height: h, alt: nestAlt(c), draw: draw}
}

var (
	nestPages = &style{small, 7, 9, ink}
	nestSheet = &style{smallIt, 7, 9, muted}
)

// nestCaption explains the signs that the nest has.
func nestCaption(c *record.Case) string {
	m := &c.MakeUp.Body
	words := "The sheets in one another, seen from the head, front cover uppermost, with the pages of each leaf."
	for _, sign := range []struct{ words, states string }{
		{" Dashed: loose.", "loose part-loose"}, {" Dotted: missing.", "missing half"},
		{" Orange: from another copy.", "married"},
	} {
		for _, n := range c.Sheets() {
			st := c.SheetStates[n].Body.State
			if st != "" && slices.Contains(strings.Fields(sign.states), string(st)) ||
				n == 0 && m.Cover == record.CoverMissing && strings.HasPrefix(sign.states, "missing") {
				words += sign.words
				break
			}
		}
	}
	if m.Binding == "saddle" {
		words += " The red stroke is the fastening."
	}
	if len(m.Inserts) > 0 {
		words += " A dashed blue line is an insert."
	}
	return words
}

// nestAlt says what the drawing shows.
func nestAlt(c *record.Case) string {
	m := &c.MakeUp.Body
	var b strings.Builder
	fmt.Fprintf(
		&b, "The nest of sheets seen from the head: %s, %s.", record.WordsOf(record.Covers, m.Cover),
		plural(m.InnerSheets, "inner sheet", "inner sheets"),
	)
	for _, n := range c.Sheets() {
		if r := sheetRemark(c, n); r != "" {
			fmt.Fprintf(&b, " %s: %s.", upper(record.SheetName(n)), r)
		}
	}
	return b.String()
}

// stapleMap draws the spine from head to tail with its staples where they were.
func stapleMap(t *typeface, c *record.Case, spineMm float64) drawing {
	alt := "The spine from head to tail with its staples: "
	var parts []string
	for _, s := range c.Staples {
		parts = append(parts, fmt.Sprintf("staple %d at %s mm from the head", s.Body.Number, number(s.Body.FromHeadMm)))
	}
	alt += list(parts) + "."
	draw := func(ctx layout.DrawContext, x, top, w float64) {
		x0, x1 := x+axis+24, x+w-26
		y := top - 17
		scale := (x1 - x0) / spineMm
		stroke(ctx, ink, 1)
		ctx.Stream.MoveTo(x0, y)
		ctx.Stream.LineTo(x1, y)
		ctx.Stream.Stroke()
		for _, end := range []float64{x0, x1} {
			ctx.Stream.MoveTo(end, y-4)
			ctx.Stream.LineTo(end, y+4)
			ctx.Stream.Stroke()
		}
		unstroke(ctx)
		word := func(s string, st *style, at float64, al align, y float64) {
			l := t.setLines([]span{{s, st}}, 1e5)[0]
			switch al {
			case centre:
				at -= l.width / 2
			case right:
				at -= l.width
			}
			t.drawLine(ctx, l, at, y)
		}
		word("head", nestSheet, x0-5, right, y-2.3)
		word("tail", nestSheet, x1+5, left, y-2.3)
		taken := -1e9
		for _, s := range c.Staples {
			crown := 12.0
			if s.Body.CrownMm != nil {
				crown = *s.Body.CrownMm
			}
			at := x0 + s.Body.FromHeadMm*scale
			half := max(crown*scale/2, 2)
			colour := ink
			if s.Body.Rust != "none" && s.Body.Rust != "" {
				colour = due
			}
			stroke(ctx, colour, 2)
			ctx.Stream.MoveTo(at-half, y+3)
			ctx.Stream.LineTo(at+half, y+3)
			ctx.Stream.Stroke()
			stroke(ctx, colour, 0.8)
			for _, leg := range []float64{at - half, at + half} {
				ctx.Stream.MoveTo(leg, y+3)
				ctx.Stream.LineTo(leg, y-4)
				ctx.Stream.Stroke()
			}
			unstroke(ctx)
			word(fmt.Sprint(s.Body.Number), nestPages, at, centre, y+7)
			if at-taken > 34 {
				word(quantity(s.Body.FromHeadMm, "mm"), nestPages, at, centre, y-13)
				taken = at
			}
		}
	}
	return drawing{height: 36, alt: alt, draw: draw}
}

// drawTick draws a box to mark, left of the axis.
func drawTick(ctx layout.DrawContext, x, top float64) {
	stroke(ctx, ink, 0.8)
	ctx.Stream.Rectangle(x+axis-17, top-13, 9, 9)
	ctx.Stream.Stroke()
	unstroke(ctx)
}
