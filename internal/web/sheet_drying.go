package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
)

// dryingPage is how the sheet dries, how long it may be mended, and when
// pressing is done.
type dryingPage struct {
	sheetHead
	Form       *Form
	Ways       []record.Choice
	Airs       []record.Choice
	Grains     []record.Choice
	Answers    []bigFigure
	Plots      []*bandPlot
	Changes    []changeRow
	Expansions []expansionRow
	Warnings   []string
	RestsOn    []string
	Dominant   string
	Settled    string
	Weighed    []Fact
}

// changeRow is one set of absorbents.
type changeRow struct{ At, TakesUp, Range string }

// expansionRow is a mend made at a moisture of the sheet.
type expansionRow struct {
	When, Moisture, Mismatch, Range, Says string
	Bad                                   bool
}

var dryingView = declare[dryingPage]("sheet_drying")

var (
	dryingWays = []record.Choice{
		{Value: "air", Words: "open, on its support"},
		{Value: "hung", Words: "open on both faces"},
		{Value: "absorbents", Words: "between absorbents"},
	}
	dryingAirs = []record.Choice{{Value: "still", Words: "still room"}, {Value: "moving", Words: "fan or draught"}}
	mendGrains = []record.Choice{
		{Value: "cross", Words: "across the grain"},
		{Value: "machine", Words: "along the grain"},
	}
)

func (s *Server) sheetDrying(w http.ResponseWriter, r *http.Request, c *record.Case, sheet int) error {
	f, _ := s.trialForm(r, c, sheet)
	for name, v := range map[string]string{"way": "air", "ends_as": "drained", "air": "still", "room_c": "20", "humidity_pct": "50", "absorbent_gsm": "350", "absorbent_mm": "0.7", "mend_mm": "80", "mend_grain": "cross"} {
		if !r.URL.Query().Has(name) {
			f.Set(name, v)
		}
	}
	p := dryingPage{Form: f, Ways: dryingWays, Airs: dryingAirs, Grains: mendGrains}
	if x := tryBath(f, c, sheet); x != nil {
		p.work(f, x)
		p.settle(c, sheet)
	}
	p.sheetHead = s.sheetHead(r, c, sheet, "drying", f)
	return dryingView.show(s, w, r, p)
}

func (p *dryingPage) work(f *Form, x *tried) {
	t, h := inside(
		f,
		"room_c",
		"the temperature of the room",
		5,
		40,
		"°C",
	), inside(
		f,
		"humidity_pct",
		"the humidity of the room",
		10,
		85,
		"%",
	)
	length := inside(f, "mend_mm", "the length of the mend", 1, 2500, "mm")
	weighings := weighingsOf(f, "weighings")
	var changes []float64
	var a paper.Absorbents
	if f.Line("way") == "absorbents" {
		g, mm := inside(
			f,
			"absorbent_gsm",
			"the absorbents on a face",
			20,
			20_000,
			"g/m²",
		), inside(
			f,
			"absorbent_mm",
			"their thickness",
			0.05,
			50,
			"mm",
		)
		changes = minutesOf(f, "changes")
		a = paper.Absorbents{GrammageGsm: interval.Within(g, 0.1*g), ThicknessMm: mm, ChangesMin: changes}
	}
	if len(f.Refused) > 0 {
		return
	}
	o := paper.Options{Samples: fullSamples, Seed: 1, EndsAs: paper.Drained}
	var d paper.Drying
	var err error
	var field string
	if f.Line("way") == "absorbents" {
		field = "changes"
		d, err = paper.DryBetween(x.sheet, a, paper.Celsius(t), paper.Humidity(h/100), o)
	} else {
		field = "weighings"
		speed := interval.Range{Low: 0.05, Best: 0.1, High: 0.2}
		if f.Line("air") == "moving" {
			speed = interval.Range{Low: 0.3, Best: 0.7, High: 1.5}
		}
		air := paper.Air{TemperatureC: interval.Within(t, 1), Humidity: interval.Range{Low: math.Max(5, h-5), Best: h, High: math.Min(90, h+5)}.Scale(0.01), SpeedMS: speed, RateFactor: x.rate}
		d, err = paper.DryInAir(x.sheet, paper.Drained, air, f.Line("way") != "hung", weighings, o)
	}
	if err != nil {
		f.Refuse(field, "%s.", upperFirst(err.Error()))
		return
	}
	p.answer(d)
	p.mends(f, d, paper.Grain(f.Line("mend_grain")), length)
}

// weighingsOf reads "0: 13.2, 12: 11.0", minutes and grams.
func weighingsOf(f *Form, field string) []paper.Weighing {
	var list []paper.Weighing
	for _, part := range strings.FieldsFunc(f.Line(field), func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		at, g, _ := strings.Cut(part, ":")
		m, err1 := parseNumber(strings.TrimSpace(at))
		v, err2 := parseNumber(strings.TrimSpace(g))
		if err1 != nil || err2 != nil {
			f.Refuse(
				field,
				"The weighings cannot be %q: minutes and grams are expected, as in 0: 13.2, 12: 11.0.",
				clip(f.Line(field)),
			)
			return nil
		}
		list = append(list, paper.Weighing{Minutes: m, MassG: v})
	}
	return list
}

// facesWords says which faces lose water in the chosen way.
func (p *dryingPage) facesWords() string {
	if p.Form.Value("way") == "hung" {
		return "both faces together"
	}
	return "its one open face"
}

func (p *dryingPage) answer(d paper.Drying) {
	span := func(r interval.Result) string { return spanText(r.Low) + " to " + spanText(r.High) }
	until := bigFigure{
		Key:   "mend-until",
		Name:  "Damp enough to mend until",
		Value: spanText(d.MendUntilMin.Best),
		Range: span(d.MendUntilMin),
		Note:  "after it is out of the bath",
	}
	if d.MendFromMin.Best >= 1 {
		until.Note = "from about " + spanText(d.MendFromMin.Best) + " on, when no liquid stands on it"
	}
	p.Answers = []bigFigure{until,
		{
			Key:   "dry",
			Name:  "Dry, pressing may end",
			Value: spanText(d.DryMin.Best),
			Range: span(d.DryMin),
			Note:  "within 0.01 g/g of its end; weigh it to be sure",
		},
		figure("end", "Water it keeps", d.EndGPerG.Range, "g/g", "level with the room")}
	if d.RateGPerM2H.Best > 0 {
		p.Answers = append(p.Answers, figure("rate", "Loses at first", d.RateGPerM2H.Range, "g/m² h", p.facesWords()))
	}
	for i, at := range d.ChangesMin {
		row := changeRow{At: spanText(at)}
		if i < len(d.EachGPerM2) {
			row.TakesUp, row.Range = d.EachGPerM2[i].BestText(), d.EachGPerM2[i].Text()
		}
		p.Changes = append(p.Changes, row)
	}
	var a rangesAt
	for _, m := range d.Course {
		a.add(m.Minutes, m.MoistureGPerG)
	}
	unit, per := "min", 1.0
	if a.x[len(a.x)-1] > 180 {
		unit, per = "hours", 60
	}
	for i := range a.x {
		a.x[i] /= per
	}
	_, high := bounds(a)
	q := &bandPlot{curve: newCurve(a.x[0], a.x[len(a.x)-1], 0, high), Name: "moisture"}
	q.XTitle, q.YTitle = unit, "g/g"
	q.ticks(5)
	q.shade(d.MendFromMin.Best/per, d.MendUntilMin.Best/per, "mend")
	q.line("first", "water in the sheet", a)
	q.Says = fmt.Sprintf(
		"Water in the sheet with time: from %s g/g down to %s g/g; a mend dries as one with it from %s to %s",
		d.StartGPerG.BestText(),
		d.EndGPerG.BestText(),
		spanText(d.MendFromMin.Best),
		spanText(d.MendUntilMin.Best),
	)
	q.Under = "Water in the sheet, g per g of dry paper. Shaded: a mend set then dries as one with it."
	p.Plots = append(p.Plots, q)
	p.Dominant, p.Warnings, p.RestsOn = d.Dominant, d.Warnings, d.RestsOn
}

// mends says what a mend does that is made at several moistures of the sheet.
func (p *dryingPage) mends(f *Form, d paper.Drying, g paper.Grain, length float64) {
	end := d.EndGPerG.Best
	for _, m := range []struct {
		when string
		gg   float64
	}{{"while it is damp", 0.5}, {"as the window closes", 0.30}, {"half dry", (0.30 + end) / 2}, {"dry", end}} {
		e, err := paper.MendExpansion(m.gg, end, g, paper.Millimetres(length))
		if err != nil {
			f.Refuse("mend_mm", "%s.", upperFirst(err.Error()))
			return
		}
		p.Expansions = append(
			p.Expansions,
			expansionRow{
				When:     m.when,
				Moisture: fig2(m.gg),
				Mismatch: e.MismatchMm.BestText(),
				Range:    spread(e.MismatchMm),
				Says:     e.Sentence,
				Bad:      e.MismatchPercent.Best >= 0.5,
			},
		)
	}
}

// settle says whether pressing is at its end by the weighings on record since
// the sheet last lay in a bath.
func (p *dryingPage) settle(c *record.Case, sheet int) {
	var since time.Time
	for _, run := range c.RunsOn(sheet) {
		if run.Body.Bath != nil {
			since = run.Body.At
		}
	}
	var list []paper.Weighing
	var first time.Time
	var of []record.Reading
	for _, x := range c.Readings {
		if b := x.Body; b.Quantity == "mass" && slices.Equal(b.Place.Sheets, []int{sheet}) && !since.IsZero() &&
			b.At.After(since) {
			of = append(of, b)
		}
	}
	slices.SortFunc(of, func(a, b record.Reading) int { return a.At.Compare(b.At) })
	for _, b := range of {
		if first.IsZero() {
			first = b.At
		}
		list = append(list, paper.Weighing{Minutes: b.At.Sub(first).Minutes(), MassG: b.Value})
		p.Weighed = append(
			p.Weighed,
			Fact{Name: b.At.Format("2 January, 15:04"), Value: fig(b.Value), Unit: "g", Basis: b.Method},
		)
	}
	if _, say, err := paper.Settled(list); err == nil {
		p.Settled = say
	} else {
		p.Settled = "Weigh the sheet twice, a day apart, in steady air: constant within 0.02 g, it is dry. " +
			"Weighings on record since its last bath: " + fmt.Sprint(len(list)) + "."
	}
}
