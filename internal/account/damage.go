package account

import (
	"fmt"
	"math"
	"slices"
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
	Name, Place, Extent, Severity, Cause, Active, Remark string
	// Letter, Colour and Hatch mark it on a map.
	Letter, Colour, Hatch string
	// Looked says at which look it was found: stage, day, light, by whom.
	Looked string
	// Now is how it is after treatment, Remark what was said of that, with who said
	// it; for one that was withdrawn, that, and why.
	Now string
}

// Damages lists the damages of a case that stand, in the order of their numbers.
func Damages(c *record.Case) []Damage {
	return slices.DeleteFunc(damagesOn(c), func(d Damage) bool { return d.Withdrawn != nil })
}

// DamagesEver lists every damage of a case in the order of their numbers, those
// that were withdrawn among them.
func DamagesEver(c *record.Case) []Damage { return damagesOn(c) }

func damagesOn(c *record.Case) []Damage {
	g := (*condition.Ground)(nil)
	if nest := c.MakeUpFound(); nest != nil {
		ground := groundOf(c, *nest)
		g = &ground
	}
	all := append(slices.Clone(c.Damages), c.DamagesWithdrawn...)
	slices.SortStableFunc(all, func(a, b record.FoundDamage) int { return a.No - b.No })
	list := make([]Damage, len(all))
	for i, found := range all {
		b := &all[i].Body
		d := Damage{
			FoundDamage: found, Name: Term(b.Term), Place: placeOf(c, g, b), Extent: Extent(b),
			Severity: record.Words(b.Severity), Active: record.Words(b.Active),
			Cause: record.Words(b.CauseIs), Now: "not judged after treatment", Looked: looked(c, &found),
		}
		if k, ok := condition.Look(condition.Term(b.Term)); ok {
			d.Letter, d.Colour, d.Hatch = k.Letter, k.Group.Colour, k.Group.Hatch
		}
		if b.Cause != "" {
			d.Cause = b.Cause + " (" + strings.TrimPrefix(d.Cause, "cause ") + ")"
		}
		if a := d.After; a != nil {
			d.Now, d.Remark = record.Words(a.Body.Outcome), words.Joined("; ", a.Body.Text, doneBy(c, &a.Body), a.By)
		}
		if x := d.Withdrawn; x != nil {
			d.Now, d.Remark = "withdrawn", words.Joined("; ", x.Body.Reason, x.By)
		}
		list[i] = d
	}
	return list
}

// FoundWhen is when a damage was found: as it was said, else by when it was written.
func FoundWhen(c *record.Case, d *record.FoundDamage) record.FoundStage {
	switch {
	case d.Body.Found != "":
		return d.Body.Found
	case len(c.Runs) > 0 && d.Seq > c.Runs[0].Seq:
		return record.FoundAtWork
	}
	return ""
}

// looked says at which look a damage was found, as far as it was said.
func looked(c *record.Case, d *record.FoundDamage) string {
	found := ""
	switch s := FoundWhen(c, d); {
	case d.Body.Found != "":
		found = record.Words(s)
	case s != "":
		found = "entered after the work began"
	}
	return words.Joined(", ", found, record.Words(d.Body.SeenIn), words.After("seen by ", d.Body.Examiner))
}

// doneBy names the mends and runs that changed a damage.
func doneBy(c *record.Case, b *record.DamageAfter) string {
	var list []string
	for _, id := range b.Runs {
		if r := c.Run(id); r != nil {
			list = append(list, r.Body.OperationName)
		}
	}
	for _, id := range b.Mends {
		if m := c.Mend(id); m != nil {
			list = append(list, words.Joined(" ", "mend with", m.Body.Tissue))
		}
	}
	return words.After("by ", strings.Join(slices.Compact(list), ", "))
}

// Term writes a term of the vocabulary of damages as running text has it.
func Term(term string) string {
	if term == "tideline" {
		return "tide line"
	}
	return term
}

// Extent writes the extent of a damage on each sheet: as it was measured, else as it
// was drawn; empty where it was neither.
func Extent(d *record.Damage) string {
	drawn := drawnOf(d)
	length, area, number := d.LengthMm, d.AreaMm2, d.Count
	size := ""
	if length != nil && d.WidthMm != nil {
		size = en.Number(*length) + " × " + en.Quantity(*d.WidthMm, "mm")
	} else {
		size = words.Joined(", ", maybe(length, "mm"), words.After("width ", maybe(d.WidthMm, "mm")))
	}
	if size == "" && drawn.lengthMm > 0 {
		size = en.Quantity(math.Round(drawn.lengthMm), "mm")
	}
	surface := maybe(area, "mm²")
	if surface == "" && drawn.areaMm2 > 0 && (length == nil || d.WidthMm == nil) {
		surface = en.Quantity(round3(drawn.areaMm2), "mm²")
	}
	count := ""
	switch {
	case number != nil:
		count = en.Plural(*number, "spot or piece", "spots or pieces")
	case drawn.spots > 0 && drawn.lengthMm+drawn.areaMm2 == 0 && size == "" && surface == "":
		count = en.Plural(drawn.spots, "spot", "spots")
	}
	return words.Joined(", ", size, surface, count)
}

// extent is how much was drawn.
type extent struct {
	lengthMm, areaMm2 float64
	spots             int
}

func drawnOf(d *record.Damage) (x extent) {
	for _, s := range d.Shapes {
		switch s.Form {
		case condition.Spot:
			x.spots++
		case condition.Line:
			x.lengthMm += s.LengthMm()
		case condition.Strip:
			x.lengthMm += s.LengthMm()
			x.areaMm2 += s.AreaMm2()
		default:
			x.areaMm2 += s.AreaMm2()
		}
	}
	return x
}

// round3 rounds to three figures: a drawn area is not known closer.
func round3(v float64) float64 {
	if v <= 0 {
		return 0
	}
	step := math.Pow(10, math.Floor(math.Log10(v))-2)
	return math.Round(v/step) * step
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

// DamagePlace writes where a damage is that is not drawn: through which sheets it
// runs, and a point.
func DamagePlace(d *record.Damage) string {
	s := d.Place.String()
	if len(d.Place.Sheets) > 1 {
		s = "through " + s
	}
	if d.Through {
		s += ", shows on both faces"
	}
	if len(d.Shapes) > 0 && d.Shapes[0].Form == condition.Spot {
		p := d.Shapes[0].Points[0]
		s += ", at " + en.Quantity(p.XMm, "mm") + " from the left edge and " + en.Quantity(p.YMm, "mm") + " from the head"
		if d.Place.Face == "" {
			s += " (of which face is not said)"
		}
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
		drawn := drawnOf(b)
		switch {
		case k.Mend == condition.MendStrip && b.LengthMm != nil:
			length += n * *b.LengthMm
		case k.Mend == condition.MendStrip && drawn.lengthMm > 0:
			length += float64(max(len(b.Place.Sheets), 1)) * math.Round(drawn.lengthMm)
		case k.Mend == condition.MendPatch && b.AreaMm2 != nil:
			area += n * *b.AreaMm2
		case k.Mend == condition.MendPatch && b.LengthMm != nil && b.WidthMm != nil:
			area += n * *b.LengthMm * *b.WidthMm
		case k.Mend == condition.MendPatch && drawn.areaMm2 > 0:
			area += float64(max(len(b.Place.Sheets), 1)) * round3(drawn.areaMm2)
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
