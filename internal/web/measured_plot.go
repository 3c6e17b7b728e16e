package web

import (
	"fmt"
	"math"
	"slices"

	"benchleaf/internal/treatment"
	"benchleaf/interval"
)

// measuredPlot is a predicted band with readings laid over it.
type measuredPlot struct {
	*curve
	Title string
	Marks []errorBar
}

// errorBar is one reading with its uncertainty for 95 %.
type errorBar struct {
	X, Y, Low, High float64
	Left, Right     float64 // ends of the caps
	Diamond         string  // drawn in the place of the dot where it does not agree
	Says            string
}

// predictedPoint is the prediction at a time.
type predictedPoint struct {
	minutes float64
	r       interval.Range
}

// measuredPlots are one plot for each bath with a reading of its pH, and one of the
// sheet's mass as it dries.
func (s *Server) measuredPlots(m *treatment.Measured) []measuredPlot {
	var list []measuredPlot
	for _, b := range m.Baths {
		var course []predictedPoint
		for _, x := range b.Course {
			course = append(course, predictedPoint{float64(x.Minutes), x.BathPH})
		}
		list = append(
			list,
			newMeasuredPlot(
				"pH of the bath, "+b.Name+" from "+b.Start.In(s.zone).Format("15:04"),
				"pH",
				course,
				m,
				b.Readings,
				b.At,
			),
		)
	}
	if d := m.Drying; d != nil {
		var course []predictedPoint
		for _, x := range d.Masses {
			course = append(course, predictedPoint{x.Minutes, x.PredictedG})
		}
		var at []float64
		var rows []int
		for i, r := range m.Rows {
			for _, w := range d.Weighings {
				if min := r.At.Sub(m.DryingFrom).Minutes(); r.Unit == "g" && math.Abs(min-w.Minutes) < 1e-6 {
					rows, at = append(rows, i), append(at, min)
				}
			}
		}
		list = append(
			list,
			newMeasuredPlot(
				"Mass of the sheet, lying open from "+m.DryingFrom.In(s.zone).Format("15:04"),
				"g",
				course,
				m,
				rows,
				at,
			),
		)
	}
	return list
}

func newMeasuredPlot(
	title, unit string,
	course []predictedPoint,
	m *treatment.Measured,
	rows []int,
	at []float64,
) measuredPlot {
	var x, low, best, high, ends []float64
	for _, p := range course {
		x, low, best, high = append(x, p.minutes), append(low, p.r.Low), append(best, p.r.Best), append(high, p.r.High)
	}
	ends = append(append(ends, low...), high...)
	for _, i := range rows {
		ends = append(ends, m.Rows[i].Value-m.Rows[i].Uncertainty, m.Rows[i].Value+m.Rows[i].Uncertainty)
	}
	p := measuredPlot{Title: title, curve: newCurve(0, math.Max(slices.Max(x), 1), slices.Min(ends), slices.Max(ends))}
	p.XTitle, p.YTitle = "min", unit
	p.draw(x, low, best, high)
	last := course[len(course)-1]
	p.Says = fmt.Sprintf(
		"%s: expected %s to %s at the start, %s to %s after %s min",
		title,
		interval.Digits(low[0], 0.5),
		interval.Digits(high[0], 0.5),
		interval.Digits(last.r.Low, 0.5),
		interval.Digits(last.r.High, 0.5),
		fig(math.Round(last.minutes)),
	)
	for k, i := range rows {
		r := m.Rows[i]
		e := errorBar{
			X:    p.x(at[k]),
			Y:    p.y(r.Value),
			Low:  p.y(r.Value - r.Uncertainty),
			High: p.y(r.Value + r.Uncertainty),
		}
		e.Left, e.Right = e.X-6, e.X+6
		e.Says = fmt.Sprintf(
			"%s ± %s after %s min: %s",
			fig(r.Value),
			fig(r.Uncertainty),
			fig(math.Round(at[k])),
			r.Say,
		)
		if !r.Agrees {
			e.Diamond = fmt.Sprintf("M%s l9 9 l-9 9 l-9 -9 Z", xy(e.X, e.Y-9))
		}
		p.Marks = append(p.Marks, e)
		p.Says += "; read " + e.Says
	}
	return p
}
