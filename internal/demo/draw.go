package demo

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// stage is the time at which a picture of the object is supposed to be taken.
type stage int

const (
	stageArrival stage = iota
	stageBefore
	stageAfter
)

// picture is what a drawn photograph shows: one face of an opened sheet on a
// grey table, or the cover.
type picture struct {
	number      int // sheet, 0 the cover
	face        string
	stage       stage
	halfOpen    bool // a single page as it lies in the closed object
	left, right int  // page numbers
	chart       bool // the colour chart on its board instead of a sheet
	ring        bool // a cup stood on it once
	// lamp is how the drawn camera renders white, by channel; 0 is 1.
	lamp [3]float32
}

func cover(s stage) picture {
	return picture{number: 0, face: "outer", stage: s, halfOpen: s == stageArrival}
}

func leaf(n int, s stage) picture {
	return picture{number: n, face: "outer", stage: s, halfOpen: true, right: 2*n - 1}
}

// sheet is a face of inner sheet n of the nine: outer 4N-2k+2 | 2k-1, inner
// 2k | 4N-2k+1.
func sheet(n int, face string, s stage) picture {
	p := picture{number: n, face: face, stage: s, left: 38 - 2*n, right: 2*n - 1}
	if face == "inner" {
		p.left, p.right = 2*n, 37-2*n
	}
	return p
}

// Pixels per millimetre of the drawn sheet and of the picture of it.
const (
	pxPerMm  = 4
	sheetW   = 340 * pxPerMm
	sheetH   = 262 * pxPerMm
	pictureW = 1600
	pictureH = 1240
)

func (p picture) jpeg() ([]byte, image.Point, error) {
	flat := p.board
	if !p.chart {
		flat = p.paper
	}
	shot := p.shoot(flat())
	var b bytes.Buffer
	err := jpeg.Encode(&b, shot, &jpeg.Options{Quality: 88})
	return b.Bytes(), shot.Bounds().Size(), err
}

// layer is a sheet in linear reflectance per channel, 0 to 1.
type layer struct {
	w, h int
	pix  []float32 // RGB interleaved
}

func (l *layer) scale(x, y int, r, g, b float32) {
	i := 3 * (y*l.w + x)
	l.pix[i] *= r
	l.pix[i+1] *= g
	l.pix[i+2] *= b
}

// rows runs f over bands of rows on all cores.
func rows(h int, f func(y0, y1 int)) {
	const bands = 8
	var wg sync.WaitGroup
	for k := range bands {
		wg.Go(func() { f(h*k/bands, h*(k+1)/bands) })
	}
	wg.Wait()
}

// paper draws the flat sheet: stock, age, damage, print.
func (p picture) paper() *layer {
	l := &layer{w: sheetW, h: sheetH, pix: make([]float32, 3*sheetW*sheetH)}
	base := [3]float32{0.66, 0.55, 0.36} // groundwood of the thirties
	switch {
	case p.number == 0:
		base = [3]float32{0.74, 0.67, 0.53}
	case p.stage == stageAfter:
		base = [3]float32{0.71, 0.62, 0.45}
	}
	grain := newNoise(uint64(100+p.number), 7)
	cloud := newNoise(uint64(200+p.number), 160)
	tide := p.tide()
	rows(l.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range l.w {
				i := 3 * (y*l.w + x)
				n := 1 + 0.035*grain.at(x, y) + 0.03*cloud.at(x, y)
				edge := float32(math.Min(math.Min(float64(x), float64(l.w-x)), math.Min(float64(y), float64(l.h-y))))
				brown := 0.16 * float32(math.Exp(-float64(edge)/70))
				for c := range 3 {
					l.pix[i+c] = base[c] * n * (1 - brown*[3]float32{0.7, 1, 1.3}[c])
				}
				if tide != nil {
					d := tide(x, y)
					l.scale(x, y, 1-0.32*d, 1-0.5*d, 1-0.66*d)
				}
			}
		}
	})
	p.print(l)
	p.damage(l)
	return l
}

// tide is how strongly water left its mark at a place, 0 to 1: a sharp line
// with a soft stain behind it, weaker from sheet to sheet inwards.
func (p picture) tide() func(x, y int) float32 {
	if p.number > 6 || p.number == 0 && p.stage != stageArrival {
		return nil
	}
	strength := 0.95 - 0.1*float64(p.number)
	if p.stage == stageAfter {
		strength *= 0.22
	}
	wave := newNoise(7, 210)
	small := newNoise(8, 34)
	return func(x, y int) float32 {
		line := 0.70*sheetH + 60*float64(wave.at(x, 0)) + 10*float64(small.at(x, 0)) + 0.05*float64(x)
		d := float64(y) - line
		switch {
		case d < -3:
			return 0
		case d < 10:
			return float32(strength * math.Exp(-(d-3)*(d-3)/26))
		default:
			return float32(strength * (0.2 + 0.35*math.Exp(-(d-10)/40)))
		}
	}
}

// print lays ink on the sheet: lines of type in two columns, a plate, a folio.
func (p picture) print(l *layer) {
	ink := image.NewAlpha(image.Rect(0, 0, l.w, l.h))
	r := rand.New(rand.NewPCG(uint64(p.number), uint64(len(p.face))))
	if p.number == 0 {
		p.printCover(l, ink)
		return
	}
	for side := range 2 {
		x0 := side*l.w/2 + 26*pxPerMm/2
		if side == 0 && p.halfOpen {
			continue
		}
		page := []int{p.left, p.right}[side]
		p.printPage(ink, r, x0, page)
	}
	soak(l, ink, [3]float32{0.93, 0.92, 0.9})
}

func (p picture) printPage(ink *image.Alpha, r *rand.Rand, x0, page int) {
	const width = sheetW/2 - 26*pxPerMm
	column := (width - 20) / 2
	body, head := face(regular, 21), face(bold, 46)
	y := 26 * pxPerMm
	if page%5 == 1 {
		text(ink, head, x0, y+20, title(r))
		y += 60
	}
	plate := page%3 == 0
	for c := range 2 {
		x := x0 + c*(column+20)
		yy := y
		if plate && c == 1 {
			halftone(ink, image.Rect(x, yy, x+column, yy+330), r)
			yy += 350
		}
		for ; yy < sheetH-24*pxPerMm; yy += 27 {
			text(ink, body, x, yy, words(r, body, column))
		}
	}
	text(ink, body, x0+width/2, sheetH-13*pxPerMm, itoa(page))
}

func (p picture) printCover(l *layer, ink *image.Alpha) {
	blue, red := image.NewAlpha(ink.Rect), image.NewAlpha(ink.Rect)
	x0 := l.w / 2
	fill(blue, [][2]float32{{float32(x0), 330}, {float32(l.w), 330}, {float32(l.w), 720}, {float32(x0), 660}})
	for k := range 9 { // waves
		yy := float32(690 + 34*k)
		var pts [][2]float32
		for i := range 23 {
			pts = append(
				pts,
				[2]float32{
					float32(x0) + float32(i)*float32(l.w-x0)/22,
					yy + 9*float32(math.Sin(float64(i)*1.3+float64(k))),
				},
			)
		}
		for i := range 23 {
			q := pts[22-i]
			pts = append(pts, [2]float32{q[0], q[1] + 13})
		}
		fill(blue, pts)
	}
	cx := float32(x0 + (l.w-x0)/2)
	disc(red, cx+120, 470, 92)
	// A windlass: drum, two frames, a crank.
	fill(ink, [][2]float32{{cx - 150, 690}, {cx - 120, 520}, {cx - 96, 520}, {cx - 84, 690}})
	fill(ink, [][2]float32{{cx + 84, 690}, {cx + 96, 520}, {cx + 120, 520}, {cx + 150, 690}})
	fill(ink, [][2]float32{{cx - 112, 560}, {cx + 112, 560}, {cx + 112, 628}, {cx - 112, 628}})
	fill(
		ink,
		[][2]float32{
			{cx + 112, 586},
			{cx + 190, 586},
			{cx + 190, 522},
			{cx + 206, 522},
			{cx + 206, 602},
			{cx + 112, 602},
		},
	)
	text(red, face(bold, 78), x0+44, 165, "THE WINDLASS")
	text(red, face(bold, 66), x0+46, 250, "MONTHLY")
	text(ink, face(bold, 34), x0+430, 250, "No. 31")
	text(ink, face(regular, 30), x0+48, sheetH-70, "Tales of the harbour and the open sea")
	text(ink, face(regular, 26), x0+560, 70, "1/-  2.40") // the pencilled price
	text(ink, face(bold, 30), 90, 150, "ROPE, TAR AND CANVAS")
	r := rand.New(rand.NewPCG(5, 5))
	for yy := 200; yy < 620; yy += 31 {
		text(ink, face(regular, 24), 90, yy, words(r, face(regular, 24), x0-190))
	}
	halftone(ink, image.Rect(90, 660, x0-100, 940), r)
	soak(l, blue, [3]float32{0.72, 0.45, 0.2})
	soak(l, red, [3]float32{0.15, 0.78, 0.8})
	soak(l, ink, [3]float32{0.9, 0.9, 0.88})
}

// damage draws what the condition list names: foxing, rust, tear, tape, loss.
func (p picture) damage(l *layer) {
	fade := float32(1)
	if p.stage == stageAfter {
		fade = 0.35
	}
	r := rand.New(rand.NewPCG(33, uint64(p.number)))
	if p.number == 0 || p.number == 1 {
		for range 40 {
			spot(
				l,
				r.Float64()*float64(l.w),
				r.Float64()*float64(l.h),
				3+6*r.Float64(),
				fade*(0.2+0.3*float32(r.Float64())),
			)
		}
	}
	if p.number <= 2 {
		spot(l, float64(l.w)/2, 198*pxPerMm, 22, 0.8*fade)
	}
	if p.ring {
		ring(l, fade)
	}
	if p.number >= 2 && p.number <= 4 {
		tear(l, p.stage == stageAfter)
	}
	if p.number == 9 && p.face == "inner" && p.stage != stageAfter {
		for y := 70 * pxPerMm; y < 180*pxPerMm; y++ {
			for x := l.w/2 - 9*pxPerMm; x < l.w/2+9*pxPerMm; x++ {
				l.scale(x, y, 0.93, 0.82, 0.6)
			}
		}
	}
	if p.number == 1 { // the lost corner, seen through to the table
		for y := l.h - 24*pxPerMm; y < l.h; y++ {
			for x := range 24 * pxPerMm {
				if float64(x)+float64(l.h-y) < 24*pxPerMm+6*math.Sin(float64(y)/5) {
					i := 3 * (y*l.w + x)
					l.pix[i], l.pix[i+1], l.pix[i+2] = 0.19, 0.19, 0.19
				}
			}
		}
	}
	if !p.halfOpen { // the fold
		for y := range l.h {
			for d := -3; d <= 3; d++ {
				s := 1 - 0.05*float32(4-abs(d))/4
				l.scale(l.w/2+d, y, s, s, s)
			}
		}
	}
}

// Where the ring of a cup lies, in mm.
const ringX, ringY, ringR = 92, 148, 24

// ring draws what a cup left: a brown line, and a paler brown within.
func ring(l *layer, s float32) {
	wave := newNoise(41, 60)
	for y := (ringY - ringR - 8) * pxPerMm; y < (ringY+ringR+8)*pxPerMm; y++ {
		for x := (ringX - ringR - 8) * pxPerMm; x < (ringX+ringR+8)*pxPerMm; x++ {
			d := math.Hypot(float64(x)/pxPerMm-ringX, float64(y)/pxPerMm-ringY) - ringR - 0.7*float64(wave.at(x, y))
			k := 0.5 * math.Exp(-d*d/2.4)
			if d < 0 {
				k = math.Max(k, 0.16)
			}
			v := s * float32(k)
			l.scale(x, y, 1-0.4*v, 1-0.62*v, 1-0.8*v)
		}
	}
}

func tear(l *layer, mended bool) {
	r := rand.New(rand.NewPCG(77, 1))
	y := float64(180 * pxPerMm)
	for x := l.w - 1; x > l.w-84*pxPerMm; x-- {
		y += r.NormFloat64() * 0.9
		open := 1 + float64(x-(l.w-84*pxPerMm))/float64(84*pxPerMm)*5
		for d := -6; d <= 6; d++ {
			yy := int(y) + d
			switch {
			case mended && abs(d) < 2:
				l.scale(x, yy, 0.93, 0.92, 0.9)
			case !mended && math.Abs(float64(d)) < open/2:
				l.scale(x, yy, 0.3, 0.3, 0.3)
			case !mended && d > 0 && float64(d) < open/2+3:
				l.scale(x, yy, 1.12, 1.14, 1.2)
			}
		}
	}
}

func spot(l *layer, cx, cy, radius float64, s float32) {
	reach := int(3 * radius)
	for y := max(0, int(cy)-reach); y < min(l.h, int(cy)+reach); y++ {
		for x := max(0, int(cx)-reach); x < min(l.w, int(cx)+reach); x++ {
			d2 := (float64(x)-cx)*(float64(x)-cx) + (float64(y)-cy)*(float64(y)-cy)
			k := s * float32(math.Exp(-d2/(2*radius*radius)))
			l.scale(x, y, 1-0.4*k, 1-0.65*k, 1-0.85*k)
		}
	}
}

// tilt and offset are how the drawn camera is held for a picture; the two of a
// face, taken by hand, differ.
func (p picture) tilt() (angle float64, offset [2]float64) {
	switch p.stage {
	case stageAfter:
		return -0.011, [2]float64{11, -8}
	case stageArrival:
		return 0.03, offset
	}
	return 0.006 * float64(p.number%3), offset
}

// onPicture is where a place of an opened sheet, in mm from its left edge and
// head, lies in the picture: the inverse of what shoot does.
func (p picture) onPicture(xMm, yMm float64) [2]float64 {
	angle, offset := p.tilt()
	ca, sa := math.Cos(angle), math.Sin(angle)
	u, v := xMm*pxPerMm-sheetW/2, yMm*pxPerMm-sheetH/2
	x, y := ca*u-sa*v, sa*u+ca*v
	for range 4 { // the drawn lens, see shoot
		k := 1 + 0.00001*x
		x, y = ca*u/k-sa*v/k, sa*u/k+ca*v/k
	}
	return [2]float64{math.Round(x + pictureW/2 + offset[0]), math.Round(y + pictureH/2 + offset[1])}
}

// shoot takes the picture: the sheet a little turned on a grey table, light
// falling off to one side, the sensor's noise.
func (p picture) shoot(l *layer) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, pictureW, pictureH))
	angle, shift := p.tilt()
	light := 0.10
	if p.stage == stageAfter {
		light = -0.07
	}
	ca, sa := math.Cos(angle), math.Sin(angle)
	ox, oy := float64(l.w)/2, float64(l.h)/2
	from := 0.0
	if p.halfOpen { // only the right half shows, and it fills the middle
		from, ox = float64(l.w)/2, float64(l.w)*0.75
	}
	lamp := p.lamp
	if lamp == [3]float32{} {
		lamp = [3]float32{1, 1, 1}
	}
	noise := newNoise(uint64(900+p.number)+uint64(p.stage)*31, 1.5)
	rows(pictureH, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range pictureW {
				dx, dy := float64(x)-pictureW/2-shift[0], float64(y)-pictureH/2-shift[1]
				k := 1 + 0.00001*dx
				sx, sy := (ca*dx+sa*dy)*k+ox, (-sa*dx+ca*dy)*k+oy
				lit := float32(1 + light*(float64(x)/pictureW-0.5) + 0.05*(0.5-float64(y)/pictureH))
				rgb := [3]float32{0.19, 0.19, 0.19}
				if sx >= from && sx < float64(l.w-1) && sy >= 0 && sy < float64(l.h-1) {
					rgb = l.sample(sx, sy)
				} else if near := shadow(sx, sy, from, float64(l.w), float64(l.h)); near > 0 {
					for c := range rgb {
						rgb[c] *= 1 - 0.5*near
					}
				}
				n := 1 + 0.012*noise.at(x, y)
				i := out.PixOffset(x, y)
				for c := range 3 {
					out.Pix[i+c] = toSRGB(rgb[c] * lamp[c] * lit * n)
				}
				out.Pix[i+3] = 255
			}
		}
	})
	return out
}

func shadow(x, y, x0, w, h float64) float32 {
	d := math.Max(math.Max(x0-x, x-w), math.Max(-y, y-h))
	return float32(math.Exp(-d / 9))
}

func (l *layer) sample(x, y float64) (rgb [3]float32) {
	x0, y0 := int(x), int(y)
	fx, fy := float32(x-float64(x0)), float32(y-float64(y0))
	i := 3 * (y0*l.w + x0)
	j := i + 3*l.w
	for c := range 3 {
		top := l.pix[i+c]*(1-fx) + l.pix[i+3+c]*fx
		low := l.pix[j+c]*(1-fx) + l.pix[j+3+c]*fx
		rgb[c] = top*(1-fy) + low*fy
	}
	return rgb
}

var srgbTable = sync.OnceValue(func() []uint8 {
	t := make([]uint8, 4097)
	for i := range t {
		v := float64(i) / 4096
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		t[i] = uint8(255*v + 0.5)
	}
	return t
})

func toSRGB(v float32) uint8 { return srgbTable()[int(4096*min(max(v, 0), 1))] }

// soak lays ink of a density per channel where the mask says so.
func soak(l *layer, mask *image.Alpha, density [3]float32) {
	rows(l.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range l.w {
				if a := mask.Pix[y*mask.Stride+x]; a > 0 {
					k := float32(a) / 255
					l.scale(x, y, 1-density[0]*k, 1-density[1]*k, 1-density[2]*k)
				}
			}
		}
	})
}

var (
	regular = sync.OnceValue(func() *opentype.Font { return must(opentype.Parse(goregular.TTF)) })
	bold    = sync.OnceValue(func() *opentype.Font { return must(opentype.Parse(gobold.TTF)) })
)

// must is for the fonts that are part of the program.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func face(f func() *opentype.Font, px float64) font.Face {
	return must(opentype.NewFace(f(), &opentype.FaceOptions{Size: px, DPI: 72}))
}

func text(ink *image.Alpha, f font.Face, x, y int, s string) {
	d := font.Drawer{Dst: ink, Src: image.NewUniform(color.Alpha{255}), Face: f, Dot: fixed.P(x, y)}
	d.DrawString(s)
}

func fill(ink *image.Alpha, pts [][2]float32) {
	b := ink.Bounds()
	z := vector.NewRasterizer(b.Dx(), b.Dy())
	z.MoveTo(pts[0][0], pts[0][1])
	for _, q := range pts[1:] {
		z.LineTo(q[0], q[1])
	}
	z.ClosePath()
	z.DrawOp = draw.Over
	z.Draw(ink, b, image.Opaque, image.Point{})
}

func disc(ink *image.Alpha, cx, cy, r float32) {
	var pts [][2]float32
	for i := range 60 {
		a := float64(i) * math.Pi / 30
		pts = append(pts, [2]float32{cx + r*float32(math.Cos(a)), cy + r*float32(math.Sin(a))})
	}
	fill(ink, pts)
}

// halftone is a plate in dots: a shore, a mast, a sky.
func halftone(ink *image.Alpha, box image.Rectangle, r *rand.Rand) {
	sky := newNoise(r.Uint64(), 90)
	mast := box.Min.X + box.Dx()/3 + r.IntN(box.Dx()/3)
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			h := float64(y-box.Min.Y) / float64(box.Dy())
			tone := 0.25 + 0.2*float64(sky.at(x, y))
			if h > 0.62+0.05*float64(sky.at(x, 0)) {
				tone = 0.55 + 0.25*math.Sin(float64(y)/3+float64(sky.at(x, y))*4)
			}
			if abs(x-mast) < 4 && h > 0.1 && h < 0.68 || h > 0.6 && h < 0.7 && abs(x-mast) < 90 {
				tone = 0.95
			}
			// A dot grid at 45 degrees, six pixels apart.
			u, v := math.Mod(float64(x+y), 8)-4, math.Mod(float64(x-y+8000), 8)-4
			if (u*u+v*v)/32 < tone {
				ink.Pix[y*ink.Stride+x] = 220
			}
		}
	}
}

var lexicon = strings.Fields(
	"the tide had turned before dawn and no lamp burned on the quay when old Marten set his hand to the crank of " +
		"the windlass a rope ran out over the stones harbour mast keel wind from north by east they said nothing of " +
		"the chart nor of the stranger who slept below deck salt iron smoke morning bell watch",
)

func words(r *rand.Rand, f font.Face, width int) string {
	var line []string
	for w := 0; ; {
		next := lexicon[r.IntN(len(lexicon))]
		w += font.MeasureString(f, next+" ").Ceil()
		if w > width {
			return strings.Join(line, " ")
		}
		line = append(line, next)
	}
}

func title(r *rand.Rand) string {
	list := []string{"THE LAMP AT FAR QUAY", "SEVEN FATHOMS DOWN", "A ROPE FOR MARTEN", "NORTH BY EAST"}
	return list[r.IntN(len(list))]
}

func itoa(n int) string {
	if n == 0 {
		return ""
	}
	var b []byte
	for ; n > 0; n /= 10 {
		b = append(b, byte('0'+n%10))
	}
	slices.Reverse(b)
	return string(b)
}

func abs(n int) int { return max(n, -n) }

// noise is smooth value noise with a grain of so many pixels, -1 to 1.
type noise struct {
	cell  float64
	table [4096]float32
}

func newNoise(seed uint64, cell float64) *noise {
	n := &noise{cell: cell}
	r := rand.New(rand.NewPCG(seed, 99))
	for i := range n.table {
		n.table[i] = 2*r.Float32() - 1
	}
	return n
}

func (n *noise) at(x, y int) float32 {
	fx, fy := float64(x)/n.cell, float64(y)/n.cell
	x0, y0 := math.Floor(fx), math.Floor(fy)
	u, v := float32(fx-x0), float32(fy-y0)
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	i, j := int(x0), int(y0)
	top := n.knot(i, j)*(1-u) + n.knot(i+1, j)*u
	low := n.knot(i, j+1)*(1-u) + n.knot(i+1, j+1)*u
	return top*(1-v) + low*v
}

func (n *noise) knot(i, j int) float32 {
	h := uint32(i)*0x9E3779B1 ^ uint32(j)*0x85EBCA77
	h ^= h >> 15
	return n.table[h*0x2C1B3C6D>>20]
}
