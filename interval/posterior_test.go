package interval

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
)

// posteriorOf samples inputs given readings of a model, from n samples of the ranges.
func posteriorOf(t testing.TB, inputs []Input, observed []Observed, model func(in, out []float64) error) Given {
	t.Helper()
	p := Posterior{
		Inputs: inputs, Observed: observed, Rounds: 40,
		Model: func() func(in, out []float64) error { return model },
	}
	s := Study{Inputs: inputs, Samples: 300}
	if _, err := s.Run(1, func(in, _ []float64) {
		out := make([]float64, len(observed))
		if err := model(in, out); err != nil {
			t.Fatal(err)
		}
		p.Drawn, p.Answers = append(p.Drawn, slices.Clone(in)), append(p.Answers, out)
	}); err != nil {
		t.Fatal(err)
	}
	g, err := p.Sample()
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// quantiles are the 10, 50 and 90 % points of an input.
func quantiles(g Given, place int) [3]float64 {
	var all []float64
	for _, x := range g.In {
		all = append(all, x[place])
	}
	slices.Sort(all)
	return [3]float64{percentile(all, 0.1), percentile(all, 0.5), percentile(all, 0.9)}
}

// wantQuantiles are within a tenth of the standard deviation that the wanted points have.
func wantQuantiles(t *testing.T, what string, got, want [3]float64) {
	t.Helper()
	within := 0.1 * (want[2] - want[0]) / (2 * z90)
	for i, p := range []string{"10", "50", "90"} {
		if math.Abs(got[i]-want[i]) > within {
			t.Errorf("%s: its %s %% point is %.5g, want %.5g within %.2g", what, p, got[i], want[i], within)
		}
	}
}

// A linear model of normal inputs has a normal posterior in closed form: mean
// m + C G'(G C G' + R)^-1 (d - G m), covariance C - C G'(G C G' + R)^-1 G C
// (Tarantola, Inverse Problem Theory, SIAM 2005, equations 3.37 and 3.38). Two sharp
// readings and one loose one, of six inputs of which one does not vary.
func TestPosteriorOfALinearModelIsTheClosedForm(t *testing.T) {
	mean := []float64{1, -2, 0.5, 3, 0, 7}
	sd := []float64{0.5, 1, 2, 0.2, 1, 0}
	g := [][]float64{{1, 1, 0, 0, 1, 1}, {0, 2, -1, 1, 0, 0}, {3, 0, 0, 0, 0, 0}}
	observed := []Observed{{7.5, 0.01}, {-1, 0.05}, {2.4, 3}}
	var inputs []Input
	for i := range mean {
		inputs = append(inputs, Input{Range: FromStandard(mean[i]-10, sd[i])}) // below 0: a normal range
	}
	got := posteriorOf(t, inputs, observed, func(in, out []float64) error {
		for j, row := range g {
			out[j] = 0
			for i, v := range row {
				out[j] += v * (in[i] + 10)
			}
		}
		return nil
	})
	// The readings one after the other, which is the same for a linear model.
	m, c := slices.Clone(mean), square(len(mean))
	for i := range c {
		c[i][i] = sd[i] * sd[i]
	}
	for j, row := range g {
		cg := make([]float64, len(m))
		for i := range c {
			cg[i] = dot(c[i], row)
		}
		s := dot(row, cg) + observed[j].Standard*observed[j].Standard
		off := observed[j].Value - dot(row, m)
		for i := range m {
			m[i] += cg[i] / s * off
		}
		for i := range c {
			for k := range c {
				c[i][k] -= cg[i] * cg[k] / s
			}
		}
	}
	for i := range mean {
		r := FromStandard(m[i]-10, math.Sqrt(max(0, c[i][i])))
		if sd[i] > 0 {
			wantQuantiles(t, "input "+string(rune('a'+i)), quantiles(got, i), [3]float64{r.Low, r.Best, r.High})
		}
	}
	if got.Effective < 0.9*40*128 {
		t.Errorf("worth %g samples, want nearly all: the emulator of a linear model is the model", got.Effective)
	}
}

// Two inputs whose posterior bends about each other and has a sharp edge, against a
// sum over a fine grid of their scores.
func TestPosteriorOfTwoInputsIsThatOfAGrid(t *testing.T) {
	inputs := []Input{{Range: Range{0.8, 1, 1.6}}, {Range: Range{-0.5, 0.4, 0.9}}}
	for name, model := range map[string]func(a, b float64) (float64, float64){
		"a curved ridge": func(a, b float64) (float64, float64) { return a * math.Exp(b), 0 },
		"a titration":    func(a, b float64) (float64, float64) { return 8 + 3*math.Tanh(6*(a-1-b/2)), 0 },
		"a clipped end":  func(a, b float64) (float64, float64) { return max(0, a+b-1.6), a * b },
	} {
		observed := []Observed{{1.9, 0.02}, {0, 1e6}}
		switch name {
		case "a titration":
			observed[0] = Observed{9.5, 0.1}
		case "a clipped end":
			observed = []Observed{{0.05, 0.05}, {0.4, 0.3}}
		}
		got := posteriorOf(t, inputs, observed, func(in, out []float64) error {
			out[0], out[1] = model(in[0], in[1])
			return nil
		})
		const n, far = 1200, 5.0
		var weight [2][n]float64
		for i := range n {
			zi := -far + 2*far*(float64(i)+0.5)/n
			a := inputs[0].Range.at(zi)
			for k := range n {
				zk := -far + 2*far*(float64(k)+0.5)/n
				x, y := model(a, inputs[1].Range.at(zk))
				dx, dy := (x-observed[0].Value)/observed[0].Standard, (y-observed[1].Value)/observed[1].Standard
				w := math.Exp(-(zi*zi + zk*zk + dx*dx + dy*dy) / 2)
				weight[0][i] += w
				weight[1][k] += w
			}
		}
		for j, in := range inputs {
			var want [3]float64
			sum := 0.0
			for _, w := range weight[j] {
				sum += w
			}
			for p, share := range []float64{0.1, 0.5, 0.9} {
				at := 0.0
				for i, w := range weight[j] {
					if at += w; at >= share*sum {
						want[p] = in.Range.at(-far + 2*far*(float64(i)+0.5)/n)
						break
					}
				}
			}
			wantQuantiles(t, name+", input "+string(rune('a'+j)), quantiles(got, j), want)
		}
	}
}

// Readings that say nothing leave the ranges as they are; readings that nothing
// explains lie far off; of one range all the same is said on every machine.
func TestPosteriorSaysHowFarReadingsLie(t *testing.T) {
	inputs := []Input{{Range: Range{8, 10, 14}}, {Range: Range{0, 2, 3}}, {Range: Range{5, 5, 6}}}
	sum := func(in, out []float64) error {
		out[0] = in[0] + in[1] + 0*in[2]
		return nil
	}
	loose := posteriorOf(t, inputs, []Observed{{12, 1e5}}, sum)
	for i, in := range inputs[:2] {
		wantQuantiles(t, "an input that nothing was read of", quantiles(loose, i),
			[3]float64{in.Range.Low, in.Range.Best, in.Range.High})
	}
	if far := posteriorOf(t, inputs, []Observed{{60, 0.1}}, sum).Distance; far < 20 {
		t.Errorf("60 where 10 to 17 is expected lies %g off, want much more than 11", far)
	}
	if near := posteriorOf(t, inputs, []Observed{{14, 0.1}}, sum).Distance; near > 4 {
		t.Errorf("14 where 10 to 17 is expected lies %g off, want little", near)
	}
	if again := posteriorOf(t, inputs, []Observed{{12, 1e5}}, sum); again.In[17][0] != loose.In[17][0] {
		t.Error("the same seed gives other samples")
	}
}

func TestPosteriorEnds(t *testing.T) {
	inputs := []Input{{Range: Range{8, 10, 14}}}
	model := func(in, out []float64) error { out[0] = in[0]; return nil }
	p := Posterior{Inputs: inputs, Observed: []Observed{{10, 1}}, Stop: func() error { return context.Canceled },
		Model: func() func(in, out []float64) error { return model }}
	for i := range 100 {
		x := []float64{inputs[0].Range.Quantile((float64(i) + 0.5) / 100)}
		p.Drawn, p.Answers = append(p.Drawn, x), append(p.Answers, x)
	}
	if _, err := p.Sample(); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want that it was ended", err)
	}
	broken := errors.New("cannot be")
	p.Stop, p.Model = nil, func() func(in, out []float64) error { return func(in, out []float64) error { return broken } }
	if g, err := p.Sample(); err != nil || len(g.In) > 0 || !math.IsInf(g.Distance, 1) {
		t.Errorf("a model that always fails: %v, %+v", err, g)
	}
}

// A score and its value are inverse to each other, on either side and where the range
// has one side.
func TestScoresAreTheirValues(t *testing.T) {
	for _, r := range []Range{{0.8, 1, 1.6}, {-0.5, 0.4, 0.9}, {0, 2, 3}, {2, 2, 3}, {1, 2, 2}, {1e-290, 1, 2}} {
		for z := -2.95; z < 3; z += 0.1 {
			x := r.at(z)
			if want := r.Quantile(0.5 * math.Erfc(-z/math.Sqrt2)); math.Abs(x-want) > 1e-9*math.Abs(want)+1e-9 {
				t.Errorf("%v at %g is %g, want its quantile %g", r, z, x, want)
			}
			if back := r.at(r.score(x)); math.Abs(back-x) > 1e-12 {
				t.Errorf("%v: %g comes back as %g", r, x, back)
			}
		}
	}
}

// A measure draws a jump out: of a titration's outputs it finds what a plane explains,
// and it always grows.
func TestAMeasureStraightensATitration(t *testing.T) {
	inputs := []Input{{Range: Range{8, 10, 13}}, {Range: Range{4, 5, 7}}}
	p := Posterior{Inputs: inputs, Observed: []Observed{{9, 0.3}}}
	for i := range 400 {
		a := inputs[0].Range.Quantile((float64(i) + 0.5) / 400)
		b := inputs[1].Range.Quantile((float64((i*173)%400) + 0.5) / 400)
		p.Drawn = append(p.Drawn, []float64{a, b})
		p.Answers = append(p.Answers, []float64{7.5 + 3*math.Tanh(4*(a-2*b))})
	}
	w := p.work()
	e := w.fit()
	if e.observed[0] == p.Observed[0] {
		t.Fatal("a titration is emulated as it is")
	}
	var outputs, weight []float64
	for _, x := range p.Answers {
		outputs, weight = append(outputs, x[0]), append(weight, 1)
	}
	m := measureOf(outputs, scores(outputs, weight), weight)
	for v := 4.0; v < 11; v += 0.01 {
		if m.at(v+0.01) <= m.at(v) {
			t.Fatalf("the measure does not grow at %g", v)
		}
	}
	rows := rowsOf(e, w)
	_, plain := fitted(outputs, weight, rows, normal(rows, func(int) float64 { return 1 }, len(rows[0])))
	if got := e.spread[0] / e.observed[0].Standard; !(got < plain/0.3) {
		t.Errorf("what is left in the measure is %.2g readings wide, as it is %.2g", got, plain/0.3)
	}
}

func rowsOf(e *emulator, w *posterior) (rows [][]float64) {
	for _, s := range w.points {
		rows = append(rows, e.features(nil, s.at))
	}
	return rows
}

// The slope of an emulator is what a small step gives.
func TestSlopeOfAnEmulator(t *testing.T) {
	e := &emulator{curved: []int{2, 0, 1}, cubed: []int{2, 0}, bend: []float64{0, 0.7, 0.3, 0}}
	at := []float64{0.3, -1.2, 0.7, 2}
	f := e.features(nil, at)
	c := make([]float64, len(f))
	for i := range c {
		c[i] = math.Sin(float64(i + 1))
	}
	g := make([]float64, len(at))
	e.slope(g, c, f)
	for k := range at {
		const h = 1e-5
		up, down := slices.Clone(at), slices.Clone(at)
		up[k], down[k] = up[k]+h, down[k]-h
		want := (dot(c, e.features(nil, up)) - dot(c, e.features(nil, down))) / (2 * h)
		if math.Abs(g[k]-want) > 1e-8 {
			t.Errorf("input %d: %g, want %g", k, g[k], want)
		}
	}
}
