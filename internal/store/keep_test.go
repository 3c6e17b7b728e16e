package store

import (
	"bytes"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"filippo.io/age"
)

const phrase = "four invented bench words"

// sealedBy is a protection whose passphrase costs the test little.
func sealedBy(t *testing.T) Protection {
	t.Helper()
	p, err := newProtection(phrase, 10)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func mustKeep(t *testing.T, s *Store, dir string, p Protection) Kept {
	t.Helper()
	k, err := s.BackupInto(ctx, dir, p)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// sizes lists the files of a folder.
func sizes(t *testing.T, dir string) map[string]int64 {
	t.Helper()
	all := map[string]int64{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		all[path] = info.Size()
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// A backup folder is only added to, by what is new, and gives everything back.
func TestABackupFolderTakesWhatIsNew(t *testing.T) {
	for name, p := range map[string]Protection{"plain": {}, "encrypted": sealedBy(t)} {
		t.Run(name, func(t *testing.T) {
			s := opened(t)
			id := newCase(t, s)
			mustAppend(t, s, draft(id, 2, photoOf(mustPut(t, s, "photo one"))))
			paper, err := s.PutFile(ctx, Issued, strings.NewReader("a paper"), 1<<20)
			if err != nil {
				t.Fatal(err)
			}
			dir := filepath.Join(t.TempDir(), "kept")
			if k := mustKeep(t, s, dir, p); k.Entries != 3 || k.Files != 2 || len(k.Problems) > 0 {
				t.Fatalf("first %+v", k)
			}
			before := sizes(t, dir)
			if k := mustKeep(t, s, dir, p); k.Entries != 0 || k.Files != 0 || k.Bytes != 0 || len(sizes(t, dir)) != len(before) {
				t.Errorf("with nothing new %+v, %d files after %d", k, len(sizes(t, dir)), len(before))
			}
			mustAppend(t, s, draft(id, 3, photoOf(mustPut(t, s, "photo two")), note("later")))
			if k := mustKeep(t, s, dir, p); k.Entries != 2 || k.Files != 1 {
				t.Errorf("second %+v, want 2 entries and a photograph", k)
			}
			after := sizes(t, dir)
			for path, n := range before {
				if after[path] != n {
					t.Errorf("%s was written again", path)
				}
			}
			if n, problems, err := CheckBackup(ctx, dir); err != nil || n != 5 || len(problems) > 0 {
				t.Errorf("checked %d files: %v, %v", n, problems, err)
			}
			to := filepath.Join(t.TempDir(), "new")
			r, err := Restore(ctx, dir, to, Opening{Passphrase: phrase})
			if err != nil || !r.Clean() || r.Cases != 1 || r.Entries != 5 || r.Photographs != 2 || r.Files != 1 {
				t.Fatalf("restored %+v, %v", r, err)
			}
			back := mustOpen(t, to)
			defer back.Close()
			f, err := back.OpenFile(Issued, paper.Hash)
			if err != nil {
				t.Fatal(err)
			}
			f.Close()
			mustAppend(t, back, draft(id, 5, note("it goes on")))
			mustBeClean(t, back)
		})
	}
}

// Without its key an encrypted backup says nothing of a case, and is not restored.
func TestAnEncryptedBackupNeedsItsKey(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, photoOf(mustPut(t, s, "photograph in plain words")), note("words of the note")))
	dir := filepath.Join(t.TempDir(), "kept")
	mustKeep(t, s, dir, sealedBy(t))
	filepath.WalkDir(dir, func(path string, d fs.DirEntry, _ error) error {
		if raw, err := os.ReadFile(path); err == nil && !d.IsDir() {
			for _, secret := range []string{"plain words", "words of the note", "Demo", phrase, "AGE-SECRET-KEY"} {
				if bytes.Contains(raw, []byte(secret)) {
					t.Errorf("%s holds %q", path, secret)
				}
			}
		}
		return nil
	})
	to := filepath.Join(t.TempDir(), "new")
	for o, want := range map[Opening]string{
		{}:                              "give its passphrase",
		{Passphrase: "another phrase"}:  "does not open it",
		{Keys: "AGE-SECRET-KEY-1WRONG"}: "no secret key",
	} {
		if _, err := Restore(ctx, dir, to, o); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", o, err, want)
		}
		if _, err := os.Stat(to); err == nil {
			t.Errorf("%+v: a folder was left behind", o)
		}
	}
	// One copy of the locked key is enough.
	flipFile(t, filepath.Join(dir, lockedNames[0]), 120)
	r, err := Restore(ctx, dir, to, Opening{Passphrase: phrase})
	if err != nil || len(r.Problems) != 1 || !strings.Contains(r.Problems[0], lockedNames[0]) || r.Entries != 4 {
		t.Errorf("restored %+v, %v; want all, and the damaged key named", r, err)
	}
}

func TestABackupToAPublicKeyIsOneFileToo(t *testing.T) {
	key, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	s := opened(t)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, photoOf(mustPut(t, s, "photo"))))
	file := filepath.Join(t.TempDir(), "b.zip")
	k, err := s.BackupSealed(ctx, file, Protection{Recipient: key.Recipient().String()})
	if err != nil || k.Entries != 3 || k.Files != 1 {
		t.Fatalf("%+v, %v", k, err)
	}
	r, err := Restore(ctx, file, filepath.Join(t.TempDir(), "new"), Opening{Keys: key.String()})
	if err != nil || !r.Clean() || r.Entries != 3 || r.Photographs != 1 {
		t.Errorf("restored %+v, %v", r, err)
	}
}

func TestBackupFolderRefusals(t *testing.T) {
	s := opened(t)
	newCase(t, s)
	foreign := t.TempDir()
	if err := os.WriteFile(filepath.Join(foreign, "letter.txt"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	other := opened(t)
	newCase(t, other)
	others := filepath.Join(t.TempDir(), "others")
	mustKeep(t, other, others, Protection{})
	plain := filepath.Join(t.TempDir(), "plain")
	mustKeep(t, s, plain, Protection{})
	for _, c := range []struct {
		dir  string
		p    Protection
		want string
	}{
		{foreign, Protection{}, "not empty"},
		{others, Protection{}, "another data folder"},
		{plain, sealedBy(t), "encrypted in another way"},
		{filepath.Join(s.dir, "backup"), Protection{}, "lie in each other"},
		{filepath.Dir(s.dir), Protection{}, "lie in each other"},
		{"relative", Protection{}, "no whole path"},
		{filepath.Join(t.TempDir(), "x"), Protection{Recipient: "age1wrong"}, "no public key"},
	} {
		if _, err := s.BackupInto(ctx, c.dir, c.p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.dir, err, c.want)
		}
	}
	if list, _ := os.ReadDir(foreign); len(list) > 2 {
		t.Errorf("%d things in a folder that was refused", len(list))
	}
}

// What is damaged in the data folder is kept as it is and named, when it is kept and
// when it is restored.
func TestABackupFolderKeepsWhatIsDamaged(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p := mustPut(t, s, "photo")
	mustAppend(t, s, draft(id, 2, photoOf(p), note("words")))
	flipFile(t, s.photoPath(p.Hash), 0)
	s = changed(t, s, "UPDATE entries SET body = CAST(replace(CAST(body AS TEXT), '}', '') AS BLOB) WHERE seq = 4")
	dir, to := filepath.Join(t.TempDir(), "kept"), filepath.Join(t.TempDir(), "new")
	for range 2 {
		if k := mustKeep(t, s, dir, Protection{}); len(k.Problems) != 1 || !strings.Contains(k.Problems[0], p.Hash.String()) {
			t.Errorf("problems %v, want the photograph", k.Problems)
		}
	}
	r, err := Restore(ctx, dir, to, Opening{})
	all := strings.Join(r.Problems, " ")
	if err != nil || r.Entries != 4 || r.Photographs != 1 || !strings.Contains(all, p.Hash.String()) ||
		!strings.Contains(all, "entry 4 ") {
		t.Errorf("restored %+v, %v", r, err)
	}
}

// Wherever one bit of a backup folder is flipped, all that the bit is not in comes
// back, and what it is in is named.
func TestABackupFolderWithAFlippedBitGivesBackTheRest(t *testing.T) {
	for name, p := range map[string]Protection{"plain": {}, "encrypted": sealedBy(t)} {
		t.Run(name, func(t *testing.T) {
			s := opened(t)
			dir := filepath.Join(t.TempDir(), "kept")
			for i := range 3 {
				id := newCase(t, s)
				ph := mustPut(t, s, strings.Repeat(fmt.Sprint("photograph ", i), 2000))
				mustAppend(t, s, draft(id, 2, photoOf(ph), note(strings.Repeat(fmt.Sprint("words of case ", i), 20))))
				mustKeep(t, s, dir, p)
			}
			var paths []string
			for path := range sizes(t, dir) {
				if filepath.Base(path) != setLockName {
					paths = append(paths, path)
				}
			}
			r := rand.New(rand.NewPCG(5, 6))
			for range flips(t, 4) {
				for _, path := range paths {
					info, err := os.Stat(path)
					if err != nil {
						t.Fatal(err)
					}
					flipIn(t, dir, path, r.Int64N(info.Size()), p)
				}
			}
		})
	}
}

// flipIn restores a backup with one byte of a file changed, and changes it back.
func flipIn(t *testing.T, dir, path string, at int64, p Protection) {
	t.Helper()
	flipFile(t, path, at)
	defer flipFile(t, path, at)
	to := filepath.Join(t.TempDir(), "new")
	r, err := Restore(ctx, dir, to, Opening{Passphrase: phrase})
	if err != nil {
		t.Errorf("%s, byte %d: %v", path, at, err)
		return
	}
	rel, _ := filepath.Rel(dir, path)
	folder, _, _ := strings.Cut(filepath.ToSlash(rel), "/")
	// Each run brought one case, one segment and one photograph: no more is lost.
	least := map[string][3]int{segmentsDir: {2, 8, 3}, photosDir: {3, 12, 2}}
	want, ok := least[folder]
	if !ok {
		want = [3]int{3, 12, 3}
	}
	if r.Cases < want[0] || r.Entries < want[1] || r.Photographs < want[2] {
		t.Errorf("%s, byte %d: %+v, want at least %v of cases, entries and photographs", path, at, r, want)
	}
	// benchleaf-backup.json is not needed to restore.
	if r.Clean() && folder != setName {
		t.Errorf("%s, byte %d: nothing was named", path, at)
	}
}

// A backup of which a run was lost is made whole by the next.
func TestABackupFolderMendsItself(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p := mustPut(t, s, "photo")
	mustAppend(t, s, draft(id, 2, photoOf(p)))
	dir := filepath.Join(t.TempDir(), "kept")
	mustKeep(t, s, dir, Protection{})
	mustAppend(t, s, draft(id, 3, note("more")))
	mustKeep(t, s, dir, Protection{})
	if err := os.RemoveAll(filepath.Join(dir, segmentsDir)); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(dir, filepath.FromSlash(runName(1)))); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(dir, filepath.FromSlash(fileMember(Photograph, p.Hash)))); err != nil {
		t.Fatal(err)
	}
	if k := mustKeep(t, s, dir, Protection{}); k.Entries != 4 || k.Files != 1 || len(k.Problems) != 1 {
		t.Errorf("%+v, want all entries and the photograph once more", k)
	}
	r, err := Restore(ctx, dir, filepath.Join(t.TempDir(), "new"), Opening{})
	if err != nil || r.Entries != 4 || r.Photographs != 1 {
		t.Errorf("restored %+v, %v", r, err)
	}
}

// An entry lost from the end of a backup's segments is named by its runs.
func TestABackupFolderCutShortIsNamed(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	dir := filepath.Join(t.TempDir(), "kept")
	mustKeep(t, s, dir, Protection{})
	mustAppend(t, s, draft(id, 2, note("last")))
	mustKeep(t, s, dir, Protection{})
	if err := os.Remove(filepath.Join(dir, filepath.FromSlash(segmentName(2)))); err != nil {
		t.Fatal(err)
	}
	r, err := Restore(ctx, dir, filepath.Join(t.TempDir(), "new"), Opening{})
	if err != nil || r.Entries != 2 || !strings.Contains(strings.Join(r.Problems, " "), "entry 3 is lost from its end") {
		t.Errorf("restored %+v, %v; want entry 3 named", r, err)
	}
}
