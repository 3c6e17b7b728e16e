package account

import (
	"slices"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// agreedTo is a proposal of some operations on all sheets, with consent.
func agreedTo(slugs ...string) []record.Body {
	o := record.Option{Name: "A", Title: "wet"}
	for _, x := range slugs {
		o.Operations = append(o.Operations, record.Planned{Operation: x})
	}
	return []record.Body{
		record.Proposal{Version: 1, Currency: "EUR", ValidDays: 30, Alternatives: "nothing", Risks: "few",
			Options: []record.Option{o}},
		record.Consent{Version: 1, Option: "A", Answer: record.ConsentGiven, Who: "O.", Standing: "owner",
			Way: "letter"},
	}
}

// limed is an open lime bath of sheets 1 and 2, from which sheet 1 comes out
// where told so.
func limed(out bool) []record.Body {
	id := record.NewID(evening)
	list := []record.Body{record.RunStarted{
		ID: id, Operation: "lime", OperationName: "lime bath", Sheets: []int{1, 2}, At: evening.Add(-time.Hour), PlannedMin: 20,
		Makes: record.Wet,
		Bath:  &record.Bath{ID: record.NewID(evening), Liquid: "calcium hydroxide in water", VolumeMl: 1000},
	}}
	if out {
		list = append(list, record.RunEnded{
			Run: id, Sheets: []int{1}, At: evening.Add(-40 * time.Minute), Outcome: record.RunDone, Leaves: record.Wet,
		})
	}
	return list
}

func TestWorkThatHasNotEndedIsNotReportedAsDone(t *testing.T) {
	c := folded(t, append(agreedTo("lime"), limed(false)...)...)
	if a, l := Added(c), InPaper(t.Context(), c); len(a)+len(l)+len(Alkalised(c)) != 0 {
		t.Errorf("while the bath runs: added %+v, left %+v; want nothing", a, l)
	}
	if d := Departures(c); len(d) != 1 || d[0].What != "agreed, and in progress, not ended at the last entry" {
		t.Errorf("departures %+v; want the lime bath in progress", d)
	}
	c = folded(t, append(agreedTo("lime"), limed(true)...)...)
	if a := Added(c); len(a) != 1 || a[0].Where != "sheet 1" || !slices.Equal(Alkalised(c), []int{1}) {
		t.Errorf("with one sheet out: added %+v, alkalised %v; want sheet 1 alone", a, Alkalised(c))
	}
}

func TestAReasonAtTheGateOfConsentIsToldOnceAtIt(t *testing.T) {
	const why = "agreed on the telephone"
	b := limed(false)[0].(record.RunStarted)
	b.Overrides, b.Departure = []record.Override{{Gate: "consent", Reason: why}}, why // as earlier versions wrote it
	for _, plan := range [][]record.Body{nil, agreedTo("wash")} {
		told := 0
		for _, d := range Departures(folded(t, append(plan, b)...)) {
			if d.Reason == why {
				told++
			}
		}
		if told != 1 {
			t.Errorf("with %d entries of a plan the reason is told %d times; want once", len(plan), told)
		}
	}
	for _, f := range RunFacts(nil, &b) {
		if f.Name == "Not as planned" {
			t.Errorf("the run says %q: %q beside its gate", f.Name, f.Text)
		}
	}
}

func TestStaplesThatWereTakenOutAreOut(t *testing.T) {
	part := record.NewID(evening)
	c := folded(t, append(agreedTo("staples-out"),
		record.Staple{Number: 1, FromHeadMm: 60, Rust: "light"},
		record.Staple{Number: 2, FromHeadMm: 190, Rust: "light"},
		record.StapleMoved{Number: 1, Act: record.StapleRemoved},
		record.PartKept{ID: part, Sort: record.PartStaple, What: "staple 2", Where: "bag"},
		record.StapleMoved{Number: 2, Act: record.StapleRemoved, Part: part})...)
	if d, n := Departures(c), treatment.Next(c); len(d)+len(n) > 0 {
		t.Errorf("departures %+v, next %+v; want none: the staples are out", d, n)
	}
	for _, x := range Removed(c, words.Clock{Language: words.English, Zone: time.UTC}) {
		if !strings.HasPrefix(x.What, "staple ") || x.Where != "spine" {
			t.Errorf("%s from %s; want each as its staple, from the spine", x.What, x.Where)
		}
	}
}

func TestNoDryWorkIsOfferedForAWetSheet(t *testing.T) {
	c := folded(t, append(agreedTo("surface-clean", "dry-absorbent"), limed(true)...)...)
	for _, x := range treatment.Next(c) {
		if x.Operation.Slug != "dry-absorbent" {
			t.Errorf("%s is offered for %v, wet from the lime bath", x.Operation.Name, x.Sheets)
		}
	}
}

func TestARefusalIsToldWithWhoAndWhen(t *testing.T) {
	refused := agreedTo("wash")
	refused[1] = record.Consent{Version: 1, Answer: record.ConsentRefused, Who: "O.", Standing: "owner", Way: "letter"}
	c := folded(t, refused...)
	say := treatment.Refused(c, time.UTC)
	want := "O. (owner) refused version 1 on 9 May 2031."
	if got := strings.ReplaceAll(say, words.NBSP, " "); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	all := treatment.Gates(c, &record.Studio{}, treatment.Start{
		Operation: treatment.Find("wash"), Sheets: []int{1}, At: evening,
	})
	if !slices.ContainsFunc(all, func(u treatment.Unmet) bool { return u.Gate == "consent" && u.Say == say }) {
		t.Errorf("the gates say %+v; want that of consent to tell the refusal", all)
	}
}

func TestASharedBathNamesTheOtherCaseAndItsSheets(t *testing.T) {
	b := limed(false)[0].(record.RunStarted)
	b.Bath.With = []record.Sharing{{Number: "31-08", Sheets: []int{1, 2}}}
	facts := RunFacts(nil, &b)
	i := slices.IndexFunc(facts, func(f Fact) bool { return f.Name == "Shared with" })
	if i < 0 || !strings.HasPrefix(facts[i].Text, SharedWith(b.Bath)+"; ") || !strings.Contains(facts[i].Text, "alone") ||
		SharedWith(b.Bath) != "case 31-08, sheets 1 and 2" {
		t.Errorf("facts %+v; want the other case, its sheets, and where its readings are", facts)
	}
}
