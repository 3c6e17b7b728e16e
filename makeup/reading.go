package makeup

import (
	"fmt"
	"strconv"
	"strings"
)

// coverPages are the names of the cover's pages, by leaf and side.
var coverPages = [2][2]string{{"front", "inside front"}, {"inside back", "back"}}

// Name is what a person calls p, different for every page of the make-up: the
// printed number; a position in square brackets, [7], where nothing is printed;
// the printed number and the position, 7 [9], where two pages carry the same;
// and front, inside front, inside back or back for a separate cover. Square
// brackets for a number that is not printed are common practice, no source.
func (m MakeUp) Name(p Page) string {
	if p.Sheet == 0 {
		return coverPages[p.Leaf&1][p.Side&1]
	}
	position, ok := m.Position(p)
	if !ok {
		return "?"
	}
	number := m.number(position)
	switch {
	case number == "":
		return fmt.Sprintf("[%d]", position)
	case m.ambiguous(position, number):
		return fmt.Sprintf("%s [%d]", number, position)
	}
	return number
}

// number is what is printed on the page at a position, or "".
func (m MakeUp) number(position int) string {
	for _, p := range m.Printed {
		if p.Position == position {
			return p.Number
		}
	}
	return strconv.Itoa(m.FirstNumber + position - 1)
}

// ambiguous says whether the number at position stands on another page too, or
// could be taken for the name of a cover page.
func (m MakeUp) ambiguous(position int, number string) bool {
	for _, names := range coverPages {
		if number == names[0] || number == names[1] {
			return true
		}
	}
	for _, p := range m.Printed {
		if p.Position != position && p.Number == number {
			return true
		}
	}
	// The running number that reads the same belongs to one position only.
	n, err := strconv.Atoi(number)
	if err != nil || strconv.Itoa(n) != number {
		return false
	}
	running := n - m.FirstNumber + 1
	return running != position && running >= 1 && running <= m.Pages() && m.number(running) == number
}

// FaceName is a face as a person says it, the pages as one sees them with the
// head up: "sheet 3, outer face: pages 32 | 5"; "(gone)" stands for a page
// whose leaf is missing.
func (m MakeUp) FaceName(s Sheet, f Face) string {
	pages := m.FacePages(s, f)
	switch {
	case s == 0:
	case m.Single(s):
		return fmt.Sprintf("%s, %s: page %s", s, Side(f&1), pages)
	default:
		pages = "pages " + pages
	}
	return fmt.Sprintf("%s, %s: %s", s, f, pages)
}

// FacePages names the pages of a face as one sees them with the head up: "32 | 5".
func (m MakeUp) FacePages(s Sheet, f Face) string {
	var names []string
	for _, p := range m.OnFace(s, f) {
		names = append(names, m.nameIfThere(p))
	}
	return strings.Join(names, " | ")
}

// LeafPages names the two pages of a leaf: "5/6", "front/inside front".
func (m MakeUp) LeafPages(s Sheet, l Leaf) string {
	return m.Name(Page{s, l, Recto}) + "/" + m.Name(Page{s, l, Verso})
}

func (m MakeUp) nameIfThere(p Page) string {
	if !m.Present(p) {
		return "(gone)"
	}
	return m.Name(p)
}

// Item is one side of a leaf in reading order: a page of the nest, or one side
// of a leaf of an insert.
type Item struct {
	// Page is the page, when Insert is nil.
	Page Page
	// Insert is the insert, with its leaf counted from 1, and the side.
	Insert     *Insert
	InsertLeaf int
	InsertSide Side
}

// ItemName is Name for a page, and for an insert "subscription card, leaf 1
// recto".
func (m MakeUp) ItemName(it Item) string {
	if it.Insert == nil {
		return m.Name(it.Page)
	}
	return fmt.Sprintf("%s, leaf %d %s", it.Insert.What, it.InsertLeaf, it.InsertSide)
}

// Reading lists every side of every leaf in the order in which the complete
// object is read, inserts where they belong.
func (m MakeUp) Reading() []Item { return m.reading(func(Page) bool { return true }) }

// ReadingFound is Reading without the leaves that are missing: what turns up
// when the object as found is leafed through.
func (m MakeUp) ReadingFound() []Item { return m.reading(m.Present) }

func (m MakeUp) reading(keep func(Page) bool) []Item {
	var list []Item
	leaf := func(s Sheet, l Leaf) {
		if p := (Page{s, l, Recto}); keep(p) {
			list = append(list, Item{Page: p}, Item{Page: p.Behind()})
		}
	}
	if m.Cover != SelfCover {
		leaf(0, First)
	}
	list = m.insertsAfter(list, 0)
	for position := 1; position < m.Pages(); position += 2 {
		p, err := m.At(position)
		if err != nil {
			break // not a valid make-up
		}
		leaf(p.Sheet, p.Leaf)
		list = m.insertsAfter(list, position+1)
	}
	if m.Cover != SelfCover {
		leaf(0, Second)
	}
	return list
}

func (m MakeUp) insertsAfter(list []Item, position int) []Item {
	for i := range m.Inserts {
		in := &m.Inserts[i]
		if in.AfterPosition != position {
			continue
		}
		for l := 1; l <= in.Leaves; l++ {
			list = append(
				list,
				Item{Insert: in, InsertLeaf: l, InsertSide: Recto},
				Item{Insert: in, InsertLeaf: l, InsertSide: Verso},
			)
		}
	}
	return list
}

// Opening is what one sees at once: a left and a right page, either nil at the
// outside of the object.
type Opening struct{ Left, Right *Item }

// Openings lists what is seen at once as the items, in reading order, are
// leafed through: the first recto alone, then pairs that face each other, the
// last verso alone. Pages that face each other exchange oil, acid and stains.
func Openings(items []Item) []Opening {
	var list []Opening
	for i := 0; i <= len(items) && len(items) > 0; i += 2 {
		var o Opening
		if i > 0 {
			o.Left = &items[i-1]
		}
		if i < len(items) {
			o.Right = &items[i]
		}
		list = append(list, o)
	}
	return list
}

// FaceRef is one face of one sheet.
type FaceRef struct {
	Sheet Sheet
	Face  Face
}

// Faces lists the faces of the sheets that have at least one leaf, from the
// outside in, outer face first: the order in which a taken-apart object is
// photographed.
func (m MakeUp) Faces() []FaceRef {
	var list []FaceRef
	for _, s := range m.Sheets() {
		if m.State(s).Missing != BothLeaves {
			list = append(list, FaceRef{s, Outer}, FaceRef{s, Inner})
		}
	}
	return list
}

// Words tells how a sheet was found, for a person: "loose; second leaf from
// another copy (other paper)". It is empty for a sheet that is simply there.
func (st State) Words() string {
	var parts []string
	switch {
	case st.Missing == BothLeaves:
		return "missing"
	case st.Missing != NoLeaf:
		parts = append(parts, st.Missing.String()+" missing")
	case st.Split:
		parts = append(parts, "split along the fold into two single leaves")
	}
	hold := map[Hold]string{ByOne: "off one fastening", Loose: "loose"}[st.Hold]
	if hold != "" && st.HoldLeaf != NoLeaf {
		hold = st.HoldLeaf.String() + " " + hold
	}
	if hold != "" {
		parts = append(parts, hold)
	}
	if st.Married != NoLeaf {
		parts = append(parts, st.Married.String()+" from another copy")
	}
	if st.Married != NoLeaf && st.Basis != "" {
		parts[len(parts)-1] += " (inferred: " + st.Basis + ")"
	}
	return strings.Join(parts, "; ")
}
