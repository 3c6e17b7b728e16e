package account

import (
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/solution"
)

// StrengthNow is the strength of a bottle that counts now.
func StrengthNow(b *record.ShelfBottle) Fact {
	f := Fact{Code: "strength", Name: "Strength", Text: "strength not recorded"}
	if r := b.StrengthNow(); r != nil {
		f.Figure = some(words.Ranged(*r, b.Body.Unit))
		if b.Clouded() {
			f.RestsOn = "left once it has clouded and settled, computed; poured as " +
				en.Range(*b.Body.Poured, b.Body.Unit)
		}
	} else if b.Body.Unit == "pure" {
		f.Text = "as supplied"
	}
	return f
}

// Volume writes a volume in the unit that it is measured in.
func Volume(ml float64) string { return solution.Millilitres(ml).Text() }

// LeftIn says what is left in a bottle, by the measure that it is kept by.
func LeftIn(b *record.ShelfBottle) string {
	if b.Body.VolumeMl > 0 {
		return Volume(b.LeftMl)
	}
	return en.Quantity(b.LeftG, "g")
}

// UsualVessels are those that are taken where the studio has named none.
func UsualVessels() []record.Glassware {
	var list []record.Glassware
	for _, g := range solution.UsualGlassware() {
		list = append(list, record.Glassware{
			Name: g.Name, CapacityMl: float64(g.CapacityMl), GraduationMl: float64(g.GraduationMl),
			ToleranceMl: float64(g.ToleranceMl),
		})
	}
	return list
}

// UsualGlass names them in a few words.
func UsualGlass() string {
	var names []string
	for _, g := range UsualVessels() {
		names = append(names, en.Number(g.CapacityMl))
	}
	return "cylinders of " + strings.Join(names, ", ") + " mL"
}

// SubstanceName is a substance as the table names it, so that what rests on it
// finds it; another stays as typed.
func SubstanceName(typed string) string {
	if sub := solution.Known(typed); sub != nil {
		return sub.Name
	}
	return typed
}

// IsLime says whether a substance is calcium hydroxide.
func IsLime(substance string) bool {
	sub, err := solution.Find(substance)
	return err == nil && sub.Is(solution.Lime)
}

// LimeByTemperature gives lime water over its solid the strength that follows from
// its temperature, where none was entered.
func LimeByTemperature(b *record.Bottle) {
	if !IsLime(b.Substance) || b.Form != record.FormSaturated || b.Strength != nil || b.TempC == nil {
		return
	}
	r, err := solution.LimeSolubility(solution.Celsius(*b.TempC))
	if err != nil {
		return // the record says what temperature is possible
	}
	b.Strength, b.Unit, b.RestsOn = &r, string(solution.GramL), solution.LimeSolubilitySource
}

// Ways of making a solution.
const (
	FromStock   = "stock"
	Conditioned = "conditioned"
	FromSolid   = "solid"
	FromBottle  = "bottle"
	Ethanol     = "ethanol"
	Cellulose   = "cellulose"
	Paste       = "paste"
)

// WayFrom is the way that a bottle is used by, as a rule.
func WayFrom(b *record.ShelfBottle) string {
	for _, way := range []string{FromStock, Cellulose, Paste, Ethanol, FromSolid} {
		if fits(way, b) {
			return way
		}
	}
	return FromBottle
}

// StocksFor are the bottles that a way can start from, in date first, the last
// made first.
func StocksFor(way string, st *record.Studio, now time.Time) []*record.ShelfBottle {
	var fresh, old []*record.ShelfBottle
	for i := range st.Bottles {
		b := &st.Bottles[len(st.Bottles)-1-i]
		switch {
		case b.Emptied != nil || b.LeftMl == 0 && b.LeftG == 0 || !fits(way, b):
		case b.Expired(now):
			old = append(old, b)
		default:
			fresh = append(fresh, b)
		}
	}
	return append(fresh, old...)
}

// PastDate says since when a bottle is past its date; "" where it is not.
func PastDate(b *record.ShelfBottle, k words.Clock) string {
	if !b.Expired(k.Today) {
		return ""
	}
	return "past its date since " + k.At(b.Body.ExpiresAt)
}

// StockChoices name the bottles that a way can start from.
func StockChoices(way string, st *record.Studio, k words.Clock) []record.Choice {
	var list []record.Choice
	for _, b := range StocksFor(way, st, k.Today) {
		strength := ""
		if b.Body.Unit != "pure" {
			f := StrengthNow(b)
			if strength = f.Text; f.Figure != nil {
				number, _ := en.Parts(*f.Figure)
				strength = words.Joined(words.NBSP, number, f.Figure.Unit)
			}
		}
		say := words.Joined(", ", en.Upper(b.Body.Name), strength, LeftIn(b)+" left", PastDate(b, k))
		list = append(list, record.Choice{Value: b.Body.ID, Words: say})
	}
	return list
}

func fits(way string, b *record.ShelfBottle) bool {
	sub, err := solution.Find(b.Body.Substance)
	if err != nil {
		return false
	}
	solid := b.Body.MassG > 0
	switch way {
	case FromStock, Conditioned:
		return sub.Is(solution.Lime) && b.Body.Form == "saturated" && !solid
	case FromSolid:
		return solid && sub.State == solution.Solid
	case Cellulose:
		return solid && sub.Is(solution.CelluloseEther)
	case Paste:
		return solid && sub.Is(solution.Starch)
	case Ethanol:
		return sub.Name == "ethanol" && !solid
	case FromBottle:
		return !solid && (b.Body.Unit != "pure" || sub.State != solution.Solid)
	}
	return false
}

// Titrated is the last strength that was measured in a bottle, nil when none.
func Titrated(b *record.ShelfBottle) *words.Figure {
	for _, c := range slices.Backward(b.Checks) {
		if c.Body.Strength != nil {
			return some(words.Ranged(*c.Body.Strength, b.Body.Unit))
		}
	}
	return nil
}
