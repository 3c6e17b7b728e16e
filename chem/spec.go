package chem

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strings"
)

// Spec describes a water in JSON: what it is made of and what it may do. It is
// the input of Read and of the water command. Absent parts are absent.
type Spec struct {
	TemperatureC   *float64      `json:"temperature_c,omitempty"` // 20 when absent, or that of the mixture
	Solutes        []SoluteSpec  `json:"solutes,omitempty"`
	Analysis       *AnalysisSpec `json:"analysis,omitempty"`
	Mix            []PartSpec    `json:"mix,omitempty"`
	SaturateWith   []string      `json:"saturate_with,omitempty"`
	MayPrecipitate []string      `json:"may_precipitate,omitempty"`
	CO2Atm         *float64      `json:"co2_atm,omitempty"` // closed when absent
}

// SoluteSpec is an amount of a substance named by formula.
type SoluteSpec struct {
	Name   string  `json:"name"`
	Amount float64 `json:"amount"`
	Unit   string  `json:"unit"`
}

// PartSpec is a share of a mixture (see Part). What fell in the part's own
// water stays behind.
type PartSpec struct {
	Parts float64 `json:"parts"`
	Water Spec    `json:"water"`
}

// AnalysisSpec is an analysis: a unit, ions by name, pH, and optionally
// hardness, alkalinity and conductivity with their scales.
type AnalysisSpec struct {
	Unit             string
	Ions             map[string]float64
	PH               Given
	Hardness         Given
	HardnessUnit     string
	Alkalinity       Given
	AlkalinityUnit   string
	ConductivityUS   Given
	ConductivityTemp Given
}

// UnmarshalJSON reads an analysis.
func (a *AnalysisSpec) UnmarshalJSON(raw []byte) error {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(raw, &fields); err != nil {
		return err
	}
	*a = AnalysisSpec{Ions: map[string]float64{}}
	names := make([]string, 0, len(fields))
	for k := range fields {
		names = append(names, k)
	}
	sort.Strings(names)
	for _, k := range names {
		var err error
		figure := func(g *Given) {
			if err = json.Unmarshal(fields[k], &g.Value); err == nil {
				g.Known = true
			}
		}
		switch k {
		case "unit":
			err = json.Unmarshal(fields[k], &a.Unit)
		case "pH", "ph":
			figure(&a.PH)
		case "hardness":
			figure(&a.Hardness)
		case "hardness_unit":
			err = json.Unmarshal(fields[k], &a.HardnessUnit)
		case "alkalinity":
			figure(&a.Alkalinity)
		case "alkalinity_unit":
			err = json.Unmarshal(fields[k], &a.AlkalinityUnit)
		case "conductivity_us_per_cm":
			figure(&a.ConductivityUS)
		case "conductivity_temperature_c":
			figure(&a.ConductivityTemp)
		default:
			if _, ok := analysisIons[k]; !ok {
				return fmt.Errorf(
					"%q is no part of an analysis: unit, pH, hardness, hardness_unit, alkalinity, alkalinity_unit, "+
						"conductivity_us_per_cm, conductivity_temperature_c, %s would be right",
					clip(k),
					strings.Join(AnalysisIons, ", "),
				)
			}
			var v float64
			if err = json.Unmarshal(fields[k], &v); err == nil {
				a.Ions[k] = v
			}
		}
		var kind *json.UnmarshalTypeError
		if errors.As(err, &kind) {
			kind.Field = "analysis." + clip(k)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// MarshalJSON writes an analysis as UnmarshalJSON reads it.
func (a AnalysisSpec) MarshalJSON() ([]byte, error) {
	fields := map[string]any{}
	for n, v := range a.Ions {
		fields[n] = v
	}
	for n, v := range map[string]string{"unit": a.Unit, "hardness_unit": a.HardnessUnit,
		"alkalinity_unit": a.AlkalinityUnit} {
		if v != "" {
			fields[n] = v
		}
	}
	for n, g := range map[string]Given{"pH": a.PH, "hardness": a.Hardness, "alkalinity": a.Alkalinity,
		"conductivity_us_per_cm": a.ConductivityUS, "conductivity_temperature_c": a.ConductivityTemp} {
		if g.Known {
			fields[n] = g.Value
		}
	}
	return json.Marshal(fields)
}

// analysis turns the description into an Analysis at a temperature.
func (a *AnalysisSpec) analysis(temperatureC float64) (Analysis, error) {
	unit := MilligramPerLitre
	if a.Unit != "" {
		var err error
		if unit, err = ParseUnit(a.Unit); err != nil {
			return Analysis{}, fmt.Errorf("its unit: %w", err)
		}
	}
	scale := func(s string, preset Scale) Scale {
		if s == "" {
			return preset
		}
		return Scale(strings.TrimPrefix(s, "°"))
	}
	return Analysis{TemperatureC: temperatureC, Unit: unit, Ions: a.Ions, PH: a.PH,
		Hardness: a.Hardness, HardnessScale: scale(a.HardnessUnit, Millimol),
		Alkalinity: a.Alkalinity, AlkalinityScale: scale(a.AlkalinityUnit, Millimol),
		ConductivityMicroS: a.ConductivityUS, ConductivityAtC: a.ConductivityTemp.Value}, nil
}

// maxSpecBytes bounds a description before it is parsed.
const maxSpecBytes = 1 << 20

// ReadSpec reads a description in JSON, at most 1 MiB. The error is one
// sentence that says what is wrong and where.
func ReadSpec(r io.Reader) (Spec, error) {
	var s Spec
	raw, err := io.ReadAll(io.LimitReader(r, maxSpecBytes+1))
	if err != nil {
		return s, fmt.Errorf("the description of the water cannot be read: %w", err)
	}
	if len(raw) > maxSpecBytes {
		return s, errors.New("the description of the water is longer than 1 MiB")
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&s); err != nil {
		return s, fmt.Errorf("the description of the water is not right: %s", jsonReason(err, raw))
	}
	if _, err := dec.Token(); err != io.EOF {
		return s, errors.New("the description of the water is not right: something follows its end")
	}
	return s, nil
}

// jsonReason says where and why JSON failed, in a person's words.
func jsonReason(err error, raw []byte) string {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return fmt.Sprintf(
			"no valid JSON at line %d (%v)",
			1+bytes.Count(raw[:min(int(syntax.Offset), len(raw))], []byte("\n")),
			syntax,
		)
	case errors.As(err, &kind):
		want := kind.Type.String()
		switch kind.Type.Kind().String() {
		case "float64":
			want = "a number"
		case "string":
			want = "a text"
		case "slice":
			want = "a list"
		case "struct", "map":
			want = "an object"
		}
		return fmt.Sprintf("%s is a JSON %s where %s would be right", kind.Field, kind.Value, want)
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return "the JSON ends too early"
	}
	if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return "there is no part called " + name + ": temperature_c, solutes (name, amount, unit), analysis, mix " +
			"(parts, water), saturate_with, may_precipitate and co2_atm would be right"
	}
	return err.Error()
}

// presetTemperatureC is the temperature of a water that names none.
const presetTemperatureC = 20

// maxDepth bounds mixtures of mixtures.
const maxDepth = 8

// Answer is what is in a water, in JSON.
type Answer struct {
	PH            float64            `json:"ph"`
	PHLow         float64            `json:"ph_low"` // what the model may be off, see State.PHRange
	PHHigh        float64            `json:"ph_high"`
	IonicStrength float64            `json:"ionic_strength"`
	Alkalinity    float64            `json:"alkalinity_mol_per_kg"`
	Totals        map[string]float64 `json:"totals_mol_per_kg"`
	Species       map[string]float64 `json:"species_mol_per_kg"`
	Precipitated  map[string]float64 `json:"precipitated_mol_per_kg"`
	Dissolved     map[string]float64 `json:"dissolved_mol_per_kg"`
	Saturation    map[string]float64 `json:"saturation_index"`
	// Conductivity is at the water's temperature, Conductivity25 the same water's at 25 deg C; the ranges
	// are [low, high].
	Conductivity        float64    `json:"conductivity_us_cm"`
	ConductivityRange   [2]float64 `json:"conductivity_range_us_cm"`
	Conductivity25      float64    `json:"conductivity_25_us_cm"`
	Conductivity25Range [2]float64 `json:"conductivity_25_range_us_cm"`
	Residual            float64    `json:"residual"`
	Warnings            []string   `json:"warnings"`
}

// Make composes the water of a description and brings it to equilibrium. The
// second result are remarks on the way, such as what an analysis lacked.
func (s *Spec) Make() (State, []string, error) {
	var remarks []string
	o, err := s.make(&remarks, nil, 0, "")
	return o, remarks, err
}

// Answer is Make, in the form of the water command.
func (s *Spec) Answer() (Answer, error) {
	o, remarks, err := s.Make()
	if err != nil {
		return Answer{}, err
	}
	return o.Answer(remarks...), nil
}

// hydrideRemark says what age the figures of a borohydride bath are for.
const hydrideRemark = "The figures are for a minute after the borohydride was dissolved, when its first borate has " +
	"set the pH."

func (s *Spec) make(remarks *[]string, inherited *float64, depth int, where string) (State, error) {
	fail := func(err error) (State, error) {
		if where != "" {
			err = fmt.Errorf("%s: %w", strings.TrimSuffix(where, "."), err)
		}
		return State{}, err
	}
	if depth > maxDepth {
		return State{}, fmt.Errorf("mixtures stand more than %d deep in each other", maxDepth)
	}
	var cond Conditions
	var err error
	if cond.MayFall, err = ParseSolids(s.MayPrecipitate); err != nil {
		return fail(fmt.Errorf("may_precipitate: %w", err))
	}
	if cond.StandsOver, err = ParseSolids(s.SaturateWith); err != nil {
		return fail(fmt.Errorf("saturate_with: %w", err))
	}
	if s.CO2Atm != nil {
		cond.Open, cond.CO2Atm = true, *s.CO2Atm
	}
	w, madeUp, err := s.compose(remarks, inherited, depth, where)
	if err != nil {
		return State{}, err
	}
	var measures []Measure
	for _, m := range s.Solutes {
		sol, err := ParseSolute(m.Name)
		if err != nil {
			return fail(err)
		}
		unit, err := ParseUnit(m.Unit)
		if err != nil {
			return fail(fmt.Errorf("the unit of %s: %w", clip(m.Name), err))
		}
		measures = append(measures, Measure{sol, m.Amount, unit})
	}
	if w, err = w.Dissolve(measures...); err != nil {
		return fail(err)
	}
	if w.n[BH4] > leastAmount {
		*remarks = append(*remarks, hydrideRemark)
	}
	if w, err = FreshHydride(w); err != nil {
		return fail(err)
	}
	o, err := Equilibrate(w, cond)
	if err != nil {
		return fail(err)
	}
	o.madeUp = madeUp
	return o, nil
}

// compose makes the water before solutes: pure, analysed or mixed. The
// second result is State.madeUp of it.
func (s *Spec) compose(remarks *[]string, inherited *float64, depth int, where string) (Water, float64, error) {
	t := float64(presetTemperatureC)
	switch {
	case s.TemperatureC != nil:
		t = *s.TemperatureC
	case inherited != nil:
		t = *inherited
	}
	w, err := Pure(t)
	if err != nil {
		return w, 0, fmt.Errorf("%stemperature_c: %w", where, err)
	}
	switch {
	case s.Analysis != nil && len(s.Mix) > 0:
		return w, 0, fmt.Errorf(
			"%sa water is either analysed or mixed: put the analysis into one of the parts of mix",
			where,
		)
	case s.Analysis != nil:
		a, err := s.Analysis.analysis(t)
		if err != nil {
			return w, 0, fmt.Errorf("%sanalysis: %w", where, err)
		}
		b, err := a.Balance()
		if err != nil {
			return w, 0, fmt.Errorf("%sanalysis: %w", where, err)
		}
		*remarks = append(*remarks, b.Remarks...)
		return b.Water, b.madeUp(), nil
	case len(s.Mix) > 0:
		return s.mixture(remarks, inherited, depth, where)
	}
	return w, 0, nil
}

func (s *Spec) mixture(remarks *[]string, inherited *float64, depth int, where string) (Water, float64, error) {
	if s.TemperatureC != nil {
		inherited = s.TemperatureC
	}
	var parts []Part
	madeUp, kg := 0.0, 0.0
	for i := range s.Mix {
		p := &s.Mix[i]
		at := fmt.Sprintf("%smix[%d].", where, i)
		o, err := p.Water.make(remarks, inherited, depth+1, at+"water.")
		if err != nil {
			return Water{}, 0, err
		}
		for _, name := range o.cond.MayFall.Names() {
			one, _ := ParseSolids([]string{name})
			if mol := o.Fallen(one); mol > 0 {
				*remarks = append(
					*remarks,
					fmt.Sprintf("%.3g mmol/kg of %s fell in part %d and is left behind.", 1000*mol, name, i+1),
				)
			}
		}
		part := o.Part(p.Parts)
		madeUp, kg = madeUp+part.Parts*o.madeUp, kg+part.Parts
		parts = append(parts, part)
	}
	w, err := Mix(parts...)
	if err != nil {
		return w, 0, fmt.Errorf("%smix: %w", where, err)
	}
	if s.TemperatureC != nil {
		w, err = w.At(*s.TemperatureC)
	}
	return w, madeUp / kg, err
}

// ParseSolids finds solids by name. The error offers the names.
func ParseSolids(names []string) (Solids, error) {
	var set Solids
next:
	for _, n := range names {
		for i, known := range solidNames {
			if strings.EqualFold(strings.TrimSpace(n), known) {
				set |= 1 << i
				continue next
			}
		}
		return 0, fmt.Errorf("%q is no solid known here: %s would be right", clip(n), strings.Join(solidNames[:], ", "))
	}
	return set, nil
}

// Answer writes a state for the water command; remarks go before its own
// warnings.
func (o *State) Answer(remarks ...string) Answer {
	a := Answer{PH: o.pH, IonicStrength: o.ionic, Alkalinity: o.AlkalinityPerKg(), Residual: o.residual,
		PHLow: o.PHRange().Low, PHHigh: o.PHRange().High, Totals: map[string]float64{}, Species: map[string]float64{},
		Precipitated: map[string]float64{}, Dissolved: map[string]float64{}, Saturation: map[string]float64{},
		Warnings: append(append([]string{}, remarks...), o.Warnings()...)}
	at := o.ConductivityMicroS()
	a.Conductivity, a.ConductivityRange = at.Value, [2]float64{at.Low, at.High}
	if at25, err := o.Conductivity25MicroS(); err == nil {
		a.Conductivity25, a.Conductivity25Range = at25.Value, [2]float64{at25.Low, at25.High}
	} else {
		a.Warnings = append(a.Warnings, fmt.Sprintf("Its conductivity at 25 deg C cannot be computed: %v.", err))
	}
	for _, c := range Components() {
		if c != H && o.mask&(1<<c) != 0 {
			a.Totals[c.String()] = o.Total(c)
		}
	}
	for _, s := range o.Species() {
		a.Species[s.Name] = s.Molality
	}
	for i, name := range solidNames {
		one := Solids(1 << i)
		if si, ok := o.SaturationIndex(one); ok && !math.IsInf(si, 0) {
			a.Saturation[name] = si
		}
		mol := o.Fallen(one)
		switch {
		case o.cond.StandsOver&one != 0 && mol > 0:
			a.Precipitated[name], a.Dissolved[name] = mol, 0
		case o.cond.StandsOver&one != 0:
			a.Dissolved[name] = -mol
		case o.cond.MayFall&one != 0:
			a.Precipitated[name] = mol
		}
	}
	return a
}
