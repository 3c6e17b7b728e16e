package photo

import (
	"image"
	"image/color"
	"math"
	"strings"
	"testing"
)

func TestScaleFromPoints(t *testing.T) {
	s, err := ScaleFromPoints(Point{100, 200}, Point{400, 600}, 50) // 500 px
	if err != nil || math.Abs(s.MMPerPx-0.1) > 1e-12 {
		t.Fatalf("%+v, %v; want 0.1", s, err)
	}
	// Two clicks, each good to 2 px along the line: 2 sqrt 2 in 500.
	if math.Abs(s.Relative-2*math.Sqrt2/500) > 1e-9 {
		t.Errorf("uncertainty %.5f", s.Relative)
	}
	for _, c := range []struct {
		b  Point
		mm float64
	}{{Point{110, 205}, 50}, {Point{400, 600}, 0}, {Point{400, 600}, math.NaN()}, {Point{400, 600}, 1e9}} {
		if s, err := ScaleFromPoints(Point{100, 200}, c.b, c.mm); err == nil {
			t.Errorf("%v %g mm: %+v", c.b, c.mm, s)
		}
	}
}

func TestScaleFromSheet(t *testing.T) {
	flat := Quad{{100, 100}, {1100, 100}, {1100, 1510}, {100, 1510}}
	s, err := ScaleFromSheet(flat, 200, 282) // 1000 by 1410 px
	if err != nil || math.Abs(s.MMPerPx-0.2) > 1e-9 || s.Relative > 0.005 {
		t.Errorf("%+v, %v; want 0.2", s, err)
	}
	aslant := Quad{{150, 100}, {1050, 100}, {1100, 1510}, {100, 1510}}
	if a, err := ScaleFromSheet(aslant, 200, 282); err != nil || a.Relative <= 2*s.Relative {
		t.Errorf("aslant: %+v, %v; want a larger uncertainty than %.4f", a, err, s.Relative)
	}
	if _, err := ScaleFromSheet(flat, 282, 200); err == nil || !strings.Contains(err.Error(), "exchanged") {
		t.Errorf("width for height: %v", err)
	}
	if _, err := ScaleFromSheet(Quad{}, 200, 282); err == nil {
		t.Error("a sheet without size has a scale")
	}
	if _, err := ScaleFromSheet(flat, 2, 282); err == nil {
		t.Error("a sheet 2 mm wide has a scale")
	}
}

// rule paints a rule whose millimetres are period pixels wide, turned by degrees
// about (100, 150): ticks 0.15 mm wide, longer every five and ten.
func rule(period, degrees float64) *Image {
	m := image.NewGray(image.Rect(0, 0, 900, 700))
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	for y := range 700 {
		for x := range 900 {
			ink := 0.0
			const fine = 4
			if across := -sin*(float64(x)-100) + cos*(float64(y)-150); across > 1 || across < -6*period-1 {
				m.Pix[y*m.Stride+x] = 230 // beside the rule
				continue
			}
			for j := range fine {
				for i := range fine {
					dx, dy := float64(x)+(float64(i)+0.5)/fine-0.5-100, float64(y)+(float64(j)+0.5)/fine-0.5-150
					along, across := (cos*dx+sin*dy)/period, (-sin*dx+cos*dy)/period
					k := math.Round(along)
					length := 3.0
					if math.Mod(k, 10) == 0 {
						length = 6
					} else if math.Mod(k, 5) == 0 {
						length = 4.5
					}
					if k >= 0 && k <= 200 && math.Abs(along-k) < 0.1 && across > -length && across < 0 {
						ink += 1.0 / (fine * fine)
					}
				}
			}
			m.SetGray(x, y, color.Gray{uint8(230 - 200*ink)})
		}
	}
	return FromImage(m)
}

func TestScaleFromRule(t *testing.T) {
	for _, c := range []struct{ period, degrees, off float64 }{{9.37, 0, 1.5}, {14.2, 12, 1.5}, {6.1, 25, 1}, {11.8, 3, 2.5}, {18.7, 0, 2}} {
		m := rule(c.period, c.degrees)
		sin, cos := math.Sincos(c.degrees * math.Pi / 180)
		at := func(along float64) Point {
			across := -c.off * c.period
			return Point{100 + along*cos - across*sin, 150 + along*sin + across*cos}
		}
		a, b := at(10), at(560)
		s, err := ScaleFromRule(m, a, b, 1)
		if err != nil {
			t.Errorf("ticks every %.2f px at %g degrees: %v", c.period, c.degrees, err)
			continue
		}
		want := 1 / c.period
		if off := math.Abs(s.MMPerPx-want) / want; off > 0.005 || off > 3*s.Relative {
			t.Errorf(
				"ticks every %.2f px at %g degrees: %.5f mm, want %.5f; said to be good to %.4f",
				c.period,
				c.degrees,
				s.MMPerPx,
				want,
				s.Relative,
			)
		}
	}
}

func TestScaleFromRuleRefuses(t *testing.T) {
	page := decoded(t, "cat.007.jpg")
	blank := blankPicture(400, 300, color.RGBA{200, 190, 170, 255})
	for name, f := range map[string]func() error{
		"blank":  func() error { _, err := ScaleFromRule(blank, Point{20, 100}, Point{380, 100}, 1); return err },
		"short":  func() error { _, err := ScaleFromRule(page, Point{20, 100}, Point{60, 100}, 1); return err },
		"no mm":  func() error { _, err := ScaleFromRule(page, Point{20, 100}, Point{380, 100}, 0); return err },
		"beyond": func() error { _, err := ScaleFromRule(blank, Point{-500, -90}, Point{900, 900}, 1); return err },
	} {
		if f() == nil {
			t.Errorf("%s: a scale was read", name)
		}
	}
}
