package photo

import (
	"errors"
	"math"
	"slices"

	"benchleaf/colour"
)

// RegionChange is what changed under a drawn shape. Print is left out of
// everything but the areas, unless hardly any paper is left.
type RegionChange struct {
	// AreaPx is the area of the shape in pixels of the before picture, AreaMM2
	// in mm2, 0 when the scale is unknown.
	AreaPx, AreaMM2 float64
	// Compared is the share of the shape that could be compared: on the sheet, in
	// both pictures, overexposed in neither. Print is the share of that which is
	// print in either picture; PrintIncluded says that it had to be counted.
	Compared, Print float64
	PrintIncluded   bool
	// Before and After are the mean colours, AfterFlat the after colour without
	// the slow trend of light.
	Before, After, AfterFlat colour.Lab
	// DE00 and the like are over the cells of the shape: after less before.
	DE00, DL, DA, DB Stats
	// TrendRemoved are the same without the slow trend.
	TrendRemoved, TrendRemovedDL, TrendRemovedDA, TrendRemovedDB Stats
	// MeanDE00 is the dE00 of the two mean colours, MeanDE00Flat that without
	// the trend, MeanDE00SD the standard uncertainty of the latter: by how much
	// bare paper in places of this size differs where nothing was done.
	MeanDE00, MeanDE00Flat, MeanDE00SD float64
	// Cells is the number of cells that count.
	Cells int
}

// Region measures the change under an outline drawn on the before picture: rings
// of corners in its pixels, of which what lies inside an odd number belongs to the
// region, as for MeasureRegion. The error says why there is nothing to measure.
func (c *Comparison) Region(outline [][]Point) (RegionChange, error) {
	if !c.Compared {
		return RegionChange{}, errors.New(
			"the pictures could not be compared, so there is nothing to measure in a region",
		)
	}
	if len(outline) == 0 || len(outline[0]) < 3 {
		return RegionChange{}, errors.New("a region needs at least three corners")
	}
	for _, ring := range outline {
		for _, p := range ring {
			if math.IsNaN(p.X+p.Y) || math.IsInf(p.X+p.Y, 0) {
				return RegionChange{}, errors.New("a corner of the region is not a number")
			}
		}
	}
	g := c.grid
	inside := g.rasterise(outline)
	if len(inside) == 0 {
		return RegionChange{}, errors.New(
			"the region lies outside the before picture, or is smaller than a pixel; draw it larger",
		)
	}
	var on, bare []int
	weight := map[int]float64{}
	area, compared := 0.0, 0.0
	for _, s := range inside {
		area += s.share
		if !g.ok.v[s.at] {
			continue
		}
		compared += s.share
		weight[s.at] = s.share
		on = append(on, s.at)
		if !g.viewBefore.print.v[s.at] && !g.viewAfter.print.v[s.at] {
			bare = append(bare, s.at)
		}
	}
	r := RegionChange{AreaPx: area * g.sx * g.sy, Compared: compared / area}
	r.AreaMM2 = r.AreaPx * c.mm * c.mm
	if len(on) == 0 {
		return RegionChange{}, errors.New(
			"nothing in the region can be compared: it lies off the sheet, outside the after picture, or in glare",
		)
	}
	r.Print = 1 - float64(len(bare))/float64(len(on))
	use := bare
	if len(bare) < 4 || r.Print > 0.95 {
		use, r.PrintIncluded = on, true
	}
	r.Cells = len(use)
	g.regionStats(&r, use, weight)
	total := 0.0
	for _, i := range use {
		total += weight[i]
	}
	r.MeanDE00SD = g.localSD(total)
	return r, nil
}

// regionStats fills in colours and differences over the cells use.
func (g *changeGrid) regionStats(r *RegionChange, use []int, weight map[int]float64) {
	mean := func(lab []float32) colour.Lab {
		var s [3]float64
		n := 0.0
		for _, i := range use {
			for c := range s {
				s[c] += weight[i] * float64(lab[3*i+c])
			}
			n += weight[i]
		}
		return colour.Lab{L: s[0] / n, A: s[1] / n, B: s[2] / n}
	}
	r.Before, r.After, r.AfterFlat = mean(g.labBefore), mean(g.labAfter), mean(g.labFlat)
	r.MeanDE00, r.MeanDE00Flat = colour.DE2000(r.Before, r.After), colour.DE2000(r.Before, r.AfterFlat)
	values := make([]float32, len(use))
	of := func(v []float32) Stats {
		for k, i := range use {
			values[k] = v[i]
		}
		return statsOf(values, nil)
	}
	less := func(lab []float32, c int) Stats {
		for k, i := range use {
			values[k] = lab[3*i+c] - g.labBefore[3*i+c]
		}
		return statsOf(values, nil)
	}
	r.DE00, r.TrendRemoved = of(g.de), of(g.deFlat)
	r.DL, r.DA, r.DB = less(g.labAfter, 0), less(g.labAfter, 1), less(g.labAfter, 2)
	r.TrendRemovedDL, r.TrendRemovedDA, r.TrendRemovedDB = less(g.labFlat, 0), less(g.labFlat, 1), less(g.labFlat, 2)
}

// cellShare is a cell with the share of it under a shape.
type cellShare struct {
	at    int
	share float64
}

// rasterise lists the cells within an odd number of rings: four lines a cell,
// along each of which the share covered is exact.
func (g *changeGrid) rasterise(outline [][]Point) []cellShare {
	const lines = 4
	rings := make([][]Point, len(outline))
	top, low := math.Inf(1), math.Inf(-1)
	for i, ring := range outline {
		for _, p := range ring {
			q := g.toCell(p)
			// Middles of cells are whole numbers; from here on their left edges are.
			q.X, q.Y = q.X+0.5, q.Y+0.5
			rings[i] = append(rings[i], q)
			top, low = math.Min(top, q.Y), math.Max(low, q.Y)
		}
	}
	var out []cellShare
	row := make([]float64, g.w)
	for y := max(0, int(math.Max(0, top))); y < g.h && float64(y) < low; y++ {
		clear(row)
		for k := range lines {
			at := float64(y) + (float64(k)+0.5)/lines
			xs := crossings(rings, at)
			for i := 0; i+1 < len(xs); i += 2 {
				spread1D(row, xs[i], xs[i+1], 1.0/lines)
			}
		}
		for x, s := range row {
			if s > 1e-9 {
				out = append(out, cellShare{y*g.w + x, s})
			}
		}
	}
	return out
}

// crossings lists in order where the sides of rings cross the level y.
func crossings(rings [][]Point, y float64) []float64 {
	var xs []float64
	for _, ring := range rings {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			if (a.Y <= y) != (b.Y <= y) {
				xs = append(xs, a.X+(y-a.Y)/(b.Y-a.Y)*(b.X-a.X))
			}
		}
	}
	slices.Sort(xs)
	return xs
}

// spread1D adds v to a row over the run from lo to hi, its ends in part.
func spread1D(row []float64, lo, hi, v float64) {
	lo, hi = math.Max(0, lo), math.Min(float64(len(row)), hi)
	for x := int(lo); float64(x) < hi; x++ {
		row[x] += v * (math.Min(hi, float64(x+1)) - math.Max(lo, float64(x)))
	}
}

// localSD is the robust standard deviation, in dE00, of the mean change without
// trend over square places of bare paper of about the given number of cells.
func (g *changeGrid) localSD(cells float64) float64 {
	bare := g.paperBoth()
	side := min(max(2, int(math.Round(math.Sqrt(cells)))), max(2, min(g.w, g.h)/5))
	var d [3][]float32
	for y0 := 0; y0+side <= g.h; y0 += side {
		for x0 := 0; x0+side <= g.w; x0 += side {
			var sum [3]float64
			n := 0
			for y := y0; y < y0+side; y++ {
				for x := x0; x < x0+side; x++ {
					i := y*g.w + x
					if !bare.v[i] {
						continue
					}
					n++
					for c := range sum {
						sum[c] += float64(g.labFlat[3*i+c] - g.labBefore[3*i+c])
					}
				}
			}
			if 2*n < side*side && n < 200 {
				continue
			}
			for c := range d {
				d[c] = append(d[c], float32(sum[c]/float64(n)))
			}
		}
	}
	return math.Max(0.05, spreadDE(d))
}
