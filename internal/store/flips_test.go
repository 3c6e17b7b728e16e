package store

import (
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// flips is how often something is damaged: a few times in an ordinary run, more
// where BENCHLEAF_FLIPS says how many times as often.
func flips(t *testing.T, few int) int {
	t.Helper()
	n, err := strconv.Atoi(os.Getenv("BENCHLEAF_FLIPS"))
	if err != nil || n < 1 {
		return few
	}
	return few * n
}

// Whatever bit is flipped in whichever file of a data folder, its log included: the
// folder does not open and says why, or verify finds it, or every entry that was
// acknowledged and every photograph is there unchanged.
func TestAFlippedBitInAnyFileIsFoundOrHarmless(t *testing.T) {
	dir, _, _ := worked(t)
	said, err := readWitness(dir)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(7, 8))
	for path, size := range sizes(t, dir) {
		name, err := filepath.Rel(dir, path)
		if err != nil {
			t.Fatal(err)
		}
		refused, found, harmless := 0, 0, 0
		for range flips(t, 12) {
			at := r.Int64N(size)
			bad := copied(t, dir)
			flipFile(t, filepath.Join(bad, name), at)
			s, err := Open(bad)
			if err != nil {
				refused++
				continue
			}
			report, err := s.Verify(ctx)
			if err != nil || !report.Clean() || len(s.Lost()) > 0 || len(report.Notes) > 0 && !s.witness.remade.IsZero() {
				found++
			} else {
				harmless++
				if now := ends(ctx, s.read, nil); now == nil || !sameHeads(now, said.heads) || report.Photographs != 1 {
					t.Errorf("%s, byte %d: %v passes for whole, want %v", name, at, now, said.heads)
				}
			}
			s.Close()
		}
		t.Logf("%s, %d bytes: refused %d, found %d, harmless %d", name, size, refused, found, harmless)
		if name != dbName && name != dbName+"-wal" && harmless > 0 {
			t.Errorf("%s: %d flips passed unseen", name, harmless)
		}
	}
}

func sameHeads(a, b map[record.CaseID]head) bool {
	for id, h := range b {
		if a[id] != h {
			return false
		}
	}
	return len(a) == len(b)
}

// underWriters runs a fault while four write, and returns what was acknowledged.
func underWriters(t *testing.T, s *Store, id record.CaseID, fault func()) []record.Entry {
	t.Helper()
	var mu sync.Mutex
	var all []record.Entry
	stop := make(chan struct{})
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				e, err := s.Append(ctx, draft(id, 2, note("under way")))
				if err != nil {
					return
				}
				mu.Lock()
				all = append(all, e...)
				mu.Unlock()
			}
		})
	}
	time.Sleep(time.Duration(rand.IntN(20)) * time.Millisecond)
	fault()
	time.Sleep(time.Duration(rand.IntN(5)) * time.Millisecond)
	close(stop)
	wg.Wait()
	return all
}

// wantAll wants every acknowledged entry in a folder, which is whole.
func wantAll(t *testing.T, dir string, all []record.Entry) {
	t.Helper()
	s := mustOpen(t, dir)
	defer s.Close()
	for _, e := range all {
		j, err := s.Journal(ctx, e.Case)
		if err != nil || int64(len(j)) < e.Seq || j[e.Seq-1].Hash != e.Hash {
			t.Fatalf("the acknowledged entry %d is lost (%v)", e.Seq, err)
		}
	}
	mustBeClean(t, s)
}

// The clock is set back and forth while people write: nothing is lost or refused.
func TestAClockSetBackLosesNothing(t *testing.T) {
	for range flips(t, 2) {
		dir := t.TempDir()
		s := mustOpen(t, dir)
		var mu sync.Mutex
		off := time.Duration(0)
		s.Now = func() time.Time {
			mu.Lock()
			defer mu.Unlock()
			return time.Now().Add(off)
		}
		id := newCase(t, s)
		all := underWriters(t, s, id, func() {
			mu.Lock()
			off = -time.Duration(rand.IntN(1000)) * time.Hour
			mu.Unlock()
		})
		all = append(all, mustAppend(t, s, draft(id, 2, note("after")))...)
		s.Close()
		wantAll(t, dir, all)
	}
}

// A folder is moved away and another put in its place while people write: what was
// acknowledged is in the one that was moved, and nothing more is acknowledged.
func TestASwappedFolderLosesNothing(t *testing.T) {
	for range flips(t, 2) {
		dir := filepath.Join(t.TempDir(), "data")
		s := mustOpen(t, dir)
		id := newCase(t, s)
		all := underWriters(t, s, id, func() {
			err := os.Rename(dir, dir+"-moved")
			if err == nil {
				err = os.CopyFS(dir, os.DirFS(dir+"-moved"))
			}
			if err != nil {
				t.Skip("this system moves no folder that is open:", err)
			}
		})
		if _, err := s.Append(ctx, draft(id, 2, note("after"))); !errors.Is(err, ErrGone) {
			t.Fatalf("after the swap: %v, want that the folder is gone", err)
		}
		s.Close()
		wantAll(t, dir+"-moved", all)
	}
}

// A folder is deleted while people write: nothing is acknowledged after that.
func TestADeletedFolderTakesNothing(t *testing.T) {
	for range flips(t, 2) {
		dir := filepath.Join(t.TempDir(), "data")
		s := mustOpen(t, dir)
		id := newCase(t, s)
		underWriters(t, s, id, func() {
			// A writer may be making a file in it.
			for os.RemoveAll(dir) != nil {
				time.Sleep(time.Millisecond)
			}
		})
		if _, err := s.Append(ctx, draft(id, 2, note("after"))); !errors.Is(err, ErrGone) {
			t.Fatalf("after the deletion: %v, want that the folder is gone", err)
		}
		s.Close()
	}
}
