package web

import (
	"net/http"
	"testing"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// A make-up begins with nothing chosen; its cover is the button that saves it,
// and what holds the sheets stays open until somebody has looked.
func TestMakeUpIsSavedByItsCover(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	form := see(t, answerTo(s, request("GET", casePath(id, "make-up"), nil))).form("form.form")
	if form.Get("cover") != "" || form.Get("binding") != "" {
		t.Errorf("it begins with cover %q, binding %q; want neither", form.Get("cover"), form.Get("binding"))
	}
	form.Set("by", "KM")
	form.Set("cover", "separate")
	form.Set("pages", "37")
	if w := answerTo(s, request("POST", casePath(id, "make-up"), form)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("37 pages: %d, want them refused", w.Code)
	}
	form.Set("pages", "36")
	if w := answerTo(s, request("POST", casePath(id, "make-up"), form)); w.Code != http.StatusSeeOther {
		t.Fatalf("36 pages: %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	c := caseOf(t, s, id)
	if b := c.MakeUp.Body; b.InnerSheets != 9 || b.Cover != record.CoverSeparate || b.Binding != "" {
		t.Errorf("%+v; want 9 sheets in a separate cover, and no binding", b)
	}
	open := account.OpenAt(c, "make-up")
	if len(open) != 1 || open[0].Code != account.BindingOpen {
		t.Errorf("open at the make-up: %v; want the binding", open)
	}
}

// Another bottle is another adhesive: the name of the last mend's is not kept.
func TestAMendTakesItsAdhesiveFromItsBottle(t *testing.T) {
	s, _ := newServer(t)
	c := wetCase(t, s, "31-1")
	bottle := func(name, substance string) record.Bottle {
		return record.Bottle{
			ID: record.NewID(s.now()), Name: name, Substance: substance, Form: record.FormAdhesive, Unit: "% w/v",
			Strength: &record.Range{Low: 3.8, Best: 4, High: 4.2}, VolumeMl: 100, MadeAt: s.now(), Lot: "L-" + name,
		}
	}
	first, other := bottle("first", "methyl cellulose"), bottle("other", "wheat starch")
	appendTo(t, s, record.StudioID, first, other)
	appendTo(t, s, c.ID, record.Mend{
		ID: record.NewID(s.now()), Place: record.Place{Sheets: []int{1}}, Tissue: "kozo tissue",
		Adhesive: "methyl cellulose, 4 % w/v", AdhesiveLot: first.Lot, Bottle: first.ID, State: record.MendDry, At: s.now(),
	})
	form := see(t, answerTo(s, request("GET", casePath(c.ID, "mend?sheet=2"), nil))).form("form.form")
	if form.Get("bottle") != first.ID || form.Get("adhesive") != "" {
		t.Errorf("it begins with bottle %q, adhesive %q; want the last bottle alone", form.Get("bottle"), form.Get("adhesive"))
	}
	form.Set("by", "KM")
	form.Set("bottle", other.ID)
	if w := answerTo(s, request("POST", casePath(c.ID, "mend"), form)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, see(t, w).text(".refusals"))
	}
	mends := caseOf(t, s, c.ID).Mends
	got := mends[len(mends)-1].Body
	if want := "wheat starch, 4\u00a0% w/v"; got.Adhesive != want || got.AdhesiveLot != other.Lot {
		t.Errorf("the record has %q, lot %q; want %q, lot %q", got.Adhesive, got.AdhesiveLot, want, other.Lot)
	}
}
