package schedule

import "slices"

// side is one of the two bounds of a quantity: 2x stands for x, whose lower bound
// it has, and 2x+1 for -x, so that raising it lowers the upper bound of x.
type side int32

func (s side) other() side { return s ^ 1 }

// literal says that a side is at least v.
type literal struct {
	side side
	v    int32
}

// not is the opposite: x >= v becomes -x >= 1-v.
func (l literal) not() literal { return literal{l.side.other(), 1 - l.v} }

// clause is a disjunction; its first two literals are watched.
type clause struct {
	lits     []literal
	learnt   bool
	activity float32
	levels   int32 // distinct levels of decision when it was learnt
}

// edge says that a bound of from raises one of to by w, while when holds (when.side
// < 0: always).
type edge struct {
	from, to side
	w        int32
	when     literal
}

// reason is why a bound rose: a clause, an edge, or literals kept in the arena.
// All zero is a decision.
type reason struct {
	clause     *clause
	edge       int32 // index + 1
	start, end int32 // in the arena
}

// step is one rise of a bound, in order.
type step struct {
	side   side
	v, was int32
	before int32 // the step that raised it last, or -1
	level  int32
	reason reason
}

type watch struct {
	v      int32 // the literal is false from here on
	clause *clause
}

// propagator tightens bounds beyond edges and clauses. It reports false when the
// engine holds a conflict.
type propagator interface {
	propagate(*engine) bool
}

// engine searches for values of bounded integers by propagation, learning from
// each conflict why it came about (lazy clause generation: Ohrimenko, Stuckey and
// Codish, Constraints 14, 2009; for resources Schutt et al., Constraints 16, 2011;
// for minimal and maximal lags Schutt et al., Journal of Scheduling 16, 2013).
// Clauses are over bounds themselves, so no value needs a variable of its own.
type engine struct {
	low   []int32 // of each side
	last  []int32 // the step that raised it, or -1
	steps []step
	marks []int32 // where each level of decision begins in steps
	arena []literal
	cuts  []int32 // length of the arena where each level begins

	edges   []edge
	out     [][]int32 // edges from a side
	opens   [][]int32 // edges whose condition is on a side
	watches [][]watch

	learnt []*clause
	head   int // the first step that is not propagated yet

	heavy   []propagator
	users   [][]int32 // heavy propagators to be asked when a side rises
	waiting []bool
	queue   []int32

	conflict []literal // true together, and they cannot be

	activity []float64 // of each quantity
	grow     float64
	order    heap
	phase    []int32 // value that a quantity had last, for those of two values
	flip     []bool  // whether a quantity has two values

	need    []int32 // while analysing: the value needed of each step, by index
	needed  []bool
	touched []int32

	conflicts int64
	dead      bool // no solution is left
}

const none side = -1

// add makes a quantity between low and high; two says that it has two values and
// is decided by its phase.
func (e *engine) add(low, high int32, two bool) int32 {
	x := int32(len(e.activity))
	e.low = append(e.low, low, -high)
	e.last = append(e.last, -1, -1)
	for range 2 {
		e.out = append(e.out, nil)
		e.opens = append(e.opens, nil)
		e.watches = append(e.watches, nil)
		e.users = append(e.users, nil)
	}
	e.activity = append(e.activity, 0)
	e.phase = append(e.phase, low)
	e.flip = append(e.flip, two)
	e.order.add(x)
	return x
}

func atLeast(x, v int32) literal { return literal{side(2 * x), v} }
func atMost(x, v int32) literal  { return literal{side(2*x + 1), -v} }

func (e *engine) min(x int32) int32  { return e.low[2*x] }
func (e *engine) max(x int32) int32  { return -e.low[2*x+1] }
func (e *engine) fixed(x int32) bool { return e.low[2*x] == -e.low[2*x+1] }

func (e *engine) holds(l literal) bool { return e.low[l.side] >= l.v }
func (e *engine) fails(l literal) bool { return e.low[l.side.other()] >= 1-l.v }

func (e *engine) level() int32 { return int32(len(e.marks)) }

// lag says that b starts at least w after a, while when holds.
func (e *engine) lag(a, b, w int32, when literal) {
	e.addEdge(edge{side(2 * a), side(2 * b), w, when})
	e.addEdge(edge{side(2*b + 1), side(2*a + 1), w, when})
}

func (e *engine) addEdge(x edge) {
	i := int32(len(e.edges))
	e.edges = append(e.edges, x)
	e.out[x.from] = append(e.out[x.from], i)
	if x.when.side >= 0 {
		e.opens[x.when.side] = append(e.opens[x.when.side], i)
	}
}

// use asks p whenever one of sides rises.
func (e *engine) use(p propagator, sides ...side) {
	i := int32(len(e.heavy))
	e.heavy = append(e.heavy, p)
	e.waiting = append(e.waiting, true)
	e.queue = append(e.queue, i)
	for _, s := range sides {
		e.users[s] = append(e.users[s], i)
	}
}

// raise makes l hold because of why; it reports false on a conflict.
func (e *engine) raise(l literal, why reason) bool {
	if e.low[l.side] >= l.v {
		return true
	}
	if e.fails(l) {
		e.conflict = append(e.explain(why, l, e.conflict[:0]), l.not())
		return false
	}
	e.steps = append(e.steps, step{l.side, l.v, e.low[l.side], e.last[l.side], e.level(), why})
	e.last[l.side] = int32(len(e.steps) - 1)
	e.low[l.side] = l.v
	return true
}

// because keeps literals that are true together as a reason.
func (e *engine) because(l ...literal) reason {
	start := int32(len(e.arena))
	e.arena = append(e.arena, l...)
	return reason{start: start, end: int32(len(e.arena))}
}

// explain appends what l followed from by a reason.
func (e *engine) explain(why reason, l literal, to []literal) []literal {
	switch {
	case why.clause != nil:
		for _, m := range why.clause.lits {
			if m.side != l.side || m.v < l.v {
				to = append(to, m.not())
			}
		}
	case why.edge > 0:
		x := &e.edges[why.edge-1]
		to = append(to, literal{x.from, l.v - x.w})
		if x.when.side >= 0 {
			to = append(to, x.when)
		}
	default:
		to = append(to, e.arena[why.start:why.end]...)
	}
	return to
}

// propagate works until nothing follows any more; it reports false on a conflict.
func (e *engine) propagate() bool {
	for {
		for e.head < len(e.steps) {
			i := e.head
			e.head++
			s := e.steps[i].side
			if e.last[s] != int32(i) {
				continue // it rose again since, and that step does all
			}
			for _, p := range e.users[s] {
				if !e.waiting[p] {
					e.waiting[p] = true
					e.queue = append(e.queue, p)
				}
			}
			if !e.throughEdges(s) || !e.throughClauses(s) {
				return false
			}
		}
		if len(e.queue) == 0 {
			return true
		}
		p := e.queue[0]
		e.queue = e.queue[1:]
		e.waiting[p] = false
		if !e.heavy[p].propagate(e) {
			return false
		}
	}
}

func (e *engine) throughEdges(s side) bool {
	for _, i := range e.out[s] {
		x := &e.edges[i]
		v := e.low[s] + x.w
		if x.when.side < 0 || e.holds(x.when) {
			if e.low[x.to] < v && !e.raise(literal{x.to, v}, reason{edge: i + 1}) {
				return false
			}
			continue
		}
		// It cannot hold where the bound that it would raise is full already.
		if full := (literal{x.to, v}); e.fails(full) && !e.fails(x.when) {
			if !e.raise(x.when.not(), e.because(literal{s, e.low[s]}, full.not())) {
				return false
			}
		}
	}
	for _, i := range e.opens[s] {
		x := &e.edges[i]
		if e.low[s] < x.when.v {
			continue
		}
		if v := e.low[x.from] + x.w; e.low[x.to] < v && !e.raise(literal{x.to, v}, reason{edge: i + 1}) {
			return false
		}
	}
	return true
}

func (e *engine) throughClauses(s side) bool {
	list := e.watches[s]
	kept := 0
	for i := 0; i < len(list); i++ {
		w := list[i]
		if w.v > e.low[s] {
			list[kept] = w
			kept++
			continue
		}
		c := w.clause
		// The false one stands second.
		if c.lits[0].side == s.other() && 1-c.lits[0].v == w.v {
			c.lits[0], c.lits[1] = c.lits[1], c.lits[0]
		}
		if e.holds(c.lits[0]) || !e.rewatch(c) {
			list[kept] = w
			kept++
			if !e.holds(c.lits[0]) && !e.raise(c.lits[0], reason{clause: c}) {
				kept += copy(list[kept:], list[i+1:])
				e.watches[s] = list[:kept]
				return false
			}
		}
	}
	e.watches[s] = list[:kept]
	return true
}

// rewatch finds another literal to watch than the second, which is false.
func (e *engine) rewatch(c *clause) bool {
	for k := 2; k < len(c.lits); k++ {
		if !e.fails(c.lits[k]) {
			c.lits[1], c.lits[k] = c.lits[k], c.lits[1]
			e.watch(c, 1)
			return true
		}
	}
	return false
}

func (e *engine) watch(c *clause, k int) {
	n := c.lits[k].not()
	e.watches[n.side] = append(e.watches[n.side], watch{n.v, c})
}

// decide opens a level in which l holds.
func (e *engine) decide(l literal) {
	e.marks = append(e.marks, int32(len(e.steps)))
	e.cuts = append(e.cuts, int32(len(e.arena)))
	e.raise(l, reason{})
}

// backTo undoes all levels above one.
func (e *engine) backTo(level int32) {
	if e.level() <= level {
		return
	}
	at := e.marks[level]
	for i := int32(len(e.steps)) - 1; i >= at; i-- {
		s := &e.steps[i]
		x := int32(s.side / 2)
		if e.flip[x] {
			e.phase[x] = e.min(x)
		}
		e.low[s.side], e.last[s.side] = s.was, s.before
		e.order.put(x, e.activity)
	}
	e.steps, e.arena = e.steps[:at], e.arena[:e.cuts[level]]
	e.marks, e.cuts = e.marks[:level], e.cuts[:level]
	e.head = len(e.steps)
	// What was not asked yet must be asked again: its bounds may have been undone,
	// and asking is cheap then.
}

// stepOf is the step by which l came to hold, -1 where it always did.
func (e *engine) stepOf(l literal) int32 {
	i := e.last[l.side]
	for i >= 0 && e.steps[i].was >= l.v {
		i = e.steps[i].before
	}
	return i
}

// mark notes that l is needed; it reports whether its step is a new one of the
// current level.
func (e *engine) mark(l literal) bool {
	i := e.stepOf(l)
	if i < 0 || e.steps[i].level == 0 {
		return false
	}
	if e.needed[i] {
		e.need[i] = max(e.need[i], l.v)
		return false
	}
	e.needed[i], e.need[i] = true, l.v
	e.touched = append(e.touched, i)
	e.bump(int32(l.side / 2))
	return e.steps[i].level == e.level()
}

// learn finds why the conflict came about, goes back to where that could have been
// known, and makes it known. It reports false where no solution is left.
func (e *engine) learn() bool {
	e.conflicts++
	for len(e.needed) < len(e.steps) {
		e.needed, e.need = append(e.needed, false), append(e.need, 0)
	}
	// A conflict may lie below the current level: the latest step decides.
	top := int32(0)
	for _, l := range e.conflict {
		if i := e.stepOf(l); i >= 0 {
			top = max(top, e.steps[i].level)
		}
	}
	if top == 0 {
		e.dead = true
		return false
	}
	e.clearQueue()
	e.backTo(top)
	open := 0
	for _, l := range e.conflict {
		if e.mark(l) {
			open++
		}
	}
	var because []literal
	i := int32(len(e.steps) - 1)
	for ; ; i-- {
		if !e.needed[i] {
			continue
		}
		if open == 1 {
			break
		}
		l := literal{e.steps[i].side, e.need[i]}
		e.needed[i] = false
		open--
		because = e.explain(e.steps[i].reason, l, because[:0])
		for _, m := range because {
			if e.mark(m) {
				open++
			}
		}
	}
	lits := []literal{literal{e.steps[i].side, e.need[i]}.not()}
	back := e.rest(i, &lits)
	for _, t := range e.touched {
		e.needed[t] = false
	}
	e.touched = e.touched[:0]
	e.grow /= 0.95
	if e.grow > 1e100 {
		e.rescale()
	}
	return e.assert(lits, back)
}

// rest appends what else was needed, without what follows from the others, and
// returns the level to go back to.
func (e *engine) rest(uip int32, lits *[]literal) int32 {
	strongest := map[side]int32{} // step by side
	for _, t := range e.touched {
		if !e.needed[t] || e.steps[t].side == e.steps[uip].side { // the later one says more
			continue
		}
		if s, ok := strongest[e.steps[t].side]; !ok || s < t {
			strongest[e.steps[t].side] = t
		}
	}
	kept := make([]int32, 0, len(strongest))
	for _, t := range strongest {
		kept = append(kept, t)
	}
	slices.Sort(kept)
	back := int32(0)
	var premises []literal
	for _, t := range kept {
		s := &e.steps[t]
		if s.reason != (reason{}) {
			premises = e.explain(s.reason, literal{s.side, e.need[t]}, premises[:0])
			if !slices.ContainsFunc(premises, func(m literal) bool { return !e.follows(m, t, strongest) }) {
				continue
			}
		}
		*lits = append(*lits, literal{s.side, e.need[t]}.not())
		if s.level > back {
			back = s.level
			n := len(*lits) - 1
			(*lits)[1], (*lits)[n] = (*lits)[n], (*lits)[1]
		}
	}
	return back
}

// follows says whether m always held, or follows from a literal of the clause that
// came before step t.
func (e *engine) follows(m literal, t int32, kept map[side]int32) bool {
	i := e.stepOf(m)
	if i < 0 || e.steps[i].level == 0 {
		return true
	}
	k, ok := kept[m.side]
	return ok && k < t && e.need[k] >= m.v
}

func (e *engine) assert(lits []literal, back int32) bool {
	e.backTo(back)
	e.askAll()
	if len(lits) == 1 {
		if !e.raise(lits[0], reason{}) {
			e.dead = true
		}
		return !e.dead
	}
	c := &clause{lits: lits, learnt: true, levels: e.distinct(lits), activity: float32(e.conflicts)}
	e.learnt = append(e.learnt, c)
	e.watch(c, 0)
	e.watch(c, 1)
	return e.raise(lits[0], reason{clause: c})
}

func (e *engine) distinct(lits []literal) int32 {
	seen := map[int32]bool{}
	for _, l := range lits {
		if i := e.stepOf(l.not()); i >= 0 {
			seen[e.steps[i].level] = true
		}
	}
	return int32(len(seen)) + 1
}

// askAll asks every heavy propagator again: cheap beside the search, and nothing is
// missed.
func (e *engine) askAll() {
	e.clearQueue()
	for p := range e.heavy {
		e.waiting[p] = true
		e.queue = append(e.queue, int32(p))
	}
}

func (e *engine) clearQueue() {
	for _, p := range e.queue {
		e.waiting[p] = false
	}
	e.queue = e.queue[:0]
}

// require makes l hold for good.
func (e *engine) require(l literal) bool {
	e.backTo(0)
	if !e.raise(l, reason{}) {
		e.dead = true
	}
	return !e.dead
}

func (e *engine) bump(x int32) {
	e.activity[x] += e.grow
	e.order.up(x, e.activity)
}

func (e *engine) rescale() {
	for x := range e.activity {
		e.activity[x] *= 1e-100
	}
	e.grow *= 1e-100
}

// forget drops half of the learnt clauses, those that span most levels and are
// oldest, but none that is a reason now.
func (e *engine) forget() {
	used := map[*clause]bool{}
	for i := range e.steps {
		if c := e.steps[i].reason.clause; c != nil {
			used[c] = true
		}
	}
	slices.SortStableFunc(e.learnt, func(a, b *clause) int {
		if a.levels != b.levels {
			return int(a.levels - b.levels)
		}
		switch {
		case a.activity > b.activity:
			return -1
		case a.activity < b.activity:
			return 1
		}
		return 0
	})
	gone := map[*clause]bool{}
	kept := e.learnt[:0]
	for i, c := range e.learnt {
		if i < len(e.learnt)/2 || c.levels <= 2 || used[c] {
			kept = append(kept, c)
		} else {
			gone[c] = true
		}
	}
	e.learnt = kept
	for s := range e.watches {
		e.watches[s] = slices.DeleteFunc(e.watches[s], func(w watch) bool { return gone[w.clause] })
	}
}
