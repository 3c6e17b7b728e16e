package photo

import (
	"image"
	"image/color"
	"math"
	"strings"
	"testing"
)

// edges is a picture of slanted dark and light bars with Gaussian edges of known
// spread, along x or along y.
func edges(w, h int, sigma float64, across bool) *Image {
	const bar = 40
	var tone [10 * 2 * bar]uint8 // at each tenth of a pixel
	for i := range tone {
		at := float64(i) / 10
		// One edge up at 0, one down at bar; a bar is many sigma wide.
		v := 0.5 + 0.5*(math.Erf(at/(sigma*math.Sqrt2))-math.Erf((at-bar)/(sigma*math.Sqrt2))+math.Erf((at-2*bar)/(sigma*math.Sqrt2)))
		tone[i] = uint8(math.Round(40 + 170*math.Min(1, math.Max(0, v))))
	}
	m := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			at := 10*x + y
			if across {
				at = 10*y + x
			}
			m.Pix[y*m.Stride+x] = tone[at%len(tone)]
		}
	}
	return FromImage(m)
}

// The spread of edges whose spread is known; small windows of a large picture
// and all of a small one give the same.
func TestBlurOfKnownEdges(t *testing.T) {
	for _, size := range [][2]int{{500, 400}, {2400, 1800}} {
		for _, sigma := range []float64{0.8, 1.2, 2, 3.5} {
			x, y := edges(size[0], size[1], sigma, false), edges(size[0], size[1], sigma, true)
			// The edges are slanted by a tenth, which hardly matters.
			for name, got := range map[string]float64{"along x": Measure(x).BlurPx, "along y": Measure(y).BlurPx} {
				if math.Abs(got-sigma) > 0.15*sigma {
					t.Errorf("%v, %s: blur %.2f px, want %.2f", size, name, got, sigma)
				}
			}
		}
	}
}

func TestMeasureWarns(t *testing.T) {
	if q := Measure(edges(600, 500, 3, false)); len(q.Notes) != 1 || !strings.Contains(q.Notes[0], "blurred") {
		t.Errorf("a blurred picture: %q", q.Notes)
	}
	sharp := edges(600, 500, 0.8, false)
	if q := Measure(sharp); len(q.Notes) != 0 || q.Blank || q.Clipped != 0 || q.Dark != 0 {
		t.Errorf("a sharp picture: %+v", q)
	}
	for i := range 600 * 50 {
		copy(sharp.Pix[4*i:], []uint8{255, 255, 255})
	}
	if q := Measure(sharp); math.Abs(q.Clipped-0.1) > 1e-9 || len(q.Notes) != 1 ||
		!strings.Contains(q.Notes[0], "10.0 %") {
		t.Errorf("a tenth is white: %+v", q)
	}
	if q := Measure(blankPicture(400, 300, color.RGBA{200, 190, 170, 255})); !q.Blank || q.BlurPx != 0 {
		t.Errorf("a blank picture: %+v", q)
	}
	night := image.NewRGBA(image.Rect(0, 0, 400, 300))
	for i := 3; i < len(night.Pix); i += 4 {
		night.Pix[i] = 255
	}
	for y := range 100 {
		for x := range 400 {
			night.SetRGBA(x, y, color.RGBA{uint8(x / 2), 60, 40, 255})
		}
	}
	if q := Measure(FromImage(night)); math.Abs(q.Dark-2.0/3) > 0.02 ||
		!strings.Contains(strings.Join(q.Notes, " "), "too little light") {
		t.Errorf("two thirds are black: %+v", q)
	}
	if q := Measure(FromImage(image.NewRGBA(image.Rect(0, 0, 1, 1)))); !q.Blank {
		t.Errorf("one pixel: %+v", q)
	}
}

func TestClippedMask(t *testing.T) {
	m := blankPicture(50, 40, color.RGBA{200, 190, 170, 255})
	copy(m.Pix[4*(20*50+30):], []uint8{255, 120, 30}) // one channel is enough
	mask := ClippedMask(m)
	for y := range 40 {
		for x := range 50 {
			want := x >= 28 && x <= 32 && y >= 18 && y <= 22
			if (mask.GrayAt(x, y).Y == 255) != want {
				t.Fatalf("at %d, %d: %v, want %v", x, y, mask.GrayAt(x, y), want)
			}
		}
	}
}

func BenchmarkMeasure12MP(b *testing.B) {
	m := edges(4000, 3000, 1, false)
	for b.Loop() {
		Measure(m)
	}
}
