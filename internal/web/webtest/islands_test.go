package webtest

import (
	"fmt"
	"math"
	"net/http"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// TestClock counts by differences of times, turns when due, rings once, and is
// right after a sleep.
func TestClock(t *testing.T) {
	var b *bench
	b = newBenchWith(t, func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path != "/clock-page" {
				next.ServeHTTP(w, r)
				return
			}
			page, err := b.server.Template(os.DirFS("testdata"), "clock")
			if err != nil {
				t.Error(err)
				return
			}
			now := time.Now()
			data := lookPage{
				Started: now.Add(-20 * time.Minute),
				Soon:    now.Add(time.Minute),
				Earlier: now.Add(-75 * time.Second),
			}
			data.Title, data.Now = "Clock", now
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			if err := page.ExecuteTemplate(w, "layout", data); err != nil {
				t.Error(err)
			}
		})
	})
	p := b.open(tablet, "/clock-page")
	// The test moves the page's time, so that nothing hangs on the machine's speed.
	p.run("window.shakes = 0; navigator.vibrate = () => { shakes++; return true }; " +
		"const old = Date.now; window.skew = 0; Date.now = () => old() + skew")
	left := "document.querySelector('#one .left').textContent"
	if got := eval[string](p, left); !strings.HasSuffix(got, "to go: take sheet 5 out") {
		t.Errorf("before it is due it says %q", got)
	}
	var min, sec int
	shown := eval[string](p, "document.querySelector('#one .shown').textContent")
	if _, err := fmt.Sscanf(shown, "%d:%d", &min, &sec); err != nil || min < 19 || min > 22 {
		t.Errorf("it has been in for %q, want about 20:00 (%v)", shown, err)
	}
	p.run("skew = 61e3")
	p.until("it is over", left+".includes('over: take sheet 5 out')")
	if n := eval[float64](p, "shakes"); n != 1 {
		t.Errorf("it shook %g times when due, want once", n)
	}
	if said := eval[string](p, "document.getElementById('said').textContent"); said != "Due now: take sheet 5 out" {
		t.Errorf("those who hear the page were told %q", said)
	}
	// The tablet sleeps for an hour: no tick was counted, and yet it is right.
	p.run("skew += 3600e3")
	p.until("an hour was slept", "document.getElementById('two').textContent.startsWith('1:0')")
	time.Sleep(1200 * time.Millisecond)
	if n := eval[float64](p, "shakes"); n != 1 {
		t.Errorf("it shook %g times in all, want once", n)
	}
	// Sound off stays off.
	p.touch("Sound is on")
	p.see("Sound is off")
	p.goTo("/clock-page")
	p.see("Sound is off")
}

// TestKeypad enters a number by large keys, and by a keyboard all the same.
func TestKeypad(t *testing.T) {
	var b *bench
	b = newBenchWith(t, withLook(t, &b))
	p := b.open(tablet, "/look")
	value := "document.getElementById('reading-value').value"
	p.touch("Delete the last figure")
	p.touch("Delete the last figure")
	for _, k := range []string{"decimal point", "7", "decimal point", "9"} {
		p.touch(k)
	}
	if got := eval[string](p, value); got != "0.79" {
		t.Errorf("keys gave %q, want 0.79: a point is typed once, with a nought before it", got)
	}
	p.run("const e = document.getElementById('reading-value'); e.focus(); e.select()")
	p.touch("8")
	if got := eval[string](p, value); got != "8" {
		t.Errorf("a key over what is selected gave %q, want 8", got)
	}
	p.key(".25")
	if got := eval[string](p, value); got != "8.25" {
		t.Errorf("the keyboard gave %q, want 8.25", got)
	}
}

// TestSlider moves by keys and by the finger.
func TestSlider(t *testing.T) {
	var b *bench
	b = newBenchWith(t, withLook(t, &b))
	p := b.open(tablet, "/look")
	said := "document.querySelector('.compare input').getAttribute('aria-valuetext')"
	cut := "document.querySelector('.compare figure').style.clipPath"
	p.run("document.querySelector('.compare input').focus()")
	p.key(kb.ArrowRight)
	p.key(kb.ArrowRight)
	if got := eval[string](p, said); got != "52 % before, 48 % after" {
		t.Errorf("after two steps to the right it says %q", got)
	}
	p.key(kb.Home)
	if got := eval[string](p, cut); got != "inset(0px 100% 0px 0px)" {
		t.Errorf("at its beginning the first picture is cut by %q", got)
	}
	box := eval[[]float64](
		p,
		"(() => { const e = document.querySelector('.compare .faces'); e.scrollIntoView({block: 'center', behavior: "+
			"'instant'}); const r = e.getBoundingClientRect(); return [r.left, r.top, r.width, r.height] })()",
	)
	p.do(chromedp.DragAndDropXY(box[0]+box[2]*0.1, box[1]+box[3]/2, box[0]+box[2]*0.7, box[1]+box[3]/2))
	got, err := strconv.ParseFloat(eval[string](p, "document.querySelector('.compare input').value"), 64)
	if err != nil || math.Abs(got-70) > 1 {
		t.Errorf("dragged to 70 %% it stands at %g (%v)", got, err)
	}
}

// TestWithoutScript fills and sends a form in a browser that runs no code.
func TestWithoutScript(t *testing.T) {
	b := newBench(t)
	id := b.newCase()
	p := b.open(tablet, "/cases/"+string(id)+"/examination")
	p.as("KM")
	p.noScript()
	p.do(chromedp.Navigate(b.url + "/cases/" + string(id) + "/examination"))
	p.do(chromedp.Click(chromedp.CSS("#observations summary")),
		chromedp.Click(chromedp.CSS("#observations .chip input")),
		chromedp.SendKeys(chromedp.CSS("#observations textarea"), "Written without script."),
		chromedp.Click(chromedp.CSS("#observations button.act")),
		chromedp.WaitVisible(chromedp.CSS(".flash")))
	same(t, b.notes(id), "Written without script.")
}
