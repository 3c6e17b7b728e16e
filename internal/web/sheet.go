package web

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

func (s *Server) routesSheet(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/sheets/{sheet}", s.doSheet(s.sheetWater))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/answer", s.doSheet(s.sheetAnswer))
	mux.Handle("POST /cases/{case}/sheets/{sheet}/plan", s.doSheet(s.sheetPlan))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/tray", s.doSheet(s.sheetTray))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/washing", s.doSheet(s.sheetWashing))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/humidity", s.doSheet(s.sheetHumidity))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/drying", s.doSheet(s.sheetDrying))
	mux.Handle("GET /cases/{case}/sheets/{sheet}/ageing", s.doSheet(s.sheetAgeing))
}

// sheetHandler is a handler of a page of one sheet, which is one of the case's.
type sheetHandler func(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error

// doSheet finds the sheet that {sheet} names; the cover is 0.
func (s *Server) doSheet(h sheetHandler) http.Handler {
	return s.doCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		n, err := sheetIn(r, c)
		if err != nil {
			return err
		}
		return h(w, r, c, n)
	})
}

// sheetIn is the sheet that {sheet} names.
func sheetIn(r *http.Request, c *record.Case) (int, error) {
	for _, n := range c.Sheets() {
		if strconv.Itoa(n) == r.PathValue("sheet") {
			return n, nil
		}
	}
	return 0, store.ErrNotFound
}

// sheetHead is what all pages of a sheet have.
type sheetHead struct {
	Page
	C     *record.Case
	Sheet int
	Name  string
	// Undescribed stands where the paper of the sheet is not described: without it
	// nothing can be calculated.
	Undescribed *Empty
	Tabs        []sheetTab
	// Query is the bath that was tried, to go with the tabs; Carry are the same values
	// for the forms of the other tabs.
	Query  string
	Carry  []mixField
	Others []sheetTab
}

type sheetTab struct {
	Path, Name string
	Here       bool
}

var sheetTabs = []struct{ slug, name string }{
	{"", "Bath"},
	{"tray", "Tray"},
	{"washing", "Washing"},
	{"humidity", "Humidity"},
	{"drying", "Drying and mending"},
	{"ageing", "Ageing"},
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
	h := sheetHead{Page: s.casePage(r, c, "examination"), C: c, Sheet: sheet}
	h.Name = words.English.Upper(record.SheetName(sheet))
	h.Title = h.Name
	if c.StockOf(sheet) == nil {
		h.Undescribed = &Empty{
			Title: "The paper of this sheet is not described",
			Text:  "Its size, its class and its grammage are needed to calculate what water does to it.",
			Act:   "Describe the paper",
			Href:  casePath(c.ID, "examination#papers"),
		}
	}
	q := url.Values{}
	for _, name := range trialFields {
		if v := f.Line(name); v != "" {
			q.Set(name, v)
			h.Carry = append(h.Carry, mixField{name, v})
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
		h.Others = append(h.Others, sheetTab{sheetPath(c.ID, n, tab) + "?" + h.Query, name, n == sheet})
	}
	return h
}

// trialFields are the fields of a trial; they travel between the tabs.
var trialFields = func() []string {
	list := []string{"strength_of"}
	for _, x := range account.Fields(&account.TrialQuestion{}) {
		list = append(list, x.Name)
	}
	return list
}()

// trialForm is the form of a trial from the address, and where it has nothing,
// from what was planned or done. from says which.
func (s *Server) trialForm(r *http.Request, c *record.Case, sheet int) (f *Form, from string) {
	q := r.URL.Query()
	if r.Method == http.MethodPost {
		q = r.PostForm
	}
	start, from := account.TrialStart(c, sheet)
	if kind := treatment.WaterKindOf(q.Get("kind")); kind != nil && kind.Slug != start.Kind {
		start.Kind, start.Strength = kind.Slug, &kind.Start
		from = "The strength is where trying begins (" + kind.Basis + "), not one that the studio has adopted."
	}
	values := url.Values{}
	for k, v := range filled(&start) {
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

// tabForm is trialForm with the fields of a tab's own question, which is read from
// it. fill are starts that the case gives.
func (s *Server) tabForm(r *http.Request, c *record.Case, sheet int, question any, fill fills) *Form {
	f, _ := s.trialForm(r, c, sheet)
	for _, m := range []fills{starts(question), fill} {
		for name, v := range m {
			if !r.URL.Query().Has(name) {
				f.Set(name, v)
			}
		}
	}
	ask(f, question)
	return f
}

// tryBath reads and checks a trial. It is nil when something was refused, which is
// then in the form, or when the paper is not described.
func tryBath(f *Form, c *record.Case, sheet int) (*account.Trial, account.TrialQuestion) {
	var q account.TrialQuestion
	if c.StockOf(sheet) == nil {
		return nil, q
	}
	if ask(f, &q); len(f.Refused) > 0 && treatment.WaterKindOf(q.Kind) != nil {
		return nil, q
	}
	x, refused := account.Try(c, sheet, q)
	if f.take(refused); len(f.Refused) > 0 {
		return nil, q
	}
	return x, q
}

// sheetPage is what water will do to a sheet.
type sheetPage struct {
	sheetHead
	Form   *Form
	From   string
	Known  []account.Known
	Kinds  []kindChip
	Slides []slide
	Motion []record.Choice
	HadN   int
	Answer *waterAnswer
	Reach  *reachPart
	Plan   *planPart
}

// waterAnswer is what a tried bath will do, with its plots drawn.
type waterAnswer struct {
	*account.Water
	Plots []plot
}

var sheetView = declare[sheetPage]("sheet")

var motions = []record.Choice{
	{Value: "", Words: "not said"},
	{Value: "rocked", Words: "rocked"},
	{Value: "still", Words: "still"},
}

func (s *Server) sheetWater(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	f, from := s.trialForm(r, c, sheet)
	p := sheetPage{Form: f, From: from, Motion: motions, HadN: account.BathsHad(c, sheet), Reach: &reachPart{Form: f}}
	x, q := tryBath(f, c, sheet)
	p.Known = account.KnownOf(c, sheet, q)
	a, err := waterFor(r, f, x, false)
	if err != nil {
		return err
	}
	if a != nil {
		p.Answer, p.Plan = a, s.planPart(r, c, sheet, x)
		if err := p.Reach.answer(r.Context(), f, x); err != nil {
			return err
		}
	}
	p.Kinds, p.Slides = kindChips(f), slidesOf(f, c)
	p.sheetHead = s.sheetHead(r, c, sheet, "", f)
	return sheetView.show(s, w, r, p)
}

// waterFor is the answer of a trial; what cannot be calculated is refused in the
// form, and the answer is then nil. The error is that nobody waits any more.
func waterFor(r *http.Request, f *Form, x *account.Trial, quick bool) (*waterAnswer, error) {
	if x == nil {
		return nil, nil
	}
	a, err := x.Water(r.Context(), quick)
	switch {
	case r.Context().Err() != nil:
		return nil, err
	case err != nil:
		f.fails("", err)
		return nil, nil
	}
	return &waterAnswer{a, plotsOf(a.Curves)}, nil
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
	x, _ := tryBath(f, c, sheet)
	a, err := waterFor(r, f, x, f.Tick("quick"))
	if err != nil {
		return err
	}
	if a != nil {
		out.Says = a.Says
		if out.Now, err = s.fragment("sheet-now", a); err != nil {
			return err
		}
		if out.Answer, err = s.fragment("sheet-answer", a); err != nil {
			return err
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

// kindChip is a kind of bath to choose; its strengths go with it, so that the
// page can change to it without asking.
type kindChip struct {
	treatment.WaterKind
	On bool
}

func kindChips(f *Form) []kindChip {
	var list []kindChip
	for _, k := range treatment.WaterKinds {
		list = append(list, kindChip{k, f.Line("kind") == k.Slug})
	}
	return list
}

// slide is a number with a slider beside it.
type slide struct {
	*field
	Min, Max, Step string
	Hidden         bool // pure water has no strength
}

// slidesOf are the values that one drags.
func slidesOf(f *Form, c *record.Case) []slide {
	k := treatment.WaterKindOf(f.Line("kind"))
	if k == nil {
		k = &treatment.WaterKinds[0]
	}
	drag := func(name, label, unit, mode string, from, to, step float64) slide {
		return slide{Min: plainNumber(from), Max: plainNumber(to), Step: plainNumber(step), field: &field{
			Shape: "slide", ID: f.FieldID(name), Name: name, Label: label, Unit: unit, Mode: mode,
			Value: f.Value(name), Refusals: f.RefusalsAt(name),
		}}
	}
	strength := drag("strength", "Strength", k.Unit, "decimal", k.From, k.To, k.Step)
	strength.Hidden = k.Unit == ""
	return []slide{
		strength,
		drag("minutes", "Time", "min", "decimal", 1, 60, 1),
		drag("volume_ml", "Volume", "mL", "decimal", 100, 4000, 50),
		drag("together", "Sheets at once", "", "numeric", 1, float64(max(10, len(c.Sheets()))), 1),
		drag("baths", "Baths in a row", "", "numeric", 1, 6, 1),
	}
}

// planPart is where a tried bath becomes the chosen one.
type planPart struct {
	Form   *Form
	Sheets []int
	Chosen *standingPlan
}

// standingPlan is the bath that was chosen for a sheet.
type standingPlan struct {
	Words, Expect, Reason, By string
	Plan                      record.Stamped[record.BathPlan]
	Number, Of                int
	Start                     string // the address that starts it, "" when all are done
}

func (s *Server) planPart(r *http.Request, c *record.Case, sheet int, x *account.Trial) *planPart {
	p := &planPart{
		Form:   s.form(r, "plan", c.LastSeq, nil).setSheets("sheets", []int{sheet}),
		Sheets: treatment.LikeSheets(c, sheet),
	}
	if plan := c.PlanOf(sheet, x.Kind.Operation); plan != nil {
		p.Chosen = standing(c, sheet, plan)
	}
	return p
}

func standing(c *record.Case, sheet int, plan *record.Stamped[record.BathPlan]) *standingPlan {
	b := &plan.Body
	out := &standingPlan{
		Words: words.English.Upper(treatment.PlanWords(b)), Expect: account.ExpectWords(b), Reason: b.Reason,
		By: plan.By, Plan: *plan,
	}
	if _, n, ok := treatment.PlannedBath(c, b.Operation, []int{sheet}); ok {
		out.Number, out.Of = n, b.Baths
		q := url.Values{"operation": {b.Operation}, "sheets": {strconv.Itoa(sheet)}}
		out.Start = casePath(c.ID, "runs/new?"+q.Encode())
	}
	return out
}

// sheetPlan records the bath that was chosen, with what is expected of it.
func (s *Server) sheetPlan(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	f, err := s.sent(w, r, "plan")
	if err != nil {
		return err
	}
	page := s.inCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		return s.sheetWater(w, r, c, sheet)
	})
	asked, _ := s.trialForm(r, c, sheet)
	x, q := tryBath(asked, c, sheet)
	a, err := waterFor(r, asked, x, false)
	if err != nil {
		return err
	}
	if a == nil {
		if len(asked.Refused) == 0 {
			name := record.SheetName(sheet)
			asked.Refuse("", "The paper of %s is not described: nothing can be calculated or chosen.", name)
		}
		f.take(asked.Refused)
		return again(w, r, f, errRefused, page)
	}
	plan := x.Plan(a.Water, f.Sheets("sheets"), f.Text("reason"), account.KnownOf(c, sheet, q))
	said := "Chosen for " + record.SheetNames(plan.Sheets) + ": " + treatment.PlanWords(&plan) + "."
	return s.save(w, r, f, Saving{Case: c.ID, Items: items(plan), To: sheetPath(c.ID, sheet, ""), Said: said}, page)
}

// reachPart asks the other way round: what reaches a target.
type reachPart struct {
	Form            *Form
	Targets, Levers []record.Choice
	Answer          *account.Reach
	Try             string // the address with the answer in it
}

// answer answers the target that the form names; without one it only shows the
// question. Refusals are in the form; the error is that nobody waits any more.
func (p *reachPart) answer(ctx context.Context, f *Form, x *account.Trial) error {
	var q account.ReachQuestion
	for name, v := range starts(&q) {
		if f.Line(name) == "" {
			f.Set(name, v)
		}
	}
	p.Targets, p.Levers = account.ReachTargets, account.ReachLevers
	n := len(f.Refused)
	if ask(f, &q); len(f.Refused) > n {
		return nil
	}
	a, refused, err := account.AnswerOf(ctx, x, q, x.Reach)
	if err != nil {
		return err
	}
	if f.take(refused); a == nil {
		return nil
	}
	p.Answer = a
	if a.Try == nil {
		return nil
	}
	to := url.Values{}
	for _, name := range trialFields {
		if s := f.Line(name); s != "" {
			to.Set(name, s)
		}
	}
	for name, v := range a.Try {
		if to.Set(name, v); v == "" {
			to.Del(name)
		}
	}
	p.Try = "?" + to.Encode()
	return nil
}

// hasBath says whether a sheet has been in a bath.
func hasBath(c *record.Case, sheet int) bool {
	return slices.ContainsFunc(c.RunsOn(sheet), func(r *record.Run) bool { return r.Body.Bath != nil })
}
