package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/photo"
)

// facePair is a face of a sheet with its pictures in normal light.
type facePair struct {
	account.PhotoPair
	Name, Href string
	On         bool
}

func (p *facePair) of(c *record.Case) facePictures {
	of := facePictures{Before: p.Before.Body.Hash}
	if p.After != nil {
		of.After = p.After.Body.Hash
	}
	return of.inColour(c)
}

// faces lists the faces that were photographed before treatment, those with
// both pictures first.
func faces(c *record.Case) []facePair {
	var list []facePair
	for _, x := range account.FacePairs(c) {
		name := record.SheetName(x.Place.Sheets[0]) + ", " + record.WordsOf(record.Faces, x.Place.Face)
		list = append(list, facePair{PhotoPair: x, Name: name, Href: "?face=" + url.QueryEscape(name)})
	}
	return list
}

// compareNew begins the comparisons that photographs just taken make possible.
func (s *Server) compareNew(ctx context.Context, id record.CaseID, taken []record.Item) {
	c, err := s.store.Case(ctx, id)
	if err != nil {
		return // the results page begins them as well
	}
	for _, p := range faces(c) {
		fresh := func(x *record.Stamped[record.Photo]) bool {
			return slices.ContainsFunc(
				taken,
				func(it record.Item) bool { return it.Body.(record.Photo).Hash == x.Body.Hash },
			)
		}
		if p.After != nil && (fresh(p.Before) || fresh(p.After)) {
			s.comparer.begin(c, p.of(c))
		}
	}
}

// faceAsked is the face that an address asks for, with the pictures that it
// names; the first when it names none, -1 when there is none.
func faceAsked(list []facePair, q url.Values) int {
	before, after := q.Get("before"), q.Get("after")
	for i := range list {
		p := &list[i]
		if before == "" {
			if p.Name == q.Get("face") {
				return i
			}
			continue
		}
		b := slices.IndexFunc(
			p.AllBefore,
			func(x record.Stamped[record.Photo]) bool { return x.Body.Hash.String() == before },
		)
		if b < 0 {
			continue
		}
		p.Before = &p.AllBefore[b]
		if a := slices.IndexFunc(p.AllAfter, func(x record.Stamped[record.Photo]) bool { return x.Body.Hash.String() == after }); a >= 0 {
			p.After = &p.AllAfter[a]
		}
		return i
	}
	if len(list) == 0 {
		return -1
	}
	return 0
}

// facePath is the address of the results of a pair.
func facePath(c *record.Case, of facePictures) string {
	return casePath(c.ID, "results") + "?" + of.query().Encode()
}

// faceView is one face on the page: its pictures, what was compared, its areas.
type faceView struct {
	*facePair
	Of         facePictures
	AfterWords string
	// Config is what the viewer needs, as JSON; empty until there are tiles.
	Config string
	Read   string // the address that reads an area
	// Work is under way on the pictures; Halted says why it came to nothing.
	Work         *workView
	Halted       string
	Stains       *workView
	StainsHalted string
	Found        *foundView
	Compared     *comparedView
	Areas        []areaRow
	// Unrecorded counts the areas whose change is measured and not recorded.
	Unrecorded int
	KeepAreas  *Form
	// Keep takes the numbers into the record; Kept are those of this pair that
	// stand there.
	Keep *Form
	Kept *record.Stamped[record.FaceCompared]
	// ByNumbers takes an area as a rectangle, Choose other pictures.
	ByNumbers, Choose           *Form
	ChoicesBefore, ChoicesAfter []record.Choice
}

// faceOnPage is a face with its page, for the template.
type faceOnPage struct {
	Page Page
	F    *faceView
}

func faceOn(p resultsPage, f *faceView) faceOnPage { return faceOnPage{p.Page, f} }

// workButton begins or stops a piece of work.
type workButton struct {
	To, Act, Work, Words, Class, Back string
	Of                                facePictures
}

func workForm(p faceOnPage, act, work, words, class string) workButton {
	return workButton{
		To:    p.Page.Case.Path("comparison"),
		Act:   act,
		Work:  work,
		Words: words,
		Class: class,
		Back:  p.Page.Case.Path("results") + "?" + p.F.Of.query().Encode(),
		Of:    p.F.Of,
	}
}

func emptyFaces(id record.CaseID) Empty {
	return Empty{
		Title: "No face is photographed yet",
		Text: "Photograph a face before and after, named by its sheet and face in normal light: the two are laid " +
			"on each other here, and what changed is measured.",
		Act:   "Photograph before",
		Href:  casePath(id, "photos/new") + "?stage=before&back=" + casePath(id, "results"),
		Quiet: true,
	}
}

// workView is a piece of work under way.
type workView struct {
	Work, Doing, Progress string
	Share                 float64
}

// layer and viewConfig are what the viewer reads; see ui/src/compare.ts.
type layer struct {
	Name   string `json:"name"`
	Words  string `json:"words"`
	Tiles  string `json:"tiles"`
	Width  int    `json:"width"`
	Height int    `json:"height"`
}

type viewShape struct {
	Key   string        `json:"key"`
	Label string        `json:"label"`
	Words string        `json:"words"`
	Sort  string        `json:"sort"`
	Rings []record.Ring `json:"rings"`
}

type viewConfig struct {
	Before layer       `json:"before"`
	After  *layer      `json:"after"`
	Maps   []layer     `json:"maps"`
	Shapes []viewShape `json:"shapes"`
	Read   string      `json:"read"`
}

// faceView gathers what is known of a face, and begins what is not: nothing is
// worked out here.
func (s *Server) faceView(r *http.Request, c *record.Case, p *facePair) *faceView {
	v := &faceView{facePair: p, Of: p.of(c), ByNumbers: &Form{Name: "by-numbers"}}
	v.Choose = &Form{Name: "choose"}
	v.Choose.Set("before", v.Of.Before.String())
	v.Choose.Set("after", v.Of.After.String())
	v.ChoicesBefore, v.ChoicesAfter = s.pictureChoices(p.AllBefore), s.pictureChoices(p.AllAfter)
	v.Read = casePath(c.ID, "area") + "?" + v.Of.query().Encode()
	var done *compared
	if p.After != nil {
		v.AfterWords = account.StageWords(c, p.After)
		if done = s.comparer.numbers(v.Of); done != nil {
			v.Compared = comparedWords(c, v.Of, done)
		} else {
			s.stand(v, c, v.Of.key(), "compare", func() { s.comparer.begin(c, v.Of) })
		}
	} else if _, ok := s.deriver.packOf(v.Of.Before, tilesPack); !ok {
		s.stand(v, c, tilesKey(v.Of.Before), "tiles", func() { s.deriver.startTiles(v.Of.Before) })
	}
	s.stainView(r, c, v)
	v.Keep = s.form(r, "compared", c.LastSeq, nil)
	for i := range c.Compared {
		if b := &c.Compared[i].Body; b.Before == v.Of.Before && b.After == v.Of.After &&
			b.Colour == colourSays(c, v.Of) {
			v.Kept = &c.Compared[i]
		}
	}
	fresh := done.unrecorded(c)
	v.Unrecorded, v.KeepAreas = len(fresh), s.form(r, "areas-compared", c.LastSeq, nil)
	v.Areas = areaRows(c, v.Of, fresh)
	if v.Work == nil && v.Halted == "" {
		v.configure(s, done)
	}
	return v
}

func (s *Server) pictureChoices(list []record.Stamped[record.Photo]) []record.Choice {
	var out []record.Choice
	for i := range list {
		b := &list[i].Body
		out = append(
			out,
			record.Choice{
				Value: b.Hash.String(),
				Words: upperFirst(
					record.WordsOf(record.Stages, b.Stage),
				) + ", " + list[i].Time.In(s.zone).
					Format("2 January 2006, 15:04") +
					after(
						", ",
						b.Caption,
					),
			},
		)
	}
	return out
}

// stand says how the work on a face's pictures stands, and begins it when
// nobody did.
func (s *Server) stand(v *faceView, c *record.Case, key, work string, begin func()) {
	x, halted := s.deriver.stands(key)
	switch {
	case x != nil:
	case halted == nil:
		begin()
	case errors.Is(halted, errStopped):
		v.Halted = "The work on these pictures was stopped."
		return
	default:
		v.Halted = "The pictures could not be worked on: " + sentenceOf(halted)
		return
	}
	v.Work = s.work(c, v.Of, key, work)
}

// work says how far a piece of work is, and where to ask again.
func (s *Server) work(c *record.Case, of facePictures, key, work string) *workView {
	q := of.query()
	q.Set("work", work)
	w := &workView{Work: work, Progress: casePath(c.ID, "comparison") + "?" + q.Encode()}
	if x, _ := s.deriver.stands(key); x != nil {
		w.Share, w.Doing = x.told()
	}
	return w
}

// stainView says what was found on the before picture.
func (s *Server) stainView(r *http.Request, c *record.Case, v *faceView) {
	key := stainsKey(v.Of.Before)
	x, halted := s.deriver.stands(key)
	switch {
	case x != nil:
		v.Stains = s.work(c, v.Of, key, "stains")
		return
	case errors.Is(halted, errStopped):
		v.StainsHalted = "The search was stopped."
	case halted != nil:
		v.StainsHalted = "Stains could not be looked for: " + sentenceOf(halted)
	}
	found := s.found(v.Of.Before)
	if found == nil {
		return
	}
	v.Found = &foundView{
		Share: fmt.Sprintf("%.1f", 100*found.StainedFraction),
		Notes: found.Notes,
		Form:  s.form(r, "found", c.LastSeq, nil),
	}
	kept := map[string]bool{}
	for i := range c.Areas {
		kept[writeOutline(c.Areas[i].Body.OutlinePx)] = true
	}
	for i := range found.Regions {
		x := &found.Regions[i]
		rings := ringsOf(x.Outline)
		if kept[writeOutline(rings)] {
			continue
		}
		if len(v.Found.Rows) == mostProposed {
			v.Found.More = len(found.Regions) - i
			break
		}
		row := foundRow{
			N:     i,
			Key:   "found-" + strconv.Itoa(i),
			Label: strconv.Itoa(i + 1),
			Look:  string(x.Kind),
			Why:   x.Why,
			Share: fmt.Sprintf("%.2f", 100*x.AreaPx/math.Max(1, found.FacePx)),
			Out:   fmt.Sprintf("%.1f", x.MeanDE00),
			rings: rings,
		}
		v.Found.Mould = v.Found.Mould || x.Kind == photo.Mould
		if back := v.Found.Form.Line("look-" + strconv.Itoa(i)); back != "" {
			row.Look = back
		}
		v.Found.Rows = append(v.Found.Rows, row)
	}
}

// foundView are the stains that were found and are not kept.
type foundView struct {
	Share string
	Notes []string
	Rows  []foundRow
	More  int
	Mould bool // one of them looks as mould does
	Form  *Form
}

type foundRow struct {
	N                                 int
	Key, Label, Look, Why, Share, Out string
	rings                             []record.Ring
}

// Number is the proposal's number as a form sends it.
func (x foundRow) Number() string { return strconv.Itoa(x.N) }

// areaRow is a kept area with its numbers as they were recorded.
type areaRow struct {
	record.Area
	Key, Label, Look     string
	Size, Change, Stands string
	Fresh                bool // the change is measured, not recorded
}

// areaRows are the areas that were outlined on a photograph, with their change as
// it was recorded, or else as it was just measured.
func areaRows(c *record.Case, of facePictures, fresh []record.AreaCompared) []areaRow {
	var rows []areaRow
	for i := range c.Areas {
		a := c.Areas[i]
		if a.Body.Photo != of.Before {
			continue
		}
		row := areaRow{
			Area:  a,
			Key:   a.Body.ID,
			Label: areaLabel(len(rows)),
			Look:  record.WordsOf(record.AreaLooks, a.Body.Look),
		}
		if a.Body.AreaMm2 != nil {
			row.Size = interval.Rounded(*a.Body.AreaMm2, 3) + " mm²"
		} else if a.Body.FacePercent != nil {
			row.Size = fig(*a.Body.FacePercent) + " % of the face"
		}
		var change *record.AreaCompared
		if i := slices.IndexFunc(fresh, func(x record.AreaCompared) bool { return x.Area == a.Body.ID }); i >= 0 {
			change, row.Fresh = &fresh[i], true
		} else if a.Compared != nil {
			change = &a.Compared.Body
		}
		if a.Body.StandsOutDE00 != nil {
			row.Stands = fmt.Sprintf("%.1f", *a.Body.StandsOutDE00)
		}
		if change != nil {
			row.Change = fmt.Sprintf("%.1f ± %.1f", change.DE00Trend, change.DE00Uncertainty)
			if change.StoodOutDE00 != nil && change.StandsOutDE00 != nil {
				row.Stands = fmt.Sprintf("%.1f → %.1f", *change.StoodOutDE00, *change.StandsOutDE00)
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// areaLabel counts A, B … Z, AA, AB …
func areaLabel(n int) string {
	s := ""
	for n++; n > 0; n = (n - 1) / 26 {
		s = string(rune('A'+(n-1)%26)) + s
	}
	return s
}

// configure writes what the viewer needs.
func (v *faceView) configure(s *Server, done *compared) {
	cfg := viewConfig{
		Before: s.pictureLayer(v.Of, beforeLayer, v.Of.Before, "Before"),
		Read:   v.Read,
		Maps:   []layer{},
		Shapes: []viewShape{},
	}
	switch {
	case done.registered():
		cfg.After = &layer{
			Name:   alignedLayer,
			Words:  upperFirst(string(v.After.Body.Stage)) + ", laid on it",
			Tiles:  v.Of.tiles(alignedLayer),
			Width:  cfg.Before.Width,
			Height: cfg.Before.Height,
		}
		for _, m := range done.Maps {
			cfg.Maps = append(
				cfg.Maps,
				layer{
					Name:   string(m.Kind),
					Words:  m.Legend.Title,
					Tiles:  v.Of.tiles(string(m.Kind)),
					Width:  m.W,
					Height: m.H,
				},
			)
		}
		for i, w := range done.Warnings {
			if len(w.Outline) > 2 {
				cfg.Shapes = append(
					cfg.Shapes,
					viewShape{
						Key:   "warning-" + strconv.Itoa(i),
						Label: "!",
						Words: string(w.Kind),
						Sort:  "warning",
						Rings: ringsOf([][]photo.Point{w.Outline}),
					},
				)
			}
		}
	case v.After != nil:
		after := s.pictureLayer(v.Of, afterLayer, v.Of.After, upperFirst(string(v.After.Body.Stage))+", not laid on it")
		cfg.After = &after
	}
	for _, a := range v.Areas {
		cfg.Shapes = append(
			cfg.Shapes,
			viewShape{Key: a.Key, Label: a.Label, Words: a.Look, Sort: "kept", Rings: a.Body.OutlinePx},
		)
	}
	if v.Found != nil {
		for _, x := range v.Found.Rows {
			cfg.Shapes = append(
				cfg.Shapes,
				viewShape{Key: x.Key, Label: x.Label, Words: x.Look, Sort: "proposed", Rings: x.rings},
			)
		}
	}
	raw, err := json.Marshal(cfg)
	if err != nil {
		s.log.Error("the viewer could not be told of its pictures", "error", err)
		return
	}
	v.Config = string(raw)
}

// pictureLayer is one of the two pictures, of the size that its tiles have: with
// its colour set, or as it was taken.
func (s *Server) pictureLayer(of facePictures, name string, h record.Hash, words string) layer {
	if of.Colour != "" {
		p, _ := s.deriver.packOf(of.Before, of.pack(name))
		return layer{Name: name, Words: words, Tiles: of.tiles(name), Width: p.W, Height: p.H}
	}
	p, _ := s.deriver.packOf(h, tilesPack)
	return layer{Name: name, Words: words, Tiles: "/photos/" + h.String() + "/tiles/", Width: p.W, Height: p.H}
}

// comparedView are the numbers of a comparison, in words.
type comparedView struct {
	Good     bool
	Say      string
	Notes    []string
	Answers  []Fact
	Paper    string
	Facts    []Fact
	Warnings []warningRow
	Legends  []legendView
}

type warningRow struct{ Key, Say, Size string }

// legendView is a map's scale as a drawing 256 wide.
type legendView struct {
	Name, Title, Source string
	Bars                []legendBar
	Ticks               []legendTick
	LowSays, HighSays   string
}

type legendBar struct {
	X    int
	Fill string
}

type legendTick struct {
	X     float64
	Words string
}

func comparedWords(c *record.Case, of facePictures, done *compared) *comparedView {
	a := done.Alignment
	v := &comparedView{Good: a.Verdict == photo.Aligned && done.Comparison.Compared, Say: a.Say, Notes: a.Notes}
	scale, _, noScale := scaleOn(c, of.Before, &a.Sheet)
	for i, w := range done.Warnings {
		row := warningRow{Say: w.Say}
		if len(w.Outline) > 2 {
			row.Key = "warning-" + strconv.Itoa(i)
			row.Size = fmt.Sprintf("%.0f px", w.AreaPx)
			if scale != nil {
				row.Size = "about " + interval.Rounded(w.AreaPx*scale.MMPerPx*scale.MMPerPx, 3) + " mm²"
			}
		}
		v.Warnings = append(v.Warnings, row)
	}
	if !v.Good {
		if a.Verdict == photo.Aligned {
			v.Say += " Hardly anything of the face can be compared all the same."
		}
		return v
	}
	if done.PaperBefore.Share > 0 {
		v.Answers = append(
			v.Answers,
			Fact{
				Name:  "Paper colour changed by",
				Value: fmt.Sprintf("%.1f", done.PaperDE00),
				Unit:  "ΔE00",
				Range: fmt.Sprintf("± %.1f", done.PaperDE00SD),
			},
		)
	}
	v.Answers = append(
		v.Answers,
		Fact{
			Name:  "Left between the pictures",
			Value: fmt.Sprintf("%.2f", a.ResidualMedianPx),
			Unit:  "px",
			Range: residualMm(a, scale),
		},
		Fact{
			Name:  "Compared",
			Value: fmt.Sprintf("%.0f", 100*done.ComparedShare),
			Unit:  "% of the sheet",
			Range: fmt.Sprintf("%.0f %% is in both pictures", 100*a.Overlap),
		},
	)
	v.Paper = done.PaperSay()
	v.Facts = []Fact{
		{
			Name:  "Colour difference",
			Value: fmt.Sprintf("%.1f", done.TrendRemoved.Median),
			Unit:  "ΔE00, median",
			Range: fmt.Sprintf("95 %% below %.1f", done.TrendRemoved.P95),
			Basis: fmt.Sprintf(
				"with the slow trend of the light taken out, and with it what the treatment did to all of the paper "+
					"alike; as photographed %.1f, 95 %% below %.1f",
				done.DE00.Median,
				done.DE00.P95,
			),
		},
		{
			Name:  "Paper before",
			Value: labWords(done.PaperBefore.Lab),
			Unit:  "L* a* b*",
			Basis: "the commonest colour of bare paper, under D50",
		},
		{Name: "Paper after", Value: labWords(done.PaperAfter.Lab), Unit: "L* a* b*"},
		{
			Name:  "Light",
			Value: lightWords(done.Light),
			Basis: "the slow part of the change: lamp, camera or paper, it cannot tell which",
		},
	}
	colour := Fact{Name: "Colour", Value: colourSays(c, of)}
	if of.Colour == "" {
		colour.Basis = "set the colour of both photographs by a chart or a grey card, and the change of the paper " +
			"can be trusted further"
	}
	v.Facts = append(v.Facts, colour)
	if done.PrintRatio > 0 {
		v.Facts = append(
			v.Facts,
			Fact{
				Name:  "Print",
				Value: fmt.Sprintf("%.0f %%", 100*done.PrintRatio),
				Unit:  "as dark against its paper as before",
			},
		)
	}
	if scale == nil {
		v.Facts = append(v.Facts, Fact{Name: "Scale", Value: "none", Basis: noScale})
	} else {
		v.Facts = append(v.Facts, Fact{Name: "Scale", Value: fmt.Sprintf("%.3f", scale.MMPerPx), Unit: "mm to a pixel", Range: fmt.Sprintf("± %.1f %%", 100*scale.Relative), Basis: "from " + scale.RestsOn})
	}
	for _, m := range done.Maps {
		v.Legends = append(v.Legends, legendOf(&m))
	}
	return v
}

func residualMm(a *photo.Alignment, scale *photo.Scale) string {
	if scale == nil {
		return "median; no scale, so not in mm"
	}
	return fmt.Sprintf("%.3f mm, median", a.ResidualMedianPx*scale.MMPerPx)
}

func lightWords(l photo.LightChange) string {
	way := func(v float64, above, below string) string {
		if v < 0 {
			return fmt.Sprintf("%.2f stops %s", -v, below)
		}
		return fmt.Sprintf("%.2f stops %s", v, above)
	}
	return way(
		l.Stops,
		"brighter",
		"darker",
	) + ", " + way(
		l.Warmer,
		"warmer",
		"cooler",
	) + fmt.Sprintf(
		", uneven by %.2f stops",
		l.Unevenness,
	)
}

func legendOf(m *changeMap) legendView {
	l := &m.Legend
	v := legendView{Name: string(m.Kind), Title: l.Title, Source: l.Source, LowSays: l.LowSays, HighSays: l.HighSays}
	const bars = 64
	for i := range bars {
		c := l.At(l.Low + (float64(i)+0.5)/bars*(l.High-l.Low))
		v.Bars = append(v.Bars, legendBar{X: i * 256 / bars, Fill: fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)})
	}
	for i, t := range l.Ticks {
		words := strings.ReplaceAll(l.Tick(t), "-", "−")
		if i == len(l.Ticks)-1 {
			words += " and more"
		}
		v.Ticks = append(v.Ticks, legendTick{X: (t - l.Low) / (l.High - l.Low) * 256, Words: words})
	}
	return v
}
