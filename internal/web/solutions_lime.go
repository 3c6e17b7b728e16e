package web

import (
	"fmt"
	"net/http"

	"benchleaf/chem"
	"benchleaf/internal/record"
)

// limePage is lime against temperature, and against time in an open tray.
type limePage struct {
	Page
	Form   *Form
	Plots  []*curve
	Rows   []limeRow
	Answer string
	Airs   []record.Choice
}

// limeRow is the tray after a time.
type limeRow struct{ After, Lime, LimeRange, PH, PHRange, Chalk string }

var limeView = declare[limePage]("lime")

var trayAirs = []record.Choice{
	{Value: "still", Words: "closed room, no fan"},
	{Value: "draught", Words: "fan, hood or open window"},
}

func (s *Server) limePage(w http.ResponseWriter, r *http.Request) error {
	f := s.askedFor(
		r,
		"lime",
		fills{"lime_g_l": "0.4", "temp_c": "20", "depth_mm": "20", "hours": "4", "co2_ppm": "500", "air": "still"},
	)
	p := limePage{Page: s.solutionsPage(r, "Lime in the tray", "lime"), Form: f, Airs: trayAirs}
	t := limeTray{
		perLitre: inside(
			f,
			"lime_g_l",
			"the lime",
			0.001,
			2,
			"g/L",
		), tempC: inside(f, "temp_c", "the temperature", 0, 40, "°C"), depthMm: inside(f, "depth_mm", "the depth", 1, 500, "mm"),
		hours: inside(
			f,
			"hours",
			"the time",
			0.25,
			72,
			"h",
		), co2Ppm: inside(f, "co2_ppm", "the carbon dioxide", 300, 5000, "ppm"), draught: f.Line("air") == "draught", stirred: f.Tick("stirred"),
	}
	if len(f.Refused) == 0 {
		if err := p.work(t); err != nil {
			f.Refuse("", "%s.", upperFirst(err.Error()))
		}
	}
	return limeView.show(s, w, r, p)
}

// inside reads a number that must lie within bounds, for the plain sums, which
// no entry of the record stands behind.
func inside(f *Form, field, what string, low, high float64, unit string) float64 {
	n := len(f.Refused)
	v := f.Number(field, what)
	if len(f.Refused) == n && (v < low || v > high) {
		f.Refuse(
			field,
			"%s cannot be %s %s: %s to %s %s is possible.",
			upperFirst(what),
			fig(v),
			unit,
			fig(low),
			fig(high),
			unit,
		)
	}
	return v
}

func (p *limePage) work(t limeTray) error {
	tray, _, err := t.curve()
	if err != nil {
		return err
	}
	solubility, err := limeCurve(&t.tempC)
	if err != nil {
		return err
	}
	p.Plots = []*curve{tray, solubility}
	minutes := []float64{0, 15, 30, 60, 120, 240, 480, 1440, 2880, 4320}
	for i, m := range minutes {
		if m > 60*t.hours {
			minutes = minutes[:i]
			break
		}
	}
	course, err := t.course(minutes)
	if err != nil {
		return err
	}
	for _, x := range course {
		p.Rows = append(p.Rows, limeRowOf(x))
	}
	return p.half(t, course)
}

// half says when half of the lime is gone.
func (p *limePage) half(t limeTray, course []chem.TrayPoint) error {
	var minutes []float64
	for m := 1.0; m <= 60*72; m *= 1.03 {
		minutes = append(minutes, m)
	}
	all, err := t.course(minutes)
	if err != nil {
		return err
	}
	half := course[0].LimeGramPerL.Value / 2
	at := func(v func(chem.Estimate) float64) float64 {
		for _, x := range all {
			if v(x.LimeGramPerL) <= half {
				return x.Minutes
			}
		}
		return 0
	}
	best := at(func(e chem.Estimate) float64 { return e.Value })
	if best == 0 {
		p.Answer = "After three days more than half of the lime is left."
		return nil
	}
	fast := at(func(e chem.Estimate) float64 { return e.Low })
	p.Answer = fmt.Sprintf(
		"Half of the lime is gone after about %s (%s to %s: an estimate good to a factor of two).",
		spanText(best),
		spanText(fast),
		spanText(2*best),
	)
	return nil
}

// spanText writes minutes as a person would say them.
func spanText(minutes float64) string {
	if minutes < 90 {
		return fig2(minutes) + " min"
	}
	return fig2(minutes/60) + " h"
}

func limeRowOf(x chem.TrayPoint) limeRow {
	row := limeRow{
		After: spanText(x.Minutes),
		Lime:  fig2(x.LimeGramPerL.Value),
		PH:    fmt.Sprintf("%.1f", x.PH.Value),
		Chalk: fig2(x.ChalkGramPerL.Value),
	}
	if x.Minutes == 0 {
		row.After = "at once"
	}
	if x.LimeGramPerL.Low < x.LimeGramPerL.High {
		row.LimeRange = fig2(x.LimeGramPerL.Low) + " to " + fig2(x.LimeGramPerL.High)
		row.PHRange = fmt.Sprintf("%.1f to %.1f", x.PH.Low, x.PH.High)
	}
	return row
}
