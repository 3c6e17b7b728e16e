package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

func (s *Server) routesResults(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/results", s.doCase(s.results))
	mux.Handle("POST /cases/{case}/reading-after", s.doCase(s.readingAfter))
}

// resultsPage lays before beside after: pictures, readings, damages.
type resultsPage struct {
	Page
	C           *record.Case
	Faces       []facePair
	Shown       *faceView
	Rows        []beforeAfter
	Reserve     []Fact
	Limit       string
	Damages     []damageRow
	ReadingForm *Form
	Quantities  []record.Choice
	Methods     []string
	Measured    string // where readings lie beside what was expected
}

// beforeAfter is one quantity at one place, before and after.
type beforeAfter struct {
	What, Where, Unit string
	Before, After     string
	BeforeU, AfterU   string
	Change            string
}

var resultsView = declare[resultsPage]("results")

func (s *Server) results(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := resultsPage{Page: s.casePage(r, c, "results"), C: c, Faces: faces(c)}
	if i := faceAsked(p.Faces, r.URL.Query()); i >= 0 {
		p.Faces[i].On = true
		p.Shown = s.faceView(r, c, &p.Faces[i])
	}
	p.Rows = comparisons(c)
	p.Measured = firstMeasured(c)
	left := s.reserveOf(c)
	p.Reserve, p.Limit = left.facts, left.limit
	for i := range c.Damages {
		if c.Damages[i].After != nil {
			p.Damages = append(p.Damages, damageRow{FoundDamage: c.Damages[i], Extent: account.Extent(&c.Damages[i].Body)})
		}
	}
	p.ReadingForm = s.readingForm(r, c, "surface-ph", "after")
	p.Quantities, p.Methods = quantityChoices(objectQuantities), methodsOf(objectQuantities)
	return resultsView.show(s, w, r, p)
}

// comparisons pairs readings of the same quantity on the same sheet. The last
// of each stage counts.
func comparisons(c *record.Case) []beforeAfter {
	type key struct {
		quantity string
		sheet    int
	}
	before, after := map[key]record.Reading{}, map[key]record.Reading{}
	var order []key
	for _, x := range c.Readings {
		if x.Body.Run != "" || len(x.Body.Place.Sheets) > 1 {
			continue
		}
		k := key{x.Body.Quantity, -1}
		if len(x.Body.Place.Sheets) == 1 {
			k.sheet = x.Body.Place.Sheets[0]
		}
		if !slices.Contains(order, k) {
			order = append(order, k)
		}
		if x.Body.Stage == record.StageAfter {
			after[k] = x.Body
		} else if x.Body.Stage != record.StageDuring {
			before[k] = x.Body
		}
	}
	var rows []beforeAfter
	for _, k := range order {
		a, hasA := before[k]
		b, hasB := after[k]
		q := record.QuantityOf(k.quantity)
		if q == nil || !hasA && !hasB {
			continue
		}
		row := beforeAfter{What: upperFirst(q.Words), Unit: q.Unit, Where: "whole object"}
		if k.sheet >= 0 {
			row.Where = record.SheetName(k.sheet)
		}
		row.Before, row.BeforeU = shown(a, hasA)
		row.After, row.AfterU = shown(b, hasB)
		if hasA && hasB {
			row.Change = changeWords(a, b)
		}
		rows = append(rows, row)
	}
	return rows
}

func shown(b record.Reading, has bool) (value, uncertainty string) {
	if !has {
		return "", ""
	}
	if b.Uncertainty != nil {
		uncertainty = "± " + fig(*b.Uncertainty)
	}
	return fig(b.Value), uncertainty
}

// changeWords says a change with its uncertainty; one that is smaller than it
// is no change found, which is not the same as none (common practice).
func changeWords(a, b record.Reading) string {
	d := b.Value - a.Value
	sign := "+"
	if d < 0 {
		sign = "−"
		d = -d
	}
	s := sign + fig(round(d))
	if a.Uncertainty == nil || b.Uncertainty == nil {
		return s + ", uncertainty not stated"
	}
	u := *a.Uncertainty**a.Uncertainty + *b.Uncertainty**b.Uncertainty
	if d*d < u {
		return "no change found"
	}
	return s + " ± " + fmt.Sprintf("%.1g", math.Sqrt(u))
}

// reserve is what the baths of a case left in its sheets, kept until its
// journal grows: it is reckoned once, not with each look at the page.
type reserve struct {
	seq   int64
	facts []Fact
	limit string
}

// reserveOf is what the baths have left in each sheet; sheets of one paper that
// had the same baths stand together.
func (s *Server) reserveOf(c *record.Case) reserve {
	if kept, ok := s.reserves.Load(c.ID); ok && kept.(reserve).seq == c.LastSeq {
		return kept.(reserve)
	}
	out := reserve{seq: c.LastSeq}
	var done [][]int
	at := map[string]int{}
	for _, n := range c.Sheets() {
		if !slices.ContainsFunc(
			c.RunsOn(n),
			func(r *record.Run) bool { return r.Body.Operation == "lime" || r.Body.Operation == "bicarbonate" },
		) {
			continue
		}
		h := treatment.History(c, n)
		i, ok := at[h]
		if !ok {
			i = len(done)
			at[h] = i
			done = append(done, nil)
		}
		done[i] = append(done[i], n)
	}
	for _, sheets := range done {
		o, ok, err := treatment.Expect(c, sheets[0], nil, 0)
		if !ok || err != nil {
			continue
		}
		r := o.ReservePercentChalk
		if r.Best > 0.005 || out.limit == "" {
			out.limit = o.Limit
		}
		out.facts = append(
			out.facts,
			Fact{
				Name:  upperFirst(c.StockOf(sheets[0]).Name) + ", " + record.SheetNames(sheets),
				Value: fmt.Sprintf("%.2f", r.Best),
				Unit:  "% CaCO₃",
				Range: fmt.Sprintf(
					"%.2f to %.2f",
					r.Low,
					r.High,
				),
				Basis: "computed from its baths, not measured. " + o.Dominant,
			},
		)
	}
	s.reserves.Store(c.ID, out)
	return out
}

func (s *Server) readingAfter(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "reading")
	if err != nil {
		return err
	}
	b := readingOf(f)
	return s.save(
		w,
		r,
		f,
		Saving{Case: c.ID, Items: []record.Item{item(f, b)}, To: casePath(c.ID, "results"), Said: "Reading recorded."},
		s.inCase(s.results),
	)
}
