package paper

import (
	"math"
	"strings"
	"testing"

	"benchleaf/interval"
)

// A tray of lime for one sheet of newsprint after another: each takes 0.41 mmol
// for its acid and carries some out, of the 4.32 mmol in the tray (notes on
// practice, section 10, sums), so that half is gone with the fifth, as by mass balance.
func TestServeCountsSheets(t *testing.T) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262, GrammageGsm: at(50)}
	baths := []Bath{{Name: "lime", Liquid: lime(0.4), VolumeMl: interval.Exactly(400), Minutes: new(Minutes(20)),
		Motion: Rocked}}
	got, err := Serve(s, baths, 30, Limits{AlkaliShare: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	entry, carry := s.complete(Drained).untreated()
	want := entry.until(baths[0].Liquid.AlkaliMmolPerL.Best, 400, carry, 0.5)
	if got.Sheets < want-1 || got.Sheets > want || !strings.Contains(got.Limit, "of its alkali") {
		t.Errorf("got %d sheets (%s), want %d or one less", got.Sheets, got.Limit, want)
	}
	for i := 1; i < len(got.Loads); i++ {
		a, b := got.Loads[i-1], got.Loads[i]
		if b.BathPH[0] >= a.BathPH[0] || b.AlkaliShare[0] >= a.AlkaliShare[0] ||
			b.ReservePercentChalk >= a.ReservePercentChalk {
			t.Errorf("load %d does not weaken the bath: %+v, %+v", i, a, b)
		}
	}
	all, err := Serve(s, baths, 30, Limits{})
	if err != nil {
		t.Fatal(err)
	}
	last := all.Loads[29]
	// 30 sheets demand 12.4 mmol of 4.3: the tray is long spent, the last sheets keep their acid.
	if last.AcidLeftMmolPerKg < 50 || last.AlkaliShare[0] > 0 || last.BathPH[0] > 7 {
		t.Errorf("the 30th sheet: %+v, want most of the acid left and the bath acid", last)
	}
	if all.Minutes != 600 || all.WaterMl != 400 {
		t.Errorf("30 sheets of 20 min: %g min, %g mL, want 600 and 400", float64(all.Minutes), all.WaterMl)
	}
}

// A cascade that has run in keeps what Kremser's equation says; fresh water does
// best, one filling of the trays worst.
func TestCascadeIsKremser(t *testing.T) {
	for _, w := range []float64{5, 10, 31} {
		for k := 1; k <= 4; k++ {
			all, err := Rinses(1, Millilitres(w), k, 200)
			if err != nil {
				t.Fatal(err)
			}
			fresh, cascade, same := all[0], all[1], all[2]
			want := (w - 1) / (math.Pow(w, float64(k+1)) - 1)
			near(t, "cascade", cascade.Left[199], want, 1e-9)
			closed := math.Pow(1/(1+w), float64(k))
			near(t, "fresh", fresh.Left[199], closed, 1e-12)
			if same.Left[199] < cascade.Left[199] || fresh.WaterMl != 200*w*float64(k) ||
				cascade.WaterMl != w*float64(k+199) {
				t.Errorf(
					"got %g mL fresh, %g mL in a cascade, %g left in the same trays",
					fresh.WaterMl,
					cascade.WaterMl,
					same.Left[199],
				)
			}
		}
	}
}

// Section 10 of the notes on practice, 3: 2 L of water merely at pH 9 hold 0.02
// mmol, a 200th of what 43 g of paper demand.
func TestCapacityIsNotPH(t *testing.T) {
	got, err := CapacityAt(exactSheet(43, 1.5, 100), 1, 9, 2000)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "alkali", got.AlkaliMmol, 0.02, 0.001)
	near(t, "demand", got.DemandMmol, 4.3, 0.001)
	if !strings.Contains(got.Sentence, "a 215th") {
		t.Errorf("got %q", got.Sentence)
	}
}

// Dried between two limings, a sheet keeps twice as much, less what a litre of
// fresh lime water dissolves of the chalk (about 6e-6 mol/L: the pair CaCO3 in
// water, log K of calcite and of the pair, docs/chem.md); kept wet, no more.
func TestDryingBetweenAddsUp(t *testing.T) {
	s := exactSheet(4, 2, 0)
	b := Bath{Liquid: lime(0.4), VolumeMl: interval.Exactly(1000)}
	one := run(t, s, Options{Samples: 20}, b).ReservePercentChalk.Best
	wet := run(t, s, Options{Samples: 20}, b, b).ReservePercentChalk.Best
	again := b
	again.DriedBefore = true
	dry := run(t, s, Options{Samples: 20}, b, again).ReservePercentChalk.Best
	near(t, "limed twice wet", wet, one, 0.02)
	near(t, "limed twice with drying between", dry, 2*one-percentChalk(2*6e-6/0.004)*1.1, 0.02)
}

func TestServeRefuses(t *testing.T) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}
	b := []Bath{{Liquid: lime(0.4), VolumeMl: interval.Exactly(400)}}
	for _, f := range []func() error{
		func() error { _, err := Serve(s, b, 0, Limits{}); return err },
		func() error { _, err := Serve(s, nil, 1, Limits{}); return err },
		func() error { _, err := Serve(s, b, 1, Limits{BathPH: -1}); return err },
		func() error { _, err := Serve(s, b, 1000, Limits{}); return err }, // carried out
		func() error { _, err := Rinses(1, 0, 1, 1); return err },
		func() error { _, err := Rinses(1, 1, 0, 1); return err },
		func() error { _, err := CapacityAt(s, 1, 5, 100); return err },
	} {
		if f() == nil {
			t.Error("what cannot be was accepted")
		}
	}
}

// 12 steps, 30 sheets one after the other through the same trays.
func BenchmarkThirtySheets(b *testing.B) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}
	for b.Loop() {
		if _, err := Serve(s, twelveSteps(), 30, Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}
