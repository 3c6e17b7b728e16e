package store

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// exported is a store with one case of one photograph, and the case's zip.
func exported(t testing.TB) (*Store, record.CaseID, []byte) {
	t.Helper()
	s := opened(t)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, photoOf(mustPut(t, s, "photograph")), note("look")))
	return s, id, exportOf(t, s, id)
}

func exportOf(t testing.TB, s *Store, id record.CaseID) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := s.Export(ctx, id, nil, &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func importInto(s *Store, b []byte) (record.CaseID, error) {
	return s.Import(ctx, bytes.NewReader(b), int64(len(b)))
}

// A report goes along for people to read, and is passed over when the case is read
// back.
func TestExportWithItsReport(t *testing.T) {
	s, id, plain := exported(t)
	report := []byte("%PDF-1.7 a report")
	var b bytes.Buffer
	if err := s.Export(ctx, id, report, &b); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open("report.pdf")
	if err != nil {
		t.Fatal(err)
	}
	if got, err := io.ReadAll(f); err != nil || !bytes.Equal(got, report) {
		t.Errorf("the report in the zip is %q, %v", got, err)
	}
	to := opened(t)
	if got, err := importInto(to, b.Bytes()); err != nil || got != id {
		t.Fatalf("imported %s, %v", got, err)
	}
	if again := exportOf(t, to, id); !bytes.Equal(again, plain) {
		t.Error("a case that came with its report is not the case that went out")
	}
}

func TestExportAndImport(t *testing.T) {
	a, id, file := exported(t)
	b := opened(t)
	got, err := importInto(b, file)
	if err != nil || got != id {
		t.Fatalf("imported %s, %v", got, err)
	}
	ja, _ := a.Journal(ctx, id)
	jb, _ := b.Journal(ctx, id)
	if len(ja) != len(jb) || ja[len(ja)-1].Hash != jb[len(jb)-1].Hash {
		t.Errorf("the journals differ after the way through a zip")
	}
	mustBeClean(t, b)
	if again := exportOf(t, b, id); !bytes.Equal(again, file) {
		t.Error("the same journal gave another zip")
	}
	// Again: nothing new. Then the other goes on, and this one follows.
	if _, err := importInto(b, file); err != nil {
		t.Errorf("a second import: %v", err)
	}
	mustAppend(t, a, draft(id, 4, note("more")))
	var longer bytes.Buffer
	if err := a.Export(ctx, id, nil, &longer); err != nil {
		t.Fatal(err)
	}
	if _, err := importInto(b, longer.Bytes()); err != nil {
		t.Fatal(err)
	}
	if c, _ := b.Case(ctx, id); c.LastSeq != 5 {
		t.Errorf("the case has %d entries, want 5", c.LastSeq)
	}
	// An older zip takes nothing away.
	if _, err := importInto(b, file); err != nil {
		t.Error(err)
	}
	if c, _ := b.Case(ctx, id); c.LastSeq != 5 {
		t.Error("an older zip took an entry away")
	}
	// Both went on: refused.
	mustAppend(t, a, draft(id, 5, note("here")))
	mustAppend(t, b, draft(id, 5, note("there")))
	longer.Reset()
	if err := a.Export(ctx, id, nil, &longer); err != nil {
		t.Fatal(err)
	}
	if _, err := importInto(b, longer.Bytes()); err == nil || !strings.Contains(err.Error(), "another way") {
		t.Errorf("got %v, want a refusal of the forked journal", err)
	}
	mustBeClean(t, b)
}

// rezip copies a zip, letting change replace, rename, drop (nil) or add members.
func rezip(
	t testing.TB,
	file []byte,
	change func(name string, data []byte) (string, []byte),
	more map[string]string,
) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	put := func(name string, data []byte) {
		f, err := w.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if name, data := change(f.Name, data); data != nil {
			put(name, data)
		}
	}
	for name, data := range more {
		put(name, []byte(data))
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func keep(name string, data []byte) (string, []byte) { return name, data }

func onJournal(f func(string) string) func(string, []byte) (string, []byte) {
	return func(name string, data []byte) (string, []byte) {
		if name == journalName {
			return name, []byte(f(string(data)))
		}
		return name, data
	}
}

// resealed changes every entry of a journal and makes the chain anew, as one
// would who forges a journal.
func resealed(t testing.TB, journal string, change func(*record.Entry)) string {
	t.Helper()
	var prev record.Hash
	var out strings.Builder
	for line := range strings.Lines(journal) {
		var e record.Entry
		if err := json.Unmarshal([]byte(line), &e); err != nil {
			t.Fatal(err)
		}
		change(&e)
		if err := e.Seal(prev); err != nil {
			t.Fatal(err)
		}
		prev = e.Hash
		raw, err := record.Marshal(&e)
		if err != nil {
			t.Fatal(err)
		}
		out.Write(append(raw, '\n'))
	}
	return out.String()
}

// noise is text that does not shrink.
func noise(n int) string {
	b := make([]byte, n/2+1)
	rand.NewChaCha8([32]byte{1}).Read(b)
	return hex.EncodeToString(b)[:n]
}

func TestHostileZips(t *testing.T) {
	_, _, file := exported(t)
	lines := func(f func([]string) []string) func(string) string {
		return func(s string) string {
			return strings.Join(f(strings.Split(strings.TrimSpace(s), "\n")), "\n") + "\n"
		}
	}
	cases := []struct {
		name string
		data []byte
		want string
	}{
		{"not a zip", []byte("PK no"), "no whole zip"},
		{"empty", nil, "no whole zip"},
		{"cut off", file[:len(file)/2], "no whole zip"},
		{"no journal", rezip(t, file, func(n string, d []byte) (string, []byte) {
			if n == journalName {
				return n, nil
			}
			return n, d
		}, nil), "holds no journal"},
		{"path out of the folder", rezip(t, file, keep, map[string]string{"../../evil": "x"}), "does not belong"},
		{"absolute path", rezip(t, file, keep, map[string]string{"/etc/evil": "x"}), "does not belong"},
		{"strange member", rezip(t, file, keep, map[string]string{"photographs/x": "x"}), "does not belong"},
		{"member twice", rezip(t, file, keep, map[string]string{journalName: "{}"}), "twice"},
		{"photograph missing", rezip(t, file, func(n string, d []byte) (string, []byte) {
			if strings.HasPrefix(n, photosInZip) {
				return n, nil
			}
			return n, d
		}, nil), "is not in the zip"},
		{"photograph changed", rezip(t, file, func(n string, d []byte) (string, []byte) {
			if strings.HasPrefix(n, photosInZip) {
				d = append(d, 'x')
			}
			return n, d
		}, nil), "damaged"},
		{
			"entry missing",
			rezip(t, file, onJournal(lines(func(l []string) []string { return append(l[:2:2], l[3:]...) })), nil),
			"not whole",
		},
		{
			"entry changed",
			rezip(t, file, onJournal(func(s string) string { return strings.Replace(s, "Demo", "Domo", 1) }), nil),
			"not whole",
		},
		{
			"entry with more",
			rezip(
				t,
				file,
				onJournal(func(s string) string { return strings.Replace(s, `{"case"`, `{"x":1,"case"`, 1) }),
				nil,
			),
			"not an entry",
		},
		{"empty journal", rezip(t, file, onJournal(func(string) string { return "" }), nil), "empty"},
		{
			"entry with more behind",
			rezip(t, file, onJournal(func(s string) string { return strings.Replace(s, "}\n", "} {}\n", 1) }), nil),
			"stands behind",
		},
		{"another case's entry", rezip(t, file, onJournal(func(s string) string {
			return s + strings.Replace(s[:strings.Index(s, "\n")+1], `{"case":"0`, `{"case":"1`, 1)
		}), nil), "not whole"},
		{"the studio's journal", rezip(t, file, onJournal(func(s string) string {
			return resealed(t, s, func(e *record.Entry) { e.Case = record.StudioID })
		}), nil), "not the identifier"},
		{"initials with a control", rezip(t, file, onJournal(func(s string) string {
			return resealed(t, s, func(e *record.Entry) { e.By = "K\x00" })
		}), nil), "Initials"},
		{"no kind", rezip(t, file, onJournal(func(s string) string {
			return resealed(t, s, func(e *record.Entry) { e.Kind = "<b>" })
		}), nil), "no kind"},
		{"body that no one may enter", rezip(t, file, onJournal(func(s string) string {
			return resealed(t, s, func(e *record.Entry) {
				e.Body = bytes.Replace(e.Body, []byte(`"inner_sheets":3`), []byte(`"inner_sheets":3000000000`), 1)
			})
		}), nil), "Entry 2"},
		{
			"endless line",
			rezip(t, file, onJournal(func(string) string { return noise(maxLineBytes + 10) }), nil),
			"cannot be read",
		},
		{"bomb", rezip(t, file, onJournal(func(string) string { return strings.Repeat("a", 100<<20) }), nil), "unfold"},
		{
			"a million tiny entries",
			rezip(
				t,
				file,
				onJournal(func(string) string { return strings.Repeat("{}\n", 1_000_000) }),
				map[string]string{photosInZip + strings.Repeat("ab", 32): noise(20_000)},
			),
			"not the identifier",
		},
		{"a million behind a sound one", rezip(t, file, onJournal(func(s string) string {
			return s[:strings.Index(s, "\n")+1] + strings.Repeat("{}\n", 1_000_000)
		}), map[string]string{photosInZip + strings.Repeat("ab", 32): noise(20_000)}), "no kind"},
	}
	for _, c := range cases {
		s := opened(t)
		_, err := importInto(s, c.data)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", c.name, err, c.want)
		}
		if _, ok := record.Refusals(err); !ok {
			t.Errorf("%s: %v is not a sentence for a person", c.name, err)
		}
		if open, closed, err := s.Count(ctx); err != nil || open+closed != 0 {
			t.Errorf("%s: %d cases stayed", c.name, open+closed)
		}
		if r := mustBeClean(t, s); r.Photographs != 0 {
			t.Errorf("%s: %d photographs stayed", c.name, r.Photographs)
		}
	}
}

// A journal that is a chain but breaks a rule is not taken.
func TestImportChecksTheRules(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	j, err := s.Journal(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	kind, version, raw, err := record.Encode(
		record.Note{Nature: "observed", Place: record.Place{Sheets: []int{50}}, Text: "x"},
	)
	if err != nil {
		t.Fatal(err)
	}
	e := record.Entry{Case: id, Seq: 3, Time: j[1].Time, By: "KM", Kind: kind, Version: version, Body: raw}
	if err := e.Seal(j[1].Hash); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	f, _ := z.Create(journalName)
	for _, x := range append(j, e) {
		if err := json.NewEncoder(f).Encode(x); err != nil {
			t.Fatal(err)
		}
	}
	z.Close()
	if _, err := importInto(opened(t), b.Bytes()); err == nil || !strings.Contains(err.Error(), "no sheet 50") {
		t.Errorf("got %v, want the rule that entry 3 breaks", err)
	}
}

// Nothing of a refused zip stays: not the photographs that it brought either,
// while those that were here before do.
func TestRefusedImportLeavesNothing(t *testing.T) {
	a, id, file := exported(t)
	b := opened(t)
	if _, err := importInto(b, file); err != nil {
		t.Fatal(err)
	}
	mustAppend(t, a, draft(id, 4, photoOf(mustPut(t, a, "only there"))))
	mustAppend(t, b, draft(id, 4, note("only here")))
	if _, err := importInto(b, exportOf(t, a, id)); err == nil {
		t.Fatal("the forked journal was imported")
	}
	if r := mustBeClean(t, b); r.Photographs != 1 || r.Orphans != 0 || r.Entries != 5 {
		t.Errorf("%+v, want the photograph and the 5 entries that were here", r)
	}
	// It fails late: all is checked, the photograph is here, and the database
	// does not take the entries.
	c := opened(t)
	if _, err := c.write.Exec("CREATE TRIGGER full BEFORE INSERT ON entries BEGIN SELECT RAISE(ABORT, 'no more'); END"); err != nil {
		t.Fatal(err)
	}
	if _, err := importInto(c, file); err == nil || !strings.Contains(err.Error(), "no more") {
		t.Fatalf("got %v, want the failure of the database", err)
	}
	if r := mustBeClean(t, c); r.Photographs != 0 || r.Entries != 0 {
		t.Errorf("%+v stayed of an import that failed", r)
	}
	// It is stopped.
	gone, cancel := context.WithCancel(ctx)
	d := opened(t)
	if _, err := d.Import(gone, &cancelling{bytes.NewReader(file), cancel}, int64(len(file))); err == nil {
		t.Fatal("an import went on after its end")
	}
	if r := mustBeClean(t, d); r.Photographs != 0 || r.Entries != 0 {
		t.Errorf("%+v stayed of an import that was stopped", r)
	}
}

// cancelling reads and ends a context.
type cancelling struct {
	io.ReaderAt
	cancel func()
}

func (c *cancelling) ReadAt(p []byte, off int64) (int, error) {
	c.cancel()
	return c.ReaderAt.ReadAt(p, off)
}

// While the bench writes in other cases and in this one, an import neither
// disturbs them nor is it disturbed.
func TestImportBesideWriters(t *testing.T) {
	a, id, file := exported(t)
	b := opened(t)
	other := newCase(t, b)
	if _, err := importInto(b, file); err != nil {
		t.Fatal(err)
	}
	mustAppend(t, a, draft(id, 4, note("more"), note("and more")))
	longer := exportOf(t, a, id)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 20 {
				mustAppend(t, b, draft(other, 2, note("x")))
			}
		})
	}
	if _, err := importInto(b, longer); err != nil {
		t.Error(err)
	}
	mustAppend(t, b, draft(id, 4, note("behind it")))
	wg.Wait()
	if c, err := b.Case(ctx, id); err != nil || c.LastSeq != 7 {
		t.Errorf("the case has %d entries, %v; want 7", c.LastSeq, err)
	}
	mustBeClean(t, b)
}

func TestDamagedPhotographIsNotExported(t *testing.T) {
	s, id, _ := exported(t)
	c, err := s.Case(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	h := record.Photos(c)[0]
	flipFile(t, s.photoPath(h), 0)
	if err := s.Export(ctx, id, nil, io.Discard); err == nil || !strings.Contains(err.Error(), h.String()) {
		t.Errorf("got %v, want the damaged photograph named", err)
	}
}

func TestExportFileIsWholeOrAbsent(t *testing.T) {
	s, id, _ := exported(t)
	to := filepath.Join(t.TempDir(), "case.zip")
	if err := s.ExportFile(ctx, id, nil, to); err != nil {
		t.Fatal(err)
	}
	if err := s.ExportFile(ctx, "0000000000000000", nil, to+"2"); err == nil {
		t.Error("a case that is not there was exported")
	}
	if list, _ := os.ReadDir(filepath.Dir(to)); len(list) != 1 {
		t.Errorf("%d files, want the one export", len(list))
	}
}

func FuzzImport(f *testing.F) {
	_, _, file := exported(f)
	f.Add(file)
	f.Add(rezip(f, file, onJournal(func(s string) string { return s[:len(s)/2] }), nil))
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	s := opened(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, err := importInto(s, data); err != nil {
			if _, ok := record.Refusals(err); !ok {
				t.Errorf("%v is not a sentence for a person", err)
			}
		}
	})
}

// A forged entry with a right hash is either refused in a sentence, or a whole
// part of a journal that comes out again as it went in.
func FuzzImportedEntry(f *testing.F) {
	for _, b := range []record.Body{note("look"), record.MakeUp{InnerSheets: 3, Cover: "separate", Binding: "saddle", FirstPage: 1}, record.Ownership{Owner: "Owner (demo)"},
		record.RunStarted{ID: record.NewID(time.Now()), Operation: "wash", OperationName: "washing", At: time.Now(), Makes: record.Wet}, record.Withdrawn{Reason: "wrong"}} {
		kind, version, raw, err := record.Encode(b)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(kind), version, int64(0), string(raw), "KM", "Europe/Berlin")
		f.Add(string(kind), version+1, int64(1), string(raw), "KM", "+01:00")
	}
	f.Add("unknown", 7, int64(0), "null", "KM", "")
	s := opened(f)
	f.Fuzz(func(t *testing.T, kind string, version int, corrects int64, body, by, zone string) {
		id := record.NewCaseID(time.Now())
		_, _, first, err := record.Encode(record.Opened{Number: "1", Title: "Demo"})
		if err != nil {
			t.Fatal(err)
		}
		entries := []record.Entry{
			{Case: id, Seq: 1, Time: time.Now(), By: "KM", Kind: record.Opened{}.Kind(), Version: 1, Body: first},
			{
				Case:     id,
				Seq:      2,
				Time:     time.Now(),
				By:       by,
				Zone:     zone,
				Kind:     record.Kind(kind),
				Version:  version,
				Corrects: corrects,
				Body:     []byte(body),
			},
		}
		var lines bytes.Buffer
		var prev record.Hash
		for i := range entries {
			if err := entries[i].Seal(prev); err != nil {
				return // the body is not JSON
			}
			prev = entries[i].Hash
			line, err := record.Marshal(&entries[i])
			if err != nil {
				return
			}
			lines.Write(append(line, '\n'))
		}
		var file bytes.Buffer
		z := zip.NewWriter(&file)
		w, err := z.Create(journalName)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(lines.Bytes()); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := importInto(s, file.Bytes()); err != nil {
			if _, ok := record.Refusals(err); !ok || strings.Contains(err.Error(), "\n") {
				t.Errorf("%v is not a sentence for a person", err)
			}
			return
		}
		got, err := s.Journal(ctx, id)
		if err != nil || record.CheckChain(got) != nil || len(got) != 2 || got[1].Hash != entries[1].Hash {
			t.Errorf("imported and read back: %d entries, %v, %v", len(got), err, record.CheckChain(got))
		}
		if _, err := importInto(opened(t), exportOf(t, s, id)); err != nil {
			t.Errorf("what was taken in cannot be given on: %v", err)
		}
	})
}
