package store

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"benchleaf/internal/record"
)

const (
	photosDir  = "photographs"
	tempDir    = "incoming"
	derivedDir = "cache"
)

// Photo is a photograph as stored.
type Photo struct {
	Hash  record.Hash
	Bytes int64
	// Existed says that the very same file was there before.
	Existed bool
}

func (s *Store) photoPath(h record.Hash) string {
	name := h.String()
	return filepath.Join(s.dir, photosDir, name[:2], name)
}

func (s *Store) hasPhoto(h record.Hash) bool {
	info, err := os.Stat(s.photoPath(h))
	return err == nil && info.Mode().IsRegular()
}

// PutPhoto stores a photograph bit for bit under the SHA-256 of its bytes. It
// returns when the file is safe on disk: written under a temporary name,
// synced, renamed, its folder synced. An empty file and one of more than limit
// bytes are refused, and nothing of them stays.
func (s *Store) PutPhoto(ctx context.Context, r io.Reader, limit int64) (Photo, error) {
	temp, err := os.CreateTemp(filepath.Join(s.dir, tempDir), "photograph-*")
	if err != nil {
		return Photo{}, fmt.Errorf("begin to save the photograph: %w", plain(err))
	}
	defer os.Remove(temp.Name()) // gone already when all went well
	defer temp.Close()
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(temp, sum), io.LimitReader(&ctxReader{ctx, r}, limit+1))
	switch {
	case err != nil:
		return Photo{}, fmt.Errorf("save the photograph: %w", plain(err))
	case n == 0:
		return Photo{}, record.Invalidf("photo", "The file is empty (0 bytes): take the photograph again or choose another file.")
	case n > limit:
		return Photo{}, record.Invalidf("photo", "The file is larger than %d MB: send a smaller photograph.", limit>>20)
	}
	p := Photo{Bytes: n}
	sum.Sum(p.Hash[:0])
	if s.hasPhoto(p.Hash) {
		p.Existed = true
		return p, nil
	}
	if err := errors.Join(temp.Sync(), temp.Chmod(0o400), temp.Close()); err != nil {
		return Photo{}, fmt.Errorf("save the photograph: %w", plain(err))
	}
	path := s.photoPath(p.Hash)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return Photo{}, fmt.Errorf("save the photograph: %w", plain(err))
	}
	if err := os.Rename(temp.Name(), path); err != nil {
		return Photo{}, fmt.Errorf("save the photograph: %w", plain(err))
	}
	// The name lives in the folder, and a new folder's name in its parent.
	if err := errors.Join(syncDir(filepath.Dir(path)), syncDir(filepath.Dir(filepath.Dir(path)))); err != nil {
		return Photo{}, fmt.Errorf("save the photograph: %w", plain(err))
	}
	return p, nil
}

// ctxReader stops reading when its context ends.
type ctxReader struct {
	ctx context.Context
	r   io.Reader
}

func (r *ctxReader) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.r.Read(p)
}

// OpenPhoto opens a stored photograph; ErrNotFound when it is not there.
func (s *Store) OpenPhoto(h record.Hash) (*os.File, error) { return open(s.photoPath(h)) }

func open(path string) (*os.File, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNotFound
	}
	return f, err
}

// PutDerived keeps something made from a photograph, such as a size for the
// screen. It is a cache: it may be deleted, and is then made again.
func (s *Store) PutDerived(h record.Hash, name string, write func(io.Writer) error) error {
	path := s.derivedPath(h, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return plain(err)
	}
	temp, err := os.CreateTemp(filepath.Join(s.dir, tempDir), "derived-*")
	if err != nil {
		return plain(err)
	}
	defer os.Remove(temp.Name())
	defer temp.Close()
	if err := errors.Join(write(temp), temp.Close()); err != nil {
		return plain(err)
	}
	return plain(os.Rename(temp.Name(), path))
}

// OpenDerived opens what PutDerived kept; ErrNotFound when it is not there.
func (s *Store) OpenDerived(h record.Hash, name string) (*os.File, error) {
	return open(s.derivedPath(h, name))
}

func (s *Store) derivedPath(h record.Hash, name string) string {
	return filepath.Join(s.dir, derivedDir, h.String()[:2], h.String(), filepath.Base(name))
}

// clearTemp removes what a killed process left half-written.
func (s *Store) clearTemp() {
	list, err := os.ReadDir(filepath.Join(s.dir, tempDir))
	if err != nil {
		return // it was made a moment ago; the next start looks again
	}
	for _, e := range list {
		os.Remove(filepath.Join(s.dir, tempDir, e.Name()))
	}
}

// photosIn walks the stored photographs.
func (s *Store) photosIn(visit func(name, path string, size int64) error) error {
	return filepath.WalkDir(filepath.Join(s.dir, photosDir), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		return visit(d.Name(), path, info.Size())
	})
}

// hashFile computes the SHA-256 of a file.
func hashFile(path string) (h record.Hash, err error) {
	f, err := os.Open(path)
	if err != nil {
		return h, err
	}
	defer f.Close()
	return hashOf(f)
}

func hashOf(r io.Reader) (h record.Hash, err error) {
	sum := sha256.New()
	_, err = io.Copy(sum, r)
	sum.Sum(h[:0])
	return h, err
}

// isFull recognises SQLite's codes for a disk that takes no more: SQLITE_FULL,
// and SQLITE_IOERR_WRITE, which it gives when a quota or limit is reached.
func isFull(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && (e.Code() == sqlite3.SQLITE_FULL || e.Code() == sqlite3.SQLITE_IOERR_WRITE)
}

// DropPhoto removes a photograph that was just stored and turned out to be no
// picture, unless it had been there before. Photographs that an entry names
// are never removed.
func (s *Store) DropPhoto(ctx context.Context, p Photo) error {
	if p.Existed {
		return nil
	}
	var named int
	err := s.read.QueryRowContext(ctx, "SELECT count(*) FROM entries WHERE kind IN ('photo', 'staple-mapped') AND instr(body, ?) > 0", []byte(p.Hash.String())).Scan(&named)
	if err != nil || named > 0 {
		return err
	}
	return os.Remove(s.photoPath(p.Hash))
}
