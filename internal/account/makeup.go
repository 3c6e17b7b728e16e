package account

import (
	"fmt"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/makeup"
)

// SheetFound says how a sheet was found: "loose; the second leaf from another
// copy", without what that rests on.
func SheetFound(b *record.SheetState) string {
	st := b.Science()
	st.Basis = ""
	if s := st.Words(); s != "" {
		return s
	}
	return record.Words(record.HoldFirm)
}

// SheetRemark says how a sheet stands, empty where it is simply there or nobody has
// said.
func SheetRemark(c *record.Case, sheet int) string {
	m := c.MakeUpFound()
	if m == nil {
		return ""
	}
	st := m.State(makeup.Sheet(sheet))
	st.Basis = ""
	return st.Words()
}

// SheetsAre names so many inner sheets by their build: "9 inner sheets", "18 single
// leaves".
func SheetsAre(b *record.MakeUp) string {
	if b.Build == record.BuildStack {
		return en.Plural(b.InnerSheets, "single leaf", "single leaves")
	}
	return en.Plural(b.InnerSheets, "inner sheet", "inner sheets")
}

func tellMakeUp(b *record.MakeUp) string {
	moved := ""
	if len(b.Added) > 0 {
		moved = "not counted before: " + record.SheetNames(b.Added)
	}
	if len(b.Gone) > 0 {
		moved = words.Joined("; ", moved, "counted too many: "+record.SheetNames(b.Gone))
	}
	return "make-up: " + words.Joined("; ", SheetsAre(b)+", "+record.Words(b.Cover), moved)
}

// What is told of a make-up.
const (
	CreepExpected Code = "creep-expected"
	CreepRead     Code = "creep-read"
	CreepProves   Code = "creep-proves"
)

// creepReadMm is how near a creep is read with a rule (common practice, no source).
const creepReadMm = 0.2

// Creep compares how far the innermost sheet stands out with what the thicknesses
// make of it, and says what that proves and what not. It is nil where no thickness
// is known and none was read.
func Creep(c *record.Case) []Fact {
	if c.MakeUp == nil || c.MakeUp.Body.Build == record.BuildStack {
		return nil
	}
	var facts []Fact
	expected := creepExpected(c)
	if expected != nil {
		facts = append(facts, Fact{
			Code: CreepExpected, Name: "Creep of the innermost sheet, uncut",
			Text:  fmt.Sprintf("%.1f to %.1f", expected.SharpMm, expected.RoundMm) + words.NBSP + "mm",
			Basis: Computed, RestsOn: "thickness of each sheet; folds sharp to round",
		})
	}
	var read *float64
	for i := range c.Collations {
		if mm := c.Collations[i].Body.CreepMm; mm != nil {
			read = mm
		}
	}
	if read != nil {
		facts = append(facts, Fact{
			Code: CreepRead, Name: "Creep read", Basis: Measured,
			Figure: &words.Figure{Value: *read, Unit: "mm"}, RestsOn: "the last collation that read it",
		})
	}
	if say := creepProves(c, expected, read); say != "" {
		facts = append(facts, Fact{Code: CreepProves, Name: "What it proves", Text: say, Basis: Computed})
	}
	return facts
}

// creepExpected is the creep of the innermost inner sheet against the outermost,
// nil while a thickness is not known.
func creepExpected(c *record.Case) *makeup.Creep {
	var mm []float64
	for n := 1; n <= c.MakeUp.Body.InnerSheets; n++ {
		st := c.StockOf(n)
		if st == nil || st.ThicknessUm == nil {
			return nil
		}
		mm = append(mm, *st.ThicknessUm/1000)
	}
	creep, err := makeup.CreepOf(mm)
	if err != nil || len(creep) == 0 {
		return nil
	}
	return &creep[len(creep)-1]
}

func creepProves(c *record.Case, expected *makeup.Creep, read *float64) string {
	trim := c.MakeUp.Body.Trim
	if expected == nil || read == nil {
		if trim == record.TrimFlush {
			return "The fore-edges were cut level after folding: each leaf further in is narrower, and a sheet of the same " +
				"width as its neighbours did not lie here when it was cut."
		}
		return ""
	}
	low, high := expected.SharpMm-creepReadMm, expected.RoundMm+creepReadMm
	switch {
	case *read >= low && *read <= high && high-low < expected.RoundMm:
		return "As so many uncut sheets of this thickness stand out: no sign that the edges were cut after folding, or " +
			"that a sheet is lacking. It does not prove that each sheet is of this copy."
	case *read >= low && *read <= high:
		return "Too few or too thin sheets for their creep to prove anything: a rule reads it to " +
			en.Quantity(creepReadMm, "mm") + "."
	case *read < low && trim == record.TrimNone:
		return "Less than so many uncut sheets make, yet the edges are uncut: a sheet may be lacking, or the paper is " +
			"thinner than recorded."
	case *read < low:
		return "Less than so many uncut sheets make: the edges were cut after folding, or sheets are lacking. Cut " +
			"leaves are narrower further in; one that is not came from elsewhere."
	}
	return "More than so many sheets make: a sheet stands off the fold, or one from a wider copy was put in."
}

// SheetsFromPages says how many inner sheets so many pages make; over is what is left of
// them: four pages make a folded sheet, two a single leaf.
func SheetsFromPages(pages int, build record.LeafBuild) (sheets, over int, say string) {
	b := record.MakeUp{Build: build}
	sheets, over = makeup.SheetsFor(pages, b.Science().Build)
	b.InnerSheets = sheets
	is := map[bool]string{true: "makes", false: "make"}[pages == 1]
	if over != 0 {
		return sheets, over, fmt.Sprintf("%s %s no whole number of sheets: %d are left over. A leaf that is missing counts "+
			"with its two pages; a single leaf between folded sheets is an insert.", en.Plural(pages, "page", "pages"), is, over)
	}
	return sheets, 0, en.Plural(pages, "page", "pages") + " " + is + " " + SheetsAre(&b) + "."
}

// Opened is a face of a sheet and what lies on it: the pages from left to right.
type Opened struct{ Face, Pages string }

// OpenedSheet lists the faces of a sheet with their pages, "(gone)" for what is
// missing.
func OpenedSheet(c *record.Case, sheet int) []Opened {
	m := c.MakeUpFound()
	if m == nil {
		return nil
	}
	var list []Opened
	for _, f := range []makeup.Face{makeup.Outer, makeup.Inner} {
		name := f.String()
		if m.Single(makeup.Sheet(sheet)) {
			name = makeup.Side(f).String()
		}
		list = append(list, Opened{en.Upper(name), m.FacePages(makeup.Sheet(sheet), f)})
	}
	return list
}

// LiesAgainst lists the openings of the object as it was found that show a page of
// a sheet: "2 | 3". Pages that face each other exchange oil, acid and stains.
func LiesAgainst(c *record.Case, sheet int) []string {
	m := c.MakeUpFound()
	if m == nil {
		return nil
	}
	var list []string
	for _, o := range makeup.Openings(m.ReadingFound()) {
		ours := false
		var names []string
		for _, it := range []*makeup.Item{o.Left, o.Right} {
			if it != nil {
				ours = ours || it.Insert == nil && int(it.Page.Sheet) == sheet
				names = append(names, m.ItemName(*it))
			}
		}
		if ours && len(names) == 2 {
			list = append(list, names[0]+" | "+names[1])
		}
	}
	return list
}
