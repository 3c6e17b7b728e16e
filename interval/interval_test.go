package interval

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestQuantileGoesThroughTheThreePoints(t *testing.T) {
	for _, r := range []Range{{1, 2, 4}, {-3, 0, 1}, {0, 0.5, 2}, {5, 5, 9}, {2, 3, 3}} {
		for p, want := range map[float64]float64{0.1: r.Low, 0.5: r.Best, 0.9: r.High} {
			if got := r.Quantile(p); math.Abs(got-want) > 1e-9 {
				t.Errorf("%v at p = %v: got %v, want %v", r, p, got, want)
			}
		}
	}
}

func TestQuantileOfPositiveRangeStaysPositive(t *testing.T) {
	r := Range{0.01, 1, 2}
	if q := r.Quantile(1e-4); !(q > 0) {
		t.Errorf("the 0.01 %% point of %v is %v, want a positive value", r, q)
	}
}

// The normal sum is the check from outside: 10 % and 90 % points of a sum of
// independent normal quantities lie 1.2816 root-sum-of-squares either side.
func TestStudyOfASumIsTheNormalSum(t *testing.T) {
	s := Study{Samples: 4000, Seed: 7, Inputs: []Input{
		{"a", Within(-1, 3*z90)}, {"b", Within(2, 4*z90)}, {"idle", Exactly(5)},
	}}
	got, err := s.Run(1, func(in, out []float64) { out[0] = in[0] + in[1] + in[2] })
	if err != nil {
		t.Fatal(err)
	}
	r := got[0]
	if math.Abs(r.Low-(6-5*z90)) > 0.25 || math.Abs(r.High-(6+5*z90)) > 0.25 || r.Best != 6 {
		t.Errorf("got %v, want 6 with ends near %.3f and %.3f", r.Range, 6-5*z90, 6+5*z90)
	}
	// Shares of the variance: 16/25 and 9/25.
	if r.Dominant() != "b" || math.Abs(r.Shares[0].Share-0.64) > 0.06 || len(r.Shares) != 2 {
		t.Errorf("got shares %v, want b near 0.64, a near 0.36 and no other", r.Shares)
	}
	if !strings.Contains(r.Sentence(), "from b (") {
		t.Errorf("got sentence %q, want b named", r.Sentence())
	}
}

func TestStudyIsTheSameForTheSameSeed(t *testing.T) {
	run := func(seed uint64) Range {
		r, err := Study{Seed: seed, Inputs: []Input{{"a", Range{1, 2, 5}}, {"b", Range{1, 2, 3}}}}.
			Run(1, func(in, out []float64) { out[0] = in[0] * in[1] })
		if err != nil {
			t.Fatal(err)
		}
		return r[0].Range
	}
	if a, b := run(1), run(1); a != b {
		t.Errorf("seed 1 gave %v, then %v", a, b)
	}
	if a, b := run(1), run(2); a == b {
		t.Errorf("seeds 1 and 2 both gave %v", a)
	}
}

func TestStudySign(t *testing.T) {
	r, err := Study{Inputs: []Input{{"up", Range{1, 2, 3}}, {"down", Range{1, 2, 3}}}}.
		Run(2, func(in, out []float64) { out[0], out[1] = in[0]-in[1], 4 })
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range r[0].Shares {
		if want := map[string]int{"up": 1, "down": -1}[s.Input]; s.Sign != want {
			t.Errorf("sign of %s: got %d, want %d", s.Input, s.Sign, want)
		}
	}
	if len(r[1].Shares) != 0 || r[1].Range != Exactly(4) {
		t.Errorf("an output that does not vary: got %v, want exactly 4 without shares", r[1])
	}
}

func TestStudyRefuses(t *testing.T) {
	noop := func(_, _ []float64) {}
	for name, s := range map[string]Study{
		"a range out of order": {Inputs: []Input{{"x", Range{2, 1, 3}}}},
		"not a number":         {Inputs: []Input{{"x", Range{1, math.NaN(), 3}}}},
		"too few samples":      {Samples: 3},
		"too many samples":     {Samples: 1_000_000},
	} {
		if _, err := s.Run(1, noop); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func TestRangeOfAStudyHoldsItsBestValue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(0, 10).Draw(t, "low")
		r := Range{lo, lo + rapid.Float64Range(0, 5).Draw(t, "a"), 0}
		r.High = r.Best + rapid.Float64Range(0, 5).Draw(t, "b")
		got, err := Study{Samples: 50, Inputs: []Input{{"x", r}}}.
			Run(1, func(in, out []float64) { out[0] = math.Max(0, in[0]-3) })
		if err != nil {
			t.Fatal(err)
		}
		if err := got[0].Check("the result"); err != nil {
			t.Fatal(err)
		}
	})
}

func TestText(t *testing.T) {
	for _, tc := range []struct {
		r    Range
		want string
	}{
		{Range{0.3912, 0.4021, 0.4192}, "0.391 to 0.419"},
		{Range{1.54, 1.65, 1.73}, "1.54 to 1.73"},
		{Range{355, 360, 365}, "355 to 365"},
		{Range{12345, 13000, 15000}, "12300 to 15000"},
		{Exactly(2), "2"}, {Range{0.37, 0.4, 0.43}, "0.37 to 0.43"}, {Range{-0.96, 0, 0.96}, "−1.0 to 1.0"},
		{Range{0, 0, 0}, "0"},
	} {
		if got := tc.r.Text(); got != tc.want {
			t.Errorf("%v: got %q, want %q", tc.r, got, tc.want)
		}
	}
}

func TestCheckWithin(t *testing.T) {
	err := Range{-1, 0, 1}.CheckWithin("the pick-up", 0, 5, "g/g")
	if err == nil || !strings.Contains(err.Error(), "the pick-up must lie between 0 and 5 g/g") {
		t.Errorf("got %v", err)
	}
	if err := (Range{1, 2, 3}).CheckWithin("the pick-up", 0, 5, "g/g"); err != nil {
		t.Error(err)
	}
}

func BenchmarkStudy(b *testing.B) {
	s := Study{
		Inputs: []Input{{"a", Range{1, 2, 3}}, {"b", Range{1, 2, 3}}, {"c", Range{1, 2, 3}}, {"d", Range{1, 2, 3}}},
	}
	for b.Loop() {
		if _, err := s.Run(4, func(in, out []float64) {
			out[0], out[1], out[2], out[3] = in[0]*in[1], in[2]/in[3], in[0]+in[3], in[1]
		}); err != nil {
			b.Fatal(err)
		}
	}
}

func TestRangeFromJSON(t *testing.T) {
	for text, want := range map[string]Range{
		`2.5`:                              {2.5, 2.5, 2.5},
		`[1, 2, 3]`:                        {1, 2, 3},
		`{"low": 1, "best": 2, "high": 3}`: {1, 2, 3},
	} {
		var got Range
		if err := json.Unmarshal([]byte(text), &got); err != nil || got != want {
			t.Errorf("%s: got %v, %v, want %v", text, got, err, want)
		}
		again, err := json.Marshal(got)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(again, &got); err != nil || got != want {
			t.Errorf("%s, written and read again: got %v, %v", text, got, err)
		}
	}
	for _, text := range []string{`[1, 2]`, `"2"`, `{"low": 1}`, `{"low": 1, "best": 2, "high": 3, "more": 4}`, `true`,
		`[1, 2, "3"]`} {
		var got Range
		if err := json.Unmarshal([]byte(text), &got); err == nil {
			t.Errorf("%s was accepted as %v", text, got)
		}
	}
}
