package schedule

import (
	"cmp"
	"slices"
)

// usage is what a task takes of a resource while it runs.
type usage struct {
	start         int32 // the quantity
	length, units int32
}

// cumulative keeps the use of a resource within its capacity by its timetable: the
// parts of tasks that lie fast whatever their start. What it concludes it explains
// at one moment each (pointwise; Schutt, Feydy, Stuckey and Wallace, Explaining the
// cumulative propagator, Constraints 16, 2011).
type cumulative struct {
	capacity int32
	uses     []usage

	events  []event
	profile []segment
	at      []usage
}

type event struct{ t, units int32 }

// segment is a stretch of time of one height.
type segment struct{ from, to, height int32 }

func (c *cumulative) propagate(e *engine) bool {
	c.build(e)
	for _, s := range c.profile {
		if s.height > c.capacity {
			e.conflict = c.full(e, s.from, none, c.capacity, e.conflict[:0])
			return false
		}
	}
	for _, u := range c.uses {
		if !e.fixed(u.start) && (!c.later(e, u) || !c.sooner(e, u)) {
			return false
		}
	}
	return true
}

// build makes the profile of what lies fast.
func (c *cumulative) build(e *engine) {
	c.events, c.profile = c.events[:0], c.profile[:0]
	for _, u := range c.uses {
		if from, to := e.max(u.start), e.min(u.start)+u.length; from < to {
			c.events = append(c.events, event{from, u.units}, event{to, -u.units})
		}
	}
	slices.SortFunc(c.events, func(a, b event) int { return cmp.Compare(a.t, b.t) })
	height := int32(0)
	for i, v := range c.events {
		height += v.units
		if i+1 < len(c.events) && c.events[i+1].t > v.t && height > 0 {
			c.profile = append(c.profile, segment{v.t, c.events[i+1].t, height})
		}
	}
}

// full appends what fills the resource above a limit at t, without the task of
// skip: the greatest first, as few as do.
func (c *cumulative) full(e *engine, t int32, skip side, limit int32, to []literal) []literal {
	c.at = c.at[:0]
	for _, u := range c.uses {
		if e.max(u.start) <= t && t < e.min(u.start)+u.length && side(u.start) != skip {
			c.at = append(c.at, u)
		}
	}
	slices.SortStableFunc(c.at, func(a, b usage) int { return cmp.Compare(b.units, a.units) })
	sum := int32(0)
	for _, u := range c.at {
		to = append(to, atMost(u.start, t), atLeast(u.start, t-u.length+1))
		if sum += u.units; sum > limit {
			break
		}
	}
	return to
}

// overlaps says whether the profile leaves no room for u in s, own part apart.
func (c *cumulative) blocks(e *engine, s segment, u usage) bool {
	if s.height+u.units <= c.capacity {
		return false
	}
	from, to := e.max(u.start), e.min(u.start)+u.length
	return from >= to || s.from < from || s.to > to
}

// later raises the earliest start past what leaves no room.
func (c *cumulative) later(e *engine, u usage) bool {
	k, _ := slices.BinarySearchFunc(c.profile, e.min(u.start), func(s segment, t int32) int {
		if s.to <= t {
			return -1
		}
		return 1
	})
	for k < len(c.profile) {
		s, start := c.profile[k], e.min(u.start)
		if s.from >= start+u.length {
			return true
		}
		if s.to <= start || !c.blocks(e, s, u) {
			k++
			continue
		}
		t := min(s.to, start+u.length) - 1
		from := int32(len(e.arena))
		e.arena = c.full(e, t, side(u.start), c.capacity-u.units, append(e.arena, atLeast(u.start, t-u.length+1)))
		if !e.raise(atLeast(u.start, t+1), reason{start: from, end: int32(len(e.arena))}) {
			return false
		}
	}
	return true
}

// sooner lowers the latest start below what leaves no room.
func (c *cumulative) sooner(e *engine, u usage) bool {
	k, _ := slices.BinarySearchFunc(c.profile, e.max(u.start)+u.length, func(s segment, t int32) int {
		if s.from < t {
			return -1
		}
		return 1
	})
	for k--; k >= 0; {
		s, end := c.profile[k], e.max(u.start)+u.length
		if s.to <= end-u.length {
			return true
		}
		if s.from >= end || !c.blocks(e, s, u) {
			k--
			continue
		}
		t := max(s.from, end-u.length)
		from := int32(len(e.arena))
		e.arena = c.full(e, t, side(u.start), c.capacity-u.units, append(e.arena, atMost(u.start, t)))
		if !e.raise(atMost(u.start, t-u.length), reason{start: from, end: int32(len(e.arena))}) {
			return false
		}
	}
	return true
}
