package treatment

import (
	"slices"
	"strings"
	"testing"
	"time"

	"benchleaf/condition"
	"benchleaf/internal/record"
)

var evening = time.Date(2026, 3, 6, 18, 0, 0, 0, time.UTC)

func at(min int) time.Time { return evening.Add(time.Duration(min) * time.Minute) }

// fold makes a case of bodies, each admitted, a minute apart.
func fold(t *testing.T, bodies ...record.Body) *record.Case {
	t.Helper()
	c := record.Fold(nil)
	c.ID = "0000000000000001"
	for i, b := range bodies {
		next, _, err := c.Append(record.Writing{Time: at(200 + i), By: "KM"}, []record.Item{{Body: b}})
		if err != nil {
			t.Fatalf("%s: %v", b.Kind(), err)
		}
		c = next
	}
	return c
}

// ready is a case in which sheets 1 to 3 may be washed, limed and reduced.
func ready() []record.Body {
	test := func(liquid, sort, result string, sheet int) record.SpotTest {
		return record.SpotTest{
			ID:     record.NewID(evening),
			Sort:   record.TestSort(sort),
			Colour: "black",
			Place:  record.Place{Sheets: []int{sheet}},
			Liquid: record.TestLiquid(liquid),
			Result: record.TestResult(result),
		}
	}
	return []record.Body{
		record.Opened{Number: "1", Title: "Demo"},
		record.MakeUp{InnerSheets: 3, Cover: "separate", Binding: "saddle", FirstPage: 1},
		record.Quarantine{State: "released", Moisture: "dry", Mould: "none"},
		record.Stock{
			ID:            record.NewID(evening),
			Name:          "cover",
			Class:         "coated",
			Sheets:        []int{0},
			WidthMm:       340,
			HeightMm:      262,
			GrammageGM2:   90,
			GrammageBasis: "measured",
			Grain:         "unknown",
		},
		record.Stock{
			ID:            record.NewID(evening),
			Name:          "interior",
			Class:         "groundwood",
			Sheets:        []int{1, 2, 3},
			WidthMm:       340,
			HeightMm:      262,
			GrammageGM2:   50,
			GrammageBasis: "measured",
			Grain:         "unknown",
		},
		record.Staple{Number: 1, FromHeadMm: 60, Rust: "none"},
		record.StapleMoved{Number: 1, Act: "removed"},
		test(
			"water",
			"solubility",
			"0",
			1,
		), test("alkaline-water", "solubility", "0", 2), test("borohydride", "bleach", "0", 1),
		test("water", "solubility", "0", 0), test("alkaline-water", "solubility", "3", 0),
		record.Proposal{
			Version:      1,
			Currency:     "EUR",
			RateMinor:    100,
			ValidDays:    30,
			Alternatives: "nothing",
			Risks:        "some",
			Options: []record.Option{{Name: "A", Title: "wash", Operations: []record.Planned{
				{
					Operation: "wash", Hours: 1,
					Sheets: []int{1, 2, 3},
				}, {Operation: "reduce", Sheets: []int{1, 2}}, {Operation: "rinse", Sheets: []int{1, 2}},
				{Operation: "lime", Sheets: []int{0, 1, 2, 3}}, {Operation: "dry-absorbent"}}}},
		},
		record.Consent{Version: 1, Option: "A", Answer: "given", Who: "Owner (demo)", Standing: "owner", Way: "letter"},
	}
}

func run(op string, startMin, endMin int, sheets ...int) []record.Body {
	o := Find(op)
	s := record.RunStarted{
		ID:            record.NewID(at(startMin)),
		Operation:     op,
		OperationName: o.Name,
		Sheets:        sheets,
		At:            at(startMin),
		Makes:         o.Makes,
	}
	if o.Bath {
		s.Bath = &record.Bath{ID: record.NewID(at(startMin)), Liquid: "test liquid", VolumeMl: 1500}
	}
	return []record.Body{s, record.RunEnded{Run: s.ID, At: at(endMin), Outcome: "done", Leaves: o.Leaves}}
}

func washed(all []record.Body) []record.Body {
	list := slices.Clone(all)
	s := run("wash", 0, 20, 1, 2)
	started := s[0].(record.RunStarted)
	started.ID = washID
	ended := s[1].(record.RunEnded)
	ended.Run = washID
	return append(list, started, ended)
}

var washID = record.NewID(evening)

// read is a reading of the pH of that wash.
func read(min int, ph float64) record.Reading {
	return record.Reading{
		Quantity: "bath-ph", Value: ph, Method: "electrode in the bath", Stage: record.StageDuring, Run: washID, At: at(min),
	}
}

func says(held []Unmet, gate string) string {
	for _, h := range held {
		if h.Gate == gate {
			return h.Say
		}
	}
	return ""
}

func TestGates(t *testing.T) {
	all := ready()
	without := func(kind record.Kind) []record.Body {
		var out []record.Body
		for _, b := range all {
			if b.Kind() != kind {
				out = append(out, b)
			}
		}
		return out
	}
	cases := []struct {
		name   string
		bodies []record.Body
		op     string
		sheets []int
		gate   string
		want   string // empty: the gate holds
	}{
		{"all holds", all, "wash", []int{1, 2, 3}, "consent", ""},
		{"no consent", without("consent"), "wash", []int{1}, "consent", "no consent"},
		{"out of scope", all, "reduce", []int{1, 3}, "consent", "sheet 3"},
		{"mould not looked for", without("quarantine"), "wash", []int{1}, "mould", "nobody"},
		{"staples in", without("staple-moved"), "wash", []int{1}, "staples out", "still in"},
		{"inks tested", all, "wash", []int{1}, "inks in water", ""},
		{"inks untested", without("spot-test"), "wash", []int{1}, "inks in water", "No colour"},
		{"red moved in alkali", all, "lime", []int{0}, "inks in alkaline water", "moved"},
		{"inner sheets hold in alkali", all, "lime", []int{1, 2}, "inks in alkaline water", ""},
		{"acid still in", all, "reduce", []int{1}, "acid out first", "Sheet 1"},
		{"washed, not read", append(all, run("wash", 0, 20, 1, 2)...), "reduce", []int{1, 2}, "acid out first", "No pH was read"},
		{"still acid", append(washed(all), read(15, 5.8)), "reduce", []int{1, 2}, "acid out first", "still gave pH 5.8"},
		{"acid out", append(washed(all), read(15, 7.1)), "reduce", []int{1, 2}, "acid out first", ""},
		{"not cleaned", all, "wash", []int{1}, "surface cleaned", "No surface cleaning of sheet 1"},
		{"cleaned", append(all, run("surface-clean", 0, 20, 1)...), "wash", []int{1}, "surface cleaned", ""},
		{"not apart", all, "wash", []int{1, 2}, "taken apart", "not taken apart"},
		{"apart", append(all, run("take-apart", 0, 20, 1, 2)...), "wash", []int{1, 2}, "taken apart", ""},
		{"wet before", washed(all), "lime", []int{1}, "taken apart", ""},
		{"no pH of the bleach", all, "reduce", []int{1}, "pH of the bleach", "was not read"},
		{
			"a trial said no", append(all, record.Trial{
				ID: record.NewID(evening), Operation: "reduce", Place: record.Place{Sheets: []int{2}}, On: "a loose fragment",
				Seen: "blisters", Verdict: record.TrialStop,
			}), "reduce", []int{1}, "trial", "blisters",
		},
		{
			"bleach not rinsed",
			append(all, run("reduce", 0, 20, 1)...),
			"lime",
			[]int{1},
			"bleach rinsed out",
			"was not rinsed",
		},
		{
			"bleach rinsed",
			append(append(all, run("reduce", 0, 20, 1)...), run("rinse", 21, 30, 1)...),
			"lime",
			[]int{1},
			"bleach rinsed out",
			"",
		},
		{"mend on a dry sheet", all, "mend-damp", []int{2}, "damp", "is dry"},
		{"mend on a wet sheet", append(all, run("wash", 0, 20, 2)...), "mend-damp", []int{2}, "damp", ""},
		{
			"reassemble wet",
			append(all, run("wash", 0, 20, 2)...),
			"reassemble",
			[]int{0, 1, 2, 3},
			"all dry",
			"sheet 2",
		},
	}
	for _, tc := range cases {
		c := fold(t, tc.bodies...)
		got := says(Gates(c, &record.Studio{}, Start{Operation: Find(tc.op), Sheets: tc.sheets, At: at(300)}), tc.gate)
		if (tc.want == "") != (got == "") || !strings.Contains(got, tc.want) {
			t.Errorf("%s: gate %q says %q, want %q in it", tc.name, tc.gate, got, tc.want)
		}
	}
}

// A sentence begins with a capital in any script.
func TestGateNamesAColourOfAnyScript(t *testing.T) {
	for colour, want := range map[string]string{"écarlate": "Écarlate of the", "ёлочный": "Ёлочный of the"} {
		c := fold(t, append(ready(), record.SpotTest{
			ID: record.NewID(evening), Sort: "solubility", Colour: colour, Place: record.Place{Sheets: []int{1}},
			Liquid: "water", Result: "2",
		})...)
		got := says(Gates(c, &record.Studio{}, Start{Operation: Find("wash"), Sheets: []int{1}}), "inks in water")
		if !strings.HasPrefix(got, want) {
			t.Errorf("the gate says %q, want it to begin with %q", got, want)
		}
	}
}

// A mark of a pen speaks for its own sheet, and so does any test where the papers are not
// described; what no finding or test speaks for is left out with its reason.
func TestATestSpeaksForItsPartAlone(t *testing.T) {
	pen := record.SpotTest{
		ID: record.NewID(evening), Sort: "solubility", Colour: "blue pen", Place: record.Place{Sheets: []int{2}},
		Liquid: "water", Result: "3", OnlyHere: true,
	}
	c := fold(t, append(ready(), pen)...)
	for sheet, want := range map[int]string{1: "", 2: "Blue pen of the sheet 2 moved in water", 3: ""} {
		got := says(Gates(c, &record.Studio{}, Start{Operation: Find("wash"), Sheets: []int{sheet}}), "inks in water")
		if !strings.HasPrefix(got, want) || want == "" && got != "" {
			t.Errorf("sheet %d: %q, want %q", sheet, got, want)
		}
	}
	var bare []record.Body
	for _, b := range ready() {
		if k := b.Kind(); k != "stock-described" && k != "spot-test" {
			bare = append(bare, b)
		}
	}
	pen.OnlyHere, pen.Place.Sheets = false, []int{0}
	foxing := record.Damage{ID: record.NewID(evening), Term: "foxing", Place: record.Place{Sheets: []int{0, 3}}}
	c = fold(t, append(bare, pen, foxing)...)
	d := DraftPlan(c)
	left := strings.Join(d.LeftOut, "\n")
	for _, want := range []string{"No immersion of the cover, though foxing", "Blue pen of the cover moved",
		"No immersion of the sheet 3", "No colour of the sheet 3 was tested"} {
		if !strings.Contains(left, want) {
			t.Errorf("left out:\n%s\nwant %q", left, want)
		}
	}
	todo := map[ToDoCode]string{}
	for _, x := range ToGoOn(c) {
		todo[x.Code] += x.Say
	}
	if !strings.Contains(todo[ToTest], "sheet 3") || strings.Contains(todo[ToTest], "cover in water") || todo[ToDescribe] == "" {
		t.Errorf("to do: %q", todo)
	}
}

// A yes by word of mouth is asked for in writing until a letter is there.
func TestAYesByWordOfMouthIsChased(t *testing.T) {
	bodies := ready()
	for i, b := range bodies {
		if x, is := b.(record.Consent); is {
			x.Way = "telephone"
			bodies[i] = x
		}
	}
	if say := Unwritten(fold(t, bodies...)); !strings.Contains(say, "get it in writing") {
		t.Errorf("%q", say)
	}
	for _, b := range ready() {
		if x, is := b.(record.Consent); is {
			x.Way = record.ByLetter
			bodies = append(bodies, x)
		}
	}
	if say := Unwritten(fold(t, bodies...)); say != "" {
		t.Errorf("a letter came, and still: %q", say)
	}
}

// A colour that moves only when the spot is looked at again has moved.
func TestRereadShutsTheGate(t *testing.T) {
	bodies := ready()
	var id string
	for _, b := range bodies {
		if s, ok := b.(record.SpotTest); ok && s.Liquid == "water" && s.Place.Sheets[0] == 1 {
			id = s.ID
		}
	}
	c := fold(t, append(bodies, record.SpotReread{Test: id, Light: "uv", Result: "2", Change: "halo"})...)
	if got := says(Gates(c, &record.Studio{}, Start{Operation: Find("wash"), Sheets: []int{1}}),
		"inks in water"); got == "" {
		t.Error("the gate holds although the reread moved")
	}
}

func TestBottleGate(t *testing.T) {
	b := record.Bottle{ID: record.NewID(evening), Name: "lime water", ExpiresAt: at(10)}
	st := &record.Studio{Bottles: []record.ShelfBottle{{Stamped: record.Stamped[record.Bottle]{Body: b}}}}
	c := fold(t, ready()...)
	s := Start{Operation: Find("lime"), Sheets: []int{1}, Bottles: []string{b.ID}, At: at(9)}
	if got := says(Gates(c, st, s), "bottle"); got != "" {
		t.Errorf("in date: %q", got)
	}
	s.At = at(11)
	if got := says(Gates(c, st, s), "bottle"); !strings.Contains(got,
		"past its date: it was good until "+at(10).Format("15:04")) {
		t.Errorf("past its date on the very day, %q: want the hour", got)
	}
	s.At = at(24 * 60)
	if got := says(Gates(c, st, s), "bottle"); !strings.Contains(got, "6\u00a0March, 18:10") {
		t.Errorf("past its date since yesterday: %q, want the day too", got)
	}
}

func TestNext(t *testing.T) {
	bodies := ready()
	first := Next(fold(t, bodies...))
	if len(first) == 0 || first[0].Operation.Slug != "wash" || len(first[0].Sheets) != 3 {
		t.Fatalf("first step %+v, want washing sheets 1 to 3", first)
	}
	bodies = append(bodies, run("wash", 0, 20, 1, 2, 3)...)
	bodies = append(bodies, run("reduce", 21, 30, 1)...)
	bodies = append(
		bodies,
		record.NextStep{Sheets: []int{2}, Operation: "lime", Text: "no bleach needed", Reason: "the tide line is gone"},
	)
	steps := Next(fold(t, bodies...))
	if steps[0].Operation.Slug != "rinse" || !steps[0].AtOnce || steps[0].Sheets[0] != 1 {
		t.Errorf("after the bleach %+v comes first, want the rinse of sheet 1 at once", steps[0])
	}
	for _, s := range steps[1:] {
		if s.Sheets[0] == 2 && s.Operation.Slug != "lime" {
			t.Errorf("sheet 2 gets %s, want what was decided", s.Operation.Slug)
		}
	}
}

func TestOperationsAreWhole(t *testing.T) {
	seen := map[string]bool{}
	for i, o := range Operations {
		if seen[o.Slug] || o.Name == "" || o.Purpose == "" || o.Basis == "" || o.Usual == "" {
			t.Errorf("%s: twice, or without name, purpose, usual figures or basis", o.Slug)
		}
		seen[o.Slug] = true
		if i > 0 && o.Rank <= Operations[i-1].Rank {
			t.Errorf("%s stands out of order", o.Slug)
		}
		if o.ThenAtOnce != "" && Find(o.ThenAtOnce) == nil {
			t.Errorf("%s is followed by %s, which does not exist", o.Slug, o.ThenAtOnce)
		}
	}
	for _, slug := range []string{"reduce", "lime", "tape-off", "surface-clean", "staples-out"} {
		if len(Find(slug).Cautions) == 0 {
			t.Errorf("%s can hurt and has no caution", slug)
		}
	}
}

func TestDraftPlanFollowsTheFindings(t *testing.T) {
	bodies := append(
		ready()[:12],
		record.Reading{
			Quantity: "surface-ph",
			Value:    4.4,
			Method:   "flat electrode",
			Stage:    "before",
			Place:    record.Place{Sheets: []int{1}},
		},
		record.Reading{
			Quantity: "surface-ph",
			Value:    5.4,
			Method:   "flat electrode",
			Stage:    "before",
			Place:    record.Place{Sheets: []int{0}},
		},
		record.Damage{
			ID:       record.NewID(evening),
			Term:     "tear",
			Place:    record.Place{Sheets: []int{2, 3}},
			Severity: "slight",
			CauseIs:  "unknown",
			Active:   "no",
		},
		record.Damage{
			ID:       record.NewID(evening),
			Term:     "tideline",
			Place:    record.Place{Sheets: []int{1}},
			Severity: "slight",
			CauseIs:  "unknown",
			Active:   "no",
		},
	)
	d := DraftPlan(fold(t, bodies...))
	on := map[string][]int{}
	rank := 0
	for _, p := range d.Operations {
		o := Find(p.Operation)
		if o.Rank < rank {
			t.Errorf("%s stands out of order", p.Operation)
		}
		rank = o.Rank
		if p.Why == "" {
			t.Errorf("%s has no reason", p.Operation)
		}
		on[p.Operation] = p.Sheets
	}
	for op, want := range map[string][]int{"lime": {1, 2, 3}, "reduce": {1}, "rinse": {1}, "mend-damp": {2, 3},
		"wash": {1, 2, 3}} {
		if !slices.Equal(on[op], want) {
			t.Errorf("%s on %v, want %v", op, on[op], want)
		}
	}
	if left := strings.Join(d.LeftOut, " "); !strings.Contains(left, "No lime for the cover") {
		t.Errorf("left out %q, want the cover's lime with its reason", left)
	}
}

// The drafts look for damages by the terms of the vocabulary.
func TestDraftTermsAreOfTheVocabulary(t *testing.T) {
	for _, term := range append(append([]string{tapeTerm}, stainTerms...), tearTerms...) {
		if _, ok := condition.Look(condition.Term(term)); !ok {
			t.Errorf("the vocabulary has no kind of damage %q", term)
		}
	}
}

// A sheet that came out of its last bath can be mended for a while; in the bath,
// between absorbents and dry it cannot.
func TestMendWindow(t *testing.T) {
	bodies := append(ready(), run("wash", 0, 20, 2)...)
	c := fold(t, bodies...)
	w, ok := MendWindow(c, 2)
	if !ok || !w.Out.Equal(at(20)) {
		t.Fatalf("%+v, %v; want a window from minute 20", w, ok)
	}
	// A thin wet sheet in room air dries within hours, and not within a minute
	// (common practice, no source).
	if w.From.Best < 0 || w.Until.Best < 2 || w.Until.Best > 300 || w.Until.Low > w.Until.Best ||
		w.Until.High < w.Until.Best {
		t.Errorf("window %+v", w)
	}
	if _, ok := MendWindow(c, 1); ok {
		t.Error("a dry sheet has a window")
	}
	open := stillGoing("lime", 21, 2)
	if _, ok := MendWindow(fold(t, append(bodies, open)...), 2); ok {
		t.Error("a sheet in a bath has a window")
	}
	if _, ok := MendWindow(fold(t, append(bodies, stillGoing("dry-absorbent", 21, 2))...), 2); ok {
		t.Error("a sheet between absorbents has a window")
	}
}

// stillGoing is a run that is still going on.
func stillGoing(op string, startMin int, sheets ...int) record.Body {
	return run(op, startMin, startMin+1, sheets...)[0]
}

// Blotted, the window opens at that time and closes earlier than undisturbed
// (Sugarman and Vitale, JAIC 31-2, 1992: what counts is the water in the sheet).
func TestMendWindowBlotted(t *testing.T) {
	c := fold(t, append(ready(), run("wash", 0, 20, 2)...)...)
	w, ok := MendWindow(c, 2)
	b, okb := MendWindowBlotted(c, 2, at(25))
	if !ok || !okb || b.From.Best != 5 || b.From.High != 5 {
		t.Fatalf("%+v; want a window that opens 5 min after minute 20", b)
	}
	if w.From.Best <= 5 || b.Until.Best >= w.Until.Best || b.Until.Best <= b.From.Best {
		t.Errorf("drained %v to %v, blotted %v to %v", w.From, w.Until, b.From, b.Until)
	}
	if _, ok := MendWindowBlotted(c, 2, at(10)); ok {
		t.Error("it was blotted while it lay in the bath")
	}
}

// What one might look for and does not find has its sentence where it is looked for:
// peroxide on groundwood at the oxidising bleach, rigid gels at the washing.
func TestWhatIsNotCalculatedSaysWhy(t *testing.T) {
	for slug, words := range map[string][]string{
		"oxidise": {"groundwood", "iron or copper", "calculated"}, "wash": {"Rigid gels", "not calculated", "residues"},
	} {
		for _, w := range words {
			if got := Find(slug).WhyNot; !strings.Contains(got, w) {
				t.Errorf("%s: %q lacks %q", slug, got, w)
			}
		}
	}
}
