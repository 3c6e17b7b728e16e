package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"benchleaf/chem"
	"benchleaf/solution"
)

// curve is a line with its band over an axis, drawn on the server. Marks are
// small (published values), Points large (today's).
type curve struct {
	Width, Height            float64
	Left, Right, Top, Bottom float64
	Says, Under              string // for those who hear it; for all
	XTitle, YTitle           string
	Line, Band               string
	Marks, Points            []curvePoint
	XTicks, YTicks           []tick

	x0, x1, y0, y1 float64
}

type curvePoint struct {
	X, Y  float64
	Says  string
	Words string
	Left  bool // the words stand to the left of it
}

// newCurve makes an empty plot for x0 to x1 and y0 to y1.
func newCurve(x0, x1, y0, y1 float64) *curve {
	c := &curve{Width: 480, Height: 310, Left: 52, Right: 466, Top: 34, Bottom: 250}
	from, to, step := niceRange(y0, y1)
	c.x0, c.x1, c.y0, c.y1 = x0, x1, from, to
	for i := 0; from+float64(i)*step <= to+step/2; i++ {
		v := from + float64(i)*step
		c.YTicks = append(c.YTicks, tick{c.y(v), short(v)})
	}
	_, _, step = niceRange(x0, x1)
	for i := 0; x0+float64(i)*step <= x1+step/1000; i++ {
		v := x0 + float64(i)*step
		c.XTicks = append(c.XTicks, tick{c.x(v), short(v)})
	}
	return c
}

func short(v float64) string { return strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64) }

func (c *curve) x(v float64) float64 {
	return c.Left + (v-c.x0)/(c.x1-c.x0)*(c.Right-c.Left)
}

func (c *curve) y(v float64) float64 {
	return c.Bottom - (v-c.y0)/(c.y1-c.y0)*(c.Bottom-c.Top)
}

// draw sets the line through x and best, and the band from low to high.
func (c *curve) draw(x, low, best, high []float64) {
	var line, up, down []string
	for i := range x {
		line = append(line, xy(c.x(x[i]), c.y(best[i])))
		up = append(up, xy(c.x(x[i]), c.y(high[i])))
		j := len(x) - 1 - i
		down = append(down, xy(c.x(x[j]), c.y(low[j])))
	}
	c.Line = "M" + strings.Join(line, "L")
	c.Band = "M" + strings.Join(up, "L") + "L" + strings.Join(down, "L") + "Z"
}

// point adds a large point with words beside it.
func (c *curve) point(x, y float64, words, says string) {
	c.Points = append(
		c.Points,
		curvePoint{X: c.x(x), Y: c.y(y), Words: words, Says: says, Left: x > c.x0+0.55*(c.x1-c.x0)},
	)
}

// limeCurve is the solubility of lime against temperature, with the stock's
// temperature where that is known.
func limeCurve(at *float64) (*curve, error) {
	var x, low, best, high []float64
	for t := 0.0; t <= 50; t++ {
		r, err := solution.LimeSolubility(solution.Celsius(t))
		if err != nil {
			return nil, err
		}
		x, low, best, high = append(x, t), append(low, r.Low), append(best, r.Best), append(high, r.High)
	}
	c := newCurve(0, 50, 0.8, 2)
	c.XTitle, c.YTitle = "°C", "g/L"
	c.draw(x, low, best, high)
	for _, p := range solution.LimePoints() {
		c.Marks = append(
			c.Marks,
			curvePoint{
				X:    c.x(float64(p.Temp)),
				Y:    c.y(float64(p.PerLitre)),
				Says: fmt.Sprintf("%.2f g/L at %g °C: %s", float64(p.PerLitre), float64(p.Temp), p.Source),
			},
		)
	}
	c.Says = fmt.Sprintf(
		"Lime in saturated water against temperature: from %.2f g/L at 0 °C down to %.2f g/L at 50 °C",
		best[0],
		best[len(best)-1],
	)
	c.Under = "Lime in saturated water: the warmer the stock, the weaker. Line: Bassett 1934; band: what published " +
		"sets differ by; small dots: each published value."
	if at == nil {
		return c, nil
	}
	r, err := solution.LimeSolubility(solution.Celsius(*at))
	if err != nil {
		return c, nil // a temperature outside the plot has no point on it; the recipe says so
	}
	c.point(
		*at,
		r.Best,
		fmt.Sprintf("%s g/L at %s °C", r.BestText(), fig(*at)),
		"The stock today: "+r.BestText()+" g/L, "+r.Text(),
	)
	c.Says += "; today's stock at " + fig(*at) + " °C holds " + r.BestText() + " g/L, " + r.Text()
	return c, nil
}

// limeTray is lime water in an open tray, as its page asks.
type limeTray struct {
	perLitre, tempC, depthMm, co2Ppm, hours float64
	draught, stirred                        bool
}

// course is the strength of the tray's lime against time.
func (t limeTray) course(minutes []float64) ([]chem.TrayPoint, error) {
	lime, err := chem.ParseSolute("Ca(OH)2")
	if err != nil {
		return nil, err
	}
	w, err := chem.Pure(t.tempC)
	if err != nil {
		return nil, err
	}
	if w, err = w.Dissolve(chem.Measure{Solute: lime, Amount: t.perLitre, Unit: chem.GramPerLitre}); err != nil {
		return nil, err
	}
	tray := chem.LimeTray{Water: w, DepthMM: t.depthMm, CO2Atm: t.co2Ppm * 1e-6, Stirred: t.stirred}
	if t.draught {
		tray.Air = chem.Draught
	}
	return tray.Course(minutes)
}

// curve draws the course.
func (t limeTray) curve() (*curve, []chem.TrayPoint, error) {
	const points = 60
	minutes := make([]float64, points+1)
	for i := range minutes {
		minutes[i] = 60 * t.hours * float64(i) / points
	}
	course, err := t.course(minutes)
	if err != nil {
		return nil, nil, err
	}
	var x, low, best, high []float64
	top := 0.0
	for _, p := range course {
		l := p.LimeGramPerL
		x, low, best, high = append(x, p.Minutes/60), append(low, l.Low), append(best, l.Value), append(high, l.High)
		top = max(top, l.High)
	}
	c := newCurve(0, t.hours, 0, max(top, 0.01))
	c.XTitle, c.YTitle = "hours", "g/L"
	c.draw(x, low, best, high)
	last := len(best) - 1
	c.Says = fmt.Sprintf(
		"Lime in an open tray, %s mm deep: %s g/L at the start, %s g/L after %s h, good to a factor of two in time",
		fig(t.depthMm),
		fig2(best[0]),
		fig2(best[last]),
		fig(t.hours),
	)
	c.Under = "Lime left in an open tray, " + fig(
		t.depthMm,
	) + " mm deep: the air turns it to chalk. An estimate, good to a factor of two in time: the band is twice and " +
		"half the uptake."
	return c, course, nil
}

// fig2 writes two significant figures, for estimates.
func fig2(v float64) string {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 2, 64), 64)
	if err != nil {
		return fig(v)
	}
	return fig(r)
}
