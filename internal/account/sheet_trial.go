package account

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/paper"
)

// TrialQuestion asks what a bath will do to a sheet before it is made.
type TrialQuestion struct {
	Kind         string   `field:"kind"` // a treatment.WaterKind
	Strength     *float64 `field:"strength" what:"the strength"`
	VolumeMl     float64  `field:"volume_ml" what:"the volume" start:"1000"`
	Together     int      `field:"together" what:"the number of sheets" start:"1"`
	Minutes      float64  `field:"minutes" what:"the time" start:"20"`
	Baths        int      `field:"baths" what:"the number of baths" start:"1"`
	DriedBetween bool     `field:"dried"`
	Motion       string   `field:"motion"` // rocked, still or not said
	TempC        *float64 `field:"temp_c" what:"the temperature" start:"20"`
	DepthMm      *float64 `field:"depth_mm" what:"the depth"`
	Afresh       bool     `field:"afresh"` // leaves out the baths that it has had
	WidthMm      *float64 `field:"width_mm" what:"the width"`
	HeightMm     *float64 `field:"height_mm" what:"the height"`
	GrammageGM2  *float64 `field:"grammage_g_m2" what:"the grammage"`
	PickUpGG     *float64 `field:"pick_up_g_g" what:"the pick-up"`
	AcidMmolKg   *float64 `field:"acid_mmol_kg" what:"the acid demand"`
}

// Trial is a bath tried on a sheet, checked: it can be asked what it will do.
type Trial struct {
	treatment.Trial
	// Lignin says why light would harm, "" where nothing speaks for lignin.
	Lignin string

	of    *record.Case
	n     int // the sheet
	sheet paper.Sheet
	// rate is the drying rate over the computed one, where it was adopted.
	rate  *interval.Range
	had   []paper.Bath
	dried bool
}

// earlierBath names the baths that a sheet has had, in sentences.
const earlierBath = "earlier bath"

// Try checks a trial on a sheet. It is nil when something is refused, or when the
// paper is not described.
func Try(c *record.Case, sheet int, q TrialQuestion) (*Trial, []*record.Invalid) {
	s, ok := treatment.TakenSheetOf(c, sheet)
	if !ok {
		return nil, nil
	}
	var r refusals
	kind := treatment.WaterKindOf(q.Kind)
	switch {
	case kind == nil:
		r.say("kind", "%q is no kind of bath: choose one.", words.Clip(q.Kind))
		return nil, r
	case kind.Unit != "" && q.Strength == nil:
		r.say("strength", "Please enter the strength.")
	}
	if m := paper.Motion(q.Motion); m != "" && m != paper.Rocked && m != paper.Still {
		r.say("motion", "A bath is rocked or still, not %q.", words.Clip(q.Motion))
	}
	if r.any() {
		return nil, r
	}
	x := &Trial{
		Trial: treatment.Trial{
			Kind: kind, VolumeMl: q.VolumeMl, Together: q.Together, Minutes: q.Minutes, Baths: q.Baths,
			DriedBetween: q.DriedBetween, Motion: paper.Motion(q.Motion), TempC: orElse(q.TempC, 20),
			DepthMm: (*paper.Millimetres)(q.DepthMm), Afresh: q.Afresh, WidthMm: q.WidthMm, HeightMm: q.HeightMm,
			GrammageGM2: q.GrammageGM2, PickUpGG: q.PickUpGG, AcidMmolKg: q.AcidMmolKg,
		},
		of: c, n: sheet, rate: s.RateFactor, Lignin: treatment.Lignin(c, sheet),
	}
	if kind.Unit != "" {
		x.Strength = *q.Strength
	}
	x.sheet = x.Sheet(s.Sheet)
	if refused := x.Check(x.sheet); len(refused) > 0 {
		return nil, refused
	}
	if !q.Afresh {
		x.had, x.dried = treatment.Had(c, sheet)
		for i := range x.had {
			x.had[i].Name = earlierBath + " " + strconv.Itoa(i+1)
		}
	}
	return x, nil
}

// BathsHad counts the baths that a sheet has had.
func BathsHad(c *record.Case, sheet int) int {
	had, _ := treatment.Had(c, sheet)
	return len(had)
}

// TrialStart is where trying begins, as the fields of a TrialQuestion: the plan,
// the last bath with a strength, or the middle of the usual. from says which.
func TrialStart(c *record.Case, sheet int) (q TrialQuestion, from string) {
	q = TrialQuestion{VolumeMl: 1000, Together: 1, Minutes: 20, Baths: 1, TempC: some(20.0)}
	if p := c.PlanOf(sheet, ""); p != nil {
		b := p.Body
		if kind, strength := kindOf(b.Operation, b.Substance, b.StrengthGL, b.CalciumMgL); kind != nil {
			q.Kind, q.Strength, q.VolumeMl, q.Minutes = kind.Slug, some(strength), b.VolumeMl, b.Minutes
			q.Together, q.Baths, q.DriedBetween = b.Together, b.Baths, b.DriedBetween
			if b.TempC != nil {
				q.TempC = b.TempC
			}
			return q, "Begins with the bath chosen by " + p.By + " on " + p.Time.Format("2 January 2006") + "."
		}
	}
	for i := range c.Runs {
		run := c.Runs[len(c.Runs)-1-i].Body
		b := run.Bath
		if b == nil || c.StockOf(sheet) == nil || len(run.Sheets) > 0 && c.StockOf(run.Sheets[0]) != c.StockOf(sheet) {
			continue
		}
		kind, strength := kindOf(run.Operation, b.Substance, b.StrengthGL, b.CalciumMgL)
		if kind == nil || kind.Substance == "" {
			continue
		}
		q.Kind, q.Strength, q.Together = kind.Slug, some(strength), max(1, len(run.Sheets))
		if b.VolumeMl > 0 {
			q.VolumeMl = b.VolumeMl
		}
		if run.PlannedMin > 0 {
			q.Minutes = run.PlannedMin
		}
		return q, "Begins with the last such bath of this paper: " + run.OperationName + ", " +
			run.At.Format("2 January 2006") + "."
	}
	kind := treatment.WaterKindOf("lime")
	q.Kind, q.Strength = kind.Slug, some(kind.Start)
	return q, "Begins where benches often begin (" + kind.Basis + "); the studio has not adopted it."
}

// kindOf is the kind of bath that the record describes, with its strength.
func kindOf(
	operation, substance string,
	gramsPerLitre *interval.Range,
	calciumMgL *float64,
) (*treatment.WaterKind, float64) {
	for i := range treatment.WaterKinds {
		k := &treatment.WaterKinds[i]
		switch {
		case k.Substance != "" && k.Substance == substance && gramsPerLitre != nil:
			return k, figures3(gramsPerLitre.Best / k.GramsPerLitre(1))
		case k.Substance == "" && substance == "" && k.Operation == operation && (k.Unit != "") == (calciumMgL != nil):
			return k, orElse(calciumMgL, 0)
		}
	}
	return nil, 0
}

// baths are n of the trial's after those that the sheet has had.
func (x *Trial) baths(n int) []paper.Bath { return x.After(x.had, x.dried, n) }

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

// run is the outcome of the whole trial.
func (x *Trial) run(ctx context.Context, quick bool) (paper.Outcome, int, error) {
	baths := x.baths(x.Baths)
	n := samplesFor(len(baths), quick)
	out, err := treatment.Bathe(ctx, x.sheet, baths, paper.Options{Samples: n, Seed: 1})
	if err != nil && ctx.Err() == nil {
		err = fmt.Errorf("this cannot be calculated: %w", err)
	}
	return out, n, err
}

// Plan is the chosen bath with what is expected of it, and what the expectation
// rests on.
func (x *Trial) Plan(a *Water, sheets []int, reason string, known []Known) record.BathPlan {
	o := &a.out
	b := record.BathPlan{
		Sheets: sheets, Operation: x.Kind.Operation, Liquid: x.Kind.Words(x.Strength), Substance: x.Kind.Substance,
		VolumeMl: x.VolumeMl, Together: x.Together, Minutes: x.Minutes, Baths: x.Baths,
		DriedBetween: x.DriedBetween && x.Baths > 1, TempC: &x.TempC, Reason: reason,
		ReservePct: some(o.ReservePercentChalk.Range), AcidLeftMmolKg: some(o.AcidLeftMmolPerKg.Range),
		ExtractPH: some(o.ExtractPH.Range),
	}
	switch {
	case x.Kind.Substance != "":
		g := x.Kind.GramsPerLitre(x.Strength)
		b.StrengthGL = some(interval.Within(g, 0.05*g))
	case x.Kind.Unit != "":
		b.CalciumMgL = &x.Strength
	}
	named := map[Basis][]string{}
	for _, y := range known {
		named[y.Basis] = append(named[y.Basis], strings.ToLower(y.Name))
	}
	rests := ""
	for _, y := range []struct {
		basis Basis
		words string
	}{{Measured, "measured: "}, {Adopted, "estimated from readings and adopted: "}, {Assumed, "from the class of paper: "},
		{Tried, "assumed for trial: "}} {
		rests = words.Joined("; ", rests, words.After(y.words, strings.Join(named[y.basis], ", ")))
	}
	b.RestsOn = words.Joined("; ", rests, fmt.Sprintf("%d samples of the ranges, 10 to 90 %%", a.Samples))
	if len(x.had) > 0 {
		b.RestsOn += "; after " + plural(len(x.had), earlierBath)
	}
	return b
}

// ExpectWords say what is expected of a chosen bath, with its ranges.
func ExpectWords(b *record.BathPlan) string {
	var parts []string
	if r := b.ReservePct; r != nil {
		parts = append(parts, "reserve "+en.Range(*r, "% CaCO₃"))
	}
	if r := b.AcidLeftMmolKg; r != nil {
		parts = append(parts, "acid left "+en.Range(*r, "mmol/kg"))
	}
	if r := b.ExtractPH; r != nil {
		parts = append(parts, "pH of the dry sheet "+en.Figure(words.PH(*r)))
	}
	return strings.Join(parts, "; ")
}
