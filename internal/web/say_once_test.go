package web

import (
	"flag"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"

	"golang.org/x/net/html"
	"pgregory.net/rapid"
)

// saidCase generates the journal of a case: sheets, papers, readings with places,
// methods, runs and uncertainties, damages, tests, a proposal with consent, baths,
// mends and things kept.
type saidCase struct {
	*rapid.T
	now    time.Time // when the next thing happens
	bodies []record.Body
	sheets int
	runs   []string
	broken []string // damages
	opened int64    // the last entry before these
}

func (g *saidCase) add(b ...record.Body)    { g.bodies = append(g.bodies, b...) }
func (g *saidCase) one(of ...string) string { return rapid.SampledFrom(of).Draw(g.T, "one") }
func (g *saidCase) yes() bool               { return rapid.Bool().Draw(g.T, "yes") }
func (g *saidCase) count(low, high int) int { return rapid.IntRange(low, high).Draw(g.T, "count") }
func (g *saidCase) id() string              { return record.NewID(g.now) }
func (g *saidCase) later(minutes int) time.Time {
	g.now = g.now.Add(time.Duration(minutes) * time.Minute)
	return g.now
}
func (g *saidCase) maybe(low, high float64) *float64 {
	if !g.yes() {
		return nil
	}
	v := float64(g.count(int(low*10), int(high*10))) / 10
	return &v
}

func (g *saidCase) place() record.Place {
	p := record.Place{Words: g.one("", "margin", "fore-edge margin", "page 3, tail")}
	if g.yes() {
		p.Sheets = []int{g.count(1, g.sheets)}
		p.Face = rapid.SampledFrom([]record.Face{"", record.FaceOuter, record.FaceInner}).Draw(g.T, "face")
	}
	return p
}

// quantities of readings, with values that occur.
var saidQuantities = []struct {
	slug      string
	low, high int // tenths
	u         []float64
}{
	{"surface-ph", 35, 105, []float64{0.1, 0.25, 0.3}}, {"extract-ph", 35, 105, []float64{0.05, 0.2}},
	{"mass", 50, 400, []float64{0.01, 0.1}}, {"thickness", 500, 2000, []float64{1, 5}},
	{"reserve", 0, 40, []float64{0.02, 0.1}}, {"conductivity", 50, 30000, []float64{5, 10}},
	{"bath-ph", 50, 120, []float64{0.1}},
}

func (g *saidCase) reading() record.Reading {
	q := rapid.SampledFrom(saidQuantities).Draw(g.T, "quantity")
	b := record.Reading{
		Quantity: q.slug, Value: float64(g.count(q.low, q.high)) / 10,
		Method: g.one("electrode, after 60 s", "strip", "balance"),
		Stage:  rapid.SampledFrom([]record.Stage{"arrival", "before", "during", "after", "after"}).Draw(g.T, "stage"),
		Place:  g.place(), At: g.later(1),
	}
	if g.yes() {
		b.Uncertainty = &q.u[g.count(0, len(q.u)-1)]
	}
	if len(g.runs) > 0 && g.yes() {
		b.Run = g.runs[g.count(0, len(g.runs)-1)]
	}
	return b
}

// adopted weighs a sheet out of a bath and takes its pick-up for all.
func (g *saidCase) adopted() {
	all := make([]int, g.sheets)
	for i := range all {
		all[i] = i + 1
	}
	best := float64(g.count(50, 300)) / 100
	g.add(g.reading())
	// What opened the case and what the studio holds come before the generated entries.
	g.add(record.ValueAdopted{
		Quantity: "pick-up", Unit: "g/g", Value: record.Range{Low: best * 0.9, Best: best, High: best * 1.13},
		FromSheet: 1, Readings: []int64{g.opened + int64(len(g.bodies))}, Sheets: all, Reason: "one stock and one look",
	})
}

func (g *saidCase) damage() record.Damage {
	b := record.Damage{
		ID: g.id(), Term: g.one("tear", "tideline", "loss", "foxing", "split"), Place: g.place(),
		LengthMm: g.maybe(1, 200), AreaMm2: g.maybe(1, 900), Severity: "moderate", CauseIs: "unknown", Active: "no",
	}
	if len(b.Place.Sheets) == 0 {
		b.Place.Sheets = []int{1}
	}
	g.broken = append(g.broken, b.ID)
	return b
}

func (g *saidCase) proposal() {
	option := record.Option{Name: "A", Title: "wet treatment", Expect: "pH 7 to 9"}
	for _, slug := range []string{"wash", "lime", "dry-absorbent", "reassemble"}[:g.count(1, 4)] {
		option.Operations = append(option.Operations, record.Planned{
			Operation: slug, Hours: float64(g.count(1, 60)) / 10, MaterialsMinor: int64(g.count(0, 5000)),
		})
	}
	g.add(record.Proposal{
		Version: 1, Options: []record.Option{option}, Currency: g.one("EUR", "JPY", "KWD"),
		RateMinor:    int64(g.count(100, 90000)),
		MinimumMinor: int64(g.count(0, 200000)), TaxPercent: float64(g.count(0, 25)), ValidDays: 30,
		Alternatives: "doing nothing", Risks: "none beyond handling",
	}, record.Consent{
		Version: 1, Option: "A", Answer: "given", Who: "Owner (demo)", Standing: "owner", Way: "letter", At: g.later(1),
	})
}

func (g *saidCase) run() {
	sheet, id := g.count(1, g.sheets), g.id()
	slug := g.one("wash", "lime", "lime", "surface-clean")
	names := map[string]string{"wash": "washing", "lime": "lime bath", "surface-clean": "surface cleaning"}
	b := record.RunStarted{
		ID: id, Operation: slug, OperationName: names[slug], Sheets: []int{sheet}, At: g.later(5), Makes: record.Wet,
		PlannedMin: float64(g.count(0, 40)), TempC: g.maybe(15, 25),
	}
	if slug != "surface-clean" {
		b.Bath = &record.Bath{
			ID: g.id(), Liquid: "conditioned water", VolumeMl: float64(g.count(50, 300) * 10),
			Tray:  g.one("", "tray B"),
			TempC: g.maybe(15, 25), PH: g.maybe(5, 12), PHMethod: "electrode", ConductUS: g.maybe(20, 900),
		}
	}
	if slug == "lime" {
		b.Bath.Liquid, b.Bath.Substance = "calcium hydroxide in water", "calcium hydroxide"
		b.Bath.StrengthGL = &record.Range{Low: 0.37, Best: 0.4, High: 0.43}
	}
	if g.yes() {
		b.Overrides = []record.Override{{
			Gate: g.one("inks", "dry"), Say: g.one("", "The red moved.", "red moved in water"), Reason: "not on this sheet",
		}}
	}
	g.runs = append(g.runs, id)
	defer g.expected(id, sheet)
	end := record.RunEnded{Run: id, At: g.later(g.count(1, 40)), Outcome: "done", Leaves: record.Dry}
	if g.yes() {
		end.Outcome, end.Reason = "stopped", "fibres lift"
	}
	g.add(b, end)
}

// expected keeps what was expected of a run, written when it has ended, and reads one of
// it, where it is of a bath.
func (g *saidCase) expected(run string, sheet int) {
	if !g.yes() {
		return
	}
	best := float64(g.count(50, 120)) / 10
	g.add(record.RunExpected{
		Run: run, Model: "a test's", Inputs: []string{"00"}, Coverage: 80, Values: []record.ExpectedValue{{
			Quantity: "extract-ph", Moment: record.OnceDry, Sheets: []int{sheet}, Class: record.Groundwood,
			Value: record.Range{Low: best - 0.4, Best: best, High: best + 0.7},
		}},
	}, record.Reading{
		Quantity: "extract-ph", Value: float64(g.count(40, 120)) / 10, Method: "cold extraction", Stage: record.StageAfter,
		Place: record.Place{Sheets: []int{sheet}}, At: g.later(1),
	})
}

func (g *saidCase) journal() []record.Body {
	g.sheets = g.count(1, 4)
	all := make([]int, g.sheets)
	for i := range all {
		all[i] = i + 1
	}
	g.add(record.MakeUp{InnerSheets: g.sheets, Cover: "self", Binding: "loose", FirstPage: 1}, record.Stock{
		ID: g.id(), Name: "interior", Class: "groundwood", Sheets: all, WidthMm: 340, HeightMm: 260, GrammageGM2: 52,
		GrammageBasis: "measured", Grain: "unknown",
	})
	for range g.count(1, 4) {
		g.add(g.damage())
	}
	for range g.count(0, 3) {
		g.add(record.SpotTest{
			ID: g.id(), Sort: record.TestSolubility, Colour: g.one("red", "black"), Place: g.place(), Liquid: "water",
			Result: record.ResultNone,
		})
	}
	if g.yes() {
		g.proposal()
	}
	for range g.count(1, 4) {
		g.run()
	}
	for range g.count(4, 9) {
		g.add(g.reading())
	}
	if len(g.runs) > 0 && g.yes() {
		g.adopted()
	}
	for _, d := range g.broken {
		if g.yes() {
			g.add(record.DamageAfter{Damage: d, Outcome: "mended", Text: "holds"})
		}
	}
	if g.yes() {
		g.add(record.Mend{
			ID: g.id(), Place: record.Place{Sheets: []int{1}}, At: g.later(2), Tissue: "kozo tissue",
			TissueGM2: g.maybe(3, 9),
			Adhesive:  "methyl cellulose, 4 % w/v", State: record.MendDry, LengthMm: g.maybe(5, 90),
		})
	}
	if g.yes() {
		g.add(record.PartKept{
			ID: g.id(), Sort: "fragment", What: "corner", From: g.place(), Where: "drawer 3", Label: "F-1",
		})
	}
	return g.bodies
}

// cells are the texts of a row of a table, or of what else holds parts.
func cells(n *html.Node) []string {
	var list []string
	for c := range n.ChildNodes() {
		if c.Type == html.ElementNode {
			list = append(list, textOf(c))
		}
	}
	return list
}

// TestScreenAndPaperSayTheSame draws journals and holds what Results, Condition,
// Proposal, a run's page and the log show against report, proposal and invoice, as
// poppler reads them: every fact in the same number, unit, digits and uncertainty.
func TestScreenAndPaperSayTheSame(t *testing.T) {
	checks := "40"
	if testing.Short() {
		checks = "8"
	}
	for name, value := range map[string]string{"rapid.checks": checks, "rapid.nofailfile": "true"} {
		old := flag.Lookup(name).Value.String()
		flag.Set(name, value)
		defer flag.Set(name, old)
	}
	s, clock := newServer(t)
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		id := openCase(t, s)
		g := &saidCase{T: rt, now: clock.t, opened: caseOf(t, s, id).LastSeq}
		bodies := g.journal()
		clock.t = g.now.Add(time.Minute)
		appendTo(t, s, id, bodies...)
		newComparison(t, rt, s, id).compare(g)
	})
}

// comparison holds the pages of a case against its papers.
type comparison struct {
	t    *testing.T
	rt   *rapid.T
	s    *Server
	at   string
	text map[string]string // papers by their address
}

func newComparison(t *testing.T, rt *rapid.T, s *Server, id record.CaseID) *comparison {
	return &comparison{t: t, rt: rt, s: s, at: "/cases/" + string(id), text: map[string]string{}}
}

func (x *comparison) page(path string) looked {
	p, w := get(x.t, x.s, x.at+path)
	if w.Code != http.StatusOK {
		x.rt.Fatalf("%s: status %d", path, w.Code)
	}
	return p
}

// says fails when a paper does not say the parts one after the other.
func (x *comparison) says(paper, what string, parts ...string) {
	text, ok := x.text[paper]
	if !ok {
		text = paperText(x.t, x.s, x.at+paper)
		x.text[paper] = text
	}
	if want := oneBlank(strings.Join(parts, " ")); !strings.Contains(text, want) {
		x.rt.Errorf("%s: the screen shows %q, and %s does not:\n%s", what, want, paper, text)
	}
}

func (x *comparison) compare(g *saidCase) {
	results, condition, log := x.page("/results"), x.page("/condition"), x.page("/log")
	for _, row := range results.all("#readings tbody tr") {
		c := cells(row)
		where, method := apart(row, 1, ".basis")
		change, remarks := apart(row, 4, ".basis")
		x.says("/report.pdf", "a reading", c[0], where, c[2], c[3], change, method, remarks)
	}
	for _, fact := range results.all("#left dl.facts div") {
		x.says("/report.pdf", "left in the paper", cells(fact)...)
	}
	for _, table := range []string{"#added", "#removed", "#departures"} {
		for _, row := range results.all(table + " tbody tr") {
			x.says("/report.pdf", table, cells(row)...)
		}
	}
	for _, item := range results.all("#unread li") {
		x.says("/report.pdf", "a test not read again", textOf(item))
	}
	for i, row := range condition.all("#findings li") {
		of := func(class string) string {
			for _, n := range (looked{x.t, row}).all(class) {
				return textOf(n)
			}
			return ""
		}
		x.says("/report.pdf", "a damage", fmt.Sprint(i+1), strings.ToLower(of(".kind")), of(".where"), of(".extent"),
			of(".severity"), of(".cause"))
	}
	for _, fact := range condition.all("#totals dl.facts div") {
		total, basis := apart(fact, 1, ".basis")
		x.says("/report.pdf", "a total", cells(fact)[0], total+"; "+basis)
	}
	x.compareRuns(g)
	x.compareSheet(g.count(1, g.sheets))
	x.compareReadings(g, log)
	if len(x.page("/proposal").all(".option")) > 0 {
		proposal := x.page("/proposal")
		price := proposal.text(".option .price")
		x.says("/proposal/1", "a price", "Total", price)
		var lines []string
		for _, row := range proposal.all(".option tfoot tr") {
			lines = append(lines, cells(row)...)
		}
		x.says("/proposal/1", "how a price comes about", lines...)
		x.says("/invoice.pdf", "a price", "To pay", price)
	}
}

// compareRuns holds the facts of each run's page against the report.
func (x *comparison) compareRuns(g *saidCase) {
	for _, run := range g.runs {
		page := x.page("/runs/" + run)
		for _, passed := range page.all("main .columns .notice") {
			x.says("/report.pdf", "a gate passed", textOf(passed))
		}
		for _, fact := range page.all("main .columns dl.facts div") {
			if c := cells(fact); c[0] != "Sheets" {
				x.says("/report.pdf", "a run", c...)
			}
		}
		for _, row := range page.all("#expected tbody tr") {
			c := cells(row)
			verdict, _ := apart(row, 3, ".basis")
			if c[2] == "–" || strings.HasPrefix(verdict, "Not counted") {
				continue
			}
			verdict, _, _ = strings.Cut(strings.ToLower(verdict), " range")
			x.says("/report.pdf", "what was expected", c[0]+":", c[1]+";", "read", c[2]+",", verdict)
		}
	}
}

// compareSheet holds the pages of a sheet against the report: its paper, what was
// read before treatment, each reading of it, what its baths left, what was adopted.
func (x *comparison) compareSheet(n int) {
	at := fmt.Sprintf("/sheets/%d", n)
	known := x.page(at).all(".knowns div")
	for _, fact := range known {
		value, _ := apart(fact, 1, ".basis")
		switch name, how := apart(fact, 0, ".how"); {
		case name == "Size, opened", name == "Grammage" && how == "measured":
			x.says("/report.pdf", "the paper of a sheet", value)
		case name == "Surface pH":
			for part := range strings.SplitSeq(value, ", ") {
				part, _, _ = strings.Cut(part, " on ")
				x.says("/report.pdf", "a pH of a sheet", part)
			}
		}
	}
	if len(known) == 0 {
		x.rt.Errorf("%s says nothing of the paper", at)
	}
	measured := x.page(at + "/measured")
	for _, row := range measured.all("#readings tbody tr") {
		what, unit := apart(row, 0, ".unit")
		read := cells(row)[2]
		if usual := strings.Index(read, "*"); usual >= 0 { // the uncertainty is not of the record
			read, _, _ = strings.Cut(read, " ± ")
		}
		x.says("/report.pdf", "a reading of "+what, read, unit)
	}
	for _, fact := range measured.all("#left dl.facts div") {
		x.says("/report.pdf", "left in a sheet", cells(fact)...)
	}
	for _, row := range measured.all("#adopted tbody tr") {
		_, unit := apart(row, 0, ".unit")
		value, spread := apart(row, 1, ".basis")
		_, ends := apart(row, 1, ".range")
		number := strings.TrimSuffix(value, ends)
		x.says("/report.pdf", "a value adopted", number, unit, "("+ends+")")
		x.says("/report.pdf", "how far it was widened", spread)
	}
}

// compareReadings holds what the log says of each reading against the list of all
// readings.
func (x *comparison) compareReadings(g *saidCase, log looked) {
	told, made := 0, 0
	for _, b := range g.bodies {
		if _, is := b.(record.Reading); is {
			made++
		}
	}
	for _, line := range log.all(".log .said") {
		for _, q := range record.Quantities {
			value, is := strings.CutPrefix(textOf(line), upperFirst(q.Words)+" ")
			if !is {
				continue
			}
			told++
			value, _, _ = strings.Cut(value, ",")
			value, _, _ = strings.Cut(value, " at 9 May") // when it was read
			x.says("/report.pdf", "a reading in the log", value)
			beside := regexp.MustCompile(regexp.QuoteMeta(q.Words) + ".{1,90} " + regexp.QuoteMeta(value) + " ")
			if !beside.MatchString(x.text["/report.pdf"]) {
				x.rt.Errorf("the report has no row of %s with %q", q.Words, value)
			}
		}
	}
	if told != made {
		x.rt.Errorf("the log tells %d of %d readings", told, made)
	}
}

// apart is the text of the i-th cell of a row without its parts of a class, and
// these.
func apart(row *html.Node, i int, class string) (text, small string) {
	n := 0
	for c := range row.ChildNodes() {
		if c.Type != html.ElementNode {
			continue
		}
		if n == i {
			for d := range c.Descendants() {
				if d.Type == html.ElementNode && suits(d, class) {
					small += textOf(d) + " "
				}
			}
			small = strings.TrimSpace(small)
			return strings.TrimSpace(strings.TrimSuffix(textOf(c), small)), small
		}
		n++
	}
	return "", ""
}
