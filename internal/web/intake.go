package web

import (
	"fmt"
	"net/http"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesIntake(mux *http.ServeMux) {
	mux.Handle("GET /cases/new", s.do(s.intake))
	mux.Handle("POST /cases", s.do(s.intakeSave))
}

// intakePage takes an object in: what a phone can answer at the door.
type intakePage struct {
	Page
	Form *Form
}

var intakeView = declare[intakePage]("intake")

func (s *Server) intake(w http.ResponseWriter, r *http.Request) error {
	fill := fills{"moisture": "", "currency": "EUR"}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	if st.Details != nil {
		fill["currency"] = st.Details.Currency
	}
	if fill["number"], err = s.nextNumber(r); err != nil {
		return err
	}
	p := intakePage{Page: s.page(r, "New case"), Form: s.form(r, "intake", 0, fill)}
	p.Section = "cases"
	return intakeView.show(s, w, r, p)
}

// nextNumber offers a case number: the year, and one more than the cases so
// far, further on where that is taken.
func (s *Server) nextNumber(r *http.Request) (string, error) {
	open, closed, err := s.store.Count(r.Context())
	if err != nil {
		return "", err
	}
	year := s.now().In(s.zone).Year()
	for n := open + closed + 1; ; n++ {
		number := fmt.Sprintf("%d-%03d", year, n)
		taken, err := s.store.List(r.Context(), store.Filter{Text: number, Limit: 1})
		if err != nil || len(taken) == 0 {
			return number, err
		}
	}
}

func (s *Server) intakeSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "intake")
	if err != nil {
		return err
	}
	f.Seq = 0
	id := record.CaseID(f.ID(0))
	at := f.At()
	list := items(
		record.Opened{Number: f.Line("number"), Title: f.Line("title"), Purpose: f.Text("purpose")},
		record.Identity{Title: f.Line("title"), Issue: f.Line("issue"), DateMade: f.Line("date_made")},
		record.Ownership{
			Owner:      f.Line("owner"),
			Contact:    f.Text("contact"),
			ValueMinor: f.Money("value", "the agreed value"),
			Currency:   f.Currency(),
			Wishes:     f.Text("wishes"),
			Keep:       f.Text("keep"),
		},
		record.Custody{
			Act:        "received",
			At:         at,
			Place:      f.Line("custody_place"),
			From:       f.Line("owner"),
			Mover:      f.By,
			Condition:  f.Text("condition"),
			BothSigned: f.Tick("both_signed"),
		},
		record.Quarantine{
			State:    record.QuarantineState(f.Line("quarantine")),
			At:       at,
			Moisture: record.Wetness(f.Line("moisture")),
			Mould:    record.MouldState(f.Line("mould")),
			Odour:    f.Line("odour"),
			Reason:   f.Text("reason"),
		},
	)
	if what := f.Line("part_what"); what != "" {
		list = append(
			list,
			record.Item{Body: record.PartKept{ID: f.ID(1), Sort: "enclosure", What: what, Where: f.Line("part_where")}},
		)
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  id,
			Items: list,
			To:    casePath(id, "photos/new?stage=arrival&back="+casePath(id, "examination")),
			Said:  "Taken in as " + f.Line("number") + ".",
			Final: true,
		},
		s.intake,
	)
}
