package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

func (s *Server) routesMeasured(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/sheets/{sheet}/measured", s.doCase(s.measured))
	mux.Handle("POST /cases/{case}/sheets/{sheet}/measured", s.doCase(s.adoptSave))
	mux.Handle("POST /cases/{case}/sheets/{sheet}/measured/correct", s.doCase(s.adoptCorrect))
}

// measuredPage lays what was read on a sheet beside what was expected of it.
type measuredPage struct {
	Page
	C     *record.Case
	Sheet int
	Paper string
	M     account.SheetRead
	Left  []account.Left // in this sheet and those that had the same
	// Others are the sheets that have been in a bath.
	Others  []measuredTab
	Plots   []plot
	Usual   bool // of some rows the uncertainty is what is usual
	Doubt   string
	Asks    []askRow
	Adopted []account.AdoptedRow
	// Problem is why the expectation could not be computed.
	Problem string

	AdoptForm  *Form
	Quantities []record.Choice
	// Next asks to adopt what is firm; empty when there is nothing or it is done.
	Next, NextWhy string
	Same          []int // sheets of the same paper
	CorrectForm   *Form
	Correcting    string
	Unit          string
}

type measuredTab struct {
	Name, Href string
	On         bool
}

type askRow struct{ What, Why, Href string }

var measuredView = declare[measuredPage]("measured")

// measuredPath is the address of a sheet's page.
func measuredPath(id record.CaseID, sheet int) string { return sheetPath(id, sheet, "measured") }

func (s *Server) measured(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	sheet, err := sheetIn(r, c)
	if err != nil {
		return err
	}
	p := measuredPage{Page: s.casePage(r, c, "bench"), C: c, Sheet: sheet}
	p.Title = words.English.Upper(record.SheetName(sheet)) + ": measured and expected"
	if stock := c.StockOf(sheet); stock != nil {
		p.Paper, p.Same = stock.Name, stock.Sheets
	}
	for _, n := range c.Sheets() {
		if n == sheet || hasBath(c, n) {
			name := words.English.Upper(record.SheetName(n))
			p.Others = append(p.Others, measuredTab{name, measuredPath(c.ID, n), n == sheet})
		}
	}
	if p.M, err = account.Compare(r.Context(), c, sheet, s.words()); r.Context().Err() != nil {
		return err
	} else if err != nil {
		p.Problem = "The expectation cannot be computed: " + err.Error() + "."
	}
	p.Plots, p.Adopted = plotsOf(p.M.Curves), p.M.AdoptedOn(c)
	for _, x := range account.InPaper(r.Context(), c) {
		if slices.Contains(x.Sheets, sheet) {
			p.Left = append(p.Left, x)
		}
	}
	for _, x := range p.M.Rows {
		p.Usual = p.Usual || x.Usual
		if x.Verdict == account.CannotTell {
			p.Doubt = account.TellsRule
		}
	}
	for _, o := range p.M.Offers {
		p.Quantities = append(p.Quantities, record.Choice{Value: o.Quantity, Words: words.English.Upper(o.InWords())})
	}
	for _, a := range p.M.Asks {
		p.Asks = append(p.Asks, askRow{words.English.Upper(a.What), a.Why, askPath(c, sheet, a)})
	}
	s.measuredForms(r, &p)
	return measuredView.show(s, w, r, p)
}

// measuredForms are the form that adopts and, where the address asks for it, the
// one that corrects. What is firm and not yet adopted is chosen in the first.
func (s *Server) measuredForms(r *http.Request, p *measuredPage) {
	var chosen, say []string
	waiting := p.M.Remaining
	for _, o := range p.M.Offers {
		has := func(n int) bool { return slices.Contains(o.Adopted, n) }
		left := slices.DeleteFunc(slices.Clone(p.M.Remaining), has)
		if o.Firm && len(left) > 0 {
			chosen, waiting, say = append(chosen, o.Quantity), left, append(say, o.InWords())
		}
	}
	if len(chosen) > 0 {
		p.Next = words.English.Upper(strings.Join(say, ", ")) + ": for the rest too?"
		are := " are"
		if len(waiting) == 1 {
			are = " is"
		}
		p.NextWhy = "So far " + record.SheetNames(waiting) + are + " calculated with what is usual for the paper."
	}
	p.AdoptForm = s.form(r, "adopt", p.C.LastSeq, nil).setSheets("sheets", waiting)
	if f := p.AdoptForm; len(f.Refused) == 0 && f.Clash == nil {
		f.values["quantity"] = chosen
	}
	n := correcting(r, "adopted")
	if back := refusedOf(r.Context()); back != nil && back.form.Name == "adopted" {
		n, _ = strconv.ParseInt(back.form.Line("corrects"), 10, 64) // ours: it was found when it came
	}
	for _, a := range p.C.Adopted {
		if a.Seq != n {
			continue
		}
		b := a.Body
		m := fills{
			"corrects": strconv.FormatInt(n, 10), "reason": b.Reason, "value_low": plainNumber(b.Value.Low),
			"value_best": plainNumber(b.Value.Best), "value_high": plainNumber(b.Value.High),
		}
		p.CorrectForm = s.form(r, "adopted", p.C.LastSeq, m).setSheets("sheets", b.Sheets)
		p.Correcting, p.Unit = record.AdoptedQuantityOf(b.Quantity).Words, b.Unit
	}
}

// firstMeasured is the page of the first sheet that was in a bath, empty without one.
func firstMeasured(c *record.Case) string {
	for _, n := range c.Sheets() {
		if hasBath(c, n) {
			return measuredPath(c.ID, n)
		}
	}
	return ""
}

// besideExpected are the pages of the sheets of a run.
func besideExpected(c *record.Case, run *record.Run) []measuredTab {
	sheets := run.Body.Sheets
	if len(sheets) == 0 {
		sheets = c.Sheets()
	}
	var list []measuredTab
	for _, n := range sheets {
		list = append(list, measuredTab{Name: record.SheetName(n), Href: measuredPath(c.ID, n)})
	}
	return list
}

// askPath is where a reading that is asked for can be entered.
func askPath(c *record.Case, sheet int, a treatment.Ask) string {
	if a.Run == "" {
		return casePath(c.ID, "results#readings")
	}
	q := url.Values{"quantity": {a.Quantity}, "sheets": {strconv.Itoa(sheet)}}
	return casePath(c.ID, "runs/"+a.Run+"/reading?"+q.Encode())
}

// adoptSave adopts fitted values for other sheets. The values are those that the
// readings give now, not what came with the form: a page shown before a reading
// came in clashes with it.
func (s *Server) adoptSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	sheet, err := sheetIn(r, c)
	if err != nil {
		return err
	}
	f, err := s.sent(w, r, "adopt")
	if err != nil {
		return err
	}
	m, err := account.Compare(r.Context(), c, sheet, s.words())
	if err != nil {
		return record.Invalidf("", "Nothing can be adopted: %v.", err)
	}
	sheets, chosen := f.Sheets("sheets"), f.List("quantity")
	var bodies []record.Body
	for _, b := range m.Adopt(chosen, sheets, f.Text("reason")) {
		bodies = append(bodies, b)
	}
	offered := func(q string) bool {
		return slices.ContainsFunc(m.Offers, func(o account.Offer) bool { return o.Quantity == q })
	}
	if len(chosen) == 0 {
		f.Refuse("quantity", "No value is chosen: tick at least one of those on offer.")
	} else if f.Seq == c.LastSeq && slices.ContainsFunc(chosen, func(q string) bool { return !offered(q) }) {
		f.Refuse("quantity", "The readings do not offer this value: choose among those that stand here.")
	}
	if len(bodies) == 0 {
		return again(w, r, f, errRefused, s.inCase(s.measured))
	}
	said := "Adopted for " + record.SheetNames(sheets) + ": they are calculated with it from now on."
	to := Saving{Case: c.ID, Items: items(bodies...), To: measuredPath(c.ID, sheet), Said: said}
	return s.save(w, r, f, to, s.inCase(s.measured))
}

// adoptCorrect puts another value, other sheets or another reason in the place of
// what was adopted.
func (s *Server) adoptCorrect(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	sheet, err := sheetIn(r, c)
	if err != nil {
		return err
	}
	f, err := s.sent(w, r, "adopted")
	if err != nil {
		return err
	}
	n, _ := strconv.ParseInt(f.Line("corrects"), 10, 64) // none: there is no such entry
	i := slices.IndexFunc(c.Adopted, func(a record.Stamped[record.ValueAdopted]) bool { return a.Seq == n })
	if i < 0 {
		return record.Invalidf("", "Entry %q adopts no value that counts in this case.", clip(f.Line("corrects")))
	}
	b := c.Adopted[i].Body
	b.Sheets, b.Reason = f.Sheets("sheets"), f.Text("reason")
	value := record.Range{
		Low:  f.Number("value_low", "the low end"),
		Best: f.Number("value_best", "the best value"),
		High: f.Number("value_high", "the high end"),
	}
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, s.inCase(s.measured))
	}
	if value != b.Value {
		b.Value, b.Spread = value, "" // typed: it is what was meant
	}
	said := "Corrected. What was adopted before stays in the log."
	to := Saving{Case: c.ID, Items: []record.Item{item(f, b)}, To: measuredPath(c.ID, sheet), Said: said}
	return s.save(w, r, f, to, s.inCase(s.measured))
}
