package demo

import "benchleaf/condition"

// spotAt is one point on a face, in mm from its left edge and its head.
func spotAt(xMm, yMm float64) []condition.Shape {
	return []condition.Shape{{Form: condition.Spot, Points: []condition.Point{{XMm: xMm, YMm: yMm}}}}
}
