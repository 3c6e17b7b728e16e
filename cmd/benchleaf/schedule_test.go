package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

func scheduled(t *testing.T, text string, flags ...string) (out, errs string, status int) {
	t.Helper()
	var o, e bytes.Buffer
	m := &Main{Stdin: strings.NewReader(text), Stdout: &o, Stderr: &e}
	status = m.Do(t.Context(), append([]string{"schedule", "-"}, flags...))
	return o.String(), e.String(), status
}

// A small day, its optimum by hand: one pair of hands wets two sheets (5 each), each
// then washes 20 in one of two trays and is mended (10) within 15 of its wash. The
// hands work 5 and 5, wait for the first wash until 25, and mend 10 and 10.
func TestScheduleCommand(t *testing.T) {
	day := `{"resources": [{"id": "hands", "capacity": 1}, {"id": "tray", "capacity": 2}], "tasks": [
		{"id": "wet 1", "duration": 5, "uses": {"hands": 1}}, {"id": "wet 2", "duration": 5, "uses": {"hands": 1}},
		{"id": "wash 1", "duration": 20, "uses": {"tray": 1}}, {"id": "wash 2", "duration": 20, "uses": {"tray": 1}},
		{"id": "mend 1", "duration": 10, "uses": {"hands": 1}}, {"id": "mend 2", "duration": 10, "uses": {"hands": 1}}],
		"lags": [{"from": "wet 1", "to": "wash 1", "at_least": 0, "at_most": 0},
		{"from": "wet 2", "to": "wash 2", "at_least": 0, "at_most": 0},
		{"from": "wash 1", "to": "mend 1", "at_least": 0, "at_most": 15},
		{"from": "wash 2", "to": "mend 2", "at_least": 0, "at_most": MOST}]}`
	out, errs, status := scheduled(t, strings.Replace(day, "MOST", "15", 1), "--json")
	var got struct {
		Makespan, LowerBound int
		Optimal              bool
		Feasible             *bool
		Starts               []int
	}
	if err := json.Unmarshal([]byte(strings.Replace(out, "lower_bound", "lowerbound", 1)), &got); err != nil || status != 0 {
		t.Fatalf("status %d, %v: %s%s", status, err, out, errs)
	}
	if got.Makespan != 45 || got.LowerBound != 45 || !got.Optimal || got.Feasible == nil || len(got.Starts) != 6 {
		t.Errorf("%s; want 45 proven", out)
	}
	// With every mend at once after its wash a second pair of hands is missing, since
	// both sheets must be wetted at the beginning.
	tight := strings.NewReplacer("MOST", "0", `"at_most": 15`, `"at_most": 0`).Replace(day)
	tight = strings.Replace(tight, `"duration": 5, "uses": {"hands": 1}}, {"id": "wet 2"`,
		`"duration": 5, "deadline": 5, "uses": {"hands": 1}}, {"id": "wet 2", "deadline": 10`, 1)
	out, _, status = scheduled(t, tight)
	for _, want := range []string{"There is no schedule", "contradict", "wet 2", "there are 1 of hands"} {
		if status != 0 || !strings.Contains(out, want) {
			t.Errorf("status %d: %s; want %q", status, out, want)
		}
	}
	if _, errs, status = scheduled(t, `{"tasks": 3}`); status != 1 || strings.Count(errs, "\n") != 1 {
		t.Errorf("status %d: %q; want one sentence", status, errs)
	}
	if _, errs, status = scheduled(t, day, "--seconds", "-1"); status != 2 {
		t.Errorf("status %d: %q; want bad use", status, errs)
	}
}
