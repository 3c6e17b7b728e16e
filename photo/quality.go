package photo

import (
	"encoding/binary"
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
			over, under := 0, 0
			for row := m.Pix[4*m.W*y : 4*m.W*(y+1)]; len(row) >= 4; row = row[4:] {
				switch q := binary.LittleEndian.Uint32(row); {
				case clippedBytes(uint64(q)) != 0:
					over++
				case q&0x00fcfcfc == 0 && max(row[0], row[1], row[2]) <= darkUpTo: // most fail the first
					under++
				}
			}
			clipped[y], dark[y] = over, under
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
		out = append(
			out,
			fmt.Sprintf(
				"The picture is blurred: its sharpest edges spread over %.1f pixels. Hold the camera against "+
					"something, or use its timer.",
				q.BlurPx,
			),
		)
	}
	if q.Clipped > 0.002 {
		out = append(
			out,
			fmt.Sprintf(
				"%.1f %% of the picture is overexposed or glare; no colour can be read there, so it is left out.",
				100*q.Clipped,
			),
		)
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
	const across, side = 8, 128
	if m.W*m.H > 2*across*across*side*side && min(m.W, m.H) > 2*side {
		windows := make([]plane, across*across)
		colour.Parallel(len(windows), 1, func(lo, hi int) {
			for k := lo; k < hi; k++ {
				windows[k] = brightness(m, k%across*(m.W-side)/(across-1), k/across*(m.H-side)/(across-1), side, side)
			}
		})
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
	colour.Parallel(len(windows), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			again[i] = windows[i].gaussOne()
		}
	})
	var spread [2]float64
	colour.Parallel(len(spread), 1, func(lo, hi int) {
		for along := lo; along < hi; along++ {
			spread[along] = spreadAlong(windows, again, along)
		}
	})
	return math.Max(spread[0], spread[1])
}

// spreadAlong is the spread along x, or along y when along is 1, from windows and
// the same blurred again.
func spreadAlong(windows, again []plane, along int) float64 {
	var slopes []float32
	for _, w := range windows {
		step := [2]int{1, w.w}[along]
		eachInside(w, 7, func(i int) { slopes = append(slopes, abs(w.v[i+step]-w.v[i-step])) })
	}
	if len(slopes) < 1000 {
		return 0
	}
	steep := max(16, quantile(slopes, 0.99))
	var ratios []float32
	for k, w := range windows {
		step := [2]int{1, w.w}[along]
		at := func(p plane, i int) float32 { return abs(p.v[i+step] - p.v[i-step]) }
		eachInside(w, 1, func(i int) {
			slope := w.v[i+step] - w.v[i-step]
			if -steep < slope && slope < steep {
				return
			}
			// The crest of the slope, where the edge is.
			slope = abs(slope)
			if i-2*step >= 0 && at(w, i-step) > slope || i+2*step < len(w.v) && at(w, i+step) > slope {
				return
			}
			if h := at(again[k], i); h > 0 {
				ratios = append(ratios, slope/h)
			}
		})
	}
	if len(ratios) < 50 {
		return 0
	}
	r := float64(quantile(ratios, 0.5))
	// The slope over two pixels is itself the mean over two: a variance of a
	// third.
	return math.Sqrt(math.Max(0.1, 1/math.Max(0.02, r*r-1)-1.0/3))
}

// eachInside goes over the pixels but those of the rim whose number is a multiple
// of every.
func eachInside(p plane, every int, f func(i int)) {
	for y := 2; y < p.h-2; y++ {
		first := y*p.w + 2
		for i := (first + every - 1) / every * every; i < (y+1)*p.w-2; i += every {
			f(i)
		}
	}
}

// gaussOne is the Gaussian blur of spread 1, by its own weights.
func (p plane) gaussOne() plane {
	weights := [4]float32{0.00443, 0.05401, 0.24204, 0.39905}
	across := newPlane(p.w, p.h)
	colour.Parallel(p.h, 16, func(lo, hi int) {
		padded := make([]float32, p.w+6)
		for y := lo; y < hi; y++ {
			row := padded[3 : 3+copy(padded[3:], p.v[y*p.w:(y+1)*p.w])]
			for k := range 3 {
				padded[k], padded[3+p.w+k] = row[0], row[p.w-1]
			}
			dst := across.v[y*p.w : (y+1)*p.w]
			for x := range dst {
				q := padded[x : x+7 : x+7]
				dst[x] = weights[0]*(q[0]+q[6]) + weights[1]*(q[1]+q[5]) + weights[2]*(q[2]+q[4]) + weights[3]*q[3]
			}
		}
	})
	out := newPlane(p.w, p.h)
	colour.Parallel(p.h, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row := func(k int) []float32 { return across.v[min(p.h-1, max(0, y+k))*p.w:][:p.w] }
			u3, u2, u1, mid, d1, d2, d3 := row(-3), row(-2), row(-1), row(0), row(1), row(2), row(3)
			dst := out.v[y*p.w:][:p.w]
			for x := range dst {
				dst[x] = weights[0]*(u3[x]+d3[x]) + weights[1]*(u2[x]+d2[x]) + weights[2]*(u1[x]+d1[x]) + weights[3]*mid[x]
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
