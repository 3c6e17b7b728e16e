package store

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"time"

	"benchleaf/internal/record"
)

const (
	journalName = "journal.jsonl"
	readmeName  = "README.txt"
	reportName  = "report.pdf"
	photosInZip = "photographs/"

	// Limits of what is taken from a zip, checked before memory is spent.
	maxLineBytes    = 4 << 20
	maxJournalBytes = 1 << 30
	maxPhotoBytes   = 512 << 20
	maxMembers      = 100_000
	maxEntries      = 1_000_000
)

const readme = `This is one case of benchleaf, the record of a paper conservator's treatment.

journal.jsonl   the case's journal, one entry a line, as JSON. Each entry holds
                the SHA-256 of the entry before and its own; how it is computed
                stands in docs/journal.md of the program's source.
photographs/    the original photographs, each named by the SHA-256 of its
                bytes. Entries of the kind "photo" say what each one shows and
                what sort of picture file it is.
report.pdf      where it is there: the treatment report of the journal, for people
                to read. It is made from the other two and not read back.

"benchleaf import" reads it back. Nothing else is needed to read it: every part
is plain text or an ordinary picture.
`

// Export writes one case as a zip: its journal and its photographs, and its report
// as PDF beside them unless that is nil.
func (s *Store) Export(ctx context.Context, id record.CaseID, report []byte, w io.Writer) error {
	entries, err := s.Journal(ctx, id)
	if err != nil {
		return err
	}
	c := s.fold(id, entries)
	if c.Broken != nil {
		return c.Broken.Refusal()
	}
	z := zip.NewWriter(w)
	// The time of the last entry, so that one journal always gives one zip.
	at := entries[len(entries)-1].Time
	text, err := z.CreateHeader(&zip.FileHeader{Name: readmeName, Method: zip.Deflate, Modified: at})
	if err == nil {
		_, err = io.WriteString(text, readme)
	}
	if err != nil {
		return plain(err)
	}
	lines, err := z.CreateHeader(&zip.FileHeader{Name: journalName, Method: zip.Deflate, Modified: at})
	if err != nil {
		return plain(err)
	}
	for i := range entries {
		line, err := record.Marshal(&entries[i])
		if err != nil {
			return err
		}
		if _, err := lines.Write(append(line, '\n')); err != nil {
			return plain(err)
		}
	}
	if report != nil {
		f, err := z.CreateHeader(&zip.FileHeader{Name: reportName, Method: zip.Store, Modified: at})
		if err == nil {
			_, err = f.Write(report)
		}
		if err != nil {
			return plain(err)
		}
	}
	for _, h := range record.Photos(c) {
		if err := s.exportPhoto(ctx, z, h, at); err != nil {
			return fmt.Errorf("photograph %s: %w", h, plain(err))
		}
	}
	return plain(z.Close())
}

// exportPhoto adds a photograph, and fails when it is not what its name says: a
// case that cannot be read back is not to leave the house unnoticed.
func (s *Store) exportPhoto(ctx context.Context, z *zip.Writer, want record.Hash, at time.Time) error {
	f, err := s.OpenPhoto(want)
	if err != nil {
		return err
	}
	defer f.Close()
	w, err := z.CreateHeader(&zip.FileHeader{Name: photosInZip + want.String(), Method: zip.Store, Modified: at})
	if err != nil {
		return err
	}
	got, err := hashOf(io.TeeReader(&ctxReader{ctx, f}, w))
	if err == nil && got != want {
		err = errors.New("its bytes no longer match its name: take it from a backup, then export again")
	}
	return err
}

// ExportFile is Export into a new file, which appears only when it is whole.
func (s *Store) ExportFile(ctx context.Context, id record.CaseID, report []byte, to string) error {
	return writeWhole(to, func(w io.Writer) error { return s.Export(ctx, id, report, w) })
}

// Import reads a case that Export wrote. The journal's chain and rules and the
// hash of every photograph are checked before anything is stored. A case that
// is here already is extended when its journal is the beginning of the other,
// left alone when the other holds nothing new, and refused otherwise. When it
// fails, nothing of the zip stays.
func (s *Store) Import(ctx context.Context, r io.ReaderAt, size int64) (id record.CaseID, err error) {
	if s.write == nil {
		return "", ErrClosed
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return "", record.Invalidf(
			"file",
			"This is not a case written by benchleaf: it is no whole zip file (%v).",
			err,
		)
	}
	members, err := memberTable(z, size)
	if err != nil {
		return "", err
	}
	entries, err := readJournal(ctx, members[journalName])
	if err != nil {
		return "", err
	}
	id = entries[0].Case
	photos, err := checkImport(ctx, entries, members)
	if err != nil {
		return id, err
	}
	have, err := journal(ctx, s.read, id)
	if err == nil {
		err = samePath(have, entries)
	}
	if err != nil {
		return id, err
	}
	var stored []Photo
	defer func() {
		if err != nil {
			for _, p := range stored {
				err = errors.Join(err, s.DropPhoto(ctx, p))
			}
		}
	}()
	for h, f := range photos {
		p, err := s.importPhoto(ctx, f)
		if err != nil {
			return id, fmt.Errorf("photograph %s: %w", h, err)
		}
		stored = append(stored, p)
	}
	return id, s.importEntries(ctx, id, entries, photos)
}

// samePath refuses a journal that is not, as far as both go, the one that is here.
func samePath(have, entries []record.Entry) error {
	if d := record.CheckChain(have); d != nil {
		return d.Refusal()
	}
	for i := range min(len(have), len(entries)) {
		if have[i].Hash != entries[i].Hash {
			return record.Invalidf(
				"file",
				"Case %s is here already and went another way from entry %d on: it was not imported, and nothing "+
					"was changed.",
				entries[0].Case,
				i+1,
			)
		}
	}
	return nil
}

// holds says whether a journal has come as far as h.
func holds(entries []record.Entry, h head) bool {
	return int64(len(entries)) >= h.Seq && entries[h.Seq-1].Hash == h.Hash
}

// memberTable refuses names that no export has: no path can leave the folder,
// since none is ever made from a member's name.
func memberTable(z *zip.Reader, size int64) (map[string]*zip.File, error) {
	if len(z.File) > maxMembers {
		return nil, record.Invalidf("file", "The zip has %d members; at most %d are read.", len(z.File), maxMembers)
	}
	if err := unfolds(z, uint64(size)); err != nil {
		return nil, err
	}
	members := map[string]*zip.File{}
	for _, f := range z.File {
		name := f.Name
		if f.UncompressedSize64 > maxPhotoBytes && name != journalName {
			return nil, record.Invalidf(
				"file",
				"%q in the zip is larger than %d MB.",
				strings.ToValidUTF8(name, "?"),
				maxPhotoBytes>>20,
			)
		}
		if name != readmeName && name != journalName && name != reportName {
			if _, err := record.ParseHash(strings.TrimPrefix(name, photosInZip)); err != nil ||
				path.Dir(name)+"/" != photosInZip {
				return nil, record.Invalidf(
					"file",
					"The zip holds %q, which does not belong in a case.",
					strings.ToValidUTF8(name, "?"),
				)
			}
		}
		if members[name] != nil {
			return nil, record.Invalidf("file", "The zip holds %s twice.", name)
		}
		members[name] = f
	}
	if members[journalName] == nil {
		return nil, record.Invalidf("file", "This is not a case written by benchleaf: it holds no %s.", journalName)
	}
	return members, nil
}

// readJournal reads the lines one by one and stops at the first that is no
// sound entry, so that a long list of nonsense takes no memory.
func readJournal(ctx context.Context, f *zip.File) ([]record.Entry, error) {
	r, err := f.Open()
	if err != nil {
		return nil, record.Invalidf("file", "The journal in the zip cannot be read: %v.", err)
	}
	defer r.Close()
	lines := bufio.NewScanner(io.LimitReader(&ctxReader{ctx, r}, maxJournalBytes+1))
	lines.Buffer(make([]byte, 0, 64<<10), maxLineBytes)
	var entries []record.Entry
	var read int64
	for lines.Scan() {
		if read += int64(len(lines.Bytes())) + 1; read > maxJournalBytes {
			return nil, record.Invalidf("file", "The journal is larger than %d MB.", maxJournalBytes>>20)
		}
		n := len(entries) + 1
		if n > maxEntries {
			return nil, record.Invalidf("file", "The journal has more than %d entries.", maxEntries)
		}
		e, err := readEntry(lines.Bytes())
		if err != nil {
			return nil, record.Invalidf("file", "Line %d of the journal is not an entry: %v.", n, err)
		}
		entries = append(entries, e)
		if err := checkEntry(entries); err != nil {
			return nil, err
		}
	}
	if err := lines.Err(); err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, record.Invalidf("file", "Line %d of the journal cannot be read: %v.", len(entries)+1, err)
	}
	if len(entries) == 0 {
		return nil, record.Invalidf("file", "The journal in the zip is empty.")
	}
	return entries, nil
}

func readEntry(line []byte) (record.Entry, error) {
	var e record.Entry
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return e, err
	}
	if _, err := d.Token(); err != io.EOF {
		return e, errors.New("something stands behind it")
	}
	return e, nil
}

// checkEntry checks the last of entries: that it is the next of its journal,
// and what Append would have asked of its writer and its body.
func checkEntry(entries []record.Entry) error {
	n := len(entries)
	e := &entries[n-1]
	var prev record.Hash
	if n > 1 {
		prev = entries[n-2].Hash
	}
	switch {
	case !record.IsID(string(entries[0].Case)):
		return record.Invalidf("file", "%q is not the identifier of a case.", string(e.Case))
	case e.Kind == "" || len(e.Kind) > 64 || strings.ContainsFunc(string(e.Kind), notInZone):
		return record.Invalidf("file", "Entry %d of the journal has no kind.", n)
	case e.Case != entries[0].Case, e.Seq != int64(n), e.Prev != prev, e.Sum() != e.Hash:
		return record.Invalidf("file", "The journal is not whole: %v.", record.CheckChain(entries))
	}
	if e.Key != "" && !record.IsID(e.Key) {
		return record.Invalidf("file", "Entry %d of the journal has a key that no form has.", n)
	}
	if err := checkWriter(e.By, e.Zone); err != nil {
		return record.Invalidf("file", "Entry %d of the journal: %v", n, err)
	}
	b, err := record.Decode(e.Kind, e.Version, e.Body)
	if err == nil && b != nil {
		err = record.Validate(b)
	}
	if list, _ := record.Refusals(err); len(list) > 0 {
		err = list[0] // one sentence is enough
	}
	if err != nil {
		return record.Invalidf("file", "Entry %d of the journal: %v", n, err)
	}
	return nil
}

// checkImport checks the rules and the photographs, and returns those to take over.
func checkImport(
	ctx context.Context,
	entries []record.Entry,
	members map[string]*zip.File,
) (map[record.Hash]*zip.File, error) {
	c := record.Fold(entries)
	if len(c.Problems) > 0 {
		return nil, record.Invalidf(
			"file",
			"Entry %d of the journal breaks a rule: %s",
			c.Problems[0].Seq,
			c.Problems[0].Say,
		)
	}
	photos := map[record.Hash]*zip.File{}
	for _, h := range record.Photos(c) {
		f := members[photosInZip+h.String()]
		if f == nil {
			return nil, record.Invalidf(
				"file",
				"The photograph %s, which the journal names, is not in the zip.",
				h.Short(),
			)
		}
		if err := checkMember(ctx, f, h); err != nil {
			return nil, err
		}
		photos[h] = f
	}
	return photos, nil
}

func checkMember(ctx context.Context, f *zip.File, want record.Hash) error {
	r, err := f.Open()
	if err != nil {
		return record.Invalidf("file", "The photograph %s in the zip cannot be read: %v.", want.Short(), err)
	}
	defer r.Close()
	got, err := hashOf(io.LimitReader(&ctxReader{ctx, r}, maxPhotoBytes+1))
	if err != nil {
		return errors.Join(
			ctx.Err(),
			record.Invalidf("file", "The photograph %s in the zip cannot be read: %v.", want.Short(), err),
		)
	}
	if got != want {
		return record.Invalidf(
			"file",
			"The photograph %s in the zip is damaged: its bytes do not match its name.",
			want.Short(),
		)
	}
	return nil
}

func (s *Store) importPhoto(ctx context.Context, f *zip.File) (Photo, error) {
	r, err := f.Open()
	if err != nil {
		return Photo{}, err
	}
	defer r.Close()
	return s.PutPhoto(ctx, r, maxPhotoBytes)
}

// importEntries adds what the journal here lacks, in one transaction.
func (s *Store) importEntries(
	ctx context.Context,
	id record.CaseID,
	entries []record.Entry,
	photos map[record.Hash]*zip.File,
) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return plain(err)
	}
	defer tx.Rollback()
	have, err := journal(ctx, tx, id)
	if err != nil {
		return err
	}
	if err := samePath(have, entries); err != nil {
		return err // it went on meanwhile
	}
	if len(have) >= len(entries) {
		return nil // the other holds nothing new
	}
	if was := s.witness.said().heads[id]; s.lost.get(id) != nil && !holds(entries, was) {
		return record.Invalidf("file", "Case %s has lost its end here, up to entry %d (%s), and the file does not have "+
			"that: nothing was changed.", id, was.Seq, was.Hash.Short())
	}
	for i := len(have); i < len(entries); i++ {
		if err := insert(tx, &entries[i]); err != nil {
			return plain(err)
		}
	}
	c := record.Fold(entries)
	if err := index(tx, c); err != nil {
		return plain(err)
	}
	// Last, since what is claimed stays when the commit fails: whether the
	// entries are on the disk is then not known.
	for h := range photos {
		if !s.claimPhoto(h) {
			return fmt.Errorf("photograph %s: %w", h, ErrNotFound)
		}
	}
	if err := s.commit(tx, map[record.CaseID]head{id: {c.LastSeq, c.LastHash}}); err != nil {
		return plain(err)
	}
	s.lost.found(id)
	s.cache.offer(c)
	return nil
}
