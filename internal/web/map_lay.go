package web

import (
	"net/http"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesLay(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/photos/{hash}/lay", s.doCase(s.layPage))
	mux.Handle("POST /cases/{case}/photos/{hash}/lay", s.doCase(s.laySave))
}

// layPage lays a photograph to the millimetre on its face by the corners of the
// sheet in it, which the program looks for and a person sets right.
type layPage struct {
	Page
	Photo  record.Stamped[record.Photo]
	Name   string
	Path   string
	Of     string
	Form   *Form
	Corner [4]chartCorner
	Radius float64
	Said   string
	Seen   bool
}

var layView = declare[layPage]("photo_lay")

var cornerNames = [4]string{"left at the head", "right at the head", "right at the tail", "left at the tail"}

func (s *Server) layPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	x, err := photoOf(r, c)
	if err != nil {
		return err
	}
	if len(x.Body.Place.Sheets) != 1 || x.Body.Place.Face == "" {
		return record.Invalidf("", "This photograph does not name the one face that it shows: correct that first.")
	}
	p := layPage{
		Page: s.casePage(r, c, "condition"), Photo: *x, Name: thumbOf(c, x).Alt, Path: photoPath(c, x.Body.Hash),
		Of: faceName(account.FaceOf{Sheet: x.Body.Place.Sheets[0], Face: x.Body.Place.Face}),
	}
	p.Title = "Lay the photograph"
	values, at := map[string]string{}, [4][2]float64{}
	if laid := c.LaidOf(x.Body.Hash); laid != nil {
		at = laid.Body.CornersPx
		p.Said, p.Seen = "It is laid so. Move a corner to lay it anew.", true
	} else {
		found, err := s.pictures.Corners(r.Context(), x.Body.Hash)
		if err != nil {
			return err
		}
		at, p.Said, p.Seen = found.Corners, "The corners were found. Look at each, and move it where it is off.", found.Seen
		values["found"] = "yes"
		if !found.Seen {
			p.Said, values["found"] = "Not every edge was seen: set the corners by hand. "+found.Note, ""
		}
	}
	for i := range at {
		n := strconv.Itoa(i + 1)
		values["x"+n], values["y"+n] = plainNumber(at[i][0]), plainNumber(at[i][1])
	}
	p.Form = s.form(r, "lay", c.LastSeq, values)
	for i := range p.Corner {
		n := strconv.Itoa(i + 1)
		k := chartCorner{N: i + 1, Name: cornerNames[i], FieldX: "x" + n, FieldY: "y" + n}
		k.X, _ = strconv.ParseFloat(p.Form.Line(k.FieldX), 64)
		k.Y, _ = strconv.ParseFloat(p.Form.Line(k.FieldY), 64)
		p.Corner[i] = k
	}
	p.Radius = float64(max(x.Body.WidthPx, x.Body.HeightPx)) / 40
	return layView.show(s, w, r, p)
}

func (s *Server) laySave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "lay")
	if err != nil {
		return err
	}
	x, err := photoOf(r, c)
	if err != nil {
		return err
	}
	b := record.PhotoLaid{Photo: x.Body.Hash, Place: x.Body.Place, By: record.LaidByHand}
	if f.Tick("found") {
		b.By = record.LaidByProgram
	}
	for i := range b.CornersPx {
		n := strconv.Itoa(i + 1)
		b.CornersPx[i] = [2]float64{
			f.Number("x"+n, "the corner "+cornerNames[i]), f.Number("y"+n, "the corner "+cornerNames[i]),
		}
	}
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, s.inCase(s.layPage))
	}
	to := casePath(c.ID, "condition")
	if len(b.Place.Sheets) == 1 && slices.Contains(c.Sheets(), b.Place.Sheets[0]) {
		to = mapPath(c, account.FaceOf{Sheet: b.Place.Sheets[0], Face: b.Place.Face})
	}
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: []record.Item{{Body: b}}, To: to, Said: "The photograph lies on its face.",
	}, s.inCase(s.layPage))
}
