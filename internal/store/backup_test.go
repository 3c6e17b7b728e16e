package store

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"benchleaf/internal/record"
)

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
	r, err := Restore(ctx, file, filepath.Join(dir, "new"), Opening{})
	if err != nil || !r.Clean() || r.Photographs != 1 {
		t.Fatalf("restored %+v, %v", r, err)
	}
	if _, err := Restore(ctx, file, filepath.Join(dir, "new"), Opening{}); err == nil {
		t.Error("a backup was restored over another folder")
	}
	if list, _ := os.ReadDir(dir); len(list) != 2 {
		t.Errorf("%d things in the folder, want the backup and the restored one", len(list))
	}
	if err := os.WriteFile(filepath.Join(dir, "no.zip"), []byte("not a zip"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(ctx, filepath.Join(dir, "no.zip"), filepath.Join(dir, "other"), Opening{}); err == nil {
		t.Error("a file that is no backup was restored")
	}
}

// What a system leaves in a folder of pictures is in no backup and harms none.
func TestForeignFilesAreNoPhotographs(t *testing.T) {
	s := opened(t)
	newCase(t, s)
	mustPut(t, s, "photo")
	for _, name := range []string{".DS_Store", "x", "ab/Thumbs.db"} {
		path := filepath.Join(s.dir, photosDir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, nil, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	if r := mustBeClean(t, s); r.Others != 3 || r.Photographs != 1 {
		t.Errorf("%+v, want a photograph and 3 other files", r)
	}
	file := filepath.Join(t.TempDir(), "backup.zip")
	if err := s.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	if r, err := Restore(ctx, file, filepath.Join(t.TempDir(), "new"), Opening{}); err != nil || r.Photographs != 1 ||
		r.Others != 0 {
		t.Errorf("restored %+v, %v", r, err)
	}
}

// A restored photograph cannot be written by accident, and one that was damaged
// when the backup was made comes back with a word on it.
func TestRestoreSaysWhatWasDamaged(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p := mustPut(t, s, "photo")
	mustAppend(t, s, draft(id, 2, photoOf(p)))
	flipFile(t, s.photoPath(p.Hash), 0)
	dir := t.TempDir()
	if err := s.Backup(ctx, filepath.Join(dir, "b.zip")); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(dir, "new")
	r, err := Restore(ctx, filepath.Join(dir, "b.zip"), to, Opening{})
	if err != nil || len(r.Problems) != 1 || !strings.Contains(r.Problems[0], p.Hash.String()) {
		t.Errorf("restored %+v, %v; want the one damaged photograph named", r, err)
	}
	info, err := os.Stat(filepath.Join(to, photosDir, p.Hash.String()[:2], p.Hash.String()))
	if err != nil || info.Mode().Perm()&0o222 != 0 {
		t.Errorf("the photograph may be written: %v %v", info.Mode(), err)
	}
}

func TestRestoreRefuses(t *testing.T) {
	s := opened(t)
	newCase(t, s)
	dir := t.TempDir()
	good := filepath.Join(dir, "good.zip")
	if err := s.Backup(ctx, good); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	photo := photosDir + "/ab/" + strings.Repeat("ab", 32)
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"not a zip", []byte("no"), "not a backup"},
		{"empty zip", rezip(t, data, func(n string, d []byte) (string, []byte) { return n, nil }, nil), "no " + dbName},
		{"cut off", data[:len(data)-40], "not a backup"},
		{"member twice", rezip(t, data, keep, map[string]string{dbName: "x"}), "twice"},
		{"bomb", rezip(t, data, keep, map[string]string{photo: strings.Repeat("\x00", 30<<20)}), "unfold"},
		{"no database", rezip(t, data, func(n string, d []byte) (string, []byte) { return n, []byte(strings.Repeat("no database ", 100)) }, nil), "cannot be opened"},
		{"a case", exportOf(t, s, newCase(t, s)), "no " + dbName},
	} {
		file, to := filepath.Join(dir, "bad.zip"), filepath.Join(dir, "to")
		if err := os.WriteFile(file, c.data, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(ctx, file, to, Opening{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", c.name, err, c.want)
		}
		if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: a folder was left behind", c.name)
		}
	}
	// What stands where the folder should be is not touched.
	mine := filepath.Join(dir, "mine")
	if err := os.WriteFile(mine, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(ctx, good, mine, Opening{}); err == nil {
		t.Error("a backup was restored over a file")
	}
	if got, err := os.ReadFile(mine); err != nil || string(got) != "mine" {
		t.Errorf("the file is %q, %v", got, err)
	}
}

// What does not belong in a backup is named and written nowhere.
func TestRestorePassesOverWhatDoesNotBelong(t *testing.T) {
	s := opened(t)
	newCase(t, s)
	dir := t.TempDir()
	good := filepath.Join(dir, "good.zip")
	if err := s.Backup(ctx, good); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	name := strings.Repeat("ab", 32)
	for _, member := range []string{
		"../" + dbName, "../" + name, photosDir + "/../" + name, "/" + photosDir + "/ab/" + name, `..\` + name, "open-by.json",
	} {
		under := filepath.Join(t.TempDir(), "under")
		file, to := filepath.Join(dir, "more.zip"), filepath.Join(under, "to")
		more := rezip(t, data, keep, map[string]string{member: "foreign"})
		if err := errors.Join(os.MkdirAll(under, 0o700), os.WriteFile(file, more, 0o600)); err != nil {
			t.Fatal(err)
		}
		r, err := Restore(ctx, file, to, Opening{})
		if err != nil || len(r.Problems) != 1 || !strings.Contains(r.Problems[0], "does not belong") || r.Cases != 1 {
			t.Errorf("%q: %+v, %v; want the case, and the member named", member, r, err)
		}
		for _, d := range []string{under, filepath.Dir(under)} {
			if list, _ := os.ReadDir(d); len(list) != 1 {
				t.Errorf("%q: %v in %s, want one folder", member, list, d)
			}
		}
		fs.WalkDir(os.DirFS(to), ".", func(path string, d fs.DirEntry, _ error) error {
			if raw, err := os.ReadFile(filepath.Join(to, path)); err == nil && string(raw) == "foreign" {
				t.Errorf("%q was written to %s", member, path)
			}
			return nil
		})
	}
}

// Wherever one bit of a backup is flipped, all that the bit is not in comes back,
// and what it is in is named.
func TestABackupWithAFlippedBitGivesBackTheRest(t *testing.T) {
	s := opened(t)
	var ids []record.CaseID
	var photos []Photo
	for i := range 3 {
		id := newCase(t, s)
		p := mustPut(t, s, strings.Repeat(fmt.Sprint("photograph ", i), 2000))
		mustAppend(t, s, draft(id, 2, photoOf(p), note(strings.Repeat(fmt.Sprint("words of case ", i), 200))))
		ids, photos = append(ids, id), append(photos, p)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "b.zip")
	if err := s.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	flipped := func(at int) (*Report, string, error) {
		bad := bytes.Clone(good)
		bad[at] ^= 16
		from, to := filepath.Join(dir, "bad.zip"), filepath.Join(t.TempDir(), "to")
		if err := os.WriteFile(from, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		r, err := Restore(ctx, from, to, Opening{})
		return r, to, err
	}
	// In a photograph.
	for i, p := range photos {
		r, to, err := flipped(bytes.Index(good, fmt.Append(nil, "photograph ", i)) + 500)
		if err != nil || r.Cases != 3 || r.Photographs != 3 || r.Clean() ||
			!strings.Contains(strings.Join(r.Problems, " "), p.Hash.String()) {
			t.Fatalf("photograph %d: %+v, %v; want it named and all there", i, r, err)
		}
		for k, o := range photos {
			h, err := hashFile(ctx, filepath.Join(to, photosDir, o.Hash.String()[:2], o.Hash.String()))
			if err != nil || (h == o.Hash) != (k != i) {
				t.Errorf("photograph %d flipped: photograph %d is %v, %v", i, k, h, err)
			}
		}
	}
	// In a journal.
	for i, id := range ids {
		r, to, err := flipped(bytes.Index(good, fmt.Append(nil, "words of case ", i)) + 20)
		if err != nil || r.Cases != 3 || !strings.Contains(strings.Join(r.Problems, " "), string(id)+": entry 4 ") {
			t.Fatalf("case %d: %+v, %v; want its entry named", i, r, err)
		}
		back := mustOpen(t, to)
		for k, o := range ids {
			c, err := back.Case(ctx, o)
			if err != nil || c.LastSeq != 4 || (c.Broken != nil) != (k == i) {
				t.Errorf("case %d flipped: case %d is %+v, %v", i, k, c, err)
			}
		}
		back.Close()
	}
	// Anywhere.
	refused, named, harmless := 0, 0, 0
	r := rand.New(rand.NewPCG(3, 4))
	for range 150 {
		at := r.IntN(len(good))
		switch report, to, err := flipped(at); {
		case err != nil:
			refused++
			if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
				t.Errorf("byte %d: refused, and a folder was left behind", at)
			}
		case !report.Clean():
			named++
		default:
			harmless++
			if report.Cases != 3 || report.Entries != 12 || report.Photographs != 3 {
				t.Errorf("byte %d: %+v passes for whole", at, report)
			}
		}
	}
	t.Logf("%d bytes; of 150 flips %d refused, %d named, %d harmless", len(good), refused, named, harmless)
	if refused > 15 {
		t.Errorf("%d of 150 flips gave nothing back", refused)
	}
}
