package web

import (
	"net/http"
	"net/url"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// studioFormPage is a page with one form of the studio.
type studioFormPage struct {
	Page
	Form *Form
	St   *record.Studio
	// Is says that the form changes something that is there already.
	Is bool
}

// Operations are what a method can be of.
func (p studioFormPage) Operations() []record.Choice { return operationChoices() }

// thing is the page and the act of a kind of thing that the studio has: a later
// entry of the same thing takes its place.
type thing[B record.Body] struct {
	path, form, title string
	view              view[studioFormPage]
	// find is the thing that the address names, or nil.
	find func(*record.Studio, url.Values) *B
	// fresh is what an empty form starts from, settle what follows from a form
	// that was sent; both may be nil.
	fresh  func(*record.Studio, *http.Request) B
	settle func(*Form, *B)
	// saved gives where the browser goes on and the name of what was saved.
	saved func(*B) (to, name string)
}

func (x thing[B]) add(s *Server, mux *http.ServeMux) {
	page := func(w http.ResponseWriter, r *http.Request) error {
		st, err := s.store.Studio(r.Context())
		if err != nil {
			return err
		}
		var b B
		have := x.find(st, r.URL.Query())
		if have != nil {
			b = *have
		} else if x.fresh != nil {
			b = x.fresh(st, r)
		}
		return x.view.show(s, w, r, studioFormPage{
			Page: s.studioSub(
				r, x.title,
			), Form: s.bodyForm(r, x.form, st.LastSeq, b, false, nil), St: st, Is: have != nil,
		})
	}
	mux.Handle("GET "+x.path, s.do(page))
	mux.Handle("POST "+x.path, s.do(func(w http.ResponseWriter, r *http.Request) error {
		f, err := s.sent(w, r, x.form)
		if err != nil {
			return err
		}
		b := bodyOf[B](f)
		if x.settle != nil {
			x.settle(f, &b)
		}
		to, name := x.saved(&b)
		return s.save(w, r, f, Saving{
			Case: record.StudioID, Items: items(b), To: to, Said: "Saved: " + name + ".",
		}, page)
	}))
}

// studioThings are the things of the studio that need no handler of their own.
var studioThings = []func(*Server, *http.ServeMux){
	thing[record.StudioDetails]{
		path: "/studio/details", form: "details", title: "The studio", view: declare[studioFormPage]("studio_details"),
		find: func(st *record.Studio, _ url.Values) *record.StudioDetails { return st.Details },
		fresh: func(*record.Studio, *http.Request) record.StudioDetails {
			return record.StudioDetails{Currency: "EUR", PaperSize: record.A4}
		},
		saved: func(*record.StudioDetails) (string, string) { return "/studio", "what stands on papers" },
	}.add,
	thing[record.Person]{
		path: "/studio/people", form: "person", title: "A person", view: declare[studioFormPage]("person"),
		find: func(st *record.Studio, q url.Values) *record.Person {
			return latest(st.People, func(x record.Person) bool { return x.Initials == q.Get("initials") })
		},
		fresh: func(st *record.Studio, r *http.Request) (b record.Person) {
			if len(st.People) == 0 {
				b.Initials = writerOf(r)
			}
			return b
		},
		settle: func(f *Form, b *record.Person) {
			if b.Initials != "" && !initials(b.Initials) {
				f.Refuse("initials", notInitials)
			}
		},
		saved: func(b *record.Person) (string, string) { return "/studio#people", b.Initials + ", " + b.Name },
	}.add,
	thing[record.Glassware]{
		path: "/studio/glass", form: "glass", title: "Glassware", view: declare[studioFormPage]("glass"),
		find: func(st *record.Studio, q url.Values) *record.Glassware {
			return latest(st.Glass, func(x record.Glassware) bool { return x.ID == q.Get("glassware") })
		},
		saved: func(b *record.Glassware) (string, string) { return "/studio#glass", b.Name },
	}.add,
	thing[record.Instrument]{
		path: "/studio/instruments", form: "instrument", title: "Instrument", view: declare[studioFormPage]("instrument"),
		find: func(st *record.Studio, q url.Values) *record.Instrument {
			return latest(st.Instruments, func(x record.Instrument) bool { return x.ID == q.Get("instrument") })
		},
		settle: func(_ *Form, b *record.Instrument) {
			if b.Unit == "" {
				b.Unit = sortUnits[b.Sort]
			}
		},
		saved: func(b *record.Instrument) (string, string) { return "/studio/instruments/" + b.ID, b.Name },
	}.add,
	thing[record.Supply]{
		path: "/studio/stock/batch", form: "supply", title: "A batch", view: declare[studioFormPage]("supply"),
		find: func(st *record.Studio, q url.Values) *record.Supply {
			return latest(st.Supplies, func(x record.Supply) bool { return x.ID == q.Get("supply") })
		},
		saved: func(b *record.Supply) (string, string) { return "/studio/stock", b.Name },
	}.add,
	thing[record.Exposure]{
		path: "/studio/safety", form: "exposure", title: "Log of safety", view: declare[studioFormPage]("exposure"),
		find: func(*record.Studio, url.Values) *record.Exposure { return nil },
		fresh: func(_ *record.Studio, r *http.Request) record.Exposure {
			return record.Exposure{Who: writerOf(r)}
		},
		settle: func(f *Form, b *record.Exposure) {
			if b.At.IsZero() {
				b.At = f.At()
			}
		},
		saved: func(b *record.Exposure) (string, string) {
			return "/studio/stock#safety", record.Words(b.Sort) + ": " + b.What
		},
	}.add,
	thing[record.Method]{
		path: "/studio/methods", form: "method", title: "A method of the studio", view: declare[studioFormPage]("method"),
		find: func(st *record.Studio, q url.Values) *record.Method {
			return latest(st.Methods, func(x record.Method) bool { return x.ID == q.Get("method") })
		},
		settle: func(f *Form, b *record.Method) {
			if b.Operation != "" && treatment.Find(b.Operation) == nil {
				f.Refuse("operation", "There is no operation %q: choose one of the list.", clip(b.Operation))
			}
		},
		saved: func(b *record.Method) (string, string) { return "/studio#methods", b.Name },
	}.add,
}

// sortUnits are the units that instruments show, where the sort decides it.
var sortUnits = map[record.InstrumentSort]string{
	record.Balance: "g", record.ConductivityMeter: "µS/cm", record.Thermometer: "°C", record.Hygrometer: "%",
}

// glassUsual takes the usual cylinders over in one tap.
func (s *Server) glassUsual(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "usual")
	if err != nil {
		return err
	}
	var bodies []record.Body
	for i, g := range account.UsualVessels() {
		g.ID = f.ID(i)
		bodies = append(bodies, g)
	}
	return s.save(w, r, f, Saving{
		Case: record.StudioID, Items: items(bodies...), To: "/studio#glass",
		Said: "Saved: three cylinders, with the tolerances of class B.",
	}, s.studioPage)
}
