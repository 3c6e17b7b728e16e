package treatment

import (
	"strings"
	"testing"

	"benchleaf/internal/record"
)

// stamped is a body at a seq.
func stamped[T any](seq int64, b T) record.Stamped[T] {
	return record.Stamped[T]{Stamp: record.Stamp{Seq: seq}, Body: b}
}

func TestLeavingAsksWhetherTheObjectIsWhole(t *testing.T) {
	c := &record.Case{}
	if list := Leaving(c); len(list) != 0 {
		t.Errorf("never taken apart, and %v", list)
	}
	part := record.Part{Stamped: stamped(3, record.PartKept{ID: "p", Sort: record.PartStaple, What: "staple 1", Label: "31-s1"})}
	c.Parts = []record.Part{part}
	c.Staples = []record.MappedStaple{{
		Stamped: stamped(2, record.Staple{Number: 1}),
		Moves:   []record.Stamped[record.StapleMoved]{stamped(4, record.StapleMoved{Number: 1, Act: record.StapleRemoved, Part: "p"})},
	}}
	whole := record.Reassembled{Order: true, Facing: true, NothingLeft: true, PartsKnown: true}
	says := func() string {
		var parts []string
		for _, u := range Leaving(c) {
			if !u.Stops {
				t.Errorf("%s does not stop", u.Gate)
			}
			parts = append(parts, u.Gate+": "+u.Say)
		}
		return strings.Join(parts, "\n")
	}
	for _, step := range []struct {
		name string
		do   func()
		want []string
		not  string
	}{
		{"apart", func() {}, []string{"nobody has looked since", "what becomes of staple 1 31-s1"}, ""},
		{"looked at before it was taken apart", func() {
			c.Reassembled = []record.Stamped[record.Reassembled]{stamped(1, whole)}
		}, []string{"nobody has looked since"}, ""},
		{"something left over", func() {
			bad := whole
			bad.NothingLeft, bad.Text = false, "a corner of sheet 3."
			c.Reassembled = append(c.Reassembled, stamped(6, bad))
		}, []string{"is not whole: a corner of sheet 3."}, ".."},
		{"whole", func() { c.Reassembled = append(c.Reassembled, stamped(7, whole)) }, []string{"kept parts"}, "reassembly"},
		{"the staple is back", func() {
			c.Staples[0].Moves = append(c.Staples[0].Moves, stamped(8, record.StapleMoved{Number: 1, Act: record.StapleReused}))
		}, nil, "kept parts"},
		{"apart again", func() {
			c.Runs = append(c.Runs, record.Run{Stamped: stamped(9, record.RunStarted{Operation: "take-apart"})})
		}, []string{"nobody has looked since"}, ""},
	} {
		step.do()
		got := says()
		for _, want := range step.want {
			if !strings.Contains(got, want) {
				t.Errorf("%s: got %q, want %q in it", step.name, got, want)
			}
		}
		if step.not != "" && strings.Contains(got, step.not) {
			t.Errorf("%s: got %q, which has %q", step.name, got, step.not)
		}
	}
}
