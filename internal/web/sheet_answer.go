package web

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchleaf/interval"
	"benchleaf/paper"
)

// waterAnswer is what a tried bath will do, as the page shows it.
type waterAnswer struct {
	Figures []bigFigure
	Plots   []*bandPlot
	Quick   bool
	Samples int
	// Light says why light would harm, "" where nothing speaks for lignin.
	Lignin                                  string
	Reserve                                 bool // some is left
	Limit                                   string
	Spreads, Conclusions, Warnings, RestsOn []string
	Says                                    string // for those who hear it
	out                                     paper.Outcome
}

// bigFigure is one figure of the answer with its range and a word beside it.
type bigFigure struct {
	Key, Name, Value, Unit, Range, Note string
	Good                                bool
}

// Samples while a value is dragged and when the hand rests, for one bath; longer
// sequences take fewer, so that an answer keeps its time.
const (
	quickSamples, quickLeast = 60, 20
	fullSamples, fullLeast   = 500, 100
	quickWork, fullWork      = 240, 2500 // samples times baths
)

func samplesFor(baths int, quick bool) int {
	if quick {
		return min(quickSamples, max(quickLeast, quickWork/baths))
	}
	return min(fullSamples, max(fullLeast, fullWork/baths))
}

// reckon works a trial out. It ends early, with ctx's error, when nobody waits
// for it any more.
func reckon(ctx context.Context, x *tried, quick bool) (*waterAnswer, error) {
	baths := x.baths(x.Baths)
	n := samplesFor(len(baths), quick)
	out, err := paper.RunContext(ctx, x.sheet, baths, paper.Options{Samples: n, Seed: 1})
	if err != nil {
		return nil, err
	}
	a := &waterAnswer{
		Quick:   quick,
		Samples: n,
		Limit:   out.Limit,
		RestsOn: out.RestsOn,
		Reserve: out.ReservePercentChalk.Best > 0,
		out:     out,
	}
	for _, r := range out.Conclusions {
		if r.Code != paper.LigninInLight { // shown above by itself
			a.Conclusions = append(a.Conclusions, r.Text)
		}
	}
	if first := a.firstBath(x); first.BathPHBefore.Best > 7 && first.BathPHBefore.Best < 10.5 {
		// Where the pH is mild it is taken for more than it can do.
		if merely, err := paper.CapacityAt(x.sheet, x.Together, first.BathPHBefore.Best, paper.Millilitres(x.VolumeMl)); err == nil {
			a.Conclusions = append(a.Conclusions, merely.Sentence)
		}
	}
	for _, r := range out.Warnings {
		if r.Bath > len(baths)-x.Baths { // nothing to be done about an earlier bath any more
			a.Warnings = append(a.Warnings, upperFirst(r.Text))
		}
	}
	a.figures(x)
	for _, y := range []struct {
		name string
		r    interval.Result
	}{{"Reserve", out.ReservePercentChalk}, {"Acid left", out.AcidLeftMmolPerKg}, {"pH of the dry sheet", out.ExtractPH}} {
		if len(y.r.Shares) > 0 {
			a.Spreads = append(a.Spreads, y.name+": "+strings.Replace(y.r.Sentence(), "Its", "its", 1))
		}
	}
	a.Plots = append(a.Plots, a.coursePlot(x))
	for _, draw := range []func(context.Context, *tried) (*bandPlot, error){a.numberPlot, a.strengthPlot} {
		p, err := draw(ctx, x)
		if err != nil {
			return nil, err
		}
		if p != nil {
			a.Plots = append(a.Plots, p)
		}
	}
	return a, nil
}

// reckonFor is reckon for a form: what cannot be reckoned is refused in it, and the
// answer is then nil. The error is that nobody waits any more.
func reckonFor(ctx context.Context, f *Form, x *tried, quick bool) (*waterAnswer, error) {
	a, err := reckon(ctx, x, quick)
	if err != nil && ctx.Err() == nil {
		f.Refuse("", "This cannot be reckoned: %v.", err)
		return nil, nil
	}
	return a, err
}

// last is the last bath of the trial.
func (a *waterAnswer) last() *paper.StepOutcome { return &a.out.Steps[len(a.out.Steps)-1] }

// firstBath is the trial's first, which meets the most acid.
func (a *waterAnswer) firstBath(x *tried) *paper.StepOutcome {
	return &a.out.Steps[len(a.out.Steps)-x.Baths]
}

func (a *waterAnswer) figures(x *tried) {
	o, last := &a.out, a.last()
	reserve := figure("reserve", "Alkaline reserve, once dry", o.ReservePercentChalk.Range, "% CaCO₃", "")
	acid := figure(
		"acid",
		"Acid left",
		o.AcidLeftMmolPerKg.Range,
		"mmol/kg",
		"of "+o.AcidDemandMmolPerKg.BestText()+" ("+o.AcidDemandMmolPerKg.Text()+")",
	)
	acid.Good = o.AcidLeftMmolPerKg.High < 0.02*o.AcidDemandMmolPerKg.Best
	a.Figures = []bigFigure{
		reserve,
		acid,
		pHFigure("sheet-ph", "pH of the dry sheet", o.ExtractPH.Range, "cold extract"),
	}
	if first := a.firstBath(x); first.TrayMmol.Best > 0.001 {
		a.Figures = append(a.Figures, spentFigure(first, x))
	}
	a.Figures = append(
		a.Figures,
		pHFigure(
			"bath-ph",
			"pH of the bath at the end",
			last.BathPH.Range,
			fmt.Sprintf("%.1f as poured", last.BathPHBefore.Best),
		),
	)
	a.Says = fmt.Sprintf(
		"Reserve %s %% chalk, acid left %s mmol per kg, pH of the dry sheet %.1f, %.1f to %.1f.",
		says(o.ReservePercentChalk.Range),
		says(o.AcidLeftMmolPerKg.Range),
		o.ExtractPH.Best,
		o.ExtractPH.Low,
		o.ExtractPH.High,
	)
}

// toHalf is after how many such sheets half of a bath's alkali is gone, with the
// range that the share spent by those in it gives; 0 when hardly any is.
func toHalf(s *paper.StepOutcome, together int) (best, low, high int) {
	const most = 10_000
	n := func(share float64) int {
		return int(math.Ceil(math.Min(most, 0.5*float64(max(together, 1))/math.Max(share, 1e-9))))
	}
	if best = s.SheetsToHalf; best == 0 {
		best = n(s.SpentShare.Best)
	}
	if best >= most {
		return 0, 0, 0
	}
	return best, min(best, n(s.SpentShare.High)), max(best, n(s.SpentShare.Low))
}

// spentFigure is how many sheets a bath serves until half of its alkali is gone.
func spentFigure(s *paper.StepOutcome, x *tried) bigFigure {
	f := bigFigure{
		Key:   "spent",
		Name:  "A bath is half spent after",
		Unit:  "such sheets",
		Value: "over 10 000",
		Note: fmt.Sprintf(
			"%s of its alkali for %s",
			percent(s.SpentShare.Best),
			plural(x.Together, "sheet", "sheets"),
		),
	}
	if s.SpentShare.Low < s.SpentShare.High {
		f.Note = fmt.Sprintf(
			"%s %% (%s) of its alkali for %s",
			s.SpentShare.Scale(100).BestText(),
			s.SpentShare.Scale(100).Text(),
			plural(x.Together, "sheet", "sheets"),
		)
	}
	best, low, high := toHalf(s, x.Together)
	if best == 0 {
		return f
	}
	if f.Value = fmt.Sprint(best); best == 1 {
		f.Unit = "such sheet"
	}
	if low < high {
		f.Range = fmt.Sprintf("%d to %d", low, high)
	}
	return f
}

// spread is a range in words, "" when it has no width.
func spread(r interval.Range) string {
	if r.Low == r.High {
		return ""
	}
	return r.Text()
}

func figure(key, name string, r interval.Range, unit, note string) bigFigure {
	return bigFigure{Key: key, Name: name, Value: r.BestText(), Unit: unit, Range: spread(r), Note: note}
}

// pHFigure writes a pH to a tenth, which is what an electrode tells.
func pHFigure(key, name string, r interval.Range, note string) bigFigure {
	f := bigFigure{Key: key, Name: name, Value: fmt.Sprintf("%.1f", r.Best), Note: note}
	if low, high := fmt.Sprintf("%.1f", r.Low), fmt.Sprintf("%.1f", r.High); low != high {
		f.Range = low + " to " + high
	}
	return f
}

// coursePlot is the pH of bath and sheet with time, one bath after the other.
func (a *waterAnswer) coursePlot(x *tried) *bandPlot {
	var bath, sheet rangesAt
	var splits []float64
	at := 0.0
	for i, s := range a.out.Steps[len(a.out.Steps)-x.Baths:] {
		if i > 0 {
			splits = append(splits, at)
		}
		bath.add(at, s.BathPHBefore.Range)
		for _, m := range s.Course {
			bath.add(at+float64(m.Minutes), m.BathPH)
			sheet.add(at+float64(m.Minutes), m.SheetPH)
		}
		at += x.Minutes
	}
	low, high := bounds(bath, sheet)
	p := &bandPlot{curve: newCurve(0, at, low, high+1), Name: "course"}
	p.pHAxis(low, high)
	p.ticks(5)
	p.XTitle, p.YTitle = "min", "pH"
	for _, v := range splits {
		p.Splits = append(p.Splits, p.x(v))
	}
	p.line("first", "bath", bath)
	p.line("second", "wet sheet", sheet)
	last := a.last()
	p.Says = fmt.Sprintf(
		"pH with time: the bath from %.1f to %.1f, the wet sheet from %.1f after %s min to %.1f after %s min",
		last.BathPHBefore.Best,
		last.BathPH.Best,
		sheet.r[0].Best,
		fig2(sheet.x[0]),
		last.SheetPH.Best,
		fig2(at),
	)
	p.Under = "pH of the bath and of the wet sheet, with time. A pH says how far it has come, not how much alkali " +
		"there is."
	return p
}

// judged is the quantity that the curves show: the reserve, or for a water, which
// leaves next to none, the acid.
func (x *tried) judged() (name, unit string, of func(paper.StepOutcome) interval.Range) {
	if x.Kind.Operation == "wash" {
		return "Acid left", "mmol/kg", func(s paper.StepOutcome) interval.Range { return s.AcidLeftMmolPerKg.Range }
	}
	return "Reserve", "% CaCO₃", func(s paper.StepOutcome) interval.Range { return s.ReservePercentChalk.Range }
}

// numbersShown is how many baths the plot against their number shows at least.
const numbersShown = 6

// numberPlot is what more or fewer of the baths would do.
func (a *waterAnswer) numberPlot(ctx context.Context, x *tried) (*bandPlot, error) {
	name, unit, of := x.judged()
	n := max(numbersShown, x.Baths)
	baths := x.baths(n)
	out, err := a.outcome(ctx, x, baths, 1, 600)
	if err != nil {
		return nil, err
	}
	var r rangesAt
	for k := range n {
		r.add(float64(k+1), of(out.Steps[len(x.had)+k]))
	}
	_, high := bounds(r)
	p := &bandPlot{curve: newCurve(0.5, float64(n)+0.5, 0, math.Max(high, 0.01)), Name: "number"}
	p.wholeTicks(1, n)
	p.XTitle, p.YTitle = "baths", unit
	p.line("first", strings.ToLower(name), r)
	here := of(*a.last())
	p.point(
		float64(x.Baths),
		here.Best,
		here.BestText(),
		name+" after "+plural(x.Baths, "bath", "baths")+": "+says(here)+" "+unit,
	)
	how := "the sheet kept wet"
	if x.DriedBetween {
		how = "the sheet dried before each"
	}
	p.Says = fmt.Sprintf(
		"%s against the number of baths, %s: %s %s after 1, %s after %d",
		name,
		how,
		r.r[0].BestText(),
		unit,
		r.r[n-1].BestText(),
		n,
	)
	p.Under = name + " against the number of such baths, " + how + "."
	return p, nil
}

// strengthPlot is what a weaker or stronger bath would do; nil for pure water.
func (a *waterAnswer) strengthPlot(ctx context.Context, x *tried) (*bandPlot, error) {
	k := x.Kind
	if k.Unit == "" {
		return nil, nil
	}
	name, unit, of := x.judged()
	const points = 8
	to := math.Max(k.To, x.Strength)
	var at []float64
	for i := range points {
		at = append(at, k.From+(to-k.From)*math.Pow(float64(i)/(points-1), 1.5))
	}
	at = append(at, x.Strength)
	slices.Sort(at)
	var r rangesAt
	y := *x
	trial := *x.Trial
	y.Trial = &trial
	for _, strength := range slices.Compact(at) {
		trial.Strength = strength
		out, err := a.outcome(ctx, &y, y.baths(x.Baths), points+1, 40*len(a.out.Steps))
		if err != nil {
			return nil, err
		}
		r.add(strength, of(out.Steps[len(out.Steps)-1]))
	}
	_, high := bounds(r)
	p := &bandPlot{curve: newCurve(0, to, 0, math.Max(high, 0.01)), Name: "strength"}
	p.ticks(5)
	p.XTitle, p.YTitle = k.Unit, unit
	p.line("first", strings.ToLower(name), r)
	here := of(*a.last())
	p.point(x.Strength, here.Best, here.BestText(), name+" at "+fig(x.Strength)+" "+k.Unit+": "+says(here)+" "+unit)
	p.Says = fmt.Sprintf(
		"%s against the strength of the bath: %s %s at %s %s, %s at %s",
		name,
		r.r[0].BestText(),
		unit,
		fig(r.x[0]),
		k.Unit,
		r.r[len(r.r)-1].BestText(),
		fig(to),
	)
	p.Under = name + " against the strength of " + k.Name + "."
	return p, nil
}

// quickBand is how many baths the points of a plot may take together to have a band
// while a value is dragged.
const quickBand = 10

// outcome is a sequence for one of a plot's points: with its ranges, or where those
// would take too long while a value is dragged, at the best values. work is samples
// times baths when the hand rests.
func (a *waterAnswer) outcome(
	ctx context.Context,
	x *tried,
	baths []paper.Bath,
	points, work int,
) (paper.Outcome, error) {
	if err := ctx.Err(); err != nil {
		return paper.Outcome{}, err
	}
	if a.Quick && points*len(baths) > quickBand {
		return paper.RunBest(x.sheet, baths, paper.Options{})
	}
	if a.Quick {
		work = 0
	}
	return paper.RunContext(ctx, x.sheet, baths, paper.Options{Samples: min(100, max(20, work/len(baths))), Seed: 1})
}
