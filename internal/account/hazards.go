package account

import (
	"strings"

	"benchleaf/internal/record"
	"benchleaf/solution"
)

// Hazards are what the law makes of what a bottle holds, at its strength.
type Hazards struct {
	// Known is false where the table has nothing of the substance: that means
	// unknown, not harmless.
	Known                   bool
	Signal                  string   // "Danger", "Warning" or ""
	Pictograms              []string // GHS01 to GHS09
	Statements, Precautions []Statement
	// Lines are plain words for the label besides.
	Lines []string
	// Note says what was classified, and what decides.
	Note string
}

// Statement is a statement of the law with its code.
type Statement = solution.Statement

const unknownHazards = "Hazards: not in the program’s table. The data sheet delivered with it decides."

// HazardsOf classifies what a bottle holds: a solid or a liquid as supplied, a
// solution at the strength that counts now, with a solvent that it was made in.
func HazardsOf(b *record.ShelfBottle) Hazards {
	sub, err := solution.Find(b.Body.Substance)
	if err != nil {
		h := Hazards{Note: unknownHazards}
		if reagent := solution.Known(b.Body.Substance); reagent != nil {
			h.Lines = solution.LabelLines(reagent)
		}
		return h
	}
	x := solution.Ingredient{Substance: sub}
	r, unit := b.StrengthNow(), solution.Unit(b.Body.Unit)
	if strength := (solution.Strength{Unit: unit}); r != nil && b.Body.Form != record.FormSolid {
		strength.Value = r.Best
		if strength.Check() == nil {
			x = solution.Ingredient{Substance: sub.Parent(), Strength: strength}
		}
	}
	of := []solution.Ingredient{x}
	if in, err := solution.Find(b.Body.Water); err == nil && in.Is(solution.Solvent) {
		of = append(of, solution.Ingredient{Substance: in})
	}
	h := Hazards{}
	if b.Body.Form != record.FormSolid {
		h.Lines = solution.LabelLines(sub)
	}
	switch c := solution.HazardOf(of...); {
	case c == nil:
		h.Note = unknownHazards
	case len(c.Classes) == 0:
		h.Known, h.Note = true, "Not classified as hazardous: "+c.Of+". The data sheet delivered with it decides."
	default:
		h.Known, h.Signal, h.Pictograms = true, c.SignalWord, c.Pictograms
		h.Statements, h.Precautions, h.Note = c.Statements, c.Precautions, c.Note()
	}
	return h
}

// Said are the statements, each with its code.
func (h Hazards) Said() []string {
	var list []string
	for _, x := range h.Statements {
		list = append(list, x.Code+": "+strings.TrimSuffix(x.Text, ".")+".")
	}
	return list
}
