package web

import (
	"bytes"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"benchleaf/internal/demo"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// The pages of a case whose journal was damaged still open, each with the entry
// and what to do; nothing is written to it and no paper made of it.
func TestADamagedCaseIsShownWithAWord(t *testing.T) {
	dir := t.TempDir()
	id := damagedDemo(t, dir)
	s, _ := serverOn(t, dir)
	for _, place := range []string{"examination", "make-up", "condition", "tests", "proposal", "bench", "photos",
		"results", "papers", "log", "sheets/5", "sheets/5/measured", "withdraw?entry=4"} {
		w := answerTo(s, request("GET", casePath(id, place), nil))
		if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "entry 3 ") ||
			!strings.Contains(w.Body.String(), "restore the last backup") {
			t.Errorf("%s: status %d, and the banner lacks the entry or what to do", place, w.Code)
		}
	}
	for _, paper := range []string{"report.pdf", "case.zip"} {
		w := answerTo(s, request("GET", casePath(id, paper), nil))
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "entry 3 ") {
			t.Errorf("%s: status %d, want 422 that names the entry", paper, w.Code)
		}
	}
	before := entriesOf(t, s, id)
	form := url.Values{"key": {record.NewID(s.now())}, "seq": {"3"}, "by": {"KM"}, "text": {"more"}, "nature": {"observed"}}
	w := answerTo(s, request("POST", casePath(id, "note"), form))
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "entry 3 ") {
		t.Errorf("a note: status %d, want 422 that names the entry", w.Code)
	}
	if n := entriesOf(t, s, id); n != before {
		t.Errorf("the journal has %d entries, want %d", n, before)
	}
	if w := answerTo(s, request("GET", "/", nil)); w.Code != http.StatusOK || strings.Contains(w.Body.String(), "is damaged") {
		t.Errorf("home: status %d, or it speaks of the case's damage", w.Code)
	}
}

// damagedDemo fills a folder with the demonstration and changes a byte in the body
// of entry 3 of one of its cases, in the file itself.
func damagedDemo(t *testing.T, dir string) record.CaseID {
	t.Helper()
	s, clock := serverOn(t, dir)
	if err := demo.Fill(t.Context(), s.store, clock.t); err != nil {
		t.Fatal(err)
	}
	list, err := s.store.List(t.Context(), store.Filter{Text: "windlass"})
	if err != nil || len(list) != 1 {
		t.Fatal(len(list), err)
	}
	entries, err := s.store.Journal(t.Context(), list[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	if err := s.store.Close(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "journal.sqlite")
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	body := entries[2].Body
	at := bytes.Index(raw, body[:min(len(body), 40)])
	if at < 0 {
		t.Fatalf("the body %s is not in the file", body)
	}
	raw[at+bytes.Index(body, []byte(`:"`))+2] ^= 1
	if err := os.WriteFile(file, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	return list[0].ID
}
