package store

import (
	"archive/zip"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// Backup writes the whole data folder into one new zip file while the bench
// goes on working: a consistent copy of the database, then every photograph
// (they are never changed, so later ones do no harm). The file appears only
// when it is whole. Beside it there must be room for the database once more.
func (s *Store) Backup(ctx context.Context, to string) error {
	if _, err := os.Lstat(to); err == nil {
		return errThere(to)
	}
	// Before the database, which may go on meanwhile and never goes back.
	said, err := s.testimony()
	if err != nil {
		return err
	}
	snapshot, err := s.snapshot(ctx, to)
	if err != nil {
		return err
	}
	defer os.Remove(snapshot)
	return writeWhole(to, func(w io.Writer) error {
		z := zip.NewWriter(w)
		// Not compressed, so that a damaged byte spoils one page and not all after it.
		if err := addFile(ctx, z, dbName, snapshot); err != nil {
			return err
		}
		if said != nil {
			w, err := z.Create(witnessName)
			if err == nil {
				_, err = w.Write(said.file())
			}
			if err != nil {
				return err
			}
		}
		for _, kind := range fileKinds {
			_, err := s.filesIn(kind, func(h record.Hash, file string) error {
				err := addFile(ctx, z, fileMember(kind, h), file)
				if errors.Is(err, fs.ErrNotExist) {
					return nil // dropped a moment ago
				}
				return err
			})
			if err != nil && !errors.Is(err, fs.ErrNotExist) { // no folder of them
				return err
			}
		}
		return z.Close()
	})
}

func errThere(to string) error {
	return record.Invalidf("file", "%s is there already: choose a new name, so that no earlier backup is lost.", to)
}

// fileMember is a file's name in a backup.
func fileMember(kind FileKind, h record.Hash) string {
	name := h.String()
	return path.Join(string(kind), name[:2], name)
}

// snapshot copies the database, as one moment saw it, to a file beside to.
func (s *Store) snapshot(ctx context.Context, to string) (name string, err error) {
	temp, err := os.CreateTemp(filepath.Dir(to), filepath.Base(to)+".database-*")
	if err != nil {
		return "", fmt.Errorf("%s cannot be written: %w", to, plain(err))
	}
	name = temp.Name()
	// VACUUM INTO takes an empty file for a new one.
	if err := temp.Close(); err != nil {
		return "", err
	}
	// A connection of its own: the readers may not write, not even a copy, and
	// the writer's would keep the bench waiting.
	path := filepath.Join(s.dir, dbName)
	var db *sql.DB
	if s.fixed {
		db, err = connectFixed(path, 1)
	} else {
		db, err = connect(path, 1, true)
	}
	if err == nil {
		_, err = db.ExecContext(ctx, "VACUUM INTO ?", name)
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		os.Remove(name)
		return "", fmt.Errorf("copy the database: %w", plain(err))
	}
	return name, nil
}

// writeWhole makes a file that is either there and whole, or not there.
func writeWhole(to string, write func(io.Writer) error) error {
	if err := writeNamed(to, write); err != nil {
		return err
	}
	return syncDir(filepath.Dir(to))
}

// writeNamed is writeWhole; the name of the file is not safe yet.
func writeNamed(to string, write func(io.Writer) error) error {
	temp, err := os.CreateTemp(filepath.Dir(to), filepath.Base(to)+".part-*")
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", to, plain(err))
	}
	defer os.Remove(temp.Name()) // gone already when all went well
	defer temp.Close()
	if err := write(temp); err != nil {
		return fmt.Errorf("write %s: %w", to, plain(err))
	}
	if err := errors.Join(temp.Sync(), temp.Close()); err != nil {
		return fmt.Errorf("write %s: %w", to, plain(err))
	}
	if err := os.Rename(temp.Name(), to); err != nil {
		return fmt.Errorf("write %s: %w", to, plain(err))
	}
	return nil
}

func addFile(ctx context.Context, z *zip.Writer, name, file string) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store, Modified: info.ModTime()})
	if err != nil {
		return err
	}
	_, err = io.Copy(w, &ctxReader{ctx, f})
	return err
}

// Restore unpacks a backup into a new data folder, then verifies it: what is not
// whole, in the backup or since before it was made, is in the report, and all else
// is there. A journal that is damaged comes back to be read: see
// record.Journal.Broken. Where nothing can be opened the folder is taken away again.
// From is a file or a backup folder; o opens one that is encrypted.
func Restore(ctx context.Context, from, dir string, o Opening) (report *Report, err error) {
	switch list, err := os.ReadDir(dir); {
	case err == nil && len(list) > 0:
		return nil, record.Invalidf("data", "%s is not empty: a backup is restored into a new folder.", dir)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("a backup is restored into a new folder, which %s cannot be: %w", dir, err)
	}
	info, err := os.Stat(from)
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return restoreSet(ctx, from, os.DirFS(from), dir, o)
	}
	z, err := zip.OpenReader(from)
	if err != nil {
		return nil, fmt.Errorf("%s is not a backup of benchleaf: %w", from, err)
	}
	defer z.Close()
	if isSet(z) {
		return restoreSet(ctx, from, z, dir, o)
	}
	members, problems, err := checkBackup(&z.Reader, uint64(info.Size()))
	if err != nil {
		return nil, fmt.Errorf("%s is not a backup of benchleaf: %w", from, err)
	}
	defer func() {
		if err != nil {
			os.RemoveAll(dir)
		}
	}()
	journalsDamaged := false
	said := &testimony{}
	for _, f := range members {
		if f.Name == witnessName {
			if said, err = readMemberWitness(f); err != nil {
				problems = append(problems, fmt.Sprintf("%s is damaged in the backup: %v.", f.Name, err))
			}
			continue
		}
		damage, err := restoreFile(ctx, f, dir)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", from, err)
		}
		if damage != nil {
			journalsDamaged = journalsDamaged || f.Name == dbName
			problems = append(problems, fmt.Sprintf("%s is damaged in the backup: %v.", f.Name, damage))
		}
	}
	s, err := openFolder(dir, true)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", strings.Join(append([]string{from}, problems...), ": "), err)
	}
	if journalsDamaged {
		_ = s.Reindex(ctx) // what it cannot do, Verify tells
	}
	problems = append(problems, s.lostSince(ctx, said.heads)...)
	report, err = s.Verify(ctx)
	if err == nil {
		report.Problems = append(problems, report.Problems...)
	}
	return report, errors.Join(err, s.Close())
}

// restoreSet is Restore for what BackupInto and BackupSealed wrote.
func restoreSet(ctx context.Context, from string, fsys fs.FS, dir string, o Opening) (report *Report, err error) {
	r := &setReader{fsys: fsys}
	if !isSet(fsys) {
		return nil, fmt.Errorf("%s is not a backup of benchleaf: it holds no %s", from, setName)
	}
	if err := r.unlock(o); err != nil {
		return nil, fmt.Errorf("%s: %w", from, err)
	}
	defer func() {
		if err != nil {
			os.RemoveAll(dir)
		}
	}()
	s, err := openFolder(dir, true)
	if err != nil {
		return nil, err
	}
	err = r.restoreInto(ctx, s)
	if err == nil {
		report, err = s.Verify(ctx)
	}
	if err == nil {
		report.Problems = append(r.problems, report.Problems...)
	}
	return report, errors.Join(err, s.Close())
}

// lostSince names what a restored folder lacks of what was acknowledged when the
// backup was made. The folder itself begins with a new witness and goes on.
func (s *Store) lostSince(ctx context.Context, heads map[record.CaseID]head) (problems []string) {
	for _, id := range slices.Sorted(maps.Keys(heads)) {
		if d := lostOf(ctx, s.read, id, heads[id], 0); d != nil {
			problems = append(problems, words.English.Upper(d.Error())+".")
		}
	}
	return problems
}

// readMemberWitness reads the witness of a backup.
func readMemberWitness(f *zip.File) (*testimony, error) {
	r, err := f.Open()
	if err != nil {
		return &testimony{}, err
	}
	defer r.Close()
	raw, err := io.ReadAll(r)
	t := parseWitness(raw)
	if err == nil && len(t.damage) > 0 {
		err = errors.New(t.damage[0])
	}
	return t, err
}

// checkBackup looks, before anything is written, whether a zip is a backup. What
// does not belong in one is passed over and named: no path is made of its name.
func checkBackup(z *zip.Reader, size uint64) (members []*zip.File, problems []string, err error) {
	if err := unfolds(z, size); err != nil {
		return nil, nil, err
	}
	seen := map[string]bool{}
	for _, f := range z.File {
		h, err := record.ParseHash(path.Base(f.Name))
		isFile := err == nil && slices.ContainsFunc(fileKinds, func(k FileKind) bool { return f.Name == fileMember(k, h) })
		switch {
		case f.Name != dbName && f.Name != witnessName && !isFile:
			problems = append(problems, fmt.Sprintf("The member %q does not belong in a backup, or its name is damaged: "+
				"it was passed over.", strings.ToValidUTF8(f.Name, "?")))
			continue
		case seen[f.Name]:
			return nil, nil, record.Invalidf("file", "it holds %s twice", f.Name)
		}
		seen[f.Name] = true
		members = append(members, f)
	}
	if !seen[dbName] {
		return nil, nil, record.Invalidf("file", "it holds no %s", dbName)
	}
	return members, problems, nil
}

// unfolds refuses a zip of so many bytes whose members would unfold to far more
// than journals, databases and pictures do: text and databases shrink to a
// twentieth, pictures hardly. The reader of the zip holds members to the sizes
// that they state.
func unfolds(z *zip.Reader, size uint64) error {
	const times, grace = 200, 1 << 20
	var packed, unpacked uint64
	for _, f := range z.File {
		for _, n := range []uint64{f.CompressedSize64, f.UncompressedSize64} {
			if n > times*size+grace {
				return tooLarge
			}
		}
		packed += f.CompressedSize64
		unpacked += f.UncompressedSize64
		if packed > size || unpacked > times*size+grace {
			return tooLarge
		}
	}
	return nil
}

var tooLarge = record.Invalidf("file", "The zip would unfold to far more than its own size.")

// restoreFile writes one member under its name, which checkBackup has seen. Where
// the zip cannot give all of it as it was, damage says why, and what came is kept:
// a picture with a spoilt byte is still a picture.
func restoreFile(ctx context.Context, f *zip.File, dir string) (damage, err error) {
	to := filepath.Join(dir, filepath.FromSlash(f.Name))
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return nil, plain(err)
	}
	r, err := f.Open()
	if err != nil {
		return err, nil
	}
	defer r.Close()
	in := &untilBad{r: r}
	err = writeWhole(to, func(w io.Writer) error {
		_, err := io.Copy(w, &ctxReader{ctx, in})
		return err
	})
	if err != nil || f.Name == dbName {
		return in.err, err
	}
	return in.err, os.Chmod(to, 0o400)
}

// untilBad reads to the end or to the first error, which it keeps.
type untilBad struct {
	r   io.Reader
	err error
}

func (u *untilBad) Read(p []byte) (int, error) {
	n, err := u.r.Read(p)
	if err != nil && err != io.EOF {
		u.err, err = err, io.EOF
	}
	return n, err
}
