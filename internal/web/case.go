package web

import (
	"net/http"

	"benchleaf/internal/record"
)

func (s *Server) routesCase(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}", s.doCase(s.caseOpen))
}

// caseOpen goes to the place of the case where the work is.
func (s *Server) caseOpen(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	http.Redirect(w, r, casePath(c.ID, placeOfWork(c)), http.StatusSeeOther)
	return nil
}

// placeOfWork is the furthest place that the case has come to.
func placeOfWork(c *record.Case) string {
	consent, _ := c.Consented()
	switch {
	case c.Closed != nil:
		return "papers"
	case len(c.OpenRuns()) > 0, consent != nil, len(c.Runs) > 0:
		return "bench"
	case len(c.Proposals) > 0:
		return "proposal"
	}
	return "examination"
}
