package record

import "time"

// SupplySort is a sort of what stays with or touches an object.
type SupplySort string

var SupplySorts = listOf[SupplySort]([]Choice{
	{"tissue", "repair tissue"}, {"absorbent", "absorbent"}, {"paste", "paste or adhesive"},
	{"web", "support or release web"},
	{"folder", "folder or board"}, {"chemical", "chemical as supplied"}, {"protection", "gloves, masks, filters"},
})

// PhotoActivity is the result of a photographic activity test (ISO 18916).
type PhotoActivity string

const (
	ActivityPassed PhotoActivity = "passed"
	ActivityFailed PhotoActivity = "failed"
)

var PhotoActivities = listOf[PhotoActivity]([]Choice{
	{"passed", "passed"}, {"failed", "failed"}, {"not-tested", "not tested"},
})

// Supply is a batch of a material, as it was delivered or made. A later entry of the
// same batch takes its place.
type Supply struct {
	ID       string     `json:"id" form:"supply" say:"the batch" as:"own"`
	Name     string     `json:"name" form:"supply_name" say:"the name" help:"kozo tissue 3.5 g/m², cotton blotter 350 g/m²"`
	Sort     SupplySort `json:"sort" form:"supply_sort" say:"the sort" label:"What it is"`
	Lot      string     `json:"lot,omitempty" say:"the lot"`
	Supplier string     `json:"supplier,omitempty" say:"the supplier"`
	Left     *float64   `json:"left,omitempty" say:"how much is left" in:"0..1000000" label:"How much is left"`
	Unit     string     `json:"unit,omitempty" form:"left_unit" say:"the unit" help:"sheets, m, g, pairs"`
	// Least is how little may be left before a day starts.
	Least     *float64  `json:"least,omitempty" say:"the least that must be there" in:"0..1000000" label:"Warn below"`
	Came      time.Time `json:"came,omitzero" say:"the day it came" as:"date"`
	ExpiresAt time.Time `json:"expires_at,omitzero" say:"the expiry" as:"date" label:"Good until"`
	// SafetySheet says where the supplier's safety data sheet lies.
	SafetySheet string `json:"safety_sheet,omitempty" say:"where its safety data sheet lies" label:"Safety data sheet lies in"`
	// Activity is the photographic activity test, where it is known, and ActivityBy by
	// whom and when.
	Activity   PhotoActivity `json:"activity,omitempty" say:"the photographic activity test" label:"Activity test (ISO 18916)"`
	ActivityBy string        `json:"activity_by,omitempty" say:"who tested it" label:"Tested by, and when"`
	Retired    bool          `json:"retired,omitempty" say:"used up or no longer used"`
}

func (Supply) Kind() Kind { return "supply" }

func (b Supply) rules(k *check) {
	if (b.Activity == ActivityPassed || b.Activity == ActivityFailed) && b.ActivityBy == "" {
		k.refuse("activity_by", "Say by whom the activity was tested, and when.")
	}
	if b.Left != nil && b.Unit == "" {
		k.refuse("left_unit", "Say in what unit %s is left: sheets, m, g.", num(*b.Left))
	}
}

func (b Supply) applyStudio(st *Studio, s Stamp) error {
	st.Supplies = put(st.Supplies, b, func(x Supply) bool { return x.ID == b.ID })
	return nil
}

// SafetySort is a sort of what happened to a person or went out of the house.
type SafetySort string

var SafetySorts = listOf[SafetySort]([]Choice{
	{"breathed", "breathed in"}, {"skin", "on skin or in an eye"}, {"spilt", "spilt"}, {"cut", "cut or pricked"},
	{"thrown", "thrown away"},
})

// Exposure is an entry of the log of safety: what was breathed, spilt or thrown away,
// by whom and when.
type Exposure struct {
	Sort SafetySort `json:"sort" form:"safety_sort" say:"what happened" label:"What happened"`
	What string     `json:"what" form:"safety_what" say:"the substance" label:"Of what"`
	// Amount in words: "about 20 mL", "four hours".
	Amount string    `json:"amount,omitempty" say:"how much or how long" label:"How much, how long"`
	Who    string    `json:"who" say:"whom it concerns" label:"Who" help:"Initials"`
	At     time.Time `json:"at" say:"the time" as:"moment" label:"When"`
	Wore   string    `json:"wore,omitempty" say:"what was worn" label:"Worn" help:"Gloves, goggles, mask with filter"`
	Done   string    `json:"done,omitempty" form:"safety_done" say:"what was done" as:"text" label:"What was done"`
}

func (Exposure) Kind() Kind { return "exposure" }

func (b Exposure) applyStudio(st *Studio, s Stamp) error {
	st.Exposures = append(st.Exposures, Stamped[Exposure]{s, b})
	return s.notAfter(b.At)
}

// ClimateSample is the air of a room at one moment, as a logger wrote it.
type ClimateSample struct {
	At          time.Time `json:"at"`
	TempC       float64   `json:"temp_c"`
	HumidityPct float64   `json:"humidity_pct"`
}

// mostSamples are those of one file, thinned before: four weeks, one in ten minutes.
const mostSamples = 4032

// RoomClimate is what a logger wrote of a room.
type RoomClimate struct {
	Room    string          `json:"room" say:"the room"`
	Logger  string          `json:"logger" say:"the logger" help:"Its name or number"`
	File    string          `json:"file" say:"the file" as:"raw"`
	Samples []ClimateSample `json:"samples" say:"the samples" as:"raw"`
}

func (RoomClimate) Kind() Kind { return "room-climate" }

func (b RoomClimate) rules(k *check) {
	if len(b.Samples) == 0 || len(b.Samples) > mostSamples {
		k.refuse("climate_file", "Choose a logger's file with 1 to %d samples.", mostSamples)
	}
	for i, x := range b.Samples {
		switch {
		case i > 0 && !x.At.After(b.Samples[i-1].At):
			k.refuse("climate_file", "The samples do not rise in time at %s.", x.At.Format("2006-01-02 15:04"))
			return
		case x.TempC < -30 || x.TempC > 60 || x.HumidityPct < 0 || x.HumidityPct > 100:
			k.refuse("climate_file", "%s °C and %s %% at %s are the air of no room.", num(x.TempC), num(x.HumidityPct),
				x.At.Format("2006-01-02 15:04"))
			return
		}
	}
}

func (b RoomClimate) applyStudio(st *Studio, s Stamp) error {
	st.Climates = append(st.Climates, Stamped[RoomClimate]{s, b})
	return nil
}
