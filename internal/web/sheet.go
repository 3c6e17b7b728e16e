package web

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/treatment"
	"benchleaf/interval"
	"benchleaf/paper"
)

func (s *Server) routesSheet(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/sheets/{sheet}", s.doSheet(s.sheetWater))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/answer", s.doSheet(s.sheetAnswer))
	mux.Handle("POST /cases/{case}/sheets/{sheet}/plan", s.doSheet(s.sheetPlan))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/tray", s.doSheet(s.sheetTray))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/drying", s.doSheet(s.sheetDrying))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/ageing", s.doSheet(s.sheetAgeing))
}

// sheetHandler is a handler of a page of one sheet, which is one of the case's.
type sheetHandler func(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error

// doSheet finds the sheet that {sheet} names; the cover is 0.
func (s *Server) doSheet(h sheetHandler) http.Handler {
	return s.doCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		n, err := strconv.Atoi(r.PathValue("sheet"))
		if err != nil || !slices.Contains(c.Sheets(), n) {
			return store.ErrNotFound
		}
		return h(w, r, c, n)
	})
}

// sheetHead is what all pages of a sheet have.
type sheetHead struct {
	Page
	C     *record.Case
	Sheet int
	Name  string
	// Undescribed stands where the paper of the sheet is not described: without it
	// nothing can be reckoned.
	Undescribed *Empty
	Tabs        []sheetTab
	// Query is the bath that was tried, to go with the tabs; Carry are the same values
	// for the forms of the other tabs.
	Query  string
	Carry  []carriedValue
	Others []sheetLink
}

type sheetTab struct {
	Path, Name string
	Here       bool
}

type carriedValue struct{ Name, Value string }

type sheetLink struct {
	Path, Name string
	Here       bool
}

var sheetTabs = []struct{ slug, name string }{
	{"", "Bath"},
	{"tray", "Tray"},
	{"drying", "Drying and mending"},
	{"ageing", "Years"},
	{"measured", "Measured"},
}

// sheetPath is the place of a sheet, or of one of its tabs.
func sheetPath(id record.CaseID, sheet int, tab string) string {
	p := casePath(id, "sheets/"+strconv.Itoa(sheet))
	if tab != "" {
		p += "/" + tab
	}
	return p
}

func (s *Server) sheetHead(r *http.Request, c *record.Case, sheet int, tab string, f *Form) sheetHead {
	h := sheetHead{Page: s.casePage(r, c, "examination"), C: c, Sheet: sheet, Name: upperFirst(record.SheetName(sheet))}
	if c.StockOf(sheet) == nil {
		h.Undescribed = &Empty{
			Title: "The paper of this sheet is not described",
			Text:  "Its size, its class and its grammage are needed to reckon what water does to it.",
			Act:   "Describe the paper",
			Href:  casePath(c.ID, "examination#papers"),
		}
	}
	h.Title = h.Name
	q := url.Values{}
	for _, name := range trialFields {
		if v := f.Line(name); v != "" {
			q.Set(name, v)
			h.Carry = append(h.Carry, carriedValue{name, v})
		}
	}
	h.Query = q.Encode()
	for _, t := range sheetTabs {
		path := sheetPath(c.ID, sheet, t.slug)
		if t.slug != "measured" {
			path += "?" + h.Query
		}
		h.Tabs = append(h.Tabs, sheetTab{path, t.name, t.slug == tab})
	}
	for _, n := range c.Sheets() {
		name := strconv.Itoa(n)
		if n == 0 {
			name = "Cover"
		}
		path := sheetPath(c.ID, n, "")
		if tab != "" {
			path = sheetPath(c.ID, n, tab)
		}
		h.Others = append(h.Others, sheetLink{path + "?" + h.Query, name, n == sheet})
	}
	return h
}

// trialFields are the fields of a trial; they travel between the tabs.
var trialFields = []string{
	"kind",
	"strength_of",
	"strength",
	"volume_ml",
	"together",
	"minutes",
	"baths",
	"dried",
	"motion",
	"temp_c",
	"depth_mm",
	"afresh",
	"width_mm",
	"height_mm",
	"grammage_g_m2",
	"pick_up_g_g",
	"acid_mmol_kg",
}

// trialForm is the form of a trial from the address, and where it has nothing,
// from what was planned or done. from says which.
func (s *Server) trialForm(r *http.Request, c *record.Case, sheet int) (f *Form, from string) {
	q := r.URL.Query()
	if r.Method == http.MethodPost {
		q = r.PostForm
	}
	start, from := trialStart(c, sheet)
	if kind := treatment.WaterKindOf(q.Get("kind")); kind != nil && kind.Slug != start["kind"] {
		start["kind"], start["strength"] = kind.Slug, plainNumber(kind.Start)
		from = "The strength is where trying begins (" + kind.Basis + "), not one that the studio has adopted."
	}
	values := url.Values{}
	for k, v := range start {
		values.Set(k, v)
	}
	for k, v := range q {
		values[k] = v
	}
	// A tick that is not set is not in the address.
	if q.Has("kind") && !q.Has("dried") {
		values.Del("dried")
	}
	f = s.formOf(r, "water", values)
	f.Seq = c.LastSeq
	// A strength belongs to the kind that it was typed for.
	if kind := treatment.WaterKindOf(f.Line("kind")); kind != nil && f.Line("strength_of") != kind.Slug {
		if q.Has("strength") && q.Has("strength_of") {
			f.Set("strength", plainNumber(kind.Start))
		}
		f.Set("strength_of", kind.Slug)
	}
	return f, from
}

// trialStart is where trying begins: the plan, the last bath with a strength,
// or the middle of the usual.
func trialStart(c *record.Case, sheet int) (fills, string) {
	m := fills{"volume_ml": "1000", "together": "1", "minutes": "20", "baths": "1", "temp_c": "20"}
	if p := c.PlanOf(sheet, ""); p != nil {
		b := p.Body
		if kind, strength := kindOf(b.Operation, b.Substance, b.StrengthGL, b.CalciumMgL); kind != nil {
			m.text("kind", kind.Slug).
				plain("strength", strength).
				plain("volume_ml", b.VolumeMl).
				plain("minutes", b.Minutes)
			m["together"], m["baths"] = strconv.Itoa(b.Together), strconv.Itoa(b.Baths)
			m.number("temp_c", b.TempC)
			if b.DriedBetween {
				m["dried"] = "yes"
			}
			return m, "Begins with the bath chosen by " + p.By + " on " + p.Time.Format("2 January 2006") + "."
		}
	}
	for _, run := range slices.Backward(c.Runs) {
		b := run.Body.Bath
		if b == nil || c.StockOf(sheet) == nil ||
			len(run.Body.Sheets) > 0 && c.StockOf(run.Body.Sheets[0]) != c.StockOf(sheet) {
			continue
		}
		kind, strength := kindOf(run.Body.Operation, b.Substance, b.StrengthGL, b.CalciumMgL)
		if kind == nil || kind.Substance == "" {
			continue
		}
		m.text("kind", kind.Slug).
			plain("strength", strength).
			plain("volume_ml", b.VolumeMl).
			plain("minutes", run.Body.PlannedMin)
		m["together"] = strconv.Itoa(max(1, len(run.Body.Sheets)))
		return m, "Begins with the last such bath of this paper: " + run.Body.OperationName + ", " + run.Body.At.Format(
			"2 January 2006",
		) + "."
	}
	kind := treatment.WaterKindOf("lime")
	m["kind"], m["strength"] = kind.Slug, plainNumber(kind.Start)
	return m, "Begins where benches often begin (" + kind.Basis + "); the studio has not adopted it."
}

// kindOf is the kind of bath that the record describes, with its strength.
func kindOf(
	operation, substance string,
	gramsPerLitre *record.Range,
	calcium *float64,
) (*treatment.WaterKind, float64) {
	for i := range treatment.WaterKinds {
		k := &treatment.WaterKinds[i]
		switch {
		case k.Substance != "" && k.Substance == substance && gramsPerLitre != nil:
			return k, math3(gramsPerLitre.Best / k.GramsPerLitre(1))
		case k.Substance == "" && substance == "" && k.Operation == operation && (k.Unit != "") == (calcium != nil):
			if calcium != nil {
				return k, *calcium
			}
			return k, 0
		}
	}
	return nil, 0
}

// math3 keeps three significant figures, as one types a strength.
func math3(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// trialOf reads a trial from its form. Refusals are in the form.
func trialOf(f *Form) *treatment.Trial {
	t := &treatment.Trial{Kind: treatment.WaterKindOf(f.Line("kind"))}
	if t.Kind == nil {
		f.Refuse("kind", "%q is no kind of bath: choose one.", clip(f.Line("kind")))
		return nil
	}
	if t.Kind.Unit != "" {
		t.Strength = f.Number("strength", "the strength")
	}
	t.VolumeMl, t.Minutes = f.Number("volume_ml", "the volume"), f.Number("minutes", "the time")
	t.Together, t.Baths = f.Whole("together", "the number of sheets"), f.Whole("baths", "the number of baths")
	t.DriedBetween, t.Afresh = f.Tick("dried"), f.Tick("afresh")
	t.Motion = paper.Motion(f.Line("motion"))
	if t.Motion != "" && t.Motion != paper.Rocked && t.Motion != paper.Still {
		f.Refuse("motion", "A bath is rocked or still, not %q.", clip(f.Line("motion")))
	}
	t.TempC = 20
	if v := f.MaybeNumber("temp_c", "the temperature"); v != nil {
		t.TempC = *v
	}
	if v := f.MaybeNumber("depth_mm", "the depth"); v != nil {
		t.DepthMm = (*paper.Millimetres)(v)
	}
	t.WidthMm, t.HeightMm = f.MaybeNumber("width_mm", "the width"), f.MaybeNumber("height_mm", "the height")
	t.GrammageGM2, t.PickUpGG, t.AcidMmolKg = f.MaybeNumber(
		"grammage_g_m2",
		"the grammage",
	), f.MaybeNumber(
		"pick_up_g_g",
		"the pick-up",
	), f.MaybeNumber(
		"acid_mmol_kg",
		"the acid demand",
	)
	return t
}

// tried is a trial on a sheet, checked: what package paper is asked.
type tried struct {
	*treatment.Trial
	sheet paper.Sheet
	// rate is the drying rate over the computed one, where it was adopted.
	rate  *interval.Range
	had   []paper.Bath
	dried bool
}

// tryBath reads and checks a trial. It is nil when something was refused, which is
// then in the form, or when the paper is not described.
func tryBath(f *Form, c *record.Case, sheet int) *tried {
	s, ok := treatment.TakenSheetOf(c, sheet)
	if !ok {
		return nil
	}
	t := trialOf(f)
	if t == nil || len(f.Refused) > 0 {
		return nil
	}
	x := &tried{Trial: t, sheet: t.Sheet(s.Sheet), rate: s.RateFactor}
	if f.take(t.Check(x.sheet)); len(f.Refused) > 0 {
		return nil
	}
	if !t.Afresh {
		x.had, x.dried = treatment.Had(c, sheet)
		for i := range x.had {
			x.had[i].Name = "earlier bath " + strconv.Itoa(i+1)
		}
	}
	return x
}

func (x *tried) baths(n int) []paper.Bath { return x.After(x.had, x.dried, n) }

// sheetPage is what water will do to a sheet.
type sheetPage struct {
	sheetHead
	Form   *Form
	From   string
	Facts  []sheetFact
	Kinds  []kindChip
	Slides []slide
	Motion []record.Choice
	HadN   int
	Answer *waterAnswer
	Reach  *reachPart
	Plan   *planPart
}

var sheetView = declare[sheetPage]("sheet")

func (s *Server) sheetWater(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	f, from := s.trialForm(r, c, sheet)
	p := sheetPage{Form: f, From: from, Motion: motions, Facts: sheetFacts(c, sheet, f)}
	had, _ := treatment.Had(c, sheet)
	p.HadN = len(had)
	if x := tryBath(f, c, sheet); x != nil {
		a, err := reckonFor(r.Context(), f, x, false)
		if err != nil {
			return err
		}
		if a != nil {
			a.Lignin = treatment.Lignin(c, sheet)
			p.Answer, p.Reach, p.Plan = a, reachOf(f, x), s.planPart(r, c, sheet, x)
		}
	}
	if p.Reach == nil {
		p.Reach = &reachPart{Form: f}
	}
	p.Kinds, p.Slides = kindChips(f), slidesOf(f, c)
	p.sheetHead = s.sheetHead(r, c, sheet, "", f)
	return sheetView.show(s, w, r, p)
}

// sheetAnswer answers while a value is dragged: the figures and plots as
// HTML, and what was refused at which field. quick asks for fewer samples.
func (s *Server) sheetAnswer(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	f, _ := s.trialForm(r, c, sheet)
	out := struct {
		Now     string      `json:"now,omitempty"`
		Answer  string      `json:"answer,omitempty"`
		Says    string      `json:"says,omitempty"`
		Refused []fieldSays `json:"refused"`
	}{Refused: []fieldSays{}}
	if x := tryBath(f, c, sheet); x != nil {
		a, err := reckonFor(r.Context(), f, x, f.Tick("quick"))
		if err != nil {
			return err
		}
		if a != nil {
			a.Lignin, out.Says = treatment.Lignin(c, sheet), a.Says
			if out.Now, err = s.fragment("sheet-now", a); err != nil {
				return err
			}
			if out.Answer, err = s.fragment("sheet-answer", a); err != nil {
				return err
			}
		}
	}
	for _, x := range f.Refused {
		out.Refused = append(out.Refused, fieldSays{x.Field, x.Say})
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	return json.NewEncoder(w).Encode(out)
}

type fieldSays struct {
	Field string `json:"field"`
	Say   string `json:"say"`
}

// fragment is a part of the sheet's page.
func (s *Server) fragment(name string, data any) (string, error) {
	var b bytes.Buffer
	err := s.templates.pages[sheetView.name].ExecuteTemplate(&b, name, data)
	return b.String(), err
}

var motions = []record.Choice{
	{Value: "", Words: "not said"},
	{Value: "rocked", Words: "rocked"},
	{Value: "still", Words: "still"},
}
