package account

import (
	"math"

	"benchleaf/interval"
)

// Curve is a plot as numbers: lines with their bands over an axis, marks and
// readings over them. Whoever draws it needs no science.
type Curve struct {
	Name           string // what a page calls it
	XTitle, YTitle string // a quantity or its unit, with the ends of the axes
	X, Y           Axis
	Lines          []Series
	Marks          []Mark // published values
	Points         []Mark // where one is
	Readings       []Mark // measured, with their uncertainty
	Splits         []float64
	Shade          *Shade
	Says           string // for those who hear it
	Under          string // for all
}

// Axis is a span of values; Ticks is about how many of them are named.
type Axis struct {
	From, To float64
	Ticks    int
	Each     float64 // a tick at every such step; 0: at even figures
}

// Series is a line with its 10 to 90 % band.
type Series struct {
	Words string
	X     []float64
	R     []interval.Range
}

// Mark is one value. Uncertainty is for 95 %, 0 for none; Off says that it does
// not agree with the line.
type Mark struct {
	X, Y, Uncertainty float64
	Off               bool
	Words, Says       string
}

// Shade is a span of the axis with words.
type Shade struct {
	From, To float64
	Words    string
}

func (l *Series) add(x float64, r interval.Range) { l.X, l.R = append(l.X, x), append(l.R, r) }

// last is where a line ends.
func (l *Series) last() interval.Range { return l.R[len(l.R)-1] }

// bounds are the lowest low and the highest high of lines that have points.
func bounds(lines ...Series) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, l := range lines {
		for _, r := range l.R {
			low, high = math.Min(low, r.Low), math.Max(high, r.High)
		}
	}
	return low, high
}

// phAxis holds low to high in whole units of pH, three at least.
func phAxis(low, high float64) Axis {
	high = math.Min(14, math.Ceil(high))
	low = math.Max(0, math.Min(math.Floor(low), high-3))
	step := 1.0
	if high-low > 6 {
		step, low = 2, high-2*math.Ceil((high-low)/2)
	}
	return Axis{From: low, To: high, Each: step}
}
