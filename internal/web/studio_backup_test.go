package web

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// planForm is the form of a plan as the browser sends it.
func planForm(s *Server, seq, folder string, more ...string) url.Values {
	f := url.Values{"key": {record.NewID(s.now())}, "seq": {seq}, "by": {"KM"}, "folder": {folder}, "every_hours": {"6"}}
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// The home page says how the backups stand, and the plan is set in the studio.
func TestBackupsAreSetAndTold(t *testing.T) {
	s, _ := newServer(t)
	s.worker = store.NewWorker(s.store)
	home := func() string { return answerTo(s, request("GET", "/", nil)).Body.String() }
	if !strings.Contains(home(), "No backup folder set") {
		t.Error("the home page does not ask for a backup folder")
	}
	folder := filepath.Join(t.TempDir(), "kept")
	for name, form := range map[string]url.Values{
		"no whole path":     planForm(s, "0", "kept"),
		"lie in each other": planForm(s, "0", filepath.Join(s.store.Dir(), "kept")),
		"not the same":      planForm(s, "0", folder, "passphrase", "four bench words", "passphrase_again", "four"),
		"at least 8":        planForm(s, "0", folder, "passphrase", "four", "passphrase_again", "four"),
		"Please enter":      planForm(s, "0", ""),
	} {
		w := answerTo(s, request("POST", "/studio/backup", form))
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), name) {
			t.Errorf("%s: status %d: %s", name, w.Code, w.Body)
		}
		if strings.Contains(w.Body.String(), `value="four`) {
			t.Errorf("%s: the passphrase stands in the page", name)
		}
	}
	form := planForm(s, "0", folder, "passphrase", "four bench words", "passphrase_again", "four bench words")
	if w := answerTo(s, request("POST", "/studio/backup", form)); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	st, err := s.store.Studio(t.Context())
	if err != nil || st.Backups == nil || st.Backups.Folder != folder || !strings.HasPrefix(st.Backups.Recipient, "age1") ||
		strings.Contains(string(st.Log[0].Body), "four bench words") {
		t.Fatalf("the plan is %+v, %v", st.Backups, err)
	}
	s.worker.Once(t.Context())
	if got := home(); !strings.Contains(got, "Backed up today 18:30 to "+folder) || !strings.Contains(got, "as written on 9 May") {
		t.Error("the home page does not tell the backup")
	}
	r, err := store.Restore(t.Context(), folder, filepath.Join(t.TempDir(), "new"), store.Opening{Passphrase: "four bench words"})
	if err != nil || !r.Clean() {
		t.Errorf("restored %+v, %v", r, err)
	}
	// A changed interval keeps the key.
	if w := answerTo(s, request("POST", "/studio/backup", planForm(s, "1", folder, "every_hours", "12"))); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	if now, err := s.store.Studio(t.Context()); err != nil || now.Backups.Recipient != st.Backups.Recipient || now.Backups.EveryHours != 12 {
		t.Errorf("the plan is %+v, %v", now.Backups, err)
	}
	if err := os.RemoveAll(folder); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(folder, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if w := answerTo(s, request("POST", "/studio/backup/now", planForm(s, "2", ""))); w.Code != http.StatusSeeOther {
		t.Errorf("now: status %d", w.Code)
	}
	s.worker.Once(t.Context())
	if got := home(); !strings.Contains(got, "did not work") {
		t.Error("the home page does not tell that the backup failed")
	}
}

// Another device reads how the backups stand, and sets no path on this machine.
func TestBackupsAreSetHereAlone(t *testing.T) {
	s, _ := newServer(t)
	s.worker = store.NewWorker(s.store)
	r := request("POST", "/studio/backup", planForm(s, "0", t.TempDir()))
	r.Header.Set("X-Forwarded-For", "192.0.2.9")
	answerTo(s, r)
	if st, err := s.store.Studio(t.Context()); err != nil || st.Backups != nil {
		t.Errorf("the plan is %+v, %v", st.Backups, err)
	}
}

// Where backups go and whether they are encrypted is for the bench machine alone, by
// whichever form: a device can neither set it nor take it back.
func TestADeviceDoesNotTakeBackTheBackupPlan(t *testing.T) {
	s, _ := doorServer(t)
	folder := filepath.Join(t.TempDir(), "kept")
	for seq, words := range []string{"", "four bench words"} { // in the clear at first, then encrypted
		form := planForm(s, strconv.Itoa(seq), folder, "passphrase", words, "passphrase_again", words)
		if w := answerTo(s, request("POST", "/studio/backup", form)); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
	}
	phone := []func(*http.Request){from(phoneAddr), overTLS, host("192.168.7.7:7411"), cookies(pairADevice(t, s, "iPad"))}
	back := url.Values{
		"key": {record.NewID(s.now())}, "seq": {"2"}, "by": {"KM"}, "entry": {"2"}, "reason": {"a try"}, "case": {"studio"},
		"first": {"2"}, "last": {"2"},
	}
	for _, path := range []string{"/studio/withdraw", "/studio/backup", "/studio/backup/now"} {
		w := answerTo(s, request("POST", path, back, phone...))
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "on the bench machine itself") {
			t.Errorf("%s from a device: status %d", path, w.Code)
		}
	}
	if w := answerTo(s, request("POST", "/undo", back, phone...)); w.Code != http.StatusNotFound {
		t.Errorf("undone from a device: status %d", w.Code)
	}
	if w := answerTo(s, request("POST", "/studio/withdraw", back)); w.Code != http.StatusSeeOther {
		t.Fatalf("on the bench machine: status %d", w.Code)
	}
	// Nor does it take back that it was taken back.
	back.Set("entry", "3")
	back.Set("seq", "3")
	back.Set("key", record.NewID(s.now()))
	if w := answerTo(s, request("POST", "/studio/withdraw", back, phone...)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("the withdrawal taken back from a device: status %d", w.Code)
	}
	if st, err := s.store.Studio(t.Context()); err != nil || st.LastSeq != 3 {
		t.Errorf("%d entries, %v; want the three of the bench machine", st.LastSeq, err)
	}
}
