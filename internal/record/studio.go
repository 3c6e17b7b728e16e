package record

import (
	"slices"
	"time"
)

// StudioDetails are what stands on papers, and the rates of the day.
type StudioDetails struct {
	Name         string  `json:"name"`
	Address      string  `json:"address,omitempty"`
	Contact      string  `json:"contact,omitempty"`
	Currency     string  `json:"currency"`
	RateMinor    int64   `json:"rate_minor_per_hour"`
	MinimumMinor int64   `json:"minimum_minor,omitempty"`
	TaxPercent   float64 `json:"tax_percent,omitempty"`
	// PaperSize of printed papers: A4 or Letter.
	PaperSize PaperSize `json:"paper_size"`
}

func (StudioDetails) Kind() Kind { return "studio" }

func (b StudioDetails) Validate() error {
	var k check
	k.line("studio_name", "the studio's name", b.Name)
	k.text("address", "the address", b.Address)
	k.text("contact", "the contact", b.Contact)
	if b.Currency == "" {
		k.refuse("currency", "The currency is missing: three capital letters of ISO 4217, as in EUR.")
	}
	k.currency("currency", b.Currency)
	k.money("rate", "the rate", b.RateMinor, b.Currency)
	k.money("minimum", "the minimum fee", b.MinimumMinor, b.Currency)
	k.number("tax_percent", "the tax", b.TaxPercent, 0, 50, "%")
	k.choice("paper_size", "the paper size", string(b.PaperSize), PaperSizes)
	return k.err()
}

func (b StudioDetails) applyStudio(st *Studio, s Stamp) error {
	st.Details = &b
	return nil
}

// Person is one who works in the studio.
type Person struct {
	Initials string `json:"initials"`
	Name     string `json:"name"`
	Role     string `json:"role,omitempty"`
}

func (Person) Kind() Kind { return "person" }

func (b Person) Validate() error {
	var k check
	k.line("initials", "the initials", b.Initials)
	if len(b.Initials) > 8 {
		k.refuse("initials", "Initials have at most 8 letters.")
	}
	k.line("person_name", "the name", b.Name)
	k.maybeLine("role", "the role", b.Role)
	return k.err()
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
	ID     string    `json:"id"`
	Name   string    `json:"name"`
	Source WaterKind `json:"source"`
	// What is known of it; absent: not known.
	CalciumMgL *float64 `json:"calcium_mg_l,omitempty"`
	// HardnessMgL is total hardness as mg/L CaCO3; AlkalinityMgL is alkalinity
	// as mg/L HCO3.
	HardnessMgL   *float64  `json:"hardness_mg_l,omitempty"`
	AlkalinityMgL *float64  `json:"alkalinity_mg_l,omitempty"`
	PH            *float64  `json:"ph,omitempty"`
	ConductUS     *float64  `json:"conductivity_us_cm,omitempty"`
	Measured      time.Time `json:"measured,omitzero"`
	Note          string    `json:"note,omitempty"`
}

func (WaterSource) Kind() Kind { return "water" }

func (b WaterSource) Validate() error {
	var k check
	k.id("water", "the water", b.ID)
	k.line("water_name", "the name", b.Name)
	k.choice("source", "the source", string(b.Source), WaterSources)
	k.maybe("calcium_mg_l", "the calcium", b.CalciumMgL, 0, 2000, "mg/L")
	k.maybe("hardness_mg_l", "the hardness", b.HardnessMgL, 0, 5000, "mg/L CaCO₃")
	k.maybe("alkalinity_mg_l", "the alkalinity", b.AlkalinityMgL, 0, 5000, "mg/L HCO₃")
	k.maybe("ph", "the pH", b.PH, 0, 14, "")
	k.maybe("conductivity_us_cm", "the conductivity", b.ConductUS, 0, 200_000, "µS/cm")
	k.when("measured", "the date of measurement", b.Measured)
	k.text("note", "the note", b.Note)
	return k.err()
}

func (b WaterSource) applyStudio(st *Studio, s Stamp) error {
	st.Waters = put(st.Waters, b, func(w WaterSource) bool { return w.ID == b.ID })
	return s.notAfter(b.Measured)
}

// Bottle is something prepared or opened, with strength, date, maker, expiry.
type Bottle struct {
	ID        string     `json:"id"`
	Name      string     `json:"name"`
	Substance string     `json:"substance"`
	Form      BottleForm `json:"form"`
	// Strength with its 10 to 90 % range, in Unit.
	Strength  *Range    `json:"strength,omitempty"`
	Unit      string    `json:"unit"`
	VolumeMl  float64   `json:"volume_ml,omitempty"`
	MassG     float64   `json:"mass_g,omitempty"`
	MadeAt    time.Time `json:"made_at"`
	ExpiresAt time.Time `json:"expires_at,omitzero"`
	// ExpiryBasis says why then.
	ExpiryBasis string   `json:"expiry_basis,omitempty"`
	Maker       string   `json:"maker,omitempty"`
	Supplier    string   `json:"supplier,omitempty"`
	Lot         string   `json:"lot,omitempty"`
	From        []Drawn  `json:"from,omitempty"`
	Water       string   `json:"water,omitempty"`
	TempC       *float64 `json:"temp_c,omitempty"`
	// Recipe is the text that was followed; RestsOn what its strength rests on.
	Recipe   []string `json:"recipe,omitempty"`
	RestsOn  string   `json:"rests_on,omitempty"`
	Cautions []string `json:"cautions,omitempty"`
	Warnings []string `json:"warnings,omitempty"`
	Note     string   `json:"note,omitempty"`
}

func (Bottle) Kind() Kind { return "bottle-made" }

func (b Bottle) Validate() error {
	var k check
	k.id("bottle", "the bottle", b.ID)
	k.line("bottle_name", "the name", b.Name)
	k.line("substance", "the substance", b.Substance)
	k.choice("form", "what it is", string(b.Form), BottleForms)
	k.choice("unit", "the unit of the strength", string(b.Unit), StrengthUnits)
	if b.Unit == "pure" && b.Strength != nil {
		k.refuse(
			"unit",
			"A reagent as supplied has no strength of its own: choose a unit, or leave the strength empty.",
		)
	}
	k.maybeRange("strength", "the strength", b.Strength, 0, 2000, "")
	k.number("volume_ml", "the volume", b.VolumeMl, 0, 200_000, "mL")
	k.number("mass_g", "the mass", b.MassG, 0, 200_000, "g")
	if b.VolumeMl == 0 && b.MassG == 0 {
		k.refuse("volume_ml", "Say how much there is: a volume in mL or a mass in g.")
	}
	if b.MadeAt.IsZero() {
		k.refuse("made_at", "The date made or opened is missing.")
	}
	k.when("made_at", "the date made", b.MadeAt)
	k.when("expires_at", "the expiry", b.ExpiresAt)
	if !b.ExpiresAt.IsZero() && b.ExpiresAt.Before(b.MadeAt) {
		k.refuse("expires_at", "The bottle cannot expire before it was made.")
	}
	k.maybeLine("lot", "the lot", b.Lot)
	k.maybeLine("supplier", "the supplier", b.Supplier)
	k.maybe("temp_c", "the temperature", b.TempC, 0, 60, "°C")
	for _, d := range b.From {
		k.number("from", "the volume drawn", d.Ml, 0, 200_000, "mL")
	}
	k.text("note", "the note", b.Note)
	return k.err()
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
	Bottle string  `json:"bottle"`
	Ml     float64 `json:"ml,omitempty"`
	G      float64 `json:"g,omitempty"`
	For    string  `json:"for,omitempty"`
}

func (BottleDrawn) Kind() Kind { return "bottle-drawn" }

func (b BottleDrawn) Validate() error {
	var k check
	k.id("bottle", "the bottle", b.Bottle)
	k.number("ml", "the volume", b.Ml, 0, 200_000, "mL")
	k.number("g", "the mass", b.G, 0, 200_000, "g")
	if b.Ml == 0 && b.G == 0 {
		k.refuse("ml", "Say how much was drawn.")
	}
	k.maybeLine("for", "what for", b.For)
	return k.err()
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
	Bottle   string    `json:"bottle"`
	At       time.Time `json:"at,omitzero"`
	PH       *float64  `json:"ph,omitempty"`
	Strength *Range    `json:"strength,omitempty"`
	LeftMl   *float64  `json:"left_ml,omitempty"`
	How      string    `json:"how"`
}

func (BottleChecked) Kind() Kind { return "bottle-checked" }

func (b BottleChecked) Validate() error {
	var k check
	k.id("bottle", "the bottle", b.Bottle)
	k.when("at", "the time", b.At)
	k.maybe("ph", "the pH", b.PH, 0, 14, "")
	k.maybeRange("strength", "the strength", b.Strength, 0, 2000, "")
	k.maybe("left_ml", "what is left", b.LeftMl, 0, 200_000, "mL")
	k.line("how", "how it was checked", b.How)
	return k.err()
}

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
	Bottle string `json:"bottle"`
	Reason string `json:"reason"`
	To     string `json:"to"`
}

func (BottleEmptied) Kind() Kind { return "bottle-emptied" }

func (b BottleEmptied) Validate() error {
	var k check
	k.id("bottle", "the bottle", b.Bottle)
	k.line("reason", "the reason", b.Reason)
	k.line("to", "where the rest went", b.To)
	return k.err()
}

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
	ID           string  `json:"id"`
	Name         string  `json:"name"`
	CapacityMl   float64 `json:"capacity_ml"`
	GraduationMl float64 `json:"graduation_ml"`
	// ToleranceMl as marked on the glass; 0: one graduation is taken.
	ToleranceMl float64 `json:"tolerance_ml,omitempty"`
	Retired     bool    `json:"retired,omitempty"`
}

func (Glassware) Kind() Kind { return "glassware" }

func (b Glassware) Validate() error {
	var k check
	k.id("glassware", "the vessel", b.ID)
	k.line("glass_name", "the name", b.Name)
	k.number("capacity_ml", "the capacity", b.CapacityMl, 0.1, 20_000, "mL")
	k.number("graduation_ml", "the graduation", b.GraduationMl, 0.001, 5_000, "mL")
	k.number("tolerance_ml", "the tolerance", b.ToleranceMl, 0, 1_000, "mL")
	if b.GraduationMl > b.CapacityMl {
		k.refuse("graduation_ml", "The graduation cannot be larger than the vessel.")
	}
	return k.err()
}

func (b Glassware) applyStudio(st *Studio, s Stamp) error {
	st.Glass = put(st.Glass, b, func(g Glassware) bool { return g.ID == b.ID })
	return nil
}

// Instrument is something that readings are taken with.
type Instrument struct {
	ID   string         `json:"id"`
	Name string         `json:"name"`
	Sort InstrumentSort `json:"sort"`
	// Resolution of the display, in Unit.
	Resolution float64 `json:"resolution,omitempty"`
	Unit       string  `json:"unit,omitempty"`
	Retired    bool    `json:"retired,omitempty"`
}

func (Instrument) Kind() Kind { return "instrument" }

func (b Instrument) Validate() error {
	var k check
	k.id("instrument", "the instrument", b.ID)
	k.line("instrument_name", "the name", b.Name)
	k.choice("instrument_sort", "the sort", string(b.Sort), InstrumentSorts)
	k.number("resolution", "the resolution", b.Resolution, 0, 1000, b.Unit)
	return k.err()
}

func (b Instrument) applyStudio(st *Studio, s Stamp) error {
	st.Instruments = put(st.Instruments, b, func(i Instrument) bool { return i.ID == b.ID })
	return nil
}

// BufferReading is what a pH meter showed in one buffer.
type BufferReading struct {
	NominalPH float64 `json:"nominal_ph"`
	ReadPH    float64 `json:"read_ph"`
}

// InstrumentChecked is a check of an instrument against something known.
type InstrumentChecked struct {
	Instrument string          `json:"instrument"`
	At         time.Time       `json:"at"`
	TempC      *float64        `json:"temp_c,omitempty"`
	Buffers    []BufferReading `json:"buffers,omitempty"`
	Text       string          `json:"text,omitempty"`
}

func (InstrumentChecked) Kind() Kind { return "instrument-checked" }

func (b InstrumentChecked) Validate() error {
	var k check
	k.id("instrument", "the instrument", b.Instrument)
	if b.At.IsZero() {
		k.refuse("at", "The time of the check is missing.")
	}
	k.when("at", "the time", b.At)
	k.maybe("temp_c", "the temperature", b.TempC, 0, 60, "°C")
	if len(b.Buffers) > 3 {
		k.refuse("buffers", "At most three buffers are kept in one check.")
	}
	for _, r := range b.Buffers {
		k.number("buffers", "the buffer's pH", r.NominalPH, 0, 14, "")
		k.number("buffers", "the pH read", r.ReadPH, -2, 16, "")
	}
	k.text("text", "the text", b.Text)
	if len(b.Buffers) == 0 && b.Text == "" {
		k.refuse("text", "Say what it was checked against and what it showed.")
	}
	return k.err()
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
	ID         string    `json:"id"`
	Name       string    `json:"name"`
	Operation  string    `json:"operation"`
	Liquid     string    `json:"liquid,omitempty"`
	PlannedMin float64   `json:"planned_min,omitempty"`
	DueMin     []float64 `json:"due_min,omitempty"`
	Text       string    `json:"text,omitempty"`
	Basis      string    `json:"basis"`
	Retired    bool      `json:"retired,omitempty"`
}

func (Method) Kind() Kind { return "method" }

func (b Method) Validate() error {
	var k check
	k.id("method", "the method", b.ID)
	k.line("method_name", "the name", b.Name)
	k.line("operation", "the operation", b.Operation)
	k.number("planned_min", "the planned time", b.PlannedMin, 0, 60*24*60, "min")
	for _, d := range b.DueMin {
		k.number("due_min", "a due time", d, 0.5, 60*24*60, "min")
	}
	k.text("text", "the text", b.Text)
	k.line("basis", "what the method rests on", b.Basis)
	return k.err()
}

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

// Now is the strength that counts: the latest measured, else as made.
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
