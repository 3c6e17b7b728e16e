package schedule

import (
	"context"
	"fmt"
)

// Progress is what has happened of a problem so far. What has started stays as it is;
// nothing else starts before Now.
type Progress struct {
	Now     int
	Started []Started
	// Last is the schedule that was followed so far, to begin from; nil where there was
	// none.
	Last []int
}

// Started is a task that has started. Ended is when it ended, NoLimit while it runs;
// Lasts is then how long it will have lasted, NoLimit where that is as planned.
type Started struct{ Task, Start, Ended, Lasts int }

func (g *Progress) validate(p *Problem) error {
	if g.Now < 0 || g.Now > MostTime {
		return fmt.Errorf("now is %d: 0 to %d is expected", g.Now, MostTime)
	}
	if g.Last != nil && len(g.Last) != len(p.Tasks) {
		return fmt.Errorf("the last schedule has %d starts for %d tasks", len(g.Last), len(p.Tasks))
	}
	seen := map[int]bool{}
	for _, x := range g.Started {
		if x.Task < 0 || x.Task >= len(p.Tasks) {
			return fmt.Errorf("task %d has started: there are %d", x.Task, len(p.Tasks))
		}
		name := p.Tasks[x.Task].name(x.Task)
		switch {
		case seen[x.Task]:
			return fmt.Errorf("task %s has started twice", name)
		case x.Start < 0 || x.Start > g.Now:
			return fmt.Errorf("task %s started at %d: 0 to now, %d, is expected", name, x.Start, g.Now)
		case x.Ended != NoLimit && (x.Ended < x.Start || x.Ended > g.Now):
			return fmt.Errorf("task %s ended at %d: from its start at %d to now, %d, is expected", name, x.Ended, x.Start,
				g.Now)
		case x.Lasts < NoLimit || x.Lasts > MostTime:
			return fmt.Errorf("task %s lasts %d: 0 to %d is expected", name, x.Lasts, MostTime)
		}
		seen[x.Task] = true
	}
	return nil
}

// after is what is left of p: what has started stands where it did, with the time that
// it took or takes, and everything else comes from now on. Lags between what has
// started are left out, since they are past keeping.
func (p *Problem) after(g *Progress) *Problem {
	q := p.clone()
	started := make([]bool, len(q.Tasks))
	for i := range q.Tasks {
		q.Tasks[i].Release = max(q.Tasks[i].Release, g.Now)
	}
	for _, x := range g.Started {
		t := &q.Tasks[x.Task]
		started[x.Task] = true
		switch {
		case x.Ended != NoLimit:
			t.Duration = x.Ended - x.Start
		case x.Lasts != NoLimit:
			t.Duration = max(x.Lasts, g.Now-x.Start)
		default: // what is over its time is about to end
			t.Duration = max(t.Duration, g.Now-x.Start)
		}
		t.Release, t.Deadline = x.Start, x.Start+t.Duration
	}
	q.Lags = q.Lags[:0]
	for _, l := range p.Lags {
		if started[l.From] && started[l.To] {
			continue
		}
		switch l.Ends {
		case EndOfFrom:
			l.Min += q.Tasks[l.From].Duration - p.Tasks[l.From].Duration
		case EndOfTo:
			l.Min -= q.Tasks[l.To].Duration - p.Tasks[l.To].Duration
		}
		q.Lags = append(q.Lags, l)
	}
	return q
}

// replan finds a schedule for what is left, the one followed so far first. Where what
// has happened leaves none, it is one that exceeds limits by least, and Broken says
// which.
func replan(ctx context.Context, p *Problem, o Options) (Answer, error) {
	q := p.after(p.Progress)
	q.Progress = nil
	l := newLarge(q, o.Seed)
	l.begin(p.Progress.Last)
	stop := func() bool { return ctx.Err() != nil }
	low := q.workBound(q.earliest())
	turns := 1 + replanPlaced/(packsATurn*len(q.Tasks))
	for n := 0; n < min(turns, 40) && !stop() && (l.least.over > 0 || l.least.end > low); n++ {
		l.turn(packsATurn, stop)
	}
	if l.best == nil {
		return Answer{}, nil
	}
	s := &solver{p: q, best: l.best}
	s.delay()
	c := q.cost(s.best)
	a := Answer{
		Feasible: true, Starts: s.best, Makespan: c.end, LowerBound: min(low, c.end), Late: c.late, Wet: c.wet,
	}
	if l.least.over > 0 || q.Check(s.best) != nil {
		a.Feasible, a.Broken = false, q.broken(s.best)
	}
	a.Proven = a.Feasible && a.Makespan == a.LowerBound
	return a, nil
}

// replanPlaced is after how many tasks have been placed a new plan is good enough: it is
// wanted at once, so within a tenth of a second.
const replanPlaced = 60_000

// earliest are starts before which no task can start, by releases and lags.
func (p *Problem) earliest() []int {
	first := make([]int, len(p.Tasks))
	for i := range p.Tasks {
		first[i] = p.Tasks[i].Release
	}
	for range p.Tasks {
		changed := false
		for _, l := range p.Lags {
			if t := first[l.From] + l.Min; t > first[l.To] {
				first[l.To], changed = t, true
			}
		}
		if !changed {
			break
		}
	}
	return first
}

// broken lists the latest ends and lags that a schedule does not keep.
func (p *Problem) broken(starts []int) (list []Broken) {
	for i := range p.Tasks {
		t := &p.Tasks[i]
		if d := starts[i] + t.Duration - t.Deadline; t.Deadline != NoLimit && d > 0 {
			list = append(list, Broken{From: i, To: i, By: d})
		}
	}
	for _, l := range p.Lags {
		if d := starts[l.From] + l.Min - starts[l.To]; d > 0 {
			list = append(list, Broken{From: l.From, To: l.To, By: d})
		}
	}
	return list
}

// Broken is a limit that could not be kept after what had happened: the lag from one
// task to another, or, where both are the same, a latest end.
type Broken struct{ From, To, By int }

// Say is what is broken, in a sentence.
func (b Broken) Say(p *Problem) string {
	if b.From == b.To {
		return fmt.Sprintf("%s ends %d after its latest end", p.Tasks[b.To].name(b.To), b.By)
	}
	return fmt.Sprintf("between %s and %s a lag is missed by %d", p.Tasks[b.From].name(b.From),
		p.Tasks[b.To].name(b.To), b.By)
}
