package schedule

import (
	"math"
	"math/rand/v2"
	"slices"
)

// large looks for good schedules of problems too large to be searched through: it
// packs groups of tasks in an order, backwards and forwards in time by turns, each
// turn in the order that the one before gave (Li and Willis, European Journal of
// Operational Research 56, 1992), and disturbs the order of what it keeps (large-
// neighbourhood search with a falling threshold).
type large struct {
	p             *Problem
	ahead, back   *packing
	rng           *rand.Rand
	keys, keysB   []int
	starts, other []int
	now, best     []int // keys of what is walked from; best starts
	cost, least   cost
	heat          float64
}

// cost orders schedules: what they break, then when they end, then how late they
// are, then how long sheets are wet.
type cost struct{ over, end, late, wet int }

func (a cost) less(b cost) bool {
	switch {
	case a.over != b.over:
		return a.over < b.over
	case a.end != b.end:
		return a.end < b.end
	case a.late != b.late:
		return a.late < b.late
	}
	return a.wet < b.wet
}

var noCost = cost{over: math.MaxInt / 2}

func newLarge(p *Problem, seed uint64) *large {
	l := &large{
		p: p, ahead: newPacking(p, false), back: newPacking(p, true), rng: rand.New(rand.NewPCG(seed, 0x5eed)),
		starts: make([]int, len(p.Tasks)), other: make([]int, len(p.Tasks)), cost: noCost, least: noCost, heat: 0.03,
	}
	l.keys, l.keysB = make([]int, len(l.ahead.groups)), make([]int, len(l.back.groups))
	return l
}

// begin packs by a schedule that is known (nil: none), or by rules of thumb: what
// takes the most work to its end first, in the order of the list, and by chance.
func (l *large) begin(known []int) {
	if known != nil {
		l.keysFrom(known)
		l.walk(l.try())
	}
	n := len(l.keys)
	work := make([]int, n)
	for g, list := range l.ahead.groups {
		for _, i := range list {
			work[g] -= l.ahead.length[i] * (1 + len(l.ahead.uses[i]))
		}
	}
	rules := 6
	if known != nil && l.least.over == 0 {
		rules = 0
	}
	for rule := range rules {
		for g := range l.keys {
			switch rule {
			case 0:
				l.keys[g] = l.ahead.groups[g][0]
			case 1:
				l.keys[g] = work[g]
			case 2:
				l.keys[g] = -work[g]
			default:
				l.keys[g] = l.rng.IntN(1 << 20)
			}
		}
		l.walk(l.try())
	}
}

// keysFrom orders the groups by when they start.
func (l *large) keysFrom(starts []int) {
	for g, list := range l.ahead.groups {
		l.keys[g] = math.MaxInt
		for _, i := range list {
			l.keys[g] = min(l.keys[g], starts[i])
			if l.ahead.pinned[i] {
				l.keys[g] = math.MinInt / 2
				break
			}
		}
	}
}

// try packs by keys, then backwards and forwards again; starts is the better one.
func (l *large) try() cost {
	c := l.forth()
	if c.over >= noCost.over {
		return c
	}
	end := c.end
	if end > l.least.end+l.least.end/12 && l.now != nil {
		return c // not worth another look
	}
	for g, list := range l.back.groups {
		l.keysB[g] = math.MaxInt
		for _, i := range list {
			l.keysB[g] = min(l.keysB[g], end-l.starts[i]-l.back.length[i])
		}
	}
	if _, ok := l.back.pack(l.keysB, end, l.other); !ok {
		return c
	}
	for i := range l.other {
		l.other[i] = end - l.other[i] - l.back.length[i]
	}
	kept, keys := slices.Clone(l.starts), slices.Clone(l.keys)
	l.keysFrom(l.other)
	if d := l.forth(); d.less(c) {
		return d
	}
	copy(l.starts, kept)
	copy(l.keys, keys)
	return c
}

func (l *large) forth() cost {
	over, ok := l.ahead.pack(l.keys, -1, l.starts)
	if !ok {
		return noCost
	}
	c := l.p.cost(l.starts)
	c.over = over
	return c
}

// walk takes the schedule that was just packed when it is good enough, and keeps it
// when it is the best.
func (l *large) walk(c cost) {
	if c.less(l.least) {
		l.least, l.best = c, slices.Clone(l.starts)
	}
	worse := float64(c.end) - float64(l.cost.end)
	if !l.cost.less(c) || c.over <= l.cost.over && worse < l.heat*float64(l.cost.end)*l.rng.ExpFloat64() {
		l.cost = c
		l.keysFrom(l.starts)
		l.now = append(l.now[:0], l.keys...)
	}
}

// from goes on from a schedule that another search found.
func (l *large) from(starts []int) {
	l.best, l.least = slices.Clone(starts), l.p.cost(starts)
	l.cost = l.least
	l.keysFrom(starts)
	l.now = append(l.now[:0], l.keys...)
}

// turn packs so often in disturbed orders.
func (l *large) turn(packs int, stop func() bool) {
	if l.now == nil {
		return
	}
	n := len(l.keys)
	span := max(1, l.cost.end)
	for range packs {
		if stop() {
			return
		}
		copy(l.keys, l.now)
		switch l.rng.IntN(3) {
		case 0: // a few anywhere
			for range 1 + l.rng.IntN(3) {
				l.keys[l.rng.IntN(n)] = l.rng.IntN(span)
			}
		case 1: // two change places
			a, b := l.rng.IntN(n), l.rng.IntN(n)
			l.keys[a], l.keys[b] = l.keys[b], l.keys[a]
		default: // all within a stretch of time
			from, wide := l.rng.IntN(span), span/20+l.rng.IntN(span/5+1)
			for g, v := range l.keys {
				if v >= from && v < from+wide {
					l.keys[g] = from + l.rng.IntN(wide+1)
				}
			}
		}
		l.walk(l.try())
	}
	l.heat *= 0.9
	if l.heat < 0.0005 {
		l.heat = 0.02
		l.cost = l.least
		l.keysFrom(l.best)
		l.now = append(l.now[:0], l.keys...)
	}
}

// cost of starts, without what they break.
func (p *Problem) cost(starts []int) cost {
	c := cost{end: p.Makespan(starts)}
	for i := range p.Tasks {
		if t := &p.Tasks[i]; t.Due != NoLimit {
			c.late += max(0, starts[i]+t.Duration-t.Due)
		}
	}
	for _, w := range p.Wet {
		c.wet += starts[w.To] + p.Tasks[w.To].Duration - starts[w.From]
	}
	return c
}
