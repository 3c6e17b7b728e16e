package pictures

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// The longer sides of what is made of a photograph, in pixels: three for the
// screen, by name, and one for print, where it fills a column of 80 mm at 318 to
// the inch.
var longSides = []int{320, 1280, 2560, printLong}

var screenSizes = map[string]int{"small": 320, "medium": 1280, "large": 2560}

const printLong = 1000

func sizeName(long int) string { return strconv.Itoa(long) + ".jpg" }

// MaxBytes is the largest photograph that is taken.
var MaxBytes = limits.MaxBytes

// lookTime is how long one photograph may take to be read when it comes, its wait
// for room among it. A large one takes seconds; a small file can be made to take a
// minute.
const lookTime = 2 * time.Minute

// Upload is a photograph that was stored, and is named by no entry yet. Keep it
// once one does.
type Upload struct {
	// Photo has all that the file tells: not what the photograph shows.
	Photo record.Photo
	sizes []photo.Size
}

// Receive stores a photograph and decodes it whole, once, since a header alone
// does not show that a file is cut off. One that is no good is dropped: then the
// error is a refusal. now is the present moment in the zone of the bench, in which
// a camera's clock is read that names none.
func (m *Maker) Receive(ctx context.Context, r io.Reader, now time.Time) (*Upload, error) {
	p, err := m.store.PutPhoto(ctx, r, MaxBytes)
	if err != nil {
		return nil, err
	}
	u := &Upload{Photo: record.Photo{Hash: p.Hash, Bytes: p.Bytes}}
	err = u.look(ctx, m, now)
	if err == nil {
		return u, nil
	}
	if err := m.store.DropPhoto(ctx, p); err != nil {
		return nil, err
	}
	if _, refused := record.Refusals(err); !refused && ctx.Err() == nil {
		err = record.Invalidf("", "It cannot be read as a picture.")
	}
	return nil, err
}

func (u *Upload) look(ctx context.Context, m *Maker, now time.Time) error {
	look, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	err := m.see(look, u.Photo.Hash, func(img *photo.Image, info *photo.Info) (err error) {
		u.fill(info, now)
		u.sizes, err = img.Sizes(longSides...)
		return err
	})
	if ctx.Err() == nil && errors.Is(err, context.DeadlineExceeded) {
		return record.Invalidf("", "It takes longer than two minutes to be read, its wait for others among it: send it "+
			"again, or save it as an ordinary JPEG.")
	}
	return err
}

// fill takes what the header tells.
func (u *Upload) fill(info *photo.Info, now time.Time) {
	u.Photo.Format, u.Photo.WidthPx, u.Photo.HeightPx = strings.ToLower(info.Format), info.Width, info.Height
	if t := info.Taken; info.TakenKnown && t.Year() > 1990 && t.Before(now.Add(48*time.Hour)) {
		if !info.TakenZoneKnown {
			t = time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, now.Location())
		}
		u.Photo.Taken = t
	}
}

// Keep keeps the sizes of a photograph that an entry names now.
func (m *Maker) Keep(u *Upload) error { return m.keepSizes(u.Photo.Hash, u.sizes) }

func (m *Maker) keepSizes(h record.Hash, sizes []photo.Size) error {
	for i, size := range sizes {
		if err := m.keep(h, sizeName(longSides[i]), size.JPEG); err != nil {
			return err
		}
	}
	return nil
}

// Open opens a size for the screen: "small", "medium" or "large", a JPEG. It is
// there as a rule; where the cache was deleted it is made, and waited for.
func (m *Maker) Open(ctx context.Context, h record.Hash, size string) (io.ReadSeekCloser, error) {
	long, ok := screenSizes[size]
	if !ok {
		return nil, store.ErrNotFound
	}
	return m.open(ctx, h, long)
}

func (m *Maker) open(ctx context.Context, h record.Hash, long int) (io.ReadSeekCloser, error) {
	f, err := m.store.OpenDerived(h, sizeName(long))
	if !errors.Is(err, store.ErrNotFound) {
		return f, err
	}
	x := m.begin(Job("sizes/"+h.String()), func(ctx context.Context, x *Work) error {
		sizes, err := m.sizes(ctx, h)
		if err != nil {
			return err
		}
		return m.keepSizes(h, sizes)
	})
	if err := x.Wait(ctx); err != nil {
		return nil, err
	}
	return m.store.OpenDerived(h, sizeName(long))
}

func (m *Maker) sizes(ctx context.Context, h record.Hash) (sizes []photo.Size, err error) {
	err = m.see(ctx, h, func(img *photo.Image, _ *photo.Info) (err error) {
		if sizes, err = img.Sizes(longSides...); err != nil {
			return fmt.Errorf("photograph %s: %w", h.Short(), err)
		}
		return nil
	})
	return sizes, err
}
