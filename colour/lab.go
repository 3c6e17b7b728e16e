package colour

import "math"

// XYZ holds CIE 1931 2 degree tristimulus values, Y = 1 for the reference
// white (D50 unless a function says otherwise).
type XYZ struct{ X, Y, Z float64 }

// Lab holds CIELAB coordinates under D50: L 0 to 100, A green to red, B blue
// to yellow.
type Lab struct{ L, A, B float64 }

// D50 is the white of the ICC profile connection space. ICC.1:2010 rounds it
// to 0.9642, 1.0, 0.8249; the fifth digit is from memory.
var D50 = XYZ{0.96422, 1, 0.82521}

// D65 is the white of sRGB, 2 degree observer (IEC 61966-2-1:1999, ASTM E308;
// from memory).
var D65 = XYZ{0.95047, 1, 1.08883}

// CIE 15 and ISO 11664-4: below labEdge the cube root is replaced by its
// tangent.
const (
	labDelta = 6.0 / 29
	labEdge  = labDelta * labDelta * labDelta
	labSlope = 1 / (3 * labDelta * labDelta)
)

func labF(t float64) float64 {
	if t > labEdge {
		return math.Cbrt(t)
	}
	return t*labSlope + 4.0/29
}

func labFInverse(f float64) float64 {
	if f > labDelta {
		return f * f * f
	}
	return (f - 4.0/29) / labSlope
}

// Lab returns CIELAB under D50 (CIE 15, ISO 11664-4). Any finite XYZ is
// accepted; values below zero follow the tangent.
func (c XYZ) Lab() Lab { return c.LabUnder(D50) }

// LabUnder returns CIELAB under another white, for values already relative to
// that white.
func (c XYZ) LabUnder(white XYZ) Lab {
	fx, fy, fz := labF(c.X/white.X), labF(c.Y/white.Y), labF(c.Z/white.Z)
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

// XYZ is the inverse of XYZ.Lab.
func (c Lab) XYZ() XYZ {
	fy := (c.L + 16) / 116
	fx, fz := fy+c.A/500, fy-c.B/200
	return XYZ{D50.X * labFInverse(fx), D50.Y * labFInverse(fy), D50.Z * labFInverse(fz)}
}

// Chroma returns C*ab, the distance from the grey axis.
func (c Lab) Chroma() float64 { return math.Hypot(c.A, c.B) }

// Matrix is a 3 by 3 matrix in rows.
type Matrix [3][3]float64

// Apply returns m v.
func (m Matrix) Apply(v [3]float64) [3]float64 {
	var r [3]float64
	for i := range r {
		r[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return r
}

// Times returns m n.
func (m Matrix) Times(n Matrix) Matrix {
	var r Matrix
	for i := range r {
		for j := range r[i] {
			r[i][j] = m[i][0]*n[0][j] + m[i][1]*n[1][j] + m[i][2]*n[2][j]
		}
	}
	return r
}

// Inverse returns the inverse by cofactors, and false when the determinant is
// too small to divide by.
func (m Matrix) Inverse() (Matrix, bool) {
	c := func(i, j, k, l int) float64 { return m[i][j]*m[k][l] - m[i][l]*m[k][j] }
	det := m[0][0]*c(1, 1, 2, 2) - m[0][1]*c(1, 0, 2, 2) + m[0][2]*c(1, 0, 2, 1)
	if math.Abs(det) < 1e-12 || math.IsNaN(det) {
		return Matrix{}, false
	}
	return Matrix{
		{c(1, 1, 2, 2) / det, -c(0, 1, 2, 2) / det, c(0, 1, 1, 2) / det},
		{-c(1, 0, 2, 2) / det, c(0, 0, 2, 2) / det, -c(0, 0, 1, 2) / det},
		{c(1, 0, 2, 1) / det, -c(0, 0, 2, 1) / det, c(0, 0, 1, 1) / det},
	}, true
}

// bradford is the cone response matrix of Lam (1985), as used by the ICC for
// chromatic adaptation (from memory).
var bradford = Matrix{
	{0.8951, 0.2664, -0.1614},
	{-0.7502, 1.7135, 0.0367},
	{0.0389, -0.0685, 1.0296},
}

// Bradford returns the linear Bradford adaptation that takes colours seen
// under one white to corresponding colours under another. Whites must have
// positive cone responses, which every daylight and lamp has.
func Bradford(from, to XYZ) Matrix {
	inv, _ := bradford.Inverse()
	a := bradford.Apply([3]float64{from.X, from.Y, from.Z})
	b := bradford.Apply([3]float64{to.X, to.Y, to.Z})
	scale := Matrix{{b[0] / a[0], 0, 0}, {0, b[1] / a[1], 0}, {0, 0, b[2] / a[2]}}
	return inv.Times(scale).Times(bradford)
}

// Adapt applies Bradford adaptation to one colour.
func (c XYZ) Adapt(from, to XYZ) XYZ {
	v := Bradford(from, to).Apply([3]float64{c.X, c.Y, c.Z})
	return XYZ{v[0], v[1], v[2]}
}
