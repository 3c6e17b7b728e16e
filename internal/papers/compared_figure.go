package papers

import (
	"bytes"
	"errors"
	"image"
	"image/png"

	folioimage "github.com/carlos7ags/folio/image"
	"github.com/carlos7ags/folio/layout"

	"benchleaf/photo"
)

// panel is one of the three pictures of a comparison.
type panel struct {
	photograph
	caption []span
	alt     string
}

func (m *maker) panel(data []byte, read func([]byte) (*folioimage.Image, error), name, words, alt string) panel {
	p := panel{caption: []span{{name, captionBold}, {words, captionFine}}, alt: alt}
	img, err := read(data)
	if err != nil {
		p.reason = sentence("The picture is not shown, since it is damaged: " + err.Error())
	}
	p.image = img
	return p
}

// readPNG takes a map; one with transparency is laid on the grey of the screens,
// which needs no soft mask in the file.
func readPNG(data []byte) (*folioimage.Image, error) {
	size, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil || size.Width > 4096 || size.Height > 4096 {
		return nil, errors.New("it is no PNG of a map")
	}
	img, err := folioimage.NewPNG(data)
	if err != nil {
		return nil, errors.New("its content cannot be decoded")
	}
	return img, nil
}

// comparedFigure is before and after side by side, below them the map with its
// legend, and at its right what it means. It stays whole.
type comparedFigure struct {
	t      *typeface
	panels [3]panel
	legend *photo.Legend
	frame  image.Rectangle // of the before photograph
	areas  []labelled      // on before and after
	places []labelled      // on the map
	words  []string
	// follow is the height of what stands below it on the same page.
	follow float64
}

// mostPanel is the height of the tallest picture.
const mostPanel = 235.0

func (f comparedFigure) set(w, h float64, fresh bool) ([]placed, float64, block) {
	for _, k := range []float64{1, 0.9, 0.8, 0.7, 0.62} {
		if done, used := f.placed(w, mostPanel*k); used+f.follow <= h+slack {
			return done, used, nil
		}
	}
	if !fresh {
		return nil, 0, f
	}
	// More is said of it than a page holds.
	done, used := f.placed(w, mostPanel*0.62)
	return done, used, nil
}

func (f comparedFigure) placed(w, most float64) ([]placed, float64) {
	colW := (w - pictureGutter) / 2
	pw, ph := colW, most
	if size := f.frame.Size(); size.X > 0 && size.Y > 0 {
		k := min(colW/float64(size.X), most/float64(size.Y))
		pw, ph = k*float64(size.X), k*float64(size.Y)
	}
	var done []placed
	foot := 0.0
	// put sets a panel and its caption and gives the height of both.
	put := func(i int, x, y float64, over []labelled, below float64) float64 {
		p := f.panels[i]
		if p.image == nil {
			lines := f.t.setLines([]span{{p.reason, fineMuted}}, pw-16)
			done = append(
				done,
				placed{
					X:      x + 8,
					Y:      y + 8,
					Width:  pw - 16,
					Height: height(lines),
					Tag:    "P",
					Draw: func(ctx layout.DrawContext, x, top float64) {
						f.t.drawLines(ctx, lines, x, top, pw-16, left)
					},
				},
			)
		} else {
			done = append(done, placed{X: x, Y: y, Width: pw, Height: ph, Tag: "Figure",
				AltText: f.t.legible(p.alt), Draw: func(ctx layout.DrawContext, x, top float64) {
					ctx.Stream.SaveState()
					ctx.Stream.ConcatMatrix(pw, 0, 0, ph, x, top-ph)
					ctx.Stream.Do(registerImage(ctx.Page, p.image))
					ctx.Stream.RestoreState()
					for _, o := range over {
						f.outline(ctx, o, x, top, pw, ph)
					}
				}})
		}
		lines := f.t.setLines(p.caption, colW)
		done = append(
			done,
			placed{
				X:      x,
				Y:      y + ph + 4 + below,
				Width:  colW,
				Height: height(lines),
				Tag:    "Caption",
				Draw: func(ctx layout.DrawContext, x, top float64) {
					f.t.drawLines(ctx, lines, x, top, colW, left)
				},
			},
		)
		return ph + 4 + below + height(lines)
	}
	right := colW + pictureGutter
	y := max(put(0, 0, 0, f.areas, 0), put(1, right, 0, f.areas, 0)) + 9
	const legendHigh = 26
	mapHigh := put(2, 0, y, f.places, legendHigh)
	legendW := min(colW, max(pw, 140)) // a narrow picture's ticks would lie on each other
	done = append(
		done,
		placed{
			Y:      y + ph + 4,
			Width:  legendW,
			Height: legendHigh - 2,
			Draw: artifact(func(ctx layout.DrawContext, x, top float64) {
				f.drawLegend(ctx, x, top, legendW)
			}),
		},
	)
	for _, s := range f.words {
		lines := f.t.setLines([]span{{s, comparedText}}, colW)
		done = append(
			done,
			placed{
				X:      right,
				Y:      y + foot,
				Width:  colW,
				Height: height(lines),
				Tag:    "P",
				Draw: func(ctx layout.DrawContext, x, top float64) {
					f.t.drawLines(ctx, lines, x, top, colW, left)
				},
			},
		)
		foot += height(lines) + 5
	}
	return done, y + max(mapHigh, foot-5)
}

var (
	comparedText = &style{text, 9.6, 13, ink}
	legendText   = &style{small, 7, 9, muted}
	markText     = &style{smallBold, 7, 9, ink}
)

// outline draws an area and its letter: dark on light, so that it is seen on any
// ground.
func (f comparedFigure) outline(ctx layout.DrawContext, o labelled, x, top, pw, ph float64) {
	size := f.frame.Size()
	if size.X <= 0 || size.Y <= 0 {
		return
	}
	place := func(q photo.Point) (float64, float64) {
		return roundedTo(x + pw*min(1, max(0, (q.X+0.5-float64(f.frame.Min.X))/float64(size.X)))),
			roundedTo(top - ph*min(1, max(0, (q.Y+0.5-float64(f.frame.Min.Y))/float64(size.Y))))
	}
	white := layout.Hex("#ffffff")
	ctx.Stream.SaveState()
	ctx.Stream.SetLineJoin(1)
	for _, pen := range []struct {
		colour layout.Color
		width  float64
	}{{white, 1.9}, {ink, 0.8}} {
		ctx.Stream.SetStrokeColorRGB(pen.colour.R, pen.colour.G, pen.colour.B)
		ctx.Stream.SetLineWidth(pen.width)
		for _, ring := range o.rings {
			for i, q := range ring {
				px, py := place(q)
				if i == 0 {
					ctx.Stream.MoveTo(px, py)
				} else {
					ctx.Stream.LineTo(px, py)
				}
			}
			ctx.Stream.ClosePathStroke()
		}
	}
	ctx.Stream.RestoreState()
	if len(o.rings) == 0 || len(o.rings[0]) == 0 {
		return
	}
	// The letter stands at the uppermost corner, within the picture.
	at := o.rings[0][0]
	for _, q := range o.rings[0] {
		if q.Y < at.Y {
			at = q
		}
	}
	px, py := place(at)
	l := f.t.setLines([]span{{o.label, markText}}, 1e6)
	bw, bh := l[0].width+4, 9.0
	px = max(min(px-bw/2, x+pw-bw), x)
	py = min(py+bh, top)
	fill(ctx, white, px, py-bh, bw, bh)
	f.t.drawLines(ctx, l, px+2, py, l[0].width, left)
}

// drawLegend draws the scale of the map and its ticks. What its ends mean stands in
// the map's caption and alternative text.
func (f comparedFigure) drawLegend(ctx layout.DrawContext, x, top, w float64) {
	l := f.legend
	if len(l.Scale) == 0 || !(l.High > l.Low) {
		return
	}
	const bars, high = 96, 7.0
	for i := range bars {
		c := l.At(l.Low + (float64(i)+0.5)/bars*(l.High-l.Low))
		// A hair wider than its share, so that no white shows between two.
		fill(
			ctx, layout.RGB(float64(c.R)/255, float64(c.G)/255, float64(c.B)/255), x+w*float64(i)/bars, top-high,
			min(w/bars+0.3, w-w*float64(i)/bars), high,
		)
	}
	for i, t := range l.Ticks {
		at := x + w*(t-l.Low)/(l.High-l.Low)
		hairline(ctx, ink, at, top-high, at, top-high-2.5, 0.5)
		words, al, from := greek(l.Tick(t)), centre, at-w/2
		switch i {
		case 0:
			al, from = left, x
		case len(l.Ticks) - 1:
			words, al, from = words+" and more", right, x
		}
		f.t.drawLines(ctx, f.t.setLines([]span{{words, legendText}}, 1e6), from, top-high-2.5, w, al)
	}
}
