package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesTissue(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/tissue", s.doCase(s.tissuePage))
}

// tissuePage is what the mends of an object take: tissue, paste, time.
type tissuePage struct {
	Page
	C       *record.Case
	Mending account.Mending
	Form    *Form
}

var tissueView = declare[tissuePage]("tissue")

func (s *Server) tissuePage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := tissuePage{Page: s.casePage(r, c, "condition"), C: c, Mending: account.MendingOf(c)}
	p.Title = "Tissue for the mends"
	b := record.MendPlan{}
	if c.MendPlan != nil {
		b = c.MendPlan.Body
	}
	p.Form = s.bodyForm(r, "mend-plan", c.LastSeq, b, c.MendPlan != nil, nil)
	return tissueView.show(s, w, r, p)
}
