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

	"benchleaf/internal/record"
)

const (
	journalName = "journal.jsonl"
	readmeName  = "README.txt"
	photosInZip = "photographs/"

	// Limits of what is taken from a zip, checked before memory is spent.
	maxLineBytes    = 4 << 20
	maxJournalBytes = 1 << 30
	maxPhotoBytes   = 512 << 20
	maxMembers      = 100_000
)

const readme = `This is one case of benchleaf, the record of a paper conservator's treatment.

journal.jsonl   the case's journal, one entry a line, as JSON. Each entry holds
                the SHA-256 of the entry before and its own; how it is computed
                stands in docs/journal.md of the program's source.
photographs/    the original photographs, each named by the SHA-256 of its
                bytes. Entries of the kind "photo" say what each one shows and
                what sort of picture file it is.

"benchleaf import" reads it back. Nothing else is needed to read it: every part
is plain text or an ordinary picture.
`

// Export writes one case as a zip: its journal and its photographs.
func (s *Store) Export(ctx context.Context, id record.CaseID, w io.Writer) error {
	entries, err := s.Journal(ctx, id)
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	if err := addBytes(z, readmeName, []byte(readme)); err != nil {
		return plain(err)
	}
	var lines bytes.Buffer
	for i := range entries {
		line, err := record.Marshal(&entries[i])
		if err != nil {
			return err
		}
		lines.Write(line)
		lines.WriteByte('\n')
	}
	if err := addBytes(z, journalName, lines.Bytes()); err != nil {
		return plain(err)
	}
	for _, h := range record.Photos(record.Fold(entries)) {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := addFile(z, photosInZip+h.String(), s.photoPath(h), zip.Store); err != nil {
			return fmt.Errorf("photograph %s: %w", h.Short(), plain(err))
		}
	}
	return plain(z.Close())
}

// ExportFile is Export into a new file, which appears only when it is whole.
func (s *Store) ExportFile(ctx context.Context, id record.CaseID, to string) error {
	return writeWhole(to, func(w io.Writer) error { return s.Export(ctx, id, w) })
}

func addBytes(z *zip.Writer, name string, b []byte) error {
	w, err := z.Create(name)
	if err == nil {
		_, err = w.Write(b)
	}
	return err
}

// Import reads a case that Export wrote. The journal's chain and rules and the
// hash of every photograph are checked before anything is stored. A case that
// is here already is extended when its journal is the beginning of the other,
// left alone when the other holds nothing new, and refused otherwise.
func (s *Store) Import(ctx context.Context, r io.ReaderAt, size int64) (record.CaseID, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return "", record.Invalidf("file", "This is not a case written by benchleaf: it is no whole zip file (%v).", err)
	}
	members, err := memberTable(z)
	if err != nil {
		return "", err
	}
	entries, err := readJournal(members[journalName])
	if err != nil {
		return "", err
	}
	id := entries[0].Case
	photos, err := checkImport(ctx, entries, members)
	if err != nil {
		return id, err
	}
	for h, f := range photos {
		if err := s.importPhoto(ctx, h, f); err != nil {
			return id, err
		}
	}
	return id, s.importEntries(ctx, id, entries)
}

// memberTable refuses names that no export has: no path can leave the folder,
// since none is ever made from a member's name.
func memberTable(z *zip.Reader) (map[string]*zip.File, error) {
	if len(z.File) > maxMembers {
		return nil, record.Invalidf("file", "The zip has %d members; at most %d are read.", len(z.File), maxMembers)
	}
	members := map[string]*zip.File{}
	for _, f := range z.File {
		name := f.Name
		if name != readmeName && name != journalName {
			if _, err := record.ParseHash(strings.TrimPrefix(name, photosInZip)); err != nil || path.Dir(name)+"/" != photosInZip {
				return nil, record.Invalidf("file", "The zip holds %q, which does not belong in a case.", strings.ToValidUTF8(name, "?"))
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

func readJournal(f *zip.File) ([]record.Entry, error) {
	r, err := f.Open()
	if err != nil {
		return nil, record.Invalidf("file", "The journal in the zip cannot be read: %v.", err)
	}
	defer r.Close()
	lines := bufio.NewScanner(io.LimitReader(r, maxJournalBytes+1))
	lines.Buffer(make([]byte, 0, 64<<10), maxLineBytes)
	var entries []record.Entry
	var read int64
	for lines.Scan() {
		if read += int64(len(lines.Bytes())) + 1; read > maxJournalBytes {
			return nil, record.Invalidf("file", "The journal is larger than %d MB.", maxJournalBytes>>20)
		}
		var e record.Entry
		d := json.NewDecoder(bytes.NewReader(lines.Bytes()))
		d.DisallowUnknownFields()
		if err := d.Decode(&e); err != nil {
			return nil, record.Invalidf("file", "Line %d of the journal is not an entry: %v.", len(entries)+1, err)
		}
		entries = append(entries, e)
	}
	if err := lines.Err(); err != nil {
		return nil, record.Invalidf("file", "Line %d of the journal cannot be read: %v.", len(entries)+1, err)
	}
	if len(entries) == 0 {
		return nil, record.Invalidf("file", "The journal in the zip is empty.")
	}
	return entries, nil
}

// checkImport checks everything and returns the photographs to take over.
func checkImport(ctx context.Context, entries []record.Entry, members map[string]*zip.File) (map[record.Hash]*zip.File, error) {
	id := entries[0].Case
	if !record.IsID(string(id)) {
		return nil, record.Invalidf("file", "%q is not the identifier of a case.", string(id))
	}
	if err := record.CheckChain(entries); err != nil {
		return nil, record.Invalidf("file", "The journal is not whole: %v.", err)
	}
	c := record.Fold(entries)
	if len(c.Problems) > 0 {
		return nil, record.Invalidf("file", "Entry %d of the journal breaks a rule: %s", c.Problems[0].Seq, c.Problems[0].Say)
	}
	photos := map[record.Hash]*zip.File{}
	for _, h := range record.Photos(c) {
		f := members[photosInZip+h.String()]
		if f == nil {
			return nil, record.Invalidf("file", "The photograph %s, which the journal names, is not in the zip.", h.Short())
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
		return errors.Join(ctx.Err(), record.Invalidf("file", "The photograph %s in the zip cannot be read: %v.", want.Short(), err))
	}
	if got != want {
		return record.Invalidf("file", "The photograph %s in the zip is damaged: its bytes do not match its name.", want.Short())
	}
	return nil
}

func (s *Store) importPhoto(ctx context.Context, want record.Hash, f *zip.File) error {
	if s.hasPhoto(want) {
		return nil
	}
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close()
	_, err = s.PutPhoto(ctx, r, maxPhotoBytes)
	return err
}

// importEntries adds what the journal here lacks, in one transaction.
func (s *Store) importEntries(ctx context.Context, id record.CaseID, entries []record.Entry) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return plain(err)
	}
	defer tx.Rollback()
	have, err := journal(ctx, tx, id)
	if err != nil {
		return err
	}
	for i := range have {
		if i == len(entries) {
			return nil // the other holds nothing new
		}
		if have[i].Hash != entries[i].Hash {
			return record.Invalidf("file", "Case %s is here already and went another way from entry %d on: it was not imported, and nothing was changed.", id, i+1)
		}
	}
	for i := len(have); i < len(entries); i++ {
		if err := insert(ctx, tx, &entries[i]); err != nil {
			return plain(err)
		}
	}
	c := record.Fold(entries)
	if err := index(ctx, tx, c); err != nil {
		return plain(err)
	}
	if err := tx.Commit(); err != nil {
		return plain(err)
	}
	s.cache.put(c)
	return nil
}
