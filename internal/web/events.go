package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// news wakes who waits for something to be written.
type news struct {
	mu   sync.Mutex
	next chan struct{}
}

// wait gives a channel that is closed when something is written.
func (n *news) wait() <-chan struct{} {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.next == nil {
		n.next = make(chan struct{})
	}
	return n.next
}

// tell wakes all that wait.
func (n *news) tell() {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.next != nil {
		close(n.next)
		n.next = nil
	}
}

// A channel on which nothing happens is written to now and then, so that both ends know
// that the other is there; what was written past this server is looked for more often.
const (
	newsEvery = 15 * time.Second
	lookEvery = time.Second
)

// told is what a page is told of what others wrote: how much, by whom, and the last of
// it in words.
type told struct {
	Entries int64    `json:"entries"`
	By      []string `json:"by"`
	Said    string   `json:"said"`
}

// caseEvents keeps a page told of what is written in its case, as it is written, by
// the events of the HTML standard (server-sent events, section 9.2).
func (s *Server) caseEvents(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	seq, err := strconv.ParseInt(r.PathValue("seq"), 10, 64)
	if err != nil || seq < 0 || seq > c.LastSeq {
		return store.ErrNotFound
	}
	flow := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	// Its reader is there as long as it likes; every line extends the time to write.
	if err := flow.SetReadDeadline(time.Time{}); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return nil
	}
	beat := time.NewTicker(lookEvery)
	defer beat.Stop()
	sent, last := int64(-1), time.Time{}
	for {
		wake := s.news.wait() // before the case is read: what is written between wakes it
		if c, err = s.store.Case(r.Context(), c.ID); err != nil {
			return nil
		}
		line := ""
		switch {
		case c.LastSeq != sent:
			raw, err := json.Marshal(s.toldSince(c, seq))
			if err != nil {
				return err
			}
			line, sent = "data: "+string(raw)+"\n\n", c.LastSeq
		case time.Since(last) > newsEvery:
			line = ": nothing new\n\n"
		}
		if line != "" && !writeEvent(w, flow, line) {
			return nil
		}
		if line != "" {
			last = time.Now()
		}
		select {
		case <-wake:
		case <-beat.C:
		case <-s.ending:
			return nil
		case <-r.Context().Done():
			return nil
		}
	}
}

// toldSince tells what was written in a case since an entry.
func (s *Server) toldSince(c *record.Case, seq int64) told {
	t := told{Entries: c.LastSeq - seq, By: []string{}}
	for i := range c.Log[seq:] {
		l := &c.Log[seq+int64(i)]
		if !slices.Contains(t.By, l.By) {
			t.By = append(t.By, l.By)
		}
		if !l.Counts() {
			continue
		}
		if _, taken := l.Decoded.(record.RunExpected); !taken {
			t.Said = account.Tell(c, l, s.words()).Said
		}
	}
	return t
}

// writeEvent sends a line at once; false where its reader has gone.
func writeEvent(w http.ResponseWriter, flow *http.ResponseController, line string) bool {
	err := flow.SetWriteDeadline(time.Now().Add(2 * newsEvery))
	if err != nil && !errors.Is(err, http.ErrNotSupported) {
		return false
	}
	_, err = fmt.Fprint(w, line)
	return err == nil && flow.Flush() == nil
}
