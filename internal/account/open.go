package account

import (
	"fmt"
	"slices"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// Question is something that nobody has answered yet: a judgement not made, a
// reading not taken. It stops nothing; it is only not forgotten.
type Question struct {
	Code Code
	Text string
	// Place is the place of the case where it is answered, and Entry the entry
	// that it is of, 0 where there is none.
	Place string
	Entry int64
}

// What can be open.
const (
	QuarantineOpen Code = "quarantine-not-looked"
	MouldOpen      Code = "mould-not-judged"
	EarlierOpen    Code = "earlier-not-looked"
	InsuranceOpen  Code = "insurance-not-asked"
	PlaceOpen      Code = "place-asked-about"
	SeverityOpen   Code = "severity-not-judged"
	CauseOpen      Code = "cause-not-judged"
	ActivityOpen   Code = "activity-not-judged"
	ResultOpen     Code = "test-not-read"
	RereadOpen     Code = "test-not-read-dry"
	WrittenOpen    Code = "consent-not-written"
	PaperOpen      Code = "paper-not-described"
	BindingOpen    Code = "binding-not-looked"
)

// Open lists what is not answered in a case, in the order of its places.
func Open(c *record.Case) []Question {
	if c.Closed != nil {
		return nil
	}
	var list []Question
	add := func(is bool, code Code, place string, entry int64, format string, args ...any) {
		if is {
			list = append(list, Question{code, en.Sentence(fmt.Sprintf(format, args...)), place, entry})
		}
	}
	q := c.Quarantine
	add(q == nil, QuarantineOpen, "examination", 0, "not looked at for mould and damp")
	add(q != nil && (q.Body.Mould == "" || q.Body.Mould == record.MouldUnknown), MouldOpen, "examination", 0,
		"mould not judged")
	add(len(c.Earlier) == 0, EarlierOpen, "examination", 0, "earlier treatment not looked for")
	add(len(c.Insured) == 0, InsuranceOpen, "examination", 0, "insurance while it is here not asked")
	bare := slices.DeleteFunc(c.Sheets(), func(n int) bool { return c.StockOf(n) != nil })
	add(len(bare) > 0, PaperOpen, "examination", 0, "paper not described: %s", record.SheetNames(bare))
	add(c.MakeUp != nil && c.MakeUp.Body.Binding == "", BindingOpen, "make-up", 0, "what holds the sheets not looked at")
	for _, d := range askedAbout(c) {
		add(true, PlaceOpen, "condition", d.Seq, "no. %d, %s: %s", d.No, Term(d.Body.Term), AskedAbout(c, d))
	}
	for i := range c.Damages {
		d := &c.Damages[i]
		what := Term(d.Body.Term) + ", " + PlaceOf(c, &d.Body)
		add(d.Body.Severity == "", SeverityOpen, "condition", d.Seq, "%s: severity not judged", what)
		add(d.Body.Active == "" || d.Body.Active == record.ActivityUnknown, ActivityOpen, "condition", d.Seq,
			"%s: whether it goes on not judged", what)
		add(d.Body.CauseIs == "", CauseOpen, "condition", d.Seq, "%s: cause not judged", what)
	}
	if say := treatment.Unwritten(c); say != "" {
		add(true, WrittenOpen, "proposal", 0, "%s", strings.TrimSuffix(say, "."))
	}
	for i := range c.Tests {
		t := &c.Tests[i]
		what := testName(&t.Body) + ", " + t.Body.Place.String()
		add(t.Result() == "", ResultOpen, "tests", t.Seq, "%s: not read", what)
		add(
			t.Result() != "" && t.Body.Colour != "" && len(t.Rereads) == 0, RereadOpen, "tests", t.Seq,
			"%s: not read dry", what,
		)
	}
	return list
}

// OpenAt are the questions that are answered at one place of the case.
func OpenAt(c *record.Case, place string) []Question {
	var list []Question
	for _, q := range Open(c) {
		if q.Place == place {
			list = append(list, q)
		}
	}
	return list
}
