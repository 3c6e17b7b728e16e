package webtest

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/demo"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// The first sheet of the demonstration was weighed wet: what it holds is adopted
// for the sheets that wait, and what lime is expected to leave in the next one
// moves; withdrawn, it moves back.
func TestTheFirstSheetTellsWhatTheNextWillHold(t *testing.T) {
	b := newBench(t)
	if err := demo.Fill(context.Background(), b.store, time.Now()); err != nil {
		t.Fatal(err)
	}
	list, err := b.store.List(context.Background(), store.Filter{Text: "windlass"})
	if err != nil || len(list) != 1 {
		t.Fatal(len(list), err)
	}
	id := list[0].ID
	base := "/cases/" + string(id) + "/"
	next := base + "runs/check?operation=lime&sheets=8&volume_ml=1500&bottle=" + b.bottle("lime water 0.4 g/L")
	for _, s := range []size{tablet, phone} {
		p := b.open(s, "/")
		p.as("KM")
		reserve := func() string {
			p.goTo(next)
			return eval[string](
				p,
				`document.querySelector("dl.answers .value").innerText + " " + document.querySelector("dl.answers .range").innerText`,
			)
		}
		before := reserve()
		p.notSee("estimated from readings")

		p.goTo(base + "sheets/5/measured")
		p.see("Measured and predicted agree within their ranges")
		p.shot("measured-offers")
		// Without a reason nothing is adopted.
		p.press("Adopt for these sheets")
		p.see("Please enter the reason")
		p.clean()
		p.shot("measured-refused")
		if n := len(b.theCase(id).AdoptedFor(8)); n != 0 {
			t.Fatalf("%d values were adopted without a reason", n)
		}
		p.allow("422")
		p.fill("Why it holds for them too", "One stock, one support, one pair of hands.")
		p.press("Adopt for these sheets")
		p.see("Adopted so far")
		p.clean()
		p.shot("measured-adopted")
		adopted := b.theCase(id).AdoptedFor(8)
		if len(adopted) == 0 {
			t.Fatal("nothing was adopted for sheet 8")
		}

		after := reserve()
		if after == before {
			t.Errorf(
				"%s: lime is expected to leave %s in sheet 8, before and after what sheet 5 showed was adopted",
				s.name,
				after,
			)
		}
		p.touch("What it rests on")
		p.see("estimated from readings on sheet 5")
		p.goTo(base + "sheets/8/measured")
		p.see("estimated from readings on sheet 5")
		p.shot("measured-next")

		// Corrected by hand, and then withdrawn one by one.
		p.goTo(base + "sheets/5/measured?correct=adopted&entry=" + fmt.Sprint(adopted[0].Seq))
		p.see("Correct the adopted")
		p.clean()
		p.shot("measured-correct")
		for _, a := range b.theCase(id).Adopted {
			p.goTo(base + "withdraw?entry=" + fmt.Sprint(a.Seq) + "&back=" + base + "sheets/5/measured")
			p.fill("Reason", "Another support was used.")
			p.press("Withdraw entry " + fmt.Sprint(a.Seq))
		}
		p.notSee("Adopted so far")
		if again := reserve(); again != before {
			t.Errorf("%s: withdrawn, lime is expected to leave %s, before it was %s", s.name, again, before)
		}
	}
}

// A finished run's readings lead to the sheets' pages, and each page to the reading
// that would tell more.
func TestReadingsLeadToWhatWasExpected(t *testing.T) {
	b := newBench(t)
	if err := demo.Fill(context.Background(), b.store, time.Now()); err != nil {
		t.Fatal(err)
	}
	list, err := b.store.List(context.Background(), store.Filter{Text: "windlass"})
	if err != nil || len(list) != 1 {
		t.Fatal(len(list), err)
	}
	c := b.theCase(list[0].ID)
	var lime *record.Run
	for _, r := range c.RunsOn(5) {
		if r.Body.Operation == "lime" {
			lime = r
		}
	}
	p := b.open(tablet, "/cases/"+string(c.ID)+"/runs/"+lime.Body.ID)
	p.as("KM")
	p.press("sheet 5")
	p.see("Every reading")
	p.goTo("/cases/" + string(c.ID) + "/sheets/3/measured")
	link := eval[string](p, `document.querySelector("ul.rows a").getAttribute("href")`)
	if !strings.Contains(link, "/reading?quantity=") || !strings.Contains(link, "sheets=3") {
		t.Fatalf("what would tell most leads to %s, want the form of a reading on sheet 3", link)
	}
	p.goTo(link)
	p.fill("Read", "13.9")
	p.press("Record it")
	readings := b.theCase(c.ID).Readings
	if last := readings[len(readings)-1].Body; last.Value != 13.9 || len(last.Place.Sheets) != 1 ||
		last.Place.Sheets[0] != 3 {
		t.Errorf("recorded %+v, want 13.9 on sheet 3", last)
	}
	// What was read stands beside what was expected at once.
	p.goTo("/cases/" + string(c.ID) + "/sheets/3/measured")
	p.see("as lifted from the bath")
	p.see("For the rest too")
}
