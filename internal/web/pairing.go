package web

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"benchleaf/internal/record"
)

// A device beyond this machine must enter the pairing code once before it gets
// or sends anything. The code stands on the bench machine: on its home page
// and in its terminal. Requests from this machine itself need none, since who
// can make them can read the data folder as well.
//
// A code has eight figures, pairs one device, and ends after an hour. Wrong ones
// are slowed for each address and for all together, and after wrongMost of them
// the code changes: one code can be guessed with a chance of wrongMost in a
// hundred million.

const (
	deviceCookie = "benchleaf_device"
	// wrongMost is how many wrong codes one code outlives.
	wrongMost = 10
	// wrongFree is how many wrong codes an address may send before it must wait.
	wrongFree = 3
	// waitMost is the longest that an address must wait.
	waitMost = 10 * time.Minute
	// codeFor is how long a code is good.
	codeFor = time.Hour
	// between is the least time between two tries, whoever makes them.
	between = 500 * time.Millisecond
	// addressesMost bounds what is remembered of addresses.
	addressesMost = 4096
)

// pairing knows the code and the devices that have entered one.
type pairing struct {
	file    string
	now     func() time.Time
	changed func(code string)
	failed  func(error) // told what could not be written down of a device that was seen

	mu        sync.Mutex
	code      string
	made      time.Time // when the code was
	wrong     int       // wrong codes since this code was made
	lastTry   time.Time
	addresses map[netip.Prefix]*tries
	devices   map[string]*device // by the SHA-256 of the token, in hexadecimal
	saved     time.Time          // when the list was last written
}

// tries are the wrong codes of one address.
type tries struct {
	wrong int
	until time.Time // no try before
}

// codeNow gives the code and until when it is good; one that ends soon is
// replaced, since it is about to be carried to another device.
func (p *pairing) codeNow() (code string, until time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.now().Sub(p.made).Abs() > codeFor/2 {
		p.newCode()
	}
	return spaced(p.code), p.made.Add(codeFor)
}

// newPairing reads the devices that were paired before, and makes a code.
func newPairing(dir string, now func() time.Time, changed func(string)) (*pairing, error) {
	p := &pairing{
		file: filepath.Join(dir, "devices.json"), now: now, changed: changed,
		addresses: map[netip.Prefix]*tries{}, devices: map[string]*device{},
	}
	raw, err := os.ReadFile(p.file)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("read the list of paired devices: %w", err)
	}
	var list []*device
	if len(raw) > 0 {
		if err := json.Unmarshal(raw, &list); err != nil {
			return nil, fmt.Errorf(
				"the list of paired devices %s is damaged (%w): delete it, and pair each device again",
				p.file,
				err,
			)
		}
	}
	for _, d := range list {
		p.devices[d.Token] = d
	}
	p.newCode()
	return p, nil
}

// newCode makes another code. The caller holds mu, or nobody else knows p.
func (p *pairing) newCode() {
	n, err := rand.Int(rand.Reader, big.NewInt(100_000_000))
	if err != nil {
		panic("web: the system gives no random numbers") // documented never to happen
	}
	p.code, p.made, p.wrong = fmt.Sprintf("%08d", n), p.now(), 0
	if p.changed != nil {
		p.changed(spaced(p.code))
	}
}

// spaced writes a code in two groups, as a person reads it aloud.
func spaced(code string) string { return code[:4] + " " + code[4:] }

// tooSoon says that a try came before its time.
type tooSoon struct{ wait time.Duration }

func (e *tooSoon) Error() string {
	s := int((e.wait + time.Second - 1) / time.Second)
	return "Too many wrong codes. Wait " + plural(
		s,
		"second",
		"seconds",
	) + ", then enter the code that the bench machine shows now."
}

var errWrongCode = record.Invalidf(
	"code",
	"This is not the code that the bench machine shows now. It may have changed: look again.",
)

// enter checks a code from an address and gives the new device its token.
func (p *pairing) enter(addr netip.Addr, typed, agent string) (token string, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.now()
	from := p.triesOf(addr, now)
	if wait := max(from.until.Sub(now), p.lastTry.Add(between).Sub(now)); wait > 0 {
		return "", &tooSoon{wait}
	}
	p.lastTry = now
	if now.Sub(p.made).Abs() > codeFor {
		p.newCode() // what was typed is that of before
	}
	if subtle.ConstantTimeCompare([]byte(figures(typed)), []byte(p.code)) != 1 {
		from.wrong++
		if over := from.wrong - wrongFree; over > 0 {
			from.until = now.Add(min(time.Second<<min(over, 20), waitMost))
		}
		if p.wrong++; p.wrong >= wrongMost {
			p.newCode()
		}
		return "", errWrongCode
	}
	delete(p.addresses, network(addr))
	if token, err = p.add(agent, now); err != nil {
		return "", err
	}
	p.newCode() // each lets one device in
	return token, nil
}

// triesOf are the wrong codes of an address, forgotten when it has long waited.
func (p *pairing) triesOf(addr netip.Addr, now time.Time) *tries {
	key := network(addr)
	t := p.addresses[key]
	if t != nil && now.Sub(t.until) < waitMost {
		return t
	}
	if len(p.addresses) >= addressesMost {
		for k, old := range p.addresses {
			if now.After(old.until) {
				delete(p.addresses, k)
			}
		}
	}
	t = &tries{until: now}
	if len(p.addresses) < addressesMost {
		p.addresses[key] = t
	}
	return t
}

// network is what counts as one address: a machine chooses freely within its
// own /64 of IPv6.
func network(addr netip.Addr) netip.Prefix {
	bits := addr.BitLen()
	if addr.Is6() {
		bits = 64
	}
	p, err := addr.Prefix(bits)
	if err != nil {
		return netip.Prefix{} // all unreadable addresses count as one
	}
	return p
}

// figures keeps the figures of what was typed.
func figures(s string) string {
	return strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, s)
}

// addrOf is the address that a request came from; not valid when it cannot be
// told.
func addrOf(r *http.Request) netip.Addr {
	ap, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return ap.Addr().Unmap().WithZone("")
}

// fromHere says whether a request was made on this machine. One that was
// passed on by another program of this machine is the other end's.
func fromHere(r *http.Request) bool {
	for _, h := range []string{"Forwarded", "X-Forwarded-For", "X-Real-Ip", "Via"} {
		if r.Header.Get(h) != "" {
			return false
		}
	}
	return addrOf(r).IsLoopback()
}

const pairPath = "/pair"

// paired lets nothing through from a device that has not entered the code, but
// the page on which it does.
func (s *Server) paired(next http.Handler) http.Handler {
	own := s.pairFiles()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asks := r.Method == http.MethodGet || r.Method == http.MethodHead
		d := s.pairing.deviceOf(r)
		switch {
		case fromHere(r):
			next.ServeHTTP(w, r)
		case d != nil:
			s.pairing.serve(d, next, w, r)
		case r.URL.Path == pairPath, asks && own[r.URL.Path]:
			next.ServeHTTP(w, r)
		default:
			toPairing(w, r, "This device is not paired with the bench: open its home page and enter the code that the "+
				"bench machine shows.")
		}
	})
}

// pairFiles are the paths beside the pairing page that a device gets unpaired.
func (s *Server) pairFiles() map[string]bool {
	own := map[string]bool{}
	for _, name := range pairAssets {
		if url, err := s.assets.url(name); err == nil {
			own[url] = true
		}
	}
	if s.authority != nil {
		own[certificatePath] = true
	}
	return own
}

// toPairing leads a person to the pairing page, and tells a program why not.
func toPairing(w http.ResponseWriter, r *http.Request, say string) {
	w.Header().Set("Cache-Control", "no-store")
	asks := r.Method == http.MethodGet || r.Method == http.MethodHead
	if asks && strings.Contains(r.Header.Get("Accept"), "text/html") {
		http.Redirect(w, r, pairPath, http.StatusSeeOther)
		return
	}
	http.Error(w, say, http.StatusForbidden)
}

// pairAssets are the files of the pairing page itself.
var pairAssets = []string{"pair.css", "next-latin.woff2", "icon.svg"}

type pairPage struct {
	Page
	Refusal string
}

var pairView = declare[pairPage]("pair")

func (s *Server) routesPairing(mux *http.ServeMux) {
	mux.Handle("GET "+pairPath, s.do(s.pairAsk))
	mux.Handle("POST "+pairPath, s.do(s.pairEnter))
}

// pairAsk asks for the code. The page shows nothing of the bench.
func (s *Server) pairAsk(w http.ResponseWriter, r *http.Request) error {
	if s.inTheClear(r) {
		return s.doorShow(w, r)
	}
	if fromHere(r) || s.pairing.deviceOf(r) != nil {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	return s.pairShow(w, r, http.StatusOK, "")
}

func (s *Server) pairShow(w http.ResponseWriter, r *http.Request, status int, refusal string) error {
	p := pairPage{
		Page:    Page{Title: "Pair this device", Bare: true, Now: s.now(), Version: s.version, status: status},
		Refusal: refusal,
	}
	return pairView.show(s, w, r, p)
}

// pairEnter takes a code.
func (s *Server) pairEnter(w http.ResponseWriter, r *http.Request) error {
	limitBody(w, r, 4096)
	if err := r.ParseForm(); err != nil {
		return fmt.Errorf("read the form: %w", err)
	}
	token, err := s.pairing.enter(addrOf(r), r.PostForm.Get("code"), r.UserAgent())
	var early *tooSoon
	switch {
	case errors.As(err, &early):
		w.Header().Set("Retry-After", strconv.Itoa(int(early.wait/time.Second)+1))
		return s.pairShow(w, r, http.StatusTooManyRequests, err.Error())
	case errors.Is(err, errWrongCode):
		s.log.Warn("a wrong pairing code was entered", "from", r.RemoteAddr)
		return s.pairShow(w, r, http.StatusUnprocessableEntity, err.Error())
	case err != nil:
		return err
	}
	s.log.Info("a device was paired", "from", r.RemoteAddr, "agent", clip(r.UserAgent()))
	http.SetCookie(
		w,
		&http.Cookie{
			Name:     deviceCookie,
			Value:    token,
			Path:     "/",
			MaxAge:   int(pairedFor / time.Second),
			HttpOnly: true,
			SameSite: http.SameSiteStrictMode,
			Secure:   r.TLS != nil,
		},
	)
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}
