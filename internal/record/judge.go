package record

// RunJudged judges the result of a run that has ended against its aim, and says what
// follows for sheets: those of the run, or others like them.
type RunJudged struct {
	Run     string     `json:"run" say:"the run" as:"id"`
	Verdict AimVerdict `json:"verdict" say:"the judgement" label:"The aim was"`
	// Saw is what the judgement rests on, in the words of who made it.
	Saw    string   `json:"saw" say:"what it rests on" as:"text" label:"Seen, read"`
	Then   AfterRun `json:"then" say:"what follows" label:"Then, for these sheets"`
	Sheets []int    `json:"sheets" say:"the sheets"`
}

func (RunJudged) Kind() Kind { return "run-judged" }

func (b RunJudged) apply(c *Case, s Stamp) error {
	r := c.Run(b.Run)
	if r == nil {
		return Invalidf("run", "The run that is judged is not in the record.")
	}
	if r.Open() {
		return Invalidf("run", "This run has not ended: it is judged afterwards.")
	}
	c.Judged = append(c.Judged, Stamped[RunJudged]{s, b})
	return c.haveSheets(b.Sheets)
}

// AimVerdict is whether a run did what it was meant to.
type AimVerdict string

var AimVerdicts = listOf[AimVerdict]([]Choice{
	{"reached", "reached"}, {"partly", "reached in part"}, {"not", "not reached"}, {"unknown", "cannot be told"},
})

// AfterRun is what follows from a judged run.
type AfterRun string

const (
	ThenOn       AfterRun = "on"
	ThenRepeat   AfterRun = "repeat"
	ThenStronger AfterRun = "stronger"
	ThenStop     AfterRun = "stop"
)

var AfterRuns = listOf[AfterRun]([]Choice{
	{"on", "go on with the plan"}, {"repeat", "repeat it as it was"}, {"stronger", "strengthen it, or give it longer"},
	{"stop", "stop it: no more of this"},
})

// JudgementOf is the last judgement of a run, or nil.
func (c *Case) JudgementOf(run string) *Stamped[RunJudged] {
	for i := len(c.Judged) - 1; i >= 0; i-- {
		if c.Judged[i].Body.Run == run {
			return &c.Judged[i]
		}
	}
	return nil
}
