package web

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/solution"
)

// writeStudio appends bodies to the studio's journal as KM.
func writeStudio(t *testing.T, s *Server, bodies ...record.Body) {
	t.Helper()
	st, err := s.store.Studio(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.store.Append(t.Context(), record.Draft{Case: record.StudioID, Expect: st.LastSeq, By: "KM", Zone: "UTC", Items: items(bodies...)}); err != nil {
		t.Fatal(err)
	}
}

func studioOf(t *testing.T, s *Server) *record.Studio {
	t.Helper()
	st, err := s.store.Studio(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// writtenBy is a browser that writes as KM.
func writtenBy() func(*http.Request) {
	return cookies([]*http.Cookie{{Name: writerCookie, Value: "KM"}})
}

func get(t *testing.T, s *Server, path string) (looked, *httptest.ResponseRecorder) {
	t.Helper()
	w := answerTo(s, request("GET", path, nil, writtenBy()))
	return see(t, w), w
}

func post(s *Server, path string, v url.Values) *httptest.ResponseRecorder {
	return answerTo(s, request("POST", path, v, writtenBy()))
}

func some(v float64) *float64 { return &v }

// shelved puts a lime stock, a hard tap water and a de-ionised can into the
// studio, as in the scenario.
func shelved(t *testing.T, s *Server) (stock, tap, can string) {
	t.Helper()
	now := s.now()
	stock, tap, can = record.NewID(now), record.NewID(now), record.NewID(now)
	writeStudio(
		t,
		s,
		record.WaterSource{ID: tap, Name: "tap", Source: "tap", AlkalinityMgL: some(250), HardnessMgL: some(205)},
		record.WaterSource{ID: can, Name: "de-ionised can", Source: "deionised", ConductUS: some(2)},
		record.Bottle{
			ID:        stock,
			Name:      "lime water stock",
			Substance: "calcium hydroxide",
			Form:      "saturated",
			Unit:      "g/L",
			VolumeMl:  5000,
			MadeAt:    now.AddDate(0, 0, -90),
			TempC:     some(17),
			Lot:       "L-0226",
		},
	)
	return stock, tap, can
}

func TestTheShelfIsEmptyAtFirst(t *testing.T) {
	s, _ := newServer(t)
	p, w := get(t, s, "/solutions")
	if w.Code != http.StatusOK || len(p.all(".card")) != 0 ||
		!strings.Contains(p.text(".empty"), "The shelf is empty") {
		t.Errorf("status %d: %s", w.Code, p.text("main"))
	}
	if attr(p.all(".empty a.act")[0], "href") != "/solutions/mix" {
		t.Error("the empty shelf does not offer to mix something")
	}
}

func TestTheShelfPutsWhatIsInDateFirst(t *testing.T) {
	s, clock := newServer(t)
	now := clock.now()
	old, gone := record.NewID(now), record.NewID(now)
	shelved(t, s)
	writeStudio(
		t,
		s,
		record.Bottle{
			ID:        old,
			Name:      "lime water 0.4 g/L",
			Substance: "calcium hydroxide",
			Form:      "solution",
			Unit:      "g/L",
			Strength:  &record.Range{Low: 0.38, Best: 0.4, High: 0.42},
			VolumeMl:  1500,
			MadeAt:    now.AddDate(0, 0, -2),
			ExpiresAt: now.AddDate(0, 0, -1),
		},
		record.Bottle{
			ID:        gone,
			Name:      "ethanol",
			Substance: "ethanol",
			Form:      "solvent",
			Unit:      "pure",
			VolumeMl:  500,
			MadeAt:    now.AddDate(0, 0, -9),
		},
		record.BottleEmptied{Bottle: gone, Reason: "used up", To: "nothing was left"},
	)
	p, _ := get(t, s, "/solutions")
	if got := p.text(".cards .name"); got != "Lime water stock | Lime water 0.4 g/L" {
		t.Errorf("the cards are %q", got)
	}
	if !strings.Contains(p.text("details .card"), "past its date") ||
		!strings.Contains(p.text("details .rows"), "nothing was left") {
		t.Errorf("folded: %s", p.text("details"))
	}
	if !strings.Contains(p.text(".card"), "0.40 g/L 0.38 to 0.42") {
		t.Errorf("a strength has no range: %s", p.text(".card"))
	}
}

// Lime water of 0.4 g/L from a stock at 17 °C, 1.5 L with the usual cylinders:
// the page must say what package solution says, whose own tests hold it to the
// published solubility.
func TestMixShowsTheRecipe(t *testing.T) {
	s, _ := newServer(t)
	stock, tap, can := shelved(t, s)
	p, w := get(t, s, "/solutions/mix?way=stock&stock="+stock+"&stock_temp_c=17&want=0.4+g%2FL&volume=1.5+L&water="+can)
	if w.Code != http.StatusOK {
		t.Fatalf("status %d", w.Code)
	}
	want, _ := solution.ParseWanted("0.4 g/L")
	recipe, err := solution.LimeFromStock{
		StockTemp: 17,
		StockName: "lime water stock",
		StockLeft: 5000,
		Want:      want,
		Volume:    1500,
		Water:     solution.Water{Name: "de-ionised can", Pure: true},
		Seed:      1,
	}.Recipe()
	if err != nil {
		t.Fatal(err)
	}
	if got := p.text(".pour .amount"); got != recipe.Lines[0].Amount+" | "+recipe.Lines[1].Amount {
		t.Errorf("it says to pour %q, want %s and %s", got, recipe.Lines[0].Amount, recipe.Lines[1].Amount)
	}
	answers := p.text(".answers")
	if !containsAll(
		answers,
		best(recipe.Strength.Range)+" g/L",
		words.English.Span(recipe.Strength.Range),
		fmt.Sprintf("%.1f", recipe.Chemistry.PH.Best),
	) {
		t.Errorf("the answers are %q", answers)
	}
	if len(p.all(".swaps li")) != 0 || !strings.Contains(p.text(".caution"), "goggles") ||
		len(p.all("svg.curve")) != 2 {
		t.Errorf(
			"in pure water: %d swaps, caution %q, %d plots",
			len(p.all(".swaps li")),
			p.text(".caution"),
			len(p.all("svg.curve")),
		)
	}

	hard, _ := get(
		t,
		s,
		"/solutions/mix?way=stock&stock="+stock+"&stock_temp_c=17&want=0.4+g%2FL&volume=1.5+L&water="+tap,
	)
	if !strings.Contains(hard.text(".notice.warn"), "clouds it") ||
		!strings.Contains(hard.text(".answers"), "Lime left") {
		t.Errorf("in hard water: %s", hard.text("#recipe"))
	}
	swap := hard.one(".swaps a")
	if q, err := url.Parse(attr(swap, "href")); err != nil || q.Query().Get("water") != can ||
		q.Query().Get("volume") != "1.5 L" {
		t.Errorf("the way to purer water leads to %q", attr(swap, "href"))
	}
}

// What hard water leaves of the lime is what the bottle holds: the page says so,
// the bottle is named and kept by it, and one touch pours more.
func TestCloudedLimeIsKeptAsWhatIsLeft(t *testing.T) {
	s, _ := newServer(t)
	stock, tap, _ := shelved(t, s)
	at := "/solutions/mix?way=stock&stock=" + stock + "&stock_temp_c=17&want=0.4+g%2FL&volume=1.5+L&water=" + tap
	p, _ := get(t, s, at)
	var left float64
	if fmt.Sscan(p.figure("left"), &left); !(left > 0.1 && left < 0.35) {
		t.Fatalf("left of 0.4 g/L: %q", p.figure("left"))
	}
	if w := post(s, "/solutions/mix", p.form("#make form")); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text("main"))
	}
	b := studioOf(t, s).Bottles[1].Body
	if math.Abs(b.Strength.Best-left) > 0.01 || !strings.HasPrefix(b.Name, "lime water 0.2") || !strings.HasSuffix(b.Name, "clouded") ||
		b.Poured == nil || math.Abs(b.Poured.Best-0.4) > 0.01 ||
		!strings.Contains(strings.Join(b.Warnings, " "), "Clouded") {
		t.Errorf("the bottle is %q of %+v, %q", b.Name, b.Strength, b.Warnings)
	}
	if got, _ := get(t, s, bottlePath(b.ID)); !containsAll(got.text(".facts"), "left once it has clouded", "poured as 0.") {
		t.Errorf("the page of the bottle says %q", got.text(".facts"))
	}
	if got := p.text("#stronger"); !strings.Contains(got, "For 0.4 g/L left with this water pour") {
		t.Errorf("it offers %q", got)
	}
	p, _ = get(t, s, attr(p.one("#stronger a"), "href"))
	if fmt.Sscan(p.figure("left"), &left); math.Abs(left-0.4) > 0.02 {
		t.Errorf("poured as offered %q is left, want 0.4", p.figure("left"))
	}
	if got := attr(p.one("form.mix-form [name=want]"), "value"); got != "0.4 g/L" {
		t.Errorf("what is wanted has become %q", got)
	}
	if len(p.all("#stronger")) != 0 || !strings.Contains(p.text("#recipe"), "0.4 g/L is left after clouding") {
		t.Errorf("poured as offered the page says %q", p.text("#recipe"))
	}
}

func TestEveryWayShowsARecipeAtOnce(t *testing.T) {
	s, _ := newServer(t)
	shelved(t, s)
	writeStudio(
		t,
		s,
		record.Instrument{ID: record.NewID(s.now()), Name: "balance", Sort: "balance", Resolution: 0.01, Unit: "g"},
		record.Bottle{
			ID:        record.NewID(s.now()),
			Name:      "borohydride",
			Substance: "sodium borohydride",
			Form:      "solid",
			Unit:      "pure",
			MassG:     100,
			MadeAt:    s.now(),
		},
	)
	for _, way := range []string{"stock", "conditioned", "solid", "ethanol", "cellulose", "paste"} {
		p, w := get(t, s, "/solutions/mix?way="+way)
		if w.Code != http.StatusOK || len(p.all(".pour .amount")) < 2 || len(p.all("#make form")) != 1 {
			t.Errorf("%s: status %d, %s", way, w.Code, p.text("main"))
		}
	}
	// What a bottle is wanted for, nobody can guess: the page asks, and refuses
	// only what was sent.
	if p, w := get(t, s, "/solutions/mix?way=bottle"); w.Code != http.StatusOK || len(p.all(".field.wrong")) != 0 ||
		len(p.all("#recipe .empty")) != 1 {
		t.Errorf("dilute: status %d, %s", w.Code, p.text("#recipe"))
	}
	if p, _ := get(t, s, "/solutions/mix?way=bottle&want=&volume=1+L"); len(p.all(".field.wrong")) == 0 {
		t.Error("dilute, sent without what is wanted: nothing is refused")
	}
	if p, _ := get(t, s, "/solutions/mix?way=bottle&substance=ammonia+solution+25+%25&want=1+%25+w%2Fv&volume=1+L"); len(
		p.all(".pour .amount"),
	) < 2 {
		t.Errorf("a concentrate that is on no shelf: %s", p.text("#recipe"))
	}
	if p, _ := get(t, s, "/solutions/mix?way=alchemy"); len(p.all(".ways a")) != len(mixWays) ||
		len(p.all("#recipe")) != 0 {
		t.Error("a way that there is not shows a recipe")
	}
}

func TestMixRefusesAtTheField(t *testing.T) {
	s, _ := newServer(t)
	stock, _, _ := shelved(t, s)
	base := "/solutions/mix?way=stock&stock=" + stock
	for _, row := range []struct{ name, query, field, says string }{
		{"no unit", "&stock_temp_c=17&want=0.4&volume=1+L", "#mix-want", "unit"},
		{"no volume", "&stock_temp_c=17&want=0.4+g%2FL&volume=", "#mix-volume", "how much"},
		{"a word for a number", "&stock_temp_c=warm&want=0.4+g%2FL&volume=1+L", "#mix-stock_temp_c", "warm"},
		{"nothing wanted", "&stock_temp_c=17&want=&volume=1+L", "#mix-want", "Say what you want"},
		{"aluminium", "&stock_temp_c=17&want=0.4+g%2FL&volume=1+L&meets=an+aluminium+vessel", "#mix-meets", "Refused"},
	} {
		p, w := get(t, s, base+row.query)
		said := p.text(row.field + "-refusal")
		if w.Code != http.StatusOK || !strings.Contains(said, row.says) || len(p.all("#make")) != 0 {
			t.Errorf("%s: status %d, at the field %q, %d recipes", row.name, w.Code, said, len(p.all("#make")))
		}
	}
	for _, row := range []struct{ name, query, says string }{
		{"stronger than saturated", "&stock_temp_c=17&want=4+g%2FL&volume=1+L", "never stronger than saturated"},
		{"more than there is", "&stock_temp_c=17&want=1.6+g%2FL&volume=20+L", "there are only"},
		{"hot", "&stock_temp_c=70&want=0.4+g%2FL&volume=1+L", "0 to 50 °C"},
	} {
		p, _ := get(t, s, base+row.query)
		if !strings.Contains(p.text(".notice.bad"), row.says) || len(p.all("#make")) != 0 {
			t.Errorf("%s: %q", row.name, p.text(".notice.bad"))
		}
	}
	p, _ := get(
		t,
		s,
		"/solutions/mix?way=solid&substance=sodium+borohydride&balance_g=0.01&want=1+%25+w%2Fv&volume=1+L&into=acetic+acid",
	)
	if !strings.Contains(p.text(".notice.bad"), "refused") {
		t.Errorf("borohydride into acid: %s", p.text("#recipe"))
	}
}

func TestMakingWritesTheBottleAndDraws(t *testing.T) {
	s, _ := newServer(t)
	stock, _, can := shelved(t, s)
	p, _ := get(t, s, "/solutions/mix?way=stock&stock="+stock+"&stock_temp_c=17&want=0.4+g%2FL&volume=1.5+L&water="+can)
	form := p.form("#make form")
	w := post(s, "/solutions/mix", form)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", w.Code, see(t, w).text("main"))
	}
	st := studioOf(t, s)
	if len(st.Bottles) != 2 {
		t.Fatalf("there are %d bottles, want the stock and the new one", len(st.Bottles))
	}
	b, left := st.Bottles[1], st.Bottles[0].LeftMl
	if w.Header().Get("Location") != bottlePath(b.Body.ID) {
		t.Errorf("it goes on to %q", w.Header().Get("Location"))
	}
	x := b.Body
	if x.Substance != "calcium hydroxide" || x.Form != "solution" || x.Unit != "g/L" || x.Strength == nil ||
		!(x.Strength.Low < 0.4 && 0.4 < x.Strength.High) ||
		x.Water != "de-ionised can" ||
		x.Maker != "KM" ||
		x.ExpiresAt.IsZero() {
		t.Errorf("the bottle is %+v", x)
	}
	if len(x.Recipe) < 2 || len(x.Cautions) == 0 || !strings.Contains(x.RestsOn, "Bassett") {
		t.Errorf("recipe %v, cautions %v, rests on %q", x.Recipe, x.Cautions, x.RestsOn)
	}
	if len(x.From) != 1 || x.From[0].Bottle != stock || x.From[0].Lot != "L-0226" || left != 5000-x.From[0].Ml ||
		left >= 5000 {
		t.Errorf("made of %+v, and the stock has %g mL left", x.From, left)
	}

	// Sent again, also after a restart, it makes nothing new.
	s.once = newOnce()
	post(s, "/solutions/mix", form)
	if st := studioOf(t, s); len(st.Bottles) != 2 || st.Bottles[0].LeftMl != left {
		t.Errorf("sent again: %d bottles, %g mL of stock left", len(st.Bottles), st.Bottles[0].LeftMl)
	}

	page, w2 := get(t, s, bottlePath(x.ID))
	if w2.Code != http.StatusOK || len(page.all(".followed li")) != len(x.Recipe) ||
		!strings.Contains(page.text(".rows"), "L-0226") {
		t.Errorf("its page: status %d, %s", w2.Code, page.text("main"))
	}
	pdf := answerTo(s, request("GET", bottlePath(x.ID)+"/label.pdf", nil))
	if pdf.Code != http.StatusOK || !strings.HasPrefix(pdf.Body.String(), "%PDF-") {
		t.Errorf("the label: status %d, %q", pdf.Code, pdf.Header().Get("Content-Type"))
	}
}

func TestMakingIsRefusedWhenTheRecipeNoLongerHolds(t *testing.T) {
	s, _ := newServer(t)
	stock, _, _ := shelved(t, s)
	p, _ := get(t, s, "/solutions/mix?way=stock&stock="+stock+"&stock_temp_c=17&want=0.4+g%2FL&volume=1.5+L")
	form := p.form("#make form")
	// Meanwhile another drew nearly all of the stock.
	writeStudio(t, s, record.BottleDrawn{Bottle: stock, Ml: 4900})
	w := post(s, "/solutions/mix", form)
	again := see(t, w)
	if w.Code != http.StatusUnprocessableEntity || len(studioOf(t, s).Bottles) != 1 ||
		!strings.Contains(again.text(".notice.bad"), "there are only") {
		t.Errorf("status %d: %s", w.Code, again.text("main"))
	}
}

func TestABottleIsPutOnTheShelfDrawnCheckedAndEmptied(t *testing.T) {
	s, clock := newServer(t)
	p, _ := get(t, s, "/solutions/bottles/new")
	form := p.form("form.form")
	form.Set("substance", "Ca(OH)2")
	form.Set("volume_ml", "2500")
	form.Set("temp_c", "18")
	form.Set("strength_low", "")
	w := post(s, "/solutions/bottles", form)
	if said := see(t, w).text(".refusals"); !strings.Contains(said, "What it is is not chosen") {
		t.Errorf("a bottle whose kind nobody named: status %d: %s", w.Code, said)
	}
	form.Set("form", "saturated")
	w = post(s, "/solutions/bottles", form)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	b := studioOf(t, s).Bottles[0]
	limit, err := solution.LimeSolubility(18)
	if err != nil || b.Body.Substance != "calcium hydroxide" || b.Body.Strength == nil ||
		*b.Body.Strength != limit {
		t.Errorf("lime over its solid at 18 °C: %+v, want %+v", b.Body.Strength, limit)
	}
	path := bottlePath(b.Body.ID)

	page, _ := get(t, s, path)
	draw := page.form("form[action=" + path + "/draw]")
	for typed, says := range map[string]string{"": "Please enter", "a lot": "a lot", "-5": "−5", "1e9": "1000000000"} {
		draw.Set("ml", typed)
		w := post(s, path+"/draw", draw)
		if said := see(t, w).text("#draw-ml-refusal"); w.Code != http.StatusUnprocessableEntity ||
			!strings.Contains(said, says) {
			t.Errorf("drawing %q: status %d, %q", typed, w.Code, said)
		}
	}
	draw.Set("ml", "400")
	post(s, path+"/draw", draw)
	if left := studioOf(t, s).Bottles[0].LeftMl; left != 2100 {
		t.Errorf("%g mL are left, want 2100", left)
	}

	clock.forward(time.Hour)
	check := page.form("form[action=" + path + "/check]")
	if w := post(s, path+"/check", check); w.Code != http.StatusUnprocessableEntity ||
		see(t, w).text("#check-ph-refusal") == "" {
		t.Errorf("a check of nothing: status %d", w.Code)
	}
	check.Set("how", "titrated")
	check.Set("strength", "1,55")
	check.Set("strength_low", "1.50")
	check.Set("strength_high", "1.60")
	if w := post(s, path+"/check", check); w.Code != http.StatusSeeOther {
		t.Errorf("a titration: status %d, %s", w.Code, see(t, w).text(".refusals"))
	}
	mix, _ := get(t, s, "/solutions/mix?stock="+b.Body.ID)
	if mix.text("#mix-by_titration") != "" || len(mix.all("input#mix-by_titration")) != 1 ||
		!strings.Contains(mix.text("#recipe"), "titrated") {
		t.Errorf("the recipe does not take the titrated strength: %s", mix.text("#recipe"))
	}

	empty := page.form("form[action=" + path + "/empty]")
	if w := post(s, path+"/empty", empty); w.Code == http.StatusSeeOther {
		t.Error("a bottle is emptied without a word on where the rest went")
	}
	page, _ = get(t, s, path) // emptying is a step that must know of the others
	empty = page.form("form[action=" + path + "/empty]")
	empty.Set("reason", "cloudy")
	empty.Set("to", "neutralised")
	if w := post(s, path+"/empty", empty); w.Code != http.StatusSeeOther || studioOf(t, s).Bottles[0].Emptied == nil {
		t.Errorf("emptying: status %d", w.Code)
	}
	if w := post(s, path+"/draw", draw); w.Code != http.StatusSeeOther {
		t.Errorf("a drawing that arrived once already: status %d", w.Code)
	}
	draw.Set("key", record.NewID(clock.now()))
	draw.Set("ml", "10")
	if w := post(s, path+"/draw", draw); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("drawing from an empty bottle: status %d", w.Code)
	}
}

func TestABottleIsCorrected(t *testing.T) {
	s, _ := newServer(t)
	stock, _, _ := shelved(t, s)
	p, w := get(t, s, bottlePath(stock)+"/correct")
	form := p.form("form.form")
	if w.Code != http.StatusOK || form.Get("lot") != "L-0226" || form.Get("corrects") == "" {
		t.Fatalf("status %d, the form holds %v", w.Code, form)
	}
	form.Set("lot", "L-0227")
	form.Set("volume_ml", "-1")
	if w := post(s, "/solutions/bottles", form); w.Code != http.StatusUnprocessableEntity ||
		see(t, w).text("#bottle-volume_ml-refusal") == "" {
		t.Errorf("a negative volume: status %d", w.Code)
	}
	form.Set("volume_ml", "4500")
	if w := post(s, "/solutions/bottles", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	st := studioOf(t, s)
	if len(st.Bottles) != 1 || st.Bottles[0].Body.Lot != "L-0227" || st.Bottles[0].LeftMl != 4500 {
		t.Errorf("corrected: %+v", st.Bottles)
	}
}

func TestAnUnknownBottleIsNotThere(t *testing.T) {
	s, _ := newServer(t)
	id := record.NewID(s.now())
	for _, path := range []string{bottlePath(id), bottlePath(id) + "/label.pdf", "/solutions/labels.pdf?bottle=" + id, bottlePath(id) + "/correct"} {
		if w := answerTo(s, request("GET", path, nil)); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d, want 404", path, w.Code)
		}
	}
	if w := answerTo(s, request("GET", "/solutions/labels.pdf", nil)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("labels of nothing: status %d", w.Code)
	}
}

// 0.4 g/L of calcium hydroxide, 74.093 g/mol by the abridged standard atomic
// weights of IUPAC (2021), are 5.399 mmol/L and 0.04 % w/v.
func TestStrengthsAreConverted(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/solutions/strength?substance=Ca(OH)2&strength=0%2C4+g%2FL")
	rows := p.text(".units tr")
	if !containsAll(rows, "g/L 0.4", "mmol/L 5.399", "% w/v 0.04", "mg/L 400") {
		t.Errorf("the table is %q", rows)
	}
	p, _ = get(t, s, "/solutions/strength?substance=unobtainium&strength=5+%25")
	if p.text("#strength-substance-refusal") == "" || p.text("#strength-strength-refusal") == "" {
		t.Errorf("neither is refused at its field: %s", p.text(".refusals"))
	}
}

// 5 g of NaBH4 (37.833 g/mol) give 0.5286 mol of hydrogen, at 20 °C and 1 atm
// 24.055 L/mol (ideal gas): 12.7 L.
func TestHydrogenOfABath(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/solutions/hydrogen")
	if got := p.text(".answers"); !strings.Contains(got, "13 L") || !strings.Contains(p.text(".caution"), "no flame") {
		t.Errorf("the answers are %q", got)
	}
	p, _ = get(
		t,
		s,
		"/solutions/hydrogen?substance=sodium+borohydride&strength=1+%25+w%2Fv&volume=5+L&ph=9&temp_c=20&room_m3=0.5",
	)
	if got := p.text(".answers"); !strings.Contains(got, "an hour") {
		t.Errorf("a cupboard needs air: %q", got)
	}
	for query, field := range map[string]string{"volume=5": "#hydrogen-volume-refusal", "ph=sour": "#hydrogen-ph-refusal", "strength=-1": "#hydrogen-strength-refusal"} {
		p, _ := get(t, s, "/solutions/hydrogen?"+query)
		if p.text(field) == "" {
			t.Errorf("%s is not refused at its field: %s", query, p.text(".refusals"))
		}
	}
}

// 400 x 300 mm to 15 mm are 1.8 L.
func TestLiquidForATray(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(
		t,
		s,
		"/solutions/tray?length_mm=400&width_mm=300&depth_mm=15&sheet_width_mm=340&sheet_height_mm=262&sheet_g=40",
	)
	if got := p.text(".answers"); !strings.Contains(got, "1800 mL") && !strings.Contains(got, "1.8 L") {
		t.Errorf("the answer is %q", got)
	}
	if !strings.Contains(p.text(".notice.warn"), "50 to 100 mL per g") {
		t.Errorf("45 mL a gram is not remarked on: %q", p.text(".notice.warn"))
	}
	p, _ = get(t, s, "/solutions/tray?length_mm=200&width_mm=300&depth_mm=15&sheet_width_mm=340&sheet_height_mm=262")
	if !strings.Contains(p.text(".refusals"), "does not lie flat") {
		t.Errorf("a sheet larger than its tray: %q", p.text("main"))
	}
}

func TestWhatMustNotMeet(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/solutions/together?first=sodium+borohydride&second=acetic+acid")
	if !strings.Contains(p.text(".notice.bad"), "Must not meet") {
		t.Errorf("%q", p.text("#answer"))
	}
	p, _ = get(t, s, "/solutions/together?first=sodium+borohydride&things=a+closed+vessel&things=nonsense")
	if p.text(".refusals") == "" {
		t.Error("a thing that there is not is passed over")
	}
}

// What must not meet is refused where it is drawn, and where it is kept.
func TestDrawingAndKeepingAsk(t *testing.T) {
	s, _ := newServer(t)
	bottle := record.Bottle{
		ID: record.NewID(s.now()), Name: "peroxide", Substance: "hydrogen peroxide", Form: record.FormSolution,
		Strength: &record.Range{Low: 30, Best: 30, High: 30}, Unit: "% w/w", VolumeMl: 500, MadeAt: s.now(),
	}
	appendTo(t, s, record.StudioID, bottle)
	p, _ := get(t, s, bottlePath(bottle.ID))
	if got := p.text("main"); !containsAll(got, "H318", "a closed vessel must not meet", "Vented cap") {
		t.Errorf("the bottle: %q", got)
	}
	form := p.form("form[action=" + bottlePath(bottle.ID) + "/draw]")
	form.Set("by", "KM")
	form.Set("ml", "5")
	form.Set("into", "acetone")
	w := answerTo(s, request("POST", bottlePath(bottle.ID)+"/draw", form))
	if got := see(t, w).text("main"); !strings.Contains(got, "explosive peroxides") {
		t.Errorf("drawn into acetone: %d, %q", w.Code, got)
	}
	p, _ = get(t, s, bottlePath(bottle.ID)+"/correct")
	form = p.form("form[action=/solutions/bottles]")
	form.Set("by", "KM")
	form.Set("vessel", "a closed vessel")
	w = answerTo(s, request("POST", "/solutions/bottles", form))
	if got := see(t, w).text("main"); !strings.Contains(got, "oxygen builds up pressure") {
		t.Errorf("kept closed: %d, %q", w.Code, got)
	}
}

// The vapour of the wet area that the page begins with, and what cannot be.
func TestSolventVapourPage(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/solutions/vapour")
	if got := p.text("#answer"); !containsAll(got, "Share of the lower explosive limit", "Flash point", "heavier than air") {
		t.Errorf("the page: %q", got)
	}
	p, _ = get(t, s, "/solutions/vapour?substance=ethanol&area_m2=-1")
	if p.text(".refusals") == "" {
		t.Error("an area below 0 is answered")
	}
}

func TestLimeInTheTray(t *testing.T) {
	s, _ := newServer(t)
	p, _ := get(t, s, "/solutions/lime")
	if len(p.all("svg.curve")) != 2 || len(p.all("tbody tr")) < 4 ||
		!strings.Contains(p.text("figcaption"), "factor of two") {
		t.Errorf("%d plots, %d rows", len(p.all("svg.curve")), len(p.all("tbody tr")))
	}
	for query, field := range map[string]string{"depth_mm=0": "depth_mm", "temp_c=90": "temp_c", "hours=x": "hours", "lime_g_l=50": "lime_g_l"} {
		p, w := get(t, s, "/solutions/lime?"+query)
		if w.Code != http.StatusOK || p.text("#lime-"+field+"-refusal") == "" || len(p.all("svg.curve")) != 0 {
			t.Errorf("%s: status %d, %q", query, w.Code, p.text(".refusals"))
		}
	}
}

// The point of the plot lies on its axes: at 20 °C four tenths of the way.
func TestTheStockOfTodayLiesOnTheCurve(t *testing.T) {
	at := 20.0
	c, err := account.LimeSolubility(&at)
	if err != nil {
		t.Fatal(err)
	}
	want, err := solution.LimeSolubility(20)
	if err != nil {
		t.Fatal(err)
	}
	p := plotOf(c)
	pt := p.Here[0]
	if pt.X != p.Left+0.4*(p.Right-p.Left) {
		t.Errorf("it lies at x %g", pt.X)
	}
	if y := p.Y.From + (p.Bottom-pt.Y)/(p.Bottom-p.Top)*(p.Y.To-p.Y.From); math.Abs(y-want.Best) > 1e-9 {
		t.Errorf("it lies at %g g/L, want %g", y, want.Best)
	}
	if len(p.Dots) < 10 {
		t.Errorf("%d published values are marked", len(p.Dots))
	}
}

func BenchmarkMixPage(b *testing.B) {
	s := benchServer(b)
	h := s.Handler()
	for b.Loop() {
		h.ServeHTTP(httptest.NewRecorder(), request("GET", "/solutions/mix?way=stock", nil))
	}
}

// The calculations with waters answer as they open, and refuse at the field.
func TestWaterSums(t *testing.T) {
	s, _ := newServer(t)
	for path, wrong := range map[string]string{
		"/solutions/rinse":     "fresh_us=50&rinse_us=30",
		"/solutions/match":     "pair=CO2%2BCa(HCO3)2&ph=10&us=500",
		"/solutions/carbonate": "co2_atm=9",
		"/solutions/chelate":   "ph=13",
	} {
		p, w := get(t, s, path)
		if w.Code != http.StatusOK || len(p.all("#answer .answers dd")) < 2 || len(p.all(".refusals")) != 0 {
			t.Errorf("%s: status %d, %d answers", path, w.Code, len(p.all("#answer .answers dd")))
		}
		p, w = get(t, s, path+"?"+wrong)
		if w.Code != http.StatusOK || len(p.all(".refusals")) != 1 || len(p.all("#answer .answers")) != 0 {
			t.Errorf("%s?%s: status %d, %d refusals", path, wrong, w.Code, len(p.all(".refusals")))
		}
	}
}
