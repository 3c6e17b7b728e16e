package account

import (
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/paper"
)

// WashingQuestion asks what other ways to wash leave in a sheet.
type WashingQuestion struct {
	Minutes    float64 `field:"minutes_each" what:"the minutes" from:"1" to:"1440" unit:"min" start:"10"`
	Changes    int     `field:"changes" what:"the number of changes" from:"1" to:"20" start:"3"`
	WaterMl    float64 `field:"bath_ml" what:"the water of a bath" from:"10" to:"100000" unit:"mL" start:"1000"`
	RunningMl  float64 `field:"running_ml" what:"the running water" from:"10" to:"100000" unit:"mL" start:"1000"`
	BlotterGsm float64 `field:"blotter_gsm" what:"the blotter" from:"100" to:"2000" unit:"g/m²" start:"350"`
	SuctionKPa float64 `field:"suction_kpa" what:"the suction" from:"0.5" to:"90" unit:"kPa" start:"15"`
	TempC      float64 `field:"water_c" what:"the temperature of the water" from:"5" to:"45" unit:"°C" start:"20"`
}

// Washing is what each way to wash leaves of what water dissolves, beside each other.
type Washing struct {
	Ways    []WashedBy
	Wicks   string // how long the sheet takes to wet itself from an edge
	Gel     string // why rigid gels are not computed
	Taken   []Fact
	RestsOn []string
}

// WashedBy is one way to wash.
type WashedBy struct {
	Name, How, Limit     string
	Left, Minutes, Water Fact
}

// Washing answers q; what cannot be is said as an error.
func (x *Trial) Washing(q WashingQuestion) (*Washing, error) {
	a := &Washing{Gel: treatment.RigidGels}
	seen := map[string]bool{}
	for _, way := range paper.WashWays {
		w := paper.Wash{
			Way: way, Minutes: q.Minutes, Changes: q.Changes, WaterMl: q.WaterMl, BlotterGsm: q.BlotterGsm,
			SuctionKPa: q.SuctionKPa, TempC: q.TempC,
		}
		switch way {
		case paper.OnSlant:
			w.Minutes, w.WaterMl = q.Minutes*float64(q.Changes), q.RunningMl
		case paper.OnSuction:
			w.Minutes, w.WaterMl = 0.5, q.RunningMl
		}
		r, err := paper.WashBy(x.sheet, w, paper.Options{Samples: besideSamples, Seed: 1})
		if err != nil {
			return nil, err
		}
		names, f := washNames[way], WashedFacts(&r)
		a.Ways = append(a.Ways, WashedBy{
			Name: names[0], How: names[1], Limit: string(r.Limit), Left: f[0], Minutes: f[1], Water: f[2],
		})
		for _, f := range TakenFacts(r.Taken) {
			if !seen[f.Name] {
				seen[f.Name], a.Taken = true, append(a.Taken, f)
			}
		}
		a.RestsOn = append(a.RestsOn, en.Upper(names[0])+": "+r.RestsOn[1])
		if way == paper.Immersed {
			a.RestsOn = append([]string{r.RestsOn[0]}, a.RestsOn...)
		}
	}
	if h := float64(max(x.sheet.WidthMm, x.sheet.HeightMm)); h >= 1 {
		r := paper.WicksThroughMin(paper.Millimetres(h))
		a.Wicks = "Wet it through first. From one edge an unsized sheet takes about " +
			en.Figure(*span("wick", "", r, "").Figure) + " to wet itself over " + en.Quantity(h, "mm") +
			", a sized one longer, and the wet edge that stands on the way leaves a tide line."
	}
	return a, nil
}

// besideSamples are taken where answers stand beside each other to be compared.
const besideSamples = 150

// leastLeft is the share, per cent, below which washing is not worth a figure: what a
// sheet holds back by other means is then more.
const leastLeft = 0.1

// washNames are the ways to wash, and how each is meant.
var washNames = map[paper.WashWay][2]string{
	paper.Immersed:  {"under water", "both faces, in baths"},
	paper.Floated:   {"afloat", "one face, in baths"},
	paper.OnBlotter: {"on wet blotters", "changed as often"},
	paper.OnSlant:   {"on a slant", "running water, in all as long"},
	paper.OnSuction: {"on a suction table", "drawn through"},
}

// WashName is a way to wash in words.
func WashName(way paper.WashWay) string { return washNames[way][0] }

// WashedFacts are what a washing leaves, how long it takes, and its water.
func WashedFacts(w *paper.Washed) []Fact {
	r := w.LeftPercent.Range
	left := said("left", "Left of what dissolves", "under 0.1"+words.NBSP+"%", "")
	if r.Best >= leastLeft {
		r.Low, r.High = max(r.Low, leastLeft), max(r.High, leastLeft)
		left = ranged("left", left.Name, r, "%")
	}
	left.RestsOn = "held up by " + string(w.Limit)
	return []Fact{left, span("minutes", "Time", w.Minutes.Range, ""), litres(w.WaterMl.Range)}
}

// litres is an amount of water in mL, or in L from one on.
func litres(r interval.Range) Fact {
	if r.Best >= 1000 {
		return ranged("water", "Water", r.Scale(1e-3), "L")
	}
	return ranged("water", "Water", r, "mL")
}
