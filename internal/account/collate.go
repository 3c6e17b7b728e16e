package account

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/makeup"
)

// Answers to "is it there?", as the object is gone through leaf by leaf. What is
// there instead is "0-first" for a leaf of the make-up, "3-both" for a sheet, and
// AnswerElse with words for anything else.
const (
	AnswerYes  = "yes"
	AnswerNo   = "no"
	AnswerElse = "else:"
)

// Walk is an object being gone through, leaf after leaf as one reads, or sheet after
// sheet where they lie apart.
type Walk struct {
	// Next is what is asked for, nil when all was answered.
	Next *WalkStep
	// Asked of All says how far it is.
	Asked, All int
	Found      []record.FoundLeaf
	// Instead lists what else of the make-up may be there.
	Instead []record.Choice
}

// WalkStep is a leaf or a sheet that should come next.
type WalkStep struct {
	record.FoundLeaf
	// Name is what to look for: "page 5". Of says which leaf that is.
	Name, Of string
	// Known says that the make-up has it as missing already.
	Known bool
}

// WalkThrough follows the answers so far. Where sheets lie apart, whole sheets are
// asked for, from the outside in.
func WalkThrough(c *record.Case, apart bool, answers []string) *Walk {
	m := c.MakeUpFound()
	if m == nil {
		return &Walk{}
	}
	steps := walkSteps(m, apart)
	w := &Walk{All: len(steps)}
	seen := map[string]bool{}
	i := 0
	skip := func() {
		for i < len(steps) && seen[stepKey(steps[i].FoundLeaf)] {
			i++
		}
	}
	for _, a := range answers {
		if skip(); i == len(steps) {
			break
		}
		switch {
		case a == AnswerYes:
			w.Found = append(w.Found, steps[i].FoundLeaf)
			i++
		case a == AnswerNo:
			i++
		case strings.HasPrefix(a, AnswerElse):
			w.Found = append(w.Found, record.FoundLeaf{Other: strings.TrimPrefix(a, AnswerElse)})
		default:
			for _, s := range steps {
				if stepKey(s.FoundLeaf) == a && !seen[a] {
					w.Found, seen[a] = append(w.Found, s.FoundLeaf), true
				}
			}
		}
	}
	skip()
	w.Asked = i
	if i < len(steps) {
		w.Next = &steps[i]
	}
	for _, s := range steps[min(i+1, len(steps)):] {
		if key := stepKey(s.FoundLeaf); !seen[key] {
			w.Instead = append(w.Instead, record.Choice{Value: key, Words: s.Name + " (" + s.Of + ")"})
		}
	}
	return w
}

func stepKey(x record.FoundLeaf) string { return strconv.Itoa(x.Sheet) + "-" + string(x.Leaf) }

func walkSteps(m *makeup.MakeUp, apart bool) []WalkStep {
	var steps []WalkStep
	if apart {
		for _, s := range m.Sheets() {
			st := m.State(s)
			steps = append(steps, WalkStep{
				FoundLeaf: record.FoundLeaf{Sheet: int(s), Leaf: record.LeafBoth}, Name: s.String(),
				Of:    "outer face: " + m.FacePages(s, makeup.Outer),
				Known: st.Missing == makeup.BothLeaves,
			})
		}
		return steps
	}
	for _, it := range m.Reading() {
		if it.Insert != nil || it.Page.Side != makeup.Recto {
			continue
		}
		p := it.Page
		leaf, name := record.LeafFirst, "page "+m.Name(p)
		if p.Leaf == makeup.Second {
			leaf = record.LeafSecond
		}
		if p.Sheet == 0 {
			name = "the " + m.Name(p)
		}
		of := "leaf " + m.LeafPages(p.Sheet, p.Leaf) + " of " + p.Sheet.String()
		steps = append(steps, WalkStep{
			FoundLeaf: record.FoundLeaf{Sheet: int(p.Sheet), Leaf: leaf}, Name: name, Of: of, Known: !m.Present(p),
		})
	}
	return steps
}

// Collated is what going through an object came to.
type Collated struct {
	Sheets  int // that turned up, whole or in part
	InOrder bool
	// Says are the findings as sentences, Moves the fewest sheets to move.
	Says, Moves []string
}

// CollatedOf compares what was found with the make-up.
func CollatedOf(c *record.Case, found []record.FoundLeaf) Collated {
	m := c.MakeUpFound()
	if m == nil || len(found) == 0 {
		return Collated{}
	}
	var pages []string
	var order []makeup.Sheet
	var strange []string
	whole, seen := false, map[int]bool{}
	for _, x := range found {
		if x.Other != "" {
			strange = append(strange, fmt.Sprintf("“%s” was found, which is not of this make-up", x.Other))
			continue
		}
		s := makeup.Sheet(x.Sheet)
		whole = whole || x.Leaf == record.LeafBoth
		if !seen[x.Sheet] && (x.Leaf != record.LeafSecond || m.State(s).Missing.Has(makeup.First)) {
			order = append(order, s)
		}
		seen[x.Sheet] = true
		for _, l := range []makeup.Leaf{makeup.First, makeup.Second} {
			if (x.Leaf == record.LeafSecond) == (l == makeup.Second) {
				recto := makeup.Page{Sheet: s, Leaf: l}
				pages = append(pages, m.Name(recto), m.Name(recto.Behind()))
			}
		}
	}
	r := Collated{Sheets: len(seen)}
	sheets := m.CollateSheets(order)
	findings := sheets
	if !whole {
		var err error
		if findings, err = m.CollatePages(strings.Join(pages, ",")); err != nil {
			return Collated{Sheets: len(seen), Says: []string{refusal(err)}}
		}
	}
	r.InOrder = findings.InOrder() && len(strange) == 0
	for _, s := range findings.Sentences() {
		r.Says = append(r.Says, en.Sentence(s))
	}
	for _, s := range strange {
		r.Says = append(r.Says, en.Sentence(s))
	}
	for _, f := range sheets.Findings {
		if f.Kind == makeup.Misplaced {
			_, where, _ := strings.Cut(f.Say, "but ")
			r.Moves = append(r.Moves, strings.Join(f.Names, ", ")+" "+where)
		}
	}
	return r
}

// CollationSays is what a recorded collation found: worked out where it was gone
// through leaf by leaf, else what was written.
func CollationSays(c *record.Case, b *record.Collation) []string {
	says := CollatedOf(c, b.Found).Says
	if b.Findings != "" && !slices.Contains(says, b.Findings) {
		says = append(says, b.Findings)
	}
	return says
}
