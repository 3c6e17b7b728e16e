package account

import (
	"strings"
	"testing"

	"benchleaf/internal/record"
)

func TestOpeningsOfASheet(t *testing.T) {
	c := folded(t, record.SheetState{Sheet: 2, Missing: record.LeafFirst}) // pages 3 and 4
	if got := strings.Join(LiesAgainst(c, 1), ", "); got != "2 | 5, 6 | 7" {
		t.Errorf("sheet 1 lies open at %s, want 2 | 5 (3 and 4 are missing), 6 | 7", got)
	}
}

// What a creep proves, by what was expected of four sheets of 80 to 100 µm and read.
func TestWhatACreepProves(t *testing.T) {
	creep := func(um, read float64, trim record.Trim) []Fact {
		sheets := []int{1, 2, 3, 4, 5, 6, 7, 8}
		return Creep(folded(t,
			record.MakeUp{InnerSheets: 8, Cover: record.CoverSelf, FirstPage: 1, Trim: trim},
			record.Stock{
				ID: record.NewID(evening), Name: "paper", Class: "groundwood", Sheets: sheets, WidthMm: 340, HeightMm: 262,
				GrammageGM2: 50, GrammageBasis: "measured", ThicknessUm: &um,
			},
			record.Collation{When: record.CollatedArrival, SheetsCounted: 8, InOrder: true, CreepMm: &read}))
	}
	for _, tc := range []struct {
		um, read float64
		trim     record.Trim
		want     string
	}{
		// 7 thicknesses of 75 µm are 0.5 mm sharp (docs/practice.md, 3), 0.8 mm round.
		{75, 0.6, "", "no sign that the edges were cut"},
		{75, 0, "", "the edges were cut after folding, or sheets are lacking"},
		{75, 0, record.TrimNone, "a sheet may be lacking"},
		{75, 2, "", "stands off the fold"},
		{10, 0.1, "", "Too few or too thin sheets"},
	} {
		facts := creep(tc.um, tc.read, tc.trim)
		if last := facts[len(facts)-1]; last.Code != CreepProves || !strings.Contains(last.Text, tc.want) {
			t.Errorf("%g µm, %g mm read, %s: %q, want %q", tc.um, tc.read, tc.trim, last.Text, tc.want)
		}
	}
}
