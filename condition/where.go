package condition

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"benchleaf/makeup"
)

// Ground is what words of place rest on: the make-up, the sizes of the sheets, and
// where each sheet is folded.
type Ground struct {
	MakeUp makeup.MakeUp
	Sizes  Sizes
	// FoldMm is how far the fold of a sheet lies from the left edge of its outer
	// face, in mm; a sheet that is not in it is folded in the middle.
	FoldMm map[makeup.Sheet]float64
}

// Where says where a damage is, in words for a person.
type Where struct {
	// Pages are those on which it shows, the two sides of a leaf joined:
	// "pp. 3/4, 5/6", "p. 7", "front/inside front".
	Pages string
	// Leaves are the leaves: "first leaf of sheets 2 to 4", "both leaves of the cover".
	Leaves string
	// Place is where on the leaf: "from the fore-edge, 30 mm above the tail".
	Place string
}

// Say is the whole in one line: "pp. 3/4, 5/6: tear 84 mm, from the fore-edge,
// 30 mm above the tail". What else the record says of it comes last.
func (w Where) Say(what string, more ...string) string {
	parts := []string{what, w.Place}
	parts = slices.DeleteFunc(append(parts, more...), func(s string) bool { return s == "" })
	say := strings.Join(parts, ", ")
	switch {
	case w.Pages == "":
		return say
	case say == "":
		return w.Pages
	}
	return w.Pages + ": " + say
}

// Where puts the traces of one damage into words. Places are said of the
// outermost sheet that it is on, to the nearest millimetre; they are the same seen
// from either face. Two edges nearer than 2 mm to the shape count as reached: no
// hand draws finer on a whole sheet (common practice, no source).
func (g Ground) Where(traces []Trace) Where {
	if len(traces) == 0 {
		return Where{}
	}
	leaves := g.leavesOf(traces)
	return Where{Pages: g.pages(leaves), Leaves: leafWords(leaves), Place: g.place(traces)}
}

// leafOn is a leaf with the sides on which a damage shows.
type leafOn struct {
	sheet        makeup.Sheet
	leaf         makeup.Leaf
	single       bool
	recto, verso bool
}

func (g Ground) leavesOf(traces []Trace) []leafOn {
	var list []leafOn
	for _, t := range traces {
		for _, p := range g.Pages(t) {
			i := slices.IndexFunc(list, func(l leafOn) bool { return l.sheet == p.Sheet && l.leaf == p.Leaf })
			if i < 0 {
				i = len(list)
				list = append(list, leafOn{sheet: p.Sheet, leaf: p.Leaf, single: g.MakeUp.Single(p.Sheet)})
			}
			list[i].recto = list[i].recto || p.Side == makeup.Recto
			list[i].verso = list[i].verso || p.Side == makeup.Verso
		}
	}
	slices.SortStableFunc(list, func(a, b leafOn) int {
		if a.leaf != b.leaf {
			return int(a.leaf) - int(b.leaf)
		}
		// In reading order: inwards on the first leaves, outwards on the second.
		return (int(a.sheet) - int(b.sheet)) * (1 - 2*int(a.leaf))
	})
	return list
}

// Pages lists the pages of the face that a trace touches, left before right. A
// shape that only touches the fold from one side is on that side's page; one that
// lies in the fold is on both.
func (g Ground) Pages(t Trace) []makeup.Page {
	on := g.MakeUp.OnFace(t.Sheet, t.Face)
	if len(on) < 2 {
		return on
	}
	low, high := t.Shape.Bounds()
	fold := g.Fold(t.Sheet, t.Face)
	inFold := low.XMm == fold && high.XMm == fold
	var pages []makeup.Page
	if low.XMm < fold || inFold {
		pages = append(pages, on[0])
	}
	if high.XMm > fold || inFold {
		pages = append(pages, on[1])
	}
	return pages
}

// Fold is how far the fold, or the spine edge of a single leaf, lies from the left
// edge of a face.
func (g Ground) Fold(s makeup.Sheet, f makeup.Face) float64 {
	width := g.Sizes[s].WidthMm
	at, known := g.FoldMm[s]
	switch {
	case g.MakeUp.Single(s):
		at = 0
	case !known:
		at = width / 2
	}
	if f == makeup.Inner {
		return width - at
	}
	return at
}

func (g Ground) pages(leaves []leafOn) string {
	var names []string
	numbered, sides := false, 0
	for _, l := range leaves {
		name := g.MakeUp.LeafPages(l.sheet, l.leaf)
		sides += 2
		if l.recto != l.verso {
			side := makeup.Recto
			if l.verso {
				side = makeup.Verso
			}
			name = g.MakeUp.Name(makeup.Page{Sheet: l.sheet, Leaf: l.leaf, Side: side})
			sides--
		}
		if l.sheet == 0 {
			sides -= 2 // have names, no numbers
		} else if !numbered {
			numbered, name = true, "pp. "+name
		}
		names = append(names, name)
	}
	all := strings.Join(names, ", ")
	if sides == 1 {
		return strings.Replace(all, "pp. ", "p. ", 1)
	}
	return all
}

// leafWords names leaves by their sheets: "first leaf of sheets 2 to 4".
func leafWords(leaves []leafOn) string {
	on := map[makeup.Sheet]makeup.Leaves{}
	single := map[makeup.Sheet]bool{}
	for _, l := range leaves {
		on[l.sheet] |= 1 << l.leaf
		single[l.sheet] = l.single
	}
	var parts []string
	add := func(is string, keep func(makeup.Sheet) bool) {
		var sheets []int
		for s := range on {
			if keep(s) {
				sheets = append(sheets, int(s))
			}
		}
		if len(sheets) > 0 {
			slices.Sort(sheets)
			parts = append(parts, is+sheetWords(sheets))
		}
	}
	add("single leaf: ", func(s makeup.Sheet) bool { return single[s] })
	for _, which := range []struct {
		leaves makeup.Leaves
		words  string
	}{
		{makeup.BothLeaves, "both leaves of "},
		{makeup.FirstLeaf, "first leaf of "},
		{makeup.SecondLeaf, "second leaf of "},
	} {
		add(which.words, func(s makeup.Sheet) bool { return !single[s] && on[s] == which.leaves })
	}
	return strings.Join(parts, ", ")
}

// sheetWords names sorted sheets: "the cover and sheets 1 to 3".
func sheetWords(sheets []int) string {
	var parts []string
	if sheets[0] == 0 {
		parts, sheets = append(parts, "the cover"), sheets[1:]
	}
	var runs []string
	for i := 0; i < len(sheets); {
		j := i
		for j+1 < len(sheets) && sheets[j+1] == sheets[j]+1 {
			j++
		}
		switch {
		case j-i >= 2:
			runs = append(runs, fmt.Sprintf("%d to %d", sheets[i], sheets[j]))
		default:
			for _, n := range sheets[i : j+1] {
				runs = append(runs, fmt.Sprint(n))
			}
		}
		i = j + 1
	}
	switch {
	case len(sheets) == 1:
		parts = append(parts, "sheet "+runs[0])
	case len(sheets) > 1:
		parts = append(parts, "sheets "+anded(runs))
	}
	return anded(parts)
}

// anded joins with commas and a last "and".
func anded(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// mostPlaces is how many places of one damage are told apart on one face.
const mostPlaces = 3

// place says where the shapes on the first face lie.
func (g Ground) place(traces []Trace) string {
	var places []string
	first := traces[0]
	for _, t := range traces {
		if t.Sheet != first.Sheet || t.Face != first.Face {
			continue
		}
		if p := g.lie(t).words(t.Shape); !slices.Contains(places, p) {
			places = append(places, p)
		}
	}
	if more := len(places) - mostPlaces; more > 0 {
		places = append(places[:mostPlaces], fmt.Sprintf("and in %d more places", more))
	}
	return strings.Join(places, "; ")
}

// reachMm is how near to an edge a shape counts as reaching it.
const reachMm = 2

// lie measures from the edges of the leaf, or of both leaves, that a shape is on.
type lie struct {
	foldMm, widthMm, heightMm float64
	fold                      string // "fold", of a single leaf "spine edge"
	single                    bool
	halves                    [2]string // what the left and the right half of the face are called
}

func (g Ground) lie(t Trace) lie {
	size := g.Sizes[t.Sheet]
	l := lie{
		foldMm: g.Fold(t.Sheet, t.Face), widthMm: size.WidthMm, heightMm: size.HeightMm, fold: "fold",
		single: g.MakeUp.Single(t.Sheet),
	}
	if l.single {
		l.fold = "spine edge"
		return l
	}
	for i, p := range g.MakeUp.OnFace(t.Sheet, t.Face) {
		l.halves[i] = g.MakeUp.LeafPages(p.Sheet, p.Leaf)
	}
	return l
}

// ends says which edges a point reaches, across and down; "" for none.
func (l lie) ends(p Point) (across, down string) {
	switch {
	case l.fore(p.XMm) <= reachMm:
		across = "fore-edge"
	case l.single && math.Abs(p.XMm-l.foldMm) <= reachMm:
		across = l.fold
	}
	switch {
	case p.YMm <= reachMm:
		down = "head"
	case l.heightMm-p.YMm <= reachMm:
		down = "tail"
	}
	return across, down
}

// fore is how far x lies from the fore-edge of its leaf.
func (l lie) fore(x float64) float64 {
	switch {
	case l.single && l.foldMm > 0:
		return x
	case l.single:
		return l.widthMm - x
	}
	return min(x, l.widthMm-x)
}

func mm(v float64) string { return fmt.Sprintf("%.0f mm", math.Abs(v)) }

// acrossMm says how far a stretch lies from the nearer of fold and fore-edge.
func (l lie) acrossMm(low, high float64) string {
	if low < l.foldMm-reachMm && high > l.foldMm+reachMm {
		return "across the " + l.fold
	}
	fold := [2]float64{math.Abs(low - l.foldMm), math.Abs(high - l.foldMm)}
	fore := [2]float64{l.fore(low), l.fore(high)}
	if fold[0]+fold[1] <= fore[0]+fore[1] {
		return stretch(fold, "from the "+l.fold)
	}
	return stretch(fore, "from the fore-edge")
}

// downMm says how far a stretch lies from the nearer of head and tail.
func (l lie) downMm(low, high float64) string {
	if low+high <= l.heightMm {
		return stretch([2]float64{low, high}, "below the head")
	}
	return stretch([2]float64{l.heightMm - low, l.heightMm - high}, "above the tail")
}

// stretch writes two distances as one where they are the same to the millimetre.
func stretch(d [2]float64, from string) string {
	low, high := math.Round(min(d[0], d[1])), math.Round(max(d[0], d[1]))
	if low == high {
		return mm(low) + " " + from
	}
	return fmt.Sprintf("%.0f to %.0f mm %s", low, high, from)
}

func (l lie) words(s Shape) string {
	switch {
	case len(s.Points) == 0:
		return ""
	case s.Form == Spot:
		p := s.Points[0]
		return joined(l.acrossMm(p.XMm, p.XMm), l.downMm(p.YMm, p.YMm))
	case s.Form == Line || s.Form == Strip:
		return l.lineWords(s)
	}
	return l.areaWords(s)
}

func joined(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
}

// lineWords begins at the end that reaches an edge, as a tear is told.
func (l lie) lineWords(s Shape) string {
	low, high := s.Bounds()
	if math.Abs(low.XMm-l.foldMm) <= reachMm && math.Abs(high.XMm-l.foldMm) <= reachMm {
		return l.alongFold(low.YMm, high.YMm)
	}
	from, to := s.Points[0], s.Points[len(s.Points)-1]
	if l.end(from) == "" {
		from, to = to, from
	}
	begin, end := l.end(from), l.end(to)
	if begin == "" {
		return joined(l.acrossMm(low.XMm, high.XMm), l.downMm(low.YMm, high.YMm))
	}
	over := ""
	if low.XMm < l.foldMm-reachMm && high.XMm > l.foldMm+reachMm && !l.single {
		// With both leaves touched, an edge alone does not say where.
		over, begin = "across the "+l.fold, begin+" of "+l.half(from)
		if end != "" {
			end += " of " + l.half(to)
		}
	}
	if end != "" {
		end = "to " + end
	}
	return joined("from "+begin, over, end)
}

// half is what the half of the face is called that a point lies on.
func (l lie) half(p Point) string {
	if p.XMm > l.foldMm {
		return l.halves[1]
	}
	return l.halves[0]
}

// end tells at which edge a point lies, "" at none: "the fore-edge, 30 mm above
// the tail".
func (l lie) end(p Point) string {
	switch across, down := l.ends(p); {
	case across != "" && down != "":
		return "the corner of " + down + " and " + across
	case across != "":
		return "the " + across + ", " + l.downMm(p.YMm, p.YMm)
	case down != "":
		return "the " + down + ", " + l.acrossMm(p.XMm, p.XMm)
	}
	return ""
}

func (l lie) alongFold(top, foot float64) string {
	switch head, tail := top <= reachMm, l.heightMm-foot <= reachMm; {
	case head && tail:
		return "along the whole " + l.fold
	case head:
		return "along the " + l.fold + " from the head"
	case tail:
		return "along the " + l.fold + " from the tail"
	}
	return "along the " + l.fold + ", " + l.downMm(top, foot)
}

// areaWords names the edges that an area reaches, and how far it goes from them.
func (l lie) areaWords(s Shape) string {
	low, high := s.Bounds()
	head, tail := low.YMm <= reachMm, l.heightMm-high.YMm <= reachMm
	left, right := low.XMm <= reachMm, l.widthMm-high.XMm <= reachMm
	fore := min(l.fore(low.XMm), l.fore(high.XMm)) <= reachMm
	wide := left && right
	onLeaf := !wide && fore && (math.Abs(high.XMm-l.foldMm) <= reachMm || math.Abs(low.XMm-l.foldMm) <= reachMm)
	over := "face"
	if onLeaf || l.single {
		over = "leaf"
	}
	fullWidth := wide || onLeaf
	if fullWidth && head && tail {
		return "over the whole " + over
	}
	edge := ""
	switch {
	case head && !tail:
		edge = "head"
	case tail && !head:
		edge = "tail"
	}
	depth := map[string]float64{"head": high.YMm, "tail": l.heightMm - low.YMm}[edge]
	switch {
	case fullWidth && edge != "":
		return joined("along the whole "+edge+" of the "+over, "up to "+mm(depth)+" from it")
	case fullWidth:
		return joined("over the width of the "+over, l.downMm(low.YMm, high.YMm))
	case fore && edge != "":
		return "at the corner of " + edge + " and fore-edge"
	case edge != "":
		return joined("at the "+edge, l.acrossMm(low.XMm, high.XMm), "up to "+mm(depth)+" from it")
	case fore && head && tail:
		return "along the whole fore-edge, " + l.acrossMm(low.XMm, high.XMm)
	case fore:
		return joined("at the fore-edge", l.downMm(low.YMm, high.YMm))
	case head && tail:
		return joined("from head to tail", l.acrossMm(low.XMm, high.XMm))
	}
	return joined(l.acrossMm(low.XMm, high.XMm), l.downMm(low.YMm, high.YMm))
}
