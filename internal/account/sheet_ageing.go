package account

import (
	"context"
	"fmt"
	"math"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/paper"
)

// AgeingQuestion asks for the expected course in years, without and with the
// tried bath.
type AgeingQuestion struct {
	PHBefore float64 `field:"ph_before" what:"the pH before" from:"3" to:"9"`
	HomeC    float64 `field:"home_c" what:"the temperature" from:"-8" to:"38" unit:"°C" start:"20"`
	HomePct  float64 `field:"home_pct" what:"the humidity" from:"17" to:"68" unit:"%" start:"50"`
	DP       float64 `field:"dp" what:"the degree of polymerisation" from:"450" to:"2000" start:"600"`
	AgeYears float64 `field:"age_years" what:"the age of the paper" from:"1" to:"500" unit:"years" start:"60"`
	Years    float64 `field:"years" what:"the years" from:"1" to:"500" unit:"years" start:"100"`
}

// Ageing is the expected course. Outside the function's domain it gives the
// direction alone: Limit says why, first, and there are no Curves.
type Ageing struct {
	Limit    string
	Headline string
	Figures  []Fact
	Curves   []Curve
	Domain   []string
	Lignin   string
	RestsOn  string
}

// What is not known better: how far a pH, a climate and a degree of
// polymerisation may be off, either way (common practice, no source).
const (
	ageingPH, ageingC, ageingRH, ageingDP = 0.5, 2, 7, 0.3
)

// handled is the degree of polymerisation below which paper can hardly be handled.
const handled = 301

// PHBefore is the pH that a course in years begins with, and where it comes from.
func PHBefore(c *record.Case, sheet int) float64 {
	ph, _ := phBefore(c, sheet)
	return ph
}

func (x *Trial) ageing(ctx context.Context, q AgeingQuestion) (*Ageing, error) {
	out, _, err := x.run(ctx, false)
	if err != nil {
		return nil, err
	}
	climate := paper.Climate{
		TemperatureC: interval.Within(q.HomeC, ageingC), Humidity: interval.Within(q.HomePct, ageingRH).Scale(0.01),
	}
	dp := interval.Range{Low: math.Max(handled, q.DP*(1-ageingDP)), Best: q.DP, High: q.DP * (1 + ageingDP)}
	o := paper.Options{Samples: fullSamples, Seed: 1}
	life, err := LifeOf(&out, q.AgeYears, o)
	if err != nil {
		return nil, err
	}
	y, err := paper.CompareAgeing(x.sheet.Class, interval.Within(q.PHBefore, ageingPH), out.ExtractPH.Range, climate,
		dp, q.Years, life, o)
	if err != nil {
		return nil, err
	}
	_, from := phBefore(x.of, x.n)
	a := AgeingOf(y, life, q.Years)
	a.Lignin, a.RestsOn = x.Lignin, from+" The pH after is that of the tried bath’s dry sheet: "+
		en.Figure(words.PH(out.ExtractPH.Range))+"."
	return a, nil
}

// LifeOf is for how many years the reserve of an outcome lasts against the acid of a
// paper of an age; nil where there is no reserve.
func LifeOf(out *paper.Outcome, ageYears float64, o paper.Options) (*interval.Range, error) {
	r, ok, err := paper.ReserveLife(out.ReserveMolPerKg.Range, out.AcidDemandMmolPerKg.Range, ageYears, o)
	if err != nil || !ok {
		return nil, err
	}
	return &r.Range, nil
}

// AgeingOf says what package paper expects over some years, with the life of the
// reserve; nil: not known.
func AgeingOf(y paper.Ageing, life *interval.Range, years float64) *Ageing {
	a := &Ageing{Domain: y.Domain, Headline: y.Sentence, Limit: strings.Join(y.Outside, " ")}
	if len(y.Outside) > 0 {
		a.Figures = []Fact{said("slower", "After the treatment the fibre’s chains break", string(y.Direction),
			"at the same storage; no amount")}
	} else {
		slower := ranged("slower", "Slower by", y.Slower.Range, "times")
		slower.RestsOn = "with the tried bath, at the same storage, while the reserve lasts"
		a.Figures, a.Curves = []Fact{slower}, []Curve{ageingCurve(y, years)}
	}
	if life != nil {
		f := ranged("reserve-life", "Its reserve lasts, at least", *life, "years")
		f.RestsOn = "against its own acid, if ageing made a quarter to all of what it has now; an estimate, no source"
		a.Figures = append(a.Figures, f)
	}
	return a
}

func ageingCurve(y paper.Ageing, years float64) Curve {
	with, without := Series{Words: "with the bath"}, Series{Words: "without"}
	for _, p := range y.Course {
		with.add(p.Years, p.With)
		without.add(p.Years, p.Without)
	}
	_, high := bounds(with, without)
	return Curve{
		Name: "years", XTitle: "years", YTitle: "DP", X: Axis{To: years}, Y: Axis{To: high},
		Lines: []Series{with, without},
		Says: fmt.Sprintf("Degree of polymerisation with the years: after %s years %s without the bath, %s with it",
			en.Number(years), en.Range(without.last(), ""), en.Range(with.last(), "")),
		Under: "Degree of polymerisation (mean number of links in the fibre’s chains), as the published function " +
			"expects it.",
	}
}
