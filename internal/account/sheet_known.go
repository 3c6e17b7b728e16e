package account

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/paper"
)

// Tried is a basis: typed for one trial, and not recorded.
const Tried Basis = "tried"

// Known is one thing that the calculation takes of a sheet. Its Basis is
// Measured, Adopted, Assumed (from the class of paper) or Tried.
type Known struct {
	Fact
	Source string // of what is assumed
	How    string // how a value is known that nobody measured: "from memory, not verified"
}

// KnownOf are all that the calculation takes of a sheet: what was measured, what
// the class of paper stands in for, and what is only tried.
func KnownOf(c *record.Case, sheet int, q TrialQuestion) []Known {
	s, ok := treatment.TakenSheetOf(c, sheet)
	if !ok {
		return nil
	}
	stock := c.StockOf(sheet)
	var list []Known
	add := func(basis Basis, code Code, name string, f words.Figure, rests string) {
		list = append(list, Known{Fact: Fact{Code: code, Name: name, Figure: &f, Basis: basis, RestsOn: rests}})
	}
	basis := Measured
	if q.WidthMm != nil || q.HeightMm != nil {
		basis = Tried
	}
	size := en.Number(orElse(q.WidthMm, stock.WidthMm)) + " × " + en.Quantity(orElse(q.HeightMm, stock.HeightMm), "mm")
	list = append(list, Known{Fact: Fact{Code: "size", Name: "Size, opened", Text: size, Basis: basis}})
	described := words.Figure{Value: stock.GrammageGM2, Unit: "g/m²"}
	switch {
	case q.GrammageGM2 != nil:
		add(Tried, "grammage", "Grammage", words.Figure{Value: *q.GrammageGM2, Unit: "g/m²"}, "taken within 5 %")
	case s.MassG != nil && basis != Tried:
		from := s.Basis("mass")
		add(basisOf(from), "mass", "Mass of the sheet", words.Ranged(*s.MassG, "g"), unlessDescribed(from))
	case stock.GrammageBasis == "measured":
		add(Measured, "grammage", "Grammage", described, "in room air; taken within 5 %")
	default:
		add(Assumed, "grammage", "Grammage", described,
			record.WordsOf(record.Bases, stock.GrammageBasis)+", so within 15 %")
	}
	given := func(name, quantity, class string, r *interval.Range, unit, note string) {
		if from := s.Basis(quantity); from.From != treatment.FromClass && r != nil {
			rests := words.Joined("; ", unlessDescribed(from), note)
			add(basisOf(from), Code(quantity), name, words.Ranged(*r, unit), rests)
			return
		}
		t, _ := paper.TypicalOf(s.Class, class)
		add(Assumed, Code(quantity), name, words.Ranged(t.Range, t.Unit), note)
		last := &list[len(list)-1]
		last.Source = fmt.Sprintf("%s, of %s: %s; %s", name, className(s.Class), t.Basis, t.Source)
		last.How = BasisWords(t.Basis)
	}
	moisture, _ := paper.TypicalOf(s.Class, "moisture")
	pickUp := s.PickUpGPerG
	if q.PickUpGG != nil {
		pickUp = some(interval.Within(*q.PickUpGG, 0.1**q.PickUpGG))
	} else if pickUp == nil {
		t, _ := paper.TypicalOf(s.Class, "drained")
		pickUp = &t.Range
	}
	dry := "for a g of oven-dry paper; against its weight in room air the balance will show " +
		en.Range(OnTheBalance(*pickUp, moisture.Range), "g/g")
	if q.PickUpGG != nil {
		add(Tried, "pick-up", "Pick-up", words.Figure{Value: *q.PickUpGG, Unit: "g/g"}, "taken within 10 %; "+dry)
	} else {
		given("Pick-up, drained", "pick-up", "drained", s.PickUpGPerG, "g/g", dry)
	}
	switch {
	case q.AcidMmolKg != nil:
		add(Tried, "acid", "Acid demand", words.Figure{Value: *q.AcidMmolKg, Unit: "mmol/kg"}, "taken within 20 %")
	case s.AcidMmolPerKg != nil:
		given("Acid demand", "acid", "", s.AcidMmolPerKg, "mmol/kg", "")
	default:
		given("Soluble acid", "soluble-acid", "soluble_acid", s.SolubleAcidMmolPerKg, "mmol/kg", "")
		given("Fixed acid", "fixed-acid", "fixed_acid", s.FixedAcidMmolPerKg, "mmol/kg", "")
	}
	given("Moisture in room air", "moisture", "moisture", nil, "g/g", "")
	film := paper.FilmTaken(paper.Motion(q.Motion))
	add(Assumed, "film", film.Name, words.Ranged(film.Range, film.Unit), "how the bath moves decides it")
	list[len(list)-1].Source, list[len(list)-1].How = film.Name+": "+film.Basis+"; "+film.Source, BasisWords(film.Basis)
	if ph := surfacePH(c, sheet); ph != "" {
		list = append(list, Known{Fact: Fact{
			Code: "surface-ph", Name: "Surface pH", Text: ph, Basis: Measured, RestsOn: "not used in the calculation",
		}})
	}
	return list
}

// OnTheBalance is a pick-up as two weighings give it, the sheet in room air and
// the sheet wet: the water that it held in the room is then not counted, and
// the divisor is heavier by it. Both are in g per g, the pick-up and the
// moisture per g of oven-dry paper: (p - m)/(1 + m).
func OnTheBalance(pickUp, moisture interval.Range) interval.Range {
	at := func(p, m float64) float64 { return (p - m) / (1 + m) }
	best := at(pickUp.Best, moisture.Best)
	side := func(p, m float64) float64 {
		return math.Hypot(at(p, moisture.Best)-best, at(pickUp.Best, m)-best)
	}
	return interval.Range{
		Low:  max(0, best-side(pickUp.Low, moisture.High)),
		Best: best,
		High: best + side(pickUp.High, moisture.Low),
	}
}

// basisOf tells a value adopted from another sheet's readings from one that was
// measured or described for this paper.
func basisOf(from treatment.Basis) Basis {
	if from.From == treatment.FromAdoptions {
		return Adopted
	}
	return Measured
}

// unlessDescribed is a basis where it says more than that it was measured.
func unlessDescribed(from treatment.Basis) string {
	if from.From == treatment.FromPaper {
		return ""
	}
	return from.Words
}

// className is a class of paper in words.
func className(class paper.Class) string {
	for _, x := range paper.Classes() {
		if x.Class == string(class) {
			return x.Name
		}
	}
	return string(class)
}

// phReadings are the pH readings of a sheet's paper before any bath, of the sheet
// itself and of others.
func phReadings(c *record.Case, sheet int) (own, others []record.Reading) {
	stock := c.StockOf(sheet)
	for _, r := range c.Readings {
		b := r.Body
		if b.Quantity != "surface-ph" && b.Quantity != "extract-ph" || b.Stage == "after" || b.Run != "" {
			continue
		}
		switch {
		case slices.Contains(b.Place.Sheets, sheet):
			own = append(own, b)
		case stock != nil && slices.ContainsFunc(b.Place.Sheets, func(n int) bool { return c.StockOf(n) == stock }):
			others = append(others, b)
		}
	}
	return own, others
}

func surfacePH(c *record.Case, sheet int) string {
	own, others := phReadings(c, sheet)
	var list []string
	for _, b := range own {
		list = append(list, Value(&b))
	}
	if len(list) == 0 {
		for _, b := range others {
			list = append(list, Value(&b)+" on "+record.SheetNames(b.Place.Sheets))
		}
	}
	return strings.Join(list, ", ")
}

// phBefore is the mean of what was read on the sheet's paper before treatment, and
// where it comes from.
func phBefore(c *record.Case, sheet int) (float64, string) {
	own, others := phReadings(c, sheet)
	var sum float64
	n := len(own) + len(others)
	for _, b := range append(own, others...) {
		sum += b.Value
	}
	if n == 0 {
		return 5, "The pH before is not measured: 5 stands in, with half a unit either way."
	}
	return math.Round(10*sum/float64(n)) / 10,
		"The pH before is the mean of " + plural(n, "reading") + " on this paper, with half a unit either way."
}
