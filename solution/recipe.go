package solution

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"benchleaf/chem"
	"benchleaf/interval"
)

// Line is one step of a recipe: how much of what, and how. Amount and What are
// blank for a step that measures nothing.
type Line struct {
	Amount string `json:"amount,omitempty"` // "355 mL"
	What   string `json:"what,omitempty"`   // "lime water stock, the clear part"
	How    string `json:"how,omitempty"`    // "fill the 500 mL cylinder to 355 mL"
}

// Text is the step as one sentence.
func (l Line) Text() string {
	switch {
	case l.Amount == "":
		return l.How
	case l.How == "":
		return l.Amount + " of " + l.What + "."
	}
	return l.Amount + " of " + l.What + ": " + l.How + "."
}

// Draw is what a recipe takes from the shelf, so that stocks can be counted
// down. Bottle is the name of the bottle, "" for water.
type Draw struct {
	Bottle    string      `json:"bottle,omitempty"`
	Substance string      `json:"substance"`
	Ml        Millilitres `json:"ml,omitempty"`
	G         Grams       `json:"g,omitempty"`
}

// Recipe is what to do, in order, and what comes of it.
type Recipe struct {
	Title     string `json:"title"`
	Substance string `json:"substance"`
	// Form as a bottle of it is kept: solution, adhesive, solvent.
	Form   string `json:"form"`
	Wanted string `json:"wanted"`
	// Strength that comes of it, with its range, before anything falls out.
	Strength StrengthRange `json:"strength"`
	// LimeLostPerLitre is the most lime that the water's bicarbonate and
	// magnesium can take out of the mixture, g/L; 0 where it takes none.
	LimeLostPerLitre GramsPerLitre `json:"lime_lost_at_most_g_l,omitempty"`
	// Chemistry is the mixture at rest: pH, what falls out, the lime left. Nil
	// where too little is known of the water, or the liquid is no water.
	Chemistry *Chemistry     `json:"chemistry,omitempty"`
	VolumeMl  interval.Range `json:"volume_ml"`
	// Parts as poured; zero for what is weighed.
	Parts Parts  `json:"parts,omitzero"`
	Lines []Line `json:"lines"`
	Draws []Draw `json:"draws"`
	// RestsOn says, a sentence each, what the strength rests on; Dominant which
	// input its range comes from.
	RestsOn  []string `json:"rests_on"`
	Dominant string   `json:"dominant"`
	Cautions []string `json:"cautions,omitempty"`
	Warnings []string `json:"warnings,omitempty"`
	// Conflicts need care; what must not meet at all has no recipe.
	Conflicts []Conflict `json:"conflicts,omitempty"`
	Waste     []string   `json:"waste,omitempty"`
	Label     Label      `json:"label"`
	Keeping   Keeping    `json:"keeping"`
}

// Steps are the lines as numbered sentences.
func (r Recipe) Steps() []string {
	var out []string
	for i, l := range r.Lines {
		out = append(out, fmt.Sprintf("%d. %s", i+1, upper(l.Text())))
	}
	return out
}

// Label is the text of a bottle's label; the date, the maker's initials and the
// lot are the record's to add.
type Label struct {
	Name        string      `json:"name"`
	Strength    string      `json:"strength"`
	SignalWord  string      `json:"signal_word,omitempty"`
	Pictograms  []string    `json:"pictograms,omitempty"`
	Statements  []Statement `json:"statements,omitempty"`
	Precautions []Statement `json:"precautions,omitempty"`
	// Lines are plain words that belong on it besides.
	Lines []string `json:"lines,omitempty"`
	Keep  string   `json:"keep"`
	Note  string   `json:"note"`
}

// labelOf writes the label of a liquid that holds s in water, or in another liquid.
func labelOf(s *Substance, strength StrengthRange, into *Substance, k Keeping) Label {
	l := Label{Name: upper(s.Name), Strength: strength.Text(), Keep: k.Text, Lines: notesOf("label", s)}
	of := []Ingredient{{s, strength.Strength()}}
	if into != nil {
		rest := 100 - s.percentWW(strength.Strength())
		of = append(of, Ingredient{into, Strength{max(rest, 0.01), PercentWW}})
		l.Lines = append(l.Lines, notesOf("label", into)...)
	}
	h := HazardOf(of...)
	switch {
	case h == nil:
		l.Note = "Hazard not in the table: take it from the supplier's sheet."
	case len(h.Classes) == 0:
		l.Note = "Not classified as hazardous in the table: " + h.Of + "; the data sheet decides."
	default:
		l.SignalWord, l.Pictograms, l.Statements, l.Precautions = h.SignalWord, h.Pictograms, h.Statements, h.Precautions
		l.Note = h.Note()
	}
	return l
}

// LabelLines are plain words for the label of a liquid with s, besides what the
// law asks for.
func LabelLines(s *Substance) []string { return notesOf("label", s) }

// Keeping is how long a liquid keeps.
type Keeping struct {
	// Hours to the date on the label; 0: no date, Check decides.
	Hours float64 `json:"hours,omitempty"`
	Text  string  `json:"text"`
	Check string  `json:"check,omitempty"`
	Basis Basis   `json:"basis"`
}

// Until is the expiry of what was made at t; zero when there is no date.
func (k Keeping) Until(t time.Time) time.Time {
	if k.Hours == 0 {
		return time.Time{}
	}
	return t.Add(time.Duration(k.Hours * float64(time.Hour)))
}

var shelfRows = sync.OnceValue(func() []row { return readTable("shelf-life.csv") })

// keepingOf is the rule for a substance in a form: solution, saturated,
// concentrate, adhesive or solvent. The rules are common practice.
func keepingOf(s *Substance, form string) Keeping {
	for _, r := range shelfRows() {
		if s.fits(r["substance"]) && (r["form"] == form || r["form"] == "*") {
			return Keeping{r.number("hours"), r["text"], r["check"], Basis(r["basis"])}
		}
	}
	panic("unreachable: the last rule fits all")
}

// Deferral is what stands under the cautions of every recipe and every sum.
const Deferral = "Local rules and the supplier's safety data sheet go before what is said here."

// about fills in what every recipe with s says; into is nil for water.
func (r *Recipe) about(into, s *Substance, others ...*Substance) {
	all := append([]*Substance{s}, others...)
	if into != nil {
		all = append(all, into)
	}
	r.Cautions = append(r.Cautions, notesOf("caution", all...)...)
	r.Warnings = append(r.Warnings, notesOf("note", all...)...)
	r.Waste = append(r.Waste, notesOf("waste", all...)...)
	r.Keeping = keepingOf(s.Parent(), r.Form)
	r.Label = labelOf(s.Parent(), r.Strength, into, r.Keeping)
}

// say appends lines that measure nothing.
func (r *Recipe) say(how ...string) {
	for _, h := range how {
		r.Lines = append(r.Lines, Line{How: h})
	}
}

// warnOfMiss warns when what can be measured is further than 3 % from what was
// wanted, or uncertain by more than 15 % either way.
func (r *Recipe) warnOfMiss(wanted float64) {
	if miss := r.Strength.Best/wanted - 1; math.Abs(miss) > 0.03 {
		r.Warnings = append(
			r.Warnings,
			fmt.Sprintf(
				"With these vessels the strength comes out %.0f %% %s than wanted: make more of it, or use finer "+
					"graduations.",
				100*math.Abs(miss),
				moreOrLess(miss),
			),
		)
	}
	if u := r.Strength.Relative(); u > 0.15 {
		r.Warnings = append(
			r.Warnings,
			fmt.Sprintf("The strength is uncertain by about %.0f %% either way. %s", 100*u, r.Dominant),
		)
	}
}

func moreOrLess(x float64) string {
	if x > 0 {
		return "stronger"
	}
	return "weaker"
}

// pourInputs are the uncertain inputs of a set of pours: each vessel's own
// error once, since it repeats with every fill, and the reading of each pour.
type pourInputs struct {
	pours  []measured
	inputs []interval.Input
	vessel []Glassware
}

// measured is a pour of something named: "the stock".
type measured struct {
	what string
	Pour
}

func inputsOf(pours ...measured) pourInputs {
	p := pourInputs{pours: pours}
	for _, pour := range pours {
		for _, f := range pour.Fills {
			if !slices.Contains(p.vessel, f.Glass) {
				p.vessel = append(p.vessel, f.Glass)
			}
		}
	}
	for _, g := range p.vessel {
		u := g.tolerance() / math.Sqrt(3)
		p.inputs = append(
			p.inputs,
			interval.Input{Name: "the calibration of " + g.called(), Range: interval.FromStandard(0, u)},
		)
	}
	for _, pour := range pours {
		sum := 0.0
		for _, f := range pour.Fills {
			read := float64(f.Glass.GraduationMl) / 2 / math.Sqrt(3)
			sum += float64(f.Times) * read * read
		}
		p.inputs = append(
			p.inputs,
			interval.Input{
				Name:  "how exactly " + pour.what + " is read off",
				Range: interval.FromStandard(0, math.Sqrt(sum)),
			},
		)
	}
	return p
}

// volume is pour i as it comes out for one sample of the inputs, mL.
func (p pourInputs) volume(i int, in []float64) float64 {
	v := float64(p.pours[i].Volume) + in[len(p.vessel)+i]
	for _, f := range p.pours[i].Fills {
		v += float64(f.Times) * in[slices.Index(p.vessel, f.Glass)]
	}
	return math.Max(v, 1e-6)
}

// names lists the vessels for a sentence.
func (p pourInputs) names() string {
	var names []string
	for _, g := range p.vessel {
		names = append(
			names,
			fmt.Sprintf("%s (±%g mL, graduated to %g mL)", g.called(), g.tolerance(), float64(g.GraduationMl)),
		)
	}
	return strings.Join(names, ", ")
}

// Water is what a stock is diluted with, as far as it is known.
type Water struct {
	// Name for the recipe: "tap water"; "" means de-ionised water.
	Name string `json:"name,omitempty"`
	// Pure says that it is de-ionised or distilled: nothing in it meets lime.
	Pure bool `json:"pure,omitempty"`
	// What is known of it; nil: not known. Alkalinity as mg/L HCO3, hardness as
	// mg/L CaCO3.
	AlkalinityMgL *float64 `json:"alkalinity_mg_l,omitempty"`
	HardnessMgL   *float64 `json:"hardness_mg_l,omitempty"`
	MagnesiumMgL  *float64 `json:"magnesium_mg_l,omitempty"`
	// PH tells how much free carbon dioxide it holds.
	PH *float64 `json:"ph,omitempty"`
}

// Deionised is pure water.
func Deionised() Water { return Water{Name: "de-ionised water", Pure: true} }

func (w Water) called() string {
	if w.Name == "" {
		return "de-ionised water"
	}
	return w.Name
}

// Check refuses an analysis that no water has.
func (w Water) Check() error {
	for _, x := range []struct {
		name string
		v    *float64
		most float64
	}{{"alkalinity", w.AlkalinityMgL, 5000}, {"hardness", w.HardnessMgL, 5000}, {"magnesium", w.MagnesiumMgL, 2000}} {
		if x.v != nil && !(*x.v >= 0 && *x.v <= x.most) {
			return fmt.Errorf(
				"the %s of %s must lie between 0 and %g mg/L, not at %g",
				x.name,
				w.called(),
				x.most,
				*x.v,
			)
		}
	}
	if w.PH != nil && !(*w.PH >= 3 && *w.PH <= 13) {
		return fmt.Errorf("the pH of %s must lie between 3 and 13, not at %g", w.called(), *w.PH)
	}
	return nil
}

// Molar masses for what hard water does to lime (IUPAC 2021, abridged).
const (
	molarLime        = 74.093
	molarChalk       = 100.086
	molarBicarbonate = 61.016
	molarMagnesium   = 24.305
	molarCalcium     = 40.078
)

// LimeLost is the most lime that 1 L of the water can take out of solution.
// Each bicarbonate uses one hydroxide, Ca(OH)2 + Ca(HCO3)2 = 2 CaCO3 + 2 H2O,
// and each magnesium two, Mg2+ + Ca(OH)2 = Mg(OH)2 + Ca2+. It is a bound from
// stoichiometry: less is lost where not all of it falls out. Free carbon dioxide
// uses two hydroxides, CO2 + Ca(OH)2 = CaCO3 + H2O; it is in the bound where the
// water's pH tells it.
//
// says is the sentence on what the bound rests on; known is false when nothing
// is known of the water.
func (w Water) LimeLost() (bound GramsPerLitre, says string, known bool) {
	var bicarbonate, magnesium float64 // mmol/L
	switch {
	case w.Pure:
		return 0, "", true
	case w.AlkalinityMgL != nil:
		bicarbonate = *w.AlkalinityMgL / molarBicarbonate
		says = fmt.Sprintf("its alkalinity of %.4g mg/L HCO₃", *w.AlkalinityMgL)
	case w.HardnessMgL != nil:
		bicarbonate = 2 * *w.HardnessMgL / molarChalk
		says = fmt.Sprintf("its hardness of %.4g mg/L CaCO₃, all of it taken as bicarbonate", *w.HardnessMgL)
	default:
		return 0, "", false
	}
	if w.MagnesiumMgL != nil {
		magnesium = *w.MagnesiumMgL / molarMagnesium
		says += fmt.Sprintf(" and its magnesium of %.3g mg/L", *w.MagnesiumMgL)
	}
	carbon := bicarbonate // mmol/L, all of it; more by the free carbon dioxide
	if w.PH == nil {
		return GramsPerLitre((carbon/2 + magnesium) * molarLime / 1000), says + ", free CO₂ not known", true
	}
	if x, ok, err := w.water(roomTemp); ok && err == nil {
		carbon = x.Total(chem.C) * 1000 / x.LitresPerKg()
		says += fmt.Sprintf(" and the free CO₂ of its pH %.4g", *w.PH)
	}
	return GramsPerLitre(max(0, carbon-bicarbonate/2+magnesium) * molarLime / 1000), says, true
}
