package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"benchleaf/internal/record"
)

// The witness is a small file beside the database that knows the end of every
// journal: its last seq and hash. An entry is acknowledged once it is in the
// database and its end is in the witness, both synced, in that order. So the
// witness never speaks of an entry that was not safe, whenever the program was
// killed; and a database that ends before its witness has lost something.
//
// It is a header and records of 64 bytes, each with its own checksum, of which the
// highest of a journal counts; then zeros, written beforehand so that a record
// needs no room and a sync no new size. docs/journal.md describes it.
const (
	witnessName   = "witness"
	witnessMagic  = "BLWITN1\n"
	witnessRecord = 64
	witnessChunk  = 1024 // records that a file grows by
)

// head is the end of a journal.
type head struct {
	Seq  int64
	Hash record.Hash
}

// testimony is what a witness says.
type testimony struct {
	folder string // the id that the database must have; empty when the header cannot be read
	begun  time.Time
	remade time.Time // when it was made anew because it was missing or damaged; zero: never
	heads  map[record.CaseID]head
	used   int      // records
	room   int      // records that the file has room for
	damage []string // what is wrong with the file itself
}

// witness is the file open for writing.
type witness struct {
	mu   sync.Mutex
	dir  string
	open *os.File
	info fs.FileInfo
	testimony
	// unsaved are ends of entries that are in the database and whose record could
	// not be written: nothing more is acknowledged before they are.
	unsaved map[record.CaseID]head
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

func sealRecord(b []byte) {
	binary.BigEndian.PutUint32(b[witnessRecord-4:], crc32.Checksum(b[:witnessRecord-4], castagnoli))
}

func soundRecord(b []byte) bool {
	return binary.BigEndian.Uint32(b[witnessRecord-4:]) == crc32.Checksum(b[:witnessRecord-4], castagnoli)
}

func headRecord(id record.CaseID, h head) []byte {
	b := make([]byte, witnessRecord)
	copy(b, id)
	binary.BigEndian.PutUint64(b[16:], uint64(h.Seq))
	copy(b[24:], h.Hash[:])
	sealRecord(b)
	return b
}

func (t *testimony) header() []byte {
	b := make([]byte, witnessRecord)
	copy(b, witnessMagic)
	copy(b[8:24], t.folder)
	binary.BigEndian.PutUint64(b[24:], uint64(t.begun.UnixMilli()))
	if !t.remade.IsZero() {
		binary.BigEndian.PutUint64(b[32:], uint64(t.remade.UnixMilli()))
	}
	sealRecord(b)
	return b
}

// file is the whole file, with one record for each journal.
func (t *testimony) file() []byte {
	room := (len(t.heads)/witnessChunk + 1) * witnessChunk
	raw := make([]byte, 0, (1+room)*witnessRecord)
	raw = append(raw, t.header()...)
	for _, id := range slices.Sorted(maps.Keys(t.heads)) {
		raw = append(raw, headRecord(id, t.heads[id])...)
	}
	return raw[:cap(raw)]
}

// readWitness reads a witness; nil when there is none. Another process may be
// writing: a record that is half there is read again.
func readWitness(dir string) (*testimony, error) {
	for try := 0; ; try++ {
		raw, err := os.ReadFile(filepath.Join(dir, witnessName))
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil
		}
		if err != nil {
			return nil, fmt.Errorf("the witness in %s cannot be read: %w", dir, err)
		}
		if t := parseWitness(raw); len(t.damage) == 0 || try == 3 {
			return t, nil
		}
		time.Sleep(20 * time.Millisecond)
	}
}

func parseWitness(raw []byte) *testimony {
	t := &testimony{heads: map[record.CaseID]head{}, room: len(raw)/witnessRecord - 1}
	if len(raw) <= witnessRecord || (len(raw)-witnessRecord)%(witnessChunk*witnessRecord) != 0 {
		t.damage = append(t.damage, fmt.Sprintf("it was cut: %d bytes are no whole number of its parts", len(raw)))
	}
	if len(raw) < witnessRecord {
		return t
	}
	b := raw[:witnessRecord]
	if string(b[:8]) != witnessMagic || !soundRecord(b) {
		t.damage = append(t.damage, "its first record was changed")
	} else {
		t.folder = strings.TrimRight(string(b[8:24]), "\x00")
		t.begun = time.UnixMilli(int64(binary.BigEndian.Uint64(b[24:]))).UTC()
		if ms := int64(binary.BigEndian.Uint64(b[32:])); ms != 0 {
			t.remade = time.UnixMilli(ms).UTC()
		}
	}
	for n, empty := 1, false; len(raw) >= (n+1)*witnessRecord; n++ {
		b := raw[n*witnessRecord : (n+1)*witnessRecord]
		if isZero(b) {
			empty = true
			continue
		}
		t.used = n
		id, err := record.ParseCaseID(strings.TrimRight(string(b[:16]), "\x00"))
		h := head{Seq: int64(binary.BigEndian.Uint64(b[16:])), Hash: record.Hash(b[24:56])}
		switch {
		case empty, !soundRecord(b), err != nil, h.Seq < 1:
			t.damage = append(t.damage, fmt.Sprintf("record %d was changed", n))
		case t.heads[id].Seq < h.Seq:
			t.heads[id] = h
		}
	}
	return t
}

func isZero(b []byte) bool { return !slices.ContainsFunc(b, func(x byte) bool { return x != 0 }) }

// makeWitness writes a new file that says t, in the place of any that is there.
func makeWitness(dir string, t testimony) (*witness, error) {
	w := &witness{dir: dir, testimony: t, unsaved: map[record.CaseID]head{}}
	if err := w.renew(); err != nil {
		return nil, fmt.Errorf("the witness in %s cannot be written: %w", dir, plain(err))
	}
	return w, nil
}

// openWitness goes on in a file that is whole.
func openWitness(dir string, t testimony) (*witness, error) {
	w := &witness{dir: dir, testimony: t, unsaved: map[record.CaseID]head{}}
	if err := w.reopen(); err != nil {
		return nil, fmt.Errorf("the witness in %s cannot be written: %w", dir, plain(err))
	}
	return w, nil
}

func (w *witness) path() string { return filepath.Join(w.dir, witnessName) }

// renew writes the file anew with one record for each journal.
func (w *witness) renew() error {
	if w.open != nil {
		if err := w.open.Close(); err != nil { // Windows replaces no file that is open
			return err
		}
		w.open = nil
	}
	raw := w.testimony.file()
	used, room := len(w.heads), len(raw)/witnessRecord-1
	temp, err := os.CreateTemp(filepath.Join(w.dir, tempDir), "witness-*")
	if err != nil {
		return err
	}
	defer os.Remove(temp.Name()) // gone already when all went well
	_, err = temp.Write(raw)
	if err = errors.Join(err, temp.Sync(), temp.Close()); err != nil {
		return err
	}
	if err := os.Rename(temp.Name(), w.path()); err != nil {
		return err
	}
	if err := syncDir(w.dir); err != nil {
		return err
	}
	w.used, w.room, w.damage, w.unsaved = used, room, nil, map[record.CaseID]head{}
	return w.reopen()
}

func (w *witness) reopen() error {
	f, err := os.OpenFile(w.path(), os.O_RDWR, 0)
	if err != nil {
		return err
	}
	info, err := f.Stat()
	if err != nil {
		return errors.Join(err, f.Close())
	}
	w.open, w.info = f, info
	return nil
}

// ready makes room for n records more, so that writing them cannot fail for want
// of it once their entries are in the database.
func (w *witness) ready(n int) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	now, err := os.Stat(w.path())
	switch {
	case w.open == nil || err != nil || !os.SameFile(w.info, now):
		// It was taken away: what it said is known here.
		return w.renew()
	case len(w.unsaved) > 0:
		if err := w.write(); err != nil {
			return err
		}
	}
	if w.used+n > w.room && w.used > 4*len(w.heads) {
		if err := w.renew(); err != nil {
			return err
		}
	}
	return w.grow(n)
}

// grow makes the file longer where n records more do not fit.
func (w *witness) grow(n int) error {
	if w.used+n <= w.room {
		return nil
	}
	more := (n/witnessChunk + 1) * witnessChunk
	if _, err := w.open.WriteAt(make([]byte, more*witnessRecord), int64(1+w.room)*witnessRecord); err != nil {
		return err
	}
	if err := w.open.Sync(); err != nil {
		return err
	}
	w.room += more
	return nil
}

// put writes the new ends of journals, and returns when they are on the disk.
func (w *witness) put(heads map[record.CaseID]head) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	for id, h := range heads {
		if w.heads[id].Seq < h.Seq {
			w.heads[id], w.unsaved[id] = h, h
		}
	}
	if len(w.unsaved) == 0 {
		return nil
	}
	if w.open == nil {
		return w.renew()
	}
	return w.write()
}

func (w *witness) write() error {
	if err := w.grow(len(w.unsaved)); err != nil {
		return err
	}
	var raw []byte
	for id, h := range w.unsaved {
		raw = append(raw, headRecord(id, h)...)
	}
	if _, err := w.open.WriteAt(raw, int64(1+w.used)*witnessRecord); err != nil {
		return err
	}
	if err := syncData(w.open); err != nil {
		return err
	}
	w.used += len(w.unsaved)
	clear(w.unsaved)
	return nil
}

// check reads the file and says what is wrong with it.
func (w *witness) check() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	t, err := readWitness(w.dir)
	switch {
	case err != nil:
		return []string{err.Error()}
	case t == nil:
		return []string{"it was taken away"}
	case len(t.damage) == 0 && len(w.unsaved) == 0 && !maps.Equal(t.heads, w.heads):
		return []string{"it is not the one that was written"}
	}
	return t.damage
}

// said is what the witness says now; the caller may keep it.
func (w *witness) said() *testimony {
	w.mu.Lock()
	defer w.mu.Unlock()
	t := w.testimony
	t.heads = maps.Clone(w.heads)
	return &t
}

func (w *witness) close() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.open == nil {
		return nil
	}
	return w.open.Close()
}
