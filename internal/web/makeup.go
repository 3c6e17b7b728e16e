package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/makeup"
)

func (s *Server) routesMakeUp(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/make-up", s.doCase(s.makeUpPage))
	mux.Handle("POST /cases/{case}/make-up", s.doCase(s.makeUpSave))
	mux.Handle("POST /cases/{case}/sheet-state", s.doCase(s.sheetStateSave))
	mux.Handle("POST /cases/{case}/staple-moved", s.doCase(s.stapleMove))
}

// makeUpPage is which sheet carries which pages, and how each was found.
type makeUpPage struct {
	Page
	C      *record.Case
	Open   []account.Question
	Nest   nest
	Rows   []sheetRow
	Creep  string
	Staple []stapleRow

	Form, StateForm, StapleForm, MoveForm, CollationForm *Form
	StapleChoices                                        []record.Choice
}

type sheetRow struct {
	Number       int
	Name         string
	Outer, Inner string
	State, Basis string
	Odd          bool // not simply there
	Paper        string
}

type stapleRow struct {
	record.MappedStaple
	Now string
}

var makeUpView = declare[makeUpPage]("makeup")

func (s *Server) makeUpPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := makeUpPage{Page: s.casePage(r, c, "make-up"), C: c, Nest: nestOf(c), Open: account.OpenAt(c, "make-up")}
	if m := account.NestOf(c); m != nil {
		p.Rows = sheetRows(c, m)
		p.Creep = creepOf(c, m)
	}
	for _, st := range c.Staples {
		now := "in"
		if n := len(st.Moves); n > 0 {
			now = record.WordsOf(record.StapleActs, st.Moves[n-1].Body.Act)
		}
		p.Staple = append(p.Staple, stapleRow{st, now})
		n := strconv.Itoa(st.Body.Number)
		p.StapleChoices = append(p.StapleChoices, record.Choice{Value: n, Words: "Staple " + n})
	}
	p.Form = s.makeUpForm(r, c)
	form := func(name string, b record.Body, extra fills) *Form {
		return s.bodyForm(r, name, c.LastSeq, b, false, extra)
	}
	sheet := r.URL.Query().Get("sheet")
	p.StateForm = form("state", record.SheetState{}, fills{"sheet": sheet, "open": sheet})
	p.StapleForm = form("staple", record.Staple{Number: len(c.Staples) + 1}, nil)
	p.MoveForm = form("move", record.StapleMoved{}, nil)
	p.CollationForm = form("collation", record.Collation{}, nil)
	return makeUpView.show(s, w, r, p)
}

func sheetRows(c *record.Case, m *makeup.MakeUp) []sheetRow {
	var rows []sheetRow
	for _, n := range c.Sheets() {
		row := sheetRow{
			Number: n, Name: upperFirst(record.SheetName(n)), Outer: pagesOn(m, n, makeup.Outer),
			Inner: pagesOn(m, n, makeup.Inner), State: "present",
		}
		if st, ok := c.SheetStates[n]; ok {
			row.State, row.Basis, row.Odd = record.WordsOf(
				record.SheetConditions, st.Body.State,
			), st.Body.Basis, st.Body.State != "present"
			if st.Body.Leaf != "" {
				row.State += ", " + record.WordsOf(record.Leaves, st.Body.Leaf)
			}
		}
		if c.MakeUp.Body.Cover == record.CoverMissing && n == 0 {
			row.State, row.Odd = "missing", true
		}
		if stock := c.StockOf(n); stock != nil {
			row.Paper = stock.Name
		}
		rows = append(rows, row)
	}
	return rows
}

// pagesOn is the pages of a face as one sees them: "32 | 5".
func pagesOn(m *makeup.MakeUp, n int, f makeup.Face) string {
	name := m.FaceName(makeup.Sheet(n), f)
	if _, pages, ok := strings.Cut(name, ": "); ok {
		return strings.TrimPrefix(pages, "pages ")
	}
	return name
}

// creepOf says how far the innermost sheet should stand out.
func creepOf(c *record.Case, m *makeup.MakeUp) string {
	var mm []float64
	for n := 1; n <= m.Inner; n++ {
		st := c.StockOf(n)
		if st == nil || st.ThicknessUm == nil {
			return ""
		}
		mm = append(mm, *st.ThicknessUm/1000)
	}
	creep, err := makeup.CreepOf(mm)
	if err != nil || len(creep) == 0 {
		return ""
	}
	last := creep[len(creep)-1]
	return fmt.Sprintf("%.1f to %.1f mm", last.SharpMm, last.RoundMm)
}

func (s *Server) makeUpForm(r *http.Request, c *record.Case) *Form {
	if c.MakeUp == nil {
		return s.bodyForm(r, "makeup", c.LastSeq, record.MakeUp{FirstPage: 1}, false, nil)
	}
	b := c.MakeUp.Body
	var printed, inserts []string
	for _, p := range b.Printed {
		printed = append(printed, strconv.Itoa(p.Position)+": "+p.Printed)
	}
	for _, i := range b.Inserts {
		inserts = append(inserts, strconv.Itoa(i.AfterPage)+": "+i.What)
	}
	return s.bodyForm(r, "makeup", c.LastSeq, b, true, fills{
		"printed": strings.Join(printed, "\n"), "inserts": strings.Join(inserts, "\n"),
	})
}

func (s *Server) makeUpSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "makeup")
	if err != nil {
		return err
	}
	if f.Line("first_page") == "" {
		f.Set("first_page", "1")
	}
	if n := f.MaybeWhole("pages", "the inner pages"); n != nil && f.Line("inner_sheets") == "" {
		f.Set("inner_sheets", strconv.Itoa(*n/4))
		if *n%4 != 0 {
			f.Refuse("pages", "Four pages make a sheet: %d cannot be; a leaf that is missing counts with its two pages.", *n)
		}
	}
	b := bodyOf[record.MakeUp](f)
	for _, l := range numberedLines(f, "printed") {
		b.Printed = append(b.Printed, record.PrintedPage{Position: l.n, Printed: l.text})
	}
	for _, l := range numberedLines(f, "inserts") {
		b.Inserts = append(b.Inserts, record.Insert{AfterPage: l.n, What: l.text})
	}
	return s.saveMakeUp(w, r, f, c, account.Said(c, b)+".", b)
}

type numbered struct {
	n    int
	text string
}

// numberedLines reads lines of the form "12: 13".
func numberedLines(f *Form, field string) []numbered {
	var list []numbered
	for _, line := range strings.Split(f.Text(field), "\n") {
		if strings.TrimSpace(line) == "" {
			continue
		}
		left, right, ok := strings.Cut(line, ":")
		n, err := strconv.Atoi(strings.TrimSpace(left))
		if !ok || err != nil {
			f.Refuse(
				field,
				"%q cannot be read: a page position, a colon and what stands there are expected, as in 12: 13.",
				clip(line),
			)
			return nil
		}
		list = append(list, numbered{n, strings.TrimSpace(right)})
	}
	return list
}

func (s *Server) saveMakeUp(
	w http.ResponseWriter, r *http.Request, f *Form, c *record.Case, said string, bodies ...record.Body,
) error {
	return s.save(w, r, f, Saving{Case: c.ID, Items: items(bodies...), To: casePath(c.ID, "make-up"), Said: said},
		s.inCase(s.makeUpPage))
}

// sheetStateSave says the same of each sheet that is ticked.
func (s *Server) sheetStateSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "state")
	if err != nil {
		return err
	}
	sheets := f.Sheets("sheet")
	var bodies []record.Body
	for _, n := range sheets {
		f.Set("sheet", strconv.Itoa(n))
		bodies = append(bodies, bodyOf[record.SheetState](f))
	}
	f.values["sheet"] = texts(sheets)
	if len(bodies) == 0 {
		f.Refuse("sheet", "No sheet is chosen: at least one is needed.")
	}
	state := record.Words(record.SheetCondition(f.Line("sheet_state")))
	said := words.English.Upper(record.SheetNames(sheets)) + ": " + state
	return s.saveMakeUp(w, r, f, c, said+".", bodies...)
}

func texts(list []int) []string {
	var out []string
	for _, n := range list {
		out = append(out, strconv.Itoa(n))
	}
	return out
}

// stapleMove takes a staple out or puts one back; one that is kept becomes a
// kept part, with its label.
func (s *Server) stapleMove(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "move")
	if err != nil {
		return err
	}
	move := bodyOf[record.StapleMoved](f)
	said := account.Said(c, move) + "."
	bodies := []record.Body{move}
	if where := f.Line("part_where"); where != "" && move.Act == record.StapleRemoved {
		part := record.PartKept{
			ID: f.ID(0), Sort: record.PartStaple, What: "staple " + strconv.Itoa(move.Number),
			Label: f.Line("part_label"), Where: where,
		}
		move.Part = part.ID
		bodies = []record.Body{part, move}
	}
	return s.saveMakeUp(w, r, f, c, said, bodies...)
}

// nest is the drawing of the nested sheets, seen at the head: each sheet a
// folded line, the cover outermost.
type nest struct {
	Width, Height float64
	Sheets        []nestSheet
}

type nestSheet struct {
	Path         string
	Name         string
	LabelX, TopY float64
	Class        string // cover, odd
	Left, Right  string
	Y            float64
}

const nestStep = 22.0

// nestOf draws the sheets as nested folds with the pages that each end shows.
func nestOf(c *record.Case) nest {
	m := account.NestOf(c)
	if m == nil {
		return nest{}
	}
	list := c.Sheets()
	n := nest{Width: 560, Height: float64(len(list))*nestStep + 60}
	for i, k := range list {
		inset := float64(i) * 8
		y := 26 + float64(i)*nestStep
		sh := nestSheet{Name: record.SheetName(k), Y: y, Left: pagesOn(m, k, makeup.Outer)}
		left, right, _ := strings.Cut(sh.Left, " | ")
		sh.Left, sh.Right = left, right
		if k == 0 {
			sh.Class = "cover"
		}
		if st, ok := c.SheetStates[k]; ok && st.Body.State != "present" {
			sh.Class = strings.TrimSpace(sh.Class + " odd")
			sh.Name += ", " + record.WordsOf(record.SheetConditions, st.Body.State)
		}
		// Two leaves that meet in the fold at the middle, which dips.
		sh.Path = "M" + xy(70+inset, y) + " L" + xy(n.Width/2-26, y) + " Q" + xy(n.Width/2, y) + " " +
			xy(n.Width/2, y+22) + " Q" + xy(n.Width/2, y) + " " + xy(n.Width/2+26, y) + " L" + xy(n.Width-70-inset, y)
		n.Sheets = append(n.Sheets, sh)
	}
	return n
}

func xy(x, y float64) string {
	return strconv.FormatFloat(x, 'f', 1, 64) + " " + strconv.FormatFloat(y, 'f', 1, 64)
}
