package account

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/paper"
)

// Water is what a tried bath will do.
type Water struct {
	Figures []Fact
	Curves  []Curve
	Quick   bool // fewer samples, while the hand moves
	Samples int
	Lignin  string
	Limit   string // "": of a water that leaves no reserve

	Spreads, Conclusions, Warnings, RestsOn []string

	Says string // for those who hear it
	out  paper.Outcome
}

// mildPH are the ends between which the pH of a bath is taken for more than it
// can do.
const mildLow, mildHigh = 7, 10.5

func (x *Trial) water(ctx context.Context, quick bool) (*Water, error) {
	out, n, err := x.run(ctx, quick)
	if err != nil {
		return nil, err
	}
	a := &Water{
		Quick: quick, Samples: n, Limit: out.Limit, RestsOn: out.RestsOn, Lignin: x.Lignin, out: out,
	}
	if x.Kind.Operation == "wash" && out.ReservePercentChalk.Best <= 0 {
		a.Limit = ""
	}
	for _, s := range out.Conclusions {
		if s.Code != paper.LigninInLight { // shown above by itself
			a.Conclusions = append(a.Conclusions, s.Text)
		}
	}
	if ph := a.first(x).BathPHBefore.Best; ph > mildLow && ph < mildHigh {
		if merely, err := paper.CapacityAt(x.sheet, x.Together, ph, paper.Millilitres(x.VolumeMl)); err == nil {
			a.Conclusions = append(a.Conclusions, merely.Sentence)
		}
	}
	for _, s := range out.Warnings {
		if s.Bath > len(x.had) { // nothing to be done about an earlier bath any more
			a.Warnings = append(a.Warnings, en.Upper(s.Text))
		}
	}
	a.figures(x)
	for _, y := range []struct {
		name string
		r    interval.Result
	}{
		{"Reserve", out.ReservePercentChalk}, {"Acid left", out.AcidLeftMmolPerKg},
		{"pH of the dry sheet", out.ExtractPH},
	} {
		if len(y.r.Shares) > 0 {
			a.Spreads = append(a.Spreads, y.name+": "+strings.Replace(y.r.Sentence(), "Its", "its", 1))
		}
	}
	a.Curves = []Curve{a.course(x)}
	for _, draw := range []func(context.Context, *Trial) (*Curve, error){a.byNumber, a.byStrength} {
		c, err := draw(ctx, x)
		if err != nil {
			return nil, err
		}
		if c != nil {
			a.Curves = append(a.Curves, *c)
		}
	}
	return a, nil
}

// last is the last bath of the trial; first its first, which meets the most acid.
func (a *Water) last() *paper.StepOutcome { return &a.out.Steps[len(a.out.Steps)-1] }

func (a *Water) first(x *Trial) *paper.StepOutcome { return &a.out.Steps[len(a.out.Steps)-x.Baths] }

// acidGone is the share of the demand below which the acid counts as gone.
const acidGone = 0.02

// left are what a sheet keeps: its reserve, the acid, and the pH that they give.
func left(o *paper.Outcome) (reserve, acid, ph Fact) {
	reserve = ranged("reserve", "Alkaline reserve, once dry", o.ReservePercentChalk.Range, "% CaCO₃")
	acid = ranged("acid", "Acid left", o.AcidLeftMmolPerKg.Range, "mmol/kg")
	acid.RestsOn = "of " + en.Range(o.AcidDemandMmolPerKg.Range, "")
	acid.Good = o.AcidLeftMmolPerKg.High < acidGone*o.AcidDemandMmolPerKg.Best
	return reserve, acid, phFact("sheet-ph", "pH of the dry sheet", o.ExtractPH.Range, "cold extract")
}

func phFact(code Code, name string, r interval.Range, rests string) Fact {
	return Fact{Code: code, Name: name, Figure: some(words.PH(r)), RestsOn: rests, Basis: Computed}
}

// OutcomeFacts are what a sequence of baths leaves in a sheet.
func OutcomeFacts(o *paper.Outcome) []Fact {
	reserve, acid, ph := left(o)
	list := []Fact{
		ranged("dry-mass", "Oven-dry sheet", o.DryMassG.Range, "g"), held(o), acid, reserve,
		ranged("reserve-mol", "The same", o.ReserveMolPerKg.Range, "mol/kg"), ph,
	}
	if o.SodiumMmolPerKg.High > 0 {
		list = append(list, ranged("sodium", "Sodium left", o.SodiumMmolPerKg.Range, "mmol/kg"))
	}
	if o.PotassiumMmolPerKg.High > 0 {
		list = append(list, ranged("potassium", "Potassium left", o.PotassiumMmolPerKg.Range, "mmol/kg"))
	}
	if o.BoronMmolPerKg.High > 0 {
		list = append(list, ranged("boron", "Boron left", o.BoronMmolPerKg.Range, "mmol/kg"))
	}
	return list
}

// held is the liquid in a sheet, with the pick-up on both its bases: a balance at the
// bench weighs the sheet in room air (OnTheBalance).
func held(o *paper.Outcome) Fact {
	f := ranged("held", "Liquid held", o.HeldMl.Range, "mL")
	f.RestsOn = en.Best(o.PickUpGPerG.Range, "g") + " for a g of oven-dry paper; against its weight in room air the " +
		"balance shows " + en.Best(o.OnTheBalanceGPerG.Range, "g/g")
	return f
}

func (a *Water) figures(x *Trial) {
	last := a.last()
	reserve, acid, sheet := left(&a.out)
	a.Figures = []Fact{reserve, acid, sheet}
	if first := a.first(x); first.TrayMmol.Best > 0.001 {
		a.Figures = append(a.Figures, spent(first, x.Together))
	}
	a.Figures = append(a.Figures, phFact("bath-ph", "pH of the bath at the end", last.BathPH.Range,
		en.Figure(words.PH(interval.Exactly(last.BathPHBefore.Best)))+" as poured"))
	a.Says = fmt.Sprintf("Reserve %s chalk, acid left %s, pH of the dry sheet %s.",
		en.Figure(*reserve.Figure), en.Figure(*acid.Figure), en.Figure(*sheet.Figure))
}

// spent is after how many such sheets half of a bath's alkali is gone, with the
// range that the share spent by those in it gives.
func spent(s *paper.StepOutcome, together int) Fact {
	const most = 10_000
	share := s.SpentShare.Scale(100)
	f := said("spent", "A bath is half spent after", "over 10 000 such sheets",
		en.Range(share, "%")+" of its alkali for "+plural(together, "sheet"))
	n := func(share float64) float64 {
		return math.Ceil(math.Min(most, 0.5*float64(max(together, 1))/math.Max(share, 1e-9)))
	}
	best := float64(s.SheetsToHalf)
	if best == 0 {
		best = n(s.SpentShare.Best)
	}
	if best >= most {
		return f
	}
	r := interval.Range{Low: min(best, n(s.SpentShare.High)), Best: best, High: max(best, n(s.SpentShare.Low))}
	unit := "such sheets"
	if best == 1 {
		unit = "such sheet"
	}
	f.Text, f.Figure = "", &words.Figure{Value: best, Unit: unit, Range: &r, Least: 1}
	return f
}

// course is the pH of bath and sheet with time, one bath after the other.
func (a *Water) course(x *Trial) Curve {
	bath, sheet := Series{Words: "bath"}, Series{Words: "wet sheet"}
	c := Curve{Name: "course", XTitle: "min", YTitle: "pH"}
	at := 0.0
	for i, s := range a.out.Steps[len(a.out.Steps)-x.Baths:] {
		if i > 0 {
			c.Splits = append(c.Splits, at)
		}
		bath.add(at, s.BathPHBefore.Range)
		for _, m := range s.Course {
			bath.add(at+float64(m.Minutes), m.BathPH)
			sheet.add(at+float64(m.Minutes), m.SheetPH)
		}
		at += x.Minutes
	}
	c.Lines, c.X, c.Y = []Series{bath, sheet}, Axis{To: at, Ticks: 5}, phAxis(bounds(bath, sheet))
	last := a.last()
	c.Says = fmt.Sprintf("pH with time: the bath from %.1f to %.1f, the wet sheet from %.1f after %s min to %.1f "+
		"after %s min", last.BathPHBefore.Best, last.BathPH.Best, sheet.R[0].Best, rough(sheet.X[0]),
		last.SheetPH.Best, rough(at))
	c.Under = "pH of the bath and of the wet sheet, with time. A pH says how far it has come, not how much alkali " +
		"there is."
	return c
}

// judged is the quantity that the curves show: the reserve, or for a water, which
// leaves next to none, the acid.
func (x *Trial) judged() (name, unit string, of func(paper.StepOutcome) interval.Range) {
	if x.Kind.Operation == "wash" {
		return "Acid left", "mmol/kg", func(s paper.StepOutcome) interval.Range { return s.AcidLeftMmolPerKg.Range }
	}
	return "Reserve", "% CaCO₃", func(s paper.StepOutcome) interval.Range { return s.ReservePercentChalk.Range }
}

// upTo is an axis from 0 that holds a series.
func upTo(l Series) Axis {
	_, high := bounds(l)
	return Axis{To: math.Max(high, 0.01)}
}

// numbersShown is how many baths the plot against their number shows at least.
const numbersShown = 6

// byNumber is what more or fewer of the baths would do.
func (a *Water) byNumber(ctx context.Context, x *Trial) (*Curve, error) {
	name, unit, of := x.judged()
	n := max(numbersShown, x.Baths)
	out := a.out // the same baths, if as many are tried
	if n > x.Baths {
		var err error
		if out, err = a.outcome(ctx, x, x.baths(n), 1, 600); err != nil {
			return nil, err
		}
	}
	l := Series{Words: strings.ToLower(name)}
	for k := range n {
		l.add(float64(k+1), of(out.Steps[len(x.had)+k]))
	}
	here := of(*a.last())
	how := "the sheet kept wet"
	if x.DriedBetween {
		how = "the sheet dried before each"
	}
	return &Curve{
		Name: "number", XTitle: "baths", YTitle: unit, Lines: []Series{l},
		X: Axis{From: 0.5, To: float64(n) + 0.5, Each: 1}, Y: upTo(l),
		Points: []Mark{{X: float64(x.Baths), Y: here.Best, Words: en.Best(here, ""),
			Says: name + " after " + plural(x.Baths, "bath") + ": " + en.Range(here, unit)}},
		Says: fmt.Sprintf("%s against the number of baths, %s: %s after 1, %s after %d",
			name, how, en.Best(l.R[0], unit), en.Best(l.last(), ""), n),
		Under: name + " against the number of such baths, " + how + ".",
	}, nil
}

// byStrength is what a weaker or stronger bath would do; nil for pure water.
func (a *Water) byStrength(ctx context.Context, x *Trial) (*Curve, error) {
	k := x.Kind
	if k.Unit == "" {
		return nil, nil
	}
	name, unit, of := x.judged()
	const points = 8
	to := math.Max(k.To, x.Strength)
	at := []float64{x.Strength}
	for i := range points {
		at = append(at, k.From+(to-k.From)*math.Pow(float64(i)/(points-1), 1.5))
	}
	slices.Sort(at)
	at = slices.Compact(at)
	out, failed := make([]paper.Outcome, len(at)), make([]error, len(at))
	var wait sync.WaitGroup
	for i, strength := range at {
		if strength == x.Strength {
			out[i] = a.out
			continue
		}
		wait.Go(func() {
			y := *x
			y.Strength = strength
			out[i], failed[i] = a.outcome(ctx, &y, y.baths(x.Baths), points+1, 40*len(a.out.Steps))
		})
	}
	wait.Wait()
	l := Series{Words: strings.ToLower(name)}
	for i, strength := range at {
		if failed[i] != nil {
			return nil, failed[i]
		}
		l.add(strength, of(out[i].Steps[len(out[i].Steps)-1]))
	}
	here := of(*a.last())
	return &Curve{
		Name: "strength", XTitle: k.Unit, YTitle: unit, Lines: []Series{l}, X: Axis{To: to, Ticks: 5}, Y: upTo(l),
		Points: []Mark{{X: x.Strength, Y: here.Best, Words: en.Best(here, ""),
			Says: name + " at " + en.Quantity(x.Strength, k.Unit) + ": " + en.Range(here, unit)}},
		Says: fmt.Sprintf("%s against the strength of the bath: %s at %s, %s at %s", name, en.Best(l.R[0], unit),
			en.Quantity(l.X[0], k.Unit), en.Best(l.last(), unit), en.Number(to)),
		Under: name + " against the strength of " + k.Name + ".",
	}, nil
}

// quickBand is how many baths the points of a plot may take together to have a band
// while a value is dragged.
const quickBand = 10

// outcome is a sequence for one of a plot's points: with its ranges, or where those
// would take too long while a value is dragged, at the best values. work is samples
// times baths when the hand rests.
func (a *Water) outcome(ctx context.Context, x *Trial, baths []paper.Bath, points, work int) (paper.Outcome, error) {
	if err := ctx.Err(); err != nil {
		return paper.Outcome{}, err
	}
	if a.Quick && points*len(baths) > quickBand {
		return paper.RunBest(x.sheet, baths, paper.Options{Brief: true})
	}
	if a.Quick {
		work = 0
	}
	return treatment.Bathe(ctx, x.sheet, baths, paper.Options{
		Samples: min(100, max(20, work/len(baths))), Seed: 1, Brief: true,
	})
}
