package web

import (
	"net/http"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesWithdraw(mux *http.ServeMux) {
	mux.Handle("POST /cases/{case}/withdraw", s.doCase(s.withdraw))
	mux.Handle("GET /cases/{case}/withdraw", s.doCase(s.withdrawPage))
}

// withdrawPage asks for the reason: an entry is never taken away without one.
type withdrawPage struct {
	Page
	Form *Form
	Line account.Line
}

var withdrawView = declare[withdrawPage]("withdraw")

func (s *Server) withdrawPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f := s.form(
		r,
		"withdraw",
		c.LastSeq,
		map[string]string{"entry": r.URL.Query().Get("entry"), "back": r.URL.Query().Get("back")},
	)
	f.Set("back", backOr(f, casePath(c.ID, "log")))
	n, err := entryOf(c, f)
	if err != nil {
		return err
	}
	p := withdrawPage{Page: s.casePage(r, c, ""), Form: f, Line: account.Tell(c, &c.Log[n-1], s.words())}
	p.Title = "Withdraw an entry"
	return withdrawView.show(s, w, r, p)
}

func entryOf(c *record.Case, f *Form) (int64, error) {
	n, err := strconv.ParseInt(f.Line("entry"), 10, 64)
	if err != nil || n < 1 || n > c.LastSeq {
		return 0, record.Invalidf("entry", "There is no entry %q in this journal.", clip(f.Line("entry")))
	}
	return n, nil
}

func (s *Server) withdraw(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "withdraw")
	if err != nil {
		return err
	}
	n, err := entryOf(c, f)
	if err != nil {
		return err
	}
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: []record.Item{{Body: record.Withdrawn{Reason: f.Text("reason")}, Corrects: n}},
		To: backOr(
			f,
			casePath(c.ID, "log"),
		), Said: "Withdrawn. Entry " + strconv.FormatInt(n, 10) + " stays in the log, struck through.",
	}, s.inCase(s.withdrawPage))
}

// item is a body, in the place of the entry that the form corrects, if any.
func item(f *Form, b record.Body) record.Item {
	typed := f.Line("corrects") // none: a new entry
	n, err := strconv.ParseInt(typed, 10, 64)
	if typed != "" && (err != nil || n < 1) {
		f.Refuse("", "There is no entry %q to correct: load the page again.", clip(typed))
	}
	return record.Item{Body: b, Corrects: n}
}

// correcting is the entry that the address asks to correct, 0 when none.
func correcting(r *http.Request, name string) int64 {
	q := r.URL.Query()
	if q.Get("correct") != name {
		return 0
	}
	n, _ := strconv.ParseInt(q.Get("entry"), 10, 64)
	return n
}
