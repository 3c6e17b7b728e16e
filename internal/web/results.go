package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"

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
	Pairs       []facePair
	Shown       *facePair
	Rows        []beforeAfter
	Reserve     []Fact
	Limit       string
	Damages     []damageRow
	ReadingForm *Form
	Quantities  []record.Choice
	Methods     []string
}

// facePair is the first picture of a face from before and the last from after.
type facePair struct {
	Name, Href    string
	Before, After record.Stamped[record.Photo]
	AfterWords    string
	On            bool
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
	p := resultsPage{Page: s.casePage(r, c, "results"), C: c, Pairs: facePairs(c)}
	want := r.URL.Query().Get("face")
	for i := range p.Pairs {
		p.Pairs[i].On = p.Pairs[i].Name == want || want == "" && i == 0
		if p.Pairs[i].On {
			p.Shown = &p.Pairs[i]
		}
	}
	p.Rows = comparisons(c)
	p.Reserve, p.Limit = reserveFacts(c)
	for i := range c.Damages {
		if c.Damages[i].After != nil {
			p.Damages = append(p.Damages, damageRow{FoundDamage: c.Damages[i], Extent: extentOf(&c.Damages[i].Body)})
		}
	}
	p.ReadingForm = s.readingForm(r, c, "surface-ph", "after")
	p.Quantities, p.Methods = quantityChoices(objectQuantities), methodsOf(objectQuantities)
	return resultsView.show(s, w, r, p)
}

// facePairs finds the faces that were photographed before, and after or at
// least during treatment.
func facePairs(c *record.Case) []facePair {
	var list []facePair
	for _, n := range c.Sheets() {
		for _, face := range record.Faces {
			var before, after *record.Stamped[record.Photo]
			words := ""
			for _, p := range c.PhotosOf(n, face.Value, "") {
				switch p.Body.Stage {
				case "arrival", "before":
					if before == nil {
						before = &p
					}
				case "after":
					after, words = &p, "after"
				case "during":
					if words != "after" {
						after, words = &p, "during"
					}
				}
			}
			if before != nil && after != nil {
				name := record.SheetName(n) + ", " + face.Words
				list = append(list, facePair{Name: name, Before: *before, After: *after, AfterWords: words})
			}
		}
	}
	return list
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
		if x.Body.Stage == "after" {
			after[k] = x.Body
		} else if x.Body.Stage != "during" {
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

// reserveFacts is what the baths of each sheet have left in it, by mass
// balance; sheets of one paper that had the same stand together.
func reserveFacts(c *record.Case) (facts []Fact, limit string) {
	type group struct {
		paper  string
		sheets []int
		fact   Fact
	}
	var groups []group
	for _, n := range c.Sheets() {
		stock := c.StockOf(n)
		if stock == nil || !slices.ContainsFunc(c.RunsOn(n), func(r *record.Run) bool { return r.Body.Operation == "lime" || r.Body.Operation == "bicarbonate" }) {
			continue
		}
		out, ok, err := treatment.Expect(c, n, nil, 0)
		if !ok || err != nil {
			continue
		}
		r := out.ReservePercentChalk
		f := Fact{Value: fmt.Sprintf("%.2f", r.Best), Unit: "% CaCO₃", Range: fmt.Sprintf("%.2f to %.2f", r.Low, r.High), Basis: "computed from its baths, not measured. " + out.Dominant}
		if r.Best > 0.005 || limit == "" {
			limit = out.Limit
		}
		i := slices.IndexFunc(groups, func(g group) bool { return g.paper == stock.Name && g.fact == f })
		if i < 0 {
			i = len(groups)
			groups = append(groups, group{paper: stock.Name, fact: f})
		}
		groups[i].sheets = append(groups[i].sheets, n)
	}
	for _, g := range groups {
		g.fact.Name = upperFirst(g.paper) + ", " + record.SheetNames(g.sheets)
		facts = append(facts, g.fact)
	}
	return facts, limit
}

func (s *Server) readingAfter(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "reading")
	if err != nil {
		return err
	}
	b := readingOf(f)
	return s.save(w, r, f, Saving{Case: c.ID, Items: []record.Item{item(f, b)}, To: casePath(c.ID, "results"), Said: "Reading recorded."}, s.inCase(s.results))
}
