package webtest

import (
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/web"
)

// ---- The bench: a server on a data folder of its own ----

// bench is a running server.
type bench struct {
	t      *testing.T
	url    string
	store  *store.Store
	server *web.Server
	dir    string
	addr   string
	wrap   func(http.Handler) http.Handler
	change func(*web.Config) // may be nil
	down   func()
}

// newBench starts a server on an empty data folder.
func newBench(t *testing.T) *bench { return newBenchWith(t, nil) }

// newBenchWith puts pages of the test's own beside those of the server.
func newBenchWith(t *testing.T, wrap func(http.Handler) http.Handler) *bench {
	t.Helper()
	return newBenchAs(t, wrap, nil)
}

// newBenchAs changes besides what the server is told.
func newBenchAs(t *testing.T, wrap func(http.Handler) http.Handler, change func(*web.Config)) *bench {
	t.Helper()
	browser(t) // before anything is made: a skip must come first
	b := &bench{t: t, dir: t.TempDir(), addr: "127.0.0.1:0", wrap: wrap, change: change}
	b.start()
	t.Cleanup(b.stop)
	return b
}

// start answers again after stop, at the same address and on the same data.
func (b *bench) start() {
	b.t.Helper()
	st, err := store.Open(b.dir)
	if err != nil {
		b.t.Fatal(err)
	}
	cfg := web.Config{
		Store: st, Log: slog.New(slog.NewTextHandler(logTo{b.t}, nil)), Version: "test", Zone: time.UTC,
	}
	if b.change != nil {
		b.change(&cfg)
	}
	srv, err := web.New(cfg)
	if err != nil {
		b.t.Fatal(err)
	}
	ln, err := net.Listen("tcp", b.addr)
	if err != nil {
		b.t.Fatal(err)
	}
	h := srv.Handler()
	if b.wrap != nil {
		h = b.wrap(h)
	}
	hs := &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second}
	done := make(chan struct{})
	go func() {
		defer close(done)
		hs.Serve(ln)
	}()
	b.store, b.server, b.addr, b.url = st, srv, ln.Addr().String(), "http://"+ln.Addr().String()
	b.down = func() {
		hs.Close()
		<-done
		srv.Close()
		if err := st.Close(); err != nil {
			b.t.Error(err)
		}
	}
}

// stop takes the server away, as a lost network does.
func (b *bench) stop() {
	if b.down != nil {
		b.down()
		b.down = nil
	}
}

// write appends bodies to a case as KM, opening it when it is new.
func (b *bench) write(id record.CaseID, bodies ...record.Body) {
	b.t.Helper()
	var expect int64
	if c, err := b.store.Case(b.t.Context(), id); err == nil {
		expect = c.LastSeq
	} else if !errors.Is(err, store.ErrNotFound) {
		b.t.Fatal(err)
	}
	var items []record.Item
	for _, x := range bodies {
		items = append(items, record.Item{Body: x})
	}
	if _, err := b.store.Append(b.t.Context(), record.Draft{Case: id, Expect: expect, By: "KM", Zone: "UTC", Items: items}); err != nil {
		b.t.Fatal(err)
	}
}

// logTo writes the server's log into the test's.
type logTo struct{ t *testing.T }

func (l logTo) Write(p []byte) (int, error) {
	l.t.Log(strings.TrimSpace(string(p)))
	return len(p), nil
}

// ---- The browser: one for all tests, a fresh profile for each tab ----

var chrome struct {
	once   sync.Once
	ctx    context.Context
	cancel []context.CancelFunc
	err    error
}

func TestMain(m *testing.M) {
	status := m.Run()
	for i := len(chrome.cancel) - 1; i >= 0; i-- {
		chrome.cancel[i]()
	}
	os.Exit(status)
}

// browser gives the context of the one Chromium, starting it at first.
func browser(t *testing.T) context.Context {
	t.Helper()
	chrome.once.Do(startBrowser)
	if chrome.err == nil {
		return chrome.ctx
	}
	if os.Getenv("BENCHLEAF_BROWSER") == "required" {
		t.Fatalf("a browser is required: %v", chrome.err)
	}
	t.Skipf("no browser: %v", chrome.err)
	return nil
}

func startBrowser() {
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.NoSandbox, // tests may run as root, in a container
		chromedp.DisableGPU,
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("autoplay-policy", "no-user-gesture-required"),
	)
	if path := os.Getenv("BENCHLEAF_CHROMIUM"); path != "" {
		options = append(options, chromedp.ExecPath(path))
	}
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel2 := chromedp.NewContext(alloc)
	chrome.cancel = []context.CancelFunc{cancel, cancel2}
	chrome.ctx = ctx
	chrome.err = chromedp.Do(ctx) // starts it
}

// size is a device's screen.
type size struct {
	name          string
	width, height int64
	phone         bool
}

var (
	tablet = size{"tablet", 1180, 820, false}
	phone  = size{"phone", 390, 844, true}
	wide   = size{"wide", 1680, 1000, false}
)

// tab is one page in a browser, as one person sees it.
type tab struct {
	t     *testing.T
	ctx   context.Context
	bench *bench
	size  size

	console *console // shared by copies of the tab, which differ in their test
	hand    *hand
}

// hand counts what a person does in a tab. A list is touched twice: to open it,
// and on its line.
type hand struct{ taps, fields int }

// console gathers what went wrong in a tab.
type console struct {
	mu       sync.Mutex
	messages []string
	allowed  []*regexp.Regexp
}

// open shows a path of the bench on a screen, in a profile of its own.
func (b *bench) open(s size, path string) *tab {
	b.t.Helper()
	ctx, cancel := chromedp.NewContext(browser(b.t), chromedp.WithNewBrowserContext())
	ctx, cancel2 := context.WithTimeout(ctx, 8*time.Minute) // the slowest machine, not the usual one
	p := &tab{t: b.t, ctx: ctx, bench: b, size: s, console: &console{}, hand: &hand{}}
	b.t.Cleanup(func() {
		p.checkConsole()
		cancel2()
		cancel()
	})
	var options []chromedp.EmulateViewportOption
	if s.phone {
		options = append(options, chromedp.EmulateMobile, chromedp.EmulateScale(2), chromedp.EmulatePortrait)
	}
	options = append(options, chromedp.EmulateTouch)
	p.do(chromedp.EmulateViewport(s.width, s.height, options...))
	p.listen()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := chromedp.Call(
			ctx,
			page.AddScriptToEvaluateOnNewDocument,
			page.AddScriptToEvaluateOnNewDocumentParams{Source: finder},
		)
		return err
	}))
	p.goTo(path)
	return p
}

//go:embed testdata/find.js
var finder string

// listen gathers errors of the console: exceptions, failed loads, breaches of
// the content security policy.
func (p *tab) listen() {
	messages := chromedp.Console(p.ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleError || m.IsException() || m.Source == "security" {
				p.console.mu.Lock()
				p.console.messages = append(p.console.messages, m.String()+" "+m.URL)
				p.console.mu.Unlock()
			}
		}
	}()
}

// allow lets console errors pass that the test brings about on purpose.
func (p *tab) allow(pattern string) {
	p.console.mu.Lock()
	defer p.console.mu.Unlock()
	p.console.allowed = append(p.console.allowed, regexp.MustCompile(pattern))
}

func (p *tab) checkConsole() {
	p.console.mu.Lock()
	defer p.console.mu.Unlock()
messages:
	for _, m := range p.console.messages {
		for _, a := range p.console.allowed {
			if a.MatchString(m) {
				continue messages
			}
		}
		p.t.Errorf("%s: on the console: %s", p.size.name, m)
	}
}

func (p *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, steps...); err != nil {
		p.t.Fatal(err)
	}
}

// eval gives the value of an expression in the page.
func eval[T any](p *tab, expression string) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// run evaluates for the effect.
func (p *tab) run(expression string) {
	p.t.Helper()
	eval[bool](p, "(async () => {"+expression+"; return true})()")
}

// as chooses who writes on this device.
func (p *tab) as(initials string) {
	p.t.Helper()
	p.touch("Who is writing?")
	p.fill("Your initials", initials)
	p.press("Write as this person")
	p.see(initials)
}

// goTo opens a path of the bench.
func (p *tab) goTo(path string) {
	p.t.Helper()
	p.do(chromedp.Navigate(p.bench.url + path))
	p.settle()
}

// settle waits until the page and its fonts are there.
func (p *tab) settle() {
	p.t.Helper()
	p.until("the page is loaded", `document.readyState === "complete" && !!window.__find`)
	p.run("await document.fonts.ready")
}

// until waits for a condition in the page.
func (p *tab) until(what, condition string) {
	p.t.Helper()
	deadline := time.Now().Add(time.Minute) // the slowest machine, not the usual one
	for {
		ok, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool]("!!("+condition+")"))
		if err == nil && ok {
			return
		}
		if time.Now().After(deadline) || p.ctx.Err() != nil {
			p.t.Fatalf("%s: waited in vain until %s (%v)\nthe page says:\n%s", p.size.name, what, err, p.text())
		}
		time.Sleep(25 * time.Millisecond)
	}
}

// text is all that the page shows.
func (p *tab) text() string {
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[string]("window.__find ? __find.text() : document.body.innerText"))
	if err != nil {
		return err.Error()
	}
	return v
}

// see waits until the page shows a text.
func (p *tab) see(text string) {
	p.t.Helper()
	p.until("it shows "+quote(text), "__find.text().toLowerCase().includes("+quote(strings.ToLower(text))+")")
}

// notSee fails when the page shows a text.
func (p *tab) notSee(text string) {
	p.t.Helper()
	if strings.Contains(strings.ToLower(p.text()), strings.ToLower(text)) {
		p.t.Errorf("%s: the page shows %q, which it should not", p.size.name, text)
	}
}

func quote(s string) string {
	b, _ := json.Marshal(s) // a string always marshals
	return string(b)
}

// mustFind fails with what is there when an expression finds nothing.
func (p *tab) mustFind(what, expression, selector string) {
	p.t.Helper()
	if !eval[bool](p, "!!("+expression+")") {
		there := eval[[]string](p, "__find.names("+quote(selector)+")")
		p.t.Fatalf("%s: there is no %s; there are: %s", p.size.name, what, strings.Join(there, " | "))
	}
}

// fill types into the field with this label, as keys would.
func (p *tab) fill(label, value string) {
	p.t.Helper()
	at := "__find.field(" + quote(label) + ")"
	p.mustFind("field "+quote(label), at, "input:not([type=hidden]), select, textarea")
	p.hand.fields++
	p.run(`const e = ` + at + `;
		e.focus();
		const kind = e instanceof HTMLTextAreaElement ? HTMLTextAreaElement : HTMLInputElement;
		Object.getOwnPropertyDescriptor(kind.prototype, "value").set.call(e, ` + quote(value) + `);
		e.dispatchEvent(new Event("input", {bubbles: true}));
		e.dispatchEvent(new Event("change", {bubbles: true}))`)
}

// choose takes a choice by its words: of a list, a row of chips, or ticks.
func (p *tab) choose(label, words string) {
	p.t.Helper()
	if chip := "__find.choice(" + quote(label) + "," + quote(words) + ")"; eval[bool](p, "!!("+chip+")") {
		// One that is taken already is let go by another press, as nobody would who wants it.
		if !eval[bool](p, "((e) => e.type === \"radio\" && e.checked)("+chip+")") {
			p.click(chip)
		}
		return
	}
	at := "__find.field(" + quote(label) + ")"
	p.mustFind("field "+quote(label), at, "input:not([type=hidden]), select, textarea, legend")
	p.hand.taps += 2
	if !eval[bool](p, `(() => { const e = `+at+`;
		const o = Array.from(e.options || []).find((o) => o.text.trim() === `+quote(words)+`);
		if (!o) return false;
		e.value = o.value;
		e.dispatchEvent(new Event("change", {bubbles: true}));
		return true })()`) {
		p.t.Fatalf("%s: %q cannot be chosen in %q", p.size.name, words, label)
	}
}

// tick sets the tick with this label.
func (p *tab) tick(label string) {
	p.t.Helper()
	at := "__find.field(" + quote(label) + ")"
	p.mustFind("tick "+quote(label), at, "input[type=checkbox]")
	p.click(at)
}

// upload gives files to the field with this label.
func (p *tab) upload(label string, files ...string) {
	p.t.Helper()
	at := "__find.field(" + quote(label) + ")"
	p.mustFind("field "+quote(label), at, "input[type=file]")
	id := eval[string](p, at+".id")
	p.do(chromedp.SetUploadFiles(chromedp.ID(id), files))
}

// press presses the button or link with this name, by pointer, and waits for
// the page that follows.
func (p *tab) press(name string) {
	p.t.Helper()
	p.run("window.__before = true")
	p.touch(name)
	p.until("another page comes after "+quote(name), "!window.__before")
	p.settle()
}

// touch presses what changes the page without leaving it.
func (p *tab) touch(name string) {
	p.t.Helper()
	at := "__find.act(" + quote(name) + ")"
	p.mustFind("button or link "+quote(name), at, "button, a[href], summary")
	p.click(at)
}

// click presses the middle of an element as a hand would; something that lies
// over it takes the press.
func (p *tab) click(expression string) {
	p.t.Helper()
	at := eval[[]float64](p, `(async () => { const e = `+expression+`;
		e.scrollIntoView({block: "center", inline: "center", behavior: "instant"});
		await new Promise((f) => requestAnimationFrame(() => requestAnimationFrame(f)));
		const r = e.getBoundingClientRect();
		return [r.left + r.width / 2, r.top + r.height / 2] })()`)
	p.hand.taps++
	p.do(chromedp.MouseClickXY(at[0], at[1]))
}

// key sends keys to what has the focus.
func (p *tab) key(keys string) {
	p.t.Helper()
	p.do(chromedp.KeyEvent(keys))
}

// noScript turns the page's own code off for what is opened next.
func (p *tab) noScript() {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := chromedp.Call(
			ctx,
			emulation.SetScriptExecutionDisabled,
			emulation.SetScriptExecutionDisabledParams{Value: true},
		)
		return err
	}))
}

// shot keeps a picture of the whole page in the folder BENCHLEAF_SHOTS.
func (p *tab) shot(name string) { p.picture(name, true) }

// screen keeps a picture of what is in sight.
func (p *tab) screen(name string) { p.picture(name, false) }

func (p *tab) picture(name string, whole bool) {
	p.t.Helper()
	dir := os.Getenv("BENCHLEAF_SHOTS")
	if dir == "" {
		return
	}
	take := chromedp.CaptureScreenshot()
	if whole {
		take = chromedp.FullScreenshot(100)
	}
	png, err := chromedp.Run(p.ctx, take)
	if err != nil {
		p.t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+"-"+p.size.name+".png"), png, 0o644); err != nil {
		p.t.Fatal(err)
	}
}

// ---- What can be checked of accessibility by machine ----

//go:embed testdata/axe/axe.min.js
var axeSource string

// finding is what axe reports.
type finding struct {
	ID    string `json:"id"`
	Help  string `json:"help"`
	Nodes []struct {
		HTML    string   `json:"html"`
		Target  []string `json:"target"`
		Summary string   `json:"failureSummary"`
	} `json:"nodes"`
}

// axe fails the test for each violation of WCAG 2.2 AA that axe finds on the page,
// and for what does not fit.
func (p *tab) axe() {
	p.t.Helper()
	p.do(chromedp.Evaluate[chromedp.Void](axeSource + "; void 0"))
	list := eval[[]finding](p, `axe.run(document, {
		runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]},
		resultTypes: ["violations"]}).then((r) => r.violations)`)
	for _, f := range list {
		for _, n := range f.Nodes {
			p.t.Errorf(
				"%s: axe: %s: %s\n  %s\n  %s",
				p.size.name,
				f.ID,
				f.Help,
				n.HTML,
				strings.ReplaceAll(n.Summary, "\n", "\n  "),
			)
		}
	}
	p.fits()
}

// clean is axe on the tablet, and on the phone only what its size can change: the
// same page was judged on the tablet, and axe takes most of the time of the many
// screens. BENCHLEAF_AXE=all judges both, as .ci/long does.
func (p *tab) clean() {
	p.t.Helper()
	if p.size.phone && os.Getenv("BENCHLEAF_AXE") != "all" {
		p.fits()
		return
	}
	p.axe()
}

// fits fails the test for targets under 44 px and for a page that scrolls sideways.
func (p *tab) fits() {
	p.t.Helper()
	p.targets()
	if over := eval[float64](p, "document.documentElement.scrollWidth - document.documentElement.clientWidth"); over > 0 {
		p.t.Errorf(
			"%s: the page is %g px wider than the screen: %s",
			p.size.name,
			over,
			eval[string](
				p,
				`Array.from(document.querySelectorAll("main *, .top *, .spine *")).filter((e) => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest(".spine-places, .tabs, .table-scroll")).slice(0, 3).map((e) => e.outerHTML.slice(0, 120)).join("\n")`,
			),
		)
	}
}

// targets reports what a gloved finger would miss: buttons, links that stand
// alone and fields of less than 44 px. Links inside running text are as high
// as their line.
func (p *tab) targets() {
	p.t.Helper()
	small := eval[[]string](
		p,
		`Array.from(document.querySelectorAll("button, a[href], summary, select, textarea, input:not([type=hidden])"))
		.filter((e) => e.getClientRects().length && !e.closest("p, td, dd, li > span, figcaption, .refusals, .skip, .name") && getComputedStyle(e).visibility !== "hidden")
		.map((e) => {
			const shown = e.matches(".tick input, .chip input") ? e.closest("label") : e;
			const r = shown.getBoundingClientRect();
			return [r.width, r.height, e.outerHTML.slice(0, 140)];
		})
		.filter(([w, h]) => (w < 43.5 || h < 43.5) && w > 1)
		.map(([w, h, html]) => Math.round(w) + "x" + Math.round(h) + " " + html)`,
	)
	for _, s := range small {
		p.t.Errorf("%s: too small to touch: %s", p.size.name, s)
	}
}

// get reads a page over plain HTTP, as a browser on this machine would.
func (b *bench) get(path string) (int, http.Header, string) {
	b.t.Helper()
	resp, err := http.Get(b.url + path)
	if err != nil {
		b.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return resp.StatusCode, resp.Header, string(body)
}
