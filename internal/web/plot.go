package web

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/interval"
)

// plot is a curve of account as the server draws it.
type plot struct {
	account.Curve
	Width, Height, Left, Right, Top, Bottom float64

	XTicks, YTicks []tick
	Paths          []plotLine
	Dots, Here     []plotMark // published values; where one is
	Bars           []plotMark // readings
	Cuts           []float64
	Span           *plotSpan
}

type tick struct {
	At    float64
	Words string
}

// plotLine is one line. Class is "first" or "second": a colour and a stroke.
type plotLine struct{ Class, Words, Line, Band string }

// plotMark is a value. Low and High are the ends of its bar, Diamond what is
// drawn in the place of the dot where it does not agree; Before says that the
// words end at it.
type plotMark struct {
	X, Y, Low, High float64
	Diamond         string
	Before          bool
	Words, Says     string
}

// plotSpan is a shaded span of the axis.
type plotSpan struct {
	X, W  float64
	Words string
}

func plotsOf(curves []account.Curve) []plot {
	var list []plot
	for _, c := range curves {
		list = append(list, plotOf(c))
	}
	return list
}

func plotOf(c account.Curve) plot {
	p := plot{Curve: c, Width: 480, Height: 310, Left: 52, Right: 466, Top: 34, Bottom: 250}
	p.Y, p.YTicks = ticksOf(c.Y, true)
	p.X, p.XTicks = ticksOf(c.X, false)
	for i, t := range p.YTicks {
		p.YTicks[i].At = p.y(t.At)
	}
	for i, t := range p.XTicks {
		p.XTicks[i].At = p.x(t.At)
	}
	for i, l := range c.Lines {
		p.Paths = append(p.Paths, p.path([]string{"first", "second"}[min(i, 1)], l))
	}
	for _, m := range c.Marks {
		p.Dots = append(p.Dots, p.mark(m))
	}
	for _, m := range c.Points {
		p.Here = append(p.Here, p.mark(m))
	}
	for _, m := range c.Readings {
		p.Bars = append(p.Bars, p.mark(m))
	}
	for _, x := range c.Splits {
		p.Cuts = append(p.Cuts, p.x(x))
	}
	if s := c.Shade; s != nil {
		if from, to := max(s.From, p.X.From), min(s.To, p.X.To); to > from {
			p.Span = &plotSpan{p.x(from), p.x(to) - p.x(from), s.Words}
		}
	}
	return p
}

// ticksOf names values of an axis; widen lets it end on the outermost of them.
func ticksOf(a account.Axis, widen bool) (account.Axis, []tick) {
	step, n := a.Each, a.Ticks
	if n == 0 {
		n = 3
	}
	first := a.From
	switch {
	case step > 0:
		first = math.Ceil(a.From/step) * step
	case widen:
		a.From, a.To, step = niceRange(a.From, a.To, n)
		first = a.From
	default:
		_, _, step = niceRange(a.From, a.To, n)
	}
	var list []tick
	for i := 0; first+float64(i)*step <= a.To+step/1000; i++ {
		v := first + float64(i)*step
		list = append(list, tick{v, strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64)})
	}
	return a, list
}

func (p *plot) x(v float64) float64 {
	return p.Left + (v-p.X.From)/(p.X.To-p.X.From)*(p.Right-p.Left)
}

func (p *plot) y(v float64) float64 {
	return p.Bottom - (v-p.Y.From)/(p.Y.To-p.Y.From)*(p.Bottom-p.Top)
}

// PlotHeight is what lies between the axes.
func (p plot) PlotHeight() float64 { return p.Bottom - p.Top }

func (p *plot) path(class string, l account.Series) plotLine {
	var line, up, down []string
	banded := false
	for i, r := range l.R {
		x := p.x(l.X[i])
		line, up = append(line, xy(x, p.y(r.Best))), append(up, xy(x, p.y(r.High)))
		down = append(down, xy(x, p.y(r.Low)))
		banded = banded || r.Low < r.High
	}
	out := plotLine{Class: class, Words: l.Words, Line: "M" + strings.Join(line, "L")}
	if banded {
		slices.Reverse(down)
		out.Band = "M" + strings.Join(append(up, down...), "L") + "Z"
	}
	return out
}

func (p *plot) mark(m account.Mark) plotMark {
	out := plotMark{
		X: p.x(m.X), Y: p.y(m.Y), Low: p.y(m.Y - m.Uncertainty), High: p.y(m.Y + m.Uncertainty),
		Words: m.Words, Says: m.Says, Before: m.X > p.X.From+0.55*(p.X.To-p.X.From),
	}
	if m.Off {
		out.Diamond = fmt.Sprintf("M%s l9 9 l-9 9 l-9 -9 Z", xy(out.X, out.Y-9))
	}
	return out
}

// readingPlots draw each quantity that was read more than once in a run.
func readingPlots(list []readingRow, start time.Time) []plot {
	var plots []plot
	for _, q := range record.Quantities {
		var l account.Series
		var marks []account.Mark
		var y []float64
		for _, r := range list {
			if r.Body.Quantity == q.Value {
				min := r.Body.At.Sub(start).Minutes()
				says := words.English.Quantity(r.Body.Value, q.Unit) + " after " +
					words.English.Quantity(math.Round(min), "min")
				l.X, l.R = append(l.X, min), append(l.R, interval.Exactly(r.Body.Value))
				marks = append(marks, account.Mark{X: min, Y: r.Body.Value, Says: says})
				y = append(y, r.Body.Value)
			}
		}
		if len(marks) < 2 {
			continue
		}
		title := words.Joined(", ", words.English.Upper(q.Words), q.Unit)
		c := account.Curve{
			XTitle: "min", Under: title, Lines: []account.Series{l}, Readings: marks,
			X: account.Axis{To: max(slices.Max(l.X), 1)}, Y: account.Axis{From: slices.Min(y), To: slices.Max(y)},
		}
		c.Says = title + ", over time"
		for _, m := range marks {
			c.Says += "; " + m.Says
		}
		plots = append(plots, plotOf(c))
	}
	return plots
}

// niceRange widens low to high to about n steps of 1, 2 or 5 times a power of
// ten.
func niceRange(low, high float64, n int) (from, to, step float64) {
	if high-low < 1e-9 {
		low, high = low-0.5, high+0.5
	}
	raw := (high - low) / float64(n)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, k := range []float64{1, 2, 5, 10} {
		if step = k * power; step >= raw {
			break
		}
	}
	return math.Floor(low/step) * step, math.Ceil(high/step) * step, step
}
