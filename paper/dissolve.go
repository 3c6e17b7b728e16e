package paper

import (
	"math"

	"benchleaf/chem"
)

// calciteMolM2S is how fast calcite goes into water far from saturation, mol/(m2 s):
// k1 [H+] + k2 [CO2] + k3, Plummer, Wigley and Parkhurst, Am. J. Sci. 278, 179, 1978,
// with the constants that phreeqc.dat (PHREEQC 3.8.9) carries of it. h is the activity
// of the hydrogen ion, co2 mol/L.
func calciteMolM2S(h, co2, celsius float64) float64 {
	t := celsius + 273.15
	k1 := math.Pow(10, 0.198-444/t)
	k2 := math.Pow(10, 2.84-2177/t)
	k3 := math.Pow(10, -5.86-317/t)
	if celsius > 25 {
		k3 = math.Pow(10, -1.1-1737/t)
	}
	return 10 * (k1*h + k2*co2 + k3) // the constants are in mmol/(cm2 s)
}

// calciteM2PerMmol is the surface of cubes or spheres of calcite of a size in um: 6
// over density and size.
func calciteM2PerMmol(sizeUm float64) float64 {
	return 6 / (2.71e6 * sizeUm * 1e-6) * molarChalk / 1000
}

// dissolve lets the carbonate that lies in n like sheets go into solution for seconds:
// by the rate of its surface, one after the other with the way out to the bath, and
// no further than bath and sheets together can hold. perTurn is the time in which the
// pores change their liquid once, s; 0: at once.
//
// First, acid in the sheet meets the chalk beside it. Carbonate does not grow here:
// what a bath that is beyond saturation would add needs carbon dioxide to leave,
// and is left out.
func (b *equilibria) dissolve(
	s *sheetLiquor, v *vat, n, seconds, perTurn float64, in []float64, fall chem.Solids,
) error {
	if s.ml <= 0 || !(seconds > 0) {
		return nil
	}
	size, hours := in[iGrain], in[iMagnesia]
	was := s.chalk + s.magnesia
	for _, lies := range []struct {
		amount *float64
		of     chem.Component
		solid  chem.Solids
	}{{&s.magnesia, chem.Mg, chem.Nesquehonite}, {&s.chalk, chem.Ca, chem.Calcite}} {
		if *lies.amount <= 0 {
			continue
		}
		rate := func(h, co2 float64) float64 { // mmol/s of one sheet
			if lies.of == chem.Mg {
				// The acid of a sheet attacks it as it does chalk.
				return *lies.amount * (1/(3600*hours) + calciteMolM2S(h, 0, b.temperatureC)*
					1000*calciteM2PerMmol(size)*acidShare(h))
			}
			return calciteMolM2S(h, co2, b.temperatureC) * 1000 * calciteM2PerMmol(size) * *lies.amount
		}
		mobile := s.mobile()
		if acid := -mobile.alkali() / 2; acid > 0 {
			want := min(acid, *lies.amount)
			pH, err := b.pH(s, 0)
			if err != nil {
				return err
			}
			*lies.amount -= want * -math.Expm1(-rate(math.Pow(10, -pH), 0)*seconds/want)
		}
		if *lies.amount <= 0 {
			continue
		}
		// Bath and sheets as one liquid, and the carbonate that it could still hold.
		whole := v.liquor
		whole.n.add(&s.free, n*s.ml)
		whole.ml += n * s.ml
		if err := b.solve(&b.liquids, &whole, chem.Conditions{}); err != nil {
			return err
		}
		if si, ok := b.state.SaturationIndex(lies.solid); ok && si >= 0 {
			continue
		}
		kinetic := rate(math.Pow(10, -b.state.PH()), b.state.Molality("CO2"))
		before := min(*lies.amount*n, mostSolid*whole.ml)
		whole.n[lies.of] += before
		whole.n[chem.C] += before
		if err := b.solve(&b.over, &whole, chem.Conditions{MayFall: lies.solid}); err != nil {
			return err
		}
		gap := before - max(0, b.state.Fallen(lies.solid)*whole.ml) // mmol, all sheets
		if !(gap > 0) {
			continue
		}
		// Of the pores, as much as they hold of the gap with each change.
		way := math.Inf(1)
		if perTurn > 0 {
			way = gap / whole.ml * s.ml / perTurn
		}
		one := 1 / (1/kinetic + 1/way)
		gone := min(*lies.amount, gap/n*-math.Expm1(-one*n*seconds/gap))
		*lies.amount -= gone
		// The bath gets its share at once, so that it does not fall again in the pores.
		out := gone * v.ml / whole.ml
		s.n[lies.of] -= out
		s.n[chem.C] -= out
		v.n[lies.of] += n * out
		v.n[chem.C] += n * out
	}
	if s.chalk+s.magnesia == was {
		return nil
	}
	return b.settle(s, fall)
}

// mostSolid is the carbonate that is put beside a liquid to see what it dissolves, mol/kg:
// more than any dissolves.
const mostSolid = 1

// acidShare keeps the attack of acid out of liquids that hold next to none.
func acidShare(h float64) float64 { return h / (h + 1e-7) }
