package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// instrumentChecksPage is an instrument and what its checks say of it.
type instrumentChecksPage struct {
	Page
	I        record.Instrument
	Form     *Form
	Checks   []account.MeterCheck
	Last     *account.MeterCheck
	Withdraw string
	Buffers  []record.Choice
}

var instrumentChecksView = declare[instrumentChecksPage]("instrument_checks")

func (s *Server) theInstrument(r *http.Request) (*record.Studio, *record.Instrument, error) {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return nil, nil, err
	}
	x := latest(st.Instruments, func(x record.Instrument) bool { return x.ID == r.PathValue("instrument") })
	if x == nil {
		return nil, nil, store.ErrNotFound
	}
	return st, x, nil
}

func (s *Server) instrumentChecks(w http.ResponseWriter, r *http.Request) error {
	st, x, err := s.theInstrument(r)
	if err != nil {
		return err
	}
	p := instrumentChecksPage{
		Page:     s.studioSub(r, instrumentName(x.Name)),
		I:        *x,
		Withdraw: withdrawHref(st, "instrument", x.ID, "instruments"),
	}
	p.Back = "/studio/instruments/" + x.ID
	p.Checks = account.MeterChecks(st, x.ID)
	if n := len(p.Checks); n > 0 {
		p.Last = &p.Checks[0]
	}
	fill := fills{"temp_c": "20"}
	if x.Sort == "ph-meter" {
		fill["nominal_1"], fill["nominal_2"] = "4.01", "7"
		if p.Last != nil { // the same buffers as last time
			for i, b := range p.Last.Body.Buffers {
				fill[fmt.Sprintf("nominal_%d", i+1)] = plainNumber(b.NominalPH)
			}
			if t := p.Last.Body.TempC; t != nil {
				fill.number("temp_c", t)
			}
		}
	}
	p.Form = s.form(r, "check", st.LastSeq, fill)
	p.Buffers = account.Buffers()
	return instrumentChecksView.show(s, w, r, p)
}

// instrumentName begins with a capital, except where pH does.
func instrumentName(s string) string {
	if strings.HasPrefix(s, "pH") {
		return s
	}
	return upperFirst(s)
}

// stale is how old a check of a pH meter may be before the page asks for
// another: a day's work (common practice).
const stale = 24 * time.Hour

func (s *Server) instrumentRow(st *record.Studio, x record.Instrument) studioRow {
	row := studioRow{
		Name:    instrumentName(x.Name),
		More:    record.WordsOf(record.InstrumentSorts, x.Sort),
		Href:    "/studio/instruments/" + x.ID,
		Retired: x.Retired,
	}
	if x.Resolution > 0 {
		row.More += ", shows " + en.Quantity(x.Resolution, x.Unit)
	}
	last := st.LastCheck(x.ID)
	if x.Retired {
		return row
	}
	if last == nil {
		if x.Sort == "ph-meter" {
			row.Word, row.Sign = "not checked", "due"
		}
		return row
	}
	at := last.Body.At.In(s.zone)
	row.Note = "checked " + nearDay(at, s.now().In(s.zone))
	if c := account.JudgeCheck(*last); c.Judged {
		row.Note += ", slope " + c.Slope + ", offset " + c.Offset
	}
	if x.Sort == "ph-meter" && s.now().Sub(at) > stale {
		row.Word, row.Sign = "check due", "due"
	}
	return row
}

func (s *Server) instrumentCheck(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "check")
	if err != nil {
		return err
	}
	_, x, err := s.theInstrument(r)
	if err != nil {
		return err
	}
	c := record.InstrumentChecked{
		Instrument: x.ID,
		At:         happened(f, "at", "the time"),
		TempC:      f.MaybeNumber("temp_c", "the temperature"),
		Text:       f.Text("text"),
	}
	for i := 1; i <= 3; i++ {
		nominal, read := fmt.Sprintf("nominal_%d", i), fmt.Sprintf("read_%d", i)
		if f.Line(read) == "" {
			continue
		}
		c.Buffers = append(
			c.Buffers,
			record.BufferReading{
				NominalPH: f.Number(nominal, "the buffer’s pH"),
				ReadPH:    f.Number(read, "the pH read"),
			},
		)
	}
	if len(c.Buffers) > 0 && len(f.Refused) == 0 {
		row := account.JudgeCheck(record.Stamped[record.InstrumentChecked]{Body: c})
		if row.Reason != "" && c.Text == "" {
			// An electrode out of order is a fact worth keeping, in words.
			f.Refuse(
				"text",
				"%s Look at the figures again; if they are right, say here what was done about it.",
				row.Reason,
			)
		}
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: items(c),
			To:    "/studio/instruments/" + x.ID,
			Said:  "Checked: " + x.Name + ".",
		},
		s.instrumentChecks,
	)
}
