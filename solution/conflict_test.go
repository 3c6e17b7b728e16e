package solution

import (
	"slices"
	"strings"
	"testing"
)

// Conflicts is ConflictsOf for names alone.
func Conflicts(names ...string) ([]Conflict, error) {
	var all []Thing
	for _, n := range names {
		all = append(all, Thing{Name: n})
	}
	return ConflictsOf(all...)
}

// Pairs of the table of incompatibilities, asked in either order. Where no source
// is named it is Bretherick, Handbook of Reactive Chemical Hazards, from memory.
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
		{"NaBH4", "staples", Warn, "catalysts"},
		{"NaBH4", "a closed vessel", Stop, "pressure"},
		{"hydrogen peroxide 3 %", "acetone", Stop, "peroxides"},
		{"sodium hypochlorite", "acetic acid", Stop, "chlorine"},
		{"sodium hypochlorite", "ammonia", Stop, "chloramines"},
		{"calcium hydroxide", "an aluminium vessel", Stop, "hydrogen"},
		{"calcium hydroxide", "trisodium citrate", Warn, "falls out"},
		{"calcium hydroxide", "ammonium bicarbonate", Warn, "ammonia"},
		{"calcium hydroxide", "lignin-rich paper", Warn, "yellowing"},
		// Hypochlorites with flammable liquids, peroxides with acetic acid: 40 CFR
		// 264, appendix V, group 6.
		{"sodium hypochlorite", "ethanol", Stop, "chloroform"},
		{"sodium hypochlorite", "acetone", Stop, "chloroform"},
		{"calcium hypochlorite", "propan-2-ol", Stop, "fire"},
		{"hydrogen peroxide 30 %", "acetic acid", Stop, "peracid"},
		{"hydrogen peroxide 30 %", "propan-2-ol", Stop, "fire"},
		// ICSC 1670, sodium tetrahydroborate: acids, alcohol, oxidizing agents, water.
		{"NaBH4", "propan-2-ol", Warn, "hydrogen"},
		{"NaBH4", "sodium hypochlorite", Stop, "violent"},
		{"NaBH4", "water", Warn, "hydrogen"},
		{"NaBH4", "acetone", Stop, "hydrogen"},
		{"NaBH4", "disodium EDTA", Stop, "hydrogen"},
		{"NaBH4", "diammonium hydrogen citrate", Stop, "hydrogen"},
		{"NaBH4", "ammonium bicarbonate", Stop, "hydrogen"},
		{"NaBH4", "calcium bicarbonate", Stop, "hydrogen"},
		{"NaBH4", "magnesium bicarbonate", Stop, "hydrogen"},
		{"NaBH4", "an aluminium vessel", Stop, "aluminium"},
		// Vessels: vented or not.
		{"hydrogen peroxide 3 %", "a closed vessel", Stop, "pressure"},
		{"magnesium bicarbonate", "a closed vessel", Warn, "pressure"},
		{"sodium hypochlorite", "a closed vessel", Warn, "vented"},
		{"ethanol", "a closed vessel", Warn, "vapour"},
		// ICSC 0360, sodium hydroxide: acids, aluminium, zinc, ammonium salts, water.
		{"sodium hydroxide", "an aluminium vessel", Stop, "hydrogen"},
		{"sodium hydroxide", "a galvanised vessel", Stop, "hydrogen"},
		{"sodium carbonate", "an aluminium vessel", Stop, "hydrogen"},
		{"sodium hydroxide", "hydrochloric acid", Stop, "violently"},
		{"sodium hydroxide", "acetic acid", Stop, "violently"},
		{"sodium hydroxide", "ammonium bicarbonate", Stop, "ammonia"},
		{"sodium hydroxide", "water", Warn, "heat"},
		{"acetic acid", "sodium bicarbonate", Warn, "carbon dioxide"},
		{"citric acid", "calcium carbonate", Warn, "carbon dioxide"},
		// ICSC 1717, sodium dithionite: strong oxidants, acids, water.
		{"sodium dithionite", "hydrogen peroxide 3 %", Stop, "violent"},
		{"sodium dithionite", "calcium hypochlorite", Stop, "violent"},
		{"sodium dithionite", "citric acid", Stop, "sulfur dioxide"},
		{"sodium dithionite", "an acid sheet", Stop, "sulfur dioxide"},
		{"sodium dithionite", "water", Warn, "fire"},
		// ICSC 0409, calcium oxide: water, strong acids.
		{"calcium oxide", "water", Warn, "heat"},
		{"calcium oxide", "hydrochloric acid", Stop, "violently"},
		// ICSC 0414, ammonia: halogens, acids, copper, zinc, aluminium.
		{"ammonia", "iodine", Stop, "explodes"},
		{"ammonium bicarbonate", "iodine", Stop, "explodes"},
		{"ammonia", "a copper or brass vessel", Warn, "copper"},
		{"ammonia", "a galvanised vessel", Warn, "zinc"},
		{"hydrogen peroxide 3 %", "ammonia", Warn, "decay"},
		{"hydrogen peroxide 30 %", "ammonia", Stop, "oxygen"},
		{"hydrogen peroxide 3 %", "lignin-rich paper", Stop, "lignin"},
		{"sodium hypochlorite", "lignin-rich paper", Stop, "lignin"},
		{"hydrogen peroxide 3 %", "rust", Stop, "radicals"},
		{"hydrochloric acid", "an aluminium vessel", Stop, "hydrogen"},
		{"calcium hydroxide", "sodium bicarbonate", Warn, "chalk falls out"},
		{"calcium chloride", "sodium carbonate", Warn, "falls out"},
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
		{"NaBH4", "calcium hydroxide"}, {"acetone", "water"}, {"NaBH4", "borax"}, {"citric acid", "water"},
		{"calcium hydroxide", "an acid sheet"}, {"magnesium hydroxide", "calcium carbonate"}, {"wheat starch", "water"},
		{"ethanol", "acetone"}, {"sodium dithionite", "sodium bicarbonate"}, {"hydrogen peroxide 3 %", "water"}} {
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
	for _, s := range slices.Concat(substances().all, reagents().all) {
		for _, g := range s.Groups {
			groups[g] = true
		}
	}
	for _, g := range things {
		for _, x := range g {
			groups[x] = true
		}
	}
	for _, r := range strongFrom() {
		groups[r["group"]+"-strong"], groups[r["group"]+"-weak"] = true, true
	}
	for _, m := range meetingRows() {
		for _, g := range slices.Concat(m.groups, m.with) {
			if !groups[g] {
				t.Errorf("%s: nothing belongs to the group %q", m.code, g)
			}
		}
		if m.level != Stop && m.level != Warn && m.level != None {
			t.Errorf("%s: the level %q is none", m.code, m.level)
		}
	}
}

// Every two things that can meet were looked at: a row of the table says what
// happens, or why nothing dangerous is known. A thing is not asked about one that
// the table cannot tell from it.
func TestEveryPairIsCovered(t *testing.T) {
	var substances, all []met
	for _, s := range slices.Concat(Substances(), reagents().all) {
		substances = append(substances, of(t, Thing{Name: s.Name}))
	}
	all = slices.Clone(substances)
	for _, name := range Things() {
		all = append(all, of(t, Thing{Name: name}))
	}
	open := map[string]bool{}
	for i, a := range substances {
		for _, b := range all[i+1:] {
			if len(meetings(a, b)) == 0 && reviewed(a, b) == "" && !slices.Equal(a.groups, b.groups) {
				open[strings.Join(a.groups, " ")+" with "+strings.Join(b.groups, " ")] = true
			}
		}
	}
	for pair := range open {
		t.Errorf("%s: no row, and no reason why there is none", pair)
	}
}

func of(t *testing.T, x Thing) met {
	t.Helper()
	m, err := x.met()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// What a strength changes. Peroxide from 8 % and acetic acid from 25 % are the
// limits of Regulation (EC) No 1272/2008, Annex VI; the consequences are those of
// 40 CFR 264, appendix V, groups 1 and 6.
func TestConflictsOfStrength(t *testing.T) {
	percent := func(name string, v float64) Thing { return Thing{name, Strength{v, PercentWV}} }
	for _, row := range []struct {
		a, b  Thing
		level Level
	}{
		{percent("hydrogen peroxide", 30), percent("acetic acid", 5), Stop},
		{percent("hydrogen peroxide", 3), Thing{Name: "acetic acid"}, Stop},
		{percent("hydrogen peroxide", 3), percent("acetic acid", 1), Warn},
		{percent("hydrogen peroxide", 30), Thing{Name: "ethanol"}, Stop},
		{percent("hydrogen peroxide", 3), Thing{Name: "ethanol"}, Warn},
		{percent("sodium hydroxide", 10), Thing{Name: "acetic acid"}, Stop},
		{percent("sodium hydroxide", 0.1), percent("acetic acid", 1), Warn},
		{percent("sodium hypochlorite", 0.1), percent("acetic acid", 0.1), Stop},
		{percent("ammonia", 1), Thing{Name: "iodine"}, Stop},
		{percent("ammonia", 25), Thing{Name: "hydrochloric acid"}, Stop},
	} {
		got, err := ConflictsOf(row.b, row.a)
		if err != nil || len(got) == 0 || got[0].Level != row.level {
			t.Errorf("%v with %v: got %v, %v, want %s", row.a, row.b, got, err, row.level)
		}
	}
}

// Pairs by the words of bench, trade and house, expected from published sources
// (testdata/meetings.csv); a strength in a name counts.
func TestPublishedMeetings(t *testing.T) {
	rows := testTable(t, "meetings.csv")
	for _, r := range rows {
		got, err := Conflicts(r["a"], r["b"])
		if err != nil {
			t.Errorf("%s with %s: %v", r["a"], r["b"], err)
			continue
		}
		level := None
		if len(got) > 0 {
			level = got[0].Level
		}
		want := map[string][]Level{"stop": {Stop}, "care": {Warn, Stop}, "low": {None, Warn}, "none": {None}}[r["level"]]
		if !slices.Contains(want, level) {
			t.Errorf("%s with %s: %s, want %s (%s)", r["a"], r["b"], level, r["level"], r["source"])
		}
	}
	if len(rows) < 170 {
		t.Errorf("%d pairs", len(rows))
	}
	for _, row := range []struct {
		a, b  string
		level Level
	}{
		{"acetic acid 5 %", "hydrogen peroxide 3 %", Warn}, {"acetic acid (80 %)", "hydrogen peroxide 3 %", Stop},
		{"35 % hydrogen peroxide", "ethanol", Stop}, {"dilute ammonia solution", "iodine", Stop},
		{"concentrated sulfuric acid", "caustic soda", Stop}, {"hydrogen peroxide 6 % solution", "ethanol", Warn},
	} {
		if got, err := Conflicts(row.a, row.b); err != nil || len(got) == 0 || got[0].Level != row.level {
			t.Errorf("%s with %s: got %v, %v, want %s", row.a, row.b, got, err, row.level)
		}
	}
}

// What is known by its groups alone makes no recipe, and says why.
func TestReagentsMakeNoRecipe(t *testing.T) {
	for _, s := range reagents().all {
		if _, err := Find(s.Name); err == nil || !strings.Contains(err.Error(), "must not meet") {
			t.Errorf("%s: %v", s.Name, err)
		}
		for _, name := range append(s.Aliases, s.Name) {
			if got := Known(name); got == nil || got != s {
				t.Errorf("%q is found as %v, not %s", name, got, s.Name)
			}
		}
	}
}
