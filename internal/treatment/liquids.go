package treatment

import (
	"fmt"
	"slices"
	"sync"

	"benchleaf/chem"
	"benchleaf/interval"
	"benchleaf/paper"
	"benchleaf/solution"
)

// mostInert is the dissolved alcohol or solvent, g/L, up to which the constants of
// water still stand for the bath (common practice, no source: a tenth and a half).
const mostInert = 150

// Solution is a liquid of mmolPerL of a substance as package paper computes with
// it, from its formula. What lies beyond its solubility stays on the tray's floor
// (paper.OnTheFloor). Errors, each one sentence: an acid; a substance of which the
// chemistry here knows nothing.
func Solution(sub *solution.Substance, name string, mmolPerL interval.Range) (paper.Liquid, error) {
	if slices.ContainsFunc([]solution.Group{solution.Alcohol, solution.Solvent, "acetone"}, sub.Is) {
		return inert(sub, name, mmolPerL)
	}
	solute, err := chem.ParseSolute(sub.Formula)
	switch {
	case sub.Is("dithionite"):
		return paper.Liquid{}, fmt.Errorf("what a bath of %s becomes (sulfite, thiosulfate and acid, within minutes in "+
			"air) is not computed here: read its pH", sub.Name)
	case sub.AlkaliEqPerMol < 0 && err == nil:
		return paper.Liquid{}, acidBath(sub.Name, solute)
	case sub.AlkaliEqPerMol < 0:
		return paper.Liquid{}, fmt.Errorf("%s is an acid: this computes alkaline baths and water only", sub.Name)
	case sub.Formula == "" || err != nil:
		return paper.Liquid{}, fmt.Errorf("the chemistry of %s is not known here, so what a bath of it does to a sheet "+
			"cannot be computed", sub.Name)
	}
	return ofSolute(solute, name, mmolPerL)
}

// acidBath is why a bath of an acid is not computed; of a chelator's, where what it
// does is, and as what it can be.
func acidBath(name string, solute chem.Solute) error {
	switch {
	case solute.Gives(chem.EDTA) > 0:
		return fmt.Errorf("%s is an acid as it is (about pH 4.5), and this computes alkaline baths and water only: "+
			"brought to pH 9 or more with alkali it is Na4C10H12N2O8 (tetrasodium EDTA), which is computed; what it takes "+
			"of calcium and iron at a pH is under Solutions, Chelators", name)
	case solute.Gives(chem.Citrate) > 0:
		return fmt.Errorf("%s is an acid, and this computes alkaline baths and water only: neutralised it is a citrate "+
			"(trisodium or triammonium citrate), which is computed; what it takes of calcium and iron at a pH is under "+
			"Solutions, Chelators", name)
	}
	return fmt.Errorf("%s is an acid: this computes alkaline baths and water only", name)
}

// ofSolute is a liquid of what chem knows.
func ofSolute(solute chem.Solute, name string, mmolPerL interval.Range) (paper.Liquid, error) {
	if paper.AlkaliOf(solute) < 0 {
		return paper.Liquid{}, acidBath(solute.Name(), solute)
	}
	l := paper.Dissolved(name, solute, mmolPerL)
	l.MostMmolPerL = mostOf(solute)
	return l, nil
}

// soluble are handbook solubilities of what chem has no solid for, g of the anhydrous
// salt in 100 g of water at 20 C. Sodium carbonate is read (a public table of the sodium
// carbonate series); all others are from memory (CRC Handbook, Lange's Handbook), within
// a tenth or so, and are only a bound: a bench does not come near the most of them.
var soluble = map[string]float64{
	"Na2CO3": 21.8, "NaHCO3": 9.6, "Na2B4O7": 2.56, "NaBH4": 55, "KBH4": 19, "NaBO2": 25, "Na2HPO4": 7.7, "Na3PO4": 12,
	"NH4HCO3": 21.7, "Na3C6H5O7": 60, "(NH4)3C6H5O7": 100, "KHCO3": 33.7, "K2CO3": 111, "NaOH": 109, "KOH": 112,
	"CaCl2": 74.5, "MgCl2": 54.6, "MgSO4": 33.7, "Ca(CH3COO)2": 34.7, "NaCl": 35.9, "Na2SO4": 19.5, "Na2C2O4": 3.4,
	"CaHPO4": 0.02, "CaC2O4": 0.00067, "Ca3(C6H5O7)2": 0.085, "H3BO3": 4.7,
}

// mostOf is a solute's solubility from the handbook, mmol in a kg of water; 0: not
// there.
func mostOf(solute chem.Solute) float64 {
	for _, x := range solubles() {
		if sameSolute(x.solute, solute) {
			return x.mostMmolPerKg
		}
	}
	return 0
}

type mostSoluble struct {
	solute        chem.Solute
	mostMmolPerKg float64
}

var solubles = sync.OnceValue(func() []mostSoluble {
	var list []mostSoluble
	for formula, grams := range soluble {
		if s, err := chem.ParseSolute(formula); err == nil { // what chem does not know asks for nothing
			list = append(list, mostSoluble{s, grams * 10 / s.MolarMass() * 1000})
		}
	}
	return list
})

// sameSolute says whether a mol of each gives the same.
func sameSolute(a, b chem.Solute) bool {
	return !slices.ContainsFunc(chem.Components(), func(c chem.Component) bool { return a.Gives(c) != b.Gives(c) })
}

// inert is a liquid of what is neither acid nor base.
func inert(sub *solution.Substance, name string, mmolPerL interval.Range) (paper.Liquid, error) {
	if g := mmolPerL.Best * float64(sub.MolarMass) / 1000; g > mostInert {
		return paper.Liquid{}, fmt.Errorf("with %.0f g/L of %s the constants of water no longer hold: up to %d g/L can be "+
			"computed, as water", g, sub.Name, mostInert)
	}
	return paper.Liquid{Name: name, InertMmolPerL: mmolPerL.Best}, nil
}

// SolutionOf is Solution by name and strength as typed: of a substance of the table,
// or else of any that chem knows. It is uncertain by within per cent either way.
// Errors: those of Solution, a name or strength that is not understood.
func SolutionOf(name, strength string, within float64) (paper.Liquid, error) {
	sub, notFound := solution.Find(name)
	if notFound != nil {
		solute, err := chem.ParseSolute(name)
		if err != nil {
			return paper.Liquid{}, notFound
		}
		sub = &solution.Substance{
			Name: solute.Name(), Formula: solute.Name(), State: solution.Solid,
			MolarMass: solution.GramsPerMole(solute.MolarMass()),
		}
	}
	if sub.State == solution.Solution {
		sub = sub.Parent()
	}
	x, err := solution.ParseStrength(strength)
	if err != nil {
		return paper.Liquid{}, err
	}
	if notFound == nil {
		if err := solution.CheckBath(solution.Thing{Name: name, Strength: x}); err != nil {
			return paper.Liquid{}, err
		}
	}
	mol, err := x.In(solution.MmolL, sub, 0)
	if err != nil {
		return paper.Liquid{}, err
	}
	says := fmt.Sprintf("%s %s", sub.Name, x)
	mmol := interval.Within(mol.Value, mol.Value*within/100)
	if notFound != nil {
		solute, _ := chem.ParseSolute(name) // parsed above
		return ofSolute(solute, says, mmol)
	}
	return Solution(sub, says, mmol)
}
