package solution

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"

	"benchleaf/interval"
)

// Unit of a strength, as it is written.
type Unit string

const (
	GramL      Unit = "g/L"
	MilligramL Unit = "mg/L"
	PercentWV  Unit = "% w/v" // g in 100 mL of solution
	PercentWW  Unit = "% w/w" // g in 100 g of solution
	PercentVV  Unit = "% v/v" // mL of the pure liquid, as it was before mixing, in 100 mL of solution, at 20 °C
	MolL       Unit = "mol/L"
	MmolL      Unit = "mmol/L"
)

// Units in which strengths are given, in the order that a list shows them.
func Units() []Unit {
	return []Unit{GramL, MilligramL, PercentWV, PercentWW, PercentVV, MolL, MmolL}
}

func unitNames() []string {
	var names []string
	for _, u := range Units() {
		names = append(names, string(u))
	}
	return names
}

// Strength is an amount of a substance in a liquid. Mass and amount count the
// substance as its name says: citric acid at 10 g/L is 10 g of C6H8O7, however
// it was weighed.
type Strength struct {
	Value float64 `json:"value"`
	Unit  Unit    `json:"unit"`
}

func (s Strength) String() string {
	return strconv.FormatFloat(s.Value, 'g', -1, 64) + " " + string(s.Unit)
}

// IsZero says whether the strength was never set.
func (s Strength) IsZero() bool { return s == Strength{} }

// most is the largest value of each unit that can be meant.
var most = map[Unit]float64{
	GramL:      3000,
	MilligramL: 3e6,
	PercentWV:  300,
	PercentWW:  100,
	PercentVV:  100,
	MolL:       60,
	MmolL:      60_000,
}

// Check refuses a strength that no liquid has.
func (s Strength) Check() error {
	max, ok := most[s.Unit]
	switch {
	case !ok:
		return fmt.Errorf("the unit %q of a strength is not known: use one of %v", s.Unit, unitNames())
	case math.IsNaN(s.Value) || s.Value <= 0:
		return fmt.Errorf("the strength %s must be above 0", s)
	case s.Value > max*(1+1e-9): // a hair over is rounding
		return fmt.Errorf("the strength %s is above %g %s, which no liquid here holds", s, max, s.Unit)
	}
	return nil
}

// Parts are a dilution: Stock parts of one liquid and Diluent parts of another,
// by volume.
type Parts struct {
	Stock   float64 `json:"stock"`
	Diluent float64 `json:"diluent"`
}

func (p Parts) String() string {
	return strconv.FormatFloat(p.Stock, 'g', 4, 64) + " + " + strconv.FormatFloat(p.Diluent, 'g', 4, 64)
}

// IsZero says whether the parts were never set.
func (p Parts) IsZero() bool { return p == Parts{} }

// Check refuses parts that are not a dilution.
func (p Parts) Check() error {
	if !(p.Stock > 0 && p.Diluent >= 0 && p.Stock <= 1e6 && p.Diluent <= 1e6) {
		return fmt.Errorf("the parts %s are no dilution: there must be some stock, and no less than 0 of the rest", p)
	}
	return nil
}

// Share is the stock's share of the mixture's volume.
func (p Parts) Share() float64 { return p.Stock / (p.Stock + p.Diluent) }

// Wanted is a strength or a dilution in parts: one of the two is set.
type Wanted struct {
	Strength Strength `json:"strength,omitzero"`
	Parts    Parts    `json:"parts,omitzero"`
}

func (w Wanted) String() string {
	if !w.Parts.IsZero() {
		return w.Parts.String()
	}
	return w.Strength.String()
}

// StrengthRange is a strength with its 10 to 90 % range.
type StrengthRange struct {
	interval.Range
	Unit Unit `json:"unit"`
}

// UnmarshalJSON reads {"low": , "best": , "high": , "unit": }.
func (r *StrengthRange) UnmarshalJSON(data []byte) error {
	var x struct {
		Low, Best, High float64
		Unit            Unit
	}
	if err := json.Unmarshal(data, &x); err != nil {
		return err
	}
	*r = StrengthRange{interval.Range{Low: x.Low, Best: x.Best, High: x.High}, x.Unit}
	return nil
}

// Strength is the best value alone.
func (r StrengthRange) Strength() Strength { return Strength{r.Best, r.Unit} }

// Text writes "0.40 g/L (0.38 to 0.42)".
func (r StrengthRange) Text() string {
	if r.Low == r.High {
		return r.BestText() + " " + string(r.Unit)
	}
	return fmt.Sprintf("%s %s (%s)", r.BestText(), r.Unit, r.Range.Text())
}

// errNeedsDensity is returned when a conversion between mass and volume of the
// solution has no density to go by.
var errNeedsDensity = errors.New("the density of the solution is needed")

// PerLitre is the strength as g of the substance in 1 L of solution.
//
// solution is the density of the solution at hand, needed for % w/w alone; 0
// when not known (for ethanol it is computed). Errors: the unit makes no sense
// for the substance, errNeedsDensity, or no molar mass.
func (s Strength) PerLitre(of *Substance, solution GramsPerMillilitre) (GramsPerLitre, error) {
	if err := s.Check(); err != nil {
		return 0, err
	}
	switch s.Unit {
	case GramL:
		return GramsPerLitre(s.Value), nil
	case MilligramL:
		return GramsPerLitre(s.Value / 1000), nil
	case PercentWV:
		return GramsPerLitre(10 * s.Value), nil
	case PercentWW:
		if of.Name == "ethanol" && solution == 0 {
			solution = ethanolDensity(s.Value / 100)
		}
		if solution <= 0 {
			return 0, fmt.Errorf(
				"to turn %s of %s into g/L %w: give it in g/mL (about 1.00 for a weak one), or give the strength as "+
					"%% w/v",
				s,
				of.Name,
				errNeedsDensity,
			)
		}
		return GramsPerLitre(10 * s.Value * float64(solution)), nil
	case PercentVV:
		if err := of.asLiquid(s); err != nil {
			return 0, err
		}
		return GramsPerLitre(10 * s.Value * float64(of.Density)), nil
	case MolL, MmolL:
		if of.MolarMass == 0 {
			return 0, fmt.Errorf(
				"%s has no molar mass, so %s has no meaning: give the strength as %% w/v or g/L",
				of.Name,
				s,
			)
		}
		mol := s.Value
		if s.Unit == MmolL {
			mol /= 1000
		}
		return GramsPerLitre(mol * float64(of.MolarMass)), nil
	}
	panic("unreachable: the unit was checked")
}

// asLiquid refuses % v/v of what is not a pure liquid.
func (of *Substance) asLiquid(s Strength) error {
	switch {
	case of.State == Solid:
		return fmt.Errorf("%s is a solid, so %s has no meaning: is %% w/v meant (g in 100 mL)?", of.Name, s)
	case of.State != Liquid || of.Density == 0:
		return fmt.Errorf(
			"%s is not bought as a pure liquid, so %s has no meaning: give the strength as %% w/w, %% w/v or mol/L",
			of.Name,
			s,
		)
	}
	return nil
}

// strengthOf writes g in 1 L as a strength in unit u. solution is as for
// PerLitre.
func strengthOf(c GramsPerLitre, u Unit, of *Substance, solution GramsPerMillilitre) (Strength, error) {
	out := Strength{Unit: u}
	switch u {
	case GramL:
		out.Value = float64(c)
	case MilligramL:
		out.Value = float64(c) * 1000
	case PercentWV:
		out.Value = float64(c) / 10
	case PercentWW:
		if of.Name == "ethanol" && solution == 0 {
			out.Value = 100 * ethanolMassFraction(c)
			break
		}
		if solution <= 0 {
			return Strength{}, fmt.Errorf("to give %s as %% w/w %w: give it in g/mL", of.Name, errNeedsDensity)
		}
		out.Value = float64(c) / 10 / float64(solution)
	case PercentVV:
		if err := of.asLiquid(Strength{float64(c), GramL}); err != nil {
			return Strength{}, err
		}
		out.Value = float64(c) / 10 / float64(of.Density)
	case MolL, MmolL:
		if of.MolarMass == 0 {
			return Strength{}, fmt.Errorf("%s has no molar mass, so it cannot be given as %s", of.Name, u)
		}
		out.Value = float64(c) / float64(of.MolarMass)
		if u == MmolL {
			out.Value *= 1000
		}
	}
	if err := out.Check(); err != nil {
		return Strength{}, err
	}
	return out, nil
}

// In converts to another unit; solution is as for PerLitre.
func (s Strength) In(u Unit, of *Substance, solution GramsPerMillilitre) (Strength, error) {
	c, err := s.PerLitre(of, solution)
	if err != nil {
		return Strength{}, err
	}
	return strengthOf(c, u, of, solution)
}

// rangeIn writes a range of g/L in unit u. Every unit grows with g/L, so the
// ends stay the ends.
func rangeIn(r interval.Range, u Unit, of *Substance, solution GramsPerMillilitre) (StrengthRange, error) {
	out := StrengthRange{Unit: u}
	for _, end := range []struct {
		from float64
		to   *float64
	}{{r.Low, &out.Low}, {r.Best, &out.Best}, {r.High, &out.High}} {
		s, err := strengthOf(GramsPerLitre(end.from), u, of, solution)
		if err != nil {
			return StrengthRange{}, err
		}
		*end.to = s.Value
	}
	return out, nil
}
