package schedule

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// ReadProGen reads an instance of ProGen/max (Schwindt 1998) of one mode: a line
// with the number of activities and of resources; for each activity from 0 to n+1
// its number, modes, successors and, in brackets, the lag to each from start to
// start; then for each its number, mode, duration and demands; then the
// capacities.
func ReadProGen(r io.Reader) (*Problem, error) {
	lines, err := readLines(r)
	if err != nil {
		return nil, err
	}
	t := &tokens{lines: lines}
	head, err := t.line(2)
	if err != nil {
		return nil, err
	}
	n, resources := head[0], head[1]
	if n < 0 || n+2 > MostTasks || resources < 0 || resources > MostResources {
		return nil, fmt.Errorf("line 1 tells of %d activities and %d resources: at most %d and %d are expected",
			n, resources, MostTasks-2, MostResources)
	}
	p := &Problem{Tasks: make([]Task, n+2), Resources: make([]Resource, resources)}
	for i := range p.Tasks {
		p.Tasks[i] = Task{ID: strconv.Itoa(i), Deadline: NoLimit, Due: NoLimit}
	}
	for i := range n + 2 {
		v, err := t.line(3)
		if err != nil {
			return nil, err
		}
		k := v[2]
		if v[0] != i || v[1] != 1 || k < 0 || len(v) != 3+2*k {
			return nil, fmt.Errorf("line %d: activity %d, one mode, the number of successors, each successor and "+
				"each lag are expected", t.at, i)
		}
		for j := range k {
			p.Lags = append(p.Lags, Lag{From: i, To: v[3+j], Min: v[3+k+j]})
		}
	}
	for i := range n + 2 {
		v, err := t.line(3 + resources)
		if err != nil {
			return nil, err
		}
		if v[0] != i || len(v) != 3+resources {
			return nil, fmt.Errorf("line %d: activity %d, its mode, its duration and %d demands are expected", t.at, i,
				resources)
		}
		p.Tasks[i].Duration, p.Tasks[i].Uses = v[2], v[3:]
	}
	v, err := t.line(resources)
	if err != nil {
		return nil, err
	}
	if len(v) != resources {
		return nil, fmt.Errorf("line %d: %d capacities are expected", t.at, resources)
	}
	for k := range v {
		p.Resources[k].Capacity = v[k]
	}
	return p, p.Validate()
}

// ReadJobShop reads a job shop: lines that begin with # are comments; then the
// number of jobs and of machines; then for each job its operations in order, as
// pairs of a machine from 0 and a duration.
func ReadJobShop(r io.Reader) (*Problem, error) {
	lines, err := readLines(r)
	if err != nil {
		return nil, err
	}
	t := &tokens{lines: lines}
	head, err := t.line(2)
	if err != nil {
		return nil, err
	}
	jobs, machines := head[0], head[1]
	if len(head) != 2 || jobs < 1 || machines < 1 || machines > MostResources || jobs > MostTasks/machines {
		return nil, fmt.Errorf("line %d: the number of jobs and of machines are expected, at most %d operations in all",
			t.at, MostTasks)
	}
	p := &Problem{}
	for k := range machines {
		p.Resources = append(p.Resources, Resource{ID: strconv.Itoa(k), Capacity: 1})
	}
	for j := range jobs {
		v, err := t.line(2)
		if err != nil {
			return nil, err
		}
		if len(v)%2 != 0 {
			return nil, fmt.Errorf("line %d: pairs of a machine and a duration are expected", t.at)
		}
		for i := 0; i < len(v); i += 2 {
			if v[i] < 0 || v[i] >= machines {
				return nil, fmt.Errorf("line %d names machine %d: 0 to %d are expected", t.at, v[i], machines-1)
			}
			uses := make([]int, machines)
			uses[v[i]] = 1
			if i > 0 {
				before := len(p.Tasks) - 1
				p.Lags = append(p.Lags, Lag{From: before, To: before + 1, Min: p.Tasks[before].Duration})
			}
			p.Tasks = append(p.Tasks, Task{
				ID: fmt.Sprintf("job %d, %d", j+1, i/2+1), Duration: v[i+1], Uses: uses, Deadline: NoLimit, Due: NoLimit,
			})
		}
	}
	return p, p.Validate()
}

func readLines(r io.Reader) ([]string, error) {
	s := bufio.NewScanner(r)
	s.Buffer(nil, 1<<20)
	var list []string
	for s.Scan() {
		list = append(list, s.Text())
	}
	return list, s.Err()
}

// tokens reads whole numbers line by line, past empty lines and comments.
type tokens struct {
	lines []string
	at    int // the line read last, from 1
}

func (t *tokens) line(least int) ([]int, error) {
	for t.at < len(t.lines) {
		s := strings.TrimSpace(t.lines[t.at])
		t.at++
		if s == "" || strings.HasPrefix(s, "#") {
			continue
		}
		fields := strings.Fields(strings.NewReplacer("[", " ", "]", " ").Replace(s))
		v := make([]int, len(fields))
		for i, f := range fields {
			n, err := strconv.Atoi(f)
			if err != nil {
				return nil, fmt.Errorf("line %d: %q is not a whole number", t.at, f)
			}
			v[i] = n
		}
		if len(v) < least {
			return nil, fmt.Errorf("line %d has %d numbers: at least %d are expected", t.at, len(v), least)
		}
		return v, nil
	}
	return nil, fmt.Errorf("the text ends after line %d: another line is expected", len(t.lines))
}
