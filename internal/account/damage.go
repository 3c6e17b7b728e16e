package account

import (
	"fmt"
	"strings"

	"benchleaf/condition"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// What a total of damage can be.
const (
	ToMend Code = "to-mend"
	ToFill Code = "to-fill"
	// ToMendByNumber counts what was entered without a size.
	ToMendByNumber Code = "to-mend-by-number"
)

// Damage is a damage in the words that screen and paper show.
type Damage struct {
	record.FoundDamage
	No                                                   int
	Name, Place, Extent, Severity, Cause, Active, Remark string
	// Now is how it is after treatment, Remark what was said of that, with who said
	// it.
	Now string
}

// Damages lists the damages of a case in the order of their numbers.
func Damages(c *record.Case) []Damage {
	list := make([]Damage, len(c.Damages))
	for i := range c.Damages {
		b := &c.Damages[i].Body
		d := Damage{
			FoundDamage: c.Damages[i], No: i + 1, Name: Term(b.Term), Place: DamagePlace(b), Extent: Extent(b),
			Severity: record.Words(b.Severity), Active: record.Words(b.Active),
			Cause: record.Words(b.CauseIs), Now: "not judged after treatment",
		}
		if b.Cause != "" {
			d.Cause = b.Cause + " (" + strings.TrimPrefix(d.Cause, "cause ") + ")"
		}
		if a := d.After; a != nil {
			d.Now, d.Remark = record.Words(a.Body.Outcome), words.Joined("; ", a.Body.Text, a.By)
		}
		list[i] = d
	}
	return list
}

// Term writes a term of the vocabulary of damages as running text has it.
func Term(term string) string {
	if term == "tideline" {
		return "tide line"
	}
	return term
}

// Extent writes what of a damage was measured, empty where nothing was.
func Extent(d *record.Damage) string {
	size := ""
	if d.LengthMm != nil && d.WidthMm != nil {
		size = en.Number(*d.LengthMm) + " × " + en.Quantity(*d.WidthMm, "mm")
	} else {
		size = words.Joined(", ", maybe(d.LengthMm, "mm"), words.After("width ", maybe(d.WidthMm, "mm")))
	}
	count := ""
	if d.Count != nil {
		count = en.Plural(*d.Count, "spot or piece", "spots or pieces")
	}
	return words.Joined(", ", size, maybe(d.AreaMm2, "mm²"), count)
}

// AreaNumber is what was measured of an outlined area, empty where nothing was.
type AreaNumber struct {
	Size string
	// Around is how far it stands out from the paper round it, ΔE00.
	Around string
	Change string
}

// AreaNumbers writes what was measured of an area, as it was recorded.
func AreaNumbers(a *record.Area) AreaNumber {
	x := AreaNumber{Size: AreaSize(&a.Body), Change: "not measured"}
	if a.Body.StandsOutDE00 != nil {
		x.Around = fmt.Sprintf("%.1f", *a.Body.StandsOutDE00)
	}
	if a.Compared != nil {
		x.Compare(&a.Compared.Body)
	}
	return x
}

// Compare puts in what a comparison says of the area.
func (x *AreaNumber) Compare(b *record.AreaCompared) {
	x.Change = DE00(b.DE00Trend, b.DE00Uncertainty)
	if b.StoodOutDE00 != nil && b.StandsOutDE00 != nil {
		x.Around = fmt.Sprintf("%.1f, after %.1f", *b.StoodOutDE00, *b.StandsOutDE00)
	}
}

// AreaSize writes the size of an outlined area.
func AreaSize(b *record.AreaOutlined) string {
	switch {
	case b.AreaMm2 != nil:
		return en.Figure(words.Figure{Value: *b.AreaMm2, Unit: "mm²", Uncertainty: twice(b.AreaUncertaintyMm2)})
	case b.FacePercent != nil:
		return en.Quantity(*b.FacePercent, "% of the face")
	}
	return ""
}

// DamagePlace writes where a damage is, through which sheets it runs, and a point.
func DamagePlace(d *record.Damage) string {
	s := d.Place.String()
	if len(d.Place.Sheets) > 1 {
		s = "through " + s
	}
	if d.Through {
		s += ", shows on both faces"
	}
	if d.XMm != nil && d.YMm != nil {
		s += ", at " + en.Quantity(*d.XMm, "mm") + " from the left edge and " + en.Quantity(*d.YMm, "mm") +
			" from the head"
	}
	return s
}

// DamageTotals adds up over the whole object what there is to mend: a damage
// through several sheets counts on each, and one entered with a count of pieces
// as often as there are pieces, of its size each. Tears and splits count by
// their length; losses and holes by their area, else length times width; what
// has no such size by its number.
func DamageTotals(c *record.Case) []Fact {
	var length, area, pieces float64
	for i := range c.Damages {
		b := &c.Damages[i].Body
		k, ok := condition.Look(condition.Term(b.Term))
		if !ok || k.Mend == condition.NoMend {
			continue
		}
		n := float64(max(len(b.Place.Sheets), 1))
		if b.Count != nil {
			n *= float64(*b.Count)
		}
		switch {
		case k.Mend == condition.MendStrip && b.LengthMm != nil:
			length += n * *b.LengthMm
		case k.Mend == condition.MendPatch && b.AreaMm2 != nil:
			area += n * *b.AreaMm2
		case k.Mend == condition.MendPatch && b.LengthMm != nil && b.WidthMm != nil:
			area += n * *b.LengthMm * *b.WidthMm
		default:
			pieces += n
		}
	}
	var facts []Fact
	add := func(code Code, name string, v float64, unit, of string) {
		if v > 0 {
			facts = append(facts, Fact{
				Code: code, Name: name, Figure: &words.Figure{Value: v, Unit: unit}, Basis: Counted,
				RestsOn: of + ", each sheet and each piece counted",
			})
		}
	}
	add(ToMend, "To mend along", length, "mm", "lengths of tears and splits")
	add(ToFill, "To fill", area, "mm²", "areas of losses and holes, else length × width")
	add(ToMendByNumber, "To mend, by number", pieces, "", "holes, tears and losses entered without such a size")
	return facts
}
