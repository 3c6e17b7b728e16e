package webtest

import (
	"context"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/web"
)

// wristwatch is the server's clock, which a test sets forward.
type wristwatch struct{ ahead atomic.Int64 }

func (w *wristwatch) now() time.Time { return time.Now().Add(time.Duration(w.ahead.Load())) }

func (w *wristwatch) forward(d time.Duration) { w.ahead.Add(int64(d)) }

// onTime is a bench whose clock the test sets; the demonstration is in it.
func onTime(t *testing.T) (*bench, *wristwatch, record.CaseID, string) {
	t.Helper()
	w := &wristwatch{}
	b := newBenchAs(t, nil, func(cfg *web.Config) { cfg.Now = w.now })
	id, base := b.evening()
	return b, w, id, base
}

// initially runs code before every page of a tab.
func (p *tab) initially(code string) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := chromedp.Call(
			ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: code},
		)
		return err
	}))
}

// skewed gives the pages of a tab a clock that the test sets.
func (p *tab) skewed() {
	p.t.Helper()
	p.initially(`(() => { const Real = Date; const skew = () => Number(localStorage.skewMin || 0) * 60000;
		window.Date = class extends Real {
			constructor(...a) { if (a.length) super(...a); else super(Real.now() + skew()) }
			static now() { return Real.now() + skew() }
		} })()`)
}

// skew sets the tab's clock so many minutes ahead of the machine's.
func (p *tab) skew(min string) { p.t.Helper(); p.run("localStorage.skewMin = " + quote(min)) }

// inSight fails unless an element lies wholly in the window.
func (p *tab) inSight(what, expression string) {
	p.t.Helper()
	at := eval[[]float64](p, "(() => { const r = ("+expression+").getBoundingClientRect(); return [r.top, r.bottom, innerHeight] })()")
	if at[0] < 0 || at[1] > at[2]+0.5 {
		p.t.Errorf("%s: %s reaches from %.0f to %.0f px of a window of %.0f", p.size.name, what, at[0], at[1], at[2])
	}
}

// The bench holds one screen: clocks before plans on the tablet, the first clock and
// the last act on the phone, the keys of a reading whole on both.
func TestTheBenchAtArmsLength(t *testing.T) {
	b, _, id, base := onTime(t)
	for _, s := range []size{tablet, phone} {
		p := b.open(s, "/")
		p.as("KM")
		p.goTo(base + "/bench")
		p.axe()
		p.screen("bench-arms-length")
		p.inSight("the first clock", `document.querySelector(".run")`)
		p.inSight("the last act", `document.querySelector(".last")`)
		if s == tablet {
			p.inSight("all of the work", `document.querySelector(".folds")`)
			if !eval[bool](p, `!!(document.querySelector("#clocks").compareDocumentPosition(document.querySelector("#then")) & 4)`) {
				t.Error("the plans come before the clocks")
			}
		}
		wash := b.runOf(id, "wash")
		p.goTo(wash + "/reading?quantity=bath-ph")
		p.screen("reading")
		p.inSight("the keypad", `document.querySelector(".keypad")`)
		p.inSight("Record it", `document.querySelector(".read button.act")`)
		p.axe()
	}
}

// A rinse after a bath takes two presses, with the settings known and no reading; the
// whole act, with what was drawn from a bottle, is taken back by one.
func TestRinseAndUndo(t *testing.T) {
	b, _, id, base := onTime(t)
	p := b.open(tablet, "/")
	p.as("KM")
	p.goTo(base + "/bench")
	wash := b.runOf(id, "wash")
	p.pressAt(`a[href="` + wash + `/end"]`)
	p.pressAt("#end-run_outcome button[value=done]")
	if got := eval[string](p, "document.activeElement.textContent.trim()"); got != "Start" {
		t.Errorf("after an act the focus is on %q, want the next act", got)
	}
	p.act("rinse", hand{2, 0}, func() {
		p.pressAt(`#then a[href*="operation=rinse"][href*="sheets=4"]`)
		p.see("2000 mL")
		p.press("Start now")
	})
	c := b.theCase(id)
	run := c.Runs[len(c.Runs)-1].Body
	if run.Operation != "rinse" || len(run.Sheets) != 2 || run.Bath.VolumeMl != 2000 || run.Bath.Water == "" {
		t.Errorf("the rinse is %+v in %+v, want sheets 4 and 7 in 2000 mL of the water of the rinse before", run, run.Bath)
	}
	if run.Bath.PH != nil || run.Bath.ConductUS != nil || run.Bath.TempC != nil || run.TempC != nil {
		t.Error("a reading of the bath before was carried over")
	}
	p.press("Undo")
	if c := b.theCase(id); c.Run(run.ID) != nil {
		t.Error("the rinse stands after its undo")
	}
	p.goTo(base + "/bench")
	p.see("out of washing")

	// A bath drawn from a bottle is taken back in both journals.
	b.freshHydride()
	p.goTo(base + "/runs/new?operation=reduce&sheets=1")
	p.chooseStarting("Bottle from the shelf", "sodium borohydride, fresh")
	p.fill("Volume", "500")
	p.press("Look once more")
	p.giveReasons()
	p.press("Start now")
	left := func() float64 {
		st, err := b.store.Studio(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return st.Bottles[len(st.Bottles)-1].LeftMl
	}
	if got := left(); got != 500 {
		t.Errorf("%g mL are left in the bottle, want 500", got)
	}
	p.press("Undo")
	if got := left(); got != 1000 {
		t.Errorf("after the undo %g mL are left in the bottle, want 1000", got)
	}

	// The last act stays on the bench, to be taken back later.
	p.goTo(base + "/bench")
	p.touch("Write down")
	p.choose("This was", "observed")
	p.fill("Text", "Written by mistake.")
	p.press("Write it down")
	p.goTo(base + "/bench")
	p.see("Written by mistake")
	p.press("Undo")
	same(t, b.notesOf(id, "Written by mistake."))
}

// notesOf are the notes of a case that say a text.
func (b *bench) notesOf(id record.CaseID, text string) []string {
	var list []string
	for _, n := range b.notes(id) {
		if n == text {
			list = append(list, n)
		}
	}
	return list
}

// A blotted sheet's window opens at the press.
func TestBlottedItStartsNow(t *testing.T) {
	b, _, id, base := onTime(t)
	p := b.open(tablet, "/")
	p.as("KM")
	p.goTo(base + "/bench")
	p.see("opens in")
	before, _ := treatment.MendWindow(b.theCase(id), 2)
	p.pressAt(".run .press button")
	p.see("the mending window begins")
	after, ok := treatment.MendWindow(b.theCase(id), 2)
	if !ok || after.From.High-after.From.Low > 1 || after.From.Best >= before.From.Best {
		t.Errorf("after blotting the window opens at %+v min, want at one moment before %+v", after.From, before.From)
	}
	p.notSee("opens in")
}

// A reducing bleach over its time stands over everything, before a wash that is longer
// over, on every page, and sounds until it is ended; it turns so under the eyes.
func TestTheBleachBeforeTheWash(t *testing.T) {
	b, w, id, base := onTime(t)
	bottle := b.freshHydride()
	start := w.now()
	b.write(id, record.RunStarted{
		ID: record.NewID(start), Operation: "reduce", OperationName: "reducing bleach", Sheets: []int{1}, At: start,
		PlannedMin: 10, Makes: record.Wet, Bath: &record.Bath{
			ID: record.NewID(start), Liquid: "sodium borohydride in water, 0.5 % w/v", Substance: "sodium borohydride",
			VolumeMl: 500, Tray: "tray D", Bottles: []record.Drawn{{Bottle: bottle, Name: "fresh", Ml: 500}},
		},
	})
	p := b.open(tablet, "/")
	p.allow("Blocked call to navigator.vibrate") // a page shakes only once it was touched
	p.as("KM")
	w.forward(9*time.Minute + 58*time.Second) // the wash of the demonstration is over its time by a minute
	p.goTo(base + "/bench")
	p.run("window.shakes = 0; navigator.vibrate = () => { shakes++; return true }")
	p.until("the alarm stands", `!!document.querySelector(".alarm")`)
	p.see("Take it out and rinse")
	p.until("the bleach is the first clock", `document.querySelector(".run").hasAttribute("data-acts")`)
	bleach := b.runOf(id, "reduce")
	p.axe()
	p.screen("bleach-over")
	if top := eval[string](p, `(() => { const r = document.querySelector(".alarm").getBoundingClientRect();
		return document.elementFromPoint(r.left + 20, r.top + 10).closest(".alarm") ? "alarm" : "other" })()`); top != "alarm" {
		t.Error("something lies over the alarm")
	}
	p.goTo(base + "/bench")
	if got := eval[string](p, `document.querySelector(".next .what").textContent`); !strings.Contains(strings.ToLower(got), "sheet 1") ||
		!strings.Contains(got, "Take it out") {
		t.Errorf("the bench says first %q, want the bleach", got)
	}
	for _, path := range []string{"/", base + "/tests", "/solutions"} {
		p.goTo(path)
		p.see("Take it out and rinse")
	}
	p.press("End it")
	if at := eval[string](p, "location.pathname"); at != bleach+"/end" {
		t.Errorf("the alarm leads to %s, want %s/end", at, bleach)
	}
	p.pressAt("#end-run_outcome button[value=done]")
	p.until("the alarm is gone", `!document.querySelector(".alarm")`)
	p.see("must follow at once")
}
