package colour

import "math"

// DE76 returns the 1976 colour difference, the distance in CIELAB (CIE 15).
func DE76(a, b Lab) float64 {
	return math.Sqrt((a.L-b.L)*(a.L-b.L) + (a.A-b.A)*(a.A-b.A) + (a.B-b.B)*(a.B-b.B))
}

// DE2000 returns the CIEDE2000 colour difference with kL = kC = kH = 1
// (ISO/CIE 11664-6:2014), after the implementation notes of Sharma, Wu and
// Dalal, Color Research and Application 30(1), 2005. It is symmetric, zero for
// equal colours, and made for differences below about 5; larger ones rank but
// do not scale.
func DE2000(one, two Lab) float64 {
	const pow25to7 = 6103515625.0 // 25^7
	cMean7 := math.Pow((one.Chroma()+two.Chroma())/2, 7)
	g := 0.5 * (1 - math.Sqrt(cMean7/(cMean7+pow25to7)))
	a1, a2 := (1+g)*one.A, (1+g)*two.A
	c1, c2 := math.Hypot(a1, one.B), math.Hypot(a2, two.B)
	h1, h2 := hueDegrees(a1, one.B), hueDegrees(a2, two.B)

	dL, dC := two.L-one.L, c2-c1
	dh := 0.0
	if c1*c2 != 0 {
		dh = h2 - h1
		if dh > 180 {
			dh -= 360
		} else if dh < -180 {
			dh += 360
		}
	}
	dH := 2 * math.Sqrt(c1*c2) * sinDegrees(dh/2)

	lMean, cMean := (one.L+two.L)/2, (c1+c2)/2
	hMean := h1 + h2 // the rule when either colour is grey
	if c1*c2 != 0 {
		hMean = (h1 + h2) / 2
		if math.Abs(h1-h2) > 180 {
			if h1+h2 < 360 {
				hMean += 180
			} else {
				hMean -= 180
			}
		}
	}
	dTheta := 30 * math.Exp(-((hMean-275)/25)*((hMean-275)/25))
	cm7 := math.Pow(cMean, 7)
	rC := 2 * math.Sqrt(cm7/(cm7+pow25to7))
	l50 := (lMean - 50) * (lMean - 50)
	sL := 1 + 0.015*l50/math.Sqrt(20+l50)
	sC := 1 + 0.045*cMean
	sH := 1 + 0.015*cMean*hueWeight(hMean)
	rT := -sinDegrees(2*dTheta) * rC
	x, y, z := dL/sL, dC/sC, dH/sH
	return math.Sqrt(math.Max(0, x*x+y*y+z*z+rT*y*z))
}

// hueWeight is T of the formula.
func hueWeight(h float64) float64 {
	return 1 - 0.17*cosDegrees(h-30) + 0.24*cosDegrees(2*h) +
		0.32*cosDegrees(3*h+6) - 0.20*cosDegrees(4*h-63)
}

func hueDegrees(a, b float64) float64 {
	if a == 0 && b == 0 {
		return 0
	}
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

func sinDegrees(d float64) float64 { return math.Sin(d * math.Pi / 180) }
func cosDegrees(d float64) float64 { return math.Cos(d * math.Pi / 180) }

// Yellowness is the ASTM E313 yellowness index: 0 for the perfect white, about
// 20 to 40 for toned newsprint, negative for bluish whites.
type Yellowness float64

// E313Condition is an illuminant and observer of ASTM E313-15 table 1 with its
// two coefficients.
type E313Condition struct {
	Name   string
	cx, cz float64
	White  XYZ
}

// The conditions of ASTM E313-15 table 1 (coefficients and whites from
// memory; each coefficient pair gives zero for its own white, which a test
// checks).
var (
	E313D65Deg10 = E313Condition{"D65, 10 degrees", 1.3013, 1.1498, XYZ{0.94811, 1, 1.07304}}
	E313D65Deg2  = E313Condition{"D65, 2 degrees", 1.2985, 1.1335, D65}
	E313CDeg2    = E313Condition{"C, 2 degrees", 1.2769, 1.0592, XYZ{0.98074, 1, 1.18232}}
)

// YellownessE313 returns YI = 100 (Cx X - Cz Z) / Y for XYZ measured under the
// condition. It is 0 where Y is not positive.
func YellownessE313(c XYZ, under E313Condition) Yellowness {
	if c.Y <= 0 {
		return 0
	}
	return Yellowness(100 * (under.cx*c.X - under.cz*c.Z) / c.Y)
}

// Yellowness returns the E313 index of a colour known under D50, adapted to
// D65 (2 degrees) by Bradford. A photograph's yellowness is an estimate: the
// adaptation stands in for a measurement under D65.
func (c Lab) Yellowness() Yellowness {
	return YellownessE313(c.XYZ().Adapt(D50, D65), E313D65Deg2)
}
