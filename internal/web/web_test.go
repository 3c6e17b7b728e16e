package web

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// testClock is a clock that a test moves.
type testClock struct{ t time.Time }

func (c *testClock) now() time.Time          { return c.t }
func (c *testClock) forward(d time.Duration) { c.t = c.t.Add(d) }

// newServer makes a server on an empty data folder.
func newServer(t *testing.T) (*Server, *testClock) {
	t.Helper()
	return serverOn(t, t.TempDir())
}

func serverOn(t testing.TB, dir string) (*Server, *testClock) {
	t.Helper()
	st, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	clock := &testClock{time.Date(2031, 5, 9, 18, 30, 0, 0, time.UTC)}
	st.Now = clock.now
	s, err := New(
		Config{
			Store:   st,
			Now:     clock.now,
			Zone:    time.UTC,
			Log:     slog.New(slog.NewTextHandler(io.Discard, nil)),
			Version: "test",
		},
	)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s, clock
}

// openCase opens a case as KM.
func openCase(t *testing.T, s *Server) record.CaseID {
	t.Helper()
	id := record.NewCaseID(s.now())
	_, err := s.store.Append(
		t.Context(),
		record.Draft{
			Case:  id,
			By:    "KM",
			Zone:  "UTC",
			Items: items(record.Opened{Number: "31-07", Title: "The Windlass Monthly"}),
		},
	)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// request is one from a browser on this machine; change alters it.
func request(method, path string, form url.Values, change ...func(*http.Request)) *http.Request {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, path, body)
	r.Host, r.RemoteAddr = "127.0.0.1:8080", "127.0.0.1:50000"
	r.Header.Set("Accept", "text/html")
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	for _, f := range change {
		f(r)
	}
	return r
}

func from(addr string) func(*http.Request) { return func(r *http.Request) { r.RemoteAddr = addr } }
func header(k, v string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(k, v) }
}
func cookies(list []*http.Cookie) func(*http.Request) {
	return func(r *http.Request) {
		for _, c := range list {
			r.AddCookie(c)
		}
	}
}

func answerTo(s *Server, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	return w
}

// answerWith is what one handler answers, without the rest of the server.
func answerWith(h http.Handler, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func netipFrom4(a [4]byte) netip.Addr { return netip.AddrFrom4(a) }

func benchServer(b *testing.B) *Server {
	b.Helper()
	s, _ := serverOn(b, b.TempDir())
	return s
}

func containsAll(text string, parts ...string) bool {
	for _, p := range parts {
		if !strings.Contains(text, p) {
			return false
		}
	}
	return true
}
