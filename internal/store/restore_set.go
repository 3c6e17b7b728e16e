package store

import (
	"bufio"
	"context"
	"crypto/sha256"
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

	"filippo.io/age"

	"benchleaf/internal/record"
)

// setReader reads a backup folder, or a zip file that holds the same.
type setReader struct {
	fsys fs.FS
	keys []age.Identity
	// Problems are sentences on what is not whole in the backup.
	problems []string
	said     map[string]bool
}

// problemsMost bounds what is said of one file.
const problemsMost = 5

// say says something once, however often it is met.
func (r *setReader) say(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if r.said == nil {
		r.said = map[string]bool{}
	}
	if !r.said[text] {
		r.said[text], r.problems = true, append(r.problems, text)
	}
}

// isSet says whether there is a backup of this kind, whichever of its parts is
// damaged.
func isSet(fsys fs.FS) bool {
	for _, name := range []string{setName, segmentsDir, runsDir} {
		if _, err := fs.Stat(fsys, name); err == nil {
			return true
		}
	}
	return false
}

// maxRunBytes bounds what is read at once of a file that tells what a run wrote.
const maxRunBytes = 512 << 20

// names lists the files below a folder of the backup, in order. What is no ordinary
// file was put there by somebody: a link may lead to what has no end.
func (r *setReader) names(dir string) (names []string) {
	fs.WalkDir(r.fsys, dir, func(name string, e fs.DirEntry, err error) error {
		if err != nil {
			if !errors.Is(err, fs.ErrNotExist) {
				r.say("%s of the backup cannot be read: %v.", name, err)
			}
			return fs.SkipDir
		}
		switch {
		case e.IsDir() || strings.Contains(path.Base(name), ".part-"):
		case !e.Type().IsRegular():
			r.say("%s of the backup is a link or another thing that is no file: it was passed over.", name)
		default:
			names = append(names, name)
		}
		return nil
	})
	slices.Sort(names)
	return names
}

// unlock finds the keys of an encrypted backup; one that is not encrypted needs
// none.
func (r *setReader) unlock(o Opening) error {
	sealed := slices.ContainsFunc(r.names(segmentsDir), func(n string) bool { return strings.HasSuffix(n, sealedSuffix) })
	for _, kind := range fileKinds {
		if !sealed {
			sealed = slices.ContainsFunc(r.names(string(kind)), func(n string) bool {
				return strings.HasSuffix(n, sealedSuffix)
			})
		}
	}
	if !sealed {
		return nil
	}
	var locked [][]byte
	for _, name := range lockedNames {
		if raw, err := r.read(name, maxLineBytes); err == nil {
			locked = append(locked, raw)
		}
	}
	if len(locked) == 2 && string(locked[0]) != string(locked[1]) {
		r.say("One of %s and %s, which hold the same key, is damaged.", lockedNames[0], lockedNames[1])
	}
	var err error
	r.keys, err = o.identities(locked)
	return err
}

// open reads one file, decrypted.
func (r *setReader) open(name string) (io.ReadCloser, error) {
	f, err := r.fsys.Open(name)
	if err != nil || !strings.HasSuffix(name, sealedSuffix) {
		return f, err
	}
	in, err := age.Decrypt(bufio.NewReader(f), r.keys...)
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return struct {
		io.Reader
		io.Closer
	}{in, f}, nil
}

// restoreInto fills a new data folder: every entry and file that can be read.
func (r *setReader) restoreInto(ctx context.Context, s *Store) error {
	if err := r.entries(ctx, s); err != nil {
		return err
	}
	for _, kind := range fileKinds {
		if err := r.files(ctx, s, kind); err != nil {
			return err
		}
	}
	r.problems = append(r.problems, s.lostSince(ctx, r.heads())...)
	return nil
}

// heads is where the journals ended, as the runs tell.
func (r *setReader) heads() map[record.CaseID]head {
	heads := map[record.CaseID]head{}
	for _, name := range r.names(runsDir) {
		run, err := r.run(name)
		if err != nil {
			r.say("%s of the backup is damaged: %v. What it added is restored; whether that is all cannot be told.", name, err)
			continue
		}
		for _, j := range run.Heads {
			if heads[j.Case].Seq < j.Seq {
				heads[j.Case] = head{j.Seq, j.Hash}
			}
		}
	}
	return heads
}

func (r *setReader) run(name string) (run setRun, err error) {
	raw, err := r.read(name, maxRunBytes)
	if err == nil {
		run, err = parseRun[setRun](raw)
	}
	return run, err
}

var errNoFile = errors.New("it is no file of a backup")

// read reads a file that has at most so many bytes.
func (r *setReader) read(name string, most int64) ([]byte, error) {
	info, err := fs.Stat(r.fsys, name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > most {
		return nil, errNoFile
	}
	return fs.ReadFile(r.fsys, name)
}

// entries takes over every entry of every segment. One that is not sound is taken
// in the end, where no sound copy of it came: it is then shown as damaged.
func (r *setReader) entries(ctx context.Context, s *Store) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return plain(err)
	}
	defer tx.Rollback()
	into, err := tx.PrepareContext(ctx,
		"INSERT OR IGNORE INTO entries ("+entryColumns+") VALUES (?,?,?,?,?,?,?,?,?,?,?,?)")
	if err != nil {
		return err
	}
	defer into.Close()
	var spoilt []record.Entry
	for _, name := range r.names(segmentsDir) {
		more, err := r.segment(ctx, name, into)
		if err != nil {
			return err
		}
		spoilt = append(spoilt, more...)
	}
	for i := range spoilt {
		if err := insertInto(into, &spoilt[i]); err != nil {
			return plain(err)
		}
	}
	if err := tx.Commit(); err != nil {
		return plain(err)
	}
	heads := ends(ctx, s.write, nil)
	maps.DeleteFunc(heads, func(id record.CaseID, h head) bool { return !soundEnd(ctx, s.write, id, h.Seq) })
	if err := s.witness.put(heads); err != nil {
		return plain(err)
	}
	s.cache.clear()
	_ = s.Reindex(ctx) // what it cannot do, Verify tells
	return ctx.Err()
}

// segment takes over the sound entries of a segment, and returns those that are
// entries and not sound.
func (r *setReader) segment(ctx context.Context, name string, into *sql.Stmt) (spoilt []record.Entry, err error) {
	f, err := r.open(name)
	if err != nil {
		r.say("%s of the backup cannot be read, and with it its entries: %v.", name, err)
		return nil, nil
	}
	defer f.Close()
	in := &untilBad{r: f}
	lines := bufio.NewScanner(&ctxReader{ctx, in})
	lines.Buffer(make([]byte, 0, 64<<10), maxLineBytes)
	bad, n := 0, 0
	for lines.Scan() {
		n++
		e, err := readEntry(lines.Bytes())
		_, wrong := record.ParseCaseID(string(e.Case))
		if err = errors.Join(err, wrong); err != nil || e.Seq < 1 {
			if bad++; bad <= problemsMost {
				r.say("%s of the backup, line %d, is no entry any more.", name, n)
			}
			continue
		}
		if e.Sum() != e.Hash {
			spoilt = append(spoilt, e)
			continue
		}
		if err := insertInto(into, &e); err != nil {
			return nil, plain(err)
		}
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err := errors.Join(in.err, lines.Err()); err != nil {
		r.say("%s of the backup is damaged after its line %d: %v.", name, n, err)
	}
	if bad > problemsMost {
		r.say("%s of the backup: %d more lines are no entries any more.", name, bad-problemsMost)
	}
	return spoilt, nil
}

// files takes over the files of one kind; a spoilt one only where no sound one is.
func (r *setReader) files(ctx context.Context, s *Store, kind FileKind) error {
	names := r.names(string(kind))
	// The sound ones first.
	slices.SortStableFunc(names, func(a, b string) int {
		return strings.Count(a, spoiltSuffix) - strings.Count(b, spoiltSuffix)
	})
	for _, name := range names {
		h, err := record.ParseHash(strings.TrimSuffix(strings.TrimSuffix(path.Base(name), sealedSuffix), spoiltSuffix))
		if err != nil || !strings.HasPrefix(name, fileMember(kind, h)) {
			r.say("%q does not belong in a backup, or its name is damaged: it was passed over.", name)
			continue
		}
		if s.hasFile(kind, h) {
			continue
		}
		if err := r.file(ctx, s, kind, h, name); err != nil {
			return err
		}
	}
	return nil
}

func (r *setReader) file(ctx context.Context, s *Store, kind FileKind, h record.Hash, name string) error {
	f, err := r.open(name)
	if err != nil {
		r.say("%s of the backup cannot be read: %v.", name, err)
		return nil
	}
	defer f.Close()
	in := &untilBad{r: f}
	c := &counted{sum: sha256.New()}
	to := s.filePath(kind, h)
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return plain(err)
	}
	err = writeWhole(to, func(w io.Writer) error {
		_, err := io.Copy(io.MultiWriter(w, c), &ctxReader{ctx, in})
		return err
	})
	if err == nil {
		err = os.Chmod(to, 0o400)
	}
	if err == nil && c.n == 0 {
		err = os.Remove(to) // nothing of it came
	}
	if err != nil {
		return plain(err)
	}
	if in.err != nil {
		r.say("%s of the backup is damaged: %v.", name, in.err)
	}
	return nil
}

func (r *setReader) hash(ctx context.Context, name string) (h record.Hash, err error) {
	info, err := fs.Stat(r.fsys, name)
	if err != nil {
		return h, err
	}
	if !info.Mode().IsRegular() {
		return h, errNoFile
	}
	f, err := r.fsys.Open(name)
	if err != nil {
		return h, err
	}
	defer f.Close()
	return hashOf(&ctxReader{ctx, f})
}

// CheckBackup reads a backup folder without a key and says which of its files are
// not as they were written.
func CheckBackup(ctx context.Context, dir string) (files int, problems []string, err error) {
	r := &setReader{fsys: os.DirFS(dir)}
	if !isSet(r.fsys) {
		return 0, nil, fmt.Errorf("there is no backup in %s", dir)
	}
	for _, name := range r.names(runsDir) {
		run, err := r.run(name)
		if err != nil {
			r.say("%s of the backup is damaged: %v.", name, err)
			continue
		}
		for _, f := range run.Stored {
			got, err := r.hash(ctx, f.Name)
			switch {
			case ctx.Err() != nil:
				return files, nil, ctx.Err()
			case err != nil:
				r.say("%s of the backup cannot be read: %v.", f.Name, err)
			case got != f.SHA256:
				r.say("%s of the backup is not as it was written.", f.Name)
			}
			files++
		}
	}
	return files, r.problems, nil
}
