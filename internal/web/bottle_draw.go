package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// bottleDraw takes some out of a bottle.
func (s *Server) bottleDraw(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "draw")
	if err != nil {
		return err
	}
	st, b, err := s.theBottle(r)
	if err != nil {
		return err
	}
	d := record.BottleDrawn{Bottle: b.Body.ID, For: f.Line("for")}
	said := ""
	if b.Body.VolumeMl > 0 {
		d.Ml = f.Number("ml", "the volume")
		said = account.Volume(d.Ml)
	} else {
		d.G = f.Number("g", "the mass")
		said = fig(d.G) + " g"
	}
	said += " drawn from " + b.Body.Name + "."
	if into := f.Line("into"); into != "" {
		care, refused := account.DrawnInto("into", st, b, into)
		f.take(refused)
		for _, m := range care {
			said += " " + m.Say
		}
		d.For = words.Joined(", ", d.For, "into "+into)
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: items(d),
			To:    bottlePath(b.Body.ID),
			Said:  said,
		},
		s.bottlePage,
	)
}
