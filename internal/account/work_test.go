package account

import (
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

var evening = time.Date(2031, 5, 9, 18, 0, 0, 0, time.UTC)

// folded is a case of two sheets in which KM wrote each body a minute after the
// one before.
func folded(t *testing.T, bodies ...record.Body) *record.Case {
	t.Helper()
	all := append([]record.Body{
		record.Opened{Number: "31-07", Title: "A magazine"},
		record.MakeUp{InnerSheets: 2, Cover: "self", Binding: "loose", FirstPage: 1},
	}, bodies...)
	entries := make([]record.Entry, len(all))
	for i, b := range all {
		kind, version, raw, err := record.Encode(b)
		if err != nil {
			t.Fatal(err)
		}
		entries[i] = record.Entry{
			Case: "071ck78w82t65qz0", Seq: int64(i + 1), Time: evening.Add(time.Duration(i) * time.Minute), By: "KM",
			Kind: kind, Version: version, Body: raw,
		}
	}
	c := record.Fold(entries)
	if len(c.Problems) > 0 {
		t.Fatalf("the journal breaks a rule: %v", c.Problems)
	}
	return c
}

func ph(stage record.Stage, value float64, u float64, words, method string, sheets ...int) record.Reading {
	b := record.Reading{Quantity: "surface-ph", Value: value, Stage: stage, Method: method,
		Place: record.Place{Sheets: sheets, Words: words}}
	if u > 0 {
		b.Uncertainty = &u
	}
	return b
}

// The uncertainty of a difference: the root of the sum of squares (JCGM 100:2008,
// 5.1.2). 0.2 and 0.25 give 0.32; 0.2 and 0.2 give 0.28, 0.3 to the place read.
func TestReadingsPairByOneRule(t *testing.T) {
	for _, x := range []struct {
		name string
		all  []record.Body
		want string // Where | before | after | change | codes
	}{
		{"two places", []record.Body{
			ph("before", 4.8, 0.2, "margin", "electrode", 1),
			ph("after", 8.1, 0.2, "fore-edge margin", "electrode", 1)},
			"sheet 1; before: margin; after: fore-edge margin|4.8 ± 0.2|8.1 ± 0.2|+3.3 ± 0.3|place-differs"},
		{"the same place first", []record.Body{ph("before", 4.6, 0.2, "margin", "electrode", 1),
			ph("before", 5, 0.2, "fold", "electrode", 1),
			ph("after", 8.3, 0.25, "margin", "electrode", 1)},
			"sheet 1, margin|4.6 ± 0.2|8.30 ± 0.25|+3.70 ± 0.32|; sheet 1, fold|5.0 ± 0.2|not read after||"},
		{"within the uncertainty", []record.Body{ph("arrival", 4.6, 0.2, "", "electrode"),
			ph("after", 4.8, 0.25, "", "electrode")},
			"whole object|4.6 ± 0.2|4.80 ± 0.25|+0.20 ± 0.32|no-change"},
		{"two methods, one without uncertainty", []record.Body{ph("before", 4.6, 0, "", "strip", 1),
			ph("after", 8, 0.1, "", "electrode", 1)},
			"sheet 1|4.6|8.0 ± 0.1|+3.4|method-differs uncertainty-not-stated"},
		{"other sheets, during", []record.Body{ph("before", 4.6, 0.2, "", "electrode", 1),
			ph("after", 8, 0.1, "", "electrode", 2),
			ph("during", 7, 0.1, "", "electrode", 1)},
			"sheet 1|4.6 ± 0.2|not read after||; sheet 2|not read before|8.0 ± 0.1||"},
	} {
		var got []string
		for _, r := range CompareReadings(folded(t, x.all...), nil) {
			var codes []string
			for _, s := range r.Remarks {
				codes = append(codes, string(s.Code))
			}
			row := []string{r.Where, r.BeforeText(), r.AfterText(), r.Change, strings.Join(codes, " ")}
			got = append(got, strings.Join(row, "|"))
		}
		if s := strings.Join(got, "; "); s != x.want {
			t.Errorf("%s:\n%s, want\n%s", x.name, s, x.want)
		}
	}
}

func TestAReadingOutsideTheCheckSaysSo(t *testing.T) {
	st := &record.Studio{Instruments: []record.Instrument{{ID: "m", Name: "meter", Sort: "ph-meter"}}}
	st.Checks = append(st.Checks, record.Stamped[record.InstrumentChecked]{Body: record.InstrumentChecked{
		Instrument: "m", At: evening, Buffers: []record.BufferReading{{NominalPH: 4.01}, {NominalPH: 7}}}})
	b := ph("during", 12, 0.1, "", "electrode")
	b.Instrument, b.At = "meter", evening.Add(time.Hour)
	got := Remarks(st, &record.Stamped[record.Reading]{Body: b})
	if len(got) != 1 || got[0].Code != OutsideCheck || !strings.Contains(got[0].Text, "4.01 to 7") {
		t.Errorf("pH 12 after a check in 4.01 and 7: %v", got)
	}
	b.Value = 6.5
	if got := Remarks(st, &record.Stamped[record.Reading]{Body: b}); len(got) != 0 {
		t.Errorf("pH 6.5 after a check in 4.01 and 7: %v", got)
	}
}

// run is a bath of 20 minutes planned that ended after some.
func run(id, slug, name string, minutes int, sheets ...int) []record.Body {
	at := evening.Add(-2 * time.Hour)
	return []record.Body{
		record.RunStarted{ID: id, Operation: slug, OperationName: name, Sheets: sheets, At: at, PlannedMin: 20,
			Makes: record.Wet,
			Bath:  &record.Bath{ID: record.NewID(at), Liquid: "water", VolumeMl: 1000, Tray: "tray B"}},
		record.RunEnded{
			Run: id, At: at.Add(time.Duration(minutes) * time.Minute), Outcome: record.RunDone, Leaves: record.Dry,
		},
	}
}

func TestDeparturesCompareThePlanWithTheRuns(t *testing.T) {
	a, b := record.NewID(evening), record.NewID(evening)
	all := []record.Body{
		record.Proposal{Version: 1, Currency: "EUR", ValidDays: 30, Alternatives: "nothing", Risks: "few",
			Options: []record.Option{{
				Name: "A", Title: "wet", Operations: []record.Planned{{Operation: "wash"}, {Operation: "housing"}},
			}}},
		record.Consent{Version: 1, Option: "A", Answer: "given", Who: "O.", Standing: "owner", Way: "letter"},
	}
	all = append(append(all, run(a, "wash", "washing", 10, 1, 2)...), run(b, "drain", "draining", 20, 1)...)
	all = append(all, run(record.NewID(evening), "flatten", "flattening", 20, 1)...)
	var got []string
	for _, d := range Departures(folded(t, all...)) {
		got = append(got, string(d.Code)+" "+strings.ReplaceAll(d.Work+", "+d.What, words.NBSP, " "))
	}
	want := "shorter Washing, sheets 1 and 2, shorter than planned: 10 min of 20 min; " +
		"not-agreed Flattening, sheet 1, not in the agreed plan; "
	if s := strings.Join(got, "; "); !strings.HasPrefix(s, want) || !strings.Contains(s, "not-finished") {
		t.Errorf("%s, want first\n%s", s, want)
	}
}

func TestAnOverdueBleachComesBeforeAnOverdueWash(t *testing.T) {
	wash := record.Due{At: evening, Run: "a", Operation: "wash"}
	bleach := record.Due{At: evening.Add(30 * time.Minute), Run: "b", Operation: "reduce"}
	now := evening.Add(time.Hour)
	if Order(UrgencyOf(&bleach, now), bleach.At, UrgencyOf(&wash, now), wash.At) >= 0 {
		t.Error("an overdue wash comes before an overdue reducing bleach")
	}
	if got := UrgencyOf(&bleach, evening); got != Ahead {
		t.Errorf("a bleach that is not due yet is %s", got)
	}
}

func TestTheLogNamesBathAndSheetAndTime(t *testing.T) {
	id := record.NewID(evening)
	value := record.Reading{Quantity: "bath-ph", Value: 6.5, Method: "electrode", Stage: "during", Run: id,
		At: evening.Add(-110 * time.Minute)}
	c := folded(t, append(run(id, "wash", "washing", 20, 1), value)...)
	k := words.Clock{Language: words.English, Zone: time.UTC, Today: evening.Add(12 * time.Hour)}
	l := Tell(c, &c.Log[len(c.Log)-1], k)
	got := strings.ReplaceAll(l.When+" "+l.Said+" "+l.Happened, words.NBSP, " ")
	if want := "9 May, 18:04 Bath pH 6.5, washing of sheet 1 in water, tray B at 16:10"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// A bottle of this morning is past its date at an hour, in every list of bottles.
func TestABottlePastItsDateSaysSinceWhen(t *testing.T) {
	b := record.ShelfBottle{LeftMl: 500}
	b.Body = record.Bottle{
		ID: record.NewID(evening), Name: "lime water", Substance: "calcium hydroxide", Form: "saturated", Unit: "g/L",
		VolumeMl: 500, ExpiresAt: evening.Add(-2 * time.Hour),
	}
	st := &record.Studio{Bottles: []record.ShelfBottle{b}}
	k := words.Clock{Language: words.English, Zone: time.UTC, Today: evening}
	for _, list := range [][]record.Choice{StockChoices(FromStock, st, k), ShelfFor(st, nil, k)} {
		if len(list) != 1 || !strings.HasSuffix(list[0].Words, "past its date since 16:00") {
			t.Errorf("%+v, want past its date since 16:00", list)
		}
	}
}
