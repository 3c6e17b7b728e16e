package schedule

import "slices"

// most pairs of tasks that exclude each other which get a question of their own,
// which of them comes first; above it the timetable alone keeps them apart.
const mostPairs = 6000

// model is a problem in an engine.
type model struct {
	*engine
	p     *Problem
	start []int32 // quantity of each task's start
	end   int32   // quantity of the makespan
	rng   uint64
	asked []question
}

// question is which of two tasks comes first; first is 1 where i does.
type question struct {
	i, j  int
	first int32
}

// always is the condition of an edge that has none.
var always = literal{none, 0}

// newModel puts p into an engine with all starts before horizon. dist are the
// longest paths by lags, nil where they are not known.
func newModel(p *Problem, horizon int32, dist [][]int32, seed uint64) *model {
	return modelOf(p, horizon, dist, seed, true)
}

// modelOf is newModel that leaves out, unless asked, the questions which of two tasks
// comes first.
func modelOf(p *Problem, horizon int32, dist [][]int32, seed uint64, ask bool) *model {
	m := &model{engine: &engine{grow: 1}, p: p, rng: seed*2862933555777941757 + 3037000493}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		last := horizon - int32(t.Duration)
		if t.Deadline != NoLimit {
			last = min(last, int32(t.Deadline-t.Duration))
		}
		first := int32(t.Release)
		if last < first {
			m.dead, last = true, first
		}
		m.start = append(m.start, m.add(first, last, false))
	}
	m.end = m.add(0, horizon, false)
	for i := range p.Tasks {
		m.lag(m.start[i], m.end, int32(p.Tasks[i].Duration), always)
	}
	for _, l := range p.Lags {
		if l.From == l.To {
			m.dead = m.dead || l.Min > 0
			continue
		}
		m.lag(m.start[l.From], m.start[l.To], int32(l.Min), always)
	}
	m.share(dist, ask)
	// Edges work when a bound rises: the bounds that there were rose before them.
	for s := range m.low {
		m.dead = m.dead || !m.throughEdges(side(s))
	}
	return m
}

// share keeps the use of each resource within its capacity.
func (m *model) share(dist [][]int32, ask bool) {
	var pairs [][2]int
	if ask {
		pairs = m.exclusive(dist)
	}
	asked := ask && len(pairs) <= mostPairs
	if asked {
		for _, x := range pairs {
			m.apart(x[0], x[1])
		}
	}
	for k := range m.p.Resources {
		r := &m.p.Resources[k]
		c := &cumulative{capacity: int32(r.Capacity)}
		var sides []side
		alone := true
		for i := range m.p.Tasks {
			u := m.p.Tasks[i].uses(k)
			if u == 0 || m.p.Tasks[i].Duration == 0 {
				continue
			}
			if u > r.Capacity {
				m.dead = true
			}
			alone = alone && 2*u > r.Capacity
			c.uses = append(c.uses, usage{m.start[i], int32(m.p.Tasks[i].Duration), int32(u)})
			sides = append(sides, side(2*m.start[i]), side(2*m.start[i]+1))
		}
		for _, a := range r.Away {
			x := m.add(int32(a.From), int32(a.From), false)
			c.uses = append(c.uses, usage{x, int32(a.To - a.From), int32(r.Capacity)})
		}
		if len(c.uses) < 2 {
			continue
		}
		if !alone || !asked || len(r.Away) > 0 {
			m.use(c, sides...)
		}
		if r.Capacity > 0 {
			m.use(&energy{capacity: c.capacity, uses: c.uses, unary: alone && len(r.Away) == 0 && r.Capacity == 1}, sides...)
		}
	}
}

// exclusive lists the pairs of tasks that cannot run together, without those that
// lags order already; what lags allow in one order alone is ordered here.
func (m *model) exclusive(dist [][]int32) [][2]int {
	var list [][2]int
	for i := range m.p.Tasks {
		for j := i + 1; j < len(m.p.Tasks); j++ {
			if !m.clash(i, j) {
				continue
			}
			a, b := int32(m.p.Tasks[i].Duration), int32(m.p.Tasks[j].Duration)
			if dist != nil {
				if dist[i][j] >= a || dist[j][i] >= b {
					continue
				}
				// s_j - s_i is at most -dist[j][i].
				before, after := -dist[j][i] >= a, -dist[i][j] >= b
				switch {
				case !before && !after:
					m.dead = true
					continue
				case !before:
					m.lag(m.start[j], m.start[i], b, always)
					continue
				case !after:
					m.lag(m.start[i], m.start[j], a, always)
					continue
				}
			}
			list = append(list, [2]int{i, j})
		}
	}
	return list
}

func (m *model) clash(i, j int) bool {
	a, b := &m.p.Tasks[i], &m.p.Tasks[j]
	if a.Duration == 0 || b.Duration == 0 {
		return false
	}
	for k := range min(len(a.Uses), len(b.Uses)) {
		if a.Uses[k] > 0 && b.Uses[k] > 0 && a.Uses[k]+b.Uses[k] > m.p.Resources[k].Capacity {
			return true
		}
	}
	return false
}

// apart asks which of two tasks comes first.
func (m *model) apart(i, j int) {
	first := m.add(0, 1, true)
	m.lag(m.start[i], m.start[j], int32(m.p.Tasks[i].Duration), atLeast(first, 1))
	m.lag(m.start[j], m.start[i], int32(m.p.Tasks[j].Duration), atMost(first, 0))
	m.phase[first] = 1
	m.asked = append(m.asked, question{i, j, first})
}

// way is how a search decides.
type way int

const (
	earliest way = iota // the task that can start first, as early as it can
	active              // what conflicts were about
	lowest              // that all ends as soon as is not excluded, then as active
)

// outcome is how a search ended.
type outcome int

const (
	stopped outcome = iota // before it knew
	found                  // a schedule
	empty                  // there is none
)

// search looks for one schedule until as many conflicts came, or stop says so.
func (m *model) search(w way, conflicts int64, stop func() bool) outcome {
	limit := m.conflicts + conflicts
	for n := 0; ; n++ {
		if m.dead {
			return empty
		}
		if !m.propagate() {
			if !m.learn() {
				return empty
			}
			if len(m.learnt) > 6000+int(m.conflicts/8) && m.level() == 0 {
				m.forget()
			}
			continue
		}
		if m.conflicts >= limit || n&63 == 0 && stop() {
			m.backTo(0)
			if len(m.learnt) > 6000+int(m.conflicts/8) {
				m.forget()
			}
			return stopped
		}
		if !m.choose(w) {
			return found
		}
	}
}

// choose decides something; it reports false where all starts are decided.
func (m *model) choose(w way) bool {
	if w == lowest && m.level() == 0 && !m.fixed(m.end) {
		m.decide(atMost(m.end, m.min(m.end)))
		return true
	}
	if w != earliest {
		for {
			x := m.order.pop(m.activity)
			if x < 0 {
				break
			}
			if m.fixed(x) {
				continue
			}
			switch {
			case m.flip[x] && m.phase[x] == 1:
				m.decide(atLeast(x, 1))
			default:
				m.decide(atMost(x, m.min(x)))
			}
			return true
		}
	}
	best := int32(-1)
	for _, x := range m.start {
		if m.fixed(x) {
			continue
		}
		if best < 0 || m.min(x) < m.min(best) || m.min(x) == m.min(best) && m.max(x) < m.max(best) {
			best = x
		}
	}
	if best < 0 {
		return false
	}
	m.decide(atMost(best, m.min(best)))
	return true
}

// guide makes the order of a schedule the one that is tried first.
func (m *model) guide(starts []int) {
	for _, x := range m.asked {
		m.phase[x.first] = 0
		if starts[x.i] < starts[x.j] {
			m.phase[x.first] = 1
		}
	}
}

func (m *model) starts() []int {
	list := make([]int, len(m.start))
	for i, x := range m.start {
		list[i] = int(m.min(x))
	}
	return list
}

// luby is the sequence 1 1 2 1 1 2 4 … (Luby, Sinclair and Zuckerman 1993).
func luby(i int64) int64 {
	for k := int64(1); ; k++ {
		if i == 1<<k-1 {
			return 1 << (k - 1)
		}
		if i < 1<<k-1 {
			return luby(i - (1<<(k-1) - 1))
		}
	}
}

// horizon is a time by which all can be done, if it can be done at all: one after
// the other, each with the longest lag that leaves it, after the last release and
// after the last absence.
func (p *Problem) horizon() int32 {
	longest := make([]int, len(p.Tasks))
	for i := range p.Tasks {
		longest[i] = p.Tasks[i].Duration
	}
	for _, l := range p.Lags {
		longest[l.From] = max(longest[l.From], l.Min)
	}
	sum, begin := 0, 0
	for i := range p.Tasks {
		sum += longest[i]
		begin = max(begin, p.Tasks[i].Release)
	}
	var away []int
	for _, r := range p.Resources {
		for _, a := range r.Away {
			away = append(away, a.To)
		}
	}
	if len(away) > 0 {
		begin = max(begin, slices.Max(away))
	}
	return int32(begin + sum)
}
