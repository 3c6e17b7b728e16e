package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

func TestHeadersKeepAPageToItsOwn(t *testing.T) {
	s, _ := newServer(t)
	w := answerTo(s, request("GET", "/", nil))
	for name, want := range map[string]string{
		"Content-Security-Policy": "default-src 'self'",
		"X-Content-Type-Options":  "nosniff",
		"Referrer-Policy":         "same-origin",
	} {
		if got := w.Header().Get(name); !strings.Contains(got, want) {
			t.Errorf("%s is %q, want %q in it", name, got, want)
		}
	}
	if policy := w.Header().Get("Content-Security-Policy"); strings.Contains(policy, "unsafe") {
		t.Errorf("the policy %q allows what it should not", policy)
	}
}

func TestHostNames(t *testing.T) {
	s, _ := newServer(t)
	s.hosts = []string{"bench.example"}
	for host, want := range map[string]int{
		"127.0.0.1:8080":        http.StatusOK,
		"localhost:8080":        http.StatusOK,
		"LOCALHOST":             http.StatusOK,
		"[::1]:8080":            http.StatusOK,
		"192.0.2.7:8080":        http.StatusOK,
		"bench.example:8080":    http.StatusOK,
		"rebound.example:8080":  http.StatusMisdirectedRequest,
		"localhost.example":     http.StatusMisdirectedRequest,
		"127.0.0.1.example:80":  http.StatusMisdirectedRequest,
		"":                      http.StatusMisdirectedRequest,
		"localhost:80@evil.org": http.StatusMisdirectedRequest,
	} {
		w := answerTo(s, request("GET", "/", nil, func(r *http.Request) { r.Host = host }))
		if w.Code != want {
			t.Errorf("host %q: status %d, want %d", host, w.Code, want)
		}
	}
}

func TestWritesFromOtherPagesAreRefused(t *testing.T) {
	s, _ := newServer(t)
	form := url.Values{"initials": {"KM"}}
	for _, tc := range []struct {
		name   string
		change []func(*http.Request)
		want   int
	}{
		{"the bench's own page", nil, http.StatusSeeOther},
		{"another site", []func(*http.Request){header("Sec-Fetch-Site", "cross-site")}, http.StatusForbidden},
		{"another port of this machine", []func(*http.Request){header("Sec-Fetch-Site", "same-site")}, http.StatusForbidden},
		{"an older browser on another site", []func(*http.Request){header("Sec-Fetch-Site", ""), header("Origin", "http://evil.example")}, http.StatusForbidden},
		{"an older browser on the bench's page", []func(*http.Request){header("Sec-Fetch-Site", ""), header("Origin", "http://127.0.0.1:8080")}, http.StatusSeeOther},
	} {
		w := answerTo(s, request("POST", "/writer", form, tc.change...))
		if w.Code != tc.want {
			t.Errorf("%s: status %d, want %d", tc.name, w.Code, tc.want)
		}
	}
}

func TestPanicsBecomeAPlainPage(t *testing.T) {
	s, _ := newServer(t)
	w := answerWith(
		s.do(func(http.ResponseWriter, *http.Request) error { panic("a fault of ours") }),
		request("GET", "/x", nil),
	)
	if w.Code != http.StatusInternalServerError {
		t.Errorf("status %d, want 500", w.Code)
	}
	if body := w.Body.String(); strings.Contains(body, "a fault of ours") ||
		!strings.Contains(body, "nothing was saved") {
		t.Errorf("the page must say one plain line and nothing of the inside: %s", body)
	}
}

func TestAnAddressOfNothing(t *testing.T) {
	s, _ := newServer(t)
	for _, path := range []string{"/nothing", "/cases/0123456789abcdef", "/cases/studio", "/cases/..%2f..%2fx"} {
		if w := answerTo(s, request("GET", path, nil)); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d, want 404", path, w.Code)
		}
	}
}
