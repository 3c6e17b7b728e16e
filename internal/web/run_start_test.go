package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

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
		"ph_method":            {"electrode in the bath"},
		"seq_studio":           {"1"},
		"seq_" + string(o.ID):  {"6"},
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
	byMouth(form, a.ID, s.now())
	byMouth(form, o.ID, s.now())
	form.Set("override_"+string(o.ID)+"_consent", "her letter is on the way")
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
	for _, x := range []struct {
		run  record.RunStarted
		want string
	}{{ra[0].Body, "agreed on the telephone"}, {ro[0].Body, "her letter is on the way"}} {
		if o := x.run.Overrides; len(o) != 1 || o[0].Gate != "consent" || o[0].Reason != x.want ||
			!strings.Contains(o[0].Say, "no consent") || x.run.Departure != "" || len(x.run.Cautions) == 0 {
			t.Errorf("run %+v; want the one gate of its own case passed because %q, and the cautions", x.run, x.want)
		}
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
		{"negative volume", "volume_ml", "-5", "cannot be −5 mL"},
		{"a word for a number", "volume_ml", "two litres", "a number such as 7.9"},
		{"no volume", "volume_ml", "", "Please enter"},
		{"no sheet", "sheets", "", "No sheet is chosen"},
		{"impossible pH", "bath_ph", "15", "cannot be 15"},
		{"pH by no method", "bath_ph", "12.1", "Please enter the method of the pH"},
		{"impossible time", "planned_min", "-1", "cannot be −1 min"},
		{"impossible date", "at", "2031-02-30T10:00", "a date and a time are expected"},
		{"unknown operation", "operation", "boil", "not chosen"},
	} {
		q := url.Values{"operation": {"lime"}, "sheets": {"1"}, "bottle": {bottle.ID}, "volume_ml": {"1000"}}
		q.Set(x.field, x.value)
		if x.value == "" {
			q.Del(x.field)
		}
		w := answerTo(s, request("GET", casePath(c.ID, "runs/check?"+q.Encode()), nil))
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(oneBlank(w.Body.String()), x.want) {
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
			"25\u00a0L<",
			"not washed yet",
			"quarter of the lower flammable limit",
		) {
		t.Errorf("%d; want cautions, 25 L of hydrogen and the gates:\n%s", w.Code, w.Body)
	}
}

// seqOf is the last entry of a journal, as a form carries it.
func seqOf(t *testing.T, s *Server, id record.CaseID) string {
	t.Helper()
	log, err := s.logOf(request("GET", "/", nil), id)
	if err != nil {
		t.Fatal(err)
	}
	return strconv.Itoa(len(log))
}

// agreed is a proposal of liming with the owner's consent to it.
func agreed() []record.Body {
	return []record.Body{
		record.Proposal{
			Version: 1, Currency: "EUR", RateMinor: 1, ValidDays: 1, Alternatives: "nothing", Risks: "some",
			Options: []record.Option{{Name: "A", Title: "lime", Operations: []record.Planned{{Operation: "lime", Hours: 1}}}},
		},
		record.Consent{Version: 1, Option: "A", Answer: "given", Who: "Owner (demo)", Standing: "owner", Way: "letter"},
	}
}

// A consent that comes in for the other case between look and press takes its
// own gate away, and moves no reason to another.
func TestReasonKeepsItsGate(t *testing.T) {
	s, _ := newServer(t)
	a, o, bottle := wetCase(t, s, "31-1"), wetCase(t, s, "31-2"), limeBottle(t, s)
	red := record.SpotTest{
		ID: record.NewID(s.now()), Sort: "solubility", Colour: "red", Place: record.Place{Sheets: []int{3}},
		Liquid: "alkaline-water", Result: "2",
	}
	appendTo(t, s, o.ID, red)
	q := url.Values{
		"operation": {"lime"}, "sheets": {"1"}, "also_" + string(o.ID): {"3"}, "bottle": {bottle.ID}, "volume_ml": {"1500"},
	}
	look := see(t, answerTo(s, request("GET", casePath(a.ID, "runs/check?"+q.Encode()), nil)))
	form := look.form("form.form")
	form.Set("by", "KM")
	consent, inks := "override_"+string(o.ID)+"_consent", "override_"+string(o.ID)+"_inks-in-alkaline-water"
	form.Set("override_"+string(a.ID)+"_consent", "agreed on the telephone")
	form.Set(consent, "his letter is on the way")
	for _, x := range []record.CaseID{a.ID, o.ID} {
		form.Set("who_"+string(x)+"_consent", "Owner (demo)")
		form.Set("when_"+string(x)+"_consent", s.now().Add(-time.Hour).Format(timeValue))
	}
	form.Set(inks, "the red is not on this sheet")
	appendTo(t, s, o.ID, agreed()...)

	w := answerTo(s, request("POST", casePath(a.ID, "runs"), form))
	again := see(t, w)
	if w.Code != http.StatusConflict || len(caseOf(t, s, a.ID).Runs) != 0 {
		t.Fatalf("%d: what was judged has changed since the look; want it shown again", w.Code)
	}
	if got := again.text("form"); !strings.Contains(got, "Consent holds now") || !strings.Contains(got, "consent") {
		t.Errorf("the page does not say what changed: %q", got)
	}
	if v := attr(again.one("#run-"+inks), "value"); v != "the red is not on this sheet" {
		t.Errorf("at the inks stands %q; want the reason typed for them", v)
	}
	if len(again.all("#run-"+consent)) != 0 {
		t.Error("a reason is still asked for the consent that was given")
	}
	form = again.form("form.form")
	form.Set("by", "KM")
	for _, field := range []string{
		"override_" + string(a.ID) + "_consent", inks, "who_" + string(a.ID) + "_consent", "when_" + string(a.ID) + "_consent",
	} {
		form.Set(field, attr(again.one("#run-"+field), "value"))
	}
	if w := answerTo(s, request("POST", casePath(a.ID, "runs"), form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text(".refusals"))
	}
	got := caseOf(t, s, o.ID).Runs[0].Body
	if len(got.Overrides) != 1 || got.Overrides[0].Gate != "inks in alkaline water" ||
		got.Overrides[0].Reason != "the red is not on this sheet" || got.Departure != "" {
		t.Errorf("the other case has %+v, departure %q; want the reason at the inks alone", got.Overrides, got.Departure)
	}
}

// What was read in the bath before was not read in this one: settings are
// proposed, readings are not, and all that is written is shown first.
func TestSettingsAreCarriedOverAndReadingsNever(t *testing.T) {
	s, clock := newServer(t)
	c := wetCase(t, s, "31-1")
	appendTo(t, s, c.ID, agreed()...)
	appendTo(t, s, record.StudioID, record.WaterSource{
		ID: record.NewID(s.now()), Name: "de-ionised can", Source: "deionised", CalciumMgL: ptr(1.5),
	})
	first := record.RunStarted{
		ID: record.NewID(s.now()), Operation: "lime", OperationName: "lime bath", Sheets: []int{1}, At: s.now(), Makes: record.Wet,
		PlannedMin: 20, TempC: ptr(23.5), HumidityPct: ptr(61.0), Materials: []record.Material{{Name: "polyester web"}},
		Bath: &record.Bath{
			ID: record.NewID(s.now()), Liquid: "lime water of another kind", Water: "de-ionised can", VolumeMl: 1234,
			TempC: ptr(17.25), PH: ptr(12.31), PHMethod: "indicator strip", ConductUS: ptr(4321), CalciumMgL: ptr(77),
			Tray: "tray B, cleaned",
		},
	}
	appendTo(t, s, c.ID, first)
	clock.t = clock.t.Add(20 * time.Minute)
	appendTo(t, s, c.ID, record.RunEnded{Run: first.ID, At: s.now(), Outcome: "done", Leaves: record.Wet})
	q := "?operation=lime&sheets=2"
	start := see(t, answerTo(s, request("GET", casePath(c.ID, "runs/new"+q), nil)))
	form := start.form("form.form")
	for field, want := range map[string]string{
		"volume_ml": "1234", "planned_min": "20", "water": "de-ionised can", "tray": "tray B", "materials": "polyester web",
		"bath_temp_c": "", "bath_ph": "", "conductivity_us_cm": "", "calcium_mg_l": "", "temp_c": "", "humidity_pct": "",
	} {
		if got := form.Get(field); got != want {
			t.Errorf("%s begins with %q, want %q", field, got, want)
		}
	}
	w := answerTo(s, request("GET", casePath(c.ID, "runs/check?"+form.Encode()), nil))
	look := see(t, w)
	shown := look.text("main")
	form = look.form("form.form")
	form.Set("by", "KM")
	if w := answerTo(s, request("POST", casePath(c.ID, "runs"), form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text(".refusals"))
	}
	c = caseOf(t, s, c.ID)
	run := c.Runs[1].Body
	if b := run.Bath; b.TempC != nil || b.PH != nil || b.ConductUS != nil || run.TempC != nil || run.HumidityPct != nil ||
		b.Tray != "tray B" || b.CalciumMgL == nil || *b.CalciumMgL != 1.5 || b.CalciumFrom == "" {
		t.Errorf("%+v in %+v; want no reading, and the calcium of the water said to be the water’s", b, run)
	}
	page := see(t, answerTo(s, request("GET", casePath(c.ID, "runs/"+run.ID), nil))).text("main")
	for _, want := range []string{
		"1234", "de-ionised can", "tray B", "20", "polyester web", "lime water of another kind", "1.5", "not read in the bath",
		"of the bath at the start: pH, temperature and conductivity",
	} {
		if !strings.Contains(shown, want) || !strings.Contains(page, want) {
			t.Errorf("%q is written or open, and not shown: look %v, page %v", want, strings.Contains(shown, want),
				strings.Contains(page, want))
		}
	}
}

func ptr(v float64) *float64 { return &v }

// A tray that is in use, or was left with another liquid, is warned of with what
// is there.
func TestTrayInUseIsWarnedOf(t *testing.T) {
	s, clock := newServer(t)
	c := wetCase(t, s, "31-1")
	rinse := record.RunStarted{
		ID: record.NewID(s.now()), Operation: "rinse", OperationName: "rinsing", Sheets: []int{1}, At: s.now(),
		Makes: record.Wet, Bath: &record.Bath{ID: record.NewID(s.now()), Liquid: "conditioned water", VolumeMl: 900, Tray: "Tray B, cleaned"},
	}
	appendTo(t, s, c.ID, rinse)
	look := func() string {
		q := "operation=wash&sheets=2&volume_ml=1000&liquid=tap+water&tray=tray+B"
		return see(t, answerTo(s, request("GET", casePath(c.ID, "runs/check?"+q), nil))).text("main")
	}
	if got := look(); !containsAll(got, "Tray B is in use", "rinsing of sheet 1", "conditioned water") {
		t.Errorf("a tray in use: %q", got)
	}
	clock.t = clock.t.Add(10 * time.Minute)
	appendTo(t, s, c.ID, record.RunEnded{Run: rinse.ID, At: s.now(), Outcome: "done", Leaves: record.Wet})
	if got := look(); !containsAll(got, "held conditioned water until", "is it emptied and rinsed?") {
		t.Errorf("a tray with another liquid: %q", got)
	}
	appendTo(t, s, c.ID, record.Waste{What: "rinse water", To: "drain", Run: rinse.ID})
	if got := look(); strings.Contains(got, "is it emptied") {
		t.Errorf("an emptied tray is warned of: %q", got)
	}
}

// What must not meet is a gate at the start of a bath: the paper, what the sheet and
// the tray held last, the tray itself; what stands open beside it is remarked on.
func TestBathThatMustNotMeet(t *testing.T) {
	s, clock := newServer(t)
	c := wetCase(t, s, "31-1")
	bleach := record.RunStarted{
		ID: record.NewID(s.now()), Operation: "reduce", OperationName: "reducing bleach", Sheets: []int{1}, At: s.now(),
		Makes: record.Wet, Bath: &record.Bath{
			ID: record.NewID(s.now()), Liquid: "sodium borohydride in water, 2 g/L", Substance: "sodium borohydride",
			StrengthGL: &record.Range{Low: 2, Best: 2, High: 2}, VolumeMl: 900, Tray: "tray B",
		},
	}
	appendTo(t, s, c.ID, bleach)
	look := func(q string) string {
		return see(t, answerTo(s, request("GET", casePath(c.ID, "runs/check?operation="+q), nil))).text("main")
	}
	oxidise := "oxidise&sheets=%d&volume_ml=1000&liquid=hydrogen+peroxide+3+%%25&tray="
	beside := look(fmt.Sprintf(oxidise, 2) + "tray+C,+aluminium")
	if !containsAll(beside, "Open on the bench at once", "tray B", "must not meet: violent reaction") {
		t.Errorf("an open bath beside it: %q", beside)
	}
	appendTo(t, s, c.ID, record.RunStarted{
		ID: record.NewID(s.now()), Operation: "oxidise", OperationName: "oxidising bleach", Sheets: []int{2}, At: s.now(),
		Makes: record.Wet, Bath: &record.Bath{
			ID: record.NewID(s.now()), Liquid: "hydrogen peroxide 3 %", VolumeMl: 900, Tray: "tray C",
		},
	})
	if bench := see(t, answerTo(s, request("GET", casePath(c.ID, "bench"), nil))).text("#clocks .notice.bad"); !containsAll(
		bench, "Open at once", "tray B", "tray C", "violent reaction") {
		t.Errorf("two baths at the bench: %q", bench)
	}
	if alkaline := look("lime&sheets=2&volume_ml=1000&liquid=calcium+hydroxide&tray=tray+C,+aluminium"); !containsAll(
		alkaline, "What must not mix", "aluminium dissolves with hydrogen", "Reason for going on all the same") {
		t.Errorf("lime in an aluminium tray: %q", alkaline)
	}
	clock.t = clock.t.Add(10 * time.Minute)
	appendTo(t, s, c.ID, record.RunEnded{Run: bleach.ID, At: s.now(), Outcome: "done", Leaves: record.Wet})
	if tray := look(fmt.Sprintf(oxidise, 2) + "tray+B"); !containsAll(
		tray, "What must not mix", "Tray B held sodium borohydride in water, 2 g/L", "violent reaction") {
		t.Errorf("the tray of the borohydride: %q", tray)
	}
	if sheet := look(fmt.Sprintf(oxidise, 1) + "tray+D"); !containsAll(
		sheet, "What must not mix", "comes from reducing bleach", "violent reaction") {
		t.Errorf("a sheet from the borohydride: %q", sheet)
	}
	wet := look("wet-out&sheets=2&volume_ml=50&liquid=ethanol+and+water,+7:3&tray=tray+E")
	if !containsAll(wet, "Solvent vapour", "Share of the lower explosive limit", "Flash point", "heavier than air") {
		t.Errorf("ethanol: %q", wet)
	}
	if strong := look("reduce&sheets=2&volume_ml=1000&liquid=sodium+borohydride&tray=tray+E"); strings.Contains(strong, "refused") {
		t.Errorf("borohydride of no strength: %q", strong)
	}
}

// A sheet in an open run comes out of it in the same act, or stays there.
func TestSheetInAnOpenRunMustComeOutFirst(t *testing.T) {
	s, clock := newServer(t)
	c := wetCase(t, s, "31-1")
	appendTo(t, s, c.ID, agreed()...)
	rinse := record.RunStarted{
		ID: record.NewID(s.now()), Operation: "rinse", OperationName: "rinsing", Sheets: []int{1, 2}, At: s.now(),
		PlannedMin: 8, Makes: record.Wet,
		Bath: &record.Bath{ID: record.NewID(s.now()), Liquid: "conditioned water", VolumeMl: 900, Tray: "tray C"},
	}
	appendTo(t, s, c.ID, rinse)
	clock.t = clock.t.Add(3 * time.Minute)
	q := "operation=lime&sheets=2&sheets=3&volume_ml=1000&liquid=lime+water"
	look := see(t, answerTo(s, request("GET", casePath(c.ID, "runs/check?"+q), nil)))
	if got := look.text("main"); !containsAll(got, "Sheet 2 is still in rinsing", "tray C", "conditioned water") {
		t.Errorf("the look says %q", got)
	}
	form := look.form("form.form")
	form.Set("by", "KM")
	post := func(code int, want string) {
		t.Helper()
		w := answerTo(s, request("POST", casePath(c.ID, "runs"), form))
		if w.Code != code || !strings.Contains(see(t, w).text("main"), want) {
			t.Fatalf("%d: %s; want %d with %q", w.Code, see(t, w).text("main"), code, want)
		}
	}
	post(http.StatusUnprocessableEntity, "Say how that ended")
	form.Set("out_"+rinse.ID, "stopped")
	post(http.StatusUnprocessableEntity, "Say why rinsing was stopped early")
	form.Set("outreason_"+rinse.ID, "the lime is wanted at once")
	if w := answerTo(s, request("POST", casePath(c.ID, "runs"), form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text(".refusals"))
	}
	c = caseOf(t, s, c.ID)
	end := c.Runs[0].Ends
	if len(c.Runs) != 2 || len(end) != 1 || !slices.Equal(end[0].Body.Sheets, []int{2}) || end[0].Body.Outcome != "stopped" ||
		!end[0].Body.At.Equal(c.Runs[1].Body.At) || !c.Runs[0].Open() {
		t.Errorf("%+v, %+v; want sheet 2 out of the rinse as the lime starts, sheet 1 still in it", end, c.Runs)
	}
}

// Two cases draw on one bottle: what the second may take is what the first left.
func TestBottleIsNotDrawnBelowNothing(t *testing.T) {
	s, _ := newServer(t)
	bottle := limeBottle(t, s)
	var forms []url.Values
	var cases []*record.Case
	for _, number := range []string{"31-1", "31-2"} {
		c := wetCase(t, s, number)
		appendTo(t, s, c.ID, agreed()...)
		q := "operation=lime&sheets=1&volume_ml=2000&bottle=" + bottle.ID
		form := see(t, answerTo(s, request("GET", casePath(c.ID, "runs/check?"+q), nil))).form("form.form")
		form.Set("by", "KM")
		forms, cases = append(forms, form), append(cases, c)
	}
	if w := answerTo(s, request("POST", casePath(cases[0].ID, "runs"), forms[0])); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text("main"))
	}
	w := answerTo(s, request("POST", casePath(cases[1].ID, "runs"), forms[1]))
	if got := see(t, w).text("main"); w.Code != http.StatusUnprocessableEntity || !strings.Contains(got, "holds 1000 mL: 2000 mL cannot be drawn") {
		t.Errorf("%d: %s; want it refused with what is left", w.Code, got)
	}
	draw := url.Values{"key": {record.NewID(s.now())}, "seq": {seqOf(t, s, record.StudioID)}, "by": {"KM"}, "ml": {"1500"}}
	w = answerTo(s, request("POST", bottlePath(bottle.ID)+"/draw", draw))
	if got := see(t, w).text("main"); w.Code != http.StatusUnprocessableEntity || !strings.Contains(got, "holds 1000 mL: 1500 mL cannot be drawn") {
		t.Errorf("%d: %s; want it refused with what is left", w.Code, got)
	}
	if got := see(t, answerTo(s, request("GET", bottlePath(bottle.ID), nil))).text("main"); !strings.Contains(got, "1000 mL left") &&
		!strings.Contains(got, "1 L left") {
		t.Errorf("the shelf does not say what is left: %q", got)
	}
}

// A run that is written later than it happened, before another of the same sheet,
// is written with its end or not at all.
func TestRunWrittenLateBringsItsEnd(t *testing.T) {
	s, clock := newServer(t)
	c := wetCase(t, s, "31-1")
	appendTo(t, s, c.ID, agreed()...)
	clock.t = clock.t.Add(time.Hour)
	appendTo(t, s, c.ID, record.RunStarted{
		ID: record.NewID(s.now()), Operation: "dry-absorbent", OperationName: "drying", Sheets: []int{1}, At: s.now(),
		Makes: record.Damp,
	})
	at := func(min int) string { return s.now().Add(time.Duration(min) * time.Minute).Format(timeValue) }
	q := url.Values{
		"operation": {"wash"}, "sheets": {"1"}, "volume_ml": {"1000"}, "liquid": {"tap water"}, "at": {at(-20)},
	}
	look := func(code int, want string) looked {
		t.Helper()
		w := answerTo(s, request("GET", casePath(c.ID, "runs/check?"+q.Encode()), nil))
		if got := see(t, w); w.Code != code || !strings.Contains(got.text("main"), want) {
			t.Fatalf("%d: %q; want %d with %q", w.Code, got.text("main"), code, want)
		}
		return see(t, w)
	}
	look(http.StatusUnprocessableEntity, "Sheet 1 went into drying")
	q.Set("ended_at", at(-30))
	look(http.StatusUnprocessableEntity, "lies before the start")
	q.Set("ended_at", at(-5))
	look(http.StatusUnprocessableEntity, "The outcome is not chosen")
	q.Set("run_outcome", "done")
	form := look(http.StatusOK, "done; the sheet was then wet").form("form.form")
	form.Set("by", "KM")
	for field := range form {
		if strings.HasPrefix(field, "override_") {
			form.Set(field, "it was so")
		}
	}
	byMouth(form, c.ID, s.now())
	if w := answerTo(s, request("POST", casePath(c.ID, "runs"), form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text("main"))
	}
	c = caseOf(t, s, c.ID)
	if w := c.ConditionOf(1); len(c.Runs) != 2 || c.Runs[1].Open() || w.Wetness != record.Damp {
		t.Errorf("%+v, sheet 1 %s; want the wash ended and the sheet damp in the drying", c.Runs, w.Wetness)
	}
}
