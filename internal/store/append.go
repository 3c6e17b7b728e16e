package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"benchleaf/internal/record"
)

type studioCell = atomic.Pointer[record.Studio]

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
// and correct nothing; otherwise the error is a Clash. A body or draft that
// breaks a rule gives Invalid errors.
func (s *Store) Append(ctx context.Context, drafts ...record.Draft) ([]record.Entry, error) {
	r := request{ctx, drafts, make(chan answer, 1)}
	select {
	case s.requests <- r:
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
	const most = 64
	for r := range s.requests {
		batch := []request{r}
	drain:
		for len(batch) < most {
			select {
			case r, ok := <-s.requests:
				if !ok {
					break drain
				}
				batch = append(batch, r)
			default:
				break drain
			}
		}
		for i, a := range s.commit(batch) {
			batch[i].done <- a
		}
	}
}

// commit writes a batch in one transaction.
func (s *Store) commit(batch []request) []answer {
	answers := make([]answer, len(batch))
	tx, err := s.write.Begin()
	if err != nil {
		return failed(answers, fmt.Errorf("begin to write: %w", plain(err)))
	}
	defer tx.Rollback()
	w := &writer{s: s, tx: tx, cases: map[record.CaseID]*record.Case{}}
	for i, r := range batch {
		answers[i].entries, answers[i].err = w.accept(r)
	}
	if err := tx.Commit(); err != nil {
		return failed(answers, fmt.Errorf("save the entries: %w", plain(err)))
	}
	for _, c := range w.cases {
		s.cache.put(c)
	}
	if w.studio != nil {
		s.cache.studio.Store(w.studio)
	}
	return answers
}

func failed(answers []answer, err error) []answer {
	for i := range answers {
		if answers[i].err == nil {
			answers[i] = answer{err: err}
		}
	}
	return answers
}

// writer is one transaction, with the journals as they stand in it.
type writer struct {
	s      *Store
	tx     *sql.Tx
	cases  map[record.CaseID]*record.Case
	studio *record.Studio
}

func (w *writer) accept(r request) ([]record.Entry, error) {
	if err := r.ctx.Err(); err != nil {
		return nil, err
	}
	cases, studio := make(map[record.CaseID]*record.Case), w.studio
	for id, c := range w.cases {
		cases[id] = c
	}
	if _, err := w.tx.Exec("SAVEPOINT one"); err != nil {
		return nil, plain(err)
	}
	var all []record.Entry
	for _, d := range r.drafts {
		entries, err := w.draft(r.ctx, d)
		if err != nil {
			w.cases, w.studio = cases, studio
			_, back := w.tx.Exec("ROLLBACK TO one")
			return nil, plain(errors.Join(err, back))
		}
		all = append(all, entries...)
	}
	if _, err := w.tx.Exec("RELEASE one"); err != nil {
		w.cases, w.studio = cases, studio
		return nil, plain(err)
	}
	return all, nil
}

// draft admits, seals and inserts one draft.
func (w *writer) draft(ctx context.Context, d record.Draft) ([]record.Entry, error) {
	now := w.s.Now().UTC().Truncate(time.Millisecond)
	if d.Case == record.StudioID {
		st, err := w.studioNow(ctx)
		if err != nil {
			return nil, err
		}
		entries, err := w.write(ctx, &st.Journal, d, now, st.Admit)
		if err == nil {
			w.studio = st.Extend(entries)
		}
		return entries, err
	}
	c, err := w.caseNow(ctx, d.Case)
	if err != nil {
		return nil, err
	}
	entries, err := w.write(ctx, &c.Journal, d, now, c.Admit)
	if err != nil {
		return nil, err
	}
	c = c.Extend(entries)
	w.cases[d.Case] = c
	return entries, index(ctx, w.tx, c)
}

func (w *writer) write(ctx context.Context, j *record.Journal, d record.Draft, now time.Time, admit func(time.Time, []record.Item) error) ([]record.Entry, error) {
	if err := follows(j, d); err != nil {
		return nil, err
	}
	if strings.TrimSpace(d.By) == "" {
		return nil, record.Invalidf("by", "Who writes is missing: enter your initials.")
	}
	if err := admit(now, d.Items); err != nil {
		return nil, err
	}
	prev, seq := j.LastHash, j.LastSeq
	entries := make([]record.Entry, 0, len(d.Items))
	for _, it := range d.Items {
		for _, h := range record.PhotosNamed(it.Body) {
			if !w.s.hasPhoto(h) {
				return nil, record.Invalidf("photo", "The photograph %s is not in the data folder: send it again.", h.Short())
			}
		}
		kind, version, raw, err := record.Encode(it.Body)
		if err != nil {
			return nil, err
		}
		seq++
		e := record.Entry{Case: d.Case, Seq: seq, Time: now, Zone: d.Zone, By: strings.TrimSpace(d.By), Kind: kind, Version: version, Corrects: it.Corrects, Body: raw}
		if err := e.Seal(prev); err != nil {
			return nil, err
		}
		prev = e.Hash
		if err := insert(ctx, w.tx, &e); err != nil {
			return nil, err
		}
		entries = append(entries, e)
	}
	return entries, nil
}

// follows says whether a draft may come after what the journal now holds.
func follows(j *record.Journal, d record.Draft) error {
	switch {
	case d.Expect == j.LastSeq:
		return nil
	case d.Expect > j.LastSeq || d.Expect < 0:
		return record.Invalidf("", "This page knows entry %d of the journal, which has only %d: load it again.", d.Expect, j.LastSeq)
	}
	for _, it := range d.Items {
		if it.Corrects != 0 || !record.Commutes(it.Body.Kind()) {
			clash := &Clash{Case: d.Case, Expected: d.Expect, Last: j.LastSeq}
			for _, l := range j.Log[d.Expect:] {
				clash.Since = append(clash.Since, *l.Entry)
			}
			return clash
		}
	}
	return nil
}

func insert(ctx context.Context, tx *sql.Tx, e *record.Entry) error {
	_, err := tx.ExecContext(ctx, "INSERT INTO entries ("+entryColumns+") VALUES (?,?,?,?,?,?,?,?,?,?,?)",
		string(e.Case), e.Seq, e.Time.Format(timeLayout), e.Zone, e.By, string(e.Kind), e.Version, e.Corrects, []byte(e.Body), e.Prev[:], e.Hash[:])
	if err != nil {
		return fmt.Errorf("write entry %d of case %s: %w", e.Seq, e.Case, err)
	}
	return nil
}

func (w *writer) caseNow(ctx context.Context, id record.CaseID) (*record.Case, error) {
	if c := w.cases[id]; c != nil {
		return c, nil
	}
	if c := w.s.cache.get(id); c != nil {
		return c, nil
	}
	if !record.IsID(string(id)) {
		return nil, record.Invalidf("case", "%q is not a case identifier.", string(id))
	}
	entries, err := journal(ctx, w.tx, id)
	return record.Fold(entries), err
}

func (w *writer) studioNow(ctx context.Context) (*record.Studio, error) {
	if w.studio != nil {
		return w.studio, nil
	}
	if st := w.s.cache.studio.Load(); st != nil {
		return st, nil
	}
	entries, err := journal(ctx, w.tx, record.StudioID)
	return record.FoldStudio(entries), err
}

// index writes the case's row of the index.
func index(ctx context.Context, tx *sql.Tx, c *record.Case) error {
	sum := record.Summarize(c)
	raw, err := json.Marshal(sum)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT OR REPLACE INTO cases (case_id, number, updated, closed, busy, words, summary) VALUES (?,?,?,?,?,?,?)",
		string(sum.ID), sum.Number, sum.Updated.UTC().Format(timeLayout), sum.Closed, len(sum.Wet)+len(sum.Due)+len(sum.Waits) > 0, sum.Words, raw)
	if err != nil {
		return fmt.Errorf("index case %s: %w", c.ID, err)
	}
	return nil
}

// Filter chooses cases for a list, latest change first.
type Filter struct {
	// Text must occur, word by word, in number, title, owner or description.
	Text string
	// Closed: nil for all.
	Closed *bool
	// Busy takes only cases in which something is wet, due or waited for.
	Busy          bool
	Limit, Offset int // Limit 0: all
}

// List gives the summaries of the cases that the filter chooses.
func (s *Store) List(ctx context.Context, f Filter) ([]record.Summary, error) {
	query, args := "SELECT summary FROM cases WHERE 1", []any{}
	if f.Closed != nil {
		query += " AND closed = ?"
		args = append(args, *f.Closed)
	}
	if f.Busy {
		query += " AND busy = 1"
	}
	for _, word := range strings.Fields(strings.ToLower(f.Text)) {
		query += " AND instr(words, ?) > 0"
		args = append(args, word)
	}
	query += " ORDER BY updated DESC LIMIT ? OFFSET ?"
	limit := f.Limit
	if limit == 0 {
		limit = -1
	}
	rows, err := s.read.QueryContext(ctx, query, append(args, limit, f.Offset)...)
	if err != nil {
		return nil, fmt.Errorf("list the cases: %w", err)
	}
	defer rows.Close()
	var list []record.Summary
	for rows.Next() {
		var raw []byte
		var sum record.Summary
		if err := rows.Scan(&raw); err != nil {
			return nil, err
		}
		if err := json.Unmarshal(raw, &sum); err != nil {
			return nil, fmt.Errorf("the index is damaged (%w): make it anew with \"benchleaf verify --reindex\"", err)
		}
		list = append(list, sum)
	}
	return list, rows.Err()
}

// Count says how many cases there are, open and closed.
func (s *Store) Count(ctx context.Context) (open, closed int, err error) {
	err = s.read.QueryRowContext(ctx, "SELECT count(*) FILTER (WHERE NOT closed), count(*) FILTER (WHERE closed) FROM cases").Scan(&open, &closed)
	return open, closed, err
}

// ids lists all journals of cases.
func ids(ctx context.Context, q querier) ([]record.CaseID, error) {
	rows, err := q.QueryContext(ctx, "SELECT DISTINCT case_id FROM entries ORDER BY case_id")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []record.CaseID
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		list = append(list, record.CaseID(id))
	}
	return list, rows.Err()
}

// Reindex makes the index anew from the journals.
func (s *Store) Reindex(ctx context.Context) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	all, err := ids(ctx, tx)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM cases"); err != nil {
		return plain(err)
	}
	for _, id := range all {
		if id == record.StudioID {
			continue
		}
		entries, err := journal(ctx, tx, id)
		if err != nil {
			return err
		}
		if err := index(ctx, tx, record.Fold(entries)); err != nil {
			return plain(err)
		}
	}
	return plain(tx.Commit())
}
