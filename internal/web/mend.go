package web

import (
	"math"
	"net/http"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// mendPage logs a mend: the last one's tissue and adhesive stand ready.
type mendPage struct {
	Page
	C         *record.Case
	Form      *Form
	Damages   []record.Choice
	Adhesives []record.Choice
	Tissues   []string
	Pastes    []string
	Wet       []sheetNow
	Mends     []mendRow
}

type mendRow struct {
	record.Stamped[record.Mend]
	Damages string
}

var mendView = declare[mendPage]("mend")

func (s *Server) mendPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := mendPage{Page: s.casePage(r, c, "bench"), C: c}
	p.Title = "Log a mend"
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	b := record.Mend{Run: q.Get("run")}
	if n, err := strconv.Atoi(q.Get("sheet")); err == nil {
		b.Place.Sheets = []int{n}
	} else if run := c.Run(b.Run); run != nil {
		b.Place.Sheets = c.SheetsIn(run)
	}
	if n := len(c.Mends); n > 0 { // the settings of the last one
		last := c.Mends[n-1].Body
		b.Tissue, b.TissueGM2, b.Adhesive, b.AdhesiveLot = last.Tissue, last.TissueGM2, last.Adhesive, last.AdhesiveLot
		b.WidthMm, b.Edge, b.Place.Face, b.Bottle = last.WidthMm, last.Edge, last.Place.Face, last.Bottle
		if x := st.Bottle(b.Bottle); x != nil && x.Emptied == nil {
			b.Adhesive, b.AdhesiveLot = "", "" // they follow from the bottle, also from another one
		}
	}
	if d := c.DamageByID(q.Get("damage")); d != nil {
		mendOf(c, d, &b)
	}
	if on := b.Place.Sheets; len(on) > 0 { // as the record has the sheet
		b.State = record.MendDry
		if c.ConditionOf(on[0]).Wetness != record.Dry {
			b.State = record.MendDamp
		}
	}
	extra, corrects := fills{}, correcting(r, "mend")
	for _, x := range c.Mends {
		if x.Seq == corrects {
			b, extra["corrects"] = x.Body, strconv.FormatInt(corrects, 10)
		}
	}
	on := b.Place.Sheets
	p.Form = s.bodyForm(r, "mend", c.LastSeq, b, corrects != 0, extra)
	for i := range c.Damages {
		b := &c.Damages[i].Body
		if len(on) > 0 && !slices.ContainsFunc(on, func(n int) bool { return slices.Contains(b.Place.Sheets, n) }) {
			continue
		}
		words := upperFirst(account.Term(b.Term))
		if x := account.Extent(b); x != "" {
			words += ", " + x
		}
		p.Damages = append(
			p.Damages,
			record.Choice{Value: b.ID, Words: words + ", " + record.SheetNames(b.Place.Sheets)},
		)
	}
	for i := range st.Bottles {
		if b := &st.Bottles[i]; b.Body.Form == record.FormAdhesive && b.Emptied == nil {
			p.Adhesives = append(p.Adhesives, record.Choice{Value: b.Body.ID, Words: b.Body.Name})
		}
	}
	for _, x := range c.Mends {
		if !contains(p.Tissues, x.Body.Tissue) {
			p.Tissues = append(p.Tissues, x.Body.Tissue)
		}
		if !contains(p.Pastes, x.Body.Adhesive) {
			p.Pastes = append(p.Pastes, x.Body.Adhesive)
		}
		row := mendRow{Stamped: x}
		for _, id := range x.Body.Damages {
			if d := c.DamageByID(id); d != nil {
				row.Damages = account.Term(d.Body.Term)
			}
		}
		p.Mends = append(p.Mends, row)
	}
	return mendView.show(s, w, r, p)
}

// mendOf starts a mend from a finding on the map: its next sheet, its face and its
// length; the strip and the tissue are those of the plan where no mend was made yet.
func mendOf(c *record.Case, d *record.FoundDamage, b *record.Mend) {
	b.Damages, b.Place.Face = []string{d.Body.ID}, d.Body.Place.Face
	if len(b.Place.Sheets) == 0 {
		b.Place.Sheets = account.NextToMend(c, d)
	}
	if mm, known := d.Body.Length(); known {
		mm = math.Round(mm)
		b.LengthMm = &mm
	}
	if p := c.MendPlan; p != nil && len(c.Mends) == 0 {
		w, g := p.Body.StripWidthMm, p.Body.TissueGM2
		b.Tissue, b.TissueGM2, b.WidthMm = p.Body.Tissue, &g, &w
	}
}

// adhesiveFromShelf names the adhesive of the bottle that was chosen.
func adhesiveFromShelf(s *Server, r *http.Request, _ *record.Case, _ *Form, b *record.Mend) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	if x := st.Bottle(b.Bottle); x != nil && b.Adhesive == "" {
		b.Adhesive, b.AdhesiveLot = x.Body.Substance, x.Body.Lot
		if g := x.StrengthNow(); g != nil {
			b.Adhesive += ", " + words.English.Quantity(g.Best, x.Body.Unit)
		}
	}
	return nil
}
