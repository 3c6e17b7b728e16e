package paper

// Code names a remark for those who act on it: its text may be reworded.
type Code string

// What an Outcome can warn of.
const (
	GivesHydrogen Code = "gives-hydrogen"
	Caustic       Code = "caustic"
	AcidFalling   Code = "acid-falling"  // a longer bath would take out more
	TakenCovered  Code = "taken-covered" // no depth was given
	AlkaliSpent   Code = "alkali-spent"
	OnTheFloor    Code = "on-the-floor" // does not dissolve
	AcidInHydride Code = "acid-in-hydride"
	HydrideOld    Code = "hydride-old"
	HydrideLeft   Code = "hydride-left"
	TakesCalcium  Code = "takes-calcium"
	GoesCloudy    Code = "goes-cloudy"
	NotCounted    Code = "not-counted"
)

// What an Outcome can conclude.
const (
	NoCapacity     Code = "no-capacity" // the pH of a bath promises more than its alkali
	AcidLeft       Code = "acid-left"
	AcidGone       Code = "acid-gone"
	BorateLeft     Code = "borate-left"
	SodaLeft       Code = "soda-left"
	LigninInLight  Code = "lignin-in-light"
	PermanentPaper Code = "permanent-paper"
)

// Remark is a sentence for a person.
type Remark struct {
	Code Code `json:"code"`
	// Bath that it speaks of, from 1; 0: of the sheet.
	Bath int    `json:"bath,omitempty"`
	Text string `json:"text"`
}
