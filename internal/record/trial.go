package record

import (
	"slices"
	"time"
)

// Trial is a step tried on a spot, or on a fragment that can be spared, before the sheets
// get it. It informs the step and is none.
type Trial struct {
	ID string `json:"id" form:"trial" say:"the trial" as:"own"`
	// Operation is a slug of package treatment's table.
	Operation string `json:"operation" say:"the operation" label:"What was tried"`
	Place     Place  `json:"place" say:"the place" need:"sheets"`
	// On is what it was tried on.
	On   string `json:"on" say:"what it was tried on" help:"a spot in the tail margin; a loose fragment, spare"`
	With string `json:"with,omitempty" say:"what it was tried with" help:"liquid and strength, tissue, tool"`
	// Minutes is how long it was left to act.
	Minutes *float64     `json:"minutes,omitempty" say:"the time" in:"0.1..10080 min"`
	Verdict TrialVerdict `json:"verdict,omitempty" say:"what follows" label:"So the step"`
	Seen    string       `json:"seen" form:"trial_seen" say:"what was seen" as:"text"`
	At      time.Time    `json:"at,omitzero" say:"the time it was made" as:"moment" label:"When"`
}

func (Trial) Kind() Kind { return "trial" }

func (b Trial) apply(c *Case, s Stamp) error {
	c.Trials = append(c.Trials, Stamped[Trial]{s, b})
	return first(s.notAfter(b.At), c.haveSheets(b.Place.Sheets))
}

// TrialVerdict is what follows from a trial for the step.
type TrialVerdict string

const (
	TrialGo     TrialVerdict = "go"
	TrialChange TrialVerdict = "change"
	TrialStop   TrialVerdict = "stop"
)

var TrialVerdicts = listOf[TrialVerdict]([]Choice{
	{"", "not judged"}, {"go", "can be done as tried"}, {"change", "can be done, but otherwise"},
	{"stop", "is not done"},
})

// TrialsOf are the trials of an operation, the latest last.
func (c *Case) TrialsOf(operation string) []Stamped[Trial] {
	return slices.DeleteFunc(slices.Clone(c.Trials), func(t Stamped[Trial]) bool {
		return t.Body.Operation != operation
	})
}
