package interval

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
)

// Input is one uncertain quantity that a calculation rests on. Its Name stands
// in sentences: "the pick-up".
type Input struct {
	Name  string
	Range Range
}

// Study samples a calculation over its inputs' ranges.
type Study struct {
	Inputs []Input
	// Samples, 20 to 100,000; 0 means 500.
	Samples int
	// Seed of the sampling: the same seed gives the same answer. 0 means 1, so that
	// whoever asks the same without a seed reads the same.
	Seed uint64
	// NoShares leaves out what the spread of an output goes with.
	NoShares bool
}

// Share is how much of an output's spread goes with one input: its squared
// rank correlation (Spearman), scaled so that the shares of an output sum to 1.
// Correlations that chance alone explains are left out.
type Share struct {
	Input string  `json:"input"`
	Share float64 `json:"share"`
	// Sign is +1 when the output grows with the input, -1 when it falls.
	Sign int `json:"sign"`
}

// Result is one output of a study: its range (the best value is the
// calculation at the inputs' best values), and what its spread goes with, the
// largest share first. Shares is empty when the output does not vary.
type Result struct {
	Range
	Shares []Share `json:"shares,omitempty"`
}

// UnmarshalJSON reads a result as it was written.
func (r *Result) UnmarshalJSON(data []byte) error {
	var x struct {
		Low, Best, High float64
		Shares          []Share
	}
	if err := json.Unmarshal(data, &x); err != nil {
		return err
	}
	*r = Result{Range{x.Low, x.Best, x.High}, x.Shares}
	return nil
}

// Dominant is the input with the largest share, or "".
func (r Result) Dominant() string {
	if len(r.Shares) == 0 {
		return ""
	}
	return r.Shares[0].Input
}

// Sentence says what the spread rests on: "Its spread comes mostly from the
// pick-up (62 %) and the acid content (30 %)."
func (r Result) Sentence() string {
	switch {
	case len(r.Shares) == 0:
		return "It does not vary with any of the inputs."
	case len(r.Shares) == 1 || r.Shares[1].Share < 0.15:
		return fmt.Sprintf("Its spread comes mostly from %s (%.0f %%).", r.Shares[0].Input, 100*r.Shares[0].Share)
	}
	return fmt.Sprintf("Its spread comes mostly from %s (%.0f %%) and %s (%.0f %%).",
		r.Shares[0].Input, 100*r.Shares[0].Share, r.Shares[1].Input, 100*r.Shares[1].Share)
}

// Run works f out at the inputs' best values and at every sample. f is given
// one value per input, in order, and fills outputs values; it must not keep the
// slices. Errors: an input whose range is not in order, or samples out of
// range.
func (s Study) Run(outputs int, f func(in, out []float64)) ([]Result, error) {
	n := s.Samples
	if n == 0 {
		n = 500
	}
	if n < 20 || n > 100_000 {
		return nil, fmt.Errorf("the number of samples must lie between 20 and 100,000, not at %d", n)
	}
	for _, in := range s.Inputs {
		if err := in.Range.Check(in.Name); err != nil {
			return nil, err
		}
	}
	drawn := s.draw(n)
	in, out := make([]float64, len(s.Inputs)), make([]float64, outputs)
	sampled := make([][]float64, outputs)
	for k := range sampled {
		sampled[k] = make([]float64, n)
	}
	for i := range n {
		for j := range in {
			in[j] = drawn[j][i]
		}
		f(in, out)
		for k := range out {
			sampled[k][i] = out[k]
		}
	}
	for j, x := range s.Inputs {
		in[j] = x.Range.Best
	}
	f(in, out)

	rankOf := make([][]float64, len(drawn)) // nil for an input that does not vary
	for j, x := range s.Inputs {
		if x.Range.Low != x.Range.High && !s.NoShares {
			rankOf[j] = ranks(drawn[j])
		}
	}
	results := make([]Result, outputs)
	for k := range results {
		results[k].Range = spread(sampled[k], out[k])
		if !s.NoShares {
			results[k].Shares = s.shares(rankOf, sampled[k])
		}
	}
	return results, nil
}

// draw gives each input n values, one from each of n slices of equal
// probability, in an order of its own.
func (s Study) draw(n int) [][]float64 {
	rng := rand.New(rand.NewPCG(max(s.Seed, 1), 0x9e3779b97f4a7c15))
	drawn := make([][]float64, len(s.Inputs))
	for j, in := range s.Inputs {
		drawn[j] = make([]float64, n)
		for i, slice := range rng.Perm(n) {
			drawn[j][i] = in.Range.Quantile((float64(slice) + 0.5) / float64(n))
		}
	}
	return drawn
}

// spread is the 10 % and 90 % points of the samples about best. A calculation
// that bends strongly can have its best value outside them; the range is then
// widened to hold it.
func spread(samples []float64, best float64) Range {
	sorted := append([]float64(nil), samples...)
	sort.Float64s(sorted)
	return Range{
		Low:  math.Min(best, percentile(sorted, 0.1)),
		Best: best,
		High: math.Max(best, percentile(sorted, 0.9)),
	}
}

// percentile interpolates between the sorted samples.
func percentile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

func (s Study) shares(rankOf [][]float64, sample []float64) []Share {
	out := ranks(sample)
	var shares []Share
	sum := 0.0
	for j, in := range rankOf {
		if in == nil {
			continue
		}
		r := correlation(in, out)
		// Independent inputs correlate by chance too: what 99 % of such chance
		// stays below does not count.
		if math.IsNaN(r) || r*r*float64(len(sample)) < 2.58*2.58 {
			continue
		}
		sign := 1
		if r < 0 {
			sign = -1
		}
		shares = append(shares, Share{s.Inputs[j].Name, r * r, sign})
		sum += r * r
	}
	for i := range shares {
		shares[i].Share /= sum
	}
	sort.SliceStable(shares, func(a, b int) bool { return shares[a].Share > shares[b].Share })
	return shares
}

// ranks gives each value its place in order, ties sharing the middle place.
func ranks(v []float64) []float64 {
	order := make([]int, len(v))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return v[order[a]] < v[order[b]] })
	r := make([]float64, len(v))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && v[order[j]] == v[order[i]] {
			j++
		}
		for k := i; k < j; k++ {
			r[order[k]] = float64(i+j-1) / 2
		}
		i = j
	}
	return r
}

// correlation is Pearson's; NaN when either side does not vary.
func correlation(a, b []float64) float64 {
	ma, mb := mean(a), mean(b)
	var ab, aa, bb float64
	for i := range a {
		ab += (a[i] - ma) * (b[i] - mb)
		aa += (a[i] - ma) * (a[i] - ma)
		bb += (b[i] - mb) * (b[i] - mb)
	}
	return ab / math.Sqrt(aa*bb)
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}
