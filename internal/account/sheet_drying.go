package account

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/paper"
)

// DryingQuestion asks how a sheet dries, and what a mend then does.
type DryingQuestion struct {
	Way          string   `field:"way" start:"air"`   // air (on its support), hung or absorbents
	Air          string   `field:"air" start:"still"` // still or moving
	RoomC        float64  `field:"room_c" what:"the temperature of the room" from:"5" to:"40" unit:"°C" start:"20"`
	HumidityPct  float64  `field:"humidity_pct" what:"the humidity of the room" from:"10" to:"85" unit:"%" start:"50"`
	AbsorbentGsm *float64 `field:"absorbent_gsm" what:"the absorbents" from:"20" to:"20000" unit:"g/m²" start:"350"`
	AbsorbentMm  *float64 `field:"absorbent_mm" what:"their thickness" from:"0.05" to:"50" unit:"mm" start:"0.7"`
	MendMm       float64  `field:"mend_mm" what:"the length of the mend" from:"1" to:"2500" unit:"mm" start:"80"`
	MendGrain    string   `field:"mend_grain" start:"cross"` // cross or machine
	TissueGsm    float64  `field:"tissue_gsm" what:"the tissue" from:"1" to:"60" unit:"g/m²" start:"5"`
	// BlottedMin is after how long in air it is blotted; nil: it is not.
	BlottedMin *float64 `field:"blotted_min" what:"the time of blotting" from:"0" to:"1440" unit:"min"`
	// ChangesMin are the changes of absorbents, empty: the usual; Weighings are minutes
	// and grams.
	ChangesMin []float64
	Weighings  [][2]float64

	steady  bool // the air's speed is taken as known
	samples int  // 0: fullSamples
}

// Drying is how it dries, how long it may be mended, and when pressing is done.
type Drying struct {
	Answers    []Fact
	Curves     []Curve
	Changes    []ChangeAt
	Settings   []Setting
	Narrower   string // which measurement would narrow it most, and to what
	Expansions []MendAt
	Tissues    []TissueAt
	Curl       string
	Taken      []Fact // what decides most and was not measured, with its basis
	Warnings   []string
	RestsOn    []string
	Dominant   string
}

// ChangeAt is a change of absorbents: when, what the set before it has taken up, and
// the water that is then in the sheet.
type ChangeAt struct {
	When            string
	Takes, Moisture Fact
}

// Setting is a way of drying, for comparison: when the mending window closes and when
// it is dry.
type Setting struct {
	Name       string
	Until, Dry Fact
}

// TissueAt is what a tissue does to its tear as both dry.
type TissueAt struct {
	How                    string
	Differs, Draws, Radius Fact
}

// MendAt is a mend made at a moisture of the sheet. Bad says that it will pull.
type MendAt struct {
	When, Moisture string
	MismatchMm     Fact
	Says           string
	Bad            bool
}

// How fast the air moves over a sheet, m/s (common practice, no source).
var (
	stillAir  = interval.Range{Low: 0.05, Best: 0.1, High: 0.2}
	movingAir = interval.Range{Low: 0.3, Best: 0.7, High: 1.5}
)

// Drying answers q; what cannot be is said at its field.
func (x *Trial) Drying(q DryingQuestion) (*Drying, []*record.Invalid) {
	var r refusals
	d, field, err := x.dries(q)
	if err != nil {
		r.at(field, err)
		return nil, r
	}
	a := &Drying{
		Answers: DryingFacts(&d, q.Way == "hung"), Dominant: d.Dominant, Warnings: d.Warnings, RestsOn: d.RestsOn,
		Curves: []Curve{dryingCurve(d)}, Taken: TakenFacts(d.Taken),
	}
	for i, at := range d.ChangesMin {
		c := ChangeAt{When: lasting(at)}
		if i < len(d.EachGPerM2) && i < len(d.AtChange) {
			c.Takes, c.Moisture = ranged("takes", "takes up", d.EachGPerM2[i].Range, ""),
				ranged("moisture", "in the sheet", d.AtChange[i].Range, "")
		}
		a.Changes = append(a.Changes, c)
	}
	if err := x.compare(a, q, d); err != nil {
		r.at("way", err)
		return nil, r
	}
	if err := x.mends(a, d, q); err != nil {
		r.at("mend_mm", err)
		return nil, r
	}
	return a, nil
}

// usualAbsorbents stand in where none are asked about: one blotter on a face (common
// practice, no source).
const usualGsm, usualMm = 350.0, 0.7

// compare sets the ways of drying beside each other, in one room, and says what would
// narrow the asked one.
func (x *Trial) compare(a *Drying, q DryingQuestion, asked paper.Drying) error {
	for _, w := range []struct{ name, way, air string }{
		{"open on its support, still room", "air", "still"}, {"open on its support, fan", "air", "moving"},
		{"open on both faces, still room", "hung", "still"}, {"between absorbents under weight", "absorbents", ""},
	} {
		p := q
		p.Way, p.Air, p.Weighings, p.ChangesMin, p.BlottedMin = w.way, w.air, nil, nil, nil
		if p.AbsorbentGsm == nil || p.AbsorbentMm == nil {
			p.AbsorbentGsm, p.AbsorbentMm = some(usualGsm), some(usualMm)
		}
		p.samples = besideSamples
		d, err := asked, error(nil)
		if w.way != q.Way || w.way != "absorbents" && w.air != q.Air {
			d, _, err = x.dries(p)
		}
		if err != nil {
			return err
		}
		a.Settings = append(a.Settings, Setting{
			w.name, span("until", "", d.MendUntilMin.Range, ""), span("dry", "", d.DryMin.Range, ""),
		})
	}
	switch {
	case q.Way == "absorbents":
		a.Narrower = "A set takes nine tenths of what it can in " + en.Range(asked.SetMin.Range, "min") +
			": changing sooner leaves it unused, later gains little. Dry is not flat: benches keep a sheet under " +
			"weight for 1 to 3 days all the same (common practice, no source)."
	case len(q.Weighings) < 2 && x.rate == nil:
		weighed := *x
		weighed.rate = some(interval.Range{Low: 0.95, Best: 1, High: 1.05})
		p := q
		p.steady, p.samples = true, besideSamples
		d, _, err := weighed.dries(p)
		if err != nil {
			return err
		}
		dry := span("dry", "", d.DryMin.Range, "").Figure
		a.Narrower = "The air decides: two weighings of this sheet, ten minutes apart, would make it about " +
			en.Figure(*dry) + " or as much sooner or later as they show."
	}
	return nil
}

// TakenFacts are values that nobody measured, with their basis in words.
func TakenFacts(list []paper.Taken) (facts []Fact) {
	for _, x := range list {
		f := ranged("taken", x.Name, x.Range, strings.Replace(x.Unit, "um", "µm", 1))
		f.Basis, f.RestsOn = Assumed, BasisWords(x.Basis)
		if x.Basis == "read" {
			f.RestsOn = x.Source
		}
		facts = append(facts, f)
	}
	return facts
}

// BasisWords say how a value is known that was not measured.
func BasisWords(basis string) string {
	switch basis {
	case "memory":
		return "from memory, not verified"
	case "read":
		return "as published"
	case "computed":
		return "computed"
	}
	return basis + ", no source"
}

// dries asks package paper; field is where its refusal belongs.
func (x *Trial) dries(q DryingQuestion) (d paper.Drying, field string, err error) {
	o := paper.Options{Samples: fullSamples, Seed: 1, EndsAs: paper.Drained}
	if q.samples > 0 {
		o.Samples = q.samples
	}
	if q.Way == "absorbents" {
		g := orElse(q.AbsorbentGsm, 0)
		a := paper.Absorbents{
			GrammageGsm: interval.Within(g, 0.1*g), ThicknessMm: orElse(q.AbsorbentMm, 0), ChangesMin: q.ChangesMin,
		}
		d, err = paper.DryBetween(x.sheet, a, paper.Celsius(q.RoomC), paper.Humidity(q.HumidityPct/100), o)
		return d, "changes", err
	}
	air := paper.Air{
		TemperatureC: interval.Within(q.RoomC, 1), SpeedMS: stillAir, RateFactor: x.rate,
		Humidity: interval.Range{
			Low: math.Max(5, q.HumidityPct-5), Best: q.HumidityPct, High: math.Min(90, q.HumidityPct+5),
		}.Scale(0.01),
	}
	if q.Air == "moving" {
		air.SpeedMS = movingAir
	}
	if q.steady {
		air.SpeedMS = interval.Exactly(air.SpeedMS.Best)
	}
	if q.BlottedMin != nil {
		if len(q.Weighings) > 0 {
			return d, "blotted_min", errors.New("weighings are taken from the drained sheet on: leave out either them " +
				"or the blotting")
		}
		s := x.sheet
		s.PickUpGPerG = nil // that of the drained sheet
		d, err = paper.DryBlotted(s, air, q.Way != "hung", *q.BlottedMin, o)
		return d, "blotted_min", err
	}
	var weighings []paper.Weighing
	for _, w := range q.Weighings {
		weighings = append(weighings, paper.Weighing{Minutes: w[0], MassG: w[1]})
	}
	d, err = paper.DryInAir(x.sheet, paper.Drained, air, q.Way != "hung", weighings, o)
	return d, "weighings", err
}

// span is a fact of a time, in minutes or hours.
func span(code Code, name string, r interval.Range, rests string) Fact {
	unit, per := "min", 1.0
	if r.Best >= 90 {
		unit, per = "h", 60
	}
	f := ranged(code, name, r.Scale(1/per), unit)
	f.RestsOn = rests
	return f
}

// DryingFacts are how long a sheet may be mended and when it is dry. hung says that
// both its faces are open.
func DryingFacts(d *paper.Drying, hung bool) []Fact {
	end := ranged("end", "Water it keeps", d.EndGPerG.Range, "g/g")
	end.RestsOn = "level with the room"
	from := span("mend-from", "Damp enough to mend from", d.MendFromMin.Range,
		"after it is out of the bath: its gloss is gone; blotted, at once")
	if d.MendFromMin.High < 1 {
		from = said("mend-from", from.Name, "at once", "no liquid stands on it")
	}
	list := []Fact{from}
	list = append(list,
		span("mend-until", "Damp enough to mend until", d.MendUntilMin.Range,
			"after it is out of the bath: it begins to shrink"),
		span("dry", "Dry, pressing may end", d.DryMin.Range, "within 0.01 g/g of its end; weigh it to be sure"), end)
	if d.RateGPerM2H.Best > 0 {
		rate := ranged("rate", "Loses at first", d.RateGPerM2H.Range, "g/m² h")
		if rate.RestsOn = "its one open face"; hung {
			rate.RestsOn = "both faces together"
		}
		list = append(list, rate)
	}
	return list
}

func dryingCurve(d paper.Drying) Curve {
	unit, per := "min", 1.0
	if d.Course[len(d.Course)-1].Minutes > 180 {
		unit, per = "hours", 60
	}
	l := Series{Words: "water in the sheet"}
	for _, m := range d.Course {
		l.add(m.Minutes/per, m.MoistureGPerG)
	}
	_, high := bounds(l)
	return Curve{
		Name: "moisture", XTitle: unit, YTitle: "g/g", Lines: []Series{l}, Y: Axis{To: high},
		X:     Axis{From: l.X[0], To: l.X[len(l.X)-1], Ticks: 5},
		Shade: &Shade{d.MendFromMin.Best / per, d.MendUntilMin.Best / per, "mend"},
		Says: fmt.Sprintf("Water in the sheet with time: from %s down to %s; a mend dries as one with it from %s to %s",
			en.Best(d.StartGPerG.Range, "g/g"), en.Best(d.EndGPerG.Range, "g/g"), lasting(d.MendFromMin.Best),
			lasting(d.MendUntilMin.Best)),
		Under: "Water in the sheet, g per g of dry paper. Shaded: a mend set then dries as one with it.",
	}
}

// closingGG is the moisture at which the window closes, g/g.
var closingGG = paper.ShrinkageOnset.Best

// pulls is the mismatch, in per cent, from which a mend cockles its place (common
// practice, no source).
const pulls = 0.5

// mends says what a mend does that is made at several moistures of the sheet, what its
// tissue does, and how the sheet curls when one face is wetted.
func (x *Trial) mends(a *Drying, d paper.Drying, q DryingQuestion) error {
	end, g, length := d.EndGPerG.Best, paper.Grain(q.MendGrain), paper.Millimetres(q.MendMm)
	for _, m := range []struct {
		when string
		gg   float64
	}{
		{"before the window closes", closingGG}, {"half dry", (closingGG + end) / 2}, {"dry", end},
	} {
		e, err := paper.MendExpansion(x.sheet.Class, m.gg, end, g, length)
		if err != nil {
			return err
		}
		a.Expansions = append(a.Expansions, MendAt{
			When: m.when, Moisture: rough(m.gg), MismatchMm: ranged("mismatch", m.when, e.MismatchMm, ""),
			Says: e.Sentence, Bad: e.MismatchPercent.Best >= pulls,
		})
	}
	o := paper.Options{Samples: fullSamples, Seed: 1}
	for _, w := range []struct {
		how         string
		along, held bool
	}{
		{"grain along the tear", true, false}, {"grain across the tear", false, false},
		{"grain across, under weight at once", false, true},
	} {
		p, err := paper.TissuePull(x.sheet, paper.Tissue{
			GrammageGsm: interval.Within(q.TissueGsm, 0.1*q.TissueGsm), TearRuns: g, GrainAlong: w.along, LengthMm: length,
			Held: w.held,
		}, o)
		if err != nil {
			return err
		}
		a.Tissues = append(a.Tissues, TissueAt{
			w.how, ranged("differs", "", p.DiffersMm.Range, ""), ranged("draws", "", p.DrawsMm.Range, ""),
			ranged("radius", "", p.RadiusMm.Range, ""),
		})
	}
	curl, err := paper.OneFaceCurl(x.sheet, o)
	if err != nil {
		return err
	}
	a.Curl = "Wetted on one face alone the sheet rolls up about its grain, away from the water, to a radius of about " +
		en.Range(curl.Range, "mm") + " until the water is through: mist both faces, or hold it flat."
	for _, dir := range []paper.Grain{paper.Cross, paper.Machine} {
		a.Taken = append(a.Taken, TakenFacts([]paper.Taken{paper.WetGrowth(x.sheet.Class, dir)})...)
	}
	return nil
}

// Settled says whether pressing is at its end by the weighings on record since the
// sheet last lay in a bath, and names them.
func Settled(c *record.Case, sheet int, k words.Clock) (say string, weighed []Fact) {
	var since time.Time
	for _, run := range c.RunsOn(sheet) {
		if run.Body.Bath != nil {
			since = run.Body.At
		}
	}
	var of []record.Reading
	for _, x := range c.Readings {
		if b := x.Body; b.Quantity == "mass" && slices.Equal(b.Place.Sheets, []int{sheet}) && !since.IsZero() &&
			b.At.After(since) {
			of = append(of, b)
		}
	}
	slices.SortFunc(of, func(a, b record.Reading) int { return a.At.Compare(b.At) })
	var list []paper.Weighing
	for _, b := range of {
		list = append(list, paper.Weighing{Minutes: b.At.Sub(of[0].At).Minutes(), MassG: b.Value})
		weighed = append(weighed, Fact{
			Code: "weighed", Name: k.At(b.At), Basis: Measured, RestsOn: b.Method,
			Figure: &words.Figure{Value: b.Value, Unit: "g", Uncertainty: b.Uncertainty},
		})
	}
	_, say, err := paper.Settled(list)
	if err != nil {
		say = "Weigh the sheet twice, a day apart, in steady air: constant within 0.02 g, it is dry. Weighings on " +
			"record since its last bath: " + fmt.Sprint(len(list)) + "."
	}
	return say, weighed
}
