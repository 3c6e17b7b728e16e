package paper

import (
	"math"
	"testing"
)

var thinSheet = Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262, GrammageGsm: at(50), MoistureGPerG: at(0),
	PickUpGPerG: at(2.2)}

func washed(t *testing.T, w Wash) Washed {
	t.Helper()
	w.TempC = 20
	a, err := WashBy(thinSheet, w, Options{Seed: 1, Samples: 200})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Two layers against Crank 1975: at first what crosses is sqrt(Dt/pi) of the sheet's
// concentration (two half spaces, eq. 2.14); in the end both are level, eq. 2.17 with
// one mode left just before. Two blotters each left for ever share twice.
func TestTwoLayersOfCrank(t *testing.T) {
	l := twoLayers{sheet: 2e-4, whole: 1e-3, diffusion: 4e-10}
	near(t, "first", 1-l.left(4, 1), math.Sqrt(4e-10*4/math.Pi)/2e-4, 0.03)
	near(t, "level", l.left(1e6, 1), 0.2, 1e-9)
	near(t, "twice", l.left(1e6, 2), 0.04, 1e-9)
	one := math.Sin(math.Pi*0.2) / (math.Pi * 0.2)
	late := 2000.0
	near(t, "one mode", l.left(late, 1), 0.2+0.4*one*one*math.Exp(-4e-10*math.Pi*math.Pi/1e-6*late), 1e-3)
	if a, b := l.left(300, 3), l.left(900, 1); a >= b {
		t.Errorf("three blotters leave %g, one for as long %g", a, b)
	}
	// The same by steps in space and time.
	const n, sheet = 200, 40
	var c [n]float64
	for i := range sheet {
		c[i] = 1
	}
	dx := l.whole / n
	dt := 0.4 * dx * dx / l.diffusion
	for blotter := range 2 {
		if blotter > 0 {
			for i := sheet; i < n; i++ {
				c[i] = 0
			}
		}
		for s := 0.0; s < 120; s += dt {
			last := c
			for i := range c {
				left, right := last[max(0, i-1)], last[min(n-1, i+1)]
				c[i] += 0.4 * (left - 2*last[i] + right)
			}
		}
	}
	sum := 0.0
	for _, v := range c[:sheet] {
		sum += v / sheet
	}
	near(t, "two blotters of two minutes", l.left(120, 2), sum, 0.01)
}

// Levenspiel, tanks in series: one cell is mixing, exp(-N); two leave
// exp(-2N)(1 + N) of the whole; many are a plug, which is empty after one volume.
func TestMixedCellsOfLevenspiel(t *testing.T) {
	for _, v := range []float64{0.3, 1, 2.5} {
		near(t, "one", mixedCells(1, v), math.Exp(-v), 1e-12)
		near(t, "two", mixedCells(2, v), math.Exp(-2*v)*(1+v), 1e-12)
	}
	near(t, "between", mixedCells(1.5, 1), (math.Exp(-1)+2*math.Exp(-2))/2, 1e-12)
	if x := mixedCells(200, 1.3); x > 1e-3 {
		t.Errorf("a plug leaves %g", x)
	}
}

// ISO 5636-5: air permeance in µm/(Pa s) is 135.3 over the Gurley time in s of 100 mL
// (6.42 cm2, 1.22 kPa). Darcy's law with the permeability that belongs to 30 s gives it
// back, and is a fifty-fifth with water for air (viscosities 1.002 and 0.0182 mPa s).
func TestDarcyByTheGurleyTest(t *testing.T) {
	const thick, seconds, air = 75e-6, 30.0, 1.82e-5
	k := 135.3e-6 / seconds * air * thick
	near(t, "100 mL", darcy(k, 1220, air, thick)*6.42e-4*seconds, 100e-6*1.06, 0.01)
	near(t, "water", darcy(k, 1220, air, thick)/darcy(k, 1220, 1.002e-3, thick), 1.002e-3/air, 1e-9)
	if k < wetPermeability.Best || k > 10*wetPermeability.High {
		t.Errorf("dry newsprint %g, wet taken as %v", k, wetPermeability)
	}
}

// Afloat one face is open: a quarter of the exchange's speed, the rule of Crank's F =
// Dt/l^2 (no film, water without end).
func TestFloatingIsFourTimesSlower(t *testing.T) {
	c := wetSheet{heldMl: 10, areaM2: 0.09, thickM: 2e-4, diffusion: 4e-10, porosity: 0.8, d0: 9e-10, filmM: 1e-12}
	under, _, _ := c.inBaths(Wash{Way: Immersed, Minutes: 1, Changes: 1, WaterMl: 1e12})
	afloat, _, _ := c.inBaths(Wash{Way: Floated, Minutes: 4, Changes: 1, WaterMl: 1e12})
	near(t, "left", afloat, under, 1e-6)
	near(t, "by the series", 1-under, crankShare(4e-10*60/1e-8), 1e-4)
}

// crankShare is the uptake of a slab from a bath without end, Crank 1975, eq. 4.18.
func crankShare(f float64) float64 {
	sum := 0.0
	for n := range 50 {
		k := float64(2*n+1) * math.Pi / 2
		sum += 2 / (k * k) * math.Exp(-k*k*f)
	}
	return 1 - sum
}

// Baths left until level follow the closed form of rinses, (h/(h + b))^n; a slant with
// endless time leaves exp(-volumes), suction with much water next to nothing but what it
// bypasses.
func TestWashingInTheLimit(t *testing.T) {
	held := 2.2 * 50 * 0.340 * 0.262
	a := washed(t, Wash{Way: Immersed, Minutes: 600, Changes: 2, WaterMl: 500})
	near(t, "level", a.LeftPercent.Best, 100*math.Pow(held/(held+500), 2), 1e-6)
	a = washed(t, Wash{Way: OnSlant, Minutes: 1440, WaterMl: 2 * held})
	near(t, "slant", a.LeftPercent.Best, 100*math.Exp(-2), 0.02)
	a = washed(t, Wash{Way: OnSuction, Minutes: 1, WaterMl: 3 * held, SuctionKPa: 20})
	if a.LeftPercent.Best > 100*(mixedCells(2, 3)+bypassed.Best) || a.LeftPercent.Best < 1 {
		t.Errorf("suction leaves %v", a.LeftPercent.Range)
	}
}

// The ways in the order that benches find: afloat less than under water in one time;
// blotters, changed three times, some; every answer has a range, its water and time.
func TestWashingWaysBesideEachOther(t *testing.T) {
	left := map[WashWay]float64{}
	for _, w := range []Wash{
		{Way: Immersed, Minutes: 15, Changes: 3, WaterMl: 1000}, {Way: Floated, Minutes: 15, Changes: 3, WaterMl: 1000},
		{Way: OnBlotter, Minutes: 20, Changes: 3, BlotterGsm: 350}, {Way: OnSlant, Minutes: 60, WaterMl: 1000},
		{Way: OnSuction, Minutes: 5, WaterMl: 100, SuctionKPa: 15},
	} {
		a := washed(t, w)
		left[w.Way] = a.LeftPercent.Best
		if !(a.LeftPercent.Low < a.LeftPercent.High) || a.LeftPercent.Best > 60 || a.WaterMl.Best <= 0 ||
			a.Minutes.Best <= 0 || len(a.Taken) < 2 || a.Limit == "" || len(a.RestsOn) != 2 {
			t.Errorf("%s: %+v", w.Way, a)
		}
	}
	if left[Immersed] > left[Floated] || left[Floated] > left[OnBlotter] {
		t.Errorf("left: %v", left)
	}
	for _, bad := range []Wash{{Way: "steamed", Minutes: 5, TempC: 20}, {Way: Floated, Minutes: 5, TempC: 20, WaterMl: 100},
		{Way: OnSuction, Minutes: 5, TempC: 20, WaterMl: 100}, {Way: OnBlotter, Minutes: 5, TempC: 20, Changes: 1}} {
		if _, err := WashBy(thinSheet, bad, Options{}); err == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
}

// Washburn 1921: twice the way takes four times as long.
func TestWickingGoesWithTheRootOfTime(t *testing.T) {
	near(t, "time", WicksThroughMin(200).Best, 4*WicksThroughMin(100).Best, 1e-12)
	if r := WicksThroughMin(30); !r.Holds(10) || !(r.Low < r.High) {
		t.Errorf("30 mm takes %v, want about 10 min", r)
	}
}

func BenchmarkWashOnBlotters(b *testing.B) {
	for b.Loop() {
		if _, err := WashBy(thinSheet, Wash{Way: OnBlotter, Minutes: 20, Changes: 4, BlotterGsm: 350, TempC: 20},
			Options{Samples: 200, Seed: 1}); err != nil {
			b.Fatal(err)
		}
	}
}
