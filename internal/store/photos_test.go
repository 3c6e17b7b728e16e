package store

import (
	"benchleaf/internal/record"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
)

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

// A photograph that was damaged on the disk is whole again when the same file
// is sent again.
func TestSendingAgainHeals(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p := mustPut(t, s, "photograph")
	mustAppend(t, s, draft(id, 2, photoOf(p)))
	flipFile(t, s.photoPath(p.Hash), 3)
	if r, _ := s.Verify(ctx); r.Clean() {
		t.Fatal("the damage went unseen")
	}
	if again := mustPut(t, s, "photograph"); !again.Existed {
		t.Errorf("%+v, want that it existed", again)
	}
	mustBeClean(t, s)
}

func TestDropPhoto(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	gone, named, twice := mustPut(t, s, "no picture"), mustPut(t, s, "named"), mustPut(t, s, "sent twice")
	mustAppend(t, s, draft(id, 2, photoOf(named)))
	again := mustPut(t, s, "sent twice")
	for _, p := range []Photo{gone, named, twice, again, gone} {
		if err := s.DropPhoto(ctx, p); err != nil {
			t.Error(err)
		}
	}
	for p, want := range map[Photo]bool{gone: false, named: true, twice: true} {
		if got := s.hasPhoto(p.Hash); got != want {
			t.Errorf("photograph %s: there %v, want %v", p.Hash.Short(), got, want)
		}
	}
	if r := mustBeClean(t, s); r.Photographs != 2 || r.Orphans != 1 {
		t.Errorf("%+v, want 2 photographs, 1 of them an orphan", r)
	}
}

// Several at once with the same bytes: one file, and only one of them is told
// that it is new.
func TestSamePhotographAtOnce(t *testing.T) {
	s := opened(t)
	var fresh atomic.Int32
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			if p := mustPut(t, s, strings.Repeat("same", 1000)); !p.Existed {
				fresh.Add(1)
			}
		})
	}
	wg.Wait()
	if r := mustBeClean(t, s); r.Photographs != 1 || fresh.Load() != 1 {
		t.Errorf("%d files, %d told new; want 1 and 1", r.Photographs, fresh.Load())
	}
}
