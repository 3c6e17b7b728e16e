package store

import (
	"bytes"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// copied is a copy of a folder as it stands on the disk, also of one that is open,
// as a loss of power would leave it.
func copied(t *testing.T, dir string) string {
	t.Helper()
	to := t.TempDir()
	for _, name := range []string{dbName, dbName + "-wal", witnessName} {
		raw, err := os.ReadFile(filepath.Join(dir, name))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err = errors.Join(err, os.WriteFile(filepath.Join(to, name), raw, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.CopyFS(filepath.Join(to, photosDir), os.DirFS(filepath.Join(dir, photosDir))); err != nil {
		t.Fatal(err)
	}
	return to
}

// worked makes a folder of two cases, of which the first has four entries: the
// last two are in the database's log alone. It returns a copy of the open folder.
func worked(t *testing.T) (dir string, id, other record.CaseID) {
	t.Helper()
	made := t.TempDir()
	s := mustOpen(t, made)
	id, other = newCase(t, s), newCase(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = mustOpen(t, made)
	defer s.Close()
	mustAppend(t, s, draft(id, 2, photoOf(mustPut(t, s, "photo"))))
	mustAppend(t, s, draft(id, 3, note("last")))
	return copied(t, made), id, other
}

// sql changes a database that no program has open.
func sqlIn(t *testing.T, dir, statements string) {
	t.Helper()
	db, err := connect(filepath.Join(dir, dbName), 1, true)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("DROP TRIGGER entries_stay; DROP TRIGGER entries_stay_as_written; " + statements); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// Whatever takes the end of a journal away, it is found at the start, by a look
// and by verify; the case is read-only and the others go on.
func TestALostEndIsFound(t *testing.T) {
	log := func(dir string) string { return filepath.Join(dir, dbName+"-wal") }
	for what, lose := range map[string]func(t *testing.T, dir string, id record.CaseID){
		"log deleted": func(t *testing.T, dir string, _ record.CaseID) {
			if err := os.Remove(log(dir)); err != nil {
				t.Fatal(err)
			}
		},
		"log cut in half": func(t *testing.T, dir string, _ record.CaseID) {
			info, err := os.Stat(log(dir))
			if err = errors.Join(err, os.Truncate(log(dir), info.Size()/2)); err != nil {
				t.Fatal(err)
			}
		},
		"a bit of the log flipped": func(t *testing.T, dir string, _ record.CaseID) {
			info, err := os.Stat(log(dir))
			if err != nil {
				t.Fatal(err)
			}
			flipFile(t, log(dir), info.Size()/2)
		},
		"entries deleted": func(t *testing.T, dir string, id record.CaseID) {
			sqlIn(t, dir, "DELETE FROM entries WHERE seq > 2 AND case_id = '"+string(id)+"'")
		},
		"entries and index deleted": func(t *testing.T, dir string, id record.CaseID) {
			sqlIn(t, dir, "DELETE FROM entries WHERE seq > 3 AND case_id = '"+string(id)+"'; DELETE FROM cases")
		},
	} {
		t.Run(what, func(t *testing.T) {
			dir, id, other := worked(t)
			lose(t, dir, id)
			look, err := Look(dir)
			if err != nil {
				t.Fatal(err)
			}
			wantLost(t, look, id)
			look.Close()
			s := mustOpen(t, dir)
			defer s.Close()
			wantLost(t, s, id)
			mustAppend(t, s, draft(other, 2, note("the other goes on")))
			c, _ := s.Case(ctx, id)
			if _, err := s.Append(ctx, draft(id, c.LastSeq, note("more"))); err == nil ||
				!strings.Contains(err.Error(), "restore the last backup") {
				t.Errorf("append: %v, want a refusal and what to do", err)
			}
			if err := s.Export(ctx, id, nil, &bytes.Buffer{}); err == nil {
				t.Error("it was exported as if it were whole")
			}
		})
	}
}

// wantLost wants the case named as one that lost its end, by its page and by verify.
func wantLost(t *testing.T, s *Store, id record.CaseID) {
	t.Helper()
	c, err := s.Case(ctx, id)
	if err != nil || c.Broken == nil || !c.Broken.Lost {
		t.Fatalf("it reads as %+v, %v; want its end lost", c.Broken, err)
	}
	r, err := s.Verify(ctx)
	if all := strings.Join(r.Problems, " "); err != nil || !strings.Contains(all, string(id)) ||
		!strings.Contains(all, "lost") {
		t.Errorf("verify says %v, %v", r.Problems, err)
	}
	if l := s.Lost(); len(l) != 1 || l[0].Case != id {
		t.Errorf("lost are %v, want case %s", l, id)
	}
}

func TestACaseTakenFromBothTablesIsFound(t *testing.T) {
	dir, id, other := worked(t)
	sqlIn(t, dir, "DELETE FROM entries WHERE case_id = '"+string(id)+"'; DELETE FROM cases WHERE case_id = '"+
		string(id)+"'")
	s := mustOpen(t, dir)
	defer s.Close()
	if l := s.Lost(); len(l) != 1 || l[0].Case != id || !strings.Contains(l[0].Error(), "the whole journal is gone") {
		t.Errorf("lost are %v, want the whole case", l)
	}
	if _, err := s.Append(ctx, draft(id, 0, record.Opened{Number: "1", Title: "Demo"})); err == nil {
		t.Error("the lost case was begun anew")
	}
	mustAppend(t, s, draft(other, 2, note("the other goes on")))
	if r, err := s.Verify(ctx); err != nil || !strings.Contains(strings.Join(r.Problems, " "), string(id)) {
		t.Errorf("verify says %v, %v", r.Problems, err)
	}
}

// Without a photograph too, an emptied database is no new bench.
func TestAnEmptiedDatabaseIsRefused(t *testing.T) {
	made := t.TempDir()
	s := mustOpen(t, made)
	newCase(t, s)
	s.Close()
	for what, lose := range map[string]func(dir string) error{
		"missing": func(dir string) error { return os.Remove(filepath.Join(dir, dbName)) },
		"empty":   func(dir string) error { return os.Truncate(filepath.Join(dir, dbName), 0) },
		"no entry": func(dir string) error {
			sqlIn(t, dir, "DELETE FROM entries; DELETE FROM cases")
			return nil
		},
	} {
		dir := copied(t, made)
		if err := lose(dir); err != nil {
			t.Fatal(err)
		}
		for name, open := range map[string]func(string) (*Store, error){"open": Open, "look": Look} {
			if _, err := open(dir); err == nil || !strings.Contains(err.Error(), what) {
				t.Errorf("%s: %s gives %v, want a refusal", what, name, err)
			}
		}
	}
}

// Killed after the database was written and before the witness was, nothing is
// lost, and the witness catches up.
func TestAWitnessBehindIsNoLoss(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	id := newCase(t, s)
	before, err := os.ReadFile(filepath.Join(dir, witnessName))
	if err != nil {
		t.Fatal(err)
	}
	mustAppend(t, s, draft(id, 2, note("not yet witnessed")))
	fresh := newCase(t, s)
	s.Close()
	if err := os.WriteFile(filepath.Join(dir, witnessName), before, 0o600); err != nil {
		t.Fatal(err)
	}
	look, err := Look(dir)
	if err != nil {
		t.Fatal(err)
	}
	mustBeClean(t, look)
	look.Close()
	s = mustOpen(t, dir)
	defer s.Close()
	mustBeClean(t, s)
	said, err := readWitness(dir)
	if err != nil || said.heads[id].Seq != 3 || said.heads[fresh].Seq != 2 {
		t.Errorf("the witness says %+v, %v; want it to have caught up", said, err)
	}
}

// A witness does not take over a damaged end, which would outlive the repair.
func TestAWitnessRepeatsNoDamage(t *testing.T) {
	dir, id, _ := worked(t)
	sqlIn(t, dir, "UPDATE entries SET seq = 4000000 WHERE seq = 4 AND case_id = '"+string(id)+"'")
	mustOpen(t, dir).Close()
	if said, err := readWitness(dir); err != nil || said.heads[id].Seq != 4 {
		t.Errorf("the witness says %+v, %v; want entry 4", said.heads[id], err)
	}
}

func TestAnImportMakesALossGood(t *testing.T) {
	dir, id, _ := worked(t)
	s := mustOpen(t, copied(t, dir))
	whole := exportOf(t, s, id)
	s.Close()
	sqlIn(t, dir, "DELETE FROM entries WHERE seq > 2 AND case_id = '"+string(id)+"'")
	s = mustOpen(t, dir)
	wantLost(t, s, id)
	if _, err := importInto(s, whole); err != nil {
		t.Fatal(err)
	}
	mustAppend(t, s, draft(id, 4, note("it goes on")))
	mustBeClean(t, s)
	s.Close()
	s = mustOpen(t, dir)
	defer s.Close()
	mustBeClean(t, s)
}

// A backup of a folder that lost something says so when it is restored, and the
// restored folder goes on.
func TestARestoredFolderHasAFreshWitness(t *testing.T) {
	dir, id, _ := worked(t)
	sqlIn(t, dir, "DELETE FROM entries WHERE seq > 2 AND case_id = '"+string(id)+"'")
	look, err := Look(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer look.Close()
	at := t.TempDir()
	file, to := filepath.Join(at, "b.zip"), filepath.Join(at, "new")
	if err := look.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	r, err := Restore(ctx, file, to, Opening{})
	if err != nil || !strings.Contains(strings.Join(r.Problems, " "), "up to entry 4") {
		t.Fatalf("restored %+v, %v; want the loss named", r, err)
	}
	s := mustOpen(t, to)
	defer s.Close()
	mustAppend(t, s, draft(id, 2, note("it goes on")))
	if l := s.Lost(); len(l) != 0 {
		t.Errorf("lost are %v", l)
	}
	if err := s.Reindex(ctx); err != nil {
		t.Fatal(err)
	}
	mustBeClean(t, s)
}

// Whatever byte of the witness is flipped, wherever it is cut, verify says so, no
// journal is held for damaged, and the next opening makes it anew.
func TestADamagedWitnessIsNamed(t *testing.T) {
	dir, _, _ := worked(t)
	path := filepath.Join(dir, witnessName)
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	try := func(what string, at int, bad []byte) {
		t.Helper()
		if len(parseWitness(bad).damage) == 0 {
			t.Fatalf("%s %d: unseen", what, at)
		}
	}
	for at := 0; at < len(good); at += 1 + at/700 {
		bad := bytes.Clone(good)
		bad[at] ^= 1 << (at % 8)
		try("flip", at, bad)
	}
	for _, at := range []int{0, 1, 63, 64, 100, 5000, len(good) - 1} {
		try("cut", at, good[:at])
	}
	if err := os.WriteFile(path, good[:100], 0o600); err != nil {
		t.Fatal(err)
	}
	look, err := Look(dir)
	if err != nil {
		t.Fatal(err)
	}
	r, err := look.Verify(ctx)
	if err != nil || r.Clean() || slices.ContainsFunc(r.Problems, func(p string) bool {
		return !strings.Contains(p, witnessName+" is damaged")
	}) {
		t.Errorf("verify says %v, %v; want the witness alone", r.Problems, err)
	}
	look.Close()
	s := mustOpen(t, dir)
	defer s.Close()
	if r := mustBeClean(t, s); !strings.Contains(strings.Join(r.Notes, " "), "made anew") {
		t.Errorf("notes %v, want that it was made anew", r.Notes)
	}
}

// A folder of before has none: one begins at the first opening, and verify says so.
func TestAFolderWithoutWitnessGetsOne(t *testing.T) {
	dir := t.TempDir()
	j := firstFormat(t, dir)
	s := mustOpen(t, dir)
	r := mustBeClean(t, s)
	if said, err := readWitness(dir); err != nil || said.heads[j[0].Case].Seq != int64(len(j)) {
		t.Errorf("the witness says %+v, %v", said, err)
	}
	if len(r.Notes) != 1 || !strings.Contains(r.Notes[0], "since "+s.Now().UTC().Format("2006-01-02")) {
		t.Errorf("notes %q, want since when", r.Notes)
	}
	s.Close()
	if err := os.Remove(filepath.Join(dir, witnessName)); err != nil {
		t.Fatal(err)
	}
	look, err := Look(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer look.Close()
	if r, err := look.Verify(ctx); err != nil || len(r.Problems) != 1 || !strings.Contains(r.Problems[0], "is missing") {
		t.Errorf("verify says %v, %v; want that the witness is missing", r.Problems, err)
	}
}

func TestAWitnessTakenAwayIsWrittenAgain(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	if err := os.Remove(filepath.Join(s.dir, witnessName)); err != nil {
		t.Skip("this system keeps files that are open:", err)
	}
	mustAppend(t, s, draft(id, 2, note("x")))
	if said, err := readWitness(s.dir); err != nil || said == nil || said.heads[id].Seq != 3 {
		t.Errorf("the witness says %+v, %v", said, err)
	}
	mustBeClean(t, s)
}

// Database and witness of two folders are not taken for one.
func TestAForeignDatabaseIsRefused(t *testing.T) {
	a, _, _ := worked(t)
	b, _, _ := worked(t)
	raw, err := os.ReadFile(filepath.Join(a, witnessName))
	if err = errors.Join(err, os.WriteFile(filepath.Join(b, witnessName), raw, 0o600)); err != nil {
		t.Fatal(err)
	}
	for name, open := range map[string]func(string) (*Store, error){"open": Open, "look": Look} {
		if _, err := open(b); err == nil || !strings.Contains(err.Error(), "another folder") {
			t.Errorf("%s: %v, want that they do not belong together", name, err)
		}
	}
}

// The file does not grow without end: what a journal's end was before goes.
func TestTheWitnessStaysSmall(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, tempDir), 0o700); err != nil {
		t.Fatal(err)
	}
	w, err := makeWitness(dir, testimony{folder: newFolderID(), heads: map[record.CaseID]head{}})
	if err != nil {
		t.Fatal(err)
	}
	defer w.close()
	ids := []record.CaseID{record.StudioID, "0123456789abcdef", "0123456789abcdeg"}
	for seq := int64(1); seq <= 3000; seq++ {
		heads := map[record.CaseID]head{ids[seq%3]: {Seq: seq, Hash: record.Hash{byte(seq)}}}
		if err := errors.Join(w.ready(1), w.put(heads)); err != nil {
			t.Fatal(err)
		}
	}
	info, err := os.Stat(w.path())
	if err != nil || info.Size() != (1+witnessChunk)*witnessRecord {
		t.Errorf("it has %d bytes, %v", info.Size(), err)
	}
	said, err := readWitness(dir)
	if err != nil || len(said.damage) > 0 || said.heads[ids[0]].Seq != 3000 ||
		slices.Max([]int64{said.heads[ids[1]].Seq, said.heads[ids[2]].Seq}) != 2999 {
		t.Errorf("it says %+v, %v", said, err)
	}
}

// Whatever stands in the file of the witness, it is read or called damaged, and what
// was read of it is written as it was.
func FuzzWitness(f *testing.F) {
	t := testimony{folder: newFolderID(), begun: time.UnixMilli(1), heads: map[record.CaseID]head{
		record.StudioID: {3, record.Hash{1}}, record.NewCaseID(time.Now()): {1, record.Hash{2}},
	}}
	f.Add(t.file())
	f.Add(t.file()[:3*witnessRecord])
	f.Add([]byte(witnessMagic))
	f.Fuzz(func(t *testing.T, raw []byte) {
		said := parseWitness(raw)
		if len(said.damage) > 0 {
			return
		}
		again := parseWitness(said.file())
		if len(again.damage) > 0 || again.folder != said.folder || !maps.Equal(again.heads, said.heads) {
			t.Errorf("%v is written as %v", said, again)
		}
	})
}
