package web

import (
	"net/http"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/solution"
)

// The plain sums: they need no case, no shelf and write nothing.

// strengthPage converts a strength into every unit that makes sense.
type strengthPage struct {
	Page
	Form       *Form
	Substances []string
	Name       string
	Molar      string
	Rows       []strengthRow
}

type strengthRow struct{ Unit, Value, Why string }

var strengthView = declare[strengthPage]("strength")

func (s *Server) strengthPage(w http.ResponseWriter, r *http.Request) error {
	f := s.askedFor(r, "strength", fills{"substance": "calcium hydroxide", "strength": "0.4 g/L"})
	p := strengthPage{Page: s.solutionsPage(r, "Strengths", "strength"), Form: f, Substances: substanceNames()}
	sub, err := solution.Find(f.Line("substance"))
	if err != nil {
		f.Refuse("substance", "%s.", upperFirst(err.Error()))
	}
	strength, err := solution.ParseStrength(f.Line("strength"))
	if err != nil {
		f.Refuse("strength", "%s.", upperFirst(err.Error()))
	}
	var density solution.GramsPerMillilitre
	if v := f.MaybeNumber("density", "the density"); v != nil {
		density = solution.GramsPerMillilitre(*v)
	}
	if len(f.Refused) == 0 {
		p.Name = sub.Name
		if sub.MolarMass > 0 {
			p.Molar = fig(float64(sub.MolarMass)) + " g/mol"
		}
		if _, err := strength.PerLitre(sub, density); err != nil {
			f.Refuse("strength", "%s.", upperFirst(err.Error()))
		} else {
			p.Rows = strengthRows(strength, sub, density)
		}
	}
	return strengthView.show(s, w, r, p)
}

func strengthRows(x solution.Strength, sub *solution.Substance, density solution.GramsPerMillilitre) []strengthRow {
	var rows []strengthRow
	for _, u := range solution.Units() {
		y, err := x.In(u, sub, density)
		if err != nil {
			rows = append(rows, strengthRow{Unit: string(u), Why: upperFirst(err.Error())})
			continue
		}
		rows = append(rows, strengthRow{Unit: string(u), Value: fig(y.Value)})
	}
	return rows
}

func substanceNames() []string {
	var list []string
	for _, x := range solution.Substances() {
		list = append(list, x.Name)
	}
	return list
}

// hydrogenPage is the gas of a borohydride bath, and the air that it needs.
type hydrogenPage struct {
	Page
	Form   *Form
	V      *solution.Ventilation
	Gas    string
	Still  string
	Enough bool
	Facts  []Fact
}

var hydrogenView = declare[hydrogenPage]("hydrogen")

// hydrides are the borohydrides of the table.
func hydrides() []record.Choice {
	var list []record.Choice
	for _, x := range solution.Substances() {
		if x.Is(solution.Hydride) {
			list = append(list, record.Choice{Value: x.Name, Words: x.Name})
		}
	}
	return list
}

// Hydrides are the choices of the page.
func (p hydrogenPage) Hydrides() []record.Choice { return hydrides() }

func (s *Server) hydrogenPage(w http.ResponseWriter, r *http.Request) error {
	f := s.askedFor(
		r,
		"hydrogen",
		fills{
			"substance": "sodium borohydride",
			"strength":  "0.5 % w/v",
			"volume":    "1 L",
			"ph":        "9",
			"temp_c":    "20",
			"room_m3":   "40",
		},
	)
	p := hydrogenPage{Page: s.solutionsPage(r, "Hydrogen", "hydrogen"), Form: f}
	strength, err := solution.ParseStrength(f.Line("strength"))
	if err != nil {
		f.Refuse("strength", "%s.", upperFirst(err.Error()))
	}
	volume, err := solution.ParseVolume(f.Line("volume"))
	if err != nil {
		f.Refuse("volume", "%s.", upperFirst(err.Error()))
	}
	sub, err := solution.Find(f.Line("substance"))
	if err != nil {
		f.Refuse("substance", "%s.", upperFirst(err.Error()))
	}
	pH, t, room := f.Number(
		"ph",
		"the pH",
	), f.Number(
		"temp_c",
		"the temperature",
	), f.Number(
		"room_m3",
		"the room’s volume",
	)
	if len(f.Refused) > 0 {
		return hydrogenView.show(s, w, r, p)
	}
	gas, err := solution.HydrogenFromBath(sub, strength, volume, solution.Celsius(t))
	var v solution.Ventilation
	if err == nil {
		v, err = gas.Ventilate(pH, solution.CubicMetres(room))
	}
	if err != nil {
		f.Refuse("", "%s.", upperFirst(err.Error()))
		return hydrogenView.show(s, w, r, p)
	}
	p.V, p.Gas, p.Enough = &v, fig2(v.Litres), v.ChangesPerHour == 0
	p.Facts = []Fact{
		{
			Name:  "Half of the strength lasts",
			Value: v.HalfLife.Text(),
			Basis: "at this pH; less with acid, metal or an acid sheet",
		},
		{Name: "Gas as the bath starts", Value: fig2(v.PeakLitresPerMin), Unit: "L/min"},
		{
			Name:  "Air that dilutes that at once",
			Value: fig2(float64(v.AirPerHour)),
			Unit:  "m³/h",
			Basis: "enough in any room; draw it from above the tray",
		},
		{
			Name:  "If all came at once",
			Value: fig2(float64(v.AirAtOnce)),
			Unit:  "m³ of air",
			Basis: "to stay below 1 % hydrogen",
		},
		{
			Name:  "The closed room, once all has come",
			Value: fig2(100 * v.StillShare),
			Unit:  "% of what burns",
			Basis: "evenly mixed; under a lid or ceiling it is more",
		},
	}
	return hydrogenView.show(s, w, r, p)
}

// Changes says the air changes that the room needs.
func (p hydrogenPage) Changes() string { return fig2(p.V.ChangesPerHour) }

// Caution is what the sums say of danger.
func (p hydrogenPage) Caution() Caution {
	return Caution{Title: "Hydrogen", Points: p.V.Cautions, Grave: true}
}

// trayPage is the liquid that covers a sheet in a tray.
type trayPage struct {
	Page
	Form *Form
	Fill *solution.TrayFill
	V    Fact
	Dead string
}

var trayView = declare[trayPage]("tray")

func (s *Server) trayPage(w http.ResponseWriter, r *http.Request) error {
	f := s.askedFor(
		r,
		"tray",
		fills{
			"length_mm":       "400",
			"width_mm":        "300",
			"depth_mm":        "15",
			"sheet_width_mm":  "340",
			"sheet_height_mm": "262",
		},
	)
	p := trayPage{Page: s.solutionsPage(r, "Tray", "tray"), Form: f}
	mm := func(field, what string) solution.Millimetres {
		if v := f.MaybeNumber(field, what); v != nil {
			return solution.Millimetres(*v)
		}
		return 0
	}
	t := solution.Tray{
		LengthMm: solution.Millimetres(f.Number("length_mm", "the tray’s length")),
		WidthMm:  solution.Millimetres(f.Number("width_mm", "the tray’s width")),
		WallMm: mm(
			"wall_mm",
			"the wall",
		),
		GrooveWidthMm:  mm("groove_width_mm", "the groove’s width"),
		GrooveDepthMm:  mm("groove_depth_mm", "the groove’s depth"),
		GrooveLengthMm: mm("groove_length_mm", "the groove’s length"),
	}
	if n := f.MaybeWhole("grooves", "the number of grooves"); n != nil {
		t.Grooves = *n
	}
	depth, width, height := f.Number(
		"depth_mm",
		"the depth",
	), f.Number(
		"sheet_width_mm",
		"the sheet’s width",
	), f.Number(
		"sheet_height_mm",
		"the sheet’s height",
	)
	mass := 0.0
	if v := f.MaybeNumber("sheet_g", "the dry mass"); v != nil {
		mass = *v
	}
	if len(f.Refused) == 0 {
		fill, err := t.Cover(
			solution.Millimetres(depth),
			solution.Millimetres(width),
			solution.Millimetres(height),
			solution.Grams(mass),
		)
		if err != nil {
			f.Refuse("", "%s.", strings.TrimSuffix(upperFirst(err.Error()), "."))
		} else {
			p.Fill = &fill
			p.V = Fact{Value: solution.Millilitres(fill.VolumeMl.Best).Text(), Range: fill.VolumeMl.Text() + " mL"}
			if fill.DeadMl > 0 {
				p.Dead = fill.DeadMl.Text()
			}
		}
	}
	return trayView.show(s, w, r, p)
}

// togetherPage says what happens when things meet.
type togetherPage struct {
	Page
	Form   *Form
	Names  []string
	Things []record.Choice
	Found  []solution.Conflict
	Asked  bool
}

var togetherView = declare[togetherPage]("together")

func (s *Server) togetherPage(w http.ResponseWriter, r *http.Request) error {
	f := s.askedFor(r, "together", nil)
	p := togetherPage{Page: s.solutionsPage(r, "Together", "together"), Form: f, Names: substanceNames()}
	for _, t := range solution.Things() {
		p.Things = append(p.Things, record.Choice{Value: t, Words: t})
	}
	var names []string
	for _, field := range []string{"first", "second", "third"} {
		if v := f.Line(field); v != "" {
			if _, err := solution.Find(v); err != nil {
				f.Refuse(field, "%s.", upperFirst(err.Error()))
				continue
			}
			names = append(names, v)
		}
	}
	names = append(names, f.List("things")...)
	if len(names) > 1 && len(f.Refused) == 0 {
		var err error
		if p.Found, err = solution.Conflicts(names...); err != nil {
			f.Refuse("", "%s.", upperFirst(err.Error()))
		} else {
			p.Asked = true
		}
	}
	return togetherView.show(s, w, r, p)
}
