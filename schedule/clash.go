package schedule

import (
	"context"
	"fmt"
	"slices"
)

// limit is one thing that a problem asks, which can be left away.
type limit struct {
	say  string
	drop func(*Problem)
}

// limits lists what could be left away of p: lags, deadlines, releases, absences,
// and how many of a resource there are.
func (p *Problem) limits() []limit {
	var list []limit
	name := func(i int) string { return p.Tasks[i].name(i) }
	for i, l := range p.Lags {
		say := fmt.Sprintf("%s starts at least %d after %s starts", name(l.To), l.Min, name(l.From))
		if l.Min < 0 {
			say = fmt.Sprintf("%s starts at most %d after %s starts", name(l.From), -l.Min, name(l.To))
		}
		list = append(list, limit{say, func(q *Problem) { q.Lags[i] = Lag{From: l.From, To: l.To, Min: -MostTime} }})
	}
	for i, t := range p.Tasks {
		if t.Deadline != NoLimit {
			list = append(list, limit{fmt.Sprintf("%s, of %d, ends by %d", name(i), t.Duration, t.Deadline),
				func(q *Problem) { q.Tasks[i].Deadline = NoLimit }})
		}
		if t.Release > 0 {
			list = append(list, limit{fmt.Sprintf("%s starts at %d or later", name(i), t.Release),
				func(q *Problem) { q.Tasks[i].Release = 0 }})
		}
	}
	for k, r := range p.Resources {
		list = append(list, limit{fmt.Sprintf("there are %d of %s", r.Capacity, r.name(k)), func(q *Problem) {
			for i := range q.Tasks {
				if k < len(q.Tasks[i].Uses) {
					q.Tasks[i].Uses[k] = 0
				}
			}
			q.Resources[k].Away = nil
		}})
		for _, a := range r.Away {
			list = append(list, limit{fmt.Sprintf("%s is away from %d to %d", r.name(k), a.From, a.To), func(q *Problem) {
				q.Resources[k].Away = slices.DeleteFunc(q.Resources[k].Away, func(b Span) bool { return a == b })
			}})
		}
	}
	return list
}

// Clash finds, in a problem that has no schedule, limits that contradict each other
// and of which none can be left away: without any one of them the rest can be kept
// (an irreducible set; Junker, QuickXplain, AAAI 2004). Where ctx ends before,
// least is false and the set may be larger than need be.
//
// It first finds a set that is refuted without any search, since most are, and then
// leaves away what search shows to be needless.
func (p *Problem) Clash(ctx context.Context) (say []string, least bool) {
	c := &clashing{ctx: ctx, p: p, all: p.limits(), least: true, light: true}
	core := make([]int, len(c.all))
	for i := range core {
		core[i] = i
	}
	if c.possible(core) == empty {
		core = c.explain(nil, nil, core)
	}
	c.light = false
	if c.possible(nil) != empty {
		core = c.explain(nil, nil, core)
		slices.Sort(core)
		for _, i := range core {
			say = append(say, c.all[i].say)
		}
	}
	return say, c.least
}

type clashing struct {
	ctx   context.Context
	p     *Problem
	all   []limit
	least bool
	light bool // without search
}

// explain finds which of some limits clash with those of base, of which more was
// just added.
func (c *clashing) explain(base, more, some []int) []int {
	if len(more) > 0 && c.possible(base) == empty {
		return nil
	}
	if len(some) <= 1 {
		return some
	}
	half := len(some) / 2
	second := c.explain(slices.Concat(base, some[:half]), some[:half], some[half:])
	first := c.explain(slices.Concat(base, second), second, some[:half])
	return slices.Concat(first, second)
}

// possible says whether a schedule keeps the limits of kept, and whatever else
// belongs to the tasks. What is not known in time counts as possible, so that what
// is named always clashes.
func (c *clashing) possible(kept []int) outcome {
	if c.ctx.Err() != nil {
		c.least = false
		return stopped
	}
	q := c.left(kept)
	if len(q.Tasks) == 0 {
		return found
	}
	horizon := q.horizon()
	if c.light {
		m := modelOf(q, horizon, nil, 0, false)
		if m.dead || !m.propagate() {
			return empty
		}
		return stopped
	}
	var dist [][]int32
	if len(q.Tasks) <= 600 {
		d, ok := q.distances()
		if !ok {
			return empty
		}
		dist = d
	}
	m := newModel(q, horizon, dist, 0)
	got := stopped
	for i := int64(1); got == stopped && i < 200 && c.ctx.Err() == nil; i++ {
		got = m.search(active, 100*luby(i), func() bool { return c.ctx.Err() != nil })
	}
	if got == stopped {
		c.least = false
	}
	return got
}

// left is the problem with the limits of kept alone, without the tasks that none of
// them ties to a time: those can come when all else is done.
func (c *clashing) left(kept []int) *Problem {
	q := c.p.clone()
	keep := make([]bool, len(c.all))
	for _, i := range kept {
		keep[i] = true
	}
	for i, l := range c.all {
		if !keep[i] {
			l.drop(q)
		}
	}
	q.Lags = slices.DeleteFunc(q.Lags, func(l Lag) bool { return l.Min == -MostTime })
	tied := make([]bool, len(q.Tasks))
	for i := range q.Tasks {
		tied[i] = q.Tasks[i].Deadline != NoLimit
		for k := range q.Resources {
			tied[i] = tied[i] || q.Tasks[i].Duration > 0 && q.Tasks[i].uses(k) > q.Resources[k].Capacity
		}
	}
	for _, l := range q.Lags {
		tied[l.From], tied[l.To] = true, true
	}
	at := make([]int, len(q.Tasks))
	var tasks []Task
	for i, is := range tied {
		if at[i] = len(tasks); is {
			tasks = append(tasks, q.Tasks[i])
		}
	}
	for i := range q.Lags {
		l := &q.Lags[i]
		l.From, l.To = at[l.From], at[l.To]
	}
	q.Tasks = tasks
	return q
}

func (p *Problem) clone() *Problem {
	q := &Problem{
		Tasks: slices.Clone(p.Tasks), Resources: slices.Clone(p.Resources), Lags: slices.Clone(p.Lags),
		Wet: p.Wet, Progress: p.Progress,
	}
	for i := range q.Tasks {
		q.Tasks[i].Uses = slices.Clone(q.Tasks[i].Uses)
	}
	for k := range q.Resources {
		q.Resources[k].Away = slices.Clone(q.Resources[k].Away)
	}
	return q
}
