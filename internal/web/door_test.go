package web

import (
	"archive/zip"
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/trust"
)

// doorServer is a server that lets devices in by TLS, as benchleaf.local.
func doorServer(t *testing.T) (*Server, *testClock) {
	t.Helper()
	s, clock := newServer(t)
	s.names = []string{"benchleaf.local"}
	a, err := trust.Open(s.store.Dir(), time.Now, func() []string { return []string{"benchleaf.local", "192.168.7.7"} })
	if err != nil {
		t.Fatal(err)
	}
	s.authority = a
	s.beyond = []string{"http://192.168.7.7:7411"}
	mux := http.NewServeMux() // the pairing page's own files are known when the handler is made
	for _, add := range routes {
		add(s, mux)
	}
	s.handler = s.protect(mux)
	return s, clock
}

func overTLS(r *http.Request) { r.TLS = &tls.ConnectionState{ServerName: "benchleaf.local"} }
func host(h string) func(*http.Request) {
	return func(r *http.Request) { r.Host = h }
}

// everyRoute is each method and path that the source adds to the server.
func everyRoute(t testing.TB) [][2]string {
	t.Helper()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	route := regexp.MustCompile(`"(GET|POST|PUT|DELETE) (/[^"]*)"`)
	var list [][2]string
	for _, f := range files {
		raw, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		for _, m := range route.FindAllStringSubmatch(string(raw), -1) {
			list = append(list, [2]string{m[1], m[2]})
		}
	}
	if len(list) < 90 {
		t.Fatalf("only %d routes were found in the source", len(list))
	}
	return list
}

// pairADevice enters the code over TLS and gives the device's cookies.
func pairADevice(t *testing.T, s *Server, agent string) []*http.Cookie {
	t.Helper()
	w := answerTo(s, request("POST", "/pair", url.Values{"code": {s.PairingCode()}}, from(phoneAddr), overTLS,
		header("User-Agent", agent), host("benchleaf.local:7411")))
	if w.Code != http.StatusSeeOther || len(w.Result().Cookies()) != 1 {
		t.Fatalf("pairing: status %d", w.Code)
	}
	return w.Result().Cookies()
}

// TestNoRouteAnswersAStranger asks for every route of the source, in the clear and
// over TLS, without a token, with a forged one and with that of a device that was
// unpaired.
func TestNoRouteAnswersAStranger(t *testing.T) {
	s, _ := doorServer(t)
	id := openCase(t, s)
	old := pairADevice(t, s, "iPad")
	if err := s.pairing.unpair(s.pairing.list()[0].ID(), nil); err != nil {
		t.Fatal(err)
	}
	tokens := map[string][]*http.Cookie{
		"none": nil, "forged": {{Name: deviceCookie, Value: strings.Repeat("A", 43)}}, "unpaired": old,
	}
	holes := regexp.MustCompile(`\{[^}]*\}`)
	tries := 0
	for _, route := range everyRoute(t) {
		path := holes.ReplaceAllString(strings.ReplaceAll(strings.TrimSuffix(route[1], "{$}"), "{case}", string(id)), "1")
		for _, method := range []string{route[0], "GET", "POST"} {
			for token, list := range tokens {
				for _, change := range [][]func(*http.Request){{}, {overTLS}} {
					all := append(change, from(phoneAddr), cookies(list), host("192.168.7.7:7411"))
					var form url.Values
					if method != "GET" {
						form = url.Values{"by": {"KM"}}
					}
					w := answerTo(s, request(method, path, form, all...))
					tries++
					led := w.Code == http.StatusSeeOther && w.Header().Get("Location") == "/pair"
					if !led && w.Code != http.StatusForbidden || strings.Contains(w.Body.String(), "Windlass") {
						t.Errorf("%s %s, token %s: status %d", method, path, token, w.Code)
					}
				}
			}
		}
	}
	t.Logf("%d requests over %d routes, none answered", tries, len(everyRoute(t)))
}

// TestTheDoorIsAttacked is a table of tries and what comes of each.
func TestTheDoorIsAttacked(t *testing.T) {
	s, clock := doorServer(t)
	openCase(t, s)
	phone := func(change ...func(*http.Request)) []func(*http.Request) {
		return append([]func(*http.Request){from(phoneAddr), host("192.168.7.7:7411"), overTLS}, change...)
	}
	code := func(c string, change ...func(*http.Request)) *httptest.ResponseRecorder {
		clock.forward(between)
		return answerTo(s, request("POST", "/pair", url.Values{"code": {c}}, change...))
	}
	paired := pairADevice(t, s, "iPhone")
	for _, tc := range []struct {
		try  string
		make func() *httptest.ResponseRecorder
		want int
	}{
		{"a code that was used once", func() *httptest.ResponseRecorder {
			used := s.PairingCode()
			if w := code(used, phone()...); w.Code != http.StatusSeeOther {
				t.Fatalf("the code at first: status %d", w.Code)
			}
			return code(used, phone(from("198.51.100.9:1"))...)
		}, 422},
		{"a code that is over", func() *httptest.ResponseRecorder {
			c := s.PairingCode()
			clock.forward(codeFor + time.Second)
			return code(c, phone(from("198.51.100.8:1"))...)
		}, 422},
		{"a guessed code", func() *httptest.ResponseRecorder { return code(wrongCode(s), phone(from("198.51.100.7:1"))...) }, 422},
		{"the right code, in the clear", func() *httptest.ResponseRecorder {
			return code(s.PairingCode(), from(phoneAddr), host("192.168.7.7:7411"))
		}, 403},
		{"the right code from a foreign page", func() *httptest.ResponseRecorder {
			return code(s.PairingCode(), phone(header("Sec-Fetch-Site", "cross-site"))...)
		}, 403},
		{"the right code under a rebound name", func() *httptest.ResponseRecorder {
			return code(s.PairingCode(), phone(host("rebound.example:7411"))...)
		}, 421},
		{"another bench's name", func() *httptest.ResponseRecorder {
			return answerTo(s, request("GET", "/", nil, phone(host("other.local:7411"), cookies(paired))...))
		}, 421},
		{"the bench's name rebound to loopback, in the clear", func() *httptest.ResponseRecorder {
			return answerTo(s, request("GET", "/", nil, host("benchleaf.local:7411")))
		}, 421},
		{"a paired device's token, in the clear", func() *httptest.ResponseRecorder {
			return answerTo(s, request("GET", "/", nil, from(phoneAddr), cookies(paired), header("Accept", "*/*")))
		}, 403},
		{"a paired device from a foreign page", func() *httptest.ResponseRecorder {
			return answerTo(s, request("POST", "/writer", url.Values{"initials": {"KM"}},
				phone(cookies(paired), header("Sec-Fetch-Site", "cross-site"))...))
		}, 403},
		{"a paired device takes another out", func() *httptest.ResponseRecorder {
			other := pairADevice(t, s, "Android")
			id := tokenHash(other[0].Value)[:16]
			return answerTo(s, request("POST", "/studio/devices/unpair", url.Values{"device": {id}}, phone(cookies(paired))...))
		}, 403},
		{"a cut token", func() *httptest.ResponseRecorder {
			cut := []*http.Cookie{{Name: deviceCookie, Value: paired[0].Value[:42]}}
			return answerTo(s, request("GET", "/", nil, phone(cookies(cut), header("Accept", "*/*"))...))
		}, 403},
		{"the hash that is kept of a token, as the token", func() *httptest.ResponseRecorder {
			kept := []*http.Cookie{{Name: deviceCookie, Value: tokenHash(paired[0].Value)}}
			return answerTo(s, request("GET", "/", nil, phone(cookies(kept), header("Accept", "*/*"))...))
		}, 403},
		{"passed on, as from this machine", func() *httptest.ResponseRecorder {
			return answerTo(s, request("GET", "/", nil, header("X-Forwarded-For", "127.0.0.1"), header("Accept", "*/*")))
		}, 403},
		{"the authority's key as a file of the server", func() *httptest.ResponseRecorder {
			return answerTo(s, request("GET", "/pair/authority.pem", nil, from(phoneAddr), header("Accept", "*/*")))
		}, 403},
		{"the certificate, which is for all", func() *httptest.ResponseRecorder {
			return answerTo(s, request("GET", certificatePath, nil, from(phoneAddr)))
		}, 200},
		{"the paired device itself", func() *httptest.ResponseRecorder {
			return answerTo(s, request("GET", "/", nil, phone(cookies(paired))...))
		}, 200},
	} {
		w := tc.make()
		t.Logf("%-55s %d", tc.try, w.Code)
		if w.Code != tc.want {
			t.Errorf("%s: status %d, want %d", tc.try, w.Code, tc.want)
		}
		if w.Code != http.StatusOK && (len(w.Result().Cookies()) > 0 || strings.Contains(w.Body.String(), "Windlass")) {
			t.Errorf("%s: it got a cookie, or a title", tc.try)
		}
	}
	// Who is not seen for as long as its cookie lives is not paired any more.
	clock.forward(pairedFor + time.Hour)
	if w := answerTo(s, request("GET", "/", nil, phone(cookies(paired))...)); w.Code == http.StatusOK {
		t.Error("a token passes that was not used for 400 days")
	}
}

// The key that signs for the bench, and who was paired, stay out of backups.
func TestNoKeyInABackup(t *testing.T) {
	s, _ := doorServer(t)
	openCase(t, s)
	pairADevice(t, s, "iPad")
	file := filepath.Join(t.TempDir(), "backup.zip")
	if err := s.store.Backup(t.Context(), file); err != nil {
		t.Fatal(err)
	}
	z, err := zip.OpenReader(file)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	for _, f := range z.File {
		if strings.Contains(f.Name, "authority") || strings.Contains(f.Name, "devices") {
			t.Errorf("the backup holds %s", f.Name)
		}
	}
}

func TestTheDoorPageHandsOutTheCertificateAlone(t *testing.T) {
	s, _ := doorServer(t)
	w := answerTo(s, request("GET", "/pair", nil, from(phoneAddr), host("192.168.7.7:7411"), header("User-Agent", "iPhone")))
	body := w.Body.String()
	if w.Code != http.StatusOK || !containsAll(body, "https://192.168.7.7:7411/pair", certificatePath, s.authority.Name()) {
		t.Errorf("the page in the clear: status %d", w.Code)
	}
	// The page itself could come from anybody: only the bench's own screen may say
	// which fingerprint is right.
	if strings.Contains(body, s.authority.Fingerprint()) || strings.Contains(body, s.PairingCode()) {
		t.Error("it shows the fingerprint or the code")
	}
	if home := answerTo(s, request("GET", "/", nil)); !strings.Contains(home.Body.String(), s.authority.Fingerprint()) {
		t.Error("the bench's own home page does not show the fingerprint")
	}
	for name := range w.Header() {
		if name == "Strict-Transport-Security" {
			t.Error("HSTS is set: a bench whose certificate is gone would be locked out of its own name")
		}
	}
	crt := answerTo(s, request("GET", certificatePath, nil, from(phoneAddr)))
	if c, err := x509.ParseCertificate(crt.Body.Bytes()); err != nil || !c.IsCA {
		t.Errorf("what is handed out is no certificate of an authority: %v", err)
	}
}

func TestADeviceIsUnpairedAtOnce(t *testing.T) {
	s, clock := doorServer(t)
	list := pairADevice(t, s, "Mozilla/5.0 (iPad)")
	if list[0].Secure != true {
		t.Error("the token is sent in the clear too")
	}
	clock.forward(time.Hour)
	if w := answerTo(s, request("GET", "/studio", nil, from(phoneAddr), overTLS, cookies(list))); w.Code != http.StatusOK {
		t.Fatalf("paired: %d", w.Code)
	}
	page := answerTo(s, request("GET", "/studio/devices", nil)).Body.String()
	if !containsAll(page, "iPad", s.words().Moment(clock.now())) {
		t.Error("the list does not show the device and when it was seen")
	}
	id := tokenHash(list[0].Value)[:16]
	w := answerTo(s, request("POST", "/studio/devices/name", url.Values{"device": {id}, "name": {" Wash  <b>room</b> "}}))
	if page := answerTo(s, request("GET", "/studio/devices", nil)).Body.String(); w.Code != http.StatusSeeOther ||
		!strings.Contains(page, "Wash &lt;b&gt;room") {
		t.Errorf("the name: status %d", w.Code)
	}

	// What is under way ends, and nothing looks like a whole answer.
	under := make(chan struct{})
	mux := http.NewServeMux()
	mux.HandleFunc("GET /stream", func(w http.ResponseWriter, r *http.Request) {
		io.WriteString(w, "begun")
		w.(http.Flusher).Flush()
		close(under)
		<-r.Context().Done()
	})
	stream := s.paired(mux)
	live := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.RemoteAddr = phoneAddr
		stream.ServeHTTP(w, r)
	}))
	defer live.Close()
	r, err := http.NewRequestWithContext(t.Context(), "GET", live.URL+"/stream", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.AddCookie(list[0])
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	<-under
	if w := answerTo(s, request("POST", "/studio/devices/unpair", url.Values{"device": {id}})); w.Code != http.StatusSeeOther {
		t.Fatalf("unpair: status %d", w.Code)
	}
	if body, err := io.ReadAll(res.Body); err == nil {
		t.Errorf("the stream ended well with %q, want it broken off", body)
	}
	if w := answerTo(s, request("GET", "/", nil, from(phoneAddr), overTLS, cookies(list))); w.Code != http.StatusSeeOther {
		t.Errorf("unpaired: status %d, want it led to the pairing page", w.Code)
	}
	// Also after a restart.
	p, err := newPairing(s.store.Dir(), clock.now, nil)
	if err != nil || len(p.devices) != 0 {
		t.Errorf("%d devices after a restart, %v", len(p.devices), err)
	}
	if w := answerTo(s, request("POST", "/studio/devices/unpair", url.Values{"device": {id}})); w.Code != http.StatusConflict {
		t.Errorf("unpaired twice: status %d, want 409", w.Code)
	}
}

func TestADeviceTakesItselfOut(t *testing.T) {
	s, _ := doorServer(t)
	list := pairADevice(t, s, "Android")
	id := tokenHash(list[0].Value)[:16]
	w := answerTo(s, request("POST", "/studio/devices/unpair", url.Values{"device": {id}}, from(phoneAddr), overTLS, cookies(list)))
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/pair" || len(s.pairing.list()) != 0 {
		t.Errorf("status %d to %q, %d devices left", w.Code, w.Header().Get("Location"), len(s.pairing.list()))
	}
}

// TestTLSAtTheSamePort speaks to a real listener: http and https side by side, by
// versions 1.1 and 2, and under names that are not the bench's.
func TestTLSAtTheSamePort(t *testing.T) {
	s, _ := doorServer(t)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, ln) }()
	cert, err := x509.ParseCertificate(s.authority.Certificate())
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(cert)
	at := ln.Addr().String()
	for _, two := range []bool{false, true} {
		tr := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}, ForceAttemptHTTP2: two}
		res, err := (&http.Client{Transport: tr}).Get("https://" + at + "/")
		if err != nil {
			t.Fatalf("https: %v", err)
		}
		if res.StatusCode != http.StatusOK || (res.ProtoMajor == 2) != two {
			t.Errorf("https: %s by %s", res.Status, res.Proto)
		}
		res.Body.Close()
		tr.CloseIdleConnections()
	}
	if res, err := http.Get("http://" + at + "/"); err != nil || res.StatusCode != http.StatusOK {
		t.Errorf("plain http on this machine: %v %v", res, err)
	} else {
		res.Body.Close()
	}
	http.DefaultClient.CloseIdleConnections()
	for name, good := range map[string]bool{
		"benchleaf.local": true, "BENCHLEAF.local": true, "localhost": true, "evil.local": false, "bank.example": false,
	} {
		c, err := tls.Dial("tcp", at, &tls.Config{RootCAs: pool, ServerName: name})
		if err == nil {
			c.Close()
		}
		if (err == nil) != good {
			t.Errorf("TLS under the name %s: %v", name, err)
		}
	}
	// One that says nothing holds nobody up.
	mute, err := net.Dial("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	defer mute.Close()
	if res, err := http.Get("http://" + at + "/pair"); err != nil {
		t.Errorf("beside a mute connection: %v", err)
	} else {
		res.Body.Close()
	}
	http.DefaultClient.CloseIdleConnections()
	stop()
	if err := <-ended; err != nil {
		t.Errorf("Serve ended with %v", err)
	}
}
