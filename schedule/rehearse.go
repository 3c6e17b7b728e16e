package schedule

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"slices"
)

// Rehearsal is how often a schedule holds when times come as they may.
type Rehearsal struct {
	// Held of Of sampled days kept every limit.
	Held, Of int
	// Spoilers are the tasks and lags whose times broke days, the most frequent first:
	// with that one as planned the day would have held.
	Spoilers []Spoiler
	// Ends are when the sampled days that held were over, in order.
	Ends []int
}

// Spoiler is a task, or the lag between two, whose time broke so many days.
type Spoiler struct{ From, To, Days int }

// Share of the days that held.
func (r *Rehearsal) Share() float64 { return float64(r.Held) / float64(max(1, r.Of)) }

// Rehearse plays a schedule through so many days, each with times drawn from the
// spreads. Tasks start in the order planned, none before its planned start unless what
// it follows would wait too long for it; later where what must come before it, or what
// it needs, is not there yet. A day holds when every maximal lag and every latest end is
// kept.
func (p *Problem) Rehearse(starts []int, days int, seed uint64) Rehearsal {
	h := newHearing(p, starts)
	r := Rehearsal{Of: days}
	spoiled := map[[2]int]int{}
	rng := rand.New(rand.NewPCG(seed, 0xda7))
	for range days {
		h.draw(rng)
		if h.play() {
			r.Held++
			r.Ends = append(r.Ends, h.end)
			continue
		}
		for _, x := range h.blame(h.broken) {
			spoiled[x]++
		}
	}
	for x, n := range spoiled {
		r.Spoilers = append(r.Spoilers, Spoiler{x[0], x[1], n})
	}
	slices.SortFunc(r.Spoilers, func(a, b Spoiler) int {
		return cmp.Or(b.Days-a.Days, a.From-b.From, a.To-b.To)
	})
	slices.Sort(r.Ends)
	return r
}

// hearing plays one schedule with sampled times.
type hearing struct {
	p        *Problem
	k        *packing
	planned  []int
	order    []int
	length   []int // of tasks, as drawn
	min      []int // of lags, as drawn
	lagsInto [][]int
	lagsFrom [][]int
	starts   []int
	end      int
	broken   [2]int // tasks of the first limit that the day broke
}

func newHearing(p *Problem, planned []int) *hearing {
	n := len(p.Tasks)
	h := &hearing{
		p: p, k: newPacking(p, false), planned: planned, order: make([]int, n), length: make([]int, n),
		min: make([]int, len(p.Lags)), lagsInto: make([][]int, n), lagsFrom: make([][]int, n), starts: make([]int, n),
	}
	for i := range h.order {
		h.order[i] = i
	}
	slices.SortStableFunc(h.order, func(a, b int) int {
		return cmp.Or(planned[a]-planned[b], p.Tasks[a].Duration-p.Tasks[b].Duration)
	})
	for i, l := range p.Lags {
		h.lagsInto[l.To] = append(h.lagsInto[l.To], i)
		h.lagsFrom[l.From] = append(h.lagsFrom[l.From], i)
	}
	return h
}

// draw samples every time that has a spread.
func (h *hearing) draw(rng *rand.Rand) {
	for i := range h.p.Tasks {
		t := &h.p.Tasks[i]
		h.length[i] = t.Duration
		if t.Spread != nil {
			h.length[i] = max(0, int(math.Round(t.Spread.Quantile(rng.Float64()))))
		}
	}
	// Both ends of a window move together: what makes a sheet dry fast opens and closes it.
	pace := map[[2]int]float64{}
	for i := range h.p.Lags {
		l := &h.p.Lags[i]
		amount := l.amount(h.p)
		if l.Spread != nil {
			pair := [2]int{min(l.From, l.To), max(l.From, l.To)}
			if _, drawn := pace[pair]; !drawn {
				pace[pair] = rng.Float64()
			}
			amount = int(math.Round(l.Spread.Quantile(pace[pair])))
		}
		h.min[i] = l.with(h.length, amount)
	}
}

// amount is the time between that a lag is planned with, beside the duration in it.
func (l *Lag) amount(p *Problem) int {
	switch {
	case l.Ends == EndOfFrom:
		return l.Min - p.Tasks[l.From].Duration
	case l.Ends == EndOfTo:
		return -l.Min - p.Tasks[l.To].Duration
	case l.Min < 0:
		return -l.Min
	}
	return l.Min
}

// with is Min for another amount and other durations.
func (l *Lag) with(length []int, amount int) int {
	switch {
	case l.Ends == EndOfFrom:
		return length[l.From] + amount
	case l.Ends == EndOfTo:
		return -length[l.To] - amount
	case l.Min < 0:
		return -amount
	}
	return amount
}

// play puts the tasks in order of their planned starts; it reports whether the day
// holds.
func (h *hearing) play() bool {
	k := h.k
	for r := range k.shelf {
		k.shelf[r].clear(k.room[r])
		for _, a := range merged(k.away[r]) {
			k.shelf[r].take(a.From, a.To, k.room[r])
		}
	}
	placed := k.mark
	k.stamp++
	copy(k.length, h.length)
	h.end = 0
	for _, i := range h.order {
		t := h.planned[i]
		for _, l := range h.lagsFrom[i] { // what came early must not wait too long for it
			if to := h.p.Lags[l].To; placed[to] == k.stamp {
				t = min(t, h.starts[to]-h.min[l])
			}
		}
		t = max(t, h.p.Tasks[i].Release)
		for _, l := range h.lagsInto[i] {
			if from := h.p.Lags[l].From; placed[from] == k.stamp {
				t = max(t, h.starts[from]+h.min[l])
			}
		}
		s, ok := k.fits(i, t)
		if !ok {
			h.broken = [2]int{i, i}
			return false
		}
		h.starts[i] = s
		placed[i] = k.stamp
		k.put(i, s)
		h.end = max(h.end, s+h.length[i])
		if d := h.p.Tasks[i].Deadline; d != NoLimit && s+h.length[i] > d {
			h.broken = [2]int{i, i}
			return false
		}
	}
	for i := range h.p.Lags {
		l := &h.p.Lags[i]
		if h.starts[l.To] < h.starts[l.From]+h.min[i] {
			h.broken = [2]int{l.From, l.To}
			return false
		}
	}
	return true
}

// mostBlamed is how many of the times that were farthest from the plan are tried.
const mostBlamed = 6

// blame finds which times broke the day just drawn: those without which it would
// have held; where there is no such one, the limit that was broken first.
func (h *hearing) blame(broken [2]int) (list [][2]int) {
	type off struct {
		task, lag int
		by        float64
	}
	var all []off
	for i := range h.p.Tasks {
		t := &h.p.Tasks[i]
		if t.Spread != nil && h.length[i] > t.Duration {
			all = append(all, off{i, -1, float64(h.length[i] - t.Duration)})
		}
	}
	for i := range h.p.Lags {
		l := &h.p.Lags[i]
		if l.Spread == nil {
			continue
		}
		if by := h.min[i] - l.with(h.length, l.amount(h.p)); by > 0 {
			all = append(all, off{-1, i, float64(by)})
		}
	}
	slices.SortStableFunc(all, func(a, b off) int { return cmp.Compare(b.by, a.by) })
	lengths, mins := slices.Clone(h.length), slices.Clone(h.min)
	for _, x := range all[:min(len(all), mostBlamed)] {
		copy(h.length, lengths)
		copy(h.min, mins)
		name := [2]int{x.task, x.task}
		if x.task >= 0 {
			by := lengths[x.task] - h.p.Tasks[x.task].Duration
			h.length[x.task] -= by
			for i := range h.p.Lags {
				switch l := &h.p.Lags[i]; {
				case l.Ends == EndOfFrom && l.From == x.task:
					h.min[i] -= by
				case l.Ends == EndOfTo && l.To == x.task:
					h.min[i] += by
				}
			}
		} else {
			l := &h.p.Lags[x.lag]
			h.min[x.lag] = l.with(h.length, l.amount(h.p))
			name = [2]int{l.From, l.To}
		}
		if h.play() {
			list = append(list, name)
		}
	}
	if list == nil {
		return [][2]int{broken}
	}
	return list
}

// aimedShare is the share of rehearsed days that a plan must hold in to be taken for one
// that holds in nine of ten: a little more, since the rehearsal itself is a sample.
const aimedShare = 0.92

// rehearsedDays are how many days each plan is played through.
const rehearsedDays = 1000

// cautions are the quantiles of the spreads that are planned with, the boldest first.
var cautions = []float64{0.5, 0.65, 0.75, 0.82, 0.87, 0.91, 0.94, 0.96, 0.975, 0.985, 0.993, 0.998}

// Hold finds a schedule that holds in nine of ten days: the one planned with the least
// caution (longer times than the best ones, narrower windows) that does. Where none holds
// so often, it is the one that holds in most. The answer is for the times that were
// planned with, Answer.Planned.
func Hold(ctx context.Context, p *Problem, o Options) (Answer, Rehearsal, error) {
	w := &wary{p: p, o: o}
	if ok, err := w.try(ctx, 0, 5); err != nil || ok || !w.best.Feasible {
		return w.best, w.heard, err
	}
	low, high := 0, len(cautions)
	for parts := 4; high-low > 1 && ctx.Err() == nil; parts-- {
		mid := (low + high) / 2
		ok, err := w.try(ctx, mid, max(parts, 1))
		switch {
		case err != nil:
			return w.best, w.heard, err
		case ok || w.full:
			high = mid
		default:
			low = mid
		}
	}
	return w.best, w.heard, nil
}

// wary plans one problem with more and with less caution.
type wary struct {
	p     *Problem
	o     Options
	best  Answer
	heard Rehearsal
	holds bool // the best holds in nine of ten
	full  bool // the last try left no schedule: there is no room for so much caution
}

// try plans with one caution, in one of so many parts of the time left; it reports
// whether that holds in nine of ten days.
func (w *wary) try(ctx context.Context, caution, parts int) (bool, error) {
	s, done := shareOf(ctx, parts)
	defer done()
	planned := w.p.planned(cautions[caution])
	a, err := solve(s, planned, w.o, w.best.Starts)
	a.Planned = planned
	if w.full = err == nil && !a.Feasible; err != nil || w.full {
		if w.best.Starts == nil {
			w.best = a
		}
		return false, err
	}
	r := w.p.Rehearse(a.Starts, rehearsedDays, w.o.Seed)
	ok := r.Share() >= aimedShare
	if w.best.Starts == nil || ok && (!w.holds || a.Makespan < w.best.Makespan) || !w.holds && r.Held > w.heard.Held {
		w.best, w.heard, w.holds = a, r, ok
	}
	return ok, nil
}

// planned is p with its times at a quantile of their spreads, on the careful side.
func (p *Problem) planned(q float64) *Problem {
	c := p.clone()
	length := make([]int, len(c.Tasks))
	for i := range c.Tasks {
		t := &c.Tasks[i]
		if t.Spread != nil {
			t.Duration = max(0, int(math.Ceil(t.Spread.Quantile(q)-1e-9)))
		}
		length[i] = t.Duration
	}
	opens := map[[2]int]int{} // of windows, by their tasks, as planned
	for i := range c.Lags {
		if l := &p.Lags[i]; l.Ends == EndOfFrom && l.Spread != nil {
			opens[[2]int{l.From, l.To}] = int(math.Ceil(l.Spread.Quantile(q) - 1e-9))
		}
	}
	for i := range c.Lags {
		l := &c.Lags[i]
		amount := l.amount(p)
		maximal := l.Ends == EndOfTo || l.Ends == FromStart && l.Min < 0
		switch {
		case l.Spread != nil && maximal:
			// A window is not narrowed to nothing: who is there sees when it opens.
			amount = max(int(math.Floor(l.Spread.Quantile(1-q)+1e-9)), opens[[2]int{l.To, l.From}])
		case l.Spread != nil:
			amount = int(math.Ceil(l.Spread.Quantile(q) - 1e-9))
		}
		l.Min = l.with(length, amount)
	}
	return c
}
