package web

import (
	"net/http"
	"slices"
	"strconv"

	"benchleaf/internal/record"
	"benchleaf/interval"
)

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
	m, err := s.measureOf(c, sheet)
	if err != nil {
		return record.Invalidf("", "Nothing can be adopted: %v.", err)
	}
	sheets, reason := f.Sheets("sheets"), f.Text("reason")
	var bodies []record.Body
	for _, o := range m.Offers {
		if !f.Has("quantity", o.Quantity) {
			continue
		}
		was := rounded(o.Was)
		bodies = append(
			bodies,
			record.ValueAdopted{
				Quantity:  o.Quantity,
				Value:     rounded(o.Value),
				Unit:      o.Unit,
				Was:       &was,
				WasBasis:  o.WasBasis,
				FromSheet: sheet,
				Readings:  o.Readings,
				Sheets:    sheets,
				Reason:    reason,
			},
		)
	}
	if n := len(f.List("quantity")); n == 0 {
		f.Refuse("quantity", "No value is chosen: tick at least one of those on offer.")
	} else if n != len(bodies) && f.Seq == c.LastSeq {
		f.Refuse("quantity", "The readings do not offer this value: choose among those that stand here.")
	}
	if len(bodies) == 0 {
		return again(w, r, f, errRefused, s.inCase(s.measured))
	}
	said := "Adopted for " + record.SheetNames(sheets) + ": they are reckoned with it from now on."
	return s.save(
		w,
		r,
		f,
		Saving{Case: c.ID, Items: items(bodies...), To: measuredPath(c.ID, sheet), Said: said},
		s.inCase(s.measured),
	)
}

// rounded keeps four figures of each end: the fit knows fewer.
func rounded(r interval.Range) record.Range {
	return record.Range{Low: round(r.Low), Best: round(r.Best), High: round(r.High)}
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
	b.Value = record.Range{
		Low:  f.Number("value_low", "the low end"),
		Best: f.Number("value_best", "the best value"),
		High: f.Number("value_high", "the high end"),
	}
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, s.inCase(s.measured))
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: []record.Item{item(f, b)},
			To:    measuredPath(c.ID, sheet),
			Said:  "Corrected. What was adopted before stays in the log.",
		},
		s.inCase(s.measured),
	)
}
