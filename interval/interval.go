// Package interval holds a value with the span it is believed to lie in, and
// the sampling that carries such spans through a calculation.
//
// A Range is a best value with its 10 % and 90 % points. A Study is a function
// of several ranges, worked out by Latin hypercube sampling (McKay, Beckman and
// Conover, Technometrics 21, 239, 1979): each input's distribution is cut into
// as many slices of equal probability as there are samples, and each slice is
// used once. The same seed gives the same numbers on every machine.
//
// It is arithmetic that every science package rests on, so it stands below
// them all and knows none of them.
package interval

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
)

// z90 is the 90 % point of the standard normal distribution.
const z90 = 1.2815515655446004

// Range is a quantity with its uncertainty: it is believed to be below Low
// with 10 % and above High with 10 % probability. Low <= Best <= High. The
// unit is that of the field that holds it.
type Range struct {
	Low  float64 `json:"low"`
	Best float64 `json:"best"`
	High float64 `json:"high"`
}

// Exactly is a value taken as certain.
func Exactly(v float64) Range { return Range{v, v, v} }

// Within is a best value that may be off by plus or minus d.
func Within(best, d float64) Range {
	d = math.Abs(d)
	return Range{best - d, best, best + d}
}

// FromStandard is a best value with standard uncertainty u, normally
// distributed: the range is 1.28 u either way.
func FromStandard(best, u float64) Range { return Within(best, z90*math.Abs(u)) }

// Standard is half the width of the range in standard deviations of a normal
// distribution, for sums by root of squares.
func (r Range) Standard() float64 { return (r.High - r.Low) / (2 * z90) }

// Scale multiplies by k.
func (r Range) Scale(k float64) Range {
	if k < 0 {
		return Range{r.High * k, r.Best * k, r.Low * k}
	}
	return Range{r.Low * k, r.Best * k, r.High * k}
}

// Relative is half the width as a share of the best value, or 0 when that is 0.
func (r Range) Relative() float64 {
	if r.Best == 0 {
		return 0
	}
	return (r.High - r.Low) / (2 * math.Abs(r.Best))
}

// Holds says whether v lies in the range, ends included.
func (r Range) Holds(v float64) bool { return r.Low <= v && v <= r.High }

// IsZero says whether the range was never set.
func (r Range) IsZero() bool { return r == Range{} }

// Check refuses a range that is not finite or not in order. what names it in
// the sentence.
func (r Range) Check(what string) error {
	for _, v := range []float64{r.Low, r.Best, r.High} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%s is not a number", what)
		}
	}
	if r.Low > r.Best || r.Best > r.High {
		return fmt.Errorf(
			"%s runs from %s by %s to %s: the low end must not be above the best value, nor that above the high end",
			what,
			plain(r.Low),
			plain(r.Best),
			plain(r.High),
		)
	}
	return nil
}

// CheckWithin is Check, and refuses what reaches outside min to max.
func (r Range) CheckWithin(what string, min, max float64, unit string) error {
	if err := r.Check(what); err != nil {
		return err
	}
	if r.Low < min || r.High > max {
		if unit != "" {
			unit = " " + unit
		}
		return fmt.Errorf(
			"%s must lie between %s and %s%s, not at %s to %s",
			what,
			plain(min),
			plain(max),
			unit,
			plain(r.Low),
			plain(r.High),
		)
	}
	return nil
}

// Quantile is the value that the quantity is below with probability p, 0 < p
// < 1: a split normal distribution through the three points, on a logarithmic
// scale when all three are positive and not a rounding apart from 0, so that a quantity
// that cannot be negative does not become so.
func (r Range) Quantile(p float64) float64 {
	z := math.Sqrt2 * math.Erfinv(2*p-1) / z90
	side := r.High
	if z < 0 {
		side = r.Low
	}
	if side == r.Best {
		return r.Best
	}
	if r.logarithmic() {
		return r.Best * math.Pow(side/r.Best, math.Abs(z))
	}
	return r.Best + math.Abs(z)*(side-r.Best)
}

// logarithmic says that the quantity is spread in its logarithm. A low end more than
// twelve decades below the high one is 0 with a rounding: its logarithm means nothing.
func (r Range) logarithmic() bool { return r.Low > 0 && r.High/r.Low < 1e12 }

func plain(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// UnmarshalJSON reads a range from {"low": 1, "best": 2, "high": 3}, from
// [1, 2, 3], or from a lone number, which is taken as certain.
func (r *Range) UnmarshalJSON(data []byte) error {
	var one float64
	if json.Unmarshal(data, &one) == nil {
		*r = Exactly(one)
		return nil
	}
	var three []float64
	if json.Unmarshal(data, &three) == nil {
		if len(three) != 3 {
			return fmt.Errorf("a range has three numbers, low, best and high, not %d", len(three))
		}
		*r = Range{three[0], three[1], three[2]}
		return nil
	}
	type plainRange struct {
		Low, Best, High *float64
	}
	var p plainRange
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&p); err != nil || p.Low == nil || p.Best == nil || p.High == nil {
		return fmt.Errorf(
			"a range is a number, or [low, best, high], or {\"low\": , \"best\": , \"high\": }, not %.60s",
			data,
		)
	}
	*r = Range{*p.Low, *p.Best, *p.High}
	return nil
}
