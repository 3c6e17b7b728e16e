package treatment

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
	"benchleaf/solution"
)

// History names all that decides what Expect says of a sheet: its paper, what was
// measured or adopted for it, and the baths it was in. Sheets of one history have
// the same in them.
func History(c *record.Case, sheet int) string {
	var b strings.Builder
	if st := c.StockOf(sheet); st != nil {
		b.WriteString(st.ID)
	}
	if w, ok := weighedDry(c, sheet); ok {
		fmt.Fprintf(&b, " weighed %d", w.Seq)
	}
	for _, a := range c.AdoptedFor(sheet) {
		fmt.Fprintf(&b, " adopted %d", a.Seq)
	}
	for _, r := range c.RunsOn(sheet) {
		if r.Body.Bath != nil {
			b.WriteString(" " + r.Body.ID)
		}
	}
	return b.String()
}

// Expect says what the baths that a sheet has been in leave in it once it is dry. ok
// is false when the record does not hold enough: no paper described, or no bath
// whose alkali is known.
func Expect(ctx context.Context, c *record.Case, sheet int) (out paper.Outcome, ok bool, err error) {
	of, ok := TakenSheetOf(c, sheet)
	if !ok {
		return out, false, nil
	}
	var baths []paper.Bath
	alkaline := false
	for _, b := range bathsOf(c, sheet) {
		baths = append(baths, b.Bath)
		alkaline = alkaline || b.alkaline
	}
	if !alkaline {
		return out, false, nil
	}
	out, err = Bathe(ctx, of.Sheet, baths, paper.Options{Seed: 1, Samples: 120}) // a page waits for it
	out.RestsOn = append(out.RestsOn, of.RestsOn...)
	return out, err == nil, err
}

// pastBath is a bath that a sheet was in, as the computation takes it.
type pastBath struct {
	paper.Bath
	run *record.Run
	// alkaline says that its alkali follows from its substance and strength;
	// computable that what it does to the pH can be computed at all.
	alkaline, computable bool
	driedAfter           bool
}

// bathsOf lists the baths that a sheet has been in, as they were performed.
func bathsOf(c *record.Case, sheet int) []pastBath {
	runs := c.RunsOn(sheet)
	slices.SortStableFunc(runs, func(a, b *record.Run) int { return a.Body.At.Compare(b.Body.At) })
	var list []pastBath
	dried := false
	for _, r := range runs {
		if b := r.Body.Bath; b != nil {
			p, known, computable := paperBath(b, sheetsTogether(c, r))
			p.Minutes, p.DriedBefore = minutesIn(r, sheet), dried && len(list) > 0
			if x := alkaliAsFilled(c, r); x != nil && p.Liquid.Base != paper.NoBase {
				u, _ := uncertaintyOf(x)
				p.Liquid = p.Liquid.WithAlkali(interval.FromStandard(x.Value, u/2))
			}
			dried = false
			list = append(
				list,
				pastBath{
					Bath:       p,
					run:        r,
					alkaline:   known,
					computable: computable,
				},
			)
		}
		if n := len(r.Ends); n > 0 && r.Ends[n-1].Body.Leaves == record.Dry {
			dried = true
			if len(list) > 0 {
				list[len(list)-1].driedAfter = true
			}
		}
	}
	return list
}

// asFilled is for how many minutes after the sheets went in a titration is still of
// the bath as it was filled (common practice, no source).
const asFilled = 2

// alkaliAsFilled is the last titration of a run's bath as it was filled, which
// counts more than the strength that it was made to; nil: none.
func alkaliAsFilled(c *record.Case, r *record.Run) *record.Reading {
	var last *record.Reading
	for i := range c.Readings {
		b := &c.Readings[i].Body
		if b.Quantity == "bath-alkali" && b.Run == r.Body.ID && !b.At.IsZero() && b.Value > 0 &&
			b.At.Sub(r.Body.At).Minutes() <= asFilled {
			last = b
		}
	}
	return last
}

// sheetsTogether is how many sheets lie in a run's bath, those of other cases too.
func sheetsTogether(c *record.Case, r *record.Run) int {
	n := len(r.Body.Sheets)
	if n == 0 {
		n = c.SheetCount()
	}
	for _, w := range r.Body.Bath.With {
		n += len(w.Sheets)
	}
	return max(n, 1)
}

// minutesIn is how long a sheet was in a bath: until it came out, or as planned; nil,
// until level, where neither is known.
func minutesIn(r *record.Run, sheet int) *paper.Minutes {
	min := r.Body.PlannedMin
	if out := leftAt(r, sheet); !out.IsZero() {
		min = out.Sub(r.Body.At).Minutes()
	}
	if !(min > 0) {
		return nil
	}
	return new(paper.Minutes(math.Min(min, 24*60)))
}

// TakenSheet is a sheet as the computation takes it from the record.
type TakenSheet struct {
	paper.Sheet
	// paperMass is what is taken for the mass of any sheet of the paper, where this one
	// was weighed or has an adopted mass of its own.
	paperMass *interval.Range
	// RateFactor is the drying rate over the computed one; nil: not adopted.
	RateFactor *interval.Range
	// RestsOn says which values were measured on this sheet or adopted for it, and
	// what each took the place of.
	RestsOn []string
	// basis says of each quantity of record.AdoptedQuantities where it comes from;
	// none: from the class.
	basis map[string]Basis
}

// From is where a sheet's value of a quantity comes from.
type From string

const (
	FromClass     From = "class" // of its paper, or from other quantities
	FromPaper     From = "paper" // as described for its paper
	FromWeighing  From = "weighing"
	FromAdoptions From = "adopted" // fitted to readings on one sheet, by an entry
)

// Basis is where a value comes from, with words for a person.
type Basis struct {
	From  From
	Words string
}

// TakenSheetOf is a sheet with all that the record has of it: its paper, its own weight
// in room air, and values adopted for it. ok is false where its paper is not
// described.
func TakenSheetOf(c *record.Case, sheet int) (TakenSheet, bool) {
	return sheetWith(c, sheet, c.AdoptedFor(sheet))
}

// sheetWith is TakenSheetOf with the given adopted values.
func sheetWith(c *record.Case, sheet int, adopted []record.Stamped[record.ValueAdopted]) (TakenSheet, bool) {
	stock := c.StockOf(sheet)
	if stock == nil {
		return TakenSheet{}, false
	}
	t := TakenSheet{Sheet: paperSheet(stock), basis: map[string]Basis{}}
	described := Basis{FromPaper, "as described for the paper “" + stock.Name + "”"}
	if stock.PickUpGG != nil {
		t.basis["pick-up"] = described
	}
	if stock.AcidMmolKg != nil {
		t.basis["acid"] = described
	}
	if w, ok := weighedDry(c, sheet); ok {
		u, _ := uncertaintyOf(&w.Body)
		m := interval.FromStandard(w.Body.Value, u/2)
		g := t.GrammageGsm.Scale(float64(t.WidthMm) * float64(t.HeightMm) * 1e-6)
		t.MassG, t.paperMass = &m, &g
		t.basis["mass"] = Basis{FromWeighing, fmt.Sprintf("weighed on this sheet (entry %d)", w.Seq)}
		t.RestsOn = append(
			t.RestsOn,
			fmt.Sprintf("The mass is that of this sheet as weighed: %s g (entry %d).", m.BestText(), w.Seq),
		)
	}
	for _, a := range adopted {
		t.adopt(a)
	}
	return t, true
}

// adopt puts an adopted value in the place of what was taken before.
func (t *TakenSheet) adopt(a record.Stamped[record.ValueAdopted]) {
	b := a.Body
	q := record.AdoptedQuantityOf(b.Quantity)
	if q == nil {
		return
	}
	r := b.Value
	switch b.Quantity {
	case "fixed-acid", "soluble-acid":
		if t.AcidMmolPerKg != nil {
			t.RestsOn = append(
				t.RestsOn,
				fmt.Sprintf(
					"The %s that entry %d adopts is not used: the acid of this paper is given as a whole.",
					q.Words,
					a.Seq,
				),
			)
			return
		}
		if b.Quantity == "fixed-acid" {
			t.FixedAcidMmolPerKg = &r
		} else {
			t.SolubleAcidMmolPerKg = &r
		}
	case "acid":
		t.AcidMmolPerKg, t.FixedAcidMmolPerKg, t.SolubleAcidMmolPerKg = &r, nil, nil
	case "pick-up":
		t.PickUpGPerG = &r
	case "mass":
		t.MassG = &r
	case "drying-rate":
		t.RateFactor = &r
	}
	from := fmt.Sprintf("estimated from readings on %s (%s) and adopted", record.SheetName(b.FromSheet),
		entriesText(b.Readings))
	if b.Spread != "" {
		from += ", widened since " + b.Spread
	}
	t.basis[b.Quantity] = Basis{FromAdoptions, from}
	say := fmt.Sprintf("The %s is %s %s (%s), %s", q.Words, r.BestText(), q.Unit, r.Text(), from)
	if b.Was != nil {
		was := *b.Was
		say += ", in the place of " + was.Text()
		if b.WasBasis != "" {
			say += ", " + b.WasBasis
		}
	}
	t.RestsOn = append(t.RestsOn, say+": "+strings.TrimSuffix(b.Reason, ".")+".")
}

// entriesText names entries of the log: "entries 41 and 44".
func entriesText(seqs []int64) string {
	var list []string
	for _, n := range seqs {
		list = append(list, strconv.FormatInt(n, 10))
	}
	if len(list) == 1 {
		return "entry " + list[0]
	}
	return "entries " + strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// weighedDry is the last weight of the dry sheet alone, before any bath.
func weighedDry(c *record.Case, sheet int) (last record.Stamped[record.Reading], ok bool) {
	for _, x := range c.Readings {
		b := &x.Body
		if b.Quantity == "mass" && b.Run == "" && (b.Stage == record.StageBefore || b.Stage == record.StageArrival) &&
			slices.Equal(b.Place.Sheets, []int{sheet}) &&
			b.Value > 0 {
			last, ok = x, true
		}
	}
	return last, ok
}

var paperClasses = map[record.PaperClass]paper.Class{
	"groundwood": paper.Newsprint,
	"coated":     paper.CoatedCover,
	"sulphite":   paper.TextChemical,
	"rag":        paper.Rag,
}

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
	return paper.Sheet{
		Name:          s.Name,
		Class:         class,
		WidthMm:       paper.Millimetres(s.WidthMm),
		HeightMm:      paper.Millimetres(s.HeightMm),
		GrammageGsm:   &g,
		PickUpGPerG:   s.PickUpGG,
		AcidMmolPerKg: s.AcidMmolKg,
	}
}

// paperBath reads a bath of the record; known says that its alkali follows from its
// substance and strength, computable that what it does to a sheet can be computed at
// all. A water's alkali is taken as at most what balances its calcium.
func paperBath(b *record.Bath, together int) (p paper.Bath, known, computable bool) {
	p = paper.Bath{
		Name:     b.Liquid,
		VolumeMl: interval.Within(b.VolumeMl, 0.03*b.VolumeMl),
		Together: together,
		Liquid:   paper.Liquid{Name: b.Liquid},
	}
	if b.TempC != nil && *b.TempC >= 0 && *b.TempC <= 50 {
		p.TemperatureC = (*paper.Celsius)(b.TempC)
	}
	sub, err := solution.Find(b.Substance)
	if err == nil && b.Substance != "" && b.StrengthGL != nil && sub.MolarMass > 0 {
		l, err := Solution(sub, b.Liquid, b.StrengthGL.Scale(1000/float64(sub.MolarMass)))
		if err == nil {
			p.Liquid = l
			return p, l.AlkaliMmolPerL.Best > 0, true
		}
	}
	if b.CalciumMgL != nil {
		most := 2 * *b.CalciumMgL / 40.08
		p.Liquid.AlkaliMmolPerL, p.Liquid.Base = interval.Range{Low: 0, Best: most / 2, High: most}, paper.Calcium
		p.Liquid.Anion = paper.Bicarbonate
	}
	return p, false, b.Substance == "" || b.Substance == "water"
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
