package account

import (
	"strconv"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// Ending is what the end of a run asks: what fits its operation, and how it may
// have ended. Nothing of it is chosen beforehand.
type Ending struct {
	// Choices are the ways to end it now, the likeliest first.
	Choices []EndChoice
	// Early says that the planned time is not over.
	Early bool
	// EndPoint is what may have ended it, empty where the operation has no such
	// question; Proposed is what the readings or the clock say of it.
	EndPoint, Proposed string
	Level              string // where the last two conductivities are level
	// Leaves is how the operation leaves the sheet; AskLeaves says that a person
	// must judge it.
	Leaves    record.Wetness
	AskLeaves bool
	// Staples that are still in, where the operation takes them out.
	Staples []record.Choice
}

// EndChoice is one way to end a run, and what it says.
type EndChoice struct {
	Outcome record.RunOutcome
	Say     string
}

// endPoints are what may end an operation (common practice, no source).
var endPoints = map[string]string{
	"humidify":      "limp all over",
	"wet-out":       "evenly wet",
	"wash":          "bath colourless, conductivity level",
	"float-wash":    "blotter colourless",
	"chelate":       "no more colour comes out",
	"reduce":        "no more change, a colour shifts",
	"oxidise":       "no more change",
	"rinse":         "conductivity level",
	"lime":          "pH held to the end",
	"bicarbonate":   "pH held to the end",
	"drain":         "no more drips",
	"dry-absorbent": "weight constant",
	"dry-air":       "weight constant",
	"flatten":       "flat, weight constant",
	"condition":     "weight constant",
}

const staplesOut = "staples-out"

// timeIsUp is how long before its planned end a run counts as run to its end.
const timeIsUp = 30 * time.Second

// EndingOf says what the end of a run asks at a moment.
func EndingOf(c *record.Case, r *record.Run, now time.Time) Ending {
	e := Ending{EndPoint: endPoints[r.Body.Operation], Leaves: r.Body.Makes, AskLeaves: true}
	if op := treatment.Find(r.Body.Operation); op != nil {
		e.Leaves, e.AskLeaves = op.Leaves, op.Makes != op.Leaves
	}
	due := r.PlannedEnd()
	e.Early = !due.IsZero() && now.Before(due.Add(-timeIsUp))
	passed := minutesText(now.Sub(r.Body.At).Minutes())
	if !due.IsZero() {
		passed += " of " + en.Number(r.Body.PlannedMin)
	}
	passed += words.NBSP + "min"
	done := EndChoice{record.RunDone, "Done: " + passed}
	stopped := EndChoice{record.RunStopped, "Stopped after " + passed}
	abandoned := EndChoice{record.RunAbandoned, "Abandoned after " + passed}
	switch {
	case e.Early:
		done.Say = "Done already, after " + passed
		e.Choices = []EndChoice{stopped, done, abandoned}
	case due.IsZero():
		e.Choices = []EndChoice{done, stopped, abandoned}
	default:
		e.Choices = []EndChoice{done, abandoned}
		if e.EndPoint != "" {
			e.Proposed = "planned time of " + en.Number(r.Body.PlannedMin) + " min reached"
		}
	}
	if e.Level = Level(c, r); e.Level != "" {
		e.Proposed = e.Level
	}
	if r.Body.Operation == staplesOut {
		for i := range c.Staples {
			if x := &c.Staples[i]; !x.Out() {
				e.Staples = append(e.Staples, record.Choice{
					Value: strconv.Itoa(x.Body.Number),
					Words: strconv.Itoa(x.Body.Number) + ", " + en.Quantity(x.Body.FromHeadMm, "mm") + " from the head",
				})
			}
		}
	}
	return e
}

// minutesText writes a short time to half a minute or so, a long one to the minute.
func minutesText(m float64) string {
	if m < 10 {
		return en.Number(rounded(m, 1))
	}
	return en.Number(rounded(m, 0))
}

// levelWithin is how far two conductivities may lie apart, as a share, for a
// rinse to be level: meters are good to about half of it (common practice, no
// source).
const levelWithin = 0.02

// Level is the end point of a rinse where the last two conductivities of its
// bath are level, else "".
func Level(c *record.Case, r *record.Run) string {
	var v []float64
	for i := range c.Readings {
		if b := &c.Readings[i].Body; b.Run == r.Body.ID && b.Quantity == "conductivity" {
			v = append(v, b.Value)
		}
	}
	if len(v) < 2 {
		return ""
	}
	a, b := v[len(v)-2], v[len(v)-1]
	if b == 0 || a/b > 1+levelWithin || a/b < 1-levelWithin {
		return ""
	}
	return "conductivity level at " + en.Number(b) + " µS/cm"
}

// Ended is what a person says at the end of a run.
type Ended struct {
	record.RunEnded
	// Staples that came out, and where they are kept.
	Staples []int
	Where   string
	Next    record.NextStep // none without a text
	ID      func(n int) string
}

// EndRun makes the entries of an end: the staples that came out, the end itself,
// and what was decided next.
func EndRun(c *record.Case, r *record.Run, e Ended) (list []record.Body, refused []*record.Invalid) {
	asks := EndingOf(c, r, e.At)
	in := c.SheetsIn(r)
	if len(e.Sheets) == len(in) && Covers(e.Sheets, in) {
		e.Sheets = nil // all that were left
	}
	if e.Leaves == "" && !asks.AskLeaves {
		e.Leaves = asks.Leaves
	}
	if len(asks.Staples) > 0 && len(e.Staples) == 0 && e.Outcome == record.RunDone {
		refused = append(refused, &record.Invalid{Field: "staples", Say: "Say which staples came out."})
	}
	for i, n := range e.Staples {
		move := record.StapleMoved{Number: n, Act: record.StapleRemoved, At: e.At}
		if e.Where != "" {
			part := record.PartKept{
				ID: e.ID(i), Sort: record.PartStaple, What: "staple " + strconv.Itoa(n), Where: e.Where,
			}
			move.Part = part.ID
			list = append(list, part)
		}
		list = append(list, move)
	}
	list = append(list, e.RunEnded)
	if e.Next.Text != "" {
		e.Next.Sheets = e.Sheets
		if e.Sheets == nil {
			e.Next.Sheets = in
		}
		list = append(list, e.Next)
	}
	return list, refused
}

// EndedFirst says that a run was ended by another before a second press, whose moment
// and outcome are told with it; note is what can be written down of the second.
func EndedFirst(
	c *record.Case, r *record.Run, first *record.Stamped[record.RunEnded], pressed time.Time, outcome record.RunOutcome,
	by string, k words.Clock,
) (say, note string) {
	what := r.Body.OperationName + " of " + record.SheetNames(sheetsOf(c, r.Body.Sheets))
	at := func(t time.Time) string { return k.At(t) + t.In(k.Zone).Format(":05") }
	said := words.Joined(", ", at(pressed), record.Words(outcome))
	say = first.By + " ended " + what + " at " + at(first.Body.At) + " (" + record.Words(first.Body.Outcome) +
		"): that counts. Yours, at " + said + ", can be kept as a note."
	note = plainBlanks(words.After("", by) + " pressed the end of " + what + " at " + said + "; " + first.By +
		" had ended it at " + at(first.Body.At) + ".")
	return say, note
}
