package treatment

import (
	"fmt"
	"slices"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// inkFinding is what tests in one liquid say of some sheets: of those of one paper, of
// the cover where its paper is not described, or of single sheets.
type inkFinding struct {
	part   string
	sheets []int
	// moved is 0 to 3 as read, -1 where no colour was tested; colour is what moved most.
	moved  int
	colour string
}

func (f inkFinding) stops() bool { return f.moved < 0 || f.moved >= 2 }

// say is the finding in a sentence; called names the liquid.
func (f inkFinding) say(called string) string {
	switch {
	case f.moved < 0:
		return fmt.Sprintf("No colour of the %s was tested in %s.", f.part, called)
	case f.moved >= 2:
		return fmt.Sprintf("%s of the %s moved in %s when tested.", words.English.Upper(orColour(f.colour)), f.part, called)
	case f.moved == 1:
		return fmt.Sprintf("%s of the %s left a trace in %s: no long bath.", words.English.Upper(orColour(f.colour)), f.part,
			called)
	}
	return ""
}

// inksOf says what tests in liquids found on each part of some sheets. A test speaks for
// the paper that it was made on, where that is described; for the sheets it names alone
// where it is not, or where the colour is on those sheets alone; and for all where it
// names none.
func inksOf(c *record.Case, sheets []int, liquids []record.TestLiquid) []inkFinding {
	var list []inkFinding
	for _, n := range sheets {
		f := inkOn(c, n, liquids)
		same := slices.IndexFunc(list, func(x inkFinding) bool {
			return x.moved == f.moved && x.colour == f.colour && x.part == f.part
		})
		if same < 0 {
			list = append(list, f)
			continue
		}
		list[same].sheets = append(list[same].sheets, n)
	}
	for i := range list {
		if f := &list[i]; f.part == "" {
			f.part = record.SheetNames(f.sheets)
		}
	}
	return list
}

// inkOn is the gravest finding on one sheet; part is empty where the sheet speaks for
// itself.
func inkOn(c *record.Case, sheet int, liquids []record.TestLiquid) inkFinding {
	stock := c.StockOf(sheet)
	f := inkFinding{sheets: []int{sheet}, moved: -1}
	if stock != nil {
		f.part = stock.Name
	}
	own := false
	for i := range c.Tests {
		t := &c.Tests[i]
		// A test that nobody read says nothing.
		if t.Result() == "" || !slices.Contains(liquids, t.Body.Liquid) {
			continue
		}
		on := t.Body.Place.Sheets
		here := len(on) == 0 || slices.Contains(on, sheet)
		if !here && (t.Body.OnlyHere || stock == nil || !onStock(on, stock.Sheets)) {
			continue
		}
		if t.Body.OnlyHere && moved(t.Result()) < 2 {
			continue // a mark of its own that holds says nothing of the print
		}
		if g := moved(t.Result()); g > f.moved {
			f.moved, f.colour = g, ""
			if g > 0 {
				f.colour = t.Body.Colour
			}
			own = t.Body.OnlyHere
		}
	}
	if own {
		f.part = ""
	}
	return f
}

// onStock says whether a test was made on a sheet of a paper.
func onStock(tested, stock []int) bool {
	return slices.ContainsFunc(tested, func(n int) bool { return slices.Contains(stock, n) })
}

// inkGate holds when every colour that a sheet carries was tested in one of liquids and
// none moved.
func inkGate(name, called string, liquids ...record.TestLiquid) gate {
	return gate{name, func(c *record.Case, s Start) (string, bool) {
		var stops, warns []string
		untested := ""
		for _, f := range inksOf(c, s.Sheets, liquids) {
			switch {
			case f.moved < 0:
				untested += " and the " + f.part
			case f.stops():
				stops = append(stops, f.say(called))
			case f.moved > 0:
				warns = append(warns, f.say(called))
			}
		}
		if untested != "" {
			stops = append(stops, inkFinding{part: strings.TrimPrefix(untested, " and the "), moved: -1}.say(called))
		}
		if len(stops) > 0 {
			return strings.Join(stops, " "), true
		}
		return strings.Join(warns, " "), false
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

// Liquids of the tests that a bath asks for.
var (
	inWater    = []record.TestLiquid{"water"}
	inAlkali   = []record.TestLiquid{"alkaline-water"}
	inEthanol  = []record.TestLiquid{"ethanol", "ethanol-water"}
	inBleach   = []record.TestLiquid{"borohydride"}
	inPeroxide = []record.TestLiquid{"peroxide"}

	gateWater    = inkGate("inks in water", "water", inWater...)
	gateAlkali   = inkGate("inks in alkaline water", "alkaline water", inAlkali...)
	gateEthanol  = inkGate("inks in ethanol", "ethanol or ethanol and water", inEthanol...)
	gateBleach   = inkGate("inks in the reducing bleach", "the borohydride bath", inBleach...)
	gatePeroxide = inkGate("inks in the oxidising bleach", "peroxide", inPeroxide...)
)
