package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"benchleaf/schedule"
)

// scheduleCmd finds when to do what.
type scheduleCmd struct {
	File    string  `arg:"" help:"Problem as our JSON, ProGen/max (.SCH) or job shop; - for standard input."`
	Seconds float64 `default:"15" help:"How long to search at most; the best found by then is given."`
	Seed    uint64  `default:"1" help:"Another seed makes another search."`
	Hold    bool    `help:"Where times have a spread: the shortest schedule that holds in nine of ten sampled days."`
}

// scheduleAnswer is what --json writes. Starts are in the order of the tasks;
// feasible is false where it is proven that there is no schedule, and null where
// none was found and none excluded.
type scheduleAnswer struct {
	Makespan   *int     `json:"makespan"`
	LowerBound int      `json:"lower_bound"`
	Optimal    bool     `json:"optimal"`
	Feasible   *bool    `json:"feasible"`
	Starts     []int    `json:"starts"`
	Late       int      `json:"late"`
	Wet        int      `json:"wet"`
	Clash      []string `json:"clash,omitempty"`
	Broken     []string `json:"broken,omitempty"`
	// Held is the share of sampled days in which the schedule holds, Spoilers what broke
	// others, the most frequent first.
	Held     *float64  `json:"held,omitempty"`
	Spoilers []spoiler `json:"spoilers,omitempty"`
}

// spoiler is a task, or the lag between two, whose time broke a share of the days.
type spoiler struct {
	Task  string  `json:"task"`
	Then  string  `json:"then,omitempty"`
	Share float64 `json:"share"`
}

const mostSpoilers = 5

// rehearsed adds how often the schedule holds.
func (a *scheduleAnswer) rehearsed(p *schedule.Problem, r schedule.Rehearsal) {
	share := r.Share()
	a.Held = &share
	for _, x := range r.Spoilers[:min(len(r.Spoilers), mostSpoilers)] {
		s := spoiler{Task: p.Tasks[x.From].ID, Share: float64(x.Days) / float64(r.Of)}
		if x.To != x.From {
			s.Then = p.Tasks[x.To].ID
		}
		a.Spoilers = append(a.Spoilers, s)
	}
}

// Run reads the problem and prints the schedule.
func (c *scheduleCmd) Run(g *globals) error {
	if !(c.Seconds > 0 && c.Seconds <= 86400) {
		return badUse("--seconds is %g: more than 0 and at most 86400 is expected.", c.Seconds)
	}
	f, err := g.input(c.File)
	if err != nil {
		return err
	}
	defer f.Close()
	p, err := schedule.Read(filepath.Base(c.File), f)
	if err != nil {
		return fmt.Errorf("%s: %w", c.File, err)
	}
	ctx, cancel := context.WithTimeout(g.Context, time.Duration(c.Seconds*float64(time.Second)))
	defer cancel()
	a, heard, err := c.solve(ctx, p)
	if err != nil {
		return err
	}
	out := scheduleAnswer{
		LowerBound: a.LowerBound, Optimal: a.Feasible && a.Proven, Starts: a.Starts, Late: a.Late, Wet: a.Wet,
	}
	for _, x := range a.Broken {
		out.Broken = append(out.Broken, x.Say(p))
	}
	if c.Hold && a.Feasible {
		out.rehearsed(p, heard)
	}
	if a.Feasible || a.Proven || len(a.Broken) > 0 {
		out.Feasible = &a.Feasible
	}
	if a.Starts != nil {
		out.Makespan = &a.Makespan
	}
	least := true
	if a.Proven && !a.Feasible {
		out.Clash, least = p.Clash(ctx)
	}
	if g.JSON {
		return g.writeJSON(out)
	}
	_, err = fmt.Fprint(g.Stdout, scheduleProse(p, &out, least))
	return err
}

func (c *scheduleCmd) solve(
	ctx context.Context, p *schedule.Problem,
) (a schedule.Answer, r schedule.Rehearsal, err error) {
	o := schedule.Options{Seed: c.Seed}
	if !c.Hold {
		a, err = schedule.Solve(ctx, p, o)
		return a, r, err
	}
	if p.Progress != nil {
		return a, r, badUse("--hold is for a day that has not begun: nothing may have started yet.")
	}
	return schedule.Hold(ctx, p, o)
}

// scheduleProse is an answer for a person to read.
func scheduleProse(p *schedule.Problem, a *scheduleAnswer, least bool) string {
	var b strings.Builder
	switch {
	case a.Feasible == nil:
		return fmt.Sprintf("No schedule was found in time, and none was excluded; none can be done before %d.\n",
			a.LowerBound)
	case len(a.Broken) > 0:
		fmt.Fprintf(&b, "What has happened leaves no schedule that keeps every limit. This one is done at %d; it does not "+
			"keep:\n  %s\n\n", *a.Makespan, strings.Join(a.Broken, "\n  "))
	case a.Optimal:
		fmt.Fprintf(&b, "All is done at %d, and cannot be done sooner.\n\n", *a.Makespan)
	case *a.Feasible:
		fmt.Fprintf(&b, "All is done at %d; none can be done before %d. More time may find a shorter one.\n\n", *a.Makespan,
			a.LowerBound)
	default:
		fmt.Fprintln(&b, "There is no schedule that keeps every limit.")
		if len(a.Clash) > 0 {
			fmt.Fprint(&b, "These contradict each other")
			if least {
				fmt.Fprint(&b, ", and without any one of them the others can be kept")
			}
			fmt.Fprintf(&b, ":\n  %s\n", strings.Join(a.Clash, "\n  "))
		}
		return b.String()
	}
	if a.Held != nil {
		fmt.Fprintf(&b, "It holds in %.1f %% of the sampled days.\n", 100**a.Held)
		for _, x := range a.Spoilers {
			fmt.Fprintf(&b, "  %s breaks %.1f %%\n", strings.TrimSuffix(x.Task+", then "+x.Then, ", then "), 100*x.Share)
		}
		fmt.Fprintln(&b)
	}
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "task\tstart\tend")
	for i, s := range a.Starts {
		fmt.Fprintf(w, "%s\t%d\t%d\n", p.Tasks[i].ID, s, s+p.Tasks[i].Duration)
	}
	w.Flush()
	return b.String()
}
