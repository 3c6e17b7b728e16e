package web

import (
	"context"
	"sync"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// busyList keeps the cases in which something is wet, due or waited for: every
// page shows the next of them, and reading them all each time would be most of
// its work. Whatever is written in a case makes it the latest changed of the
// open or of the closed ones, so two rows of the index tell whether the list
// still holds; what an import brings in from the past is seen after busyFor.
type busyList struct {
	mu     sync.Mutex
	latest [2]version
	at     time.Time
	list   []record.Summary
}

type version struct {
	id  record.CaseID
	seq int64
}

const busyFor = 5 * time.Second

// busy is the list; the caller must not change it.
func (s *Server) busy(ctx context.Context) ([]record.Summary, error) {
	latest, err := s.latest(ctx)
	if err != nil {
		return nil, err
	}
	b := &s.busyCases
	b.mu.Lock()
	defer b.mu.Unlock()
	if now := time.Now(); b.latest != latest || now.Sub(b.at) > busyFor {
		list, err := s.store.List(ctx, store.Filter{Busy: true})
		if err != nil {
			return nil, err
		}
		b.latest, b.at, b.list = latest, now, list
	}
	return b.list, nil
}

// latest are the last changes among the open and the closed cases.
func (s *Server) latest(ctx context.Context) (v [2]version, err error) {
	for i, closed := range []bool{false, true} {
		list, err := s.store.List(ctx, store.Filter{Closed: &closed, Limit: 1})
		if err != nil {
			return v, err
		}
		if len(list) > 0 {
			v[i] = version{list[0].ID, list[0].LastSeq}
		}
	}
	return v, nil
}
