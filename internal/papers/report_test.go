package papers

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func must(t testing.TB, pdf []byte, err error) []byte {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return pdf
}

func report(t testing.TB, c *record.Case, o Options) []byte {
	t.Helper()
	st, _, _ := testStudio(t)
	pdf, err := Report(c, st, o)
	return must(t, pdf, err)
}

// Every fact that was entered into richCase, as the report must say it. The
// times are those of the zone of its entries, UTC+01:00.
var reportFacts = []string{
	// the object and its owner
	"Case 2026-014 Purpose examination and treatment Opened 2 March 2026",
	"The Windlass Monthly no. 31 · Windlass Press (invented) · June 1937",
	"Type adventure monthly", "letterpress and halftone", "262 mm high × 170 mm wide, thickness 2.4 mm",
	"12/6 in pencil on the front", "ink blot on page 9", "Stapled periodical in a coated cover.",
	"Žofie Ångström (demo)", "owner@house.example", "Who may consent the owner", "EUR 1234.50, as stated by the owner",
	"“Make it safe to read, please, not new.”", "To be kept as it is the pencilled price", "“It lay under the " +
		"window for years.”",
	"received bench 2; from the owner; by KM in a cracked sleeve, damp smell; signed by both sides",
	"inspected, quarantine not needed, 2 March 2026, 19:05, at the annexe, by Karla Muster (KM)", "Mould none seen", "damp cellar", "no traces", "no growth under raking light",
	// make-up
	"9 inner sheets of 36 pages; separate cover sheet", "stapled through the fold", "Position 5 carries the number v.", "Subscription card, after page position 18.", "folds trimmed unevenly",
	"v/6 sheet 3, both leaves from another copy", "13/14 sheet 7, loose", "35/36 sheet 1", "inside back/back cover", "Sheet 3 both leaves from another copy lighter paper than its neighbours",
	"on arrival 2 Mar 2026, 19:10 10 in order 1.5 mm corner of pages 35 and 36 lost", "after reassembly", "1.6 mm",
	"interior: groundwood newsprint", "340 × 262 mm", "50.5 g/m², measured", "takes up 1.8 g/g (1.4 to 2.2)", "90 g/m², from the class of paper", "thickness 85 µm",
	"Staple 1 KM · 06060606", "61 mm crown 12 mm, wire 0.6 mm, legs 6 mm, legs toward each other", "heavy, with a stain in the paper leg broken", "taken out 6 Mar 2026, legs bent up over card, KM put back through the old holes 11 Mar 2026, KM",
	// condition, what is seen apart from what is inferred
	"tear pp. 3/4, v/6, 7/8, from the fore-edge, 120 mm below the head; first leaf of sheets 2 to 4; from the " +
		"fore-edge 84 mm severe handling (inferred) not active print broken; KM",
	"pressure-sensitive tape through sheets 1 to 6 5210 mm², 2 spots or pieces moderate roof leak (observed)", "staple hole sheet 7 width 2.5 mm slight cause not known not judged",
	"Observed Noted Place Words By 2 Mar 2026, 19:20 cover Foxing on the inside of the cover.",
	"Inferred Noted Place Words By 2 Mar 2026, 19:21 sheets 1 and 2 The water came from the tail. Rests on: shape " +
		"of the tide line",
	// tests
	"does the ink hold: red of the cover cover alkaline water, lime water 0.4 g/L, at 20 °C, for 5 min 1: trace on " +
		"the blotter faint pink on the blotter 2 Mar 2026, ultraviolet, 2: visible transfer, halo when dry, KM",
	"lignin sheet 5 reagent, see note, phloroglucinol positive not read again", "sample agreed by the owner",
	// consent
	"Version 2 2 March 2026. Options A: dry work only; B: washing and lime. Changed: option B added",
	"Consent given to version 2, option B, 2 March 2026, by letter, entered by Karla Muster (KM).", "Given by Žofie Ångström (demo), owner", "“Yes to B.”", "no toning of the mends",
	"The agreed plan: option B, washing and lime", "three baths soluble acid",
	// what was done
	"Washing: sheets 5 and 6 When 6 March 2026, 19:10 to 19:35 (25 min) By Tomáš Vzor (TV) Planned 20 min Aim " +
		"soluble acid out",
	"de-ionised water conditioned with lime; 2000 mL; in white tray", "can of de-ionised water, conditioned", "21.5 °C, pH 8.05 by electrode in the bath, conductivity 88 µS/cm, calcium 15.5 mg/L",
	"case 2026-015, sheet 3", "19:29 bath pH 6.45 ± 0.1, electrode in the bath, TV", "polyester web, spun, 17 g/m², " +
		"lot W-9", "20.5 °C, relative humidity 51 %", "Observed Bath straw yellow after ten minutes.; TV",
	"6 March 2026, 19:30, sheet 5: done, left wet; end point: conductivity level at 210 µS/cm; TV", "6 March 2026, 19:35, sheet 6: stopped early, left wet; seen: loose fibres at the fold; reason: fibres began to lift; TV",
	"Bath calcium hydroxide in water, 0.40 g/L (0.37 to 0.43); 1500 mL Strength calcium hydroxide, 0.40 g/L (0.37 to " +
		"0.43)", "Drawn from Lime water, working, 1500 mL, lot L-17",
	"Gates passed Bottle. Passed because: made the evening before, pH still 12.4", "Lime water is caustic: goggles and gloves.",
	"Reducing bleach: sheet 2", "sodium borohydride in water, 1 % w/v; 750 mL", "abandoned, left wet; reason: " +
		"bubbles in the sheet", "Not as planned the tide line stayed after washing",
	"spent borohydride, 750 mL: open bucket, then the waste contractor",
	"Mend: sheet 2 When 6 March 2026, 20:15 By Tomáš Vzor (TV) Damage tear (no. 1) Tissue kozo tissue K-1 " +
		"(invented), 5 g/m² Adhesive methyl cellulose in water, 4 % w/v, lot MC-2 Size 88 × 6.5 mm Sheet while the " +
		"sheet was damp, edge torn Note from the inner face",
	"Drying between absorbents: whole object When 6 March 2026, 20:20 to 8 March 2026, 19:00 (46 h 40 min) By Tomáš " +
		"Vzor (TV) and Karla Muster (KM)",
	"6 March 2026, 20:31 (11 min after the start); two blotters a side; took up 31.5 g; straw coloured; TV",
	"Accident or loss: sheet 9", "A drop of water fell on page 17. Done: Blotted at once. The owner was told: by " +
		"telephone the same day.",
	"leave the rest of the tide line; settled the sheet is weak",
	"Sheet 5 6 March 2026 19:10 to 19:30, washing in de-ionised water conditioned with lime, TV 19:40 to 20:00, " +
		"lime bath in calcium hydroxide in water",
	// pictures compared
	"The bare paper is 3.1 lighter and 2.0 less yellow than before: 3.1 ± 1.6 ΔE00.", "half of it differs by less " +
		"than 1.2 ΔE00",
	"No chart sets the colour of both photographs", "are gone or much paler in the after picture. Outlined on the " +
		"map as 1 and 2. The after picture is blurred.",
	"A tide line, tail of page 35 drawn by hand 1520 ± 60 mm² 5.8, after 1.4 5.2 ± 0.8 ΔE00 KM",
	// what that rests on
	"Alignment aligned; residual misalignment 0.07 px, or 0.016 mm (median)", "Compared 98.5 % of the face", "3.1 ± 1.6 ΔE00; from L* a* b* 80.0, 3.0, 18.0 to 83.1, 2.4, 16.0",
	"median 3.4 ΔE00 as photographed; 1.2 ΔE00 with the slow trend of the light taken out", "Colour as the cameras " +
		"wrote it", "Recorded 11 March 2026",
	"After treatment, sheet 2, outer face IMG_0104.jpg 04040404 A colour chart, “Bench chart” read in photograph " +
		"01010101, of the same light and settings values: measured 2025 (invented) matrix 22 of 24 patches 0.8, 95 " +
		"% within 2.1 each patch left out of the fit in turn",
	"4 photographs are shown as the camera wrote them.", "taken to be uncertain by 2 ΔE00",
	// values adopted
	"Values carried over to other sheets How much liquid the paper holds was estimated from readings on sheet 5: 2.05 g/g " +
		"(1.90 to 2.20), without allowing for how sheets of one paper differ. Sheets 6 and 7 were from then on planned " +
		"with that, in place of 1.8 g/g (1.4 to 2.2), " +
		"taken for groundwood newsprint. Why: One stock, one tray.",
	"Pick-up 2.05 g/g (1.90 to 2.20) 1.8 g/g (1.4 to 2.2) taken for groundwood newsprint (common practice, no source) " +
		"sheet 5 entry", "Annex 1: Sheet by sheet", "Annex 2: Photographs: colour and comparison", "Annex 3: Values taken over to other sheets", "Annex 4: All readings",
	// added and removed
	"alkaline reserve from calcium hydroxide in water, 0.40 g/L (0.37 to 0.43) sheets 5 and 6 lime bath, 6 Mar 2026", "kozo tissue K-1 (invented), 5 g/m², with methyl cellulose in water, 4 % w/v sheet 2 mend, 6 Mar 2026",
	"old sleeve, board or folder: cracked plastic sleeve whole object 014-1 disposed of as agreed, 11 Mar 2026; " +
		"agreed with the owner; soft vinyl",
	"staple: staple 2, rusted", "014-2 not settled; kept at: drawer 3", "fragment: corner of page 35 sheet 1 not " +
		"settled; kept at: envelope in the folder",
	// departures
	"6 Mar 2026, 19:10 Washing, sheet 6 stopped early, after 25 min of 20 min fibres began to lift TV",
	"Reducing bleach, sheet 2 not in the agreed plan the tide line stayed after washing",
	"Washing, sheets 1 to 4 agreed, and not done no reason given", "gate passed over: bottle made the evening before, pH still 12.4", "abandoned, after 1 min bubbles in the sheet",
	// results
	"pH 7.9 to 8.9, reserve 0.1 to 0.3 % CaCO₃; the tide line fainter, not gone.", "mended holds in handling; KM", "not judged after treatment",
	"Surface pH sheet 5 4.6 ± 0.2 8.30 ± 0.25 +3.70 ± 0.32 flat electrode on a drop, after 3 min",
	"before treatment surface pH sheet 5 4.6 ± 0.2 flat electrode on a drop, after 3 min; meter 2; checked: pH 4 " +
		"and 7 this evening; 21 °C, RH 48 % KM",
	"Before: Raking light.", "After, laid on before: Raking light.", "Map of the change: colour difference, ΔE00, " +
		"light evened; 0 is as before, the other end changed; grey was not compared. Colours: made for the test.", "IMG_0104.jpg · 04040404 · credit: drawn for the test, CC0",
	"The photograph is not shown: it is not in the store.", "The photograph is not shown, since its file is " +
		"damaged: it is cut short.", "During treatment: whole object; normal light; washing; sheet 5 in the bath.",
	"On arrival: whole object; normal light; as received.",
	// advice, disclosure, people, record
	"Keep it dark The paper of sheets 5 and 6 was made alkaline, and the lignin test of its paper was positive.", "This warning is dated 11 March 2026", "Next on 11 March 2027.", "about 35 % relative humidity",
	"Up to the date of this report the object was: washed in water; made alkaline; dried and pressed under " +
		"restraint; mended in 1 place with tissue and adhesive; 1 staple taken out and put back; 1 staple taken " +
		"out, and not put back up to now.",
	"Sheet 3 may come from another copy", "1 accident or loss in the studio’s care is recorded", "gives no opinion on value or authenticity",
	"KM Karla Muster conservator", "TV Tomáš Vzor assistant 14 entries",
	"Corrected entries 1. This report shows what counts now", "Withdrawn entries 1: 23.", "proposal 2, to the " +
		"owner, post, 11 March 2026",
	"In short Safe to read; the tide line is fainter.", "Closed 11 March 2026, treated as proposed",
	"1 Sample Lane Exampleton bench@studio.example", "UTC+01:00",
}

func TestReportHoldsEveryFactOfTheRecord(t *testing.T) {
	c := richCase(t)
	pdf := report(t, c, Options{Pictures: drawn{t}, Compared: drawn{t}})
	sound(t, pdf)
	got := wordsOf(t, pdf)
	for _, want := range append(reportFacts, c.LastHash.String(), string(c.ID)) {
		if !strings.Contains(got, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	for _, gone := range []string{"must not be printed", "3.33", "version 1 given"} {
		if strings.Contains(got, gone) {
			t.Errorf("the report says %q, which was corrected or withdrawn", gone)
		}
	}
	all := pages(t, pdf)
	for i, p := range all {
		if want := fmt.Sprintf("Case 2026-014 · page %d of %d", i+1, len(all)); !strings.Contains(p, want) {
			t.Errorf("page %d does not carry %q", i+1, want)
		}
		if want := c.LastHash.String()[:16]; !strings.Contains(p, want) {
			t.Errorf("page %d does not carry the seal %s", i+1, want)
		}
	}
	if images := poppler(t, "pdfimages", pdf, "-list", "FILE"); strings.Count(images, "jpeg") != 4 {
		t.Errorf("there are not four photographs in the report:\n%s", images)
	}
}

func TestSameInputGivesTheSameBytes(t *testing.T) {
	st, lime, hydride := testStudio(t)
	c := richCase(t)
	for name, make := range map[string]func() ([]byte, error){
		"report":   func() ([]byte, error) { return Report(c, st, Options{Pictures: drawn{t}}) },
		"proposal": func() ([]byte, error) { return Proposal(c, st, 2, Options{}) },
		"labels":   func() ([]byte, error) { return Labels(st, []string{lime, hydride}, Options{}) },
		"invoice": func() ([]byte, error) {
			b, err := account.BillFor(c)
			if err != nil {
				return nil, err
			}
			return Invoice(c, st, b, Options{})
		},
	} {
		a, err := make()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		b, err := make()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s: two runs differ", name)
		}
		// The dates in the file are those of the record, not of the clock.
		date := c.Updated
		switch name {
		case "proposal":
			date = c.Proposals[1].Time
		case "labels":
			date = st.Updated
		}
		want := date.Format(time.RFC3339)
		if info := poppler(t, "pdfinfo", a, "-isodates", "FILE"); !strings.Contains(info, "CreationDate:    "+want) ||
			!strings.Contains(info, "ModDate:         "+want) {
			t.Errorf("%s: it does not carry the date %s:\n%s", name, want, info)
		}
	}
}

// simple opens a case with a make-up.
func simple(t testing.TB, inner int) *journal {
	j := newJournal(t, record.NewCaseID(evening))
	j.add(
		record.Opened{Number: "1", Title: "Test"},
		record.MakeUp{InnerSheets: inner, Cover: "separate", Binding: "saddle", FirstPage: 1},
	)
	return j
}

// many appends bodies without admitting each, for cases of many entries.
func (j *journal) many(bodies []record.Body) {
	j.t.Helper()
	for _, b := range bodies {
		j.now = j.now.Add(time.Second)
		k, version, raw, err := record.Encode(b)
		if err != nil {
			j.t.Fatal(err)
		}
		e := record.Entry{
			Case:    j.id,
			Seq:     int64(len(j.entries)) + 1,
			Time:    j.now,
			Zone:    "UTC",
			By:      j.by,
			Kind:    k,
			Version: version,
			Body:    raw,
		}
		if err := e.Seal(j.entries[len(j.entries)-1].Hash); err != nil {
			j.t.Fatal(err)
		}
		j.entries = append(j.entries, e)
	}
}

func TestNoRowIsLostOverPageBreaks(t *testing.T) {
	j := simple(t, 9)
	var bodies []record.Body
	for i := range 300 {
		// Rows of one to nine lines.
		bodies = append(
			bodies,
			record.Note{
				Nature: "observed",
				Text:   fmt.Sprintf("<%03d|%s|%03d>", i, strings.TrimSpace(strings.Repeat("word ", 1+i*7%90)), i),
			},
		)
	}
	j.many(bodies)
	pdf := report(t, record.Fold(j.entries), Options{})
	sound(t, pdf)
	got := wordsOf(t, pdf)
	for i := range 300 {
		want := fmt.Sprintf("<%03d|%s|%03d>", i, strings.TrimSpace(strings.Repeat("word ", 1+i*7%90)), i)
		if n := strings.Count(got, want); n != 1 {
			t.Errorf("row %d stands %d times, whole, in the report", i, n)
		}
	}
	for i, p := range pages(t, pdf) {
		if strings.Contains(p, "|") && !strings.Contains(p, "Noted Place Words By") {
			t.Errorf("page %d goes on with the table and does not repeat its heads", i+1)
		}
	}
}

func TestARowHigherThanAPageLosesNothing(t *testing.T) {
	j := simple(t, 2)
	var b strings.Builder
	for i := range 2400 {
		fmt.Fprintf(&b, "w%d ", i)
	}
	j.add(
		record.Note{Nature: "observed", Text: strings.TrimSpace(b.String())},
		record.Incident{What: strings.TrimSpace(strings.ReplaceAll(b.String(), "w", "v"))},
	)
	pdf := report(t, record.Fold(j.entries), Options{})
	sound(t, pdf)
	// Where a row goes on, the head of the page and of the table stand between
	// its words, so each word is looked for by itself.
	got := map[string]int{}
	for _, w := range strings.Fields(wordsOf(t, pdf)) {
		got[strings.TrimSuffix(w, ".")]++
	}
	for i := range 2400 {
		if w, v := fmt.Sprintf("w%d", i), fmt.Sprintf("v%d", i); got[w] != 1 ||
			got[v] != 1 && got[strings.ToUpper(v)] != 1 {
			t.Fatalf("word %s stands %d times, %s %d times", w, got[w], v, got[v])
		}
	}
}

func TestEmptyAndAbsurdCases(t *testing.T) {
	long := strings.Repeat("Überlangeswort", 21)
	open := func(title string) *journal {
		j := newJournal(t, record.NewCaseID(evening))
		j.add(record.Opened{Number: "1", Title: title})
		return j
	}
	wide := open("x")
	wide.add(
		record.MakeUp{
			InnerSheets: record.MaxSheets,
			Cover:       "self",
			Binding:     "loose",
			FirstPage:   9000,
			Note:        strings.Repeat("n", 19000),
		},
		record.Identity{Title: long, Issue: long, Maker: long, Type: long, Inscriptions: strings.Repeat(long+" ", 40)},
		record.Ownership{
			Owner:      long,
			Contact:    strings.Repeat(long, 9),
			ValueMinor: 1_000_000_000_00,
			Currency:   "JPY",
			Wishes:     strings.Repeat("a\n", 300),
		},
	)
	for i := range 20 {
		wide.add(record.Staple{Number: i + 1, FromHeadMm: float64(i), Rust: "none"})
	}
	missing := open("cover missing")
	missing.add(
		record.MakeUp{InnerSheets: 1, Cover: "missing", Binding: "side", FirstPage: 1},
		record.SheetState{Sheet: 1, Missing: record.LeafSecond},
	)
	for name, entries := range map[string][]record.Entry{
		"no entry": nil, "opened": open("x").entries, "one long word": open(long).entries, "everything long": wide.entries, "cover missing": missing.entries,
		"only signs without a form": open("漢字🙂").entries,
	} {
		for _, size := range []string{"A4", "Letter"} {
			t.Run(name+" on "+size, func(t *testing.T) {
				pdf, err := Report(record.Fold(entries), nil, Options{Size: size})
				must(t, pdf, err)
				sound(t, pdf)
				if name == "only signs without a form" {
					if got := wordsOf(t, pdf); !strings.Contains(got, "[U+6F22 U+5B57 U+1F642]") ||
						!strings.Contains(
							got,
							"each is shown as its Unicode code in square brackets, and stands unchanged in the "+
								"record itself: U+5B57, U+6F22, U+1F642.",
						) {
						t.Errorf("characters without a form are not shown: %s", got)
					}
				}
			})
		}
	}
	if _, err := Report(record.Fold(nil), nil, Options{Size: "A7"}); err == nil ||
		!strings.Contains(err.Error(), `"A7" is not a size of paper`) {
		t.Errorf("an unknown size gives %v", err)
	}
}

func TestOpenCaseIsAnInterimReport(t *testing.T) {
	j := simple(t, 3)
	j.add(
		record.RunStarted{
			ID:            j.newID(),
			Operation:     "wash",
			OperationName: "washing",
			Sheets:        []int{2},
			At:            j.now,
			Makes:         record.Wet,
		},
	)
	got := wordsOf(t, report(t, record.Fold(j.entries), Options{}))
	for _, want := range []string{"this is an interim report", "Wet or damp at the last entry: sheet 2.", "not ended at the last entry", "No consent that counts is recorded", "Sheet 1 nothing was done to it", "No photograph is recorded."} {
		if !strings.Contains(got, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
}

func TestPicturesLeftOutAreSaidToBe(t *testing.T) {
	got := wordsOf(t, report(t, richCase(t), Options{}))
	if n := strings.Count(got, "This paper was made without its photographs."); n != 6 {
		t.Errorf("%d of 6 photographs are said to be left out", n)
	}
}

// countless hands out one picture for every hash, drawn once.
type countless struct{ data []byte }

func (c countless) Picture(record.Hash) ([]byte, error) { return c.data, nil }

// longCase is a case of 36 pages of text and 200 photographs, before and after.
func longCase(t testing.TB) *record.Case {
	j := simple(t, 24)
	var bodies []record.Body
	for i := range 200 {
		p := record.Photo{
			Bytes:    1,
			Format:   "jpeg",
			WidthPx:  1200,
			HeightPx: 900,
			Stage:    "before",
			Light:    "normal",
			Place: record.Place{
				Sheets: []int{i / 2 % 25},
				Face:   []record.Face{"outer", "inner"}[i/50%2],
				Words:  fmt.Sprint(i / 100),
			},
		}
		p.Hash[0], p.Hash[1] = byte(i), 7
		if i%2 == 1 {
			p.Stage = "after"
		}
		bodies = append(bodies, p)
	}
	for i := range 320 {
		bodies = append(
			bodies,
			record.Reading{
				Quantity: "surface-ph",
				Value:    4 + float64(i%40)/10,
				Method:   "flat electrode on a drop, after 3 min",
				Stage:    []record.Stage{"before", "after"}[i%2],
				Place:    record.Place{Sheets: []int{1 + i%24}},
			},
		)
	}
	for i := range 60 {
		run := j.newID()[:12] + fmt.Sprintf("%04d", i)
		bodies = append(
			bodies,
			record.RunStarted{
				ID:            run,
				Operation:     "wash",
				OperationName: "washing",
				Sheets:        []int{1 + i%24},
				At:            j.now,
				Makes:         record.Wet,
				Bath:          &record.Bath{ID: run, Liquid: "de-ionised water conditioned with lime", VolumeMl: 2000},
			},
			record.RunEnded{
				Run:      run,
				At:       j.now,
				Outcome:  "done",
				Leaves:   record.Dry,
				EndPoint: "conductivity level at 210 µS/cm",
			},
		)
	}
	j.many(bodies)
	return record.Fold(j.entries)
}

func TestLongReport(t *testing.T) {
	data := pageJPEG(1200, 900, 180)
	pdf := report(t, longCase(t), Options{Pictures: countless{data}})
	sound(t, pdf)
	if n := len(pages(t, pdf)); n < 36 {
		t.Errorf("the long report has %d pages, fewer than the 36 that the benchmark is to measure", n)
	}
	if n := strings.Count(poppler(t, "pdfimages", pdf, "-list", "FILE"), "jpeg"); n != 200 {
		t.Errorf("%d of 200 photographs are in it", n)
	}
}

func BenchmarkReport200Pictures(b *testing.B) {
	c := longCase(b)
	st, _, _ := testStudio(b)
	data := pageJPEG(1200, 900, 180)
	b.ResetTimer()
	for b.Loop() {
		pdf, err := Report(c, st, Options{Pictures: countless{data}})
		if err != nil {
			b.Fatal(err)
		}
		b.SetBytes(int64(len(pdf)))
	}
}

func BenchmarkReportRichCase(b *testing.B) {
	c := richCase(b)
	st, _, _ := testStudio(b)
	for b.Loop() {
		if _, err := Report(c, st, Options{Pictures: drawn{b}}); err != nil {
			b.Fatal(err)
		}
	}
}
