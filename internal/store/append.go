package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"runtime/debug"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"benchleaf/internal/record"
)

// request is one call of Append, waiting for the writer.
type request struct {
	ctx    context.Context
	drafts []record.Draft
	done   chan answer
}

type answer struct {
	entries []record.Entry
	err     error
}

// Append writes the drafts to their journals, all of them or none, and returns
// the new entries once they are safe on disk. A draft whose writer had not
// seen the latest entries is appended all the same when all its bodies commute
// and correct nothing; otherwise the error is a *Clash. A body or draft that
// breaks a rule gives Invalid errors. Drafts whose key has written them already
// give the entries of then; one that has written others gives *Reused. A context that ends before the writer's
// turn comes ends the call; after that, the answer is waited for.
func (s *Store) Append(ctx context.Context, drafts ...record.Draft) ([]record.Entry, error) {
	if s.lock == nil {
		return nil, ErrClosed
	}
	r := request{ctx, drafts, make(chan answer, 1)}
	select {
	case s.requests <- r:
	case <-s.closing:
		return nil, ErrClosed
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	a := <-r.done
	return a.entries, a.err
}

// serve is the one writer. Appends that wait at the same time are committed
// together, since waiting for the disk is what a commit costs; each keeps its
// own savepoint, so that one that is refused takes nothing from the others.
func (s *Store) serve() {
	defer close(s.stopped)
	for {
		select {
		case r := <-s.requests:
			batch := s.waiting(r)
			for i, a := range s.commitAll(batch) {
				batch[i].done <- a
			}
		case <-s.closing:
			return
		}
	}
}

// waiting is r with the requests that wait beside it.
func (s *Store) waiting(r request) []request {
	const most = 64
	batch := []request{r}
	for len(batch) < most {
		select {
		case r := <-s.requests:
			batch = append(batch, r)
		default:
			return batch
		}
	}
	return batch
}

// commitAll writes a batch in one transaction. When the database itself fails,
// the whole batch does: SQLite may have rolled back everything by then.
func (s *Store) commitAll(batch []request) []answer {
	answers := make([]answer, len(batch))
	tx, err := s.write.Begin()
	if err != nil {
		return failed(answers, err)
	}
	defer tx.Rollback()
	w := &writer{s: s, tx: tx, cases: map[record.CaseID]*record.Case{}}
	for i := range batch {
		answers[i] = w.accept(batch[i])
		if w.broken != nil {
			return failed(answers, w.broken)
		}
	}
	if err := s.commit(tx, w.heads()); err != nil {
		// Whether it reached the disk is not known: read what is there.
		s.cache.clear()
		return failed(answers, err)
	}
	for _, c := range w.cases {
		s.cache.offer(c)
	}
	if w.studio != nil {
		s.cache.offerStudio(w.studio)
	}
	return answers
}

// heads are the ends of the journals that this transaction wrote in.
func (w *writer) heads() map[record.CaseID]head {
	heads := map[record.CaseID]head{}
	for id, c := range w.cases {
		heads[id] = head{c.LastSeq, c.LastHash}
	}
	if w.studio != nil {
		heads[record.StudioID] = head{w.studio.LastSeq, w.studio.LastHash}
	}
	return heads
}

// failed gives every request of a batch the error: a refusal too may have
// rested on entries that are not there now.
func failed(answers []answer, err error) []answer {
	for i := range answers {
		answers[i] = answer{err: fmt.Errorf("save the entries: %w", plain(err))}
	}
	return answers
}

// writer is one transaction, with the journals as they stand in it.
type writer struct {
	s      *Store
	tx     *sql.Tx
	cases  map[record.CaseID]*record.Case
	studio *record.Studio
	// broken is an error after which the transaction is not to be committed.
	broken error
}

// accept writes one request behind a savepoint, and takes it back when it is
// refused.
func (w *writer) accept(r request) answer {
	if err := r.ctx.Err(); err != nil {
		return answer{err: err}
	}
	// A rule that panics must not take the bench down with it.
	defer func() {
		if p := recover(); p != nil {
			w.broken = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
		}
	}()
	if before, err := w.repeat(r.drafts); before != nil || err != nil {
		if err != nil && !refused(err) {
			w.broken = err
		}
		return answer{before, err}
	}
	cases, studio := maps.Clone(w.cases), w.studio
	if w.exec("SAVEPOINT one"); w.broken != nil {
		return answer{}
	}
	now := w.s.Now().UTC().Truncate(time.Millisecond)
	var all []record.Entry
	for _, d := range r.drafts {
		entries, err := w.draft(d, now)
		if err != nil {
			if !refused(err) {
				w.broken = err
				return answer{}
			}
			w.cases, w.studio = cases, studio
			w.exec("ROLLBACK TO one")
			w.exec("RELEASE one")
			return answer{err: err}
		}
		all = append(all, entries...)
	}
	w.exec("RELEASE one")
	return answer{entries: all}
}

func (w *writer) exec(statement string) {
	if _, err := w.tx.Exec(statement); err != nil && w.broken == nil {
		w.broken = err
	}
}

// refused says whether an error is an answer to the writer, and not a failure
// of the database.
func refused(err error) bool {
	_, ok := record.Refusals(err)
	return ok || errors.As(err, new(*Clash)) || errors.As(err, new(*Reused))
}

// repeat is what the drafts' key has written before, nil when it has nothing.
func (w *writer) repeat(drafts []record.Draft) ([]record.Entry, error) {
	if len(drafts) == 0 || drafts[0].Key == "" {
		return nil, nil
	}
	key := drafts[0].Key
	if !record.IsID(key) || slices.ContainsFunc(drafts, func(d record.Draft) bool { return d.Key != key }) {
		return nil, record.Invalidf("", "The key of this form is none: load its page again.")
	}
	before, err := keyed(context.Background(), w.tx, key)
	if err != nil || len(before) == 0 {
		return nil, err
	}
	rest := map[record.CaseID][]record.Entry{}
	for _, e := range before {
		rest[e.Case] = append(rest[e.Case], e)
	}
	var all []record.Entry
	for _, d := range drafts {
		here, n := rest[d.Case], len(d.Items)
		if len(here) < n || !slices.EqualFunc(here[:n], d.Items, func(e record.Entry, it record.Item) bool {
			return e.By == strings.TrimSpace(d.By) && isOf(&e, it)
		}) {
			return nil, &Reused{Entry: before[0]}
		}
		all, rest[d.Case] = append(all, here[:n]...), here[n:]
	}
	if len(all) < len(before) {
		return nil, &Reused{Entry: before[0]}
	}
	return all, nil
}

// isOf says whether an entry is what an item becomes.
func isOf(e *record.Entry, it record.Item) bool {
	kind, version, body, err := record.Encode(it.Body)
	return err == nil && e.Kind == kind && e.Version == version && e.Corrects == it.Corrects &&
		bytes.Equal(e.Body, body)
}

// Written says whether a form with this key has written entries.
func (s *Store) Written(ctx context.Context, key string) (bool, error) {
	entries, err := s.Keyed(ctx, key)
	return len(entries) > 0, err
}

// Keyed is every entry that the form with this key wrote, in all journals.
func (s *Store) Keyed(ctx context.Context, key string) ([]record.Entry, error) {
	return keyed(ctx, s.read, key)
}

// draft admits, seals and inserts one draft, with one fold. It takes no context:
// a statement that is interrupted takes the whole batch with it.
func (w *writer) draft(d record.Draft, now time.Time) ([]record.Entry, error) {
	if d.Case == record.StudioID {
		st, err := w.studioNow()
		if err != nil {
			return nil, err
		}
		by, err := follows(&st.Journal, d, now)
		if err != nil {
			return nil, err
		}
		next, entries, err := st.Append(by, d.Items)
		if err != nil {
			return nil, err
		}
		w.studio = next
		return entries, w.insert(d, entries)
	}
	c, err := w.caseNow(d.Case)
	if err != nil {
		return nil, err
	}
	by, err := follows(&c.Journal, d, now)
	if err != nil {
		return nil, err
	}
	next, entries, err := c.Append(by, d.Items)
	if err != nil {
		return nil, err
	}
	if err := w.insert(d, entries); err != nil {
		return nil, err
	}
	w.cases[d.Case] = next
	return entries, index(w.tx, next)
}

// insert writes entries, whose photographs must be in the folder.
func (w *writer) insert(d record.Draft, entries []record.Entry) error {
	for i := range entries {
		for _, h := range record.PhotosNamed(d.Items[i].Body) {
			if !w.s.claimPhoto(h) {
				return record.Invalidf(
					"photo", "The photograph %s is not in the data folder: send it again.", h.Short(),
				)
			}
		}
		if err := insert(w.tx, &entries[i]); err != nil {
			return err
		}
	}
	return nil
}

// follows says who writes a draft, and whether it may come after what the
// journal now holds.
func follows(j *record.Journal, d record.Draft, now time.Time) (record.Writing, error) {
	by := record.Writing{Time: now, By: strings.TrimSpace(d.By), Zone: zoneAt(d.Zone, now), Key: d.Key}
	switch {
	case j.Broken != nil:
		return by, j.Broken.Refusal()
	case len(d.Items) == 0:
		return by, record.Invalidf("", "There is nothing to write.")
	case d.Expect > j.LastSeq || d.Expect < 0:
		return by, record.Invalidf("", "This page knows entry %d of the journal, which has only %d: load it again.",
			d.Expect, j.LastSeq)
	case d.Expect < j.LastSeq && !commute(d.Items):
		clash := &Clash{Case: d.Case, Expected: d.Expect, Last: j.LastSeq}
		for _, l := range j.Log[d.Expect:] {
			clash.Since = append(clash.Since, *l.Entry)
		}
		return by, clash
	}
	return by, checkWriter(by.By, by.Zone)
}

// commute says whether items mean the same after entries that their writer had
// not seen.
func commute(items []record.Item) bool {
	for _, it := range items {
		if it.Corrects != 0 || !record.Commutes(it.Body.Kind()) {
			return false
		}
	}
	return true
}

// zoneAt gives the name that Go has for the machine's own zone a meaning
// elsewhere: the offset that it has now.
func zoneAt(zone string, now time.Time) string {
	if zone == time.Local.String() {
		return now.In(time.Local).Format("-07:00")
	}
	return zone
}

const (
	maxInitials = 40
	maxZone     = 64
)

// checkWriter checks what an entry says of its writer.
func checkWriter(by, zone string) error {
	switch {
	case by == "":
		return record.Invalidf("by", "Who writes is missing: enter your initials.")
	case utf8.RuneCountInString(by) > maxInitials || strings.ContainsFunc(by, func(r rune) bool {
		return !unicode.IsPrint(r) || r == utf8.RuneError
	}):
		return record.Invalidf("by", "Initials are a few letters, as in KM; at most %d fit.", maxInitials)
	case len(zone) > maxZone || strings.ContainsFunc(zone, notInZone):
		return record.Invalidf(
			"zone", "The time zone is none: a name such as Europe/Berlin or an offset such as +01:00 is expected.",
		)
	}
	return nil
}

// notInZone says whether r is in no name of a zone and in no offset.
func notInZone(r rune) bool {
	letter := 'A' <= r && r <= 'Z' || 'a' <= r && r <= 'z' || '0' <= r && r <= '9'
	return !letter && !strings.ContainsRune("_/+-:", r)
}

func (w *writer) caseNow(id record.CaseID) (*record.Case, error) {
	if c := w.cases[id]; c != nil {
		return c, nil
	}
	if !record.IsID(string(id)) {
		return nil, record.Invalidf("case", "%q is not a case identifier.", string(id))
	}
	last, err := lastSeq(w.tx, id)
	if err != nil {
		return nil, err
	}
	if c := w.s.cache.get(id); c != nil && c.LastSeq == last {
		return c, nil
	}
	entries, err := journal(context.Background(), w.tx, id)
	return w.s.fold(id, entries), err
}

func (w *writer) studioNow() (*record.Studio, error) {
	if w.studio != nil {
		return w.studio, nil
	}
	last, err := lastSeq(w.tx, record.StudioID)
	if err != nil {
		return nil, err
	}
	if st := w.s.cache.studioNow(); st != nil && st.LastSeq == last {
		return st, nil
	}
	entries, err := journal(context.Background(), w.tx, record.StudioID)
	return w.s.foldStudio(entries), err
}

// lastSeq is the seq of a journal's last entry, 0 when there is none.
func lastSeq(tx *sql.Tx, id record.CaseID) (seq int64, err error) {
	err = tx.QueryRow("SELECT coalesce(max(seq), 0) FROM entries WHERE case_id = ?", string(id)).Scan(&seq)
	if err != nil {
		return 0, fmt.Errorf("read the end of the journal of case %s: %w", id, err)
	}
	return seq, nil
}
