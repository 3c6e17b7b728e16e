package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"benchleaf/internal/record"
)

// indexForm is raised whenever record.Summary or record.Summarize changes: the
// index is then made anew at the next start.
const indexForm = 3

// indexRow is a case's row of the index.
type indexRow struct {
	id, number, updated string
	closed, busy        bool
	words, summary      string
}

const indexColumns = "case_id, number, updated, closed, busy, words, summary"

func rowOf(c *record.Case) (indexRow, error) {
	sum := record.Summarize(c)
	raw, err := json.Marshal(sum)
	if err != nil {
		return indexRow{}, fmt.Errorf("index case %s: %w", c.ID, err)
	}
	return indexRow{
		id: string(sum.ID), number: sum.Number, updated: sum.Updated.UTC().Format(timeLayout), closed: sum.Closed,
		busy: len(sum.Wet)+len(sum.Due)+len(sum.Waits) > 0, words: sum.Words, summary: string(raw),
	}, nil
}

// index writes the case's row of the index.
func index(q execer, c *record.Case) error {
	r, err := rowOf(c)
	if err != nil {
		return err
	}
	_, err = q.Exec("INSERT OR REPLACE INTO cases ("+indexColumns+") VALUES (?,?,?,?,?,?,?)",
		r.id, r.number, r.updated, r.closed, r.busy, r.words, []byte(r.summary))
	if err != nil {
		return fmt.Errorf("index case %s: %w", c.ID, err)
	}
	return nil
}

func indexed(ctx context.Context, q querier, id record.CaseID) (r indexRow, err error) {
	err = q.QueryRowContext(ctx, "SELECT "+indexColumns+" FROM cases WHERE case_id = ?", string(id)).
		Scan(&r.id, &r.number, &r.updated, &r.closed, &r.busy, &r.words, &r.summary)
	return r, err
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
	// The identifier keeps pages apart where two changed in one millisecond.
	query += " ORDER BY updated DESC, case_id DESC LIMIT ? OFFSET ?"
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
			return nil, fmt.Errorf("list the cases: %w", err)
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
	err = s.read.QueryRowContext(ctx, "SELECT count(*) FILTER (WHERE NOT closed), count(*) FILTER (WHERE closed) "+
		"FROM cases").
		Scan(&open, &closed)
	return open, closed, err
}

// Reindex makes the index anew from the journals. A case whose journal cannot
// be read keeps the row that it has; the error names it, and the rest is done.
func (s *Store) Reindex(ctx context.Context) error {
	if s.write == nil {
		return ErrClosed
	}
	return reindex(ctx, s.write)
}

func reindex(ctx context.Context, db *sql.DB) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("make the index anew: %w", plain(err))
	}
	defer tx.Rollback()
	all, err := caseIDs(ctx, tx)
	if err != nil {
		return err
	}
	if _, err := tx.Exec("DELETE FROM cases WHERE case_id NOT IN (SELECT case_id FROM entries)"); err != nil {
		return fmt.Errorf("make the index anew: %w", plain(err))
	}
	var unread []error
	for _, id := range all {
		if id == record.StudioID {
			continue
		}
		entries, err := journal(ctx, tx, id)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			unread = append(unread, err)
			continue
		}
		if err := index(tx, record.Fold(entries)); err != nil {
			return plain(err)
		}
	}
	if _, err := tx.Exec("UPDATE index_form SET form = ?", indexForm); err != nil {
		return plain(err)
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("make the index anew: %w", plain(err))
	}
	return errors.Join(unread...)
}

// renewIndex makes the index anew when it has another form than this program
// gives it. A journal that cannot be read must not keep the others closed:
// verify names it.
func renewIndex(db *sql.DB) error {
	ctx := context.Background()
	form, err := formOf(ctx, db)
	if err != nil || form == indexForm {
		return err
	}
	err = reindex(ctx, db)
	if now, again := formOf(ctx, db); again == nil && now == indexForm {
		return nil
	}
	return err
}

func formOf(ctx context.Context, q querier) (form int, err error) {
	if err := q.QueryRowContext(ctx, "SELECT form FROM index_form").Scan(&form); err != nil {
		return 0, fmt.Errorf("read the form of the index: %w", err)
	}
	return form, nil
}
