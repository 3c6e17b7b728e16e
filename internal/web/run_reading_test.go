package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// Each quantity has its own instrument, check and uncertainty, and a reading that
// lies outside what its meter was checked with says so.
func TestEachQuantityIsReadWithItsOwnInstrument(t *testing.T) {
	s, clock := newServer(t)
	c := wetCase(t, s, "31-1")
	meter := record.NewID(s.now())
	appendTo(t, s, record.StudioID,
		record.Instrument{ID: meter, Name: "pH meter one", Sort: record.PHMeter},
		record.Instrument{ID: record.NewID(s.now()), Name: "cell two", Sort: record.ConductivityMeter},
		record.InstrumentChecked{Instrument: meter, At: s.now(), Buffers: []record.BufferReading{
			{NominalPH: 4, ReadPH: 4.01}, {NominalPH: 7, ReadPH: 6.99}}})
	clock.t = clock.t.Add(time.Minute)
	run := started(t, s, c, "lime", 20, 1)
	path := casePath(c.ID, "runs/"+run.ID+"/reading")
	look := func(q string) url.Values {
		return see(t, answerTo(s, request("GET", path+"?quantity="+q, nil))).form("form.form")
	}
	post := func(form url.Values, value string) {
		t.Helper()
		form.Set("by", "KM")
		form.Set("value", value)
		if w := answerTo(s, request("POST", path, form)); w.Code != http.StatusSeeOther {
			t.Fatalf("%d: %s", w.Code, see(t, w).text(".refusals"))
		}
	}
	ph := look("bath-ph")
	if ph.Get("instrument") != "pH meter one" || !strings.Contains(ph.Get("checked"), "in pH 4 and 7") {
		t.Errorf("pH is read with %v", ph)
	}
	if ph.Get("method") != "" {
		t.Errorf("the first pH is read by %q, which nobody said", ph.Get("method"))
	}
	ph.Set("method", "electrode in the bath")
	ph.Set("uncertainty", "0.1")
	post(ph, "12.1")
	cond := look("conductivity")
	if cond.Get("instrument") != "cell two" || cond.Get("checked") != "" || cond.Get("uncertainty") != "" ||
		cond.Get("method") != "conductivity cell in the bath" || cond.Get("quantity") != "conductivity" {
		t.Errorf("conductivity is read with %v", cond)
	}
	post(cond, "2300")
	if again := look("bath-ph"); again.Get("uncertainty") != "0.1" || again.Get("instrument") != "pH meter one" ||
		again.Get("method") != "electrode in the bath" {
		t.Errorf("pH is read again with %v", again)
	}
	page := see(t, answerTo(s, request("GET", casePath(c.ID, "runs/"+run.ID), nil))).text("#readings")
	if !strings.Contains(page, "pH 12.1 lies outside what the meter was checked with, 4 to 7") {
		t.Errorf("the page of the run says %q", page)
	}
	// Before treatment, too.
	form := see(t, answerTo(s, request("GET", casePath(c.ID, "examination?quantity=mass"), nil))).form("#reading form")
	if form.Get("quantity") != "mass" || form.Get("method") != "balance" || form.Get("instrument") != "" {
		t.Errorf("mass is read with %v", form)
	}
}

// A mass during a run on several sheets is of one that is named.
func TestMassNamesItsSheet(t *testing.T) {
	s, _ := newServer(t)
	c := wetCase(t, s, "31-1")
	several, one := started(t, s, c, "drain", 0, 1, 2), started(t, s, c, "drain", 0, 3)
	for _, x := range []struct {
		run    record.RunStarted
		named  string
		want   string
		sheets []int
	}{
		{several, "", "Say which sheet it was: draining is of sheets 1 and 2", nil},
		{several, "2", "", []int{2}},
		{one, "", "", []int{3}},
	} {
		path := casePath(c.ID, "runs/"+x.run.ID+"/reading")
		form := see(t, answerTo(s, request("GET", path+"?quantity=mass", nil))).form("form.form")
		form.Set("by", "KM")
		form.Set("value", "14.2")
		if x.named != "" {
			form.Set("sheets", x.named)
		}
		w := answerTo(s, request("POST", path, form))
		if x.want != "" {
			if w.Code != http.StatusUnprocessableEntity || !strings.Contains(see(t, w).text(".refusals"), x.want) {
				t.Errorf("%d: %s; want %q", w.Code, see(t, w).text(".refusals"), x.want)
			}
			continue
		}
		all := caseOf(t, s, c.ID).Readings
		if len(all) == 0 || !slices.Equal(all[len(all)-1].Body.Place.Sheets, x.sheets) {
			t.Errorf("%d, %+v; want it on %v", w.Code, all, x.sheets)
		}
	}
}

// A bath is read while it is there, and a run that has ended is not ended again.
func TestRunIsReadAfterItsStartAndEndedOnce(t *testing.T) {
	s, clock := newServer(t)
	c := wetCase(t, s, "31-1")
	clock.t = clock.t.Add(time.Minute)
	run := started(t, s, c, "lime", 20, 1)
	base := casePath(c.ID, "runs/"+run.ID)
	form := see(t, answerTo(s, request("GET", base+"/reading?quantity=bath-ph", nil))).form("form.form")
	form.Set("by", "KM")
	form.Set("value", "12.1")
	form.Set("at", run.At.Add(-time.Hour).In(s.zone).Format(timeValue))
	w := answerTo(s, request("POST", base+"/reading", form))
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "before the start of the run") {
		t.Errorf("a reading before the run: %d", w.Code)
	}
	appendTo(t, s, c.ID, record.RunEnded{Run: run.ID, Sheets: []int{1}, At: s.now(), Outcome: "done", Leaves: record.Wet})
	if w := answerTo(s, request("GET", base+"/end", nil)); w.Code != http.StatusSeeOther ||
		w.Header().Get("Location") != base {
		t.Errorf("the end of an ended run: %d to %q", w.Code, w.Header().Get("Location"))
	}
}
