package web

import (
	"archive/zip"
	"bytes"
	"io"
	"net/http"
	"slices"
	"strconv"

	"benchleaf/condition"
	"benchleaf/internal/account"
	"benchleaf/internal/annotation"
	"benchleaf/internal/record"
)

func (s *Server) routesPlaces(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/places", s.doCase(s.placesPage))
	mux.Handle("POST /cases/{case}/annotations", s.doCase(s.annotationsSave))
	mux.Handle("GET /cases/{case}/annotations.zip", s.doCase(s.annotationsZip))
}

// placesPage is what was done where, and the numbered positions at which readings
// are made again.
type placesPage struct {
	Page
	C         *record.Case
	Faces     []placesFace
	Positions []account.Marked
	Work      []account.Placed
	Damages   []record.Choice
	Kinds     []string

	PositionForm, WorkForm, AnnotationForm *Form
}

// placesFace is a face to scale with its positions and works.
type placesFace struct {
	Name      string
	W, H      float64
	Fold      float64 // from the left edge, 0 for a single leaf
	Spots     []placesMark
	Marks     []placesMark
	Described string
}

// placesMark is one shape on a face, or the spot of a position.
type placesMark struct {
	No     int
	X, Y   float64
	Path   string
	Closed bool
	Width  float64
}

var placesView = declare[placesPage]("places")

func (s *Server) placesPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := placesPage{
		Page: s.casePage(r, c, "condition"), C: c, Positions: account.MarkedPositions(c), Work: account.PlacedWork(c),
	}
	p.Title = "Positions, and what was done where"
	p.Faces = placesFaces(c, p.Positions, p.Work)
	for _, d := range account.Damages(c) {
		p.Damages = append(p.Damages, record.Choice{
			Value: d.Body.ID, Words: "No. " + strconv.Itoa(d.No) + ", " + d.Name + ", " + record.SheetNames(d.Body.Place.Sheets),
		})
	}
	for _, k := range condition.Kinds() {
		p.Kinds = append(p.Kinds, string(k.Term))
	}
	position, work := record.PositionMarked{}, record.WorkPlaced{}
	if n, err := strconv.Atoi(r.URL.Query().Get("sheet")); err == nil && c.HasSheet(n) {
		position.Place.Sheets, work.Place.Sheets = []int{n}, []int{n}
	}
	p.PositionForm = s.bodyForm(r, "position", c.LastSeq, position, false, nil)
	p.WorkForm = s.bodyForm(r, "work", c.LastSeq, work, false, nil)
	p.AnnotationForm = s.form(r, "annotations", c.LastSeq, nil)
	return placesView.show(s, w, r, p)
}

// placesFaces draws the faces that hold a position or a work.
func placesFaces(c *record.Case, positions []account.Marked, work []account.Placed) []placesFace {
	m := account.MapOf(c)
	if m == nil {
		return nil
	}
	var faces []placesFace
	for _, f := range m.Faces() {
		size, known := m.Size(f)
		on := func(p record.Place) bool { return known && p.Face == f.Face && slices.Equal(p.Sheets, []int{f.Sheet}) }
		x := placesFace{
			Name: upperFirst(record.SheetName(f.Sheet)) + ", " + record.Words(f.Face), W: size.WidthMm, H: size.HeightMm,
		}
		if pages := m.Pages(f); len(pages) == 2 {
			x.Fold = size.WidthMm / 2
			x.Described = "pages " + pages[0] + " | " + pages[1]
		}
		for _, q := range positions {
			if on(q.Body.Place) {
				x.Spots = append(x.Spots, placesMark{No: q.No, X: q.Body.XMm, Y: q.Body.YMm})
			}
		}
		for i, q := range work {
			if on(q.Body.Place) {
				for _, shape := range q.Body.Shapes {
					x.Marks = append(x.Marks, markOf(i+1, shape))
				}
			}
		}
		if len(x.Spots)+len(x.Marks) > 0 {
			faces = append(faces, x)
		}
	}
	return faces
}

func markOf(no int, s condition.Shape) placesMark {
	low, high := s.Bounds()
	m := placesMark{
		No: no, X: (low.XMm + high.XMm) / 2, Y: (low.YMm + high.YMm) / 2, Width: max(s.WidthMm, 1.2),
		Closed: s.Form == condition.Outline || s.Form == condition.Box,
	}
	points := s.Points
	if s.Form == condition.Box {
		points = []condition.Point{low, {XMm: high.XMm, YMm: low.YMm}, high, {XMm: low.XMm, YMm: high.YMm}}
	}
	for i, p := range points {
		m.Path += map[bool]string{true: "M", false: "L"}[i == 0] + xy(p.XMm, p.YMm)
	}
	switch {
	case s.Form == condition.Spot:
		m.Path += "h0.1"
	case m.Closed:
		m.Path += "Z"
	}
	return m
}

// annotationsZip gives what is drawn on the faces as W3C Web Annotations.
func (s *Server) annotationsZip(w http.ResponseWriter, _ *http.Request, c *record.Case) error {
	files, err := account.Annotations(c).Files()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		out, err := z.Create(f.Name)
		if err != nil {
			return err
		}
		if _, err := out.Write(f.Data); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", `attachment; filename="annotations-`+fileName(c.Number)+`.zip"`)
	_, err = w.Write(b.Bytes())
	return err
}

// annotationsSave takes the annotations of a file over as findings on one face.
func (s *Server) annotationsSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	limitBody(w, r, annotation.MaxBytes+maxForm)
	if err := r.ParseMultipartForm(annotation.MaxBytes); err != nil {
		return record.Invalidf("", "The file did not arrive whole (%v): nothing was taken over.", err)
	}
	f := s.formOf(r, "annotations", r.MultipartForm.Value)
	page := s.inCase(s.placesPage)
	place := record.Place{Sheets: f.Sheets("sheets"), Face: record.Face(f.Line("face"))}
	size, known := condition.Size{}, false
	if len(place.Sheets) == 1 {
		size, known = account.OpenedSize(c, place.Sheets[0])
	}
	switch {
	case len(place.Sheets) != 1 || place.Face == "":
		f.Refuse("sheets", "Name the one sheet and the face on which they lie.")
	case !known:
		f.Refuse("sheets", "The size of this sheet is not known yet: describe its paper first.")
	}
	data, err := fileIn(r, "file")
	if err != nil {
		f.Refuse("file", "%s", err.Error())
	}
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, page)
	}
	px := annotation.PixelSize{}
	if v := f.MaybeNumber("width_px", "the width of the picture"); v != nil {
		px.Width = *v
	}
	if v := f.MaybeNumber("height_px", "the height of the picture"); v != nil {
		px.Height = *v
	}
	notes, err := annotation.Read(data, size, px)
	if err != nil {
		f.Refuse("file", "This file cannot be taken over: %s.", err.Error())
		return again(w, r, f, errRefused, page)
	}
	found, err := account.TakenOver(notes, place, f.Line("kind"), f.ID)
	if err != nil {
		list, _ := record.Refusals(err)
		f.take(list)
		return again(w, r, f, errRefused, page)
	}
	bodies := make([]record.Body, len(found))
	for i := range found {
		bodies[i] = found[i]
	}
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: items(bodies...), To: casePath(c.ID, "condition"),
		Said: plural(len(found), "finding", "findings") + " taken over.",
	}, page)
}

// fileIn is the file of a form, whole.
func fileIn(r *http.Request, field string) ([]byte, error) {
	file, _, err := r.FormFile(field)
	if err != nil {
		return nil, record.Invalidf(field, "Choose the file.")
	}
	defer file.Close()
	return io.ReadAll(io.LimitReader(file, annotation.MaxBytes+1))
}

// atPosition takes sheet and face of a reading from the position it was read at.
func atPosition(_ *Server, _ *http.Request, c *record.Case, f *Form, b *record.Reading) error {
	p := c.Position(b.Position)
	if p == nil {
		return nil
	}
	if len(b.Place.Sheets) > 0 && !slices.Equal(b.Place.Sheets, p.Body.Place.Sheets) {
		f.Refuse("at_position", "Position %d lies on %s, and another sheet is chosen.", p.No,
			record.SheetNames(p.Body.Place.Sheets))
	}
	b.Place.Sheets, b.Place.Face = p.Body.Place.Sheets, p.Body.Place.Face
	return nil
}

// positionChoices are the marked positions to choose from.
func positionChoices(c *record.Case) []record.Choice {
	var list []record.Choice
	for _, p := range c.Positions {
		list = append(list, record.Choice{Value: p.Body.ID, Words: upperFirst(account.PositionName(c, p.Body.ID))})
	}
	return list
}
