package web

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"benchleaf/colour"
	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/photo"
)

func (s *Server) routesAreas(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/area", s.doCase(s.areaPage))
	mux.Handle("POST /cases/{case}/areas", s.doCase(s.areaSave))
	mux.Handle("POST /cases/{case}/areas/found", s.doCase(s.areasKeep))
	mux.Handle("POST /cases/{case}/areas/compared", s.doCase(s.areasCompared))
	mux.Handle("POST /cases/{case}/areas/withdraw", s.doCase(s.areaWithdraw))
}

// areaNumbers is what is read of an area.
type areaNumbers struct {
	px, share float64             // area in pixels of the picture, and as a share of the face
	change    *photo.RegionChange // where a comparison is there
	// before and after are how it stands out from the paper round it, where that
	// was read.
	before, after *photo.RegionStats

	scale    *photo.Scale
	noScale  string // why there is none
	mm       []record.Ring
	mm2, sd2 float64
}

// measure reads an area. The change is there at once; the paper round the area
// takes about a second for large pictures, and is read when around asks for it,
// or when there is nothing else to read.
func (m *comparer) measure(
	ctx context.Context,
	c *record.Case,
	of facePictures,
	rings []record.Ring,
	around bool,
) (*areaNumbers, error) {
	l, err := m.live(ctx, c, of)
	if err != nil {
		return nil, err
	}
	return l.read(c, rings, around)
}

// read is measure on a pair in memory.
func (l *livePair) read(c *record.Case, rings []record.Ring, around bool) (*areaNumbers, error) {
	n := &areaNumbers{}
	outline := pointsOf(rings)
	registered := l.registered()
	if registered {
		change, err := l.c.Region(outline)
		if err != nil {
			return nil, err
		}
		n.change, n.px = &change, change.AreaPx
	}
	if around || !registered {
		before, err := photo.MeasureRegion(l.before, outline, photo.StainOptions{Sheet: &l.sheet.Corners})
		if err != nil {
			return nil, err
		}
		n.before, n.px = &before, before.AreaPx
	}
	if around && registered {
		corners := photo.Quad(l.moved(l.sheet.Corners[:]))
		after := make([][]photo.Point, len(outline))
		for i := range outline {
			after[i] = l.moved(outline[i])
		}
		// An outline may lie beyond the after picture: then how it stands out
		// there is not told.
		if stats, err := photo.MeasureRegion(l.after, after, photo.StainOptions{Sheet: &corners}); err == nil {
			n.after = &stats
		}
	}
	n.size(c, l.of.Before, &l.sheet, rings)
	return n, nil
}

// moved takes places of the before picture to the after picture.
func (l *livePair) moved(places []photo.Point) []photo.Point {
	out := make([]photo.Point, len(places))
	for i, p := range places {
		out[i].X, out[i].Y = l.c.Alignment.Map(p.X, p.Y)
	}
	return out
}

// size gives the area in mm2 and the outline in mm on the face, where the
// sheet's recorded size goes with its corners in the picture.
func (n *areaNumbers) size(c *record.Case, before record.Hash, sheet *photo.Sheet, rings []record.Ring) {
	if face := areaWithin(ringsOf([][]photo.Point{sheet.Corners[:]})[0]); face > 0 {
		n.share = math.Min(1, n.px/face)
	}
	scale, face, why := scaleOn(c, before, sheet)
	if scale == nil {
		n.noScale = why
		return
	}
	n.scale = scale
	px, mm := 0.0, 0.0
	for i, ring := range rings {
		out := make(record.Ring, len(ring))
		for k, p := range ring {
			q := face.Map(photo.Point{X: p[0], Y: p[1]})
			out[k] = [2]float64{hundredths(q.X), hundredths(q.Y)}
		}
		n.mm = append(n.mm, out)
		if i == 0 {
			px, mm = areaWithin(ring), areaWithin(out)
		}
	}
	if px > 0 {
		n.mm2 = n.px * mm / px
		n.sd2 = 2 * scale.Relative * n.mm2
	}
}

// scaleOn is the scale of a picture by the recorded size of the sheet that it
// shows, and the way from its pixels to millimetres on the face; or why there
// is none.
func scaleOn(c *record.Case, h record.Hash, sheet *photo.Sheet) (*photo.Scale, *photo.Homography, string) {
	p := c.PhotoByHash(h)
	if p == nil || len(p.Body.Place.Sheets) != 1 {
		return nil, nil, "The photograph names no sheet, so there is no scale."
	}
	st := c.StockOf(p.Body.Place.Sheets[0])
	if st == nil {
		return nil, nil, "The sheet's size is not recorded, so there is no scale: describe its paper under Examination."
	}
	if sheet.Seen != [4]bool{true, true, true, true} {
		return nil, nil, "The sheet's edges are not all seen in the picture, so there is no scale."
	}
	scale, err := photo.ScaleFromSheet(sheet.Corners, st.WidthMm, st.HeightMm)
	if err != nil {
		return nil, nil, "There is no scale: " + err.Error() + "."
	}
	face, ok := photo.FaceHomography(sheet.Corners, st.WidthMm, st.HeightMm)
	if !ok {
		return nil, nil, "The sheet's corners make no face, so there is no scale."
	}
	return &scale, &face, ""
}

// areaWithin is the area within a ring.
func areaWithin(r record.Ring) float64 {
	sum := 0.0
	for i, p := range r {
		q := r[(i+1)%len(r)]
		sum += p[0]*q[1] - q[0]*p[1]
	}
	return math.Abs(sum) / 2
}

func pointsOf(rings []record.Ring) [][]photo.Point {
	out := make([][]photo.Point, len(rings))
	for i, r := range rings {
		for _, p := range r {
			out[i] = append(out[i], photo.Point{X: p[0], Y: p[1]})
		}
	}
	return out
}

func ringsOf(outline [][]photo.Point) []record.Ring {
	out := make([]record.Ring, len(outline))
	for i, r := range outline {
		for _, p := range r {
			out[i] = append(out[i], [2]float64{tenths(p.X), tenths(p.Y)})
		}
	}
	return out
}

func tenths(v float64) float64     { return math.Round(10*v) / 10 }
func hundredths(v float64) float64 { return math.Round(100*v) / 100 }

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
	x, y, w, h := f.Number(
		"left",
		"the left edge",
	), f.Number(
		"top",
		"the top edge",
	), f.Number(
		"width",
		"the width",
	), f.Number(
		"height",
		"the height",
	)
	if len(f.Refused) > 0 {
		return nil, f.Refused[0]
	}
	if w <= 0 || h <= 0 {
		return nil, record.Invalidf(
			"width",
			"An area of %g by %g pixels holds nothing: width and height above 0 are expected.",
			w,
			h,
		)
	}
	return []record.Ring{{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}}, nil
}

// areaPage reads one area of a face: what it is, what changed, and the form
// that keeps, corrects or withdraws it.
type areaPage struct {
	Page
	Say     string // why there is nothing to read
	Said    string // the numbers in one sentence
	Answers []Fact
	Facts   []Fact
	// Around is where the paper round the area is read, where that is to come.
	Around   string
	Form     *Form
	Kept     *record.Area
	Withdraw *Form
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
	of, err := picturesOf(c, q.values)
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
		p.Say = areaSentence(err)
	}
	p.Form = s.form(r, "area", c.LastSeq, fill)
	return areaView.show(s, w, r, p)
}

// areaAsked finds which area a request means: a kept one, a proposed one, one
// by its outline or by numbers.
func (s *Server) areaAsked(
	c *record.Case,
	q *Form,
	of facePictures,
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
			Name: "withdraw-area",
			Key:  record.NewID(s.now()),
			Seq:  c.LastSeq,
			By:   p.Writer,
			now:  s.now().In(s.zone),
		}
		fill["area"], fill["look"], fill["name"], fill["note"], fill["found_by"] = a.Body.ID, string(a.Body.Look), a.Body.Name, a.Body.Note, string(a.Body.FoundBy)
		fill["corrects"] = strconv.FormatInt(a.Seq, 10)
		if q.Line("outline") == "" || q.Line("outline") == writeOutline(a.Body.OutlinePx) {
			return a.Body.OutlinePx, nil
		}
		fill["found_by"] = "drawn"
	} else if found := s.found(of.Before); found != nil {
		if n, err := strconv.Atoi(strings.TrimPrefix(key, "found-")); err == nil && n >= 0 && n < len(found.Regions) {
			fill["look"] = string(found.Regions[n].Kind)
		}
	}
	if q.Line("outline") == "" && q.values.Has("left") {
		return rectangleOf(q)
	}
	return parseOutline(q.Line("outline"))
}

// areaSentence is the sentence for a person in an error about an area.
func areaSentence(err error) string {
	if list, ok := record.Refusals(err); ok && len(list) > 0 {
		return list[0].Say
	}
	s := err.Error()
	return upperFirst(strings.TrimSuffix(s, ".")) + "."
}

// readArea fills in the numbers.
func (s *Server) readArea(
	ctx context.Context,
	c *record.Case,
	of facePictures,
	rings []record.Ring,
	p *areaPage,
	around bool,
) error {
	trial := record.AreaOutlined{
		ID:        record.NewID(s.now()),
		Photo:     of.Before,
		Look:      "other",
		FoundBy:   "drawn",
		OutlinePx: rings,
	}
	if err := record.Validate(trial); err != nil {
		return err
	}
	n, err := s.comparer.measure(ctx, c, of, rings, around)
	if err != nil {
		return err
	}
	p.tell(n)
	return nil
}

// tell writes the numbers for a person.
func (p *areaPage) tell(n *areaNumbers) {
	if ch := n.change; ch != nil {
		d := lessLab(ch.AfterFlat, ch.Before)
		p.Answers = append(
			p.Answers,
			Fact{
				Name:  "Change of the area",
				Value: fmt.Sprintf("%.1f", ch.MeanDE00Flat),
				Unit:  "ΔE00",
				Range: fmt.Sprintf("± %.1f, light evened", ch.MeanDE00SD),
			},
		)
		p.Said = fmt.Sprintf("The area changed by %.1f ΔE00, give or take %.1f.", ch.MeanDE00Flat, ch.MeanDE00SD)
		if ch.MeanDE00Flat < ch.MeanDE00SD {
			p.Answers[len(p.Answers)-1].Range += ": no change found"
			p.Said = fmt.Sprintf("No change of the area was found beyond ± %.1f ΔE00.", ch.MeanDE00SD)
		}
		p.Answers = append(
			p.Answers,
			Fact{
				Name:  "ΔL*, Δa*, Δb*",
				Value: withSign(d.L) + ", " + withSign(d.A) + ", " + withSign(d.B),
				Range: "above nought lighter, redder, yellower; below it darker, greener, bluer",
			},
		)
		p.Facts = append(
			p.Facts,
			Fact{
				Name:  "As photographed",
				Value: fmt.Sprintf("%.1f", ch.MeanDE00),
				Unit:  "ΔE00",
				Basis: "ΔL* " + withSign(
					ch.After.L-ch.Before.L,
				) + ", Δa* " + withSign(
					ch.After.A-ch.Before.A,
				) + ", Δb* " + withSign(
					ch.After.B-ch.Before.B,
				) + ": with all the change of the light",
			},
			Fact{
				Name:  "Place by place",
				Value: fmt.Sprintf("%.1f", ch.TrendRemoved.Mean),
				Unit:  "mean ΔE00",
				Basis: fmt.Sprintf("light evened; as photographed %.1f", ch.DE00.Mean),
			},
			Fact{
				Name:  "Colour before",
				Value: labWords(ch.Before),
				Unit:  "L* a* b*",
				Basis: "as photographed, under D50",
			},
			Fact{
				Name:  "Colour after",
				Value: labWords(ch.After),
				Unit:  "L* a* b*",
				Basis: "as photographed; light evened " + labWords(ch.AfterFlat),
			},
			Fact{
				Name:  "Rests on",
				Value: fmt.Sprintf("%.0f %%", 100*ch.Compared),
				Unit:  "of the area",
				Basis: restsOn(ch),
			},
		)
	}
	out := Fact{Name: "Against the paper round it", Unit: "ΔE00"}
	switch {
	case n.before != nil && n.after != nil:
		out.Value, out.Range = fmt.Sprintf("%.1f → %.1f", n.before.MeanDE00, n.after.MeanDE00), "before → after"
		p.Answers = append(p.Answers, out)
	case n.before != nil:
		out.Value = fmt.Sprintf("%.1f", n.before.MeanDE00)
		p.Answers = append(p.Answers, out)
		if n.change == nil {
			p.Said = fmt.Sprintf("The area stands out from the paper round it by %.1f ΔE00.", n.before.MeanDE00)
			p.Facts = append(
				p.Facts,
				Fact{
					Name:  "Its colour",
					Value: labWords(n.before.Lab),
					Unit:  "L* a* b*",
					Basis: "as photographed, under D50, print left out",
				},
				Fact{Name: "Paper round it", Value: labWords(n.before.Paper), Unit: "L* a* b*"},
			)
		}
	}
	size := Fact{Name: "Size", Value: strconv.FormatFloat(math.Round(n.px), 'f', 0, 64), Unit: "px", Basis: n.noScale}
	if n.scale != nil {
		size = Fact{
			Name:  "Size",
			Value: interval.Rounded(n.mm2, 3),
			Unit:  "mm²",
			Range: "± " + en.About(math.Max(n.sd2, 0.01)),
			Basis: "scale from " + n.scale.RestsOn,
		}
	}
	p.Answers = append(p.Answers, Fact{Name: size.Name, Value: size.Value, Unit: size.Unit, Range: size.Range})
	p.Facts = append(p.Facts, size, Fact{Name: "Share of the face", Value: fmt.Sprintf("%.2f", 100*n.share), Unit: "%"})
}

func restsOn(ch *photo.RegionChange) string {
	if ch.PrintIncluded {
		return "hardly any bare paper in it, so print is counted too"
	}
	return fmt.Sprintf(
		"print left out: %.0f %% of it; the uncertainty is how much bare paper in places of this size differs where "+
			"nothing was done",
		100*ch.Print,
	)
}

// areaSave keeps an area, or corrects one: the outline, and what changed in it.
func (s *Server) areaSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "area")
	if err != nil {
		return err
	}
	of, err := picturesOf(c, f.values)
	if err != nil {
		return err
	}
	rings, err := parseOutline(f.Line("outline"))
	if err != nil {
		f.Refuse("outline", "%s", areaSentence(err))
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
		f.Refuse("outline", "%s", areaSentence(err))
		return again(w, r, f, errRefused, s.inCase(s.areaPage))
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: list,
			To:    facePath(c, of) + "#areas",
			Said:  "Area kept: " + record.WordsOf(record.AreaLooks, b.Look) + after(", ", b.Name) + ".",
		},
		s.inCase(s.areaPage),
	)
}

// areaItems are an area's entry and that of its change, where it is known.
func (s *Server) areaItems(
	ctx context.Context,
	c *record.Case,
	f *Form,
	of facePictures,
	b record.AreaOutlined,
	around bool,
) ([]record.Item, error) {
	if record.Validate(b) != nil {
		return []record.Item{item(f, b)}, nil // save tells what is wrong, at its field
	}
	n, err := s.comparer.measure(ctx, c, of, b.OutlinePx, around)
	if err != nil {
		return nil, err
	}
	n.into(&b)
	list := []record.Item{item(f, b)}
	if change := n.changeOf(b.ID, of); change != nil {
		list = append(list, record.Item{Body: *change})
	}
	return list, nil
}

// into writes what was read of an area into its entry.
func (n *areaNumbers) into(b *record.AreaOutlined) {
	share := hundredths(100 * n.share)
	b.FacePercent = &share
	if n.before != nil {
		out := hundredths(n.before.MeanDE00)
		b.StandsOutDE00 = &out
	}
	if n.scale != nil {
		mm2, sd := hundredths(n.mm2), hundredths(n.sd2)
		b.OutlineMm, b.AreaMm2, b.AreaUncertaintyMm2, b.ScaleFrom = n.mm, &mm2, &sd, n.scale.RestsOn
	}
}

// changeOf is the entry of an area's change; nil when it was not compared.
func (n *areaNumbers) changeOf(area string, of facePictures) *record.AreaCompared {
	ch := n.change
	if ch == nil {
		return nil
	}
	d := lessLab(ch.AfterFlat, ch.Before)
	b := &record.AreaCompared{
		Area:            area,
		Before:          of.Before,
		After:           of.After,
		DE00:            hundredths(ch.MeanDE00),
		DE00Trend:       hundredths(ch.MeanDE00Flat),
		DE00Uncertainty: hundredths(ch.MeanDE00SD),
		DL: hundredths(
			d.L,
		),
		DA:        hundredths(d.A),
		DB:        hundredths(d.B),
		BeforeLab: threeOf(ch.Before),
		AfterLab:  threeOf(ch.After),
		Method:    compareMethod,
	}
	if n.before != nil && n.after != nil {
		stood, stands := hundredths(n.before.MeanDE00), hundredths(n.after.MeanDE00)
		b.StoodOutDE00, b.StandsOutDE00 = &stood, &stands
	}
	return b
}

// areaWithdraw takes an area back, with what was measured on it.
func (s *Server) areaWithdraw(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "withdraw-area")
	if err != nil {
		return err
	}
	of, err := picturesOf(c, f.values)
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
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: list,
			To:    facePath(c, of) + "#areas",
			Said:  "Withdrawn. The area stays in the log, struck through.",
		},
		s.inCase(s.areaPage),
	)
}

// mostAround is how many areas are measured against the paper round them when a
// pair is compared: each takes about a second.
const mostAround = 20

// areaChange is what changed in a kept area, as measured with its pair: shown at
// once, and recorded when a person says so.
type areaChange struct {
	Outline string
	Body    record.AreaCompared
}

// changes measures the areas that were kept on the before picture of a pair.
// One that cannot be measured is left out: looking at it says why.
func (l *livePair) changes(ctx context.Context, c *record.Case) (list []areaChange, err error) {
	for i := range c.Areas {
		b := &c.Areas[i].Body
		if b.Photo != l.of.Before {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		n, err := l.read(c, b.OutlinePx, len(list) < mostAround)
		if err != nil {
			continue
		}
		if change := n.changeOf(b.ID, l.of); change != nil {
			list = append(list, areaChange{writeOutline(b.OutlinePx), *change})
		}
	}
	return list, nil
}

// unrecorded are the measured changes of areas that stand in the record without
// them.
func (c *compared) unrecorded(k *record.Case) (list []record.AreaCompared) {
	if !c.registered() {
		return nil
	}
	for _, x := range c.Areas {
		a := k.Area(x.Body.Area)
		if a == nil || writeOutline(a.Body.OutlinePx) != x.Outline ||
			a.Compared != nil && a.Compared.Body.After == x.Body.After {
			continue
		}
		list = append(list, x.Body)
	}
	return list
}

// areasCompared records what changed in the areas that were kept before.
func (s *Server) areasCompared(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "areas-compared")
	if err != nil {
		return err
	}
	of, err := picturesOf(c, f.values)
	if err != nil {
		return err
	}
	sv := Saving{Case: c.ID, To: facePath(c, of) + "#areas"}
	for _, b := range s.comparer.numbers(of).unrecorded(c) {
		sv.Items = append(sv.Items, record.Item{Body: b})
	}
	sv.Said = "Recorded: what changed in " + plural(len(sv.Items), "area", "areas") + "."
	return s.save(w, r, f, sv, s.inCase(s.resultsAgain(of)))
}

func lessLab(a, b colour.Lab) colour.Lab { return colour.Lab{L: a.L - b.L, A: a.A - b.A, B: a.B - b.B} }

func threeOf(c colour.Lab) [3]float64 {
	return [3]float64{hundredths(c.L), hundredths(c.A), hundredths(c.B)}
}

func labWords(c colour.Lab) string {
	return strings.ReplaceAll(fmt.Sprintf("%.1f, %.1f, %.1f", c.L, c.A, c.B), "-", "−")
}

// withSign writes a change with its sign and one decimal.
func withSign(v float64) string {
	if math.Abs(v) < 0.05 {
		return "0.0"
	}
	return strings.ReplaceAll(fmt.Sprintf("%+.1f", v), "-", "−")
}
