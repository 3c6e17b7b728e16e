package paper

import (
	"context"
	"fmt"
	"math"
	"slices"

	"benchleaf/interval"
)

// Molar masses, g/mol (IUPAC 2021, abridged), and the acid that 1 mol of
// carbonate neutralises.
const (
	molarChalk   = 100.086
	acidPerChalk = 2
)

// percentChalk turns an alkaline reserve in mol of acid per kg into % CaCO3 by
// mass: 0.4 mol/kg is 2.0 % (ISO 9706; ISO 10716 gives the reserve in mol/kg).
func percentChalk(molPerKg float64) float64 { return molPerKg / acidPerChalk * molarChalk / 10 }

// molPerKg turns % CaCO3 by mass into mol of acid per kg.
func molPerKg(percentChalk float64) float64 { return percentChalk * 10 / molarChalk * acidPerChalk }

// Options of a calculation.
type Options struct {
	// EndsAs is how the sheet is left to dry after the last bath; "" means
	// drained.
	EndsAs Held `json:"ends_as,omitempty"`
	// Samples, 20 to 100,000, 0 for 500, and the seed of the sampling.
	Samples int    `json:"samples,omitempty"`
	Seed    uint64 `json:"seed,omitempty"`
	// FitRounds of 128 samples that a fit to readings rests on; 0 means 5. Fewer are
	// quicker and rougher.
	FitRounds int `json:"fit_rounds,omitempty"`
}

// Outcome is what a sequence of baths leaves in a sheet once it is dry.
type Outcome struct {
	DryMassG interval.Result `json:"dry_mass_g"`
	HeldMl   interval.Result `json:"held_ml"`
	// AcidDemandMmolPerKg is soluble and fixed acid before the first bath;
	// AcidNeutralisedMmolPerKg what alkali neutralised of it; AcidLeftMmolPerKg
	// what is still in the sheet. Acid that left with the water is in neither.
	AcidDemandMmolPerKg      interval.Result `json:"acid_demand_mmol_per_kg"`
	AcidNeutralisedMmolPerKg interval.Result `json:"acid_neutralised_mmol_per_kg"`
	AcidLeftMmolPerKg        interval.Result `json:"acid_left_mmol_per_kg"`
	// ReserveMolPerKg is the alkaline reserve, mol of acid per kg of dry paper,
	// with what was there before; ReservePercentChalk the same as % CaCO3.
	ReserveMolPerKg     interval.Result `json:"reserve_mol_per_kg"`
	ReservePercentChalk interval.Result `json:"reserve_percent_caco3"`
	// SodaAlkaliMmolPerKg is soluble alkali that is no reserve.
	SodaAlkaliMmolPerKg interval.Result `json:"soda_alkali_mmol_per_kg"`
	SodiumMmolPerKg     interval.Result `json:"sodium_mmol_per_kg"`
	BoronMmolPerKg      interval.Result `json:"boron_mmol_per_kg"`
	// ExtractPH is the pH of a cold extract of the dry sheet, 2 g in 100 mL (ISO
	// 6588-1), once its alkali has turned to carbonate. Its range holds that an
	// extract of chalk reads 8.2 where the air's carbon dioxide has reached it
	// and towards 10 where none has.
	ExtractPH interval.Result `json:"extract_ph"`
	Steps     []StepOutcome   `json:"steps"`

	// Limit is the sentence that says what limits the reserve; Conclusions what a
	// person should take from the numbers.
	Limit       string   `json:"limit"`
	Dominant    string   `json:"dominant"`
	Conclusions []Remark `json:"conclusions,omitempty"`
	Warnings    []Remark `json:"warnings,omitempty"`
	// Assumed lists every value taken from the class because it was not
	// measured; RestsOn what the calculation as a whole rests on.
	Assumed []string `json:"assumed,omitempty"`
	RestsOn []string `json:"rests_on"`
}

// StepOutcome is one bath afterwards.
type StepOutcome struct {
	Name string `json:"name"`
	// TrayMmol is the alkali in the bath as filled; SpentShare the share of it
	// that is gone, of which AcidShare went to acid, and the rest was carried out
	// or fell as chalk.
	TrayMmol   interval.Result `json:"tray_mmol"`
	SpentShare interval.Result `json:"spent_share"`
	AcidShare  interval.Result `json:"acid_share"`
	// AlkaliAfterMmolPerL is the alkali of the bath afterwards.
	AlkaliAfterMmolPerL interval.Result `json:"alkali_after_mmol_per_l"`
	// ReservePercentChalk is the reserve if the sheet were dried after this bath.
	ReservePercentChalk interval.Result `json:"reserve_percent_caco3"`
	AcidLeftMmolPerKg   interval.Result `json:"acid_left_mmol_per_kg"`
	BoronMmolPerKg      interval.Result `json:"boron_mmol_per_kg"`
	// BathPHBefore is the pH of the bath as filled, BathPH that at the end, and
	// SheetPH what an electrode on the wet sheet shows then.
	BathPHBefore interval.Result `json:"bath_ph_before"`
	BathPH       interval.Result `json:"bath_ph"`
	SheetPH      interval.Result `json:"sheet_ph"`
	// Course is the bath with time; empty when no time was given.
	Course []Moment `json:"course,omitempty"`
	// SheetsToHalf is how many such sheets, one after the other, use up half of
	// the bath's alkali; 0 when it has none or no number up to 10,000 does.
	SheetsToHalf int `json:"sheets_to_half,omitempty"`
}

// Moment is sheet and bath at a time.
type Moment struct {
	Minutes             Minutes        `json:"minutes"`
	BathPH              interval.Range `json:"bath_ph"`
	SheetPH             interval.Range `json:"sheet_ph"`
	AcidLeftMmolPerKg   interval.Range `json:"acid_left_mmol_per_kg"`
	ReservePercentChalk interval.Range `json:"reserve_percent_caco3"`
}

// Places of the inputs of one calculation.
const (
	iMass = iota
	iMoisture
	iPickUp
	iSoluble
	iFixed
	iBefore
	iCarried
	iPorosity
	iFilm
	iDiffusion
	iAir
	iBaths // strength and volume of the first bath, and so on
)

// Places of the outputs of one calculation.
const (
	oDry = iota
	oHeld
	oDemand
	oNeutralised
	oLeft
	oReserve
	oChalk
	oSoda
	oSodium
	oBoron
	oExtract
	oSteps // the first output of the first step
)

// Places of the outputs of one step.
const (
	pTray = iota
	pSpent
	pAcid
	pAfter
	pChalk
	pLeft
	pBoron
	pBefore
	pBath
	pSheet
	pCourse // the first output of the first moment
	pCount  = pCourse + mCount*len(moments)
)

// Places of the outputs of one moment.
const (
	mBath = iota
	mSheet
	mLeft
	mChalk
	mCount
)

// moments are the shares of a bath's time at which its course is given.
var moments = [...]float64{0.01, 0.03, 0.08, 0.2, 0.4, 0.65, 1}

const maxBaths = 60

// Run takes a sheet through baths in order and dries it. The best values are
// the course at the best values of all inputs; the ranges come from sampling
// them. Errors, each one sentence: an impossible sheet or bath, no bath, more
// than 60.
func Run(s Sheet, baths []Bath, o Options) (Outcome, error) {
	return RunContext(context.Background(), s, baths, o)
}

// RunContext is Run, and ends between two samples with ctx's error when nobody
// waits for the answer any more.
func RunContext(ctx context.Context, s Sheet, baths []Bath, o Options) (Outcome, error) {
	if err := check(s, baths, o); err != nil {
		return Outcome{}, err
	}
	k := s.complete(o.EndsAs)
	study := interval.Study{Inputs: k.inputs(baths, o), Samples: o.Samples, Seed: o.Seed}
	r, err := sample(study, oSteps+pCount*len(baths), func() func(in, out []float64) error {
		c := course{baths: baths, areaM2: k.areaM2}
		return func(in, out []float64) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return c.follow(in, out)
		}
	})
	if ctx.Err() != nil {
		return Outcome{}, ctx.Err()
	}
	if err != nil {
		return Outcome{}, err
	}
	return outcome(s, k, baths, r), nil
}

// RunBest is Run at the best values of all inputs alone: every range is the best
// value, and nothing says what a spread rests on. It takes a hundredth of the
// time, for the points of a curve. Errors: those of Run.
func RunBest(s Sheet, baths []Bath, o Options) (Outcome, error) {
	if err := check(s, baths, o); err != nil {
		return Outcome{}, err
	}
	k := s.complete(o.EndsAs)
	out := make([]float64, oSteps+pCount*len(baths))
	c := course{baths: baths, areaM2: k.areaM2}
	if err := c.follow(k.best(baths, o), out); err != nil {
		return Outcome{}, err
	}
	r := make([]interval.Result, len(out))
	for i, v := range out {
		r[i].Range = interval.Exactly(v)
	}
	return outcome(s, k, baths, r), nil
}

// outcome puts the outputs in their places and says what they mean.
func outcome(s Sheet, k known, baths []Bath, r []interval.Result) Outcome {
	out := Outcome{
		DryMassG: r[oDry], HeldMl: r[oHeld],
		AcidDemandMmolPerKg: r[oDemand], AcidNeutralisedMmolPerKg: r[oNeutralised], AcidLeftMmolPerKg: r[oLeft],
		ReserveMolPerKg: r[oReserve], ReservePercentChalk: r[oChalk],
		SodaAlkaliMmolPerKg: r[oSoda], SodiumMmolPerKg: r[oSodium], BoronMmolPerKg: r[oBoron], ExtractPH: r[oExtract],
		Assumed: k.assumed, Dominant: r[oChalk].Sentence(),
	}
	halves := k.sheetsToHalf(baths)
	for i, b := range baths {
		step := stepOutcome(b, r[oSteps+pCount*i:])
		step.SheetsToHalf = halves[i]
		out.Steps = append(out.Steps, step)
	}
	out.comment(k, baths)
	if s.ColdExtractPH != nil {
		out.RestsOn = append(
			out.RestsOn,
			fmt.Sprintf(
				"The cold extraction pH of %.1f is kept beside the numbers; it does not say how much acid there is.",
				*s.ColdExtractPH,
			),
		)
	}
	return out
}

func stepOutcome(b Bath, x []interval.Result) StepOutcome {
	s := StepOutcome{
		Name: b.called(), TrayMmol: x[pTray], SpentShare: x[pSpent], AcidShare: x[pAcid],
		AlkaliAfterMmolPerL: x[pAfter],
		ReservePercentChalk: x[pChalk], AcidLeftMmolPerKg: x[pLeft], BoronMmolPerKg: x[pBoron],
		BathPHBefore: x[pBefore], BathPH: x[pBath], SheetPH: x[pSheet],
	}
	if b.Minutes == nil {
		return s
	}
	for j, share := range moments {
		m := x[pCourse+mCount*j:]
		s.Course = append(
			s.Course,
			Moment{Minutes: Minutes(share) * *b.Minutes, BathPH: m[mBath].Range, SheetPH: m[mSheet].Range,
				AcidLeftMmolPerKg: m[mLeft].Range, ReservePercentChalk: m[mChalk].Range},
		)
	}
	return s
}

// inputs are all that the course depends on, in the order of their places.
func (k known) inputs(baths []Bath, o Options) []interval.Input {
	inputs := []interval.Input{
		{Name: "the sheet's mass", Range: k.massG},
		{Name: "the moisture in room air", Range: k.moisture},
		{Name: "the pick-up", Range: k.pickUp},
		{Name: "the soluble acid", Range: k.soluble},
		{Name: "the fixed acid", Range: k.fixed},
		{Name: "the reserve from before", Range: k.reserve},
		{Name: "the liquid carried from bath to bath", Range: k.carried},
		{Name: "the openness of the wet sheet", Range: openPorosity()},
		{Name: "the resting film at its face", Range: interval.Range{Low: 0.4, Best: 1, High: 2.5}},
		{Name: "how fast things diffuse", Range: interval.Range{Low: 0.8, Best: 1, High: 1.25}},
		{
			Name:  "the air in the pH test",
			Range: interval.Range{Low: -5.4, Best: -4.2, High: -3.4},
		}, // log10 of atm of CO2; common practice, no source
	}
	if o.EndsAs != Blotted {
		inputs[iCarried].Range = interval.Exactly(0) // the pick-up stands for it
	}
	for i, b := range baths {
		name := b.called()
		if len(baths) > 1 {
			name = fmt.Sprintf("bath %d (%s)", i+1, name)
		}
		inputs = append(inputs,
			interval.Input{Name: "the strength of " + name, Range: b.Liquid.AlkaliMmolPerL},
			interval.Input{Name: "the volume of " + name, Range: b.VolumeMl})
	}
	return inputs
}

func check(s Sheet, baths []Bath, o Options) error {
	if err := s.Check(); err != nil {
		return err
	}
	switch o.EndsAs {
	case "", Drained, Blotted:
	default:
		return fmt.Errorf("a sheet ends drained or blotted, not %q", o.EndsAs)
	}
	if len(baths) == 0 {
		return fmt.Errorf("there is no bath: name at least one")
	}
	if len(baths) > maxBaths {
		return fmt.Errorf("there are %d baths: at most %d are computed in one go", len(baths), maxBaths)
	}
	for i, b := range baths {
		if err := b.Check(); err != nil {
			return fmt.Errorf("bath %d: %w", i+1, err)
		}
	}
	return nil
}

// untreated is the dry sheet before any bath, and the mL that it carries from
// bath to bath, at the best values.
func (k known) untreated() (t tally, carry float64) {
	dry := k.massG.Best / (1 + k.moisture.Best)
	return tally{acid: (k.soluble.Best + k.fixed.Best) * dry / 1000}, dry * k.carried.Best
}

// sheetsToHalf is until half for each bath of a chain, the sheets coming from the
// bath before.
func (k known) sheetsToHalf(baths []Bath) []int {
	var out []int
	entry, carry := k.untreated()
	for _, b := range baths {
		out = append(out, entry.until(b.Liquid.AlkaliMmolPerL.Best, b.VolumeMl.Best, carry, 0.5))
		entry, _ = entry.lower(b.Liquid.AlkaliMmolPerL.Best, b.VolumeMl.Best/b.together(), carry)
	}
	return out
}

// comment says what the numbers mean.
func (out *Outcome) comment(k known, baths []Bath) {
	out.RestsOn = []string{
		"Each bath in time: diffusion through the wet sheet and the resting film at its open faces, into a bath of " +
			"its own volume; sheet and bath at chemical equilibrium, the paper's carboxyl groups holding counter-ions.",
		"Acid demand is soluble and fixed acid together: alkali must neutralise both before any is left. A pH tells " +
			"neither.",
		"At drying all alkali of calcium or magnesium that the sheet still holds free turns to carbonate.",
		"The pH of the dry sheet is that of a cold extract; that of the wet sheet is what an electrode on it would " +
			"show, to about half a unit while acid is left.",
	}
	if slices.ContainsFunc(baths, func(b Bath) bool { return b.Minutes == nil }) {
		out.RestsOn = append(out.RestsOn, "A bath without a time is taken as long enough for sheet and bath to come "+
			"level, so it gives the most that the step can do.")
	}
	out.Limit = out.limit(k, baths[len(baths)-1])
	for i, b := range baths {
		out.warn(i, b)
	}
	for i, b := range baths {
		out.compareCapacity(i, b)
	}
	out.conclude(k)
}

// warn says what bath i needs looking after.
func (out *Outcome) warn(i int, b Bath) {
	say := func(code Code, format string, args ...any) {
		out.Warnings = append(out.Warnings, Remark{code, i + 1, fmt.Sprintf(format, args...)})
	}
	lime := b.Liquid.Base == Calcium && b.Liquid.anion() == Hydroxide
	alkaline := b.Liquid.AlkaliMmolPerL.Best >= leastAlkaliBath
	switch {
	case b.Liquid.anion() == Borohydride && b.Liquid.BoronMmolPerL > 0:
		say(GivesHydrogen, "%s gives off hydrogen: open vessel, no lid, no flame, air the room, nothing acid near it.",
			b.called())
	case out.Steps[i].BathPHBefore.Best > 11.5:
		say(Caustic, "%s is caustic: goggles and gloves; local rules and the safety data sheet go first.", b.called())
	}
	if c := out.Steps[i].Course; len(c) > 1 {
		last, before := c[len(c)-1].AcidLeftMmolPerKg.Best, c[len(c)-2].AcidLeftMmolPerKg.Best
		if before-last > 0.05*out.AcidDemandMmolPerKg.Best {
			say(AcidFalling, "After %g min in %s the acid is still going down: a longer bath does more.",
				b.minutes(), b.called())
		}
	}
	if lime && alkaline && b.minutes() >= 10 && b.DepthMm == nil {
		say(TakenCovered, "%s is taken as covered; an open tray loses lime to the air: give its depth to count that.",
			b.called())
	}
	if s := out.Steps[i].SpentShare; s.Best > 0.5 && alkaline {
		say(AlkaliSpent, "%s loses %.0f %% of its alkali to these sheets: a larger tray or a fresh one gives more.",
			b.called(), 100*s.Best)
	}
}

// say appends a conclusion.
func (out *Outcome) say(code Code, format string, args ...any) {
	out.Conclusions = append(out.Conclusions, Remark{Code: code, Text: fmt.Sprintf(format, args...)})
}

// compareCapacity says where the pH of bath i promises more than its alkali can do.
func (out *Outcome) compareCapacity(i int, b Bath) {
	demand, left := out.AcidDemandMmolPerKg.Best, out.AcidLeftMmolPerKg.Best
	need := demand * out.DryMassG.Best / 1000 * b.together()
	x := out.Steps[i]
	if left <= 0.02*demand || x.BathPHBefore.Best <= 8 || x.TrayMmol.Best >= 0.5*need {
		return
	}
	out.say(NoCapacity,
		"%s has a pH of %.1f and yet alkali for only %.2g of the %.2g mmol that the paper demands: a pH "+
			"is no capacity.", b.called(), x.BathPHBefore.Best, x.TrayMmol.Best, need)
	out.Conclusions[len(out.Conclusions)-1].Bath = i + 1
}

// conclude says what a person should take from the numbers.
func (out *Outcome) conclude(k known) {
	demand, left := out.AcidDemandMmolPerKg, out.AcidLeftMmolPerKg
	switch {
	case left.Best > 0.02*demand.Best:
		out.say(AcidLeft, "Acid is left in the sheet: %s mmol/kg of %s. The alkali of the baths does not suffice.",
			left.BestText(), demand.BestText())
	case demand.Best > 0:
		out.say(AcidGone, "The acid that the sheet is taken to hold is neutralised or washed out.")
	}
	if out.BoronMmolPerKg.High > 0 {
		out.say(BorateLeft, "Borate left, at best: %s mmol of boron per kg. Rinse to a level conductivity, not to a "+
			"count.", out.BoronMmolPerKg.BestText())
	}
	if out.SodaAlkaliMmolPerKg.Best > 0.5 {
		out.say(SodaLeft, "Soluble sodium alkali left: %s mmol/kg. It is no reserve and belongs rinsed out.",
			out.SodaAlkaliMmolPerKg.BestText())
	}
	if k.class.hasLignin() {
		out.say(LigninInLight,
			"Alkaline paper with lignin yellows faster in light: store it dark, and do not seek the "+
				"greatest reserve.")
	}
	if out.ReservePercentChalk.High > 0 {
		out.say(PermanentPaper, "The standards for permanent paper ask for 2 %% CaCO₃ (0.4 mol/kg; ISO 9706); this "+
			"leaves %s %%.", out.ReservePercentChalk.Text())
	}
}

// limit is the sentence on what limits the reserve.
func (out *Outcome) limit(k known, last Bath) string {
	base := last.Liquid.Base
	if base != Calcium && base != Magnesium || last.Liquid.AlkaliMmolPerL.Best == 0 {
		return "The last bath holds no alkali of calcium or magnesium, so nothing in it stays as a reserve: what a " +
			"bath before it gave is mostly rinsed out again."
	}
	step := out.Steps[len(out.Steps)-1]
	if out.AcidLeftMmolPerKg.Best > 0 {
		return fmt.Sprintf(
			"The sheet's acid uses up all the alkali of the tray (%s mmol), so none is left to stay.",
			step.TrayMmol.BestText(),
		)
	}
	kept := out.HeldMl.Best
	of := last.VolumeMl.Best / last.together()
	return fmt.Sprintf(
		"A sheet keeps only what its pores hold: %s mL of the %s mL of liquid for each sheet, so one pass leaves "+
			"about %s %% CaCO₃, whatever the tray held. More comes from a stronger liquid, more pick-up, or drying "+
			"and bathing again.",
		interval.Digits(
			kept,
			kept/5,
		),
		interval.Digits(of, of/5),
		interval.Digits(out.ReservePercentChalk.Best, math.Max(out.ReservePercentChalk.Best, 1e-9)),
	)
}
