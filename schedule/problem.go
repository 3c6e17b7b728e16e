// Package schedule finds when to do what: tasks that use renewable resources, with
// minimal and maximal lags between them, in the shortest time (the resource-
// constrained project scheduling problem with generalised precedence, RCPSP/max:
// Bartusch, Möhring and Radermacher, Annals of Operations Research 16, 1988).
//
// Times are whole numbers of one unit, from 0. What is small is solved to a proof
// of the optimum or of infeasibility; of what is large the best schedule found is
// given with a bound below which none can lie.
package schedule

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// Limits of a problem: beyond them nothing could be said in useful time.
const (
	MostTasks     = 5000
	MostResources = 200
	MostLags      = 100000
	MostTime      = 10_000_000 // units
)

// Problem is what is to be done with what.
type Problem struct {
	Tasks     []Task
	Resources []Resource
	Lags      []Lag
	// Wet are the stretches in which a sheet is wet: of schedules that end alike and
	// are as late, that counts in which they are shortest in all.
	Wet []Stretch
	// Progress is what has happened of it; nil: nothing yet.
	Progress *Progress
}

// Stretch is from the start of task From until the end of task To, by index.
type Stretch struct{ From, To int }

// Task is one piece of work, which is not interrupted.
type Task struct {
	ID string
	// Duration, 0 or more: what is planned with.
	Duration int
	// Spread is what the duration may come to, its 10 and 90 % points; nil: certain.
	Spread *interval.Range
	// Release is the earliest start; Deadline the latest end, NoLimit where there
	// is none; Due when it should end: only its lateness counts.
	Release, Deadline, Due int
	// Uses are the units of each resource that it takes while it runs, by index;
	// shorter than the list of resources where it uses none of the last.
	Uses []int
}

// NoLimit stands where a time has no limit.
const NoLimit = -1

// Resource is something that several tasks share.
type Resource struct {
	ID       string
	Capacity int
	// Away are times in which it is not there.
	Away []Span
}

// Span is from From to To, To excluded.
type Span struct{ From, To int }

// Lag says that To starts at least Min after From starts; a maximal lag of v from
// a to b is a minimal one of -v from b to a.
type Lag struct {
	From, To int // indices of tasks
	Min      int
	// Ends says whose duration Min holds, so that the lag moves with its end.
	Ends Ends
	// Spread is what the time between may come to beside that duration, as it is
	// said (of a maximal lag: at most); nil: certain.
	Spread *interval.Range
}

// Ends says which end a lag counts from.
type Ends int

const (
	FromStart Ends = iota // from starts alone
	EndOfFrom             // Min holds the duration of From: a minimal lag after its end
	EndOfTo               // -Min holds the duration of To: a maximal lag after its end
)

// Validate says what is wrong with a problem in itself.
func (p *Problem) Validate() error {
	switch {
	case len(p.Tasks) == 0:
		return fmt.Errorf("there is no task: at least one is needed")
	case len(p.Tasks) > MostTasks:
		return fmt.Errorf("there are %d tasks: at most %d are expected", len(p.Tasks), MostTasks)
	case len(p.Resources) > MostResources:
		return fmt.Errorf("there are %d resources: at most %d are expected", len(p.Resources), MostResources)
	case len(p.Lags) > MostLags:
		return fmt.Errorf("there are %d lags: at most %d are expected", len(p.Lags), MostLags)
	}
	total := 0
	for i := range p.Tasks {
		t := &p.Tasks[i]
		if err := t.validate(p); err != nil {
			return fmt.Errorf("task %s: %w", t.name(i), err)
		}
		total += t.Duration
	}
	for i, r := range p.Resources {
		if r.Capacity < 0 || r.Capacity > MostTime {
			return fmt.Errorf("resource %s has a capacity of %d: 0 to %d is expected", r.name(i), r.Capacity, MostTime)
		}
		for _, a := range r.Away {
			if a.From < 0 || a.To <= a.From || a.To > MostTime {
				return fmt.Errorf("resource %s is away from %d to %d: a start of 0 or more and a later end are expected",
					r.name(i), a.From, a.To)
			}
		}
	}
	for i, l := range p.Lags {
		if l.From < 0 || l.From >= len(p.Tasks) || l.To < 0 || l.To >= len(p.Tasks) {
			return fmt.Errorf("lag %d is from task %d to task %d: there are %d", i+1, l.From, l.To, len(p.Tasks))
		}
		if l.Min > MostTime || l.Min < -MostTime {
			return fmt.Errorf("lag %d is %d: at most %d is expected", i+1, l.Min, MostTime)
		}
		if err := spreads(l.Spread); err != nil {
			return fmt.Errorf("lag %d: %w", i+1, err)
		}
		total += max(0, l.Min)
	}
	for i, w := range p.Wet {
		if w.From < 0 || w.From >= len(p.Tasks) || w.To < 0 || w.To >= len(p.Tasks) {
			return fmt.Errorf("wet stretch %d is from task %d to task %d: there are %d", i+1, w.From, w.To, len(p.Tasks))
		}
	}
	if len(p.Wet) > MostTasks {
		return fmt.Errorf("there are %d wet stretches: at most %d are expected", len(p.Wet), MostTasks)
	}
	if p.Progress != nil {
		if err := p.Progress.validate(p); err != nil {
			return err
		}
	}
	if total > MostTime {
		return fmt.Errorf("all durations and lags together are %d: at most %d is expected", total, MostTime)
	}
	return nil
}

func (t *Task) validate(p *Problem) error {
	switch {
	case t.Duration < 0 || t.Duration > MostTime:
		return fmt.Errorf("a duration of %d: 0 to %d is expected", t.Duration, MostTime)
	case t.Release < 0 || t.Release > MostTime:
		return fmt.Errorf("a release of %d: 0 to %d is expected", t.Release, MostTime)
	case t.Deadline < NoLimit || t.Deadline > MostTime || t.Due < NoLimit || t.Due > MostTime:
		return fmt.Errorf("a deadline of %d and a due time of %d: 0 to %d, or none, are expected", t.Deadline, t.Due,
			MostTime)
	case len(t.Uses) > len(p.Resources):
		return fmt.Errorf("it uses %d resources: there are %d", len(t.Uses), len(p.Resources))
	}
	if err := spreads(t.Spread); err != nil {
		return err
	}
	for k, u := range t.Uses {
		if u < 0 || u > MostTime {
			return fmt.Errorf("it uses %d of %s: 0 or more is expected", u, p.Resources[k].name(k))
		}
	}
	return nil
}

// spreads says what is wrong with a spread of times.
func spreads(r *interval.Range) error {
	if r == nil {
		return nil
	}
	return r.CheckWithin("a spread", 0, MostTime, "")
}

func (t *Task) name(i int) string {
	if t.ID != "" {
		return t.ID
	}
	return fmt.Sprint(i + 1)
}

func (r *Resource) name(i int) string {
	if r.ID != "" {
		return r.ID
	}
	return fmt.Sprint(i + 1)
}

func (t *Task) uses(k int) int {
	if k < len(t.Uses) {
		return t.Uses[k]
	}
	return 0
}

// Check says what a schedule breaks, nil where it keeps every limit. It knows
// nothing of how the schedule was found.
func (p *Problem) Check(starts []int) error {
	if len(starts) != len(p.Tasks) {
		return fmt.Errorf("%d starts for %d tasks", len(starts), len(p.Tasks))
	}
	for i := range p.Tasks {
		t, s := &p.Tasks[i], starts[i]
		if s < t.Release {
			return fmt.Errorf("task %s starts at %d, before its release at %d", t.name(i), s, t.Release)
		}
		if t.Deadline != NoLimit && s+t.Duration > t.Deadline {
			return fmt.Errorf("task %s ends at %d, after its deadline at %d", t.name(i), s+t.Duration, t.Deadline)
		}
	}
	for _, l := range p.Lags {
		if starts[l.To] < starts[l.From]+l.Min {
			return fmt.Errorf("task %s starts at %d, less than %d after task %s at %d", p.Tasks[l.To].name(l.To),
				starts[l.To], l.Min, p.Tasks[l.From].name(l.From), starts[l.From])
		}
	}
	for k := range p.Resources {
		if err := p.checkUse(k, starts); err != nil {
			return err
		}
	}
	return nil
}

// checkUse looks at each start: use can exceed the capacity only from one on.
func (p *Problem) checkUse(k int, starts []int) error {
	r := &p.Resources[k]
	for i := range p.Tasks {
		t := starts[i]
		if p.Tasks[i].uses(k) == 0 || p.Tasks[i].Duration == 0 {
			continue
		}
		for _, a := range r.Away {
			if t < a.To && a.From < t+p.Tasks[i].Duration {
				return fmt.Errorf("task %s runs while %s is away from %d to %d", p.Tasks[i].name(i), r.name(k), a.From, a.To)
			}
		}
		sum := 0
		for j := range p.Tasks {
			if starts[j] <= t && t < starts[j]+p.Tasks[j].Duration {
				sum += p.Tasks[j].uses(k)
			}
		}
		if sum > r.Capacity {
			return fmt.Errorf("at %d tasks use %d of %s, which has %d", t, sum, r.name(k), r.Capacity)
		}
	}
	return nil
}

// Makespan is when the last task ends.
func (p *Problem) Makespan(starts []int) int {
	end := 0
	for i := range p.Tasks {
		end = max(end, starts[i]+p.Tasks[i].Duration)
	}
	return end
}

// distances are the longest paths between tasks by their lags: what s_j is at least
// after s_i, far below 0 where nothing binds them. ok is false where a cycle of lags
// asks a task to start after itself.
func (p *Problem) distances() (d [][]int32, ok bool) {
	const far = math.MinInt32 / 4
	n := len(p.Tasks)
	d = make([][]int32, n)
	for i := range d {
		d[i] = make([]int32, n)
		for j := range d[i] {
			d[i][j] = far
		}
		d[i][i] = 0
	}
	for _, l := range p.Lags {
		d[l.From][l.To] = max(d[l.From][l.To], int32(l.Min))
	}
	for k := range n {
		for i := range n {
			if d[i][k] <= far {
				continue
			}
			for j := range n {
				if d[k][j] > far && d[i][k]+d[k][j] > d[i][j] {
					d[i][j] = d[i][k] + d[k][j]
				}
			}
			if d[i][i] > 0 {
				return nil, false
			}
		}
	}
	return d, true
}
