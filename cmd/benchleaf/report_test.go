package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/pdfcpu/pdfcpu/pkg/api"

	"benchleaf/internal/demo"
	"benchleaf/internal/store"
)

// demoFolder is a data folder with the demonstration in it, and the cases it has.
func demoFolder(t *testing.T) (dir string, numbers, ids []string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "data")
	s, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := demo.Fill(t.Context(), s, time.Now()); err != nil {
		t.Fatal(err)
	}
	list, err := s.List(t.Context(), store.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range list {
		numbers, ids = append(numbers, c.Number), append(ids, string(c.ID))
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return dir, numbers, ids
}

func TestReportOfEveryCaseOfTheDemonstration(t *testing.T) {
	api.DisableConfigDir()
	dir, numbers, ids := demoFolder(t)
	if len(numbers) < 2 {
		t.Fatalf("the demonstration has the cases %v", numbers)
	}
	for i, number := range numbers {
		out := filepath.Join(t.TempDir(), "report.pdf")
		status, stdout, stderr := do(t, "", "report", number, "-o", out, "--data", dir)
		if status != 0 || stderr != "" || !strings.Contains(stdout, number) {
			t.Fatalf("case %s: status %d, %q, %q", number, status, stdout, stderr)
		}
		first, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		if err := api.Validate(bytes.NewReader(first), nil); err != nil {
			t.Errorf("case %s: %v", number, err)
		}
		if keep := os.Getenv("PAPERS_OUT"); keep != "" {
			os.WriteFile(filepath.Join(keep, "demo-"+ids[i]+".pdf"), first, 0o644)
		}
		// By identifier, over the file that is there, on other paper.
		status, stdout, stderr = do(t, "", "report", ids[i], "-o", out, "--data", dir, "--paper", "Letter", "--json")
		if status != 0 || stderr != "" {
			t.Fatalf("case %s: status %d, %q", ids[i], status, stderr)
		}
		var said struct {
			Number string
			Bytes  int64
		}
		if err := json.Unmarshal([]byte(stdout), &said); err != nil {
			t.Fatal(err)
		}
		info, err := os.Stat(out)
		if err != nil {
			t.Fatal(err)
		}
		if said.Number != number || said.Bytes != info.Size() {
			t.Errorf("case %s: said %+v, but the file has %d bytes", number, said, info.Size())
		}
		if left, _ := filepath.Glob(filepath.Join(filepath.Dir(out), "*")); len(left) != 1 {
			t.Errorf("case %s: there is more than the report in its folder: %v", number, left)
		}
	}
}

func TestReportRefusals(t *testing.T) {
	dir, numbers, _ := demoFolder(t)
	out := filepath.Join(t.TempDir(), "report.pdf")
	none := filepath.Join(t.TempDir(), "none")
	for _, x := range []struct {
		name   string
		args   []string
		status int
		want   string
	}{
		{"no such case", []string{"report", "1999-999", "-o", out, "--data", dir}, 1, `there is no case "1999-999"`},
		{"no such identifier", []string{"report", "0123456789abcdef", "-o", out, "--data", dir}, 1, "there is no case"},
		{"no data folder", []string{"report", "1", "-o", out, "--data", none}, 1, "there is no data folder at " + none},
		{"no place for the file", []string{"report", numbers[0], "-o", filepath.Join(none, "x.pdf"), "--data", dir}, 1, "x.pdf"},
		{"no file", []string{"report", "1", "--data", dir}, 2, "--out"},
		{"no such paper", []string{"report", "1", "-o", out, "--data", dir, "--paper", "A7"}, 2, "A7"},
	} {
		status, _, stderr := do(t, "", x.args...)
		if status != x.status || !strings.Contains(stderr, x.want) || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%s: status %d, %q; want %d and one sentence with %q", x.name, status, stderr, x.status, x.want)
		}
	}
	if _, err := os.Stat(none); err == nil {
		t.Error("a data folder was made where there was none")
	}
}
