package makeup

import (
	"math"
	"slices"
	"strings"
)

// Point is a place on a drawing, in points (1/72 inch) from its left edge and its
// top.
type Point struct{ X, Y float64 }

// Pen says what a stroke stands for, so that screen and paper draw it alike.
type Pen string

const (
	PenSheet    Pen = "sheet"
	PenCover    Pen = "cover"
	PenLoose    Pen = "loose"    // dashed
	PenGone     Pen = "gone"     // dotted
	PenMarried  Pen = "married"  // in another colour
	PenInsert   Pen = "insert"   // dashed, in a third
	PenStaple   Pen = "staple"   // the fastening
	PenGlue     Pen = "glue"     // a broad one
	PenRust     Pen = "rust"     // a fastening that has rusted
	PenOut      Pen = "out"      // where a fastening was
	PenMeasure  Pen = "measure"  // of the spine, head to tail
	PenSelected Pen = "selected" // behind the sheet that is looked at
)

// Segment is a straight piece, or a cubic Bezier curve where Curved is set, from
// where the one before ended.
type Segment struct {
	Curved   bool
	C1, C2   Point
	To       Point
	Movement bool // the pen is lifted
}

// Stroke is one line of a drawing.
type Stroke struct {
	Pen Pen
	// Sheet is the sheet that it is part of; -1 for what is none.
	Sheet    Sheet
	Segments []Segment
}

// Label is a word on a drawing; At is the left end of its base line, its middle or
// its right end, as Align says.
type Label struct {
	At    Point
	Align Align
	Text  string
	// Remark is what is said of the sheet after its name, set apart.
	Remark string
	Sheet  Sheet
}

// Align says which end of a label stands at its place.
type Align int

const (
	Left Align = iota
	Centre
	Right
)

// Drawing is a figure of strokes and words.
type Drawing struct {
	Width, Height float64
	Strokes       []Stroke
	Labels        []Label
}

// Uses says whether a pen is used in the drawing, for its key.
func (d Drawing) Uses(p Pen) bool {
	return slices.ContainsFunc(d.Strokes, func(s Stroke) bool { return s.Pen == p })
}

// Fastening is what holds the sheets, as far as a drawing shows it.
type Fastening string

const (
	NoFastening  Fastening = ""
	ThroughFold  Fastening = "fold"
	ThroughSide  Fastening = "side"
	GluedAtSpine Fastening = "glue"
)

// Layout is how a nest is drawn: all in points.
type Layout struct {
	// Width is that of the whole, Words that of the labels at its right.
	Width, Words float64
	// Gap is how far leaves stand apart; less where MaxHeight needs it.
	Gap, MaxHeight float64
	// Fold is how far the two innermost leaves stand apart; 0: as the others.
	Fold float64
	// LabelGap is how near two labels may stand above each other.
	LabelGap  float64
	Fastening Fastening
	// Selected is the sheet that is looked at, -1 for none.
	Selected Sheet
}

// row is one leaf, or an insert, in reading order.
type row struct {
	sheet  Sheet
	leaf   Leaf
	insert *Insert
	y      float64
}

// Draw draws the sheets as they lie in one another, seen from the head with the
// front uppermost: each leaf a line that ends at its fore-edge with its pages, the
// folds at the left. Fore-edges are drawn level: creep is tenths of a millimetre.
func (m MakeUp) Draw(l Layout) Drawing {
	rows := m.rows()
	gap := l.Gap
	fold := max(gap, l.Fold, 5)
	if l.MaxHeight > 0 && len(rows) > 1 {
		gap = min(gap, (l.MaxHeight-16-fold)/float64(len(rows)-1))
	}
	const edge = 8
	y, half := float64(edge), m.centre(rows)
	for i := range rows {
		switch {
		case i == half:
			y += fold
		case i > 0:
			y += gap
		}
		rows[i].y = y
	}
	d := Drawing{Width: l.Width, Height: y + edge}
	mid := 0.0
	if half > 0 {
		before := half - 1
		for before > 0 && rows[before].insert != nil {
			before--
		}
		mid = (rows[before].y + rows[half].y) / 2
	}
	p := &plotter{m: m, d: &d, l: l, rows: rows, mid: mid, foreEdge: l.Width - l.Words}
	p.draw()
	return d
}

// rows lists leaves and inserts in reading order; leaves that are missing have
// their place.
func (m MakeUp) rows() []row {
	var rows []row
	var last *Insert
	for _, it := range m.Reading() {
		switch {
		case it.Insert != nil && it.Insert != last:
			rows = append(rows, row{insert: it.Insert, sheet: -1})
		case it.Insert == nil && it.Page.Side == Recto:
			rows = append(rows, row{sheet: it.Page.Sheet, leaf: it.Page.Leaf})
		}
		last = it.Insert
	}
	return rows
}

// centre is the first row behind the middle of the nest; of a stack, none.
func (m MakeUp) centre(rows []row) int {
	if m.Build == Stack {
		return -1
	}
	return slices.IndexFunc(rows, func(r row) bool { return r.insert == nil && r.leaf == Second })
}

// plotter draws one nest.
type plotter struct {
	m             MakeUp
	d             *Drawing
	l             Layout
	rows          []row
	mid, foreEdge float64
}

const (
	foldsX  = 16.0 // of the outermost fold
	foldsIn = 2.2  // how far each fold further in lies from the one round it
)

func (p *plotter) draw() {
	for _, r := range p.rows {
		if r.insert != nil {
			p.stroke(PenInsert, -1, Point{p.foldX(0) + 44, r.y}, line(p.foreEdge, r.y))
			continue
		}
		p.leaf(r)
	}
	p.spine()
	p.fastening()
	p.labels()
}

func line(x, y float64) Segment { return Segment{To: Point{x, y}} }

func (p *plotter) stroke(pen Pen, s Sheet, from Point, segments ...Segment) {
	all := append([]Segment{{To: from, Movement: true}}, segments...)
	p.d.Strokes = append(p.d.Strokes, Stroke{pen, s, all})
}

// foldX is where the fold of a sheet lies.
func (p *plotter) foldX(s Sheet) float64 {
	if p.m.Build == Stack {
		return foldsX
	}
	step := min(foldsIn, 60/float64(max(len(p.m.Sheets()), 1)))
	return foldsX + step*float64(s-p.m.FirstSheet())
}

// leaf draws one leaf from its fore-edge to the fold, where it curves to meet its
// conjugate; it stops short of it where the fold has parted.
func (p *plotter) leaf(r row) {
	st := p.m.State(r.sheet)
	x := p.foldX(r.sheet)
	pen := PenSheet
	switch {
	case st.Missing.Has(r.leaf):
		pen = PenGone
	case st.Married.Has(r.leaf):
		pen = PenMarried
	case st.Hold != Held && (st.HoldLeaf == NoLeaf || st.HoldLeaf.Has(r.leaf)):
		pen = PenLoose
	case r.sheet == 0:
		pen = PenCover
	}
	if st.Hold == Loose && (st.HoldLeaf == NoLeaf || st.HoldLeaf.Has(r.leaf)) {
		x += 7 // off the fastening
	}
	var path []Segment
	switch {
	case p.m.Single(r.sheet) || p.m.Build == Stack:
		path = []Segment{line(x, r.y)}
	default:
		away := math.Abs(r.y - p.mid)
		bend := 5 + 0.55*away
		path = []Segment{line(x+bend, r.y)}
		if !st.Split && st.Missing == NoLeaf || st.Missing == BothLeaves {
			// A quarter of an ellipse, to the fold.
			const k = 0.5523
			path = append(path, Segment{
				Curved: true, C1: Point{x + bend - k*bend, r.y}, C2: Point{x, p.mid + k*(r.y-p.mid)}, To: Point{x, p.mid},
			})
		}
	}
	from := Point{p.foreEdge, r.y}
	if r.sheet == p.l.Selected {
		p.stroke(PenSelected, r.sheet, from, path...)
	}
	p.stroke(pen, r.sheet, from, path...)
}

// spine joins front and back of the cover that wraps a stack.
func (p *plotter) spine() {
	if p.m.Build != Stack || p.m.Cover == SelfCover || len(p.rows) < 2 {
		return
	}
	st := p.m.State(0)
	if st.Split || st.Missing != NoLeaf {
		return
	}
	first, last := p.rows[0], p.rows[len(p.rows)-1]
	p.stroke(PenCover, 0, Point{foldsX, first.y}, line(foldsX-4, first.y), line(foldsX-4, last.y), line(foldsX, last.y))
}

func (p *plotter) fastening() {
	if len(p.rows) == 0 {
		return
	}
	top, foot := p.rows[0].y, p.rows[len(p.rows)-1].y
	switch p.l.Fastening {
	case ThroughFold:
		if p.m.Build == Nest {
			in := p.foldX(Sheet(p.m.Inner))
			p.stroke(PenStaple, -1, Point{foldsX - 5, p.mid - 3}, line(foldsX-5, p.mid), line(in+4, p.mid))
			break
		}
		fallthrough
	case ThroughSide:
		const x, leg = foldsX + 12, 3
		p.stroke(PenStaple, -1, Point{x + leg, top - leg}, line(x, top-leg), line(x, foot+leg), line(x+leg, foot+leg))
	case GluedAtSpine:
		p.stroke(PenGlue, -1, Point{foldsX - 1, top}, line(foldsX-1, foot))
	}
}

// labels names each leaf by its pages and its sheet, those first that have
// something to tell, and as many others as have room.
func (p *plotter) labels() {
	var taken []float64
	room := func(y float64) bool {
		return !slices.ContainsFunc(taken, func(t float64) bool { return math.Abs(t-y) < p.l.LabelGap-0.01 })
	}
	put := func(r row) {
		if !room(r.y) {
			return
		}
		taken = append(taken, r.y)
		at := Label{At: Point{p.foreEdge + 6, r.y}, Sheet: r.sheet}
		if r.insert != nil {
			at.Remark = r.insert.What
		} else {
			at.Text, at.Remark = p.m.LeafPages(r.sheet, r.leaf), p.remark(r)
		}
		p.d.Labels = append(p.d.Labels, at)
	}
	first := func(r row, i int) int {
		switch {
		case i == 0 || i == len(p.rows)-1:
			return 0
		case r.insert != nil || p.m.State(r.sheet).Words() != "" || r.sheet == p.l.Selected:
			return 1
		}
		return 2
	}
	for rank := range 3 {
		for i, r := range p.rows {
			if first(r, i) == rank {
				put(r)
			}
		}
	}
}

// remark names the sheet, and at its first leaf that is drawn how it was found.
func (p *plotter) remark(r row) string {
	st := p.m.State(r.sheet)
	parts := []string{r.sheet.String()}
	if r.leaf == First || st.Missing == FirstLeaf {
		st.Basis = ""
		if found := st.Words(); found != "" {
			parts = append(parts, found)
		}
	}
	return strings.Join(parts, ", ")
}

// SpineStaple is one staple of the map: where it sits along the spine.
type SpineStaple struct {
	Number              int
	FromHeadMm, CrownMm float64 // a crown of 0 was not measured
	Rusty, Out          bool
}

// DrawSpine draws the spine from head to tail with its staples where they sit, to
// scale. SpineMm below the furthest staple is taken as a quarter longer than that.
func DrawSpine(spineMm float64, staples []SpineStaple, width float64, number func(float64) string) Drawing {
	furthest := 0.0
	for _, s := range staples {
		furthest = max(furthest, s.FromHeadMm)
	}
	if spineMm < furthest {
		spineMm = furthest * 1.25
	}
	d := Drawing{Width: width, Height: 36}
	if spineMm <= 0 {
		return d
	}
	const y, unmeasuredMm = 17.0, 12
	x0, x1 := 32.0, width-26
	scale := (x1 - x0) / spineMm
	add := func(pen Pen, from Point, segments ...Segment) {
		all := append([]Segment{{To: from, Movement: true}}, segments...)
		d.Strokes = append(d.Strokes, Stroke{pen, -1, all})
	}
	add(PenMeasure, Point{x0, y - 4}, line(x0, y+4))
	add(PenMeasure, Point{x1, y - 4}, line(x1, y+4))
	add(PenMeasure, Point{x0, y}, line(x1, y))
	d.Labels = append(d.Labels, Label{At: Point{x0 - 5, y}, Align: Right, Remark: "head", Sheet: -1},
		Label{At: Point{x1 + 5, y}, Remark: "tail", Sheet: -1})
	taken := -1e9
	for _, s := range staples {
		crown := s.CrownMm
		if crown == 0 {
			crown = unmeasuredMm
		}
		at, half := x0+s.FromHeadMm*scale, max(crown*scale/2, 2)
		pen := PenStaple
		switch {
		case s.Out:
			pen = PenOut
		case s.Rusty:
			pen = PenRust
		}
		add(pen, Point{at - half, y + 4}, line(at-half, y-3), line(at+half, y-3), line(at+half, y+4))
		d.Labels = append(d.Labels, Label{At: Point{at, y - 10}, Align: Centre, Text: number(float64(s.Number)), Sheet: -1})
		if at-taken > 34 {
			mm := number(s.FromHeadMm) + " mm"
			d.Labels = append(d.Labels, Label{At: Point{at, y + 12}, Align: Centre, Text: mm, Sheet: -1})
			taken = at
		}
	}
	return d
}
