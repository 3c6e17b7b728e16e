package account

import (
	"fmt"
	"math"
	"slices"

	"benchleaf/condition"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/makeup"
)

// What is said of the extent of one finding.
const (
	LengthDrawn Code = "length-drawn"
	AreaDrawn   Code = "area-drawn"
	ShareDrawn  Code = "share-of-face"
	SpotsDrawn  Code = "spots-drawn"
	// OverAll are the sums over all sheets that a finding runs through.
	LengthOverAll Code = "length-over-all"
	AreaOverAll   Code = "area-over-all"
)

// ExtentFacts are length, area, share of the face and number of a finding, by its
// shapes, on its first sheet and over all that it runs through.
func ExtentFacts(c *record.Case, b *record.Damage) []Fact {
	nest := c.MakeUpFound()
	if nest == nil || len(b.Shapes) == 0 {
		return nil
	}
	g := groundOf(c, *nest)
	one := drawnOf(b)
	var facts []Fact
	add := func(code Code, name string, v float64, unit, rests string) {
		if v > 0 {
			facts = append(facts, Fact{
				Code: code, Name: name, Figure: &words.Figure{Value: v, Unit: unit}, Basis: Computed, RestsOn: rests,
			})
		}
	}
	add(LengthDrawn, "Length", math.Round(one.lengthMm), "mm", "as drawn, on one sheet")
	add(AreaDrawn, "Area", round3(one.areaMm2), "mm²", "as drawn, on one face")
	if size, known := g.Sizes[makeup.Sheet(firstOf(b.Place.Sheets))]; known && one.areaMm2 > 0 {
		add(ShareDrawn, "Share of the face", round3(100*one.areaMm2/(size.WidthMm*size.HeightMm)), "%",
			fmt.Sprintf("of %g × %g mm", size.WidthMm, size.HeightMm))
	}
	add(SpotsDrawn, "Spots", float64(one.spots), "", "as marked, on one face")
	if len(b.Place.Sheets) > 1 {
		var all extent
		for _, d := range sheetParts(b, g.Sizes) {
			x := drawnOf(&record.Damage{Shapes: d.Shapes})
			all.lengthMm, all.areaMm2 = all.lengthMm+x.lengthMm, all.areaMm2+x.areaMm2
		}
		rests := "all sheets that it runs through, cut where a sheet is smaller"
		add(LengthOverAll, "Length on all sheets", math.Round(all.lengthMm), "mm", rests)
		add(AreaOverAll, "Area on all sheets", round3(all.areaMm2), "mm²", rests)
	}
	return facts
}

func firstOf(sheets []int) int {
	if len(sheets) == 0 {
		return -1
	}
	return sheets[0]
}

// sheetParts are what of a drawn finding lies on each of its sheets.
func sheetParts(b *record.Damage, sizes condition.Sizes) []condition.Damage {
	var list []condition.Damage
	for _, d := range parts(*b, sizes, b.Shapes...) {
		list = append(list, d.BySheet(sizes)...)
	}
	return list
}

// AskedAbout is what must be asked of a drawn finding because its sheet was given
// another size after it was drawn; empty: nothing. Where the make-up is changed, what
// is recorded moves with its sheet.
func AskedAbout(c *record.Case, d *record.FoundDamage) string {
	if len(d.Body.Shapes) == 0 || d.Withdrawn != nil || c.MakeUp == nil {
		return ""
	}
	size, known := OpenedSize(c, firstOf(d.Body.Place.Sheets))
	if !known {
		return ""
	}
	for _, s := range d.Body.Shapes {
		if low, high := s.Bounds(); low.XMm < 0 || low.YMm < 0 || high.XMm > size.WidthMm || high.YMm > size.HeightMm {
			return fmt.Sprintf("%s measures %g × %g mm now, and this reaches beyond it: draw it anew.",
				en.Upper(record.SheetName(firstOf(d.Body.Place.Sheets))), size.WidthMm, size.HeightMm)
		}
	}
	return ""
}

// askedAbout lists the findings that must be asked about, by number.
func askedAbout(c *record.Case) []*record.FoundDamage {
	var list []*record.FoundDamage
	for i := range c.Damages {
		if AskedAbout(c, &c.Damages[i]) != "" {
			list = append(list, &c.Damages[i])
		}
	}
	return slices.Clip(list)
}
