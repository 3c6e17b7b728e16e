package store

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// A database that is gone, emptied or without its entries beside photographs is
// no new bench: it is not opened, not taken for whole, and not touched.
func TestNoJournalIsBegunBesidePhotographs(t *testing.T) {
	made := t.TempDir()
	s := mustOpen(t, made)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, photoOf(mustPut(t, s, "photo"))))
	s.Close()
	for what, lose := range map[string]func(file string) error{
		"is missing": os.Remove,
		"is empty":   func(file string) error { return os.Truncate(file, 0) },
		"has no entry": func(file string) error {
			db, err := connect(file, 1, true)
			if err != nil {
				return err
			}
			defer db.Close()
			_, err = db.Exec("DROP TRIGGER entries_stay; DELETE FROM entries; DELETE FROM cases")
			return err
		},
	} {
		dir := t.TempDir()
		if err := os.CopyFS(dir, os.DirFS(made)); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, dbName)
		if err := lose(file); err != nil {
			t.Fatal(err)
		}
		before, had := os.Stat(file)
		for name, open := range map[string]func(string) (*Store, error){"open": Open, "look": Look} {
			_, err := open(dir)
			if err == nil || !strings.Contains(err.Error(), what) || !strings.Contains(err.Error(), "restore the last backup") {
				t.Errorf("%s where it %s: %v, want that and what to do", name, what, err)
			}
		}
		if after, has := os.Stat(file); (had == nil) != (has == nil) || had == nil && before.Size() != after.Size() {
			t.Errorf("where it %s a database was written", what)
		}
	}
}

// SQLite deletes the log beside an empty database, and with it all that was not
// yet carried over.
func TestALogBesideAnEmptyDatabaseIsKept(t *testing.T) {
	s := opened(t)
	newCase(t, s)
	dir := t.TempDir()
	wal, err := os.ReadFile(filepath.Join(s.dir, dbName+"-wal"))
	if err != nil || len(wal) == 0 {
		t.Fatal(len(wal), err)
	}
	for name, data := range map[string][]byte{dbName: nil, dbName + "-wal": wal} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "is empty") {
		t.Errorf("got %v, want that the database is empty", err)
	}
	if left, err := os.ReadFile(filepath.Join(dir, dbName+"-wal")); err != nil || len(left) != len(wal) {
		t.Errorf("%d bytes of the log are left of %d, %v", len(left), len(wal), err)
	}
}

// What is written in a folder that is no longer there is not acknowledged.
func TestAFolderTakenAwayIsNotWrittenIn(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows keeps files that are open")
	}
	for what, take := range map[string]func(dir string) error{
		"deleted": os.RemoveAll,
		"moved":   func(dir string) error { return os.Rename(dir, dir+"-old") },
		"replaced": func(dir string) error {
			if err := os.Rename(dir, dir+"-old"); err != nil {
				return err
			}
			return os.CopyFS(dir, os.DirFS(dir+"-old"))
		},
		"without its log": func(dir string) error { return os.Remove(filepath.Join(dir, dbName+"-wal")) },
	} {
		dir := filepath.Join(t.TempDir(), "data")
		s := mustOpen(t, dir)
		id := newCase(t, s)
		other := opened(t)
		file := exportOf(t, other, newCase(t, other))
		if err := take(dir); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Append(ctx, draft(id, 2, note("x"))); !errors.Is(err, ErrGone) {
			t.Errorf("%s: append gives %v, want that the folder is gone", what, err)
		}
		if _, err := importInto(s, file); !errors.Is(err, ErrGone) {
			t.Errorf("%s: import gives %v, want that the folder is gone", what, err)
		}
		s.Close()
	}
}

func TestAnEmptyFolderOpensAgain(t *testing.T) {
	dir := t.TempDir()
	for range 2 {
		if err := mustOpen(t, dir).Close(); err != nil {
			t.Fatal(err)
		}
	}
}
