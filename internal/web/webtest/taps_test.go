package webtest

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/demo"
	"benchleaf/internal/record"
)

// act does something and holds what it took against the most that it may take.
func (p *tab) act(name string, most hand, do func()) {
	p.t.Helper()
	before := *p.hand
	do()
	took := hand{p.hand.taps - before.taps, p.hand.fields - before.fields}
	p.t.Logf("%s: %d taps, %d fields; at most %d, %d", name, took.taps, took.fields, most.taps, most.fields)
	if took.taps > most.taps || took.fields > most.fields {
		p.t.Errorf("%s: %s took %d taps and %d fields, want at most %d and %d",
			p.size.name, name, took.taps, took.fields, most.taps, most.fields)
	}
}

// pressAt presses a button or link by its place and waits for the page that follows.
func (p *tab) pressAt(selector string) {
	p.t.Helper()
	p.run("window.__before = true")
	at := "document.querySelector(" + quote(selector) + ")"
	p.mustFind(selector, at, "button, a[href]")
	p.click(at)
	p.until("another page comes after "+selector, "!window.__before")
	p.settle()
}

// keys enters a number by the large keys on the page.
func (p *tab) keys(figures string) {
	p.t.Helper()
	for _, f := range figures {
		p.click(`Array.from(document.querySelectorAll(".keypad button")).find((b) => b.textContent === ` +
			quote(string(f)) + ")")
	}
}

// evening is the demonstration's case in the middle of its wet evening.
func (b *bench) evening() (id record.CaseID, base string) {
	b.t.Helper()
	if err := demo.Fill(b.t.Context(), b.store, time.Now()); err != nil {
		b.t.Fatal(err)
	}
	list, err := b.store.List(b.t.Context(), storeAll)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, c := range list {
		if c.State == "in treatment" {
			return c.ID, "/cases/" + string(c.ID)
		}
	}
	b.t.Fatal("no case of the demonstration is in treatment")
	return id, base
}

// freshHydride puts a bottle of the bleach on the demonstration's shelf, whose own
// was drawn empty, and returns its ID.
func (b *bench) freshHydride() string {
	b.t.Helper()
	st, err := b.store.Studio(b.t.Context())
	if err != nil {
		b.t.Fatal(err)
	}
	fresh := record.Bottle{
		ID: record.NewID(time.Now()), Name: "sodium borohydride, fresh", Substance: "sodium borohydride", Form: "solution",
		Unit: "% w/v", Strength: &record.Range{Low: 0.49, Best: 0.5, High: 0.51}, VolumeMl: 1000, MadeAt: time.Now(),
	}
	if _, err := b.store.Append(b.t.Context(), record.Draft{
		Case: record.StudioID, Expect: st.LastSeq, By: "KM", Zone: "UTC", Items: []record.Item{{Body: fresh}},
	}); err != nil {
		b.t.Fatal(err)
	}
	return fresh.ID
}

// runOf is the address of the last run of an operation that is under way.
func (b *bench) runOf(id record.CaseID, operation string) string {
	b.t.Helper()
	address := ""
	for _, run := range b.theCase(id).OpenRuns() {
		if run.Body.Operation == operation {
			address = "/cases/" + string(id) + "/runs/" + run.Body.ID
		}
	}
	if address == "" {
		b.t.Fatalf("no %s is under way", operation)
	}
	return address
}

// The acts of an evening at the bench. What they may take is what they took when
// they were first tried by hand on this demonstration, beside a notebook.
func TestTapsOfAnEvening(t *testing.T) {
	b := newBench(t)
	id, base := b.evening()
	b.freshHydride()
	p := b.open(tablet, "/")
	p.as("KM")
	bench := func() { p.goTo(base + "/bench") }

	bench()
	p.act("planned bath, two sheets", hand{2, 0}, func() {
		p.pressAt(`#then a.act[href*="operation=wash"]`)
		p.press("Start now")
	})
	p.see("has started")
	wash := b.runOf(id, "wash")
	p.act("pH of the bath", hand{5, 0}, func() {
		p.pressAt(`a[href="` + wash + `/reading?quantity=bath-ph"]`)
		p.keys("7.9")
		p.press("Record it")
	})
	bench()
	p.act("conductivity of the bath", hand{5, 0}, func() {
		p.pressAt(`a[href="` + wash + `/reading?quantity=conductivity"]`)
		p.keys("118")
		p.press("Record it")
	})
	bench()
	p.act("end of a bath", hand{2, 0}, func() {
		p.pressAt(`a[href="` + wash + `/end"]`)
		p.pressAt("#end-run_outcome button[value=done]")
	})
	if n := len(b.theCase(id).Run(wash[strings.LastIndex(wash, "/")+1:]).Ends); n != 1 {
		t.Errorf("the wash has %d ends, want 1", n)
	}

	p.act("rinse after a bath", hand{2, 0}, func() {
		p.pressAt(`#then a[href*="operation=rinse"][href*="sheets=8"]`)
		p.see("2000 mL") // what will be saved is shown
		p.press("Start now")
	})
	p.see("has started")

	mend := b.runOf(id, "mend-damp")
	p.act("mend", hand{3, 1}, func() {
		p.pressAt(`a[href*="/mend?run=` + mend[strings.LastIndex(mend, "/")+1:] + `"]`)
		p.choose("Mends", "Tear")
		p.fill("Length", "34")
		p.press("Log the mend")
	})
	bench()
	p.act("absorbents changed", hand{2, 1}, func() {
		p.pressAt(`a[href="` + b.runOf(id, "dry-absorbent") + `/absorbent"]`)
		p.fill("Water taken up", "1.2")
		p.press("Changed")
	})

	bench()
	p.act("borohydride past its gates", hand{9, 2}, func() {
		p.press("Start a run")
		p.choose("Operation", "reducing bleach")
		p.press("Go on")
		p.touch("None")
		p.choose("Sheets", "Sheet 1")
		p.chooseStarting("Bottle from the shelf", "sodium borohydride")
		p.fill("Volume", "500")
		p.press("Look once more")
		p.giveReasons()
		p.press("Start now")
	})
	p.see("has started")
}

// giveReasons gives one for each gate that is passed. They are not counted: there
// are as many as gates.
func (p *tab) giveReasons() {
	p.t.Helper()
	before := p.hand.fields
	for _, label := range eval[[]string](p, `Array.from(document.querySelectorAll("input[id^=run-override]"),
		(e) => e.labels[0].innerText.replace(/\s*needed$/, ""))`) {
		p.fill(label, "agreed on the telephone")
	}
	p.run(`for (const e of document.querySelectorAll("input[id^=run-who], input[id^=run-when]")) {
		if (e.value) continue;
		e.value = e.type === "text" ? "Owner (demo)" : e.max || new Date(Date.now() - 6e4).toISOString().slice(0, 16);
		e.dispatchEvent(new Event("input", {bubbles: true})) }`)
	p.hand.fields = before
}

// A new case from the door to its first bath.
func TestTapsOfANewCase(t *testing.T) {
	b := newBench(t)
	b.shelf()
	b.write(record.NewCaseID(time.Now()), record.Opened{Number: "1", Title: "Another"})
	for _, s := range []size{tablet, phone} {
		p := b.open(s, "/")
		p.as("KM")
		p.goTo("/")
		p.act("intake", hand{5, 3}, func() {
			p.press("New case")
			p.fill("Title", "The Windlass Monthly, no. 31")
			p.fill("Owner", "Owner (demo)")
			p.choose("Moisture", "dry")
			p.choose("Mould", "none seen")
			p.choose("Quarantine", "inspected, quarantine not needed")
			p.fill("Where it is put", "shelf 2")
			p.press("Take it in, then photograph")
		})
		id := regexp.MustCompile(`/cases/([0-9a-z]+)`).FindStringSubmatch(eval[string](p, "location.pathname"))[1]
		base := "/cases/" + id

		p.goTo(base + "/make-up")
		p.act("make-up", hand{1, 1}, func() {
			p.fill("Inner sheets", "9")
			p.press("Separate cover sheet")
		})
		p.see("36")
		p.act("a staple", hand{3, 1}, func() {
			p.touch("Map a staple")
			p.fill("From the head", "62")
			p.choose("Rust", "none")
			p.press("Map it")
		})
		p.goTo(base + "/condition/record")
		p.act("one damage", hand{4, 2}, func() {
			p.choose("Kind", "tear")
			p.choose("On sheets", "Sheet 2")
			p.fill("Length", "84")
			p.fill("Where, in words", "from the fore-edge")
			p.press("Record it")
		})
		p.goTo(base + "/tests")
		p.act("one ink test", hand{4, 1}, func() {
			p.fill("Colour or ink", "black text")
			p.choose("On sheet", "Sheet 2")
			p.choose("Liquid", "water")
			p.choose("Result", "0: none")
			p.press("Record the test")
		})
		p.goTo(base + "/bench")
		p.act("first bath", hand{12, 3}, func() {
			p.press("Start a run")
			p.choose("Operation", "washing")
			p.press("Go on")
			p.choose("Sheets", "Sheet 2")
			p.choose("Sheets", "Sheet 3")
			p.fill("Volume", "1500")
			p.choose("Water", "de-ionised can")
			p.press("Look once more")
			p.giveReasons()
			p.press("Start now")
		})
		p.see("has started")
	}
}
