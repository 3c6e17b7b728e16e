package account

import (
	"math"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/solution"
)

// MixQuestion asks for a recipe: a way, what is wanted as a person writes it
// ("0.4 g/L", "1 + 3"), and what there is.
type MixQuestion struct {
	Way            string   `field:"way"`
	Stock          string   `field:"stock"` // a bottle of the shelf
	Substance      string   `field:"substance"`
	BottleStrength string   `field:"bottle_strength"`
	DensityGMl     *float64 `field:"density" what:"the density"`
	StockTempC     *float64 `field:"stock_temp_c" what:"the stock’s temperature"`
	TempWithinC    *float64 `field:"temp_within_c" what:"how far off the temperature may be"`
	ByTitration    bool     `field:"by_titration"`
	Want           string   `field:"want"`
	Left           bool     `field:"left"` // want is what is left of the lime once it has settled
	CalciumMgL     *float64 `field:"calcium_mg_l" what:"the calcium"`
	Volume         string   `field:"volume"`
	Water          string   `field:"water"`   // one of the studio's
	Balance        string   `field:"balance"` // one of the studio's
	BalanceG       *float64 `field:"balance_g" what:"the balance’s last digit"`
	PurityPct      *float64 `field:"purity_pct" what:"the purity"`
	Becomes        string   `field:"becomes"`
	Into           string   `field:"into"`
	Meets          []string `field:"meets"`
	ByVolume       bool     `field:"by_volume"`
	// GradeMPas is the viscosity of a 2 % solution of the cellulose ether.
	GradeMPas *float64 `field:"grade_mpas" what:"the grade"`

	Supplies
	Seed uint64 // of the sampling: the same question gives the same ranges
}

// Supplies are what a recipe is made with, in the units of the bench. Zero is
// not known.
type Supplies struct {
	Bottle    *record.ShelfBottle
	StockName string
	LeftMl    float64
	LeftG     float64
	Strength  solution.StrengthRange
	Titrated  *solution.StrengthRange
	PastDate  bool
	Liquid    solution.Water
	Scale     solution.Balance
	Glass     []solution.Glassware
}

// OnTheShelf takes what a question names from the studio.
func (q *MixQuestion) OnTheShelf(st *record.Studio, now time.Time) {
	q.Supplies = Supplies{Liquid: solution.Deionised()}
	if x := st.Water(q.Water); x != nil {
		q.Liquid = WaterOf(x)
	}
	for _, g := range st.Glass {
		if !g.Retired {
			q.Glass = append(q.Glass, solution.Glassware{
				Name: g.Name, CapacityMl: solution.Millilitres(g.CapacityMl),
				GraduationMl: solution.Millilitres(g.GraduationMl), ToleranceMl: solution.Millilitres(g.ToleranceMl),
			})
		}
	}
	for _, x := range st.Instruments {
		if x.ID == q.Balance && x.Resolution > 0 {
			g := x.Resolution
			if x.Unit == "mg" {
				g /= 1000
			}
			q.Scale = solution.Balance{Name: x.Name, ResolutionG: solution.Grams(g)}
		}
	}
	b := st.Bottle(q.Stock)
	if b == nil || b.Emptied != nil {
		return
	}
	q.Bottle, q.StockName, q.LeftMl, q.LeftG, q.PastDate = b, b.Body.Name, b.LeftMl, b.LeftG, b.Expired(now)
	q.Substance = b.Body.Substance
	unit := solution.Unit(b.Body.Unit)
	if r := b.StrengthNow(); r != nil && unit != "pure" {
		q.Strength = solution.StrengthRange{Range: *r, Unit: unit}
	}
	if x := Titrated(b); x != nil && q.ByTitration {
		q.Titrated = &solution.StrengthRange{Range: *x.Range, Unit: unit}
	}
}

// Mix is a recipe, ready to be shown.
type Mix struct {
	Recipe  solution.Recipe // what the facts are made of
	Title   string
	Said    string // what the recipe was asked to leave; mostly empty
	Steps   []MixStep
	Answers []Fact // strength as poured, what is left of lime, pH
	Facts   []Fact
	RestsOn []string
	// Signal is the word of the label under which the cautions stand.
	Signal             string
	Cautions, Warnings []string
	// Meetings need care: what the recipe brings together, and what it is to meet.
	Meetings []Meeting
	Hydride  bool
	Solvent  bool // its vapour is computed
	// Kept is the strength that the bottle holds once it has settled: what is
	// left where the water takes lime out (Clouded).
	Kept     words.Figure
	Clouded  bool
	Name     string // of the bottle
	VolumeMl float64
	Until    time.Time // zero: no date
	Keeping  string
}

// MixStep is a line of a recipe; Amount is empty for what measures nothing.
type MixStep struct{ Amount, What, How string }

// MixOf answers q. What cannot be is said at its field; cannot is the sentence
// on why there is no recipe.
func MixOf(q MixQuestion, now time.Time) (a *Mix, refused []*record.Invalid, cannot string) {
	m := mixer{q: q}
	recipe, err := m.recipe()
	if err == nil && !m.any() {
		m.meet(&recipe)
	}
	var thick []Fact
	if err == nil && !m.any() {
		thick = m.viscosity(&recipe)
	}
	switch {
	case m.any():
		return nil, m.refusals, ""
	case err != nil:
		return nil, nil, refusal(err)
	}
	a = mixOf(recipe, now)
	a.Answers = append(a.Answers, thick...)
	if q.Left && a.Clouded {
		a.Said = q.Want + " is left after clouding"
	}
	return a, nil, ""
}

// mixer reads a question and puts it to package solution.
type mixer struct {
	refusals
	q      MixQuestion
	want   solution.Wanted
	volume solution.Millilitres
}

func (m *mixer) recipe() (r solution.Recipe, err error) {
	make := map[string]func() (solution.Recipe, error){
		FromStock: m.fromStock, Conditioned: m.conditioned, FromSolid: m.fromSolid, Cellulose: m.fromSolid,
		FromBottle: m.fromBottle, Ethanol: m.fromBottle, Paste: m.paste,
	}[m.q.Way]
	if make == nil {
		m.say("way", "%q is no way to make a solution.", words.Clip(m.q.Way))
		return r, nil
	}
	switch {
	case m.q.Way == Conditioned:
	case m.q.Want == "":
		m.say("want", "Say what you want: a strength as 0.4 g/L or 1 %% w/v, or parts as 1 + 3.")
	default:
		m.want = read(&m.refusals, "want", m.q.Want, solution.ParseWanted)
	}
	if m.q.Volume == "" {
		m.say("volume", "Say how much you want, as 400 mL or 1.5 L.")
	} else {
		m.volume = read(&m.refusals, "volume", m.q.Volume, solution.ParseVolume)
	}
	m.dangers()
	return make()
}

// ask puts a question to package solution unless something is refused.
func (m *mixer) ask(q interface {
	Recipe() (solution.Recipe, error)
}) (solution.Recipe, error) {
	if m.any() {
		return solution.Recipe{}, nil
	}
	return q.Recipe()
}

func (m *mixer) lime() solution.LimeFromStock {
	if m.q.StockTempC == nil {
		m.say("stock_temp_c", "Please enter the stock’s temperature.")
	}
	return solution.LimeFromStock{
		Want: m.want, Volume: m.volume, Glass: m.q.Glass, Water: m.q.Liquid, Seed: m.q.Seed,
		StockTemp:  solution.Celsius(orElse(m.q.StockTempC, 0)),
		TempWithin: solution.Celsius(orElse(m.q.TempWithinC, 0)),
		StockName:  m.q.StockName, StockLeft: solution.Millilitres(m.q.LeftMl), Titrated: m.q.Titrated,
	}
}

// fromStock pours what is wanted, or more of it where that much is to be left in a
// water that takes lime out.
func (m *mixer) fromStock() (solution.Recipe, error) {
	q := m.lime()
	target := q.Want.Strength
	if m.q.Left && target.Unit != solution.GramL {
		m.say("want", "What is to be left of the lime is wanted in g/L, as 0.4 g/L.")
	}
	r, err := m.ask(q)
	for range 4 { // what falls out hardly changes with the strength: it settles in two
		if err != nil || !m.q.Left || r.Chemistry == nil {
			break
		}
		short := target.Value - r.Chemistry.LimeLeft.Best
		if math.Abs(short) <= 0.02*target.Value || q.Want.Strength == target && short < 0 {
			break
		}
		q.Want.Strength.Value += short
		r, err = m.ask(q)
	}
	r.Wanted = m.q.Want
	return r, err
}

func (m *mixer) conditioned() (solution.Recipe, error) {
	if m.q.CalciumMgL == nil {
		m.say("calcium_mg_l", "Please enter the calcium.")
	}
	return m.ask(solution.ConditionedWater{LimeFromStock: m.lime(), CalciumMgPerL: orElse(m.q.CalciumMgL, 0)})
}

// substance is what is weighed or diluted.
func (m *mixer) substance() *solution.Substance {
	switch {
	case m.q.Substance == "":
		m.say("substance", "Choose a bottle from the shelf, or name the substance.")
		return nil
	case m.q.Bottle != nil:
		return m.refusals.substance("stock", m.q.Substance)
	}
	return m.refusals.substance("substance", m.q.Substance)
}

// dangers refuses at once what must not meet of all that is named, also where nothing
// can be made of one of them.
func (m *mixer) dangers() {
	all := append([]string{m.q.Substance, m.q.Into}, m.q.Meets...)
	names := slices.DeleteFunc(all, func(name string) bool { return name == "" || !(Thing{Name: name}).Known() })
	if !slices.ContainsFunc(names, func(name string) bool {
		_, err := solution.Find(name)
		return err != nil && solution.Known(name) != nil
	}) {
		return // each is asked at the strength that it has
	}
	list, _ := Meetings(Named(names...)...)
	for _, x := range list {
		if x.Stop {
			field := "meets"
			if m.q.Into != "" {
				field = "into"
			}
			m.say(field, "Refused: %s", x.Say)
			return
		}
	}
}

// other is a substance that a field may name; nil for water.
func (m *mixer) other(field, name string) *solution.Substance {
	if name == "" {
		return nil
	}
	if sub := m.refusals.substance(field, name); sub != nil && sub.Name != "water" {
		return sub
	}
	return nil
}

func (m *mixer) fromSolid() (solution.Recipe, error) {
	q := solution.FromSolid{
		Substance: m.substance(), Want: m.want.Strength, Volume: m.volume, Balance: m.balance(), Glass: m.q.Glass,
		Water: m.q.Liquid, As: m.other("becomes", m.q.Becomes), Into: m.other("into", m.q.Into), Seed: m.q.Seed,
		SolidLeft: solution.Grams(m.q.LeftG), Density: solution.GramsPerMillilitre(orElse(m.q.DensityGMl, 0)),
	}
	if m.want.Strength.IsZero() && len(m.refusals) == 0 {
		m.say("want", "A solid is weighed for a strength, as 1 %% w/v, not for parts.")
	}
	if v := m.q.PurityPct; v != nil {
		q.Purity = interval.Exactly(*v / 100)
	}
	return m.ask(q)
}

func (m *mixer) balance() solution.Balance {
	b := m.q.Scale
	if b.ResolutionG == 0 {
		if b.ResolutionG = solution.Grams(orElse(m.q.BalanceG, 0)); m.q.BalanceG == nil {
			m.say("balance_g", "Enter the last digit that your balance shows, as 0.1 g.")
		}
	}
	return b
}

func (m *mixer) fromBottle() (solution.Recipe, error) {
	q := solution.FromBottle{
		Substance: m.substance(), Want: m.want, Volume: m.volume, Glass: m.q.Glass, Water: m.q.Liquid,
		Into: m.other("into", m.q.Into), Seed: m.q.Seed,
		Density: solution.GramsPerMillilitre(orElse(m.q.DensityGMl, 0)),
		Bottle:  m.q.StockName, Left: solution.Millilitres(m.q.LeftMl), PastDate: m.q.PastDate, Strength: m.q.Strength,
	}
	if q.Strength.Unit == "parts" {
		m.say("stock", "The strength of this bottle is kept in parts, so nothing can be calculated from it: "+
			"correct it to g/L or %%.")
	}
	if m.q.Bottle == nil && m.q.BottleStrength != "" {
		x := m.refusals.strength("bottle_strength", m.q.BottleStrength)
		q.Strength = solution.StrengthRange{Range: interval.Exactly(x.Value), Unit: x.Unit}
	}
	return m.ask(q)
}

func (m *mixer) paste() (solution.Recipe, error) {
	if m.want.Parts.IsZero() {
		m.say("want", "A starch paste is wanted in parts of starch and water, as 1 + 5.")
	}
	q := solution.StarchPaste{
		Parts: m.want.Parts, ByVolume: m.q.ByVolume, Yield: m.volume, Glass: m.q.Glass, Seed: m.q.Seed,
	}
	if !q.ByVolume {
		q.Balance = m.balance()
	}
	return m.ask(q)
}

// viscosity is how thick a cellulose ether comes out, where its grade is named.
func (m *mixer) viscosity(r *solution.Recipe) []Fact {
	sub, err := solution.Find(r.Substance)
	if err != nil || m.q.GradeMPas == nil || sub.Name != "methyl cellulose" {
		return nil
	}
	percent := r.Strength.Best // % w/v is within a few parts in a hundred of % by mass
	if r.Strength.Unit == solution.GramL {
		percent /= 10
	}
	v, err := solution.CelluloseViscosity(*m.q.GradeMPas, percent)
	if err != nil {
		m.at("grade_mpas", err)
		return nil
	}
	f := ranged("viscosity", "Viscosity at 20 °C", v, "mPa·s")
	f.RestsOn = "Philippoff’s equation from the grade at 2 % (from memory); an estimate away from 2 %"
	return []Fact{f}
}

// meet refuses, or warns of, what the mixture is to meet: a vessel, a sheet.
func (m *mixer) meet(r *solution.Recipe) {
	for _, thing := range m.q.Meets {
		if thing == "" {
			continue
		}
		found, err := solution.ConflictsOf(
			Thing{Name: r.Substance, Strength: r.Strength.Strength()}, Thing{Name: thing})
		if err != nil {
			m.at("meets", err)
		}
		for _, x := range found {
			if x.Level == solution.Stop {
				m.say("meets", "Refused: %s", x.Sentence())
			}
			r.Conflicts = append(r.Conflicts, x)
		}
	}
}

// cloudyMgL is from what falls out that a liquid is plainly cloudy (common
// practice, no source); fallsMgL from what it is worth a word.
const cloudyMgL, fallsMgL = 10, 1

func mixOf(r solution.Recipe, now time.Time) *Mix {
	a := &Mix{
		Recipe: r, Title: r.Title, RestsOn: r.RestsOn, Signal: r.Label.SignalWord, VolumeMl: r.VolumeMl.Best,
		Kept: kept(r.Strength), Until: r.Keeping.Until(now), Keeping: r.Keeping.Text, Cautions: r.Cautions,
		Warnings: r.Warnings, Meetings: meetings(r.Conflicts),
	}
	for _, l := range r.Lines {
		a.Steps = append(a.Steps, MixStep{l.Amount, l.What, l.How})
	}
	if sub, err := solution.Find(r.Substance); err == nil {
		a.Hydride = sub.Is(solution.Hydride)
		if t, ok, err := solution.FlashPoint(sub, r.Strength.Strength()); err == nil {
			a.Solvent, a.Facts = true, append(a.Facts, flash(t, ok))
		}
	}
	strong := ranged("strength", "Strength", r.Strength.Range, string(r.Strength.Unit))
	strong.RestsOn = r.Dominant
	a.Answers = []Fact{strong}
	if c := r.Chemistry; c != nil {
		a.chemistry(c)
	}
	a.Facts = append(a.Facts, ranged("volume", "Volume", r.VolumeMl, "mL"))
	if p := r.Parts; p.Diluent > 0 {
		a.Facts = append(a.Facts, said("parts", "In parts", "1 + "+rough(p.Diluent/p.Stock), "stock and water"))
	}
	a.Facts = append(a.Facts, said("keeps", "Keeps", strings.TrimSuffix(r.Keeping.Text, "."),
		words.Joined(" ", r.Keeping.Check, en.Sentence(string(r.Keeping.Basis)))))
	for _, x := range r.Waste {
		a.Facts = append(a.Facts, said("waste", "Waste", strings.TrimSuffix(x, "."), ""))
	}
	a.Name = a.bottleName()
	return a
}

// chemistry adds what comes of the mixture once it has settled.
func (a *Mix) chemistry(c *solution.Chemistry) {
	fell := c.ChalkMgPerL + c.BruciteMgPerL
	if a.Clouded = c.LimeLeft.Best > 0 && fell >= cloudyMgL; a.Clouded {
		a.Answers[0].Name = "Lime as poured"
		left := ranged("left", "Lime left, once settled", c.LimeLeft.Range, string(c.LimeLeft.Unit))
		left.RestsOn = "a bottle of it is named and kept by this"
		a.Answers, a.Kept = append(a.Answers, left), kept(c.LimeLeft)
	}
	ph := Fact{Code: "ph", Name: "pH, fresh, settled, kept from air", Figure: some(words.PH(c.PH)), Basis: Computed}
	a.Answers = append(a.Answers, ph)
	if fell < fallsMgL {
		a.Facts = append(a.Facts, said("falls-out", "Falls out", "nothing", "it stays clear while it is kept from air"))
		return
	}
	solids := "chalk"
	if c.BruciteMgPerL >= fallsMgL {
		solids += " and magnesium hydroxide"
	}
	a.Facts = append(a.Facts, estimate("falls-out", "Falls out", fell, "mg/L", solids))
}

// bottleName names what a recipe makes: "lime water 0.4 g/L".
func (a *Mix) bottleName() string {
	r := a.Recipe
	switch {
	case strings.HasPrefix(r.Label.Name, "Water"):
		return "conditioned water, " + r.Wanted
	case r.Form == "adhesive" && r.Substance == "wheat starch":
		return "wheat starch paste " + r.Parts.String()
	}
	name := r.Substance
	if name == "calcium hydroxide" {
		name = "lime water"
	}
	clouded := ""
	if a.Clouded {
		clouded = "clouded"
	}
	return words.Joined(", ", name+" "+rough(a.Kept.Value)+" "+a.Kept.Unit, clouded)
}

// kept is a strength in a unit that bottles are kept in.
func kept(s solution.StrengthRange) words.Figure {
	switch s.Unit {
	case solution.MilligramL:
		return words.Ranged(s.Scale(1e-3), string(solution.GramL))
	case solution.MmolL:
		return words.Ranged(s.Scale(1e-3), string(solution.MolL))
	}
	return words.Ranged(s.Range, string(s.Unit))
}

// OtherWater is the same recipe in another of the studio's waters, with what it
// would leave of the lime.
type OtherWater struct{ ID, Words, Say string }

// OtherWaters are offered where the water takes lime out, or where it is not
// known whether it does.
func OtherWaters(q MixQuestion, a *Mix, st *record.Studio, now time.Time) []OtherWater {
	if _, _, known := q.Liquid.LimeLost(); a.Recipe.LimeLostPerLitre == 0 && (a.Recipe.Chemistry != nil || known) {
		return nil
	}
	var list []OtherWater
	waters, _ := MixWaters(q.Way, st)
	for _, w := range waters {
		if w.Value == q.Water {
			continue
		}
		other := q
		other.Water, other.Liquid = w.Value, solution.Deionised()
		if x := st.Water(w.Value); x != nil {
			other.Liquid = WaterOf(x)
		}
		b, _, _ := MixOf(other, now)
		if b == nil {
			continue
		}
		say := "not known what it does"
		if c := b.Recipe.Chemistry; c != nil {
			say = "stays clear"
			if fell := c.ChalkMgPerL + c.BruciteMgPerL; fell >= fallsMgL {
				say = rough(fell) + " mg/L fall out"
			}
			if c.LimeLeft.Best > 0 {
				say += ", " + en.Best(c.LimeLeft.Range, "g/L") + " left"
			}
		}
		list = append(list, OtherWater{w.Value, w.Words, say})
	}
	return list
}

// Repour is the offer of the recipe that leaves the strength wanted, once it has
// settled. Where there is none, Cannot is set and Say tells why.
type Repour struct {
	Say    string
	Cannot bool
}

// StrongerFor finds what to pour so that, in a water that takes lime out, the
// strength wanted is left (MixQuestion.Left). It is nil for a recipe that keeps its
// strength, and for one that has been asked for so.
func StrongerFor(q MixQuestion, a *Mix, now time.Time) *Repour {
	if !a.Clouded || q.Left || q.Way != FromStock {
		return nil
	}
	q.Left = true
	b, refused, cannot := MixOf(q, now)
	switch {
	case len(refused) > 0:
		return nil
	case b == nil:
		return &Repour{Say: "For " + q.Want + " left with this water: " + cannot, Cannot: true}
	}
	var amounts []string
	for _, s := range b.Steps {
		if s.Amount != "" {
			amounts = append(amounts, s.Amount+" of "+s.What)
		}
	}
	return &Repour{Say: "For " + q.Want + " left with this water pour " + en.List(amounts) + ": " +
		en.Range(b.Recipe.Chemistry.LimeLeft.Range, "g/L") + " is left of it"}
}

// MixCurves are what belongs beside a recipe with lime: the stock's strength by
// temperature, and what the air takes from a tray of it.
func MixCurves(q MixQuestion, a *Mix) []Curve {
	if a.Recipe.Substance != "calcium hydroxide" || q.Way == Conditioned {
		return nil
	}
	var list []Curve
	at := q.StockTempC
	if q.Way != FromStock {
		at = nil
	}
	if c, err := LimeSolubility(at); err == nil {
		list = append(list, c)
	}
	if a.Kept.Unit != string(solution.GramL) {
		return list
	}
	tray := LimeTrayQuestion{LimeGL: a.Kept.Value, TempC: 20, DepthMm: 20, CO2Ppm: 500, Hours: 4}
	if c, err := tray.curve(); err == nil {
		list = append(list, c)
	}
	return list
}

// Bottle is what a recipe makes, drawn from what it came from. The handler adds
// who, when and what was typed.
func (a *Mix) Bottle(q MixQuestion) (b record.Bottle, drawn []record.BottleDrawn) {
	r := a.Recipe
	b = record.Bottle{
		Name: a.Name, Substance: r.Substance, Form: record.BottleForm(r.Form), Strength: a.Kept.Range,
		Unit:     a.Kept.Unit,
		VolumeMl: figures4(a.VolumeMl), ExpiryBasis: r.Keeping.Text + " (" + string(r.Keeping.Basis) + ")",
		Water: q.Liquid.Name, Recipe: r.Steps(), RestsOn: strings.Join(r.RestsOn, " "),
		Cautions: r.Cautions, Warnings: slices.Clone(r.Warnings),
	}
	if q.Into != "" {
		b.Water = q.Into
	}
	for _, x := range a.Meetings {
		b.Warnings = append(b.Warnings, x.Say)
	}
	if a.Clouded {
		b.Poured = kept(r.Strength).Range
		b.Warnings = append(b.Warnings, "Clouded: poured as "+en.Best(r.Strength.Range, string(r.Strength.Unit))+
			"; the strength is what is left in solution once it has settled, computed.")
	}
	if q.Way == FromStock || q.Way == Conditioned {
		b.TempC = q.StockTempC
	}
	for _, d := range r.Draws {
		if d.Substance == "water" {
			continue
		}
		from := record.Drawn{Name: d.Bottle, Ml: float64(d.Ml)}
		if from.Name == "" {
			from.Name = d.Substance
		}
		if s := q.Bottle; s != nil {
			from.Bottle, from.Name, from.Lot = s.Body.ID, s.Body.Name, s.Body.Lot
			x := record.BottleDrawn{Bottle: s.Body.ID}
			switch {
			case s.Body.VolumeMl > 0 && d.Ml > 0:
				x.Ml = float64(d.Ml)
			case s.Body.MassG > 0 && d.G > 0:
				x.G = float64(d.G)
			}
			if x.Ml > 0 || x.G > 0 {
				drawn = append(drawn, x)
			}
		}
		b.From = append(b.From, from)
	}
	return b, drawn
}

// BecomesChoices are what a solid may become in the bottle.
func BecomesChoices() []record.Choice {
	var list []record.Choice
	for _, x := range solution.Substances() {
		if x.State == solution.Dissolved && x.Anion == solution.Bicarbonate {
			list = append(list, record.Choice{Value: x.Name, Words: x.Name})
		}
	}
	return list
}
