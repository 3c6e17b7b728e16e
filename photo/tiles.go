package photo

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"runtime"
	"sync"
	"sync/atomic"

	"benchleaf/colour"
)

// TileSize is the side of a deep-zoom tile in pixels.
const TileSize = 512

// Pyramid describes the tiles of one picture. Level 0 is one pixel, each level
// doubles, and the highest level, Levels-1, is the picture itself, pixel for
// pixel: the numbering of deep-zoom viewers.
type Pyramid struct {
	W, H   int
	Tile   int
	Levels int
}

// PyramidOf returns the pyramid of a w by h picture.
func PyramidOf(w, h int) Pyramid {
	p := Pyramid{W: w, H: h, Tile: TileSize, Levels: 1}
	for side := max(w, h); side > 1; side = (side + 1) / 2 {
		p.Levels++
	}
	return p
}

// LevelSize returns the size of a level in pixels.
func (p Pyramid) LevelSize(level int) (w, h int) {
	shift := uint(p.Levels - 1 - level)
	up := 1<<shift - 1
	return (p.W + up) >> shift, (p.H + up) >> shift
}

// A TilePut receives one finished tile. It is called from several goroutines.
type TilePut func(level, column, row int, jpeg []byte) error

// Tiles cuts the picture into a pyramid of JPEG tiles and hands each to put.
// Levels below the top are made by averaging two by two pixels of the level
// above. Tiles of a picture that is not sRGB carry its profile, so that the
// values stay untouched. Levels smaller than one tile are made down to a quarter
// of it, which is as far as viewers ask. The first error, or the end of ctx,
// stops the work.
func (m *Image) Tiles(ctx context.Context, put TilePut) (Pyramid, error) {
	p := PyramidOf(m.W, m.H)
	var icc []byte
	if !m.Profile.IsSRGB() {
		if icc = m.ICC; icc == nil {
			icc = m.Profile.ICC()
		}
	}
	level := m.RGBA()
	for l := p.Levels - 1; l >= 0; l-- {
		if err := tileLevel(ctx, level, l, icc, put); err != nil {
			return p, err
		}
		if max(level.Rect.Dx(), level.Rect.Dy()) <= TileSize/4 {
			break
		}
		level = halve(level)
	}
	return p, nil
}

// tileLevel encodes the tiles of one level, all processors at once.
func tileLevel(ctx context.Context, level *image.RGBA, l int, icc []byte, put TilePut) error {
	columns := (level.Rect.Dx() + TileSize - 1) / TileSize
	rows := (level.Rect.Dy() + TileSize - 1) / TileSize
	var next atomic.Int64
	var wg sync.WaitGroup
	errs := make([]error, min(columns*rows, runtime.GOMAXPROCS(0)))
	for i := range errs {
		wg.Go(func() {
			var b bytes.Buffer
			for {
				n := int(next.Add(1)) - 1
				if n >= columns*rows {
					return
				}
				if errs[i] = ctx.Err(); errs[i] != nil {
					return
				}
				x, y := n%columns, n/columns
				b.Reset()
				tile := level.SubImage(image.Rect(x*TileSize, y*TileSize, (x+1)*TileSize, (y+1)*TileSize))
				if errs[i] = jpeg.Encode(&b, tile, &jpeg.Options{Quality: ScreenQuality}); errs[i] != nil {
					return
				}
				if errs[i] = put(l, x, y, addICC(b.Bytes(), icc)); errs[i] != nil {
					next.Store(int64(columns * rows)) // the others stop too
					return
				}
			}
		})
	}
	wg.Wait()
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("make tiles of level %d: %w", l, err)
	}
	return nil
}

// addICC returns the JPEG with a profile after its first marker (ICC.1:2010
// annex B.4), always as a copy of its own.
func addICC(jpg, icc []byte) []byte {
	const most = 65519 // bytes of profile in one segment
	out := make([]byte, 0, len(jpg)+len(icc)+18*(len(icc)/most+1))
	out = append(out, jpg[:2]...)
	count := (len(icc) + most - 1) / most
	for i := range count {
		part := icc[i*most : min(len(icc), (i+1)*most)]
		n := len(part) + 16
		out = append(out, 0xff, 0xe2, byte(n>>8), byte(n))
		out = append(out, "ICC_PROFILE\x00"...)
		out = append(out, byte(i+1), byte(count))
		out = append(out, part...)
	}
	return append(out, jpg[2:]...)
}

// halve averages two by two pixels; an odd last row or column counts twice.
func halve(m *image.RGBA) *image.RGBA {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	out := image.NewRGBA(image.Rect(0, 0, (w+1)/2, (h+1)/2))
	colour.Parallel(out.Rect.Dy(), 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			a := m.Pix[2*y*m.Stride:][:4*w]
			b := m.Pix[min(h-1, 2*y+1)*m.Stride:][:4*w]
			dst := out.Pix[y*out.Stride:][:out.Stride]
			for x := range w / 2 {
				p, q, d := a[8*x:8*x+8:8*x+8], b[8*x:8*x+8:8*x+8], dst[4*x:4*x+4:4*x+4]
				d[0] = uint8((uint32(p[0]) + uint32(p[4]) + uint32(q[0]) + uint32(q[4]) + 2) / 4)
				d[1] = uint8((uint32(p[1]) + uint32(p[5]) + uint32(q[1]) + uint32(q[5]) + 2) / 4)
				d[2] = uint8((uint32(p[2]) + uint32(p[6]) + uint32(q[2]) + uint32(q[6]) + 2) / 4)
				d[3] = 255
			}
			if w%2 == 1 {
				x := w / 2
				for c := range 3 {
					dst[4*x+c] = uint8((uint32(a[8*x+c]) + uint32(b[8*x+c]) + 1) / 2)
				}
				dst[4*x+3] = 255
			}
		}
	})
	return out
}
