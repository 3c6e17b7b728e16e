package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"benchleaf/internal/record"
)

// weighedCase is a case whose sheet 1 was limed, weighed as it was lifted and again
// ten minutes later; sheets 2 and 3 are of the same paper and wait.
func weighedCase(t *testing.T, s *Server) *record.Case {
	t.Helper()
	c := wetCase(t, s, "31-1")
	at := func(min float64) time.Time { return s.now().Add(time.Duration(min*60) * time.Second) }
	lime := record.RunStarted{
		ID:            record.NewID(s.now()),
		Operation:     "lime",
		OperationName: "lime bath",
		Sheets:        []int{1},
		At:            at(-40),
		Makes:         record.Wet,
		Bath: &record.Bath{
			ID:         record.NewID(s.now()),
			Liquid:     "lime water",
			Substance:  "calcium hydroxide",
			StrengthGL: &record.Range{Low: 0.37, Best: 0.4, High: 0.43},
			VolumeMl:   1500,
		},
	}
	u := 0.05
	weight := func(g, min float64) record.Reading {
		return record.Reading{
			Quantity:    "mass",
			Value:       g,
			Uncertainty: &u,
			Method:      "balance",
			Stage:       "during",
			Place:       record.Place{Sheets: []int{1}},
			At:          at(min),
		}
	}
	appendTo(
		t,
		s,
		c.ID,
		lime,
		record.RunEnded{Run: lime.ID, At: at(-20), Outcome: "done", Leaves: record.Wet},
		weight(13.6, -19.5),
		weight(12.6, -9.5),
		record.Reading{
			Quantity: "conductivity",
			Value:    2200,
			Method:   "cell",
			Stage:    "during",
			Run:      lime.ID,
			At:       at(-30),
		},
	)
	return caseOf(t, s, c.ID)
}

func measuredForm(t *testing.T, s *Server, c *record.Case, selector string) url.Values {
	t.Helper()
	w := answerTo(s, request("GET", measuredPath(c.ID, 1), nil))
	if w.Code != http.StatusOK {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	f := see(t, w).form(selector)
	f.Set("by", "KM")
	return f
}

func TestMeasuredShowsEachReadingWithItsVerdict(t *testing.T) {
	s, _ := newServer(t)
	c := weighedCase(t, s)
	p := see(t, answerTo(s, request("GET", measuredPath(c.ID, 1), nil)))
	if rows := p.all("#readings table tbody tr"); len(rows) != 2 || !strings.Contains(textOf(rows[0]), "13.60 ± 0.05") ||
		!strings.Contains(strings.ToLower(textOf(rows[0])), "agrees") {
		t.Errorf("readings: %s; want the two weighings with a verdict", p.text("#readings table tbody tr"))
	}
	if kept := p.text("#readings details li"); !strings.Contains(kept, "2200") ||
		!strings.Contains(kept, "Nothing here predicts it") {
		t.Errorf("not compared: %q, want the conductivity and why", kept)
	}
	// Two dots on the plot of the mass, none of them a diamond.
	if dots, off := p.all(".plot.measured circle.read"), p.all(".plot.measured path.off"); len(dots) != 2 ||
		len(off) != 0 {
		t.Errorf("%d dots, %d off; want 2 and none", len(dots), len(off))
	}
	if offers := p.text("#adopt table tbody th"); !strings.Contains(offers, "Pick-up") ||
		!strings.Contains(offers, "Drying rate") {
		t.Errorf("on offer: %q", offers)
	}
	f := p.form("#adopt form")
	if !slices.Equal(f["sheets"], []string{"2", "3"}) || !slices.Contains(f["quantity"], "pick-up") {
		t.Errorf(
			"chosen are %v of %v, want pick-up for the sheets that no lime has touched",
			f["sheets"],
			f["quantity"],
		)
	}
	if next := p.text(".next .what"); !strings.Contains(next, "Pick-up 2.") {
		t.Errorf("what comes next is %q, want the pick-up on offer", next)
	}
}

func TestAdoptingForTheRemainingSheets(t *testing.T) {
	s, _ := newServer(t)
	c := weighedCase(t, s)
	f := measuredForm(t, s, c, "#adopt form")
	f.Set("reason", "One stock, one tray.")
	path := measuredPath(c.ID, 1)
	for range 2 { // a double tap
		if w := answerTo(s, request("POST", path, f)); w.Code != http.StatusSeeOther ||
			w.Header().Get("Location") != path {
			t.Fatalf("%d to %s: %s", w.Code, w.Header().Get("Location"), w.Body)
		}
	}
	c = caseOf(t, s, c.ID)
	if len(c.Adopted) != len(f["quantity"]) {
		t.Fatalf("%d values are adopted, want %d once each", len(c.Adopted), len(f["quantity"]))
	}
	b := c.AdoptedFor(2)[0].Body
	if b.Quantity != "pick-up" || b.FromSheet != 1 || !slices.Equal(b.Sheets, []int{2, 3}) ||
		b.Reason != "One stock, one tray." ||
		b.Was == nil ||
		b.WasBasis == "" {
		t.Errorf("adopted %+v", b)
	}
	p := see(t, answerTo(s, request("GET", path, nil)))
	if rows := p.text("#adopted tbody tr"); !strings.Contains(rows, "Sheets 2 and 3") ||
		!strings.Contains(rows, "One stock, one tray.") ||
		!strings.Contains(rows, "Withdraw") {
		t.Errorf("adopted so far: %q", rows)
	}
	// Nothing is left to do, and nothing is chosen again.
	if len(p.all(".next")) != 0 || len(p.form("#adopt form")["quantity"]) != 0 {
		t.Errorf("next: %q, chosen: %v; want nothing", p.text(".next"), p.form("#adopt form")["quantity"])
	}
	// The next sheet's page shows it among what is taken, and the log tells it.
	if taken := see(t, answerTo(s, request("GET", measuredPath(c.ID, 2), nil))).text("#taken .adopted"); !strings.Contains(
		taken,
		"estimated from readings on sheet 1",
	) {
		t.Errorf("sheet 2 is taken with %q", taken)
	}
	if log := see(t, answerTo(s, request("GET", casePath(c.ID, "log"), nil))).text("ol.log .said"); !strings.Contains(
		log,
		"estimated from readings on sheet 1 and adopted for sheets 2 and 3, widened since sheets of one paper differ",
	) {
		t.Errorf("the log tells %q", log)
	}
}

func TestAdoptingRefusesAtTheField(t *testing.T) {
	s, _ := newServer(t)
	c := weighedCase(t, s)
	for name, x := range map[string]struct {
		change func(url.Values)
		at     string
		want   string
	}{
		"no reason":          {func(f url.Values) { f.Set("reason", "  ") }, "#adopt-reason-refusal", "Please enter the reason"},
		"no sheet":           {func(f url.Values) { f.Del("sheets") }, "#adopt-sheets-refusal", "No sheet is chosen"},
		"no such sheet":      {func(f url.Values) { f.Set("sheets", "8") }, "#adopt-sheets-refusal", "There is no sheet 8"},
		"a word for a sheet": {func(f url.Values) { f.Set("sheets", "last") }, "#adopt-sheets-refusal", "is no sheet"},
		"nothing chosen":     {func(f url.Values) { f.Del("quantity") }, "#adopt-quantity-refusal", "No value is chosen"},
		"not on offer":       {func(f url.Values) { f["quantity"] = []string{"acid"} }, "#adopt-quantity-refusal", "do not offer this value"},
		"no reason, long":    {func(f url.Values) { f.Set("reason", strings.Repeat("x", 20001)) }, "#adopt-reason-refusal", "at most 20000"},
	} {
		f := measuredForm(t, s, c, "#adopt form")
		f.Set("reason", "One stock.")
		x.change(f)
		w := answerTo(s, request("POST", measuredPath(c.ID, 1), f))
		if w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", name, w.Code)
			continue
		}
		if got := see(t, w).text(x.at); !strings.Contains(got, x.want) {
			t.Errorf("%s: at the field stands %q, want %q", name, got, x.want)
		}
		if n := len(caseOf(t, s, c.ID).Adopted); n != 0 {
			t.Fatalf("%s: %d values were adopted", name, n)
		}
	}
}

// A reading that came in meanwhile may change what is on offer: the form clashes,
// and sent again it adopts what the readings say by then.
func TestAReadingMeanwhileClashesWithAdopting(t *testing.T) {
	s, _ := newServer(t)
	c := weighedCase(t, s)
	f := measuredForm(t, s, c, "#adopt form")
	f.Set("reason", "One stock.")
	appendTo(
		t,
		s,
		c.ID,
		record.Reading{
			Quantity: "surface-ph",
			Value:    8.4,
			Method:   "flat electrode",
			Stage:    "during",
			Place:    record.Place{Sheets: []int{1}},
			At:       s.now(),
		},
	)
	w := answerTo(s, request("POST", measuredPath(c.ID, 1), f))
	if w.Code != http.StatusConflict || len(see(t, w).all("#adopt .clash")) != 1 {
		t.Fatalf("%d, want a clash that shows the reading", w.Code)
	}
	again := see(t, w).form("#adopt form")
	if again.Get("reason") != "One stock." || !slices.Equal(again["sheets"], []string{"2", "3"}) {
		t.Errorf("what was typed is %v", again)
	}
	again.Set("by", "KM")
	if w = answerTo(s, request("POST", measuredPath(c.ID, 1), again)); w.Code != http.StatusSeeOther {
		t.Errorf("sent again: %d", w.Code)
	}
}

func TestCorrectingAnAdoptedValue(t *testing.T) {
	s, _ := newServer(t)
	c := weighedCase(t, s)
	f := measuredForm(t, s, c, "#adopt form")
	f.Set("reason", "One stock.")
	f["quantity"] = []string{"pick-up"}
	answerTo(s, request("POST", measuredPath(c.ID, 1), f))
	n := caseOf(t, s, c.ID).Adopted[0].Seq
	w := answerTo(s, request("GET", measuredPath(c.ID, 1)+"?correct=adopted&entry="+strconv.FormatInt(n, 10), nil))
	form := see(t, w).form("#correct form")
	form.Set("by", "KM")
	path := measuredPath(c.ID, 1) + "/correct"
	for name, x := range map[string]struct{ field, value, at, want string }{
		"a word":       {"value_best", "much", "#adopted-value_best-refusal", "a number such as 7.9"},
		"nothing":      {"value_low", "", "#adopted-value_low-refusal", "Please enter"},
		"out of order": {"value_low", "3.9", "#correct .refusals", "must rise"},
		"impossible":   {"value_high", "40", "#correct .refusals", "0.05 to 10 g/g is possible"},
	} {
		bad := url.Values{}
		for k, v := range form {
			bad[k] = slices.Clone(v)
		}
		bad.Set(x.field, x.value)
		w := answerTo(s, request("POST", path, bad))
		if got := see(t, w).text(x.at); w.Code != http.StatusUnprocessableEntity || !strings.Contains(got, x.want) {
			t.Errorf("%s: %d, %q; want %q", name, w.Code, got, x.want)
		}
	}
	form.Set("value_high", "2,9") // a decimal comma
	form["sheets"] = []string{"3"}
	if w := answerTo(s, request("POST", path, form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	c = caseOf(t, s, c.ID)
	if len(c.AdoptedFor(2)) != 0 || c.AdoptedFor(3)[0].Body.Value.High != 2.9 || c.AdoptedFor(3)[0].Corrected == 0 {
		t.Errorf("for sheet 2 %+v, for sheet 3 %+v", c.AdoptedFor(2), c.AdoptedFor(3))
	}
	form.Set("corrects", "1")
	if w := answerTo(s, request("POST", path, form)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("correcting the opening of the case: %d", w.Code)
	}
}

func TestMeasuredWithoutReadingsSaysWhatToRead(t *testing.T) {
	s, _ := newServer(t)
	c := wetCase(t, s, "31-1")
	p := see(t, answerTo(s, request("GET", measuredPath(c.ID, 2), nil)))
	if say := p.text(".empty"); !strings.Contains(say, "not been in a bath") ||
		!strings.Contains(say, "on the balance") {
		t.Errorf("an untouched sheet: %q", say)
	}
	c = weighedCase(t, s)
	run := c.Runs[0].Body.ID
	// A finished run leads to the sheets' pages, Results to the first.
	if href := attr(see(t, answerTo(s, request("GET", casePath(c.ID, "runs/"+run), nil))).one("#readings p a"), "href"); href != measuredPath(
		c.ID,
		1,
	) {
		t.Errorf("the run leads to %q", href)
	}
	p = see(t, answerTo(s, request("GET", casePath(c.ID, "results"), nil)))
	if !slices.ContainsFunc(
		p.all("#readings a"),
		func(n *html.Node) bool { return attr(n, "href") == measuredPath(c.ID, 1) },
	) {
		t.Error("Results does not lead to the readings beside what was expected")
	}
	for _, sheet := range []string{"9", "x", "-1", "01"} {
		if w := answerTo(s, request("GET", casePath(c.ID, "sheets/"+sheet+"/measured"), nil)); w.Code != http.StatusNotFound {
			t.Errorf("sheet %s: %d, want 404", sheet, w.Code)
		}
	}
}
