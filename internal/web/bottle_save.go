package web

import (
	"net/http"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// bottleFormPage puts a bottle on the shelf, or corrects what was said of one.
type bottleFormPage struct {
	Page
	Form       *Form
	B          *record.ShelfBottle // set when it is corrected
	Substances []string
	Suppliers  []string
	Vessels    []record.Choice
}

var bottleFormView = declare[bottleFormPage]("bottle_form")

func (s *Server) bottleNew(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	fill := fills{"unit": "g/L", "made_at": s.now().In(s.zone).Format(timeValue)}
	return s.showBottleForm(w, r, st, nil, s.form(r, "bottle", st.LastSeq, fill))
}

func (s *Server) bottleCorrect(w http.ResponseWriter, r *http.Request) error {
	st, b, err := s.theBottle(r)
	if err != nil {
		return err
	}
	x := b.Body
	fill := fills{"bottle": x.ID, "corrects": strconv.FormatInt(b.Seq, 10)}
	fill.text("bottle_name", x.Name).
		text("substance", x.Substance).
		text("form", string(x.Form)).
		text("unit", x.Unit).
		plain("volume_ml", x.VolumeMl).
		plain("mass_g", x.MassG)
	fill.text("maker", x.Maker).
		text("supplier", x.Supplier).
		text("lot", x.Lot).
		text("water", x.Water).
		text("vessel", x.Vessel).
		number("temp_c", x.TempC).
		text("note", x.Note).
		text("expiry_basis", x.ExpiryBasis)
	s.fillTime(fill, "made_at", x.MadeAt)
	s.fillTime(fill, "expires_at", x.ExpiresAt)
	if x.Strength != nil {
		fill["strength"] = plainNumber(x.Strength.Best)
		fill.plain("strength_low", x.Strength.Low).plain("strength_high", x.Strength.High)
	}
	return s.showBottleForm(w, r, st, b, s.form(r, "bottle", st.LastSeq, fill))
}

func (s *Server) showBottleForm(
	w http.ResponseWriter,
	r *http.Request,
	st *record.Studio,
	b *record.ShelfBottle,
	f *Form,
) error {
	p := bottleFormPage{Page: s.solutionsPage(r, "Put a bottle on the shelf", "shelf"), Form: f, B: b}
	if b != nil {
		p.Title = "Correct a bottle"
	}
	p.Substances, p.Vessels = account.SubstanceNames(), account.Vessels()
	for _, x := range st.Bottles {
		if x.Body.Supplier != "" && !contains(p.Suppliers, x.Body.Supplier) {
			p.Suppliers = append(p.Suppliers, x.Body.Supplier)
		}
	}
	return bottleFormView.show(s, w, r, p)
}

func (s *Server) bottleSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "bottle")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	b := record.Bottle{}
	page := handler(s.bottleNew)
	if old := st.Bottle(f.Line("bottle")); old != nil && f.Line("corrects") != "" {
		b = old.Body // what the form does not hold stays as it was: recipe, cautions, what it was made of
		page = func(w http.ResponseWriter, r *http.Request) error {
			return s.showBottleForm(w, r, st, old, s.form(r, "bottle", st.LastSeq, nil))
		}
	} else {
		b.ID, b.Maker = f.ID(0), f.By
	}
	s.readBottle(f, &b)
	said := "On the shelf: " + b.Name + "."
	if f.Line("corrects") != "" {
		said = "Corrected: " + b.Name + "."
	}
	return s.save(
		w,
		r,
		f,
		Saving{Case: record.StudioID, Items: []record.Item{item(f, b)}, To: bottlePath(b.ID), Said: said},
		page,
	)
}

// readBottle reads a bottle from its form. A substance of the table is written
// as the table names it, so that what rests on it finds it; another is kept as
// typed.
func (s *Server) readBottle(f *Form, b *record.Bottle) {
	b.Name, b.Substance = f.Line("bottle_name"), account.SubstanceName(f.Line("substance"))
	b.Form, b.Unit = record.BottleForm(f.Line("form")), f.Line("unit")
	if b.Name == "" {
		b.Name = b.Substance
	}
	b.VolumeMl, b.MassG = 0, 0
	if v := f.MaybeNumber("volume_ml", "the volume"); v != nil {
		b.VolumeMl = *v
	}
	if v := f.MaybeNumber("mass_g", "the mass"); v != nil {
		b.MassG = *v
	}
	b.MadeAt, b.ExpiresAt = f.Time("made_at", "the date made or opened"), f.Time("expires_at", "the expiry")
	b.ExpiryBasis, b.Supplier, b.Lot, b.Water = f.Line(
		"expiry_basis",
	), f.Line(
		"supplier",
	), f.Line(
		"lot",
	), f.Line(
		"water",
	)
	b.TempC, b.Note = f.MaybeNumber("temp_c", "the temperature"), f.Text("note")
	if m := f.Line("maker"); m != "" {
		b.Maker = m
	}
	was := b.Strength
	b.Strength = readRange(f, "strength", "the strength")
	if was != nil && (b.Strength == nil || *b.Strength != *was) {
		b.Poured, b.RestsOn = nil, "" // what the recipe rested on says nothing of another strength
	}
	if b.Strength == nil && (b.Form == record.FormSolid || b.Form == "solvent") {
		b.Unit = "pure" // as supplied: no unit to choose
	}
	account.LimeByTemperature(b)
	b.Vessel = f.Line("vessel")
	f.take(account.KeptIn("vessel", b))
}

// readRange reads a value that may have its ends named: field, field_low and
// field_high. Ends that are left out are the value itself.
func readRange(f *Form, field, what string) *record.Range {
	best := f.MaybeNumber(field, what)
	low := f.MaybeNumber(field+"_low", "the low end of "+what)
	high := f.MaybeNumber(field+"_high", "the high end of "+what)
	if best == nil {
		if low != nil || high != nil {
			f.Refuse(field, "%s is missing between its ends: please enter the best value too.", upperFirst(what))
		}
		return nil
	}
	r := record.Range{Low: *best, Best: *best, High: *best}
	if low != nil {
		r.Low = *low
	}
	if high != nil {
		r.High = *high
	}
	return &r
}
