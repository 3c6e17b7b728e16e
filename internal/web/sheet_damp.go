package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// washingPage sets the ways to wash a sheet beside each other.
type washingPage struct {
	sheetHead
	Form   *Form
	Answer *account.Washing
}

var washingView = declare[washingPage]("sheet_washing")

func (s *Server) sheetWashing(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	var q account.WashingQuestion
	f := s.tabForm(r, c, sheet, &q, nil)
	p := washingPage{Form: f}
	if x, _ := tryBath(f, c, sheet); x != nil {
		a, err := x.Washing(q)
		if err != nil {
			f.fails("", err)
		} else {
			p.Answer = a
		}
	}
	p.sheetHead = s.sheetHead(r, c, sheet, "washing", f)
	return washingView.show(s, w, r, p)
}

// humidityPage is how a sheet takes up moisture in a chamber.
type humidityPage struct {
	sheetHead
	Form                 *Form
	Dampers, Airs, Faces []record.Choice
	Answer               *account.Humidified
	Plots                []plot
	Caution              Caution
}

var humidityView = declare[humidityPage]("sheet_humidity")

var (
	chamberAirs  = []record.Choice{{Value: "still", Words: "still"}, {Value: "moving", Words: "fan"}}
	chamberFaces = []record.Choice{
		{Value: "both", Words: "open on both faces"}, {Value: "one", Words: "on a tight support"},
	}
)

func (s *Server) sheetHumidity(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	var q account.HumidityQuestion
	f := s.tabForm(r, c, sheet, &q, nil)
	p := humidityPage{Form: f, Dampers: account.Dampers(), Airs: chamberAirs, Faces: chamberFaces, Caution: Caution{
		Title: "Damp paper", Points: []string{
			"Not with active mould, water-soluble inks or stacked coated sheets; stop at tack or bleed.",
			"No drip from the lid: slope it or line it with blotter. Keep salt solutions off the sheet.",
		},
	}}
	if x, _ := tryBath(f, c, sheet); x != nil {
		a, err := x.Humidified(q)
		if err != nil {
			f.fails("", err)
		} else {
			p.Answer, p.Plots = a, plotsOf(a.Curves)
		}
	}
	p.sheetHead = s.sheetHead(r, c, sheet, "humidity", f)
	return humidityView.show(s, w, r, p)
}
