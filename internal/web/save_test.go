package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// testActs serves two acts on a case: a note, which commutes, and an identity,
// which does not. Its page says in plain text what a real page would show.
func testActs(s *Server) http.Handler {
	mux := http.NewServeMux()
	page := func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		f := s.form(r, "act", c.LastSeq, nil)
		w.WriteHeader(refusedOf(r.Context()).status())
		fmt.Fprintf(w, "seq=%d text=%q", f.Seq, f.Value("text"))
		for _, x := range f.Refused {
			fmt.Fprintf(w, "\n%s: %s", x.Field, x.Say)
		}
		if f.Clash != nil {
			fmt.Fprintf(w, "\nclash with %d", len(f.Clash.Lines))
		}
		return nil
	}
	act := func(body func(*Form) record.Body) http.Handler {
		return s.doCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
			f, err := s.sent(w, r, "act")
			if err != nil {
				return err
			}
			return s.save(
				w,
				r,
				f,
				Saving{Case: c.ID, Items: items(body(f)), To: "/there", Said: "Saved: it."},
				s.inCase(page),
			)
		})
	}
	mux.Handle("POST /cases/{case}/note", act(func(f *Form) record.Body {
		return record.Note{Text: f.Text("text"), Nature: record.Nature(f.Line("nature"))}
	}))
	mux.Handle("POST /cases/{case}/identity", act(func(f *Form) record.Body {
		h := f.MaybeNumber("height_mm", "the height")
		return record.Identity{Title: f.Line("text"), HeightMm: h}
	}))
	mux.Handle("POST /undo", s.do(s.undo))
	return mux
}

// noteForm is a note as a page would send it.
func noteForm(s *Server, seq int64, text string) url.Values {
	return url.Values{
		"key":    {record.NewID(s.now())},
		"seq":    {strconv.FormatInt(seq, 10)},
		"by":     {"KM"},
		"text":   {text},
		"nature": {"observed"},
	}
}

func entriesOf(t *testing.T, s *Server, id record.CaseID) int {
	t.Helper()
	c, err := s.store.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return len(c.Log)
}

func TestSaveGoesOnWithOneLine(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	w := answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/note", noteForm(s, 1, "A pencilled price.")))
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/there" {
		t.Fatalf("status %d to %q, want 303 to /there\n%s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if n := entriesOf(t, s, id); n != 2 {
		t.Errorf("the journal has %d entries, want 2", n)
	}
	r := request("GET", "/", nil, cookies(w.Result().Cookies()))
	flash := flashOf(r)
	if flash == nil || flash.Said != "Saved: it." || flash.Undo == "" {
		t.Errorf("the line on the next page is %+v, want what was saved and its undo", flash)
	}
	if by := writerOf(r); by != "KM" {
		t.Errorf("the device writes as %q, want KM", by)
	}
}

func TestAFormActsOnce(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	acts, form := testActs(s), noteForm(s, 1, "Once.")
	var wg sync.WaitGroup
	codes := make([]int, 8)
	for i := range codes {
		wg.Go(func() {
			codes[i] = answerWith(acts, request("POST", "/cases/"+string(id)+"/note", form)).Code
		})
	}
	wg.Wait()
	for i, c := range codes {
		if c != http.StatusSeeOther {
			t.Errorf("arrival %d: status %d, want 303", i, c)
		}
	}
	if n := entriesOf(t, s, id); n != 2 {
		t.Errorf("the journal has %d entries, want 2: the form acted %d times", n, n-1)
	}
}

func TestAFormActsOnceAcrossARestart(t *testing.T) {
	s, clock := newServer(t)
	id := openCase(t, s)
	pressed := clock.now().Format(time.RFC3339Nano)
	form := noteForm(s, 1, "Written before the lights went out.")
	form.Set("pressed", pressed)
	answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/note", form))

	// Somebody else writes meanwhile; the server forgets all it remembered.
	answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/note", noteForm(s, 2, "Another.")))
	s.once = newOnce()
	clock.forward(20 * time.Minute)
	w := answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/note", form))
	if w.Code != http.StatusSeeOther {
		t.Errorf("sent again: status %d, want 303", w.Code)
	}
	if n := entriesOf(t, s, id); n != 3 {
		t.Errorf("the journal has %d entries, want 3", n)
	}

	// A different note from the same page is another one.
	other := noteForm(s, 1, "A second thought.")
	answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/note", other))
	if n := entriesOf(t, s, id); n != 4 {
		t.Errorf("the journal has %d entries, want 4", n)
	}
}

// Only the key makes a form the same one: a tablet's outbox and a page left open
// send what reads the same and was said twice.
func TestTheSameTextTwiceIsTwoEntries(t *testing.T) {
	s, clock := newServer(t)
	id := openCase(t, s)
	path := "/cases/" + string(id) + "/note"
	for range 2 {
		answerWith(testActs(s), request("POST", path, noteForm(s, 1, "pH 6.1, as before.")))
		clock.forward(9 * time.Minute)
	}
	if n := entriesOf(t, s, id); n != 3 {
		t.Errorf("the journal has %d entries, want 3: a reading was swallowed", n)
	}
}

// A page that comes back with its old key and other words is told, and its next
// press writes them.
func TestAKeyWithOtherWordsIsToldAndSavedAtTheNextPress(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	path := "/cases/" + string(id) + "/note"
	form := noteForm(s, 1, "First.")
	answerWith(testActs(s), request("POST", path, form))
	form.Set("text", "Second.")
	var back string
	mux := http.NewServeMux()
	mux.Handle("POST /cases/{case}/note", s.doCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		f, err := s.sent(w, r, "act")
		if err != nil {
			return err
		}
		body := record.Note{Text: f.Text("text"), Nature: "observed"}
		return s.save(w, r, f, Saving{Case: c.ID, Items: items(body), To: "/there"},
			func(w http.ResponseWriter, r *http.Request) error {
				f := refusedOf(r.Context()).form
				back = f.Key
				w.WriteHeader(refusedOf(r.Context()).status())
				fmt.Fprint(w, f.Refused[0].Say)
				return nil
			})
	}))
	w := answerWith(mux, request("POST", path, form))
	if w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "entry 2") {
		t.Fatalf("status %d, want 409 and the entry of before:\n%s", w.Code, w.Body)
	}
	form.Set("key", back)
	if w := answerWith(mux, request("POST", path, form)); w.Code != http.StatusSeeOther {
		t.Errorf("pressed once more: status %d\n%s", w.Code, w.Body)
	}
	if n := entriesOf(t, s, id); n != 3 {
		t.Errorf("the journal has %d entries, want 3", n)
	}
}

func TestAFormFromTheFutureIsRefused(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	for _, seq := range []int64{math.MaxInt64, math.MinInt64, -1} {
		w := answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/note", noteForm(s, seq, "x")))
		if w.Code != http.StatusUnprocessableEntity {
			t.Errorf("seq %d: status %d, want 422\n%s", seq, w.Code, w.Body)
		}
	}
}

// What no page of this bench sends is refused with a sentence, and nothing of it
// is written.
func TestRubbishInAFormIsRefused(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	for what, change := range map[string]func(url.Values){
		"an entry to correct that is none": func(f url.Values) { f.Set("corrects", "the third") },
		"a negative one":                   func(f url.Values) { f.Set("corrects", "-1") },
		"too many fields": func(f url.Values) {
			for i := range 20_000 {
				f.Set(fmt.Sprint("f", i), "1")
			}
		},
	} {
		form := noteForm(s, 1, "x")
		change(form)
		w := answerTo(s, request("POST", casePath(id, "note"), form))
		if w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d, want 422\n%.300s", what, w.Code, w.Body)
		}
	}
	if n := entriesOf(t, s, id); n != 1 {
		t.Errorf("the journal has %d entries, want 1", n)
	}
	f := s.formOf(httptest.NewRequest("POST", "/", nil), "x", url.Values{"at": {"0001-01-01T00:00"}})
	if at := f.Time("at", "the time"); len(f.Refused) != 1 {
		t.Errorf("a time of the year 1 is read as %v", at)
	}
}

func TestADeviceIsToldWhatWasTaken(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	form := noteForm(s, 1, "Sent before the network went.")
	answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/note", form))
	s.once = newOnce() // as after a restart
	for key, want := range map[string]int{form.Get("key"): http.StatusNoContent, record.NewID(s.now()): http.StatusNotFound} {
		if w := answerTo(s, request("GET", "/taken/"+key, nil)); w.Code != want {
			t.Errorf("status %d, want %d", w.Code, want)
		}
	}
}

func TestIdentifiersFollowFromTheForm(t *testing.T) {
	key := record.NewID(time.Date(2031, 5, 9, 0, 0, 0, 0, time.UTC))
	f := &Form{Key: key}
	first, again, other := f.ID(0), f.ID(0), f.ID(1)
	if first != again || first == other {
		t.Errorf("IDs %s, %s, %s: the same number must give the same, another another", first, again, other)
	}
	for n := range 50 {
		if !record.IsID(f.ID(n)) {
			t.Errorf("%q has not the form of an identifier", f.ID(n))
		}
	}
	later := &Form{Key: record.NewID(time.Date(2031, 5, 10, 0, 0, 0, 0, time.UTC))}
	if later.ID(0) < f.ID(0) {
		t.Errorf("an ID made a day later (%s) sorts before %s", later.ID(0), f.ID(0))
	}
}

func TestRefusalsComeBackWithWhatWasTyped(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	form := noteForm(s, 1, "")
	form.Set("height_mm", "twelve")
	w := answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/identity", form))
	body := w.Body.String()
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("status %d, want 422", w.Code)
	}
	for _, want := range []string{`height_mm: The height cannot be "twelve"`, "title: "} {
		if !strings.Contains(body, want) {
			t.Errorf("the page lacks %q:\n%s", want, body)
		}
	}
	if n := entriesOf(t, s, id); n != 1 {
		t.Errorf("the journal has %d entries, want 1", n)
	}
	// Mended, the same form (same key) goes through.
	form.Set("text", "The Windlass Monthly")
	form.Set("height_mm", "262,5")
	if w := answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/identity", form)); w.Code != http.StatusSeeOther {
		t.Errorf("mended: status %d, want 303\n%s", w.Code, w.Body)
	}
	c, err := s.store.Case(t.Context(), id)
	if err != nil || c.Identity == nil || *c.Identity.HeightMm != 262.5 {
		t.Errorf("a decimal comma is a point: %+v, %v", c.Identity, err)
	}
}

func TestNobodyWrites(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	for _, by := range []string{"", "K M", "<b>", "TOOLONGINITIALS"} {
		form := noteForm(s, 1, "x")
		form.Set("by", by)
		w := answerWith(testActs(s), request("POST", "/cases/"+string(id)+"/note", form))
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "by: ") {
			t.Errorf("by %q: status %d\n%s", by, w.Code, w.Body)
		}
	}
}

func TestClashShowsWhatOthersWrote(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	path := "/cases/" + string(id)
	answerWith(testActs(s), request("POST", path+"/note", noteForm(s, 1, "Another was quicker.")))

	// A note commutes: it goes in beside the other.
	if w := answerWith(testActs(s), request("POST", path+"/note", noteForm(s, 1, "Mine."))); w.Code != http.StatusSeeOther {
		t.Errorf("a note: status %d, want 303", w.Code)
	}
	form := noteForm(s, 1, "The Windlass Monthly, no. 31")
	w := answerWith(testActs(s), request("POST", path+"/identity", form))
	if w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "clash with 2") ||
		!strings.Contains(w.Body.String(), "no. 31") {
		t.Fatalf("status %d, want 409 with both entries and what was typed\n%s", w.Code, w.Body)
	}
	if !strings.Contains(w.Body.String(), "seq=3") {
		t.Errorf("the form must now know the others' entries: %s", w.Body)
	}
	form.Set("seq", "3")
	if w := answerWith(testActs(s), request("POST", path+"/identity", form)); w.Code != http.StatusSeeOther {
		t.Errorf("sent by one who has seen them: status %d, want 303", w.Code)
	}
}

func TestUndoWithdraws(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	acts := testActs(s)
	answerWith(acts, request("POST", "/cases/"+string(id)+"/note", noteForm(s, 1, "By mistake.")))
	answerWith(acts, request("POST", "/cases/"+string(id)+"/note", noteForm(s, 2, "Another's, later.")))
	c, err := s.store.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	undo := url.Values{"act": {c.Log[1].Key}, "by": {"KM"}, "back": {"/cases/" + string(id) + "/bench"}}
	w := answerWith(acts, request("POST", "/undo", undo))
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/cases/"+string(id)+"/bench" {
		t.Fatalf("status %d to %q\n%s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if c, err = s.store.Case(t.Context(), id); err != nil {
		t.Fatal(err)
	}
	if len(c.Notes) != 1 || c.Notes[0].Body.Text != "Another's, later." || c.Log[1].WithdrawnBy != 4 {
		t.Errorf("after undoing: notes %+v, entry 2 withdrawn by %d", c.Notes, c.Log[1].WithdrawnBy)
	}
	if w := answerWith(acts, request("POST", "/undo", undo)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("undone twice: status %d, want 422", w.Code)
	}
	for _, bad := range []string{"", "x", "0123456789abcdef"} {
		undo.Set("act", bad)
		if w := answerWith(acts, request("POST", "/undo", undo)); w.Code != http.StatusNotFound {
			t.Errorf("undo of %q: status %d, want 404", bad, w.Code)
		}
	}
}

func TestBackStaysHere(t *testing.T) {
	for path, want := range map[string]string{
		"/cases/x": "/cases/x", "/cases/x/photos?stage=before&sheet=3#p7": "/cases/x/photos?stage=before&sheet=3#p7",
		"//evil.example": "/", "https://evil.example": "/", `/\evil.example`: "/", "": "/", "cases": "/",
		`/./\evil.example`: "/", "/\t/evil.example": "/", "/\n/evil.example": "/", "/%09/evil.example": "/",
		"/%5Cevil.example": "/", "/.//evil.example": "/evil.example", "/x/..//evil.example": "/evil.example",
		"javascript:alert(1)": "/", "/%zz": "/", "\x00/": "/", "///evil.example": "/evil.example", "?x": "/",
	} {
		if got := backOf(path); got != want {
			t.Errorf("back to %q goes to %q, want %q", path, got, want)
		}
	}
}

// The page that asks for a reason links back to this bench alone, also when it is
// shown again because the reason is missing.
func TestWithdrawingLeadsBackHere(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	path := casePath(id, "withdraw")
	foreign := "https://evil.example/x"
	form := url.Values{"key": {record.NewID(s.now())}, "seq": {"1"}, "by": {"KM"}, "entry": {"1"}, "back": {foreign}}
	for what, w := range map[string]*httptest.ResponseRecorder{
		"asked": answerTo(s, request("GET", path+"?entry=1&back="+url.QueryEscape(foreign), nil)),
		"again": answerTo(s, request("POST", path, form)),
	} {
		if body := w.Body.String(); strings.Contains(body, "evil.example") || !strings.Contains(body, casePath(id, "log")) {
			t.Errorf("%s: status %d, and the page leads elsewhere", what, w.Code)
		}
	}
	ours := casePath(id, "bench")
	w := answerTo(s, request("GET", path+"?entry=1&back="+url.QueryEscape(ours), nil))
	if !strings.Contains(w.Body.String(), `href="`+ours+`">Leave it`) {
		t.Error("a page of this bench is not led back to")
	}
}

func TestTheOutboxIsToldWhereToGo(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	w := answerWith(
		testActs(s),
		request("POST", "/cases/"+string(id)+"/note", noteForm(s, 1, "Sent later."), header("X-Outbox", "1")),
	)
	var said struct {
		To, Said    string
		First, Last int64
	}
	if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || w.Code != http.StatusOK {
		t.Fatalf("status %d: %v\n%s", w.Code, err, w.Body)
	}
	if said.To != "/there" || said.First != 2 || said.Last != 2 {
		t.Errorf("it was told %+v", said)
	}
}

func TestTheMomentOfThePress(t *testing.T) {
	s, clock := newServer(t)
	for typed, want := range map[string]time.Time{
		clock.now().Add(-20 * time.Minute).Format(time.RFC3339): clock.now().Add(-20 * time.Minute),
		clock.now().Add(time.Hour).Format(time.RFC3339):         clock.now(), // a clock that is ahead says nothing
		"1970-01-01T00:00:00Z":                                  clock.now(),
		"":                                                      clock.now(),
		"yesterday":                                             clock.now(),
	} {
		f := s.formOf(httptest.NewRequest("POST", "/", nil), "x", url.Values{"pressed": {typed}})
		if !f.At().Equal(want) {
			t.Errorf("pressed %q: happened at %s, want %s", typed, f.At(), want)
		}
	}
}

func TestNumbersAsPeopleTypeThem(t *testing.T) {
	for typed, want := range map[string]float64{"7.9": 7.9, "7,9": 7.9, " 7.9 ": 7.9, "−3": -3, "-3": -3, "1 200": 1200, "1e3": 1000, "0,4": 0.4} {
		f := &Form{}
		f.Set("v", typed)
		if got := f.Number("v", "the value"); got != want || len(f.Refused) > 0 {
			t.Errorf("%q is read as %g (%v), want %g", typed, got, f.Refused, want)
		}
	}
	for _, typed := range []string{"", "twelve", "1.2.3", "1,2,3", "1,200.5", "NaN", "Inf", "0x10", "1e999", "--1", "5 mL"} {
		f := &Form{}
		f.Set("v", typed)
		f.Number("v", "the value")
		if len(f.Refused) != 1 {
			t.Errorf("%q: %d sentences, want one", typed, len(f.Refused))
		}
	}
	for typed, want := range map[string]int64{"120": 12000, "120.5": 12050, "120,50": 12050, "": 0, "0.01": 1} {
		f := &Form{}
		f.Set("v", typed)
		if got := f.Money("v", "the value"); got != want || len(f.Refused) > 0 {
			t.Errorf("the amount %q is read as %d (%v), want %d", typed, got, f.Refused, want)
		}
	}
	f := &Form{}
	f.Set("v", "1.005")
	if f.Money("v", "the value"); len(f.Refused) != 1 {
		t.Error("an amount with a tenth of the smallest coin is not refused")
	}
}

func TestTheZoneIsOneThatOthersKnow(t *testing.T) {
	s, _ := newServer(t)
	s.zone = time.Local
	if name := s.zoneName(); name == "Local" {
		t.Error("the record would say Local, which is another zone elsewhere")
	}
	s.zone = time.FixedZone("Europe/Vienna", 3600)
	if name := s.zoneName(); name != "Europe/Vienna" {
		t.Errorf("the zone is %q, want its name", name)
	}
}

func TestASavingOfNothingIsRefused(t *testing.T) {
	s, _ := newServer(t)
	f := &Form{Name: "act", Key: record.NewID(s.now()), By: "KM"}
	w := httptest.NewRecorder()
	var shown *refused
	err := s.save(
		w,
		request("POST", "/x", url.Values{}),
		f,
		Saving{To: "/there"},
		func(w http.ResponseWriter, r *http.Request) error {
			shown = refusedOf(r.Context())
			return nil
		},
	)
	if err != nil || shown == nil || len(shown.form.Refused) != 1 {
		t.Errorf("got %v and %+v, want the page again with one sentence", err, shown)
	}
}
