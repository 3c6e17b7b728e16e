package account

import (
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/makeup"
)

// LeaveGate is a gate that does not hold as an object leaves, with the field in
// which the reason for passing it is asked.
type LeaveGate struct {
	treatment.Unmet
	Key string
}

// Field is where the reason is asked for.
func (g LeaveGate) Field() string { return ReasonField(g.Key) }

// Title names the gate.
func (g LeaveGate) Title() string { return en.Upper(g.Gate) }

// LeaveGates are the gates that do not hold before a case is closed or its object
// goes back.
func LeaveGates(c *record.Case) []LeaveGate {
	var list []LeaveGate
	for _, u := range treatment.Leaving(c) {
		list = append(list, LeaveGate{u, "leaving_" + strings.ReplaceAll(u.Gate, " ", "-")})
	}
	return list
}

// PassLeaving are the gates passed with the reasons that were given, and what must
// still be said.
func PassLeaving(c *record.Case, reason func(field string) string) ([]record.Override, []*record.Invalid) {
	var passed []record.Override
	var unsaid []*record.Invalid
	for _, g := range LeaveGates(c) {
		if r := reason(g.Field()); r != "" {
			passed = append(passed, record.Override{Gate: g.Gate, Reason: r, Say: g.Say})
		} else {
			unsaid = append(unsaid, &record.Invalid{
				Field: g.Field(), Say: g.Say + " Give the reason for going on all the same, or settle it first.",
			})
		}
	}
	return passed, unsaid
}

// Point is one thing to hold the object against as it is put together.
type Point struct {
	Name, Say string
	// Good says that the record has nothing against it.
	Good bool
}

// WholePoints hold the record against the object as it is put together again: the
// sheets counted, the staples, the inserts, the kept parts. Nil where it was never
// taken apart.
func WholePoints(c *record.Case) []Point {
	apart := treatment.TakenApart(c)
	if apart == 0 || c.MakeUp == nil {
		return nil
	}
	points := []Point{sheetsPoint(c, apart)}
	if p, has := staplesPoint(c); has {
		points = append(points, p)
	}
	var inserts []string
	for _, x := range c.MakeUp.Body.Inserts {
		inserts = append(inserts, x.What+", after page position "+en.Number(float64(x.AfterPage)))
	}
	if len(inserts) > 0 {
		points = append(points, Point{"Inserts to put back", strings.Join(inserts, "; "), true})
	}
	var open []string
	for i := range c.Parts {
		if p := &c.Parts[i]; p.Settled == nil {
			open = append(open, words.Joined(", ", p.Body.What, p.Body.Label, p.Body.Where))
		}
	}
	if len(open) > 0 {
		points = append(points, Point{"Kept parts not settled", strings.Join(open, "; "), false})
	}
	return points
}

func sheetsPoint(c *record.Case, apart int64) Point {
	p := Point{Name: "Sheets", Say: "not counted since it was taken apart"}
	should := 0
	m := c.MakeUpFound()
	for _, s := range m.Sheets() {
		if m.State(s).Missing != makeup.BothLeaves {
			should++
		}
	}
	for i := range c.Collations {
		k := &c.Collations[i]
		if k.Seq < apart || k.Body.When != record.CollatedReassembled {
			continue
		}
		order := map[bool]string{true: "in order", false: "not in order"}[k.Body.InOrder]
		p.Say = words.Joined("; ", en.Number(float64(k.Body.SheetsCounted))+" of "+plural(should, "sheet")+", "+order,
			strings.Join(CollationSays(c, &k.Body), " "))
		p.Good = k.Body.InOrder && k.Body.SheetsCounted == should
	}
	return p
}

func staplesPoint(c *record.Case) (Point, bool) {
	p := Point{Name: "Staples", Good: true}
	var say []string
	for i := range c.Staples {
		s := &c.Staples[i]
		now := "not moved"
		if n := len(s.Moves); n > 0 {
			now = record.Words(s.Moves[n-1].Body.Act)
			p.Good = p.Good && s.Moves[n-1].Body.Act != record.StapleRemoved
		}
		say = append(say, en.Number(float64(s.Body.Number))+": "+now)
	}
	p.Say = strings.Join(say, "; ")
	return p, len(say) > 0
}

// tellWhole tells a look at the object put together again.
func tellWhole(b *record.Reassembled) string {
	if b.Whole() {
		return "put together again and looked at: order, way round, nothing left over, kept parts" + words.After("; ", b.Text)
	}
	var not []string
	for _, x := range []struct {
		is  bool
		not string
	}{
		{b.Order, "not in order"}, {b.Facing, "not the right way round"}, {b.NothingLeft, "something left over"},
		{b.PartsKnown, "a kept part not accounted for"},
	} {
		if !x.is {
			not = append(not, x.not)
		}
	}
	return "looked at put together again: " + strings.Join(not, ", ") + words.After("; ", b.Text)
}
