package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"benchleaf/internal/record"
)

// Worker does what the program does by itself while it is open: it keeps a backup
// as the studio's plan says, and once a month restores it for trial. There is one
// for a data folder; the state of its work lies in the folder, not in a journal.
type Worker struct {
	s *Store

	mu    sync.Mutex
	state WorkState
	doing string // "backup" or "trial"; empty: nothing
	now   chan struct{}
}

// WorkState is what was done last, by sort of work.
type WorkState struct {
	Backup Work `json:"backup"`
	Trial  Work `json:"trial"`
}

// Work is one sort of work: when it last went well, and what went wrong since.
type Work struct {
	// At is when it last went well; zero: never.
	At time.Time `json:"at,omitzero"`
	// Folder is the backup folder.
	Folder string `json:"folder,omitempty"`
	// Checked says that an encrypted backup was read byte by byte and not restored,
	// for which its passphrase is needed.
	Checked bool `json:"checked,omitempty"`
	// Tried is when it was last tried, Wrong why that went wrong.
	Tried time.Time `json:"tried,omitzero"`
	Wrong string    `json:"wrong,omitempty"`
	// Problems are sentences on what was not whole.
	Problems []string `json:"problems,omitempty"`
}

const (
	workName = "work.json"
	// trialEvery is how often a backup is restored for trial.
	trialEvery = 30 * 24 * time.Hour
	// againAfter is how long work that went wrong waits.
	againAfter = 15 * time.Minute
	// workTick is how often the worker looks whether something is due.
	workTick = time.Minute
)

// NewWorker reads what was done before. Nothing is done until Run.
func NewWorker(s *Store) *Worker {
	w := &Worker{s: s, now: make(chan struct{}, 1)}
	raw, err := os.ReadFile(filepath.Join(s.dir, workName))
	if err == nil && json.Unmarshal(raw, &w.state) != nil {
		w.state = WorkState{} // then all is due
	}
	return w
}

// State is what was done last, and what is being done now.
func (w *Worker) State() (s WorkState, doing string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.state, w.doing
}

// Now asks for a backup at once.
func (w *Worker) Now() {
	w.mu.Lock()
	w.state.Backup.Tried, w.state.Backup.At = time.Time{}, time.Time{}
	w.mu.Unlock()
	select {
	case w.now <- struct{}{}:
	default: // asked already
	}
}

// Run works until the context ends, and returns when nothing is under way.
func (w *Worker) Run(ctx context.Context) {
	tick := time.NewTicker(workTick)
	defer tick.Stop()
	for {
		w.Once(ctx)
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		case <-w.now:
		}
	}
}

// Once does what is due.
func (w *Worker) Once(ctx context.Context) {
	st, err := w.s.Studio(ctx)
	if err != nil || st.Backups == nil {
		return
	}
	plan := *st.Backups
	state, _ := w.State()
	every := time.Duration(plan.EveryHours) * time.Hour
	if w.due(state.Backup, plan.Folder, every) {
		w.do(ctx, "backup", plan.Folder, &w.state.Backup, func() (bool, []string, error) {
			p, err := w.s.ProtectionFor(plan.Recipient)
			if err != nil {
				return false, nil, err
			}
			kept, err := w.s.BackupInto(ctx, plan.Folder, p)
			return false, kept.Problems, err
		})
	}
	state, _ = w.State()
	kept := state.Backup.Wrong == "" && state.Backup.Folder == plan.Folder
	if kept && w.due(state.Trial, plan.Folder, trialEvery) {
		w.do(ctx, "trial", plan.Folder, &w.state.Trial, func() (bool, []string, error) {
			return w.s.trial(ctx, plan)
		})
	}
}

// due says whether work is to be done: it never was for this folder, it was long
// ago, or the clock was set back since.
func (w *Worker) due(x Work, folder string, every time.Duration) bool {
	now := w.s.Now()
	ago := func(t time.Time, d time.Duration) bool { return now.Sub(t) >= d || now.Before(t) }
	if x.Folder == folder && x.Wrong != "" {
		return ago(x.Tried, min(againAfter, every))
	}
	return x.Folder != folder || ago(x.At, every)
}

// do does a piece of work and keeps what came of it.
func (w *Worker) do(ctx context.Context, what, folder string, x *Work, f func() (bool, []string, error)) {
	w.mu.Lock()
	w.doing = what
	w.mu.Unlock()
	checked, problems, err := f()
	w.mu.Lock()
	defer w.mu.Unlock()
	w.doing = ""
	if ctx.Err() != nil {
		return // the program ends: it is due again at the next start
	}
	now := w.s.Now().UTC()
	if x.Folder != folder {
		*x = Work{Folder: folder}
	}
	x.Tried, x.Wrong, x.Problems, x.Checked = now, "", problems, checked
	if err != nil {
		x.Wrong = err.Error()
	} else {
		x.At = now
	}
	raw, err := json.Marshal(w.state)
	if err == nil {
		err = writeWhole(filepath.Join(w.s.dir, workName), func(f io.Writer) error {
			_, err := f.Write(raw)
			return err
		})
	}
	if err != nil && x.Wrong == "" {
		x.Wrong = err.Error()
	}
}

// trial restores the backup into a folder that is taken away again, and walks it. An
// encrypted one is read byte by byte, since its passphrase is not known here.
func (s *Store) trial(ctx context.Context, plan record.BackupPlan) (checked bool, problems []string, err error) {
	if plan.Recipient != "" {
		_, problems, err = CheckBackup(ctx, plan.Folder)
		return true, problems, err
	}
	need, err := weight(plan.Folder)
	if err != nil {
		return false, nil, fmt.Errorf("the backup folder %s cannot be read: %w", plan.Folder, err)
	}
	// As much again stays free, so that a trial never fills the bench's own disk.
	if free, known := freeSpace(s.dir); known && free < 2*need {
		return false, nil, fmt.Errorf("a trial restore needs %d MB free on the disk of the data folder, which has %d",
			2*need>>20, free>>20)
	}
	dir, err := os.MkdirTemp(filepath.Join(s.dir, tempDir), "trial-")
	if err != nil {
		return false, nil, plain(err)
	}
	defer os.RemoveAll(dir)
	r, err := Restore(ctx, plan.Folder, dir, Opening{})
	if err != nil {
		return false, nil, err
	}
	return false, r.Problems, nil
}

// weight is how many bytes lie in a folder.
func weight(dir string) (bytes uint64, err error) {
	err = filepath.WalkDir(dir, func(_ string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if errors.Is(err, os.ErrNotExist) {
			return nil
		}
		if err == nil {
			bytes += uint64(info.Size())
		}
		return err
	})
	return bytes, err
}
