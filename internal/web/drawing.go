package web

import (
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/makeup"
)

// figureView is a drawing of sheets or of a spine as SVG.
type figureView struct {
	Width, Height float64
	Groups        []figureGroup
	Alt, Key      string
}

// figureGroup is what a drawing shows of one sheet; Href leads to it.
type figureGroup struct {
	Href   string
	Hit    string // the path that a finger touches
	Paths  []figurePath
	Labels []figureLabel
}

type figurePath struct{ Pen, D string }

type figureLabel struct {
	X, Y         float64
	Anchor       string
	Text, Remark string
}

// nestFigure draws the nest for the screen; each sheet leads to what is known of it.
func nestFigure(c *record.Case, on int, page string) *figureView {
	// The innermost leaves stand so far apart that a finger meets their sheet.
	d := account.Nest(c, makeup.Layout{
		Width: 400, Words: 208, Gap: 15, Fold: 40, LabelGap: 12, Selected: makeup.Sheet(on),
	})
	href := func(s makeup.Sheet) string { return page + "?sheet=" + strconv.Itoa(int(s)) + "#on" }
	if page == "" {
		href = nil
	}
	f := newFigure(d, account.NestAlt(c), href)
	f.Key = account.NestKey(c, d)
	return f
}

// newFigure turns a drawing into SVG, grouped by the sheets that it shows.
func newFigure(d makeup.Drawing, alt string, href func(makeup.Sheet) string) *figureView {
	v := &figureView{Width: d.Width, Height: d.Height, Alt: alt}
	at := map[makeup.Sheet]int{}
	group := func(s makeup.Sheet) *figureGroup {
		i, known := at[s]
		if !known {
			i = len(v.Groups)
			at[s] = i
			g := figureGroup{}
			if s >= 0 && href != nil {
				g.Href = href(s)
			}
			v.Groups = append(v.Groups, g)
		}
		return &v.Groups[i]
	}
	for _, s := range d.Strokes {
		g, path := group(s.Sheet), pathOf(s.Segments)
		g.Paths = append(g.Paths, figurePath{string(s.Pen), path})
		if s.Pen != makeup.PenSelected {
			g.Hit += path
		}
	}
	for _, l := range d.Labels {
		g := group(l.Sheet)
		const most = 42 // characters beside the drawing
		remark := l.Remark
		if room := most - len([]rune(l.Text)); len([]rune(remark)) > room {
			remark = clipTo(remark, room-1) + "…"
		}
		g.Labels = append(g.Labels, figureLabel{
			X: l.At.X, Y: l.At.Y, Anchor: [...]string{"start", "middle", "end"}[l.Align], Text: l.Text, Remark: remark,
		})
	}
	return v
}

func pathOf(list []makeup.Segment) string {
	var b strings.Builder
	for _, s := range list {
		switch {
		case s.Movement:
			b.WriteString("M" + xy(s.To.X, s.To.Y))
		case s.Curved:
			b.WriteString("C" + xy(s.C1.X, s.C1.Y) + " " + xy(s.C2.X, s.C2.Y) + " " + xy(s.To.X, s.To.Y))
		default:
			b.WriteString("L" + xy(s.To.X, s.To.Y))
		}
	}
	return b.String()
}

func xy(x, y float64) string {
	return strconv.FormatFloat(x, 'f', 1, 64) + " " + strconv.FormatFloat(y, 'f', 1, 64)
}
