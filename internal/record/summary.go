package record

import (
	"slices"
	"strings"
	"time"
)

// Summary is what lists and the home page need of a case, kept in the index
// and rebuilt from the journal at will.
type Summary struct {
	ID      CaseID    `json:"id"`
	Number  string    `json:"number"`
	Title   string    `json:"title"`
	Owner   string    `json:"owner,omitempty"`
	State   string    `json:"state"`
	Opened  time.Time `json:"opened"`
	Updated time.Time `json:"updated"`
	LastSeq int64     `json:"last_seq"`
	Closed  bool      `json:"closed,omitempty"`
	// Sheets in all; Wet lists those that are wet or damp.
	Sheets int        `json:"sheets,omitempty"`
	Wet    []WetSheet `json:"wet,omitempty"`
	// Due is what has a time, soonest first.
	Due []Due `json:"due,omitempty"`
	// Waits says for whom or what the case waits: "owner: consent to version 2".
	Waits []string `json:"waits,omitempty"`
	// Cover is the photograph that stands for the case.
	Cover Hash `json:"cover,omitzero"`
	// Expected is of how many runs it is kept what was expected.
	Expected int `json:"expected,omitempty"`
	// Words is lower-case text to search in.
	Words string `json:"words"`
}

// WetSheet is a sheet that is wet or damp.
type WetSheet struct {
	Sheet   int       `json:"sheet"`
	Wetness Wetness   `json:"wetness"`
	Since   time.Time `json:"since"`
	Run     string    `json:"run,omitempty"`
	Doing   string    `json:"doing,omitempty"`
}

// Due is something with a time.
type Due struct {
	At     time.Time `json:"at"`
	What   string    `json:"what"`
	Sheets []int     `json:"sheets,omitempty"`
	Run    string    `json:"run,omitempty"`
	// Operation is the slug of the run's.
	Operation string `json:"operation,omitempty"`
	Who       string `json:"who,omitempty"`
}

// Summarize makes the summary of a case.
func Summarize(c *Case) Summary {
	s := Summary{
		ID: c.ID, Number: c.Number, Title: c.Title, Opened: c.Opened, Updated: c.Updated, LastSeq: c.LastSeq,
		Closed: c.Closed != nil, Sheets: c.SheetCount(), State: c.State(), Waits: c.Waits(), Cover: c.CoverPhoto(),
		Expected: len(c.Expected),
	}
	words := []string{c.Number, c.Title}
	if c.Ownership != nil {
		s.Owner = c.Ownership.Owner
		words = append(words, s.Owner)
	}
	if i := c.Identity; i != nil {
		words = append(words, i.Issue, i.Maker, i.DateMade, i.Type, i.Description)
	}
	s.Words = strings.ToLower(strings.Join(words, " "))
	for _, n := range c.WetSheets() {
		w := c.ConditionOf(n)
		ws := WetSheet{Sheet: n, Wetness: w.Wetness, Since: w.Since, Run: w.Run}
		if r := c.Run(w.Run); r != nil {
			ws.Doing = r.Body.OperationName
		}
		s.Wet = append(s.Wet, ws)
	}
	for _, r := range c.OpenRuns() {
		if at, what := r.NextDue(); !at.IsZero() {
			s.Due = append(
				s.Due, Due{At: at, What: what, Sheets: c.sheetsIn(r), Run: r.Body.ID, Operation: r.Body.Operation},
			)
		}
	}
	for _, n := range c.Next {
		if !n.Body.Due.IsZero() {
			s.Due = append(s.Due, Due{At: n.Body.Due, What: n.Body.Text, Sheets: n.Body.Sheets, Who: n.Body.Who})
		}
	}
	if c.Closed != nil && !c.Closed.Body.Reinspect.IsZero() {
		s.Due = append(s.Due, Due{At: c.Closed.Body.Reinspect, What: "look at it again"})
	}
	slices.SortStableFunc(s.Due, func(a, b Due) int { return a.At.Compare(b.At) })
	return s
}

// State is where the case stands, in words: the furthest step that it reached.
func (c *Case) State() string {
	consent, _ := c.Consented()
	switch {
	case c.Closed != nil:
		return "closed"
	case len(c.OpenRuns()) > 0:
		return "in treatment"
	case len(c.Runs) > 0:
		return "under treatment"
	case consent != nil:
		return "agreed"
	case len(c.Proposals) > 0:
		return "proposed"
	case c.MakeUp != nil || len(c.Damages) > 0 || len(c.Tests) > 0:
		return "in examination"
	}
	return "taken in"
}

// Waits says for whom or what the case waits.
func (c *Case) Waits() []string {
	var list []string
	if c.Closed != nil {
		return nil
	}
	if q := c.Quarantine; q != nil && q.Body.State == QuarantineWaiting {
		list = append(list, "release from quarantine")
	}
	if v := c.Unanswered(); v > 0 {
		list = append(list, "consent to version "+num(float64(v))+" of the proposal")
	}
	for _, n := range c.Next {
		if n.Body.Who != "" {
			list = append(list, n.Body.Who+": "+n.Body.Text)
		}
	}
	return list
}

// CoverPhoto stands for the case: it prefers the cover's outer face, then any photograph of the whole.
func (c *Case) CoverPhoto() Hash {
	if p := c.PhotosOf(0, FaceOuter, ""); len(p) > 0 {
		return p[0].Body.Hash
	}
	for _, p := range c.Photos {
		if len(p.Body.Place.Sheets) == 0 {
			return p.Body.Hash
		}
	}
	if len(c.Photos) > 0 {
		return c.Photos[0].Body.Hash
	}
	return Hash{}
}
