package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"io"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"benchleaf/colour"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// compareForm counts the forms of the reckoning. It is part of what the cache
// and the record say, and of the addresses of tiles, which browsers keep for
// ever: raise it when package photo would give other numbers or pictures.
const (
	compareForm   = "2"
	compareMethod = "compare " + compareForm
)

// facePictures are two photographs of one face, or one alone: then After is zero.
type facePictures struct {
	Before, After record.Hash
	// Colour names the corrections of both, where both have their colour set;
	// else they are compared as the cameras wrote them.
	Colour string
}

func (p facePictures) key() string {
	return "compare/" + p.Before.String() + "/" + p.After.String() + "/" + p.Colour
}

// asTaken stands in addresses and names for photographs without correction.
const asTaken = "as-taken"

func (p facePictures) set() string {
	if p.Colour == "" {
		return asTaken
	}
	return p.Colour
}

// pack is the name of a layer's tiles in the cache, under the before picture.
func (p facePictures) pack(layer string) string {
	return layer + "-" + compareForm + "-" + p.After.String() + "-" + p.set()
}

// tiles is the address of a layer's tiles.
func (p facePictures) tiles(layer string) string {
	return "/compared/" + compareForm + "/" + p.Before.String() + "/" + p.After.String() + "/" + p.set() + "/" + layer + "/"
}

// inColour says how the two pictures' colour is set.
func (p facePictures) inColour(c *record.Case) facePictures {
	before, after := c.ColourOf(p.Before), c.ColourOf(p.After)
	p.Colour = ""
	if before != nil && after != nil {
		p.Colour = colourKey(&before.Body) + colourKey(&after.Body)
	}
	return p
}

// corrections are those of both pictures, nil where they are taken as they are.
func (p facePictures) corrections(c *record.Case) (list [2]*colour.Correction, err error) {
	if p.Colour == "" {
		return list, nil
	}
	for i, h := range []record.Hash{p.Before, p.After} {
		b := colourNamed(c, h, p.Colour[16*i:16*i+16])
		if b == nil {
			return list, errors.New("the colour of the photographs was set anew: look at the comparison again")
		}
		if list[i], err = b.Correction(); err != nil {
			return list, err
		}
	}
	return list, nil
}

// colourNamed is the latest correction of a photograph that does what a key says.
func colourNamed(c *record.Case, h record.Hash, key string) *record.PhotoColour {
	for i := len(c.Colours) - 1; i >= 0; i-- {
		if b := &c.Colours[i].Body; b.Photo == h && colourKey(b) == key {
			return b
		}
	}
	return nil
}

// query is the pair in an address.
func (p facePictures) query() url.Values {
	v := url.Values{"before": {p.Before.String()}}
	if !p.After.IsZero() {
		v.Set("after", p.After.String())
	}
	return v
}

// picturesOf reads the pair that a request names; both must be photographs of
// the case.
func picturesOf(c *record.Case, v url.Values) (facePictures, error) {
	var p facePictures
	for _, x := range []struct {
		name string
		to   *record.Hash
	}{{"before", &p.Before}, {"after", &p.After}} {
		given := v.Get(x.name)
		if given == "" && x.name == "after" {
			continue
		}
		h, err := record.ParseHash(given)
		if err != nil || c.PhotoByHash(h) == nil {
			return p, store.ErrNotFound
		}
		*x.to = h
	}
	return p.inColour(c), nil
}

// compared is what the cache keeps of a comparison: all but what only a
// comparison in memory can do.
type compared struct {
	Method string
	*photo.Comparison
	Maps []changeMap
	// Areas are the changes of the areas that were kept when it was made.
	Areas []areaChange
}

// changeMap is a map of change whose tiles the cache keeps, W by H of its own
// pixels over the before picture.
type changeMap struct {
	Kind   photo.MapKind
	W, H   int
	Legend photo.Legend
}

// Layers beside the maps: the after picture laid on the before picture, and both
// pictures with their colour set.
const (
	alignedLayer = "aligned"
	beforeLayer  = "before"
	afterLayer   = "after"
)

func isLayer(name string) bool {
	return name == alignedLayer || name == beforeLayer || name == afterLayer ||
		slices.Contains(photo.MapKinds(), photo.MapKind(name))
}

// onSurround lays a map on the grey in which colour is judged: tiles have no
// transparency.
func onSurround(m *image.NRGBA) *photo.Image {
	out := image.NewRGBA(m.Rect)
	draw.Draw(out, out.Rect, image.NewUniform(color.Gray{Y: 0x77}), image.Point{}, draw.Src)
	draw.Draw(out, out.Rect, m, m.Rect.Min, draw.Over)
	return photo.FromImage(out)
}

// registered says whether the after picture lies on the before picture.
func (c *compared) registered() bool {
	return c != nil && c.Comparison.Compared && c.Alignment.Verdict == photo.Aligned
}

// registered says whether the after picture lies on the before picture.
func (l *livePair) registered() bool {
	return l != nil && l.c != nil && l.c.Compared && l.c.Alignment.Verdict == photo.Aligned
}

// comparer compares faces and reads areas of them. It keeps the last pair in
// memory for a while: areas of it are read at once then.
type comparer struct {
	d *deriver

	mu    sync.Mutex
	last  *livePair
	timer *time.Timer
}

// livePair is a pair in memory. after and c are nil where there is one picture.
type livePair struct {
	of            facePictures
	before, after *photo.Image
	sheet         photo.Sheet
	c             *photo.Comparison
}

// liveFor is how long a pair stays in memory after it was last read.
const liveFor = 5 * time.Minute

func (m *comparer) keep(l *livePair) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.last = l
	if m.timer != nil {
		m.timer.Stop()
	}
	m.timer = time.AfterFunc(liveFor, func() {
		m.mu.Lock()
		defer m.mu.Unlock()
		if m.last == l {
			m.last = nil
		}
	})
}

func (m *comparer) kept(of facePictures) *livePair {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.last == nil || m.last.of != of {
		return nil
	}
	m.timer.Reset(liveFor)
	return m.last
}

// live gives a pair in memory; where it is not there it is brought in the
// background and waited for.
func (m *comparer) live(ctx context.Context, c *record.Case, of facePictures) (*livePair, error) {
	if l := m.kept(of); l != nil {
		return l, nil
	}
	fix, err := of.corrections(c)
	if err != nil {
		return nil, err
	}
	x := m.d.begin("live/"+of.key(), m.d.slow, func(ctx context.Context, x *derivation) error {
		if m.kept(of) != nil {
			return nil
		}
		l, err := m.load(ctx, x, of, fix)
		if err == nil {
			m.keep(l)
		}
		return err
	})
	select {
	case <-x.done:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if x.err != nil {
		return nil, x.err
	}
	if l := m.kept(of); l != nil {
		return l, nil
	}
	return nil, errors.New("another pair of photographs took its place in memory: ask once more")
}

// load decodes a pair and compares it.
func (m *comparer) load(
	ctx context.Context,
	x *derivation,
	of facePictures,
	fix [2]*colour.Correction,
) (*livePair, error) {
	x.tell(0, "reading the photographs")
	l := &livePair{of: of}
	var opt photo.CompareOptions
	var err error
	if l.before, opt.BeforeInfo, err = m.d.decodeInfo(of.Before); err != nil {
		return nil, err
	}
	if of.After.IsZero() {
		l.sheet = photo.FindSheet(l.before)
		return l, nil
	}
	if l.after, opt.AfterInfo, err = m.d.decodeInfo(of.After); err != nil {
		return nil, err
	}
	opt.BeforeColour, opt.AfterColour = fix[0], fix[1]
	if of.Colour != "" {
		l.before.Correct(fix[0])
		l.after.Correct(fix[1])
	}
	l.before.DropDeep()
	l.after.DropDeep()
	opt.Align.Progress = func(share float64, doing string) { x.tell(0.1+0.5*share, doing) }
	if l.c, err = photo.Compare(ctx, l.before, l.after, opt); err != nil {
		return nil, err
	}
	l.sheet = l.c.Alignment.Sheet
	return l, nil
}

// begin compares a pair in the background: numbers, the aligned picture, the
// maps and all their tiles. The numbers are written last: where they are,
// everything is.
func (m *comparer) begin(c *record.Case, of facePictures) *derivation {
	fix, err := of.corrections(c)
	return m.d.begin(of.key(), m.d.slow, func(ctx context.Context, x *derivation) error {
		if err != nil || m.numbers(of) != nil {
			return err
		}
		l, err := m.load(ctx, x, of, fix)
		if err != nil {
			return err
		}
		m.keep(l)
		return m.write(ctx, x, l, c)
	})
}

func (m *comparer) write(ctx context.Context, x *derivation, l *livePair, c *record.Case) error {
	of := l.of
	x.tell(0.62, "cutting the before picture into tiles")
	if err := m.tilesOf(ctx, of, beforeLayer, of.Before, l.before); err != nil {
		return err
	}
	out := compared{Method: compareMethod, Comparison: l.c}
	if !out.registered() {
		x.tell(0.8, "cutting the after picture into tiles")
		if err := m.tilesOf(ctx, of, afterLayer, of.After, l.after); err != nil {
			return err
		}
		return m.writeNumbers(of, out)
	}
	x.tell(0.7, "laying the after picture on the before picture")
	aligned := l.c.Warped()
	if err := m.d.putPack(ctx, of.Before, of.pack(alignedLayer), aligned); err != nil {
		return err
	}
	if err := m.writePrint(of, l.c, l.before, aligned); err != nil {
		return err
	}
	for i, kind := range photo.MapKinds() {
		x.tell(0.85+0.02*float64(i), "drawing the maps of change")
		drawn := l.c.Map(kind)
		if err := m.d.putPack(ctx, of.Before, of.pack(string(kind)), onSurround(drawn.Picture)); err != nil {
			return err
		}
		size := drawn.Picture.Rect.Size()
		out.Maps = append(out.Maps, changeMap{Kind: kind, W: size.X, H: size.Y, Legend: drawn.Legend})
	}
	x.tell(0.97, "measuring the areas that were kept")
	var err error
	if out.Areas, err = l.changes(ctx, c); err != nil {
		return err
	}
	return m.writeNumbers(of, out)
}

// tilesOf makes the tiles of one of the two pictures: those of the photograph as
// it was taken serve every pair.
func (m *comparer) tilesOf(ctx context.Context, of facePictures, layer string, h record.Hash, img *photo.Image) error {
	if of.Colour != "" {
		return m.d.putPack(ctx, of.Before, of.pack(layer), img)
	}
	if _, ok := m.d.packOf(h, tilesPack); ok {
		return nil
	}
	return m.d.putPack(ctx, h, tilesPack, img)
}

func (m *comparer) writeNumbers(of facePictures, out compared) error {
	// The field's many points serve nobody who cannot map by them.
	c, a := *out.Comparison, *out.Comparison.Alignment
	a.Field = nil
	c.Alignment = &a
	out.Comparison = &c
	raw, err := json.Marshal(out)
	if err != nil {
		return fmt.Errorf("write what was compared: %w", err)
	}
	return m.d.store.PutDerived(of.Before, numbersName(of), func(w io.Writer) error {
		_, err := w.Write(raw)
		return err
	})
}

func numbersName(of facePictures) string { return of.pack("numbers") + ".json" }

// numbers reads what the cache keeps of a comparison; nil when it is not there,
// or was made by another form of the reckoning.
func (m *comparer) numbers(of facePictures) *compared {
	f, err := m.d.store.OpenDerived(of.Before, numbersName(of))
	if err != nil {
		return nil
	}
	defer f.Close()
	var c compared
	if json.NewDecoder(f).Decode(&c) != nil || c.Method != compareMethod || c.Comparison == nil || c.Alignment == nil {
		return nil
	}
	return &c
}

func (s *Server) routesComparison(mux *http.ServeMux) {
	mux.Handle("GET /photos/{hash}/tiles/{tile}", s.do(s.photoTile))
	mux.Handle("GET /compared/{form}/{before}/{after}/{set}/{layer}/{tile}", s.do(s.comparedTile))
	mux.Handle("GET /cases/{case}/comparison", s.doCase(s.comparison))
	mux.Handle("POST /cases/{case}/comparison", s.doCase(s.comparisonAct))
	mux.Handle("POST /cases/{case}/compared", s.doCase(s.comparedSave))
}

// photoTile sends a tile of a photograph as it was taken.
func (s *Server) photoTile(w http.ResponseWriter, r *http.Request) error {
	h, err := record.ParseHash(r.PathValue("hash"))
	if err != nil {
		return store.ErrNotFound
	}
	return s.tile(w, r, h, tilesPack)
}

// comparedTile sends a tile of the aligned picture or of a map.
func (s *Server) comparedTile(w http.ResponseWriter, r *http.Request) error {
	before, err := record.ParseHash(r.PathValue("before"))
	after, err2 := record.ParseHash(r.PathValue("after"))
	layer, of := r.PathValue("layer"), facePictures{before, after, r.PathValue("set")}
	if of.Colour == asTaken {
		of.Colour = ""
	}
	if err != nil || err2 != nil || r.PathValue("form") != compareForm || !isLayer(layer) || !hexOnly(of.Colour) {
		return store.ErrNotFound
	}
	return s.tile(w, r, before, of.pack(layer))
}

// tile sends a tile of a pack. A pack is made once from what never changes, and
// its name carries the form that it was made in.
func (s *Server) tile(w http.ResponseWriter, r *http.Request, h record.Hash, pack string) error {
	level, column, row, ok := parseTile(r.PathValue("tile"))
	if !ok {
		return store.ErrNotFound
	}
	etag := `"` + pack + "/" + r.PathValue("tile") + "/" + h.Short() + `"`
	if r.Header.Get("If-None-Match") == etag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	data, err := s.deriver.readTile(h, pack, level, column, row)
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	w.Header().Set("ETag", etag)
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	if _, err := w.Write(data); err != nil {
		s.log.Debug("a tile was not taken", "path", r.URL.Path, "error", err)
	}
	return nil
}

func hexOnly(s string) bool {
	return len(s) <= 64 && strings.Trim(s, "0123456789abcdef") == ""
}

// parseTile reads "level-column-row".
func parseTile(s string) (level, column, row int, ok bool) {
	parts := strings.Split(s, "-")
	if len(parts) != 3 {
		return 0, 0, 0, false
	}
	var n [3]int
	for i, p := range parts {
		v, err := strconv.ParseUint(p, 10, 16)
		if err != nil {
			return 0, 0, 0, false
		}
		n[i] = int(v)
	}
	return n[0], n[1], n[2], true
}

// comparison tells the page's own code how far a comparison is.
func (s *Server) comparison(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	key, err := workKey(c, r.URL.Query())
	if err != nil {
		return err
	}
	x, _ := s.deriver.stands(key)
	said := map[string]any{"under": x != nil}
	if x != nil {
		share, doing := x.told()
		said["share"], said["doing"] = share, upperFirst(doing)
	}
	return tell(w, http.StatusOK, said)
}

// workKey is the derivation that a request speaks of: a comparison, or the
// stains of one picture.
func workKey(c *record.Case, v url.Values) (string, error) {
	of, err := picturesOf(c, v)
	switch {
	case err != nil:
		return "", err
	case v.Get("work") == "stains":
		return stainsKey(of.Before), nil
	case of.After.IsZero():
		return tilesKey(of.Before), nil
	}
	return of.key(), nil
}

// comparisonAct begins a piece of work or stops it.
func (s *Server) comparisonAct(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "comparison")
	if err != nil {
		return err
	}
	key, err := workKey(c, f.values)
	if err != nil {
		return err
	}
	of, err := picturesOf(c, f.values)
	if err != nil {
		return err
	}
	switch {
	case f.Line("act") == "stop":
		s.deriver.stop(key)
	case f.Line("work") == "stains":
		s.beginStains(of.Before)
	case of.After.IsZero():
		s.deriver.startTiles(of.Before)
	default:
		s.comparer.begin(c, of)
	}
	http.Redirect(w, r, backOr(f, casePath(c.ID, "results")), http.StatusSeeOther)
	return nil
}

// comparedSave takes the numbers of a comparison into the record.
func (s *Server) comparedSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "compared")
	if err != nil {
		return err
	}
	of, err := picturesOf(c, f.values)
	if err != nil {
		return err
	}
	done := s.comparer.numbers(of)
	if !done.registered() {
		return record.Invalidf("", "These two photographs are not compared, so there is nothing to record.")
	}
	b := comparedBody(c, of, done)
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: items(b),
			To:    facePath(c, of),
			Said:  "Recorded: what changed on " + b.Place.String() + ".",
		},
		s.inCase(s.resultsAgain(of)),
	)
}

func comparedBody(c *record.Case, of facePictures, done *compared) record.FaceCompared {
	b := record.FaceCompared{Before: of.Before, After: of.After, Place: c.PhotoByHash(of.Before).Body.Place,
		PaperBeforeLab: threeOf(
			done.PaperBefore.Lab,
		), PaperAfterLab: threeOf(done.PaperAfter.Lab), DE00: hundredths(done.DE00.Median), DE00Trend: hundredths(done.TrendRemoved.Median),
		ResidualPx: hundredths(
			done.Alignment.ResidualMedianPx,
		), ComparedPercent: tenths(100 * done.ComparedShare), Colour: colourSays(c, of), Method: compareMethod}
	if done.PaperBefore.Share > 0 {
		change, sd := hundredths(done.PaperDE00), hundredths(done.PaperDE00SD)
		b.PaperDE00, b.PaperDE00Uncertainty = &change, &sd
	}
	if scale, _, _ := scaleOn(c, of.Before, &done.Alignment.Sheet); scale != nil {
		mm := math.Round(1000*done.Alignment.ResidualMedianPx*scale.MMPerPx) / 1000
		b.ResidualMm = &mm
	}
	for _, x := range done.Warnings {
		b.Warnings = append(b.Warnings, x.Say)
	}
	return b
}

// colourSays tells what set the colour of a pair.
func colourSays(c *record.Case, of facePictures) string {
	if of.Colour == "" {
		return account.ColourOfPair(nil, nil)
	}
	return account.ColourOfPair(&c.ColourOf(of.Before).Body, &c.ColourOf(of.After).Body)
}
