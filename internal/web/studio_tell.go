package web

import (
	"benchleaf/internal/record"
	"benchleaf/solution"
)

// tellStudio tells the entries of the studio's own journal.
func tellStudio(b record.Body) string {
	switch b := b.(type) {
	case record.StudioDetails:
		return "studio: " + b.Name + ", " + money(b.RateMinor, b.Currency) + " an hour"
	case record.Person:
		return "person: " + b.Initials + ", " + b.Name
	case record.WaterSource:
		return "water: " + b.Name + ", " + waterText(&b)
	case record.Bottle:
		return "bottle: " + b.Name + after(", lot ", b.Lot)
	case record.BottleDrawn:
		amount := fig(b.G) + " g"
		if b.Ml > 0 {
			amount = solution.Millilitres(b.Ml).Text()
		}
		return amount + " drawn from a bottle" + after(" for ", b.For)
	case record.BottleChecked:
		s := "bottle checked, " + b.How
		if b.PH != nil {
			s += ", pH " + fig(*b.PH)
		}
		if b.Strength != nil {
			s += ", strength " + fig(b.Strength.Best)
		}
		return s
	case record.BottleEmptied:
		return "bottle emptied: " + b.Reason + "; the rest to " + b.To
	case record.Glassware:
		return "glassware: " + b.Name + ", " + glassText(b)
	case record.Instrument:
		return "instrument: " + b.Name
	case record.InstrumentChecked:
		return "instrument checked in " + plural(len(b.Buffers), "buffer", "buffers") + after("; ", b.Text)
	case record.Method:
		return "method: " + b.Name + ", " + methodText(b)
	case record.ChartFile:
		return "colour chart: " + b.Name + ", " + chartText(&b)
	}
	return kindWords(b.Kind())
}
