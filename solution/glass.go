package solution

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"benchleaf/interval"
)

// Glassware is a vessel that measures a volume: a cylinder, jug, pipette,
// syringe or flask.
type Glassware struct {
	Name string `json:"name"`
	// CapacityMl is the largest volume that it measures.
	CapacityMl Millilitres `json:"capacity_ml"`
	// GraduationMl is the step between marks; equal to the capacity for a vessel
	// with one mark.
	GraduationMl Millilitres `json:"graduation_ml"`
	// ToleranceMl is the error allowed by the mark on the glass, either way; 0
	// when it has none: one graduation is then taken.
	ToleranceMl Millilitres `json:"tolerance_ml,omitempty"`
}

// Check refuses a vessel that cannot measure.
func (g Glassware) Check() error {
	switch {
	case !(g.CapacityMl > 0 && g.CapacityMl <= 100_000):
		return fmt.Errorf(
			"the capacity of %s must be above 0 and at most 100,000 mL, not %g mL",
			g.called(),
			float64(g.CapacityMl),
		)
	case !(g.GraduationMl > 0 && g.GraduationMl <= g.CapacityMl):
		return fmt.Errorf(
			"the graduation of %s must be above 0 and at most its capacity of %g mL, not %g mL",
			g.called(),
			float64(g.CapacityMl),
			float64(g.GraduationMl),
		)
	case !(g.ToleranceMl >= 0 && g.ToleranceMl <= g.CapacityMl/2):
		return fmt.Errorf(
			"the tolerance of %s must be between 0 and half its capacity, not %g mL",
			g.called(),
			float64(g.ToleranceMl),
		)
	}
	return nil
}

func (g Glassware) called() string {
	if g.Name != "" {
		return "the " + g.Name
	}
	return fmt.Sprintf("the %g mL vessel", float64(g.CapacityMl))
}

func (g Glassware) tolerance() float64 {
	if g.ToleranceMl > 0 {
		return float64(g.ToleranceMl)
	}
	return float64(g.GraduationMl)
}

// marks rounds a volume to the vessel's graduations.
func (g Glassware) marks(v float64) float64 {
	step := float64(g.GraduationMl)
	return math.Round(v/step) * step
}

// UsualGlassware is taken when the user has named none: three cylinders of the
// usual sizes, with the tolerances of class B of ISO 4788 (basis: memory).
func UsualGlassware() []Glassware {
	return []Glassware{
		{"500 mL cylinder", 500, 5, 5},
		{"100 mL cylinder", 100, 1, 1},
		{"10 mL cylinder", 10, 0.2, 0.2},
	}
}

// ParseGlassware reads vessels as capacity and graduation in mL, with the
// tolerance if it is known: "500:5, 100:1:0.5". A lone capacity is a vessel
// with one mark.
func ParseGlassware(s string) ([]Glassware, error) {
	var out []Glassware
	for _, one := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ';' || r == ' ' }) {
		var v [3]float64
		parts := strings.Split(one, ":")
		if len(parts) > len(v) {
			return nil, glasswareError(one)
		}
		for i, p := range parts {
			x, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
			if err != nil {
				return nil, glasswareError(one)
			}
			v[i] = x
		}
		if len(parts) == 1 {
			v[1] = v[0]
		}
		g := Glassware{fmt.Sprintf("%g mL cylinder", v[0]), Millilitres(v[0]), Millilitres(v[1]), Millilitres(v[2])}
		if len(parts) == 1 {
			g.Name = fmt.Sprintf("%g mL measure", v[0])
		}
		if err := g.Check(); err != nil {
			return nil, err
		}
		out = append(out, g)
	}
	if len(out) > maxVessels {
		return nil, fmt.Errorf("there are %d vessels: at most %d are weighed against each other", len(out), maxVessels)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no glassware is named: write capacity and graduation in mL, as in \"500:5,100:1\"")
	}
	return out, nil
}

func glasswareError(one string) error {
	return fmt.Errorf(
		"the vessel %q is not understood: write capacity and graduation in mL, as in \"500:5\", with a decimal point",
		one,
	)
}

// Fill is one vessel filled Times times to the mark To.
type Fill struct {
	Glass Glassware
	Times int
	To    Millilitres
}

// Pour is how a volume is measured: the fills in order, and what they come to.
type Pour struct {
	Fills  []Fill
	Volume Millilitres
}

// Text says the fills: "fill the 500 mL cylinder twice to 500 mL, then the same
// to 140 mL".
func (p Pour) Text() string {
	var parts []string
	for i, f := range p.Fills {
		name := f.Glass.called()
		if i > 0 && f.Glass == p.Fills[i-1].Glass {
			name = "the same"
		}
		parts = append(parts, fmt.Sprintf("%s%s to %s", name, times(f.Times), f.To.Text()))
	}
	return "fill " + strings.Join(parts, ", then ")
}

func times(n int) string {
	switch n {
	case 1:
		return ""
	case 2:
		return " twice"
	}
	return fmt.Sprintf(" %d times", n)
}

// Standard is the standard uncertainty of the volume. A vessel's own error
// repeats with every fill and so adds up; the error of reading a mark, half a
// graduation at most, does not. Both are taken as equally likely anywhere
// within their limits (JCGM 100:2008, 4.3.7).
func (p Pour) Standard() Millilitres {
	sum := 0.0
	own := map[Glassware]float64{}
	for _, f := range p.Fills {
		own[f.Glass] += float64(f.Times)
		read := float64(f.Glass.GraduationMl) / 2 / math.Sqrt(3)
		sum += float64(f.Times) * read * read
	}
	for g, n := range own {
		u := n * g.tolerance() / math.Sqrt(3)
		sum += u * u
	}
	return Millilitres(math.Sqrt(sum))
}

// Range is the volume with its 10 to 90 % range.
func (p Pour) Range() interval.Range {
	return interval.FromStandard(float64(p.Volume), float64(p.Standard()))
}

func (p Pour) fills() int {
	n := 0
	for _, f := range p.Fills {
		n += f.Times
	}
	return n
}

// A pour is good when it comes within goodRounding of the volume meant and its
// 10 to 90 % range is within goodSpread: below what the sheet, the stock and
// the tray make of it anyway (common practice).
const (
	goodRounding = 0.01
	goodSpread   = 0.02
	maxFills     = 60
	maxVessels   = 100
)

// measure chooses how to measure v with the vessels there are: of the good
// pours that with the fewest fills, and of those the most certain. Where none
// is good, the pour nearest to v, all errors counted. A pour uses one vessel,
// or full fills of one and the rest in another. Errors: no vessel, or none that
// measures v within 60 fills.
func measure(v Millilitres, glass []Glassware) (Pour, error) {
	if !(v > 0) || math.IsInf(float64(v), 0) {
		return Pour{}, fmt.Errorf("the volume to measure must be above 0, not %g mL", float64(v))
	}
	if len(glass) > maxVessels {
		return Pour{}, fmt.Errorf(
			"there are %d vessels: at most %d are weighed against each other",
			len(glass),
			maxVessels,
		)
	}
	if len(glass) == 0 {
		return Pour{}, fmt.Errorf("there is no glassware to measure %s with", v.Text())
	}
	var pours []Pour
	for _, big := range glass {
		if err := big.Check(); err != nil {
			return Pour{}, err
		}
		full := math.Floor(float64(v)/float64(big.CapacityMl) + 1e-9)
		if full > maxFills {
			continue
		}
		for _, small := range glass {
			if p := bigAndSmall(v, big, int(full), small); len(p.Fills) > 0 {
				pours = append(pours, p)
			}
		}
	}
	if len(pours) == 0 {
		return Pour{}, unmeasurable(v, glass)
	}
	sort.SliceStable(pours, func(i, j int) bool { return pours[i].betterThan(pours[j], v) })
	return pours[0], nil
}

// bigAndSmall fills big to its top mark, and measures the rest once with small.
// The pour is empty where that cannot be done.
func bigAndSmall(v Millilitres, big Glassware, full int, small Glassware) Pour {
	var p Pour
	top := big.marks(float64(big.CapacityMl))
	if top > float64(big.CapacityMl)+1e-9 {
		top -= float64(big.GraduationMl)
	}
	if full > 0 {
		p.add(Fill{big, full, Millilitres(top)})
	}
	rest := small.marks(float64(v) - float64(full)*top)
	switch {
	case rest > float64(small.CapacityMl)+1e-9:
		return Pour{}
	case rest > 0:
		p.add(Fill{small, 1, Millilitres(rest)})
	}
	if p.fills() > maxFills {
		return Pour{}
	}
	return p
}

// add puts a fill at the end, joined with the one before where it is the same.
func (p *Pour) add(f Fill) {
	p.Volume += Millilitres(float64(f.Times) * float64(f.To))
	if n := len(p.Fills); n > 0 && p.Fills[n-1].Glass == f.Glass && p.Fills[n-1].To == f.To {
		p.Fills[n-1].Times += f.Times
		return
	}
	p.Fills = append(p.Fills, f)
}

func (p Pour) good(v Millilitres) bool {
	return math.Abs(float64(p.Volume-v)) <= goodRounding*float64(v) && p.Range().Relative() <= goodSpread
}

func (p Pour) betterThan(q Pour, v Millilitres) bool {
	a, b := p.good(v), q.good(v)
	switch {
	case a != b:
		return a
	case a && p.fills() != q.fills():
		return p.fills() < q.fills()
	case a:
		return p.Standard() < q.Standard()
	}
	off := func(x Pour) float64 {
		return math.Abs(float64(x.Volume-v)) + (x.Range().High-x.Range().Low)/2
	}
	return off(p) < off(q)
}

func unmeasurable(v Millilitres, glass []Glassware) error {
	small, large := glass[0], glass[0]
	for _, g := range glass {
		if g.GraduationMl < small.GraduationMl {
			small = g
		}
		if g.CapacityMl > large.CapacityMl {
			large = g
		}
	}
	if float64(v) < float64(small.GraduationMl) {
		return fmt.Errorf(
			"%s cannot be measured: the finest graduation is %s, of %s",
			v.Text(),
			small.GraduationMl.Text(),
			small.called(),
		)
	}
	return fmt.Errorf(
		"%s cannot be measured with the glassware named: it would take more than %d fills of %s",
		v.Text(),
		maxFills,
		large.called(),
	)
}
