package web

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
)

func TestAnEmptyStudioGuidesStepByStep(t *testing.T) {
	s, _ := newServer(t)
	for _, step := range []struct {
		what, path string
		fields     map[string]string
	}{
		{"Name the studio", "/studio/details", map[string]string{"studio_name": "Studio (test)", "rate": "72", "currency": "EUR", "paper_size": "A4"}},
		{"Say who works here", "/studio/people", map[string]string{"initials": "KM", "person_name": "K. M."}},
		{"Name the water", "/studio/waters", map[string]string{"water_name": "tap", "source": "tap"}},
		{"Name what you measure with", "/studio/glass", map[string]string{"glass_name": "jug", "capacity_ml": "2000", "graduation_ml": "50"}},
		{"Name your instruments", "/studio/instruments", map[string]string{"instrument_name": "pH meter", "instrument_sort": "ph-meter"}},
	} {
		p, w := get(t, s, "/studio")
		if w.Code != http.StatusOK || p.text(".next .what") != step.what ||
			attr(p.one(".next a.act"), "href") != step.path {
			t.Fatalf("status %d: next is %q, want %q", w.Code, p.text(".next .what"), step.what)
		}
		page, _ := get(t, s, step.path)
		form := page.form("form.form")
		for k, v := range step.fields {
			form.Set(k, v)
		}
		if w := post(s, step.path, form); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d: %s", step.path, w.Code, see(t, w).text(".refusals"))
		}
	}
	if p, _ := get(t, s, "/studio"); len(p.all(".next")) != 0 {
		t.Errorf("all is said, and still next is %q", p.text(".next"))
	}
	st := studioOf(t, s)
	if st.Details.RateMinor != 7200 || len(st.People) != 1 || len(st.Waters) != 1 || len(st.Glass) != 1 ||
		len(st.Instruments) != 1 {
		t.Errorf("the studio is %+v", st)
	}
}

func TestTheUsualCylindersInOneTap(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/studio")
	form := p.form("form[action=/studio/glass/usual]")
	for range 2 { // a double tap
		if w := post(s, "/studio/glass/usual", form); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d", w.Code)
		}
	}
	if n := len(studioOf(t, s).Glass); n != 3 {
		t.Errorf("there are %d vessels, want 3", n)
	}
}

func TestStudioFormsRefuseAtTheField(t *testing.T) {
	s, _ := newServer(t)
	for _, row := range []struct{ path, form, field, typed, says string }{
		{"/studio/details", "details", "currency", "euro", "ISO 4217"},
		{"/studio/details", "details", "rate", "-5", "negative"},
		{"/studio/details", "details", "tax_percent", "190", "190"},
		{"/studio/people", "person", "initials", "K M", "letters without blanks"},
		{"/studio/people", "person", "initials", "TOOLONGINDEED", "letters"},
		{"/studio/waters", "water", "ph", "77", "77"},
		{"/studio/waters", "water", "alkalinity_mg_l", "hard", "hard"},
		{"/studio/waters", "water", "measured", "yesterday", "date"},
		{"/studio/glass", "glass", "capacity_ml", "0", "0"},
		{"/studio/glass", "glass", "graduation_ml", "", "Please enter"},
		{"/studio/instruments", "instrument", "instrument_sort", "wand", "wand"},
		{"/studio/methods", "method", "basis", "", "Please enter"},
		{"/studio/methods", "method", "due_min", "soon", "minutes from the start"},
		{"/studio/methods", "method", "operation", "alchemy", "one of the list"},
	} {
		p, _ := get(t, s, row.path)
		form := p.form("form.form")
		form.Set(row.field, row.typed)
		w := post(s, row.path, form)
		back := see(t, w)
		if said := back.text("#" + row.form + "-" + row.field + "-refusal"); w.Code != http.StatusUnprocessableEntity ||
			!strings.Contains(said, row.says) {
			t.Errorf("%s, %s %q: status %d, at the field %q", row.path, row.field, row.typed, w.Code, said)
		}
	}
	if n := studioOf(t, s).LastSeq; n != 0 {
		t.Errorf("%d entries were written", n)
	}
}

// 1 °dH is 10 mg CaO per litre (DIN 38409-6), 17.85 mg CaCO3: 15 °dH are 268.
// Alkalinity of 4 mmol/L is 244 mg/L of HCO3 (61.016 g/mol).
func TestAWaterIsReadInItsScales(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/studio/waters")
	form := p.form("form.form")
	for k, v := range map[string]string{"water_name": "tap", "source": "tap", "hardness_mg_l": "15", "hardness_scale": "dH", "alkalinity_mg_l": "4", "alkalinity_scale": "mmol/L", "calcium_mg_l": "84"} {
		form.Set(k, v)
	}
	if w := post(s, "/studio/waters", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	x := studioOf(t, s).Waters[0]
	if *x.HardnessMgL < 267 || *x.HardnessMgL > 269 || *x.AlkalinityMgL < 243.5 || *x.AlkalinityMgL > 244.5 {
		t.Errorf("hardness %g mg/L CaCO₃, alkalinity %g mg/L HCO₃", *x.HardnessMgL, *x.AlkalinityMgL)
	}
	page, _ := get(t, s, "/studio/waters?water="+x.ID)
	if !strings.Contains(page.text(".facts"), "Magnesium") || page.form("form.form").Get("water") != x.ID {
		t.Errorf("what follows from it: %q", page.text(".facts"))
	}
	form = page.form("form.form")
	form.Set("calcium_mg_l", "400")
	if w := post(s, "/studio/waters", form); w.Code != http.StatusUnprocessableEntity ||
		!strings.Contains(see(t, w).text("#water-calcium_mg_l-refusal"), "one of the two is wrong") {
		t.Errorf("more calcium than hardness: status %d", w.Code)
	}
}

func TestTwoTabsOfTheStudioClash(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/studio/people")
	first, second := p.form("form.form"), p.form("form.form")
	first.Set("initials", "KM")
	first.Set("person_name", "K. M.")
	if w := post(s, "/studio/people", first); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	second.Set("key", record.NewID(s.now()))
	second.Set("initials", "KM")
	second.Set("person_name", "K. Another")
	w := post(s, "/studio/people", second)
	back := see(t, w)
	if w.Code != http.StatusConflict || !strings.Contains(back.text(".clash .log"), "Person: KM, K. M") {
		t.Fatalf("status %d: %q, want the other's entry", w.Code, back.text(".clash"))
	}
	again := back.form("form.form")
	if again.Get("person_name") != "K. Another" {
		t.Errorf("what was typed is lost: %v", again)
	}
	if w := post(s, "/studio/people", again); w.Code != http.StatusSeeOther ||
		studioOf(t, s).People[0].Name != "K. Another" {
		t.Errorf("sent by one who has seen it: status %d", w.Code)
	}
}

// Buffers of 4.008 and 9.180 at 25 °C (NBS Special Publication 260-53) read 4.11
// and 9.18: the slope is 5.07/5.172 of the ideal, 98.0 %.
func TestAPHMeterIsJudgedByItsBuffers(t *testing.T) {
	s, clock := newServer(t)
	id := record.NewID(clock.now())
	writeStudio(t, s, record.Instrument{ID: id, Name: "pH meter", Sort: "ph-meter", Resolution: 0.01})
	path := "/studio/instruments/" + id
	if p, _ := get(t, s, "/studio"); !strings.Contains(p.text("#instruments .sign"), "not checked") {
		t.Errorf("a meter that was never checked: %q", p.text("#instruments"))
	}
	p, _ := get(t, s, path)
	form := p.form("form.form")
	for k, v := range map[string]string{"nominal_1": "4.01", "read_1": "4,11", "nominal_2": "9.18", "read_2": "9.18", "temp_c": "25"} {
		form.Set(k, v)
	}
	if w := post(s, path+"/check", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	p, _ = get(t, s, path)
	if got := p.text(".answers"); !strings.Contains(got, "98.0 %") {
		t.Errorf("it is judged %q, want a slope of 98.0 %%", got)
	}
	if len(p.all(".facts .range")) < 2 {
		t.Errorf("what a reading is worth has no range: %q", p.text(".facts"))
	}

	clock.forward(30 * time.Hour)
	if p, _ := get(t, s, "/studio"); !strings.Contains(p.text("#instruments .sign"), "check due") {
		t.Errorf("a day later: %q", p.text("#instruments"))
	}
	form = p.form("form.form")
	for k, v := range map[string]string{"read_1": "4.21", "read_2": "9.28"} {
		form.Set(k, v)
	}
	post(s, path+"/check", form)
	p, _ = get(t, s, path)
	if got := p.text(".answers"); !strings.Contains(got, "+0.10 pH since") {
		t.Errorf("both read 0.10 higher, and the drift is %q", got)
	}

	form = p.form("form.form")
	for k, v := range map[string]string{"read_1": "7", "read_2": "7"} {
		form.Set(k, v)
	}
	if w := post(s, path+"/check", form); w.Code != http.StatusUnprocessableEntity ||
		see(t, w).text("#check-text-refusal") == "" {
		t.Errorf("an electrode that shows the same in both: status %d, %q", w.Code, see(t, w).text(".refusals"))
	}
	form.Set("text", "junction clogged; electrode put aside")
	if w := post(s, path+"/check", form); w.Code != http.StatusSeeOther {
		t.Errorf("with a word about it: status %d", w.Code)
	}
	if p, w := get(t, s, path); w.Code != http.StatusOK || !strings.Contains(p.text(".notice.bad"), "electrode") {
		t.Errorf("its page: status %d, %q", w.Code, p.text(".notice.bad"))
	}
}

func TestAThingOfTheStudioIsWithdrawnWithAReason(t *testing.T) {
	s, _ := newServer(t)
	id := record.NewID(s.now())
	g := record.Glassware{ID: id, Name: "jug", CapacityMl: 2000, GraduationMl: 50}
	writeStudio(t, s, g)
	g.GraduationMl = 100
	writeStudio(t, s, g)
	p, _ := get(t, s, "/studio")
	page, w := get(t, s, attr(p.one("#glass .things a.act"), "href"))
	if w.Code != http.StatusOK || len(page.all(".log li")) != 2 {
		t.Fatalf("status %d, %d entries are named, want both that speak of it", w.Code, len(page.all(".log li")))
	}
	form := page.form("form.section")
	if w := post(s, "/studio/withdraw", form); w.Code != http.StatusUnprocessableEntity ||
		see(t, w).text("#withdraw-reason-refusal") == "" {
		t.Errorf("without a reason: status %d", w.Code)
	}
	form.Set("reason", "broken on the first day")
	w = post(s, "/studio/withdraw", form)
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/studio#glass" ||
		len(studioOf(t, s).Glass) != 0 {
		t.Errorf("status %d to %q, %d vessels", w.Code, w.Header().Get("Location"), len(studioOf(t, s).Glass))
	}
	log, _ := get(t, s, "/studio/log")
	if len(log.all("del")) != 2 || !strings.Contains(log.text(".because"), "broken on the first day") {
		t.Errorf("the log says %q", log.text(".log"))
	}
	for _, entry := range []string{"", "?entry=0", "?entry=99", "?entry=x"} {
		if _, w := get(t, s, "/studio/withdraw"+entry); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("withdraw%s: status %d", entry, w.Code)
		}
	}
}

func TestAMethodIsAdoptedAndChanged(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/studio/methods")
	form := p.form("form.form")
	for k, v := range map[string]string{"method_name": "lime, 20 min", "operation": "lime", "liquid": "lime water 0.4 g/L", "planned_min": "20", "basis": "own tests"} {
		form.Set(k, v)
	}
	if w := post(s, "/studio/methods", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	x := studioOf(t, s).Methods[0]
	page, _ := get(t, s, "/studio/methods?method="+x.ID)
	form = page.form("form.form")
	form.Set("planned_min", "25")
	form.Set("retired", "yes")
	if w := post(s, "/studio/methods", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	st := studioOf(t, s)
	if len(st.Methods) != 1 || st.Methods[0].PlannedMin != 25 || !st.Methods[0].Retired ||
		st.Methods[0].Operation != "lime" {
		t.Errorf("the methods are %+v", st.Methods)
	}
}
