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
	return fmt.Errorf("the data folder %s holds photographs, journal files or a witness, and %s: nothing was changed. "+
		"Keep the folder as it is. Put its own %[3]s and %[3]s-wal back if you moved them, or restore the last backup into "+
		"a new folder; where no entry was ever written, move %[4]s and %[5]s away",
		s.dir, what, dbName, photosDir, witnessName)
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
	if any, bad := s.anyLeft(); bad != nil || !any && !logged {
		return bad
	}
	if err != nil {
		return s.errLost("its " + dbName + " is missing")
	}
	return s.errLost("its " + dbName + " is empty")
}

// lostEntries looks whether a database holds no entry beside what entries leave.
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
	if any, err := s.anyLeft(); err != nil || !any {
		return err
	}
	return s.errLost("its " + dbName + " has no entry")
}

// commit is tx.Commit, and fails where what it writes is not in the folder that
// was opened: the system lets a program write on in files that have no name.
// The ends of the journals go to the witness once their entries are safe: what it
// cannot take then is written before the next commit.
func (s *Store) commit(tx *sql.Tx, heads map[record.CaseID]head) error {
	if err := s.sameFolder(); err != nil {
		return err
	}
	if err := s.witness.ready(len(heads)); err != nil {
		return fmt.Errorf("make room in the witness: %w", err)
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	if err := s.sameFolder(); err != nil {
		return err
	}
	if err := s.witness.put(heads); err != nil {
		return fmt.Errorf("write the witness: %w", err)
	}
	return nil
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

// anyLeft says whether there is something that only a bench at work leaves: a
// photograph, or a witness that knows a journal.
func (s *Store) anyLeft() (any bool, err error) {
	if said, err := readWitness(s.dir); err != nil || said != nil && len(said.heads) > 0 {
		return true, err
	}
	for _, kind := range fileKinds {
		_, err := s.filesIn(kind, func(record.Hash, string) error {
			any = true
			return fs.SkipAll
		})
		if any || err != nil && !errors.Is(err, fs.ErrNotExist) { // no folder of them
			return any, err
		}
	}
	return false, nil
}
