package store

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"benchleaf/internal/record"
)

// FileKind is what a stored file is, and the folder in which it lies.
type FileKind string

const (
	Photograph FileKind = "photographs"
	// Issued is a paper as it was handed out.
	Issued FileKind = "papers"
	// Imported is a document that came from outside.
	Imported FileKind = "documents"
)

// fileKinds are all kinds: each is verified and backed up in the same way.
var fileKinds = []FileKind{Photograph, Issued, Imported}

const (
	photosDir  = string(Photograph)
	tempDir    = "incoming"
	derivedDir = "cache"
)

// File is a file as stored.
type File struct {
	Kind  FileKind
	Hash  record.Hash
	Bytes int64
	// Existed says that the very same file was there before.
	Existed bool
}

// Photo is a photograph as stored.
type Photo struct {
	Hash  record.Hash
	Bytes int64
	// Existed says that the very same file was there before.
	Existed bool
}

func (s *Store) filePath(kind FileKind, h record.Hash) string {
	name := h.String()
	return filepath.Join(s.dir, string(kind), name[:2], name)
}

func (s *Store) hasFile(kind FileKind, h record.Hash) bool {
	info, err := os.Stat(s.filePath(kind, h))
	return err == nil && info.Mode().IsRegular()
}

func (s *Store) photoPath(h record.Hash) string { return s.filePath(Photograph, h) }

func (s *Store) hasPhoto(h record.Hash) bool { return s.hasFile(Photograph, h) }

// fresh holds the photographs that this process stored and that nothing relies
// on yet: no entry names them, nobody sent them again.
type fresh struct {
	mu     sync.Mutex
	photos map[record.Hash]bool
}

// claimPhoto says whether a photograph is there, and keeps it from being
// dropped: an entry is about to name it.
func (s *Store) claimPhoto(h record.Hash) bool {
	s.fresh.mu.Lock()
	defer s.fresh.mu.Unlock()
	delete(s.fresh.photos, h)
	return s.hasPhoto(h)
}

// DropPhoto removes a photograph that was just stored and turned out to be no
// picture. One that an entry names, or that somebody else sent too, stays.
func (s *Store) DropPhoto(_ context.Context, p Photo) error {
	s.fresh.mu.Lock()
	defer s.fresh.mu.Unlock()
	if p.Existed || !s.fresh.photos[p.Hash] {
		return nil
	}
	delete(s.fresh.photos, p.Hash)
	return os.Remove(s.photoPath(p.Hash))
}

// PutPhoto stores a photograph bit for bit under the SHA-256 of its bytes. It
// returns when the file is safe on disk: written under a temporary name,
// synced, renamed, its folder synced. An empty file and one of more than limit
// bytes are refused, and nothing of them stays. One that is there already is
// kept, or, when its bytes no longer match its name, replaced by the sound one.
func (s *Store) PutPhoto(ctx context.Context, r io.Reader, limit int64) (Photo, error) {
	f, err := s.putFile(ctx, Photograph, r, limit)
	if _, refusal := record.Refusals(err); err != nil && !refusal {
		return Photo{}, fmt.Errorf("save the photograph: %w", plain(err))
	}
	return Photo{f.Hash, f.Bytes, f.Existed}, err
}

// PutFile stores a file of a kind as PutPhoto does a photograph.
func (s *Store) PutFile(ctx context.Context, kind FileKind, r io.Reader, limit int64) (File, error) {
	if s.lock == nil {
		return File{}, ErrClosed
	}
	f, err := s.putFile(ctx, kind, r, limit)
	if _, refusal := record.Refusals(err); err != nil && !refusal {
		return File{}, fmt.Errorf("save the file: %w", plain(err))
	}
	return f, err
}

// OpenFile opens a stored file; ErrNotFound when it is not there.
func (s *Store) OpenFile(kind FileKind, h record.Hash) (*os.File, error) {
	return open(s.filePath(kind, h))
}

func (s *Store) putFile(ctx context.Context, kind FileKind, r io.Reader, limit int64) (File, error) {
	temp, err := os.CreateTemp(filepath.Join(s.dir, tempDir), string(kind)+"-*")
	if err != nil {
		return File{}, err
	}
	defer os.Remove(temp.Name()) // gone already when all went well
	defer temp.Close()
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(temp, sum), io.LimitReader(&ctxReader{ctx, r}, limit+1))
	switch {
	case err != nil:
		return File{}, err
	case n == 0 && kind == Photograph:
		return File{}, record.Invalidf(
			"photo",
			"The file is empty (0 bytes): take the photograph again or choose another file.",
		)
	case n == 0:
		return File{}, record.Invalidf("file", "The file is empty (0 bytes).")
	case n > limit && kind == Photograph:
		return File{}, record.Invalidf("photo", "The file is larger than %d MB: send a smaller photograph.", limit>>20)
	case n > limit:
		return File{}, record.Invalidf("file", "The file is larger than %d MB.", limit>>20)
	}
	f := File{Kind: kind, Bytes: n}
	sum.Sum(f.Hash[:0])
	if err := errors.Join(temp.Sync(), temp.Chmod(0o400), temp.Close()); err != nil {
		return File{}, err
	}
	if f.Existed, err = s.place(temp.Name(), kind, f.Hash); err != nil {
		return File{}, err
	}
	// The name lives in the folder, and a new folder's name in its parents.
	// Also for one that was there: who stored it may not have come so far.
	shard := filepath.Dir(s.filePath(kind, f.Hash))
	return f, errors.Join(syncDir(shard), syncDir(filepath.Dir(shard)), syncDir(s.dir))
}

// place gives a whole file its name, unless a whole one has it already.
func (s *Store) place(temp string, kind FileKind, h record.Hash) (existed bool, err error) {
	path := s.filePath(kind, h)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return false, err
	}
	damaged := false
	if s.hasFile(kind, h) {
		got, err := hashFile(context.Background(), path)
		damaged = err != nil || got != h
	}
	s.fresh.mu.Lock()
	defer s.fresh.mu.Unlock()
	existed = s.hasFile(kind, h)
	switch {
	case existed && !damaged:
		if kind == Photograph {
			delete(s.fresh.photos, h)
		}
		return true, nil
	case existed:
		// Windows replaces no file that is read-only.
		if err := os.Chmod(path, 0o600); err != nil {
			return true, err
		}
	}
	if err := os.Rename(temp, path); err != nil {
		return existed, err
	}
	if !existed && kind == Photograph { // alone may be dropped again
		if s.fresh.photos == nil {
			s.fresh.photos = map[record.Hash]bool{}
		}
		s.fresh.photos[h] = true
	}
	return existed, nil
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
	temp, err := os.CreateTemp(filepath.Join(s.madeDir(), tempDir), "derived-*")
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

// madeDir is where what is made from photographs can be kept.
func (s *Store) madeDir() string {
	if s.made != "" {
		return s.made
	}
	return s.dir
}

func (s *Store) derivedPath(h record.Hash, name string) string {
	return filepath.Join(s.madeDir(), derivedDir, h.String()[:2], h.String(), filepath.Base(name))
}

// clearTemp removes what a killed process left half-written.
func (s *Store) clearTemp() {
	list, err := os.ReadDir(filepath.Join(s.dir, tempDir))
	if err != nil {
		return // it was made a moment ago; the next start looks again
	}
	for _, e := range list {
		os.RemoveAll(filepath.Join(s.dir, tempDir, e.Name()))
	}
}

// filesIn walks the stored files of a kind. Files with other names, which systems
// like to leave in folders, are counted and passed over.
func (s *Store) filesIn(kind FileKind, visit func(h record.Hash, path string) error) (others int, err error) {
	err = filepath.WalkDir(filepath.Join(s.dir, string(kind)), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		h, err := record.ParseHash(d.Name())
		if err != nil || path != s.filePath(kind, h) {
			others++
			return nil
		}
		return visit(h, path)
	})
	return others, err
}

// hashFile computes the SHA-256 of a file.
func hashFile(ctx context.Context, path string) (h record.Hash, err error) {
	f, err := os.Open(path)
	if err != nil {
		return h, err
	}
	defer f.Close()
	return hashOf(&ctxReader{ctx, f})
}

func hashOf(r io.Reader) (h record.Hash, err error) {
	sum := sha256.New()
	_, err = io.Copy(sum, r)
	sum.Sum(h[:0])
	return h, err
}

// counted counts and hashes what is written to it.
type counted struct {
	n   int64
	sum hash.Hash
}

func (c *counted) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return c.sum.Write(p)
}

func (c *counted) hash() (h record.Hash) {
	c.sum.Sum(h[:0])
	return h
}
