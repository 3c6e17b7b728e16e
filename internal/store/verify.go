package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// Report is what Verify found.
type Report struct {
	Cases, Entries, Photographs int
	// Files are papers that were issued and documents that were imported.
	Files int
	// Orphans are photographs that no entry names: uploads whose entry never
	// came. They do no harm.
	Orphans int
	// Others are files among the photographs that are none of benchleaf's.
	Others int
	// Problems are sentences, each naming the case, entry or file.
	Problems []string
	// Notes are sentences about the witness: nothing is wrong, and a person may want
	// to know.
	Notes []string
}

// Clean says that nothing is wrong.
func (r *Report) Clean() bool { return len(r.Problems) == 0 }

func (r *Report) say(format string, args ...any) {
	r.Problems = append(r.Problems, fmt.Sprintf(format, args...))
}

// Verify walks everything: the database's own check, every hash chain, every
// photograph that an entry names, every file's hash, and whether the index is
// what the journals fold to. The bench may go on working meanwhile.
func (s *Store) Verify(ctx context.Context) (*Report, error) {
	v := &verifier{s: s, named: map[record.Hash]string{}}
	// Before the journals are read: they may go on meanwhile, and never go back.
	if err := v.witness(); err != nil {
		return nil, err
	}
	if err := v.database(ctx); err != nil {
		return nil, err
	}
	all, err := caseIDs(ctx, s.read)
	if err != nil {
		v.say("The list of journals cannot be read: %v.", err)
	}
	for _, id := range all {
		if err := v.journal(ctx, id); err != nil {
			return nil, err
		}
	}
	for id, h := range v.heads {
		if slices.Contains(all, id) {
			continue
		}
		if d := lostOf(ctx, s.read, id, h, 0); d != nil {
			v.broken(d)
		}
	}
	if err := v.indexHasNoMore(ctx); err != nil {
		v.say("The index cannot be read: %v.", err)
	}
	if err := v.files(ctx); err != nil {
		return nil, err
	}
	return &v.Report, ctx.Err()
}

type verifier struct {
	Report
	s     *Store
	named map[record.Hash]string // photographs, with the number of a case that names them
	heads map[record.CaseID]head // the ends of the journals, as the witness knew them before
}

// witness looks at the witness itself, and takes what it says of the journals.
func (v *verifier) witness() error {
	t, err := v.s.testimony()
	if err != nil {
		v.say("%s.", words.English.Upper(err.Error()))
		return nil
	}
	if t == nil {
		id, err := folderID(context.Background(), v.s.read)
		if err == nil && id != "" {
			v.say("The file %s is missing, which knows where each journal ends: whether a journal has lost its end "+
				"cannot be told. It is made anew when the bench opens this folder.", witnessName)
		} else {
			v.Notes = append(v.Notes, "No witness stands beside the database yet: whether a journal has lost its end "+
				"cannot be told. One is made when the bench opens this folder.")
		}
		return nil
	}
	v.heads = t.heads
	damage := t.damage
	if v.s.witness != nil {
		damage = v.s.witness.check()
	}
	for _, what := range damage {
		v.say("The file %s is damaged: %s. The journals are not touched by that; the bench makes it anew when it opens "+
			"this folder.", witnessName, what)
	}
	if !t.remade.IsZero() {
		v.Notes = append(v.Notes, fmt.Sprintf("The witness was missing or damaged and was made anew on %s: what was lost "+
			"from the end of a journal before that cannot be told.", t.remade.Format(time.DateOnly)))
	} else if !t.begun.IsZero() {
		v.Notes = append(v.Notes, fmt.Sprintf("The witness knows where each journal ends since %s.",
			t.begun.Format(time.DateOnly)))
	}
	return nil
}

// ended compares the end of a journal with what the witness knew.
func (v *verifier) ended(ctx context.Context, q querier, id record.CaseID, j *record.Journal) {
	h, known := v.heads[id]
	if j.Broken != nil && !j.Broken.Lost {
		v.broken(j.Broken)
	} else if d := lostOf(ctx, q, id, h, j.LastSeq); known && d != nil {
		v.broken(d)
	}
}

func (v *verifier) database(ctx context.Context) error {
	rows, err := v.s.read.QueryContext(ctx, "PRAGMA integrity_check(20)")
	if err != nil {
		v.say("The database cannot be checked: %v.", err)
		return ctx.Err()
	}
	defer rows.Close()
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return err
		}
		if line != "ok" {
			v.say("The database is damaged: %s.", line)
		}
	}
	if err := rows.Err(); err != nil {
		v.say("The database is damaged: %v.", err)
	}
	return ctx.Err()
}

// journal checks one journal, and its row of the index as the same moment saw
// both.
func (v *verifier) journal(ctx context.Context, id record.CaseID) error {
	tx, err := v.s.read.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	entries, err := journal(ctx, tx, id)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		v.say("Case %s cannot be read: %v.", id, err)
		return nil
	}
	v.Entries += len(entries)
	if id == record.StudioID {
		st := record.FoldStudio(entries)
		v.ended(ctx, tx, id, &st.Journal)
		for _, p := range st.Problems {
			v.say("The studio's journal, entry %d: %s", p.Seq, p.Say)
		}
		return nil
	}
	v.Cases++
	v.folded(ctx, tx, id, record.Fold(entries))
	return ctx.Err()
}

func (v *verifier) broken(d *record.Break) {
	if d != nil {
		v.say("%s.", words.English.Upper(d.Error()))
	}
}

func (v *verifier) folded(ctx context.Context, q querier, id record.CaseID, c *record.Case) {
	v.ended(ctx, q, id, &c.Journal)
	for _, p := range c.Problems {
		v.say("Case %s, entry %d: %s", id, p.Seq, p.Say)
	}
	for _, h := range record.Photos(c) {
		v.named[h] = c.Number
		if !v.s.hasPhoto(h) {
			v.say("Photograph %s of case %s (%s) is missing.", h, c.Number, id)
		}
	}
	want, err := rowOf(c)
	if err != nil {
		v.say("Case %s (%s) cannot be summed up: %v.", c.Number, id, err)
		return
	}
	switch got, err := indexed(ctx, q, id); {
	case errors.Is(err, sql.ErrNoRows):
		v.say("Case %s (%s) is not in the index; \"benchleaf verify --reindex\" makes it anew.", c.Number, id)
	case err != nil:
		v.say("The index of case %s (%s) cannot be read: %v.", c.Number, id, err)
	case got != want:
		v.say(
			"The index of case %s (%s) is not what its journal says: entries may be missing from its end, or the "+
				"index is damaged; if the journal is whole, \"benchleaf verify --reindex\" makes the index anew.",
			c.Number,
			id,
		)
	}
}

func (v *verifier) indexHasNoMore(ctx context.Context) error {
	rows, err := v.s.read.QueryContext(
		ctx,
		"SELECT case_id, number FROM cases WHERE case_id NOT IN (SELECT case_id FROM entries)",
	)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id, number string
		if err := rows.Scan(&id, &number); err != nil {
			return err
		}
		v.say("Case %s (%s) is in the index and has no journal.", number, id)
	}
	return rows.Err()
}

func (v *verifier) files(ctx context.Context) error {
	for _, kind := range fileKinds {
		others, err := v.s.filesIn(kind, func(want record.Hash, path string) error {
			return v.file(ctx, kind, want, path)
		})
		v.Others += others
		if errors.Is(err, fs.ErrNotExist) {
			if kind == Photograph {
				v.say("The folder %s is missing.", photosDir)
			}
			continue
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (v *verifier) file(ctx context.Context, kind FileKind, want record.Hash, path string) error {
	what, of := "The file "+string(kind)+"/"+want.String(), ""
	number, named := v.named[want]
	if kind == Photograph {
		what, of = "Photograph "+want.String(), " of no case"
		if named {
			of = " of case " + number
		}
	}
	got, err := hashFile(ctx, path)
	if !named && errors.Is(err, fs.ErrNotExist) {
		return nil // dropped a moment ago
	}
	if kind == Photograph {
		v.Photographs++
		if !named {
			v.Orphans++
		}
	} else {
		v.Files++
	}
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil:
		v.say("%s%s cannot be read: %v.", what, of, err)
	case got != want:
		v.say("%s%s is damaged: its bytes no longer match its name.", what, of)
	}
	return nil
}
