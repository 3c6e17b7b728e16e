package demo

import (
	"context"
	"strings"
	"testing"
	"time"

	"benchleaf/condition"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func filled(t testing.TB, now time.Time) *store.Store {
	t.Helper()
	s, err := store.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if err := Fill(context.Background(), s, now); err != nil {
		t.Fatal(err)
	}
	return s
}

// At any hour of any day the demonstration is in the middle of its evening.
func TestDemoIsInTheMiddleOfItsWetEvening(t *testing.T) {
	for _, now := range []time.Time{time.Date(2026, 3, 6, 19, 40, 0, 0, time.UTC), time.Date(2026, 11, 1, 0, 10, 0, 0, time.FixedZone("x", 3600)), time.Date(2028, 2, 29, 7, 0, 0, 0, time.UTC)} {
		s := filled(t, now)
		r, err := s.Verify(context.Background())
		if err != nil || !r.Clean() {
			t.Fatalf("%v: %v %v", now, r, err)
		}
		list, err := s.List(context.Background(), store.Filter{})
		if err != nil || len(list) != 4 {
			t.Fatalf("%d cases, %v; want 4", len(list), err)
		}
		var windlass record.Summary
		states := map[string]int{}
		for _, c := range list {
			states[c.State]++
			if strings.Contains(c.Title, "Windlass") {
				windlass = c
			}
		}
		if states["closed"] != 2 || states["taken in"] != 1 || windlass.State != "in treatment" {
			t.Errorf("states %v, want two closed, one taken in, the Windlass in treatment", states)
		}
		if len(windlass.Wet) < 6 || len(windlass.Due) == 0 {
			t.Errorf(
				"%d sheets wet, %d things due; want the middle of an evening",
				len(windlass.Wet),
				len(windlass.Due),
			)
		}
		st, err := s.Studio(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		for i := range st.Bottles {
			// Two baths of 1500 mL were filled from it.
			if b := &st.Bottles[i]; b.Body.Name == "lime water 0.4 g/L" && b.Body.VolumeMl-b.LeftMl != 3000 {
				t.Errorf("%v of %v mL of the lime water are left; want 3000 less", b.LeftMl, b.Body.VolumeMl)
			}
		}
		c, err := s.Case(context.Background(), windlass.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range c.Damages {
			if _, ok := condition.Look(condition.Term(d.Body.Term)); !ok {
				t.Errorf("%q is no term of the vocabulary", d.Body.Term)
			}
		}
		for _, p := range c.Photos {
			if p.Body.Credit != Credit {
				t.Errorf("%s does not say that it was drawn", p.Body.Caption)
			}
		}
		if last := c.Log[len(c.Log)-1].Time; last.After(now) || now.Sub(last) > 10*time.Minute {
			t.Errorf("the last entry is of %v, now is %v", last, now)
		}
		for i := 1; i < len(c.Log); i++ {
			if c.Log[i].Time.Before(c.Log[i-1].Time) {
				t.Fatalf("entry %d was written before entry %d", i+1, i)
			}
		}
	}
}

func BenchmarkFill(b *testing.B) {
	for b.Loop() {
		filled(b, time.Now())
	}
}
