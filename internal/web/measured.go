package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/treatment"
	"benchleaf/interval"
)

func (s *Server) routesMeasured(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/sheets/{sheet}/measured", s.doCase(s.measured))
	mux.Handle("POST /cases/{case}/sheets/{sheet}/measured", s.doCase(s.adoptSave))
	mux.Handle("POST /cases/{case}/sheets/{sheet}/measured/correct", s.doCase(s.adoptCorrect))
}

// measuredPage lays what was read on a sheet over what was predicted for it.
type measuredPage struct {
	Page
	C     *record.Case
	Sheet int
	Paper string
	M     treatment.Measured
	// Others are the sheets that have been in a bath.
	Others []measuredTab
	Plots  []measuredPlot
	// Rows are the readings that are compared, Kept those that are not.
	Rows, Kept []measuredLine
	Usual      bool // of some rows the uncertainty is what is usual
	Offers     []offerRow
	Taken      []takenRow
	Asks       []askRow
	// Adopted are all adopted values of the case that concern this sheet or come
	// from it.
	Adopted []adoptedRow
	// Problem is why the prediction could not be computed.
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

// measuredLine is one reading as the table shows it.
type measuredLine struct {
	What, Where   string
	At            time.Time
	Read, U, Unit string
	Predicted     string
	Usual         bool // the uncertainty is that of the method, none was stated
	Agrees        bool
	Say, Note     string
}

type offerRow struct{ What, Unit, Was, WasBasis, Value, Range, Adopted string }

type takenRow struct {
	Fact
	Adopted bool
}

type askRow struct{ What, Why, Href string }

type adoptedRow struct {
	record.Stamped[record.ValueAdopted]
	What, Value, Range, Was string
	From, Readings          string
	// Later says that for this sheet a later value counts; Out that the value is
	// left out here, because this sheet's own readings are what it rests on.
	Later, Out bool
}

var measuredView = declare[measuredPage]("measured")

// measuredPath is the address of a sheet's page.
func measuredPath(id record.CaseID, sheet int) string {
	return casePath(id, "sheets/"+strconv.Itoa(sheet)+"/measured")
}

// sheetIn is the sheet that {sheet} names.
func sheetIn(r *http.Request, c *record.Case) (int, error) {
	for _, n := range c.Sheets() {
		if strconv.Itoa(n) == r.PathValue("sheet") {
			return n, nil
		}
	}
	return 0, store.ErrNotFound
}

// measure is a sheet's comparison, kept until its journal grows: it is reckoned
// once, not with each look at the page.
type measure struct {
	seq int64
	m   treatment.Measured
	err error
}

func (s *Server) measureOf(c *record.Case, sheet int) (treatment.Measured, error) {
	type key struct {
		id    record.CaseID
		sheet int
	}
	k := key{c.ID, sheet}
	if kept, ok := s.measures.Load(k); ok && kept.(measure).seq == c.LastSeq {
		return kept.(measure).m, kept.(measure).err
	}
	m, err := treatment.Measure(c, sheet)
	s.measures.Store(k, measure{c.LastSeq, m, err})
	return m, err
}

func (s *Server) measured(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	sheet, err := sheetIn(r, c)
	if err != nil {
		return err
	}
	p := measuredPage{Page: s.casePage(r, c, "bench"), C: c, Sheet: sheet}
	p.Title = upperFirst(record.SheetName(sheet)) + ": measured and expected"
	if stock := c.StockOf(sheet); stock != nil {
		p.Paper, p.Same = stock.Name, stock.Sheets
	}
	p.Others = measuredTabs(c, sheet)
	if p.M, err = s.measureOf(c, sheet); err != nil {
		p.Problem = "The prediction cannot be computed: " + err.Error() + "."
	}
	p.Plots = s.measuredPlots(&p.M)
	p.Rows, p.Kept = measuredLines(&p.M)
	p.Usual = slices.ContainsFunc(p.Rows, func(x measuredLine) bool { return x.Usual })
	for _, o := range p.M.Offers {
		adopted := ""
		if len(o.Adopted) > 0 {
			adopted = "adopted for " + record.SheetNames(o.Adopted)
		}
		p.Offers = append(
			p.Offers,
			offerRow{
				Adopted:  adopted,
				What:     upperFirst(o.Words),
				Unit:     o.Unit,
				Was:      o.Was.BestText() + " (" + o.Was.Text() + ")",
				WasBasis: o.WasBasis,
				Value:    o.Value.BestText(),
				Range:    o.Value.Text(),
			},
		)
		p.Quantities = append(p.Quantities, record.Choice{Value: o.Quantity, Words: upperFirst(offerWords(&o))})
	}
	for _, t := range p.M.Taken {
		p.Taken = append(
			p.Taken,
			takenRow{
				Fact{
					Name:  upperFirst(t.Words),
					Value: t.Range.BestText(),
					Unit:  t.Unit,
					Range: rangeOrExact(t.Range),
					Basis: t.Basis,
				},
				t.Adopted,
			},
		)
	}
	for _, a := range p.M.Asks {
		p.Asks = append(p.Asks, askRow{upperFirst(a.What), a.Why, askPath(c, sheet, a)})
	}
	p.Adopted = adoptedRows(c, sheet, p.M.Left)
	s.measuredForms(r, &p)
	return measuredView.show(s, w, r, p)
}

// offerWords is a fitted value in few words.
func offerWords(o *treatment.Offer) string {
	if o.Quantity == "drying-rate" {
		return "drying " + o.Value.BestText() + " × as computed"
	}
	return o.Words + " " + o.Value.BestText() + unitAfter(o.Unit)
}

// measuredForms are the form that adopts and, where the address asks for it, the
// one that corrects. What is firm and not yet adopted is chosen in the first.
func (s *Server) measuredForms(r *http.Request, p *measuredPage) {
	var chosen, words []string
	waiting := slices.Clone(p.M.Remaining)
	for _, o := range p.M.Offers {
		left := slices.DeleteFunc(
			slices.Clone(p.M.Remaining),
			func(n int) bool { return slices.Contains(o.Adopted, n) },
		)
		if o.Firm && len(left) > 0 {
			chosen, waiting = append(chosen, o.Quantity), left
			words = append(words, offerWords(&o))
		}
	}
	if len(chosen) > 0 {
		p.Next = upperFirst(strings.Join(words, ", ")) + ": for the rest too?"
		p.NextWhy = "So far " + record.SheetNames(waiting) + " are reckoned with what is usual for the paper."
		if len(waiting) == 1 {
			p.NextWhy = "So far " + record.SheetNames(waiting) + " is reckoned with what is usual for the paper."
		}
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
			"corrects":   strconv.FormatInt(n, 10),
			"reason":     b.Reason,
			"value_low":  plainNumber(b.Value.Low),
			"value_best": plainNumber(b.Value.Best),
			"value_high": plainNumber(b.Value.High),
		}
		p.CorrectForm = s.form(r, "adopted", p.C.LastSeq, m).setSheets("sheets", b.Sheets)
		p.Correcting, p.Unit = record.AdoptedQuantityOf(b.Quantity).Words, b.Unit
	}
}

// measuredTabs are the sheets that have been in a bath, and this one.
func measuredTabs(c *record.Case, sheet int) []measuredTab {
	var list []measuredTab
	for _, n := range c.Sheets() {
		if n == sheet || slices.ContainsFunc(c.RunsOn(n), func(r *record.Run) bool { return r.Body.Bath != nil }) {
			list = append(list, measuredTab{upperFirst(record.SheetName(n)), measuredPath(c.ID, n), n == sheet})
		}
	}
	return list
}

// firstMeasured is the page of the first sheet that was in a bath, empty without one.
func firstMeasured(c *record.Case) string {
	for _, n := range c.Sheets() {
		if slices.ContainsFunc(c.RunsOn(n), func(r *record.Run) bool { return r.Body.Bath != nil }) {
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

func measuredLines(m *treatment.Measured) (compared, kept []measuredLine) {
	for _, r := range m.Rows {
		x := measuredLine{
			What:   upperFirst(r.What),
			Where:  r.Where,
			At:     r.At,
			Read:   fig(r.Value),
			U:      "± " + fig(r.Uncertainty),
			Usual:  r.Assumed,
			Unit:   r.Unit,
			Agrees: r.Agrees,
			Say:    r.Say,
			Note:   r.Note,
		}
		if !r.Compared {
			kept = append(kept, x)
			continue
		}
		x.Predicted = rangeOrExact(r.Predicted)
		compared = append(compared, x)
	}
	return compared, kept
}

// rangeOrExact writes a range; one without width is its value.
func rangeOrExact(r interval.Range) string {
	if r.Low == r.High {
		return r.BestText()
	}
	return r.Text()
}

// askPath is where a reading that is asked for can be entered.
func askPath(c *record.Case, sheet int, a treatment.Ask) string {
	if a.Run == "" {
		return casePath(c.ID, "results#readings")
	}
	q := url.Values{"quantity": {a.Quantity}, "sheets": {strconv.Itoa(sheet)}}
	return casePath(c.ID, "runs/"+a.Run+"/reading?"+q.Encode())
}

// adoptedRows are the adopted values that come from a sheet or are taken for it.
func adoptedRows(c *record.Case, sheet int, left []record.Stamped[record.ValueAdopted]) []adoptedRow {
	counts := map[int64]bool{}
	for _, a := range c.AdoptedFor(sheet) {
		counts[a.Seq] = true
	}
	out := map[int64]bool{}
	for _, a := range left {
		out[a.Seq] = true
	}
	var list []adoptedRow
	for _, a := range c.Adopted {
		b := a.Body
		on := slices.Contains(b.Sheets, sheet)
		if !on && b.FromSheet != sheet {
			continue
		}
		v := b.Value
		row := adoptedRow{
			Stamped:  a,
			What:     b.Quantity,
			Value:    v.BestText(),
			Range:    rangeOrExact(v),
			From:     record.SheetName(b.FromSheet),
			Readings: entriesWords(b.Readings),
			Later:    on && !counts[a.Seq],
			Out:      out[a.Seq],
		}
		if q := record.AdoptedQuantityOf(b.Quantity); q != nil {
			row.What = upperFirst(q.Words)
		}
		if b.Was != nil {
			row.Was = rangeOrExact(*b.Was)
		}
		list = append(list, row)
	}
	return list
}

// entriesWords names entries of the log.
func entriesWords(seqs []int64) string {
	if len(seqs) == 1 {
		return fmt.Sprintf("entry %d", seqs[0])
	}
	s := "entries "
	for i, n := range seqs {
		switch {
		case i == len(seqs)-1:
			s += " and "
		case i > 0:
			s += ", "
		}
		s += strconv.FormatInt(n, 10)
	}
	return s
}
