package schedule

import (
	"context"
	"slices"
)

// sum keeps the sum of some sides at most most: how late tasks are, or how long
// sheets are wet. most only ever falls, so what was learnt stays true.
type sum struct {
	terms []side
	most  int64
}

func (c *sum) propagate(e *engine) bool {
	low := int64(0)
	for _, s := range c.terms {
		low += int64(e.low[s])
	}
	if low > c.most {
		e.conflict = c.why(e, -1, e.conflict[:0])
		return false
	}
	for i, s := range c.terms {
		room := c.most - low + int64(e.low[s]) // the most that this one can be
		if int64(-e.low[s.other()]) <= room {
			continue
		}
		from := int32(len(e.arena))
		e.arena = c.why(e, i, e.arena)
		if !e.raise(literal{s.other(), int32(-room)}, reason{start: from, end: int32(len(e.arena))}) {
			return false
		}
	}
	return true
}

// why appends that all terms but one are at least what they are.
func (c *sum) why(e *engine, but int, to []literal) []literal {
	for i, s := range c.terms {
		if i != but {
			to = append(to, literal{s, e.low[s]})
		}
	}
	return to
}

// refine makes a schedule less late, and then sheets less long wet, while it ends when
// it does. It reports what was proven.
func (s *solver) refine(ctx context.Context) (late, wet bool) {
	stop := func() bool { return ctx.Err() != nil }
	s.delay()
	m, tardy := s.ending()
	late = s.least(m, tardy, func(c cost) int { return c.late }, stop)
	if len(s.p.Wet) == 0 || stop() {
		return late, late && len(s.p.Wet) == 0
	}
	m, tardy = s.ending()
	tardy.most = int64(s.p.cost(s.best).late)
	m.use(tardy, tardy.terms...)
	lying, lasts := &sum{}, 0
	for _, w := range s.p.Wet {
		lying.terms = append(lying.terms, side(2*m.start[w.To]), side(2*m.start[w.From]+1))
		lasts += s.p.Tasks[w.To].Duration
	}
	return late, s.least(m, lying, func(c cost) int { return c.wet - lasts }, stop) && late
}

// ending is a model of the schedules that end when the best does, with how late its
// tasks are.
func (s *solver) ending() (*model, *sum) {
	m, tardy := newModel(s.p, s.horizon, s.dist, s.seed+3), &sum{}
	for i := range s.p.Tasks {
		t := &s.p.Tasks[i]
		if t.Due == NoLimit {
			continue
		}
		x := m.add(0, s.horizon+int32(t.Duration), false)
		m.lag(m.start[i], x, int32(t.Duration-t.Due), always)
		m.raise(atLeast(x, m.min(m.start[i])+int32(t.Duration-t.Due)), reason{})
		tardy.terms = append(tardy.terms, side(2*x))
	}
	m.require(atMost(m.end, s.high))
	return m, tardy
}

// least makes a sum as small as can be; it reports whether that is proven.
func (s *solver) least(m *model, c *sum, of func(cost) int, stop func() bool) bool {
	if len(c.terms) == 0 {
		return true
	}
	c.most = int64(of(s.p.cost(s.best))) - 1
	m.use(c, c.terms...)
	m.guide(s.best)
	for i := int64(1); !stop() && !m.dead; {
		switch m.search(active, 200*luby(i), stop) {
		case empty:
			return true
		case stopped:
			i++
			continue
		}
		starts := m.starts()
		s.best = starts
		c.most = int64(of(s.p.cost(starts))) - 1
		m.backTo(0)
		m.askAll()
	}
	return m.dead
}

// delay puts off what makes sheets wet as long as nothing else has to move, the last
// tasks first.
func (s *solver) delay() {
	if len(s.p.Wet) == 0 {
		return
	}
	best := s.p.cost(s.best)
	starts := slices.Clone(s.best)
	k := newPacking(s.p, false)
	k.lay(starts)
	order := make([]int, k.n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return starts[b] - starts[a] })
	wetting := make([]bool, len(k.groups))
	for _, w := range s.p.Wet {
		wetting[k.group[w.From]] = true
	}
	for range 2 {
		for _, i := range order {
			if k.pinned[i] || !wetting[k.group[i]] {
				continue
			}
			k.lift(i, starts[i])
			starts[i] = k.latest(s.p, i, starts, best.end)
			k.put(i, starts[i])
		}
	}
	if c := s.p.cost(starts); c.less(best) && s.p.Check(starts) == nil {
		s.best = starts
	}
}

// lay puts all tasks where they start.
func (k *packing) lay(starts []int) {
	for r := range k.shelf {
		k.shelf[r].clear(k.room[r])
		for _, a := range merged(k.away[r]) {
			k.shelf[r].take(a.From, a.To, k.room[r])
		}
	}
	for i := range k.n {
		k.put(i, starts[i])
	}
}

// lift takes task i, which starts at t, away again.
func (k *packing) lift(i, t int) {
	for _, u := range k.uses[i] {
		k.shelf[u.resource].take(t, t+k.length[i], -u.units)
	}
}

// latest is the latest start of task i, where all others stay.
func (k *packing) latest(p *Problem, i int, starts []int, end int) int {
	last := end - k.length[i]
	if k.last[i] != NoLimit {
		last = min(last, k.last[i]-k.length[i])
	}
	if d := p.Tasks[i].Due; d != NoLimit {
		last = min(last, max(starts[i], d-k.length[i]))
	}
	for _, a := range k.out[i] {
		last = min(last, starts[a.to]-a.min)
	}
	for t := last; t > starts[i]; {
		free, ok := k.fits(i, t)
		if ok && free == t {
			return t
		}
		t = k.sooner(i, t)
	}
	return starts[i]
}

// sooner is the next start before t at which a task may just end in time for what
// stands in its way.
func (k *packing) sooner(i, t int) int {
	next := t - 1
	for _, u := range k.uses[i] {
		f := &k.shelf[u.resource]
		for at := f.index(t + k.length[i] - 1); at >= 0 && f.at[at]+k.length[i] > t; at-- {
			if f.free[at] < u.units {
				next = min(next, f.at[at]-k.length[i])
				break
			}
		}
	}
	return next
}
