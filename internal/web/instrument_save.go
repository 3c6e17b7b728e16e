package web

import (
	"net/http"

	"benchleaf/internal/record"
)

var instrumentView = declare[studioFormPage]("instrument")

func (s *Server) instrumentPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	fill := fills{"instrument_sort": "ph-meter"}
	x := latest(st.Instruments, func(x record.Instrument) bool { return x.ID == r.URL.Query().Get("instrument") })
	if x != nil {
		fill = fills{"instrument": x.ID}
		fill.text("instrument_name", x.Name).
			text("instrument_sort", string(x.Sort)).
			plain("resolution", x.Resolution).
			text("unit", x.Unit)
		if x.Retired {
			fill["retired"] = "yes"
		}
	}
	return instrumentView.show(
		s,
		w,
		r,
		studioFormPage{
			Page: s.studioSub(r, "Instrument"),
			Form: s.form(r, "instrument", st.LastSeq, fill),
			St:   st,
			Is:   x != nil,
		},
	)
}

// sortUnits are the units that instruments show, where the sort decides it.
var sortUnits = map[string]string{"balance": "g", "conductivity": "µS/cm", "thermometer": "°C", "hygrometer": "%"}

func (s *Server) instrumentSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "instrument")
	if err != nil {
		return err
	}
	x := record.Instrument{
		ID:      f.Line("instrument"),
		Name:    f.Line("instrument_name"),
		Sort:    record.InstrumentSort(f.Line("instrument_sort")),
		Unit:    f.Line("unit"),
		Retired: f.Tick("retired"),
	}
	if v := f.MaybeNumber("resolution", "the resolution"); v != nil {
		x.Resolution = *v
	}
	if x.ID == "" {
		x.ID = f.ID(0)
	}
	if x.Unit == "" {
		x.Unit = sortUnits[string(x.Sort)]
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: items(x),
			To:    "/studio/instruments/" + x.ID,
			Said:  "Saved: " + x.Name + ".",
		},
		s.instrumentPage,
	)
}
