package photo

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"benchleaf/colour"
)

// onGround lays a picture of a page on a ground of noisy colour, turned and in
// perspective, and returns it with the page's true corners.
func onGround(t testing.TB, page string, rng *rand.Rand) (*Image, Quad) {
	t.Helper()
	src := decoded(t, page)
	w, h := 1200, 1600
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	q := Quad{
		{between(60, 220), between(60, 220)},
		{between(980, 1140), between(60, 220)},
		{between(980, 1140), between(1380, 1540)},
		{between(60, 220), between(1380, 1540)},
	}
	grounds := [][3]float64{{40, 42, 45}, {90, 60, 40}, {130, 132, 128}, {20, 60, 50}, {240, 241, 243}}
	g := grounds[rng.IntN(len(grounds))]
	m := &Image{W: w, H: h, Pix: make([]uint8, 4*w*h), Profile: colour.SRGB()}
	hm := squareTo(q)
	inv, ok := colour.Matrix(hm).Inverse()
	if !ok {
		t.Fatal("a corner case without inverse")
	}
	for y := range h {
		for x := range w {
			i := 4 * (y*w + x)
			n := rng.NormFloat64() * 3
			for c := range 3 {
				m.Pix[i+c] = clamp8(int32(g[c] + n))
			}
			m.Pix[i+3] = 255
			v := inv.Apply([3]float64{float64(x), float64(y), 1})
			u, s := v[0]/v[2], v[1]/v[2]
			if u >= 0 && u < 1 && s >= 0 && s < 1 {
				copy(m.Pix[i:i+3], src.Pix[4*(int(s*float64(src.H))*src.W+int(u*float64(src.W))):])
			}
		}
	}
	return m, q
}

// squareTo is the homography of the unit square to four corners (Heckbert,
// Fundamentals of texture mapping, 1989, section 2.2.3).
func squareTo(q Quad) [3][3]float64 {
	sx, sy := q[0].X-q[1].X+q[2].X-q[3].X, q[0].Y-q[1].Y+q[2].Y-q[3].Y
	dx1, dy1, dx2, dy2 := q[1].X-q[2].X, q[1].Y-q[2].Y, q[3].X-q[2].X, q[3].Y-q[2].Y
	det := dx1*dy2 - dx2*dy1
	g, h := (sx*dy2-dx2*sy)/det, (dx1*sy-sx*dy1)/det
	return [3][3]float64{
		{q[1].X - q[0].X + g*q[1].X, q[3].X - q[0].X + h*q[3].X, q[0].X},
		{q[1].Y - q[0].Y + g*q[1].Y, q[3].Y - q[0].Y + h*q[3].Y, q[0].Y},
		{g, h, 1},
	}
}

// Pages of known corners on plain grounds, dark, grey, wooden, green and white.
func TestFindSheetCorners(t *testing.T) {
	pages := []string{"zanotti-78.jpg", "breviar.38.150.jpg", "lapide.052.100.jpg"}
	for seed := range uint64(sweeps(5, 12)) {
		rng := rand.New(rand.NewPCG(seed, 9))
		m, want := onGround(t, pages[seed%3], rng)
		s := FindSheet(m)
		for i := range want {
			if d := math.Hypot(s.Corners[i].X-want[i].X, s.Corners[i].Y-want[i].Y); d > 12 { // a hundredth of the side, before anyone looks closer
				t.Errorf("case %d: corner %d is %.1f px off: %v, want %v", seed, i, d, s.Corners[i], want[i])
			}
		}
		if s.Seen != [4]bool{true, true, true, true} || s.Fill < 0.95 {
			t.Errorf("case %d: sides seen %v, fill %.3f", seed, s.Seen, s.Fill)
		}
	}
}

func TestSheetThatFillsTheFrame(t *testing.T) {
	for _, name := range []string{"zanotti-78.jpg", "1555.003.jpg", "page.png"} {
		m := decoded(t, name)
		s := FindSheet(m)
		if s.Seen != [4]bool{} || s.Note == "" || s.Corners[2] != (Point{float64(m.W) - 0.5, float64(m.H) - 0.5}) {
			t.Errorf("%s: %+v, want the frame and a note", name, s)
		}
	}
	// The red cloth lies above the title page in this photograph.
	m := decoded(t, "lyra.005.jpg")
	if s := FindSheet(m); s.Seen != [4]bool{true, false, false, false} || math.Abs(s.Corners[0].Y-127) > 6 ||
		math.Abs(s.Corners[1].Y-140) > 6 {
		t.Errorf("title page: %+v, want its upper side at about 127 to 140", s)
	}
}

func TestFindSheetOnNothing(t *testing.T) {
	for _, c := range []color.Color{color.White, color.Black, color.Gray{119}} {
		for _, size := range []image.Point{{1, 1}, {2, 300}, {300, 200}} {
			src := image.NewRGBA(image.Rectangle{Max: size})
			for i := range size.X * size.Y {
				src.Set(i%size.X, i/size.X, c)
			}
			if s := FindSheet(FromImage(src)); s.Note == "" || s.Fill != 1 {
				t.Errorf("%v of %v: %+v, want the frame with a note", size, c, s)
			}
		}
	}
}

func TestConvexHullAndQuad(t *testing.T) {
	m := newMask(50, 40)
	for y := 5; y < 30; y++ {
		for x := 10; x < 45; x++ {
			if x-10+y-5 > 6 { // a corner gone
				m.v[y*50+x] = true
			}
		}
	}
	q := fitQuad(m)
	for i, want := range []Point{{9.5, 4.5}, {44.5, 4.5}, {44.5, 29.5}, {9.5, 29.5}} {
		if math.Hypot(q[i].X-want.X, q[i].Y-want.Y) > 0.01 {
			t.Errorf("corner %d is %v, want %v", i, q[i], want)
		}
	}
	if !q.contains(Point{20, 20}) || q.contains(Point{5, 20}) {
		t.Error("contains is wrong")
	}
}

// Stitched scans and cut strips can be a pixel or a few high; they get a note.
func TestFindSheetInAStrip(t *testing.T) {
	for _, size := range []image.Point{{900, 1}, {1, 900}, {900, 7}, {3, 5}} {
		src := image.NewRGBA(image.Rectangle{Max: size})
		for i := range size.X * size.Y {
			src.Set(i%size.X, i/size.X, color.RGBA{uint8(i * 37), uint8(i * 11), uint8(i * 5), 255})
		}
		if s := FindSheet(FromImage(src)); s.Note == "" || s.Fill != 1 {
			t.Errorf("%v: %+v, want the frame with a note", size, s)
		}
	}
}
