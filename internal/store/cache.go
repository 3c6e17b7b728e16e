package store

import (
	"slices"
	"sync"

	"benchleaf/internal/record"
)

// cache holds folded cases and the studio. One process owns the folder and a
// journal only grows, so of two folds of one journal the longer is the newer,
// and the cache keeps that one.
type cache struct {
	mu     sync.Mutex
	cases  map[record.CaseID]*record.Case
	order  []record.CaseID // oldest use first
	studio *record.Studio
}

// cacheSize is more cases than a bench has open at once.
const cacheSize = 256

func (c *cache) get(id record.CaseID) *record.Case {
	c.mu.Lock()
	defer c.mu.Unlock()
	x := c.cases[id]
	if x != nil {
		c.used(id)
	}
	return x
}

func (c *cache) offer(x *record.Case) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if old := c.cases[x.ID]; old != nil && old.LastSeq >= x.LastSeq {
		return
	}
	if c.cases == nil {
		c.cases = map[record.CaseID]*record.Case{}
	}
	c.cases[x.ID] = x
	c.used(x.ID)
	if len(c.order) > cacheSize {
		delete(c.cases, c.order[0])
		c.order = slices.Delete(c.order, 0, 1)
	}
}

func (c *cache) used(id record.CaseID) {
	if i := slices.Index(c.order, id); i >= 0 {
		c.order = slices.Delete(c.order, i, i+1)
	}
	c.order = append(c.order, id)
}

func (c *cache) studioNow() *record.Studio {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.studio
}

func (c *cache) offerStudio(st *record.Studio) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.studio == nil || c.studio.LastSeq < st.LastSeq {
		c.studio = st
	}
}

func (c *cache) clear() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.cases, c.order, c.studio = nil, nil, nil
}
