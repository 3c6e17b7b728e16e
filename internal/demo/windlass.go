package demo

import (
	"math"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// windlass is the scenario's object, in the middle of its fifth evening.
func (f *filler) windlass(now time.Time) error {
	evening := func(daysBefore, hour, minute int) time.Time {
		d := now.AddDate(0, 0, -daysBefore)
		return time.Date(d.Year(), d.Month(), d.Day(), hour, minute, 0, 0, now.Location())
	}
	f.windlassIntake(evening(21, 18, 10))
	tear := f.windlassExamination(evening(19, 18, 30))
	f.windlassProposal(evening(14, 19, 0), evening(8, 9, 30))
	f.windlassTakingApart(evening(1, 18, 0))
	f.windlassWetEvening(now, tear)
	return f.err
}

func (f *filler) windlassIntake(t time.Time) {
	f.open("KM", t, record.NewCaseID(t))
	f.add(
		record.Opened{
			Number: t.Format("2006") + "-031", Title: "The Windlass Monthly, no. 31",
			Purpose: "examination and treatment after a roof leak",
		},
		record.Identity{
			Title:          "The Windlass Monthly, no. 31",
			Issue:          "no. 31",
			Maker:          "printed in the harbour town",
			DateMade:       "1937",
			Type:           "adventure monthly, stapled",
			Technique:      "letterpress, cover in three colours on coated stock",
			HeightMm:       num(262),
			WidthMm:        num(170),
			ThicknessMm:    num(1.9),
			Inscriptions:   "price in pencil on the front",
			Distinguishing: "small printer's fault: misfold at the head of sheet 8",
			Description: "Cover sheet on coated stock and nine nested inner sheets of groundwood newsprint, two " +
				"staples through the fold.",
		},
		record.Ownership{
			Owner:      "Owner (demo)",
			Contact:    "by letter",
			ValueMinor: 48000,
			Currency:   "EUR",
			Wishes: "Please get the water line out if it can be done, and mend the tear. It should stay the " +
				"copy that I bought as a boy.",
			Keep: "the price in pencil on the front",
		},
		record.Custody{
			Act: "received", At: t, Place: "studio, shelf 2", From: "Owner (demo)", Mover: "KM",
			Condition: "in a cracked plastic sleeve, dry to the touch; sleeve taken off and kept", BothSigned: true,
		},
		record.Quarantine{
			State: "not-needed", At: t, Moisture: "dry", Mould: "none", Odour: "musty, faint",
			Where:  "open table by the window",
			Reason: "dry for weeks, no growth under the lens; interior looked through leaf by leaf",
		},
		record.PartKept{
			ID: f.newID(), Sort: "enclosure", What: "plastic sleeve, cracked", Label: "31-a", Where: "drawer 3",
		},
	)
	f.photo(cover(stageArrival), record.Photo{Stage: record.StageArrival, Caption: "front, in the sleeve's fold marks"})
	f.photo(leaf(1, stageArrival), record.Photo{Stage: record.StageArrival, Caption: "first opening, tide line at " +
		"the tail"})
}

func (f *filler) windlassExamination(t time.Time) (tear string) {
	f.at(t, "KM")
	f.add(
		record.MakeUp{InnerSheets: 9, Cover: "separate", Binding: "saddle", FirstPage: 1},
		record.SheetState{Sheet: 7, Hold: record.HoldLoose},
		record.Staple{
			Number: 1, FromHeadMm: 62, CrownMm: num(12), WireMm: num(0.5), LegMm: num(6), Clinch: "inward",
			Rust: "none",
		},
		record.Staple{
			Number: 2, FromHeadMm: 198, CrownMm: num(12), WireMm: num(0.5), LegMm: num(6), Clinch: "inward",
			Rust: "stain", Note: "rust has gone two sheets deep",
		},
	)
	f.collatedByTouch("arrival", 9, num(0.7))
	// The cover before treatment, and the first two sheets whose faces are compared later.
	f.photo(
		cover(stageBefore),
		record.Photo{
			Stage: record.StageBefore, Place: record.Place{Sheets: []int{0}, Face: "outer"},
			Caption: "cover, front at the right",
		},
	)
	for _, n := range []int{1, 2, 5} {
		p := sheet(n, "outer", stageBefore)
		named := f.photo(
			p,
			record.Photo{
				Stage: record.StageBefore, Place: record.Place{Sheets: []int{n}, Face: "outer"},
				Caption: record.SheetName(n) + " before washing",
			},
		)
		f.laid(p, named)
		if n == 2 {
			f.outlined(p, named)
		}
	}
	centre := sheet(9, "inner", stageBefore)
	f.laid(centre, f.photo(
		centre,
		record.Photo{
			Stage: record.StageBefore, Place: record.Place{Sheets: []int{9}, Face: "inner"},
			Caption: "centre spread with tape",
		},
	))
	t = t.Add(12 * time.Minute)
	f.at(t, "KM")
	f.add(
		record.Stock{
			ID: f.newID(), Name: "cover", Class: "coated", Sheets: []int{0}, WidthMm: 340, HeightMm: 262,
			GrammageGM2: 90, GrammageBasis: "class", ThicknessUm: num(95), Grain: "parallel",
		},
		record.Stock{
			ID: f.newID(), Name: "interior", Class: "groundwood", Sheets: sheets(1, 9), WidthMm: 340, HeightMm: 262,
			GrammageGM2: 50, GrammageBasis: "measured", ThicknessUm: num(82), Grain: "parallel",
			Note: "sheet 5 weighed: 4.45 g",
		},
		record.Reading{
			Quantity: "mass", Value: 4.45, Uncertainty: num(0.02), Method: "balance", Instrument: "balance 0.01 g",
			Stage: record.StageBefore, Place: record.Place{Sheets: []int{5}}, At: t, HumidityPct: num(48),
			TempC: num(20),
		},
	)
	for _, r := range []struct {
		sheet int
		ph    float64
		words string
	}{
		{0, 5.6, "inside front, clear area"}, {1, 4.4, "page 2, tail, beyond the tide line"},
		{2, 4.5, "page 4, margin"}, {5, 4.7, "page 10, margin"},
	} {
		f.add(
			record.Reading{
				Quantity: "surface-ph", Value: r.ph, Uncertainty: num(0.3),
				Method: "flat electrode on a drop, read after 60 s", Instrument: "pH meter, flat electrode",
				Checked: "this evening in buffers 4.00 and 7.00", Stage: record.StageBefore,
				Place: record.Place{Sheets: []int{r.sheet}, Words: r.words}, At: t, TempC: num(20),
			},
		)
	}
	tear = f.newID()
	f.windlassDamages(tear)
	f.add(
		record.Note{
			Nature: "observed", Place: record.Place{Sheets: sheets(1, 6)},
			Text: "Brown line with a fluorescing edge; paper beyond it limp.",
		},
		record.Note{
			Nature: "inferred", Place: record.Place{Sheets: sheets(1, 6)},
			Text:    "One wetting, from the tail, lying closed.",
			RestsOn: "the line has the same shape on all six sheets and fades inwards",
		},
		record.Note{Nature: "owner", Text: "It lay on the attic floor for a winter."},
	)
	f.windlassTests(t.Add(15 * time.Minute))
	return tear
}

// outlined draws, as a hand would, what is to be compared later: the tide line
// where it is strongest, and a piece of bare margin beside it.
func (f *filler) outlined(p picture, on record.Photo) {
	f.outline(
		p, on, "tideline", "left half of the line",
		[][2]float64{{20, 176}, {60, 172}, {100, 178}, {140, 190}, {140, 206}, {100, 200}, {60, 196}, {20, 196}},
	)
	f.outline(
		p, on, "paper", "margin at the head, for comparison", [][2]float64{{60, 6}, {150, 6}, {150, 18}, {60, 18}},
	)
}

// outline keeps an area of a face, given in mm from its left edge and head.
func (f *filler) outline(p picture, on record.Photo, look, name string, mm [][2]float64) (id string) {
	ring, twice := record.Ring{}, 0.0
	for i, q := range mm {
		ring = append(ring, p.onPicture(q[0], q[1]))
		next := mm[(i+1)%len(mm)]
		twice += q[0]*next[1] - next[0]*q[1]
	}
	area := math.Round(math.Abs(twice) / 2)
	id = f.newID()
	f.add(
		record.AreaOutlined{
			ID: id, Photo: on.Hash, Place: on.Place, Look: record.AreaLook(look), Name: name, FoundBy: "drawn",
			OutlinePx: []record.Ring{ring}, OutlineMm: []record.Ring{mm}, AreaMm2: &area,
			ScaleFrom: "the demonstration's own drawing",
		},
	)
	return id
}

func (f *filler) windlassTests(t time.Time) {
	type row struct {
		colour, liquid, strength, result, change string
		sheet                                    int
	}
	rows := []row{
		{
			"red",
			"water",
			"",
			"0",
			"",
			0,
		}, {"red", "alkaline-water", "lime water 0.4 g/L", "2", "pink on the blotter", 0}, {"blue", "water", "", "0",
			"", 0},
		{"blue", "alkaline-water", "lime water 0.4 g/L", "0", "", 0}, {"red", "ethanol", "", "1", "trace", 0},
		{
			"black text",
			"water",
			"",
			"0",
			"",
			2,
		}, {"black text", "alkaline-water", "lime water 0.4 g/L", "0", "", 2}, {"black text", "ethanol", "", "1",
			"oil halo", 2}, {"black text", "borohydride", "0.5 % w/v", "0", "", 2},
		{
			"brown of the plates",
			"water",
			"",
			"0",
			"",
			5,
		}, {"brown of the plates", "alkaline-water", "lime water 0.4 g/L", "0", "", 5}, {"brown of the plates",
			"borohydride", "0.5 % w/v", "0", "", 5},
	}
	f.at(t, "KM")
	var ids []string
	for _, r := range rows {
		sort := "solubility"
		if r.liquid == "borohydride" {
			sort = "bleach"
		}
		id := f.newID()
		ids = append(ids, id)
		f.add(
			record.SpotTest{
				ID: id, Sort: record.TestSort(sort), Colour: r.colour, Place: record.Place{Sheets: []int{r.sheet}},
				Liquid: record.TestLiquid(r.liquid), Strength: r.strength, TempC: num(20), DwellS: num(120),
				Result: record.TestResult(r.result), Change: r.change, At: t,
			},
		)
	}
	f.add(
		record.SpotTest{
			ID: f.newID(), Sort: "lignin",
			Place: record.Place{Sheets: []int{1}, Words: "fibre from the lost corner"}, Liquid: "reagent",
			Strength: "phloroglucinol in acid", Result: "positive", Change: "deep magenta",
			Consent: "owner, in the talk at intake", At: t,
		},
	)
	next := t.AddDate(0, 0, 1)
	f.at(next, "KM")
	for i, id := range ids {
		f.add(
			record.SpotReread{
				Test: id, Light: "normal", Result: record.TestResult(rows[i].result), Change: "dry", At: next,
			},
		)
	}
	f.add(record.SpotReread{Test: ids[5], Light: "uv", Result: "0", Change: "no halo", At: next})
}

func (f *filler) windlassProposal(t, answered time.Time) {
	f.at(t, "KM")
	inner, stained := sheets(1, 9), sheets(1, 6)
	clean := []record.Planned{
		{Operation: "surface-clean", Why: "loose soil would set in water", Hours: 1.0, MaterialsMinor: 300},
		{Operation: "staples-out", Why: "the lower staple rusts", Hours: 0.3},
		{Operation: "take-apart", Why: "each sheet gets its own treatment", Hours: 0.3},
		{Operation: "tape-off", Sheets: []int{9}, Why: "tape has begun to ooze", Hours: 0.8, MaterialsMinor: 250},
	}
	finish := []record.Planned{
		{
			Operation: "mend-damp", Sheets: sheets(2, 4), Why: "the tear runs into print", Hours: 1.2,
			MaterialsMinor: 400,
		},
		{Operation: "dry-absorbent", Sheets: inner, Why: "flat, all alike", Hours: 0.8, MaterialsMinor: 600},
		{Operation: "condition", Why: "before measuring and putting together", Hours: 0.2},
		{Operation: "reassemble", Why: "on the old staples through the old holes", Hours: 0.7},
		{Operation: "house", Why: "polyester sleeve with alkaline board", Hours: 0.2, MaterialsMinor: 450},
	}
	dry := record.Option{
		Name:   "A",
		Title:  "Surface cleaning and dry mending only",
		Expect: "It can be handled safely. The tide line and the acid stay.",
		Operations: append(
			append([]record.Planned{}, clean[0]),
			record.Planned{Operation: "mend-dry", Sheets: sheets(2, 4), Hours: 1.5, MaterialsMinor: 400},
			record.Planned{Operation: "house", Hours: 0.2, MaterialsMinor: 450},
		),
	}
	wet := record.Option{Name: "B", Title: "Washing, lime for the inner sheets, reduction only where the line stays",
		Expect: "Acid out of the inner sheets and a small carbonate reserve left in them; the tide line weaker, not " +
			"gone. The cover is not immersed, because its red moved in alkaline water.",
		Operations: append(append(
			append([]record.Planned{}, clean...),
			record.Planned{
				Operation: "wash", Sheets: inner, Detail: "de-ionised water conditioned with a little lime",
				Why: "pH 4.4 to 4.7", Hours: 2.0, MaterialsMinor: 200,
			},
			record.Planned{
				Operation: "reduce", Sheets: stained,
				Detail: "sodium borohydride 0.5 % w/v, only if the tide line stays after washing",
				Why:    "tide line on sheets 1 to 6", Hours: 1.2, MaterialsMinor: 500,
			},
			record.Planned{Operation: "rinse", Sheets: stained, Detail: "until the conductivity levels", Hours: 0.8},
			record.Planned{
				Operation: "lime", Sheets: inner, Detail: "lime water 0.4 g/L", Why: "reserve", Hours: 1.0,
				MaterialsMinor: 100,
			},
		), finish...)}
	f.add(
		record.Proposal{
			Version: 1, Currency: "EUR", RateMinor: 7200, MinimumMinor: 12000, TaxPercent: 19, ValidDays: 60,
			Options: []record.Option{dry}, Summary: "An acid, water-stained copy, complete.",
			Alternatives: "Doing nothing: keep it flat, cool and dark; the acid goes on working.",
			Risks:        "Surface cleaning is hardly reversible.",
		},
	)
	f.add(
		record.Proposal{
			Version:      2,
			Currency:     "EUR",
			RateMinor:    7200,
			MinimumMinor: 12000,
			TaxPercent:   19,
			ValidDays:    60,
			Options:      []record.Option{dry, wet},
			Changed:      "wet treatment added as option B, as asked for in the talk",
			Summary: "An acid, water-stained copy, complete: ten sheets, two staples, one of them rusted. " +
				"Groundwood inside (lignin found), so alkaline paper will yellow in light: dark storage afterwards.",
			Alternatives: "Doing nothing: keep it flat, cool and dark; the acid goes on working. Option A does not " +
				"touch the tide line.",
			Risks: "Washing cannot be undone. Sheets may grow or shrink by up to half a millimetre. The tide " +
				"line may stay. Some collectors hold treated copies to be worth less: the treatment must be " +
				"disclosed in " +
				"a later sale.",
		},
	)
	f.at(answered, "KM")
	f.add(
		record.Consent{
			Version: 2, Option: "B", Answer: "given", Who: "Owner (demo)", Standing: "owner", Way: "letter",
			At: answered, Words: "Option B, please, and be careful with the pencil.", Declined: "no retouching",
		},
	)
}

func (f *filler) windlassTakingApart(t time.Time) {
	f.at(t, "TV")
	f.run("surface-clean", nil, t, 45, "soft brush, vulcanised rubber sponge", func(s *record.RunStarted) {
		s.Materials = []record.Material{{Name: "vulcanised rubber sponge"}}
	})
	t = t.Add(50 * time.Minute)
	f.run("staples-out", nil, t, 12, "legs bent up over thin card, pushed back through", nil)
	for n := 1; n <= 2; n++ {
		part := f.newID()
		f.add(
			record.PartKept{
				ID: part, Sort: "staple", What: "staple " + string(rune('0'+n)),
				Label: "31-s" + string(rune('0'+n)), Where: "glass tube, drawer 3",
			},
			record.StapleMoved{Number: n, Act: "removed", At: f.clock, How: "spatula over thin card", Part: part},
		)
	}
	f.run("take-apart", nil, f.clock, 10, "numbered on their supports, ten sheets", nil)
	f.add(record.Collation{When: "disbound", At: f.clock, SheetsCounted: 10, InOrder: true})
	f.run(
		"tape-off", []int{9}, f.clock.Add(2*time.Minute), 40,
		"carrier lifted warm, residue with an eraser; no solvent needed", nil,
	)
	f.add(
		record.PartKept{
			ID: f.newID(), Sort: "tape", What: "tape from the centre spread",
			From: record.Place{Sheets: []int{9}, Face: "inner"}, Label: "31-t", Where: "drawer 3",
		},
	)
}

// run performs an operation from start to end.
func (f *filler) run(op string, on []int, t time.Time, lastMin int, seen string, more func(*record.RunStarted)) {
	s := f.start(op, on, t, more)
	f.end(s, t.Add(time.Duration(lastMin)*time.Minute), record.RunEnded{Seen: seen})
}

func (f *filler) start(op string, on []int, t time.Time, more func(*record.RunStarted)) record.RunStarted {
	s := f.about(op, on, t, more)
	f.begin(s)
	return s
}

// about is a run that is about to start.
func (f *filler) about(op string, on []int, t time.Time, more func(*record.RunStarted)) record.RunStarted {
	o := treatment.Find(op)
	f.clock = t
	s := record.RunStarted{
		ID: f.newID(), Operation: op, OperationName: o.Name, Sheets: on, At: t, Makes: o.Makes, TempC: num(20),
		HumidityPct: num(47),
	}
	for _, c := range o.Cautions {
		s.Cautions = append(s.Cautions, c.Text())
	}
	if more != nil {
		more(&s)
	}
	return s
}

// begin writes the start of a run.
func (f *filler) begin(s record.RunStarted) {
	f.add(s)
	if s.Bath == nil {
		return
	}
	for _, d := range s.Bath.Bottles {
		f.shelf.draws = append(f.shelf.draws, pour{s.At, f.by, record.BottleDrawn{
			Bottle: d.Bottle, Ml: d.Ml, For: s.OperationName,
		}})
	}
}

func (f *filler) end(s record.RunStarted, t time.Time, e record.RunEnded) {
	f.clock = t
	e.Run, e.At = s.ID, t
	if e.Outcome == "" {
		e.Outcome = "done"
	}
	if e.Leaves == "" {
		e.Leaves = treatment.Find(s.Operation).Leaves
	}
	f.add(e)
}

// bath makes the bath of a run.
func (f *filler) bath(liquid, tray string, ml, ph, conductivity float64, from ...record.Drawn) *record.Bath {
	return &record.Bath{
		ID: f.newID(), Liquid: liquid, Water: "de-ionised can, conditioned with lime to about 20 mg/L calcium",
		VolumeMl: ml, TempC: num(21), PH: num(ph), PHMethod: "electrode in the bath", ConductUS: num(conductivity),
		CalciumMgL: num(20), Tray: tray, Bottles: from,
	}
}

func (f *filler) bathReading(run, quantity string, value, uncertainty float64) {
	q := record.QuantityOf(quantity)
	instrument, checked := "pH meter, flat electrode", "this evening in pH 4.00 and 7.00"
	if quantity == "conductivity" {
		instrument, checked = "conductivity cell", ""
	}
	f.add(
		record.Reading{
			Quantity: quantity, Value: value, Uncertainty: &uncertainty, Method: q.Methods[0],
			Instrument: instrument, Checked: checked, Stage: record.StageDuring, Run: run, At: f.clock,
			TempC: num(21),
		},
	)
}

// weighed is one sheet on the balance during a run.
func (f *filler) weighed(run string, sheet int, t time.Time, g float64) {
	f.clock = t
	f.add(
		record.Reading{
			Quantity: "mass", Value: g, Uncertainty: num(0.05),
			Method: "balance, on its support, support subtracted", Instrument: "balance 0.01 g",
			Stage: record.StageDuring, Place: record.Place{Sheets: []int{sheet}}, Run: run, At: t, TempC: num(20),
			HumidityPct: num(47),
		},
	)
}

const conditioned = "de-ionised water conditioned with lime"

// windlassWetEvening plays the evening up to now: 95 minutes of it.
func (f *filler) windlassWetEvening(now time.Time, tear string) {
	at := func(min float64) time.Time { return now.Add(time.Duration((min - 95) * float64(time.Minute))) }
	lime, hydride, mc := f.shelf.limeBath, f.shelf.hydride, f.shelf.mc

	f.at(at(0), "KM")
	w1 := f.start("wash", []int{5, 6}, at(0), func(s *record.RunStarted) {
		s.PlannedMin, s.Bath = 20, f.bath(conditioned, "tray A", 1500, 7.9, 118)
	})
	f.clock = at(20)
	f.bathReading(w1.ID, "bath-ph", 6.6, 0.1)
	f.bathReading(w1.ID, "conductivity", 205, 5)
	f.end(w1, at(20), record.RunEnded{EndPoint: "bath yellow, second look clear", Seen: "no colour of ink"})

	f.by = "TV"
	w2 := f.start("wash", []int{1, 2, 3}, at(14), func(s *record.RunStarted) {
		s.PlannedMin, s.Bath = 25, f.bath(conditioned, "tray B", 2000, 7.9, 118)
	})
	f.by = "KM"
	l1 := f.start("lime", []int{5, 6}, at(22), func(s *record.RunStarted) {
		s.PlannedMin = 20
		s.Bath = f.bath("calcium hydroxide in water, "+strength(lime), "tray A", 1500, 12.0, 2300, drawn(lime, 1500))
		s.Bath.Substance, s.Bath.StrengthGL = "calcium hydroxide", perLitre(lime)
		s.Aim = "see what sheet 5 does, then decide for the rest"
	})
	f.clock = at(39)
	f.at(at(39), "TV")
	f.bathReading(w2.ID, "bath-ph", 6.3, 0.1)
	f.bathReading(w2.ID, "conductivity", 240, 5)
	f.end(w2, at(39), record.RunEnded{Seen: "the tide line is paler, still plain on all three"})
	f.add(
		record.NextStep{
			Sheets: []int{1, 2, 3}, Operation: "reduce", Text: "reducing bleach for sheets 1 to 3",
			Reason: "the tide line stayed after washing",
		},
	)

	f.at(at(42), "KM")
	f.bathReading(l1.ID, "bath-ph", 12.0, 0.1)
	f.end(l1, at(42), record.RunEnded{Seen: "no change of hue"})
	d1 := f.start("drain", []int{5, 6}, at(42), nil)
	// The first sheet on the balance: what it holds, and how fast it loses it, is
	// for the sheets that still wait.
	f.weighed(d1.ID, 5, at(43), 14.4)
	f.weighed(d1.ID, 5, at(54), 13.4)
	f.end(d1, at(55), record.RunEnded{})
	dry := f.start("dry-absorbent", []int{5, 6}, at(56), func(s *record.RunStarted) {
		s.DueMin, s.DueWhat = []float64{10, 45, 180, 720}, "change the absorbents"
		s.Materials = []record.Material{
			{Name: "cotton blotter 350 g/m²", Amount: "one each side"},
			{Name: "polyester non-woven", Amount: "one each side"},
		}
	})

	f.by = "TV"
	red := f.start("reduce", []int{1, 2, 3}, at(46), func(s *record.RunStarted) {
		s.PlannedMin = 10
		s.Bath = f.bath(
			"sodium borohydride in water, "+strength(hydride), "tray B, open, fan on", 1000, 9.8, 5200,
			drawn(hydride, 1000),
		)
		s.Bath.Substance, s.Bath.StrengthGL = "sodium borohydride", perLitre(hydride)
	})
	f.end(red, at(56), record.RunEnded{Seen: "fine bubbles on the surface only, no blister; line much paler"})
	r1 := f.start("rinse", []int{1, 2, 3}, at(57), func(s *record.RunStarted) {
		s.PlannedMin, s.Bath = 8, f.bath(conditioned, "tray C", 2000, 7.9, 118)
	})
	f.clock = at(65)
	f.bathReading(r1.ID, "conductivity", 390, 5)
	f.end(r1, at(65), record.RunEnded{})
	r2 := f.start("rinse", []int{1, 2, 3}, at(66), func(s *record.RunStarted) {
		s.PlannedMin, s.Bath = 8, f.bath(conditioned, "tray C", 2000, 7.9, 118)
	})
	f.clock = at(71)
	f.bathReading(r2.ID, "conductivity", 131, 5)
	f.clock = at(74)
	f.bathReading(r2.ID, "conductivity", 132, 5)
	f.end(r2, at(74), record.RunEnded{EndPoint: "conductivity level at 132 µS/cm"})
	f.add(
		record.Waste{
			What: "spent borohydride bath", VolumeMl: num(1000),
			To: "open bucket at the window, then alkaline borate waste", At: at(74), Run: red.ID,
		},
		record.NextStep{
			Sheets: []int{1, 2, 3}, Operation: "lime", Text: "lime again after the rinse",
			Reason: "rinsed to a level conductivity",
		},
	)

	f.at(at(67), "KM")
	f.clock = at(75)
	f.add(record.AbsorbentChanged{Run: dry.ID, At: at(67), What: "cotton blotter 350 g/m²", TakenUpG: num(5.9)})
	l2 := f.start("lime", []int{1, 2, 3}, at(76), func(s *record.RunStarted) {
		s.PlannedMin = 20
		s.Bath = f.bath("calcium hydroxide in water, "+strength(lime), "tray A", 1500, 12.0, 2280, drawn(lime, 1500))
		s.Bath.Substance, s.Bath.StrengthGL = "calcium hydroxide", perLitre(lime)
	})
	wash := f.about("wash", []int{4, 7}, at(84), func(s *record.RunStarted) {
		s.PlannedMin, s.Bath = 20, f.bath(conditioned, "tray B, cleaned", 1500, 7.9, 118)
	})
	expected := f.foreseen(wash)
	f.begin(wash)
	f.add(expected)
	f.clock = at(86)
	f.end(l2, at(86), record.RunEnded{})
	f.clock = at(86)
	mend := f.start("mend-damp", []int{2}, at(88), nil)
	f.clock = at(93)
	f.add(
		record.Mend{
			ID: f.newID(), Damages: []string{tear},
			Place: record.Place{Sheets: []int{2}, Face: "inner", Words: "fore-edge part of the tear"}, At: at(93),
			Tissue: "kozo tissue", TissueGM2: num(3.5), Adhesive: "methyl cellulose, " + strength(mc),
			AdhesiveLot: mc.Lot, Bottle: mc.ID, LengthMm: num(50), WidthMm: num(8), State: "damp",
			Edge: "water-torn", Run: mend.ID,
		},
	)
	f.places(at(93), tear)
	f.photo(
		sheet(2, "outer", stageAfter),
		record.Photo{
			Stage: record.StageDuring, Place: record.Place{Sheets: []int{2}, Face: "outer"},
			Caption: "sheet 2 after reduction and lime, damp", Run: mend.ID,
		},
	)
	f.photo(
		sheet(5, "outer", stageAfter),
		record.Photo{
			Stage: record.StageAfter, Place: record.Place{Sheets: []int{5}, Face: "outer"},
			Caption: "sheet 5 through the support, between two changes of absorbent",
		},
	)
	f.at(at(94), "KM")
	f.add(
		record.NextStep{
			Sheets: []int{3}, Operation: "mend-damp", Text: "sheet 3 next under the tissue",
			Reason: "the tear runs through it",
		},
		record.NextStep{
			Sheets: []int{1}, Operation: "dry-absorbent", Text: "sheet 1 to the absorbents",
			Reason: "it is not torn",
		},
	)
}
