package web

import (
	"net/http"
	"net/url"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/solution"
)

// mixWay is a sort of start: what there is, and what is made of it.
type mixWay struct{ Slug, Name, Hint string }

var mixWays = []mixWay{
	{"stock", "Lime water", "from the stock over its solid, no balance"},
	{"conditioned", "Conditioned water", "calcium back into de-ionised water"},
	{"solid", "Weigh a solid", "borohydride, bicarbonates, citrate"},
	{"bottle", "Dilute", "a bottle from the shelf or a concentrate"},
	{"ethanol", "Ethanol and water", "with the loss of volume reckoned in"},
	{"cellulose", "Methyl cellulose", "adhesive or size, by weight"},
	{"paste", "Starch paste", "parts of starch and water, cooked"},
}

// mixStarts are the values that each way starts with, so that it shows a recipe
// at once.
var mixStarts = map[string]fills{
	"stock":       {"want": "0.4 g/L", "volume": "1.5 L"},
	"conditioned": {"calcium_mg_l": "20", "volume": "5 L"},
	"solid":       {"want": "0.5 % w/v", "volume": "1 L"},
	"bottle":      {"want": "", "volume": "1 L"},
	"ethanol":     {"want": "70 % v/v", "volume": "500 mL", "substance": "ethanol", "bottle_strength": "96 % v/v"},
	"cellulose":   {"want": "4 % w/v", "volume": "100 mL", "substance": "methyl cellulose"},
	"paste":       {"want": "1 + 5", "volume": "200 mL"},
}

// mixPage is a recipe: what there is and what is wanted, what to pour, and what
// comes of it. Its address is the recipe.
type mixPage struct {
	Page
	Ways    []mixLink
	Way     string
	Form    *Form
	Stocks  []record.Choice
	Waters  []record.Choice
	Scales  []record.Choice
	Meets   []record.Choice
	Into    []string
	Becomes []record.Choice
	Balance bool // a balance is needed

	Recipe  *solution.Recipe
	Cannot  string
	Ask     bool // nothing was asked for yet
	Warn    []string
	Strong  Fact
	PH      Fact
	Left    Fact // where the water takes lime out
	Facts   []Fact
	Caution *Caution
	Swaps   []mixLink
	Usual   bool // the usual glassware was taken
	Stock   *record.ShelfBottle
	Plots   []*curve
	Hydride bool
	Make    *Form
	Fields  []mixField
	Dated   bool
}

type mixLink struct {
	mixWay
	Href string
	On   bool
}

// usualGlass names the vessels that are taken where the studio has named none.
func usualGlass() string {
	var names []string
	for _, g := range solution.UsualGlassware() {
		names = append(names, fig(float64(g.CapacityMl)))
	}
	return "cylinders of " + strings.Join(names, ", ") + " mL"
}

// UsualGlass is usualGlass for the page.
func (p mixPage) UsualGlass() string { return usualGlass() }

// mixField is a field of the recipe that the form for making it carries on.
type mixField struct{ Name, Value string }

var mixView = declare[mixPage]("mix")

func (s *Server) mixPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	f := s.mixForm(r, st)
	p := mixPage{Page: s.solutionsPage(r, "Mix", "mix"), Form: f, Way: f.Line("way")}
	for _, x := range mixWays {
		p.Ways = append(p.Ways, mixLink{x, "/solutions/mix?way=" + x.Slug, x.Slug == p.Way})
	}
	if p.Way != "" {
		s.mixChoices(&p, st)
		m := s.readMix(f, st)
		p.Usual, p.Stock = m.glass == nil, m.stock
		if p.Ask = f.Line("want") == "" && p.Way == "bottle" && !r.URL.Query().Has("want"); !p.Ask {
			if recipe, ok := m.recipe(); ok {
				s.showRecipe(&p, m, recipe)
			}
		}
		p.Cannot = m.cannot
		p.Make = s.makeForm(r, st, m, p.Recipe)
		s.mixPlots(&p, m)
	}
	return mixView.show(s, w, r, p)
}

// mixForm is what the address asks for, or the form that was refused.
func (s *Server) mixForm(r *http.Request, st *record.Studio) *Form {
	if back := refusedOf(r.Context()); back != nil {
		return s.formOf(r, "mix", back.form.values)
	}
	q := r.URL.Query()
	way := q.Get("way")
	stock := st.Bottle(q.Get("stock"))
	if way == "" && stock != nil {
		way = wayFrom(stock)
	}
	fill := fills{"way": way}
	for k, v := range mixStarts[way] {
		fill[k] = v
	}
	if stock == nil && !q.Has("stock") && !q.Has("substance") {
		if list := stocksFor(way, st, s.now()); len(list) > 0 {
			stock = list[0]
			fill["stock"] = stock.Body.ID
		}
	}
	if stock != nil {
		delete(fill, "bottle_strength")
		if stock.Body.TempC != nil {
			fill.number("stock_temp_c", stock.Body.TempC)
		}
	}
	if way == "stock" || way == "conditioned" {
		if fill["stock_temp_c"] == "" {
			fill["stock_temp_c"] = "20"
		}
	}
	fill.text("water", firstWater(way, st))
	if stock != nil && titrated(stock) != nil && !q.Has("volume") { // a tick that was taken away is absent, too
		fill["by_titration"] = "yes"
	}
	for _, x := range st.Instruments {
		if x.Sort == "balance" && !x.Retired {
			fill.text("balance", x.ID)
			break
		}
	}
	f := s.askedFor(r, "mix", fill)
	if way != f.Line("way") {
		f.Set("way", way)
	}
	if !known(way) {
		f.Set("way", "")
	}
	return f
}

func known(way string) bool {
	for _, x := range mixWays {
		if x.Slug == way {
			return true
		}
	}
	return false
}

// wayFrom is the way that a bottle is used by, as a rule.
func wayFrom(b *record.ShelfBottle) string {
	sub, err := solution.Find(b.Body.Substance)
	switch {
	case err == nil && sub.Is(solution.Lime) && b.Body.Form == record.FormSaturated:
		return "stock"
	case err == nil && sub.Is(solution.CelluloseEther) && b.Body.MassG > 0:
		return "cellulose"
	case err == nil && sub.Is(solution.Starch) && b.Body.MassG > 0:
		return "paste"
	case err == nil && sub.Is(solution.Alcohol) && b.Body.VolumeMl > 0:
		return "ethanol"
	case b.Body.MassG > 0:
		return "solid"
	}
	return "bottle"
}

// pureWater is the choice where the studio has named no pure water.
const pureWater = "pure"

// firstWater is the water that a way is mixed with, as a rule: a pure one.
func firstWater(way string, st *record.Studio) string {
	for _, x := range st.Waters {
		if waterOf(&x).Pure {
			return x.ID
		}
	}
	return pureWater
}

func (s *Server) mixChoices(p *mixPage, st *record.Studio) {
	for _, b := range stocksFor(p.Way, st, p.Now) {
		words := upperFirst(b.Body.Name)
		if value, _ := strengthTexts(b); b.Body.Unit != "pure" {
			words += ", " + value
		}
		words += ", " + leftText(b) + " left"
		if b.Expired(p.Now) {
			words += ", past its date"
		}
		p.Stocks = append(p.Stocks, record.Choice{Value: b.Body.ID, Words: words})
	}
	pure := false
	for i := range st.Waters {
		x := &st.Waters[i]
		is := waterOf(x).Pure
		pure = pure || is
		if p.Way != "conditioned" || is {
			p.Waters = append(p.Waters, record.Choice{Value: x.ID, Words: upperFirst(x.Name)})
		}
	}
	if !pure {
		p.Waters = append(p.Waters, record.Choice{Value: pureWater, Words: "De-ionised water"})
	}
	for _, x := range st.Instruments {
		if x.Sort == "balance" && !x.Retired {
			p.Scales = append(p.Scales, record.Choice{Value: x.ID, Words: x.Name})
		}
	}
	for _, t := range solution.Things() {
		p.Meets = append(p.Meets, record.Choice{Value: t, Words: t})
	}
	for _, x := range solution.Substances() {
		p.Into = append(p.Into, x.Name)
		if x.State == solution.Dissolved && x.Anion == solution.Bicarbonate {
			p.Becomes = append(p.Becomes, record.Choice{Value: x.Name, Words: x.Name})
		}
	}
	p.Balance = p.Way == "solid" || p.Way == "cellulose" || p.Way == "paste"
}

// showRecipe lays the recipe out for the page.
func (s *Server) showRecipe(p *mixPage, m *mix, recipe solution.Recipe) {
	p.Recipe = &recipe
	p.Warn = recipe.Warnings
	value, span := rangeTexts(recipe.Strength.Range, string(recipe.Strength.Unit))
	p.Strong = Fact{Name: "Strength", Value: value, Range: span, Basis: recipe.Dominant}
	if c := recipe.Chemistry; c != nil {
		p.PH = Fact{Name: "pH, fresh, settled, kept from air", Value: c.PH.BestText(), Range: c.PH.Text()}
		fell := c.ChalkMgPerL + c.BruciteMgPerL
		switch {
		case fell >= 1:
			p.Facts = append(
				p.Facts,
				Fact{
					Name:  "Falls out",
					Value: fig2(fell),
					Unit:  "mg/L",
					Basis: "chalk" + map[bool]string{true: " and magnesium hydroxide", false: ""}[c.BruciteMgPerL >= 1],
				},
			)
		default:
			p.Facts = append(
				p.Facts,
				Fact{Name: "Falls out", Value: "nothing", Basis: "it stays clear while it is kept from air"},
			)
		}
		if x := c.LimeLeft; x.Best > 0 && fell >= 10 {
			value, span := rangeTexts(x.Range, string(x.Unit))
			p.Strong.Name, p.Left = "Lime as poured", Fact{Name: "Lime left, once settled", Value: value, Range: span}
		}
	}
	volume := recipe.VolumeMl
	p.Facts = append(p.Facts, Fact{Name: "Volume", Value: volume.BestText() + " mL", Range: volume.Text()})
	if !recipe.Parts.IsZero() && recipe.Parts.Diluent > 0 {
		p.Facts = append(
			p.Facts,
			Fact{
				Name:  "In parts",
				Value: "1 + " + fig2(recipe.Parts.Diluent/recipe.Parts.Stock),
				Basis: "stock and water",
			},
		)
	}
	p.Facts = append(
		p.Facts,
		Fact{
			Name:  "Keeps",
			Value: strings.TrimSuffix(recipe.Keeping.Text, "."),
			Basis: strings.TrimSpace(recipe.Keeping.Check + " " + upperFirst(string(recipe.Keeping.Basis)) + "."),
		},
	)
	for _, x := range recipe.Waste {
		p.Facts = append(p.Facts, Fact{Name: "Waste", Value: strings.TrimSuffix(x, ".")})
	}
	if len(recipe.Cautions) > 0 {
		p.Caution = &Caution{
			Title:  orElse(recipe.Label.SignalWord, "Caution"),
			Points: recipe.Cautions,
			Grave:  recipe.Label.SignalWord == "Danger",
		}
	}
	if sub, err := solution.Find(recipe.Substance); err == nil {
		p.Hydride = sub.Is(solution.Hydride)
	}
	if recipe.LimeLostPerLitre > 0 || recipe.Chemistry == nil && m.waterUnknown() {
		s.offerWaters(p, m)
	}
}

// offerWaters are the same recipe in the studio's other waters, with what each
// would leave of the lime.
func (s *Server) offerWaters(p *mixPage, m *mix) {
	for _, x := range p.Waters {
		if x.Value == p.Form.Line("water") {
			continue
		}
		q := changed(p.Form.values, "water", x.Value)
		recipe, ok := s.readMix(&Form{Name: "mix", values: q, now: m.f.now}, m.st).recipe()
		if !ok {
			continue
		}
		hint := "not known what it does"
		if c := recipe.Chemistry; c != nil {
			hint = "stays clear"
			if fell := c.ChalkMgPerL + c.BruciteMgPerL; fell >= 1 {
				hint = fig2(fell) + " mg/L fall out"
			}
			if c.LimeLeft.Best > 0 {
				hint += ", " + c.LimeLeft.BestText() + " g/L left"
			}
		}
		p.Swaps = append(
			p.Swaps,
			mixLink{mixWay: mixWay{Name: x.Words, Hint: hint}, Href: "/solutions/mix?" + q.Encode()},
		)
	}
}

// mixPlots draws what belongs beside a recipe with lime.
func (s *Server) mixPlots(p *mixPage, m *mix) {
	if p.Recipe == nil || p.Recipe.Substance != "calcium hydroxide" || p.Way == "conditioned" {
		return
	}
	var at *float64
	if v := m.stockTemp; p.Way == "stock" && v != 0 {
		at = &v
	}
	if c, err := limeCurve(at); err == nil {
		p.Plots = append(p.Plots, c)
	}
	left := p.Recipe.Strength
	if c := p.Recipe.Chemistry; c != nil && c.LimeLeft.Best > 0 {
		left = c.LimeLeft
	}
	per, err := left.Strength().PerLitre(mustFind("calcium hydroxide"), 0)
	if err != nil {
		return
	}
	if c, _, err := (limeTray{perLitre: float64(per), tempC: 20, depthMm: 20, co2Ppm: 500, hours: 4}).curve(); err == nil {
		p.Plots = append(p.Plots, c)
	}
}

// mustFind is a substance that the table is known to hold.
func mustFind(name string) *solution.Substance {
	s, err := solution.Find(name)
	if err != nil {
		panic("web: the table of substances has lost " + name)
	}
	return s
}

// makeForm is the form that makes the recipe; it carries the recipe's fields.
func (s *Server) makeForm(r *http.Request, st *record.Studio, m *mix, recipe *solution.Recipe) *Form {
	if recipe == nil {
		return s.form(r, "make", st.LastSeq, nil)
	}
	fill := fills{"bottle_name": bottleName(*recipe)}
	if at := recipe.Keeping.Until(s.now()); !at.IsZero() {
		s.fillTime(fill, "expires_at", at)
	}
	return s.form(r, "make", st.LastSeq, fill)
}

// bottleName names what a recipe makes: "lime water 0.40 g/L".
func bottleName(r solution.Recipe) string {
	if name := r.Label.Name; strings.HasPrefix(name, "Water") {
		return "conditioned water, " + r.Wanted
	}
	name := r.Substance
	if name == "calcium hydroxide" {
		name = "lime water"
	}
	if r.Form == "adhesive" && name == "wheat starch" {
		return "wheat starch paste " + r.Parts.String()
	}
	return name + " " + r.Strength.BestText() + " " + string(r.Strength.Unit)
}

// carried are the fields of the recipe, for the form that makes it.
func (p mixPage) Carried() []mixField {
	var list []mixField
	for _, name := range mixFields {
		if v := p.Form.Value(name); v != "" {
			list = append(list, mixField{name, v})
		}
	}
	return list
}

// mixFields are all fields that a recipe follows from.
var mixFields = []string{
	"way",
	"stock",
	"substance",
	"bottle_strength",
	"density",
	"stock_temp_c",
	"temp_within_c",
	"by_titration",
	"want",
	"calcium_mg_l",
	"volume",
	"water",
	"balance",
	"balance_g",
	"purity_pct",
	"becomes",
	"into",
	"meets",
	"by_volume",
}

// Permanent is the recipe's address, to bookmark.
func (p mixPage) Permanent() string {
	q := url.Values{}
	for _, x := range p.Carried() {
		q.Set(x.Name, x.Value)
	}
	return "/solutions/mix?" + q.Encode()
}

// Measured says whether a step measures something, for the size that it is set
// in.
func (p mixPage) Steps() []mixStep {
	var list []mixStep
	for _, l := range p.Recipe.Lines {
		list = append(list, mixStep{l, l.Amount != ""})
	}
	return list
}

type mixStep struct {
	solution.Line
	Measured bool
}

// Labels name the bottle that each way starts from, Wants what is wanted.
func (p mixPage) Labels() map[string]string {
	return map[string]string{
		"stock":       "Stock",
		"conditioned": "Lime stock",
		"solid":       "Solid",
		"bottle":      "Bottle",
		"ethanol":     "Ethanol",
		"cellulose":   "Powder",
		"paste":       "Starch",
	}
}

func (p mixPage) Wants() map[string]string {
	return map[string]string{"paste": "Starch + water, parts"}
}

// WantHint says how a wish is written.
func (p mixPage) WantHint() string {
	switch p.Way {
	case "stock", "bottle", "ethanol":
		return "hint=or in parts: 1 + 3"
	}
	return "hint="
}

// Titrated offers the strength that was measured in the stock.
func (p mixPage) Titrated() string {
	if p.Stock == nil || p.Way != "stock" && p.Way != "conditioned" {
		return ""
	}
	x := titrated(p.Stock)
	if x == nil {
		return ""
	}
	return "Use its strength as measured, " + x.Text() + ", instead of its temperature"
}

// MoreOpen says whether a field under "More" is in use.
func (p mixPage) MoreOpen() bool {
	for _, name := range []string{"purity_pct", "becomes", "density", "into", "temp_within_c", "meets"} {
		if p.Form.Line(name) != "" || len(p.Form.RefusalsAt(name)) > 0 {
			return true
		}
	}
	return false
}

// HydrogenHref is the calculator of hydrogen with this recipe in it.
func (p mixPage) HydrogenHref() string {
	q := url.Values{}
	q.Set("substance", p.Recipe.Substance)
	q.Set("strength", p.Recipe.Strength.BestText()+" "+string(p.Recipe.Strength.Unit))
	q.Set("volume", solution.Millilitres(p.Recipe.VolumeMl.Best).Text())
	return "/solutions/hydrogen?" + q.Encode()
}
