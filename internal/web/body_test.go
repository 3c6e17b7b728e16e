package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"time"

	"benchleaf/condition"
	"benchleaf/internal/record"
)

// What a form is filled with from an entry comes back from it as it was, for
// each kind that is written by its table alone.
func TestFormGivesBackTheBodyThatFilledIt(t *testing.T) {
	s, _ := newServer(t)
	n := func(v float64) *float64 { return &v }
	count, id := 2, record.NewID(time.Now())
	at := time.Date(2030, 5, 14, 18, 30, 0, 0, s.zone)
	on := record.Place{Sheets: []int{0, 5}, Face: record.FaceInner, Words: "page 12"}
	for _, b := range []record.Body{
		record.Identity{Title: "The Windlass", HeightMm: n(260), WidthMm: n(170.5), Inscriptions: "15c in pencil\non the cover"},
		record.Ownership{Owner: "A. Owner", ValueMinor: 12000, Currency: "JPY", Keep: "the stamp"},
		record.Ownership{Owner: "A. Owner", ValueMinor: 12345, Currency: "KWD"},
		record.Custody{Act: "lent", At: at, Place: "framer", BothSigned: true},
		record.Quarantine{State: record.QuarantineWaiting, At: at, Moisture: record.Damp},
		record.EarlierTreatment{Seen: "seen", What: "old hinge", Nature: record.Observed, Place: on},
		record.EarlierTreatment{Seen: record.EarlierNone},
		record.Insurance{Answer: record.InsuredByOwner, Insurer: "policy 12", SumMinor: 50000, Currency: "EUR",
			From: time.Date(2030, 5, 1, 0, 0, 0, 0, s.zone)},
		record.Stock{ID: id, Name: "interior", Class: record.Groundwood, Sheets: []int{1, 2}, WidthMm: 340, HeightMm: 262,
			GrammageGM2: 50.5, GrammageBasis: record.BasisStated, PickUpGG: &record.Range{Low: 1.4, Best: 1.8, High: 2.2}},
		record.Reading{Quantity: "b-star", Value: 0, Method: "photograph", Stage: record.StageAfter, Place: on, At: at},
		record.Damage{ID: id, Term: "tear", Place: on, Through: true, LengthMm: n(12), Count: &count,
			Shapes: []condition.Shape{{Form: condition.Spot, Points: []condition.Point{{XMm: 12, YMm: 30.25}}}}},
		record.SpotTest{ID: id, Sort: record.TestSolubility, Colour: "red", Place: on, Liquid: record.LiquidWater, At: at},
		record.Staple{Number: 1, FromHeadMm: 0, CrownMm: n(12), Rust: "light"},
		record.Collation{When: record.CollatedArrival, At: at, SheetsCounted: 10, InOrder: false},
		record.Mend{ID: id, Damages: []string{id}, Place: on, At: at, Tissue: "kozo", Adhesive: "paste", State: record.MendDamp},
		record.Consent{Version: 1, Option: "A", Answer: record.ConsentGiven, Who: "A. Owner", Standing: "owner",
			Way: record.ByLetter, At: at},
		record.Closed{Outcome: record.ClosedTreated, Reinspect: time.Date(2031, 5, 14, 0, 0, 0, 0, s.zone)},
		record.Method{ID: id, Name: "lime", Operation: "lime", PlannedMin: 20, DueMin: []float64{10, 45}, Basis: "own test"},
	} {
		r := httptest.NewRequest("GET", "/", nil)
		f := s.bodyForm(r, "x", 3, b, true, nil)
		sent := s.formOf(r, "x", f.values)
		got := reflect.ValueOf(readAs(b, sent)).Interface()
		if len(sent.Refused) > 0 || !reflect.DeepEqual(got, b) {
			t.Errorf("%s comes back as %+v (refused: %v), want %+v", b.Kind(), got, sent.RefusalsAt(""), b)
		}
		if err := record.Validate(b); err != nil {
			t.Errorf("%s: %v", b.Kind(), err)
		}
	}
}

// readAs reads a body of b's kind from a form.
func readAs(b record.Body, f *Form) record.Body {
	v := reflect.New(reflect.TypeOf(b)).Elem()
	for _, x := range record.Fields(b) {
		f.read(v.FieldByIndex(x.Index), &x)
	}
	return v.Interface().(record.Body)
}

// An order that nobody judged is asked for, and not written as "not in order".
func TestYesOrNoMustBeSaid(t *testing.T) {
	s, _ := newServer(t)
	f := s.formOf(httptest.NewRequest("GET", "/", nil), "x", url.Values{"sheets_counted": {"10"}, "collation_when": {"arrival"}})
	bodyOf[record.Collation](f)
	if len(f.RefusalsAt("in_order")) == 0 {
		t.Error("a collation was read without saying whether the sheets are in order")
	}
}

// No judgement stands in a form before somebody makes it, and one that nobody
// made is saved as open, shown as not judged and listed.
func TestNoJudgementIsPreset(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	appendTo(t, s, id, record.MakeUp{InnerSheets: 2, Cover: record.CoverSeparate, Binding: "saddle", FirstPage: 1})
	for _, x := range []struct{ place, path, form string }{
		{"condition/record", "damage", "#record form"}, {"tests", "test", "#record form"},
		{"examination", "stock", "#papers form"},
	} {
		p, _ := get(t, s, casePath(id, x.place))
		form := p.form(x.form)
		for _, judged := range []string{
			"severity", "cause_is", "active", "result", "dwell_s", "grain", "grammage_basis", "sheets", "mould",
		} {
			if form.Get(judged) != "" {
				t.Errorf("%s: %s is %q before anybody said so", x.path, judged, form.Get(judged))
			}
		}
		for k, v := range map[string]string{
			"term": "tear", "sheets": "1", "colour": "red", "liquid": "water", "stock_name": "interior", "class": "groundwood",
			"width_mm": "340", "height_mm": "262", "grammage_g_m2": "50",
		} {
			form.Set(k, v)
		}
		if w := post(s, casePath(id, x.path), form); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", x.path, w.Code, see(t, w).text(".refusals"))
		}
	}
	c := caseOf(t, s, id)
	if b := c.Damages[0].Body; b.Severity != "" || b.CauseIs != "" || b.Active != "" {
		t.Errorf("the damage was judged: %+v", b)
	}
	if b := c.Stocks[0].Body; b.GrammageBasis != record.BasisStated {
		t.Errorf("a typed grammage is %q, want stated", b.GrammageBasis)
	}
	for place, want := range map[string]string{
		"condition": "severity not judged", "tests": "not read", "examination": "Earlier treatment not looked for",
	} {
		if p, _ := get(t, s, casePath(id, place)); !strings.Contains(p.text("#open"), want) {
			t.Errorf("%s lists as open %q, want %q among it", place, p.text("#open"), want)
		}
	}
}

// Earlier treatment and insurance show on Examination and in the log.
func TestEarlierTreatmentAndInsuranceAreRecorded(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	for path, fields := range map[string]map[string]string{
		"earlier": {"earlier_seen": "none"},
		"insurance": {
			"insured": "owner", "insurer": "policy 12", "insured_sum": "12000", "currency": "jpy", "insured_until": "2031-06-30",
		},
	} {
		p, _ := get(t, s, casePath(id, "examination"))
		form := p.form("form[action=" + casePath(id, path) + "]")
		for k, v := range fields {
			form.Set(k, v)
		}
		if w := post(s, casePath(id, path), form); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", path, w.Code, see(t, w).text(".refusals"))
		}
	}
	for _, place := range []string{"examination", "log"} {
		p, _ := get(t, s, casePath(id, place))
		said := strings.ReplaceAll(p.text("main"), "\u00a0", " ")
		for _, want := range []string{"Earlier treatment: none seen", "JPY 12000", "policy 12", "30 June 2031"} {
			if !strings.Contains(said, want) {
				t.Errorf("%s does not say %q", place, want)
			}
		}
	}
}
