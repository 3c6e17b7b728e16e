package web

import (
	"net/http"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// sheetTrayPage is the economy of a tray: how many sheets it serves, and how rinse
// water is used.
type sheetTrayPage struct {
	sheetHead
	Form   *Form
	Answer *account.Economy
	Plots  []plot
}

var sheetTrayView = declare[sheetTrayPage]("sheet_tray")

func (s *Server) sheetTray(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	var q account.EconomyQuestion
	like := len(treatment.LikeSheets(c, sheet))
	f := s.tabForm(r, c, sheet, &q, fills{"sheets": strconv.Itoa(like)})
	p := sheetTrayPage{Form: f}
	if x, _ := tryBath(f, c, sheet); x != nil {
		a, refused, err := account.AnswerOf(r.Context(), x, q, x.Economy)
		if err != nil {
			return err
		}
		if f.take(refused); a != nil {
			p.Answer, p.Plots = a, plotsOf(a.Curves)
		}
	}
	p.sheetHead = s.sheetHead(r, c, sheet, "tray", f)
	return sheetTrayView.show(s, w, r, p)
}

// dryingPage is how the sheet dries, how long it may be mended, and when
// pressing is done.
type dryingPage struct {
	sheetHead
	Form       *Form
	Ways       []record.Choice
	Airs       []record.Choice
	Grains     []record.Choice
	Answer     *account.Drying
	Plots      []plot
	Settled    string
	Window     string // when it may be mended, as it lies now
	Weighed    []account.Fact
	Absorbents bool
}

var dryingView = declare[dryingPage]("sheet_drying")

var (
	dryingWays = []record.Choice{
		{Value: "air", Words: "open, on its support"},
		{Value: "hung", Words: "open on both faces"},
		{Value: "absorbents", Words: "between absorbents"},
	}
	dryingAirs = []record.Choice{{Value: "still", Words: "still room"}, {Value: "moving", Words: "fan or draught"}}
	mendGrains = []record.Choice{
		{Value: "cross", Words: "across the grain"},
		{Value: "machine", Words: "along the grain"},
	}
)

func (s *Server) sheetDrying(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	var q account.DryingQuestion
	f := s.tabForm(r, c, sheet, &q, nil)
	p := dryingPage{Form: f, Ways: dryingWays, Airs: dryingAirs, Grains: mendGrains, Absorbents: q.Way == "absorbents"}
	if p.Absorbents {
		q.ChangesMin = minutesOf(f, "changes")
	} else {
		q.Weighings = weighingsOf(f, "weighings")
	}
	if x, _ := tryBath(f, c, sheet); x != nil {
		a, refused, err := account.AnswerOf(r.Context(), x, q, x.Drying)
		if err != nil {
			return err
		}
		if f.take(refused); a != nil {
			p.Answer, p.Plots = a, plotsOf(a.Curves)
		}
		p.Window = account.WindowNow(c, sheet, s.words(), q.BlottedMin)
		p.Settled, p.Weighed = account.Settled(c, sheet, s.words())
	}
	p.sheetHead = s.sheetHead(r, c, sheet, "drying", f)
	return dryingView.show(s, w, r, p)
}

// weighingsOf reads "0: 13.2, 12: 11.0", minutes and grams.
func weighingsOf(f *Form, field string) [][2]float64 {
	var list [][2]float64
	apart := func(r rune) bool { return strings.ContainsRune(",;\n", r) }
	for _, part := range strings.FieldsFunc(f.Line(field), apart) {
		at, g, _ := strings.Cut(part, ":")
		m, err1 := parseNumber(strings.TrimSpace(at))
		v, err2 := parseNumber(strings.TrimSpace(g))
		if err1 != nil || err2 != nil {
			f.Refuse(field, "The weighings cannot be %q: minutes and grams are expected, as in 0: 13.2, 12: 11.0.",
				clip(f.Line(field)))
			return nil
		}
		list = append(list, [2]float64{m, v})
	}
	return list
}

// ageingPage is the expected course in years, without and with the tried bath.
type ageingPage struct {
	sheetHead
	Form   *Form
	Answer *account.Ageing
	Plots  []plot
}

var ageingView = declare[ageingPage]("sheet_ageing")

func (s *Server) sheetAgeing(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	var q account.AgeingQuestion
	f := s.tabForm(r, c, sheet, &q, fills{"ph_before": plainNumber(account.PHBefore(c, sheet))})
	p := ageingPage{Form: f}
	if x, _ := tryBath(f, c, sheet); x != nil {
		a, err := x.Ageing(r.Context(), q)
		switch {
		case r.Context().Err() != nil:
			return err
		case err != nil:
			f.fails("", err)
		default:
			p.Answer, p.Plots = a, plotsOf(a.Curves)
		}
	}
	p.sheetHead = s.sheetHead(r, c, sheet, "ageing", f)
	return ageingView.show(s, w, r, p)
}
