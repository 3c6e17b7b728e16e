package paper

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"benchleaf/chem"
	"benchleaf/interval"
)

// course takes a sheet through baths; it keeps its workspace.
type course struct {
	equilibria
	baths  []Bath
	areaM2 float64
	most   []float64 // of each bath's strength: what dissolves
	mark   journey   // before the last bath
	asks   asked
}

// asked is what a course works out. Half of its work is the pH, from which nothing else
// follows.
type asked struct {
	course, end []bool // of each bath: its pH with time, and at its end
	extract     bool
	// soaked is how many baths the sheet goes through; of the others the pH as filled is
	// all that is worked out.
	soaked int
}

// asksAll asks for all of n baths.
func asksAll(n int) asked {
	all := slices.Repeat([]bool{true}, n)
	return asked{all, all, true, n}
}

// asksNone asks for no pH of n baths.
func asksNone(n int) asked {
	none := make([]bool, n)
	return asked{none, none, false, n}
}

// enough is the residual of an equilibrium within a course: a millionth of a pH.
const enough = 1e-7

// newCourse makes ready for baths of a sheet.
func newCourse(k known, baths []Bath) (*course, error) {
	c := &course{baths: baths, areaM2: k.areaM2, asks: asksAll(len(baths))}
	c.sheets.Enough, c.liquids.Enough, c.over.Enough = enough, enough, enough
	for i, b := range baths {
		most, _, err := b.Liquid.most(b.celsius())
		if err != nil {
			return nil, fmt.Errorf("what of %s dissolves cannot be computed: %w", b.called(), err)
		}
		if held := min(most, b.Liquid.strength().High); held > mostMmolPerL {
			return nil, fmt.Errorf("bath %d: %s would hold %.3g mmol/L dissolved: up to %d can be computed",
				i+1, b.called(), held, mostMmolPerL)
		}
		c.most = append(c.most, most)
	}
	return c, nil
}

// dried is what a wet sheet's alkali turns to, mmol in one sheet.
type dried struct{ earth, soda, acid float64 }

// dry says what is left of a settled sheet's alkali once the air's carbon dioxide
// has turned it to carbonate: that of calcium and magnesium which the groups do
// not hold is reserve, that of sodium and potassium is not, ammonia goes.
func (s *sheetLiquor) dry() dried {
	a := s.n.alkali()
	if a < 0 {
		return dried{acid: -a}
	}
	alkalis := s.n[chem.Na] + s.n[chem.K]
	earth := min(a, 2*((s.free[chem.Ca]+s.free[chem.Mg])*s.ml+s.chalk+s.magnesia))
	earth = max(earth, a-alkalis-s.n[chem.N])
	return dried{earth: earth, soda: min(alkalis, max(0, a-earth-s.n[chem.N]))}
}

// press takes liquid out of a settled sheet until no more than hold mL is left.
func (s *sheetLiquor) press(hold float64) {
	out := s.ml - hold
	if out <= 0 {
		return
	}
	s.n.add(&s.free, -out)
	for c := range s.n {
		s.n[c] = max(0, s.n[c])
	}
	s.ml = hold
}

// newSheet is a dry sheet with its acid, the soluble part as acetic acid, the
// fixed part as carboxyl groups with their proton, and chalk. mmol.
func newSheet(soluble, fixed, chalk float64) sheetLiquor {
	s := sheetLiquor{chalk: chalk}
	s.n[chem.Acetate], s.n[chem.Carboxyl] = soluble, fixed
	s.n[chem.Ca], s.n[chem.C] = chalk, chalk
	return s
}

// boronOf is all boron in a sheet, mmol.
func boronOf(s *sheetLiquor) float64 { return s.n[chem.B] + s.n[chem.BH4] }

// best are the best values of all inputs.
func (k known) best(baths []Bath, o Options) []float64 {
	var in []float64
	for _, x := range k.inputs(baths, o) {
		in = append(in, x.Range.Best)
	}
	return in
}

// dryOut dries a settled sheet between two baths: alkali of calcium and magnesium
// stays as carbonate, what is soluble stays too, carbon dioxide and ammonia go.
func (s *sheetLiquor) dryOut() {
	d := s.dry()
	s.magnesia = min(d.earth/2, s.magnesia+s.free[chem.Mg]*s.ml)
	s.chalk = min(d.earth/2-s.magnesia, s.n[chem.Ca])
	s.magnesia = min(d.earth/2-s.chalk, s.n[chem.Mg])
	s.n[chem.C] = s.chalk + s.magnesia + d.soda
	s.n[chem.N] = max(0, min(s.n[chem.N], s.n[chem.N]-s.n.alkali()))
	s.n[chem.B] += s.n[chem.BH4]
	s.n[chem.BH4] = 0
	s.ml = 0
}

// journey is a sheet on its way through the baths.
type journey struct {
	sheetLiquor
	// dry mass in kg; mL held when drying begins, and carried from bath to bath.
	kg, hold, carry float64
	// neutralised is the acid that alkali took, mmol.
	neutralised float64
}

// start is the dry sheet of one sample.
func start(in []float64) journey {
	dry := in[iMass] / (1 + in[iMoisture]) // g
	j := journey{kg: dry / 1000, hold: dry * in[iPickUp]}
	j.carry = j.hold // mL: the liquid is taken at 1 g/mL
	if in[iCarried] > 0 {
		j.carry = dry * in[iCarried]
	}
	j.sheetLiquor = newSheet(in[iSoluble]*j.kg, in[iFixed]*j.kg, 1000*in[iBefore]*j.kg/2)
	j.neutralised = min(in[iSoluble]+in[iFixed], 1000*in[iBefore]) * j.kg
	return j
}

// step takes a sheet through bath i and writes what became of it.
func (c *course) step(j *journey, i int, b Bath, in, x []float64) error {
	v := b.Liquid.fill(min(in[iBaths+2*i], c.most[i]), in[iBaths+2*i+1])
	if b.DriedBefore && i > 0 {
		j.dryOut()
	}
	taken, err := c.soak(&j.sheetLiquor, &v, b, j.carry, in, func(k int) error {
		return c.moment(&j.sheetLiquor, &v, c.asks.course[i], j.kg, x[pCourse+mCount*k:])
	}, x)
	if err != nil {
		return err
	}
	if c.asks.end[i] {
		if x[pSheet], x[pBath], err = c.both(&j.sheetLiquor, &v, b.Liquid.fall()); err != nil {
			return err
		}
	}
	if i == len(c.baths)-1 {
		j.press(j.hold)
	}
	j.neutralised += taken / b.together()
	d := j.dry()
	x[pChalk] = percentChalk(d.earth / 1000 / j.kg)
	x[pLeft] = d.acid / j.kg
	x[pNet], x[pNetAfter] = j.n.alkali()/j.kg, v.netMmolPerL()
	x[pBoron] = boronOf(&j.sheetLiquor) / j.kg
	return nil
}

// follow works one sample out.
func (c *course) follow(in, out []float64) error {
	clear(out)
	j := start(in)
	for i, b := range c.baths {
		if i >= c.asks.soaked {
			x := out[oSteps+pCount*i:]
			var err error
			if x[pBefore], err = c.filled(i, in); err != nil {
				return err
			}
			continue
		}
		if i == len(c.baths)-1 {
			c.mark = j
		}
		if err := c.step(&j, i, b, in, out[oSteps+pCount*i:]); err != nil {
			return err
		}
	}
	s, kg := &j.sheetLiquor, j.kg
	d := s.dry()
	out[oDry], out[oHeld] = 1000*kg, s.ml
	out[oPickUp] = s.ml / (1000 * kg)
	out[oBalance] = (s.ml - in[iMass] + 1000*kg) / in[iMass]
	out[oDemand], out[oNeutralised] = in[iSoluble]+in[iFixed], j.neutralised/kg
	out[oLeft] = d.acid / kg
	out[oReserve] = d.earth / 1000 / kg
	out[oChalk] = percentChalk(out[oReserve])
	out[oSoda], out[oSodium], out[oBoron] = d.soda/kg, s.n[chem.Na]/kg, boronOf(s)/kg
	out[oPotassium] = s.n[chem.K] / kg
	if !c.asks.extract {
		return nil
	}
	pH, err := c.extract(*s, kg, in[iAir])
	out[oExtract] = pH
	return err
}

// filled is the pH of bath i as the sheet goes in, which does not depend on the sheet.
func (c *course) filled(i int, in []float64) (float64, error) {
	b := c.baths[i]
	v := b.Liquid.fill(min(in[iBaths+2*i], c.most[i]), in[iBaths+2*i+1])
	c.temperatureC = b.celsius()
	if err := c.stand(&sheetLiquor{}, &v, b, in); err != nil {
		return 0, err
	}
	return c.liquidPH(&v.liquor, 0)
}

// stand is the time that a bath stood before the sheet went in. Borohydride poured a
// minute ago brings its own pH about in seconds; one that stood longer slows itself, so
// its time is gone through in growing steps.
func (c *course) stand(s *sheetLiquor, v *vat, b Bath, in []float64) error {
	for t, next := 0.0, 1.0; t < b.stood(); t, next = next, 1.5*next {
		if err := c.hydrolyse(s, v, min(next, b.stood())-t, in[iHydride], b.Liquid.fall()); err != nil {
			return err
		}
	}
	return nil
}

// soak takes n like sheets through one bath and writes what became of it to the
// step's outputs, the pH at its end left out. taken is the alkali that acid used, mmol,
// all sheets together.
func (c *course) soak(
	s *sheetLiquor,
	v *vat,
	b Bath,
	carry float64,
	in []float64,
	at func(j int) error,
	x []float64,
) (taken float64, err error) {
	n := b.together()
	c.temperatureC = b.celsius()
	fall := b.Liquid.fall()
	x[pCalcium] = s.n[chem.Ca]
	hydride := v.n[chem.BH4]
	if err = c.stand(s, v, b, in); err != nil {
		return 0, err
	}
	if hydride > 0 {
		mobile := s.mobile()
		acid := max(0, -mobile.alkali())
		mmol := chem.HydrogenPerBorohydride * min(acid, v.n[chem.BH4]/n)
		x[pGas] = mmol * gasMlPerMmol(c.temperatureC) / (c.areaM2 * 100)
		x[pEntry] = min(1, v.n[chem.BH4]/hydride)
	}
	if x[pBefore], err = c.liquidPH(&v.liquor, 0); err != nil {
		return 0, err
	}
	tray := v.n.alkali()
	start := max(0, tray) + n*max(0, s.n.alkali())
	v.wetIn(s, n, carry)
	if s.ml < leastWet*carry {
		sheets := "the sheet"
		if n > 1 {
			sheets = fmt.Sprintf("the %.0f sheets", n)
		}
		return 0, fmt.Errorf("%s has %.3g mL, and %s in it would take up %.3g mL: pour more",
			b.called(), b.VolumeMl.Best, sheets, n*carry)
	}
	if err = c.settle(s, fall); err != nil {
		return 0, err
	}
	if b.Minutes == nil {
		err = c.level(s, v, n, in, fall)
	} else {
		err = c.pass(s, v, b, in, fall, at)
	}
	if err != nil {
		return 0, err
	}
	left := v.n.alkali()
	carried, settled := n*max(0, s.n.alkali()), v.settled.alkali()
	taken = max(0, start-max(0, left)-carried-settled)
	x[pTray] = tray
	if tray > 0 {
		x[pSpent] = min(1, (taken+carried+settled)/tray)
		x[pAcid] = min(1, taken/tray)
	}
	if v.ml > 0 {
		x[pAfter] = max(0, left) / v.ml * 1000
	}
	if hydride > 0 {
		x[pHydride] = min(1, v.n[chem.BH4]/hydride) // sheets may have brought some
	}
	return taken, nil
}

// gasMlPerMmol of an ideal gas at 1 atm.
func gasMlPerMmol(celsius float64) float64 { return 0.082057 * (celsius + 273.15) }

// leastWet is the share of what a sheet takes up below which it does not count as wet.
const leastWet = 0.2

// levelSeconds is the time for which carbonate in a sheet goes into solution where
// a bath has no time of its own (common practice, no source).
const levelSeconds = 3600

// level is the exchange until sheet and bath are level.
func (c *course) level(s *sheetLiquor, v *vat, n float64, in []float64, fall chem.Solids) error {
	if err := c.exchange(s, v, n, math.Inf(1), fall); err != nil {
		return err
	}
	if s.chalk <= 0 && s.magnesia <= 0 {
		return nil
	}
	if err := c.dissolve(s, v, n, levelSeconds, 0, in, fall); err != nil {
		return err
	}
	return c.exchange(s, v, n, math.Inf(1), fall)
}

// pass goes through the bath's time from moment to moment.
func (c *course) pass(s *sheetLiquor, v *vat, b Bath, in []float64, fall chem.Solids, at func(j int) error) error {
	n := b.together()
	var seconds [len(moments)]float64
	for j, share := range moments {
		seconds[j] = share * b.minutes() * 60
	}
	d := b.Liquid.diffusion25M2S() * in[iDiffusion] * warmer(b.celsius())
	e := in[iPorosity]
	slab := slab{
		DiffusionM2S: inPores(d, e), Porosity: e,
		PathM:  s.ml * 1e-6 / (e * c.areaM2) / 2 * b.halves(),
		FilmMS: d / (b.filmM() * in[iFilm]),
		Alpha:  max(v.ml, 1e-9) / (n * s.ml),
	}
	turns := 0.0
	for j, until := range slab.turns(seconds[:]) {
		minutes := seconds[j] / 60
		if j > 0 {
			minutes -= seconds[j-1] / 60
		}
		// What becomes of the bath first: the sheet then follows it.
		if err := c.hydrolyse(s, v, minutes, in[iHydride], fall); err != nil {
			return err
		}
		rounds := 1.0 // of air and carbonate in turn
		if b.DepthMm != nil && (s.chalk > 0 || s.magnesia > 0) {
			rounds = min(mostRounds, math.Ceil(minutes/roundMinutes))
		}
		for range int(rounds) {
			if err := c.beside(s, v, b, minutes/rounds, minutes/max(1e-9, until-turns), in, fall); err != nil {
				return err
			}
		}
		if err := c.exchange(s, v, n, max(0, until-turns), fall); err != nil {
			return err
		}
		turns = max(turns, until)
		if err := c.quench(s, fall, false); err != nil {
			return err
		}
		if err := at(j); err != nil {
			return err
		}
	}
	return nil
}

// Rounds in which air and carbonate have their turn, within each stretch of an open
// bath whose sheets hold carbonate.
const (
	mostRounds   = 12
	roundMinutes = 10
)

// beside is what goes on beside the exchange for minutes: the air over an open bath,
// and carbonate that goes into solution. perTurn is in minutes.
func (c *course) beside(
	s *sheetLiquor, v *vat, b Bath, minutes, perTurn float64, in []float64, fall chem.Solids,
) error {
	if b.DepthMm != nil {
		air := math.Pow(10, in[iRoom])
		if err := c.breathe(v, float64(*b.DepthMm), minutes, air, in[iUptake], fall); err != nil {
			return err
		}
	}
	if s.chalk <= 0 && s.magnesia <= 0 {
		return nil
	}
	return c.dissolve(s, v, b.together(), 60*minutes, 60*perTurn, in, fall)
}

// moment writes sheet and bath at a time.
func (c *course) moment(s *sheetLiquor, v *vat, pH bool, kg float64, x []float64) (err error) {
	if pH {
		x[mSheet], x[mBath], err = c.both(s, v, 0)
	}
	d := s.dry()
	x[mLeft], x[mChalk] = d.acid/kg, percentChalk(d.earth/1000/kg)
	return err
}

// both is the pH of sheet and bath. A bath that the sheets took up whole shows
// what they hold.
func (c *course) both(s *sheetLiquor, v *vat, fall chem.Solids) (sheet, bath float64, err error) {
	if sheet, err = c.pH(s, fall); err != nil || v.ml <= 0 {
		return sheet, sheet, err
	}
	if bath, err = c.liquidPH(&v.liquor, 0); err != nil || sheet <= bath || s.n.alkali() >= 0 {
		return sheet, bath, err
	}
	// An acid sheet shows no more than the liquids in it and about it.
	free, err := c.liquidPH(&liquor{s.free, 1}, 0)
	return min(sheet, max(bath, free)), bath, err
}

// extractMlPerG is the water of a cold extract: 2 g in 100 mL (ISO 6588-1, from
// memory).
const extractMlPerG = 50

// extract is the pH of a cold extract of the dried sheet. air is log10 of the
// carbon dioxide, atm, that it has come level with.
func (c *course) extract(s sheetLiquor, kg, air float64) (float64, error) {
	c.temperatureC = 23
	s.ml, s.chalk, s.magnesia = kg*1000*extractMlPerG, 0, 0
	n := &s.n
	n[chem.B] += n[chem.BH4]
	n[chem.BH4], n[chem.N] = 0, max(0, min(n[chem.N], n[chem.N]-n.alkali())) // ammonia goes, ammonium stays
	if n.alkali() < 0 {
		if err := c.settle(&s, 0); err != nil {
			return 0, err
		}
		return c.pH(&s, 0)
	}
	cond := chem.Conditions{MayFall: chem.Calcite, Open: true, CO2Atm: math.Pow(10, min(-3, max(-7, air)))}
	if err := c.solve(&c.liquids, &s.liquor, cond); err != nil {
		return 0, err
	}
	return c.state.PH(), nil
}

// sample runs a study with as many workers as there are processors.
func sample(study interval.Study, outputs int, worker func() func(in, out []float64) error) ([]interval.Result, error) {
	_, answers, err := samples(study, outputs, worker)
	if err != nil {
		return nil, err
	}
	i := 0
	return study.Run(outputs, func(_, out []float64) {
		copy(out, answers[i])
		i++
	})
}

// samples draws a study's samples and answers them, the one at the best values last.
// The study draws the same samples each time it is run, so what is drawn here
// goes with what it draws for sample.
func samples(
	study interval.Study,
	outputs int,
	worker func() func(in, out []float64) error,
) (drawn, answers [][]float64, err error) {
	if _, err := study.Run(1,
		func(in, out []float64) { drawn = append(drawn, append([]float64(nil), in...)) }); err != nil {
		return nil, nil, err
	}
	answers = make([][]float64, len(drawn))
	workers := min(runtime.GOMAXPROCS(0), 1+len(drawn)/16)
	failed := make([]error, workers)
	var wait sync.WaitGroup
	for w := range workers {
		wait.Go(func() {
			f := worker()
			for i := w; i < len(drawn) && failed[w] == nil; i += workers {
				answers[i] = make([]float64, outputs)
				failed[w] = f(drawn[i], answers[i])
			}
		})
	}
	wait.Wait()
	for _, err := range failed { // one is enough: they say the same
		if err != nil {
			return drawn, answers, err
		}
	}
	return drawn, answers, nil
}
