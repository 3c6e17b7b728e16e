package store

import (
	"benchleaf/internal/record"
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// A byte flipped anywhere in a journal's row or in a photograph is found, and
// the case or the file is named.
func TestVerifyNamesEveryFlippedByte(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	id := newCase(t, s)
	p := mustPut(t, s, "0123456789")
	d := draft(id, 2, photoOf(p), note("look"))
	d.Key = record.NewID(s.Now())
	mustAppend(t, s, d)
	path := s.photoPath(p.Hash)
	for i := range 10 {
		flipFile(t, path, int64(i))
		if r, _ := s.Verify(ctx); r.Clean() || !strings.Contains(r.Problems[0], p.Hash.String()) {
			t.Fatalf("byte %d of the photograph: %v", i, r.Problems)
		}
		flipFile(t, path, int64(i))
	}
	mustBeClean(t, s)
	if _, err := s.write.Exec("DROP TRIGGER entries_stay_as_written"); err != nil {
		t.Fatal(err)
	}
	flips := 0
	for _, table := range []struct{ where, columns string }{
		{"entries WHERE case_id = ? AND seq = 3", "case_id seq time zone by kind version corrects key body prev hash"},
		{"cases WHERE case_id = ?", "case_id number updated closed busy words summary"},
	} {
		for _, column := range strings.Fields(table.columns) {
			flips += flipColumn(t, s, id, table.where, column)
		}
	}
	if flips < 600 {
		t.Errorf("only %d flips were tried", flips)
	}
	mustBeClean(t, s)
	s.Close()
}

// flipColumn flips each byte of a column in one row in turn, the lowest bit of
// a number, and wants verify to name the case. It returns how many it flipped.
func flipColumn(t *testing.T, s *Store, id record.CaseID, where, column string) int {
	t.Helper()
	from, cond, _ := strings.Cut(where, " WHERE ")
	var old any
	var kind string
	if err := s.write.QueryRow("SELECT "+column+", typeof("+column+") FROM "+where, string(id)).Scan(&old, &kind); err != nil {
		t.Fatal(err)
	}
	set := func(v, key any) {
		q := cond
		if column == "seq" {
			q = "case_id = ? AND seq = " + fmt.Sprint(key)
		}
		of := string(id)
		if column == "case_id" {
			of = key.(string)
		}
		if _, err := s.write.Exec("UPDATE "+from+" SET "+column+" = ? WHERE "+q, v, of); err != nil {
			t.Fatal(err)
		}
	}
	try := func(what string, bad any) {
		set(bad, old)
		r, err := s.Verify(ctx)
		if err != nil || r.Clean() || !strings.Contains(strings.Join(r.Problems, " "), string(id)) {
			t.Fatalf("%s of %s went unseen: %v %v", what, where, r, err)
		}
		set(old, bad)
	}
	if kind == "integer" {
		n := old.(int64)
		try(column, n^4)
		return 1
	}
	var raw []byte
	switch v := old.(type) {
	case string:
		raw = []byte(v)
	case []byte:
		raw = v
	}
	for i := range raw {
		bad := bytes.Clone(raw)
		bad[i] ^= 1
		var v any = bad
		if kind == "text" {
			v = string(bad)
		}
		try(fmt.Sprintf("byte %d of %s", i, column), v)
	}
	return len(raw)
}

// Whatever byte of the database's file is flipped: the folder does not open and
// says why, or verify finds it, or every entry is still there unchanged.
func TestFlippedByteOfTheFileIsFoundOrHarmless(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	want := map[record.CaseID]record.Hash{}
	for range 3 {
		id := newCase(t, s)
		for i := range 20 {
			e := mustAppend(
				t,
				s,
				draft(id, 2, note(fmt.Sprintf("note %d, with some words to fill a page of the file", i))),
			)
			want[id] = e[0].Hash
		}
	}
	s.Close()
	good, err := os.ReadFile(filepath.Join(dir, dbName))
	if err != nil {
		t.Fatal(err)
	}
	refused, found, harmless := 0, 0, 0
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		at, bit := r.IntN(len(good)), byte(1)<<r.IntN(8)
		bad := bytes.Clone(good)
		bad[at] ^= bit
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, dbName), bad, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := Open(dir)
		if err != nil {
			refused++
			continue
		}
		report, err := s.Verify(ctx)
		switch {
		case err != nil || !report.Clean():
			found++
		default:
			harmless++
			for id, last := range want {
				if c, err := s.Case(ctx, id); err != nil || c.LastSeq != 22 || c.LastHash != last {
					t.Errorf("bit %08b of byte %d changed case %s unseen (%v)", bit, at, id, err)
				}
			}
		}
		s.Close()
	}
	t.Logf(
		"%d bytes in the file; of 200 flips %d kept it closed, %d were found, %d changed nothing",
		len(good),
		refused,
		found,
		harmless,
	)
	if found < 50 {
		t.Errorf("only %d flips were found: the test proves nothing", found)
	}
}

// The bench goes on while it is verified, and verify sees each case as one
// moment did.
func TestVerifyBesideWriters(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
				mustAppend(t, s, draft(id, 2, note("x")))
				if p := mustPut(t, s, fmt.Sprint(i)); i%2 == 0 {
					if err := s.DropPhoto(ctx, p); err != nil {
						t.Error(err)
					}
				}
			}
		}
	})
	for range 40 {
		mustBeClean(t, s)
	}
	close(stop)
	wg.Wait()
}

func flipFile(t *testing.T, path string, at int64) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	b[at] ^= 1
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestVerifyNamesWhatIsMissing(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p, q := mustPut(t, s, "photo"), mustPut(t, s, "nobody's")
	mustAppend(t, s, draft(id, 2, photoOf(p), note("last")))
	if r := mustBeClean(t, s); r.Orphans != 1 || r.Photographs != 2 {
		t.Errorf("%+v, want 2 photographs, 1 of them an orphan", r)
	}
	if err := os.Chmod(s.photoPath(q.Hash), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(s.photoPath(q.Hash), 3); err != nil {
		t.Fatal(err)
	}
	if r, _ := s.Verify(ctx); r.Clean() || !strings.Contains(r.Problems[0], q.Hash.String()) {
		t.Errorf("the photograph cut short went unseen: %v", r.Problems)
	}
	if err := os.Remove(s.photoPath(p.Hash)); err != nil {
		t.Fatal(err)
	}
	if r, _ := s.Verify(ctx); r.Clean() || !strings.Contains(strings.Join(r.Problems, " "), p.Hash.String()) {
		t.Errorf("the missing photograph went unseen: %v", r.Problems)
	}
	// An entry taken from the end leaves a sound chain; the index remembers.
	if _, err := s.write.Exec("DROP TRIGGER entries_stay"); err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec("DELETE FROM entries WHERE seq = 4"); err != nil {
		t.Fatal(err)
	}
	if r, _ := s.Verify(ctx); !strings.Contains(strings.Join(r.Problems, " "), "missing from its end") {
		t.Errorf("the entry missing at the end went unseen: %v", r.Problems)
	}
}

func TestVerifyGoesOnWithoutTheFolderOfPhotographs(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p := mustPut(t, s, "photo")
	mustAppend(t, s, draft(id, 2, photoOf(p)))
	if err := os.RemoveAll(filepath.Join(s.dir, photosDir)); err != nil {
		t.Fatal(err)
	}
	r, err := s.Verify(ctx)
	if all := strings.Join(r.Problems, " "); err != nil || !strings.Contains(all, p.Hash.String()) ||
		!strings.Contains(all, "folder photographs is missing") {
		t.Errorf("%v, %v; want the photograph and the folder named", r.Problems, err)
	}
}
