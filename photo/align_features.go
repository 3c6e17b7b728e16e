package photo

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"benchleaf/colour"
)

// feature is a corner with the direction and size of its surroundings and a
// description of them.
type feature struct {
	at    Point   // in pixels of the picture
	size  float64 // pixels of the picture along one of the level it was found in
	angle float64 // radians, direction in which most gradients point
	desc  [descLen]float32
	bits  [4]uint64
}

const (
	featureSide  = 800  // longer side of the largest level searched
	featureStep  = 1.3  // from one level to the next
	featureLeast = 120  // longer side of the smallest level
	featureQuota = 420  // at most so many a level
	descCells    = 4    // along and across
	descAngles   = 8    // directions in a cell
	descSpan     = 26.0 // pixels of the level along the described square
	descLen      = descCells * descCells * descAngles
)

// findFeatures looks for corners at several sizes, spread over the picture: the
// best of each small cell, whatever is found elsewhere. p is one level of the
// picture, scale the picture's pixels along one of p's.
func findFeatures(p plane, scale float64) []feature {
	side := float64(max(p.w, p.h))
	first := math.Min(1, featureSide/side)
	var levels []plane
	for f := first; f*side >= featureLeast || len(levels) == 0; f /= featureStep {
		w, h := max(1, int(math.Round(f*float64(p.w)))), max(1, int(math.Round(f*float64(p.h))))
		if min(w, h) < 40 {
			break
		}
		from := p
		for _, l := range levels { // the smallest that is at least twice as large
			if l.w >= 2*w {
				from = l
			}
		}
		levels = append(levels, from.resample(w, h))
	}
	found := make([][]feature, len(levels))
	colour.Parallel(len(levels), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			l := levels[i]
			fs := levelFeatures(l)
			sx, sy := scale*float64(p.w)/float64(l.w), scale*float64(p.h)/float64(l.h)
			for k := range fs {
				fs[k].at = Point{(fs[k].at.X+0.5)*sx - 0.5, (fs[k].at.Y+0.5)*sy - 0.5}
				fs[k].size = math.Sqrt(sx * sy)
			}
			found[i] = fs
		}
	})
	out := slices.Concat(found...)
	setBits(out)
	return out
}

// levelFeatures finds and describes the corners of one level.
func levelFeatures(p plane) []feature {
	gx, gy := gradients(p)
	response := cornerness(gx, gy)
	const margin = 8
	type corner struct {
		x, y int
		r    float32
	}
	// About two corners to a cell fill the quota.
	cell := max(6, int(math.Sqrt(2*float64(p.w*p.h)/featureQuota)))
	cols, rows := p.w/cell+1, p.h/cell+1
	best := make([][2]corner, cols*rows)
	var all []float32
	for y := margin; y < p.h-margin; y++ {
		r := response.v[y*p.w:]
		for x := margin; x < p.w-margin; x++ {
			v := r[x]
			if v <= 0 || v < r[x-1] || v <= r[x+1] {
				continue
			}
			up, down := response.v[(y-1)*p.w+x-1:], response.v[(y+1)*p.w+x-1:]
			if v < up[0] || v < up[1] || v < up[2] || v <= down[0] || v <= down[1] || v <= down[2] {
				continue
			}
			all = append(all, v)
			b := &best[y/cell*cols+x/cell]
			switch c := (corner{x, y, v}); {
			case v > b[0].r:
				b[0], b[1] = c, b[0]
			case v > b[1].r:
				b[1] = c
			}
		}
	}
	// A corner a hundred times weaker than a good one is grain.
	least := 0.004 * quantile(all, 0.9)
	var out []feature
	for _, b := range best {
		for _, c := range b {
			if c.r <= least || c.r <= 0 {
				continue
			}
			for _, angle := range directions(gx, gy, c.x, c.y) {
				f := feature{at: peak(response, c.x, c.y), angle: angle}
				if describe(&f, gx, gy) {
					out = append(out, f)
				}
			}
		}
	}
	return out
}

// gradients are central differences; nought on the outermost pixels.
func gradients(p plane) (gx, gy plane) {
	gx, gy = newPlane(p.w, p.h), newPlane(p.w, p.h)
	for y := 1; y < p.h-1; y++ {
		up, row, down := p.v[(y-1)*p.w:][:p.w], p.v[y*p.w:][:p.w], p.v[(y+1)*p.w:][:p.w]
		dx, dy := gx.v[y*p.w:][:p.w], gy.v[y*p.w:][:p.w]
		for x := 1; x < p.w-1; x++ {
			dx[x] = 0.5 * (row[x+1] - row[x-1])
			dy[x] = 0.5 * (down[x] - up[x])
		}
	}
	return gx, gy
}

// cornerness is the smaller eigenvalue of the structure tensor over about five
// pixels (Shi and Tomasi, Good features to track, 1994).
func cornerness(gx, gy plane) plane {
	xx, yy, xy := newPlane(gx.w, gx.h), newPlane(gx.w, gx.h), newPlane(gx.w, gx.h)
	for i, a := range gx.v {
		b := gy.v[i]
		xx.v[i], yy.v[i], xy.v[i] = a*a, b*b, a*b
	}
	for range 2 {
		smoothSerial(xx)
		smoothSerial(yy)
		smoothSerial(xy)
	}
	for i, a := range xx.v {
		b, c := yy.v[i], xy.v[i]
		d := a - b
		xx.v[i] = 0.5 * (a + b - float32(math.Sqrt(float64(d*d+4*c*c))))
	}
	return xx
}

// smoothSerial blurs with 1 2 1 along and across, in place, inside a caller that
// runs in parallel already.
func smoothSerial(p plane) {
	above := make([]float32, p.w)
	copy(above, p.v)
	for y := range p.h {
		row := p.v[y*p.w : (y+1)*p.w]
		next := row
		if y+1 < p.h {
			next = p.v[(y+1)*p.w : (y+2)*p.w]
		}
		for x, here := range row {
			row[x] = 0.25*(above[x]+next[x]) + 0.5*here
			above[x] = here
		}
		smoothRow(row)
	}
}

// peak finds the top of a parabola through a local maximum.
func peak(p plane, x, y int) Point {
	at := func(dx, dy int) float64 { return float64(p.v[(y+dy)*p.w+x+dx]) }
	offset := func(before, here, after float64) float64 {
		d := before - 2*here + after
		if d >= 0 {
			return 0
		}
		return math.Max(-0.5, math.Min(0.5, 0.5*(before-after)/d))
	}
	return Point{
		float64(x) + offset(at(-1, 0), at(0, 0), at(1, 0)),
		float64(y) + offset(at(0, -1), at(0, 0), at(0, 1)),
	}
}

// directions are the one or two directions most gradients round (x, y) point in.
func directions(gx, gy plane, x, y int) []float64 {
	const bins, reach = 36, 8
	var hist [bins]float64
	for dy := -reach; dy <= reach; dy++ {
		yy := y + dy
		if yy < 0 || yy >= gx.h {
			continue
		}
		for dx := -reach; dx <= reach; dx++ {
			xx := x + dx
			d2 := dx*dx + dy*dy
			if xx < 0 || xx >= gx.w || d2 > reach*reach {
				continue
			}
			a, b := float64(gx.v[yy*gx.w+xx]), float64(gy.v[yy*gx.w+xx])
			mag := math.Sqrt(a*a+b*b) * gauss8[d2]
			if mag == 0 {
				continue
			}
			pos := turns(a, b) * bins
			i := int(pos)
			f := pos - float64(i)
			hist[i%bins] += mag * (1 - f)
			hist[(i+1)%bins] += mag * f
		}
	}
	for range 3 {
		prev, first := hist[bins-1], hist[0]
		for i := range hist {
			next := first
			if i+1 < bins {
				next = hist[i+1]
			}
			here := hist[i]
			hist[i] = 0.25*(prev+next) + 0.5*here
			prev = here
		}
	}
	top := slices.Max(hist[:])
	if top == 0 {
		return nil
	}
	var out []float64
	for i, v := range hist {
		l, r := hist[(i+bins-1)%bins], hist[(i+1)%bins]
		if v < 0.85*top || v < l || v <= r {
			continue
		}
		d := l - 2*v + r
		f := 0.0
		if d < 0 {
			f = 0.5 * (l - r) / d
		}
		out = append(out, (float64(i)+f)/bins*2*math.Pi)
	}
	slices.SortFunc(out, func(a, b float64) int {
		bin := func(v float64) float64 { return hist[(int(math.Round(v/(2*math.Pi)*bins))+bins)%bins] }
		return cmp.Compare(bin(b), bin(a))
	})
	return out[:min(2, len(out))]
}

var gauss8 = func() (t [65]float64) {
	for d2 := range t {
		t[d2] = math.Exp(-float64(d2) / (2 * 4.5 * 4.5))
	}
	return t
}()

// describe fills desc with histograms of gradient directions in 4 by 4 cells of
// a square turned to the feature's angle (Lowe, Distinctive image features from
// scale-invariant keypoints, 2004), as square roots of shares (Arandjelovic and
// Zisserman, Three things everyone should know, 2012). It reports false when
// more than a quarter of the square lies outside.
func describe(f *feature, gx, gy plane) bool {
	const samples = 16
	const spacing = descSpan / samples
	cos, sin := math.Cos(f.angle), math.Sin(f.angle)
	// Cells with a rim of one, row by row, and their directions.
	const row = (descCells + 2) * descAngles
	var hist [(descCells + 2) * row]float32
	outside := 0
	for j := range samples {
		v := (float64(j) - (samples-1)/2.0) * spacing
		rowAt, fy := descCell[j].at*row, descCell[j].part
		for i := range samples {
			u := (float64(i) - (samples-1)/2.0) * spacing
			x, y := int(f.at.X+cos*u-sin*v+0.5), int(f.at.Y+sin*u+cos*v+0.5)
			if x < 1 || y < 1 || x >= gx.w-1 || y >= gx.h-1 {
				outside++
				continue
			}
			a, b := float64(gx.v[y*gx.w+x]), float64(gy.v[y*gx.w+x])
			along, across := cos*a+sin*b, cos*b-sin*a
			mag := float32(math.Sqrt(along*along+across*across)) * descGauss[j] * descGauss[i]
			pos := turns(along, across) * descAngles
			bin := int(pos)
			fa := float32(pos - float64(bin))
			next := (bin + 1) % descAngles
			bin %= descAngles
			fx := descCell[i].part
			low, high := mag*(1-fa), mag*fa
			at := rowAt + descCell[i].at*descAngles
			up, down := hist[at:at+2*descAngles], hist[at+row:at+row+2*descAngles]
			k := (1 - fy) * (1 - fx)
			up[bin] += k * low
			up[next] += k * high
			k = (1 - fy) * fx
			up[descAngles+bin] += k * low
			up[descAngles+next] += k * high
			k = fy * (1 - fx)
			down[bin] += k * low
			down[next] += k * high
			k = fy * fx
			down[descAngles+bin] += k * low
			down[descAngles+next] += k * high
		}
	}
	if outside > samples*samples/4 {
		return false
	}
	var sum float32
	k := 0
	for y := 1; y <= descCells; y++ {
		k += copy(f.desc[k:], hist[y*row+descAngles:(y+1)*row-descAngles])
	}
	for _, v := range f.desc {
		sum += v
	}
	if sum == 0 {
		return false
	}
	for i, v := range f.desc {
		f.desc[i] = float32(math.Sqrt(float64(v / sum)))
	}
	return true
}

var descGauss = func() (t [16]float32) {
	for i := range t {
		d := (float64(i) - 7.5) / 8
		t[i] = float32(math.Exp(-d * d / 2))
	}
	return t
}()

// descCell says for each sample along a side in which cell it begins to count,
// the rim's being 0, and the part that counts for the next.
var descCell = func() (t [16]struct {
	at   int
	part float32
}) {
	for i := range t {
		at := float32(i)*(descCells/float32(len(t))) + 0.625
		t[i].at = int(at)
		t[i].part = at - float32(t[i].at)
	}
	return t
}()

// turns is the direction of (x, y) in parts of a whole turn, 0 to 1, to within
// 0.0002 (polynomial for the arc tangent of Abramowitz and Stegun 4.4.49, cut).
func turns(x, y float64) float64 {
	ax, ay := math.Abs(x), math.Abs(y)
	low, high := ax, ay
	if ay < ax {
		low, high = ay, ax
	}
	if !(high > 0) {
		return 0
	}
	const once = 1 / (2 * math.Pi)
	r := low / high
	s := r * r
	a := r * (0.9998660*once + s*(-0.3302995*once+s*(0.1801410*once+s*(-0.0851330*once+s*(0.0208351*once)))))
	if ay > ax {
		a = 0.25 - a
	}
	if x < 0 {
		a = 0.5 - a
	}
	if y < 0 {
		a = 1 - a
	}
	return a
}

// setBits gives each feature a rough description in bits: for each number of
// desc whether it is above that number's median, and above its upper quartile
// (after Zhou and others, Scalar quantization for large scale image search,
// 2012). It shortlists candidates at a few nanoseconds each.
func setBits(fs []feature) {
	colour.Parallel(descLen/32, 1, func(lo, hi int) {
		column := make([]float32, len(fs))
		for k := 32 * lo; k < 32*hi; k++ { // the numbers that share a word of bits
			for i := range fs {
				column[i] = fs[i].desc[k]
			}
			upper := quantile(column, 0.75)
			middle := quantile(column, 0.5)
			for i := range fs {
				if v := fs[i].desc[k]; v > middle {
					fs[i].bits[k>>5] |= 1 << (2 * (k & 31))
					if v > upper {
						fs[i].bits[k>>5] |= 2 << (2 * (k & 31))
					}
				}
			}
		}
	})
}

// mirrored returns the features as they would be in the picture seen from
// behind, x counted from the other side of a picture w pixels wide.
func mirrored(fs []feature, w int) []feature {
	out := make([]feature, len(fs))
	for i, f := range fs {
		m := feature{at: Point{float64(w-1) - f.at.X, f.at.Y}, size: f.size, angle: math.Pi - f.angle}
		// The square's own axes turn with the angle; seen from behind its v
		// axis is reversed, and angles with it.
		for y := range descCells {
			for x := range descCells {
				for a := range descAngles {
					to := ((descCells-1-y)*descCells+x)*descAngles + (descAngles-a)%descAngles
					m.desc[to] = f.desc[(y*descCells+x)*descAngles+a]
				}
			}
		}
		out[i] = m
	}
	setBits(out)
	return out
}

// match is a feature of one picture and its likeness in the other.
type match struct {
	before, after Point
	ratio         float64 // distance of the best over that of the next best
	cos, sin      float64 // of the turn from before to after
	zoom          float64 // ln of the ratio of sizes, after over before
}

// matchFeatures pairs features that are each other's nearest and clearly nearer
// than the next, best first.
func matchFeatures(before, after []feature) []match {
	there := nearest(before, after)
	back := nearest(after, before)
	var out []match
	for i, n := range there {
		if n.index < 0 || back[n.index].index != i {
			continue
		}
		// Either way round the match must stand out.
		ratio := math.Min(n.ratio, back[n.index].ratio)
		if ratio > 0.92 {
			continue
		}
		a, b := &before[i], &after[n.index]
		sin, cos := math.Sincos(b.angle - a.angle)
		out = append(out, match{a.at, b.at, ratio, cos, sin, math.Log(b.size / a.size)})
	}
	slices.SortStableFunc(out, func(a, b match) int { return cmp.Compare(a.ratio, b.ratio) })
	return out
}

type neighbour struct {
	index int
	ratio float64
}

// nearest finds for each of the first features the nearest of the second: a
// shortlist by bits, then by distance. The ratio is to the best one at another
// place: the same corner found at the next size is no rival.
func nearest(from, to []feature) []neighbour {
	const short = 10
	out := make([]neighbour, len(from))
	near := make([][4]uint64, len(to)) // together, since all are gone through again and again
	for j := range to {
		near[j] = to[j].bits
	}
	colour.Parallel(len(from), 32, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			f := &from[i]
			var list [short]int
			var far [short]int
			n := 0
			for j := range near {
				b := &near[j]
				d := bits.OnesCount64(f.bits[0]^b[0]) + bits.OnesCount64(f.bits[1]^b[1]) +
					bits.OnesCount64(f.bits[2]^b[2]) + bits.OnesCount64(f.bits[3]^b[3])
				if n == short && d >= far[n-1] {
					continue
				}
				k := min(n, short-1)
				for ; k > 0 && far[k-1] > d; k-- {
					far[k], list[k] = far[k-1], list[k-1]
				}
				far[k], list[k] = d, j
				n = min(short, n+1)
			}
			out[i] = closest(f, to, list[:n])
		}
	})
	return out
}

func closest(f *feature, to []feature, list []int) neighbour {
	if len(list) < 2 {
		return neighbour{-1, 1}
	}
	best, at := float32(math.Inf(1)), -1
	var dist [16]float32
	for k, j := range list {
		var sum float32
		d := &to[j].desc
		for i, v := range f.desc {
			sum += (v - d[i]) * (v - d[i])
		}
		dist[k] = sum
		if sum < best {
			best, at = sum, j
		}
	}
	next := float32(math.Inf(1))
	for k, j := range list {
		p, q := to[j].at, to[at].at
		if near := 4 * (to[j].size + to[at].size); math.Abs(p.X-q.X) < near && math.Abs(p.Y-q.Y) < near {
			continue
		}
		next = min(next, dist[k])
	}
	if math.IsInf(float64(next), 1) {
		next = max(best, 0.5) // no rival on the shortlist: as if one were moderately far
	}
	if next == 0 {
		return neighbour{at, 1}
	}
	return neighbour{at, math.Sqrt(float64(best / next))}
}
