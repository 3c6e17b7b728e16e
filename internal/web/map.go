package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"benchleaf/condition"
	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesMap(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/map/{face}", s.doCase(s.mapPage))
	mux.Handle("GET /cases/{case}/map/{face}/data", s.doCase(s.mapData))
	mux.Handle("GET /cases/{case}/map/{face}/figure.svg", s.doCase(s.mapFigure))
	mux.Handle("GET /cases/{case}/findings/{damage}", s.doCase(s.findingPage))
	mux.Handle("GET /cases/{case}/faces/{photo}/{key}/{size}", s.doCase(s.facePicture))
}

// faceSlug is a face in an address: "2-outer".
func faceSlug(f account.FaceOf) string { return strconv.Itoa(f.Sheet) + "-" + string(f.Face) }

func mapPath(c *record.Case, f account.FaceOf) string { return casePath(c.ID, "map/"+faceSlug(f)) }

// mapAsked is the face that the address names, on the map of the case.
func mapAsked(r *http.Request, c *record.Case) (*account.Map, account.FaceOf, error) {
	n, face, _ := strings.Cut(r.PathValue("face"), "-")
	sheet, err := strconv.Atoi(n)
	f := account.FaceOf{Sheet: sheet, Face: record.Face(face)}
	m := account.MapOf(c)
	if err != nil || m == nil || !m.Has(f) {
		return nil, f, store.ErrNotFound
	}
	return m, f, nil
}

// mapFilter is what of the findings is shown, as the address asks: all where it
// does not.
type mapFilter struct{ Kind, Severity, Found string }

func filterOf(q url.Values) mapFilter {
	return mapFilter{q.Get("kind"), q.Get("severity"), q.Get("found")}
}

// Shown says that some findings alone are shown.
func (x mapFilter) Shown() bool { return x != mapFilter{} }

func (x mapFilter) shows(c *record.Case, d *account.Damage) bool {
	switch {
	case x.Kind != "" && d.Body.Term != x.Kind,
		x.Severity == "open" && d.Body.Severity != "",
		x.Severity != "" && x.Severity != "open" && string(d.Body.Severity) != x.Severity,
		x.Found != "" && string(account.FoundWhen(c, &d.FoundDamage)) != x.Found:
		return false
	}
	return true
}

// Query writes the filter for an address, with its mark; empty where all is shown.
func (x mapFilter) Query() string {
	q := url.Values{}
	for k, v := range map[string]string{"kind": x.Kind, "severity": x.Severity, "found": x.Found} {
		if v != "" {
			q.Set(k, v)
		}
	}
	if len(q) == 0 {
		return ""
	}
	return "?" + q.Encode()
}

// mapPage is one face, large, and what is on it; the face behind beside it.
type mapPage struct {
	Page
	C *record.Case
	mapFace
	Behind           mapFace
	Before, After    faceLink
	Config           mapConfig
	Lay              string
	Findings, Unseen []account.Damage
	Filter           mapFilter
}

// mapFace is a face as pages show it.
type mapFace struct {
	Of          account.FaceOf
	Name, Pages string
	Href        string
	Drawing     drawnFace
	Sized       bool
	Photo       *laidPhoto
}

type faceLink struct{ Href, Name string }

// laidPhoto are the addresses of a photograph laid on a face.
type laidPhoto struct {
	Small  string `json:"small"`
	Medium string `json:"medium"`
	Large  string `json:"large"`
}

var mapView = declare[mapPage]("map")

func faceName(f account.FaceOf) string {
	return upperFirst(record.SheetName(f.Sheet)) + ", " + record.Words(f.Face)
}

// laidOn is the photograph that a face is shown on: the latest that was laid on it,
// nil where there is none.
func laidOn(c *record.Case, f account.FaceOf) *record.PhotoLaid {
	for i := len(c.Laid) - 1; i >= 0; i-- {
		b := &c.Laid[i].Body
		if b.Place.Sheets[0] == f.Sheet && b.Place.Face == f.Face && c.LaidOf(b.Photo).Seq == c.Laid[i].Seq {
			return b
		}
	}
	return nil
}

func laidAddresses(c *record.Case, b *record.PhotoLaid, size condition.Size) *laidPhoto {
	if b == nil {
		return nil
	}
	at := casePath(c.ID, "faces/"+b.Photo.String()+"/"+pictures.FaceKey(b, size)+"/")
	return &laidPhoto{at + "small", at + "medium", at + "large"}
}

func viewOf(c *record.Case, m *account.Map, f account.FaceOf, show mapFilter, picture string) mapFace {
	v := mapFace{Of: f, Name: faceName(f), Pages: strings.Join(m.Pages(f), " | "), Href: mapPath(c, f) + show.Query()}
	size, known := m.Size(f)
	v.Sized = known
	if known {
		v.Photo = laidAddresses(c, laidOn(c, f), size)
		v.Drawing = drawFace(m, f, v.Photo, picture, func(d *account.Damage) bool { return show.shows(c, d) })
	}
	return v
}

func (s *Server) mapPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	m, f, err := mapAsked(r, c)
	if err != nil {
		return err
	}
	show := filterOf(r.URL.Query())
	p := mapPage{Page: s.casePage(r, c, "condition"), C: c, Filter: show}
	p.mapFace = viewOf(c, m, f, show, "medium")
	p.Behind = viewOf(c, m, f.Other(), show, "medium")
	p.Title = p.Name
	faces := m.Faces()
	at := slices.Index(faces, f)
	if at > 0 {
		p.Before = faceLink{mapPath(c, faces[at-1]) + show.Query(), faceName(faces[at-1])}
	}
	if at+1 < len(faces) {
		p.After = faceLink{mapPath(c, faces[at+1]) + show.Query(), faceName(faces[at+1])}
	}
	p.Lay = casePath(c.ID, "photos/new") + "?sheet=" + strconv.Itoa(f.Sheet) + "&face=" + string(f.Face)
	if x := lastPhotoOf(c, f); x != nil {
		p.Lay = photoPath(c, x.Body.Hash) + "/lay"
	}
	p.Findings = onFace(m, f)
	for _, d := range account.DamagesEver(c) {
		if d.Withdrawn != nil && slices.Contains(d.Body.Place.Sheets, f.Sheet) ||
			d.Withdrawn == nil && len(d.Body.Shapes) == 0 &&
				(len(d.Body.Place.Sheets) == 0 || slices.Contains(d.Body.Place.Sheets, f.Sheet)) {
			p.Unseen = append(p.Unseen, d)
		}
	}
	if p.Sized {
		p.Config = s.configOf(r, c, m, f)
	}
	return mapView.show(s, w, r, p)
}

func lastPhotoOf(c *record.Case, f account.FaceOf) *record.Stamped[record.Photo] {
	for i := len(c.Photos) - 1; i >= 0; i-- {
		if x := &c.Photos[i]; x.Body.Place.Face == f.Face && slices.Equal(x.Body.Place.Sheets, []int{f.Sheet}) {
			return x
		}
	}
	return nil
}

// onFace lists the findings that show on a face, each once.
func onFace(m *account.Map, f account.FaceOf) []account.Damage {
	var list []account.Damage
	for _, t := range m.On(f) {
		if n := len(list); n == 0 || list[n-1].No != t.Damage.No {
			list = append(list, *t.Damage)
		}
	}
	return list
}

// mapConfig is what the editor of a face knows of it.
type mapConfig struct {
	Case   string           `json:"case"`
	Seq    int64            `json:"seq"`
	By     string           `json:"by"`
	Closed bool             `json:"closed,omitempty"`
	Sheet  int              `json:"sheet"`
	Face   record.Face      `json:"face"`
	Pages  []string         `json:"pages"`
	Size   [2]float64       `json:"size"`
	FoldMm float64          `json:"fold"`
	SnapMm float64          `json:"snap"`
	Photo  *laidPhoto       `json:"photo,omitempty"`
	Sheets []mapSheet       `json:"sheets"`
	Kinds  []mapKind        `json:"kinds"`
	Offers map[string][]int `json:"offers"` // places in Kinds
	// Findings are those that show on the face, in the order of their numbers.
	Findings []mapFinding `json:"findings"`
	Levels   []mapLevel   `json:"levels"` // of severity
	Save     string       `json:"save"`
	Data     string       `json:"data"`
	Undo     string       `json:"undo"`
}

type mapSheet struct {
	N    int        `json:"n"`
	Name string     `json:"name"`
	Size [2]float64 `json:"size"`
}

type mapKind struct {
	Term    string            `json:"term"`
	Name    string            `json:"name"`
	Group   string            `json:"group"`
	Letter  string            `json:"letter"`
	Colour  string            `json:"colour"`
	Hatch   string            `json:"hatch"`
	Meaning string            `json:"meaning"`
	Caution string            `json:"caution,omitempty"`
	Measure condition.Measure `json:"measure"`
	Depth   condition.Depth   `json:"depth"`
}

type mapLevel struct {
	Value   string `json:"value"`
	Words   string `json:"words"`
	Meaning string `json:"meaning"`
}

// mapFinding is a finding with what of it shows on this face, and the fields of its
// form, so that a change of one sends back the others as they were.
type mapFinding struct {
	ID       string              `json:"id"`
	Seq      int64               `json:"seq"`
	No       int                 `json:"no"`
	Kind     int                 `json:"kind"` // place in Kinds, -1: none
	Name     string              `json:"name"`
	Place    string              `json:"place"`
	Extent   string              `json:"extent"`
	Severity string              `json:"severity"`
	Now      string              `json:"now,omitempty"`
	Open     []string            `json:"open,omitempty"`
	Through  bool                `json:"through,omitempty"`
	Drawn    bool                `json:"drawn"` // on this face of this sheet
	Unsaid   bool                `json:"unsaid,omitempty"`
	Sheets   []int               `json:"sheets"`
	Shapes   []mapShape          `json:"shapes"`
	Fields   map[string][]string `json:"fields"`
	Page     string              `json:"page"`
}

type mapShape struct {
	Form    condition.Form `json:"form"`
	WidthMm float64        `json:"w,omitempty"`
	Points  [][2]float64   `json:"p"`
}

func shapeFor(s condition.Shape) mapShape {
	x := mapShape{Form: s.Form, WidthMm: s.WidthMm, Points: make([][2]float64, len(s.Points))}
	for i, p := range s.Points {
		x.Points[i] = [2]float64{p.XMm, p.YMm}
	}
	return x
}

func (s *Server) configOf(r *http.Request, c *record.Case, m *account.Map, f account.FaceOf) mapConfig {
	size, _ := m.Size(f)
	x := mapConfig{
		Case: string(c.ID), Seq: c.LastSeq, By: writerOf(r), Closed: c.Closed != nil, Sheet: f.Sheet, Face: f.Face,
		Pages: m.Pages(f), Size: [2]float64{size.WidthMm, size.HeightMm}, FoldMm: m.FoldMm(f), SnapMm: condition.SnapMm,
		Photo: laidAddresses(c, laidOn(c, f), size), Offers: map[string][]int{}, Save: casePath(c.ID, "damage"),
		Data: mapPath(c, f) + "/data", Undo: "/undo",
	}
	for _, n := range c.Sheets() {
		if z, known := m.Size(account.FaceOf{Sheet: n, Face: f.Face}); known {
			x.Sheets = append(x.Sheets, mapSheet{n, record.SheetName(n), [2]float64{z.WidthMm, z.HeightMm}})
		}
	}
	place := map[condition.Term]int{}
	for i, k := range condition.Kinds() {
		place[k.Term] = i
		x.Kinds = append(x.Kinds, mapKind{
			string(k.Term), upperFirst(account.Term(string(k.Term))), k.Group.Name, k.Letter, k.Group.Colour, k.Group.Hatch,
			k.Meaning, k.Caution, k.Measure, k.Depth,
		})
	}
	for drawn, terms := range condition.Offers() {
		for _, t := range terms {
			x.Offers[string(drawn)] = append(x.Offers[string(drawn)], place[t])
		}
	}
	for _, v := range condition.Severities() {
		x.Levels = append(x.Levels, mapLevel{string(v), string(v), v.Meaning()})
	}
	x.Findings = s.findingsFor(c, m, f, place)
	return x
}

func (s *Server) findingsFor(
	c *record.Case, m *account.Map, f account.FaceOf, place map[condition.Term]int,
) []mapFinding {
	list := []mapFinding{}
	fields := record.Fields(record.Damage{})
	for _, t := range m.On(f) {
		d := t.Damage
		if n := len(list); n == 0 || list[n-1].No != d.No {
			kind, known := place[condition.Term(d.Body.Term)]
			if !known {
				kind = -1
			}
			x := mapFinding{
				ID: d.Body.ID, Seq: d.Seq, No: d.No, Kind: kind, Name: upperFirst(d.Name), Place: d.Place, Extent: d.Extent,
				Severity: string(d.Body.Severity), Open: openOf(&d.Body), Through: d.Body.Through, Drawn: t.Drawn,
				Unsaid: t.Unsaid, Sheets: d.Body.Place.Sheets, Fields: s.filled(d.Body, fields),
				Page: casePath(c.ID, "findings/"+d.Body.ID),
			}
			if d.After != nil {
				x.Now = d.Now
			}
			list = append(list, x)
		}
		x := &list[len(list)-1]
		x.Shapes = append(x.Shapes, shapeFor(t.Shape))
	}
	return list
}

// openOf names what of a finding was left open.
func openOf(b *record.Damage) []string {
	var list []string
	if b.Severity == "" {
		list = append(list, "severity")
	}
	if b.CauseIs == "" {
		list = append(list, "cause")
	}
	if b.Active == "" {
		list = append(list, "whether it goes on")
	}
	return list
}

// filled are the values of a form that holds a body.
func (s *Server) filled(b record.Damage, fields []record.Field) url.Values {
	v := url.Values{}
	for i := range fields {
		fill(v, valueAt(b, fields[i].Index), &fields[i], true, s.zone, "")
	}
	return v
}

// jsonText is a value for an attribute that a script reads.
func jsonText(v any) (string, error) {
	raw, err := json.Marshal(v)
	return string(raw), err
}

// severityChoices are what a filter asks for: the levels, and what is not judged.
func severityChoices() []record.Choice {
	return append(slices.Clone(record.Severities), record.Choice{Value: "open", Words: "not judged"})
}

// mapData tells the editor of a face what stands in the record now.
func (s *Server) mapData(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	m, f, err := mapAsked(r, c)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	return json.NewEncoder(w).Encode(s.configOf(r, c, m, f))
}

// facePicture sends a photograph as it is laid on its face.
func (s *Server) facePicture(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	h, err := record.ParseHash(r.PathValue("photo"))
	if err != nil {
		return store.ErrNotFound
	}
	x := c.LaidOf(h)
	if x == nil {
		return store.ErrNotFound
	}
	size, known := account.OpenedSize(c, x.Body.Place.Sheets[0])
	if !known || pictures.FaceKey(&x.Body, size) != r.PathValue("key") {
		return store.ErrNotFound
	}
	f, err := s.pictures.Face(r.Context(), &x.Body, size, r.PathValue("size"))
	if err != nil {
		return err
	}
	defer f.Close()
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	w.Header().Set("Content-Type", "image/jpeg")
	http.ServeContent(w, r, "", s.started, f)
	return nil
}
