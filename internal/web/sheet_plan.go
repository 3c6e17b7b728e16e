package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/interval"
	"benchleaf/paper"
)

// planPart is where a tried bath becomes the chosen one.
type planPart struct {
	Form     *Form
	Sheets   []int
	Standing *standingPlan
}

// standingPlan is the bath that was chosen for a sheet.
type standingPlan struct {
	Words, Expect, Reason, By string
	Plan                      record.Stamped[record.BathPlan]
	Number, Of                int
	Start                     string // the address that starts it, "" when all are done
}

func (s *Server) planPart(r *http.Request, c *record.Case, sheet int, x *tried) *planPart {
	p := &planPart{
		Form:   s.form(r, "plan", c.LastSeq, nil).setSheets("sheets", []int{sheet}),
		Sheets: treatment.LikeSheets(c, sheet),
	}
	if plan := c.PlanOf(sheet, x.Kind.Operation); plan != nil {
		p.Standing = standing(c, sheet, plan)
	}
	return p
}

func standing(c *record.Case, sheet int, plan *record.Stamped[record.BathPlan]) *standingPlan {
	b := &plan.Body
	out := &standingPlan{
		Words:  upperFirst(treatment.PlanWords(b)),
		Expect: expectWords(b),
		Reason: b.Reason,
		By:     plan.By,
		Plan:   *plan,
	}
	if _, n, ok := treatment.PlannedBath(c, b.Operation, []int{sheet}); ok {
		out.Number, out.Of = n, b.Baths
		q := url.Values{"operation": {b.Operation}, "sheets": {strconv.Itoa(sheet)}}
		out.Start = casePath(c.ID, "runs/new?"+q.Encode())
	}
	return out
}

// expectWords say what is expected of a chosen bath, with its ranges.
func expectWords(b *record.BathPlan) string {
	var parts []string
	if r := b.ReservePct; r != nil {
		parts = append(parts, "reserve "+rangeText(*r, "% CaCO₃"))
	}
	if r := b.AcidLeftMmolKg; r != nil {
		parts = append(parts, "acid left "+rangeText(*r, "mmol/kg"))
	}
	if r := b.ExtractPH; r != nil {
		parts = append(parts, fmt.Sprintf("pH of the dry sheet %.1f to %.1f", r.Low, r.High))
	}
	return strings.Join(parts, "; ")
}

// sheetPlan records the bath that was chosen, with what is expected of it.
func (s *Server) sheetPlan(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	f, err := s.sent(w, r, "plan")
	if err != nil {
		return err
	}
	page := s.inSheet(s.sheetWater, sheet)
	asked, _ := s.trialForm(r, c, sheet)
	x := tryBath(asked, c, sheet)
	if x == nil {
		if len(asked.Refused) == 0 {
			asked.Refuse(
				"",
				"The paper of %s is not described: nothing can be reckoned or chosen.",
				record.SheetName(sheet),
			)
		}
		f.take(asked.Refused)
		return again(w, r, f, errRefused, page)
	}
	a, err := reckonFor(r.Context(), asked, x, false)
	if err != nil {
		return err
	}
	if a == nil {
		f.take(asked.Refused)
		return again(w, r, f, errRefused, page)
	}
	plan := planOf(x, a, f.Sheets("sheets"), f.Text("reason"), sheetFacts(c, sheet, asked))
	said := "Chosen for " + record.SheetNames(plan.Sheets) + ": " + treatment.PlanWords(&plan) + "."
	return s.save(w, r, f, Saving{Case: c.ID, Items: items(plan), To: sheetPath(c.ID, sheet, ""), Said: said}, page)
}

// inSheet is a handler of a page of a sheet, for a form that comes back refused.
func (s *Server) inSheet(h sheetHandler, sheet int) handler {
	return s.inCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error { return h(w, r, c, sheet) })
}

func planOf(x *tried, a *waterAnswer, sheets []int, reason string, facts []sheetFact) record.BathPlan {
	rec := func(r interval.Result) *record.Range { v := r.Range; return &v }
	b := record.BathPlan{
		Sheets:       sheets,
		Operation:    x.Kind.Operation,
		Liquid:       x.Kind.Words(x.Strength),
		Substance:    x.Kind.Substance,
		VolumeMl:     x.VolumeMl,
		Together:     x.Together,
		Minutes:      x.Minutes,
		Baths:        x.Baths,
		DriedBetween: x.DriedBetween && x.Baths > 1,
		TempC:        &x.TempC,
		ReservePct: rec(
			a.out.ReservePercentChalk,
		),
		AcidLeftMmolKg: rec(a.out.AcidLeftMmolPerKg),
		ExtractPH:      rec(a.out.ExtractPH),
		Reason:         reason,
	}
	switch {
	case x.Kind.Substance != "":
		g := record.Range(interval.Within(x.Kind.GramsPerLitre(x.Strength), 0.05*x.Kind.GramsPerLitre(x.Strength)))
		b.StrengthGL = &g
	case x.Kind.Unit != "":
		b.CalciumMgL = &x.Strength
	}
	named := map[string][]string{}
	for _, y := range facts {
		named[y.How] = append(named[y.How], strings.ToLower(y.Name))
	}
	var rests []string
	for _, y := range []struct{ how, words string }{{"measured", "measured: "}, {"adopted", "adopted from another " +
		"sheet: "}, {"default", "from the class of paper: "}, {"tried", "assumed for trial: "}} {
		if len(named[y.how]) > 0 {
			rests = append(rests, y.words+strings.Join(named[y.how], ", "))
		}
	}
	rests = append(rests, fmt.Sprintf("%d samples of the ranges, 10 to 90 %%", a.Samples))
	if len(x.had) > 0 {
		rests = append(rests, "after "+plural(len(x.had), "earlier bath", "earlier baths"))
	}
	b.RestsOn = strings.Join(rests, "; ")
	return b
}

// reachPart asks the other way round: what reaches a target.
type reachPart struct {
	Form            *Form
	Targets, Levers []record.Choice
	Answer          *paper.Answer
	// Which says which bath of several is changed; Try is the address with the answer
	// in it.
	Which, Try string
}

var (
	reachTargets = []record.Choice{
		{Value: "acid", Words: "all acid gone"},
		{Value: "reserve", Words: "a reserve of, % CaCO₃"},
		{Value: "ph", Words: "a pH of the dry sheet of"},
	}
	reachLevers = []record.Choice{
		{Value: "strength", Words: "strength"},
		{Value: "number", Words: "more baths, kept wet"},
		{Value: "cycles", Words: "more baths, dried between"},
		{Value: "time", Words: "time"},
		{Value: "volume", Words: "volume"},
	}
)

// reachOf answers the target that the form names; without one it only shows the
// question. Refusals are in the form.
func reachOf(f *Form, x *tried) *reachPart {
	if f.Line("lever") == "" {
		f.Set("lever", "strength")
	}
	p := &reachPart{Form: f, Targets: reachTargets, Levers: reachLevers}
	var t paper.Target
	var zero float64
	switch kind := f.Line("target"); kind {
	case "":
		return p
	case "acid":
		t.AcidLeftMmolPerKg = &zero
	case "reserve", "ph":
		n := len(f.Refused)
		v := f.Number("target_value", "the target")
		if len(f.Refused) > n {
			return p
		}
		if t.ReservePercentChalk = &v; kind == "ph" {
			t.ReservePercentChalk, t.ExtractPH = nil, &v
		}
	default:
		f.Refuse("target", "%q is no target: choose one.", clip(kind))
		return p
	}
	lever := paper.Lever(f.Line("lever"))
	baths := x.baths(x.Baths)
	if lever == paper.Number || lever == paper.Cycles {
		baths = x.baths(1)
	} else if x.Baths > 1 {
		p.Which = "Of the " + strconv.Itoa(x.Baths) + " baths the last is changed, the others stay."
	}
	a, err := paper.Reach(x.sheet, baths, len(baths)-1, lever, t, paper.Options{Samples: fullLeast, Seed: 1})
	if err != nil {
		f.Refuse("target_value", "%s.", upperFirst(err.Error()))
		return p
	}
	p.Answer = &a
	if a.Reached {
		p.Try = tryAddress(f, x, lever, a.Least)
	}
	return p
}

// tryAddress is the page's address with a lever at a value.
func tryAddress(f *Form, x *tried, lever paper.Lever, v float64) string {
	q := url.Values{}
	for _, name := range trialFields {
		if s := f.Line(name); s != "" {
			q.Set(name, s)
		}
	}
	switch lever {
	case paper.Strength:
		q.Set("strength", plainNumber(math3(x.Strength*v/x.Kind.Alkali(x.Strength)*1.005)))
	case paper.Time:
		q.Set("minutes", plainNumber(math3(v*1.005)))
	case paper.Volume:
		q.Set("volume_ml", plainNumber(math3(v*1.005)))
	case paper.Number, paper.Cycles:
		q.Set("baths", plainNumber(v))
		q.Del("dried")
		if lever == paper.Cycles {
			q.Set("dried", "yes")
		}
	}
	return "?" + q.Encode()
}
