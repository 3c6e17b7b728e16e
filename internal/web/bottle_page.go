package web

import (
	"net/http"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/papers"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// bottlePage is one bottle: what is in it, what that rests on, what became of
// it.
type bottlePage struct {
	Page
	B       *record.ShelfBottle
	Card    shelfCard
	Facts   []Fact
	Caution *Caution
	// Hazard is what the law makes of what it holds; Kept what happens in its vessel.
	Hazard          *Caution
	Note            string
	Kept            []account.Meeting
	Into            []string
	From            []bottleSource
	Uses            []bottleUse
	Checks          []bottleCheckRow
	Draw, Check     *Form
	Empty           *Form
	Solid           bool
	Log             []account.Line
	Wastes          []string
	Saturated, Lime bool
	Seq             int64
}

// bottleSource is what a bottle was made of.
type bottleSource struct{ ID, Name, Lot, Amount string }

// bottleUse is what was drawn from it.
type bottleUse struct {
	Seq         int64
	Time        time.Time
	By          string
	Amount, For string
}

type bottleCheckRow struct {
	record.Stamped[record.BottleChecked]
	Strength, Range string
}

var bottleView = declare[bottlePage]("bottle")

// theBottle finds the bottle that the address names.
func (s *Server) theBottle(r *http.Request) (*record.Studio, *record.ShelfBottle, error) {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return nil, nil, err
	}
	b := st.Bottle(r.PathValue("bottle"))
	if b == nil {
		return nil, nil, store.ErrNotFound
	}
	return st, b, nil
}

func bottlePath(id string) string { return "/solutions/bottles/" + id }

func (s *Server) bottlePage(w http.ResponseWriter, r *http.Request) error {
	st, b, err := s.theBottle(r)
	if err != nil {
		return err
	}
	p := bottlePage{Page: s.solutionsPage(r, upperFirst(b.Body.Name), "shelf"), B: b, Seq: b.Seq}
	p.Back = bottlePath(b.Body.ID)
	p.Card = s.cardOf(b, p.Now)
	p.Facts = s.bottleFacts(st, b, p)
	p.Solid = b.Body.VolumeMl == 0
	p.Saturated = b.Body.Form == record.FormSaturated
	if len(b.Body.Cautions) > 0 {
		p.Caution = &Caution{Title: "When you use it", Points: b.Body.Cautions}
	}
	h := account.HazardsOf(b)
	if p.Note = h.Note; h.Signal != "" {
		p.Hazard = &Caution{Title: h.Signal, Points: append(h.Said(), h.Lines...), Grave: h.Signal == "Danger"}
	} else if len(h.Lines) > 0 {
		p.Hazard = &Caution{Title: "What must not meet it", Points: h.Lines, Grave: true}
	}
	p.Kept, p.Into = account.Kept(b), account.GoesInto(st, b)
	for _, d := range b.Body.From {
		x := bottleSource{ID: d.Bottle, Name: d.Name, Lot: d.Lot}
		if d.Ml > 0 {
			x.Amount = account.Volume(d.Ml)
		}
		if st.Bottle(d.Bottle) == nil {
			x.ID = ""
		}
		p.From = append(p.From, x)
	}
	for _, c := range b.Checks {
		row := bottleCheckRow{Stamped: c}
		if c.Body.Strength != nil {
			row.Strength, row.Range = rangeTexts(*c.Body.Strength, b.Body.Unit)
		}
		p.Checks = append(p.Checks, row)
	}
	p.Uses = s.usesOf(st, b.Body.ID)
	p.Draw = s.form(r, "draw", st.LastSeq, nil)
	p.Check = s.form(r, "check", st.LastSeq, nil)
	p.Empty = s.form(r, "empty", st.LastSeq, nil)
	p.Lime = account.IsLime(b.Body.Substance)
	return bottleView.show(s, w, r, p)
}

func (s *Server) bottleFacts(st *record.Studio, b *record.ShelfBottle, p bottlePage) []Fact {
	x := b.Body
	list := []Fact{{Name: "Substance", Value: x.Substance, Basis: record.WordsOf(record.BottleForms, x.Form)}}
	strength := Fact{
		Name: "Strength", Value: p.Card.Strength, Range: p.Card.Range,
		Basis: orElse(account.StrengthNow(b).RestsOn, shortBasis(x.RestsOn)),
	}
	for _, c := range b.Checks {
		if c.Body.Strength != nil {
			strength.Basis = "as measured " + c.Time.In(s.zone).Format("2 January 2006") + ": " + c.Body.How
		}
	}
	list = append(list, strength)
	add := func(name, value, basis string) {
		if value != "" {
			list = append(list, Fact{Name: name, Value: value, Basis: basis})
		}
	}
	add("Left", p.Card.Left, "of "+wholeText(b))
	add(
		"Made or opened", b.Body.MadeAt.In(s.zone).Format("2 January 2006, 15:04"),
		after("by ", st.PersonNamed(x.Maker)),
	)
	if x.ExpiresAt.IsZero() {
		add("Use by", "no date", x.ExpiryBasis)
	} else {
		add("Use by", x.ExpiresAt.In(s.zone).Format("2 January 2006, 15:04"), x.ExpiryBasis)
	}
	add("Water", x.Water, "")
	add("Kept in", x.Vessel, "")
	if x.TempC != nil {
		add("Temperature", fig(*x.TempC)+" °C", "")
	}
	add("Lot", x.Lot, after("from ", x.Supplier))
	add("Note", x.Note, "")
	return list
}

// shortBasis is a basis of one sentence; a longer one has its own fold.
func shortBasis(s string) string {
	if len(s) > 160 {
		return ""
	}
	return s
}

// RestsOn is what the strength rests on, where that takes more than a line.
func (p bottlePage) RestsOn() string {
	if shortBasis(p.B.Body.RestsOn) != "" {
		return ""
	}
	return p.B.Body.RestsOn
}

// Warned are the warnings of its recipe that no caution says.
func (p bottlePage) Warned() []string { return p.B.Body.Warnings }

func wholeText(b *record.ShelfBottle) string {
	if b.Body.VolumeMl > 0 {
		return account.Volume(b.Body.VolumeMl)
	}
	return fig(b.Body.MassG) + " g"
}

// usesOf is what was drawn from a bottle and still counts, newest first.
func (s *Server) usesOf(st *record.Studio, id string) []bottleUse {
	var list []bottleUse
	for i := len(st.Log) - 1; i >= 0; i-- {
		l := &st.Log[i]
		d, is := l.Decoded.(record.BottleDrawn)
		if !is || d.Bottle != id || !l.Counts() {
			continue
		}
		u := bottleUse{Seq: l.Seq, Time: l.Time, By: l.By, For: d.For}
		if d.Ml > 0 {
			u.Amount = account.Volume(d.Ml)
		} else {
			u.Amount = fig(d.G) + " g"
		}
		list = append(list, u)
	}
	return list
}

// label is the bottle's label; labels is a page of several.
func (s *Server) label(w http.ResponseWriter, r *http.Request) error {
	_, b, err := s.theBottle(r)
	if err != nil {
		return err
	}
	return s.labelsOf(w, r, "label-"+b.Body.Name, []string{b.Body.ID})
}

func (s *Server) labels(w http.ResponseWriter, r *http.Request) error {
	list := r.URL.Query()["bottle"]
	if len(list) == 0 {
		return record.Invalidf("bottle", "No bottle is chosen: go back and choose those that need a label.")
	}
	const most = 200
	if len(list) > most {
		return record.Invalidf("bottle", "At most %d labels are made at once.", most)
	}
	return s.labelsOf(w, r, "labels", list)
}

func (s *Server) labelsOf(w http.ResponseWriter, r *http.Request, name string, bottles []string) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	for _, id := range bottles {
		if st.Bottle(id) == nil {
			return store.ErrNotFound
		}
	}
	pdf, err := papers.Labels(st, bottles, papers.Options{Zone: s.zone})
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", `inline; filename="`+fileName(name)+`.pdf"`)
	_, err = w.Write(pdf)
	return err
}
