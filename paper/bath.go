package paper

import (
	"fmt"

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

// Liquid is what a bath is filled with.
type Liquid struct {
	Name string `json:"name"`
	// AlkaliMmolPerL is the acid that 1 L neutralises in the end, mmol: 2 for
	// each mmol of Ca(OH)2 or Mg(HCO3)2, 1 for NaHCO3 or spent NaBH4. For a tap
	// water it is the alkalinity. It is not to be had from a pH.
	AlkaliMmolPerL interval.Range `json:"alkali_mmol_per_l"`
	Base           Base           `json:"base,omitempty"`
	// SodiumMmolPerL and BoronMmolPerL are what has to be rinsed out again.
	SodiumMmolPerL float64 `json:"sodium_mmol_per_l,omitempty"`
	BoronMmolPerL  float64 `json:"boron_mmol_per_l,omitempty"`
}

// Bath is one step: one container of one liquid, with sheets in it together.
type Bath struct {
	Name     string         `json:"name,omitempty"`
	Liquid   Liquid         `json:"liquid"`
	VolumeMl interval.Range `json:"volume_ml"`
	// Together is the number of like sheets in it at once; 0 means 1.
	Together int `json:"together,omitempty"`
	// Minutes in the bath; the mass balance uses them only to warn of a bath too
	// short for it.
	Minutes Minutes `json:"minutes,omitempty"`
}

// Check refuses a bath that cannot be. Errors are one sentence.
func (b Bath) Check() error {
	name := b.called()
	if err := b.VolumeMl.CheckWithin("the volume of "+name, 1, 1e6, "mL"); err != nil {
		return err
	}
	if err := b.Liquid.AlkaliMmolPerL.CheckWithin("the alkali of "+name, 0, 20_000, "mmol/L"); err != nil {
		return err
	}
	for what, v := range map[string]float64{"sodium": b.Liquid.SodiumMmolPerL, "boron": b.Liquid.BoronMmolPerL} {
		if !(v >= 0 && v <= 20_000) {
			return fmt.Errorf("the %s of %s must lie between 0 and 20,000 mmol/L, not at %g", what, name, v)
		}
	}
	switch b.Liquid.Base {
	case Calcium, Magnesium, Sodium, NoBase:
	default:
		return fmt.Errorf("the base %q of %s is not known: use calcium, magnesium, sodium, or leave it out", b.Liquid.Base, name)
	}
	if b.Together < 0 || b.Together > 1000 {
		return fmt.Errorf("the number of sheets together in %s must lie between 1 and 1000, not at %d", name, b.Together)
	}
	if !(b.Minutes >= 0 && b.Minutes <= 60*24*30) {
		return fmt.Errorf("the time in %s must lie between 0 and 30 days, not at %g min", name, float64(b.Minutes))
	}
	return nil
}

func (b Bath) called() string {
	switch {
	case b.Name != "":
		return b.Name
	case b.Liquid.Name != "":
		return b.Liquid.Name
	}
	return "the bath"
}

func (b Bath) together() float64 { return float64(max(b.Together, 1)) }

// wet is the state of one sheet between baths.
type wet struct {
	held    float64 // mL of liquid
	earth   float64 // mmol of alkali that dries to carbonate, in that liquid
	soda    float64 // mmol of other alkali
	soluble float64 // mmol of acid that leaves with water
	fixed   float64 // mmol of acid that stays
	sodium  float64 // mmol
	boron   float64 // mmol
}

// passage is what one bath did to one sheet and to itself.
type passage struct {
	tray       float64 // mmol of alkali in the bath as it was filled
	taken      float64 // mmol of it that the sheets' acid used, all sheets
	carried    float64 // mmol of it that the sheets carried out, all sheets
	strengthMM float64 // mmol/L of alkali in the bath afterwards
}

// lower takes a sheet through a bath: sheet liquid and bath liquid become one,
// alkali neutralises acid, soluble before fixed, and each sheet leaves with
// liquid of what is left. Amounts are of the sheet; the n sheets are alike.
//
// Everything is conserved: with n sheets, alkali in = alkali out + acid
// neutralised. That sheet and bath come level is the assumption of the balance.
func (w wet) lower(l Liquid, strength, volume, n, pickUp float64) (wet, passage) {
	liquid := volume + n*w.held
	inTray := strength * volume / 1000
	earth, soda := n*w.earth, n*w.soda
	if l.Base == Calcium || l.Base == Magnesium {
		earth += inTray
	} else {
		soda += inTray
	}
	acid := n * (w.soluble + w.fixed)
	alkali := earth + soda
	used := min(alkali, acid)
	if alkali > 0 {
		earth *= 1 - used/alkali
		soda *= 1 - used/alkali
	}
	soluble := max(0, n*w.soluble-used)
	fixed := max(0, n*w.fixed-max(0, used-n*w.soluble))
	if used == acid { // exactly, without what rounding leaves
		soluble, fixed = 0, 0
	}

	// Each sheet leaves with its pick-up of the liquid, or with all there is.
	out := min(pickUp, liquid/n)
	share := out / liquid
	factor := 1.0
	if best := l.AlkaliMmolPerL.Best; best > 0 {
		factor = strength / best
	}
	next := wet{
		held: out, earth: earth * share, soda: soda * share,
		soluble: soluble * share, fixed: fixed / n,
		sodium: (n*w.sodium + factor*l.SodiumMmolPerL*volume/1000) * share,
		boron:  (n*w.boron + factor*l.BoronMmolPerL*volume/1000) * share,
	}
	return next, passage{
		tray: inTray, taken: used, carried: n * (next.earth + next.soda),
		strengthMM: (earth + soda) / liquid * 1000,
	}
}

// press takes liquid out of the sheet, with what is dissolved in it, until no
// more than hold mL is left.
func (w wet) press(hold float64) wet {
	if w.held <= hold {
		return w
	}
	k := hold / w.held
	w.held, w.earth, w.soda, w.soluble, w.sodium, w.boron = hold, w.earth*k, w.soda*k, w.soluble*k, w.sodium*k, w.boron*k
	return w
}
