package photo

import (
	"bytes"
	"encoding/binary"
	"image"
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

// painted is a page, photographed or drawn, on which stains of known shape were
// laid: the ground truth that no photograph of old paper comes with.
type painted struct {
	image *Image
	clean *Image // the same page and camera without the stains
	truth mask   // where the stain has at least half of its full strength
	kind  StainKind
	page  string
	de    float64 // dE00 of the stain at full strength on the paper
	part  mask    // where it is judged
}

// A stain is a layer that absorbs light over paper and print alike: linear
// light is multiplied by exp(-a k), a the amount at a place, k the absorption
// of the colour channels.
type stain struct {
	kind   StainKind
	absorb [3]float64
	amount plane // 0 to about 1; half of its peak is the edge
}

// noise is smooth random relief between about -1 and 1, for outlines that no
// compass drew: value noise of three octaves.
type noise struct {
	grid [64][64]float64
}

func newNoise(rng *rand.Rand) *noise {
	var n noise
	for i := range n.grid {
		for j := range n.grid[i] {
			n.grid[i][j] = rng.Float64()*2 - 1
		}
	}
	return &n
}

func (n *noise) at(x, y float64) float64 {
	sum := 0.0
	for o, amplitude := range []float64{1, 0.5, 0.25} {
		u, v := x*float64(int(1)<<o), y*float64(int(1)<<o)
		i, j := int(math.Floor(u)), int(math.Floor(v))
		fu, fv := u-math.Floor(u), v-math.Floor(v)
		fu, fv = fu*fu*(3-2*fu), fv*fv*(3-2*fv)
		g := func(a, b int) float64 { return n.grid[a&63][b&63] }
		sum += amplitude * ((g(i, j)*(1-fu)+g(i+1, j)*fu)*(1-fv) + (g(i, j+1)*(1-fu)+g(i+1, j+1)*fu)*fv)
	}
	return sum / 1.75
}

// blob lays a patch of radius r at (cx, cy): amount 1 inside, falling through
// one half at its warped outline, over a width of about soft*r.
func (s *stain) blob(n *noise, cx, cy, r, soft, warp float64) {
	reach := r * (1 + warp + 3*soft)
	ox, oy := cx*7.13, cy*3.77 // another part of the relief for each blob
	for y := max(0, int(cy-reach)); y < min(s.amount.h, int(cy+reach)+1); y++ {
		for x := max(0, int(cx-reach)); x < min(s.amount.w, int(cx+reach)+1); x++ {
			dx, dy := float64(x)-cx, float64(y)-cy
			d := math.Hypot(dx, dy)/r - warp*n.at((dx+ox)/r*1.3, (dy+oy)/r*1.3)
			a := float32(1 / (1 + math.Exp((d-1)*4/soft)))
			i := y*s.amount.w + x
			s.amount.v[i] = max(s.amount.v[i], a)
		}
	}
}

// tide lays a line where water stopped: sharp outside, fading inwards, with a
// faint tint in what was wet.
func (s *stain) tide(n *noise, cx, cy, r, width, tint float64) {
	for y := range s.amount.h {
		for x := range s.amount.w {
			dx, dy := float64(x)-cx, float64(y)-cy
			in := r*(1+0.3*n.at(dx/r*1.1+9, dy/r*1.1+5)) - math.Hypot(dx, dy) // how far inside
			a := 0.0
			switch {
			case in >= 0:
				a = tint + (1-tint)*math.Exp(-math.Pow(in/width, 2))
			default:
				a = math.Exp(-math.Pow(in/(0.25*width), 2))
			}
			i := y*s.amount.w + x
			s.amount.v[i] = max(s.amount.v[i], float32(a))
		}
	}
}

// lay applies the stain to linear light of sRGB primaries, by strength.
func (s *stain) lay(l *linearImage, strength float64) {
	for i, a := range s.amount.v {
		for c := range 3 {
			l.pix[3*i+c] *= float32(math.Exp(-float64(a) * strength * s.absorb[c]))
		}
	}
}

// strengthFor is the strength at which the stain differs from paper of linear
// light by de in dE00.
func (s *stain) strengthFor(paper [3]float64, de float64) float64 {
	at := func(strength float64) float64 {
		var d, p [3]float32
		for c := range 3 {
			p[c] = float32(-math.Log(paper[c]))
			d[c] = p[c] + float32(strength*s.absorb[c])
		}
		return colour.DE2000(labOf(p), labOf(d))
	}
	lo, hi := 0.0, 5.0
	for range 40 {
		if mid := (lo + hi) / 2; at(mid) < de {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// stainPages are printed pages of several inks, papers and lights. The stains
// are laid and judged inside the part given in shares of the picture: beyond it
// these photographs show gutters, fore-edges, cloth and old stains of their own.
var stainPages = []struct {
	file           string
	x0, y0, x1, y1 float64
}{
	{"zanotti-78.jpg", 0.02, 0.02, 0.98, 0.98},
	{"cat.007.jpg", 0.13, 0.06, 0.97, 0.97},
	{"breviar.38.150.jpg", 0.05, 0.03, 0.92, 0.86},
	{"lapide.052.100.jpg", 0.27, 0.05, 0.93, 0.95},
	{"cookbook-page-a.jpg", 0.22, 0.05, 0.86, 0.98},
	{"cavalerie.11.jpg", 0.16, 0.03, 0.97, 0.94},
	{"page.png", 0.02, 0.02, 0.98, 0.98},
}

// page is linear light of a page without stains, before the camera's noise.
type page struct {
	name  string
	light *linearImage
	paper [3]float64 // linear light of the bare paper
	grain float64    // noise of the camera, in 8-bit values
	part  mask
	short float64 // shorter side of part, in pixels
	box   image.Rectangle
}

// photographed takes one of the photographs.
func photographed(t testing.TB, rng *rand.Rand) page {
	f := stainPages[rng.IntN(len(stainPages))]
	src := decoded(t, f.file)
	l := src.shrink(src.fit(1600))
	p := page{name: f.file, light: l}
	p.setPart(
		image.Rect(int(f.x0*float64(l.w)), int(f.y0*float64(l.h)), int(f.x1*float64(l.w)), int(f.y1*float64(l.h))),
	)
	reading, err := PaperColour(src, nil)
	if err != nil {
		t.Fatal(err)
	}
	xyz := reading.Lab.XYZ()
	r, g, b := colour.LinearSRGB().Device(xyz)
	p.paper = [3]float64{r, g, b}
	return p
}

func (p *page) setPart(box image.Rectangle) {
	p.box = box
	p.part = newMask(p.light.w, p.light.h)
	for i := range p.part.v {
		p.part.v[i] = image.Pt(i%p.light.w, i/p.light.w).In(box)
	}
	p.short = float64(min(box.Dx(), box.Dy()))
}

// drawn makes a page: textured paper, text or hatching, on a ground or filling
// the frame, in uneven light.
func drawn(t testing.TB, rng *rand.Rand, megapixels float64, engraved bool) page {
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	w := int(math.Sqrt(megapixels * 1e6 * 0.72))
	h := int(float64(w) / 0.72)
	p := page{name: "drawn text", light: &linearImage{w, h, make([]float32, 3*w*h)}}
	lab := colour.Lab{L: between(84, 94), A: between(-1, 3), B: between(4, 20)}
	if rng.IntN(5) == 0 {
		lab = colour.Lab{L: between(86, 95)} // a grey scan
		p.name = "drawn text, grey"
	}
	r, g, b := colour.LinearSRGB().Device(lab.XYZ())
	p.paper = [3]float64{r, g, b}
	margin := 0
	if rng.IntN(2) == 0 {
		margin = int(between(0.03, 0.09) * float64(w))
	}
	sheet := image.Rect(margin, margin, w-margin, h-margin)
	p.setPart(sheet)
	ink := newPlane(w, h)
	text := sheet.Inset(int(between(0.06, 0.12) * float64(w)))
	if engraved {
		p.name = "drawn engraving"
		hatch(rng, ink, text)
	} else {
		write(t, rng, ink, text)
	}
	ink = ink.gauss(math.Max(0.5, between(0.4, 0.8)*float64(w)/1200))
	coarse, fine := newNoise(rng), newNoise(rng)
	grain, tone := between(0.005, 0.02), between(0, 0.03)
	depth := between(1.4, 2.6)
	var slope, curve [2]float64
	for k := range slope {
		slope[k], curve[k] = between(-0.2, 0.2), between(-0.15, 0.05)
	}
	var back [3]float64
	darkness := between(0.02, 0.3)
	for c := range back {
		back[c] = darkness * between(0.8, 1.2)
	}
	cast := [3]float64{between(-0.02, 0.02), 0, between(-0.02, 0.02)} // light of another colour from one side
	for y := range h {
		for x := range w {
			i := y*w + x
			u, v := float64(x)/float64(w)-0.5, float64(y)/float64(h)-0.5
			light := math.Exp(slope[0]*u + slope[1]*v + curve[0]*u*u*2 + curve[1]*v*v*2)
			for c := range 3 {
				value := back[c]
				if image.Pt(x, y).In(sheet) {
					d := grain*(fine.at(float64(x)/3.1, float64(y)/2.3)+rng.NormFloat64()*0.5) + tone*coarse.at(
						float64(x)/float64(w)*3,
						float64(y)/float64(w)*3,
					)*float64(
						c+1,
					)/2
					value = p.paper[c] * math.Exp(-d-depth*float64(ink.v[i])*(1-0.05*float64(c)))
				}
				p.light.pix[3*i+c] = float32(value * light * math.Exp(cast[c]*u))
			}
		}
	}
	p.grain = between(0.5, 2.5)
	return p
}

// write fills a box with lines of words that mean nothing.
func write(t testing.TB, rng *rand.Rand, ink plane, box image.Rectangle) {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	size := float64(box.Dx()) / (22 + 25*rng.Float64())
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72})
	if err != nil {
		t.Fatal(err)
	}
	alpha := image.NewAlpha(image.Rect(0, 0, ink.w, ink.h))
	d := font.Drawer{Dst: alpha, Src: image.Opaque, Face: face}
	for y := float64(box.Min.Y) + size; y < float64(box.Max.Y); y += size * 1.3 {
		for x := box.Min.X; ; {
			word := make([]byte, 2+rng.IntN(9))
			for i := range word {
				word[i] = byte('a' + rng.IntN(26))
			}
			d.Dot = fixed.P(x, int(y))
			if x += d.MeasureString(string(word)).Ceil() + int(size/3); x > box.Max.X {
				break
			}
			d.DrawString(string(word))
		}
	}
	for i, a := range alpha.Pix {
		ink.v[i] = float32(a) / 255
	}
}

// hatch draws tones by lines that swell, as engravers do.
func hatch(rng *rand.Rand, ink plane, box image.Rectangle) {
	n := newNoise(rng)
	pitch := float64(box.Dx()) / (110 + 90*rng.Float64())
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			u, v := float64(x-box.Min.X)/float64(box.Dx()), float64(y-box.Min.Y)/float64(box.Dx())
			dark := 0.35 + 0.4*n.at(u*3, v*3)
			angle := 0.5 + 0.6*n.at(u*1.5+7, v*1.5)
			phase := math.Mod((float64(x)*math.Sin(angle)+float64(y)*math.Cos(angle))/pitch+100, 1)
			if math.Abs(phase-0.5) < dark/2 {
				ink.v[y*ink.w+x] = 1
			}
		}
	}
}

// shoot is the camera: noise, sRGB, JPEG.
func (p *page) shoot(t testing.TB, l *linearImage, seed uint64, quality int) *Image {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 5))
	m := l.srgb()
	if p.grain > 0 {
		for i := range m.Pix {
			if i%4 != 3 {
				m.Pix[i] = clamp8(int32(math.Round(float64(m.Pix[i]) + rng.NormFloat64()*p.grain)))
			}
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	out, _, err := Decode(bytes.NewReader(b.Bytes()), DefaultLimits)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// paintCase makes the seeded case: one kind of stain on one page. Of twenty pages
// eight are drawn text, three drawn engraving, six photographs, three other drawn
// sheets: a comic in flat colours and screens, two columns of small type,
// handwriting.
func paintCase(t testing.TB, seed uint64) painted {
	t.Helper()
	rng := mixed(seed, "pages")
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	var p page
	switch g := rng.IntN(20); {
	case g < 8:
		p = drawn(t, rng, between(0.8, 2), false)
	case g < 11:
		p = drawn(t, rng, between(0.8, 2), true)
	case g < 17:
		p = photographed(t, rng)
	default:
		p = otherSheet(t, rng, []string{"comic", "type", "handwriting"}[rng.IntN(3)])
	}
	return paintOn(t, rng, seed, p)
}

// mixed seeds a generator so that neighbouring seeds have nothing in common.
func mixed(seed uint64, what string) *rand.Rand {
	var key [32]byte
	binary.LittleEndian.PutUint64(key[:], seed)
	copy(key[8:], what)
	return rand.New(rand.NewChaCha8(key))
}

// otherSheet is one of the sheets drawn for alignment, which fills the frame.
func otherSheet(t testing.TB, rng *rand.Rand, kind string) page {
	s := drawSheet(t, kind, 1.5e6, rng.Uint64())
	p := page{name: kind, light: &linearImage{s.w, s.h, s.pix}, grain: 0.5 + 2*rng.Float64()}
	p.setPart(image.Rect(0, 0, s.w, s.h))
	for c, v := range [3]float64{226, 214, 190} { // its paper, in sRGB
		p.paper[c] = math.Pow((v/255+0.055)/1.055, 2.4)
	}
	return p
}

// paintLoss is a drawn page on a ground, with a corner torn off and a hole in it.
func paintLoss(t testing.TB, seed uint64, engraved bool) painted {
	rng := mixed(seed, "losses")
	p := drawn(t, rng, 0.8, engraved)
	for p.box.Min.X == 0 { // it fills the frame
		p = drawn(t, rng, 0.8, engraved)
	}
	n := newNoise(rng)
	out := painted{page: p.name, kind: Loss, part: p.part, truth: newMask(p.light.w, p.light.h)}
	out.clean = p.shoot(t, p.light, seed, 85)
	ground := [3]float32(p.light.pix[:3])
	lose := func(cx, cy, r float64) {
		for i := range out.truth.v {
			dx, dy := float64(i%p.light.w)-cx, float64(i/p.light.w)-cy
			if math.Hypot(dx, dy)/r-0.4*n.at(dx/r+3, dy/r+9) < 1 {
				copy(p.light.pix[3*i:], ground[:])
				out.truth.v[i] = p.part.v[i]
			}
		}
	}
	lose(float64(p.box.Max.X), float64(p.box.Max.Y), (0.08+0.08*rng.Float64())*p.short)
	lose(
		float64(p.box.Min.X)+(0.2+0.6*rng.Float64())*p.short,
		float64(p.box.Min.Y)+(0.2+0.6*rng.Float64())*p.short,
		(0.025+0.02*rng.Float64())*p.short,
	)
	out.image = p.shoot(t, p.light, seed, 85)
	return out
}

// paintText is the seeded case on a drawn page of text.
func paintText(t testing.TB, seed uint64, megapixels float64) painted {
	rng := rand.New(rand.NewPCG(seed, 79))
	return paintOn(t, rng, seed, drawn(t, rng, megapixels, false))
}

// paintOn lays one kind of stain on a page and shoots it with and without.
func paintOn(t testing.TB, rng *rand.Rand, seed uint64, p page) painted {
	t.Helper()
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	n := newNoise(rng)
	short := p.short
	// place picks a spot well inside the part, margin in shares of it.
	place := func(margin float64) (x, y float64) {
		return float64(
				p.box.Min.X,
			) + between(
				margin,
				1-margin,
			)*float64(
				p.box.Dx(),
			), float64(
				p.box.Min.Y,
			) + between(
				margin,
				1-margin,
			)*float64(
				p.box.Dy(),
			)
	}
	s := stain{amount: newPlane(p.light.w, p.light.h)}
	de := between(4, 30)
	switch rng.IntN(5) {
	case 0:
		s.kind, s.absorb = Foxing, [3]float64{between(0.2, 0.35), between(0.45, 0.65), 1}
		cx, cy := place(0.25)
		size, de0 := between(0.006, 0.02), between(6, 30)
		de = de0
		for range 6 + rng.IntN(40) {
			r := short * size * math.Exp(0.4*rng.NormFloat64())
			x, y := cx+rng.NormFloat64()*0.2*short, cy+rng.NormFloat64()*0.2*short
			if inside(p.part, x, y) {
				s.blob(n, x, y, r, between(0.3, 0.8), 0.4)
			}
		}
	case 1:
		s.kind, s.absorb = TideLine, [3]float64{between(0.25, 0.4), between(0.5, 0.65), 1}
		de = between(6, 25)
		x, y := place(0.2)
		s.tide(n, x, y, between(0.12, 0.35)*short, between(0.008, 0.03)*short, between(0.05, 0.3))
	case 2:
		s.kind, s.absorb = Discoloration, [3]float64{between(0.2, 0.5), between(0.5, 0.75), 1}
		x, y := place(0.15)
		s.blob(n, x, y, between(0.05, 0.22)*short, between(0.15, 0.6), 0.4)
	case 3:
		s.kind, s.absorb = Mould, [3]float64{0.9, between(0.75, 0.9), 1}
		de = between(8, 30)
		cx, cy := place(0.25)
		for range 15 + rng.IntN(40) {
			x, y := cx+rng.NormFloat64()*0.06*short, cy+rng.NormFloat64()*0.06*short
			if inside(p.part, x, y) {
				s.blob(n, x, y, short*between(0.007, 0.018), between(0.3, 0.7), 0.4)
			}
		}
	case 4:
		s.kind, s.absorb = Rust, [3]float64{0.3, 0.9, 1.6}
		de = between(12, 35)
		x, _ := place(0.4)
		for _, y := range []float64{0.25, 0.75} {
			s.blob(
				n,
				x+between(-0.01, 0.01)*short,
				float64(p.box.Min.Y)+y*float64(p.box.Dy()),
				between(0.012, 0.035)*short,
				between(0.4, 0.8),
				0.5,
			)
		}
	}
	quality := 75 + rng.IntN(21)
	out := painted{kind: s.kind, page: p.name, de: de, part: p.part, truth: newMask(p.light.w, p.light.h)}
	out.clean = p.shoot(t, p.light, seed, quality)
	s.lay(p.light, s.strengthFor(p.paper, de))
	out.image = p.shoot(t, p.light, seed, quality)
	for i, a := range s.amount.v {
		out.truth.v[i] = a >= 0.5 && p.part.v[i]
	}
	return out
}

func inside(m mask, x, y float64) bool {
	return x >= 0 && y >= 0 && int(x) < m.w && int(y) < m.h && m.v[int(y)*m.w+int(x)]
}
