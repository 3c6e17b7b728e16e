package record

import (
	"slices"
	"time"
)

// Case is the fold of a case's journal.
type Case struct {
	Journal
	Number  string
	Title   string
	Purpose string
	Opened  time.Time

	Identity   *Identity
	Ownership  *Ownership
	Custody    []Stamped[Custody]
	Insured    []Stamped[Insurance]
	Quarantine *Stamped[Quarantine]
	Earlier    []Stamped[EarlierTreatment]
	Parts      []Part
	Notes      []Stamped[Note]
	Incidents  []Stamped[Incident]
	Photos     []Stamped[Photo]
	Areas      []Area
	Compared   []Stamped[FaceCompared]
	Colours    []Stamped[PhotoColour]

	Stocks   []Stamped[Stock]
	Readings []Stamped[Reading]
	// Adopted are the values taken from readings on one sheet for others, in
	// order; AdoptedFor says which count.
	Adopted     []Stamped[ValueAdopted]
	MakeUp      *Stamped[MakeUp]
	SheetStates map[int]Stamped[SheetState]
	Staples     []MappedStaple
	Collations  []Stamped[Collation]
	// Reassembled are the looks at the object put together again.
	Reassembled []Stamped[Reassembled]
	Positions   []Position
	// Placed is what was done where, drawn on its face.
	Placed []Stamped[WorkPlaced]
	// Damages are those that stand; DamagesWithdrawn keep their numbers.
	Damages          []FoundDamage
	DamagesWithdrawn []FoundDamage
	Laid             []Stamped[PhotoLaid]
	MendPlan         *Stamped[MendPlan]
	Tests            []Test

	Proposals []Stamped[Proposal]
	Consents  []Stamped[Consent]
	Trials    []Stamped[Trial]
	BathPlans []Stamped[BathPlan]

	Runs []Run
	// Expected are what was expected of runs before they began.
	Expected []Stamped[RunExpected]

	Blots []Stamped[Blotted]
	Mends []Stamped[Mend]
	// Next are the decisions still standing; Decisions all that were taken.
	Next      []Stamped[NextStep]
	Decisions []Stamped[NextStep]
	Judged    []Stamped[RunJudged]
	Wastes    []Stamped[Waste]

	Issued []Stamped[PaperIssued]
	Closed *Stamped[Closed]

	damageNo   map[int64]int // by the seq of its first entry
	positionNo map[int64]int
	wet        map[int]Condition
	named      []int // sheets named before the make-up was known, or since
}

// Part is a thing taken off, with what became of it.
type Part struct {
	Stamped[PartKept]
	Settled *Stamped[PartSettled]
}

// MappedStaple is a staple with its moves in order.
type MappedStaple struct {
	Stamped[Staple]
	Moves []Stamped[StapleMoved]
}

// Out says whether the staple is out of the object.
func (m *MappedStaple) Out() bool {
	return len(m.Moves) > 0 &&
		(m.Moves[len(m.Moves)-1].Body.Act == StapleRemoved || m.Moves[len(m.Moves)-1].Body.Act == StapleLeftOut)
}

// Test is a spot test with its later readings.
type Test struct {
	Stamped[SpotTest]
	Rereads []Stamped[SpotReread]
}

// Result is the worst result of the test and its rereads, since a colour
// that moved only on the second look has moved.
func (t *Test) Result() TestResult {
	worst := t.Body.Result
	for _, r := range t.Rereads {
		if r.Body.Result.Gravity() > worst.Gravity() {
			worst = r.Body.Result
		}
	}
	return worst
}

// Run is an operation performed, with its ends and changes of absorbents.
type Run struct {
	Stamped[RunStarted]
	Ends    []Stamped[RunEnded]
	Changes []Stamped[AbsorbentChanged]

	done bool
}

// Open says whether sheets are still in the run.
func (r *Run) Open() bool { return !r.done }

// Ended is when the last sheet left the run, zero while it is open.
func (r *Run) Ended() time.Time {
	if !r.done {
		return time.Time{}
	}
	return r.Ends[len(r.Ends)-1].Body.At
}

// PlannedEnd is when the run is meant to end, zero when no time was planned.
func (r *Run) PlannedEnd() time.Time {
	if r.Body.PlannedMin == 0 {
		return time.Time{}
	}
	return r.Body.At.Add(minutes(r.Body.PlannedMin))
}

// NextDue is the next thing due in an open run and what it is: a change of
// absorbents, or the planned end. Zero when nothing is planned.
func (r *Run) NextDue() (time.Time, string) {
	if r.done {
		return time.Time{}, ""
	}
	// Each change answers one due time, in order, whenever it was made.
	if n := len(r.Changes); n < len(r.Body.DueMin) {
		what := r.Body.DueWhat
		if what == "" {
			what = "change the absorbents"
		}
		return r.Body.At.Add(minutes(r.Body.DueMin[n])), what
	}
	return r.PlannedEnd(), "end of " + r.Body.OperationName
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

// Condition is how wet a sheet is, since when, and in or after which run.
type Condition struct {
	Wetness Wetness
	Since   time.Time
	// Run is the open run that the sheet is in; After the one that it left.
	Run, After string
}

// SheetCount is the number of sheets, the cover included; 0 before the make-up.
func (c *Case) SheetCount() int { return len(c.Sheets()) }

// Sheets lists the sheets of the make-up, cover first.
func (c *Case) Sheets() []int {
	if c.MakeUp == nil {
		return nil
	}
	return listSheets(&c.MakeUp.Body)
}

// HasSheet says whether the make-up has a sheet of that number.
func (c *Case) HasSheet(n int) bool { return slices.Contains(c.Sheets(), n) }

// NamesSheets says whether the record names inner sheets by their number, so that a
// new count must say which sheet is which.
func (c *Case) NamesSheets() bool {
	return slices.ContainsFunc(c.named, func(n int) bool { return n > 0 })
}

// sheetsOf resolves an empty list to the whole object.
func (c *Case) sheetsOf(list []int) []int {
	if len(list) == 0 {
		return c.Sheets()
	}
	return list
}

// haveSheets refuses sheets that the make-up does not have. Before a make-up
// is recorded, only the whole object can be named.
func (c *Case) haveSheets(list []int) error {
	for _, n := range list {
		if !slices.Contains(c.named, n) {
			c.named = append(c.named, n)
		}
		switch {
		case c.MakeUp == nil:
			return Invalidf(
				"sheets",
				"%s cannot be named before the make-up is recorded: enter the number of sheets first.",
				upper(SheetName(n)),
			)
		case n == 0 && c.MakeUp.Body.Cover == CoverSelf:
			return Invalidf("sheets", "This object has no separate cover sheet.")
		case n > c.MakeUp.Body.InnerSheets:
			return Invalidf(
				"sheets",
				"There is no sheet %d: the make-up has %d inner sheets.",
				n,
				c.MakeUp.Body.InnerSheets,
			)
		}
	}
	return nil
}

func (c *Case) haveRun(id string) error {
	if id != "" && c.Run(id) == nil {
		return Invalidf("run", "The run is not in the record.")
	}
	return nil
}

func (c *Case) isOpen() error {
	if c.Closed != nil {
		return Invalidf("", "Case %s is closed.", c.Number)
	}
	return nil
}

// Part finds a kept part by ID, or nil.
func (c *Case) Part(id string) *Part {
	for i := range c.Parts {
		if c.Parts[i].Body.ID == id {
			return &c.Parts[i]
		}
	}
	return nil
}

// Staple finds a mapped staple by number, or nil.
func (c *Case) Staple(number int) *MappedStaple {
	for i := range c.Staples {
		if c.Staples[i].Body.Number == number {
			return &c.Staples[i]
		}
	}
	return nil
}

// StaplesIn says how many mapped staples are still in the object.
func (c *Case) StaplesIn() int {
	n := 0
	for i := range c.Staples {
		if !c.Staples[i].Out() {
			n++
		}
	}
	return n
}

// Test finds a test by ID, or nil.
func (c *Case) Test(id string) *Test {
	for i := range c.Tests {
		if c.Tests[i].Body.ID == id {
			return &c.Tests[i]
		}
	}
	return nil
}

// Mend finds a mend by ID, or nil.
func (c *Case) Mend(id string) *Stamped[Mend] {
	for i := range c.Mends {
		if c.Mends[i].Body.ID == id {
			return &c.Mends[i]
		}
	}
	return nil
}

// Run finds a run by ID, or nil.
func (c *Case) Run(id string) *Run {
	for i := range c.Runs {
		if c.Runs[i].Body.ID == id {
			return &c.Runs[i]
		}
	}
	return nil
}

// OpenRuns lists the runs that sheets are still in.
func (c *Case) OpenRuns() []*Run {
	var list []*Run
	for i := range c.Runs {
		if c.Runs[i].Open() {
			list = append(list, &c.Runs[i])
		}
	}
	return list
}

// RunsOn lists the runs that a sheet was in, in order of their entries.
func (c *Case) RunsOn(sheet int) []*Run {
	var list []*Run
	for i := range c.Runs {
		if slices.Contains(c.sheetsOf(c.Runs[i].Body.Sheets), sheet) {
			list = append(list, &c.Runs[i])
		}
	}
	return list
}

// SheetsIn lists the sheets that are still in a run.
func (c *Case) SheetsIn(r *Run) []int { return c.sheetsIn(r) }

func (c *Case) sheetsIn(r *Run) []int {
	if r.done {
		return nil
	}
	var in []int
	for _, n := range c.sheetsOf(r.Body.Sheets) {
		out := slices.ContainsFunc(r.Ends, func(e Stamped[RunEnded]) bool { return slices.Contains(e.Body.Sheets, n) })
		if !out {
			in = append(in, n)
		}
	}
	return in
}

// StockOf is the paper of a sheet, or nil when it was not described.
func (c *Case) StockOf(sheet int) *Stock {
	for i := range c.Stocks {
		if slices.Contains(c.Stocks[i].Body.Sheets, sheet) {
			return &c.Stocks[i].Body
		}
	}
	return nil
}

// ConditionOf says how wet a sheet is. A sheet that was in no run is dry,
// unless the object arrived damp and no run has dried it.
func (c *Case) ConditionOf(sheet int) Condition {
	if w, ok := c.wet[sheet]; ok {
		return w
	}
	if q := c.Quarantine; q != nil && q.Body.Moisture != Dry && q.Body.State == QuarantineWaiting {
		return Condition{Wetness: q.Body.Moisture, Since: q.Time}
	}
	return Condition{Wetness: Dry}
}

// WetSheets lists the sheets that are wet or damp.
func (c *Case) WetSheets() []int {
	var list []int
	for _, n := range c.Sheets() {
		if c.ConditionOf(n).Wetness != Dry {
			list = append(list, n)
		}
	}
	return list
}

// PhotosOf lists the photographs of a sheet's face, any face when face is
// empty, at a stage, any when stage is empty.
func (c *Case) PhotosOf(sheet int, face Face, stage Stage) []Stamped[Photo] {
	var list []Stamped[Photo]
	for _, p := range c.Photos {
		if !slices.Contains(p.Body.Place.Sheets, sheet) {
			continue
		}
		if (face == "" || p.Body.Place.Face == face) && (stage == "" || p.Body.Stage == stage) {
			list = append(list, p)
		}
	}
	return list
}

// Consented is the consent that counts now: the answer to the latest version
// that was answered, when it was given. A later version without an answer does
// not take it away, but Unanswered then says so.
func (c *Case) Consented() (*Consent, *Option) {
	var latest *Consent
	for i := range c.Consents {
		b := &c.Consents[i].Body
		if latest == nil || b.Version >= latest.Version {
			latest = b
		}
	}
	if latest == nil || latest.Answer != ConsentGiven {
		return nil, nil
	}
	return latest, c.Proposals[latest.Version-1].Body.Option(latest.Option)
}

// Unanswered is the latest version of the proposal when nobody has answered
// it, else 0.
func (c *Case) Unanswered() int {
	v := len(c.Proposals)
	for _, a := range c.Consents {
		if a.Body.Version == v {
			return 0
		}
	}
	return v
}

// Photos named by the case, each once, for verification and export.
func Photos(c *Case) []Hash {
	seen := map[Hash]bool{}
	var list []Hash
	for i := range c.Log {
		if c.Log[i].Decoded == nil {
			continue
		}
		for _, h := range PhotosNamed(c.Log[i].Decoded) {
			if !seen[h] {
				seen[h] = true
				list = append(list, h)
			}
		}
	}
	return list
}

// Workers are the initials of all who wrote in the case, in order.
func (c *Case) Workers() []string {
	var list []string
	for i := range c.Log {
		if by := c.Log[i].By; by != "" && !slices.Contains(list, by) {
			list = append(list, by)
		}
	}
	return list
}
