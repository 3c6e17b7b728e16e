package makeup

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Collation compares what was found, in the order in which it was found, with
// what the make-up says.
type Collation struct {
	// Found is the number of pages or sheets that were found and belong.
	Found int
	// Findings are the differences, in the order of the make-up.
	Findings []Finding
}

// FindingKind says what sort of difference a finding is.
type FindingKind string

const (
	// Lacking: should be there, and is not.
	Lacking FindingKind = "lacking"
	// KnownLacking: is not there, and the make-up says so already.
	KnownLacking FindingKind = "known to be lacking"
	// Misplaced: is there, in the wrong place.
	Misplaced FindingKind = "misplaced"
	// Repeated: is there more often than once.
	Repeated FindingKind = "repeated"
	// Reappeared: is there, though the make-up says that it is missing.
	Reappeared FindingKind = "reappeared"
	// Unknown: does not belong to this make-up by its name.
	Unknown FindingKind = "unknown"
)

// Finding is one difference.
type Finding struct {
	Kind FindingKind
	// Names are the pages or sheets concerned.
	Names []string
	// Say is the finding as one sentence, without a full stop.
	Say string
}

// InOrder says whether everything that should be there was found in its place
// and nothing else was. What the make-up already knows to be lacking does not
// count against it.
func (c Collation) InOrder() bool {
	for _, f := range c.Findings {
		if f.Kind != KnownLacking {
			return false
		}
	}
	return true
}

// Sentences are the findings as sentences for a person; a single one says that
// all is in order.
func (c Collation) Sentences() []string {
	var list []string
	for _, f := range c.Findings {
		list = append(list, f.Say)
	}
	if c.InOrder() {
		list = append(list, fmt.Sprintf("all %d that should be there were found, in order", c.Found))
	}
	return list
}

// CollateSheets compares sheet numbers as they lie, from the outside in.
// A sheet with only one leaf counts as a sheet.
func (m MakeUp) CollateSheets(found []Sheet) Collation {
	var should []expected
	for _, s := range m.Sheets() {
		should = append(should, expected{name: s.String(), say: the(s), known: m.State(s).Missing == BothLeaves})
	}
	var names []string
	for _, s := range found {
		names = append(names, s.String())
	}
	return compare(should, names)
}

// CollatePages compares the names of pages as they turn up when the object is
// leafed through, written as Name gives them, separated by commas, with ranges
// of names that follow each other: "front, inside front, 1-16, 19-34, [35]-36".
// Inserts are left out. An error says which part cannot be understood.
func (m MakeUp) CollatePages(found string) (Collation, error) {
	var should []expected
	for _, it := range m.Reading() {
		if it.Insert != nil {
			continue
		}
		p := it.Page
		e := expected{name: m.Name(p), known: !m.Present(p), leaf: fmt.Sprintf("the %s of %s", p.Leaf, the(p.Sheet))}
		e.say = "page " + e.name
		if p.Sheet == 0 {
			e.say = "the " + e.name
		}
		should = append(should, e)
	}
	names, err := expand(should, found)
	if err != nil {
		return Collation{}, err
	}
	return compare(should, names), nil
}

// expected is one page or sheet that should be there.
type expected struct {
	name  string // what a written list calls it, different for each
	say   string // what a sentence calls it
	known bool   // known to be missing
	leaf  string // for a page, the leaf that it is one side of
}

// expand turns a written list with ranges into names.
func expand(should []expected, written string) ([]string, error) {
	if len(should) == 0 {
		return nil, errors.New("the make-up has no pages to compare with")
	}
	index := map[string]int{}
	for i, e := range should {
		index[e.name] = i
	}
	var names []string
	for part := range strings.SplitSeq(written, ",") {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		// Nothing that a person leafs through is so long.
		if len(names) > 10*len(should) {
			return nil, fmt.Errorf("the list names far more pages than the %d that this make-up has", len(should))
		}
		// A printed number may itself hold a hyphen, so the whole is looked
		// for before it is divided.
		if _, ok := index[part]; ok || !strings.ContainsAny(part, "-–") {
			names = append(names, part)
			continue
		}
		from, to, ok := divide(index, part)
		switch {
		case !ok:
			return nil, fmt.Errorf(
				"%q cannot be read as pages from one to another: both ends must be pages of this make-up, as in %s-%s",
				part,
				should[0].name,
				should[len(should)-1].name,
			)
		case from > to:
			return nil, fmt.Errorf("%q runs backwards: %s comes before %s", part, should[to].say, should[from].say)
		}
		for _, e := range should[from : to+1] {
			names = append(names, e.name)
		}
	}
	return names, nil
}

// divide finds the hyphen or dash of a range that has a known name on either
// side.
func divide(index map[string]int, part string) (from, to int, ok bool) {
	for i, r := range part {
		if r != '-' && r != '–' {
			continue
		}
		a, okA := index[strings.TrimSpace(part[:i])]
		b, okB := index[strings.TrimSpace(part[i+len(string(r)):])]
		if okA && okB {
			return a, b, true
		}
	}
	return 0, 0, false
}

// compare finds the differences, with the fewest things misplaced: those
// outside a longest run of found things that rises in the make-up.
func compare(should []expected, found []string) Collation {
	index := map[string]int{}
	for i, e := range should {
		index[e.name] = i
	}
	count := make([]int, len(should))
	var order []int // what belongs, by where it was first found
	var unknown []Finding
	for _, name := range found {
		i, ok := index[name]
		if !ok {
			unknown = append(
				unknown,
				Finding{Unknown, []string{name}, fmt.Sprintf("%q was found, which this make-up does not have", name)},
			)
			continue
		}
		if count[i] == 0 {
			order = append(order, i)
		}
		count[i]++
	}
	c := Collation{Found: len(order)}
	add := func(kind FindingKind, e expected, format string, args ...any) {
		c.Findings = append(c.Findings, Finding{kind, []string{e.name}, e.say + fmt.Sprintf(format, args...)})
	}
	settled := longestRise(order)
	for i := 0; i < len(should); i++ {
		e := should[i]
		if count[i] == 0 {
			run := should[i : i+1]
			// Two sides of one leaf make one finding.
			if i+1 < len(should) && count[i+1] == 0 && e.leaf != "" && should[i+1].leaf == e.leaf {
				run = should[i : i+2]
				i++
			}
			c.Findings = append(c.Findings, lacking(run))
			continue
		}
		if e.known {
			add(Reappeared, e, " was found, though it is recorded as missing")
		}
		if count[i] > 1 {
			add(Repeated, e, " was found %d times", count[i])
		}
		if !settled[i] {
			add(Misplaced, e, " %s, but belongs %s", stands(should, order, i), belongs(should, settled, i))
		}
	}
	c.Findings = append(c.Findings, unknown...)
	return c
}

// lacking makes the finding for one thing, or for the two sides of one leaf,
// that is not there.
func lacking(run []expected) Finding {
	f := Finding{Kind: Lacking, Names: []string{run[0].name}, Say: run[0].say}
	verb := " is missing"
	if len(run) == 2 {
		f.Names = append(f.Names, run[1].name)
		f.Say += " and " + run[1].say
		verb = " are missing"
	}
	if run[0].leaf != "" {
		f.Say += " (" + run[0].leaf + ")"
	}
	f.Say += verb
	if run[0].known {
		f.Kind = KnownLacking
		f.Say += ", as recorded"
	}
	return f
}

// stands says where a thing was found.
func stands(should []expected, order []int, i int) string {
	if at := slices.Index(order, i); at > 0 {
		return "stands after " + should[order[at-1]].say
	}
	return "stands first"
}

// belongs says where a thing should have been found, by its nearest neighbours
// that are in order; there is always one, since a longest rise is not empty.
func belongs(should []expected, settled map[int]bool, i int) string {
	before, after := i-1, i+1
	for before >= 0 && !settled[before] {
		before--
	}
	for after < len(should) && !settled[after] {
		after++
	}
	switch {
	case before < 0:
		return "before " + should[after].say
	case after == len(should):
		return "after " + should[before].say
	}
	return fmt.Sprintf("between %s and %s", should[before].say, should[after].say)
}

// longestRise is the set of a longest rising subsequence of order, in quadratic
// time: a nest has at most some hundreds of pages.
func longestRise(order []int) map[int]bool {
	length := make([]int, len(order))
	prev := make([]int, len(order))
	best := -1
	for i := range order {
		length[i], prev[i] = 1, -1
		for j := range i {
			if order[j] < order[i] && length[j]+1 > length[i] {
				length[i], prev[i] = length[j]+1, j
			}
		}
		if best < 0 || length[i] > length[best] {
			best = i
		}
	}
	set := map[int]bool{}
	for ; best >= 0; best = prev[best] {
		set[order[best]] = true
	}
	return set
}
