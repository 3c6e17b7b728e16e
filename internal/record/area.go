package record

import (
	"math"
	"slices"
)

// Limits of one outline.
const (
	maxRings  = 200
	maxPoints = 5000
)

// Ring is a closed line through at least three places, the last joined to the
// first. A ring inside another is a hole in it.
type Ring [][2]float64

// AreaOutlined is an area outlined on a photograph of one face, kept so that
// the same outline can be measured again after treatment.
type AreaOutlined struct {
	ID string `json:"id" form:"area" say:"the area" as:"own"`
	// Photo is the photograph that it was outlined on; Place names its sheet
	// and face.
	Photo Hash     `json:"photo" say:"the photograph"`
	Place Place    `json:"place" say:"the place"`
	Look  AreaLook `json:"look" say:"what it looks like"`
	// FoundBy is one of AreaSources.
	FoundBy AreaSource `json:"found_by" say:"who found it"`
	// OutlinePx is in pixels of the photograph, upright; (0, 0) is the middle
	// of its upper left pixel. OutlineMm is the same from the left edge and the
	// head of the face as seen, where the scale is known.
	OutlinePx []Ring `json:"outline_px" say:"the outline" form:"outline" as:"raw"`
	OutlineMm []Ring `json:"outline_mm,omitempty" say:"the outline in mm" as:"raw"`
	// AreaMm2 has the scale's uncertainty, one standard deviation; ScaleFrom
	// says what the scale rests on.
	AreaMm2            *float64 `json:"area_mm2,omitempty" say:"the area" in:"0..4e6 mm²"`
	AreaUncertaintyMm2 *float64 `json:"area_uncertainty_mm2,omitempty" say:"its uncertainty" in:"0..4e6 mm²"`
	ScaleFrom          string   `json:"scale_from,omitempty" say:"what the scale rests on"`
	// FacePercent is the share of the face.
	FacePercent *float64 `json:"face_percent,omitempty" say:"the share of the face" in:"0..100 %"`
	// StandsOutDE00 is how far its colour lay from the paper round it.
	StandsOutDE00 *float64 `json:"stands_out_de00,omitempty" say:"how far it stands out" in:"0..200"`
	Name          string   `json:"name,omitempty" say:"the name"`
	Note          string   `json:"note,omitempty" say:"the note" as:"text"`
}

func (AreaOutlined) Kind() Kind { return "area-outlined" }

func (b AreaOutlined) rules(k *check) {
	if b.Photo.IsZero() {
		k.refuse("photo", "Say which photograph the area is outlined on.")
	}
	if len(b.Place.Sheets) > 1 {
		k.refuse("sheets", "An area lies on one face: name one sheet.")
	}
	k.outline("outline", b.OutlinePx, 1<<17, "pixels")
	if len(b.OutlineMm) > 0 {
		k.outline("outline_mm", b.OutlineMm, 4000, "mm")
	}
}

// outline checks rings: numbers, within reach of 0, at least three places each.
func (k *check) outline(field string, rings []Ring, most float64, unit string) {
	points := 0
	for _, r := range rings {
		points += len(r)
		if len(r) < 3 {
			k.refuse(field, "An outline needs at least three corners: one has %d.", len(r))
			return
		}
		for _, p := range r {
			for _, v := range p {
				if math.IsNaN(v) || math.Abs(v) > most {
					k.refuse(
						field,
						"A corner of the outline lies at %s: within %s of the picture's corner is possible.",
						num(v),
						quantity(most, unit),
					)
					return
				}
			}
		}
	}
	switch {
	case len(rings) == 0:
		k.refuse(field, "Nothing is outlined: draw round the area, or enter its corners.")
	case len(rings) > maxRings || points > maxPoints:
		k.refuse(
			field,
			"The outline has %d parts with %d corners; at most %d with %d are kept.",
			len(rings),
			points,
			maxRings,
			maxPoints,
		)
	}
}

func (b AreaOutlined) apply(c *Case, s Stamp) error {
	if c.Area(b.ID) != nil {
		return Invalidf("area", "This area is recorded already.")
	}
	c.Areas = append(c.Areas, Area{Stamped: Stamped[AreaOutlined]{s, b}})
	p := c.PhotoByHash(b.Photo)
	if p == nil {
		return Invalidf("photo", "The photograph that the area is outlined on is not in the record.")
	}
	for _, r := range b.OutlinePx {
		for _, q := range r {
			if q[0] < -1 || q[1] < -1 || q[0] > float64(p.Body.WidthPx) || q[1] > float64(p.Body.HeightPx) {
				return Invalidf(
					"outline",
					"A corner of the outline lies at %.0f, %.0f, beside the photograph, which is %d by %d pixels.",
					q[0],
					q[1],
					p.Body.WidthPx,
					p.Body.HeightPx,
				)
			}
		}
	}
	return c.haveSheets(b.Place.Sheets)
}

// AreaCompared is the colour of an outlined area before and after, as measured
// on two photographs laid one on the other. The latest counts.
type AreaCompared struct {
	Area string `json:"area" say:"the area" as:"id"`
	// Before is the photograph that the outline counts on here, After the other.
	Before Hash `json:"before" say:"the photograph before"`
	After  Hash `json:"after" say:"the photograph after"`
	// DE00 is the mean CIEDE2000 difference over the area, as photographed;
	// DE00Trend is the same with the slow trend of the light taken out, as are
	// DL, DA and DB, the mean changes of L*, a* and b*. DE00Uncertainty is one
	// standard deviation.
	DE00            float64 `json:"de00" say:"the difference" in:"0..200"`
	DE00Trend       float64 `json:"de00_trend_removed" say:"the difference without the trend of the light" in:"0..200"`
	DL              float64 `json:"dl" form:"lab" say:"the change of L*" in:"-300..300"`
	DA              float64 `json:"da" form:"lab" say:"the change of a*" in:"-300..300"`
	DB              float64 `json:"db" form:"lab" say:"the change of b*" in:"-300..300"`
	DE00Uncertainty float64 `json:"de00_uncertainty" say:"the uncertainty" in:"0..200"`
	// BeforeLab and AfterLab are the two mean colours, CIELAB under D50.
	BeforeLab [3]float64 `json:"before_lab" form:"lab" say:"the colour before" in:"-300..300"`
	AfterLab  [3]float64 `json:"after_lab" form:"lab" say:"the colour after" in:"-300..300"`
	// StoodOutDE00 and StandsOutDE00 are how far the area lay from the paper
	// round it, before and after, where that could be measured.
	StoodOutDE00  *float64 `json:"stood_out_de00,omitempty" say:"how far it stood out" in:"0..200"`
	StandsOutDE00 *float64 `json:"stands_out_de00,omitempty" say:"how far it stands out" in:"0..200"`
	// Method names the form of the measurement.
	Method string `json:"method" say:"the method"`
}

func (AreaCompared) Kind() Kind { return "area-compared" }

func (b AreaCompared) rules(k *check) {
	if b.Before.IsZero() || b.After.IsZero() || b.Before == b.After {
		k.refuse("photo", "Two photographs are compared: name both.")
	}
}

func (b AreaCompared) apply(c *Case, s Stamp) error {
	a := c.Area(b.Area)
	if a == nil {
		return Invalidf("area", "The area that was measured is not in the record.")
	}
	a.Compared = &Stamped[AreaCompared]{s, b}
	if c.PhotoByHash(b.Before) == nil || c.PhotoByHash(b.After) == nil {
		return Invalidf("photo", "A photograph that the area was measured on is not in the record.")
	}
	return nil
}

// FaceCompared is what two photographs of a face, laid one on the other, show to
// have changed, as a person took it into the record. The latest for a place
// counts.
type FaceCompared struct {
	Before Hash  `json:"before" say:"the photograph before"`
	After  Hash  `json:"after" say:"the photograph after"`
	Place  Place `json:"place" say:"the place"`
	// PaperDE00 is the CIEDE2000 difference of the bare paper's commonest colours,
	// absent where hardly any is bare; the uncertainty is one standard deviation.
	PaperDE00            *float64   `json:"paper_de00,omitempty" say:"the change of the paper" in:"0..200"`
	PaperDE00Uncertainty *float64   `json:"paper_de00_uncertainty,omitempty" say:"its uncertainty" in:"0..200"`
	PaperBeforeLab       [3]float64 `json:"paper_before_lab" form:"lab" say:"the paper's colour before" in:"-300..300"`
	PaperAfterLab        [3]float64 `json:"paper_after_lab" form:"lab" say:"the paper's colour after" in:"-300..300"`
	// DE00 is the median difference over the face as photographed, DE00Trend with
	// the slow trend of the light taken out.
	DE00      float64 `json:"de00" say:"the difference" in:"0..200"`
	DE00Trend float64 `json:"de00_trend_removed" say:"the difference without the trend of the light" in:"0..200"`
	// ResidualPx is the median of what is left between the pictures, in pixels of
	// the before picture; ResidualMm the same where the scale is known.
	ResidualPx float64  `json:"residual_px" say:"what is left between the pictures" in:"0..1000 px"`
	ResidualMm *float64 `json:"residual_mm,omitempty" say:"what is left between the pictures" in:"0..1000 mm"`
	// ComparedPercent is the share of the sheet that was compared.
	ComparedPercent float64 `json:"compared_percent" say:"the share compared" in:"0..100 %"`
	// Colour says what set the colour of the pictures.
	Colour string `json:"colour" say:"what set the colour"`
	// Warnings are the sentences that stood beside the numbers.
	Warnings []string `json:"warnings,omitempty" say:"a warning" as:"text"`
	Method   string   `json:"method" say:"the method"`
}

func (FaceCompared) Kind() Kind { return "face-compared" }

func (b FaceCompared) rules(k *check) {
	if b.Before.IsZero() || b.After.IsZero() || b.Before == b.After {
		k.refuse("photo", "Two photographs are compared: name both.")
	}
}

func (b FaceCompared) apply(c *Case, s Stamp) error {
	if c.PhotoByHash(b.Before) == nil || c.PhotoByHash(b.After) == nil {
		return Invalidf("photo", "A photograph that was compared is not in the record.")
	}
	c.Compared = slices.DeleteFunc(
		c.Compared,
		func(x Stamped[FaceCompared]) bool { return x.Body.Place.String() == b.Place.String() },
	)
	c.Compared = append(c.Compared, Stamped[FaceCompared]{s, b})
	return c.haveSheets(b.Place.Sheets)
}

// Area is an outlined area with its colour before and after, where measured.
type Area struct {
	Stamped[AreaOutlined]
	Compared *Stamped[AreaCompared]
}

// Area finds an outlined area by ID, or nil.
func (c *Case) Area(id string) *Area {
	i := slices.IndexFunc(c.Areas, func(a Area) bool { return a.Body.ID == id })
	if i < 0 {
		return nil
	}
	return &c.Areas[i]
}

// PhotoByHash finds a photograph of the case, or nil.
func (c *Case) PhotoByHash(h Hash) *Stamped[Photo] {
	i := slices.IndexFunc(c.Photos, func(p Stamped[Photo]) bool { return p.Body.Hash == h })
	if i < 0 {
		return nil
	}
	return &c.Photos[i]
}
