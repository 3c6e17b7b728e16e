package webtest

import (
	"testing"
	"time"

	"benchleaf/internal/record"
)

// keptPages waits until pages of the bench are kept on the device.
func (p *tab) keptPages(paths ...string) {
	p.t.Helper()
	p.until("the service worker is there", `navigator.serviceWorker && navigator.serviceWorker.controller`)
	for _, path := range paths {
		p.until(path+" is kept", `(window.__kept ||= {}, caches.open("pages-1").then((c) => c.match(`+quote(path)+
			`)).then((r) => window.__kept[`+quote(path)+`] = !!r), window.__kept[`+quote(path)+`])`)
	}
}

// covered are the fields in sight that something of the page's messages lies over.
func (p *tab) covered() []string {
	p.t.Helper()
	return eval[[]string](p, `Array.from(document.querySelectorAll("input:not([type=hidden]), textarea, select, .keypad button"))
		.filter((e) => { const r = e.getBoundingClientRect(); const x = r.left + r.width / 2, y = r.top + r.height / 2;
			if (!r.width || y < 0 || y > innerHeight) return false;
			const top = document.elementFromPoint(x, y); return top && top.closest(".corner, .outbox, .fresh, .keptnote") })
		.map((e) => e.outerHTML.slice(0, 80))`)
}

// Twenty minutes alone, over five screens and ten entries: links work, the clocks run,
// nothing covers a field, and all arrives once, in order, at the times of the presses.
func TestTwentyMinutesAlone(t *testing.T) {
	b, w, id, base := onTime(t)
	p := b.open(tablet, "/")
	p.allow("net::")
	p.as("KM")
	p.skewed()
	p.goTo(base + "/bench")
	p.goTo(base + "/bench") // the worker has it from its second load
	wash, dry, mend := b.runOf(id, "wash"), b.runOf(id, "dry-absorbent"), b.runOf(id, "mend-damp")
	mendPage := base + "/mend?run=" + mend[len(base)+len("/runs/"):]
	p.keptPages(base+"/bench", base+"/examination", base+"/condition", base+"/condition/record",
		base+"/tests", wash+"/reading?quantity=bath-ph",
		wash+"/reading?quantity=conductivity", wash+"/end", dry+"/absorbent", mendPage)
	seq := b.theCase(id).LastSeq

	b.stop()
	alone := time.Now()
	p.press("Examination")
	p.see("No network: this page is as it was")
	p.touch("Write down") // an observation
	p.writeDown("Seen in the dark: the lamp went too.")
	p.see("Kept on this device, not sent yet")
	p.press("Bench")
	p.see("1 waiting to be sent")
	p.axe()
	p.screen("alone")

	p.skew("6")
	p.pressAt(`a[href="` + wash + `/reading?quantity=bath-ph"]`)
	p.keys("6.4")
	if list := p.covered(); len(list) > 0 {
		t.Errorf("a message lies over %q", list)
	}
	p.press("Record it")
	p.see("2 waiting to be sent")
	p.pressAt(`a[href="` + wash + `/reading?quantity=conductivity"]`)
	p.keys("180")
	p.press("Record it")
	p.see("3 waiting")
	p.skew("8")
	p.pressAt(`a[href="` + dry + `/absorbent"]`)
	p.fill("Water taken up", "2.2")
	p.press("Changed")
	p.see("4 waiting")
	p.pressAt(`a[href*="/mend?run="]`)
	p.choose("Mends", "Tear")
	p.fill("Length", "21")
	p.press("Log the mend")
	p.see("5 waiting")
	p.skew("10")
	p.pressAt(`a[href="` + wash + `/end"]`)
	p.pressAt("#end-run_outcome button[value=done]")
	p.see("6 waiting")
	p.see("not sent yet")
	p.touch("Write down")
	p.writeDown("The bath was still yellow.")
	p.see("7 waiting")
	p.writeDown("Sheet 4 lies on the rack.")
	p.see("8 waiting")
	p.press("Condition")
	p.press("Record in words")
	p.choose("Kind", "tear")
	p.choose("On sheets", "Sheet 4")
	p.fill("Length", "12")
	p.fill("Where, in words", "tail")
	p.touch("Record it")
	p.see("9 waiting")
	p.press("Bench")
	p.skew("19")
	p.touch("Write down")
	p.writeDown("The light came back.")
	p.see("10 waiting")

	// What was never opened says so, and what can be shown.
	p.goTo("/studio/log")
	p.see("This page is not on this device")
	p.see("bench")
	p.axe()
	p.goTo(base + "/bench")

	w.forward(20 * time.Minute)
	p.skew("20")
	b.start()
	p.see("Sent: 10 entries that waited")
	p.press("Show the page as it is now")
	c := b.theCase(id)
	want := map[record.Kind]int{"note": 4, "reading": 2, "absorbent-changed": 1, "mend": 1, "run-ended": 1, "damage": 1}
	got := map[record.Kind]int{}
	for _, l := range c.Log[seq:] {
		got[l.Kind]++
	}
	for kind, n := range want {
		if got[kind] != n {
			t.Errorf("%d entries of the kind %s arrived, want %d (all: %v)", got[kind], kind, n, got)
		}
	}
	if len(c.Log[seq:]) != 10 {
		t.Errorf("%d entries arrived, want 10: %v", len(c.Log[seq:]), got)
	}
	for _, x := range c.Readings[len(c.Readings)-2:] {
		if after := x.Body.At.Sub(alone); after < 5*time.Minute || after > 9*time.Minute {
			t.Errorf("a reading pressed 6 minutes into it stands %v after its beginning", after)
		}
	}
	if end := c.Run(wash[len(base)+len("/runs/"):]).Ended(); end.Sub(alone) < 9*time.Minute || end.Sub(alone) > 14*time.Minute {
		t.Errorf("the wash ended %v into it, want about 10 minutes", end.Sub(alone))
	}
}

// Two devices: each sees the other within a second; of two who end one run the first
// counts, and the second is told when it was and may keep a note.
func TestTwoAtOneBench(t *testing.T) {
	b, _, id, base := onTime(t)
	km, tv := b.open(tablet, "/"), b.open(phone, "/")
	km.as("KM")
	tv.as("TV")
	wash := b.runOf(id, "wash")
	km.goTo(base + "/bench")
	tv.goTo(wash + "/end")
	km.touch("Write down")
	km.run("document.activeElement.blur()")

	// TV reads a mass meanwhile, and KM's bench has it at once.
	other := b.open(phone, wash+"/reading?quantity=conductivity")
	other.fill("Your initials", "TV")
	other.keys("171")
	other.press("Record it")
	km.until("the reading is on the other bench", `document.getElementById("now").textContent.includes("171")`)
	km.see("TV wrote 1 entry")

	km.goTo(wash + "/end")
	km.pressAt("#end-run_outcome button[value=done]")
	tv.allow("status of 422")
	tv.pressAt("#end-run_outcome button[value=done]")
	tv.see("KM ended washing of sheets 4 and 7 at")
	tv.see("that counts")
	tv.axe()
	tv.screen("ended-by-another")
	tv.press("Write it down")
	c := b.theCase(id)
	run := c.Run(wash[len(base)+len("/runs/"):])
	if len(run.Ends) != 1 || run.Ends[0].By != "KM" {
		t.Errorf("the run has the ends %+v, want KM's alone", run.Ends)
	}
	last := c.Notes[len(c.Notes)-1]
	if last.By != "TV" || last.Body.Nature != "observed" {
		t.Errorf("the second press is kept as %+v, want TV's note", last)
	}
}

// A tablet whose clock is wrong, or set back while the page stands open, shows and
// writes the bench's time; a double tap acts once.
func TestATabletWithAWrongClock(t *testing.T) {
	b, w, id, base := onTime(t)
	p := b.open(tablet, "/")
	p.as("KM")
	p.skewed()
	p.skew("-1500") // a day and an hour slow
	p.goTo(base + "/bench")
	shown := func() string {
		return eval[string](p, `document.querySelector("[data-acts] .shown, .run .shown").textContent`)
	}
	p.until("the clock stands at some 39 minutes", `/^(39|40|4[0-9]):/.test(document.querySelector(".run .shown").textContent)`)
	p.skew("-1560") // set back by another hour under the page
	time.Sleep(1100 * time.Millisecond)
	if got := shown(); len(got) != 5 {
		t.Errorf("after the clock was set back it shows %q", got)
	}
	p.touch("Write down")
	p.choose("This was", "observed")
	p.fill("Text", "By a wrong clock.")
	p.run(`const b = __find.act("Write it down"); b.click(); b.click()`)
	p.see("Written down.")
	c := b.theCase(id)
	if list := b.notesOf(id, "By a wrong clock."); len(list) != 1 {
		t.Errorf("a double tap wrote %d notes, want 1", len(list))
	}
	at := c.Notes[len(c.Notes)-1].Time
	if off := at.Sub(w.now()).Abs(); off > time.Minute {
		t.Errorf("it stands %v from the bench's time", off)
	}
}
