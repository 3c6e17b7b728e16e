package store

import (
	"bytes"
	"strings"
	"testing"

	"benchleaf/internal/record"
)

// changed opens a folder again after a sentence of SQL has changed what was
// written in it.
func changed(t *testing.T, s *Store, statement string, args ...any) *Store {
	t.Helper()
	for _, q := range []string{"DROP TRIGGER IF EXISTS entries_stay_as_written", "DROP TRIGGER IF EXISTS entries_stay"} {
		if _, err := s.write.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.write.Exec(statement, args...); err != nil {
		t.Fatal(err)
	}
	dir := s.dir
	s.Close()
	s = mustOpen(t, dir)
	t.Cleanup(func() { s.Close() })
	return s
}

// A case of which an entry was changed says so when it is read, and takes and
// gives nothing as if it were whole. The others go on.
func TestADamagedCaseIsReadOnly(t *testing.T) {
	for what, statement := range map[string]string{
		"a word":        "UPDATE entries SET body = CAST(replace(CAST(body AS TEXT), 'first', 'worst') AS BLOB) WHERE case_id = ? AND seq = 3",
		"a time":        "UPDATE entries SET time = 'yesterday' WHERE case_id = ? AND seq = 3",
		"a hash":        "UPDATE entries SET hash = x'00' WHERE case_id = ? AND seq = 3",
		"initials":      "UPDATE entries SET by = 'XX' WHERE case_id = ? AND seq = 3",
		"a key":         "UPDATE entries SET key = '0123456789abcdef' WHERE case_id = ? AND seq = 3",
		"a whole entry": "DELETE FROM entries WHERE case_id = ? AND seq = 3",
	} {
		t.Run(what, func(t *testing.T) {
			s := opened(t)
			id, other := newCase(t, s), newCase(t, s)
			mustAppend(t, s, draft(id, 2, note("first"), note("second")))
			file := exportOf(t, s, id)
			s = changed(t, s, statement, string(id))
			c, err := s.Case(ctx, id)
			if err != nil || c.Broken == nil || c.Broken.Seq != 3 {
				t.Fatalf("it reads as %+v, %v; want entry 3 named", c.Broken, err)
			}
			refusedWith := func(what string, err error) {
				t.Helper()
				if _, ok := record.Refusals(err); err == nil || !ok || !strings.Contains(err.Error(), "entry 3 ") ||
					!strings.Contains(err.Error(), "restore") {
					t.Errorf("%s: %v, want a refusal that names entry 3 and what to do", what, err)
				}
			}
			_, err = s.Append(ctx, draft(id, c.LastSeq, note("third")))
			refusedWith("append", err)
			_, err = s.Append(ctx, draft(other, 2, note("of both")), draft(id, c.LastSeq, note("of both")))
			refusedWith("append to both", err)
			refusedWith("export", s.Export(ctx, id, nil, &bytes.Buffer{}))
			_, err = importInto(s, file)
			refusedWith("import over it", err)
			mustAppend(t, s, draft(other, 2, note("the other goes on")))
			if r, err := s.Verify(ctx); err != nil || !strings.Contains(strings.Join(r.Problems, " "), "entry 3 ") {
				t.Errorf("verify says %v, %v", r.Problems, err)
			}
		})
	}
}

func TestADamagedStudioIsReadOnly(t *testing.T) {
	s := opened(t)
	person := func(name string) record.Draft {
		return draft(record.StudioID, 0, record.Person{Initials: "KM", Name: name})
	}
	mustAppend(t, s, person("Konservator (demo)"))
	s = changed(t, s, "UPDATE entries SET by = 'XX' WHERE case_id = 'studio'")
	st, err := s.Studio(ctx)
	if err != nil || st.Broken == nil || st.Broken.Seq != 1 {
		t.Fatalf("it reads as %+v, %v; want entry 1 named", st.Broken, err)
	}
	d := person("Another (demo)")
	d.Expect = 1
	if _, err := s.Append(ctx, d); err == nil || !strings.Contains(err.Error(), "studio's journal: entry 1 ") {
		t.Errorf("append: %v, want a refusal that names the entry", err)
	}
}
