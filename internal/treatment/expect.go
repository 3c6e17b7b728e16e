package treatment

import (
	"math"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
	"benchleaf/solution"
)

// History names all that decides what Expect says of a sheet: its paper and
// the baths it was in. Sheets of one history have the same in them.
func History(c *record.Case, sheet int) string {
	var b strings.Builder
	if st := c.StockOf(sheet); st != nil {
		b.WriteString(st.ID)
	}
	for _, r := range c.RunsOn(sheet) {
		if r.Body.Bath != nil {
			b.WriteString(" " + r.Body.ID)
		}
	}
	return b.String()
}

// Expect says what the baths that a sheet has been in, and one more that is
// about to come (nil: none), leave in it once it is dry. ok is false when the
// record does not hold enough: no paper described, or no bath whose alkali is
// known.
func Expect(c *record.Case, sheet int, next *record.Bath, together int) (out paper.Outcome, ok bool, err error) {
	stock := c.StockOf(sheet)
	if stock == nil {
		return out, false, nil
	}
	baths, alkaline, dried := Had(c, sheet)
	if next != nil {
		p, known := paperBath(next, together)
		p.DriedBefore = dried && len(baths) > 0
		alkaline = alkaline || known
		baths = append(baths, p)
	}
	if !alkaline {
		return out, false, nil
	}
	out, err = paper.Run(paperSheet(stock), baths, paper.Options{Seed: 1, Samples: 120}) // a page waits for it
	return out, err == nil, err
}

// minutesOf is how long a bath lasted: until it was ended, or as planned; 0, until
// level, where neither is known.
func minutesOf(r *record.Run) float64 {
	min := r.Body.PlannedMin
	if end := r.Ended(); !end.IsZero() {
		min = end.Sub(r.Body.At).Minutes()
	}
	if !(min > 0) {
		return 0
	}
	return math.Min(min, 24*60)
}

var paperClasses = map[string]paper.Class{"groundwood": paper.Newsprint, "coated": paper.CoatedCover, "sulphite": paper.TextChemical, "rag": paper.Rag}

func paperSheet(s *record.Stock) paper.Sheet {
	class, ok := paperClasses[s.Class]
	if !ok {
		class = paper.Unknown
	}
	spread := 0.05
	if s.GrammageBasis != "measured" {
		spread = 0.15 // taken from elsewhere; common practice, no source
	}
	g := interval.Within(s.GrammageGM2, spread*s.GrammageGM2)
	return paper.Sheet{Name: s.Name, Class: class, WidthMm: paper.Millimetres(s.WidthMm), HeightMm: paper.Millimetres(s.HeightMm), GrammageGsm: &g,
		PickUpGPerG: (*interval.Range)(s.PickUpGG), AcidMmolPerKg: (*interval.Range)(s.AcidMmolKg)}
}

// paperBath reads a bath of the record; known says that its alkali follows
// from its substance and strength. A water's alkali is taken as at most what
// balances its calcium.
func paperBath(b *record.Bath, together int) (p paper.Bath, known bool) {
	p = paper.Bath{Name: b.Liquid, VolumeMl: interval.Within(b.VolumeMl, 0.03*b.VolumeMl), Together: together, Liquid: paper.Liquid{Name: b.Liquid}}
	if b.TempC != nil && *b.TempC > 0 && *b.TempC <= 50 {
		p.TemperatureC = *b.TempC
	}
	sub, err := solution.Find(b.Substance)
	if err != nil || b.Substance == "" || b.StrengthGL == nil || sub.MolarMass == 0 || sub.AlkaliEqPerMol <= 0 {
		if b.CalciumMgL != nil {
			most := 2 * *b.CalciumMgL / 40.08
			p.Liquid.AlkaliMmolPerL, p.Liquid.Base = interval.Range{Low: 0, Best: most / 2, High: most}, paper.Calcium
			p.Liquid.Anion = paper.Bicarbonate
		}
		return p, false
	}
	p.Liquid.AlkaliMmolPerL = interval.Range(*b.StrengthGL).Scale(1000 * sub.AlkaliEqPerMol / float64(sub.MolarMass))
	p.Liquid.Base, p.Liquid.Anion = baseOf(sub.Name), anionOf(sub.Name)
	if strings.Contains(sub.Name, "borohydride") {
		mmol := b.StrengthGL.Best * 1000 / float64(sub.MolarMass)
		p.Liquid.SodiumMmolPerL, p.Liquid.BoronMmolPerL = mmol, mmol
	}
	return p, true
}

// anionOf is what the alkali of a substance comes as.
func anionOf(substance string) paper.Anion {
	for _, x := range []paper.Anion{paper.Borohydride, paper.Bicarbonate, paper.Carbonate, paper.Hydroxide} {
		if strings.Contains(substance, string(x)) {
			return x
		}
	}
	return ""
}

func baseOf(substance string) paper.Base {
	switch {
	case strings.HasPrefix(substance, "calcium"):
		return paper.Calcium
	case strings.HasPrefix(substance, "magnesium"):
		return paper.Magnesium
	case strings.HasPrefix(substance, "sodium"):
		return paper.Sodium
	}
	return paper.NoBase
}

// BathStrength is what a bottle on the shelf gives a bath: its substance and
// its strength in g/L where that follows from its unit.
func BathStrength(b *record.ShelfBottle) (substance string, gramsPerLitre *record.Range) {
	sub, err := solution.Find(b.Body.Substance)
	r := b.StrengthNow()
	if err != nil || r == nil {
		return b.Body.Substance, nil
	}
	one := func(v float64) (float64, error) {
		g, err := (solution.Strength{Value: v, Unit: solution.Unit(b.Body.Unit)}).PerLitre(sub, 0)
		return float64(g), err
	}
	low, err1 := one(r.Low)
	best, err2 := one(r.Best)
	high, err3 := one(r.High)
	if err1 != nil || err2 != nil || err3 != nil {
		return sub.Name, nil
	}
	return sub.Name, &record.Range{Low: low, Best: best, High: high}
}
