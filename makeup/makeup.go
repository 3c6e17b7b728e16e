// Package makeup is the make-up of a stapled periodical: which sheet carries
// which pages.
//
// A sheet is one piece of paper folded once: two conjugate leaves, four pages.
// Sheets are nested in one another; they count from the outside in, and sheet 0
// is the cover where it is a separate sheet. A leaf is half a sheet: its first
// leaf carries the lower page numbers, its second leaf the higher ones. The
// recto of a leaf is the page that is read first, the verso its back. A face is
// one whole side of an opened sheet: the outer face is turned to the outside of
// the object, the inner face to its centre.
//
// Pages of the inner sheets are counted by position, 1 to 4N for N inner
// sheets, whatever is printed on them; the printed number is kept apart. Cover
// pages have names instead: front, inside front, inside back, back.
//
// A stack is the other build: single leaves, stapled through the side or glued at
// the spine. Each of its sheets is one leaf with two pages, sheet k carries pages
// 2k-1 and 2k, its outer face is its recto; a separate cover is still a folded
// sheet 0 that wraps it. An object of several gatherings has a make-up for each.
//
// Words and the numbering are common practice, no source; the page formula
// follows from the folding and is proved by the tests on folded numbers.
package makeup

import (
	"errors"
	"fmt"
	"strings"
)

// MaxInner is the largest number of inner sheets. A nest that a staple can hold
// is much smaller.
const MaxInner = 200

// Cover says what stands outside inner sheet 1.
type Cover string

const (
	// SeparateCover is a sheet of its own, sheet 0.
	SeparateCover Cover = "separate"
	// SelfCover means that sheet 1 is the outside; there is no sheet 0.
	SelfCover Cover = "self"
)

// Build is how the sheets inside the cover hang together.
type Build string

const (
	Nest  Build = ""      // folded sheets in one another
	Stack Build = "stack" // single leaves on one another
)

// Leaf is one half of a sheet.
type Leaf int

const (
	First  Leaf = iota // the half with the lower page numbers
	Second             // its conjugate
)

func (l Leaf) String() string { return [...]string{"first leaf", "second leaf"}[l&1] }

// Side is one side of a leaf.
type Side int

const (
	Recto Side = iota
	Verso
)

func (s Side) String() string { return [...]string{"recto", "verso"}[s&1] }

// Face is one whole side of an opened sheet.
type Face int

const (
	Outer Face = iota
	Inner
)

func (f Face) String() string { return [...]string{"outer face", "inner face"}[f&1] }

// Other is the face behind f.
func (f Face) Other() Face { return 1 - f&1 }

// Sheet is a sheet's number: 0 the cover, 1 the outermost inner sheet.
type Sheet int

func (s Sheet) String() string {
	if s == 0 {
		return "cover"
	}
	return fmt.Sprintf("sheet %d", int(s))
}

// the names a sheet inside a sentence.
func the(s Sheet) string {
	if s == 0 {
		return "the cover"
	}
	return s.String()
}

// Page is a page by where it is: the zero Page is the front of the cover.
type Page struct {
	Sheet Sheet
	Leaf  Leaf
	Side  Side
}

// Face is the face of its sheet that p lies on.
func (p Page) Face() Face {
	if (p.Leaf == First) == (p.Side == Recto) {
		return Outer
	}
	return Inner
}

// OnRight says whether p is the right half of its face as one looks at that
// face with the head up.
func (p Page) OnRight() bool { return p.Side == Recto }

// Behind is the other side of the same leaf.
func (p Page) Behind() Page { p.Side = 1 - p.Side&1; return p }

// Beside is the other half of the same face.
func (p Page) Beside() Page { p.Leaf, p.Side = 1-p.Leaf&1, 1-p.Side&1; return p }

// MakeUp is a nest of sheets: as it was made, and how each sheet was found.
// Call Validate before the other methods; what they do with a make-up that is
// not valid is not defined, except that they do not panic.
type MakeUp struct {
	// Inner is the number N of inner sheets, 1 to MaxInner.
	Inner int
	Cover Cover
	Build Build
	// FirstNumber is the number printed on position 1, from which the printed
	// numbers run on. 0 is allowed, and counts as printed zero.
	FirstNumber int
	// Printed lists the pages on which something else is printed.
	Printed []Printed
	// Inserts are what is bound or laid in without being part of the nest.
	Inserts []Insert
	// States lists the sheets that are not simply there, at most one each.
	States []State
}

// Printed is a page whose printed number is not the running one.
type Printed struct {
	// Position is the page's position, 1 to 4N.
	Position int
	// Number is what is printed; empty when the page has no number.
	Number string
}

// Insert is a leaf or more that stands between two leaves of the nest.
type Insert struct {
	// AfterPosition is the position of the page before it, which is a verso:
	// an even number, or 0 for an insert between the cover and page 1.
	AfterPosition int
	// Leaves is the number of leaves, 1 to 100: a folded sheet has 2.
	Leaves int
	// What names it: "subscription card, laid in".
	What string
}

// Leaves is a set of leaves of one sheet.
type Leaves int

const (
	NoLeaf      Leaves = 0
	FirstLeaf   Leaves = 1 << First
	SecondLeaf  Leaves = 1 << Second
	BothLeaves         = FirstLeaf | SecondLeaf
	leavesNames        = "no leaf,the first leaf,the second leaf,both leaves"
)

// Has says whether l is in the set.
func (s Leaves) Has(l Leaf) bool { return s&(1<<l) != 0 }

func (s Leaves) String() string { return strings.Split(leavesNames, ",")[s&BothLeaves] }

// Hold says how a sheet is held in the object.
type Hold string

const (
	Held  Hold = ""     // as made
	ByOne Hold = "part" // off one fastening
	Loose Hold = "loose"
)

// State is how one sheet was found, where it is not simply there.
type State struct {
	Sheet   Sheet
	Missing Leaves
	// Split means that the fold has parted: two single leaves.
	Split bool
	Hold  Hold
	// HoldLeaf are the leaves that Hold is said of; NoLeaf: the sheet as a whole.
	HoldLeaf Leaves
	// Married are the leaves that come from another copy; Basis says what that
	// inference rests on.
	Married Leaves
	Basis   string
}

// Pages is the number of pages inside the cover: 4N of a nest, 2N of a stack.
func (m MakeUp) Pages() int {
	if m.Build == Stack {
		return 2 * m.Inner
	}
	return 4 * m.Inner
}

// Single says whether sheet s is made as one leaf: inside the cover of a stack.
func (m MakeUp) Single(s Sheet) bool { return m.Build == Stack && s != 0 }

// SheetsFor is the number of inner sheets that carry so many pages, and how many
// pages are left over or lacking to the next whole sheet: 36 pages make 9 folded
// sheets, 38 make 9 and leave 2 over.
func SheetsFor(pages int, b Build) (sheets, over int) {
	per := 4
	if b == Stack {
		per = 2
	}
	return pages / per, pages % per
}

// FirstSheet is 0 where the cover is a sheet of its own, else 1.
func (m MakeUp) FirstSheet() Sheet {
	if m.Cover == SelfCover {
		return 1
	}
	return 0
}

// Sheets lists the sheets from the outside in.
func (m MakeUp) Sheets() []Sheet {
	var list []Sheet
	for s := m.FirstSheet(); int(s) <= m.Inner; s++ {
		list = append(list, s)
	}
	return list
}

// Has says whether the make-up has a sheet of that number.
func (m MakeUp) Has(s Sheet) bool { return s >= m.FirstSheet() && int(s) <= m.Inner }

// At finds the page at a position. Positions count 1 to 4N, in a stack to 2N.
//
// The sheet of page p is ceil(p/2) in the first half of the nest and
// ceil((4N+1-p)/2) in the second, since the numbers on one face of a sheet add
// to 4N+1.
func (m MakeUp) At(position int) (Page, error) {
	if position < 1 || position > m.Pages() {
		return Page{}, fmt.Errorf("there is no page at position %d: %s", position, m.span())
	}
	side := Recto
	if position%2 == 0 {
		side = Verso
	}
	if m.Build == Stack || position <= 2*m.Inner {
		return Page{Sheet((position + 1) / 2), First, side}, nil
	}
	return Page{Sheet((m.Pages() + 2 - position) / 2), Second, side}, nil
}

// Position is the position of p, 1 to 4N; ok is false for the cover's pages and
// for sheets that the make-up does not have.
//
// Inner sheet k of N carries 2k-1 and 2k on its first leaf and 4N-2k+1 and
// 4N-2k+2 on its second.
func (m MakeUp) Position(p Page) (position int, ok bool) {
	if p.Sheet < 1 || int(p.Sheet) > m.Inner || m.Single(p.Sheet) && p.Leaf != First {
		return 0, false
	}
	k := int(p.Sheet)
	if p.Leaf == First {
		return 2*k - 1 + int(p.Side), true
	}
	return m.Pages() - 2*k + 1 + int(p.Side), true
}

// Beside gives the two pages of a face as one looks at it with the head up.
// On the outer face the second leaf's verso is on the left; on the inner face
// the first leaf's verso.
func Beside(s Sheet, f Face) (left, right Page) {
	if f == Outer {
		return Page{s, Second, Verso}, Page{s, First, Recto}
	}
	return Page{s, First, Verso}, Page{s, Second, Recto}
}

// OnFace lists the pages of a face from left to right as one looks at it with the
// head up: two of a folded sheet, one of a single leaf.
func (m MakeUp) OnFace(s Sheet, f Face) []Page {
	if m.Single(s) {
		return []Page{{s, First, Side(f & 1)}}
	}
	left, right := Beside(s, f)
	return []Page{left, right}
}

// State is how sheet s was found; a sheet that is not listed is simply there.
func (m MakeUp) State(s Sheet) State {
	for _, st := range m.States {
		if st.Sheet == s {
			return st
		}
	}
	return State{Sheet: s}
}

// Present says whether the leaf of that page is there.
func (m MakeUp) Present(p Page) bool { return m.Has(p.Sheet) && !m.State(p.Sheet).Missing.Has(p.Leaf) }

// span is the end of sentences that refuse a position.
func (m MakeUp) span() string {
	if m.Inner == 1 {
		return fmt.Sprintf("one inner sheet has pages 1 to %d", m.Pages())
	}
	return fmt.Sprintf("%d inner sheets have pages 1 to %d", m.Inner, m.Pages())
}

// Validate checks everything that the make-up alone can know. Each error joined
// in the result is one sentence.
func (m MakeUp) Validate() error {
	var errs []error
	refuse := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	if m.Inner < 1 || m.Inner > MaxInner {
		refuse("the make-up cannot have %d inner sheets: 1 to %d is possible", m.Inner, MaxInner)
		return errs[0] // all that follows counts from it
	}
	if m.Cover != SeparateCover && m.Cover != SelfCover {
		refuse("the cover cannot be %q: it is %q or %q", m.Cover, SeparateCover, SelfCover)
	}
	if m.Build != Nest && m.Build != Stack {
		refuse("the build cannot be %q: it is a nest (%q) or a stack (%q)", m.Build, Nest, Stack)
	}
	printed := map[int]bool{}
	for _, p := range m.Printed {
		switch {
		case p.Position < 1 || p.Position > m.Pages():
			refuse("there is no page at position %d to be numbered %q: %s", p.Position, p.Number, m.span())
		case printed[p.Position]:
			refuse("the printed number of position %d is given twice", p.Position)
		case strings.ContainsAny(p.Number, "[],") || strings.TrimSpace(p.Number) != p.Number:
			refuse(
				"the printed number %q of position %d cannot be used: leave out brackets, commas and spaces at its "+
					"ends",
				p.Number,
				p.Position,
			)
		}
		printed[p.Position] = true
	}
	for _, in := range m.Inserts {
		m.validateInsert(in, refuse)
	}
	seen := map[Sheet]bool{}
	for _, st := range m.States {
		if seen[st.Sheet] {
			refuse("the state of %s is given twice", the(st.Sheet))
		}
		seen[st.Sheet] = true
		m.validateState(st, refuse)
	}
	return errors.Join(errs...)
}

func (m MakeUp) validateInsert(in Insert, refuse func(string, ...any)) {
	p := in.AfterPosition
	switch {
	case p < 0 || p > m.Pages():
		refuse("the insert %q cannot stand after position %d: %s", in.What, p, m.span())
	case p%2 != 0:
		refuse(
			"the insert %q cannot stand after page %d, since pages %d and %d are two sides of one leaf: it stands "+
				"after page %d or %d",
			in.What,
			p,
			p,
			p+1,
			p-1,
			p+1,
		)
	case m.Cover == SelfCover && (p == 0 || p == m.Pages()):
		refuse("the insert %q cannot stand outside a self-cover: record it as a part found with the object", in.What)
	}
	if in.Leaves < 1 || in.Leaves > 100 {
		refuse(
			"the insert %q cannot have %d leaves: 1 to 100 is possible, and a folded sheet has 2",
			in.What,
			in.Leaves,
		)
	}
	if strings.TrimSpace(in.What) == "" {
		refuse("the insert after position %d needs a name: say what it is", p)
	}
}

func (m MakeUp) validateState(st State, refuse func(string, ...any)) {
	if !m.Has(st.Sheet) {
		refuse("there is no %s to have a state: the sheets count from %d to %d", st.Sheet, m.FirstSheet(), m.Inner)
		return
	}
	if (st.Missing|st.Married|st.HoldLeaf)&^BothLeaves != 0 {
		refuse("the leaves of %s are not given rightly: a sheet has a first and a second leaf", the(st.Sheet))
		return
	}
	if m.Single(st.Sheet) {
		st = m.ofSingle(st, refuse)
	}
	switch {
	case st.Missing == BothLeaves && st.Hold != Held:
		refuse("%s is missing, so it cannot be loose as well", the(st.Sheet))
	case st.Missing != NoLeaf && st.Split:
		refuse("%s lacks %s, so its fold cannot be called split as well", the(st.Sheet), st.Missing)
	}
	if both := st.Missing & st.Married; both != NoLeaf {
		refuse("of %s, %s cannot be missing and from another copy at once", the(st.Sheet), both)
	}
	if st.Married != NoLeaf && strings.TrimSpace(st.Basis) == "" {
		refuse("that %s of %s came from another copy is an inference: say what it rests on", st.Married, the(st.Sheet))
	}
	if st.Hold != Held && st.Hold != ByOne && st.Hold != Loose {
		refuse(
			"%s cannot be held %q: it is held (%q), off one fastening (%q) or %q",
			the(st.Sheet),
			st.Hold,
			Held,
			ByOne,
			Loose,
		)
	}
}

// ofSingle refuses what a single leaf cannot be, and reads its one leaf as the
// whole sheet.
func (m MakeUp) ofSingle(st State, refuse func(string, ...any)) State {
	if (st.Missing|st.Married).Has(Second) && st.Missing != BothLeaves && st.Married != BothLeaves || st.Split {
		refuse("%s is a single leaf: it has no second leaf and no fold that can be split", the(st.Sheet))
		st.Split = false
	}
	if st.Missing.Has(First) {
		st.Missing = BothLeaves
	}
	return st
}
