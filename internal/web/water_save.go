package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// waterFormPage is a water with its analysis, balanced.
type waterFormPage struct {
	studioFormPage
	W       *record.WaterSource
	Facts   []Fact
	Remarks []string
}

func (p waterFormPage) base() Page { return p.Page }

var waterView = declare[waterFormPage]("water")

// Hardnesses and Alkalinities are the scales that an analysis may come in.
func (p waterFormPage) Hardnesses() []record.Choice   { return account.HardnessScales }
func (p waterFormPage) Alkalinities() []record.Choice { return account.AlkalinityScales }

func (s *Server) waterPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	fill := fills{
		"source":           "tap",
		"hardness_scale":   account.HardnessScales[0].Value,
		"alkalinity_scale": account.AlkalinityScales[0].Value,
		"measured":         s.now().In(s.zone).Format(dateValue),
	}
	x := st.Water(r.URL.Query().Get("water"))
	if x != nil {
		fill.text("water", x.ID).
			text("water_name", x.Name).
			text("source", string(x.Source)).
			number("calcium_mg_l", x.CalciumMgL).
			number("hardness_mg_l", x.HardnessMgL).
			number("alkalinity_mg_l", x.AlkalinityMgL).
			number("ph", x.PH).
			number("conductivity_us_cm", x.ConductUS).
			text("note", x.Note)
		if !x.Measured.IsZero() {
			fill["measured"] = x.Measured.In(s.zone).Format(dateValue)
		}
	}
	p := waterFormPage{
		studioFormPage: studioFormPage{
			Page: s.studioSub(r, "A water"),
			Form: s.form(r, "water", st.LastSeq, fill),
			St:   st,
			Is:   x != nil,
		},
		W: x,
	}
	if x != nil {
		facts, remarks := account.WaterFacts(x)
		p.Facts, p.Remarks = factsOf(facts), remarks
	}
	return waterView.show(s, w, r, p)
}

func (s *Server) waterSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "water")
	if err != nil {
		return err
	}
	x := record.WaterSource{
		ID:         f.Line("water"),
		Name:       f.Line("water_name"),
		Source:     record.WaterKind(f.Line("source")),
		CalciumMgL: f.MaybeNumber("calcium_mg_l", "the calcium"),
		PH:         f.MaybeNumber("ph", "the pH"),
		ConductUS:  f.MaybeNumber("conductivity_us_cm", "the conductivity"),
		Measured:   f.Date("measured", "the date of measurement"),
		Note:       f.Text("note"),
	}
	if x.ID == "" {
		x.ID = f.ID(0)
	}
	hardness, alkalinity := f.MaybeNumber("hardness_mg_l", "the hardness"), f.MaybeNumber("alkalinity_mg_l", "the alkalinity")
	f.take(account.InScales(&x, hardness, f.Line("hardness_scale"), alkalinity, f.Line("alkalinity_scale")))
	return s.save(
		w,
		r,
		f,
		Saving{Case: record.StudioID, Items: items(x), To: "/studio#water", Said: "Saved: " + x.Name + "."},
		s.waterPage,
	)
}
