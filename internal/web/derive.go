package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"sync"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// Sizes of photographs for the screen, by the longer side in pixels.
var screenSizes = []struct {
	name string
	long int
}{{"small", 320}, {"medium", 1280}, {"large", 2560}}

func screenSize(name string) (long int, ok bool) {
	for _, s := range screenSizes {
		if s.name == name {
			return s.long, true
		}
	}
	return 0, false
}

// deriver makes the screen sizes of photographs, each photograph once, one at
// a time: a decoded photograph may hold hundreds of megabytes.
type deriver struct {
	store *store.Store
	turn  chan struct{}

	mu    sync.Mutex
	under map[record.Hash]*derivation
}

type derivation struct {
	done chan struct{}
	err  error
}

func newDeriver(s *store.Store) *deriver {
	return &deriver{store: s, turn: make(chan struct{}, 1), under: map[record.Hash]*derivation{}}
}

// start makes the sizes in the background, unless that is under way.
func (d *deriver) start(h record.Hash) *derivation {
	d.mu.Lock()
	defer d.mu.Unlock()
	if x := d.under[h]; x != nil {
		return x
	}
	x := &derivation{done: make(chan struct{})}
	d.under[h] = x
	go func() {
		d.turn <- struct{}{}
		x.err = d.make(h)
		<-d.turn
		d.mu.Lock()
		delete(d.under, h)
		d.mu.Unlock()
		close(x.done)
	}()
	return x
}

// open opens a screen size. It is there as a rule; where it is not, since the
// cache was deleted or the photograph has only just come, it is waited for.
func (d *deriver) open(ctx context.Context, h record.Hash, long int) (io.ReadSeekCloser, error) {
	f, err := d.store.OpenDerived(h, sizeName(long))
	if !errors.Is(err, store.ErrNotFound) {
		return f, err
	}
	x := d.start(h)
	select {
	case <-x.done:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if x.err != nil {
		return nil, x.err
	}
	return d.store.OpenDerived(h, sizeName(long))
}

func sizeName(long int) string { return strconv.Itoa(long) + ".jpg" }

func (d *deriver) make(h record.Hash) error {
	f, err := d.store.OpenPhoto(h)
	if err != nil {
		return err
	}
	defer f.Close()
	img, _, err := photo.Decode(f, photo.DefaultLimits)
	if err != nil {
		return fmt.Errorf("photograph %s: %w", h.Short(), err)
	}
	var long []int
	for _, s := range screenSizes {
		long = append(long, s.long)
	}
	sizes, err := img.Sizes(long...)
	if err != nil {
		return fmt.Errorf("photograph %s: %w", h.Short(), err)
	}
	for i, size := range sizes {
		err := d.store.PutDerived(h, sizeName(long[i]), func(w io.Writer) error {
			_, err := w.Write(size.JPEG)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}
