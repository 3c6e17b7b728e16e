package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/makeup"
)

func (s *Server) routesMakeUp(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/make-up", s.doCase(s.makeUpPage))
	mux.Handle("POST /cases/{case}/make-up", s.doCase(s.makeUpSave))
	mux.Handle("POST /cases/{case}/sheet-state", s.doCase(s.sheetStateSave))
	mux.Handle("POST /cases/{case}/staple", s.doCase(s.stapleSave))
	mux.Handle("POST /cases/{case}/staple-moved", s.doCase(s.stapleMove))
	mux.Handle("POST /cases/{case}/collation", s.doCase(s.collationSave))
}

// makeUpPage is which sheet carries which pages, and how each was found.
type makeUpPage struct {
	Page
	C      *record.Case
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
	p := makeUpPage{Page: s.casePage(r, c, "make-up"), C: c, Nest: nestOf(c)}
	if m := makeUpOf(c); m != nil {
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
	p.Form = s.form(r, "makeup", c.LastSeq, makeUpFill(c))
	p.StateForm = s.form(
		r,
		"state",
		c.LastSeq,
		fills{"sheet": r.URL.Query().Get("sheet"), "open": r.URL.Query().Get("sheet")},
	)
	p.StapleForm = s.form(r, "staple", c.LastSeq, fills{"staple": strconv.Itoa(len(c.Staples) + 1)})
	p.MoveForm = s.form(r, "move", c.LastSeq, nil)
	p.CollationForm = s.form(r, "collation", c.LastSeq, nil)
	return makeUpView.show(s, w, r, p)
}

// makeUpOf is the case's make-up as package makeup reckons with it, or nil.
func makeUpOf(c *record.Case) *makeup.MakeUp {
	if c.MakeUp == nil {
		return nil
	}
	b := c.MakeUp.Body
	m := &makeup.MakeUp{Inner: b.InnerSheets, Cover: makeup.SeparateCover, FirstNumber: b.FirstPage}
	if b.Cover == record.CoverSelf {
		m.Cover = makeup.SelfCover
	}
	for _, x := range b.Printed {
		m.Printed = append(m.Printed, makeup.Printed{Position: x.Position, Number: x.Printed})
	}
	return m
}

func sheetRows(c *record.Case, m *makeup.MakeUp) []sheetRow {
	var rows []sheetRow
	for _, n := range c.Sheets() {
		row := sheetRow{
			Number: n,
			Name:   upperFirst(record.SheetName(n)),
			Outer:  pagesOn(m, n, makeup.Outer),
			Inner:  pagesOn(m, n, makeup.Inner),
			State:  "present",
		}
		if st, ok := c.SheetStates[n]; ok {
			row.State, row.Basis, row.Odd = record.WordsOf(
				record.SheetConditions,
				st.Body.State,
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

func makeUpFill(c *record.Case) fills {
	m := fills{"cover": "separate", "binding": "saddle", "first_page": "1"}
	if c.MakeUp == nil {
		return m
	}
	b := c.MakeUp.Body
	m["inner_sheets"], m["first_page"] = strconv.Itoa(b.InnerSheets), strconv.Itoa(b.FirstPage)
	m.text("cover", string(b.Cover)).text("binding", string(b.Binding)).text("note", b.Note)
	var lines []string
	for _, p := range b.Printed {
		lines = append(lines, strconv.Itoa(p.Position)+": "+p.Printed)
	}
	m.text("printed", strings.Join(lines, "\n"))
	lines = nil
	for _, i := range b.Inserts {
		lines = append(lines, strconv.Itoa(i.AfterPage)+": "+i.What)
	}
	return m.text("inserts", strings.Join(lines, "\n"))
}

func (s *Server) makeUpSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "makeup")
	if err != nil {
		return err
	}
	b := record.MakeUp{
		InnerSheets: f.Whole("inner_sheets", "the number of inner sheets"),
		Cover:       record.CoverState(f.Line("cover")),
		Binding:     record.Binding(f.Line("binding")),
		FirstPage:   1,
		Note:        f.Text("note"),
	}
	if n := f.MaybeWhole("first_page", "the first page's number"); n != nil {
		b.FirstPage = *n
	}
	for _, l := range numberedLines(f, "printed") {
		b.Printed = append(b.Printed, record.PrintedPage{Position: l.n, Printed: l.text})
	}
	for _, l := range numberedLines(f, "inserts") {
		b.Inserts = append(b.Inserts, record.Insert{AfterPage: l.n, What: l.text})
	}
	return s.saveMakeUp(
		w,
		r,
		f,
		c,
		"The make-up: "+plural(
			b.InnerSheets,
			"inner sheet",
			"inner sheets",
		)+", "+record.WordsOf(
			record.Covers,
			b.Cover,
		)+".",
		b,
	)
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
	w http.ResponseWriter,
	r *http.Request,
	f *Form,
	c *record.Case,
	said string,
	bodies ...record.Body,
) error {
	return s.save(
		w,
		r,
		f,
		Saving{Case: c.ID, Items: items(bodies...), To: casePath(c.ID, "make-up"), Said: said},
		s.inCase(s.makeUpPage),
	)
}

func (s *Server) sheetStateSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "state")
	if err != nil {
		return err
	}
	var bodies []record.Body
	for _, n := range f.Sheets("sheet") {
		bodies = append(
			bodies,
			record.SheetState{Sheet: n, State: record.SheetCondition(f.Line("sheet_state")), Leaf: record.Leaf(f.Line("leaf")), Basis: f.Line("basis")},
		)
	}
	if len(bodies) == 0 {
		f.Refuse("sheet", "No sheet is chosen: at least one is needed.")
	}
	return s.saveMakeUp(
		w,
		r,
		f,
		c,
		upperFirst(
			record.SheetNames(f.Sheets("sheet")),
		)+": "+record.WordsOf(
			record.SheetConditions,
			f.Line("sheet_state"),
		)+".",
		bodies...)
}

func (s *Server) stapleSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "staple")
	if err != nil {
		return err
	}
	n := f.Whole("staple", "the staple's number")
	return s.saveMakeUp(
		w,
		r,
		f,
		c,
		"Staple "+strconv.Itoa(n)+" is on the map.",
		record.Staple{
			Number:     n,
			FromHeadMm: f.Number("from_head_mm", "the distance from the head"),
			CrownMm:    f.MaybeNumber("crown_mm", "the crown"),
			WireMm: f.MaybeNumber(
				"wire_mm",
				"the wire",
			),
			LegMm:  f.MaybeNumber("leg_mm", "the leg"),
			Clinch: record.Clinch(f.Line("clinch")),
			Rust:   record.Rust(f.Line("rust")),
			Note:   f.Text("note"),
		},
	)
}

// stapleMove takes a staple out or puts one back; one that is kept becomes a
// kept part, with its label.
func (s *Server) stapleMove(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "move")
	if err != nil {
		return err
	}
	n := f.Whole("staple", "the staple")
	move := record.StapleMoved{Number: n, Act: record.StapleAct(f.Line("staple_act")), At: f.At(), How: f.Text("how")}
	bodies := []record.Body{move}
	if where := f.Line("part_where"); where != "" && move.Act == "removed" {
		part := record.PartKept{
			ID:    f.ID(0),
			Sort:  "staple",
			What:  "staple " + strconv.Itoa(n),
			Label: f.Line("part_label"),
			Where: where,
		}
		move.Part = part.ID
		bodies = []record.Body{part, move}
	}
	return s.saveMakeUp(
		w,
		r,
		f,
		c,
		"Staple "+strconv.Itoa(n)+": "+record.WordsOf(record.StapleActs, move.Act)+".",
		bodies...)
}

func (s *Server) collationSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "collation")
	if err != nil {
		return err
	}
	return s.saveMakeUp(
		w,
		r,
		f,
		c,
		"Collated.",
		record.Collation{
			When:          record.CollationTime(f.Line("collation_when")),
			At:            f.At(),
			SheetsCounted: f.Whole("sheets_counted", "the number of sheets counted"),
			InOrder: f.Line(
				"in_order",
			) == "yes",
			CreepMm:  f.MaybeNumber("creep_mm", "the creep"),
			Findings: f.Text("findings"),
		},
	)
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
	m := makeUpOf(c)
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
		sh.Path = "M" + xy(
			70+inset,
			y,
		) + " L" + xy(
			n.Width/2-26,
			y,
		) + " Q" + xy(
			n.Width/2,
			y,
		) + " " + xy(
			n.Width/2,
			y+22,
		) + " Q" + xy(
			n.Width/2,
			y,
		) + " " + xy(
			n.Width/2+26,
			y,
		) + " L" + xy(
			n.Width-70-inset,
			y,
		)
		n.Sheets = append(n.Sheets, sh)
	}
	return n
}

func xy(x, y float64) string {
	return strconv.FormatFloat(x, 'f', 1, 64) + " " + strconv.FormatFloat(y, 'f', 1, 64)
}
