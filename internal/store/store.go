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
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"benchleaf/internal/record"
)

// Store is one data folder: opened by one process (Open), or read beside it
// (Look).
type Store struct {
	// Now is the clock; tests set it before the first use.
	Now func() time.Time

	dir   string
	lock  *lock       // nil when the folder is only looked at
	file  fs.FileInfo // of the database, to see whether it is still the same
	fixed bool        // looked at on a medium that cannot be written
	made  string      // folder for what is made from photographs, where it cannot be in dir
	write *sql.DB     // one connection, since SQLite has one writer; nil likewise
	read  *sql.DB

	requests chan request
	closing  chan struct{}
	close    sync.Once
	stopped  chan struct{}

	cache   cache
	fresh   fresh
	witness *witness // nil when the folder is only looked at
	lost    lost
}

// ErrNotFound says that there is no such case or photograph.
var ErrNotFound = errors.New("there is no such thing in this data folder")

// ErrDamaged says that a journal cannot even be read. One that can be, and is not
// whole, says so itself: see record.Journal.
var ErrDamaged = errors.New("a journal in this data folder cannot be read: keep the folder as it is, and restore the " +
	"last backup into a new one")

// ErrGone says that the data folder is no longer the one that was opened.
var ErrGone = errors.New("the data folder was deleted, moved or replaced while benchleaf had it open: nothing of " +
	"this was saved. Note what the page holds, close the program, put the folder back or restore the last backup, and " +
	"start again")

// ErrClosed says that the data folder was put away, or is only looked at:
// nothing was written.
var ErrClosed = errors.New("the data folder is not open for writing: nothing was saved")

// ErrNoSpace says that the disk is full or takes no more. Nothing was
// half-written.
var ErrNoSpace = errors.New(
	"the disk is full or cannot be written: nothing of this was saved; make room and send it again",
)

// InUse says that another process has the data folder.
type InUse struct {
	Dir   string
	Owner Owner // zero when the other has not yet said who it is
}

// Owner is who holds a data folder.
type Owner struct {
	PID   int       `json:"pid"`
	Host  string    `json:"host"`
	Since time.Time `json:"since"`
	// Address is where its pages are; empty while it has none.
	Address string `json:"address,omitempty"`
}

func (e *InUse) Error() string {
	who := "another benchleaf"
	if e.Owner.PID != 0 {
		who = fmt.Sprintf(
			"another benchleaf (process %d on %s, since %s)",
			e.Owner.PID,
			e.Owner.Host,
			e.Owner.Since.Local().Format("2 January 15:04"),
		)
	}
	return fmt.Sprintf("the data folder %s is open in %s; close that one first", e.Dir, who)
}

// Clash says that others wrote in the journal since the writer read it.
type Clash struct {
	Case           record.CaseID
	Expected, Last int64
	Since          []record.Entry
}

func (e *Clash) Error() string {
	last := e.Since[len(e.Since)-1]
	return fmt.Sprintf(
		"%s has written here since you opened this page (entry %d, %s); look at it, then send yours again",
		last.By,
		last.Seq,
		last.Kind,
	)
}

// Reused says that the key of a form has written something else before. Entry is
// the first of that.
type Reused struct{ Entry record.Entry }

func (e *Reused) Error() string {
	return fmt.Sprintf(
		"This form was saved before with other content, as entry %d (%s), which stays as it is. Look at the log; "+
			"send this once more if it is to be written too.", e.Entry.Seq, e.Entry.Kind)
}

// plain turns a full disk into its one sentence.
func plain(err error) error {
	switch {
	case err == nil, errors.Is(err, ErrNoSpace):
		return err
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG), isFull(err):
		return fmt.Errorf("%w (%v)", ErrNoSpace, err)
	}
	return err
}

// Open opens a data folder for this process alone, making it when it is not
// there. The error is *InUse when another process has it.
func Open(dir string) (*Store, error) { return openFolder(dir, false) }

// openFolder is Open; fresh gives a folder that was just restored a new name and a new
// witness.
func openFolder(dir string, fresh bool) (*Store, error) {
	if err := makeFolders(dir); err != nil {
		return nil, fmt.Errorf("the data folder %s cannot be made: %w", dir, plain(err))
	}
	lock, err := takeLock(dir)
	if err != nil {
		return nil, err
	}
	s := &Store{
		Now:      time.Now,
		dir:      dir,
		lock:     lock,
		requests: make(chan request),
		closing:  make(chan struct{}),
		stopped:  make(chan struct{}),
	}
	if err := s.openDB(fresh); err != nil {
		return nil, errors.Join(err, lock.release())
	}
	s.clearTemp()
	go s.serve()
	return s, nil
}

// makeFolders makes what is missing of a data folder, and its names safe. What lies
// in it is the owner's affair alone; the folder itself may be one that was there.
func makeFolders(dir string) error {
	for _, d := range []string{dir, filepath.Join(dir, photosDir), filepath.Join(dir, tempDir)} {
		if info, err := os.Stat(d); err == nil {
			if d != dir && info.Mode().Perm()&0o077 != 0 {
				if err := os.Chmod(d, 0o700); err != nil {
					return err
				}
			}
			continue
		}
		if err := os.MkdirAll(d, 0o700); err != nil {
			return err
		}
		if err := syncDir(filepath.Dir(d)); err != nil {
			return err
		}
	}
	return nil
}

func (s *Store) openDB(fresh bool) error {
	path := filepath.Join(s.dir, dbName)
	if err := s.lostFile(); err != nil {
		return err
	}
	if err := s.keepPrivate(); err != nil {
		return fmt.Errorf("the data folder %s cannot be written: %w", s.dir, plain(err))
	}
	var err error
	if s.write, err = connect(path, 1, true); err != nil {
		return err
	}
	var missing []thing
	if missing, err = checkSchema(context.Background(), s.write, path); err == nil {
		err = s.lostEntries(s.write)
	}
	if err == nil {
		err = mendSchema(s.write, missing)
	}
	if err == nil {
		err = migrate(s.write)
	}
	if err == nil {
		err = renewIndex(s.write)
	}
	if err == nil {
		err = s.guard(fresh)
	}
	if err == nil {
		s.read, err = connect(path, readers, false)
	}
	if err == nil {
		s.file, err = os.Stat(path)
	}
	if err != nil {
		return errors.Join(err, s.write.Close())
	}
	return nil
}

// keepPrivate makes the database, before SQLite does, and what lies beside it the
// account's own: SQLite gives its other files the rights of the first.
func (s *Store) keepPrivate() error {
	f, err := os.OpenFile(filepath.Join(s.dir, dbName), os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err == nil {
		err = f.Close()
	} else if errors.Is(err, fs.ErrExist) {
		err = nil
	}
	for _, name := range []string{dbName, dbName + "-wal", dbName + "-shm", witnessName, lockName} {
		path := filepath.Join(s.dir, name)
		if info, bad := os.Stat(path); bad == nil && info.Mode().Perm()&0o077 != 0 {
			err = errors.Join(err, os.Chmod(path, 0o600))
		}
	}
	return err
}

// connectLooking opens the database to read it, also on a medium that cannot be
// written, where the log that SQLite wants cannot be made.
func connectLooking(path string, connections int) (db *sql.DB, fixed bool, err error) {
	if !readOnly(path) {
		db, err = connect(path, connections, false)
		return db, false, err
	}
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		return nil, true, fmt.Errorf("the data folder %s is on a medium that cannot be written, and entries in its %s-wal "+
			"are not in its %[2]s yet: copy the whole folder to a disk that can be written, and look at it there",
			filepath.Dir(path), dbName)
	}
	db, err = connectFixed(path, connections)
	return db, true, err
}

// readOnly says whether nothing can be written beside the database, which even
// reading it needs while it has a log. It opens nothing: to close a file of SQLite's
// would let go of the locks that this process has on it.
func readOnly(path string) bool {
	if _, err := os.Stat(path + "-shm"); err == nil {
		return !mayWrite(path + "-shm")
	}
	return !mayWrite(filepath.Dir(path))
}

// Look opens a data folder to read it, also while another process works in it:
// a backup or a walk through everything does not have to wait for the evening.
// What writes then gives ErrClosed. A folder of an older format is opened once
// to bring it up to date.
func Look(dir string) (*Store, error) {
	path := filepath.Join(dir, dbName)
	s := &Store{Now: time.Now, dir: dir, closing: make(chan struct{})}
	if err := s.lostFile(); err != nil {
		return nil, err
	}
	if _, err := os.Stat(path); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("there is no data folder at %s: %w", dir, ErrNotFound)
		}
		return nil, fmt.Errorf("the data folder %s cannot be read: %w", dir, err)
	}
	db, fixed, err := connectLooking(path, readers)
	if err != nil {
		return nil, err
	}
	s.fixed = fixed
	current := false
	if _, err = checkSchema(context.Background(), db, path); err == nil {
		err = s.lostEntries(db)
	}
	if err == nil {
		current, err = upToDate(db)
	}
	if err == nil && !current && fixed {
		err = fmt.Errorf("the data folder %s is of an earlier format and on a medium that cannot be written: copy it to a "+
			"disk that can, and look at it there", dir)
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	if !current {
		s, err := Open(dir)
		if err == nil {
			err = s.Close()
		}
		if err != nil {
			return nil, errors.Join(err, db.Close())
		}
	}
	s.read = db
	err = s.guardLooked()
	if err == nil && fixed {
		if s.made, err = os.MkdirTemp("", "benchleaf-look-"); err == nil {
			err = os.Mkdir(filepath.Join(s.made, tempDir), 0o700)
		}
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// Close waits for what is being written and gives the folder free. It may be
// called again.
func (s *Store) Close() (err error) {
	s.close.Do(func() {
		close(s.closing)
		if s.lock == nil {
			err = s.read.Close()
			if s.made != "" {
				err = errors.Join(err, os.RemoveAll(s.made))
			}
			return
		}
		<-s.stopped
		err = errors.Join(s.read.Close(), s.write.Close(), s.witness.close(), s.lock.release())
	})
	return err
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
	c := s.fold(id, entries)
	s.keep(c)
	return c, nil
}

// keep remembers a folded case, where this process sees every change of it.
func (s *Store) keep(c *record.Case) {
	if s.lock != nil {
		s.cache.offer(c)
	}
}

// Studio is the studio as its journal stands; empty while nothing was written.
func (s *Store) Studio(ctx context.Context) (*record.Studio, error) {
	if st := s.cache.studioNow(); st != nil {
		return st, nil
	}
	entries, err := s.Journal(ctx, record.StudioID)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return nil, err
	}
	st := s.foldStudio(entries)
	if s.lock != nil {
		s.cache.offerStudio(st)
	}
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
