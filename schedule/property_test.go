package schedule

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// drawn is a small problem of any kind.
func drawn(t *rapid.T) *Problem {
	p := &Problem{}
	for k := range rapid.IntRange(0, 2).Draw(t, "resources") {
		r := Resource{ID: fmt.Sprint("r", k), Capacity: rapid.IntRange(1, 3).Draw(t, "capacity")}
		if rapid.IntRange(0, 3).Draw(t, "break") == 0 {
			from := rapid.IntRange(0, 8).Draw(t, "away")
			r.Away = []Span{{from, from + rapid.IntRange(1, 3).Draw(t, "for")}}
		}
		p.Resources = append(p.Resources, r)
	}
	n := rapid.IntRange(1, 5).Draw(t, "tasks")
	for i := range n {
		x := Task{
			ID: fmt.Sprint("t", i), Duration: rapid.IntRange(0, 4).Draw(t, "duration"), Deadline: NoLimit, Due: NoLimit,
			Release: max(0, rapid.IntRange(-6, 3).Draw(t, "release")),
		}
		if rapid.IntRange(0, 4).Draw(t, "dead") == 0 {
			x.Deadline = rapid.IntRange(3, 12).Draw(t, "deadline")
		}
		if rapid.IntRange(0, 2).Draw(t, "due?") == 0 {
			x.Due = rapid.IntRange(0, 8).Draw(t, "due")
		}
		for k := range p.Resources {
			x.Uses = append(x.Uses, rapid.IntRange(0, p.Resources[k].Capacity).Draw(t, "uses"))
		}
		p.Tasks = append(p.Tasks, x)
	}
	for range rapid.IntRange(0, 2*n).Draw(t, "lags") {
		p.Lags = append(p.Lags, Lag{
			From: rapid.IntRange(0, n-1).Draw(t, "from"), To: rapid.IntRange(0, n-1).Draw(t, "to"),
			Min: rapid.IntRange(-6, 4).Draw(t, "lag"),
		})
	}
	for range rapid.IntRange(0, 2).Draw(t, "wet") {
		a := rapid.IntRange(0, n-1).Draw(t, "wet from")
		p.Wet = append(p.Wet, Stretch{a, rapid.IntRange(0, n-1).Draw(t, "wet to")})
	}
	return p
}

// tryAll finds the shortest makespan by trying every start up to a horizon, and then
// the least late and the least long wet, and -1 where there is none.
func tryAll(p *Problem, horizon int) (best, late, wet int) {
	best = -1
	starts := make([]int, len(p.Tasks))
	var place func(i int)
	place = func(i int) {
		if i == len(p.Tasks) {
			if p.Check(starts) == nil {
				m, l, w := p.Makespan(starts), 0, 0
				for k, s := range starts {
					if t := p.Tasks[k]; t.Due != NoLimit && s+t.Duration > t.Due {
						l += s + t.Duration - t.Due
					}
				}
				for _, x := range p.Wet {
					w += starts[x.To] + p.Tasks[x.To].Duration - starts[x.From]
				}
				if best < 0 || m < best || m == best && (l < late || l == late && w < wet) {
					best, late, wet = m, l, w
				}
			}
			return
		}
		for s := 0; s+p.Tasks[i].Duration <= horizon && (best < 0 || s+p.Tasks[i].Duration <= best); s++ {
			starts[i] = s
			if partly(p, starts[:i+1]) {
				place(i + 1)
			}
		}
	}
	place(0)
	return best, late, wet
}

// partly says whether the lags between the tasks placed hold.
func partly(p *Problem, starts []int) bool {
	for _, l := range p.Lags {
		if l.From < len(starts) && l.To < len(starts) && starts[l.To] < starts[l.From]+l.Min {
			return false
		}
	}
	return true
}

// Every small problem is solved to what trying all starts finds, or is proven to
// have no schedule where trying all finds none; what is named as a clash has none
// by itself, and one without any of its limits.
func TestSmallProblemsAreSolvedAsByTryingAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		a, err := Solve(context.Background(), p, Options{Seed: rapid.Uint64().Draw(t, "seed")})
		if err != nil {
			t.Fatal(err)
		}
		want, late, wet := tryAll(p, int(p.horizon()))
		switch {
		case !a.Proven:
			t.Fatalf("not proven: %+v", a)
		case a.Feasible != (want >= 0) || a.Feasible && a.Makespan != want:
			t.Fatalf("%+v, but trying all finds %d", a, want)
		case a.Feasible && (!a.LateProven || !a.WetProven || a.Late != late || a.Wet != wet):
			t.Fatalf("%+v, but trying all finds %d late and %d wet", a, late, wet)
		case a.Feasible && p.Check(a.Starts) != nil:
			t.Fatal(p.Check(a.Starts))
		}
		if !a.Feasible {
			clashes(t, p)
		}
	})
}

func clashes(t *rapid.T, p *Problem) {
	say, least := p.Clash(context.Background())
	if !least {
		t.Fatal("the clash is not known to be the least")
	}
	all := p.limits()
	in := map[string]bool{}
	for _, s := range say {
		in[s] = true
	}
	// Limits of the same words ask the same, so one of them is enough.
	without := func(left string) bool {
		q := p.clone()
		for _, l := range all {
			if !in[l.say] || l.say == left {
				l.drop(q)
			}
		}
		q.lagsKept()
		best, _, _ := tryAll(q, int(q.horizon()))
		return best >= 0
	}
	if without("") {
		t.Fatalf("%q can be kept together", say)
	}
	for _, s := range say {
		if !without(s) {
			t.Fatalf("%q contradict each other without %q too", say, s)
		}
	}
}

func (p *Problem) lagsKept() {
	var kept []Lag
	for _, l := range p.Lags {
		if l.Min != -MostTime {
			kept = append(kept, l)
		}
	}
	p.Lags = kept
}

// The same seed gives the same schedule.
func TestASeedGivesOneSchedule(t *testing.T) {
	in, err := os.ReadFile("testdata/jobshop/la02")
	if err != nil {
		t.Fatal(err)
	}
	var last string
	for range 3 {
		p, err := ReadJobShop(bytes.NewReader(in))
		if err != nil {
			t.Fatal(err)
		}
		a, err := Solve(context.Background(), p, Options{Seed: 7})
		if err != nil {
			t.Fatal(err)
		}
		if now := fmt.Sprint(a); last != "" && now != last {
			t.Fatalf("%s, and then %s", last, now)
		} else {
			last = now
		}
	}
}

// A search that is stopped says what it knows, and no more.
func TestAStoppedSearchClaimsNoProof(t *testing.T) {
	in, err := os.ReadFile("testdata/jobshop/la02")
	if err != nil {
		t.Fatal(err)
	}
	p, _ := ReadJobShop(bytes.NewReader(in))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	a, err := Solve(ctx, p, Options{})
	if err != nil || a.Proven || a.LowerBound > 655 || a.LowerBound < 1 {
		t.Errorf("%+v, %v; want a bound of at most the optimum, 655", a, err)
	}
}

func TestWhatCannotBeReadIsRefusedWithASentence(t *testing.T) {
	for _, x := range []struct{ name, text, want string }{
		{"a", "", "the text ends"},
		{"a", "2 2\n0 3 1", "pairs of a machine"},
		{"a", "1 1\n5 3", "names machine 5"},
		{"a.SCH", "1 1 0 0\n0 1 1 1 [0]\n1 1 1 9 [0]\n2 1 0\n0 1 0 0\n1 1 1 0\n2 1 0 0\n4", "lag 2 is from task 1 to task 9"},
		{"a.SCH", "1 x 0 0", "not a whole number"},
		{"a", `{"tasks": []}`, "there is no task"},
		{"a", `{"tasks": [{"id": "a", "duration": -1}]}`, "duration of -1"},
		{"a", `{"tasks": [{"id": "a", "duration": 1, "uses": {"tray": 1}}]}`, "none of the resources"},
		{"a", `{"tasks": [{"id": "a", "duration": 1}], "lags": [{"from": "a", "to": "b", "at_least": 1}]}`, "two of the tasks"},
		{"a", `{"tasks": [{"id": "a"}]}`, "no duration"},
		{"a", `{"tusks": []}`, "docs/schedule.md"},
	} {
		if _, err := Read(x.name, strings.NewReader(x.text)); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%q: %v; want %q", x.text, err, x.want)
		}
	}
}

// A day in our own form: what must follow at once does.
func TestJSONTellsLagsFromTheEnd(t *testing.T) {
	p, err := ReadJSON(strings.NewReader(`{"resources": [{"id": "tray", "capacity": 1, "away": [[10, 20]]}],
		"tasks": [{"id": "bleach", "duration": 8, "uses": {"tray": 1}}, {"id": "rinse", "duration": 6, "uses": {"tray": 1}}],
		"lags": [{"from": "bleach", "to": "rinse", "at_least": 0, "at_most": 0}]}`))
	if err != nil {
		t.Fatal(err)
	}
	a, err := Solve(context.Background(), p, Options{})
	if err != nil || !a.Proven || fmt.Sprint(a.Starts) != "[20 28]" {
		t.Errorf("%+v, %v; want both after the break, the rinse at once", a, err)
	}
}

func FuzzRead(f *testing.F) {
	for _, name := range []string{"testdata/jobshop/ft06", "testdata/rcpsp-max-j10/PSP1.SCH"} {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte(`{"resources":[{"id":"a","capacity":1}],"tasks":[{"id":"b","duration":1,"uses":{"a":1}}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Read("", bytes.NewReader(text))
		if err != nil {
			return
		}
		if len(p.Tasks) > 40 {
			return
		}
		ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
		defer cancel()
		a, err := Solve(ctx, p, Options{})
		if err != nil {
			out, _ := json.Marshal(p)
			t.Fatalf("%s: %v", out, err)
		}
		if a.Feasible && a.LowerBound > a.Makespan {
			t.Fatalf("%+v", a)
		}
	})
}
