package interval

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// score is the standard normal score of a value of the quantity: the inverse of at.
// A value at the best one where the range has but one side is in the middle of the
// other.
func (r Range) score(x float64) float64 {
	side := r.High
	if x < r.Best {
		side = r.Low
	}
	if side == r.Best {
		return math.Copysign(0.67, r.Best-r.High+(r.Best-r.Low))
	}
	z := 0.0
	if r.logarithmic() {
		z = math.Log(x/r.Best) / math.Log(side/r.Best)
	} else {
		z = (x - r.Best) / (side - r.Best)
	}
	return math.Copysign(z*z90, x-r.Best)
}

// at is the value at a standard normal score.
func (r Range) at(z float64) float64 {
	side := r.High
	if z < 0 {
		side = r.Low
	}
	if side == r.Best {
		return r.Best
	}
	if r.logarithmic() {
		return r.Best * math.Pow(side/r.Best, math.Abs(z)/z90)
	}
	return r.Best + math.Abs(z)/z90*(side-r.Best)
}

// slopes are the standard deviations of a range on either side of its best value, in
// the measure in which chains walk: logarithms where the quantity is positive, in
// units in which the two have a mean of 1. A model is as smooth in it as in the
// quantity; in scores it would bend at every best value. Of a range with one side the
// other, where all is the best value, is kept narrow.
func (r Range) slopes() slopes {
	below, above := r.Best-r.Low, r.High-r.Best
	if r.logarithmic() {
		below, above = math.Log(r.Best/r.Low), math.Log(r.High/r.Best)
	}
	mean := (below + above) / 2
	return slopes{max(below/mean, 0.1), max(above/mean, 0.1)}
}

type slopes struct{ below, above float64 }

// bend is by how much the quantity itself bends in the measure in which chains walk: there
// it is (exp(bend v) - 1)/bend, and straight where bend is 0. What adds up in a model (acid
// to acid) goes on in the quantity as it begins, but not in its logarithm.
func (r Range) bend() float64 {
	if !r.logarithmic() {
		return 0
	}
	return math.Log(r.High/r.Low) / 2 / z90
}

func bent(v, bend float64) float64 {
	if bend < 1e-6 {
		return v
	}
	return math.Expm1(bend*v) / bend
}

func (s slopes) at(v float64) float64 {
	if v < 0 {
		return s.below
	}
	return s.above
}

// emulator is a polynomial of the inputs for each reading.
type emulator struct {
	bend        []float64
	curved      []int // inputs with squares and products
	cubed       []int // those of them with cubes and products of three
	coefficient [][]float64
	spread      []float64 // standard deviation of what it leaves unexplained, by reading
	// observed are the readings, in the measure that was emulated; least is what is read
	// where the emulator has less.
	observed []Observed
	least    []float64
}

// fit fits an emulator to the points, those near the readings counting more.
func (w *posterior) fit() *emulator {
	d := len(w.active)
	e := &emulator{bend: w.bend}
	e.curved = w.mostDeciding(e)
	if len(w.points) >= cubicPoints {
		e.cubed = e.curved[:min(len(e.curved), cubedInputs)]
	}
	n := 1 + d + len(e.curved)*(len(e.curved)+1)/2 + len(e.cubed)*(len(e.cubed)+1)*(len(e.cubed)+2)/6
	warm := w.temperature(min(2.5*float64(n), 0.9*float64(len(w.points))))
	weight := weights(w.points, func(s state) float64 { return -s.exact / warm })
	rows := make([][]float64, 0, len(w.points))
	var use []int
	for i, s := range w.points {
		if weight[i] > 1e-6 && !math.IsInf(s.exact, 1) {
			rows, use = append(rows, e.features(nil, s.at)), append(use, i)
		}
	}
	of := make([]float64, len(use))
	for i, k := range use {
		of[i] = weight[k]
	}
	solve := normal(rows, func(i int) float64 { return of[i] }, n)
	outputs := make([]float64, len(use))
	for j, o := range w.Observed {
		for i, k := range use {
			outputs[i] = w.points[k].answers[j]
		}
		e.reading(o, w.clipped(j), outputs, of, rows, solve)
	}
	return e
}

// reading fits the emulator of one reading: of the output itself where that is good
// enough, else of a measure of it, where that is better.
func (e *emulator) reading(o Observed, clipped bool, outputs, weight []float64, rows [][]float64,
	solve func(value func(i int) float64) []float64,
) {
	c, spread := fitted(outputs, weight, rows, solve)
	least := math.Inf(-1)
	if clipped {
		least = 0
	}
	if plain := spread / o.Standard; plain > 0.3 {
		best, own := 0.8*plain, o
		m := measureOf(outputs, scores(outputs, weight), weight)
		to := make([]float64, len(outputs))
		for range 5 {
			for i, v := range outputs {
				to[i] = m.at(v)
			}
			d, off := fitted(to, weight, rows, solve)
			if in := m.observed(own); len(m.from) > 3 && in.Standard > 0 && off/in.Standard < best {
				best, c, spread, o = off/in.Standard, d, off, in
				if clipped {
					least = m.at(0)
				}
			}
			for i, row := range rows {
				to[i] = dot(d, row)
			}
			m = measureOf(outputs, to, weight)
		}
	}
	e.coefficient, e.spread, e.observed = append(e.coefficient, c), append(e.spread, spread), append(e.observed, o)
	e.least = append(e.least, least)
}

// fitted are the coefficients of a polynomial, and the standard deviation of what it
// leaves unexplained.
func fitted(values, weight []float64, rows [][]float64, solve func(value func(i int) float64) []float64,
) (c []float64, spread float64) {
	c = solve(func(i int) float64 { return values[i] })
	sum, all := 0.0, 0.0
	for i, row := range rows {
		r := values[i] - dot(c, row)
		sum += weight[i] * r * r
		all += weight[i]
	}
	// As many points as 2.5 times the coefficients leave a residual that is too small.
	return c, math.Sqrt(1.7 * sum / max(all, 1e-300))
}

// mostDeciding are the inputs that a plane through the points says decide most.
func (w *posterior) mostDeciding(e *emulator) []int {
	d := len(w.active)
	warm := w.temperature(min(4*float64(d+1), 0.9*float64(len(w.points))))
	of := weights(w.points, func(s state) float64 { return -s.exact / warm })
	var rows [][]float64
	for _, s := range w.points {
		rows = append(rows, e.features(nil, s.at)) // no curved ones yet: a plane
	}
	solve := normal(rows, func(i int) float64 { return of[i] }, d+1)
	decides := make([]float64, d)
	for j, o := range w.Observed {
		c := solve(func(i int) float64 {
			if math.IsInf(w.points[i].exact, 1) {
				return o.Value
			}
			return w.points[i].answers[j]
		})
		for k := range d {
			decides[k] += math.Abs(c[1+k]) / o.Standard
		}
	}
	order := make([]int, d)
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(decides[b], decides[a]) })
	return order[:min(d, curvedInputs)]
}

// features appends to f: 1, each input, squares and products of the curved ones,
// cubes and products of three of the cubed ones.
func (e *emulator) features(f, at []float64) []float64 {
	f = append(f, 1)
	for k, v := range at {
		f = append(f, bent(v, e.bend[k]))
	}
	for a, k := range e.curved {
		for _, l := range e.curved[:a+1] {
			f = append(f, f[1+k]*f[1+l])
		}
	}
	for a, k := range e.cubed {
		for b, l := range e.cubed[:a+1] {
			two := f[1+k] * f[1+l]
			for _, m := range e.cubed[:b+1] {
				f = append(f, two*f[1+m])
			}
		}
	}
	return f
}

// slope puts the derivative of a polynomial by the measure of each input into g, from its
// features.
func (e *emulator) slope(g, c, f []float64) {
	d := len(g)
	copy(g, c[1:1+d])
	i := 1 + d
	for a, k := range e.curved {
		for _, l := range e.curved[:a+1] {
			g[k] += c[i] * f[1+l]
			g[l] += c[i] * f[1+k]
			i++
		}
	}
	for a, k := range e.cubed {
		for b, l := range e.cubed[:a+1] {
			two, sum := f[1+k]*f[1+l], 0.0
			for _, m := range e.cubed[:b+1] {
				g[m] += c[i] * two
				sum += c[i] * f[1+m]
				i++
			}
			g[k] += sum * f[1+l]
			g[l] += sum * f[1+k]
		}
	}
	for k, bend := range e.bend {
		g[k] *= 1 + bend*f[1+k] // exp(bend v)
	}
}

// normal solves weighted least squares of the rows by the normal equations, with a
// breath of ridge so that too few points still give an answer.
func normal(rows [][]float64, weight func(i int) float64, n int) func(value func(i int) float64) []float64 {
	a := square(n)
	for i, row := range rows {
		w := weight(i)
		if w == 0 {
			continue
		}
		for k := range n {
			for l := range k + 1 {
				a[k][l] += w * row[k] * row[l]
			}
		}
	}
	trace := 0.0
	for k := range n {
		trace += a[k][k] / float64(n)
	}
	for k := range n {
		a[k][k] += 1e-8*trace + 1e-300
	}
	factor(a)
	return func(value func(i int) float64) []float64 {
		b := make([]float64, n)
		for i, row := range rows {
			w := weight(i)
			if w == 0 {
				continue
			}
			y := w * value(i)
			for k := range n {
				b[k] += y * row[k]
			}
		}
		forward(a, b)
		backward(a, b)
		return b
	}
}

func square(n int) [][]float64 {
	all := make([]float64, n*n)
	a := make([][]float64, n)
	for k := range a {
		a[k] = all[k*n : (k+1)*n]
	}
	return a
}

// factor makes the lower triangle of a positive matrix its Cholesky factor.
func factor(a [][]float64) {
	for k := range a {
		for l := range k + 1 {
			sum := a[k][l] - dot(a[k][:l], a[l][:l])
			if l < k {
				a[k][l] = sum / a[l][l]
			} else {
				a[k][k] = math.Sqrt(max(sum, 1e-300))
			}
		}
	}
}

// forward solves L x = b, backward L' x = b, in place.
func forward(l [][]float64, b []float64) {
	for k := range b {
		b[k] = (b[k] - dot(l[k][:k], b[:k])) / l[k][k]
	}
}

func backward(l [][]float64, b []float64) {
	for k := len(b) - 1; k >= 0; k-- {
		for i := k + 1; i < len(b); i++ {
			b[k] -= l[i][k] * b[i]
		}
		b[k] /= l[k][k]
	}
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// mover makes steps in the emulator's posterior; it keeps its workspace, so each
// goroutine needs its own.
type mover struct {
	e        *emulator
	prior    []slopes
	observed []Observed
	standard []float64 // of reading and emulator together

	features, slope, noise, back []float64
	here, there                  around
}

// mover lets the readings count by a share, above 0.
func (w *posterior) mover(share float64) *mover {
	d := len(w.active)
	m := &mover{
		e: w.e, prior: w.prior, observed: w.e.observed, slope: make([]float64, d), noise: make([]float64, d),
		back: make([]float64, d),
		here: newAround(d), there: newAround(d),
	}
	for j, o := range w.e.observed {
		// A little wider than the readings, so that the model seldom finds likely what
		// the emulator takes for impossible.
		m.standard = append(m.standard, math.Hypot(1.1*o.Standard, w.e.spread[j])/math.Sqrt(share))
	}
	return m
}

// misfit is half the sum of squares of the readings as emulated.
func (m *mover) misfit(at []float64) float64 {
	m.features = m.e.features(m.features[:0], at)
	f := m.features
	sum := 0.0
	for j, o := range m.observed {
		d := (max(m.e.least[j], dot(m.e.coefficient[j], f)) - o.Value) / m.standard[j]
		sum += d * d / 2
	}
	return sum
}

// around is the emulator's posterior as a normal one about a place.
type around struct {
	at     []float64   // the place
	l      [][]float64 // the factor of its inverse covariance, lower triangle
	toMode []float64   // the step to its mode
	energy float64     // of the emulator's posterior at the place
	logDet float64     // of the factor
}

func newAround(d int) around {
	return around{at: make([]float64, d), l: square(d), toMode: make([]float64, d)}
}

// about linearises the emulator at a.at.
func (m *mover) about(a *around) {
	d := len(a.at)
	m.features = m.e.features(m.features[:0], a.at)
	f, g := m.features, m.slope
	a.energy, a.logDet = 0, 0
	for k, v := range a.at {
		s := m.prior[k].at(v)
		clear(a.l[k])
		a.l[k][k] = 1 / (s * s)
		a.toMode[k] = -v / (s * s)
		a.energy += v*v/(2*s*s) + math.Log(s)
	}
	for j, o := range m.observed {
		c := m.e.coefficient[j]
		s := m.standard[j]
		is := dot(c, f)
		if least := m.e.least[j]; is < least { // and stays there with every step near by
			r := (least - o.Value) / s
			a.energy += r * r / 2
			continue
		}
		m.e.slope(g, c, f)
		r := (is - o.Value) / s
		a.energy += r * r / 2
		for k := range d {
			g[k] /= s
			a.toMode[k] -= g[k] * r
		}
		for k := range d {
			row, gk := a.l[k], g[k]
			for l := range k + 1 {
				row[l] += gk * g[l]
			}
		}
	}
	factor(a.l)
	for k := range d {
		a.logDet += math.Log(a.l[k][k])
	}
	forward(a.l, a.toMode)
	backward(a.l, a.toMode)
}

// memory is how much of its place a step keeps, each tried as often: none where the
// posterior is normal, most where it bends.
var memory = [...]float64{0, 0.5, 0.8, 0.95}

// steps are n of Metropolis and Hastings from a place: each an autoregressive proposal
// about the mode of the linearised emulator, which a linear one always accepts.
func (m *mover) steps(from []float64, n int, rng *rand.Rand) []float64 {
	copy(m.here.at, from)
	m.about(&m.here)
	for range n {
		m.step(rng)
	}
	return slices.Clone(m.here.at)
}

func (m *mover) step(rng *rand.Rand) {
	keep := memory[rng.IntN(len(memory))]
	vary := 1 - keep*keep
	here, there := &m.here, &m.there
	for k := range m.noise {
		m.noise[k] = rng.NormFloat64()
	}
	logTo := here.logDet - dot(m.noise, m.noise)/2
	backward(here.l, m.noise)
	for k := range there.at {
		there.at[k] = here.at[k] + (1-keep)*here.toMode[k] + math.Sqrt(vary)*m.noise[k]
	}
	m.about(there)
	// How likely the way back is: its deviation in units of the factor there.
	for k := range m.back {
		m.back[k] = here.at[k] - there.at[k] - (1-keep)*there.toMode[k]
	}
	logFrom := there.logDet
	for k := range m.back {
		sum := 0.0
		for i := k; i < len(m.back); i++ {
			sum += there.l[i][k] * m.back[i]
		}
		logFrom -= sum * sum / vary / 2
	}
	if math.Log(rng.Float64()) < here.energy-there.energy+logFrom-logTo {
		m.here, m.there = m.there, m.here
	}
}
