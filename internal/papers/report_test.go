package papers

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// readText gives the text of a PDF as a reader would copy it.
func readText(t *testing.T, pdf []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	if dir := os.Getenv("BENCHLEAF_PAPERS_OUT"); dir != "" {
		os.WriteFile(filepath.Join(dir, filepath.Base(t.Name())+".pdf"), pdf, 0o644)
	}
	out, err := exec.Command("pdftotext", "-enc", "UTF-8", file, "-").CombinedOutput()
	if err != nil {
		t.Fatalf("pdftotext: %v: %s", err, out)
	}
	return string(out)
}

func TestReportHoldsEveryFactOfTheRecord(t *testing.T) {
	st, _, _ := testStudio(t)
	pdf, err := Report(richCase(t), st, Options{Pictures: drawn{t}})
	if err != nil {
		t.Fatal(err)
	}
	readText(t, pdf)
}
