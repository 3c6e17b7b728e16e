package paper

import (
	"errors"
	"math"
	"runtime"
	"sync"

	"benchleaf/chem"
	"benchleaf/interval"
)

// course takes a sheet through baths; it keeps its workspace.
type course struct {
	equilibria
	baths  []Bath
	areaM2 float64
}

// dried is what a wet sheet's alkali turns to, mmol in one sheet.
type dried struct{ earth, soda, acid float64 }

// dry says what is left of a settled sheet's alkali once the air's carbon dioxide
// has turned it to carbonate: that of calcium and magnesium which the groups do
// not hold is reserve, that of sodium is not, ammonia goes.
func (s *sheetLiquor) dry() dried {
	a := s.n.alkali()
	if a < 0 {
		return dried{acid: -a}
	}
	earth := min(a, 2*(s.free[chem.Ca]+s.free[chem.Mg]+s.chalk)*s.ml)
	return dried{earth: earth, soda: max(0, a-earth-s.n[chem.N])}
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
	s.ml, s.chalk = hold, s.chalk*s.ml/hold
}

// newSheet is a dry sheet with its acid: the soluble part as acetic acid, the
// fixed part as carboxyl groups with their proton. mmol.
func newSheet(soluble, fixed float64) sheetLiquor {
	var s sheetLiquor
	s.n[chem.Acetate], s.n[chem.Carboxyl] = soluble, fixed
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

// dryOut dries a settled sheet between two baths: the carbonate of calcium stays
// where it is, what is soluble stays too.
func (s *sheetLiquor) dryOut() {
	if d := s.dry(); d.earth > 0 {
		s.n[chem.C] = max(s.n[chem.C], d.earth/2)
		s.n[chem.N] = 0
		// Any, so that the next bath lets chalk lie: settle says how much.
		s.chalk = 1
	}
	s.n[chem.B] += s.n[chem.BH4]
	s.n[chem.BH4] = 0
	s.ml = 0
}

// follow works one sample out.
func (c *course) follow(in, out []float64) error {
	dry := in[iMass] / (1 + in[iMoisture]) // g
	kg := dry / 1000
	hold := dry * in[iPickUp] // mL: the liquid is taken at 1 g/mL
	carry := hold
	if in[iCarried] > 0 {
		carry = dry * in[iCarried]
	}
	s := newSheet(in[iSoluble]*kg, in[iFixed]*kg)
	before := in[iBefore] // mol/kg
	neutralised := 0.0
	clear(out)
	for i, b := range c.baths {
		v := b.Liquid.fill(in[iBaths+2*i], in[iBaths+2*i+1])
		if b.DriedBefore && i > 0 {
			s.dryOut()
		}
		x := out[oSteps+pCount*i:]
		taken, err := c.soak(&s, &v, b, carry, in, func(j int) error {
			return c.moment(&s, &v, b, kg, before, x[pCourse+mCount*j:])
		}, x)
		if err != nil {
			return err
		}
		if i == len(c.baths)-1 {
			s.press(hold)
		}
		neutralised += taken / b.together()
		d := s.dry()
		x[pChalk] = percentChalk(before + d.earth/1000/kg)
		x[pLeft] = d.acid / kg
		x[pBoron] = boronOf(&s) / kg
	}
	d := s.dry()
	out[oDry], out[oHeld] = dry, s.ml
	out[oDemand], out[oNeutralised] = in[iSoluble]+in[iFixed], neutralised/kg
	out[oLeft] = d.acid / kg
	out[oReserve] = before + d.earth/1000/kg
	out[oChalk] = percentChalk(out[oReserve])
	out[oSoda], out[oSodium], out[oBoron] = d.soda/kg, s.n[chem.Na]/kg, boronOf(&s)/kg
	pH, err := c.extract(s, kg, before, in[iAir])
	out[oExtract] = pH
	return err
}

// soak takes n like sheets through one bath and writes what became of it to the
// step's outputs. taken is the alkali that acid used, mmol, all sheets together.
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
	var fall chem.Solids
	if b.Liquid.anion() == Hydroxide && b.Liquid.Base == Calcium || s.chalk > 0 {
		fall = chem.Calcite
	}
	// Borohydride was poured a minute ago: it brings its own pH about in seconds.
	if err = c.hydrolyse(s, v, 1, fall); err != nil {
		return 0, err
	}
	if x[pBefore], err = c.liquidPH(&v.liquor, 0); err != nil {
		return 0, err
	}
	tray := v.n.alkali()
	start := max(0, tray) + n*max(0, s.n.alkali())
	v.wetIn(s, n, carry)
	if err = c.settle(s, fall); err != nil {
		return 0, err
	}
	if b.Minutes == nil {
		err = c.exchange(s, v, n, math.Inf(1), fall)
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
	x[pSheet], x[pBath], err = c.both(s, v, fall)
	return taken, err
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
		if err := c.hydrolyse(s, v, minutes, fall); err != nil {
			return err
		}
		if fall != 0 && b.DepthMm != nil {
			if err := c.carbonate(v, float64(*b.DepthMm), minutes); err != nil {
				return err
			}
		}
		if err := c.exchange(s, v, n, max(0, until-turns), fall); err != nil {
			return err
		}
		turns = max(turns, until)
		if err := c.quench(s, fall); err != nil {
			return err
		}
		if err := at(j); err != nil {
			return err
		}
	}
	return nil
}

// moment writes sheet and bath at a time.
func (c *course) moment(s *sheetLiquor, v *vat, b Bath, kg, before float64, x []float64) (err error) {
	x[mSheet], x[mBath], err = c.both(s, v, 0)
	d := s.dry()
	x[mLeft], x[mChalk] = d.acid/kg, percentChalk(before+d.earth/1000/kg)
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
func (c *course) extract(s sheetLiquor, kg, before, air float64) (float64, error) {
	c.temperatureC = 23
	s.ml = kg * 1000 * extractMlPerG
	n := &s.n
	n[chem.Ca] += 500 * before * kg
	n[chem.C] += 500 * before * kg
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
	return drawn, answers, errors.Join(failed...)
}
