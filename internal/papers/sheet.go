package papers

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/carlos7ags/folio/document"
	"github.com/carlos7ags/folio/layout"
)

// Colours of the papers: those of the screens, on white paper.
var (
	ink    = layout.Hex("#22262b")
	muted  = layout.Hex("#5d6570")
	rule   = layout.Hex("#d9d3c5")
	accent = layout.Hex("#1f5673")
	due    = layout.Hex("#a85b00")
	stop   = layout.Hex("#a3282b")
	ground = layout.Hex("#f8f5ee")
	warm   = layout.Hex("#fbf4e9")
)

// Styles. Sizes and leadings in points.
var (
	body      = &style{text, 10, 14, ink}
	bodyIt    = &style{textIt, 10, 14, ink}
	bodyMuted = &style{text, 10, 14, muted}
	labelling = &style{smallIt, 9, 14, muted}
	fine      = &style{small, 8.4, 11.2, ink}
	fineBold  = &style{smallBold, 8.4, 11.2, ink}
	fineMuted = &style{small, 8.4, 11.2, muted}
	caption   = &style{smallIt, 8.2, 10.8, muted}
	head      = &style{smallBold, 8, 10.4, muted}
	running   = &style{small, 8, 10, muted}
	section   = &style{textBold, 14, 18, accent}
	sub       = &style{textBold, 10.5, 14, ink}
	kind      = &style{textIt, 13, 17, accent}
	title     = &style{display, 27, 32, ink}
	subtitle  = &style{text, 12, 16, muted}
)

// pageSize is a size of paper in points, and its margins.
type pageSize struct {
	name                     string
	width, height            float64
	left, right, top, bottom float64
}

var pageSizes = map[string]pageSize{
	"A4":     {"A4", 595.28, 841.89, 64, 64, 82, 70},
	"Letter": {"US Letter", 612, 792, 70, 70, 78, 66},
}

func (s pageSize) measure() float64 { return s.width - s.left - s.right }

// axis is where running text and the values of facts begin: labels stand in
// the margin that it leaves, tables and pictures use the whole width.
const axis = 112.0

// sheet gathers the blocks of one paper.
type sheet struct {
	t     *typeface
	size  pageSize
	items []item
	// What stands on every page.
	headLeft, headRight, footLeft string
	info                          document.Info
	bare                          bool // no running head and foot
}

func newSheet(size string, date time.Time) (*sheet, error) {
	ps, ok := pageSizes[size]
	if !ok {
		return nil, fmt.Errorf("%q is not a size of paper that papers are set for: A4 or Letter is expected", size)
	}
	t, err := newTypeface()
	if err != nil {
		return nil, err
	}
	s := &sheet{t: t, size: ps}
	s.info = document.Info{
		Creator:      "benchleaf",
		Producer:     "benchleaf",
		CreationDate: date,
		ModDate:      date,
		Language:     "en",
	}
	return s, nil
}

func (s *sheet) add(b block, before, after float64, keep bool) {
	s.items = append(s.items, item{block: b, before: before, after: after, keep: keep})
}

// section begins a chapter of the paper: a rule over the whole width, and its
// name.
func (s *sheet) section(name string) {
	s.add(divider{}, 24, 0, true)
	s.add(paragraph{t: s.t, spans: []span{{name, section}}, tag: "H2", mark: name}, 0, 7, true)
}

// divider is the rule above a chapter. At the head of a page the rule of the
// running head does its work.
type divider struct{}

func (divider) set(w, h float64, fresh bool) ([]placed, float64, block) {
	if fresh {
		return []placed{{}}, 0, nil
	}
	const high = 7
	if h < high {
		return nil, 0, divider{}
	}
	return []placed{
		{Draw: artifact(func(ctx layout.DrawContext, x, top float64) { hairline(ctx, rule, x, top, x+w, top, 0.8) })},
	}, high, nil
}

// sub begins a part of a chapter.
func (s *sheet) sub(name string) {
	s.add(paragraph{t: s.t, spans: []span{{name, sub}}, tag: "H3", mark: name}, 13, 4, true)
}

// para is running text at the axis.
func (s *sheet) para(spans ...span) {
	s.add(paragraph{t: s.t, spans: spans, tag: "P", indent: axis}, 4, 6, false)
}

// lead is running text that stands on the page where what it leads to begins.
func (s *sheet) lead(spans ...span) {
	s.para(spans...)
	s.items[len(s.items)-1].keep = true
}

// wide is text over the whole width, in the small face.
func (s *sheet) wide(spans ...span) {
	s.add(paragraph{t: s.t, spans: spans, tag: "P"}, 4, 5, false)
}

// quote is what someone said, in their own words.
func (s *sheet) quote(words string) {
	s.add(
		paragraph{
			t:      s.t,
			spans:  []span{{"“" + strings.TrimSpace(words) + "”", bodyIt}},
			tag:    "BlockQuote",
			indent: axis,
		},
		4,
		6,
		false,
	)
}

// fact is a label and its value.
type fact struct {
	label string
	value []span
}

func say(label, value string) fact { return fact{label, []span{{value, body}}} }

// facts is a list of labels in the margin with values at the axis. Facts
// without a value are left out.
func (s *sheet) facts(list ...fact) {
	var cells [][]cell
	for _, f := range list {
		if strings.TrimSpace(plain(f.value)) == "" {
			continue
		}
		cells = append(cells, []cell{{{f.label, labelling}}, f.value})
	}
	if len(cells) == 0 {
		return
	}
	const gutter = 12
	s.add(table{t: s.t, cells: cells, cols: []column{{fixed: axis - gutter}, {fixed: s.size.measure() - axis}},
		look: tableLook{gutter: gutter, padTop: 0.5, padFoot: 0.5, labels: true}}, 3, 6, false)
}

func plain(spans []span) string {
	var b strings.Builder
	for _, s := range spans {
		b.WriteString(s.text)
	}
	return b.String()
}

// table is rows of cells in the small face.
func (s *sheet) table(cols []column, rows [][]cell) {
	s.add(
		table{
			t:     s.t,
			cols:  cols,
			cells: rows,
			look:  tableLook{head: head, gutter: 11, padTop: 2.6, padFoot: 2.8, rule: rule, rules: true},
		},
		5,
		10,
		false,
	)
}

// gridded is a table that grows by rows.
type gridded struct {
	cols []column
	rows [][]cell
}

// grid begins a table with the heads that stand between bars; a head that
// begins with > is over figures, set to the right.
func grid(heads string) *gridded {
	g := &gridded{}
	for h := range strings.SplitSeq(heads, "|") {
		c := column{head: h}
		if after, is := strings.CutPrefix(h, ">"); is {
			c = column{head: after, align: right}
		}
		g.cols = append(g.cols, c)
	}
	return g
}

// strong is the text of a cell that is to be found first.
type strong string

// row adds a row of texts, strong texts and cells.
func (g *gridded) row(cells ...any) {
	row := make([]cell, len(cells))
	for i, x := range cells {
		switch x := x.(type) {
		case string:
			row[i] = txt(x)
		case strong:
			row[i] = cell{{string(x), fineBold}}
		case cell:
			row[i] = x
		}
	}
	g.rows = append(g.rows, row)
}

// grid sets a table with rows under a name, or under none.
func (s *sheet) grid(name string, g *gridded) {
	if len(g.rows) == 0 {
		return
	}
	if name != "" {
		s.sub(name)
	}
	s.table(g.cols, g.rows)
}

// gridOr sets a table, or says in its place what is not recorded.
func (s *sheet) gridOr(g *gridded, none string) {
	if len(g.rows) == 0 {
		s.para(span{none, bodyMuted})
	}
	s.grid("", g)
}

// txt is a cell of plain text.
func txt(s string) cell {
	if s == "" {
		return nil
	}
	return cell{{s, fine}}
}

// caution is a warning that must not be overlooked.
func (s *sheet) caution(name string, texts ...string) { s.box(name, due, warm, texts...) }

// box is text on a ground.
func (s *sheet) box(name string, bar, under layout.Color, texts ...string) {
	var items []item
	if name != "" {
		items = append(
			items,
			item{
				block: paragraph{t: s.t, spans: []span{{name, &style{textBold, 10, 14, bar}}}, tag: "P"},
				after: 2,
				keep:  true,
			},
		)
	}
	for _, x := range texts {
		items = append(items, item{block: paragraph{t: s.t, spans: []span{{x, body}}, tag: "P"}, before: 3, after: 3})
	}
	s.add(boxed{items: items, indent: axis, ground: under, bar: bar, pad: 9}, 7, 9, false)
}

// signature is two lines to sign on, with what is to be signed under them.
func (s *sheet) signature(who, second string) {
	t := s.t
	s.add(signing{t, who, second}, 30, 6, false)
}

type signing struct {
	t           *typeface
	who, second string
}

func (g signing) set(w, h float64, fresh bool) ([]placed, float64, block) {
	const high = 44.0
	if h < high && !fresh {
		return nil, 0, g
	}
	a, b := (w-axis-20)*0.62, (w-axis-20)*0.38
	under := func(x, width float64, s string) placed {
		lines := g.t.setLines([]span{{s, caption}}, width)
		return placed{
			X:      x,
			Y:      30,
			Width:  width,
			Height: height(lines),
			Tag:    "P",
			Draw: func(ctx layout.DrawContext, x, top float64) {
				g.t.drawLines(ctx, lines, x, top, width, left)
			},
		}
	}
	return []placed{
		{Draw: artifact(func(ctx layout.DrawContext, x, top float64) {
			hairline(ctx, muted, x+axis, top-27, x+axis+a, top-27, 0.6)
			hairline(ctx, muted, x+axis+a+20, top-27, x+axis+a+20+b, top-27, 0.6)
		})},
		under(axis, a, g.who), under(axis+a+20, b, g.second),
	}, high, nil
}

// finish paginates and writes the paper.
func (s *sheet) finish() ([]byte, error) {
	w := s.size.measure()
	h := s.size.height - s.size.top - s.size.bottom
	pages := paginate(s.items, w, h)
	// Which characters have no form is known once all text is set.
	if note := s.t.missingNote(); note != "" {
		s.wide(span{note, fineMuted})
		pages = paginate(s.items, w, h)
	}
	s.info.Title, s.info.Author, s.info.Subject = s.t.legible(
		s.info.Title,
	), s.t.legible(
		s.info.Author,
	), s.t.legible(
		s.info.Subject,
	)
	doc := document.NewDocument(document.PageSize{Width: s.size.width, Height: s.size.height})
	doc.Info = s.info
	doc.SetMargins(layout.Margins{})
	doc.SetPdfA(document.PdfAConfig{Level: document.PdfA2A})
	doc.SetAutoBookmarks(true)
	doc.SetViewerPreferences(document.ViewerPreferences{DisplayDocTitle: true})
	for i, p := range pages {
		if i > 0 {
			doc.Add(layout.NewAreaBreak())
		}
		doc.Add(s.page(p, i, len(pages)))
	}
	var out bytes.Buffer
	_, err := doc.WriteToWithOptions(
		&out,
		document.WriteOptions{Deterministic: true, UseXRefStream: true, UseObjectStreams: true},
	)
	if err != nil {
		return nil, fmt.Errorf("the PDF cannot be written: %w", err)
	}
	return out.Bytes(), nil
}

// page is one finished page as the PDF writer takes it.
type page []placed

func (p page) PlanLayout(layout.LayoutArea) layout.LayoutPlan {
	return layout.LayoutPlan{Status: layout.LayoutFull, Consumed: 1, Blocks: p}
}

// page puts the running head and foot around the blocks of a page. The first
// block has no height, since the writer moves a page whose first block does
// not begin at its top.
func (s *sheet) page(blocks []placed, i, n int) page {
	p := page{{}}
	if !s.bare {
		p = append(p, s.frame(i, n)...)
	}
	for _, b := range blocks {
		b.X += s.size.left
		b.Y += s.size.top
		p = append(p, b)
	}
	return p
}

func (s *sheet) frame(i, n int) []placed {
	w := s.size.measure()
	put := func(y float64, text string, al align) placed {
		room := w * 0.68
		if al == right {
			room = w * 0.32
		}
		l := s.t.fitted(text, running, room)
		return placed{
			X:      s.size.left,
			Y:      y,
			Width:  w,
			Height: running.lead,
			Draw: artifact(func(ctx layout.DrawContext, x, top float64) {
				s.t.drawLines(ctx, []line{l}, x, top, w, al)
			}),
		}
	}
	count := fmt.Sprintf("page %d of %d", i+1, n)
	if s.headRight != "" {
		count = s.headRight + " · " + count
	}
	list := []placed{
		put(38, s.headLeft, left), put(38, count, right),
		{
			X:    s.size.left,
			Y:    52,
			Draw: artifact(func(ctx layout.DrawContext, x, top float64) { hairline(ctx, rule, x, top, x+w, top, 0.6) }),
		},
	}
	if s.footLeft != "" {
		list = append(list, put(s.size.height-42, s.footLeft, left))
	}
	return list
}

// fitted is one line of text no wider than width, its end cut off with an
// ellipsis when it is longer. Only running heads are cut: what they say stands
// whole in the paper.
func (t *typeface) fitted(s string, st *style, width float64) line {
	lines := t.setLines([]span{{strings.ReplaceAll(s, "\n", " "), st}}, 1e6)
	l := lines[0]
	if l.width <= width {
		return l
	}
	dots := t.glyphsOf([]span{{"…", st}})
	gs, w := l.glyphs, l.width
	for len(gs) > 0 && w+dots[0].adv > width {
		w -= gs[len(gs)-1].adv
		gs = gs[:len(gs)-1]
	}
	l = trimmed(append(append([]glyph(nil), gs...), dots...))
	l.lead = st.lead
	return l
}
