package photo

import (
	"fmt"
	"math"

	"benchleaf/colour"
)

// look is what a region looks like.
type look struct {
	kind StainKind
	why  string
	de   float64
	// most is the difference from the paper round it in the colour of light that
	// it takes most of, as mean density.
	most float64
	// printed is set for a long mark of the neutral colour of print.
	printed bool
}

// A region is taken for a stain when its paper is darker than that round it
// and differs by leastDE in dE00, and by relative of what the strongest on the
// sheet does: most of what is fainter is left by print, gutters and shade.
const (
	leastDE      = 2.5
	leastDensity = 0.03
	relative     = 0.35
)

// looks names the shapes, tells which are to be taken for stains, and how many
// are not only because others are much stronger.
func (v *stainView) looks(shapes []shape, local [3]plane) (all []look, firm []bool, faint int) {
	strongest := 0.0
	firm = make([]bool, len(shapes))
	for i, s := range shapes {
		l := v.look(s, local)
		all = append(all, l)
		firm[i] = !l.printed && l.de > leastDE && l.most > leastDensity
		if firm[i] && len(s.pixels) > 40 {
			strongest = max(strongest, l.de)
		}
	}
	for i, l := range all {
		if firm[i] && l.de < relative*strongest {
			firm[i] = false
			faint++
		}
	}
	return all, firm, faint
}

// look names a region by its form, its size against the sheet and how it takes
// the colours of light.
func (v *stainView) look(s shape, local [3]plane) look {
	var sum [3]float64
	var out look
	n := 0.0
	x0, y0, x1, y1 := v.w, v.h, 0, 0
	for _, i := range s.pixels {
		x, y := int(i)%v.w, int(i)/v.w
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
	}
	for _, i := range s.pixels {
		p, q := at(v.paper, i), at(local, i)
		for c := range p {
			sum[c] += float64(p[c] - q[c])
		}
		out.de += colour.DE2000(labOf(q), labOf(p))
		n++
	}
	out.de /= math.Max(1, n)
	for c := range sum {
		sum[c] /= math.Max(1, n)
	}
	out.most = max(sum[0], sum[1], sum[2])
	c := component{s.pixels, x0, y0, x1, y1}
	thick := float64(v.thickness(c))
	across := math.Hypot(float64(x1-x0), float64(y1-y0))
	short := float64(v.short())
	spot := math.Sqrt(4 * n / math.Pi) // diameter of a disc of the area
	line := n > 6*thick*thick && across > short/10 && thick < short/15
	out.printed = !v.colourless && sum[0] > 0.95*sum[2] && line
	grey := sum[2] > 0 && sum[0] > 0.6*sum[2]
	red := sum[2] > 0.3 && sum[1]-sum[0] > 0.42*(sum[2]-sum[0]) && sum[1] > 2*sum[0]
	switch {
	case line:
		out.kind = TideLine
		out.why = fmt.Sprintf("A line %.1f %% of the sheet's width wide and many times as long.", 100*thick/short)
	case grey && spot < short/12:
		out.kind = Mould
		out.why = "A small spot that takes all colours nearly alike: grey or greenish."
	case red && spot < short/12:
		out.kind = Rust
		out.why = "A small spot, strongly coloured towards orange, as iron leaves."
	case spot < short/25:
		out.kind = Foxing
		out.why = "A small brown spot."
	case grey:
		out.kind = Discoloration
		out.why = "A wide grey patch darker than the paper round it."
	default:
		out.kind = Discoloration
		out.why = "A wide patch browner than the paper round it."
	}
	return out
}

// lookOfLoss tells how the ground that is seen differs from the paper that should
// be there.
func (v *stainView) lookOfLoss(s shape) look {
	out := look{kind: Loss, why: "The colour of the ground round the sheet is seen here."}
	for _, i := range s.pixels {
		ground, paper := labOf(at(v.density, i)), labOf(at(v.even, i))
		out.de += colour.DE2000(paper, ground) / float64(len(s.pixels))
	}
	return out
}

func at(p [3]plane, i int32) [3]float32 { return [3]float32{p[0].v[i], p[1].v[i], p[2].v[i]} }
