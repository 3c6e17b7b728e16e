package photo

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"benchleaf/colour"
)

func TestSizes(t *testing.T) {
	m := decoded(t, "cookbook-page-a.jpg")
	sizes, err := m.Sizes(320, 2560, 1280, 9999)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][2]int{{240, 320}, {1920, 2560}, {960, 1280}, {2448, 3264}} {
		got, err := jpeg.Decode(bytes.NewReader(sizes[i].JPEG))
		if err != nil {
			t.Fatal(err)
		}
		if got.Bounds().Dx() != want[0] || got.Bounds().Dy() != want[1] || sizes[i].W != want[0] ||
			sizes[i].H != want[1] {
			t.Errorf("size %d is %v, want %v", i, got.Bounds().Size(), want)
		}
	}
}

// Black and white in fine stripes is half the light: sRGB 188 (IEC 61966-2-1,
// 0.5 in linear light), where plain averaging of values would give 128.
func TestShrinkInLinearLight(t *testing.T) {
	m := &Image{W: 200, H: 100, Pix: make([]uint8, 4*200*100), Profile: colour.SRGB()}
	for i := range 200 * 100 {
		v := uint8(255 * (i % 2))
		copy(m.Pix[4*i:], []uint8{v, v, v, 255})
	}
	out := m.shrink(50, 25).srgb()
	for i := 0; i < len(out.Pix); i += 4 {
		if out.Pix[i] != 188 || out.Pix[i+1] != 188 || out.Pix[i+2] != 188 {
			t.Fatalf("pixel %d is %v, want 188", i/4, out.Pix[i:i+3])
		}
	}
}

// The light of a picture is the same after shrinking by any ratio.
func TestShrinkKeepsLight(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 30 {
		m := &Image{W: 3 + rng.IntN(90), H: 3 + rng.IntN(90), Profile: colour.LinearSRGB()}
		m.Pix = make([]uint8, 4*m.W*m.H)
		before := 0.0
		for i := range m.Pix {
			m.Pix[i] = uint8(rng.Uint32())
			if i%4 == 1 {
				before += float64(m.Pix[i]) / 255
			}
		}
		l := m.shrink(1+rng.IntN(m.W), 1+rng.IntN(m.H))
		after := 0.0
		for i := 1; i < len(l.pix); i += 3 {
			after += float64(l.pix[i])
		}
		before, after = before/float64(m.W*m.H), after/float64(l.w*l.h)
		if math.Abs(before-after) > 1e-4 {
			t.Errorf("%d x %d to %d x %d: mean light %.5f, want %.5f", m.W, m.H, l.w, l.h, after, before)
		}
	}
}

// A wide picture shown as sRGB has the colours of its profile.
func TestWidePictureInSRGB(t *testing.T) {
	m := &Image{W: 1, H: 1, Pix: []uint8{180, 160, 120, 255}, Profile: colour.AdobeRGB()}
	out := m.SRGB().Pix
	want := m.Profile.Lab(180.0/255, 160.0/255, 120.0/255)
	got := colour.SRGB().Lab(float64(out[0])/255, float64(out[1])/255, float64(out[2])/255)
	if d := colour.DE2000(want, got); d > 0.4 { // half a value of rounding
		t.Errorf("%v became %v, %.2f dE00 off", want, got, d)
	}
}

func TestPyramid(t *testing.T) {
	for _, c := range []struct{ w, h, levels int }{{1, 1, 1}, {2, 1, 2}, {512, 512, 10}, {513, 200, 11}, {6000, 4000, 14}} {
		p := PyramidOf(c.w, c.h)
		if p.Levels != c.levels {
			t.Errorf("%d x %d has %d levels, want %d", c.w, c.h, p.Levels, c.levels)
		}
		if w, h := p.LevelSize(p.Levels - 1); w != c.w || h != c.h {
			t.Errorf("%d x %d: the top level is %d x %d", c.w, c.h, w, h)
		}
		if w, h := p.LevelSize(0); w != 1 || h != 1 {
			t.Errorf("%d x %d: level 0 is %d x %d", c.w, c.h, w, h)
		}
	}
}

// The tiles of each level, laid side by side, are the picture: pixel for pixel
// at the top (within JPEG's own loss), averaged below.
func TestTiles(t *testing.T) {
	m := decoded(t, "zanotti-78.jpg") // 1052 x 1524: ragged last tiles
	levels := map[int]*image.RGBA{}
	var mu sync.Mutex
	var p Pyramid
	p, err := m.Tiles(t.Context(), func(level, column, row int, b []byte) error {
		tile, err := jpeg.Decode(bytes.NewReader(b))
		if err != nil {
			return err
		}
		mu.Lock()
		defer mu.Unlock()
		if levels[level] == nil {
			w, h := PyramidOf(m.W, m.H).LevelSize(level)
			levels[level] = image.NewRGBA(image.Rect(0, 0, w, h))
		}
		dst := levels[level]
		for y := range tile.Bounds().Dy() {
			for x := range tile.Bounds().Dx() {
				dst.Set(column*TileSize+x, row*TileSize+y, tile.At(x, y))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	want := m.RGBA()
	for l := p.Levels - 1; levels[l] != nil; l-- {
		got, sum := levels[l], 0.0
		for i := range got.Pix {
			if i%4 == 3 && got.Pix[i] != 255 {
				t.Fatalf("level %d has a hole at pixel %d", l, i/4)
			}
			sum += math.Abs(float64(got.Pix[i]) - float64(want.Pix[i]))
		}
		if mean := sum / float64(len(got.Pix)) * 4 / 3; mean > 4 {
			t.Errorf("level %d is %.2f values off in the mean", l, mean)
		}
		want = halve(want)
	}
	if len(levels) != 5 { // 1524, 762, 381, 191, 96
		t.Errorf("%d levels made, want 5", len(levels))
	}
}

func TestTilesCarryProfile(t *testing.T) {
	grey := decoded(t, "page.png") // carries a grey profile, which would not fit
	_, err := grey.Tiles(t.Context(), func(_, _, _ int, b []byte) error {
		info, err := Inspect(bytes.NewReader(b), DefaultLimits)
		if err == nil && (len(info.Notes) > 0 || info.Profile != grey.Profile.Name) {
			err = fmt.Errorf("a tile has the profile %q, notes %q", info.Profile, info.Notes)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	m := *decoded(t, "graf1.png")
	m.Profile = colour.DisplayP3()
	_, err = m.Tiles(t.Context(), func(_, _, _ int, b []byte) error {
		info, err := Inspect(bytes.NewReader(b), DefaultLimits)
		if err == nil && info.Profile != "Display P3" {
			err = fmt.Errorf("a tile has the profile %q", info.Profile)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

func TestTilesStop(t *testing.T) {
	m := decoded(t, "page.png")
	full := errors.New("disk full")
	if _, err := m.Tiles(t.Context(), func(_, _, _ int, _ []byte) error { return full }); !errors.Is(err, full) {
		t.Errorf("%v, want the writer's error", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := m.Tiles(ctx, func(_, _, _ int, _ []byte) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the context's error", err)
	}
}

// BenchmarkTiles24MP is the work on one photograph: decode 24 megapixels and
// make all tiles.
func BenchmarkTiles24MP(b *testing.B) {
	file := jpeg24MP(b)
	for b.Loop() {
		m, _, err := Decode(bytes.NewReader(file), DefaultLimits)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := m.Tiles(b.Context(), func(_, _, _ int, _ []byte) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSizes24MP(b *testing.B) {
	m, _, err := Decode(bytes.NewReader(jpeg24MP(b)), DefaultLimits)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := m.Sizes(320, 1280, 2560); err != nil {
			b.Fatal(err)
		}
	}
}
