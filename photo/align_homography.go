package photo

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"benchleaf/colour"
)

// Homography takes a place (x, y) in one picture to
// ((h0 x + h1 y + h2) / w, (h3 x + h4 y + h5) / w) in another, with
// w = h6 x + h7 y + h8, pixels both. It is scaled so that h8 = 1 wherever h8 is
// not near nought.
type Homography [9]float64

// Map takes p to the other picture. Where w is nought the result is infinite.
func (h *Homography) Map(p Point) Point {
	w := 1 / (h[6]*p.X + h[7]*p.Y + h[8])
	return Point{(h[0]*p.X + h[1]*p.Y + h[2]) * w, (h[3]*p.X + h[4]*p.Y + h[5]) * w}
}

// jacobian is how the mapped place moves with p: x by x, x by y, y by x, y by y.
func (h *Homography) jacobian(p Point) [4]float64 {
	w := 1 / (h[6]*p.X + h[7]*p.Y + h[8])
	x, y := (h[0]*p.X+h[1]*p.Y+h[2])*w, (h[3]*p.X+h[4]*p.Y+h[5])*w
	return [4]float64{(h[0] - x*h[6]) * w, (h[1] - x*h[7]) * w, (h[3] - y*h[6]) * w, (h[4] - y*h[7]) * w}
}

// times returns the homography that does o first and then h.
func (h *Homography) times(o *Homography) Homography {
	var r Homography
	for i := range 3 {
		for j := range 3 {
			r[3*i+j] = h[3*i]*o[j] + h[3*i+1]*o[3+j] + h[3*i+2]*o[6+j]
		}
	}
	return r
}

// Inverse takes places in the other picture back. It reports false when h
// flattens the plane.
func (h *Homography) Inverse() (Homography, bool) {
	r := Homography{
		h[4]*h[8] - h[5]*h[7], h[2]*h[7] - h[1]*h[8], h[1]*h[5] - h[2]*h[4],
		h[5]*h[6] - h[3]*h[8], h[0]*h[8] - h[2]*h[6], h[2]*h[3] - h[0]*h[5],
		h[3]*h[7] - h[4]*h[6], h[1]*h[6] - h[0]*h[7], h[0]*h[4] - h[1]*h[3],
	}
	det := h[0]*r[0] + h[1]*r[3] + h[2]*r[6]
	if det == 0 || math.IsNaN(det) || math.IsInf(det, 0) {
		return Homography{}, false
	}
	for i := range r {
		r[i] /= det
	}
	r.normalise()
	return r, true
}

func (h *Homography) normalise() {
	largest := 0.0
	for _, v := range h {
		largest = math.Max(largest, math.Abs(v))
	}
	d := h[8]
	if math.Abs(d) < 1e-12*largest {
		d = largest
	}
	if d == 0 {
		return
	}
	for i := range h {
		h[i] /= d
	}
}

// sane tells whether h shows a face of w by h pixels as a camera could: not
// mirrored, not folded, seen at no more than a slant that shortens a side six
// times over.
func (h *Homography) sane(width, height int) bool {
	w, t := float64(width-1), float64(height-1)
	var q [4]Point
	for i, p := range [4]Point{{0, 0}, {w, 0}, {w, t}, {0, t}} {
		if h[6]*p.X+h[7]*p.Y+h[8] <= 1e-9 {
			return false
		}
		q[i] = h.Map(p)
		if math.IsNaN(q[i].X+q[i].Y) || math.IsInf(q[i].X+q[i].Y, 0) {
			return false
		}
	}
	least, most := math.Inf(1), 0.0
	for i := range q {
		area := cross(q[i], q[(i+1)%4], q[(i+2)%4])
		if area <= 0 {
			return false
		}
		least, most = math.Min(least, area), math.Max(most, area)
	}
	if most > 36*least {
		return false
	}
	// A square in the middle must not become a needle.
	j := h.jacobian(Point{w / 2, t / 2})
	det := j[0]*j[3] - j[1]*j[2]
	norm := j[0]*j[0] + j[1]*j[1] + j[2]*j[2] + j[3]*j[3]
	return det > 0 && norm < 2*4*det && det > 1.0/400 && det < 400
}

// fitHomography finds the homography that takes from to to with the least
// weighted squares (normalised direct linear transform: Hartley, In defense of
// the eight-point algorithm, 1997; solved three times, each time weighted so that
// the algebraic error comes near to the distance). A nil weight is one
// everywhere. It reports false for fewer than four places or places on a line.
func fitHomography(from, to []Point, weight []float64) (Homography, bool) {
	if len(from) < 4 {
		return Homography{}, false
	}
	a, na := centred(from, weight)
	b, nb := centred(to, weight)
	// With h8 = 1 in centred coordinates; a camera that puts the middle of the
	// face at infinity is not met.
	var h Homography
	w := make([]float64, len(a))
	for i := range w {
		w[i] = 1
		if weight != nil {
			w[i] = weight[i]
		}
	}
	for range 3 {
		var m [8 * 8]float64
		var s [8]float64
		for i := range a {
			x, y, u, v := a[i].X, a[i].Y, b[i].X, b[i].Y
			k := w[i]
			if h[8] != 0 {
				d := h[6]*x + h[7]*y + 1
				k /= math.Max(1e-3, d*d)
			}
			r1 := [9]float64{x, y, 1, 0, 0, 0, -u * x, -u * y, u}
			r2 := [9]float64{0, 0, 0, x, y, 1, -v * x, -v * y, v}
			for p := range 8 {
				for q := range 8 {
					m[8*p+q] += k * (r1[p]*r1[q] + r2[p]*r2[q])
				}
				s[p] += k * (r1[p]*r1[8] + r2[p]*r2[8])
			}
		}
		if !solveLinear(m[:], s[:], 1e-11) {
			return Homography{}, false
		}
		h = Homography{s[0], s[1], s[2], s[3], s[4], s[5], s[6], s[7], 1}
	}
	back, ok := nb.Inverse()
	if !ok {
		return Homography{}, false
	}
	h = h.times(&na)
	h = back.times(&h)
	h.normalise()
	for _, v := range h {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Homography{}, false
		}
	}
	return h, true
}

// centred moves the weighted middle to nought and the mean distance from it to
// about one, and says how.
func centred(ps []Point, weight []float64) ([]Point, Homography) {
	var sx, sy, sw float64
	for i, p := range ps {
		w := 1.0
		if weight != nil {
			w = weight[i]
		}
		sx, sy, sw = sx+w*p.X, sy+w*p.Y, sw+w
	}
	mx, my := sx/sw, sy/sw
	var d float64
	for i, p := range ps {
		w := 1.0
		if weight != nil {
			w = weight[i]
		}
		d += w * math.Hypot(p.X-mx, p.Y-my)
	}
	k := sw / math.Max(1e-12*sw, d)
	out := make([]Point, len(ps))
	for i, p := range ps {
		out[i] = Point{(p.X - mx) * k, (p.Y - my) * k}
	}
	return out, Homography{k, 0, -k * mx, 0, k, -k * my, 0, 0, 1}
}

// pose is a homography with the matches that agree with it.
type pose struct {
	h       Homography
	inliers []match
	score   float64
}

// posesFrom finds the homographies that most matches agree with, best first, at
// most three of them. Pairs of matches whose own turn and size agree propose a
// similarity (good matches are tried first: Chum and Matas, PROSAC, 2005); what
// agrees with it proposes a homography, in narrowing circles (Chum, Matas and
// Kittler, Locally optimized RANSAC, 2003). reach is the tolerance in pixels of
// the after picture; width and height are the before picture's size. The same
// matches give the same answer.
func posesFrom(matches []match, width, height int, reach float64) []pose {
	if len(matches) < 4 {
		return nil
	}
	rng := rand.New(rand.NewPCG(1, uint64(len(matches))))
	type proposal struct {
		h     Homography
		score float64
	}
	const rounds = 3000
	var pairs [rounds][2]int
	for round := range pairs {
		// The pool grows from the best few to all in the first three quarters.
		pool := min(len(matches), 8+len(matches)*round*4/(rounds*3))
		pairs[round] = [2]int{rng.IntN(pool), rng.IntN(pool)}
	}
	proposals := make([]proposal, rounds)
	colour.Parallel(rounds, 100, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			i, j := pairs[k][0], pairs[k][1]
			if i == j {
				continue
			}
			if h, ok := similarity(&matches[i], &matches[j], reach); ok {
				proposals[k] = proposal{h, support(&h, matches, 4*reach)}
			}
		}
	})
	const most = 12
	var best []proposal
	for _, p := range proposals {
		if p.score == 0 || len(best) == most && p.score <= best[most-1].score {
			continue
		}
		at, _ := slices.BinarySearchFunc(
			best, p.score, func(p proposal, s float64) int { return cmp.Compare(s, p.score) },
		)
		best = slices.Insert(best[:min(most-1, len(best))], at, p)
	}
	var wide [most]pose
	var ok [most]bool
	colour.Parallel(len(best), 1, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			wide[k], ok[k] = widen(best[k].h, matches, width, height, reach)
		}
	})
	var out []pose
	for k, p := range wide {
		if !ok[k] {
			continue
		}
		known := slices.ContainsFunc(out, func(o pose) bool {
			m, c := Point{float64(width) / 2, float64(height) / 2}, Point{float64(width) / 4, float64(height) / 4}
			return distance(o.h.Map(m), p.h.Map(m)) < 4*reach && distance(o.h.Map(c), p.h.Map(c)) < 4*reach
		})
		if !known {
			out = append(out, p)
		}
	}
	slices.SortStableFunc(out, func(a, b pose) int {
		if a.score > b.score {
			return -1
		}
		return 1
	})
	return out[:min(3, len(out))]
}

func distance(a, b Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// similarity is the turn, zoom and shift given by two matches, if it agrees with
// the turn and zoom that each shows by itself.
func similarity(m, n *match, reach float64) (Homography, bool) {
	dx, dy := n.before.X-m.before.X, n.before.Y-m.before.Y
	ex, ey := n.after.X-m.after.X, n.after.Y-m.after.Y
	d2, e2 := dx*dx+dy*dy, ex*ex+ey*ey
	if d2 < 9*reach*reach || e2 < 9*reach*reach {
		return Homography{}, false
	}
	a, b := (dx*ex+dy*ey)/d2, (dx*ey-dy*ex)/d2
	zoom := 0.5 * math.Log(e2/d2)
	if !agrees(m, a, b, zoom) || !agrees(n, a, b, zoom) {
		return Homography{}, false
	}
	return Homography{
		a, -b, m.after.X - a*m.before.X + b*m.before.Y,
		b, a, m.after.Y - b*m.before.X - a*m.before.Y,
		0, 0, 1,
	}, true
}

// agrees tells whether a match's own turn and zoom are near those given, the
// turn as any vector along its cosine and sine. The levels on which features
// are found are a factor 1.3 apart.
func agrees(m *match, cos, sin, zoom float64) bool {
	const cosLimit = 0.825 // 34 degrees
	along := m.cos*cos + m.sin*sin
	return math.Abs(m.zoom-zoom) < 0.55 && along > 0 && along*along > cosLimit*cosLimit*(cos*cos+sin*sin)
}

// support sums over the matches how well they agree with a similarity, each from
// 0 to 1.
func support(h *Homography, matches []match, reach float64) float64 {
	zoom := 0.5 * math.Log(h[0]*h[4]-h[1]*h[3])
	k := 1 / (reach * reach)
	sum := 0.0
	for i := range matches {
		m := &matches[i]
		dx := h[0]*m.before.X + h[1]*m.before.Y + h[2] - m.after.X
		dy := h[3]*m.before.X + h[4]*m.before.Y + h[5] - m.after.Y
		if u := (dx*dx + dy*dy) * k; u < 1 && agrees(m, h[0], h[3], zoom) {
			sum += 1 - u
		}
	}
	return sum
}

// widen fits a homography to what agrees with h, again and again in narrowing
// circles.
func widen(h Homography, matches []match, width, height int, reach float64) (pose, bool) {
	var from, to []Point
	var weight []float64
	for _, circle := range []float64{5, 4, 3, 2.2, 1.6, 1.2, 1, 1, 1} {
		r := circle * reach
		from, to, weight = from[:0], to[:0], weight[:0]
		for i := range matches {
			m := &matches[i]
			j := h.jacobian(m.before)
			if !agrees(m, j[0]+j[3], j[2]-j[1], 0.5*math.Log(math.Max(1e-9, j[0]*j[3]-j[1]*j[2]))) {
				continue
			}
			if d := distance(h.Map(m.before), m.after); d < r {
				from, to = append(from, m.before), append(to, m.after)
				weight = append(weight, (1-d/r)*(1+d/r)+0.05)
			}
		}
		var next Homography
		ok := false
		if len(from) >= 8 && circle < 4 {
			next, ok = fitHomography(from, to, weight)
			ok = ok && next.sane(width, height)
		}
		if !ok && len(from) >= 4 {
			next, ok = fitAffine(from, to, weight)
		}
		if !ok {
			return pose{}, false
		}
		h = next
	}
	p := pose{h: h}
	for i := range matches {
		m := &matches[i]
		if d := distance(h.Map(m.before), m.after); d < reach {
			p.inliers = append(p.inliers, *m)
			p.score += 1 - (d/reach)*(d/reach)
		}
	}
	return p, h.sane(width, height) && len(p.inliers) >= 4
}

// fitAffine finds the affine map with the least weighted squares.
func fitAffine(from, to []Point, weight []float64) (Homography, bool) {
	a, na := centred(from, weight)
	var m [3][3]float64
	var rx, ry [3]float64
	for i, p := range a {
		row := [3]float64{p.X, p.Y, 1}
		for j := range 3 {
			for k := range 3 {
				m[j][k] += weight[i] * row[j] * row[k]
			}
			rx[j] += weight[i] * row[j] * to[i].X
			ry[j] += weight[i] * row[j] * to[i].Y
		}
	}
	h := Homography{m[0][0], m[0][1], m[0][2], m[1][0], m[1][1], m[1][2], m[2][0], m[2][1], m[2][2]}
	det := h[0]*(h[4]*h[8]-h[5]*h[7]) - h[1]*(h[3]*h[8]-h[5]*h[6]) + h[2]*(h[3]*h[7]-h[4]*h[6])
	if !(det > 1e-9*h[8]*h[8]*h[8]) { // on a line
		return Homography{}, false
	}
	solve := func(r [3]float64) (s [3]float64) {
		col := func(c int) float64 {
			g := m
			for i := range 3 {
				g[i][c] = r[i]
			}
			return g[0][0]*(g[1][1]*g[2][2]-g[1][2]*g[2][1]) -
				g[0][1]*(g[1][0]*g[2][2]-g[1][2]*g[2][0]) +
				g[0][2]*(g[1][0]*g[2][1]-g[1][1]*g[2][0])
		}
		for c := range 3 {
			s[c] = col(c) / det
		}
		return s
	}
	x, y := solve(rx), solve(ry)
	r := Homography{x[0], x[1], x[2], y[0], y[1], y[2], 0, 0, 1}
	if x[0]*y[1]-x[1]*y[0] <= 0 {
		return Homography{}, false
	}
	r = r.times(&na)
	return r, true
}
