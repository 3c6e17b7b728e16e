package papers

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/carlos7ags/folio/layout"

	"benchleaf/condition"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// faceWidth is how wide a face of the map is set, its margins for letters included,
// in points: two stand beside each other.
const faceWidth = 232

// faceMaps draws each face on which a finding was drawn, by hatch and letter: what
// only shows through is on the face behind it.
func (m *maker) faceMaps() {
	at := account.MapOf(m.c)
	if at == nil {
		return
	}
	var figures []*account.Figure
	for _, f := range at.Faces() {
		drawn := slices.ContainsFunc(at.On(f), func(t account.Trace) bool { return t.Drawn })
		if x := at.FigureOf(f, func(*account.Damage) bool { return true }); x != nil && drawn {
			figures = append(figures, x)
		}
	}
	if len(figures) == 0 {
		return
	}
	m.sub("Where it lies")
	for two := range slices.Chunk(figures, 2) {
		m.add(m.facesBeside(two), 4, 8, false)
	}
}

func (m *maker) facesBeside(two []*account.Figure) drawing {
	height, alt := 0.0, []string{}
	for _, x := range two {
		height = max(height, x.Size.HeightMm*pointsPerMm(x)+18)
		names := []string{}
		for _, l := range x.Labels {
			names = append(names, l.Text)
		}
		alt = append(alt, faceWords(x)+": "+list(names))
	}
	return drawing{
		height: height, alt: "Findings on their faces. " + strings.Join(alt, ". ") + ".",
		draw: func(ctx layout.DrawContext, x, top, _ float64) {
			for i, f := range two {
				m.face(ctx, f, x+float64(i)*(faceWidth+8), top)
			}
		},
	}
}

func faceWords(x *account.Figure) string {
	return upper(record.SheetName(x.Of.Sheet)) + ", " + record.Words(x.Of.Face)
}

func pointsPerMm(x *account.Figure) float64 { return faceWidth / (x.Size.WidthMm + 2*x.MarginMm) }

// facePen takes millimetres on a face to points on the page.
type facePen struct {
	x, top, scale float64
}

func (p facePen) at(q condition.Point) (x, y float64) {
	return p.x + q.XMm*p.scale, p.top - q.YMm*p.scale
}

func (m *maker) face(ctx layout.DrawContext, f *account.Figure, x, top float64) {
	p := facePen{x + f.MarginMm*pointsPerMm(f), top - 12, pointsPerMm(f)}
	m.t.drawLine(ctx, m.t.setLines([]span{{faceWords(f), nestSheet}}, 1e5)[0], p.x, top-7)
	w, h := f.Size.WidthMm*p.scale, f.Size.HeightMm*p.scale
	stroke(ctx, muted, 0.5)
	ctx.Stream.Rectangle(p.x, p.top-h, w, h)
	ctx.Stream.Stroke()
	stroke(ctx, muted, 0.4, 2, 2)
	ctx.Stream.MoveTo(p.x+f.FoldMm*p.scale, p.top)
	ctx.Stream.LineTo(p.x+f.FoldMm*p.scale, p.top-h)
	ctx.Stream.Stroke()
	unstroke(ctx)
	for _, t := range f.Marks {
		p.mark(ctx, t)
	}
	for _, l := range f.Labels {
		ax, ay := p.at(l.At)
		bx, by := p.at(l.To)
		stroke(ctx, ink, 0.3)
		ctx.Stream.MoveTo(ax, ay)
		ctx.Stream.LineTo(bx, by)
		ctx.Stream.Stroke()
		unstroke(ctx)
		words := m.t.setLines([]span{{l.Text, nestPages}}, 1e5)[0]
		if l.OnTheEnd {
			ax++
		} else {
			ax -= words.width + 1
		}
		m.t.drawLine(ctx, words, ax, ay-2.3)
	}
}

func (p facePen) mark(ctx layout.DrawContext, t account.Trace) {
	colour := hexColour(t.Damage.Colour)
	switch t.Shape.Form {
	case condition.Spot:
		x, y := p.at(t.Shape.Points[0])
		stroke(ctx, colour, 0.8)
		ctx.Stream.Circle(x, y, 2)
		ctx.Stream.Stroke()
	case condition.Outline, condition.Box:
		ctx.Stream.SaveState()
		p.along(ctx, t.Shape)
		ctx.Stream.ClipNonZero()
		ctx.Stream.EndPath()
		stroke(ctx, colour, 0.35)
		p.hatch(ctx, t)
		ctx.Stream.RestoreState()
		stroke(ctx, colour, 0.8)
		p.along(ctx, t.Shape)
		ctx.Stream.Stroke()
	default:
		if t.Shape.Form == condition.Strip { // its width, pale, under its line
			pale := layout.Color{R: 1 - 0.4*(1-colour.R), G: 1 - 0.4*(1-colour.G), B: 1 - 0.4*(1-colour.B)}
			stroke(ctx, pale, t.Shape.WidthMm*p.scale)
			ctx.Stream.SetLineCap(0)
			p.along(ctx, t.Shape)
			ctx.Stream.Stroke()
		}
		stroke(ctx, colour, 1)
		p.along(ctx, t.Shape)
		ctx.Stream.Stroke()
	}
	unstroke(ctx)
}

func (p facePen) along(ctx layout.DrawContext, s condition.Shape) {
	for i, q := range s.Path() {
		x, y := p.at(q)
		if i == 0 {
			ctx.Stream.MoveTo(x, y)
		} else {
			ctx.Stream.LineTo(x, y)
		}
	}
}

// hatch fills what the clip lets through with the strokes of the group's hatch.
func (p facePen) hatch(ctx layout.DrawContext, t account.Trace) {
	const apart = 4.0 // points
	low, high := t.Shape.Bounds()
	x0, y0 := p.at(condition.Point{XMm: low.XMm, YMm: high.YMm})
	x1, y1 := p.at(condition.Point{XMm: high.XMm, YMm: low.YMm})
	h := y1 - y0
	line := func(ax, ay, bx, by float64) {
		ctx.Stream.MoveTo(ax, ay)
		ctx.Stream.LineTo(bx, by)
	}
	hatch := t.Damage.Hatch
	up := hatch == "lines /" || hatch == "cross"
	down := hatch == "lines \\" || hatch == "cross"
	for x := math.Floor((x0-h)/apart) * apart; x < x1; x += apart {
		if up {
			line(x, y0, x+h, y1)
		}
		if down {
			line(x, y1, x+h, y0)
		}
		if (hatch == "lines |" || hatch == "grid") && x >= x0 {
			line(x, y0, x, y1)
		}
	}
	for y := math.Floor(y0/apart) * apart; y < y1; y += apart {
		if hatch == "lines -" || hatch == "grid" {
			line(x0, y, x1, y)
		}
		if hatch == "dots" || hatch == "rings" {
			for x := math.Floor(x0/apart) * apart; x < x1; x += apart {
				r := 0.4
				if hatch == "rings" {
					r = 1.1
				}
				ctx.Stream.Circle(x, y, r)
			}
		}
	}
	ctx.Stream.Stroke()
}

// hexColour reads a colour as "#d55e00".
func hexColour(s string) layout.Color {
	v, err := strconv.ParseUint(strings.TrimPrefix(s, "#"), 16, 32)
	if err != nil {
		return ink
	}
	part := func(shift uint) float64 { return float64(v>>shift&0xff) / 255 }
	return layout.Color{R: part(16), G: part(8), B: part(0)}
}

// mendsTaken says what the mends take, by their plan and the map.
func (m *maker) mendsTaken() {
	x := account.MendingOf(m.c)
	if len(x.Facts) == 0 {
		return
	}
	m.sub(fmt.Sprintf("Tissue and time for the mends (%s)", x.Plan.Tissue))
	m.facts(accounted(x.Facts)...)
}
