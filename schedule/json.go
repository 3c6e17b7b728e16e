package schedule

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"

	"benchleaf/interval"
)

// document is a problem as JSON; docs/schedule.md describes it.
type document struct {
	Resources []struct {
		ID       string   `json:"id"`
		Capacity *int     `json:"capacity"`
		Away     [][2]int `json:"away"`
	} `json:"resources"`
	Tasks []struct {
		ID       string         `json:"id"`
		Duration *amount        `json:"duration"`
		Uses     map[string]int `json:"uses"`
		Release  int            `json:"release"`
		Deadline *int           `json:"deadline"`
		Due      *int           `json:"due"`
	} `json:"tasks"`
	Lags []struct {
		From    string  `json:"from"`
		To      string  `json:"to"`
		After   string  `json:"after"`
		AtLeast *amount `json:"at_least"`
		AtMost  *amount `json:"at_most"`
	} `json:"lags"`
	Wet []struct {
		From string `json:"from"`
		To   string `json:"to"`
	} `json:"wet"`
	Now     *int `json:"now"`
	Started []struct {
		ID    string `json:"id"`
		Start int    `json:"start"`
		Ended *int   `json:"ended"`
		Lasts *int   `json:"lasts"`
	} `json:"started"`
	Last []int `json:"last"`
}

// amount is a time, or its 10 % point, best value and 90 % point.
type amount struct {
	best   int
	spread *interval.Range
}

func (a *amount) UnmarshalJSON(text []byte) error {
	var list []float64
	if err := json.Unmarshal(text, &a.best); err == nil {
		return nil
	}
	if err := json.Unmarshal(text, &list); err != nil || len(list) != 3 || list[0] > list[1] || list[1] > list[2] {
		return fmt.Errorf("%s is no time: a whole number, or three that rise (10 %% point, best, 90 %% point), are expected",
			text)
	}
	if !(math.Abs(list[1]) <= MostTime) {
		return fmt.Errorf("%s is no time: at most %d is expected", text, MostTime)
	}
	a.best, a.spread = int(math.Round(list[1])), &interval.Range{Low: list[0], Best: list[1], High: list[2]}
	return nil
}

// ReadJSON reads a problem of our own form: resources with their capacity, tasks
// with their duration and what they use, and lags from the end (or, where "after"
// is "start", from the start) of one task to the start of another, at least and at
// most so long.
func ReadJSON(r io.Reader) (*Problem, error) {
	d := json.NewDecoder(r)
	d.DisallowUnknownFields()
	var doc document
	if err := d.Decode(&doc); err != nil {
		return nil, fmt.Errorf("the problem is not JSON of the form that docs/schedule.md describes: %w", err)
	}
	if d.More() {
		return nil, fmt.Errorf("text follows after the problem: one JSON object is expected")
	}
	p := &Problem{}
	resource, task := map[string]int{}, map[string]int{}
	for i, x := range doc.Resources {
		if err := named(resource, "resource", x.ID, i); err != nil {
			return nil, err
		}
		if x.Capacity == nil {
			return nil, fmt.Errorf("resource %s has no capacity: how many units of it there are is expected", x.ID)
		}
		res := Resource{ID: x.ID, Capacity: *x.Capacity}
		for _, a := range x.Away {
			res.Away = append(res.Away, Span{a[0], a[1]})
		}
		p.Resources = append(p.Resources, res)
	}
	for i, x := range doc.Tasks {
		if err := named(task, "task", x.ID, i); err != nil {
			return nil, err
		}
		if x.Duration == nil {
			return nil, fmt.Errorf("task %s has no duration: 0 or more is expected", x.ID)
		}
		t := Task{
			ID: x.ID, Duration: x.Duration.best, Spread: x.Duration.spread, Release: x.Release,
			Deadline: orNone(x.Deadline), Due: orNone(x.Due),
			Uses: make([]int, len(p.Resources)),
		}
		for name, n := range x.Uses {
			k, ok := resource[name]
			if !ok {
				return nil, fmt.Errorf("task %s uses %q: that is none of the resources", x.ID, name)
			}
			t.Uses[k] = n
		}
		p.Tasks = append(p.Tasks, t)
	}
	for i, x := range doc.Lags {
		from, ok := task[x.From]
		to, also := task[x.To]
		switch {
		case !ok || !also:
			return nil, fmt.Errorf("lag %d is from %q to %q: two of the tasks are expected", i+1, x.From, x.To)
		case x.AtLeast == nil && x.AtMost == nil:
			return nil, fmt.Errorf("lag %d says neither at_least nor at_most", i+1)
		case x.After != "" && x.After != "end" && x.After != "start":
			return nil, fmt.Errorf("lag %d is after %q: \"end\" or \"start\" is expected", i+1, x.After)
		}
		base, least, most := p.Tasks[from].Duration, EndOfFrom, EndOfTo
		if x.After == "start" {
			base, least, most = 0, FromStart, FromStart
		}
		if v := x.AtLeast; v != nil {
			p.Lags = append(p.Lags, Lag{from, to, base + v.best, least, v.spread})
		}
		if v := x.AtMost; v != nil {
			p.Lags = append(p.Lags, Lag{to, from, -base - v.best, most, v.spread})
		}
	}
	for i, x := range doc.Wet {
		from, ok := task[x.From]
		to, also := task[x.To]
		if !ok || !also {
			return nil, fmt.Errorf("wet stretch %d is from %q to %q: two of the tasks are expected", i+1, x.From, x.To)
		}
		p.Wet = append(p.Wet, Stretch{from, to})
	}
	if doc.Now != nil {
		g := &Progress{Now: *doc.Now, Last: doc.Last}
		for i, x := range doc.Started {
			k, ok := task[x.ID]
			if !ok {
				return nil, fmt.Errorf("the %d. that has started is %q: one of the tasks is expected", i+1, x.ID)
			}
			g.Started = append(g.Started, Started{Task: k, Start: x.Start, Ended: orNone(x.Ended), Lasts: orNone(x.Lasts)})
		}
		p.Progress = g
	} else if len(doc.Started) > 0 {
		return nil, fmt.Errorf("tasks have started, but now is missing: the present time is expected")
	}
	return p, p.Validate()
}

func named(all map[string]int, sort, id string, i int) error {
	if strings.TrimSpace(id) == "" {
		return fmt.Errorf("%s %d has no id: a name of its own is expected", sort, i+1)
	}
	if _, has := all[id]; has {
		return fmt.Errorf("two %ss are called %q: each needs a name of its own", sort, id)
	}
	all[id] = i
	return nil
}

func orNone(v *int) int {
	if v == nil {
		return NoLimit
	}
	if *v < 0 {
		return -2 // refused by Validate
	}
	return *v
}

// Read reads a problem in whichever of the three forms it is: our JSON, an
// instance of ProGen/max, or a job shop. A name that ends in .sch says ProGen/max;
// otherwise the text decides.
func Read(name string, r io.Reader) (*Problem, error) {
	text, err := io.ReadAll(io.LimitReader(r, 64<<20+1))
	if err != nil {
		return nil, err
	}
	if len(text) > 64<<20 {
		return nil, fmt.Errorf("the problem is larger than 64 MB")
	}
	body := bytes.NewReader(text)
	switch {
	case bytes.HasPrefix(bytes.TrimSpace(text), []byte("{")):
		return ReadJSON(body)
	case strings.HasSuffix(strings.ToLower(name), ".sch") || isProGen(text):
		return ReadProGen(body)
	}
	return ReadJobShop(body)
}

// isProGen says whether the first line with numbers has four, as that of
// ProGen/max has where a job shop has two.
func isProGen(text []byte) bool {
	for line := range strings.Lines(string(text[:min(len(text), 1<<16)])) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			return len(strings.Fields(line)) == 4
		}
	}
	return false
}
