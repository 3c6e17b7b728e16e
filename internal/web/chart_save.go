package web

import (
	"errors"
	"net/http"
	"strconv"

	"benchleaf/colour"
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
	way, err := chosenWay(st, f)
	if err != nil {
		return s.refuse(w, r, f, err, page)
	}
	b := record.PhotoColour{Photo: x.Body.Hash, Method: way.Method(), Found: f.Tick("found")}
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
	err = s.withPhoto(x.Body.Hash, func(img *photo.Image) error { return measureColour(&b, img, quad, way) })
	var bad *photo.Problem
	switch {
	case errors.As(err, &bad):
		f.Refuse("corners", "%s", bad.Say)
		return again(w, r, f, errRefused, page)
	case err != nil:
		return s.refuse(w, r, f, err, page)
	}
	return s.save(w, r, f, Saving{Case: c.ID, Items: []record.Item{item(f, b)}, To: photoPath(c, x.Body.Hash), Said: upperFirst("colour set by " + colourBy(&b) + ".")}, page)
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
func measureColour(b *record.PhotoColour, img *photo.Image, quad photo.Quad, way *chartWay) error {
	b.Profile = img.Profile.Name
	if b.Profile == "" {
		b.Profile = "the photograph’s own"
	}
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
