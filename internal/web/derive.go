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

// deriver makes what pages show of photographs, off the path of requests, each
// thing once: screen sizes, tiles for deep zoom, comparisons, proposed stains.
// A decoded photograph may hold hundreds of megabytes, so that one derivation
// runs at a time, and one of screen sizes beside it, for which a page waits.
type deriver struct {
	store *store.Store
	quick chan struct{} // the turn for screen sizes, and for looking at what came
	slow  chan struct{} // the turn for all else

	ctx    context.Context // ends with the server
	cancel context.CancelFunc
	wg     sync.WaitGroup

	mu    sync.Mutex
	under map[string]*derivation
	// halted holds why a derivation came to nothing: pages say so, and do not
	// begin it again by themselves.
	halted map[string]error
}

// derivation is one thing being made.
type derivation struct {
	done   chan struct{}
	err    error // once done
	cancel context.CancelFunc

	mu    sync.Mutex
	share float64
	doing string
}

// tell notes how far it is: a share of 0 to 1, and what is being done.
func (x *derivation) tell(share float64, doing string) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.share, x.doing = share, doing
}

func (x *derivation) told() (share float64, doing string) {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.share, x.doing
}

func newDeriver(s *store.Store) *deriver {
	d := &deriver{
		store:  s,
		quick:  make(chan struct{}, 1),
		slow:   make(chan struct{}, 1),
		under:  map[string]*derivation{},
		halted: map[string]error{},
	}
	d.ctx, d.cancel = context.WithCancel(context.Background())
	return d
}

// close stops what is being made and waits until nothing is.
func (d *deriver) close() {
	d.cancel()
	d.wg.Wait()
}

// errStopped is why a derivation came to nothing when a person stopped it.
var errStopped = errors.New("it was stopped")

// begin makes a thing in the background, unless that is under way.
func (d *deriver) begin(
	key string,
	turn chan struct{},
	work func(ctx context.Context, x *derivation) error,
) *derivation {
	d.mu.Lock()
	defer d.mu.Unlock()
	if x := d.under[key]; x != nil {
		return x
	}
	ctx, cancel := context.WithCancel(d.ctx)
	x := &derivation{done: make(chan struct{}), cancel: cancel, doing: "waiting for its turn"}
	d.under[key] = x
	delete(d.halted, key)
	d.wg.Go(func() {
		defer cancel()
		x.err = inTurn(ctx, turn, func() error { return work(ctx, x) })
		d.mu.Lock()
		delete(d.under, key)
		if x.err != nil && d.ctx.Err() == nil {
			if ctx.Err() != nil {
				x.err = errStopped
			}
			d.halted[key] = x.err
		}
		d.mu.Unlock()
		close(x.done)
	})
	return x
}

// inTurn works when its turn comes, and turns a panic over a strange picture
// into an error: it must not end the program.
func inTurn(ctx context.Context, turn chan struct{}, work func() error) (err error) {
	select {
	case turn <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-turn }()
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	return work()
}

// stands says how a derivation stands: under way, or come to nothing.
func (d *deriver) stands(key string) (under *derivation, halted error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.under[key], d.halted[key]
}

// stop ends what is under way.
func (d *deriver) stop(key string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if x := d.under[key]; x != nil {
		x.cancel()
	}
}

// start makes the screen sizes of a photograph in the background.
func (d *deriver) start(h record.Hash) *derivation {
	return d.begin("sizes/"+h.String(), d.quick, func(context.Context, *derivation) error { return d.makeSizes(h) })
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

func (d *deriver) makeSizes(h record.Hash) error {
	long, sizes, err := d.sizes(h)
	if err != nil {
		return err
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

// sizes makes a photograph's sizes for the screen and, last, for print.
func (d *deriver) sizes(h record.Hash) (long []int, sizes []photo.Size, err error) {
	img, err := d.decode(h)
	if err != nil {
		return nil, nil, err
	}
	for _, s := range screenSizes {
		long = append(long, s.long)
	}
	long = append(long, printLong)
	if sizes, err = img.Sizes(long...); err != nil {
		return nil, nil, fmt.Errorf("photograph %s: %w", h.Short(), err)
	}
	return long, sizes, nil
}

// decode reads a stored photograph.
func (d *deriver) decode(h record.Hash) (*photo.Image, error) {
	img, _, err := d.decodeInfo(h)
	return img, err
}

// decodeInfo reads a stored photograph and what its header says.
func (d *deriver) decodeInfo(h record.Hash) (*photo.Image, *photo.Info, error) {
	f, err := d.store.OpenPhoto(h)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	img, info, err := photo.Decode(f, photo.DefaultLimits)
	if err != nil {
		return nil, nil, fmt.Errorf("photograph %s: %w", h.Short(), err)
	}
	return img, &info, nil
}
