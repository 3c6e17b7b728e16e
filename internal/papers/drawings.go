package papers

import (
	"github.com/carlos7ags/folio/layout"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/makeup"
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

// pens are how the strokes of a drawing look on paper.
var pens = map[makeup.Pen]struct {
	colour layout.Color
	width  float64
	dash   []float64
}{
	makeup.PenSheet: {ink, 0.9, nil}, makeup.PenCover: {ink, 1.4, nil}, makeup.PenLoose: {ink, 0.9, []float64{3.5, 2.2}},
	makeup.PenGone: {muted, 0.7, []float64{0.4, 2.6}}, makeup.PenMarried: {due, 1.2, nil},
	makeup.PenInsert: {accent, 1.1, []float64{2, 2}}, makeup.PenStaple: {stop, 1.6, nil}, makeup.PenGlue: {due, 3, nil},
	makeup.PenRust: {due, 1.6, nil}, makeup.PenOut: {muted, 0.8, []float64{1.5, 1.5}}, makeup.PenMeasure: {ink, 0.9, nil},
}

// figureOf sets a drawing of sheets or of a spine beside the axis.
func figureOf(t *typeface, d makeup.Drawing, alt string) drawing {
	return drawing{height: d.Height, alt: alt, draw: func(ctx layout.DrawContext, x, top, w float64) {
		at := func(p makeup.Point) (float64, float64) { return x + axis + p.X, top - p.Y }
		for _, s := range d.Strokes {
			pen := pens[s.Pen]
			stroke(ctx, pen.colour, pen.width, pen.dash...)
			for _, seg := range s.Segments {
				toX, toY := at(seg.To)
				switch {
				case seg.Movement:
					ctx.Stream.MoveTo(toX, toY)
				case seg.Curved:
					x1, y1 := at(seg.C1)
					x2, y2 := at(seg.C2)
					ctx.Stream.CurveTo(x1, y1, x2, y2, toX, toY)
				default:
					ctx.Stream.LineTo(toX, toY)
				}
			}
			ctx.Stream.Stroke()
			unstroke(ctx)
		}
		for _, l := range d.Labels {
			drawLabel(t, ctx, l, d.Width-l.At.X, at)
		}
	}}
}

// drawLabel sets a word of a drawing, shortened to the room that it has.
func drawLabel(
	t *typeface, ctx layout.DrawContext, l makeup.Label, room float64, at func(makeup.Point) (float64, float64),
) {
	words := []span{{l.Text, nestPages}}
	if l.Remark != "" {
		between := ""
		if l.Text != "" {
			between = "   "
		}
		words = append(words, span{between + l.Remark, nestSheet})
	}
	set := t.setLines(words, 1e5)[0]
	if l.Align == makeup.Left && set.width > room {
		set = t.fitted(plain(words), nestPages, room)
	}
	x, y := at(l.At)
	switch l.Align {
	case makeup.Centre:
		x -= set.width / 2
	case makeup.Right:
		x -= set.width
	}
	t.drawLine(ctx, set, x, y-2.3)
}

// nestLayout is the nest on paper with its leaves at most gap apart, not higher than
// a third of a page.
func (s *sheet) nestLayout(gap float64) makeup.Layout {
	return makeup.Layout{Width: s.size.measure() - axis, Words: 178, Gap: gap, MaxHeight: 350, LabelGap: 7.6, Selected: -1}
}

// nest draws the sheets as they lie; a little closer where that keeps the drawing,
// with its caption, on the page that is begun.
func (s *sheet) nest(c *record.Case) block {
	const caption = 26 // two lines
	f := fitting{follow: caption}
	for _, gap := range []float64{9.4, 8.5, 7.6} {
		f.from = append(f.from, figureOf(s.t, account.Nest(c, s.nestLayout(gap)), account.NestAlt(c)))
	}
	return f
}

var (
	nestPages = &style{small, 7, 9, ink}
	nestSheet = &style{smallIt, 7, 9, muted}
)

// drawTick draws a box to mark, left of the axis.
func drawTick(ctx layout.DrawContext, x, top float64) {
	stroke(ctx, ink, 0.8)
	ctx.Stream.Rectangle(x+axis-17, top-13, 9, 9)
	ctx.Stream.Stroke()
	unstroke(ctx)
}
