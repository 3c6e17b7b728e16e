package paper

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"benchleaf/chem"
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
	// Brief leaves out what a plot's point does not show, more than half of the work: the
	// course of each bath, how many sheets use it up, what limits, and what a spread goes
	// with.
	Brief bool `json:"-"`
}

// Outcome is what a sequence of baths leaves in a sheet once it is dry.
type Outcome struct {
	DryMassG interval.Result `json:"dry_mass_g"`
	HeldMl   interval.Result `json:"held_ml"`
	// PickUpGPerG is the liquid held per g of oven-dry paper. OnTheBalanceGPerG is what
	// two weighings give: the gain over the sheet in room air, per g of it as it was
	// there.
	PickUpGPerG       interval.Result `json:"pick_up_g_per_g"`
	OnTheBalanceGPerG interval.Result `json:"on_the_balance_g_per_g"`
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
	PotassiumMmolPerKg  interval.Result `json:"potassium_mmol_per_kg"`
	// ExtractPH is the pH of a cold extract of the dry sheet, 2 g in 100 mL (ISO
	// 6588-1), once its alkali has turned to carbonate. Its range holds that an
	// extract of chalk reads 8.2 where the air's carbon dioxide has reached it
	// and towards 10 where none has.
	ExtractPH interval.Result `json:"extract_ph"`
	Steps     []StepOutcome   `json:"steps"`

	// Limit is the sentence that says what limits the reserve; Conclusions what a
	// person should take from the numbers.
	Limit       string   `json:"limit"`
	Levers      []Gain   `json:"levers,omitempty"`
	Dominant    string   `json:"dominant"`
	Conclusions []Remark `json:"conclusions,omitempty"`
	Warnings    []Remark `json:"warnings,omitempty"`
	// Assumed lists every value taken from the class because it was not
	// measured; RestsOn what the calculation as a whole rests on.
	Assumed []string `json:"assumed,omitempty"`
	RestsOn []string `json:"rests_on"`

	areaM2 float64
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
	// HydrideLeft is the share of the borohydride weighed in that is left at the
	// end, HydrideAtStart as the sheets go in, by its law within a factor of two; 0
	// without any. HydrogenMlPer100Cm2 is what the acid that a sheet still holds sets
	// free of it within the sheet, mL at 1 atm for 100 cm2 of paper.
	HydrideLeft         interval.Result `json:"hydride_left"`
	HydrideAtStart      interval.Result `json:"hydride_at_start"`
	HydrogenMlPer100Cm2 interval.Result `json:"hydrogen_ml_per_100_cm2"`
	// CalciumMmol is the calcium in each sheet as it goes in.
	CalciumMmol interval.Result `json:"calcium_mmol"`
	// Course is the bath with time; empty when no time was given.
	Course []Moment `json:"course,omitempty"`
	// SheetsToHalf is how many such sheets, one after the other, use up half of
	// the bath's alkali; 0 when it has none or no number up to 10,000 does.
	SheetsToHalf int `json:"sheets_to_half,omitempty"`

	falling float64 // by how much the acid still falls in its last third, mmol/kg
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
	iRoom
	iUptake
	iHydride
	iGrain
	iMagnesia
	iBaths // strength and volume of the first bath, and so on
)

// Places of the outputs of one calculation.
const (
	oDry = iota
	oHeld
	oPickUp
	oBalance
	oDemand
	oNeutralised
	oLeft
	oReserve
	oChalk
	oSoda
	oSodium
	oBoron
	oPotassium
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
	pHydride
	pEntry
	pGas
	pCalcium
	pNet      // alkali less acid in the sheet, mmol/kg
	pNetAfter // and in the bath, mmol/L
	pCourse   // the first output of the first moment
	pCount    = pCourse + mCount*len(moments)
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
	study := interval.Study{Inputs: k.inputs(baths, o), Samples: o.Samples, Seed: o.Seed, NoShares: o.Brief}
	r, err := sample(study, oSteps+pCount*len(baths), func() func(in, out []float64) error {
		c, err := newCourse(k, baths)
		if err == nil && o.Brief {
			c.asks.course = asksNone(len(baths)).course
		}
		return func(in, out []float64) error {
			if err != nil || ctx.Err() != nil {
				return errors.Join(err, ctx.Err())
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
	c, err := newCourse(k, baths)
	if err != nil {
		return Outcome{}, err
	}
	out := outcome(s, k, baths, o, c.most, r)
	if o.Brief {
		return out, nil
	}
	out.Levers, err = c.levers(k.best(baths, o))
	out.Limit = out.limit(baths[len(baths)-1])
	return out, err
}

// RunBest is Run at the best values of all inputs alone: every range is the best
// value, and nothing says what a spread rests on or what limits. It takes a hundredth of the
// time, for the points of a curve. Errors: those of Run.
func RunBest(s Sheet, baths []Bath, o Options) (Outcome, error) {
	if err := check(s, baths, o); err != nil {
		return Outcome{}, err
	}
	k := s.complete(o.EndsAs)
	out := make([]float64, oSteps+pCount*len(baths))
	c, err := newCourse(k, baths)
	if err != nil {
		return Outcome{}, err
	}
	if o.Brief {
		c.asks.course = asksNone(len(baths)).course
	}
	if err := c.follow(k.best(baths, o), out); err != nil {
		return Outcome{}, err
	}
	r := make([]interval.Result, len(out))
	for i, v := range out {
		r[i].Range = interval.Exactly(v)
	}
	return outcome(s, k, baths, o, c.most, r), nil
}

// outcome puts the outputs in their places and says what they mean.
func outcome(s Sheet, k known, baths []Bath, o Options, most []float64, r []interval.Result) Outcome {
	out := Outcome{
		DryMassG: r[oDry], HeldMl: r[oHeld], PickUpGPerG: r[oPickUp], OnTheBalanceGPerG: r[oBalance],
		AcidDemandMmolPerKg: r[oDemand], AcidNeutralisedMmolPerKg: r[oNeutralised], AcidLeftMmolPerKg: r[oLeft],
		ReserveMolPerKg: r[oReserve], ReservePercentChalk: r[oChalk],
		SodaAlkaliMmolPerKg: r[oSoda], SodiumMmolPerKg: r[oSodium], BoronMmolPerKg: r[oBoron],
		PotassiumMmolPerKg: r[oPotassium], ExtractPH: r[oExtract],
		Assumed: k.assumed, Dominant: r[oChalk].Sentence(), areaM2: k.areaM2,
	}
	for i, b := range baths {
		out.Steps = append(out.Steps, stepOutcome(b, r[oSteps+pCount*i:], !o.Brief))
	}
	if !o.Brief {
		for i, n := range k.sheetsToHalf(baths, most) {
			out.Steps[i].SheetsToHalf = n
		}
	}
	out.comment(k, baths, most)
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

func stepOutcome(b Bath, x []interval.Result, course bool) StepOutcome {
	s := StepOutcome{
		Name: b.called(), TrayMmol: x[pTray], SpentShare: x[pSpent], AcidShare: x[pAcid],
		AlkaliAfterMmolPerL: x[pAfter],
		ReservePercentChalk: x[pChalk], AcidLeftMmolPerKg: x[pLeft], BoronMmolPerKg: x[pBoron],
		BathPHBefore: x[pBefore], BathPH: x[pBath], SheetPH: x[pSheet],
		HydrideLeft: x[pHydride], HydrideAtStart: x[pEntry], HydrogenMlPer100Cm2: x[pGas], CalciumMmol: x[pCalcium],
	}
	if b.Minutes == nil {
		return s
	}
	left := func(j int) float64 { return x[pCourse+mCount*j+mLeft].Best }
	s.falling = left(len(moments)-2) - left(len(moments)-1)
	if !course {
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
		{Name: "the carbon dioxide of the room", Range: roomCO2},
		{Name: "the uptake through an open surface", Range: interval.Range{Low: 0.5, Best: 1, High: 2}},
		{Name: "the half-life of the hydride", Range: interval.Range{Low: 0.5, Best: 1, High: 2}},
		{Name: "the grain of the chalk", Range: grainUm},
		{Name: "how slowly magnesium carbonate dissolves", Range: magnesiaHours},
	}
	fix := func(place int, unless bool) {
		if !unless {
			inputs[place].Range = interval.Exactly(inputs[place].Range.Best)
		}
	}
	open := slices.ContainsFunc(baths, func(b Bath) bool { return b.DepthMm != nil })
	dried := slices.ContainsFunc(baths, func(b Bath) bool { return b.DriedBefore })
	fix(iRoom, open)
	fix(iUptake, open)
	fix(iHydride, slices.ContainsFunc(baths, func(b Bath) bool { return b.Liquid.anion() == Borohydride }))
	fix(iGrain, dried || k.reserve.High > 0)
	fix(iMagnesia, dried && slices.ContainsFunc(baths, func(b Bath) bool { return b.Liquid.Base == Magnesium }))
	if o.EndsAs != Blotted {
		inputs[iCarried].Range = interval.Exactly(0) // the pick-up stands for it
	}
	for i, b := range baths {
		name := b.called()
		if len(baths) > 1 {
			name = fmt.Sprintf("bath %d (%s)", i+1, name)
		}
		inputs = append(inputs,
			interval.Input{Name: "the strength of " + name, Range: b.Liquid.strength()},
			interval.Input{Name: "the volume of " + name, Range: b.VolumeMl})
	}
	return inputs
}

// roomCO2 is the carbon dioxide of a room, log10 of atm: 4e-4 outdoors to 1.5e-3 in
// a room with people in it (memory).
var roomCO2 = interval.Range{Low: -3.4, Best: -3.1, High: -2.82}

// grainUm is the size of the chalk that dries or falls in a sheet, um (memory: chalk
// that falls of lime water and bicarbonate; no source for paper).
var grainUm = interval.Range{Low: 0.3, Best: 1, High: 5}

// magnesiaHours is the time in which magnesium carbonate that dried in a sheet would
// go into much pure water down to a third, h. What dries (nesquehonite, later basic
// carbonates) and its grain are not known: from minutes to days (memory, no source).
var magnesiaHours = interval.Range{Low: 1, Best: 6, High: 30}

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
	acid := max(0, k.soluble.Best+k.fixed.Best-1000*k.reserve.Best) // the reserve's share is gone at once
	return tally{acid: acid * dry / 1000}, dry * k.carried.Best
}

// sheetsToHalf is until half for each bath of a chain, the sheets coming from the
// bath before.
func (k known) sheetsToHalf(baths []Bath, most []float64) []int {
	var out []int
	entry, carry := k.untreated()
	for i, b := range baths {
		alkali := b.Liquid.alkaliWithin(most[i])
		out = append(out, entry.until(alkali, b.VolumeMl.Best, carry, 0.5))
		entry, _ = entry.lower(alkali, b.VolumeMl.Best/b.together(), carry)
	}
	return out
}

// comment says what the numbers mean.
func (out *Outcome) comment(k known, baths []Bath, most []float64) {
	out.RestsOn = []string{
		"Each bath in time: diffusion through the wet sheet and the resting film at its open faces, into a bath of " +
			"its own volume; sheet and bath at chemical equilibrium, the paper's carboxyl groups holding counter-ions.",
		"Acid demand is soluble and fixed acid together: alkali must neutralise both before any is left. A pH tells " +
			"neither.",
		"At drying all alkali of calcium or magnesium that the sheet still holds free turns to carbonate. On wetting " +
			"again it dissolves at the rate of its grains (chalk: Plummer, Wigley and Parkhurst 1978; magnesium " +
			"carbonate: from memory, a range of hours), no further than the liquid can hold, and none grows.",
		"Pick-up is liquid per g of oven-dry paper; two weighings, in room air and wet, give less: both stand beside it.",
		"The pH of the dry sheet is that of a cold extract; that of the wet sheet is what an electrode on it would " +
			"show, to about half a unit while acid is left.",
	}
	if slices.ContainsFunc(baths, func(b Bath) bool { return b.Minutes == nil }) {
		out.RestsOn = append(out.RestsOn, "A bath without a time is taken as long enough for sheet and bath to come "+
			"level, so it gives the most that the step can do.")
	}
	for i, b := range baths {
		out.warn(i, b, most[i])
	}
	for i, b := range baths {
		out.compareCapacity(i, b)
	}
	out.conclude(k)
}

// warn says what bath i needs looking after.
func (out *Outcome) warn(i int, b Bath, most float64) {
	say := func(code Code, format string, args ...any) {
		out.Warnings = append(out.Warnings, Remark{code, i + 1, fmt.Sprintf(format, args...)})
	}
	out.warnFloor(i, b, most, say)
	if out.Steps[i].BathPHBefore.Best > 11.5 {
		say(Caustic, "%s is caustic: goggles and gloves; local rules and the safety data sheet go first.", b.called())
	}
	if b.Liquid.anion() == Borohydride && b.Liquid.BoronMmolPerL > 0 {
		out.warnHydride(i, b, say)
	}
	out.warnChelator(i, b, say)
	alkaline := b.Liquid.AlkaliMmolPerL.Best >= leastAlkaliBath
	if b.Minutes != nil && out.Steps[i].falling > 0.05*out.AcidDemandMmolPerKg.Best {
		say(AcidFalling, "After %g min in %s the acid is still going down: a longer bath does more.",
			b.minutes(), b.called())
	}
	if b.Liquid.isLime() && alkaline && b.minutes() >= 10 && b.DepthMm == nil {
		say(TakenCovered, "%s is taken as covered; an open tray loses lime to the air: give its depth to count that.",
			b.called())
	}
	earth := b.Liquid.Base == Calcium || b.Liquid.Base == Magnesium
	if earth && b.Liquid.anion() == Bicarbonate && alkaline && b.minutes() >= 10 {
		say(GoesCloudy, "%s loses carbon dioxide and clouds within minutes to hours (common practice, no source): what "+
			"falls then is not counted. It is taken without free carbon dioxide, which a fresh one holds: that "+
			"reads a lower pH.", b.called())
	}
	if b.Liquid.InertMmolPerL > 0 {
		say(NotCounted, "%s holds what is neither acid nor base here: its pH is computed as that of water, and what it "+
			"does to wetting and to what dissolves is not counted.", b.called())
	}
	if s := out.Steps[i].SpentShare; s.Best > 0.5 && alkaline {
		say(AlkaliSpent, "%s loses %.0f %% of its alkali to these sheets: a larger tray or a fresh one gives more.",
			b.called(), 100*s.Best)
	}
}

// warnFloor says what of a bath does not dissolve.
func (out *Outcome) warnFloor(i int, b Bath, most float64, say func(Code, string, ...any)) {
	asked := b.Liquid.strength().Best
	if !(asked > most*1.005) {
		return
	}
	_, solid, _ := b.Liquid.most(b.celsius()) // as newCourse found it
	amount := func(v float64) string {
		if l := b.Liquid; l.Solute != nil {
			return fmt.Sprintf("%s g/L (%s mmol/L)", digits(v*l.Solute.MolarMass()/1000), digits(v))
		}
		return digits(v) + " mmol/L of alkali"
	}
	if solid != "" {
		solid = ", as " + solid
	}
	say(OnTheFloor, "%s: at %g °C only %s of the %s dissolves; the rest, %s, lies on the tray's floor%s, and is not "+
		"counted. Pour off the clear part: grit stays on the sheet.", b.called(), b.celsius(), amount(most), amount(asked),
		amount(asked-most), solid)
}

// poresHoldGas is the hydrogen that the liquid in a wet sheet can hold dissolved, mL in
// 1 mL at 20 C and 1 atm: 0.018 (handbook solubility, from memory).
const poresHoldGas = 0.018

// warnHydride says what hydrogen asks for, above all in a sheet that is still acid,
// and how much of the bath is left by its law.
func (out *Outcome) warnHydride(i int, b Bath, say func(Code, string, ...any)) {
	say(GivesHydrogen, "%s gives off hydrogen: open vessel, no lid, no flame, air the room, nothing acid near it.",
		b.called())
	step := out.Steps[i]
	if gas := step.HydrogenMlPer100Cm2; gas.High > 0.05 {
		area := out.areaM2 * 100
		holds := poresHoldGas * out.HeldMl.Best / max(area, 1e-9)
		say(AcidInHydride, "The sheet is still acid as it goes into %s: that acid sets %s mL of hydrogen free within "+
			"each 100 cm² of it (%s), at once, where its liquid can hold %s mL dissolved. So bubbles form in the "+
			"sheet: it can blister, and fibres and weak mends lift; how much gas a sheet stands has no source. Wash "+
			"or lime the acid out first.", b.called(), gas.BestText(), gas.Text(), digits(holds))
	}
	if left := step.HydrideAtStart; left.Low < 0.9 {
		say(HydrideOld, "Of the borohydride weighed into %s %.0f %% is left after %g min, as the sheets go in (%.0f to "+
			"%.0f %%: its law is from memory and holds within a factor of two). Metals shorten that.",
			b.called(), 100*left.Best, b.stood(), 100*left.Low, 100*left.High)
	}
	if left := step.HydrideLeft; b.Minutes != nil && left.Low < 0.9 {
		say(HydrideLeft, "At the end %.0f %% of the borohydride of %s is left (%.0f to %.0f %%).",
			100*left.Best, b.called(), 100*left.Low, 100*left.High)
	}
}

// warnChelator says how much calcium a bath of citrate, oxalate or phosphate can take
// at most: one for each of it, and no more than is there.
func (out *Outcome) warnChelator(i int, b Bath, say func(Code, string, ...any)) {
	n := b.Liquid.content(b.Liquid.strength().Best)
	name, perL := "", 0.0
	for _, x := range []struct {
		of   chem.Component
		name string
	}{{chem.Citrate, "citrate"}, {chem.EDTA, "EDTA"}, {chem.Oxalate, "oxalate"}, {chem.P, "phosphate"}} {
		if n[x.of] > perL {
			name, perL = x.name, n[x.of]
		}
	}
	if perL <= 0 {
		return
	}
	each := perL * b.VolumeMl.Best / 1000 / b.together()
	bound := fmt.Sprintf("at most %s mmol in each sheet, as much as there is %s for it", digits(each), name)
	if has := out.Steps[i].CalciumMmol.Best; has > 0 {
		bound = fmt.Sprintf("at most %s mmol of the %s mmol that each sheet holds (%s mmol of %s for it)",
			digits(min(each, has)), digits(has), digits(each), name)
	}
	say(TakesCalcium, "%s takes calcium out of the paper: %s, one for one. That reserve and calcium of the fibres is "+
		"lost, and what stays of the %s hinders new: rinse until nothing more comes, then bring calcium back.",
		b.called(), bound, name)
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
		out.say(SodaLeft, "Soluble alkali of sodium or potassium left: %s mmol/kg. It is no reserve and belongs rinsed out.",
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
