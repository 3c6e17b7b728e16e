package web

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
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
// A code has eight figures. Wrong ones are slowed for each address and for all
// together, and after wrongMost of them the code changes: one code can be
// guessed with a chance of wrongMost in a hundred million.

const (
	deviceCookie = "benchleaf_device"
	// wrongMost is how many wrong codes one code outlives.
	wrongMost = 10
	// wrongFree is how many wrong codes an address may send before it must wait.
	wrongFree = 3
	// waitMost is the longest that an address must wait.
	waitMost = 10 * time.Minute
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

	mu        sync.Mutex
	code      string
	wrong     int // wrong codes since this code was made
	lastTry   time.Time
	addresses map[netip.Prefix]*tries
	devices   map[string]device // by the SHA-256 of the token, in hexadecimal
}

// tries are the wrong codes of one address.
type tries struct {
	wrong int
	until time.Time // no try before
}

// device is one that was paired. Its token is kept by the device alone; here
// only a hash of it is.
type device struct {
	Token  string    `json:"token_sha256"`
	Paired time.Time `json:"paired"`
	Agent  string    `json:"agent,omitempty"`
}

// newPairing reads the devices that were paired before, and makes a code.
func newPairing(dir string, now func() time.Time, changed func(string)) (*pairing, error) {
	p := &pairing{
		file: filepath.Join(dir, "devices.json"), now: now, changed: changed,
		addresses: map[netip.Prefix]*tries{}, devices: map[string]device{},
	}
	raw, err := os.ReadFile(p.file)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("read the list of paired devices: %w", err)
	}
	var list []device
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
	p.code, p.wrong = fmt.Sprintf("%08d", n), 0
	if p.changed != nil {
		p.changed(spaced(p.code))
	}
}

// spaced writes a code in two groups, as a person reads it aloud.
func spaced(code string) string { return code[:4] + " " + code[4:] }

func (p *pairing) codeNow() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return spaced(p.code)
}

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
	raw := make([]byte, 32)
	rand.Read(raw) // documented never to return an error
	token = base64.RawURLEncoding.EncodeToString(raw)
	d := device{Token: tokenHash(token), Paired: now.UTC().Truncate(time.Second), Agent: clipTo(agent, 200)}
	p.devices[d.Token] = d
	if err := p.save(); err != nil {
		delete(p.devices, d.Token)
		return "", err
	}
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

// save writes the list of devices whole or not at all.
func (p *pairing) save() error {
	list := make([]device, 0, len(p.devices))
	for _, d := range p.devices {
		list = append(list, d)
	}
	slices.SortFunc(list, func(a, b device) int { return a.Paired.Compare(b.Paired) })
	raw, err := json.MarshalIndent(list, "", "  ")
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(p.file), "devices-*")
	if err != nil {
		return fmt.Errorf("keep the paired device: %w", err)
	}
	defer os.Remove(f.Name()) // nothing is there after the renaming
	_, err = f.Write(append(raw, '\n'))
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), p.file)
	}
	if err != nil {
		return fmt.Errorf("keep the paired device: %w", err)
	}
	return nil
}

// knows says whether the request comes from a paired device.
func (p *pairing) knows(r *http.Request) bool {
	c, err := r.Cookie(deviceCookie)
	if err != nil {
		return false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	_, ok := p.devices[tokenHash(c.Value)]
	return ok
}

func tokenHash(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
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

func clipTo(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most])
	}
	return s
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
	own := map[string]bool{}
	for _, name := range pairAssets {
		if url, err := s.assets.url(name); err == nil {
			own[url] = true
		}
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asks := r.Method == http.MethodGet || r.Method == http.MethodHead
		switch {
		case fromHere(r), s.pairing.knows(r), r.URL.Path == pairPath, asks && own[r.URL.Path]:
			next.ServeHTTP(w, r)
		case asks && strings.Contains(r.Header.Get("Accept"), "text/html"):
			w.Header().Set("Cache-Control", "no-store")
			http.Redirect(w, r, pairPath, http.StatusSeeOther)
		default:
			w.Header().Set("Cache-Control", "no-store")
			http.Error(
				w,
				"This device is not paired with the bench: open its home page and enter the code that the bench "+
					"machine shows.",
				http.StatusForbidden,
			)
		}
	})
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
	if fromHere(r) || s.pairing.knows(r) {
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
	r.Body = http.MaxBytesReader(w, r.Body, 4096)
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
			MaxAge:   400 * 24 * 3600,
			HttpOnly: true,
			SameSite: http.SameSiteStrictMode,
		},
	)
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}
