package treatment

import (
	"testing"

	"benchleaf/internal/record"
)

// A sheet keeps what its pores hold. By hand: 0.4 g/L calcium hydroxide is
// 5.4 mmol/L; at 1.5 to 2 mL/g a kg of paper holds 8.1 to 10.8 mmol, which
// dry to 0.081 to 0.108 % CaCO3 if no acid takes any (mass balance, reference
// table of practice, section 10, sum 4, scaled from the saturated solution).
func TestExpectOneLimeBathOnNeutralPaper(t *testing.T) {
	bodies := ready()
	for i, b := range bodies {
		if s, ok := b.(record.Stock); ok && s.Name == "interior" {
			s.AcidMmolKg, s.PickUpGG = &record.Range{
				Low:  0,
				Best: 0,
				High: 0,
			}, &record.Range{
				Low:  1.5,
				Best: 1.75,
				High: 2,
			}
			bodies[i] = s
		}
	}
	c := fold(t, bodies...)
	bath := &record.Bath{
		Liquid:     "lime water",
		Substance:  "calcium hydroxide",
		StrengthGL: &record.Range{Low: 0.4, Best: 0.4, High: 0.4},
		VolumeMl:   1500,
	}
	out, ok, err := Expect(t.Context(), c, 1, bath, 1)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	r := out.ReservePercentChalk
	if r.Best < 0.081 || r.Best > 0.108 {
		t.Errorf("reserve %v %% CaCO3, want 0.081 to 0.108", r)
	}
	if out.Limit == "" {
		t.Error("no sentence on what limits it")
	}
}

func TestExpectSaysNothingWhereNothingIsKnown(t *testing.T) {
	c := fold(t, ready()...)
	if _, ok, _ := Expect(t.Context(), c, 1, &record.Bath{Liquid: "water", VolumeMl: 1000}, 1); ok {
		t.Error("a bath of plain water is said to leave a reserve")
	}
	if _, ok, _ := Expect(t.Context(), &record.Case{}, 1, nil, 1); ok {
		t.Error("a sheet without a paper is said to hold something")
	}
}
