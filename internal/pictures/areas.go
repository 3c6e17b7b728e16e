package pictures

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchleaf/colour"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/photo"
)

// Region is what is read of an area of a face.
type Region struct {
	of        Pair
	px, share float64             // area in pixels of the picture, and as a share of the face
	change    *photo.RegionChange // where a comparison is there
	// before and after are how it stands out from the paper round it, where that
	// was read.
	before, after *photo.RegionStats

	scale    *Scale
	noScale  string // why there is none
	mm       []record.Ring
	mm2, sd2 float64
}

// Measure reads an area, its outline in pixels of the before picture. The change
// is there at once; the paper round the area takes about a second for large
// pictures, and is read when around asks for it, or when there is nothing else to
// read. Where there is nothing to read, the error is a refusal that says why.
func (m *Maker) Measure(
	ctx context.Context, c *record.Case, of Pair, rings []record.Ring, around bool,
) (*Region, error) {
	l, err := m.bring(ctx, c, of)
	var r *Region
	if err == nil {
		r, err = l.read(c, rings, around)
	}
	if _, refused := record.Refusals(err); !refused && ctx.Err() == nil {
		err = record.Invalidf("outline", "%s", en.Sentence(err.Error()))
	}
	return r, err
}

func (l *livePair) read(c *record.Case, rings []record.Ring, around bool) (*Region, error) {
	r := &Region{of: l.of}
	outline := pointsOf(rings)
	aligned := l.aligned()
	if aligned {
		change, err := l.c.Region(outline)
		if err != nil {
			return nil, err
		}
		r.change, r.px = &change, change.AreaPx
	}
	if around || !aligned {
		before, err := photo.MeasureRegion(l.before, outline, photo.StainOptions{Sheet: &l.sheet.Corners})
		if err != nil {
			return nil, err
		}
		r.before, r.px = &before, before.AreaPx
	}
	if around && aligned {
		corners := photo.Quad(l.moved(l.sheet.Corners[:]))
		after := make([][]photo.Point, len(outline))
		for i := range outline {
			after[i] = l.moved(outline[i])
		}
		// An outline may lie beyond the after picture: then how it stands out
		// there is not told.
		if stats, err := photo.MeasureRegion(l.after, after, photo.StainOptions{Sheet: &corners}); err == nil {
			r.after = &stats
		}
	}
	r.size(c, &l.sheet, rings)
	return r, nil
}

// moved takes places of the before picture to the after picture.
func (l *livePair) moved(places []photo.Point) []photo.Point {
	out := make([]photo.Point, len(places))
	for i, p := range places {
		out[i].X, out[i].Y = l.c.Alignment.Map(p.X, p.Y)
	}
	return out
}

// size gives the area in mm2 and the outline in mm on the face, where the sheet's
// recorded size goes with its corners in the picture.
func (r *Region) size(c *record.Case, sheet *photo.Sheet, rings []record.Ring) {
	if face := areaWithin(ringsOf([][]photo.Point{sheet.Corners[:]})[0]); face > 0 {
		r.share = math.Min(1, r.px/face)
	}
	if r.scale, r.noScale = scaleOn(c, r.of.Before, sheet); r.scale == nil {
		return
	}
	for _, ring := range rings {
		out := make(record.Ring, len(ring))
		for k, p := range ring {
			q := r.scale.face.Map(photo.Point{X: p[0], Y: p[1]})
			out[k] = [2]float64{Hundredths(q.X), Hundredths(q.Y)}
		}
		r.mm = append(r.mm, out)
	}
	if px := areaWithin(rings[0]); px > 0 {
		r.mm2 = r.px * areaWithin(r.mm[0]) / px
		r.sd2 = 2 * r.scale.Relative * r.mm2
	}
}

// Scale is that of a photograph, with the way from its pixels to millimetres on
// the face.
type Scale struct {
	photo.Scale
	face photo.Homography
}

// scaleOn is the scale of a photograph by the recorded size of the sheet that it
// shows, or why there is none.
func scaleOn(c *record.Case, h record.Hash, sheet *photo.Sheet) (*Scale, string) {
	p := c.PhotoByHash(h)
	if p == nil || len(p.Body.Place.Sheets) != 1 {
		return nil, "The photograph names no sheet, so there is no scale."
	}
	st := c.StockOf(p.Body.Place.Sheets[0])
	if st == nil {
		return nil, "The sheet's size is not recorded, so there is no scale: describe its paper under Examination."
	}
	if sheet.Seen != [4]bool{true, true, true, true} {
		return nil, "The sheet's edges are not all seen in the picture, so there is no scale."
	}
	scale, err := photo.ScaleFromSheet(sheet.Corners, st.WidthMm, st.HeightMm)
	if err != nil {
		return nil, "There is no scale: " + err.Error() + "."
	}
	face, ok := photo.FaceHomography(sheet.Corners, st.WidthMm, st.HeightMm)
	if !ok {
		return nil, "The sheet's corners make no face, so there is no scale."
	}
	return &Scale{scale, face}, ""
}

// areaWithin is the area within a ring.
func areaWithin(r record.Ring) float64 {
	sum := 0.0
	for i, p := range r {
		q := r[(i+1)%len(r)]
		sum += p[0]*q[1] - q[0]*p[1]
	}
	return math.Abs(sum) / 2
}

func pointsOf(rings []record.Ring) [][]photo.Point {
	out := make([][]photo.Point, len(rings))
	for i, r := range rings {
		for _, p := range r {
			out[i] = append(out[i], photo.Point{X: p[0], Y: p[1]})
		}
	}
	return out
}

func ringsOf(outline [][]photo.Point) []record.Ring {
	out := make([]record.Ring, len(outline))
	for i, r := range outline {
		for _, p := range r {
			out[i] = append(out[i], [2]float64{tenths(p.X), tenths(p.Y)})
		}
	}
	return out
}

// Into writes what was read of an area into its entry.
func (r *Region) Into(b *record.AreaOutlined) {
	share := Hundredths(100 * r.share)
	b.FacePercent = &share
	if r.before != nil {
		out := Hundredths(r.before.MeanDE00)
		b.StandsOutDE00 = &out
	}
	if r.scale != nil {
		mm2, sd := Hundredths(r.mm2), Hundredths(r.sd2)
		b.OutlineMm, b.AreaMm2, b.AreaUncertaintyMm2, b.ScaleFrom = r.mm, &mm2, &sd, r.scale.RestsOn
	}
}

// Change is the entry of an area's change; nil when it was not compared.
func (r *Region) Change(area string) *record.AreaCompared {
	ch := r.change
	if ch == nil {
		return nil
	}
	d := kept(less(ch.AfterFlat, ch.Before))
	b := &record.AreaCompared{
		Area: area, Before: r.of.Before, After: r.of.After, Method: compareMethod, DE00: Hundredths(ch.MeanDE00),
		DE00Trend: Hundredths(ch.MeanDE00Flat), DE00Uncertainty: Hundredths(ch.MeanDE00SD), DL: d[0], DA: d[1],
		DB: d[2], BeforeLab: kept(threeOf(ch.Before)), AfterLab: kept(threeOf(ch.After)),
	}
	if r.before != nil && r.after != nil {
		stood, stands := Hundredths(r.before.MeanDE00), Hundredths(r.after.MeanDE00)
		b.StoodOutDE00, b.StandsOutDE00 = &stood, &stands
	}
	return b
}

// Around is the code of the fact that takes a second to read.
const Around account.Code = "around"

// Say tells an area in one sentence.
func (r *Region) Say() string {
	switch ch := r.change; {
	case ch != nil && account.Changed(ch.MeanDE00Flat, ch.MeanDE00SD):
		return "The area changed by " + account.DE00(ch.MeanDE00Flat, ch.MeanDE00SD) + "."
	case ch != nil:
		return "No change of the area was found: " + account.DE00(ch.MeanDE00Flat, ch.MeanDE00SD) + "."
	case r.before != nil:
		return fmt.Sprintf("The area stands out from the paper round it by %.1f ΔE00.", r.before.MeanDE00)
	}
	return ""
}

// Answers are what an area says first.
func (r *Region) Answers() []account.Fact {
	var list []account.Fact
	if ch := r.change; ch != nil {
		change := account.ColourChange("Change of the area", ch.MeanDE00Flat, ch.MeanDE00SD)
		change.RestsOn = words.Joined(": ", "light evened", change.RestsOn)
		list = append(list, change, account.Fact{Name: "ΔL*, Δa*, Δb*", Text: signs(less(ch.AfterFlat, ch.Before)),
			RestsOn: "above 0 lighter, redder, yellower; below it darker, greener, bluer"})
	}
	out := account.Fact{Code: Around, Name: "Against the paper round it"}
	switch {
	case r.before != nil && r.after != nil:
		out.Text, out.RestsOn = fmt.Sprintf("%.1f → %.1f ΔE00", r.before.MeanDE00, r.after.MeanDE00), "before → after"
		list = append(list, out)
	case r.before != nil:
		out.Text = fmt.Sprintf("%.1f ΔE00", r.before.MeanDE00)
		list = append(list, out)
	}
	size := r.sizeFact()
	size.RestsOn = ""
	return append(list, size)
}

func (r *Region) sizeFact() account.Fact {
	if r.scale == nil {
		px := &words.Figure{Value: math.Round(r.px), Unit: "px"}
		return account.Fact{Name: "Size", Figure: px, RestsOn: r.noScale}
	}
	u := 2 * math.Max(r.sd2, 0.01)
	return account.Fact{Name: "Size", Figure: &words.Figure{Value: r.mm2, Unit: "mm²", Uncertainty: &u},
		RestsOn: "scale from " + r.scale.RestsOn}
}

// Facts are all numbers of an area.
func (r *Region) Facts() []account.Fact {
	var list []account.Fact
	de := func(v float64) string { return fmt.Sprintf("%.1f ΔE00", v) }
	if ch := r.change; ch != nil {
		rests := fmt.Sprintf("print left out: %.0f %% of it; the uncertainty is how much bare paper in places of this "+
			"size differs where nothing was done", 100*ch.Print)
		if ch.PrintIncluded {
			rests = "hardly any bare paper in it, so print is counted too"
		}
		list = append(list,
			account.Fact{Name: "As photographed", Text: de(ch.MeanDE00),
				RestsOn: "ΔL*, Δa*, Δb* " + signs(less(ch.After, ch.Before)) + ": with all the change of the light"},
			account.Fact{Name: "Place by place", Text: de(ch.TrendRemoved.Mean) + ", mean",
				RestsOn: "light evened; as photographed " + de(ch.DE00.Mean)},
			account.Fact{Name: "Colour before", Text: labWords(threeOf(ch.Before)),
				RestsOn: "as photographed, under D50"},
			account.Fact{Name: "Colour after", Text: labWords(threeOf(ch.After)),
				RestsOn: "as photographed; light evened " + labWords(threeOf(ch.AfterFlat))},
			account.Fact{Name: "Rests on", RestsOn: rests,
				Figure: &words.Figure{Value: math.Round(100 * ch.Compared), Unit: "% of the area"}})
	} else if r.before != nil {
		list = append(list,
			account.Fact{Name: "Its colour", Text: labWords(threeOf(r.before.Lab)),
				RestsOn: "as photographed, under D50, print left out"},
			account.Fact{Name: "Paper round it", Text: labWords(threeOf(r.before.Paper))})
	}
	return append(list, r.sizeFact(), account.Fact{Name: "Share of the face",
		Figure: &words.Figure{Value: Hundredths(100 * r.share), Unit: "%"}})
}

func less(a, b colour.Lab) [3]float64 {
	return threeOf(colour.Lab{L: a.L - b.L, A: a.A - b.A, B: a.B - b.B})
}

// signs writes changes with their signs and one decimal.
func signs(d [3]float64) string {
	var out []string
	for _, v := range d {
		s := strings.ReplaceAll(fmt.Sprintf("%+.1f", v), "-", "−")
		if math.Abs(v) < 0.05 {
			s = "0.0"
		}
		out = append(out, s)
	}
	return strings.Join(out, ", ")
}

// mostAround is how many areas are measured against the paper round them when a
// pair is compared: each takes about a second.
const mostAround = 20

// AreaChange is what changed in a kept area, as measured with its pair: shown at
// once, and recorded when a person says so.
type AreaChange struct {
	Outline []record.Ring       `json:"outline_px"`
	Body    record.AreaCompared `json:"body"`
}

// changes measures the areas that were kept on the before picture of a pair. One
// that cannot be measured is left out: looking at it says why.
func (l *livePair) changes(ctx context.Context, c *record.Case) (list []AreaChange, err error) {
	for i := range c.Areas {
		b := &c.Areas[i].Body
		if b.Photo != l.of.Before {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		r, err := l.read(c, b.OutlinePx, len(list) < mostAround)
		if err != nil {
			continue
		}
		if change := r.Change(b.ID); change != nil {
			list = append(list, AreaChange{b.OutlinePx, *change})
		}
	}
	return list, nil
}

// Unrecorded are the measured changes of areas that are in the record without
// them.
func (n *Numbers) Unrecorded(c *record.Case) (list []record.AreaCompared) {
	if !n.Laid() {
		return nil
	}
	for _, x := range n.Areas {
		a := c.Area(x.Body.Area)
		if a == nil || a.Compared != nil && a.Compared.Body.After == x.Body.After {
			continue
		}
		if slices.EqualFunc(a.Body.OutlinePx, x.Outline, func(a, b record.Ring) bool { return slices.Equal(a, b) }) {
			list = append(list, x.Body)
		}
	}
	return list
}
