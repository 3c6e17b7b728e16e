package store

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// planned makes a store whose studio keeps backups, and a clock that the test moves.
func planned(t *testing.T, recipient string) (s *Store, w *Worker, folder string, now *time.Time) {
	t.Helper()
	s = opened(t)
	at := time.Date(2031, 5, 1, 9, 0, 0, 0, time.UTC)
	s.Now = func() time.Time { return at }
	folder = filepath.Join(t.TempDir(), "kept")
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, photoOf(mustPut(t, s, "photo"))))
	mustAppend(t, s, draft(record.StudioID, 0, record.BackupPlan{Folder: folder, EveryHours: 6, Recipient: recipient}))
	return s, NewWorker(s), folder, &at
}

func TestTheWorkerKeepsBackupsAndTriesThem(t *testing.T) {
	s, w, folder, now := planned(t, "")
	begun := *now
	at := func(after time.Duration) (state WorkState) {
		*now = begun.Add(after)
		w.Once(ctx)
		state, _ = w.State()
		return state
	}
	first := at(0)
	if !first.Backup.At.Equal(begun) || !first.Trial.At.Equal(begun) || len(first.Trial.Problems) > 0 || first.Backup.Wrong != "" {
		t.Fatalf("first %+v, want a backup and a trial", first)
	}
	if left, _ := os.ReadDir(filepath.Join(s.dir, tempDir)); len(left) > 0 {
		t.Errorf("%d things of the trial stayed", len(left))
	}
	if x := at(5 * time.Hour); !x.Backup.At.Equal(begun) {
		t.Errorf("kept again after %v", x.Backup.At.Sub(begun))
	}
	if x := at(7 * time.Hour); !x.Backup.At.Equal(begun.Add(7*time.Hour)) || !x.Trial.At.Equal(begun) {
		t.Errorf("after 7 hours %+v, want a backup and no trial", x)
	}
	if x := at(31 * 24 * time.Hour); !x.Trial.At.Equal(begun.Add(31 * 24 * time.Hour)) {
		t.Errorf("after a month %+v, want a trial", x)
	}
	// The state outlives the program, and a clock set back makes work due.
	w = NewWorker(s)
	if x, _ := w.State(); !x.Trial.At.Equal(begun.Add(31 * 24 * time.Hour)) {
		t.Errorf("the next start knows %+v", x)
	}
	if x := at(time.Hour); !x.Backup.At.Equal(begun.Add(time.Hour)) {
		t.Errorf("with the clock set back %+v, want a backup", x)
	}
	// What is wrong with the backup is found.
	name := filepath.Join(folder, filepath.FromSlash(segmentName(1)))
	flipFile(t, name, 300)
	if x := at(40 * 24 * time.Hour); len(x.Trial.Problems) == 0 {
		t.Errorf("%+v, want the flipped bit found", x.Trial)
	}
	// What cannot be written is said, and tried again soon.
	if err := os.RemoveAll(folder); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(folder, []byte("in the way"), 0o600); err != nil {
		t.Fatal(err)
	}
	x := at(41 * 24 * time.Hour)
	if x.Backup.Wrong == "" || !strings.Contains(x.Backup.Wrong, folder) {
		t.Errorf("%+v, want that the folder cannot be made", x.Backup)
	}
	if err := os.Remove(folder); err != nil {
		t.Fatal(err)
	}
	if x := at(41*24*time.Hour + 20*time.Minute); x.Backup.Wrong != "" {
		t.Errorf("%+v, want it tried again", x.Backup)
	}
}

// An encrypted backup is read byte by byte: nobody typed its passphrase.
func TestTheWorkerChecksAnEncryptedBackup(t *testing.T) {
	p := sealedBy(t)
	s, w, folder, now := planned(t, p.Recipient)
	if err := s.KeepLockedKey(p); err != nil {
		t.Fatal(err)
	}
	w.Once(ctx)
	if x, _ := w.State(); !x.Trial.Checked || len(x.Trial.Problems) > 0 || x.Trial.Wrong != "" {
		t.Errorf("%+v, want it checked", x.Trial)
	}
	r, err := Restore(ctx, folder, filepath.Join(t.TempDir(), "new"), Opening{Passphrase: phrase})
	if err != nil || !r.Clean() || r.Entries != 4 {
		t.Errorf("restored %+v, %v", r, err)
	}
	flipFile(t, filepath.Join(folder, filepath.FromSlash(segmentName(1)+sealedSuffix)), 300)
	*now = now.Add(trialEvery)
	w.Once(ctx)
	if x, _ := w.State(); len(x.Trial.Problems) != 1 || !strings.Contains(x.Trial.Problems[0], segmentName(1)) {
		t.Errorf("%+v, want the segment named", x.Trial)
	}
}
