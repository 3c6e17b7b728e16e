package paper

import (
	"errors"
	"math"
	"sync"

	"benchleaf/chem"
	"benchleaf/interval"
)

// Base is what a liquid's alkali dries to in a sheet.
type Base string

const (
	Calcium   Base = "calcium"   // calcium carbonate
	Magnesium Base = "magnesium" // magnesium carbonates
	Sodium    Base = "sodium"    // soluble sodium salts: no alkaline reserve, to be rinsed out
	NoBase    Base = ""          // nothing that stays: pure water, ammonia
)

// Anion is what a liquid's alkali comes as.
type Anion string

const (
	Hydroxide   Anion = "hydroxide"
	Bicarbonate Anion = "bicarbonate"
	Carbonate   Anion = "carbonate"
	Borohydride Anion = "borohydride" // fresh; it turns to borate as time goes
	Borate      Anion = "borate"      // also spent borohydride
)

// Liquid is what a bath is filled with: a water of some alkalinity, said by Base,
// Anion and AlkaliMmolPerL, or a solution of what chem knows (Dissolved), whose
// composition decides all else.
type Liquid struct {
	Name string `json:"name"`
	// AlkaliMmolPerL is the acid that 1 L neutralises in the end, mmol: 2 for
	// each mmol of Ca(OH)2 or Mg(HCO3)2, 1 for NaHCO3 or spent NaBH4. For a tap
	// water it is the alkalinity. It is not to be had from a pH.
	AlkaliMmolPerL interval.Range `json:"alkali_mmol_per_l"`
	Base           Base           `json:"base,omitempty"`
	// Anion that the alkali comes as; "" stands for hydroxide with calcium,
	// borohydride with sodium and as much boron, borate with sodium and other
	// boron, else bicarbonate.
	Anion Anion `json:"anion,omitempty"`
	// SodiumMmolPerL and BoronMmolPerL are what has to be rinsed out again.
	SodiumMmolPerL float64 `json:"sodium_mmol_per_l,omitempty"`
	BoronMmolPerL  float64 `json:"boron_mmol_per_l,omitempty"`

	// Solute is what was weighed in and MmolPerL how much of it; nil: a water by
	// its alkalinity.
	Solute   *chem.Solute   `json:"-"`
	MmolPerL interval.Range `json:"mmol_per_l,omitzero"`
	// MostMmolPerL is the solute's solubility where chem has no solid for it; 0:
	// without a limit here.
	MostMmolPerL float64 `json:"most_mmol_per_l,omitempty"`
	// InertMmolPerL is dissolved matter that takes no part in the acids and bases
	// (ethanol), so that the answer can say that it was not counted.
	InertMmolPerL float64 `json:"inert_mmol_per_l,omitempty"`
}

// AlkaliOf is the acid that a mol of a solute neutralises in the end, mol; below 0 for
// an acid.
func AlkaliOf(solute chem.Solute) float64 {
	one := Liquid{Solute: &solute}.content(1)
	return one.alkali()
}

// Dissolved is a solution of what chem knows, mmol in 1 L of bath. Its alkali, and
// what of it stays in a sheet, follow from its composition.
func Dissolved(name string, solute chem.Solute, mmolPerL interval.Range) Liquid {
	l := Liquid{Name: name, Solute: &solute, MmolPerL: mmolPerL}
	one := l.content(1)
	l.AlkaliMmolPerL = mmolPerL.Scale(max(0, one.alkali()))
	l.SodiumMmolPerL, l.BoronMmolPerL = mmolPerL.Best*one[chem.Na], mmolPerL.Best*(one[chem.B]+one[chem.BH4])
	switch {
	case one.alkali() <= 0:
	case one[chem.Ca] > 0:
		l.Base = Calcium
	case one[chem.Mg] > 0:
		l.Base = Magnesium
	case one[chem.Na]+one[chem.K] > 0:
		l.Base = Sodium
	}
	switch {
	case one[chem.BH4] > 0:
		l.Anion = Borohydride
	case one[chem.B] > 0:
		l.Anion = Borate
	case one[chem.C] >= 0.9*one.alkali() && one[chem.C] > 0:
		l.Anion = Bicarbonate
	case one[chem.C] > 0:
		l.Anion = Carbonate
	case l.Base != NoBase:
		l.Anion = Hydroxide
	}
	return l
}

// strength is what is sampled of the liquid: the solute's mmol/L, else its alkali.
func (l Liquid) strength() interval.Range {
	if l.Solute != nil {
		return l.MmolPerL
	}
	return l.AlkaliMmolPerL
}

// alkaliWithin is the alkali of the bath at its best values where no more than most
// of the strength dissolves, mmol/L.
func (l Liquid) alkaliWithin(most float64) float64 {
	if s := l.strength().Best; s > most {
		return l.AlkaliMmolPerL.Best * most / s
	}
	return l.AlkaliMmolPerL.Best
}

// Scaled is the same liquid k times as strong.
func (l Liquid) Scaled(k float64) Liquid {
	l.AlkaliMmolPerL, l.MmolPerL = l.AlkaliMmolPerL.Scale(k), l.MmolPerL.Scale(k)
	l.SodiumMmolPerL *= k
	l.BoronMmolPerL *= k
	l.InertMmolPerL *= k
	return l
}

// WithAlkali is the same liquid with the alkali that a titration found, mmol/L.
func (l Liquid) WithAlkali(r interval.Range) Liquid {
	if was := l.AlkaliMmolPerL.Best; was > 0 {
		k := r.Best / was
		l.SodiumMmolPerL *= k
		l.BoronMmolPerL *= k
		l.MmolPerL = r.Scale(l.MmolPerL.Best / was)
	}
	l.AlkaliMmolPerL = r
	return l
}

// anion is the liquid's, or what stands for it.
func (l Liquid) anion() Anion {
	switch {
	case l.Anion != "" || l.Solute != nil:
		return l.Anion
	case l.Base == Calcium:
		return Hydroxide
	case l.Base == Sodium && l.BoronMmolPerL > 0:
		if l.SodiumMmolPerL == l.BoronMmolPerL {
			return Borohydride
		}
		return Borate
	}
	return Bicarbonate
}

// isLime says that chalk may fall of the liquid as soon as carbonate meets it.
func (l Liquid) isLime() bool { return l.Base == Calcium && l.anion() == Hydroxide }

// fall is what may fall of the liquid.
func (l Liquid) fall() chem.Solids {
	if l.isLime() {
		return chem.Calcite
	}
	return 0
}

// content is what 1 L holds at a strength, mmol. Of a water, what is dissolved
// beside the alkali goes with it, and sodium beyond the alkali comes as chloride.
func (l Liquid) content(strength float64) (n stuff) {
	if l.Solute != nil {
		for c := range n {
			if chem.Component(c) != chem.H {
				n[c] = strength * l.Solute.Gives(chem.Component(c))
			}
		}
		return n
	}
	factor := 1.0
	if best := l.AlkaliMmolPerL.Best; best > 0 {
		factor = strength / best
	}
	sodium, boron := factor*l.SodiumMmolPerL, factor*l.BoronMmolPerL
	n[chem.Na] = sodium
	n[chem.B] = boron
	switch l.Base {
	case Calcium:
		n[chem.Ca] = strength / 2
	case Magnesium:
		n[chem.Mg] = strength / 2
	case Sodium:
		n[chem.Na] = max(sodium, strength)
	default:
		n[chem.N] = strength
	}
	n[chem.Cl] = max(0, n.alkali()-strength)
	switch l.anion() {
	case Bicarbonate:
		if l.Base != NoBase {
			n[chem.C] = strength
		}
	case Carbonate:
		n[chem.C] = strength / 2
	case Borohydride:
		n[chem.B], n[chem.BH4] = 0, boron
	}
	return n
}

// fill makes ml of the liquid at a strength.
func (l Liquid) fill(strength, ml float64) vat {
	v := vat{liquor: liquor{ml: ml}}
	n := l.content(strength)
	v.n.add(&n, ml/1000)
	return v
}

// diffusion25M2S is the diffusion coefficient at 25 C of what the liquid brings,
// m2/s: Nernst-Hartley values of paper-and-transport-properties.csv; for
// borohydride and borate that of boric acid.
func (l Liquid) diffusion25M2S() float64 {
	switch {
	case l.BoronMmolPerL > 0:
		return 1.10e-9
	case l.AlkaliMmolPerL.Best == 0:
		return 1.23e-9 // sodium sulfate, for the salts that rinse out
	case l.Base == Magnesium:
		return 0.964e-9
	case l.isLime():
		return 1.827e-9
	}
	return 1.014e-9
}

// benchMagnesium is the strongest magnesium bicarbonate that benches make, mmol/L
// of alkali (common practice, no source: 0.06 mol/L). What 1 atm of carbon dioxide
// could hold is more, but no bench waits for it.
const benchMagnesium = 120

// most is how much of the liquid's strength water can hold at its temperature, and
// the solid that lies on the floor beyond; infinity where nothing falls. Hydroxides
// and carbonates by chem; calcium bicarbonate as much as chalk dissolves under 1 atm
// of carbon dioxide; magnesium bicarbonate as benches make it.
func (l Liquid) most(celsius float64) (float64, string, error) {
	asked := more * l.strength().High // so far a lever is raised
	n := l.content(1)
	alkali := n.alkali()
	if l.MostMmolPerL > 0 {
		return l.MostMmolPerL, "", nil
	}
	bicarbonate := n[chem.C] > 0 && n[chem.C] >= 0.9*alkali
	switch earth := n[chem.Ca] + n[chem.Mg]; {
	case asked <= 1e-6 || earth <= 0 || alkali <= 0 && n[chem.S] <= 0:
		return math.Inf(1), "", nil
	case bicarbonate && n[chem.Mg] > 0:
		return benchMagnesium / alkali, "magnesium carbonate", nil
	case bicarbonate:
		if asked*alkali < 8 { // far below at any temperature
			return math.Inf(1), "", nil
		}
		most, err := chalkUnderCO2(celsius)
		return most / alkali, "chalk", err
	case l.isLime() && asked*alkali < 30: // 50 C: 34.6
		return math.Inf(1), "", nil
	}
	solid, name := l.solid(n)
	high, err := saturated(l, asked, celsius, solid)
	if err != nil || high <= 0 {
		return math.Inf(1), "", err
	}
	low := 0.0
	for high-low > 1e-4*high {
		middle := (low + high) / 2
		over, err := saturated(l, middle, celsius, solid)
		if err != nil {
			return 0, "", err
		}
		if over > 0 {
			high = middle
		} else {
			low = middle
		}
	}
	return low, name, nil
}

// underCO2 keeps what chalkUnderCO2 found, by the tenth of a degree.
var underCO2 sync.Map

// chalkUnderCO2 is the alkali of water over chalk under 1 atm of carbon dioxide, mmol/kg.
func chalkUnderCO2(celsius float64) (float64, error) {
	celsius = math.Round(10*celsius) / 10
	if v, ok := underCO2.Load(celsius); ok {
		return v.(float64), nil
	}
	pure, err := chem.Pure(celsius)
	if err != nil {
		return 0, err
	}
	o, err := chem.Equilibrate(pure, chem.Conditions{StandsOver: chem.Calcite, Open: true, CO2Atm: 1})
	if err != nil {
		return 0, err
	}
	v := 1000 * o.AlkalinityPerKg()
	underCO2.Store(celsius, v)
	return v, nil
}

// solid is what falls of a liquid with content n that is no bicarbonate.
func (l Liquid) solid(n stuff) (chem.Solids, string) {
	switch {
	case n[chem.S] > 0:
		return chem.Gypsum, "gypsum"
	case n[chem.Ca] > 0 && n[chem.C] > 0:
		return chem.Calcite, "chalk"
	case n[chem.Ca] > 0:
		return chem.Portlandite, "lime"
	case n[chem.C] <= 0:
		return chem.Brucite, "magnesium hydroxide"
	case n[chem.C] < 0.9*n[chem.Mg]:
		return chem.Hydromagnesite, "basic magnesium carbonate"
	case l.Solute != nil && l.Solute.MolarMass() < 100: // without water of crystallisation
		return chem.Magnesite, "magnesite"
	}
	return chem.Nesquehonite, "magnesium carbonate"
}

// saturated is a strength at which a solid is beyond saturation, at most the one
// given; 0 where that one is not.
func saturated(l Liquid, strength, celsius float64, solid chem.Solids) (float64, error) {
	n := l.content(strength)
	var perKg [chem.NumComponents]float64
	for c := range n {
		perKg[c] = n[c] / 1000
	}
	w, err := chem.Compose(celsius, perKg)
	if err != nil {
		return 0, err
	}
	o, err := chem.Equilibrate(w, chem.Conditions{})
	if err != nil && !errors.Is(err, chem.ErrIonicStrength) {
		if strength > 1 { // too much for a state at all: look further down
			return saturated(l, strength/2, celsius, solid)
		}
		return 0, err
	}
	if si, ok := o.SaturationIndex(solid); ok && si > 0 {
		return strength, nil
	}
	return 0, nil
}
