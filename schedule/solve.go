package schedule

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"
)

// Options of a search.
type Options struct {
	// Seed makes the search another one. The same seed gives the same schedule
	// where the search ends by proof.
	Seed uint64
}

// Answer is what a search found.
type Answer struct {
	// Feasible says that Starts keeps every limit. Where it is false and Proven is
	// true, no schedule can.
	Feasible bool
	Starts   []int
	Makespan int
	// LowerBound is a time before which no schedule can end; Proven says that the
	// makespan is that, or that there is no schedule.
	LowerBound int
	Proven     bool
	// Late is how late tasks are in all, Wet how long sheets are wet; the second and
	// third aim, of schedules that end alike. LateProven and WetProven say that none
	// that ends then is less late, and of those that are as late none less long wet.
	Late, Wet             int
	LateProven, WetProven bool
	// Planned is the problem with the times that the schedule was planned with, where it
	// was made to hold in nine of ten days.
	Planned *Problem
	// Broken is what the starts of a new plan do not keep, since what has happened leaves
	// no schedule that keeps all; Feasible is false then.
	Broken []Broken
}

// Solve looks for the schedule that ends first until that is proven or ctx ends,
// and gives the best that it found by then. Where something has happened already
// (Problem.Progress) it gives a new plan of the rest, at once and without proof.
func Solve(ctx context.Context, p *Problem, o Options) (Answer, error) { return solve(ctx, p, o, nil) }

// solve is Solve that begins from a schedule of a problem much like it, nil: none.
func solve(ctx context.Context, p *Problem, o Options, known []int) (Answer, error) {
	if err := p.Validate(); err != nil {
		return Answer{}, err
	}
	if p.Progress != nil {
		return replan(ctx, p, o)
	}
	var dist [][]int32
	if len(p.Tasks) <= 600 {
		d, ok := p.distances()
		if !ok {
			return Answer{Proven: true}, nil
		}
		dist = d
	}
	s := &solver{p: p, dist: dist, horizon: p.horizon(), seed: o.Seed, known: known}
	s.high = s.horizon + 1
	s.down = newModel(p, s.horizon, dist, o.Seed)
	if s.down.dead || !s.down.propagate() {
		return Answer{Proven: true}, nil
	}
	s.low = max(s.down.min(s.down.end), int32(p.workBound(s.down.starts())))
	aims := p.aims()
	first, done := s.share(ctx, aims)
	s.run(first)
	done()
	if s.best != nil {
		s.lateProven, s.wetProven = true, true
		if aims {
			s.lateProven, s.wetProven = s.refine(ctx)
		}
	}
	return s.answer()
}

// aims says whether schedules that end alike differ.
func (p *Problem) aims() bool {
	return len(p.Wet) > 0 || slices.ContainsFunc(p.Tasks, func(t Task) bool { return t.Due != NoLimit })
}

// share keeps a fifth of the time for the second and third aim.
func (s *solver) share(ctx context.Context, aims bool) (context.Context, context.CancelFunc) {
	if !aims {
		return ctx, func() {}
	}
	end, ok := ctx.Deadline()
	if !ok {
		return ctx, func() {}
	}
	return context.WithDeadline(ctx, end.Add(-time.Until(end)/5))
}

// shareOf is one of so many equal parts of the time left.
func shareOf(ctx context.Context, parts int) (context.Context, context.CancelFunc) {
	end, ok := ctx.Deadline()
	if !ok {
		return ctx, func() {}
	}
	return context.WithTimeout(ctx, time.Until(end)/time.Duration(parts))
}

// With more groups than smallGroups most time goes to packing them, packsATurn times
// a turn.
const (
	smallGroups = 12
	packsATurn  = 30
)

// solver searches from above, each schedule shorter than the last, and from below,
// each bound higher. Both work side by side in turns of so many conflicts and tell
// each other what they found between turns, so that how fast a machine is decides
// only when the search stops.
type solver struct {
	p         *Problem
	dist      [][]int32
	horizon   int32
	seed      uint64
	down, up  *model
	low, high int32 // the makespan lies between; high is that of best
	best      []int
	none      bool
	// lateProven and wetProven are what refine proved.
	lateProven, wetProven bool
	known                 []int // a schedule of a problem much like it, to begin with
}

func (s *solver) run(ctx context.Context) {
	stop := func() bool { return ctx.Err() != nil }
	s.up = newModel(s.p, s.horizon, s.dist, s.seed+1)
	l := newLarge(s.p, s.seed)
	l.begin(s.known)
	s.learnFrom(l)
	big := len(l.keys) > smallGroups
	var second *large
	if big {
		second = newLarge(s.p, s.seed+2)
		second.begin(s.best)
	}
	for i := int64(1); !stop() && !s.none && s.low < s.high; i++ {
		budget := 200 * luby(i)
		below := stopped
		power := i&(i-1) == 0
		var wg sync.WaitGroup
		wg.Go(func() {
			if big {
				l.turn(packsATurn, stop)
			}
			if !big || power {
				below = s.up.search(lowest, budget, stop)
			}
		})
		if big && i > 4 && i%4 != 0 {
			second.turn(packsATurn, stop)
		} else {
			s.fromAbove(i, budget, stop)
		}
		wg.Wait()
		s.learnFrom(l)
		if big {
			s.learnFrom(second)
			s.teach(l)
			s.teach(second)
		}
		switch {
		case s.none || s.low >= s.high:
		case below == found:
			if starts := s.up.starts(); s.best == nil || int32(s.p.Makespan(starts)) < s.high {
				s.take(starts)
			}
			s.low = s.high
		case below == empty:
			s.none, s.low = s.best == nil, s.high
		default:
			s.low = max(s.low, min(s.high, s.up.min(s.up.end)))
		}
	}
}

// teach lets packing go on from a schedule that is much better than its own.
func (s *solver) teach(l *large) {
	if s.best != nil && (l.least.over > 0 || int32(l.least.end) > s.high) {
		l.from(s.best)
	}
}

// fromAbove makes each schedule shorter than the last, for one turn.
func (s *solver) fromAbove(turn, budget int64, stop func() bool) {
	w := active
	if turn == 1 || turn%8 == 0 {
		w = earliest
	}
	m := s.down
	for until := m.conflicts + budget; ; {
		if s.low > m.min(m.end) && m.level() == 0 {
			m.require(atLeast(m.end, s.low))
		}
		switch m.search(w, until-m.conflicts, stop) {
		case empty:
			s.none = s.best == nil
			s.low = s.high
			return
		case stopped:
			return
		}
		s.take(m.starts())
		m.require(atMost(m.end, s.high-1))
	}
}

// learnFrom takes what packing found.
func (s *solver) learnFrom(l *large) {
	if l.best == nil || l.least.over > 0 || s.best != nil && int32(l.least.end) >= s.high {
		return
	}
	s.take(slices.Clone(l.best))
	s.down.guide(s.best)
	s.down.require(atMost(s.down.end, s.high-1))
}

func (s *solver) take(starts []int) {
	s.best, s.high = starts, int32(s.p.Makespan(starts))
}

func (s *solver) answer() (Answer, error) {
	switch {
	case s.none:
		return Answer{Proven: true}, nil
	case s.best == nil:
		return Answer{LowerBound: int(s.low)}, nil
	}
	if err := s.p.Check(s.best); err != nil {
		return Answer{}, fmt.Errorf("the search made a schedule that does not hold: %w", err)
	}
	c := s.p.cost(s.best)
	proven := s.low >= s.high
	return Answer{
		Feasible: true, Starts: s.best, Makespan: int(s.high), LowerBound: int(s.low), Proven: proven,
		Late: c.late, Wet: c.wet, LateProven: proven && s.lateProven, WetProven: proven && s.wetProven,
	}, nil
}
