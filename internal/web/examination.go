package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (s *Server) routesExamination(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/examination", s.doCase(s.examination))
	mux.Handle("POST /cases/{case}/identity", s.doCase(s.identitySave))
	mux.Handle("POST /cases/{case}/owner", s.doCase(s.ownerSave))
	mux.Handle("POST /cases/{case}/quarantine", s.doCase(s.quarantineSave))
	mux.Handle("POST /cases/{case}/custody", s.doCase(s.custodySave))
	mux.Handle("POST /cases/{case}/stock", s.doCase(s.stockSave))
	mux.Handle("POST /cases/{case}/reading", s.doCase(s.readingSave))
	mux.Handle("POST /cases/{case}/observation", s.doCase(s.observationSave))
	mux.Handle("POST /cases/{case}/part", s.doCase(s.partSave))
	mux.Handle("POST /cases/{case}/part-settled", s.doCase(s.partSettle))
	mux.Handle("POST /cases/{case}/incident", s.doCase(s.incidentSave))
}

// examinationPage is the object as it came: who it is, whose, on what paper.
type examinationPage struct {
	Page
	C          *record.Case
	Object     []Fact
	Owner      []Fact
	Stocks     []stockRow
	Unassigned []int
	Readings   []readingRow
	Quantities []quantityTab
	Methods    []string
	Thumbs     []Thumb
	Notes      []noteRow

	IdentityForm, OwnerForm, QuarantineForm, CustodyForm, StockForm, ReadingForm, NoteForm, PartForm, SettleForm, IncidentForm *Form

	PartChoices []record.Choice
}

// stockRow is one paper with what follows from its size and weight.
type stockRow struct {
	record.Stamped[record.Stock]
	SheetMassG float64
}

type readingRow struct {
	record.Stamped[record.Reading]
	Quantity record.Quantity
	Remarks  []string
}

type noteRow struct {
	record.Stamped[record.Note]
	Nature string
}

var examinationView = declare[examinationPage]("examination")

func (s *Server) examination(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := examinationPage{Page: s.casePage(r, c, "examination"), C: c}
	p.Object, p.Owner = objectFacts(c), ownerFacts(c)
	for _, st := range c.Stocks {
		b := st.Body
		p.Stocks = append(p.Stocks, stockRow{st, b.WidthMm * b.HeightMm * 1e-6 * b.GrammageGM2})
	}
	for _, n := range c.Sheets() {
		if c.StockOf(n) == nil {
			p.Unassigned = append(p.Unassigned, n)
		}
	}
	p.Readings = readingsOf(c, func(b *record.Reading) bool { return b.Run == "" && b.Stage != record.StageAfter })
	p.Methods = methodsOf(objectQuantities)
	for i := range c.Photos {
		if st := c.Photos[i].Body.Stage; st == record.StageArrival || st == record.StageBefore {
			p.Thumbs = append(p.Thumbs, thumbOf(c, &c.Photos[i]))
		}
	}
	for _, n := range c.Notes {
		if n.Body.Run == "" {
			p.Notes = append(p.Notes, noteRow{n, record.WordsOf(record.Natures, n.Body.Nature)})
		}
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	s.examinationForms(r, c, st, &p)
	return examinationView.show(s, w, r, p)
}

func (s *Server) examinationForms(r *http.Request, c *record.Case, st *record.Studio, p *examinationPage) {
	form := func(name string, m fills) *Form { return s.form(r, name, c.LastSeq, m) }
	p.IdentityForm = form("identity", identityFill(c))
	p.OwnerForm = form("owner", ownerFill(c, "EUR"))
	p.QuarantineForm = form("quarantine", quarantineFill(c))
	p.CustodyForm = form("custody", fills{"mover": p.Writer})
	p.StockForm = s.stockForm(r, c, p.Unassigned)
	p.ReadingForm = s.readingForm(r, c, st, objectQuantities, record.StageBefore)
	p.Quantities = quantityTabs(p.ReadingForm, objectQuantities, casePath(c.ID, "examination"))
	p.NoteForm = form("observation", fills{"nature": "observed"})
	p.PartForm = form("part", nil)
	p.SettleForm = form("settle", nil)
	p.IncidentForm = form("incident", nil)
	for i := range c.Parts {
		if c.Parts[i].Settled == nil {
			b := c.Parts[i].Body
			p.PartChoices = append(p.PartChoices, record.Choice{Value: b.ID, Words: b.What})
		}
	}
}

func objectFacts(c *record.Case) []Fact {
	i := c.Identity
	if i == nil {
		i = &record.Identity{Title: c.Title}
	}
	size := ""
	if i.HeightMm != nil && i.WidthMm != nil {
		size = fig(*i.HeightMm) + " × " + fig(*i.WidthMm)
		if i.ThicknessMm != nil {
			size += " × " + fig(*i.ThicknessMm)
		}
	}
	f := Fact{Name: "Height × width × thickness", Value: size}
	if size != "" {
		f.Unit = "mm"
	}
	return []Fact{
		{
			Name:  "Title",
			Value: i.Title,
		}, {Name: "Type", Value: i.Type}, {Name: "Date made", Value: i.DateMade}, {Name: "Maker", Value: i.Maker},
		{
			Name:  "Materials and technique",
			Value: i.Technique,
		}, f, {Name: "Inscriptions and marks", Value: i.Inscriptions},
		{Name: "Distinguishing features", Value: i.Distinguishing}, {Name: "Description", Value: i.Description},
	}
}

func ownerFacts(c *record.Case) []Fact {
	o := c.Ownership
	if o == nil {
		return nil
	}
	facts := []Fact{
		{Name: "Owner", Value: o.Owner, Basis: o.Contact},
		{Name: "Asks for", Value: o.Wishes, Basis: "in the owner’s words"},
		{Name: "Must stay", Value: o.Keep},
	}
	value := Fact{Name: "Agreed value"}
	if o.ValueMinor > 0 {
		value.Value, value.Basis = money(o.ValueMinor, o.Currency), "stated by the owner"
	}
	if o.MayConsent != "" {
		facts = append(facts, Fact{Name: "May consent", Value: o.MayConsent})
	}
	return append(facts, value)
}

func identityFill(c *record.Case) fills {
	m := fills{"title": c.Title}
	if i := c.Identity; i != nil {
		m.text("issue", i.Issue).
			text("maker", i.Maker).
			text("date_made", i.DateMade).
			text("type", i.Type).
			text("technique", i.Technique).
			number("height_mm", i.HeightMm).
			number("width_mm", i.WidthMm).
			number("thickness_mm", i.ThicknessMm).
			text("inscriptions", i.Inscriptions).
			text("distinguishing", i.Distinguishing).
			text("description", i.Description)
	}
	return m
}

func (s *Server) identitySave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "identity")
	if err != nil {
		return err
	}
	b := record.Identity{
		Title:     f.Line("title"),
		Issue:     f.Line("issue"),
		Maker:     f.Line("maker"),
		DateMade:  f.Line("date_made"),
		Type:      f.Line("type"),
		Technique: f.Line("technique"),
		HeightMm: f.MaybeNumber(
			"height_mm",
			"the height",
		),
		WidthMm:     f.MaybeNumber("width_mm", "the width"),
		ThicknessMm: f.MaybeNumber("thickness_mm", "the thickness"),
		Inscriptions: f.Text(
			"inscriptions",
		),
		Distinguishing: f.Text("distinguishing"),
		Description:    f.Text("description"),
	}
	return s.saveExamination(w, r, f, c, "The object is described.", b)
}

func (s *Server) saveExamination(
	w http.ResponseWriter,
	r *http.Request,
	f *Form,
	c *record.Case,
	said string,
	bodies ...record.Body,
) error {
	list := items(bodies...)
	if len(list) == 1 {
		list[0] = item(f, bodies[0])
	}
	return s.save(
		w,
		r,
		f,
		Saving{Case: c.ID, Items: list, To: backOr(f, casePath(c.ID, "examination")), Said: said},
		s.inCase(s.examination),
	)
}

func ownerFill(c *record.Case, currency string) fills {
	m := fills{"currency": currency}
	if o := c.Ownership; o != nil {
		m.text("owner", o.Owner).
			text("contact", o.Contact).
			text("may_consent", o.MayConsent).
			money("value", o.ValueMinor, o.Currency).
			text("currency", o.Currency).
			text("wishes", o.Wishes).
			text("keep", o.Keep)
	}
	return m
}

func (s *Server) ownerSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "owner")
	if err != nil {
		return err
	}
	return s.saveExamination(
		w,
		r,
		f,
		c,
		"Owner and wishes are recorded.",
		record.Ownership{Owner: f.Line("owner"), Contact: f.Text("contact"), MayConsent: f.Text("may_consent"),
			ValueMinor: f.Money("value", "the agreed value"), Currency: f.Currency(), Wishes: f.Text("wishes"), Keep: f.Text("keep")},
	)
}

func quarantineFill(c *record.Case) fills {
	m := fills{}
	if q := c.Quarantine; q != nil {
		b := q.Body
		m.text("quarantine", string(b.State)).
			text("moisture", string(b.Moisture)).
			text("mould", string(b.Mould)).
			text("odour", b.Odour).
			text("insects", b.Insects).
			text("where", b.Where)
	}
	return m
}

func (s *Server) quarantineSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "quarantine")
	if err != nil {
		return err
	}
	return s.saveExamination(
		w,
		r,
		f,
		c,
		"The look for mould and damp is recorded.",
		record.Quarantine{State: record.QuarantineState(f.Line("quarantine")), At: f.At(), Moisture: record.Wetness(f.Line("moisture")), Mould: record.MouldState(f.Line("mould")),
			Odour: f.Line("odour"), Insects: f.Line("insects"), Where: f.Line("where"), Reason: f.Text("reason")},
	)
}

func (s *Server) custodySave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "custody")
	if err != nil {
		return err
	}
	return s.saveExamination(
		w,
		r,
		f,
		c,
		"The move is recorded.",
		record.Custody{
			Act:        record.CustodyAct(f.Line("custody_act")),
			At:         happened(f, "at", "the time"),
			Place:      f.Line("custody_place"),
			From:       f.Line("from"),
			Mover:      f.Line("mover"),
			Condition:  f.Text("condition"),
			BothSigned: f.Tick("both_signed"),
		},
	)
}

// stockForm starts with the paper that the address names, or with the sheets
// that have none yet.
func (s *Server) stockForm(r *http.Request, c *record.Case, unassigned []int) *Form {
	m, on := fills{"grain": "unknown", "grammage_basis": "measured"}, unassigned
	for _, st := range c.Stocks {
		b := st.Body
		if b.ID != r.URL.Query().Get("stock") {
			continue
		}
		m = fills{"stock": b.ID, "open": "yes"}
		m.text("stock_name", b.Name).
			text("class", string(b.Class)).
			plain("width_mm", b.WidthMm).
			plain("height_mm", b.HeightMm).
			plain("grammage_g_m2", b.GrammageGM2).
			text("grammage_basis", string(b.GrammageBasis)).
			number("thickness_um", b.ThicknessUm).
			text("grain", string(b.Grain)).
			text("note", b.Note)
		rangeFill(m, "pick_up", b.PickUpGG)
		rangeFill(m, "acid", b.AcidMmolKg)
		on = b.Sheets
	}
	return s.form(r, "stock", c.LastSeq, m).setSheets("sheets", on)
}

func rangeFill(m fills, field string, r *record.Range) {
	if r != nil {
		m.plain(field+"_low", r.Low).plain(field+"_best", r.Best).plain(field+"_high", r.High)
	}
}

// rangeOf reads a range of three fields; nil when all are empty. A single best
// value is not enough: what is not known within bounds is left to the class.
func rangeOf(f *Form, field, refusalAt, what string) *record.Range {
	low, best, high := f.MaybeNumber(
		field+"_low",
		what,
	), f.MaybeNumber(
		field+"_best",
		what,
	), f.MaybeNumber(
		field+"_high",
		what,
	)
	if low == nil && best == nil && high == nil {
		return nil
	}
	if low == nil || best == nil || high == nil {
		f.Refuse(
			refusalAt,
			"%s needs three numbers: low, best and high; or none, and the class of paper counts.",
			upperFirst(what),
		)
		return nil
	}
	return &record.Range{Low: *low, Best: *best, High: *high}
}

func (s *Server) stockSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "stock")
	if err != nil {
		return err
	}
	id := f.Line("stock")
	if id == "" {
		id = f.ID(0)
	}
	b := record.Stock{
		ID:            id,
		Name:          f.Line("stock_name"),
		Class:         record.PaperClass(f.Line("class")),
		Sheets:        f.Sheets("sheets"),
		WidthMm:       f.Number("width_mm", "the opened width"),
		HeightMm:      f.Number("height_mm", "the height"),
		GrammageBasis: record.NumberBasis(f.Line("grammage_basis")),
		ThicknessUm:   f.MaybeNumber("thickness_um", "the thickness"),
		Grain:         record.Grain(f.Line("grain")),
		Note:          f.Text("note"),
		PickUpGG: rangeOf(
			f,
			"pick_up",
			"pick_up_g_g",
			"the pick-up",
		),
		AcidMmolKg: rangeOf(f, "acid", "acid_mmol_kg", "the acid"),
	}
	bodies := []record.Body{b}
	if mass := f.MaybeNumber("mass_g", "the mass"); mass != nil && b.WidthMm > 0 && b.HeightMm > 0 {
		// A weighed sheet gives its grammage, to what a rule and a balance can
		// tell; the weighing itself is kept too.
		b.GrammageGM2, b.GrammageBasis = math.Round(10**mass/(b.WidthMm*b.HeightMm*1e-6))/10, "measured"
		var on []int
		if n := f.MaybeWhole("weighed_sheet", "the sheet weighed"); n != nil {
			on = []int{*n}
		}
		bodies = []record.Body{
			b,
			record.Reading{
				Quantity: "mass",
				Value:    *mass,
				Method:   "balance",
				Stage:    record.StageBefore,
				Place:    record.Place{Sheets: on},
				At:       f.At(),
			},
		}
	} else {
		b.GrammageGM2 = f.Number("grammage_g_m2", "the grammage")
		bodies[0] = b
	}
	return s.saveExamination(w, r, f, c, "Paper recorded: "+b.Name+".", bodies...)
}

// objectQuantities are measured on the object, not in a bath.
var objectQuantities = []string{
	"surface-ph",
	"extract-ph",
	"mass",
	"thickness",
	"height",
	"width",
	"lightness",
	"b-star",
}

func methodsOf(values []string) []string {
	var list []string
	for _, v := range values {
		for _, m := range record.QuantityOf(v).Methods {
			if !slices.Contains(list, m) {
				list = append(list, m)
			}
		}
	}
	return list
}

func readingsOf(c *record.Case, take func(*record.Reading) bool) []readingRow {
	var list []readingRow
	for _, x := range c.Readings {
		if q := record.QuantityOf(x.Body.Quantity); q != nil && take(&x.Body) {
			list = append(list, readingRow{Stamped: x, Quantity: *q})
		}
	}
	return list
}

// readingForm starts with the method, the instrument and its check that belong
// to the quantity that the address names, or with the reading that it asks to
// correct.
func (s *Server) readingForm(
	r *http.Request, c *record.Case, st *record.Studio, quantities []string, stage record.Stage,
) *Form {
	asked := r.URL.Query().Get("quantity")
	quantity := asked
	if !slices.Contains(quantities, quantity) {
		quantity = quantities[0]
	}
	b, on, m := account.StartReading(c, st, quantity, s.words()), []int(nil), fills{}
	b.Stage = stage
	corrects := correcting(r, "reading")
	for _, x := range c.Readings {
		if x.Seq != corrects {
			continue
		}
		b, on = x.Body, x.Body.Place.Sheets
		m = fills{"corrects": fmt.Sprint(corrects), "value": plainNumber(b.Value)}
		m.place(b.Place).text("note", b.Note).number("temp_c", b.TempC).number("humidity_pct", b.HumidityPct)
		s.fillTime(m, "at", b.At)
	}
	m.text("quantity", b.Quantity).
		text("stage", string(b.Stage)).
		text("method", b.Method).
		text("instrument", b.Instrument).
		text("checked", b.Checked).
		number("uncertainty", b.Uncertainty).
		text("run", b.Run).
		text("open", asked)
	return s.form(r, "reading", c.LastSeq, m).setSheets("sheets", on)
}

// quantityTab leads to the form of a reading of one quantity: each has its own
// method, instrument, check and uncertainty.
type quantityTab struct {
	Words, Href string
	On          bool
}

func quantityTabs(f *Form, quantities []string, path string) []quantityTab {
	var list []quantityTab
	if f.Line("corrects") != "" {
		quantities = []string{f.Line("quantity")} // a correction is of the same quantity
	}
	for _, x := range quantities {
		list = append(list, quantityTab{account.QuantityUnit(x), path + "?quantity=" + x + "#reading", x == f.Line("quantity")})
	}
	return list
}

// readingOf reads a reading from a form.
func readingOf(f *Form) record.Reading {
	return record.Reading{
		Quantity:    f.Line("quantity"),
		Value:       f.Number("value", "the number read"),
		Uncertainty: f.MaybeNumber("uncertainty", "the uncertainty"),
		Method:      f.Line("method"),
		Instrument: f.Line(
			"instrument",
		),
		Checked: f.Line("checked"),
		Stage:   record.Stage(f.Line("stage")),
		Place:   placeOf(f),
		At:      happened(f, "at", "the time"),
		TempC: f.MaybeNumber(
			"temp_c",
			"the temperature",
		),
		HumidityPct: f.MaybeNumber("humidity_pct", "the humidity"),
		Run:         f.Line("run"),
		Note:        f.Text("note"),
	}
}

func (s *Server) readingSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "reading")
	if err != nil {
		return err
	}
	b := readingOf(f)
	said := "Reading recorded."
	if q := record.QuantityOf(b.Quantity); q != nil {
		said = upperFirst(q.Words) + " " + fig(b.Value) + unitAfter(q.Unit) + ", " + b.Place.String() + "."
	}
	return s.saveExamination(w, r, f, c, said, b)
}

func unitAfter(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}

func (s *Server) observationSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "observation")
	if err != nil {
		return err
	}
	return s.saveExamination(
		w,
		r,
		f,
		c,
		"Written down.",
		record.Note{Nature: record.Nature(f.Line("nature")), Place: placeOf(f), Text: f.Text("text"), RestsOn: f.Line("rests_on")},
	)
}

func (s *Server) partSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "part")
	if err != nil {
		return err
	}
	return s.saveExamination(
		w,
		r,
		f,
		c,
		"Kept: "+f.Line("part_what")+".",
		record.PartKept{
			ID:    f.ID(0),
			Sort:  record.PartSort(f.Line("part_sort")),
			What:  f.Line("part_what"),
			From:  placeOf(f),
			Label: f.Line("part_label"),
			Where: f.Line("part_where"),
		},
	)
}

func (s *Server) partSettle(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "settle")
	if err != nil {
		return err
	}
	return s.saveExamination(
		w,
		r,
		f,
		c,
		"Recorded what became of it.",
		record.PartSettled{
			Part:       f.Line("part"),
			Outcome:    record.PartOutcome(f.Line("part_outcome")),
			AgreedWith: f.Line("agreed_with"),
			Note:       f.Text("note"),
		},
	)
}

func (s *Server) incidentSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "incident")
	if err != nil {
		return err
	}
	return s.saveExamination(
		w,
		r,
		f,
		c,
		"The incident is recorded. Tell the owner at once and in writing.",
		record.Incident{
			At:        happened(f, "at", "the time"),
			Place:     placeOf(f),
			What:      f.Text("what"),
			Done:      f.Text("done"),
			OwnerTold: f.Line("owner_told"),
		},
	)
}
