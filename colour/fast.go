package colour

import (
	"math"
	"runtime"
	"sync"
)

const (
	cubeSteps = 4032 // steps of cubeRoot from black to white
	cubeBias  = 16   // steps kept below black, for primaries a little outside
	cubeShift = 29
)

// cubeRoot holds labF times 2^cubeShift and the difference to the next step.
var cubeRoot = func() (t [4096][2]int32) {
	at := func(i int) float64 { return math.Round(labF(float64(i-cubeBias)/cubeSteps) * (1 << cubeShift)) }
	for i := range t {
		t[i] = [2]int32{int32(at(i)), int32(at(i+1) - at(i))}
	}
	return t
}()

// cubeRootAt is labF.
func cubeRootAt(t float32) float32 {
	u := t*cubeSteps + cubeBias
	if !(u >= 0 && u < float32(len(cubeRoot)-1)) {
		return float32(labF(float64(t)))
	}
	i := int32(u)
	p := &cubeRoot[i]
	return (float32(p[0]) + (u-float32(i))*float32(p[1])) * (1.0 / (1 << cubeShift))
}

// DE2000Row writes the dE00 of len(de) pairs of L, a, b triples. It agrees
// with DE2000 within 0.002 plus a thousandth of the value (tested on the pairs
// of Sharma and on random ones).
//
// It goes without angles: the hue difference comes from the cross product of
// the two chroma vectors, and the mean hue is the direction of their bisector.
// The body stands here whole because a call for each pair costs a tenth.
func DE2000Row(de, one, two []float32) {
	one, two = one[:3*len(de)], two[:3*len(de)]
	for i := range de {
		p, q := (*[3]float32)(one[3*i:]), (*[3]float32)(two[3*i:])
		l1, a1, b1 := p[0], p[1], p[2]
		l2, a2, b2 := q[0], q[1], q[2]
		r1, r2 := rootIndex(a1*a1+b1*b1), rootIndex(a2*a2+b2*b2)
		y := l1 + l2 // the mean, in halves
		j := uint32(int32(y))
		if r1 >= uint32(len(rootTable)) || r2 >= uint32(len(rootTable)) || j >= lightMax*halves {
			de[i] = exact2000(p, q) // beyond the tables
			continue
		}
		g := stretchTable[uint32(int32(rootTable[r1]+rootTable[r2]))%uint32(len(stretchTable))]
		p1, p2 := a1*g, a2*g
		c1, c2 := sqrt32(p1*p1+b1*b1), sqrt32(p2*p2+b2*b2)
		x := c1 + c2 // the mean, in halves
		m := uint32(int32(x))
		if m >= chromaMax*halves {
			de[i] = exact2000(p, q)
			continue
		}
		x -= float32(int32(m))
		rC := chromaTable[m][0] + x*(chromaTable[m+1][0]-chromaTable[m][0])
		perSC := chromaTable[m][1] + x*(chromaTable[m+1][1]-chromaTable[m][1])
		perSL := lightTable[j] + (y-float32(int32(j)))*(lightTable[j+1]-lightTable[j])

		// u is along the bisector of the two hues; its length is
		// 2 c1 c2 cos(dh/2), and the cross product of the two is c1 c2 sin(dh).
		dL := (l2 - l1) * perSL
		dC := (c2 - c1) * perSC
		cc := c1 * c2
		ux, uy := p1*c2+p2*c1, b1*c2+b2*c1
		norm2 := ux*ux + uy*uy
		if norm2 <= 4e-4*cc*cc || cc < 1e-6 {
			if cc < 1e-6 { // a grey has no hue to differ in
				de[i] = sqrt32(dL*dL + dC*dC)
				continue
			}
			// Nearly opposite hues: norm2 has lost its digits.
			de[i] = exact2000(p, q)
			continue
		}
		left := math.Float32bits(ux) >> 31
		along := hueSteps + hueSteps*uy/(abs32(ux)+abs32(uy))
		k := uint32(int32(along))
		if k > 2*hueSteps {
			k = 2 * hueSteps
		}
		table := &hueTable[left]
		along -= float32(int32(k))
		t := table[k][0] + along*(table[k+1][0]-table[k][0])
		rT := rC * (table[k][1] + along*(table[k+1][1]-table[k][1]))

		sH := 1 + (0.015/halves)*(x+float32(int32(m)))*t
		dH := (p1*b2 - p2*b1) * sqrt32(4*cc/(norm2*sH*sH)) // 2 sqrt(c1 c2) sin(dh/2) / SH
		sum := dL*dL + dC*dC + dH*dH - rT*dC*dH
		if sum < 0 {
			sum = 0
		}
		de[i] = sqrt32(sum)
	}
}

// What the formula needs of chroma and lightness is tabled in steps of a half.
// Small tables stay in the nearest cache.
const (
	halves    = 2
	chromaMax = 256
	lightMax  = 128
	hueSteps  = 128
)

// chromaTable holds sqrt(c^7/(c^7+25^7)) and 1/SC.
var chromaTable = func() (t [chromaMax*halves + 2][2]float32) {
	for i := range t {
		c := float64(i) / halves
		c7 := math.Pow(c, 7)
		t[i] = [2]float32{float32(math.Sqrt(c7 / (c7 + math.Pow(25, 7)))), float32(1 / (1 + 0.045*c))}
	}
	return t
}()

// The factor on a, 1.5 - 0.5 sqrt(c^7/(c^7+25^7)), varies so slowly with the
// mean chroma c that a rough root serves: rootTable is read by the exponent and
// the first seven bits of a square plus 1/8, and holds the root in units of
// 1/rootUnit; stretchTable is read by the sum of two roots.
const rootUnit = 8

func rootIndex(square float32) uint32 {
	const first = 124 << 7 // of 1/8
	return math.Float32bits(square+0.125)>>16 - first
}

var rootTable = func() (t [18 << 7]float32) {
	for i := range t {
		bits := uint32(i+124<<7) << 16
		square := float64(math.Float32frombits(bits|1<<15)) - 0.125
		t[i] = float32(rootUnit * math.Sqrt(math.Max(0, square)))
	}
	return t
}()

var stretchTable = func() (t [4096]float32) {
	for i := range t {
		c7 := math.Pow((float64(i)+0.5)/(2*rootUnit), 7)
		t[i] = float32(1.5 - 0.5*math.Sqrt(c7/(c7+math.Pow(25, 7))))
	}
	return t
}()

// lightTable holds 1/SL.
var lightTable = func() (t [lightMax*halves + 2]float32) {
	for i := range t {
		l50 := float64(i)/halves - 50
		l50 *= l50
		t[i] = float32(1 / (1 + 0.015*l50/math.Sqrt(20+l50)))
	}
	return t
}()

// hueTable holds T and 2 sin(60 degrees exp(-((h-275)/25)^2)) of a mean hue h,
// for hues right and left of the vertical axis. Within each half it goes in
// steps of y/(|x|+|y|) from -1 to 1, which stands in for the angle and costs
// one division.
var hueTable = func() (t [2][2*hueSteps + 2][2]float32) {
	for left := range 2 {
		for i := range t[left] {
			y := math.Min(1, float64(i)/hueSteps-1)
			x := (1 - math.Abs(y)) * float64(1-2*left)
			h := hueDegrees(x, y)
			from275 := math.Abs(h - 275)
			from275 = math.Min(from275, 360-from275)
			t[left][i] = [2]float32{
				float32(hueWeight(h)),
				float32(2 * sinDegrees(60*math.Exp(-(from275/25)*(from275/25)))),
			}
		}
	}
	return t
}()

func sqrt32(x float32) float32 { return float32(math.Sqrt(float64(x))) }

func abs32(x float32) float32 { return math.Float32frombits(math.Float32bits(x) &^ (1 << 31)) }

func exact2000(p, q *[3]float32) float32 {
	return float32(
		DE2000(Lab{float64(p[0]), float64(p[1]), float64(p[2])}, Lab{float64(q[0]), float64(q[1]), float64(q[2])}),
	)
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

// linearWhite takes linear light with sRGB primaries to X/Xn, Y/Yn and Z/Zn.
var linearWhite = func() (m [3][3]float32) {
	for i, white := range [3]float64{D50.X, D50.Y, D50.Z} {
		for c := range 3 {
			m[i][c] = float32(linearSRGB.toXYZ[i][c] / white)
		}
	}
	return m
}()

// LinearLabRow converts len(lab)/3 pixels of linear light with sRGB primaries,
// three values a pixel, to L, a, b triples, in single precision by table: within
// 0.01 of the exact path in each (tested over the whole cube).
func LinearLabRow(lab, linear []float32) {
	m := &linearWhite
	n := len(lab) / 3
	linear = linear[:3*n]
	for i := range n {
		r, g, b := linear[3*i], linear[3*i+1], linear[3*i+2]
		fx := cubeRootAt(m[0][0]*r + m[0][1]*g + m[0][2]*b)
		fy := cubeRootAt(m[1][0]*r + m[1][1]*g + m[1][2]*b)
		fz := cubeRootAt(m[2][0]*r + m[2][1]*g + m[2][2]*b)
		lab[3*i], lab[3*i+1], lab[3*i+2] = 116*fy-16, 500*(fx-fy), 200*(fy-fz)
	}
}
