package account

import (
	"strings"
	"testing"

	"benchleaf/internal/record"
	"benchleaf/solution"
)

func bottleOf(name, substance, in, unit string, strength float64) record.ShelfBottle {
	b := record.Bottle{
		ID: name, Name: name, Substance: substance, Water: in, Unit: unit, Form: record.FormSolution, VolumeMl: 500,
	}
	if strength > 0 {
		b.Strength = &record.Range{Low: strength, Best: strength, High: strength}
	}
	return record.ShelfBottle{Stamped: record.Stamped[record.Bottle]{Body: b}}
}

// What a bottle was made in counts when it is drawn: caustic in ethanol into bleach
// frees chlorinated vapours (40 CFR 264, appendix V, group 6), whatever the caustic
// does; two mixed bottles meet with all that they hold; a bottle is named as the
// shelf names it. Levels as in solution's testdata/meetings.csv.
func TestDrawnIntoAMixedBottle(t *testing.T) {
	lye := bottleOf("lye in spirit", "sodium hydroxide", "ethanol", "% w/v", 1)
	bleach := bottleOf("the weak bleach", "sodium hypochlorite", "tap water", "% w/v", 0.5)
	vinegar := bottleOf("rinse", "acetic acid", "", "% w/v", 0.5)
	purple := bottleOf("purple", "potassium permanganate", "", "% w/v", 1)
	st := &record.Studio{Bottles: []record.ShelfBottle{lye, bleach, vinegar, purple}}
	for _, row := range []struct {
		from, into string
		stop       bool
	}{
		{"lye in spirit", "the weak bleach", true}, {"lye in spirit", "The weak BLEACH", true},
		{"the weak bleach", "rinse", true}, {"rinse", "the weak bleach", true}, {"lye in spirit", "rinse", false},
		{"purple", "glycerine", true}, {"purple", "lye in spirit", true}, {"rinse", "calcium carbonate", false},
	} {
		for i := range st.Bottles {
			if b := &st.Bottles[i]; b.Body.Name == row.from {
				_, refused := DrawnInto("into", st, b, row.into)
				if (len(refused) > 0) != row.stop {
					t.Errorf("%s into %s: %v, want a refusal %v", row.from, row.into, refused, row.stop)
				}
			}
		}
	}
	if _, refused := DrawnInto("into", st, &lye, "fairy dust"); len(refused) != 1 {
		t.Errorf("an unknown thing: %v", refused)
	}
}

// A bottle of what is known by its groups alone says on its label what must not meet
// it, that its hazards are the data sheet's, and is refused a vessel that it bursts.
func TestBottleOfAReagent(t *testing.T) {
	b := bottleOf("x", "chlorine dioxide", "", "g/L", 1)
	h := HazardsOf(&b)
	if h.Known || len(h.Lines) == 0 || !strings.Contains(h.Lines[0], "never with acid") {
		t.Errorf("%+v", h)
	}
	b.Body.Vessel = solution.ClosedVessel
	if got := KeptIn("vessel", &b.Body); len(got) != 1 {
		t.Errorf("closed: %v", got)
	}
	b.Body.Vessel = "a copper or brass vessel"
	if got := KeptIn("vessel", &b.Body); len(got) != 0 {
		t.Errorf("care is no refusal: %v", got)
	}
}
