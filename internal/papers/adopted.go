package papers

import (
	"fmt"
	"slices"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// learnt says in plain words what one sheet told about others that waited.
func (m *maker) learnt() {
	if len(m.c.Adopted) == 0 {
		return
	}
	m.sub("Values carried over to other sheets")
	for i := range m.c.Adopted {
		b := &m.c.Adopted[i].Body
		words := fmt.Sprintf("%s was estimated from readings on %s: %s%s. %s from then on planned with that, in place "+
			"of %s.", upper(adoptedName(b)), record.SheetName(b.FromSheet), rangeText(&b.Value, b.Unit), spreadOf(b),
			upper(areSheets(b.Sheets)), formerly(b))
		m.para(span{words, body}, span{" Why: " + sentence(b.Reason), bodyMuted})
	}
}

// adoptedName is what an owner understands of a quantity.
func adoptedName(b *record.ValueAdopted) string {
	switch b.Quantity {
	case "pick-up":
		return "how much liquid the paper holds"
	case "mass":
		return "how heavy a dry sheet is"
	case "drying-rate":
		return "how fast a sheet dries"
	case "acid", "soluble-acid", "fixed-acid":
		return "how much acid the paper holds (" + quantityAdopted(b) + ")"
	}
	return quantityAdopted(b)
}

func quantityAdopted(b *record.ValueAdopted) string {
	if q := record.AdoptedQuantityOf(b.Quantity); q != nil {
		return q.Words
	}
	return b.Quantity
}

// spreadOf says how a value allows for sheets that were not read.
func spreadOf(b *record.ValueAdopted) string {
	switch {
	case b.Spread != "":
		return ", which allows for how sheets of one paper differ"
	case slices.Equal(b.Sheets, []int{b.FromSheet}):
		return ""
	}
	return ", without allowing for how sheets of one paper differ"
}

func areSheets(sheets []int) string {
	if len(sheets) == 1 {
		return record.SheetNames(sheets) + " was"
	}
	return record.SheetNames(sheets) + " were"
}

// formerly is what a value took the place of.
func formerly(b *record.ValueAdopted) string {
	if b.Was == nil {
		return "what is usual for such paper"
	}
	return joined(", ", rangeText(b.Was, b.Unit), plainBasis(b.WasBasis))
}

// plainBasis leaves out of a basis what its brackets say.
func plainBasis(s string) string {
	before, _, _ := strings.Cut(s, "(")
	return strings.TrimSpace(before)
}

// adoptedAnnex lists the adopted values with all that they rest on. Where one
// was replaced for a sheet by a later one, that is said.
func (m *maker) adoptedAnnex() {
	if len(m.c.Adopted) == 0 {
		return
	}
	m.annex("Values taken over to other sheets")
	m.lead(span{
		"A value is fitted to readings on one sheet by the program’s model of the bath and the drying. The numbers " +
			"of entries are those of the journal. The latest value counts for each sheet.", bodyMuted,
	})
	g := grid("Quantity|Value and 10 to 90 % range|In place of|Read on|Taken for|Reason|When, by")
	for i := range m.c.Adopted {
		x := &m.c.Adopted[i]
		b := &x.Body
		g.row(upper(quantityAdopted(b)), strong(rangeText(&b.Value, b.Unit)),
			joined("\n", rangeText(b.Was, b.Unit), b.WasBasis),
			joined("\n", record.SheetName(b.FromSheet), account.Entries(b.Readings)),
			joined("\n", record.SheetNames(b.Sheets), prefixed("now replaced for ", m.replaced(x))),
			joined("\n", b.Reason, spreadAdded(b)),
			joined(", ", m.k.ShortDay(x.Time), x.By))
	}
	m.grid("", g)
}

// spreadAdded is the spread that a value was widened by, for the annex.
func spreadAdded(b *record.ValueAdopted) string {
	if b.Spread == "" && !slices.Equal(b.Sheets, []int{b.FromSheet}) {
		return "not widened for sheets that were not read"
	}
	return prefixed("widened: ", b.Spread)
}

// replaced names the sheets for which a later value counts.
func (m *maker) replaced(x *record.Stamped[record.ValueAdopted]) string {
	var sheets []int
	for _, n := range x.Body.Sheets {
		now := m.c.AdoptedFor(n)
		if !slices.ContainsFunc(now, func(y record.Stamped[record.ValueAdopted]) bool { return y.Seq == x.Seq }) {
			sheets = append(sheets, n)
		}
	}
	if len(sheets) == 0 {
		return ""
	}
	return record.SheetNames(sheets)
}
