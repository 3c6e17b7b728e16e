package treatment

import (
	"fmt"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
	"benchleaf/solution"
)

// WaterKind is a kind of bath that can be tried on a sheet before it is made.
type WaterKind struct {
	Slug, Name string
	// Operation is the act that it is a bath of.
	Operation string
	// Substance of the solution, "" for a water.
	Substance string
	// Unit of its strength; "" for pure water, which has none.
	Unit string
	// From and To are the strengths that a person tries, Step the fineness, and
	// Start where trying begins; Basis says where they come from.
	From, To, Step, Start float64
	Basis                 string
}

// WaterKinds in the order that benches use them. The strengths are those of the
// operations' usual words (common practice, no source).
var WaterKinds = []WaterKind{
	{Slug: "water", Name: "pure water", Operation: "wash", Basis: common},
	{
		Slug:      "conditioned",
		Name:      "conditioned water",
		Operation: "wash",
		Unit:      "mg/L Ca",
		From:      1,
		To:        80,
		Step:      1,
		Start:     15,
		Basis:     common,
	},
	{
		Slug:      "lime",
		Name:      "lime water",
		Operation: "lime",
		Substance: "calcium hydroxide",
		Unit:      "g/L",
		From:      0.02,
		To:        1.6,
		Step:      0.01,
		Start:     0.4,
		Basis:     common,
	},
	{
		Slug:      "calcium-bicarbonate",
		Name:      "calcium bicarbonate",
		Operation: "bicarbonate",
		Substance: "calcium bicarbonate",
		Unit:      "mmol/L",
		From:      0.5,
		To:        9.5,
		Step:      0.1,
		Start:     5,
		Basis:     common,
	},
	{
		Slug:      "magnesium-bicarbonate",
		Name:      "magnesium bicarbonate",
		Operation: "bicarbonate",
		Substance: "magnesium bicarbonate",
		Unit:      "mmol/L",
		From:      1,
		To:        60,
		Step:      1,
		Start:     20,
		Basis:     common,
	},
}

// WaterKindOf finds a kind by slug, or nil.
func WaterKindOf(slug string) *WaterKind {
	for i := range WaterKinds {
		if WaterKinds[i].Slug == slug {
			return &WaterKinds[i]
		}
	}
	return nil
}

// What a bench's own making and measuring is off by, either way (common practice,
// no source).
const (
	strengthWithin = 0.05
	volumeWithin   = 0.03
	triedWithin    = 0.10
)

// molarCalcium in g/mol (IUPAC 2021, abridged).
const molarCalcium = 40.078

// Alkali is the acid that 1 L of the kind at a strength neutralises, mmol.
func (k *WaterKind) Alkali(strength float64) float64 {
	switch {
	case k.Unit == "":
		return 0
	case k.Substance == "":
		return 2 * strength / molarCalcium
	}
	sub, err := solution.Find(k.Substance)
	if err != nil {
		return 0 // the table of substances has all that WaterKinds name; a test sees to it
	}
	if k.Unit == "g/L" {
		return strength * 1000 / float64(sub.MolarMass) * sub.AlkaliEqPerMol
	}
	return strength * sub.AlkaliEqPerMol
}

// GramsPerLitre of the substance at a strength, 0 for a water.
func (k *WaterKind) GramsPerLitre(strength float64) float64 {
	sub, err := solution.Find(k.Substance)
	if k.Substance == "" || err != nil {
		return 0
	}
	if k.Unit == "g/L" {
		return strength
	}
	return strength * float64(sub.MolarMass) / 1000
}

// Words name the kind at a strength as a liquid of the record.
func (k *WaterKind) Words(strength float64) string {
	switch {
	case k.Unit == "":
		return k.Name
	case k.Substance == "":
		return fmt.Sprintf("%s, %.3g mg/L of calcium", k.Name, strength)
	}
	return fmt.Sprintf("%s in water, %.3g %s", k.Substance, strength, k.Unit)
}

func (k *WaterKind) liquid(strength float64) paper.Liquid {
	if sub, err := solution.Find(k.Substance); err == nil {
		mmol := strength
		if k.Unit == "g/L" {
			mmol = strength * 1000 / float64(sub.MolarMass)
		}
		if l, err := Solution(sub, k.Name, interval.Within(mmol, strengthWithin*mmol)); err == nil {
			return l
		}
	}
	a := k.Alkali(strength)
	l := paper.Liquid{Name: k.Name, AlkaliMmolPerL: interval.Within(a, strengthWithin*a)}
	if k.Unit != "" {
		l.Base, l.Anion = paper.Calcium, paper.Bicarbonate
	}
	return l
}

// Trial is a bath tried on a sheet, before it is made.
type Trial struct {
	Kind     *WaterKind
	Strength float64 // in the kind's unit
	VolumeMl float64
	Together int // sheets in it at once
	Minutes  float64
	Baths    int
	// DriedBetween says that the sheet dries before each next bath.
	DriedBetween bool
	Motion       paper.Motion
	TempC        float64
	DepthMm      *paper.Millimetres // of an open tray; nil: covered
	// Afresh leaves out the baths that the sheet has had.
	Afresh bool
	// What is tried instead of what the record has of the sheet; nil: as recorded.
	WidthMm, HeightMm, GrammageGM2, PickUpGG, AcidMmolKg *float64
}

// Bath is one of the trial's baths.
func (t *Trial) Bath() paper.Bath {
	return paper.Bath{
		Name:         t.Kind.Name,
		Liquid:       t.Kind.liquid(t.Strength),
		VolumeMl:     interval.Within(t.VolumeMl, volumeWithin*t.VolumeMl),
		Together:     t.Together,
		Minutes:      new(paper.Minutes(t.Minutes)),
		Motion:       t.Motion,
		TemperatureC: new(paper.Celsius(t.TempC)),
		DepthMm:      t.DepthMm,
	}
}

// After is the sequence of n of the trial's baths after those that the sheet
// has had.
func (t *Trial) After(had []paper.Bath, driedSince bool, n int) []paper.Bath {
	list := append([]paper.Bath(nil), had...)
	for i := range n {
		b := t.Bath()
		b.DriedBefore = len(list) > 0 && (i == 0 && driedSince || i > 0 && t.DriedBetween)
		list = append(list, b)
	}
	return list
}

// Sheet is the sheet as recorded, with what is tried in its place.
func (t *Trial) Sheet(s paper.Sheet) paper.Sheet {
	about := func(v, share float64) *interval.Range {
		r := interval.Within(v, share*v)
		return &r
	}
	if t.WidthMm != nil || t.HeightMm != nil || t.GrammageGM2 != nil {
		s.MassG = nil // that of the sheet as it is
	}
	if t.WidthMm != nil {
		s.WidthMm = paper.Millimetres(*t.WidthMm)
	}
	if t.HeightMm != nil {
		s.HeightMm = paper.Millimetres(*t.HeightMm)
	}
	if t.GrammageGM2 != nil {
		s.GrammageGsm = about(*t.GrammageGM2, 0.05)
	}
	if t.PickUpGG != nil {
		s.PickUpGPerG = about(*t.PickUpGG, triedWithin)
	}
	if t.AcidMmolKg != nil {
		s.AcidMmolPerKg, s.SolubleAcidMmolPerKg, s.FixedAcidMmolPerKg = about(*t.AcidMmolKg, 2*triedWithin), nil, nil
	}
	return s
}

// Check says all that cannot be about a trial on a sheet of s: each sentence
// stands at its field. s is the sheet with what is tried (Trial.Sheet).
func (t *Trial) Check(s paper.Sheet) []*record.Invalid {
	var list []*record.Invalid
	refuse := func(field, format string, args ...any) {
		list = append(list, &record.Invalid{Field: field, Say: fmt.Sprintf(format, args...)})
	}
	between := func(field, what string, v *float64, low, high float64, unit string) {
		if v != nil && !(*v >= low && *v <= high) {
			refuse(field, "%s of %g %s cannot be: %g to %g %s is possible.", what, *v, unit, low, high, unit)
		}
	}
	between("width_mm", "A width", t.WidthMm, 5, 2500, "mm")
	between("height_mm", "A height", t.HeightMm, 5, 2500, "mm")
	between("grammage_g_m2", "A grammage", t.GrammageGM2, 5, 1000, "g/m²")
	between("pick_up_g_g", "A pick-up", t.PickUpGG, 0.1, 8, "g/g")
	between("acid_mmol_kg", "An acid demand", t.AcidMmolKg, 0, 1500, "mmol/kg")
	minutes, baths, together := t.Minutes, float64(t.Baths), float64(t.Together)
	if t.Minutes < 0 {
		refuse("minutes", "A time of %g min lies before the bath begins: 0.1 min to 30 days is possible.", t.Minutes)
	} else {
		between("minutes", "A time", &minutes, 0.1, 60*24*30, "min")
	}
	between("baths", "A number", &baths, 1, 12, "baths")
	between("together", "A number", &together, 1, 1000, "sheets")
	temp := t.TempC
	between("temp_c", "A temperature", &temp, 0, 50, "°C")
	between("depth_mm", "A depth", (*float64)(t.DepthMm), 1, 1000, "mm")
	if t.VolumeMl == 0 {
		refuse("volume_ml", "A bath of 0 mL has no liquid: say how much is poured.")
	} else {
		volume := t.VolumeMl
		between("volume_ml", "A volume", &volume, 5, 1e5, "mL")
	}
	t.checkStrength(refuse)
	if len(list) > 0 {
		return list
	}
	if err := s.Check(); err != nil {
		refuse("", "The record of this sheet cannot be calculated with: %v.", err)
		return list
	}
	out, err := paper.RunBest(s, []paper.Bath{t.Bath()}, paper.Options{Brief: true})
	switch {
	case err != nil:
		refuse("", "This cannot be calculated: %v.", err)
	case out.HeldMl.Best*float64(t.Together) > 0.95*t.VolumeMl:
		refuse(
			"volume_ml",
			"%s take up the whole bath of %g mL: at least %.0f mL is needed.",
			plural(t.Together, "sheet", "sheets"),
			t.VolumeMl,
			1.3*float64(t.Together)*t.pickUpMl(s),
		)
	}
	return list
}

// pickUpMl is the liquid that one sheet takes up from a bath that is large enough.
func (t *Trial) pickUpMl(s paper.Sheet) float64 {
	b := t.Bath()
	b.Together, b.VolumeMl = 1, interval.Exactly(1e6)
	out, err := paper.RunBest(s, []paper.Bath{b}, paper.Options{Brief: true})
	if err != nil {
		return 0
	}
	return out.HeldMl.Best
}

func (t *Trial) checkStrength(refuse func(field, format string, args ...any)) {
	k := t.Kind
	if k.Unit == "" {
		return
	}
	if !(t.Strength > 0) {
		refuse("strength", "A strength of %g %s is none: choose pure water, or more than 0.", t.Strength, k.Unit)
		return
	}
	if t.TempC < 0 || t.TempC > 50 {
		return // said at its field
	}
	most, _, err := paper.Strongest(t.Bath())
	if err != nil || k.Alkali(t.Strength) <= most*1.01 {
		return
	}
	limit := t.Strength * most / k.Alkali(t.Strength)
	what := "water holds no more"
	switch k.Slug {
	case "calcium-bicarbonate", "conditioned":
		what = "under 1 atm of carbon dioxide water holds no more chalk"
	case "magnesium-bicarbonate":
		what = "benches make no stronger one"
	}
	refuse(
		"strength",
		"%s at %g %s is beyond what can be: at %g °C %s than %.3g %s.",
		upper(k.Name),
		t.Strength,
		k.Unit,
		t.TempC,
		what,
		limit,
		k.Unit,
	)
}

// Had are the baths that a sheet has been in, in order, as package paper computes
// with them; dried says that the sheet has dried since the last.
func Had(c *record.Case, sheet int) (baths []paper.Bath, dried bool) {
	for _, b := range bathsOf(c, sheet) {
		baths, dried = append(baths, b.Bath), b.driedAfter
	}
	return baths, dried
}

// Ends are a sheet with its acid and its pick-up at their 10 % points, and one
// with both at their 90 % points: between them lie more than eight cases of ten.
func Ends(s paper.Sheet) (easy, hard paper.Sheet) {
	pin := func(set *interval.Range, quantity string, pick func(interval.Range) float64) *interval.Range {
		r := interval.Range{}
		if set != nil {
			r = *set
		} else if t, ok := paper.TypicalOf(s.Class, quantity); ok {
			r = t.Range
		}
		r = interval.Exactly(pick(r))
		return &r
	}
	at := func(pick func(interval.Range) float64) paper.Sheet {
		x := s
		x.PickUpGPerG = pin(s.PickUpGPerG, "drained", pick)
		if s.AcidMmolPerKg != nil {
			x.AcidMmolPerKg = pin(s.AcidMmolPerKg, "", pick)
		} else {
			x.SolubleAcidMmolPerKg = pin(s.SolubleAcidMmolPerKg, "soluble_acid", pick)
			x.FixedAcidMmolPerKg = pin(s.FixedAcidMmolPerKg, "fixed_acid", pick)
		}
		return x
	}
	return at(func(r interval.Range) float64 { return r.Low }), at(func(r interval.Range) float64 { return r.High })
}
