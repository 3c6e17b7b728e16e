package account

import (
	"cmp"
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// Urgency says how urgent something that is due is, the most urgent first.
type Urgency Code

// The urgencies.
const (
	// Danger: a liquid that goes on to harm the sheet acts longer than planned.
	Danger Urgency = "danger"
	// Over: the time has come, and a sheet is in it.
	Over Urgency = "over"
	// Late: the time of a decision or a look has come; no sheet is in a bath.
	Late  Urgency = "late"
	Ahead Urgency = "ahead"
)

var urgencies = []Urgency{Danger, Over, Late, Ahead}

func (u Urgency) rank() int { return slices.Index(urgencies, u) }

// UrgencyOf says how urgent something due is at a time.
func UrgencyOf(d *record.Due, now time.Time) Urgency {
	switch {
	case d.At.After(now):
		return Ahead
	case d.Run == "":
		return Late
	case Acts(d.Operation):
		return Danger
	}
	return Over
}

// Acts says whether the liquid of an operation goes on to act on the sheet, so
// that it must be taken out in time: those that must be rinsed at once.
func Acts(operation string) bool {
	o := treatment.Find(operation)
	return o != nil && o.Bath && o.ThenAtOnce != ""
}

// Order compares two things that are due: by danger, then by time.
func Order(a Urgency, at time.Time, b Urgency, bt time.Time) int {
	return cmp.Or(a.rank()-b.rank(), at.Compare(bt))
}

// Act says what to do about something that is due, as the order of words on
// screen: what goes on to harm is told as what must be done.
func Act(u Urgency, what string) string {
	if u == Danger {
		return "take it out and rinse: " + what
	}
	return what
}
