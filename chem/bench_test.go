package chem

import "testing"

// benchWater is the hard tap water of design section 6 with lime in it: all
// species of eight components.
func benchWater(b testing.TB) Water {
	b.Helper()
	a := Analysis{TemperatureC: 20, Unit: MilligramPerLitre, PH: Figure(7.5),
		Ions: map[string]float64{"Ca": 80, "Mg": 20, "Na": 15, "K": 2, "Cl": 30, "SO4": 40, "HCO3": 250}}
	bal, err := a.Balance()
	if err != nil {
		b.Fatal(err)
	}
	lime, err := ParseSolute("Ca(OH)2")
	if err != nil {
		b.Fatal(err)
	}
	w, err := bal.Water.Dissolve(Measure{lime, 0.4, GramPerLitre})
	if err != nil {
		b.Fatal(err)
	}
	return w
}

func benchSolve(b *testing.B, c Conditions) {
	w := benchWater(b)
	var s Solver
	var o State
	if err := s.Solve(&w, c, &o); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := s.Solve(&w, c, &o); err != nil {
			b.Fatal(err)
		}
	}
}

// Closed, hard tap water with lime, nothing may fall, from a cold start.
func BenchmarkCold(b *testing.B) { benchSolve(b, Conditions{}) }

// The same with chalk falling, and with every solid allowed.
func BenchmarkColdChalk(b *testing.B) { benchSolve(b, Conditions{MayFall: Calcite}) }
func BenchmarkColdSolids(b *testing.B) {
	benchSolve(b, Conditions{MayFall: Calcite | Brucite | Portlandite | Gypsum | Nesquehonite})
}

func benchFollow(b *testing.B, c Conditions, change float64) {
	w := benchWater(b)
	var waters [64]Water
	for i := range waters {
		waters[i] = w
		waters[i].n[Ca] *= 1 + change*float64(i&31)
		if i >= 32 {
			waters[i].n[Ca] = w.n[Ca] * (1 + change*float64(63-i))
		}
		waters[i].balance()
	}
	var s Solver
	var o State
	if err := s.Solve(&w, c, &o); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if err := s.Follow(&waters[i&63], c, &o); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

// From a neighbouring state: each water has 0.1 % (1 %) more or less calcium
// than the one before.
func BenchmarkNeighbour(b *testing.B)           { benchFollow(b, Conditions{}, 1e-3) }
func BenchmarkNeighbourOnePercent(b *testing.B) { benchFollow(b, Conditions{}, 1e-2) }
func BenchmarkNeighbourChalk(b *testing.B)      { benchFollow(b, Conditions{MayFall: Calcite}, 1e-3) }

// 200 points of hard tap water titrated with acid.
func BenchmarkTitration200(b *testing.B) {
	w := benchWater(b)
	acid, _ := ParseSolute("HCl")
	var mol, pH [200]float64
	for i := range mol {
		mol[i] = 0.02 * float64(i) / 199
	}
	var s Solver
	b.ReportAllocs()
	for b.Loop() {
		if err := s.Titrate(&w, &acid, mol[:], Conditions{}, pH[:]); err != nil {
			b.Fatal(err)
		}
	}
}

// Solving allocates nothing once a solver exists.
func TestNoAllocation(t *testing.T) {
	w := benchWater(t)
	acid, _ := ParseSolute("HCl")
	var s Solver
	var o State
	var mol, pH [20]float64
	for i := range mol {
		mol[i] = 1e-3 * float64(i)
	}
	every := Conditions{MayFall: 1<<numSolids - 1}
	open := Conditions{MayFall: Calcite, Open: true, CO2Atm: 4e-4}
	if n := testing.AllocsPerRun(100, func() {
		for _, c := range []Conditions{{}, every, open} {
			if s.Solve(&w, c, &o) != nil || s.Follow(&w, c, &o) != nil {
				t.Fatal("no equilibrium")
			}
		}
		if s.Titrate(&w, &acid, mol[:], every, pH[:]) != nil {
			t.Fatal("no titration")
		}
	}); n != 0 {
		t.Errorf("%g allocations", n)
	}
}
