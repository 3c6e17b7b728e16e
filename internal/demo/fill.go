// Package demo fills a store with an invented scenario: an adventure monthly
// of 1937 in the middle of its wet evening, a closed case whose papers can be
// read, a case that waits, and practice sheets whose readings are made up. Owner,
// studio, titles, readings and prices are invented; what the science packages can
// compute is computed by them. The photographs are drawn by this package's own code
// and their credits say so.
package demo

import (
	"bytes"
	"context"
	"fmt"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

const zone = "Europe/Berlin"

// Credit stands under every picture of the demonstration.
const Credit = "drawn by the demonstration's own program, not a photograph"

// Fill writes the demonstration into an empty store, so that its wet evening
// is going on at now.
func Fill(ctx context.Context, s *store.Store, now time.Time) error {
	was := s.Now
	defer func() { s.Now = was }()
	f := &filler{ctx: ctx, store: s, clock: now}
	// An entry is written when it is written, not when the thing happened: the
	// clock of the journal never runs back.
	var last time.Time
	s.Now = func() time.Time {
		if f.clock.After(last) {
			last = f.clock
		}
		return last
	}
	for _, part := range []func(time.Time) error{f.studio, f.held, f.reader, f.almanack, f.windlass, f.poured} {
		last = time.Time{}
		if err := part(now); err != nil {
			return fmt.Errorf("the demonstration cannot be written: %w", err)
		}
	}
	return nil
}

// filler appends as a person would: by initials, at a time, body by body.
type filler struct {
	ctx   context.Context
	store *store.Store
	clock time.Time
	by    string
	id    record.CaseID
	seq   int64
	err   error

	shelf shelf
}

// shelf holds what is the studio's and cases draw on.
type shelf struct {
	limeStock, limeBath, hydride, mc record.Bottle
	chart                            record.ChartFile

	draws   []pour
	seq     int64 // of the studio's last entry
	written time.Time
}

// pour is what a run took from a bottle.
type pour struct {
	at   time.Time
	by   string
	body record.BottleDrawn
}

// poured takes from the shelf what the runs took.
func (f *filler) poured(time.Time) error {
	f.id, f.seq = record.StudioID, f.shelf.seq
	for _, d := range f.shelf.draws {
		if f.at(d.at, d.by); f.clock.Before(f.shelf.written) {
			f.clock = f.shelf.written
		}
		f.add(d.body)
	}
	return f.err
}

func (f *filler) open(by string, at time.Time, id record.CaseID) {
	f.by, f.clock, f.id, f.seq = by, at, id, 0
}

// at moves the clock and the pen.
func (f *filler) at(t time.Time, by string) { f.clock, f.by = t, by }

// add appends bodies to the present journal; the first error stays.
func (f *filler) add(bodies ...record.Body) {
	for _, b := range bodies {
		if f.err != nil {
			return
		}
		entries, err := f.store.Append(
			f.ctx,
			record.Draft{Case: f.id, Expect: f.seq, By: f.by, Zone: zone, Items: []record.Item{{Body: b}}},
		)
		if err != nil {
			f.err = fmt.Errorf("%s on %s: %w", b.Kind(), f.clock.Format(time.DateTime), err)
			return
		}
		f.seq = entries[len(entries)-1].Seq
	}
}

func (f *filler) newID() string { return record.NewID(f.clock) }

// photo stores a drawn picture and names it in the case.
func (f *filler) photo(p picture, b record.Photo) (named record.Photo) {
	if f.err != nil {
		return b
	}
	data, size, err := p.jpeg()
	if err != nil {
		f.err = err
		return b
	}
	stored, err := f.store.PutPhoto(f.ctx, bytes.NewReader(data), int64(len(data)))
	if err != nil {
		f.err = err
		return b
	}
	b.Hash, b.Bytes, b.Format, b.WidthPx, b.HeightPx = stored.Hash, stored.Bytes, "jpeg", size.X, size.Y
	b.Taken, b.Credit = f.clock, Credit
	if b.Light == "" {
		b.Light = "normal"
	}
	f.add(b)
	return b
}

func num(v float64) *float64 { return &v }
func count(n int) *int       { return &n }

func sheets(from, to int) []int {
	var list []int
	for n := from; n <= to; n++ {
		list = append(list, n)
	}
	return list
}
