package demo

import (
	"fmt"
	"math"
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// heldSheets of the practice sheets, two an evening.
const heldSheets = 24

// invented stands with every reading of the practice sheets.
const invented = "invented: written by the demonstration, read by nobody"

// madeUp is how the invented readings of a quantity lie about what was expected of
// them: normal scores, times spread and moved by shift, in standard deviations of the
// expectation. The computation is made to look right for one quantity, too sure of
// itself for another, too careful for a third; it says nothing of the real one.
type madeUp struct {
	quantity       string
	moment         record.Moment
	spread, shift  float64
	step, plusOrSo float64 // of the scale, and the uncertainty stated
	method         string
}

var madeUpReadings = []madeUp{
	{"mass", record.OutWet, 1, 0, 0.01, 0.05, "balance"},
	{"bath-alkali", record.OutWet, 0.9, 0.2, 0.05, 0.2, "titration to pH 4.5, alkali in all"},
	{"surface-ph", record.OnceDry, 0.35, 0.1, 0.1, 0.1, "flat electrode on a drop, after a stated time"},
	{"reserve", record.OnceDry, 1.5, -1.1, 0.001, 0.004, "titration of a test sheet"},
}

// held is a closed case of practice sheets, limed one by one, in which every reading
// is invented: it shows what the page on expectations has to say after some weeks.
func (f *filler) held(now time.Time) error {
	day := func(back, minute int) time.Time {
		d := now.AddDate(0, 0, -back)
		return time.Date(d.Year(), d.Month(), d.Day(), 18, minute, 0, 0, now.Location())
	}
	t := day(80, 0)
	f.open("TV", t, record.NewCaseID(t))
	f.together(
		record.Opened{
			Number: t.Format("2006") + "-019", Title: "Practice sheets (every reading invented)",
			Purpose: "to show how expectations are held against readings",
		},
		record.Identity{
			Title: "Practice sheets (every reading invented)", Type: "loose sheets, unprinted",
			HeightMm: num(200), WidthMm: num(150),
			Description: "Not an object: the demonstration invented the sheets and all that is read of them.",
		},
		record.MakeUp{InnerSheets: heldSheets, Cover: "self", Binding: "loose", FirstPage: 1},
		record.Stock{
			ID: f.newID(), Name: "practice stock", Class: "groundwood", Sheets: sheets(1, heldSheets), WidthMm: 300,
			HeightMm: 200, GrammageGM2: 52, GrammageBasis: "measured", Grain: "unknown",
		},
	)
	var last []record.Body // what the evening before left to be read once dry
	// All sheets are of one stock and go into like baths: the same is expected of each.
	expected := f.foreseen(f.practiceBath(1, f.clock))
	for evening := range heldSheets / 2 {
		f.at(day(74-4*evening, 0), "TV")
		f.together(last...)
		last = f.heldEvening(evening, expected)
	}
	f.at(day(28, 0), "TV")
	f.together(append(last, record.Closed{Outcome: "treated", Text: "Invented throughout."})...)
	return f.err
}

// practiceBath is the bath that each of the sheets lies in alone.
func (f *filler) practiceBath(sheet int, at time.Time) record.RunStarted {
	return record.RunStarted{
		ID: f.newID(), Operation: "lime", OperationName: treatment.Name("lime"), Sheets: []int{sheet}, At: at,
		PlannedMin: 20, Makes: record.Wet, Bath: &record.Bath{
			ID: f.newID(), Liquid: "calcium hydroxide in water", Substance: "calcium hydroxide", VolumeMl: 800,
			StrengthGL: &record.Range{Low: 0.37, Best: 0.4, High: 0.43}, TempC: num(20), Tray: "tray A",
		},
	}
}

// foreseen computes what is expected of a run that is about to start.
func (f *filler) foreseen(run record.RunStarted) (x record.RunExpected) {
	if f.err != nil {
		return x
	}
	c, err := f.store.Case(f.ctx, f.id)
	if err != nil {
		f.err = err
		return x
	}
	all, ok, err := treatment.Foresee(c, nil, &run)
	if err != nil || !ok {
		f.err = fmt.Errorf("nothing is expected of %s: %w", run.OperationName, err)
	}
	return all.Kept
}

// forRun is what is expected, of one sheet in one run.
func forRun(x record.RunExpected, run string, sheet int) record.RunExpected {
	x.Run, x.Values = run, slices.Clone(x.Values)
	for i := range x.Values {
		if len(x.Values[i].Sheets) > 0 {
			x.Values[i].Sheets = []int{sheet}
		}
	}
	return x
}

// heldEvening limes two sheets, each in a bath of its own, and returns the entries
// that are written when they are dry.
func (f *filler) heldEvening(evening int, expected record.RunExpected) (dry []record.Body) {
	air := treatment.Find("dry-air")
	var starts, ends []record.Body
	for i := range 2 {
		n := 2*evening + i + 1
		at := f.clock.Add(time.Duration(i) * time.Minute)
		run := f.practiceBath(n, at)
		run.Bath.Tray = "tray " + "AB"[i:i+1]
		kept := forRun(expected, run.ID, n)
		starts = append(starts, run, kept)
		out := at.Add(20 * time.Minute)
		ends = append(ends, record.RunEnded{Run: run.ID, At: out, Outcome: "done", Leaves: record.Wet})
		for k, m := range madeUpReadings {
			b := m.reading(&kept, n, k)
			if m.moment == record.OnceDry {
				b.Stage, b.At = record.StageAfter, out.Add(20*time.Hour)
				dry = append(dry, b)
				continue
			}
			b.Stage, b.At, b.Run = record.StageDuring, out.Add(time.Minute), run.ID
			ends = append(ends, b)
		}
	}
	f.clock = f.clock.Add(2 * time.Minute) // both are in
	f.together(starts...)
	f.clock = f.clock.Add(25 * time.Minute)
	drying := record.RunStarted{
		ID: f.newID(), Operation: air.Slug, OperationName: air.Name, Sheets: []int{2*evening + 1, 2*evening + 2},
		At: f.clock, Makes: air.Makes,
	}
	f.together(append(ends, drying)...)
	over := record.RunEnded{Run: drying.ID, At: f.clock.Add(15 * time.Hour), Outcome: "done", Leaves: record.Dry}
	return append([]record.Body{over}, dry...)
}

// reading is an invented reading of the n-th sheet. Its normal score is that of a rank
// which goes through all sheets in another order for each quantity.
func (m madeUp) reading(kept *record.RunExpected, n, quantity int) record.Reading {
	b := record.Reading{
		Quantity: m.quantity, Method: m.method, Uncertainty: num(m.plusOrSo), Note: invented,
		Place: record.Place{Sheets: []int{n}},
	}
	for _, v := range kept.Values {
		if v.Quantity != m.quantity || v.Moment != m.moment {
			continue
		}
		rank := (n*[]int{5, 7, 11, 13}[quantity] + 3*quantity) % heldSheets
		score := math.Sqrt2 * math.Erfinv((2*float64(rank)+1)/heldSheets-1)
		off := m.shift + m.spread*score
		side := v.Value.High - v.Value.Best
		if off < 0 {
			side = v.Value.Best - v.Value.Low
		}
		b.Value = math.Round((v.Value.Best+off*side/1.2816)/m.step) * m.step
		b.Value = math.Round(b.Value*1000) / 1000
	}
	return b
}

// together appends bodies to the present journal as one act.
func (f *filler) together(bodies ...record.Body) {
	if f.err != nil || len(bodies) == 0 {
		return
	}
	d := record.Draft{Case: f.id, Expect: f.seq, By: f.by, Zone: zone}
	for _, b := range bodies {
		d.Items = append(d.Items, record.Item{Body: b})
	}
	entries, err := f.store.Append(f.ctx, d)
	if err != nil {
		f.err = fmt.Errorf("on %s: %w", f.clock.Format(time.DateTime), err)
		return
	}
	f.seq = entries[len(entries)-1].Seq
}
