package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// facePair is a face of a sheet with its pictures in normal light.
type facePair struct {
	account.PhotoPair
	Name, Href string
	On         bool
}

func (p *facePair) of(c *record.Case) pictures.Pair {
	if p.After == nil {
		return pictures.PairOf(c, p.Before.Body.Hash, record.Hash{})
	}
	return pictures.PairOf(c, p.Before.Body.Hash, p.After.Body.Hash)
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
		named := func(hash string) func(record.Stamped[record.Photo]) bool {
			return func(x record.Stamped[record.Photo]) bool { return x.Body.Hash.String() == hash }
		}
		b := slices.IndexFunc(p.AllBefore, named(before))
		if b < 0 {
			continue
		}
		p.Before = &p.AllBefore[b]
		if a := slices.IndexFunc(p.AllAfter, named(after)); a >= 0 {
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
func facePath(c *record.Case, of pictures.Pair) string {
	return casePath(c.ID, "results") + "?" + pairQuery(of).Encode()
}

// faceView is one face on the page: its pictures, what was compared, its areas.
type faceView struct {
	*facePair
	Of         pictures.Pair
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
	Of                                pictures.Pair
}

func workForm(p faceOnPage, act, work, words, class string) workButton {
	return workButton{
		To:    p.Page.Case.Path("comparison"),
		Act:   act,
		Work:  work,
		Words: words,
		Class: class,
		Back:  p.Page.Case.Path("results") + "?" + pairQuery(p.F.Of).Encode(),
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
	v.ChoicesBefore, v.ChoicesAfter = s.pictureChoices(c, p.AllBefore), s.pictureChoices(c, p.AllAfter)
	v.Read = casePath(c.ID, "area") + "?" + pairQuery(v.Of).Encode()
	var done *pictures.Numbers
	if p.After != nil {
		v.AfterWords = account.StageWords(c, p.After)
		if done = s.pictures.Numbers(v.Of); done != nil {
			v.Compared = comparedWords(c, v.Of, done)
		} else {
			s.stand(v, c, "compare")
		}
	} else if !s.pictures.HasTiles(v.Of.Before) {
		s.stand(v, c, "tiles")
	}
	s.stainView(r, c, v)
	v.Keep = s.form(r, "compared", c.LastSeq, nil)
	says := v.Of.ColourSays(c)
	for i := range c.Compared {
		if b := &c.Compared[i].Body; b.Before == v.Of.Before && b.After == v.Of.After && b.Colour == says {
			v.Kept = &c.Compared[i]
		}
	}
	fresh := done.Unrecorded(c)
	v.Unrecorded, v.KeepAreas = len(fresh), s.form(r, "areas-compared", c.LastSeq, nil)
	v.Areas = areaRows(c, v.Of, fresh)
	if v.Work == nil && v.Halted == "" {
		v.configure(s, done)
	}
	return v
}

func (s *Server) pictureChoices(c *record.Case, list []record.Stamped[record.Photo]) []record.Choice {
	k := words.Clock{Language: words.English, Zone: s.zone}
	var out []record.Choice
	for _, x := range list {
		stage := upperFirst(account.StageWords(c, &x))
		says := words.Joined(", ", stage, k.Moment(x.Time), x.Body.Caption)
		out = append(out, record.Choice{Value: x.Body.Hash.String(), Words: says})
	}
	return out
}

// stand says how the work on a face's pictures is, and begins it when nobody did.
func (s *Server) stand(v *faceView, c *record.Case, work string) {
	x, halted := s.pictures.State(v.Of.Job())
	switch {
	case x != nil:
	case halted == nil:
		s.pictures.BeginCompare(c, v.Of)
	case errors.Is(halted, pictures.ErrStopped):
		v.Halted = "The work on these pictures was stopped."
		return
	default:
		v.Halted = "The pictures could not be worked on: " + sentenceOf(halted)
		return
	}
	v.Work = s.work(c, v.Of, v.Of.Job(), work)
}

// work says how far a piece of work is, and where to ask again.
func (s *Server) work(c *record.Case, of pictures.Pair, job pictures.Job, work string) *workView {
	q := pairQuery(of)
	q.Set("work", work)
	w := &workView{Work: work, Progress: casePath(c.ID, "comparison") + "?" + q.Encode()}
	if x, _ := s.pictures.State(job); x != nil {
		w.Share, w.Doing = x.Progress()
	}
	return w
}

// stainView says what was found on the before picture.
func (s *Server) stainView(r *http.Request, c *record.Case, v *faceView) {
	job := pictures.StainsJob(v.Of.Before)
	x, halted := s.pictures.State(job)
	switch {
	case x != nil:
		v.Stains = s.work(c, v.Of, job, "stains")
		return
	case errors.Is(halted, pictures.ErrStopped):
		v.StainsHalted = "The search was stopped."
	case halted != nil:
		v.StainsHalted = "Stains could not be looked for: " + sentenceOf(halted)
	}
	stains := s.pictures.Stains(v.Of.Before)
	if stains == nil {
		return
	}
	v.Found = &foundView{
		Share: fmt.Sprintf("%.1f", 100*stains.Share),
		Notes: stains.Notes,
		Form:  s.form(r, "found", c.LastSeq, nil),
	}
	kept := map[string]bool{}
	for i := range c.Areas {
		kept[writeOutline(c.Areas[i].Body.OutlinePx)] = true
	}
	for i, x := range stains.Found {
		if kept[writeOutline(x.Outline)] {
			continue
		}
		if len(v.Found.Rows) == mostProposed {
			v.Found.More = len(stains.Found) - i
			break
		}
		row := foundRow{
			N: i, Key: "found-" + strconv.Itoa(i), Label: strconv.Itoa(i + 1), Look: x.Look, Why: x.Why,
			Share: fmt.Sprintf("%.2f", 100*x.Share), Out: fmt.Sprintf("%.1f", x.DE00), rings: x.Outline,
		}
		v.Found.Mould = v.Found.Mould || x.Mould()
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
func areaRows(c *record.Case, of pictures.Pair, fresh []record.AreaCompared) []areaRow {
	var rows []areaRow
	for _, a := range c.Areas {
		b := &a.Body
		if b.Photo != of.Before {
			continue
		}
		row := areaRow{
			Area: a, Key: b.ID, Label: areaLabel(len(rows)), Look: record.WordsOf(record.AreaLooks, b.Look),
		}
		x := account.AreaNumbers(&a)
		if i := slices.IndexFunc(fresh, func(x record.AreaCompared) bool { return x.Area == b.ID }); i >= 0 {
			x.Compare(&fresh[i])
			row.Fresh = true
		}
		row.Size, row.Stands, row.Change = x.Size, x.Around, x.Change
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
func (v *faceView) configure(s *Server, done *pictures.Numbers) {
	cfg := viewConfig{
		Before: s.pictureLayer(v.Of, pictures.LayerBefore, v.Of.Before, "Before"),
		Read:   v.Read,
		Maps:   []layer{},
		Shapes: []viewShape{},
	}
	switch {
	case done.Laid():
		const name = pictures.LayerAligned
		says := upperFirst(v.AfterWords) + ", laid on it"
		cfg.After = &layer{name, says, layerTiles(v.Of, name), cfg.Before.Width, cfg.Before.Height}
		for _, m := range done.Maps {
			cfg.Maps = append(cfg.Maps, layer{m.Name, m.Legend.Title, layerTiles(v.Of, m.Name), m.W, m.H})
		}
		for i, w := range done.Warnings {
			if w.Outline != nil {
				cfg.Shapes = append(cfg.Shapes, viewShape{warningKey(i), "!", w.Kind, "warning", w.Outline})
			}
		}
	case v.After != nil:
		says := upperFirst(v.AfterWords) + ", not laid on it"
		after := s.pictureLayer(v.Of, pictures.LayerAfter, v.Of.After, says)
		cfg.After = &after
	}
	for _, a := range v.Areas {
		cfg.Shapes = append(cfg.Shapes, viewShape{a.Key, a.Label, a.Look, "kept", a.Body.OutlinePx})
	}
	if v.Found != nil {
		for _, x := range v.Found.Rows {
			cfg.Shapes = append(cfg.Shapes, viewShape{x.Key, x.Label, x.Look, "proposed", x.rings})
		}
	}
	raw, err := json.Marshal(cfg)
	if err != nil {
		s.log.Error("the viewer could not be told of its pictures", "error", err)
		return
	}
	v.Config = string(raw)
}

func warningKey(i int) string { return "warning-" + strconv.Itoa(i) }

// pictureLayer is one of the two pictures, of the size that its tiles have: with
// its colour set, or as it was taken.
func (s *Server) pictureLayer(of pictures.Pair, name string, h record.Hash, says string) layer {
	w, high, taken := s.pictures.LayerSize(of, name)
	tiles := layerTiles(of, name)
	if taken {
		tiles = "/photos/" + h.String() + "/tiles/"
	}
	return layer{name, says, tiles, w, high}
}

// comparedView are the numbers of a comparison, in words.
type comparedView struct {
	Good     bool
	Say      string
	Notes    []string
	Answers  []account.Fact
	Paper    string
	Facts    []account.Fact
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

func comparedWords(c *record.Case, of pictures.Pair, done *pictures.Numbers) *comparedView {
	v := &comparedView{Good: done.Laid(), Say: done.Verdicts(), Notes: done.Notes}
	scale, _ := done.Scale(c, of)
	for i, w := range done.Warnings {
		row := warningRow{Say: w.Say, Size: w.Size(scale)}
		if w.Outline != nil {
			row.Key = warningKey(i)
		}
		v.Warnings = append(v.Warnings, row)
	}
	if !v.Good {
		return v
	}
	v.Answers, v.Paper, v.Facts = done.Answers(c, of), done.PaperSay, done.Facts(c, of)
	for _, m := range done.Maps {
		v.Legends = append(v.Legends, legendOf(&m))
	}
	return v
}

// legendWide is the width of a legend's drawing, and legendBars of how many bars.
const (
	legendWide = 256
	legendBars = 64
)

func legendOf(m *pictures.Map) legendView {
	l := &m.Legend
	v := legendView{Name: m.Name, Title: l.Title, Source: l.Source, LowSays: l.LowSays, HighSays: l.HighSays}
	for i := range legendBars {
		v.Bars = append(v.Bars, legendBar{i * legendWide / legendBars, l.Bar(i, legendBars)})
	}
	for i := range l.Ticks {
		at, says := l.Tick(i)
		v.Ticks = append(v.Ticks, legendTick{at * legendWide, says})
	}
	return v
}
