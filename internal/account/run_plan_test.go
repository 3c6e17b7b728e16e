package account

import (
	"slices"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// washAt plans a wash of sheet 1 that began at a typed time, or now where it is zero.
func washAt(c *record.Case, at, now time.Time) *RunPlan {
	n := 0
	return PlanRun(RunAsked{
		Case: c, Studio: &record.Studio{}, ID: func(int) string { n++; return record.NewID(now) },
		Now: words.Clock{Language: words.English, Zone: time.UTC, Today: now},
		Run: record.RunStarted{
			ID: record.NewID(now), Operation: "wash", Sheets: []int{1}, At: at,
			Bath: &record.Bath{ID: record.NewID(now), Liquid: "tap water", VolumeMl: 1000},
		},
	})
}

func gateOf(p *RunPlan, name string) string {
	i := slices.IndexFunc(p.Gates, func(g RunGate) bool { return g.Gate == name })
	if i < 0 {
		return ""
	}
	return p.Gates[i].Say
}

func TestGatesAreJudgedAsTheCaseStoodAtTheStart(t *testing.T) {
	answered := agreedTo("wash")
	yes := answered[1].(record.Consent)
	yes.At = evening.Add(-time.Hour)
	answered[1] = yes
	c := folded(t, append(answered, record.SpotTest{
		ID: record.NewID(evening), Sort: record.TestSolubility, Colour: "black", Liquid: "water", Result: record.ResultNone,
		Place: record.Place{Sheets: []int{1}}, At: evening.Add(-30 * time.Minute),
	})...)
	now := evening.Add(time.Hour)
	for _, x := range []struct {
		at            time.Time
		consent, inks bool // whether the gate holds
	}{
		{evening.Add(-2 * time.Hour), false, false},
		{evening.Add(-time.Hour), true, false}, // the minute of the yes itself
		{evening.Add(-10 * time.Minute), true, true},
		{time.Time{}, true, true},
	} {
		p := washAt(c, x.at, now)
		consent, inks := gateOf(p, "consent"), gateOf(p, "inks in water")
		if (consent == "") != x.consent || (inks == "") != x.inks {
			t.Errorf("at %v: consent %q, inks %q; want them to hold: %v, %v", x.at, consent, inks, x.consent, x.inks)
		}
		if !x.consent && !strings.Contains(consent, "So it stood at the start") {
			t.Errorf("%q does not say that the gate holds by now", consent)
		}
	}
}

func TestNoRunStartsBeforeTheObjectCameIn(t *testing.T) {
	c := folded(t, append(agreedTo("wash"), record.Custody{
		Act: record.CustodyReceived, At: evening.Add(-time.Hour), Place: "studio",
	})...)
	now := evening.Add(time.Hour)
	if p := washAt(c, evening.Add(-2*time.Hour), now); len(p.Refused) == 0 || p.Refused[0].Field != "at" ||
		!strings.Contains(p.Refused[0].Say, "before the object came in") {
		t.Errorf("refused %+v; want the start, since the object came in after it", p.Refused)
	}
	if p := washAt(c, evening.Add(-time.Hour), now); len(p.Refused) > 0 {
		t.Errorf("refused %+v at the minute that it came in", p.Refused)
	}
}
