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
	// Clipped, where not nil, says for each of Observed whether it is read as 0 where the
	// model has less: an output that ends at 0 is emulated better where it goes on.
	Clipped []bool
	// Model gives a worker of its own to each goroutine: it fills one prediction for
	// each of Observed from one value for each of Inputs. An error says that such
	// inputs cannot be.
	Model func() func(in, out []float64) error
	// Drawn and Answers are samples of the inputs as their ranges have them, and what
	// Model has for each; at least 100.
	Drawn, Answers [][]float64
	// Rounds of the sampling, each of 128 samples; 0 means 5. There are more of them where
	// the samples are worth less than three fourths of their number.
	Rounds int
	Seed   uint64 // 0 means 1
	// Stop, if not nil, ends the sampling with its error between two rounds.
	Stop func() error
}

// Given are samples of the inputs given what was read.
type Given struct {
	// In are the samples, each as likely as another; the same may stand there often.
	In [][]float64
	// Effective is how many samples, each drawn for itself, these are worth (Kish): where
	// they are fewer than LeastEffective they are too few to tell a range.
	Effective float64
	// Distance is how far the readings lie from what the ranges can explain: the mean
	// sum of squares of readings and scores, in standard deviations, less one for each
	// input that varies. Where ranges and model are right its mean over all that can be
	// read is the number of readings; where the model is linear too, it is chi squared
	// with as many degrees of freedom.
	Distance float64
}

// LeastEffective is from how many samples a range is told: with so many the 80 % of it
// hold 78 to 79 %.
const LeastEffective = 80

const (
	particles    = 128
	mostTaught   = 14 // times that the emulator is taught at most
	mostStale    = 3  // and without getting better
	mostRounds   = 24
	apart        = 10 // steps of a chain between two samples
	worth        = 0.75
	curvedInputs = 9 // inputs with squares and products in the emulator
	cubedInputs  = 5 // and with products of three, from cubicPoints on
	cubicPoints  = 400
)

// Sample draws from the posterior of the inputs: their ranges, times the likelihood
// of the readings with normal errors. Markov chains walk in the posterior of a cheap
// emulator of the model; where each has come to, the model itself is asked, and the
// sample weighs by how much likelier the model makes the readings than the emulator
// (importance sampling: Liu, Monte Carlo Strategies in Scientific Computing, 2001,
// section 2.5), so that the emulator decides how many samples the answer takes and not
// what it is.
// The emulator is quadratic in the inputs, in a few of them cubic where it has to be
// taught again; it is fitted where the readings lie, until it is good there. A chain
// steps as the linearised emulator has it (Gauss and Newton), around the mode that
// follows. The same seed gives the same samples, on however many processors.
// Where the model fails for all that the readings ask for, there are no samples and the
// distance is infinite. Errors: those of Stop.
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
	bend   []float64
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
			w.bend = append(w.bend, in.Range.bend())
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
		v := answers[j]
		if w.clipped(j) {
			v = max(0, v)
		}
		d := (v - o.Value) / o.Standard
		sum += d * d / 2
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

func (w *posterior) clipped(j int) bool { return w.Clipped != nil && w.Clipped[j] }

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
	best, stale := 0.0, 0
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
		good := effective(w.last, func(s state) float64 { return s.emulated - s.exact })
		if stale++; good > 1.1*best {
			best, stale = good, 0
		}
		if good > particles/2 || stale == mostStale {
			return nil // what the emulator is good at, or gets no better at, need not be fitted again
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

// walk makes the chains go on with the emulator as it is, and asks the model where they
// have come to, until what comes together is worth enough.
func (w *posterior) walk() (Given, error) {
	var all []state
	now := w.last
	weight := func(s state) float64 { return s.emulated - s.exact }
	for round := range max(mostRounds, 2*w.Rounds) {
		next := make([]state, particles)
		if err := w.each(particles, func(i int, rng *rand.Rand, model func(s *state)) {
			steps := apart
			if round == 0 {
				steps = 2 * apart // away from where the teaching ended
			}
			m := w.mover(1)
			s := state{at: m.steps(now[i%len(now)].at, steps, rng)}
			s.emulated = m.misfit(s.at)
			model(&s)
			next[i] = s
		}); err != nil {
			return Given{}, err
		}
		now, all = next, append(all, next...)
		if round+1 >= w.Rounds && effective(all, weight) >= worth*float64(particles*w.Rounds) {
			break
		}
	}
	g := Given{Effective: effective(all, weight)}
	// So many that each stands there as often as it weighs, to a fourth.
	drawn := resample(all, 4*len(all), weight, rand.New(rand.NewPCG(w.Seed, 11)))
	for _, s := range drawn {
		g.In = append(g.In, w.values(s.at))
		g.Distance += (2*s.exact + w.unlikely(s.at) - float64(len(s.at))) / float64(len(drawn))
	}
	return g, nil
}
