package chem

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// MaxIonicStrength is the ionic strength in mol/kg beyond which a State comes
// with ErrIonicStrength. From WarnIonicStrength on, its warnings say that the
// figures are rough.
const (
	MaxIonicStrength  = 0.7
	WarnIonicStrength = 0.5
)

// ErrTemperature: a temperature outside 0 to 50 deg C, or no number.
var ErrTemperature = errors.New("outside the range of the constants")

// Water is a composition: mol of each component in one kilogram of water,
// counted with all the water that the species could be broken down to, and a
// temperature. It does not change; operations return another. The zero value
// is pure water at 0 deg C.
type Water struct {
	temperatureC float64
	n            [numComponents]float64
}

// Pure is water with nothing in it. It fails with ErrTemperature.
func Pure(temperatureC float64) (Water, error) {
	return Water{}.At(temperatureC)
}

// At is the same water at another temperature.
func (w Water) At(temperatureC float64) (Water, error) {
	if !(temperatureC >= MinTemperatureC && temperatureC <= MaxTemperatureC) {
		return Water{}, fmt.Errorf(
			"%g deg C is %w: %d to %d deg C would be right",
			temperatureC,
			ErrTemperature,
			MinTemperatureC,
			MaxTemperatureC,
		)
	}
	w.temperatureC = temperatureC
	return w, nil
}

// TemperatureC is the water's temperature in degrees Celsius.
func (w Water) TemperatureC() float64 { return w.temperatureC }

// Total is the amount of a component in mol per kg of water. That of H is the
// excess of acid over the masters named in Component: negative in alkali.
func (w Water) Total(c Component) float64 { return w.n[c] }

// Totals are the amounts of all components in mol per kg of water, by
// component.
func (w Water) Totals() [NumComponents]float64 { return w.n }

// Compose is a water of given amounts in mol per kg of water, by component, 0
// to 20 each. H is not read: it follows from the charges of the others. A model
// that moves components about (between a sheet and a bath, say) makes its waters
// so; Carboxyl then stays where the paper is. It fails with ErrTemperature or
// when an amount cannot be.
func Compose(temperatureC float64, molPerKg [NumComponents]float64) (Water, error) {
	w := Water{temperatureC, molPerKg}
	w.balance()
	if err := w.check(); err != nil {
		return Water{}, err
	}
	return w, nil
}

// check says what is wrong with a water that was not made by this package's
// operations, or that they made of bad numbers.
func (w *Water) check() error {
	if !(w.temperatureC >= MinTemperatureC && w.temperatureC <= MaxTemperatureC) {
		return fmt.Errorf(
			"%g deg C is %w: %d to %d deg C would be right",
			w.temperatureC,
			ErrTemperature,
			MinTemperatureC,
			MaxTemperatureC,
		)
	}
	for c, v := range w.n {
		if Component(c) == H {
			continue
		}
		if math.IsNaN(v) || v < 0 || v > maxAmount {
			return fmt.Errorf(
				"the amount of %v is %.3g mol/kg: 0 to %g would be right",
				Component(c),
				v,
				float64(maxAmount),
			)
		}
	}
	return nil
}

// maxAmount in mol/kg is far beyond what the model holds for; amounts above it
// are refused before any computing.
const maxAmount = 20

// balance sets H so that charges cancel.
func (w *Water) balance() {
	z := 0.0
	for c := range w.n {
		if Component(c) != H {
			z += w.n[c] * allSpecies[c].z
		}
	}
	w.n[H] = -z
}

// State is a water at equilibrium.
type State struct {
	water    Water
	cond     Conditions
	mask     uint32
	pH       float64
	ionic    float64
	aw       float64
	free     float64 // kg free water per kg of all water
	residual float64
	passes   int
	molality [maxSpecies]float64
	logA     [numComponents]float64 // ln activity of masters
	amount   [numSolids + 1]float64 // mol per kg of free water
	lnSI     [numSolids + 1]float64
	// madeUp is the charge in mol/kg that an analysis lacked and that was put in as
	// chloride, or below 0 as sodium.
	madeUp float64
}

func (o *State) fill(s *Solver, w *Water, c Conditions) {
	*o = State{water: *w, cond: c, mask: s.mask, pH: -s.x[0] / math.Ln10, ionic: s.ionic,
		aw: math.Exp(s.lnAw), free: s.free, residual: s.resid, passes: s.passes}
	for i := range s.sp {
		o.molality[s.sp[i].id] = s.conc[i]
	}
	for k := 0; k < s.ncol; k++ {
		o.logA[s.cols[k]] = s.x[k]
	}
	for k := range s.phases {
		if p := &s.phases[k]; p.in {
			o.amount[p.id] = p.amount / s.free
		}
	}
	for i := range phases {
		p := &phases[i]
		v := float64(p.water)*s.lnAw - s.lnKPhase[i]
		for l := 0; l < p.n; l++ {
			v += p.nu[l] * o.logA[p.col[l]]
		}
		o.lnSI[i] = v
	}
}

// PH is -log10 of the activity of H+.
func (o *State) PH() float64 { return o.pH }

// PHRange is the pH with what the model may be off: 0.05 either way for a weak
// solution (the published buffers are met within 0.03, docs/chem.md), 0.1 above
// WarnIonicStrength. Where carbonate and bicarbonate carry much of the charge the
// activity models part above an ionic strength of 0.1 mol/kg: sodium bicarbonate
// of 0.1, 0.3 and 0.5 mol/kg reads 0.07 to 0.13, 0.13 to 0.2 and 0.18 to 0.24
// lower by pitzer.dat, minteq.v4.dat and sit.dat than by phreeqc.dat (PHREEQC
// 3.8.9, 20 deg C, testdata/bicarbonate-models.csv), so the low end goes down by
// 0.6 for each mol/kg. A borohydride bath's time is known to a factor of
// two, which is 0.15.
func (o *State) PHRange() Estimate {
	below, above := 0.05, 0.05
	if o.ionic > WarnIonicStrength {
		below, above = 0.1, 0.1
	}
	if o.strongBicarbonate(strongBicarbonateI) {
		below = max(below, 0.05+0.6*o.ionic)
	}
	if o.Total(BH4) > leastAmount {
		below, above = 0.15, 0.15
	}
	return Estimate{o.pH, o.pH - below, o.pH + above}
}

// strongBicarbonateI is the ionic strength, mol/kg, above which the published
// activity models part over bicarbonate; warnBicarbonateI is that from which it is
// said.
const strongBicarbonateI, warnBicarbonateI = 0.03, 0.1

// strongBicarbonate reports whether the ionic strength is above a limit, a tenth of
// it or more from carbonate and bicarbonate.
func (o *State) strongBicarbonate(limit float64) bool {
	return o.ionic > limit &&
		(o.Molality("HCO3-")+4*o.Molality("CO3-2"))/2 > o.ionic/10
}

// IonicStrength in mol/kg.
func (o *State) IonicStrength() float64 { return o.ionic }

// WaterActivity is that of water, 1 when pure.
func (o *State) WaterActivity() float64 { return o.aw }

// Residual is the worst relative residual of the equations; see Tolerance.
func (o *State) Residual() float64 { return o.residual }

// Molality is the amount of a species in mol/kg, by the names of Species; 0
// for one not present or not known.
func (o *State) Molality(name string) float64 {
	if i, ok := speciesIndex[name]; ok {
		return o.molality[i]
	}
	return 0
}

// Total is the dissolved amount of a component in mol/kg.
func (o *State) Total(c Component) float64 {
	t := 0.0
	for i := range allSpecies {
		if v := allSpecies[i].comp[c]; v != 0 {
			t += float64(v) * o.molality[i]
		}
	}
	return t
}

// AlkalinityPerKg is the mol of H+ per kg of water that would bring it to
// dissolved CO2, boric acid, ammonium, dihydrogen phosphate and the anions of
// the organic acids. Free acid counts negative.
func (o *State) AlkalinityPerKg() float64 {
	a := 0.0
	for i := range allSpecies {
		if m := o.molality[i]; m != 0 {
			sp := &allSpecies[i]
			a += m * float64(2*sp.comp[C]+2*sp.comp[P]-sp.comp[H])
		}
	}
	return a
}

// CO2Fugacity in atm: the pressure of CO2 that the water would be at rest
// with. 0 when it holds no carbon.
func (o *State) CO2Fugacity() float64 {
	if o.mask&(1<<C) == 0 {
		return 0
	}
	return math.Exp(o.lnSI[gasPhase])
}

// SaturationIndex is log10 (ion activity product / K) of one solid: 0 when
// saturated, above 0 when it would fall. It is false when the water lacks one
// of its ions.
func (o *State) SaturationIndex(solid Solids) (float64, bool) {
	for i := 0; i < numSolids; i++ {
		if solid == 1<<i {
			return o.lnSI[i] / math.Ln10, phaseMask(i)&^o.mask == 0
		}
	}
	return 0, false
}

// Fallen is the amount of one solid that fell, in mol per kg of water;
// negative where a solid that the water stands over went into solution.
func (o *State) Fallen(solid Solids) float64 {
	for i := 0; i < numSolids; i++ {
		if solid == 1<<i {
			return o.amount[i]
		}
	}
	return 0
}

// CO2TakenUp is the CO2 that an open water took from the air, in mol per kg of
// water; negative when it gave off.
func (o *State) CO2TakenUp() float64 { return -o.amount[gasPhase] }

// DensityKgPerL of the solution at 1 atm.
func (o *State) DensityKgPerL() float64 {
	w := o.Water()
	mass := 1.0
	for c := range w.n {
		mass += w.n[c] * componentMass[c]
	}
	return mass / w.LitresPerKg()
}

// Species lists the names of the dissolved species present and their
// molalities, most first.
func (o *State) Species() []SpeciesAmount {
	var out []SpeciesAmount
	for i := range allSpecies {
		if o.molality[i] > 0 {
			out = append(out, SpeciesAmount{allSpecies[i].name, o.molality[i]})
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Molality > out[j].Molality })
	return out
}

// SpeciesAmount is a species and its mol per kg of water.
type SpeciesAmount struct {
	Name     string
	Molality float64
}

// TemperatureC is the water's temperature in degrees Celsius.
func (o *State) TemperatureC() float64 { return o.water.temperatureC }

// KgPerMol is the mass of a mol of the component as its master.
func (c Component) KgPerMol() float64 { return componentMass[c] }

// SolidGramPerMol is the molar mass of a solid by name, in g/mol; 0 for none.
func SolidGramPerMol(name string) float64 {
	for i, n := range solidNames {
		if n == name {
			p := &phases[i]
			m := float64(p.water) * waterMolarMass
			for c, v := range p.comp {
				m += 1000 * float64(v) * componentMass[c]
			}
			return m
		}
	}
	return 0
}
