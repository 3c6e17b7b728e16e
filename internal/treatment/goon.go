package treatment

import (
	"fmt"
	"slices"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// ToDo is what keeps a case from going on, as the next thing to do.
type ToDo struct {
	Code ToDoCode
	Say  string
	// Place is the place of the case where it is done, with what follows its address;
	// Act is what the link to it says.
	Place, Act string
}

// ToDoCode names a thing to do.
type ToDoCode string

const (
	ToCount      ToDoCode = "count-sheets"
	ToQuarantine ToDoCode = "look-for-mould"
	ToPhotograph ToDoCode = "photograph"
	ToDescribe   ToDoCode = "describe-paper"
	ToReadPH     ToDoCode = "read-ph"
	ToTest       ToDoCode = "test-ink"
	ToReread     ToDoCode = "reread-test"
	ToMap        ToDoCode = "map-staples"
	ToCollate    ToDoCode = "collate"
	ToPropose    ToDoCode = "propose"
	ToSayHours   ToDoCode = "say-hours"
	ToAsk        ToDoCode = "ask-consent"
	ToWrite      ToDoCode = "consent-in-writing"
)

// ToGoOn lists what is still to be done before the first bath, in the order of the work:
// the first is the next thing to do. None of it is a judgement: it is what the gates of
// the operations that findings call for will ask.
func ToGoOn(c *record.Case) []ToDo {
	if c.Closed != nil {
		return nil
	}
	t := &toDos{c: c}
	begun := slices.ContainsFunc(c.Runs, func(r record.Run) bool { return r.Body.Bath != nil })
	if !begun {
		t.examine()
		t.test()
	}
	t.agree()
	return t.list
}

type toDos struct {
	c    *record.Case
	list []ToDo
}

func (t *toDos) add(is bool, code ToDoCode, place, act, format string, args ...any) {
	if is {
		t.list = append(t.list, ToDo{code, fmt.Sprintf(format, args...), place, act})
	}
}

func (t *toDos) examine() {
	c := t.c
	q := c.Quarantine
	t.add(q == nil || q.Body.Mould == "" || q.Body.Mould == record.MouldUnknown, ToQuarantine, "examination#custody",
		"Record the look", "Look for mould and damp: nothing is wetted or brushed before.")
	_, noPicture := gateArrivalPhotos.judge(c, Start{})
	t.add(noPicture, ToPhotograph, "photos/new", "Photograph",
		"Photograph it as it came: afterwards nobody can.")
	t.add(c.MakeUp == nil, ToCount, "make-up", "Count the sheets",
		"Count the sheets, or the pages: tests, damage and baths are of sheets.")
	if c.MakeUp == nil {
		return
	}
	_, uncounted := gateMakeUp.judge(c, Start{})
	t.add(uncounted, ToCollate, "make-up", "Collate it",
		"Collate it while it still holds together: count, order, missing leaves.")
	stapled := c.MakeUp.Body.Binding != "loose" && c.MakeUp.Body.Binding != "sewn"
	t.add(stapled && len(c.Staples) == 0, ToMap, "make-up#staples", "Map a staple",
		"Put each staple on the map before it moves, or say in the make-up that there are none.")
	bare := slices.DeleteFunc(c.Sheets(), func(n int) bool { return c.StockOf(n) != nil })
	t.add(len(bare) > 0, ToDescribe, "examination#papers", "Describe the papers",
		"Describe the paper of %s: until then a test or a reading there speaks for its own sheet alone, and no bath can be "+
			"calculated.", record.SheetNames(bare))
	if unread := t.unread(); len(unread) > 0 {
		t.add(true, ToReadPH, "examination#reading", "Read the pH", "Read the pH of %s: whether acid must come out is not "+
			"known without it.", unread)
	}
}

// unread names the parts of which no pH was read.
func (t *toDos) unread() string {
	var list []int
	for _, n := range t.c.Sheets() {
		read := slices.ContainsFunc(t.c.Readings, func(r record.Stamped[record.Reading]) bool {
			b := &r.Body
			return (b.Quantity == "surface-ph" || b.Quantity == "extract-ph") && b.Run == "" &&
				speaksFor(t.c, b.Place.Sheets, n)
		})
		if !read {
			list = append(list, n)
		}
	}
	return parts(t.c, list)
}

// parts names sheets by their papers, where those are described.
func parts(c *record.Case, sheets []int) string {
	var names []string
	var bare []int
	for _, n := range sheets {
		st := c.StockOf(n)
		switch {
		case st == nil:
			bare = append(bare, n)
		case !slices.Contains(names, "the "+st.Name):
			names = append(names, "the "+st.Name)
		}
	}
	if len(bare) > 0 {
		names = append(names, record.SheetNames(bare))
	}
	return words.English.List(names)
}

// test asks for the tests of what findings call for: water where there is acid or a
// stain, alkaline water where there is acid, the bleach where there is a stain.
func (t *toDos) test() {
	d := drafter{c: t.c}
	acid, _ := d.acid()
	stained, what := d.found(stainTerms...)
	either := slices.Concat(acid, minus(stained, acid))
	slices.Sort(either)
	wettable := func(n int) bool { return inkOn(t.c, n, inWater).moved < 2 }
	acid = slices.DeleteFunc(acid, func(n int) bool { return !wettable(n) })
	stained = slices.DeleteFunc(stained, func(n int) bool { return !wettable(n) })
	for _, x := range []struct {
		sheets  []int
		liquids []record.TestLiquid
		called  string
		why     string
	}{
		{either, inWater, "water", "washing"}, {acid, inAlkali, "alkaline water", "lime"},
		{stained, inBleach, "the borohydride bath", "the reducing bleach, for " + what},
	} {
		var untested []int
		for _, f := range inksOf(t.c, x.sheets, x.liquids) {
			if f.moved < 0 {
				untested = append(untested, f.sheets...)
			}
		}
		if len(untested) > 0 {
			slices.Sort(untested)
			t.add(true, ToTest, "tests#record", "Record a test", "Test every colour of %s in %s: without it %s cannot be "+
				"proposed.", parts(t.c, untested), x.called, x.why)
		}
	}
	once := 0
	for i := range t.c.Tests {
		if x := &t.c.Tests[i]; x.Body.Colour != "" && x.Result() != "" && len(x.Rereads) == 0 {
			once++
		}
	}
	t.add(once > 0, ToReread, "tests#again", "Look again", "Look at %s again when dry: some colours move only then.",
		plural(once, "spot", "spots"))
}

// agree asks for a proposal, its hours, an answer, and the answer in writing.
func (t *toDos) agree() {
	c := t.c
	if len(c.Proposals) == 0 {
		t.add(true, ToPropose, "proposal/new?from=findings", "Sketch the proposal",
			"Sketch the proposal from the findings: what is done to which sheet, why, and what it costs.")
		return
	}
	latest := c.Proposals[len(c.Proposals)-1].Body
	for _, o := range latest.Options {
		t.add(Free(&latest, &o), ToSayHours, "proposal/new", "Write the next version", "Option %s of version %d has no "+
			"hours and no price: nobody can agree to that.", o.Name, latest.Version)
	}
	t.add(c.Unanswered() > 0 || len(c.Consents) == 0, ToAsk, "proposal#consent", "Enter the answer",
		"Version %d waits for an answer: who agreed, how and when.", latest.Version)
	if say := Unwritten(c); say != "" {
		t.add(true, ToWrite, "proposal#consent", "Enter the letter", "%s", say)
	}
}

// Free says whether an option has neither hours nor materials nor a fee.
func Free(p *record.Proposal, o *record.Option) bool {
	return len(o.Operations) > 0 && o.Hours() == 0 && p.Price(*o).NetMinor == 0
}

// Unwritten says which yes was by word of mouth and is not in writing yet, "" where none
// is: a consent, or a start that was agreed to on the way.
func Unwritten(c *record.Case) string {
	written := func(since record.Stamp) bool {
		return slices.ContainsFunc(c.Consents, func(x record.Stamped[record.Consent]) bool {
			return x.Seq > since.Seq && x.Body.Answer == record.ConsentGiven && x.Body.Written()
		})
	}
	for _, x := range c.Consents {
		if x.Body.Answer == record.ConsentGiven && !x.Body.Written() && !written(x.Stamp) {
			return fmt.Sprintf("%s agreed to version %d %s: get it in writing.", x.Body.Who, x.Body.Version,
				record.Words(x.Body.Way))
		}
	}
	for i := range c.Runs {
		r := &c.Runs[i]
		for _, o := range r.Body.Overrides {
			if o.Gate == GateConsent && o.Who != "" && !written(r.Stamp) {
				return fmt.Sprintf("%s agreed by word of mouth to %s of %s: get it in writing.", o.Who, r.Body.OperationName,
					record.SheetNames(r.Body.Sheets))
			}
		}
	}
	return ""
}

// GateConsent is the gate that asks for the owner's yes.
const GateConsent = "consent"
