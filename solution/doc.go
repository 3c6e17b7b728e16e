// Package solution answers what to weigh, pour and mix: from what stands on the
// shelf to a liquid of known strength, with or without a balance.
//
// Its nouns. A Strength is an amount of one Substance in a liquid, in a unit of
// the bench: "0.4 g/L", "1 % w/v". Parts are a dilution: "1 + 3" is one part of
// stock and three of water. A Glassware is a vessel that measures; a Pour is
// how a volume is measured with the vessels there are. A Recipe is what to do,
// in order, in the user's own vessels, with the strength that comes of it as a
// 10 to 90 % range, what that rests on, the cautions, the label and how long it
// keeps.
//
// Quantities at its borders are named types in one stated unit. Tables that it
// needs are in data/, each row with its source and basis: read in a copy of the
// source, recalled from memory, common practice, or computed.
//
// What becomes of a mixture (its pH, the chalk that hard water throws out of
// lime) is computed by package chem.
package solution

import "benchleaf/unit"

// Quantities of the bench.
type (
	Millilitres = unit.Millilitres
	Grams       = unit.Grams
	Minutes     = unit.Minutes
	Millimetres = unit.Millimetres
	Celsius     = unit.Celsius

	GramsPerLitre      float64
	MolPerLitre        float64
	GramsPerMole       float64
	GramsPerMillilitre float64
	CubicMetres        float64
	Moles              float64
)

// Basis says how a figure is known.
type Basis string

const (
	Read     Basis = "read"            // seen in a copy of the source named
	Memory   Basis = "memory"          // recalled; to be checked against the source
	Common   Basis = "common practice" // what benches do, without a source
	Computed Basis = "computed"        // worked out from an equation named
)
