package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// do runs the program as main does, with buffers for its streams.
func do(t *testing.T, stdin string, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	m := &Main{Stdin: strings.NewReader(stdin), Stdout: &out, Stderr: &errs}
	status = m.Do(t.Context(), args)
	return status, out.String(), errs.String()
}

func TestExitStatus(t *testing.T) {
	missing := filepath.Join(t.TempDir(), "missing.csv")
	for _, tc := range []struct {
		name   string
		args   []string
		status int
		stdout string // a part of it
		stderr string // a part of it; "" for none at all
	}{
		{"done", []string{"version"}, 0, version(), ""},
		{"done, JSON", []string{"version", "--json"}, 0, `"version":`, ""},
		{"help", []string{"--help"}, 0, "Usage: benchleaf", ""},
		{"help of a command", []string{"version", "--help"}, 0, "Usage: benchleaf version", ""},
		{"failed", []string{"difference", missing}, 1, "", "missing.csv cannot be read: "},
		{"unknown command", []string{"wash"}, 2, "", "unexpected argument wash"},
		{"unknown flag", []string{"version", "--loud"}, 2, "", "unknown flag --loud"},
		{"argument missing", []string{"difference"}, 2, "", "<file>"},
	} {
		status, stdout, stderr := do(t, "", tc.args...)
		if status != tc.status || !strings.Contains(stdout, tc.stdout) || !strings.Contains(stderr, tc.stderr) {
			t.Errorf(
				"%s: status %d, stdout %q, stderr %q; want %d with %q and %q",
				tc.name,
				status,
				stdout,
				stderr,
				tc.status,
				tc.stdout,
				tc.stderr,
			)
		}
		if tc.stderr == "" && stderr != "" {
			t.Errorf("%s: said on standard error: %q", tc.name, stderr)
		}
		if n := strings.Count(stderr, "\n"); tc.stderr != "" && n != 1 {
			t.Errorf("%s: %d lines on standard error, want one sentence: %q", tc.name, n, stderr)
		}
	}
}

// TestClose: what a command opened is put away last first, once, and a failure
// to do so makes the program fail.
func TestClose(t *testing.T) {
	var order []string
	m := &Main{}
	g := &m.grammar.globals
	g.onClose(func() error { order = append(order, "opened first"); return errors.New("disk full") })
	g.onClose(func() error { order = append(order, "opened last"); return nil })
	if err := m.Close(); err == nil || err.Error() != "disk full" {
		t.Errorf("got %v, want disk full", err)
	}
	if err := m.Close(); err != nil {
		t.Errorf("closing again: %v", err)
	}
	if got := strings.Join(order, ", "); got != "opened last, opened first" {
		t.Errorf("closed %s", got)
	}
}

func TestDefaultDataDir(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("the folder's rule is tested on Linux, where the XDG specification gives it")
	}
	t.Setenv("HOME", "/home/someone")
	for _, tc := range []struct{ xdg, want string }{
		{"", "/home/someone/.local/share/benchleaf"},
		{"/data", "/data/benchleaf"},
		{"relative/is/ignored", "/home/someone/.local/share/benchleaf"},
	} {
		t.Setenv("XDG_DATA_HOME", tc.xdg)
		if got, err := defaultDataDir(); err != nil || got != tc.want {
			t.Errorf("XDG_DATA_HOME=%q: got %q (%v), want %q", tc.xdg, got, err, tc.want)
		}
	}
	os.Unsetenv("HOME")
	t.Setenv("XDG_DATA_HOME", "")
	if _, err := defaultDataDir(); err == nil || !strings.Contains(err.Error(), "--data") {
		t.Errorf("without a home: got %v, want a sentence that names --data", err)
	}
}

// TestInterrupted: a command sees the interruption through its context.
func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	m := &Main{Stdout: &bytes.Buffer{}, Stderr: &bytes.Buffer{}}
	if err := m.ParseFlags([]string{"version"}); err != nil {
		t.Fatal(err)
	}
	if err := m.Run(ctx); err != nil {
		t.Fatal(err)
	}
	if m.grammar.Context.Err() == nil {
		t.Error("the command was not given the context that Run was given")
	}
}
