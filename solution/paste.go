package solution

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// StarchPaste asks for a cooked paste: Parts.Stock parts of dry starch and
// Parts.Diluent parts of water, by weight, or by volume of the loose powder.
type StarchPaste struct {
	Parts    Parts
	ByVolume bool
	// Yield is how much cooked paste is wanted.
	Yield   Millilitres
	Balance Balance // not needed by volume
	Glass   []Glassware
	Seed    uint64
}

// What cooking does to a paste. All are common practice or memory, wide.
var (
	// starchBulk is the bulk density of loose dry wheat starch, g/mL (memory:
	// powder handbooks give 0.5 to 0.7).
	starchBulk = interval.Range{Low: 0.5, Best: 0.6, High: 0.7}
	// starchMoisture is the water that dry starch holds in a room, g/g (memory).
	starchMoisture = interval.Range{Low: 0.10, Best: 0.12, High: 0.14}
	// cookedAway is the share of the water that cooking drives off (common
	// practice: an open pan, half an hour).
	cookedAway = interval.Range{Low: 0.03, Best: 0.08, High: 0.20}
)

// starchGrain is the density of the starch itself, g/mL (memory).
const starchGrain = 1.5

// Recipe works the recipe out. The strength is dry solids by weight of the
// cooked paste. Errors: parts that make no paste (less than 2 or more than 30
// of water to one of starch), a yield outside 5 mL to 10 L.
func (q StarchPaste) Recipe() (Recipe, error) {
	if err := q.Parts.Check(); err != nil {
		return Recipe{}, err
	}
	water := q.Parts.Diluent / q.Parts.Stock
	if water < 2 || water > 30 {
		return Recipe{}, fmt.Errorf("%s of starch and water makes no paste: take between 1 + 2 and 1 + 30", q.Parts)
	}
	if !(q.Yield >= 5 && q.Yield <= 10_000) {
		return Recipe{}, fmt.Errorf("the paste wanted must be between 5 mL and 10 L, not %g mL", float64(q.Yield))
	}
	starch, err := Find("wheat starch")
	if err != nil {
		return Recipe{}, err
	}
	glass := q.Glass
	if glass == nil {
		glass = UsualGlassware()
	}
	perMl := 1.0 // g of starch for one part, water being 1 g/mL
	if q.ByVolume {
		perMl = starchBulk.Best
	}
	// One part of starch and the water left after cooking make this much paste.
	made := perMl/starchGrain + water*(1-cookedAway.Best)
	part := float64(q.Yield) / made // mL of water for one part
	return q.recipe(starch, glass, part, water)
}

func (q StarchPaste) recipe(starch *Substance, glass []Glassware, part, water float64) (Recipe, error) {
	pour, err := measure(Millilitres(part*water), glass)
	if err != nil {
		return Recipe{}, err
	}
	// The starch follows the water that was poured.
	part = float64(pour.Volume) / water
	r := Recipe{
		Title: fmt.Sprintf(
			"Wheat starch paste, %s by %s, about %s",
			q.Parts,
			q.by(),
			q.Yield.Text(),
		), Substance: starch.Name,
		Form: "adhesive", Wanted: q.Parts.String() + " by " + q.by(), Parts: q.Parts,
	}
	amount := interval.Input{Name: "the weighing"}
	if q.ByVolume {
		powder, err := measure(Millilitres(part), glass)
		if err != nil {
			return Recipe{}, err
		}
		amount = interval.Input{Name: "how loosely the starch lies", Range: starchBulk.Scale(float64(powder.Volume))}
		r.Lines = append(r.Lines, Line{powder.Volume.Text(), "wheat starch, loose", powder.Text() + ", not tapped"})
		r.Draws = append(r.Draws, Draw{Substance: starch.Name, G: Grams(amount.Range.Best)})
	} else {
		if err := q.Balance.Check(); err != nil {
			return Recipe{}, err
		}
		mass, err := q.Balance.weigh(Grams(part), starch)
		if err != nil {
			return Recipe{}, err
		}
		amount.Range = interval.FromStandard(float64(mass), float64(q.Balance.Standard()))
		r.Lines = append(r.Lines, Line{q.Balance.text(mass), "wheat starch", "weigh it"})
		r.Draws = append(r.Draws, Draw{Substance: starch.Name, G: mass})
	}
	r.Lines = append(r.Lines, Line{pour.Volume.Text(), "de-ionised water", pour.Text()})
	r.Draws = append(r.Draws, Draw{Substance: "water", Ml: pour.Volume})
	r.say("Let the starch stand in the water for half an hour.",
		"Cook it slowly, stirring without a pause, until it has thickened, cleared and cooked on for 20 to 30 minutes.",
		"Let it cool covered, then press it through a fine sieve and thin it for use.")
	pours := inputsOf(measured{"the water", pour})
	inputs := append([]interval.Input{amount,
		{Name: "the moisture of the starch", Range: starchMoisture},
		{Name: "the water that cooks away", Range: cookedAway},
	}, pours.inputs...)
	out, err := interval.Study{Seed: q.Seed, Inputs: inputs}.Run(2, func(in, out []float64) {
		left := pours.volume(0, in[3:]) * (1 - math.Min(in[2], 0.9))
		out[0] = 100 * in[0] / (1 + in[1]) / (in[0] + left)
		out[1] = in[0]/starchGrain + left
	})
	if err != nil {
		return Recipe{}, err
	}
	r.Strength = StrengthRange{out[0].Range, PercentWW}
	r.VolumeMl, r.Dominant = out[1].Range, out[0].Sentence()
	r.RestsOn = []string{
		fmt.Sprintf(
			"Starch holds %.0f to %.0f %% moisture; cooking drives off %.0f to %.0f %% of the water (common "+
				"practice, no source).",
			100*starchMoisture.Low,
			100*starchMoisture.High,
			100*cookedAway.Low,
			100*cookedAway.High,
		),
		"Measured with " + pours.names() + ".",
	}
	if q.ByVolume {
		r.RestsOn = append(
			r.RestsOn,
			fmt.Sprintf(
				"Loose starch at %g to %g g/mL (from memory): weighing is surer.",
				starchBulk.Low,
				starchBulk.High,
			),
		)
	}
	r.about(nil, starch)
	return r, nil
}

func (q StarchPaste) by() string {
	if q.ByVolume {
		return "volume"
	}
	return "weight"
}
