package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchleaf/internal/record"
)

var ctx = context.Background()

func mustOpen(t testing.TB, dir string) *Store {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// opened is an open store, closed with the test.
func opened(t testing.TB) *Store {
	t.Helper()
	s := mustOpen(t, t.TempDir())
	t.Cleanup(func() { s.Close() })
	return s
}

func draft(id record.CaseID, expect int64, bodies ...record.Body) record.Draft {
	d := record.Draft{Case: id, Expect: expect, By: "KM", Zone: "Europe/Berlin"}
	for _, b := range bodies {
		d.Items = append(d.Items, record.Item{Body: b})
	}
	return d
}

func mustAppend(t testing.TB, s *Store, d ...record.Draft) []record.Entry {
	t.Helper()
	e, err := s.Append(ctx, d...)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// newCase opens a case with three inner sheets.
func newCase(t testing.TB, s *Store) record.CaseID {
	t.Helper()
	id := record.NewCaseID(time.Now())
	mustAppend(t, s, draft(id, 0, record.Opened{Number: "2026-001", Title: "Demo"},
		record.MakeUp{InnerSheets: 3, Cover: "separate", Binding: "saddle", FirstPage: 1}))
	return id
}

func note(text string) record.Note { return record.Note{Nature: "observed", Text: text} }

func photoOf(p Photo) record.Photo {
	return record.Photo{Hash: p.Hash, Bytes: p.Bytes, Format: "jpeg", WidthPx: 10, HeightPx: 10, Stage: "before", Light: "normal"}
}

func mustPut(t testing.TB, s *Store, data string) Photo {
	t.Helper()
	p, err := s.PutPhoto(ctx, strings.NewReader(data), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func mustBeClean(t testing.TB, s *Store) *Report {
	t.Helper()
	r, err := s.Verify(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Clean() {
		t.Fatalf("verify found:\n%s", strings.Join(r.Problems, "\n"))
	}
	return r
}

func TestAppendSurvivesReopening(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, note("first")))
	want, err := s.Journal(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = mustOpen(t, dir)
	defer s.Close()
	got, err := s.Journal(ctx, id)
	if err != nil || len(got) != 3 || got[2].Hash != want[2].Hash {
		t.Fatalf("after reopening %d entries, %v; want the same 3", len(got), err)
	}
	if err := record.CheckChain(got); err != nil {
		t.Error(err)
	}
	c, err := s.Case(ctx, id)
	if err != nil || len(c.Notes) != 1 {
		t.Errorf("the case has %d notes, %v; want 1", len(c.Notes), err)
	}
	mustBeClean(t, s)
}

// An acknowledged commit must be on the disk, which in WAL mode only
// synchronous=FULL (2) promises: https://sqlite.org/pragma.html#pragma_synchronous
func TestEveryConnectionSyncsFully(t *testing.T) {
	s := opened(t)
	for range 3 {
		var sync int
		var mode string
		if err := s.write.QueryRow("PRAGMA synchronous").Scan(&sync); err != nil || sync != 2 {
			t.Errorf("synchronous is %d, %v; want 2", sync, err)
		}
		if err := s.write.QueryRow("PRAGMA journal_mode").Scan(&mode); err != nil || mode != "wal" {
			t.Errorf("journal mode is %q, %v; want wal", mode, err)
		}
	}
}

func TestEntriesAreNeverChangedInTheDatabase(t *testing.T) {
	s := opened(t)
	newCase(t, s)
	for _, q := range []string{"UPDATE entries SET by = 'XX'", "DELETE FROM entries"} {
		if _, err := s.write.Exec(q); err == nil {
			t.Errorf("%s went through", q)
		}
	}
}

func TestClashAndCommutingReappend(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, note("from the bench")))
	// A writer who has not seen it: a log line goes in behind it …
	e := mustAppend(t, s, draft(id, 2, note("from the phone")))
	if e[0].Seq != 4 {
		t.Errorf("the log line became entry %d, want 4", e[0].Seq)
	}
	// … an ordered entry does not, and is told what came.
	_, err := s.Append(ctx, draft(id, 2, record.Ownership{Owner: "Owner (demo)"}))
	var clash *Clash
	if !errors.As(err, &clash) {
		t.Fatalf("got %v, want a clash", err)
	}
	if len(clash.Since) != 2 || clash.Last != 4 || !strings.Contains(clash.Error(), "KM") {
		t.Errorf("clash %+v, want the two entries since and who wrote", clash)
	}
	if got, _ := s.Journal(ctx, id); len(got) != 4 {
		t.Errorf("the journal has %d entries after the clash, want 4", len(got))
	}
	if _, err := s.Append(ctx, draft(id, 99, note("x"))); err == nil {
		t.Error("a draft from the future was accepted")
	}
}

func TestDraftsGoInAllOrNone(t *testing.T) {
	s := opened(t)
	a, b := newCase(t, s), newCase(t, s)
	bath := record.RunStarted{ID: record.NewID(time.Now()), Operation: "wash", OperationName: "washing", Sheets: []int{1}, At: time.Now(), Makes: record.Wet}
	wrong := bath
	wrong.Sheets = []int{77}
	if _, err := s.Append(ctx, draft(a, 2, bath), draft(b, 2, wrong)); err == nil {
		t.Fatal("a bath with a sheet that is not there was accepted")
	}
	if j, _ := s.Journal(ctx, a); len(j) != 2 {
		t.Errorf("the refused act left %d entries in the first case, want 2", len(j))
	}
	if c, _ := s.Case(ctx, a); len(c.Runs) != 0 {
		t.Error("the refused act stayed in the folded case")
	}
	mustAppend(t, s, draft(a, 2, bath), draft(b, 2, bath))
	for _, id := range []record.CaseID{a, b} {
		if c, _ := s.Case(ctx, id); len(c.Runs) != 1 {
			t.Errorf("case %s has no record of the shared bath", id)
		}
	}
	mustBeClean(t, s)
}

func TestConcurrentWritersLoseNothing(t *testing.T) {
	s := opened(t)
	ids := []record.CaseID{newCase(t, s), newCase(t, s)}
	var wg sync.WaitGroup
	for w := range 8 {
		wg.Go(func() {
			for i := range 25 {
				if _, err := s.Append(ctx, draft(ids[w%2], 2, note(fmt.Sprintf("%d-%d", w, i)))); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	for _, id := range ids {
		c, err := s.Case(ctx, id)
		if err != nil || len(c.Notes) != 100 {
			t.Errorf("%d notes, %v; want 100", len(c.Notes), err)
		}
	}
	mustBeClean(t, s)
}

// Whatever two writers do in whatever order, the journal stays a chain, and
// every acknowledged entry is in it once.
func TestInterleavedWriters(t *testing.T) {
	s := opened(t)
	rapid.Check(t, func(rt *rapid.T) {
		id := newCase(t, s)
		seen := []int64{2, 2}
		acknowledged := map[int64]string{}
		for i := range rapid.IntRange(1, 12).Draw(rt, "acts") {
			who := rapid.IntRange(0, 1).Draw(rt, "who")
			text := fmt.Sprintf("%d", i)
			var body record.Body = note(text)
			if rapid.Bool().Draw(rt, "ordered") {
				body = record.Ownership{Owner: text}
			}
			e, err := s.Append(ctx, draft(id, seen[who], body))
			var clash *Clash
			switch {
			case errors.As(err, &clash):
				if record.Commutes(body.Kind()) || seen[who] == clash.Last {
					rt.Fatalf("a clash where there is none: %v", err)
				}
				seen[who] = clash.Last
			case err != nil:
				rt.Fatal(err)
			default:
				seen[who] = e[0].Seq
				acknowledged[e[0].Seq] = text
			}
		}
		j, err := s.Journal(ctx, id)
		if err != nil {
			rt.Fatal(err)
		}
		if err := record.CheckChain(j); err != nil {
			rt.Fatal(err)
		}
		if len(j) != 2+len(acknowledged) {
			rt.Fatalf("%d entries, want %d", len(j), 2+len(acknowledged))
		}
		for seq, text := range acknowledged {
			if !bytes.Contains(j[seq-1].Body, []byte(`"`+text+`"`)) {
				rt.Fatalf("entry %d is %s, want %q", seq, j[seq-1].Body, text)
			}
		}
	})
}

func TestPhotographs(t *testing.T) {
	s := opened(t)
	a := mustPut(t, s, "a photograph")
	if a.Existed || a.Bytes != 12 {
		t.Errorf("stored as %+v", a)
	}
	// SHA-256 of the text, computed with another implementation (CPython's hashlib).
	if got, want := a.Hash.String(), "a249e87e1e6113da81cdd8a154c222283fbcceff6dd3727a63bf97eee562dfb3"; got != want {
		t.Errorf("named %s, want %s", got, want)
	}
	if again := mustPut(t, s, "a photograph"); !again.Existed || again.Hash != a.Hash {
		t.Errorf("the duplicate was stored as %+v, want the one that is there", again)
	}
	f, err := s.OpenPhoto(a.Hash)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got, _ := io.ReadAll(f); string(got) != "a photograph" {
		t.Errorf("read back %q", got)
	}
	for name, r := range map[string]io.Reader{"empty": strings.NewReader(""), "too large": strings.NewReader(strings.Repeat("x", 101)), "broken off": io.MultiReader(strings.NewReader("abc"), &failing{})} {
		if _, err := s.PutPhoto(ctx, r, 100); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	if left, _ := os.ReadDir(filepath.Join(s.dir, tempDir)); len(left) != 0 {
		t.Errorf("%d half-written files stayed", len(left))
	}
	if _, err := s.OpenPhoto(record.Hash{1}); !errors.Is(err, ErrNotFound) {
		t.Errorf("a photograph that is not there gives %v", err)
	}
	id := newCase(t, s)
	if _, err := s.Append(ctx, draft(id, 2, photoOf(Photo{Hash: record.Hash{1}, Bytes: 1}))); err == nil {
		t.Error("an entry may name a photograph that is not stored")
	}
}

type failing struct{}

func (*failing) Read([]byte) (int, error) { return 0, errors.New("the network is gone") }

func TestDerivedIsACache(t *testing.T) {
	s := opened(t)
	p := mustPut(t, s, "photo")
	if _, err := s.OpenDerived(p.Hash, "320.jpg"); !errors.Is(err, ErrNotFound) {
		t.Errorf("got %v, want not found", err)
	}
	if err := s.PutDerived(p.Hash, "320.jpg", func(w io.Writer) error { _, err := io.WriteString(w, "small"); return err }); err != nil {
		t.Fatal(err)
	}
	f, err := s.OpenDerived(p.Hash, "320.jpg")
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	if err := s.PutDerived(p.Hash, "bad.jpg", func(io.Writer) error { return errors.New("no") }); err == nil {
		t.Error("a failed picture was kept")
	}
	if _, err := s.OpenDerived(p.Hash, "bad.jpg"); !errors.Is(err, ErrNotFound) {
		t.Error("half a picture stayed")
	}
}

func TestSecondProcessIsToldWhoHasTheFolder(t *testing.T) {
	s := opened(t)
	_, err := Open(s.dir)
	var in *InUse
	if !errors.As(err, &in) || in.Owner.PID != os.Getpid() || !strings.Contains(err.Error(), fmt.Sprint(os.Getpid())) {
		t.Errorf("got %v, want who has it", err)
	}
}

func TestNewerFormatIsRefused(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	if _, err := s.write.Exec("PRAGMA user_version = 99"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "newer benchleaf") {
		t.Errorf("got %v, want a word on the newer format", err)
	}
}

func TestList(t *testing.T) {
	s := opened(t)
	for i, title := range []string{"The Windlass", "Harbour Almanack", "Saltmarsh Reader"} {
		id := record.NewCaseID(time.Now())
		mustAppend(t, s, draft(id, 0, record.Opened{Number: fmt.Sprintf("2026-%03d", i), Title: title}))
		if i == 2 {
			mustAppend(t, s, draft(id, 1, record.Closed{Outcome: "untreated"}))
		}
	}
	closed := true
	for _, c := range []struct {
		f    Filter
		want int
	}{{Filter{}, 3}, {Filter{Text: "HARBOUR 2026"}, 1}, {Filter{Text: "nowhere"}, 0}, {Filter{Closed: &closed}, 1}, {Filter{Limit: 2}, 2}, {Filter{Offset: 2}, 1}, {Filter{Text: "%"}, 0}} {
		got, err := s.List(ctx, c.f)
		if err != nil || len(got) != c.want {
			t.Errorf("%+v: %d cases, %v; want %d", c.f, len(got), err, c.want)
		}
	}
}

func TestReindexMakesTheSameIndex(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, note("x")))
	if _, err := s.write.Exec("UPDATE cases SET summary = '{}'"); err != nil {
		t.Fatal(err)
	}
	r, err := s.Verify(ctx)
	if err != nil || r.Clean() {
		t.Fatalf("the false index went unseen: %v %v", r, err)
	}
	if err := s.Reindex(ctx); err != nil {
		t.Fatal(err)
	}
	mustBeClean(t, s)
}

func TestBackupWhileRunningAndRestore(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p := mustPut(t, s, "photo")
	mustAppend(t, s, draft(id, 2, photoOf(p)))
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
				if _, err := s.Append(ctx, draft(id, 3, note(fmt.Sprint(i)))); err != nil {
					t.Error(err)
				}
			}
		}
	})
	dir := t.TempDir()
	file := filepath.Join(dir, "backup.zip")
	err := s.Backup(ctx, file)
	close(stop)
	wg.Wait()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Backup(ctx, file); err == nil {
		t.Error("a backup was written over")
	}
	r, err := Restore(ctx, file, filepath.Join(dir, "new"))
	if err != nil || !r.Clean() || r.Photographs != 1 {
		t.Fatalf("restored %+v, %v", r, err)
	}
	if _, err := Restore(ctx, file, filepath.Join(dir, "new")); err == nil {
		t.Error("a backup was restored over another folder")
	}
	if list, _ := os.ReadDir(dir); len(list) != 2 {
		t.Errorf("%d things in the folder, want the backup and the restored one", len(list))
	}
	if err := os.WriteFile(filepath.Join(dir, "no.zip"), []byte("not a zip"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(ctx, filepath.Join(dir, "no.zip"), filepath.Join(dir, "other")); err == nil {
		t.Error("a file that is no backup was restored")
	}
}

// A byte flipped anywhere in a journal's row or in a photograph is found, and
// the case or the file is named.
func TestVerifyNamesEveryFlippedByte(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	id := newCase(t, s)
	p := mustPut(t, s, "0123456789")
	mustAppend(t, s, draft(id, 2, photoOf(p), note("look")))
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
	for _, column := range []string{"time", "zone", "by", "kind", "body", "prev", "hash"} {
		var n int
		if err := s.write.QueryRow("SELECT length(CAST("+column+" AS BLOB)) FROM entries WHERE case_id = ? AND seq = 3", string(id)).Scan(&n); err != nil {
			t.Fatal(err)
		}
		for i := range n {
			var old []byte
			if err := s.write.QueryRow("SELECT CAST("+column+" AS BLOB) FROM entries WHERE case_id = ? AND seq = 3", string(id)).Scan(&old); err != nil {
				t.Fatal(err)
			}
			bad := bytes.Clone(old)
			bad[i] ^= 1
			set := func(b []byte) {
				var v any = b
				if column != "body" && column != "prev" && column != "hash" {
					v = string(b)
				}
				if _, err := s.write.Exec("UPDATE entries SET "+column+" = ? WHERE case_id = ? AND seq = 3", v, string(id)); err != nil {
					t.Fatal(err)
				}
			}
			set(bad)
			flips++
			r, err := s.Verify(ctx)
			if err != nil || r.Clean() || !strings.Contains(strings.Join(r.Problems, " "), string(id)) {
				t.Fatalf("byte %d of %s of entry 3 went unseen: %v %v", i, column, r, err)
			}
			set(old)
		}
	}
	if flips < 250 {
		t.Errorf("only %d flips were tried", flips)
	}
	mustBeClean(t, s)
	s.Close()
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
