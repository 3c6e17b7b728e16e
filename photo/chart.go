package photo

import (
	"fmt"
	"math"
	"slices"

	"benchleaf/colour"
)

// Limits of a chart's grid.
const (
	maxChartSide = 100 // rows or columns
	// chartInner is the part of a patch's width and height that is read: its
	// edges are mixed with the frame, and hands lay corners a little off.
	chartInner = 0.5
	// chartSamples bounds the pixels read of one patch.
	chartSamples = 20_000
	leastPatchPx = 4 // across, below which a patch is mostly its edge
)

// ChartAt reads the patches of a chart whose four outer corners are given: the
// corner at the first patch, then the one at the end of its row, then that at
// the last patch, then that at the beginning of the last row. The picture may
// show it turned and aslant, not mirrored. The readings go row by row; each is
// the mean of the inner quarter of its patch without the tenth of pixels that
// differ most (dust, glare), in linear light with the primaries of the picture's
// profile. One row and one column read a grey card or a piece of paper.
//
// The error is a *Problem with one sentence: corners that make no quadrilateral
// or lie outside the picture, or patches of fewer than four pixels.
func ChartAt(m *Image, corners Quad, rows, columns int) ([]colour.Reading, error) {
	if rows < 1 || columns < 1 || rows > maxChartSide || columns > maxChartSide {
		return nil, refuse(
			Unsupported,
			"A chart of %d rows and %d columns is not read; each may be 1 to %d.",
			rows,
			columns,
			maxChartSide,
		)
	}
	for _, p := range corners {
		if !(p.X >= -1 && p.Y >= -1 && p.X <= float64(m.W) && p.Y <= float64(m.H)) {
			return nil, refuse(
				Unsupported,
				"A corner of the chart lies outside the picture, which is %d by %d pixels.",
				m.W,
				m.H,
			)
		}
	}
	grid, ok := gridOver(corners, rows, columns)
	if !ok {
		return nil, refuse(
			Unsupported,
			"The four corners do not go round a chart: set them in order, clockwise as the chart is read, from its "+
				"first patch.",
		)
	}
	linear := linearTable(m)
	out := make([]colour.Reading, rows*columns)
	for i := range out {
		q := grid.patch(i/columns, i%columns, chartInner)
		if q.leastSide() < leastPatchPx*chartInner {
			return nil, refuse(
				Unsupported,
				"The patches are only %.0f pixels wide in the picture; at least %d are needed. Go nearer with the "+
					"camera.",
				q.leastSide()/chartInner,
				leastPatchPx,
			)
		}
		out[i] = readPatch(m, q, linear)
	}
	return out, nil
}

// grid takes places on a chart, in patches from its first corner, to the
// picture.
type grid struct{ h Homography }

func gridOver(q Quad, rows, columns int) (grid, bool) {
	for i := range q {
		if !(cross(q[i], q[(i+1)%4], q[(i+2)%4]) > 1) {
			return grid{}, false
		}
	}
	w, t := float64(columns), float64(rows)
	h, ok := fitHomography([]Point{{0, 0}, {w, 0}, {w, t}, {0, t}}, q[:], nil)
	return grid{h}, ok
}

// patch is the part of a patch within the share inner of its sides.
func (g *grid) patch(row, column int, inner float64) Quad {
	x, y, r := float64(column)+0.5, float64(row)+0.5, inner/2
	return Quad{
		g.h.Map(Point{x - r, y - r}),
		g.h.Map(Point{x + r, y - r}),
		g.h.Map(Point{x + r, y + r}),
		g.h.Map(Point{x - r, y + r}),
	}
}

func (q Quad) leastSide() float64 {
	least := math.Inf(1)
	for i := range q {
		least = min(least, distance(q[i], q[(i+1)%4]))
	}
	return least
}

// linearTable gives the linear values of the picture's codes, 8 or 16 bits.
func linearTable(m *Image) [3][]float32 {
	n := 256
	if m.Deep != nil {
		n = 65536
	}
	var t [3][]float32
	for c := range t {
		t[c] = make([]float32, n)
	}
	for v := range n {
		x := float64(v) / float64(n-1)
		for c, l := range m.Profile.Linear(x, x, x) {
			t[c][v] = float32(l)
		}
	}
	return t
}

// readPatch reads what a quadrilateral holds.
func readPatch(m *Image, q Quad, linear [3][]float32) colour.Reading {
	x0, y0, x1, y1 := m.W-1, m.H-1, 0, 0
	for _, p := range q {
		x0, x1 = min(x0, int(math.Floor(p.X))), max(x1, int(math.Ceil(p.X)))
		y0, y1 = min(y0, int(math.Floor(p.Y))), max(y1, int(math.Ceil(p.Y)))
	}
	x0, y0, x1, y1 = max(0, x0), max(0, y0), min(m.W-1, x1), min(m.H-1, y1)
	step := max(1, int(math.Sqrt(float64(max(1, x1-x0))*float64(max(1, y1-y0))/chartSamples)))
	var v [3][]float32
	over, under, n := 0, 0, 0
	for y := y0; y <= y1; y += step {
		for x := x0; x <= x1; x += step {
			if !q.contains(Point{float64(x), float64(y)}) {
				continue
			}
			i := y*m.W + x
			pix := m.Pix[4*i : 4*i+3 : 4*i+3]
			n++
			if max(pix[0], pix[1], pix[2]) >= clippedFrom {
				over++
			}
			if min(pix[0], pix[1], pix[2]) < 1 {
				under++
			}
			for c := range v {
				if m.Deep != nil {
					v[c] = append(v[c], linear[c][m.Deep[3*i+c]])
				} else {
					v[c] = append(v[c], linear[c][pix[c]])
				}
			}
		}
	}
	r := colour.Reading{Clipped: n == 0 || 50*over > n || 5*under > n}
	if n == 0 {
		return r
	}
	keep := calmest(v, n)
	for c := range v {
		sum := 0.0
		for _, i := range keep {
			sum += float64(v[c][i])
		}
		r.RGB[c] = sum / float64(len(keep))
		if r.RGB[c] > 0 {
			spread := float64(quantile(v[c], 0.84)-quantile(v[c], 0.16)) / 2 / r.RGB[c]
			r.Spread = math.Max(r.Spread, spread)
		}
	}
	return r
}

// calmest are the nine tenths of n pixels that lie nearest to the medians of
// the channels, each by its own spread.
func calmest(v [3][]float32, n int) []int {
	far := make([]float32, n)
	for c := range v {
		s := slices.Clone(v[c])
		mid := quantile(s, 0.5)
		width := max(1e-6, quantile(s, 0.75)-quantile(s, 0.25))
		for i, x := range v[c] {
			far[i] += abs(x-mid) / width
		}
	}
	limit := quantile(slices.Clone(far), 0.9)
	keep := make([]int, 0, n)
	for i, d := range far {
		if d <= limit {
			keep = append(keep, i)
		}
	}
	return keep
}

// Correct gives the picture the colours of a correction that was made from a
// reading in it, or in another of the same light, camera settings and profile.
// The values are then Display P3, wide enough for papers and colorants; light
// beyond its ends is cut off there. Pixels that were overexposed become white,
// so that they are still known for it. It works in place, so that it takes no
// memory of the picture's size; the caller must own the pixels.
func (m *Image) Correct(c *colour.Correction) {
	linear := linearTable(m)
	for i := range linear {
		for k, v := range linear[i] {
			linear[i][k] = float32(math.Pow(math.Max(0, float64(v)), c.Exponent))
		}
	}
	to := colour.DisplayP3()
	into := c.Into(to)
	codes := srgbCodes()
	colour.Parallel(m.H, 16, func(lo, hi int) {
		for i := lo * m.W; i < hi*m.W; i++ {
			pix := m.Pix[4*i : 4*i+3 : 4*i+3]
			var v [3]float32
			for k := range v {
				if m.Deep != nil {
					v[k] = linear[k][m.Deep[3*i+k]]
				} else {
					v[k] = linear[k][pix[k]]
				}
			}
			lost := max(pix[0], pix[1], pix[2]) >= clippedFrom
			v = into(v)
			for k := range v {
				if lost {
					v[k] = 1
				}
				pix[k] = codes.of(v[k])
				if m.Deep != nil {
					m.Deep[3*i+k] = uint16(math.Round(65535 * encode16(v[k])))
				}
			}
		}
	})
	m.Profile, m.ICC = to, nil
}

// encode16 applies the transfer function of IEC 61966-2-1:1999 to 0 to 1.
func encode16(v float32) float64 {
	x := math.Min(1, math.Max(0, float64(v)))
	if x <= 0.0031308 {
		return 12.92 * x
	}
	return 1.055*math.Pow(x, 1/2.4) - 0.055
}

// CorrectByChart reads a chart at its corners and fits a correction. The corners
// may begin at any corner of the chart: the order that agrees with the chart's
// colours is taken, and is returned. The error says when the patches are not
// those of the chart.
func CorrectByChart(m *Image, corners Quad, chart *colour.Chart) (*colour.Correction, []colour.Reading, Quad, error) {
	var best *colour.Correction
	var bestReadings []colour.Reading
	var bestCorners Quad
	var failed error
	for turn := range 4 {
		q := corners.turned(turn)
		readings, err := ChartAt(m, q, chart.Rows, chart.Columns)
		if err != nil {
			return nil, nil, corners, err
		}
		c, err := colour.FitChart(chart.Patches, readings)
		if err != nil {
			failed = err
			continue
		}
		if best == nil || c.Median() < best.Median() {
			best, bestReadings, bestCorners = c, readings, q
		}
	}
	if best == nil {
		return nil, nil, corners, &Problem{Unsupported, upperSentence(failed.Error()), failed}
	}
	if best.Median() > chartMisfit {
		return nil, nil, corners, refuse(
			Unsupported,
			"The patches at these corners are not those of the chart: one left out of the fit comes back %.0f dE00 "+
				"off in the middle. Look at the corners, and whether this is the chart whose values are used.",
			best.Median(),
		)
	}
	return best, bestReadings, bestCorners, nil
}

// chartMisfit is the median leave-one-out dE00 above which patches are not
// those of the chart. Cameras stay under 4 (our own trials); patches in a wrong
// order give 15 and more.
const chartMisfit = 8

// turned begins the corners at a later one.
func (q Quad) turned(by int) Quad {
	return Quad{q[by%4], q[(by+1)%4], q[(by+2)%4], q[(by+3)%4]}
}

func upperSentence(s string) string {
	return fmt.Sprintf("%c%s.", s[0]-'a'+'A', s[1:])
}
