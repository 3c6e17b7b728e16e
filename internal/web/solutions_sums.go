package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// The plain calculations: they need no case, no shelf and write nothing.

// strengthPage converts a strength into every unit that makes sense.
type strengthPage struct {
	Page
	Form       *Form
	Substances []string
	Answer     account.Strengths
}

var strengthView = declare[strengthPage]("strength")

func (s *Server) strengthPage(w http.ResponseWriter, r *http.Request) error {
	var q account.StrengthQuestion
	p := strengthPage{Page: s.solutionsPage(r, "Strengths", "strength"), Form: s.asked(r, "strength", &q)}
	p.Substances = account.SubstanceNames()
	a, refused := account.StrengthsOf(q)
	if p.Form.take(refused); len(p.Form.Refused) == 0 {
		p.Answer = a
	}
	return strengthView.show(s, w, r, p)
}

// hydrogenPage is the gas of a borohydride bath, and the air that it needs.
type hydrogenPage struct {
	Page
	Form     *Form
	Hydrides []record.Choice
	Gas      *account.Gas
	Caution  *Caution
}

var hydrogenView = declare[hydrogenPage]("hydrogen")

func (s *Server) hydrogenPage(w http.ResponseWriter, r *http.Request) error {
	var q account.HydrogenQuestion
	p := hydrogenPage{Page: s.solutionsPage(r, "Hydrogen", "hydrogen"), Form: s.asked(r, "hydrogen", &q)}
	p.Hydrides = account.Hydrides()
	gas, refused := account.HydrogenOf(q)
	if p.Form.take(refused); len(p.Form.Refused) == 0 {
		p.Gas, p.Caution = &gas, &Caution{Title: "Hydrogen", Points: gas.Cautions, Grave: true}
	}
	return hydrogenView.show(s, w, r, p)
}

// vapourPage is the vapour of a surface wet with a solvent.
type vapourPage struct {
	Page
	Form     *Form
	Solvents []record.Choice
	Vapour   *account.Vapour
	Caution  *Caution
}

var vapourView = declare[vapourPage]("vapour")

func (s *Server) vapourPage(w http.ResponseWriter, r *http.Request) error {
	var q account.VapourQuestion
	p := vapourPage{Page: s.solutionsPage(r, "Solvent vapour", "vapour"), Form: s.asked(r, "vapour", &q)}
	p.Solvents = account.Solvents()
	v, refused := account.VapourOf(q)
	if p.Form.take(refused); len(p.Form.Refused) == 0 {
		p.Vapour, p.Caution = &v, &Caution{Title: "Solvents", Points: v.Cautions, Grave: true}
	}
	return vapourView.show(s, w, r, p)
}

// trayPage is the liquid that covers a sheet in a tray.
type trayPage struct {
	Page
	Form *Form
	Fill account.TrayFill
}

var trayView = declare[trayPage]("tray")

func (s *Server) trayPage(w http.ResponseWriter, r *http.Request) error {
	var q account.TrayQuestion
	p := trayPage{Page: s.solutionsPage(r, "Tray", "tray"), Form: s.asked(r, "tray", &q)}
	if len(p.Form.Refused) == 0 {
		var err error
		if p.Fill, err = account.FillTray(q); err != nil {
			p.Form.fails("", err)
		}
	}
	return trayView.show(s, w, r, p)
}

// togetherPage says what happens when things meet.
type togetherPage struct {
	Page
	Form   *Form
	Names  []string
	Things []record.Choice
	Found  []account.Meeting
	// Harmless says why nothing dangerous is known of the others.
	Harmless []account.Sentence
	Asked    bool
}

var togetherView = declare[togetherPage]("together")

func (s *Server) togetherPage(w http.ResponseWriter, r *http.Request) error {
	f := s.askedFor(r, "together", nil)
	p := togetherPage{Page: s.solutionsPage(r, "What must not mix", "together"), Form: f}
	p.Names, p.Things = account.SubstanceNames(), account.Things()
	var names []string
	for _, field := range []string{"first", "second", "third"} {
		if v := f.Line(field); v != "" {
			f.take(account.KnownSubstance(field, v))
			names = append(names, v)
		}
	}
	if names = append(names, f.List("things")...); len(names) > 1 && len(f.Refused) == 0 {
		var err error
		if p.Found, err = account.Meetings(account.Named(names...)...); err != nil {
			f.fails("", err)
		} else {
			p.Asked, p.Harmless = true, account.Harmless(names...)
		}
	}
	return togetherView.show(s, w, r, p)
}

// limePage is lime against temperature, and against time in an open tray.
type limePage struct {
	Page
	Form   *Form
	Plots  []plot
	Answer account.LimeTray
	Airs   []record.Choice
}

var limeView = declare[limePage]("lime")

var trayAirs = []record.Choice{
	{Value: "still", Words: "closed room, no fan"},
	{Value: "draught", Words: "fan, hood or open window"},
}

func (s *Server) limePage(w http.ResponseWriter, r *http.Request) error {
	var q account.LimeTrayQuestion
	p := limePage{Page: s.solutionsPage(r, "Lime in the tray", "lime"), Form: s.asked(r, "lime", &q), Airs: trayAirs}
	if len(p.Form.Refused) == 0 {
		var err error
		if p.Answer, err = account.LimeInTray(q); err != nil {
			p.Form.fails("", err)
		}
		p.Plots = plotsOf(p.Answer.Curves)
	}
	return limeView.show(s, w, r, p)
}

// rinsePage is what a rinse of a conductivity still holds.
type rinsePage struct {
	Page
	Form   *Form
	Rinsed []record.Choice
	Left   account.RinseLeft
}

var rinseView = declare[rinsePage]("rinse")

func (s *Server) rinsePage(w http.ResponseWriter, r *http.Request) error {
	var q account.RinseQuestion
	p := rinsePage{Page: s.solutionsPage(r, "Rinse", "rinse"), Form: s.asked(r, "rinse", &q), Rinsed: account.Rinsed}
	if len(p.Form.Refused) == 0 {
		left, refused := account.LeftInRinse(q)
		if p.Form.take(refused); len(p.Form.Refused) == 0 {
			p.Left = left
		}
	}
	return rinseView.show(s, w, r, p)
}

// matchPage is a water of a pH and a conductivity.
type matchPage struct {
	Page
	Form    *Form
	Pairs   []record.Choice
	Answer  account.MatchedWater
	Caution *Caution
}

var matchView = declare[matchPage]("match")

func (s *Server) matchPage(w http.ResponseWriter, r *http.Request) error {
	var q account.MatchQuestion
	p := matchPage{Page: s.solutionsPage(r, "Matched water", "match"), Form: s.asked(r, "match", &q),
		Pairs: account.MatchPairs()}
	if len(p.Form.Refused) == 0 {
		a, refused := account.MatchWater(q)
		if p.Form.take(refused); len(p.Form.Refused) == 0 {
			p.Answer, p.Caution = a, &Caution{Title: "Handling", Points: a.Cautions}
		}
	}
	return matchView.show(s, w, r, p)
}

// carbonatePage is bicarbonate made with carbon dioxide.
type carbonatePage struct {
	Page
	Form    *Form
	Solids  []record.Choice
	Answer  account.CarbonateAnswer
	Caution *Caution
}

var carbonateView = declare[carbonatePage]("carbonate")

func (s *Server) carbonatePage(w http.ResponseWriter, r *http.Request) error {
	var q account.CarbonateQuestion
	p := carbonatePage{Page: s.solutionsPage(r, "Bicarbonate by gas", "carbonate"), Form: s.asked(r, "carbonate", &q),
		Solids: account.Suspensions}
	if len(p.Form.Refused) == 0 {
		a, refused := account.CarbonateWater(q)
		if p.Form.take(refused); len(p.Form.Refused) == 0 {
			p.Answer, p.Caution = a, &Caution{Title: "Gas under pressure", Points: a.Cautions, Grave: true}
		}
	}
	return carbonateView.show(s, w, r, p)
}

// chelatePage is what a bath of a chelator holds.
type chelatePage struct {
	Page
	Form      *Form
	Chelators []record.Choice
	Answer    account.ChelateAnswer
	Caution   *Caution
}

var chelateView = declare[chelatePage]("chelate")

func (s *Server) chelatePage(w http.ResponseWriter, r *http.Request) error {
	var q account.ChelateQuestion
	p := chelatePage{Page: s.solutionsPage(r, "Chelators", "chelate"), Form: s.asked(r, "chelate", &q),
		Chelators: account.Chelators}
	if len(p.Form.Refused) == 0 {
		a, refused := account.ChelateBath(q)
		if p.Form.take(refused); len(p.Form.Refused) == 0 {
			p.Answer, p.Caution = a, &Caution{Title: "What goes with the stain", Points: a.Cautions}
		}
	}
	return chelateView.show(s, w, r, p)
}
