package web

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// bandPlot is a plot of one or two lines, each with the band from its 10 to its
// 90 % points, on the axes of a curve.
type bandPlot struct {
	*curve
	Name   string // what the page calls it: part of its ID
	Series []plotSeries
	Splits []float64 // where one bath ends and the next begins
	Shade  *plotShade
}

// plotSeries is one line. Class is "first" or "second": a colour and a stroke.
type plotSeries struct{ Class, Words, Line, Band string }

// plotShade is a span of the axis with words.
type plotShade struct {
	X, W, Y, H float64
	Words      string
}

// rangesAt are values with their ranges along an axis.
type rangesAt struct {
	x []float64
	r []interval.Range
}

func (a *rangesAt) add(x float64, r interval.Range) { a.x, a.r = append(a.x, x), append(a.r, r) }

// bounds are the lowest low and the highest high of all.
func bounds(all ...rangesAt) (low, high float64) {
	first := true
	for _, a := range all {
		for _, r := range a.r {
			if first || r.Low < low {
				low = r.Low
			}
			if first || r.High > high {
				high = r.High
			}
			first = false
		}
	}
	return low, high
}

// line adds a line with its band.
func (p *bandPlot) line(class, words string, a rangesAt) {
	var low, best, high []float64
	banded := false
	for _, r := range a.r {
		low, best, high = append(low, r.Low), append(best, r.Best), append(high, r.High)
		banded = banded || r.Low < r.High
	}
	p.draw(a.x, low, best, high)
	s := plotSeries{Class: class, Words: words, Line: p.Line}
	if banded {
		s.Band = p.Band
	}
	p.Series = append(p.Series, s)
	p.Line, p.Band = "", ""
}

// wholeTicks puts a tick at every whole number of the axis.
func (p *bandPlot) wholeTicks(from, to int) {
	p.XTicks = nil
	for n := from; n <= to; n++ {
		p.XTicks = append(p.XTicks, tick{p.x(float64(n)), fmt.Sprint(n)})
	}
}

// ticks puts about n ticks on the axis, at even figures.
func (p *bandPlot) ticks(n int) {
	p.XTicks = nil
	_, _, step := niceRange(0, (p.x1-p.x0)*3/float64(n))
	for v := p.x0; v <= p.x1+step/1000; v += step {
		p.XTicks = append(p.XTicks, tick{p.x(v), short(v)})
	}
}

// pHAxis sets the axis to whole units of pH that hold low to high, three at
// least.
func (p *bandPlot) pHAxis(low, high float64) {
	high = math.Min(14, math.Ceil(high))
	low = math.Max(0, math.Min(math.Floor(low), high-3))
	step := 1.0
	if high-low > 6 {
		step, low = 2, high-2*math.Ceil((high-low)/2)
	}
	p.y0, p.y1, p.YTicks = low, high, nil
	for v := low; v <= high; v += step {
		p.YTicks = append(p.YTicks, tick{p.y(v), short(v)})
	}
}

// shade marks a span of the axis.
func (p *bandPlot) shade(from, to float64, words string) {
	from, to = max(from, p.x0), min(to, p.x1)
	if to > from {
		p.Shade = &plotShade{X: p.x(from), W: p.x(to) - p.x(from), Y: p.Top, H: p.Bottom - p.Top, Words: words}
	}
}

// says writes a range for a person: "0.098 (0.085 to 0.113)".
func says(r interval.Range) string {
	if r.Low == r.High {
		return r.BestText()
	}
	return r.BestText() + " (" + r.Text() + ")"
}
