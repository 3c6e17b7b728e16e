package paper

import (
	"math"
	"strings"
	"testing"

	"benchleaf/interval"
)

func ask(t *testing.T, s Sheet, baths []Bath, at int, lever Lever, target Target) Answer {
	t.Helper()
	a, err := Reach(s, baths, at, lever, target, Options{Samples: 60, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func want(v float64) *float64 { return &v }

// 0.2 % CaCO3 at 2 g/g without acid: 0.2 x 10/100.086 = 19.98 mmol/kg in 2 L/kg
// is 9.99 mmol/L of lime, 19.98 of alkali.
func TestStrengthForAReserve(t *testing.T) {
	s := exactSheet(4, 2, 0)
	s.PickUpGPerG = &interval.Range{Low: 1.8, Best: 2, High: 2.2}
	a := ask(
		t,
		s,
		[]Bath{{Name: "lime", Liquid: lime(0.4), VolumeMl: interval.Exactly(1000)}},
		0,
		Strength,
		Target{ReservePercentChalk: want(0.2)},
	)
	if !a.Reached {
		t.Fatal(a.Sentence)
	}
	near(t, "alkali", a.Least, 19.98, 0.012)
	near(t, "for nine of ten", a.Sure, 19.98/0.9, 0.03)
	near(t, "what it gives", a.Best.Best, 0.2, 0.012)
}

// 2 % CaCO3 asks for 400 mmol/kg: no lime water holds the 200 mmol/L that 2 g/g
// would need. The most is about 0.4 % (notes on practice, section 10, 4: 0.30 to
// 0.41 % from saturated lime at 1.5 to 2 g/g).
func TestUnreachableIsExplained(t *testing.T) {
	s := exactSheet(4, 2, 0)
	baths := []Bath{{Name: "lime", Liquid: lime(0.4), VolumeMl: interval.Exactly(1000)}}
	a := ask(t, s, baths, 0, Strength, Target{ReservePercentChalk: want(2)})
	if a.Reached || a.Best.Best < 0.38 || a.Best.Best > 0.5 {
		t.Errorf("got reached %v at %v, want about 0.4 to 0.45 %% as the most", a.Reached, a.Best)
	}
	all := a.Sentence + strings.Join(a.Instead, " ")
	for _, x := range []string{"cannot be reached", "200 mmol/L", "drying between", "pick-up", "yellows faster"} {
		if !strings.Contains(all, x) {
			t.Errorf("no %q in %q", x, all)
		}
	}
	// More of the same bath adds nothing; drying between does.
	if n := ask(t, s, baths, 0, Number, Target{ReservePercentChalk: want(0.3)}); n.Reached {
		t.Errorf("%g wet baths are said to give 0.3 %%", n.Least)
	}
	if n := ask(t, s, baths, 0, Cycles, Target{ReservePercentChalk: want(0.27)}); !n.Reached || n.Least != 3 {
		t.Errorf("cycles for 0.27 %%: got %+v, want 3 of about 0.1 %%", n.Least)
	}
}

// Rinses to a share are those of the closed form.
func TestNumberOfRinses(t *testing.T) {
	s := exactSheet(4, 2, 0)
	baths := []Bath{
		{
			Name: "hydride",
			Liquid: Liquid{
				AlkaliMmolPerL: interval.Exactly(26.4),
				Base:           Sodium,
				SodiumMmolPerL: 26.4,
				BoronMmolPerL:  26.4,
			},
			VolumeMl: interval.Exactly(400),
		},
		{Name: "rinse", VolumeMl: interval.Exactly(100)},
	}
	a := ask(t, s, baths, 1, Number, Target{BoronMmolPerKg: want(0.05)})
	n := int(math.Ceil(math.Log(0.05/52.8) / math.Log(8.0/108))) // each rinse leaves 8 of 108 mL
	if !a.Reached || int(a.Least) != n || len(a.Baths) != 1+n {
		t.Errorf("got %g rinses, want %d", a.Least, n)
	}
}

// Time grows for a still tray, and the volume for acid is that of the mass
// balance: 0.4 mmol of acid in 4 g at 10.8 mmol/L of alkali take 37 mL.
func TestTimeAndVolume(t *testing.T) {
	s := exactSheet(4, 2, 100)
	rocked := Bath{Name: "lime", Liquid: lime(0.4), VolumeMl: interval.Exactly(400), Motion: Rocked}
	still := rocked
	still.Motion = Still
	a := ask(t, s, []Bath{rocked}, 0, Time, Target{AcidLeftMmolPerKg: want(1)})
	b := ask(t, s, []Bath{still}, 0, Time, Target{AcidLeftMmolPerKg: want(1)})
	if !a.Reached || !b.Reached || !(b.Least > 2*a.Least) {
		t.Errorf("got %.2g min rocked, %.2g still", a.Least, b.Least)
	}
	v := ask(t, s, []Bath{rocked}, 0, Volume, Target{AcidLeftMmolPerKg: want(0.5)})
	if !v.Reached || math.Abs(v.Least/37-1) > 0.05 {
		t.Errorf("got %.3g mL, want 37", v.Least)
	}
}

func TestReachRefuses(t *testing.T) {
	s := exactSheet(4, 2, 0)
	b := []Bath{{Liquid: lime(0.4), VolumeMl: interval.Exactly(400)}, {VolumeMl: interval.Exactly(400)}}
	for says, f := range map[string]func() error{
		"name one target": func() error { _, err := Reach(s, b, 0, Time, Target{}, Options{}); return err },
		"must lie between": func() error {
			_, err := Reach(s, b, 0, Time, Target{ReservePercentChalk: want(-1)}, Options{})
			return err
		},
		"no bath 3": func() error {
			_,
				err := Reach(s, b, 2, Time, Target{ExtractPH: want(8)}, Options{})
			return err
		},
		"no alkali": func() error {
			_,
				err := Reach(s, b, 1, Strength, Target{ExtractPH: want(8)}, Options{})
			return err
		},
		"is not known": func() error {
			_,
				err := Reach(s, b, 1, "luck", Target{ExtractPH: want(8)}, Options{})
			return err
		},
	} {
		if err := f(); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("got %v, want %q", err, says)
		}
	}
}
