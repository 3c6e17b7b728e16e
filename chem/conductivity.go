package chem

import (
	"errors"
	"math"
)

// mobility is what an ion contributes to the conductivity; data/conductivity.csv
// has the sources.
type mobility struct {
	diffusion float64 // m2/s at 25 deg C
	energy    float64 // K, beyond what the viscosity of water does
	size      float64 // angstrom, of the interaction law
	exponent  float64 // of the solution's viscosity
	jonesDole float64 // kg/mol
	unsure    float64 // share of it that it may be off, either way
}

// usualIonSize in angstrom, where a species has none of its own: phreeqc.dat's
// default.
const usualIonSize = 3.5

// pairFactor makes the diffusion coefficient of an ion pair out of those of its
// ions: 1/D = sum(1/D_i)/pairFactor. phreeqc.dat's own pairs (CaHCO3+, CaCO3,
// MgHCO3+, MgCO3, NaHCO3) have it from 1.03 to 1.10.
const pairFactor = 1.07

// unsureBy is what a mobility may be off, by the basis of its row; that of a pair
// made by pairFactor is estimate's.
var unsureBy = map[string]float64{"read": 0, "computed": 0, "memory": 0.1, "estimate": 0.3}

var mobilities [maxSpecies]mobility

// loadMobilities fills the table; an ion pair without a row of its own gets its
// coefficient from its ions.
func loadMobilities() {
	for _, r := range readTable("conductivity.csv") {
		k, ok := speciesIndex[r["species"]]
		if !ok {
			panic("chem: conductivity.csv: no species " + r["species"])
		}
		m := mobility{1e-9 * number(r["diffusion_1e-9_m2_per_s"]), number(r["temperature_E_K"]), usualIonSize,
			number(r["viscosity_exponent"]), number(r["viscosity_B_kg_per_mol"]), unsureBy[r["basis"]]}
		if v := r["size_angstrom"]; v != "" {
			m.size = number(v)
		}
		mobilities[k] = m
	}
	for i := range allSpecies {
		sp := &allSpecies[i]
		if sp.z == 0 || mobilities[i].size != 0 {
			continue
		}
		m := mobility{size: usualIonSize, unsure: unsureBy["estimate"]}
		resistance := 0.0
		for c, v := range sp.comp {
			if Component(c) != H && v > 0 {
				resistance += float64(v) / mobilities[c].diffusion
				m.jonesDole += float64(v) * mobilities[c].jonesDole
			}
		}
		m.diffusion = pairFactor / resistance
		mobilities[i] = m
	}
}

// ConductivityMicroS is the electric conductivity in microsiemens per cm at the
// water's temperature, 0 to 50 deg C, with its range: the ions' limiting
// conductivities, each lowered by the relaxation and the electrophoretic effect of
// Debye, Hueckel and Onsager with a finite ion size,
//
//	lambda = (lambda0 - B2 |z| sqrt I/(1 + kappa a)) (1 - B1 sqrt I/(1 + kappa a)^2) (eta0/eta)^n
//
// per equivalent, the charges and mobilities of a mixture averaged as in PHREEQC
// 3.8 (calc_SC; Robinson and Stokes, Electrolyte Solutions, 2nd ed. 1959, chapter
// 7), and summed by equivalents (Kohlrausch). The range is 2 % of the law below
// 0.1 mol/kg and 1 % more for each 0.1 mol/kg, and what estimated ions carry; see
// docs/chem.md for how it compares with measurements. Of the chloride or sodium
// that made up for a charge which an analysis lacked, half is counted, and the
// range goes from none to all of it: as much of the other sign may be too many.
func (o *State) ConductivityMicroS() Estimate {
	t := o.water.temperatureC
	tk := t + kelvin
	eta := waterViscosity(t) // mPa s
	mix := o.ionMixture(tk, eta)
	if mix.cations == 0 || mix.anions == 0 {
		return Estimate{}
	}
	_, dhB := debyeHueckel(t)
	relaxation, electrophoresis := mix.onsager(tk, eta, dhB*1e10, WaterPermittivity(t))
	root := math.Sqrt(o.ionic)
	thick := mix.viscosityRatio(root)
	madeUp := int(Cl)
	if o.madeUp < 0 {
		madeUp = int(Na)
	}
	sum, unsure, half := 0.0, 0.0, 0.0
	for i := range allSpecies {
		z := math.Abs(allSpecies[i].z)
		if z == 0 || o.molality[i] == 0 {
			continue
		}
		m := &mobilities[i]
		ka := 1 + dhB*m.size*root
		lambda := m.limiting(tk, eta)*z - electrophoresis*z*root/ka
		lambda *= 1 - relaxation*root/(ka*ka)
		lambda = max(lambda, 0) * z * math.Pow(thick, -m.exponent)
		sum += o.molality[i] * lambda
		unsure += o.molality[i] * lambda * m.unsure
		if i == madeUp {
			half = min(math.Abs(o.madeUp), o.molality[i]) * lambda / 2
		}
	}
	perLitre := 1e3 / o.litresPerFreeKg()
	off := sum*(0.02+0.1*max(0, o.ionic-0.1)) + unsure + half
	return Estimate{perLitre * (sum - half), perLitre * max(0, sum-half-off), perLitre * (sum - half + off)}
}

// Conductivity25MicroS is the conductivity of the same water at 25 deg C: what is
// dissolved, brought to equilibrium there, closed and without anything falling. A
// meter that compensates by a fixed 1.9 or 2 % a degree comes within some per cent
// of it.
func (o *State) Conductivity25MicroS() (Estimate, error) {
	w := o.Water()
	w.temperatureC = 25
	v, err := Equilibrate(w, Conditions{})
	if err != nil && !errors.Is(err, ErrIonicStrength) {
		return Estimate{}, err
	}
	v.madeUp = o.madeUp
	return v.ConductivityMicroS(), nil
}

// limiting is the limiting conductivity per equivalent and unit charge, S cm2/mol.
func (m *mobility) limiting(tk, eta float64) float64 {
	d := m.diffusion * math.Exp(m.energy/tk-m.energy/298.15) * viscosity25 / eta
	return d * 1e4 * faraday * faraday / (gasR * 1000 * 298.15)
}

// viscosity25 is that of water at 25 deg C, mPa s.
var viscosity25 = waterViscosity(25)

// ionMixture are the sums over the ions of a State that the interaction law needs.
type ionMixture struct {
	cations, anions   float64    // mol of charge per kg
	zPlus, zMinus     float64    // mean charges
	cationMol, anionM float64    // mol per kg
	lambda            [2]float64 // S cm2 per kg, limiting
	jonesDole         float64    // sum of molality and B
}

func (o *State) ionMixture(tk, eta float64) ionMixture {
	var x ionMixture
	for i := range allSpecies {
		z, n := allSpecies[i].z, o.molality[i]
		m := &mobilities[i]
		x.jonesDole += n * m.jonesDole
		switch {
		case n == 0 || z == 0:
		case z > 0:
			x.cationMol += n
			x.cations += n * z
			x.lambda[0] += n * z * m.limiting(tk, eta)
		default:
			x.anionM += n
			x.anions -= n * z
			x.lambda[1] -= n * z * m.limiting(tk, eta)
		}
	}
	x.zPlus, x.zMinus = x.cations/x.cationMol, x.anions/x.anionM
	return x
}

// onsager gives the coefficients of relaxation, (kg/mol)^(1/2), and of
// electrophoresis, S cm2/mol (kg/mol)^(1/2), with B of debyeHueckel per metre.
func (x *ionMixture) onsager(tk, eta, dhBPerM, permittivity float64) (relaxation, electrophoresis float64) {
	const (
		charge    = 1.602177e-19 // C
		vacuum    = 8.854188e-12 // F/m
		boltzmann = 1.380649e-23 // J/K
		avogadro  = 6.022141e23
	)
	plus, minus := x.lambda[0]/x.cationMol, x.lambda[1]/x.anionM
	share := plus / (plus + minus)
	q := 1 / ((share/x.zPlus + (1-share)/x.zMinus) * (x.zPlus + x.zMinus))
	drag := charge * charge / (6 * math.Pi)
	relaxation = drag / (2 * vacuum * permittivity * boltzmann * tk) * q / (1 + math.Sqrt(q)) *
		dhBPerM * x.zPlus * x.zMinus
	return relaxation, drag * avogadro / (eta * 1e-3) * dhBPerM * 1e4
}

// viscosityRatio is the solution's viscosity over that of water: Jones and Dole,
// with 0.006 for the term in the square root (as for NaCl at 25 deg C).
func (x *ionMixture) viscosityRatio(root float64) float64 {
	return max(1+0.006*root+x.jonesDole, 0.9)
}

// waterViscosity in mPa s, 0 to 60 deg C: Kestin, Sokolov and Wakeham, J.
// Phys. Chem. Ref. Data 7, 941, 1978; equation from memory, held to
// testdata/water-properties.csv.
func waterViscosity(temperatureC float64) float64 {
	d := 20 - temperatureC
	return 1.002 * math.Pow(10, d/(temperatureC+96)*(1.2364-1.37e-3*d+5.7e-6*d*d))
}
