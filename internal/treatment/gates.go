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
	At      time.Time
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

var gateConsent = gate{"consent", func(c *record.Case, s Start) (string, bool) {
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

// inkGate holds when every paper among the sheets had its colours tested in
// one of liquids and none moved.
func inkGate(name, called string, liquids ...record.TestLiquid) gate {
	return gate{name, func(c *record.Case, s Start) (string, bool) {
		var untested, traces []string
		for _, stock := range stocks(c, s.Sheets) {
			worst, tested := -1, false
			var what string
			for i := range c.Tests {
				t := &c.Tests[i]
				// A test that nobody read says nothing.
				if t.Result() == "" || !slices.Contains(liquids, t.Body.Liquid) ||
					!onStock(c, t.Body.Place.Sheets, stock.sheets) {
					continue
				}
				tested = true
				if g := moved(t.Result()); g > worst {
					worst, what = g, t.Body.Colour
				}
			}
			switch {
			case !tested:
				untested = append(untested, stock.name)
			case worst >= 2:
				return fmt.Sprintf(
					"%s of the %s moved in %s when tested.",
					words.English.Upper(orColour(what)),
					stock.name,
					called,
				), true
			case worst == 1:
				traces = append(
					traces,
					fmt.Sprintf(
						"%s of the %s left a trace in %s: no long bath.",
						words.English.Upper(orColour(what)),
						stock.name,
						called,
					),
				)
			}
		}
		if len(untested) > 0 {
			return fmt.Sprintf(
				"No colour of the %s was tested in %s.",
				strings.Join(untested, " and the "),
				called,
			), true
		}
		return strings.Join(traces, " "), false
	}}
}

func orColour(s string) string {
	if s == "" {
		return "a colour"
	}
	return s
}

// moved reads a test's result on the scale 0 to 3; an unclear or positive
// result counts as moved, since a gate that does not know stays shut.
func moved(result record.TestResult) int {
	switch result {
	case record.ResultTrace:
		return 1
	case record.ResultTransfer, record.ResultUnclear, record.ResultPositive:
		return 2
	case record.ResultOnTheSheet:
		return 3
	}
	return 0
}

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

// onStock says whether a test on some sheets speaks for a paper. A test whose
// sheet was not named speaks for the whole object.
func onStock(c *record.Case, tested, stock []int) bool {
	return len(tested) == 0 || slices.ContainsFunc(tested, func(n int) bool { return slices.Contains(stock, n) })
}

var (
	gateWater    = inkGate("inks in water", "water", "water")
	gateAlkali   = inkGate("inks in alkaline water", "alkaline water", "alkaline-water")
	gateEthanol  = inkGate("inks in ethanol", "ethanol or ethanol and water", "ethanol", "ethanol-water")
	gateBleach   = inkGate("inks in the reducing bleach", "the borohydride bath", "borohydride")
	gatePeroxide = inkGate("inks in the oxidising bleach", "peroxide", "peroxide")
)

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

var gateAcidOut = gate{"acid out first", func(c *record.Case, s Start) (string, bool) {
	var unwashed []int
	for _, n := range s.Sheets {
		washed := slices.ContainsFunc(c.RunsOn(n), func(r *record.Run) bool {
			return slices.Contains([]string{"wash", "float-wash", "lime", "bicarbonate", "rinse"}, r.Body.Operation)
		})
		if !washed {
			unwashed = append(unwashed, n)
		}
	}
	if len(unwashed) > 0 {
		return fmt.Sprintf(
			"%s was not washed yet: acid left in the sheet spends the borohydride and gases in it.",
			words.English.Upper(record.SheetNames(unwashed)),
		), true
	}
	return "", false
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
