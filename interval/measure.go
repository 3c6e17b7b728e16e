package interval

import (
	"cmp"
	"math"
	"slices"
)

// measure is a growing function of an output, straight between its knots, in which the
// output is nearer to a quadratic of the inputs: a titration's jump drawn out, its flat
// ends drawn together.
type measure struct{ from, to []float64 }

// bins that a measure is fitted in, each with as much weight as another.
const bins = 16

// at is the measure of an output; beyond the knots it goes on as between the last two.
func (m measure) at(v float64) float64 {
	if len(m.from) < 2 {
		return v
	}
	i, _ := slices.BinarySearch(m.from, v)
	i = min(max(i, 1), len(m.from)-1)
	share := (v - m.from[i-1]) / (m.from[i] - m.from[i-1])
	return m.to[i-1] + share*(m.to[i]-m.to[i-1])
}

// observed is a reading in the measure.
func (m measure) observed(o Observed) Observed {
	return Observed{m.at(o.Value), (m.at(o.Value+o.Standard) - m.at(o.Value-o.Standard)) / 2}
}

// measureOf is the mean of what is emulated for outputs near each output, made growing
// (pool adjacent violators): one half step of the alternating conditional expectations
// of Breiman and Friedman (J. Am. Stat. Assoc. 80, 580, 1985).
func measureOf(outputs, emulated, weight []float64) measure {
	order := make([]int, len(outputs))
	all := 0.0
	for i := range order {
		order[i] = i
		all += weight[i]
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(outputs[a], outputs[b]) })
	type bin struct{ from, to, weight float64 }
	var list []bin
	join := func() { // the last two, while they do not grow
		for n := len(list); n > 1; n = len(list) {
			a, b := list[n-2], list[n-1]
			if b.from > a.from && b.to > a.to {
				return
			}
			w := a.weight + b.weight
			list = append(list[:n-2], bin{
				(a.from*a.weight + b.from*b.weight) / w, (a.to*a.weight + b.to*b.weight) / w, w,
			})
		}
	}
	var now bin
	for _, i := range order {
		now.weight += weight[i]
		now.from += weight[i] * outputs[i]
		now.to += weight[i] * emulated[i]
		if now.weight >= all/bins {
			list = append(list, bin{now.from / now.weight, now.to / now.weight, now.weight})
			now = bin{}
			join()
		}
	}
	if now.weight > 0 {
		list = append(list, bin{now.from / now.weight, now.to / now.weight, now.weight})
		join()
	}
	var m measure
	for _, b := range list {
		m.from, m.to = append(m.from, b.from), append(m.to, b.to)
	}
	return m
}

// scores are the normal scores of the outputs' weighted ranks.
func scores(outputs, weight []float64) []float64 {
	order := make([]int, len(outputs))
	all := 0.0
	for i := range order {
		order[i] = i
		all += weight[i]
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(outputs[a], outputs[b]) })
	to := make([]float64, len(outputs))
	below := 0.0
	for _, i := range order {
		p := (below + weight[i]/2) / all
		to[i] = math.Sqrt2 * math.Erfinv(2*min(max(p, 1e-4), 1-1e-4)-1)
		below += weight[i]
	}
	return to
}
