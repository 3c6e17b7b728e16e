package web

import (
	"net/http"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func (s *Server) routesExamination(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/examination", s.doCase(s.examination))
	mux.Handle("POST /cases/{case}/stock", s.doCase(s.stockSave))
}

// examinationPage is the object as it came: who it is, whose, on what paper.
type examinationPage struct {
	Page
	C          *record.Case
	Open       []account.Question
	Object     []Fact
	Owner      []Fact
	Stocks     []stockRow
	Readings   []readingRow
	Quantities []quantityTab
	Methods    []record.Choice
	Thumbs     []Thumb
	Notes      []noteRow

	Leave []account.LeaveGate

	IdentityForm, OwnerForm, QuarantineForm, CustodyForm, StockForm *Form
	ReadingForm, NoteForm, PartForm, SettleForm, IncidentForm       *Form

	EarlierForm, InsuranceForm *Form

	PartChoices []record.Choice
}

// stockRow is one paper with what follows from its size and weight.
type stockRow struct {
	record.Stamped[record.Stock]
	Mass account.Fact
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
	p := examinationPage{Page: s.casePage(r, c, "examination"), C: c, Open: account.OpenAt(c, "examination")}
	p.Object, p.Owner = objectFacts(c), ownerFacts(c)
	for _, st := range c.Stocks {
		b := st.Body
		p.Stocks = append(p.Stocks, stockRow{st, account.SheetMass(&b)})
	}
	p.Readings = readingsOf(c, func(b *record.Reading) bool { return b.Run == "" && b.Stage != record.StageAfter })
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
	form := func(name string, b record.Body) *Form { return s.bodyForm(r, name, c.LastSeq, b, false, nil) }
	identity := record.Identity{Title: c.Title}
	if c.Identity != nil {
		identity = *c.Identity
	}
	owner := record.Ownership{Currency: "EUR"}
	if c.Ownership != nil {
		owner = *c.Ownership
	}
	var look record.Quarantine
	if c.Quarantine != nil { // what was seen then is not seen now
		look.Where = c.Quarantine.Body.Where
	}
	p.IdentityForm, p.OwnerForm = form("identity", identity), form("owner", owner)
	p.QuarantineForm = form("quarantine", look)
	p.Leave = account.LeaveGates(c)
	p.CustodyForm = form("custody", record.Custody{})
	p.EarlierForm = form("earlier", record.EarlierTreatment{})
	p.InsuranceForm = form("insurance", insuranceNow(c, owner.Currency))
	p.StockForm = s.stockForm(r, c)
	p.ReadingForm = s.readingForm(r, c, st, objectQuantities, record.StageBefore)
	p.Quantities = quantityTabs(p.ReadingForm, objectQuantities, casePath(c.ID, "examination"))
	p.Methods = methodsOf(p.ReadingForm)
	p.NoteForm = form("observation", record.Note{})
	p.PartForm, p.SettleForm = form("part", record.PartKept{}), form("settle", record.PartSettled{})
	p.IncidentForm = form("incident", record.Incident{})
	for i := range c.Parts {
		if c.Parts[i].Settled == nil {
			b := c.Parts[i].Body
			p.PartChoices = append(p.PartChoices, record.Choice{Value: b.ID, Words: b.What})
		}
	}
}

// insuranceNow is what was last recorded, to be changed.
func insuranceNow(c *record.Case, currency string) record.Insurance {
	if n := len(c.Insured); n > 0 {
		return c.Insured[n-1].Body
	}
	return record.Insurance{Currency: currency}
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
			Name: "Title", Value: i.Title,
		}, {Name: "Type", Value: i.Type}, {Name: "Date made", Value: i.DateMade}, {Name: "Maker", Value: i.Maker},
		{
			Name: "Materials and technique", Value: i.Technique,
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

// stockForm starts with the paper that the address names.
func (s *Server) stockForm(r *http.Request, c *record.Case) *Form {
	var b record.Stock
	open := fills{}
	for _, st := range c.Stocks {
		if st.Body.ID == r.URL.Query().Get("stock") {
			b = st.Body
			open["open"] = "yes"
		}
	}
	return s.bodyForm(r, "stock", c.LastSeq, b, false, open)
}

// rangeOf reads a range of three fields; nil when all are empty. A single best
// value is not enough: what is not known within bounds is left to the class.
func rangeOf(f *Form, field, refusalAt, what string) *record.Range {
	low, best := f.MaybeNumber(field+"_low", what), f.MaybeNumber(field+"_best", what)
	high := f.MaybeNumber(field+"_high", what)
	if low == nil && best == nil && high == nil {
		return nil
	}
	if low == nil || best == nil || high == nil {
		f.Refuse(refusalAt, "%s needs three numbers: low, best and high; or none, and the class of paper counts.",
			words.English.Upper(what))
		return nil
	}
	return &record.Range{Low: *low, Best: *best, High: *high}
}

// stockSave records a paper, and the weighing that its grammage comes from.
func (s *Server) stockSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "stock")
	if err != nil {
		return err
	}
	mass := f.MaybeNumber("mass_g", "the mass")
	if mass != nil {
		f.Set("grammage_g_m2", "") // the weighing gives it
	}
	list := f.Refused
	b := bodyOf[record.Stock](f)
	weighed := account.Weighed(c, &b, mass, f.MaybeWhole("weighed_sheet", "the sheet weighed"), f.At())
	if mass != nil {
		f.Refused = slices.DeleteFunc(f.Refused, func(x *record.Invalid) bool {
			return x.Field == "grammage_g_m2" && !slices.Contains(list, x)
		})
	}
	bodies := []record.Body{b}
	if weighed != nil {
		bodies = append(bodies, *weighed)
	}
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: items(bodies...), To: backOr(f, casePath(c.ID, "examination")),
		Said: "Paper recorded: " + b.Name + ".",
	}, s.inCase(s.examination))
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

// methodsOf are the usual methods for the quantity that a form is of.
func methodsOf(f *Form) []record.Choice {
	var list []record.Choice
	if q := record.QuantityOf(f.Line("quantity")); q != nil {
		for _, m := range q.Methods {
			list = append(list, record.Choice{Value: m, Words: m})
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

// onASheet refuses a reading of a sheet that names none.
func onASheet(_ *Server, _ *http.Request, c *record.Case, f *Form, b *record.Reading) error {
	if no := account.NeedsSheet(c, b); no != nil && len(f.Refused) == 0 {
		f.take([]*record.Invalid{no})
	}
	return nil
}

// readingForm starts with the method, the instrument and its check that belong
// to the quantity that the address names, or with the reading that it asks to
// correct.
func (s *Server) readingForm(
	r *http.Request, c *record.Case, st *record.Studio, quantities []string, stage record.Stage,
) *Form {
	corrects := correcting(r, "reading")
	for _, x := range c.Readings {
		if x.Seq == corrects {
			return s.bodyForm(r, "reading", c.LastSeq, x.Body, true, fills{"corrects": strconv.FormatInt(corrects, 10)})
		}
	}
	asked := r.URL.Query().Get("quantity")
	quantity := asked
	if !slices.Contains(quantities, quantity) {
		quantity = quantities[0]
	}
	b := account.StartReading(c, st, quantity, s.words())
	b.Stage = stage
	return s.bodyForm(r, "reading", c.LastSeq, b, false, fills{"open": asked})
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
		list = append(
			list,
			quantityTab{
				upperFirst(account.QuantityName(x)),
				path + "?quantity=" + x + "#reading",
				x == f.Line("quantity"),
			},
		)
	}
	return list
}
