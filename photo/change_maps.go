package photo

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"benchleaf/colour"
)

// MapKind names a quantity that can be seen as a map.
type MapKind string

// The maps. Those called even have the slow trend of light taken out.
const (
	MapDE00     MapKind = "de00"
	MapDE00Even MapKind = "de00-even"
	MapDL       MapKind = "dl"
	MapDLEven   MapKind = "dl-even"
	MapDB       MapKind = "db"
	MapDBEven   MapKind = "db-even"
)

// MapKinds lists the maps in the order in which a person would look at them.
func MapKinds() []MapKind {
	return []MapKind{MapDE00Even, MapDE00, MapDLEven, MapDL, MapDBEven, MapDB}
}

// Legend says what the colours of a map mean.
type Legend struct {
	// Title is what is shown, as on a figure.
	Title string
	// Low and High are the values at the ends of the scale; values beyond are
	// shown in the colours of the ends. Diverging scales have nought in the
	// middle.
	Low, High float64
	Diverging bool
	// Ticks are round values from Low to High; the ends are among them.
	Ticks []float64
	// LowSays and HighSays tell what the ends mean in words.
	LowSays, HighSays string
	// Scale is the colours from Low to High in even steps of value.
	Scale []color.NRGBA
	// Source names the published scale.
	Source string
}

// Tick writes a tick's value as it is to be shown.
func (l *Legend) Tick(v float64) string {
	if l.Diverging {
		return fmt.Sprintf("%+g", v)
	}
	return fmt.Sprintf("%g", v)
}

// At is the colour of a value.
func (l *Legend) At(v float64) color.NRGBA {
	i := math.Round((v - l.Low) / (l.High - l.Low) * float64(len(l.Scale)-1))
	return l.Scale[int(math.Min(float64(len(l.Scale)-1), math.Max(0, i)))]
}

// ChangeMap is one map over the before picture.
type ChangeMap struct {
	Kind MapKind
	// Picture covers the whole before picture, one pixel a cell; stretch it over
	// the picture. What was not compared is transparent, the rest opaque.
	Picture *image.NRGBA
	Legend  Legend
}

// Map draws a map. It panics for a kind that is not among MapKinds, and gives
// nil when the pictures could not be compared.
func (c *Comparison) Map(kind MapKind) *ChangeMap {
	if !c.Compared {
		return nil
	}
	g := c.grid
	out := &ChangeMap{Kind: kind, Picture: image.NewNRGBA(image.Rect(0, 0, g.w, g.h)), Legend: c.legend(kind)}
	value := g.values(kind)
	l := &out.Legend
	colour.Parallel(g.h, 32, func(lo, hi int) {
		for i := lo * g.w; i < hi*g.w; i++ {
			if g.ok.v[i] {
				p := l.At(float64(value(i)))
				out.Picture.Pix[4*i], out.Picture.Pix[4*i+1], out.Picture.Pix[4*i+2], out.Picture.Pix[4*i+3] = p.R, p.G, p.B, 255
			}
		}
	})
	return out
}

// ValueAt is the value of a map at a place of the before picture, and whether
// that place was compared.
func (c *Comparison) ValueAt(kind MapKind, p Point) (float64, bool) {
	if !c.Compared {
		return 0, false
	}
	g := c.grid
	q := g.toCell(p)
	x, y := math.Round(q.X), math.Round(q.Y)
	if !(x >= 0 && y >= 0 && x < float64(g.w) && y < float64(g.h)) {
		return 0, false
	}
	i := int(y)*g.w + int(x)
	return float64(g.values(kind)(i)), g.ok.v[i]
}

// values gives the value of each cell.
func (g *changeGrid) values(kind MapKind) func(i int) float32 {
	less := func(lab []float32, c int) func(i int) float32 {
		return func(i int) float32 { return lab[3*i+c] - g.labBefore[3*i+c] }
	}
	switch kind {
	case MapDE00:
		return func(i int) float32 { return g.de[i] }
	case MapDE00Even:
		return func(i int) float32 { return g.deFlat[i] }
	case MapDL:
		return less(g.labAfter, 0)
	case MapDLEven:
		return less(g.labFlat, 0)
	case MapDB:
		return less(g.labAfter, 2)
	case MapDBEven:
		return less(g.labFlat, 2)
	}
	panic("photo: no such map: " + string(kind))
}

// legend chooses the scale: the same for a map with and without the trend, so
// that the two can be laid side by side.
func (c *Comparison) legend(kind MapKind) Legend {
	far := func(a, b Stats) float64 {
		return math.Max(math.Max(math.Abs(a.P05), math.Abs(a.P95)), math.Max(math.Abs(b.P05), math.Abs(b.P95)))
	}
	var l Legend
	most := 0.0
	switch kind {
	case MapDE00, MapDE00Even:
		l = Legend{Title: "colour difference, dE00", LowSays: "as before", HighSays: "changed"}
		most = far(c.DE00, c.TrendRemoved)
	case MapDL, MapDLEven:
		l = Legend{Title: "lightness, dL*", LowSays: "darker", HighSays: "lighter", Diverging: true}
		most = far(c.DL, c.TrendRemovedDL)
	default:
		l = Legend{Title: "yellow and blue, db*", LowSays: "less yellow", HighSays: "yellower", Diverging: true}
		most = far(c.DB, c.TrendRemovedDB)
	}
	switch kind {
	case MapDE00Even, MapDLEven, MapDBEven:
		l.Title += ", light evened"
	}
	for _, l.High = range []float64{2, 4, 8, 12, 20, 40, 80} {
		if l.High >= 1.3*most {
			break
		}
	}
	step := l.High / 4
	if l.Diverging {
		l.Low = -l.High
		l.Scale = diverging[:]
		l.Source = "blue to tan by the method of Moreland (2009)"
		if kind == MapDL || kind == MapDLEven { // darker is the warm end, as yellower is
			l.Scale = make([]color.NRGBA, len(diverging))
			for i, p := range diverging {
				l.Scale[len(diverging)-1-i] = p
			}
		}
		step = l.High / 2
	} else {
		l.Scale = sequential[:]
		l.Source = "viridis by Smith, van der Walt and Firing (CC0)"
	}
	for v := l.Low; v <= l.High+step/2; v += step {
		l.Ticks = append(l.Ticks, v)
	}
	return l
}

// Warped is the after picture laid on the before picture, of its size and in the
// after picture's own colours; grey where the after picture shows nothing. nil
// when the pictures do not show the same face.
func (c *Comparison) Warped() *Image {
	if c.Alignment.Verdict == Different {
		return nil
	}
	b, m := c.full.before, c.full.after
	out := &Image{W: b.W, H: b.H, Pix: make([]uint8, 4*b.W*b.H), Profile: m.Profile, ICC: m.ICC}
	nw, nh := b.W/nodeEvery+2, b.H/nodeEvery+2
	colour.Parallel(nh-1, 4, func(lo, hi int) {
		top, low := make([]Point, nw), make([]Point, nw)
		for j := lo; j < hi; j++ {
			for i := range nw {
				top[i] = c.Alignment.warp.Map(Point{float64(i * nodeEvery), float64(j * nodeEvery)})
				low[i] = c.Alignment.warp.Map(Point{float64(i * nodeEvery), float64((j + 1) * nodeEvery)})
			}
			for y := j * nodeEvery; y < min(b.H, (j+1)*nodeEvery); y++ {
				ty := float64(y%nodeEvery) / nodeEvery
				row := out.Pix[4*b.W*y : 4*b.W*(y+1)]
				for i := range nw - 1 {
					p := Point{top[i].X + ty*(low[i].X-top[i].X), top[i].Y + ty*(low[i].Y-top[i].Y)}
					q := Point{top[i+1].X + ty*(low[i+1].X-top[i+1].X), top[i+1].Y + ty*(low[i+1].Y-top[i+1].Y)}
					dx, dy := (q.X-p.X)/nodeEvery, (q.Y-p.Y)/nodeEvery
					for k := range nodeEvery {
						if x := i*nodeEvery + k; x < b.W {
							m.cubic(p.X+float64(k)*dx, p.Y+float64(k)*dy, row[4*x:4*x+4:4*x+4])
						}
					}
				}
			}
		}
	})
	return out
}

// warpSurround is shown where there is nothing to show: L* about 50.
const warpSurround = 0x77

// cubicWeights holds the weights of Catmull-Rom interpolation (Keys 1981, a =
// -1/2) at 256 places between two pixels, in parts of 1<<12.
var cubicWeights = func() (t [257][4]int32) {
	for i := range t {
		x := float64(i) / 256
		w := [4]float64{
			x * (-0.5 + x*(1-0.5*x)), 1 + x*x*(-2.5+1.5*x),
			x * (0.5 + x*(2-1.5*x)), x * x * (-0.5 + 0.5*x),
		}
		sum := int32(0)
		for k := range w {
			t[i][k] = int32(math.Round(w[k] * (1 << 12)))
			sum += t[i][k]
		}
		t[i][1] += 1<<12 - sum
	}
	return t
}()

// cubic reads between pixels by Catmull-Rom, borders repeated.
func (m *Image) cubic(x, y float64, dst []uint8) {
	dst[3] = 255
	if !(x > -0.5 && y > -0.5 && x < float64(m.W)-0.5 && y < float64(m.H)-0.5) {
		dst[0], dst[1], dst[2] = warpSurround, warpSurround, warpSurround
		return
	}
	fx, fy := math.Floor(x), math.Floor(y)
	wx, wy := &cubicWeights[int((x-fx)*256+0.5)], &cubicWeights[int((y-fy)*256+0.5)]
	ix, iy := int(fx), int(fy)
	var r, g, b int32
	for j := range 4 {
		row := min(m.H-1, max(0, iy-1+j)) * m.W
		var sr, sg, sb int32
		if ix >= 1 && ix+2 < m.W {
			q := m.Pix[4*(row+ix-1):][:16]
			sr = wx[0]*int32(q[0]) + wx[1]*int32(q[4]) + wx[2]*int32(q[8]) + wx[3]*int32(q[12])
			sg = wx[0]*int32(q[1]) + wx[1]*int32(q[5]) + wx[2]*int32(q[9]) + wx[3]*int32(q[13])
			sb = wx[0]*int32(q[2]) + wx[1]*int32(q[6]) + wx[2]*int32(q[10]) + wx[3]*int32(q[14])
		} else {
			for i := range 4 {
				q := m.Pix[4*(row+min(m.W-1, max(0, ix-1+i))):]
				sr, sg, sb = sr+wx[i]*int32(q[0]), sg+wx[i]*int32(q[1]), sb+wx[i]*int32(q[2])
			}
		}
		r, g, b = r+wy[j]*(sr>>6), g+wy[j]*(sg>>6), b+wy[j]*(sb>>6)
	}
	const half = 1 << 17
	dst[0], dst[1], dst[2] = clamp8((r+half)>>18), clamp8((g+half)>>18), clamp8((b+half)>>18)
}

// Masks are drawn one pixel a cell over the before picture, 255 where set.
type Masks struct {
	// Compared is what the numbers rest on, Print the print in either picture,
	// Glare what is overexposed in either.
	Compared, Print, Glare *image.Gray
}

// Masks draws them; nil when the pictures could not be compared.
func (c *Comparison) Masks() *Masks {
	if !c.Compared {
		return nil
	}
	g := c.grid
	print := newMask(g.w, g.h)
	for i := range print.v {
		print.v[i] = g.ok.v[i] && (g.viewBefore.print.v[i] || g.viewAfter.print.v[i])
	}
	return &Masks{Compared: g.ok.gray(), Print: print.gray(), Glare: g.lost.gray()}
}
