package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

var glassView = declare[studioFormPage]("glass")

func (s *Server) glassPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	fill := fills{}
	x := latest(st.Glass, func(x record.Glassware) bool { return x.ID == r.URL.Query().Get("glassware") })
	if x != nil {
		fill.text("glassware", x.ID).
			text("glass_name", x.Name).
			plain("capacity_ml", x.CapacityMl).
			plain("graduation_ml", x.GraduationMl).
			plain("tolerance_ml", x.ToleranceMl)
		if x.Retired {
			fill["retired"] = "yes"
		}
	}
	return glassView.show(
		s,
		w,
		r,
		studioFormPage{
			Page: s.studioSub(r, "Glassware"),
			Form: s.form(r, "glass", st.LastSeq, fill),
			St:   st,
			Is:   x != nil,
		},
	)
}

func (s *Server) glassSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "glass")
	if err != nil {
		return err
	}
	g := record.Glassware{
		ID:           f.Line("glassware"),
		Name:         f.Line("glass_name"),
		CapacityMl:   f.Number("capacity_ml", "the capacity"),
		GraduationMl: f.Number("graduation_ml", "the graduation"),
		Retired:      f.Tick("retired"),
	}
	if v := f.MaybeNumber("tolerance_ml", "the tolerance"); v != nil {
		g.ToleranceMl = *v
	}
	if g.ID == "" {
		g.ID = f.ID(0)
	}
	return s.save(
		w,
		r,
		f,
		Saving{Case: record.StudioID, Items: items(g), To: "/studio#glass", Said: "Saved: " + g.Name + "."},
		s.glassPage,
	)
}

// glassUsual takes the usual cylinders over in one tap.
func (s *Server) glassUsual(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "usual")
	if err != nil {
		return err
	}
	var bodies []record.Body
	for i, g := range account.UsualVessels() {
		g.ID = f.ID(i)
		bodies = append(bodies, g)
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: items(bodies...),
			To:    "/studio#glass",
			Said:  "Saved: three cylinders, with the tolerances of class B.",
		},
		s.studioPage,
	)
}
