package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"benchleaf/interval"
	"benchleaf/solution"
)

// mixCmd writes a recipe.
type mixCmd struct {
	From      string `enum:"saturated-lime,conditioned-water,solid,bottle,starch-paste" required:"" help:"What there is: saturated-lime (a stock over its solid, no balance), conditioned-water (the same, for --calcium in pure water), solid (weighed), bottle (a concentrate, a stock, a pure liquid), starch-paste."`
	Want      string `help:"Strength or parts, as \"0.4 g/L\", \"1 % w/v\", \"0.05 mol/L\", \"1 + 3\"."`
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

	As        string `help:"What the solid becomes in the bottle, as magnesium hydroxide under carbon dioxide becomes \"magnesium bicarbonate\"."`
	Glassware string `help:"Capacity:graduation in mL, as \"500:5,100:1\"; a third number is the tolerance."`
	Into      string `help:"What it goes into, when that is not water."`

	WaterName       string   `help:"Name of the water, as \"tap water\"; without any of these it is de-ionised."`
	WaterAlkalinity *float64 `help:"Its alkalinity, mg/L HCO₃."`
	WaterHardness   *float64 `help:"Its hardness, mg/L CaCO₃."`
	WaterMagnesium  *float64 `help:"Its magnesium, mg/L."`

	Room float64 `help:"Volume of the room in m³, for the air that hydrogen from borohydride needs."`
	PH   float64 `name:"ph" default:"9" help:"pH of the borohydride bath, for the same."`
	Temp float64 `default:"20" help:"Temperature of the borohydride bath, °C, for the same."`
	Seed uint64  `help:"Seed of the sampling that the ranges come from."`
}

// mixAnswer is what the command writes as JSON.
type mixAnswer struct {
	solution.Recipe
	Steps       []string              `json:"steps"`
	Ventilation *solution.Ventilation `json:"ventilation,omitempty"`
}

// Run writes the recipe.
func (c *mixCmd) Run(g *globals) error {
	r, err := c.recipe()
	if err != nil {
		return err
	}
	r.Cautions = append(r.Cautions, solution.Deferral)
	answer := mixAnswer{Recipe: r, Steps: r.Steps()}
	if c.Room != 0 {
		if answer.Ventilation, err = c.ventilation(r); err != nil {
			return err
		}
	}
	if g.JSON {
		return g.writeJSON(answer)
	}
	return answer.write(g.Stdout)
}

func (c *mixCmd) recipe() (solution.Recipe, error) {
	var want solution.Wanted
	var err error
	if c.From == "conditioned-water" {
		if c.Calcium == 0 || c.Want != "" {
			return solution.Recipe{}, badUse(
				"conditioned water is wanted by its --calcium in mg/L, as 20, and not by --want",
			)
		}
	} else if want, err = solution.ParseWanted(c.Want); err != nil {
		return solution.Recipe{}, badUse("--want: %w", err)
	}
	volume, err := solution.ParseVolume(c.Volume)
	if err != nil {
		return solution.Recipe{}, badUse("--volume: %w", err)
	}
	var glass []solution.Glassware
	if c.Glassware != "" {
		if glass, err = solution.ParseGlassware(c.Glassware); err != nil {
			return solution.Recipe{}, badUse("--glassware: %w", err)
		}
	}
	switch c.From {
	case "saturated-lime", "conditioned-water":
		return c.fromLime(want, volume, glass)
	case "solid":
		return c.fromSolid(want, volume, glass)
	case "bottle":
		return c.fromBottle(want, volume, glass)
	}
	if want.Parts.IsZero() {
		return solution.Recipe{}, badUse("--want: a starch paste is given in parts of starch and water, as \"1 + 5\"")
	}
	return solution.StarchPaste{
		Parts:    want.Parts,
		ByVolume: c.ByVolume,
		Yield:    volume,
		Balance:  c.balance(),
		Glass:    glass,
		Seed:     c.Seed,
	}.Recipe()
}

func (c *mixCmd) fromLime(
	want solution.Wanted,
	volume solution.Millilitres,
	glass []solution.Glassware,
) (solution.Recipe, error) {
	q := solution.LimeFromStock{
		StockTemp: solution.Celsius(c.StockTemp), TempWithin: solution.Celsius(c.StockTempWithin),
		Want: want, Volume: volume, Glass: glass, Water: c.water(), Seed: c.Seed,
	}
	if c.StockStrength != "" {
		s, err := solution.ParseStrength(c.StockStrength)
		if err != nil {
			return solution.Recipe{}, badUse("--stock-strength: %w", err)
		}
		q.Titrated = &solution.StrengthRange{Range: interval.Within(s.Value, titrationWithin*s.Value), Unit: s.Unit}
	}
	if c.StockLeft != "" {
		left, err := solution.ParseVolume(c.StockLeft)
		if err != nil {
			return solution.Recipe{}, badUse("--stock-left: %w", err)
		}
		q.StockLeft = left
	}
	if c.From == "conditioned-water" {
		return solution.ConditionedWater{CalciumMgPerL: c.Calcium, LimeFromStock: q}.Recipe()
	}
	return q.Recipe()
}

// titrationWithin is how exactly a bench titration gives a strength, as a share
// of it, either way (common practice, no source).
const titrationWithin = 0.02

func (c *mixCmd) fromSolid(
	want solution.Wanted,
	volume solution.Millilitres,
	glass []solution.Glassware,
) (solution.Recipe, error) {
	s, into, err := c.substances()
	if err != nil {
		return solution.Recipe{}, err
	}
	if want.Strength.IsZero() {
		return solution.Recipe{}, badUse("--want: a solid is weighed for a strength, as \"1 %% w/v\", not for parts")
	}
	if c.Balance == 0 {
		return solution.Recipe{}, badUse(
			"--balance is missing: the last digit that the balance shows, in g, as 0.1; without a balance start " +
				"from saturated-lime or a bottle",
		)
	}
	q := solution.FromSolid{
		Substance: s, Want: want.Strength, Volume: volume, Balance: c.balance(), Glass: glass,
		Water: c.water(), Density: solution.GramsPerMillilitre(c.Density), Into: into, Seed: c.Seed,
	}
	if c.Purity != 0 {
		q.Purity = interval.Exactly(c.Purity / 100)
	}
	if c.As != "" {
		if q.As, err = solution.Find(c.As); err != nil {
			return solution.Recipe{}, badUse("--as: %w", err)
		}
	}
	if c.StockLeft != "" {
		if q.SolidLeft, err = solution.ParseMass(c.StockLeft); err != nil {
			return solution.Recipe{}, badUse("--stock-left: %w", err)
		}
	}
	return q.Recipe()
}

func (c *mixCmd) fromBottle(
	want solution.Wanted,
	volume solution.Millilitres,
	glass []solution.Glassware,
) (solution.Recipe, error) {
	s, into, err := c.substances()
	if err != nil {
		return solution.Recipe{}, err
	}
	q := solution.FromBottle{
		Substance: s, Want: want, Volume: volume, Glass: glass, Water: c.water(),
		Density: solution.GramsPerMillilitre(c.Density), PastDate: c.PastDate, Into: into, Seed: c.Seed,
	}
	if c.BottleStrength != "" {
		x, err := solution.ParseStrength(c.BottleStrength)
		if err != nil {
			return solution.Recipe{}, badUse("--bottle-strength: %w", err)
		}
		q.Strength = solution.StrengthRange{Range: interval.Exactly(x.Value), Unit: x.Unit}
	}
	if c.StockLeft != "" {
		if q.Left, err = solution.ParseVolume(c.StockLeft); err != nil {
			return solution.Recipe{}, badUse("--stock-left: %w", err)
		}
	}
	return q.Recipe()
}

// substances finds what --substance and --into name; into is nil without it.
func (c *mixCmd) substances() (s, into *solution.Substance, err error) {
	if c.Substance == "" {
		return nil, nil, badUse("--substance is missing: give its name or formula, as \"sodium borohydride\"")
	}
	if s, err = solution.Find(c.Substance); err != nil {
		return nil, nil, badUse("--substance: %w", err)
	}
	if c.Into != "" {
		if into, err = solution.Find(c.Into); err != nil {
			return nil, nil, badUse("--into: %w", err)
		}
	}
	return s, into, nil
}

func (c *mixCmd) balance() solution.Balance {
	return solution.Balance{ResolutionG: solution.Grams(c.Balance), CapacityG: solution.Grams(c.BalanceCapacity)}
}

func (c *mixCmd) water() solution.Water {
	w := solution.Water{
		Name:          c.WaterName,
		AlkalinityMgL: c.WaterAlkalinity,
		HardnessMgL:   c.WaterHardness,
		MagnesiumMgL:  c.WaterMagnesium,
	}
	if w == (solution.Water{}) {
		return solution.Deionised()
	}
	if w.Name == "" {
		w.Name = "tap water"
	}
	return w
}

// ventilation is the air that a borohydride recipe needs.
func (c *mixCmd) ventilation(r solution.Recipe) (*solution.Ventilation, error) {
	s, err := solution.Find(r.Substance)
	if err != nil {
		return nil, err
	}
	h, err := solution.HydrogenFromBath(
		s,
		r.Strength.Strength(),
		solution.Millilitres(r.VolumeMl.Best),
		solution.Celsius(c.Temp),
	)
	if err != nil {
		return nil, badUse("--room: %w", err)
	}
	v, err := h.Ventilate(c.PH, solution.CubicMetres(c.Room))
	if err != nil {
		return nil, err
	}
	v.Cautions = append(v.Cautions, solution.Deferral)
	return &v, nil
}

// write writes the recipe for a person.
func (a mixAnswer) write(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", a.Title)
	list(&b, "Caution", a.Cautions)
	b.WriteByte('\n')
	for _, s := range a.Steps {
		fmt.Fprintf(&b, "  %s\n", s)
	}
	fmt.Fprintf(&b, "\nStrength %s; %s mL. %s\n", a.Strength.Text(), a.VolumeMl.Text(), a.Dominant)
	if c := a.Chemistry; c != nil {
		fmt.Fprintf(
			&b,
			"pH %.1f (%.1f to %.1f) at %g °C, fresh, settled and closed to air.\n",
			c.PH.Best,
			c.PH.Low,
			c.PH.High,
			float64(c.TempC),
		)
	}
	fmt.Fprintf(&b, "Keeps: %s\n", strings.TrimSpace(a.Keeping.Text+" "+a.Keeping.Check))
	list(&b, "Note", a.Warnings)
	if v := a.Ventilation; v != nil {
		fmt.Fprintf(
			&b,
			"\nAir: half-life %s; the gas starts at %.2g L/min, which %.2g m³ of air an hour dilutes at once. ",
			v.HalfLife.Text(),
			v.PeakLitresPerMin,
			float64(v.AirPerHour),
		)
		if v.ChangesPerHour == 0 {
			fmt.Fprintf(
				&b,
				"All of it in the closed room comes to %.2g %% of the lower flammable limit, evenly mixed.\n",
				100*v.StillShare,
			)
		} else {
			fmt.Fprintf(&b, "The room needs %.2g air changes an hour to stay below a quarter of the lower flammable "+
				"limit, evenly mixed.\n", v.ChangesPerHour)
		}
		list(&b, "Caution", v.Cautions)
	}
	list(&b, "Waste", a.Waste)
	list(&b, "Rests on", a.RestsOn)
	l := a.Label
	fmt.Fprintf(
		&b,
		"\nLabel: %s, %s %s\n",
		l.Name,
		l.Strength,
		strings.TrimSpace(strings.Join(append(slices.Clone(l.Pictograms), l.SignalWord), " ")),
	)
	for _, s := range l.Lines {
		fmt.Fprintf(&b, "  %s\n", s)
	}
	for _, s := range slices.Concat(l.Statements, l.Precautions) {
		fmt.Fprintf(&b, "  %s %s\n", s.Code, s.Text)
	}
	fmt.Fprintf(&b, "  %s\n", l.Note)
	_, err := io.WriteString(w, b.String())
	return err
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
