package web

import (
	"net/http"
	"time"
)

type pairing struct{}

func newPairing(dir string, now func() time.Time, changed func(string)) (*pairing, error) {
	return &pairing{}, nil
}
func (p *pairing) codeNow() string                      { return "" }
func (s *Server) paired(next http.Handler) http.Handler { return next }
func (s *Server) routesPairing(mux *http.ServeMux)      {}
