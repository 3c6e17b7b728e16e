package web

import (
	"net/http"
	"path/filepath"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// backupLine says how the backups stand, in one line, on the home page and in the
// studio.
type backupLine struct {
	Sign, Word string
	Say        string
	// Wrong are sentences on what is not as it should be.
	Wrong []string
	// Href is where the plan is changed: on the bench machine alone.
	Href string
	Set  bool
}

// backupLine is nil where the program keeps nothing.
func (s *Server) backupLine(r *http.Request, st *record.Studio) *backupLine {
	if s.worker == nil {
		return nil
	}
	l := &backupLine{Sign: "waiting", Word: "open"}
	if fromHere(r) {
		l.Href = "/studio/backup"
	}
	if st.Backups == nil {
		l.Say = "No backup folder set: set one on another disk."
		return l
	}
	l.Set = true
	state, doing := s.worker.State()
	b, t := state.Backup, state.Trial
	if b.Folder != st.Backups.Folder {
		b, t = store.Work{}, store.Work{}
	}
	l.Say = "No backup was kept yet in " + st.Backups.Folder
	if !b.At.IsZero() {
		l.Sign, l.Word = "done", "kept"
		l.Say = "Backed up " + s.dayAndClock(b.At) + " to " + st.Backups.Folder
	}
	if doing != "" {
		l.Sign, l.Word = "waiting", "under way"
	}
	l.Say += "; " + s.trialWords(t) + "."
	if b.Wrong != "" {
		l.Sign, l.Word = "due", "failed"
		l.Wrong = append(l.Wrong, "The last backup, "+s.didNotWork(b))
	}
	if t.Wrong != "" {
		l.Sign, l.Word = "due", "failed"
		l.Wrong = append(l.Wrong, "The last trial restore, "+s.didNotWork(t))
	}
	if len(b.Problems)+len(t.Problems) > 0 {
		l.Sign, l.Word = "due", "look"
		l.Wrong = append(append(l.Wrong, b.Problems...), t.Problems...)
	}
	return l
}

func (s *Server) didNotWork(w store.Work) string {
	return s.dayAndClock(w.Tried) + ", did not work: " + strings.TrimSuffix(w.Wrong, ".") + "."
}

func (s *Server) trialWords(t store.Work) string {
	day := t.At.In(s.zone).Format("2 January")
	switch {
	case t.At.IsZero():
		return "not yet restored for trial"
	case len(t.Problems) > 0:
		return "trial restore of " + day + " found " + plural(len(t.Problems), "fault", "faults")
	case t.Checked:
		return "every byte of it was as written on " + day + " (encrypted: restore it yourself now and then)"
	}
	return "trial restore of " + day + " held"
}

// dayAndClock is a moment that lies behind, as in "today 18:02".
func (s *Server) dayAndClock(t time.Time) string {
	t, now := t.In(s.zone), s.now().In(s.zone)
	if sameDay(t, now) {
		return "today " + t.Format("15:04")
	}
	return t.Format("2 January 2006, 15:04")
}

// backupPlanPage is the form of the plan.
type backupPlanPage struct {
	Page
	Form  *Form
	Press *Form
	Line  *backupLine
	// Sealed says that backups are encrypted already.
	Sealed   bool
	Withdraw string
}

var backupPlanView = declare[backupPlanPage]("studio_backup")

// errOnlyHere refuses a path on this machine from another.
func errOnlyHere() error {
	return record.Invalidf("", "The backup folder is chosen on the bench machine itself: nothing was changed.")
}

func (s *Server) backupPage(w http.ResponseWriter, r *http.Request) error {
	if !fromHere(r) {
		return errOnlyHere()
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	plan := record.BackupPlan{EveryHours: 6}
	if st.Backups != nil {
		plan = *st.Backups
	}
	p := backupPlanPage{
		Page: s.studioSub(r, "Backups"), Line: s.backupLine(r, st), Sealed: plan.Recipient != "",
		Form:  s.bodyForm(r, "backup", st.LastSeq, plan, false, nil),
		Press: s.form(r, "now", st.LastSeq, nil),
	}
	if st.Backups != nil {
		p.Withdraw = withdrawHref(st, "backups", "", "backup")
	}
	return backupPlanView.show(s, w, r, p)
}

func (s *Server) backupSave(w http.ResponseWriter, r *http.Request) error {
	if !fromHere(r) {
		return errOnlyHere()
	}
	f, err := s.sent(w, r, "backup")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	b := bodyOf[record.BackupPlan](f)
	b.Recipient = ""
	if st.Backups != nil {
		b.Recipient = st.Backups.Recipient
	}
	if b.Folder != "" {
		b.Folder = filepath.Clean(b.Folder)
		if err := s.store.BackupPlace(b.Folder); err != nil {
			f.Refuse("folder", "%s", err.Error())
		}
	}
	if err := s.sealBackups(f, &b); err != nil {
		return err
	}
	return s.save(w, r, f, Saving{
		Case: record.StudioID, Items: items(b), To: "/studio#backup", Said: "Saved: backups go to " + b.Folder + ".",
	}, s.backupPage)
}

// sealBackups makes the key of a passphrase that was typed; neither stands in the
// journal.
func (s *Server) sealBackups(f *Form, b *record.BackupPlan) error {
	first, again := f.Value("passphrase"), f.Value("passphrase_again")
	switch {
	case first == "" && again == "":
		return nil
	case first != again:
		f.Refuse("passphrase_again", "The two passphrases are not the same: type both once more.")
		return nil
	case len(f.Refused) > 0:
		return nil
	}
	p, err := store.NewProtection(first)
	if list, ok := record.Refusals(err); ok && err != nil {
		f.take(list)
		return nil
	}
	if err == nil {
		err = s.store.KeepLockedKey(p)
	}
	b.Recipient = p.Recipient
	return err
}

func (s *Server) backupNow(w http.ResponseWriter, r *http.Request) error {
	if s.worker == nil || !fromHere(r) {
		return errOnlyHere()
	}
	s.worker.Now()
	http.Redirect(w, r, "/studio#backup", http.StatusSeeOther)
	return nil
}
