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
	x := st.Water(r.URL.Query().Get("water"))
	b := record.WaterSource{}
	if x != nil {
		b = *x
	}
	p := waterFormPage{
		studioFormPage: studioFormPage{
			Page: s.studioSub(r, "A water"),
			Form: s.bodyForm(r, "water", st.LastSeq, b, false, fills{
				"hardness_scale":   account.HardnessScales[0].Value,
				"alkalinity_scale": account.AlkalinityScales[0].Value,
			}),
			St: st,
			Is: x != nil,
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
	x := bodyOf[record.WaterSource](f)
	hardness, alkalinity := x.HardnessMgL, x.AlkalinityMgL
	f.take(account.InScales(&x, hardness, f.Line("hardness_scale"), alkalinity, f.Line("alkalinity_scale")))
	return s.save(
		w,
		r,
		f,
		Saving{Case: record.StudioID, Items: items(x), To: "/studio#water", Said: "Saved: " + x.Name + "."},
		s.waterPage,
	)
}
