package schedule

import (
	"cmp"
	"slices"
)

// mostHeads is for how many earliest starts a resource's work is summed up.
const mostHeads = 400

// workBound is a time before which all cannot be done: of any tasks of a resource that
// none can start before a, and after the end of which at least q passes, the work must
// fit between a and q before the end (the energetic bound; Carlier, European Journal
// of Operational Research 11, 1982, for one machine). first are earliest starts by the
// lags alone.
func (p *Problem) workBound(first []int) int {
	n := len(p.Tasks)
	tail := p.tails()
	bound := 0
	for i := range n {
		bound = max(bound, first[i]+p.Tasks[i].Duration+tail[i])
	}
	for k := range p.Resources {
		if p.Resources[k].Capacity > 0 {
			bound = max(bound, p.workOn(k, first, tail))
		}
	}
	return bound
}

func (p *Problem) workOn(k int, first, tail []int) int {
	var on, heads []int
	for i := range p.Tasks {
		if p.Tasks[i].uses(k) > 0 && p.Tasks[i].Duration > 0 {
			on, heads = append(on, i), append(heads, first[i])
		}
	}
	slices.Sort(heads)
	heads = slices.Compact(heads)
	if len(heads) > mostHeads {
		heads = heads[:mostHeads]
	}
	slices.SortStableFunc(on, func(a, b int) int { return cmp.Compare(tail[b], tail[a]) })
	r := &p.Resources[k]
	away := merged(r.Away)
	bound := 0
	for _, a := range heads {
		work := 0
		for _, i := range on {
			if first[i] < a {
				continue
			}
			work += p.Tasks[i].uses(k) * p.Tasks[i].Duration
			bound = max(bound, present(away, a, (work+r.Capacity-1)/r.Capacity)+tail[i])
		}
	}
	return bound
}

// present is when so much time of presence has passed after a.
func present(away []Span, a, length int) int {
	for _, s := range away {
		if s.To <= a {
			continue
		}
		if a+length <= s.From {
			break
		}
		length += s.To - max(s.From, a)
	}
	return a + length
}

// merged are the spans in order, those that meet as one.
func merged(all []Span) []Span {
	s := slices.Clone(all)
	slices.SortFunc(s, func(a, b Span) int { return cmp.Compare(a.From, b.From) })
	var list []Span
	for _, x := range s {
		if n := len(list); n > 0 && x.From <= list[n-1].To {
			list[n-1].To = max(list[n-1].To, x.To)
			continue
		}
		list = append(list, x)
	}
	return list
}

// tails are what passes at least between the end of each task and the end of all. Lags
// must not ask a task to start after itself.
func (p *Problem) tails() []int {
	tail := make([]int, len(p.Tasks))
	for range p.Tasks {
		changed := false
		for _, l := range p.Lags {
			if t := l.Min + p.Tasks[l.To].Duration + tail[l.To] - p.Tasks[l.From].Duration; t > tail[l.From] {
				tail[l.From], changed = t, true
			}
		}
		if !changed {
			break
		}
	}
	return tail
}
