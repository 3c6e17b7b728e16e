package account

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/schedule"
)

// offPlan is from how many minutes off a run makes the day be planned anew.
const offPlan = 2

// DayNow is a plan that was laid down as it stands now: what has been done of it, and, where a
// run began or ended late or early, a new plan of the rest.
type DayNow struct {
	Day
	Kept *record.Stamped[record.DayPlan]
	// Moved are the tasks that start at another time than was laid down; Why is what made
	// them, Broken what can no longer be kept.
	Moved       []DayTask
	Why, Broken []string
}

// FollowDay holds a plan against the runs of its cases, and plans the rest anew where they
// went otherwise.
func FollowDay(ctx context.Context, kept *record.Stamped[record.DayPlan], cases []*record.Case, k words.Clock) *DayNow {
	b := &kept.Body
	d := &DayNow{Kept: kept, Day: Day{HeldPct: b.HeldPct, Asked: DayAsked{
		From: b.From, Until: b.Until, People: b.People, Trays: b.Trays, Presses: b.Presses, Away: b.Away, Now: k,
	}}}
	if b.Spoiler != "" {
		d.Spoilers = []string{b.Spoiler}
	}
	a := &d.Asked
	for _, t := range b.Tasks {
		d.Tasks = append(d.Tasks, dayTaskOf(a, t, cases))
	}
	f := &follower{d: d, cases: cases, now: a.minute(k.Today), taken: map[string]bool{}}
	f.progress()
	if f.now >= 0 && k.Today.Before(b.Until.Add(12*time.Hour)) && len(d.Why) > 0 {
		f.replan(ctx)
	}
	return d
}

// dayTaskOf reads a task of a plan that was laid down.
func dayTaskOf(a *DayAsked, t record.DayTask, cases []*record.Case) DayTask {
	x := DayTask{DayTask: t, Name: treatment.Name(t.Operation)}
	x.Start, x.Last, x.End = a.at(t.StartMin), a.at(t.LastMin), a.at(t.StartMin+t.Minutes)
	wet := t.Step == "in" || t.Step == "bath" || t.Step == "out"
	x.Hands = t.Step != "bath" && t.Step != "under"
	for k, uses := range [3]bool{x.Hands, wet, t.Step == "under"} {
		if uses {
			x.uses[k] = 1
		}
	}
	for _, c := range cases {
		if c.ID == t.Case && t.Step == "mend" && len(t.Sheets) > 0 {
			if from, until, ok := treatment.MendWindowPlanned(c, t.Sheets[0]); ok {
				x.window[0], x.window[1] = from, until
			}
		}
	}
	return x
}

type follower struct {
	d       *DayNow
	cases   []*record.Case
	now     int
	taken   map[string]bool // runs that a task was matched with
	started []schedule.Started
	last    []int
}

// progress matches the tasks with runs.
func (f *follower) progress() {
	a := &f.d.Asked
	for i := range f.d.Tasks {
		t := &f.d.Tasks[i]
		f.last = append(f.last, int(t.StartMin))
		length := int(math.Ceil(t.Minutes))
		r, c := f.runOf(t)
		if r == nil {
			waits := t.Hands && (t.Step == "in" || t.Step == "mend" || t.Step == "work")
			if late := f.now - int(t.StartMin); late > offPlan && waits {
				f.d.Why = append(f.d.Why, en.Upper(t.Title())+" has not begun; it was meant for "+a.Now.At(t.Start)+".")
			}
			continue
		}
		begun := a.minute(r.Body.At)
		out, ended := f.outOf(r, c, t.Sheets)
		switch {
		case t.Step == "in" || t.Step == "press":
			f.start(i, begun-length, begun, schedule.NoLimit)
		case t.Step == "bath" || t.Step == "mend" || t.Step == "work":
			end := schedule.NoLimit
			if ended {
				end = out
			}
			f.start(i, begun, end, schedule.NoLimit)
			f.compare(t, begun, out, ended)
		case t.Step == "under":
			end := schedule.NoLimit
			if begun+length <= f.now {
				end = begun + length
			}
			f.start(i, begun, end, schedule.NoLimit)
		case t.Step == "out" && ended:
			end := schedule.NoLimit
			if out+length <= f.now {
				end = out + length
			}
			f.start(i, out, end, schedule.NoLimit)
		case strings.HasPrefix(t.Step, "change "):
			if n := int(t.Step[len(t.Step)-1] - '1'); n < len(r.Changes) {
				at := a.minute(r.Changes[n].Body.At)
				f.start(i, at-length, at, schedule.NoLimit)
			}
		}
	}
}

// start notes that a task has started, within what has passed.
func (f *follower) start(i, from, end, lasts int) {
	from = min(max(0, from), max(0, f.now))
	if end != schedule.NoLimit {
		end = min(max(from, end), max(0, f.now))
	}
	t := &f.d.Tasks[i]
	t.Done, t.Running = end != schedule.NoLimit, end == schedule.NoLimit
	f.started = append(f.started, schedule.Started{Task: i, Start: from, Ended: end, Lasts: lasts})
}

// compare says where a run went otherwise than planned.
func (f *follower) compare(t *DayTask, begun, out int, ended bool) {
	a := &f.d.Asked
	length := int(math.Ceil(t.Minutes))
	switch off := begun - int(t.StartMin); {
	case ended && out-begun > length+offPlan:
		f.d.Why = append(f.d.Why, en.Upper(t.Title())+" ended "+minutesText(float64(out-begun-length))+" min late.")
	case ended && out-begun < length-offPlan:
		f.d.Why = append(f.d.Why, en.Upper(t.Title())+" ended "+minutesText(float64(length-out+begun))+" min early.")
	case !ended && f.now-begun > length+offPlan:
		f.d.Why = append(f.d.Why, en.Upper(t.Title())+" is "+minutesText(float64(f.now-begun-length))+" min over its time.")
	case off > offPlan || off < -offPlan:
		f.d.Why = append(f.d.Why, en.Upper(t.Title())+" began at "+a.Now.At(a.at(float64(begun)))+" instead of "+
			a.Now.At(t.Start)+".")
	}
}

// runOf is the run that did a task: the next of its operation on its sheets since the day
// began that no earlier bath of the batch has taken.
func (f *follower) runOf(t *DayTask) (*record.Run, *record.Case) {
	key := func(r *record.Run) string {
		return t.Step[:min(2, len(t.Step))] + r.Body.ID + string(rune(t.Batch)) + record.SheetNames(t.Sheets)
	}
	for _, c := range f.cases {
		if c.ID != t.Case {
			continue
		}
		for i := range c.Runs {
			r := &c.Runs[i]
			if r.Body.Operation != t.Operation || r.Body.At.Before(f.d.Asked.From.Add(-30*time.Minute)) ||
				!Covers(r.Body.Sheets, t.Sheets) || f.taken[key(r)] && !strings.HasPrefix(t.Step, "change ") {
				continue
			}
			f.taken[key(r)] = true
			return r, c
		}
	}
	return nil, nil
}

// outOf is when the sheets came out of a run.
func (f *follower) outOf(r *record.Run, c *record.Case, sheets []int) (int, bool) {
	in := c.SheetsIn(r)
	if slices.ContainsFunc(sheets, func(n int) bool { return slices.Contains(in, n) }) || len(r.Ends) == 0 {
		return 0, false
	}
	return f.d.Asked.minute(r.Ends[len(r.Ends)-1].Body.At), true
}

// replan plans the rest anew and says what moved.
func (f *follower) replan(ctx context.Context) {
	b := &dayBuilder{day: &f.d.Day}
	p := b.problem(f.d.Tasks)
	for i := range p.Tasks {
		if late := f.now + p.Tasks[i].Duration; p.Tasks[i].Deadline < late && f.now > 0 {
			p.Tasks[i].Deadline = schedule.NoLimit // past keeping: it is said by its own time
		}
	}
	p.Progress = &schedule.Progress{Now: f.now, Started: f.started, Last: f.last}
	short, done := context.WithTimeout(ctx, 90*time.Millisecond)
	defer done()
	best, err := schedule.Solve(short, p, schedule.Options{Seed: 1})
	if err != nil || best.Starts == nil {
		return
	}
	a := &f.d.Asked
	for i := range f.d.Tasks {
		t := &f.d.Tasks[i]
		was := t.Start
		t.StartMin = float64(best.Starts[i])
		t.Start, t.End = a.at(t.StartMin), a.at(t.StartMin+t.Minutes)
		if t.Last.Before(t.Start) {
			t.Last = t.Start
		}
		if off := t.Start.Sub(was); !t.Done && !t.Running && (off >= offPlan*time.Minute || off <= -offPlan*time.Minute) {
			t.Was = was
			f.d.Moved = append(f.d.Moved, *t)
		}
	}
	for _, x := range best.Broken {
		say := en.Upper(f.d.Tasks[x.To].Title()) + " cannot be kept: " + minutesText(float64(x.By)) + " min too late"
		if x.From != x.To {
			say += " after " + f.d.Tasks[x.From].Title()
		}
		f.d.Broken = append(f.d.Broken, say+".")
	}
	assign(a, f.d.Tasks)
}
