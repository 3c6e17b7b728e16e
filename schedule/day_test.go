package schedule

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"benchleaf/interval"
)

// A wet day in words, from which drawnDay draws one: sheets of a few papers each pass a
// chain of acts. What lies in a liquid takes a tray and no hand but for putting it in;
// a bleach is followed by its rinse at once; a mend begins while the sheet is damp, so
// some time after the last bath and not much later; then a press takes the sheet for
// some minutes. One person has two hands and does one thing. Now and then two sheets
// share a bath, or the person is away for a meal.
func drawnDay(seed uint64, sheets int, tight float64) *Problem {
	r := rand.New(rand.NewPCG(seed, 77))
	between := func(a, b int) int { return a + r.IntN(b-a+1) }
	p := &Problem{Resources: []Resource{{ID: "person", Capacity: 1}, {ID: "tray", Capacity: 4}, {ID: "press", Capacity: 2}}}
	const person, tray, press = 0, 1, 2
	if r.IntN(2) == 0 {
		from := between(120, 260)
		p.Resources[person].Away = []Span{{from, from + between(20, 45)}}
	}
	task := func(id string, d int, uses ...int) int {
		u := make([]int, 3)
		for _, k := range uses {
			u[k]++
		}
		p.Tasks = append(p.Tasks, Task{ID: id, Duration: d, Deadline: NoLimit, Due: NoLimit, Uses: u})
		return len(p.Tasks) - 1
	}
	follow := func(a, b, least, most int) {
		d := p.Tasks[a].Duration
		p.Lags = append(p.Lags, Lag{From: a, To: b, Min: d + least, Ends: EndOfFrom})
		if most >= 0 {
			p.Lags = append(p.Lags, Lag{From: b, To: a, Min: -d - most, Ends: EndOfTo})
		}
	}
	slack := func(v int) int { return int(float64(v) / tight) }
	papers := between(1, 3)
	wash, lime := make([]int, papers), make([]int, papers)
	for i := range papers {
		wash[i], lime[i] = between(10, 24), between(8, 20)
	}
	for s := range sheets {
		k := r.IntN(papers)
		name := func(op string) string { return fmt.Sprintf("%s %d", op, s+1) }
		clean := task(name("clean"), between(2, 6), person)
		in := task(name("wash"), wash[k]+between(-2, 2), tray)
		last := in
		follow(clean, in, 0, -1)
		if r.IntN(3) > 0 {
			bleach := task(name("bleach"), between(5, 14), tray)
			rinse := task(name("rinse"), between(4, 9), tray, person)
			follow(in, bleach, 0, slack(between(10, 40)))
			follow(bleach, rinse, 0, between(0, 2))
			last = rinse
		} else {
			again := task(name("wash again"), wash[k], tray)
			look := task(name("look"), 1, person)
			follow(in, look, 0, slack(20))
			follow(look, again, 0, slack(15))
			last = again
		}
		bath := task(name("lime"), lime[k]+between(-1, 3), tray)
		follow(last, bath, 0, slack(between(8, 25)))
		mend := task(name("mend"), between(3, 9), person)
		open := between(4, 12)
		follow(bath, mend, open, open+slack(between(10, 30)))
		down := task(name("press"), between(10, 18), press)
		follow(mend, down, 0, slack(between(3, 12)))
	}
	return p
}

// boundDay is harder: every bath of a sheet follows the last within minutes, the rinse
// at once and by hand, and the person is away twice.
func boundDay(seed uint64, sheets int) *Problem {
	r := rand.New(rand.NewPCG(seed, 5))
	between := func(a, b int) int { return a + r.IntN(b-a+1) }
	p := &Problem{Resources: []Resource{
		{ID: "person", Capacity: 1, Away: []Span{{200, 230}, {400, 445}}}, {ID: "tray", Capacity: 4}, {ID: "press", Capacity: 2},
	}}
	for s := range sheets {
		last := -1
		for _, x := range []struct {
			op          string
			d           int
			uses        []int
			least, most int
		}{
			{"wash", between(15, 30), []int{0, 1}, 0, 0}, {"bleach", between(8, 20), []int{0, 1}, 0, 5},
			{"rinse", between(5, 10), []int{1, 1}, 0, 0}, {"rinse again", between(5, 10), []int{0, 1}, 0, 0},
			{"lime", between(10, 25), []int{0, 1}, 0, 10}, {"mend", between(3, 10), []int{1}, between(3, 6), between(8, 20)},
			{"press", between(15, 40), []int{0, 0, 1}, 0, 3},
		} {
			p.Tasks = append(p.Tasks, Task{
				ID: fmt.Sprint(x.op, " ", s+1), Duration: x.d, Deadline: NoLimit, Due: NoLimit, Uses: x.uses,
			})
			i := len(p.Tasks) - 1
			if last >= 0 {
				d := p.Tasks[last].Duration
				p.Lags = append(p.Lags, Lag{From: last, To: i, Min: d + x.least, Ends: EndOfFrom},
					Lag{From: i, To: last, Min: -d - x.most, Ends: EndOfTo})
			}
			last = i
		}
	}
	return p
}

// Thirty days of 40 sheets, 280 operations: the sweep takes a minute, and how far it
// gets in two seconds is the machine's, so it is run by .ci/long.
func TestLargeDaysComeNearTheirBound(t *testing.T) {
	if os.Getenv("BENCHLEAF_LONG") == "" {
		t.Skip("set BENCHLEAF_LONG for the sweep of large days")
	}
	var gaps []float64
	for seed := range uint64(30) {
		p := drawnDay(seed, 40, []float64{1, 1.5, 3}[seed%3])
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		a, err := Solve(ctx, p, Options{Seed: seed})
		cancel()
		if err != nil || !a.Feasible {
			t.Fatalf("%+v, %v", a, err)
		}
		gaps = append(gaps, float64(a.Makespan)/float64(a.LowerBound)-1)
		t.Logf("%d: %d, bound %d, %.1f %%", seed, a.Makespan, a.LowerBound, 100*gaps[seed])
	}
	slices.Sort(gaps)
	t.Logf("median %.1f %%, worst %.1f %%", 100*gaps[15], 100*gaps[29])
	if gaps[15] > 0.10 || gaps[29] > 0.20 {
		t.Errorf("the gap is %.1f %% in the median and %.1f %% at worst; want 10 and 20", 100*gaps[15], 100*gaps[29])
	}
}

// What packing alone finds in a fixed number of steps keeps every limit of a day and
// ends no sooner than the bound says.
func TestPackedDaysKeepEveryLimit(t *testing.T) {
	for seed := range uint64(6) {
		for _, p := range []*Problem{drawnDay(seed, 40, 2), boundDay(seed, 40)} {
			l := newLarge(p, seed)
			l.begin(nil)
			l.turn(20, func() bool { return false })
			if l.least.over > 0 {
				t.Fatalf("day %d: no schedule", seed)
			}
			if err := p.Check(l.best); err != nil {
				t.Errorf("day %d: %v", seed, err)
			}
			if low := p.workBound(p.earliest()); low > l.least.end {
				t.Errorf("day %d: it ends at %d, before the bound of %d", seed, l.least.end, low)
			}
		}
	}
}

// However a day went so far, the new plan leaves what has started as it is, starts
// nothing before now, and keeps every limit or names the one that it does not.
func TestANewPlanKeepsWhatHasHappened(t *testing.T) {
	late, whole := 0, 0
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 9))
		p := drawnDay(seed, 12, 1.5)
		l := newLarge(p, seed)
		l.begin(nil)
		g := &Progress{Now: 20 + r.IntN(l.least.end/2), Last: l.best}
		for i, s := range l.best {
			if s > g.Now {
				continue
			}
			x := Started{Task: i, Start: s, Ended: s + p.Tasks[i].Duration, Lasts: NoLimit}
			if x.Ended > g.Now {
				x.Ended = NoLimit
				if r.IntN(3) == 0 { // it will take longer than was planned
					x.Lasts = p.Tasks[i].Duration + 1 + r.IntN(6)
				}
			}
			g.Started = append(g.Started, x)
		}
		p.Progress = g
		a, err := Solve(t.Context(), p, Options{Seed: seed})
		if err != nil || a.Starts == nil {
			t.Fatalf("day %d: %+v, %v", seed, a, err)
		}
		begun := map[int]bool{}
		for _, x := range g.Started {
			begun[x.Task] = true
			if a.Starts[x.Task] != x.Start {
				t.Errorf("day %d: task %d started at %d and is planned at %d", seed, x.Task, x.Start, a.Starts[x.Task])
			}
		}
		for i, s := range a.Starts {
			if !begun[i] && s < g.Now {
				t.Errorf("day %d: task %d is planned at %d, before now, %d", seed, i, s, g.Now)
			}
		}
		if broken := p.after(g).Check(a.Starts); (broken == nil) != a.Feasible || (len(a.Broken) > 0) == a.Feasible {
			t.Errorf("day %d: feasible %v, broken %v: %v", seed, a.Feasible, a.Broken, broken)
		}
		if whole++; !a.Feasible {
			late++
		}
	}
	t.Logf("%d of %d could not keep every limit", late, whole)
	if late == whole {
		t.Error("no new plan kept every limit")
	}
}

// spreadDay is a day whose times by hand may take longer, and whose windows are not
// known well.
func spreadDay(seed uint64) *Problem {
	p := drawnDay(seed, 10, 1)
	for i := range p.Tasks {
		if t := &p.Tasks[i]; t.Uses[0] > 0 {
			d := float64(t.Duration)
			t.Spread = &interval.Range{Low: 0.85 * d, Best: d, High: 1.4 * d}
		}
	}
	for i := range p.Lags {
		if l := &p.Lags[i]; l.amount(p) > 10 {
			v := float64(l.amount(p))
			l.Spread = &interval.Range{Low: 0.85 * v, Best: v, High: 1.15 * v}
		}
	}
	return p
}

// A day chosen to hold in nine of ten does in at least 88 of a hundred of 2,000 days
// that the choice never saw; one planned with the best times does not.
func TestAChosenDayHoldsInNineOfTen(t *testing.T) {
	bold := 0
	for seed := range uint64(2) {
		p := spreadDay(seed)
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		a, heard, err := Hold(ctx, p, Options{Seed: seed})
		cancel()
		if err != nil || !a.Feasible {
			t.Fatalf("%+v, %v", a, err)
		}
		fresh := p.Rehearse(a.Starts, 2000, seed+1000)
		if fresh.Share() < 0.88 {
			t.Errorf("day %d: it holds in %.3f of fresh days, and in %.3f of those it was chosen by", seed, fresh.Share(),
				heard.Share())
		}
		l := newLarge(p, seed)
		l.begin(nil)
		if r := p.Rehearse(l.best, 500, 1); r.Share() < 0.9 {
			bold++
			if len(r.Spoilers) == 0 {
				t.Errorf("day %d: held in %.2f, and nothing spoilt it", seed, r.Share())
			}
		}
	}
	if bold == 0 {
		t.Error("every day held as it was: the test shows nothing")
	}
}

// With no spread a rehearsal is the plan itself.
func TestCertainTimesAlwaysHold(t *testing.T) {
	p := drawnDay(3, 10, 1)
	l := newLarge(p, 1)
	l.begin(nil)
	r := p.Rehearse(l.best, 20, 1)
	if r.Held != 20 || r.Ends[0] != l.least.end || r.Ends[19] != l.least.end {
		t.Errorf("%+v; want 20 days that end at %d", r, l.least.end)
	}
}

func BenchmarkReplan(b *testing.B) {
	p := drawnDay(1, 40, 1.5)
	l := newLarge(p, 1)
	l.begin(nil)
	g := &Progress{Now: l.least.end / 3, Last: l.best}
	for i, s := range l.best {
		if s <= g.Now {
			x := Started{Task: i, Start: s, Ended: s + p.Tasks[i].Duration, Lasts: NoLimit}
			if x.Ended > g.Now {
				x.Ended, x.Lasts = NoLimit, p.Tasks[i].Duration+7
			}
			g.Started = append(g.Started, x)
		}
	}
	p.Progress = g
	for b.Loop() {
		if a, err := Solve(context.Background(), p, Options{Seed: 1}); err != nil || a.Starts == nil {
			b.Fatal(err)
		}
	}
}
