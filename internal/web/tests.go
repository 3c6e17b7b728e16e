package web

import (
	"fmt"
	"net/http"
	"strings"

	"benchleaf/internal/record"
)

func (s *Server) routesTests(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/tests", s.doCase(s.testsPage))
	mux.Handle("POST /cases/{case}/test", s.doCase(s.testSave))
	mux.Handle("POST /cases/{case}/reread", s.doCase(s.rereadSave))
}

// testsPage is what holds in which liquid, colour by colour.
type testsPage struct {
	Page
	C *record.Case
	// Liquids head the table of inks; Inks are its rows.
	Liquids []record.Choice
	Inks    []inkRow
	Others  []testRow
	// Once are tests that were read once only, to be read again when dry.
	Once       []record.Choice
	Form       *Form
	RereadForm *Form
	Colours    []string
}

type inkRow struct {
	Colour, Paper string
	Cells         []testCell
}

// testCell is one colour in one liquid: the gravest of its results.
type testCell struct {
	Tested        bool
	Result, Words string
	Sign          string
	Note          string
	Reread        bool
	Seq           int64
}

type testRow struct {
	record.Test
	Words, Sign string
}

var testsView = declare[testsPage]("tests")

func (s *Server) testsPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := testsPage{Page: s.casePage(r, c, "tests"), C: c}
	p.Liquids, p.Inks = inkTable(c)
	for i := range c.Tests {
		t := &c.Tests[i]
		if t.Body.Sort != "solubility" && t.Body.Sort != "bleach" {
			words, sign := resultWords(string(t.Result()))
			p.Others = append(p.Others, testRow{*t, words, sign})
		}
		if len(t.Rereads) == 0 {
			what := t.Body.Colour
			if what == "" {
				what = record.WordsOf(record.TestSorts, t.Body.Sort)
			}
			p.Once = append(
				p.Once,
				record.Choice{
					Value: t.Body.ID,
					Words: upperFirst(what) + " in " + record.WordsOf(record.TestLiquids, t.Body.Liquid),
				},
			)
		}
		if t.Body.Colour != "" && !contains(p.Colours, t.Body.Colour) {
			p.Colours = append(p.Colours, t.Body.Colour)
		}
	}
	p.Form = s.testForm(r, c)
	p.RereadForm = s.form(r, "reread", c.LastSeq, fills{"light": "normal", "change": "dry"})
	return testsView.show(s, w, r, p)
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// inkTable lays the tests out, a colour of a paper a row, a liquid a column.
func inkTable(c *record.Case) ([]record.Choice, []inkRow) {
	var liquids []record.Choice
	for _, l := range record.TestLiquids {
		for i := range c.Tests {
			b := &c.Tests[i].Body
			if string(b.Liquid) == l.Value && b.Colour != "" {
				liquids = append(liquids, l)
				break
			}
		}
	}
	var rows []inkRow
	at := map[string]int{}
	for i := range c.Tests {
		t := &c.Tests[i]
		if t.Body.Colour == "" {
			continue
		}
		paper := paperOf(c, t.Body.Place.Sheets)
		key := t.Body.Colour + "\x00" + paper
		n, ok := at[key]
		if !ok {
			n = len(rows)
			at[key] = n
			rows = append(rows, inkRow{Colour: t.Body.Colour, Paper: paper, Cells: make([]testCell, len(liquids))})
		}
		for k, l := range liquids {
			if string(t.Body.Liquid) == l.Value {
				rows[n].Cells[k] = cellOf(t)
			}
		}
	}
	return liquids, rows
}

func paperOf(c *record.Case, on []int) string {
	if len(on) > 0 {
		if st := c.StockOf(on[0]); st != nil {
			return st.Name
		}
	}
	return record.SheetNames(on)
}

func cellOf(t *record.Test) testCell {
	words, sign := resultWords(string(t.Result()))
	cell := testCell{
		Tested: true,
		Result: string(t.Result()),
		Words:  words,
		Sign:   sign,
		Note:   t.Body.Change,
		Seq:    t.Seq,
		Reread: len(t.Rereads) > 0,
	}
	for _, x := range t.Rereads {
		if x.Body.Change != "" && x.Body.Change != "dry" {
			cell.Note = strings.TrimPrefix(cell.Note+"; "+x.Body.Change, "; ")
		}
	}
	return cell
}

// resultWords says a result with the sign of what it means for a bath.
func resultWords(result string) (words, sign string) {
	words = record.WordsOf(record.TestResults, result)
	switch result {
	case "0", "negative":
		return words, "done"
	case "1", "unclear":
		return words, "due"
	case "2", "3":
		return words, "stopped"
	}
	return words, ""
}

func (s *Server) testForm(r *http.Request, c *record.Case) *Form {
	m := fills{"sort": "solubility", "dwell_s": "120"}
	var on []int
	corrects := correcting(r, "test")
	if n := len(c.Tests); n > 0 { // the next drop is usually on the next colour of the same sheet
		b := c.Tests[n-1].Body
		m.number("temp_c", b.TempC).number("dwell_s", b.DwellS).text("colour", b.Colour)
		on = b.Place.Sheets
	}
	for i := range c.Tests {
		if t := &c.Tests[i]; t.Seq == corrects {
			b := t.Body
			m = fills{"corrects": fmt.Sprint(corrects), "test": b.ID}
			m.text("sort", string(b.Sort)).
				text("colour", b.Colour).
				place(b.Place).
				text("liquid", string(b.Liquid)).
				text("strength", b.Strength).
				number("temp_c", b.TempC).
				number("dwell_s", b.DwellS).
				text("result", string(b.Result)).
				text("change", b.Change).
				text("consent", b.Consent)
			on = b.Place.Sheets
		}
	}
	return s.form(r, "test", c.LastSeq, m).setSheets("sheets", on)
}

func (s *Server) testSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "test")
	if err != nil {
		return err
	}
	id := f.Line("test")
	if id == "" {
		id = f.ID(0)
	}
	b := record.SpotTest{
		ID:       id,
		Sort:     record.TestSort(f.Line("sort")),
		Colour:   f.Line("colour"),
		Place:    placeOf(f),
		Liquid:   record.TestLiquid(f.Line("liquid")),
		Strength: f.Line("strength"),
		TempC:    f.MaybeNumber("temp_c", "the temperature"),
		DwellS: f.MaybeNumber(
			"dwell_s",
			"the dwell",
		),
		Result:  record.TestResult(f.Line("result")),
		Change:  f.Text("change"),
		Consent: f.Line("consent"),
		At:      f.At(),
	}
	if b.Sort == "bleach" && b.Liquid == "" {
		b.Liquid = "borohydride"
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: []record.Item{item(f, b)},
			To:    casePath(c.ID, "tests"),
			Said:  "Test recorded: " + record.WordsOf(record.TestResults, b.Result) + ".",
		},
		s.inCase(s.testsPage),
	)
}

func (s *Server) rereadSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "reread")
	if err != nil {
		return err
	}
	var bodies []record.Body
	for _, id := range f.List("test") {
		bodies = append(
			bodies,
			record.SpotReread{
				Test:   id,
				Light:  record.Light(f.Line("light")),
				Result: record.TestResult(f.Line("result")),
				Change: f.Text("change"),
				At:     f.At(),
			},
		)
	}
	if len(bodies) == 0 {
		f.Refuse("test", "No test is chosen: choose those whose spots were looked at again.")
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: items(bodies...),
			To:    casePath(c.ID, "tests"),
			Said:  plural(len(bodies), "spot", "spots") + " read again.",
		},
		s.inCase(s.testsPage),
	)
}
