package web

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// paperText is the text of a paper as poppler reads it, in single blanks, without
// what stands on every page.
func paperText(t *testing.T, s *Server, path string) string {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftotext is not installed: the package poppler-utils is needed")
		}
		t.Skip("pdftotext is not installed: the package poppler-utils is needed")
	}
	w := answerTo(s, request("GET", path, nil))
	if w.Code != http.StatusOK {
		t.Fatalf("%s: status %d: %s", path, w.Code, w.Body)
	}
	file := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, w.Body.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-raw", "-enc", "UTF-8", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for page := range strings.SplitSeq(string(out), "\f") {
		page = runningLines.ReplaceAllString(page, "")
		// A row that goes on here is told in one piece, without the head between.
		if head := tableHead.FindString(page); head != "" && strings.Contains(b.String(), "\n"+head) {
			page = page[len(head):]
		}
		b.WriteString(page + "\n")
	}
	return oneBlank(brokenWord.ReplaceAllString(b.String(), "$1-$2"))
}

// runningLines are what stands on every page, head and foot, as a page's text
// begins; tableHead is the head of a table that it goes on with; brokenWord is a word with a hyphen of its own that a line ends in.
var (
	runningLines = regexp.MustCompile(`^[^\n]*?(\n[^\n]*)?page \d+ of \d+\n(From a journal of [^\n]*\n)?`)
	tableHead    = regexp.MustCompile(`^(Quantity|When|No\.|What|Test|Paper|Sheet|Operation) [^\n]*\n`)
	brokenWord   = regexp.MustCompile(`(\pL)-\n(\pL)`)
)

// oneBlank writes every run of white space, NBSP too, as one blank.
func oneBlank(s string) string { return strings.Join(strings.Fields(s), " ") }

// What is typed is what every place says, to the currency's own decimals. Worked
// by hand: 2.3 h at 12000 are 27600; with materials of 1500 they are 29100; 19 % of
// that is 5529; together 34629. Owner's value: 12000.
func TestMoneyIsOneOnFormScreenAndPaper(t *testing.T) {
	for currency, part := range map[string]string{"JPY": "", "KWD": ".000", "EUR": ".00"} {
		t.Run(currency, func(t *testing.T) {
			s, _ := newServer(t)
			c := wetCase(t, s, "2030-009")
			at := "/cases/" + string(c.ID)
			send := func(page, selector, to string, fields map[string]string) {
				t.Helper()
				p, _ := get(t, s, at+page)
				form := p.form(selector)
				for k, v := range fields {
					form.Set(k, v)
				}
				if w := post(s, at+to, form); w.Code != http.StatusSeeOther {
					t.Fatalf("%s: status %d: %s", to, w.Code, see(t, w).text(".refusals"))
				}
			}
			send("/examination", "form[action="+at+"/owner]", "/owner",
				map[string]string{"owner": "Owner (demo)", "value": "12000", "currency": currency})
			send("/proposal/new", "form[action="+at+"/proposal]", "/proposal", map[string]string{
				"currency": strings.ToLower(currency), "rate": "12000", "tax_percent": "19", "valid_days": "30",
				"o0_title": "wash", "risks": "none beyond handling", "alternatives": "doing nothing",
				"o0_op_0": "wash", "o0_hours_0": "1.1", "o0_materials_0": "1500",
				"o0_op_1": "lime", "o0_hours_1": "1.2",
			})
			send("/proposal", "form[action="+at+"/consent]", "/consent",
				map[string]string{"version": "1", "option": "A", "answer": "given", "who": "Owner (demo)",
					"standing": "owner", "way": "letter"})

			p, _ := get(t, s, at+"/proposal/new")
			for field, want := range map[string]string{
				"rate": "12000" + part, "o0_materials_0": "1500" + part, "currency": currency, "o0_hours_1": "1.2",
			} {
				if got := p.form("form[action=" + at + "/proposal]").Get(field); got != want {
					t.Errorf("the form is filled back with %s %q, want %q", field, got, want)
				}
			}
			screen := func(path string) string { p, _ := get(t, s, path); return oneBlank(p.text("main")) }
			sum := func(n string) string { return currency + " " + n + part }
			for place, facts := range map[string][]string{
				screen(at + "/examination"):       {sum("12000")},
				screen(at + "/proposal"):          {sum("34629"), sum("27600"), "29100" + part, "5529" + part, "1500" + part},
				paperText(t, s, at+"/report.pdf"): {sum("12000")},
				paperText(t, s, at+"/proposal/1"): {sum("12000"), sum("27600"), sum("29100"), sum("5529"), sum("34629")},
				paperText(t, s, at+"/invoice.pdf"): {"13200" + part, "14400" + part, sum("29100"), sum("5529"),
					sum("34629")},
			} {
				for _, want := range facts {
					if !strings.Contains(place, want) {
						t.Errorf("%q is missing in: %s", want, place)
					}
				}
			}
		})
	}
}
