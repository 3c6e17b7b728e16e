package paper

import (
	"embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"benchleaf/interval"
)

//go:embed data/*.csv
var tables embed.FS

// Class is a kind of paper, for what was not measured on the sheet.
type Class string

// The classes, as in data/classes.csv.
const (
	Newsprint      Class = "newsprint"
	CoatedCover    Class = "coated-cover"
	TextMechanical Class = "text-mechanical"
	TextChemical   Class = "text-chemical"
	Rag            Class = "rag"
	Unknown        Class = "unknown"
)

// Classes lists the classes with their names.
func Classes() []struct{ Class, Name string } {
	return []struct{ Class, Name string }{
		{string(Newsprint), "groundwood newsprint"}, {string(CoatedCover), "coated cover"},
		{string(TextMechanical), "uncoated magazine paper with mechanical pulp"},
		{
			string(TextChemical),
			"uncoated paper of chemical pulp",
		}, {string(Rag), "rag paper"}, {string(Unknown), "paper of unknown make"},
	}
}

// hasLignin says whether the class is made of pulp with lignin in it.
func (c Class) hasLignin() bool { return c == Newsprint || c == TextMechanical }

// Typical is a range that a class stands for, with where it comes from.
type Typical struct {
	interval.Range
	Unit   string
	Basis  string
	Source string
}

// Quantities that a class gives.
const (
	qGrammage  = "grammage"
	qThickness = "thickness"
	qDrained   = "drained"
	qBlotted   = "blotted"
	qSoluble   = "soluble_acid"
	qFixed     = "fixed_acid"
	qMoisture  = "moisture"
)

// TypicalOf is what a class is taken to have of a quantity: grammage, thickness,
// drained, blotted (the pick-up), soluble_acid, fixed_acid or moisture.
func TypicalOf(c Class, quantity string) (Typical, bool) {
	t, ok := typicals()[c][quantity]
	return t, ok
}

var typicals = sync.OnceValue(func() map[Class]map[string]Typical {
	measured := map[string]string{}
	for _, r := range readTable("data/paper-and-transport-properties.csv") {
		measured[r["material"]+"|"+r["quantity"]] = r["value"]
	}
	all := map[Class]map[string]Typical{}
	for _, r := range readTable("data/classes.csv") {
		t := Typical{Unit: r["unit"], Basis: r["basis"], Source: r["source"]}
		if r["row"] == "" {
			t.Range = interval.Range{Low: number(r["low"]), Best: number(r["best"]), High: number(r["high"])}
		} else {
			low, high, ok := strings.Cut(measured[r["row"]], "-")
			if !ok {
				panic(fmt.Sprintf("classes.csv: the row %q has no span", r["row"]))
			}
			t.Low, t.High = number(low), number(high)
			t.Best = (t.Low + t.High) / 2
		}
		c := Class(r["class"])
		if all[c] == nil {
			all[c] = map[string]Typical{}
		}
		all[c][r["quantity"]] = t
	}
	return all
})

// openPorosity is the row of paper-and-transport-properties.csv for the share of
// the wet volume in which a dissolved substance moves.
var openPorosity = sync.OnceValue(func() interval.Range {
	for _, r := range readTable("data/paper-and-transport-properties.csv") {
		if r["quantity"] == "open porosity for solute" {
			low, high, _ := strings.Cut(r["value"], "-")
			return interval.Range{Low: number(low), Best: (number(low) + number(high)) / 2, High: number(high)}
		}
	}
	panic("paper: the table has no row for the open porosity")
})

func number(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic(err) // a table of ours is broken
	}
	return v
}

// readTable reads an embedded table: comment lines, a header, rows.
func readTable(name string) []map[string]string {
	f, err := tables.Open(name)
	if err != nil {
		panic(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		panic(fmt.Errorf("%s: %w", name, err))
	}
	var rows []map[string]string
	for _, line := range lines[1:] {
		one := map[string]string{}
		for i, column := range lines[0] {
			one[column] = line[i]
		}
		rows = append(rows, one)
	}
	return rows
}

// Held is how much liquid a sheet still holds as it begins to dry.
type Held string

const (
	Drained Held = "drained" // lifted out and drained
	Blotted Held = "blotted" // pressed once between absorbents; what is pressed out takes its alkali along
)

// Sheet is one piece of paper and what is known of it. A range that was not
// measured is nil and is taken from the class.
type Sheet struct {
	Name  string `json:"name,omitempty"`
	Class Class  `json:"class"`
	// WidthMm and HeightMm of the opened sheet.
	WidthMm  Millimetres `json:"width_mm"`
	HeightMm Millimetres `json:"height_mm"`
	// GrammageGsm is g/m2 in room air.
	GrammageGsm *interval.Range `json:"grammage_g_m2,omitempty"`
	// MassG is the sheet as weighed in room air, where it was: it takes the place
	// of size and grammage.
	MassG *interval.Range `json:"mass_g,omitempty"`
	// MoistureGPerG is the water in it in room air, per g of dry paper.
	MoistureGPerG *interval.Range `json:"moisture_g_per_g,omitempty"`
	// PickUpGPerG is the liquid held when drying begins, per g of dry paper.
	PickUpGPerG *interval.Range `json:"pick_up_g_per_g,omitempty"`
	// SolubleAcidMmolPerKg and FixedAcidMmolPerKg are the acid demand per kg of
	// dry paper: what leaves with water, and what stays with the fibre.
	SolubleAcidMmolPerKg *interval.Range `json:"soluble_acid_mmol_per_kg,omitempty"`
	FixedAcidMmolPerKg   *interval.Range `json:"fixed_acid_mmol_per_kg,omitempty"`
	// AcidMmolPerKg is the whole acid demand, where only that was measured (by
	// titration): it takes the place of the two, and counts as fixed.
	AcidMmolPerKg *interval.Range `json:"acid_mmol_per_kg,omitempty"`
	// ColdExtractPH, where it was measured. It is no measure of how much acid
	// there is, and no sum here uses it.
	ColdExtractPH *float64 `json:"cold_extract_ph,omitempty"`
	// ReserveMolPerKg is carbonate already in the sheet, mol of acid per kg.
	ReserveMolPerKg *interval.Range `json:"reserve_mol_per_kg,omitempty"`
}

// Check refuses a sheet that cannot be. Errors are one sentence, with the field.
func (s Sheet) Check() error {
	if !slices.ContainsFunc(
		Classes(),
		func(c struct{ Class, Name string }) bool { return c.Class == string(s.Class) },
	) {
		var names []string
		for _, c := range Classes() {
			names = append(names, c.Class)
		}
		return fmt.Errorf("the class %q of the sheet is not known: use one of %s", s.Class, strings.Join(names, ", "))
	}
	if s.MassG == nil && !(s.WidthMm >= 5 && s.WidthMm <= 2500 && s.HeightMm >= 5 && s.HeightMm <= 2500) {
		return fmt.Errorf(
			"the sheet must measure between 5 mm and 2.5 m each way, not %g x %g mm",
			float64(s.WidthMm),
			float64(s.HeightMm),
		)
	}
	for _, x := range []struct {
		name     string
		r        *interval.Range
		min, max float64
		unit     string
	}{
		{"the grammage", s.GrammageGsm, 5, 1000, "g/m²"},
		{"the sheet's mass", s.MassG, 0.01, 5000, "g"},
		{"the moisture", s.MoistureGPerG, 0, 0.3, "g/g"},
		{"the pick-up", s.PickUpGPerG, 0.05, 10, "g/g"},
		{"the soluble acid", s.SolubleAcidMmolPerKg, 0, 2000, "mmol/kg"},
		{"the fixed acid", s.FixedAcidMmolPerKg, 0, 2000, "mmol/kg"},
		{"the acid", s.AcidMmolPerKg, 0, 2000, "mmol/kg"},
		{"the reserve", s.ReserveMolPerKg, 0, 10, "mol/kg"},
	} {
		if x.r != nil {
			if err := x.r.CheckWithin(x.name, x.min, x.max, x.unit); err != nil {
				return err
			}
		}
	}
	if s.ColdExtractPH != nil && !(*s.ColdExtractPH >= 1 && *s.ColdExtractPH <= 13) {
		return fmt.Errorf("the cold extraction pH must lie between 1 and 13, not at %g", *s.ColdExtractPH)
	}
	if s.AcidMmolPerKg != nil && (s.SolubleAcidMmolPerKg != nil || s.FixedAcidMmolPerKg != nil) {
		return fmt.Errorf("give the acid either as a whole or as soluble and fixed, not both")
	}
	return nil
}

// known is a sheet with every range filled in, and what was taken from where.
type known struct {
	class    Class
	massG    interval.Range // in room air
	moisture interval.Range // g/g
	pickUp   interval.Range // g/g, when drying begins
	carried  interval.Range // g/g, drained, from bath to bath
	soluble  interval.Range // mmol/kg
	fixed    interval.Range // mmol/kg
	reserve  interval.Range // mol/kg, from before
	areaM2   float64
	assumed  []string
}

// complete fills in what was not measured from the class.
func (s Sheet) complete(held Held) known {
	k := known{class: s.Class}
	take := func(measured *interval.Range, name, quantity string) interval.Range {
		if measured != nil {
			return *measured
		}
		t := typicals()[s.Class][quantity]
		k.assumed = append(
			k.assumed,
			fmt.Sprintf(
				"%s: %g to %g %s, best %g, for %s (%s, %s)",
				name,
				t.Low,
				t.High,
				t.Unit,
				t.Best,
				s.Class,
				t.Basis,
				t.Source,
			),
		)
		return t.Range
	}
	k.moisture = take(s.MoistureGPerG, "moisture", qMoisture)
	if held == Blotted {
		k.pickUp = take(s.PickUpGPerG, "pick-up, blotted", qBlotted)
		k.carried = take(nil, "pick-up from bath to bath, drained", qDrained)
	} else {
		k.pickUp = take(s.PickUpGPerG, "pick-up, drained", qDrained)
		k.carried = k.pickUp
	}
	if s.AcidMmolPerKg != nil {
		k.fixed = *s.AcidMmolPerKg
	} else {
		k.soluble = take(s.SolubleAcidMmolPerKg, "soluble acid", qSoluble)
		k.fixed = take(s.FixedAcidMmolPerKg, "fixed acid", qFixed)
	}
	if s.MassG != nil {
		k.massG = *s.MassG
	} else {
		k.massG = take(s.GrammageGsm, "grammage", qGrammage).Scale(float64(s.WidthMm) * float64(s.HeightMm) * 1e-6)
	}
	k.areaM2 = float64(s.WidthMm) * float64(s.HeightMm) * 1e-6
	if k.areaM2 <= 0 { // weighed only
		k.areaM2 = k.massG.Best / typicals()[s.Class][qGrammage].Best
	}
	if s.ReserveMolPerKg != nil {
		k.reserve = *s.ReserveMolPerKg
	}
	return k
}
