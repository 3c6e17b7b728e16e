package chem

import "strings"

// Component is a building block of waters.
type Component uint8

// The components. Each stands for all species that hold it: C is carbonate,
// bicarbonate and dissolved carbon dioxide together. Water itself is kept
// beside them.
const (
	H Component = iota
	Ca
	Mg
	Na
	K
	N // ammonia and ammonium
	Cl
	C // inorganic carbon
	S // sulfate
	NO3
	B // borate and boric acid
	Acetate
	Formate
	Oxalate
	Citrate
	P // phosphate
	Phthalate
	Fe2          // ferrous iron
	Fe3          // ferric iron
	EDTA         // ethylenediaminetetraacetate
	BH4          // borohydride ion, not yet hydrolysed
	Carboxyl     // carboxyl groups fixed to paper
	Peroxide     // hydrogen peroxide and its anion
	Hypochlorite // hypochlorous acid and its anion
	numComponents
)

// NumComponents is the number of components, H among them.
const NumComponents = int(numComponents)

// components gives each component's name in output and the ion or molecule
// that stands for it in reactions.
var components = [numComponents]struct{ name, master string }{
	H: {"H", "H+"}, Ca: {"Ca", "Ca+2"}, Mg: {"Mg", "Mg+2"}, Na: {"Na", "Na+"}, K: {"K", "K+"},
	N: {"N", "NH4+"}, Cl: {"Cl", "Cl-"}, C: {"C", "CO3-2"}, S: {"S", "SO4-2"}, NO3: {"NO3", "NO3-"},
	B: {"B", "H3BO3"}, Acetate: {"acetate", "Acetate-"}, Formate: {"formate", "Formate-"},
	Oxalate: {"oxalate", "Oxalate-2"}, Citrate: {"citrate", "Citrate-3"}, P: {"P", "PO4-3"},
	Phthalate: {"phthalate", "Phthalate-2"}, Fe2: {"Fe2", "Fe+2"}, Fe3: {"Fe3", "Fe+3"}, EDTA: {"EDTA", "Edta-4"},
	BH4: {"BH4", "BH4-"}, Carboxyl: {"carboxyl", "Carboxyl-"},
	Peroxide: {"peroxide", "H2O2"}, Hypochlorite: {"hypochlorite", "HOCl"},
}

// String is the name used in output: the element, or the anion of an acid.
func (c Component) String() string { return components[c].name }

// Components lists all components, in order.
func Components() []Component {
	out := make([]Component, numComponents)
	for i := range out {
		out[i] = Component(i)
	}
	return out
}

// Solids is a set of solids: Calcite|Brucite.
type Solids uint16

// The solids, all as pure crystals in water at 1 atm.
const (
	Calcite Solids = 1 << iota
	Aragonite
	Vaterite
	Portlandite
	Brucite
	Nesquehonite
	Magnesite
	Hydromagnesite
	Gypsum
	numSolids = iota
)

// solidNames in the order of the bits.
var solidNames = [numSolids]string{
	"calcite", "aragonite", "vaterite", "portlandite", "brucite", "nesquehonite", "magnesite", "hydromagnesite",
	"gypsum",
}

// Names lists the solids of the set.
func (s Solids) Names() []string {
	var out []string
	for i, n := range solidNames {
		if s&(1<<i) != 0 {
			out = append(out, n)
		}
	}
	return out
}

// As is the ion or molecule that masses of the component are given as: CO3 for
// C, SO4 for S.
func (c Component) As() string {
	m := components[c].master
	if i := strings.LastIndexAny(m, "+-"); i > 0 {
		m = m[:i]
	}
	return m
}
