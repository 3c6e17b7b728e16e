package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/solution/meter"
)

// instrumentChecksPage is an instrument and what its checks say of it.
type instrumentChecksPage struct {
	Page
	I        record.Instrument
	Form     *Form
	Checks   []checkRow
	Last     *checkRow
	Withdraw string
	Buffers  []record.Choice
}

// checkRow is one check, judged where it can be.
type checkRow struct {
	record.Stamped[record.InstrumentChecked]
	Judged         bool
	Slope, Offset  string
	Residual       string
	Drift          string
	Warnings       []string
	Worth          []Fact
	OnePoint       bool
	cal            meter.Calibration
	Points, Reason string
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
	p.Checks = checkRows(st, x)
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
	for _, b := range meter.Buffers() {
		if v, err := b.PH(25); err == nil {
			p.Buffers = append(p.Buffers, record.Choice{Value: fmt.Sprintf("%.2f", v.Best), Words: string(b)})
		}
	}
	return instrumentChecksView.show(s, w, r, p)
}

// checkRows are the checks of an instrument, newest first, each with its drift
// since the one before.
func checkRows(st *record.Studio, x *record.Instrument) []checkRow {
	var rows []checkRow
	var before *checkRow
	for _, c := range st.Checks {
		if c.Body.Instrument != x.ID {
			continue
		}
		row := judge(c)
		if before != nil && before.Judged && row.Judged {
			row.Drift = signed(row.cal.OffsetPH-before.cal.OffsetPH) + " pH since " + before.Body.At.Format("2 January")
		}
		rows = append(rows, row)
		if row.Judged {
			before = &rows[len(rows)-1]
		}
	}
	slices.Reverse(rows)
	return rows
}

// judge says what a check in buffers is worth.
func judge(c record.Stamped[record.InstrumentChecked]) checkRow {
	row := checkRow{Stamped: c}
	if len(c.Body.Buffers) == 0 {
		return row
	}
	k := meter.Check{TempC: 25, At: c.Body.At}
	if c.Body.TempC != nil {
		k.TempC = *c.Body.TempC
	}
	for i, b := range c.Body.Buffers {
		k.Points = append(k.Points, meter.PointFor(b.NominalPH, b.ReadPH))
		if i > 0 {
			row.Points += "; "
		}
		row.Points += fmt.Sprintf("%.2f read %.2f", b.NominalPH, b.ReadPH)
	}
	cal, err := meter.Calibrate(k)
	if err != nil {
		row.Reason = upperFirst(err.Error()) + "."
		return row
	}
	row.cal, row.Judged, row.Warnings = cal, true, cal.Warnings
	row.Slope, row.Offset = fmt.Sprintf("%.1f %%", 100*cal.Slope), signed(cal.OffsetPH)
	if row.OnePoint = len(k.Points) == 1; row.OnePoint {
		row.Slope = "–"
	}
	if len(k.Points) > 2 {
		row.Residual = fmt.Sprintf("%.2f pH", cal.ResidualPH)
	}
	for _, u := range []struct {
		use   meter.Use
		words string
		shown float64
	}{{meter.InBath, "A bath that shows 8.50", 8.5}, {meter.OnSurface, "A surface that shows 5.00", 5}} {
		shown := u.shown
		reading, err := cal.Read(meter.Shown{PH: &shown, TempC: k.TempC, At: c.Body.At, Use: u.use}, nil)
		if err == nil {
			row.Worth = append(
				row.Worth,
				Fact{Name: u.words, Value: reading.PH.BestText(), Range: reading.PH.Text(), Basis: reading.Dominant},
			)
		}
	}
	return row
}

// instrumentName begins with a capital, except where pH does.
func instrumentName(s string) string {
	if strings.HasPrefix(s, "pH") {
		return s
	}
	return upperFirst(s)
}

func signed(v float64) string {
	switch s := fmt.Sprintf("%.2f", v); {
	case s == "0.00" || s == "-0.00":
		return "0.00"
	case v < 0:
		return "−" + s[1:]
	default:
		return "+" + s
	}
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
		row.More += ", shows " + fig(x.Resolution) + unitAfter(x.Unit)
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
	if c := judge(*last); c.Judged {
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
		if row := judge(record.Stamped[record.InstrumentChecked]{Body: c}); row.Reason != "" && c.Text == "" {
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
