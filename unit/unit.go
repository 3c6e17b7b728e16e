// Package unit has the quantities that more than one science package speaks of, each
// a type in one stated unit.
package unit

import (
	"math"
	"strconv"

	"benchleaf/interval"
)

type (
	Millilitres float64
	Grams       float64
	Minutes     float64
	Millimetres float64
	Celsius     float64
	// Humidity is the relative humidity of air as a fraction: 0.5 is 50 %.
	Humidity float64
)

// Text writes a volume with the digits that it has: "355 mL", "12.5 mL".
func (v Millilitres) Text() string {
	return strconv.FormatFloat(math.Round(float64(v)*1000)/1000, 'f', -1, 64) + " mL"
}

// Text writes a time for a person: "9 min", "1.5 h", "15 h".
func (m Minutes) Text() string {
	switch v := float64(m); {
	case v < 1:
		return interval.Digits(v*60, v*60) + " s"
	case v < 90:
		return interval.Digits(v, v) + " min"
	case v < 48*60:
		return interval.Digits(v/60, v/60) + " h"
	default:
		return interval.Digits(v/1440, v/1440) + " days"
	}
}
