package account

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// By hand. The range is 8 (6 to 9), so the standard deviation is 2/1.28155 = 1.56061
// below and 1/1.28155 = 0.78030 above; with the reading's, half of what is stated for
// 95 %, it is the root of the sum of squares.
func TestMissByHand(t *testing.T) {
	r := record.Range{Low: 6, Best: 8, High: 9}
	for _, x := range []struct {
		read, u95, want float64
		held            bool
	}{
		{5, 1, -3 / 1.638750, false},
		{10, 1, 2 / 0.926754, false},
		{9.2, 1, 1.2 / 0.926754, false},  // 1.295, just outside
		{9.2, 1.2, 1.2 / 0.984314, true}, // 1.219: the reading itself may be off
		{8, 1, 0, true},
		{9, 0, 1.281552, true}, // on the end
		{6, 0, -1.281552, true},
	} {
		got, held := miss(r, x.read, x.u95/2, 80)
		if math.Abs(got-x.want) > 1e-5 || held != x.held {
			t.Errorf("read %g ± %g: %.5f, held %v; want %.5f, %v", x.read, x.u95, got, held, x.want, x.held)
		}
	}
	if got, held := miss(record.Range{Low: 3, Best: 3, High: 3}, 4, 0, 80); !math.IsInf(got, 1) || held {
		t.Errorf("a range without width: %v %v", got, held)
	}
	if got, _ := miss(r, 10, 0.5, 95); math.Abs(got-2/math.Hypot(1/1.959964, 0.5)) > 1e-5 {
		t.Errorf("a range for 95 in a hundred: %.5f", got)
	}
}

// scored is a score of the alkaline reserve on newsprint as if a case had it.
func scored(n, run int, r record.Range, read, u95 float64) Score {
	s := Score{Case: "071ck78w82t65qz0", Number: "31-07", Model: treatment.Model(), Pair: treatment.Pair{
		Run:      &record.Run{Stamped: record.Stamped[record.RunStarted]{Body: record.RunStarted{ID: fmt.Sprint(run)}}},
		Expected: &record.Stamped[record.RunExpected]{Body: record.RunExpected{Coverage: 80}},
		Reading:  &record.Stamped[record.Reading]{Stamp: record.Stamp{Seq: int64(n + 1)}},
		Value: record.ExpectedValue{
			Quantity: "reserve", Moment: record.OnceDry, Class: record.Groundwood, Unit: "% CaCO₃", Value: r,
		},
		Read: read, Uncertainty: u95,
	}}
	s.Miss, s.Held = miss(r, read, u95/2, 80)
	s.RawMiss, s.RawHeld = s.Miss, s.Held
	return s
}

// drawn are n readings of things that lie about what was expected of them by a normal
// distribution that is wide times as wide as stated and moved by so many standard
// deviations, read with an uncertainty of their own.
func drawn(r *rand.Rand, n int, wide, moved float64) []Score {
	var list []Score
	for i := range n {
		best, half := 5+10*r.Float64(), 0.2+r.Float64()
		u := 0.5 * half * r.Float64()
		sd := half / 1.2815515655446004
		read := best + (moved+wide*r.NormFloat64())*sd + u*r.NormFloat64()
		list = append(list, scored(i, i, record.Range{Low: best - half, Best: best, High: best + half}, read, 2*u))
	}
	return list
}

// Of readings about which the ranges are right, 80 of a hundred hold, whatever the
// widths and the readings' own uncertainty: within four standard deviations of the
// binomial distribution, and the verdict leaves them alone.
func TestCalibratedReadingsHoldAsOftenAsStated(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20 {
		k := HeldAll(drawn(r, 1000, 1, 0), nil)[0]
		if off := math.Abs(float64(k.Held) - 800); off > 4*math.Sqrt(0.8*0.2*1000) {
			t.Errorf("%d of %d held", k.Held, k.N)
		}
	}
	wrong := 0
	for range 200 {
		if k := HeldAll(drawn(r, 40, 1, 0), nil)[0]; k.Verdict == TooNarrow || k.Verdict == TooWide {
			wrong++
		}
	}
	// Wilson's interval leaves out the truth about once in twenty: 10 of 200, and at most
	// 22 within four standard deviations.
	if wrong > 22 {
		t.Errorf("right ranges were found wrong %d times of 200", wrong)
	}
}

// What is wrong with ranges is found, and what is offered in their place holds for
// readings that it was not found from.
func TestWrongRangesAreFoundAndTheOfferHolds(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, x := range []struct {
		wide, moved float64
		want        Code
		leans       bool
	}{
		{2.5, 0, TooNarrow, false}, {0.3, 0, TooWide, false}, {1.5, 1.5, TooNarrow, true}, {1.5, -1.5, TooNarrow, true},
	} {
		k := HeldAll(drawn(r, 400, x.wide, x.moved), nil)[0]
		if k.Verdict != x.want || x.leans && k.Leans == "" || k.Offer == nil {
			t.Fatalf("%+v: %s, %q, offer %v", x, k.Verdict, k.Leans, k.Offer != nil)
		}
		o := k.Offer
		if math.Abs(o.Factor/x.wide-1) > 0.25 || math.Abs(o.Shift-x.moved/1.2816) > 0.2 {
			t.Errorf("%+v: factor %g, shift %g", x, o.Factor, o.Shift)
		}
		if o.WouldHold < 320 || o.Readings != 400 || record.Validate(withReason(o.OwnRange)) != nil {
			t.Errorf("%+v: %d of %d would hold; %v", x, o.WouldHold, o.Readings, record.Validate(withReason(o.OwnRange)))
		}
		held := 0
		for _, s := range drawn(r, 2000, x.wide, x.moved) {
			if _, is := miss(o.Apply(s.Value.Value), s.Read, s.Uncertainty/2, 80); is {
				held++
			}
		}
		// The share itself is known from 400 readings to 2 in a hundred.
		if share := float64(held) / 2000; math.Abs(share-0.8) > 0.08 {
			t.Errorf("%+v: of new readings %.3f hold in the offered range", x, share)
		}
	}
}

func withReason(b record.OwnRange) record.OwnRange {
	b.Reason = "a test"
	return b
}

// Wilson's interval of k of n against 80 in a hundred: 15 of 15 has 0.796 to 1, 16 of
// 16 has 0.806 to 1, 0 of 5 has 0 to 0.434.
func TestVerdicts(t *testing.T) {
	in, out := record.Range{Low: 1, Best: 2, High: 3}, 9.0
	some := func(k, n, runs int) []Score {
		var list []Score
		for i := range n {
			read := 2.0 + 0.1*float64(i%2*2-1)
			if i >= k {
				read = out * float64(i%2*2-1)
			}
			list = append(list, scored(i, i%runs, in, read, 0.01))
		}
		return list
	}
	for _, x := range []struct {
		k, n  int
		want  Code
		offer bool
	}{
		{0, 0, NotYet, false}, {8, 10, NotYet, false}, {15, 15, NotYet, false}, {16, 16, TooWide, false},
		{0, 5, TooNarrow, false}, {20, 24, AsStated, false}, {12, 24, TooNarrow, true}, {24, 24, TooWide, true},
	} {
		k := HeldGroup{Stated: 80}
		if x.n > 0 {
			k = HeldAll(some(x.k, x.n, x.n), nil)[0]
		} else {
			k.judge()
		}
		if k.Verdict != x.want || k.Held != x.k || (k.Offer != nil) != x.offer {
			t.Errorf("%d of %d: %s, offer %v; want %s, %v", x.k, x.n, k.Verdict, k.Offer != nil, x.want, x.offer)
		}
	}
	if k := HeldAll(some(12, 24, 9), nil)[0]; k.Offer != nil {
		t.Error("nine runs are enough for a range of the studio's own")
	}
	list := some(12, 24, 24)
	for i := range list[:6] {
		list[i].Model = "another"
	}
	if k := HeldAll(list, nil)[0]; k.N != 18 || !strings.Contains(k.Others, "another version of the model") {
		t.Errorf("%d count; %q", k.N, k.Others)
	}
	// Where the studio has a range of its own, what was expected by it counts.
	own := record.OwnRange{Quantity: "reserve", Moment: record.OnceDry, Class: record.Groundwood, Factor: 2}
	st := &record.Studio{OwnRanges: []record.Stamped[record.OwnRange]{{Stamp: record.Stamp{Seq: 5}, Body: own}}}
	list = some(12, 24, 24)
	list[0].Value.Own, list[0].Value.Computed = 5, &in
	if k := HeldAll(list, st)[0]; k.N != 1 || !strings.Contains(k.Others, "against another range of the studio") {
		t.Errorf("%d count; %q", k.N, k.Others)
	}
}

// keptCase is a lime bath of sheet 1 for 20 min with two expectations kept.
func keptCase(t *testing.T) (*record.Case, string) {
	t.Helper()
	id := record.NewID(evening)
	value := func(q string, m record.Moment, r record.Range) record.ExpectedValue {
		return record.ExpectedValue{
			Quantity: q, Moment: m, Sheets: []int{1}, Class: record.Groundwood, Unit: UnitOf(q), Value: r,
		}
	}
	return folded(t,
		record.RunStarted{
			ID: id, Operation: "lime", OperationName: "lime bath", Sheets: []int{1}, At: evening.Add(-25 * time.Minute),
			PlannedMin: 20,
			Makes:      record.Wet, Bath: &record.Bath{ID: id, Liquid: "lime water", VolumeMl: 1000},
		},
		record.RunExpected{Run: id, Model: "m", Inputs: []string{"i"}, Coverage: 80, Values: []record.ExpectedValue{
			value("reserve", record.OnceDry, record.Range{Low: 0.06, Best: 0.1, High: 0.2}),
			value("surface-ph", record.OnceDry, record.Range{Low: 7.5, Best: 8, High: 8.5}),
		}}), id
}

func TestHeldOfARunTellsReadAndUnread(t *testing.T) {
	c, id := keptCase(t)
	// The titration knows 0.1 to 0.02: the range is 3.5 times as wide. The drop knows a pH
	// to 0.4, and the range to 0.5.
	if say := Gain(c, id); !strings.Contains(say, "alkaline reserve") || !strings.Contains(say, "titration") {
		t.Errorf("what a reading would tell: %q", say)
	}
	u := 0.2
	c = folded(t, append(bodiesOf(c),
		record.RunEnded{Run: id, At: evening.Add(-5 * time.Minute), Outcome: "done", Leaves: record.Dry},
		record.Reading{
			Quantity: "surface-ph", Value: 9.1, Uncertainty: &u, Method: "electrode", Stage: record.StageAfter,
			Place: record.Place{Sheets: []int{1}}, At: evening.Add(-2 * time.Minute),
		})...)
	rows := HeldOf(c, id)
	if len(rows) != 2 || rows[0].Verdict != "above the range" || rows[0].Held || !rows[0].Counts ||
		rows[0].Read != "9.1 ± 0.2" || rows[1].Read != "" || !strings.Contains(rows[1].Expected, "0.06 to 0.20") {
		t.Errorf("rows: %+v", rows)
	}
	if say := Gain(c, id); say != "" {
		t.Errorf("something is read, and still: %q", say)
	}
	if HeldOf(c, "no such run") != nil {
		t.Error("something was expected of no run")
	}
}

// bodiesOf are the bodies of a folded case after its make-up.
func bodiesOf(c *record.Case) []record.Body {
	var list []record.Body
	for _, l := range c.Log[2:] {
		list = append(list, l.Decoded)
	}
	return list
}
