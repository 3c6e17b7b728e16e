package store

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"benchleaf/internal/record"
)

const (
	dbName  = "journal.sqlite"
	readers = 4
)

// connect opens the database. The busy wait comes first, since switching to
// WAL may itself have to wait; synchronous is given for every connection,
// because it is not kept in the file and NORMAL would let a loss of power take
// the last commits; fullfsync matters on macOS alone, where a plain sync leaves
// the data in the disk's own memory.
func connect(path string, connections int, writer bool) (*sql.DB, error) {
	q := url.Values{
		"_pragma": {
			"busy_timeout(10000)",
			"journal_mode(WAL)",
			"synchronous(FULL)",
			"fullfsync(1)",
			"checkpoint_fullfsync(1)",
			"foreign_keys(1)",
			"cache_size(-16000)",
		},
	}
	if writer {
		q.Set("_txlock", "immediate")
	} else {
		q.Add("_pragma", "query_only(1)")
	}
	return dial(path, q, connections)
}

// connectFixed opens a database on a medium that cannot be written: there is no log
// beside it, and nobody changes it meanwhile.
func connectFixed(path string, connections int) (*sql.DB, error) {
	return dial(path, url.Values{"mode": {"ro"}, "immutable": {"1"}, "_pragma": {"cache_size(-16000)"}}, connections)
}

func dial(path string, q url.Values, connections int) (*sql.DB, error) {
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(path), RawQuery: q.Encode()}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return nil, fmt.Errorf("open the database: %w", err)
	}
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	if err := db.Ping(); err != nil {
		db.Close()
		return nil, fmt.Errorf("the database %s cannot be opened: %w", path, plain(err))
	}
	return db, nil
}

// migrations are applied in order, each in its own transaction; new ones go at
// the end, and none is ever changed.
var migrations = []string{schema1, schema2, schema3, schema4}

//go:embed schema1.sql
var schema1 string

//go:embed schema2.sql
var schema2 string

//go:embed schema3.sql
var schema3 string

//go:embed schema4.sql
var schema4 string

func migrate(db *sql.DB) error {
	version, err := formatOf(db)
	if err != nil {
		return err
	}
	for ; version < len(migrations); version++ {
		if err := step(db, version); err != nil {
			return fmt.Errorf("bring the database to format %d: %w", version+1, plain(err))
		}
	}
	return nil
}

// formatOf is the format of a database; one that this program does not know is
// refused.
func formatOf(q querier) (int, error) {
	var version int
	if err := q.QueryRowContext(context.Background(), "PRAGMA user_version").Scan(&version); err != nil {
		return 0, fmt.Errorf("read the version of the database: %w", err)
	}
	if version < 0 || version > len(migrations) {
		return 0, fmt.Errorf(
			"this data folder was written by a newer benchleaf (format %d, this program knows %d): update the program",
			version,
			len(migrations),
		)
	}
	return version, nil
}

// upToDate says whether a database needs neither a migration nor a new index.
func upToDate(db *sql.DB) (bool, error) {
	version, err := formatOf(db)
	if err != nil || version < len(migrations) {
		return false, err
	}
	form, err := formOf(context.Background(), db)
	return form == indexForm, err
}

func step(db *sql.DB, version int) error {
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if _, err := tx.Exec(migrations[version]); err != nil {
		return err
	}
	if _, err := tx.Exec(fmt.Sprintf("PRAGMA user_version = %d", version+1)); err != nil {
		return err
	}
	return tx.Commit()
}

// isFull recognises SQLite's codes for a disk that takes no more: SQLITE_FULL,
// and SQLITE_IOERR_WRITE, which it gives when a quota or limit is reached.
func isFull(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && (e.Code() == sqlite3.SQLITE_FULL || e.Code() == sqlite3.SQLITE_IOERR_WRITE)
}

// querier is what a database, a connection and a transaction have in common.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

const entryColumns = "case_id, seq, time, zone, by, kind, version, corrects, key, body, prev, hash"

func journal(ctx context.Context, q querier, id record.CaseID) ([]record.Entry, error) {
	entries, err := entriesWhere(ctx, q, "case_id = ?", string(id))
	if err != nil && ctx.Err() == nil {
		return nil, fmt.Errorf("%w (case %s: %w)", ErrDamaged, id, plain(err))
	}
	return entries, err
}

// keyed is every entry that the form with this key brought.
func keyed(ctx context.Context, q querier, key string) ([]record.Entry, error) {
	entries, err := entriesWhere(ctx, q, "key = ? AND key <> ''", key) // the second for the index, which has no others
	if err != nil {
		return nil, fmt.Errorf("look for the form %s: %w", key, err)
	}
	return entries, nil
}

func entriesWhere(ctx context.Context, q querier, condition, value string) ([]record.Entry, error) {
	rows, err := q.QueryContext(ctx,
		"SELECT "+entryColumns+" FROM entries WHERE "+condition+" ORDER BY case_id, seq", value)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var entries []record.Entry
	for rows.Next() {
		e, err := scanEntry(rows)
		if err != nil {
			return nil, fmt.Errorf("entry %d: %w", len(entries)+1, err)
		}
		entries = append(entries, e)
	}
	return entries, rows.Err()
}

func scanEntry(rows *sql.Rows) (record.Entry, error) {
	var e record.Entry
	var id, at, kind string
	var body, prev, hash []byte
	err := rows.Scan(&id, &e.Seq, &at, &e.Zone, &e.By, &kind, &e.Version, &e.Corrects, &e.Key, &body, &prev, &hash)
	if err != nil {
		return e, err
	}
	e.Case, e.Kind, e.Body = record.CaseID(id), record.Kind(kind), body
	// What cannot be read is left out: the entry then has another hash than its
	// own, and its journal says that it is damaged.
	e.Time, _ = time.Parse(timeLayout, at)
	if len(prev) == len(e.Prev) && len(hash) == len(e.Hash) {
		e.Prev, e.Hash = record.Hash(prev), record.Hash(hash)
	}
	return e, nil
}

func insert(q execer, e *record.Entry) error {
	_, err := q.Exec("INSERT INTO entries ("+entryColumns+") VALUES (?,?,?,?,?,?,?,?,?,?,?,?)", values(e)...)
	return written(e, err)
}

// insertInto writes an entry by a statement that was prepared.
func insertInto(into *sql.Stmt, e *record.Entry) error {
	_, err := into.Exec(values(e)...)
	return written(e, err)
}

// values are an entry's, in the order of entryColumns.
func values(e *record.Entry) []any {
	return []any{
		string(e.Case), e.Seq, e.Time.UTC().Format(timeLayout), e.Zone, e.By, string(e.Kind), e.Version,
		e.Corrects, e.Key, []byte(e.Body), e.Prev[:], e.Hash[:],
	}
}

func written(e *record.Entry, err error) error {
	if err != nil {
		return fmt.Errorf("write entry %d of case %s: %w", e.Seq, e.Case, err)
	}
	return nil
}

type execer interface {
	Exec(query string, args ...any) (sql.Result, error)
}

// timeLayout keeps the milliseconds that are part of an entry's hash.
const timeLayout = "2006-01-02T15:04:05.000Z"

// caseIDs lists every journal, the studio's too.
func caseIDs(ctx context.Context, q querier) ([]record.CaseID, error) {
	rows, err := q.QueryContext(ctx, journalsCTE+"SELECT id FROM journals WHERE id IS NOT NULL ORDER BY id")
	if err != nil {
		return nil, fmt.Errorf("list the journals: %w", err)
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
