package photo

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// Figure is a picture for a report: before, the after picture laid on it, and
// the difference with the light evened, side by side over a legend, on a neutral
// grey. panel is the width of each of the three in pixels, 200 to 2000. nil when
// the pictures could not be compared.
func (c *Comparison) Figure(panel int) *image.RGBA {
	if !c.Compared {
		return nil
	}
	panel = min(2000, max(200, panel))
	b := c.full.before
	height := max(40, int(math.Round(float64(panel)*float64(b.H)/float64(b.W))))
	f := newFigure(panel, height)
	before, after := c.grid.before, c.grid.after
	change := c.Map(MapDE00Even)
	f.panel(0, "before", before.srgb(), nil)
	f.panel(1, "after, laid on before", after.srgb(), &c.grid.seen)
	f.panel(2, change.Legend.Title, change.Picture, nil)
	f.legend(&change.Legend)
	return f.img
}

// figure is a sheet of three panels with room for words above and a legend
// below.
type figure struct {
	img        *image.RGBA
	w, h       int // of a panel
	gap, words int // space round panels, height of a line of words
	face       font.Face
}

// Neutral greys: the surround has L* about 50.
var (
	figureGround = color.RGBA{0x77, 0x77, 0x77, 255}
	figureInk    = color.RGBA{0xff, 0xff, 0xff, 255}
)

func newFigure(w, h int) *figure {
	f := &figure{w: w, h: h, gap: max(6, w/50), words: max(14, w/24)}
	parsed, err := opentype.Parse(goregular.TTF)
	if err != nil {
		panic(err) // the font is part of the program
	}
	f.face, err = opentype.NewFace(parsed, &opentype.FaceOptions{Size: 0.72 * float64(f.words), DPI: 72})
	if err != nil {
		panic(err)
	}
	f.img = image.NewRGBA(image.Rect(0, 0, 3*w+4*f.gap, h+4*f.gap+5*f.words))
	draw.Draw(f.img, f.img.Rect, image.NewUniform(figureGround), image.Point{}, draw.Src)
	return f
}

// panel draws one picture, stretched to the panel, with its name above; cells
// outside seen are left grey.
func (f *figure) panel(k int, name string, m image.Image, seen *mask) {
	x0, y0 := f.gap+k*(f.w+f.gap), f.gap+f.words+f.gap/2
	f.say(name, x0, f.gap+f.words*3/4, 0)
	size := m.Bounds().Size()
	for y := range f.h {
		for x := range f.w {
			// Averaged over the area where the picture is larger.
			ax, bx := x*size.X/f.w, max(x*size.X/f.w+1, (x+1)*size.X/f.w)
			ay, by := y*size.Y/f.h, max(y*size.Y/f.h+1, (y+1)*size.Y/f.h)
			var r, g, b, a, n uint32
			for j := ay; j < by; j++ {
				for i := ax; i < bx; i++ {
					n++
					if seen != nil && !seen.v[j*seen.w+i] {
						continue
					}
					pr, pg, pb, pa := m.At(i, j).RGBA() // premultiplied
					r, g, b, a = r+pr>>8, g+pg>>8, b+pb>>8, a+pa>>8
				}
			}
			rest := 255 - a/n
			mix := func(v uint32, ground uint8) uint8 { return uint8(min(255, v/n+rest*uint32(ground)/255)) }
			f.img.SetRGBA(
				x0+x,
				y0+y,
				color.RGBA{mix(r, figureGround.R), mix(g, figureGround.G), mix(b, figureGround.B), 255},
			)
		}
	}
}

// legend draws the scale under the third panel, with ticks, what its ends mean
// and where it comes from.
func (f *figure) legend(l *Legend) {
	x0, y0 := 3*f.gap+2*f.w, f.gap+f.words+f.gap/2+f.h+f.gap
	for x := range f.w {
		c := l.At(l.Low + (l.High-l.Low)*float64(x)/float64(f.w-1))
		for y := range f.words {
			f.img.SetRGBA(x0+x, y0+y, color.RGBA{c.R, c.G, c.B, 255})
		}
	}
	base := y0 + f.words + f.words
	for i, v := range l.Ticks {
		x := x0 + int(math.Round((v-l.Low)/(l.High-l.Low)*float64(f.w-1)))
		for y := range max(2, f.words/4) {
			f.img.SetRGBA(x, y0+f.words+y, figureInk)
		}
		s := l.Tick(v)
		align := 0.5
		switch i {
		case 0:
			align = 0
		case len(l.Ticks) - 1:
			align = 1
			if !l.Diverging {
				s += " or more"
			}
		}
		f.say(s, x, base, align)
	}
	f.say(l.LowSays, x0, base+f.words, 0)
	f.say(l.HighSays, x0+f.w, base+f.words, 1)
	f.say("grey: not compared", f.gap, y0+f.words*3/4, 0)
	f.say("colours: "+l.Source, f.gap, base, 0)
}

// say writes s at x, shifted left by the share align of its width.
func (f *figure) say(s string, x, y int, align float64) {
	d := font.Drawer{Dst: f.img, Src: image.NewUniform(figureInk), Face: f.face}
	d.Dot = fixed.P(x, y)
	d.Dot.X -= fixed.Int26_6(align * float64(d.MeasureString(s)))
	d.DrawString(s)
}
