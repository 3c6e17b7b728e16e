//go:build unix

package store

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"
)

// Somebody who can write to the backup disk puts there what has no end, or asks for
// gigabytes before the passphrase can be tried: the rest is restored, and soon.
func TestATamperedBackupFolderHoldsNobodyUp(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	p := mustPut(t, s, "a photograph")
	mustAppend(t, s, draft(id, 2, photoOf(p), note("a note")))
	dir := filepath.Join(t.TempDir(), "kept")
	mustKeep(t, s, dir, Protection{})
	photo := filepath.Join(dir, filepath.FromSlash(fileMember(Photograph, p.Hash)))
	fifo, run := filepath.Join(dir, segmentsDir, "00000009.jsonl"), filepath.Join(dir, runsDir, "00000009.json")
	for _, err := range []error{
		os.Remove(photo), os.Symlink("/dev/zero", photo), syscall.Mkfifo(fifo, 0o600), os.Symlink("/dev/zero", run),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	restored := make(chan *Report, 1)
	go func() {
		r, err := Restore(ctx, dir, filepath.Join(t.TempDir(), "new"), Opening{})
		if err != nil {
			t.Error(err)
		}
		restored <- r
	}()
	select {
	case r := <-restored:
		if said := strings.Join(r.Problems, "\n"); r.Entries != 4 || r.Photographs != 0 || strings.Count(said, "is a link") != 3 {
			t.Errorf("restored %+v", r)
		}
	case <-time.After(20 * time.Second):
		os.WriteFile(fifo, nil, 0o600) // lets go of who reads
		t.Fatal("it is held up")
	}
	if _, problems, err := CheckBackup(ctx, dir); err != nil || len(problems) == 0 {
		t.Errorf("checked: %v, %v", problems, err)
	}
}

func TestALockedKeyThatAsksForGigabytesIsRefused(t *testing.T) {
	p := sealedBy(t)
	// age's header says the work in clear: -> scrypt SALT 10
	at := bytes.Index(p.Locked, []byte(" 10\n"))
	costly := bytes.Clone(p.Locked)
	copy(costly[at:], " 19\n")
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := Opening{Passphrase: phrase}.identities([][]byte{costly})
	runtime.ReadMemStats(&after)
	if err == nil {
		t.Error("a changed key was taken")
	}
	if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > 100 {
		t.Errorf("the key of a stranger took %d MB", mb)
	}
	if _, err := (Opening{Passphrase: phrase}).identities([][]byte{costly, p.Locked}); err != nil {
		t.Errorf("the sound copy beside it: %v", err)
	}
}
