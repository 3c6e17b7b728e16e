package photo

import (
	"context"
	"fmt"
	"image"
	"math"

	"benchleaf/colour"
)

// StainKind is what a stained region looks like, in the terms of condition
// records.
type StainKind string

// The kinds. They name a look, not a cause: Mould is grey or greenish spotting
// of the kind mould leaves, and whether it is mould only an examination tells.
// A Loss is where the ground round the sheet is seen in place of the sheet.
const (
	Foxing        StainKind = "foxing"
	TideLine      StainKind = "tideline"
	Discoloration StainKind = "stain"
	Mould         StainKind = "mould"
	Loss          StainKind = "loss"
	Rust          StainKind = "rust migration"
)

// StainOptions are what a person may tell about the picture. The zero value
// lets everything be found.
type StainOptions struct {
	// MMPerPx is the scale at full resolution; 0 when unknown.
	MMPerPx float64
	// Sheet is where the paper lies; nil lets it be found.
	Sheet *Quad
	// Progress is told how far the work is, 0 to 1, and what is being done. It
	// may be nil. It is called from the goroutine that called FindStains.
	Progress func(share float64, doing string)
}

func (o StainOptions) say(share float64, doing string) {
	if o.Progress != nil {
		o.Progress(share, doing)
	}
}

// area is px pixels in mm2, or 0 when the scale is not known.
func (o StainOptions) area(px float64) float64 {
	if o.MMPerPx > 0 {
		return px * o.MMPerPx * o.MMPerPx
	}
	return 0
}

// Region is a stained part of the face.
type Region struct {
	Kind    StainKind
	AreaPx  float64 // pixels of the full picture
	AreaMM2 float64 // 0 when the scale is unknown
	// BBox holds the region's pixels, Max exclusive.
	BBox image.Rectangle
	// MeanDE00 is the mean of dE00 between the paper in the region and the paper
	// round it, print left out.
	MeanDE00 float64
	// Outline is the region's border in pixels of the full picture: the outer
	// ring first, then its holes; rings close by themselves. They are thinned
	// to about a pixel of the working size, so that a hand can move the points.
	Outline [][]Point
	// Why is a sentence that says what the kind was told by.
	Why string
}

// Stains is what FindStains found.
type Stains struct {
	Regions []Region // largest first
	// FacePx is the area of the face in pixels of the full picture, glare
	// left out.
	FacePx float64
	// StainedFraction is the share of the face in all regions but losses, 0 to 1.
	StainedFraction float64
	// Mask is of the picture's size: 255 inside the regions' outlines, else 0.
	Mask *image.Gray
	// Quality judges the picture that was read.
	Quality Quality
	// Notes are sentences about what limits the answer.
	Notes []string
}

// RegionStats is what is read under an outline.
type RegionStats struct {
	AreaPx    float64 // pixels of the full picture
	AreaMM2   float64 // 0 when the scale is unknown
	FaceShare float64 // area as a share of the face, 0 to 1
	// Lab is the mean colour of the paper inside, print left out; Paper that of
	// the paper round it, carried in from all sides.
	Lab, Paper colour.Lab
	// MeanDE00 is the mean of dE00 between the two, place by place.
	MeanDE00 float64
	// BareShare is the part of the area where paper is seen, on which the
	// colours rest; the rest is print or glare.
	BareShare float64
}

// stainSide is the long side of the working size: details of less than a
// fourteen-hundredth of the picture are not looked for.
const stainSide = 1400

// leastSide is the shortest side of a picture in which stains are looked for.
const leastSide = 64

// FindStains finds stains on the sheet in m and names their looks. Losses are
// found where the ground is seen round the sheet, even and of another colour.
// Stains are told by being darker or browner than the paper round them, with
// print taken out, and by having a shore: toning that falls off over a sixth of
// the sheet, or runs along a whole edge of it, is not counted. An outline is
// where the stain has half of its strength. Marks much fainter than the strongest
// are left out, with a note that tells how many.
//
// A picture that is too small or blank is refused with a *Problem; ctx ends the
// work early with its error. The cost is about 40 planes of 4 bytes a pixel at
// a long side of 1400 pixels, and one byte a pixel of the picture for the mask.
func FindStains(ctx context.Context, m *Image, opt StainOptions) (*Stains, error) {
	if min(m.W, m.H) < leastSide {
		return nil, refuse(
			Unsupported,
			"The picture is %d by %d pixels, too small to look for stains; each side should have at least %d.",
			m.W,
			m.H,
			leastSide,
		)
	}
	opt.say(0, "judging the picture")
	out := &Stains{Quality: Measure(m)}
	if out.Quality.Blank {
		return nil, refuse(
			Unsupported,
			"The picture is blank: it shows hardly any contrast, so no stain can be told from the paper.",
		)
	}
	out.Notes = append(out.Notes, out.Quality.Notes...)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	opt.say(0.1, "finding the sheet")
	w, h := m.fit(stainSide)
	l := m.shrink(w, h)
	sheet := sheetFor(m, l, opt.Sheet)
	if sheet.face.count() < leastSide*leastSide/2 {
		return nil, refuse(
			Unsupported,
			"The sheet is too small in the picture to look for stains; it should be at least %d pixels wide.",
			leastSide,
		)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	opt.say(0.25, "taking the print out")
	v := newStainView(l, sheet.face)
	if share := v.coloured(); share > 0.15 {
		out.Notes = append(
			out.Notes,
			fmt.Sprintf(
				"About %.0f %% of the face is printed in colour; stains are found on bare paper, hardly on such print.",
				100*share,
			),
		)
	}
	found := newFinds(w, h)
	for i, step := range []struct {
		doing string
		do    func(*finds)
	}{
		{"looking for spots and lines", v.findSpots},
		{"looking for wide stains", v.findWide},
	} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		opt.say(0.4+0.2*float64(i), step.doing)
		step.do(found)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	opt.say(0.8, "drawing outlines")
	out.Mask = image.NewGray(image.Rect(0, 0, m.W, m.H))
	scale := scaleOf(m, w, h)
	parts, _ := found.mask().components()
	shapes := found.shapes(parts)
	local := v.localPaper(shapes)
	looks, firm, faint := v.looks(shapes, local)
	for i, s := range shapes {
		if firm[i] {
			out.add(s, looks[i], scale, opt)
		}
	}
	for _, s := range sheet.lost {
		out.add(s, v.lookOfLoss(s), scale, opt)
	}
	if faint > 0 {
		out.Notes = append(
			out.Notes,
			fmt.Sprintf(
				"Marks much fainter than the strongest stains were left out: %d; draw round those that matter.",
				faint,
			),
		)
	}
	out.finish(m, sheet, scale)
	opt.say(1, "done")
	return out, nil
}

// add appends a shape as a region, when it holds a pixel of the full picture.
func (s *Stains) add(at shape, l look, scale pixelScale, opt StainOptions) {
	r := Region{Kind: l.kind, Why: l.why, MeanDE00: l.de, Outline: scale.rings(at.rings)}
	if r.AreaPx, r.BBox = fillRings(s.Mask, r.Outline); r.AreaPx == 0 {
		return
	}
	r.AreaMM2 = opt.area(r.AreaPx)
	s.Regions = append(s.Regions, r)
}

// MeasureRegion reads the colour under an outline that a person drew or
// corrected: rings in pixels of the full picture, of which what lies inside an
// odd number belongs to the region, so that holes are left out. The local paper
// colour is carried in from round the region, what is darker there left out.
//
// An outline of fewer than three points, outside the picture or without area is
// refused with a *Problem.
func MeasureRegion(m *Image, outline [][]Point, opt StainOptions) (RegionStats, error) {
	for _, ring := range outline {
		for _, p := range ring {
			if math.IsNaN(p.X+p.Y) || math.IsInf(p.X+p.Y, 0) {
				return RegionStats{}, refuse(
					Unsupported,
					"The outline has a point without a place; each should be two numbers.",
				)
			}
		}
	}
	if len(outline) == 0 || len(outline[0]) < 3 {
		return RegionStats{}, refuse(Unsupported, "The outline has fewer than three points; draw round the region.")
	}
	area := countRings(outline, m.W, m.H)
	if area == 0 {
		return RegionStats{}, refuse(
			Unsupported,
			"The outline holds no pixel of the picture; draw it larger, inside the picture.",
		)
	}
	if min(m.W, m.H) < leastSide {
		return RegionStats{}, refuse(
			Unsupported,
			"The picture is %d by %d pixels, too small to read paper; each side should have at least %d.",
			m.W,
			m.H,
			leastSide,
		)
	}
	w, h := m.fit(stainSide)
	l := m.shrink(w, h)
	sheet := sheetFor(m, l, opt.Sheet)
	scale := scaleOf(m, w, h)
	inside := scale.small(outline, w, h)
	// What a person draws round is looked at even beyond the sheet that was found.
	for i, b := range inside.v {
		sheet.face.v[i] = sheet.face.v[i] || b
	}
	stats := newStainView(l, sheet.face).read(inside)
	stats.AreaPx, stats.AreaMM2 = area, opt.area(area)
	stats.FaceShare = math.Min(1, area/(float64(sheet.face.count())*scale.area()))
	return stats, nil
}
