package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// A bath that is started keeps what its second look showed; a second press keeps it
// once; one that is written down later keeps nothing.
func TestStartKeepsWhatTheLookShowed(t *testing.T) {
	s, clock := newServer(t)
	c, bottle := wetCase(t, s, "31-1"), limeBottle(t, s)
	form := url.Values{
		"key": {record.NewID(s.now())}, "by": {"KM"}, "operation": {"lime"}, "sheets": {"1", "2"}, "planned_min": {"20"},
		"bottle": {bottle.ID}, "volume_ml": {"1500"},
	}
	look := see(t, answerTo(s, request("GET", casePath(c.ID, "runs/check?"+form.Encode()), nil)))
	complete(form, look, s.now())
	shown := look.text("main")
	if !strings.Contains(shown, "What readings are expected to show") || !strings.Contains(shown, "Kept with the start") {
		t.Fatalf("the look does not show what is expected: %s", shown)
	}
	for range 2 {
		if w := answerTo(s, request("POST", casePath(c.ID, "runs"), form)); w.Code != http.StatusSeeOther {
			t.Fatalf("%d: %s", w.Code, see(t, w).text("main"))
		}
	}
	c = caseOf(t, s, c.ID)
	if len(c.Runs) != 1 || len(c.Expected) != 1 || c.Expected[0].Body.Run != c.Runs[0].Body.ID {
		t.Fatalf("%d runs, %d expectations", len(c.Runs), len(c.Expected))
	}
	for _, v := range c.Expected[0].Body.Values {
		if v.Quantity == "reserve" && !strings.Contains(oneBlank(shown), oneBlank(en.Range(v.Value, v.Unit))) {
			t.Errorf("kept %s, and the look shows %s", en.Range(v.Value, v.Unit), shown)
		}
	}
	if line := see(t, answerTo(s, request("GET", casePath(c.ID, "log"), nil))).text("main"); !strings.Contains(
		line, "(computed, not read)") {
		t.Errorf("the log does not say that it is a computation: %s", line)
	}
	run := see(t, answerTo(s, request("GET", casePath(c.ID, "runs/"+c.Runs[0].Body.ID), nil)))
	if !strings.Contains(run.text("#expected"), "Nothing is read of it yet") {
		t.Errorf("the run does not say what a reading would tell: %s", run.text("#expected"))
	}

	clock.t = clock.t.Add(4 * time.Hour)
	late := url.Values{
		"key": {record.NewID(s.now())}, "by": {"KM"}, "operation": {"lime"}, "sheets": {"3"}, "planned_min": {"20"},
		"bottle": {bottle.ID}, "volume_ml": {"1000"}, "at": {clock.t.Add(-2 * time.Hour).Format("2006-01-02T15:04")},
		"ended_at": {clock.t.Add(-90 * time.Minute).Format("2006-01-02T15:04")}, "run_outcome": {"done"},
	}
	look = see(t, answerTo(s, request("GET", casePath(c.ID, "runs/check?"+late.Encode()), nil)))
	if !strings.Contains(look.text("main"), "It is not kept") {
		t.Errorf("the look at a late run does not say that nothing is kept: %s", look.text("main"))
	}
	complete(late, look, s.now())
	if w := answerTo(s, request("POST", casePath(c.ID, "runs"), late)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text("main"))
	}
	if c = caseOf(t, s, c.ID); len(c.Runs) != 2 || len(c.Expected) != 1 {
		t.Errorf("%d runs, %d expectations; a late one is kept", len(c.Runs), len(c.Expected))
	}
}

// byMouth passes a case's consent by word of mouth.
func byMouth(f url.Values, id record.CaseID, now time.Time) {
	f.Set("override_"+string(id)+"_consent", "agreed on the telephone")
	f.Set("who_"+string(id)+"_consent", "Owner (demo)")
	f.Set("when_"+string(id)+"_consent", now.Add(-time.Hour).Format(timeValue))
}

// complete takes the fields of the second look, with a reason at each gate.
func complete(f url.Values, look looked, now time.Time) {
	for k, v := range look.form("main form") {
		switch {
		case strings.HasPrefix(k, "override_"), strings.HasPrefix(k, "who_"):
			v = []string{"a test"}
		case strings.HasPrefix(k, "when_"):
			v = []string{now.Add(-time.Hour).Format(timeValue)}
		}
		if f[k] == nil {
			f[k] = v
		}
	}
}

// manyRuns writes 24 lime baths of sheet 1 whose reserve was expected to be 0.10 (0.08
// to 0.12) and was read alternately inside and far above.
func manyRuns(t *testing.T, s *Server, id record.CaseID) {
	t.Helper()
	start := s.now().Add(-24 * 24 * time.Hour)
	var all []record.Body
	for i := range 24 {
		at := start.Add(time.Duration(i) * 24 * time.Hour)
		run, u := record.NewID(at), 0.002
		read := 0.1
		if i%2 == 1 {
			read = 0.2
		}
		all = append(all,
			record.RunStarted{
				ID: run, Operation: "lime", OperationName: "lime bath", Sheets: []int{1}, At: at, PlannedMin: 20,
				Makes: record.Wet, Bath: &record.Bath{ID: run, Liquid: "lime water", VolumeMl: 1000},
			},
			record.RunExpected{
				Run: run, Model: treatment.Model(), Inputs: []string{"00"}, Coverage: 80, Values: []record.ExpectedValue{{
					Quantity: "reserve", Moment: record.OnceDry, Sheets: []int{1}, Class: record.Groundwood, Unit: "% CaCO₃",
					Value: record.Range{Low: 0.08, Best: 0.1, High: 0.12},
				}},
			},
			record.RunEnded{Run: run, At: at.Add(20 * time.Minute), Outcome: "done", Leaves: record.Dry},
			record.Reading{
				Quantity: "reserve", Value: read, Uncertainty: &u, Method: "titration", Stage: record.StageAfter,
				Place: record.Place{Sheets: []int{1}}, At: at.Add(12 * time.Hour),
			})
	}
	appendTo(t, s, id, all...)
}

func TestOwnRangeIsOfferedSavedSaidAndWithdrawn(t *testing.T) {
	s, _ := newServer(t)
	c, bottle := wetCase(t, s, "31-1"), limeBottle(t, s)
	page := func() looked { return see(t, answerTo(s, request("GET", "/studio/held", nil))) }
	if text := page().text("main"); !strings.Contains(text, "Kept so far: 0") {
		t.Errorf("nothing is kept: %s", text)
	}
	manyRuns(t, s, c.ID)
	p := page()
	if row := oneBlank(p.text("#held tbody tr")); !strings.Contains(row, "12 of 24") || !strings.Contains(row, "too narrow") ||
		!strings.Contains(row, "50 % (31 to 69)") || !strings.Contains(row, "80 %") {
		t.Fatalf("the row: %s", row)
	}
	const group = "#reserve-dry-groundwood"
	if text := p.text(group); !strings.Contains(text, "24 runs") || !strings.Contains(text, "On offer") {
		t.Fatalf("the group: %s", text)
	}
	form := p.form(group + " form")
	form.Set("by", "KM")
	if w := answerTo(s, request("POST", "/studio/held", form)); w.Code != http.StatusUnprocessableEntity ||
		!strings.Contains(see(t, w).text(group+" form"), "Please enter the reason") {
		t.Fatalf("saved without a reason: %d", w.Code)
	}
	form.Set("reason", "our strips are cut from the edge")
	stale := url.Values{}
	for k, v := range form {
		stale[k] = v
	}
	stale["readings"], stale["key"] = []string{"23"}, []string{record.NewID(s.now())}
	if w := answerTo(s, request("POST", "/studio/held", stale)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("an offer of before the last reading was saved: %d", w.Code)
	}
	if w := answerTo(s, request("POST", "/studio/held", form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text("main"))
	}
	st, err := s.store.Studio(t.Context())
	if err != nil || len(st.OwnRanges) != 1 {
		t.Fatalf("%d ranges are saved, %v", len(st.OwnRanges), err)
	}
	own := st.OwnRanges[0].Body
	// 20 of 24 are the fewest that are four fifths: eight of the readings at 0.2 must lie in
	// the range, five half widths from the best value.
	if own.Factor != 5 || own.Shift != 0 || own.Held != 12 || own.Readings != 24 || len(own.Evidence) != 1 ||
		len(own.Evidence[0].Runs) != 24 || len(own.Evidence[0].Readings) != 24 {
		t.Errorf("saved: %+v", own)
	}
	q := "operation=lime&sheets=2&planned_min=20&volume_ml=1000&bottle=" + bottle.ID
	check := func() string {
		return see(t, answerTo(s, request("GET", casePath(c.ID, "runs/check?"+q), nil))).text("main")
	}
	if text := check(); !strings.Contains(text, "by the studio’s own range") {
		t.Errorf("the look at a run does not say that the range is the studio’s own: %s", text)
	}
	if text := page().text(group); !strings.Contains(text, "Not counted: 24") || !strings.Contains(text, "Withdraw it") {
		t.Errorf("what was expected by another range still counts: %s", text)
	}
	w := answerTo(s, request("POST", "/studio/withdraw", url.Values{
		"key": {record.NewID(s.now())}, "by": {"KM"}, "seq": {"2"}, "entry": {"2"}, "reason": {"a mistake"},
	}))
	if w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text("main"))
	}
	if text := check(); strings.Contains(text, "by the studio’s own range") {
		t.Error("withdrawn, the range still counts")
	}
}
