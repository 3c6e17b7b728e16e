// Package store keeps journals and photographs in one folder: a SQLite file
// and photographs named by their SHA-256.
//
// A journal only grows. What Append has acknowledged survives kill -9 and loss
// of power: the database runs in WAL mode with synchronous=FULL, and a
// photograph is synced, renamed and its folder synced before an entry may name
// it. An index table, for lists and search, can be made anew from the journals
// at any time. docs/journal.md describes the format for a stranger.
package store

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"benchleaf/internal/record"
)

// Store is one data folder, opened by one process.
type Store struct {
	// Now is the clock; tests set it before the first use.
	Now func() time.Time

	dir   string
	lock  *os.File
	write *sql.DB // one connection: SQLite has one writer
	read  *sql.DB

	requests chan request
	stopped  chan struct{}

	cache cache
}

// ErrNotFound says that there is no such case or photograph.
var ErrNotFound = errors.New("there is no such thing in this data folder")

// InUse says that another process has the data folder.
type InUse struct {
	Dir   string
	Owner Owner
}

// Owner is who holds a data folder.
type Owner struct {
	PID   int       `json:"pid"`
	Host  string    `json:"host"`
	Since time.Time `json:"since"`
}

func (e *InUse) Error() string {
	return fmt.Sprintf("the data folder %s is open in another benchleaf (process %d on %s, since %s); close that one first",
		e.Dir, e.Owner.PID, e.Owner.Host, e.Owner.Since.Local().Format("2 January 15:04"))
}

// Clash says that others wrote in the journal since the writer read it.
type Clash struct {
	Case           record.CaseID
	Expected, Last int64
	Since          []record.Entry
}

func (e *Clash) Error() string {
	last := e.Since[len(e.Since)-1]
	return fmt.Sprintf("%s has written here since you opened this page (entry %d, %s); look at it, then send yours again",
		last.By, last.Seq, last.Kind)
}

// ErrNoSpace says that the disk is full or takes no more. Nothing was
// half-written.
var ErrNoSpace = errors.New("the disk is full or cannot be written: nothing of this was saved; make room and send it again")

// plain turns a full disk into its one sentence.
func plain(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG), isFull(err):
		return fmt.Errorf("%w (%v)", ErrNoSpace, err)
	}
	return err
}

const dbName = "journal.sqlite"

// Open opens a data folder, making it when it is not there.
func Open(dir string) (*Store, error) {
	for _, d := range []string{dir, filepath.Join(dir, photosDir), filepath.Join(dir, tempDir)} {
		if err := os.MkdirAll(d, 0o700); err != nil {
			return nil, fmt.Errorf("the data folder %s cannot be made: %w", dir, plain(err))
		}
	}
	lock, err := takeLock(dir)
	if err != nil {
		return nil, err
	}
	s := &Store{Now: time.Now, dir: dir, lock: lock, requests: make(chan request), stopped: make(chan struct{})}
	if err := s.openDB(); err != nil {
		lock.Close()
		return nil, err
	}
	s.clearTemp()
	go s.serve()
	return s, nil
}

func (s *Store) openDB() error {
	path := filepath.Join(s.dir, dbName)
	var err error
	if s.write, err = connect(path, 1, true); err != nil {
		return err
	}
	if err := migrate(s.write); err != nil {
		s.write.Close()
		return err
	}
	if s.read, err = connect(path, 4, false); err != nil {
		s.write.Close()
	}
	return err
}

// connect opens the database. The busy wait comes first, since switching to
// WAL may itself have to wait; synchronous is given for every connection,
// because it is not kept in the file and NORMAL would let a loss of power take
// the last commits.
func connect(path string, connections int, writer bool) (*sql.DB, error) {
	q := url.Values{"_pragma": {"busy_timeout(10000)", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)", "cache_size(-16000)"}}
	if writer {
		q.Set("_txlock", "immediate")
	} else {
		q.Add("_pragma", "query_only(1)")
	}
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
var migrations = []string{schema1}

//go:embed schema1.sql
var schema1 string

func migrate(db *sql.DB) error {
	var version int
	if err := db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return fmt.Errorf("read the version of the database: %w", err)
	}
	if version > len(migrations) {
		return fmt.Errorf("this data folder was written by a newer benchleaf (format %d, this program knows %d): update the program", version, len(migrations))
	}
	for ; version < len(migrations); version++ {
		if err := step(db, version); err != nil {
			return fmt.Errorf("bring the database to format %d: %w", version+1, plain(err))
		}
	}
	return nil
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

// Close waits for what is being written and gives the folder free.
func (s *Store) Close() error {
	close(s.requests)
	<-s.stopped
	err := errors.Join(s.read.Close(), s.write.Close())
	return errors.Join(err, releaseLock(s.lock))
}

// Dir is the data folder.
func (s *Store) Dir() string { return s.dir }

// Case is a case as its journal stands. The caller must not change it.
func (s *Store) Case(ctx context.Context, id record.CaseID) (*record.Case, error) {
	if c := s.cache.get(id); c != nil {
		return c, nil
	}
	entries, err := s.Journal(ctx, id)
	if err != nil {
		return nil, err
	}
	c := record.Fold(entries)
	s.cache.offer(c)
	return c, nil
}

// Studio is the studio as its journal stands; empty while nothing was written.
func (s *Store) Studio(ctx context.Context) (*record.Studio, error) {
	if st := s.cache.studio.Load(); st != nil {
		return st, nil
	}
	entries, err := s.Journal(ctx, record.StudioID)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return nil, err
	}
	st := record.FoldStudio(entries)
	s.cache.studio.CompareAndSwap(nil, st)
	return st, nil
}

// Journal is every entry of a case in order; ErrNotFound when there is none.
func (s *Store) Journal(ctx context.Context, id record.CaseID) ([]record.Entry, error) {
	entries, err := journal(ctx, s.read, id)
	if err == nil && len(entries) == 0 {
		err = fmt.Errorf("case %s: %w", id, ErrNotFound)
	}
	return entries, err
}

// querier is what a database, a connection and a transaction have in common.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

const entryColumns = "case_id, seq, time, zone, by, kind, version, corrects, body, prev, hash"

func journal(ctx context.Context, q querier, id record.CaseID) ([]record.Entry, error) {
	rows, err := q.QueryContext(ctx, "SELECT "+entryColumns+" FROM entries WHERE case_id = ? ORDER BY seq", string(id))
	if err != nil {
		return nil, fmt.Errorf("read the journal of case %s: %w", id, err)
	}
	defer rows.Close()
	var entries []record.Entry
	for rows.Next() {
		e, err := scanEntry(rows)
		if err != nil {
			return nil, fmt.Errorf("read the journal of case %s: %w", id, err)
		}
		entries = append(entries, e)
	}
	return entries, rows.Err()
}

func scanEntry(rows *sql.Rows) (record.Entry, error) {
	var e record.Entry
	var id, at, kind string
	var body, prev, hash []byte
	if err := rows.Scan(&id, &e.Seq, &at, &e.Zone, &e.By, &kind, &e.Version, &e.Corrects, &body, &prev, &hash); err != nil {
		return e, err
	}
	e.Case, e.Kind, e.Body = record.CaseID(id), record.Kind(kind), body
	var err error
	if e.Time, err = time.Parse(timeLayout, at); err != nil {
		return e, fmt.Errorf("entry %d has no readable time: %w", e.Seq, err)
	}
	if len(prev) != len(e.Prev) || len(hash) != len(e.Hash) {
		return e, fmt.Errorf("entry %d has a hash of the wrong length", e.Seq)
	}
	copy(e.Prev[:], prev)
	copy(e.Hash[:], hash)
	return e, nil
}

// timeLayout keeps the milliseconds that are part of an entry's hash.
const timeLayout = "2006-01-02T15:04:05.000Z"

// cache holds folded cases. One process owns the folder, so a case in it is
// never stale: each append replaces it.
type cache struct {
	mu     sync.Mutex
	cases  map[record.CaseID]*record.Case
	order  []record.CaseID // oldest use first
	studio studioCell
}

// cacheSize is more cases than a bench has open at once.
const cacheSize = 256

func (c *cache) get(id record.CaseID) *record.Case {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.cases[id]
}

// put replaces a case; offer adds one that was read, unless a newer is there.
func (c *cache) put(x *record.Case) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.set(x)
}

func (c *cache) offer(x *record.Case) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if old := c.cases[x.ID]; old == nil || old.LastSeq < x.LastSeq {
		c.set(x)
	}
}

func (c *cache) set(x *record.Case) {
	if c.cases == nil {
		c.cases = map[record.CaseID]*record.Case{}
	}
	if c.cases[x.ID] == nil {
		c.order = append(c.order, x.ID)
	}
	c.cases[x.ID] = x
	if len(c.order) > cacheSize {
		delete(c.cases, c.order[0])
		c.order = c.order[1:]
	}
}
