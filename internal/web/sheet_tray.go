package web

import (
	"fmt"
	"math"
	"net/http"
	"strconv"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/interval"
	"benchleaf/paper"
)

// sheetTrayPage is the economy of a tray: how many sheets it serves, and how rinse
// water is used.
type sheetTrayPage struct {
	sheetHead
	Form      *Form
	Bath      string
	Served    string
	Caution   string // the same for sheets with much acid and pick-up
	Economy   []Fact
	Plots     []*bandPlot
	Rinses    []rinseRow
	RinseSays string
}

// rinseRow is one way to use rinse water.
type rinseRow struct {
	Name, How          string
	First, Last, Water string
	Fillings           int
}

var sheetTrayView = declare[sheetTrayPage]("sheet_tray")

func (s *Server) sheetTray(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	f, _ := s.trialForm(r, c, sheet)
	for name, v := range map[string]string{"sheets": strconv.Itoa(len(treatment.LikeSheets(c, sheet))), "alkali_share": "50", "trays": "3", "rinse_ml": "1000", "rinse_min": "15"} {
		if !r.URL.Query().Has(name) {
			f.Set(name, v)
		}
	}
	p := sheetTrayPage{Form: f}
	if x := tryBath(f, c, sheet); x != nil {
		p.work(f, x)
	}
	p.sheetHead = s.sheetHead(r, c, sheet, "tray", f)
	return sheetTrayView.show(s, w, r, p)
}

// mostTrayed bounds the sheets that a page reckons, for its time.
const mostTrayed = 200

func (p *sheetTrayPage) work(f *Form, x *tried) {
	sheets := int(inside(f, "sheets", "the number of sheets", 1, mostTrayed, "sheets"))
	var l paper.Limits
	maybe := func(field, what string, low, high float64, unit string) float64 {
		if f.Line(field) == "" {
			return 0
		}
		return inside(f, field, what, low, high, unit)
	}
	l.AlkaliShare = maybe("alkali_share", "the alkali that a bath must keep", 0, 99, "%") / 100
	l.BathPH = maybe("bath_ph", "the least pH of a bath", 7, 13, "")
	l.AcidLeftMmolPerKg = maybe("acid_left", "the acid that may be left", 0.1, 500, "mmol/kg")
	l.ReservePercentChalk = maybe("reserve", "the least reserve", 0, 10, "%")
	trays := int(inside(f, "trays", "the number of trays", 1, 10, "trays"))
	rinse := inside(f, "rinse_ml", "the volume of a rinse", 10, 1e5, "mL")
	minutes := inside(f, "rinse_min", "the time of a rinse", 0.5, 24*60, "min")
	if len(f.Refused) > 0 {
		return
	}
	t := *x.Trial
	t.DriedBetween = false
	baths := t.After(nil, false, t.Baths)
	p.Bath = fmt.Sprintf(
		"%s of %s, %s mL, %s min, %s at once; dry sheets go in",
		plural(t.Baths, "tray", "trays"),
		t.Kind.Words(t.Strength),
		fig(t.VolumeMl),
		fig(t.Minutes),
		plural(t.Together, "sheet", "sheets"),
	)
	if err := p.serve(x, baths, sheets, l); err != nil {
		f.Refuse("sheets", "%s.", upperFirst(err.Error()))
		return
	}
	if err := p.rinse(x, sheets, trays, rinse, minutes); err != nil {
		f.Refuse("rinse_ml", "%s.", upperFirst(err.Error()))
	}
}

// serve takes the sheets through the trays, at the best values and with the acid
// and the pick-up at their ends.
func (p *sheetTrayPage) serve(x *tried, baths []paper.Bath, sheets int, l paper.Limits) error {
	best, err := paper.Serve(x.sheet, baths, sheets, l)
	if err != nil {
		return err
	}
	easy, hard := treatment.Ends(x.sheet)
	low, err := paper.Serve(hard, baths, sheets, l)
	if err != nil {
		return err
	}
	p.Served = best.Limit
	if low.Sheets < best.Sheets {
		p.Caution = fmt.Sprintf("Sheets with much acid and pick-up (both at their 90 %% point): %s", low.Limit)
	}
	// The plots go on past the limit, to the last sheet.
	runs := make([]paper.Served, 3)
	for i, s := range []paper.Sheet{hard, x.sheet, easy} {
		if runs[i], err = paper.Serve(s, baths, sheets, paper.Limits{}); err != nil {
			return err
		}
	}
	p.economy(best, float64(runs[1].Minutes), sheets)
	p.plots(x, runs, sheets)
	return nil
}

// economy is what all sheets take, the trays being filled anew when they no longer
// serve.
func (p *sheetTrayPage) economy(best paper.Served, minutes float64, sheets int) {
	p.Economy = []Fact{
		{Name: "One filling serves", Value: strconv.Itoa(best.Sheets), Unit: "of " + plural(sheets, "sheet", "sheets")},
	}
	if best.Sheets > 0 {
		fillings := (sheets + best.Sheets - 1) / best.Sheets
		p.Economy = append(
			p.Economy,
			Fact{
				Name:  "For all " + strconv.Itoa(sheets),
				Value: fig2(float64(fillings) * best.WaterMl / 1000),
				Unit:  "L",
				Basis: plural(fillings, "filling", "fillings") + " of " + fig2(best.WaterMl/1000) + " L",
			},
		)
	}
	p.Economy = append(
		p.Economy,
		Fact{
			Name:  "Until the last is out",
			Value: spanText(minutes),
			Basis: "one load in each tray at a time, the trays working side by side; filling and lifting not counted",
		},
	)
}

func (p *sheetTrayPage) plots(x *tried, runs []paper.Served, sheets int) {
	last := x.Baths - 1
	series := func(of func(paper.Load) float64) rangesAt {
		var a rangesAt
		for i := range runs[1].Loads {
			lo, be, hi := of(runs[0].Loads[i]), of(runs[1].Loads[i]), of(runs[2].Loads[i])
			a.add(
				float64(runs[1].Loads[i].Sheets),
				interval.Range{Low: math.Min(be, math.Min(lo, hi)), Best: be, High: math.Max(be, math.Max(lo, hi))},
			)
		}
		return a
	}
	to := float64(max(sheets, 2))
	draw := func(name, unit, says string, low, high float64, a rangesAt, line string, b *rangesAt, second string) {
		q := &bandPlot{curve: newCurve(0, to, low, high), Name: name}
		q.XTitle, q.YTitle, q.Under = "sheets", unit, says
		q.ticks(5)
		if unit == "pH" {
			q.pHAxis(low, high)
		}
		q.line("first", line, a)
		if b != nil {
			q.line("second", second, *b)
		}
		q.Says = fmt.Sprintf(
			"%s: %s after %s sheets, %s after %s",
			says,
			a.r[0].BestText(),
			fig(a.x[0]),
			a.r[len(a.r)-1].BestText(),
			fig(a.x[len(a.x)-1]),
		)
		p.Plots = append(p.Plots, q)
	}
	if x.Kind.Unit != "" {
		first := series(func(y paper.Load) float64 { return 100 * y.AlkaliShare[0] })
		var second *rangesAt
		if last > 0 {
			b := series(func(y paper.Load) float64 { return 100 * y.AlkaliShare[last] })
			second = &b
		}
		draw(
			"share",
			"%",
			"Alkali left in the tray, of what was poured",
			0,
			100,
			first,
			"first tray",
			second,
			"last tray",
		)
	}
	name, unit, _ := x.judged()
	if name == "Reserve" {
		a := series(func(y paper.Load) float64 { return y.ReservePercentChalk })
		_, high := bounds(a)
		draw("kept", unit, "Reserve that each sheet keeps", 0, math.Max(high, 0.01), a, "reserve", nil, "")
	}
	acid := series(func(y paper.Load) float64 { return y.AcidLeftMmolPerKg })
	if _, high := bounds(acid); high > 0.1 {
		draw("acid", "mmol/kg", "Acid left in each sheet", 0, high, acid, "acid left", nil, "")
	}
	ph := series(func(y paper.Load) float64 { return y.BathPH[last] })
	low, high := bounds(ph)
	draw("ph", "pH", "pH of the last tray as each load leaves it", low, high+1, ph, "pH", nil, "")
}

// rinse compares fresh water, a cascade and one filling.
func (p *sheetTrayPage) rinse(x *tried, sheets, trays int, ml, minutes float64) error {
	out, err := paper.RunBest(x.sheet, []paper.Bath{x.Bath()}, paper.Options{})
	if err != nil {
		return err
	}
	held := out.HeldMl.Best * float64(x.Together)
	loads := (sheets + x.Together - 1) / x.Together
	all, err := paper.Rinses(paper.Millilitres(held), paper.Millilitres(ml), trays, loads)
	if err != nil {
		return err
	}
	words := map[paper.RinseScheme][2]string{
		paper.FreshRinses: {"Fresh water", "every tray filled anew for every load"},
		paper.CascadeRinses: {
			"Cascade",
			"after each load the first tray is poured away, the others move up, the last is filled anew",
		},
		paper.SameRinses: {"One filling", "the trays filled once"},
	}
	for _, y := range all {
		p.Rinses = append(
			p.Rinses,
			rinseRow{
				Name:     words[y.Scheme][0],
				How:      words[y.Scheme][1],
				First:    percent(y.Left[0]),
				Last:     percent(y.Left[len(y.Left)-1]),
				Water:    fig2(y.WaterMl / 1000),
				Fillings: int(math.Round(y.WaterMl / ml)),
			},
		)
	}
	p.RinseSays = fmt.Sprintf(
		"%s of %s, %s mL held by each load, %s of %s mL. Each rinse lasts %s min, long enough to come level; with "+
			"the trays side by side the last load is out after %s, whichever way.",
		plural(
			loads,
			"load",
			"loads",
		),
		plural(x.Together, "sheet", "sheets"),
		fig2(held),
		plural(trays, "tray", "trays"),
		fig(ml),
		fig(minutes),
		spanText(minutes*float64(trays+loads-1)),
	)
	return nil
}

// percent writes a share in two figures, down to what matters.
func percent(share float64) string {
	if share < 1e-4 {
		return "under 0.01 %"
	}
	return fig2(100*share) + " %"
}
