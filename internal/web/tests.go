package web

import (
	"net/http"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func (s *Server) routesTests(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/tests", s.doCase(s.testsPage))
	mux.Handle("POST /cases/{case}/reread", s.doCase(s.rereadSave))
}

// testsPage is what holds in which liquid, colour by colour.
type testsPage struct {
	Page
	C    *record.Case
	Open []account.Question
	// Liquids head the table of inks; Inks are its rows.
	Liquids []record.Choice
	Inks    []inkRow
	Others  []testRow
	// Once are tests that were read once only, to be read again when dry.
	Once       []record.Choice
	Form       *Form
	RereadForm *Form
	Colours    []string
	// Last is the test to go on from.
	Last *record.Test
	// Trials of steps, with the form of another.
	Trials     []record.Stamped[record.Trial]
	TrialForm  *Form
	Operations []record.Choice
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
	p := testsPage{Page: s.casePage(r, c, "tests"), C: c, Open: account.OpenAt(c, "tests")}
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
	if n := len(c.Tests); n > 0 {
		p.Last = &c.Tests[n-1]
	}
	p.Form = s.testForm(r, c)
	p.RereadForm = s.bodyForm(r, "reread", c.LastSeq, record.SpotReread{}, false, nil)
	p.Trials, p.Operations = c.Trials, operationChoices()
	p.TrialForm = s.bodyForm(r, "trial", c.LastSeq, record.Trial{}, false, nil)
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

// testForm starts empty, with the test that the address asks to correct, or with
// the ink or the settings of the one that it asks to go on from.
func (s *Server) testForm(r *http.Request, c *record.Case) *Form {
	b, corrects := record.SpotTest{Sort: record.TestSolubility}, correcting(r, "test")
	like, _ := strconv.ParseInt(r.URL.Query().Get("like"), 10, 64) // none: an empty form
	for i := range c.Tests {
		t := &c.Tests[i]
		x := t.Body
		switch {
		case t.Seq == corrects:
			return s.bodyForm(r, "test", c.LastSeq, x, true, fills{"corrects": strconv.FormatInt(corrects, 10)})
		case t.Seq == like && r.URL.Query().Get("next") == "liquid":
			b.Colour, b.Place = x.Colour, x.Place
		case t.Seq == like:
			b.Liquid, b.Strength, b.TempC, b.Place = x.Liquid, x.Strength, x.TempC, record.Place{Sheets: x.Place.Sheets}
		}
	}
	return s.bodyForm(r, "test", c.LastSeq, b, false, nil)
}

// bleachAsUsed names the liquid of a test of the bleach.
func bleachAsUsed(_ *Server, _ *http.Request, _ *record.Case, _ *Form, b *record.SpotTest) error {
	if b.Sort == record.TestBleach && b.Liquid == "" {
		b.Liquid = record.LiquidBorohydride
	}
	return nil
}

func (s *Server) rereadSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "reread")
	if err != nil {
		return err
	}
	tests := f.List("test")
	var bodies []record.Body
	for _, id := range tests {
		f.Set("test", id)
		bodies = append(bodies, bodyOf[record.SpotReread](f))
	}
	f.values["test"] = tests
	if len(bodies) == 0 {
		f.Refuse("test", "No test is chosen: choose those whose spots were looked at again.")
	}
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: items(bodies...), To: casePath(c.ID, "tests"),
		Said: words.English.Plural(len(bodies), "spot", "spots") + " read again.",
	}, s.inCase(s.testsPage))
}
