package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"benchleaf/internal/account"
	"benchleaf/internal/papers"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// The longer sides of what papers show, in pixels. A photograph fills a column of
// 80 mm at 318 to the inch, one of a comparison at 254 and its map at 190: a case of
// 32 pages with all of its faces compared stays below ten megabytes.
const (
	printLong         = 1000
	printComparedLong = 800
	printMapLong      = 600
)

// printLayer names what papers show of a comparison in the cache.
const printLayer = "print"

// writePrint keeps what papers show of a comparison.
func (m *comparer) writePrint(of facePictures, c *photo.Comparison, before, aligned *photo.Image) error {
	p, err := printOf(c, before, aligned)
	if err != nil {
		return err
	}
	raw, err := json.Marshal(p)
	if err != nil {
		return err
	}
	return m.d.store.PutDerived(of.Before, of.pack(printLayer), func(w io.Writer) error {
		_, err := w.Write(raw)
		return err
	})
}

// printOf makes the pictures of a comparison for papers: the sheet with a little
// of its ground, before, after and as a map.
func printOf(c *photo.Comparison, before, aligned *photo.Image) (*papers.ComparedPictures, error) {
	change := c.Map(photo.MapDE00Even)
	cells := change.Picture.Rect.Size()
	crop := cellsRound(c.Alignment.Sheet.Corners, c.CellPx, cells)
	p := &papers.ComparedPictures{Legend: change.Legend, Frame: image.Rect(
		int(
			float64(crop.Min.X)*float64(before.W)/float64(cells.X),
		),
		int(float64(crop.Min.Y)*float64(before.H)/float64(cells.Y)),
		int(
			float64(crop.Max.X)*float64(before.W)/float64(cells.X),
		),
		int(float64(crop.Max.Y)*float64(before.H)/float64(cells.Y)),
	)}
	for _, x := range []struct {
		m  *photo.Image
		to *[]byte
	}{{before, &p.Before}, {aligned, &p.After}} {
		sizes, err := cut(x.m, p.Frame).Sizes(printComparedLong)
		if err != nil {
			return nil, err
		}
		*x.to = sizes[0].JPEG
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, mapForPrint(change, crop)); err != nil {
		return nil, err
	}
	p.Map = b.Bytes()
	for _, w := range c.Warnings {
		if len(w.Outline) > 2 {
			p.Places = append(p.Places, papers.ComparedPlace{Say: w.Say, Outline: w.Outline})
		}
	}
	return p, nil
}

// cellsRound is the part of a map that holds a sheet and a little round it.
func cellsRound(corners photo.Quad, cellPx float64, cells image.Point) image.Rectangle {
	lowX, lowY, highX, highY := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, q := range corners {
		lowX, lowY, highX, highY = math.Min(lowX, q.X), math.Min(lowY, q.Y), math.Max(highX, q.X), math.Max(highY, q.Y)
	}
	margin := 0.015 * math.Max(highX-lowX, highY-lowY)
	r := image.Rect(
		int((lowX-margin)/cellPx),
		int((lowY-margin)/cellPx),
		int(math.Ceil((highX+margin)/cellPx)),
		int(math.Ceil((highY+margin)/cellPx)),
	)
	all := image.Rectangle{Max: cells}
	if r = r.Intersect(all); r.Empty() {
		return all
	}
	return r
}

// cut is a part of a picture.
func cut(m *photo.Image, r image.Rectangle) *photo.Image {
	r = r.Intersect(image.Rect(0, 0, m.W, m.H))
	out := *m
	out.W, out.H = r.Dx(), r.Dy()
	out.Pix = make([]uint8, 4*out.W*out.H)
	for y := range out.H {
		copy(out.Pix[4*out.W*y:4*out.W*(y+1)], m.Pix[4*(m.W*(r.Min.Y+y)+r.Min.X):])
	}
	return &out
}

// mapForPrint is a part of a map, made smaller by whole cells: the mean of what
// was compared, on the grey of the screens where less than half of it was. Its
// colours are a palette: a map in true colour would be the heaviest part of a
// paper.
func mapForPrint(m *photo.ChangeMap, crop image.Rectangle) *image.Paletted {
	const levels = 64
	palette := color.Palette{color.RGBA{0x77, 0x77, 0x77, 255}}
	for i := range levels {
		palette = append(palette, m.Legend.Scale[i*(len(m.Legend.Scale)-1)/(levels-1)])
	}
	step := map[color.NRGBA]int{}
	for i, c := range m.Legend.Scale {
		step[c] = i
	}
	k := 1
	for max(crop.Dx(), crop.Dy()) > k*printMapLong {
		k++
	}
	out := image.NewPaletted(image.Rect(0, 0, max(1, crop.Dx()/k), max(1, crop.Dy()/k)), palette)
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			sum, n := 0, 0
			for j := range k {
				for i := range k {
					if c := m.Picture.NRGBAAt(crop.Min.X+k*x+i, crop.Min.Y+k*y+j); c.A == 255 {
						sum += step[c]
						n++
					}
				}
			}
			if 2*n >= k*k && n > 0 {
				out.Pix[y*out.Stride+x] = uint8(1 + sum*(levels-1)/(n*(len(m.Legend.Scale)-1)))
			}
		}
	}
	return out
}

// comparedPrints hands the comparisons of a case to its papers.
type comparedPrints struct {
	ctx context.Context
	m   *comparer
	c   *record.Case
}

// Comparison gives the pictures of a recorded comparison as they were kept when
// it was made. Where the cache has lost them it is made again, and waited for.
func (p comparedPrints) Comparison(x *record.Stamped[record.FaceCompared]) (*papers.ComparedPictures, error) {
	of, err := recordedPictures(p.c, x)
	if err != nil {
		return nil, err
	}
	kept, err := p.m.print(p.ctx, p.c, of)
	switch {
	case errors.Is(err, store.ErrNotFound):
		return nil, errors.New("a photograph of them is not in the data folder")
	case err != nil:
		return nil, err
	}
	if x.Body.Method != compareMethod {
		kept.Note = "The pictures were made by another form of the reckoning (" + compareMethod + ") than the numbers (" + x.Body.Method + "): they may differ a little."
	}
	return kept, nil
}

// recordedPictures is the pair of a comparison with the colour that it had then.
func recordedPictures(c *record.Case, x *record.Stamped[record.FaceCompared]) (facePictures, error) {
	of := facePictures{Before: x.Body.Before, After: x.Body.After}
	before, after := c.ColourAt(of.Before, x.Seq), c.ColourAt(of.After, x.Seq)
	says := account.ColourOfPair(nil, nil)
	if before != nil && after != nil {
		of.Colour = colourKey(&before.Body) + colourKey(&after.Body)
		says = account.ColourOfPair(&before.Body, &after.Body)
	}
	if says != x.Body.Colour {
		return of, errors.New(
			"the colour of the photographs was withdrawn or corrected after they were compared, so the recorded " +
				"numbers have no picture that goes with them: record the comparison again",
		)
	}
	return of, nil
}

// print reads what the cache keeps for papers, or makes it.
func (m *comparer) print(ctx context.Context, c *record.Case, of facePictures) (*papers.ComparedPictures, error) {
	if p := m.printed(of); p != nil {
		return p, nil
	}
	x := m.beginPrint(c, of)
	select {
	case <-x.done:
	case <-ctx.Done():
		return nil, errors.New("the work was interrupted")
	}
	if p := m.printed(of); p != nil {
		return p, nil
	}
	if l := m.kept(of); l.registered() {
		// It was made and could not be kept, on a full disk say.
		return printOf(l.c, l.before, l.c.Warped())
	}
	if x.err == nil {
		return nil, errors.New("the program does not find one to lie on the other any more")
	}
	return nil, x.err
}

// beginPrint makes what papers show of a comparison in the background.
func (m *comparer) beginPrint(c *record.Case, of facePictures) *derivation {
	fix, err := of.corrections(c)
	return m.d.begin(printLayer+"/"+of.key(), m.d.slow, func(ctx context.Context, x *derivation) error {
		if err != nil || m.hasPrint(of) {
			return err
		}
		l := m.kept(of)
		if l == nil {
			if l, err = m.load(ctx, x, of, fix); err != nil {
				return err
			}
			m.keep(l)
		}
		if !l.registered() {
			return nil
		}
		return m.writePrint(of, l.c, l.before, l.c.Warped())
	})
}

// printed reads what the cache keeps for papers; nil when it is not there.
func (m *comparer) printed(of facePictures) *papers.ComparedPictures {
	f, err := m.d.store.OpenDerived(of.Before, of.pack(printLayer))
	if err != nil {
		return nil
	}
	defer f.Close()
	var p papers.ComparedPictures
	if json.NewDecoder(f).Decode(&p) != nil || len(p.Map) == 0 {
		return nil
	}
	return &p
}

// hasPrint says whether the cache has what papers show of a comparison.
func (m *comparer) hasPrint(of facePictures) bool {
	f, err := m.d.store.OpenDerived(of.Before, of.pack(printLayer))
	if err != nil {
		return false
	}
	f.Close()
	return true
}

// beginPrints begins what the papers of a case will want of its comparisons and
// says how many are not there yet.
func (s *Server) beginPrints(c *record.Case) (waiting int) {
	for i := range c.Compared {
		of, err := recordedPictures(c, &c.Compared[i])
		if err != nil || s.comparer.hasPrint(of) {
			continue
		}
		if _, halted := s.deriver.stands(printLayer + "/" + of.key()); halted != nil {
			continue // the report will say why
		}
		s.comparer.beginPrint(c, of)
		waiting++
	}
	return waiting
}

// printsSay tells how many comparisons are being drawn for the report.
func printsSay(waiting int) string {
	switch waiting {
	case 0:
		return ""
	case 1:
		return "The pictures of one comparison are being drawn for it: it opens when they are there."
	}
	return fmt.Sprintf("The pictures of %d comparisons are being drawn for it: it opens when they are there.", waiting)
}
