package store

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"

	"benchleaf/internal/record"
)

// Report is what Verify found.
type Report struct {
	Cases, Entries, Photographs int
	// Orphans are photographs that no entry names: uploads whose entry never
	// came. They do no harm.
	Orphans int
	// Problems are sentences, each naming the case, entry or file.
	Problems []string
}

// Clean says that nothing is wrong.
func (r *Report) Clean() bool { return len(r.Problems) == 0 }

func (r *Report) say(format string, args ...any) {
	r.Problems = append(r.Problems, fmt.Sprintf(format, args...))
}

// Verify walks everything: the database's own check, every hash chain, every
// photograph that an entry names, every file's hash, and whether the index is
// what the journals fold to.
func (s *Store) Verify(ctx context.Context) (*Report, error) {
	r := &Report{}
	if err := s.verifyDB(ctx, r); err != nil {
		return nil, err
	}
	all, err := ids(ctx, s.read)
	if err != nil {
		r.say("The list of journals cannot be read: %v.", err)
		return r, nil
	}
	named := map[record.Hash]string{}
	for _, id := range all {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s.verifyCase(ctx, id, r, named)
	}
	if err := s.verifyIndexHasNoMore(ctx, r); err != nil {
		return nil, err
	}
	return r, s.verifyPhotos(ctx, r, named)
}

func (s *Store) verifyDB(ctx context.Context, r *Report) error {
	rows, err := s.read.QueryContext(ctx, "PRAGMA integrity_check(20)")
	if err != nil {
		r.say("The database cannot be checked: %v.", err)
		return nil
	}
	defer rows.Close()
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return err
		}
		if line != "ok" {
			r.say("The database is damaged: %s.", line)
		}
	}
	if err := rows.Err(); err != nil {
		r.say("The database is damaged: %v.", err)
	}
	return nil
}

func (s *Store) verifyCase(ctx context.Context, id record.CaseID, r *Report, named map[record.Hash]string) {
	entries, err := journal(ctx, s.read, id)
	if err != nil {
		r.say("Case %s cannot be read: %v.", id, err)
		return
	}
	r.Entries += len(entries)
	if err := record.CheckChain(entries); err != nil {
		r.say("%v.", err)
	}
	if id == record.StudioID {
		return
	}
	r.Cases++
	c := record.Fold(entries)
	for _, p := range c.Problems {
		r.say("Case %s, entry %d: %s", id, p.Seq, p.Say)
	}
	for _, h := range record.Photos(c) {
		named[h] = c.Number
		if !s.hasPhoto(h) {
			r.say("Photograph %s of case %s (%s) is missing.", h, c.Number, id)
		}
	}
	var raw []byte
	if err := s.read.QueryRowContext(ctx, "SELECT summary FROM cases WHERE case_id = ?", string(id)).Scan(&raw); err != nil {
		r.say("Case %s (%s) is not in the index: %v.", c.Number, id, err)
		return
	}
	want, err := json.Marshal(record.Summarize(c))
	if err != nil || !bytes.Equal(raw, want) {
		r.say("The index of case %s (%s) is not what its journal says: entries may be missing from its end, or the index is old; \"benchleaf verify --reindex\" makes it anew.", c.Number, id)
	}
}

func (s *Store) verifyIndexHasNoMore(ctx context.Context, r *Report) error {
	rows, err := s.read.QueryContext(ctx, "SELECT case_id, number FROM cases WHERE case_id NOT IN (SELECT case_id FROM entries)")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id, number string
		if err := rows.Scan(&id, &number); err != nil {
			return err
		}
		r.say("Case %s (%s) is in the index and has no journal.", number, id)
	}
	return rows.Err()
}

func (s *Store) verifyPhotos(ctx context.Context, r *Report, named map[record.Hash]string) error {
	return s.photosIn(func(name, path string, size int64) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		want, err := record.ParseHash(name)
		if err != nil {
			r.say("The file %s among the photographs is not one of benchleaf's.", name)
			return nil
		}
		r.Photographs++
		number, used := named[want]
		if !used {
			r.Orphans++
			number = "no case"
		}
		got, err := hashFile(path)
		switch {
		case err != nil:
			r.say("Photograph %s of %s cannot be read: %v.", want, number, err)
		case got != want:
			r.say("Photograph %s of %s is damaged: its bytes (%d) no longer match its name.", want, number, size)
		}
		return nil
	})
}
