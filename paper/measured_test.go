package paper

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"benchleaf/interval"
)

// A sheet with a known acid content, bathed on paper: readings made of its course
// give that content back, well inside the class's range, where the class's middle
// is far off; the fit is adopted and then agrees.
func TestReadingsFindTheAcid(t *testing.T) {
	class := Sheet{
		Class:         Newsprint,
		WidthMm:       340,
		HeightMm:      262,
		GrammageGsm:   at(50),
		MoistureGPerG: at(0.08),
		PickUpGPerG:   at(2.1),
	}
	baths := []Bath{{Name: "lime", Liquid: lime(0.1), VolumeMl: interval.Exactly(300), Minutes: new(Minutes(20)),
		Motion: Rocked}}
	truth := class
	truth.FixedAcidMmolPerKg, truth.SolubleAcidMmolPerKg = at(95), at(60)
	course := run(t, truth, Options{Samples: 20}, baths...)
	readings := []Reading{
		{What: ReadBathPH, Step: 1, Value: course.Steps[0].BathPH.Best, Uncertainty: 0.02},
		{What: ReadAlkali, Step: 1, Value: course.Steps[0].AlkaliAfterMmolPerL.Best, Uncertainty: 0.02},
	}
	v, err := CompareReadings(class, baths, Options{Seed: 3}, readings)
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Fits) == 0 {
		t.Fatalf("nothing fitted: %q", v.Sentence)
	}
	// The course that the readings lie over is that of the same sheet in Run.
	plain := run(t, class, Options{Seed: 3, Samples: 300}, baths...)
	for i, m := range v.Courses[0][1:] {
		want := plain.Steps[0].Course[i]
		near(t, "time of a moment", float64(m.Minutes), float64(want.Minutes), 1e-9)
		near(t, "pH at a moment", m.BathPH.Best, want.BathPH.Best, 1e-9)
		near(t, "low end of it", m.BathPH.Low, want.BathPH.Low, 1e-3)
	}
	sheet, err := class.adopted(v.Fits)
	if err != nil {
		t.Fatal(err)
	}
	k := sheet.complete(Drained)
	near(t, "acid in all", k.fixed.Best+k.soluble.Best, 155, 0.12)
	again, err := CompareReadings(sheet, baths, Options{Seed: 3}, readings)
	if err != nil || slices.ContainsFunc(again.Readings, func(c Compared) bool { return c.Says == Differs }) {
		t.Errorf("after adopting: %v, %+v", err, again.Readings)
	}
	if v.Readings[1].Off > -0.5 {
		t.Errorf("more acid than the class has leaves less alkali than expected: got %+v", v.Readings[1])
	}
}

// A reading that nothing explains is said to be one, and fits nothing.
func TestReadingsThatNothingExplains(t *testing.T) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}
	baths := []Bath{{Name: "lime", Liquid: lime(0.4), VolumeMl: interval.Exactly(400), Minutes: new(Minutes(20))}}
	v, err := CompareReadings(s, baths, Options{}, []Reading{{What: ReadBathPH, Step: 1, Value: 7, Uncertainty: 0.05}})
	if err != nil || v.Agree || len(v.Fits) > 0 || !strings.Contains(v.Sentence, "Nothing within the ranges") {
		t.Errorf("pH 7 after lime: %v, %+v", err, v)
	}
}

// A band of 4.4 to 7.1 of a pH of 6 ± 0.6 cannot tell; one of 8.0 to 8.6 can, and what
// lies outside both differs. A reserve that may be twice or nothing cannot tell either.
func TestAReadingCannotTellWhereTheBandIsWide(t *testing.T) {
	wide, narrow := interval.Range{Low: 4.4, Best: 5.7, High: 7.1}, interval.Range{Low: 8, Best: 8.3, High: 8.6}
	for _, x := range []struct {
		value, standard float64
		predicted       interval.Range
		ph              bool
		want            Says
	}{
		{6, 0.3, wide, true, CannotTell},
		{11, 0.3, wide, true, Differs},
		{8.2, 0.1, narrow, true, Agrees},
		{8.2, 1, narrow, true, CannotTell},
		{9.5, 0.1, narrow, true, Differs},
		{0.2, 0.01, interval.Range{Low: 0.05, Best: 0.2, High: 0.6}, false, CannotTell},
		{0.21, 0.01, interval.Range{Low: 0.15, Best: 0.2, High: 0.25}, false, Agrees},
	} {
		if _, got := Compare(x.value, x.standard, x.predicted, x.ph); got != x.want {
			t.Errorf("%g ± %g beside %s: %s, want %s", x.value, x.standard, x.predicted.Text(), got, x.want)
		}
	}
}

// The wet sheet on the balance fixes its pick-up: (mass - dry)/dry.
func TestWetMassFindsThePickUp(t *testing.T) {
	s := Sheet{Class: Newsprint, MassG: at(4.32), MoistureGPerG: at(0.08)}
	baths := []Bath{{Name: "water", VolumeMl: interval.Exactly(1000)}}
	v, err := CompareReadings(
		s,
		baths,
		Options{},
		[]Reading{{What: ReadWetMass, Value: 4 * (1 + 2.4), Uncertainty: 0.05}},
	)
	if err != nil || len(v.Fits) != 1 || v.Fits[0].Field != "pick_up_g_per_g" {
		t.Fatalf("%v, %+v", err, v)
	}
	near(t, "pick-up", v.Fits[0].After.Best, 2.4, 0.01)
}

func TestMeasuredDrying(t *testing.T) {
	s := exactSheet(4, 2.2, 0)
	s.WidthMm, s.HeightMm = 340, 262
	// 1.2 g lost in 10 min of 0.0891 m2 is 81 g/m2 an hour, above the critical moisture.
	v, err := CompareDrying(s, Drained, room, false, []Weighing{{0, 12.8}, {10, 11.6}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "rate", v.Fitted.Best, 1.2/0.08908*6, 0.001)
	if !v.Agree || !strings.Contains(v.Sentence, "as expected") {
		t.Errorf("%+v", v.Sentence)
	}
	// The factor, taken for another sheet in the same air, gives the weighed rate.
	same := room
	same.RateFactor = &v.Factor
	next, err := DryInAir(s, Drained, same, false, nil, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "rate of the next sheet", next.RateGPerM2H.Best, 1.2/0.08908*6, 0.001)
	if before := v.Expected.RateGPerM2H; next.RateGPerM2H.High-next.RateGPerM2H.Low > before.High-before.Low {
		t.Errorf("the adopted rate is wider (%s) than the computed one (%s)", next.RateGPerM2H.Text(), before.Text())
	}
	// What is weighed at the start is dry paper and liquid: 4 g and 2.2 times that.
	near(t, "mass at the start", v.Weighings[0].PredictedG.Best, 4*(1+2.2), 1e-9)
	same.RateFactor = &interval.Range{Low: 0, Best: 1, High: 2}
	if _, err := DryInAir(s, Drained, same, false, nil, Options{}); err == nil ||
		!strings.Contains(err.Error(), "drying rate") {
		t.Errorf("a sheet that never dries: %v", err)
	}
	v, err = CompareDrying(s, Drained, room, false, []Weighing{{0, 12.8}, {100, 12.5}}, Options{})
	if err != nil || v.Agree || !strings.Contains(v.Sentence, "slower") {
		t.Errorf("%v, %q", err, v.Sentence)
	}
}

func TestReadingsRefused(t *testing.T) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}
	baths := []Bath{{Name: "lime", Liquid: lime(0.4), VolumeMl: interval.Exactly(400), Minutes: new(Minutes(20))}}
	for says, r := range map[string]Reading{
		"above 0":     {What: ReadBathPH, Step: 1, Value: 9},
		"no bath 2":   {What: ReadBathPH, Step: 2, Value: 9, Uncertainty: 1},
		"no bath 0":   {What: ReadBathPH, Value: 9, Uncertainty: 1},
		"is not read": {What: "smell", Step: 1, Value: 9, Uncertainty: 1},
		"not within":  {What: ReadBathPH, Step: 1, Minutes: want(30), Value: 9, Uncertainty: 1},
		"at the end":  {What: ReadReserve, Step: 1, Minutes: want(3), Value: 9, Uncertainty: 1},
	} {
		if _, err := CompareReadings(s, baths, Options{}, []Reading{r}); err == nil ||
			!strings.Contains(err.Error(), says) {
			t.Errorf("%+v: got %v, want %q", r, err, says)
		}
	}
	if _, err := CompareReadings(s, baths, Options{}, nil); err == nil {
		t.Error("no reading was accepted")
	}
	if _, err := s.adopted([]Fitted{{Field: "colour"}}); err == nil {
		t.Error("a colour was adopted")
	}
}

// adopted is the sheet with fitted values in the place of what was taken before,
// for the remaining sheets of its paper.
func (s Sheet) adopted(fits []Fitted) (Sheet, error) {
	for _, f := range fits {
		after := f.After
		switch f.Field {
		case "fixed_acid_mmol_per_kg":
			s.FixedAcidMmolPerKg = &after
		case "acid_mmol_per_kg":
			s.AcidMmolPerKg = &after
		case "soluble_acid_mmol_per_kg":
			s.SolubleAcidMmolPerKg = &after
		case "pick_up_g_per_g":
			s.PickUpGPerG = &after
		case "mass_g":
			s.MassG = &after
		default:
			return s, fmt.Errorf("a sheet has no %q that could be adopted", f.Field)
		}
	}
	return s, s.Check()
}

// What a fit leaves out of a course changes nothing that its readings are of.
func TestAFitLeavesOutOnlyWhatNoReadingIsOf(t *testing.T) {
	k := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}.complete(Drained)
	baths := twelveSteps()[2:7] // with a bath of hydride, limed baths before and after
	early, filled := Minutes(3), Minutes(0)
	for name, readings := range map[string][]Reading{
		"a bath as filled": {
			{What: ReadBathPH, Step: 1, Minutes: (*float64)(&early)}, {What: ReadBathPH, Step: 4, Minutes: (*float64)(&filled)},
		},
		"in the middle": {{What: ReadSheetPH, Step: 2}, {What: ReadAlkali, Step: 3}, {What: ReadBoron, Step: 4}},
		"at the end":    {{What: ReadExtractPH}, {What: ReadReserve}, {What: ReadWetMass}, {What: ReadAcidLeft, Step: 2}},
	} {
		whole, err := newCourse(k, baths)
		if err != nil {
			t.Fatal(err)
		}
		part, err := newCourse(k, baths)
		if err != nil {
			t.Fatal(err)
		}
		part.asks = asksOf(readings, len(baths))
		in := k.best(baths, Options{})
		a, b := make([]float64, oSteps+pCount*len(baths)), make([]float64, oSteps+pCount*len(baths))
		for i := range 4 {
			in[iMass] *= 1 + 0.02*float64(i)
			if err := errors.Join(whole.follow(in, a), part.follow(in, b)); err != nil {
				t.Fatal(err)
			}
			for _, r := range readings {
				near(t, name+", "+string(r.What), r.beyond(baths, b), r.beyond(baths, a), 1e-4)
			}
		}
	}
}
