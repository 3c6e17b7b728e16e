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
	inner := origin.Handler(s.encrypted(s.paired(next)))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if !s.hostAllowed(r.Host) && !s.nameAllowed(r) {
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
	name := hostName(host)
	return name == "localhost" || net.ParseIP(name) != nil || slices.Contains(s.hosts, name)
}

// nameAllowed takes the bench's own names under .local. Anybody in the network
// can answer to such a name and then point it at this machine, but cannot have a
// certificate for it; without one they lead no further than to the pairing page,
// and on this machine, where no code is asked, nowhere.
func (s *Server) nameAllowed(r *http.Request) bool {
	return slices.Contains(s.names, hostName(r.Host)) && (r.TLS != nil || s.authority != nil && !fromHere(r))
}

// hostName is a host without its port, in small letters; "" where the port is
// none.
func hostName(host string) string {
	name := host
	if h, port, err := net.SplitHostPort(host); err == nil {
		if _, err := strconv.ParseUint(port, 10, 16); err != nil {
			return ""
		}
		name = h
	}
	return strings.ToLower(strings.Trim(name, "[]"))
}
