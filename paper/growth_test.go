package paper

import (
	"math"
	"testing"

	"benchleaf/interval"
)

// A bond paper of 9.469 by 10.985 inches was 9.844 by 11.008 soaked (a printing trade
// article); wet paper is 2 to 3 % wider across and ten times less longer along (a paper
// scientist on a book arts list, 2000).
func TestWetGrowthHoldsPublishedFigures(t *testing.T) {
	across, along := WetGrowth(TextChemical, Cross), WetGrowth(TextChemical, Machine)
	for _, v := range []float64{2, 3, 100 * (9.844/9.469 - 1)} {
		if !across.Range.Holds(v) {
			t.Errorf("%.2f %% across is outside %v", v, across.Range)
		}
	}
	if v := 100 * (11.008/10.985 - 1); !along.Range.Holds(v) || math.Abs(along.Range.Best/across.Range.Best-0.1) > 0.03 {
		t.Errorf("%.2f %% along, %v against %v", v, along.Range, across.Range)
	}
	if n := WetGrowth(Newsprint, Cross); n.Range.Low != 1.5 || n.Range.High != 2.5 || n.Basis != "memory" {
		t.Errorf("newsprint: %+v", n)
	}
}

// Timoshenko 1925: two layers of one thickness and one modulus curl to 3 strain/(2 h);
// a very thin one on a thick to 6 strain m/h (Stoney, Proc. R. Soc. A 82, 172, 1909).
func TestCurvatureOfTwoLayers(t *testing.T) {
	near(t, "equal", curvature(0.02, 0.05, 0.05, 1), 3*0.02/(2*0.1), 1e-12)
	near(t, "thin on thick", curvature(0.02, 0.1, 1e-5, 1), 6*0.02*1e-4/0.1, 1e-3)
	near(t, "the same from either side", curvature(0.02, 0.03, 0.08, 2), curvature(0.02, 0.08, 0.03, 0.5), 1e-12)
}

// Tissue with its grain across the tear shrinks more than a sheet along its own grain,
// by the two growths; a thin tissue draws the sheet in by its share of the mass. With
// its grain along a tear along the grain the two nearly agree.
func TestTissuePull(t *testing.T) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262, GrammageGsm: at(50), MoistureGPerG: at(0)}
	tissue := Tissue{GrammageGsm: interval.Exactly(5), TearRuns: Machine, LengthMm: 80}
	across, err := TissuePull(s, tissue, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "differs", across.DiffersMm.Best, 80*(2.5-0.3)/100, 1e-9)
	near(t, "draws in", across.DrawsMm.Best, across.DiffersMm.Best*5/55, 1e-9)
	near(t, "curls", across.RadiusMm.Best, 1/curvature(0.022, 0.075, 0.0075, 1), 1e-9)
	tissue.GrainAlong = true
	along, err := TissuePull(s, tissue, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(along.DrawsMm.Best) > 0.05*across.DrawsMm.Best || !(along.DrawsMm.Low < 0 && along.DrawsMm.High > 0) {
		t.Errorf("grain along draws %v, across %v", along.DrawsMm.Range, across.DrawsMm.Range)
	}
	tissue.GrainAlong, tissue.Held = false, true
	held, err := TissuePull(s, tissue, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	// Kuno et al. 2000: held, the cross shrinkage fell by a third.
	near(t, "held", held.DiffersMm.Best, across.DiffersMm.Best*2/3, 0.01)
	for _, bad := range []Tissue{{GrammageGsm: interval.Exactly(0), TearRuns: Cross, LengthMm: 80},
		{GrammageGsm: interval.Exactly(5), TearRuns: "up", LengthMm: 80},
		{GrammageGsm: interval.Exactly(5), TearRuns: Cross}} {
		if _, err := TissuePull(s, bad, Options{}); err == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
}

// Water half through a sheet from one face: 2 % across on 75 µm is a radius of
// 2 h/(3 strain) = 2.5 mm.
func TestOneFaceCurl(t *testing.T) {
	r, err := OneFaceCurl(Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "radius", r.Best, 2*0.075/(3*0.02), 1e-9)
	if !(r.Low < r.Best && r.Best < r.High) {
		t.Errorf("range %v", r.Range)
	}
}
