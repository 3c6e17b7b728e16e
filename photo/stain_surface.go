package photo

import "math"

// surfaceFit gathers points of a surface of three densities over the face.
type surfaceFit struct {
	x, y []float64 // 0 to 1
	v    [][3]float64
}

func (f *surfaceFit) add(x, y float64, v [3]float64) {
	f.x, f.y, f.v = append(f.x, x), append(f.y, y), append(f.v, v)
}

// surface is a polynomial in x and y for each of three densities.
type surface struct {
	order int
	coef  [3][]float64
}

// terms lists x^i y^j for i + j up to order, about the middle of the face.
func terms(order int, x, y float64) []float64 {
	x, y = 2*x-1, 2*y-1
	var out []float64
	for i := 0; i <= order; i++ {
		for j := 0; i+j <= order; j++ {
			out = append(out, math.Pow(x, float64(i))*math.Pow(y, float64(j)))
		}
	}
	return out
}

// solve fits by least squares, again and again with less weight on points that
// lie off, least on those darker than the rest: a stain must not pull the sheet
// down to it. With too few points the order falls; with none the surface is 0.
func (f *surfaceFit) solve(order int, judges ...int) surface {
	for order > 0 && len(f.x) < 2*(order+1)*(order+2)/2 {
		order--
	}
	n := (order + 1) * (order + 2) / 2
	s := surface{order: order}
	weight := make([]float64, len(f.x))
	rows := make([][]float64, len(f.x))
	for i := range rows {
		rows[i], weight[i] = terms(order, f.x[i], f.y[i]), 1
	}
	for range 12 {
		for c := range s.coef {
			s.coef[c] = leastSquares(rows, weight, n, func(i int) float64 { return f.v[i][c] })
		}
		rest, off := make([]float64, len(rows)), make([]float32, len(rows))
		for i := range rows {
			rest[i] = math.Inf(-1)
			for _, c := range judges {
				rest[i] = math.Max(rest[i], f.v[i][c]-dot(s.coef[c], rows[i]))
			}
			off[i] = float32(math.Abs(rest[i]))
		}
		if len(off) == 0 {
			break
		}
		scale := math.Max(0.01, 1.48*float64(quantile(off, 0.5)))
		for i := range rows {
			r := rest[i]
			limit := 3 * scale
			if r > 0 {
				limit = 2 * scale
			}
			weight[i] = 0
			if u := r / limit; math.Abs(u) < 1 { // Tukey's biweight
				weight[i] = (1 - u*u) * (1 - u*u)
			}
		}
	}
	return s
}

// spread is the usual distance of the points from a surface, in the channel in
// which each is farthest.
func (f *surfaceFit) spread(s surface) float32 {
	off := make([]float32, len(f.x))
	for i := range off {
		row := terms(s.order, f.x[i], f.y[i])
		for c := range s.coef {
			off[i] = max(off[i], float32(math.Abs(f.v[i][c]-dot(s.coef[c], row))))
		}
	}
	if len(off) == 0 {
		return 0
	}
	return 1.48 * quantile(off, 0.5)
}

// keepLight keeps the points that are at most the given density darker, in their
// darkest channel, than the lightest tenth.
func (f *surfaceFit) keepLight(darker float32) {
	darkest := func(v [3]float64) float32 { return float32(max(v[0], v[1], v[2])) }
	all := make([]float32, 0, len(f.v))
	for _, v := range f.v {
		all = append(all, darkest(v))
	}
	level := quantile(all, 0.1) + darker
	var kept surfaceFit
	for i, v := range f.v {
		if darkest(v) <= level {
			kept.add(f.x[i], f.y[i], v)
		}
	}
	*f = kept
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// plane evaluates density c over w by h pixels. Along a row the polynomial is
// one in x, whose coefficients are worked out once.
func (s surface) plane(c, w, h int) plane {
	p := newPlane(w, h)
	row := make([]float64, s.order+1)
	for y := range h {
		v := 2*float64(y)/float64(h) - 1
		k := 0
		for i := range row {
			row[i] = 0
			power := 1.0
			for j := 0; i+j <= s.order; j++ {
				row[i] += s.coef[c][k] * power
				power *= v
				k++
			}
		}
		for x := range w {
			u := 2*float64(x)/float64(w) - 1
			sum := 0.0
			for i := s.order; i >= 0; i-- {
				sum = sum*u + row[i]
			}
			p.v[y*w+x] = float32(sum)
		}
	}
	return p
}
