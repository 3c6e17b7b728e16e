package photo

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync"
)

// Verdict says whether two photographs show the same face.
type Verdict string

// The verdicts. Aligned: the print of the one lies on the print of the other
// over most of the common area. Doubtful: a place was found, but too little
// agrees, or too little is there, to vouch for it. Different: the pictures do
// not show the same face, or one of them shows nothing.
const (
	Aligned   Verdict = "aligned"
	Doubtful  Verdict = "doubtful"
	Different Verdict = "different"
)

// Difference says in what way two pictures are different.
type Difference string

// The ways. Two copies of one printed page count as one face: print alone
// cannot tell them apart.
const (
	NoDifference Difference = ""
	MirrorImage  Difference = "mirror image"
	OtherFace    Difference = "another face"
	BlankBefore  Difference = "nothing in the before picture"
	BlankAfter   Difference = "nothing in the after picture"
)

// AlignOptions are the choices of Align; the zero value is good.
type AlignOptions struct {
	// MMPerPx is the scale of the before picture in mm per pixel, or 0 when it
	// is not known.
	MMPerPx float64
	// Sheet gives the corners of the sheet in the before picture when they are
	// known better than FindSheet would find them; nil finds them.
	Sheet *Quad
	// Progress, if set, is told from time to time which share of the work is
	// done, 0 to 1, and what is being done. It must return soon.
	Progress func(share float64, doing string)
}

// Alignment says where each place of the before picture lies in the after
// picture.
type Alignment struct {
	Verdict    Verdict
	Difference Difference
	// Say is one sentence for a person.
	Say string
	// Notes are further sentences: little overlap, a sheet that changed its shape.
	Notes []string
	// Homography is the flat part of the way from before to after pixels, the
	// one that fits best over most of the sheet; all noughts when Verdict is Different.
	Homography Homography
	// Field is what cockling and shrinking add: place p of the before picture
	// lies at Homography(p + Field(p)) in the after picture. Pixels of the
	// before picture; nil when Verdict is Different.
	Field *Field
	// ResidualMedianPx and ResidualP95Px tell how far textured windows, each by
	// itself, would rather lie from where the smooth whole puts them, in pixels
	// of the before picture: an upper bound of the error where there is
	// texture. ResidualMedianMM is the same in mm, 0 when the scale is unknown.
	ResidualMedianPx, ResidualP95Px float64
	ResidualMedianMM                float64
	// BendP95Px is the displacement beyond the homography that 95 % of the sheet
	// stay below, in pixels of the before picture.
	BendP95Px float64
	// Overlap is the share of the before sheet that the after picture shows.
	Overlap float64
	// TurnDegrees is how far the after picture is turned, clockwise as seen,
	// -180 to 180.
	TurnDegrees float64
	// Zoom is pixels of the after picture along one of the before picture in
	// the middle of the sheet.
	Zoom float64
	// Sheet is where the sheet lies in the before picture.
	Sheet Sheet
	// AgreeingShare is the share of windows textured in both pictures that look
	// alike after alignment, TexturedWindows their number. The verdict rests on
	// these.
	AgreeingShare   float64
	TexturedWindows int

	warp warp
}

// Map takes a place of the before picture to the after picture, in pixels; NaN
// when Verdict is Different.
func (a *Alignment) Map(x, y float64) (x2, y2 float64) {
	if a.Field == nil {
		return math.NaN(), math.NaN()
	}
	p := a.warp.Map(Point{x, y})
	return p.X, p.Y
}

// aligner is one run of Align.
type aligner struct {
	ctx           context.Context
	opt           AlignOptions
	before, after *Image
	pb, pa        *pyramid
	out           *Alignment
	trusted       bool // the sheet's outline was seen
	disputed      *disputes
}

// step reports progress and tells whether the work was called off.
func (a *aligner) step(share float64, doing string) error {
	if a.opt.Progress != nil {
		a.opt.Progress(share, doing)
	}
	return a.ctx.Err()
}

// topSide is the least longer side of the coarsest level that is compared.
const topSide = 300

// Align finds where the after picture shows each place of the before picture:
// the same face of a sheet, photographed by hand in other light, turned by any
// angle, half to twice as large, slanted, stained or cleaned and cockled in
// between. Every picture gets an answer; the error is that of a context that
// ended, or of a picture without pixels. The same pictures give the same answer.
//
// Features spread over the sheet propose a homography (align_features.go,
// align_homography.go); windows on coarse to fine levels correct it and bend it
// (align_flow.go, align_spline.go); how many of them look alike in the end decides
// (align_verdict.go).
func Align(ctx context.Context, before, after *Image, opt AlignOptions) (*Alignment, error) {
	a := &aligner{ctx: ctx, opt: opt, before: before, after: after, out: &Alignment{Verdict: Different}}
	for _, m := range []*Image{before, after} {
		if m == nil || m.W <= 0 || m.H <= 0 || len(m.Pix) < 4*m.W*m.H {
			return nil, errors.New("a picture to be aligned has no pixels")
		}
	}
	if err := a.step(0, "finding the sheet"); err != nil {
		return nil, err
	}
	a.prepare()
	if err := a.run(); err != nil {
		return nil, err
	}
	return a.out, nil
}

// prepare makes the pyramids and finds the sheet.
func (a *aligner) prepare() {
	var wg sync.WaitGroup
	wg.Go(func() { a.pb = newPyramid(a.before, topSide) })
	wg.Go(func() { a.pa = newPyramid(a.after, topSide) })
	if a.opt.Sheet == nil {
		wg.Go(func() { a.out.Sheet = FindSheet(a.before) })
	}
	wg.Wait()
	if a.opt.Sheet != nil {
		a.out.Sheet = Sheet{Corners: *a.opt.Sheet, Seen: [4]bool{true, true, true, true}, Fill: 1}
		a.trusted = true
		return
	}
	seen := 0
	for _, s := range a.out.Sheet.Seen {
		if s {
			seen++
		}
	}
	area := a.out.Sheet.Corners.area() / float64(a.before.W*a.before.H)
	a.trusted = seen >= 2 && a.out.Sheet.Fill > 0.85 && area > 0.15 && area < 0.97
}

func (q Quad) area() float64 {
	sum := 0.0
	for i, p := range q {
		n := q[(i+1)%4]
		sum += p.X*n.Y - n.X*p.Y
	}
	return math.Abs(sum) / 2
}

// shrunk draws the corners towards the middle by the share k of the way.
func (q Quad) shrunk(k float64) Quad {
	var m Point
	for _, p := range q {
		m.X, m.Y = m.X+p.X/4, m.Y+p.Y/4
	}
	for i, p := range q {
		q[i] = Point{p.X + k*(m.X-p.X), p.Y + k*(m.Y-p.Y)}
	}
	return q
}

// levelNear is the smallest level of p whose longer side is at least side.
func (p *pyramid) levelNear(side int) int {
	l := 0
	for l+1 < len(p.levels) && max(p.levels[l+1].w, p.levels[l+1].h) >= side {
		l++
	}
	return l
}

// features are those of both pictures.
func (a *aligner) features() (before, after []feature) {
	of := func(p *pyramid) []feature {
		l := p.levelNear(featureSide)
		return findFeatures(p.levels[l], p.scale(l))
	}
	var wg sync.WaitGroup
	wg.Go(func() { before = of(a.pb) })
	wg.Go(func() { after = of(a.pa) })
	wg.Wait()
	return before, after
}

func (a *aligner) run() error {
	if err := a.step(0.15, "looking for features"); err != nil {
		return err
	}
	fb, fa := a.features()
	if err := a.step(0.3, "matching features"); err != nil {
		return err
	}
	best, err := a.bestPose(matchFeatures(fb, fa))
	if err != nil {
		return err
	}
	if best == nil || best.face.verdict() != Aligned {
		mirror, err := a.isMirrored(fb, fa)
		if err != nil {
			return err
		}
		if mirror {
			a.out.Difference = MirrorImage
			a.out.Say = "The after picture is a mirror image of the before picture: one of the two was flipped, or " +
				"shows the print through from the other side."
			return nil
		}
	}
	if best == nil {
		a.sayDifferent()
		return nil
	}
	if err := a.refine(best); err != nil {
		return err
	}
	a.judge()
	return nil
}

// candidate is a pose made finer on the coarse levels, and judged.
type candidate struct {
	warp warp
	// face counts the windows on the sheet, or in the middle of the picture when
	// the sheet was not seen; all counts those round it too.
	face, all evidence
	seen      []sighting // what was compared for that
}

// evidence counts windows.
type evidence struct {
	// Texture in two directions: before or after, before and after, alike.
	either, both, alike int
	// Texture of any kind, lines too: before or after, alike.
	any, anyAlike int
}

// The shares of windows that must agree. Where a stain went or came, only one
// of the pictures has texture; that speaks neither way, unless it is the rule.
const (
	alignedShare  = 0.85
	doubtfulShare = 0.25
	// leastWindows is the number of windows below which a share proves nothing.
	leastWindows = 12
	// nearlyAll is the share asked where no ground was seen, or where fewer than
	// manyWindows show print: the covers of a series share their title and little
	// else.
	nearlyAll   = 0.93
	manyWindows = 250
	// ampleWindows is the number that speaks for itself, whatever lies round it.
	ampleWindows = 100
)

// share is the share that agrees, drawn towards nought when there are few.
func (e evidence) share() float64 {
	return float64(e.alike) / float64(max(e.both, leastWindows, e.either/3))
}

// strict is the share of all textured windows that agrees; what went or came
// counts against it.
func (e evidence) strict() float64 { return float64(e.anyAlike) / float64(max(e.any, leastWindows)) }

func (e evidence) verdict() Verdict {
	switch s := e.share(); {
	case s >= alignedShare:
		return Aligned
	case s >= doubtfulShare:
		return Doubtful
	}
	return Different
}

// bestPose tries the poses that features propose: those of the sheet alone
// first, since what lies beside it need not have moved with it; then those of
// all, since what was taken for the sheet may be only part of it.
func (a *aligner) bestPose(matches []match) (*candidate, error) {
	if !a.trusted {
		return a.bestOf(matches)
	}
	on := a.out.Sheet.Corners.shrunk(-0.02)
	sheet, err := a.bestOf(
		slices.DeleteFunc(slices.Clone(matches), func(m match) bool { return !on.contains(m.before) }),
	)
	if err != nil {
		return nil, err
	}
	if sheet != nil && sheet.face.share() >= alignedShare {
		share := on.area() / float64(a.before.W*a.before.H)
		if sheet.all.strict() >= 0.8 || share > 0.4 && sheet.face.both > ampleWindows {
			return sheet, nil
		}
	}
	a.trusted = false
	whole, err := a.bestOf(matches)
	a.trusted = true
	if err != nil || whole == nil {
		return sheet, err
	}
	whole.face, _ = a.agreement(whole.seen)
	if sheet == nil || whole.face.share() > sheet.face.share()-0.1 && whole.all.strict() > sheet.all.strict() {
		return whole, nil
	}
	return sheet, nil
}

// bestOf tries the poses that matches propose. Where the first do not do, the
// matches that agree with the best of them are put aside, since a ground full of
// things that stayed may outnumber the sheet, and the rest is asked.
func (a *aligner) bestOf(matches []match) (*candidate, error) {
	reach := 0.008 * float64(max(a.after.W, a.after.H))
	const crowd = 30 // fewer that agree need not have moved together
	var best *candidate
	for range 3 {
		poses := posesFrom(matches, a.before.W, a.before.H, reach)
		for _, p := range poses {
			if err := a.step(0.4, "comparing coarse detail"); err != nil {
				return nil, err
			}
			if best != nil && best.face.share() > doubtfulShare && len(p.inliers) < crowd {
				break
			}
			c := a.try(p.h)
			if best == nil || c.face.share() > best.face.share() {
				best = c
			}
			if best.face.share() > alignedShare {
				return best, nil
			}
		}
		if len(poses) == 0 || len(poses[0].inliers) < crowd {
			break
		}
		h := &poses[0].h
		matches = slices.DeleteFunc(
			slices.Clone(matches), func(m match) bool { return distance(h.Map(m.before), m.after) < 2*reach },
		)
	}
	return best, nil
}

// stiffness is that of a field over w by h pixels. It stands for what is expected
// of paper before looking: waves about a quarter of the sheet long and an
// eight-hundredth high, at all places independently.
func stiffness(w, h int) float64 {
	side := float64(max(w, h))
	wave, height := side/4, side/800
	return 8 * wave * wave / (height * height * math.Pow(2*math.Pi, 4))
}

// windowsAt prepares a level of the before picture and the level of the after
// picture that shows as much detail under h. It reports false when the after
// picture has no such detail.
func (a *aligner) windowsAt(level int, zoom float64, side, stride int) (*windows, bool) {
	scale := a.pb.scale(level)
	match := math.Log2(scale * zoom / float64(a.pa.step))
	if match < -0.75 {
		return nil, false
	}
	l := min(len(a.pa.levels)-1, max(0, int(math.Round(match))))
	w := &windows{
		before: a.pb.levels[level], after: a.pa.levels[l],
		beforeScale: scale, afterScale: a.pa.scale(l), side: side,
	}
	w.corners = spread(w.before, side, stride)
	return w, len(w.corners) > 0
}

// zoomAt is the size of h's picture of the middle of the sheet.
func (a *aligner) zoomAt(h *Homography) float64 {
	j := h.jacobian(a.middle())
	return math.Sqrt(math.Max(1e-6, j[0]*j[3]-j[1]*j[2]))
}

func (a *aligner) middle() Point {
	var m Point
	for _, p := range a.out.Sheet.Corners {
		m.X, m.Y = m.X+p.X/4, m.Y+p.Y/4
	}
	return m
}

// try corrects a pose on the coarsest levels and counts what agrees.
func (a *aligner) try(h Homography) *candidate {
	c := &candidate{warp: warp{h, newField(a.before.W, a.before.H, 6)}}
	top := len(a.pb.levels) - 1
	last := 0.0
	for range 4 {
		reach := 4
		for level := top; level >= max(0, top-1); level-- {
			w, ok := a.windowsAt(level, a.zoomAt(&h), 24, 12)
			if !ok {
				break
			}
			a.bend(&c.warp, w.search(&c.warp, reach), 8)
			reach = 2
		}
		c.seen = a.compared(&c.warp)
		c.face, c.all = a.agreement(c.seen)
		share := c.all.share()
		if share > 0.97 || share < 0.1 || share < last+0.02 {
			break
		}
		last = share // what fits in part may fit further out now
	}
	return c
}

// agreement counts the windows that look alike: on the face, and all of them.
func (a *aligner) agreement(seen []sighting) (face, all evidence) {
	all = gather(seen)
	if a.trusted {
		inside := a.out.Sheet.Corners.shrunk(0.03)
		on := gather(slices.DeleteFunc(slices.Clone(seen), func(s sighting) bool { return !inside.contains(s.at) }))
		if on.both >= leastWindows {
			return on, all
		}
	}
	// What lies round a sheet may have stayed while the sheet was turned over, or
	// may have moved when the sheet did not.
	in := middleOf(seen)
	inside := slices.DeleteFunc(slices.Clone(seen), func(s sighting) bool { return !in.contains(s.at) })
	if middle := gather(inside); middle.both >= 2*leastWindows {
		return middle, all
	}
	return all, all
}

// middleOf is the middle of the places of seen, two thirds as wide and high.
func middleOf(seen []sighting) Quad {
	lo, hi := Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for i := range seen {
		p := seen[i].at
		lo = Point{math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)}
		hi = Point{math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)}
	}
	return Quad{lo, {hi.X, lo.Y}, hi, {lo.X, hi.Y}}.shrunk(1.0 / 3)
}

// compared looks at the windows of the level of about a thousand pixels, where
// print is clear and grain is not. Where one picture is blurred more than the
// other, the other is blurred as much first, on the next level if need be: blur
// changes no face.
func (a *aligner) compared(m *warp) []sighting {
	zoom := a.zoomAt(&m.h)
	for level := a.pb.levelNear(800); level < len(a.pb.levels); level++ {
		w, ok := a.windowsAt(level, zoom, windowSide, 24)
		if !ok {
			continue
		}
		w.compareBlur = true
		own := [2]bool{} // planes that are ours to blur
		for range 4 {
			seen := w.sight(m)
			r := sharper(seen)
			if r < 1.4 && r > 1/1.4 || math.IsNaN(r) {
				return seen
			}
			p, k := &w.before, 0
			if r < 1 {
				p, k = &w.after, 1
			}
			if !own[k] {
				*p, own[k] = plane{p.w, p.h, slices.Clone(p.v)}, true
			}
			for range 2 {
				p.smooth()
			}
		}
		if level+1 == len(a.pb.levels) {
			return w.sight(m)
		}
	}
	return nil
}

// sharper is how much more of the contrast of print lies in fine detail before
// than after: the middle one of the windows' ratios of mean squared slopes, of
// windows in which both have print; NaN when there are none.
func sharper(seen []sighting) float64 {
	b, a := leastTextures(seen)
	var ratios []float32
	for i := range seen {
		if s := &seen[i]; s.texture >= b && s.after >= a && s.likeness > 0.3 {
			ratios = append(ratios, float32(s.sharper))
		}
	}
	if len(ratios) < leastWindows {
		return math.NaN()
	}
	return float64(quantile(ratios, 0.5))
}

func leastTextures(seen []sighting) (b, a float64) {
	before, after := make([]float32, len(seen)), make([]float32, len(seen))
	for i, s := range seen {
		before[i], after[i] = float32(s.texture), float32(s.after)
	}
	return leastTexture(before), leastTexture(after)
}

// gather counts windows by texture and likeness.
func gather(seen []sighting) (e evidence) {
	b, a := leastTextures(seen)
	for _, s := range seen {
		if s.texture < b && s.after < a {
			continue
		}
		e.any++
		if s.likeness > 0.6 {
			e.anyAlike++
		}
		if s.plain {
			continue
		}
		e.either++
		if s.texture < b || s.after < a {
			continue
		}
		e.both++
		if s.detail > 0.5 {
			e.alike++
		}
	}
	return e
}

// leastTexture is the standard deviation from which a window counts as textured:
// above the grain of the flattest windows, and not too far below the print of
// the strongest.
func leastTexture(t []float32) float64 {
	if len(t) == 0 {
		return 0
	}
	strong, weak := float64(quantile(t, 0.9)), float64(quantile(t, 0.1))
	return max(2.5, 0.15*strong, min(1.7*weak, 0.5*strong))
}

// disputes marks where print of one picture lies on other print of the other:
// ground that did not move with the sheet, a part that was folded over or lost.
// What finer levels see there is worth little.
type disputes struct {
	cell         float64 // pixels of the before picture
	across, down int
	sum          []int16 // windows near that agree less those that do not
}

func (a *aligner) newDisputes(seen []sighting) *disputes {
	if len(seen) == 0 {
		return nil
	}
	d := &disputes{cell: 24 * seen[0].scale}
	d.across, d.down = int(float64(a.before.W)/d.cell)+1, int(float64(a.before.H)/d.cell)+1
	d.sum = make([]int16, d.across*d.down)
	tb, ta := leastTextures(seen)
	for i := range seen {
		s := &seen[i]
		if s.texture < tb || s.after < ta {
			continue
		}
		vote := int16(-1)
		if s.detail > 0.5 || s.plain && s.likeness > 0.6 {
			vote = 1
		}
		x, y := int(s.at.X/d.cell), int(s.at.Y/d.cell)
		for v := max(0, y-1); v <= min(d.down-1, y+1); v++ {
			for u := max(0, x-1); u <= min(d.across-1, x+1); u++ {
				d.sum[v*d.across+u] += vote
			}
		}
	}
	return d
}

func (d *disputes) at(p Point) bool {
	if d == nil {
		return false
	}
	x, y := min(d.across-1, max(0, int(p.X/d.cell))), min(d.down-1, max(0, int(p.Y/d.cell)))
	return d.sum[y*d.across+x] < 0
}

// bend fits the field of m to sightings, with less and less weight on those that
// lie off, and returns the weights.
func (a *aligner) bend(m *warp, seen []sighting, squares int) []float64 {
	f := newField(a.before.W, a.before.H, squares)
	weight := make([]float64, len(seen))
	base := make([]float64, len(seen))
	on := a.out.Sheet.Corners.shrunk(-0.01)
	for i := range seen {
		base[i] = 1
		if a.trusted && !on.contains(seen[i].at) || a.disputed.at(seen[i].at) {
			base[i] = 0.05
		}
		weight[i] = base[i]
	}
	k := stiffness(a.before.W, a.before.H)
	for round := range 4 {
		if f.fit(seen, weight, k) != nil {
			break
		}
		reweigh(f, seen, base, weight, round == 0)
	}
	m.v = f
	return weight
}

// reweigh sets weights by how far sightings lie off, in units of their own
// uncertainty brought to the spread that is met (Cauchy's weight).
func reweigh(f *Field, seen []sighting, base, weight []float64, first bool) {
	off := make([]float32, len(seen))
	var usual []float32
	for i := range seen {
		s := &seen[i]
		v := f.At(s.at)
		dx, dy := s.d.X-v.X, s.d.Y-v.Y
		off[i] = float32(dx*dx*s.a[0] + 2*dx*dy*s.a[1] + dy*dy*s.a[2])
		if base[i] == 1 && s.likeness > 0.3 {
			usual = append(usual, off[i])
		}
	}
	// The median of chi-square with two degrees of freedom is 1.386.
	spread := math.Max(0.05, float64(quantile(usual, 0.5))/1.386)
	if len(usual) == 0 {
		spread = 1
	}
	for i := range weight {
		weight[i] = base[i] / (1 + float64(off[i])/(spread*6))
		if !first {
			weight[i] /= spread
		}
	}
}

// refine goes through the levels from coarse to fine. What the coarser levels
// saw stays in the sum: it counts where finer ones see nothing but grain.
func (a *aligner) refine(c *candidate) error {
	if c.all.strict() >= alignedShare {
		a.trusted = false // what lies round the sheet, if anything does, agrees too
	}
	m := c.warp
	a.disputed = a.newDisputes(c.seen)
	zoom := a.zoomAt(&m.h)
	top := len(a.pb.levels) - 1
	var kept, seen []sighting
	for level := max(0, top-1); level >= 0; level-- {
		if err := a.step(0.5+0.4*float64(top-level)/float64(top+1), "comparing finer detail"); err != nil {
			return err
		}
		stride := min(windowSide, max(12, int(math.Sqrt(float64(a.pb.levels[level].w*a.pb.levels[level].h)/4000))))
		w, ok := a.windowsAt(level, zoom, windowSide, stride)
		if !ok {
			break
		}
		seen = w.sight(&m)
		squares := 12
		if level == 0 {
			a.flatten(&m, kept, seen)
			squares = 22
		}
		a.bend(&m, slices.Concat(seen, kept), squares)
		kept = append(kept, seen...)
	}
	a.out.warp, a.out.Homography, a.out.Field = m, m.h, m.v
	a.measure(seen)
	return nil
}

// flatten gives m the homography that fits best over the sheet, and lets the
// sightings say what is left to the field. The places they point to stay.
func (a *aligner) flatten(m *warp, seen ...[]sighting) {
	const n = 16
	var from, to []Point
	for j := range n {
		for i := range n {
			p := a.out.Sheet.Corners.inside((float64(i)+0.5)/n, (float64(j)+0.5)/n)
			if q := m.Map(p); q.X >= 0 && q.Y >= 0 && q.X < float64(a.after.W) && q.Y < float64(a.after.H) {
				from, to = append(from, p), append(to, q)
			}
		}
	}
	h, ok := fitHomography(from, to, nil)
	weight := make([]float64, len(from))
	off := make([]float32, len(from))
	for range 4 { // a corner that is folded up bends the rest no more than it must
		if !ok {
			return
		}
		for i, p := range from {
			off[i] = float32(distance(h.Map(p), to[i]))
		}
		usual := max(0.1, 2*float64(quantile(slices.Clone(off), 0.5)))
		for i, d := range off {
			weight[i] = 1 / (1 + float64(d)*float64(d)/(usual*usual))
		}
		h, ok = fitHomography(from, to, weight)
	}
	if !ok || !h.sane(a.before.W, a.before.H) {
		return
	}
	back, ok := h.Inverse()
	if !ok {
		return
	}
	for _, list := range seen {
		for k := range list {
			s := &list[k]
			q := back.Map(m.h.Map(Point{s.at.X + s.d.X, s.at.Y + s.d.Y}))
			s.d = Point{q.X - s.at.X, q.Y - s.at.Y}
		}
	}
	m.h = h
}

// inside is the place at shares u and v along the sides of q.
func (q Quad) inside(u, v float64) Point {
	return Point{
		(1-v)*((1-u)*q[0].X+u*q[1].X) + v*((1-u)*q[3].X+u*q[2].X),
		(1-v)*((1-u)*q[0].Y+u*q[1].Y) + v*((1-u)*q[3].Y+u*q[2].Y),
	}
}

// measure fills in what is told of the result; seen are the windows of the
// finest level.
func (a *aligner) measure(seen []sighting) {
	o := a.out
	var off []float32
	for i := range seen {
		s := &seen[i]
		if s.likeness < 0.5 || s.plain || s.a[0]+s.a[2] < 2/(s.scale*s.scale) {
			continue
		}
		off = append(off, float32(distance(s.d, o.Field.At(s.at))))
	}
	if len(off) > 0 {
		o.ResidualP95Px = float64(quantile(off, 0.95))
		o.ResidualMedianPx = float64(quantile(off, 0.5))
		o.ResidualMedianMM = o.ResidualMedianPx * a.opt.MMPerPx
	}
	const n = 64
	in := 0
	var bends []float32
	for j := range n {
		for i := range n {
			p := o.Sheet.Corners.inside((float64(i)+0.5)/n, (float64(j)+0.5)/n)
			q := o.warp.Map(p)
			if q.X >= -0.5 && q.Y >= -0.5 && q.X <= float64(a.after.W)-0.5 && q.Y <= float64(a.after.H)-0.5 {
				in++
				d := o.Field.At(p)
				bends = append(bends, float32(math.Hypot(d.X, d.Y)))
			}
		}
	}
	o.Overlap = float64(in) / (n * n)
	if in > 0 {
		o.BendP95Px = float64(quantile(bends, 0.95))
	}
	j := o.Homography.jacobian(a.middle())
	o.TurnDegrees = math.Atan2(j[2]-j[1], j[0]+j[3]) * 180 / math.Pi
	o.Zoom = a.zoomAt(&o.Homography)
}
