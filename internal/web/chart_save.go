package web

import (
	"errors"
	"net/http"
	"strconv"

	"benchleaf/colour"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/photo"
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
	quad := cornersOf(f)
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
	err = s.withPhoto(
		x.Body.Hash,
		func(img *photo.Image, info photo.Info) error { return measureColour(&b, img, &info, quad, way) },
	)
	var bad *photo.Problem
	switch {
	case errors.As(err, &bad):
		f.Refuse("corners", "%s", bad.Say)
		return again(w, r, f, errRefused, page)
	case err != nil:
		return s.refuse(w, r, f, err, page)
	}
	return s.saveColour(w, r, f, c, &b, page)
}

func (s *Server) saveColour(
	w http.ResponseWriter,
	r *http.Request,
	f *Form,
	c *record.Case,
	b *record.PhotoColour,
	page handler,
) error {
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: []record.Item{item(f, *b)},
			To:    photoPath(c, b.Photo),
			Said:  upperFirst("colour set by " + account.ColourBy(b) + "."),
		},
		page,
	)
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
	file, err := s.store.OpenPhoto(x.Body.Hash)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	info, err := photo.Inspect(file, photo.DefaultLimits)
	if err != nil {
		return nil, record.Invalidf("like", "%s", sentenceOf(err))
	}
	if info.Profile != b.Profile {
		return nil, record.Invalidf(
			"like",
			"That photograph’s values are %s, this one’s %s: they come from other cameras or settings, and the "+
				"colour cannot be taken over.",
			b.Profile,
			info.Profile,
		)
	}
	return &b, nil
}

// cornersOf reads the eight numbers of a form.
func cornersOf(f *Form) (q photo.Quad) {
	for i := range q {
		k := strconv.Itoa(i + 1)
		q[i] = photo.Point{X: f.Number("x"+k, "corner "+k), Y: f.Number("y"+k, "corner "+k)}
	}
	return q
}

// measureColour reads a photograph and fills in the correction.
func measureColour(b *record.PhotoColour, img *photo.Image, info *photo.Info, quad photo.Quad, way *chartWay) error {
	if info.ColourModel == "CMYK" {
		return record.Invalidf(
			"corners",
			"The photograph holds printing colours (CMYK), in which no colour is measured: take the camera’s own file.",
		)
	}
	b.Profile = info.Profile
	var correction *colour.Correction
	if way.chart != nil {
		chart, err := way.chart.Chart()
		if err != nil {
			return err
		}
		var readings []colour.Reading
		if correction, readings, quad, err = photo.CorrectByChart(img, quad, chart); err != nil {
			return err
		}
		b.LeftOut = len(readings) - correction.Used
	} else {
		readings, err := photo.ChartAt(img, quad, 1, 1)
		if err != nil {
			return err
		}
		if way.Value == "grey-card" {
			correction, err = colour.FromGreyCard(img.Profile, readings[0], b.Lightness)
		} else {
			correction, err = colour.FromWhitePaper(img.Profile, readings[0])
		}
		if err != nil {
			return record.Invalidf("corners", "%s.", upperFirst(err.Error()))
		}
	}
	for i, p := range quad {
		b.Corners[i] = [2]float64{p.X, p.Y}
	}
	photoCorrection(b, correction)
	return nil
}
