package record

import (
	"time"

	"benchleaf/interval"
)

// Range is a number with its 10 % and 90 % points, in the journal as
// {"low": 1, "best": 2, "high": 3}.
type Range = interval.Range

func (k *check) maybeRange(field, what string, r *Range, low, high float64, unit string) {
	if r == nil {
		return
	}
	k.number(field, what, r.Low, low, high, unit)
	k.number(field, what, r.High, low, high, unit)
	if r.Low > r.Best || r.Best > r.High {
		k.refuse(
			field,
			"%s must rise from low to best to high; %s, %s, %s does not.",
			upper(what),
			num(r.Low),
			num(r.Best),
			num(r.High),
		)
	}
}

// Stock describes the paper of some sheets: cover and interior apart. A later
// entry with the same ID takes its place.
type Stock struct {
	ID       string     `json:"id"`
	Name     string     `json:"name"`
	Class    PaperClass `json:"class"`
	Sheets   []int      `json:"sheets"`
	WidthMm  float64    `json:"width_mm"`  // opened, across the spine
	HeightMm float64    `json:"height_mm"` // along the spine
	// GrammageGM2 in g/m2, with where it comes from.
	GrammageGM2   float64     `json:"grammage_g_m2"`
	GrammageBasis NumberBasis `json:"grammage_basis"`
	ThicknessUm   *float64    `json:"thickness_um,omitempty"`
	Grain         Grain       `json:"grain"`
	// PickUpGG is g of liquid held per g of dry paper; absent: from the class.
	PickUpGG *Range `json:"pick_up_g_g,omitempty"`
	// AcidMmolKg is the acid to be neutralised, in mmol per kg of dry paper;
	// absent: from the class.
	AcidMmolKg *Range `json:"acid_mmol_kg,omitempty"`
	Note       string `json:"note,omitempty"`
}

func (Stock) Kind() Kind { return "stock-described" }

func (b Stock) Validate() error {
	var k check
	k.id("stock", "the paper", b.ID)
	k.line("stock_name", "the name of the paper", b.Name)
	k.choice("class", "the class", string(b.Class), StockClasses)
	k.needSheets("sheets", b.Sheets)
	k.number("width_mm", "the opened width", b.WidthMm, 20, 2000, "mm")
	k.number("height_mm", "the height", b.HeightMm, 20, 2000, "mm")
	k.number("grammage_g_m2", "the grammage", b.GrammageGM2, 5, 1000, "g/m²")
	k.choice("grammage_basis", "the basis of the grammage", string(b.GrammageBasis), Bases)
	k.maybe("thickness_um", "the thickness", b.ThicknessUm, 5, 3000, "µm")
	k.choice("grain", "the grain", string(b.Grain), Grains)
	k.maybeRange("pick_up_g_g", "the pick-up", b.PickUpGG, 0.1, 10, "g/g")
	k.maybeRange("acid_mmol_kg", "the acid", b.AcidMmolKg, 0, 2000, "mmol/kg")
	k.text("note", "the note", b.Note)
	return k.err()
}

func (b Stock) apply(c *Case, s Stamp) error {
	for i := range c.Stocks {
		if c.Stocks[i].Body.ID == b.ID {
			c.Stocks[i] = Stamped[Stock]{s, b}
			return c.haveSheets(b.Sheets)
		}
	}
	c.Stocks = append(c.Stocks, Stamped[Stock]{s, b})
	return c.haveSheets(b.Sheets)
}

// Quantity is something that is measured, with its unit and the range in which
// a reading can be true.
type Quantity struct {
	Value, Words, Unit string
	Low, High          float64
	// Methods are the ways it is usually measured; the first is offered.
	Methods []string
}

// Quantities that readings may have.
var Quantities = []Quantity{
	{
		"surface-ph",
		"surface pH",
		"",
		0,
		14,
		[]string{"flat electrode on a drop, after a stated time", "indicator strip"},
	},
	{"extract-ph", "cold-extract pH", "", 0, 14, []string{"cold extraction", "micro cold extraction"}},
	{"bath-ph", "bath pH", "", 0, 14, []string{"electrode in the bath", "indicator strip"}},
	{
		"bath-alkali",
		"alkali of the bath",
		"mmol/L",
		0,
		2000,
		[]string{"titration to pH 4.5, alkali in all", "test kit for alkalinity"},
	},
	{"conductivity", "conductivity of the bath", "µS/cm", 0, 200000, []string{"conductivity cell in the bath"}},
	{"bath-temperature", "temperature of the bath", "°C", 0, 60, []string{"thermometer in the bath"}},
	{"calcium", "calcium in the water", "mg/L", 0, 2000, []string{"test strip", "titration"}},
	{"hardness", "hardness of the water", "mg/L CaCO₃", 0, 5000, []string{"test strip", "titration"}},
	{"mass", "mass", "g", 0, 5000, []string{"balance"}},
	{"thickness", "thickness", "µm", 1, 20000, []string{"micrometer"}},
	{"height", "height", "mm", 1, 2000, []string{"rule", "calliper"}},
	{"width", "width", "mm", 1, 2000, []string{"rule", "calliper"}},
	{"reserve", "alkaline reserve", "% CaCO₃", 0, 50, []string{"titration of a test sheet"}},
	{"lightness", "lightness L*", "", 0, 100, []string{"spectrophotometer, D50, 2°", "photograph with target"}},
	{"b-star", "yellow to blue b*", "", -128, 128, []string{"spectrophotometer, D50, 2°", "photograph with target"}},
	{"air-temperature", "temperature of the air", "°C", -10, 60, []string{"thermometer"}},
	{"humidity", "relative humidity of the air", "%", 0, 100, []string{"hygrometer"}},
}

// QuantityOf finds a quantity by value, or nil.
func QuantityOf(value string) *Quantity {
	for i := range Quantities {
		if Quantities[i].Value == value {
			return &Quantities[i]
		}
	}
	return nil
}

// Reading is one number measured, with instrument, method and uncertainty.
// Its unit is that of its quantity.
type Reading struct {
	Quantity string  `json:"quantity"`
	Value    float64 `json:"value"`
	// Uncertainty is half the width of the range in which the true value lies
	// with about 95 % (k = 2), in the quantity's unit; absent: not stated.
	Uncertainty *float64 `json:"uncertainty,omitempty"`
	Method      string   `json:"method"`
	Instrument  string   `json:"instrument,omitempty"`
	// Checked says when and how the instrument was last checked.
	Checked string    `json:"checked,omitempty"`
	Stage   Stage     `json:"stage"`
	Place   Place     `json:"place,omitzero"`
	At      time.Time `json:"at,omitzero"`
	// TempC and HumidityPct are those of the surroundings, where they matter.
	TempC       *float64 `json:"temp_c,omitempty"`
	HumidityPct *float64 `json:"humidity_pct,omitempty"`
	Run         string   `json:"run,omitempty"`
	Note        string   `json:"note,omitempty"`
}

func (Reading) Kind() Kind { return "reading" }

func (b Reading) Validate() error {
	var k check
	q := QuantityOf(b.Quantity)
	if q == nil {
		k.refuse("quantity", "%q is not a quantity that benchleaf knows.", clip(b.Quantity))
	} else {
		k.number("value", q.Words, b.Value, q.Low, q.High, q.Unit)
		k.maybe("uncertainty", "the uncertainty", b.Uncertainty, 0, q.High-q.Low, q.Unit)
	}
	k.line("method", "the method", b.Method)
	k.maybeLine("instrument", "the instrument", b.Instrument)
	k.maybeLine("checked", "the check of the instrument", b.Checked)
	k.choice("stage", "the stage", string(b.Stage), Stages)
	b.Place.check(&k)
	k.when("at", "the time", b.At)
	k.maybe("temp_c", "the temperature", b.TempC, -10, 100, "°C")
	k.maybe("humidity_pct", "the relative humidity", b.HumidityPct, 0, 100, "%")
	k.maybeID("run", "the run", b.Run)
	k.text("note", "the note", b.Note)
	return k.err()
}

func (b Reading) apply(c *Case, s Stamp) error {
	c.Readings = append(c.Readings, Stamped[Reading]{s, b})
	return first(s.notAfter(b.At), c.haveSheets(b.Place.Sheets), c.haveRun(b.Run))
}

// MakeUp is the nest of sheets as the object should have it.
type MakeUp struct {
	InnerSheets int        `json:"inner_sheets"`
	Cover       CoverState `json:"cover"`
	Binding     Binding    `json:"binding"`
	// FirstPage is the position number of the first inner page's printed
	// number; 1 unless the publisher counted otherwise.
	FirstPage int `json:"first_page"`
	// Printed lists pages whose printed number is not their position.
	Printed []PrintedPage `json:"printed,omitempty"`
	// Inserts are things bound or laid in that are not part of the nest.
	Inserts []Insert `json:"inserts,omitempty"`
	Note    string   `json:"note,omitempty"`
}

// PrintedPage is a page whose printed number differs: empty when unnumbered.
type PrintedPage struct {
	Position int    `json:"position"`
	Printed  string `json:"printed"`
}

// Insert stands after a page position.
type Insert struct {
	AfterPage int    `json:"after_page"`
	What      string `json:"what"`
}

func (MakeUp) Kind() Kind { return "make-up" }

func (b MakeUp) Validate() error {
	var k check
	if b.InnerSheets < 1 || b.InnerSheets > MaxSheets {
		k.refuse(
			"inner_sheets",
			"The make-up cannot have %d inner sheets: 1 to %d is possible.",
			b.InnerSheets,
			MaxSheets,
		)
	}
	k.choice("cover", "the cover", string(b.Cover), Covers)
	k.choice("binding", "the binding", string(b.Binding), Bindings)
	if b.FirstPage < -1000 || b.FirstPage > 10000 {
		k.refuse("first_page", "The first page cannot carry the number %d: -1000 to 10000 is possible.", b.FirstPage)
	}
	seen := map[int]bool{}
	for _, p := range b.Printed {
		if p.Position < 1 || p.Position > 4*b.InnerSheets {
			k.refuse(
				"printed",
				"There is no page at position %d: %d inner sheets have pages 1 to %d.",
				p.Position,
				b.InnerSheets,
				4*b.InnerSheets,
			)
		}
		if seen[p.Position] {
			k.refuse("printed", "Page position %d is named twice.", p.Position)
		}
		seen[p.Position] = true
		k.maybeLine("printed", "the printed number", p.Printed)
	}
	for _, i := range b.Inserts {
		if i.AfterPage < 0 || i.AfterPage > 4*b.InnerSheets {
			k.refuse(
				"inserts",
				"An insert cannot stand after page position %d: 0 to %d is possible.",
				i.AfterPage,
				4*b.InnerSheets,
			)
		}
		k.line("inserts", "what is inserted", i.What)
	}
	k.text("note", "the note", b.Note)
	return k.err()
}

func (b MakeUp) apply(c *Case, s Stamp) error {
	c.MakeUp = &Stamped[MakeUp]{s, b}
	// Entries that came before named sheets of the former make-up.
	for _, n := range c.named {
		if err := c.haveSheets([]int{n}); err != nil {
			return Invalidf(
				"inner_sheets",
				"The record already names %s, which this make-up does not have.",
				SheetName(n),
			)
		}
	}
	return nil
}

// SheetState says how one sheet stands in the object. The latest counts.
type SheetState struct {
	Sheet int            `json:"sheet"`
	State SheetCondition `json:"state"`
	Leaf  Leaf           `json:"leaf,omitempty"`
	// Basis is what a judgement such as "from another copy" rests on.
	Basis string `json:"basis,omitempty"`
}

func (SheetState) Kind() Kind { return "sheet-state" }

func (b SheetState) Validate() error {
	var k check
	k.sheets("sheet", []int{b.Sheet})
	k.choice("sheet_state", "the state of the sheet", string(b.State), SheetConditions)
	k.maybeChoice("leaf", "the leaf", string(b.Leaf), Leaves)
	k.maybeLine("basis", "the basis", b.Basis)
	if b.State == SheetHalf && b.Leaf != LeafFirst && b.Leaf != LeafSecond {
		k.refuse("leaf", "Say which leaf is missing: the first or the second.")
	}
	if b.State == SheetMarried && b.Basis == "" {
		k.refuse("basis", "That a sheet comes from another copy is an inference: say what it rests on.")
	}
	return k.err()
}

func (b SheetState) apply(c *Case, s Stamp) error {
	c.SheetStates[b.Sheet] = Stamped[SheetState]{s, b}
	return c.haveSheets([]int{b.Sheet})
}

// Staple maps one staple before it moves. A later entry with the same number
// takes its place while the staple is in.
type Staple struct {
	Number     int      `json:"number"`
	FromHeadMm float64  `json:"from_head_mm"`
	CrownMm    *float64 `json:"crown_mm,omitempty"`
	WireMm     *float64 `json:"wire_mm,omitempty"`
	LegMm      *float64 `json:"leg_mm,omitempty"`
	Clinch     Clinch   `json:"clinch,omitempty"`
	Rust       Rust     `json:"rust"`
	Photo      Hash     `json:"photo,omitzero"`
	Note       string   `json:"note,omitempty"`
}

func (Staple) Kind() Kind { return "staple-mapped" }

func (b Staple) Validate() error {
	var k check
	if b.Number < 1 || b.Number > 20 {
		k.refuse("staple", "Staples are numbered 1 to 20 from the head; %d is not possible.", b.Number)
	}
	k.number("from_head_mm", "the distance from the head", b.FromHeadMm, 0, 1500, "mm")
	k.maybe("crown_mm", "the crown", b.CrownMm, 2, 50, "mm")
	k.maybe("wire_mm", "the wire", b.WireMm, 0.1, 3, "mm")
	k.maybe("leg_mm", "the leg", b.LegMm, 1, 40, "mm")
	k.maybeChoice("clinch", "the clinch", string(b.Clinch), Clinches)
	k.choice("rust", "the rust", string(b.Rust), Rusts)
	k.text("note", "the note", b.Note)
	return k.err()
}

func (b Staple) apply(c *Case, s Stamp) error {
	if st := c.Staple(b.Number); st != nil {
		if len(st.Moves) > 0 {
			return Invalidf(
				"staple",
				"Staple %d has been moved since it was mapped: correct the earlier entry instead.",
				b.Number,
			)
		}
		st.Stamped = Stamped[Staple]{s, b}
		return nil
	}
	c.Staples = append(c.Staples, MappedStaple{Stamped: Stamped[Staple]{s, b}})
	return nil
}

// StapleMoved says that a mapped staple was taken out or put back.
type StapleMoved struct {
	Number int       `json:"number"`
	Act    StapleAct `json:"act"`
	At     time.Time `json:"at,omitzero"`
	How    string    `json:"how,omitempty"`
	// Part is the ID of the kept part, when the staple was kept.
	Part string `json:"part,omitempty"`
}

func (StapleMoved) Kind() Kind { return "staple-moved" }

func (b StapleMoved) Validate() error {
	var k check
	k.choice("staple_act", "what was done", string(b.Act), StapleActs)
	k.when("at", "the time", b.At)
	k.text("how", "how it was done", b.How)
	k.maybeID("part", "the part", b.Part)
	return k.err()
}

func (b StapleMoved) apply(c *Case, s Stamp) error {
	st := c.Staple(b.Number)
	if st == nil {
		return Invalidf("staple", "Staple %d is not on the map: map it before it moves.", b.Number)
	}
	out := st.Out()
	switch {
	case b.Act == StapleRemoved && out:
		return Invalidf("staple_act", "Staple %d is out already.", b.Number)
	case b.Act != StapleRemoved && !out:
		return Invalidf("staple_act", "Staple %d was never taken out.", b.Number)
	}
	st.Moves = append(st.Moves, Stamped[StapleMoved]{s, b})
	return s.notAfter(b.At)
}

// Collation compares what is there with what should be there.
type Collation struct {
	When          CollationTime `json:"when"`
	At            time.Time     `json:"at,omitzero"`
	SheetsCounted int           `json:"sheets_counted"`
	InOrder       bool          `json:"in_order"`
	CreepMm       *float64      `json:"creep_mm,omitempty"`
	Findings      string        `json:"findings,omitempty"`
}

func (Collation) Kind() Kind { return "collation" }

func (b Collation) Validate() error {
	var k check
	k.choice("collation_when", "when it was collated", string(b.When), CollationTimes)
	k.when("at", "the time", b.At)
	if b.SheetsCounted < 0 || b.SheetsCounted > MaxSheets+1 {
		k.refuse("sheets_counted", "%d sheets cannot be counted: 0 to %d is possible.", b.SheetsCounted, MaxSheets+1)
	}
	k.maybe("creep_mm", "the creep", b.CreepMm, 0, 50, "mm")
	k.text("findings", "the findings", b.Findings)
	return k.err()
}

func (b Collation) apply(c *Case, s Stamp) error {
	c.Collations = append(c.Collations, Stamped[Collation]{s, b})
	return s.notAfter(b.At)
}

// Damage is one damage: what, where, how much, how grave, from what, active or
// not, each apart. Kind is a term of package condition's vocabulary.
type Damage struct {
	ID   string `json:"id"`
	Term string `json:"term"`
	// Place.Sheets are the sheets that the damage runs through, outermost
	// first; more than one only when it runs through them.
	Place Place `json:"place"`
	// Through says that it shows on both faces of each sheet.
	Through bool `json:"through,omitempty"`
	// XMm, YMm is a point of it on the face, from the face's left edge and
	// head, as seen.
	XMm      *float64   `json:"x_mm,omitempty"`
	YMm      *float64   `json:"y_mm,omitempty"`
	LengthMm *float64   `json:"length_mm,omitempty"`
	WidthMm  *float64   `json:"width_mm,omitempty"`
	AreaMm2  *float64   `json:"area_mm2,omitempty"`
	Count    *int       `json:"count,omitempty"`
	Severity Severity   `json:"severity"`
	Cause    string     `json:"cause,omitempty"`
	CauseIs  CauseBasis `json:"cause_is"`
	Active   Activity   `json:"active"`
	Note     string     `json:"note,omitempty"`
}

func (Damage) Kind() Kind { return "damage" }

func (b Damage) Validate() error {
	var k check
	k.id("damage", "the damage", b.ID)
	k.line("term", "the kind of damage", b.Term)
	b.Place.check(&k)
	k.maybe("x_mm", "the place across", b.XMm, 0, 2000, "mm")
	k.maybe("y_mm", "the place down", b.YMm, 0, 2000, "mm")
	k.maybe("length_mm", "the length", b.LengthMm, 0.1, 10000, "mm")
	k.maybe("width_mm", "the width", b.WidthMm, 0.05, 2000, "mm")
	k.maybe("area_mm2", "the area", b.AreaMm2, 0.01, 4e6, "mm²")
	if b.Count != nil && (*b.Count < 1 || *b.Count > 10000) {
		k.refuse("count", "A count of %d is not possible: 1 to 10000 is.", *b.Count)
	}
	k.choice("severity", "the severity", string(b.Severity), Severities)
	k.choice("cause_is", "how the cause is known", string(b.CauseIs), CauseBases)
	k.choice("active", "whether it is active", string(b.Active), Activities)
	k.maybeLine("cause", "the cause", b.Cause)
	k.text("note", "the note", b.Note)
	if b.Cause == "" && b.CauseIs != CauseUnknown {
		k.refuse("cause", "Say the cause, or choose that it is not known.")
	}
	return k.err()
}

func (b Damage) apply(c *Case, s Stamp) error {
	if c.DamageByID(b.ID) != nil {
		return Invalidf("damage", "This damage is recorded already.")
	}
	c.Damages = append(c.Damages, FoundDamage{Stamped: Stamped[Damage]{s, b}})
	if err := c.haveSheets(b.Place.Sheets); err != nil {
		return err
	}
	return c.fitsSheets(b)
}

// fitsSheets checks sizes against the paper of the sheets, where it is known.
func (c *Case) fitsSheets(b Damage) error {
	for _, n := range b.Place.Sheets {
		st := c.StockOf(n)
		if st == nil {
			continue
		}
		w, h := st.WidthMm, st.HeightMm
		switch {
		case b.XMm != nil && *b.XMm > w:
			return Invalidf("x_mm", "%s mm lies beyond %s, which is %s mm wide.", num(*b.XMm), SheetName(n), num(w))
		case b.YMm != nil && *b.YMm > h:
			return Invalidf("y_mm", "%s mm lies beyond %s, which is %s mm high.", num(*b.YMm), SheetName(n), num(h))
		case b.AreaMm2 != nil && *b.AreaMm2 > w*h:
			return Invalidf(
				"area_mm2",
				"%s mm² is more than the whole of %s (%s mm²).",
				num(*b.AreaMm2),
				SheetName(n),
				num(w*h),
			)
		}
	}
	return nil
}

// DamageAfter says how a damage stands after treatment. The latest counts.
type DamageAfter struct {
	Damage  string        `json:"damage"`
	Outcome DamageOutcome `json:"outcome"`
	Text    string        `json:"text,omitempty"`
}

func (DamageAfter) Kind() Kind { return "damage-after" }

func (b DamageAfter) Validate() error {
	var k check
	k.id("damage", "the damage", b.Damage)
	k.choice("damage_outcome", "how it stands", string(b.Outcome), DamageOutcomes)
	k.text("text", "the text", b.Text)
	return k.err()
}

func (b DamageAfter) apply(c *Case, s Stamp) error {
	d := c.DamageByID(b.Damage)
	if d == nil {
		return Invalidf("damage", "This damage is not in the record.")
	}
	d.After = &Stamped[DamageAfter]{s, b}
	return nil
}

// SpotTest is one test on one colour of one stock with one liquid.
type SpotTest struct {
	ID     string     `json:"id"`
	Sort   TestSort   `json:"sort"`
	Colour string     `json:"colour,omitempty"`
	Place  Place      `json:"place"`
	Liquid TestLiquid `json:"liquid"`
	// Strength as used: "lime water 0.4 g/L", "1 % w/v".
	Strength string     `json:"strength,omitempty"`
	TempC    *float64   `json:"temp_c,omitempty"`
	DwellS   *float64   `json:"dwell_s,omitempty"`
	Result   TestResult `json:"result"`
	Change   string     `json:"change,omitempty"`
	// Consent names who agreed to the taking of a sample, where one was taken.
	Consent string    `json:"consent,omitempty"`
	At      time.Time `json:"at,omitzero"`
}

func (SpotTest) Kind() Kind { return "spot-test" }

func (b SpotTest) Validate() error {
	var k check
	k.id("test", "the test", b.ID)
	k.choice("sort", "the test", string(b.Sort), TestSorts)
	k.maybeLine("colour", "the colour", b.Colour)
	b.Place.check(&k)
	k.choice("liquid", "the liquid", string(b.Liquid), TestLiquids)
	k.maybeLine("strength", "the strength", b.Strength)
	k.maybe("temp_c", "the temperature", b.TempC, 0, 80, "°C")
	k.maybe("dwell_s", "the dwell", b.DwellS, 1, 86400, "s")
	k.choice("result", "the result", string(b.Result), TestResults)
	k.text("change", "the change seen", b.Change)
	k.maybeLine("consent", "who agreed to the sample", b.Consent)
	k.when("at", "the time", b.At)
	if (b.Sort == TestSolubility || b.Sort == TestBleach) && b.Colour == "" {
		k.refuse("colour", "Say which colour or ink was tested: each is tested by itself.")
	}
	return k.err()
}

func (b SpotTest) apply(c *Case, s Stamp) error {
	if c.Test(b.ID) != nil {
		return Invalidf("test", "This test is recorded already.")
	}
	c.Tests = append(c.Tests, Test{Stamped: Stamped[SpotTest]{s, b}})
	return first(s.notAfter(b.At), c.haveSheets(b.Place.Sheets))
}

// SpotReread is a second look at a test's spot, after full drying or under UV.
type SpotReread struct {
	Test   string     `json:"test"`
	Light  Light      `json:"light"`
	Result TestResult `json:"result"`
	Change string     `json:"change,omitempty"`
	At     time.Time  `json:"at,omitzero"`
}

func (SpotReread) Kind() Kind { return "spot-reread" }

func (b SpotReread) Validate() error {
	var k check
	k.id("test", "the test", b.Test)
	k.choice("light", "the light", string(b.Light), Lights)
	k.choice("result", "the result", string(b.Result), TestResults)
	k.text("change", "the change seen", b.Change)
	k.when("at", "the time", b.At)
	return k.err()
}

func (b SpotReread) apply(c *Case, s Stamp) error {
	t := c.Test(b.Test)
	if t == nil {
		return Invalidf("test", "The test that was read again is not in the record.")
	}
	t.Rereads = append(t.Rereads, Stamped[SpotReread]{s, b})
	return s.notAfter(b.At)
}
