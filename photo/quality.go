package photo

import (
	"fmt"
	"image"
	"math"

	"benchleaf/colour"
)

// Quality is what a picture is good for, measured.
type Quality struct {
	// BlurPx is the spread (Gaussian sigma) of the sharpest edges along x or y,
	// whichever is more blurred, in pixels of the full picture: about 0.5 to 1.2
	// when sharp. NaN when there are no edges to tell by.
	BlurPx float64
	// Clipped is the share of pixels with a channel at its upper end, where
	// light was lost: glare, or white that was exposed too long.
	Clipped float64
	// Dark is the share of pixels with all channels at their lower end.
	Dark float64
	// Blank is set when the whole picture has hardly any contrast.
	Blank bool
	// Notes are sentences for the person about what is wrong; none when all is
	// well.
	Notes []string
}

const (
	clippedFrom = 254 // of 255: cameras seldom write 255 in all channels at once
	darkUpTo    = 2
	// blurWarn is the spread in pixels above which print begins to fill in and
	// edges no longer align to a tenth of a pixel (our own choice).
	blurWarn = 2.0
)

// Measure judges a picture.
func Measure(m *Image) Quality {
	var q Quality
	lum := newPlane(m.W, m.H)
	clipped, dark := make([]int, m.H), make([]int, m.H)
	colour.Parallel(m.H, 32, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range m.W {
				i := y*m.W + x
				p := m.Pix[4*i : 4*i+3 : 4*i+3]
				if max(p[0], p[1], p[2]) >= clippedFrom {
					clipped[y]++
				}
				if max(p[0], p[1], p[2]) <= darkUpTo {
					dark[y]++
				}
				lum.v[i] = 0.3*float32(p[0]) + 0.6*float32(p[1]) + 0.1*float32(p[2])
			}
		}
	})
	for y := range clipped {
		q.Clipped += float64(clipped[y])
		q.Dark += float64(dark[y])
	}
	q.Clipped /= float64(m.W * m.H)
	q.Dark /= float64(m.W * m.H)
	var vs []float32
	for i := 0; i < len(lum.v); i += 1 + len(lum.v)/100_000 {
		vs = append(vs, lum.v[i])
	}
	q.Blank = quantile(vs, 0.995)-quantile(vs, 0.005) < 8
	q.BlurPx = blur(lum)
	q.Notes = q.notes()
	return q
}

func (q Quality) notes() (out []string) {
	if q.Blank {
		return []string{"The picture is blank: it shows hardly any contrast."}
	}
	if q.BlurPx > blurWarn {
		out = append(out, fmt.Sprintf("The picture is blurred: its sharpest edges spread over %.1f pixels. Hold the camera against something, or use its timer.", q.BlurPx))
	}
	if q.Clipped > 0.002 {
		out = append(out, fmt.Sprintf("%.1f %% of the picture is overexposed or glare; no colour can be read there, so it is left out.", 100*q.Clipped))
	}
	if q.Dark > 0.5 {
		out = append(out, "More than half of the picture is black; there was too little light.")
	}
	return out
}

// blur estimates the spread of edges by blurring once more: where an edge of
// spread s meets a Gaussian of spread t, its slope falls by sqrt(1 + t^2/s^2)
// (Zhuo and Sim, Defocus map estimation from a single image, Pattern
// Recognition 44, 2011). The steepest hundredth of slopes is taken for edges.
func blur(lum plane) float64 {
	const t = 1.0
	again := lum.gaussOne()
	worst := math.NaN()
	for _, step := range [2]int{1, lum.w} {
		var slopes []float32
		at := func(p plane, i int) float32 { return p.v[i+step] - p.v[i-step] }
		each := func(f func(i int)) {
			for y := 2; y < lum.h-2; y++ {
				for x := 2; x < lum.w-2; x++ {
					f(y*lum.w + x)
				}
			}
		}
		each(func(i int) {
			if i%7 == 0 {
				slopes = append(slopes, max(at(lum, i), -at(lum, i)))
			}
		})
		if len(slopes) < 1000 {
			continue
		}
		steep := max(16, quantile(slopes, 0.99))
		var ratios []float32
		each(func(i int) {
			g := max(at(lum, i), -at(lum, i))
			if g < steep {
				return
			}
			// The crest of the slope, where the edge is.
			for _, j := range [2]int{i - step, i + step} {
				if j-step >= 0 && j+step < len(lum.v) && max(at(lum, j), -at(lum, j)) > g {
					return
				}
			}
			if h := max(at(again, i), -at(again, i)); h > 0 {
				ratios = append(ratios, g/h)
			}
		})
		if len(ratios) < 50 {
			continue
		}
		r := float64(quantile(ratios, 0.5))
		s := t / math.Sqrt(math.Max(0.02, r*r-1))
		if math.IsNaN(worst) || s > worst {
			worst = s
		}
	}
	return worst
}

// gaussOne is the Gaussian blur of spread 1, by its own weights.
func (p plane) gaussOne() plane {
	weights := [7]float32{0.00443, 0.05401, 0.24204, 0.39905, 0.24204, 0.05401, 0.00443}
	across := newPlane(p.w, p.h)
	colour.Parallel(p.h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row := p.v[y*p.w : (y+1)*p.w]
			for x := range row {
				var sum float32
				for k, w := range weights {
					sum += w * row[min(p.w-1, max(0, x+k-3))]
				}
				across.v[y*p.w+x] = sum
			}
		}
	})
	out := newPlane(p.w, p.h)
	colour.Parallel(p.h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			dst := out.v[y*p.w : (y+1)*p.w]
			for k, w := range weights {
				row := across.v[min(p.h-1, max(0, y+k-3))*p.w:]
				for x := range dst {
					dst[x] += w * row[x]
				}
			}
		}
	})
	return out
}

// ClippedMask marks with 255 the pixels whose colour was lost to overexposure,
// with two pixels round them, into which sensors and JPEG spread it.
func ClippedMask(m *Image) *image.Gray {
	lost := newMask(m.W, m.H)
	for i := range lost.v {
		p := m.Pix[4*i : 4*i+3 : 4*i+3]
		lost.v[i] = max(p[0], p[1], p[2]) >= clippedFrom
	}
	return lost.grow(2).gray()
}

// gray draws a mask in black and white.
func (m mask) gray() *image.Gray {
	out := image.NewGray(image.Rect(0, 0, m.w, m.h))
	for i, b := range m.v {
		if b {
			out.Pix[i] = 255
		}
	}
	return out
}
