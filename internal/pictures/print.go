package pictures

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// The longer sides of what papers show of a comparison, in pixels: its photographs
// at 254 to the inch and its map at 190. A case of 32 pages with all of its faces
// compared stays below ten megabytes.
const (
	printComparedLong = 800
	printMapLong      = 600
)

// printLayer names what papers show of a comparison in the cache.
const printLayer = "print"

// keptPrint is an account.ComparedPictures as it is kept.
type keptPrint struct {
	Before []byte      `json:"before_jpeg"`
	After  []byte      `json:"after_jpeg"`
	Map    []byte      `json:"map_png"`
	Legend Legend      `json:"legend"`
	Frame  [4]int      `json:"frame_px"` // left, top, right, bottom
	Places []keptPlace `json:"places,omitempty"`
}

type keptPlace struct {
	Say     string      `json:"say"`
	Outline record.Ring `json:"outline_px"`
}

// keepPrint keeps what papers show of a comparison.
func (m *Maker) keepPrint(of Pair, c *photo.Comparison, before, aligned *photo.Image) error {
	p, err := printOf(c, before, aligned)
	if err != nil {
		return err
	}
	r := p.Frame
	k := keptPrint{
		Before: p.Before, After: p.After, Map: p.Map, Legend: Legend(p.Legend),
		Frame: [4]int{r.Min.X, r.Min.Y, r.Max.X, r.Max.Y},
	}
	for _, x := range p.Places {
		k.Places = append(k.Places, keptPlace{x.Say, ringsOf([][]photo.Point{x.Outline})[0]})
	}
	return m.keepJSON(of.Before, of.pack(printLayer), k)
}

// printed reads what the cache keeps for papers; nil when it is not there.
func (m *Maker) printed(of Pair) *account.ComparedPictures {
	var k keptPrint
	if !m.keptJSON(of.Before, of.pack(printLayer), &k) || len(k.Map) == 0 {
		return nil
	}
	p := &account.ComparedPictures{
		Before: k.Before, After: k.After, Map: k.Map, Legend: photo.Legend(k.Legend),
		Frame: image.Rect(k.Frame[0], k.Frame[1], k.Frame[2], k.Frame[3]),
	}
	for _, x := range k.Places {
		p.Places = append(p.Places, account.ComparedPlace{Say: x.Say, Outline: pointsOf([]record.Ring{x.Outline})[0]})
	}
	return p
}

// printOf makes the pictures of a comparison for papers: the sheet with a little
// of its ground, before, after and as a map.
func printOf(c *photo.Comparison, before, aligned *photo.Image) (*account.ComparedPictures, error) {
	change := c.Map(photo.MapDE00Even)
	cells := change.Picture.Rect.Size()
	crop := cellsRound(c.Alignment.Sheet.Corners, c.CellPx, cells)
	x, y := float64(before.W)/float64(cells.X), float64(before.H)/float64(cells.Y)
	p := &account.ComparedPictures{Legend: change.Legend, Frame: image.Rect(
		int(float64(crop.Min.X)*x), int(float64(crop.Min.Y)*y),
		int(float64(crop.Max.X)*x), int(float64(crop.Max.Y)*y),
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
			p.Places = append(p.Places, account.ComparedPlace{Say: w.Say, Outline: w.Outline})
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

// hasPrint says whether the cache has what papers show of a comparison.
func (m *Maker) hasPrint(of Pair) bool {
	f, err := m.store.OpenDerived(of.Before, of.pack(printLayer))
	if err != nil {
		return false
	}
	f.Close()
	return true
}

// printJob makes what papers show of a comparison.
func printJob(of Pair) Job { return Job(printLayer + "/" + of.name()) }

// beginPrint makes what papers show of a comparison in the background.
func (m *Maker) beginPrint(c *record.Case, of Pair) *Work {
	fix, err := of.corrections(c)
	return m.beginLong(printJob(of), func(ctx context.Context, x *Work) error {
		if err != nil || m.hasPrint(of) {
			return err
		}
		l, err := m.load(ctx, x, of, fix)
		if err != nil || !l.aligned() {
			return err
		}
		return m.keepPrint(of, l.c, l.before, l.c.Warped())
	})
}

// BeginPrints begins what the papers of a case will want of its comparisons and
// says how many are not there yet.
func (m *Maker) BeginPrints(c *record.Case) (waiting int) {
	for i := range c.Compared {
		of, err := Recorded(c, &c.Compared[i])
		if err != nil || m.hasPrint(of) {
			continue
		}
		if _, halted := m.State(printJob(of)); halted != nil {
			continue // the report will say why
		}
		m.beginPrint(c, of)
		waiting++
	}
	return waiting
}

// Prints hands the pictures of one case to its papers.
type Prints struct {
	ctx context.Context
	m   *Maker
	c   *record.Case
}

// Prints are the pictures of a case; waiting for them ends with the context.
func (m *Maker) Prints(ctx context.Context, c *record.Case) Prints { return Prints{ctx, m, c} }

var errInterrupted = errors.New("the work was interrupted")

// Picture gives a photograph as it was made for print, together with the sizes for
// the screen, or makes it. That it cannot be kept, on a full disk say, costs only
// time.
func (p Prints) Picture(h record.Hash) ([]byte, error) {
	if p.ctx.Err() != nil {
		return nil, errInterrupted
	}
	f, err := p.m.open(p.ctx, h, printLong)
	switch {
	case p.ctx.Err() != nil:
		return nil, errInterrupted
	case errors.Is(err, store.ErrNotFound):
		return nil, errors.New("it is not in the data folder")
	case err != nil:
		sizes, err := p.m.sizes(p.ctx, h)
		if err != nil {
			return nil, err
		}
		return sizes[len(sizes)-1].JPEG, nil
	}
	defer f.Close()
	return io.ReadAll(f)
}

// Comparison gives the pictures of a recorded comparison as they were kept when it
// was made. Where the cache has lost them they are made again, and waited for.
func (p Prints) Comparison(x *record.Stamped[record.FaceCompared]) (*account.ComparedPictures, error) {
	of, err := Recorded(p.c, x)
	if err != nil {
		return nil, err
	}
	kept, err := p.compared(of)
	switch {
	case errors.Is(err, store.ErrNotFound):
		return nil, errors.New("a photograph of them is not in the data folder")
	case err != nil:
		return nil, err
	}
	if x.Body.Method != compareMethod {
		kept.Note = "The pictures were made by another form of the measurement (" + compareMethod +
			") than the numbers (" + x.Body.Method + "): they may differ a little."
	}
	return kept, nil
}

// compared reads what the cache keeps for papers, or makes it.
func (p Prints) compared(of Pair) (*account.ComparedPictures, error) {
	if kept := p.m.printed(of); kept != nil {
		return kept, nil
	}
	err := p.m.beginPrint(p.c, of).Wait(p.ctx)
	if p.ctx.Err() != nil {
		return nil, errInterrupted
	}
	if kept := p.m.printed(of); kept != nil {
		return kept, nil
	}
	if l := p.m.live.kept(of); l.aligned() {
		// It was made and could not be kept, on a full disk say.
		return printOf(l.c, l.before, l.c.Warped())
	}
	if err == nil {
		return nil, errors.New("the program does not find one to lie on the other any more")
	}
	return nil, err
}
