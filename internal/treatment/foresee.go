package treatment

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"sync"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
)

// coveragePct is how often in a hundred a range is meant to hold what is read: its
// ends are the 10 and 90 % points.
const coveragePct = 80

// mostHistories is for how many groups of sheets with different histories a run's
// readings are foreseen: a page waits for each.
const mostHistories = 6

// foreseeSamples is the number of samples of each computation.
const foreseeSamples = 120

// Foreseen is what the readings of a run that is about to start are expected to show.
type Foreseen struct {
	Kept record.RunExpected
	// Limit, Dominant and Assumed are of the first sheet: what limits its reserve, what
	// its range comes from, and what was taken from the class of its paper.
	Limit, Dominant  string
	RestsOn, Assumed []string
	// Warnings are of the coming bath and its first sheet, without those that the
	// operation's own cautions say.
	Warnings []string
	Left     []int // sheets of which nothing is expected
}

// Foresee computes what readings of a bath that is about to start are expected to
// show; ok is false where nothing can be expected: no bath, or no paper described.
// The studio may be nil; its own ranges change what they were adopted for.
func Foresee(c *record.Case, st *record.Studio, run *record.RunStarted) (f Foreseen, ok bool, err error) {
	if run.Bath == nil {
		return f, false, nil
	}
	f.Kept = record.RunExpected{Run: run.ID, Model: Model(), Coverage: coveragePct}
	sheets := run.Sheets
	if len(sheets) == 0 {
		sheets = c.Sheets()
	}
	for i, of := range alike(c, sheets) {
		if i == mostHistories {
			f.Left = append(f.Left, of...)
			continue
		}
		got, err := f.group(c, st, run, of, i == 0)
		if err != nil {
			return f, false, err
		}
		if !got {
			f.Left = append(f.Left, of...)
		}
	}
	slices.Sort(f.Left)
	return f, len(f.Kept.Values) > 0, nil
}

// alike are sheets in groups of one history.
func alike(c *record.Case, sheets []int) [][]int {
	var list [][]int
	at := map[string]int{}
	for _, n := range sheets {
		h := History(c, n)
		i, known := at[h]
		if !known {
			i = len(list)
			at[h] = i
			list = append(list, nil)
		}
		list[i] = append(list[i], n)
	}
	return list
}

// group adds what is expected of sheets of one history.
func (f *Foreseen) group(
	c *record.Case, st *record.Studio, run *record.RunStarted, sheets []int, first bool,
) (bool, error) {
	of, ok := TakenSheetOf(c, sheets[0])
	if !ok {
		return false, nil
	}
	in := foreseeInputs{Sheet: of.Sheet, Options: paper.Options{Seed: 1, Samples: foreseeSamples}}
	chain := bathsOf(c, sheets[0])
	computable, alkaline, dried := true, false, false
	for _, b := range chain {
		in.Baths = append(in.Baths, b.Bath)
		computable, alkaline, dried = computable && b.computable, alkaline || b.alkaline, b.driedAfter
	}
	next := comingBath(c, run)
	next.DriedBefore = dried
	computable, alkaline = computable && next.computable, alkaline || next.alkaline
	in.Baths = append(in.Baths, next.Bath)
	out, err := paper.Run(in.Sheet, in.Baths, in.Options)
	if err != nil {
		return false, err
	}
	v := values{st: st, class: c.StockOf(sheets[0]).Class, sheets: sheets, list: &f.Kept.Values}
	v.add("mass", record.OutWet, 0, wetMass(&out))
	if computable {
		v.ofSheet(&out, alkaline)
	}
	if computable && first && onePaper(c, run) {
		v.ofBath(&out.Steps[len(out.Steps)-1], &next)
	}
	f.Kept.Inputs = append(f.Kept.Inputs, in.digest())
	f.Kept.RestsOn = append(f.Kept.RestsOn, restsOn(record.SheetNames(sheets), &of, &out)...)
	if first {
		f.Limit, f.Dominant, f.Assumed = out.Limit, out.Dominant, out.Assumed
		f.RestsOn = append(out.RestsOn, of.RestsOn...)
		for _, w := range out.Warnings {
			if w.Bath == len(in.Baths) && slices.Contains(foreseenWarnings, w.Code) {
				f.Warnings = append(f.Warnings, upper(w.Text))
			}
		}
	}
	return true, nil
}

// foreseenWarnings are what is said of a bath before it begins.
var foreseenWarnings = []paper.Code{
	paper.OnTheFloor, paper.AcidInHydride, paper.HydrideOld, paper.HydrideLeft, paper.TakesCalcium, paper.GoesCloudy,
	paper.NotCounted,
}

// restsOn says what the computation takes of the sheets, for the record.
func restsOn(sheets string, of *TakenSheet, out *paper.Outcome) []string {
	var list []string
	for _, s := range append(slices.Clone(of.RestsOn), out.Assumed...) {
		list = append(list, sheets+": "+s)
	}
	return list
}

// comingBath is the bath of a run that is about to start, for the time planned.
func comingBath(c *record.Case, run *record.RunStarted) pastBath {
	r := &record.Run{Stamped: record.Stamped[record.RunStarted]{Body: *run}}
	b, known, computable := paperBath(run.Bath, sheetsTogether(c, r))
	if run.PlannedMin > 0 {
		b.Minutes = new(paper.Minutes(math.Min(run.PlannedMin, 24*60)))
	}
	return pastBath{Bath: b, alkaline: known, computable: computable}
}

// onePaper says whether all that lies in a run's bath is of one paper, as the
// computation of the bath takes it. Of sheets of other cases that is not known.
func onePaper(c *record.Case, run *record.RunStarted) bool {
	if len(run.Bath.With) > 0 {
		return false
	}
	var first *record.Stock
	for _, n := range run.Sheets {
		s := c.StockOf(n)
		if s == nil || first != nil && s.ID != first.ID {
			return false
		}
		first = s
	}
	return first != nil
}

// wetMass is what the balance shows of a sheet as it comes out of its last bath, g:
// the dry sheet and the liquid in it, which grows with it. With m and p the mass and
// the pick-up, wet = m + mp and held = mp, so that the variance of the first is that
// of the second and (1 + 2p) times that of m (to first order, m and p independent).
func wetMass(o *paper.Outcome) interval.Range {
	dry, held := o.DryMassG.Range, o.HeldMl.Range
	p := held.Best / dry.Best
	side := func(ofDry, ofHeld float64) float64 { return math.Sqrt(ofHeld*ofHeld + (1+2*p)*ofDry*ofDry) }
	best := dry.Best + held.Best
	return interval.Range{
		Low:  best - side(dry.Best-dry.Low, held.Best-held.Low),
		Best: best,
		High: best + side(dry.High-dry.Best, held.High-held.Best),
	}
}

// values gathers what is expected.
type values struct {
	st     *record.Studio
	class  record.PaperClass
	sheets []int
	list   *[]record.ExpectedValue
}

func (v *values) add(quantity string, m record.Moment, atMin float64, r interval.Range) {
	q := record.QuantityOf(quantity)
	x := record.ExpectedValue{
		Quantity: quantity, Moment: m, AtMin: atMin, Sheets: v.sheets, Class: v.class, Unit: q.Unit, Value: clamp(r, q),
	}
	if own := v.st.OwnRangeFor(quantity, m, v.class); own != nil {
		computed := x.Value
		x.Value, x.Computed, x.Own = own.Body.Apply(computed), &computed, own.Seq
	}
	*v.list = append(*v.list, x)
}

func clamp(r interval.Range, q *record.Quantity) interval.Range {
	in := func(v float64) float64 { return min(max(v, q.Low), q.High) }
	return interval.Range{Low: in(r.Low), Best: in(r.Best), High: in(r.High)}
}

// ofSheet is what is expected of the sheets, wet and dry.
func (v *values) ofSheet(o *paper.Outcome, alkaline bool) {
	last := &o.Steps[len(o.Steps)-1]
	v.add("surface-ph", record.OutWet, 0, allowing(last.SheetPH.Range, weakPH))
	v.add("surface-ph", record.OnceDry, 0, allowing(o.ExtractPH.Range, surfaceForExtract))
	v.add("extract-ph", record.OnceDry, 0, o.ExtractPH.Range)
	if alkaline {
		v.add("reserve", record.OnceDry, 0, o.ReservePercentChalk.Range)
	}
}

// ofBath is what is expected of the bath while the sheets lie in it. The pH of a
// water as filled follows its carbon dioxide, which nobody records.
func (v *values) ofBath(s *paper.StepOutcome, b *pastBath) {
	v.sheets = nil
	if b.alkaline {
		v.add("bath-alkali", record.OutWet, 0, s.AlkaliAfterMmolPerL.Range)
	}
	if b.Minutes == nil {
		return
	}
	if b.alkaline {
		v.add("bath-ph", record.InBath, 0, allowing(s.BathPHBefore.Range, b.phModel()))
	}
	for _, m := range s.Course {
		v.add("bath-ph", record.InBath, float64(m.Minutes), allowing(m.BathPH, b.phModel()))
	}
}

// allowing widens a range by a standard uncertainty of the comparison itself.
func allowing(r interval.Range, sd float64) interval.Range {
	more := interval.FromStandard(0, sd).High
	return interval.Range{
		Low: r.Best - math.Hypot(r.Best-r.Low, more), Best: r.Best, High: r.Best + math.Hypot(r.High-r.Best, more),
	}
}

// foreseeInputs are all that a computation is given.
type foreseeInputs struct {
	Sheet   paper.Sheet
	Baths   []paper.Bath
	Options paper.Options
}

func (in foreseeInputs) digest() string {
	raw, err := json.Marshal(in)
	if err != nil {
		panic(err) // numbers that paper.Run has accepted always marshal
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:])
}

// Model names the computation of a bath as this program has it: by a digest of what
// it says of three baths that never change, to three figures, so that every program
// that computes the same has the same name and none has to be told of a change.
var Model = sync.OnceValue(func() string {
	lime := paper.Liquid{
		AlkaliMmolPerL: interval.Within(10.8, 0.8), Base: paper.Calcium, Anion: paper.Hydroxide,
	}
	bicarbonate := paper.Liquid{
		AlkaliMmolPerL: interval.Within(12, 2), Base: paper.Magnesium, Anion: paper.Bicarbonate,
	}
	h := sha256.New()
	for i, l := range []paper.Liquid{{}, bicarbonate, lime} {
		g := interval.Within(70, 7)
		out, err := paper.Run(
			paper.Sheet{
				Class: []paper.Class{paper.Rag, paper.TextChemical, paper.Newsprint}[i], WidthMm: 300, HeightMm: 200,
				GrammageGsm: &g,
			},
			[]paper.Bath{{Liquid: l, VolumeMl: interval.Within(1000, 30), Together: 2, Minutes: new(paper.Minutes(20))}},
			paper.Options{Seed: 1, Samples: 40},
		)
		if err != nil {
			return "paper, unnamed: " + err.Error()
		}
		last := out.Steps[0]
		for _, r := range []interval.Result{
			out.DryMassG, out.HeldMl, out.ReservePercentChalk, out.ExtractPH, last.BathPH, last.SheetPH,
			last.AlkaliAfterMmolPerL,
		} {
			for _, x := range []float64{r.Low, r.Best, r.High} {
				fmt.Fprint(h, strconv.FormatFloat(x, 'e', 2, 64), " ")
			}
		}
	}
	return "paper " + hex.EncodeToString(h.Sum(nil))[:12]
})
