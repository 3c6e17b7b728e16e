package web

import (
	"fmt"
	"net/http"

	"benchleaf/chem"
	"benchleaf/internal/record"
)

// waterFormPage is a water with its analysis, balanced.
type waterFormPage struct {
	studioFormPage
	W       *record.WaterSource
	Facts   []Fact
	Remarks []string
}

func (p waterFormPage) base() Page { return p.Page }

var waterView = declare[waterFormPage]("water")

var hardnessScales = []record.Choice{
	{Value: string(chem.AsCaCO3), Words: "mg/L CaCO₃ (ppm)"},
	{Value: string(chem.German), Words: "°dH"},
	{Value: string(chem.French), Words: "°fH"},
	{Value: string(chem.English), Words: "°eH"},
	{Value: string(chem.Millimol), Words: "mmol/L"},
}

var alkalinityScales = []record.Choice{
	{Value: string(chem.AsHCO3), Words: "mg/L HCO₃"},
	{Value: string(chem.AsCaCO3), Words: "mg/L CaCO₃"},
	{Value: string(chem.German), Words: "°dH (carbonate hardness)"},
	{Value: string(chem.French), Words: "°fH"},
	{Value: string(chem.Millimol), Words: "mmol/L of acid"},
}

// Hardnesses and Alkalinities are the scales that an analysis may come in.
func (p waterFormPage) Hardnesses() []record.Choice   { return hardnessScales }
func (p waterFormPage) Alkalinities() []record.Choice { return alkalinityScales }

func (s *Server) waterPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	fill := fills{
		"source":           "tap",
		"hardness_scale":   string(chem.AsCaCO3),
		"alkalinity_scale": string(chem.AsHCO3),
		"measured":         s.now().In(s.zone).Format(dateValue),
	}
	x := st.Water(r.URL.Query().Get("water"))
	if x != nil {
		fill.text("water", x.ID).
			text("water_name", x.Name).
			text("source", string(x.Source)).
			number("calcium_mg_l", x.CalciumMgL).
			number("hardness_mg_l", x.HardnessMgL).
			number("alkalinity_mg_l", x.AlkalinityMgL).
			number("ph", x.PH).
			number("conductivity_us_cm", x.ConductUS).
			text("note", x.Note)
		if !x.Measured.IsZero() {
			fill["measured"] = x.Measured.In(s.zone).Format(dateValue)
		}
	}
	p := waterFormPage{
		studioFormPage: studioFormPage{
			Page: s.studioSub(r, "A water"),
			Form: s.form(r, "water", st.LastSeq, fill),
			St:   st,
			Is:   x != nil,
		},
		W: x,
	}
	if x != nil {
		p.Facts, p.Remarks = balanced(x)
	}
	return waterView.show(s, w, r, p)
}

func (s *Server) waterSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "water")
	if err != nil {
		return err
	}
	x := record.WaterSource{
		ID:         f.Line("water"),
		Name:       f.Line("water_name"),
		Source:     record.WaterKind(f.Line("source")),
		CalciumMgL: f.MaybeNumber("calcium_mg_l", "the calcium"),
		PH:         f.MaybeNumber("ph", "the pH"),
		ConductUS:  f.MaybeNumber("conductivity_us_cm", "the conductivity"),
		Measured:   f.Date("measured", "the date of measurement"),
		Note:       f.Text("note"),
	}
	if x.ID == "" {
		x.ID = f.ID(0)
	}
	x.HardnessMgL = scaled(
		f,
		"hardness_mg_l",
		"the hardness",
		f.Line("hardness_scale"),
		chem.HardnessMolPerLitre,
		chem.AsCaCO3,
	)
	x.AlkalinityMgL = scaled(
		f,
		"alkalinity_mg_l",
		"the alkalinity",
		f.Line("alkalinity_scale"),
		chem.AlkalinityMolPerLitre,
		chem.AsHCO3,
	)
	if x.CalciumMgL != nil && len(f.Refused) == 0 {
		plain := waterOf(&record.WaterSource{Name: x.Name, Source: x.Source, HardnessMgL: x.HardnessMgL})
		if _, err := plain.WithCalcium(*x.CalciumMgL); err != nil {
			f.Refuse("calcium_mg_l", "%s.", upperFirst(err.Error()))
		}
	}
	return s.save(
		w,
		r,
		f,
		Saving{Case: record.StudioID, Items: items(x), To: "/studio#water", Said: "Saved: " + x.Name + "."},
		s.waterPage,
	)
}

// scaled reads a hardness or alkalinity in the scale of the form, and gives it
// in the record's.
func scaled(
	f *Form,
	field, what, scale string,
	perLitre func(float64, chem.Scale) (float64, error),
	kept chem.Scale,
) *float64 {
	v := f.MaybeNumber(field, what)
	if v == nil || scale == "" || chem.Scale(scale) == kept {
		return v
	}
	have, err := perLitre(*v, chem.Scale(scale))
	if err != nil {
		f.Refuse(field, "%s.", upperFirst(err.Error()))
		return nil
	}
	one, err := perLitre(1, kept)
	if err != nil {
		f.Refuse(field, "%s.", upperFirst(err.Error()))
		return nil
	}
	out := round(have / one)
	return &out
}

// balanced is what package chem makes of a water's analysis, and what it cannot
// reconcile.
func balanced(x *record.WaterSource) (facts []Fact, remarks []string) {
	a := chem.Analysis{
		TemperatureC:    20,
		Unit:            chem.MilligramPerLitre,
		Ions:            map[string]float64{},
		HardnessScale:   chem.AsCaCO3,
		AlkalinityScale: chem.AsHCO3,
		ConductivityAtC: 25,
	}
	given := func(v *float64) chem.Given {
		if v == nil {
			return chem.Given{}
		}
		return chem.Figure(*v)
	}
	a.Hardness, a.Alkalinity, a.PH, a.ConductivityMicroS = given(
		x.HardnessMgL,
	), given(
		x.AlkalinityMgL,
	), given(
		x.PH,
	), given(
		x.ConductUS,
	)
	if x.CalciumMgL != nil {
		a.Ions["Ca"] = *x.CalciumMgL
	}
	if x.HardnessMgL == nil && x.AlkalinityMgL == nil && x.CalciumMgL == nil {
		return nil, nil
	}
	b, err := a.Balance()
	if err != nil {
		return nil, []string{upperFirst(err.Error()) + "."}
	}
	facts = append(
		facts,
		Fact{
			Name:  "pH",
			Value: fmt.Sprintf("%.1f", b.PH),
			Basis: map[bool]string{true: "as reported", false: "computed"}[x.PH != nil],
		},
		Fact{Name: "Conductivity, computed", Value: fig2(b.ConductivityMicroS), Unit: "µS/cm at 25 °C"},
	)
	if w := waterOf(x); w.MagnesiumMgL != nil {
		facts = append(
			facts,
			Fact{
				Name:  "Magnesium",
				Value: fig2(*w.MagnesiumMgL),
				Unit:  "mg/L",
				Basis: "what the hardness holds beside the calcium",
			},
		)
	}
	if lost, says, known := waterOf(x).LimeLost(); known && lost > 0 {
		facts = append(
			facts,
			Fact{
				Name:  "Lime that 1 L of it can take out",
				Value: fmt.Sprintf("%.2f", float64(lost)),
				Unit:  "g",
				Basis: "at most, by " + says,
			},
		)
	}
	return facts, b.Remarks
}
