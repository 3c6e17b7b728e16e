package web

import (
	"fmt"
	"net/http"

	"benchleaf/condition"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesCondition(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/condition", s.doCase(s.conditionPage))
	mux.Handle("POST /cases/{case}/damage", s.doCase(s.damageSave))
	mux.Handle("POST /cases/{case}/damage-after", s.doCase(s.damageAfterSave))
}

// conditionPage lists what is wrong, and where.
type conditionPage struct {
	Page
	C       *record.Case
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
	p := conditionPage{Page: s.casePage(r, c, "condition"), C: c}
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
	p.After = s.form(r, "after", c.LastSeq, nil)
	return conditionView.show(s, w, r, p)
}

// damageForm starts empty, or with the damage that the address asks to correct.
func (s *Server) damageForm(r *http.Request, c *record.Case) *Form {
	m := fills{"severity": "moderate", "cause_is": "unknown", "active": "no"}
	var on []int
	corrects := correcting(r, "damage")
	for i := range c.Damages {
		d := &c.Damages[i]
		if d.Seq != corrects {
			continue
		}
		b := d.Body
		m = fills{
			"corrects": fmt.Sprint(corrects),
			"damage":   b.ID,
			"term":     b.Term,
			"severity": string(b.Severity),
			"cause_is": string(b.CauseIs),
			"active":   string(b.Active),
		}
		m.place(b.Place).
			number("x_mm", b.XMm).
			number("y_mm", b.YMm).
			number("length_mm", b.LengthMm).
			number("width_mm", b.WidthMm).
			number("area_mm2", b.AreaMm2).
			whole("count", b.Count).
			text("cause", b.Cause).
			text("note", b.Note)
		if b.Through {
			m["through"] = "yes"
		}
		on = b.Place.Sheets
	}
	return s.form(r, "damage", c.LastSeq, m).setSheets("sheets", on)
}

func (s *Server) damageSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "damage")
	if err != nil {
		return err
	}
	id := f.Line("damage")
	if id == "" {
		id = f.ID(0)
	}
	b := record.Damage{
		ID:      id,
		Term:    f.Line("term"),
		Place:   placeOf(f),
		Through: f.Tick("through"),
		XMm:     f.MaybeNumber("x_mm", "the place across"),
		YMm:     f.MaybeNumber("y_mm", "the place down"),
		LengthMm: f.MaybeNumber(
			"length_mm",
			"the length",
		),
		WidthMm:  f.MaybeNumber("width_mm", "the width"),
		AreaMm2:  f.MaybeNumber("area_mm2", "the area"),
		Count:    f.MaybeWhole("count", "the count"),
		Severity: record.Severity(f.Line("severity")),
		Cause:    f.Line("cause"),
		CauseIs:  record.CauseBasis(f.Line("cause_is")),
		Active:   record.Activity(f.Line("active")),
		Note:     f.Text("note"),
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: []record.Item{item(f, b)},
			To:    casePath(c.ID, "condition"),
			Said:  upperFirst(b.Term) + ", " + record.SheetNames(b.Place.Sheets) + ": recorded.",
		},
		s.inCase(s.conditionPage),
	)
}

func (s *Server) damageAfterSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "after")
	if err != nil {
		return err
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case: c.ID,
			Items: items(
				record.DamageAfter{Damage: f.Line("damage"), Outcome: record.DamageOutcome(f.Line("damage_outcome")), Text: f.Text("text")},
			),
			To:   casePath(c.ID, "condition"),
			Said: "How it stands now is recorded.",
		},
		s.inCase(s.conditionPage),
	)
}
