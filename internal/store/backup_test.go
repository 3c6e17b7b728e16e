package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
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
	if r, err := Restore(ctx, file, filepath.Join(t.TempDir(), "new")); err != nil || r.Photographs != 1 ||
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
	r, err := Restore(ctx, filepath.Join(dir, "b.zip"), to)
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
		{"path out of the folder", rezip(t, data, keep, map[string]string{"../" + dbName: "x"}), "does not belong"},
		{"out of the photographs", rezip(t, data, keep, map[string]string{photosDir + "/../" + strings.Repeat("ab", 32): "x"}), "does not belong"},
		{"absolute path", rezip(t, data, keep, map[string]string{"/" + photo: "x"}), "does not belong"},
		{"member twice", rezip(t, data, keep, map[string]string{dbName: "x"}), "twice"},
		{"bomb", rezip(t, data, keep, map[string]string{photo: strings.Repeat("\x00", 30<<20)}), "unfold"},
		{"no database", rezip(t, data, func(n string, d []byte) (string, []byte) { return n, []byte(strings.Repeat("no database ", 100)) }, nil), "cannot be opened"},
		{"a case", exportOf(t, s, newCase(t, s)), "does not belong"},
	} {
		file, to := filepath.Join(dir, "bad.zip"), filepath.Join(dir, "to")
		if err := os.WriteFile(file, c.data, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(ctx, file, to); err == nil || !strings.Contains(err.Error(), c.want) {
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
	if _, err := Restore(ctx, good, mine); err == nil {
		t.Error("a backup was restored over a file")
	}
	if got, err := os.ReadFile(mine); err != nil || string(got) != "mine" {
		t.Errorf("the file is %q, %v", got, err)
	}
}
