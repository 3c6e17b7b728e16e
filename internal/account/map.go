package account

import (
	"slices"

	"benchleaf/condition"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/makeup"
)

// FaceOf is one face of one sheet.
type FaceOf struct {
	Sheet int
	Face  record.Face
}

// Other is the face behind.
func (f FaceOf) Other() FaceOf {
	if f.Face == record.FaceInner {
		return FaceOf{f.Sheet, record.FaceOuter}
	}
	return FaceOf{f.Sheet, record.FaceInner}
}

func (f FaceOf) face() makeup.Face {
	if f.Face == record.FaceInner {
		return makeup.Inner
	}
	return makeup.Outer
}

func faceOf(s makeup.Sheet, f makeup.Face) FaceOf {
	if f == makeup.Inner {
		return FaceOf{int(s), record.FaceInner}
	}
	return FaceOf{int(s), record.FaceOuter}
}

// Trace is what of one finding shows on one face.
type Trace struct {
	Damage *Damage
	Shape  condition.Shape
	// Drawn says that it was drawn on this face of this sheet, and Index which of
	// the finding's shapes it is then.
	Drawn bool
	Index int
	// Unsaid says that the record does not tell the face: it is shown on both, where
	// it would be on either.
	Unsaid bool
}

// Map is where the findings of a case show, face by face.
type Map struct {
	// Ground has the make-up and the sizes of the sheets, those that are known.
	Ground  condition.Ground
	Damages []Damage
	faces   []FaceOf
	on      map[FaceOf][]Trace
}

// MapOf lays the findings of a case on its faces; nil before the make-up is known.
func MapOf(c *record.Case) *Map {
	nest := c.MakeUpFound()
	if nest == nil {
		return nil
	}
	m := &Map{Ground: groundOf(c, *nest), Damages: damagesOn(c), on: map[FaceOf][]Trace{}}
	for _, n := range c.Sheets() {
		m.faces = append(m.faces, FaceOf{n, record.FaceOuter}, FaceOf{n, record.FaceInner})
	}
	for i := range m.Damages {
		m.lay(&m.Damages[i])
	}
	return m
}

func groundOf(c *record.Case, nest makeup.MakeUp) condition.Ground {
	g := condition.Ground{MakeUp: nest, Sizes: condition.Sizes{}}
	for _, n := range c.Sheets() {
		if size, known := OpenedSize(c, n); known {
			g.Sizes[makeup.Sheet(n)] = size
		}
	}
	return g
}

// OpenedSize is the size of an opened sheet: of its paper, else twice the width of
// the closed object as it was described, or once for a single leaf.
func OpenedSize(c *record.Case, sheet int) (size condition.Size, known bool) {
	if st := c.StockOf(sheet); st != nil {
		size = condition.Size{WidthMm: st.WidthMm, HeightMm: st.HeightMm}
	} else if i := c.Identity; i != nil && i.WidthMm != nil && i.HeightMm != nil {
		size = condition.Size{WidthMm: 2 * *i.WidthMm, HeightMm: *i.HeightMm}
		if m := c.MakeUpFound(); m != nil && m.Single(makeup.Sheet(sheet)) {
			size.WidthMm /= 2
		}
	}
	return size, size.Validate() == nil
}

func (m *Map) lay(d *Damage) {
	if d.Withdrawn != nil || len(d.Body.Shapes) == 0 {
		return
	}
	if d.Body.Place.Face == "" {
		for _, n := range d.Body.Place.Sheets {
			for i, s := range d.Body.Shapes {
				for _, f := range []FaceOf{{n, record.FaceOuter}, {n, record.FaceInner}} {
					m.on[f] = append(m.on[f], Trace{Damage: d, Shape: s, Index: i, Unsaid: true})
				}
			}
		}
		return
	}
	drawn := FaceOf{d.Body.Place.Sheets[0], d.Body.Place.Face}
	for i, s := range d.Body.Shapes {
		for _, part := range parts(d.Body, m.Ground.Sizes, s) {
			for _, t := range part.Traces(m.Ground.Sizes) {
				f := faceOf(t.Sheet, t.Face)
				m.on[f] = append(m.on[f], Trace{Damage: d, Shape: t.Shape, Drawn: f == drawn, Index: i})
			}
		}
	}
}

// parts are shapes of a finding through its sheets, as damages that each run
// through sheets without a gap. Sheets of unknown size are left out.
func parts(b record.Damage, sizes condition.Sizes, shapes ...condition.Shape) []condition.Damage {
	var list []condition.Damage
	at := makeup.Outer
	if b.Place.Face == record.FaceInner {
		at = makeup.Inner
	}
	on := slices.Sorted(slices.Values(b.Place.Sheets))
	for i, n := range on {
		s := makeup.Sheet(n)
		size, known := sizes[s]
		if !known {
			continue
		}
		if last := len(list) - 1; last >= 0 && i > 0 && on[i-1] == n-1 && list[last].To == s-1 {
			list[last].To = s
			continue
		}
		right := (size.WidthMm - sizes[makeup.Sheet(on[0])].WidthMm) / 2
		moved := shapes
		if i > 0 && right != 0 && sizes[makeup.Sheet(on[0])].WidthMm > 0 {
			moved = make([]condition.Shape, len(shapes))
			for k := range shapes {
				moved[k] = shapes[k].Shift(right)
			}
		}
		list = append(list, condition.Damage{
			Term: condition.Term(b.Term), Shapes: moved, From: s, To: s, Face: at, Through: b.Through,
		})
	}
	return list
}

// Faces lists the faces of all sheets, from the outside in.
func (m *Map) Faces() []FaceOf { return m.faces }

// On are the traces on a face, in the order of their numbers.
func (m *Map) On(f FaceOf) []Trace { return m.on[f] }

// Size is the size of a face; known is false where its paper is not described.
func (m *Map) Size(f FaceOf) (size condition.Size, known bool) {
	size, known = m.Ground.Sizes[makeup.Sheet(f.Sheet)]
	return size, known
}

// FoldMm is how far the fold lies from the left edge of a face, in mm.
func (m *Map) FoldMm(f FaceOf) float64 { return m.Ground.Fold(makeup.Sheet(f.Sheet), f.face()) }

// Pages are the names of the pages on a face, from left to right as one sees it.
func (m *Map) Pages(f FaceOf) []string {
	var names []string
	for _, p := range m.Ground.MakeUp.OnFace(makeup.Sheet(f.Sheet), f.face()) {
		names = append(names, m.Ground.MakeUp.Name(p))
	}
	return names
}

// Has says whether the make-up has the face.
func (m *Map) Has(f FaceOf) bool { return slices.Contains(m.faces, f) }

// where puts the place of a finding into words: by its shapes and the make-up, and
// what was written of it.
func where(c *record.Case, g *condition.Ground, b *record.Damage) condition.Where {
	if g == nil || len(b.Shapes) == 0 || b.Place.Face == "" {
		return condition.Where{}
	}
	var traces []condition.Trace
	for _, part := range parts(*b, g.Sizes, b.Shapes...) {
		traces = append(traces, part.Traces(g.Sizes)...)
	}
	return g.Where(traces)
}

// PlaceOf writes where a damage is: pages, leaves and place on the leaf where it is
// drawn, else sheets and what was written.
func PlaceOf(c *record.Case, b *record.Damage) string {
	g := (*condition.Ground)(nil)
	if nest := c.MakeUpFound(); nest != nil {
		ground := groundOf(c, *nest)
		g = &ground
	}
	return placeOf(c, g, b)
}

func placeOf(c *record.Case, g *condition.Ground, b *record.Damage) string {
	w := where(c, g, b)
	if w.Pages == "" {
		return DamagePlace(b)
	}
	reach := w.Leaves
	if !b.Through {
		reach = words.Joined(", ", reach, record.Words(b.Place.Face)+" only")
	}
	return words.Joined("; ", words.Joined(", ", w.Pages, w.Place), reach, b.Place.Words)
}
