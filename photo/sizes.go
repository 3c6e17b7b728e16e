package photo

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"sync"

	"benchleaf/colour"
)

// Size is a picture made for the screen: an sRGB JPEG.
type Size struct {
	W, H int
	JPEG []byte
}

// ScreenQuality is the JPEG quality of screen sizes and tiles.
const ScreenQuality = 85

// Sizes makes a JPEG in sRGB for each long side in pixels, never larger than
// the picture, in the order asked for. Pixels are averaged over their areas in
// linear light, so that fine print keeps its weight. Meant to run once, off the
// request path: a 24-megapixel picture takes some tenths of a second.
func (m *Image) Sizes(long ...int) ([]Size, error) {
	// The larger sizes come from the picture, each smaller one from the last.
	order := make([]int, len(long))
	for i := range order {
		order[i] = i
	}
	for i := range order { // few: insertion sort, longest first
		for j := i; j > 0 && long[order[j]] > long[order[j-1]]; j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	out := make([]Size, len(long))
	var from *linearImage
	for _, i := range order {
		w, h := m.fit(long[i])
		if from == nil {
			from = m.shrink(w, h)
		} else {
			from = from.shrink(w, h)
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, from.srgb(), &jpeg.Options{Quality: ScreenQuality}); err != nil {
			return nil, err
		}
		out[i] = Size{w, h, b.Bytes()}
	}
	return out, nil
}

// fit returns the size with the given long side, at most the picture's own.
func (m *Image) fit(long int) (w, h int) {
	side := max(m.W, m.H)
	if long >= side {
		return m.W, m.H
	}
	scale := float64(max(1, long)) / float64(side)
	return max(1, int(math.Round(float64(m.W)*scale))), max(1, int(math.Round(float64(m.H)*scale)))
}

// linearImage holds linear light with sRGB primaries, three values a pixel.
type linearImage struct {
	w, h int
	pix  []float32
}

// shrink averages the picture over the areas of w by h pixels in linear light,
// with sRGB primaries. w and h are at most the picture's.
func (m *Image) shrink(w, h int) *linearImage {
	var tone [3][256]float32
	for v := range 256 {
		x := float64(v) / 255
		for c, l := range m.Profile.Linear(x, x, x) {
			tone[c][v] = float32(l)
		}
	}
	return shrinkRows(m.W, m.H, w, h, m.Profile.ToLinearSRGB(), func(y int, weight float32, sum []float32) {
		row := m.Pix[4*m.W*y : 4*m.W*(y+1)]
		for len(row) >= 4 && len(sum) >= 3 {
			sum[0] += weight * tone[0][row[0]]
			sum[1] += weight * tone[1][row[1]]
			sum[2] += weight * tone[2][row[2]]
			row, sum = row[4:], sum[3:]
		}
	})
}

func (l *linearImage) shrink(w, h int) *linearImage {
	same := colour.Matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	return shrinkRows(l.w, l.h, min(w, l.w), min(h, l.h), same, func(y int, weight float32, sum []float32) {
		for i, v := range l.pix[3*l.w*y:][:len(sum)] {
			sum[i] += weight * v
		}
	})
}

// shrinkRows averages rows of three values a pixel over the areas of a smaller
// picture, and applies m to the result; add adds row y of sw pixels to sum.
func shrinkRows(sw, sh, w, h int, m colour.Matrix, add func(y int, weight float32, sum []float32)) *linearImage {
	out := &linearImage{w, h, make([]float32, 3*w*h)}
	columns := areas(sw, w)
	rows := areas(sh, h)
	var mm [3][3]float32
	for i := range mm {
		for j := range mm[i] {
			mm[i][j] = float32(m[i][j])
		}
	}
	colour.Parallel(h, 8, func(lo, hi int) {
		sum := make([]float32, 3*sw)
		for y := lo; y < hi; y++ {
			clear(sum)
			a := rows[y]
			for k := a.from; k <= a.to; k++ {
				add(k, a.weight(k), sum)
			}
			dst := out.pix[3*w*y : 3*w*(y+1)]
			for x := range w {
				a := columns[x]
				var r, g, b float32
				for k := a.from; k <= a.to; k++ {
					weight := a.weight(k)
					r += weight * sum[3*k]
					g += weight * sum[3*k+1]
					b += weight * sum[3*k+2]
				}
				for i := range 3 {
					dst[3*x+i] = mm[i][0]*r + mm[i][1]*g + mm[i][2]*b
				}
			}
		}
	})
	return out
}

// area is a run of source pixels under one smaller pixel; the first and the
// last lie under it in part.
type area struct {
	from, to          int
	first, last, full float32
}

func (a *area) weight(k int) float32 {
	switch k {
	case a.from:
		return a.first
	case a.to:
		return a.last
	}
	return a.full
}

func areas(from, to int) []area {
	out := make([]area, to)
	scale := float64(from) / float64(to)
	for i := range out {
		lo, hi := float64(i)*scale, float64(i+1)*scale
		a := area{from: int(lo), to: min(from-1, int(math.Ceil(hi))-1)}
		a.full = float32(1 / scale)
		a.first = float32((math.Min(hi, float64(a.from+1)) - lo) / scale)
		a.last = float32((hi - float64(a.to)) / scale)
		if a.to <= a.from {
			a.to, a.first = a.from, 1
		}
		out[i] = a
	}
	return out
}

// srgbCodes map linear light to sRGB values: bright in steps of 1/4096, dark
// (below 1/32), where the curve is steep, in steps of 1/32768. Either way a
// step is a fifth of a value at most.
var srgbCodes = sync.OnceValue(func() *codeTables {
	var t codeTables
	for i := range t.bright {
		t.bright[i] = encodeSRGB(float64(i) / 4096)
		t.dark[i] = encodeSRGB(float64(i) / 32768)
	}
	return &t
})

type codeTables struct{ bright, dark [4097]uint8 }

// of is the sRGB value of linear light, 0 to 1 and what is beyond.
func (t *codeTables) of(v float32) uint8 {
	switch {
	case v >= 1:
		return 255
	case v >= 1.0/32:
		return t.bright[int(v*4096+0.5)]
	case v > 0:
		return t.dark[int(v*32768+0.5)]
	}
	return 0
}

// encodeSRGB applies the transfer function of IEC 61966-2-1:1999.
func encodeSRGB(v float64) uint8 {
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * math.Min(1, math.Max(0, v))))
}

// srgb encodes for the screen.
func (l *linearImage) srgb() *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, l.w, l.h))
	codes := srgbCodes()
	colour.Parallel(l.w*l.h, 1<<14, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			for c := range 3 {
				out.Pix[4*i+c] = codes.of(l.pix[3*i+c])
			}
			out.Pix[4*i+3] = 255
		}
	})
	return out
}

// SRGB returns the picture as 8-bit sRGB for the screen, at full size. When its
// values already are, they are shared, not copied.
func (m *Image) SRGB() *image.RGBA {
	if m.Profile.IsSRGB() {
		return m.RGBA()
	}
	out := image.NewRGBA(image.Rect(0, 0, m.W, m.H))
	const band = 64 // rows that are in linear light at once
	for y := 0; y < m.H; y += band {
		part := Image{W: m.W, H: min(band, m.H-y), Pix: m.Pix[4*m.W*y:], Profile: m.Profile}
		copy(out.Pix[4*m.W*y:], part.shrink(part.W, part.H).srgb().Pix)
	}
	return out
}
