package treatment

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// Start is an operation about to start.
type Start struct {
	Operation *Operation
	Sheets    []int
	// Bottles that are drawn on.
	Bottles []string
	// BathPH is the pH that was read of the bath, nil: none.
	BathPH *float64
	At     time.Time
}

// Unmet is what a gate says about a start that it does not let pass.
type Unmet struct {
	Gate string
	// Stops is false for a gate that holds with a word of warning.
	Stops bool
	Say   string
}

// gate judges a start. An empty sentence means that it holds.
type gate struct {
	name  string
	judge func(*record.Case, Start) (say string, stops bool)
}

// Gates judges a start and returns what does not hold, stops before warnings.
func Gates(c *record.Case, st *record.Studio, s Start) []Unmet {
	var list []Unmet
	add := func(name, say string, stops bool) {
		if say != "" {
			list = append(list, Unmet{name, stops, say})
		}
	}
	for _, g := range s.Operation.gates {
		say, stops := g.judge(c, s)
		add(g.name, say, stops)
	}
	say, stops := judgeTrials(c, s)
	add("trial", say, stops)
	for _, id := range s.Bottles {
		say, stops := bottleInDate(st, id, s.At)
		add("bottle", say, stops)
	}
	slices.SortStableFunc(list, func(a, b Unmet) int {
		if a.Stops == b.Stops {
			return 0
		}
		if a.Stops {
			return -1
		}
		return 1
	})
	return list
}

// judgeTrials says what trials of an operation found for the sheets or their papers: the
// last of each place counts.
func judgeTrials(c *record.Case, s Start) (say string, stops bool) {
	for _, t := range c.TrialsOf(s.Operation.Slug) {
		b := &t.Body
		if !slices.ContainsFunc(s.Sheets, func(n int) bool { return speaksFor(c, b.Place.Sheets, n) }) {
			continue
		}
		found := fmt.Sprintf("Tried on %s (%s): %s", b.On, b.Place, b.Seen)
		if v := record.Words(b.Verdict); v != "" {
			found += ". The step " + v
		}
		say, stops = words.English.Sentence(found), b.Verdict == record.TrialStop
	}
	return say, stops
}

func bottleInDate(st *record.Studio, id string, at time.Time) (string, bool) {
	b := st.Bottle(id)
	switch {
	case b == nil:
		return "The bottle is not on the shelf.", true
	case b.Emptied != nil:
		return fmt.Sprintf("%s has been emptied.", b.Body.Name), true
	case b.Expired(at):
		k := words.Clock{Language: words.English, Zone: at.Location(), Today: at}
		return fmt.Sprintf("%s is past its date: it was good until %s.", words.English.Upper(b.Body.Name),
			k.At(b.Body.ExpiresAt)), true
	}
	return "", false
}

var gateConsent = gate{GateConsent, func(c *record.Case, s Start) (string, bool) {
	consent, option := c.Consented()
	if consent == nil || option == nil {
		if say := Refused(c, s.At.Location()); say != "" {
			return say, true
		}
		return "There is no consent to treat this object yet.", true
	}
	var missing []int
	for _, n := range s.Sheets {
		if !Agreed(option, s.Operation.Slug, n) {
			missing = append(missing, n)
		}
	}
	if len(missing) > 0 {
		return fmt.Sprintf(
			"%s of %s is not in option %s of version %d, which was agreed: a change of scope needs new consent.",
			words.English.Upper(s.Operation.Name),
			record.SheetNames(missing),
			option.Name,
			consent.Version,
		), true
	}
	return "", false
}}

// Refused says who refused the proposal, and when, "" where the last answer is
// no refusal.
func Refused(c *record.Case, zone *time.Location) string {
	if consent, _ := c.Consented(); consent != nil || len(c.Consents) == 0 {
		return ""
	}
	last := c.Consents[0]
	for _, x := range c.Consents {
		if x.Body.Version >= last.Body.Version {
			last = x
		}
	}
	at := last.Body.At
	if at.IsZero() {
		at = last.Time
	}
	who := last.Body.Who + " (" + last.Body.Standing + ")"
	k := words.Clock{Language: words.English, Zone: zone}
	return fmt.Sprintf("%s refused version %d on %s.", who,
		last.Body.Version, k.Day(at))
}

// Agreed says whether an option holds an operation for a sheet.
func Agreed(o *record.Option, slug string, sheet int) bool {
	return slices.ContainsFunc(o.Operations, func(p record.Planned) bool {
		return p.Operation == slug && (len(p.Sheets) == 0 || slices.Contains(p.Sheets, sheet))
	})
}

var gateMouldInactive = gate{"mould", func(c *record.Case, s Start) (string, bool) {
	q := c.Quarantine
	switch {
	case q == nil:
		return "Quarantine: nobody has recorded a look for mould yet.", true
	case q.Body.Mould == record.MouldActive:
		return "Mould was active when last looked at: dry it until it is inactive, and record the look.", true
	case q.Body.State == record.QuarantineWaiting:
		return "The object is still in quarantine.", true
	}
	return "", false
}}

var gateMakeUp = gate{"make-up", func(c *record.Case, s Start) (string, bool) {
	if c.MakeUp == nil {
		return "The make-up is not recorded: count the sheets before they come apart.", true
	}
	if !slices.ContainsFunc(
		c.Collations,
		func(k record.Stamped[record.Collation]) bool { return k.Body.When == "arrival" },
	) {
		return "The object was not collated on arrival: count and check the order while it still holds together.", true
	}
	return "", false
}}

var gateStaplesMapped = gate{"staple map", func(c *record.Case, s Start) (string, bool) {
	if len(c.Staples) == 0 {
		return "No staple is on the map: measure and photograph each before it moves.", true
	}
	return "", false
}}

var gateArrivalPhotos = gate{"photographs", func(c *record.Case, s Start) (string, bool) {
	ok := slices.ContainsFunc(c.Photos, func(p record.Stamped[record.Photo]) bool {
		return p.Body.Stage == record.StageArrival || p.Body.Stage == record.StageBefore
	})
	if !ok {
		return "There is no photograph from before treatment.", true
	}
	return "", false
}}

var gateStaplesOut = gate{"staples out", func(c *record.Case, s Start) (string, bool) {
	switch {
	case c.MakeUp != nil && (c.MakeUp.Body.Binding == "loose" || c.MakeUp.Body.Binding == "sewn"):
		return "", false
	case len(c.Staples) == 0:
		return "No staple is on the map: if there are none, say so in the make-up; metal must not get wet.", true
	case c.StaplesIn() > 0:
		return fmt.Sprintf("%s still in: metal must not get wet.", counted(c.StaplesIn(), "staple")), true
	}
	return "", false
}}

var gateDamp = gate{"damp", func(c *record.Case, s Start) (string, bool) {
	var dry []int
	for _, n := range s.Sheets {
		if c.ConditionOf(n).Wetness == record.Dry {
			dry = append(dry, n)
		}
	}
	if len(dry) > 0 {
		return fmt.Sprintf(
			"By the record %s dry: a mend made now does not dry as one with the sheet.",
			are(dry),
		), true
	}
	return "", false
}}

// are names sheets with their verb.
func are(sheets []int) string {
	if len(sheets) == 1 {
		return record.SheetName(sheets[0]) + " is"
	}
	return record.SheetNames(sheets) + " are"
}

// counted is how many things there are, with their verb.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing + " is"
	}
	return fmt.Sprintf("%d %ss are", n, thing)
}

func stillWet(c *record.Case, sheets []int) []int {
	var wet []int
	for _, n := range sheets {
		if c.ConditionOf(n).Wetness != record.Dry {
			wet = append(wet, n)
		}
	}
	return wet
}

var gateDry = gate{"dry", func(c *record.Case, s Start) (string, bool) {
	if wet := stillWet(c, s.Sheets); len(wet) > 0 {
		return fmt.Sprintf("By the record %s not dry yet.", are(wet)), true
	}
	return "", false
}}

var gateAllDry = gate{"all dry", func(c *record.Case, s Start) (string, bool) {
	if wet := c.WetSheets(); len(wet) > 0 {
		return fmt.Sprintf("By the record %s not dry yet.", are(wet)), true
	}
	return "", false
}}

type namedSheets struct {
	name   string
	sheets []int
}

// stocks groups sheets by their paper; sheets without one make a group.
func stocks(c *record.Case, sheets []int) []namedSheets {
	var list []namedSheets
	var rest []int
	for _, n := range sheets {
		st := c.StockOf(n)
		if st == nil {
			rest = append(rest, n)
			continue
		}
		if !slices.ContainsFunc(list, func(g namedSheets) bool { return g.name == st.Name }) {
			list = append(list, namedSheets{st.Name, st.Sheets})
		}
	}
	if len(rest) > 0 {
		list = append(list, namedSheets{record.SheetNames(rest), rest})
	}
	return list
}

var gateNoLignin = gate{"lignin", func(c *record.Case, s Start) (string, bool) {
	for _, stock := range stocks(c, s.Sheets) {
		if LigninTest(c, stock.sheets) == record.ResultPositive {
			return fmt.Sprintf("The lignin test of the %s was positive: no oxidising or light bleaching.", stock.name),
				true
		}
	}
	return "", false
}}

// lastWetting is the last run in which a sheet lay in a liquid.
func lastWetting(c *record.Case, sheet int) *record.Run {
	var last *record.Run
	for _, r := range c.RunsOn(sheet) {
		if r.Body.Bath != nil {
			last = r
		}
	}
	return last
}

// washes are the operations that take acid out.
var washes = []string{"wash", "float-wash", "lime", "bicarbonate", "rinse"}

// acidOutFrom is the pH from which a wash counts as having taken the acid out: that
// under which the draft calls for washing.
const acidOutFrom = acidBelow

// gateAcidOut asks for a reading that shows it: that a sheet lay in water for a while
// does not.
var gateAcidOut = gate{"acid out first", func(c *record.Case, s Start) (string, bool) {
	var unwashed, unread, acid []int
	lowest := 14.0
	for _, n := range s.Sheets {
		ph, read, washed := washedTo(c, n)
		switch {
		case !washed:
			unwashed = append(unwashed, n)
		case !read:
			unread = append(unread, n)
		case ph < acidOutFrom:
			acid = append(acid, n)
			lowest = min(lowest, ph)
		}
	}
	const why = "acid left in the sheet spends the borohydride and gases in it."
	var say []string
	if len(unwashed) > 0 {
		say = append(say, fmt.Sprintf("%s was not washed yet: %s", words.English.Upper(record.SheetNames(unwashed)), why))
	}
	if len(unread) > 0 {
		say = append(say, fmt.Sprintf("No pH was read that shows the acid out of %s (of the bath at its end, or of the "+
			"sheet since): %s", record.SheetNames(unread), why))
	}
	if len(acid) > 0 {
		say = append(say, fmt.Sprintf("%s still gave pH %.1f, under %.1f: %s", words.English.Upper(record.SheetNames(acid)),
			lowest, acidOutFrom, why))
	}
	return strings.Join(say, " "), true
}}

// washedTo is the last pH read of the last wash of a sheet, or of the sheet since; read is
// false where none was, washed where it was in none.
func washedTo(c *record.Case, sheet int) (ph float64, read, washed bool) {
	var last *record.Run
	for _, r := range c.RunsOn(sheet) {
		if slices.Contains(washes, r.Body.Operation) {
			last, washed = r, true
		}
	}
	if !washed {
		return 0, false, false
	}
	for i := range c.Readings {
		b := &c.Readings[i].Body
		ofBath := b.Quantity == "bath-ph" && b.Run == last.Body.ID && b.At.After(last.Body.At)
		ofSheet := b.Quantity == "surface-ph" && b.Run == "" && slices.Contains(b.Place.Sheets, sheet) &&
			b.At.After(last.Body.At)
		if ofBath || ofSheet {
			ph, read = b.Value, true
		}
	}
	return ph, read, true
}

// Limits of a borohydride bath's pH (common practice, no source).
const hydridePHLow, hydridePHHigh = 9.0, 11.0

var gateBleachPH = gate{"pH of the bleach", func(c *record.Case, s Start) (string, bool) {
	switch {
	case s.BathPH == nil:
		return fmt.Sprintf("The pH of the bath was not read: under %g the borohydride is lost as hydrogen, above %g it "+
			"harms paper and ink.", hydridePHLow, hydridePHHigh), true
	case *s.BathPH < hydridePHLow:
		return fmt.Sprintf("The bath has pH %.1f, under %g: the borohydride is lost as hydrogen.", *s.BathPH,
			hydridePHLow), true
	case *s.BathPH > hydridePHHigh:
		return fmt.Sprintf("The bath has pH %.1f, above %g: it harms paper and ink.", *s.BathPH, hydridePHHigh), true
	}
	return "", false
}}

// withoutRun lists the sheets that were in no run of an operation.
func withoutRun(c *record.Case, sheets []int, operation string) (list []int) {
	for _, n := range sheets {
		had := slices.ContainsFunc(c.RunsOn(n), func(r *record.Run) bool { return r.Body.Operation == operation })
		if !had {
			list = append(list, n)
		}
	}
	return list
}

// everWet says whether a sheet was in a bath: then its soil has been wetted already.
func everWet(c *record.Case, sheet int) bool { return lastWetting(c, sheet) != nil }

var gateCleaned = gate{"surface cleaned", func(c *record.Case, s Start) (string, bool) {
	dirty := slices.DeleteFunc(withoutRun(c, s.Sheets, "surface-clean"), func(n int) bool { return everWet(c, n) })
	if len(dirty) == 0 {
		return "", false
	}
	return fmt.Sprintf("No surface cleaning of %s is recorded: some soil sets for good once it is wet.",
		record.SheetNames(dirty)), agreedFor(c, "surface-clean", dirty)
}}

// agreedFor says whether the agreed plan holds an operation for one of some sheets: what
// was agreed and is not done stops, what nobody planned is asked.
func agreedFor(c *record.Case, operation string, sheets []int) bool {
	_, option := c.Consented()
	return option != nil && slices.ContainsFunc(sheets, func(n int) bool { return Agreed(option, operation, n) })
}

// looseSheet says whether a sheet was found loose or split, so that nothing holds it.
func looseSheet(c *record.Case, sheet int) bool {
	st, ok := c.SheetStates[sheet]
	return ok && (st.Body.Hold == record.HoldLoose || st.Body.Split)
}

var gateApart = gate{"taken apart", func(c *record.Case, s Start) (string, bool) {
	if c.MakeUp == nil || c.MakeUp.Body.Binding == "loose" || len(c.Sheets()) < 2 {
		return "", false
	}
	together := slices.DeleteFunc(withoutRun(c, s.Sheets, "take-apart"), func(n int) bool {
		return everWet(c, n) || looseSheet(c, n)
	})
	if len(together) == 0 {
		return "", false
	}
	return fmt.Sprintf("By the record %s not taken apart from the others yet.", are(together)),
		agreedFor(c, "take-apart", together)
}}

// wantsRinse are the operations whose liquid must be rinsed out before any other.
var wantsRinse = []string{"chelate", "reduce", "oxidise"}

var gateHydrideOut = gate{"bleach rinsed out", func(c *record.Case, s Start) (string, bool) {
	for _, n := range s.Sheets {
		if last := lastWetting(c, n); last != nil && slices.Contains(wantsRinse, last.Body.Operation) {
			return fmt.Sprintf(
				"%s comes from %s and was not rinsed since.",
				words.English.Upper(record.SheetName(n)),
				last.Body.OperationName,
			), true
		}
	}
	return "", false
}}
