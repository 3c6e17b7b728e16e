package account

import (
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

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
