package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func (s *Server) routesMakeUp(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/make-up", s.doCase(s.makeUpPage))
	mux.Handle("GET /cases/{case}/make-up/preview", s.doCase(s.makeUpPreview))
	mux.Handle("POST /cases/{case}/make-up", s.doCase(s.makeUpSave))
	mux.Handle("POST /cases/{case}/sheet-state", s.doCase(s.sheetStateSave))
	mux.Handle("POST /cases/{case}/staple-moved", s.doCase(s.stapleMove))
}

// makeUpPage is which sheet carries which pages, and how each was found.
type makeUpPage struct {
	Page
	C       *record.Case
	Open    []account.Question
	Nest    *figureView
	Spine   *figureView
	Rows    []sheetRow
	Facts   []account.Fact
	Collate []collationRow
	Staple  []stapleRow
	// Preview shows what is typed, before it is saved.
	Preview *nestPreview
	Whole   []account.Point
	Looked  []record.Stamped[record.Reassembled]
	Changed bool // sheets are named in the record: a new count asks where
	On      *sheetRow
	Against []string // what the pages of On face in the object

	Form, StateForm, StapleForm, MoveForm, CollationForm, WholeForm *Form

	StapleChoices []record.Choice
}

type sheetRow struct {
	Number int
	Name   string
	Faces  []account.Opened
	State  string
	Basis  string
	Odd    bool // not simply there
	Paper  string
	Href   string
}

type stapleRow struct {
	record.MappedStaple
	Now string
}

// nestPreview is a make-up that is being typed.
type nestPreview struct {
	Say  string
	Nest *figureView
}

var makeUpView = declare[makeUpPage]("makeup")

func (s *Server) makeUpPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := makeUpPage{Page: s.casePage(r, c, "make-up"), C: c, Open: account.OpenAt(c, "make-up")}
	on := -1
	if n, err := strconv.Atoi(r.URL.Query().Get("sheet")); err == nil && c.HasSheet(n) {
		on = n
	}
	if c.MakeUp != nil {
		p.Nest, p.Rows, p.Facts = nestFigure(c, on, p.Case.Path("make-up")), sheetRows(c), account.Creep(c)
		for i := range p.Rows {
			if p.Rows[i].Number == on {
				p.On, p.Against = &p.Rows[i], account.LiesAgainst(c, on)
			}
		}
		p.Changed = c.NamesSheets()
	}
	if len(c.Staples) > 0 {
		p.Spine = newFigure(account.StapleMap(c, 480), account.StapleMapAlt(c), nil)
	}
	for _, x := range c.Collations {
		p.Collate = append(p.Collate, collationRow{x, account.CollationSays(c, &x.Body)})
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
	if q := r.URL.Query(); q.Has("look") {
		p.Preview = previewOf(c, q)
	}
	form := func(name string, b record.Body, extra fills) *Form {
		return s.bodyForm(r, name, c.LastSeq, b, false, extra)
	}
	p.StateForm = s.stateForm(r, c, on)
	p.StapleForm = form("staple", record.Staple{Number: len(c.Staples) + 1}, nil)
	p.MoveForm = form("move", record.StapleMoved{}, nil)
	p.CollationForm = form("collation", record.Collation{}, nil)
	p.Whole, p.Looked, p.WholeForm = account.WholePoints(c), c.Reassembled, form("whole", record.Reassembled{}, nil)
	return makeUpView.show(s, w, r, p)
}

// stateForm begins with how a sheet that is looked at was found, since what it says
// takes the place of what was said before.
func (s *Server) stateForm(r *http.Request, c *record.Case, on int) *Form {
	if on < 0 {
		return s.bodyForm(r, "state", c.LastSeq, record.SheetState{}, false, nil)
	}
	n := strconv.Itoa(on)
	return s.bodyForm(r, "state", c.LastSeq, c.SheetStates[on].Body, false, fills{"sheet": n})
}

func sheetRows(c *record.Case) []sheetRow {
	var rows []sheetRow
	for _, n := range c.Sheets() {
		row := sheetRow{
			Number: n, Name: upperFirst(record.SheetName(n)), Faces: account.OpenedSheet(c, n), State: "not looked at",
			Href: casePath(c.ID, "make-up") + "?sheet=" + strconv.Itoa(n) + "#on",
		}
		if st, ok := c.SheetStates[n]; ok {
			row.State, row.Basis = account.SheetFound(&st.Body), st.Body.Basis
		}
		if say := account.SheetRemark(c, n); say != "" {
			row.State, row.Odd = say, true
		}
		if stock := c.StockOf(n); stock != nil {
			row.Paper = stock.Name
		}
		rows = append(rows, row)
	}
	return rows
}

func (s *Server) makeUpForm(r *http.Request, c *record.Case) *Form {
	if c.MakeUp == nil {
		extra := fills{}
		if q := r.URL.Query(); q.Has("look") {
			for _, field := range strings.Fields("pages inner_sheets first_page build binding trim printed inserts") {
				extra.text(field, q.Get(field))
			}
		}
		return s.bodyForm(r, "makeup", c.LastSeq, record.MakeUp{FirstPage: 1}, false, extra)
	}
	b := c.MakeUp.Body
	b.Added, b.Gone, b.Stay = nil, nil, false // were said of the change before
	var printed, inserts []string
	for _, p := range b.Printed {
		printed = append(printed, strconv.Itoa(p.Position)+": "+p.Printed)
	}
	for _, i := range b.Inserts {
		leaves := ""
		if i.Leaves > 0 {
			leaves = "; " + strconv.Itoa(i.Leaves)
		}
		inserts = append(inserts, strconv.Itoa(i.AfterPage)+": "+i.What+leaves)
	}
	return s.bodyForm(r, "makeup", c.LastSeq, b, true, fills{
		"printed": strings.Join(printed, "\n"), "inserts": strings.Join(inserts, "\n"),
	})
}

// readMakeUp reads a make-up as typed: by its sheets, or by its pages.
func readMakeUp(f *Form) record.MakeUp {
	if f.Line("first_page") == "" {
		f.Set("first_page", "1")
	}
	if n := f.MaybeWhole("pages", "the inner pages"); n != nil && f.Line("inner_sheets") == "" {
		sheets, over, say := account.SheetsFromPages(*n, record.LeafBuild(f.Line("build")))
		f.Set("inner_sheets", strconv.Itoa(sheets))
		if over != 0 {
			f.Refuse("pages", "%s", say)
		}
	}
	for _, field := range []string{"added", "gone"} { // typed as one line: "3, 4"
		if typed := f.Line(field); typed != "" {
			f.values[field] = strings.FieldsFunc(typed, func(r rune) bool { return r == ',' || r == ' ' })
			defer f.Set(field, typed)
		}
	}
	b := bodyOf[record.MakeUp](f)
	for _, l := range numberedLines(f, "printed", "12: 13") {
		for i := l.from; i <= l.to; i++ {
			printed := l.text
			if n, err := strconv.Atoi(l.text); err == nil && l.to > l.from { // numbers run on through a range
				printed = strconv.Itoa(n + i - l.from)
			}
			b.Printed = append(b.Printed, record.PrintedPage{Position: i, Printed: printed})
		}
	}
	for _, l := range numberedLines(f, "inserts", "18: order card") {
		x := record.Insert{AfterPage: l.from, What: l.text}
		if what, leaves, ok := strings.Cut(l.text, ";"); ok {
			if n, err := strconv.Atoi(strings.TrimSpace(leaves)); err == nil {
				x.What, x.Leaves = strings.TrimSpace(what), n
			}
		}
		b.Inserts = append(b.Inserts, x)
	}
	return b
}

func (s *Server) makeUpSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "makeup")
	if err != nil {
		return err
	}
	b := readMakeUp(f)
	return s.saveMakeUp(w, r, f, c, account.Said(c, b)+".", b)
}

// numbered is a line that begins with a page position, or with a range of them.
type numbered struct {
	from, to int
	text     string
}

// numberedLines reads lines of the form "12: 13" or "17-36: 19".
func numberedLines(f *Form, field, like string) []numbered {
	var list []numbered
	for _, line := range strings.Split(f.Text(field), "\n") {
		if strings.TrimSpace(line) == "" {
			continue
		}
		left, right, ok := strings.Cut(line, ":")
		first, last, ranged := strings.Cut(strings.ReplaceAll(left, "–", "-"), "-")
		from, err := strconv.Atoi(strings.TrimSpace(first))
		to := from
		if ranged && err == nil {
			to, err = strconv.Atoi(strings.TrimSpace(last))
		}
		if !ok || err != nil || to < from || to-from > 4*record.MaxSheets {
			f.Refuse(
				field, "%q cannot be read: a page position, a colon and what stands there are expected, as in %s.",
				clip(line), like,
			)
			return nil
		}
		list = append(list, numbered{from, to, strings.TrimSpace(right)})
	}
	return list
}

// makeUpPreview draws what is typed in the form of the make-up, as a piece of a page.
func (s *Server) makeUpPreview(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	return s.templates.partials.ExecuteTemplate(w, "nest-preview", previewOf(c, r.URL.Query()))
}

// previewOf is what is typed, drawn; a sentence alone where it cannot be.
func previewOf(c *record.Case, q url.Values) *nestPreview {
	f := &Form{values: q}
	pages := f.MaybeWhole("pages", "the inner pages")
	byPages := pages != nil && f.Line("inner_sheets") == ""
	b := readMakeUp(f)
	if b.Cover == "" {
		b.Cover = record.CoverSeparate
	}
	p := &nestPreview{}
	if byPages {
		_, _, p.Say = account.SheetsFromPages(*pages, b.Build)
	}
	if len(f.Refused) > 0 && f.Refused[0].Field == "pages" {
		return p
	}
	if list, ok := record.Refusals(record.Validate(b)); ok && len(list) > 0 {
		p.Say = list[0].Say
		return p
	}
	if p.Say == "" {
		p.Say = upperFirst(account.SheetsAre(&b)) + ": " + plural(b.Science().Pages(), "page", "pages") + "."
	}
	typed := &record.Case{MakeUp: &record.Stamped[record.MakeUp]{Body: b}}
	if c.MakeUp != nil && c.MakeUp.Body.InnerSheets == b.InnerSheets {
		typed.SheetStates = c.SheetStates
	}
	p.Nest = nestFigure(typed, -1, "")
	return p
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
	var found string
	for _, n := range sheets {
		f.Set("sheet", strconv.Itoa(n))
		b := bodyOf[record.SheetState](f)
		found = account.SheetFound(&b)
		bodies = append(bodies, b)
	}
	f.values["sheet"] = texts(sheets)
	if len(bodies) == 0 {
		f.Refuse("sheet", "No sheet is chosen: at least one is needed.")
	}
	return s.saveMakeUp(w, r, f, c, words.English.Upper(record.SheetNames(sheets))+": "+found+".", bodies...)
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
