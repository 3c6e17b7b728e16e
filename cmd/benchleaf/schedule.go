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
	Clash      []string `json:"clash,omitempty"`
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
	a, err := schedule.Solve(ctx, p, schedule.Options{Seed: c.Seed})
	if err != nil {
		return err
	}
	out := scheduleAnswer{LowerBound: a.LowerBound, Optimal: a.Feasible && a.Proven, Starts: a.Starts}
	if a.Feasible || a.Proven {
		out.Feasible = &a.Feasible
	}
	if a.Feasible {
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

// scheduleProse is an answer for a person to read.
func scheduleProse(p *schedule.Problem, a *scheduleAnswer, least bool) string {
	var b strings.Builder
	switch {
	case a.Feasible == nil:
		return fmt.Sprintf("No schedule was found in time, and none was excluded; none can be done before %d.\n",
			a.LowerBound)
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
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "task\tstart\tend")
	for i, s := range a.Starts {
		fmt.Fprintf(w, "%s\t%d\t%d\n", p.Tasks[i].ID, s, s+p.Tasks[i].Duration)
	}
	w.Flush()
	return b.String()
}
