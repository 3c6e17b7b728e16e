package paper

import (
	"fmt"
	"math"

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
	Bicarbonate Anion = "bicarbonate" // with a twentieth more carbon dioxide, as a bath freshly made
	Carbonate   Anion = "carbonate"
	Borohydride Anion = "borohydride" // fresh; it turns to borate as time goes
	Borate      Anion = "borate"      // also spent borohydride
)

// Liquid is what a bath is filled with.
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
}

// Bath is one step: one container of one liquid, with sheets in it together.
type Bath struct {
	Name     string         `json:"name,omitempty"`
	Liquid   Liquid         `json:"liquid"`
	VolumeMl interval.Range `json:"volume_ml"`
	// Together is the number of like sheets in it at once; 0 means 1.
	Together int `json:"together,omitempty"`
	// Minutes in the bath, above 0; nil: until sheet and bath are level.
	Minutes *Minutes `json:"minutes,omitempty"`
	// Motion of the liquid over the open faces; "" is not known.
	Motion Motion `json:"motion,omitempty"`
	// Supported says that one face lies on a support that nothing passes.
	Supported bool `json:"supported,omitempty"`
	// Stack is how many sheets lie on each other without liquid between; 0 means 1.
	Stack int `json:"stack,omitempty"`
	// TemperatureC of the bath, 0 to 50; nil: 20.
	TemperatureC *Celsius `json:"temperature_c,omitempty"`
	// DepthMm of the liquid, where the tray is open: a bath of hydroxide then
	// takes up carbon dioxide from the room. nil: covered.
	DepthMm *Millimetres `json:"depth_mm,omitempty"`
	// DriedBefore says that the sheet is dried before this bath, so that the
	// chalk it holds stays in it and its pores are free for more.
	DriedBefore bool `json:"dried_before,omitempty"`
}

// Motion is how a bath moves over the face of a sheet.
type Motion string

const (
	Rocked Motion = "rocked"
	Still  Motion = "still"
)

// filmM is the thickness of the resting film at a face, m: 80 um rocked, 500 um
// still, 200 um where it is not known (memory: diffusion layers of stirred and of
// unstirred water); a range of 0.4 to 2.5 times goes with it.
func (b Bath) filmM() float64 {
	switch b.Motion {
	case Rocked:
		return 80e-6
	case Still:
		return 500e-6
	}
	return 200e-6
}

func (b Bath) celsius() float64 {
	if b.TemperatureC == nil {
		return 20
	}
	return float64(*b.TemperatureC)
}

// minutes in the bath, 0 where it has no time.
func (b Bath) minutes() float64 {
	if b.Minutes == nil {
		return 0
	}
	return float64(*b.Minutes)
}

// halves is the way to the open face in half-thicknesses of a sheet: 1 with both
// faces open, 2 with one; as many times more as sheets lie on each other.
func (b Bath) halves() float64 {
	h := float64(max(b.Stack, 1))
	if b.Supported {
		h *= 2
	}
	return h
}

// mostMmolPerL bounds what a bath may hold: beyond, the chemistry means nothing.
const mostMmolPerL = 2000

// Check refuses a bath that cannot be. Errors are one sentence.
func (b Bath) Check() error {
	name := b.called()
	if err := b.VolumeMl.CheckWithin("the volume of "+name, 1, 1e6, "mL"); err != nil {
		return err
	}
	if err := b.Liquid.AlkaliMmolPerL.CheckWithin("the alkali of "+name, 0, mostMmolPerL, "mmol/L"); err != nil {
		return err
	}
	for what, v := range map[string]float64{"sodium": b.Liquid.SodiumMmolPerL, "boron": b.Liquid.BoronMmolPerL} {
		if !(v >= 0 && v <= mostMmolPerL) {
			return fmt.Errorf("the %s of %s must lie between 0 and %d mmol/L, not at %g", what, name, mostMmolPerL, v)
		}
	}
	switch b.Liquid.Base {
	case Calcium, Magnesium, Sodium, NoBase:
	default:
		return fmt.Errorf(
			"the base %q of %s is not known: use calcium, magnesium, sodium, or leave it out",
			b.Liquid.Base,
			name,
		)
	}
	switch b.Liquid.Anion {
	case "", Hydroxide, Bicarbonate, Carbonate, Borohydride, Borate:
	default:
		return fmt.Errorf(
			"the anion %q of %s is not known: use hydroxide, bicarbonate, carbonate, borohydride, borate, or leave "+
				"it out",
			b.Liquid.Anion,
			name,
		)
	}
	switch b.Motion {
	case "", Rocked, Still:
	default:
		return fmt.Errorf("%s is rocked or still, not %q", name, b.Motion)
	}
	if b.Stack < 0 || b.Stack > max(b.Together, 1) {
		return fmt.Errorf(
			"in %s %d sheets cannot lie on each other: %d are in it together",
			name,
			b.Stack,
			max(b.Together, 1),
		)
	}
	if t := b.celsius(); !(t >= 0 && t <= chem.MaxTemperatureC) {
		return fmt.Errorf(
			"the temperature of %s must lie between 0 and %d °C, not at %g °C",
			name,
			chem.MaxTemperatureC,
			t,
		)
	}
	if d := b.DepthMm; d != nil && !(*d >= 1 && *d <= 1000) {
		return fmt.Errorf("the depth of %s must lie between 1 and 1000 mm, not at %g mm", name, float64(*d))
	}
	if b.Together < 0 || b.Together > 1000 {
		return fmt.Errorf(
			"the number of sheets together in %s must lie between 1 and 1000, not at %d",
			name,
			b.Together,
		)
	}
	if m := b.Minutes; m != nil && !(*m > 0 && *m <= 60*24*30) {
		return fmt.Errorf("the time in %s must be above 0 and at most 30 days, not %g min; without one the bath lasts "+
			"until sheet and bath are level", name, float64(*m))
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

// anion is the liquid's, or what stands for it.
func (l Liquid) anion() Anion {
	switch {
	case l.Anion != "":
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

// fill makes ml of the liquid at a strength, mmol/L of alkali. What is dissolved
// beside the alkali goes with it. Sodium beyond the alkali comes as chloride.
func (l Liquid) fill(strength, ml float64) vat {
	v := vat{liquor: liquor{ml: ml}}
	factor := 1.0
	if best := l.AlkaliMmolPerL.Best; best > 0 {
		factor = strength / best
	}
	litres := ml / 1000
	sodium, boron := factor*l.SodiumMmolPerL*litres, factor*l.BoronMmolPerL*litres
	alkali := strength * litres
	n := &v.n
	n[chem.Na] = sodium
	n[chem.B] = boron
	switch l.Base {
	case Calcium:
		n[chem.Ca] = alkali / 2
	case Magnesium:
		n[chem.Mg] = alkali / 2
	case Sodium:
		n[chem.Na] = max(sodium, alkali)
	default:
		n[chem.N] = alkali
	}
	n[chem.Cl] = max(0, n.alkali()-alkali)
	switch l.anion() {
	case Bicarbonate:
		if l.Base != NoBase {
			n[chem.C] = 1.05 * alkali
		}
	case Carbonate:
		n[chem.C] = alkali / 2
	case Borohydride:
		n[chem.B], n[chem.BH4] = 0, boron
	}
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
	case l.Base == Calcium && l.anion() == Hydroxide:
		return 1.827e-9
	}
	return 1.014e-9
}

// warmer is the factor from 25 C to another temperature: D mu/T is constant
// (Stokes and Einstein), with the viscosity of water by Kestin, Sokolov and
// Wakeham, J. Phys. Chem. Ref. Data 7, 941, 1978 (equation from memory, checked
// against the table of water properties).
func warmer(celsius float64) float64 {
	return (celsius + 273.15) / 298.15 * viscosityMPaS(25) / viscosityMPaS(celsius)
}

// viscosityMPaS of water, 0 to 40 C.
func viscosityMPaS(celsius float64) float64 {
	d := 20 - celsius
	return 1.002 * math.Pow(10, d/(celsius+96)*(1.2364-1.37e-3*d+5.7e-6*d*d))
}
