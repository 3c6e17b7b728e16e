package pictures

import (
	"context"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"slices"
	"sync"
	"time"

	"benchleaf/colour"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// Layers beside the maps: the after picture laid on the before picture, and both
// pictures with their colour set.
const (
	LayerAligned = "aligned"
	LayerBefore  = "before"
	LayerAfter   = "after"
)

// LayerTile reads a tile of a layer or map of a pair that was compared.
func (m *Maker) LayerTile(of Pair, layer string, level, column, row int) ([]byte, error) {
	known := layer == LayerAligned || layer == LayerBefore || layer == LayerAfter ||
		slices.Contains(photo.MapKinds(), photo.MapKind(layer))
	if !known {
		return nil, store.ErrNotFound
	}
	return m.readTile(of.Before, of.pack(layer), level, column, row)
}

// LayerSize is the size in pixels of one of the two pictures of a pair, as its
// tiles have it, and whether these are those of the photograph as it was taken.
func (m *Maker) LayerSize(of Pair, layer string) (w, h int, taken bool) {
	if of.Colour != "" {
		p, _ := m.packOf(of.Before, of.pack(layer))
		return p.W, p.H, false
	}
	photograph := of.Before
	if layer == LayerAfter {
		photograph = of.After
	}
	p, _ := m.packOf(photograph, tilesPack)
	return p.W, p.H, true
}

// live keeps the last pair in memory for a while: areas of it are read at once
// then.
type live struct {
	mu    sync.Mutex
	last  *livePair
	timer *time.Timer
}

// livePair is a pair in memory. after and c are nil where there is one picture.
type livePair struct {
	of            Pair
	before, after *photo.Image
	sheet         photo.Sheet
	c             *photo.Comparison
}

// aligned says whether the after picture lies on the before picture.
func (l *livePair) aligned() bool {
	return l != nil && l.c != nil && l.c.Compared && l.c.Alignment.Verdict == photo.Aligned
}

// liveFor is how long a pair stays in memory after it was last read.
const liveFor = 5 * time.Minute

func (k *live) keep(l *livePair) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.last = l
	if k.timer != nil {
		k.timer.Stop()
	}
	k.timer = time.AfterFunc(liveFor, func() {
		k.mu.Lock()
		defer k.mu.Unlock()
		if k.last == l {
			k.last = nil
		}
	})
}

// drop lets go of the pair, where something large needs its room.
func (k *live) drop() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.last = nil
}

func (k *live) kept(of Pair) *livePair {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.last == nil || k.last.of != of {
		return nil
	}
	k.timer.Reset(liveFor)
	return k.last
}

// bring gives a pair in memory; where it is not there it is brought in the
// background and waited for.
func (m *Maker) bring(ctx context.Context, c *record.Case, of Pair) (*livePair, error) {
	if l := m.live.kept(of); l != nil {
		return l, nil
	}
	fix, err := of.corrections(c)
	if err != nil {
		return nil, err
	}
	x := m.beginLong(Job("live/"+of.name()), func(ctx context.Context, x *Work) error {
		_, err := m.load(ctx, x, of, fix)
		return err
	})
	if err := x.Wait(ctx); err != nil {
		return nil, err
	}
	if l := m.live.kept(of); l != nil {
		return l, nil
	}
	return nil, errors.New("another pair of photographs took its place in memory: ask once more")
}

// load gives a pair in memory, decoded and compared, in the turn of long work.
func (m *Maker) load(ctx context.Context, x *Work, of Pair, fix [2]*colour.Correction) (*livePair, error) {
	if l := m.live.kept(of); l != nil {
		return l, nil
	}
	m.live.drop() // another pair is in memory, if one is
	if err := m.fits(of); err != nil {
		return nil, err
	}
	x.tell(0, "reading the photographs")
	l := &livePair{of: of}
	var err error
	var before, after photo.Info
	if l.before, before, err = m.decode(ctx, of.Before); err != nil {
		return nil, err
	}
	if of.After.IsZero() {
		l.sheet = photo.FindSheet(l.before)
		m.live.keep(l)
		return l, nil
	}
	if l.after, after, err = m.decode(ctx, of.After); err != nil {
		return nil, err
	}
	if of.Colour != "" {
		l.before.Correct(fix[0])
		l.after.Correct(fix[1])
	}
	l.before.DropDeep()
	l.after.DropDeep()
	opt := photo.CompareOptions{
		BeforeInfo: &before, AfterInfo: &after, BeforeColour: fix[0], AfterColour: fix[1],
	}
	opt.Align.Progress = func(share float64, doing string) { x.tell(0.1+0.5*share, doing) }
	if l.c, err = photo.Compare(ctx, l.before, l.after, opt); err != nil {
		return nil, err
	}
	l.sheet = l.c.Alignment.Sheet
	m.live.keep(l)
	return l, nil
}

// fits refuses a pair that does not fit into memory together: the first picture is
// held while the second is decoded.
func (m *Maker) fits(of Pair) error {
	if of.After.IsZero() {
		return nil
	}
	_, held, err := m.cost(of.Before)
	if err != nil {
		return err
	}
	decoding, _, err := m.cost(of.After)
	if err != nil {
		return err
	}
	if held+decoding > largeRoom {
		return record.Invalidf("", "The two photographs together need %d MB of memory; at most %d MB are given. Save "+
			"them smaller, as ordinary JPEG.", (held+decoding)>>20, largeRoom>>20)
	}
	return nil
}

// BeginCompare compares a pair in the background, or makes the tiles of one
// photograph alone: numbers, the aligned picture, the maps and all their tiles.
// The numbers are written last: where they are, everything is.
func (m *Maker) BeginCompare(c *record.Case, of Pair) *Work {
	if of.After.IsZero() {
		return m.beginTiles(of.Before)
	}
	fix, err := of.corrections(c)
	return m.beginLong(of.Job(), func(ctx context.Context, x *Work) error {
		if err != nil || m.Numbers(of) != nil {
			return err
		}
		l, err := m.load(ctx, x, of, fix)
		if err != nil {
			return err
		}
		return m.write(ctx, x, l, c)
	})
}

func (m *Maker) write(ctx context.Context, x *Work, l *livePair, c *record.Case) error {
	of := l.of
	x.tell(0.62, "cutting the before picture into tiles")
	if err := m.tilesOf(ctx, of, LayerBefore, of.Before, l.before); err != nil {
		return err
	}
	out := numbersOf(l.c)
	if !out.Laid() {
		x.tell(0.8, "cutting the after picture into tiles")
		if err := m.tilesOf(ctx, of, LayerAfter, of.After, l.after); err != nil {
			return err
		}
		return m.keepJSON(of.Before, of.pack("numbers"), out)
	}
	x.tell(0.7, "laying the after picture on the before picture")
	aligned := l.c.Warped()
	if err := m.keepPack(ctx, of.Before, of.pack(LayerAligned), aligned); err != nil {
		return err
	}
	if err := m.keepPrint(of, l.c, l.before, aligned); err != nil {
		return err
	}
	for i, kind := range photo.MapKinds() {
		x.tell(0.85+0.02*float64(i), "drawing the maps of change")
		drawn := l.c.Map(kind)
		if err := m.keepPack(ctx, of.Before, of.pack(string(kind)), onSurround(drawn.Picture)); err != nil {
			return err
		}
		size := drawn.Picture.Rect.Size()
		out.Maps = append(out.Maps, Map{string(kind), size.X, size.Y, Legend(drawn.Legend)})
	}
	x.tell(0.97, "measuring the areas that were kept")
	var err error
	if out.Areas, err = l.changes(ctx, c); err != nil {
		return err
	}
	return m.keepJSON(of.Before, of.pack("numbers"), out)
}

// tilesOf makes the tiles of one of the two pictures: those of the photograph as
// it was taken serve every pair.
func (m *Maker) tilesOf(ctx context.Context, of Pair, layer string, h record.Hash, img *photo.Image) error {
	switch {
	case of.Colour != "":
		return m.keepPack(ctx, of.Before, of.pack(layer), img)
	case m.HasTiles(h):
		return nil
	}
	return m.keepPack(ctx, h, tilesPack, img)
}

// onSurround lays a map on the grey in which colour is judged: tiles have no
// transparency.
func onSurround(m *image.NRGBA) *photo.Image {
	out := image.NewRGBA(m.Rect)
	draw.Draw(out, out.Rect, image.NewUniform(color.Gray{Y: 0x77}), image.Point{}, draw.Src)
	draw.Draw(out, out.Rect, m, m.Rect.Min, draw.Over)
	return photo.FromImage(out)
}

// Numbers reads what is kept of a comparison; nil when it was not made in the
// present form.
func (m *Maker) Numbers(of Pair) *Numbers {
	var n Numbers
	if !m.keptJSON(of.Before, of.pack("numbers"), &n) || n.Method != compareMethod {
		return nil
	}
	return &n
}
