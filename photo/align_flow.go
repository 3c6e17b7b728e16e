package photo

import (
	"math"
	"slices"

	"benchleaf/colour"
)

// warp takes the before picture to the after picture: p goes to h(p + v(p)).
type warp struct {
	h Homography
	v *Field
}

// at maps p and says how the result moves with p.
func (m *warp) at(p Point) (Point, [4]float64) {
	d, g := m.v.At(p), m.v.slope(p)
	q := Point{p.X + d.X, p.Y + d.Y}
	j := m.h.jacobian(q)
	return m.h.Map(q), [4]float64{
		j[0]*(1+g[0]) + j[1]*g[2], j[0]*g[1] + j[1]*(1+g[3]),
		j[2]*(1+g[0]) + j[3]*g[2], j[2]*g[1] + j[3]*(1+g[3]),
	}
}

// Map is at without the movement.
func (m *warp) Map(p Point) Point {
	d := m.v.At(p)
	return m.h.Map(Point{p.X + d.X, p.Y + d.Y})
}

// windowSide is the side of the windows that are compared, in pixels of a level.
const windowSide = 32

// windows is one level of the before picture with windows spread over it, and
// the level of the after picture that shows the same detail.
type windows struct {
	before, after           plane
	beforeScale, afterScale float64 // pixels of the picture along one of the level
	side                    int
	corners                 [][2]int32 // upper left corners in the before level
	compareBlur             bool       // fill in how much sharper the one is
}

// spread lays windows over the level in steps of stride pixels, the last ones
// flush with the edges.
func spread(before plane, side, stride int) [][2]int32 {
	const margin = 1 // gradients need the next pixel
	run := func(n int) []int32 {
		last := n - margin - side
		if last < margin {
			return nil
		}
		k := (last-margin+stride-1)/stride + 1
		out := make([]int32, k)
		for i := range out {
			out[i] = int32(margin)
			if k > 1 {
				out[i] = int32(margin + i*(last-margin)/(k-1))
			}
		}
		return out
	}
	var out [][2]int32
	columns := run(before.w)
	for _, y := range run(before.h) {
		for _, x := range columns {
			out = append(out, [2]int32{x, y})
		}
	}
	return out
}

// middle is the middle of a window in pixels of the before picture.
func (w *windows) middle(c [2]int32) Point {
	half := float64(w.side-1) / 2
	return Point{(float64(c[0])+half+0.5)*w.beforeScale - 0.5, (float64(c[1])+half+0.5)*w.beforeScale - 0.5}
}

// sight looks at all windows through m and returns what was seen in those that
// lie within the after picture.
func (w *windows) sight(m *warp) []sighting {
	found := make([]sighting, len(w.corners))
	colour.Parallel(len(w.corners), 16, func(lo, hi int) {
		s := newSight(w.side)
		for i := lo; i < hi; i++ {
			s.look(w, m, w.corners[i], Point{}, &found[i])
		}
	})
	return slices.DeleteFunc(found, func(s sighting) bool { return s.scale == 0 })
}

// search looks first for the best shift of each window up to reach pixels of the
// level either way.
func (w *windows) search(m *warp, reach int) []sighting {
	found := make([]sighting, len(w.corners))
	colour.Parallel(len(w.corners), 8, func(lo, hi int) {
		s := newSight(w.side)
		for i := lo; i < hi; i++ {
			shift, ok := s.bestShift(w, m, w.corners[i], reach)
			if ok {
				s.look(w, m, w.corners[i], shift, &found[i])
			}
		}
	})
	return slices.DeleteFunc(found, func(s sighting) bool { return s.scale == 0 })
}

// sight is the working space for one window.
type sight struct {
	side   int
	t, w   []float32    // before and after patch, with a rim of one pixel
	wide   []float32    // after patch with a rim of the reach of a search
	summed [][2]float64 // its values and squares, added up
	offset []float32    // x of each column from the middle
	spread float64      // sum of x squared over the window
}

func newSight(side int) *sight {
	n := side + 2
	s := &sight{side: side, t: make([]float32, n*n), w: make([]float32, n*n), offset: make([]float32, side)}
	for i := range s.offset {
		s.offset[i] = float32(i) - float32(side-1)/2
		s.spread += float64(s.offset[i]) * float64(s.offset[i]) * float64(side)
	}
	return s
}

// resamplePatch fills dst, n by n, with the after level round where the window's
// middle goes, shifted by shift pixels of the before level. It reports false
// when a corner lies outside.
func (w *windows) resamplePatch(dst []float32, n int, m *warp, c [2]int32, shift Point) bool {
	mid := w.middle(c)
	to, j := m.at(mid)
	k := w.beforeScale / w.afterScale
	jxx, jxy, jyx, jyy := j[0]*k, j[1]*k, j[2]*k, j[3]*k
	half := float64(n-1) / 2
	ox, oy := shift.X-half, shift.Y-half
	x0 := (to.X+0.5)/w.afterScale - 0.5 + jxx*ox + jxy*oy
	y0 := (to.Y+0.5)/w.afterScale - 0.5 + jyx*ox + jyy*oy
	span := float64(n - 1)
	if span*(math.Abs(jxx)+math.Abs(jyx)+math.Abs(jxy)+math.Abs(jyy)) > 500 {
		return false
	}
	// Steps in single precision may end a thousandth of a pixel off.
	const slack = 0.02
	maxX, maxY := float64(w.after.w-1)-slack, float64(w.after.h-1)-slack
	for _, e := range [4][2]float64{{0, 0}, {span, 0}, {0, span}, {span, span}} {
		x, y := x0+jxx*e[0]+jxy*e[1], y0+jyx*e[0]+jyy*e[1]
		if !(x >= slack && y >= slack && x < maxX && y < maxY) {
			return false
		}
	}
	// The most that a window can reach left of or above its first pixel.
	const room = 512
	stride := w.after.w
	src := w.after.v
	dx, dy := float32(jxx), float32(jyx)
	for r := range n {
		// Whole pixels apart from parts: single precision holds the sum.
		bx, by := x0+jxy*float64(r), y0+jyy*float64(r)
		ix, iy := int(bx), int(by)
		fx, fy := float32(bx-float64(ix)), float32(by-float64(iy))
		// A start that moves left or up needs room below nought.
		base := (iy-room)*stride + ix - room
		fx, fy = fx+room, fy+room
		row := dst[r*n : (r+1)*n]
		for i := range row {
			px, py := int32(fx), int32(fy)
			tx, ty := fx-float32(px), fy-float32(py)
			at := base + int(py)*stride + int(px)
			p := src[at : at+2 : at+2]
			q := src[at+stride : at+stride+2 : at+stride+2]
			top := p[0] + tx*(p[1]-p[0])
			low := q[0] + tx*(q[1]-q[0])
			row[i] = top + ty*(low-top)
			fx += dx
			fy += dy
		}
	}
	return true
}

// template copies the before patch with its rim.
func (s *sight) template(w *windows, c [2]int32) {
	n := s.side + 2
	for r := range n {
		copy(s.t[r*n:(r+1)*n], w.before.v[(int(c[1])-1+r)*w.before.w+int(c[0])-1:])
	}
}

// look compares a window with what lies at its place in the after picture, and
// finds by one step how far it should move. Both patches lose their mean and
// even slope and are brought to the same contrast, so that light does not
// count. The step is that of efficient second-order minimisation (Malis,
// Improving vision-based control using efficient second-order minimization
// techniques, 2004): the mean of both gradients stands in the equation. The
// gradients' cross products, which hold no noise of either picture on average,
// measure the texture.
func (s *sight) look(w *windows, m *warp, c [2]int32, shift Point, out *sighting) {
	n := s.side + 2
	if !w.resamplePatch(s.w, n, m, c, shift) {
		return
	}
	s.template(w, c)
	count := float64(s.side * s.side)
	t, a, ta := s.momentsOfBoth()
	tt := t.square - t.sum*t.sum/count - (t.x*t.x+t.y*t.y)/s.spread
	aa := a.square - a.sum*a.sum/count - (a.x*a.x+a.y*a.y)/s.spread
	ta -= t.sum*a.sum/count + (t.x*a.x+t.y*a.y)/s.spread
	if !(tt > 1e-3*count && aa > 1e-3*count) {
		return // flat: not even grain
	}
	likeness := ta / math.Sqrt(tt*aa)

	// r = after - before without means and slopes, after brought to the contrast
	// of before.
	k := float32(math.Sqrt(tt / aa))
	r0 := float32(a.sum/count)*k - float32(t.sum/count)
	rx := float32(a.x/s.spread)*k - float32(t.x/s.spread)
	ry := float32(a.y/s.spread)*k - float32(t.y/s.spread)
	var bx, by float32
	var hxx, hxy, hyy, cxx, cxy, cyy float32
	for y := range s.side {
		// Each pixel's neighbours to the left, right, up and down.
		tl, al := s.t[(y+1)*n:][:s.side], s.w[(y+1)*n:][:s.side]
		tr, ar := s.t[(y+1)*n+2:][:len(tl)], s.w[(y+1)*n+2:][:len(tl)]
		tu, au := s.t[y*n+1:][:len(tl)], s.w[y*n+1:][:len(tl)]
		td, ad := s.t[(y+2)*n+1:][:len(tl)], s.w[(y+2)*n+1:][:len(tl)]
		offset := s.offset[:len(tl)]
		base := r0 + ry*s.offset[y]
		t0, a0 := s.t[(y+1)*n+1], s.w[(y+1)*n+1]
		var lbx, lby, lhxx, lhxy, lhyy, lcxx, lcxy, lcyy float32
		for x, t1 := range tl {
			t2, a2 := tr[x], ar[x]
			r := k*a0 - t0 - base - rx*offset[x]
			tx, ty := t2-t1, td[x]-tu[x]
			ax, ay := k*(a2-al[x]), k*(ad[x]-au[x])
			t0, a0 = t2, a2
			lcxx += tx * ax
			lcyy += ty * ay
			lcxy += tx*ay + ty*ax
			gx, gy := tx+ax, ty+ay // four times the mean gradient
			lbx += gx * r
			lby += gy * r
			lhxx += gx * gx
			lhxy += gx * gy
			lhyy += gy * gy
		}
		bx, by = bx+lbx, by+lby
		hxx, hxy, hyy = hxx+lhxx, hxy+lhxy, hyy+lhyy
		cxx, cxy, cyy = cxx+lcxx, cxy+lcxy, cyy+lcyy
	}
	tgx, tgy := s.rim(s.t)
	agx, agy := s.rim(s.w)
	agx, agy = k*agx, k*agy
	mx, my := tgx+agx, tgy+agy
	// The means go, as those of the patches went; then all is brought to unit
	// variance.
	N, one := float32(count), float32(count/tt)
	hxx, hxy, hyy = (hxx-mx*mx/N)*one/16, (hxy-mx*my/N)*one/16, (hyy-my*my/N)*one/16
	cxx, cyy = (cxx-tgx*agx/N)*one/4, (cyy-tgy*agy/N)*one/4
	cxy = (cxy - (tgx*agy+tgy*agx)/N) * one / 8
	cross := [3]float64{float64(cxx), float64(cxy), float64(cyy)}
	squares := [3]float64{float64(hxx), float64(hxy), float64(hyy)}
	out.detail, out.plain = detail(cross, squares)
	// The variance of r follows from the likeness.
	out.settle(float64(bx*one)/4, float64(by*one)/4, cross, squares, 2-2*likeness, shift)
	mid := w.middle(c)
	v := m.v.At(mid)
	out.scale = w.beforeScale
	out.at = mid
	out.d = Point{v.X + out.scale*out.d.X, v.Y + out.scale*out.d.Y}
	for i := range out.a {
		out.a[i] /= out.scale * out.scale
	}
	out.likeness = likeness
	out.texture, out.after = math.Sqrt(tt/count), math.Sqrt(aa/count)
	if w.compareBlur {
		out.sharper = s.slopes(s.t) / tt / (s.slopes(s.w) / aa)
	}
}

// settle turns the sums of a window into a step and what is known of it, in
// pixels of the level: step = -C^-1 b, covariance C^-1 (s2 H) C^-1, with C the
// cross products and H the squares of the gradients, s2 the variance of what is
// left between the patches.
func (out *sighting) settle(bx, by float64, c, h [3]float64, s2 float64, shift Point) {
	// Cross products of unlike patches can be anything: keep what is positive.
	c = clampTensor(c)
	trace := c[0] + c[2]
	out.d = shift
	if trace <= 0 {
		return
	}
	// A direction without texture gets no step.
	eps := 0.003 * trace
	xx, xy, yy := c[0]+eps, c[1], c[2]+eps
	det := xx*yy - xy*xy
	dx, dy := -(yy*bx-xy*by)/det, -(xx*by-xy*bx)/det
	// Noise is alike in neighbouring pixels, so that they tell less than they
	// count: a factor of three is usual for a camera's JPEG.
	const alike = 3
	hxx, hxy, hyy := h[0]+1e-9, h[1], h[2]+1e-9
	hd := (hxx*hyy - hxy*hxy) * alike * math.Max(s2, 0.01)
	// A = C (alike s2 H)^-1 C
	ixx, ixy, iyy := hyy/hd, -hxy/hd, hxx/hd
	pxx, pxy := ixx*c[0]+ixy*c[1], ixx*c[1]+ixy*c[2]
	pyx, pyy := ixy*c[0]+iyy*c[1], ixy*c[1]+iyy*c[2]
	a := [3]float64{c[0]*pxx + c[1]*pyx, c[0]*pxy + c[1]*pyy, c[1]*pxy + c[2]*pyy}
	// Nothing is known better than to a few hundredths of a pixel:
	// (A^-1 + f I)^-1 = A (I + f A)^-1.
	const f = 0.03 * 0.03
	qxx, qxy, qyy := 1+f*a[0], f*a[1], 1+f*a[2]
	qd := qxx*qyy - qxy*qxy
	out.a = [3]float64{
		(a[0]*qyy - a[1]*qxy) / qd,
		(a[1]*qxx - a[0]*qxy) / qd,
		(a[2]*qxx - a[1]*qxy) / qd,
	}
	// A step beyond a pixel and a half has left the slope it was judged by.
	if l := math.Hypot(dx, dy); l > 1.5 {
		dx, dy = dx*1.5/l, dy*1.5/l
		for i := range out.a {
			out.a[i] *= 0.1
		}
	}
	out.d = Point{shift.X + dx, shift.Y + dy}
}

// detail is the correlation of the gradients of two patches in the direction in
// which they agree least, from their cross products c and the squares h of their
// mean. Lines of type of two different pages agree across the lines and not
// along them. plain says that the patches have texture in one direction at most.
func detail(c, h [3]float64) (least float64, plain bool) {
	// The mean of the squares of either patch's gradients.
	mxx, mxy, myy := 2*h[0]-c[0], 2*h[1]-c[1], 2*h[2]-c[2]
	trace := mxx + myy
	if mxx <= 0 || myy <= 0 || 0.5*(trace-math.Sqrt((mxx-myy)*(mxx-myy)+4*mxy*mxy)) < 0.08*trace {
		return 0, true
	}
	// The smaller root of det(C - x M) = 0.
	a := mxx*myy - mxy*mxy
	b := c[0]*myy + c[2]*mxx - 2*c[1]*mxy
	d := c[0]*c[2] - c[1]*c[1]
	return (b - math.Sqrt(math.Max(0, b*b-4*a*d))) / (2 * a), false
}

// clampTensor drops negative eigenvalues.
func clampTensor(c [3]float64) [3]float64 {
	half, diff := (c[0]+c[2])/2, (c[0]-c[2])/2
	root := math.Sqrt(diff*diff + c[1]*c[1])
	big, small := half+root, half-root
	if small >= 0 {
		return c
	}
	if big <= 0 {
		return [3]float64{}
	}
	// big times the projector on its eigenvector.
	k := big / (2 * root)
	return [3]float64{k * (root + diff), k * c[1], k * (root - diff)}
}

// sums of a patch without its rim: values, values times x and y from the middle,
// squares.
type sums struct{ sum, x, y, square float64 }

func (s *sight) moments(p []float32) (m sums) {
	n := s.side + 2
	for y := range s.side {
		row := p[(y+1)*n+1:][:s.side]
		var sum, sx, sq float32
		for x, o := range s.offset {
			v := row[x]
			sum += v
			sx += o * v
			sq += v * v
		}
		m.sum += float64(sum)
		m.x += float64(sx)
		m.y += float64(s.offset[y]) * float64(sum)
		m.square += float64(sq)
	}
	return m
}

// slopes is the sum of squares of the steps from pixel to pixel along and across.
func (s *sight) slopes(p []float32) float64 {
	n := s.side + 2
	total := 0.0
	for y := range s.side {
		row, next := p[(y+1)*n+1:][:s.side+1], p[(y+2)*n+1:][:s.side]
		var sum float32
		for x, d := range next {
			right, down := row[x+1]-row[x], d-row[x]
			sum += right*right + down*down
		}
		total += float64(sum)
	}
	return total
}

// momentsOfBoth are those of both patches and the sum of their products.
func (s *sight) momentsOfBoth() (t, a sums, product float64) {
	n := s.side + 2
	for y := range s.side {
		p, q := s.t[(y+1)*n+1:][:s.side], s.w[(y+1)*n+1:][:s.side]
		q = q[:len(p)]
		var tsum, tx, tsq, asum, ax, asq, both float32
		for x, o := range s.offset[:len(p)] {
			v, w := p[x], q[x]
			tsum += v
			tx += o * v
			tsq += v * v
			asum += w
			ax += o * w
			asq += w * w
			both += v * w
		}
		o := float64(s.offset[y])
		t = sums{t.sum + float64(tsum), t.x + float64(tx), t.y + o*float64(tsum), t.square + float64(tsq)}
		a = sums{a.sum + float64(asum), a.x + float64(ax), a.y + o*float64(asum), a.square + float64(asq)}
		product += float64(both)
	}
	return t, a, product
}

// rim is the sum over a patch of the differences of next neighbours but one,
// along and across, of which only the two outermost rows and columns are left.
func (s *sight) rim(p []float32) (x, y float32) {
	n := s.side + 2
	for r := 1; r <= s.side; r++ {
		row := p[r*n:][:n]
		x += row[n-1] + row[n-2] - row[1] - row[0]
	}
	first, second, last, end := p[1:][:s.side], p[n+1:][:s.side], p[(n-2)*n+1:][:s.side], p[(n-1)*n+1:][:s.side]
	for i, v := range end {
		y += v + last[i] - second[i] - first[i]
	}
	return x, y
}

// sumUp adds up the values of the wide patch, n by n, and their squares from its
// upper left corner on (the summed-area table of Crow, 1984).
func (s *sight) sumUp(n int) {
	if len(s.summed) != (n+1)*(n+1) {
		s.summed = make([][2]float64, (n+1)*(n+1))
	}
	for y := range n {
		var sum, sq float64
		above, dst := s.summed[y*(n+1)+1:][:n], s.summed[(y+1)*(n+1)+1:][:n]
		for x, v := range s.wide[y*n:][:n] {
			sum += float64(v)
			sq += float64(v) * float64(v)
			dst[x] = [2]float64{above[x][0] + sum, above[x][1] + sq}
		}
	}
}

// sumsAt are the sums over the window whose upper left pixel is (x, y) of the
// wide patch.
func (s *sight) sumsAt(n, x, y int) (sum, square float64) {
	a, b := s.summed[y*(n+1)+x:][:s.side+1], s.summed[(y+s.side)*(n+1)+x:][:s.side+1]
	return b[s.side][0] - b[0][0] - a[s.side][0] + a[0][0], b[s.side][1] - b[0][1] - a[s.side][1] + a[0][1]
}

// bestShift finds the whole-pixel shift up to reach at which the window is most
// like the after picture. It reports false when the window goes outside, or has
// nothing to tell one shift from another.
func (s *sight) bestShift(w *windows, m *warp, c [2]int32, reach int) (Point, bool) {
	n := s.side + 2*reach
	if len(s.wide) != n*n {
		s.wide = make([]float32, n*n)
	}
	if !w.resamplePatch(s.wide, n, m, c, Point{}) {
		return Point{}, false
	}
	s.template(w, c)
	t := s.moments(s.t)
	count := float64(s.side * s.side)
	tt := t.square - t.sum*t.sum/count
	if !(tt > 0.5*count) {
		return Point{}, false
	}
	// Without its mean the template gives covariances directly.
	tn := s.side + 2
	mean := float32(t.sum / count)
	for i := range s.t {
		s.t[i] -= mean
	}
	s.sumUp(n)
	best, at := 0.0, Point{}
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			sum, sq := s.sumsAt(n, dx+reach, dy+reach)
			var cross float64
			for y := range s.side {
				row := s.wide[(y+dy+reach)*n+dx+reach:][:s.side]
				tr := s.t[(y+1)*tn+1:][:len(row)]
				var even, odd float32
				for len(row) >= 2 && len(tr) >= 2 {
					even += row[0] * tr[0]
					odd += row[1] * tr[1]
					row, tr = row[2:], tr[2:]
				}
				cross += float64(even + odd)
			}
			va := sq - sum*sum/count
			if !(va > 0.5*count) {
				continue
			}
			// Far shifts must be clearly better: rows of type look alike.
			l := cross/math.Sqrt(tt*va) - 0.02*math.Hypot(float64(dx), float64(dy))/float64(reach)
			if l > best {
				best, at = l, Point{float64(dx), float64(dy)}
			}
		}
	}
	return at, best > 0.2
}
