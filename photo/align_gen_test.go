package photo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"benchleaf/colour"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// alignPair is a sheet photographed twice by program: what is known of it is
// known exactly.
type alignPair struct {
	name          string
	before, after *Image
	// truth takes a place of the before picture to the after picture.
	truth func(Point) Point
	// sheet is where the sheet lies in the before picture.
	sheet Quad
}

// pairOptions choose what alignCase may do; the zero value asks for all of what
// the issue names, at eight megapixels.
type pairOptions struct {
	source   string  // a photograph of testdata, or a drawn sheet; "" picks a photograph by seed
	pixels   float64 // of the sheet; 0 means eight million, negative the source's own size
	anyTurn  bool    // any angle and more zoom, instead of a hand's tilt
	keepFlat bool    // no displacement beyond the homography

	zoom   float64    // pixels of the after picture along one of the before picture; 0 leaves it to chance
	turn   float64    // degrees besides what chance gives
	slant  float64    // times the usual perspective; 0 means 1
	bend   float64    // times the usual displacement; 0 means 1
	blur   float64    // sigma of the after picture in its pixels, besides what chance gives
	bleach bool       // the after picture shows paper and stains much lighter
	grey   string     // "before" or "after" without colour
	ground string     // "table" or "clutter" lies round the sheet in both pictures, where it lay, whatever the sheet did
	part   [4]float64 // left, top, right, bottom shares of the after picture that are kept; all 0 keeps all
	torn   [2]float64 // shares of the sheet's width and height that are gone in the after picture, at its lower right
	mirror bool       // the after picture is seen from behind
}

// alignSources are the photographs that pairs are made of. Only the cookery
// page has eight megapixels by itself; the others are enlarged (Catmull-Rom), and
// a fine paper grain is added to all enlarged ones, since enlarging invents no
// detail. So their print is blurred over two to four pixels, as that of a
// picture out of focus.
var alignSources = []string{
	"cookbook-page-a.jpg",
	"lapide.052.100.jpg",
	"cat.007.jpg",
	"1555.003.jpg",
	"cavalerie.11.jpg",
	"breviar.38.150.jpg",
	"zanotti-78.jpg",
	"lyra.005.jpg",
}

// drawnSheets are sheets drawn by program, for kinds of print that the
// photographs do not have.
var drawnSheets = []string{"type", "handwriting", "comic", "cover", "nearly blank"}

// alignCase makes the pair of a seed.
func alignCase(t testing.TB, seed uint64, opt pairOptions) *alignPair {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 4711))
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	source := opt.source
	if source == "" {
		source = alignSources[rng.IntN(len(alignSources))]
	}
	pixels := opt.pixels
	if pixels == 0 {
		pixels = 8e6
	}
	s := newSheetSource(t, source, pixels, seed)
	w, h := s.w, s.h
	side := float64(max(w, h))
	p := &alignPair{name: source}

	// The way of the camera and of the paper.
	zoom := between(0.85, 1.15)
	turn := between(-8, 8)
	if opt.anyTurn {
		turn = between(-180, 180)
		zoom = between(0.6, 1.4)
	}
	if opt.zoom > 0 {
		zoom = opt.zoom
	}
	turn += opt.turn
	// The before picture shows the sheet whole, with ground round it or none.
	inset := 0.0
	if opt.ground != "" {
		inset = math.Round(between(0.08, 0.2) * side)
	}
	bw, bh := w+2*int(inset), h+2*int(inset)
	aw, ah := bw, bh
	if math.Abs(math.Sin(turn*math.Pi/180)) > 0.7 {
		aw, ah = bh, bw
	}
	if opt.zoom > 0 {
		aw, ah = int(float64(aw)*zoom), int(float64(ah)*zoom)
	}
	cos, sin := math.Cos(turn*math.Pi/180)*zoom, math.Sin(turn*math.Pi/180)*zoom
	slant := orOne(opt.slant)
	px, py := slant*between(-0.08, 0.08)/side, slant*between(-0.08, 0.08)/side
	shift := 0.03 * float64(max(aw, ah))
	to := Homography{1, 0, float64(aw)/2 + between(-1, 1)*shift, 0, 1, float64(ah)/2 + between(-1, 1)*shift, 0, 0, 1}
	mid := Homography{cos, -sin, 0, sin, cos, 0, px, py, 1}
	from := Homography{1, 0, -float64(w) / 2, 0, 1, -float64(h) / 2, 0, 0, 1}
	plain := mid.times(&from)
	plain = to.times(&plain) // from the sheet to the after picture
	if opt.mirror {
		plain = (&Homography{-1, 0, float64(aw - 1), 0, 1, 0, 0, 0, 1}).times(&plain)
	}
	var waves []wave
	if !opt.keepFlat {
		for range 4 {
			a, length := between(0, 2*math.Pi), side*between(0.3, 1.2)
			height := side * 0.0006 * orOne(opt.bend)
			waves = append(waves, wave{
				kx: math.Cos(a) * 2 * math.Pi / length, ky: math.Sin(a) * 2 * math.Pi / length,
				phase: between(0, 2*math.Pi), ax: rng.NormFloat64() * height, ay: rng.NormFloat64() * height,
			})
		}
	}
	bend := func(q Point) (d Point) {
		for _, v := range waves {
			k := math.Sin(v.kx*q.X + v.ky*q.Y + v.phase)
			d.X += v.ax * k
			d.Y += v.ay * k
		}
		return d
	}
	if opt.part != [4]float64{} {
		cut := Homography{
			1,
			0,
			-math.Round(opt.part[0] * float64(aw)),
			0,
			1,
			-math.Round(opt.part[1] * float64(ah)),
			0,
			0,
			1,
		}
		plain = cut.times(&plain)
		aw, ah = int((opt.part[2]-opt.part[0])*float64(aw)), int((opt.part[3]-opt.part[1])*float64(ah))
	}
	p.truth = func(q Point) Point {
		q = Point{q.X - inset, q.Y - inset}
		d := bend(q)
		return plain.Map(Point{q.X + d.X, q.Y + d.Y})
	}
	p.sheet = Quad{
		{inset, inset},
		{inset + float64(w-1), inset},
		{inset + float64(w-1), inset + float64(h-1)},
		{inset, inset + float64(h-1)},
	}
	back, _ := plain.Inverse()
	inverse := func(q Point) Point {
		u := back.Map(q)
		x := u
		for range 4 {
			d := bend(x)
			x = Point{u.X - d.X, u.Y - d.Y}
		}
		return x
	}

	// Before: some stains; after: most of them gone, sometimes a new one; other
	// light.
	stains := randomStains(rng, w, h, 3+rng.IntN(6))
	var kept []softStain
	for _, st := range stains {
		if rng.IntN(4) == 0 {
			st.depth *= between(0.2, 1)
			kept = append(kept, st)
		}
	}
	if rng.IntN(3) == 0 {
		kept = append(kept, randomStains(rng, w, h, 1)...)
	}
	table := rng.Uint64()
	before := shot{
		w:      bw,
		h:      bh,
		way:    func(q Point) Point { return Point{q.X - inset, q.Y - inset} },
		whole:  true,
		stains: stains,
		lamp:   randomLight(rng, 0.1),
		sigma:  between(0, 0.5),
		ground: newGround(opt.ground, table, bw, bh),
		grey:   opt.grey == "before",
		left:   [2]float64{1, 1},
	}
	after := shot{
		w:      aw,
		h:      ah,
		way:    inverse,
		stains: kept,
		lamp:   randomLight(rng, 0.3),
		sigma:  math.Hypot(between(0, 0.9), opt.blur),
		ground: newGround(opt.ground, table, bw, bh),
		grey:   opt.grey == "after",
		left:   [2]float64{1 - opt.torn[0], 1 - opt.torn[1]},
		bleach: opt.bleach,
	}
	p.before = s.photograph(t, rng, before)
	p.after = s.photograph(t, rng, after)
	return p
}

func orOne(v float64) float64 {
	if v == 0 {
		return 1
	}
	return v
}

// shot is one photograph to be taken of a sheet.
type shot struct {
	w, h   int
	way    func(Point) Point // from its pixels to the sheet's
	whole  bool              // way goes from pixel to pixel
	stains []softStain
	lamp   light
	sigma  float64 // blur in its pixels
	ground *ground
	grey   bool
	bleach bool
	left   [2]float64 // shares of the sheet's width and height that are there
}

// ground is what lies round the sheet: linear light for a pixel.
type ground struct {
	tone  [3]float64
	rough *roughness
	side  float64
	boxes [][7]float64 // middle, half sizes, colour
}

func newGround(kind string, seed uint64, w, h int) *ground {
	rng := rand.New(rand.NewPCG(seed, 5))
	g := &ground{
		tone: [3]float64{0.12 + 0.1*rng.Float64(), 0.12 + 0.1*rng.Float64(), 0.12 + 0.1*rng.Float64()},
		side: float64(max(w, h)),
	}
	if kind != "" {
		g.rough = newRoughness(rng)
	}
	if kind == "clutter" {
		for range 40 {
			g.boxes = append(g.boxes, [7]float64{
				rng.Float64() * float64(w), rng.Float64() * float64(h),
				(0.01 + 0.1*rng.Float64()) * g.side, (0.01 + 0.1*rng.Float64()) * g.side,
				rng.Float64(), rng.Float64(), rng.Float64(),
			})
		}
	}
	return g
}

func (g *ground) at(x, y int, dst []float32) {
	k, tone := 1.0, g.tone
	if g.rough != nil {
		// Grain of wood: long one way.
		k = 1 + 0.4*g.rough.at(float64(x)/g.side*40, float64(y)/g.side*400)
	}
	for _, b := range g.boxes {
		if math.Abs(float64(x)-b[0]) < b[2] && math.Abs(float64(y)-b[1]) < b[3] {
			tone = [3]float64{b[4], b[5], b[6]}
		}
	}
	for c := range dst {
		dst[c] = float32(tone[c] * k)
	}
}

// roughness is a rough relief, -1 to 1: noise on lattices of halving steps.
type roughness [64][64]float64

func newRoughness(rng *rand.Rand) *roughness {
	var n roughness
	for i := range n {
		for j := range n[i] {
			n[i][j] = rng.Float64()*2 - 1
		}
	}
	return &n
}

func (n *roughness) at(x, y float64) float64 {
	sum := 0.0
	for o, amplitude := range [3]float64{1, 0.5, 0.25} {
		u, v := x*float64(int(1)<<o), y*float64(int(1)<<o)
		i, j := int(math.Floor(u)), int(math.Floor(v))
		fu, fv := u-float64(i), v-float64(j)
		fu, fv = fu*fu*(3-2*fu), fv*fv*(3-2*fv)
		a, b := &n[i&63], &n[(i+1)&63]
		sum += amplitude * ((a[j&63]*(1-fu)+b[j&63]*fu)*(1-fv) + (a[(j+1)&63]*(1-fu)+b[(j+1)&63]*fu)*fv)
	}
	return sum / 1.75
}

type wave struct{ kx, ky, phase, ax, ay float64 }

// light is an uneven illumination with a colour: linear light is multiplied.
type light struct {
	gain   [3]float64
	gx, gy float64 // share by which it grows over half the picture
}

func randomLight(rng *rand.Rand, strength float64) light {
	n := func() float64 { return math.Exp(rng.NormFloat64() * strength / 3) }
	level := n()
	return light{
		[3]float64{level * n(), level, level * n()},
		rng.NormFloat64() * strength / 2,
		rng.NormFloat64() * strength / 2,
	}
}

// softStain is a patch or, with a ring, a tide line.
type softStain struct {
	x, y, rx, ry, edge float64
	ring               bool
	depth              float64
	absorb             [3]float64
	rough              *roughness
}

func randomStains(rng *rand.Rand, w, h, n int) []softStain {
	side := float64(max(w, h))
	var out []softStain
	for range n {
		r := side * (0.01 + 0.15*rng.Float64()*rng.Float64())
		out = append(out, softStain{
			x: rng.Float64() * float64(w), y: rng.Float64() * float64(h), rx: r * (0.6 + rng.Float64()), ry: r,
			edge: 0.03 + 0.3*rng.Float64(), ring: rng.IntN(3) == 0, depth: 0.1 + 0.5*rng.Float64(),
			absorb: [3]float64{0.3, 0.6, 1}, rough: newRoughness(rng),
		})
	}
	return out
}

func (s *softStain) at(p Point) float64 {
	u, v := (p.X-s.x)/s.rx, (p.Y-s.y)/s.ry
	if u*u+v*v > 4 {
		return 0
	}
	d := math.Sqrt(u*u+v*v) + 0.2*s.rough.at(u*1.5+10, v*1.5+10) - 1
	if s.ring {
		if d > 0 {
			return s.depth * math.Exp(-d*d/(0.25*s.edge*s.edge*0.1))
		}
		return s.depth * (0.2 + 0.8*math.Exp(-d*d/(s.edge*s.edge*0.2)))
	}
	return s.depth / (1 + math.Exp(d*4/s.edge))
}

// sheetSource is what is photographed: linear light, three values a pixel.
type sheetSource struct {
	w, h int
	pix  []float32
}

func newSheetSource(t testing.TB, name string, pixels float64, seed uint64) *sheetSource {
	for _, d := range drawnSheets {
		if d == name {
			if pixels < 0 {
				pixels = 2e6
			}
			return drawSheet(t, name, pixels, seed)
		}
	}
	m := decoded(t, name)
	l := m.shrink(m.W, m.H)
	src := &sheetSource{l.w, l.h, l.pix}
	if pixels < 0 {
		return src
	}
	k := math.Sqrt(pixels / float64(l.w*l.h))
	if math.Abs(k-1) < 0.02 {
		return src
	}
	w, h := int(float64(l.w)*k), int(float64(l.h)*k)
	out := &sheetSource{w, h, make([]float32, 3*w*h)}
	colour.Parallel(h, 8, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range w {
				src.sample((float64(x)+0.5)/k-0.5, (float64(y)+0.5)/k-0.5, out.pix[3*(y*w+x):])
			}
		}
	})
	if k > 1 {
		out.grain(rand.New(rand.NewPCG(seed, 99)), 0.02)
	}
	return out
}

// grain gives the paper a texture of its own that moves with it: soft specks a
// few pixels wide, the given share of its lightness deep.
func (s *sheetSource) grain(rng *rand.Rand, depth float64) {
	p := newPlane(s.w, s.h)
	for i := range p.v {
		p.v[i] = float32(rng.NormFloat64())
	}
	p = p.boxBlur(1).boxBlur(1)
	coarse := p.boxBlur(4)
	for i := range p.v {
		k := float32(1 + depth*(4*float64(p.v[i])+10*float64(coarse.v[i])))
		for c := range 3 {
			s.pix[3*i+c] = max(0, s.pix[3*i+c]*k)
		}
	}
}

// sample reads by Catmull-Rom, edges repeated, into dst.
func (s *sheetSource) sample(x, y float64, dst []float32) {
	ix, iy := int(math.Floor(x)), int(math.Floor(y))
	wx, wy := catmullRom(x-float64(ix)), catmullRom(y-float64(iy))
	var r, g, b float64
	for j, ky := range wy {
		row := min(s.h-1, max(0, iy-1+j)) * s.w
		for i, kx := range wx {
			q := s.pix[3*(row+min(s.w-1, max(0, ix-1+i))):]
			k := kx * ky
			r, g, b = r+k*float64(q[0]), g+k*float64(q[1]), b+k*float64(q[2])
		}
	}
	dst[0], dst[1], dst[2] = float32(r), float32(g), float32(b)
}

func catmullRom(t float64) [4]float64 {
	return [4]float64{
		t * (-0.5 + t*(1-0.5*t)), 1 + t*t*(-2.5+1.5*t),
		t * (0.5 + t*(2-1.5*t)), t * t * (-0.5 + 0.5*t),
	}
}

// photograph takes a picture of the sheet: stains laid, lit, blurred, grain of
// the sensor added, written as JPEG of quality 75 to 95 and read again.
func (s *sheetSource) photograph(t testing.TB, rng *rand.Rand, c shot) *Image {
	w, h := c.w, c.h
	m := &Image{W: w, H: h, Pix: make([]uint8, 4*w*h), Profile: colour.SRGB()}
	lin := make([]float32, 3*w*h)
	side := float64(max(s.w, s.h))
	right, low := c.left[0]*float64(s.w)-0.5, c.left[1]*float64(s.h)-0.5
	colour.Parallel(h, 8, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range w {
				q := c.way(Point{float64(x), float64(y)})
				dst := lin[3*(y*w+x) : 3*(y*w+x)+3]
				if q.X < -0.5 || q.Y < -0.5 || q.X > float64(s.w)-0.5 || q.Y > float64(s.h)-0.5 ||
					q.X > right && q.Y > low {
					c.ground.at(x, y, dst)
					continue
				}
				if c.whole {
					copy(dst, s.pix[3*(int(q.Y)*s.w+int(q.X)):])
				} else {
					s.sample(q.X, q.Y, dst)
				}
				a := 0.0
				for i := range c.stains {
					a += c.stains[i].at(q)
				}
				if c.bleach {
					// Toned paper goes, ink fades a little.
					for k, v := range dst {
						dst[k] = float32(0.15 + 0.85*math.Pow(float64(max(0, v)), 0.6))
					}
				}
				k := 1 + c.lamp.gx*(float64(x)-float64(w)/2)/side + c.lamp.gy*(float64(y)-float64(h)/2)/side
				for i := range dst {
					v := float64(dst[i]) * c.lamp.gain[i] * math.Max(0.2, k)
					if a > 1e-4 {
						v *= math.Exp(-a * c.stains[0].absorb[i])
					}
					dst[i] = float32(v)
				}
			}
		}
	})
	// Three taps reach a sigma of 0.8; more passes for more.
	for left := c.sigma; left > 0.3; {
		one := math.Min(left, 0.8)
		k := math.Exp(-1 / (2 * one * one))
		blurTriples(lin, w, h, float32(k))
		left = math.Sqrt(math.Max(0, left*left-2*k/(1+2*k)))
	}
	sensor := 0.5 + 2*rng.Float64() // in values of 0 to 255
	seed := rng.Uint64()
	colour.Parallel(h, 8, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			own := rand.New(rand.NewPCG(seed, uint64(y)))
			for x := range w {
				i := y*w + x
				if c.grey {
					l := 0.2126*lin[3*i] + 0.7152*lin[3*i+1] + 0.0722*lin[3*i+2]
					lin[3*i], lin[3*i+1], lin[3*i+2] = l, l, l
				}
				n := own.NormFloat64() * sensor
				for k := range 3 {
					if !c.grey {
						n = own.NormFloat64() * sensor
					}
					m.Pix[4*i+k] = uint8(min(255, max(0, codeOf(lin[3*i+k])+n+0.5)))
				}
				m.Pix[4*i+3] = 255
			}
		}
	})
	return throughJPEG(t, m, 75+rng.IntN(21))
}

// codeOf is the sRGB code of linear light, not rounded, from a table.
func codeOf(v float32) float64 {
	const n = 8192
	v = min(1, max(0, v))
	u := float32(math.Sqrt(float64(v))) * n // even steps where the curve is steep
	i := min(n-1, int(u))
	return sRGBTable[i] + float64(u-float32(i))*(sRGBTable[i+1]-sRGBTable[i])
}

var sRGBTable = func() (t [8193]float64) {
	for i := range t {
		v := math.Pow(float64(i)/8192, 2)
		if v <= 0.0031308 {
			t[i] = 255 * 12.92 * v
		} else {
			t[i] = 255 * (1.055*math.Pow(v, 1/2.4) - 0.055)
		}
	}
	return t
}()

// blurTriples blurs along and across with weights k, 1, k.
func blurTriples(v []float32, w, h int, k float32) {
	n := 1 / (1 + 2*k)
	colour.Parallel(h, 8, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row := v[3*w*y : 3*w*(y+1)]
			for c := range 3 {
				left := row[c]
				for x := range w {
					here, right := row[3*x+c], row[3*min(w-1, x+1)+c]
					row[3*x+c] = n * (k*(left+right) + here)
					left = here
				}
			}
		}
	})
	colour.Parallel(3*w, 64, func(lo, hi int) {
		for x := lo; x < hi; x++ {
			up := v[x]
			for y := range h {
				here, down := v[3*w*y+x], v[3*w*min(h-1, y+1)+x]
				v[3*w*y+x] = n * (k*(up+down) + here)
				up = here
			}
		}
	})
}

func throughJPEG(t testing.TB, m *Image, quality int) *Image {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m.RGBA(), &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	out, _, err := Decode(bytes.NewReader(b.Bytes()), DefaultLimits)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// drawSheet draws a sheet of a kind of print that the photographs lack. The
// same seed draws the same content.
func drawSheet(t testing.TB, kind string, pixels float64, seed uint64) *sheetSource {
	t.Helper()
	h := int(math.Sqrt(pixels * 1.4))
	w := int(pixels / float64(h))
	rng := rand.New(rand.NewPCG(seed, 31))
	d := &drawing{t: t, rng: rng, w: w, h: h, img: image.NewRGBA(image.Rect(0, 0, w, h))}
	paper := color.RGBA{226, 214, 190, 255}
	for i := 0; i < len(d.img.Pix); i += 4 {
		copy(d.img.Pix[i:], []uint8{paper.R, paper.G, paper.B, 255})
	}
	grain := 0.015
	switch kind {
	case "type":
		d.columns(2, float64(h)/110)
	case "handwriting":
		d.handwriting()
	case "comic":
		d.comic()
	case "cover":
		d.cover()
	case "nearly blank":
		d.text("17", float64(w)*0.8, float64(h)*0.06, float64(h)/60, color.RGBA{90, 85, 80, 255})
		d.stroke(
			Point{0.2 * float64(w), 0.7 * float64(h)},
			0.15*float64(w),
			float64(h)/900,
			color.RGBA{150, 145, 140, 255},
		)
		grain = 0.03
	default:
		t.Fatalf("no drawn sheet %q", kind)
	}
	l := FromImage(d.img).shrink(w, h)
	s := &sheetSource{w, h, l.pix}
	// Ink spreads: no edge of print is sharper than a pixel.
	blurTriples(s.pix, w, h, 0.5)
	s.grain(rng, grain)
	return s
}

type drawing struct {
	t    testing.TB
	rng  *rand.Rand
	w, h int
	img  *image.RGBA
}

var syllables = []string{
	"an",
	"ber",
	"cor",
	"del",
	"en",
	"fil",
	"gra",
	"hor",
	"in",
	"jo",
	"ka",
	"lin",
	"mor",
	"net",
	"or",
	"pel",
	"qua",
	"ri",
	"sto",
	"tur",
	"um",
	"ver",
	"wi",
	"ya",
	"zu",
	"a",
	"e",
	"o",
}

func (d *drawing) word() string {
	s := ""
	for range 1 + d.rng.IntN(4) {
		s += syllables[d.rng.IntN(len(syllables))]
	}
	return s
}

func (d *drawing) face(size float64) font.Face {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		d.t.Fatal(err)
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72})
	if err != nil {
		d.t.Fatal(err)
	}
	return face
}

func (d *drawing) text(s string, x, y, size float64, c color.Color) {
	dr := font.Drawer{Dst: d.img, Src: image.NewUniform(c), Face: d.face(size), Dot: fixed.P(int(x), int(y))}
	dr.DrawString(s)
}

// columns sets random words in n columns under a heading: pages of one seed
// differ from those of another in words alone.
func (d *drawing) columns(n int, size float64) {
	ink := color.RGBA{38, 34, 30, 255}
	margin := 0.08 * float64(d.w)
	d.text("THE COMMON HEADING", margin*3, margin, size*2, ink)
	face := d.face(size)
	width := (float64(d.w) - margin*float64(n+1)) / float64(n)
	for c := range n {
		x0 := margin + float64(c)*(width+margin)
		for y := 2 * margin; y < float64(d.h)-margin; y += 1.25 * size {
			x := x0
			for {
				dr := font.Drawer{Dst: d.img, Src: image.NewUniform(ink), Face: face, Dot: fixed.P(int(x), int(y))}
				s := d.word()
				wd := float64(dr.MeasureString(s)) / 64
				if x+wd > x0+width {
					break
				}
				dr.DrawString(s)
				x += wd + 0.3*size
			}
		}
	}
}

// stroke draws a wandering line of a pen.
func (d *drawing) stroke(p Point, length, width float64, c color.RGBA) {
	a, turn := d.rng.Float64()*0.6-0.3, 0.0
	for range int(length / (0.3 * width)) {
		turn = 0.9*turn + d.rng.NormFloat64()*0.08
		a += turn
		p = Point{p.X + 0.3*width*math.Cos(a), p.Y + 0.3*width*math.Sin(a)}
		d.dot(p, width/2, c)
	}
}

func (d *drawing) dot(p Point, r float64, c color.RGBA) {
	for y := int(p.Y - r - 1); y <= int(p.Y+r+1); y++ {
		for x := int(p.X - r - 1); x <= int(p.X+r+1); x++ {
			k := math.Min(1, math.Max(0, r+0.5-math.Hypot(float64(x)-p.X, float64(y)-p.Y)))
			if k <= 0 || x < 0 || y < 0 || x >= d.w || y >= d.h {
				continue
			}
			i := d.img.PixOffset(x, y)
			for j, v := range [3]uint8{c.R, c.G, c.B} {
				d.img.Pix[i+j] = uint8(float64(d.img.Pix[i+j])*(1-k) + float64(v)*k)
			}
		}
	}
}

// handwriting draws lines of loops in brown ink.
func (d *drawing) handwriting() {
	ink := color.RGBA{88, 62, 44, 255}
	size := float64(d.h) / 60
	for y := 0.1 * float64(d.h); y < 0.85*float64(d.h); y += 2.4 * size {
		for x := 0.12 * float64(d.w); x < 0.85*float64(d.w); {
			n := 3 + d.rng.IntN(8)
			phase, lift := d.rng.Float64()*6, 0.3+d.rng.Float64()
			for k := range n * 40 {
				u := float64(k) / 40
				height := lift
				if int(u)%3 == d.rng.IntN(40)%3 {
					height *= 1.02
				}
				px := x + u*0.7*size + 0.35*size*math.Cos(2*math.Pi*u+phase)
				py := y + 0.5*size*height*math.Sin(
					2*math.Pi*u+phase+0.8*math.Sin(u*1.7+phase),
				) + 0.15*size*math.Sin(
					0.9*u+phase,
				)
				d.dot(Point{px, py}, size*0.05*(1+0.4*math.Sin(2*math.Pi*u)), ink)
			}
			x += float64(n)*0.7*size + 0.9*size
		}
	}
}

// comic draws panels of flat colour and screens of dots under black outlines.
func (d *drawing) comic() {
	cols, rows := 2, 3
	gap := 0.02 * float64(d.w)
	pw, ph := (float64(d.w)-gap*float64(cols+1))/float64(cols), (float64(d.h)-gap*float64(rows+1))/float64(rows)
	flats := []color.RGBA{
		{236, 205, 60, 255},
		{205, 70, 52, 255},
		{90, 140, 190, 255},
		{235, 190, 160, 255},
		{120, 160, 90, 255},
	}
	dots := []color.RGBA{{200, 60, 60, 255}, {60, 120, 180, 255}, {230, 190, 50, 255}}
	black := color.RGBA{32, 28, 30, 255}
	pitch := float64(d.h) / 420
	for r := range rows {
		for c := range cols {
			x0, y0 := gap+float64(c)*(pw+gap), gap+float64(r)*(ph+gap)
			flat := flats[d.rng.IntN(len(flats))]
			for y := int(y0); y < int(y0+ph); y++ {
				for x := int(x0); x < int(x0+pw); x++ {
					d.img.SetRGBA(x, y, flat)
				}
			}
			// A screen at 30 degrees over the upper part, thinning downwards.
			ink := dots[d.rng.IntN(len(dots))]
			for i := -600; i < 600; i++ {
				for j := -600; j < 600; j++ {
					p := Point{
						x0 + pw/2 + pitch*(0.866*float64(i)-0.5*float64(j)),
						y0 + pitch*(0.5*float64(i)+0.866*float64(j)),
					}
					if p.X > x0+pitch && p.X < x0+pw-pitch && p.Y > y0+pitch && p.Y < y0+0.6*ph {
						d.dot(p, pitch*0.45*(1-(p.Y-y0)/(0.7*ph)), ink)
					}
				}
			}
			// Figures: closed wandering outlines, some filled.
			for range 3 {
				cx, cy, rad := x0+pw*(0.25+0.5*d.rng.Float64()), y0+ph*(0.35+0.4*d.rng.Float64()), ph*(0.08+0.15*d.rng.Float64())
				n := newRoughness(d.rng)
				fill := flats[d.rng.IntN(len(flats))]
				radius := func(a float64) float64 { return rad * (1 + 0.5*n.at(2+1.5*math.Cos(a), 2+1.5*math.Sin(a))) }
				for y := int(max(y0, cy-2*rad)); y < int(min(y0+ph, cy+2*rad)); y++ {
					for x := int(max(x0, cx-2*rad)); x < int(min(x0+pw, cx+2*rad)); x++ {
						if dx, dy := float64(x)-cx, float64(y)-cy; math.Hypot(dx, dy) < radius(math.Atan2(dy, dx)) {
							d.img.SetRGBA(x, y, fill)
						}
					}
				}
				for k := range 3000 {
					a := float64(k) / 3000 * 2 * math.Pi
					p := Point{cx + radius(a)*math.Cos(a), cy + radius(a)*math.Sin(a)}
					if p.X > x0 && p.X < x0+pw && p.Y > y0 && p.Y < y0+ph {
						d.dot(p, float64(d.h)/700, black)
					}
				}
			}
			d.text(d.word()+" "+d.word()+"!", x0+0.1*pw, y0+0.1*ph, float64(d.h)/70, black)
			for k := range 4 { // the frame
				for u := 0.0; u < 1; u += 0.0004 {
					p := [4]Point{{x0 + u*pw, y0}, {x0 + u*pw, y0 + ph}, {x0, y0 + u*ph}, {x0 + pw, y0 + u*ph}}[k]
					d.dot(p, float64(d.h)/900, black)
				}
			}
		}
	}
}

// cover draws a glossy cover: slow colour, a large title, little else.
func (d *drawing) cover() {
	n := newRoughness(d.rng)
	for y := range d.h {
		for x := range d.w {
			u, v := float64(x)/float64(d.w), float64(y)/float64(d.h)
			k := 60 * n.at(2*u, 2*v)
			d.img.SetRGBA(
				x,
				y,
				color.RGBA{clamp8(int32(150 + k + 60*v)), clamp8(int32(110 + k)), clamp8(int32(130 + k - 60*v)), 255},
			)
		}
	}
	white := color.RGBA{240, 236, 225, 255}
	d.text("WINDLASS", 0.06*float64(d.w), 0.14*float64(d.h), float64(d.w)/7, white)
	d.text(d.word()+" "+d.word()+" "+d.word(), 0.1*float64(d.w), 0.92*float64(d.h), float64(d.w)/24, white)
	d.text("no. 31", 0.75*float64(d.w), 0.2*float64(d.h), float64(d.w)/28, white)
}

// alignErrors are the distances in pixels of the after picture between where a
// places points and where they are, on a grid over all of the sheet that the
// after picture shows.
func (p *alignPair) alignErrors(a *Alignment) []float32 {
	var out []float32
	const n = 60
	for j := range n {
		for i := range n {
			q := p.sheet.inside((float64(i)+0.5)/n, (float64(j)+0.5)/n)
			want := p.truth(q)
			if want.X < 0 || want.Y < 0 || want.X > float64(p.after.W-1) || want.Y > float64(p.after.H-1) {
				continue
			}
			x, y := a.Map(q.X, q.Y)
			out = append(out, float32(math.Hypot(x-want.X, y-want.Y)))
		}
	}
	return out
}
