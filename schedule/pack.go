package schedule

import (
	"cmp"
	"slices"
)

// packing places groups of tasks one after another, each as early as what stands
// already leaves room. A group is tasks that lags tie both ways, so that none can be
// placed without the others. Where the tasks of a group do not compete among
// themselves the earliest place of all of them is one and the same: the least fixed
// point of raising each start to where it fits and each lag to where it holds.
type packing struct {
	n       int
	length  []int
	uses    [][]need
	release []int
	last    []int // latest end, NoLimit where there is none
	out     [][]arc
	group   []int   // of each task
	groups  [][]int // tasks of each
	before  []int   // groups that must be placed before, by count
	after   [][]int
	shared  []bool // whether the tasks of a group may compete among themselves
	// pinned tasks stand where their release is.
	pinned []bool
	away   [][]Span
	room   []int

	shelf []profile
	low   []int
	mark  []int // stamp of the group last placed
	stamp int
	queue []int
	wait  []int
	ready keyed
}

type need struct{ resource, units int }
type arc struct{ to, min int }

// newPacking prepares a problem, or its mirror image in time: there lags run
// backwards and releases, deadlines and what is pinned do not count, since its
// schedule only says in which order to place things.
func newPacking(p *Problem, mirrored bool) *packing {
	n := len(p.Tasks)
	k := &packing{
		n: n, length: make([]int, n), uses: make([][]need, n), release: make([]int, n), last: make([]int, n),
		out: make([][]arc, n), pinned: make([]bool, n), low: make([]int, n), mark: make([]int, n),
		room: make([]int, len(p.Resources)), away: make([][]Span, len(p.Resources)), shelf: make([]profile, len(p.Resources)),
	}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		k.length[i], k.last[i] = t.Duration, NoLimit
		if !mirrored {
			k.release[i], k.last[i] = t.Release, t.Deadline
			k.pinned[i] = t.Deadline != NoLimit && t.Deadline-t.Duration == t.Release
		}
		for r := range p.Resources {
			if u := t.uses(r); u > 0 && t.Duration > 0 {
				k.uses[i] = append(k.uses[i], need{r, u})
			}
		}
	}
	for r := range p.Resources {
		k.room[r], k.away[r] = p.Resources[r].Capacity, p.Resources[r].Away
	}
	for _, l := range p.Lags {
		from, to, min := l.From, l.To, l.Min
		if mirrored {
			from, to, min = l.To, l.From, l.Min+k.length[l.To]-k.length[l.From]
		}
		k.out[from] = append(k.out[from], arc{to, min})
	}
	k.gather()
	return k
}

// gather finds the groups, the strong components of the lags (Tarjan 1972).
func (k *packing) gather() {
	k.group = make([]int, k.n)
	index, low, on := make([]int, k.n), make([]int, k.n), make([]bool, k.n)
	var stack []int
	next := 1
	var visit func(i int)
	visit = func(i int) {
		index[i], low[i] = next, next
		next++
		stack, on[i] = append(stack, i), true
		for _, a := range k.out[i] {
			if index[a.to] == 0 {
				visit(a.to)
				low[i] = min(low[i], low[a.to])
			} else if on[a.to] {
				low[i] = min(low[i], index[a.to])
			}
		}
		if low[i] < index[i] {
			return
		}
		var list []int
		for {
			j := stack[len(stack)-1]
			stack, on[j] = stack[:len(stack)-1], false
			k.group[j] = len(k.groups)
			list = append(list, j)
			if j == i {
				break
			}
		}
		slices.Sort(list)
		k.groups = append(k.groups, list)
	}
	for i := range k.n {
		if index[i] == 0 {
			visit(i)
		}
	}
	k.before, k.after = make([]int, len(k.groups)), make([][]int, len(k.groups))
	k.shared = make([]bool, len(k.groups))
	for i := range k.n {
		for _, a := range k.out[i] {
			if g, h := k.group[i], k.group[a.to]; g != h {
				k.after[g] = append(k.after[g], h)
				k.before[h]++
			}
		}
	}
	for g := range k.groups {
		k.shared[g] = k.competes(k.groups[g])
	}
}

// competes says whether two tasks of a group, not in order by one lag or by two,
// use one resource.
func (k *packing) competes(list []int) bool {
	order := map[[2]int]bool{}
	for _, i := range list {
		for _, a := range k.out[i] {
			if a.min >= k.length[i] {
				order[[2]int{i, a.to}] = true
			}
		}
	}
	// Chains are common: follow them through.
	for _, m := range list {
		for _, i := range list {
			if !order[[2]int{i, m}] {
				continue
			}
			for _, j := range list {
				if order[[2]int{m, j}] {
					order[[2]int{i, j}] = true
				}
			}
		}
		if len(list) > 40 {
			break
		}
	}
	for x, i := range list {
		for _, j := range list[x+1:] {
			if order[[2]int{i, j}] || order[[2]int{j, i}] {
				continue
			}
			for _, u := range k.uses[i] {
				for _, v := range k.uses[j] {
					if u.resource == v.resource {
						return true
					}
				}
			}
		}
	}
	return false
}

// pack places all groups, those of the least key first among those that may be
// placed, and returns the starts. over is by how much latest ends, and lags to what
// is pinned, are exceeded in all: with 0 the starts are a schedule. ok is false where
// no place was found for a group.
func (k *packing) pack(key []int, mirror int, starts []int) (over int, ok bool) {
	for r := range k.shelf {
		k.shelf[r].clear(k.room[r])
		for _, a := range k.away[r] {
			if mirror >= 0 {
				a = Span{max(0, mirror-a.To), mirror - a.From}
			}
			if a.To > a.From {
				k.shelf[r].take(a.From, a.To, k.room[r])
			}
		}
	}
	for i := range k.n {
		if k.pinned[i] {
			k.put(i, k.release[i])
			starts[i] = k.release[i]
		}
	}
	left := append(k.wait[:0], k.before...)
	k.wait = left
	k.ready.clear()
	for g := range k.groups {
		if left[g] == 0 {
			k.ready.push(key[g], g)
		}
	}
	for i := range k.n {
		k.low[i] = k.release[i]
	}
	for {
		g, any := k.ready.pop()
		if !any {
			return over, true
		}
		more, placed := k.place(g)
		if !placed {
			return 0, false
		}
		over += more
		for _, i := range k.groups[g] {
			starts[i] = k.low[i]
			for _, a := range k.out[i] {
				if k.group[a.to] != g && !k.pinned[a.to] {
					k.low[a.to] = max(k.low[a.to], k.low[i]+a.min)
				}
			}
			if k.last[i] != NoLimit {
				over += max(0, k.low[i]+k.length[i]-k.last[i])
			}
		}
		for _, h := range k.after[g] {
			if left[h]--; left[h] == 0 {
				k.ready.push(key[h], h)
			}
		}
	}
}

// place finds the earliest starts of a group and takes their room. over is by how
// much lags to pinned tasks could not be kept.
func (k *packing) place(g int) (over int, ok bool) {
	list := k.groups[g]
	k.queue = append(k.queue[:0], list...)
	for tries := 0; ; tries++ {
		if tries > 20*len(list)+200 {
			return 0, false
		}
		if !k.settle(g) {
			return 0, false
		}
		if !k.shared[g] {
			break
		}
		if i, t := k.crowded(list); i >= 0 {
			k.low[i] = t
			k.queue = append(k.queue[:0], i)
			continue
		}
		break
	}
	for _, i := range list {
		if !k.pinned[i] {
			k.put(i, k.low[i])
		}
		for _, a := range k.out[i] {
			if k.pinned[a.to] {
				over += max(0, k.low[i]+a.min-k.release[a.to])
			}
		}
	}
	return over, true
}

// settle raises the starts of a group until each fits and each lag holds.
func (k *packing) settle(g int) bool {
	for steps := 0; len(k.queue) > 0; steps++ {
		if steps > 400*len(k.groups[g])+4000 {
			return false
		}
		i := k.queue[len(k.queue)-1]
		k.queue = k.queue[:len(k.queue)-1]
		if !k.pinned[i] {
			t, ok := k.fits(i, k.low[i])
			if !ok {
				return false
			}
			k.low[i] = t
		}
		for _, a := range k.out[i] {
			if k.group[a.to] == g && !k.pinned[a.to] && k.low[a.to] < k.low[i]+a.min {
				k.low[a.to] = k.low[i] + a.min
				k.queue = append(k.queue, a.to)
			}
		}
	}
	return true
}

// crowded finds a task of a group that has no room beside those of the group that
// start before it, and when it would have; -1: none.
func (k *packing) crowded(list []int) (task, at int) {
	order := slices.Clone(list)
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(k.low[a], k.low[b]) })
	task = -1
	n := 0
	for _, i := range order {
		if k.pinned[i] {
			continue
		}
		if t, ok := k.fits(i, k.low[i]); ok && t > k.low[i] {
			task, at = i, t
			break
		}
		k.put(i, k.low[i])
		n++
	}
	for _, i := range order {
		if k.pinned[i] {
			continue
		}
		if n == 0 {
			break
		}
		n--
		for _, u := range k.uses[i] {
			k.shelf[u.resource].take(k.low[i], k.low[i]+k.length[i], -u.units)
		}
	}
	return task, at
}

func (k *packing) put(i, t int) {
	for _, u := range k.uses[i] {
		k.shelf[u.resource].take(t, t+k.length[i], u.units)
	}
}

// fits is the first time from t on at which there is room for task i.
func (k *packing) fits(i, t int) (int, bool) {
	for again := true; again; {
		again = false
		for _, u := range k.uses[i] {
			s, ok := k.shelf[u.resource].first(t, k.length[i], u.units)
			if !ok {
				return 0, false
			}
			again = again || s > t
			t = s
		}
	}
	return t, true
}

// profile is what is left of a resource: free[i] units from at[i] to at[i+1].
type profile struct{ at, free []int }

func (f *profile) clear(capacity int) {
	f.at, f.free = append(f.at[:0], 0), append(f.free[:0], capacity)
}

// cut makes t a boundary and returns its index.
func (f *profile) cut(t int) int {
	i := f.index(t)
	if f.at[i] >= t { // or before time begins
		return i
	}
	f.at, f.free = slices.Insert(f.at, i+1, t), slices.Insert(f.free, i+1, f.free[i])
	return i + 1
}

// index is that of the stretch in which t lies, the first for all before it.
func (f *profile) index(t int) int {
	low, high := 0, len(f.at)
	for high-low > 1 {
		if m := (low + high) / 2; f.at[m] <= t {
			low = m
		} else {
			high = m
		}
	}
	return low
}

func (f *profile) take(from, to, units int) {
	a := f.cut(from)
	b := f.cut(to)
	for i := a; i < b; i++ {
		f.free[i] -= units
	}
}

// first is the first time from t on at which so many units are free for so long.
func (f *profile) first(t, length, units int) (int, bool) {
	start := t
	for i := f.index(t); i < len(f.at); i++ {
		if f.at[i] >= start+length {
			return start, true
		}
		if f.free[i] < units {
			if i+1 == len(f.at) {
				return 0, false
			}
			start = f.at[i+1]
		}
	}
	return start, true
}

// keyed is a heap of groups by key, then number.
type keyed struct{ list [][2]int }

func (h *keyed) clear() { h.list = h.list[:0] }

func (h *keyed) push(key, g int) {
	h.list = append(h.list, [2]int{key, g})
	i := len(h.list) - 1
	for i > 0 {
		p := (i - 1) / 2
		if !less(h.list[i], h.list[p]) {
			break
		}
		h.list[i], h.list[p] = h.list[p], h.list[i]
		i = p
	}
}

func (h *keyed) pop() (int, bool) {
	n := len(h.list)
	if n == 0 {
		return 0, false
	}
	top := h.list[0][1]
	h.list[0] = h.list[n-1]
	h.list = h.list[:n-1]
	for i := 0; ; {
		c := 2*i + 1
		if c >= n-1 {
			break
		}
		if c+1 < n-1 && less(h.list[c+1], h.list[c]) {
			c++
		}
		if !less(h.list[c], h.list[i]) {
			break
		}
		h.list[i], h.list[c] = h.list[c], h.list[i]
		i = c
	}
	return top, true
}

func less(a, b [2]int) bool { return a[0] < b[0] || a[0] == b[0] && a[1] < b[1] }
