package paper

import (
	"math"
	"strings"
	"testing"
)

// The rows read of the CRC Handbook (after Wexler) against Greenspan's of the same
// salts at 20 and 25 deg C, within half a per cent, and between rows on a line.
func TestHumidityOverSalts(t *testing.T) {
	n := 0
	for _, r := range readTable("data/saturated-salt-humidity.csv") {
		d := Damper(r["salt"])
		if !strings.HasPrefix(r["source"], "CRC") || d != SaltNaCl && d != SaltKCl && d != SaltK2SO4 && d != SaltKNO3 {
			continue
		}
		h, err := HumidityOver(d, Celsius(figure(t, r["temperature_C"])))
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(100*float64(h)-figure(t, r["value"])) > 0.5 {
			t.Errorf("%s at %s C: %.2f %%, want %s", d, r["temperature_C"], 100*float64(h), r["value"])
		}
		n++
	}
	if n != 8 {
		t.Errorf("%d rows, want 8", n)
	}
	a, _ := HumidityOver(SaltNaCl, 22)
	near(t, "between", float64(a), 0.7547+(0.7529-0.7547)*0.4, 1e-9)
	for _, bad := range []struct {
		d Damper
		t Celsius
	}{{"sugar", 20}, {SaltKCl, 60}} {
		if _, err := HumidityOver(bad.d, bad.t); err == nil {
			t.Errorf("%v was accepted", bad)
		}
	}
}

var closet = Chamber{Damper: OpenWater, TemperatureC: 20, Room: 0.5, GapMm: 100, Sheets: 1}

// Sugarman and Vitale, JAIC 31-2, 175, 1992 (abstract): vapour humidifying brought old
// papers to 81 ± 5 % solids, 0.163 to 0.316 g/g. Benches give it 0.5 to 4 h (notes on
// practice, section 5; common practice, no source).
func TestHumidifyOverWater(t *testing.T) {
	s := Sheet{Class: TextChemical, WidthMm: 340, HeightMm: 262}
	a, err := Humidify(s, closet, Options{Seed: 1, Samples: 200})
	if err != nil {
		t.Fatal(err)
	}
	if a.EndGPerG.Best < 100/86.0-1 || a.EndGPerG.Best > 100/76.0-1 {
		t.Errorf("ends at %v g/g, published 0.163 to 0.316", a.EndGPerG.Range)
	}
	if a.MostMin.Best < 15 || a.MostMin.Best > 240 || a.MostMin.Low > 60 || a.MostMin.High < 60 {
		t.Errorf("most after %v min, benches take 30 to 240", a.MostMin.Range)
	}
	if a.HalfMin.Best >= a.MostMin.Best || len(a.Course) != dryingPoints || len(a.Taken) != 3 {
		t.Errorf("%+v", a)
	}
	for i := 1; i < len(a.Course); i++ {
		if a.Course[i].MoistureGPerG.Best < a.Course[i-1].MoistureGPerG.Best {
			t.Errorf("moisture falls at %g min", a.Course[i].Minutes)
		}
	}
}

func taken(u uptake, minutes float64) float64 {
	return -math.Expm1(-u.slab.turns([]float64{minutes * 60})[0])
}

// A thin sheet behind much air is a store behind one resistance: 1 - exp(-k t/(l K)); a
// thick pile behind none follows Crank 1975, eq. 4.18, its time with the square of its
// thickness.
func TestUptakeInTheLimit(t *testing.T) {
	in := []float64{50, 0.08, 0.18, 1e-5, 1, 80}
	u := closet.uptake(in, 0.98)
	k, l, capacity := u.slab.FilmMS, u.slab.PathM, u.slab.Porosity
	near(t, "behind air", taken(u, 100), -math.Expm1(-k*6000/(l*capacity)), 1e-3)
	pile := closet
	pile.Sheets = 10
	in[3], in[4] = 1e6, 3e-6
	v := pile.uptake(in, 0.98)
	near(t, "within paper", taken(v, 30), crankShare(v.slab.DiffusionM2S*1800/(v.slab.PathM*v.slab.PathM)), 1e-3)
	pile.Sheets = 20
	near(t, "square of the pile", pile.uptake(in, 0.98).minutesTo(0.5), 4*v.minutesTo(0.5), 1e-3)
}

func TestHumidifySlowerWithLessAndMore(t *testing.T) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}
	most := func(change func(*Chamber)) float64 {
		c := closet
		change(&c)
		a, err := Humidify(s, c, Options{Seed: 1, Samples: 50})
		if err != nil {
			t.Fatal(err)
		}
		return a.MostMin.Best
	}
	base := most(func(*Chamber) {})
	if most(func(c *Chamber) { c.Fan = true }) >= base || most(func(c *Chamber) { c.Sheets = 8 }) <= 4*base ||
		most(func(c *Chamber) { c.OneFace = true }) < 1.9*base || most(func(c *Chamber) { c.GapMm = 10 }) >= base {
		t.Errorf("a fan and a short way are quicker, a pile and one face slower than %g min", base)
	}
	for what, change := range map[string]func(*Chamber){
		"a room of 90 %": func(c *Chamber) { c.Room = 0.9 }, "no sheet": func(c *Chamber) { c.Sheets = 0 },
		"no way": func(c *Chamber) { c.GapMm = 0 }, "sugar": func(c *Chamber) { c.Damper = "sugar" },
	} {
		c := closet
		change(&c)
		if _, err := Humidify(s, c, Options{}); err == nil {
			t.Errorf("%s was accepted", what)
		}
	}
}

func BenchmarkHumidify(b *testing.B) {
	s := Sheet{Class: Newsprint, WidthMm: 340, HeightMm: 262}
	for b.Loop() {
		if _, err := Humidify(s, closet, Options{Seed: 1, Samples: 200}); err != nil {
			b.Fatal(err)
		}
	}
}
