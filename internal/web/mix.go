package web

import (
	"net/http"
	"net/url"
	"slices"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// mixWay is a sort of start: what there is, and what is made of it.
type mixWay struct {
	Slug, Name, Hint string
	From             string // what the bottle that it starts from is called
	starts           fills  // so that it shows a recipe at once
}

var mixWays = []mixWay{
	{account.FromStock, "Lime water", "from the stock over its solid, no balance", "Stock",
		fills{"want": "0.4 g/L", "volume": "1.5 L"}},
	{account.Conditioned, "Conditioned water", "calcium back into de-ionised water", "Lime stock",
		fills{"calcium_mg_l": "20", "volume": "5 L"}},
	{account.FromSolid, "Weigh a solid", "borohydride, bicarbonates, citrate", "Solid",
		fills{"want": "0.5 % w/v", "volume": "1 L"}},
	{account.FromBottle, "Dilute", "a bottle from the shelf or a concentrate", "Bottle",
		fills{"want": "", "volume": "1 L"}},
	{account.Ethanol, "Ethanol and water", "with the loss of volume counted in", "Ethanol",
		fills{"want": "70 % v/v", "volume": "500 mL", "substance": "ethanol", "bottle_strength": "96 % v/v"}},
	{account.Cellulose, "Methyl cellulose", "adhesive or size, by weight", "Powder",
		fills{"want": "4 % w/v", "volume": "100 mL", "substance": "methyl cellulose"}},
	{account.Paste, "Starch paste", "parts of starch and water, cooked", "Starch",
		fills{"want": "1 + 5", "volume": "200 mL"}},
}

func mixWayOf(slug string) *mixWay {
	i := slices.IndexFunc(mixWays, func(x mixWay) bool { return x.Slug == slug })
	if i < 0 {
		return nil
	}
	return &mixWays[i]
}

// mixPage is a recipe: what there is and what is wanted, what to pour, and what
// comes of it. Its address is the recipe.
type mixPage struct {
	Page
	Ways                                   []mixLink
	Way                                    string
	Chosen                                 *mixWay
	Form                                   *Form
	Stocks, Waters, Scales, Meets, Becomes []record.Choice
	Vessels                                []record.Choice
	Into                                   []string
	Balance                                bool // a balance is needed
	Stock                                  *record.ShelfBottle
	Usual                                  bool // the usual glassware was taken
	Mix                                    *account.Mix
	Cannot                                 string
	Ask                                    bool // nothing was asked for yet
	Caution                                *Caution
	Stronger                               *mixLink // what leaves the strength wanted
	Swaps                                  []mixLink
	Plots                                  []plot
	Make                                   *Form
	Titrated                               string // the strength that was measured in the stock
}

type mixLink struct {
	Name, Hint, Href string
	On               bool
}

var mixView = declare[mixPage]("mix")

func (s *Server) mixPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	f := s.mixForm(r, st)
	p := mixPage{
		Page: s.solutionsPage(r, "Mix", "mix"), Form: f, Chosen: mixWayOf(f.Line("way")),
		Make: s.form(r, "make", st.LastSeq, nil),
	}
	for _, x := range mixWays {
		p.Ways = append(p.Ways, mixLink{x.Name, x.Hint, "/solutions/mix?way=" + x.Slug, x.Slug == f.Line("way")})
	}
	if p.Chosen != nil {
		p.Way = p.Chosen.Slug
		q := s.mixQuestion(f, st)
		s.mixChoices(&p, st, q)
		p.Ask = q.Want == "" && p.Way == account.FromBottle && !r.URL.Query().Has("want")
		if !p.Ask {
			s.showMix(r, &p, st, q)
		}
	}
	return mixView.show(s, w, r, p)
}

// mixQuestion is what the fields ask, with the studio's own things put in.
func (s *Server) mixQuestion(f *Form, st *record.Studio) account.MixQuestion {
	var q account.MixQuestion
	ask(f, &q)
	q.OnTheShelf(st, s.now())
	return q
}

// mixForm is what the address asks for, or the form that was refused.
func (s *Server) mixForm(r *http.Request, st *record.Studio) *Form {
	if back := refusedOf(r.Context()); back != nil {
		return s.formOf(r, "mix", back.form.values)
	}
	q := r.URL.Query()
	way, stock := q.Get("way"), st.Bottle(q.Get("stock"))
	if way == "" && stock != nil {
		way = account.WayFrom(stock)
	}
	fill := fills{}
	if chosen := mixWayOf(way); chosen != nil {
		for k, v := range chosen.starts {
			fill[k] = v
		}
	}
	if stock == nil && !q.Has("stock") && !q.Has("substance") {
		if list := account.StocksFor(way, st, s.now()); len(list) > 0 {
			stock = list[0]
			fill["stock"] = stock.Body.ID
		}
	}
	if way == account.FromStock || way == account.Conditioned {
		fill["stock_temp_c"] = "20"
	}
	if stock != nil {
		delete(fill, "bottle_strength")
		fill.number("stock_temp_c", stock.Body.TempC)
		if account.Titrated(stock) != nil && !q.Has("volume") { // a tick that was taken away is absent, too
			fill["by_titration"] = "yes"
		}
	}
	_, fill["water"] = account.MixWaters(way, st)
	if scales := balances(st); len(scales) > 0 {
		fill.text("balance", scales[0].Value)
	}
	f := s.askedFor(r, "mix", fill)
	if f.Set("way", way); mixWayOf(way) == nil {
		f.Set("way", "")
	}
	return f
}

func balances(st *record.Studio) []record.Choice {
	var list []record.Choice
	for _, x := range st.Instruments {
		if x.Sort == "balance" && !x.Retired {
			list = append(list, record.Choice{Value: x.ID, Words: x.Name})
		}
	}
	return list
}

func (s *Server) mixChoices(p *mixPage, st *record.Studio, q account.MixQuestion) {
	p.Stocks, p.Scales, p.Meets = account.StockChoices(p.Way, st, s.words()), balances(st), account.Things()
	p.Waters, _ = account.MixWaters(p.Way, st)
	p.Vessels = account.Vessels()
	p.Into, p.Becomes = account.SubstanceNames(), account.BecomesChoices()
	p.Balance = slices.Contains([]string{account.FromSolid, account.Cellulose, account.Paste}, p.Way)
	p.Stock, p.Usual = q.Bottle, q.Glass == nil
	if p.Stock != nil && (p.Way == account.FromStock || p.Way == account.Conditioned) {
		if x := account.Titrated(p.Stock); x != nil {
			p.Titrated = "Use its strength as measured, " + words.English.Figure(*x) + ", instead of its temperature"
		}
	}
}

// showMix asks for the recipe and what stands beside it.
func (s *Server) showMix(r *http.Request, p *mixPage, st *record.Studio, q account.MixQuestion) {
	if len(p.Form.Refused) > 0 {
		return
	}
	now := s.now()
	mix, refused, cannot := account.MixOf(q, now)
	p.Form.take(refused)
	if p.Mix, p.Cannot = mix, cannot; mix == nil {
		return
	}
	if len(mix.Cautions) > 0 {
		p.Caution = &Caution{orElse(mix.Signal, "Caution"), mix.Cautions, mix.Signal == "Danger"}
	}
	p.Plots = plotsOf(account.MixCurves(q, mix))
	to := func(field, value string) string {
		return "/solutions/mix?" + changed(p.Form.values, field, value).Encode()
	}
	if x := account.StrongerFor(q, mix, now); x != nil {
		p.Stronger = &mixLink{Name: x.Say}
		if !x.Cannot {
			p.Stronger.Href = to("left", "yes")
		}
	}
	for _, x := range account.OtherWaters(q, mix, st, now) {
		p.Swaps = append(p.Swaps, mixLink{Name: x.Words, Hint: x.Say, Href: to("water", x.ID)})
	}
	fill := fills{"bottle_name": mix.Name}
	if !mix.Until.IsZero() {
		s.fillTime(fill, "expires_at", mix.Until)
	}
	p.Make = s.form(r, "make", st.LastSeq, fill)
}

// mixField is a field of the recipe that the form for making it carries on.
type mixField struct{ Name, Value string }

// Carried are the fields of the recipe, for the form that makes it.
func (p mixPage) Carried() []mixField {
	var list []mixField
	for _, x := range account.Fields(&account.MixQuestion{}) {
		for _, v := range p.Form.List(x.Name) {
			if v != "" {
				list = append(list, mixField{x.Name, v})
			}
		}
	}
	return list
}

// UsualGlass names the vessels that are taken where the studio has named none.
func (p mixPage) UsualGlass() string { return account.UsualGlass() }

// WantLabel and WantHint say what is wanted and how a wish is written.
func (p mixPage) WantLabel() string {
	if p.Way == account.Paste {
		return "Starch + water, parts"
	}
	return "Wanted"
}

func (p mixPage) WantHint() string {
	switch p.Way {
	case account.FromStock, account.FromBottle, account.Ethanol:
		return "hint=or in parts: 1 + 3"
	}
	return "hint="
}

// MoreOpen says whether a field under "More" is in use.
func (p mixPage) MoreOpen() bool {
	more := []string{"purity_pct", "becomes", "density", "into", "temp_within_c", "meets", "grade_mpas"}
	return slices.ContainsFunc(more,
		func(name string) bool { return p.Form.Line(name) != "" || len(p.Form.RefusalsAt(name)) > 0 })
}

// HydrogenHref is the calculator of hydrogen with this recipe in it.
func (p mixPage) HydrogenHref() string {
	number, _ := words.English.Parts(p.Mix.Kept)
	return "/solutions/hydrogen?" + url.Values{
		"substance": {p.Mix.Recipe.Substance}, "strength": {number + " " + p.Mix.Kept.Unit},
		"volume": {account.Volume(p.Mix.VolumeMl)},
	}.Encode()
}

// VapourHref is the calculator of vapour with this recipe in it.
func (p mixPage) VapourHref() string {
	number, _ := words.English.Parts(p.Mix.Kept)
	return "/solutions/vapour?" + url.Values{
		"substance": {p.Mix.Recipe.Substance}, "strength": {number + " " + p.Mix.Kept.Unit},
	}.Encode()
}

// mixSave makes the recipe: it writes the bottle, and draws what went into it
// from the bottles that it came from, in the same act.
func (s *Server) mixSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "make")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	asked := s.formOf(r, "mix", f.values)
	q := s.mixQuestion(asked, st)
	mix, refused, cannot := account.MixOf(q, s.now())
	if asked.take(refused); mix == nil || len(asked.Refused) > 0 {
		f.Refuse("", "The recipe cannot be made as it stands: %s", orElse(cannot, firstRefusal(asked)))
		return s.save(w, r, f, Saving{Case: record.StudioID}, s.mixPage)
	}
	b, drawn := mix.Bottle(q)
	b.ID, b.Name, b.Maker, b.MadeAt = f.ID(0), orElse(f.Line("bottle_name"), b.Name), f.By, f.At()
	b.ExpiresAt, b.Lot, b.Note = f.Time("expires_at", "the expiry"), f.Line("lot"), f.Text("note")
	if v := f.MaybeNumber("volume_ml", "the volume"); v != nil {
		b.VolumeMl = *v
	}
	b.Vessel = f.Line("vessel")
	f.take(account.KeptIn("vessel", &b))
	bodies := []record.Body{b}
	for _, d := range drawn {
		d.For = b.Name
		bodies = append(bodies, d)
	}
	said := "Made: " + b.Name + ". Its label is ready to print."
	to := Saving{Case: record.StudioID, Items: items(bodies...), To: bottlePath(b.ID), Said: said}
	return s.save(w, r, f, to, s.mixPage)
}

func firstRefusal(f *Form) string {
	for _, x := range f.Refused {
		if x.Say != "" {
			return x.Say
		}
	}
	return "a field is missing."
}
