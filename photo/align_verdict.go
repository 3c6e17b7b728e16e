package photo

import (
	"fmt"
	"math"
	"slices"
)

// judge fills in the verdict and what is said.
func (a *aligner) judge() {
	o := a.out
	e, all := a.agreement(a.compared(&o.warp))
	o.Verdict = e.verdict()
	// Covers of one title and leaves under one heading share print. So where little
	// print shows, nearly all of it must agree; and where the middle is all but
	// bare, what stands round it too.
	if o.Verdict == Aligned && e.both < ampleWindows && all.share() < e.share() {
		e = all
	}
	if o.Verdict == Aligned && (e.both < manyWindows || e == all) && e.share() < nearlyAll {
		o.Verdict = Doubtful
	}
	if e.both > 0 {
		o.AgreeingShare = float64(e.alike) / float64(e.both)
	}
	o.TexturedWindows = e.both
	if o.Verdict == Different {
		a.sayDifferent()
		return
	}
	switch {
	case o.Verdict == Aligned && o.Overlap < 0.2:
		o.Verdict = Doubtful
		o.Say = fmt.Sprintf(
			"The after picture shows only %.0f %% of the sheet, too little to tell whether it is the same face%s.",
			100*o.Overlap,
			a.turned(),
		)
	case o.Verdict == Aligned && a.otherTones():
		o.Verdict = Doubtful
		o.Say = fmt.Sprintf(
			"Print agrees in %d of %d places%s, but light and dark lie otherwise between them: another face under "+
				"the same heading, perhaps; look before you trust the numbers.",
			e.alike,
			e.both,
			a.turned(),
		)
	case o.Verdict == Aligned:
		o.Say = fmt.Sprintf(
			"The pictures show the same face: print agrees in %d of %d places%s, and what is left between them is %s.",
			e.alike,
			e.both,
			a.turned(),
			a.lengthInWords(o.ResidualMedianPx),
		)
	default:
		o.Say = fmt.Sprintf(
			"The pictures may show the same face, but print agrees in only %d of %d places%s; look before you trust "+
				"the numbers.",
			e.alike,
			e.both,
			a.turned(),
		)
	}
	if o.Overlap < 0.9 {
		o.Notes = append(o.Notes, fmt.Sprintf("The after picture shows only %.0f %% of the sheet.", 100*o.Overlap))
	}
	if o.BendP95Px >= 1 {
		o.Notes = append(
			o.Notes,
			fmt.Sprintf(
				"The sheet has changed its shape or does not lie as flat: places differ from a flat sheet's by up "+
					"to %s.",
				a.lengthInWords(o.BendP95Px),
			),
		)
	}
}

// otherTones compares how light and dark are spread over the face on the large
// scale, even slopes of light taken away: true when both pictures have strong
// tones and these do not agree. Windows with print cannot see that.
func (a *aligner) otherTones() bool {
	const n = 40
	top := a.pb.levels[len(a.pb.levels)-1]
	level := a.pa.levels[len(a.pa.levels)-1]
	// About as much is averaged round each place as lies between two.
	b := top.boxBlur(max(1, max(top.w, top.h)/(2*n)))
	f := level.boxBlur(max(1, max(level.w, level.h)/(2*n)))
	sb, sa := a.pb.scale(len(a.pb.levels)-1), a.pa.scale(len(a.pa.levels)-1)
	// A reflection of the lamp in one of the pictures is no tone of the face; nor
	// is what lies near it, since the averages reach into it.
	whiteB, whiteA := clipped(
		top,
	).boxBlur(max(1, max(top.w, top.h)/(2*n))),
		clipped(
			level,
		).boxBlur(max(1, max(level.w, level.h)/(2*n)))
	var rows, clear [][]float64
	var before, after, clearBefore, clearAfter []float64
	for j := range n {
		for i := range n {
			u, v := (float64(i)+0.5)/n, (float64(j)+0.5)/n
			p := a.out.Sheet.Corners.shrunk(0.05).inside(u, v)
			q := a.out.warp.Map(p)
			if q.X < 0 || q.Y < 0 || q.X > float64(a.after.W-1) || q.Y > float64(a.after.H-1) {
				continue
			}
			bx, by, ax, ay := (p.X+0.5)/sb-0.5, (p.Y+0.5)/sb-0.5, (q.X+0.5)/sa-0.5, (q.Y+0.5)/sa-0.5
			row, tb, ta := terms(2, u, v), float64(b.sample(bx, by)), float64(f.sample(ax, ay))
			rows, before, after = append(rows, row), append(before, tb), append(after, ta)
			if whiteB.sample(bx, by) < 0.02 && whiteA.sample(ax, ay) < 0.02 {
				clear, clearBefore, clearAfter = append(clear, row), append(clearBefore, tb), append(clearAfter, ta)
			}
		}
	}
	// Paper that is white all over is no reflection.
	if 2*len(clear) > len(rows) {
		rows, before, after = clear, clearBefore, clearAfter
	}
	if len(rows) < n*n/10 {
		return false
	}
	weight := make([]float64, len(rows))
	for i := range weight {
		weight[i] = 1
	}
	// A part that is gone, or newly stained, is left out: the fifth of the places
	// that fits the rest least.
	keep := len(rows) * 4 / 5
	const strong = 6 // of 255
	for round := range 3 {
		cb := leastSquares(rows, weight, 6, func(i int) float64 { return before[i] })
		ca := leastSquares(rows, weight, 6, func(i int) float64 { return after[i] })
		x, y := make([]float64, len(rows)), make([]float64, len(rows))
		var bb, aa, ab, n float64
		for i, r := range rows {
			x[i], y[i] = before[i]-dot(cb, r), after[i]-dot(ca, r)
			bb, aa, ab, n = bb+weight[i]*x[i]*x[i], aa+weight[i]*y[i]*y[i], ab+weight[i]*x[i]*y[i], n+weight[i]
		}
		limit := strong * strong * n
		alike := bb <= limit || aa <= limit || ab >= 0.5*math.Sqrt(bb*aa)
		if alike || round == 2 {
			return !alike
		}
		off := make([]float32, len(rows))
		for i := range off {
			// Both ways, lest a spot in one picture alone goes unseen.
			off[i] = float32(math.Abs(x[i]*math.Sqrt(aa/bb) - y[i]))
		}
		most := quantile(slices.Clone(off), float64(keep)/float64(len(off)))
		for i := range weight {
			weight[i] = 0
			if off[i] <= most {
				weight[i] = 1
			}
		}
	}
	return false
}

// clipped is 1 where p is as light as a picture can be, else 0.
func clipped(p plane) plane {
	out := newPlane(p.w, p.h)
	for i, v := range p.v {
		if v >= 254 {
			out.v[i] = 1
		}
	}
	return out
}

// turned says how far the after picture is turned, where that is news.
func (a *aligner) turned() string {
	t := a.out.TurnDegrees
	switch {
	case math.Abs(t) > 165:
		return ", with the after picture upside down"
	case math.Abs(t) > 20 && t > 0:
		return fmt.Sprintf(", with the after picture turned clockwise by %.0f degrees", t)
	case math.Abs(t) > 20:
		return fmt.Sprintf(", with the after picture turned anticlockwise by %.0f degrees", -t)
	}
	return ""
}

// lengthInWords gives a length in the before picture in pixels, and in mm when
// the scale is known.
func (a *aligner) lengthInWords(px float64) string {
	if a.opt.MMPerPx > 0 {
		return fmt.Sprintf("%.2f px or %.3f mm", px, px*a.opt.MMPerPx)
	}
	return fmt.Sprintf("%.2f px", px)
}

// blank tells whether a picture shows nothing but grain and slow change.
func blank(p *pyramid) bool {
	l := p.levels[p.levelNear(800)]
	s := newSight(16)
	var textures []float32
	for _, c := range spread(l, 16, 16) {
		s.template(&windows{before: l, side: 16}, c)
		m := s.moments(s.t)
		count := 256.0
		v := m.square - m.sum*m.sum/count - (m.x*m.x+m.y*m.y)/s.spread
		textures = append(textures, float32(math.Sqrt(max(0, v)/count)))
	}
	return len(textures) == 0 || quantile(textures, 0.97) < 3
}

// sayDifferent says why no common face was found.
func (a *aligner) sayDifferent() {
	o := a.out
	o.Verdict = Different
	o.Homography, o.Field, o.warp = Homography{}, nil, warp{}
	o.Notes, o.Overlap, o.TurnDegrees, o.Zoom = nil, 0, 0, 0
	o.ResidualMedianPx, o.ResidualP95Px, o.ResidualMedianMM, o.BendP95Px = 0, 0, 0, 0
	switch {
	case blank(a.pb):
		o.Difference = BlankBefore
		o.Say = "The before picture shows nothing to hold on to: no print, no marks, no edge; photograph the face " +
			"again."
	case blank(a.pa):
		o.Difference = BlankAfter
		o.Say = "The after picture shows nothing to hold on to: no print, no marks, no edge; photograph the face again."
	default:
		o.Difference = OtherFace
		o.Say = "The pictures do not show the same face: no way of laying one on the other makes print agree; the " +
			"after picture is probably of another page."
	}
}

// isMirrored tries the after picture seen from behind.
func (a *aligner) isMirrored(fb, fa []feature) (bool, error) {
	b := *a
	b.out = &Alignment{Sheet: a.out.Sheet}
	b.pa = a.pa.mirrored()
	best, err := b.bestPose(matchFeatures(fb, mirrored(fa, a.after.W)))
	if err != nil || best == nil {
		return false, err
	}
	return best.face.verdict() == Aligned, nil
}

// mirrored is the pyramid of the picture seen from behind, from the level on that
// coarse comparisons begin with; finer levels are left as they are.
func (p *pyramid) mirrored() *pyramid {
	out := &pyramid{step: p.step, levels: slices.Clone(p.levels)}
	for i := p.levelNear(800); i < len(out.levels); i++ {
		l := out.levels[i]
		m := newPlane(l.w, l.h)
		for y := range l.h {
			for x := range l.w {
				m.v[y*l.w+x] = l.v[(y+1)*l.w-1-x]
			}
		}
		out.levels[i] = m
	}
	return out
}
