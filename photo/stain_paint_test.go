package photo

import (
	"bytes"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"benchleaf/colour"
)

// painted is a photograph of real printed paper on which stains of known shape
// were laid: the ground truth that no photograph of old paper comes with.
type painted struct {
	image *Image
	truth mask // where the stain has at least half of its full strength
	kind  StainKind
	page  string
	part  mask // where it is judged
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
func (s *stain) lay(m *Image, strength float64) {
	var tone [256]float64
	for v := range tone {
		tone[v] = colour.SRGB().Linear(float64(v)/255, 0, 0)[0]
	}
	for i, a := range s.amount.v {
		if a < 0.004 {
			continue
		}
		for c := range 3 {
			m.Pix[4*i+c] = encodeSRGB(tone[m.Pix[4*i+c]] * math.Exp(-float64(a)*strength*s.absorb[c]))
		}
	}
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
}

// paintCase makes the seeded case: one kind of stain on one page, written and
// read again as a camera's JPEG.
func paintCase(t testing.TB, seed uint64) painted {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 77))
	page := stainPages[rng.IntN(len(stainPages))]
	src := decoded(t, page.file)
	if max(src.W, src.H) > 1600 {
		w, h := src.fit(1600)
		src = FromImage(src.shrink(w, h).srgb())
	}
	m := &Image{W: src.W, H: src.H, Pix: bytes.Clone(src.Pix), Profile: colour.SRGB()}
	n := newNoise(rng)
	short := float64(min(m.W, m.H))
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	// place picks a spot well inside the part, margin in shares of it.
	place := func(margin float64) (x, y float64) {
		u, v := between(margin, 1-margin), between(margin, 1-margin)
		return (page.x0 + u*(page.x1-page.x0)) * float64(m.W), (page.y0 + v*(page.y1-page.y0)) * float64(m.H)
	}
	part := newMask(m.W, m.H)
	for i := range part.v {
		x, y := (float64(i%m.W)+0.5)/float64(m.W), (float64(i/m.W)+0.5)/float64(m.H)
		part.v[i] = x > page.x0 && x < page.x1 && y > page.y0 && y < page.y1
	}
	s := stain{amount: newPlane(m.W, m.H)}
	var strength float64
	switch rng.IntN(5) {
	case 0:
		s.kind, s.absorb, strength = Foxing, [3]float64{0.25, 0.55, 1}, between(0.35, 0.8)
		cx, cy := place(0.25)
		for range 6 + rng.IntN(25) {
			r := short * 0.011 * math.Exp(0.4*rng.NormFloat64())
			x, y := cx+rng.NormFloat64()*0.2*short, cy+rng.NormFloat64()*0.2*short
			if inside(part, x, y) {
				s.blob(n, x, y, r, between(0.3, 0.8), 0.4)
			}
		}
	case 1:
		s.kind, s.absorb, strength = TideLine, [3]float64{0.3, 0.55, 1}, between(0.3, 0.7)
		x, y := place(0.2)
		s.tide(n, x, y, between(0.15, 0.3)*short, between(0.01, 0.02)*short, between(0.1, 0.25))
	case 2:
		s.kind, s.absorb, strength = Discoloration, [3]float64{0.3, 0.6, 1}, between(0.2, 0.5)
		x, y := place(0.2)
		s.blob(n, x, y, between(0.08, 0.2)*short, between(0.25, 0.6), 0.4)
	case 3:
		s.kind, s.absorb, strength = Mould, [3]float64{0.9, 0.8, 1}, between(0.35, 0.7)
		cx, cy := place(0.25)
		for range 15 + rng.IntN(40) {
			x, y := cx+rng.NormFloat64()*0.06*short, cy+rng.NormFloat64()*0.06*short
			if inside(part, x, y) {
				s.blob(n, x, y, short*between(0.007, 0.018), between(0.3, 0.7), 0.4)
			}
		}
	case 4:
		s.kind, s.absorb, strength = Rust, [3]float64{0.3, 0.9, 1.6}, between(0.4, 0.8)
		x, _ := place(0.45)
		for _, y := range []float64{0.25, 0.75} {
			s.blob(n, x+between(-0.01, 0.01)*short, (page.y0+y*(page.y1-page.y0))*float64(m.H), between(0.012, 0.03)*short, between(0.4, 0.8), 0.5)
		}
	}
	s.lay(m, strength)
	out := painted{kind: s.kind, page: page.file, part: part, truth: newMask(m.W, m.H)}
	for i, a := range s.amount.v {
		out.truth.v[i] = a >= 0.5 && part.v[i]
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m.RGBA(), &jpeg.Options{Quality: 85 + rng.IntN(11)}); err != nil {
		t.Fatal(err)
	}
	var err error
	if out.image, _, err = Decode(bytes.NewReader(b.Bytes()), DefaultLimits); err != nil {
		t.Fatal(err)
	}
	return out
}

func inside(m mask, x, y float64) bool {
	return x >= 0 && y >= 0 && int(x) < m.w && int(y) < m.h && m.v[int(y)*m.w+int(x)]
}
