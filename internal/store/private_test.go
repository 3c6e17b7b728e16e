//go:build unix

package store

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// What lies in a data folder is the account's own, also where an earlier version
// made it otherwise.
func TestFilesArePrivate(t *testing.T) {
	old := syscall.Umask(0)
	defer syscall.Umask(old)
	dir := filepath.Join(t.TempDir(), "data")
	s := mustOpen(t, dir)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, photoOf(mustPut(t, s, "photo"))))
	private(t, dir)
	s.Close()
	for _, name := range []string{dbName, witnessName} {
		if err := os.Chmod(filepath.Join(dir, name), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(filepath.Join(dir, photosDir), 0o755); err != nil {
		t.Fatal(err)
	}
	s = mustOpen(t, dir)
	defer s.Close()
	newCase(t, s)
	private(t, dir)
}

func private(t *testing.T, dir string) {
	t.Helper()
	files := 0
	filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			t.Fatal(err)
		}
		info, err := d.Info()
		if err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s is open to others: %v, %v", path, info.Mode(), err)
		}
		files++
		return nil
	})
	if files < 6 {
		t.Errorf("only %d files were looked at", files)
	}
}

// A folder that is taken stays taken when the file that says so is deleted.
func TestTheLockSurvivesItsFile(t *testing.T) {
	s := opened(t)
	if err := os.Remove(filepath.Join(s.dir, lockName)); err != nil {
		t.Fatal(err)
	}
	out, err := child("open", s.dir).Output()
	if err != nil || !strings.HasPrefix(string(out), "true ") {
		t.Errorf("%v: the other process said %q, want that the folder is in use", err, out)
	}
}

// A folder that is made read-only while people write: nothing is lost.
func TestAFolderTakenReadOnlyLosesNothing(t *testing.T) {
	for range flips(t, 2) {
		out, err := child("made read-only", "").Output()
		if strings.HasPrefix(string(out), "SKIP") {
			t.Skip(string(out))
		}
		if err != nil || string(out) != "KEPT\n" {
			t.Fatalf("%v: %s", err, out)
		}
	}
}

// writeMadeReadOnly is an account without rights whose folder is made read-only
// while it writes. It says KEPT when all that was acknowledged is there.
func writeMadeReadOnly() {
	if os.Geteuid() == 0 {
		if err := syscall.Setuid(65534); err != nil {
			fmt.Println("SKIP", err)
			return
		}
	}
	dir, err := os.MkdirTemp("", "benchleaf-readonly-")
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	defer os.RemoveAll(dir)
	rights := func(d, f fs.FileMode) error {
		return filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			if err == nil && e.IsDir() {
				return os.Chmod(path, d)
			}
			return errors.Join(err, os.Chmod(path, f))
		})
	}
	s, err := Open(dir)
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	id := record.NewCaseID(time.Now())
	var all []record.Entry
	for i := range 200 {
		bodies := []record.Body{note(fmt.Sprint(i))}
		if i == 0 {
			bodies = []record.Body{record.Opened{Number: "1", Title: "Demo"}}
		}
		e, err := s.Append(ctx, draft(id, int64(len(all)), bodies...))
		if err == nil {
			all = append(all, e...)
		} else if i < 100 {
			fmt.Println("ERROR", err)
		}
		if i == 100 {
			if err := rights(0o500, 0o400); err != nil {
				fmt.Println("ERROR", err)
			}
			if _, err := s.PutPhoto(ctx, strings.NewReader("photo"), 1<<20); err == nil {
				fmt.Println("ERROR a photograph was taken into a folder that cannot be written")
			}
		}
	}
	if err := s.Close(); err != nil {
		fmt.Println("ERROR", err)
	}
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), dir) {
		fmt.Println("ERROR it opens, or does not say which folder:", err)
	}
	if err := rights(0o700, 0o600); err != nil {
		fmt.Println("ERROR", err)
	}
	if s, err = Open(dir); err != nil {
		fmt.Println("ERROR", err)
		return
	}
	defer s.Close()
	j, err := s.Journal(ctx, id)
	if err != nil || len(j) < len(all) || j[len(all)-1].Hash != all[len(all)-1].Hash {
		fmt.Println("ERROR", len(j), "entries of", len(all), err)
		return
	}
	if r, err := s.Verify(ctx); err != nil || !r.Clean() {
		fmt.Println("ERROR", r, err)
		return
	}
	fmt.Println("KEPT")
}

// lookFixed reads a folder that it may not write, as an account without rights.
func lookFixed(dir string) {
	if os.Geteuid() == 0 {
		if err := syscall.Setuid(65534); err != nil {
			fmt.Println("SKIP", err)
			return
		}
	}
	s, err := Look(dir)
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	defer s.Close()
	r, err := s.Verify(ctx)
	if err != nil || !r.Clean() {
		fmt.Println("ERROR", r, err)
		return
	}
	list, err := s.List(ctx, Filter{})
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	made := []byte("a size for the screen")
	err = s.PutDerived(record.Hash{1}, "320.jpg", func(w io.Writer) error { _, err := w.Write(made); return err })
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	out, err := os.MkdirTemp("", "benchleaf-fixed-")
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	defer os.RemoveAll(out)
	if err := s.ExportFile(ctx, list[0].ID, nil, filepath.Join(out, "case.zip")); err != nil {
		fmt.Println("ERROR", err)
		return
	}
	file := filepath.Join(out, "backup.zip")
	if err := s.Backup(ctx, file); err != nil {
		fmt.Println("ERROR", err)
		return
	}
	r, err = Restore(ctx, file, filepath.Join(out, "new"), Opening{})
	fmt.Println("READ", r.Cases, r.Entries, r.Photographs, len(r.Problems), err)
}

// A data folder on a medium that cannot be written is verified, exported and backed
// up; one whose log would have to be carried over first says so.
func TestAReadOnlyMediumIsRead(t *testing.T) {
	dir, _, _ := worked(t)
	mustOpen(t, dir).Close() // carries the log over and takes it away
	fixed := func(dir string) string {
		t.Helper()
		filepath.WalkDir(dir, func(path string, d fs.DirEntry, _ error) error {
			mode := fs.FileMode(0o444)
			if d.IsDir() {
				mode = 0o555
			}
			return os.Chmod(path, mode)
		})
		t.Cleanup(func() {
			filepath.WalkDir(dir, func(path string, d fs.DirEntry, _ error) error {
				if d.IsDir() {
					return os.Chmod(path, 0o755)
				}
				return nil
			})
		})
		for up := dir; strings.HasPrefix(up, os.TempDir()) && up != os.TempDir(); up = filepath.Dir(up) {
			info, err := os.Stat(up)
			if err != nil || os.Chmod(up, info.Mode().Perm()|0o555) != nil {
				t.Fatal(err)
			}
		}
		out, err := child("fixed", dir).Output()
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasPrefix(string(out), "SKIP") {
			t.Skip(string(out))
		}
		return strings.TrimSpace(string(out))
	}
	if got := fixed(dir); got != "READ 2 6 1 0 <nil>" {
		t.Errorf("it says %q, want 2 cases, 6 entries and a photograph, whole", got)
	}
	logged, _, _ := worked(t)
	if got := fixed(logged); !strings.Contains(got, "copy the whole folder to a disk that can be written") {
		t.Errorf("with a log it says %q", got)
	}
}
