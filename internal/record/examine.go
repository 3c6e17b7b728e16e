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
	ID       string     `json:"id" form:"stock" say:"the paper" as:"own"`
	Name     string     `json:"name" form:"stock_name" say:"the name of the paper" label:"Name"`
	Class    PaperClass `json:"class" say:"the class"`
	Sheets   []int      `json:"sheets" say:"the sheets" label:"Sheets of this paper"`
	WidthMm  float64    `json:"width_mm" say:"the opened width" in:"20..2000 mm" label:"Width, opened"`
	HeightMm float64    `json:"height_mm" say:"the height" in:"20..2000 mm"`
	// GrammageGM2 in g/m2, with where it comes from.
	GrammageGM2   float64     `json:"grammage_g_m2" say:"the grammage" in:"5..1000 g/m²" label:"Or the grammage"`
	GrammageBasis NumberBasis `json:"grammage_basis" say:"the basis of the grammage" label:"The grammage is"`
	ThicknessUm   *float64    `json:"thickness_um,omitempty" say:"the thickness" in:"5..3000 µm"`
	Grain         Grain       `json:"grain,omitempty" say:"the grain"`
	// PickUpGG is g of liquid held per g of dry paper; absent: from the class.
	PickUpGG *Range `json:"pick_up_g_g,omitempty" say:"the pick-up" in:"0.1..10 g/g"`
	// AcidMmolKg is the acid to be neutralised, in mmol per kg of dry paper;
	// absent: from the class.
	AcidMmolKg *Range `json:"acid_mmol_kg,omitempty" say:"the acid" in:"0..2000 mmol/kg"`
	Note       string `json:"note,omitempty" say:"the note" as:"text"`
}

func (Stock) Kind() Kind { return "stock-described" }

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
	Quantity string  `json:"quantity" say:"the quantity" as:"raw" label:"What"`
	Value    float64 `json:"value" say:"the number read" label:"Read"`
	// Uncertainty is half the width of the range in which the true value lies
	// with about 95 % (k = 2), in the quantity's unit; absent: not stated.
	Uncertainty *float64 `json:"uncertainty,omitempty" say:"the uncertainty" label:"Uncertainty, ±"`
	Method      string   `json:"method" say:"the method"`
	Instrument  string   `json:"instrument,omitempty" say:"the instrument"`
	// Checked says when and how the instrument was last checked.
	Checked string    `json:"checked,omitempty" say:"the check of the instrument" label:"Last checked"`
	Stage   Stage     `json:"stage" say:"the stage"`
	Place   Place     `json:"place,omitzero" say:"the place"`
	At      time.Time `json:"at,omitzero" say:"the time" as:"moment" label:"When"`
	// TempC and HumidityPct are those of the surroundings, where they matter.
	TempC       *float64 `json:"temp_c,omitempty" say:"the temperature" in:"-10..100 °C"`
	HumidityPct *float64 `json:"humidity_pct,omitempty" say:"the humidity of the air" in:"0..100 %"`
	Run         string   `json:"run,omitempty" say:"the run" as:"id"`
	// Position is the marked position that it was read at.
	Position string `json:"position,omitempty" form:"at_position" say:"the position" as:"id" label:"At the position"`
	Note     string `json:"note,omitempty" say:"the note" as:"text"`
}

func (Reading) Kind() Kind { return "reading" }

func (b Reading) rules(k *check) {
	q := QuantityOf(b.Quantity)
	if q == nil {
		k.refuse("quantity", "%q is not a quantity that benchleaf knows.", clip(b.Quantity))
	} else {
		k.number("value", q.Words, b.Value, q.Low, q.High, q.Unit)
		if b.Uncertainty != nil {
			k.number("uncertainty", "the uncertainty", *b.Uncertainty, 0, q.High-q.Low, q.Unit)
		}
	}
}

func (b Reading) apply(c *Case, s Stamp) error {
	c.Readings = append(c.Readings, Stamped[Reading]{s, b})
	if b.Position != "" && c.Position(b.Position) == nil {
		return Invalidf("at_position", "The position that it was read at is not in the record.")
	}
	return first(s.notAfter(b.At), c.haveSheets(b.Place.Sheets), c.haveRun(b.Run))
}

// Staple maps one staple before it moves. A later entry with the same number
// takes its place while the staple is in.
type Staple struct {
	Number     int      `json:"number" form:"staple" say:"the staple's number" in:"1..20" label:"Number, from the head"`
	FromHeadMm float64  `json:"from_head_mm" say:"the distance from the head" in:"0..1500 mm" label:"From the head"`
	CrownMm    *float64 `json:"crown_mm,omitempty" say:"the crown" in:"2..50 mm"`
	WireMm     *float64 `json:"wire_mm,omitempty" say:"the wire" in:"0.1..3 mm"`
	LegMm      *float64 `json:"leg_mm,omitempty" say:"the leg" in:"1..40 mm"`
	Clinch     Clinch   `json:"clinch,omitempty" say:"the clinch"`
	Rust       Rust     `json:"rust" say:"the rust"`
	Photo      Hash     `json:"photo,omitzero" say:"the photograph"`
	Note       string   `json:"note,omitempty" say:"the note" as:"text"`
}

func (Staple) Kind() Kind { return "staple-mapped" }

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
	Number int       `json:"number" form:"staple" say:"the staple" in:"1..20" label:"Which"`
	Act    StapleAct `json:"act" form:"staple_act" say:"what was done" label:"What"`
	At     time.Time `json:"at,omitzero" say:"the time" as:"moment"`
	How    string    `json:"how,omitempty" say:"how it was done" as:"text" label:"How"`
	// Part is the ID of the kept part, when the staple was kept.
	Part string `json:"part,omitempty" say:"the part" as:"id"`
}

func (StapleMoved) Kind() Kind { return "staple-moved" }

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

// SpotTest is one test on one colour of one stock with one liquid.
type SpotTest struct {
	ID     string     `json:"id" form:"test" say:"the test" as:"own"`
	Sort   TestSort   `json:"sort" say:"the test"`
	Colour string     `json:"colour,omitempty" say:"the colour" label:"Colour or ink"`
	Place  Place      `json:"place" say:"the place"`
	Liquid TestLiquid `json:"liquid" say:"the liquid"`
	// Strength as used: "lime water 0.4 g/L", "1 % w/v".
	Strength string     `json:"strength,omitempty" say:"the strength" help:"lime water 0.4 g/L, 1 % w/v"`
	TempC    *float64   `json:"temp_c,omitempty" say:"the temperature" in:"0..80 °C"`
	DwellS   *float64   `json:"dwell_s,omitempty" say:"the dwell" in:"1..86400 s"`
	Result   TestResult `json:"result,omitempty" say:"the result"`
	Change   string     `json:"change,omitempty" say:"the change seen" as:"text" label:"What was seen"`
	// OnlyHere says that the colour is on the sheets named alone, as a mark of a pen or a
	// stamp is: what it does says nothing of the others of their paper.
	OnlyHere bool `json:"only_here,omitempty" say:"on these sheets alone" label:"A mark on these sheets alone"`
	// Consent names who agreed to the taking of a sample, where one was taken.
	Consent string    `json:"consent,omitempty" say:"who agreed to the sample" label:"Who agreed to a sample"`
	At      time.Time `json:"at,omitzero" say:"the time" as:"moment"`
}

func (SpotTest) Kind() Kind { return "spot-test" }

func (b SpotTest) rules(k *check) {
	if (b.Sort == TestSolubility || b.Sort == TestBleach) && b.Colour == "" {
		k.refuse("colour", "Say which colour or ink was tested: each is tested by itself.")
	}
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
	Test   string     `json:"test" say:"the test" as:"id" label:"Spots"`
	Light  Light      `json:"light" say:"the light"`
	Result TestResult `json:"result,omitempty" say:"the result" label:"Result, for all of these"`
	Change string     `json:"change,omitempty" say:"the change seen" as:"text" label:"What was seen"`
	At     time.Time  `json:"at,omitzero" say:"the time" as:"moment"`
}

func (SpotReread) Kind() Kind { return "spot-reread" }

func (b SpotReread) apply(c *Case, s Stamp) error {
	t := c.Test(b.Test)
	if t == nil {
		return Invalidf("test", "The test that was read again is not in the record.")
	}
	t.Rereads = append(t.Rereads, Stamped[SpotReread]{s, b})
	return s.notAfter(b.At)
}
