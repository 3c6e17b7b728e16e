package photo

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"benchleaf/colour"
)

// changePair is a page photographed twice by program: what was done to it
// between is known.
type changePair struct {
	before, after *Image
	way           Homography // before to after pixels
}

// changeTake says how the after picture is taken; the zero value is as before,
// from the same place.
type changeTake struct {
	hand     bool       // turned, shifted and nearer as a hand would hold it
	gain     [3]float64 // of light; nought means 1
	fall     float64    // share by which light falls from left to right
	blur     float64    // variance in pixels squared
	noise    float64    // of both pictures, in values of 0 to 255
	perfect  bool       // no JPEG
	seed     uint64
	zoomedBy float64
}

// pageLight reads a page of the test data as linear light, its longer side side
// pixels.
func pageLight(t testing.TB, name string, side int) *linearImage {
	t.Helper()
	m := decoded(t, name)
	return m.shrink(m.fit(side))
}

// flatPage is paper of one colour, sRGB 0 to 255, with lines of print.
func flatPage(w, h int, paper [3]float64) *linearImage {
	l := &linearImage{w, h, make([]float32, 3*w*h)}
	rng := rand.New(rand.NewPCG(3, 3))
	p := colour.SRGB().Linear(paper[0]/255, paper[1]/255, paper[2]/255)
	line := max(10, h/45)
	for i := range w * h {
		for c := range p {
			l.pix[3*i+c] = float32(p[c])
		}
	}
	for y := h / 10; y+line < h*9/10; y += line {
		for x := w / 10; x < w*9/10; {
			letter := 2 + rng.IntN(4)
			if rng.IntN(5) > 0 {
				for v := y; v < y+line/2; v++ {
					for u := x; u < min(w*9/10, x+letter); u++ {
						// Letters have gaps of their own.
						if rng.IntN(3) == 0 && v != y {
							continue
						}
						for c := range p {
							l.pix[3*(v*w+u)+c] = float32(p[c] * 0.08)
						}
					}
				}
			}
			x += letter + 1 + rng.IntN(3)
		}
	}
	return l
}

func (l *linearImage) clone() *linearImage {
	return &linearImage{l.w, l.h, append([]float32(nil), l.pix...)}
}

// takenTwice takes before as it lies and after as c says.
func takenTwice(t testing.TB, before, after *linearImage, c changeTake) changePair {
	t.Helper()
	rng := rand.New(rand.NewPCG(c.seed, 41))
	w, h := before.w, before.h
	p := changePair{way: Homography{1, 0, 0, 0, 1, 0, 0, 0, 1}}
	if c.hand {
		turn, zoom := (rng.Float64()-0.5)*0.08, 1+0.06*rng.Float64()
		if c.zoomedBy > 0 {
			zoom = c.zoomedBy
		}
		sin, cos := math.Sincos(turn)
		mx, my := float64(w)/2, float64(h)/2
		p.way = Homography{
			zoom * cos, -zoom * sin, zoom*(mx-cos*mx+sin*my) - (zoom-1)*mx*zoom + 5*rng.Float64(),
			zoom * sin, zoom * cos, zoom*(my-sin*mx-cos*my) - (zoom-1)*my*zoom + 5*rng.Float64(),
			(rng.Float64() - 0.5) * 0.04 / float64(w), (rng.Float64() - 0.5) * 0.04 / float64(h), 1,
		}
	}
	back, ok := p.way.Inverse()
	if !ok {
		t.Fatal("the way has no inverse")
	}
	moved := &linearImage{w, h, make([]float32, 3*w*h)}
	planes := [3]plane{channel(after.pix, w, h, 0), channel(after.pix, w, h, 1), channel(after.pix, w, h, 2)}
	for y := range h {
		for x := range w {
			q := Point{float64(x), float64(y)}
			if c.hand {
				q = back.Map(q)
			}
			light := 1 - c.fall*(float64(x)/float64(w)-0.5)
			for k := range 3 {
				gain := c.gain[k]
				if gain == 0 {
					gain = 1
				}
				moved.pix[3*(y*w+x)+k] = float32(gain*light) * planes[k].sample(q.X, q.Y)
			}
		}
	}
	for v := c.blur; v > 0; v -= 0.5 {
		moved.soften(math.Min(0.5, v))
	}
	p.before, p.after = developed(t, before, c, rng), developed(t, moved, c, rng)
	return p
}

// developed makes a picture of linear light.
func developed(t testing.TB, l *linearImage, c changeTake, rng *rand.Rand) *Image {
	m := FromImage(l.srgb())
	if c.noise > 0 {
		for i := range m.Pix {
			if i%4 != 3 {
				m.Pix[i] = uint8(math.Min(255, math.Max(0, math.Round(float64(m.Pix[i])+c.noise*rng.NormFloat64()))))
			}
		}
	}
	if c.perfect {
		return m
	}
	return throughJPEG(t, m, 90)
}

// erase takes ink away inside a box: what is left of its density is the share
// rest.
func erase(l *linearImage, x0, y0, x1, y1 int, rest float64) {
	all := newMask(l.w, l.h)
	for i := range all.v {
		all.v[i] = true
	}
	v := viewPaper(l, all)
	bare := v.print.grow(1)
	for i := range bare.v {
		bare.v[i] = !bare.v[i]
	}
	for c := range 3 {
		paper := fillFrom(v.density[c], bare)
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				if i := y*l.w + x; !bare.v[i] {
					l.pix[3*i+c] = float32(math.Exp(-float64(paper.v[i]) - rest*float64(v.density[c].v[i]-paper.v[i])))
				}
			}
		}
	}
}

// wordBox finds a box of w by h pixels in which there is much print, the seed
// choosing among such places.
func wordBox(l *linearImage, w, h int, seed uint64) (x0, y0 int) {
	all := newMask(l.w, l.h)
	for i := range all.v {
		all.v[i] = true
	}
	v := viewPaper(l, all)
	rng := rand.New(rand.NewPCG(seed, 5))
	best := -1
	for range 60 {
		x, y := l.w/5+rng.IntN(l.w*3/5-w), l.h/5+rng.IntN(l.h*3/5-h)
		n := 0
		for j := y; j < y+h; j++ {
			for i := x; i < x+w; i++ {
				if v.print.v[j*l.w+i] && v.density[0].v[j*l.w+i]-v.ground[0].v[j*l.w+i] > 0.7 {
					n++
				}
			}
		}
		if n > best {
			best, x0, y0 = n, x, y
		}
	}
	return x0, y0
}

// layOn lays a stain over linear light.
func (s *stain) layOn(l *linearImage, strength float64) {
	for i, a := range s.amount.v {
		for c := range 3 {
			l.pix[3*i+c] *= float32(math.Exp(-float64(a) * strength * s.absorb[c]))
		}
	}
}

var brown = [3]float64{0.3, 0.55, 1}

// tideLine lays a tide line about the middle of the page.
func tideLine(l *linearImage, seed uint64, strength float64) {
	rng := rand.New(rand.NewPCG(seed, 6))
	s := stain{absorb: brown, amount: newPlane(l.w, l.h)}
	short := float64(min(l.w, l.h))
	s.tide(
		newNoise(rng),
		float64(l.w)*(0.4+0.2*rng.Float64()),
		float64(l.h)*(0.4+0.2*rng.Float64()),
		short*(0.15+0.1*rng.Float64()),
		short*(0.008+0.008*rng.Float64()),
		0.15,
	)
	s.layOn(l, strength)
}

// spots lays foxing.
func spots(l *linearImage, seed uint64, strength float64) {
	rng := rand.New(rand.NewPCG(seed, 7))
	s := stain{absorb: [3]float64{0.25, 0.55, 1}, amount: newPlane(l.w, l.h)}
	n := newNoise(rng)
	for range 12 {
		s.blob(
			n,
			float64(l.w)*(0.2+0.6*rng.Float64()),
			float64(l.h)*(0.2+0.6*rng.Float64()),
			float64(l.w)*(0.005+0.02*rng.Float64()),
			0.5,
			0.4,
		)
	}
	s.layOn(l, strength)
}

// sweeps is how many seeds a sweep takes: few by default, all where
// BENCHLEAF_SWEEP is set.
func sweeps(few, all int) int {
	if os.Getenv("BENCHLEAF_SWEEP") != "" {
		return all
	}
	return few
}

// blankPicture is one colour all over.
func blankPicture(w, h int, c color.Color) *Image {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(m, m.Rect, image.NewUniform(c), image.Point{}, draw.Src)
	return FromImage(m)
}
