package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesResults(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/results", s.doCase(s.results))
}

// resultsPage lays before beside after: pictures, readings, damages.
type resultsPage struct {
	Page
	C           *record.Case
	Faces       []facePair
	Shown       *faceView
	Rows        []account.Compared
	Legend      string // what ± means
	Left        []account.Left
	Added       []account.Change
	Removed     []account.Change
	Departures  []account.Departure
	Unread      []string
	Damages     []account.Damage
	ReadingForm *Form
	Quantities  []quantityTab
	Methods     []record.Choice
	Measured    string // where readings lie beside what was expected
}

var resultsView = declare[resultsPage]("results")

func (s *Server) results(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := resultsPage{Page: s.casePage(r, c, "results"), C: c, Faces: faces(c)}
	if i := faceAsked(p.Faces, r.URL.Query()); i >= 0 {
		p.Faces[i].On = true
		p.Shown = s.faceView(r, c, &p.Faces[i])
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p.Rows, p.Legend = account.CompareReadings(c, st), account.Uncertainty
	p.Left, p.Added, p.Removed = account.InPaper(r.Context(), c), account.Added(c), account.Removed(c, s.words())
	p.Departures, p.Unread = account.Departures(c), account.Unread(c)
	p.Measured = firstMeasured(c)
	p.Damages = account.Damages(c)
	p.ReadingForm = s.readingForm(r, c, st, objectQuantities, record.StageAfter)
	p.Quantities = quantityTabs(p.ReadingForm, objectQuantities, casePath(c.ID, "results"))
	p.Methods = methodsOf(p.ReadingForm)
	return resultsView.show(s, w, r, p)
}
