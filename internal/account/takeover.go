package account

import (
	"math"
	"strings"

	"benchleaf/condition"
	"benchleaf/internal/record"
)

// looksAs are the kinds of damage that an area can be taken for, by its look.
var looksAs = map[record.AreaLook]condition.Term{
	"foxing": "foxing", "tideline": "tideline", "stain": "stain", "mould": "mould", "loss": "loss",
	"rust migration": "rust migration", "other": "stain",
}

// mostTaken is how many corners of an outline a finding keeps: more are not seen.
const mostTaken = 400

// FoundByArea is the finding that was taken over from an area, or nil.
func FoundByArea(c *record.Case, area string) *record.FoundDamage {
	for i := range c.Damages {
		if c.Damages[i].Body.Area == area {
			return &c.Damages[i]
		}
	}
	return nil
}

// FindingOf is an area on a photograph as a finding: its outlines in mm, holes left
// out, with the area as it was measured on the picture. Severity and cause are open.
func FindingOf(c *record.Case, a *record.AreaOutlined, id string) (record.Damage, error) {
	term, known := looksAs[a.Look]
	switch {
	case !known:
		return record.Damage{}, record.Invalidf("look", "%s is no damage: an area of it is not taken over.",
			en.Upper(record.Words(a.Look)))
	case len(a.OutlineMm) == 0 || len(a.Place.Sheets) != 1 || a.Place.Face == "":
		return record.Damage{}, record.Invalidf("area", "This area has no millimetres on one face: describe the paper "+
			"of its sheet and outline it again.")
	}
	kind, _ := condition.Look(term)
	b := record.Damage{
		ID: id, Term: string(term), Place: a.Place, Through: kind.Depth == condition.Always, Area: a.ID, AreaMm2: a.AreaMm2,
		Note: strings.TrimSpace(a.Name),
	}
	size, sized := OpenedSize(c, a.Place.Sheets[0])
	for i, ring := range a.OutlineMm {
		if holeIn(a.OutlineMm, i) || len(b.Shapes) == condition.MaxShapes {
			continue
		}
		s := condition.Shape{Form: condition.Outline}
		step := max(1, (len(ring)+mostTaken-1)/mostTaken)
		for k := 0; k < len(ring); k += step {
			p := condition.Point{XMm: math.Round(10*ring[k][0]) / 10, YMm: math.Round(10*ring[k][1]) / 10}
			if sized { // the outline of a picture may stand a little over the edge
				p.XMm = min(max(p.XMm, 0), size.WidthMm)
				p.YMm = min(max(p.YMm, 0), size.HeightMm)
			}
			s.Points = append(s.Points, p)
		}
		if s.Validate(condition.Size{WidthMm: 2000, HeightMm: 2000}) == nil {
			b.Shapes = append(b.Shapes, s)
		}
	}
	if len(b.Shapes) == 0 {
		return record.Damage{}, record.Invalidf("area", "The outline of this area crosses itself: outline it again.")
	}
	return b, nil
}

// holeIn says whether a ring begins within another: then it is a hole in it.
func holeIn(rings []record.Ring, i int) bool {
	p, inside := rings[i][0], false
	for k, ring := range rings {
		if k == i {
			continue
		}
		for n, a := range ring {
			b := ring[(n+1)%len(ring)]
			if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
				inside = !inside
			}
		}
	}
	return inside
}
