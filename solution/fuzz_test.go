package solution

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"benchleaf/interval"
)

// FuzzMix asks for recipes of any substance from any bottle or solid, and holds
// that what is answered can be: figures that are numbers, amounts of 0 or more, no
// more substance out than in, a pH between 0 and 14, no strength above the
// bottle's, and nothing made of what must not meet. All else is one sentence.
func FuzzMix(f *testing.F) {
	f.Add(uint16(0), uint16(49), "0.4 g/L", "1.5 L", "", 0.1, 20.0, false)
	f.Add(uint16(29), uint16(49), "5 % v/v", "1 L", "", 0.01, 400.0, false)
	f.Add(uint16(11), uint16(42), "0.5 % w/v", "1 L", "", 0.1, 0.0, true)
	f.Add(uint16(35), uint16(29), "3 % w/v", "200 mL", "30 % w/w", 0.1, 0.0, false)
	f.Add(uint16(42), uint16(49), "70 % v/v", "500 mL", "96 % v/v", 1.0, 5000.0, false)
	f.Add(uint16(19), uint16(49), "1 + 19", "250 mL", "2 mol/L", 0.001, 30.0, false)
	f.Fuzz(func(t *testing.T, s, into uint16, want, volume, bottle string, step, alkalinity float64, solid bool) {
		tryMix(t, s, into, want, volume, bottle, step, alkalinity, solid)
	})
}

// tryMix asks for one recipe and holds what FuzzMix says; it tells whether there was one.
func tryMix(
	t *testing.T, s, into uint16, want, volume, bottle string, step, alkalinity float64, solid bool,
) (answered bool) {
	t.Helper()
	all := substances().all
	sub := all[int(s)%len(all)]
	var other *Substance
	if o := all[int(into)%len(all)]; o.State == Liquid && o.Name != "water" {
		other = o
	}
	wanted, err := ParseWanted(want)
	if err != nil {
		return false
	}
	v, err := ParseVolume(volume)
	if err != nil {
		return false
	}
	water := Water{Name: "tap water", AlkalinityMgL: &alkalinity}
	var r Recipe
	stock := Thing{Name: sub.Name}
	if solid {
		r, err = FromSolid{
			Substance: sub, Want: wanted.Strength, Volume: v, Balance: Balance{ResolutionG: Grams(step)}, Into: other,
			Water: water, Samples: 20,
		}.Recipe()
	} else {
		q := FromBottle{Substance: sub, Want: wanted, Volume: v, Into: other, Water: water, Samples: 20}
		if x, failed := ParseStrength(bottle); failed == nil {
			q.Strength, stock.Strength = StrengthRange{interval.Exactly(x.Value), x.Unit}, x
		}
		r, err = q.Recipe()
	}
	if err != nil {
		if len(err.Error()) > 900 || strings.Contains(err.Error(), "NaN") {
			t.Fatalf("no sentence: %v", err)
		}
		return false
	}
	canBe(t, stock, sub, other, r)
	return true
}

// BENCHLEAF_MIXES sets how many recipes TestDrawnMixes asks for, BENCHLEAF_SEED
// which: it is FuzzMix without the counting of branches, which costs most of its
// time. A twelfth of the texts have a character changed.
func TestDrawnMixes(t *testing.T) {
	n := envNumber(t, "BENCHLEAF_MIXES", 2000)
	rng := rand.New(rand.NewPCG(uint64(envNumber(t, "BENCHLEAF_SEED", 1)), 7))
	answered, current := 0, ""
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(current)
		}
	})
	for i := range n {
		want := drawStrength(rng)
		if rng.IntN(5) == 0 {
			want = fmt.Sprintf("%d + %d", 1+rng.IntN(3), rng.IntN(100))
		}
		volume := fmt.Sprintf("%.3g mL", math.Pow(10, 1+3*rng.Float64()))
		bottle := ""
		if rng.IntN(2) == 0 {
			bottle = drawStrength(rng)
		}
		asked := [...]string{blurred(rng, want), blurred(rng, volume), blurred(rng, bottle)}
		step := []float64{0.001, 0.01, 0.01, 0.01, 0.1, 0.1, 1, 0, -1}[rng.IntN(9)]
		alkalinity := math.Pow(10, -1+5*rng.Float64())
		of, into, solid := uint16(rng.Uint32()), uint16(rng.Uint32()), rng.IntN(2) == 0
		current = fmt.Sprintf("%d into %d: %q, step %g g, alkalinity %g, solid %v", of, into, asked, step, alkalinity, solid)
		if tryMix(t, of, into, asked[0], asked[1], asked[2], step, alkalinity, solid) {
			answered++
		}
		if (i+1)%1_000_000 == 0 {
			fmt.Printf("%d asked, %d recipes\n", i+1, answered)
		}
	}
	if answered < n/50 {
		t.Errorf("only %d of %d ended in a recipe", answered, n)
	}
	t.Logf("%d asked, %d recipes", n, answered)
}

func drawStrength(rng *rand.Rand) string {
	unit := Units()[rng.IntN(len(Units()))]
	return fmt.Sprintf("%.4g %s", math.Pow(10, -3+5*rng.Float64()), unit)
}

// blurred changes, mostly not, one byte of a text.
func blurred(rng *rand.Rand, s string) string {
	if s == "" || rng.IntN(12) > 0 {
		return s
	}
	b := []byte(s)
	b[rng.IntN(len(b))] = byte(rng.IntN(256))
	return string(b)
}

func envNumber(t *testing.T, name string, usual int) int {
	t.Helper()
	v := os.Getenv(name)
	if v == "" {
		return usual
	}
	n, err := strconv.Atoi(v)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// canBe holds what must be true of any recipe.
func canBe(t *testing.T, stock Thing, sub, other *Substance, r Recipe) {
	t.Helper()
	numbers := []float64{
		r.Strength.Low, r.Strength.Best, r.Strength.High, r.VolumeMl.Low, r.VolumeMl.Best, r.VolumeMl.High,
		float64(r.LimeLostPerLitre), r.Parts.Stock, r.Parts.Diluent, r.Keeping.Hours,
	}
	in := 0.0
	for _, d := range r.Draws {
		numbers = append(numbers, float64(d.Ml), float64(d.G))
		in += float64(d.Ml) + float64(d.G)
	}
	for _, x := range numbers {
		if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
			t.Fatalf("%s: the figure %g in %+v", sub.Name, x, r)
		}
	}
	if r.Strength.Low > r.Strength.Best || r.Strength.Best > r.Strength.High || r.VolumeMl.Best <= 0 {
		t.Fatalf("%s: %v, %v", sub.Name, r.Strength, r.VolumeMl)
	}
	if r.VolumeMl.Best > 1.02*in+1e-6 {
		t.Fatalf("%s: %g mL from %g mL and g", sub.Name, r.VolumeMl.Best, in)
	}
	lime := math.Inf(1)
	if x, err := r.Strength.Strength().PerLitre(sub.Parent(), 1); err == nil {
		lime = float64(x)
	}
	if c := r.Chemistry; c != nil && !(c.PH.Low >= 0 && c.PH.High <= 14 && c.ChalkMgPerL >= 0 && c.BruciteMgPerL >= 0 &&
		c.LimeLeft.Best >= 0 && c.LimeLeft.Best <= lime*1.02+1e-9) {
		t.Fatalf("%s: %+v", sub.Name, c)
	}
	if c, err := r.Strength.Strength().PerLitre(sub.Parent(), 0); err == nil && sub.Density > 0 && sub.State == Liquid &&
		float64(c) > 1000*float64(sub.Density)*1.001 {
		t.Fatalf("%s: %v is more than the pure liquid", sub.Name, r.Strength)
	}
	for _, c := range r.Conflicts {
		if c.Level == Stop {
			t.Fatalf("a recipe of what must not meet: %v", c)
		}
	}
	if other != nil {
		if err := CheckBath(stock, Thing{Name: other.Name}); err != nil && !strings.Contains(err.Error(), "benches use") {
			t.Fatalf("%v into %s: %v", stock, other.Name, err)
		}
	}
	if len(r.Lines) == 0 || strings.Contains(strings.Join(r.Steps(), " ")+strings.Join(r.Warnings, " "), "NaN") {
		t.Fatalf("%s: %v %v", sub.Name, r.Steps(), r.Warnings)
	}
}
