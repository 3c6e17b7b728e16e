package photo

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"

	"benchleaf/colour"
)

// Field is a smooth displacement over a picture: a bicubic B-spline on a grid of
// squares that begins at the picture's upper left edge, (-0.5, -0.5). Beyond the
// grid it goes on with the values of its edge.
type Field struct {
	// CellPx is the side of a square in pixels.
	CellPx float64
	// Across and Down count the squares.
	Across, Down int
	// Points holds the x and y of Across+3 by Down+3 control points in pixels,
	// row by row; point (1, 1) stands over the grid's first corner.
	Points [][2]float64
}

// newField makes a field of no displacement over w by h pixels with the given
// number of squares along the longer side.
func newField(w, h, squares int) *Field {
	f := &Field{CellPx: float64(max(w, h)) / float64(squares)}
	f.Across = max(1, int(math.Ceil(float64(w)/f.CellPx-1e-9)))
	f.Down = max(1, int(math.Ceil(float64(h)/f.CellPx-1e-9)))
	f.Points = make([][2]float64, (f.Across+3)*(f.Down+3))
	return f
}

// basis gives the four cubic B-spline weights at t in a square, 0 to 1, and
// their slopes.
func basis(t float64) (b, d [4]float64) {
	s := 1 - t
	b = [4]float64{s * s * s / 6, (3*t*t*t - 6*t*t + 4) / 6, (3*s*s*s - 6*s*s + 4) / 6, t * t * t / 6}
	d = [4]float64{-s * s / 2, (3*t*t - 4*t) / 2, (4*s - 3*s*s) / 2, t * t / 2}
	return b, d
}

// locate finds the square of a place and where in it the place lies.
func (f *Field) locate(p Point) (i, j int, tx, ty float64) {
	u := math.Min(float64(f.Across), math.Max(0, (p.X+0.5)/f.CellPx))
	v := math.Min(float64(f.Down), math.Max(0, (p.Y+0.5)/f.CellPx))
	i, j = min(f.Across-1, int(u)), min(f.Down-1, int(v))
	return i, j, u - float64(i), v - float64(j)
}

// At is the displacement at p in pixels.
func (f *Field) At(p Point) Point {
	i, j, tx, ty := f.locate(p)
	bx, _ := basis(tx)
	by, _ := basis(ty)
	var v Point
	for b, wy := range by {
		row := f.Points[(j+b)*(f.Across+3)+i:][:4]
		v.X += wy * (bx[0]*row[0][0] + bx[1]*row[1][0] + bx[2]*row[2][0] + bx[3]*row[3][0])
		v.Y += wy * (bx[0]*row[0][1] + bx[1]*row[1][1] + bx[2]*row[2][1] + bx[3]*row[3][1])
	}
	return v
}

// slope is how the displacement changes with p: x by x, x by y, y by x, y by y.
func (f *Field) slope(p Point) (g [4]float64) {
	i, j, tx, ty := f.locate(p)
	bx, dx := basis(tx)
	by, dy := basis(ty)
	for b := range 4 {
		for a := range 4 {
			c := f.Points[(j+b)*(f.Across+3)+i+a]
			g[0] += dx[a] * by[b] * c[0]
			g[1] += bx[a] * dy[b] * c[0]
			g[2] += dx[a] * by[b] * c[1]
			g[3] += bx[a] * dy[b] * c[1]
		}
	}
	for k := range g {
		g[k] /= f.CellPx
	}
	return g
}

// sighting is a displacement seen at one place.
type sighting struct {
	at Point      // middle of the window, pixels of the before picture
	d  Point      // displacement there, pixels
	a  [3]float64 // what is known of it: xx, xy, yy of the inverse covariance, 1/px^2
	// likeness is the correlation of the two windows, plain slopes taken away.
	likeness float64
	// detail is the correlation of gradients where it is least.
	detail float64
	// texture and after are the standard deviations in the before and the after
	// window, slopes taken away.
	texture, after float64
	// sharper is how much steeper the before window's slopes are, squared, at
	// equal contrast; only where asked for.
	sharper float64
	// plain says that the before window has no texture in two directions.
	plain bool
	scale float64 // pixels of the picture along one of the level
}

var errFlat = errors.New("no texture to fit a field to")

// fit replaces the field by the one that best explains the sightings, with each
// one's weight, against the bending energy of a thin plate:
//
//	sum w (d - v)' A (d - v) + stiffness * integral (vxx^2 + 2 vxy^2 + vyy^2)
//
// (Wahba, Spline models for observational data, 1990, on a B-spline basis).
func (f *Field) fit(seen []sighting, weight []float64, stiffness float64) error {
	s := newBand(f)
	s.addBending(f, stiffness)
	s.addSightings(f, seen, weight)
	if !s.solve() {
		return errFlat
	}
	for i := range f.Points {
		f.Points[i] = [2]float64{s.right[2*s.place(f, i)], s.right[2*s.place(f, i)+1]}
	}
	return nil
}

// band is a symmetric system with all entries near the diagonal; the unknowns
// run along the shorter side of the field first, x and y of each together.
type band struct {
	n, half int       // unknowns, entries beside the diagonal
	a       []float64 // row i holds columns i to i+half
	right   []float64
	along   bool // the shorter side is x
}

func newBand(f *Field) *band {
	w, h := f.Across+3, f.Down+3
	s := &band{n: 2 * w * h, along: w <= h}
	s.half = 2*(3*min(w, h)+3) + 1
	s.a = make([]float64, s.n*(s.half+1))
	s.right = make([]float64, s.n)
	return s
}

// place says where control point i of the field stands.
func (s *band) place(f *Field, i int) int {
	if s.along {
		return i
	}
	w := f.Across + 3
	return i%w*(f.Down+3) + i/w
}

// add adds v at row i and column j, in either order of the two.
func (s *band) add(i, j int, v float64) {
	if i > j {
		i, j = j, i
	}
	s.a[i*(s.half+1)+j-i] += v
}

// cellSums is what the sightings in one square add to the equations of the
// sixteen control points round it.
type cellSums struct {
	left  [16][16][3]float64 // xx, xy and yy of points p and q <= p
	right [16][2]float64
}

// addSightings adds what was seen, square by square: sums that lie close
// together first, then those to the band, in the same order on any number of
// processors.
func (s *band) addSightings(f *Field, seen []sighting, weight []float64) {
	in := make([][]int32, f.Across*f.Down)
	for k := range seen {
		i, j, _, _ := f.locate(seen[k].at)
		in[j*f.Across+i] = append(in[j*f.Across+i], int32(k))
	}
	sums := make([]cellSums, len(in))
	colour.Parallel(len(in), 4, func(lo, hi int) {
		for c := lo; c < hi; c++ {
			for _, k := range in[c] {
				sums[c].add(f, &seen[k], weight[k])
			}
		}
	})
	for c := range sums {
		if len(in[c]) > 0 {
			s.addCell(f, c%f.Across, c/f.Across, &sums[c])
		}
	}
}

func (c *cellSums) add(f *Field, m *sighting, weight float64) {
	_, _, tx, ty := f.locate(m.at)
	bx, _ := basis(tx)
	by, _ := basis(ty)
	xx, xy, yy := weight*m.a[0], weight*m.a[1], weight*m.a[2]
	rx, ry := xx*m.d.X+xy*m.d.Y, xy*m.d.X+yy*m.d.Y
	var w [16]float64
	for p := range w {
		w[p] = bx[p%4] * by[p/4]
	}
	for p, wp := range w {
		c.right[p][0] += wp * rx
		c.right[p][1] += wp * ry
		x, y, z := wp*xx, wp*xy, wp*yy
		row := &c.left[p]
		for q, wq := range w[:p+1] {
			e := &row[q]
			e[0] += wq * x
			e[1] += wq * y
			e[2] += wq * z
		}
	}
}

// addCell adds the sums of the square in column i and row j.
func (s *band) addCell(f *Field, i, j int, c *cellSums) {
	var at [16]int
	for p := range at {
		at[p] = 2 * s.place(f, (j+p/4)*(f.Across+3)+i+p%4)
	}
	for p, ip := range at {
		s.right[ip] += c.right[p][0]
		s.right[ip+1] += c.right[p][1]
		for q, iq := range at[:p+1] {
			e := &c.left[p][q]
			s.add(ip, iq, e[0])
			s.add(ip+1, iq+1, e[2])
			s.add(ip+1, iq, e[1])
			if iq != ip {
				s.add(ip, iq+1, e[1])
			}
		}
	}
}

// cellProducts holds the integrals over one square of products of the four
// basis functions, of their slopes and of their second derivatives.
var cellProducts = func() (g [3][4][4]float64) {
	// Four Gauss-Legendre points are exact to degree 7; products of cubics have
	// degree 6.
	nodes := [4]float64{0.0694318442029737, 0.3300094782075719, 0.6699905217924281, 0.9305681557970263}
	weights := [4]float64{0.1739274225687269, 0.3260725774312731, 0.3260725774312731, 0.1739274225687269}
	for k, t := range nodes {
		b, d := basis(t)
		dd := [4]float64{1 - t, 3*t - 2, 1 - 3*t, t}
		for i := range 4 {
			for j := range 4 {
				g[0][i][j] += weights[k] * b[i] * b[j]
				g[1][i][j] += weights[k] * d[i] * d[j]
				g[2][i][j] += weights[k] * dd[i] * dd[j]
			}
		}
	}
	return g
}()

func (s *band) addBending(f *Field, stiffness float64) {
	k := stiffness / (f.CellPx * f.CellPx)
	g := &cellProducts
	// The energy of one square, the same for all.
	var e [16][16]float64
	for p := range 16 {
		for q := range 16 {
			px, py, qx, qy := p%4, p/4, q%4, q/4
			e[p][q] = k * (g[2][px][qx]*g[0][py][qy] + 2*g[1][px][qx]*g[1][py][qy] + g[0][px][qx]*g[2][py][qy])
		}
	}
	w := f.Across + 3
	for j := range f.Down {
		for i := range f.Across {
			for p := range 16 {
				ip := 2 * s.place(f, (j+p/4)*w+i+p%4)
				for q := range 16 {
					iq := 2 * s.place(f, (j+q/4)*w+i+q%4)
					if iq <= ip {
						s.add(ip, iq, e[p][q])
						s.add(ip+1, iq+1, e[p][q])
					}
				}
			}
		}
	}
}

// solve factors the band (Cholesky) and leaves the solution in right. A trace of
// damping holds what nothing was seen of.
func (s *band) solve() bool {
	width, mean := s.half+1, 0.0
	for i := range s.n {
		mean += s.a[i*width] / float64(s.n)
	}
	if !(mean > 0) || math.IsInf(mean, 0) {
		return false
	}
	for i := range s.n {
		s.a[i*width] += 1e-9 * mean
	}
	upper := blas64.SymmetricBand{Uplo: blas.Upper, N: s.n, K: s.half, Stride: width, Data: s.a}
	factor, ok := lapack64.Pbtrf(upper)
	if ok {
		lapack64.Pbtrs(factor, blas64.General{Rows: s.n, Cols: 1, Stride: 1, Data: s.right})
	}
	return ok
}
