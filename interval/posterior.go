package interval

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
)

// Observed is a number read of an output of a calculation, with its standard
// uncertainty, above 0.
type Observed struct{ Value, Standard float64 }

// Posterior is what the inputs of a study can be once outputs were read.
type Posterior struct {
	Inputs []Input
	// Observed are the readings, one for each output of the model.
	Observed []Observed
	// Model gives a worker of its own to each goroutine: it fills one prediction for
	// each of Observed from one value for each of Inputs. An error says that such
	// inputs cannot be.
	Model func() func(in, out []float64) error
	// Drawn and Answers are samples of the inputs as their ranges have them, and what
	// Model has for each; at least 100.
	Drawn, Answers [][]float64
	// Rounds of the sampling that are kept, each of 128 samples; 0 means 5.
	Rounds int
	Seed   uint64 // 0 means 1
	// Stop, if not nil, ends the sampling with its error between two rounds.
	Stop func() error
}

// Given are samples of the inputs given what was read.
type Given struct {
	// In are the samples, each as likely as another.
	In [][]float64
	// Accepted is the share of steps that the model itself let pass, 0 to 1: where it
	// is below LeastAccepted the samples are too alike to tell a range.
	Accepted float64
	// Distance is how far the readings lie from what the ranges can explain: the mean
	// sum of squares of readings and scores, in standard deviations, less one for each
	// input that varies. Where ranges and model are right its mean over all that can be
	// read is the number of readings; where the model is linear too, it is chi squared
	// with as many degrees of freedom.
	Distance float64
}

// LeastAccepted is the share of accepted steps from which samples are used.
const LeastAccepted = 0.05

const (
	particles    = 128
	mostTaught   = 14 // times that the emulator is taught at most
	burnRounds   = 2
	mostRounds   = 24
	curvedInputs = 9 // inputs with squares and products in the emulator
)

// Sample draws from the posterior of the inputs: their ranges, times the likelihood
// of the readings with normal errors. It is the surrogate transition method of Liu
// (Monte Carlo Strategies in Scientific Computing, 2001, section 9.4.3; also Christen
// and Fox, J. Comput. Graph. Stat. 14, 795, 2005): Markov chains make steps in a cheap
// emulator of the model, and the model itself accepts or rejects where each chain has
// come to, so that the emulator decides how fast the answer comes and not what it is.
// The emulator is quadratic in the inputs, fitted where the readings lie, and taught
// again until it is good there. A chain steps as the linearised emulator has it
// (Gauss and Newton), around the mode that follows. The same seed gives the same
// samples, on however many processors. Where the model fails for all that the readings
// ask for, there are no samples and the distance is infinite. Errors: those of Stop.
func (p Posterior) Sample() (Given, error) {
	w := p.work()
	if err := w.teach(); err != nil {
		return Given{}, err
	}
	if len(w.last) == 0 {
		return Given{Distance: math.Inf(1)}, nil
	}
	return w.walk()
}

// state is a place, in the measure of each input that varies, with what the emulator
// and the model have there.
type state struct {
	at      []float64
	answers []float64
	// emulated and exact are half the sums of squares of the readings.
	emulated, exact float64
}

// posterior is the workspace of one sampling.
type posterior struct {
	Posterior
	active []int    // places of inputs that vary
	prior  []slopes // of each of them
	e      *emulator
	points []state // where the model is known
	last   []state // of the last teaching
	stream uint64
}

func (p Posterior) work() *posterior {
	w := &posterior{Posterior: p}
	w.Seed = max(p.Seed, 1)
	if w.Rounds == 0 {
		w.Rounds = 5
	}
	for i, in := range p.Inputs {
		if in.Range.Low < in.Range.High {
			w.active, w.prior = append(w.active, i), append(w.prior, in.Range.slopes())
		}
	}
	for i, x := range p.Drawn {
		s := state{at: make([]float64, len(w.active)), answers: p.Answers[i]}
		for k, j := range w.active {
			z := p.Inputs[j].Range.score(x[j])
			s.at[k] = z * w.prior[k].at(z)
		}
		s.exact = w.misfit(s.answers)
		w.points = append(w.points, s)
	}
	return w
}

// misfit is half the sum of squares of the readings, in their uncertainties.
func (w *posterior) misfit(answers []float64) float64 {
	sum := 0.0
	for j, o := range w.Observed {
		d := (answers[j] - o.Value) / o.Standard
		sum += d * d / 2
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

// values are the inputs at a place.
func (w *posterior) values(at []float64) []float64 {
	in := make([]float64, len(w.Inputs))
	for i, x := range w.Inputs {
		in[i] = x.Range.Best
	}
	for k, j := range w.active {
		in[j] = w.Inputs[j].Range.at(at[k] / w.prior[k].at(at[k]))
	}
	return in
}

// unlikely is the sum of squares of a place's scores.
func (w *posterior) unlikely(at []float64) float64 {
	sum := 0.0
	for k, v := range at {
		z := v / w.prior[k].at(v)
		sum += z * z
	}
	return sum
}

// each runs f for n things on all processors, with a model and a stream of numbers of
// its own for each thing.
func (w *posterior) each(n int, f func(i int, rng *rand.Rand, model func(s *state))) error {
	if w.Stop != nil {
		if err := w.Stop(); err != nil {
			return err
		}
	}
	w.stream++
	workers := min(runtime.GOMAXPROCS(0), n)
	var wait sync.WaitGroup
	for first := range workers {
		wait.Go(func() {
			follow := w.Model()
			model := func(s *state) {
				s.answers = make([]float64, len(w.Observed))
				if s.exact = math.Inf(1); follow(w.values(s.at), s.answers) == nil {
					s.exact = w.misfit(s.answers)
				}
			}
			for i := first; i < n; i += workers {
				f(i, rand.New(rand.NewPCG(w.Seed, w.stream<<20|uint64(i))), model)
			}
		})
	}
	wait.Wait()
	return nil
}

// teach fits the emulator to the samples of the ranges, goes where it says that the
// readings lie, asks the model there, and fits it again, until it is good.
func (w *posterior) teach() error {
	w.e = w.fit()
	for range mostTaught {
		places, err := w.anneal()
		if err != nil {
			return err
		}
		asked := make([]state, particles)
		if err := w.each(particles, func(i int, _ *rand.Rand, model func(s *state)) {
			s := state{at: places[i], emulated: w.mover(1).misfit(places[i])}
			model(&s)
			asked[i] = s
		}); err != nil {
			return err
		}
		w.last = slices.DeleteFunc(asked, func(s state) bool { return math.IsInf(s.exact, 1) })
		if len(w.last) == 0 {
			return nil // the readings ask for what cannot be
		}
		if effective(w.last, func(s state) float64 { return s.emulated - s.exact }) > particles/2 {
			return nil // what the emulator is good at need not be fitted again
		}
		w.points = append(w.points, w.last...)
		w.e = w.fit()
	}
	return nil
}

// anneal brings samples of the ranges to the emulator's posterior: the readings are
// let in little by little, so that each time half of the samples still count, and the
// samples are drawn again by weight and moved (Del Moral, Doucet and Jasra, J. R.
// Stat. Soc. B 68, 411, 2006). It finds every part of a posterior that bends or falls
// apart, where chains alone would stay where they began.
func (w *posterior) anneal() ([][]float64, error) {
	rng := rand.New(rand.NewPCG(w.Seed, 0xa11ea1<<20|w.stream))
	now := make([]state, particles)
	for i := range now {
		now[i].at = make([]float64, len(w.active))
		for k := range now[i].at {
			z := rng.NormFloat64()
			now[i].at[k] = z * w.prior[k].at(z)
		}
	}
	full := w.mover(1)
	for in := 0.0; in < 1; {
		for i := range now {
			now[i].emulated = full.misfit(now[i].at)
		}
		more := 1 - in
		enough := func(d float64) bool {
			return effective(now, func(s state) float64 { return -d * s.emulated }) >= particles/2
		}
		if !enough(more) {
			low, high := 1e-12, more
			for range 40 {
				if mid := math.Sqrt(low * high); enough(mid) {
					low = mid
				} else {
					high = mid
				}
			}
			more = low
		}
		now = resample(now, particles, func(s state) float64 { return -more * s.emulated }, rng)
		in += more
		moved := make([]state, particles)
		if err := w.each(particles, func(i int, rng *rand.Rand, _ func(s *state)) {
			moved[i].at = w.mover(in).steps(now[i].at, 4, rng)
		}); err != nil {
			return nil, err
		}
		now = moved
	}
	places := make([][]float64, particles)
	for i, s := range now {
		places[i] = s.at
	}
	return places, nil
}

// temperature is by how much the readings have to be weakened for n of the points to
// count, in effect; 1 when they need not be.
func (w *posterior) temperature(n float64) float64 {
	at := func(t float64) float64 { return effective(w.points, func(s state) float64 { return -s.exact / t }) }
	low, high := 1.0, 1e9
	if at(low) >= n {
		return low
	}
	for range 40 {
		if mid := math.Sqrt(low * high); at(mid) < n {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// effective is the number of samples that count as many as the weighted ones (Kish),
// by the logarithm of the weight.
func effective(of []state, log func(s state) float64) float64 {
	weight := weights(of, log)
	sum, square := 0.0, 0.0
	for _, v := range weight {
		sum += v
		square += v * v
	}
	if square == 0 {
		return 0
	}
	return sum * sum / square
}

func weights(of []state, log func(s state) float64) []float64 {
	weight := make([]float64, len(of))
	most := math.Inf(-1)
	for i, s := range of {
		weight[i] = log(s)
		most = max(most, weight[i])
	}
	for i := range weight {
		if math.IsInf(most, -1) {
			weight[i] = 1
			continue
		}
		weight[i] = math.Exp(weight[i] - most)
	}
	return weight
}

// resample takes n by weight, systematically: one in each n-th part of all weight.
func resample(of []state, n int, log func(s state) float64, rng *rand.Rand) []state {
	weight := weights(of, log)
	sum := 0.0
	for _, v := range weight {
		sum += v
	}
	var list []state
	at, i := weight[0], 0
	for k := range n {
		for want := (float64(k) + rng.Float64()) / float64(n) * sum; at < want && i+1 < len(of); {
			i++
			at += weight[i]
		}
		list = append(list, of[i])
	}
	return list
}

// walk makes the chains go on with the emulator as it is.
func (w *posterior) walk() (Given, error) {
	var g Given
	now := resample(w.last, particles, func(s state) float64 { return s.emulated - s.exact },
		rand.New(rand.NewPCG(w.Seed, 11)))
	m := w.mover(1)
	for i := range now {
		now[i].emulated = m.misfit(now[i].at) // the emulator may have been taught since
	}
	accepted := make([]bool, particles)
	moves := 0
	// Where the model seldom lets a chain go on, the chains go further.
	for round := 0; round < burnRounds+w.Rounds || moves < particles*w.Rounds/2 && round < mostRounds; round++ {
		if err := w.each(particles, func(i int, rng *rand.Rand, model func(s *state)) {
			m := w.mover(1)
			next := state{at: m.steps(now[i].at, 10, rng)}
			next.emulated = m.misfit(next.at)
			model(&next)
			accepted[i] = math.Log(rng.Float64()) < now[i].exact-now[i].emulated-(next.exact-next.emulated)
			if accepted[i] {
				now[i] = next
			}
		}); err != nil {
			return g, err
		}
		if round < burnRounds {
			continue
		}
		for i, s := range now {
			g.In = append(g.In, w.values(s.at))
			g.Distance += 2*s.exact + w.unlikely(s.at) - float64(len(s.at))
			if accepted[i] {
				moves++
			}
		}
	}
	g.Accepted = float64(moves)
	g.Accepted /= float64(len(g.In))
	g.Distance /= float64(len(g.In))
	return g, nil
}
