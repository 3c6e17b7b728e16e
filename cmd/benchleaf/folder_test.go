package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// folder makes a data folder with one case of two entries and returns it with
// the case's number.
func folder(t *testing.T) (dir, number string) {
	t.Helper()
	dir, number = t.TempDir(), "2026-1"
	s, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	_, err = s.Append(t.Context(), record.Draft{
		Case: record.NewCaseID(time.Now()), By: "KM", Zone: "UTC",
		Items: []record.Item{
			{Body: record.Opened{Number: number, Title: "An invented monthly"}},
			{Body: record.Note{Nature: "observed", Text: "a pencilled price on the front"}},
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	return dir, number
}

// good runs the program and wants status 0 and nothing on standard error.
func good(t *testing.T, args ...string) string {
	t.Helper()
	status, stdout, stderr := do(t, "", args...)
	if status != 0 || stderr != "" {
		t.Fatalf("%s: status %d, %s", strings.Join(args, " "), status, stderr)
	}
	return stdout
}

// seal is the last hash of the case as an export or import tells it.
func seal(t *testing.T, out string) string {
	t.Helper()
	var told struct{ Seal string }
	if err := json.Unmarshal([]byte(out), &told); err != nil || len(told.Seal) != 64 {
		t.Fatalf("no seal in %s (%v)", out, err)
	}
	return told.Seal
}

// TestCaseGoesFromFolderToFolder: what export writes, import reads into another
// folder, with the same seal; twice is as good as once.
func TestCaseGoesFromFolderToFolder(t *testing.T) {
	dir, number := folder(t)
	file := filepath.Join(t.TempDir(), "case.zip")
	sent := seal(t, good(t, "export", number, "-o", file, "--data", dir, "--json"))
	other := filepath.Join(t.TempDir(), "other")
	for range 2 {
		if got := seal(t, good(t, "import", file, "--data", other, "--json")); got != sent {
			t.Errorf("sealed %s, arrived as %s", sent, got)
		}
	}
	if out := good(t, "verify", "--data", other); !strings.Contains(out, "cases 1, entries 2, photographs 0") {
		t.Errorf("the other folder: %s", out)
	}
}

// TestBackupComesBack: a restored backup is whole and holds the same case; an
// earlier backup and a folder in use are not written over.
func TestBackupComesBack(t *testing.T) {
	dir, number := folder(t)
	file := filepath.Join(t.TempDir(), "backup.zip")
	good(t, "backup", file, "--data", dir)
	if status, _, stderr := do(t, "", "backup", file, "--data", dir); status != 1 ||
		!strings.Contains(stderr, "is there already") {
		t.Errorf("a second backup of one name: status %d, %q", status, stderr)
	}

	back := filepath.Join(t.TempDir(), "back")
	good(t, "restore", file, "--data", back)
	case1, case2 := filepath.Join(t.TempDir(), "1.zip"), filepath.Join(t.TempDir(), "2.zip")
	was := seal(t, good(t, "export", number, "-o", case1, "--data", dir, "--json"))
	if is := seal(t, good(t, "export", number, "-o", case2, "--data", back, "--json")); is != was {
		t.Errorf("sealed %s, came back as %s", was, is)
	}
	if status, _, stderr := do(t, "", "restore", file, "--data", back); status != 1 ||
		!strings.Contains(stderr, "not empty") {
		t.Errorf("restoring over a folder: status %d, %q", status, stderr)
	}
}

// TestVerifyFails: a database that was changed behind the program's back makes
// verify fail, and it says in how many places.
func TestVerifyFails(t *testing.T) {
	dir, _ := folder(t)
	stray := filepath.Join(dir, "photographs", "ab", strings.Repeat("ab", 32))
	if err := os.MkdirAll(filepath.Dir(stray), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(stray, []byte("not what its name says"), 0o600); err != nil {
		t.Fatal(err)
	}
	status, stdout, stderr := do(t, "", "verify", "--data", dir)
	if status != 1 || !strings.Contains(stderr, "one thing is wrong in "+dir) || !strings.Contains(stdout, "abab") {
		t.Errorf("status %d, %q, %q; want 1, the place, and the file named", status, stdout, stderr)
	}
	status, stdout, _ = do(t, "", "verify", "--data", dir, "--json")
	var told struct{ Problems []string }
	if err := json.Unmarshal([]byte(stdout), &told); status != 1 || err != nil || len(told.Problems) != 1 {
		t.Errorf("JSON: status %d, %s (%v)", status, stdout, err)
	}
}

// TestBesideAnOpenBench: a backup, a walk, an export and a report do not have to
// wait until the bench is closed; what writes says who has the folder.
func TestBesideAnOpenBench(t *testing.T) {
	dir, number := folder(t)
	bench, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer bench.Close()
	at := t.TempDir()
	file := filepath.Join(at, "case.zip")
	good(t, "export", number, "-o", file, "--data", dir)
	good(t, "report", number, "-o", filepath.Join(at, "report.pdf"), "--data", dir)
	good(t, "backup", filepath.Join(at, "backup.zip"), "--data", dir)
	if out := good(t, "verify", "--data", dir); !strings.Contains(out, "cases 1, entries 2") {
		t.Errorf("verify beside the bench: %s", out)
	}
	for _, args := range [][]string{{"import", file}, {"verify", "--reindex"}} {
		status, _, stderr := do(t, "", append(args, "--data", dir)...)
		if status != 1 || !strings.Contains(stderr, "is open in another benchleaf") {
			t.Errorf("%v: status %d, %q; want 1 and who has the folder", args, status, stderr)
		}
	}
	bench.Close()
	if out := good(t, "verify", "--reindex", "--data", dir); !strings.Contains(out, "is whole") {
		t.Errorf("with the bench closed: %s", out)
	}
}

// TestFolderRefusals: one sentence each, and no folder or file is left behind.
func TestFolderRefusals(t *testing.T) {
	dir, _ := folder(t)
	none := filepath.Join(t.TempDir(), "none")
	text := filepath.Join(t.TempDir(), "text.zip")
	if err := os.WriteFile(text, []byte("this is no zip"), 0o600); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "out.zip")
	for _, tc := range []struct {
		args []string
		want string
	}{
		{[]string{"verify", "--data", none}, "there is no data folder at"},
		{[]string{"backup", out, "--data", none}, "there is no data folder at"},
		{[]string{"export", "2026-1", "-o", out, "--data", none}, "there is no data folder at"},
		{[]string{"export", "2026-9", "-o", out, "--data", dir}, `there is no case "2026-9"`},
		{[]string{"import", text, "--data", dir}, "text.zip was not imported"},
		{[]string{"import", none, "--data", dir}, "cannot be read"},
		{[]string{"restore", text, "--data", none}, "not a backup"},
	} {
		status, _, stderr := do(t, "", tc.args...)
		if status != 1 || !strings.Contains(stderr, tc.want) || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%v: status %d, %q; want 1 and one line with %q", tc.args, status, stderr, tc.want)
		}
	}
	for _, p := range []string{none, out} {
		if _, err := os.Stat(p); err == nil {
			t.Errorf("%s was left behind", p)
		}
	}
}
