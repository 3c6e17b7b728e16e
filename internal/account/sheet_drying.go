package account

import (
	"errors"
	"fmt"
	"math"
	"slices"
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
	// BlottedMin is after how long in air it is blotted; nil: it is not.
	BlottedMin *float64 `field:"blotted_min" what:"the time of blotting" from:"0" to:"1440" unit:"min"`
	// ChangesMin are the changes of absorbents, empty: the best are found;
	// Weighings are minutes and grams.
	ChangesMin []float64
	Weighings  [][2]float64
}

// Drying is how it dries, how long it may be mended, and when pressing is done.
type Drying struct {
	Answers    []Fact
	Curves     []Curve
	Changes    []Fact // named by when
	Expansions []MendAt
	Warnings   []string
	RestsOn    []string
	Dominant   string
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
		Curves: []Curve{dryingCurve(d)},
	}
	for i, at := range d.ChangesMin {
		f := Fact{Code: "change", Name: lasting(at), Basis: Computed}
		if i < len(d.EachGPerM2) {
			f.Figure = some(words.Ranged(d.EachGPerM2[i].Range, ""))
		}
		a.Changes = append(a.Changes, f)
	}
	if err := a.mends(d, paper.Grain(q.MendGrain), q.MendMm); err != nil {
		r.at("mend_mm", err)
		return nil, r
	}
	return a, nil
}

// dries asks package paper; field is where its refusal belongs.
func (x *Trial) dries(q DryingQuestion) (d paper.Drying, field string, err error) {
	o := paper.Options{Samples: fullSamples, Seed: 1, EndsAs: paper.Drained}
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

// Moistures of a sheet that is mended, g/g: damp, and as the window closes.
var dampGG, closingGG = 0.8, paper.ShrinkageOnset.Best

// pulls is the mismatch, in per cent, from which a mend cockles its place (common
// practice, no source).
const pulls = 0.5

// mends says what a mend does that is made at several moistures of the sheet.
func (a *Drying) mends(d paper.Drying, g paper.Grain, lengthMm float64) error {
	end := d.EndGPerG.Best
	for _, m := range []struct {
		when string
		gg   float64
	}{
		{"while it is damp", dampGG}, {"as the window closes", closingGG}, {"half dry", (closingGG + end) / 2},
		{"dry", end},
	} {
		e, err := paper.MendExpansion(m.gg, end, g, paper.Millimetres(lengthMm))
		if err != nil {
			return err
		}
		a.Expansions = append(a.Expansions, MendAt{
			When: m.when, Moisture: rough(m.gg), MismatchMm: ranged("mismatch", m.when, e.MismatchMm, ""),
			Says: e.Sentence, Bad: e.MismatchPercent.Best >= pulls,
		})
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
