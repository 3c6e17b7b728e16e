package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func (s *Server) routesLog(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/log", s.doCase(s.logPage))
}

// logPage is every entry of the case, newest first, by days.
type logPage struct {
	Page
	Days     []logDay
	Seal     string
	Problems []record.Problem
}

type logDay struct {
	Day   string
	Lines []account.Line
}

var logView = declare[logPage]("log")

func (s *Server) logPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := logPage{Page: s.casePage(r, c, ""), Seal: c.LastHash.String(), Problems: c.Problems}
	p.Title = "Log"
	for i := len(c.Log) - 1; i >= 0; i-- {
		l := &c.Log[i]
		day := l.Time.In(s.zone).Format("Monday, 2 January 2006")
		if n := len(p.Days); n == 0 || p.Days[n-1].Day != day {
			p.Days = append(p.Days, logDay{Day: day})
		}
		d := &p.Days[len(p.Days)-1]
		d.Lines = append(d.Lines, account.Tell(c, l, s.words()))
	}
	return logView.show(s, w, r, p)
}

// words writes times in the zone of the bench, with their day where it is not
// today.
func (s *Server) words() words.Clock {
	return words.Clock{Language: words.English, Zone: s.zone, Today: s.now()}
}
