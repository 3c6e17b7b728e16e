package account

import (
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/solution"
)

// VapourQuestion is a surface wet with a solvent in a room.
type VapourQuestion struct {
	Substance string   `field:"substance" start:"ethanol"`
	Strength  string   `field:"strength" start:"70 % v/v"`
	AreaM2    float64  `field:"area_m2" what:"the wet area" start:"0.2"`
	TempC     float64  `field:"temp_c" what:"the temperature" start:"20"`
	RoomM3    float64  `field:"room_m3" what:"the room’s volume" start:"40"`
	Changes   float64  `field:"changes" what:"the air changes" start:"2"`
	LiquidMl  *float64 `field:"liquid_ml" what:"the liquid"`
}

// Vapour is what comes of a wet surface.
type Vapour struct {
	Answers, Facts    []Fact
	Cautions, RestsOn []string
	// Air is what the answers are made of, for the command line.
	Air solution.VapourInRoom
}

// VapourOf answers q; what cannot be is said at its field.
func VapourOf(q VapourQuestion) (a Vapour, refused []*record.Invalid) {
	var r refusals
	w := solution.WetArea{
		Substance: r.substance("substance", q.Substance), AreaM2: q.AreaM2, Temp: solution.Celsius(q.TempC),
		Room: solution.CubicMetres(q.RoomM3), ChangesPerHour: q.Changes,
		Liquid: solution.Millilitres(orElse(q.LiquidMl, 0)),
	}
	if q.Strength != "" {
		w.Strength = r.strength("strength", q.Strength)
	}
	if r.any() {
		return a, r
	}
	v, err := w.Vapour()
	if err != nil {
		r.at("", err)
		return a, r
	}
	return vapour(v), nil
}

func vapour(v solution.VapourInRoom) Vapour {
	share := ranged("vapour-share", "Share of the lower explosive limit, at most", v.Percent.Scale(100/v.Explosive), "%")
	share.RestsOn = "evenly mixed in the room; right over the liquid it is far more"
	share.Good = share.Figure != nil && v.Percent.High < v.Explosive/10
	a := Vapour{
		Air: v, Cautions: v.Cautions, RestsOn: v.RestsOn,
		Answers: []Fact{share, estimate("vapour-air", "Air that keeps it below a tenth", float64(v.AirPerHour), "m³/h",
			"for good, with the most that evaporates")},
		Facts: []Fact{
			flash(v.FlashPoint, v.HasFlash),
			ranged("vapour-rate", "Evaporates", v.GramsPerHour, "g/h"),
			ranged("vapour-ppm", "In the air of the room", v.Percent.Scale(1e4), "ppm"),
			estimate("vapour-workplace", "Limit over eight hours", v.Workplace, "ppm",
				"29 CFR 1910.1000 (from memory); local law may set less"),
			estimate("vapour-explosive", "Lower explosive limit", v.Explosive, "% of the air", "from memory"),
		},
	}
	return a
}

// flash is the fact of a flash point.
func flash(t solution.Celsius, ok bool) Fact {
	if !ok {
		return said("flash-point", "Flash point", "above 100"+words.NBSP+"°C", "computed")
	}
	return estimate("flash-point", "Flash point", float64(t), "°C",
		"computed; published values of ethanol and water are met within 3 °C")
}

// Solvents of the table whose vapour is computed.
func Solvents() []record.Choice {
	var list []record.Choice
	for _, x := range solution.Substances() {
		if _, _, err := solution.FlashPoint(x, solution.Strength{}); err == nil {
			list = append(list, record.Choice{Value: x.Name, Words: x.Name})
		}
	}
	return list
}

// Vapour is the vapour of a recipe's solvent over a wet area in a room. Errors: no
// solvent, or a room that cannot be.
func (a *Mix) Vapour(areaM2, tempC, roomM3, changes float64) (*Vapour, error) {
	sub, err := solution.Find(a.Recipe.Substance)
	if err != nil {
		return nil, err
	}
	v, err := solution.WetArea{
		Substance: sub, Strength: a.Recipe.Strength.Strength(), AreaM2: areaM2, Temp: solution.Celsius(tempC),
		Room: solution.CubicMetres(roomM3), ChangesPerHour: changes, Liquid: solution.Millilitres(a.VolumeMl),
	}.Vapour()
	if err != nil {
		return nil, err
	}
	out := vapour(v)
	return &out, nil
}

// A room for the vapour of a bath or a spray, where nobody measured it: small, with
// a window ajar (common practice, no source).
const usualChanges = 1

// BathVapour is the vapour of a run's solvent from its sheets, both faces wet, in a
// small room; nil where its liquid is no solvent, or no sheet's paper is described.
func BathVapour(c *record.Case, run *record.RunStarted) *Vapour {
	liquid, ok := inBath(run.Bath)
	if !ok {
		return nil
	}
	sub, err := solution.Find(liquid.Name)
	if err != nil || !sub.Is(solution.Solvent) {
		return nil
	}
	area := 0.0
	for _, n := range run.Sheets {
		if p := c.StockOf(n); p != nil {
			area += 2 * p.WidthMm * p.HeightMm / 1e6
		}
	}
	temp := solution.Celsius(usualTempC)
	if run.TempC != nil {
		temp = solution.Celsius(*run.TempC)
	}
	v, err := solution.WetArea{
		Substance: sub, Strength: liquid.Strength, AreaM2: area, Temp: temp, Room: smallRoomM3,
		ChangesPerHour: usualChanges, Liquid: solution.Millilitres(run.Bath.VolumeMl),
	}.Vapour()
	if err != nil {
		return nil
	}
	a := vapour(v)
	a.Answers[0].RestsOn = words.Joined("; ", "both faces of the sheets wet, in a room of "+
		en.Quantity(smallRoomM3, "m³")+" with one air change an hour, taken", a.Answers[0].RestsOn)
	return &a
}
