package treatment

import (
	"fmt"
	"slices"
	"strings"

	"benchleaf/internal/record"
)

// Draft is what the findings call for, for the conservator to change: never
// more than a first sketch of a proposal. Hours and prices are left open.
type Draft struct {
	Operations []record.Planned
	// LeftOut says what was considered and why it is not in the draft.
	LeftOut []string
}

// acidBelow is the surface pH under which the draft calls for acid to be
// washed out: treated paper is usually accepted from pH 7 (common practice, no
// source), and a surface reading spreads by about half a unit from spot to spot.
const acidBelow = 6.5

// Terms of package condition's vocabulary.
const tapeTerm = "pressure-sensitive tape"

var (
	stainTerms = []string{"tideline", "stain", "discolouration", "foxing", "rust migration", "tape residue"}
	tearTerms  = []string{"tear", "spine split", "puncture", "staple hole"}
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
		d.add("condition", nil, "all sheets to one moisture before they are measured and put together")
	}
	if len(c.Staples) > 0 && (len(wet) > 0 || rusty(c)) {
		d.add("reassemble", nil, "through the old holes")
	}
	d.add("house", nil, "keeps what was done")
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
	d.add("surface-clean", nil, "loose soil would set in water")
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
			if b.LengthMm != nil {
				what += fmt.Sprintf(" of %.0f mm", *b.LengthMm)
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

// wet sketches the baths, paper by paper, and returns the sheets that get wet.
func (d *drafter) wet() []int {
	var wash, reduce, lime []int
	var why, whyReduce []string
	stained, stain := d.found(stainTerms...)
	for _, s := range stocks(d.c, d.c.Sheets()) {
		acid := d.acid(s)
		dirty := intersect(s.sheets, stained)
		if acid == "" && len(dirty) == 0 {
			continue
		}
		at := Start{Operation: Find("wash"), Sheets: s.sheets}
		if say, stops := gateWater.judge(d.c, at); stops {
			d.leaveOut("No immersion of the %s: %s", s.name, say)
			continue
		}
		if say, stops := gateAlkali.judge(d.c, at); stops && acid != "" {
			d.leaveOut("No lime for the %s: %s", s.name, say)
			if len(dirty) == 0 {
				continue
			}
		} else if acid != "" {
			lime = append(lime, s.sheets...)
		}
		wash = append(wash, s.sheets...)
		why = append(why, acid)
		if len(dirty) > 0 {
			if say, stops := gateBleach.judge(d.c, at); stops {
				d.leaveOut("No reducing bleach for the %s: %s", s.name, say)
			} else {
				reduce = append(reduce, dirty...)
				whyReduce = append(whyReduce, stain)
			}
		}
	}
	if len(wash) == 0 {
		return nil
	}
	if !rusty(d.c) && len(d.c.Staples) > 0 {
		d.add("staples-out", nil, "metal must not get wet")
	}
	d.add("take-apart", nil, "each sheet gets its own treatment")
	d.add("wash", wash, join(why, "soluble acid and stain out"))
	if len(reduce) > 0 {
		d.add("reduce", reduce, "only if it stays after washing: "+join(whyReduce, "stain"))
		d.add("rinse", reduce, "to a level conductivity, before anything else")
	}
	if len(lime) > 0 {
		d.add("lime", lime, "a carbonate reserve where the acid was"+d.lignin(lime))
	}
	slices.Sort(wash)
	return wash
}

// acid says which reading shows a paper to be acid, or nothing.
func (d *drafter) acid(s namedSheets) string {
	for _, r := range d.c.Readings {
		b := &r.Body
		if (b.Quantity == "surface-ph" || b.Quantity == "extract-ph") &&
			b.Value < acidBelow && b.Stage != record.StageAfter &&
			len(intersect(b.Place.Sheets, s.sheets)) > 0 {
			return fmt.Sprintf("pH %.1f on %s", b.Value, record.SheetNames(b.Place.Sheets))
		}
	}
	return ""
}

func (d *drafter) lignin(sheets []int) string {
	if _, stops := gateNoLignin.judge(d.c, Start{Sheets: sheets}); stops {
		return "; lignin was found, so the alkaline paper must be kept from light"
	}
	return ""
}

func (d *drafter) mends(wet []int) {
	torn, what := d.found(tearTerms...)
	if on := intersect(torn, wet); len(on) > 0 {
		d.add("mend-damp", on, what)
	}
	if on := minus(torn, wet); len(on) > 0 {
		d.add("mend-dry", on, what)
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
