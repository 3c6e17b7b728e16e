package colour

import (
	"math"
	"runtime"
	"sync"
)

// Fast turns pixels of one profile into CIELAB in single precision by table.
// Against the exact path it is within 0.01 in each of L, a and b for 8-bit
// values (tested over the whole cube). A Fast may be used by many goroutines.
type Fast struct {
	// share[c][v] is what value v of channel c adds to X/Xn, Y/Yn and Z/Zn,
	// scaled so that white is cubeSteps.
	share [3][256][4]float32
	// linear[c] undoes the tone curve of 16-bit values at linearSteps+1 points;
	// matrix goes on from there.
	linear [3][linearSteps + 2]float32
	matrix [3][3]float32
}

const (
	cubeSteps   = 4096
	linearSteps = 4096
)

// cubeRoot holds labF at cubeSteps steps over 0 to 1, with one spare.
var cubeRoot = func() (t [cubeSteps + 2]float32) {
	for i := range t {
		t[i] = float32(labF(float64(i) / cubeSteps))
	}
	return t
}()

// NewFast makes the tables for p.
func NewFast(p *Profile) *Fast {
	f := &Fast{}
	white := [3]float64{D50.X, D50.Y, D50.Z}
	for c := range 3 {
		for v := range 256 {
			lin := p.curves[c].at(float64(v) / 255)
			for i := range 3 {
				f.share[c][v][i] = float32(p.toXYZ[i][c] * lin / white[i] * cubeSteps)
			}
		}
		for v := range f.linear[c] {
			f.linear[c][v] = float32(p.curves[c].at(float64(v) / linearSteps))
		}
		for i := range 3 {
			f.matrix[i][c] = float32(p.toXYZ[i][c] / white[i] * cubeSteps)
		}
	}
	return f
}

func cubeRootAt(x float32) float32 {
	if !(x > 0) { // wide spaces reach a little below zero
		return 4.0/29 + x*(labSlope/cubeSteps)
	}
	i := int(x)
	if uint(i) >= cubeSteps {
		return float32(labF(float64(x) / cubeSteps))
	}
	a := cubeRoot[i]
	return a + (x-float32(i))*(cubeRoot[i+1]-a)
}

// LabRow converts len(lab)/3 pixels of 8-bit RGBA (alpha ignored) to L, a, b
// triples. rgba must hold four bytes for each triple.
func (f *Fast) LabRow(lab []float32, rgba []uint8) {
	n := len(lab) / 3
	rgba = rgba[:4*n]
	for i := range n {
		lab[3*i], lab[3*i+1], lab[3*i+2] = f.lab(rgba[4*i], rgba[4*i+1], rgba[4*i+2])
	}
}

func (f *Fast) lab(r, g, b uint8) (l, a, bb float32) {
	p, q, s := &f.share[0][r], &f.share[1][g], &f.share[2][b]
	fx := cubeRootAt(p[0] + q[0] + s[0])
	fy := cubeRootAt(p[1] + q[1] + s[1])
	fz := cubeRootAt(p[2] + q[2] + s[2])
	return 116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)
}

// LabAt converts one 8-bit pixel.
func (f *Fast) LabAt(r, g, b uint8) Lab {
	l, a, bb := f.lab(r, g, b)
	return Lab{float64(l), float64(a), float64(bb)}
}

// LabOf converts device values on a scale of 0 to 255 with fractions, such as
// a resampled pixel has.
func (f *Fast) LabOf(r, g, b float32) (l, a, bb float32) {
	const scale = linearSteps / 255.0
	x, y, z := f.linearAt(0, r*scale), f.linearAt(1, g*scale), f.linearAt(2, b*scale)
	m := &f.matrix
	fx := cubeRootAt(m[0][0]*x + m[0][1]*y + m[0][2]*z)
	fy := cubeRootAt(m[1][0]*x + m[1][1]*y + m[1][2]*z)
	fz := cubeRootAt(m[2][0]*x + m[2][1]*y + m[2][2]*z)
	return 116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)
}

func (f *Fast) linearAt(c int, v float32) float32 {
	if !(v > 0) {
		return f.linear[c][0]
	}
	i := int(v)
	if uint(i) >= linearSteps {
		return f.linear[c][linearSteps]
	}
	a := f.linear[c][i]
	return a + (v-float32(i))*(f.linear[c][i+1]-a)
}

// DE2000Row writes the dE00 of len(de) pairs of L, a, b triples. It agrees
// with DE2000 within 0.002 plus a thousandth of the value (tested on the pairs
// of Sharma and on random ones).
func DE2000Row(de, one, two []float32) {
	n := len(de)
	one, two = one[:3*n], two[:3*n]
	for i := range n {
		de[i] = de2000(one[3*i], one[3*i+1], one[3*i+2], two[3*i], two[3*i+1], two[3*i+2])
	}
}

// chromaWeight holds sqrt(c^7/(c^7 + 25^7)) in steps of a quarter of chroma up
// to chromaMax.
const (
	chromaSteps = 4
	chromaMax   = 256
)

var chromaWeight = func() (t [chromaMax*chromaSteps + 2]float32) {
	for i := range t {
		c7 := math.Pow(float64(i)/chromaSteps, 7)
		t[i] = float32(math.Sqrt(c7 / (c7 + math.Pow(25, 7))))
	}
	return t
}()

func chromaWeightAt(c float32) float32 {
	x := c * chromaSteps
	i := int(x)
	if uint(i) >= chromaMax*chromaSteps {
		return 1
	}
	a := chromaWeight[i]
	return a + (x-float32(i))*(chromaWeight[i+1]-a)
}

func sqrt32(x float32) float32 { return float32(math.Sqrt(float64(x))) }

// de2000 is DE2000 without angles: the hue difference comes from the cross
// product of the two chroma vectors, the mean hue is the direction of their
// bisector, and the cosines of its multiples follow from the first.
func de2000(l1, a1, b1, l2, a2, b2 float32) float32 {
	if l1 == l2 && a1 == a2 && b1 == b2 {
		return 0
	}
	g := 1.5 - 0.5*chromaWeightAt(0.5*(sqrt32(a1*a1+b1*b1)+sqrt32(a2*a2+b2*b2)))
	rawA1, rawA2 := a1, a2
	a1, a2 = a1*g, a2*g
	c1, c2 := sqrt32(a1*a1+b1*b1), sqrt32(a2*a2+b2*b2)
	cMean := 0.5 * (c1 + c2)
	// u is along the bisector of the two hues.
	ux, uy := a1*c2+a2*c1, b1*c2+b2*c1
	cos, sin := float32(1), float32(0)
	var dH float32
	cc := c1 * c2
	switch norm := sqrt32(ux*ux + uy*uy); {
	case cc < 1e-6: // a grey: the other's hue counts, and no hue difference
		if s := c1 + c2; s > 1e-6 {
			cos, sin = (a1+a2)/s, (b1+b2)/s
		}
	case norm < 0.02*cc: // nearly opposite hues: norm has lost its digits
		return float32(DE2000(Lab{float64(l1), float64(rawA1), float64(b1)}, Lab{float64(l2), float64(rawA2), float64(b2)}))
	default:
		cos, sin = ux/norm, uy/norm
		// |u| = 2 c1 c2 cos(dh/2) and cross = c1 c2 sin(dh), so this is
		// 2 sqrt(c1 c2) sin(dh/2).
		dH = 2 * (a1*b2 - a2*b1) * sqrt32(cc) / norm
	}
	cos2, sin2 := cos*cos-sin*sin, 2*sin*cos
	cos3, sin3 := cos2*cos-sin2*sin, sin2*cos+cos2*sin
	cos4, sin4 := cos2*cos2-sin2*sin2, 2*sin2*cos2
	t := 1 - 0.17*(cos30*cos+sin30*sin) + 0.24*cos2 +
		0.32*(cos6*cos3-sin6*sin3) - 0.20*(cos63*cos4+sin63*sin4)

	l50 := 0.5*(l1+l2) - 50
	l50 *= l50
	dL := (l2 - l1) / (1 + 0.015*l50/sqrt32(20+l50))
	dC := (c2 - c1) / (1 + 0.045*cMean)
	dH /= 1 + 0.015*cMean*t
	sum := dL*dL + dC*dC + dH*dH
	// The rotation term lives round hue 275 degrees; beyond 100 degrees from
	// it exp(-16) makes it nothing.
	if along := cos*cos275 + sin*sin275; along > -0.17 {
		sum -= rotation(along) * 2 * chromaWeightAt(cMean) * dC * dH
	}
	if sum < 0 {
		return 0
	}
	return sqrt32(sum)
}

// Cosines and sines of the angles in the formula.
const (
	cos30, sin30   = 0.8660254037844387, 0.5
	cos6, sin6     = 0.9945218953682733, 0.10452846326765347
	cos63, sin63   = 0.45399049973954675, 0.8910065241883678
	cos275, sin275 = 0.08715574274765817, -0.9961946980917455
)

// rotationTable holds sin(60 degrees exp(-(angle/25)^2)) for the cosine of the
// angle from -0.17 to 1, in even steps of sqrt(1 - cosine), in which it is
// smooth.
const rotationSteps = 1024

var rotationTable = func() (t [rotationSteps + 2]float32) {
	for i := range t {
		s := float64(i) / rotationSteps * rotationReach
		angle := math.Acos(math.Max(-1, 1-s*s)) * 180 / math.Pi
		t[i] = float32(sinDegrees(60 * math.Exp(-(angle/25)*(angle/25))))
	}
	return t
}()

const rotationReach = 1.09 // a little over sqrt(1.17)

func rotation(cosine float32) float32 {
	x := sqrt32(max(0, 1-cosine)) * (rotationSteps / rotationReach)
	i := int(x)
	if uint(i) >= rotationSteps {
		return 0
	}
	a := rotationTable[i]
	return a + (x-float32(i))*(rotationTable[i+1]-a)
}

// DifferenceMap writes the dE00 of each pixel pair of two 8-bit RGBA buffers of
// equal length, len(de) pixels, using all processors.
func DifferenceMap(de []float32, before, after []uint8, beforeSpace, afterSpace *Fast) {
	Parallel(len(de), 4096, func(lo, hi int) {
		const chunk = 512
		var one, two [3 * chunk]float32
		for i := lo; i < hi; i += chunk {
			n := min(chunk, hi-i)
			beforeSpace.LabRow(one[:3*n], before[4*i:])
			afterSpace.LabRow(two[:3*n], after[4*i:])
			DE2000Row(de[i:i+n], one[:3*n], two[:3*n])
		}
	})
}

// Parallel splits 0 to n among the processors in runs of at least grain and
// waits for all of them. A panic in f ends the program, as everywhere.
func Parallel(n, grain int, f func(lo, hi int)) {
	// Four runs a processor even out a busy machine.
	parts := min(4*runtime.GOMAXPROCS(0), (n+grain-1)/max(1, grain))
	if parts <= 1 {
		if n > 0 {
			f(0, n)
		}
		return
	}
	var wg sync.WaitGroup
	for i := range parts {
		wg.Go(func() { f(n*i/parts, n*(i+1)/parts) })
	}
	wg.Wait()
}
