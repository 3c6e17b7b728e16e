package web

import (
	"fmt"
	"math"
	"net/http"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/interval"
	"benchleaf/paper"
)

// ageingPage is the expected course in years, without and with the tried bath.
type ageingPage struct {
	sheetHead
	Form     *Form
	Figures  []bigFigure
	Plots    []*bandPlot
	Sentence string
	Domain   []string
	Lignin   string
	After    string
	From     string
}

var ageingView = declare[ageingPage]("sheet_ageing")

// What is not known better: how far a pH, a climate and a degree of
// polymerisation may be off, either way (common practice, no source).
const (
	ageingPH, ageingC, ageingRH, ageingDP = 0.5, 2, 7, 0.3
)

func (s *Server) sheetAgeing(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	f, _ := s.trialForm(r, c, sheet)
	ph, from := phBefore(c, sheet)
	for name, v := range map[string]string{"ph_before": plainNumber(ph), "home_c": "20", "home_pct": "50", "dp": "600", "years": "100"} {
		if !r.URL.Query().Has(name) {
			f.Set(name, v)
		}
	}
	p := ageingPage{Form: f, From: from}
	if x := tryBath(f, c, sheet); x != nil {
		if err := p.work(r, f, x); err != nil {
			return err
		}
		p.Lignin = treatment.Lignin(c, sheet)
	}
	p.sheetHead = s.sheetHead(r, c, sheet, "ageing", f)
	return ageingView.show(s, w, r, p)
}

// phBefore is the mean of what was read on the sheet's paper before treatment, and
// where it comes from.
func phBefore(c *record.Case, sheet int) (float64, string) {
	var sum float64
	var n int
	for _, x := range c.Readings {
		b := x.Body
		if b.Quantity != "surface-ph" && b.Quantity != "extract-ph" || b.Stage == record.StageAfter || b.Run != "" {
			continue
		}
		for _, k := range b.Place.Sheets {
			if c.StockOf(k) == c.StockOf(sheet) {
				sum, n = sum+b.Value, n+1
			}
		}
	}
	if n == 0 {
		return 5, "The pH before is not measured: 5 stands in, with half a unit either way."
	}
	return math.Round(
			10*sum/float64(n),
		) / 10, fmt.Sprintf(
			"The pH before is the mean of %s on this paper, with half a unit either way.",
			plural(n, "reading", "readings"),
		)
}

func (p *ageingPage) work(r *http.Request, f *Form, x *tried) error {
	ph := inside(f, "ph_before", "the pH before", 3, 9, "")
	t, h := inside(f, "home_c", "the temperature", -8, 38, "°C"), inside(f, "home_pct", "the humidity", 17, 68, "%")
	dp, years := inside(
		f,
		"dp",
		"the degree of polymerisation",
		450,
		2000,
		"",
	), inside(
		f,
		"years",
		"the years",
		1,
		500,
		"years",
	)
	if len(f.Refused) > 0 {
		return nil
	}
	baths := x.baths(x.Baths)
	out, err := paper.RunContext(
		r.Context(),
		x.sheet,
		baths,
		paper.Options{Samples: samplesFor(len(baths), false), Seed: 1},
	)
	if r.Context().Err() != nil {
		return err
	}
	if err != nil {
		f.Refuse("", "This cannot be reckoned: %v.", err)
		return nil
	}
	a, err := paper.CompareAgeing(
		x.sheet.Class,
		interval.Within(ph, ageingPH),
		out.ExtractPH.Range,
		paper.Climate{TemperatureC: interval.Within(t, ageingC), Humidity: interval.Within(h, ageingRH).Scale(0.01)},
		interval.Range{
			Low:  math.Max(301, dp*(1-ageingDP)),
			Best: dp,
			High: dp * (1 + ageingDP),
		},
		years,
		paper.Options{Samples: fullSamples, Seed: 1},
	)
	if err != nil {
		f.Refuse("", "%s.", upperFirst(err.Error()))
		return nil
	}
	p.After = fmt.Sprintf("%.1f (%.1f to %.1f)", out.ExtractPH.Best, out.ExtractPH.Low, out.ExtractPH.High)
	p.Figures = []bigFigure{
		figure("slower", "Slower by", a.Slower.Range, "times", "with the tried bath, at the same storage"),
	}
	p.Sentence, p.Domain = a.Sentence, a.Domain
	var without, with rangesAt
	for _, y := range a.Course {
		without.add(y.Years, y.Without)
		with.add(y.Years, y.With)
	}
	_, high := bounds(without, with)
	q := &bandPlot{curve: newCurve(0, years, 0, high), Name: "years"}
	q.XTitle, q.YTitle = "years", "links"
	q.line("first", "with the bath", with)
	q.line("second", "without", without)
	n := len(with.r) - 1
	q.Says = fmt.Sprintf(
		"Length of the fibre's chains with the years: after %s years %s without the bath, %s with it",
		fig(years),
		says(without.r[n]),
		says(with.r[n]),
	)
	q.Under = "Mean number of links in the fibre’s chains (degree of polymerisation), as the published function " +
		"expects it."
	p.Plots = []*bandPlot{q}
	return nil
}
