package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"
)

const phoneAddr = "192.0.2.20:40000"

// enterCode sends a code from an address.
func enterCode(s *Server, addr, code string) *httptest.ResponseRecorder {
	return answerTo(
		s,
		request(
			"POST",
			"/pair",
			url.Values{"code": {code}},
			from(addr),
			func(r *http.Request) { r.Host = "192.0.2.7:8080" },
		),
	)
}

// wrongCode is one that the server does not show.
func wrongCode(s *Server) string {
	if s.PairingCode() == "1234 5678" {
		return "8765 4321"
	}
	return "1234 5678"
}

// TestNothingPassesUnpaired asks for every asset and a page of each kind from
// beyond loopback.
func TestNothingPassesUnpaired(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	for _, path := range []string{"/", "/cases/" + string(id), "/cases/" + string(id) + "/bench", "/clock", "/solutions", "/nothing"} {
		w := answerTo(s, request("GET", path, nil, from(phoneAddr)))
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/pair" {
			t.Errorf("GET %s: status %d to %q, want 303 to /pair", path, w.Code, w.Header().Get("Location"))
		}
		if strings.Contains(w.Body.String(), "Windlass") {
			t.Errorf("GET %s gives away the title", path)
		}
		w = answerTo(s, request("GET", path, nil, from(phoneAddr), header("Accept", "*/*")))
		if w.Code != http.StatusForbidden {
			t.Errorf("GET %s by code: status %d, want 403", path, w.Code)
		}
	}
	for _, path := range []string{"/writer", "/undo", "/cases/" + string(id) + "/owner"} {
		if w := answerTo(s, request("POST", path, url.Values{"initials": {"KM"}}, from(phoneAddr))); w.Code != http.StatusForbidden {
			t.Errorf("POST %s: status %d, want 403", path, w.Code)
		}
	}
	own := map[string]bool{}
	for _, name := range pairAssets {
		own[name] = true
	}
	for plain, hashed := range s.assets.manifest {
		w := answerTo(s, request("GET", "/assets/"+hashed, nil, from(phoneAddr), header("Accept", "*/*")))
		if own[plain] != (w.Code == http.StatusOK) {
			t.Errorf("asset %s: status %d; the pairing page's own are %v", plain, w.Code, pairAssets)
		}
	}
	page := answerTo(s, request("GET", "/pair", nil, from(phoneAddr)))
	if page.Code != http.StatusOK || strings.Contains(page.Body.String(), s.PairingCode()) ||
		strings.Contains(page.Body.String(), strings.ReplaceAll(s.PairingCode(), " ", "")) {
		t.Errorf("the pairing page: status %d; it must not show the code", page.Code)
	}
}

func TestLoopbackNeedsNoCode(t *testing.T) {
	s, _ := newServer(t)
	for _, addr := range []string{"127.0.0.1:1", "127.8.9.10:1", "[::1]:1", "[::ffff:127.0.0.1]:1"} {
		if w := answerTo(s, request("GET", "/", nil, from(addr))); w.Code != http.StatusOK {
			t.Errorf("from %s: status %d, want 200", addr, w.Code)
		}
	}
	// Passed on by a program of this machine, it comes from somewhere else.
	for _, h := range []string{"X-Forwarded-For", "Forwarded", "Via", "X-Real-IP"} {
		if w := answerTo(s, request("GET", "/", nil, header(h, "192.0.2.20"))); w.Code == http.StatusOK {
			t.Errorf("with %s it passes without a code", h)
		}
	}
	for _, addr := range []string{"", "localhost:1", "10.0.0.1:1", "[fe80::1%eth0]:1"} {
		if w := answerTo(s, request("GET", "/", nil, from(addr))); w.Code == http.StatusOK {
			t.Errorf("from %q it passes without a code", addr)
		}
	}
}

func TestPairingOnce(t *testing.T) {
	dir := t.TempDir()
	s, clock := serverOn(t, dir)
	// As typed by a person: blanks and dashes do not matter.
	w := enterCode(s, phoneAddr, strings.ReplaceAll(s.PairingCode(), " ", "-"))
	if w.Code != http.StatusSeeOther {
		t.Fatalf("the right code: status %d, want 303", w.Code)
	}
	list := w.Result().Cookies()
	if len(list) != 1 || !list[0].HttpOnly || list[0].SameSite != http.SameSiteStrictMode || list[0].Path != "/" {
		t.Fatalf("cookies %v: want one, HttpOnly and SameSite=Strict", list)
	}
	if w := answerTo(s, request("GET", "/", nil, from(phoneAddr), cookies(list))); w.Code != http.StatusOK {
		t.Errorf("paired: status %d, want 200", w.Code)
	}
	// From another address too: a phone's address changes.
	if w := answerTo(s, request("GET", "/", nil, from("198.51.100.3:1"), cookies(list))); w.Code != http.StatusOK {
		t.Errorf("paired, elsewhere: status %d, want 200", w.Code)
	}
	raw, err := os.ReadFile(s.pairing.file)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(raw), list[0].Value) {
		t.Error("the data folder holds the device's token")
	}
	if info, err := os.Stat(s.pairing.file); err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("the list of devices can be read by others: %v %v", info.Mode(), err)
	}

	// The pairing outlives the server; the code does not.
	p, err := newPairing(dir, clock.now, nil)
	if err != nil {
		t.Fatal(err)
	}
	s.pairing = p
	if w := answerTo(s, request("GET", "/", nil, from(phoneAddr), cookies(list))); w.Code != http.StatusOK {
		t.Errorf("after a restart: status %d, want 200", w.Code)
	}
	forged := []*http.Cookie{{Name: deviceCookie, Value: strings.Repeat("A", 43)}}
	if w := answerTo(s, request("GET", "/", nil, from(phoneAddr), cookies(forged))); w.Code == http.StatusOK {
		t.Error("a token of nobody's passes")
	}
}

func TestWrongCodesAreSlowedForAnAddress(t *testing.T) {
	s, clock := newServer(t)
	for i := range wrongFree {
		if w := enterCode(s, phoneAddr, wrongCode(s)); w.Code != http.StatusUnprocessableEntity {
			t.Fatalf("wrong code %d: status %d, want 422", i+1, w.Code)
		}
		clock.forward(between)
	}
	enterCode(s, phoneAddr, wrongCode(s))
	clock.forward(between)
	w := enterCode(s, phoneAddr, s.PairingCode())
	if w.Code != http.StatusTooManyRequests || w.Header().Get("Retry-After") == "" {
		t.Errorf("the right code too early: status %d, Retry-After %q; want 429", w.Code, w.Header().Get("Retry-After"))
	}
	// Another device is not held up.
	if w := enterCode(s, "198.51.100.3:1", s.PairingCode()); w.Code != http.StatusSeeOther {
		t.Errorf("another device: status %d, want 303", w.Code)
	}
	clock.forward(waitMost)
	if w := enterCode(s, phoneAddr, s.PairingCode()); w.Code != http.StatusSeeOther {
		t.Errorf("after the wait: status %d, want 303", w.Code)
	}
}

func TestTriesAreSlowedForAllTogether(t *testing.T) {
	s, clock := newServer(t)
	enterCode(s, "198.51.100.1:1", wrongCode(s))
	if w := enterCode(s, "198.51.100.2:1", s.PairingCode()); w.Code != http.StatusTooManyRequests {
		t.Errorf("a try at the same moment from elsewhere: status %d, want 429", w.Code)
	}
	clock.forward(between)
	if w := enterCode(s, "198.51.100.2:1", s.PairingCode()); w.Code != http.StatusSeeOther {
		t.Errorf("a moment later: status %d, want 303", w.Code)
	}
}

func TestTheCodeChangesAfterWrongOnes(t *testing.T) {
	s, clock := newServer(t)
	var told []string
	s.pairing.changed = func(code string) { told = append(told, code) }
	first := s.PairingCode()
	for i := range wrongMost {
		if s.PairingCode() != first {
			t.Fatalf("the code changed after %d wrong ones", i)
		}
		addr := "198.51.100." + string(rune('0'+i)) + ":1"
		enterCode(s, addr, wrongCode(s))
		clock.forward(between)
	}
	if s.PairingCode() == first {
		t.Errorf("after %d wrong codes from as many addresses it is still the same", wrongMost)
	}
	if len(told) != 1 || told[0] != s.PairingCode() {
		t.Errorf("the terminal was told %v, want the new code once", told)
	}
	if w := enterCode(s, phoneAddr, first); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("the old code: status %d, want 422", w.Code)
	}
}

func TestOneNetworkCountsAsOneAddress(t *testing.T) {
	s, clock := newServer(t)
	for i := range wrongFree + 1 {
		enterCode(s, "[2001:db8::"+string(rune('1'+i))+"]:1", wrongCode(s))
		clock.forward(between)
	}
	if w := enterCode(s, "[2001:db8::ff]:1", s.PairingCode()); w.Code != http.StatusTooManyRequests {
		t.Errorf("a new address of the same /64: status %d, want 429", w.Code)
	}
}

func TestNoCodeInAnAddress(t *testing.T) {
	s, _ := newServer(t)
	code := strings.ReplaceAll(s.PairingCode(), " ", "")
	w := answerTo(s, request("POST", "/pair?code="+code, url.Values{}, from(phoneAddr)))
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a code in the address: status %d, want it not read", w.Code)
	}
}

func TestWhatIsRememberedOfAddressesIsBounded(t *testing.T) {
	s, clock := newServer(t)
	for i := range addressesMost + 100 {
		a := [4]byte{10, byte(i >> 16), byte(i >> 8), byte(i)}
		s.pairing.mu.Lock()
		s.pairing.triesOf(netipFrom4(a), clock.now()).until = clock.now().Add(time.Hour)
		s.pairing.mu.Unlock()
	}
	if n := len(s.pairing.addresses); n > addressesMost {
		t.Errorf("%d addresses are remembered, at most %d are to be", n, addressesMost)
	}
}
