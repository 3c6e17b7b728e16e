package web

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// started begins a run of an operation in a case's record.
func started(t *testing.T, s *Server, c *record.Case, operation string, plannedMin float64, sheets ...int) record.RunStarted {
	t.Helper()
	o := treatment.Find(operation)
	run := record.RunStarted{
		ID: record.NewID(s.now()), Operation: operation, OperationName: o.Name, Sheets: sheets, At: s.now(), Makes: o.Makes,
		PlannedMin: plannedMin,
	}
	if o.Bath {
		run.Bath = &record.Bath{ID: record.NewID(s.now()), Liquid: "conditioned water", VolumeMl: 1000}
	}
	appendTo(t, s, c.ID, run)
	return run
}

func endPath(c *record.Case, run record.RunStarted) string {
	return casePath(c.ID, "runs/"+run.ID+"/end")
}

// A wash of 20 minutes that is ended after one and a half is no wash that was
// done, unless a person says so; where its time is up, one tap ends it.
func TestEndSaysWhatEndingNowMeans(t *testing.T) {
	s, clock := newServer(t)
	c := wetCase(t, s, "31-1")
	run := started(t, s, c, "wash", 20, 1)
	look := func() looked { return see(t, answerTo(s, request("GET", endPath(c, run), nil))) }
	clock.t = clock.t.Add(90 * time.Second)
	p := look()
	form := p.form("form.form")
	if form.Has("run_outcome") || form.Get("end_point") != "" {
		t.Errorf("the form begins with %v; want no outcome and no end point", form)
	}
	first := p.all("#end-run_outcome button")[0]
	if attr(first, "value") != "stopped" || textOf(first) != "Stopped after 1.5 of 20 min" {
		t.Errorf("the first button is %s: %q", attr(first, "value"), textOf(first))
	}
	form.Set("by", "KM")
	for outcome, want := range map[string]string{"": "outcome is not chosen", "stopped": "Say why the run was stopped early"} {
		form.Set("run_outcome", outcome)
		w := answerTo(s, request("POST", endPath(c, run), form))
		if strings.Contains(see(t, w).text(".refusals"), "was .") {
			t.Errorf("outcome %q: an outcome that is not chosen is asked a reason", outcome)
		}
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(see(t, w).text(".refusals"), want) {
			t.Errorf("outcome %q: %d, %s; want %q", outcome, w.Code, see(t, w).text(".refusals"), want)
		}
	}
	clock.t = clock.t.Add(19 * time.Minute)
	p = look()
	form = p.form("form.form")
	first = p.all("#end-run_outcome button")[0]
	if attr(first, "value") != "done" || textOf(first) != "Done: 21 of 20 min" ||
		form.Get("end_point") != "planned time of 20 min reached" {
		t.Errorf("time is up: %s: %q, ended by %q", attr(first, "value"), textOf(first), form.Get("end_point"))
	}
	form.Set("by", "KM")
	form.Set("run_outcome", "done")
	if w := answerTo(s, request("POST", endPath(c, run), form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text(".refusals"))
	}
	if e := caseOf(t, s, c.ID).Runs[0].Ends[0].Body; e.Leaves != record.Wet || e.Outcome != record.RunDone {
		t.Errorf("%+v; want it done, the sheet wet as the wash leaves it", e)
	}
}

// The end of staples out asks which came out, and the gate before water knows.
func TestStaplesThatCameOutAreOut(t *testing.T) {
	s, _ := newServer(t)
	c := wetCase(t, s, "31-1")
	appendTo(t, s, c.ID,
		record.Staple{Number: 1, FromHeadMm: 62, Rust: "none"}, record.Staple{Number: 2, FromHeadMm: 198, Rust: "none"})
	run := started(t, s, c, "staples-out", 0)
	p := see(t, answerTo(s, request("GET", endPath(c, run), nil)))
	if got := p.text("form.form"); strings.Contains(got, "conductivity") || strings.Contains(got, "What ended it") ||
		!containsAll(got, "198 mm from the head") {
		t.Errorf("the end of staples out asks %q", got)
	}
	form := p.form("form.form")
	form.Set("by", "KM")
	form.Set("run_outcome", "done")
	w := answerTo(s, request("POST", endPath(c, run), form))
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(see(t, w).text(".refusals"), "which staples came out") {
		t.Errorf("%d: %s; want to be asked which came out", w.Code, see(t, w).text(".refusals"))
	}
	form["staples"] = []string{"1", "2"}
	form.Set("part_where", "glass tube, drawer 3")
	for range 2 { // a double tap does nothing twice
		if w := answerTo(s, request("POST", endPath(c, run), form)); w.Code != http.StatusSeeOther {
			t.Fatalf("%d: %s", w.Code, see(t, w).text(".refusals"))
		}
	}
	c = caseOf(t, s, c.ID)
	if c.StaplesIn() != 0 || len(c.Parts) != 2 || c.Runs[0].Open() {
		t.Errorf("%d staples in, %d parts kept; want none and two, and the run ended", c.StaplesIn(), len(c.Parts))
	}
	for _, u := range treatment.Gates(c, &record.Studio{}, treatment.Start{Operation: treatment.Find("wet-out"), Sheets: []int{1}}) {
		if strings.Contains(u.Say, "staple") {
			t.Errorf("the gate before water says %q", u.Say)
		}
	}
}

// What drying left is judged by a person.
func TestDrynessIsNotPreset(t *testing.T) {
	s, _ := newServer(t)
	c := wetCase(t, s, "31-1")
	run := started(t, s, c, "dry-absorbent", 0, 1)
	p := see(t, answerTo(s, request("GET", endPath(c, run), nil)))
	form := p.form("form.form")
	if form.Has("leaves") || strings.Contains(p.text("form.form"), "conductivity") || !strings.Contains(p.text("form.form"), "weight constant") {
		t.Errorf("the end of drying begins with %v", form)
	}
	form.Set("by", "KM")
	form.Set("run_outcome", "done")
	if w := answerTo(s, request("POST", endPath(c, run), form)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("%d; want to be asked how the sheet is", w.Code)
	}
}
