package web

import (
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/solution"
)

// mix is a recipe as the page's fields ask for it. Package solution works it
// out; here the fields are read and the studio's own things put in.
type mix struct {
	f         *Form
	st        *record.Studio
	now       time.Time
	way       string
	stock     *record.ShelfBottle
	water     solution.Water
	waterName string
	glass     []solution.Glassware
	want      solution.Wanted
	volume    solution.Millilitres
	stockTemp float64
	// cannot is the sentence of package solution on why there is no recipe.
	cannot string
}

// recipeSeed makes the same address give the same ranges.
const recipeSeed = 1

func (s *Server) readMix(f *Form, st *record.Studio) *mix {
	m := &mix{
		f:         f,
		st:        st,
		now:       s.now(),
		way:       f.Line("way"),
		water:     solution.Deionised(),
		waterName: "de-ionised water",
	}
	if b := st.Bottle(f.Line("stock")); b != nil && b.Emptied == nil {
		m.stock = b
	}
	if x := st.Water(f.Line("water")); x != nil {
		m.water, m.waterName = waterOf(x), x.Name
	}
	for _, g := range st.Glass {
		if !g.Retired {
			m.glass = append(
				m.glass,
				solution.Glassware{
					Name:         g.Name,
					CapacityMl:   solution.Millilitres(g.CapacityMl),
					GraduationMl: solution.Millilitres(g.GraduationMl),
					ToleranceMl:  solution.Millilitres(g.ToleranceMl),
				},
			)
		}
	}
	return m
}

func (m *mix) waterUnknown() bool {
	_, _, known := m.water.LimeLost()
	return !known
}

// recipe works the recipe out; what is wrong with a field is said there, what
// is wrong with the whole in cannot.
func (m *mix) recipe() (solution.Recipe, bool) {
	m.readWanted()
	make := map[string]func() (solution.Recipe, error){
		"stock": m.limeFromStock, "conditioned": m.conditioned, "solid": m.fromSolid, "cellulose": m.fromSolid,
		"bottle": m.fromBottle, "ethanol": m.fromBottle, "paste": m.paste,
	}[m.way]
	if make == nil || len(m.f.Refused) > 0 {
		return solution.Recipe{}, false
	}
	recipe, err := make()
	if err == nil && len(m.f.Refused) == 0 {
		err = m.meets(&recipe)
	}
	if err != nil {
		m.cannot = upperFirst(err.Error()) + "."
	}
	return recipe, err == nil && len(m.f.Refused) == 0
}

func (m *mix) readWanted() {
	var err error
	if m.way != "conditioned" {
		if m.f.Line("want") == "" {
			m.f.Refuse("want", "Say what you want: a strength as 0.4 g/L or 1 %% w/v, or parts as 1 + 3.")
		} else if m.want, err = solution.ParseWanted(m.f.Line("want")); err != nil {
			m.refuse("want", err)
		}
	}
	if m.f.Line("volume") == "" {
		m.f.Refuse("volume", "Say how much you want, as 400 mL or 1.5 L.")
	} else if m.volume, err = solution.ParseVolume(m.f.Line("volume")); err != nil {
		m.refuse("volume", err)
	}
}

// refuse puts a sentence of package solution at a field.
func (m *mix) refuse(field string, err error) {
	m.f.Refuse(field, "%s.", strings.TrimSuffix(upperFirst(err.Error()), "."))
}

// meets refuses, or warns of, what the mixture is to meet: a vessel, a sheet.
func (m *mix) meets(r *solution.Recipe) error {
	for _, thing := range m.f.List("meets") {
		if thing == "" {
			continue
		}
		found, err := solution.Conflicts(r.Substance, thing)
		if err != nil {
			return err
		}
		for _, c := range found {
			if c.Level == solution.Stop {
				m.f.Refuse("meets", "Refused: %s", c.Sentence())
				return nil
			}
			r.Warnings = append(r.Warnings, c.Sentence())
		}
	}
	return nil
}

func (m *mix) lime() solution.LimeFromStock {
	q := solution.LimeFromStock{Want: m.want, Volume: m.volume, Glass: m.glass, Water: m.water, Seed: recipeSeed}
	m.stockTemp = m.f.Number("stock_temp_c", "the stock’s temperature")
	q.StockTemp = solution.Celsius(m.stockTemp)
	if v := m.f.MaybeNumber("temp_within_c", "how far off the temperature may be"); v != nil {
		q.TempWithin = solution.Celsius(*v)
	}
	if b := m.stock; b != nil {
		q.StockName, q.StockLeft = b.Body.Name, solution.Millilitres(b.LeftMl)
		if m.f.Tick("by_titration") {
			q.Titrated = titrated(b)
		}
	}
	return q
}

// titrated is the last strength that was measured in a bottle, nil when none.
func titrated(b *record.ShelfBottle) *solution.StrengthRange {
	for _, c := range slices.Backward(b.Checks) {
		if c.Body.Strength != nil {
			return &solution.StrengthRange{Range: *c.Body.Strength, Unit: solution.Unit(b.Body.Unit)}
		}
	}
	return nil
}

func (m *mix) limeFromStock() (solution.Recipe, error) {
	q := m.lime()
	if len(m.f.Refused) > 0 {
		return solution.Recipe{}, nil
	}
	return q.Recipe()
}

func (m *mix) conditioned() (solution.Recipe, error) {
	q := solution.ConditionedWater{LimeFromStock: m.lime(), CalciumMgPerL: m.f.Number("calcium_mg_l", "the calcium")}
	if len(m.f.Refused) > 0 {
		return solution.Recipe{}, nil
	}
	return q.Recipe()
}

// substance is what is weighed or diluted: that of the bottle chosen, else as
// typed.
func (m *mix) substance() *solution.Substance {
	name, field := m.f.Line("substance"), "substance"
	if m.stock != nil {
		name, field = m.stock.Body.Substance, "stock"
	}
	if name == "" {
		m.f.Refuse(field, "Choose a bottle from the shelf, or name the substance.")
		return nil
	}
	sub, err := solution.Find(name)
	if err != nil {
		m.refuse(field, err)
		return nil
	}
	return sub
}

// other is a substance that a field may name.
func (m *mix) other(field string) *solution.Substance {
	if m.f.Line(field) == "" {
		return nil
	}
	sub, err := solution.Find(m.f.Line(field))
	if err != nil {
		m.refuse(field, err)
		return nil
	}
	if sub.Name == "water" {
		return nil
	}
	return sub
}

func (m *mix) fromSolid() (solution.Recipe, error) {
	q := solution.FromSolid{
		Substance: m.substance(),
		Want:      m.want.Strength,
		Volume:    m.volume,
		Balance:   m.balance(),
		Glass:     m.glass,
		Water:     m.water,
		As:        m.other("becomes"),
		Into:      m.other("into"),
		Seed:      recipeSeed,
	}
	if !m.want.Parts.IsZero() {
		m.f.Refuse("want", "A solid is weighed for a strength, as 1 %% w/v, not for parts.")
	}
	if v := m.f.MaybeNumber("purity_pct", "the purity"); v != nil {
		q.Purity = interval.Exactly(*v / 100)
	}
	if m.stock != nil {
		q.SolidLeft = solution.Grams(m.stock.LeftG)
	}
	if len(m.f.Refused) > 0 {
		return solution.Recipe{}, nil
	}
	return q.Recipe()
}

// balance is the studio's, or one of the resolution typed.
func (m *mix) balance() solution.Balance {
	for _, x := range m.st.Instruments {
		if x.ID == m.f.Line("balance") && x.Resolution > 0 {
			g := x.Resolution
			if x.Unit == "mg" {
				g /= 1000
			}
			return solution.Balance{Name: x.Name, ResolutionG: solution.Grams(g)}
		}
	}
	if m.f.Line("balance_g") == "" {
		m.f.Refuse("balance_g", "Enter the last digit that your balance shows, as 0.1 g.")
		return solution.Balance{}
	}
	return solution.Balance{ResolutionG: solution.Grams(m.f.Number("balance_g", "the balance’s last digit"))}
}

func (m *mix) fromBottle() (solution.Recipe, error) {
	q := solution.FromBottle{
		Substance: m.substance(),
		Want:      m.want,
		Volume:    m.volume,
		Glass:     m.glass,
		Water:     m.water,
		Into:      m.other("into"),
		Seed:      recipeSeed,
	}
	if v := m.f.MaybeNumber("density", "the density"); v != nil {
		q.Density = solution.GramsPerMillilitre(*v)
	}
	if b := m.stock; b != nil {
		q.Bottle, q.Left, q.PastDate = b.Body.Name, solution.Millilitres(b.LeftMl), b.Expired(m.now)
		if r := b.StrengthNow(); r != nil && b.Body.Unit != "pure" {
			if b.Body.Unit == "parts" {
				m.f.Refuse(
					"stock",
					"The strength of this bottle is kept in parts, so nothing can be reckoned from it: correct it "+
						"to g/L or %%.",
				)
			}
			q.Strength = solution.StrengthRange{Range: *r, Unit: solution.Unit(b.Body.Unit)}
		}
	} else if typed := m.f.Line("bottle_strength"); typed != "" {
		x, err := solution.ParseStrength(typed)
		if err != nil {
			m.refuse("bottle_strength", err)
		}
		q.Strength = solution.StrengthRange{Range: interval.Exactly(x.Value), Unit: x.Unit}
	}
	if len(m.f.Refused) > 0 {
		return solution.Recipe{}, nil
	}
	return q.Recipe()
}

func (m *mix) paste() (solution.Recipe, error) {
	q := solution.StarchPaste{
		Parts:    m.want.Parts,
		ByVolume: m.f.Tick("by_volume"),
		Yield:    m.volume,
		Glass:    m.glass,
		Seed:     recipeSeed,
	}
	if m.want.Parts.IsZero() {
		m.f.Refuse("want", "A starch paste is wanted in parts of starch and water, as 1 + 5.")
	}
	if !q.ByVolume {
		q.Balance = m.balance()
	}
	if len(m.f.Refused) > 0 {
		return solution.Recipe{}, nil
	}
	return q.Recipe()
}

// stocksFor are the bottles that a way can start from, in date first.
func stocksFor(way string, st *record.Studio, now time.Time) []*record.ShelfBottle {
	var fresh, old []*record.ShelfBottle
	for i := len(st.Bottles) - 1; i >= 0; i-- {
		b := &st.Bottles[i]
		if b.Emptied != nil || b.LeftMl == 0 && b.LeftG == 0 || !fits(way, b) {
			continue
		}
		if b.Expired(now) {
			old = append(old, b)
		} else {
			fresh = append(fresh, b)
		}
	}
	return append(fresh, old...)
}

func fits(way string, b *record.ShelfBottle) bool {
	sub, err := solution.Find(b.Body.Substance)
	if err != nil {
		return false
	}
	solid := b.Body.MassG > 0
	switch way {
	case "stock", "conditioned":
		return sub.Is(solution.Lime) && b.Body.Form == record.FormSaturated && !solid
	case "solid":
		return solid && sub.State == solution.Solid
	case "cellulose":
		return solid && sub.Is(solution.CelluloseEther)
	case "paste":
		return solid && sub.Is(solution.Starch)
	case "ethanol":
		return sub.Name == "ethanol" && !solid
	case "bottle":
		return !solid && (b.Body.Unit != "pure" || sub.State != solution.Solid)
	}
	return false
}
