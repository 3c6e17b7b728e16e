package web

import (
	"net/http"
	"net/url"
	"strings"
	"unicode"

	"benchleaf/internal/record"
)

// writerCookie keeps on each device whose initials it writes with. It is no
// proof of who it is: the record holds what people say of themselves.
const writerCookie = "benchleaf_by"

func writerOf(r *http.Request) string {
	c, err := r.Cookie(writerCookie)
	if err != nil {
		return ""
	}
	by, err := url.QueryUnescape(c.Value)
	if err != nil || !initials(by) {
		return ""
	}
	return by
}

// initials says whether s may stand as initials in the record.
func initials(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) &&
		record.Validate(record.Person{Initials: s, Name: s}) == nil
}

// notInitials says what would be right.
const notInitials = "Initials are a few letters without blanks, as in KM."

func (s *Server) rememberWriter(w http.ResponseWriter, by string) {
	if !initials(by) {
		return
	}
	http.SetCookie(
		w,
		&http.Cookie{
			Name:     writerCookie,
			Value:    url.QueryEscape(by),
			Path:     "/",
			MaxAge:   365 * 24 * 3600,
			HttpOnly: true,
			SameSite: http.SameSiteStrictMode,
		},
	)
}

func (s *Server) routesWriter(mux *http.ServeMux) {
	mux.Handle("POST /writer", s.do(s.writerSave))
	mux.Handle("GET /clock", http.HandlerFunc(s.clock))
}

// writerSave sets who writes on this device.
func (s *Server) writerSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "writer")
	if err != nil {
		return err
	}
	by := strings.ToUpper(f.Line("initials"))
	if !initials(by) {
		return record.Invalidf("initials", notInitials)
	}
	s.rememberWriter(w, by)
	http.Redirect(w, r, backOf(f.Line("back")), http.StatusSeeOther)
	return nil
}

// clock tells the server's time, by which the clocks on pages go.
func (s *Server) clock(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.Write([]byte(s.now().UTC().Format("2006-01-02T15:04:05.000Z")))
}
