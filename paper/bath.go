package paper

import (
	"fmt"
	"math"

	"benchleaf/chem"
	"benchleaf/interval"
)

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
	// DepthMm of the liquid, where the tray is open: it then goes towards the
	// carbon dioxide of the room. nil: covered.
	DepthMm *Millimetres `json:"depth_mm,omitempty"`
	// DriedBefore says that the sheet is dried before this bath: its pores are free
	// for more, and the carbonate in it goes into solution again as slowly as it can.
	DriedBefore bool `json:"dried_before,omitempty"`
	// StoodMinutes is how long a bath of borohydride stood before the sheets went
	// in; nil: poured a minute ago.
	StoodMinutes *Minutes `json:"stood_minutes,omitempty"`
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

// stood is how long a bath of borohydride stood before, minutes.
func (b Bath) stood() float64 {
	if b.StoodMinutes == nil {
		return 1
	}
	return float64(*b.StoodMinutes)
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

// mostSolute bounds what may be weighed into 1 L, dissolved or lying on its floor.
const mostSolute = 15_000

// Check refuses a bath that cannot be. Errors are one sentence.
func (b Bath) Check() error {
	name := b.called()
	if err := b.VolumeMl.CheckWithin("the volume of "+name, 1, 1e6, "mL"); err != nil {
		return err
	}
	most := float64(mostMmolPerL)
	if b.Liquid.Solute != nil { // what does not dissolve lies on the floor
		most = 12 * mostSolute
	}
	if err := b.Liquid.AlkaliMmolPerL.CheckWithin("the alkali of "+name, 0, most, "mmol/L"); err != nil {
		return err
	}
	if err := b.Liquid.MmolPerL.CheckWithin("the strength of "+name, 0, mostSolute, "mmol/L"); err != nil {
		return err
	}
	for what, v := range map[string]float64{"sodium": b.Liquid.SodiumMmolPerL, "boron": b.Liquid.BoronMmolPerL} {
		if !(v >= 0 && v <= most) {
			return fmt.Errorf("the %s of %s must lie between 0 and %g mmol/L, not at %g", what, name, most, v)
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
	if m := b.StoodMinutes; m != nil && !(*m >= 0 && *m <= 60*24*365) {
		return fmt.Errorf("%s can have stood for 0 min to a year, not for %g min", name, float64(*m))
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
