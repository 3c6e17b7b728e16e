package schedule

import (
	"context"
	"fmt"
	"sync"
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
}

// Solve looks for the schedule that ends first until that is proven or ctx ends,
// and gives the best that it found by then.
func Solve(ctx context.Context, p *Problem, o Options) (Answer, error) {
	if err := p.Validate(); err != nil {
		return Answer{}, err
	}
	var dist [][]int32
	if len(p.Tasks) <= 600 {
		d, ok := p.distances()
		if !ok {
			return Answer{Proven: true}, nil
		}
		dist = d
	}
	s := &solver{p: p, dist: dist, horizon: p.horizon(), seed: o.Seed}
	s.high = s.horizon + 1
	s.down = newModel(p, s.horizon, dist, o.Seed)
	if s.down.dead || !s.down.propagate() {
		return Answer{Proven: true}, nil
	}
	s.low = s.down.min(s.down.end)
	s.run(ctx)
	return s.answer()
}

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
}

func (s *solver) run(ctx context.Context) {
	stop := func() bool { return ctx.Err() != nil }
	s.up = newModel(s.p, s.horizon, s.dist, s.seed+1)
	for i := int64(1); !stop() && !s.none && s.low < s.high; i++ {
		budget := 200 * luby(i)
		var below outcome
		var wg sync.WaitGroup
		wg.Go(func() { below = s.up.search(lowest, budget, stop) })
		s.fromAbove(i, budget, stop)
		wg.Wait()
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
	return Answer{
		Feasible: true, Starts: s.best, Makespan: int(s.high), LowerBound: int(s.low), Proven: s.low >= s.high,
	}, nil
}
