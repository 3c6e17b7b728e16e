package solution

import (
	"fmt"

	"benchleaf/interval"
)

// LimeFromStock asks for lime water from a stock that stands over its own
// solid, without a balance.
type LimeFromStock struct {
	// StockTemp is the temperature that the stock has stood at, 0 to 50 °C.
	StockTemp Celsius
	// TempWithin is how far off it may be, either way; 0 means 1 °C.
	TempWithin Celsius
	// Saturation is the share of full saturation that the stock holds, 0 to 1; a
	// stock that was not shaken, or has taken up air, holds less. Zero means 0.95
	// to 1, best 1 (common practice, no source: shaken, settled, kept closed).
	Saturation interval.Range
	// Titrated is the stock's strength as measured, when it was: it takes the
	// place of solubility and temperature.
	Titrated *StrengthRange
	// StockName is the bottle's name; "" means "lime water stock".
	StockName string
	// StockLeft is what there is of it; 0 when not known.
	StockLeft Millilitres
	// Want is the strength or the dilution; Volume how much of it.
	Want   Wanted
	Volume Millilitres
	// Glass measures; nil means UsualGlassware.
	Glass []Glassware
	Water Water
	// Seed of the sampling.
	Seed uint64
}

// Recipe works the recipe out. The strength is that of the stock times its
// share of the volume poured; solubility, temperature, saturation and each
// vessel's error are sampled for its range. Errors, each one sentence: a
// temperature outside 0 to 50 °C, a strength above the stock's, a volume that
// cannot be measured, less stock than needed.
func (q LimeFromStock) Recipe() (Recipe, error) {
	lime, err := Find(limeName)
	if err != nil {
		return Recipe{}, err
	}
	stock, err := q.stock()
	if err != nil {
		return Recipe{}, err
	}
	if !(q.Volume > 0 && q.Volume <= 1e6) {
		return Recipe{}, fmt.Errorf(
			"the volume to make must be above 0 and at most 1000 L, not %g mL",
			float64(q.Volume),
		)
	}
	if err := q.Water.Check(); err != nil {
		return Recipe{}, err
	}
	share, unit, err := q.share(lime, stock)
	if err != nil {
		return Recipe{}, err
	}
	m, err := measureParts(q.Volume*Millilitres(share), 1/share-1, q.glass())
	if err != nil {
		return Recipe{}, err
	}
	if q.StockLeft > 0 && m.stock.Volume > q.StockLeft {
		return Recipe{}, fmt.Errorf(
			"the recipe takes %s of stock, and there are only %s: make less, or make it weaker",
			m.stock.Volume.Text(),
			q.StockLeft.Text(),
		)
	}
	study := interval.Study{Seed: q.Seed, Inputs: append(stock.inputs, m.in.inputs...)}
	n := len(stock.inputs)
	out, err := study.Run(2, func(in, out []float64) {
		s, w := m.volumes(in[n:])
		out[0], out[1] = stock.strength(in[:n])*s/(s+w), s+w
	})
	if err != nil {
		return Recipe{}, err
	}
	strength, err := rangeIn(out[0].Range, unit, lime, 0)
	if err != nil {
		return Recipe{}, err
	}
	r := Recipe{
		Title:     fmt.Sprintf("Lime water, %s %s, %s", strength.BestText(), unit, m.total().Text()),
		Substance: lime.Name, Form: "solution", Wanted: q.Want.String(),
		Strength: strength, VolumeMl: out[1].Range, Dominant: out[0].Sentence(),
		Parts:   Parts{Stock: 1, Diluent: float64(m.water.Volume) / float64(m.stock.Volume)},
		RestsOn: append(stock.says, "Measured with "+m.in.names()+"."),
		Draws:   []Draw{{Bottle: q.stockName(), Substance: lime.Name, Ml: m.stock.Volume}},
	}
	r.about(nil, lime)
	if m.water.Volume > 0 {
		r.Lines = append(r.Lines, Line{m.water.Volume.Text(), q.Water.called(), m.water.Text()})
		r.Draws = append(r.Draws, Draw{Substance: "water", Ml: m.water.Volume})
	}
	r.Lines = append(
		r.Lines,
		Line{
			m.stock.Volume.Text(),
			q.stockName() + ", only its clear part",
			m.stock.Text() + "; draw it last and without stirring up the solid, so that it stands in air as briefly " +
				"as can be",
		},
	)
	r.say(notesOf("finish", lime)...)
	if q.Glass == nil {
		r.RestsOn = append(r.RestsOn, "No glassware was named, so the usual cylinders were taken.")
	}
	if q.Want.Parts.IsZero() {
		r.warnOfMiss(q.Want.Strength.Value)
	}
	r.settles(lime, out[0].Range, q.Water, float64(m.water.Volume/m.total()), q.temp())
	return r, nil
}

func (q LimeFromStock) stockName() string {
	if q.StockName == "" {
		return "lime water stock"
	}
	return q.StockName
}

// temp is the temperature of the mixture: that of the stock, or of a room where
// the stock was titrated.
func (q LimeFromStock) temp() Celsius {
	if q.Titrated != nil {
		return roomTemp
	}
	return q.StockTemp
}

// roomTemp is taken for the chemistry of a mixture where none is given, °C.
const roomTemp Celsius = 20

func (q LimeFromStock) glass() []Glassware {
	if q.Glass == nil {
		return UsualGlassware()
	}
	return q.Glass
}

// limeStock is the stock's strength as a function of uncertain inputs.
type limeStock struct {
	best     float64 // g/L
	inputs   []interval.Input
	strength func(in []float64) float64 // g/L
	says     []string
}

func (q LimeFromStock) stock() (limeStock, error) {
	if q.Titrated != nil {
		return q.titrated()
	}
	s, err := LimeSolubility(q.StockTemp)
	if err != nil {
		return limeStock{}, err
	}
	within := q.TempWithin
	if within == 0 {
		within = 1
	}
	if !(within > 0 && within <= 10) {
		return limeStock{}, fmt.Errorf(
			"the uncertainty of the stock's temperature must be above 0 and at most 10 °C, not %g °C",
			float64(within),
		)
	}
	saturation := q.Saturation
	if saturation.IsZero() {
		saturation = interval.Range{Low: 0.95, Best: 1, High: 1}
	}
	if err := saturation.CheckWithin("the stock's share of saturation", 0.05, 1, ""); err != nil {
		return limeStock{}, err
	}
	return limeStock{
		best: s.Best * saturation.Best,
		inputs: []interval.Input{
			{Name: "the published solubility of lime", Range: s.Scale(1 / s.Best)},
			{Name: "the stock's temperature", Range: interval.Within(float64(q.StockTemp), float64(within))},
			{Name: "how far the stock is saturated", Range: saturation},
		},
		strength: func(in []float64) float64 {
			at, err := LimeSolubility(Celsius(min(max(in[1], float64(minTemp)), float64(maxTemp))))
			if err != nil {
				return s.Best // unreachable: the temperature was held inside
			}
			return at.Best * in[0] * min(in[2], 1)
		},
		says: []string{
			LimeSolubilitySource,
			fmt.Sprintf(
				"The stock at %g ± %g °C, %s: %s g/L if saturated (published: %s).",
				float64(q.StockTemp),
				float64(within),
				saturationText(saturation),
				interval.Digits(s.Best, s.High-s.Low),
				s.Text(),
			),
		},
	}, nil
}

func saturationText(s interval.Range) string {
	return fmt.Sprintf("shaken, settled and kept closed, %.0f to %.0f %% saturated", 100*s.Low, 100*s.High)
}

func (q LimeFromStock) titrated() (limeStock, error) {
	lime, err := Find(limeName)
	if err != nil {
		return limeStock{}, err
	}
	if err := q.Titrated.Check("the titrated strength of the stock"); err != nil {
		return limeStock{}, err
	}
	one, err := Strength{1, q.Titrated.Unit}.PerLitre(lime, 0)
	if err != nil {
		return limeStock{}, err
	}
	r := q.Titrated.Scale(float64(one))
	if err := r.CheckWithin("the titrated strength of the stock", 0.001, 2.2, "g/L"); err != nil {
		return limeStock{}, err
	}
	return limeStock{
		best:     r.Best,
		inputs:   []interval.Input{{Name: "the titrated strength of the stock", Range: r}},
		strength: func(in []float64) float64 { return in[0] },
		says:     []string{fmt.Sprintf("The stock's strength as titrated: %s.", q.Titrated.Text())},
	}, nil
}

// share is the stock's share of the mixture, and the unit that the answer is
// given in.
func (q LimeFromStock) share(lime *Substance, stock limeStock) (float64, Unit, error) {
	if !q.Want.Parts.IsZero() {
		return q.Want.Parts.Share(), GramL, q.Want.Parts.Check()
	}
	want, err := q.Want.Strength.PerLitre(lime, 0)
	if err != nil {
		return 0, "", err
	}
	if float64(want) > stock.best {
		return 0, "", fmt.Errorf(
			"the stock holds about %.2f g/L of lime, so %s cannot be made from it: lime water is never stronger "+
				"than saturated",
			stock.best,
			q.Want.Strength,
		)
	}
	return float64(want) / stock.best, q.Want.Strength.Unit, nil
}

// ConditionedWater asks for pure water with calcium put back in from a stock of
// lime water, as benches use it for washing and rinsing: 10 to 40 mg/L of
// calcium (common practice).
type ConditionedWater struct {
	// CalciumMgPerL is the calcium wanted, 1 to 200 mg/L.
	CalciumMgPerL float64
	LimeFromStock // Want is set from the calcium
}

// Recipe works the recipe out. Freshly made it is far more alkaline than a
// washing water should be; carbon dioxide of the air brings it down.
func (q ConditionedWater) Recipe() (Recipe, error) {
	if !(q.CalciumMgPerL >= 1 && q.CalciumMgPerL <= 200) {
		return Recipe{}, fmt.Errorf(
			"the calcium wanted must lie between 1 and 200 mg/L, not at %g mg/L: benches use 10 to 40",
			q.CalciumMgPerL,
		)
	}
	q.Want = Wanted{Strength: Strength{q.CalciumMgPerL / molarCalcium * molarLime, MilligramL}}
	r, err := q.LimeFromStock.Recipe()
	if err != nil {
		return Recipe{}, err
	}
	calcium := r.Strength.Scale(molarCalcium / molarLime)
	r.Title = fmt.Sprintf(
		"Water conditioned with calcium, %s mg/L Ca, %s",
		calcium.BestText(),
		Millilitres(r.VolumeMl.Best).Text(),
	)
	r.Wanted = fmt.Sprintf("%g mg/L Ca", q.CalciumMgPerL)
	for i, l := range r.Lines {
		if l.Amount == "" {
			r.Lines = r.Lines[:i]
			break
		}
	}
	r.say("Let it stand open and stir it now and then until its pH has come down to 7.5 to 8.5: measure it before use.")
	r.Keeping = Keeping{Hours: 168, Text: "A week, covered.", Check: "Measure its pH before use.", Basis: Common}
	r.Label = Label{
		Name: "Water conditioned with calcium", Strength: calcium.BestText() + " mg/L Ca (" + calcium.Text() + ")",
		Keep: r.Keeping.Text, Note: "Not classified as hazardous once its pH is below 9.",
	}
	return r, nil
}
