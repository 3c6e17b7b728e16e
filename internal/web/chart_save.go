package web

import (
	"net/http"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// chartSave reads the photograph between the corners and keeps the correction
// that follows.
func (s *Server) chartSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "chart")
	if err != nil {
		return err
	}
	x, err := photoOf(r, c)
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	page := s.inCase(s.chartPage)
	way, err := chosenWay(c, x, st, f)
	if err != nil {
		return s.refuse(w, r, f, err, page)
	}
	if way.Value == sameLight {
		b, err := s.colourLike(c, x, f)
		if err != nil {
			return s.refuse(w, r, f, err, page)
		}
		return s.saveColour(w, r, f, c, b, page)
	}
	b := record.PhotoColour{Photo: x.Body.Hash, Method: record.ColourMethod(way.Method()), Found: f.Tick("found")}
	b.Corners = cornersOf(f)
	if way.Value == "grey-card" {
		b.Lightness = f.Number("lightness", "the grey card’s L*")
	}
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, page)
	}
	if way.chart != nil {
		b.Chart, b.ChartName, b.ChartSource = way.chart.ID, way.chart.Name, way.chart.Source
		b.Rows, b.Columns = way.Rows, way.Columns
	}
	if err := s.pictures.ReadColour(r.Context(), &b, way.chart); err != nil {
		return s.refuse(w, r, f, err, page)
	}
	return s.saveColour(w, r, f, c, &b, page)
}

func (s *Server) saveColour(
	w http.ResponseWriter, r *http.Request, f *Form, c *record.Case, b *record.PhotoColour, page handler,
) error {
	said := words.English.Sentence("colour set by " + account.ColourBy(b))
	sv := Saving{Case: c.ID, Items: []record.Item{item(f, *b)}, To: photoPath(c, b.Photo), Said: said}
	return s.save(w, r, f, sv, page)
}

// colourLike takes the colour over from another photograph of the case.
func (s *Server) colourLike(c *record.Case, x *record.Stamped[record.Photo], f *Form) (*record.PhotoColour, error) {
	h, err := record.ParseHash(f.Line("like"))
	if err != nil {
		return nil, record.Invalidf("like", "Choose the photograph of the same light.")
	}
	set := c.ColourOf(h)
	if set == nil || !set.Body.From.IsZero() || h == x.Body.Hash {
		return nil, record.Invalidf(
			"like",
			"The colour of that photograph is not set by what it shows: choose another.",
		)
	}
	b := set.Body
	b.Photo, b.From = x.Body.Hash, h
	profile, err := s.pictures.Profile(x.Body.Hash)
	if err != nil {
		return nil, err
	}
	if profile != b.Profile {
		return nil, record.Invalidf("like", "That photograph’s values are %s, this one’s %s: they come from other "+
			"cameras or settings, and the colour cannot be taken over.", b.Profile, profile)
	}
	return &b, nil
}

// cornersOf reads the eight numbers of a form.
func cornersOf(f *Form) (q pictures.Corners) {
	for i := range q {
		k := strconv.Itoa(i + 1)
		q[i] = [2]float64{f.Number("x"+k, "corner "+k), f.Number("y"+k, "corner "+k)}
	}
	return q
}
