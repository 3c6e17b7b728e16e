package solution

import (
	"fmt"
	"math"
	"slices"

	"benchleaf/interval"
)

// FromBottle asks for a weaker liquid from a bottle of a stronger one: a
// concentrate, a prepared stock, a pure liquid.
type FromBottle struct {
	Substance *Substance
	// Bottle is its name; "" means the substance's.
	Bottle string
	// Strength of the bottle; zero means as supplied, or the pure liquid.
	Strength StrengthRange
	// Density of the bottle's liquid, needed for % w/w alone; 0: as supplied.
	Density GramsPerMillilitre
	// Left is what there is in the bottle; 0 when not known.
	Left Millilitres
	// PastDate says that the bottle's date has passed.
	PastDate bool

	Want   Wanted
	Volume Millilitres
	Glass  []Glassware
	Water  Water
	// Into is what it is diluted with, when that is not water.
	Into *Substance
	Seed uint64
	// Samples that its ranges are made of; 0: as many as interval takes.
	Samples int
}

// Recipe works the recipe out: C1 V1 = C2 V2, volumes taken as adding up, which
// holds for weak solutions in water; for ethanol and water the contraction is
// computed (mixEthanol). Errors: a strength above the bottle's, more than
// there is, a volume that cannot be measured, what must not meet.
//
// Where the volume of stock is too small to be measured within 5 %, the recipe
// dilutes in two steps, by way of a tenth or a hundredth.
func (q FromBottle) Recipe() (Recipe, error) {
	if err := q.check(); err != nil {
		return Recipe{}, err
	}
	bottle, err := q.bottle()
	if err != nil {
		return Recipe{}, err
	}
	mix, _, err := q.mixing(q.Substance.Parent(), bottle)
	if err != nil {
		return Recipe{}, err
	}
	m, err := measureParts(q.Volume*Millilitres(mix.stockPer), mix.waterPer, q.glassOr())
	if err != nil || m.stock.Range().Relative() > tooRough {
		if r, ok := q.inTwoSteps(mix.stockPer); ok {
			return r, nil
		}
	}
	return q.once()
}

// once is the recipe in one step.
func (q FromBottle) once() (Recipe, error) {
	parent := q.Substance.Parent()
	bottle, err := q.bottle()
	if err != nil {
		return Recipe{}, err
	}
	mix, unit, err := q.mixing(parent, bottle)
	if err != nil {
		return Recipe{}, err
	}
	m, err := measureParts(q.Volume*Millilitres(mix.stockPer), mix.waterPer, q.glassOr())
	if err != nil {
		return Recipe{}, err
	}
	if q.Left > 0 && m.stock.Volume > q.Left {
		return Recipe{}, fmt.Errorf(
			"the recipe takes %s of %s, and there are only %s: make less, or make it weaker",
			m.stock.Volume.Text(),
			q.called(),
			q.Left.Text(),
		)
	}
	inputs := append([]interval.Input{{Name: "the strength of " + q.called(), Range: bottle}}, m.in.inputs...)
	out, err := interval.Study{Seed: q.Seed, Samples: q.Samples, Inputs: inputs}.Run(2, func(in, out []float64) {
		s, w := m.volumes(in[1:])
		out[0], out[1] = mix.result(in[0], s, w)
	})
	if err != nil {
		return Recipe{}, err
	}
	strength, err := rangeIn(out[0].Range, unit, parent, 0)
	if err != nil {
		return Recipe{}, err
	}
	r := Recipe{
		Title: fmt.Sprintf(
			"%s, %s %s, %s",
			upper(parent.Name),
			strength.BestText(),
			unit,
			Millilitres(math.Round(out[1].Best)).Text(),
		),
		Substance: parent.Name, Form: formOf(parent), Wanted: q.Want.String(),
		Strength: strength, VolumeMl: out[1].Range, Dominant: out[0].Sentence(),
		Parts:   Parts{Stock: 1, Diluent: float64(m.water.Volume) / float64(m.stock.Volume)},
		Draws:   []Draw{{Bottle: q.called(), Substance: q.Substance.Name, Ml: m.stock.Volume}},
		RestsOn: append(q.restsOn(bottle), mix.says, "Measured with "+m.in.names()+"."),
	}
	q.lines(&r, m)
	r.about(q.Into, q.Substance)
	if q.Want.Parts.IsZero() {
		r.warnOfMiss(q.Want.Strength.Value)
	}
	if q.PastDate {
		r.Warnings = append(r.Warnings, upper(q.called())+" is past its date: check its strength before relying on it.")
	}
	if err := r.refuseConflicts(Thing{q.Substance.Name, q.Strength.Strength()}, q.Into); err != nil {
		return Recipe{}, err
	}
	if q.Into == nil && r.Form == "solution" && !parent.Is(Hydride) {
		r.settles(parent, out[0].Range, q.Water, float64(m.water.Volume/m.total()), roomTemp)
	}
	if parent.Is(Hydride) {
		if err := CheckHydride(parent, GramsPerLitre(out[0].Best)); err != nil {
			return Recipe{}, err
		}
		h, err := hydrogenFrom(parent, Grams(out[0].Best*out[1].Best/1000), 20)
		if err != nil {
			return Recipe{}, err
		}
		r.Warnings = append(r.Warnings, h.Sentence())
	}
	return r, nil
}

// tooRough is the relative uncertainty of a volume from which it is better
// diluted in two steps.
const tooRough = 0.05

// inTwoSteps dilutes by way of a first dilution, 1 + 9 or 1 + 99, of which the
// second step takes a volume that can be measured. It is false where that does
// not help: a pure solvent, or no volume that fits.
func (q FromBottle) inTwoSteps(share float64) (Recipe, bool) {
	if q.Into != nil || q.Substance.Is(Alcohol) || !q.Want.Parts.IsZero() {
		return Recipe{}, false
	}
	for _, parts := range []Parts{{1, 9}, {1, 99}} {
		if share > parts.Share() || !q.fineEnough(q.Volume, share/parts.Share(), 2*tooRough) {
			continue
		}
		for _, volume := range []Millilitres{50, 100, 200, 500, 1000, 2000} {
			if !q.fineEnough(volume, parts.Share(), tooRough) {
				continue
			}
			first := q
			first.Want, first.Volume = Wanted{Parts: parts}, volume
			a, err := first.once()
			if err != nil || a.Strength.Relative() > q.Strength.Relative()+tooRough {
				continue
			}
			second := q
			second.Bottle = "the first dilution"
			second.Strength, second.Density, second.Left = a.Strength, 0, Millilitres(a.VolumeMl.Low)
			b, err := second.once()
			if err != nil || b.Strength.Relative() > a.Strength.Relative()+tooRough {
				continue
			}
			b.Lines = slices.Concat(
				[]Line{{How: fmt.Sprintf("First dilute %s %s:", q.called(), parts)}},
				a.Lines,
				[]Line{{How: fmt.Sprintf("Of this first dilution, make the %s:", q.Want)}},
				b.Lines,
			)
			b.Draws = append(a.Draws, withoutFirst(b.Draws)...)
			b.RestsOn = slices.Concat(a.RestsOn, b.RestsOn)
			b.Warnings = append(
				b.Warnings,
				fmt.Sprintf(
					"The volume of %s is too small to measure at once, so it is diluted in two steps; what is left "+
						"of the first dilution is labelled or thrown away.",
					q.called(),
				),
			)
			return b, true
		}
	}
	return Recipe{}, false
}

// fineEnough is false where the pour of that share of a volume alone makes the
// strength more uncertain than the bottle's by more than a share: such a recipe is
// not worth working out.
func (q FromBottle) fineEnough(volume Millilitres, share, more float64) bool {
	m, err := measureParts(volume*Millilitres(share), 1/share-1, q.glassOr())
	return err == nil && 0.9*(1-share)*m.stock.Range().Relative() <= q.Strength.Relative()+more
}

// withoutFirst leaves out what is drawn from the first dilution: it is made for
// the purpose.
func withoutFirst(draws []Draw) []Draw {
	return slices.DeleteFunc(slices.Clone(draws), func(d Draw) bool { return d.Bottle == "the first dilution" })
}

func (q FromBottle) check() error {
	switch {
	case q.Substance == nil:
		return fmt.Errorf("the substance is missing")
	case !(q.Volume > 0 && q.Volume <= 1e6):
		return fmt.Errorf("the volume to make must be above 0 and at most 1000 L, not %g mL", float64(q.Volume))
	case !(q.Density >= 0 && q.Density < 25):
		return fmt.Errorf("the density of %s must be that of a liquid in g/mL, not %g", q.called(), float64(q.Density))
	}
	return q.Water.Check()
}

func (q FromBottle) called() string {
	if q.Bottle != "" {
		return q.Bottle
	}
	return q.Substance.Name
}

func (q FromBottle) glassOr() []Glassware {
	if q.Glass == nil {
		return UsualGlassware()
	}
	return q.Glass
}

// bottle is the bottle's strength in g/L.
func (q FromBottle) bottle() (interval.Range, error) {
	s, density := q.Strength, q.Density
	if s.IsZero() {
		switch q.Substance.State {
		case Liquid:
			return interval.Exactly(1000 * float64(q.Substance.Density)), nil
		case Solution:
			s = StrengthRange{interval.Exactly(q.Substance.Supplied.Value), q.Substance.Supplied.Unit}
		default:
			return interval.Range{}, fmt.Errorf(
				"the strength of %s is missing: give it as on the bottle, as in \"10 %% w/v\"",
				q.called(),
			)
		}
	}
	if density == 0 && q.Substance.State == Solution {
		density = q.Substance.Density
	}
	if err := s.Check("the strength of " + q.called()); err != nil {
		return interval.Range{}, err
	}
	var ends [3]float64
	for i, v := range []float64{s.Low, s.Best, s.High} {
		c, err := Strength{v, s.Unit}.PerLitre(q.Substance.Parent(), density)
		if err != nil {
			return interval.Range{}, err
		}
		ends[i] = float64(c)
	}
	if pure := 1000 * float64(q.Substance.Parent().Density); q.Substance.Parent().State == Liquid && ends[1] > pure*1.001 {
		return interval.Range{}, fmt.Errorf(
			"the strength of %s must be at most that of the pure liquid, %s g/L, not %s", q.called(),
			interval.Digits(pure, pure/1000), s.Text(),
		)
	}
	return interval.Range{Low: ends[0], Best: ends[1], High: ends[2]}, nil
}

// mixing is how stock and diluent go together.
type mixing struct {
	stockPer float64 // mL of stock for each mL made
	waterPer float64 // mL of diluent for each mL of stock
	// result is the strength, g/L, and volume, mL, of s mL of stock of strength c
	// with w mL of diluent.
	result func(c, s, w float64) (strength, volume float64)
	says   string
}

func (q FromBottle) mixing(parent *Substance, bottle interval.Range) (mixing, Unit, error) {
	unit := q.Want.Strength.Unit
	if !q.Want.Parts.IsZero() {
		if err := q.Want.Parts.Check(); err != nil {
			return mixing{}, "", err
		}
		unit = GramL
		if parent.State == Liquid {
			unit = PercentVV
		}
	}
	if parent.Name == "ethanol" && q.Into == nil {
		m, err := q.ethanolMixing(bottle.Best)
		return m, unit, err
	}
	m := mixing{
		result: func(c, s, w float64) (float64, float64) { return c * s / (s + w), s + w },
		says:   "Strength times volume stays the same (C₁V₁ = C₂V₂); volumes taken as adding up.",
	}
	share := q.Want.Parts.Share()
	if q.Want.Parts.IsZero() {
		want, err := q.Want.Strength.PerLitre(parent, 0)
		if err != nil {
			return mixing{}, "", err
		}
		if share = float64(want) / bottle.Best; share > 1 {
			return mixing{}, "", q.tooWeak(bottle.Best)
		}
	}
	m.stockPer, m.waterPer = share, 1/share-1
	return m, unit, nil
}

func (q FromBottle) tooWeak(holds float64) error {
	return fmt.Errorf(
		"%s holds %s g/L, so %s cannot be made from it by dilution",
		q.called(),
		interval.Digits(holds, holds/100),
		q.Want.Strength,
	)
}

func (q FromBottle) restsOn(bottle interval.Range) []string {
	says := "as said"
	switch {
	case q.Strength.IsZero() && q.Substance.State == Liquid:
		says = fmt.Sprintf(
			"the pure liquid, density %g g/mL (%s, %s)",
			float64(q.Substance.Density),
			q.Substance.Source,
			q.Substance.Basis,
		)
	case q.Strength.IsZero():
		says = fmt.Sprintf(
			"as supplied, %s, density %g g/mL (%s, %s)",
			q.Substance.Supplied,
			float64(q.Substance.Density),
			q.Substance.Source,
			q.Substance.Basis,
		)
	}
	return []string{fmt.Sprintf("%s: %s g/L, %s.", upper(q.called()), bottle.BestText(), says)}
}

// lines writes the steps: diluent first, so that acid and alkali go into water.
func (q FromBottle) lines(r *Recipe, m mixture) {
	r.say(beforeSteps(q.Substance, q.Into)...)
	into := q.Water.called()
	if q.Into != nil {
		into = q.Into.Name
	}
	if m.water.Volume > 0 {
		r.Lines = append(r.Lines, Line{m.water.Volume.Text(), into, m.water.Text()})
		name := "water"
		if q.Into != nil {
			name = q.Into.Name
		}
		r.Draws = append(r.Draws, Draw{Substance: name, Ml: m.water.Volume})
	}
	r.Lines = append(r.Lines, Line{m.stock.Volume.Text(), q.called(), m.stock.Text()})
	switch {
	case q.Into != nil:
		r.say(addInto(q.Into))
	case q.Substance.State != Solid:
		r.say(notesOf("add", q.Substance)...)
	}
	r.say("Mix gently.")
	r.say(notesOf("finish", q.Substance.Parent())...)
}
