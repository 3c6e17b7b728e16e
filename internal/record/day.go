package record

import (
	"slices"
	"time"
)

// DayPlan is the plan of a day at the bench, as somebody laid it down: which sheets of which
// objects get what, when, with which hands, trays and presses. It stands in the studio's
// journal, since a day belongs to no one object, and it starts nothing: what was done is in
// the case of each object. The last one of a day counts.
type DayPlan struct {
	ID string `json:"id" form:"day" say:"the plan" as:"own"`
	// From is when the day begins, Until when all must be done that is not left for the
	// night.
	From    time.Time `json:"from" say:"the beginning"`
	Until   time.Time `json:"until" say:"the end"`
	People  []string  `json:"people" say:"who is there"`
	Trays   int       `json:"trays" say:"the number of trays" in:"1..40"`
	Presses int       `json:"presses" say:"the number of presses" in:"0..40"`
	// Away are times in which nobody is there.
	Away  []DaySpan `json:"away,omitempty" say:"the breaks"`
	Tasks []DayTask `json:"tasks" say:"the tasks"`
	// HeldPct is in how many of a hundred sampled days the plan held, Spoiler what broke
	// the others most often.
	HeldPct float64 `json:"held_percent" say:"how often it holds" in:"0..100 %"`
	Spoiler string  `json:"spoiler,omitempty" say:"the likely spoiler"`
	// Because says why an earlier plan of the day was changed.
	Because string `json:"because,omitempty" say:"the reason" as:"text"`
}

// DaySpan is from one time to another.
type DaySpan struct {
	From  time.Time `json:"from" say:"the beginning"`
	Until time.Time `json:"until" say:"the end"`
}

// DayTask is one piece of work of a day.
type DayTask struct {
	Case      CaseID `json:"case" say:"the case" as:"raw"`
	Number    string `json:"number" say:"the case number" need:"no"`
	Sheets    []int  `json:"sheets" say:"the sheets"`
	Operation string `json:"operation" say:"the operation"`
	// Batch numbers the sheets that go through the day together.
	Batch int `json:"batch" say:"the batch" in:"0..1000"`
	// Step tells the tasks of one operation apart: "in", "bath", "out", "change 2".
	Step string `json:"step" say:"the step" need:"no"`
	// StartMin and Minutes are from the day's beginning, and how long.
	StartMin float64 `json:"start_min" say:"the start" in:"0..100000 min"`
	Minutes  float64 `json:"minutes" say:"the time" in:"0..100000 min"`
	// LastMin is the last start with which the rest of the plan can still be kept.
	LastMin float64 `json:"last_min" say:"the last safe start" in:"0..100000 min"`
	Who     string  `json:"who,omitempty" say:"who does it"`
	Tray    int     `json:"tray,omitempty" say:"the tray" in:"0..40"`
	Press   int     `json:"press,omitempty" say:"the press" in:"0..40"`
}

func (DayPlan) Kind() Kind { return "day-plan" }

func (b DayPlan) rules(k *check) {
	if !b.Until.After(b.From) {
		k.refuse("until", "The day ends (%s) before it begins (%s).", b.Until.Format("15:04"), b.From.Format("15:04"))
	}
	if b.Until.Sub(b.From) > 24*time.Hour {
		k.refuse("until", "A day of more than 24 hours cannot be planned: plan the next one by itself.")
	}
	if len(b.People) == 0 {
		k.refuse("people", "Nobody is there: at least one person is needed.")
	}
	if len(b.Tasks) == 0 {
		k.refuse("tasks", "The day holds no work: choose sheets.")
	}
}

func (b DayPlan) applyStudio(st *Studio, s Stamp) error {
	st.Days = append(st.Days, Stamped[DayPlan]{s, b})
	return nil
}

// DayOf is the plan that counts for a moment: the last one that was laid down for a day
// which holds it, or nil.
func (st *Studio) DayOf(t time.Time) *Stamped[DayPlan] {
	for _, d := range slices.Backward(st.Days) {
		if !t.Before(d.Body.From.Add(-12*time.Hour)) && t.Before(d.Body.Until.Add(12*time.Hour)) {
			return &d
		}
	}
	return nil
}
