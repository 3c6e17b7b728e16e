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
	// when sharp. 0 when there are no edges to tell by.
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
	clipped, dark := make([]int, m.H), make([]int, m.H)
	colour.Parallel(m.H, 32, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row := m.Pix[4*m.W*y : 4*m.W*(y+1)]
			for i := 0; i+4 <= len(row); i += 4 {
				switch most := max(row[i], row[i+1], row[i+2]); {
				case most >= clippedFrom:
					clipped[y]++
				case most <= darkUpTo:
					dark[y]++
				}
			}
		}
	})
	for y := range clipped {
		q.Clipped += float64(clipped[y])
		q.Dark += float64(dark[y])
	}
	n := m.W * m.H
	q.Clipped /= float64(n)
	q.Dark /= float64(n)
	var vs []float32
	for i := 0; i < n; i += 1 + n/100_000 {
		vs = append(vs, grey(m.Pix[4*i:]))
	}
	q.Blank = quantile(vs, 0.995)-quantile(vs, 0.005) < 8
	q.BlurPx = blur(m)
	q.Notes = q.notes()
	return q
}

// grey is the brightness of a pixel, 0 to 255.
func grey(p []uint8) float32 {
	return 0.3*float32(p[0]) + 0.6*float32(p[1]) + 0.1*float32(p[2])
}

// brightness copies part of a picture, at most what there is.
func brightness(m *Image, x0, y0, w, h int) plane {
	w, h = min(w, m.W-x0), min(h, m.H-y0)
	p := newPlane(w, h)
	for y := range h {
		for x := range w {
			p.v[y*w+x] = grey(m.Pix[4*((y0+y)*m.W+x0+x):])
		}
	}
	return p
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
// Of a large picture windows spread over it are looked at, and all of it only
// where they show no edges.
func blur(m *Image) float64 {
	const across, side = 8, 160
	if m.W*m.H > 2*across*across*side*side && min(m.W, m.H) > 2*side {
		var windows []plane
		for j := range across {
			for i := range across {
				windows = append(windows, brightness(m, i*(m.W-side)/(across-1), j*(m.H-side)/(across-1), side, side))
			}
		}
		if s := edgeSpread(windows); s > 0 {
			return s
		}
	}
	return edgeSpread([]plane{brightness(m, 0, 0, m.W, m.H)})
}

// edgeSpread is the larger of the spreads along x and y, 0 where there are too
// few edges to tell.
func edgeSpread(windows []plane) float64 {
	again := make([]plane, len(windows))
	for i, w := range windows {
		again[i] = w.gaussOne()
	}
	worst := 0.0
	for along := range 2 {
		var slopes []float32
		for _, w := range windows {
			eachSlope(w, along, func(i int, slope float32) {
				if i%7 == 0 {
					slopes = append(slopes, slope)
				}
			})
		}
		if len(slopes) < 1000 {
			continue
		}
		steep := max(16, quantile(slopes, 0.99))
		var ratios []float32
		for k, w := range windows {
			step := [2]int{1, w.w}[along]
			at := func(p plane, i int) float32 { return abs(p.v[i+step] - p.v[i-step]) }
			eachSlope(w, along, func(i int, slope float32) {
				// The crest of the slope, where the edge is.
				if slope < steep || i-2*step >= 0 && at(w, i-step) > slope || i+2*step < len(w.v) && at(w, i+step) > slope {
					return
				}
				if h := at(again[k], i); h > 0 {
					ratios = append(ratios, slope/h)
				}
			})
		}
		if len(ratios) < 50 {
			continue
		}
		r := float64(quantile(ratios, 0.5))
		// The slope over two pixels is itself the mean over two: a variance of a
		// third.
		worst = math.Max(worst, math.Sqrt(math.Max(0.1, 1/math.Max(0.02, r*r-1)-1.0/3)))
	}
	return worst
}

// eachSlope goes over the steepness of brightness along x or y at each pixel but
// those of the rim.
func eachSlope(p plane, along int, f func(i int, slope float32)) {
	step := [2]int{1, p.w}[along]
	for y := 2; y < p.h-2; y++ {
		for x := 2; x < p.w-2; x++ {
			i := y*p.w + x
			f(i, abs(p.v[i+step]-p.v[i-step]))
		}
	}
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
