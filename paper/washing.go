package paper

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// WashWay is a way to wash a sheet.
type WashWay string

// The ways to wash.
const (
	Immersed  WashWay = "immersed" // under water, both faces open
	Floated   WashWay = "floated"  // on water, one face open
	OnBlotter WashWay = "blotter"  // on wet blotters that are changed
	OnSlant   WashWay = "slant"    // on a slope, water running under or over it
	OnSuction WashWay = "suction"  // on a suction table, water drawn through it
)

// WashWays lists the ways.
var WashWays = []WashWay{Immersed, Floated, OnBlotter, OnSlant, OnSuction}

// Wash is one washing of one sheet in plain water.
type Wash struct {
	Way WashWay `json:"way"`
	// Minutes of one bath or blotter; of a slant and of a suction table, in all.
	Minutes float64 `json:"minutes"` // 0.5 to 1440
	// Changes is how many baths or blotters there are, one after the other; 1 to 20. A
	// slant and a suction table have none.
	Changes int `json:"changes"`
	// WaterMl of one bath; of a slant and of a suction table, in all; 5 to 100,000. A
	// blotter brings its own.
	WaterMl float64 `json:"water_ml"`
	// BlotterGsm is the grammage of one blotter, g/m2; 100 to 2000.
	BlotterGsm float64 `json:"blotter_g_m2"`
	// SuctionKPa below the air's pressure; 0.5 to 90.
	SuctionKPa float64 `json:"suction_kpa"`
	TempC      float64 `json:"temp_c"` // 5 to 45
}

func (w Wash) check() error {
	known := false
	for _, x := range WashWays {
		known = known || x == w.Way
	}
	if !known {
		return fmt.Errorf("a sheet is washed immersed, floated, on a blotter, a slant or a suction table, not %q", w.Way)
	}
	for _, x := range []struct {
		name      string
		v, lo, hi float64
		unit      string
		asked     bool
	}{
		{"the minutes", w.Minutes, 0.5, 24 * 60, "min", true},
		{"the temperature", w.TempC, 5, 45, "°C", true},
		{"the number of changes", float64(w.Changes), 1, 20, "", w.Way != OnSlant && w.Way != OnSuction},
		{"the water", w.WaterMl, 5, 100_000, "mL", w.Way != OnBlotter},
		{"the blotter", w.BlotterGsm, 100, 2000, "g/m²", w.Way == OnBlotter},
		{"the suction", w.SuctionKPa, 0.5, 90, "kPa", w.Way == OnSuction},
	} {
		if x.asked && !(x.v >= x.lo && x.v <= x.hi) {
			return fmt.Errorf("%s must lie between %g and %g %s, not at %g", x.name, x.lo, x.hi, x.unit, x.v)
		}
	}
	return nil
}

// Washed is what a washing leaves.
type Washed struct {
	// LeftPercent is how much of what water dissolves, and fibre does not hold, is left.
	LeftPercent interval.Result `json:"left_percent"`
	// WaterMl is the water used; Minutes how long it takes in all.
	WaterMl interval.Result `json:"water_ml"`
	Minutes interval.Result `json:"minutes"`
	// Limit is what holds it up most.
	Limit   Limit    `json:"limit"`
	Taken   []Taken  `json:"taken"`
	RestsOn []string `json:"rests_on"`
}

// Limit is what holds a washing up: more of it helps most.
type Limit string

// What can hold it up.
const (
	ByTime  Limit = "time"
	ByWater Limit = "water"
)

// What the ways take; none was measured here.
var (
	// solubleDiffusion of what ageing makes and water dissolves, 25 °C, m2/s: from
	// sugars and small lignin parts to acetic acid (memory).
	solubleDiffusion = interval.Range{Low: 0.4e-9, Best: 0.8e-9, High: 1.4e-9}
	// blotterHolds is the water of a wet blotter, g/g (memory: absorbency of cotton
	// blotters).
	blotterHolds = interval.Range{Low: 1.5, Best: 2, High: 2.5}
	// slantFilm is the resting layer under the running water, µm (memory, between that of
	// a rocked and of a still bath).
	slantFilm = interval.Range{Low: 80, Best: 200, High: 500}
	// wetPermeability of a wet sheet, m2: a Gurley time of 20 to 60 s makes dry newsprint
	// 3e-15 to 9e-15; swollen it lets less through (estimate).
	wetPermeability = interval.Range{Low: 5e-16, Best: 2e-15, High: 8e-15}
	// bypassed is the share of a sheet that suction leaves to diffusion, by thin and thick
	// places (estimate, no source).
	bypassed = interval.Range{Low: 0.02, Best: 0.05, High: 0.15}
	// suctionCells is how far water drawn through displaces what is there, as so many mixed
	// cells in a row; one is mixing, many a plug (estimate, no source).
	suctionCells = interval.Range{Low: 1, Best: 2, High: 3}
	// capillaryRise in 10 min of an unsized paper, mm (Klemm, ISO 8787; values from memory).
	capillaryRise = interval.Range{Low: 15, Best: 30, High: 60}
)

// WashBy is what a washing leaves of a substance that water dissolves and fibre does not
// hold, of the water used and the time. Under water and afloat: the slab series
// (Crank 1975, eq. 4.53) of both faces or one, its time running on from bath to bath,
// against the level of each bath. On blotters: two layers with no film between (Crank,
// eq. 2.17), exact over all changes. On a slant: the slab of one face and the water's own
// share in a row. By suction: mixed cells in a row (Levenspiel), through which water goes
// by Darcy's law. A sheet, once wetted through. Errors: an impossible sheet or washing.
func WashBy(s Sheet, w Wash, o Options) (Washed, error) {
	if err := s.Check(); err != nil {
		return Washed{}, err
	}
	if err := w.check(); err != nil {
		return Washed{}, err
	}
	k := s.complete(Drained)
	inputs := []interval.Input{
		{Name: "the liquid that the sheet holds", Range: k.pickUp},
		{Name: "the sheet's mass", Range: k.dryingInputs(Air{})[dDry].Range},
		{Name: "how fast what dissolves diffuses", Range: solubleDiffusion},
		{Name: "the open porosity", Range: openPorosity()},
		{Name: "the resting film", Range: interval.Range{Low: 80e-6, Best: 200e-6, High: 500e-6}},
	}
	own := map[WashWay][]interval.Input{
		OnBlotter: {{Name: "the water of a blotter", Range: blotterHolds}},
		OnSlant:   {{Name: "the layer under the running water", Range: slantFilm.Scale(1e-6)}},
		OnSuction: {
			{Name: "how freely water passes the sheet", Range: wetPermeability},
			{Name: "what the water bypasses", Range: bypassed}, {Name: "how far it displaces", Range: suctionCells},
		},
	}
	study := interval.Study{Inputs: append(inputs, own[w.Way]...), Samples: o.Samples, Seed: o.Seed}
	byTime, byWater := 0.0, 0.0
	r, err := study.Run(3, func(in, out []float64) {
		c := sheetIn(w, k.areaM2, in)
		out[0], out[1], out[2] = 1, w.WaterMl*float64(max(1, w.Changes)), w.Minutes*float64(max(1, w.Changes))
		switch w.Way {
		case Immersed, Floated:
			out[0], byTime, byWater = c.inBaths(w)
		case OnBlotter:
			out[0], byTime, byWater = c.onBlotters(w, in[5])
			out[1] = float64(w.Changes) * w.BlotterGsm * in[5] * k.areaM2
		case OnSlant:
			c.filmM = in[5]
			out[0], byTime, byWater = c.onSlant(w)
			out[1], out[2] = w.WaterMl, w.Minutes
		case OnSuction:
			out[0], out[2] = c.onSuction(w, in[5:])
			byTime, byWater = 0, 1
			out[1] = w.WaterMl
		}
		out[0] *= 100
	})
	if err != nil {
		return Washed{}, err
	}
	a := Washed{LeftPercent: r[0], WaterMl: r[1], Minutes: r[2], Taken: w.taken(k, s), RestsOn: w.restsOn()}
	a.Limit = ByTime
	if byWater > byTime { // of the run at the best values, which is the last
		a.Limit = ByWater
	}
	return a, nil
}

// wetSheet is one sheet wetted through, as washing needs it.
type wetSheet struct {
	heldMl, areaM2, thickM  float64
	diffusion, porosity, d0 float64
	filmM                   float64
	viscosity               float64 // Pa s
}

func sheetIn(w Wash, areaM2 float64, in []float64) wetSheet {
	c := wetSheet{heldMl: in[0] * in[1] * areaM2, areaM2: areaM2, porosity: min(0.95, in[3]), filmM: in[4]}
	c.thickM = c.heldMl * 1e-6 / (c.porosity * areaM2)
	c.d0 = in[2] * warmer(w.TempC)
	c.diffusion, c.viscosity = inPores(c.d0, c.porosity), viscosityMPaS(w.TempC)/1000
	return c
}

// slab of the sheet with one face or both to water without end.
func (c wetSheet) slab(faces float64) slab {
	return slab{
		DiffusionM2S: c.diffusion, PathM: c.thickM / faces, Porosity: c.porosity, FilmMS: c.d0 / c.filmM,
		Alpha: math.Inf(1),
	}
}

// inBaths is the share left after all baths, with what time and what water alone would
// leave of it.
func (c wetSheet) inBaths(w Wash) (left, byTime, byWater float64) {
	faces := 2.0
	if w.Way == Floated {
		faces = 1
	}
	ends := make([]float64, w.Changes)
	for i := range ends {
		ends[i] = float64(i+1) * w.Minutes * 60
	}
	turns := c.slab(faces).turns(ends)
	level := c.heldMl / (c.heldMl + w.WaterMl)
	left, before := 1.0, 0.0
	for _, t := range turns {
		left *= level + (1-level)*math.Exp(before-t)
		before = t
	}
	return left, math.Exp(-before), math.Pow(level, float64(w.Changes))
}

// onBlotters is the share left in a sheet on so many wet blotters, one after the other.
func (c wetSheet) onBlotters(w Wash, holds float64) (left, byTime, byWater float64) {
	blotter := holds * w.BlotterGsm * 1e-6 / c.porosity // m
	one := twoLayers{sheet: c.thickM, whole: c.thickM + blotter, diffusion: c.diffusion}
	left = one.left(w.Minutes*60, w.Changes)
	level := math.Pow(c.thickM/one.whole, float64(w.Changes))
	return left, left - level, level
}

// onSlant is the share left when water runs along one face: the turns of the slab and the
// turns that the water could carry, one after the other like resistances.
func (c wetSheet) onSlant(w Wash) (left, byTime, byWater float64) {
	slab := c.slab(1).turns([]float64{w.Minutes * 60})[0]
	water := w.WaterMl / c.heldMl
	return math.Exp(-slab * water / (slab + water)), math.Exp(-slab), math.Exp(-water)
}

// onSuction is the share left when water is drawn through, and the minutes that it takes.
func (c wetSheet) onSuction(w Wash, in []float64) (left, minutes float64) {
	volumes := w.WaterMl / c.heldMl
	flow := darcy(in[0], w.SuctionKPa*1000, c.viscosity, c.thickM) * c.areaM2 * 1e6 // mL/s
	through := w.WaterMl / flow / 60
	minutes = max(w.Minutes, through)
	slab := c.slab(1).turns([]float64{minutes * 60})[0]
	bypass := min(0.9, max(0, in[1]))
	return (1-bypass)*mixedCells(in[2], volumes) + bypass*math.Exp(-slab*volumes/(slab+volumes)), minutes
}

// darcy is the flow through a layer, m3 a second and m2: K dp/(viscosity thickness).
func darcy(permeabilityM2, pascal, viscosityPaS, thickM float64) float64 {
	return permeabilityM2 * pascal / (viscosityPaS * thickM)
}

// mixedCells is what is left in n mixed cells of one volume in a row, n between whole
// numbers between them, after so many volumes of the whole: each cell holds the first
// terms of a Poisson sum (Levenspiel, Chemical Reaction Engineering, tanks in series).
func mixedCells(n, volumes float64) float64 {
	whole := func(n int) float64 {
		x, term, sum, left := float64(n)*volumes, math.Exp(-float64(n)*volumes), 0.0, 0.0
		for i := range n {
			sum += term
			left += sum
			term *= x / float64(i+1)
		}
		return left / float64(n)
	}
	n = max(1, n)
	low := math.Floor(n)
	return (1-(n-low))*whole(int(low)) + (n-low)*whole(int(low)+1)
}

// twoLayers is a sheet on a blotter, both wet and of one diffusion coefficient: the
// substance is in the sheet alone at first. In modes cos(n pi x/whole) this is Crank, The
// Mathematics of Diffusion, 2nd ed. 1975, eq. 2.17 (number from memory); a fresh blotter
// sets what lies outside the sheet to nothing.
type twoLayers struct{ sheet, whole, diffusion float64 }

// modesOfTwo is how many modes are carried; the share left is then good to a per cent.
const modesOfTwo = 32

func (l twoLayers) left(seconds float64, blotters int) float64 {
	share := l.sheet / l.whole
	// keeps[m][n] is mode m of mode n cut off at the sheet.
	var keeps [modesOfTwo][modesOfTwo]float64
	half := func(k int) float64 { // the integral of cos(k pi x/whole) over the sheet, over whole
		if k == 0 {
			return share
		}
		return math.Sin(float64(k)*math.Pi*share) / (float64(k) * math.Pi)
	}
	for m := range modesOfTwo {
		norm := 1.0
		if m > 0 {
			norm = 2
		}
		for n := range modesOfTwo {
			keeps[m][n] = norm * (half(m-n) + half(m+n)) / 2
		}
	}
	var c [modesOfTwo]float64
	for m := range c {
		c[m] = keeps[m][0]
	}
	step := l.diffusion * math.Pi * math.Pi / (l.whole * l.whole) * seconds
	for i := range blotters {
		if i > 0 {
			var cut [modesOfTwo]float64
			for m := range cut {
				for n := range c {
					cut[m] += keeps[m][n] * c[n]
				}
			}
			c = cut
		}
		for n := range c {
			c[n] *= math.Exp(-step * float64(n*n))
		}
	}
	left := 0.0
	for n := range c {
		left += c[n] * half(n) / share
	}
	return min(1, max(0, left))
}

// WicksThroughMin is how long an unsized sheet takes to wet itself over a way in mm (1 to
// 2500) from one edge: capillary rise goes with the root of time (Lucas 1918, Washburn
// 1921), so as the square of the way over its rise in 10 min.
func WicksThroughMin(way Millimetres) interval.Range {
	at := func(rise float64) float64 { return 10 * float64(way) * float64(way) / (rise * rise) }
	return interval.Range{Low: at(capillaryRise.High), Best: at(capillaryRise.Best), High: at(capillaryRise.Low)}
}

func (w Wash) taken(k known, s Sheet) []Taken {
	list := []Taken{{
		"Diffusion of what dissolves", solubleDiffusion.Scale(1e9), "10⁻⁹ m²/s", "memory", "sugars to acetic acid",
	}}
	if s.PickUpGPerG == nil {
		list = append(list, typicals()[k.class][qDrained].taken("Liquid held"))
	}
	switch w.Way {
	case Immersed, Floated:
		list = append(list, FilmTaken(""))
	case OnBlotter:
		list = append(list, Taken{"Water of a wet blotter", blotterHolds, "g/g", "memory", "cotton blotters"})
	case OnSlant:
		list = append(list, Taken{"Layer under the running water", slantFilm, "µm", "memory", "between rocked and still"})
	case OnSuction:
		list = append(list,
			Taken{"Permeability of the wet sheet", wetPermeability.Scale(1e16), "10⁻¹⁶ m²", "estimate", "Gurley times"},
			Taken{"Bypassed by the water", bypassed.Scale(100), "%", "estimate", "none"})
	}
	return list
}

func (w Wash) restsOn() []string {
	list := []string{
		"The share left is of what water dissolves and fibre does not hold; acid groups of the fibre stay, and what " +
			"a deposit or a size holds back comes more slowly. The sheet is wetted through first.",
	}
	return append(list, map[WashWay]string{
		Immersed:  "Both faces open (Crank 1975, eq. 4.53), each bath against its own level.",
		Floated:   "One face open (Crank 1975, eq. 4.53): the way is twice that under water, the time four times.",
		OnBlotter: "Sheet and wet blotter as two layers (Crank 1975, eq. 2.17), every blotter fresh and in full touch.",
		OnSlant:   "One face to running water, and what the water can carry, one after the other.",
		OnSuction: "Water drawn through by Darcy’s law as mixed cells in a row; a tenth or so is bypassed. Suction suits " +
			"small areas: where air gets in beside the sheet it draws no water.",
	}[w.Way])
}
