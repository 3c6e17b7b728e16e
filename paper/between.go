package paper

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// Inputs of drying between absorbents.
const (
	bStart = iota
	bDry
	bFirst
	bAffinity
	bGrammage
	bVapour
	bEnd
	bGloss
	bOnset
)

// benchChanges are the changes that benches keep, min: after 5 to 15, 30 to 60, 2 to
// 4 h and overnight (common practice, no source: notes on practice, section 5).
var benchChanges = []float64{10, 45, 180, 12 * 60}

// affinity is what a sheet holds at one humidity over what absorbents hold, both
// above equilibrium: mechanical pulp retains 1.2 to 1.6 g/g of water, cotton linters
// 0.5 to 0.9 (from memory).
var affinity = interval.Range{Low: 1.1, Best: 1.5, High: 2.5}

// vapourInPaper is the diffusion coefficient of water vapour through porous paper and
// blotter, m2/s: an eighth of that in air, a quarter to a twenty-fourth (from memory:
// Nilsson and Stenstrom 1995, Radhakrishnan and Ramarao; their figures were not seen).
var vapourInPaper = interval.Range{Low: 1e-6, Best: 3e-6, High: 6e-6}

// wetShare is the share of its mass from which a set counts as wet (common practice,
// no source: notes on practice, section 10, 11).
const wetShare = 0.20

// DryBetween is a sheet between absorbents under weight. In the first seconds they
// suck it down to what a pressed sheet holds: a blotter's own sorptivity, some mm per
// root second by its capillary rise, is never what limits. Then sheet and set come
// level in humidity, the water moving through the absorbents as vapour with
// the relaxation time 4 L^2/(pi^2 D) of their thickness L, D that of vapour over what
// the fibres take up on the way. Each change brings dry ones. Errors: an impossible
// sheet, absorbent, temperature (0 to 40 deg C) or humidity (0.05 to 0.90).
func DryBetween(s Sheet, a Absorbents, t Celsius, h Humidity, o Options) (Drying, error) {
	if err := checkDrying(s, Drained, a.check()); err != nil {
		return Drying{}, err
	}
	end, err := equilibriumMoisture(t, h, true)
	if err != nil {
		return Drying{}, err
	}
	k := s.complete(Drained)
	first := typicals()[s.Class][qBlotted]
	k.assumed = append(k.assumed, fmt.Sprintf("water after the first suction: %g to %g g/g, best %g, for %s",
		first.Low, first.High, first.Best, s.Class))
	inputs := []interval.Input{
		{Name: "the liquid held at the start", Range: k.pickUp},
		{Name: "the sheet's mass", Range: k.dryingInputs(Air{})[dDry].Range},
		{Name: "the water after the first suction", Range: first.Range},
		{Name: "what the sheet holds more than absorbents", Range: affinity},
		{Name: "the absorbents' grammage", Range: a.GrammageGsm},
		{Name: "how fast vapour passes the absorbents", Range: vapourInPaper}, {Name: "the isotherm", Range: end},
		{Name: "when the gloss is gone", Range: GlossGone}, {Name: "when it begins to shrink", Range: ShrinkageOnset},
	}
	changes := a.ChangesMin
	if len(changes) == 0 {
		changes = benchChanges
	}
	plan := func(in []float64) between {
		return between{in: in, tau: relaxMin(in, a.ThicknessMm, t), changes: changes}
	}
	horizon := changes[len(changes)-1] + 8*plan(best(inputs)).tau
	study := interval.Study{Inputs: inputs, Samples: o.Samples, Seed: o.Seed}
	sets := len(changes) + 1
	r, err := study.Run(6+2*sets+dryingPoints, func(in, out []float64) {
		p := plan(in)
		to := func(x float64) float64 { return p.minutesTo(x, horizon*4) }
		out[0], out[1], out[4], out[5] = in[bStart], in[bEnd], to(in[bEnd]+0.01), p.tau*math.Ln10
		// Absorbents take what stands on it at once.
		out[2], out[3] = window(in[bGloss], in[bOnset], true, to)
		for i := range sets {
			out[6+i] = p.took(i, horizon)
		}
		for i, c := range changes {
			out[6+sets+i] = p.at(c)
		}
		for i := range dryingPoints {
			out[6+2*sets+i] = p.at(courseAt(i, horizon))
		}
	})
	if err != nil {
		return Drying{}, err
	}
	d := Drying{
		StartGPerG: r[0], EndGPerG: r[1], MendFromMin: r[2], MendUntilMin: r[3], DryMin: r[4], SetMin: r[5],
		ChangesMin: changes, EachGPerM2: r[6 : 6+sets], AtChange: r[6+sets : 6+sets+len(changes)],
		Dominant: r[4].Sentence(), Assumed: k.assumed, Taken: k.takenBetween(s),
		RestsOn: []string{
			"Suction in seconds to what a pressed sheet holds; then sheet and set come level in humidity, as vapour " +
				"passes through the absorbents' thickness. How fast is from memory, to a factor of about three.",
			"Change after 5 to 15 min, 30 to 60 min, 2 to 4 h and overnight, where no others are given (common " +
				"practice, no source).",
			"A sheet is dry when it is within 0.01 g/g of the isotherm: weigh it; constant within 0.02 g over a day " +
				"in steady air is the end of pressing (common practice, no source).",
		},
	}
	for i := range dryingPoints {
		d.Course = append(d.Course, DryingPoint{courseAt(i, horizon), r[6+2*sets+i].Range})
	}
	if d.DryMin.Best >= horizon*3.9 {
		d.Warnings = append(d.Warnings, "With these changes the sheet does not come to the dryness of the air: change "+
			"the absorbents more often or take more of them.")
	}
	if taken := d.EachGPerM2[0].Best; taken > wetShare*2*a.GrammageGsm.Best {
		d.Warnings = append(d.Warnings, fmt.Sprintf("The first set takes %.0f g/m², more than a fifth of its mass, and is "+
			"wet: change it within minutes, or take more of them.", taken))
	}
	d.warn()
	return d, nil
}

// courseAt is the time of a point of the course, min.
func courseAt(i int, horizon float64) float64 {
	return horizon * math.Pow(float64(i)/(dryingPoints-1), 2.5)
}

// takenBetween are the values of drying between absorbents that nobody measured.
func (k known) takenBetween(s Sheet) []Taken {
	var list []Taken
	if s.PickUpGPerG == nil {
		list = append(list, typicals()[k.class][qDrained].taken("Water at the start, drained"))
	}
	list = append(list,
		typicals()[k.class][qBlotted].taken("Water after the first suction"),
		Taken{"Held over what absorbents hold", affinity, "", "memory", "water retained by groundwood and by cotton"},
		Taken{"Vapour in absorbents", vapourInPaper.Scale(1e6), "mm²/s", "memory",
			"Nilsson and Stenström 1995; Radhakrishnan and Ramarao"})
	return append(list, takenWindow(true)...)
}

// relaxMin is the relaxation time of the absorbents, min.
func relaxMin(in []float64, thicknessMm float64, t Celsius) float64 {
	l := thicknessMm / 1000
	density := in[bGrammage] / thicknessMm // kg/m3
	return 4 * l * l / (math.Pi * math.Pi * moistureDiffusion(in[bVapour], density, t)) / 60
}

// moistureDiffusion is the diffusion coefficient of moisture in paper of a density,
// kg/m3, m2/s: that of vapour through it times the vapour that goes with a little
// moisture, from the slope of the isotherm between 50 and 85 % of humidity.
func moistureDiffusion(vapourM2S, density float64, t Celsius) float64 {
	slope := (gab(0.85) - gab(0.50)) / 0.35
	return vapourM2S * vapourGM3(float64(t), 1) / 1000 / (density * slope)
}

type between struct {
	in      []float64
	tau     float64
	changes []float64
}

// excess is the water above equilibrium after minutes, g/m2.
func (p between) excess(minutes float64) float64 {
	sheet, set := p.in[bDry]*p.in[bAffinity], 2*p.in[bGrammage]
	keeps := sheet / (sheet + set) // the sheet's share of what is in it and in a set
	e := p.in[bDry] * max(0, min(p.in[bStart], p.in[bFirst])-p.in[bEnd])
	// The first set has taken the suction's water already.
	level := min(e, keeps*p.in[bDry]*max(0, p.in[bStart]-p.in[bEnd]))
	from := 0.0
	for i := 0; ; i++ {
		until := minutes
		if i < len(p.changes) {
			until = min(minutes, p.changes[i])
		}
		e = level + (e-level)*math.Exp(-(until-from)/p.tau)
		if until >= minutes {
			return e
		}
		from, level = until, keeps*e
	}
}

func (p between) at(minutes float64) float64 {
	if minutes <= 0 {
		return p.in[bStart]
	}
	return p.in[bEnd] + p.excess(minutes)/p.in[bDry]
}

// took is what a set takes up, g/m2.
func (p between) took(set int, horizon float64) float64 {
	from, until := 0.0, horizon
	if set > 0 {
		from = p.changes[set-1]
	}
	if set < len(p.changes) {
		until = p.changes[set]
	}
	return p.in[bDry] * (p.at(from) - p.at(until))
}

// minutesTo finds when a moisture is reached, at most within most.
func (p between) minutesTo(x, most float64) float64 {
	if p.at(0) <= x || p.at(1e-9) <= x {
		return 0
	}
	if p.at(most) > x {
		return most
	}
	lo, hi := 0.0, most
	for range 60 {
		m := (lo + hi) / 2
		if p.at(m) > x {
			lo = m
		} else {
			hi = m
		}
	}
	return hi
}
