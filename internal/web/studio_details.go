package web

import (
	"net/http"

	"benchleaf/internal/record"
)

// studioFormPage is a page with one form of the studio.
type studioFormPage struct {
	Page
	Form *Form
	St   *record.Studio
	// Is says that the form changes something that is there already.
	Is bool
}

var detailsView = declare[studioFormPage]("studio_details")

func (s *Server) detailsPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	fill := fills{"currency": "EUR", "paper_size": "A4"}
	if d := st.Details; d != nil {
		fill = fills{}
		fill.text("studio_name", d.Name).
			text("address", d.Address).
			text("contact", d.Contact).
			text("currency", d.Currency).
			money("rate", d.RateMinor, d.Currency).
			money("minimum", d.MinimumMinor, d.Currency).
			plain("tax_percent", d.TaxPercent).
			text("paper_size", string(d.PaperSize))
	}
	return detailsView.show(
		s,
		w,
		r,
		studioFormPage{
			Page: s.studioSub(r, "The studio"),
			Form: s.form(r, "details", st.LastSeq, fill),
			St:   st,
			Is:   st.Details != nil,
		},
	)
}

func (s *Server) detailsSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "details")
	if err != nil {
		return err
	}
	d := record.StudioDetails{
		Name:         f.Line("studio_name"),
		Address:      f.Text("address"),
		Contact:      f.Text("contact"),
		Currency:     f.Currency(),
		RateMinor:    f.Money("rate", "the rate"),
		MinimumMinor: f.Money("minimum", "the minimum fee"),
		PaperSize:    record.PaperSize(f.Line("paper_size")),
	}
	if v := f.MaybeNumber("tax_percent", "the tax"); v != nil {
		d.TaxPercent = *v
	}
	return s.save(
		w,
		r,
		f,
		Saving{Case: record.StudioID, Items: items(d), To: "/studio", Said: "Saved: what stands on papers."},
		s.detailsPage,
	)
}
