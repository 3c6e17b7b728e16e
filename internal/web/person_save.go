package web

import (
	"net/http"

	"benchleaf/internal/record"
)

var personView = declare[studioFormPage]("person")

func (s *Server) personPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	fill := fills{}
	x := latest(st.People, func(x record.Person) bool { return x.Initials == r.URL.Query().Get("initials") })
	if x != nil {
		fill.text("initials", x.Initials).text("person_name", x.Name).text("role", x.Role)
	} else if len(st.People) == 0 {
		fill.text("initials", writerOf(r))
	}
	return personView.show(
		s,
		w,
		r,
		studioFormPage{
			Page: s.studioSub(r, "A person"),
			Form: s.form(r, "person", st.LastSeq, fill),
			St:   st,
			Is:   x != nil,
		},
	)
}

func (s *Server) personSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "person")
	if err != nil {
		return err
	}
	p := record.Person{Initials: f.Line("initials"), Name: f.Line("person_name"), Role: f.Line("role")}
	if p.Initials != "" && !initials(p.Initials) {
		f.Refuse("initials", notInitials)
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: items(p),
			To:    "/studio#people",
			Said:  "Saved: " + p.Initials + ", " + p.Name + ".",
		},
		s.personPage,
	)
}
