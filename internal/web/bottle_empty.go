package web

import (
	"net/http"

	"benchleaf/internal/record"
)

// bottleEmpty takes a bottle off the shelf.
func (s *Server) bottleEmpty(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "empty")
	if err != nil {
		return err
	}
	_, b, err := s.theBottle(r)
	if err != nil {
		return err
	}
	e := record.BottleEmptied{Bottle: b.Body.ID, Reason: f.Line("reason"), To: f.Line("to")}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: items(e),
			To:    "/solutions",
			Said:  upperFirst(b.Body.Name) + " is off the shelf.",
		},
		s.bottlePage,
	)
}
