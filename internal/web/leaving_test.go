package web

import (
	"net/http"
	"strings"
	"testing"

	"benchleaf/internal/record"
)

// A case whose object was taken apart is closed when somebody has looked at it put
// together again, or with a reason, which the record keeps with what it passes.
func TestACaseIsClosedWholeOrWithAReason(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	appendTo(t, s, id, record.MakeUp{InnerSheets: 2, Cover: "separate", Binding: "saddle", FirstPage: 1},
		record.Staple{Number: 1, FromHeadMm: 62, Rust: "none"},
		record.StapleMoved{Number: 1, Act: record.StapleRemoved, At: s.now()})
	form := see(t, answerTo(s, request("GET", casePath(id, "papers"), nil))).form("#close-form")
	form.Set("by", "KM")
	form.Set("close_outcome", "treated")
	w := answerTo(s, request("POST", casePath(id, "close"), form))
	if said := see(t, w).text(".refusals"); w.Code != http.StatusUnprocessableEntity ||
		!strings.Contains(said, "whole again") || !strings.Contains(said, "becomes of staple 1") {
		t.Fatalf("%d: %s", w.Code, said)
	}
	form.Set("override_leaving_kept-parts", "the owner wants it without staples")
	form.Set("override_leaving_reassembly", "sent back in sheets, as agreed")
	if w := answerTo(s, request("POST", casePath(id, "close"), form)); w.Code != http.StatusSeeOther {
		t.Fatalf("with reasons: %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	c := caseOf(t, s, id)
	if c.Closed == nil || len(c.Closed.Body.Overrides) != 2 || c.Closed.Body.Overrides[0].Reason != "sent back in sheets, as agreed" {
		t.Errorf("closed: %+v", c.Closed)
	}
}

// Leaf after leaf: what was answered is recorded as it was answered, and says what
// lacks and which sheet to move.
func TestCollatingByTouch(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	appendTo(t, s, id, record.MakeUp{InnerSheets: 3, Cover: "self", Binding: "loose", FirstPage: 1})
	at := casePath(id, "collate")
	page := see(t, answerTo(s, request("GET", at, nil)))
	if got := page.text("#collate-next"); got != "Page 1: is it there?" {
		t.Fatalf("asks %q", got)
	}
	// Sheets 2 and 1 have changed places, and the last leaf lacks.
	q := "?a=2-first&a=yes&a=yes&a=yes&a=1-second&a=no"
	page = see(t, answerTo(s, request("GET", at+q, nil)))
	said := page.text("main")
	for _, want := range []string{"Not in order", "Page 9 and page 10 (the second leaf of sheet 2) are missing", "Fewest sheets to move: sheet"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in %q", want, said)
		}
	}
	form := page.form("#collate-form")
	form.Set("by", "KM")
	form.Set("collation_when", "arrival")
	if w := answerTo(s, request("POST", at, form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text(".refusals"))
	}
	k := caseOf(t, s, id).Collations
	if len(k) != 1 || k[0].Body.InOrder || k[0].Body.SheetsCounted != 3 || len(k[0].Body.Found) != 5 || k[0].Body.Found[0].Sheet != 2 {
		t.Errorf("recorded: %+v", k)
	}
	// Half an answer is not recorded.
	form["a"] = form["a"][:2]
	if w := answerTo(s, request("POST", at, form)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("half way: %d", w.Code)
	}
}

// What is typed is shown as sheets before it is saved.
func TestPagesAreShownAsSheetsBeforeTheyAreSaved(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	for q, want := range map[string]string{
		"pages=36":                          "36 pages make 9 inner sheets.",
		"pages=36&build=stack":              "36 pages make 18 single leaves.",
		"pages=38":                          "2 are left over",
		"inner_sheets=9&inserts=3: card":    "two sides of one leaf",
		"inner_sheets=5&printed=17-20:+19":  "5 inner sheets: 20 pages.",
		"inner_sheets=2&inserts=4: card; 2": "2 inner sheets: 8 pages.",
	} {
		page := see(t, answerTo(s, request("GET", casePath(id, "make-up/preview?"+strings.ReplaceAll(q, " ", "+")), nil)))
		if got := page.text(".said"); !strings.Contains(got, want) {
			t.Errorf("%s: got %q, want %q", q, got, want)
		}
	}
	if caseOf(t, s, id).MakeUp != nil {
		t.Error("a look has saved something")
	}
}
