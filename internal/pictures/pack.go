package pictures

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"sync"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// A pack holds all tiles of one picture in one file: two hundred thousand
// photographs would be tens of millions of files otherwise. The tiles stand one
// after the other as they were finished; after them, for each tile of the
// pyramid, level by level and row by row, its offset (8 bytes) and length (4),
// 0 for a level that was not made; then width and height of the picture (4 bytes
// each). Numbers are little-endian.

const (
	packEntry = 12
	packTail  = 8
)

// packIndex is where the entry of a tile stands, or -1 where the picture has
// no such tile.
func packIndex(p photo.Pyramid, level, column, row int) int {
	if level < 0 || level >= p.Levels || column < 0 || row < 0 {
		return -1
	}
	n := 0
	for l := range p.Levels {
		columns, rows := packSize(p, l)
		if l == level {
			if column >= columns || row >= rows {
				return -1
			}
			return n + row*columns + column
		}
		n += columns * rows
	}
	return -1
}

// packSize counts the tiles of a level.
func packSize(p photo.Pyramid, level int) (columns, rows int) {
	w, h := p.LevelSize(level)
	return (w + p.Tile - 1) / p.Tile, (h + p.Tile - 1) / p.Tile
}

func packTiles(p photo.Pyramid) int {
	n := 0
	for l := range p.Levels {
		columns, rows := packSize(p, l)
		n += columns * rows
	}
	return n
}

// writePack makes the tiles of a picture and writes them as a pack.
func writePack(ctx context.Context, w io.Writer, m *photo.Image) error {
	p := photo.PyramidOf(m.W, m.H)
	index := make([]byte, packTiles(p)*packEntry+packTail)
	var mu sync.Mutex
	var offset uint64
	_, err := m.Tiles(ctx, func(level, column, row int, jpeg []byte) error {
		mu.Lock()
		defer mu.Unlock()
		e := index[packIndex(p, level, column, row)*packEntry:]
		binary.LittleEndian.PutUint64(e, offset)
		binary.LittleEndian.PutUint32(e[8:], uint32(len(jpeg)))
		offset += uint64(len(jpeg))
		_, err := w.Write(jpeg)
		return err
	})
	if err != nil {
		return err
	}
	tail := index[len(index)-packTail:]
	binary.LittleEndian.PutUint32(tail, uint32(m.W))
	binary.LittleEndian.PutUint32(tail[4:], uint32(m.H))
	_, err = w.Write(index)
	return err
}

var errPack = errors.New("the tiles of the cache are damaged: delete the folder cache, and they are made again")

// packPyramid reads which picture a pack holds.
func packPyramid(f io.ReaderAt, size int64) (photo.Pyramid, error) {
	var tail [packTail]byte
	if size < packTail {
		return photo.Pyramid{}, errPack
	}
	if _, err := f.ReadAt(tail[:], size-packTail); err != nil {
		return photo.Pyramid{}, err
	}
	w, h := binary.LittleEndian.Uint32(tail[:]), binary.LittleEndian.Uint32(tail[4:])
	if w == 0 || h == 0 || w > 1<<20 || h > 1<<20 {
		return photo.Pyramid{}, errPack
	}
	p := photo.PyramidOf(int(w), int(h))
	if int64(packTiles(p))*packEntry+packTail > size {
		return photo.Pyramid{}, errPack
	}
	return p, nil
}

// packTile finds a tile: where it begins, and how long it is.
func packTile(f io.ReaderAt, size int64, level, column, row int) (offset, length int64, err error) {
	p, err := packPyramid(f, size)
	if err != nil {
		return 0, 0, err
	}
	i := packIndex(p, level, column, row)
	if i < 0 {
		return 0, 0, store.ErrNotFound
	}
	first := size - packTail - int64(packTiles(p))*packEntry
	var e [packEntry]byte
	if _, err := f.ReadAt(e[:], first+int64(i)*packEntry); err != nil {
		return 0, 0, err
	}
	offset, length = int64(binary.LittleEndian.Uint64(e[:])), int64(binary.LittleEndian.Uint32(e[8:]))
	switch {
	case length == 0:
		return 0, 0, store.ErrNotFound
	case offset < 0 || offset+length > first:
		return 0, 0, errPack
	}
	return offset, length, nil
}

// Tile reads a tile of a photograph as it was taken; see photo.Pyramid.
func (m *Maker) Tile(h record.Hash, level, column, row int) ([]byte, error) {
	return m.readTile(h, tilesPack, level, column, row)
}

func (m *Maker) readTile(h record.Hash, pack string, level, column, row int) ([]byte, error) {
	f, err := m.store.OpenDerived(h, pack)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	offset, length, err := packTile(f, info.Size(), level, column, row)
	if err != nil {
		return nil, err
	}
	data := make([]byte, length)
	_, err = f.ReadAt(data, offset)
	return data, err
}

// packOf says what picture a pack of the cache holds; false when there is none.
func (m *Maker) packOf(h record.Hash, pack string) (photo.Pyramid, bool) {
	f, err := m.store.OpenDerived(h, pack)
	if err != nil {
		return photo.Pyramid{}, false
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return photo.Pyramid{}, false
	}
	p, err := packPyramid(f, info.Size())
	return p, err == nil
}

// tilesPack holds the tiles of a photograph as it was taken.
const tilesPack = "tiles-1"

// TilesJob makes the tiles of a photograph as it was taken.
func TilesJob(h record.Hash) Job { return Job("tiles/" + h.String()) }

// HasTiles says whether they are there.
func (m *Maker) HasTiles(h record.Hash) bool {
	_, ok := m.packOf(h, tilesPack)
	return ok
}

// beginTiles makes the tiles of a photograph in the background.
func (m *Maker) beginTiles(h record.Hash) *Work {
	return m.beginLong(TilesJob(h), func(ctx context.Context, x *Work) error {
		if m.HasTiles(h) {
			return nil
		}
		x.tell(0, "making tiles")
		img, _, err := m.decode(ctx, h)
		if err != nil {
			return err
		}
		return m.keepPack(ctx, h, tilesPack, img)
	})
}

func (m *Maker) keepPack(ctx context.Context, h record.Hash, pack string, img *photo.Image) error {
	err := m.store.PutDerived(h, pack, func(w io.Writer) error { return writePack(ctx, w, img) })
	if err != nil {
		return fmt.Errorf("tiles of photograph %s: %w", h.Short(), err)
	}
	return nil
}
