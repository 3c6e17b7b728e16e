package web

import (
	"net/http"
	"slices"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesStock(mux *http.ServeMux) {
	mux.Handle("GET /studio/stock", s.do(s.stockPage))
	mux.Handle("POST /studio/climate", s.do(s.climateSave))
}

// stockPage is the stock by batch, the log of safety by day and person, and the air of
// the room.
type stockPage struct {
	Page
	Warnings []string
	Supplies []record.Supply
	Safety   []safetyDay
	Climates []climateRow
	Climate  *Form
}

// safetyDay are the entries of one person on one day.
type safetyDay struct {
	Day, Who string
	Lines    []safetyLine
}

type safetyLine struct {
	record.Stamped[record.Exposure]
	Withdraw string
}

type climateRow struct {
	record.RoomClimate
	First, Last record.ClimateSample
	Withdraw    string
}

var stockView = declare[stockPage]("stock")

func (s *Server) stockPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p := stockPage{Page: s.studioSub(r, "Stock and safety"), Supplies: st.Supplies}
	p.Warnings = account.StockWarnings(st, s.now(), s.words())
	for _, x := range slices.Backward(st.Exposures) {
		day := s.words().Day(x.Body.At)
		i := slices.IndexFunc(p.Safety, func(d safetyDay) bool { return d.Day == day && d.Who == x.Body.Who })
		if i < 0 {
			i, p.Safety = len(p.Safety), append(p.Safety, safetyDay{Day: day, Who: x.Body.Who})
		}
		p.Safety[i].Lines = append(p.Safety[i].Lines, safetyLine{x, withdrawEntry(x.Seq)})
	}
	for _, x := range slices.Backward(st.Climates) {
		n := len(x.Body.Samples)
		if n > 0 {
			p.Climates = append(p.Climates, climateRow{x.Body, x.Body.Samples[0], x.Body.Samples[n-1], withdrawEntry(x.Seq)})
		}
	}
	p.Climate = s.form(r, "climate", st.LastSeq, nil)
	return stockView.show(s, w, r, p)
}

func withdrawEntry(seq int64) string {
	return "/studio/withdraw?entry=" + plainNumber(float64(seq)) + "&back=/studio/stock"
}

// climateSave reads a logger's file.
func (s *Server) climateSave(w http.ResponseWriter, r *http.Request) error {
	limitBody(w, r, mostClimate)
	values, name, data, err := receiveText(r, "climate_file")
	if err != nil {
		return err
	}
	values.Set("climate_file", string(data)) // another file makes another form
	f := s.formOf(r, "climate", values)
	b := record.RoomClimate{Room: f.Line("room"), Logger: f.Line("logger"), File: name}
	if b.Samples, err = account.ReadClimate([]byte(textOfFile(data)), s.zone); err != nil {
		list, ok := record.Refusals(err)
		if !ok {
			return err
		}
		f.take(list)
	}
	f.Set("climate_file", "")
	return s.save(w, r, f, Saving{
		Case: record.StudioID, Items: items(b), To: "/studio/stock#climate", Said: account.Said(nil, b) + ".",
	}, s.stockPage)
}

// mostClimate is the most bytes of a logger's file: a year, once a minute.
const mostClimate = 24 << 20
