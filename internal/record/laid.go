package record

import "math"

// PhotoLaid lays a photograph to the millimetre on a face, by where the corners of
// the opened sheet lie in it. The latest for a photograph counts.
type PhotoLaid struct {
	Photo Hash  `json:"photo" say:"the photograph"`
	Place Place `json:"place" say:"the place"`
	// CornersPx are in pixels of the photograph, upright, (0, 0) the middle of its
	// upper left pixel: left at the head, right at the head, right at the tail, left
	// at the tail, as the face is seen with the head up.
	CornersPx [4][2]float64 `json:"corners_px" form:"corners" say:"the corners" as:"raw"`
	By        LaidBy        `json:"by" form:"laid_by" say:"who found the corners"`
}

// Kind is the kind of the entry.
func (PhotoLaid) Kind() Kind { return "photo-laid" }

func (b PhotoLaid) rules(k *check) {
	if b.Photo.IsZero() {
		k.refuse("photo", "Say which photograph is laid.")
	}
	if len(b.Place.Sheets) != 1 || b.Place.Face == "" {
		k.refuse("sheets", "A photograph is laid on one face: name one sheet and its face.")
	}
	if !convex(b.CornersPx) {
		k.refuse("corners", "These are not the corners of a sheet in order: left and right at the head, then right and "+
			"left at the tail.")
	}
}

// convex says whether four corners go round a figure without a dent, as those of a
// flat sheet do from wherever it is seen, clockwise on the screen.
func convex(q [4][2]float64) bool {
	for i := range q {
		a, b, c := q[i], q[(i+1)%4], q[(i+2)%4]
		turn := (b[0]-a[0])*(c[1]-b[1]) - (b[1]-a[1])*(c[0]-b[0])
		if !(turn > 1) || math.IsInf(turn, 0) {
			return false
		}
	}
	return true
}

func (b PhotoLaid) apply(c *Case, s Stamp) error {
	if c.PhotoByHash(b.Photo) == nil {
		return Invalidf("photo", "The photograph that is laid is not in the record.")
	}
	c.Laid = append(c.Laid, Stamped[PhotoLaid]{s, b})
	return c.haveSheets(b.Place.Sheets)
}

// LaidOf is how a photograph was laid on its face, or nil.
func (c *Case) LaidOf(h Hash) *Stamped[PhotoLaid] {
	for i := len(c.Laid) - 1; i >= 0; i-- {
		if c.Laid[i].Body.Photo == h {
			return &c.Laid[i]
		}
	}
	return nil
}
