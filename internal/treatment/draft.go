package treatment

import (
	"fmt"
	"slices"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// Draft is what the findings call for, for the conservator to change: never
// more than a first sketch of a proposal. Hours and prices are left open.
type Draft struct {
	Operations []record.Planned
	// LeftOut says what was considered and why it is not in the draft.
	LeftOut []string
	// Choices are questions on which practice disagrees, of what the draft holds.
	Choices []Choice
}

// Choice is a question that the draft answers one way, with what speaks for either.
type Choice struct{ Question, For, Against, Basis string }

// acidBelow is the surface pH under which the draft calls for acid to be
// washed out: treated paper is usually accepted from pH 7 (common practice, no
// source), and a surface reading spreads by about half a unit from spot to spot.
const acidBelow = 6.5

// Terms of package condition's vocabulary.
const tapeTerm = "pressure-sensitive tape"

var (
	stainTerms = []string{"tideline", "stain", "discolouration", "foxing", "rust migration", "tape residue"}
	tearTerms  = []string{"tear", "spine split", "puncture", "staple hole"}
	lossTerms  = []string{"loss"}
	bentTerms  = []string{"cockling", "planar distortion", "crease", "fold", "dog-ear"}
	soilTerms  = []string{"surface dirt", "accretion"}
)

// DraftPlan reads the findings and sketches the operations in the order that
// benches keep, each with the finding that calls for it.
func DraftPlan(c *record.Case) Draft {
	d := drafter{c: c}
	d.dry()
	wet := d.wet()
	d.mends(wet)
	if len(wet) > 0 {
		d.add("dry-absorbent", wet, "flat under restraint, all sheets of a paper alike")
	}
	if torn, what := d.found(tearTerms...); len(minus(torn, wet)) > 0 {
		d.add("mend-dry", minus(torn, wet), what)
	}
	if lost, what := d.found(lossTerms...); len(lost) > 0 {
		d.add("infill", lost, "only where it needs support: "+what)
	}
	if bent, what := d.found(bentTerms...); len(minus(bent, wet)) > 0 {
		d.add("flatten", minus(bent, wet), what)
	}
	if len(wet) > 0 {
		d.add("condition", nil, "all sheets to one moisture before they are measured and put together")
	}
	if len(c.Staples) > 0 && (len(wet) > 0 || rusty(c)) {
		d.add("reassemble", nil, "through the old holes")
	}
	d.add("house", nil, "keeps what was done")
	d.unanswered()
	d.choose()
	return d.draft
}

type drafter struct {
	c     *record.Case
	draft Draft
}

func (d *drafter) add(op string, sheets []int, why string) {
	x := record.Planned{Operation: op, Sheets: sheets, Why: why}
	if len(sheets) > 0 {
		if p := d.c.PlanOf(sheets[0], op); p != nil {
			x.Detail = PlanWords(&p.Body)
		}
	}
	d.draft.Operations = append(d.draft.Operations, x)
}

func (d *drafter) leaveOut(format string, args ...any) {
	d.draft.LeftOut = append(d.draft.LeftOut, fmt.Sprintf(format, args...))
}

func (d *drafter) dry() {
	why := "loose soil would set in water"
	if on, what := d.found(soilTerms...); len(on) > 0 {
		why += "; " + what
	}
	d.add("surface-clean", nil, why)
	if rusty(d.c) {
		d.add("staples-out", nil, "a staple rusts")
	}
	if on, what := d.found(tapeTerm); len(on) > 0 {
		d.add("tape-off", on, what)
	}
}

func rusty(c *record.Case) bool {
	return slices.ContainsFunc(c.Staples, func(s record.MappedStaple) bool { return s.Body.Rust != "none" })
}

// found lists the sheets with damages of some terms, and names the first.
func (d *drafter) found(terms ...string) (sheets []int, what string) {
	for i := range d.c.Damages {
		b := &d.c.Damages[i].Body
		if !slices.Contains(terms, b.Term) {
			continue
		}
		if what == "" {
			what = b.Term
			if mm, known := b.Length(); known {
				what += fmt.Sprintf(" of %.0f mm", mm)
			}
			what += " on " + record.SheetNames(b.Place.Sheets)
		}
		for _, n := range b.Place.Sheets {
			if !slices.Contains(sheets, n) {
				sheets = append(sheets, n)
			}
		}
	}
	slices.Sort(sheets)
	return sheets, what
}

// wet sketches the baths and returns the sheets that get wet. A test, and a reading of
// pH, speak for the part that they were made on alone.
func (d *drafter) wet() []int {
	stained, stain := d.found(stainTerms...)
	acid, why := d.acid()
	want := slices.DeleteFunc(d.c.Sheets(), func(n int) bool {
		return !slices.Contains(acid, n) && !slices.Contains(stained, n)
	})
	var wash, lime, reduce []int
	for _, f := range inksOf(d.c, want, inWater) {
		if f.stops() {
			d.leaveOut("No immersion of the %s, though %s: %s", f.part, d.calls(f.sheets, why), f.say("water"))
			continue
		}
		wash = append(wash, f.sheets...)
	}
	for _, f := range inksOf(d.c, intersect(wash, acid), inAlkali) {
		if f.stops() {
			d.leaveOut("No lime for the %s: %s", f.part, f.say("alkaline water"))
			if on := minus(f.sheets, stained); len(on) > 0 {
				wash = minus(wash, on)
			}
			continue
		}
		lime = append(lime, f.sheets...)
	}
	for _, f := range inksOf(d.c, intersect(wash, stained), inBleach) {
		if f.stops() {
			d.leaveOut("No reducing bleach for the %s: %s", f.part, f.say("the borohydride bath"))
			continue
		}
		reduce = append(reduce, f.sheets...)
	}
	if len(wash) == 0 {
		return nil
	}
	slices.Sort(wash)
	slices.Sort(lime)
	slices.Sort(reduce)
	if !rusty(d.c) && len(d.c.Staples) > 0 {
		d.add("staples-out", nil, "metal must not get wet")
	}
	d.add("take-apart", nil, "each sheet gets its own treatment")
	d.add("wash", wash, join([]string{why}, "soluble acid and stain out"))
	if len(reduce) > 0 {
		d.add("reduce", reduce, "only if it stays after washing: "+stain)
		d.add("rinse", reduce, "to a level conductivity, before anything else")
	}
	if len(lime) > 0 {
		d.add("lime", lime, "a carbonate reserve where the acid was"+d.lignin(lime))
	}
	return wash
}

// calls says what calls for water on some sheets.
func (d *drafter) calls(sheets []int, acid string) string {
	var list []string
	if on, _ := d.acid(); len(intersect(on, sheets)) > 0 {
		list = append(list, acid)
	}
	for _, term := range stainTerms {
		if on, what := d.found(term); len(intersect(on, sheets)) > 0 {
			list = append(list, what+" was found")
		}
	}
	return strings.Join(list, " and ")
}

// acid lists the sheets whose paper a reading shows to be acid, and names the readings.
// A reading speaks for the paper that it was made on, or, where that is not described,
// for its sheets alone.
func (d *drafter) acid() (sheets []int, why string) {
	var readings []string
	for _, r := range d.c.Readings {
		b := &r.Body
		if b.Quantity != "surface-ph" && b.Quantity != "extract-ph" || b.Value >= acidBelow ||
			b.Stage == record.StageAfter || b.Run != "" {
			continue
		}
		readings = append(readings, fmt.Sprintf("pH %.1f on %s", b.Value, record.SheetNames(b.Place.Sheets)))
		for _, n := range d.c.Sheets() {
			if speaksFor(d.c, b.Place.Sheets, n) && !slices.Contains(sheets, n) {
				sheets = append(sheets, n)
			}
		}
	}
	slices.Sort(sheets)
	return sheets, strings.Join(readings, "; ")
}

// speaksFor says whether a reading on some sheets, or on the whole object, speaks for one.
func speaksFor(c *record.Case, on []int, sheet int) bool {
	if len(on) == 0 || slices.Contains(on, sheet) {
		return true
	}
	st := c.StockOf(sheet)
	return st != nil && onStock(on, st.Sheets)
}

// unanswered names the damages that nothing in the draft answers, so that none is passed
// over unseen.
func (d *drafter) unanswered() {
	answered := slices.Concat([]string{tapeTerm}, stainTerms, tearTerms, lossTerms, bentTerms, soilTerms)
	said := map[string]bool{}
	for i := range d.c.Damages {
		b := &d.c.Damages[i].Body
		if said[b.Term] || slices.Contains(answered, b.Term) {
			continue
		}
		said[b.Term] = true
		on, what := d.found(b.Term)
		if b.Term == "mould" {
			d.leaveOut("%s: quarantine and drying come first, and brushing only once it is inactive.",
				words.English.Upper(what))
			continue
		}
		d.leaveOut("%s: no operation is meant for %s; decide whether anything is done.", words.English.Upper(what),
			plural(len(on), "it on that sheet", "it on those sheets"))
	}
	if stained, what := d.found(stainTerms...); len(stained) > 0 {
		if dry := minus(stained, d.inDraft("wash")); len(dry) > 0 && len(d.draft.LeftOut) == 0 {
			d.leaveOut("%s: not washed, so left as it is.", words.English.Upper(what))
		}
	}
}

// inDraft lists the sheets that the draft has an operation for.
func (d *drafter) inDraft(op string) []int {
	for _, x := range d.draft.Operations {
		if x.Operation == op {
			return x.Sheets
		}
	}
	return nil
}

// choose lists the questions on which practice disagrees, of what the draft holds
// (notes on practice, section 12).
func (d *drafter) choose() {
	has := func(op string) bool { return len(d.inDraft(op)) > 0 }
	groundwood := slices.ContainsFunc(d.inDraft("wash"), func(n int) bool { return Lignin(d.c, n) != "" })
	add := func(is bool, question, pro, con, basis string) {
		if is {
			d.draft.Choices = append(d.draft.Choices, Choice{question, pro, con, basis})
		}
	}
	add(has("wash") && groundwood, "Wash groundwood at all?",
		"removes acid and strengthens bonds in most papers (AIC handbook, read)",
		"weak wet sheets, change of size, risk to ink; many only float it, wash on blotters or leave it (common practice)",
		"washing is sketched; change it to floating, or leave it out")
	add(has("lime") && groundwood, "Alkaline groundwood?",
		"slows acid breakdown; lifetime clearly longer (Bukovsky and Kuka, read)",
		"yellows faster in light: later exposure to light decides (Bukovsky, read)",
		"lime is sketched; say in the risks that it must be kept dark")
	add(has("reduce"), "Bleach at all?",
		"reduction brightens and makes paper stabler to alkali (Tang 1986, read)",
		"cosmetic, a last resort, gas can harm the sheet (reported, read); old tide lines barely respond (Dupont 1996, read)",
		"it is sketched for what is still there after washing")
	add(has("mend-damp"), "Mend damp or dry?",
		"damp, sheet and tissue dry as one and edges align",
		"the wet sheet is weak; dry, little water and at once under weight (common practice)",
		"damp is sketched where the sheet gets wet anyway")
	add(len(d.c.Staples) > 0 && d.holds("reassemble"), "The old staples?",
		"kept and put back: usually what collectors want (common practice)",
		"thread or new wire where they rust; or left in, kept dry (archive guidance, read)",
		"the old ones are sketched; consent is asked for anything else")
}

// holds says whether the draft has an operation at all.
func (d *drafter) holds(op string) bool {
	return slices.ContainsFunc(d.draft.Operations, func(x record.Planned) bool { return x.Operation == op })
}

func (d *drafter) lignin(sheets []int) string {
	if _, stops := gateNoLignin.judge(d.c, Start{Sheets: sheets}); stops {
		return "; lignin was found, so the alkaline paper must be kept from light"
	}
	return ""
}

func (d *drafter) mends(wet []int) {
	if torn, what := d.found(tearTerms...); len(intersect(torn, wet)) > 0 {
		d.add("mend-damp", intersect(torn, wet), what)
	}
}

func intersect(a, b []int) []int {
	var list []int
	for _, n := range a {
		if slices.Contains(b, n) {
			list = append(list, n)
		}
	}
	return list
}

func minus(a, b []int) []int {
	var list []int
	for _, n := range a {
		if !slices.Contains(b, n) {
			list = append(list, n)
		}
	}
	return list
}

func join(parts []string, otherwise string) string {
	parts = slices.DeleteFunc(slices.Clone(parts), func(s string) bool { return s == "" })
	if len(parts) == 0 {
		return otherwise
	}
	return strings.Join(slices.Compact(parts), "; ")
}
