package papers

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"
	"time"

	"benchleaf/condition"
	"benchleaf/internal/record"
	"benchleaf/photo"
)

// evening is when the invented case of these tests begins.
var evening = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// journal appends bodies as a store would: admitted, sealed, chained.
type journal struct {
	t       testing.TB
	id      record.CaseID
	now     time.Time
	by      string
	entries []record.Entry
}

func newJournal(t testing.TB, id record.CaseID) *journal {
	return &journal{t: t, id: id, now: evening, by: "KM"}
}

func (j *journal) write(b record.Body, corrects int64) int64 {
	j.t.Helper()
	j.now = j.now.Add(time.Minute)
	items := []record.Item{{Body: b, Corrects: corrects}}
	by := record.Writing{Time: j.now, By: j.by, Zone: "+01:00"}
	var written []record.Entry
	var err error
	if j.id == record.StudioID {
		_, written, err = record.FoldStudio(j.entries).Append(by, items)
	} else {
		c := record.Fold(j.entries)
		c.ID = j.id
		_, written, err = c.Append(by, items)
	}
	if err != nil {
		j.t.Fatalf("%s: %v", b.Kind(), err)
	}
	j.entries = append(j.entries, written...)
	return int64(len(j.entries))
}

func (j *journal) add(bodies ...record.Body) {
	j.t.Helper()
	for _, b := range bodies {
		j.write(b, 0)
	}
}

func (j *journal) newID() string { return record.NewID(j.now) }

func f(v float64) *float64 { return &v }

func hashOf(b byte) (h record.Hash) {
	for i := range h {
		h[i] = b
	}
	return h
}

func testStudio(t testing.TB) (*record.Studio, string, string) {
	j := newJournal(t, record.StudioID)
	lime, hydride := j.newID(), j.newID()
	j.add(
		record.StudioDetails{
			Name:         "Studio (demo)",
			Address:      "1 Sample Lane\nExampleton",
			Contact:      "bench@studio.example",
			Currency:     "EUR",
			RateMinor:    8500,
			MinimumMinor: 12000,
			TaxPercent:   19,
			PaperSize:    "A4",
		},
		record.Person{Initials: "KM", Name: "Karla Muster", Role: "conservator"},
		record.Person{Initials: "TV", Name: "Tomáš Vzor", Role: "assistant"},
		record.Bottle{
			ID:          lime,
			Name:        "Lime water, working",
			Substance:   "calcium hydroxide",
			Form:        "solution",
			Strength:    &record.Range{Low: 0.37, Best: 0.4, High: 0.43},
			Unit:        "g/L",
			VolumeMl:    1500,
			MadeAt:      evening,
			ExpiresAt:   evening.AddDate(0, 0, 7),
			ExpiryBasis: "takes up carbon dioxide from the air",
			Maker:       "KM",
			Lot:         "L-17",
			TempC:       f(17),
			RestsOn:     "solubility at 17 °C, volumes poured",
			Cautions: []string{
				"Caustic: goggles and gloves.",
			},
			Warnings: []string{"It clouds with hard water."},
			Recipe:   []string{"pour 380 mL of the stock", "fill to 1500 mL"},
		},
		record.Bottle{
			ID:        hydride,
			Name:      "Borohydride 1 %",
			Substance: "sodium borohydride",
			Form:      "solution",
			Strength:  &record.Range{Low: 0.9, Best: 1, High: 1.1},
			Unit:      "% w/v",
			VolumeMl:  500,
			MadeAt:    evening,
			Maker:     "KM",
			Lot:       "B-3",
			Cautions:  []string{"Gives off hydrogen: never close it."},
		},
	)
	return record.FoldStudio(j.entries), lime, hydride
}

// richCase is a case that uses every kind of entry that a report can show.
func richCase(t testing.TB) *record.Case {
	j := newJournal(t, record.NewCaseID(evening))
	in := func(list ...int) record.Place { return record.Place{Sheets: list} }
	j.add(
		record.Opened{Number: "2026-014", Title: "The Windlass Monthly, no. 31", Purpose: "examination and treatment"},
		record.Identity{
			Title:     "The Windlass Monthly",
			Issue:     "no. 31",
			Maker:     "Windlass Press (invented)",
			DateMade:  "June 1937",
			Type:      "adventure monthly",
			Technique: "letterpress and halftone",
			HeightMm: f(
				262,
			),
			WidthMm:        f(170),
			ThicknessMm:    f(2.4),
			Inscriptions:   "12/6 in pencil on the front",
			Distinguishing: "ink blot on page 9",
			Description:    "Stapled periodical in a coated cover.",
		},
		record.Ownership{
			Owner:      "Žofie Ångström (demo)",
			Contact:    "owner@house.example",
			MayConsent: "the owner",
			ValueMinor: 123450,
			Currency:   "EUR",
			Wishes:     "Make it safe to read, please, not new.",
			Keep:       "the pencilled price",
		},
		record.Custody{
			Act:        "received",
			At:         evening,
			Place:      "bench 2",
			From:       "the owner",
			Mover:      "KM",
			Condition:  "in a cracked sleeve, damp smell",
			BothSigned: true,
		},
		record.Quarantine{
			State:    "not-needed",
			Moisture: "dry",
			Mould:    "none",
			Odour:    "damp cellar",
			Insects:  "no traces",
			Where:    "the annexe",
			Reason:   "no growth under raking light",
		},
	)
	sleeve, fragment := j.newID(), j.newID()
	j.add(
		record.PartKept{
			ID:    sleeve,
			Sort:  "enclosure",
			What:  "cracked plastic sleeve",
			Label: "014-1",
			Where: "drawer 3",
		},
		record.MakeUp{
			InnerSheets: 9,
			Cover:       "separate",
			Binding:     "saddle",
			FirstPage:   1,
			Printed:     []record.PrintedPage{{Position: 5, Printed: "v"}},
			Inserts:     []record.Insert{{AfterPage: 18, What: "subscription card"}},
			Note:        "folds trimmed unevenly",
		},
		record.SheetState{Sheet: 7, Hold: record.HoldLoose},
		record.SheetState{Sheet: 3, Married: record.LeafBoth, Basis: "lighter paper than its neighbours"},
		record.Collation{
			When:          "arrival",
			SheetsCounted: 10,
			InOrder:       true,
			CreepMm:       f(1.5),
			Findings:      "corner of pages 35 and 36 lost",
		},
		record.Staple{
			Number:     1,
			FromHeadMm: 61,
			CrownMm:    f(12),
			WireMm:     f(0.6),
			LegMm:      f(6),
			Clinch:     "inward",
			Rust:       "none",
			Photo:      hashOf(6),
		},
		record.Staple{Number: 2, FromHeadMm: 199, CrownMm: f(12), Rust: "stain", Note: "leg broken"},
		record.Stock{
			ID:            j.newID(),
			Name:          "interior",
			Class:         "groundwood",
			Sheets:        []int{1, 2, 3, 4, 5, 6, 7, 8, 9},
			WidthMm:       340,
			HeightMm:      262,
			GrammageGM2:   50.5,
			GrammageBasis: "measured",
			Grain:         "parallel",
			PickUpGG:      &record.Range{Low: 1.4, Best: 1.8, High: 2.2},
		},
		record.Stock{
			ID:            j.newID(),
			Name:          "cover",
			Class:         "coated",
			Sheets:        []int{0},
			WidthMm:       341,
			HeightMm:      263,
			GrammageGM2:   90,
			GrammageBasis: "class",
			Grain:         "unknown",
			ThicknessUm:   f(85),
		},
	)
	slip := j.write(
		record.Reading{
			Quantity:    "surface-ph",
			Value:       3.33,
			Uncertainty: f(0.2),
			Method:      "flat electrode on a drop, after 3 min",
			Instrument:  "meter 2",
			Checked:     "pH 4 and 7 this evening",
			Stage:       "before",
			Place:       in(5),
		},
		0,
	)
	j.write(
		record.Reading{
			Quantity:    "surface-ph",
			Value:       4.6,
			Uncertainty: f(0.2),
			Method:      "flat electrode on a drop, after 3 min",
			Instrument:  "meter 2",
			Checked:     "pH 4 and 7 this evening",
			Stage:       "before",
			Place:       in(5),
			TempC:       f(21),
			HumidityPct: f(48),
		},
		slip,
	)
	tear, tide, area := j.newID(), j.newID(), j.newID()
	two := 2
	j.add(
		record.Damage{
			ID:      tear,
			Term:    "tear",
			Place:   record.Place{Sheets: []int{2, 3, 4}, Face: "outer", Words: "from the fore-edge"},
			Through: true,
			Shapes: []condition.Shape{{Form: condition.Line, Points: []condition.Point{{XMm: 340, YMm: 120},
				{XMm: 256, YMm: 124}}}},
			LengthMm: f(84),
			Severity: "severe",
			Cause:    "handling",
			CauseIs:  "inferred",
			Active:   "no",
			Note:     "print broken",
		},
		record.Damage{
			ID:       tide,
			Term:     "pressure-sensitive tape",
			Place:    in(1, 2, 3, 4, 5, 6),
			AreaMm2:  f(5210),
			Count:    &two,
			Severity: "moderate",
			Cause:    "roof leak",
			CauseIs:  "observed",
			Active:   "no",
		},
		record.Damage{
			ID:       j.newID(),
			Term:     "staple hole",
			Place:    in(7),
			WidthMm:  f(2.5),
			Severity: "slight",
			CauseIs:  "unknown",
			Active:   "unknown",
		},
		record.Note{Nature: "observed", Place: in(0), Text: "Foxing on the inside of the cover."},
		record.Note{
			Nature:  "inferred",
			Place:   in(1, 2),
			Text:    "The water came from the tail.",
			RestsOn: "shape of the tide line",
		},
		record.Note{Nature: "owner", Text: "It lay under the window for years."},
	)
	wrong := j.write(record.Note{Nature: "observed", Text: "This sentence was a mistake and must not be printed."}, 0)
	j.write(record.Withdrawn{Reason: "other object"}, wrong)
	red, lignin := j.newID(), j.newID()
	j.add(
		record.SpotTest{
			ID:       red,
			Sort:     "solubility",
			Colour:   "red of the cover",
			Place:    in(0),
			Liquid:   "alkaline-water",
			Strength: "lime water 0.4 g/L",
			TempC:    f(20),
			DwellS:   f(300),
			Result:   "1",
			Change:   "faint pink on the blotter",
		},
		record.SpotReread{Test: red, Light: "uv", Result: "2", Change: "halo when dry"},
		record.SpotTest{
			ID:       lignin,
			Sort:     "lignin",
			Place:    in(5),
			Liquid:   "reagent",
			Strength: "phloroglucinol",
			Result:   "positive",
			Consent:  "the owner",
		},
		record.Photo{
			Hash:     hashOf(1),
			FileName: "IMG_0001.jpg",
			Bytes:    10,
			Format:   "jpeg",
			WidthPx:  600,
			HeightPx: 400,
			Stage:    "arrival",
			Light:    "normal",
			Caption:  "as received",
		},
		record.Photo{
			Hash:     hashOf(2),
			FileName: "IMG_0002.jpg",
			Bytes:    10,
			Format:   "jpeg",
			WidthPx:  600,
			HeightPx: 400,
			Stage:    "before",
			Light:    "raking",
			Place:    record.Place{Sheets: []int{2}, Face: "outer"},
		},
		record.Photo{
			Hash:     hashOf(3),
			FileName: "IMG_0003.jpg",
			Bytes:    10,
			Format:   "jpeg",
			WidthPx:  400,
			HeightPx: 600,
			Stage:    "before",
			Light:    "normal",
			Place:    record.Place{Sheets: []int{2}, Face: "inner"},
		},
	)
	plan := []record.Planned{
		{
			Operation:      "wash",
			Sheets:         []int{1, 2, 3, 4, 5, 6},
			Detail:         "three baths",
			Why:            "soluble acid",
			Hours:          2.5,
			MaterialsMinor: 650,
		},
		{Operation: "lime", Sheets: []int{1, 2, 3, 4, 5, 6}, Hours: 1.25, MaterialsMinor: 150, Why: "alkaline reserve"},
		{Operation: "mend-damp", Sheets: []int{2, 3, 4}, Hours: 1},
		{Operation: "reassemble", Hours: 0.75},
	}
	j.add(
		record.Proposal{
			Version:      1,
			Summary:      "Acid newsprint with a tear.",
			Options:      []record.Option{{Name: "A", Title: "dry work only", Operations: plan[2:3]}},
			Currency:     "EUR",
			RateMinor:    8500,
			MinimumMinor: 12000,
			TaxPercent:   19,
			ValidDays:    60,
			Alternatives: "Doing nothing.",
			Risks:        "None beyond handling.",
		},
		record.Proposal{
			Version: 2,
			Summary: "Acid newsprint with a tide line and a long tear.",
			Options: []record.Option{
				{Name: "A", Title: "dry work only", Operations: plan[2:3]},
				{
					Name:       "B",
					Title:      "washing and lime",
					Operations: plan,
					Expect:     "pH 7.9 to 8.9, reserve 0.1 to 0.3 % CaCO₃; the tide line fainter, not gone.",
				}},
			Currency:     "EUR",
			RateMinor:    8500,
			MinimumMinor: 12000,
			TaxPercent:   19,
			ValidDays:    60,
			Alternatives: "Doing nothing: it goes on to brown.",
			Risks:        "Washing cannot be undone.",
			Changed:      "option B added",
		},
		record.Consent{
			Version:  2,
			Option:   "B",
			Answer:   "given",
			Who:      "Žofie Ångström (demo)",
			Standing: "owner",
			Way:      "letter",
			Words:    "Yes to B.",
			Declined: "no toning of the mends",
		},
	)
	j.now = evening.AddDate(0, 0, 4)
	at := func(min int) time.Time {
		return evening.AddDate(0, 0, 4).Add(time.Duration(min) * time.Minute).In(time.FixedZone("", 3600))
	}
	wash, lime, dry, reduce := j.newID(), j.newID(), j.newID(), j.newID()
	st1 := j.newID()
	j.add(
		record.StapleMoved{Number: 1, Act: "removed", At: at(0), How: "legs bent up over card"},
		record.PartKept{
			ID:    st1,
			Sort:  "staple",
			What:  "staple 2, rusted",
			From:  record.Place{Words: "spine"},
			Label: "014-2",
			Where: "drawer 3",
		},
		record.StapleMoved{Number: 2, Act: "removed", At: at(1), Part: st1},
	)
	j.by = "TV"
	j.now = at(240)
	j.add(
		record.RunStarted{
			ID:            wash,
			Operation:     "wash",
			OperationName: "washing",
			Sheets:        []int{5, 6},
			At:            at(10),
			PlannedMin:    20,
			Makes:         record.Wet,
			Aim:           "soluble acid out",
			TempC:         f(20.5),
			HumidityPct:   f(51),
			Bath: &record.Bath{
				ID:         j.newID(),
				Liquid:     "de-ionised water conditioned with lime",
				Water:      "can of de-ionised water, conditioned",
				VolumeMl:   2000,
				TempC:      f(21.5),
				PH:         f(8.05),
				PHMethod:   "electrode in the bath",
				ConductUS:  f(88),
				CalciumMgL: f(15.5),
				Tray:       "white tray",
				With:       []record.Sharing{{Case: j.id, Number: "2026-015", Sheets: []int{3}}},
			},
			Materials: []record.Material{{Name: "polyester web, spun", Strength: "17 g/m²", Lot: "W-9"}},
		},
		record.Reading{
			Quantity:    "bath-ph",
			Value:       6.45,
			Uncertainty: f(0.1),
			Method:      "electrode in the bath",
			Stage:       "during",
			At:          at(29),
			Run:         wash,
		},
		record.Note{Nature: "observed", Text: "Bath straw yellow after ten minutes.", Run: wash},
		record.RunEnded{
			Run:      wash,
			Sheets:   []int{5},
			At:       at(30),
			Outcome:  "done",
			Leaves:   record.Wet,
			EndPoint: "conductivity level at 210 µS/cm",
		},
		record.RunEnded{
			Run:     wash,
			At:      at(35),
			Outcome: "stopped",
			Leaves:  record.Wet,
			Reason:  "fibres began to lift",
			Seen:    "loose fibres at the fold",
		},
		record.RunStarted{
			ID:            lime,
			Operation:     "lime",
			OperationName: "lime bath",
			Sheets:        []int{5, 6},
			At:            at(40),
			Makes:         record.Wet,
			Cautions:      []string{"Lime water is caustic: goggles and gloves."},
			Bath: &record.Bath{
				ID:         j.newID(),
				Liquid:     "calcium hydroxide in water, 0.40 g/L (0.37 to 0.43)",
				Substance:  "calcium hydroxide",
				StrengthGL: &record.Range{Low: 0.37, Best: 0.4, High: 0.43},
				VolumeMl:   1500,
				Bottles:    []record.Drawn{{Name: "Lime water, working", Lot: "L-17", Ml: 1500}},
			},
			Overrides: []record.Override{{Gate: "bottle", Reason: "made the evening before, pH still 12.4"}},
		},
		record.RunEnded{Run: lime, At: at(60), Outcome: "done", Leaves: record.Wet},
		record.RunStarted{
			ID:            reduce,
			Operation:     "reduce",
			OperationName: "reducing bleach",
			Sheets:        []int{2},
			At:            at(62),
			Makes:         record.Wet,
			Departure:     "the tide line stayed after washing",
			Bath: &record.Bath{
				ID:        j.newID(),
				Liquid:    "sodium borohydride in water, 1 % w/v",
				Substance: "sodium borohydride",
				VolumeMl:  750,
			},
		},
		record.RunEnded{
			Run:     reduce,
			At:      at(63),
			Outcome: "abandoned",
			Leaves:  record.Wet,
			Reason:  "bubbles in the sheet",
		},
		record.Waste{
			What:     "spent borohydride",
			VolumeMl: f(750),
			To:       "open bucket, then the waste contractor",
			At:       at(70),
			Run:      reduce,
		},
		record.Mend{
			ID:          j.newID(),
			Damages:     []string{tear},
			Place:       in(2),
			At:          at(75),
			Tissue:      "kozo tissue K-1 (invented)",
			TissueGM2:   f(5),
			Adhesive:    "methyl cellulose in water, 4 % w/v",
			AdhesiveLot: "MC-2",
			LengthMm:    f(88),
			WidthMm:     f(6.5),
			State:       "damp",
			Edge:        "torn",
			Note:        "from the inner face",
		},
		record.RunStarted{
			ID:            dry,
			Operation:     "dry-absorbent",
			OperationName: "drying between absorbents",
			At:            at(80),
			Makes:         record.Damp,
			DueMin:        []float64{10, 45},
			Materials:     []record.Material{{Name: "blotter", Strength: "350 g/m²"}},
		},
		record.AbsorbentChanged{
			Run:      dry,
			At:       at(91),
			What:     "two blotters a side",
			TakenUpG: f(31.5),
			Seen:     "straw coloured",
		},
		record.AbsorbentChanged{Run: dry, At: at(126), What: "felts"},
	)
	j.by = "KM"
	j.now = evening.AddDate(0, 0, 9)
	j.add(
		record.RunEnded{Run: dry, At: evening.AddDate(0, 0, 6), Outcome: "done", Leaves: record.Dry},
		record.Incident{
			Place:     in(9),
			What:      "A drop of water fell on page 17",
			Done:      "blotted at once",
			OwnerTold: "by telephone the same day",
		},
		record.NextStep{
			Sheets: []int{2},
			Text:   "leave the rest of the tide line",
			Reason: "the sheet is weak",
			Done:   true,
		},
		record.PartSettled{Part: sleeve, Outcome: "disposed", AgreedWith: "the owner", Note: "soft vinyl"},
		record.PartKept{
			ID:    fragment,
			Sort:  "fragment",
			What:  "corner of page 35",
			From:  in(1),
			Where: "envelope in the folder",
		},
		record.StapleMoved{Number: 1, Act: "reused"},
		record.Collation{When: "reassembled", SheetsCounted: 10, InOrder: true, CreepMm: f(1.6)},
		record.Reading{
			Quantity:    "surface-ph",
			Value:       8.3,
			Uncertainty: f(0.25),
			Method:      "flat electrode on a drop, after 3 min",
			Instrument:  "meter 2",
			Stage:       "after",
			Place:       in(5),
		},
		record.DamageAfter{Damage: tear, Outcome: "mended", Text: "holds in handling"},
		record.Photo{
			Hash:     hashOf(4),
			FileName: "IMG_0104.jpg",
			Bytes:    10,
			Format:   "jpeg",
			WidthPx:  600,
			HeightPx: 400,
			Stage:    "after",
			Light:    "raking",
			Place:    record.Place{Sheets: []int{2}, Face: "outer"},
			Credit:   "drawn for the test, CC0",
		},
		record.PhotoColour{
			Photo:         hashOf(4),
			Method:        "chart",
			From:          hashOf(1),
			Corners:       [4][2]float64{{1, 1}, {9, 1}, {9, 9}, {1, 9}},
			Chart:         j.newID(),
			ChartName:     "Bench chart",
			ChartSource:   "measured 2025 (invented)",
			Rows:          4,
			Columns:       6,
			Fit:           "matrix",
			Exponent:      1,
			Coefficients:  [3][]float64{{0.4, 0.3, 0.2}, {0.2, 0.7, 0.1}, {0, 0.1, 0.8}},
			Profile:       "sRGB",
			Used:          22,
			LeftOut:       2,
			ErrorDE00:     0.8,
			ErrorHighDE00: 2.1,
		},
		record.ValueAdopted{
			Quantity:  "pick-up",
			Value:     record.Range{Low: 1.9, Best: 2.05, High: 2.2},
			Unit:      "g/g",
			Was:       &record.Range{Low: 1.4, Best: 1.8, High: 2.2},
			WasBasis:  "taken for groundwood newsprint (common practice, no source)",
			FromSheet: 5,
			Readings:  []int64{slip},
			Sheets:    []int{6, 7},
			Reason:    "one stock, one tray",
		},
		record.FaceCompared{
			Before:               hashOf(2),
			After:                hashOf(4),
			Place:                record.Place{Sheets: []int{2}, Face: "outer"},
			PaperDE00:            f(3.1),
			PaperDE00Uncertainty: f(0.8),
			DE00:                 3.4,
			DE00Trend:            1.2,
			ResidualPx:           0.07,
			ResidualMm:           f(0.016),
			ComparedPercent:      98.5,
			Colour:               "as the cameras wrote it",
			Warnings:             []string{lostPrint, lostPrint, "The after picture is blurred."},
			PaperBeforeLab:       [3]float64{80, 3, 18},
			PaperAfterLab:        [3]float64{83.1, 2.4, 16},
			Method:               "compare 1",
		},
		record.AreaOutlined{
			ID:                 area,
			Photo:              hashOf(2),
			Place:              record.Place{Sheets: []int{2}, Face: "outer"},
			Look:               "tideline",
			FoundBy:            "drawn",
			Name:               "tail of page 35",
			OutlinePx:          []record.Ring{{{10, 10}, {200, 10}, {200, 60}}},
			AreaMm2:            f(1520),
			AreaUncertaintyMm2: f(31),
		},
		record.AreaCompared{
			Area:            area,
			Before:          hashOf(2),
			After:           hashOf(4),
			DE00:            6.1,
			DE00Trend:       5.2,
			DE00Uncertainty: 0.4,
			StoodOutDE00:    f(5.8),
			StandsOutDE00:   f(1.4),
			Method:          "compare 1",
		},
		record.Photo{
			Hash:     hashOf(5),
			FileName: "IMG_0105.jpg",
			Bytes:    10,
			Format:   "jpeg",
			WidthPx:  600,
			HeightPx: 400,
			Stage:    "during",
			Light:    "normal",
			Run:      wash,
			Caption:  "sheet 5 in the bath",
		},
		record.PaperIssued{Sort: "proposal", Version: 2, To: "the owner", Way: "post"},
		record.Closed{
			Outcome:   "treated",
			Text:      "Safe to read; the tide line is fainter.",
			Reinspect: time.Date(2027, 3, 11, 0, 0, 0, 0, time.UTC),
		},
	)
	c := record.Fold(j.entries)
	if len(c.Problems) > 0 {
		t.Fatalf("the case of the tests has problems: %v", c.Problems)
	}
	return c
}

// drawn hands out pictures drawn here: paper with lines, after treatment
// lighter. Hash 3 is not in the store, hash 5 is damaged.
type drawn struct{ tb testing.TB }

func (d drawn) Picture(h record.Hash) ([]byte, error) {
	switch h[0] {
	case 3:
		return nil, errors.New("it is not in the store")
	case 5:
		data := pageJPEG(600, 400, 180)
		return data[:len(data)/2], nil
	case 4:
		return pageJPEG(600, 400, 215), nil
	}
	return pageJPEG(600, 400, 180), nil
}

const lostPrint = "Print or other dark marks, such as the shadow of a tear, that the before picture shows here are " +
	"gone or much paler in the after picture."

// Comparison hands out a pair that lies on each other and a map, of the lower
// half of the photograph.
func (d drawn) Comparison(x *record.Stamped[record.FaceCompared]) (*ComparedPictures, error) {
	pair := &ComparedPictures{
		Before: pageJPEG(600, 200, 180),
		After:  pageJPEG(600, 200, 215),
		Frame:  image.Rect(0, 200, 600, 400),
	}
	m := image.NewPaletted(
		image.Rect(0, 0, 300, 100),
		color.Palette{color.Gray{Y: 0x77}, color.RGBA{68, 1, 84, 255}, color.RGBA{253, 231, 37, 255}},
	)
	for i := range m.Pix {
		m.Pix[i] = uint8(i % 300 / 101)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		return nil, err
	}
	pair.Map = b.Bytes()
	pair.Legend = photo.Legend{
		Title:    "colour difference, dE00, light evened",
		LowSays:  "as before",
		HighSays: "changed",
		High:     4,
		Ticks:    []float64{0, 1, 2, 3, 4},
		Source:   "made for the test",
		Scale:    []color.NRGBA{{68, 1, 84, 255}, {33, 145, 140, 255}, {253, 231, 37, 255}},
	}
	for k := range 2 {
		x := float64(100 + 200*k)
		pair.Places = append(
			pair.Places,
			ComparedPlace{
				Say:     lostPrint,
				Outline: []photo.Point{{X: x, Y: 240}, {X: x + 60, Y: 240}, {X: x + 60, Y: 280}},
			},
		)
	}
	return pair, nil
}

func pageJPEG(w, h int, tone uint8) []byte {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			p := color.RGBA{tone, tone - 15, tone - 45, 255}
			if y%14 < 4 && x > w/12 && x < w-w/12 && (x*7+y/14*31)%53 > 9 && x/(w/2+1) == (x+w/24)/(w/2+1) {
				p = color.RGBA{60, 55, 50, 255}
			}
			img.SetRGBA(x, y, p)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 80}); err != nil {
		panic(err)
	}
	return b.Bytes()
}
