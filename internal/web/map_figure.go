package web

import (
	"encoding/base64"
	"html/template"
	"io"
	"net/http"

	"benchleaf/condition"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// mapFigure sends the map of a face as a picture of its own, for a paper or a
// letter: the clean picture beside the marked one where there is a photograph. All
// that it needs is inside.
func (s *Server) mapFigure(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	m, f, err := mapAsked(r, c)
	if err != nil {
		return err
	}
	show := filterOf(r.URL.Query())
	x := m.FigureOf(f, func(d *account.Damage) bool { return show.shows(c, d) })
	if x == nil {
		return record.Invalidf("", "The size of %s is not known yet: describe its paper first.", record.SheetName(f.Sheet))
	}
	picture := ""
	if laid := laidOn(c, f); laid != nil {
		p, err := s.pictures.Face(r.Context(), laid, x.Size, "medium")
		if err != nil {
			return err
		}
		raw, err := io.ReadAll(p)
		p.Close()
		if err != nil {
			return err
		}
		picture = "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(raw)
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "no-store")
	name := c.Number + "-" + faceSlug(f) + ".svg"
	if r.URL.Query().Get("save") != "" {
		w.Header().Set("Content-Disposition", `attachment; filename="`+fileName(name)+`"`)
	}
	_, err = io.WriteString(w, figureSVG(x, faceName(f), picture))
	return err
}

// figureSVG writes a figure with its own colours: no style sheet goes with it.
func figureSVG(x *account.Figure, name, picture string) string {
	var b svgMarks
	full := x.Size.WidthMm + 2*x.MarginMm
	start := 0.0 // of the marked sheet
	if picture != "" {
		start = x.Size.WidthMm + x.MarginMm/2
	}
	width, height := start+full, x.Size.HeightMm+14
	b.say(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 -4 `, mmText(width), ` `, mmText(height), `" width="`,
		mmText(width), `mm" height="`, mmText(height), `mm" font-family="sans-serif" font-size="5"><title>`,
		template.HTMLEscapeString(name), `</title><defs>`)
	for _, g := range condition.Groups() {
		b.pattern(g)
	}
	b.say(`</defs><rect y="-4" width="100%" height="100%" fill="#fff"/>`)
	w, h := mmText(x.Size.WidthMm), mmText(x.Size.HeightMm)
	image := ""
	if picture != "" {
		image = `<image href="` + picture + `" width="` + w + `" height="` + h + `" preserveAspectRatio="none"/>`
		b.say(image)
	}
	b.say(`<g transform="translate(`, mmText(start+x.MarginMm), ` 0)"><rect width="`, w, `" height="`, h,
		`" fill="#fff" stroke="#555" stroke-width="0.4"/>`)
	if image != "" {
		b.say(`<g opacity="0.55">`, image, `</g>`)
	}
	fold := mmText(x.FoldMm)
	b.say(`<path d="M`, fold, ` 0V`, h, `" stroke="#777" stroke-width="0.3" stroke-dasharray="2 2"/>`)
	for _, t := range x.Marks {
		b.figureMark(t)
	}
	for _, l := range x.Labels {
		anchor, dx := "end", -2.0
		if l.OnTheEnd {
			anchor, dx = "start", 2
		}
		b.say(`<path d="M`, mmText(l.To.XMm), ` `, mmText(l.To.YMm), `L`, mmText(l.At.XMm), ` `, mmText(l.At.YMm),
			`" stroke="#222" stroke-width="0.25"/><text x="`, mmText(l.At.XMm+dx), `" y="`, mmText(l.At.YMm+1.8),
			`" text-anchor="`, anchor, `" fill="#222">`, template.HTMLEscapeString(l.Text), `</text>`)
	}
	b.say(`</g></svg>`)
	return b.String()
}

func (b *svgMarks) figureMark(t account.Trace) {
	colour, d := t.Damage.Colour, pathData(t.Shape)
	dash := ""
	if t.Unsaid {
		dash = ` stroke-dasharray="1.5 1.5"`
	}
	line := `<path fill="none" stroke="` + colour + `" stroke-width="0.8"` + dash + ` d="` + d + `"/>`
	switch t.Shape.Form {
	case condition.Spot:
		p := t.Shape.Points[0]
		b.say(`<circle cx="`, mmText(p.XMm), `" cy="`, mmText(p.YMm), `" r="2" fill="none" stroke="`, colour,
			`" stroke-width="0.8"`, dash, `/>`)
	case condition.Line:
		b.say(`<path fill="none" stroke="#fff" stroke-width="2" d="`, d, `"/>`, line)
	case condition.Strip:
		b.say(`<path fill="none" stroke="`, colour, `" stroke-opacity="0.45" stroke-width="`, mmText(t.Shape.WidthMm),
			`" d="`, d, `"/>`, line)
	default:
		b.say(`<path fill="url(#`, hatchID(t.Damage.Hatch), `)" d="`, d, `"/>`, line)
	}
}
