package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// methodFormPage is a method that the studio has adopted.
type methodFormPage struct {
	studioFormPage
	Operations []record.Choice
}

func (p methodFormPage) base() Page { return p.Page }

var methodView = declare[methodFormPage]("method")

func (s *Server) methodPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	fill := fills{}
	x := latest(st.Methods, func(x record.Method) bool { return x.ID == r.URL.Query().Get("method") })
	if x != nil {
		fill.text("method", x.ID).
			text("method_name", x.Name).
			text("operation", x.Operation).
			text("liquid", x.Liquid).
			plain("planned_min", x.PlannedMin).
			text("due_min", account.Minutes(x.DueMin)).
			text("text", x.Text).
			text("basis", x.Basis)
		if x.Retired {
			fill["retired"] = "yes"
		}
	}
	return methodView.show(
		s,
		w,
		r,
		methodFormPage{
			studioFormPage{
				Page: s.studioSub(r, "A method of the studio"),
				Form: s.form(r, "method", st.LastSeq, fill),
				St:   st,
				Is:   x != nil,
			},
			operationChoices(),
		},
	)
}

func (s *Server) methodSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "method")
	if err != nil {
		return err
	}
	x := record.Method{
		ID:        f.Line("method"),
		Name:      f.Line("method_name"),
		Operation: f.Line("operation"),
		Liquid:    f.Line("liquid"),
		DueMin:    minutesOf(f, "due_min"),
		Text:      f.Text("text"),
		Basis:     f.Line("basis"),
		Retired:   f.Tick("retired"),
	}
	if v := f.MaybeNumber("planned_min", "the planned time"); v != nil {
		x.PlannedMin = *v
	}
	if x.ID == "" {
		x.ID = f.ID(0)
	}
	if x.Operation != "" && treatment.Find(x.Operation) == nil {
		f.Refuse("operation", "There is no operation %q: choose one of the list.", clip(x.Operation))
	}
	return s.save(
		w,
		r,
		f,
		Saving{Case: record.StudioID, Items: items(x), To: "/studio#methods", Said: "Saved: " + x.Name + "."},
		s.methodPage,
	)
}
