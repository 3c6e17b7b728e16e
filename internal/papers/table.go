package papers

import (
	"slices"

	"github.com/carlos7ags/folio/layout"
)

// column of a table; with fixed set, it is that wide, in points.
type column struct {
	head  string
	align align
	fixed float64
}

// cell is what stands in one place of a table.
type cell []span

// tableLook is how a table is drawn.
type tableLook struct {
	head            *style
	gutter          float64
	padTop, padFoot float64
	rule            layout.Color
	rules           bool // between rows
	labels          bool // the first column names the row
}

// table is rows under repeated heads. Rows are kept whole where a page can
// hold them and split between lines where it cannot.
type table struct {
	t     *typeface
	look  tableLook
	whole bool // never split where a page can hold it
	cols  []column
	cells [][]cell

	// What is computed once, at the first page, and kept for the next.
	width  float64
	widths []float64
	rows   []tableRow
}

// tableRow is a row whose text is set. cont says that its beginning stands on
// the page before.
type tableRow struct {
	lines [][]line
	cont  bool
}

func (r tableRow) height(look *tableLook) float64 {
	h := 0.0
	for _, c := range r.lines {
		h = max(h, height(c))
	}
	return h + look.padTop + look.padFoot
}

func (t *table) hasHead() bool {
	for _, c := range t.cols {
		if c.head != "" {
			return true
		}
	}
	return false
}

// prepare fixes the widths of the columns and sets all text.
func (t *table) prepare(w float64) {
	t.width = w
	t.widths = t.columnWidths(w)
	t.rows = make([]tableRow, len(t.cells))
	for i, cells := range t.cells {
		row := tableRow{lines: make([][]line, len(t.cols))}
		for j := range t.cols {
			if j < len(cells) && len(cells[j]) > 0 {
				row.lines[j] = t.t.setLines(cells[j], t.widths[j])
			}
		}
		t.rows[i] = row
	}
}

// shortShares are shares of a table's width up to which a column may keep all
// that it holds on one line: what is as short as a number with its unit.
var shortShares = []float64{0.19, 0.14, 0.1, 0.06}

// columnWidths gives each column what its text asks for when that fits. Else it
// keeps short columns on one line as far as that makes the table lower: where
// one column holds long text, they give way.
func (t *table) columnWidths(w float64) []float64 {
	whole, word := t.asked()
	var best []float64
	least := 0.0
	for _, short := range shortShares {
		widths := t.shared(w, short, whole, word)
		high := t.heightAt(widths)
		if best == nil || high < least-slack {
			best, least = widths, high
		}
		if best != nil && sum(whole) <= w-t.look.gutter*float64(len(t.cols)-1) {
			break
		}
	}
	return best
}

// asked measures what each column would hold on one line, and its longest word.
func (t *table) asked() (whole, word []float64) {
	n := len(t.cols)
	whole, word = make([]float64, n), make([]float64, n)
	measure := func(j int, s []span) {
		a, b := t.t.natural(s)
		whole[j], word[j] = max(whole[j], a), max(word[j], b)
	}
	const sample = 400 // rows of a long table are alike
	for i, cells := range t.cells {
		if i == sample {
			break
		}
		for j := range min(n, len(cells)) {
			measure(j, cells[j])
		}
	}
	for j, c := range t.cols {
		if c.head != "" {
			measure(j, []span{{c.head, t.look.head}})
		}
		if c.fixed > 0 {
			whole[j], word[j] = c.fixed, c.fixed
		}
	}
	return whole, word
}

// heightAt is how high the first rows are at these widths.
func (t *table) heightAt(widths []float64) float64 {
	const sample = 40
	high := 0.0
	for _, cells := range t.cells[:min(sample, len(t.cells))] {
		row := 0.0
		for j := range min(len(widths), len(cells)) {
			if len(cells[j]) > 0 {
				row = max(row, height(t.t.setLines(cells[j], widths[j])))
			}
		}
		high += row
	}
	return high
}

// shared shares the width out: each column gets its longest word, or all that it
// holds where that is short, and a share of the rest by how much more it asks for.
func (t *table) shared(w, short float64, whole, word []float64) []float64 {
	n := len(t.cols)
	room := w - t.look.gutter*float64(n-1)
	word = slices.Clone(word)
	for j, c := range t.cols {
		if c.fixed > 0 {
			continue
		}
		// A word longer than this breaks rather than starve the others.
		word[j] = min(word[j], room/float64(n)+30)
		if whole[j] <= short*room {
			word[j] = whole[j]
		}
	}
	widths := make([]float64, n)
	switch all, least := sum(whole), sum(word); {
	case all <= room:
		// The white left over goes to the columns by what they hold, so that
		// the table is as wide as the page's text.
		for j := range widths {
			widths[j] = whole[j]
			if t.cols[j].fixed == 0 && all > 0 {
				widths[j] += (room - all) * whole[j] / max(all-t.fixedSum(), 1)
			}
		}
	case least >= room:
		for j := range widths {
			widths[j] = word[j] * room / least
		}
	default:
		for j := range widths {
			widths[j] = word[j] + (room-least)*(whole[j]-word[j])/(all-least)
		}
	}
	return widths
}

func sum(v []float64) (s float64) {
	for _, x := range v {
		s += x
	}
	return s
}

func (t *table) fixedSum() (s float64) {
	for _, c := range t.cols {
		s += c.fixed
	}
	return s
}

// A table of few and low rows moves on whole rather than be split.
const (
	keepRows   = 4
	smallTable = 170.0
)

// keepWhole is the share of a page up to which a row is not split.
const keepWhole = 0.4

func (t table) set(w, h float64, fresh bool) ([]placed, float64, block) {
	if t.width != w || t.rows == nil {
		t.prepare(w)
	}
	var head *placed
	y := 0.0
	if t.hasHead() {
		p, used := t.placeHead()
		head, y = &p, used
	}
	if !fresh && len(t.rows) > 1 && (t.whole || len(t.rows) <= keepRows) && !t.rows[0].cont {
		all := y
		for _, r := range t.rows {
			all += r.height(&t.look)
		}
		if all > h+slack && (t.whole || all < smallTable) {
			return nil, 0, t
		}
	}
	var rows []placed
	rest := t
	rest.rows = t.rows[len(t.rows):]
	for i, r := range t.rows {
		rh := r.height(&t.look)
		if y+rh <= h+slack {
			rows = append(rows, t.placeRow(r, y))
			y += rh
			continue
		}
		rest.rows = t.rows[i:]
		if room := h - y; fresh && i == 0 || rh > keepWhole*h && room > 60 {
			now, later := r.split(room-t.look.padTop-t.look.padFoot, fresh && i == 0)
			if now != nil {
				rows = append(rows, t.placeRow(*now, y))
				y += now.height(&t.look)
				if later != nil {
					rest.rows = append([]tableRow{*later}, t.rows[i+1:]...)
				} else {
					rest.rows = t.rows[i+1:]
				}
			}
		}
		break
	}
	switch n, rest0 := len(rows), len(rest.rows); {
	case len(t.rows) == 0:
		return []placed{{}}, 0, nil
	case n == 0, n == 1 && rest0 > 1 && !fresh && !rest.rows[0].cont:
		return nil, 0, t // no row, or one alone under its head at the foot of a page
	case n > 2 && rest0 == 1 && !rest.rows[0].cont:
		// Nor does one stand alone under the repeated head.
		last := t.rows[n-1]
		rows, y = rows[:n-1], y-last.height(&t.look)
		rest.rows = []tableRow{last, rest.rows[0]}
	}
	if head != nil {
		rows = append([]placed{*head}, rows...)
	}
	done := []placed{{Width: w, Height: y, Tag: "Table", Children: rows}}
	if t.look.rules {
		done = append(done, t.ruled(rows, head != nil))
	}
	if len(rest.rows) == 0 {
		return done, y, nil
	}
	return done, y, rest
}

// ruled draws a hairline under each row, a darker one under the head.
func (t *table) ruled(rows []placed, headed bool) placed {
	feet := make([]float64, len(rows))
	for i, r := range rows {
		feet[i] = r.Y + r.Height
	}
	w, thin := t.width, t.look.rule
	return placed{Draw: artifact(func(ctx layout.DrawContext, x, top float64) {
		for i, y := range feet {
			colour, width := thin, 0.5
			if i == 0 && headed {
				colour, width = muted, 0.6
			}
			hairline(ctx, colour, x, top-y, x+w, top-y, width)
		}
	})}
}

// split divides a row at a height. With force, at least one line goes first.
func (r tableRow) split(h float64, force bool) (now, later *tableRow) {
	a, b := tableRow{
		cont:  r.cont,
		lines: make([][]line, len(r.lines)),
	}, tableRow{
		cont:  true,
		lines: make([][]line, len(r.lines)),
	}
	some, left := false, false
	for j, lines := range r.lines {
		n, used := 0, 0.0
		for n < len(lines) && used+lines[n].lead <= h+slack {
			used += lines[n].lead
			n++
		}
		if n == 0 && force && len(lines) > 0 {
			n = 1
		}
		a.lines[j], b.lines[j] = lines[:n], lines[n:]
		some, left = some || n > 0, left || n < len(lines)
	}
	switch {
	case !some:
		return nil, &r
	case !left:
		return &a, nil
	}
	return &a, &b
}

func (t *table) placeHead() (placed, float64) {
	cells := make([][]line, len(t.cols))
	h := 0.0
	for j, c := range t.cols {
		if c.head != "" {
			cells[j] = t.t.setLines([]span{{c.head, t.look.head}}, t.widths[j])
			h = max(h, height(cells[j]))
		}
	}
	h += t.look.padTop + t.look.padFoot
	row := t.place(cells, 0, h, "TH", true)
	return row, h
}

func (t *table) placeRow(r tableRow, y float64) placed {
	h := r.height(&t.look)
	return t.place(r.lines, y, h, "TD", false)
}

// place sets the cells of a row. Heads stand at the foot of theirs.
func (t *table) place(cells [][]line, y, h float64, tag string, foot bool) placed {
	row := placed{Y: y, Width: t.width, Height: h, Tag: "TR"}
	x := 0.0
	for j, lines := range cells {
		w, al, tf := t.widths[j], t.cols[j].align, t.t
		drop := t.look.padTop
		if foot {
			drop = h - t.look.padFoot - height(lines)
		}
		cellTag := tag
		if j == 0 && t.look.labels {
			cellTag = "TH"
		}
		row.Children = append(
			row.Children,
			placed{
				X:      x,
				Y:      drop,
				Width:  w,
				Height: height(lines),
				Tag:    cellTag,
				Draw: func(ctx layout.DrawContext, x, top float64) {
					tf.drawLines(ctx, lines, x, top, w, al)
				},
			},
		)
		x += w + t.look.gutter
	}
	return row
}
