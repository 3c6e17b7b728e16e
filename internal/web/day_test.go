package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// dayCaseOf is a case whose agreed plan is a wash, a lime bath, a mend and drying.
func dayCaseOf(t *testing.T, s *Server, number string) *record.Case {
	t.Helper()
	c := wetCase(t, s, number)
	appendTo(t, s, c.ID,
		record.Proposal{
			Version: 1, Currency: "EUR", RateMinor: 6000, ValidDays: 60, Alternatives: "nothing", Risks: "some",
			Options: []record.Option{{Name: "A", Title: "wash and lime", Operations: []record.Planned{
				{Operation: "wash", Hours: 1}, {Operation: "lime", Hours: 1}, {Operation: "mend-damp", Sheets: []int{2}, Hours: 1},
				{Operation: "dry-absorbent", Hours: 1},
			}}},
		},
		record.Consent{Version: 1, Option: "A", Answer: "given", Who: "Owner (demo)", Standing: "owner", Way: "letter"},
	)
	return caseOf(t, s, c.ID)
}

func dayQuery(s *Server, c *record.Case, hours float64, sheets ...string) url.Values {
	at := func(d time.Duration) string { return s.now().In(s.zone).Add(d).Format(timeValue) }
	return url.Values{
		"from": {at(0)}, "until": {at(time.Duration(hours * float64(time.Hour)))}, "people": {"KM"}, "trays": {"2"},
		"presses": {"1"}, "sheets_" + string(c.ID): sheets,
	}
}

// A wet day from its plan to dry sheets, with one wash that ends late: the plan is an
// entry, the rest is planned anew at once, what moved is said, and every task is done.
func TestAWetDayFromPlanToDrySheets(t *testing.T) {
	s, clock := newServer(t)
	clock.t = clock.t.Truncate(time.Minute)
	c := dayCaseOf(t, s, "31-1")
	page := see(t, answerTo(s, request("GET", "/day?"+dayQuery(s, c, 5, "1", "2").Encode(), nil)))
	if got := page.text("#list"); !strings.Contains(got, "Washing, in: 31-1, sheet 1") ||
		!strings.Contains(got, "Mending while damp: 31-1, sheet 2") || !strings.Contains(got, "nto the absorbents") {
		t.Fatalf("the list says %q", got)
	}
	form := page.form("main form[method=post]")
	form.Set("by", "KM")
	if w := answerTo(s, request("POST", "/day", form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text("main"))
	}
	st, err := s.store.Studio(t.Context())
	if err != nil || len(st.Days) != 1 || len(st.Days[0].Body.Tasks) == 0 {
		t.Fatalf("%+v, %v: want the plan in the studio's journal", st.Days, err)
	}
	if n := len(caseOf(t, s, c.ID).Runs); n != 0 {
		t.Fatalf("%d runs: a plan starts nothing", n)
	}
	plan := st.Days[0].Body
	at := func(op, step string, sheet int) time.Time {
		for _, x := range plan.Tasks {
			if x.Operation == op && x.Step == step && x.Sheets[0] == sheet {
				return plan.From.Add(time.Duration(x.StartMin * float64(time.Minute)))
			}
		}
		t.Fatalf("no %s of %s", step, op)
		return time.Time{}
	}
	start := func(op string, sheet int) record.RunStarted {
		r := record.RunStarted{
			ID: record.NewID(s.now()), Operation: op, OperationName: op, Sheets: []int{sheet}, At: s.now(), Makes: record.Wet,
		}
		if op == "wash" || op == "lime" {
			r.Bath = &record.Bath{ID: record.NewID(s.now()), Liquid: "water", VolumeMl: 1000}
		} else {
			r.Makes = record.Damp
		}
		appendTo(t, s, c.ID, r)
		return r
	}
	end := func(r record.RunStarted, leaves record.Wetness) {
		appendTo(t, s, c.ID, record.RunEnded{Run: r.ID, At: s.now(), Outcome: "done", Leaves: leaves})
	}
	first := 1
	if at("wash", "bath", 2).Before(at("wash", "bath", 1)) {
		first = 2
	}
	clock.t = at("wash", "bath", first)
	wash := start("wash", first)
	if got := see(t, answerTo(s, request("GET", "/day", nil))); len(got.all("#changed")) > 0 {
		t.Errorf("on time, and still: %s", got.text("#changed"))
	}
	clock.t = clock.t.Add(45 * time.Minute) // it was meant for 20
	end(wash, record.Wet)
	page = see(t, answerTo(s, request("GET", "/day", nil)))
	if got := page.text("#changed"); !strings.Contains(got, "min late") || !strings.Contains(got, "instead of") {
		t.Fatalf("a wash ended late, and the page says %q", got)
	}
	form = page.form("main form[method=post]")
	form.Set("by", "KM")
	if w := answerTo(s, request("POST", "/day", form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text("main"))
	}
	if st, err = s.store.Studio(t.Context()); err != nil || len(st.Days) != 2 || !strings.Contains(st.Days[1].Body.Because, "late") {
		t.Fatalf("%d plans, %v: want a second one with its reason", len(st.Days), err)
	}
	for _, op := range []string{"lime", "mend-damp", "dry-absorbent"} {
		clock.t = clock.t.Add(3 * time.Minute)
		if op == "mend-damp" && first != 2 {
			continue
		}
		r := start(op, first)
		clock.t = clock.t.Add(20 * time.Minute)
		if op == "dry-absorbent" {
			clock.t = clock.t.Add(12 * time.Hour)
			end(r, record.Dry)
		} else {
			end(r, record.Damp)
		}
	}
	if w := caseOf(t, s, c.ID).ConditionOf(first).Wetness; w != record.Dry {
		t.Errorf("sheet %d is %s at the end", first, w)
	}
}

// A day that cannot be done, and one with nothing to do it with, is refused in one
// sentence that says what would help.
func TestADayThatCannotBeDoneSaysSo(t *testing.T) {
	s, clock := newServer(t)
	clock.t = clock.t.Truncate(time.Minute)
	c := dayCaseOf(t, s, "31-1")
	for _, x := range []struct {
		name, want string
		change     func(url.Values)
	}{
		{"half an hour", "This day cannot be done", func(q url.Values) { q.Set("until", s.now().In(s.zone).Add(30*time.Minute).Format(timeValue)) }},
		{"no tray", "There is no tray", func(q url.Values) { q.Set("trays", "0") }},
		{"no press", "There is no press", func(q url.Values) { q.Set("presses", "0") }},
		{"nobody", "Nobody is there", func(q url.Values) { q.Set("people", " ") }},
		{"no sheet", "No sheet is chosen", func(q url.Values) { q.Del("sheets_" + string(c.ID)) }},
		{"backwards", "before it begins", func(q url.Values) { q.Set("until", s.now().In(s.zone).Add(-time.Hour).Format(timeValue)) }},
		{"a break backwards", "A break ends", func(q url.Values) {
			q.Set("away_from", s.now().In(s.zone).Add(2*time.Hour).Format(timeValue))
			q.Set("away_until", s.now().In(s.zone).Add(time.Hour).Format(timeValue))
		}},
	} {
		q := dayQuery(s, c, 5, "1")
		x.change(q)
		page := see(t, answerTo(s, request("GET", "/day?"+q.Encode(), nil)))
		if got := page.text("main"); !strings.Contains(got, x.want) {
			t.Errorf("%s: %q; want %q", x.name, got, x.want)
		}
		if len(page.all("main form[method=post] input[name=plan]")) > 0 {
			t.Errorf("%s: a plan is offered all the same", x.name)
		}
	}
}

// With too many sheets for the evening some wait, and it is said which and why.
func TestWhatDoesNotFitWaits(t *testing.T) {
	s, clock := newServer(t)
	clock.t = clock.t.Truncate(time.Minute)
	a, b := dayCaseOf(t, s, "31-1"), dayCaseOf(t, s, "31-2")
	q := dayQuery(s, a, 3.4, "1", "2", "3")
	q["sheets_"+string(b.ID)] = []string{"1", "2", "3"}
	page := see(t, answerTo(s, request("GET", "/day?"+q.Encode(), nil)))
	if got := page.text("main"); !strings.Contains(got, "waits: with it the work does not end by") {
		t.Errorf("%q", got)
	}
}
