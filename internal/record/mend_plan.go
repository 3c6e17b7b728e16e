package record

// MendPlan is how the mends of an object are to be made, so that tissue, paste and
// time follow from the map. The latest counts; nothing in it is preset.
type MendPlan struct {
	Tissue string `json:"tissue" say:"the tissue"`
	// TissueGM2 in g/m2.
	TissueGM2    float64   `json:"tissue_g_m2" say:"the tissue weight" in:"0.5..100 g/m²"`
	StripWidthMm float64   `json:"strip_width_mm" say:"the width of a strip" in:"1..50 mm"`
	MarginMm     float64   `json:"margin_mm" say:"the margin" in:"0..20 mm" help:"Beyond the damage"`
	Faces        MendFaces `json:"faces" form:"mend_faces" say:"the faces" label:"Mended on"`
	WastePercent float64   `json:"waste_percent" say:"the waste" in:"0..90 %" help:"Torn edges and offcuts, of what is taken"`
	// PasteGM2 is wet adhesive to the area of tissue laid, in g/m2.
	PasteGM2 *float64 `json:"paste_g_m2,omitempty" say:"the paste" in:"1..2000 g/m²" label:"Wet paste to the tissue"`
	// MinutesEach is the studio's own time for one mend.
	MinutesEach *float64 `json:"minutes_each,omitempty" say:"the time for one mend" in:"0.5..240 min"`
	Note        string   `json:"note,omitempty" say:"the note" as:"text"`
}

// MendFaces says on which faces mends are made.
type MendFaces string

// MendBothFaces: each mend on both.
const MendBothFaces MendFaces = "both"

// MendFacesList are the choices.
var MendFacesList = listOf[MendFaces]([]Choice{{"one", "one face"}, {"both", "both faces"}})

// Kind is the kind of the entry.
func (MendPlan) Kind() Kind { return "mend-plan" }

func (b MendPlan) apply(c *Case, s Stamp) error {
	c.MendPlan = &Stamped[MendPlan]{s, b}
	return nil
}
