package store

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"

	"benchleaf/internal/record"
)

// Backup writes the whole data folder into one new zip file while the bench
// goes on working: a consistent copy of the database, then every photograph
// (they are never changed, so later ones do no harm). The file appears only
// when it is whole.
func (s *Store) Backup(ctx context.Context, to string) error {
	if _, err := os.Lstat(to); err == nil {
		return record.Invalidf("file", "%s is there already: choose a new name, so that no earlier backup is lost.", to)
	}
	snapshot, err := s.snapshot(ctx)
	if err != nil {
		return err
	}
	defer os.Remove(snapshot)
	return writeWhole(to, func(w io.Writer) error {
		z := zip.NewWriter(w)
		if err := addFile(z, dbName, snapshot, zip.Deflate); err != nil {
			return err
		}
		err := s.photosIn(func(name, file string, _ int64) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return addFile(z, path.Join(photosDir, name[:2], name), file, zip.Store)
		})
		return errors.Join(err, z.Close())
	})
}

// snapshot copies the database as one moment saw it.
func (s *Store) snapshot(ctx context.Context) (string, error) {
	temp, err := os.CreateTemp(filepath.Join(s.dir, tempDir), "snapshot-*")
	if err != nil {
		return "", plain(err)
	}
	name := temp.Name()
	temp.Close()
	os.Remove(name) // VACUUM INTO wants to make the file itself
	// A connection of its own: the readers may not write, not even a copy, and
	// the writer's would keep the bench waiting.
	db, err := connect(filepath.Join(s.dir, dbName), 1, true)
	if err != nil {
		return "", err
	}
	defer db.Close()
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", name); err != nil {
		return "", fmt.Errorf("copy the database: %w", plain(err))
	}
	return name, nil
}

// writeWhole makes a file that is either there and whole, or not there.
func writeWhole(to string, write func(io.Writer) error) error {
	temp, err := os.CreateTemp(filepath.Dir(to), filepath.Base(to)+".part-*")
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", to, plain(err))
	}
	defer os.Remove(temp.Name())
	defer temp.Close()
	if err := write(temp); err != nil {
		return fmt.Errorf("write %s: %w", to, plain(err))
	}
	if err := errors.Join(temp.Sync(), temp.Close()); err != nil {
		return fmt.Errorf("write %s: %w", to, plain(err))
	}
	if err := os.Rename(temp.Name(), to); err != nil {
		return plain(err)
	}
	return syncDir(filepath.Dir(to))
}

func addFile(z *zip.Writer, name, file string, method uint16) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method})
	if err != nil {
		return err
	}
	_, err = io.Copy(w, f)
	return err
}

// Restore unpacks a backup into a new data folder, then verifies it. On any
// failure the folder is taken away again.
func Restore(ctx context.Context, from, dir string) (report *Report, err error) {
	if list, err := os.ReadDir(dir); err == nil && len(list) > 0 {
		return nil, record.Invalidf("data", "%s is not empty: a backup is restored into a new folder.", dir)
	}
	z, err := zip.OpenReader(from)
	if err != nil {
		return nil, fmt.Errorf("%s is not a backup of benchleaf: %w", from, err)
	}
	defer z.Close()
	defer func() {
		if err != nil {
			os.RemoveAll(dir)
		}
	}()
	for _, f := range z.File {
		if err := restoreFile(f, dir); err != nil {
			return nil, fmt.Errorf("%s: %w", from, err)
		}
	}
	s, err := Open(dir)
	if err != nil {
		return nil, err
	}
	report, err = s.Verify(ctx)
	return report, errors.Join(err, s.Close())
}

// restoreFile writes one member, if its name is one that a backup has.
func restoreFile(f *zip.File, dir string) error {
	to := filepath.Join(dir, dbName)
	if f.Name != dbName {
		name := path.Base(f.Name)
		if _, err := record.ParseHash(name); err != nil || f.Name != path.Join(photosDir, name[:2], name) {
			return record.Invalidf("file", "the member %q does not belong in a backup", strings.ToValidUTF8(f.Name, "?"))
		}
		to = filepath.Join(dir, photosDir, name[:2], name)
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return plain(err)
	}
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close()
	return writeWhole(to, func(w io.Writer) error {
		_, err := io.Copy(w, r)
		return err
	})
}
