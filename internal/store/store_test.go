package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
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
	return record.Photo{
		Hash:     p.Hash,
		Bytes:    p.Bytes,
		Format:   "jpeg",
		WidthPx:  10,
		HeightPx: 10,
		Stage:    "before",
		Light:    "normal",
	}
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
	bath := record.RunStarted{
		ID:            record.NewID(time.Now()),
		Operation:     "wash",
		OperationName: "washing",
		Sheets:        []int{1},
		At:            time.Now(),
		Makes:         record.Wet,
	}
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

// What comes with a form's key is written once, however often and however late it
// comes; the same text with another key is another entry.
func TestAKeyWritesOnce(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	a, b := newCase(t, s), newCase(t, s)
	with := func(key string, d record.Draft) record.Draft { d.Key = key; return d }
	first, second := record.NewID(s.Now()), record.NewID(s.Now())
	want := mustAppend(t, s, with(first, draft(a, 2, note("pH 6.1"), note("again"))), with(first, draft(b, 2, note("pH 6.1"))))
	mustAppend(t, s, draft(a, 4, note("another's")))
	same := func(when string) {
		t.Helper()
		got := mustAppend(t, s,
			with(first, draft(a, 2, note("pH 6.1"), note("again"))), with(first, draft(b, 2, note("pH 6.1"))))
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s it is answered with other entries (-then +now):\n%s", when, d)
		}
	}
	same("at once")
	if got := mustAppend(t, s, with(second, draft(a, 2, note("pH 6.1"), note("again")))); got[0].Seq != 6 {
		t.Errorf("the same text with another key became entry %d, want 6", got[0].Seq)
	}
	s.Close()
	s = mustOpen(t, dir)
	defer s.Close()
	same("after a restart")
	for what, drafts := range map[string][]record.Draft{
		"other text":      {with(first, draft(a, 2, note("pH 6.2"), note("again"))), with(first, draft(b, 2, note("pH 6.1")))},
		"less":            {with(first, draft(a, 2, note("pH 6.1"), note("again")))},
		"more":            {with(second, draft(a, 2, note("pH 6.1"), note("again"), note("more")))},
		"another journal": {with(second, draft(b, 2, note("pH 6.1"), note("again")))},
	} {
		var reused *Reused
		if _, err := s.Append(ctx, drafts...); !errors.As(err, &reused) || !strings.Contains(err.Error(), "saved before") {
			t.Errorf("%s with the same key: %v, want that it was saved before", what, err)
		}
	}
	if _, err := s.Append(ctx, with("no key", draft(a, 2, note("x")))); err == nil {
		t.Error("a key that is none was taken")
	}
	for id, n := range map[record.CaseID]int{a: 7, b: 3} {
		if j, _ := s.Journal(ctx, id); len(j) != n {
			t.Errorf("the journal has %d entries, want %d", len(j), n)
		}
	}
	if is, err := s.Written(ctx, first); !is || err != nil {
		t.Errorf("the key is not known: %v", err)
	}
	if is, _ := s.Written(ctx, ""); is {
		t.Error("entries without a key are taken for those of a form")
	}
	mustBeClean(t, s)

	// An exported case keeps the keys, and a form that comes after it is a repeat there too.
	other := opened(t)
	if _, err := importInto(other, exportOf(t, s, a)); err != nil {
		t.Fatal(err)
	}
	if got := mustAppend(t, other, with(second, draft(a, 2, note("pH 6.1"), note("again")))); got[0].Seq != 6 {
		t.Errorf("sent again beside the imported case it became entry %d, want 6", got[0].Seq)
	}
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

func TestSecondProcessIsToldWhoHasTheFolder(t *testing.T) {
	s := opened(t)
	_, err := Open(s.dir)
	var in *InUse
	if !errors.As(err, &in) || in.Owner.PID != os.Getpid() || !strings.Contains(err.Error(), fmt.Sprint(os.Getpid())) {
		t.Errorf("got %v, want who has it", err)
	}
}

// A writer who goes away takes nothing from those whose entries are committed
// with his, and what he was not told about is either whole or not there.
func TestWritersWhoGoAway(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	var acknowledged sync.Map
	var wg sync.WaitGroup
	for w := range 8 {
		wg.Go(func() {
			for i := range 60 {
				c, cancel := context.WithCancel(ctx)
				if w%2 == 0 {
					time.AfterFunc(time.Duration(i*w)*20*time.Microsecond, cancel)
				}
				text := fmt.Sprintf("%d-%d", w, i)
				e, err := s.Append(c, draft(id, 2, note(text)))
				cancel()
				switch {
				case err == nil:
					acknowledged.Store(e[0].Seq, text)
				case w%2 == 1 || !errors.Is(err, context.Canceled):
					t.Errorf("%s: %v", text, err)
				}
			}
		})
	}
	wg.Wait()
	j, err := s.Journal(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	acknowledged.Range(func(seq, text any) bool {
		if n := seq.(int64); n > int64(len(j)) || !bytes.Contains(j[n-1].Body, []byte(`"`+text.(string)+`"`)) {
			t.Errorf("the acknowledged entry %d (%s) is lost", seq, text)
		}
		return true
	})
	mustBeClean(t, s)
}

func TestClosedStoreRefuses(t *testing.T) {
	s := mustOpen(t, t.TempDir())
	id := newCase(t, s)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for {
				if _, err := s.Append(ctx, draft(id, 2, note("x"))); err != nil {
					if !errors.Is(err, ErrClosed) {
						t.Errorf("got %v, want that it is closed", err)
					}
					return
				}
			}
		})
	}
	time.Sleep(10 * time.Millisecond)
	if err := errors.Join(s.Close(), s.Close()); err != nil {
		t.Error(err)
	}
	wg.Wait()
}

// When the database fails in the middle of a batch it may roll back all of it:
// then nobody in the batch is told that he was saved, and the next one is.
func TestFailureInABatchFailsTheBatch(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	if _, err := s.write.Exec("CREATE TRIGGER full BEFORE INSERT ON entries WHEN NEW.by = 'XX' BEGIN SELECT " +
		"RAISE(ROLLBACK, 'no more'); END"); err != nil {
		t.Fatal(err)
	}
	var batch []request
	for _, by := range []string{"KM", "XX", "KM"} {
		d := draft(id, 2, note("x"))
		d.By = by
		batch = append(batch, request{ctx: ctx, drafts: []record.Draft{d}})
	}
	for i, a := range s.commitAll(batch) {
		if a.err == nil || !strings.Contains(a.err.Error(), "no more") {
			t.Errorf("request %d: %v, want the failure", i, a.err)
		}
	}
	if e := mustAppend(t, s, draft(id, 2, note("after it"))); e[0].Seq != 3 {
		t.Errorf("the next entry is %d, want 3", e[0].Seq)
	}
	if r := mustBeClean(t, s); r.Entries != 3 {
		t.Errorf("%d entries, want 3", r.Entries)
	}
}

// A fault in a rule ends the one act, not the bench.
func TestPanicInARuleIsAnError(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	if _, err := s.Append(ctx, draft(id, 2, nil)); err == nil || !strings.Contains(err.Error(), "panic") {
		t.Errorf("got %v, want the panic as an error", err)
	}
	mustAppend(t, s, draft(id, 2, note("on we go")))
	mustBeClean(t, s)
}

func TestWriterIsChecked(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	for _, c := range []struct{ by, zone, want string }{
		{" ", "UTC", "initials"}, {"K\x00M", "UTC", "Initials"}, {strings.Repeat("K", 41), "UTC", "Initials"},
		{"KM", "<b>", "zone"}, {"KM", strings.Repeat("a", 65), "zone"},
	} {
		d := draft(id, 2, note("x"))
		d.By, d.Zone = c.by, c.zone
		_, err := s.Append(ctx, d)
		if _, ok := record.Refusals(err); !ok || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("by %q, zone %q: %v, want a sentence with %q", c.by, c.zone, err, c.want)
		}
	}
	if _, err := s.Append(ctx, draft(id, 2)); err == nil {
		t.Error("an act without entries was accepted")
	}
	// "Local" means nothing to who reads the journal elsewhere.
	d := draft(id, 2, note("x"))
	d.Zone = "Local"
	e := mustAppend(t, s, d)
	if _, err := time.Parse("-07:00", e[0].Zone); err != nil {
		t.Errorf("the zone is %q, want an offset", e[0].Zone)
	}
}

// The cache is a help, no authority: the writer looks at the journal's end.
func TestStaleCacheDoesNoHarm(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	old, err := s.Case(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	mustAppend(t, s, draft(id, 2, note("new")))
	s.cache.clear()
	s.cache.offer(old)
	if e := mustAppend(t, s, draft(id, 2, note("newer"))); e[0].Seq != 4 {
		t.Errorf("the entry became %d, want 4", e[0].Seq)
	}
	s.cache.offer(old)
	if c, _ := s.Case(ctx, id); c.LastSeq != 4 {
		t.Errorf("an older fold took the newer one's place")
	}
	mustBeClean(t, s)
}

func TestCacheForgetsTheLongestUnused(t *testing.T) {
	var c cache
	id := func(i int) record.CaseID { return record.CaseID(fmt.Sprint(i)) }
	for i := range cacheSize + 1 {
		x := &record.Case{}
		x.ID, x.LastSeq = id(i), 1
		c.offer(x)
		c.get(id(0)) // in use all the time
	}
	if c.get(id(0)) == nil || c.get(id(1)) != nil || c.get(id(2)) == nil || len(c.cases) != cacheSize {
		t.Errorf("%d cases kept; want %d without case 1, the longest unused", len(c.cases), cacheSize)
	}
}
