package schedule

import (
	"cmp"
	"slices"
)

// mostEnergy is the most tasks of a resource of which whole sets are looked at all
// through the search: it takes time by their square. Of more they are looked at
// before the first decisions alone, for the bound.
const mostEnergy = 64

// energy looks at sets of tasks of a resource that must lie in a stretch of time:
// more work than room there is a conflict, and on a resource that one task fills, a
// task that cannot be among or before them comes after them all (edge finding:
// Carlier and Pinson, Management Science 35, 1989; explanations after Vilím,
// Computing explanations for the unary resource constraint, CPAIOR 2005).
type energy struct {
	capacity int32
	uses     []usage
	unary    bool

	byEnd []job
}

// job is a task as seen in one direction of time.
type job struct {
	from, to     side // sides that bound its earliest start and, mirrored, its latest end
	start, end   int32
	length, work int32
}

func (c *energy) propagate(e *engine) bool {
	if len(c.uses) > mostEnergy && e.level() > 1 {
		return true
	}
	return c.look(e, 0) && (!c.unary || c.look(e, 1))
}

// look works in one direction: 0 as time runs, 1 with its ends changed over, in
// which a task starts where it ends.
func (c *energy) look(e *engine, mirror side) bool {
	jobs := c.byEnd[:0]
	for _, u := range c.uses {
		j := job{length: u.length, work: u.length * u.units}
		if mirror == 0 {
			j.from, j.to = side(2*u.start), side(2*u.start+1)
			j.start, j.end = e.min(u.start), e.max(u.start)+u.length
		} else {
			j.from, j.to = side(2*u.start+1), side(2*u.start)
			j.start, j.end = -(e.max(u.start) + u.length), -e.min(u.start)
		}
		jobs = append(jobs, j)
	}
	slices.SortStableFunc(jobs, func(a, b job) int { return cmp.Compare(a.end, b.end) })
	c.byEnd = jobs
	for k := range jobs {
		if k > 0 && jobs[k].start == jobs[k-1].start {
			continue
		}
		if !c.after(e, jobs[k].start, mirror) {
			return false
		}
	}
	return true
}

// after looks at the sets of tasks that cannot start before a.
func (c *energy) after(e *engine, a int32, mirror side) bool {
	jobs := c.byEnd
	work := int32(0)
	for k := range jobs {
		j := &jobs[k]
		if j.start < a {
			continue
		}
		work += j.work
		if room := c.capacity * (j.end - a); work > room {
			// As late an end as would still be too soon, so that more is learnt.
			e.conflict = c.set(k, a, a+(work-1)/c.capacity, mirror, e.conflict[:0])
			return false
		}
		if !c.unary || k+1 < len(jobs) && jobs[k+1].end == j.end {
			continue
		}
		if !c.push(e, k, a, work, mirror) {
			return false
		}
	}
	return true
}

// push moves tasks behind the set of those that start at a or later and end by that
// of k.
func (c *energy) push(e *engine, k int, a, work int32, mirror side) bool {
	jobs, b := c.byEnd, c.byEnd[k].end
	for i := k + 1; i < len(jobs); i++ {
		x := &jobs[i]
		begin := min(a, x.start)
		if work+x.work <= b-begin || a+work <= x.start {
			continue
		}
		// Neither first nor among them: it starts when all are done. That it does not
		// start before b+1-work-x.work is enough for it.
		from := int32(len(e.arena))
		e.arena = c.set(k, a, b, mirror, e.arena)
		e.arena = append(e.arena, x.startsAt(b+1-work-x.work, mirror))
		if !e.raise(x.startsAt(a+work, mirror), reason{start: from, end: int32(len(e.arena))}) {
			return false
		}
	}
	return true
}

// set appends why the tasks of byEnd up to k that start at a or later lie between a
// and b.
func (c *energy) set(k int, a, b int32, mirror side, to []literal) []literal {
	for i := range k + 1 {
		if j := &c.byEnd[i]; j.start >= a {
			to = append(to, j.startsAt(a, mirror), j.endsBy(b, mirror))
		}
	}
	return to
}

// startsAt says that the job starts at t or later; in mirrored time its start is
// the opposite of its end.
func (j *job) startsAt(t int32, mirror side) literal {
	if mirror == 0 {
		return literal{j.from, t}
	}
	return literal{j.from, t + j.length}
}

// endsBy says that the job ends at t or sooner.
func (j *job) endsBy(t int32, mirror side) literal {
	if mirror == 0 {
		return literal{j.to, j.length - t}
	}
	return literal{j.to, -t}
}
