package condition

// Drawn is what a hand drew and where on the face: the kinds of damage that it can
// be follow from that.
type Drawn string

const (
	PointInside   Drawn = "point"
	PointAtFold   Drawn = "point at the fold"
	LineInside    Drawn = "line"
	LineFromEdge  Drawn = "line from an edge"
	LineAcross    Drawn = "line from edge to edge"
	LineAlongFold Drawn = "line along the fold"
	Band          Drawn = "strip"
	AreaInside    Drawn = "area"
	AreaAtEdge    Drawn = "area at an edge"
	AreaAtCorner  Drawn = "area at a corner"
)

// SnapMm is how near to an edge or to the fold a drawn point is taken to lie on it:
// about half the width of a fingertip on a face that fills a tablet (ours, no
// source).
const SnapMm = 3

// offers are the kinds that are offered first; common practice, no source.
var offers = map[Drawn][]Term{
	PointInside:   {"puncture", "stain", "foxing", "inscription"},
	PointAtFold:   {"staple hole", "rust migration", "puncture"},
	LineInside:    {"crease", "tear", "bend", "tideline"},
	LineFromEdge:  {"tear", "crease", "tideline", "bend"},
	LineAcross:    {"fold", "crease", "tideline", "tear"},
	LineAlongFold: {"spine split", "fold line wear", "crease", "pressure-sensitive tape"},
	Band:          {"pressure-sensitive tape", "tideline", "tape residue", "prior repair"},
	AreaInside:    {"stain", "loss", "foxing", "surface dirt"},
	AreaAtEdge:    {"loss", "water stain", "edge browning", "stain"},
	AreaAtCorner:  {"loss", "bent or blunted corner", "water stain", "stain"},
}

// Offers lists by what was drawn the kinds that it can be, the likeliest first.
// Every other kind can be chosen too.
func Offers() map[Drawn][]Term { return offers }
