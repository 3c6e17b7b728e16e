package webtest

import (
	"context"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"benchleaf/internal/record"
)

// photograph is a real photograph of old paper from the tests of package photo.
func photograph(t *testing.T, name string) string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join("..", "..", "..", "photo", "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// shelf puts on the studio's shelf what the walk draws on.
func (b *bench) shelf() {
	now := time.Now().Add(-time.Hour)
	id := func() string { return record.NewID(time.Now()) }
	b.write(
		record.StudioID,
		record.StudioDetails{Name: "Studio (demo)", Currency: "EUR", RateMinor: 7200, TaxPercent: 19, PaperSize: "A4"},
		record.Person{Initials: "KM", Name: "K. M. (demo)"},
		record.WaterSource{ID: id(), Name: "de-ionised can", Source: "deionised"},
		record.Glassware{ID: id(), Name: "500 mL cylinder", CapacityMl: 500, GraduationMl: 5, ToleranceMl: 2.5},
		record.Bottle{
			ID:        id(),
			Name:      "lime water stock",
			Substance: "calcium hydroxide",
			Form:      "saturated",
			Unit:      "g/L",
			VolumeMl:  5000,
			MadeAt:    now,
			Lot:       "L-0226",
		},
		record.Bottle{
			ID:        id(),
			Name:      "borohydride bath",
			Substance: "sodium borohydride",
			Form:      "solution",
			Unit:      "% w/v",
			Strength:  &record.Range{Low: 0.95, Best: 1, High: 1.05},
			VolumeMl:  2000,
			MadeAt:    now,
			Lot:       "B-1107",
		},
		record.Bottle{
			ID:        id(),
			Name:      "methyl cellulose 4 %",
			Substance: "methyl cellulose",
			Form:      "adhesive",
			Unit:      "% w/v",
			Strength:  &record.Range{Low: 3.8, Best: 4, High: 4.2},
			VolumeMl:  100,
			MadeAt:    now,
			Lot:       "MC-33",
		},
	)
}

// The whole job on real photographs, from taking in to the report, whose text
// is then checked for each fact that was entered.
func TestWholeJob(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("poppler-utils is needed to read the report")
		}
		t.Skip("poppler-utils is not installed")
	}
	b := newBench(t)
	b.shelf()
	p := b.open(tablet, "/cases/new")
	p.as("KM")
	p.goTo("/cases/new")

	p.fill("Title", "The Windlass Monthly, no. 31")
	p.fill("Owner", "Owner (demo)")
	p.fill("What the owner asks for", "Get the water line out and mend the tear.")
	p.fill("What must stay as it is", "the price in pencil")
	p.fill("Agreed value", "480")
	p.choose("Moisture", "dry")
	p.choose("Mould", "none seen")
	p.choose("Quarantine", "inspected, quarantine not needed")
	p.fill("Where it is put", "shelf 2")
	p.fill("Sleeve, board or folder kept", "cracked plastic sleeve")
	p.fill("Where that is kept", "drawer 3")
	p.tick("The receipt is signed by both")
	p.axe()
	p.press("Take it in, then photograph")
	p.upload("Photographs", photograph(t, "cavalerie.11.jpg"), photograph(t, "zanotti-78.jpg"))
	p.axe()
	p.choose("Light", "normal light")
	p.press("Add to the record")
	p.until("two photographs are shown", `document.querySelectorAll(".photos img").length >= 2`)
	p.until(
		"the pictures have come",
		`Array.from(document.querySelectorAll(".photos img")).every((i) => { i.loading = "eager"; return i.complete && i.naturalWidth > 100 })`,
	)

	list, err := b.store.List(context.Background(), storeAll)
	if err != nil || len(list) != 1 {
		t.Fatalf("%d cases, %v; want the new one", len(list), err)
	}
	base := "/cases/" + string(list[0].ID)

	p.goTo(base + "/make-up")
	p.fill("Or inner pages", "36")
	p.choose("Held by", "stapled through the fold")
	p.press("Separate cover sheet")
	p.see("36")
	p.touch("Loose, missing, from another copy")
	p.choose("Sheet", "Sheet 7")
	p.choose("Held", "loose")
	p.press("Record it")
	p.touch("Map a staple")
	p.fill("From the head", "62")
	p.choose("Rust", "heavy, with a stain in the paper")
	p.press("Map it")
	p.see("62 mm")
	p.touch("Collate by count")
	p.choose("When", "on arrival")
	p.fill("Sheets counted", "10")
	p.choose("In order", "yes")
	p.press("Record the collation")
	p.axe()

	p.goTo(base + "/examination")
	p.touch("Describe a paper")
	p.fill("Name", "interior")
	p.touch("None")
	for _, n := range []string{"1", "2", "3", "4", "5", "6", "7", "8", "9"} {
		p.choose("Sheets of this paper", "Sheet "+n)
	}
	p.choose("Class", "groundwood newsprint")
	p.fill("Width, opened", "340")
	p.fill("Height", "262")
	p.fill("Mass of one sheet", "4,45")
	p.fill("Which sheet was weighed", "5")
	p.press("Save this paper")
	p.see("50")
	p.touch("Add a reading")
	p.fill("Read", "4.4")
	p.choose("Sheet", "Sheet 2")
	p.fill("Method", "flat electrode on a drop, after 60 s")
	p.press("Record the reading")
	p.see("4.4")
	p.axe()

	p.goTo(base + "/condition/record")
	p.choose("Kind", "tear")
	for _, n := range []string{"2", "3", "4"} {
		p.choose("On sheets", "Sheet "+n)
	}
	p.fill("Length", "84")
	p.fill("Where, in words", "from the fore-edge")
	p.press("Record it")
	p.see("84 mm")
	p.axe()

	p.goTo(base + "/tests")
	for _, x := range [][2]string{{"water", "0: none"}, {"alkaline water", "0: none"}, {"sodium borohydride", "0: none"}} {
		p.fill("Colour or ink", "black text")
		p.chooseOnly("On sheet", "Sheet 2")
		p.choose("Liquid", x[0])
		p.choose("Result", x[1])
		p.press("Record the test")
	}
	p.axe()

	p.goTo(base + "/proposal")
	p.press("Sketch from the findings")
	p.see("washing")
	p.fill("Risks, and what cannot be undone", "Washing cannot be undone.")
	p.fill("What else could be done, doing nothing included", "Doing nothing: keep it cool and dark.")
	p.fill("Hours", "0.75")
	p.press("Save this version")
	p.choose("Answer to version", "consent given")
	p.fill("Who answered", "Owner (demo)")
	p.fill("Why this person may answer", "owner")
	p.choose("How", "by letter")
	p.fill("Expressly not wanted", "no retouching")
	p.axe()
	p.press("Record the answer")
	p.see("Agreed:")

	mixed := b.mixLime(p)

	p.goTo(base + "/make-up")
	p.touch("Take out, put back")
	p.choose("Which", "Staple 1")
	p.choose("What", "taken out")
	p.fill("Kept where", "glass tube")
	p.press("Record it")

	// Three sheets in a lime bath; the bench says what it will leave.
	run := b.startBath(p, base, "lime", []string{"2", "3", "5"}, mixed, "1400")
	p.see("Under way")
	p.goTo(run + "/reading?quantity=bath-ph")
	p.choose("Read by", "electrode in the bath")
	p.fill("Read", "11,9")
	p.press("Record it")
	p.see("11.9")
	p.axe()
	b.endRun(p, run, "no change of hue")

	// The reducing bleach, with its cautions and its gas, then the rinse.
	run = b.startBath(p, base, "reduce", []string{"2", "3"}, "borohydride bath", "1000")
	c := b.theCase(list[0].ID)
	if n := len(c.Runs[len(c.Runs)-1].Body.Cautions); n == 0 {
		t.Error("the bleach was started without its cautions in the record")
	}
	b.endRun(p, run, "no blister")
	p.see("must follow")
	run = b.startWater(p, base, "rinse", []string{"2", "3"}, "2000")
	for _, us := range []string{"390", "131", "132"} {
		p.goTo(run + "/reading?quantity=conductivity")
		p.fill("Read", us)
		p.press("Record it")
	}
	p.goTo(run + "/end")
	p.see("conductivity level at 132")
	p.axe()
	p.endDone()

	// Mended damp, as one with the sheet.
	run = b.startPlain(p, base, "mend-damp", []string{"2"})
	p.goTo(base + "/mend?sheet=2")
	p.choose("Mends", "Tear, 84 mm, sheets 2 to 4")
	p.fill("Length", "50")
	p.fill("Width of the strip", "8")
	p.fill("Tissue", "kozo tissue")
	p.fill("Tissue weight", "3.5")
	p.choose("Adhesive from the shelf", "methyl cellulose 4 %")
	p.axe()
	p.press("Log the mend")
	b.endRun(p, run, "")

	// Dried between absorbents, changed twice.
	p.goTo(base + "/runs/new?operation=dry-absorbent&sheets=2&sheets=3&sheets=5")
	p.fill("Change absorbents after", "10, 45")
	p.press("Look once more")
	p.press("Start now")
	c = b.theCase(list[0].ID)
	run = base + "/runs/" + c.Runs[len(c.Runs)-1].Body.ID
	for _, g := range []string{"5.9", "1.2"} {
		p.goTo(run + "/absorbent")
		p.fill("Absorbent", "cotton blotter 350 g/m²")
		p.fill("Water taken up", g)
		p.press("Changed")
	}
	p.goTo(run + "/end")
	p.choose("The sheet is then", "dry")
	p.endDone()
	p.axe()

	// After: the same face under the slider.
	for _, stage := range []string{"before", "after"} {
		p.goTo(base + "/photos/new?sheet=2&face=outer&stage=" + stage)
		p.upload(
			"Photographs",
			photograph(t, map[string]string{"before": "lapide.052.100.jpg", "after": "cat.007.jpg"}[stage]),
		)
		p.press("Add to the record")
	}
	p.goTo(base + "/results")
	p.sees("the viewer is there", func() bool {
		ok, err := chromedp.Run(
			p.ctx,
			chromedp.Evaluate[bool](`!!document.querySelector(".viewer.live .viewer-range input")`),
		)
		return err == nil && ok
	})
	p.see("do not show the same face") // two leaves of two books
	p.run(`document.querySelector(".viewer-range input").focus()`)
	p.key(kb.End)
	p.until("the slider moved", `document.querySelector(".viewer-range input").value === "100"`)
	p.see("% CaCO₃")
	p.axe()
	p.shot("walk-results")

	p.goTo(base + "/papers")
	p.see("Treatment report")
	p.axe()
	b.reportSays(p, base, []string{
		"The Windlass Monthly, no. 31", "Owner (demo)", "Get the water line out", "price in pencil", "EUR 480.00", "shelf 2", "cracked plastic sleeve", "drawer 3",
		"sheet 7", "loose", "62", "interior", "groundwood newsprint", "340", "262", "4.45", "4.4", "tear", "84 mm", "black text", "alkaline water", "sodium borohydride",
		"by letter", "no retouching", "glass tube", "calcium hydroxide", "11.9", "no change of hue", "1.00 % w/v", "B-1107", "no blister", "132", "kozo tissue", "3.5 g/m", "methyl cellulose", "MC-33",
		"owner agreed on the telephone", "cotton blotter 350", "5.9", "1.2", "KM",
	})
	r, err := b.store.Verify(context.Background())
	if err != nil || !r.Clean() {
		t.Errorf("verify: %v %v", r, err)
	}
}

// theCase is the case as it stands.
func (b *bench) theCase(id record.CaseID) *record.Case {
	b.t.Helper()
	c, err := b.store.Case(context.Background(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	return c
}

// chooseOnly leaves one sheet chosen.
func (p *tab) chooseOnly(label, words string) {
	p.t.Helper()
	p.touch("None")
	p.choose(label, words)
}

// startAsIs goes through both steps of starting a run and returns its address.
func (b *bench) startAsIs(p *tab, base string) string {
	p.press("Look once more")
	p.axe()
	p.see("Start now")
	p.giveReasons() // surface cleaning and taking apart were agreed, and are not recorded here
	p.press("Start now")
	p.see("has started")
	m := regexp.MustCompile(`^/cases/([0-9a-z]+)`).FindStringSubmatch(base)
	c := b.theCase(record.CaseID(m[1]))
	return base + "/runs/" + c.Runs[len(c.Runs)-1].Body.ID
}

func (b *bench) startPath(p *tab, base, operation string, sheets []string) {
	p.goTo(base + "/runs/new?operation=" + operation + "&sheets=" + strings.Join(sheets, "&sheets="))
}

func (b *bench) startBath(p *tab, base, operation string, sheets []string, bottle, ml string) string {
	b.t.Helper()
	b.startPath(p, base, operation, sheets)
	p.chooseStarting("Bottle from the shelf", bottle)
	p.fill("Volume", ml)
	p.choose("Water", "de-ionised can")
	p.axe()
	if operation != "reduce" {
		return b.startAsIs(p, base)
	}
	p.press("Look once more")
	for _, s := range []string{"hydrogen", "open tray", "no flame", "m³", "quarter of the lower flammable limit", "factor of two"} {
		p.see(s)
	}
	p.axe()
	// The agreed plan holds no bleach: without a reason the gate stays shut.
	p.allow("422")
	p.press("Start now")
	p.see("Not saved yet")
	p.giveReasons()
	p.fill("Reason for going on all the same: Consent", "owner agreed on the telephone, letter follows")
	p.press("Start now")
	p.see("has started")
	c := b.theCase(record.CaseID(strings.Split(base, "/")[2]))
	return base + "/runs/" + c.Runs[len(c.Runs)-1].Body.ID
}

func (b *bench) startWater(p *tab, base, operation string, sheets []string, ml string) string {
	b.t.Helper()
	b.startPath(p, base, operation, sheets)
	p.fill("Volume", ml)
	p.choose("Water", "de-ionised can")
	return b.startAsIs(p, base)
}

func (b *bench) startPlain(p *tab, base, operation string, sheets []string) string {
	b.t.Helper()
	b.startPath(p, base, operation, sheets)
	return b.startAsIs(p, base)
}

// chooseStarting takes the line of a list that begins with some words.
func (p *tab) chooseStarting(label, words string) {
	p.t.Helper()
	if eval[bool](p, "!!__find.choice("+quote(label)+","+quote(words)+")") {
		p.choose(label, words)
		return
	}
	line := eval[string](
		p,
		`Array.from(__find.field(`+quote(
			label,
		)+`).options).find((o) => o.text.trim().startsWith(`+quote(
			words,
		)+`))?.text.trim() ?? ""`,
	)
	if line == "" {
		p.t.Fatalf("no line of %q begins with %q:\n%s", label, words, p.text())
	}
	p.choose(label, line)
}

func (b *bench) endRun(p *tab, run, seen string) {
	b.t.Helper()
	p.goTo(run + "/end")
	if seen != "" {
		p.fill("What was seen", seen)
	}
	p.endDone()
}

// endDone ends a run as done, whatever its button says of the time.
func (p *tab) endDone() {
	p.t.Helper()
	p.press(eval[string](p, `document.querySelector("#end-run_outcome button[value=done]").innerText.trim().replace(/\u00a0/g, " ")`))
}

// reportSays reads the report with poppler and looks for each fact.
func (b *bench) reportSays(p *tab, base string, facts []string) {
	b.t.Helper()
	status, head, pdf := b.get(base + "/report.pdf")
	if status != http.StatusOK || head.Get("Content-Type") != "application/pdf" {
		b.t.Fatalf("the report came as %d, %s", status, head.Get("Content-Type"))
	}
	file := filepath.Join(b.t.TempDir(), "report.pdf")
	if err := os.WriteFile(file, []byte(pdf), 0o600); err != nil {
		b.t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		b.t.Fatalf("the report is no PDF that poppler reads: %v", err)
	}
	text := strings.Join(strings.Fields(strings.ReplaceAll(string(out), "\u00a0", " ")), " ")
	plain := func(s string) string { return strings.ToLower(strings.ReplaceAll(s, "\u00ad", "")) }
	for _, f := range facts {
		if !strings.Contains(plain(text), plain(f)) {
			b.t.Errorf("the report does not say %q", f)
		}
	}
	if b.t.Failed() {
		b.t.Log(text)
	}
}
