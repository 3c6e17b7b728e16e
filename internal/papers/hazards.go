package papers

import (
	"math"
	"strings"

	"github.com/carlos7ags/folio/content"
	"github.com/carlos7ags/folio/layout"

	"benchleaf/internal/account"
)

// statementsOf writes the codes of statements, with their wording or without.
func statementsOf(list []account.Statement, worded bool) string {
	var parts []string
	for _, x := range list {
		if !worded {
			x.Text = ""
		}
		parts = append(parts, joined(nbsp, x.Code, x.Text))
	}
	return strings.Join(parts, " ")
}

// diamond draws a hazard pictogram, a red square on its point with a sign of
// our own drawing in it, centred at x, y; r is half its diagonal. The signs
// follow the shapes that the Globally Harmonized System describes.
func diamond(ctx layout.DrawContext, code string, x, y, r float64) {
	st := ctx.Stream
	st.SaveState()
	st.SetFillColorRGB(1, 1, 1)
	st.SetStrokeColorRGB(0.83, 0.07, 0.10)
	st.SetLineWidth(r * 0.13)
	st.SetLineJoin(0)
	in := r * 0.9
	st.MoveTo(x, y+in)
	st.LineTo(x+in, y)
	st.LineTo(x, y-in)
	st.LineTo(x-in, y)
	st.ClosePath()
	st.FillAndStroke()
	st.SetFillColorRGB(0, 0, 0)
	st.SetStrokeColorRGB(0, 0, 0)
	p := pen{st, x, y, r / 100}
	sign := signs[code]
	if sign == nil {
		sign = signs["GHS07"]
	}
	if code != "GHS02" && code != "GHS03" && code != "GHS07" {
		p.unit *= 0.8 // a wide sign stays clear of the frame
	}
	sign(p)
	st.RestoreState()
}

// pen draws on a field whose centre is 0, 0 and whose corners are at 100.
type pen struct {
	st         *content.Stream
	x, y, unit float64
}

func (p pen) move(x, y float64)   { p.st.MoveTo(p.x+x*p.unit, p.y+y*p.unit) }
func (p pen) line(x, y float64)   { p.st.LineTo(p.x+x*p.unit, p.y+y*p.unit) }
func (p pen) width(w float64)     { p.st.SetLineWidth(w * p.unit) }
func (p pen) dot(x, y, r float64) { p.st.Circle(p.x+x*p.unit, p.y+y*p.unit, r*p.unit); p.st.Fill() }
func (p pen) oval(x, y, rx, ry float64) {
	p.st.Ellipse(p.x+x*p.unit, p.y+y*p.unit, rx*p.unit, ry*p.unit)
	p.st.Fill()
}
func (p pen) curve(a, b, c, d, e, f float64) {
	p.st.CurveTo(p.x+a*p.unit, p.y+b*p.unit, p.x+c*p.unit, p.y+d*p.unit, p.x+e*p.unit, p.y+f*p.unit)
}
func (p pen) shape(points ...float64) {
	p.move(points[0], points[1])
	for i := 2; i+1 < len(points); i += 2 {
		p.line(points[i], points[i+1])
	}
	p.st.ClosePath()
	p.st.Fill()
}
func (p pen) bar(x1, y1, x2, y2, w float64) {
	p.st.SetLineCap(1)
	p.width(w)
	p.move(x1, y1)
	p.line(x2, y2)
	p.st.Stroke()
	p.st.SetLineCap(0)
}
func (p pen) colour(v float64) { p.st.SetFillColorGray(v); p.st.SetStrokeColorGray(v) }

// flame is a flame whose foot is at y, of height h.
func (p pen) flame(y, h float64) {
	k := h / 80
	at := func(v float64) float64 { return y + v*k }
	p.move(0, at(0))
	p.curve(-26*k, at(0), -34*k, at(18), -28*k, at(36))
	p.curve(-26*k, at(30), -20*k, at(26), -16*k, at(26))
	p.curve(-20*k, at(46), -12*k, at(66), 4*k, at(80))
	p.curve(0, at(62), 10*k, at(54), 18*k, at(44))
	p.curve(18*k, at(50), 18*k, at(54), 16*k, at(58))
	p.curve(30*k, at(46), 34*k, at(24), 26*k, at(10))
	p.curve(20*k, at(2), 10*k, at(0), 0, at(0))
	p.st.ClosePath()
	p.st.Fill()
	p.colour(1)
	p.move(0, at(6))
	p.curve(-12*k, at(6), -15*k, at(16), -10*k, at(26))
	p.curve(-8*k, at(20), -4*k, at(18), -2*k, at(18))
	p.curve(-2*k, at(28), 2*k, at(34), 6*k, at(38))
	p.curve(6*k, at(28), 16*k, at(24), 12*k, at(12))
	p.curve(10*k, at(8), 6*k, at(6), 0, at(6))
	p.st.ClosePath()
	p.st.Fill()
	p.colour(0)
}

// tube is a test tube tilted so that it pours at its lower end, with the drop.
func (p pen) tube(x, y, dir float64) {
	// From the closed end down to the mouth.
	p.width(4)
	ux, uy := 0.86*dir, -0.5
	nx, ny := -uy*dir, ux*dir // across
	half := 7.5
	const l = 28.0
	p.move(x+ux*l+nx*half, y+uy*l+ny*half)
	p.line(x+nx*half, y+ny*half)
	p.curve(x+nx*half-ux*10, y+ny*half-uy*10, x-nx*half-ux*10, y-ny*half-uy*10, x-nx*half, y-ny*half)
	p.line(x+ux*l-nx*half, y+uy*l-ny*half)
	p.st.Stroke()
	mx, my := x+ux*(l+3), y+uy*(l+3)
	p.width(5)
	p.move(mx+nx*(half+3), my+ny*(half+3))
	p.line(mx-nx*(half+3), my-ny*(half+3))
	p.st.Stroke()
	dx := mx + 4*dir
	for _, dy := range []float64{-14, -25} {
		p.oval(dx, my+dy, 2.6, 4.2)
	}
}

var signs = map[string]func(pen){
	// Flame.
	"GHS02": func(p pen) {
		p.flame(-38, 84)
		p.shape(-34, -48, 34, -48, 34, -42, -34, -42)
	},
	// Flame over circle.
	"GHS03": func(p pen) {
		p.st.SetLineWidth(8 * p.unit)
		p.st.Circle(p.x, p.y-28*p.unit, 22*p.unit)
		p.st.Stroke()
		p.flame(-12, 64)
		p.shape(-30, -61, 30, -61, 30, -55, -30, -55)
	},
	// Corrosion: two tubes pour, one on a slab, one on a hand.
	"GHS05": func(p pen) {
		p.tube(-48, 36, 1)
		p.tube(48, 36, -1)
		// Slab, eaten away under the drops.
		p.move(-58, -26)
		p.line(-30, -26)
		p.curve(-25, -26, -24, -34, -19, -34)
		p.curve(-14, -34, -13, -26, -8, -26)
		p.line(-4, -26)
		p.line(-4, -40)
		p.line(-58, -40)
		p.st.ClosePath()
		p.st.Fill()
		// Hand, eaten away under the drops.
		p.move(3, -36)
		p.curve(2, -30, 6, -24, 11, -25)
		p.curve(15, -26, 14, -34, 19, -34)
		p.curve(24, -34, 24, -26, 29, -24)
		p.curve(38, -24, 46, -25, 60, -22)
		p.line(60, -38)
		p.curve(46, -42, 22, -42, 3, -36)
		p.st.ClosePath()
		p.st.Fill()
	},
	// Skull and crossbones.
	"GHS06": func(p pen) {
		p.bar(-46, -16, 46, -52, 8)
		p.bar(46, -16, -46, -52, 8)
		for _, e := range [][2]float64{{-46, -16}, {46, -16}, {-46, -52}, {46, -52}} {
			p.dot(e[0], e[1]+4, 6)
			p.dot(e[0], e[1]-4, 6)
		}
		p.colour(1)
		p.oval(0, 24, 35, 36)
		p.colour(0)
		p.oval(0, 26, 30, 31)
		p.shape(-15, 2, 15, 2, 14, -18, -14, -18)
		p.colour(1)
		p.oval(-12, 22, 8, 8.5)
		p.oval(12, 22, 8, 8.5)
		p.shape(0, 15, -5, 4, 5, 4)
		for _, x := range []float64{-7, 0, 7} {
			p.bar(x, -5, x, -16, 2.2)
		}
		p.colour(0)
	},
	// Exclamation mark.
	"GHS07": func(p pen) {
		p.move(-13, 52)
		p.curve(-14, 64, 14, 64, 13, 52)
		p.line(6, -8)
		p.curve(4, -14, -4, -14, -6, -8)
		p.st.ClosePath()
		p.st.Fill()
		p.dot(0, -34, 12.5)
	},
	// Health hazard: a bust with a star burst in the chest.
	"GHS08": func(p pen) {
		p.oval(0, 46, 15, 18)
		p.move(-9, 30)
		p.line(9, 30)
		p.curve(12, 20, 40, 20, 44, -2)
		p.line(48, -40)
		p.line(-48, -40)
		p.line(-44, -2)
		p.curve(-40, 20, -12, 20, -9, 30)
		p.st.ClosePath()
		p.st.Fill()
		p.colour(1)
		star := make([]float64, 0, 32)
		for i := range 16 {
			r := 26.0
			if i%2 == 1 {
				r = 9
			}
			a := float64(i) * math.Pi / 8
			star = append(star, r*math.Sin(a), -8+r*math.Cos(a))
		}
		p.shape(star...)
		p.colour(0)
	},
	// Environment: a dead tree and a dead fish.
	"GHS09": func(p pen) {
		p.bar(-12, -30, -12, 40, 6)
		p.bar(-12, 8, -34, 30, 3.5)
		p.bar(-12, 16, 8, 40, 3.5)
		p.bar(-12, 26, -26, 46, 3)
		p.bar(-26, 22, -40, 22, 2.5)
		p.bar(-2, 28, 8, 26, 2.5)
		p.shape(-58, -32, 30, -32, 44, -38, -46, -38)
		p.oval(22, -16, 24, 9)
		p.shape(42, -16, 60, -6, 60, -26)
		p.colour(1)
		p.dot(6, -14, 2.6)
		p.colour(0)
	},
}
