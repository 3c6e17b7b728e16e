package web

import (
	"net/http"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// studioWithdrawPage asks for the reason: an entry is never taken away without
// one.
type studioWithdrawPage struct {
	Page
	Form  *Form
	Lines []account.Line
}

var studioWithdrawView = declare[studioWithdrawPage]("studio_withdraw")

func (s *Server) studioWithdrawPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	f := s.form(r, "withdraw", st.LastSeq, fills{"back": q.Get("back")})
	f.Set("back", backOr(f, "/studio"))
	if len(f.List("entry")) == 0 {
		f.values["entry"] = q["entry"]
	}
	list, err := studioEntries(st, f)
	if err != nil {
		return err
	}
	p := studioWithdrawPage{Page: s.studioSub(r, "Withdraw an entry"), Form: f}
	if len(list) > 1 {
		p.Title = "Withdraw " + plural(len(list), "entry", "entries")
	}
	for _, n := range list {
		p.Lines = append(p.Lines, account.Tell(nil, &st.Log[n-1], s.words()))
	}
	return studioWithdrawView.show(s, w, r, p)
}

// studioEntries are the entries that a form names.
func studioEntries(st *record.Studio, f *Form) ([]int64, error) {
	var list []int64
	for _, v := range f.List("entry") {
		n, err := strconv.ParseInt(v, 10, 64)
		if err != nil || n < 1 || n > int64(len(st.Log)) {
			return nil, record.Invalidf("entry", "There is no entry %q in the studio’s journal.", clip(v))
		}
		list = append(list, n)
	}
	const most = 100
	if len(list) == 0 || len(list) > most {
		return nil, record.Invalidf("entry", "No entry is named that could be withdrawn.")
	}
	slices.Sort(list)
	return slices.Compact(list), nil
}

func (s *Server) studioWithdraw(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "withdraw")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	list, err := studioEntries(st, f)
	if err != nil {
		return err
	}
	var its []record.Item
	for _, n := range slices.Backward(list) {
		its = append(its, record.Item{Body: record.Withdrawn{Reason: f.Text("reason")}, Corrects: n})
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: its,
			To:    backOr(f, "/studio"),
			Said:  "Withdrawn. It stays in the log of the studio, struck through.",
		},
		s.studioWithdrawPage,
	)
}
