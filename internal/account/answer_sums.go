package account

import (
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/solution"
)

// The plain calculations: they need no case, no shelf and write nothing.

// StrengthQuestion asks for a strength in every unit that makes sense for it.
type StrengthQuestion struct {
	Substance  string   `field:"substance" start:"calcium hydroxide"`
	Strength   string   `field:"strength" start:"0.4 g/L"`
	DensityGMl *float64 `field:"density" what:"the density"`
}

// Strengths are the facts of a strength, one for each unit; where a unit makes no
// sense Limit says why.
type Strengths struct {
	Name  string
	Molar string
	Rows  []Fact
}

// StrengthsOf answers q; what cannot be is said at its field.
func StrengthsOf(q StrengthQuestion) (a Strengths, refused []*record.Invalid) {
	var r refusals
	sub := r.substance("substance", q.Substance)
	strength := r.strength("strength", q.Strength)
	if r.any() {
		return a, r
	}
	var density solution.GramsPerMillilitre
	if q.DensityGMl != nil {
		density = solution.GramsPerMillilitre(*q.DensityGMl)
	}
	if _, err := strength.PerLitre(sub, density); err != nil {
		r.at("strength", err)
		return a, r
	}
	a.Name = sub.Name
	if sub.MolarMass > 0 {
		a.Molar = en.Quantity(float64(sub.MolarMass), "g/mol")
	}
	for _, u := range solution.Units() {
		f := Fact{Name: string(u), Basis: Computed}
		if y, err := strength.In(u, sub, density); err != nil {
			f.Limit = en.Upper(err.Error())
		} else {
			f.Text = en.Number(y.Value)
		}
		a.Rows = append(a.Rows, f)
	}
	return a, nil
}

// SubstanceNames are those of the table of substances.
func SubstanceNames() []string {
	var list []string
	for _, x := range solution.Substances() {
		list = append(list, x.Name)
	}
	return list
}

// Hydrides are the borohydrides of the table.
func Hydrides() []record.Choice {
	var list []record.Choice
	for _, x := range solution.Substances() {
		if x.Is(solution.Hydride) {
			list = append(list, record.Choice{Value: x.Name, Words: x.Name})
		}
	}
	return list
}

// HydrogenQuestion is a borohydride bath in a room.
type HydrogenQuestion struct {
	Substance string  `field:"substance" start:"sodium borohydride"`
	Strength  string  `field:"strength" start:"0.5 % w/v"`
	Volume    string  `field:"volume" start:"1 L"`
	PH        float64 `field:"ph" what:"the pH" start:"9"`
	TempC     float64 `field:"temp_c" what:"the temperature" start:"20"`
	RoomM3    float64 `field:"room_m3" what:"the room’s volume" start:"40"`
}

// Gas is the hydrogen of a borohydride bath, and the air that it needs.
type Gas struct {
	Answers  []Fact
	Facts    []Fact
	Cautions []string
	RestsOn  []string
	// Air is what the answers are made of, for the command line.
	Air solution.Ventilation
}

// HydrogenOf answers q; what cannot be is said at its field.
func HydrogenOf(q HydrogenQuestion) (a Gas, refused []*record.Invalid) {
	var r refusals
	sub, strength := r.substance("substance", q.Substance), r.strength("strength", q.Strength)
	volume := r.volume("volume", q.Volume)
	if r.any() {
		return a, r
	}
	v, err := ventilation(sub, strength, volume, q.TempC, q.PH, q.RoomM3)
	if err != nil {
		r.at("", err)
		return a, r
	}
	return gasOf(v), nil
}

func ventilation(sub *solution.Substance, strength solution.Strength, volume solution.Millilitres,
	tempC, pH, roomM3 float64) (solution.Ventilation, error) {
	gas, err := solution.HydrogenFromBath(sub, strength, volume, solution.Celsius(tempC))
	if err != nil {
		return solution.Ventilation{}, err
	}
	return gas.Ventilate(pH, solution.CubicMetres(roomM3))
}

// Gas is the hydrogen of a borohydride mix as a bath, in a room. Errors: a
// substance that gives none, a pH or a room that cannot be.
func (a *Mix) Gas(tempC, pH, roomM3 float64) (*Gas, error) {
	sub, err := solution.Find(a.Recipe.Substance)
	if err != nil {
		return nil, err
	}
	v, err := ventilation(sub, a.Recipe.Strength.Strength(), solution.Millilitres(a.VolumeMl), tempC, pH, roomM3)
	if err != nil {
		return nil, err
	}
	g := gasOf(v)
	return &g, nil
}

func gasOf(v solution.Ventilation) Gas {
	changes := said("air-changes", "Air changes of this room", "0"+words.NBSP+"needed",
		"the room alone stays below 1 % hydrogen, evenly mixed")
	if v.ChangesPerHour > 0 {
		changes = estimate("air-changes", changes.Name, v.ChangesPerHour, "an hour",
			"at least, to stay below 1 % hydrogen")
	}
	return Gas{
		Air: v, Cautions: v.Cautions, RestsOn: v.RestsOn,
		Answers: []Fact{estimate("gas", "Hydrogen, in all", v.Litres, "L", ""), changes},
		Facts: []Fact{
			said("half-life", "Half of the strength lasts", v.HalfLife.Text(),
				"at this pH; less with acid, metal or an acid sheet"),
			estimate("gas-flow", "Gas as the bath starts", v.PeakLitresPerMin, "L/min", ""),
			estimate("air", "Air that dilutes that at once", float64(v.AirPerHour), "m³/h",
				"enough in any room; draw it from above the tray"),
			estimate("air-at-once", "If all came at once", float64(v.AirAtOnce), "m³ of air",
				"to stay below 1 % hydrogen"),
			estimate("still-room", "The closed room, once all has come", 100*v.StillShare, "% of what burns",
				"evenly mixed; under a lid or ceiling it is more"),
		},
	}
}

// TrayQuestion is a sheet in a tray.
type TrayQuestion struct {
	LengthMm       float64  `field:"length_mm" what:"the tray’s length" start:"400"`
	WidthMm        float64  `field:"width_mm" what:"the tray’s width" start:"300"`
	DepthMm        float64  `field:"depth_mm" what:"the depth" start:"15"`
	SheetWidthMm   float64  `field:"sheet_width_mm" what:"the sheet’s width" start:"340"`
	SheetHeightMm  float64  `field:"sheet_height_mm" what:"the sheet’s height" start:"262"`
	SheetG         *float64 `field:"sheet_g" what:"the dry mass"`
	WallMm         *float64 `field:"wall_mm" what:"the wall"`
	Grooves        *int     `field:"grooves" what:"the number of grooves"`
	GrooveWidthMm  *float64 `field:"groove_width_mm" what:"the groove’s width"`
	GrooveDepthMm  *float64 `field:"groove_depth_mm" what:"the groove’s depth"`
	GrooveLengthMm *float64 `field:"groove_length_mm" what:"the groove’s length"`
}

// TrayFill is the liquid that covers a sheet, with what is to be said of it.
type TrayFill struct {
	Answers  []Fact
	Warnings []string
}

// FillTray answers q. Errors: a tray or sheet that cannot be, in a sentence.
func FillTray(q TrayQuestion) (TrayFill, error) {
	mm := func(v *float64) solution.Millimetres { return solution.Millimetres(orElse(v, 0)) }
	t := solution.Tray{
		LengthMm: solution.Millimetres(q.LengthMm), WidthMm: solution.Millimetres(q.WidthMm), WallMm: mm(q.WallMm),
		Grooves: orElse(q.Grooves, 0), GrooveWidthMm: mm(q.GrooveWidthMm), GrooveDepthMm: mm(q.GrooveDepthMm),
		GrooveLengthMm: mm(q.GrooveLengthMm),
	}
	fill, err := t.Cover(solution.Millimetres(q.DepthMm), solution.Millimetres(q.SheetWidthMm),
		solution.Millimetres(q.SheetHeightMm), solution.Grams(orElse(q.SheetG, 0)))
	if err != nil {
		return TrayFill{}, err
	}
	liquid := ranged("liquid", "Liquid", fill.VolumeMl, "mL")
	liquid.RestsOn = "depth kept to 1 mm"
	a := TrayFill{Answers: []Fact{liquid}, Warnings: fill.Warnings}
	if fill.DeadMl > 0 {
		a.Answers = append(a.Answers, said("in-grooves", "of it in the grooves", fill.DeadMl.Text(), ""))
	}
	return a, nil
}

// orElse is what a pointer points to, or other.
func orElse[T any](v *T, other T) T {
	if v == nil {
		return other
	}
	return *v
}

// Things are vessels, sheets and metals that a substance may meet.
func Things() []record.Choice {
	var list []record.Choice
	for _, t := range solution.Things() {
		list = append(list, record.Choice{Value: t, Words: t})
	}
	return list
}

// KnownSubstance refuses, at a field, a substance that the table does not hold.
func KnownSubstance(field, name string) []*record.Invalid {
	var r refusals
	r.substance(field, name)
	return r
}
