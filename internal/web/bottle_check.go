package web

import (
	"net/http"

	"benchleaf/internal/record"
)

// bottleCheck records a new look at a bottle: pH, titration, what is left.
func (s *Server) bottleCheck(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "check")
	if err != nil {
		return err
	}
	_, b, err := s.theBottle(r)
	if err != nil {
		return err
	}
	c := record.BottleChecked{
		Bottle:   b.Body.ID,
		At:       happened(f, "at", "the time"),
		PH:       f.MaybeNumber("ph", "the pH"),
		Strength: readRange(f, "strength", "the strength"),
		How:      f.Line("how"),
	}
	if b.Body.VolumeMl > 0 {
		c.LeftMl = f.MaybeNumber("left_ml", "what is left")
	}
	if c.PH == nil && c.Strength == nil && c.LeftMl == nil && len(f.Refused) == 0 {
		f.Refuse("ph", "Nothing was read: a pH, a strength or what is left is expected.")
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: []record.Item{item(f, c)},
			To:    bottlePath(b.Body.ID),
			Said:  "Checked: " + b.Body.Name + ".",
		},
		s.bottlePage,
	)
}
