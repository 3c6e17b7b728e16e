package web

import (
	"context"
	"net/http"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func (s *Server) routesAreas(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/area", s.doCase(s.areaPage))
	mux.Handle("POST /cases/{case}/areas", s.doCase(s.areaSave))
	mux.Handle("POST /cases/{case}/areas/found", s.doCase(s.areasKeep))
	mux.Handle("POST /cases/{case}/areas/compared", s.doCase(s.areasCompared))
	mux.Handle("POST /cases/{case}/areas/withdraw", s.doCase(s.areaWithdraw))
}

// parseOutline reads "x,y x,y x,y;x,y ...": rings of corners in pixels.
func parseOutline(s string) ([]record.Ring, error) {
	const most = 60_000 // bytes, more than any outline that is kept
	bad := func(what string) ([]record.Ring, error) {
		return nil, record.Invalidf(
			"outline",
			"The outline cannot be read at %q: corners such as 120.5,340 are expected, with blanks between them.",
			clip(what),
		)
	}
	if strings.TrimSpace(s) == "" {
		return nil, record.Invalidf("outline", "Nothing is outlined: draw round the area, or enter it by numbers.")
	}
	if len(s) > most {
		return nil, record.Invalidf("outline", "The outline is too long: at most 5000 corners are kept.")
	}
	var rings []record.Ring
	for part := range strings.SplitSeq(s, ";") {
		var ring record.Ring
		for _, corner := range strings.Fields(part) {
			x, y, ok := strings.Cut(corner, ",")
			px, err := parseNumber(x)
			py, err2 := parseNumber(y)
			if !ok || err != nil || err2 != nil {
				return bad(corner)
			}
			ring = append(ring, [2]float64{px, py})
		}
		rings = append(rings, ring)
	}
	return rings, nil
}

func writeOutline(rings []record.Ring) string {
	var b strings.Builder
	for i, r := range rings {
		if i > 0 {
			b.WriteByte(';')
		}
		for k, p := range r {
			if k > 0 {
				b.WriteByte(' ')
			}
			b.WriteString(strconv.FormatFloat(p[0], 'f', -1, 64) + "," + strconv.FormatFloat(p[1], 'f', -1, 64))
		}
	}
	return b.String()
}

// rectangleOf is an area entered by numbers: its left, top, width and height.
func rectangleOf(f *Form) ([]record.Ring, error) {
	x, y := f.Number("left", "the left edge"), f.Number("top", "the top edge")
	w, h := f.Number("width", "the width"), f.Number("height", "the height")
	if len(f.Refused) > 0 {
		return nil, f.Refused[0]
	}
	if w <= 0 || h <= 0 {
		return nil, record.Invalidf("width",
			"An area of %g by %g pixels holds nothing: width and height above 0 are expected.", w, h)
	}
	return []record.Ring{{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}}, nil
}

// areaPage reads one area of a face: what it is, what changed, and the form
// that keeps, corrects or withdraws it.
type areaPage struct {
	Page
	Say     string // why there is nothing to read
	Said    string // the numbers in one sentence
	Answers []account.Fact
	Facts   []account.Fact
	// Around is where the paper round the area is read, where that is to come.
	Around   string
	Form     *Form
	Kept     *record.Area
	Withdraw *Form
	// Take takes the area over as a finding, where none was taken from it yet.
	Take *Form
}

var areaView = declare[areaPage]("area")

func (s *Server) areaPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := areaPage{Page: s.casePage(r, c, "results")}
	p.Title = "An area"
	q := s.formOf(r, "read", r.URL.Query())
	if back := refusedOf(r.Context()); back != nil {
		q = s.formOf(r, "read", back.form.values)
		q.Set("shape", back.form.Line("area"))
	}
	of, err := pairAsked(c, q.values)
	if err != nil {
		return err
	}
	fill := map[string]string{"before": of.Before.String(), "look": "other", "found_by": "drawn"}
	if !of.After.IsZero() {
		fill["after"] = of.After.String()
	}
	rings, err := s.areaAsked(c, q, of, fill, &p)
	if err == nil {
		fill["outline"] = writeOutline(rings)
		fast := q.Line("fast") != ""
		err = s.readArea(r.Context(), c, of, rings, &p, !fast)
		if fast && p.Answers != nil {
			again := r.URL.Query()
			again.Del("fast")
			p.Around = casePath(c.ID, "area") + "?" + again.Encode()
		}
	}
	if err != nil {
		p.Say = sentenceOf(err)
	}
	p.Form = s.form(r, "area", c.LastSeq, fill)
	return areaView.show(s, w, r, p)
}

// areaAsked finds which area a request means: a kept one, a proposed one, one
// by its outline or by numbers.
func (s *Server) areaAsked(
	c *record.Case,
	q *Form,
	of pictures.Pair,
	fill map[string]string,
	p *areaPage,
) ([]record.Ring, error) {
	key := q.Line("shape")
	if source := q.Line("source"); source == "proposed" {
		fill["found_by"] = "measured"
	}
	if a := c.Area(key); a != nil {
		p.Kept = a
		p.Withdraw = &Form{
			Name: "withdraw-area", Key: record.NewID(s.now()), Seq: c.LastSeq, By: p.Writer, now: s.now().In(s.zone),
		}
		if account.FoundByArea(c, a.Body.ID) == nil && len(a.Body.OutlineMm) > 0 {
			p.Take = &Form{Name: "take-area", Key: record.NewID(s.now()), now: s.now().In(s.zone)}
			p.Take.Seq, p.Take.By = c.LastSeq, p.Writer
		}
		fill["area"], fill["name"], fill["note"] = a.Body.ID, a.Body.Name, a.Body.Note
		fill["look"], fill["found_by"] = string(a.Body.Look), string(a.Body.FoundBy)
		fill["corrects"] = strconv.FormatInt(a.Seq, 10)
		if q.Line("outline") == "" || q.Line("outline") == writeOutline(a.Body.OutlinePx) {
			return a.Body.OutlinePx, nil
		}
		fill["found_by"] = "drawn"
	} else if stains := s.pictures.Stains(of.Before); stains != nil {
		if n, err := strconv.Atoi(strings.TrimPrefix(key, "found-")); err == nil && n >= 0 && n < len(stains.Found) {
			fill["look"] = stains.Found[n].Look
		}
	}
	if q.Line("outline") == "" && q.values.Has("left") {
		return rectangleOf(q)
	}
	return parseOutline(q.Line("outline"))
}

// readArea fills in the numbers.
func (s *Server) readArea(
	ctx context.Context, c *record.Case, of pictures.Pair, rings []record.Ring, p *areaPage, around bool,
) error {
	trial := record.AreaOutlined{
		ID: record.NewID(s.now()), Photo: of.Before, Look: "other", FoundBy: record.AreaDrawn, OutlinePx: rings,
	}
	if err := record.Validate(trial); err != nil {
		return err
	}
	region, err := s.pictures.Measure(ctx, c, of, rings, around)
	if err != nil {
		return err
	}
	p.Said, p.Answers, p.Facts = region.Say(), region.Answers(), region.Facts()
	return nil
}

// areaSave keeps an area, or corrects one: the outline, and what changed in it.
func (s *Server) areaSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "area")
	if err != nil {
		return err
	}
	of, err := pairAsked(c, f.values)
	if err != nil {
		return err
	}
	rings, err := parseOutline(f.Line("outline"))
	if err != nil {
		f.Refuse("outline", "%s", sentenceOf(err))
		return again(w, r, f, errRefused, s.inCase(s.areaPage))
	}
	b := record.AreaOutlined{
		ID:        f.ID(0),
		Photo:     of.Before,
		Place:     c.PhotoByHash(of.Before).Body.Place,
		Look:      record.AreaLook(f.Line("look")),
		FoundBy:   record.AreaSource(f.Line("found_by")),
		OutlinePx: rings,
		Name:      f.Line("name"),
		Note:      f.Text("note"),
	}
	if a := c.Area(f.Line("area")); a != nil {
		b.ID = a.Body.ID
	}
	list, err := s.areaItems(r.Context(), c, f, of, b, true)
	if err != nil {
		f.Refuse("outline", "%s", sentenceOf(err))
		return again(w, r, f, errRefused, s.inCase(s.areaPage))
	}
	said := "Area kept: " + record.WordsOf(record.AreaLooks, b.Look) + words.After(", ", b.Name) + "."
	sv := Saving{Case: c.ID, Items: list, To: facePath(c, of) + "#areas", Said: said}
	return s.save(w, r, f, sv, s.inCase(s.areaPage))
}

// areaItems are an area's entry and that of its change, where it is known.
func (s *Server) areaItems(
	ctx context.Context, c *record.Case, f *Form, of pictures.Pair, b record.AreaOutlined, around bool,
) ([]record.Item, error) {
	if record.Validate(b) != nil {
		return []record.Item{item(f, b)}, nil // save tells what is wrong, at its field
	}
	region, err := s.pictures.Measure(ctx, c, of, b.OutlinePx, around)
	if err != nil {
		return nil, err
	}
	region.Into(&b)
	list := []record.Item{item(f, b)}
	if change := region.Change(b.ID); change != nil {
		list = append(list, record.Item{Body: *change})
	}
	return list, nil
}

// areaWithdraw takes an area back, with what was measured on it.
func (s *Server) areaWithdraw(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "withdraw-area")
	if err != nil {
		return err
	}
	of, err := pairAsked(c, f.values)
	if err != nil {
		return err
	}
	a := c.Area(f.Line("area"))
	if a == nil {
		return record.Invalidf("area", "This area is not in the record, or was withdrawn already.")
	}
	reason := record.Withdrawn{Reason: f.Text("reason")}
	var list []record.Item
	for i := range c.Log {
		if x, is := c.Log[i].Decoded.(record.AreaCompared); is && x.Area == a.Body.ID && c.Log[i].Corrects == 0 &&
			c.Log[i].WithdrawnBy == 0 {
			list = append(list, record.Item{Body: reason, Corrects: c.Log[i].Seq})
		}
	}
	list = append(list, record.Item{Body: reason, Corrects: a.Seq})
	said := "Withdrawn. The area stays in the log, struck through."
	sv := Saving{Case: c.ID, Items: list, To: facePath(c, of) + "#areas", Said: said}
	return s.save(w, r, f, sv, s.inCase(s.areaPage))
}

// areasCompared records what changed in the areas that were kept before.
func (s *Server) areasCompared(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "areas-compared")
	if err != nil {
		return err
	}
	of, err := pairAsked(c, f.values)
	if err != nil {
		return err
	}
	sv := Saving{Case: c.ID, To: facePath(c, of) + "#areas"}
	for _, b := range s.pictures.Numbers(of).Unrecorded(c) {
		sv.Items = append(sv.Items, record.Item{Body: b})
	}
	sv.Said = "Recorded: what changed in " + plural(len(sv.Items), "area", "areas") + "."
	return s.save(w, r, f, sv, s.inCase(s.resultsAgain(of)))
}
