package web

import (
	"net/http"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
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
	m := fills{"run": q.Get("run"), "mend_state": "dry"}
	var on []int
	if n, err := strconv.Atoi(q.Get("sheet")); err == nil {
		on = []int{n}
	} else if run := c.Run(q.Get("run")); run != nil {
		on = c.SheetsIn(run)
	}
	if n := len(c.Mends); n > 0 {
		b := c.Mends[n-1].Body
		m.text("tissue", b.Tissue).
			number("tissue_g_m2", b.TissueGM2).
			text("adhesive", b.Adhesive).
			text("adhesive_lot", b.AdhesiveLot).
			number("width_mm", b.WidthMm).
			text("edge", b.Edge).
			text("face", string(b.Place.Face)).
			text("bottle", b.Bottle)
	}
	if len(on) > 0 && c.ConditionOf(on[0]).Wetness != record.Dry {
		m["mend_state"] = "damp"
	}
	corrects := correcting(r, "mend")
	var damages []string
	for _, x := range c.Mends {
		if x.Seq == corrects {
			b := x.Body
			m = fills{"corrects": strconv.FormatInt(corrects, 10), "mend": b.ID, "run": b.Run}
			m.place(b.Place).
				text("tissue", b.Tissue).
				number("tissue_g_m2", b.TissueGM2).
				text("adhesive", b.Adhesive).
				text("adhesive_lot", b.AdhesiveLot).
				number("length_mm", b.LengthMm).
				number("width_mm", b.WidthMm).
				text("edge", b.Edge).
				text("mend_state", string(b.State)).
				text("note", b.Note)
			on, damages = b.Place.Sheets, b.Damages
		}
	}
	p.Form = s.form(r, "mend", c.LastSeq, m).setSheets("sheets", on)
	if len(p.Form.Refused) == 0 && p.Form.Clash == nil {
		p.Form.values["damages"] = damages
	}
	for i := range c.Damages {
		b := &c.Damages[i].Body
		if len(on) > 0 && !slices.ContainsFunc(on, func(n int) bool { return slices.Contains(b.Place.Sheets, n) }) {
			continue
		}
		words := upperFirst(b.Term)
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
				row.Damages = d.Body.Term
			}
		}
		p.Mends = append(p.Mends, row)
	}
	return mendView.show(s, w, r, p)
}

func (s *Server) mendSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "mend")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	id := f.Line("mend")
	if id == "" {
		id = f.ID(0)
	}
	b := record.Mend{
		ID:        id,
		Damages:   f.List("damages"),
		Place:     placeOf(f),
		At:        happened(f, "at", "the time"),
		Tissue:    f.Line("tissue"),
		TissueGM2: f.MaybeNumber("tissue_g_m2", "the tissue’s grammage"),
		Adhesive: f.Line(
			"adhesive",
		),
		AdhesiveLot: f.Line("adhesive_lot"),
		Bottle:      f.Line("bottle"),
		LengthMm:    f.MaybeNumber("length_mm", "the length"),
		WidthMm:     f.MaybeNumber("width_mm", "the width"),
		State:       record.MendState(f.Line("mend_state")),
		Edge:        f.Line("edge"),
		Note:        f.Text("note"),
		Run:         f.Line("run"),
	}
	if x := st.Bottle(b.Bottle); x != nil && b.Adhesive == "" {
		b.Adhesive, b.AdhesiveLot = x.Body.Substance, x.Body.Lot
		if g := x.StrengthNow(); g != nil {
			b.Adhesive += ", " + fig(g.Best) + " " + x.Body.Unit
		}
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: []record.Item{item(f, b)},
			To:    casePath(c.ID, "bench"),
			Said:  "Mend on " + record.SheetNames(b.Place.Sheets) + " recorded.",
		},
		s.inCase(s.mendPage),
	)
}

func (s *Server) noteSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "note")
	if err != nil {
		return err
	}
	b := record.Note{
		Nature:  record.Nature(f.Line("nature")),
		Place:   placeOf(f),
		Text:    f.Text("text"),
		RestsOn: f.Line("rests_on"),
		Run:     f.Line("run"),
	}
	return s.saveBench(w, r, f, c, "Written down.", b)
}

func (s *Server) wasteSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "waste")
	if err != nil {
		return err
	}
	return s.saveBench(
		w,
		r,
		f,
		c,
		"The waste is recorded.",
		record.Waste{
			What:     f.Line("waste_what"),
			VolumeMl: f.MaybeNumber("volume_ml", "the volume"),
			To:       f.Line("waste_to"),
			At:       f.At(),
			Run:      f.Line("run"),
		},
	)
}

func (s *Server) nextSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "next")
	if err != nil {
		return err
	}
	return s.saveBench(
		w,
		r,
		f,
		c,
		"Decided.",
		record.NextStep{
			Sheets:    f.Sheets("sheets"),
			Operation: f.Line("operation"),
			Text:      f.Line("next_text"),
			Reason:    f.Text("reason"),
			Who:       f.Line("who"),
			Due:       f.Time("due", "the due time"),
			Done:      f.Tick("done"),
		},
	)
}

func (s *Server) saveBench(
	w http.ResponseWriter,
	r *http.Request,
	f *Form,
	c *record.Case,
	said string,
	b record.Body,
) error {
	return s.save(
		w,
		r,
		f,
		Saving{Case: c.ID, Items: []record.Item{item(f, b)}, To: casePath(c.ID, "bench"), Said: said},
		s.inCase(s.bench),
	)
}
