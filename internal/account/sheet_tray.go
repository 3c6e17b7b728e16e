package account

import (
	"fmt"
	"math"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/interval"
	"benchleaf/paper"
)

// EconomyQuestion asks how many sheets a tray serves, and how rinse water is
// used.
type EconomyQuestion struct {
	Sheets         int      `field:"sheets" what:"the number of sheets" from:"1" to:"200" unit:"sheets"`
	AlkaliSharePct *float64 `field:"alkali_share" what:"the alkali of a bath" from:"0" to:"99" unit:"%" start:"50"`
	BathPH         *float64 `field:"bath_ph" what:"the least pH of a bath" from:"7" to:"13"`
	AcidLeftMmolKg *float64 `field:"acid_left" what:"the acid that may be left" from:"0.1" to:"500" unit:"mmol/kg"`
	ReservePct     *float64 `field:"reserve" what:"the least reserve" from:"0" to:"10" unit:"%"`
	Trays          int      `field:"trays" what:"the number of trays" from:"1" to:"10" unit:"trays" start:"3"`
	RinseMl        float64  `field:"rinse_ml" what:"the volume of a rinse" from:"10" to:"100000" unit:"mL" start:"1000"`
	RinseMin       float64  `field:"rinse_min" what:"the time of a rinse" from:"0.5" to:"1440" unit:"min" start:"15"`
}

// Economy is how far a tray goes.
type Economy struct {
	Bath, Served string
	Caution      string // the same for sheets with much acid and pick-up
	Facts        []Fact
	Curves       []Curve
	Rinses       []RinseWay
	RinseSays    string
}

// RinseWay is one way to use rinse water; First and Last are what the first and
// the last load keep of any substance that nothing holds back.
type RinseWay struct {
	Name, How, First, Last, WaterL string
	Fillings                       int
}

// Economy answers q for as many such baths as are tried; what cannot be is said
// at its field.
func (x *Trial) Economy(q EconomyQuestion) (a *Economy, refused []*record.Invalid) {
	var r refusals
	t := x.Trial
	t.DriedBetween = false
	baths := t.After(nil, false, t.Baths)
	a = &Economy{Bath: fmt.Sprintf("%s of %s, %s, %s, %s at once; dry sheets go in", plural(t.Baths, "tray"),
		t.Kind.Words(t.Strength), en.Quantity(t.VolumeMl, "mL"), en.Quantity(t.Minutes, "min"),
		plural(t.Together, "sheet"))}
	if err := a.serve(x, baths, q); err != nil {
		r.at("sheets", err)
		return nil, r
	}
	if err := a.rinse(x, q); err != nil {
		r.at("rinse_ml", err)
		return nil, r
	}
	return a, nil
}

// serve takes the sheets through the trays, at the best values and with the acid
// and the pick-up at their ends.
func (a *Economy) serve(x *Trial, baths []paper.Bath, q EconomyQuestion) error {
	limits := paper.Limits{
		AlkaliShare: orElse(q.AlkaliSharePct, 0) / 100, BathPH: orElse(q.BathPH, 0),
		AcidLeftMmolPerKg: orElse(q.AcidLeftMmolKg, 0), ReservePercentChalk: orElse(q.ReservePct, 0),
	}
	best, err := paper.Serve(x.sheet, baths, q.Sheets, limits)
	if err != nil {
		return err
	}
	easy, hard := treatment.Ends(x.sheet)
	low, err := paper.Serve(hard, baths, q.Sheets, limits)
	if err != nil {
		return err
	}
	a.Served = best.Limit
	if low.Sheets < best.Sheets {
		a.Caution = "Sheets with much acid and pick-up (both at their 90 % point): " + low.Limit
	}
	// The plots go on past the limit, to the last sheet.
	var runs [3]paper.Served
	for i, s := range []paper.Sheet{hard, x.sheet, easy} {
		if runs[i], err = paper.Serve(s, baths, q.Sheets, paper.Limits{}); err != nil {
			return err
		}
	}
	a.facts(best, float64(runs[1].Minutes), q.Sheets)
	a.curves(x, runs, q.Sheets)
	return nil
}

// facts are what all sheets take, the trays being filled anew when they no longer
// serve.
func (a *Economy) facts(best paper.Served, minutes float64, sheets int) {
	serves := fmt.Sprintf("%d of %s", best.Sheets, plural(sheets, "sheet"))
	a.Facts = []Fact{said("serves", "One filling serves", serves, "")}
	if best.Sheets > 0 {
		fillings := (sheets + best.Sheets - 1) / best.Sheets
		a.Facts = append(a.Facts, estimate("water", fmt.Sprintf("For all %d", sheets),
			float64(fillings)*best.WaterMl/1000, "L", plural(fillings, "filling")+" of "+rough(best.WaterMl/1000)+" L"))
	}
	a.Facts = append(a.Facts, said("time", "Until the last is out", lasting(minutes),
		"one load in each tray at a time, the trays working side by side; filling and lifting not counted"))
}

func (a *Economy) curves(x *Trial, runs [3]paper.Served, sheets int) {
	series := func(words string, of func(paper.Load) float64) Series {
		l := Series{Words: words}
		for i, load := range runs[1].Loads {
			lo, best, hi := of(runs[0].Loads[i]), of(load), of(runs[2].Loads[i])
			l.add(float64(load.Sheets), interval.Range{Low: min(lo, best, hi), Best: best, High: max(lo, best, hi)})
		}
		return l
	}
	draw := func(name, unit, says string, y Axis, lines ...Series) {
		l := lines[0]
		a.Curves = append(a.Curves, Curve{
			Name: name, XTitle: "sheets", YTitle: unit, X: Axis{To: float64(max(sheets, 2)), Ticks: 5}, Y: y,
			Lines: lines,
			Under: says, Says: fmt.Sprintf("%s: %s after %s sheets, %s after %s", says, en.Best(l.R[0], ""),
				en.Number(l.X[0]), en.Best(l.last(), ""), en.Number(l.X[len(l.X)-1])),
		})
	}
	last := x.Baths - 1
	if x.Kind.Unit != "" {
		share := func(tray int) func(paper.Load) float64 {
			return func(y paper.Load) float64 { return 100 * y.AlkaliShare[tray] }
		}
		lines := []Series{series("first tray", share(0))}
		if last > 0 {
			lines = append(lines, series("last tray", share(last)))
		}
		draw("share", "%", "Alkali left in the tray, of what was poured", Axis{To: 100}, lines...)
	}
	if name, unit, _ := x.judged(); name == "Reserve" {
		l := series("reserve", func(y paper.Load) float64 { return y.ReservePercentChalk })
		draw("kept", unit, "Reserve that each sheet keeps", upTo(l), l)
	}
	acid := series("acid left", func(y paper.Load) float64 { return y.AcidLeftMmolPerKg })
	if _, high := bounds(acid); high > 0.1 {
		draw("acid", "mmol/kg", "Acid left in each sheet", upTo(acid), acid)
	}
	ph := series("pH", func(y paper.Load) float64 { return y.BathPH[last] })
	draw("ph", "pH", "pH of the last tray as each load leaves it", phAxis(bounds(ph)), ph)
}

// rinseWays are the names of the schemes of package paper.
var rinseWays = map[paper.RinseScheme][2]string{
	paper.FreshRinses: {"Fresh water", "every tray filled anew for every load"},
	paper.CascadeRinses: {
		"Cascade",
		"after each load the first tray is poured away, the others move up, the last is filled anew",
	},
	paper.SameRinses: {"One filling", "the trays filled once"},
}

// rinse compares fresh water, a cascade and one filling.
func (a *Economy) rinse(x *Trial, q EconomyQuestion) error {
	out, err := paper.RunBest(x.sheet, []paper.Bath{x.Bath()}, paper.Options{})
	if err != nil {
		return err
	}
	held := out.HeldMl.Best * float64(x.Together)
	loads := (q.Sheets + x.Together - 1) / x.Together
	all, err := paper.Rinses(paper.Millilitres(held), paper.Millilitres(q.RinseMl), q.Trays, loads)
	if err != nil {
		return err
	}
	for _, y := range all {
		a.Rinses = append(a.Rinses, RinseWay{
			Name: rinseWays[y.Scheme][0], How: rinseWays[y.Scheme][1], First: percent(y.Left[0]),
			Last: percent(y.Left[len(y.Left)-1]), WaterL: rough(y.WaterMl / 1000),
			Fillings: int(math.Round(y.WaterMl / q.RinseMl)),
		})
	}
	a.RinseSays = fmt.Sprintf("%s of %s, %s mL held by each load, %s of %s. Each rinse lasts %s, long enough to come "+
		"level; with the trays side by side the last load is out after %s, whichever way.", plural(loads, "load"),
		plural(x.Together, "sheet"), rough(held), plural(q.Trays, "tray"), en.Quantity(q.RinseMl, "mL"),
		en.Quantity(q.RinseMin, "min"), lasting(q.RinseMin*float64(q.Trays+loads-1)))
	return nil
}
