package account

import (
	"fmt"

	"benchleaf/chem"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/solution"
)

// LimeTrayQuestion is lime water that stands in an open tray.
type LimeTrayQuestion struct {
	LimeGL  float64 `field:"lime_g_l" what:"the lime" from:"0.001" to:"2" unit:"g/L" start:"0.4"`
	TempC   float64 `field:"temp_c" what:"the temperature" from:"0" to:"40" unit:"°C" start:"20"`
	DepthMm float64 `field:"depth_mm" what:"the depth" from:"1" to:"500" unit:"mm" start:"20"`
	Hours   float64 `field:"hours" what:"the time" from:"0.25" to:"72" unit:"h" start:"4"`
	CO2Ppm  float64 `field:"co2_ppm" what:"the carbon dioxide" from:"300" to:"5000" unit:"ppm" start:"500"`
	Air     string  `field:"air" start:"still"` // still or draught
	Stirred bool    `field:"stirred"`
}

// LimeTray is what the air leaves of the lime.
type LimeTray struct {
	Headline string
	Curves   []Curve
	Rows     []LimeRow
}

// LimeRow is the tray after a time.
type LimeRow struct {
	After           string
	Lime, PH, Chalk Fact
}

// LimeInTray answers q. Errors: figures of a tray that cannot be, in a sentence.
func LimeInTray(q LimeTrayQuestion) (a LimeTray, err error) {
	tray, err := q.curve()
	if err != nil {
		return a, err
	}
	solubility, err := LimeSolubility(&q.TempC)
	if err != nil {
		return a, err
	}
	a.Curves = []Curve{tray, solubility}
	minutes := []float64{0}
	for _, m := range []float64{15, 30, 60, 120, 240, 480, 1440, 2880, 4320} {
		if m <= 60*q.Hours {
			minutes = append(minutes, m)
		}
	}
	course, err := q.course(minutes)
	if err != nil {
		return a, err
	}
	for _, x := range course {
		a.Rows = append(a.Rows, LimeRow{
			After: atOnce(x.Minutes),
			Lime:  ranged("lime", "Lime", estimated(x.LimeGramPerL), "g/L"),
			PH:    Fact{Code: "ph", Name: "pH", Figure: some(words.PH(estimated(x.PH))), Basis: Computed},
			Chalk: Fact{Code: "chalk", Name: "Chalk", Text: rough(x.ChalkGramPerL.Value), Basis: Computed},
		})
	}
	a.Headline, err = q.half(course[0].LimeGramPerL.Value / 2)
	return a, err
}

func atOnce(minutes float64) string {
	if minutes == 0 {
		return "at once"
	}
	return lasting(minutes)
}

func estimated(e chem.Estimate) interval.Range {
	return interval.Range{Low: e.Low, Best: e.Value, High: e.High}
}

// course is the strength of the tray's lime against time.
func (q LimeTrayQuestion) course(minutes []float64) ([]chem.TrayPoint, error) {
	lime, err := chem.ParseSolute("Ca(OH)2")
	if err != nil {
		return nil, err
	}
	w, err := chem.Pure(q.TempC)
	if err != nil {
		return nil, err
	}
	if w, err = w.Dissolve(chem.Measure{Solute: lime, Amount: q.LimeGL, Unit: chem.GramPerLitre}); err != nil {
		return nil, err
	}
	tray := chem.LimeTray{Water: w, DepthMM: q.DepthMm, CO2Atm: q.CO2Ppm * 1e-6, Stirred: q.Stirred}
	if q.Air == "draught" {
		tray.Air = chem.Draught
	}
	return tray.Course(minutes)
}

func (q LimeTrayQuestion) curve() (Curve, error) {
	const points = 60
	minutes := make([]float64, points+1)
	for i := range minutes {
		minutes[i] = 60 * q.Hours * float64(i) / points
	}
	course, err := q.course(minutes)
	if err != nil {
		return Curve{}, err
	}
	var l Series
	for _, p := range course {
		l.add(p.Minutes/60, estimated(p.LimeGramPerL))
	}
	_, top := bounds(l)
	depth := en.Number(q.DepthMm) + " mm deep"
	return Curve{
		XTitle: "hours", YTitle: "g/L", X: Axis{To: q.Hours}, Y: Axis{To: max(top, 0.01)}, Lines: []Series{l},
		Says: fmt.Sprintf("Lime in an open tray, %s: %s g/L at the start, %s g/L after %s h, good to a factor of two "+
			"in time", depth, rough(l.R[0].Best), rough(l.last().Best), en.Number(q.Hours)),
		Under: "Lime left in an open tray, " + depth + ": the air turns it to chalk. An estimate, good to a factor " +
			"of two in time: the band is twice and half the uptake.",
	}, nil
}

// half says when the lime, in g/L, is down to half.
func (q LimeTrayQuestion) half(half float64) (string, error) {
	var minutes []float64
	for m := 1.0; m <= 60*72; m *= 1.03 {
		minutes = append(minutes, m)
	}
	all, err := q.course(minutes)
	if err != nil {
		return "", err
	}
	var best, fast float64
	for _, x := range all {
		if fast == 0 && x.LimeGramPerL.Low <= half {
			fast = x.Minutes
		}
		if x.LimeGramPerL.Value <= half {
			best = x.Minutes
			break
		}
	}
	if best == 0 {
		return "After three days more than half of the lime is left.", nil
	}
	return fmt.Sprintf("Half of the lime is gone after about %s (%s to %s: an estimate good to a factor of two).",
		lasting(best), lasting(fast), lasting(2*best)), nil
}

// LimeSolubility is lime in saturated water against temperature, with a stock's
// temperature in °C where that is known.
func LimeSolubility(at *float64) (Curve, error) {
	var l Series
	for t := 0.0; t <= 50; t++ {
		r, err := solution.LimeSolubility(solution.Celsius(t))
		if err != nil {
			return Curve{}, err
		}
		l.add(t, r)
	}
	c := Curve{
		XTitle: "°C", YTitle: "g/L", X: Axis{To: 50}, Y: Axis{From: 0.8, To: 2}, Lines: []Series{l},
		Says: fmt.Sprintf("Lime in saturated water against temperature: from %.2f g/L at 0 °C down to %.2f g/L at "+
			"50 °C",
			l.R[0].Best, l.last().Best),
		Under: "Lime in saturated water: the warmer the stock, the weaker. Line: Bassett 1934; band: what published " +
			"sets differ by; small dots: each published value.",
	}
	for _, p := range solution.LimePoints() {
		t, g := float64(p.Temp), float64(p.PerLitre)
		c.Marks = append(c.Marks, Mark{X: t, Y: g, Says: fmt.Sprintf("%.2f g/L at %g °C: %s", g, t, p.Source)})
	}
	if at == nil {
		return c, nil
	}
	r, err := solution.LimeSolubility(solution.Celsius(*at))
	if err != nil {
		return c, nil // a temperature outside the plot has no point on it; the recipe says so
	}
	temp := en.Number(*at) + " °C"
	c.Points = []Mark{{
		X: *at, Y: r.Best, Words: en.Best(r, "g/L") + " at " + temp, Says: "The stock today: " + en.Range(r, "g/L"),
	}}
	c.Says += "; today's stock at " + temp + " holds " + en.Range(r, "g/L")
	return c, nil
}
