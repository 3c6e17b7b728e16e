package account

import (
	"errors"

	"benchleaf/chem"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/solution"
)

// PureWater is the choice where the studio has named no pure water.
const PureWater = "pure"

// Above these, mg/L, water from a can of de-ionised water is no longer pure:
// what is measured below them the can has given off (common practice, no
// source).
const pureAlkalinityMgL, pureHardnessMgL, pureCalciumMgL = 5, 5, 2

// WaterOf is a water of the studio as a recipe needs it.
func WaterOf(x *record.WaterSource) solution.Water {
	w := solution.Water{Name: x.Name, AlkalinityMgL: x.AlkalinityMgL, HardnessMgL: x.HardnessMgL, PH: x.PH}
	if x.Source == "deionised" || x.Source == "distilled" {
		w.Pure = orElse(x.AlkalinityMgL, 0) < pureAlkalinityMgL && orElse(x.HardnessMgL, 0) < pureHardnessMgL &&
			orElse(x.CalciumMgL, 0) < pureCalciumMgL
	}
	if x.CalciumMgL != nil && !w.Pure {
		if with, err := w.WithCalcium(*x.CalciumMgL); err == nil {
			w = with
		}
	}
	return w
}

// MixWaters are the waters that a way can be mixed with; the first pure one is
// what is taken as a rule.
func MixWaters(way string, st *record.Studio) (list []record.Choice, usual string) {
	for i := range st.Waters {
		x := &st.Waters[i]
		pure := WaterOf(x).Pure
		if pure && usual == "" {
			usual = x.ID
		}
		if way != "conditioned" || pure {
			list = append(list, record.Choice{Value: x.ID, Words: en.Upper(x.Name)})
		}
	}
	if usual == "" {
		return append(list, record.Choice{Value: PureWater, Words: "De-ionised water"}), PureWater
	}
	return list, usual
}

// InScales puts the hardness and the alkalinity of a report into a water, from
// the scales that the report has them in to those of the record, and checks that
// its calcium goes with them. What cannot be is said at its field.
func InScales(x *record.WaterSource, hardness *float64, in string, alkalinity *float64, as string) []*record.Invalid {
	var r refusals
	scaled := func(field string, v *float64, scale string, kept chem.Scale,
		perLitre func(float64, chem.Scale) (float64, error)) *float64 {
		if v == nil || scale == "" || chem.Scale(scale) == kept {
			return v
		}
		have, err := perLitre(*v, chem.Scale(scale))
		one, err2 := perLitre(1, kept)
		if err = errors.Join(err, err2); err != nil {
			r.at(field, err)
			return nil
		}
		return some(figures4(have / one))
	}
	x.HardnessMgL = scaled("hardness_mg_l", hardness, in, chem.AsCaCO3, chem.HardnessMolPerLitre)
	x.AlkalinityMgL = scaled("alkalinity_mg_l", alkalinity, as, chem.AsHCO3, chem.AlkalinityMolPerLitre)
	if x.CalciumMgL != nil && !r.any() {
		plain := WaterOf(&record.WaterSource{Name: x.Name, Source: x.Source, HardnessMgL: x.HardnessMgL})
		if _, err := plain.WithCalcium(*x.CalciumMgL); err != nil {
			r.at("calcium_mg_l", err)
		}
	}
	return r
}

// WaterFacts are what chemistry makes of a water's analysis, and what it cannot
// reconcile.
func WaterFacts(x *record.WaterSource) (facts []Fact, remarks []string) {
	if x.HardnessMgL == nil && x.AlkalinityMgL == nil && x.CalciumMgL == nil {
		return nil, nil
	}
	given := func(v *float64) chem.Given {
		if v == nil {
			return chem.Given{}
		}
		return chem.Figure(*v)
	}
	a := chem.Analysis{
		TemperatureC: 20, Unit: chem.MilligramPerLitre, Ions: map[string]float64{}, HardnessScale: chem.AsCaCO3,
		AlkalinityScale: chem.AsHCO3, ConductivityAtC: 25, Hardness: given(x.HardnessMgL),
		Alkalinity: given(x.AlkalinityMgL), PH: given(x.PH), ConductivityMicroS: given(x.ConductUS),
	}
	if x.CalciumMgL != nil {
		a.Ions["Ca"] = *x.CalciumMgL
	}
	b, err := a.Balance()
	if err != nil {
		return nil, []string{refusal(err)}
	}
	ph := Fact{Code: "ph", Name: "pH", Basis: Computed, RestsOn: "computed"}
	ph.Figure = &words.Figure{Value: b.PH, Least: 0.1}
	if x.PH != nil {
		ph.Basis, ph.RestsOn = Stated, "as reported"
	}
	facts = []Fact{ph,
		conductivityFact(b.ConductivityMicroS)}
	w := WaterOf(x)
	if w.MagnesiumMgL != nil {
		facts = append(facts, estimate("magnesium", "Magnesium", *w.MagnesiumMgL, "mg/L",
			"what the hardness holds beside the calcium"))
	}
	if lost, says, known := w.LimeLost(); known && lost > 0 {
		facts = append(facts, Fact{
			Code: "lime-lost", Name: "Lime that 1 L of it can take out", Basis: Computed,
			RestsOn: "at most, by " + says,
			Figure:  &words.Figure{Value: float64(lost), Unit: "g", Least: 0.01},
		})
	}
	return facts, b.Remarks
}

// conductivityFact is a water's computed conductivity at 25 °C, with its range.
func conductivityFact(c chem.Estimate) Fact {
	f := ranged("conductivity", "Conductivity, computed", interval.Range{Low: c.Low, Best: c.Value, High: c.High},
		"µS/cm at 25 °C")
	f.RestsOn = "ion by ion"
	return f
}

// HardnessScales and AlkalinityScales are those that a report may come in, that of
// the record first.
var HardnessScales = []record.Choice{
	{Value: string(chem.AsCaCO3), Words: "mg/L CaCO₃ (ppm)"},
	{Value: string(chem.German), Words: "°dH"},
	{Value: string(chem.French), Words: "°fH"},
	{Value: string(chem.English), Words: "°eH"},
	{Value: string(chem.Millimol), Words: "mmol/L"},
}

var AlkalinityScales = []record.Choice{
	{Value: string(chem.AsHCO3), Words: "mg/L HCO₃"},
	{Value: string(chem.AsCaCO3), Words: "mg/L CaCO₃"},
	{Value: string(chem.German), Words: "°dH (carbonate hardness)"},
	{Value: string(chem.French), Words: "°fH"},
	{Value: string(chem.Millimol), Words: "mmol/L of acid"},
}
