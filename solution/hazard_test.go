package solution

import (
	"slices"
	"strings"
	"testing"
)

// Pairs from the table of incompatibilities (its source: Bretherick, Handbook
// of Reactive Chemical Hazards, from memory), asked in either order.
func TestConflicts(t *testing.T) {
	for _, row := range []struct {
		a, b  string
		level Level
		says  string
	}{
		{"NaBH4", "acetic acid", Stop, "hydrogen"},
		{"KBH4", "citric acid", Stop, "hydrogen"},
		{"NaBH4", "an acid sheet", Stop, "hydrogen"},
		{"NaBH4", "hydrogen peroxide", Stop, "violent"},
		{"NaBH4", "staples", Warn, "catalysed"},
		{"NaBH4", "a closed vessel", Stop, "pressure"},
		{"hydrogen peroxide 3 %", "acetone", Stop, "peroxides"},
		{"sodium hypochlorite", "acetic acid", Stop, "chlorine"},
		{"sodium hypochlorite", "ammonia", Stop, "chloramines"},
		{"calcium hydroxide", "an aluminium vessel", Stop, "hydrogen"},
		{"calcium hydroxide", "trisodium citrate", Warn, "precipitates"},
		{"calcium hydroxide", "ammonium bicarbonate", Warn, "ammonia"},
		{"calcium hydroxide", "lignin-rich paper", Warn, "yellowing"},
	} {
		for _, names := range [][]string{{row.a, row.b}, {row.b, row.a}} {
			got, err := Conflicts(names...)
			if err != nil {
				t.Errorf("%v: %v", names, err)
				continue
			}
			if !slices.ContainsFunc(got, func(c Conflict) bool {
				return c.Level == row.level && strings.Contains(c.Sentence(), row.says) && c.Source != ""
			}) {
				t.Errorf("%v: got %+v, want %s with %q", names, got, row.level, row.says)
			}
		}
	}
	for _, quiet := range [][]string{{"ethanol", "water"}, {"calcium hydroxide", "methyl cellulose"},
		{"NaBH4", "calcium hydroxide"}} {
		got, err := Conflicts(quiet...)
		if err != nil || len(got) != 0 {
			t.Errorf("%v: got %v, %v, want nothing", quiet, got, err)
		}
	}
	if _, err := Conflicts("NaBH4", "a hat"); err == nil {
		t.Error("an unknown thing was accepted")
	}
	got, err := Conflicts("NaBH4", "ethanol", "acetic acid")
	if err != nil || got[0].Level != Stop {
		t.Errorf("got %v, %v, want the gravest first", got, err)
	}
}

// A sentence begins with a capital in any script.
func TestConflictNamesAThingOfAnyScript(t *testing.T) {
	got := Conflict{A: "écarlate", B: "lime", Effect: "it fades", Level: Warn}.Sentence()
	if want := "Écarlate and lime need care together: it fades."; got != want {
		t.Errorf("the sentence is %q, want %q", got, want)
	}
}

func TestEveryRowOfTheTableCanBeMet(t *testing.T) {
	groups := map[string]bool{}
	for _, s := range Substances() {
		for _, g := range s.Groups {
			groups[g] = true
		}
	}
	for _, g := range things {
		for _, x := range g {
			groups[x] = true
		}
	}
	for _, r := range conflictRows() {
		for _, column := range []string{"groups", "with_groups"} {
			for _, g := range r.list(column, " ") {
				if !groups[g] {
					t.Errorf("%s with %s: nothing belongs to the group %q", r["substance"], r["with"], g)
				}
			}
		}
	}
}

func TestHazardWording(t *testing.T) {
	h := find(t, "ethanol").HazardOf()
	if h == nil || h.SignalWord != "Danger" ||
		h.Statements[0] != (Statement{"H225", "Highly flammable liquid and vapour."}) {
		t.Errorf("ethanol: got %+v", h)
	}
	if h := find(t, "calcium carbonate").HazardOf(); h == nil || len(h.Classes) != 0 {
		t.Errorf("calcium carbonate: got %+v, want it known and not classified", h)
	}
	if h := find(t, "methyl cellulose").HazardOf(); h != nil {
		t.Errorf("methyl cellulose: got %+v, want it unknown", h)
	}
}
