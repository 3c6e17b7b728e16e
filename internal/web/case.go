package web

import (
	"net/http"
	"strconv"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesCase(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}", s.doCase(s.caseOpen))
	mux.Handle("GET /cases/{case}/since/{seq}", s.doCase(s.caseSince))
	mux.Handle("GET /cases/{case}/events/{seq}", s.doCase(s.caseEvents))
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

// caseSince tells a page how much was written since the entry that it knows,
// and by whom.
func (s *Server) caseSince(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	seq, err := strconv.ParseInt(r.PathValue("seq"), 10, 64)
	if err != nil || seq < 0 || seq > c.LastSeq {
		return store.ErrNotFound
	}
	return tell(w, http.StatusOK, s.toldSince(c, seq))
}
