package treatment

import (
	"math"
	"testing"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
	"benchleaf/solution"
)

// Alkali by hand from the formulas, molar masses of IUPAC 2021: 0.4 g/L of Ca(OH)2
// is 0.4/74.093 x 2 = 10.80 mmol/L; a mmol of either bicarbonate holds two; 40.078
// mg/L of calcium balance two.
func TestAlkaliOfTheKinds(t *testing.T) {
	for _, x := range []struct {
		slug             string
		strength, alkali float64
		gramsPerLitre    float64
	}{
		{"lime", 0.4, 10.797, 0.4}, {"calcium-bicarbonate", 5, 10, 0.8106}, {"magnesium-bicarbonate", 20, 40, 2.9267},
		{"conditioned", 40.078, 2, 0}, {"water", 0, 0, 0},
	} {
		k := WaterKindOf(x.slug)
		if k == nil {
			t.Fatalf("there is no kind %q", x.slug)
		}
		if got := k.Alkali(x.strength); math.Abs(got-x.alkali) > 0.001 {
			t.Errorf("%s at %v: %v mmol/L of alkali, want %v", x.slug, x.strength, got, x.alkali)
		}
		if got := k.GramsPerLitre(x.strength); math.Abs(got-x.gramsPerLitre) > 0.001 {
			t.Errorf("%s at %v: %v g/L, want %v", x.slug, x.strength, got, x.gramsPerLitre)
		}
		if Find(k.Operation) == nil {
			t.Errorf("%s: there is no operation %q", x.slug, k.Operation)
		}
		if _, err := solution.Find(k.Substance); k.Substance != "" && err != nil {
			t.Errorf("%s: %v", x.slug, err)
		}
	}
}

// Each kind can be tried over the whole span that its slider has.
func TestKindsCanBeTriedOverTheirSpan(t *testing.T) {
	g := interval.Within(50, 2)
	sheet := paper.Sheet{Class: paper.Newsprint, WidthMm: 340, HeightMm: 262, GrammageGsm: &g}
	for i := range WaterKinds {
		k := &WaterKinds[i]
		for _, strength := range []float64{k.From, k.Start, k.To} {
			trial := Trial{Kind: k, Strength: strength, VolumeMl: 500, Together: 1, Minutes: 10, Baths: 1, TempC: 20}
			if list := trial.Check(sheet); len(list) > 0 {
				t.Errorf("%s at %v %s: %v", k.Slug, strength, k.Unit, list[0].Say)
			}
		}
	}
}

// Ends are the 10 and 90 % points of acid and pick-up, of the class or as measured.
func TestEndsOfASheet(t *testing.T) {
	pickUp := interval.Range{Low: 1.8, Best: 2, High: 2.2}
	easy, hard := Ends(paper.Sheet{Class: paper.Newsprint, PickUpGPerG: &pickUp})
	acid, _ := paper.TypicalOf(paper.Newsprint, "fixed_acid")
	if *easy.PickUpGPerG != interval.Exactly(1.8) || *hard.PickUpGPerG != interval.Exactly(2.2) ||
		hard.FixedAcidMmolPerKg.Best != acid.High ||
		easy.FixedAcidMmolPerKg.Best != acid.Low {
		t.Errorf("%v %v", easy, hard)
	}
}

// Chosen baths count those begun since, for each sheet by itself.
func TestPlannedBathCountsWhatWasDone(t *testing.T) {
	c := &record.Case{MakeUp: &record.Stamped[record.MakeUp]{Body: record.MakeUp{InnerSheets: 3, Cover: "none"}}}
	c.BathPlans = []record.Stamped[record.BathPlan]{
		{Stamp: record.Stamp{Seq: 5}, Body: record.BathPlan{Sheets: []int{1, 2}, Operation: "lime", Baths: 2}},
	}
	run := func(seq int64, operation string, sheets ...int) record.Run {
		return record.Run{
			Stamped: record.Stamped[record.RunStarted]{
				Stamp: record.Stamp{Seq: seq},
				Body:  record.RunStarted{Operation: operation, Sheets: sheets},
			},
		}
	}
	c.Runs = []record.Run{run(3, "lime", 1), run(6, "lime", 1), run(7, "wash", 2)}
	for _, x := range []struct {
		operation string
		sheet     int
		number    int
		ok        bool
	}{{"lime", 1, 2, true}, {"lime", 2, 1, true}, {"lime", 3, 0, false}, {"wash", 1, 0, false}} {
		if _, n, ok := PlannedBath(c, x.operation, []int{x.sheet}); n != x.number || ok != x.ok {
			t.Errorf("%s of sheet %d: bath %d, %v; want %d, %v", x.operation, x.sheet, n, ok, x.number, x.ok)
		}
	}
}
