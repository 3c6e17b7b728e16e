package record

import (
	"slices"
	"time"
)

// StudioDetails are what stands on papers, and the rates of the day.
type StudioDetails struct {
	Name         string  `json:"name" form:"studio_name" say:"the studio's name" label:"Name"`
	Address      string  `json:"address,omitempty" say:"the address" as:"text"`
	Contact      string  `json:"contact,omitempty" say:"the contact" as:"text" help:"Telephone or mail"`
	Currency     string  `json:"currency" say:"the currency" as:"currency" help:"ISO 4217: EUR, GBP, USD"`
	RateMinor    int64   `json:"rate_minor_per_hour" form:"rate" say:"the rate" as:"money"`
	MinimumMinor int64   `json:"minimum_minor,omitempty" form:"minimum" say:"the minimum fee" as:"money"`
	TaxPercent   float64 `json:"tax_percent,omitempty" say:"the tax" in:"0..50 %"`
	// PaperSize of printed papers: A4 or Letter.
	PaperSize PaperSize `json:"paper_size" say:"the paper size" label:"Paper"`
}

func (StudioDetails) Kind() Kind { return "studio" }

func (b StudioDetails) applyStudio(st *Studio, s Stamp) error {
	st.Details = &b
	return nil
}

// Person is one who works in the studio.
type Person struct {
	Initials string `json:"initials" say:"the initials" help:"They stand beside all that this person writes"`
	Name     string `json:"name" form:"person_name" say:"the name"`
	Role     string `json:"role,omitempty" say:"the role" help:"conservator, assistant"`
}

func (Person) Kind() Kind { return "person" }

func (b Person) rules(k *check) {
	if len(b.Initials) > 8 {
		k.refuse("initials", "Initials have at most 8 letters.")
	}
}

func (b Person) applyStudio(st *Studio, s Stamp) error {
	st.People = put(st.People, b, func(p Person) bool { return p.Initials == b.Initials })
	return nil
}

// put replaces the first of list that same finds, or appends.
func put[T any](list []T, b T, same func(T) bool) []T {
	if i := slices.IndexFunc(list, same); i >= 0 {
		list[i] = b
		return list
	}
	return append(list, b)
}

// WaterSource is a water that baths are made of. A later entry with the same
// ID takes its place.
type WaterSource struct {
	ID     string    `json:"id" form:"water" say:"the water" as:"own"`
	Name   string    `json:"name" form:"water_name" say:"the name" help:"tap, de-ionised can"`
	Source WaterKind `json:"source" say:"the source" label:"What it is"`
	// What is known of it; absent: not known.
	CalciumMgL *float64 `json:"calcium_mg_l,omitempty" say:"the calcium" in:"0..2000 mg/L"`
	// HardnessMgL is total hardness as mg/L CaCO3; AlkalinityMgL is alkalinity
	// as mg/L HCO3.
	HardnessMgL   *float64  `json:"hardness_mg_l,omitempty" say:"the hardness" in:"0..5000 mg/L CaCO₃"`
	AlkalinityMgL *float64  `json:"alkalinity_mg_l,omitempty" say:"the alkalinity" in:"0..5000 mg/L HCO₃"`
	PH            *float64  `json:"ph,omitempty" say:"the pH" in:"0..14" label:"pH"`
	ConductUS     *float64  `json:"conductivity_us_cm,omitempty" say:"the conductivity" in:"0..200000 µS/cm"`
	Measured      time.Time `json:"measured,omitzero" say:"the date of measurement" as:"date" label:"Measured"`
	Note          string    `json:"note,omitempty" say:"the note" as:"text"`
}

func (WaterSource) Kind() Kind { return "water" }

func (b WaterSource) applyStudio(st *Studio, s Stamp) error {
	st.Waters = put(st.Waters, b, func(w WaterSource) bool { return w.ID == b.ID })
	return s.notAfter(b.Measured)
}

// Bottle is something prepared or opened, with strength, date, maker, expiry.
type Bottle struct {
	ID        string     `json:"id" form:"bottle" say:"the bottle" as:"own"`
	Name      string     `json:"name" form:"bottle_name" say:"the name"`
	Substance string     `json:"substance" say:"the substance"`
	Form      BottleForm `json:"form" say:"what it is"`
	// Strength with its 10 to 90 % range, in Unit.
	Strength *Range `json:"strength,omitempty" say:"the strength" in:"0..2000"`
	// Poured is the strength as poured, of what has clouded: Strength is what is
	// left of it in solution.
	Poured    *Range    `json:"poured_strength,omitempty" say:"the strength as poured" in:"0..2000"`
	Unit      string    `json:"unit" say:"the unit of the strength" as:"raw"`
	VolumeMl  float64   `json:"volume_ml,omitempty" say:"the volume" in:"0..200000 mL"`
	MassG     float64   `json:"mass_g,omitempty" say:"the mass" in:"0..200000 g"`
	MadeAt    time.Time `json:"made_at" say:"the date made"`
	ExpiresAt time.Time `json:"expires_at,omitzero" say:"the expiry"`
	// ExpiryBasis says why then.
	ExpiryBasis string   `json:"expiry_basis,omitempty" say:"why it expires then" as:"text"`
	Maker       string   `json:"maker,omitempty" say:"the maker"`
	Supplier    string   `json:"supplier,omitempty" say:"the supplier"`
	Lot         string   `json:"lot,omitempty" say:"the lot"`
	From        []Drawn  `json:"from,omitempty" say:"what it was made from"`
	Water       string   `json:"water,omitempty" say:"the water"`
	TempC       *float64 `json:"temp_c,omitempty" say:"the temperature" in:"0..60 °C"`
	// Vessel that it is kept in, where that was said: "a closed vessel".
	Vessel string `json:"vessel,omitempty" say:"the vessel"`
	// Recipe is the text that was followed; RestsOn what its strength rests on.
	Recipe   []string `json:"recipe,omitempty" say:"the recipe" as:"text"`
	RestsOn  string   `json:"rests_on,omitempty" say:"what its strength rests on" as:"text"`
	Cautions []string `json:"cautions,omitempty" say:"the cautions" as:"text"`
	Warnings []string `json:"warnings,omitempty" say:"the warnings" as:"text"`
	Note     string   `json:"note,omitempty" say:"the note" as:"text"`
}

func (Bottle) Kind() Kind { return "bottle-made" }

func (b Bottle) rules(k *check) {
	k.choice("unit", "the unit of the strength", string(b.Unit), StrengthUnits)
	if b.Unit == "pure" && b.Strength != nil {
		k.refuse(
			"unit",
			"A reagent as supplied has no strength of its own: choose a unit, or leave the strength empty.",
		)
	}
	if b.VolumeMl == 0 && b.MassG == 0 {
		k.refuse("volume_ml", "Say how much there is: a volume in mL or a mass in g.")
	}
	if !b.ExpiresAt.IsZero() && b.ExpiresAt.Before(b.MadeAt) {
		k.refuse("expires_at", "The bottle cannot expire before it was made.")
	}
}

func (b Bottle) applyStudio(st *Studio, s Stamp) error {
	if st.Bottle(b.ID) != nil {
		return Invalidf("bottle", "This bottle is recorded already.")
	}
	st.Bottles = append(st.Bottles, ShelfBottle{Stamped: Stamped[Bottle]{s, b}, LeftMl: b.VolumeMl, LeftG: b.MassG})
	return s.notAfter(b.MadeAt)
}

// BottleDrawn takes some out of a bottle, for a bath or another bottle.
type BottleDrawn struct {
	Bottle string  `json:"bottle" say:"the bottle" as:"id"`
	Ml     float64 `json:"ml,omitempty" say:"the volume" in:"0..200000 mL"`
	G      float64 `json:"g,omitempty" say:"the mass" in:"0..200000 g"`
	For    string  `json:"for,omitempty" say:"what for"`
}

func (BottleDrawn) Kind() Kind { return "bottle-drawn" }

func (b BottleDrawn) rules(k *check) {
	if b.Ml == 0 && b.G == 0 {
		k.refuse("ml", "Say how much was drawn.")
	}
}

func (b BottleDrawn) applyStudio(st *Studio, s Stamp) error {
	x := st.Bottle(b.Bottle)
	if x == nil {
		return Invalidf("bottle", "This bottle is not on the shelf.")
	}
	if x.Emptied != nil {
		return Invalidf("bottle", "The bottle %s has been emptied.", x.Body.Name)
	}
	if b.Ml > 0 && x.Body.VolumeMl == 0 || b.G > 0 && x.Body.MassG == 0 {
		return Invalidf(
			"bottle",
			"The bottle %s is kept by %s, not by the other measure.",
			x.Body.Name,
			map[bool]string{true: "volume", false: "mass"}[x.Body.VolumeMl > 0],
		)
	}
	draw(&x.LeftMl, &x.overMl, b.Ml)
	draw(&x.LeftG, &x.overG, b.G)
	return nil
}

// BottleChecked is a new look at a bottle: its pH, or its strength by titration.
type BottleChecked struct {
	Bottle   string    `json:"bottle" say:"the bottle" as:"id"`
	At       time.Time `json:"at,omitzero" say:"the time" as:"moment"`
	PH       *float64  `json:"ph,omitempty" say:"the pH" in:"0..14"`
	Strength *Range    `json:"strength,omitempty" say:"the strength" in:"0..2000"`
	LeftMl   *float64  `json:"left_ml,omitempty" say:"what is left" in:"0..200000 mL"`
	How      string    `json:"how" say:"how it was checked"`
}

func (BottleChecked) Kind() Kind { return "bottle-checked" }

func (b BottleChecked) applyStudio(st *Studio, s Stamp) error {
	x := st.Bottle(b.Bottle)
	if x == nil {
		return Invalidf("bottle", "This bottle is not on the shelf.")
	}
	x.Checks = append(x.Checks, Stamped[BottleChecked]{s, b})
	if b.LeftMl != nil {
		x.LeftMl = *b.LeftMl
	}
	return s.notAfter(b.At)
}

// BottleEmptied takes a bottle off the shelf and says where the rest went.
type BottleEmptied struct {
	Bottle string `json:"bottle" say:"the bottle" as:"id"`
	Reason string `json:"reason" say:"the reason"`
	To     string `json:"to" say:"where the rest went"`
}

func (BottleEmptied) Kind() Kind { return "bottle-emptied" }

func (b BottleEmptied) applyStudio(st *Studio, s Stamp) error {
	x := st.Bottle(b.Bottle)
	switch {
	case x == nil:
		return Invalidf("bottle", "This bottle is not on the shelf.")
	case x.Emptied != nil:
		return Invalidf("bottle", "The bottle %s is empty already.", x.Body.Name)
	}
	x.Emptied = &Stamped[BottleEmptied]{s, b}
	x.LeftMl, x.LeftG = 0, 0
	return nil
}

// Glassware is a vessel that measures.
type Glassware struct {
	ID           string  `json:"id" form:"glassware" say:"the vessel" as:"own"`
	Name         string  `json:"name" form:"glass_name" say:"the name" help:"500 mL cylinder, big jug"`
	CapacityMl   float64 `json:"capacity_ml" say:"the capacity" in:"0.1..20000 mL" label:"Largest mark"`
	GraduationMl float64 `json:"graduation_ml" say:"the graduation" in:"0.001..5000 mL" label:"From mark to mark"`
	// ToleranceMl as marked on the glass; 0: one graduation is taken.
	ToleranceMl float64 `json:"tolerance_ml,omitempty" say:"the tolerance on the glass" in:"0..1000 mL"`
	Retired     bool    `json:"retired,omitempty" say:"no longer used"`
}

func (Glassware) Kind() Kind { return "glassware" }

func (b Glassware) rules(k *check) {
	if b.GraduationMl > b.CapacityMl {
		k.refuse("graduation_ml", "The graduation cannot be larger than the vessel.")
	}
}

func (b Glassware) applyStudio(st *Studio, s Stamp) error {
	st.Glass = put(st.Glass, b, func(g Glassware) bool { return g.ID == b.ID })
	return nil
}

// Instrument is something that readings are taken with.
type Instrument struct {
	ID   string         `json:"id" form:"instrument" say:"the instrument" as:"own"`
	Name string         `json:"name" form:"instrument_name" say:"the name" help:"pH meter, flat electrode"`
	Sort InstrumentSort `json:"sort" form:"instrument_sort" say:"the sort" label:"What it is"`
	// Resolution of the display, in Unit.
	Resolution float64 `json:"resolution,omitempty" say:"the resolution" in:"0..1000" label:"Last digit that it shows"`
	Unit       string  `json:"unit,omitempty" say:"the unit" help:"Empty: the usual one"`
	Retired    bool    `json:"retired,omitempty" say:"no longer used"`
}

func (Instrument) Kind() Kind { return "instrument" }

func (b Instrument) applyStudio(st *Studio, s Stamp) error {
	st.Instruments = put(st.Instruments, b, func(i Instrument) bool { return i.ID == b.ID })
	return nil
}

// BufferReading is what a pH meter showed in one buffer.
type BufferReading struct {
	NominalPH float64 `json:"nominal_ph" form:"buffers" say:"the buffer's pH" in:"0..14"`
	ReadPH    float64 `json:"read_ph" form:"buffers" say:"the pH read" in:"-2..16"`
}

// InstrumentChecked is a check of an instrument against something known.
type InstrumentChecked struct {
	Instrument string          `json:"instrument" say:"the instrument" as:"id"`
	At         time.Time       `json:"at" say:"the time" as:"moment"`
	TempC      *float64        `json:"temp_c,omitempty" say:"the temperature" in:"0..60 °C"`
	Buffers    []BufferReading `json:"buffers,omitempty" say:"the buffers"`
	Text       string          `json:"text,omitempty" say:"the text" as:"text"`
}

func (InstrumentChecked) Kind() Kind { return "instrument-checked" }

func (b InstrumentChecked) rules(k *check) {
	if len(b.Buffers) > 3 {
		k.refuse("buffers", "At most three buffers are kept in one check.")
	}
	if len(b.Buffers) == 0 && b.Text == "" {
		k.refuse("text", "Say what it was checked against and what it showed.")
	}
}

func (b InstrumentChecked) applyStudio(st *Studio, s Stamp) error {
	if !slices.ContainsFunc(st.Instruments, func(i Instrument) bool { return i.ID == b.Instrument }) {
		return Invalidf("instrument", "This instrument is not in the studio's list.")
	}
	st.Checks = append(st.Checks, Stamped[InstrumentChecked]{s, b})
	return s.notAfter(b.At)
}

// Method is a named operation of the studio's own, with its strengths and
// times. Nothing is prefilled that the studio has not adopted.
type Method struct {
	ID         string    `json:"id" form:"method" say:"the method" as:"own"`
	Name       string    `json:"name" form:"method_name" say:"the name"`
	Operation  string    `json:"operation" say:"the operation"`
	Liquid     string    `json:"liquid,omitempty" say:"the liquid" label:"Liquid and strength"`
	PlannedMin float64   `json:"planned_min,omitempty" say:"the planned time" in:"0..86400 min" label:"Planned"`
	DueMin     []float64 `json:"due_min,omitempty" say:"a due time" in:"0.5..86400 min" label:"Due after"`
	Text       string    `json:"text,omitempty" say:"the text" as:"text" label:"How it is done"`
	Basis      string    `json:"basis" say:"what the method rests on" label:"What it rests on"`
	Retired    bool      `json:"retired,omitempty" say:"no longer used"`
}

func (Method) Kind() Kind { return "method" }

func (b Method) applyStudio(st *Studio, s Stamp) error {
	st.Methods = put(st.Methods, b, func(m Method) bool { return m.ID == b.ID })
	return nil
}

// ShelfBottle is a bottle with what has happened to it.
type ShelfBottle struct {
	Stamped[Bottle]
	LeftMl, LeftG float64
	Checks        []Stamped[BottleChecked]
	Emptied       *Stamped[BottleEmptied]

	overMl, overG float64 // see draw
}

// Expired says whether the bottle is past its date at t.
func (b *ShelfBottle) Expired(t time.Time) bool {
	return !b.Body.ExpiresAt.IsZero() && t.After(b.Body.ExpiresAt)
}

// Clouded says that what was poured has fallen out in part, and that the strength
// is computed from what is left.
func (b *ShelfBottle) Clouded() bool {
	return b.Body.Poured != nil && b.StrengthNow() == b.Body.Strength
}

// StrengthNow is the strength that counts: the latest measured, else as made.
func (b *ShelfBottle) StrengthNow() *Range {
	for _, c := range slices.Backward(b.Checks) {
		if c.Body.Strength != nil {
			return c.Body.Strength
		}
	}
	return b.Body.Strength
}

// Studio is the fold of the studio's own journal.
type Studio struct {
	Journal
	Details     *StudioDetails
	People      []Person
	Waters      []WaterSource
	Bottles     []ShelfBottle
	Glass       []Glassware
	Instruments []Instrument
	Checks      []Stamped[InstrumentChecked]
	Methods     []Method
	Charts      []ChartFile
	Supplies    []Supply
	Exposures   []Stamped[Exposure]
	Climates    []Stamped[RoomClimate]
	// OwnRanges are in order; OwnRangeFor says which counts.
	OwnRanges []Stamped[OwnRange]
	Days      []Stamped[DayPlan] // in order
	Backups   *BackupPlan        // nil: the program keeps no backup by itself
}

// Bottle finds a bottle by ID, or nil.
func (st *Studio) Bottle(id string) *ShelfBottle {
	for i := range st.Bottles {
		if st.Bottles[i].Body.ID == id {
			return &st.Bottles[i]
		}
	}
	return nil
}

// Water finds a water by ID, or nil.
func (st *Studio) Water(id string) *WaterSource {
	for i := range st.Waters {
		if st.Waters[i].ID == id {
			return &st.Waters[i]
		}
	}
	return nil
}

// LastCheck is the latest check of an instrument, or nil.
func (st *Studio) LastCheck(instrument string) *Stamped[InstrumentChecked] {
	for i := len(st.Checks) - 1; i >= 0; i-- {
		if st.Checks[i].Body.Instrument == instrument {
			return &st.Checks[i]
		}
	}
	return nil
}

// PersonNamed gives the name that goes with initials, or the initials.
func (st *Studio) PersonNamed(initials string) string {
	for _, p := range st.People {
		if p.Initials == initials {
			return p.Name
		}
	}
	return initials
}
