package papers

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// poppler runs a program of poppler-utils on a PDF: a reader that shares no
// code with the writer. Without it the test is skipped, but not where CI says
// that everything must run.
func poppler(t testing.TB, program string, pdf []byte, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed: the package poppler-utils is needed", program)
		}
		t.Skipf("%s is not installed: the package poppler-utils is needed", program)
	}
	file := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, a := range args {
		if a == "FILE" {
			a = file
		}
		out = append(out, a)
	}
	var errs bytes.Buffer
	cmd := exec.Command(program, out...)
	cmd.Stderr = &errs
	b, err := cmd.Output()
	if err != nil || errs.Len() > 0 {
		t.Fatalf("%s: %v: %s", program, err, errs.String())
	}
	return string(b)
}

// runningLines are what stands on every page, head and foot, as a page's text begins.
var runningLines = regexp.MustCompile(`^[^\n]*?(\n[^\n]*)?page \d+ of \d+\n(From a journal of [^\n]*\n)?`)

// wordsOf gives the text of a PDF in the order in which it was written, with
// single spaces and without the running heads and feet.
func wordsOf(t testing.TB, pdf []byte) string {
	t.Helper()
	var b strings.Builder
	for page := range strings.SplitSeq(poppler(t, "pdftotext", pdf, "-raw", "-enc", "UTF-8", "FILE", "-"), "\f") {
		b.WriteString(runningLines.ReplaceAllString(page, "") + "\n")
	}
	whole := brokenWord.ReplaceAllString(b.String(), "$1-$2")
	return strings.Join(strings.Fields(whole), " ")
}

// brokenWord is a word with a hyphen of its own that a line ends in.
var brokenWord = regexp.MustCompile(`(\pL)-\n(\pL)`)

// pages gives the text of each page.
func pages(t testing.TB, pdf []byte) []string {
	t.Helper()
	all := strings.Split(
		strings.TrimSuffix(poppler(t, "pdftotext", pdf, "-raw", "-enc", "UTF-8", "FILE", "-"), "\f"),
		"\f",
	)
	for i := range all {
		all[i] = strings.Join(strings.Fields(all[i]), " ")
	}
	return all
}

var (
	bboxPage = regexp.MustCompile(`<page width="([\d.]+)" height="([\d.]+)">`)
	bboxWord = regexp.MustCompile(
		`<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*)</word>`,
	)
)

// inside fails when a word stands outside the area of a page that is meant for
// it: the text area, or the running head and foot. Labels have narrow margins
// and neither.
func inside(t testing.TB, pdf []byte, labels bool) {
	t.Helper()
	var s pageSize
	n, wrong := 0, 0
	for line := range strings.Lines(poppler(t, "pdftotext", pdf, "-bbox", "-enc", "UTF-8", "FILE", "-")) {
		if m := bboxPage.FindStringSubmatch(line); m != nil {
			s = pageSizes["A4"]
			if strings.HasPrefix(m[1], "612") {
				s = pageSizes["Letter"]
			}
			if labels {
				s.left, s.right, s.top, s.bottom = 28, 28, 28, 28
			}
		}
		m := bboxWord.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		n++
		var v [4]float64
		for i := range v {
			v[i], _ = strconv.ParseFloat(m[i+1], 64)
		}
		// A word's box is as high as the font's ascenders and descenders, which
		// reach beyond its line by up to 3 pt.
		head, foot := v[1] > 34 && v[3] < 52, v[1] > s.height-46 && v[3] < s.height-30
		text := v[1] > s.top-4 && v[3] < s.height-s.bottom+4
		if v[0] < s.left-0.5 || v[2] > s.width-s.right+0.5 || !text && !(!labels && (head || foot)) {
			if wrong++; wrong <= 8 {
				t.Errorf("the word %q stands at %v, outside its area on %s", m[5], v, s.name)
			}
		}
	}
	if n == 0 {
		t.Error("no word was found on any page")
	}
}

// sound checks what every paper must be: valid for a second reader, tagged,
// PDF/A by its own word, with every font embedded as a subset that can be read
// back, and every word in its place on the page.
func sound(t testing.TB, pdf []byte) {
	t.Helper()
	if dir := os.Getenv("PAPERS_OUT"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, strings.ReplaceAll(t.Name(), "/", "_")+".pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	conf := model.NewDefaultConfiguration()
	conf.ValidationMode = model.ValidationStrict
	if err := api.Validate(bytes.NewReader(pdf), conf); err != nil {
		t.Errorf("pdfcpu: %v", err)
	}
	info := poppler(t, "pdfinfo", pdf, "FILE")
	if !regexp.MustCompile(`(?m)^Tagged: +yes$`).MatchString(info) {
		t.Errorf("the paper is not tagged:\n%s", info)
	}
	xmp := poppler(t, "pdfinfo", pdf, "-meta", "FILE")
	for _, want := range []string{"<pdfaid:part>2</pdfaid:part>", "<pdfaid:conformance>A</pdfaid:conformance>"} {
		if !strings.Contains(xmp, want) {
			t.Errorf("its metadata lack %s:\n%s", want, xmp)
		}
	}
	fonts := strings.Split(strings.TrimSpace(poppler(t, "pdffonts", pdf, "FILE")), "\n")[2:]
	for _, f := range fonts {
		if !strings.Contains(f, "yes yes yes") || !strings.Contains(f, "+SourceSerif4") {
			t.Errorf("a font is not embedded as a readable subset of the typeface: %s", f)
		}
	}
	if len(fonts) == 0 {
		t.Error("there is no font in the paper")
	}
	inside(t, pdf, strings.HasPrefix(t.Name(), "TestLabels"))
}

// figures gives the alternative text of each figure in a paper's structure.
func figures(t testing.TB, pdf []byte) (alts []string) {
	t.Helper()
	ctx, err := api.ReadAndValidate(bytes.NewReader(pdf), model.NewDefaultConfiguration())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range ctx.Table {
		d, ok := e.Object.(types.Dict)
		if !ok {
			continue
		}
		if kind := d.NameEntry("S"); kind == nil || *kind != "Figure" {
			continue
		}
		alt := ""
		switch v := d["Alt"].(type) {
		case types.StringLiteral:
			alt, err = types.StringLiteralToString(v)
		case types.HexLiteral:
			alt, err = types.HexLiteralToString(v)
		}
		if err != nil {
			t.Fatal(err)
		}
		alts = append(alts, alt)
	}
	slices.Sort(alts)
	return alts
}

func TestMain(m *testing.M) {
	api.DisableConfigDir() // pdfcpu would write its settings into the home folder
	os.Exit(m.Run())
}
