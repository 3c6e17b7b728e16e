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
	"sync"

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
	p, err := s.putPhoto(ctx, r, limit)
	if _, refusal := record.Refusals(err); err != nil && !refusal {
		return Photo{}, fmt.Errorf("save the photograph: %w", plain(err))
	}
	return p, err
}

func (s *Store) putPhoto(ctx context.Context, r io.Reader, limit int64) (Photo, error) {
	temp, err := os.CreateTemp(filepath.Join(s.dir, tempDir), "photograph-*")
	if err != nil {
		return Photo{}, err
	}
	defer os.Remove(temp.Name()) // gone already when all went well
	defer temp.Close()
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(temp, sum), io.LimitReader(&ctxReader{ctx, r}, limit+1))
	switch {
	case err != nil:
		return Photo{}, err
	case n == 0:
		return Photo{}, record.Invalidf(
			"photo",
			"The file is empty (0 bytes): take the photograph again or choose another file.",
		)
	case n > limit:
		return Photo{}, record.Invalidf("photo", "The file is larger than %d MB: send a smaller photograph.", limit>>20)
	}
	p := Photo{Bytes: n}
	sum.Sum(p.Hash[:0])
	if err := errors.Join(temp.Sync(), temp.Chmod(0o400), temp.Close()); err != nil {
		return Photo{}, err
	}
	if p.Existed, err = s.place(temp.Name(), p.Hash); err != nil {
		return Photo{}, err
	}
	// The name lives in the folder, and a new folder's name in its parent.
	// Also for one that was there: who stored it may not have come so far.
	shard := filepath.Dir(s.photoPath(p.Hash))
	return p, errors.Join(syncDir(shard), syncDir(filepath.Dir(shard)))
}

// place gives a whole file its name, unless a whole one has it already.
func (s *Store) place(temp string, h record.Hash) (existed bool, err error) {
	path := s.photoPath(h)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return false, err
	}
	damaged := false
	if s.hasPhoto(h) {
		got, err := hashFile(context.Background(), path)
		damaged = err != nil || got != h
	}
	s.fresh.mu.Lock()
	defer s.fresh.mu.Unlock()
	existed = s.hasPhoto(h)
	switch {
	case existed && !damaged:
		delete(s.fresh.photos, h)
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
	if !existed {
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
		os.Remove(filepath.Join(s.dir, tempDir, e.Name()))
	}
}

// photosIn walks the stored photographs. Files with other names, which systems
// like to leave in folders, are counted and passed over.
func (s *Store) photosIn(visit func(h record.Hash, path string, size int64) error) (others int, err error) {
	err = filepath.WalkDir(filepath.Join(s.dir, photosDir), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		h, err := record.ParseHash(d.Name())
		if err != nil || path != s.photoPath(h) {
			others++
			return nil
		}
		info, err := d.Info()
		if errors.Is(err, fs.ErrNotExist) {
			return nil // dropped a moment ago
		}
		if err != nil {
			return err
		}
		return visit(h, path, info.Size())
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
