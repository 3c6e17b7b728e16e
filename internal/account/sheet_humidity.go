package account

import (
	"fmt"

	"benchleaf/internal/record"
	"benchleaf/paper"
)

// HumidityQuestion asks how a sheet is humidified.
type HumidityQuestion struct {
	Damper  string  `field:"damper" start:"water"`  // a paper.Damper
	Air     string  `field:"chamber" start:"still"` // still or moving
	Faces   string  `field:"faces" start:"both"`    // both or one
	TempC   float64 `field:"chamber_c" what:"the temperature of the chamber" from:"5" to:"30" unit:"°C" start:"20"`
	RoomPct float64 `field:"room_pct" what:"the humidity of the room" from:"10" to:"70" unit:"%" start:"50"`
	GapMm   float64 `field:"gap_mm" what:"the way from the damper" from:"1" to:"1000" unit:"mm" start:"100"`
	Sheets  int     `field:"piled" what:"the number of sheets in the pile" from:"1" to:"50" start:"1"`
}

// Dampers are what keeps a chamber damp, for a list.
func Dampers() (list []record.Choice) {
	names := map[paper.Damper]string{
		paper.SaltNaCl: "table salt", paper.SaltKCl: "potassium chloride", paper.SaltKNO3: "potassium nitrate",
		paper.SaltK2SO4: "potassium sulphate", paper.OpenWater: "water or a wet blotter",
	}
	for _, d := range paper.Dampers {
		w := names[d]
		if h, err := paper.HumidityOver(d, 20); err == nil {
			w = fmt.Sprintf("%s, %.0f %%", w, 100*float64(h))
		}
		list = append(list, record.Choice{Value: string(d), Words: w})
	}
	return list
}

// Humidified is how a sheet takes up moisture in a chamber.
type Humidified struct {
	Answers  []Fact
	Curves   []Curve
	Warnings []string
	Taken    []Fact
	Dominant string
	RestsOn  []string
}

// Humidified answers q; its error says why it cannot be calculated.
func (x *Trial) Humidified(q HumidityQuestion) (*Humidified, error) {
	h, err := paper.Humidify(x.sheet, paper.Chamber{
		Damper: paper.Damper(q.Damper), TemperatureC: paper.Celsius(q.TempC), Room: paper.Humidity(q.RoomPct / 100),
		GapMm: q.GapMm, Fan: q.Air == "moving", Sheets: q.Sheets, OneFace: q.Faces == "one",
	}, paper.Options{Samples: besideSamples, Seed: 1})
	if err != nil {
		return nil, err
	}
	a := &Humidified{
		Answers: HumidityFacts(&h), Warnings: h.Warnings, Taken: TakenFacts(h.Taken), Dominant: h.Dominant,
		RestsOn: h.RestsOn,
	}
	unit, per := "min", 1.0
	if h.Course[len(h.Course)-1].Minutes > 180 {
		unit, per = "hours", 60
	}
	l := Series{Words: "water in the sheet"}
	for _, m := range h.Course {
		l.add(m.Minutes/per, m.MoistureGPerG)
	}
	_, high := bounds(l)
	a.Curves = []Curve{{
		Name: "humid", XTitle: unit, YTitle: "g/g", Lines: []Series{l}, Y: Axis{To: high},
		X: Axis{To: l.X[len(l.X)-1], Ticks: 5},
		Says: fmt.Sprintf("Water in the sheet with time: from %s up to %s", en.Best(h.FromGPerG.Range, "g/g"),
			en.Best(h.EndGPerG.Range, "g/g")),
		Under: "Water in the sheet, g per g of dry paper.",
	}}
	return a, nil
}

// HumidityFacts are when a sheet in a chamber has taken up what it will, and how much.
func HumidityFacts(h *paper.Humidified) []Fact {
	end := ranged("end", "Moisture at the end", h.EndGPerG.Range, "g/g")
	end.RestsOn = fmt.Sprintf("from %s; the chamber comes to %.0f %%", en.Range(h.FromGPerG.Range, ""),
		100*float64(h.Humidity))
	return []Fact{
		span("half", "Half of the way", h.HalfMin.Range, ""),
		span("most", "Nine tenths of the way", h.MostMin.Range, "stop at tack or bleed; over a day risks mould"), end,
	}
}
