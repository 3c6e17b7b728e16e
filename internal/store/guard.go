package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"benchleaf/internal/record"
)

// guard compares the database with its witness at the start: what lost its end is
// then read and not written. Where there is no witness yet it begins one.
func (s *Store) guard(fresh bool) error {
	ctx := context.Background()
	said, err := readWitness(s.dir)
	if err != nil {
		return err
	}
	id, err := folderID(ctx, s.write)
	if err != nil {
		return err
	}
	if err := s.sameWitness(said, id); err != nil {
		return err
	}
	t := testimony{folder: id, heads: map[record.CaseID]head{}, begun: s.Now().UTC()}
	switch {
	case fresh:
		t.folder = newFolderID()
	case said != nil:
		t = *said
		if t.begun.IsZero() {
			t.begun = s.Now().UTC()
		}
		if len(t.damage) > 0 {
			t.remade = s.Now().UTC()
		}
		if t.folder == "" {
			t.folder = id
		}
	case id != "":
		t.remade = s.Now().UTC()
	}
	if t.folder == "" {
		t.folder = newFolderID()
	}
	news := s.compare(ctx, s.write, t.heads)
	if said == nil || fresh || len(t.damage) > 0 {
		maps.Copy(t.heads, news)
		s.witness, err = makeWitness(s.dir, t)
	} else if s.witness, err = openWitness(s.dir, t); err == nil && len(news) > 0 {
		err = s.witness.put(news)
	}
	if err != nil {
		return plain(err)
	}
	if id != t.folder {
		_, err = s.write.Exec("UPDATE folder SET id = ?", t.folder)
	}
	return plain(err)
}

func newFolderID() string {
	var raw [8]byte
	rand.Read(raw[:]) // documented never to return an error
	return hex.EncodeToString(raw[:])
}

func folderID(ctx context.Context, q querier) (id string, err error) {
	if err := q.QueryRowContext(ctx, "SELECT id FROM folder").Scan(&id); err != nil {
		return "", fmt.Errorf("read the name of the folder in the database: %w", err)
	}
	return id, nil
}

// sameWitness refuses a database and a witness that are not of one folder.
func (s *Store) sameWitness(said *testimony, id string) error {
	if said == nil || said.folder == "" || id == "" || said.folder == id {
		return nil
	}
	return fmt.Errorf("in the data folder %s, %s is of another folder than the file %s beside it: nothing was changed. "+
		"One of them was put there by hand. Put its own back; where %[2]s is the right one, move %[3]s away",
		s.dir, dbName, witnessName)
}

// compare looks at the end of every journal that the witness or the database
// knows. What is not as the witness says it was is lost; news are sound ends that
// the witness does not know, because the program was killed in between.
func (s *Store) compare(ctx context.Context, q querier, heads map[record.CaseID]head) (news map[record.CaseID]head) {
	now := ends(ctx, q, heads)
	news = map[record.CaseID]head{}
	lost := map[record.CaseID]*record.Break{}
	for id, h := range heads {
		if now[id] == h {
			continue
		}
		if d := lostOf(ctx, q, id, h, now[id].Seq); d != nil {
			lost[id] = d
		}
	}
	for id, h := range now {
		if lost[id] == nil && h.Seq > heads[id].Seq && soundEnd(ctx, q, id, h.Seq) {
			news[id] = h
		}
	}
	s.lost.set(lost)
	return news
}

// ends is the end of every journal as the database has it. Where the table is
// damaged it is read journal by journal, and what cannot be read is left out:
// whoever reads that journal is told.
func ends(ctx context.Context, q querier, known map[record.CaseID]head) map[record.CaseID]head {
	all, err := endsWhere(ctx, q, journalsCTE+
		"SELECT e.case_id, e.seq, e.hash FROM journals j JOIN entries e ON e.case_id = j.id "+
		"AND e.seq = (SELECT max(seq) FROM entries WHERE case_id = j.id)")
	if err == nil {
		return all
	}
	all = map[record.CaseID]head{}
	for id := range known {
		one, err := endsWhere(ctx, q, "SELECT case_id, seq, hash FROM entries WHERE case_id = ? ORDER BY seq DESC LIMIT 1",
			string(id))
		if err == nil {
			maps.Copy(all, one)
		}
	}
	return all
}

// journalsCTE lists the journals by going from one to the next in the table's own
// order, without reading what is between.
const journalsCTE = "WITH RECURSIVE journals (id) AS (SELECT min(case_id) FROM entries UNION ALL SELECT " +
	"(SELECT min(case_id) FROM entries WHERE case_id > id) FROM journals WHERE id IS NOT NULL) "

func endsWhere(ctx context.Context, q querier, query string, args ...any) (map[record.CaseID]head, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[record.CaseID]head{}
	for rows.Next() {
		var id string
		var h head
		var hash []byte
		if err := rows.Scan(&id, &h.Seq, &hash); err != nil {
			return nil, err
		}
		if len(hash) == len(h.Hash) {
			h.Hash = record.Hash(hash)
		}
		all[record.CaseID(id)] = h
	}
	return all, rows.Err()
}

// lostOf says what of a journal is not there any more, nil when all is: last is
// the seq with which it ends now. A journal that cannot be read is not lost by
// that: reading it gives ErrDamaged.
func lostOf(ctx context.Context, q querier, id record.CaseID, was head, last int64) *record.Break {
	if last < was.Seq {
		var n int64
		err := q.QueryRowContext(ctx, "SELECT coalesce(max(seq), 0) FROM entries WHERE case_id = ?", string(id)).Scan(&n)
		if err != nil {
			return nil
		}
		last = n
	}
	d := &record.Break{Case: id, Seq: last + 1, Lost: true}
	switch {
	case last >= was.Seq:
		var hash []byte
		err := q.QueryRowContext(ctx, "SELECT hash FROM entries WHERE case_id = ? AND seq = ?", string(id), was.Seq).
			Scan(&hash)
		if errors.Is(err, sql.ErrNoRows) || err == nil && len(hash) != len(was.Hash) {
			return nil // a gap or a changed entry: the chain says so
		}
		if err != nil || record.Hash(hash) == was.Hash {
			return nil
		}
		d.Seq = was.Seq
		d.Say = "is not the one that was acknowledged (" + was.Hash.Short() + "): the journal was replaced by another"
	case last == 0:
		d.Say = fmt.Sprintf("and all after it are lost: the whole journal is gone, up to entry %d (%s)",
			was.Seq, was.Hash.Short())
	case last+1 == was.Seq:
		d.Say = fmt.Sprintf("is lost from its end: it had been acknowledged (%s)", was.Hash.Short())
	default:
		d.Say = fmt.Sprintf("and all after it, up to entry %d, are lost from its end: they had been acknowledged (%s)",
			was.Seq, was.Hash.Short())
	}
	return d
}

// soundEnd says whether the last entry of a journal is whole and follows the one
// before: the witness is to repeat no damage.
func soundEnd(ctx context.Context, q querier, id record.CaseID, last int64) bool {
	rows, err := q.QueryContext(ctx, "SELECT "+entryColumns+
		" FROM entries WHERE case_id = ? AND seq >= ? ORDER BY seq", string(id), last-1)
	if err != nil {
		return false
	}
	defer rows.Close()
	var prev record.Hash
	seq := last - 1
	for ; rows.Next(); seq++ {
		e, err := scanEntry(rows)
		if seq == 0 {
			seq = 1
		}
		if err != nil || e.Seq != seq || e.Sum() != e.Hash || e.Seq == last && e.Prev != prev {
			return false
		}
		prev = e.Hash
	}
	return rows.Err() == nil && seq == last+1
}

// Lost lists the journals that end before their witness, the studio's first.
func (s *Store) Lost() []*record.Break {
	s.lost.mu.Lock()
	defer s.lost.mu.Unlock()
	return slices.SortedFunc(maps.Values(s.lost.of), func(a, b *record.Break) int {
		return strings.Compare(string(a.Case), string(b.Case))
	})
}

// lost holds the journals that end before their witness.
type lost struct {
	mu sync.Mutex
	of map[record.CaseID]*record.Break
}

func (l *lost) set(of map[record.CaseID]*record.Break) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.of = of
}

func (l *lost) get(id record.CaseID) *record.Break {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.of[id]
}

// found forgets a loss that was made good.
func (l *lost) found(id record.CaseID) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.of, id)
}

// fold is record.Fold, which cannot know what is lost from the end.
func (s *Store) fold(id record.CaseID, entries []record.Entry) *record.Case {
	c := record.Fold(entries)
	c.ID = id // also where no entry is fit to be shown, or none is written yet
	if c.Broken == nil {
		c.Broken = s.lost.get(id)
	}
	return c
}

func (s *Store) foldStudio(entries []record.Entry) *record.Studio {
	st := record.FoldStudio(entries)
	if st.Broken == nil {
		st.Broken = s.lost.get(record.StudioID)
	}
	return st
}

// testimony is what the witness says: of an open folder, what it was given to
// say; otherwise what stands in it. Nil when there is none.
func (s *Store) testimony() (*testimony, error) {
	if s.witness != nil {
		return s.witness.said(), nil
	}
	return readWitness(s.dir)
}

// guardLooked is guard for a folder that is only looked at.
func (s *Store) guardLooked() error {
	said, err := readWitness(s.dir)
	if err != nil || said == nil {
		return err
	}
	ctx := context.Background()
	id, err := folderID(ctx, s.read)
	if err != nil {
		return err
	}
	if err := s.sameWitness(said, id); err != nil {
		return err
	}
	s.compare(ctx, s.read, said.heads)
	return nil
}
