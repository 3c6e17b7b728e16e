package paper

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// Every row of the worked table of Crank's series, both cases, to 1e-4.
func TestCrank(t *testing.T) {
	rows := testRows(t, "slab-diffusion-worked.csv")
	if len(rows) != 33 {
		t.Fatalf("%d rows in the table, want 33", len(rows))
	}
	for _, r := range rows {
		f, _ := strconv.ParseFloat(r["F"], 64)
		want, _ := strconv.ParseFloat(r["fraction"], 64)
		s := slab{DiffusionM2S: 1e-9, PathM: 1e-4, Porosity: 0.8, FilmMS: math.Inf(1), Alpha: math.Inf(1)}
		if r["alpha"] != "" {
			s.Alpha, _ = strconv.ParseFloat(r["alpha"], 64)
		}
		got := exchanged(s, []float64{f * s.PathM * s.PathM / s.DiffusionM2S})
		if math.Abs(got[0]-want) > 1e-4 {
			t.Errorf("%s, F = %g, alpha = %q: got %.5f, want %.5f", r["case"], f, r["alpha"], got[0], want)
		}
	}
}

// A slab so thin that the film alone counts takes up exponentially, with the
// rate k (1 + 1/alpha)/(porosity l): the two stirred vessels joined by a film.
func TestFilmAlone(t *testing.T) {
	s := slab{DiffusionM2S: 1e-3, PathM: 1e-4, Porosity: 0.8, FilmMS: 1e-5, Alpha: 3}
	for _, at := range []float64{1, 5, 20} {
		got := exchanged(s, []float64{at})
		want := 1 - math.Exp(-s.FilmMS*(1+1/s.Alpha)/(s.Porosity*s.PathM)*at)
		if math.Abs(got[0]-want) > 1e-4 {
			t.Errorf("after %g s: got %.6f, want %.6f", at, got[0], want)
		}
	}
}

// Exchange grows with time, and a film, a longer way and a thicker pile slow it.
func TestExchangeOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := slab{
			DiffusionM2S: 1e-9 * rapid.Float64Range(0.2, 3).Draw(t, "D"),
			PathM:        1e-5 * rapid.Float64Range(2, 200).Draw(t, "l"),
			Porosity:     rapid.Float64Range(0.3, 1).Draw(t, "e"),
			FilmMS: 1e-6 * rapid.Float64Range(0.1, 1000).
				Draw(t, "k"),
			Alpha: rapid.Float64Range(0.05, 1000).Draw(t, "alpha"),
		}
		unit := s.PathM * s.PathM / s.DiffusionM2S
		times := []float64{0, 0.01 * unit, 0.1 * unit, unit, 10 * unit}
		got := exchanged(s, times)
		thick := s
		thick.PathM *= 2
		slower := exchanged(thick, times)
		open := s
		open.FilmMS = math.Inf(1)
		faster := exchanged(open, times)
		for i := range times {
			if got[i] < 0 || got[i] > 1 || i > 0 && got[i] < got[i-1] {
				t.Fatalf("exchanged %v", got)
			}
			if slower[i] > got[i]+1e-7 || faster[i] < got[i]-1e-7 {
				t.Fatalf(
					"after %g s: %g, with twice the way %g, without a film %g",
					times[i],
					got[i],
					slower[i],
					faster[i],
				)
			}
		}
	})
}

// The worked rows of the Mackie and Meares equation.
func TestInPores(t *testing.T) {
	for e, want := range map[float64]float64{0.6: 0.184, 0.7: 0.290, 0.8: 0.444, 0.9: 0.669} {
		if got := inPores(1, e); math.Abs(got-want) > 6e-4 {
			t.Errorf("porosity %g: got %.4f, want %.3f", e, got, want)
		}
	}
}

// exchanged is the share of the exchange that is done after each time.
func exchanged(s slab, seconds []float64) []float64 {
	out := s.turns(seconds)
	for i, turns := range out {
		out[i] = -math.Expm1(-turns)
	}
	return out
}
