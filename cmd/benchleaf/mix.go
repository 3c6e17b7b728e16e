package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/solution"
)

// mixCmd writes a recipe.
type mixCmd struct {
	From      string `enum:"saturated-lime,conditioned-water,solid,bottle,starch-paste" required:"" help:"What there is: saturated-lime (a stock over its solid, no balance), conditioned-water (the same, for --calcium in pure water), solid (weighed), bottle (a concentrate, a stock, a pure liquid), starch-paste."`
	Want      string `help:"Strength or parts, as \"0.4 g/L\", \"1 % w/v\", \"0.05 mol/L\", \"1 + 3\"."`
	Left      bool   `help:"What is wanted is what is left of the lime once it has clouded and settled."`
	Volume    string `required:"" help:"How much, as \"400 mL\" or \"1.5 L\"."`
	Substance string `help:"Name or formula, for solid and bottle."`

	Calcium float64 `help:"Calcium of conditioned water, mg/L."`

	StockTemp       float64 `default:"20" help:"Temperature that the lime stock stands at, °C."`
	StockTempWithin float64 `default:"1" help:"How far off that may be, °C."`
	StockStrength   string  `help:"The lime stock's strength as titrated, in place of its temperature."`
	StockLeft       string  `help:"How much of the stock, bottle or solid there is, as \"800 mL\" or \"20 g\"."`

	BottleStrength string  `help:"The bottle's strength, as \"10 % w/v\"; without it, as supplied."`
	Density        float64 `help:"Density of the liquid in g/mL, for % w/w."`
	PastDate       bool    `help:"The bottle's date has passed."`

	Balance         float64 `help:"The balance's last digit, g."`
	BalanceCapacity float64 `help:"The most it weighs, g."`
	Purity          float64 `help:"Purity of the solid, % by mass."`
	ByVolume        bool    `help:"Starch paste by volume of loose powder, without a balance."`

	As        string   `help:"What the solid becomes in the bottle, as magnesium hydroxide under carbon dioxide becomes \"magnesium bicarbonate\"."`
	Glassware string   `help:"Capacity:graduation in mL, as \"500:5,100:1\"; a third number is the tolerance."`
	Into      string   `help:"What it goes into, when that is not water."`
	Meets     []string `sep:";" help:"What it will meet, as \"an aluminium vessel;an acid sheet\": what must not meet is refused."`

	WaterName       string   `help:"Name of the water, as \"tap water\"; without any of these it is de-ionised."`
	WaterAlkalinity *float64 `help:"Its alkalinity, mg/L HCO₃."`
	WaterHardness   *float64 `help:"Its hardness, mg/L CaCO₃."`
	WaterPH         *float64 `name:"water-ph" help:"Its pH: it tells the free carbon dioxide, which takes lime too."`
	WaterMagnesium  *float64 `help:"Its magnesium, mg/L."`

	Room       float64 `help:"Volume of the room in m³, for the air that hydrogen from borohydride, or a solvent's vapour, needs."`
	WetArea    float64 `default:"0.2" help:"Area that is wet with the solvent, m², for the same."`
	AirChanges float64 `default:"2" help:"Air changes of the room an hour, for the same."`
	Grade      float64 `help:"Grade of methyl cellulose: the viscosity of a 2 % solution at 20 °C, mPa·s."`
	PH         float64 `name:"ph" default:"9" help:"pH of the borohydride bath, for the same."`
	Temp       float64 `default:"20" help:"Temperature of the borohydride bath, °C, for the same."`
	Seed       uint64  `help:"Seed of the sampling that the ranges come from."`
}

// mixAnswer is what the command writes as JSON.
type mixAnswer struct {
	solution.Recipe
	Steps       []string               `json:"steps"`
	Ventilation *solution.Ventilation  `json:"ventilation,omitempty"`
	Vapour      *solution.VapourInRoom `json:"vapour,omitempty"`
}

// Run writes the recipe.
func (c *mixCmd) Run(g *globals) error {
	q, err := c.question()
	if err != nil {
		return err
	}
	mix, refused, cannot := account.MixOf(q, time.Time{})
	switch {
	case len(refused) > 0:
		return badUse("%s: %s", mixFlags[refused[0].Field], strings.TrimSuffix(refused[0].Say, "."))
	case cannot != "":
		return errors.New(strings.TrimSuffix(cannot, "."))
	}
	answer := mixAnswer{Recipe: mix.Recipe, Steps: mix.Recipe.Steps()}
	answer.Cautions = append(answer.Cautions, solution.Deferral)
	var gas *account.Gas
	if c.Room != 0 && mix.Solvent {
		v, err := mix.Vapour(c.WetArea, c.Temp, c.Room, c.AirChanges)
		if err != nil {
			return badUse("--room: %w", err)
		}
		v.Cautions = append(v.Cautions, solution.Deferral)
		answer.Vapour = &v.Air
		answer.Vapour.Cautions = v.Cautions
		gas = &account.Gas{Answers: v.Answers, Facts: v.Facts, Cautions: v.Cautions}
	} else if c.Room != 0 {
		if gas, err = mix.Gas(c.Temp, c.PH, c.Room); err != nil {
			return badUse("--room: %w", err)
		}
		gas.Cautions = append(gas.Cautions, solution.Deferral)
		answer.Ventilation = &gas.Air
		answer.Ventilation.Cautions = gas.Cautions
	}
	if g.JSON {
		return g.writeJSON(answer)
	}
	return writeMix(g.Stdout, mix, answer, gas)
}

// mixFlags are the flags behind the fields of a question.
var mixFlags = map[string]string{
	"way": "--from", "want": "--want", "volume": "--volume", "substance": "--substance", "into": "--into",
	"becomes": "--as", "bottle_strength": "--bottle-strength", "balance_g": "--balance", "calcium_mg_l": "--calcium",
	"stock_temp_c": "--stock-temp", "meets": "--meets", "grade_mpas": "--grade",
}

// mixWays are the ways of account behind --from.
var mixWays = map[string]string{
	"saturated-lime": account.FromStock, "conditioned-water": account.Conditioned, "solid": account.FromSolid,
	"bottle": account.FromBottle, "starch-paste": account.Paste,
}

// question is what the flags ask.
func (c *mixCmd) question() (q account.MixQuestion, err error) {
	q = account.MixQuestion{
		Way: mixWays[c.From], Want: c.Want, Volume: c.Volume, Substance: c.Substance, BottleStrength: c.BottleStrength,
		DensityGMl: &c.Density, StockTempC: &c.StockTemp, TempWithinC: &c.StockTempWithin, Becomes: c.As, Into: c.Into,
		Meets: c.Meets, ByVolume: c.ByVolume, CalciumMgL: &c.Calcium, Seed: c.Seed, Left: c.Left,
	}
	q.PastDate, q.Liquid = c.PastDate, c.water()
	q.Scale = solution.Balance{ResolutionG: solution.Grams(c.Balance), CapacityG: solution.Grams(c.BalanceCapacity)}
	if c.Grade != 0 {
		q.GradeMPas = &c.Grade
	}
	if c.Purity != 0 {
		q.PurityPct = &c.Purity
	}
	lime := q.Way == account.FromStock || q.Way == account.Conditioned
	switch {
	case q.Way == account.Conditioned && (c.Calcium == 0 || c.Want != ""):
		return q, badUse("conditioned water is wanted by its --calcium in mg/L, as 20, and not by --want")
	case (q.Way == account.FromSolid || q.Way == account.FromBottle) && c.Substance == "":
		return q, badUse("--substance is missing: give its name or formula, as \"sodium borohydride\"")
	case q.Way == account.FromSolid && c.Balance == 0:
		return q, badUse("--balance is missing: the last digit that the balance shows, in g, as 0.1; without a " +
			"balance start from saturated-lime or a bottle")
	}
	if c.Glassware != "" {
		if q.Glass, err = solution.ParseGlassware(c.Glassware); err != nil {
			return q, badUse("--glassware: %w", err)
		}
	}
	if c.StockStrength != "" && lime {
		s, err := solution.ParseStrength(c.StockStrength)
		if err != nil {
			return q, badUse("--stock-strength: %w", err)
		}
		q.Titrated = &solution.StrengthRange{Range: interval.Within(s.Value, titrationWithin*s.Value), Unit: s.Unit}
	}
	switch {
	case c.StockLeft == "":
	case q.Way == account.FromSolid:
		var g solution.Grams
		g, err = solution.ParseMass(c.StockLeft)
		q.LeftG = float64(g)
	case q.Way != account.Paste:
		var ml solution.Millilitres
		ml, err = solution.ParseVolume(c.StockLeft)
		q.LeftMl = float64(ml)
	}
	if err != nil {
		return q, badUse("--stock-left: %w", err)
	}
	return q, nil
}

// titrationWithin is how exactly a bench titration gives a strength, as a share
// of it, either way (common practice, no source).
const titrationWithin = 0.02

func (c *mixCmd) water() solution.Water {
	w := solution.Water{
		Name: c.WaterName, AlkalinityMgL: c.WaterAlkalinity, HardnessMgL: c.WaterHardness,
		MagnesiumMgL: c.WaterMagnesium, PH: c.WaterPH,
	}
	if w == (solution.Water{}) {
		return solution.Deionised()
	}
	if w.Name == "" {
		w.Name = "tap water"
	}
	return w
}

// writeMix writes the recipe for a person.
func writeMix(w io.Writer, mix *account.Mix, a mixAnswer, gas *account.Gas) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", words.Joined("\n", mix.Title, words.English.Sentence(mix.Said)))
	list(&b, "Caution", a.Cautions)
	b.WriteByte('\n')
	for _, s := range a.Steps {
		fmt.Fprintf(&b, "  %s\n", s)
	}
	b.WriteByte('\n')
	facts(&b, mix.Answers)
	facts(&b, mix.Facts)
	var care []string
	for _, x := range mix.Meetings {
		care = append(care, x.Say+" "+words.English.Sentence(x.RestsOn))
	}
	list(&b, "Care", care)
	list(&b, "Note", mix.Warnings)
	if gas != nil {
		b.WriteByte('\n')
		facts(&b, gas.Answers)
		facts(&b, gas.Facts)
		list(&b, "Caution", gas.Cautions)
	}
	list(&b, "Rests on", mix.RestsOn)
	l := a.Label
	label := words.Joined(" ", l.Name+", "+l.Strength, strings.Join(l.Pictograms, " "), l.SignalWord)
	fmt.Fprintf(&b, "\nLabel: %s\n", label)
	for _, s := range l.Lines {
		fmt.Fprintf(&b, "  %s\n", s)
	}
	for _, s := range slices.Concat(l.Statements, l.Precautions) {
		fmt.Fprintf(&b, "  %s %s\n", s.Code, s.Text)
	}
	fmt.Fprintf(&b, "  %s\n", l.Note)
	return prose(w, b.String())
}

// prose writes a text for a person, with plain blanks between numbers and units.
func prose(w io.Writer, text string) error {
	_, err := io.WriteString(w, strings.ReplaceAll(text, words.NBSP, " "))
	return err
}

// facts writes facts, one a line: "Strength: 0.400 g/L (0.38 to 0.42)".
func facts(b *strings.Builder, list []account.Fact) {
	for _, f := range list {
		rests := words.Joined(" ", words.English.Sentence(f.RestsOn), words.English.Sentence(f.Limit))
		fmt.Fprintf(b, "%s: %s\n", f.Name, words.Joined(". ", f.Value(words.English), rests))
	}
}

// list writes sentences, one a line, under a word; nothing where there are none.
func list(b *strings.Builder, word string, sentences []string) {
	if len(sentences) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s:\n", word)
	for _, s := range sentences {
		fmt.Fprintf(b, "  - %s\n", s)
	}
}
