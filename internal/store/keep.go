package store

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"filippo.io/age"

	"benchleaf/internal/record"
)

// A backup folder, or an encrypted backup file, holds
//
//	benchleaf-backup.json    which data folder it is of
//	journals/00000001.jsonl  entries, one on a line, as they came
//	photographs/ab/ab12…     files under their SHA-256, as in the data folder
//	runs/00000001.json       what one backup added, and where each journal ended
//	key-1.age, key-2.age     the secret key under its passphrase, twice
//
// and is only ever added to: a backup writes what is new. Where it is encrypted each
// file ends in .age, but benchleaf-backup.json and runs, which hold no word of a case.
const (
	setName      = "benchleaf-backup.json"
	setFormat    = 1
	segmentsDir  = "journals"
	runsDir      = "runs"
	sealedSuffix = ".age"
	spoiltSuffix = ".spoilt"
	setLockName  = "being-written"

	// segmentBytes is about what a damaged byte of an encrypted backup can take.
	segmentBytes = 1 << 20
)

var lockedNames = []string{"key-1.age", "key-2.age"}

// setHead is benchleaf-backup.json.
type setHead struct {
	Format    int       `json:"format"`
	Folder    string    `json:"folder"` // the data folder's own name, as in its witness
	Begun     time.Time `json:"begun"`
	Recipient string    `json:"recipient,omitempty"`
}

// setRun is one file of runs.
type setRun struct {
	Run     int          `json:"run"`
	Time    time.Time    `json:"time"`
	Entries int          `json:"entries"`
	Heads   []setJournal `json:"heads"` // of the journals that grew
	Stored  []stored     `json:"stored"`
}

type setJournal struct {
	Case record.CaseID `json:"case"`
	Seq  int64         `json:"seq"`
	Hash record.Hash   `json:"hash"`
}

// stored is a file of a backup, as its bytes lie there.
type stored struct {
	Name   string      `json:"name"`
	Bytes  int64       `json:"bytes"`
	SHA256 record.Hash `json:"sha256"`
}

// Kept is what a backup did.
type Kept struct {
	At      time.Time
	Entries int   // that were new
	Files   int   // that were new
	Bytes   int64 // that were written
	// Problems are sentences on what could not be kept as it should.
	Problems []string
}

// sink is where a backup is written: a folder, or a new zip file.
type sink interface {
	// names lists the files below a folder, with / between, and none of others.
	names(dir string) ([]string, error)
	read(name string) ([]byte, error)
	// write makes a new file, whole or not at all. It may be called by several at
	// once.
	write(name string, fill func(io.Writer) error) error
	// settle makes safe what was written so far.
	settle() error
}

// keeper writes one backup.
type keeper struct {
	s    *Store
	sink sink
	to   age.Recipient // nil: not encrypted
	run  setRun
	kept Kept
	next int // number of the next segment

	mu sync.Mutex // over run and kept while files are written
}

// BackupInto adds what is new to a backup folder, which is made when it is not
// there. The bench goes on meanwhile. What of the data folder is damaged is kept
// as it is, or not, and named in Problems; the rest is kept all the same.
func (s *Store) BackupInto(ctx context.Context, dir string, p Protection) (Kept, error) {
	if err := s.BackupPlace(dir); err != nil {
		return Kept{}, err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return Kept{}, fmt.Errorf("the backup folder %s cannot be made: %w", dir, plain(err))
	}
	f, err := os.OpenFile(filepath.Join(dir, setLockName), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return Kept{}, fmt.Errorf("the backup folder %s cannot be written: %w", dir, plain(err))
	}
	defer f.Close()
	// Where the system has no locks, as on some network folders, the person must see
	// to it that one program writes there.
	if taken, err := lockFile(f); err == nil && !taken {
		return Kept{}, fmt.Errorf("another backup is being written to %s: wait for that one", dir)
	}
	kept, err := s.keepIn(ctx, &dirSink{dir: dir}, p)
	if err != nil {
		return kept, fmt.Errorf("write the backup to %s: %w", dir, plain(err))
	}
	return kept, nil
}

// BackupPlace refuses a folder inside the data folder or around it.
func (s *Store) BackupPlace(dir string) error {
	if !filepath.IsAbs(dir) {
		return record.Invalidf("folder", "%q is no whole path: give the backup folder from the root or drive on.", dir)
	}
	data, err := filepath.Abs(s.dir)
	if err != nil {
		return err
	}
	for _, pair := range [][2]string{{data, dir}, {dir, data}} {
		if rel, err := filepath.Rel(pair[0], pair[1]); err == nil && rel != ".." &&
			!strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			return record.Invalidf("folder", "The backup folder %s and the data folder %s lie in each other: a backup "+
				"belongs on another disk.", dir, s.dir)
		}
	}
	return nil
}

// BackupSealed writes an encrypted backup into one new file.
func (s *Store) BackupSealed(ctx context.Context, to string, p Protection) (kept Kept, err error) {
	if _, err := os.Lstat(to); err == nil {
		return kept, errThere(to)
	}
	err = writeWhole(to, func(w io.Writer) error {
		z := zip.NewWriter(w)
		if kept, err = s.keepIn(ctx, &zipSink{z: z}, p); err != nil {
			return err
		}
		return z.Close()
	})
	return kept, err
}

func (s *Store) keepIn(ctx context.Context, in sink, p Protection) (Kept, error) {
	k := &keeper{s: s, sink: in, kept: Kept{At: s.Now()}}
	if p.Recipient != "" {
		to, err := age.ParseX25519Recipient(p.Recipient)
		if err != nil {
			return k.kept, CheckRecipient(p.Recipient)
		}
		k.to = to
	}
	if err := k.head(ctx, p); err != nil {
		return k.kept, err
	}
	heads, err := k.earlier()
	if err != nil {
		return k.kept, err
	}
	// The journals first: what they name is in the folder by then.
	if err := k.journals(ctx, heads); err != nil {
		return k.kept, err
	}
	if err := k.files(ctx); err != nil {
		return k.kept, err
	}
	return k.kept, k.close()
}

// filesAtOnce is how many files are written at once: what they wait for is the disk.
const filesAtOnce = 8

// head begins a backup, or looks whether the one that is there is of this folder.
func (k *keeper) head(ctx context.Context, p Protection) error {
	id, err := folderID(ctx, k.s.read)
	if err != nil {
		return err
	}
	raw, err := k.sink.read(setName)
	if errors.Is(err, fs.ErrNotExist) {
		return k.begin(setHead{Format: setFormat, Folder: id, Begun: k.s.Now().UTC(), Recipient: p.Recipient}, p.Locked)
	}
	if err != nil {
		return err
	}
	var have setHead
	if err := json.Unmarshal(raw, &have); err != nil {
		return record.Invalidf("folder", "%s in the backup folder is damaged (%v): choose another, empty folder, and keep "+
			"this one.", setName, err)
	}
	switch {
	case have.Format != setFormat:
		return record.Invalidf("folder", "The backup folder was written by a newer benchleaf (format %d): update the "+
			"program.", have.Format)
	case have.Folder != id:
		return record.Invalidf("folder", "The backup folder holds the backup of another data folder: choose another, "+
			"empty one.")
	case have.Recipient != p.Recipient:
		return record.Invalidf("folder", "The backup folder is encrypted in another way than this backup would be: choose "+
			"another, empty one.")
	}
	return nil
}

func (k *keeper) begin(h setHead, locked []byte) error {
	// A folder with something in it is somebody's.
	names, err := k.sink.names(".")
	if err != nil {
		return err
	}
	for _, n := range names {
		if n != setLockName {
			return record.Invalidf("folder", "The folder is not empty (it holds %s) and no backup of benchleaf: choose an "+
				"empty one.", n)
		}
	}
	raw, err := json.Marshal(h)
	if err != nil {
		return err
	}
	if locked != nil {
		for _, name := range lockedNames {
			if err := k.sink.write(name, bytesTo(locked)); err != nil {
				return err
			}
		}
	}
	return k.sink.write(setName, bytesTo(append(raw, '\n')))
}

func bytesTo(raw []byte) func(io.Writer) error {
	return func(w io.Writer) error { _, err := w.Write(raw); return err }
}

// earlier is where the journals ended in the backup. Where a run is damaged or
// missing the journals are written once more, since what it had is not known.
func (k *keeper) earlier() (map[record.CaseID]head, error) {
	names, err := k.sink.names(segmentsDir)
	if err != nil {
		return nil, err
	}
	k.next = 1 + lastNumber(names)
	names, err = k.sink.names(runsDir)
	if err != nil {
		return nil, err
	}
	k.run = setRun{Run: 1 + lastNumber(names), Time: k.kept.At.UTC()}
	heads := map[record.CaseID]head{}
	for n := 1; n < k.run.Run; n++ {
		raw, err := k.sink.read(runName(n))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
		// What a run wrote is not asked for here, and may be a long list.
		r, err := parseRun[struct {
			Heads []setJournal `json:"heads"`
		}](raw)
		if err != nil {
			k.kept.Problems = append(k.kept.Problems, fmt.Sprintf("%s of the backup is damaged or missing: every journal was "+
				"written to it once more.", runName(n)))
			return map[record.CaseID]head{}, nil
		}
		for _, j := range r.Heads {
			heads[j.Case] = head{j.Seq, j.Hash}
		}
	}
	return heads, nil
}

func runName(n int) string { return fmt.Sprintf("%s/%08d.json", runsDir, n) }

func segmentName(n int) string { return fmt.Sprintf("%s/%08d.jsonl", segmentsDir, n) }

// lastNumber is the highest number that a name begins with.
func lastNumber(names []string) (last int) {
	for _, name := range names {
		digits, _, _ := strings.Cut(path.Base(name), ".")
		if n, err := strconv.Atoi(digits); err == nil {
			last = max(last, n)
		}
	}
	return last
}

// parseRun reads what is asked of a run: a line of JSON and a line with its SHA-256.
func parseRun[T any](raw []byte) (r T, err error) {
	line, sum, _ := bytes.Cut(raw, []byte("\n"))
	if fmt.Sprintf("%x\n", sha256.Sum256(line)) != string(sum) {
		return r, errors.New("its checksum does not match")
	}
	return r, json.Unmarshal(line, &r)
}

// put writes one file, encrypted or not.
func (k *keeper) put(name string, fill func(io.Writer) error) error {
	if k.to != nil {
		name += sealedSuffix
	}
	c := &counted{sum: sha256.New()}
	err := k.sink.write(name, func(w io.Writer) error {
		w = io.MultiWriter(w, c)
		if k.to == nil {
			return fill(w)
		}
		sealed, err := age.Encrypt(w, k.to)
		if err == nil {
			err = fill(sealed)
		}
		if err == nil {
			err = sealed.Close()
		}
		return err
	})
	if err != nil {
		return err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.run.Stored = append(k.run.Stored, stored{name, c.n, c.hash()})
	k.kept.Bytes += c.n
	return nil
}

// journals writes the entries that the backup does not have.
func (k *keeper) journals(ctx context.Context, have map[record.CaseID]head) error {
	tx, err := k.s.read.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	now := ends(ctx, tx, have)
	var buf bytes.Buffer
	for _, id := range slices.Sorted(maps.Keys(now)) {
		was, is := have[id], now[id]
		if is.Seq < was.Seq {
			k.kept.Problems = append(k.kept.Problems, fmt.Sprintf("Case %s has %d entries here and %d in the backup, which "+
				"keeps them: restore it into a new folder.", id, is.Seq, was.Seq))
		}
		if is.Seq <= was.Seq {
			continue
		}
		end, err := k.journal(ctx, tx, id, was.Seq, &buf)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			if errors.As(err, new(*fs.PathError)) || errors.Is(err, ErrNoSpace) {
				return err
			}
			k.kept.Problems = append(k.kept.Problems, fmt.Sprintf("Case %s cannot be read to its end: %v.", id, err))
			continue
		}
		k.run.Heads = append(k.run.Heads, setJournal{id, end.Seq, end.Hash})
	}
	return k.flush(&buf)
}

// journal adds the entries of a journal after seq, and returns its end.
func (k *keeper) journal(ctx context.Context, tx *sql.Tx, id record.CaseID, seq int64, buf *bytes.Buffer,
) (end head, err error) {
	rows, err := tx.QueryContext(ctx, "SELECT "+entryColumns+
		" FROM entries WHERE case_id = ? AND seq > ? ORDER BY seq", string(id), seq)
	if err != nil {
		return end, err
	}
	defer rows.Close()
	for rows.Next() {
		e, err := scanEntry(rows)
		if err != nil {
			return end, err
		}
		line, err := record.Marshal(&e)
		if err != nil { // a damaged body that is no JSON any more
			e.Body, _ = json.Marshal(map[string]string{"spoilt": base64.StdEncoding.EncodeToString(e.Body)})
			if line, err = record.Marshal(&e); err != nil {
				return end, err
			}
		}
		buf.Write(line)
		buf.WriteByte('\n')
		end = head{e.Seq, e.Hash}
		k.kept.Entries++
		if buf.Len() >= segmentBytes {
			if err := k.flush(buf); err != nil {
				return end, err
			}
		}
	}
	return end, rows.Err()
}

func (k *keeper) flush(buf *bytes.Buffer) error {
	if buf.Len() == 0 {
		return nil
	}
	err := k.put(segmentName(k.next), bytesTo(buf.Bytes()))
	k.next++
	buf.Reset()
	return err
}

// files writes the files that the backup does not have. What is damaged here is
// kept beside, under a name that says so, unless the backup has the sound one.
func (k *keeper) files(ctx context.Context) error {
	for _, kind := range fileKinds {
		if err := k.filesOf(ctx, kind); err != nil {
			return err
		}
	}
	return nil
}

func (k *keeper) filesOf(ctx context.Context, kind FileKind) error {
	names, err := k.sink.names(string(kind))
	if err != nil {
		return err
	}
	have := make(map[string]bool, len(names))
	for _, n := range names {
		have[strings.TrimSuffix(path.Base(n), sealedSuffix)] = true
	}
	var wg sync.WaitGroup
	slots := make(chan struct{}, filesAtOnce)
	ctx, fail := context.WithCancelCause(ctx)
	defer fail(nil)
	_, err = k.s.filesIn(kind, func(h record.Hash, file string) error {
		if have[h.String()] {
			return ctx.Err()
		}
		slots <- struct{}{}
		wg.Go(func() {
			defer func() { <-slots }()
			if err := k.file(ctx, kind, h, file, have[h.String()+spoiltSuffix]); err != nil {
				fail(err)
			}
		})
		return context.Cause(ctx)
	})
	wg.Wait()
	if bad := context.Cause(ctx); bad != nil {
		return bad
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil // no folder of them
	}
	return err
}

func (k *keeper) file(ctx context.Context, kind FileKind, h record.Hash, file string, spoilt bool) error {
	f, err := os.Open(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // dropped a moment ago
	}
	if err != nil {
		return err
	}
	defer f.Close()
	name := fileMember(kind, h)
	c := &counted{sum: sha256.New()}
	err = k.put(name, func(w io.Writer) error {
		if _, err := io.Copy(io.MultiWriter(w, c), &ctxReader{ctx, f}); err != nil {
			return err
		}
		if c.hash() != h {
			return errSpoilt
		}
		return nil
	})
	k.mu.Lock()
	defer k.mu.Unlock()
	if err == nil {
		k.kept.Files++
		return nil
	}
	if !errors.Is(err, errSpoilt) {
		return err
	}
	k.kept.Problems = append(k.kept.Problems, fmt.Sprintf("%s is damaged in the data folder and is kept as it is.",
		strings.TrimSuffix(name, sealedSuffix)))
	if spoilt {
		return nil
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	k.mu.Unlock() // put takes it
	defer k.mu.Lock()
	return k.put(name+spoiltSuffix, func(w io.Writer) error {
		_, err := io.Copy(w, &ctxReader{ctx, f})
		return err
	})
}

var errSpoilt = errors.New("its bytes no longer match its name")

// close writes the run, which makes what was written part of the backup.
func (k *keeper) close() error {
	if len(k.run.Stored) == 0 {
		return nil
	}
	if err := k.sink.settle(); err != nil {
		return err
	}
	k.run.Entries = k.kept.Entries
	line, err := json.Marshal(k.run)
	if err != nil {
		return err
	}
	err = k.sink.write(runName(k.run.Run), bytesTo(fmt.Appendf(line, "\n%x\n", sha256.Sum256(line))))
	return errors.Join(err, k.sink.settle())
}

// dirSink is a folder.
type dirSink struct {
	dir string

	mu  sync.Mutex
	new map[string]bool // folders with names that are not safe yet
}

func (d *dirSink) names(dir string) (names []string, err error) {
	root := filepath.Join(d.dir, filepath.FromSlash(dir))
	err = filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) && path == root {
			return fs.SkipAll
		}
		if err != nil || e.IsDir() || strings.Contains(e.Name(), ".part-") {
			return err
		}
		names = append(names, filepath.ToSlash(path[len(root)+1:]))
		return nil
	})
	return names, err
}

func (d *dirSink) read(name string) ([]byte, error) {
	return os.ReadFile(filepath.Join(d.dir, filepath.FromSlash(name)))
}

func (d *dirSink) write(name string, fill func(io.Writer) error) error {
	to := filepath.Join(d.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return err
	}
	if err := writeNamed(to, fill); err != nil {
		return err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.new == nil {
		d.new = map[string]bool{}
	}
	for at := filepath.Dir(to); len(at) >= len(d.dir); at = filepath.Dir(at) {
		d.new[at] = true
	}
	return nil
}

func (d *dirSink) settle() (err error) {
	for at := range d.new {
		err = errors.Join(err, syncDir(at))
	}
	clear(d.new)
	return err
}

// zipSink is a new zip file.
type zipSink struct {
	mu sync.Mutex
	z  *zip.Writer
}

func (*zipSink) names(string) ([]string, error) { return nil, nil }

func (*zipSink) read(string) ([]byte, error) { return nil, fs.ErrNotExist }

func (*zipSink) settle() error { return nil }

// write holds a file in memory, since a zip cannot take back what was begun.
func (s *zipSink) write(name string, fill func(io.Writer) error) error {
	var buf bytes.Buffer
	if err := fill(&buf); err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	w, err := s.z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
	if err == nil {
		_, err = w.Write(buf.Bytes())
	}
	return err
}

// RecipientOf is the public key to which a backup folder is encrypted; empty when it
// is not, or is not there yet.
func RecipientOf(dir string) (string, error) {
	raw, err := (&dirSink{dir: dir}).read(setName)
	if err != nil {
		return "", nil // a new one, or not a folder: who writes is told
	}
	var h setHead
	if err := json.Unmarshal(raw, &h); err != nil {
		return "", record.Invalidf("folder", "%s in %s is damaged (%v): choose another, empty folder, and keep this one.",
			setName, dir, err)
	}
	return h.Recipient, nil
}
