package solution

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"benchleaf/interval"
)

// Balance is what solids are weighed with.
type Balance struct {
	Name string `json:"name,omitempty"`
	// ResolutionG is the last digit that it shows.
	ResolutionG Grams `json:"resolution_g"`
	// CapacityG is the most it weighs; 0 when not known.
	CapacityG Grams `json:"capacity_g,omitempty"`
	// ErrorG is how far off it may be, either way; 0 means one step of the
	// resolution (common practice: what a small balance keeps between checks).
	ErrorG Grams `json:"error_g,omitempty"`
}

// Check refuses a balance that cannot weigh.
func (b Balance) Check() error {
	if !(b.ResolutionG > 0 && b.ResolutionG <= 100) {
		return fmt.Errorf(
			"the balance's resolution must be above 0 and at most 100 g, not %g g: it is the last digit that it "+
				"shows, as in 0.1 g",
			float64(b.ResolutionG),
		)
	}
	if !(b.CapacityG >= 0) || b.CapacityG > 0 && b.CapacityG < b.ResolutionG {
		return fmt.Errorf(
			"the balance's capacity must be at least its resolution of %g g, not %g g", float64(b.ResolutionG),
			float64(b.CapacityG),
		)
	}
	if !(b.ErrorG >= 0 && b.ErrorG <= 100) {
		return fmt.Errorf("the balance's error must lie between 0 and 100 g, not at %g g", float64(b.ErrorG))
	}
	return nil
}

// Standard is the standard uncertainty of one weighing with the pan set to
// zero: rounding of the display, twice, and the balance's own error, each
// equally likely anywhere within its limits (JCGM 100:2008, 4.3.7).
func (b Balance) Standard() Grams {
	d, e := float64(b.ResolutionG), float64(b.ErrorG)
	if e == 0 {
		e = d
	}
	return Grams(math.Sqrt(2*d*d/12 + e*e/3))
}

// FromSolid asks for a liquid from a weighed solid.
type FromSolid struct {
	// Substance as it is weighed: a hydrate by its own name.
	Substance *Substance
	Want      Strength // of the substance itself, or of the one a hydrate stands for, or of As
	// As is what it becomes in the bottle, where that is another substance:
	// magnesium hydroxide under carbon dioxide becomes magnesium bicarbonate.
	As     *Substance
	Volume Millilitres
	// Purity is the share by mass that is the substance, 0 to 1; zero means
	// taken as pure.
	Purity  interval.Range
	Balance Balance
	Glass   []Glassware
	Water   Water
	// Density of the solution, needed for % w/w alone.
	Density GramsPerMillilitre
	// SolidLeft is what there is of it, g; 0 when not known.
	SolidLeft Grams
	// Into is what it is dissolved in, when that is not water: a substance whose
	// meeting with this one is checked.
	Into *Substance
	Seed uint64
	// Samples that its ranges are made of; 0: as many as interval takes.
	Samples int
}

// Recipe works the recipe out. Mass = strength x volume x (molar mass as
// weighed / molar mass of the substance meant) / purity. Errors: the balance
// cannot weigh that little or that much, a volume that cannot be measured, what
// must not meet.
func (q FromSolid) Recipe() (Recipe, error) {
	if err := q.check(); err != nil {
		return Recipe{}, err
	}
	parent, perGram, how, err := q.makes()
	if err != nil {
		return Recipe{}, err
	}
	perLitre, err := q.Want.PerLitre(parent, q.Density)
	if err != nil {
		return Recipe{}, err
	}
	m, err := madeUpTo(q.Volume, q.glassOr())
	if err != nil {
		return Recipe{}, err
	}
	purity := q.Purity
	if purity.IsZero() {
		purity = interval.Exactly(1)
	}
	exact := float64(perLitre) * float64(m.Volume) / 1000 * perGram / purity.Best
	mass, err := q.Balance.weigh(Grams(exact), q.Substance)
	if err != nil {
		return Recipe{}, err
	}
	if q.SolidLeft > 0 && mass > q.SolidLeft {
		return Recipe{}, fmt.Errorf(
			"the recipe takes %s of %s, and there are only %s: make less, or make it weaker", q.Balance.text(mass),
			q.Substance.Name, q.Balance.text(q.SolidLeft),
		)
	}
	pours := inputsOf(measured{"the volume", m})
	inputs := append([]interval.Input{
		{Name: "the weighing", Range: interval.FromStandard(float64(mass), float64(q.Balance.Standard()))},
		{Name: "the purity", Range: purity},
	}, pours.inputs...)
	out, err := interval.Study{Seed: q.Seed, Samples: q.Samples, Inputs: inputs}.Run(2, func(in, out []float64) {
		v := pours.volume(0, in[2:])
		out[0], out[1] = math.Max(in[0], 0)*math.Min(in[1], 1)/perGram/v*1000, v
	})
	if err != nil {
		return Recipe{}, err
	}
	strength, err := rangeIn(out[0].Range, q.Want.Unit, parent, q.Density)
	if err != nil {
		return Recipe{}, err
	}
	r := Recipe{
		Title:     fmt.Sprintf("%s, %s, %s", upper(parent.Name), q.Want, m.Volume.Text()),
		Substance: parent.Name, Form: formOf(parent), Wanted: q.Want.String(),
		Strength: strength, VolumeMl: out[1].Range, Dominant: out[0].Sentence(),
		Draws:   []Draw{{Substance: q.Substance.Name, G: mass}, {Substance: q.into(), Ml: m.Volume}},
		RestsOn: q.restsOn(parent, perGram, purity, pours),
	}
	q.lines(&r, mass, m, how)
	if q.As != nil {
		r.about(q.Into, q.As, q.Substance)
	} else {
		r.about(q.Into, q.Substance)
	}
	r.warnOfMiss(q.Want.Value)
	if err := r.refuseConflicts(Thing{Name: q.Substance.Name}, q.Into); err != nil {
		return Recipe{}, err
	}
	// A borohydride bath's pH is that of the buffered water it goes into.
	if q.Into == nil && r.Form == "solution" && !parent.Is(Hydride) {
		r.settles(parent, out[0].Range, q.Water, 1, roomTemp)
	}
	if parent.Is(Lime) {
		r.warnOfSolubility(GramsPerLitre(out[0].Best))
	}
	if parent.Is(Hydride) {
		if err := CheckHydride(parent, GramsPerLitre(out[0].Best)); err != nil {
			return Recipe{}, err
		}
		h, err := hydrogenFrom(q.Substance, mass, 20)
		if err != nil {
			return Recipe{}, err
		}
		r.Warnings = append(r.Warnings, h.Sentence())
	}
	return r, nil
}

// makes is what the liquid holds, the grams to weigh for 1 g of it, and the
// steps after weighing where it is made by carbon dioxide.
func (q FromSolid) makes() (parent *Substance, perGram float64, how []string, err error) {
	if q.As == nil {
		return q.Substance.Parent(), q.Substance.gramsPerGramOfParent(), nil, nil
	}
	for _, r := range readTable("makes.csv") {
		if r["made"] == q.As.Name && r["from"] == q.Substance.Name {
			return q.As, float64(q.Substance.MolarMass) / (r.number("units") * float64(q.As.MolarMass)), r.list("how", "|"), nil
		}
	}
	return nil, 0, nil, fmt.Errorf(
		"%s is not made from %s: the table has %s", q.As.Name, q.Substance.Name,
		strings.Join(sourcesOf(q.As), ", "),
	)
}

// sourcesOf lists the solids that a liquid is made from.
func sourcesOf(made *Substance) []string {
	out := []string{}
	for _, r := range readTable("makes.csv") {
		if r["made"] == made.Name {
			out = append(out, r["from"])
		}
	}
	if len(out) == 0 {
		out = append(out, "no way to make it")
	}
	return out
}

func (q FromSolid) check() error {
	if q.Substance == nil {
		return fmt.Errorf("the substance is missing")
	}
	if q.Substance.State == Dissolved {
		return fmt.Errorf(
			"%s exists only in solution and cannot be weighed: start from a bottle of it, or from what it is made "+
				"of (%s)",
			q.Substance.Name,
			strings.Join(sourcesOf(q.Substance), ", "),
		)
	}
	if q.Substance.State != Solid {
		return fmt.Errorf("%s is no solid: measure it as a liquid, from its bottle", q.Substance.Name)
	}
	if !(q.Volume > 0 && q.Volume <= 1e6) {
		return fmt.Errorf("the volume to make must be above 0 and at most 1000 L, not %g mL", float64(q.Volume))
	}
	if !q.Purity.IsZero() {
		if err := q.Purity.CheckWithin("the purity", 0.01, 1, ""); err != nil {
			return fmt.Errorf("%w: give it as a share of 1 by mass", err)
		}
	}
	if err := q.Water.Check(); err != nil {
		return err
	}
	return q.Balance.Check()
}

func (q FromSolid) glassOr() []Glassware {
	if q.Glass == nil {
		return UsualGlassware()
	}
	return q.Glass
}

func (q FromSolid) into() string {
	if q.Into != nil {
		return q.Into.Name
	}
	return "water"
}

func (q FromSolid) liquid() string {
	if q.Into != nil {
		return q.Into.Name
	}
	return q.Water.called()
}

// weigh rounds to what the balance shows. Below twenty steps of it the
// strength would be off by more than 5 %, below one it cannot be weighed.
func (b Balance) weigh(m Grams, s *Substance) (Grams, error) {
	step := float64(b.ResolutionG)
	shown := Grams(math.Round(float64(m)/step) * step)
	switch {
	case float64(m) < 3*step:
		return 0, fmt.Errorf(
			"%s g of %s cannot be weighed on a balance that shows %g g: make a stronger stock and dilute it, or "+
				"make a larger volume",
			interval.Digits(float64(m), float64(m)/10),
			s.Name,
			step,
		)
	case b.CapacityG > 0 && shown > b.CapacityG:
		return 0, fmt.Errorf(
			"%s of %s is more than the balance's %g g: weigh it in portions, or make less", b.text(shown), s.Name,
			float64(b.CapacityG),
		)
	}
	return shown, nil
}

// text writes a mass with the balance's digits.
func (b Balance) text(m Grams) string {
	digits := 0
	for step := float64(b.ResolutionG); step < 0.9999 && digits < 6 && math.Abs(step-math.Round(step)) > 1e-9; step *= 10 {
		digits++
	}
	return strconv.FormatFloat(float64(m), 'f', digits, 64) + " g"
}

// formOf is the form that a bottle of the liquid is kept as.
func formOf(s *Substance) string {
	switch {
	case s.Is(CelluloseEther), s.Is(Starch):
		return "adhesive"
	case s.Is(Alcohol), s.Is(Solvent):
		return "solvent"
	}
	return "solution"
}

// madeUpTo is the volume that a liquid is made up to.
func madeUpTo(v Millilitres, glass []Glassware) (Pour, error) {
	p, err := measure(v, glass)
	if err != nil {
		return Pour{}, err
	}
	if off := math.Abs(float64(p.Volume-v)) / float64(v); off > 0.1 {
		return Pour{}, fmt.Errorf(
			"%s cannot be measured with the glassware named: the nearest is %s", v.Text(), p.Volume.Text(),
		)
	}
	return p, nil
}

// rinseBack is how the liquid is shared out where the substance has no way of
// its own.
const rinseBack = "keep back about a quarter"

// lines writes the steps: water first, the solid into it, then the rest.
func (q FromSolid) lines(r *Recipe, mass Grams, m Pour, how []string) {
	r.say(beforeSteps(q.Substance, q.Into)...)
	share := rinseBack
	if how != nil {
		share = "cold"
	}
	if own := notesOf("measure", q.Substance); len(own) > 0 && q.Into == nil {
		share = own[0]
	}
	r.Lines = append(r.Lines,
		Line{m.Volume.Text(), q.liquid(), m.Text() + "; " + share},
		Line{q.Balance.text(mass), q.Substance.Name, "weigh it dry"})
	if how != nil {
		r.say(how...)
		return
	}
	add := notesOf("add", q.Substance)
	switch {
	case q.Into != nil:
		add = []string{addInto(q.Into)}
	case len(add) == 0:
		add = []string{"Add it to the water and stir till it is dissolved."}
	}
	r.say(add...)
	if share == rinseBack {
		r.say("Rinse the last of it in with the rest of the liquid, and stir.")
	}
	if q.Into == nil {
		r.say(notesOf("finish", q.Substance.Parent())...)
	}
}

// beforeSteps are what must hold before the first step; into is nil for water.
func beforeSteps(s, into *Substance) []string {
	steps := notesOf("before", s)
	if into == nil {
		steps = append(steps, notesOf("before-water", s)...)
	}
	return steps
}

// addInto is how anything goes into another liquid than water.
func addInto(into *Substance) string {
	return "Add it to the " + into.Name + " a little at a time, and stir till it is dissolved."
}

func (q FromSolid) restsOn(parent *Substance, perGram float64, purity interval.Range, pours pourInputs) []string {
	var out []string
	if parent != q.Substance {
		out = append(
			out,
			fmt.Sprintf(
				"%s weighed for %s: %.3f g for each gram, by molar mass.", upper(q.Substance.Name), parent.Name,
				perGram,
			),
		)
	}
	if q.As != nil {
		out = append(
			out,
			"The strength is reached only if all of the solid dissolves: look for grit, and check it by titration.",
		)
	}
	if q.Purity.IsZero() {
		out = append(out, "Taken as pure: the bottle's label may say less.")
	} else {
		out = append(out,
			fmt.Sprintf("Purity %.4g %% (%.4g to %.4g %%).", 100*purity.Best, 100*purity.Low, 100*purity.High))
	}
	out = append(
		out,
		fmt.Sprintf(
			"Weighed to %g g, ±%.2g g.", float64(q.Balance.ResolutionG),
			float64(interval.FromStandard(0, float64(q.Balance.Standard())).High),
		),
		"Measured with "+pours.names()+".",
		"The volume is that of the liquid; what the solid adds to it is left out (below 1 % for a strength up to 2 "+
			"% w/v).",
	)
	if q.Glass == nil {
		out = append(out, "No glassware was named, so the usual cylinders were taken.")
	}
	return out
}

// refuseConflicts refuses what must not meet, and warns of what needs care: a
// stock with what it goes into, nil for water. Where a substance has its own step
// for going into water, that says what water does to it.
func (r *Recipe) refuseConflicts(stock Thing, into *Substance) error {
	other := Thing{Name: "water"}
	switch s, err := Find(stock.Name); {
	case err != nil:
		return err
	case into != nil:
		other.Name = into.Name
	case len(notesOf("add", s)) > 0:
		return nil
	}
	found, err := ConflictsOf(stock, other)
	if err != nil {
		return err
	}
	for _, c := range found {
		if c.Level == Stop {
			return fmt.Errorf("this mixture is refused: %s", c.Sentence())
		}
		r.Conflicts = append(r.Conflicts, c)
	}
	return nil
}

// warnOfSolubility warns when more lime is asked for than dissolves.
func (r *Recipe) warnOfSolubility(c GramsPerLitre) {
	s, err := LimeSolubility(20)
	if err == nil && float64(c) > s.Low {
		r.Warnings = append(
			r.Warnings,
			fmt.Sprintf(
				"Water at 20 °C dissolves only about %.2f g/L of lime (%s): the rest stays as solid, and the "+
					"strength is that of saturated lime water.",
				s.Best,
				s.Text(),
			),
		)
	}
}
