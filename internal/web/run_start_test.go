package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"benchleaf/internal/record"
)

// wetCase is a case whose first two sheets may be limed but for the consent.
func wetCase(t *testing.T, s *Server, number string) *record.Case {
	t.Helper()
	id := record.NewCaseID(s.now())
	test := func(liquid string) record.SpotTest {
		return record.SpotTest{
			ID:     record.NewID(s.now()),
			Sort:   "solubility",
			Colour: "black",
			Place:  record.Place{Sheets: []int{1}},
			Liquid: record.TestLiquid(liquid),
			Result: "0",
		}
	}
	appendTo(
		t,
		s,
		id,
		record.Opened{Number: number, Title: "The Windlass Monthly"},
		record.MakeUp{InnerSheets: 3, Cover: "separate", Binding: "loose", FirstPage: 1},
		record.Quarantine{State: "released", Moisture: "dry", Mould: "none"},
		record.Stock{
			ID:            record.NewID(s.now()),
			Name:          "interior",
			Class:         "groundwood",
			Sheets:        []int{1, 2, 3},
			WidthMm:       340,
			HeightMm:      262,
			GrammageGM2:   50,
			GrammageBasis: "measured",
			Grain:         "unknown",
		},
		test("water"),
		test("alkaline-water"),
	)
	return caseOf(t, s, id)
}

func appendTo(t *testing.T, s *Server, id record.CaseID, bodies ...record.Body) {
	t.Helper()
	var expect int64
	if log, err := s.logOf(request("GET", "/", nil), id); err == nil {
		expect = int64(len(log))
	}
	if _, err := s.store.Append(t.Context(), record.Draft{Case: id, Expect: expect, By: "KM", Zone: "UTC", Items: items(bodies...)}); err != nil {
		t.Fatal(err)
	}
}

func caseOf(t *testing.T, s *Server, id record.CaseID) *record.Case {
	t.Helper()
	c, err := s.store.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func limeBottle(t *testing.T, s *Server) record.Bottle {
	t.Helper()
	b := record.Bottle{
		ID:        record.NewID(s.now()),
		Name:      "lime water",
		Substance: "calcium hydroxide",
		Form:      "solution",
		Unit:      "g/L",
		Strength:  &record.Range{Low: 0.37, Best: 0.4, High: 0.43},
		VolumeMl:  3000,
		MadeAt:    s.now(),
		Lot:       "L-1",
	}
	appendTo(t, s, record.StudioID, b)
	return b
}

// One bath for sheets of two cases: each journal gets its own record, all name
// the same bath and each other, and the bottle goes down once.
func TestSharedBathIsRecordedInEachCase(t *testing.T) {
	s, _ := newServer(t)
	a, o, bottle := wetCase(t, s, "31-1"), wetCase(t, s, "31-2"), limeBottle(t, s)
	form := url.Values{
		"key":                  {record.NewID(s.now())},
		"seq":                  {"6"},
		"by":                   {"KM"},
		"operation":            {"lime"},
		"sheets":               {"1", "2"},
		"also_" + string(o.ID): {"3"},
		"bottle":               {bottle.ID},
		"volume_ml":            {"1500"},
		"planned_min":          {"20"},
		"bath_ph":              {"12,1"},
	}
	path := casePath(a.ID, "runs")
	// Without consent the gates of both cases stay shut, each by itself.
	w := answerTo(s, request("POST", path, form))
	if w.Code != http.StatusUnprocessableEntity || strings.Count(w.Body.String(), "There is no consent") < 2 {
		t.Fatalf("%d; want both cases to ask for consent", w.Code)
	}
	if c := caseOf(t, s, o.ID); len(c.Runs) != 0 {
		t.Fatal("a refused bath was recorded in the other case")
	}
	form.Set("override_0", "agreed on the telephone")
	form.Set("override_1", "agreed on the telephone")
	if w = answerTo(s, request("POST", path, form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	// A double tap sends the same form again: nothing is done twice.
	if w = answerTo(s, request("POST", path, form)); w.Code != http.StatusSeeOther {
		t.Fatalf("sent again: %d", w.Code)
	}
	ra, ro := caseOf(t, s, a.ID).Runs, caseOf(t, s, o.ID).Runs
	if len(ra) != 1 || len(ro) != 1 {
		t.Fatalf("%d and %d runs; want one in each case", len(ra), len(ro))
	}
	ba, bo := ra[0].Body.Bath, ro[0].Body.Bath
	if ba.ID != bo.ID || ba.With[0].Case != o.ID || bo.With[0].Case != a.ID || bo.With[0].Sheets[0] != 1 {
		t.Errorf("baths %+v and %+v; want the same bath that names the other case's sheets", ba, bo)
	}
	if ba.StrengthGL == nil || ba.StrengthGL.Best != 0.4 || ba.Bottles[0].Lot != "L-1" || *ba.PH != 12.1 {
		t.Errorf("bath %+v; want the bottle's strength and lot, and the pH", ba)
	}
	if n := len(ra[0].Body.Overrides); n == 0 || ra[0].Body.Departure == "" || len(ra[0].Body.Cautions) == 0 {
		t.Errorf("run %+v; want the gates passed with their reason, and the cautions", ra[0].Body)
	}
	st, err := s.store.Studio(t.Context())
	if err != nil || st.Bottle(bottle.ID).LeftMl != 1500 {
		t.Errorf("%v mL left, %v; want 1500", st.Bottle(bottle.ID).LeftMl, err)
	}
}

func TestRunsRefuseAtTheirField(t *testing.T) {
	s, _ := newServer(t)
	c, bottle := wetCase(t, s, "31-1"), limeBottle(t, s)
	for _, x := range []struct{ name, field, value, want string }{
		{"negative volume", "volume_ml", "-5", "cannot be -5 mL"},
		{"a word for a number", "volume_ml", "two litres", "a number such as 7.9"},
		{"no volume", "volume_ml", "", "is missing"},
		{"no sheet", "sheets", "", "No sheet is chosen"},
		{"impossible pH", "bath_ph", "15", "cannot be 15"},
		{"impossible time", "planned_min", "-1", "cannot be -1 min"},
		{"impossible date", "at", "2031-02-30T10:00", "a date and a time are expected"},
		{"unknown operation", "operation", "boil", "not chosen"},
	} {
		q := url.Values{"operation": {"lime"}, "sheets": {"1"}, "bottle": {bottle.ID}, "volume_ml": {"1000"}}
		q.Set(x.field, x.value)
		if x.value == "" {
			q.Del(x.field)
		}
		w := answerTo(s, request("GET", casePath(c.ID, "runs/check?"+q.Encode()), nil))
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), x.want) {
			t.Errorf("%s: %d; want a refusal with %q", x.name, w.Code, x.want)
		}
	}
}

func TestCautionsAndGasStandBeforeTheBleachStarts(t *testing.T) {
	s, _ := newServer(t)
	c := wetCase(t, s, "31-1")
	b := record.Bottle{
		ID:        record.NewID(s.now()),
		Name:      "bleach",
		Substance: "sodium borohydride",
		Form:      "solution",
		Unit:      "% w/v",
		Strength:  &record.Range{Low: 1, Best: 1, High: 1},
		VolumeMl:  2000,
		MadeAt:    s.now(),
	}
	appendTo(t, s, record.StudioID, b)
	w := answerTo(
		s,
		request("GET", casePath(c.ID, "runs/check?operation=reduce&sheets=1&volume_ml=1000&bottle="+b.ID), nil),
	)
	// 1 L at 1 % w/v is 10 g; 2.54 L of hydrogen from each gram at 20 °C
	// (4 mol from each mol of 37.83 g/mol, ideal gas).
	if w.Code != http.StatusOK ||
		!containsAll(
			w.Body.String(),
			"open tray",
			"no flame",
			">25 <",
			"not washed yet",
			"quarter of the lower flammable limit",
		) {
		t.Errorf("%d; want cautions, 25 L of hydrogen and the gates:\n%s", w.Code, w.Body)
	}
}
