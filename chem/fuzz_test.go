package chem

import (
	"encoding/binary"
	"errors"
	"flag"
	"math"
	"math/rand/v2"
	"testing"
)

var executions = flag.Int("chem.executions", 20000, "random waters that TestRandomWaters solves")
var randomSeed = flag.Uint64("chem.seed", 1, "seed of TestRandomWaters")

// randomCase makes a water and conditions from a stream of random words:
// amounts up to 1 mol/kg, spread over 12 decades, 0 to 50 deg C, any subset of
// solids, open or closed, now and then standing over a solid.
func randomCase(next func() uint64) (Water, Conditions) {
	unit := func() float64 { return float64(next()>>11) / (1 << 53) }
	w := Water{temperatureC: 50 * unit()}
	which := next()
	for c := range w.n {
		if Component(c) == H || which>>c&1 == 0 {
			continue
		}
		if next()%4 == 0 {
			w.n[c] = unit()
		} else {
			w.n[c] = math.Pow(10, -12*unit())
		}
	}
	w.balance()
	// as often as not, near neutral: let Na or Cl take up most of the charge
	if which>>40&1 == 0 {
		if z := w.n[H]; z < 0 {
			w.n[Cl] = min(w.n[Cl]-z*(1-1e-4*unit()), 1)
		} else {
			w.n[Na] = min(w.n[Na]+z*(1-1e-4*unit()), 1)
		}
		w.balance()
	}
	c := Conditions{MayFall: Solids(next() % (1 << numSolids))}
	if which>>41&3 == 0 {
		c.StandsOver = Solids(1 << (next() % numSolids))
	}
	if which>>43&3 == 0 {
		c.Open, c.CO2Atm = true, math.Pow(10, -6+6*unit())
	}
	return w, c
}

// verify computes anew, from the state's species alone, what the equations
// demand, and reports the worst relative residual: the law of mass action for
// each species, mass of each component, charge, saturation with each solid
// present, no absent solid supersaturated, no negative solid.
func verify(w *Water, c Conditions, o *State) (string, float64) {
	var sum, scale [numComponents]float64
	charge, chargeScale, bound, ionic := 0.0, 0.0, 0.0, 0.0
	for i := range allSpecies {
		sp := &allSpecies[i]
		m := o.molality[i]
		charge += sp.z * m
		chargeScale += math.Abs(sp.z) * m
		ionic += sp.z * sp.z * m / 2
		bound += float64(sp.water) * m
		for j, v := range sp.comp {
			sum[j] += float64(v) * m
			scale[j] += math.Abs(float64(v)) * m
		}
	}
	what, worst := "charge", math.Abs(charge)/chargeScale
	note := func(name string, r float64) {
		if !(r <= worst) {
			what, worst = name, r
		}
	}
	a, b := debyeHueckel(w.temperatureC)
	p := powersOf(w.temperatureC)
	for i := range allSpecies {
		sp := &allSpecies[i]
		if o.molality[i] == 0 {
			continue
		}
		off := math.Log(
			o.molality[i],
		) + sp.lnGamma(
			min(o.ionic, activityLimit),
			a,
			b,
		) - sp.logK.at(
			&p,
		) - float64(
			sp.water,
		)*math.Log(
			o.aw,
		)
		for j, v := range sp.comp {
			off -= float64(v) * o.logA[j]
		}
		note(sp.name, math.Abs(off))
	}
	water := waterMolKg + bound
	for i := range phases {
		n := o.amount[i]
		for j, v := range phases[i].comp {
			sum[j] += float64(v) * n
			scale[j] += math.Abs(float64(v) * n)
		}
		water += float64(phases[i].water) * n
	}
	all := water / waterMolKg // kg of all water per kg of free water
	for j := range sum {
		want := w.n[j] * all
		if s := scale[j] + math.Abs(want); s > 0 && (w.n[j] == 0 || math.Abs(w.n[j]) > leastAmount) {
			if Component(j) == H {
				// follows from charge; its own scale is that of all ions
				s += chargeScale
			}
			note(components[j].name, math.Abs(sum[j]-want)/s)
		}
	}
	note("ionic strength", math.Abs(ionic-o.ionic)/ionic)
	for i := range phases {
		one := Solids(1 << i)
		must := i == gasPhase && c.Open || i < numSolids && c.StandsOver&one != 0
		lnSI := o.lnSI[i]
		if i == gasPhase && c.Open {
			lnSI -= math.Log(fugacityCO2(c.CO2Atm, w.temperatureC))
		}
		may := i < numSolids && c.MayFall&one != 0
		switch {
		case must:
			note("saturation with what it stands over", math.Abs(lnSI))
		case may && o.amount[i] > 0:
			note(solidNames[i], math.Abs(lnSI))
		case may && phaseMask(i)&^o.mask == 0:
			note(solidNames[i], max(lnSI, 0))
			fallthrough
		case may:
			note(solidNames[i], max(-o.amount[i], 0))
		case i < numSolids && o.amount[i] != 0:
			note(solidNames[i], 1)
		}
	}
	return what, worst
}

// checkCase solves and verifies one random water; it reports the error given,
// if any.
func checkCase(t *testing.T, s *Solver, w Water, c Conditions) error {
	t.Helper()
	var o State
	err := s.Solve(&w, c, &o)
	if err != nil && !errors.Is(err, ErrIonicStrength) {
		if errors.Is(err, ErrContradiction) || errors.Is(err, ErrTooMuch) {
			return err
		}
		t.Errorf("%+v %+v: %v", w, c, err)
		return err
	}
	if what, r := verify(&w, c, &o); !(r <= Tolerance) {
		t.Errorf("%+v %+v: %s, residual %.2g", w, c, what, r)
	}
	// and a neighbour, from where that one ended
	v := w
	for j := range v.n {
		v.n[j] *= 1 + 0.01*math.Sin(float64(j)+v.n[j])
	}
	v.balance()
	var p State
	if s.Follow(&v, c, &p); p.residual != 0 {
		if what, r := verify(&v, c, &p); !(r <= Tolerance) {
			t.Errorf("neighbour of %+v %+v: %s, residual %.2g", w, c, what, r)
		}
	}
	return err
}

// Each of many random waters is answered, to 1e-10, or contradicts itself.
func TestRandomWaters(t *testing.T) {
	rnd := rand.New(rand.NewPCG(*randomSeed, 7))
	var s Solver
	contradictions, beyond, tooMuch := 0, 0, 0
	for i := 0; i < *executions && !t.Failed(); i++ {
		w, c := randomCase(rnd.Uint64)
		switch err := checkCase(t, &s, w, c); {
		case errors.Is(err, ErrContradiction):
			contradictions++
		case errors.Is(err, ErrIonicStrength):
			beyond++
		case errors.Is(err, ErrTooMuch):
			tooMuch++
		}
	}
	t.Logf(
		"%d waters: %d answered within the model's range and %d beyond it, all to 1e-10; %d contradict themselves, "+
			"%d dissolve without end",
		*executions,
		*executions-beyond-contradictions-tooMuch,
		beyond,
		contradictions,
		tooMuch,
	)
}

// FuzzSolve is the same with inputs chosen by the fuzzer.
func FuzzSolve(f *testing.F) {
	for seed := uint64(1); seed < 9; seed++ {
		var raw []byte
		rnd := rand.New(rand.NewPCG(seed, 7))
		for i := 0; i < 48; i++ {
			raw = binary.LittleEndian.AppendUint64(raw, rnd.Uint64())
		}
		f.Add(raw)
	}
	var s Solver
	f.Fuzz(func(t *testing.T, raw []byte) {
		w, c := randomCase(func() uint64 {
			var b [8]byte
			n := copy(b[:], raw)
			raw = raw[n:]
			return binary.LittleEndian.Uint64(b[:])
		})
		checkCase(t, &s, w, c)
	})
}

// lnGamma is the logarithm of the activity coefficient, with A and B of
// debyeHueckel.
func (sp *species) lnGamma(ionic, a, b float64) float64 {
	root := math.Sqrt(ionic)
	z2 := sp.z * sp.z
	switch {
	case sp.z == 0 && sp.davies:
		return math.Ln10 * 0.1 * ionic
	case sp.z == 0:
		return math.Ln10 * sp.gammaB * ionic
	case sp.davies:
		return -math.Ln10 * a * z2 * (root/(1+root) - 0.3*ionic)
	}
	return math.Ln10 * (-a*z2*root/(1+b*sp.gammaA*root) + sp.gammaB*ionic)
}
