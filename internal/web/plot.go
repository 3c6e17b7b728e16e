package web

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/record"
)

// plot is a small line of readings over minutes, drawn on the server.
type plot struct {
	Title, Unit   string
	Width, Height float64
	Line          string
	Points        []plotPoint
	XTicks        []tick
	YTicks        []tick
}

type plotPoint struct {
	X, Y float64
	Says string
}

type tick struct {
	At    float64
	Words string
}

const (
	plotW, plotH         = 560.0, 200.0
	plotLeft, plotBottom = 60.0, 34.0
)

// readingPlots draws each quantity that was read more than once in a run.
func readingPlots(list []readingRow, start time.Time) []plot {
	var plots []plot
	for _, q := range record.Quantities {
		var x, y []float64
		for _, r := range list {
			if r.Body.Quantity == q.Value {
				x = append(x, r.Body.At.Sub(start).Minutes())
				y = append(y, r.Body.Value)
			}
		}
		if len(x) > 1 {
			plots = append(plots, linePlot(upperFirst(q.Words), q.Unit, x, y))
		}
	}
	return plots
}

func linePlot(title, unit string, x, y []float64) plot {
	p := plot{Title: title, Unit: unit, Width: plotW, Height: plotH}
	x0, x1 := 0.0, math.Max(slices.Max(x), 1)
	y0, y1, step := niceRange(slices.Min(y), slices.Max(y))
	sx := func(v float64) float64 { return plotLeft + (v-x0)/(x1-x0)*(plotW-plotLeft-16) }
	sy := func(v float64) float64 { return plotH - plotBottom - (v-y0)/(y1-y0)*(plotH-plotBottom-12) }
	var d []string
	for i := range x {
		cmd := "L"
		if i == 0 {
			cmd = "M"
		}
		d = append(d, cmd+xy(sx(x[i]), sy(y[i])))
		p.Points = append(
			p.Points,
			plotPoint{sx(x[i]), sy(y[i]), fig(y[i]) + unitAfter(unit) + " after " + fig(math.Round(x[i])) + " min"},
		)
	}
	p.Line = strings.Join(d, " ")
	for v := y0; v <= y1+step/2; v += step {
		p.YTicks = append(p.YTicks, tick{sy(v), strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64)})
	}
	_, xTop, xStep := niceRange(x0, x1)
	for v := 0.0; v <= math.Min(xTop, x1); v += xStep {
		p.XTicks = append(p.XTicks, tick{sx(v), fig(v) + " min"})
	}
	return p
}

// niceRange widens low to high to steps of 1, 2 or 5 times a power of ten.
func niceRange(low, high float64) (from, to, step float64) {
	if high-low < 1e-9 {
		low, high = low-0.5, high+0.5
	}
	raw := (high - low) / 3
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, k := range []float64{1, 2, 5, 10} {
		if step = k * power; step >= raw {
			break
		}
	}
	return math.Floor(low/step) * step, math.Ceil(high/step) * step, step
}
