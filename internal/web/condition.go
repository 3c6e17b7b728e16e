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
	mux.Handle("GET /cases/{case}/condition/record", s.doCase(s.damagePage))
}

// conditionPage shows what is wrong at a glance: every face with its findings, the
// sheets by how much is on them, and the findings by their numbers.
type conditionPage struct {
	Page
	C    *record.Case
	Open []account.Question
	// Marked are the faces with findings, Plain the others.
	Marked, Plain []mapFace
	Strip         []stripSheet
	Rows          []account.Damage
	Totals        []account.Fact
	Filter        mapFilter
	Kinds         []record.Choice
	Form          *Form
}

// stripSheet is how much is on one sheet: findings by their severity.
type stripSheet struct {
	N      int
	Name   string
	Counts [4]int // severe, moderate, slight, not judged
}

// Total is the number of findings on the sheet.
func (x stripSheet) Total() int { return x.Counts[0] + x.Counts[1] + x.Counts[2] + x.Counts[3] }

var conditionView = declare[conditionPage]("condition")

func (s *Server) conditionPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	show := filterOf(r.URL.Query())
	p := conditionPage{
		Page: s.casePage(r, c, "condition"), C: c, Open: account.OpenAt(c, "condition"), Filter: show,
		Totals: account.DamageTotals(c),
	}
	if m := account.MapOf(c); m != nil {
		for _, f := range m.Faces() {
			if v := viewOf(c, m, f, show, "small"); v.Drawing.Marks > 0 || v.Photo != nil {
				p.Marked = append(p.Marked, v)
			} else {
				p.Plain = append(p.Plain, v)
			}
		}
		p.Strip = stripOf(c, show)
	}
	for _, d := range account.DamagesEver(c) {
		if show.shows(c, &d) {
			p.Rows = append(p.Rows, d)
		}
	}
	p.Kinds = kindsFound(c)
	p.Form = s.form(r, "filter", c.LastSeq, map[string]string{
		"kind": show.Kind, "severity": show.Severity, "found": show.Found,
	})
	return conditionView.show(s, w, r, p)
}

func kindsFound(c *record.Case) []record.Choice {
	var list []record.Choice
	for _, k := range condition.Kinds() {
		for i := range c.Damages {
			if c.Damages[i].Body.Term == string(k.Term) {
				list = append(list, record.Choice{Value: string(k.Term), Words: account.Term(string(k.Term))})
				break
			}
		}
	}
	return list
}

func stripOf(c *record.Case, show mapFilter) []stripSheet {
	list := []stripSheet{}
	at := map[int]int{}
	for _, n := range c.Sheets() {
		at[n] = len(list)
		list = append(list, stripSheet{N: n, Name: upperFirst(record.SheetName(n))})
	}
	level := map[record.Severity]int{"severe": 0, "moderate": 1, "slight": 2, "": 3}
	for _, d := range account.Damages(c) {
		if !show.shows(c, &d) {
			continue
		}
		for _, n := range d.Body.Place.Sheets {
			if i, known := at[n]; known {
				list[i].Counts[level[d.Body.Severity]]++
			}
		}
	}
	return list
}

// damagePage records a finding in words and numbers, where the map is not drawn on,
// or corrects one.
type damagePage struct {
	Page
	C      *record.Case
	Groups []termGroup
	Form   *Form
}

// termGroup is a family of kinds of damage, with their meanings.
type termGroup struct {
	Name  string
	Kinds []condition.Kind
}

var damageView = declare[damagePage]("condition_record")

func (s *Server) damagePage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := damagePage{Page: s.casePage(r, c, "condition"), C: c, Form: s.damageForm(r, c)}
	p.Title = "Record damage"
	if p.Form.Line("corrects") != "" {
		p.Title = "Correct a damage"
	}
	for _, g := range condition.Groups() {
		tg := termGroup{Name: g.Name}
		for _, k := range condition.Kinds() {
			if k.Group.Name == g.Name {
				tg.Kinds = append(tg.Kinds, k)
			}
		}
		p.Groups = append(p.Groups, tg)
	}
	return damageView.show(s, w, r, p)
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
