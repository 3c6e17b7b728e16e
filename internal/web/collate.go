package web

import (
	"net/http"
	"net/url"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesCollate(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/collate", s.doCase(s.collatePage))
	mux.Handle("POST /cases/{case}/collate", s.doCase(s.collateSave))
}

type collationRow struct {
	record.Stamped[record.Collation]
	Says []string
}

// collatePage goes through the object leaf after leaf. The answers so far stand in
// the address, so that going back takes the last one back.
type collatePage struct {
	Page
	C       *record.Case
	Walk    *account.Walk
	Result  *account.Collated
	Apart   bool
	Answers []string
	Former  string // the address one answer before
	Form    *Form
}

var collateView = declare[collatePage]("collate")

func (s *Server) collatePage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	q := r.URL.Query()
	if r.Method == http.MethodPost {
		q = r.PostForm
	}
	p := collatePage{
		Page: s.casePage(r, c, "make-up"), C: c, Apart: q.Get("apart") != "",
		Answers: answersIn(q["a"], q.Get("instead"), q.Get("else")),
	}
	p.Title = "Collate"
	p.Walk = account.WalkThrough(c, p.Apart, p.Answers)
	if q.Has("rest") { // nothing comes any more
		for p.Walk.Next != nil {
			p.Answers = append(p.Answers, account.AnswerNo)
			p.Walk = account.WalkThrough(c, p.Apart, p.Answers)
		}
	}
	if n := len(p.Answers); n > 0 {
		p.Former = collateAddress(c, p.Apart, p.Answers[:n-1])
	}
	if p.Walk.Next == nil && len(p.Walk.Found) > 0 {
		result := account.CollatedOf(c, p.Walk.Found)
		p.Result = &result
	}
	p.Form = s.bodyForm(r, "collation", c.LastSeq, record.Collation{}, false, nil)
	return collateView.show(s, w, r, p)
}

// answersIn are the answers so far with the one just given, which names what is
// there instead: something of the make-up, or in words.
func answersIn(list []string, instead, words string) []string {
	const most = 4 * (record.MaxSheets + 1)
	if words = strings.TrimSpace(words); words != "" {
		instead = account.AnswerElse + clip(words)
	}
	if instead != "" {
		list = append(list, instead)
	}
	return list[:min(len(list), most)]
}

func collateAddress(c *record.Case, apart bool, answers []string) string {
	q := url.Values{"a": answers}
	if apart {
		q.Set("apart", "yes")
	}
	return casePath(c.ID, "collate") + "?" + q.Encode()
}

// collateSave records what was found, as it was found.
func (s *Server) collateSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "collation")
	if err != nil {
		return err
	}
	walk := account.WalkThrough(c, f.Tick("apart"), answersIn(f.List("a"), "", ""))
	if walk.Next != nil || len(walk.Found) == 0 {
		f.Refuse("", "It was not gone through to the end: answer for each leaf, or say that nothing comes any more.")
	}
	result := account.CollatedOf(c, walk.Found)
	b := record.Collation{
		When: record.CollationTime(f.Line("collation_when")), At: f.At(),
		SheetsCounted: result.Sheets, InOrder: result.InOrder,
		CreepMm: f.MaybeNumber("creep_mm", "the creep"), Findings: f.Text("findings"), Found: walk.Found,
	}
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: items(b), To: casePath(c.ID, "make-up"), Said: account.Said(c, b) + ".",
	}, s.inCase(s.collatePage))
}
