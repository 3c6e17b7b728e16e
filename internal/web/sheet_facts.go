package web

import (
	"fmt"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/interval"
	"benchleaf/paper"
)

// sheetFact is one thing that the sums know of the sheet, and how.
type sheetFact struct {
	Fact
	// How is "measured", "adopted", "default" or "tried".
	How    string
	Source string // of a default
}

// sheetFacts are all that the sums take of the sheet: what was measured, what the
// class of paper stands in for, and what is only tried on this page.
func sheetFacts(c *record.Case, sheet int, f *Form) []sheetFact {
	s, ok := treatment.TakenSheetOf(c, sheet)
	if !ok {
		return nil
	}
	stock := c.StockOf(sheet)
	tried := func(field string) bool { return f.Line(field) != "" }
	var list []sheetFact
	add := func(how, name, value, unit, rng, basis string) {
		list = append(
			list,
			sheetFact{Fact: Fact{Name: name, Value: value, Unit: unit, Range: rng, Basis: basis}, How: how},
		)
	}
	size := fig(stock.WidthMm) + " × " + fig(stock.HeightMm)
	how := "measured"
	if tried("width_mm") || tried("height_mm") {
		size, how = orElse(
			f.Line("width_mm"),
			fig(stock.WidthMm),
		)+" × "+orElse(
			f.Line("height_mm"),
			fig(stock.HeightMm),
		), "tried"
	}
	add(how, "Size, opened", size, "mm", "", "")
	switch g := s.GrammageGsm; {
	case tried("grammage_g_m2"):
		add("tried", "Grammage", f.Line("grammage_g_m2"), "g/m²", "", "taken within 5 %")
	case s.MassG != nil && !tried("width_mm") && !tried("height_mm"):
		b := s.Basis("mass")
		add(howBasis(b), "Mass of the sheet", s.MassG.BestText(), "g", spread(*s.MassG), adoptedWords(b))
	case stock.GrammageBasis == "measured":
		add("measured", "Grammage", g.BestText(), "g/m²", g.Text(), "in room air")
	default:
		add(
			"default",
			"Grammage",
			g.BestText(),
			"g/m²",
			g.Text(),
			record.WordsOf(record.Bases, stock.GrammageBasis)+", so within 15 %",
		)
	}
	given := func(name, quantity, class string, r *interval.Range, unit string) {
		b := s.Basis(quantity)
		if b.From == treatment.FromClass || r == nil {
			t, _ := paper.TypicalOf(s.Class, class)
			add("default", name, t.BestText(), t.Unit, t.Text(), "")
			list[len(list)-1].Source = fmt.Sprintf("%s, of %s: %s; %s", name, className(s.Class), t.Basis, t.Source)
			return
		}
		add(howBasis(b), name, r.BestText(), unit, spread(*r), adoptedWords(b))
	}
	if tried("pick_up_g_g") {
		add("tried", "Pick-up", f.Line("pick_up_g_g"), "g/g", "", "taken within 10 %")
	} else {
		given("Pick-up, drained", "pick-up", "drained", s.PickUpGPerG, "g/g")
	}
	switch {
	case tried("acid_mmol_kg"):
		add("tried", "Acid demand", f.Line("acid_mmol_kg"), "mmol/kg", "", "taken within 20 %")
	case s.AcidMmolPerKg != nil:
		given("Acid demand", "acid", "", s.AcidMmolPerKg, "mmol/kg")
	default:
		given("Soluble acid", "soluble-acid", "soluble_acid", s.SolubleAcidMmolPerKg, "mmol/kg")
		given("Fixed acid", "fixed-acid", "fixed_acid", s.FixedAcidMmolPerKg, "mmol/kg")
	}
	given("Moisture in room air", "moisture", "moisture", nil, "g/g")
	if ph := surfacePH(c, sheet); ph != "" {
		add("measured", "Surface pH", ph, "", "", "no sum uses it")
	}
	return list
}

// howBasis tells a value adopted from another sheet's readings from one that was
// measured or described for this paper.
func howBasis(b treatment.Basis) string {
	if b.From == treatment.FromAdoptions {
		return "adopted"
	}
	return "measured"
}

// adoptedWords are a basis where it says more than that it was measured.
func adoptedWords(b treatment.Basis) string {
	if b.From == treatment.FromPaper {
		return ""
	}
	return b.Words
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

// surfacePH are the readings of a sheet, or of others of its paper, before any
// bath.
func surfacePH(c *record.Case, sheet int) string {
	stock := c.StockOf(sheet)
	var own, others []string
	for _, r := range c.Readings {
		b := r.Body
		if b.Quantity != "surface-ph" && b.Quantity != "extract-ph" || b.Stage == record.StageAfter || b.Run != "" {
			continue
		}
		for _, n := range b.Place.Sheets {
			switch {
			case n == sheet:
				own = append(own, fmt.Sprintf("%.1f", b.Value))
			case c.StockOf(n) == stock && stock != nil:
				others = append(others, fmt.Sprintf("%.1f on %s", b.Value, record.SheetName(n)))
			}
		}
	}
	if len(own) > 0 {
		return strings.Join(own, ", ")
	}
	return strings.Join(others, ", ")
}

// kindChip is a kind of bath to choose; its strengths go with it, so that the
// page can change to it without asking.
type kindChip struct {
	treatment.WaterKind
	On bool
}

func kindChips(f *Form) []kindChip {
	var list []kindChip
	for _, k := range treatment.WaterKinds {
		list = append(list, kindChip{k, f.Line("kind") == k.Slug})
	}
	return list
}

// slide is a number with a slider beside it.
type slide struct {
	*field
	Min, Max, Step string
	Hidden         bool // pure water has no strength
	Above          string
}

// slidesOf are the values that one drags.
func slidesOf(f *Form, c *record.Case) []slide {
	k := treatment.WaterKindOf(f.Line("kind"))
	if k == nil {
		k = &treatment.WaterKinds[0]
	}
	number := func(name, label, unit, mode string) *field {
		return &field{
			Shape:    "slide",
			ID:       f.FieldID(name),
			Name:     name,
			Label:    label,
			Unit:     unit,
			Mode:     mode,
			Value:    f.Value(name),
			Refusals: f.RefusalsAt(name),
		}
	}
	return []slide{
		{
			field:  number("strength", "Strength", k.Unit, "decimal"),
			Min:    plainNumber(k.From),
			Max:    plainNumber(k.To),
			Step:   plainNumber(k.Step),
			Hidden: k.Unit == "",
		},
		{field: number("minutes", "Time", "min", "decimal"), Min: "1", Max: "60", Step: "1"},
		{field: number("volume_ml", "Volume", "mL", "decimal"), Min: "100", Max: "4000", Step: "50"},
		{
			field: number("together", "Sheets at once", "", "numeric"),
			Min:   "1",
			Max:   strconv.Itoa(max(10, len(c.Sheets()))),
			Step:  "1",
		},
		{field: number("baths", "Baths in a row", "", "numeric"), Min: "1", Max: "6", Step: "1"},
	}
}

// rangeText is a range with its best value in front.
func rangeText(r interval.Range, unit string) string { return strings.TrimSpace(says(r) + " " + unit) }
