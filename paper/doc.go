// Package paper says what water does to a sheet.
//
// Its nouns. A Sheet is one piece of paper with its size and what is known of
// it; what is not known is taken from its Class, with a wide range, and the
// Outcome says so. Pick-up is the liquid that a sheet holds, g per g of dry
// paper. Acid demand is the acid that alkali has to neutralise in the sheet,
// soluble and fixed. A Bath is one container of one Liquid used on one or more
// sheets. Alkaline reserve is mol of acid that the carbonate left in a dry sheet
// can neutralise, per kg of dry paper; 0.4 mol/kg is 2 % CaCO3 (ISO 9706).
//
// A bath is followed in time: diffusion through the wet sheet and the resting
// film at its open faces (slab), sheet and bath at chemical equilibrium by chem,
// the carboxyl groups of the paper as exchanger. docs/paper.md has the equations,
// what they leave out, and the checks.
package paper

import "benchleaf/unit"

// Quantities at the package's border.
type (
	Millimetres = unit.Millimetres
	Millilitres = unit.Millilitres
	Minutes     = unit.Minutes
	Celsius     = unit.Celsius
	Humidity    = unit.Humidity
)
