package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// passphrase is that of the kept encrypted backups.
const passphrase = "four invented bench words"

// The kept backups, each of a case with a photograph and a second day, come back on
// an empty machine by the command that README names, and the case goes on.
func TestKeptBackupsComeBack(t *testing.T) {
	for name, typed := range map[string]string{
		"plain": "", "plain.zip": "", "encrypted": passphrase + "\n", "encrypted.zip": passphrase + "\n",
	} {
		to := filepath.Join(t.TempDir(), "new")
		status, stdout, stderr := do(t, typed, "restore", filepath.Join("testdata", "backups", name), "--data", to)
		if status != 0 || !strings.Contains(stdout, "cases 1, entries 5, photographs 1: every one is whole") {
			t.Errorf("%s: status %d, %q, %q", name, status, stdout, stderr)
			continue
		}
		if out := good(t, "verify", "--data", to); !strings.Contains(out, "is whole") {
			t.Errorf("%s: %s", name, out)
		}
	}
}

func TestAnEncryptedBackupIsRefusedWithoutItsPassphrase(t *testing.T) {
	for typed, want := range map[string]string{"": "give its passphrase", "another one\n": "does not open it"} {
		to := filepath.Join(t.TempDir(), "new")
		status, _, stderr := do(t, typed, "restore", filepath.Join("testdata", "backups", "encrypted"), "--data", to)
		if _, err := os.Stat(to); status != 1 || !strings.Contains(stderr, want) || err == nil {
			t.Errorf("%q: status %d, %q", typed, status, stderr)
		}
	}
}

// A folder is added to; what encrypted it once is asked for no more.
func TestBackupToAFolder(t *testing.T) {
	dir, _ := folder(t)
	kept := filepath.Join(t.TempDir(), "kept")
	status, _, stderr := do(t, passphrase+"\n"+passphrase+"x\n", "backup", kept, "--encrypt", "--data", dir)
	if status != 1 || !strings.Contains(stderr, "not the same") {
		t.Errorf("two passphrases: status %d, %q", status, stderr)
	}
	status, stdout, stderr := do(t, passphrase+"\n"+passphrase+"\n", "backup", kept, "--encrypt", "--data", dir)
	if status != 0 || !strings.Contains(stdout, "new were entries 2, files 0") {
		t.Fatalf("status %d, %q, %q", status, stdout, stderr)
	}
	if out := good(t, "backup", kept, "--data", dir); !strings.Contains(out, "new were entries 0, files 0") {
		t.Errorf("the second: %s", out)
	}
	if status, _, stderr := do(t, "", "backup", kept, "--encrypt", "--data", dir); status != 2 ||
		!strings.Contains(stderr, "encrypted already") {
		t.Errorf("encrypted twice: status %d, %q", status, stderr)
	}
}
