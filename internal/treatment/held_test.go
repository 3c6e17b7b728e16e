package treatment

import (
	"math"
	"strings"
	"testing"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
)

// limeStart is the start of a lime bath of sheets for 20 min, as it is typed.
func limeStart(startMin int, sheets ...int) record.RunStarted {
	return record.RunStarted{
		ID: record.NewID(at(startMin)), Operation: "lime", OperationName: "lime bath", Sheets: sheets, At: at(startMin),
		Makes: record.Wet, PlannedMin: 20,
		Bath: &record.Bath{
			ID: record.NewID(at(startMin)), Liquid: "lime water", Substance: "calcium hydroxide", VolumeMl: 1500,
			StrengthGL: &record.Range{Low: 0.37, Best: 0.4, High: 0.43},
		},
	}
}

func foreseen(t *testing.T, c *record.Case, st *record.Studio, run record.RunStarted) Foreseen {
	t.Helper()
	f, ok, err := Foresee(c, st, &run)
	if err != nil || !ok {
		t.Fatalf("nothing is expected: %v %v", ok, err)
	}
	if err := record.Validate(f.Kept); err != nil {
		t.Fatalf("what is kept is refused: %v", err)
	}
	return f
}

func valueOf(t *testing.T, f Foreseen, quantity string, m record.Moment) record.ExpectedValue {
	t.Helper()
	var last *record.ExpectedValue
	for i := range f.Kept.Values {
		if v := &f.Kept.Values[i]; v.Quantity == quantity && v.Moment == m {
			last = v
		}
	}
	if last == nil {
		t.Fatalf("no %s, %s is expected", quantity, m)
	}
	return *last
}

// The readings foreseen are those that package paper predicts by another way, where
// readings lie over the samples: the same to a tenth of the range.
func TestForeseenIsWhatTheComparisonOfReadingsPredicts(t *testing.T) {
	c := fold(t, ready()...)
	f := foreseen(t, c, nil, limeStart(10, 1, 2))
	of, _ := TakenSheetOf(c, 1)
	run := limeStart(10, 1, 2)
	next := comingBath(c, &run)
	twenty := 20.0
	v, err := paper.CompareReadings(of.Sheet, []paper.Bath{next.Bath}, paper.Options{Seed: 2, Samples: 1500},
		[]paper.Reading{
			{What: paper.ReadWetMass, Value: 20, Uncertainty: 1},
			{What: paper.ReadReserve, Step: 1, Value: 0.1, Uncertainty: 1},
			{What: paper.ReadAlkali, Step: 1, Value: 8, Uncertainty: 1},
			{What: paper.ReadBathPH, Step: 1, Minutes: &twenty, Value: 12, Uncertainty: 1},
		})
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range []struct {
		quantity string
		moment   record.Moment
		sd       float64 // that the comparison has of its own
	}{
		{"mass", record.OutWet, 0}, {"reserve", record.OnceDry, 0}, {"bath-alkali", record.OutWet, 0},
		{"bath-ph", record.InBath, strongPH},
	} {
		got := valueOf(t, f, x.quantity, x.moment).Value
		want := allowing(v.Readings[i].Predicted, x.sd)
		tenth := 0.1 * (want.High - want.Low)
		for _, d := range []float64{got.Low - want.Low, got.Best - want.Best, got.High - want.High} {
			if math.Abs(d) > tenth {
				t.Errorf("%s: foreseen %v, the comparison has %v", x.quantity, got, want)
				break
			}
		}
	}
}

func TestForeseenKeepsNothingWhereNothingCanBeExpected(t *testing.T) {
	c := fold(t, ready()...)
	dry := limeStart(10, 1)
	dry.Bath = nil
	if _, ok, _ := Foresee(c, nil, &dry); ok {
		t.Error("a run without a bath is expected to show something")
	}
	bare := fold(t, ready()[:3]...) // no paper described
	run := limeStart(10, 1)
	if _, ok, _ := Foresee(bare, nil, &run); ok {
		t.Error("a sheet without a paper is expected to show something")
	}
	run.Bath.Substance, run.Bath.StrengthGL, run.Bath.Liquid = "hydrogen peroxide", nil, "peroxide"
	for _, v := range foreseen(t, c, nil, run).Kept.Values {
		if v.Quantity != "mass" {
			t.Errorf("%s is expected of a bath that is not computed", v.Quantity)
		}
	}
	shared := limeStart(10, 1)
	shared.Bath.With = []record.Sharing{{Case: "0000000000000002", Sheets: []int{1}}}
	for _, v := range foreseen(t, c, nil, shared).Kept.Values {
		if len(v.Sheets) == 0 {
			t.Errorf("%s is expected of a bath in which unknown paper lies", v.Quantity)
		}
	}
}

// A range of the studio's own: 8 (6 to 9), wider by 2 and up by half a half width, is
// 8.5 (4.5 to 10.5).
func TestOwnRangeChangesWhatIsExpectedAndKeepsWhatWasComputed(t *testing.T) {
	own := record.OwnRange{Quantity: "reserve", Moment: record.OnceDry, Class: "groundwood", Factor: 2, Shift: 0.5}
	if got := own.Apply(record.Range{Low: 6, Best: 8, High: 9}); got != (record.Range{Low: 4.5, Best: 8.5, High: 10.5}) {
		t.Errorf("applied: %v", got)
	}
	own.Shift = -0.5 // down by half of the lower half width
	if got := own.Apply(record.Range{Low: 6, Best: 8, High: 9}); got != (record.Range{Low: 3, Best: 7, High: 9}) {
		t.Errorf("applied downwards: %v", got)
	}
	if got := own.Apply(record.Range{Low: 0.1, Best: 0.2, High: 0.3}); got.Low < 0 {
		t.Errorf("a reserve below nothing: %v", got)
	}
	c := fold(t, ready()...)
	st := &record.Studio{OwnRanges: []record.Stamped[record.OwnRange]{{Stamp: record.Stamp{Seq: 7}, Body: own}}}
	plain := valueOf(t, foreseen(t, c, nil, limeStart(10, 1)), "reserve", record.OnceDry)
	v := valueOf(t, foreseen(t, c, st, limeStart(10, 1)), "reserve", record.OnceDry)
	if v.Own != 7 || v.Computed == nil || *v.Computed != plain.Value || v.Value != own.Apply(plain.Value) {
		t.Errorf("expected %+v, computed %v", v, plain.Value)
	}
	if x := valueOf(t, foreseen(t, c, st, limeStart(10, 1)), "extract-ph", record.OnceDry); x.Own != 0 {
		t.Error("a range of the reserve changes the extract")
	}
}

// expecting folds a lime bath of sheets 1 and 2 that lasts so long, with what was
// expected kept at its start, and then the bodies.
func expecting(t *testing.T, lasts int, after ...record.Body) *record.Case {
	t.Helper()
	run := limeStart(10, 1, 2)
	kept := record.RunExpected{
		Run: run.ID, Model: "m", Inputs: []string{"i"}, Coverage: 80,
		Values: []record.ExpectedValue{
			expectedAt("bath-ph", record.InBath, 0, 12, nil), expectedAt("bath-ph", record.InBath, 10, 11, nil),
			expectedAt("bath-ph", record.InBath, 20, 10, nil), expectedAt("surface-ph", record.OutWet, 0, 9, []int{1, 2}),
			expectedAt("surface-ph", record.OnceDry, 0, 8, []int{1, 2}),
			expectedAt("reserve", record.OnceDry, 0, 1, []int{1, 2}), expectedAt("mass", record.OutWet, 0, 12, []int{1, 2}),
		},
	}
	for i, b := range after {
		if r, is := b.(record.Reading); is && r.Quantity == "bath-ph" {
			r.Run = run.ID
			after[i] = r
		}
	}
	end := record.RunEnded{Run: run.ID, At: at(10 + lasts), Outcome: "done", Leaves: "wet"}
	return fold(t, append(append(ready(), run, kept, end), after...)...)
}

func expectedAt(q string, m record.Moment, min, best float64, sheets []int) record.ExpectedValue {
	return record.ExpectedValue{
		Quantity: q, Moment: m, AtMin: min, Sheets: sheets, Class: "groundwood", Unit: record.QuantityOf(q).Unit,
		Value: interval.Within(best, 0.5),
	}
}

func readOn(q string, min int, v float64, stage record.Stage, sheets ...int) record.Reading {
	return record.Reading{
		Quantity: q, Value: v, Method: "by the test", Stage: stage, Place: record.Place{Sheets: sheets}, At: at(min),
	}
}

// One rule says which reading goes with which expectation.
func TestPairsReadingsWithWhatWasExpectedThen(t *testing.T) {
	pH := readOn("bath-ph", 15, 11.2, record.StageDuring)
	again := pH
	again.At = at(25)
	for _, x := range []struct {
		name  string
		lasts int
		after []record.Body
		want  []float64 // best values of what counts
		not   string    // of the one that does not
	}{
		{"half way between two moments", 20, []record.Body{pH}, []float64{11.5}, ""},
		{"the first counts", 20, []record.Body{again, pH}, []float64{11.5}, "the first reading counts"},
		{"sheets apart", 20, []record.Body{
			readOn("reserve", 90, 1, record.StageAfter, 1), readOn("reserve", 91, 1, record.StageAfter, 2),
		}, []float64{1, 1}, ""},
		{"a sheet of several is none", 20, []record.Body{readOn("reserve", 90, 1, record.StageAfter, 1, 2)}, nil, ""},
		{"wet and dry apart", 20, []record.Body{
			readOn("surface-ph", 32, 9.1, record.StageDuring, 1), readOn("surface-ph", 90, 8, record.StageAfter, 1),
		}, []float64{9, 8}, ""},
		{"before the bath", 20, []record.Body{readOn("surface-ph", 5, 4.5, record.StageBefore, 1)}, nil, ""},
		{"in the bath a sheet is not read", 20, []record.Body{readOn("surface-ph", 20, 9, record.StageDuring, 1)}, nil, ""},
		{"another sheet", 20, []record.Body{readOn("reserve", 90, 1, record.StageAfter, 3)}, nil, ""},
		{"much longer than planned", 60, []record.Body{readOn("reserve", 90, 1, record.StageAfter, 1)}, nil, "it was 60"},
		{"a minute longer", 21, []record.Body{readOn("reserve", 90, 1, record.StageAfter, 1)}, []float64{1}, ""},
		{"another bath came after", 20, append(run("wash", 40, 50, 1), readOn("reserve", 90, 1, record.StageAfter, 1)), nil, ""},
		{"weighed too late", 20, []record.Body{readOn("mass", 70, 12, record.StageDuring, 1)}, nil, "weighed 40 min after"},
	} {
		t.Run(x.name, func(t *testing.T) {
			var got []float64
			not := ""
			for _, p := range Pairs(expecting(t, x.lasts, x.after...)) {
				if p.Not != "" {
					not = p.Not
					continue
				}
				got = append(got, p.Value.Value.Best)
			}
			if len(got) != len(x.want) || !strings.Contains(not, x.not) || (not == "") != (x.not == "") {
				t.Fatalf("paired with %v, not %q; want %v, %q", got, not, x.want, x.not)
			}
			for i := range got {
				if math.Abs(got[i]-x.want[i]) > 1e-9 {
					t.Errorf("paired with %v, want %v", got, x.want)
				}
			}
		})
	}
}

// An expectation that is kept after the reading was written is none, nor is one of a
// bath whose start was corrected; a correction of something else changes nothing.
func TestPairsLeaveOutWhatWasNotExpectedThen(t *testing.T) {
	counts := func(c *record.Case) (n int) {
		for _, p := range Pairs(c) {
			if p.Not == "" {
				n++
			}
		}
		return n
	}
	dry := readOn("reserve", 90, 1, record.StageAfter, 1)
	c := expecting(t, 20, dry)
	if counts(c) != 1 {
		t.Fatalf("%d readings count, want 1", counts(c))
	}
	correct := func(change func(*record.RunStarted)) *record.Case {
		b := c.Runs[0].Body
		bath := *b.Bath
		b.Bath = &bath
		change(&b)
		next, _, err := c.Append(record.Writing{Time: at(400), By: "KM"}, []record.Item{{Body: b, Corrects: c.Runs[0].Seq}})
		if err != nil {
			t.Fatal(err)
		}
		return next
	}
	if n := counts(correct(func(b *record.RunStarted) { b.Bath.VolumeMl = 500 })); n != 0 {
		t.Error("a reading counts though the bath was another one")
	}
	if n := counts(correct(func(b *record.RunStarted) { b.Bath.Tray = "tray C" })); n != 1 {
		t.Error("a reading does not count because the tray was named otherwise")
	}
	kept := c.Expected[0].Body
	later, _, err := c.Append(record.Writing{Time: at(401), By: "KM"}, []record.Item{
		{Body: record.Withdrawn{Reason: "test"}, Corrects: c.Expected[0].Seq}, {Body: kept},
	})
	if err != nil {
		t.Fatal(err)
	}
	if n := counts(later); n != 0 {
		t.Error("a reading is held against what was computed after it")
	}
}
