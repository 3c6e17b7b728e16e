package account

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"benchleaf/condition"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/makeup"
)

// What the mends of an object take.
const (
	MendsToMake  Code = "mends-to-make"
	StripsToTear Code = "strips-to-tear"
	TissueToLay  Code = "tissue-to-lay"
	TissueToTake Code = "tissue-to-take"
	TissueMass   Code = "tissue-mass"
	PasteMass    Code = "paste-mass"
	MendTime     Code = "mend-time"
	OwnMendTime  Code = "own-mend-time"
)

// Mending is what the mends of an object take, by its plan and the map.
type Mending struct {
	Plan   *record.MendPlan // nil: none is recorded, and only the sums of the map are known
	Facts  []Fact
	Sheets []SheetMends
	// Unmeasured are findings to mend that have no extent.
	Unmeasured []string
}

// SheetMends is what is to be mended on one sheet.
type SheetMends struct {
	Sheet            int
	Kinds            []string
	Mends            int
	LengthMm         float64
	AreaMm2, Percent float64 // of the findings, and their share of the face
}

// MendingOf sums what there is to mend and what it takes. A finding that was mended
// already, or left on purpose, counts no more.
func MendingOf(c *record.Case) Mending {
	m := Mending{}
	var todo []condition.Damage
	sizes := condition.Sizes{}
	if nest := c.MakeUpFound(); nest != nil {
		sizes = groundOf(c, *nest).Sizes
	}
	for i := range c.Damages {
		d := &c.Damages[i]
		k, known := condition.Look(condition.Term(d.Body.Term))
		if !known || k.Mend == condition.NoMend || settled(d) {
			continue
		}
		list := toMend(&d.Body, k, sizes)
		if len(list) == 0 {
			m.Unmeasured = append(m.Unmeasured, fmt.Sprintf("no. %d, %s", d.No, Term(d.Body.Term)))
		}
		todo = append(todo, list...)
	}
	m.Sheets = mendsBySheet(todo, sizes)
	if c.MendPlan != nil {
		m.Plan = &c.MendPlan.Body
		m.Facts = mendFacts(c, m.Plan, todo, sizes)
	}
	return m
}

func settled(d *record.FoundDamage) bool {
	return d.After != nil && d.After.Body.Outcome != "worse" && d.After.Body.Outcome != "unchanged"
}

// toMend are the pieces of one finding on each sheet: as they are drawn; where an
// extent was measured, that of a straight line or a square of it.
func toMend(b *record.Damage, k condition.Kind, sizes condition.Sizes) []condition.Damage {
	if len(b.Shapes) > 0 && b.LengthMm == nil && b.AreaMm2 == nil && b.Place.Face != "" {
		return sheetParts(b, sizes)
	}
	var shape condition.Shape
	switch {
	case k.Mend == condition.MendStrip && b.LengthMm != nil:
		shape = condition.Shape{Form: condition.Line, Points: []condition.Point{{}, {XMm: *b.LengthMm}}}
	case k.Mend == condition.MendPatch && (b.AreaMm2 != nil || b.LengthMm != nil && b.WidthMm != nil):
		w := 0.0
		if b.AreaMm2 != nil {
			w = math.Sqrt(*b.AreaMm2)
		} else {
			w = math.Sqrt(*b.LengthMm * *b.WidthMm)
		}
		shape = condition.Shape{Form: condition.Box, Points: []condition.Point{{}, {XMm: w, YMm: w}}}
	default:
		return nil
	}
	n := 1
	if b.Count != nil {
		n = min(*b.Count, condition.MaxShapes)
	}
	var list []condition.Damage
	for _, s := range b.Place.Sheets {
		at := makeup.Sheet(s)
		list = append(list, condition.Damage{
			Term: k.Term, Shapes: slices.Repeat([]condition.Shape{shape}, n), From: at, To: at, Through: b.Through,
		})
	}
	return list
}

func mendsBySheet(todo []condition.Damage, sizes condition.Sizes) []SheetMends {
	by := map[int]*SheetMends{}
	for _, d := range todo {
		n := int(d.From)
		if by[n] == nil {
			by[n] = &SheetMends{Sheet: n}
		}
		x := by[n]
		for _, t := range condition.Sum([]condition.Damage{d}, sizes) {
			x.LengthMm, x.AreaMm2 = x.LengthMm+t.LengthMm, x.AreaMm2+t.AreaMm2
			if name := Term(string(t.Kind.Term)); !slices.Contains(x.Kinds, name) {
				x.Kinds = append(x.Kinds, name)
			}
		}
		x.Mends += len(d.Shapes)
	}
	var list []SheetMends
	for _, x := range by {
		if size, known := sizes[makeup.Sheet(x.Sheet)]; known {
			x.Percent = 100 * x.AreaMm2 / (size.WidthMm * size.HeightMm)
		}
		list = append(list, *x)
	}
	slices.SortFunc(list, func(a, b SheetMends) int { return a.Sheet - b.Sheet })
	return list
}

func mendFacts(c *record.Case, p *record.MendPlan, todo []condition.Damage, sizes condition.Sizes) []Fact {
	t, err := condition.TissueFor(todo, sizes, condition.Mending{
		StripWidthMm: p.StripWidthMm, MarginMm: p.MarginMm, BothFaces: p.Faces == record.MendBothFaces,
		Waste: p.WastePercent / 100,
	})
	if err != nil || t.Mends == 0 {
		return nil
	}
	var facts []Fact
	add := func(code Code, name string, f words.Figure, rests string) {
		facts = append(facts, Fact{Code: code, Name: name, Figure: &f, Basis: Computed, RestsOn: rests})
	}
	faces := "one face"
	if p.Faces == record.MendBothFaces {
		faces = "both faces"
	}
	add(MendsToMake, "Mends to make", words.Figure{Value: float64(t.Mends)}, "each sheet counted, on "+faces)
	if t.StripLengthMm > 0 {
		add(StripsToTear, "Strips to tear", words.Figure{Value: round3(t.StripLengthMm / 1000), Unit: "m"},
			fmt.Sprintf("%g mm wide, %g mm beyond each end", p.StripWidthMm, p.MarginMm))
	}
	laid := t.StripAreaMm2 + t.PatchAreaMm2
	add(TissueToLay, "Tissue laid", words.Figure{Value: round3(laid / 100), Unit: "cm²"},
		"strips by their width; pieces over losses with the margin all round")
	add(TissueToTake, "Tissue to take", words.Figure{Value: round3(t.TakeMm2 / 100), Unit: "cm²"},
		fmt.Sprintf("%g %% of it lost to torn edges and offcuts", p.WastePercent))
	add(TissueMass, "Weight of that", words.Figure{Value: round3(t.TakeMm2 / 1e6 * p.TissueGM2), Unit: "g"},
		fmt.Sprintf("%s, %g g/m²", p.Tissue, p.TissueGM2))
	if p.PasteGM2 != nil {
		add(PasteMass, "Wet paste", words.Figure{Value: round3(laid / 1e6 * *p.PasteGM2), Unit: "g"},
			fmt.Sprintf("%g g to the m² of tissue laid, as the plan says", *p.PasteGM2))
	}
	if p.MinutesEach != nil {
		add(MendTime, "Time", words.Figure{Value: round3(float64(t.Mends) * *p.MinutesEach / 60), Unit: "h"},
			fmt.Sprintf("%g min a mend, as the studio says", *p.MinutesEach))
	}
	if own := OwnMendMinutes(c); own != nil {
		n := float64(t.Mends) / 60
		best, low, high := round3(n*own.Best), round3(n*own.Low), round3(n*own.High)
		add(OwnMendTime, "Time by the mends logged",
			words.Figure{Value: best, Unit: "h", Range: &record.Range{Low: low, Best: best, High: high}},
			fmt.Sprintf("%.0f min a mend, eight in ten took %.0f to %.0f min", own.Best, own.Low, own.High))
	}
	return facts
}

// leastMends is how many times must lie between logged mends before a spread is
// told: fewer show nothing of it.
const leastMends = 5

// longestMend is the longest time between two mends that still counts as work on
// the second, and not as a pause.
const longestMend = 45 * time.Minute

// OwnMendMinutes is how long a mend took, by the times between mends that one person
// logged one after another: the median, and between which eight in ten lie; nil
// where fewer than five times are known.
func OwnMendMinutes(c *record.Case) *record.Range {
	last := map[string]time.Time{}
	var took []float64
	mends := slices.Clone(c.Mends)
	slices.SortStableFunc(mends, func(a, b record.Stamped[record.Mend]) int {
		return or(a.Body.At, a.Time).Compare(or(b.Body.At, b.Time))
	})
	for _, m := range mends {
		at := or(m.Body.At, m.Time)
		if before, known := last[m.By]; known && at.Sub(before) > time.Minute/2 && at.Sub(before) <= longestMend {
			took = append(took, at.Sub(before).Minutes())
		}
		last[m.By] = at
	}
	if len(took) < leastMends {
		return nil
	}
	slices.Sort(took)
	q := func(p float64) float64 {
		at := p * float64(len(took)-1)
		i := int(at)
		if i+1 >= len(took) {
			return took[i]
		}
		return took[i] + (at-float64(i))*(took[i+1]-took[i])
	}
	return &record.Range{Low: q(0.1), Best: q(0.5), High: q(0.9)}
}

// MendWords are what the mends take in a line of a proposal; empty where nothing is
// planned or drawn.
func MendWords(c *record.Case) string {
	m := MendingOf(c)
	parts := []string{}
	if m.Plan != nil {
		parts = append(parts, words.Joined(", ", m.Plan.Tissue, m.Plan.Note))
	}
	for _, f := range m.Facts {
		switch f.Code {
		case MendsToMake, StripsToTear, TissueToTake, MendTime, OwnMendTime:
			parts = append(parts, strings.ToLower(f.Name)+" "+f.Value(en))
		}
	}
	return words.Joined("; ", parts...)
}

// NextToMend is the outermost sheet that a damage runs through and that no mend of it
// is on yet; none where all are mended.
func NextToMend(c *record.Case, d *record.FoundDamage) []int {
	for _, n := range d.Body.Place.Sheets {
		done := slices.ContainsFunc(c.Mends, func(m record.Stamped[record.Mend]) bool {
			return slices.Contains(m.Body.Damages, d.Body.ID) && slices.Contains(m.Body.Place.Sheets, n)
		})
		if !done {
			return []int{n}
		}
	}
	return nil
}
