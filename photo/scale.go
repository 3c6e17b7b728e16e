package photo

import (
	"errors"
	"fmt"
	"math"
)

// Scale is millimetres per pixel, with its relative uncertainty (one standard
// deviation) and what it rests on.
type Scale struct {
	MMPerPx  float64
	Relative float64
	RestsOn  string
}

// ScaleFromPoints takes two places a known length apart. A hand clicks to about
// two pixels.
func ScaleFromPoints(a, b Point, mm float64) (Scale, error) {
	px := math.Hypot(b.X-a.X, b.Y-a.Y)
	if !(mm > 0 && mm < 5000) {
		return Scale{}, fmt.Errorf(
			"the length between the points is %g mm; it should be more than 0 and less than 5000",
			mm,
		)
	}
	if px < 20 {
		return Scale{}, fmt.Errorf(
			"the two points are %.0f pixels apart; choose points further apart, at least 20 pixels",
			px,
		)
	}
	return Scale{
		MMPerPx:  mm / px,
		Relative: 2 * math.Sqrt2 / px,
		RestsOn:  fmt.Sprintf("two points %g mm apart", mm),
	}, nil
}

// ScaleFromSheet takes the sheet's known size, width along its upper side. The
// scale is that of the middle of the sheet; a picture taken aslant has another
// at its edges, which the uncertainty tells.
func ScaleFromSheet(corners Quad, widthMM, heightMM float64) (Scale, error) {
	if !(widthMM > 10 && widthMM < 5000 && heightMM > 10 && heightMM < 5000) {
		return Scale{}, fmt.Errorf(
			"the sheet's size is %g by %g mm; each side should be between 10 and 5000",
			widthMM,
			heightMM,
		)
	}
	side := func(i int) float64 {
		a, b := corners[i], corners[(i+1)%4]
		return math.Hypot(b.X-a.X, b.Y-a.Y)
	}
	if min(side(0), side(1), side(2), side(3)) < 20 {
		return Scale{}, errors.New("the sheet's corners lie less than 20 pixels apart in the picture")
	}
	width, height := (side(0)+side(2))/2, (side(1)+side(3))/2
	across, down := widthMM/width, heightMM/height
	spread := math.Max(math.Abs(side(0)-side(2))/width, math.Abs(side(1)-side(3))/height)
	if ratio := across / down; ratio > 1.25 || ratio < 0.8 {
		return Scale{}, fmt.Errorf(
			"the sheet is %.0f by %.0f pixels in the picture, which does not go with %g by %g mm; are width and "+
				"height exchanged, or is the picture taken aslant",
			width,
			height,
			widthMM,
			heightMM,
		)
	}
	return Scale{
		MMPerPx:  math.Sqrt(across * down),
		Relative: math.Hypot(math.Abs(across-down)/(across+down), spread/4) + 0.003,
		RestsOn:  fmt.Sprintf("the sheet's size, %g by %g mm", widthMM, heightMM),
	}, nil
}

// ScaleFromRule reads the ticks of a rule along the line from a to b, which the
// hand lays over them; tickMM is the distance of the finest ticks, usually 1.
// The period of dark and light along the line is the tick distance, so the line
// must cross all of the finest ticks, not only the longer ones.
func ScaleFromRule(m *Image, a, b Point, tickMM float64) (Scale, error) {
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	if !(tickMM > 0 && tickMM <= 100) {
		return Scale{}, fmt.Errorf(
			"the ticks are said to be %g mm apart; that should be more than 0 and at most 100",
			tickMM,
		)
	}
	if length < 60 {
		return Scale{}, errors.New("the line along the rule is shorter than 60 pixels; draw it over more ticks")
	}
	profile := rulerProfile(m, a, b, int(length))
	lag := firstPeriod(profile)
	if lag == 0 {
		return Scale{}, errors.New(
			"no even ticks were found along the line; draw it along the ticks of the rule, or mark two points a " +
				"known length apart",
		)
	}
	// The tone near that period, over the whole line: many ticks place it well.
	n := float64(len(profile))
	best, power := 0.0, 0.0
	for f := n/lag - 1; f <= n/lag+1; f += 0.05 {
		if p := tone(profile, f/n); p > power {
			best, power = f, p
		}
	}
	for step := 0.05; step > 0.0005; step /= 2 {
		for _, f := range [2]float64{best - step, best + step} {
			if p := tone(profile, f/n); p > power {
				best, power = f, p
			}
		}
	}
	period := length / best // pixels from tick to tick
	return Scale{
		MMPerPx:  tickMM / period,
		Relative: 0.1/best + 0.002,
		RestsOn:  fmt.Sprintf("%.0f ticks of a rule, %g mm apart", best, tickMM),
	}, nil
}

// firstPeriod is the shortest distance, in samples to about a tenth, at which a
// profile is like itself, or 0. Narrow ticks have overtones as strong as their
// own tone, and longer ticks every five and ten make lower tones; but no
// distance shorter than that of the ticks lays all of them on others.
func firstPeriod(v []float64) float64 {
	most := len(v) / 8
	like := make([]float64, most+2)
	for lag := range like {
		var sum, here, there float64
		for i := 0; i+lag < len(v); i++ {
			sum += v[i] * v[i+lag]
			here += v[i] * v[i]
			there += v[i+lag] * v[i+lag]
		}
		if here == 0 || there == 0 {
			return 0
		}
		like[lag] = sum / math.Sqrt(here*there)
	}
	peak := 0.0
	isPeak := func(lag int) bool { return like[lag] > like[lag-1] && like[lag] >= like[lag+1] }
	for lag := 3; lag <= most; lag++ {
		if isPeak(lag) {
			peak = math.Max(peak, like[lag])
		}
	}
	if peak < 0.4 {
		return 0
	}
	for lag := 3; lag <= most; lag++ {
		if isPeak(lag) && like[lag] > 0.6*peak {
			a, b, c := like[lag-1], like[lag], like[lag+1]
			return float64(lag) + (a-c)/(2*(a-2*b+c))
		}
	}
	return 0
}

// tone is the power of a frequency, in turns a sample, as the sum of squares it
// explains.
func tone(v []float64, f float64) float64 {
	var c, s float64
	for i, x := range v {
		sin, cos := math.Sincos(2 * math.Pi * f * float64(i))
		c += x * cos
		s += x * sin
	}
	return 2 * (c*c + s*s) / float64(len(v))
}

// rulerProfile is the lightness along a line, the mean of seven lines beside
// each other, without its slow part.
func rulerProfile(m *Image, a, b Point, n int) []float64 {
	dx, dy := (b.X-a.X)/float64(n), (b.Y-a.Y)/float64(n)
	length := math.Hypot(dx, dy)
	nx, ny := -dy/length, dx/length
	raw := make([]float64, n)
	for i := range raw {
		for k := -3.0; k <= 3; k++ {
			x := int(math.Round(a.X + float64(i)*dx + k*nx))
			y := int(math.Round(a.Y + float64(i)*dy + k*ny))
			p := m.Pix[4*(min(m.H-1, max(0, y))*m.W+min(m.W-1, max(0, x))):]
			raw[i] += float64(p[0]) + float64(p[1]) + float64(p[2])
		}
	}
	out := make([]float64, n)
	const r = 25
	for i := range raw {
		sum, c := 0.0, 0.0
		for j := max(0, i-r); j <= min(n-1, i+r); j++ {
			sum, c = sum+raw[j], c+1
		}
		out[i] = raw[i] - sum/c
	}
	return out
}
