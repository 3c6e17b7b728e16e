package store

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"benchleaf/internal/record"
)

// errLost refuses to begin a journal where there was one: a bench that opens empty
// and is written in would hide what was lost.
func (s *Store) errLost(what string) error {
	return fmt.Errorf("the data folder %s holds photographs or journal files, and %s: nothing was changed. Keep the "+
		"folder as it is. Put its own %[3]s and %[3]s-wal back if you moved them, or restore the last backup into a new "+
		"folder; where no entry was ever written, move the folder %[4]s away", s.dir, what, dbName, photosDir)
}

// lostFile looks, before SQLite makes a new one, whether the database is missing
// or empty beside what only a bench at work leaves.
func (s *Store) lostFile() error {
	file := filepath.Join(s.dir, dbName)
	info, err := os.Stat(file)
	if err == nil && info.Size() > 0 || err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	// SQLite deletes the log beside an empty database.
	wal, bad := os.Stat(file + "-wal")
	logged := bad == nil && wal.Size() > 0
	if any, bad := s.anyPhoto(); bad != nil || !any && !logged {
		return bad
	}
	if err != nil {
		return s.errLost("its " + dbName + " is missing")
	}
	return s.errLost("its " + dbName + " is empty")
}

// lostEntries looks whether a database holds no entry beside photographs.
func (s *Store) lostEntries(db *sql.DB) error {
	version, err := formatOf(db)
	if err != nil {
		return err
	}
	some := false
	if version > 0 {
		if err := db.QueryRow("SELECT EXISTS (SELECT 1 FROM entries)").Scan(&some); err != nil {
			return fmt.Errorf("look for entries: %w", plain(err))
		}
	}
	if some {
		return nil
	}
	if any, err := s.anyPhoto(); err != nil || !any {
		return err
	}
	return s.errLost("its " + dbName + " has no entry")
}

// commit is tx.Commit, and fails where what it writes is not in the folder that
// was opened: the system lets a program write on in files that have no name.
func (s *Store) commit(tx *sql.Tx) error {
	if err := s.sameFolder(); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	return s.sameFolder()
}

func (s *Store) sameFolder() error {
	file := filepath.Join(s.dir, dbName)
	now, err := os.Stat(file)
	if err != nil || !os.SameFile(s.file, now) {
		return ErrGone
	}
	// Once a transaction has begun there is a log, until the last one closes it.
	if _, err := os.Stat(file + "-wal"); err != nil {
		return ErrGone
	}
	return nil
}

func (s *Store) anyPhoto() (any bool, err error) {
	_, err = s.photosIn(func(record.Hash, string, int64) error {
		any = true
		return fs.SkipAll
	})
	if errors.Is(err, fs.ErrNotExist) {
		err = nil // no folder of photographs
	}
	return any, err
}
