package account

import (
	"slices"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
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

// wetFrom is an ended run of sheet 1 in a bath of a substance, in a tray.
func wetFrom(liquid string, gl float64, start time.Time) []record.Body {
	s := record.RunStarted{
		ID: record.NewID(start), Operation: "wash", OperationName: "Wash", Sheets: []int{1}, At: start,
		Bath: &record.Bath{ID: record.NewID(start), Liquid: liquid, Substance: liquid, VolumeMl: 1000, Tray: "tray A"},
	}
	if gl > 0 {
		s.Bath.StrengthGL = &record.Range{Low: gl, Best: gl, High: gl}
	}
	return []record.Body{s, record.RunEnded{Run: s.ID, At: start.Add(10 * time.Minute), Outcome: "done", Leaves: record.Wet}}
}

// A sheet that comes wet from one bath meets the next with what it holds, unless it was
// rinsed between: hydride, hypochlorite, dithionite or permanganate into acid or
// ammonia (levels as in solution's testdata/meetings.csv).
func TestAWetSheetMeetsTheNextBath(t *testing.T) {
	start := evening.Add(-2 * time.Hour)
	for _, row := range []struct {
		from, into string
		gl         float64
		rinsed     bool
		stop       bool
	}{
		{"sodium borohydride", "acetic acid", 5, false, true}, {"sodium borohydride", "acetic acid", 5, true, false},
		{"sodium hypochlorite", "citric acid", 2, false, true}, {"sodium hypochlorite", "ammonia", 2, false, true},
		{"sodium dithionite", "citric acid", 5, false, true}, {"potassium permanganate", "oxalic acid", 5, false, true},
		{"chloramine-T", "acetic acid", 20, false, true}, {"sodium hypochlorite", "sodium borohydride", 2, false, true},
		{"calcium hydroxide", "sodium borohydride", 1, false, false}, {"bleach", "vinegar", 2, false, true},
	} {
		bodies := append(agreedTo("wash"), wetFrom(row.from, row.gl, start)...)
		if row.rinsed {
			bodies = append(bodies, wetFrom("water", 0, start.Add(20*time.Minute))...)
		}
		now := evening.Add(time.Hour)
		n := 0
		p := PlanRun(RunAsked{
			Case: folded(t, bodies...), Studio: &record.Studio{}, Now: words.Clock{Language: words.English, Zone: time.UTC, Today: now},
			ID: func(int) string { n++; return record.NewID(now.Add(time.Duration(n))) },
			Run: record.RunStarted{
				ID: record.NewID(now), Operation: "wash", Sheets: []int{1},
				Bath: &record.Bath{ID: record.NewID(now), Liquid: row.into, Substance: row.into, VolumeMl: 1000},
			},
		})
		if got := gateOf(p, gateNotMix); (got != "") != row.stop {
			t.Errorf("%s, rinsed %v, into %s: %q, want a stop: %v", row.from, row.rinsed, row.into, got, row.stop)
		}
	}
}

// A bath of what the table does not know says so, and a bath from a bottle meets with
// the solvent that the bottle was made in.
func TestABathOfWhatIsNotKnown(t *testing.T) {
	now := evening.Add(time.Hour)
	n := 0
	asked := func(substance, bottle string) *RunPlan {
		return PlanRun(RunAsked{
			Case:   folded(t, append(agreedTo("wash"), wetFrom("sodium hypochlorite", 2, evening.Add(-time.Hour))...)...),
			Studio: &record.Studio{Bottles: []record.ShelfBottle{bottleOf("spirit lye", "sodium hydroxide", "ethanol", "g/L", 1)}},
			Now:    words.Clock{Language: words.English, Zone: time.UTC, Today: now}, Bottle: bottle,
			ID: func(int) string { n++; return record.NewID(now.Add(time.Duration(n))) },
			Run: record.RunStarted{
				ID: record.NewID(now), Operation: "wash", Sheets: []int{1},
				Bath: &record.Bath{ID: record.NewID(now), Liquid: substance, Substance: substance, VolumeMl: 100},
			},
		})
	}
	p := asked("moon dust", "")
	if !slices.ContainsFunc(p.Remarks, func(s Sentence) bool { return s.Code == NotInTable }) {
		t.Errorf("nothing is said of an unknown substance: %v", p.Remarks)
	}
	if got := gateOf(asked("sodium hydroxide", ""), gateNotMix); got != "" {
		t.Errorf("lye after hypochlorite: %q", got)
	}
	if got := gateOf(asked("sodium hydroxide", "spirit lye"), gateNotMix); !strings.Contains(got, "chlorinated") {
		t.Errorf("lye in ethanol after hypochlorite: %q", got)
	}
}
