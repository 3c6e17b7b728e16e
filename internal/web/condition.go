package web

import (
	"net/http"
	"strconv"

	"benchleaf/condition"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesCondition(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/condition", s.doCase(s.conditionPage))
}

// conditionPage lists what is wrong, and where.
type conditionPage struct {
	Page
	C       *record.Case
	Open    []account.Question
	Rows    []damageRow
	Totals  []account.Fact
	Groups  []termGroup
	Form    *Form
	After   *Form
	Damages []record.Choice
}

type damageRow struct {
	account.Damage
	Letter, Colour string
	Meaning        string
}

// termGroup is a family of kinds of damage, as a fold of chips.
type termGroup struct {
	Name  string
	Terms []record.Choice
	Kinds []condition.Kind
}

var conditionView = declare[conditionPage]("condition")

func (s *Server) conditionPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := conditionPage{Page: s.casePage(r, c, "condition"), C: c, Open: account.OpenAt(c, "condition")}
	for _, d := range account.Damages(c) {
		row := damageRow{Damage: d}
		if k, ok := condition.Look(condition.Term(d.Body.Term)); ok {
			row.Letter, row.Colour, row.Meaning = k.Letter, k.Group.Colour, k.Meaning
		}
		p.Rows = append(p.Rows, row)
		p.Damages = append(
			p.Damages,
			record.Choice{
				Value: d.Body.ID,
				Words: upperFirst(d.Name) + ", " + record.SheetNames(d.Body.Place.Sheets),
			},
		)
	}
	p.Totals = account.DamageTotals(c)
	for _, g := range condition.Groups() {
		tg := termGroup{Name: g.Name}
		for _, k := range condition.Kinds() {
			if k.Group.Name == g.Name {
				tg.Kinds = append(tg.Kinds, k)
				tg.Terms = append(tg.Terms, record.Choice{Value: string(k.Term), Words: string(k.Term)})
			}
		}
		p.Groups = append(p.Groups, tg)
	}
	p.Form = s.damageForm(r, c)
	p.After = s.bodyForm(r, "after", c.LastSeq, record.DamageAfter{}, false, nil)
	return conditionView.show(s, w, r, p)
}

// damageForm starts empty, or with the damage that the address asks to correct.
func (s *Server) damageForm(r *http.Request, c *record.Case) *Form {
	corrects := correcting(r, "damage")
	for i := range c.Damages {
		if d := &c.Damages[i]; d.Seq == corrects {
			return s.bodyForm(r, "damage", c.LastSeq, d.Body, true, fills{"corrects": strconv.FormatInt(corrects, 10)})
		}
	}
	return s.bodyForm(r, "damage", c.LastSeq, record.Damage{}, false, nil)
}
