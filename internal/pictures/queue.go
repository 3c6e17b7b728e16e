package pictures

import (
	"context"
	"errors"
	"sync"

	"benchleaf/internal/store"
)

// Maker makes what is derived from photographs, off the path of requests. A
// decoded photograph may hold hundreds of megabytes, so that pictures wait for room
// (see rooms), and of long work one piece is done at a time. Close it at the end.
type Maker struct {
	store *store.Store
	rooms *rooms
	slow  turn // of long work

	ctx    context.Context // ends with Close
	cancel context.CancelFunc
	wg     sync.WaitGroup

	mu    sync.Mutex
	under map[Job]*Work
	// halted holds why a job came to nothing: pages say so, and do not begin it
	// again by themselves.
	halted map[Job]error

	live  live
	finds finds
}

// New returns a maker for the photographs of a store.
func New(s *store.Store) *Maker {
	m := &Maker{
		store: s, rooms: newRooms(), slow: make(turn, 1), under: map[Job]*Work{}, halted: map[Job]error{},
	}
	m.ctx, m.cancel = context.WithCancel(context.Background())
	return m
}

// Close stops what is being made and waits until nothing is.
func (m *Maker) Close() {
	m.cancel()
	m.wg.Wait()
}

// Hold takes the turn of long work, and what begins meanwhile waits until release
// is called.
func (m *Maker) Hold() (release func()) {
	m.slow <- struct{}{}
	return func() { <-m.slow }
}

// Job names a thing that can be made.
type Job string

// Work is a thing being made.
type Work struct {
	done   chan struct{}
	err    error // once done
	cancel context.CancelFunc

	mu    sync.Mutex
	share float64
	doing string
}

// Wait waits until the thing is made, or came to nothing, or ctx ends.
func (x *Work) Wait(ctx context.Context) error {
	select {
	case <-x.done:
		return x.err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Progress is how far it is, 0 to 1, and what is being done.
func (x *Work) Progress() (share float64, doing string) {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.share, x.doing
}

func (x *Work) tell(share float64, doing string) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.share, x.doing = share, doing
}

// ErrStopped is why a job came to nothing when a person stopped it.
var ErrStopped = errors.New("it was stopped")

// beginLong does long work in the background, in its turn and in the large room,
// unless it is under way.
func (m *Maker) beginLong(job Job, work func(ctx context.Context, x *Work) error) *Work {
	return m.begin(job, func(ctx context.Context, x *Work) error {
		return m.slow.do(ctx, func() error {
			return m.longWork(ctx, func() error { return work(ctx, x) })
		})
	})
}

// begin makes a thing in the background, unless that is under way.
func (m *Maker) begin(job Job, work func(ctx context.Context, x *Work) error) *Work {
	m.mu.Lock()
	defer m.mu.Unlock()
	if x := m.under[job]; x != nil {
		return x
	}
	ctx, cancel := context.WithCancel(m.ctx)
	x := &Work{done: make(chan struct{}), cancel: cancel, doing: "waiting for its turn"}
	m.under[job] = x
	delete(m.halted, job)
	m.wg.Go(func() {
		defer cancel()
		x.err = guarded(func() error { return work(ctx, x) })
		m.mu.Lock()
		delete(m.under, job)
		if x.err != nil && m.ctx.Err() == nil {
			if ctx.Err() != nil {
				x.err = ErrStopped
			}
			m.halted[job] = x.err
		}
		m.mu.Unlock()
		close(x.done)
	})
	return x
}

// State says how a job stands: under way, or why it came to nothing; neither when
// it was made, or never begun.
func (m *Maker) State(job Job) (under *Work, halted error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.under[job], m.halted[job]
}

// Stop ends a job that is under way.
func (m *Maker) Stop(job Job) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if x := m.under[job]; x != nil {
		x.cancel()
	}
}

// turn lets one piece of work go on at a time.
type turn chan struct{}

// do works when its turn comes.
func (t turn) do(ctx context.Context, work func() error) error {
	select {
	case t <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-t }()
	return work()
}
