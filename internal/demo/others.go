package demo

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"benchleaf/internal/record"
)

// readerFile holds what the program finds on the reader's photographs and
// readings: computed by it from the drawings once, since that takes seconds, and
// held against it by a test of package web.
//
//go:embed reader.json
var readerFile []byte

// ReaderNumbers are what the program finds on the closed case.
type ReaderNumbers struct {
	// ColourBefore and ColourAfter are the fits of the chart; photograph, corners
	// and chart are put in where they are written.
	ColourBefore record.PhotoColour
	ColourAfter  record.PhotoColour
	Face         record.FaceCompared
	Areas        []record.AreaCompared
	// PickUp is what the weighing of the first sheet offers for the others.
	PickUp record.ValueAdopted
}

// almanack is a case that waits: damp, in quarantine, no answer yet.
func (f *filler) almanack(now time.Time) error {
	t := now.Add(-26 * time.Hour)
	f.open("TV", t, record.NewCaseID(t))
	f.add(
		record.Opened{
			Number: t.Format("2006") + "-033", Title: "The Harbour Almanack for 1929",
			Purpose: "found damp in a cellar",
		},
		record.Ownership{
			Owner: "Second owner (demo)", Contact: "telephone, mornings", ValueMinor: 9000, Currency: "EUR",
			Wishes: "Only if it can be saved without much cost.",
		},
		record.Custody{
			Act: "received", At: t, Place: "quarantine shelf, sealed box", From: "Second owner (demo)", Mover: "TV",
			Condition: "damp at the tail, smells of cellar", BothSigned: true,
		},
		record.Quarantine{
			State: "waiting", At: t, Moisture: "damp", Mould: "active", Odour: "strong, mouldy",
			Where: "vented box, outer room", Reason: "white growth on the last leaves",
		},
		record.NextStep{
			Text: "look for growth again, then ask the owner whether to go on", Reason: "two days at 40 % humidity",
			Who: "TV", Due: now.Add(20 * time.Hour),
		},
	)
	f.photo(
		picture{number: 6, face: "outer", stage: stageArrival, halfOpen: true, right: 11},
		record.Photo{Stage: record.StageArrival, Caption: "through the box's window"},
	)
	return f.err
}

// reader is a closed case with papers to read: a single pulp cover washed,
// limed and mended two months ago.
func (f *filler) reader(now time.Time) error {
	day := func(back, hour, minute int) time.Time {
		d := now.AddDate(0, 0, -back)
		return time.Date(d.Year(), d.Month(), d.Day(), hour, minute, 0, 0, now.Location())
	}
	var found ReaderNumbers
	if err := json.Unmarshal(readerFile, &found); err != nil {
		return fmt.Errorf("what was found on the reader: %w", err)
	}
	t := day(70, 17, 0)
	f.open("KM", t, record.NewCaseID(t))
	stock := f.newID()
	f.add(
		record.Opened{Number: t.Format("2006") + "-024", Title: "The Saltmarsh Reader, no. 7", Purpose: "treatment"},
		record.Identity{
			Title: "The Saltmarsh Reader, no. 7", Issue: "no. 7", Maker: "not named", DateMade: "about 1951",
			Type: "story paper, stapled", Technique: "letterpress", HeightMm: num(262), WidthMm: num(170),
			Description: "Self-cover of four sheets, one staple lost before it came.",
		},
		record.Ownership{Owner: "Third owner (demo)", ValueMinor: 6000, Currency: "EUR", Wishes: "Stop the crumbling."},
		record.Custody{
			Act: "received", At: t, Place: "studio, shelf 1", From: "Third owner (demo)", Mover: "KM",
			BothSigned: true,
		},
		record.Quarantine{State: "not-needed", At: t, Moisture: "dry", Mould: "none", Reason: "dry, clean"},
		record.MakeUp{InnerSheets: 4, Cover: "self", Binding: "loose", FirstPage: 1, Note: "no staples came with it"},
		record.Stock{
			ID: stock, Name: "the one paper", Class: "groundwood", Sheets: sheets(1, 4), WidthMm: 340,
			HeightMm: 262, GrammageGM2: 55, GrammageBasis: "measured", Grain: "parallel",
		},
		record.Collation{When: "arrival", At: t, SheetsCounted: 4, InOrder: true},
	)
	warm, cool := [3]float32{1.02, 1, 0.93}, [3]float32{0.99, 1, 1.02}
	page := picture{number: 8, face: "outer", stage: stageBefore, left: 16, right: 1, ring: true, lamp: warm}
	closed := page
	closed.halfOpen = true
	f.photo(closed, record.Photo{Stage: record.StageArrival, Caption: "as it came, first page"})
	before := f.photo(
		page,
		record.Photo{
			Stage: record.StageBefore, Place: record.Place{Sheets: []int{1}, Face: "outer"},
			Caption: "sheet 1 before",
		},
	)
	f.laid(page, before)
	f.charted(before, picture{chart: true, stage: stageBefore, lamp: warm}, found.ColourBefore)
	areas := f.ringAndMargin(page, before)
	f.add(
		record.Reading{
			Quantity: "surface-ph", Value: 4.3, Uncertainty: num(0.3),
			Method: "flat electrode on a drop, read after 60 s", Instrument: "pH meter, flat electrode",
			Checked: "same day, buffers 4.00 and 7.00", Stage: record.StageBefore,
			Place: record.Place{Sheets: []int{1}}, At: t, TempC: num(19),
		},
	)
	crack, cup, brown := f.newID(), f.newID(), f.newID()
	f.add(
		record.Damage{
			ID: crack, Term: "tear",
			Place: record.Place{Sheets: []int{1}, Face: "outer"}, Through: true,
			Shapes:   shapes("line 170,0 171,14 170,35"),
			Severity: "moderate", Cause: "age and handling", CauseIs: "inferred", Active: "yes",
		},
		record.Damage{
			ID: cup, Term: "stain",
			Place:  record.Place{Sheets: []int{1}, Face: "outer", Words: "as of a cup"},
			Shapes: circle(ringX, ringY, ringR), Severity: "slight", Cause: "a cup", CauseIs: "inferred",
			Active: "no",
		},
		record.Damage{
			ID: brown, Term: "discolouration", Place: record.Place{Sheets: sheets(1, 4)}, Severity: "moderate",
			Cause: "acid", CauseIs: "inferred", Active: "yes",
		},
	)
	for _, liquid := range []string{"water", "alkaline-water"} {
		f.add(
			record.SpotTest{
				ID: f.newID(), Sort: "solubility", Colour: "black text", Place: record.Place{Sheets: []int{1}},
				Liquid: record.TestLiquid(liquid), Result: "0", DwellS: num(120), At: t,
			},
		)
	}
	f.add(
		record.SpotTest{
			ID: f.newID(), Sort: "lignin", Place: record.Place{Sheets: []int{1}, Words: "loose fibre"},
			Liquid: "reagent", Strength: "phloroglucinol in acid", Result: "positive",
			Consent: "Third owner (demo)", At: t,
		},
	)

	t = day(66, 10, 0)
	f.at(t, "KM")
	f.add(
		record.Proposal{
			Version:      1,
			Currency:     "EUR",
			RateMinor:    7200,
			MinimumMinor: 12000,
			TaxPercent:   19,
			ValidDays:    60,
			Summary:      "Acid story paper, brittle at the fold, otherwise clean.",
			Alternatives: "Doing nothing: keep it flat, cool and dark.",
			Risks:        "Washing cannot be undone; alkaline groundwood yellows in light.",
			Options: []record.Option{
				{
					Name:   "A",
					Title:  "Wash, lime, mend",
					Expect: "acid out, a small reserve, the fold closed",
					Operations: []record.Planned{
						{
							Operation: "wash", Hours: 0.8, MaterialsMinor: 100,
						}, {Operation: "lime", Hours: 0.6, MaterialsMinor: 100},
						{Operation: "mend-damp", Sheets: []int{1}, Hours: 0.5, MaterialsMinor: 200},
						{
							Operation: "dry-absorbent", Hours: 0.4, MaterialsMinor: 300,
						}, {Operation: "reassemble", Hours: 0.3},
						{Operation: "house", Hours: 0.1, MaterialsMinor: 350}},
				},
			},
		},
	)
	f.at(day(64, 9, 0), "KM")
	f.add(
		record.Consent{
			Version: 1, Option: "A", Answer: "given", Who: "Third owner (demo)", Standing: "owner", Way: "e-mail",
			At: f.clock, Words: "Yes to A.",
		},
	)

	t = day(60, 16, 0)
	f.at(t, "KM")
	lime := f.shelf.limeBath
	w := f.start(
		"wash", nil, t,
		func(s *record.RunStarted) { s.PlannedMin, s.Bath = 20, f.bath(conditioned, "tray A", 2000, 7.8, 121) },
	)
	f.clock = t.Add(20 * time.Minute)
	f.bathReading(w.ID, "bath-ph", 6.4, 0.1)
	f.end(w, f.clock, record.RunEnded{EndPoint: "second bath colourless"})
	t = f.clock.Add(2 * time.Minute)
	bath := func(ph float64) *record.Bath {
		b := f.bath("calcium hydroxide in water, "+strength(lime), "tray A", 1500, ph, 2310)
		b.Substance, b.StrengthGL = "calcium hydroxide", perLitre(lime)
		return b
	}
	l := f.start("lime", []int{1}, t, func(s *record.RunStarted) { s.PlannedMin, s.Bath = 20, bath(12.0) })
	f.end(l, t.Add(20*time.Minute), record.RunEnded{Seen: "no change of hue"})
	d := f.start("drain", []int{1}, f.clock, nil)
	// The first sheet on the balance, before the others go in.
	f.weighed(d.ID, 1, d.At.Add(time.Minute), 16.1)
	found.PickUp.Readings = []int64{f.seq}
	f.weighed(d.ID, 1, d.At.Add(9*time.Minute), 15.3)
	f.end(d, f.clock.Add(time.Minute), record.RunEnded{})
	adopted := found.PickUp
	adopted.FromSheet, adopted.Sheets, adopted.Reason = 1, sheets(
		2, 4,
	), "one paper and one tray; weighed on the first sheet before the others went in"
	f.add(adopted)
	l = f.start(
		"lime", sheets(2, 4), f.clock.Add(2*time.Minute),
		func(s *record.RunStarted) { s.PlannedMin, s.Bath = 20, bath(12.0) },
	)
	f.end(l, l.At.Add(20*time.Minute), record.RunEnded{Seen: "no change of hue"})
	d = f.start("drain", sheets(2, 4), f.clock.Add(time.Minute), nil)
	f.end(d, f.clock.Add(9*time.Minute), record.RunEnded{})
	m := f.start("mend-damp", []int{1}, f.clock.Add(time.Minute), nil)
	f.clock = f.clock.Add(8 * time.Minute)
	f.add(
		record.Mend{
			ID: f.newID(), Damages: []string{crack},
			Place: record.Place{Sheets: []int{1}, Face: "inner", Words: "along the fold"}, At: f.clock,
			Tissue: "kozo tissue", TissueGM2: num(5), Adhesive: "wheat starch paste, thin", LengthMm: num(45),
			WidthMm: num(10), State: "damp", Edge: "water-torn", Run: m.ID,
		},
	)
	f.end(m, f.clock.Add(2*time.Minute), record.RunEnded{})
	dry := f.start("dry-absorbent", nil, f.clock.Add(time.Minute), func(s *record.RunStarted) {
		s.DueMin, s.DueWhat = []float64{10, 60, 720}, "change the absorbents"
		s.Materials = []record.Material{{Name: "cotton blotter 350 g/m²"}, {Name: "polyester non-woven"}}
	})
	for i, min := range []float64{11, 58, 800} {
		f.clock = dry.At.Add(time.Duration(min) * time.Minute)
		f.add(
			record.AbsorbentChanged{
				Run: dry.ID, At: f.clock, What: "cotton blotter 350 g/m²", TakenUpG: num([]float64{21, 6, 2}[i]),
			},
		)
	}
	f.end(dry, day(58, 12, 0), record.RunEnded{EndPoint: "weight constant within 0.02 g over a day"})

	t = day(56, 17, 0)
	f.at(t, "KM")
	f.add(
		record.Reading{
			Quantity: "surface-ph", Value: 8.2, Uncertainty: num(0.3),
			Method: "flat electrode on a drop, read after 60 s", Instrument: "pH meter, flat electrode",
			Checked: "same day, buffers 7.00 and 10.01", Stage: record.StageAfter,
			Place: record.Place{Sheets: []int{1}}, At: t, TempC: num(19),
		},
	)
	page.stage, page.lamp = stageAfter, cool
	after := f.photo(
		page,
		record.Photo{
			Stage: record.StageAfter, Place: record.Place{Sheets: []int{1}, Face: "outer"},
			Caption: "sheet 1 after",
		},
	)
	f.charted(after, picture{chart: true, stage: stageAfter, lamp: cool}, found.ColourAfter)
	face := found.Face
	face.Before, face.After, face.Place = before.Hash, after.Hash, before.Place
	f.add(face)
	for i, id := range areas {
		if i < len(found.Areas) {
			a := found.Areas[i]
			a.Area, a.Before, a.After = id, before.Hash, after.Hash
			f.add(a)
		}
	}
	f.run("reassemble", nil, t, 15, "four sheets, loose as they came", nil)
	f.add(record.DamageAfter{Damage: crack, Outcome: "mended", Text: "closed, flexes as the sheet does"},
		record.DamageAfter{Damage: cup, Outcome: "reduced", Text: "paler, still to be seen"},
		record.DamageAfter{Damage: brown, Outcome: "reduced", Text: "lighter all over, see the pictures"},
		record.Collation{When: "reassembled", At: f.clock, SheetsCounted: 4, InOrder: true})
	f.whole()
	f.run("house", nil, f.clock, 5, "polyester sleeve, alkaline board", func(s *record.RunStarted) {
		s.Materials = []record.Material{{Name: "polyester sleeve", Stays: true}, {Name: "alkaline board", Stays: true}}
	})
	f.at(day(55, 10, 0), "KM")
	f.add(
		record.PaperIssued{Sort: "report", At: f.clock, To: "Third owner (demo)", Way: "printed, with the object"},
		record.Custody{
			Act: "returned", At: f.clock, Place: "owner", From: "studio", Mover: "KM",
			Condition: "as in the report", BothSigned: true,
		},
		record.Closed{Outcome: "treated", Text: "Back with the owner.", Reinspect: day(55, 10, 0).AddDate(1, 0, 0)},
	)
	return f.err
}

// charted photographs the chart in the light of another picture, and sets the
// colour of both by it.
func (f *filler) charted(like record.Photo, p picture, b record.PhotoColour) {
	f.clock = f.clock.Add(2 * time.Minute)
	shot := f.photo(
		p,
		record.Photo{
			Stage: like.Stage, Place: record.Place{Words: "colour chart"},
			Caption: "the bench chart in the light of the picture before",
		},
	)
	chart := f.shelf.chart
	b.Method, b.Photo, b.Corners = "chart", shot.Hash, p.chartCorners()
	b.Chart, b.ChartName, b.ChartSource, b.Rows, b.Columns = chart.ID, chart.Name, chart.Source, chart.Rows, chart.Columns
	f.add(b)
	b.From, b.Photo = shot.Hash, like.Hash
	f.add(b)
}

// ringAndMargin outlines, as a hand would, what is measured before and after.
func (f *filler) ringAndMargin(p picture, on record.Photo) (ids []string) {
	var round [][2]float64
	for i := range 16 {
		a := float64(i) * math.Pi / 8
		round = append(round, [2]float64{ringX + (ringR+3)*math.Cos(a), ringY + (ringR+3)*math.Sin(a)})
	}
	return []string{
		f.outline(p, on, "stain", "ring of a cup", round),
		f.outline(
			p, on, "paper", "margin at the head, for comparison",
			[][2]float64{{40, 6}, {130, 6}, {130, 18}, {40, 18}},
		),
	}
}
