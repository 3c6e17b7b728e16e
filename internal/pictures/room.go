package pictures

import (
	"context"
	"fmt"
	"runtime/debug"
	"sync/atomic"

	"benchleaf/internal/record"
	"benchleaf/photo"

	"golang.org/x/sync/semaphore"
)

// Pictures are decoded in rooms of memory, by what their headers say that it costs:
// ordinary ones beside each other in one room, and in another one large picture, or
// one piece of long work, at a time. So whatever comes, the program keeps within the
// gibibyte that it promises, and a large picture holds up large ones alone.
const (
	smallRoom = 280 << 20
	largeRoom = 600 << 20
	// leastRoom is what the smallest picture counts as, so that not too many share
	// the processor.
	leastRoom = 64 << 20
)

// MemoryLimit is what the collector of garbage is to keep the program within, in
// bytes (debug.SetMemoryLimit): both rooms, and what the program needs besides. What
// it does not count, such as the database's own memory, fits below the gibibyte.
const MemoryLimit = 940 << 20

// limits refuse a picture that fits in no room.
var limits = photo.Limits{
	MaxBytes: photo.DefaultLimits.MaxBytes, MaxPixels: photo.DefaultLimits.MaxPixels, MaxMemory: largeRoom,
}

// rooms are the two.
type rooms struct {
	small, large *semaphore.Weighted
	// held are the bytes for which there is room now, for tests.
	held atomic.Int64
}

func newRooms() *rooms {
	return &rooms{small: semaphore.NewWeighted(smallRoom), large: semaphore.NewWeighted(largeRoom)}
}

// take waits for room for so many bytes. What was large is given back to the system
// at once.
func (r *rooms) take(ctx context.Context, bytes int64) (release func(), err error) {
	room, n := r.small, max(bytes, leastRoom)
	if bytes > smallRoom {
		room, n = r.large, largeRoom
	}
	if err := room.Acquire(ctx, n); err != nil {
		return nil, err
	}
	r.held.Add(n)
	return func() {
		if room == r.large {
			debug.FreeOSMemory()
		}
		r.held.Add(-n)
		room.Release(n)
	}, nil
}

// cost is what decoding a photograph takes, by its header, and what is held of it
// afterwards.
func (m *Maker) cost(h record.Hash) (decoding, held int64, err error) {
	f, err := m.store.OpenPhoto(h)
	if err != nil {
		return 0, 0, err
	}
	defer f.Close()
	info, err := photo.Inspect(f, limits)
	if err != nil {
		return 0, 0, fmt.Errorf("photograph %s: %w", h.Short(), sayable(err))
	}
	return info.DecodeBytes(), 4 * int64(info.Width) * int64(info.Height), nil
}

// see decodes a photograph when there is room and hands it to use. When ctx ends it
// returns: what still decodes then keeps its room until it is done, and is not used.
func (m *Maker) see(ctx context.Context, h record.Hash, use func(*photo.Image, *photo.Info) error) error {
	bytes, _, err := m.cost(h)
	if err != nil {
		return err
	}
	return m.inRoom(ctx, bytes, func(begin func() bool) error {
		img, info, err := m.decode(ctx, h)
		if err != nil {
			return err
		}
		if !begin() {
			return ctx.Err()
		}
		return use(img, &info)
	})
}

// inRoom works when there is room. The work asks begin when what can be left alone
// is over: from then on it is waited for.
func (m *Maker) inRoom(ctx context.Context, bytes int64, work func(begin func() bool) error) error {
	release, err := m.rooms.take(ctx, bytes)
	if err != nil {
		return err
	}
	if bytes > smallRoom {
		m.live.drop()
	}
	var claimed atomic.Bool // by the work, or by who does not wait any more
	done := make(chan error, 1)
	m.wg.Go(func() {
		defer release()
		done <- guarded(func() error { return work(func() bool { return claimed.CompareAndSwap(false, true) }) })
	})
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		if claimed.CompareAndSwap(false, true) {
			return ctx.Err()
		}
		return <-done
	}
}

// longWork takes the large room for work that was given its turn.
func (m *Maker) longWork(ctx context.Context, work func() error) error {
	release, err := m.rooms.take(ctx, largeRoom)
	if err != nil {
		return err
	}
	defer release()
	return guarded(work)
}

// guarded turns a panic over a strange picture into an error: it must not end the
// program.
func guarded(work func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	return work()
}
