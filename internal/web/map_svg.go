package web

import (
	"html/template"
	"math"
	"strconv"
	"strings"

	"benchleaf/condition"
	"benchleaf/internal/account"
)

// drawnFace is a face as SVG, in millimetres.
type drawnFace struct {
	HTML  template.HTML // the inner part of the svg element
	W, H  float64
	Marks int
}

// ViewBox is the face from edge to edge.
func (d drawnFace) ViewBox() string { return "0 0 " + mmText(d.W) + " " + mmText(d.H) }

// mmText writes millimetres to a hundredth.
func mmText(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }

// svgMarks writes marks as SVG. What it writes comes from numbers, from the
// vocabulary and through HTMLEscaper.
type svgMarks struct{ strings.Builder }

func (b *svgMarks) say(parts ...string) {
	for _, p := range parts {
		b.WriteString(p)
	}
}

// hatchID names the pattern of a hatch, as the page's defs have it.
func hatchID(hatch string) string {
	return "hatch-" + strings.NewReplacer(" ", "-", "/", "up", "\\", "down", "|", "v", "-", "h").Replace(hatch)
}

// pathData writes the way of a pen along a shape.
func pathData(s condition.Shape) string {
	var b strings.Builder
	for i, p := range s.Path() {
		c := "L"
		if i == 0 {
			c = "M"
		}
		b.WriteString(c + mmText(p.XMm) + " " + mmText(p.YMm))
	}
	if s.Form == condition.Outline || s.Form == condition.Box {
		b.WriteString("Z")
	}
	return b.String()
}

// mark draws one trace: filled by its hatch where it has an area, a line elsewhere,
// with a pale line under it, so that it shows on any picture.
func (b *svgMarks) mark(t account.Trace) {
	class := "mark"
	if t.Unsaid {
		class += " unsaid"
	}
	b.say(`<g class="`, class, `" data-no="`, strconv.Itoa(t.Damage.No), `" data-colour="`, t.Damage.Colour, `">`)
	switch d := pathData(t.Shape); t.Shape.Form {
	case condition.Spot:
		p := t.Shape.Points[0]
		b.say(`<circle class="halo" cx="`, mmText(p.XMm), `" cy="`, mmText(p.YMm), `" r="2.4"/><circle cx="`, mmText(p.XMm),
			`" cy="`, mmText(p.YMm), `" r="2"/>`)
	case condition.Line:
		b.say(`<path class="halo" d="`, d, `"/><path class="line" d="`, d, `"/>`)
	case condition.Strip:
		b.say(`<path class="strip" stroke-width="`, mmText(t.Shape.WidthMm), `" d="`, d, `"/><path class="line" d="`, d,
			`"/>`)
	default:
		b.say(`<path class="area" fill="url(#`, hatchID(t.Damage.Hatch), `)" d="`, d, `"/><path class="line" d="`, d, `"/>`)
	}
	b.say(`</g>`)
}

// drawFace draws a face: its photograph or a blank sheet, the fold, and the marks
// that show says.
func drawFace(
	m *account.Map, f account.FaceOf, photo *laidPhoto, picture string, show func(*account.Damage) bool,
) drawnFace {
	size, _ := m.Size(f)
	var b svgMarks
	w, h := mmText(size.WidthMm), mmText(size.HeightMm)
	b.say(`<rect class="sheet-paper" width="`, w, `" height="`, h, `"/>`)
	if photo != nil {
		href := map[string]string{"small": photo.Small, "medium": photo.Medium, "large": photo.Large}[picture]
		b.say(`<image href="`, template.HTMLEscapeString(href), `" width="`, w, `" height="`, h,
			`" preserveAspectRatio="none"/>`)
	}
	if at := m.FoldMm(f); at > 0 && at < size.WidthMm {
		b.say(`<line class="fold" x1="`, mmText(at), `" y1="0" x2="`, mmText(at), `" y2="`, h, `"/>`)
	}
	d := drawnFace{W: size.WidthMm, H: size.HeightMm}
	for _, t := range m.On(f) {
		if show(t.Damage) {
			d.Marks++
			b.mark(t)
		}
	}
	d.HTML = template.HTML(b.String())
	return d
}

// hatches are the patterns of all groups, once for a page. They are drawn in the
// colour of the mark's group.
func hatches() template.HTML {
	var b svgMarks
	b.say(`<svg class="hatches" width="0" height="0" aria-hidden="true"><defs>`)
	for _, g := range condition.Groups() {
		b.pattern(g)
	}
	b.say(`</defs></svg>`)
	return template.HTML(b.String())
}

// hatchPaths are the strokes of each hatch in a square of 6 mm.
var hatchPaths = map[string]string{
	"lines /": "M-1 1L1 -1M0 6L6 0M5 7L7 5", "lines \\": "M5 -1L7 1M0 0L6 6M-1 5L1 7", "lines |": "M3 0V6",
	"lines -": "M0 3H6", "cross": "M0 0L6 6M0 6L6 0", "grid": "M3 0V6M0 3H6",
	"dots": "M3 2.9V3.1", "rings": "M3 1.6A1.4 1.4 0 1 1 2.99 1.6",
}

func (b *svgMarks) pattern(g condition.Group) {
	width := "0.7"
	if g.Hatch == "dots" {
		width = "1.8"
	}
	b.say(`<pattern id="`, hatchID(g.Hatch), `" width="6" height="6" patternUnits="userSpaceOnUse"><path d="`,
		hatchPaths[g.Hatch], `" fill="none" stroke="`, g.Colour, `" stroke-width="`, width,
		`" stroke-linecap="round"/></pattern>`)
}

// stripBars are the bars of one sheet, severe at the foot, in a field of 10 by 60:
// five to a finding, twelve at most.
func stripBars(x stripSheet) template.HTML {
	var b svgMarks
	y, each := 60.0, 5.0
	if n := x.Total(); n > 12 {
		each = 60 / float64(n)
	}
	for i, class := range []string{"severe", "moderate", "slight", "open"} {
		if n := x.Counts[i]; n > 0 {
			h := each * float64(n)
			y -= h
			b.say(`<rect class="`, class, `" x="1" width="8" y="`, mmText(y), `" height="`, mmText(h), `"/>`)
		}
	}
	return template.HTML(b.String())
}
