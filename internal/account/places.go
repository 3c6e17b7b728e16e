package account

import (
	"slices"
	"strconv"
	"strings"

	"benchleaf/condition"
	"benchleaf/internal/annotation"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/makeup"
)

// ground is what words of place rest on in a case; nil before the make-up is known.
func ground(c *record.Case) *condition.Ground {
	m := c.MakeUpFound()
	if m == nil {
		return nil
	}
	g := groundOf(c, *m)
	return &g
}

// wordsOn puts shapes on one face into words: pages and place, or what was written
// where the size of the sheet is not known.
func wordsOn(g *condition.Ground, p record.Place, shapes []condition.Shape, what string, more ...string) string {
	if g == nil || len(p.Sheets) == 0 {
		return words.Joined(", ", what, p.String())
	}
	s := makeup.Sheet(p.Sheets[0])
	if _, known := g.Sizes[s]; !known {
		return words.Joined(", ", what, p.String())
	}
	face := FaceOf{p.Sheets[0], p.Face}.face()
	var traces []condition.Trace
	for _, shape := range shapes {
		traces = append(traces, condition.Trace{Sheet: s, Face: face, Shape: shape})
	}
	return g.Where(traces).Say(what, append(more, p.Words)...)
}

// Placed is a work that was done at a place of a face, in words.
type Placed struct {
	record.Stamped[record.WorkPlaced]
	// What is the sort of work, Where its place, With the material and its lot, Undo
	// whether it can be undone, For what it was done.
	What, Where, With, Undo, For string
}

// PlacedWork lists what was done where, in the order of its entries.
func PlacedWork(c *record.Case) []Placed {
	g := ground(c)
	var list []Placed
	for _, x := range c.Placed {
		b := &x.Body
		p := Placed{
			Stamped: x, What: record.Words(b.Sort), Where: wordsOn(g, b.Place, b.Shapes, ""),
			With: b.Material + words.After(", lot ", b.Lot), Undo: record.Words(b.Undo) + words.After(": ", b.UndoHow),
		}
		var of []string
		for _, id := range b.Damages {
			if d := c.DamageByID(id); d != nil {
				of = append(of, "no. "+strconv.Itoa(d.No)+", "+Term(d.Body.Term))
			}
		}
		p.For = strings.Join(of, "; ")
		list = append(list, p)
	}
	return list
}

// Marked is a reading position in words, with all that was read there, in order.
type Marked struct {
	record.Position
	Where    string
	Readings []record.Stamped[record.Reading]
}

// MarkedPositions lists the reading positions of a case in the order of their
// numbers, each with its readings: before, after and years later.
func MarkedPositions(c *record.Case) []Marked {
	g := ground(c)
	var list []Marked
	for _, x := range c.Positions {
		m := Marked{Position: x, Where: wordsOn(g, x.Body.Place, []condition.Shape{spotOn(&x.Body)}, "")}
		for _, r := range c.Readings {
			if r.Body.Position == x.Body.ID {
				m.Readings = append(m.Readings, r)
			}
		}
		list = append(list, m)
	}
	return list
}

func spotOn(b *record.PositionMarked) condition.Shape {
	return condition.Shape{Form: condition.Spot, Points: []condition.Point{{XMm: b.XMm, YMm: b.YMm}}}
}

// PositionName is what a position is called: "position 3, p. 12: 40 mm from the
// fold, 30 mm below the head".
func PositionName(c *record.Case, id string) string {
	p := c.Position(id)
	if p == nil {
		return ""
	}
	where := wordsOn(ground(c), p.Body.Place, []condition.Shape{spotOn(&p.Body)}, "")
	return "position " + strconv.Itoa(p.No) + ", " + where
}

// Annotations are the findings, the works and the reading positions of a case as Web
// Annotations, one page for each face that has any and whose size is known.
func Annotations(c *record.Case) annotation.Collection {
	base := "urn:benchleaf:" + string(c.ID)
	all := annotation.Collection{ID: base, Label: words.Joined(", ", c.Number, c.Title)}
	m := MapOf(c)
	if m == nil {
		return all
	}
	for _, f := range m.Faces() {
		size, known := m.Size(f)
		if !known {
			continue
		}
		slug := "sheet-" + strconv.Itoa(f.Sheet) + "-" + string(f.Face)
		page := annotation.Page{
			ID: base + ":page:" + slug, File: slug + ".json", Size: size, Source: base + ":face:" + slug,
			Label: m.Ground.MakeUp.FaceName(makeup.Sheet(f.Sheet), f.face()),
		}
		page.Notes = append(page.Notes, findingNotes(m, f, base)...)
		page.Notes = append(page.Notes, placedNotes(c, f, base)...)
		all.Pages = append(all.Pages, page)
	}
	return all
}

// findingNotes are the findings that show on a face, each with all its shapes there.
func findingNotes(m *Map, f FaceOf, base string) []annotation.Note {
	var notes []annotation.Note
	at := map[string]int{}
	for _, t := range m.On(f) {
		d := t.Damage
		i, has := at[d.Body.ID]
		if !has {
			i = len(notes)
			at[d.Body.ID] = i
			notes = append(notes, annotation.Note{
				ID:   base + ":finding:" + strconv.Itoa(d.No) + ":" + strconv.Itoa(f.Sheet) + "-" + string(f.Face),
				Tags: []string{d.Body.Term}, Creator: d.By, Created: d.Time,
				Text: words.Joined("; ", "no. "+strconv.Itoa(d.No)+", "+d.Name, d.Place, d.Extent, d.Body.Note),
			})
		}
		notes[i].Shapes = append(notes[i].Shapes, t.Shape)
	}
	return notes
}

func placedNotes(c *record.Case, f FaceOf, base string) []annotation.Note {
	var notes []annotation.Note
	on := func(p record.Place) bool { return p.Face == f.Face && slices.Equal(p.Sheets, []int{f.Sheet}) }
	for _, x := range PlacedWork(c) {
		if on(x.Body.Place) {
			notes = append(notes, annotation.Note{
				ID: base + ":work:" + x.Body.ID, Tags: []string{x.What}, Creator: x.By, Created: or(x.Body.At, x.Time),
				Text: words.Joined("; ", x.With, x.Undo, x.Where, x.Body.Note), Shapes: x.Body.Shapes,
			})
		}
	}
	for _, x := range MarkedPositions(c) {
		if on(x.Body.Place) {
			notes = append(notes, annotation.Note{
				ID: base + ":position:" + strconv.Itoa(x.No), Tags: []string{"reading position"}, Creator: x.By, Created: x.Time,
				Text:   words.Joined("; ", "position "+strconv.Itoa(x.No), x.Where, x.Body.Note),
				Shapes: []condition.Shape{spotOn(&x.Body)},
			})
		}
	}
	return notes
}

// TakenOver are the notes of a file as findings on one face. kind names the kind of
// those whose tags are no kind of ours; an error says which have none then.
func TakenOver(
	notes []annotation.Note, p record.Place, kind string, newID func(int) string,
) ([]record.Damage, error) {
	var list []record.Damage
	for i, n := range notes {
		term := condition.Term("")
		for _, t := range append(slices.Clone(n.Tags), kind) {
			if k, known := condition.Look(condition.Term(strings.ToLower(t))); known && term == "" {
				term = k.Term
			}
		}
		if term == "" {
			return nil, record.Invalidf("kind", "Annotation %d of %d (%s) is of no kind that the vocabulary has: say of "+
				"which kind those are.", i+1, len(notes), words.Clip(words.Joined(", ", strings.Join(n.Tags, ", "), n.Text)))
		}
		k, _ := condition.Look(term)
		list = append(list, record.Damage{
			ID: newID(i), Term: string(term), Place: p, Through: k.Depth == condition.Always, Shapes: n.Shapes,
			Note: words.Joined("; ", n.Text, "taken over from an annotation"+words.After(" by ", n.Creator)),
		})
	}
	return list, nil
}
