// Package condition is what is wrong with an object, and where.
//
// A damage is of one kind, named by a term of the vocabulary, and has a place and
// an extent; how grave it is, from what and whether it goes on is said apart, and
// not here. Its shapes are drawn on one face of one sheet, in millimetres from the
// left edge and the head of that face as one looks at it with the head up. A damage
// that goes through the paper shows mirrored on the other face; a damage may run
// through several sheets of the nest.
//
// Terms, definitions and severities are our own words for common practice.
package condition

import (
	"errors"
	"fmt"
	"math"

	"benchleaf/makeup"
)

// MaxShapes is the largest number of shapes of one finding.
const MaxShapes = 500

// Damage is one finding: where it shows.
type Damage struct {
	Term   Term
	Shapes []Shape
	// From is the sheet on which the shapes lie, and Face the face. To is the
	// innermost sheet that the damage reaches; the same as From for one sheet.
	From, To makeup.Sheet
	Face     makeup.Face
	// Through says that it shows on both faces of each sheet.
	Through bool
}

// Sizes gives the size of each opened sheet.
type Sizes map[makeup.Sheet]Size

// Validate checks a damage against the make-up and the sizes of its sheets.
// Each error joined in the result is one sentence.
func (d Damage) Validate(m makeup.MakeUp, sizes Sizes) error {
	var errs []error
	refuse := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	kind, known := Look(d.Term)
	if !known {
		refuse("%q is not a kind of damage in the vocabulary", d.Term)
	}
	switch {
	case known && kind.Depth == Always && !d.Through:
		refuse("a %s shows on both faces: mark it as going through", kind.Term)
	case known && kind.Depth == Never && d.Through:
		refuse("%s lies on one face: draw it on each face where it is", kind.Term)
	case d.To > d.From && !d.Through:
		refuse("what reaches from %s to %s goes through the sheets: mark it as going through", d.From, d.To)
	}
	if d.To < d.From {
		refuse("a damage runs from the outside in: it cannot begin at %s and end at %s", d.From, d.To)
	}
	if d.Face != makeup.Outer && d.Face != makeup.Inner {
		refuse("a damage is drawn on the outer or on the inner face")
	}
	if n := len(d.Shapes); n == 0 || n > MaxShapes {
		refuse("a damage with %d shapes cannot be mapped: 1 to %d are possible", n, MaxShapes)
	}
	for s := d.From; s <= d.To && len(errs) == 0; s++ {
		size, have := sizes[s]
		switch {
		case !m.Has(s):
			refuse("the make-up has no %s", s)
		case !have:
			refuse("the size of %s is not known yet: enter its paper first", s)
		case size.Validate() != nil:
			errs = append(errs, size.Validate())
		case s == d.From:
			for i, shape := range d.Shapes {
				if err := shape.Validate(size); err != nil {
					errs = append(errs, ofShape(i, len(d.Shapes), err))
				}
			}
		}
	}
	return errors.Join(errs...)
}

// ofShape names the shape that an error is about, where there are several.
func ofShape(i, n int, err error) error {
	if n == 1 {
		return err
	}
	return fmt.Errorf("shape %d of %d: %w", i+1, n, err)
}

// Trace is where one damage shows.
type Trace struct {
	Sheet makeup.Sheet
	Face  makeup.Face
	Shape Shape
}

// Traces lists what shows of a valid damage on each face, from the outside in;
// a line that leaves a sheet and comes back is several traces of it. On the
// sheets further in, the shape lies where nested sheets of like or unlike size
// lie on one another: folds together, heads level, the creep of tenths of a
// millimetre left out. What would lie beyond a smaller sheet is cut off.
func (d Damage) Traces(sizes Sizes) []Trace {
	var list []Trace
	for s := d.From; s <= d.To; s++ {
		var here, behind []Trace
		for _, shape := range d.on(s, sizes) {
			here = append(here, Trace{s, d.Face, shape})
			if d.Through {
				behind = append(behind, Trace{s, d.Face.Other(), shape.Mirror(sizes[s].WidthMm)})
			}
		}
		if d.Face == makeup.Outer {
			list = append(append(list, here...), behind...)
		} else {
			list = append(append(list, behind...), here...)
		}
	}
	return list
}

// on gives what of the damage lies on one sheet, on the face on which it was
// drawn.
func (d Damage) on(s makeup.Sheet, sizes Sizes) []Shape {
	if s == d.From {
		return d.Shapes
	}
	right := (sizes[s].WidthMm - sizes[d.From].WidthMm) / 2
	var list []Shape
	for _, shape := range d.Shapes {
		list = append(list, shape.Shift(right).clip(sizes[s])...)
	}
	return list
}

// BySheet is the damage as one on each sheet that it is on, with what of it lies
// there, from the outside in.
func (d Damage) BySheet(sizes Sizes) []Damage {
	var list []Damage
	for s := d.From; s <= d.To; s++ {
		one := d
		one.From, one.To, one.Shapes = s, s, d.on(s, sizes)
		if len(one.Shapes) > 0 {
			list = append(list, one)
		}
	}
	return list
}

// Shift is the shape moved to the right by so much, as from one sheet to another of
// another width whose fold lies in the same fold.
func (s Shape) Shift(rightMm float64) Shape {
	return s.each(func(p Point) Point { return Point{p.XMm + rightMm, p.YMm} })
}

// Total is what there is of one kind in an object. A damage counts once on each
// sheet that it is on, not once for each face.
type Total struct {
	Kind     Kind
	Count    int
	LengthMm float64 // of lines and strips
	AreaMm2  float64 // of outlines, boxes and strips
}

// Sum adds the valid damages of an object, kind by kind in the order of the
// vocabulary.
func Sum(damages []Damage, sizes Sizes) []Total {
	by := map[Term]*Total{}
	for _, d := range damages {
		t := by[d.Term]
		if t == nil {
			t = &Total{}
			by[d.Term] = t
		}
		for s := d.From; s <= d.To; s++ {
			shapes := d.on(s, sizes)
			if len(shapes) > 0 {
				t.Count++
			}
			for _, shape := range shapes {
				t.AreaMm2 += shape.AreaMm2()
				if shape.Form == Line || shape.Form == Strip {
					t.LengthMm += shape.LengthMm()
				}
			}
		}
	}
	var list []Total
	for _, k := range kinds {
		if t := by[k.Term]; t != nil {
			t.Kind = k
			list = append(list, *t)
		}
	}
	return list
}

// Mending says how mends are made. Usual figures (strips 4 to 10 mm wide, 1 to
// 3 mm beyond the damage) are common practice, no source.
type Mending struct {
	// StripWidthMm is the width of a torn strip, 1 to 50 mm.
	StripWidthMm float64
	// MarginMm is how far tissue reaches beyond the ends of a tear and round a
	// loss, 0 to 20 mm.
	MarginMm float64
	// BothFaces mends each damage on both faces.
	BothFaces bool
	// Waste is the share of the tissue that torn edges and offcuts cost, 0 to
	// 0.9 of what is taken.
	Waste float64
}

// Tissue is what the mends of an object take.
type Tissue struct {
	Mends         int
	StripLengthMm float64
	StripAreaMm2  float64
	PatchAreaMm2  float64
	// TakeMm2 is what to take from the sheet of tissue, waste included.
	TakeMm2 float64
}

// TissueFor sums the tissue over all damages that a strip or a patch mends, on
// every sheet that they run through. A strip is as long as the line, or as half
// the way round where an outline was drawn, with the margin at each end; a patch
// covers the shape grown by the margin.
func TissueFor(damages []Damage, sizes Sizes, how Mending) (Tissue, error) {
	switch {
	case !(how.StripWidthMm >= 1 && how.StripWidthMm <= 50):
		return Tissue{}, fmt.Errorf("a strip cannot be %g mm wide: 1 to 50 mm is possible", how.StripWidthMm)
	case !(how.MarginMm >= 0 && how.MarginMm <= 20):
		return Tissue{}, fmt.Errorf("the margin cannot be %g mm: 0 to 20 mm is possible", how.MarginMm)
	case !(how.Waste >= 0 && how.Waste <= 0.9):
		return Tissue{}, fmt.Errorf(
			"the waste cannot be %g: a share from 0 to 0.9 of the tissue taken is possible",
			how.Waste,
		)
	}
	faces := 1
	if how.BothFaces {
		faces = 2
	}
	var t Tissue
	for _, d := range damages {
		kind, _ := Look(d.Term)
		if kind.Mend == NoMend {
			continue
		}
		for s := d.From; s <= d.To; s++ {
			for _, shape := range d.on(s, sizes) {
				t.Mends += faces
				if kind.Mend == MendStrip {
					t.StripLengthMm += float64(faces) * (shape.along() + 2*how.MarginMm)
				} else {
					t.PatchAreaMm2 += float64(faces) * shape.grown(how.MarginMm)
				}
			}
		}
	}
	t.StripAreaMm2 = t.StripLengthMm * how.StripWidthMm
	t.TakeMm2 = (t.StripAreaMm2 + t.PatchAreaMm2) / (1 - how.Waste)
	return t, nil
}

// along is the length of a strip along the shape.
func (s Shape) along() float64 {
	if s.Form == Outline || s.Form == Box {
		return s.LengthMm() / 2
	}
	return s.LengthMm()
}

// grown is the area of the shape grown by a margin m on all sides in mm2:
// A + L m + pi m^2, with the length L all the way round (Steiner, 1840). It is
// exact where the outline nowhere bends inwards, and otherwise a little large.
func (s Shape) grown(marginMm float64) float64 {
	round := s.LengthMm()
	switch s.Form {
	case Line:
		round *= 2 // there and back
	case Strip:
		round = 2*round + 2*s.WidthMm
	}
	return s.AreaMm2() + round*marginMm + math.Pi*marginMm*marginMm
}
