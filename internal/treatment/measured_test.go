package treatment

import (
	"math"
	"slices"
	"strings"
	"testing"

	"benchleaf/internal/record"
	"benchleaf/paper"
)

// limed is a case whose sheets 1 to 3 weigh 4.32 g each in room air, are without
// acid, and of which sheet 1 was in lime of 0.4 g/L from minute 0 to 20; more
// follows.
func limed(more ...record.Body) []record.Body {
	var bodies []record.Body
	for _, b := range ready() {
		if s, ok := b.(record.Stock); ok && s.Name == "interior" {
			s.AcidMmolKg = &record.Range{}
			b = s
		}
		bodies = append(bodies, b)
	}
	u := 0.01
	bodies = append(
		bodies,
		record.Reading{
			Quantity:    "mass",
			Value:       4.32,
			Uncertainty: &u,
			Method:      "balance",
			Stage:       "before",
			Place:       record.Place{Sheets: []int{1}},
			At:          at(-60),
		},
	)
	start := run("lime", 0, 20, 1)
	s := start[0].(record.RunStarted)
	s.Bath.Substance, s.Bath.StrengthGL, s.Bath.VolumeMl = "calcium hydroxide", &record.Range{
		Low:  0.39,
		Best: 0.4,
		High: 0.41,
	}, 1500
	start[0] = s
	return append(append(bodies, start...), more...)
}

func onSheet(quantity string, value, u float64, stage string, min, sheet int) record.Reading {
	return record.Reading{
		Quantity:    quantity,
		Value:       value,
		Uncertainty: &u,
		Method:      "test",
		Stage:       record.Stage(stage),
		Place:       record.Place{Sheets: []int{sheet}},
		At:          at(min),
	}
}

func offerOf(m Measured, quantity string) *Offer {
	for i := range m.Offers {
		if m.Offers[i].Quantity == quantity {
			return &m.Offers[i]
		}
	}
	return nil
}

func adoptionOf(c *record.Case, sheet int, o *Offer, sheets ...int) record.ValueAdopted {
	was := o.Was
	return record.ValueAdopted{
		Quantity:  o.Quantity,
		Value:     o.Value,
		Unit:      o.Unit,
		Was:       &was,
		WasBasis:  o.WasBasis,
		FromSheet: sheet,
		Readings:  o.Readings,
		Sheets:    sheets,
		Reason:    "one stock",
	}
}

func nearly(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if math.Abs(got-want) > share*math.Abs(want) {
		t.Errorf("%s is %.5g, want %.5g within %g %%", what, got, want, 100*share)
	}
}

// The wet sheet on the balance, by hand: 4.32 g in room air is 4.00 g dry at 8 %
// moisture; 13.6 g as lifted is 9.6 g of liquid, 2.4 g/g (definition of the
// pick-up). Adopted for sheet 2, a lime bath of 0.4 g/L, 10.80 mmol of alkali in 1 L
// (74.093 g/mol, two for each), leaves 2.4 x 10.80 = 25.9 mmol/kg, 0.130 % CaCO3, where
// there is no acid.
func TestAWetSheetGivesThePickUpForTheNext(t *testing.T) {
	bodies := limed(onSheet("mass", 13.6, 0.02, "during", 20, 1))
	c := fold(t, bodies...)
	m, err := Measure(t.Context(), c, 1)
	if err != nil {
		t.Fatal(err)
	}
	o := offerOf(m, "pick-up")
	if o == nil {
		t.Fatalf("no pick-up on offer: %+v", m)
	}
	nearly(t, "pick-up", o.Value.Best, 2.4, 0.02)
	if o.Value.High-o.Value.Low > 0.5*(o.Was.High-o.Was.Low) || !strings.Contains(o.WasBasis, "groundwood newsprint") {
		t.Errorf("offer %+v, want it narrower than what is taken for the class", o)
	}
	if !slices.Equal(m.Remaining, []int{2, 3}) {
		t.Errorf("remaining %v, want 2 and 3: the cover is another paper", m.Remaining)
	}
	next := lies(2, record.Bath{
		Liquid:     "lime water",
		Substance:  "calcium hydroxide",
		StrengthGL: &record.Range{Low: 0.4, Best: 0.4, High: 0.4},
		VolumeMl:   1500,
	})
	c = fold(t, append(slices.Clone(bodies), next)...)
	before, _, err := Expect(t.Context(), c, 2)
	if err != nil {
		t.Fatal(err)
	}
	history := History(c, 2)
	bodies = append(bodies, adoptionOf(c, 1, o, 2, 3))
	c = fold(t, append(bodies, next)...)
	after, _, err := Expect(t.Context(), c, 2)
	if err != nil {
		t.Fatal(err)
	}
	nearly(t, "reserve after adopting", after.ReservePercentChalk.Best, 2.4*2*400/74.093/1000*100.086/20, 0.03)
	nearly(t, "reserve before", before.ReservePercentChalk.Best, after.ReservePercentChalk.Best*2.2/o.Value.Best, 0.01)
	if w, n := before.ReservePercentChalk, after.ReservePercentChalk; n.High-n.Low > 0.6*(w.High-w.Low) {
		t.Errorf("the range went from %s to %s, want it much narrower", w.Text(), n.Text())
	}
	if history == History(c, 2) {
		t.Error("the adopted value is no part of the sheet's history")
	}
	rests := strings.Join(after.RestsOn, "\n")
	if !strings.Contains(rests, "pick-up is "+o.Value.BestText()+" g/g") ||
		!strings.Contains(rests, "estimated from readings on sheet 1") ||
		!strings.Contains(rests, "in the place of 1.8") {
		t.Errorf("what it rests on does not name the adopted value and what it replaced:\n%s", rests)
	}
	for _, a := range after.Assumed {
		if strings.Contains(a, "pick-up") {
			t.Errorf("the class's pick-up is still named among what was assumed: %s", a)
		}
	}
}

// Weighed ten minutes late, by hand: at 60 g/m2 an hour 0.0891 m2 lose 0.89 g, so
// that 12.7 g then are 13.6 g as lifted; entered with the run of the bath, it is still
// of the sheet that came out. Less sure than at once.
func TestALateWeighingStillGivesThePickUp(t *testing.T) {
	bodies := limed()
	r := onSheet("mass", 12.7, 0.02, "during", 30, 1)
	r.Run = bodies[len(bodies)-2].(record.RunStarted).ID
	m, err := Measure(t.Context(), fold(t, append(bodies, r)...), 1)
	if err != nil {
		t.Fatal(err)
	}
	o := offerOf(m, "pick-up")
	if o == nil || !strings.Contains(m.Rows[0].Note, "0.9 g lost since") {
		t.Fatalf("%+v", m)
	}
	nearly(t, "pick-up", o.Value.Best, 2.4, 0.04)
	// What is taken as lost is what package paper computes for such a room.
	_, _, air, _ := openDrying(&record.Case{}, 1)
	of, _ := TakenSheetOf(fold(t, bodies...), 1)
	d, err := paper.DryInAir(of.Sheet, paper.Drained, air, true, nil, paper.Options{Seed: 1, Samples: 200})
	if err != nil {
		t.Fatal(err)
	}
	nearly(t, "loss in a room, g/m2 an hour", 60*lossGPerM2Min, d.RateGPerM2H.Best, 0.15)
	nearly(t, "its spread", lossStandard, d.RateGPerM2H.Standard()/d.RateGPerM2H.Best, 0.25)
	if w := o.Value.High - o.Value.Low; w < 0.15 {
		t.Errorf("it is given to %.2f g/g, as if nothing had dried", w)
	}
}

// Titrated as filled and at the end, a small bath tells the acid, by hand: 4.32 g of
// newsprint are 4.00 g dry; 300 mL that go from 2.70 to 1.40 mmol/L have lost 0.39 mmol.
// The sheet carries 2.2 g/g x 4 g x 1.4 = 0.012 mmol of that out (pick-up of the
// class), so acid took 0.378 mmol: 94 mmol/kg, soluble and fixed together.
func TestTwoTitrationsGiveTheAcid(t *testing.T) {
	var bodies []record.Body
	for _, b := range limed() {
		switch x := b.(type) {
		case record.Stock:
			x.AcidMmolKg = nil
			b = x
		case record.RunStarted:
			x.Bath.StrengthGL, x.Bath.VolumeMl = &record.Range{Low: 0.09, Best: 0.1, High: 0.11}, 300
			b = x
		}
		bodies = append(bodies, b)
	}
	id := bodies[len(bodies)-2].(record.RunStarted).ID
	titration := func(v float64, min int) record.Reading {
		r := onSheet("bath-alkali", v, 0.04, "during", min, 1)
		r.Run, r.Place = id, record.Place{}
		return r
	}
	c := fold(t, append(bodies, titration(2.7, 1), titration(1.4, 20))...)
	m, err := Measure(t.Context(), c, 1)
	if err != nil {
		t.Fatal(err)
	}
	if m.Rows[0].Compared || !m.Rows[1].Compared || !strings.Contains(m.Rows[0].Say, "strength of the bath") {
		t.Errorf("rows %+v, want the first taken as the strength and the second compared", m.Rows)
	}
	fixed, soluble := 60.0, 40.0 // of the class, where a part is not on offer
	if o := offerOf(m, "fixed-acid"); o != nil {
		fixed = o.Value.Best
	}
	if o := offerOf(m, "soluble-acid"); o != nil {
		soluble = o.Value.Best
	}
	if len(m.Offers) == 0 {
		t.Fatalf("nothing on offer: %+v", m)
	}
	nearly(t, "acid in all", fixed+soluble, 94, 0.12)
	// The bath as titrated, not as made, is what Expect takes.
	if got := bathsOf(c, 1)[0].Liquid.AlkaliMmolPerL.Best; got != 2.7 {
		t.Errorf("the bath is taken with %g mmol/L, want 2.7 as titrated", got)
	}
}

// A reading does not confirm itself: adopted for its own sheet too, the value is
// left out where the same readings are compared.
func TestAReadingDoesNotConfirmItself(t *testing.T) {
	bodies := limed(onSheet("mass", 13.6, 0.02, "during", 20, 1))
	c := fold(t, bodies...)
	m, err := Measure(t.Context(), c, 1)
	if err != nil {
		t.Fatal(err)
	}
	c = fold(t, append(bodies, adoptionOf(c, 1, offerOf(m, "pick-up"), 1, 2))...)
	again, err := Measure(t.Context(), c, 1)
	if err != nil {
		t.Fatal(err)
	}
	if len(again.Left) != 1 || again.Rows[0].Predicted != m.Rows[0].Predicted {
		t.Errorf(
			"left out %d, predicted %v; want one left out and %v as before",
			len(again.Left),
			again.Rows[0].Predicted,
			m.Rows[0].Predicted,
		)
	}
	// For the expectation of that sheet it does count.
	if s, _ := TakenSheetOf(c, 1); s.PickUpGPerG == nil {
		t.Error("the sheet that was weighed is expected to hold what its class does")
	}
}

// Two weighings of the sheet lying open, by hand: 1.2 g in 10 min from 340 x 262 mm
// is 1.2/0.08908 x 6 = 80.8 g/m2 an hour. Taken for sheet 2 it makes the mending
// window as much shorter as the rate is faster (both ends are times at constant
// rate until 0.5 g/g; the early end of the window moves with it exactly).
func TestTwoWeighingsGiveTheDryingRate(t *testing.T) {
	bodies := limed(onSheet("mass", 13.6, 0.02, "during", 21, 1), onSheet("mass", 12.4, 0.02, "during", 31, 1))
	wash := run("wash", 0, 20, 2)
	c := fold(t, append(slices.Clone(bodies), wash...)...)
	m, err := Measure(t.Context(), c, 1)
	if err != nil {
		t.Fatal(err)
	}
	if m.Drying == nil {
		t.Fatalf("no drying in %+v", m)
	}
	nearly(t, "rate", m.Drying.Fitted.Best, 1.2/0.08908*6, 0.001)
	o := offerOf(m, "drying-rate")
	if o == nil {
		t.Fatal("no drying rate on offer")
	}
	nearly(t, "rate over the computed one", o.Value.Best, m.Drying.Fitted.Best/m.Drying.Predicted.Best, 1e-9)
	before, ok := MendWindow(c, 2)
	if !ok {
		t.Fatal("sheet 2 has no window")
	}
	c = fold(t, append(append(slices.Clone(bodies), wash...), adoptionOf(c, 1, o, 2))...)
	after, ok := MendWindow(c, 2)
	if !ok {
		t.Fatal("sheet 2 has no window once the rate is adopted")
	}
	nearly(t, "start of the window", after.From.Best, before.From.Best/o.Value.Best, 0.01)
	if !strings.Contains(after.RestsOn, "estimated from readings on sheet 1") || strings.Contains(before.RestsOn, "adopted") {
		t.Errorf("rests on %q, before %q", after.RestsOn, before.RestsOn)
	}
}

// pH 7 at the end of a lime bath is what no sheet without acid makes: the readings
// disagree, and nothing is on offer.
func TestAReadingThatNothingExplains(t *testing.T) {
	bodies := limed()
	started := bodies[len(bodies)-2].(record.RunStarted)
	r := onSheet("bath-ph", 7, 0.1, "during", 20, 1)
	r.Run, r.Place = started.ID, record.Place{}
	m, err := Measure(t.Context(), fold(t, append(bodies, r)...), 1)
	if err != nil {
		t.Fatal(err)
	}
	if m.Agree || len(m.Offers) > 0 || len(m.Rows) != 1 || m.Rows[0].Says != paper.Differs ||
		!strings.HasPrefix(m.Rows[0].Say, "lower than expected") {
		t.Errorf("%+v", m)
	}
	if len(m.Baths) != 1 || len(m.Baths[0].Course) < 5 || m.Baths[0].Minutes != 20 || m.Baths[0].At[0] != 20 {
		t.Errorf("baths %+v, want the course of 20 min with the reading at its end", m.Baths)
	}
}

// What is not predicted says why, and every reading of the sheet is there, in order
// of time, whatever the order of entry.
func TestReadingsThatAreNotCompared(t *testing.T) {
	bodies := limed()
	limeRun := bodies[len(bodies)-2].(record.RunStarted).ID
	inRun := func(r record.Reading, id string) record.Reading {
		r.Run = id
		return r
	}
	dry := run("dry-absorbent", 60, 190, 1)
	peroxide := run("oxidise", -30, -10, 1)
	peroxideStart := peroxide[0].(record.RunStarted)
	peroxideStart.Bath.Substance = "hydrogen peroxide"
	peroxide[0] = peroxideStart
	bodies = slices.Insert(bodies, len(bodies)-2, peroxide...)
	bodies = append(bodies, dry...)
	bodies = append(bodies,
		inRun(onSheet("mass", 9, 0.02, "during", 90, 1), dry[0].(record.RunStarted).ID),
		inRun(onSheet("bath-ph", 9.5, 0.1, "during", -15, 1), peroxideStart.ID),
		inRun(onSheet("conductivity", 2200, 5, "during", 5, 1), limeRun),
		inRun(onSheet("mass", 20, 0.02, "during", 10, 1), limeRun),
		onSheet("surface-ph", 4.5, 0.3, "before", -60, 1), // before treatment: not among what was predicted
		onSheet("surface-ph", 8.4, 0.3, "after", 195, 1),
		onSheet("surface-ph", 8.4, 0.3, "after", 195, 2)) // another sheet
	m, err := Measure(t.Context(), fold(t, bodies...), 1)
	if err != nil {
		t.Fatal(err)
	}
	var say []string
	for _, r := range m.Rows {
		say = append(say, r.Say)
	}
	want := []string{
		"what this liquid does",
		"nothing here predicts",
		"no weight of its own",
		"between absorbents",
		"agrees",
	}
	if len(say) != len(want) {
		t.Fatalf("%d readings: %q", len(say), say)
	}
	for i := range want {
		if !strings.Contains(say[i], want[i]) || m.Rows[i].Compared != (i == 4) {
			t.Errorf("reading %d says %q, want %q in it", i, say[i], want[i])
		}
	}
}

func TestMeasureSaysWhatIsMissing(t *testing.T) {
	for name, x := range map[string]struct {
		bodies []record.Body
		sheet  int
		want   string
	}{
		"no paper": {[]record.Body{record.Opened{Number: "1", Title: "Demo"},
			record.MakeUp{InnerSheets: 3, Cover: "self", Binding: "loose", FirstPage: 1}}, 1, "not described"},
		"no bath": {ready(), 2, "not been in a bath"},
	} {
		m, err := Measure(t.Context(), fold(t, x.bodies...), x.sheet)
		if err != nil || !strings.Contains(m.Missing, x.want) || len(m.Sentences) > 0 {
			t.Errorf("%s: %v, %+v", name, err, m)
		}
	}
	m, err := Measure(t.Context(), fold(t, limed()...), 1)
	if err != nil || m.Missing != "" || len(m.Asks) != 6 || !strings.Contains(m.Asks[0].What, "balance") {
		t.Errorf("a bath and no reading: %v, %+v; want what to read", err, m)
	}
}

// A bath of the whole object holds all its sheets, and those of other cases.
func TestABathOfTheWholeObjectHoldsAllSheets(t *testing.T) {
	whole := run("wash", 0, 20)
	c := fold(t, append(ready(), whole...)...)
	if b := bathsOf(c, 2); len(b) != 1 || b[0].Together != 4 {
		t.Errorf("%d together, want the cover and three sheets", b[0].Together)
	}
	shared := run("wash", 0, 20, 1)
	start := shared[0].(record.RunStarted)
	start.Bath.With = []record.Sharing{{Case: "0000000000000002", Number: "2", Sheets: []int{4, 5}}}
	shared[0] = start
	if b := bathsOf(fold(t, append(ready(), shared...)...), 1); b[0].Together != 3 {
		t.Errorf("%d together, want one and two of the other case", b[0].Together)
	}
}

// A sheet that comes out early has had less of the bath than those that stay.
func TestASheetThatLeavesEarlyHadLessOfTheBath(t *testing.T) {
	both := run("wash", 0, 30, 1, 2)
	early := record.RunEnded{
		Run:     both[0].(record.RunStarted).ID,
		Sheets:  []int{1},
		At:      at(12),
		Outcome: "done",
		Leaves:  record.Wet,
	}
	c := fold(t, append(ready(), both[0], early, both[1])...)
	if a, b := bathsOf(c, 1)[0].Minutes, bathsOf(c, 2)[0].Minutes; *a != 12 || *b != 30 {
		t.Errorf("%v and %v min, want 12 and 30", *a, *b)
	}
}

// What a first look at a sheet's page costs, and one that finds its answers kept.
func BenchmarkMeasure(b *testing.B)     { benchMeasure(b, true) }
func BenchmarkMeasureKept(b *testing.B) { benchMeasure(b, false) }

func benchMeasure(b *testing.B, anew bool) {
	var entries []record.Entry
	for i, x := range limed(onSheet("mass", 13.6, 0.02, "during", 20, 1), onSheet("mass", 12.4, 0.02, "during", 31, 1),
		onSheet("surface-ph", 8.4, 0.3, "during", 25, 1)) {
		kind, version, raw, err := record.Encode(x)
		if err != nil {
			b.Fatal(err)
		}
		entries = append(
			entries,
			record.Entry{
				Case:    "0000000000000001",
				Seq:     int64(i) + 1,
				Time:    at(200 + i),
				By:      "KM",
				Kind:    kind,
				Version: version,
				Body:    raw,
			},
		)
	}
	c := record.Fold(entries)
	for b.Loop() {
		if anew {
			answers = newKeeper(mostKept)
		}
		if m, err := Measure(b.Context(), c, 1); err != nil || len(m.Rows) != 3 {
			b.Fatal(err, len(m.Rows))
		}
	}
}

// More baths than the computation takes: one sentence, and no panic.
func TestTooManyBathsAreRefusedInASentence(t *testing.T) {
	bodies := limed()
	for i := range 60 {
		bodies = append(bodies, run("wash", 21+i, 22+i, 1)...)
	}
	r := onSheet("bath-ph", 7, 0.1, "during", 82, 1)
	r.Run, r.Place = bodies[len(bodies)-2].(record.RunStarted).ID, record.Place{}
	if _, err := Measure(t.Context(), fold(t, append(bodies, r)...), 1); err == nil || !strings.Contains(err.Error(), "at most 60") {
		t.Errorf("61 baths: %v", err)
	}
}
