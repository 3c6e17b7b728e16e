package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/evanw/esbuild/pkg/api"
)

// needsLibraries skips where the libraries from npm were not fetched; .ci/run
// fetches them before.
func needsLibraries(t *testing.T) {
	t.Helper()
	web, err := webDir()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(web, "ui", "node_modules", "openseadragon")); err != nil {
		t.Skip("the libraries from npm are not here: `npm ci` in internal/web/ui fetches them")
	}
}

func TestCommittedAssetsAreWhatTheSourcesGive(t *testing.T) {
	needsLibraries(t)
	if err := run(true); err != nil {
		t.Error(err)
	}
}

func TestBundlingTwiceGivesTheSame(t *testing.T) {
	needsLibraries(t)
	web, err := webDir()
	if err != nil {
		t.Fatal(err)
	}
	first, err := bundle(filepath.Join(web, "ui"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := write(dir, first); err != nil {
		t.Fatal(err)
	}
	second, err := bundle(filepath.Join(web, "ui"))
	if err != nil {
		t.Fatal(err)
	}
	if err := compare(dir, second); err != nil {
		t.Error(err)
	}
}

func TestCompareNamesEachFile(t *testing.T) {
	dir := t.TempDir()
	for name, content := range map[string]string{"same.js": "1", "other.js": "2", "old.js": "3"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want := map[string][]byte{"same.js": []byte("1"), "other.js": []byte("changed"), "new.js": []byte("4")}
	err := compare(dir, want)
	if err == nil {
		t.Fatal("a folder that differs passes")
	}
	for _, say := range []string{"other.js differs", "new.js is missing", "old.js comes from no source", "go generate ./internal/web"} {
		if !strings.Contains(err.Error(), say) {
			t.Errorf("%q does not say %q", err, say)
		}
	}
	if strings.Contains(err.Error(), "same.js") {
		t.Errorf("%q names a file that is right", err)
	}
	if err := write(dir, want); err != nil {
		t.Fatal(err)
	}
	if err := compare(dir, want); err != nil {
		t.Errorf("after writing: %v", err)
	}
}

func TestAMissingLibrarySaysWhatToDo(t *testing.T) {
	err := explain(
		[]api.Message{
			{Text: `Could not resolve "some-library"`, Location: &api.Location{File: "src/map.ts", Line: 3, Column: 8}},
		},
	)
	if !strings.Contains(err.Error(), "npm ci") || !strings.Contains(err.Error(), "src/map.ts:3:8") {
		t.Errorf("got %q, want the place and what to run", err)
	}
	err = explain([]api.Message{{Text: `Could not resolve "./gone"`}})
	if strings.Contains(err.Error(), "npm ci") {
		t.Errorf("a file of ours that is missing is no library: %q", err)
	}
}

func TestPlainNames(t *testing.T) {
	for name, want := range map[string]string{"app-3NF6T4DZ.js": "app.js", "next-italic-latin-YBRJRG7J.woff2": "next-italic-latin.woff2", "plain.css": "plain.css"} {
		if got := plainName(name); got != want {
			t.Errorf("%s is called %q, want %q", name, got, want)
		}
	}
}
