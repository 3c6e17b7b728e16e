package web

import (
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"
)

// protect wraps all that the server answers: the headers that keep a page to
// its own, the host's name, the origin of writes, and the pairing.
func (s *Server) protect(next http.Handler) http.Handler {
	origin := http.NewCrossOriginProtection()
	origin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Error(w, "This was sent from a page that is not benchleaf's: nothing was done.", http.StatusForbidden)
	}))
	inner := origin.Handler(s.paired(next))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if !s.hostAllowed(r.Host) {
			http.Error(
				w,
				"This bench does not answer to that name. Open it by the address that the bench machine shows.",
				http.StatusMisdirectedRequest,
			)
			return
		}
		inner.ServeHTTP(w, r)
	})
}

// policy lets a page load nothing but the program's own files, and pictures
// that its own code made.
const policy = "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; base-uri 'none'; form-action " +
	"'self'; frame-ancestors 'none'"

// hostAllowed refuses names by which a foreign page could reach the bench: a
// name that its owner suddenly points at this machine (DNS rebinding). An
// address cannot be pointed elsewhere, so addresses are welcome.
func (s *Server) hostAllowed(host string) bool {
	name := host
	if h, port, err := net.SplitHostPort(host); err == nil {
		if _, err := strconv.ParseUint(port, 10, 16); err != nil {
			return false
		}
		name = h
	}
	name = strings.ToLower(strings.Trim(name, "[]"))
	return name == "localhost" || net.ParseIP(name) != nil || slices.Contains(s.hosts, name)
}
