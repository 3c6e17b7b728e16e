package store

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"benchleaf/internal/record"
)

// A folder that a bench has open can be read, walked and backed up beside it,
// and not written.
func TestLookBesideAnOpenBench(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p := mustPut(t, s, "photo")
	look, err := Look(s.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer look.Close()
	mustAppend(t, s, draft(id, 2, photoOf(p)))
	if c, err := look.Case(ctx, id); err != nil || c.LastSeq != 3 {
		t.Fatalf("%v, want the case with its 3 entries", err)
	}
	mustAppend(t, s, draft(id, 3, note("later")))
	if c, err := look.Case(ctx, id); err != nil || c.LastSeq != 4 {
		t.Errorf("the second look does not see entry 4 (%v)", err)
	}
	if r := mustBeClean(t, look); r.Entries != 4 || r.Photographs != 1 {
		t.Errorf("%+v, want 4 entries and a photograph", r)
	}
	file := filepath.Join(t.TempDir(), "backup.zip")
	if err := look.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	if r, err := Restore(ctx, file, filepath.Join(t.TempDir(), "new"), Opening{}); err != nil || !r.Clean() || r.Entries != 4 {
		t.Errorf("restored %+v, %v", r, err)
	}
	if _, err := look.Append(ctx, draft(id, 4, note("x"))); !errors.Is(err, ErrClosed) {
		t.Errorf("append: %v, want that it is closed", err)
	}
	if _, err := importInto(look, exportOf(t, s, id)); !errors.Is(err, ErrClosed) {
		t.Errorf("import: %v, want that it is closed", err)
	}
	if err := look.Reindex(ctx); !errors.Is(err, ErrClosed) {
		t.Errorf("reindex: %v, want that it is closed", err)
	}
}

func TestLookMakesNoFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "none")
	if _, err := Look(dir); !errors.Is(err, ErrNotFound) || !strings.Contains(err.Error(), dir) {
		t.Errorf("got %v, want that there is nothing at %s", err, dir)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("looking made the folder")
	}
}

// A folder of the first format, as it was written then, opens, keeps its
// entries, and gets its index made anew; looking at it does the same.
func TestFirstFormatOpens(t *testing.T) {
	for name, open := range map[string]func(string) (*Store, error){"open": Open, "look": Look} {
		dir := t.TempDir()
		j := firstFormat(t, dir)
		s, err := open(dir)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		got, err := s.Journal(ctx, j[0].Case)
		if err != nil || len(got) != len(j) || got[len(j)-1].Hash != j[len(j)-1].Hash {
			t.Errorf("%s: %d entries, %v; want the same %d", name, len(got), err, len(j))
		}
		if list, err := s.List(ctx, Filter{}); err != nil || len(list) != 1 {
			t.Errorf("%s: %d cases in the list, %v; want 1", name, len(list), err)
		}
		mustBeClean(t, s)
		s.Close()
	}
}

// firstFormat writes a database of format 1 whose index is empty.
func firstFormat(t *testing.T, dir string) []record.Entry {
	t.Helper()
	other := opened(t)
	j, err := other.Journal(ctx, newCase(t, other))
	if err != nil {
		t.Fatal(err)
	}
	db, err := connect(filepath.Join(dir, dbName), 1, true)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := step(db, 0); err != nil {
		t.Fatal(err)
	}
	for _, e := range j {
		_, err := db.Exec("INSERT INTO entries VALUES (?,?,?,?,?,?,?,?,?,?,?)",
			string(e.Case), e.Seq, e.Time.Format(timeLayout), e.Zone, e.By, string(e.Kind), e.Version, e.Corrects,
			[]byte(e.Body), e.Prev[:], e.Hash[:])
		if err != nil {
			t.Fatal(err)
		}
	}
	return j
}

func TestNewerFormatIsRefused(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	if _, err := s.write.Exec("PRAGMA user_version = 99"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	for name, open := range map[string]func(string) (*Store, error){"open": Open, "look": Look} {
		if _, err := open(dir); err == nil || !strings.Contains(err.Error(), "newer benchleaf") {
			t.Errorf("%s: got %v, want a word on the newer format", name, err)
		}
	}
}
