package record

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"benchleaf/internal/words"
)

var day = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// journal appends bodies as a store would: admitted, sealed, chained.
type journal struct {
	t       testing.TB
	id      CaseID
	now     time.Time
	entries []Entry
}

func newJournal(t testing.TB) *journal {
	return &journal{t: t, id: NewCaseID(day), now: day}
}

func (j *journal) try(items ...Item) error {
	j.now = j.now.Add(time.Minute)
	c := Fold(j.entries)
	c.ID = j.id
	_, entries, err := c.Append(Writing{Time: j.now, By: "KM", Zone: "Europe/Berlin"}, items)
	if err == nil {
		j.entries = append(j.entries, entries...)
	}
	return err
}

func (j *journal) add(bodies ...Body) int64 {
	j.t.Helper()
	for _, b := range bodies {
		if err := j.try(Item{Body: b}); err != nil {
			j.t.Fatalf("%s: %v", b.Kind(), err)
		}
	}
	return int64(len(j.entries))
}

func (j *journal) refused(want string, items ...Item) {
	j.t.Helper()
	err := j.try(items...)
	if err == nil {
		j.t.Fatalf("%s was accepted, want a refusal with %q", items[0].Body.Kind(), want)
	}
	if !strings.Contains(strings.ReplaceAll(err.Error(), words.NBSP, " "), want) {
		j.t.Fatalf("refused with %q, want %q in it", err, want)
	}
	if _, ok := Refusals(err); !ok {
		j.t.Fatalf("%v is not a refusal", err)
	}
}

func opened(t testing.TB) *journal {
	j := newJournal(t)
	j.add(Opened{Number: "2026-014", Title: "The Windlass Monthly, no. 31"},
		MakeUp{InnerSheets: 9, Cover: "separate", Binding: "saddle", FirstPage: 1})
	return j
}

func TestCorrectionTakesThePlaceOfItsEntryAndBothShow(t *testing.T) {
	j := opened(t)
	n := j.add(
		Reading{
			Quantity: "surface-ph",
			Value:    4.1,
			Method:   "flat electrode",
			Stage:    "before",
			Place:    Place{Sheets: []int{5}},
		},
	)
	if err := j.try(Item{Body: Reading{Quantity: "surface-ph", Value: 4.7, Method: "flat electrode", Stage: "before", Place: Place{Sheets: []int{5}}}, Corrects: n}); err != nil {
		t.Fatal(err)
	}
	c := Fold(j.entries)
	if len(c.Readings) != 1 || c.Readings[0].Body.Value != 4.7 {
		t.Fatalf("readings %+v, want the corrected 4.7 alone", c.Readings)
	}
	if c.Readings[0].Seq != n || c.Readings[0].Corrected != n+1 {
		t.Errorf("stamp %+v, want entry %d corrected by %d", c.Readings[0].Stamp, n, n+1)
	}
	if len(c.Log) != 4 || c.Log[n-1].CorrectedBy != n+1 || c.Log[n].CorrectedBy != 0 {
		t.Errorf("the log does not show both: %+v", c.Log)
	}
	// A correction of the correction counts next, and its withdrawal takes it back.
	if err := j.try(Item{Body: Reading{Quantity: "surface-ph", Value: 4.8, Method: "flat electrode", Stage: "before", Place: Place{Sheets: []int{5}}}, Corrects: n + 1}); err != nil {
		t.Fatal(err)
	}
	if got := Fold(j.entries).Readings[0].Body.Value; got != 4.8 {
		t.Errorf("after a second correction the reading is %v, want 4.8", got)
	}
	if err := j.try(Item{Body: Withdrawn{Reason: "slip"}, Corrects: n + 2}); err != nil {
		t.Fatal(err)
	}
	if got := Fold(j.entries).Readings[0].Body.Value; got != 4.7 {
		t.Errorf("after its withdrawal the reading is %v, want 4.7 again", got)
	}
	if err := j.try(Item{Body: Withdrawn{Reason: "wrong sheet"}, Corrects: n}); err != nil {
		t.Fatal(err)
	}
	if got := Fold(j.entries).Readings; len(got) != 0 {
		t.Errorf("a withdrawn reading still counts: %+v", got)
	}
	// Withdrawing the withdrawal brings it back.
	if err := j.try(Item{Body: Withdrawn{Reason: "it was right"}, Corrects: int64(len(j.entries))}); err != nil {
		t.Fatal(err)
	}
	if got := Fold(j.entries).Readings; len(got) != 1 {
		t.Errorf("the reading did not come back: %+v", got)
	}
}

func TestRulesHoldForFirstEntriesCorrectionsAndWithdrawals(t *testing.T) {
	j := opened(t)
	run := NewID(day)
	start := RunStarted{
		ID:            run,
		Operation:     "wash",
		OperationName: "washing",
		Sheets:        []int{2, 3},
		At:            j.now,
		Makes:         Wet,
	}
	n := j.add(start)
	j.refused(
		"There is no sheet 12",
		Item{Body: Note{Nature: "observed", Place: Place{Sheets: []int{12}}, Text: "stain"}},
	)
	j.refused("is started already", Item{Body: start})
	j.refused(
		"Sheet 7 is not in this run",
		Item{Body: RunEnded{Run: run, Sheets: []int{7}, At: j.now, Outcome: "done", Leaves: Wet}},
	)
	j.refused(
		"lies before the start",
		Item{Body: RunEnded{Run: run, At: j.now.Add(-time.Hour), Outcome: "done", Leaves: Wet}},
	)
	j.refused(
		"lies in the future",
		Item{Body: RunEnded{Run: run, At: j.now.AddDate(0, 0, 2), Outcome: "done", Leaves: Wet}},
	)
	j.refused(
		"Say why the run was abandoned",
		Item{Body: RunEnded{Run: run, At: j.now, Outcome: "abandoned", Leaves: Wet}},
	)
	j.refused("while a run is going on", Item{Body: Closed{Outcome: "treated"}})
	j.add(RunEnded{Run: run, Sheets: []int{2}, At: j.now, Outcome: "done", Leaves: Wet})
	j.add(RunEnded{Run: run, At: j.now, Outcome: "done", Leaves: Damp})
	j.refused("ended already", Item{Body: RunEnded{Run: run, At: j.now, Outcome: "done", Leaves: Dry}})
	j.refused("while the sheet", Item{Body: Closed{Outcome: "treated"}})
	j.refused("not in the record", Item{Body: Withdrawn{Reason: "by mistake"}, Corrects: n})
	smaller := MakeUp{InnerSheets: 2, Cover: "separate", Binding: "saddle", FirstPage: 1}
	j.refused("sheet 3", Item{Body: smaller, Corrects: 2})
	j.refused("sheet 3", Item{Body: smaller})
	c := Fold(j.entries)
	if got := c.WetSheets(); !cmp.Equal(got, []int{2, 3}) {
		t.Errorf("wet sheets %v, want 2 and 3", got)
	}
	if len(c.Problems) != 0 {
		t.Errorf("problems %v after refusals, want none", c.Problems)
	}
}

func TestStaplesAreMappedBeforeTheyMove(t *testing.T) {
	j := opened(t)
	j.refused("map it before it moves", Item{Body: StapleMoved{Number: 1, Act: "removed"}})
	j.add(Staple{Number: 1, FromHeadMm: 62, Rust: "light"}, StapleMoved{Number: 1, Act: "removed"})
	j.refused("out already", Item{Body: StapleMoved{Number: 1, Act: "removed"}})
	j.add(StapleMoved{Number: 1, Act: "reused"})
	j.refused("never taken out", Item{Body: StapleMoved{Number: 1, Act: "reused"}})
}

func TestConsentNamesAnExistingVersionAndOption(t *testing.T) {
	j := opened(t)
	j.refused(
		"no version 1",
		Item{
			Body: Consent{
				Version:  1,
				Option:   "A",
				Answer:   "given",
				Who:      "Owner (demo)",
				Standing: "owner",
				Way:      "letter",
			},
		},
	)
	p := Proposal{
		Version: 1,
		Options: []Option{
			{Name: "A", Title: "Wash", Operations: []Planned{{Operation: "wash", Hours: 2.5, MaterialsMinor: 1200}}},
		},
		Currency:     "EUR",
		RateMinor:    8000,
		MinimumMinor: 10000,
		TaxPercent:   19,
		ValidDays:    60,
		Alternatives: "doing nothing",
		Risks:        "washing cannot be undone",
	}
	j.add(p)
	j.refused("version 2 is next", Item{Body: p})
	j.refused(
		"has no option B",
		Item{
			Body: Consent{
				Version:  1,
				Option:   "B",
				Answer:   "given",
				Who:      "Owner (demo)",
				Standing: "owner",
				Way:      "letter",
			},
		},
	)
	if got := Fold(j.entries).Unanswered(); got != 1 {
		t.Errorf("unanswered version %d, want 1", got)
	}
	j.add(Consent{Version: 1, Option: "A", Answer: "given", Who: "Owner (demo)", Standing: "owner", Way: "letter"})
	_, o := Fold(j.entries).Consented()
	if o == nil || o.Name != "A" {
		t.Fatalf("consented option %+v, want A", o)
	}
	// 2.5 h at 80.00 is 200.00, materials 12.00, tax 19 % of 212.00 is 40.28.
	if got, want := p.Price(*o), (Price{20000, 1200, 21200, 4028, 25228}); got != want {
		t.Errorf("price %+v, want %+v", got, want)
	}
}

func TestLatestDecisionForASheetCounts(t *testing.T) {
	j := opened(t)
	j.add(
		NextStep{Sheets: []int{1, 2, 3}, Text: "lime"},
		NextStep{Text: "ask the owner", Who: "owner"},
		NextStep{Sheets: []int{2}, Text: "mend"},
		NextStep{Sheets: []int{3}, Text: "lime", Done: true},
	)
	got := map[string]string{}
	for _, n := range Fold(j.entries).Next {
		got[n.Body.Text] = SheetNames(n.Body.Sheets)
	}
	if want := map[string]string{"lime": "sheet 1", "mend": "sheet 2", "ask the owner": "whole object"}; !cmp.Equal(
		got,
		want,
	) {
		t.Errorf("standing decisions %v, want %v", got, want)
	}
}

func TestClosedCaseTakesNothingUntilReopened(t *testing.T) {
	j := opened(t)
	j.add(Closed{Outcome: "untreated", Text: "doing nothing is best"})
	j.refused("reopen it", Item{Body: Note{Nature: "note", Text: "late thought"}})
	j.add(
		PaperIssued{Sort: "report", To: "Owner (demo)"},
		Reopened{Reason: "owner asks for a sleeve"},
		Note{Nature: "note", Text: "late thought"},
	)
}

func TestUnknownKindsAreKeptAndUnreadableOnesNamed(t *testing.T) {
	j := opened(t)
	for _, e := range []Entry{
		{Kind: "from-the-future", Version: 1, Body: json.RawMessage(`{"x":1}`)},
		{Kind: "note", Version: 99, Body: json.RawMessage(`{"x":1}`)},
		{Kind: "note", Version: 1, Body: json.RawMessage(`{"text":12}`)},
	} {
		e.Case, e.Seq, e.Time = j.id, int64(len(j.entries))+1, j.now
		if err := e.Seal(j.entries[len(j.entries)-1].Hash); err != nil {
			t.Fatal(err)
		}
		j.entries = append(j.entries, e)
	}
	c := Fold(j.entries)
	if len(c.Log) != 5 || c.Log[2].Decoded != nil || c.Log[3].Decoded != nil {
		t.Errorf("unknown entries are not kept as such")
	}
	if len(c.Problems) != 1 || c.Problems[0].Seq != 5 {
		t.Errorf("problems %+v, want entry 5 alone", c.Problems)
	}
	j.add(Note{Nature: "note", Text: "work goes on"})
}

func TestOldVersionsAreConvertedInTheFoldOnly(t *testing.T) {
	s := kinds["note"]
	was := *s
	t.Cleanup(func() { *s = was })
	s.version = 2
	s.up = map[int]func(json.RawMessage) (json.RawMessage, error){
		1: func(raw json.RawMessage) (json.RawMessage, error) {
			return json.RawMessage(strings.Replace(string(raw), `"words":`, `"text":`, 1)), nil
		},
	}
	b, err := Decode("note", 1, json.RawMessage(`{"nature":"note","words":"old"}`))
	if err != nil || b.(Note).Text != "old" {
		t.Errorf("got %+v, %v; want the old text under its new name", b, err)
	}
}

// Any flipped byte of any field breaks the chain, and the error names the entry.
func TestChainFindsEveryFlippedByte(t *testing.T) {
	j := opened(t)
	j.add(Note{Nature: "note", Text: "first"}, Note{Nature: "owner", Text: "keep the pencilled price"})
	if err := CheckChain(j.entries); err != nil {
		t.Fatal(err)
	}
	var bytes int
	for i := range j.entries {
		line, err := Marshal(j.entries[i])
		if err != nil {
			t.Fatal(err)
		}
		for k := range line {
			flipped := append([]byte(nil), line...)
			flipped[k] ^= 1
			var e Entry
			if json.Unmarshal(flipped, &e) != nil {
				continue // no longer JSON: found before the chain is looked at
			}
			if again, err := Marshal(e); err == nil && string(again) == string(line) {
				continue // the flip was in white space or in the case of a member's name
			}
			changed := append([]Entry(nil), j.entries...)
			changed[i] = e
			bytes++
			if err := CheckChain(changed); err == nil {
				t.Fatalf("entry %d: the flip of byte %d in %s went unseen", i+1, k, flipped)
			}
		}
	}
	if bytes < 900 {
		t.Errorf("only %d flips were tried", bytes)
	}
}

// The fold never panics and never forgets a line, whatever the journal says.
func TestFoldIsTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 30).Draw(t, "entries")
		all := Kinds()
		var entries []Entry
		for i := range n {
			kind := rapid.SampledFrom(all).Draw(t, "kind")
			body := rapid.SampledFrom([]string{`{}`, `{"run":"x"}`, `{"sheets":[3,99],"sheet":4}`, `{"number":1}`, `{"id":"0000000000000000","at":"2026-01-01T00:00:00Z"}`, `[]`, `{"version":1,"inner_sheets":4,"cover":"separate"}`}).
				Draw(t, "body")
			entries = append(
				entries,
				Entry{
					Case:     "0000000000000000",
					Seq:      int64(i) + 1,
					Time:     day,
					Kind:     kind,
					Version:  1,
					Corrects: rapid.Int64Range(-2, 32).Draw(t, "corrects"),
					Body:     json.RawMessage(body),
				},
			)
		}
		c := Fold(entries)
		if len(c.Log) != n {
			t.Fatalf("%d lines in the log, want %d", len(c.Log), n)
		}
		Summarize(c)
		FoldStudio(entries)
		if again := Fold(entries); !cmp.Equal(c.Problems, again.Problems) {
			t.Fatalf("two folds of one journal differ")
		}
	})
}

func TestEveryKindSurvivesEncodingAndRefusesItsZero(t *testing.T) {
	for _, k := range Kinds() {
		b, err := Decode(k, kinds[k].version, json.RawMessage(`{}`))
		if err != nil {
			t.Fatal(err)
		}
		if Validate(b) == nil {
			t.Errorf("%s: an empty body is accepted", k)
		}
		_, inCase := b.(caseBody)
		_, inStudio := b.(studioBody)
		if _, isWithdrawn := b.(Withdrawn); inCase == inStudio && !isWithdrawn {
			t.Errorf("%s: belongs to a case %v, to the studio %v; want exactly one", k, inCase, inStudio)
		}
		kind, version, raw, err := Encode(b)
		if err != nil || kind != k {
			t.Fatalf("%s: encoded as %s, %v", k, kind, err)
		}
		if again, err := Decode(kind, version, raw); err != nil || !cmp.Equal(b, again) {
			t.Errorf("%s: %v does not survive encoding (%v)", k, b, err)
		}
	}
}

func TestSheetNames(t *testing.T) {
	for _, c := range []struct {
		list []int
		want string
	}{
		{nil, "whole object"}, {[]int{0}, "cover"}, {[]int{3}, "sheet 3"}, {[]int{3, 0}, "cover, sheet 3"},
		{[]int{1, 2, 3, 7}, "sheets 1 to 3 and 7"}, {[]int{1, 2}, "sheets 1 and 2"}, {[]int{0, 1, 2, 4, 6, 7, 8}, "cover, sheets 1, 2, 4 and 6 to 8"},
	} {
		if got := SheetNames(c.list); got != c.want {
			t.Errorf("SheetNames(%v) = %q, want %q", c.list, got, c.want)
		}
	}
}

func TestIDs(t *testing.T) {
	a, b := NewCaseID(day), NewCaseID(day.Add(time.Millisecond))
	if !IsID(string(a)) || a >= b {
		t.Errorf("IDs %s, %s: want two well-formed ones that sort by time", a, b)
	}
	for _, bad := range []string{"", "x", strings.Repeat("i", 16), strings.ToUpper(string(a)), string(a) + "0", "../../etc/passwd"} {
		if _, err := ParseCaseID(bad); err == nil {
			t.Errorf("ParseCaseID(%q) was accepted", bad)
		}
	}
}

func BenchmarkFoldMillionEntries(b *testing.B) {
	j := opened(b)
	const n = 1_000_000
	r := rand.New(rand.NewPCG(1, 2))
	entries := append(make([]Entry, 0, n), j.entries...)
	for len(entries) < n {
		var body Body = Note{Nature: "observed", Place: Place{Sheets: []int{1 + r.IntN(9)}}, Text: fmt.Sprintf("line %d", len(entries))}
		if len(entries)%2 == 0 {
			body = Reading{
				Quantity: "bath-ph",
				Value:    7 + r.Float64(),
				Method:   "electrode in the bath",
				Stage:    "during",
				At:       day,
			}
		}
		kind, version, raw, _ := Encode(body)
		entries = append(
			entries,
			Entry{Case: j.id, Seq: int64(len(entries)) + 1, Time: day, Kind: kind, Version: version, Body: raw},
		)
	}
	b.ResetTimer()
	for b.Loop() {
		if c := Fold(entries); len(c.Problems) != 0 {
			b.Fatal(c.Problems[0])
		}
	}
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "entries/s")
}

// A journal with gaps is named where it is wrong, and each entry that is left
// keeps its place in the log.
func TestAJournalWithGapsKeepsItsPlaces(t *testing.T) {
	entries := make([]Entry, 6)
	var prev Hash
	for i := range entries {
		entries[i] = Entry{Case: NewCaseID(time.Now()), Seq: int64(i) + 1, Kind: "note", Version: 1, Body: []byte(`{"text":"x"}`)}
		entries[i].Case = entries[0].Case
		if err := entries[i].Seal(prev); err != nil {
			t.Fatal(err)
		}
		prev = entries[i].Hash
	}
	for what, c := range map[string]struct {
		left []Entry
		seq  int64
	}{
		"from the middle":  {[]Entry{entries[0], entries[1], entries[4], entries[5]}, 3},
		"the first":        {entries[1:], 1},
		"all but one":      {entries[3:4], 1},
		"far away":         {[]Entry{entries[0], {Case: entries[0].Case, Seq: 1 << 40, Body: []byte("{}")}}, 2},
		"before the first": {[]Entry{{Case: entries[0].Case, Seq: -7, Body: []byte("{}")}, entries[0]}, 1},
	} {
		k := Fold(c.left)
		if k.Broken == nil || k.Broken.Seq != c.seq {
			t.Errorf("%s: %+v, want entry %d named", what, k.Broken, c.seq)
		}
		for i, l := range k.Log {
			if l.Seq != int64(i)+1 {
				t.Errorf("%s: entry %d stands at %d", what, l.Seq, i+1)
			}
		}
		if int64(len(k.Log)) != k.LastSeq {
			t.Errorf("%s: %d lines, and the last is %d", what, len(k.Log), k.LastSeq)
		}
	}
}

// A number nearer to 0 than can be measured is a slip of the hand or of a program.
func TestNumbersBeyondAnyMeasureAreRefused(t *testing.T) {
	for _, u := range []float64{1e-320, 5e-324, -1e-320} {
		err := Validate(Reading{Quantity: "surface-ph", Value: 5, Uncertainty: &u, Method: "flat electrode", Stage: "before"})
		list, ok := Refusals(err)
		if !ok || len(list) == 0 || list[0].Field != "uncertainty" {
			t.Errorf("an uncertainty of %g: %v, want it refused", u, err)
		}
	}
}
