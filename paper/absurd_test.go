package paper

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"benchleaf/chem"
	"benchleaf/interval"
)

// whatever is any sheet and any chain of baths, cases at the ends of what is allowed
// among them.
func whatever(r *rand.Rand, solutes []chem.Solute) (Sheet, []Bath) {
	between := func(low, high float64) float64 {
		switch r.IntN(12) {
		case 0:
			return low
		case 1:
			return high
		}
		return low + r.Float64()*(high-low)
	}
	decades := func(low, high float64) float64 { return math.Exp(between(math.Log(low), math.Log(high))) }
	s := exactSheet(decades(0.05, 500), decades(0.1, 8), 0)
	s.MoistureGPerG = at(between(0, 0.3))
	s.AcidMmolPerKg, s.SolubleAcidMmolPerKg, s.FixedAcidMmolPerKg = nil, at(between(0, 300)), at(between(0, 300))
	if r.IntN(3) == 0 {
		s.ReserveMolPerKg = at(between(0, 1))
	}
	dry := s.MassG.Best / (1 + s.MoistureGPerG.Best)
	var baths []Bath
	for range 1 + r.IntN(4) {
		b := Bath{
			Together: 1 + r.IntN(12), TemperatureC: new(Celsius(between(0, 50))),
			Motion: []Motion{"", Rocked, Still}[r.IntN(3)], Supported: r.IntN(2) == 0, DriedBefore: r.IntN(3) == 0,
		}
		b.Stack = 1 + r.IntN(b.Together)
		least := 0.3 * float64(b.Together) * dry * s.PickUpGPerG.Best
		b.VolumeMl = interval.Exactly(min(1e6, max(1, decades(least, 1e4*least))))
		if r.IntN(5) > 0 {
			b.Minutes = new(Minutes(decades(0.01, 20_000)))
		}
		if r.IntN(3) == 0 {
			b.DepthMm = new(Millimetres(decades(1, 1000)))
		}
		if r.IntN(4) > 0 {
			b.Liquid = Dissolved("bath", solutes[r.IntN(len(solutes))], interval.Exactly(decades(1e-3, 400)))
		} else if r.IntN(2) == 0 {
			b.Liquid = Liquid{AlkaliMmolPerL: interval.Exactly(between(0, 10)), Base: Calcium, Anion: Bicarbonate}
		}
		baths = append(baths, b)
	}
	return s, baths
}

// mostPH is that of 2 mol/kg of hydroxide, beyond which nothing is computed: pKw, 14.94 at
// 0 C and 14.0 from 25 C on (between them on a line; handbook values, memory), and 0.3.
func mostPH(celsius float64) float64 { return 14.3 + 0.95*max(0, 1-celsius/25) }

// No answer is absurd: for any sheet and baths no pH is outside 0 to 14 (a cold lye: mostPH), no amount is
// below 0 or no number, and no reserve is more than what the sheet had and the trays
// brought. BENCHLEAF_BATHS=N tries N of them, from a seed of BENCHLEAF_SEED.
func TestNoAnswerIsAbsurd(t *testing.T) {
	n, seed := 150, uint64(1)
	if v, err := strconv.Atoi(os.Getenv("BENCHLEAF_BATHS")); err == nil {
		n = v
	}
	if v, err := strconv.ParseUint(os.Getenv("BENCHLEAF_SEED"), 10, 64); err == nil {
		seed = v
	}
	var solutes []chem.Solute
	for _, name := range []string{
		"Ca(OH)2", "CaCO3", "Ca(HCO3)2", "CaCl2", "Mg(OH)2", "MgCO3", "MgCO3.3H2O", "Mg5(CO3)4(OH)2", "Mg(HCO3)2",
		"NaBH4", "KBH4", "NaBO2", "Na2B4O7.10H2O", "Na2CO3", "NaHCO3", "NaOH", "NH3", "NH4HCO3", "Na3C6H5O7",
		"(NH4)3C6H5O7", "Na2HPO4", "H2O2", "NaOCl", "Ca(OCl)2", "K2CO3", "KHCO3", "CaSO4",
	} {
		s, err := chem.ParseSolute(name)
		if err != nil {
			t.Fatal(err)
		}
		solutes = append(solutes, s)
	}
	refused := 0
	for i := range n {
		s, baths := whatever(rand.New(rand.NewPCG(seed, uint64(i))), solutes)
		out, err := RunBest(s, baths, Options{})
		if err != nil {
			refused++
			t.Logf("%d: %v", i, err)
			continue
		}
		if wrong := absurd(s, baths, &out); wrong != "" {
			t.Errorf("%d of seed %d: %s\n%+v\n%+v", i, seed, wrong, s, baths)
		}
	}
	if refused > n/100 {
		t.Errorf("%d of %d refused", refused, n)
	}
}

// absurd says what of an answer cannot be, or "".
func absurd(s Sheet, baths []Bath, out *Outcome) string {
	bring := 0.0
	if s.ReserveMolPerKg != nil {
		bring = 1000 * s.ReserveMolPerKg.Best * out.DryMassG.Best / 1000
	}
	for i, x := range out.Steps {
		bring += max(0, x.TrayMmol.Best) / baths[i].together()
		for name, pH := range map[string]float64{
			"the bath before": x.BathPHBefore.Best, "the bath": x.BathPH.Best, "the sheet": x.SheetPH.Best,
		} {
			if !(pH >= 0 && pH <= mostPH(baths[i].celsius())) {
				return fmt.Sprintf("pH %g of %s in bath %d", pH, name, i+1)
			}
		}
		for name, v := range map[string]float64{
			"spent": x.SpentShare.Best, "to acid": x.AcidShare.Best, "alkali after": x.AlkaliAfterMmolPerL.Best,
			"acid left": x.AcidLeftMmolPerKg.Best, "boron": x.BoronMmolPerKg.Best, "hydride": x.HydrideLeft.Best,
			"hydrogen": x.HydrogenMlPer100Cm2.Best, "calcium": x.CalciumMmol.Best,
		} {
			if !(v >= 0) || math.IsInf(v, 0) {
				return fmt.Sprintf("%s %g in bath %d", name, v, i+1)
			}
		}
		reserve := 1000 * molPerKg(x.ReservePercentChalk.Best) * out.DryMassG.Best / 1000
		if !(reserve >= 0 && reserve <= bring*(1+1e-6)+1e-9) {
			return fmt.Sprintf("a reserve of %g mmol after bath %d, and %g mmol came in", reserve, i+1, bring)
		}
		if x.HydrideLeft.Best > 1 || x.SpentShare.Best > 1 {
			return fmt.Sprintf("a share above 1 in bath %d", i+1)
		}
	}
	if pH := out.ExtractPH.Best; !(pH >= 0 && pH <= 14) {
		return fmt.Sprintf("extract pH %g", pH)
	}
	for name, v := range map[string]float64{
		"acid left": out.AcidLeftMmolPerKg.Best, "neutralised": out.AcidNeutralisedMmolPerKg.Best,
		"soda": out.SodaAlkaliMmolPerKg.Best, "sodium": out.SodiumMmolPerKg.Best,
		"potassium": out.PotassiumMmolPerKg.Best, "boron": out.BoronMmolPerKg.Best,
	} {
		if !(v >= 0) || math.IsInf(v, 0) {
			return fmt.Sprintf("%s %g", name, v)
		}
	}
	if out.AcidLeftMmolPerKg.Best > 1e-6 && out.ReserveMolPerKg.Best > 1e-9 {
		return fmt.Sprintf("acid %g beside a reserve of %g", out.AcidLeftMmolPerKg.Best, out.ReserveMolPerKg.Best)
	}
	return ""
}
