package chem

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// anyWater draws a water within the model's range: amounts of the bench's
// components up to some hundredths of a mol per kg, roughly neutral.
func anyWater(label string) *rapid.Generator[Water] {
	return rapid.Custom(func(t *rapid.T) Water {
		w := Water{temperatureC: rapid.Float64Range(0, 50).Draw(t, label+" temperature")}
		for c := Ca; c < numComponents; c++ {
			if rapid.Bool().Draw(t, label+" has "+c.String()) {
				w.n[c] = math.Pow(10, rapid.Float64Range(-7, -1.7).Draw(t, label+" log "+c.String()))
			}
		}
		w.balance()
		if w.n[H] < 0 {
			w.n[Cl] -= 0.9 * w.n[H]
		} else {
			w.n[Na] += 0.9 * w.n[H]
		}
		w.balance()
		return w
	})
}

func sameWater(t *rapid.T, what string, a, b Water) {
	t.Helper()
	for c := range a.n {
		if d := math.Abs(a.n[c] - b.n[c]); d > 1e-13*(math.Abs(a.n[c])+math.Abs(b.n[c]))+1e-17 {
			t.Fatalf("%s: %v is %g and %g", what, Component(c), a.n[c], b.n[c])
		}
	}
	if math.Abs(a.temperatureC-b.temperatureC) > 1e-12 {
		t.Fatalf("%s: %g and %g deg C", what, a.temperatureC, b.temperatureC)
	}
}

func mustMix(t *rapid.T, parts ...Part) Water {
	t.Helper()
	w, err := Mix(parts...)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// Mixing does not care about order or grouping, and keeps mass.
func TestMixing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := anyWater("a").Draw(t, "a"), anyWater("b").Draw(t, "b"), anyWater("c").Draw(t, "c")
		pa, pb, pc := rapid.Float64Range(0.1, 10).
			Draw(t, "pa"),
			rapid.Float64Range(0.1, 10).
				Draw(t, "pb"),
			rapid.Float64Range(0.1, 10).
				Draw(t, "pc")
		all := mustMix(t, Part{pa, a}, Part{pb, b}, Part{pc, c})
		sameWater(t, "order", all, mustMix(t, Part{pc, c}, Part{pa, a}, Part{pb, b}))
		left := mustMix(t, Part{pa + pb, mustMix(t, Part{pa, a}, Part{pb, b})}, Part{pc, c})
		right := mustMix(t, Part{pa, a}, Part{pb + pc, mustMix(t, Part{pb, b}, Part{pc, c})})
		sameWater(t, "grouping", left, right)
		sameWater(t, "grouping", all, left)
		for j := range all.n {
			want := pa*a.n[j] + pb*b.n[j] + pc*c.n[j]
			if got := all.n[j] * (pa + pb + pc); math.Abs(got-want) > 1e-12*math.Abs(want)+1e-14 {
				t.Fatalf("mass of %v: %g, want %g", Component(j), got, want)
			}
		}
	})
}

// Diluting lime water with pure water always weakens it: pH, ionic strength
// and the index of lime fall.
func TestDilution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tc := rapid.Float64Range(0, 50).Draw(t, "temperature")
		w := Water{temperatureC: tc}
		w.n[Ca] = rapid.Float64Range(1e-3, 0.018).Draw(t, "lime")
		w.balance()
		pure := Water{temperatureC: tc}
		var before State
		for parts := 1; parts <= 12; parts++ {
			v := w
			if parts > 1 {
				v = mustMix(t, Part{1, w}, Part{float64(parts - 1), pure})
			}
			o, err := Equilibrate(v, Conditions{})
			if err != nil {
				t.Fatal(err)
			}
			if parts > 1 && !(o.pH < before.pH && o.ionic < before.ionic && o.lnSI[3] < before.lnSI[3]) {
				t.Fatalf(
					"1 in %d: pH %g after %g, ionic strength %g after %g",
					parts,
					o.pH,
					before.pH,
					o.ionic,
					before.ionic,
				)
			}
			before = o
		}
	})
}

// Acid never raises the pH of a water and alkali never lowers it, whatever is
// dissolved and whatever may fall.
func TestTitrationIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWater("w").Draw(t, "w")
		c := Conditions{MayFall: Solids(rapid.IntRange(0, 1<<numSolids-1).Draw(t, "may fall"))}
		name, sign := "HCl", -1.0
		if rapid.Bool().Draw(t, "alkali") {
			name, sign = "NaOH", 1
		}
		titrant, err := ParseSolute(name)
		if err != nil {
			t.Fatal(err)
		}
		step := math.Pow(10, rapid.Float64Range(-6, -2.5).Draw(t, "log step"))
		var mol, pH [30]float64
		for i := range mol {
			mol[i] = step * float64(i)
		}
		var s Solver
		if err := s.Titrate(&w, &titrant, mol[:], c, pH[:]); err != nil {
			if errors.Is(err, ErrIonicStrength) {
				t.Skip()
			}
			t.Fatal(err)
		}
		for i := 1; i < len(pH); i++ {
			if sign*(pH[i]-pH[i-1]) < -1e-9 {
				t.Fatalf("pH %g after %g with %g mol/kg more %s", pH[i], pH[i-1], step, name)
			}
		}
	})
}

// A solid that is present has index 0, one that is absent and might fall at
// most 0; amounts are never negative; what fell and what is left make the
// whole.
func TestSolids(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWater("w").Draw(t, "w")
		if rapid.Bool().Draw(t, "chalky") {
			w.n[Ca] += 0.01
			w.n[C] += 0.01
			w.balance()
		}
		may := Solids(rapid.IntRange(0, 1<<numSolids-1).Draw(t, "may fall"))
		o, err := Equilibrate(w, Conditions{MayFall: may})
		if errors.Is(err, ErrIonicStrength) {
			t.Skip()
		}
		if err != nil {
			t.Fatal(err)
		}
		for i := 0; i < numSolids; i++ {
			one := Solids(1 << i)
			si, known := o.SaturationIndex(one)
			switch n := o.Fallen(one); {
			case n < 0:
				t.Fatalf("%v: %g mol/kg", one.Names(), n)
			case n > 0 && math.Abs(si) > 1e-10:
				t.Fatalf("%v is present at index %g", one.Names(), si)
			case n == 0 && may&one != 0 && known && si > 1e-10:
				t.Fatalf("%v is absent at index %g", one.Names(), si)
			case n > 0 && may&one == 0:
				t.Fatalf("%v fell unasked", one.Names())
			}
		}
		if what, r := verify(&w, Conditions{MayFall: may}, &o); r > Tolerance {
			t.Fatalf("%s: residual %g", what, r)
		}
		// the clear water is at rest with what fell from it
		p, err := Equilibrate(o.Water(), Conditions{MayFall: may})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.pH-o.pH) > 1e-8 {
			t.Fatalf("poured off: pH %g, was %g", p.pH, o.pH)
		}
	})
}

// Follow answers what Solve answers, however far it starts.
func TestFollowIsSolve(t *testing.T) {
	var s Solver
	rapid.Check(t, func(t *rapid.T) {
		w := anyWater("w").Draw(t, "w")
		c := Conditions{MayFall: Solids(rapid.IntRange(0, 1<<numSolids-1).Draw(t, "may fall"))}
		var o, p State
		err := s.Follow(&w, c, &o)
		var cold Solver
		if err2 := cold.Solve(&w, c, &p); errors.Is(err, ErrIonicStrength) != errors.Is(err2, ErrIonicStrength) ||
			err == nil != (err2 == nil) {
			t.Fatalf("%v and %v", err, err2)
		}
		if math.Abs(o.pH-p.pH) > 1e-8 {
			t.Fatalf("pH %.12g and %.12g", o.pH, p.pH)
		}
	})
}

// Opening to air and then closing changes nothing.
func TestGas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWater("w").Draw(t, "w")
		atm := math.Pow(10, rapid.Float64Range(-4, 0).Draw(t, "log atm"))
		o, err := Equilibrate(w, Conditions{Open: true, CO2Atm: atm})
		if errors.Is(err, ErrIonicStrength) {
			t.Skip()
		}
		if err != nil {
			t.Fatal(err)
		}
		if f := o.CO2Fugacity(); math.Abs(f/fugacityCO2(atm, w.temperatureC)-1) > 1e-9 {
			t.Fatalf("fugacity %g, want %g", f, fugacityCO2(atm, w.temperatureC))
		}
		p, err := Equilibrate(o.Water(), Conditions{})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.pH-o.pH) > 1e-8 {
			t.Fatalf("closed again: pH %g, was %g", p.pH, o.pH)
		}
	})
}

// Compose takes what Totals gives, carboxyl groups among it; acid groups of
// paper give their protons to lime.
func TestCompose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWater("w").Draw(t, "w")
		v, err := Compose(w.TemperatureC(), w.Totals())
		if err != nil {
			t.Fatal(err)
		}
		sameWater(t, "composed", w, v)
	})
	var n [NumComponents]float64
	n[Carboxyl] = 0.01
	acid, err := Compose(20, n)
	if err != nil {
		t.Fatal(err)
	}
	before := atRest(t, acid, Conditions{})
	n[Ca] = 0.005
	after, err := Compose(20, n)
	if err != nil {
		t.Fatal(err)
	}
	limed := atRest(t, after, Conditions{})
	// pKa 3.4: half of a weak acid of 0.01 mol/kg gives pH about 2.7
	if before.PH() < 2.6 || before.PH() > 2.9 || limed.PH() < 6 || limed.Molality("H(Carboxyl)") > 1e-4 {
		t.Errorf("pH %.2f, with lime %.2f", before.PH(), limed.PH())
	}
	n[Ca] = -1
	if _, err := Compose(20, n); err == nil {
		t.Error("a negative amount passed")
	}
	if _, err := Compose(99, [NumComponents]float64{}); !errors.Is(err, ErrTemperature) {
		t.Error(err)
	}
}
