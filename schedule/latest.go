package schedule

import (
	"cmp"
	"slices"
)

// Latest are the last starts with which the rest of a schedule can still be kept by an
// end: by the lags, the latest ends, and the order in which the schedule has tasks follow
// each other on what they share. Each is as if it alone were late.
func (p *Problem) Latest(starts []int, end int) []int {
	last := make([]int, len(p.Tasks))
	for i := range p.Tasks {
		t := &p.Tasks[i]
		last[i] = end - t.Duration
		if t.Deadline != NoLimit {
			last[i] = min(last[i], t.Deadline-t.Duration)
		}
	}
	follow := slices.Clone(p.Lags)
	for k := range p.Resources {
		follow = append(follow, p.following(k, starts)...)
	}
	for range p.Tasks {
		changed := false
		for _, l := range follow {
			if t := last[l.To] - l.Min; t < last[l.From] {
				last[l.From], changed = t, true
			}
		}
		if !changed {
			break
		}
	}
	for i := range last {
		last[i] = max(last[i], starts[i])
	}
	return last
}

// following are the lags by which a task starts after one that used a resource before it,
// where the two together would be too many.
func (p *Problem) following(k int, starts []int) (list []Lag) {
	var on []int
	for i := range p.Tasks {
		if p.Tasks[i].uses(k) > 0 && p.Tasks[i].Duration > 0 {
			on = append(on, i)
		}
	}
	slices.SortStableFunc(on, func(a, b int) int { return cmp.Compare(starts[a], starts[b]) })
	room := p.Resources[k].Capacity
	for x, i := range on {
		end, free := starts[i]+p.Tasks[i].Duration, room
		for _, j := range on[x+1:] {
			if starts[j] < end {
				continue
			}
			if free -= p.Tasks[j].uses(k); free < p.Tasks[i].uses(k) {
				list = append(list, Lag{From: i, To: j, Min: p.Tasks[i].Duration})
				break
			}
		}
	}
	return list
}
